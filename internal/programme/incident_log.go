package programme

import (
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/incident"
	"fairstick/internal/logbook"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// IncidentCount is how many incidents of a kind there were. Phase is filled in for exposures alone. Withdrawn ones are not
// counted.
type IncidentCount struct {
	Kind  string `json:"kind"`
	Phase string `json:"phase,omitempty"`
	N     int    `json:"n"`
	Open  int    `json:"open"`
}

func (d *Day) incidentCounts() []IncidentCount {
	type key struct{ kind, phase string }
	by := map[key]*IncidentCount{}
	for _, s := range d.Incidents {
		if s.Withdrawn != nil {
			continue
		}
		k := key{kind: string(s.Report.Sort)}
		if s.Report.Sort.Exposure() && s.Details != nil {
			k.phase = s.Details.Phase
		}
		c := by[k]
		if c == nil {
			c = &IncidentCount{Kind: k.kind, Phase: k.phase}
			by[k] = c
		}
		c.N++
		if s.Open() {
			c.Open++
		}
	}
	var out []IncidentCount
	for _, c := range by {
		out = append(out, *c)
	}
	rank := map[string]int{}
	for i, s := range incident.Sorts {
		rank[string(s)] = i
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Kind != out[j].Kind {
			return rank[out[i].Kind] < rank[out[j].Kind]
		}
		return out[i].Phase < out[j].Phase
	})
	return out
}

// Incident finds an incident of the event; nil when there is none.
func (d *Day) Incident(id string) *incident.State {
	for _, s := range d.Incidents {
		if s.ID == id {
			return s
		}
	}
	return nil
}

// Late tells when something was written down, where that was more than two minutes after it happened; ok is false when it was
// written down at once.
func Late(at time.Time, recorded string) (typed time.Time, ok bool) {
	typed = logbook.WallOf(recorded)
	return typed, typed.Sub(at) > futureSlack
}

// Touch is one ticket that a meter or a lot had to do with at the event.
type Touch struct {
	Visit  string
	Ticket int
	At     time.Time
}

// Touched lists the tickets that were tested with a meter or with strips of a lot at this event, the latest first: those
// to look at again when the one or the other is in doubt.
func (d *Day) Touched(meter, lot string) []Touch {
	var out []Touch
	for _, v := range d.Visits {
		for i := len(v.Readings) - 1; i >= 0; i-- {
			r := v.Readings[i]
			if meter != "" && r.Meter == meter || lot != "" && r.StripLot == lot {
				out = append(out, Touch{Visit: v.ID, Ticket: v.Ticket, At: r.At})
				break
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.After(out[j].At) })
	return out
}

// IncidentRow is one incident for a list or a file, without anybody's name. Times are in the zone of the event.
type IncidentRow struct {
	ID, Event, EventName, Programme string
	Kind, Status                    string // status: open, closed, withdrawn
	Happened, Reported              time.Time
	Typed                           time.Time // when it was typed in
	Ticket                          string    // "014"; empty for none
	Station, Area, Meter, StripLot  string
	Device, Brand, LancetLot        string
	Site, Phase, How, Role, Sharps  string
	Steps                           []IncidentStepRow
	Source                          string // the source person agreed to be contacted: yes, no, not-known
	ClosedAt                        time.Time
	Why                             string // why it was withdrawn
	KeepUntil                       civil.Date
}

// IncidentStepRow is one act after an incident.
type IncidentStepRow struct {
	Step, Choice string
	At, Typed    time.Time
}

// First gives when a step was first done; the zero time when it was not.
func (r IncidentRow) First(step string) time.Time {
	for _, s := range r.Steps {
		if s.Step == step {
			return s.At
		}
	}
	return time.Time{}
}

// keepYears is how long a sharps injury log is kept after the end of its year (29 CFR 1904.33).
const keepYears = 5

// names is what rows need of other subjects.
type names struct {
	programme string
	event     *event.State
	meter     func(id string) *stock.Meter
	lot       func(id string) *stock.StripLot
	ticket    func(id string) int // 0 when it is not known
	wipe      func(id string) *stock.Disinfectant
}

func incidentRow(s *incident.State, n names) IncidentRow {
	zone := n.event.Zone()
	r := IncidentRow{
		ID: s.ID, Event: n.event.ID, EventName: n.event.Plan.Name, Programme: n.programme, Kind: string(s.Report.Sort), Status: "open",
		Happened: s.Happened().In(zone), Reported: s.At.In(zone), Typed: logbook.WallOf(s.Recorded).In(zone), Station: s.Report.Station, How: s.Report.What,
	}
	if t := n.ticket(s.Report.Visit); t > 0 {
		r.Ticket = fmt.Sprintf("%03d", t)
	}
	if m := n.meter(s.Meter()); m != nil {
		r.Meter = m.Details.Label
	}
	if l := n.lot(s.StripLot()); l != nil {
		r.StripLot = l.Details.Lot
	}
	if x := s.Details; x != nil {
		r.Area, r.Device, r.Brand, r.LancetLot, r.Site, r.Phase, r.How, r.Role, r.Sharps = x.Area, x.Device, x.Brand, x.LancetLot, x.Site, x.Phase, x.How, x.Role, x.Sharps
	}
	for _, st := range s.Steps {
		row := IncidentStepRow{Step: st.Step.Step, Choice: st.Choice, At: st.At.In(zone), Typed: logbook.WallOf(st.Recorded).In(zone)}
		switch row.Step {
		case incident.Told:
			row.Choice = ""
		case incident.Source:
			r.Source = st.Choice
		case incident.Disinfected:
			row.Choice = ""
			if w := n.wipe(st.Choice); w != nil {
				row.Choice = w.Details.Name
			}
		}
		r.Steps = append(r.Steps, row)
	}
	switch {
	case s.Withdrawn != nil:
		r.Status, r.Why = "withdrawn", s.Withdrawn.Reason
	case s.Closed != nil:
		r.Status, r.ClosedAt = "closed", s.ClosedAt.In(zone)
	}
	r.KeepUntil = civil.Date{Year: r.Happened.Year() + keepYears, Month: time.December, Day: 31}
	return r
}

// IncidentRows lists the incidents of the event without anybody's name, in the order in which they happened.
func (d *Day) IncidentRows() []IncidentRow {
	n := names{programme: d.Charter.Details.Name, event: d.Event, meter: d.MeterByID, lot: d.StripLotByID, wipe: d.DisinfectantByID, ticket: func(id string) int {
		if v := d.Visit(id); v != nil {
			return v.Ticket
		}
		return 0
	}}
	out := make([]IncidentRow, 0, len(d.Incidents))
	for _, s := range d.Incidents {
		out = append(out, incidentRow(s, n))
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Happened.Before(out[j].Happened) })
	return out
}

// SharpsLog lists the sharps injuries of a calendar year over all events, without anybody's name, in the order in which they
// happened. Withdrawn ones stand in it as withdrawn.
func (p *Programme) SharpsLog(ctx context.Context, year int) (out []IncidentRow, err error) {
	err = p.store.Read(ctx, func(v *store.View) (err error) {
		out, err = sharpsIn(v, func(y int) bool { return y == year })
		return err
	})
	return out, err
}

// sharpsIn lists the sharps injuries of some calendar years.
func sharpsIn(v *store.View, in func(year int) bool) (out []IncidentRow, err error) {
	all, err := listed[*incident.State](v.All(incident.Kind))
	if err != nil {
		return nil, err
	}
	n := namesIn(v)
	for _, s := range all {
		if s.Report.Sort != incident.SharpsInjury {
			continue
		}
		ev, ok, err := v.State(event.Ref(s.Report.Event))
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		n.event = ev.(*event.State)
		if in(s.Happened().In(n.event.Zone()).Year()) {
			out = append(out, incidentRow(s, n))
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Happened.Before(out[j].Happened) })
	return out, nil
}

// namesIn looks the names up in a snapshot, each when it is asked for.
func namesIn(v *store.View) names {
	n := names{
		meter: func(id string) *stock.Meter { return sought[*stock.Meter](v, stock.MeterRef(id)) },
		lot:   func(id string) *stock.StripLot { return sought[*stock.StripLot](v, stock.StripLotRef(id)) },
		wipe:  func(id string) *stock.Disinfectant { return sought[*stock.Disinfectant](v, stock.DisinfectantRef(id)) },
		ticket: func(id string) int {
			if s := sought[*visit.State](v, visit.Ref(id)); s != nil {
				return s.Ticket
			}
			return 0
		},
	}
	if ch := sought[*charter.State](v, charter.Ref); ch != nil {
		n.programme = ch.Details.Name
	}
	return n
}

// sought reads a subject for its name; the zero value when it is not there.
func sought[S fact.State](v *store.View, ref fact.Ref) S {
	var none S
	if ref.ID == "" {
		return none
	}
	st, ok, err := v.State(ref)
	if err != nil || !ok {
		return none
	}
	s, ok := st.(S)
	if !ok {
		return none
	}
	return s
}

// MayReadIncident reports whether a person may read what was written about an incident: a lead, a supervisor, and who
// reported it. Everybody else of the staff sees what is to be done and nothing more.
func MayReadIncident(who *people.State, s *incident.State) bool {
	return who != nil && (who.Has(people.Lead) || who.Has(people.Supervisor) || who.ID == s.By)
}

// IncidentWord names a sort of incident in two words: "sharps injury".
func IncidentWord(kind string) string { return strings.ReplaceAll(kind, "-", " ") }

package programme

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// AskBinder says which days an inspection binder is about. An empty day is that of the other one.
type AskBinder struct {
	From, To string // like 2026-08-01
	Results  bool   // list every result, by ticket
}

// Binder is what an inspector asks for, from one moment of the record. It names no participant.
type Binder struct {
	From, To  civil.Date
	At        time.Time
	Charter   *charter.State
	Protocols []InForce
	Days      []*Day                 // the events of the span, in the order of their dates
	Staff     map[string]StaffRecord // by the id of the event: who stood where, and verified for what, by what was on record then
	Meters    []*stock.Meter
	StripLots []*stock.StripLot
	Controls  []*stock.ControlLot
	Wipes     []*stock.Disinfectant
	Compared  []*stock.Comparison
	Incidents []IncidentRow
	Sharps    []IncidentRow // of the calendar years of the span
	Results   []BinderResult
	Listed    bool // results were asked for
	Visits    int
	Pages     int    // about how many pages it has
	Record    string // where the record stood
	names     map[string]string
}

// InForce is a signed protocol with the days on which it held.
type InForce struct {
	charter.Adopted
	Until time.Time // zero: it still holds
}

// BinderResult is one result without a name: value, who took it, with what, and the controls that cleared it.
type BinderResult struct {
	Event      string // id
	At         time.Time
	Ticket     int
	Shown      string
	Purpose    string
	Counts     bool
	Basis      string
	Band       string
	Meter      string
	Strips     string // lot and vial
	Screener   string
	Supervisor string
	Cleared    string // times of the last control in range of each level before it, on that meter with that lot
	Referred   string // yes, no, or empty where there is no finding
}

// MostBinderPages is how many pages a binder may have: nobody reads more, and no stapler holds them.
const MostBinderPages = 500

// Binder gathers the binder of a span of days. A span whose binder would be too thick is refused before it is read.
func (p *Programme) Binder(ctx context.Context, ask AskBinder) (*Binder, error) {
	var b *Binder
	err := p.store.Read(ctx, func(v *store.View) error {
		var events []*event.State
		var err error
		if b, events, err = p.binderSize(v, ask); err != nil {
			return err
		}
		if b.Pages > MostBinderPages {
			return b.tooThick()
		}
		return b.gather(v, events)
	})
	return b, err
}

// BinderSize tells what a binder would hold, without reading the visits.
func (p *Programme) BinderSize(ctx context.Context, ask AskBinder) (b *Binder, events int, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		var list []*event.State
		b, list, err = p.binderSize(v, ask)
		events = len(list)
		return err
	})
	return b, events, err
}

func (b *Binder) tooThick() error {
	do := "Ask for fewer days: a month, or one event."
	if b.Listed {
		do = "Leave the list of results out, or ask for fewer days."
	}
	return fault.New(fault.Refused, "binder-thick", fmt.Sprintf("The binder of these days would have about %d pages.", b.Pages),
		fmt.Sprintf("Nobody reads more than %d.", MostBinderPages), do)
}

func (p *Programme) binderSize(v *store.View, ask AskBinder) (*Binder, []*event.State, error) {
	var f fields
	b := &Binder{From: f.date("from", "The first day", ask.From, ask.To == ""), To: f.date("to", "The last day", ask.To, ask.From == ""), At: p.now(), Listed: ask.Results}
	if b.From.IsZero() {
		b.From = b.To
	}
	if b.To.IsZero() {
		b.To = b.From
	}
	if b.To.Before(b.From) {
		f.say("to", "The last day comes before the first.")
	}
	if err := f.err(); err != nil {
		return nil, nil, err
	}
	events, err := listed[*event.State](v.Labelled(event.Kind, b.From.String(), b.To.AddDays(1).String()))
	if err != nil {
		return nil, nil, err
	}
	rows := 0
	for _, ev := range events {
		n, err := v.CountChildren(visit.Kind, ev.ID)
		if err != nil {
			return nil, nil, err
		}
		b.Visits += n
		rows += len(ev.Runs)*2 + len(ev.Roster)*3 + len(ev.Overrides)*2 + 14
		if ask.Results {
			rows += n * 11 / 10 * 2
		}
	}
	b.Pages = 8 + rows/34
	seq, hash, err := v.End()
	b.Record = fmt.Sprintf("entry %d, %s", seq, hex.EncodeToString(hash[:6]))
	return b, events, err
}

func (b *Binder) gather(v *store.View, events []*event.State) (err error) {
	b.Charter = &charter.State{ID: charter.Ref.ID}
	if st, ok, err := v.State(charter.Ref); err != nil {
		return err
	} else if ok {
		b.Charter = st.(*charter.State)
	}
	staff, err := listed[*people.State](v.All(people.Kind))
	if err != nil {
		return err
	}
	b.names, b.Staff = map[string]string{}, map[string]StaffRecord{}
	for _, x := range staff {
		b.names[x.ID] = x.Details.Name
	}
	shared, err := sharedDay(v)
	if err != nil {
		return err
	}
	for _, ev := range events {
		d, err := shared.whole(v, ev)
		if err != nil {
			return err
		}
		b.Days = append(b.Days, d)
		if b.Staff[ev.ID], err = binderStaff(v, d, b.At); err != nil {
			return err
		}
		b.Incidents = append(b.Incidents, d.IncidentRows()...)
		if b.Listed {
			b.results(d)
		}
	}
	b.protocols()
	return b.things(v)
}

// binderStaff is the record of staff of an event. Where no protocol was signed for it, nobody could be verified, and the roster stands
// with that sentence.
func binderStaff(v *store.View, d *Day, at time.Time) (StaffRecord, error) {
	if d.ProtocolErr == nil {
		return eventStaff(v, d, at)
	}
	out := StaffRecord{Day: d.Event.Plan.Date, Event: d.Event.ID, Name: d.Event.Plan.Name, Place: d.Event.Plan.Venue}
	for _, x := range d.Event.Roster {
		row := DutyRow{Person: x.Person, Name: d.NameOf(x.Person), Role: people.Role(x.Role), Station: x.Station, Here: x.Here, Asked: true, Missing: []string{"No protocol is signed for this event."}}
		if x.Told && !x.Here {
			row.Absent = cmp.Or(x.Note, "not here")
		}
		out.Rows = append(out.Rows, row)
	}
	sortStaff(out.Rows)
	return out, nil
}

// protocols keeps those that held on a day of the span, and those under which an event of it ran.
func (b *Binder) protocols() {
	ran := map[string]bool{}
	for _, d := range b.Days {
		ran[d.Protocol.Version] = true
	}
	for i, a := range b.Charter.Adopted {
		x := InForce{Adopted: a}
		if i+1 < len(b.Charter.Adopted) {
			x.Until = b.Charter.Adopted[i+1].At
		}
		if held := !civil.Of(a.At).After(b.To) && (x.Until.IsZero() || !civil.Of(x.Until).Before(b.From)); held || ran[a.Protocol.Version] {
			b.Protocols = append(b.Protocols, x)
		}
	}
}

// things keeps the meters, lots and wipes that the events of the span had to do with.
func (b *Binder) things(v *store.View) error {
	meters, lots, sols, wipes := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, d := range b.Days {
		for _, m := range d.Event.Out.Meters {
			meters[m] = true
		}
		for l := range d.Event.Out.Strips {
			lots[l] = true
		}
		for _, r := range d.Event.Runs {
			meters[r.Meter], lots[r.StripLot], sols[r.ControlLot] = true, true, true
		}
		for _, w := range d.Event.Wipes {
			wipes[w.Disinfectant] = true
		}
	}
	var err error
	if b.Meters, err = chosen(v, stock.MeterKind, func(m *stock.Meter) bool { return meters[m.ID] }); err != nil {
		return err
	}
	if b.StripLots, err = chosen(v, stock.StripLotKind, func(l *stock.StripLot) bool { return lots[l.ID] }); err != nil {
		return err
	}
	if b.Controls, err = chosen(v, stock.ControlLotKind, func(l *stock.ControlLot) bool { return sols[l.ID] }); err != nil {
		return err
	}
	if b.Wipes, err = chosen(v, stock.DisinfectantKind, func(w *stock.Disinfectant) bool { return wipes[w.ID] }); err != nil {
		return err
	}
	b.Compared, err = chosen(v, stock.ComparisonKind, func(c *stock.Comparison) bool {
		return !c.Details.On.Before(b.From) && !c.Details.On.After(b.To)
	})
	if err != nil {
		return err
	}
	b.Sharps, err = sharpsIn(v, func(year int) bool { return year >= b.From.Year && year <= b.To.Year })
	return err
}

// Name gives the name of one of the staff.
func (b *Binder) Name(id string) string { return cmp.Or(b.names[id], "not recorded") }

// results lists every reading of a day with what an inspector joins: value, person, operator, meter, strips, controls.
func (b *Binder) results(d *Day) {
	zone := d.Event.Zone()
	var out []BinderResult
	for _, s := range d.Visits {
		counting, told := s.Counting()
		for _, r := range s.Readings {
			x := BinderResult{
				Event: d.Event.ID, At: r.At.In(zone), Ticket: s.Ticket, Shown: r.Reading.String(), Purpose: r.Purpose, Counts: told && r.ID == counting.ID,
				Screener: d.NameOf(r.By), Supervisor: d.NameOf(r.Supervisor), Cleared: cleared(d, r),
			}
			if m := d.MeterByID(r.Meter); m != nil {
				x.Meter = m.Details.Label
			}
			if l := d.StripLotByID(r.StripLot); l != nil {
				x.Strips = l.Details.Lot + ", " + r.Vial
			}
			if f := s.Finding(); f != nil && x.Counts {
				x.Basis, x.Band, x.Referred = string(f.Basis), string(f.Band), "no"
				if s.Referral != nil {
					x.Referred = "yes"
				}
			}
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(a, c BinderResult) int { return a.At.Compare(c.At) })
	b.Results = append(b.Results, out...)
}

// cleared names the last control in range of each level before a reading, on its meter with its lot.
func cleared(d *Day, r visit.Reading) string {
	last := map[string]event.Run{}
	var levels []string
	for _, x := range d.Event.Runs {
		if x.Meter == r.Meter && x.StripLot == r.StripLot && !x.At.After(r.At) && x.Verdict == string(control.InRange) {
			last[x.Level] = x
			levels = with(levels, x.Level)
		}
	}
	slices.Sort(levels)
	says := ""
	for _, level := range levels {
		if says != "" {
			says += ", "
		}
		says += last[level].At.In(d.Event.Zone()).Format("15:04")
	}
	return says
}

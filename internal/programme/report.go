package programme

import (
	"context"
	"fmt"
	"math"
	"sort"
	"time"

	"fairstick/internal/estimate"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// Share is a count with its denominator and the 95 % Wilson interval of the proportion; the interval is left out when the
// denominator is 0.
type Share struct {
	N    int      `json:"n"`
	Of   int      `json:"of"`
	P    *float64 `json:"share,omitempty"`
	Low  *float64 `json:"low,omitempty"`
	High *float64 `json:"high,omitempty"`
}

// ShareOf makes a share of a count and its denominator.
func ShareOf(n, of int) Share { return share(n, of) }

func share(n, of int) Share {
	s := Share{N: n, Of: of}
	if of <= 0 || n < 0 || n > of {
		return s
	}
	iv, err := estimate.Wilson(n, of, 0.95)
	if err != nil {
		return s
	}
	p := float64(n) / float64(of)
	s.P, s.Low, s.High = &p, &iv.Low, &iv.High
	return s
}

// Percent gives the share in words: "23.5 %", or "-" without a denominator.
func (s Share) Percent() string {
	if s.P == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", 100*float64(*s.P))
}

// Interval gives the 95 % interval in words: "15.0 to 34.9 %", or "-".
func (s Share) Interval() string {
	if s.Low == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f to %.1f %%", 100*float64(*s.Low), 100*float64(*s.High))
}

// Report is the event in numbers. It is made from the same sums as the closing page.
type Report struct {
	Event       string                    `json:"event"`
	Name        string                    `json:"name"`
	Programme   string                    `json:"programme"`
	Venue       string                    `json:"venue"`
	Date        string                    `json:"date"`
	Phase       string                    `json:"phase"`
	Protocol    string                    `json:"protocol"`
	Expected    int                       `json:"expected"`
	OpenedAt    time.Time                 `json:"opened_at"`
	DoorsClosed time.Time                 `json:"doors_closed_at"`
	LastLeft    time.Time                 `json:"last_left_at"`
	Outcomes    Outcomes                  `json:"outcomes"`
	Bands       map[string]map[string]int `json:"bands"` // basis or "all" -> band -> count
	ByBand      []BandRow                 `json:"by_band"`
	Referrals   Referrals                 `json:"referrals"`
	Readings    Readings                  `json:"readings"`
	Controls    []ControlRow              `json:"controls"`
	ControlSum  map[string]int            `json:"control_totals"` // runs, in-range, out-of-range, no-value
	Quarantined []string                  `json:"quarantined"`
	Strips      []StripRow                `json:"strips"`
	Lancets     map[string]int            `json:"lancets"` // sticks, misfires, used
	Criticals   []CareRow                 `json:"care"`
	Overrides   []OverrideRow             `json:"overrides"`
	Incidents   []IncidentCount           `json:"incidents"`
	Waits       []WaitRow                 `json:"waits"`
	Arrivals    []HourRow                 `json:"arrivals"`
	ByMeter     []GroupRow                `json:"by_meter"`
	ByScreener  []GroupRow                `json:"by_screener"`
	ByLot       []GroupRow                `json:"by_lot"`
	Repeats     []RepeatRow               `json:"repeats"`
	Equalities  []Equality                `json:"equalities"`
	Staff       []StaffRow                `json:"staff"`
	Languages   map[string]int            `json:"languages"`
	Forms       map[string]int            `json:"forms,omitempty"` // paper forms: printed, typed, voided, back, missing; none when none were printed
	Corrections []CorrectionCount         `json:"corrections"`
}

// Outcomes is what became of everybody who arrived.
type Outcomes struct {
	Arrived     int            `json:"arrived"`
	Tested      int            `json:"tested"`
	Left        int            `json:"left_before_test"`
	NotEligible int            `json:"not_eligible"`
	Declined    int            `json:"declined"`
	Unfinished  int            `json:"unfinished"`
	LeftAfter   int            `json:"left_after_test"`
	ByReason    map[string]int `json:"by_reason"` // reasons of not eligible and of declined
	Slips       int            `json:"slips"`
	Explained   int            `json:"explained"`
}

// BandRow is one band with its share of the tested.
type BandRow struct {
	Basis string `json:"basis"`
	Band  string `json:"band"`
	Share
}

// Referrals counts the findings that ask for a referral.
type Referrals struct {
	Share
	Call   int            `json:"may_call"`
	NoCall int            `json:"no_permission"`
	ByBand map[string]int `json:"by_band"`
}

// Readings counts the strips that were used on people.
type Readings struct {
	First, Repeats, Rechecks, Errors, Sticks, Misfires, ErrorSticks int
}

// ControlRow is one control run.
type ControlRow struct {
	At       time.Time `json:"at"`
	Meter    string    `json:"meter"`
	Lot      string    `json:"lot"`
	Vial     string    `json:"vial"`
	Level    string    `json:"level"`
	Control  string    `json:"control_lot"`
	Shown    string    `json:"value"`
	Unit     string    `json:"unit"`
	Low      string    `json:"low"`
	High     string    `json:"high"`
	Verdict  string    `json:"verdict"`
	Cause    string    `json:"cause,omitempty"`
	Action   string    `json:"action,omitempty"`
	CauseBy  string    `json:"cause_by,omitempty"` // who wrote the cause down
	Operator string    `json:"operator"`
}

// StripRow is one lot's strips.
type StripRow struct {
	Lot      string `json:"lot"`
	Brought  int    `json:"brought"`
	Readings int    `json:"readings"`
	Errors   int    `json:"errors"`
	Controls int    `json:"controls"`
	Left     int    `json:"left"` // as computed; the count stands in the equalities
}

// CareRow is one course of care.
type CareRow struct {
	Ticket int        `json:"ticket"`
	Cause  string     `json:"cause"`
	Opened time.Time  `json:"opened"`
	There  *time.Time `json:"supervisor_at,omitempty"`
	Signed *time.Time `json:"signed_at,omitempty"`
	By     string     `json:"signed_by,omitempty"`
	Action string     `json:"action,omitempty"`
	Note   string     `json:"note,omitempty"`
}

// OverrideRow is one gate that was passed with a signed reason.
type OverrideRow struct {
	Gate   string    `json:"gate"`
	About  string    `json:"about"`
	Reason string    `json:"reason"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
}

// WaitRow is the waits before one station in minutes.
type WaitRow struct {
	Step   string  `json:"step"`
	N      int     `json:"n"`
	Median float64 `json:"median"`
	P90    float64 `json:"p90"`
	Most   float64 `json:"most"`
}

// HourRow is the arrivals in one hour.
type HourRow struct {
	Hour string `json:"hour"`
	N    int    `json:"n"`
}

// GroupRow is the readings of one meter, screener or lot.
type GroupRow struct {
	Name     string         `json:"name"`
	Readings int            `json:"readings"`
	Errors   int            `json:"errors"`
	People   int            `json:"people"`
	Bands    map[string]int `json:"bands"` // of the readings that count
}

// RepeatRow is a participant with more than one value.
type RepeatRow struct {
	Ticket int      `json:"ticket"`
	Values []string `json:"values"`
	Counts string   `json:"counts"`
	Why    string   `json:"why"`
}

// StaffRow is one person on the roster.
type StaffRow struct {
	Name, Role, Station string
	Here                bool
	Verified            string `json:"verified,omitempty"`     // last day, when the protocol asks for a verification
	NotVerified         bool   `json:"not_verified,omitempty"` // the protocol asks for one that was not there
}

// Report computes the event in numbers. Once the doors have opened, its staff is that of the record of staff: what each was verified for when
// they took up their post, whatever ended since.
func (p *Programme) Report(ctx context.Context, eventID string) (Report, error) {
	d, err := p.Day(ctx, eventID)
	if err != nil {
		return Report{}, err
	}
	r := d.Report()
	if d.ProtocolErr != nil || d.Event.Phase == event.IsPlanned || d.Event.Phase == event.IsCancelled {
		return r, nil
	}
	rec, err := p.EventStaffRecord(ctx, eventID)
	if err != nil {
		return Report{}, err
	}
	r.Staff = nil
	for _, x := range rec.Rows {
		row := StaffRow{Name: x.Name, Role: string(x.Role), Station: x.Station, Here: x.Here, NotVerified: x.Asked && !x.Verified}
		if x.Verified && !x.Until.IsZero() {
			row.Verified = x.Until.Long()
		}
		r.Staff = append(r.Staff, row)
	}
	return r, nil
}

// Report computes the event in numbers from a Day.
func (d *Day) Report() Report {
	s := d.sums()
	ev := d.Event
	r := Report{
		Event: ev.ID, Name: ev.Plan.Name, Programme: d.Charter.Details.Name, Venue: ev.Plan.Venue, Date: ev.Plan.Date.String(),
		Phase: string(ev.Phase), Protocol: d.Protocol.Version, Expected: ev.Plan.Expected, OpenedAt: ev.OpenedAt, DoorsClosed: ev.DoorsClosedAt,
		Outcomes: Outcomes{
			Arrived: s.arrived, Tested: s.tested, Left: s.leftUntested, NotEligible: s.notEligible, Declined: s.declined,
			Unfinished: s.unfinished, LeftAfter: s.leftTested, ByReason: d.reasons(), Slips: s.slips, Explained: s.explained,
		},
		Readings:   Readings{First: s.first, Repeats: s.repeats, Rechecks: s.rechecks, Errors: s.errors, Sticks: s.sticks, Misfires: s.misfires, ErrorSticks: s.errorSticks},
		Lancets:    map[string]int{"sticks": s.sticks, "misfires": s.misfires, "used": s.sticks + s.misfires},
		Equalities: d.Reconcile(), Languages: map[string]int{}, Forms: d.formCounts(),
	}
	r.Bands, r.ByBand = d.bands(s.tested)
	r.Referrals = Referrals{Share: share(s.refer, s.tested), Call: s.referCall, NoCall: s.referNoCall, ByBand: map[string]int{}}
	for _, v := range d.Visits {
		r.Languages[v.Language]++
		if f := v.Finding(); f != nil && f.Refer {
			r.Referrals.ByBand[string(f.Band)]++
		}
		if v.Times.Ended.After(r.LastLeft) {
			r.LastLeft = v.Times.Ended
		}
	}
	d.controlRows(&r)
	d.careRows(&r)
	d.groupRows(&r)
	r.Incidents = d.incidentCounts()
	r.Waits = d.waits()
	r.Arrivals = d.arrivals()
	r.Repeats = d.repeats()
	r.Corrections = d.correctionCounts()
	for _, l := range d.BroughtLots() {
		a, e, c := d.StripsUsed(l.ID)
		r.Strips = append(r.Strips, StripRow{Lot: l.Details.Lot, Brought: ev.Out.Strips[l.ID], Readings: a, Errors: e, Controls: c, Left: d.StripsLeft(l.ID)})
	}
	for _, o := range ev.Overrides {
		r.Overrides = append(r.Overrides, OverrideRow{Gate: o.Gate, About: o.About, Reason: o.Reason, By: d.NameOf(o.Signed), At: o.At})
	}
	d.staffRows(&r)
	return r
}

func (d *Day) reasons() map[string]int {
	out := map[string]int{}
	for _, v := range d.Visits {
		switch {
		case v.Phase() == visit.NotEligible:
			out[v.Answers.Counted]++
		case v.Phase() == visit.HasDeclined:
			out["declined "+v.Declined.What]++
		}
	}
	return out
}

func (d *Day) bands(tested int) (map[string]map[string]int, []BandRow) {
	out := map[string]map[string]int{"all": {}, string(protocol.Fasting): {}, string(protocol.Random): {}}
	n := map[string]int{"all": tested}
	for _, v := range d.Visits {
		f := v.Finding()
		if f == nil {
			continue
		}
		out["all"][string(f.Band)]++
		out[string(f.Basis)][string(f.Band)]++
		n[string(f.Basis)]++
	}
	var rows []BandRow
	for _, basis := range []string{"all", string(protocol.Fasting), string(protocol.Random)} {
		for _, b := range protocol.Bands {
			rows = append(rows, BandRow{Basis: basis, Band: string(b), Share: share(out[basis][string(b)], n[basis])})
		}
	}
	return out, rows
}

func (d *Day) controlRows(r *Report) {
	r.ControlSum = map[string]int{"runs": 0, "in-range": 0, "out-of-range": 0, "no-value": 0}
	for _, x := range d.Event.Runs {
		row := ControlRow{
			At: x.At, Vial: x.Vial, Level: x.Level, Shown: x.Reading.Shown(), Unit: string(x.Reading.Unit), Low: x.Low.Number(),
			High: x.High.Number(), Verdict: x.Verdict, Cause: x.Cause, Action: x.Action, CauseBy: d.foundBy(x), Operator: d.NameOf(x.By),
		}
		if m := d.MeterByID(x.Meter); m != nil {
			row.Meter = m.Details.Label
		}
		if l := d.StripLotByID(x.StripLot); l != nil {
			row.Lot = l.Details.Lot
		}
		if c := d.ControlLotByID(x.ControlLot); c != nil {
			row.Control = c.Details.Lot
		}
		r.Controls = append(r.Controls, row)
		r.ControlSum["runs"]++
		r.ControlSum[x.Verdict]++
	}
	for _, m := range d.BroughtMeters() {
		if m.Quarantine != nil && m.Quarantine.Event == d.Event.ID {
			r.Quarantined = append(r.Quarantined, m.Details.Label)
		}
	}
}

func (d *Day) careRows(r *Report) {
	for _, v := range d.Visits {
		c := v.Care
		if c == nil {
			continue
		}
		row := CareRow{Ticket: v.Ticket, Cause: c.Cause, Opened: c.At}
		if s, ok := c.Last(stepSupervisor); ok {
			at := s.At
			row.There = &at
		}
		if s, ok := c.Last(stepAction); ok {
			row.Action, row.Note = s.Choice, s.Note
		}
		if c.Signed != nil {
			at := c.SignedAt
			row.Signed, row.By = &at, d.NameOf(c.Signed.Supervisor)
		}
		r.Criticals = append(r.Criticals, row)
	}
}

func (d *Day) groupRows(r *Report) {
	meters, screeners, lots := newGroups(), newGroups(), newGroups()
	for _, v := range d.Visits {
		counting, _ := v.Counting()
		for _, x := range v.Readings {
			band := ""
			if f := v.Finding(); f != nil && x.ID == counting.ID {
				band = string(f.Band)
			}
			meter, lot := x.Meter, x.StripLot
			if m := d.MeterByID(x.Meter); m != nil {
				meter = m.Details.Label
			}
			if l := d.StripLotByID(x.StripLot); l != nil {
				lot = l.Details.Lot
			}
			meters.add(meter, v.ID, x, band)
			screeners.add(d.NameOf(x.By), v.ID, x, band)
			lots.add(lot, v.ID, x, band)
		}
	}
	r.ByMeter, r.ByScreener, r.ByLot = meters.rows(), screeners.rows(), lots.rows()
}

type groups struct {
	row  map[string]*GroupRow
	seen map[string]bool
}

func newGroups() *groups { return &groups{row: map[string]*GroupRow{}, seen: map[string]bool{}} }

func (g *groups) add(name, visitID string, r visit.Reading, band string) {
	row := g.row[name]
	if row == nil {
		row = &GroupRow{Name: name, Bands: map[string]int{}}
		g.row[name] = row
	}
	if isError(r.Reading) {
		row.Errors++
	} else {
		row.Readings++
	}
	if !g.seen[name+"/"+visitID] {
		g.seen[name+"/"+visitID] = true
		row.People++
	}
	if band != "" {
		row.Bands[band]++
	}
}

func (g *groups) rows() []GroupRow {
	out := make([]GroupRow, 0, len(g.row))
	for _, r := range g.row {
		out = append(out, *r)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

func (d *Day) waits() []WaitRow {
	steps := []struct {
		name     string
		from, to func(visit.Times) time.Time
	}{
		{"desk", func(t visit.Times) time.Time { return t.Arrived }, func(t visit.Times) time.Time { return t.DeskDone }},
		{"wait for the test", func(t visit.Times) time.Time { return t.DeskDone }, func(t visit.Times) time.Time { return t.TestCalled }},
		{"test", func(t visit.Times) time.Time { return t.TestCalled }, func(t visit.Times) time.Time { return t.Found }},
		{"wait for explaining", func(t visit.Times) time.Time { return t.Found }, func(t visit.Times) time.Time { return t.ExplCalled }},
		{"explaining", func(t visit.Times) time.Time { return t.ExplCalled }, func(t visit.Times) time.Time { return t.Ended }},
		{"arrival to leaving", func(t visit.Times) time.Time { return t.Arrived }, func(t visit.Times) time.Time { return t.Ended }},
	}
	out := make([]WaitRow, 0, len(steps))
	for _, s := range steps {
		var m []float64
		for _, v := range d.Visits {
			if v.Phase() != visit.Done {
				continue
			}
			from, to := s.from(v.Times), s.to(v.Times)
			if !from.IsZero() && !to.IsZero() && !to.Before(from) {
				m = append(m, to.Sub(from).Minutes())
			}
		}
		sort.Float64s(m)
		out = append(out, WaitRow{Step: s.name, N: len(m), Median: quantile(m, 0.5), P90: quantile(m, 0.9), Most: quantile(m, 1)})
	}
	return out
}

// quantile gives the smallest value that at least a share p of the sorted values do not exceed; 0 when there are none.
func quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	i := int(math.Ceil(p*float64(len(sorted)))) - 1
	return math.Round(sorted[max(0, i)]*10) / 10
}

func (d *Day) arrivals() []HourRow {
	n := map[string]int{}
	for _, v := range d.Visits {
		n[v.Times.Arrived.In(d.Event.Zone()).Format("15:00")]++
	}
	out := make([]HourRow, 0, len(n))
	for h, c := range n {
		out = append(out, HourRow{Hour: h, N: c})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Hour < out[j].Hour })
	return out
}

func (d *Day) repeats() []RepeatRow {
	var out []RepeatRow
	for _, v := range d.Visits {
		if len(v.Readings) < 2 {
			continue
		}
		row := RepeatRow{Ticket: v.Ticket}
		for _, r := range v.Readings {
			row.Values = append(row.Values, r.Reading.Shown()+" "+r.Purpose)
		}
		if c, ok := v.Counting(); ok {
			row.Counts = c.Reading.Shown()
		}
		if v.Found != nil {
			row.Why = v.Found.Why
		}
		out = append(out, row)
	}
	return out
}

func (d *Day) staffRows(r *Report) {
	for _, post := range d.Event.Roster {
		row := StaffRow{Name: d.NameOf(post.Person), Role: post.Role, Station: post.Station, Here: post.Here}
		if who := d.Person(post.Person); who != nil {
			role := people.Role(post.Role)
			if until := d.VerifiedUntil(who, role); !until.IsZero() {
				row.Verified = until.Long()
			}
			row.NotVerified = d.ProtocolErr == nil && d.VerifiedFor(who, role) != nil
		}
		r.Staff = append(r.Staff, row)
	}
}

// foundBy names who wrote down the cause of a control run; empty when it has none.
func (d *Day) foundBy(r event.Run) string {
	if r.Found == nil {
		return ""
	}
	return d.NameOf(r.Found.By)
}

package programme

import (
	"cmp"
	"context"
	"slices"
	"sort"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// QualityState is how a meter stands by its controls, in a word.
type QualityState string

// The states of a meter by its controls.
const (
	QualityNone       QualityState = "no-control" // none has been run
	QualityInControl  QualityState = "in-control" // nothing at the last event asks for a look
	QualityLook       QualityState = "look"       // a rule broken or a miss without a cause at the last event, or a part that cannot be judged
	QualityQuarantine QualityState = "quarantine"
)

// MeterQuality is what the controls of one meter amount to over all events, strip lots and levels.
type MeterQuality struct {
	Meter    *stock.Meter
	Runs     []QualityRun   // oldest first
	Levels   []string       // that were ever run, in the order of their names
	Parts    []QualityPart  // each strip lot in the order of first use, then each level
	Scatter  []Scatter      // each level over all lots
	Breaks   []QualityBreak // oldest first
	Acts     []QualityAct   // oldest first
	Problems []string       // what could not be described or judged, a sentence each
	Rules    *control.Rules // that were looked at; nil when none could be
	State    QualityState
	Verdict  string // the answer to "can it be trusted?" in a sentence
}

// QualityRun is one control run with what it shows against the other runs of its meter.
type QualityRun struct {
	event.Run // At is on the clock of its event
	EventID   string
	Event     string  // name of the event
	Lot       string  // label of the strip lot
	Operator  string  // name
	Place     int     // on one axis of all runs, from 1: the levels of one session stand above one another
	HasZ      bool    // Z is meant: it showed a number, and its target is known
	Z         float64 // distance from the mean of Target, in SD
	Value     float64 // in the unit of its range; meant only when Reading is a number
	Broken    []control.RuleName
	Rejected  bool // one of the broken rules rejects
}

// QualityPart is one strip lot and level of a meter, with what z is counted from.
type QualityPart struct {
	LotID string
	control.Series
	Target control.Target // the meter's own first runs when there are enough of them, else the printed range
	Ruled  bool           // z is counted from Target and the rules are looked at; false for a range that was replaced
}

// Scatter is how far the controls of one level scatter within their strip lots, over all of these.
type Scatter struct {
	Level string
	N     int     // values that the CV rests on: without an assigned cause, of lots with two or more
	Lots  int     // lots with two values or more
	DF    int     // degrees of freedom of the CV
	CV    float64 // percent, pooled: each value in percent of the mean of its lot
}

// QualityBreak is one rule that was broken at one run.
type QualityBreak struct {
	Rule    control.RuleName
	Levels  []string  // of the points that broke it
	Lot     string    // label of the strip lot
	At      time.Time // of the newest point, on the clock of its event
	Runs    []string  // fact ids of the points, oldest first
	Rejects bool
	Caused  bool // each of the points has an assigned cause
	Open    bool // rejects at the last event with controls, and is not explained by causes
}

// QualityAct is something that was done with a meter or happened to it.
type QualityAct struct {
	At   time.Time
	Kind string // "void", "quarantine", "return", "cause" or "lot"
	Key  string // of a void: its cause
	Note string
	By   string // name; empty for a change of lot
	Run  string // of a cause: the fact id of the run
	Next int    // place of the first run afterwards; 0 when none has been run since
}

// Quality tells for each meter, in the order of labels, whether its controls say that it can be trusted. It adds nothing to the
// record.
func (p *Programme) Quality(ctx context.Context) ([]MeterQuality, error) {
	h, err := p.controlPast(ctx, "")
	if err != nil {
		return nil, err
	}
	out := make([]MeterQuality, len(h.meters))
	for i, m := range h.meters {
		out[i] = h.of(m)
	}
	return out, nil
}

// MeterQuality tells the same of one meter.
func (p *Programme) MeterQuality(ctx context.Context, meterID string) (MeterQuality, error) {
	h, err := p.controlPast(ctx, meterID)
	if err != nil {
		return MeterQuality{}, err
	}
	return h.of(h.meters[0]), nil
}

// controlPast is everything in the record that bears on the controls of meters, from one moment.
type controlPast struct {
	events []*event.State // in the order of their dates
	meters []*stock.Meter
	facts  map[string][]fact.Record // settled, by meter id
	lots   map[string]string        // labels by id
	names  map[string]string        // of people by id
}

func (p *Programme) controlPast(ctx context.Context, meterID string) (controlPast, error) {
	h := controlPast{facts: map[string][]fact.Record{}, lots: map[string]string{}, names: map[string]string{}}
	err := p.store.Read(ctx, func(v *store.View) (err error) {
		if h.meters, err = listed[*stock.Meter](v.All(stock.MeterKind)); err != nil {
			return err
		}
		if meterID != "" {
			h.meters = slices.DeleteFunc(h.meters, func(m *stock.Meter) bool { return m.ID != meterID })
			if len(h.meters) == 0 {
				return missing(stock.MeterRef(meterID))
			}
		}
		for _, m := range h.meters {
			recs, err := v.Records(stock.MeterRef(m.ID))
			if err != nil {
				return err
			}
			h.facts[m.ID] = fact.Settle(recs)
		}
		if h.events, err = listed[*event.State](v.All(event.Kind)); err != nil {
			return err
		}
		lots, err := listed[*stock.StripLot](v.All(stock.StripLotKind))
		if err != nil {
			return err
		}
		for _, l := range lots {
			h.lots[l.ID] = l.Details.Lot
		}
		staff, err := listed[*people.State](v.All(people.Kind))
		for _, s := range staff {
			h.names[s.ID] = s.Details.Name
		}
		return err
	})
	return h, err
}

func (h controlPast) name(id string) string {
	if n, ok := h.names[id]; ok {
		return n
	}
	return "not recorded"
}

// of makes the quality of one meter.
func (h controlPast) of(m *stock.Meter) MeterQuality {
	q := MeterQuality{Meter: m}
	for _, ev := range h.events {
		zone := ev.Zone()
		for _, r := range ev.RunsOf(m.ID) {
			run := QualityRun{Run: r, EventID: ev.ID, Event: ev.Plan.Name, Lot: cmp.Or(h.lots[r.StripLot], "not recorded"), Operator: h.name(r.By)}
			run.At = r.At.In(zone)
			q.Runs = append(q.Runs, run)
			if !slices.Contains(q.Levels, r.Level) {
				q.Levels = append(q.Levels, r.Level)
			}
		}
	}
	sort.SliceStable(q.Runs, func(i, j int) bool { return q.Runs[i].At.Before(q.Runs[j].At) })
	slices.Sort(q.Levels)
	q.place()
	q.describe()
	q.scatter()
	q.settle()
	q.acts(h)
	q.State, q.Verdict = q.verdict()
	return q
}

// session is how long the controls of one opening may take: values of two levels further apart do not make one run.
const session = 12 * time.Hour

// place puts the runs on one axis: a place is a strip lot with each level once, within a session.
func (q *MeterQuality) place() {
	place := 0
	var first *QualityRun
	var levels []string
	for i := range q.Runs {
		r := &q.Runs[i]
		if first == nil || r.StripLot != first.StripLot || r.At.Sub(first.At) > session || slices.Contains(levels, r.Level) {
			place++
			first, levels = r, nil
		}
		r.Place = place
		levels = append(levels, r.Level)
	}
}

// acts gathers what was done with the meter: voids, quarantine and return, causes, and changes of the strip lot.
func (q *MeterQuality) acts(h controlPast) {
	zones := map[string]*time.Location{}
	zone := time.Local
	for _, ev := range h.events {
		zones[ev.ID] = ev.Zone()
		zone = ev.Zone() // of the last event, for what happened at none
	}
	add := func(at time.Time, eventID string, a QualityAct) {
		a.At = at.In(zone)
		if z, ok := zones[eventID]; ok {
			a.At = at.In(z)
		}
		q.Acts = append(q.Acts, a)
	}
	for _, r := range h.facts[q.Meter.ID] {
		switch b := r.Body.(type) {
		case stock.MeterVoided:
			add(r.At, b.Event, QualityAct{Kind: "void", Key: string(b.Cause), Note: b.Note, By: h.name(r.By)})
		case stock.MeterQuarantined:
			add(r.At, b.Event, QualityAct{Kind: "quarantine", Note: b.Reason, By: h.name(r.By)})
		case stock.MeterReturned:
			add(r.At, "", QualityAct{Kind: "return", Note: b.Reason, By: h.name(r.By)})
		}
	}
	for i, r := range q.Runs {
		if i > 0 && r.StripLot != q.Runs[i-1].StripLot {
			add(r.At, r.EventID, QualityAct{Kind: "lot", Note: r.Lot, Next: r.Place})
		}
		if r.Cause != "" {
			add(r.At, r.EventID, QualityAct{Kind: "cause", Key: r.Cause, Note: r.Action, Run: r.ID, Next: r.Place})
		}
	}
	sort.SliceStable(q.Acts, func(i, j int) bool { return q.Acts[i].At.Before(q.Acts[j].At) })
	for i := range q.Acts {
		a := &q.Acts[i]
		for _, r := range q.Runs {
			if a.Next == 0 && r.At.After(a.At) {
				a.Next = r.Place
			}
		}
	}
}

package programme

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// LotTrace is everything that a lot of strips or of control solution touched. Participants stand in it by ticket alone.
type LotTrace struct {
	Key     string      `json:"id"`
	Name    string      `json:"name"`
	Hold    *stock.Hold `json:"hold,omitempty"`
	How     string      `json:"how"` // what counts as touched, in a sentence
	Events  []TraceDay  `json:"events"`
	Meters  []string    `json:"meters"` // labels
	Runs    int         `json:"control_runs"`
	Visits  int         `json:"people"`
	Read    int         `json:"readings"`
	MayCall int         `json:"may_be_called"`
	OnHand  int         `json:"on_hand"`
	Unit    string      `json:"unit"`
	At      time.Time   `json:"at"`
}

// TraceDay is what the lot touched at one event.
type TraceDay struct {
	Event   string       `json:"event"`
	Name    string       `json:"name"`
	Venue   string       `json:"venue"`
	Date    civil.Date   `json:"date"`
	Brought int          `json:"strips_brought"`
	Meters  []string     `json:"meters"`
	Runs    []TraceRun   `json:"control_runs"`
	Visits  []TraceVisit `json:"people"`
	MayCall int          `json:"may_be_called"`
}

// TraceRun is one control run.
type TraceRun struct {
	At      time.Time `json:"at"`
	Meter   string    `json:"meter"`
	Vial    string    `json:"vial"`
	Bottle  string    `json:"bottle"`
	Level   string    `json:"level"`
	Verdict string    `json:"verdict"`
}

// TraceVisit is one participant by ticket, with the readings that are in question.
type TraceVisit struct {
	Visit    string    `json:"visit"`
	Ticket   int       `json:"ticket"`
	Readings int       `json:"readings"`
	Meter    string    `json:"meter"`
	Vial     string    `json:"vial"`
	At       time.Time `json:"at"`     // of the first of them
	Counts   bool      `json:"counts"` // the reading that the participant was told is among them
}

// touched tells which readings and runs of an event a lot touched.
type touched struct {
	reading func(visit.Reading) bool
	run     func(event.Run) bool
	visits  func(*store.View, string) ([]fact.State, error)
}

// TraceLot finds the events, meters, control runs and participants that a lot of strips touched. For a lot of control solution
// those are the readings with the meters and strips whose controls were run with it on that day. It reads what mentions the lot
// and nothing else, so it does not grow with the record.
func (p *Programme) TraceLot(ctx context.Context, key string) (*LotTrace, error) {
	ref, err := thingRef(key)
	if err != nil {
		return nil, err
	}
	if ref.Kind != stock.StripLotKind && ref.Kind != stock.ControlLotKind {
		return nil, fault.New(fault.Refused, "no-look-back", "The record does not say which participants this was used for.", "Only strips and control solution are written down by lot with each reading.",
			"Look at the events since it was received: every one of them may have used it.")
	}
	out := &LotTrace{Key: key, At: p.now()}
	err = p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(ref)
		if err != nil {
			return err
		}
		if !ok {
			return missing(ref)
		}
		t, _ := thingOf(st)
		out.Name, out.Unit, out.Hold = t.name, t.unit, t.shelf.Held(out.At)
		events, err := listed[*event.State](v.All(event.Kind))
		if err != nil {
			return err
		}
		out.OnHand = settle([]thing{t}, events, nil)[ref].OnHand()
		meters, err := listed[*stock.Meter](v.All(stock.MeterKind))
		if err != nil {
			return err
		}
		labels := map[string]string{}
		for _, m := range meters {
			labels[m.ID] = m.Details.Label
		}
		for _, ev := range events {
			if err := out.day(v, ev, ref, labels); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	out.How = "Readings and controls with these strips."
	if ref.Kind == stock.ControlLotKind {
		out.How = "Controls with this solution, and readings with the meters and strips that they cleared on that day."
	}
	slices.SortStableFunc(out.Events, func(a, b TraceDay) int { return compareDates(b.Date, a.Date) })
	slices.Sort(out.Meters)
	return out, nil
}

func touchedBy(ev *event.State, ref fact.Ref) touched {
	if ref.Kind == stock.StripLotKind {
		return touched{
			reading: func(r visit.Reading) bool { return r.StripLot == ref.ID },
			run:     func(r event.Run) bool { return r.StripLot == ref.ID },
			visits: func(v *store.View, ev string) ([]fact.State, error) {
				return v.Mentioning(visit.Kind, ev, "strip-lot", ref.ID)
			},
		}
	}
	type pair struct{ meter, lot string }
	cleared := map[pair]bool{}
	var lots []string
	for _, r := range ev.Runs {
		if r.ControlLot == ref.ID {
			cleared[pair{r.Meter, r.StripLot}] = true
			if !slices.Contains(lots, r.StripLot) {
				lots = append(lots, r.StripLot)
			}
		}
	}
	return touched{
		reading: func(r visit.Reading) bool { return cleared[pair{r.Meter, r.StripLot}] },
		run:     func(r event.Run) bool { return r.ControlLot == ref.ID },
		visits: func(v *store.View, ev string) ([]fact.State, error) {
			var out []fact.State
			seen := map[string]bool{}
			for _, lot := range lots {
				some, err := v.Mentioning(visit.Kind, ev, "strip-lot", lot)
				if err != nil {
					return nil, err
				}
				for _, st := range some {
					if id := st.(*visit.State).ID; !seen[id] {
						seen[id] = true
						out = append(out, st)
					}
				}
			}
			return out, nil
		},
	}
}

func (b *LotTrace) day(v *store.View, ev *event.State, ref fact.Ref, labels map[string]string) error {
	by := touchedBy(ev, ref)
	d := TraceDay{Event: ev.ID, Name: ev.Plan.Name, Venue: ev.Plan.Venue, Date: ev.Plan.Date, Brought: ev.Out.Strips[ref.ID]}
	meter := func(id string) string {
		label := labels[id]
		if !slices.Contains(d.Meters, label) {
			d.Meters = append(d.Meters, label)
		}
		if !slices.Contains(b.Meters, label) {
			b.Meters = append(b.Meters, label)
		}
		return label
	}
	for _, r := range ev.Runs {
		if by.run(r) {
			d.Runs = append(d.Runs, TraceRun{At: r.At, Meter: meter(r.Meter), Vial: r.Vial, Bottle: r.Bottle, Level: r.Level, Verdict: r.Verdict})
		}
	}
	list, err := by.visits(v, ev.ID)
	if err != nil {
		return err
	}
	for _, st := range list {
		s, ok := st.(*visit.State)
		if !ok {
			return fmt.Errorf("programme: a %T where a visit was expected", st)
		}
		x := TraceVisit{Visit: s.ID, Ticket: s.Ticket}
		counting, told := s.Counting()
		var vials []string
		for _, r := range s.Readings {
			if !by.reading(r) {
				continue
			}
			if x.Readings == 0 {
				x.At, x.Meter = r.At, meter(r.Meter)
			} else {
				meter(r.Meter)
			}
			x.Readings++
			x.Counts = x.Counts || told && r.ID == counting.ID
			if !slices.Contains(vials, r.Vial) {
				vials = append(vials, r.Vial)
			}
		}
		if x.Readings == 0 {
			continue
		}
		x.Vial = strings.Join(vials, ", ")
		b.Read += x.Readings
		if MayCall(s) {
			d.MayCall++
		}
		d.Visits = append(d.Visits, x)
	}
	if len(d.Runs) == 0 && len(d.Visits) == 0 && d.Brought == 0 {
		return nil
	}
	slices.Sort(d.Meters)
	slices.SortStableFunc(d.Visits, func(a, b TraceVisit) int { return a.Ticket - b.Ticket })
	b.Runs, b.Visits, b.MayCall = b.Runs+len(d.Runs), b.Visits+len(d.Visits), b.MayCall+d.MayCall
	b.Events = append(b.Events, d)
	return nil
}

package programme

import (
	"context"
	"sort"
	"strings"
	"sync"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// watching keeps the tuned limits of the drift watch: tuning takes a moment, and a day asks for the same ones all the time.
type watching struct {
	sync.Mutex
	limits map[watchKey]control.Limits
}

// watchKey is what the limits depend on.
type watchKey struct {
	tests, meters int
	closed        string // ids of the events that the baseline is learned from
}

// learnFrom is how many closed events the baseline is learned from, the latest ones: as many as a programme holds in a year or so. Crowds
// change over the years, and the first page of a day must not read all of them.
const learnFrom = 50

// The plan may expect fewer people than a watch can be tuned for, or more.
const (
	watchLeast = 10
	watchMost  = 5000
)

// watch looks at the participants' first readings of a day as a second control. A watch that cannot be kept is logged and raises no alarm: it
// must not take the day's pages away.
func (p *Programme) watch(ctx context.Context, d *Day) {
	readings := d.watched()
	if len(readings) == 0 {
		return
	}
	limits, err := p.watchLimits(ctx, d)
	if err == nil {
		d.limits = &limits
		d.drift, err = control.Watch(limits, readings)
	}
	if err != nil {
		p.log.Error("participants' readings are not watched for drift", "event", d.Event.ID, "err", err)
	}
}

// Drift lists what the participants' readings of the day raise a suspicion of: a meter, a vial, a lot, or all of them together.
// Test numbers in it count the day's first readings in the order in which they were taken.
func (d *Day) Drift() []control.Alarm { return d.drift }

// MeterTraces says how far each meter has lain from the others through the day; none while nobody was tested, or when the watch
// cannot be kept.
func (d *Day) MeterTraces() ([]control.Trace, error) {
	if d.limits == nil {
		return nil, nil
	}
	return control.Traces(*d.limits, d.watched())
}

func (p *Programme) watchLimits(ctx context.Context, d *Day) (control.Limits, error) {
	closed, err := p.closedEvents(ctx, d.Event.ID)
	if err != nil {
		return control.Limits{}, err
	}
	key := watchKey{tests: min(max(d.Event.Plan.Expected, watchLeast), watchMost), meters: max(1, len(d.BroughtMeters())), closed: strings.Join(closed, " ")}
	key.meters = min(key.meters, key.tests)
	p.watches.Lock()
	defer p.watches.Unlock()
	if l, ok := p.watches.limits[key]; ok {
		return l, nil
	}
	s := control.DefaultWatch()
	s.TestsPerDay, s.Meters = key.tests, key.meters
	if b, ok, err := p.baseline(ctx, closed, d.Protocol); err != nil {
		return control.Limits{}, err
	} else if ok {
		s.Baseline = b
	}
	l, err := control.Tune(s)
	if err != nil {
		return l, err
	}
	if len(p.watches.limits) > 16 || p.watches.limits == nil {
		p.watches.limits = map[watchKey]control.Limits{}
	}
	p.watches.limits[key] = l
	return l, nil
}

// closedEvents names the programme's latest other events that are closed.
func (p *Programme) closedEvents(ctx context.Context, but string) (out []string, err error) {
	err = p.store.Read(ctx, func(v *store.View) error {
		return v.Latest(event.Kind, func(id, line string) (bool, error) {
			x, err := event.ReadTally(line)
			if err == nil && x.Phase == event.IsClosed && id != but {
				out = append(out, id)
			}
			return len(out) == learnFrom, err
		})
	})
	return out, err
}

// baseline learns what the participants of events usually show; ok is false while there is too little history.
func (p *Programme) baseline(ctx context.Context, events []string, proto protocol.Protocol) (b control.Baseline, ok bool, err error) {
	var all [][]float64
	for _, id := range events {
		var visits []*visit.State
		err := p.store.Read(ctx, func(v *store.View) (err error) {
			visits, err = listed[*visit.State](v.Children(visit.Kind, id))
			return err
		})
		if err != nil {
			return b, false, err
		}
		var values []float64
		for _, v := range visits {
			if r := firstReading(v); r != nil {
				if x, ok := inMgDL(r.Reading, proto); ok {
					values = append(values, x)
				}
			}
		}
		if len(values) > 0 {
			all = append(all, values)
		}
	}
	b, err = control.Learn(all)
	return b, err == nil, nil // a history that is too short is no fault: the stated default holds
}

// watched gives the first reading of each participant in the order in which they were taken.
func (d *Day) watched() []control.Reading {
	var firsts []DigitReading
	for _, v := range d.Visits {
		if r := firstReading(v); r != nil {
			firsts = append(firsts, DigitReading{Visit: v, Reading: *r, At: r.At})
		}
	}
	sort.SliceStable(firsts, func(i, j int) bool { return firsts[i].At.Before(firsts[j].At) })
	vials := map[string]string{} // the lot of each vial's name
	shared := map[string]bool{}
	for _, x := range firsts {
		if lot, ok := vials[x.Reading.Vial]; ok && lot != x.Reading.StripLot {
			shared[x.Reading.Vial] = true
		}
		vials[x.Reading.Vial] = x.Reading.StripLot
	}
	var out []control.Reading
	for i, x := range firsts {
		value, ok := inMgDL(x.Reading.Reading, d.Protocol)
		meter, lot := d.MeterByID(x.Reading.Meter), d.StripLotByID(x.Reading.StripLot)
		if !ok || meter == nil || lot == nil {
			continue
		}
		vial := x.Reading.Vial
		if shared[vial] {
			vial = lot.Details.Lot + "/" + vial
		}
		out = append(out, control.Reading{Event: d.Event.ID, Meter: meter.Details.Label, Lot: lot.Details.Lot, Vial: vial, Value: value, Sequence: i + 1})
	}
	return out
}

// firstReading is the first value of a visit; LO and HI are values, an error code is not.
func firstReading(v *visit.State) *visit.Reading {
	for i := range v.Readings {
		if v.Readings[i].Reading.Kind != glucose.Error {
			return &v.Readings[i]
		}
	}
	return nil
}

// inMgDL gives a reading in mg/dL for watching alone; LO and HI are the ends of what the protocol believes.
func inMgDL(r glucose.Reading, proto protocol.Protocol) (float64, bool) {
	v := r.Value
	rng, ok := proto.MeterRange[r.Unit]
	switch r.Kind {
	case glucose.Low:
		v = rng.Low
	case glucose.High:
		v = rng.High
	case glucose.Error:
		return 0, false
	case glucose.Numeric:
		ok = true
	}
	if !ok || v.Steps <= 0 {
		return 0, false
	}
	return float64(v.In(glucose.MgPerDL).Steps), true
}

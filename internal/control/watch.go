package control

import (
	"fmt"
	"math"
	"slices"

	"fairstick/internal/fault"
)

// Reading is one participant's first reading, in the order in which readings were taken. Known diabetes and repeats are left out
// by the caller; for LO and HI give the meter's own limits.
type Reading struct {
	Event    string
	Meter    string
	Lot      string // strip lot; may be empty
	Vial     string // may be empty
	Value    float64
	Sequence int // the caller's number of the reading; alarms name it
}

// WatchSettings says how participants' readings are watched.
type WatchSettings struct {
	Baseline    Baseline
	TestsPerDay int     // for which the limits are tuned
	Meters      int     // at work on such a day
	FalseDays   float64 // share of such days on which a false alarm of any kind is accepted
	HalfLife    float64 // tests of the day after which a reading counts half
}

// DefaultWatch is for a day of 100 tests on four meters with a false alarm on fewer than one day in 20. By simulation of right-skewed
// crowds (TestWatchFindsMeter) one meter of four that reads 15 % high is found within 40 of its own tests in half of cases and within 60 in
// three of four. At 25 tests a meter and day that is more than a day: controls find it sooner, and the evidence is carried on.
func DefaultWatch() WatchSettings {
	return WatchSettings{Baseline: DefaultBaseline(), TestsPerDay: 100, Meters: 4, FalseDays: 0.05, HalfLife: 60}
}

// leastTests of a meter, vial or lot, and of the rest, stand behind every alarm.
const leastTests = 8

// family is what a reading belongs to.
type family int

const (
	byMeter family = iota
	byVial
	byLot
	families
)

// Limits are those of a tuned watch: the distance, in standard errors, beyond which something alarms.
type Limits struct {
	Settings WatchSettings
	Source   [3]float64 // of a meter, a vial, a lot against the rest of the day
	All      float64    // of all together against the baseline
}

// Tune computes the limits. The share of false days is parted: seven tenths for meters, the rest for vials, lots and all together.
// Each part is met by the run length of an EWMA with varying limits over the tests that fall to one meter, looked at from the eighth
// on. It takes a moment; keep what it gives. Settings out of bounds are a *fault.Fault.
func Tune(s WatchSettings) (Limits, error) {
	if err := s.Baseline.check(); err != nil {
		return Limits{}, err
	}
	switch {
	case s.TestsPerDay < 10 || s.TestsPerDay > 5000 || s.Meters < 1 || s.Meters > s.TestsPerDay:
		return Limits{}, driftFault(fmt.Sprintf("A day of %d tests on %d meters cannot be tuned for.", s.TestsPerDay, s.Meters))
	case !(s.FalseDays >= 0.001 && s.FalseDays <= 0.5):
		return Limits{}, driftFault(fmt.Sprintf("A share of %v false days is not between 0.001 and 0.5.", s.FalseDays))
	case !(s.HalfLife >= 5 && s.HalfLife <= 130):
		return Limits{}, driftFault(fmt.Sprintf("A half-life of %v tests is not between 5 and 130.", s.HalfLife))
	}
	out := Limits{Settings: s}
	for _, part := range []struct {
		share   float64
		streams int
		limit   *float64
	}{
		{0.7, s.Meters, &out.Source[byMeter]},
		{0.1, s.Meters, &out.Source[byVial]},
		{0.05, min(2, s.Meters), &out.Source[byLot]},
		{0.15, 1, &out.All},
	} {
		k := float64(part.streams)
		lambda := -math.Expm1(k * math.Log(0.5) / s.HalfLife)
		alpha := -math.Expm1(math.Log1p(-s.FalseDays*part.share) / k)
		var err error
		if *part.limit, err = limitFrom(leastTests, lambda, max(1, s.TestsPerDay/part.streams), alpha, true); err != nil {
			return Limits{}, err
		}
	}
	return out, nil
}

// With gives the same limits with another baseline, on which they do not depend.
func (l Limits) With(b Baseline) (Limits, error) {
	if err := b.check(); err != nil {
		return Limits{}, err
	}
	l.Settings.Baseline = b
	return l, nil
}

// sums are discounted sums over readings: weights, weights times scores, squared weights, and a plain count.
type sums struct {
	w, ws, w2 float64
	n         int
}

func (s *sums) add(o sums) {
	s.w, s.ws, s.w2, s.n = s.w+o.w, s.ws+o.ws, s.w2+o.w2, s.n+o.n
}

func (s sums) mean() float64 { return s.ws / s.w }

// error2 is the squared standard error of the mean, for scores with SD 1.
func (s sums) error2() float64 { return s.w2 / (s.w * s.w) }

// origin is the meter, vial and lot of a reading.
type origin [families]string

// cellSums are the sums of the readings of one origin.
type cellSums struct {
	origin
	sums
}

// source is a meter, a vial or a lot.
type source struct {
	family family
	name   string
}

// stretch is how long a source has been on one side of the rest.
type stretch struct {
	side  Direction
	since int // index into the event's readings
}

// carried is what earlier events say of a meter with a lot: sums of difference/variance and 1/variance.
type carried struct {
	weighted, weight float64
}

// Watcher watches readings one by one. Make it with NewWatcher.
//
// Each reading counts as a winsorised score (Baseline) whose weight halves every HalfLife tests of the event. The discounted mean of a
// meter is compared with that of all other readings of the same event and the same hours, so another crowd, or people coming from
// lunch, move both and alarm nothing; vials and lots are compared in the same way. The differences of a meter with one lot are
// carried from event to event. All meters together are compared with the baseline, allowing for how much crowds differ, and
// only when every meter lies on that side.
type Watcher struct {
	limits  Limits
	event   string
	seen    []Reading
	cells   []cellSums // in the order in which they came up
	dev     float64    // sum of squared deviations of the event's scores from their running mean
	average float64
	track   map[source]stretch
	all     stretch
	alarmed map[source]bool
	whole   bool // all together have alarmed
	carry   map[[2]string]carried
}

// NewWatcher starts with no readings seen.
func NewWatcher(l Limits) *Watcher {
	w := &Watcher{limits: l, carry: map[[2]string]carried{}}
	w.begin("")
	return w
}

// Watch sends readings through a new watcher and gives every alarm.
func Watch(l Limits, readings []Reading) ([]Alarm, error) {
	w := NewWatcher(l)
	var out []Alarm
	for _, r := range readings {
		alarm, err := w.Add(r)
		if err != nil {
			return nil, err
		}
		if alarm != nil {
			out = append(out, *alarm)
		}
	}
	return out, nil
}

func (w *Watcher) begin(event string) {
	for _, m := range w.names(byMeter) {
		lot, one := w.lotOf(m.name)
		d, v, ok := w.difference(m)
		if one && ok && !w.alarmed[m] {
			c := w.carry[[2]string{m.name, lot}]
			w.carry[[2]string{m.name, lot}] = carried{c.weighted + d/v, c.weight + 1/v}
		}
	}
	w.event, w.seen, w.cells = event, nil, nil
	w.dev, w.average, w.track, w.all = 0, 0, map[source]stretch{}, stretch{}
	w.alarmed, w.whole = map[source]bool{}, false
}

// names lists the sources of a family that the event has shown, in the order in which they came up.
func (w *Watcher) names(f family) []source {
	var out []source
	for _, c := range w.cells {
		if s := (source{f, c.origin[f]}); s.name != "" && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// lotOf gives the lot of a meter that has used one lot alone in this event.
func (w *Watcher) lotOf(meter string) (lot string, one bool) {
	for _, c := range w.cells {
		if c.origin[byMeter] != meter {
			continue
		}
		if one && c.origin[byLot] != lot {
			return "", false
		}
		lot, one = c.origin[byLot], true
	}
	return lot, one
}

// Add takes the next reading and gives the alarm that it raises, or nil. A source alarms once in an event; from then on its readings no
// longer count among the rest. A reading without a meter, or whose value is not above 0 and finite, is a *fault.Fault and changes
// nothing.
func (w *Watcher) Add(r Reading) (*Alarm, error) {
	if r.Meter == "" {
		return nil, fault.New(fault.Invalid, "meter-missing", fmt.Sprintf("Reading %d names no meter.", r.Sequence), "It cannot be compared.", "Name the meter.")
	}
	if !(r.Value > 0) || math.IsInf(r.Value, 0) {
		return nil, fault.New(fault.Invalid, "value-not-positive", fmt.Sprintf("Reading %d is not a number above 0.", r.Sequence), "Its logarithm is needed.", "Correct it or leave it out.")
	}
	if r.Event != w.event {
		w.begin(r.Event)
	}
	w.take(r)
	var raised *source
	for _, s := range sourcesOf(r) {
		if t, ok := w.distance(s); ok {
			w.follow(s, t)
			if math.Abs(t) > w.limits.Source[s.family] && !w.alarmed[s] && raised == nil {
				raised = &s
			}
		}
	}
	if raised != nil {
		return w.blame(*raised), nil
	}
	return w.together(), nil
}

func sourcesOf(r Reading) []source {
	out := []source{{byMeter, r.Meter}}
	if r.Vial != "" {
		out = append(out, source{byVial, r.Vial})
	}
	if r.Lot != "" {
		out = append(out, source{byLot, r.Lot})
	}
	return out
}

func (w *Watcher) take(r Reading) {
	keep := math.Exp2(-1 / w.limits.Settings.HalfLife)
	at := slices.IndexFunc(w.cells, func(c cellSums) bool { return c.origin == originOf(r) })
	if at < 0 {
		at = len(w.cells)
		w.cells = append(w.cells, cellSums{origin: originOf(r)})
	}
	for i := range w.cells {
		c := &w.cells[i]
		c.w, c.ws, c.w2 = c.w*keep, c.ws*keep, c.w2*keep*keep
	}
	score := w.limits.Settings.Baseline.score(r.Value)
	w.cells[at].add(sums{1, score, 1, 1})
	w.seen = append(w.seen, r)
	off := score - w.average
	w.average += off / float64(len(w.seen))
	w.dev += off * (score - w.average)
}

// scale2 is the variance of the scores: the event's own, leaning on the baseline's while there are few.
func (w *Watcher) scale2() float64 {
	const lean = 50
	return (lean + w.dev) / (lean + math.Max(0, float64(len(w.seen)-1)))
}

// parts sums what a source has and what the rest has that is not under an alarm.
func (w *Watcher) parts(s source) (own, rest sums) {
	for _, c := range w.cells {
		switch {
		case c.origin[s.family] == s.name:
			own.add(c.sums)
		case w.comparable(s, c.origin):
			rest.add(c.sums)
		}
	}
	return own, rest
}

// comparable reports whether readings of an origin belong to the rest of a source. Readings under an alarm do not; nor, for a vial or
// a lot, those of a meter that used it: they were taken at another hour of the day.
func (w *Watcher) comparable(s source, o origin) bool {
	if o[s.family] == s.name || w.suspect(o) {
		return false
	}
	return s.family == byMeter || !slices.ContainsFunc(w.cells, func(c cellSums) bool {
		return c.origin[s.family] == s.name && c.origin[byMeter] == o[byMeter]
	})
}

// suspect reports whether something of an origin has alarmed.
func (w *Watcher) suspect(o origin) bool {
	for f, name := range o {
		if w.alarmed[source{family(f), name}] {
			return true
		}
	}
	return false
}

// difference of a source from the rest in this event, in scores, with its variance; not ok while there are too few tests.
func (w *Watcher) difference(s source) (d, variance float64, ok bool) {
	own, rest := w.parts(s)
	if own.n < leastTests || rest.n < leastTests {
		return 0, 0, false
	}
	return own.mean() - rest.mean(), w.scale2() * (own.error2() + rest.error2()), true
}

// distance is how far a source lies from the rest, in standard errors, with what a meter carries from earlier events with its lot.
func (w *Watcher) distance(s source) (t float64, ok bool) {
	d, v, ok := w.difference(s)
	if !ok {
		return 0, false
	}
	var c carried
	if s.family == byMeter {
		if lot, one := w.lotOf(s.name); one {
			c = w.carry[[2]string{s.name, lot}]
		}
	}
	return (c.weighted + d/v) / math.Sqrt(c.weight+1/v), true
}

func (w *Watcher) follow(s source, t float64) {
	side := Upward
	if t < 0 {
		side = Downward
	}
	now := w.track[s]
	if now.side == side {
		return
	}
	own := func(r Reading) bool { return belongs(r, s) }
	since := slices.IndexFunc(w.seen, own)
	if now.side != NoDirection {
		for since = len(w.seen) - 1; !own(w.seen[since]); since-- {
		}
	}
	w.track[s] = stretch{side, since}
}

func belongs(r Reading, s source) bool {
	return originOf(r)[s.family] == s.name
}

func originOf(r Reading) origin { return origin{r.Meter, r.Vial, r.Lot} }

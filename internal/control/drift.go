package control

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"fairstick/internal/fault"
)

// Direction is the side on which something lies.
type Direction string

// The directions; none is empty.
const (
	NoDirection Direction = ""
	Upward      Direction = "high"
	Downward    Direction = "low"
)

// Treatment is what is done with values outside two limits before they count; values on a limit are inside.
type Treatment string

// The treatments.
const (
	Untreated Treatment = ""          // every value counts as it is
	Truncate  Treatment = "truncate"  // a value outside is skipped and the statistic stays
	Winsorise Treatment = "winsorise" // a value outside counts as the limit that it passed
)

// Outside is a treatment with its limits.
type Outside struct {
	Treatment Treatment
	Low       float64
	High      float64
}

func (o Outside) check() error {
	switch {
	case o.Treatment == Untreated:
		return nil
	case o.Treatment != Truncate && o.Treatment != Winsorise:
		return driftFault(fmt.Sprintf("%q is no treatment of values outside limits.", string(o.Treatment)))
	case !(o.Low < o.High):
		return driftFault(fmt.Sprintf("Limits %v and %v hold nothing.", o.Low, o.High))
	}
	return nil
}

// apply gives the value that counts, or false when it is skipped.
func (o Outside) apply(x float64) (float64, bool) {
	switch {
	case o.Treatment == Untreated || x >= o.Low && x <= o.High:
		return x, true
	case o.Treatment == Truncate:
		return x, false
	}
	return math.Min(math.Max(x, o.Low), o.High), true
}

// Band is where a statistic may lie: Target between Low and High. A statistic strictly outside alarms.
type Band struct {
	Target float64
	Low    float64
	High   float64
}

func (b Band) check() error {
	if !(b.Low < b.Target && b.Target < b.High) {
		return driftFault(fmt.Sprintf("A target of %v does not lie between %v and %v.", b.Target, b.Low, b.High))
	}
	return nil
}

// Step is what one value did. Statistic, Low and High are meant only when Defined. For a CUSUM Statistic is the upper sum, Lower the
// lower one.
type Step struct {
	Index     int  // of the value, from 0
	Used      bool // false when truncation skipped it: everything else is as before
	Defined   bool // a moving mean or median has no value before its block is full
	Statistic float64
	Lower     float64   // lower sum of a CUSUM
	Low       float64   // limits of this step
	High      float64   // both sums of a CUSUM alarm above High
	Alarm     Direction // empty: none
	Since     int       // with an alarm: first value of the stretch in which the statistic never came back to its target
}

// Detector watches a stream of values one by one. It goes on after an alarm as before; start a new one when the cause is mended.
// NaN and infinity are a *fault.Fault and change nothing.
type Detector interface {
	Add(x float64) (Step, error)
}

// Batch sends values through a detector.
func Batch(d Detector, values []float64) ([]Step, error) {
	out := make([]Step, len(values))
	for i, x := range values {
		var err error
		if out[i], err = d.Add(x); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func driftFault(sentence string) error {
	return fault.New(fault.Invalid, "drift-unusable", sentence, "Nothing can be watched that way.", "Choose another setting.")
}

// stream is what every detector has: the treatment, the count of values, and the last step.
type stream struct {
	outside Outside
	n       int
	used    int
	last    Step
	side    Direction // of the target on which the statistic is
	since   int       // since which value
}

// take treats a value; ok is false when the step stays as it was.
func (s *stream) take(x float64) (v float64, ok bool, err error) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, false, fault.New(fault.Invalid, "value-not-a-number", fmt.Sprintf("Value %d is not a number.", s.n+1), "Nothing can be computed with it.", "Correct it or leave it out.")
	}
	v, ok = s.outside.apply(x)
	s.last.Index, s.last.Used = s.n, ok
	s.n++
	if ok {
		s.used++
	}
	return v, ok, nil
}

// judge places the statistic; first is the value at which a stretch begins that begins now.
func (s *stream) judge(stat float64, b Band, first int) {
	side := NoDirection
	switch {
	case stat > b.Target:
		side = Upward
	case stat < b.Target:
		side = Downward
	}
	if side != s.side {
		s.side, s.since = side, first
	}
	s.last.Defined, s.last.Statistic, s.last.Low, s.last.High, s.last.Alarm, s.last.Since = true, stat, b.Low, b.High, NoDirection, 0
	if stat > b.High || stat < b.Low {
		s.last.Alarm, s.last.Since = side, s.since
	}
}

// moving is a moving mean or median over a block of values.
type moving struct {
	stream
	band   Band
	median bool
	ring   []float64 // the block in the order of arrival
	sorted []float64
	places []int // of the values of the block
}

// NewMovingMean watches the mean of the last block values that count, defined from the block-th of them on.
func NewMovingMean(block int, o Outside, b Band) (Detector, error) {
	return newMoving(block, o, b, false)
}

// NewMovingMedian watches the median of the last block values that count; of an even block it is the mean of the middle two.
func NewMovingMedian(block int, o Outside, b Band) (Detector, error) {
	return newMoving(block, o, b, true)
}

const mostBlock = 100_000

func newMoving(block int, o Outside, b Band, median bool) (Detector, error) {
	if block < 1 || block > mostBlock {
		return nil, driftFault(fmt.Sprintf("A block of %d values is not between 1 and %d.", block, mostBlock))
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	if err := b.check(); err != nil {
		return nil, err
	}
	return &moving{stream: stream{outside: o}, band: b, median: median, ring: make([]float64, block), places: make([]int, block)}, nil
}

func (m *moving) Add(x float64) (Step, error) {
	v, ok, err := m.take(x)
	if err != nil || !ok {
		return m.last, err
	}
	block := len(m.ring)
	slot := (m.used - 1) % block
	if m.median {
		if m.used > block {
			m.sorted = slices.Delete(m.sorted, sort.SearchFloat64s(m.sorted, m.ring[slot]), sort.SearchFloat64s(m.sorted, m.ring[slot])+1)
		}
		m.sorted = slices.Insert(m.sorted, sort.SearchFloat64s(m.sorted, v), v)
	}
	m.ring[slot], m.places[slot] = v, m.last.Index
	if m.used < block {
		return m.last, nil
	}
	stat := 0.0
	if m.median {
		stat = (m.sorted[(block-1)/2] + m.sorted[block/2]) / 2
	} else {
		stat = mean(m.ring)
	}
	first := m.last.Index
	if m.used == block {
		first = m.places[0]
	}
	m.judge(stat, m.band, first)
	return m.last, nil
}

// EWMASettings is an exponentially weighted moving average of values with a known mean and SD in control. See EWMAChart for its
// limits and its run lengths.
type EWMASettings struct {
	Chart  EWMAChart
	Target float64 // mean in control, from which the average starts too
	SD     float64 // of the values in control
}

type ewma struct {
	stream
	set EWMASettings
	z   float64
}

// NewEWMA watches z = lambda x + (1-lambda) z, started at the target.
func NewEWMA(s EWMASettings, o Outside) (Detector, error) {
	if err := s.Chart.check(0); err != nil {
		return nil, err
	}
	if err := (Target{Mean: s.Target, SD: s.SD}).check(); err != nil {
		return nil, err
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	return &ewma{stream: stream{outside: o}, set: s, z: s.Target}, nil
}

func (e *ewma) Add(x float64) (Step, error) {
	v, ok, err := e.take(x)
	if err != nil || !ok {
		return e.last, err
	}
	e.z = float64(e.set.Chart.Lambda*v) + float64((1-e.set.Chart.Lambda)*e.z)
	w := float64(e.set.SD * e.set.Chart.width(e.used))
	e.judge(e.z, Band{e.set.Target, e.set.Target - w, e.set.Target + w}, e.last.Index)
	return e.last, nil
}

// CusumSettings is a tabular CUSUM of values with a known mean and SD in control; K and H of the chart are in SD. See CusumChart for its
// run lengths.
type CusumSettings struct {
	Chart  CusumChart // TwoSided false watches the upper side alone
	Target float64
	SD     float64
}

type cusum struct {
	stream
	set            CusumSettings
	up, down       float64
	upFrom, dnFrom int // first value since the sum was last 0
}

// NewCusum watches C+ = max(0, C+ + z - K) and, with two sides, C- = max(0, C- - z - K), z = (x - Target)/SD. When both alarm, which a jump
// can bring about, the larger one is named, and of two alike the one that the newest value raised. Since is the first value after the sum was last 0, the usual estimate of when the
// change came.
func NewCusum(s CusumSettings, o Outside) (Detector, error) {
	if err := s.Chart.check(0); err != nil {
		return nil, err
	}
	if err := (Target{Mean: s.Target, SD: s.SD}).check(); err != nil {
		return nil, err
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	return &cusum{stream: stream{outside: o}, set: s}, nil
}

func (c *cusum) Add(x float64) (Step, error) {
	v, ok, err := c.take(x)
	if err != nil || !ok {
		return c.last, err
	}
	z, k, h := (v-c.set.Target)/c.set.SD, c.set.Chart.K, c.set.Chart.H
	if c.up == 0 {
		c.upFrom = c.last.Index
	}
	if c.down == 0 {
		c.dnFrom = c.last.Index
	}
	c.up = math.Max(0, c.up+z-k)
	if c.set.Chart.TwoSided {
		c.down = math.Max(0, c.down-z-k)
	}
	c.last.Defined, c.last.Statistic, c.last.Lower, c.last.High = true, c.up, c.down, h
	before := c.last.Alarm
	c.last.Alarm, c.last.Since = NoDirection, 0
	switch up := c.up > c.down || c.up == c.down && (z > 0 || z == 0 && before == Upward); {
	case c.up > h && up:
		c.last.Alarm, c.last.Since = Upward, c.upFrom
	case c.down > h:
		c.last.Alarm, c.last.Since = Downward, c.dnFrom
	}
	return c.last, nil
}

// Bank keeps a detector for each name, such as a meter of an event or a strip lot: each sees its own values alone.
type Bank struct {
	make func() (Detector, error)
	by   map[string]Detector
}

// NewBank keeps detectors that are all made the same way.
func NewBank(make func() (Detector, error)) *Bank {
	return &Bank{make: make, by: map[string]Detector{}}
}

// Add sends a value to the detector of a name; Step.Index and Step.Since count the values of that name.
func (b *Bank) Add(name string, x float64) (Step, error) {
	if b.by[name] == nil {
		d, err := b.make()
		if err != nil {
			return Step{}, err
		}
		b.by[name] = d
	}
	return b.by[name].Add(x)
}

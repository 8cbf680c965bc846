package control

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Summary describes a list of values.
type Summary struct {
	N      int
	Mean   float64
	Spread *Spread // nil below two values
}

// Spread is how far values scatter. CV is 100 SD/mean.
type Spread struct {
	SD float64 // with n-1
	CV float64 // percent; 0 when the mean is 0
}

// Summarise gives number, mean, SD (n-1) and CV of values in one unit. An empty list, NaN and infinity are a *fault.Fault; with one
// value there is a mean and no spread.
func Summarise(values []float64) (Summary, error) {
	if len(values) == 0 {
		return Summary{}, fault.New(fault.Invalid, "values-none", "There is no value to describe.", "", "Give at least one value.")
	}
	if err := finite(values); err != nil {
		return Summary{}, err
	}
	s := Summary{N: len(values), Mean: mean(values)}
	if s.N > 1 {
		s.Spread = &Spread{SD: math.Sqrt(squares(values, s.Mean) / float64(s.N-1))}
		if s.Mean != 0 {
			s.Spread.CV = 100 * s.Spread.SD / math.Abs(s.Mean)
		}
	}
	return s, nil
}

// finite refuses the first value that is not a number.
func finite(values []float64) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fault.New(fault.Invalid, "value-not-a-number", fmt.Sprintf("Value %d is not a number.", i+1), "Nothing can be computed with it.", "Correct it or leave it out.")
		}
	}
	return nil
}

// mean takes the values' deviations from the first, so that a large level does not eat small differences.
func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v - values[0]
	}
	return values[0] + sum/float64(len(values))
}

// squares is the sum of squared deviations from a centre.
func squares(values []float64, centre float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += float64((v - centre) * (v - centre))
	}
	return sum
}

// Basis is where a mean and SD come from.
type Basis string

// The bases.
const (
	AssignedBasis Basis = "assigned" // typed in: a target of the lot
	RangeBasis    Basis = "range"    // read out of the printed range, with an assumption
	OwnBasis      Basis = "own"      // the meter's own first runs
)

// Target is the mean and SD that z is counted from.
type Target struct {
	Mean  float64
	SD    float64
	Basis Basis
	Note  string // what was assumed, in one sentence; empty for an assigned target
}

// Assigned makes a target of a typed mean and SD. NaN, infinity and an SD that is not above 0 are a *fault.Fault.
func Assigned(mean, sd float64) (Target, error) {
	t := Target{Mean: mean, SD: sd, Basis: AssignedBasis}
	return t, t.check()
}

func (t Target) check() error {
	switch {
	case math.IsNaN(t.Mean) || math.IsInf(t.Mean, 0):
		return fault.New(fault.Invalid, "mean-not-a-number", "The assigned mean is not a number.", "z is counted from it.", "Give the mean of the control material.")
	case !(t.SD > 0) || math.IsInf(t.SD, 0):
		return fault.New(fault.Invalid, "sd-not-positive", "The SD of the control must be above 0.", "z is counted in SD.", "Give an SD from at least 20 runs.")
	}
	return nil
}

// Z is (value - mean)/SD, rounded to nine decimals so that a value typed in decimals that lies on a limit is on it. A value that is
// NaN or infinite, and a target without a usable SD, are a *fault.Fault.
func (t Target) Z(value float64) (float64, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	z := (value - t.Mean) / t.SD
	if math.IsNaN(z) || math.IsInf(z, 0) {
		return 0, fault.New(fault.Invalid, "z-not-a-number", "The control value is not a number.", "The rules cannot judge it.", "Check the value, the assigned mean and the SD.")
	}
	return tidy(z), nil
}

// tidy rounds to nine decimals, so that a value typed in decimals that lies on a limit is on it and not 1e-16 beyond.
func tidy(z float64) float64 {
	if math.Abs(z) > 1e6 {
		return z
	}
	return math.Round(float64(z*1e9)) / 1e9
}

// The counts that targets rest on.
const (
	OwnRuns  = 20  // runs before a meter's own mean and SD are used (common practice)
	RangeSDs = 2.0 // a printed range as mean +- so many SD (common practice, from memory; some makers print 3, and few say)
)

// FromRange reads a target out of a printed range: the centre as the mean, and half the width as sds SD. No label says how many
// SD its range spans, so the assumption is stated in the note; such an SD also covers the differences between meters and is
// usually wider than one meter's own. A missing or reversed range, different units, an empty range and sds not above 0 are a *fault.Fault.
func FromRange(low, high glucose.Value, sds float64) (Target, error) {
	order, err := glucose.Compare(low, high)
	if err != nil {
		return Target{}, err
	}
	if order >= 0 {
		return Target{}, fault.New(fault.Invalid, "range-reversed", fmt.Sprintf("The range %s to %s has no width.", low, high),
			"No SD can be read out of it.", "Copy the range from the strip vial again.")
	}
	if !(sds > 0) || math.IsInf(sds, 0) {
		return Target{}, fault.New(fault.Invalid, "range-sds-unusable", "A range must be taken as more than 0 SD on each side.", "", "Give 2 or 3.")
	}
	return Target{
		Mean: centre(low, high), SD: float64(high.Steps-low.Steps) / 2 / sds / steps(low.Unit), Basis: RangeBasis,
		Note: fmt.Sprintf("The centre of the printed range is taken as the mean and the range as mean ± %g SD (common practice; the label does not say).", sds),
	}, nil
}

// steps is how many steps of a meter make one unit.
func steps(u glucose.Unit) float64 {
	if u == glucose.MmolPerL {
		return 10
	}
	return 1
}

func centre(low, high glucose.Value) float64 {
	return float64(low.Steps+high.Steps) / 2 / steps(low.Unit)
}

// LotLevel names a series: one meter, one strip lot, one level.
type LotLevel struct {
	Meter string
	Lot   string
	Level string
}

// Split parts runs by meter, strip lot and level, each in the order of time; the names come in the order of the alphabet.
func Split(runs []Run) ([]LotLevel, map[LotLevel][]Run) {
	parts := map[LotLevel][]Run{}
	var names []LotLevel
	for _, r := range runs {
		k := LotLevel{r.Meter, r.Lot, r.Level}
		if parts[k] == nil {
			names = append(names, k)
		}
		parts[k] = append(parts[k], r)
	}
	for _, part := range parts {
		sort.SliceStable(part, func(i, j int) bool { return part[i].At.Before(part[j].At) })
	}
	slices.SortFunc(names, func(a, b LotLevel) int {
		return slices.Compare([]string{a.Meter, a.Lot, a.Level}, []string{b.Meter, b.Lot, b.Level})
	})
	return names, parts
}

// Series is what the controls of one meter, lot and level amount to.
type Series struct {
	LotLevel
	Unit        glucose.Unit
	Summary             // of the numbers shown; LO, HI and error codes are not numbers
	NoValue     int     // runs that showed LO, HI or an error code
	OutOfRange  int     // numbers outside the printed range
	Printed     *Target // read out of the printed range; nil when none was written down, and then the next three are 0
	Centre      float64 // of the printed range
	Bias        float64 // mean - centre
	BiasPercent float64 // 100 bias/centre
	Own         *Target // the meter's own first 20 runs without an assigned cause; nil with fewer, or when those never differ
	Points      []SeriesPoint
}

// SeriesPoint is one control run of a series. Value is meant only when HasValue.
type SeriesPoint struct {
	Run      Run
	Verdict  Verdict // empty for a number without a printed range
	HasValue bool
	Value    float64
}

// Describe makes the series of the runs of one meter, lot and level, which it puts in the order of time. rangeSDs is how many SD
// the printed range is taken to span on each side (RangeSDs). Runs without a range are described too, but get no verdict. Every number counts in the mean and SD, also one out of range; the own
// target leaves out runs with an assigned cause, which are known not to be of the material's making. No run, runs of several
// series, two units, two different printed ranges, or no number at all are a *fault.Fault.
func Describe(runs []Run, rangeSDs float64) (Series, error) {
	names, parts := Split(runs)
	if len(names) != 1 {
		return Series{}, fault.New(fault.Invalid, "series-not-one", fmt.Sprintf("These controls belong to %d series.", len(names)),
			"A series is one meter, one strip lot and one level.", "Describe each series by itself.")
	}
	s := Series{LotLevel: names[0]}
	var values, own []float64
	first := parts[names[0]][0]
	for _, r := range parts[names[0]] {
		if r.Low != first.Low || r.High != first.High {
			return Series{}, fault.New(fault.Invalid, "range-differs", fmt.Sprintf("Level %s of lot %s has two printed ranges: %s to %s and %s to %s.", r.Level, r.Lot, first.Low.Number(), first.High, r.Low.Number(), r.High),
				"A strip lot has one range for each level.", "Correct the range that was copied wrongly.")
		}
		v, err := s.judge(r, first)
		if err != nil {
			return Series{}, err
		}
		p := SeriesPoint{Run: r, Verdict: v, HasValue: v != NoValue}
		switch {
		case v == NoValue:
			s.NoValue++
		case v == OutOfRange:
			s.OutOfRange++
		}
		if p.HasValue {
			p.Value = r.Reading.Value.Float()
			values = append(values, p.Value)
			if r.Cause == "" && len(own) < OwnRuns {
				own = append(own, p.Value)
			}
		}
		s.Points = append(s.Points, p)
	}
	if len(values) == 0 {
		return Series{}, fault.New(fault.Invalid, "values-none", fmt.Sprintf("No control of level %s on %s showed a number.", s.Level, s.Meter), "", "Run the control again.")
	}
	var err error
	if s.Summary, err = Summarise(values); err != nil {
		return Series{}, err
	}
	s.Unit, s.Own = first.Reading.Unit, ownTarget(own)
	if hasRange(first) {
		printed, err := FromRange(first.Low, first.High, rangeSDs)
		if err != nil {
			return Series{}, err
		}
		s.Printed, s.Centre = &printed, printed.Mean
		s.Bias, s.BiasPercent = s.BiasFrom(printed.Mean)
	}
	return s, nil
}

// BiasFrom gives mean - centre, and that in percent of the centre (0 when the centre is 0).
func (s Series) BiasFrom(centre float64) (bias, percent float64) {
	bias = s.Mean - centre
	if centre != 0 {
		percent = 100 * bias / centre
	}
	return bias, percent
}

func hasRange(r Run) bool { return !r.Low.IsZero() || !r.High.IsZero() }

// judge is Judge, and for runs without a printed range only sorts numbers from the rest and looks at the unit.
func (s *Series) judge(r, first Run) (Verdict, error) {
	if hasRange(r) {
		return Judge(r.Reading, r.Low, r.High)
	}
	if r.Reading.Unit != first.Reading.Unit {
		return "", fault.New(fault.Invalid, "units-differ", fmt.Sprintf("Level %s of lot %s was shown in %s and in %s.", s.Level, s.Lot, first.Reading.Unit, r.Reading.Unit),
			"Values of two units make no series.", "Check the meter's unit.")
	}
	switch r.Reading.Kind {
	case glucose.Numeric:
		return "", nil
	case glucose.Low, glucose.High, glucose.Error:
		return NoValue, nil
	}
	return "", fault.New(fault.Invalid, "reading-empty", "The control run has no reading.", "Nothing can be judged.", "Run the control again.")
}

func ownTarget(values []float64) *Target {
	if len(values) < OwnRuns {
		return nil
	}
	s, err := Summarise(values)
	if err != nil || s.Spread.SD == 0 {
		return nil
	}
	return &Target{Mean: s.Mean, SD: s.Spread.SD, Basis: OwnBasis, Note: fmt.Sprintf("Mean and SD are of the first %d runs of this meter.", OwnRuns)}
}

// LJPoint is a point of a Levey-Jennings chart. Index is its place in Series.Points.
type LJPoint struct {
	Index int
	At    time.Time
	Value float64
	Z     float64
}

// LeveyJennings gives the numbers of a series as z from a target, in the order of time; runs without a number have no point.
func LeveyJennings(s Series, t Target) ([]LJPoint, error) {
	var out []LJPoint
	for i, p := range s.Points {
		if !p.HasValue {
			continue
		}
		z, err := t.Z(p.Value)
		if err != nil {
			return nil, err
		}
		out = append(out, LJPoint{i, p.Run.At, p.Value, z})
	}
	return out, nil
}

// Session is the control values of one meter that belong together as a run for the rules.
type Session struct {
	At     time.Time // of the first of them
	Points []Point
	Index  []int // of each point in the chart of its level
}

// Together makes runs of the charts of up to three levels of one meter and lot: a new run begins when a level comes again, or when
// more than the given time has passed since the run's first value. Charts are in the order of levels; values at the same moment
// are taken in that order.
func Together(within time.Duration, charts ...[]LJPoint) []Session {
	type entry struct {
		level, index int
		p            LJPoint
	}
	var all []entry
	for level, chart := range charts {
		for i, p := range chart {
			all = append(all, entry{level, i, p})
		}
	}
	slices.SortStableFunc(all, func(a, b entry) int { return a.p.At.Compare(b.p.At) })
	var out []Session
	for _, e := range all {
		last := len(out) - 1
		if last < 0 || e.p.At.Sub(out[last].At) > within ||
			slices.ContainsFunc(out[last].Points, func(p Point) bool { return p.Level == e.level }) {
			out = append(out, Session{At: e.p.At})
			last++
		}
		out[last].Points = append(out[last].Points, Point{e.level, e.p.Z})
		out[last].Index = append(out[last].Index, e.index)
	}
	return out
}

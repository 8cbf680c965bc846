package exchange

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/fault"
)

// ControlReport is what fairstick controls --json writes.
type ControlReport struct {
	Series []ControlSeries `json:"series"`
	Runs   []ControlRun    `json:"runs"`
	Rules  []ControlRules  `json:"rules"`
	Notes  []string        `json:"notes"`
}

// ControlSeries is one meter with one strip lot at one level. SD and CV are null with one value.
type ControlSeries struct {
	Meter      string         `json:"meter"`
	Lot        string         `json:"lot"`
	Level      string         `json:"level"`
	N          int            `json:"n"`
	Mean       float64        `json:"mean"`
	SD         *float64       `json:"sd"`
	CV         *float64       `json:"cv"` // percent
	Target     TargetJSON     `json:"target"`
	Bias       float64        `json:"bias"`         // mean minus the target's mean
	BiasPct    *float64       `json:"bias_percent"` // null at a mean of 0
	OutOfRange int            `json:"out_of_range"`
	Points     []ControlPoint `json:"points"`
}

// TargetJSON is what z is counted from.
type TargetJSON struct {
	Mean float64       `json:"mean"`
	SD   float64       `json:"sd"`
	From control.Basis `json:"from"`
	Low  *float64      `json:"low"` // printed range; null without one
	High *float64      `json:"high"`
}

// ControlPoint is one value; Rules are those that its run breaks with it.
type ControlPoint struct {
	Date    string             `json:"date"`
	Value   float64            `json:"value"`
	Z       float64            `json:"z"`
	InRange bool               `json:"in_range"`
	Rules   []control.RuleName `json:"rules"`

	at  time.Time
	day string
	run string
}

// ControlRun is one run of a meter with a strip lot: a value of each level.
type ControlRun struct {
	Date    string             `json:"date"`
	Run     string             `json:"run,omitempty"`
	Meter   string             `json:"meter"`
	Lot     string             `json:"lot"`
	Verdict control.Decision   `json:"verdict"`
	Rules   []control.RuleName `json:"rules"`
	Breaks  []ControlBreak     `json:"breaks"`
}

// ControlBreak is one rule that a run breaks, with the points that break it, oldest first.
type ControlBreak struct {
	Rule   control.RuleName `json:"rule"`
	Scope  control.Scope    `json:"scope"`
	Points []BreakPoint     `json:"points"`
}

// BreakPoint is a point by its run and level.
type BreakPoint struct {
	Date  string  `json:"date"`
	Level string  `json:"level"`
	Value float64 `json:"value"`
	Z     float64 `json:"z"`
}

// ControlRules are the rules that were looked at, for meters with that many levels.
type ControlRules struct {
	Levels int                `json:"levels"`
	Warn   []control.RuleName `json:"warn"`
	Reject []control.RuleName `json:"reject"`
	R4s    string             `json:"r4s"` // both or range
	Gate   bool               `json:"gate"`
}

// ControlOptions choose the rules.
type ControlOptions struct {
	Rules     []control.RuleName // none: those that are usual for the number of levels; 1-2s warns, the others reject
	RangeForm bool               // R-4s as max z - min z > 4
	Gate      bool               // look at the other rules only when a value passed 2 SD
}

// JudgeControls gives every series and judges every run by the rules. Values are put in the order of time. z is counted from
// the assigned mean and SD, or else from the printed range read as mean ± control.RangeSDs SD; a value is in range by the
// printed range, or else within 2 SD, and Notes say so. Values of one meter and lot on one day make runs: the first value of
// each level is one run, the second the next, unless the file names the run. More than three levels, a level twice in a named
// run, and rules that do not exist are a *fault.Fault.
func JudgeControls(v ControlValues, o ControlOptions) (ControlReport, error) {
	out := ControlReport{Series: []ControlSeries{}, Runs: []ControlRun{}, Rules: []ControlRules{}, Notes: append([]string{}, v.Notes...)}
	values := slices.Clone(v.Values)
	sort.SliceStable(values, func(i, j int) bool { return values[i].At.Before(values[j].At) })
	groups := map[[2]string][]ControlValue{}
	for _, c := range values {
		name := [2]string{c.Meter, c.Lot}
		groups[name] = append(groups[name], c)
	}
	names := make([][2]string, 0, len(groups))
	for name := range groups {
		names = append(names, name)
	}
	slices.SortFunc(names, func(a, b [2]string) int {
		if c := compareNames(a[0], b[0]); c != 0 {
			return c
		}
		return compareNames(a[1], b[1])
	})
	fromRange, noRange, single, few := false, false, false, false
	for _, name := range names {
		g, err := groupOf(groups[name])
		if err != nil {
			return ControlReport{}, err
		}
		if err := g.judge(&out, o); err != nil {
			return ControlReport{}, err
		}
		for _, s := range g.series {
			fromRange = fromRange || s.Target.From == control.RangeBasis
			noRange = noRange || s.Target.Low == nil
			single = single || s.N == 1
			few = few || s.N < control.OwnRuns
		}
		out.Series = append(out.Series, g.series...)
	}
	if fromRange {
		out.Notes = append(out.Notes, fmt.Sprintf("z is counted from the printed range, read as mean ± %g SD; few labels say how many SD a range spans.", control.RangeSDs))
	}
	if noRange {
		out.Notes = append(out.Notes, "Where no range is printed, in range means within 2 SD of the assigned mean.")
	}
	if single {
		out.Notes = append(out.Notes, "A series of one value has no SD and no CV.")
	}
	if few {
		out.Notes = append(out.Notes, fmt.Sprintf("Mean and SD of fewer than %d values are rough.", control.OwnRuns))
	}
	sort.SliceStable(out.Rules, func(i, j int) bool { return out.Rules[i].Levels < out.Rules[j].Levels })
	return out, nil
}

// controlGroup is a meter with a lot: its levels, each with its series.
type controlGroup struct {
	meter, lot string
	series     []ControlSeries
}

// groupOf parts the values of a meter and lot by level.
func groupOf(values []ControlValue) (controlGroup, error) {
	g := controlGroup{meter: values[0].Meter, lot: values[0].Lot}
	byLevel := map[string][]ControlValue{}
	var levels []string
	for _, v := range values {
		if byLevel[v.Level] == nil {
			levels = append(levels, v.Level)
		}
		byLevel[v.Level] = append(byLevel[v.Level], v)
	}
	slices.SortFunc(levels, compareNames)
	if len(levels) > control.MaxLevels {
		return g, fault.New(fault.Invalid, "levels-many", fmt.Sprintf("Meter %s with lot %s has %d levels: %s.", clip(g.meter), clip(g.lot), len(levels), clip(strings.Join(levels, ", "))),
			fmt.Sprintf("A control run has at most %d.", control.MaxLevels), "Check the column level; a level has one name.")
	}
	for _, level := range levels {
		s, err := seriesOf(byLevel[level])
		if err != nil {
			return g, err
		}
		g.series = append(g.series, s)
	}
	return g, nil
}

func seriesOf(values []ControlValue) (ControlSeries, error) {
	f := values[0]
	s := ControlSeries{Meter: f.Meter, Lot: f.Lot, Level: f.Level, Points: make([]ControlPoint, 0, len(values))}
	var target control.Target
	var err error
	if f.Target != nil {
		target, err = control.Assigned(f.Target[0], f.Target[1])
		s.Target.From = control.AssignedBasis
	} else {
		target, err = control.Assigned((f.Range[0]+f.Range[1])/2, (f.Range[1]-f.Range[0])/(2*control.RangeSDs))
		s.Target.From = control.RangeBasis
	}
	if err != nil {
		return s, err
	}
	s.Target.Mean, s.Target.SD = target.Mean, target.SD
	if f.Range != nil {
		low, high := f.Range[0], f.Range[1]
		s.Target.Low, s.Target.High = &low, &high
	}
	numbers := make([]float64, 0, len(values))
	for _, v := range values {
		z, err := target.Z(v.Value)
		if err != nil {
			return s, err
		}
		p := ControlPoint{Date: v.Date, Value: v.Value, Z: z, InRange: z >= -2 && z <= 2, Rules: []control.RuleName{}, at: v.At, day: v.At.Format(time.DateOnly), run: v.Run}
		if v.Range != nil {
			p.InRange = v.Value >= v.Range[0] && v.Value <= v.Range[1]
		}
		if !p.InRange {
			s.OutOfRange++
		}
		s.Points = append(s.Points, p)
		numbers = append(numbers, v.Value)
	}
	sum, err := control.Summarise(numbers)
	if err != nil {
		return s, err
	}
	s.N, s.Mean, s.Bias = sum.N, sum.Mean, sum.Mean-target.Mean
	if sum.Spread != nil {
		s.SD, s.CV = &sum.Spread.SD, &sum.Spread.CV
	}
	if target.Mean != 0 {
		pct := 100 * s.Bias / target.Mean
		s.BiasPct = &pct
	}
	return s, nil
}

// gathered is a run while its values are gathered: the point of each level, or -1.
type gathered struct {
	at     time.Time
	points [control.MaxLevels]int
}

// gather makes runs of the points: on one day the k-th value of each level is run k, unless the file names the run.
func (g controlGroup) gather() ([]gathered, error) {
	type key struct {
		day, run string
		k        int
	}
	places := map[key]int{}
	var runs []gathered
	for level, s := range g.series {
		counts := map[[2]string]int{}
		for i, p := range s.Points {
			name := [2]string{p.day, p.run}
			k := key{p.day, p.run, counts[name]}
			if k.k > 0 && p.run != "" {
				return nil, fault.New(fault.Invalid, "level-twice", fmt.Sprintf("Meter %s has level %s twice in run %s of %s.", clip(g.meter), clip(s.Level), clip(p.run), p.day), "",
					"Give each run of a day its own name in the column run, or leave the column out.")
			}
			counts[name]++
			place, seen := places[k]
			if !seen {
				place = len(runs)
				places[k] = place
				runs = append(runs, gathered{at: p.at, points: [control.MaxLevels]int{-1, -1, -1}})
			}
			runs[place].points[level] = i
			if p.at.Before(runs[place].at) {
				runs[place].at = p.at
			}
		}
	}
	sort.SliceStable(runs, func(i, j int) bool { return runs[i].at.Before(runs[j].at) })
	return runs, nil
}

// judge applies the rules to the runs and writes what they break into points and report.
func (g controlGroup) judge(out *ControlReport, o ControlOptions) error {
	rules := rulesOf(len(g.series), o)
	engine, err := control.NewMultirule(rules)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(out.Rules, func(r ControlRules) bool { return r.Levels == rules.Levels }) {
		r := ControlRules{Levels: rules.Levels, Warn: append([]control.RuleName{}, rules.Warn...), Reject: append([]control.RuleName{}, rules.Reject...), R4s: "both", Gate: o.Gate}
		if o.RangeForm {
			r.R4s = "range"
		}
		out.Rules = append(out.Rules, r)
	}
	runs, err := g.gather()
	if err != nil {
		return err
	}
	for i, r := range runs {
		var points []control.Point
		run := ControlRun{Meter: g.meter, Lot: g.lot, Rules: []control.RuleName{}, Breaks: []ControlBreak{}}
		for level, place := range r.points {
			if place < 0 {
				continue
			}
			p := g.series[level].Points[place]
			points = append(points, control.Point{Level: level, Z: p.Z})
			if run.Date == "" || p.at.Equal(r.at) {
				run.Date, run.Run = p.Date, p.run
			}
		}
		result, err := engine.Add(points)
		if err != nil {
			return err
		}
		run.Verdict = result.Decision
		for _, b := range result.Breaks {
			if !slices.Contains(run.Rules, b.Rule) {
				run.Rules = append(run.Rules, b.Rule)
			}
			broken := ControlBreak{Rule: b.Rule, Scope: b.Scope}
			for _, at := range b.Points {
				s := &g.series[at.Level]
				p := &s.Points[runs[at.Run].points[at.Level]]
				if at.Run == i && !slices.Contains(p.Rules, b.Rule) {
					p.Rules = append(p.Rules, b.Rule)
				}
				broken.Points = append(broken.Points, BreakPoint{Date: p.Date, Level: s.Level, Value: p.Value, Z: p.Z})
			}
			run.Breaks = append(run.Breaks, broken)
		}
		out.Runs = append(out.Runs, run)
	}
	return nil
}

func rulesOf(levels int, o ControlOptions) control.Rules {
	r := control.UsualRules(levels)
	if len(o.Rules) > 0 {
		r.Warn, r.Reject = nil, nil
		for _, name := range o.Rules {
			if name == control.Rule12s {
				r.Warn = append(r.Warn, name)
			} else {
				r.Reject = append(r.Reject, name)
			}
		}
	}
	r.RangeForm, r.Gate = o.RangeForm, o.Gate
	return r
}

// compareNames puts names in the order of the alphabet, and numbers in that of their size before them.
func compareNames(a, b string) int {
	m, errA := strconv.Atoi(a)
	n, errB := strconv.Atoi(b)
	switch {
	case errA == nil && errB == nil && m != n:
		return m - n
	case errA == nil && errB != nil:
		return -1
	case errA != nil && errB == nil:
		return 1
	}
	return strings.Compare(a, b)
}

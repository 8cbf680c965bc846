package control

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// level1 makes runs of level 1 of meter M3, lot A, an hour apart, with the printed range 90 to 126.
func level1(values ...int) []Run {
	var out []Run
	for i, v := range values {
		out = append(out, Run{
			Meter: "M3", Lot: "A", Level: "1", At: clock("08:00").Add(time.Duration(i) * time.Hour),
			Reading: glucose.Number(glucose.MgDL(v)), Low: glucose.MgDL(90), High: glucose.MgDL(126),
		})
	}
	return out
}

// By hand: 100, 104, 108, 130 have mean 110.5 and squared deviations 110.25 + 42.25 + 6.25 + 380.25 = 539; the centre is 108.
func TestDescribe(t *testing.T) {
	list := level1(100, 104, 108, 130, 0)
	list[4].Reading = glucose.HI(glucose.MgPerDL)
	slices.Reverse(list)
	s := must[Series](t)(Describe(list, RangeSDs))
	if s.N != 4 || s.NoValue != 1 || s.OutOfRange != 1 || len(s.Points) != 5 || s.Unit != glucose.MgPerDL || s.LotLevel != (LotLevel{"M3", "A", "1"}) {
		t.Errorf("%+v", s)
	}
	near(t, "mean", s.Mean, 110.5, 1e-12)
	near(t, "SD", s.Spread.SD, math.Sqrt(539.0/3), 1e-12)
	near(t, "CV", s.Spread.CV, 100*math.Sqrt(539.0/3)/110.5, 1e-12)
	near(t, "centre", s.Centre, 108, 0)
	near(t, "bias", s.Bias, 2.5, 1e-12)
	near(t, "bias in percent", s.BiasPercent, 100*2.5/108, 1e-12)
	near(t, "SD of the range", s.Printed.SD, 9, 0) // half of 36 in two SD
	if s.Printed.Basis != RangeBasis || s.Printed.Note == "" || s.Own != nil {
		t.Errorf("targets %+v, %+v", s.Printed, s.Own)
	}
	want := []Verdict{InRange, InRange, InRange, OutOfRange, NoValue}
	for i, p := range s.Points {
		if p.Verdict != want[i] || p.HasValue != (i < 4) {
			t.Errorf("point %d: %+v", i, p)
		}
	}
	chart := must[[]LJPoint](t)(LeveyJennings(s, *s.Printed))
	var z []float64
	for _, p := range chart {
		z = append(z, p.Z)
	}
	near(t, "first z", z[0], -8.0/9, 1e-9)
	near(t, "last z", z[3], 22.0/9, 1e-9)
	if len(chart) != 4 || chart[3].Index != 3 || chart[3].Value != 130 {
		t.Errorf("%+v", chart)
	}
	three := must[Target](t)(FromRange(glucose.Mmol(50), glucose.Mmol(68), 3))
	near(t, "mean of 5.0 to 6.8", three.Mean, 5.9, 1e-12)
	near(t, "SD of 5.0 to 6.8 as 3 SD", three.SD, 0.3, 1e-12)
	if _, err := LeveyJennings(s, Target{}); !fault.Is(err, "sd-not-positive") {
		t.Errorf("no target: %v", err)
	}
	one := must[Series](t)(Describe(level1(108), RangeSDs))
	if one.N != 1 || one.Spread != nil || one.Mean != 108 {
		t.Errorf("one run has no spread: %+v", one)
	}
}

// The own target rests on the first 20 runs without an assigned cause.
func TestOwnTarget(t *testing.T) {
	var values []int
	for i := range 22 {
		values = append(values, 104+i%3)
	}
	list := level1(values...)
	if s := must[Series](t)(Describe(list[:19], RangeSDs)); s.Own != nil {
		t.Error("19 runs have an own target")
	}
	list[0].Reading, list[0].Cause = glucose.Number(glucose.MgDL(300)), "level 2 was used"
	list[21].Reading = glucose.Number(glucose.MgDL(126)) // the 21st that counts
	s := must[Series](t)(Describe(list, RangeSDs))
	var own []float64
	for _, v := range values[1:21] {
		own = append(own, float64(v))
	}
	want := must[Summary](t)(Summarise(own))
	near(t, "own mean", s.Own.Mean, want.Mean, 1e-12)
	near(t, "own SD", s.Own.SD, want.Spread.SD, 1e-12)
	if s.Own.Basis != OwnBasis || s.Own.Note == "" {
		t.Errorf("%+v", s.Own)
	}
	if s := must[Series](t)(Describe(level1(slices.Repeat([]int{100}, 25)...), RangeSDs)); s.Own != nil || s.Spread.SD != 0 {
		t.Error("values that never differ make a target")
	}
}

func rangeless(list []Run) []Run {
	for i := range list {
		list[i].Low, list[i].High = glucose.Value{}, glucose.Value{}
	}
	return list
}

// Without a printed range there is a mean and a spread, but no verdict and no bias except from a target that is given.
func TestDescribeWithoutRange(t *testing.T) {
	list := rangeless(level1(100, 104, 0))
	list[2].Reading = glucose.LO(glucose.MgPerDL)
	s := must[Series](t)(Describe(list, RangeSDs))
	if s.Printed != nil || s.N != 2 || s.Mean != 102 || s.NoValue != 1 || s.OutOfRange != 0 || s.Unit != glucose.MgPerDL || s.Points[0].Verdict != "" || s.Points[2].Verdict != NoValue {
		t.Errorf("%+v", s)
	}
	if bias, percent := s.BiasFrom(100); bias != 2 || percent != 2 {
		t.Errorf("bias %v, %v %%", bias, percent)
	}
}

func TestDescribeRefuses(t *testing.T) {
	change := func(f func([]Run)) []Run {
		list := level1(100, 101, 102)
		f(list)
		return list
	}
	for _, tt := range []struct {
		name string
		runs []Run
		sds  float64
		key  string
	}{
		{"no run", nil, 2, "series-not-one"},
		{"two lots", change(func(r []Run) { r[1].Lot = "B" }), 2, "series-not-one"},
		{"two levels", change(func(r []Run) { r[1].Level = "2" }), 2, "series-not-one"},
		{"two ranges", change(func(r []Run) { r[2].High = glucose.MgDL(162) }), 2, "range-differs"},
		{"two units", change(func(r []Run) { r[2].Reading = glucose.Number(glucose.Mmol(58)) }), 2, "units-differ"},
		{"half a range", change(func(r []Run) {
			for i := range r {
				r[i].Low = glucose.Value{}
			}
		}), 2, "units-differ"},
		{"one without a range", change(func(r []Run) { r[1].Low, r[1].High = glucose.Value{}, glucose.Value{} }), 2, "range-differs"},
		{"two units without a range", rangeless(change(func(r []Run) { r[2].Reading = glucose.Number(glucose.Mmol(58)) })), 2, "units-differ"},
		{"no reading without a range", rangeless(change(func(r []Run) { r[2].Reading = glucose.Reading{Unit: glucose.MgPerDL} })), 2, "reading-empty"},
		{"no number", change(func(r []Run) {
			for i := range r {
				r[i].Reading = glucose.ErrorCode("E-4", glucose.MgPerDL)
			}
		}), 2, "values-none"},
		{"a range without width", change(func(r []Run) {
			for i := range r {
				r[i].High = r[i].Low
			}
		}), 2, "range-reversed"},
		{"0 SD", level1(100), 0, "range-sds-unusable"},
		{"NaN SD", level1(100), math.NaN(), "range-sds-unusable"},
	} {
		if _, err := Describe(tt.runs, tt.sds); !fault.Is(err, tt.key) {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.key)
		}
	}
	for _, bad := range [][]float64{nil, {1, math.NaN()}, {math.Inf(1)}} {
		if _, err := Summarise(bad); err == nil {
			t.Errorf("%v was described", bad)
		}
	}
}

// From runs to verdicts: two levels of one meter are put together and judged.
func TestTogether(t *testing.T) {
	list := runs(t, "08:10 M3 A v1 1 108", "08:12 M3 A v1 2 296", "08:10 M1 A v1 1 99", "13:00 M3 A v1 2 345", "13:02 M3 A v1 1 128", "13:09 M3 A v1 1 127", "18:00 M3 A v1 2 300")
	names, parts := Split(list)
	if want := []LotLevel{{"M1", "A", "1"}, {"M3", "A", "1"}, {"M3", "A", "2"}}; !slices.Equal(names, want) {
		t.Fatalf("%v", names)
	}
	var charts [][]LJPoint
	for _, n := range names[1:] {
		s := must[Series](t)(Describe(parts[n], RangeSDs))
		charts = append(charts, must[[]LJPoint](t)(LeveyJennings(s, *s.Printed)))
	}
	sessions := Together(time.Hour, charts...)
	var got []string
	var all [][]Point
	for _, s := range sessions {
		got = append(got, fmt.Sprint(s.At.Format("15:04"), s.Points, s.Index))
		all = append(all, s.Points)
	}
	// z of 108, 128, 127 from 108 with SD 9; of 296, 345, 300 from 296 with SD 22.
	want := []string{
		"08:10[{0 0} {1 0}] [0 0]", "13:00[{1 2.227272727} {0 2.222222222}] [1 1]", "13:09[{0 2.111111111}] [2]", "18:00[{1 0.181818182}] [2]",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	results := must[[]RunResult](t)(Multirules(UsualRules(2), all))
	for i, want := range []Decision{Accept, Reject, Reject, Accept} {
		if results[i].Decision != want {
			t.Errorf("run %d: %+v, want %s", i, results[i], want)
		}
	}
	if three := UsualRules(3); !slices.Contains(three.Reject, Rule2of3s) || three.Levels != 3 {
		t.Errorf("%+v", three)
	}
}

// The same controls in steps of another unit scale exactly; the order of runs does not matter.
func TestDescribeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.IntRange(60, 160), 2, 40).Draw(t, "values")
		mg := level1(values...)
		mmol := slices.Clone(mg)
		for i := range mmol { // the same steps, read as tenths
			mmol[i].Reading = glucose.Number(glucose.Mmol(values[i]))
			mmol[i].Low, mmol[i].High = glucose.Mmol(90), glucose.Mmol(126)
		}
		a := must[Series](t)(Describe(mg, RangeSDs))
		b := must[Series](t)(Describe(rapid.Permutation(mmol).Draw(t, "order"), RangeSDs))
		for _, pair := range [][2]float64{{a.Mean, 10 * b.Mean}, {a.Spread.SD, 10 * b.Spread.SD}, {a.Spread.CV, b.Spread.CV}, {a.BiasPercent, b.BiasPercent}} {
			if math.Abs(pair[0]-pair[1]) > 1e-9*(1+math.Abs(pair[0])) {
				t.Fatalf("%v and %v", pair[0], pair[1])
			}
		}
		if a.OutOfRange != b.OutOfRange {
			t.Fatalf("%d and %d out of range", a.OutOfRange, b.OutOfRange)
		}
	})
}

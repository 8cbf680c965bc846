package control

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// label writes a break as the known answers do.
func label(b Break, rangeForm bool) string {
	switch {
	case b.Rule == RuleR4s && rangeForm:
		return "R-4s(range)"
	case b.Rule == RuleR4s || b.Scope == OneValue:
		return string(b.Rule)
	case b.Scope == OneLevel:
		return fmt.Sprintf("%s/level%d", b.Rule, b.Level+1)
	}
	return string(b.Rule) + "/" + string(b.Scope)
}

func points(z ...float64) []Point {
	var out []Point
	for i, v := range z {
		out = append(out, Point{i, v})
	}
	return out
}

// without gives all rules but some.
func without(names ...RuleName) []RuleName {
	return slices.DeleteFunc(RuleNames(), func(n RuleName) bool { return slices.Contains(names, n) })
}

// fired gives the labels of each run, sorted, with both forms of R-4s; only rules that the known answers were computed for.
func fired(t *testing.T, runs [][]Point) [][]string {
	t.Helper()
	both := must[[]RunResult](t)(Multirules(Rules{Levels: 2, Reject: without(Rule9x, Rule12x)}, runs))
	ranged := must[[]RunResult](t)(Multirules(Rules{Levels: 2, Reject: []RuleName{RuleR4s}, RangeForm: true}, runs))
	out := make([][]string, len(runs))
	for i := range runs {
		for _, b := range both[i].Breaks {
			out[i] = append(out[i], label(b, false))
		}
		for _, b := range ranged[i].Breaks {
			out[i] = append(out[i], label(b, true))
		}
		sort.Strings(out[i])
	}
	return out
}

func compareFired(t *testing.T, name string, got [][]string, rows [][2]any) {
	t.Helper()
	want := make([][]string, len(got))
	for _, row := range rows {
		run := int(row[0].(float64)) - 1
		for _, l := range row[1].([]any) {
			want[run] = append(want[run], l.(string))
		}
		sort.Strings(want[run])
	}
	for i := range got {
		if !slices.Equal(got[i], want[i]) {
			t.Errorf("%s run %d broke %v, want %v", name, i+1, got[i], want[i])
		}
	}
}

func TestMultiruleKnownSeries(t *testing.T) {
	for _, name := range []string{"in_control", "on_limits", "shift_both_1_5", "trend_0_35"} {
		var f struct {
			Inputs   struct{ Z [][]float64 }
			Expected struct {
				Rules [][2]any `json:"rules_by_run"`
			}
		}
		known(t, "westgard_z_"+name, &f)
		var runs [][]Point
		for _, z := range f.Inputs.Z {
			runs = append(runs, points(z...))
		}
		if len(f.Expected.Rules) == 0 {
			t.Fatal("no known answers")
		}
		compareFired(t, name, fired(t, runs), f.Expected.Rules)
	}
}

// The published series of 28 days: J O Westgard, "QC: Levey-Jennings: Answers" (cholesterol 200/4 and 250/5).
func TestMultirulePublishedDays(t *testing.T) {
	type control struct {
		Mean, SD float64
		Values   []float64
	}
	var f struct {
		Inputs   struct{ Control1, Control2 control }
		Expected struct {
			Published struct {
				Verdicts map[string]string `json:"verdict_by_day"`
			}
			Computed struct {
				Rules [][2]any `json:"rules_by_day"`
			}
			LJ map[string]struct {
				Mean, SD float64
				CV       float64 `json:"cv_pct"`
			} `json:"levey_jennings_first_20"`
		}
	}
	known(t, "westgard_published_two_level_28_days", &f)
	runs := make([][]Point, 28)
	for level, c := range []control{f.Inputs.Control1, f.Inputs.Control2} {
		target := must[Target](t)(Assigned(c.Mean, c.SD))
		for day, v := range c.Values {
			runs[day] = append(runs[day], Point{level, must[float64](t)(target.Z(v))})
		}
		s := must[Summary](t)(Summarise(c.Values[:20]))
		want := f.Expected.LJ[fmt.Sprintf("control%d", level+1)]
		near(t, "mean of the first 20", s.Mean, want.Mean, 1e-9)
		near(t, "SD of the first 20", s.Spread.SD, want.SD, 1e-9)
		near(t, "CV of the first 20", s.Spread.CV, want.CV, 1e-9)
	}
	compareFired(t, "published", fired(t, runs), f.Expected.Computed.Rules)
	for _, gate := range []bool{false, true} { // the lesson's rules give the same verdicts with and without the gate
		lesson := Rules{Levels: 2, Warn: []RuleName{Rule12s}, Reject: []RuleName{Rule13s, Rule22s, RuleR4s}, Gate: gate}
		for day, r := range must[[]RunResult](t)(Multirules(lesson, runs)) {
			want := map[string]Decision{"A": Accept, "W": Warn, "R": Reject}[f.Expected.Published.Verdicts[fmt.Sprint(day+1)]]
			if r.Decision != want {
				t.Errorf("day %d: %s, published %s (gate %v)", day+1, r.Decision, want, gate)
			}
		}
	}
	// Range form: days 5 and 14 break it too (numbers of the same table).
	ranged := Rules{Levels: 2, Reject: []RuleName{RuleR4s}, RangeForm: true}
	var days []int
	for day, r := range must[[]RunResult](t)(Multirules(ranged, runs)) {
		if r.Decision == Reject {
			days = append(days, day+1)
		}
	}
	if !slices.Equal(days, []int{5, 11, 14}) {
		t.Errorf("the range form rejects days %v", days)
	}
}

// What broke, and the options, worked by hand from the definitions.
func TestMultiruleByHand(t *testing.T) {
	all := Rules{Levels: 3, Reject: RuleNames()}
	for _, tt := range []struct {
		name  string
		rules Rules
		runs  [][]Point
		last  string // breaks of the last run with their points
	}{
		{"three levels in one run", all, [][]Point{points(1.2, 1.3, 1.4)}, "3-1s/within-run[{0 0} {0 1} {0 2}] "},
		{"two of three levels", all, [][]Point{points(2.2, 0.3, 2.4)}, "1-2s[{0 0} {0 2}] 2-2s/within-run[{0 0} {0 2}] 2of3-2s/within-run[{0 0} {0 2}] "},
		{"6x over three levels", Rules{Levels: 3, Reject: []RuleName{Rule6x}}, [][]Point{points(-.1, -.2, -.3), points(-.1, -.2, -.3)}, "6x/across-levels[{0 0} {0 1} {0 2} {1 0} {1 1} {1 2}] "},
		{"zero is on neither side", Rules{Levels: 3, Reject: []RuleName{Rule6x}}, [][]Point{points(-.1, -.2, 0), points(-.1, -.2, -.3)}, ""},
		{"R-4s never across runs", Rules{Levels: 2, Reject: []RuleName{RuleR4s}}, [][]Point{points(2.5, 0), points(-2.5, 0)}, ""},
		{"R-4s with the middle level", Rules{Levels: 3, Reject: []RuleName{RuleR4s}}, [][]Point{points(0, 2.5, -2.1)}, "R-4s[{0 1} {0 2}] "},
		{"range of exactly 4", Rules{Levels: 2, Reject: []RuleName{RuleR4s}, RangeForm: true}, [][]Point{points(2.7, -1.3)}, ""},
		{"a missing value does not break its level", Rules{Levels: 2, Reject: []RuleName{Rule22s}}, [][]Point{points(2.5, 0), {{1, 0}}, points(2.5, 0)}, "2-2s/level1[{0 0} {2 0}] "},
		{"a missing value breaks the levels together", Rules{Levels: 2, Reject: []RuleName{Rule41s}}, [][]Point{points(1.5, 1.5), {{1, 1.5}}, points(1.5, 1.5)}, ""},
		{"levels together", Rules{Levels: 2, Reject: []RuleName{Rule41s}}, [][]Point{points(1.5, 1.5), points(1.5, 1.5)}, "4-1s/across-levels[{0 0} {0 1} {1 0} {1 1}] "},
		{"2of3 with the newest inside", Rules{Levels: 1, Reject: []RuleName{Rule2of3s}}, [][]Point{points(2.1), points(2.1), points(0)}, "2of3-2s/level1[{0 0} {1 0}] "},
		{"2of3 asks for three", Rules{Levels: 1, Reject: []RuleName{Rule2of3s}}, [][]Point{points(2.1), points(2.1)}, ""},
		{"2of3, the newest must be outside", Rules{Levels: 1, Reject: []RuleName{Rule2of3s}, NewestOutside: true}, [][]Point{points(2.1), points(2.1), points(0)}, ""},
		{"2of3, the newest is outside", Rules{Levels: 1, Reject: []RuleName{Rule2of3s}, NewestOutside: true}, [][]Point{points(2.1), points(0), points(2.1)}, "2of3-2s/level1[{0 0} {2 0}] "},
		{"2of3 asks for one side", Rules{Levels: 1, Reject: []RuleName{Rule2of3s}}, [][]Point{points(2.1), points(0), points(-2.1)}, ""},
		{"7T is seven points", Rules{Levels: 1, Reject: []RuleName{Rule7T}}, trend(7), "7T/level1[{0 0} {1 0} {2 0} {3 0} {4 0} {5 0} {6 0}] "},
		{"six points are not 7T", Rules{Levels: 1, Reject: []RuleName{Rule7T}}, trend(6), ""},
		{"without the gate", Rules{Levels: 1, Warn: []RuleName{Rule12s}, Reject: []RuleName{Rule31s}}, [][]Point{points(1.5), points(1.5), points(1.5)}, "3-1s/level1[{0 0} {1 0} {2 0}] "},
		{"the gate is shut", Rules{Levels: 1, Warn: []RuleName{Rule12s}, Reject: []RuleName{Rule31s}, Gate: true}, [][]Point{points(1.5), points(1.5), points(1.5)}, ""},
		{"the gate is open", Rules{Levels: 1, Reject: []RuleName{Rule31s}, Gate: true}, [][]Point{points(1.5), points(1.5), points(2.5)}, "3-1s/level1[{0 0} {1 0} {2 0}] "},
		{"no restart", Rules{Levels: 1, Reject: []RuleName{Rule22s}}, [][]Point{points(2.5), points(2.5), points(2.5)}, "2-2s/level1[{1 0} {2 0}] "},
		{"restart", Rules{Levels: 1, Reject: []RuleName{Rule22s}, Restart: true}, [][]Point{points(2.5), points(2.5), points(2.5)}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			results := must[[]RunResult](t)(Multirules(tt.rules, tt.runs))
			got := ""
			for _, b := range results[len(results)-1].Breaks {
				got += fmt.Sprintf("%s%v ", label(b, false), b.Points)
			}
			if got != tt.last {
				t.Errorf("broke %q, want %q", got, tt.last)
			}
		})
	}
}

func trend(n int) [][]Point {
	var out [][]Point
	for i := range n {
		out = append(out, points(float64(i)/10-0.3))
	}
	return out
}

func TestMultiruleRefuses(t *testing.T) {
	for _, tt := range []struct {
		rules Rules
		key   string
	}{
		{Rules{}, "levels-unusable"},
		{Rules{Levels: 4, Reject: []RuleName{Rule13s}}, "levels-unusable"},
		{Rules{Levels: 2}, "rules-none"},
		{Rules{Levels: 2, Reject: []RuleName{"1-4s"}}, "rule-unknown"},
		{Rules{Levels: 2, Warn: []RuleName{Rule12s}, Reject: []RuleName{Rule12s}}, "rule-twice"},
	} {
		if _, err := NewMultirule(tt.rules); !fault.Is(err, tt.key) {
			t.Errorf("%+v: %v, want %s", tt.rules, err, tt.key)
		}
	}
	m := must[*Multirule](t)(NewMultirule(UsualRules(2)))
	for _, tt := range []struct {
		points []Point
		key    string
	}{
		{nil, "run-empty"},
		{[]Point{{2, 0}}, "level-unknown"},
		{[]Point{{-1, 0}}, "level-unknown"},
		{[]Point{{0, 1}, {0, 2}}, "level-twice"},
		{[]Point{{0, math.NaN()}}, "z-not-a-number"},
		{[]Point{{0, 1}, {1, math.Inf(-1)}}, "z-not-a-number"},
	} {
		if r, err := m.Add(tt.points); !fault.Is(err, tt.key) || r.Breaks != nil {
			t.Errorf("%v: %v, want %s", tt.points, err, tt.key)
		}
	}
	if r := must[RunResult](t)(m.Add(points(0, 0))); r.Run != 0 {
		t.Error("a refused run was counted")
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), 0, -4} {
		if _, err := Assigned(200, bad); err == nil {
			t.Errorf("an SD of %v was accepted", bad)
		}
	}
	if _, err := Assigned(math.NaN(), 4); err == nil {
		t.Error("a mean of NaN was accepted")
	}
	target := must[Target](t)(Assigned(5.0, 0.4))
	if z := must[float64](t)(target.Z(5.8)); z != 2 {
		t.Errorf("5.8 is exactly 2 SD of 0.4 above 5.0, not %v", z)
	}
	if _, err := target.Z(math.Inf(1)); err == nil {
		t.Error("an infinite value has a z")
	}
}

// drawn makes runs of some levels, some of them missing, with many ties and many values on a limit.
func drawn(t *rapid.T, levels int) [][]Point {
	value := rapid.Map(rapid.IntRange(-7, 7), func(i int) float64 { return float64(i) / 2 })
	lean := rapid.SampledFrom([]float64{0, 0, 0.5, 1.5, -1.5}).Draw(t, "lean")
	var runs [][]Point
	for range rapid.IntRange(1, 40).Draw(t, "runs") {
		var run []Point
		for l := range levels {
			if rapid.IntRange(0, 9).Draw(t, "there") > 0 {
				run = append(run, Point{l, value.Draw(t, "z") + lean})
			}
		}
		if run == nil {
			run = []Point{{0, lean}}
		}
		runs = append(runs, run)
	}
	return runs
}

// The counts that go along give what whole windows give, looked at anew for every run.
func TestMultiruleMatchesWindows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rules := Rules{
			Levels: rapid.IntRange(1, 3).Draw(t, "levels"), Warn: []RuleName{Rule12s}, Reject: without(Rule12s),
			RangeForm: rapid.Bool().Draw(t, "range"), Gate: rapid.Bool().Draw(t, "gate"), NewestOutside: rapid.Bool().Draw(t, "newest"),
		}
		runs := drawn(t, rules.Levels)
		m := must[*Multirule](t)(NewMultirule(rules))
		for i, run := range runs {
			r := must[RunResult](t)(m.Add(run))
			var got []string
			for _, b := range r.Breaks {
				got = append(got, fmt.Sprint(label(b, false), b.Points))
			}
			sort.Strings(got)
			if want := windows(rules, runs[:i+1]); !slices.Equal(got, want) {
				t.Fatalf("run %d: %v, windows give %v", i, got, want)
			}
		}
	})
}

// Permuting the levels' points within a run changes nothing; mirrored z break the same rules at the same points.
func TestMultiruleSymmetries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rules := Rules{Levels: rapid.IntRange(1, 3).Draw(t, "levels"), Warn: []RuleName{Rule12s}, Reject: without(Rule12s), Restart: rapid.Bool().Draw(t, "restart")}
		runs := drawn(t, rules.Levels)
		var shuffled, mirrored, renamed [][]Point
		for _, run := range runs {
			s := rapid.Permutation(run).Draw(t, "order")
			var mirror, other []Point
			for _, p := range run {
				mirror = append(mirror, Point{p.Level, -p.Z})
				other = append(other, Point{rules.Levels - 1 - p.Level, p.Z})
			}
			shuffled, mirrored, renamed = append(shuffled, s), append(mirrored, mirror), append(renamed, other)
		}
		base := must[[]RunResult](t)(Multirules(rules, runs))
		for name, other := range map[string][][]Point{"shuffled": shuffled, "mirrored": mirrored} {
			if got := must[[]RunResult](t)(Multirules(rules, other)); fmt.Sprint(got) != fmt.Sprint(base) {
				t.Fatalf("%s: %v, want %v", name, got, base)
			}
		}
		for i, r := range must[[]RunResult](t)(Multirules(rules, renamed)) {
			if r.Decision != base[i].Decision || len(r.Breaks) != len(base[i].Breaks) {
				t.Fatalf("run %d with levels exchanged: %v, want %v", i, r, base[i])
			}
		}
	})
}

// A shift upwards of every value never ends a break on the upper side: one-sided rules are monotone.
func TestMultiruleMonotone(t *testing.T) {
	oneSided := Rules{Levels: 2, Reject: []RuleName{Rule22s, Rule31s, Rule41s, Rule6x, Rule8x, Rule9x, Rule10x, Rule12x, Rule2of3s}}
	rapid.Check(t, func(t *rapid.T) {
		runs := drawn(t, 2)
		shift := rapid.Float64Range(0, 3).Draw(t, "shift")
		upper := func(add float64) map[string]bool {
			moved := make([][]Point, len(runs))
			for i, run := range runs {
				for _, p := range run {
					moved[i] = append(moved[i], Point{p.Level, p.Z + add})
				}
			}
			out := map[string]bool{}
			for _, r := range must[[]RunResult](t)(Multirules(oneSided, moved)) {
				for _, b := range r.Breaks {
					for _, p := range moved[b.Points[0].Run] {
						if p.Level == b.Points[0].Level && p.Z > 0 {
							out[fmt.Sprint(r.Run, label(b, false))] = true
						}
					}
				}
			}
			return out
		}
		before, after := upper(0), upper(shift)
		for k := range before {
			if !after[k] {
				t.Fatalf("%s is broken, but not after a shift of +%v", k, shift)
			}
		}
	})
}

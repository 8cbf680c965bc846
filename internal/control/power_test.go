package control

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fairstick/internal/fault"
)

type closedForms struct {
	P12N1 float64 `json:"p_1_2s_N1"`
	P12N2 float64 `json:"p_1_2s_N2"`
	P13N1 float64 `json:"p_1_3s_N1"`
	P13N2 float64 `json:"p_1_3s_N2"`
	P22   float64 `json:"p_2_2s_within_run_N2"`
	R4s   float64 `json:"p_R4s_both_limits_N2"`
	Range float64 `json:"p_R4s_range_N2"`
	A22   float64 `json:"arl_2_2s_one_level"`
	A31   float64 `json:"arl_3_1s_one_level"`
	A41   float64 `json:"arl_4_1s_one_level"`
	A6    float64 `json:"arl_6x_one_level"`
	A8    float64 `json:"arl_8x_one_level"`
	A10   float64 `json:"arl_10x_one_level"`
	A13   float64 `json:"arl_1_3s_one_level"`
}

// Normal theory and absorbing Markov chains, computed elsewhere (see the file).
func TestFalseAlarmsClosedForm(t *testing.T) {
	var f struct{ Expected closedForms }
	known(t, "westgard_false_alarm_closed_form", &f)
	e := f.Expected
	near(t, "1-2s, one level", Beyond(2, 1), e.P12N1, 1e-9)
	near(t, "1-2s, two levels", Beyond(2, 2), e.P12N2, 1e-9)
	near(t, "1-3s, one level", Beyond(3, 1), e.P13N1, 1e-9)
	near(t, "1-3s, two levels", Beyond(3, 2), e.P13N2, 1e-9)
	p22, both, ranged, err := FalseWithinRun(2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "2-2s", p22, e.P22, 1e-9)
	near(t, "R-4s", both, e.R4s, 1e-9)
	near(t, "R-4s as a range", ranged, e.Range, 1e-9)
	for _, tt := range []struct {
		n     int
		limit float64
		want  float64
	}{{2, 2, e.A22}, {3, 1, e.A31}, {4, 1, e.A41}, {6, 0, e.A6}, {8, 0, e.A8}, {10, 0, e.A10}, {1, 3, e.A13}} {
		near(t, fmt.Sprintf("%d beyond %v", tt.n, tt.limit), must[float64](t)(RowARL(tt.n, tt.limit, 0)), tt.want, 1e-9)
	}
	// Values far beyond on every run: the n-th one completes the row.
	near(t, "a very large shift", must[float64](t)(RowARL(4, 1, 50)), 4, 1e-9)
	if !math.IsNaN(Beyond(0, 2)) || Beyond(3, 0) != 0 {
		t.Error("no limit and no value")
	}
}

// The simulation meets the closed forms within four standard errors of its own, with two levels and with three.
func TestSimulatedFalseAlarms(t *testing.T) {
	const trials = 200_000
	for _, levels := range []int{2, 3} {
		p22, both, ranged, err := FalseWithinRun(levels)
		if err != nil {
			t.Fatal(err)
		}
		for _, tt := range []struct {
			rules Rules
			want  float64
		}{
			{Rules{Reject: []RuleName{Rule12s}}, Beyond(2, levels)},
			{Rules{Reject: []RuleName{Rule13s}}, Beyond(3, levels)},
			{Rules{Reject: []RuleName{Rule22s}}, p22},
			{Rules{Reject: []RuleName{RuleR4s}}, both},
			{Rules{Reject: []RuleName{RuleR4s}, RangeForm: true}, ranged},
		} {
			tt.rules.Levels = levels
			p := must[Power](t)(Simulate(PowerSettings{Rules: tt.rules, Inflation: 1, Runs: 1, Trials: trials}, rand.New(rand.NewPCG(1, uint64(levels)))))
			got := p.PerRun[0]
			if math.Abs(got.P-tt.want) > 4*math.Sqrt(tt.want*(1-tt.want)/trials) {
				t.Errorf("%v with %d levels: %v, want %v", tt.rules.Reject, levels, got, tt.want)
			}
			if want := math.Sqrt(got.P * (1 - got.P) / trials); math.Abs(got.SE-want) > 1e-12 {
				t.Errorf("standard error %v, want %v", got.SE, want)
			}
		}
	}
}

// One level, 1-3s, shift d: the chance of rejection in a run is Q(3-d) + Q(3+d); within n runs 1-(1-p)^n. With inflation s it is 2 Q(3/s).
func TestSimulatedPower(t *testing.T) {
	const trials = 50_000
	one := Rules{Levels: 1, Reject: []RuleName{Rule13s}}
	q := func(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }
	for _, tt := range []struct{ shift, inflation, p float64 }{
		{1, 1, q(2) + q(4)}, {-2, 1, q(1) + q(5)}, {0, 2, 2 * q(1.5)},
	} {
		got := must[Power](t)(Simulate(PowerSettings{one, tt.shift, tt.inflation, 0, 3, trials}, rand.New(rand.NewPCG(7, 7))))
		for i := range 3 {
			p := 1 - math.Pow(1-tt.p, float64(i+1))
			if e := got.Within[i]; math.Abs(e.P-p) > 4*math.Sqrt(p*(1-p)/trials) {
				t.Errorf("shift %v inflation %v within %d runs: %v, want %v", tt.shift, tt.inflation, i+1, e, p)
			}
			if e := got.PerRun[i]; math.Abs(e.P-tt.p) > 4*math.Sqrt(tt.p*(1-tt.p)/trials) {
				t.Errorf("shift %v inflation %v run %d: %v, want %v", tt.shift, tt.inflation, i+1, e, tt.p)
			}
		}
	}
	// What is rejected before the error is not counted.
	before := must[Power](t)(Simulate(PowerSettings{one, 1, 1, 40, 1, trials}, rand.New(rand.NewPCG(7, 8))))
	if p := q(2) + q(4); math.Abs(before.Within[0].P-p) > 4*math.Sqrt(p*(1-p)/trials) {
		t.Errorf("after 40 runs in control: %v, want %v", before.Within[0], p)
	}
	// Ten in a row with nine in control before: the first run is rejected with 2^-9 by the values before and after alike.
	ten := PowerSettings{Rules{Levels: 1, Reject: []RuleName{Rule10x}}, 0, 1, 9, 1, trials}
	p := 1.0 / 512
	if got := must[Power](t)(Simulate(ten, rand.New(rand.NewPCG(3, 3)))).PerRun[0]; math.Abs(got.P-p) > 4*math.Sqrt(p/trials) {
		t.Errorf("10x: %v, want %v", got, p)
	}
}

func TestPowerRefuses(t *testing.T) {
	ok := PowerSettings{UsualRules(2), 0, 1, 0, 1, 1}
	for _, change := range []func(*PowerSettings){
		func(s *PowerSettings) { s.Runs = 0 },
		func(s *PowerSettings) { s.Trials = 0 },
		func(s *PowerSettings) { s.Before = -1 },
		func(s *PowerSettings) { s.Inflation = 0 },
		func(s *PowerSettings) { s.Inflation = math.NaN() },
		func(s *PowerSettings) { s.Shift = math.Inf(1) },
		func(s *PowerSettings) { s.Rules.Levels = 0 },
	} {
		s := ok
		change(&s)
		if _, err := Simulate(s, rand.New(rand.NewPCG(1, 1))); err == nil {
			t.Errorf("%+v was simulated", s)
		}
	}
	if _, _, _, err := FalseWithinRun(1); !fault.Is(err, "levels-unusable") {
		t.Errorf("one level: %v", err)
	}
	for _, bad := range []struct {
		n            int
		limit, shift float64
	}{{0, 2, 0}, {2, -1, 0}, {2, math.NaN(), 0}, {2, 2, math.NaN()}} {
		if _, err := RowARL(bad.n, bad.limit, bad.shift); err == nil {
			t.Errorf("%+v has a run length", bad)
		}
	}
}

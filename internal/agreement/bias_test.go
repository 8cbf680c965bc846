package agreement

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

type limitsFixture struct {
	Bias    float64
	SD      float64
	SE      float64    `json:"se_bias"`
	BiasCI  [2]float64 `json:"bias_ci"`
	LoA     [2]float64
	Lower86 [2]float64 `json:"loa_lower_ci_1986"`
	Upper86 [2]float64 `json:"loa_upper_ci_1986"`
	Lower99 [2]float64 `json:"loa_lower_ci_1999"`
	Upper99 [2]float64 `json:"loa_upper_ci_1999"`
	K       float64
}

func (f limitsFixture) check(t *testing.T, pairs []Pair, scale Scale) {
	t.Helper()
	a, err := Bias(pairs, scale, f.K, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", a.Mean, f.Bias, 1e-9)
	near(t, "SD", a.SD, f.SD, 1e-9)
	near(t, "SE", a.SE, f.SE, 1e-9)
	nearInterval(t, "bias", &a.CI, f.BiasCI, 1e-9)
	nearInterval(t, "limits", &a.Limits, f.LoA, 1e-9)
	nearInterval(t, "lower limit 1986", &a.LowerCI86, f.Lower86, 1e-9)
	nearInterval(t, "upper limit 1986", &a.UpperCI86, f.Upper86, 1e-9)
	nearInterval(t, "lower limit 1999", &a.LowerCI, f.Lower99, 1e-9)
	nearInterval(t, "upper limit 1999", &a.UpperCI, f.Upper99, 1e-9)
}

// Peak flow: published in Lancet 1986;i:307-10, where differences are the large meter less the small one; "computed" is the same
// without the paper's rounding.
func TestPeakFlow1986(t *testing.T) {
	var f struct {
		Inputs struct {
			Wright  []float64 `json:"wright_first"`
			Wright2 []float64 `json:"wright_second"`
			Mini    []float64 `json:"mini_first"`
			Mini2   []float64 `json:"mini_second"`
		}
		Expected struct {
			Published struct {
				Bias, SD    float64
				LoA         [2]float64 `json:"loa_2sd"`
				BiasCI      [2]float64 `json:"bias_ci"`
				Lower       [2]float64 `json:"lower_limit_ci"`
				Upper       [2]float64 `json:"upper_limit_ci"`
				Correlation float64
				Wright      float64 `json:"repeatability_coefficient_wright"`
				Mini        float64 `json:"repeatability_coefficient_mini"`
			}
			K2     limitsFixture `json:"computed_k2"`
			K196   limitsFixture `json:"computed_k196"`
			Repeat struct {
				Wright float64 `json:"sd_of_repeat_diff_about_zero_wright"`
				Mini   float64
			} `json:"repeatability"`
		}
	}
	read(t, "ba_pefr_1986", &f)
	pairs := pairsOf(f.Inputs.Mini, f.Inputs.Wright)
	f.Expected.K2.check(t, pairs, Difference)
	f.Expected.K196.check(t, pairs, Difference)

	a, err := Bias(pairs, Difference, 2, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	const printed = 0.2 // the paper rounds on the way: its 110.1 is 75.5 + 34.6
	p := f.Expected.Published
	for _, v := range [][2]float64{
		{a.Mean, p.Bias},
		{a.SD, p.SD},
		{a.Limits.Low, p.LoA[0]},
		{a.Limits.High, p.LoA[1]},
		{a.CI.Low, p.BiasCI[0]},
		{a.CI.High, p.BiasCI[1]},
		{a.LowerCI86.Low, p.Lower[0]},
		{a.LowerCI86.High, p.Lower[1]},
		{a.UpperCI86.Low, p.Upper[0]},
		{a.UpperCI86.High, p.Upper[1]},
	} {
		if math.Abs(v[0]-v[1]) > printed {
			t.Errorf("%v, published %v", v[0], v[1])
		}
	}
	if c, err := CCC(pairs, 0.95); err != nil || math.Abs(c.R-p.Correlation) > 0.005 {
		t.Errorf("the correlation is %v, %v; published %v", c.R, err, p.Correlation)
	}
	for _, r := range []struct {
		first, second   []float64
		sd, coefficient float64
	}{{f.Inputs.Wright, f.Inputs.Wright2, f.Expected.Repeat.Wright, p.Wright}, {f.Inputs.Mini, f.Inputs.Mini2, f.Expected.Repeat.Mini, p.Mini}} {
		sd, coefficient, err := Repeatability(r.first, r.second, 2)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "repeatability SD", sd, r.sd, 1e-9)
		if math.Abs(coefficient-r.coefficient) > printed {
			t.Errorf("the repeatability coefficient is %v, published %v", coefficient, r.coefficient)
		}
	}
}

// Giavarina D, Biochem Med 2015;25:141-51, table 1.
func TestPercentLimits(t *testing.T) {
	var f struct {
		Inputs   struct{ A, B []float64 }
		Expected struct {
			Absolute limitsFixture `json:"computed_absolute"`
			Percent  limitsFixture `json:"computed_percent"`
		}
	}
	read(t, "ba_percent_giavarina_2015", &f)
	pairs := pairsOf(f.Inputs.B, f.Inputs.A)
	f.Expected.Absolute.check(t, pairs, Difference)
	f.Expected.Percent.check(t, pairs, Percent)
}

// Three ratios whose logarithms are -ln 2, 0 and ln 2: mean ratio 1, SD of the logarithms ln 2; by hand.
func TestRatioLimits(t *testing.T) {
	a, err := Bias([]Pair{{100, 50}, {80, 80}, {60, 120}}, Ratio, 2, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean ratio", a.Mean, 1, 1e-14)
	near(t, "SD", a.SD, math.Ln2, 1e-14)
	near(t, "lower limit", a.Limits.Low, 0.25, 1e-14)
	near(t, "upper limit", a.Limits.High, 4, 1e-14)
	near(t, "interval", a.CI.Low*a.CI.High, 1, 1e-12)
	if a.LowerCI.Low >= 0.25 || a.UpperCI.High <= 4 {
		t.Errorf("the limits have the intervals %v and %v", a.LowerCI, a.UpperCI)
	}
}

// Fat in milk: Bland JM, Altman DG, Stat Methods Med Res 1999;8:135-60. There the difference falls with the level.
func TestMilk1999(t *testing.T) {
	var f struct {
		Inputs   struct{ Trig, Gerber []float64 }
		Expected struct {
			Computed struct {
				Intercept, Slope float64
				ResidualSD       float64 `json:"residual_sd"`
				Mean             float64 `json:"mean_difference"`
				SD               float64 `json:"sd_difference"`
			}
		}
	}
	read(t, "ba_regression_milk_1999", &f)
	pairs := pairsOf(f.Inputs.Gerber, f.Inputs.Trig)
	w := f.Expected.Computed
	trend, err := BiasTrend(pairs, DefaultK, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "intercept", trend.Intercept.Value, w.Intercept, 1e-9)
	near(t, "slope", trend.Slope.Value, w.Slope, 1e-9)
	near(t, "residual SD", trend.ResidualSD, w.ResidualSD, 1e-9)
	a, err := Bias(pairs, Difference, DefaultK, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", a.Mean, w.Mean, 1e-12)
	near(t, "SD", a.SD, w.SD, 1e-9)
	// The paper: the slope differs from zero, the spread does not change with the level; limits D ± 1.96 residual SD.
	if trend.SlopeP >= 0.01 || trend.SpreadP < spreadAlpha {
		t.Errorf("p of slope %v and of spread %v", trend.SlopeP, trend.SpreadP)
	}
	middle, limits := trend.At(3)
	near(t, "middle at 3", middle, w.Intercept+3*w.Slope, 1e-12)
	near(t, "width at 3", limits.High-limits.Low, 2*1.96*w.ResidualSD, 1e-12)
}

// A spread of exactly 10 % of the level, up and down by turns: the line of absolute residuals is 0 + 0.1 A.
func TestTrendFollowsTheSpread(t *testing.T) {
	var pairs []Pair
	for _, a := range []float64{100, 200, 300, 400} {
		pairs = append(pairs, Pair{a * 0.95, a * 1.05}, Pair{a * 1.05, a * 0.95})
	}
	trend, err := BiasTrend(pairs, DefaultK, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "spread", trend.SpreadSlope, 0.1, 1e-9)
	near(t, "spread at 0", trend.SpreadIntercept, 0, 1e-9)
	middle, limits := trend.At(250)
	near(t, "middle", middle, 0, 1e-9)
	near(t, "upper limit", limits.High, 1.96*math.Sqrt(math.Pi/2)*25, 1e-9)
	if _, limits := trend.At(-100); limits.Low != limits.High {
		t.Errorf("a negative spread gives the limits %v", limits)
	}
}

func TestTrendAtItsEdges(t *testing.T) {
	even, err := BiasTrend([]Pair{{100, 103}, {150, 153}, {200, 203}, {300, 303}}, DefaultK, 0.95)
	if err != nil || even.SlopeP != 1 || even.ResidualSD != 0 || even.Note == "" {
		t.Errorf("the same difference everywhere: %+v, %v", even, err)
	}
	if middle, limits := even.At(250); middle != 3 || limits != (Interval{3, 3}) {
		t.Errorf("at 250: %v, %v", middle, limits)
	}
	good := []Pair{{100, 101}, {110, 109}, {120, 122}, {130, 133}}
	for _, x := range []struct {
		pairs   []Pair
		k, conf float64
		key     string
	}{
		{good[:3], 2, 0.95, "pairs-too-few"},
		{good, -2, 0.95, "multiple-unusable"},
		{good, 2, 2, "confidence-unusable"},
		{[]Pair{{100, 102}, {102, 100}, {101, 101}, {100, 102}}, 2, 0.95, "pairs-constant"},
	} {
		if _, err := BiasTrend(x.pairs, x.k, x.conf); !fault.Is(err, x.key) {
			t.Errorf("%v: %v, want %s", x.pairs, err, x.key)
		}
	}
}

func TestBiasRefuses(t *testing.T) {
	two := []Pair{{100, 101}, {110, 109}}
	for _, x := range []struct {
		name  string
		pairs []Pair
		scale Scale
		k     float64
		conf  float64
		key   string
	}{
		{"none", nil, Difference, 2, 0.95, "pairs-too-few"},
		{"one", two[:1], Difference, 2, 0.95, "pairs-too-few"},
		{"NaN", []Pair{{1, 1}, {math.NaN(), 1}}, Difference, 2, 0.95, "pair-unusable"},
		{"infinite", []Pair{{1, 1}, {1, math.Inf(1)}}, Difference, 2, 0.95, "pair-unusable"},
		{"negative", []Pair{{1, 1}, {-1, 1}}, Difference, 2, 0.95, "pair-unusable"},
		{"absurd", []Pair{{1, 1}, {1, 1e9}}, Difference, 2, 0.95, "pair-unusable"},
		{"zero ratio", []Pair{{1, 1}, {1, 0}}, Ratio, 2, 0.95, "pair-unusable"},
		{"zeros in percent", []Pair{{1, 1}, {0, 0}}, Percent, 2, 0.95, "reference-zero"},
		{"k", two, Difference, 0, 0.95, "multiple-unusable"},
		{"confidence", two, Difference, 2, 1, "confidence-unusable"},
		{"confidence NaN", two, Difference, 2, math.NaN(), "confidence-unusable"},
		{"scale", two, "steps", 2, 0.95, "scale-unknown"},
	} {
		if a, err := Bias(x.pairs, x.scale, x.k, x.conf); !fault.Is(err, x.key) || a != (Agreement{}) {
			t.Errorf("%s: %+v, %v; want %s", x.name, a, err, x.key)
		}
	}
	if _, _, err := Repeatability([]float64{1}, []float64{1, 2}, 2); err == nil {
		t.Error("columns of different length have a repeatability")
	}
	if _, _, err := Repeatability([]float64{1}, []float64{math.NaN()}, 2); err == nil {
		t.Error("NaN has a repeatability")
	}
}

// Adding a constant to the meter moves the bias and both limits by it, and changes no width.
func TestBiasProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pairs := drawPairs(t, 2, 40, 1)
		shift := float64(rapid.IntRange(0, 500).Draw(t, "shift"))
		moved := make([]Pair, len(pairs))
		for i, p := range pairs {
			moved[i] = Pair{p.Reference, p.Meter + shift}
		}
		a, err := Bias(pairs, Difference, DefaultK, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Bias(moved, Difference, DefaultK, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "bias", b.Mean, a.Mean+shift, 1e-9)
		near(t, "lower limit", b.Limits.Low, a.Limits.Low+shift, 1e-9)
		near(t, "width", b.UpperCI.High-b.LowerCI.Low, a.UpperCI.High-a.LowerCI.Low, 1e-9)
		if !a.CI.Contains(a.Mean) || !a.LowerCI.Contains(a.Limits.Low) || !a.UpperCI.Contains(a.Limits.High) {
			t.Fatalf("an interval does not hold its estimate: %+v", a)
		}
	})
}

// drawPairs draws pairs of whole 1/scale between 0 and 600, with many ties when the range is small.
func drawPairs(t *rapid.T, least, most int, scale float64) []Pair {
	top := rapid.SampledFrom([]int{8, 60, 600}).Draw(t, "top")
	n := rapid.IntRange(least, most).Draw(t, "n")
	out := make([]Pair, n)
	for i := range out {
		out[i] = Pair{
			float64(rapid.IntRange(1, top).Draw(t, "reference")) / scale,
			float64(rapid.IntRange(1, top).Draw(t, "meter")) / scale,
		}
	}
	return out
}

package agreement

import (
	"math/rand/v2"
	"slices"
	"testing"

	"fairstick/internal/fault"
)

// For a jackknifed line the interval of the bias is that of the jackknife of the bias itself.
func TestBiasAtIsItsOwnJackknife(t *testing.T) {
	pairs := simulated(30, rand.New(rand.NewPCG(1, 6)))
	const level = 126
	l := fitted(t, lineMethods(1)["deming"], pairs)
	b, err := BiasAt(l, level)
	if err != nil {
		t.Fatal(err)
	}
	var without []float64
	for i := range pairs {
		rest := fitted(t, lineMethods(1)["deming"], slices.Delete(slices.Clone(pairs), i, i+1))
		without = append(without, rest.At(level)-level)
	}
	var own Line
	own.Slope.Value, own.Confidence, own.DF = b.Bias, 0.95, len(pairs)-2
	own = own.jackknifed(without, without)
	near(t, "bias", b.Bias, l.Intercept.Value+(l.Slope.Value-1)*level, 1e-12)
	nearInterval(t, "bias", b.CI, [2]float64{own.Slope.CI.Low, own.Slope.CI.High}, 1e-8)
	nearInterval(t, "bias in percent", b.PercentCI, [2]float64{100 * b.CI.Low / level, 100 * b.CI.High / level}, 1e-12)
}

// The interval of least squares at the mean of the references is that of the mean: s/sqrt(n), textbook.
func TestBiasAtOfLeastSquares(t *testing.T) {
	var f regressionFixture
	read(t, "mc_toy6", &f)
	pairs := pairsOf(f.Inputs.X, f.Inputs.Y)
	l, err := OLS(pairs, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	b, err := BiasAt(l, 3.5)
	if err != nil {
		t.Fatal(err)
	}
	fit, _ := leastSquares(f.Inputs.X, f.Inputs.Y)
	half := tQuantile(0.95, 4) * fit.residualSD / 2.449489742783178 // sqrt(6)
	near(t, "bias", b.Bias, mean(f.Inputs.Y)-3.5, 1e-12)
	nearInterval(t, "bias", b.CI, [2]float64{b.Bias - half, b.Bias + half}, 1e-9)
	if b.Lean != NotShown {
		t.Errorf("the lean is %q", b.Lean)
	}
}

func TestLeans(t *testing.T) {
	for offset, want := range map[float64]Lean{25: ReadsHigh, -25: ReadsLow} {
		pairs := simulated(60, rand.New(rand.NewPCG(2, 6)))
		for i := range pairs {
			pairs[i].Meter = pairs[i].Reference + offset + float64(i%5)
		}
		d, err := BiasAt(fitted(t, lineMethods(1)["deming"], pairs), 150)
		if err != nil || d.Lean != want {
			t.Errorf("%v off by Deming: %+v, %v", offset, d, err)
		}
		p, err := BiasAtPassingBablok(passing(t, pairs, Tangent), pairs, 150)
		if err != nil || p.Lean != want || !p.CI.Contains(p.Bias) {
			t.Errorf("%v off by Passing-Bablok: %+v, %v", offset, p, err)
		}
	}
}

func TestBiasAtRefuses(t *testing.T) {
	pairs := simulated(4, rand.New(rand.NewPCG(3, 6)))
	p := passing(t, pairs, Tangent)
	for _, level := range []float64{0, -5, 1, 9999} {
		if _, err := BiasAt(p.Line, level); !fault.Is(err, "level-outside") {
			t.Errorf("level %v: %v", level, err)
		}
	}
	level := p.Range.Low
	b, err := BiasAtPassingBablok(p, pairs, level)
	if err != nil || b.CI != nil || b.Lean != Unknown || b.Note == "" {
		t.Errorf("four pairs: %+v, %v", b, err)
	}
	if _, err := BiasAtPassingBablok(p, pairs[:3], level); err == nil {
		t.Error("the pairs of another line are taken")
	}
	l := p.Line
	if b, err := BiasAt(l, level); err != nil || b.CI != nil || b.Lean != Unknown {
		t.Errorf("a line without standard errors: %+v, %v", b, err)
	}
}

// Ranks of the distribution-free interval of the median at 95 %, from tables of the sign test (from memory; check by hand for
// n = 6: 2/64 = 0.031): 6 has the extremes, 5 has none, 20 the 6th.
func TestMedianRank(t *testing.T) {
	for n, want := range map[int]int{1: 0, 5: 0, 6: 1, 8: 1, 9: 2, 20: 6, 100: 40} {
		if got := medianRank(n, 0.95); got != want {
			t.Errorf("%d values: rank %d, want %d", n, got, want)
		}
	}
}

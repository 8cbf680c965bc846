package agreement

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

type lineFunc func([]Pair) (Line, error)

func lineMethods(lambda float64) map[string]lineFunc {
	return map[string]lineFunc{
		"deming":   func(p []Pair) (Line, error) { return Deming(p, lambda, 0.95) },
		"analytic": func(p []Pair) (Line, error) { return DemingAnalytic(p, lambda, 0.95) },
		"weighted": func(p []Pair) (Line, error) { return WeightedDeming(p, lambda, 0.95) },
	}
}

// drawLine draws pairs that lie about a line, so that every method has one.
func drawLine(t *rapid.T) []Pair {
	rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "state"), 5))
	return simulated(rapid.IntRange(4, 40).Draw(t, "n"), rng)
}

func fitted(t failer, f lineFunc, pairs []Pair) Line {
	t.Helper()
	l, err := f(pairs)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Exchanging the methods with the inverse error ratio gives the inverse slope and the line turned over.
func TestDemingExchanged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pairs := drawLine(t)
		lambda := rapid.SampledFrom([]float64{0.25, 1, 3}).Draw(t, "lambda")
		swapped := make([]Pair, len(pairs))
		for i, p := range pairs {
			swapped[i] = Pair{p.Meter, p.Reference}
		}
		for name, f := range lineMethods(lambda) {
			a, b := fitted(t, f, pairs), fitted(t, lineMethods(1 / lambda)[name], swapped)
			near(t, name+" slope", b.Slope.Value, 1/a.Slope.Value, 1e-8)
			near(t, name+" intercept", b.Intercept.Value, -a.Intercept.Value/a.Slope.Value, 1e-7)
		}
	})
}

// Both methods in another unit: the slope stays, intercept and its errors scale. By a power of two even to the last bit. One
// method in another unit, with the error ratio scaled too: the slope scales.
func TestDemingScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pairs := drawLine(t)
		for name, f := range lineMethods(1) {
			a := fitted(t, f, pairs)
			for _, k := range []float64{1 / 18.016, 0.25} {
				scaled, stretched := make([]Pair, len(pairs)), make([]Pair, len(pairs))
				for i, p := range pairs {
					scaled[i], stretched[i] = Pair{k * p.Reference, k * p.Meter}, Pair{k * p.Reference, p.Meter}
				}
				b := fitted(t, f, scaled)
				tolerance := 1e-8
				if k == 0.25 && name != "weighted" {
					tolerance = 0
				}
				near(t, name+" slope", b.Slope.Value, a.Slope.Value, tolerance)
				near(t, name+" SE of slope", b.Slope.SE, a.Slope.SE, tolerance)
				near(t, name+" intercept", b.Intercept.Value, k*a.Intercept.Value, tolerance)
				near(t, name+" SE of intercept", b.Intercept.SE, k*a.Intercept.SE, tolerance)
				c := fitted(t, lineMethods(k * k)[name], stretched)
				if name != "weighted" { // whose weights mix the two levels
					near(t, name+" slope of one scaled", c.Slope.Value, a.Slope.Value/k, 1e-8)
				}
			}
		}
	})
}

func TestLinesPermuted(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	methods := lineMethods(2)
	methods["ols"] = func(p []Pair) (Line, error) { return OLS(p, 0.95) }
	for range 20 {
		pairs := simulated(30, rng)
		shuffled := slices.Clone(pairs)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		for name, f := range methods {
			a, b := fitted(t, f, pairs), fitted(t, f, shuffled)
			near(t, name+" slope", b.Slope.Value, a.Slope.Value, 1e-10)
			near(t, name+" intercept", b.Intercept.Value, a.Intercept.Value, 1e-9)
			near(t, name+" SE", b.Slope.SE, a.Slope.SE, 1e-9)
			near(t, name+" covariance", b.Covariance, a.Covariance, 1e-9)
		}
	}
}

// The jackknife from updated moments is the jackknife from fits without each pair.
func TestJackknifeFromScratch(t *testing.T) {
	pairs := simulated(25, rand.New(rand.NewPCG(2, 5)))
	for _, name := range []string{"deming", "weighted"} {
		f := lineMethods(1)[name]
		l := fitted(t, f, pairs)
		n := float64(len(pairs))
		var pseudo []float64
		for i := range pairs {
			without := slices.Delete(slices.Clone(pairs), i, i+1)
			pseudo = append(pseudo, n*l.Slope.Value-(n-1)*fitted(t, f, without).Slope.Value)
		}
		m := momentsOf(pseudo, pseudo)
		near(t, name+" SE", l.Slope.SE, math.Sqrt(m.sxx/(n-1)/n), 1e-8)
	}
}

// Above a thousand pairs the jackknife of the weighted line is expanded; beside the full one it is right to a thousandth.
func TestExpandedJackknife(t *testing.T) {
	pairs := simulated(1500, rand.New(rand.NewPCG(3, 5)))
	l, err := WeightedDeming(pairs, 1, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	x, y := columns(pairs)
	p := problem{x: x, y: y, lambda: 1, cx: mean(x), cy: mean(y)}
	slopes, intercepts := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		var ok bool
		if intercepts[i], slopes[i], ok = p.settle(l.Intercept.Value, l.Slope.Value, p.allBut(i)); !ok {
			t.Fatalf("without pair %d there is no line", i+1)
		}
	}
	full := l.jackknifed(slopes, intercepts)
	near(t, "SE of slope", l.Slope.SE/full.Slope.SE, 1, 1e-3)
	near(t, "SE of intercept", l.Intercept.SE/full.Intercept.SE, 1, 1e-3)
	near(t, "covariance", l.Covariance/full.Covariance, 1, 2e-3)
}

// Points on a line have that line, whatever the method, with no error.
func TestPointsOnALine(t *testing.T) {
	var pairs []Pair
	for _, x := range []float64{40, 60, 100, 180, 300} {
		pairs = append(pairs, Pair{x, 5 + 0.75*x})
	}
	methods := lineMethods(1)
	methods["ols"] = func(p []Pair) (Line, error) { return OLS(p, 0.95) }
	methods["passing-bablok"] = func(p []Pair) (Line, error) { l, err := PassingBablokLine(p, Tangent, 0.95); return l.Line, err }
	for name, f := range methods {
		l := fitted(t, f, pairs)
		near(t, name+" slope", l.Slope.Value, 0.75, 1e-12)
		near(t, name+" intercept", l.Intercept.Value, 5, 1e-10)
		nearInterval(t, name+" slope", l.Slope.CI, [2]float64{0.75, 0.75}, 1e-7)
		near(t, name+" at 200", l.At(200), 155, 1e-10)
		if l.Range != (Interval{40, 300}) || l.N != 5 {
			t.Errorf("%s: %+v", name, l)
		}
	}
}

func TestLinesRefuse(t *testing.T) {
	good := pairsOf([]float64{1, 2, 3, 4}, []float64{1, 2.2, 2.9, 4})
	for _, x := range []struct {
		name  string
		pairs []Pair
		key   string
		only  string // of the methods; empty for all
	}{
		{"two pairs", good[:2], "pairs-too-few", ""},
		{"NaN", pairsOf([]float64{1, 2, math.NaN()}, []float64{1, 2, 3}), "pair-unusable", ""},
		{"infinite", pairsOf([]float64{1, 2, 3}, []float64{1, 2, math.Inf(-1)}), "pair-unusable", ""},
		{"a constant reference", pairsOf([]float64{2, 2, 2}, []float64{1, 2, 3}), "pairs-constant", ""},
		{"a constant meter", pairsOf([]float64{1, 2, 3}, []float64{2, 2, 2}), "pairs-constant", "deming"},
		{"no association", pairsOf([]float64{1, 1, 3, 3}, []float64{1, 3, 1, 3}), "association-none", "deming"},
		{"a zero", pairsOf([]float64{0, 1, 2, 3}, []float64{1, 2, 3, 4}), "pair-unusable", "weighted"},
		{"three pairs without a weighted line", pairsOf([]float64{9, 5, 22}, []float64{19, 1, 1}), "not-converged", "weighted"},
	} {
		methods := lineMethods(1)
		methods["ols"] = func(p []Pair) (Line, error) { return OLS(p, 0.95) }
		for name, f := range methods {
			if x.only != "" && name != x.only {
				continue
			}
			if l, err := f(x.pairs); !fault.Is(err, x.key) || l != (Line{}) {
				t.Errorf("%s, %s: %+v, %v; want %s", x.name, name, l, err, x.key)
			}
		}
	}
	for _, lambda := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		for name, f := range lineMethods(lambda) {
			if _, err := f(good); !fault.Is(err, "ratio-unusable") {
				t.Errorf("%s with the ratio %v: %v", name, lambda, err)
			}
		}
	}
	if _, err := OLS(good, 0); !fault.Is(err, "confidence-unusable") {
		t.Errorf("no confidence: %v", err)
	}
	// Without the last pair the others have no direction: there is a line, but no interval.
	l, err := Deming(pairsOf([]float64{1, 1, 1, 4}, []float64{1, 2, 3, 5}), 1, 0.95)
	if err != nil || l.Slope.CI != nil || l.Note == "" {
		t.Errorf("one pair that carries the line: %+v, %v", l, err)
	}
}

func TestConcordance(t *testing.T) {
	perfect, err := CCC(pairsOf([]float64{1, 2, 3, 4}, []float64{1, 2, 3, 4}), 0.95)
	if err != nil || perfect.CCC != 1 || perfect.CI != nil || perfect.Note == "" {
		t.Errorf("perfect agreement: %+v, %v", perfect, err)
	}
	none, err := CCC(pairsOf([]float64{1, 1, 3, 3}, []float64{1, 3, 1, 3}), 0.95)
	if err != nil || none.CCC != 0 || none.CI != nil || none.Note == "" {
		t.Errorf("no correlation: %+v, %v", none, err)
	}
	if _, err := CCC(pairsOf([]float64{1, 2, 3}, []float64{2, 2, 2}), 0.95); !fault.Is(err, "pairs-constant") {
		t.Errorf("a constant meter: %v", err)
	}
	if _, err := CCC(pairsOf([]float64{1, 2}, []float64{2, 3}), 0.95); !fault.Is(err, "pairs-too-few") {
		t.Errorf("two pairs: %v", err)
	}
	rapid.Check(t, func(t *rapid.T) {
		c, err := CCC(drawLine(t), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "the product of the parts", c.R*c.Cb, c.CCC, 1e-12)
		if c.CI != nil && !c.CI.Contains(c.CCC) || math.Abs(c.CCC) > math.Abs(c.R) {
			t.Fatalf("%+v", c)
		}
	})
}

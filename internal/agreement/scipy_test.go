package agreement

import (
	"testing"

	"fairstick/internal/estimate"
)

// Computed with scipy 1.10.1 by testdata/regenerate.py, which says how. Orthogonal distance regression takes its derivatives by
// differences and ends its iteration early, hence the wider tolerance of Deming.
func TestAgainstScipy(t *testing.T) {
	var want struct {
		Cases []struct {
			X, Y      []float64
			OLS       fourLine
			Bias      four
			Deming1   struct{ Intercept, Slope float64 }
			Deming025 struct{ Intercept, Slope float64 }
			PB        struct {
				Used  int64
				Slope *float64
			} `json:"passing_bablok"`
		}
		Binomial   [][4]float64
		Kolmogorov [][2]float64
	}
	read(t, "scipy", &want)
	odd := 0
	for _, c := range want.Cases {
		pairs := pairsOf(c.X, c.Y)
		l, err := OLS(pairs, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		c.OLS.check(t, "OLS", l, 1e-9)
		b, err := Bias(pairs, Difference, DefaultK, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "bias", b.Mean, c.Bias[0], 1e-10)
		near(t, "SD", b.SD, c.Bias[1], 1e-10)
		nearInterval(t, "bias", &b.CI, [2]float64{c.Bias[2], c.Bias[3]}, 1e-9)
		for lambda, w := range map[float64]struct{ Intercept, Slope float64 }{1: c.Deming1, 0.25: c.Deming025} {
			d, err := Deming(pairs, lambda, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "Deming slope", d.Slope.Value, w.Slope, 1e-6)
			near(t, "Deming intercept", d.Intercept.Value, w.Intercept, 1e-4)
		}
		p, err := PassingBablokLine(pairs, Tangent, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if p.Slopes != c.PB.Used {
			t.Errorf("%d slopes count, want %d", p.Slopes, c.PB.Used)
		}
		if c.PB.Slope != nil {
			odd++
			near(t, "Passing-Bablok slope", p.Slope.Value, *c.PB.Slope, 1e-12)
		}
	}
	if odd == 0 {
		t.Error("no case has an odd number of slopes: the Passing-Bablok slope was not compared")
	}
	for _, w := range want.Binomial {
		i, err := estimate.ClopperPearson(int(w[0]), int(w[1]), 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "exact low", i.Low, w[2], 1e-10)
		near(t, "exact high", i.High, w[3], 1e-10)
		if w[0] == 0 && i.Low != 0 || w[0] == w[1] && i.High != 1 {
			t.Errorf("the end of %v is not exact: %v", w, i)
		}
	}
	for _, w := range want.Kolmogorov {
		near(t, "Kolmogorov's tail", kolmogorov(w[0]), w[1], 1e-12)
	}
}

package plan

import (
	"math"
	"testing"
)

// The exponential that times are drawn with is that of the library, for every number that could come, to the last bit but a few.
func TestExp(t *testing.T) {
	rng := source(7)
	worst := 0.0
	for i := range 2_000_000 {
		x := 12 * (rng.Float64() - 0.5)
		if i%4 == 0 {
			x *= 80
		}
		want := math.Exp(x)
		worst = max(worst, math.Abs(exp(x)/want-1))
	}
	if worst > 1e-15 {
		t.Errorf("off by %g of the value, want at most 1e-15", worst)
	}
	for _, x := range []float64{0, math.Copysign(0, -1), 1, -1, math.Ln2, -math.Ln2, math.Ln2 / 256, 499.9, -499.9} {
		if e := math.Abs(exp(x)/math.Exp(x) - 1); e > 1e-15 {
			t.Errorf("exp(%v) = %v, off by %g", x, exp(x), e)
		}
	}
	if exp(0) != 1 || exp(1000) != math.Inf(1) || exp(-1000) != 0 || !math.IsNaN(exp(math.NaN())) || exp(math.Inf(1)) != math.Inf(1) || exp(math.Inf(-1)) != 0 {
		t.Error("the edges are not those of the library")
	}
}

func BenchmarkExp(b *testing.B) {
	rng := source(3)
	var xs [1024]float64
	for i := range xs {
		xs[i] = rng.NormFloat64()
	}
	for name, f := range map[string]func(float64) float64{"own": exp, "library": math.Exp} {
		b.Run(name, func(b *testing.B) {
			sum := 0.0
			for i := range b.N {
				sum += f(xs[i&1023])
			}
			if sum == 0 {
				b.Fatal("nothing was computed")
			}
		})
	}
}

package control

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// Nine in ten from a normal law cut at 2, the tenth at 2: mean 0.1 * 2, mean square 0.9 E(min(z^2, 4)) + 0.1 * 4.
func TestDefaultBaseline(t *testing.T) {
	square := distuv.UnitNormal.CDF(2) - distuv.UnitNormal.CDF(-2) - 4*distuv.UnitNormal.Prob(2) + 8*distuv.UnitNormal.Survival(2)
	b := DefaultBaseline()
	near(t, "mean", b.Mean, 0.2, 1e-12)
	near(t, "SD", b.SD, math.Sqrt(0.9*square+0.4-0.04), 0.005)
	near(t, "median", math.Exp(b.Centre), 100, 1e-12)
	if b.Events != 0 {
		t.Error("the default is no history")
	}
}

// The baseline learned from an invented history of log-normal crowds is the one it was made with; another unit moves the centre alone.
func TestLearn(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	var events, moved [][]float64
	for range 400 {
		lift := 0.05 * rng.NormFloat64()
		var e, m []float64
		for range 100 {
			v := 100 * math.Exp(lift+0.2*rng.NormFloat64())
			e, m = append(e, v), append(m, v/18)
		}
		events, moved = append(events, e), append(moved, m)
	}
	b := must[Baseline](t)(Learn(events))
	// Spread: sqrt(0.2^2 + 0.05^2) = 0.2062. A normal law cut at 2 SD has an SD of 0.9595 (integral of min(z^2, 4)): 0.2/0.2062 of it within events.
	near(t, "centre", b.Centre, math.Log(100), 0.002)
	near(t, "spread", b.Spread, 0.2062, 0.005)
	near(t, "mean", b.Mean, 0, 0.02)
	near(t, "SD", b.SD, 0.93, 0.02)
	near(t, "between", b.Between, 0.25, 0.03)
	m := must[Baseline](t)(Learn(moved))
	near(t, "centre in another unit", m.Centre, b.Centre-math.Log(18), 1e-9)
	near(t, "spread in another unit", m.Spread, b.Spread, 1e-9)
	near(t, "SD in another unit", m.SD, b.SD, 1e-9)
}

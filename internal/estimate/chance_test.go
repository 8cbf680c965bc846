package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestChanceAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs   struct{ Cases [][3]float64 }
		Expected struct {
			Reading []float64 `json:"normal_sd_at_reading"`
			Limit   []float64 `json:"normal_sd_at_threshold"`
			Log     []float64 `json:"lognormal"`
		}
	}
	load(t, "guard_band_probability", &ref)
	if len(ref.Inputs.Cases) < 48 {
		t.Fatalf("%d cases", len(ref.Inputs.Cases))
	}
	for i, c := range ref.Inputs.Cases {
		for s, want := range map[Spread]float64{SDAtReading: ref.Expected.Reading[i], SDAtLimit: ref.Expected.Limit[i], LogNormal: ref.Expected.Log[i]} {
			got, err := ChanceAbove(c[0], c[1], c[2], s)
			if err != nil || !near(got, want, 1e-9) {
				t.Errorf("%s of %v = %v, %v; want %v", s, c, got, err, want)
			}
			if c[0] == c[1] && got != 0.5 {
				t.Errorf("%s at the limit %v = %v, want exactly a half", s, c, got)
			}
		}
	}
}

func TestDecisionReadingAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs   struct{ Cases [][3]float64 }
		Expected struct{ Reading []float64 }
	}
	load(t, "guard_band_limit", &ref)
	if len(ref.Inputs.Cases) < 4 {
		t.Fatalf("%d cases", len(ref.Inputs.Cases))
	}
	for i, c := range ref.Inputs.Cases {
		got, err := DecisionReading(c[0], c[1], c[2], SDAtReading)
		if err != nil || math.Abs(got-ref.Expected.Reading[i]) > 1e-9*ref.Expected.Reading[i] {
			t.Errorf("DecisionReading(%v) = %v, %v; want %v", c, got, err, ref.Expected.Reading[i])
		}
	}
}

func TestChanceRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range [][3]float64{{0, 126, 0.05}, {-1, 126, 0.05}, {nan, 126, 0.05}, {inf, 126, 0.05}, {118, 0, 0.05}, {118, nan, 0.05}, {118, inf, 0.05}, {118, 126, 0}, {118, 126, -0.1}, {118, 126, 4}, {118, 126, 1}, {118, 126, nan}} {
		if got, err := ChanceAbove(c[0], c[1], c[2], SDAtReading); err == nil || got != 0 {
			t.Errorf("ChanceAbove(%v) = %v, want an error", c, got)
		}
		if got, err := ChanceAboveWith(c[0], c[1], c[2], LogNormal, Prior{100, 0.2}); err == nil || got != 0 {
			t.Errorf("ChanceAboveWith(%v) = %v, want an error", c, got)
		}
	}
	if _, err := ChanceAbove(118, 126, 0.05, "triangular"); err == nil {
		t.Error("an unknown spread was accepted")
	}
	for _, p := range []Prior{{0, 0.2}, {100, 0}, {nan, 0.2}, {100, nan}, {inf, 0.2}, {100, inf}, {-100, 0.2}} {
		if _, err := ChanceAboveWith(118, 126, 0.05, SDAtLimit, p); err == nil {
			t.Errorf("the prior %+v was accepted", p)
		}
	}
	for _, c := range []struct {
		limit, cv, p float64
		s            Spread
	}{
		{126, 0.7, 0.95, SDAtReading}, // z CV = 1.15: no reading is sure enough
		{126, 0.7, 0.05, SDAtLimit},
		{126, 0.05, 0, SDAtReading},
		{126, 0.05, 1, LogNormal},
		{126, 0.05, nan, LogNormal},
		{0, 0.05, 0.9, LogNormal},
		{126, 5, 0.9, LogNormal},
		{126, 0.05, 0.9, "triangular"},
	} {
		if got, err := DecisionReading(c.limit, c.cv, c.p, c.s); err == nil || got != 0 {
			t.Errorf("DecisionReading(%+v) = %v, want an error", c, got)
		}
	}
}

func TestChanceProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(Spreads).Draw(t, "spread")
		y, limit := rapid.Float64Range(20, 600).Draw(t, "reading"), rapid.Float64Range(40, 400).Draw(t, "limit")
		cv := rapid.Float64Range(0.005, 0.3).Draw(t, "cv")
		at := func(y, limit float64) float64 {
			p, err := ChanceAbove(y, limit, cv, s)
			if err != nil || p < 0 || p > 1 {
				t.Fatalf("%v, %v", p, err)
			}
			return p
		}
		if at(y+1, limit) < at(y, limit)-1e-15 || at(y, limit+1) > at(y, limit)+1e-15 {
			t.Fatal("a higher reading, or a lower limit, made it less likely")
		}
		if k := 1 / 18.0156; !near(at(y*k, limit*k), at(y, limit), 1e-12) {
			t.Fatal("another unit gives another chance")
		}
		// A prior that says nothing changes nothing, one in the middle of which the reading and the limit stand leaves a half,
		// and one that is sure outweighs the reading.
		wide, err := ChanceAboveWith(y, limit, cv, s, Prior{Middle: 100, CV: 1e7})
		tol := 1e-6
		if s == LogNormal { // ln(1+CV²) grows slowly: the prior is still felt
			tol = 0.05
		}
		if err != nil || !near(wide, at(y, limit), tol) {
			t.Fatalf("a wide prior gives %v, a flat one %v (%v)", wide, at(y, limit), err)
		}
		half, err := ChanceAboveWith(limit, limit, cv, s, Prior{Middle: limit, CV: 0.2})
		if err != nil || !near(half, 0.5, 1e-12) {
			t.Fatalf("%v, %v", half, err)
		}
		sure, err := ChanceAboveWith(limit*1.05, limit, cv, s, Prior{Middle: limit / 2, CV: 1e-3})
		if err != nil || sure > 1e-6 {
			t.Fatalf("%v, %v", sure, err)
		}
		p := rapid.Float64Range(0.01, 0.99).Draw(t, "p")
		d, err := DecisionReading(limit, cv, p, s)
		if err != nil {
			t.Fatal(err)
		}
		if back := at(d, limit); !near(back, p, 1e-9) {
			t.Fatalf("the decision reading %v for %v has the chance %v", d, p, back)
		}
	})
}

// With people drawn from the prior and read by such a meter, of those with about one reading the share that truly is at or
// above the limit is the chance that was said, within Monte-Carlo error.
func TestChanceIsTrueOfACrowd(t *testing.T) {
	for _, s := range []Spread{SDAtLimit, LogNormal} {
		src := rand.New(rand.NewPCG(5, 6))
		const limit, cv, from, to = 126.0, 0.06, 120.0, 122.0
		prior := Prior{Middle: 100, CV: 0.18}
		n, above := 0, 0
		said := 0.0
		for range 2_000_000 {
			var truth, reading float64
			if s == LogNormal {
				truth = prior.Middle * math.Exp(logSD(prior.CV)*src.NormFloat64())
				reading = truth * math.Exp(logSD(cv)*src.NormFloat64())
			} else {
				truth = prior.Middle * (1 + prior.CV*src.NormFloat64())
				reading = truth + cv*limit*src.NormFloat64()
			}
			if reading < from || reading >= to {
				continue
			}
			p, err := ChanceAboveWith(reading, limit, cv, s, prior)
			if err != nil {
				t.Fatal(err)
			}
			n++
			said += p
			if truth >= limit {
				above++
			}
		}
		got, want := float64(above)/float64(n), said/float64(n)
		if mc := math.Sqrt(want * (1 - want) / float64(n)); n < 10000 || math.Abs(got-want) > 4*mc {
			t.Errorf("%s: of %d readings %v were at or above the limit, %v was said", s, n, got, want)
		}
	}
}

// A crowd drawn from a prior and read by a meter gives that prior back, within Monte-Carlo error.
func TestPriorOf(t *testing.T) {
	src := rand.New(rand.NewPCG(13, 14))
	const n, cv = 20000, 0.06
	want := Prior{Middle: 100, CV: 0.18}
	readings := make([]float64, n)
	for i := range readings {
		readings[i] = want.Middle * math.Exp(logSD(want.CV)*src.NormFloat64()+logSD(cv)*src.NormFloat64())
	}
	got, err := PriorOf(readings, cv)
	if err != nil || math.Abs(got.Middle-100) > 4*100*0.19/math.Sqrt(n) || math.Abs(got.CV-0.18) > 4*0.19/math.Sqrt(2*n) {
		t.Errorf("%+v, %v", got, err)
	}
	same := make([]float64, 20)
	for i := range same {
		same[i] = 100
	}
	for name, bad := range map[string]struct {
		readings []float64
		cv       float64
	}{
		"few": {readings[:19], cv}, "none": {nil, cv}, "no scatter": {same, cv}, "percent": {readings, 6}, "NaN": {append([]float64{math.NaN()}, same...), cv}, "zero": {append([]float64{0}, same...), cv},
	} {
		if p, err := PriorOf(bad.readings, bad.cv); err == nil || p != (Prior{}) {
			t.Errorf("%s: %+v", name, p)
		}
	}
}

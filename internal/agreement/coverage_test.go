package agreement

import (
	"math"
	"math/rand/v2"
	"testing"
)

// An interval of 95 % holds the truth in 95 % of samples, but for chance: here 1,000 samples of 50 pairs each about a known line,
// so one standard error is 0.7 %. The band allows three of them and what each method is known to miss at this size.
func TestIntervalsCover(t *testing.T) {
	const (
		samples, n       = 1000, 50
		slope, intercept = 0.96, 4.0
		level            = 140.0
	)
	rng := rand.New(rand.NewPCG(20, 8))
	held := map[string]int{}
	note := func(name string, i *Interval, truth float64) {
		t.Helper()
		if i == nil {
			t.Fatalf("%s has no interval", name)
		}
		if i.Contains(truth) {
			held[name]++
		}
	}
	must := func(l Line, err error) Line {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	for range samples {
		// constant: errors of one size in both. grows: a constant CV in both, of the truth. free: a reference without error.
		constant, grows, free, difference := make([]Pair, n), make([]Pair, n), make([]Pair, n), make([]Pair, n)
		for i := range n {
			v := 50 + 350*rng.Float64()
			e, f := rng.NormFloat64(), rng.NormFloat64()
			constant[i] = Pair{v + 5*e, intercept + slope*v + 5*f}
			grows[i] = Pair{v * (1 + 0.05*e), (slope * v) * (1 + 0.05*f)}
			free[i] = Pair{v, intercept + slope*v + 5*f}
			difference[i] = Pair{v, v + 3 + 5*f}
		}
		l := must(OLS(free, 0.95))
		note("ols slope", l.Slope.CI, slope)
		note("ols intercept", l.Intercept.CI, intercept)
		l = must(Deming(constant, 1, 0.95))
		note("deming slope", l.Slope.CI, slope)
		note("deming intercept", l.Intercept.CI, intercept)
		b, err := BiasAt(l, level)
		if err != nil {
			t.Fatal(err)
		}
		note("deming bias", b.CI, intercept+(slope-1)*level)
		l = must(WeightedDeming(grows, 1, 0.95))
		note("weighted slope", l.Slope.CI, slope)
		note("weighted intercept", l.Intercept.CI, 0)
		p, err := PassingBablokLine(constant, Tangent, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		note("passing-bablok slope", p.Slope.CI, slope)
		note("passing-bablok intercept", p.Intercept.CI, intercept)
		for name, at := range map[string]float64{"low": 140, "middle": 225, "high": 310} {
			b, err := BiasAtPassingBablok(p, constant, at)
			if err != nil {
				t.Fatal(err)
			}
			note("passing-bablok bias "+name, b.CI, intercept+(slope-1)*at)
		}
		e, err := PassingBablokLine(constant, Equivariant, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		note("equivariant slope", e.Slope.CI, slope)
		a, err := Bias(difference, Difference, DefaultK, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		note("bias", &a.CI, 3)
		note("upper limit", &a.UpperCI, 3+DefaultK*5)
		note("lower limit 1986", &a.LowerCI86, 3-DefaultK*5)
		// The concordance of this model: covariance s², variances slope² s² + 25 and s² + 25 with s² = 350²/12.
		c, err := CCC(constant, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		s := 350.0 * 350 / 12
		shift := intercept + (slope-1)*225
		note("ccc", c.CI, 2*slope*s/(s+25+slope*slope*s+25+shift*shift))
	}
	// Wider than nominal by derivation, or for a uniform spread of levels: only a lower bound.
	wide := map[string]bool{"passing-bablok bias low": true, "passing-bablok bias middle": true, "passing-bablok bias high": true, "ccc": true}
	se := math.Sqrt(0.95 * 0.05 / samples)
	for name, h := range held {
		share := float64(h) / samples
		low, high := 0.95-3*se-0.01, 0.95+3*se+0.005
		if name == "passing-bablok intercept" { // its limits know of the slope alone, not of the median they are taken from
			low = 0.89
		}
		if wide[name] {
			high = 1
		}
		t.Logf("%-28s %.3f", name, share)
		if share < low || share > high {
			t.Errorf("%s: %.3f of the intervals hold the truth", name, share)
		}
	}
	if len(held) < 16 {
		t.Errorf("only %d intervals were tried", len(held))
	}
}

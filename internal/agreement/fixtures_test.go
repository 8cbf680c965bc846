package agreement

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// read reads a known answer. Each file names its source and how its numbers were obtained.
func read(t testing.TB, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// failer is a test, of testing or of rapid.
type failer interface {
	Helper()
	Errorf(format string, args ...any)
	Fatal(args ...any)
}

// near fails when got is further from want than the tolerance, relative to a want above 1.
func near(t failer, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance*math.Max(1, math.Abs(want))) {
		t.Errorf("%s is %.15g, want %.15g", what, got, want)
	}
}

func nearInterval(t failer, what string, got *Interval, want [2]float64, tolerance float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s is missing, want %v", what, want)
		return
	}
	near(t, what+" low", got.Low, want[0], tolerance)
	near(t, what+" high", got.High, want[1], tolerance)
}

// four is estimate, standard error, lower and upper limit.
type four [4]float64

type fourLine struct{ Intercept, Slope four }

func (f fourLine) check(t *testing.T, what string, l Line, tolerance float64) {
	t.Helper()
	for _, c := range []struct {
		name string
		got  Estimate
		want four
	}{{"slope", l.Slope, f.Slope}, {"intercept", l.Intercept, f.Intercept}} {
		near(t, what+" "+c.name, c.got.Value, c.want[0], tolerance)
		near(t, what+" "+c.name+" SE", c.got.SE, c.want[1], tolerance)
		nearInterval(t, what+" "+c.name, c.got.CI, [2]float64{c.want[2], c.want[3]}, tolerance)
	}
}

type regressionFixture struct {
	Inputs   struct{ X, Y []float64 }
	Expected struct {
		N               int
		OLS             fourLine
		Deming          struct{ Intercept, Slope float64 } `json:"deming_lambda1"`
		DemingStrike    fourLine                           `json:"deming_lambda1_se_ci_analytic_strike"`
		DemingJackknife fourLine                           `json:"deming_lambda1_se_ci_jackknife"`
		DemingQuarter   fourLine                           `json:"deming_lambda025_jackknife"`
		Weighted        fourLine                           `json:"weighted_deming_lambda1_jackknife"`
		PassingBablok   struct {
			N           int64 `json:"n_slopes_used"`
			K           float64
			C           float64 `json:"C_gamma"`
			M1, M2      int64
			Slope       float64
			Intercept   float64
			SlopeCI     [2]float64 `json:"slope_ci_1983"`
			InterceptCI [2]float64 `json:"intercept_ci_1983"`
			Radian      struct {
				Intercept, Slope []*float64
			} `json:"mcr_radian"`
		} `json:"passing_bablok"`
		CCC struct {
			Est   float64
			CI    [2]float64 `json:"ci_z_transform"`
			Cb    float64    `json:"bias_correction_Cb"`
			Shift float64    `json:"location_shift_abs"`
			Scale float64    `json:"scale_shift"`
		} `json:"lin_ccc"`
	}
}

func pairsOf(x, y []float64) []Pair {
	out := make([]Pair, len(x))
	for i := range x {
		out[i] = Pair{x[i], y[i]}
	}
	return out
}

var regressionFixtures = []string{"mc_toy6", "mc_sen7", "mc_ties10", "mc_pefr17", "mc_sim1000"}

// The sources stand in the files: computed with R (mcr, epiR) and with an implementation of the same definitions in another
// language. Tolerances are theirs; those of fixed formulas are tighter than asked.
func TestRegressionsAgainstKnownAnswers(t *testing.T) {
	for _, name := range regressionFixtures {
		t.Run(name, func(t *testing.T) {
			var f regressionFixture
			read(t, name, &f)
			pairs, want := pairsOf(f.Inputs.X, f.Inputs.Y), f.Expected
			line := func(l Line, err error) Line {
				t.Helper()
				if err != nil {
					t.Fatal(err)
				}
				return l
			}
			want.OLS.check(t, "OLS", line(OLS(pairs, 0.95)), 1e-9)
			d := line(Deming(pairs, 1, 0.95))
			near(t, "Deming slope", d.Slope.Value, want.Deming.Slope, 1e-9)
			near(t, "Deming intercept", d.Intercept.Value, want.Deming.Intercept, 1e-9)
			want.DemingJackknife.check(t, "Deming", d, 1e-9)
			want.DemingStrike.check(t, "Deming by formula", line(DemingAnalytic(pairs, 1, 0.95)), 1e-9)
			want.DemingQuarter.check(t, "Deming 0.25", line(Deming(pairs, 0.25, 0.95)), 1e-9)
			want.Weighted.check(t, "weighted Deming", line(WeightedDeming(pairs, 1, 0.95)), 1e-6)

			c, err := CCC(pairs, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "CCC", c.CCC, want.CCC.Est, 1e-9)
			nearInterval(t, "CCC", c.CI, want.CCC.CI, 1e-9)
			near(t, "Cb", c.Cb, want.CCC.Cb, 1e-9)
			near(t, "location shift", math.Abs(c.LocationShift), want.CCC.Shift, 1e-9)
			// The file's scale shift is the SD of the one over that of the other, whichever way round.
			near(t, "scale shift", c.ScaleShift, want.CCC.Scale, 1e-9)
		})
	}
}

func TestPassingBablokAgainstKnownAnswers(t *testing.T) {
	for _, name := range regressionFixtures {
		t.Run(name, func(t *testing.T) {
			var f regressionFixture
			read(t, name, &f)
			pairs, want := pairsOf(f.Inputs.X, f.Inputs.Y), f.Expected.PassingBablok
			p, err := PassingBablokLine(pairs, Tangent, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			if p.Slopes != want.N || p.K != int64(want.K) || p.M1 != want.M1 || p.M2 != want.M2 {
				t.Errorf("N, K, M1, M2 are %d, %d, %d, %d, want %d, %v, %d, %d", p.Slopes, p.K, p.M1, p.M2, want.N, want.K, want.M1, want.M2)
			}
			near(t, "C", p.C, want.C, 1e-9)
			near(t, "slope", p.Slope.Value, want.Slope, 1e-12)
			near(t, "intercept", p.Intercept.Value, want.Intercept, 1e-9)
			nearInterval(t, "slope", p.Slope.CI, want.SlopeCI, 1e-12)
			nearInterval(t, "intercept", p.Intercept.CI, want.InterceptCI, 1e-9)
			a, err := PassingBablokLine(pairs, Angle, 0.95)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "slope by angles", a.Slope.Value, *want.Radian.Slope[0], 1e-9)
			near(t, "intercept by angles", a.Intercept.Value, *want.Radian.Intercept[0], 1e-9)
		})
	}
}

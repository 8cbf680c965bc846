package control

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

// CLSI EP05 worked glucose example, 20 x 2 x 2; computed elsewhere with the R package VCA (see the file).
func TestNestedEP05(t *testing.T) {
	var f struct {
		Inputs   struct{ Rows [][3]float64 }
		Expected struct {
			Mean    float64
			MSDay   float64    `json:"ms_day"`
			MSRun   float64    `json:"ms_run"`
			MSError float64    `json:"ms_error"`
			VarRun  float64    `json:"var_run"`
			VarDay  float64    `json:"var_day"`
			SDr     float64    `json:"sd_repeatability"`
			SDwl    float64    `json:"sd_within_lab"`
			CVr     float64    `json:"cv_repeatability_pct"`
			CVwl    float64    `json:"cv_within_lab_pct"`
			DFr     float64    `json:"df_repeatability"`
			DFwl    float64    `json:"df_within_lab_satterthwaite"`
			CIr     [2]float64 `json:"sd_repeatability_ci95"`
			CIwl    [2]float64 `json:"sd_within_lab_ci95"`
		}
		Tolerance float64
	}
	known(t, "precision_ep05_20x2x2_glucose", &f)
	var rows []Replicate
	for _, r := range f.Inputs.Rows {
		rows = append(rows, Replicate{fmt.Sprint(r[0]), fmt.Sprint(r[1]), r[2]})
	}
	p := must[Precision](t)(Nested(rows, 0.95))
	e, tol := f.Expected, f.Tolerance
	near(t, "mean", p.Mean, e.Mean, tol)
	near(t, "MS day", p.MSDay, e.MSDay, tol)
	near(t, "MS run", p.MSRun, e.MSRun, tol)
	near(t, "MS error", p.MSError, e.MSError, tol)
	near(t, "variance between runs", p.BetweenRun.Variance, e.VarRun, tol)
	near(t, "variance between days", p.BetweenDay.Variance, e.VarDay, tol)
	near(t, "SD of repeatability", p.Repeatability.SD, e.SDr, tol)
	near(t, "SD within-laboratory", p.WithinLaboratory.SD, e.SDwl, tol)
	near(t, "CV of repeatability", p.Repeatability.CV, e.CVr, tol)
	near(t, "CV within-laboratory", p.WithinLaboratory.CV, e.CVwl, tol)
	near(t, "df of repeatability", p.Repeatability.DF, e.DFr, tol)
	near(t, "df within-laboratory", p.WithinLaboratory.DF, e.DFwl, tol)
	near(t, "low end of repeatability", p.Repeatability.Low, e.CIr[0], tol)
	near(t, "high end of repeatability", p.Repeatability.High, e.CIr[1], tol)
	near(t, "low end within-laboratory", p.WithinLaboratory.Low, e.CIwl[0], tol)
	near(t, "high end within-laboratory", p.WithinLaboratory.High, e.CIwl[1], tol)
	if p.Days != 20 || p.Runs != 40 || p.Note != "" {
		t.Errorf("%d days, %d runs, note %q", p.Days, p.Runs, p.Note)
	}
}

// Five days of five values, computed elsewhere with the R package VCA (see the file).
func TestNestedEP15(t *testing.T) {
	var f struct {
		Inputs   struct{ Rows [][2]float64 }
		Expected struct {
			SDr  float64 `json:"sd_repeatability"`
			SDd  float64 `json:"sd_between_day"`
			SDwl float64 `json:"sd_within_lab"`
			DFwl float64 `json:"df_within_lab"`
		}
		Tolerance float64
	}
	known(t, "precision_ep15_5x5", &f)
	var empty, one []Replicate
	for _, r := range f.Inputs.Rows {
		empty = append(empty, Replicate{fmt.Sprint(r[0]), "", r[1]})
		one = append(one, Replicate{fmt.Sprint(r[0]), "1", r[1]})
	}
	p := must[Precision](t)(Nested(empty, 0.95))
	near(t, "SD of repeatability", p.Repeatability.SD, f.Expected.SDr, f.Tolerance)
	near(t, "SD between days", p.BetweenDay.SD, f.Expected.SDd, f.Tolerance)
	near(t, "SD within-laboratory", p.WithinLaboratory.SD, f.Expected.SDwl, f.Tolerance)
	near(t, "df within-laboratory", p.WithinLaboratory.DF, f.Expected.DFwl, f.Tolerance)
	if p.BetweenRun != nil || p.Runs != 0 {
		t.Error("a study without runs has a component between runs")
	}
	if other := must[Precision](t)(Nested(one, 0.95)); other.WithinLaboratory != p.WithinLaboratory {
		t.Error("one run a day is not the same as none")
	}
}

// Unequal numbers and negative components: computed by testdata/regenerate.py, which builds the expected mean squares from
// the design's projection matrices and not from these sums.
func TestNestedUnbalanced(t *testing.T) {
	var f struct {
		Cases []struct {
			Name     string
			Rows     [][3]float64
			Run, Day float64 // variances as they came out
			Error    float64
			Total    float64
			DF       float64
		}
	}
	known(t, "own_precision_unbalanced", &f)
	zeroed := 0
	for _, c := range f.Cases {
		var rows []Replicate
		for _, r := range c.Rows {
			rows = append(rows, Replicate{fmt.Sprint(r[0]), fmt.Sprint(r[1]), r[2]})
		}
		p := must[Precision](t)(Nested(rows, 0.95))
		near(t, c.Name+": error", p.Repeatability.Estimate, c.Error, 1e-9)
		near(t, c.Name+": between runs", p.BetweenRun.Estimate, c.Run, 1e-9)
		near(t, c.Name+": between days", p.BetweenDay.Estimate, c.Day, 1e-9)
		near(t, c.Name+": total", p.WithinLaboratory.Variance, c.Total, 1e-9)
		near(t, c.Name+": df", p.WithinLaboratory.DF, c.DF, 1e-9)
		if p.BetweenRun.Zeroed != (c.Run < 0) || p.BetweenDay.Zeroed != (c.Day < 0) || (p.Note != "") != (c.Run < 0 || c.Day < 0) {
			t.Errorf("%s: zeroed %v and %v, note %q", c.Name, p.BetweenRun.Zeroed, p.BetweenDay.Zeroed, p.Note)
		}
		if p.BetweenRun.Zeroed && p.BetweenRun.Variance != 0 {
			t.Errorf("%s: a negative component is reported as %v", c.Name, p.BetweenRun.Variance)
		}
		if p.Note != "" {
			zeroed++
		}
	}
	if len(f.Cases) < 4 || zeroed < 2 {
		t.Errorf("%d cases, %d with a negative component", len(f.Cases), zeroed)
	}
}

func TestNestedRefuses(t *testing.T) {
	one := []Replicate{{"1", "1", 100}, {"1", "1", 101}, {"2", "1", 99}, {"2", "1", 100}}
	with := func(v float64) []Replicate { return append([]Replicate{{"1", "1", v}}, one...) }
	for _, tt := range []struct {
		rows []Replicate
		c    float64
		key  string
	}{
		{one[:2], 0.95, "days-too-few"},
		{nil, 0.95, "days-too-few"},
		{[]Replicate{{"1", "1", 100}, {"2", "1", 99}}, 0.95, "replicates-none"},
		{[]Replicate{{"1", "1", 100}, {"1", "1", 100}, {"2", "1", 100}}, 0.95, "values-constant"},
		{with(math.NaN()), 0.95, "value-not-a-number"},
		{with(math.Inf(1)), 0.95, "value-not-a-number"},
		{one, 0, "confidence-unusable"},
		{one, 1, "confidence-unusable"},
		{one, math.NaN(), "confidence-unusable"},
	} {
		if _, err := Nested(tt.rows, tt.c); !fault.Is(err, tt.key) {
			t.Errorf("%v at %v: %v, want %s", tt.rows, tt.c, err, tt.key)
		}
	}
}

// Another unit scales every SD and leaves CV and degrees of freedom; a constant added changes no SD; the order does not matter.
func TestNestedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var rows, scaled, moved []Replicate
		for range rapid.IntRange(8, 40).Draw(t, "n") {
			r := Replicate{
				fmt.Sprint(rapid.IntRange(1, 4).Draw(t, "day")), fmt.Sprint(rapid.IntRange(1, 3).Draw(t, "run")),
				float64(rapid.IntRange(80, 120).Draw(t, "value")),
			}
			rows = append(rows, r)
			scaled = append(scaled, Replicate{r.Day, r.Run, r.Value * 2})
			moved = append(moved, Replicate{r.Day, r.Run, r.Value + 64})
		}
		p, err := Nested(rows, 0.9)
		if err != nil {
			return // one day or one run each: nothing to nest
		}
		q, m := must[Precision](t)(Nested(scaled, 0.9)), must[Precision](t)(Nested(moved, 0.9))
		o := must[Precision](t)(Nested(rapid.Permutation(rows).Draw(t, "order"), 0.9))
		same := func(what string, a, b float64) {
			if math.Abs(a-b) > 1e-6*(1+math.Abs(b)) {
				t.Fatalf("%s: %v, want %v", what, a, b)
			}
		}
		same("scaled SD", q.WithinLaboratory.SD, 2*p.WithinLaboratory.SD)
		same("scaled CV", q.WithinLaboratory.CV, p.WithinLaboratory.CV)
		same("scaled df", q.WithinLaboratory.DF, p.WithinLaboratory.DF)
		same("moved SD", m.WithinLaboratory.SD, p.WithinLaboratory.SD)
		same("reordered SD", o.WithinLaboratory.SD, p.WithinLaboratory.SD)
		if p.WithinLaboratory.SD+1e-9 < p.Repeatability.SD {
			t.Fatalf("within-laboratory %v is below repeatability %v", p.WithinLaboratory.SD, p.Repeatability.SD)
		}
	})
}

func TestPooledAndDuplicates(t *testing.T) {
	var f struct {
		Inputs struct {
			Groups [][]float64
			A      []float64 `json:"dup1"`
			B      []float64 `json:"dup2"`
		}
		Expected struct {
			SD       float64 `json:"pooled_sd"`
			DF       int     `json:"pooled_df"`
			Dahlberg float64 `json:"dahlberg_sd"`
			CV       float64 `json:"cv_rms_pct"`
			Log      float64 `json:"cv_log_pct"`
		}
		Tolerance float64
	}
	known(t, "precision_pooled_and_duplicates", &f)
	sd, df, err := PooledSD(append(f.Inputs.Groups, []float64{500}))
	if err != nil || df != f.Expected.DF {
		t.Errorf("df %d, %v", df, err)
	}
	near(t, "pooled SD", sd, f.Expected.SD, f.Tolerance)
	d := must[Duplicates](t)(FromDuplicates(f.Inputs.A, f.Inputs.B))
	near(t, "Dahlberg", d.SD, f.Expected.Dahlberg, f.Tolerance)
	near(t, "CV", d.CV, f.Expected.CV, f.Tolerance)
	near(t, "CV by logs", d.CVLogs, f.Expected.Log, f.Tolerance)

	// By hand: 99 and 101 lie 1 % about 100, 198 and 202 lie 1 % about 200, so the squares sum to 4 on 2 degrees of freedom; 7 alone and
	// the group about 0 say nothing.
	if cv, n, df, err := PooledCV([][]float64{{99, 101}, {7}, {-1, 1}, {198, 202}}); err != nil || math.Abs(cv-math.Sqrt2) > 1e-12 || n != 4 || df != 2 {
		t.Errorf("pooled CV %v of %d values on %d, %v; want 1.41421 of 4 on 2", cv, n, df, err)
	}
	if _, _, _, err := PooledCV([][]float64{{5}, {1, math.Inf(1)}}); err == nil {
		t.Error("infinity has a pooled CV")
	}
	for _, g := range [][][]float64{nil, {{1}, {2}}, {{1, math.NaN()}}} {
		if _, _, err := PooledSD(g); err == nil {
			t.Errorf("%v has a pooled SD", g)
		}
	}
	for _, p := range [][2][]float64{{nil, nil}, {{1}, {1, 2}}, {{0}, {1}}, {{1}, {math.Inf(1)}}, {{math.NaN()}, {1}}} {
		if _, err := FromDuplicates(p[0], p[1]); err == nil {
			t.Errorf("%v has an SD of duplicates", p)
		}
	}
}

// Westgard's sigma metric; case 1 is the usual textbook example (see the file).
func TestSigma(t *testing.T) {
	var f struct {
		Inputs struct {
			Cases []struct{ TEa, Bias, CV float64 }
		}
		Expected struct {
			Sigma []float64
			SE    []float64 `json:"critical_se"`
			DPM   []float64 `json:"dpm_one_sided"`
			TE    []float64 `json:"total_error_165"`
		}
	}
	known(t, "sigma_metric", &f)
	failing := 0
	for i, c := range f.Inputs.Cases {
		got := must[Capability](t)(Sigma(c.TEa, c.Bias, c.CV))
		near(t, "sigma", got.Sigma, f.Expected.Sigma[i], 1e-9)
		near(t, "critical error", got.CriticalSE, f.Expected.SE[i], 1e-9)
		near(t, "per million", got.PerMillion, f.Expected.DPM[i], 1e-9)
		near(t, "total error", got.TotalError, f.Expected.TE[i], 1e-9)
		if got.Fails != (got.Sigma < 0) {
			t.Errorf("case %d: sigma %v, fails %v", i+1, got.Sigma, got.Fails)
		}
		if got.Fails {
			failing++
		}
	}
	if failing != 1 {
		t.Errorf("%d cases fail, want the last one", failing)
	}
	for _, bad := range [][3]float64{{0, 1, 1}, {10, 1, 0}, {10, 1, -1}, {10, math.NaN(), 1}, {math.Inf(1), 1, 1}, {10, 1, math.NaN()}} {
		if _, err := Sigma(bad[0], bad[1], bad[2]); !fault.Is(err, "sigma-unusable") {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

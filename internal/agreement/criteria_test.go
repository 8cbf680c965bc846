package agreement

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func judge(t failer, s Standard, pairs []Pair, unit glucose.Unit) Criterion {
	t.Helper()
	c, err := Judge(s, pairs, unit, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

type accuracyFixture struct {
	Inputs   struct{ Ref, Test []float64 }
	Expected struct {
		N         int
		MARD      float64 `json:"mard_pct"`
		Median    float64 `json:"median_ard_pct"`
		Bias      float64 `json:"mean_bias"`
		ISO2013   int     `json:"iso15197_2013_n_within"`
		Within10  int     `json:"within_10"`
		Within5   int     `json:"within_5"`
		Home15    int     `json:"fda_2020_otc_within15pct"`
		Home20    int     `json:"fda_2020_otc_within20pct"`
		Clinic12  int     `json:"fda_2020_poc_12"`
		Clinic15  int     `json:"fda_2020_poc_15"`
		POCT12    int     `json:"poct12a3_12_5"`
		ISO2003   int     `json:"iso15197_2003_n_within"`
		Percent   float64 `json:"iso15197_2013_pct"`
		MetA      bool    `json:"criterion_A_met"`
		PercentAB float64 `json:"criterion_B_pct_AB"`
		MetB      bool    `json:"criterion_B_met"`
	}
}

// Readings exactly on a limit, and a thousand simulated ones; counts in whole numbers by another program.
func TestAccuracyAgainstKnownAnswers(t *testing.T) {
	for _, name := range []string{"accuracy_edges_20", "accuracy_sim1000"} {
		var f accuracyFixture
		read(t, name, &f)
		pairs := pairsOf(f.Inputs.Ref, f.Inputs.Test)
		if name == "accuracy_sim1000" {
			var data regressionFixture
			read(t, "mc_sim1000", &data)
			pairs = pairsOf(data.Inputs.X, data.Inputs.Y)
		}
		w := f.Expected
		if len(pairs) != w.N {
			t.Fatalf("%s has %d pairs, want %d", name, len(pairs), w.N)
		}
		iso := judge(t, ISO15197of2013, pairs, glucose.MgPerDL)
		home, clinic := judge(t, FDAHome2020, pairs, glucose.MgPerDL), judge(t, FDAClinic2020, pairs, glucose.MgPerDL)
		for _, c := range []struct {
			what      string
			got, want int
		}{
			{"ISO 2013", iso.Parts[0].Within, w.ISO2013},
			{"within 10", iso.Parts[2].Within, w.Within10},
			{"within 5", iso.Parts[3].Within, w.Within5},
			{"FDA home 15 %", home.Parts[0].Within, w.Home15},
			{"FDA home 20 %", home.Parts[1].Within, w.Home20},
			{"FDA clinic 12", clinic.Parts[0].Within, w.Clinic12},
			{"FDA clinic 15", clinic.Parts[1].Within, w.Clinic15},
			{"POCT12", judge(t, POCT12, pairs, glucose.MgPerDL).Parts[0].Within, w.POCT12},
			{"ISO 2003", judge(t, ISO15197of2003, pairs, glucose.MgPerDL).Parts[0].Within, w.ISO2003},
		} {
			if c.got != c.want {
				t.Errorf("%s: %s has %d within, want %d", name, c.what, c.got, c.want)
			}
		}
		near(t, "percent", iso.Parts[0].Percent, w.Percent, 1e-9)
		near(t, "percent in A and B", iso.Parts[1].Percent, w.PercentAB, 1e-9)
		if iso.Parts[0].Reached != w.MetA || iso.Parts[1].Reached != w.MetB {
			t.Errorf("%s: the parts of ISO are reached: %v, %v", name, iso.Parts[0].Reached, iso.Parts[1].Reached)
		}
		m, err := MARD(pairs)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "MARD", m.MARD, w.MARD, 1e-9)
		near(t, "median", m.Median, w.Median, 1e-9)
		b, err := Bias(pairs, Difference, DefaultK, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "bias", b.Mean, w.Bias, 1e-9)
	}
}

// Each pair stands on a limit or one step outside it. Limits as in the standards, from memory.
func TestOnTheLimitIsWithin(t *testing.T) {
	for _, x := range []struct {
		standard Standard
		part     int
		unit     glucose.Unit
		pair     Pair
		want     bool
	}{
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{99, 114}, true},
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{99, 115}, false},
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{100, 115}, true},
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{100, 85}, true},
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{100, 84.9}, false},
		{ISO15197of2013, 0, glucose.MgPerDL, Pair{180, 207}, true},
		{ISO15197of2013, 0, glucose.MmolPerL, Pair{5.5, 6.33}, true},
		{ISO15197of2013, 0, glucose.MmolPerL, Pair{5.54, 6.38}, false},
		{ISO15197of2013, 0, glucose.MmolPerL, Pair{5.6, 6.44}, true},
		{ISO15197of2013, 0, glucose.MmolPerL, Pair{5.6, 6.45}, false},
		{ISO15197of2013, 0, glucose.MmolPerL, Pair{4.4, 5.23}, true},
		{ISO15197of2003, 0, glucose.MgPerDL, Pair{74, 89}, true},
		{ISO15197of2003, 0, glucose.MgPerDL, Pair{75, 90}, true},
		{ISO15197of2003, 0, glucose.MgPerDL, Pair{75, 91}, false},
		{ISO15197of2003, 0, glucose.MmolPerL, Pair{4.1, 4.93}, true},
		{ISO15197of2003, 0, glucose.MmolPerL, Pair{4.2, 5.04}, true},
		{ISO15197of2003, 0, glucose.MmolPerL, Pair{4.2, 5.05}, false},
		{FDAHome2020, 0, glucose.MgPerDL, Pair{60, 69}, true},
		{FDAHome2020, 0, glucose.MgPerDL, Pair{60, 70}, false},
		{FDAHome2020, 1, glucose.MmolPerL, Pair{5.5, 6.6}, true},
		{FDAClinic2020, 0, glucose.MgPerDL, Pair{74, 86}, true},
		{FDAClinic2020, 0, glucose.MgPerDL, Pair{75, 84}, true},
		{FDAClinic2020, 0, glucose.MgPerDL, Pair{75, 84.1}, false},
		{FDAClinic2020, 0, glucose.MmolPerL, Pair{10, 11.2}, true},
		{FDAClinic2020, 0, glucose.MmolPerL, Pair{4, 4.66}, true}, // 11.89 mg/dL
		{FDAClinic2020, 0, glucose.MmolPerL, Pair{4, 4.67}, false},
		{POCT12, 0, glucose.MgPerDL, Pair{99, 111}, true},
		{POCT12, 0, glucose.MgPerDL, Pair{120, 135}, true},
		{POCT12, 0, glucose.MgPerDL, Pair{120, 135.1}, false},
	} {
		c := judge(t, x.standard, []Pair{x.pair}, x.unit)
		if got := c.Parts[x.part].Within == 1; got != x.want {
			t.Errorf("%s: %v %s within %q: %v", x.standard, x.pair, x.unit, c.Parts[x.part].Name, got)
		}
	}
}

// A pair on a relative limit stays on it when both values are divided by a factor that leaves no short decimals.
func TestOnTheLimitInLongDecimals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := float64(20 * rapid.IntRange(5, 30).Draw(t, "twenties"))
		f := rapid.Float64Range(1, 1.5).Draw(t, "factor")
		if c := judge(t, FDAHome2020, []Pair{{x / f, x * 115 / 100 / f}}, glucose.MgPerDL); c.Parts[0].Within != 1 {
			t.Fatalf("%v and 15 %% more, divided by %v, are not within 15 %%", x, f)
		}
	})
}

func repeated(n int, p Pair) []Pair {
	out := make([]Pair, n)
	for i := range out {
		out[i] = p
	}
	return out
}

func TestVerdicts(t *testing.T) {
	good, bad := Pair{200, 205}, Pair{200, 260}
	for _, x := range []struct {
		name      string
		good, bad int
		pass      *bool
		note      string
	}{
		{"95 of 100", 95, 5, new(true), ""},
		{"94 of 100", 94, 6, new(false), "Missed: 94 of 100"},
		{"a small sample that reaches it", 99, 0, nil, "too small for the standard: 99 pairs of at least 100"},
		{"a small sample that misses it", 18, 2, new(false), "too small"},
	} {
		c := judge(t, ISO15197of2013, append(repeated(x.good, good), repeated(x.bad, bad)...), glucose.MgPerDL)
		switch {
		case (c.Pass == nil) != (x.pass == nil) || c.Pass != nil && *c.Pass != *x.pass:
			t.Errorf("%s: pass is %v", x.name, c.Pass)
		case x.note == "" && c.Note != "" || !strings.Contains(c.Note, x.note):
			t.Errorf("%s: the note is %q", x.name, c.Note)
		}
		if c.Reached != (x.pass == nil || *x.pass) || c.Source == "" || c.Title == "" {
			t.Errorf("%s: %+v", x.name, c)
		}
	}
	// 99 % in zones A and B: two of 100 in zone C are too many though 95 % are close enough.
	c := judge(t, ISO15197of2013, append(repeated(98, good), repeated(2, Pair{60, 150})...), glucose.MgPerDL)
	if c.Pass == nil || *c.Pass || !c.Parts[0].Reached || c.Parts[1].Reached || !strings.Contains(c.Note, "zones A and B") {
		t.Errorf("98 of 100 in zones A and B: %+v", c)
	}
}

func TestJudgeRefuses(t *testing.T) {
	if _, err := Judge("other", repeated(1, Pair{1, 1}), glucose.MgPerDL, 0.95); err == nil {
		t.Error("an unknown standard judges")
	}
	if _, err := Judge(POCT12, nil, glucose.MgPerDL, 0.95); !fault.Is(err, "pairs-too-few") {
		t.Errorf("no pairs give %v", err)
	}
	if _, err := Judge(POCT12, repeated(1, Pair{1, 1}), "g/L", 0.95); !fault.Is(err, "unit-unknown") {
		t.Errorf("an unknown unit gives %v", err)
	}
	if _, err := Judge(POCT12, []Pair{{1, math.NaN()}}, glucose.MgPerDL, 0.95); !fault.Is(err, "pair-unusable") {
		t.Errorf("NaN gives %v", err)
	}
	if _, err := MARD([]Pair{{100, 100}, {0, 1}}); !fault.Is(err, "reference-zero") || !strings.Contains(err.Error(), "pair 2") {
		t.Errorf("a reference of zero gives %v", err)
	}
}

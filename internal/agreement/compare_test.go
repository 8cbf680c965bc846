package agreement

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func compared(t failer, pairs []Pair, unit glucose.Unit, o Options) Report {
	t.Helper()
	r, err := Compare(pairs, unit, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Every part of the report is the answer of its own function, and JSON has the names that scripts rely on.
func TestCompareHasEverything(t *testing.T) {
	pairs := simulated(120, rand.New(rand.NewPCG(1, 7)))
	r := compared(t, pairs, glucose.MgPerDL, Options{Levels: []float64{126, 200}})
	bias, err := Bias(pairs, Difference, 1.96, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	weighted, err := WeightedDeming(pairs, 1, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(*r.Bias.Result, bias) || !reflect.DeepEqual(*r.WeightedDeming.Result, weighted) {
		t.Errorf("bias %+v, weighted Deming %+v", r.Bias.Result, r.WeightedDeming.Result)
	}
	if r.N != 120 || r.Unit != glucose.MgPerDL || r.Clarke.Total() != 120 || r.Consensus1.Total() != 120 || r.Consensus2.Total() != 120 {
		t.Errorf("%+v", r)
	}
	if r.ISO2013.Result.Pass == nil || r.FDAHome.Result.Pass != nil && *r.FDAHome.Result.Pass {
		t.Error("120 pairs are enough for ISO and too few for the FDA")
	}
	if len(r.Levels) != 2 || r.Levels[0].Deming.Result == nil || r.Levels[1].PassingBablok.Result.CI == nil {
		t.Errorf("levels: %+v", r.Levels)
	}
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var names map[string]json.RawMessage
	if err := json.Unmarshal(b, &names); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{
		"n", "unit", "bias", "mard", "deming", "weighted_deming", "passing_bablok", "ols", "ccc",
		"iso15197_2013", "fda_otc_2020", "fda_poc_2020", "clarke", "consensus_type1", "consensus_type2",
	} {
		if len(names[name]) < 2 {
			t.Errorf("JSON has no %q", name)
		}
	}
}

// What cannot be done says why in place of a number; nothing that is not finite is in the report, whatever the pairs.
func TestCompareSaysWhy(t *testing.T) {
	for _, x := range []struct {
		name  string
		pairs []Pair
		whys  map[string]string // of some methods: what the reason must hold
	}{
		{"one pair", []Pair{{100, 104}}, map[string]string{"bias": "at least 2", "deming": "at least 3", "passing_bablok": "at least 3", "ccc": "at least 3", "bias_trend": "at least 4"}},
		{"all the same", repeated(12, Pair{100, 100}), map[string]string{"ols": "differ", "passing_bablok": "differ", "ccc": "differ", "bias_trend": "differ"}},
		{"a zero reference", pairsOf([]float64{0, 90, 130, 180}, []float64{5, 95, 125, 190}), map[string]string{"mard": "pair 1", "weighted_deming": "zero", "bias_ratio": "zero"}},
		{"falling", pairsOf([]float64{90, 100, 130, 180}, []float64{190, 140, 130, 90}), map[string]string{"passing_bablok": "rises"}},
		{"zeros alone", repeated(5, Pair{0, 0}), map[string]string{"mard": "zero", "bias_percent": "zero", "bias_ratio": "zero"}},
	} {
		r := compared(t, x.pairs, glucose.MgPerDL, Options{Levels: []float64{126, 20}})
		b, err := json.Marshal(r) // refuses NaN and infinity
		if err != nil {
			t.Fatalf("%s: %v", x.name, err)
		}
		var parts map[string]struct{ Result, Why any }
		if err := json.Unmarshal(slices.Clone(trimmed(t, b)), &parts); err != nil {
			t.Fatal(err)
		}
		for name, p := range parts {
			if (p.Result == nil) == (p.Why == nil) {
				t.Errorf("%s: %s has the result %v and the reason %v", x.name, name, p.Result, p.Why)
			}
		}
		for name, why := range x.whys {
			if got, _ := parts[name].Why.(string); !strings.Contains(got, why) {
				t.Errorf("%s: %s says %q, want %q", x.name, name, got, why)
			}
		}
	}
}

// trimmed keeps the parts of a report that are a result or a reason.
func trimmed(t *testing.T, b []byte) []byte {
	t.Helper()
	var all map[string]json.RawMessage
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"n", "unit", "confidence", "lambda", "reference", "levels", "clarke", "consensus_type1", "consensus_type2", "cautions"} {
		delete(all, name)
	}
	out, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestCompareIsAlwaysFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pairs := drawPairs(t, 1, 30, rapid.SampledFrom([]float64{1, 10, 18.016}).Draw(t, "scale"))
		form := rapid.SampledFrom([]Form{Tangent, Angle, Equivariant}).Draw(t, "form")
		before := slices.Clone(pairs)
		r := compared(t, pairs, glucose.MgPerDL, Options{Form: form, Levels: []float64{3}})
		if _, err := json.Marshal(r); err != nil {
			t.Fatalf("%v: %v", pairs, err)
		}
		if !slices.Equal(before, pairs) {
			t.Fatal("the pairs were changed")
		}
	})
}

// The same readings in mmol/L (times 1/18.016): lines keep their slope, differences scale, grids and relative measures stay.
func TestCompareInTheOtherUnit(t *testing.T) {
	mg := simulated(200, rand.New(rand.NewPCG(2, 7)))
	mmol := make([]Pair, len(mg))
	for i, p := range mg {
		mmol[i] = Pair{p.Reference / 18.016, p.Meter / 18.016}
	}
	a, b := compared(t, mg, glucose.MgPerDL, Options{}), compared(t, mmol, glucose.MmolPerL, Options{})
	for _, v := range [][2]float64{
		{a.Bias.Result.Mean / 18.016, b.Bias.Result.Mean},
		{a.Bias.Result.UpperCI.High / 18.016, b.Bias.Result.UpperCI.High},
		{a.PercentBias.Result.Limits.Low, b.PercentBias.Result.Limits.Low},
		{a.RatioBias.Result.Mean, b.RatioBias.Result.Mean},
		{a.MARD.Result.MARD, b.MARD.Result.MARD},
		{a.CCC.Result.CCC, b.CCC.Result.CCC},
		{a.CCC.Result.CI.Low, b.CCC.Result.CI.Low},
		{a.OLS.Result.Slope.SE, b.OLS.Result.Slope.SE},
		{a.Deming.Result.Slope.CI.Low, b.Deming.Result.Slope.CI.Low},
		{a.WeightedDeming.Result.Intercept.Value / 18.016, b.WeightedDeming.Result.Intercept.Value},
		{a.PassingBablok.Result.Slope.CI.High, b.PassingBablok.Result.Slope.CI.High},
		{a.PassingBablok.Result.Intercept.CI.Low / 18.016, b.PassingBablok.Result.Intercept.CI.Low},
		{a.PassingBablok.Result.Linearity.Statistic, b.PassingBablok.Result.Linearity.Statistic},
	} {
		near(t, "a measure in mmol/L", v[1], v[0], 1e-8)
	}
	if a.Consensus1 != b.Consensus1 || a.Consensus2 != b.Consensus2 || a.Clarke != b.Clarke {
		t.Errorf("zones %+v %+v %+v, in mmol/L %+v %+v %+v", a.Clarke, a.Consensus1, a.Consensus2, b.Clarke, b.Consensus1, b.Consensus2)
	}
	for _, v := range [][2]Criterion{{*a.FDAHome.Result, *b.FDAHome.Result}, {*a.FDAClinic.Result, *b.FDAClinic.Result}, {*a.POCT12.Result, *b.POCT12.Result}} {
		if v[0].Parts[0].Within != v[1].Parts[0].Within {
			t.Errorf("%s: %d within, in mmol/L %d", v[0].Title, v[0].Parts[0].Within, v[1].Parts[0].Within)
		}
	}
}

func TestCautions(t *testing.T) {
	few := compared(t, simulated(20, rand.New(rand.NewPCG(3, 7))), glucose.MgPerDL, Options{})
	if len(few.Cautions) == 0 || !strings.Contains(few.Cautions[0], "20 pairs are few") {
		t.Errorf("%q", few.Cautions)
	}
	var bent []Pair
	for i := range 60 {
		x := float64(50 + 5*i)
		bent = append(bent, Pair{x, x + 0.002*x*x + float64(i%3)})
	}
	r := compared(t, bent, glucose.MgPerDL, Options{})
	if !slices.ContainsFunc(r.Cautions, func(s string) bool { return strings.Contains(s, "bend") }) {
		t.Errorf("%q", r.Cautions)
	}
	for i := range bent {
		bent[i] = Pair{100 + float64(i%7), 100 + float64(i%7) + 8*math.Mod(float64(i)*0.618, 1)}
	}
	r = compared(t, bent, glucose.MgPerDL, Options{})
	if !slices.ContainsFunc(r.Cautions, func(s string) bool { return strings.Contains(s, "narrow") }) {
		t.Errorf("%q", r.Cautions)
	}
}

func TestCautionAgainstFallingPairs(t *testing.T) {
	r := compared(t, pairsOf([]float64{90, 100, 130, 180}, []float64{190, 140, 130, 90}), glucose.MgPerDL, Options{})
	if !slices.ContainsFunc(r.Cautions, func(s string) bool { return strings.Contains(s, "does not rise") }) {
		t.Errorf("%q", r.Cautions)
	}
}

func TestCompareRefuses(t *testing.T) {
	one := []Pair{{100, 100}}
	for _, x := range []struct {
		pairs []Pair
		unit  glucose.Unit
		o     Options
		key   string
	}{
		{nil, glucose.MgPerDL, Options{}, "pairs-too-few"},
		{one, "g/L", Options{}, "unit-unknown"},
		{one, glucose.MgPerDL, Options{Confidence: 95}, "confidence-unusable"},
		{one, glucose.MgPerDL, Options{Lambda: -1}, "ratio-unusable"},
		{one, glucose.MgPerDL, Options{K: -2}, "multiple-unusable"},
		{one, glucose.MgPerDL, Options{Form: "other"}, "form-unknown"},
		{[]Pair{{100, 100}, {90, math.NaN()}}, glucose.MgPerDL, Options{}, "pair-unusable"},
		{[]Pair{{100, -1}}, glucose.MmolPerL, Options{}, "pair-unusable"},
	} {
		if r, err := Compare(x.pairs, x.unit, x.o); !fault.Is(err, x.key) || r.N != 0 {
			t.Errorf("%v: %+v, %v; want %s", x.pairs, r, err, x.key)
		}
	}
	_, err := Compare([]Pair{{100, 100}, {90, math.NaN()}}, glucose.MgPerDL, Options{})
	if f := fault.Of(err); f.Kind != fault.Invalid || !strings.Contains(f.Sentence, "meter value of pair 2") || f.Do == "" {
		t.Errorf("%v", err)
	}
}

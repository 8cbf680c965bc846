package exchange

import (
	"embed"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/agreement"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

//go:embed testdata/*.csv
var numberFiles embed.FS

func comparisonOf(t *testing.T, text string, unit glucose.Unit) (Comparison, map[string]any) {
	t.Helper()
	p, err := ReadPairs(strings.NewReader(text), unit)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Compare(p, agreement.Options{})
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(c) // refuses NaN and infinities
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	return c, m
}

func aboutEqual(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol*math.Max(1, math.Abs(want)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// A simulated comparison of 1000 pairs of whole mg/dL (log-uniform 40 to 500, laboratory CV 2 %, meter 4 + 0.96 true with CV 6
// %). Expected: R 4.2.2 with mcr 1.3.3.1 (least squares; Deming by jackknife; weighted Deming by jackknife above n = 200 from
// its own moments) and epiR (concordance); Passing-Bablok with the limits of 1983 and the counts by code written for the
// purpose.
func TestComparisonOfAThousandPairs(t *testing.T) {
	data, err := numberFiles.ReadFile("testdata/sim1000.csv")
	if err != nil {
		t.Fatal(err)
	}
	c, _ := comparisonOf(t, string(data), glucose.MgPerDL)
	if c.N != 1000 || c.Unit != glucose.MgPerDL || c.UnitFrom != UnitGiven {
		t.Errorf("%d pairs in %s (%s)", c.N, c.Unit, c.UnitFrom)
	}
	aboutEqual(t, "bias", c.Bias.Mean, -3.933, 1e-9)
	aboutEqual(t, "MARD", *c.MARD, 5.615970245710045, 1e-9)
	aboutEqual(t, "median ARD", *c.MedianARD, 4.751642036124794, 1e-9)
	line := func(what string, l *LineJSON, slope, low, high, intercept, ilow, ihigh, tol float64) {
		t.Helper()
		aboutEqual(t, what+" slope", l.Slope, slope, tol)
		aboutEqual(t, what+" slope low", l.SlopeCI[0], low, tol)
		aboutEqual(t, what+" slope high", l.SlopeCI[1], high, tol)
		aboutEqual(t, what+" intercept", l.Intercept, intercept, tol)
		aboutEqual(t, what+" intercept low", l.InterceptCI[0], ilow, tol)
		aboutEqual(t, what+" intercept high", l.InterceptCI[1], ihigh, tol)
	}
	line("ols", c.OLS, 0.947813407535163, 0.941146895743178, 0.954479919327148, 5.63092368147582, 4.13544867066307, 7.12639869228857, 1e-9)
	line("deming", c.Deming, 0.953582538772962, 0.943452462434584, 0.96371261511134, 4.57364961431193, 3.28432928035132, 5.86296994827255, 1e-9)
	line("passing_bablok", &c.PassingBablok.LineJSON, 0.9601328903654485, 0.9525862068965517, 0.967741935483871, 4.122923588039868, 3.274193548387089, 4.991379310344826, 1e-9)
	aboutEqual(t, "weighted slope", c.WeightedDeming.Slope, 0.957562468601637, 1e-6)
	aboutEqual(t, "weighted intercept", c.WeightedDeming.Intercept, 4.03108139459601, 1e-6)
	aboutEqual(t, "ccc", *c.CCC, 0.992063145181294, 1e-9)
	aboutEqual(t, "ccc low", c.CCCCI[0], 0.991101484721352, 1e-7)
	aboutEqual(t, "ccc high", c.CCCCI[1], 0.992921248699335, 1e-7)
	for _, x := range []struct {
		name   string
		c      *CriterionJSON
		within int
		pass   bool
	}{
		{"iso15197_2013", c.ISO2013, 979, true},
		{"fda_otc_2020", c.FDAHome, 958, true},
		{"fda_poc_2020", c.FDAClinic, 938, false},
		{"iso15197_2003", c.ISO2003, 1000, true},
		{"poct12_a3", c.POCT12, 954, true},
	} {
		if x.c.Within != x.within || x.c.N != 1000 || x.c.Pass != x.pass || !x.c.Enough || math.Abs(x.c.Percent-float64(x.within)/10) > 1e-9 {
			t.Errorf("%s: %+v", x.name, x.c)
		}
	}
	if *c.Consensus1 != (agreement.ZoneCounts{A: 996, B: 4}) || c.Clarke.Total() != 1000 || c.Consensus2.Total() != 1000 {
		t.Errorf("zones %+v %+v %+v", c.Clarke, c.Consensus1, c.Consensus2)
	}
}

// Every name that others script against is there, whatever could not be done.
func TestComparisonHasItsShape(t *testing.T) {
	for name, text := range map[string]string{
		"ten pairs": "reference,meter\n88,90\n95,93\n95,99\n102,100\n110,113\n110,113\n126,125\n140,144\n155,149\n201,210\n",
		"one pair":  "reference,meter\n88,90\n",
		"two pairs": "reference,meter\n88,90\n95,93\n",
		"constant":  "reference,meter\n88,90\n88,90\n88,90\n88,90\n",
		"falling":   "reference,meter\n88,120\n95,110\n105,100\n120,90\n",
		"perfect":   "reference,meter\n88,88\n95,95\n105,105\n120,120\n",
	} {
		t.Run(name, func(t *testing.T) {
			c, m := comparisonOf(t, text, glucose.MgPerDL)
			notes := strings.Join(c.Notes, "\n")
			for field, parts := range map[string][]string{
				"bias": {"mean", "sd", "ci", "loa", "loa_ci"}, "deming": {"slope", "slope_ci", "intercept", "intercept_ci"},
				"weighted_deming": {"slope", "slope_ci", "intercept", "intercept_ci"}, "passing_bablok": {"slope", "slope_ci", "intercept", "intercept_ci"},
				"ols":           {"slope", "slope_ci", "intercept", "intercept_ci"},
				"iso15197_2013": {"within", "n", "percent", "pass"}, "fda_otc_2020": {"within", "n", "percent", "pass"}, "fda_poc_2020": {"within", "n", "percent", "pass"},
				"clarke": {"A", "B", "C", "D", "E"}, "consensus_type1": {"A", "B", "C", "D", "E"}, "consensus_type2": {"A", "B", "C", "D", "E"},
			} {
				v, there := m[field]
				if !there {
					t.Fatalf("%s is missing", field)
				}
				if v == nil {
					if !strings.Contains(notes, field+": ") {
						t.Errorf("%s is null without a note: %q", field, notes)
					}
					continue
				}
				for _, p := range parts {
					if _, there := v.(map[string]any)[p]; !there {
						t.Errorf("%s.%s is missing", field, p)
					}
				}
			}
			for _, field := range []string{"n", "unit", "mard", "ccc", "ccc_ci", "notes"} {
				if _, there := m[field]; !there {
					t.Errorf("%s is missing", field)
				}
			}
			for _, field := range []string{"mard", "ccc"} { // numbers, or null with a note
				switch m[field].(type) {
				case float64:
				case nil:
					if !strings.Contains(notes, field+": ") {
						t.Errorf("%s is null without a note: %q", field, notes)
					}
				default:
					t.Errorf("%s is %v", field, m[field])
				}
			}
			if name == "one pair" && (c.Bias != nil || c.Deming != nil || c.ISO2013 == nil || *c.Clarke != (agreement.ZoneCounts{A: 1})) {
				t.Errorf("%+v", c)
			}
			if name == "constant" && (c.PassingBablok != nil || c.OLS != nil || c.CCC != nil || c.Bias.SD != 0) {
				t.Errorf("%+v", c)
			}
		})
	}
}

// Values that look like the other unit have no criteria and no grids, but bias and lines, and the notes say why.
func TestDoubtfulUnitHasNoCriteria(t *testing.T) {
	c, _ := comparisonOf(t, "reference,meter\n5.4,5.6\n7.8,7.4\n11.7,12.3\n6.6,6.1\n", glucose.MgPerDL)
	if c.ISO2013 != nil || c.ISO2003 != nil || c.FDAHome != nil || c.FDAClinic != nil || c.POCT12 != nil || c.Clarke != nil || c.Consensus1 != nil || c.Consensus2 != nil {
		t.Errorf("%+v", c)
	}
	if c.Bias == nil || c.Deming == nil {
		t.Errorf("%+v", c)
	}
	if !slices.ContainsFunc(c.Notes, func(n string) bool { return strings.Contains(n, "left out, because the unit is in doubt") }) {
		t.Errorf("%q", c.Notes)
	}
}

// Two samples of two and three readings: SD = sqrt((2 + 8)/(1 + 2)), by hand.
func TestComparisonPoolsReplicates(t *testing.T) {
	c, _ := comparisonOf(t, "reference,meter,replicate\n98,101,1\n98,99,2\n140,133,1\n140,135,2\n140,137,3\n", glucose.MgPerDL)
	if c.Replicates == nil || c.Replicates.Samples != 2 || c.Replicates.DF != 3 {
		t.Fatalf("%+v", c.Replicates)
	}
	aboutEqual(t, "SD", c.Replicates.SD, math.Sqrt(10.0/3), 1e-12)
	if c, _ := comparisonOf(t, "reference,meter,replicate\n98,101,1\n140,133,1\n", glucose.MgPerDL); c.Replicates != nil {
		t.Errorf("without repeats: %+v", c.Replicates)
	}
}

func TestCompareRefusesOptions(t *testing.T) {
	p := Pairs{Pairs: []agreement.Pair{{Reference: 98, Meter: 101}}, Unit: glucose.MgPerDL}
	for _, o := range []agreement.Options{{Lambda: -1}, {Confidence: 2}, {K: -2}} {
		if _, err := Compare(p, o); fault.Of(err).Kind != fault.Invalid {
			t.Errorf("%+v: %v", o, err)
		}
	}
}

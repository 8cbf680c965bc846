package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

type screeningAnswer struct {
	Inputs struct {
		TP, FP, FN, TN int
		Conf           float64
	}
	Expected struct {
		Sens, Spec, PPV, NPV, Prev, Accuracy, Youden float64
		LRPos                                        float64    `json:"lr_pos"`
		LRPosCI                                      [2]float64 `json:"lr_pos_ci_simel"`
		LRNeg                                        float64    `json:"lr_neg"`
		LRNegCI                                      [2]float64 `json:"lr_neg_ci_simel"`
		SensWilson                                   [2]float64 `json:"sens_ci_wilson"`
		SpecWilson                                   [2]float64 `json:"spec_ci_wilson"`
		PPVWilson                                    [2]float64 `json:"ppv_ci_wilson"`
		NPVWilson                                    [2]float64 `json:"npv_ci_wilson"`
		SensExact                                    [2]float64 `json:"sens_ci_exact"`
		SpecExact                                    [2]float64 `json:"spec_ci_exact"`
		PPVExact                                     [2]float64 `json:"ppv_ci_exact"`
		NPVExact                                     [2]float64 `json:"npv_ci_exact"`
		OddsRatio                                    float64    `json:"diagnostic_or"`
		PerHit                                       float64    `json:"number_needed_to_screen_1_over_detected"`
	}
}

func TestTableAgainstPublished(t *testing.T) {
	for _, name := range []string{"screening_2x2_fob_wikipedia", "screening_2x2_scott2008"} {
		var ref screeningAnswer
		load(t, name, &ref)
		in, e := ref.Inputs, ref.Expected
		table := Table{TP: in.TP, FP: in.FP, FN: in.FN, TN: in.TN}
		share := func(what string, f func(float64) (Share, error), value float64, wilson, exact *[2]float64) {
			t.Helper()
			s, err := f(in.Conf)
			if err != nil {
				t.Fatalf("%s: %s: %v", name, what, err)
			}
			if !near(s.Value, value, 1e-12) {
				t.Errorf("%s: %s = %v, want %v", name, what, s.Value, value)
			}
			if wilson != nil && (!near(s.Wilson.Low, wilson[0], 1e-9) || !near(s.Wilson.High, wilson[1], 1e-9)) {
				t.Errorf("%s: Wilson interval of %s = %v, want %v", name, what, s.Wilson, *wilson)
			}
			if exact != nil && (!near(s.Exact.Low, exact[0], 1e-9) || !near(s.Exact.High, exact[1], 1e-9)) {
				t.Errorf("%s: exact interval of %s = %v, want %v", name, what, s.Exact, *exact)
			}
		}
		share("sensitivity", table.Sensitivity, e.Sens, &e.SensWilson, &e.SensExact)
		share("specificity", table.Specificity, e.Spec, &e.SpecWilson, &e.SpecExact)
		share("PPV", table.PPV, e.PPV, &e.PPVWilson, &e.PPVExact)
		share("NPV", table.NPV, e.NPV, &e.NPVWilson, &e.NPVExact)
		share("prevalence", table.Prevalence, e.Prev, nil, nil)
		share("agreement", table.Agreement, e.Accuracy, nil, nil)
		ratio := func(what string, f func(float64) (Ratio, error), value float64, ci *[2]float64) {
			t.Helper()
			r, err := f(in.Conf)
			if err != nil || !near(r.Value, value, 1e-9) || ci != nil && (!near(r.Low, ci[0], 1e-9) || !near(r.High, ci[1], 1e-9)) {
				t.Errorf("%s: %s = %+v, %v; want %v %v", name, what, r, err, value, ci)
			}
		}
		ratio("LR+", table.PositiveLR, e.LRPos, &e.LRPosCI)
		ratio("LR-", table.NegativeLR, e.LRNeg, &e.LRNegCI)
		ratio("odds ratio", table.OddsRatio, e.OddsRatio, nil)
		if y, err := table.Youden(in.Conf); err != nil || !near(y.Value, e.Youden, 1e-12) || y.Low > y.Value || y.High < y.Value {
			t.Errorf("%s: Youden = %+v, %v; want %v", name, y, err, e.Youden)
		}
		y, err := YieldOf(in.TP+in.FP+in.FN+in.TN, e.Prev, e.Sens, e.Spec, in.Conf)
		if err != nil {
			t.Fatal(err)
		}
		if !near(*y.ScreenedPerHit, e.PerHit, 1e-9) || !near(y.TruePositives.Mean, float64(in.TP), 1e-9) || !near(y.FalsePositives.Mean, float64(in.FP), 1e-9) ||
			!near(y.Missed.Mean, float64(in.FN), 1e-9) || !near(y.TrueNegatives.Mean, float64(in.TN), 1e-9) {
			t.Errorf("%s: the yield does not give its own table back: %+v", name, y)
		}
	}
}

// A table of 670/202/74/640 with rounded published intervals: LR+ 3.75 (3.32-4.24), LR- 0.13 (0.11-0.16). Scott IA, Greenberg
// PB, Poole PJ 2008.
func TestRatioRounded(t *testing.T) {
	table := Table{TP: 670, FP: 202, FN: 74, TN: 640}
	p, err := table.PositiveLR(0.95)
	if err != nil || !near(p.Value, 3.75, 0.005) || !near(p.Low, 3.32, 0.005) || !near(p.High, 4.24, 0.005) {
		t.Errorf("LR+ = %+v, %v", p, err)
	}
	m, err := table.NegativeLR(0.95)
	if err != nil || !near(m.Value, 0.13, 0.005) || !near(m.Low, 0.11, 0.005) || !near(m.High, 0.16, 0.005) {
		t.Errorf("LR- = %+v, %v", m, err)
	}
}

func TestTableRefuses(t *testing.T) {
	for name, f := range map[string]func() error{
		"nobody with it":        func() error { _, err := Table{FP: 3, TN: 4}.Sensitivity(0.95); return err },
		"nobody without it":     func() error { _, err := Table{TP: 3, FN: 4}.Specificity(0.95); return err },
		"no positives":          func() error { _, err := Table{FN: 3, TN: 4}.PPV(0.95); return err },
		"no negatives":          func() error { _, err := Table{TP: 3, FP: 4}.NPV(0.95); return err },
		"empty":                 func() error { _, err := Table{}.Agreement(0.95); return err },
		"empty, prevalence":     func() error { _, err := Table{}.Prevalence(0.95); return err },
		"negative":              func() error { _, err := Table{TP: -1, FN: 4}.Sensitivity(0.95); return err },
		"negative, ratio":       func() error { _, err := Table{TP: 1, FN: -4, FP: 1, TN: 1}.PositiveLR(0.95); return err },
		"negative, odds":        func() error { _, err := Table{TP: 1, FN: -4, FP: 1, TN: 1}.OddsRatio(0.95); return err },
		"negative, Youden":      func() error { _, err := Table{TP: 1, FN: -4, FP: 1, TN: 1}.Youden(0.95); return err },
		"no false positive":     func() error { _, err := Table{TP: 3, FN: 1, TN: 4}.PositiveLR(0.95); return err },
		"no true positive":      func() error { _, err := Table{FP: 3, FN: 1, TN: 4}.PositiveLR(0.95); return err },
		"no true negative":      func() error { _, err := Table{TP: 3, FN: 1, FP: 4}.NegativeLR(0.95); return err },
		"no false negative":     func() error { _, err := Table{TP: 3, TN: 1, FP: 4}.NegativeLR(0.95); return err },
		"an empty cell":         func() error { _, err := Table{TP: 3, TN: 1, FP: 4}.OddsRatio(0.95); return err },
		"confidence of a ratio": func() error { _, err := Table{3, 1, 4, 4}.PositiveLR(95); return err },
		"confidence of odds":    func() error { _, err := Table{3, 1, 4, 4}.OddsRatio(95); return err },
		"prevalence above 1":    func() error { _, err := PPVAt(1.2, 0.9, 0.9); return err },
		"NaN":                   func() error { _, err := NPVAt(0.2, math.NaN(), 0.9); return err },
		"nobody positive":       func() error { _, err := PPVAt(0.2, 0, 1); return err },
		"nobody negative":       func() error { _, err := NPVAt(0.2, 1, 0); return err },
		"nobody screened":       func() error { _, err := YieldOf(0, 0.1, 0.9, 0.9, 0.95); return err },
		"yield of a percentage": func() error { _, err := YieldOf(10, 10, 0.9, 0.9, 0.95); return err },
		"yield's confidence":    func() error { _, err := YieldOf(10, 0.1, 0.9, 0.9, 1); return err },
	} {
		if f() == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// Bayes at the prevalences of the usual teaching table and others; per 1000 people.
func TestOtherPrevalence(t *testing.T) {
	var ref struct {
		Inputs   struct{ Cases [][3]float64 }
		Expected struct {
			PPV, NPV []float64
			Per1000  []struct {
				Positive     float64
				TruePositive float64 `json:"true_positive"`
				Missed       float64
			} `json:"per_1000"`
		}
	}
	load(t, "screening_bayes_prevalence", &ref)
	if len(ref.Inputs.Cases) < 7 {
		t.Fatalf("%d cases", len(ref.Inputs.Cases))
	}
	for i, c := range ref.Inputs.Cases {
		sens, spec, prev := c[0], c[1], c[2]
		ppv, err := PPVAt(prev, sens, spec)
		if err != nil || !near(ppv, ref.Expected.PPV[i], 1e-12) {
			t.Errorf("PPV of %v = %v, %v; want %v", c, ppv, err, ref.Expected.PPV[i])
		}
		npv, err := NPVAt(prev, sens, spec)
		if err != nil || !near(npv, ref.Expected.NPV[i], 1e-12) {
			t.Errorf("NPV of %v = %v, %v; want %v", c, npv, err, ref.Expected.NPV[i])
		}
		y, err := YieldOf(1000, prev, sens, spec, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		want := ref.Expected.Per1000[i]
		if !near(y.Positives.Mean, want.Positive, 1e-12) || !near(y.TruePositives.Mean, want.TruePositive, 1e-12) || !near(y.Missed.Mean, want.Missed, 1e-12) {
			t.Errorf("per 1000 of %v: %+v, want %+v", c, y, want)
		}
		if !near(*y.PPV, ppv, 1e-12) || !near(*y.NPV, npv, 1e-12) {
			t.Errorf("the yield says %v and %v, want %v and %v", *y.PPV, *y.NPV, ppv, npv)
		}
	}
}

// The bounds hold what chance makes of a screening, within Monte-Carlo error: drawn person by person, not by the binomial.
func TestYieldHoldsWhatChanceMakes(t *testing.T) {
	const n, draws = 120, 20000
	const prev, sens, spec = 0.1, 0.8, 0.9
	y, err := YieldOf(n, prev, sens, spec, 0.9)
	if err != nil {
		t.Fatal(err)
	}
	src := rand.New(rand.NewPCG(3, 4))
	held := 0
	var sum float64
	for range draws {
		tp := 0
		for range n {
			if src.Float64() < prev && src.Float64() < sens {
				tp++
			}
		}
		sum += float64(tp)
		if tp >= y.TruePositives.Low && tp <= y.TruePositives.High {
			held++
		}
	}
	mc := math.Sqrt(0.9 * 0.1 / draws)
	want := binomialCDF(y.TruePositives.High, n, prev*sens) - binomialCDF(y.TruePositives.Low-1, n, prev*sens)
	if share := float64(held) / draws; math.Abs(share-want) > 4*mc || want < 0.9 {
		t.Errorf("%v to %v held %v of the screenings, want %v", y.TruePositives.Low, y.TruePositives.High, share, want)
	}
	if mean := sum / draws; math.Abs(mean-y.TruePositives.Mean) > 4*3/math.Sqrt(draws) {
		t.Errorf("mean %v, want %v", mean, y.TruePositives.Mean)
	}
}

func TestYieldProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		prev, sens, spec := rapid.Float64Range(0, 1).Draw(t, "prevalence"), rapid.Float64Range(0, 1).Draw(t, "sensitivity"), rapid.Float64Range(0, 1).Draw(t, "specificity")
		y, err := YieldOf(n, prev, sens, spec, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		all := y.TruePositives.Mean + y.FalsePositives.Mean + y.Missed.Mean + y.TrueNegatives.Mean
		if !near(all, float64(n), 1e-9) || !near(y.Positives.Mean, y.TruePositives.Mean+y.FalsePositives.Mean, 1e-9) {
			t.Fatalf("the cells do not make the whole: %+v", y)
		}
		for _, e := range []Expected{y.Positives, y.TruePositives, y.FalsePositives, y.Missed, y.TrueNegatives} {
			if e.Low < 0 || e.High > n || float64(e.Low) > e.Mean+1 || float64(e.High) < e.Mean-1 {
				t.Fatalf("%+v of %d", e, n)
			}
		}
	})
}

// Counts of a public data set of 403 adults at several limits (source in the file): each table must hold the same people, and a
// higher limit finds fewer with fewer false alarms.
func TestLimitsOfARealScreening(t *testing.T) {
	var ref struct {
		Expected struct {
			NComplete int              `json:"n_complete"`
			NDisease  int              `json:"n_disease"`
			Tables    map[string]Table `json:"two_by_two"`
			Digits    LastDigits       `json:"last_digit_counts"`
			Chi2      float64          `json:"last_digit_chi2"`
		}
	}
	load(t, "real_schorling_screening", &ref)
	e := ref.Expected
	if len(e.Tables) < 5 {
		t.Fatalf("%d tables", len(e.Tables))
	}
	lastSens, lastSpec := 2.0, -1.0
	for _, limit := range []string{"100", "110", "126", "140", "200"} {
		sens, err := e.Tables[limit].Sensitivity(0.95)
		if err != nil {
			t.Fatal(err)
		}
		spec, err := e.Tables[limit].Specificity(0.95)
		if err != nil {
			t.Fatal(err)
		}
		if sens.N != e.NDisease || sens.N+spec.N != e.NComplete || sens.Value >= lastSens || spec.Value <= lastSpec {
			t.Errorf("at %s: %+v %+v", limit, sens, spec)
		}
		lastSens, lastSpec = sens.Value, spec.Value
	}
	if got, err := e.Digits.Evenness(); err != nil || !near(got.ChiSquare, e.Chi2, 1e-9) {
		t.Errorf("chi-square %+v, %v; want %v", got, err, e.Chi2)
	}
}

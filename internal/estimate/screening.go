package estimate

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mathext"
)

// Table is a fourfold table: what the screening said against what was found by the criterion.
type Table struct {
	TP int `json:"tp"` // said so, and it was
	FP int `json:"fp"` // said so, but it was not
	FN int `json:"fn"` // missed
	TN int `json:"tn"` // left alone, rightly
}

func (t Table) check() error {
	if t.TP < 0 || t.FP < 0 || t.FN < 0 || t.TN < 0 {
		return fmt.Errorf("a negative count in the table %+v", t)
	}
	return nil
}

// Sensitivity is TP/(TP+FN), the share of those with the condition that the screening finds. Nobody with it is an error.
func (t Table) Sensitivity(confidence float64) (Share, error) {
	return t.share("the sensitivity", t.TP, t.TP+t.FN, confidence)
}

// Specificity is TN/(TN+FP), the share of those without the condition that the screening leaves alone. Nobody without it is
// an error.
func (t Table) Specificity(confidence float64) (Share, error) {
	return t.share("the specificity", t.TN, t.TN+t.FP, confidence)
}

// PPV is TP/(TP+FP), the share of the positives that have the condition, at the prevalence of this table: it means nothing when
// people were chosen by their condition; then use PPVAt. No positives are an error.
func (t Table) PPV(confidence float64) (Share, error) {
	return t.share("the positive predictive value", t.TP, t.TP+t.FP, confidence)
}

// NPV is TN/(TN+FN), the share of the negatives without the condition, at the prevalence of this table, as for PPV. No
// negatives are an error.
func (t Table) NPV(confidence float64) (Share, error) {
	return t.share("the negative predictive value", t.TN, t.TN+t.FN, confidence)
}

// Prevalence is (TP+FN)/all, the share of this table with the condition. An empty table is an error.
func (t Table) Prevalence(confidence float64) (Share, error) {
	return t.share("the prevalence", t.TP+t.FN, t.TP+t.FN+t.FP+t.TN, confidence)
}

// Agreement is (TP+TN)/all, often called accuracy. An empty table is an error.
func (t Table) Agreement(confidence float64) (Share, error) {
	return t.share("the agreement", t.TP+t.TN, t.TP+t.FN+t.FP+t.TN, confidence)
}

func (t Table) share(what string, x, n int, confidence float64) (Share, error) {
	if err := t.check(); err != nil {
		return Share{}, err
	}
	s, err := ShareOf(x, n, confidence)
	if err != nil {
		return Share{}, fmt.Errorf("%s: %w", what, err)
	}
	return s, nil
}

// Ratio is a ratio with its interval.
type Ratio struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// PositiveLR is the likelihood ratio of a positive, sensitivity/(1-specificity), with the interval on the logarithm:
//
//	exp(ln LR ± z sqrt(1/TP - 1/(TP+FN) + 1/FP - 1/(FP+TN)))
//
// Without a true and a false positive the ratio or its interval has no bound: that is an error, as is a bad confidence. Source:
// Simel DL, Samsa GP, Matchar DB, J Clin Epidemiol 1991;44:763-70.
func (t Table) PositiveLR(confidence float64) (Ratio, error) {
	return t.ratio("positive", t.TP, t.FP, confidence)
}

// NegativeLR is the likelihood ratio of a negative, (1-sensitivity)/specificity, with the interval of PositiveLR from FN and TN
// in place of TP and FP. Without a false and a true negative it is an error.
func (t Table) NegativeLR(confidence float64) (Ratio, error) {
	return t.ratio("negative", t.FN, t.TN, confidence)
}

func (t Table) ratio(what string, with, without int, confidence float64) (Ratio, error) {
	if err := t.check(); err != nil {
		return Ratio{}, err
	}
	if err := checkConfidence(confidence); err != nil {
		return Ratio{}, err
	}
	if with == 0 || without == 0 {
		return Ratio{}, fmt.Errorf("the likelihood ratio of a %s needs at least one true and one false %s, got %d with and %d without the condition", what, what, with, without)
	}
	a, b := float64(with), float64(without)
	m, n := float64(t.TP+t.FN), float64(t.FP+t.TN)
	lr := (a / m) / (b / n)
	spread := NormalQuantile(0.5+confidence/2) * math.Sqrt((1/a-1/m)+(1/b-1/n))
	return Ratio{Value: lr, Low: lr * math.Exp(-spread), High: lr * math.Exp(spread)}, nil
}

// OddsRatio is the diagnostic odds ratio TP TN/(FP FN) with the interval exp(ln OR ± z sqrt(1/TP + 1/FP + 1/FN + 1/TN)). An
// empty cell leaves it without a bound: that is an error. Source: Woolf B, Ann Hum Genet 1955;19:251-3; as a measure of a
// test, Glas AS and others, J Clin Epidemiol 2003;56:1129-35.
func (t Table) OddsRatio(confidence float64) (Ratio, error) {
	if err := t.check(); err != nil {
		return Ratio{}, err
	}
	if err := checkConfidence(confidence); err != nil {
		return Ratio{}, err
	}
	if t.TP == 0 || t.FP == 0 || t.FN == 0 || t.TN == 0 {
		return Ratio{}, fmt.Errorf("the odds ratio needs all four cells of the table, got %+v", t)
	}
	a, b, c, d := float64(t.TP), float64(t.FP), float64(t.FN), float64(t.TN)
	or := (a / b) * (d / c)
	spread := NormalQuantile(0.5+confidence/2) * math.Sqrt(1/a+1/b+1/c+1/d)
	return Ratio{Value: or, Low: or * math.Exp(-spread), High: or * math.Exp(spread)}, nil
}

// Youden is sensitivity + specificity - 1: 0 for a test that knows nothing, 1 for one that is never wrong. Its interval is that
// of Newcombe for the difference between the share of positives among those with and among those without the condition.
func (t Table) Youden(confidence float64) (Difference, error) {
	if err := t.check(); err != nil {
		return Difference{}, err
	}
	return Newcombe(t.TP, t.TP+t.FN, t.FP, t.FP+t.TN, confidence)
}

// PPVAt gives the positive predictive value at a prevalence, by Bayes: p se / (p se + (1-p)(1-sp)). All three are shares from 0
// to 1; outside of it, NaN, or a test that never says positive is an error.
func PPVAt(prevalence, sensitivity, specificity float64) (float64, error) {
	if err := checkShares(prevalence, sensitivity, specificity); err != nil {
		return 0, err
	}
	right, wrong := float64(prevalence*sensitivity), float64((1-prevalence)*(1-specificity))
	if right+wrong == 0 {
		return 0, fmt.Errorf("nobody would be positive")
	}
	return right / (right + wrong), nil
}

// NPVAt gives the negative predictive value at a prevalence: (1-p) sp / ((1-p) sp + p (1-se)). Errors as for PPVAt.
func NPVAt(prevalence, sensitivity, specificity float64) (float64, error) {
	if err := checkShares(prevalence, sensitivity, specificity); err != nil {
		return 0, err
	}
	right, wrong := float64((1-prevalence)*specificity), float64(prevalence*(1-sensitivity))
	if right+wrong == 0 {
		return 0, fmt.Errorf("nobody would be negative")
	}
	return right / (right + wrong), nil
}

func checkShares(prevalence, sensitivity, specificity float64) error {
	for _, s := range []struct {
		name string
		v    float64
	}{{"a prevalence", prevalence}, {"a sensitivity", sensitivity}, {"a specificity", specificity}} {
		if !(s.v >= 0 && s.v <= 1) {
			return fmt.Errorf("%s of %v is not between 0 and 1", s.name, s.v)
		}
	}
	return nil
}

// Expected is a count to be expected, with the counts between which chance alone leaves it.
type Expected struct {
	Mean float64 `json:"mean"`
	Low  int     `json:"low"`
	High int     `json:"high"`
}

// Yield is what a screening may expect to find.
type Yield struct {
	Screened       int      `json:"screened"`
	Positives      Expected `json:"positives"`
	TruePositives  Expected `json:"true_positives"`
	FalsePositives Expected `json:"false_positives"`
	Missed         Expected `json:"missed"`
	TrueNegatives  Expected `json:"true_negatives"`
	PPV            *float64 `json:"ppv"`              // nil when nobody would be positive
	NPV            *float64 `json:"npv"`              // nil when nobody would be negative
	ScreenedPerHit *float64 `json:"screened_per_hit"` // people screened for one true positive; nil when there would be none
}

// YieldOf gives the counts to be expected of n people screened, from the prevalence and the test's sensitivity and specificity.
//
// Each person ends in one of the four cells of the table with probability p se, (1-p)(1-sp), p (1-se) or (1-p) sp, so each
// count is binomial of n: its mean is n times the probability, and Low and High are its quantiles at (1-confidence)/2 on either
// side (the least count whose cumulative probability reaches it). That is chance alone: that prevalence, sensitivity and
// specificity are themselves estimates is not in it. No people, a share outside of 0 to 1 or a bad confidence is an error.
func YieldOf(n int, prevalence, sensitivity, specificity, confidence float64) (Yield, error) {
	if n < 1 {
		return Yield{}, fmt.Errorf("%d people screened", n)
	}
	if err := checkShares(prevalence, sensitivity, specificity); err != nil {
		return Yield{}, err
	}
	if err := checkConfidence(confidence); err != nil {
		return Yield{}, err
	}
	tp, fp := float64(prevalence*sensitivity), float64((1-prevalence)*(1-specificity))
	fn, tn := float64(prevalence*(1-sensitivity)), float64((1-prevalence)*specificity)
	count := func(p float64) Expected {
		p = math.Min(p, 1)
		tail := (1 - confidence) / 2
		return Expected{Mean: float64(n) * p, Low: binomialQuantile(tail, n, p), High: binomialQuantile(1-tail, n, p)}
	}
	y := Yield{
		Screened: n, Positives: count(tp + fp), TruePositives: count(tp), FalsePositives: count(fp), Missed: count(fn), TrueNegatives: count(tn),
	}
	if tp+fp > 0 {
		v := tp / (tp + fp)
		y.PPV = &v
	}
	if tn+fn > 0 {
		v := tn / (tn + fn)
		y.NPV = &v
	}
	if tp > 0 {
		v := 1 / tp
		y.ScreenedPerHit = &v
	}
	return y, nil
}

// binomialCDF gives P(X <= k) of n trials with probability p each, from the incomplete beta function.
func binomialCDF(k, n int, p float64) float64 {
	switch {
	case k < 0:
		return 0
	case k >= n || p == 0:
		return 1
	case p == 1:
		return 0
	}
	return mathext.RegIncBeta(float64(n-k), float64(k+1), 1-p)
}

// binomialQuantile gives the least count whose cumulative probability reaches q.
func binomialQuantile(q float64, n int, p float64) int {
	return sort.Search(n, func(k int) bool { return binomialCDF(k, n, p) >= q })
}

package agreement

import (
	"fmt"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Options are what a comparison may choose. The zero Options are the usual ones.
type Options struct {
	Confidence float64   // of every interval; 0 is 0.95
	Lambda     float64   // variance of the reference's errors over that of the meter's; 0 is 1
	K          float64   // limits of agreement in standard deviations; 0 is 1.96
	Form       Form      // of Passing-Bablok; empty is Tangent
	Levels     []float64 // reference values at which the bias is wanted, in the unit of the pairs
}

// Maybe is a result, or the reason why there is none: exactly one of them is set.
type Maybe[T any] struct {
	Result *T     `json:"result,omitempty"`
	Why    string `json:"why,omitempty"`
}

func maybe[T any](v T, err error) Maybe[T] {
	if err != nil {
		return Maybe[T]{Why: fault.Of(err).Error()}
	}
	return Maybe[T]{Result: &v}
}

// Report has every method's result for one set of pairs. There is no NaN and no infinity in it.
type Report struct {
	N          int          `json:"n"`
	Unit       glucose.Unit `json:"unit"`
	Confidence float64      `json:"confidence"`
	Lambda     float64      `json:"lambda"`
	Reference  Interval     `json:"reference"` // smallest and largest reference value

	Bias        Maybe[Agreement]          `json:"bias"`
	PercentBias Maybe[Agreement]          `json:"bias_percent"`
	RatioBias   Maybe[Agreement]          `json:"bias_ratio"`
	BiasTrend   Maybe[Trend]              `json:"bias_trend"`
	MARD        Maybe[RelativeDifference] `json:"mard"`
	CCC         Maybe[Concordance]        `json:"ccc"`

	OLS            Maybe[Line]          `json:"ols"`
	Deming         Maybe[Line]          `json:"deming"`
	WeightedDeming Maybe[Line]          `json:"weighted_deming"`
	PassingBablok  Maybe[PassingBablok] `json:"passing_bablok"`

	Levels []LevelBiases `json:"levels,omitempty"`

	ISO2013    Maybe[Criterion] `json:"iso15197_2013"`
	FDAHome    Maybe[Criterion] `json:"fda_otc_2020"`
	FDAClinic  Maybe[Criterion] `json:"fda_poc_2020"`
	ISO2003    Maybe[Criterion] `json:"iso15197_2003"`
	POCT12     Maybe[Criterion] `json:"poct12_a3"`
	Clarke     ZoneCounts       `json:"clarke"`
	Consensus1 ZoneCounts       `json:"consensus_type1"`
	Consensus2 ZoneCounts       `json:"consensus_type2"`

	// Cautions are sentences that belong beside the numbers: few pairs, a narrow range.
	Cautions []string `json:"cautions,omitempty"`
}

// LevelBiases has the bias at one level by each line.
type LevelBiases struct {
	Level          float64          `json:"level"`
	Deming         Maybe[LevelBias] `json:"deming"`
	WeightedDeming Maybe[LevelBias] `json:"weighted_deming"`
	PassingBablok  Maybe[LevelBias] `json:"passing_bablok"`
}

const (
	usualPairs = 40   // EP09 asks for 40 samples (from memory); common practice
	goodR      = 0.99 // below it the range is too narrow for least squares; common practice
)

// Compare does every comparison of meter and laboratory that the pairs allow. A method that they do not allow says why in place
// of a number, so two pairs give a report too. Refused are no pairs at all, a value that is not finite, negative or above
// 10,000 (the pair is named, counted from 1), an unknown unit, and options out of range.
func Compare(pairs []Pair, unit glucose.Unit, o Options) (Report, error) {
	o = o.filled()
	if err := checkConfidence(o.Confidence); err != nil {
		return Report{}, err
	}
	if err := checkLambda(o.Lambda); err != nil {
		return Report{}, err
	}
	if err := checkK(o.K); err != nil {
		return Report{}, err
	}
	if err := checkForm(o.Form); err != nil {
		return Report{}, err
	}
	if _, err := glucose.ParseUnit(string(unit)); err != nil {
		return Report{}, err
	}
	if err := check(pairs, "A comparison", 1, false); err != nil {
		return Report{}, err
	}
	x, _ := columns(pairs)
	r := Report{N: len(pairs), Unit: unit, Confidence: o.Confidence, Lambda: o.Lambda, Reference: rangeOf(x)}

	r.Bias = maybe(Bias(pairs, Difference, o.K, o.Confidence))
	r.PercentBias = maybe(Bias(pairs, Percent, o.K, o.Confidence))
	r.RatioBias = maybe(Bias(pairs, Ratio, o.K, o.Confidence))
	r.BiasTrend = maybe(BiasTrend(pairs, o.K, o.Confidence))
	r.MARD = maybe(MARD(pairs))
	r.CCC = maybe(CCC(pairs, o.Confidence))

	r.OLS = maybe(OLS(pairs, o.Confidence))
	r.Deming = maybe(Deming(pairs, o.Lambda, o.Confidence))
	r.WeightedDeming = maybe(WeightedDeming(pairs, o.Lambda, o.Confidence))
	r.PassingBablok = maybe(PassingBablokLine(pairs, o.Form, o.Confidence))
	for _, level := range o.Levels {
		r.Levels = append(r.Levels, r.at(level, pairs))
	}

	r.ISO2013 = maybe(Judge(ISO15197of2013, pairs, unit, o.Confidence))
	r.FDAHome = maybe(Judge(FDAHome2020, pairs, unit, o.Confidence))
	r.FDAClinic = maybe(Judge(FDAClinic2020, pairs, unit, o.Confidence))
	r.ISO2003 = maybe(Judge(ISO15197of2003, pairs, unit, o.Confidence))
	r.POCT12 = maybe(Judge(POCT12, pairs, unit, o.Confidence))
	var err error
	for _, g := range []struct {
		grid Grid
		into *ZoneCounts
	}{{Clarke, &r.Clarke}, {ConsensusType1, &r.Consensus1}, {ConsensusType2, &r.Consensus2}} {
		if *g.into, err = CountZones(g.grid, pairs, unit); err != nil {
			return Report{}, err
		}
	}
	r.Cautions = r.cautions()
	return r, nil
}

func (o Options) filled() Options {
	if o.Confidence == 0 {
		o.Confidence = 0.95
	}
	if o.Lambda == 0 {
		o.Lambda = 1
	}
	if o.K == 0 {
		o.K = DefaultK
	}
	if o.Form == "" {
		o.Form = Tangent
	}
	return o
}

// at gives the bias at a level by each line; a line that there is not says why.
func (r Report) at(level float64, pairs []Pair) LevelBiases {
	line := func(l Maybe[Line]) Maybe[LevelBias] {
		if l.Result == nil {
			return Maybe[LevelBias]{Why: l.Why}
		}
		return maybe(BiasAt(*l.Result, level))
	}
	b := LevelBiases{Level: level, Deming: line(r.Deming), WeightedDeming: line(r.WeightedDeming)}
	if r.PassingBablok.Result == nil {
		b.PassingBablok = Maybe[LevelBias]{Why: r.PassingBablok.Why}
	} else {
		b.PassingBablok = maybe(BiasAtPassingBablok(*r.PassingBablok.Result, pairs, level))
	}
	return b
}

func (r Report) cautions() []string {
	var out []string
	if r.N < usualPairs {
		out = append(out, fmt.Sprintf("%d pairs are few: %d or more are usual, and the intervals here are rough.", r.N, usualPairs))
	}
	c := r.CCC.Result
	switch {
	case c == nil:
	case c.R <= 0:
		out = append(out, "The meter does not rise with the laboratory: no line of these pairs says anything about it.")
	case c.R < goodR:
		out = append(out, fmt.Sprintf("The correlation of %.3f is below %.2f: the range is narrow for the scatter, and least squares is too flat.", c.R, goodR))
	}
	if p := r.PassingBablok.Result; p != nil && p.Linearity != nil && p.Linearity.P < 0.05 {
		out = append(out, fmt.Sprintf("The pairs bend away from a straight line (cusum test, p = %.2g): no line describes this meter.", p.Linearity.P))
	}
	return out
}

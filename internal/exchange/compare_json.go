package exchange

import (
	"fmt"

	"fairstick/internal/agreement"
	"fairstick/internal/control"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Ends is an interval as the JSON has it: [low, high].
type Ends [2]float64

func endsOf(i agreement.Interval) Ends { return Ends{i.Low, i.High} }

func maybeEnds(i *agreement.Interval) *Ends {
	if i == nil {
		return nil
	}
	e := endsOf(*i)
	return &e
}

// Comparison is what fairstick compare --json writes. Intervals are [low, high]. A method that could not be done is null, and
// Notes say why; no number is ever NaN.
type Comparison struct {
	N          int              `json:"n"`
	Unit       glucose.Unit     `json:"unit"`
	UnitFrom   UnitFrom         `json:"unit_from"`
	Confidence float64          `json:"confidence"`
	Reference  Ends             `json:"reference_range"`
	Bias       *BiasJSON        `json:"bias"`
	Percent    *BiasJSON        `json:"bias_percent"`
	Ratio      *BiasJSON        `json:"bias_ratio"`
	Trend      *agreement.Trend `json:"bias_trend"`
	MARD       *float64         `json:"mard"` // percent
	MedianARD  *float64         `json:"median_ard"`

	Deming         *LineJSON          `json:"deming"`
	WeightedDeming *LineJSON          `json:"weighted_deming"`
	PassingBablok  *PassingBablokJSON `json:"passing_bablok"`
	OLS            *LineJSON          `json:"ols"`
	Lambda         float64            `json:"lambda"` // variance of the reference's errors over that of the meter's
	CCC            *float64           `json:"ccc"`    // Lin's concordance correlation
	CCCCI          *Ends              `json:"ccc_ci"`
	R              *float64           `json:"pearson_r"`
	Cb             *float64           `json:"ccc_cb"` // ccc = pearson_r times ccc_cb

	Levels []agreement.LevelBiases `json:"levels,omitempty"`

	ISO2013    *CriterionJSON        `json:"iso15197_2013"`
	FDAHome    *CriterionJSON        `json:"fda_otc_2020"`
	FDAClinic  *CriterionJSON        `json:"fda_poc_2020"`
	ISO2003    *CriterionJSON        `json:"iso15197_2003"`
	POCT12     *CriterionJSON        `json:"poct12_a3"`
	Clarke     *agreement.ZoneCounts `json:"clarke"`
	Consensus1 *agreement.ZoneCounts `json:"consensus_type1"`
	Consensus2 *agreement.ZoneCounts `json:"consensus_type2"`

	Replicates *ReplicatesJSON `json:"replicates,omitempty"`
	Notes      []string        `json:"notes"`
}

// BiasJSON is a bias with its limits of agreement; LOACI has the interval of the lower and that of the upper limit.
type BiasJSON struct {
	Mean  float64 `json:"mean"`
	SD    float64 `json:"sd"`
	CI    Ends    `json:"ci"`
	LOA   Ends    `json:"loa"`
	LOACI [2]Ends `json:"loa_ci"`
}

// LineJSON is a regression line; an interval that there is not is null.
type LineJSON struct {
	Slope       float64  `json:"slope"`
	SlopeSE     *float64 `json:"slope_se"`
	SlopeCI     *Ends    `json:"slope_ci"`
	Intercept   float64  `json:"intercept"`
	InterceptSE *float64 `json:"intercept_se"`
	InterceptCI *Ends    `json:"intercept_ci"`
}

// PassingBablokJSON adds what the order statistics were, and the p-value of the test of linearity.
type PassingBablokJSON struct {
	LineJSON
	Form      agreement.Form `json:"form"`
	Slopes    int64          `json:"slopes"`
	K         int64          `json:"k"`
	M1        int64          `json:"m1"`
	M2        int64          `json:"m2"`
	Linearity *float64       `json:"linearity_p"`
}

// CriterionJSON is the judgement by a published criterion. Within, N and Percent are those of its first part; Pass says that
// every part reaches what it must. Enough says whether there are as many pairs as the document asks for: without it a pass
// shows little.
type CriterionJSON struct {
	Within  int              `json:"within"`
	N       int              `json:"n"`
	Percent float64          `json:"percent"`
	CI      Ends             `json:"ci"` // of Percent
	Pass    bool             `json:"pass"`
	Enough  bool             `json:"enough"`
	Least   int              `json:"least"` // pairs that the document asks for
	Source  string           `json:"source"`
	Parts   []agreement.Part `json:"parts"`
}

// ReplicatesJSON is how far the meter repeats itself on one sample.
type ReplicatesJSON struct {
	Samples int     `json:"samples"`
	SD      float64 `json:"sd"` // pooled, of one reading
	DF      int     `json:"df"`
}

// Compare does every comparison that the pairs allow. Of values whose unit is in doubt, criteria and error grids are left out,
// since they would be another's. Options that cannot be used, and pairs that no method can use, are the fault of package
// agreement.
func Compare(p Pairs, o agreement.Options) (Comparison, error) {
	r, err := agreement.Compare(p.Pairs, p.Unit, o)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{
		N: r.N, Unit: r.Unit, UnitFrom: p.UnitFrom, Confidence: r.Confidence, Reference: endsOf(r.Reference), Lambda: r.Lambda, Levels: r.Levels,
		Notes: append([]string{}, p.Notes...),
	}
	c.Notes = append(c.Notes, r.Cautions...)
	c.Bias = biasJSON(&c, "bias", r.Bias)
	c.Percent = biasJSON(&c, "bias_percent", r.PercentBias)
	c.Ratio = biasJSON(&c, "bias_ratio", r.RatioBias)
	c.Trend = result(&c, "bias_trend", r.BiasTrend)
	if m := result(&c, "mard", r.MARD); m != nil {
		c.MARD, c.MedianARD = &m.MARD, &m.Median
	}
	c.Deming = lineJSON(&c, "deming", result(&c, "deming", r.Deming))
	c.WeightedDeming = lineJSON(&c, "weighted_deming", result(&c, "weighted_deming", r.WeightedDeming))
	c.OLS = lineJSON(&c, "ols", result(&c, "ols", r.OLS))
	if b := result(&c, "passing_bablok", r.PassingBablok); b != nil {
		j := &PassingBablokJSON{LineJSON: *lineJSON(&c, "passing_bablok", &b.Line), Form: b.Form, Slopes: b.Slopes, K: b.K, M1: b.M1, M2: b.M2}
		if b.Linearity != nil {
			j.Linearity = &b.Linearity.P
		}
		c.PassingBablok = j
	}
	if l := result(&c, "ccc", r.CCC); l != nil {
		c.CCC, c.CCCCI, c.R, c.Cb = &l.CCC, maybeEnds(l.CI), &l.R, &l.Cb
		c.note("ccc", l.Note)
	}
	if p.Doubtful {
		c.note("iso15197, fda, poct12_a3, clarke, consensus", "left out, because the unit is in doubt.")
	} else {
		c.ISO2013 = criterionJSON(&c, "iso15197_2013", r.ISO2013)
		c.FDAHome = criterionJSON(&c, "fda_otc_2020", r.FDAHome)
		c.FDAClinic = criterionJSON(&c, "fda_poc_2020", r.FDAClinic)
		c.ISO2003 = criterionJSON(&c, "iso15197_2003", r.ISO2003)
		c.POCT12 = criterionJSON(&c, "poct12_a3", r.POCT12)
		c.Clarke, c.Consensus1, c.Consensus2 = &r.Clarke, &r.Consensus1, &r.Consensus2
	}
	return c, c.replicates(p)
}

func (c *Comparison) note(method, why string) {
	if why != "" {
		c.Notes = append(c.Notes, method+": "+why)
	}
}

// result gives what a method found, or nil with the reason in the notes.
func result[T any](c *Comparison, method string, m agreement.Maybe[T]) *T {
	c.note(method, m.Why)
	return m.Result
}

func biasJSON(c *Comparison, method string, m agreement.Maybe[agreement.Agreement]) *BiasJSON {
	a := result(c, method, m)
	if a == nil {
		return nil
	}
	return &BiasJSON{Mean: a.Mean, SD: a.SD, CI: endsOf(a.CI), LOA: endsOf(a.Limits), LOACI: [2]Ends{endsOf(a.LowerCI), endsOf(a.UpperCI)}}
}

func lineJSON(c *Comparison, method string, l *agreement.Line) *LineJSON {
	if l == nil {
		return nil
	}
	c.note(method, l.Note)
	j := &LineJSON{Slope: l.Slope.Value, SlopeCI: maybeEnds(l.Slope.CI), Intercept: l.Intercept.Value, InterceptCI: maybeEnds(l.Intercept.CI)}
	if l.Slope.SE > 0 || l.Intercept.SE > 0 {
		slope, intercept := l.Slope.SE, l.Intercept.SE
		j.SlopeSE, j.InterceptSE = &slope, &intercept
	}
	return j
}

func criterionJSON(c *Comparison, method string, m agreement.Maybe[agreement.Criterion]) *CriterionJSON {
	r := result(c, method, m)
	if r == nil {
		return nil
	}
	c.note(method, r.Note)
	head := r.Parts[0]
	return &CriterionJSON{
		Within: head.Within, N: head.N, Percent: head.Percent, CI: endsOf(head.CI), Pass: r.Reached, Enough: head.N >= r.Least, Least: r.Least,
		Source: r.Source, Parts: r.Parts,
	}
}

// replicates pools how far readings of one sample scatter.
func (c *Comparison) replicates(p Pairs) error {
	var groups [][]float64
	for i, n := range p.Replicates {
		if n == 1 {
			groups = append(groups, nil)
		}
		last := len(groups) - 1
		groups[last] = append(groups[last], p.Pairs[i].Meter)
	}
	if len(groups) == 0 || len(groups) == len(p.Pairs) {
		return nil
	}
	sd, df, err := control.PooledSD(groups)
	if err != nil {
		return fault.New(fault.Invalid, "replicates-unusable", "The repeats cannot be pooled.", "", "Leave the column replicate out.").Because(err)
	}
	c.Replicates = &ReplicatesJSON{Samples: len(groups), SD: sd, DF: df}
	c.note("replicates", fmt.Sprintf("the %d pairs are of %d samples: pairs of one sample are not independent, so intervals are narrower than they should be.", c.N, len(groups)))
	return nil
}

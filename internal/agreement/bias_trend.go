package agreement

import "math"

const nameTrend = "Limits that change with the level"

// spreadAlpha is the p-value below which the spread is taken to change with the level.
const spreadAlpha = 0.05

// Trend has limits of agreement that change with the level: the difference as a line of the mean of both methods, and the
// absolute residual as another.
type Trend struct {
	N          int      `json:"n"`
	Slope      Estimate `json:"slope"`
	Intercept  Estimate `json:"intercept"`
	SlopeP     float64  `json:"slope_p"` // of no change of the difference with the level
	ResidualSD float64  `json:"residual_sd"`
	// Spread is the line of the absolute residual on the mean; SpreadP its p-value. Below 0.05 the limits follow it.
	SpreadSlope     float64 `json:"spread_slope"`
	SpreadIntercept float64 `json:"spread_intercept"`
	SpreadP         float64 `json:"spread_p"`
	K               float64 `json:"k"`
	Confidence      float64 `json:"confidence"`
	Note            string  `json:"note,omitempty"`
}

// BiasTrend gives limits of agreement by regression. The difference D = meter - reference is fitted on the mean A of both by
// least squares; then the absolute residual is fitted on A. Intervals are by t(n-2). Fewer than 4 pairs, numbers that are not
// finite and means that are all the same are refused. Source: Bland JM, Altman DG, Stat Methods Med Res 1999;8:135-60, section 3.2.
func BiasTrend(pairs []Pair, k, confidence float64) (Trend, error) {
	if err := checkConfidence(confidence); err != nil {
		return Trend{}, err
	}
	if err := checkK(k); err != nil {
		return Trend{}, err
	}
	if err := check(pairs, nameTrend, 4, false); err != nil {
		return Trend{}, err
	}
	a, d := make([]float64, len(pairs)), make([]float64, len(pairs))
	for i, p := range pairs {
		a[i], d[i] = (p.Reference+p.Meter)/2, p.Meter-p.Reference
	}
	f, ok := leastSquares(a, d)
	if !ok {
		return Trend{}, constant(nameTrend, "means of both methods")
	}
	q := tQuantile(confidence, f.n-2)
	t := Trend{
		N: f.n, Slope: around(f.slope, f.seSlope, q), Intercept: around(f.intercept, f.seIntercept, q), ResidualSD: f.residualSD,
		K: k, Confidence: confidence, SlopeP: slopeP(f), SpreadP: 1,
	}
	if f.residualSD == 0 {
		t.Note = "All differences lie on one line: the limits have no width."
		return t, nil
	}
	for i := range d {
		d[i] = math.Abs(d[i] - f.intercept - float64(f.slope*a[i]))
	}
	s, _ := leastSquares(a, d)
	t.SpreadSlope, t.SpreadIntercept, t.SpreadP = s.slope, s.intercept, slopeP(s)
	return t, nil
}

// slopeP is the two-sided p-value of no slope; a line without residuals has 0, or 1 when it is level.
func slopeP(f fit) float64 {
	switch {
	case f.slope == 0:
		return 1
	case f.seSlope == 0:
		return 0
	}
	return tTail(f.slope/f.seSlope, f.n-2)
}

// At gives the expected difference and the limits at a mean of both methods. Where the spread changes with the level (SpreadP
// below 0.05) the limits lie k sqrt(pi/2) absolute residuals away, else k residual SD.
func (t Trend) At(mean float64) (middle float64, limits Interval) {
	middle = t.Intercept.Value + float64(t.Slope.Value*mean)
	half := float64(t.K * t.ResidualSD)
	if t.SpreadP < spreadAlpha {
		spread := t.SpreadIntercept + float64(t.SpreadSlope*mean)
		half = math.Max(0, float64(t.K*math.Sqrt(math.Pi/2)*spread))
	}
	return middle, Interval{Low: middle - half, High: middle + half}
}

package agreement

import (
	"fmt"
	"math"

	"fairstick/internal/fault"
)

// Line is a straight line meter = Intercept + Slope * reference.
type Line struct {
	Method     string   `json:"method"`
	N          int      `json:"n"`
	Slope      Estimate `json:"slope"`
	Intercept  Estimate `json:"intercept"`
	Covariance float64  `json:"-"`     // of slope and intercept; 0 when the method has none
	Range      Interval `json:"range"` // of the reference values: the line is known here only
	DF         int      `json:"-"`     // degrees of freedom of the intervals; 0 when they are not of Student's t
	Confidence float64  `json:"confidence"`
	Note       string   `json:"note,omitempty"` // why an interval is missing, or what to be careful about
}

// At gives the meter's value that the line expects at a reference value.
func (l Line) At(x float64) float64 { return l.Intercept.Value + float64(l.Slope.Value*x) }

const nameOLS = "Least squares"

// OLS fits the least squares line of meter on reference. It takes the reference as free of error, which no laboratory is, so
// its slope is too flat; it is given because others report it. With the centred sums Sxx and Sxy:
//
//	slope = Sxy/Sxx, intercept = mean y - slope * mean x, s² = residual sum of squares/(n-2)
//	SE(slope) = s/sqrt(Sxx), SE(intercept) = s sqrt(1/n + mean x²/Sxx), intervals by t(n-2)
//
// Slope has no unit, the intercept that of the pairs. Ties need no care. Fewer than 3 pairs, numbers that are not finite and
// a constant reference are refused.
func OLS(pairs []Pair, confidence float64) (Line, error) {
	if err := checkConfidence(confidence); err != nil {
		return Line{}, err
	}
	if err := check(pairs, nameOLS, 3, false); err != nil {
		return Line{}, err
	}
	x, y := columns(pairs)
	f, ok := leastSquares(x, y)
	if !ok {
		return Line{}, constant(nameOLS, "reference values")
	}
	t := tQuantile(confidence, f.n-2)
	l := Line{
		Method: nameOLS, N: f.n, Range: rangeOf(x), DF: f.n - 2, Confidence: confidence,
		Slope: around(f.slope, f.seSlope, t), Intercept: around(f.intercept, f.seIntercept, t),
	}
	l.Covariance = -f.mx * float64(f.seSlope*f.seSlope)
	return l, nil
}

// fit is a least squares line with the standard deviation of its residuals (n-2).
type fit struct {
	moments
	slope, intercept, residualSD float64
	seSlope, seIntercept         float64
}

// leastSquares needs 3 points or more; it is not ok when x is constant.
func leastSquares(x, y []float64) (fit, bool) {
	m := momentsOf(x, y)
	if m.sxx == 0 {
		return fit{}, false
	}
	f := fit{moments: m, slope: m.sxy / m.sxx}
	f.intercept = m.my - float64(f.slope*m.mx)
	sum := 0.0
	for i := range x {
		r := y[i] - m.my - float64(f.slope*(x[i]-m.mx))
		sum += float64(r * r)
	}
	n := float64(m.n)
	f.residualSD = math.Sqrt(sum / (n - 2))
	f.seSlope = f.residualSD / math.Sqrt(m.sxx)
	f.seIntercept = float64(f.residualSD * math.Sqrt(1/n+float64(m.mx*m.mx)/m.sxx))
	return f, true
}

func rangeOf(v []float64) Interval {
	r := Interval{Low: v[0], High: v[0]}
	for _, x := range v {
		r.Low, r.High = math.Min(r.Low, x), math.Max(r.High, x)
	}
	return r
}

// checkLambda refuses an error ratio that is not a positive number.
func checkLambda(lambda float64) error {
	if lambda > 0 && !math.IsInf(lambda, 0) {
		return nil
	}
	return fault.New(fault.Invalid, "ratio-unusable", fmt.Sprintf("An error ratio of %v is not a positive number.", lambda),
		"Deming regression needs the variance of the reference's errors over that of the meter's.", "Give 1 when both are alike.")
}

package agreement

import "math"

const (
	nameDeming         = "Deming"
	nameWeightedDeming = "Weighted Deming"
)

// Deming fits a line that allows errors of constant size in both methods. lambda is the variance of the reference's errors
// over that of the meter's; other texts use the inverse. With the centred sums u = Sxx, q = Syy, p = Sxy:
//
//	slope = ((lambda q - u) + sqrt((u - lambda q)² + 4 lambda p²)) / (2 lambda p), intercept = mean y - slope mean x
//
// Standard errors are those of the jackknife, from the pseudo-values n*estimate - (n-1)*estimate without pair i; intervals are
// by t(n-2) about the estimate. Slope has no unit, the intercept that of the pairs. Fewer than 3 pairs, numbers that are not
// finite, a constant column and pairs without any association are refused. When leaving out one pair leaves no line, the
// intervals are missing and Note says so. Source: Linnet K, Clin Chem 1993;39:424-32 (from memory).
func Deming(pairs []Pair, lambda, confidence float64) (Line, error) {
	l, x, y, err := demingLine(pairs, lambda, confidence)
	if err != nil {
		return Line{}, err
	}
	m := momentsOf(x, y)
	slopes, intercepts := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		rest := m.without(x[i], y[i])
		b, ok := demingSlope(rest, lambda)
		if !ok {
			l.Note = "No interval: without one of the pairs there is no line."
			return l, nil
		}
		slopes[i], intercepts[i] = b, rest.my-float64(b*rest.mx)
	}
	return l.jackknifed(slopes, intercepts), nil
}

// DemingAnalytic is Deming with a standard error by formula in place of the jackknife:
//
//	SE(slope) = slope sqrt((1-r²)/r²/(n-2)), SE(intercept) = SE(slope) sqrt(mean of x²)
//
// with Pearson's r; intervals by t(n-2). It is too short when errors grow with the level. Source: Strike PW, Measurement in
// Laboratory Medicine, 1996 (from memory).
func DemingAnalytic(pairs []Pair, lambda, confidence float64) (Line, error) {
	l, x, y, err := demingLine(pairs, lambda, confidence)
	if err != nil {
		return Line{}, err
	}
	m := momentsOf(x, y)
	rr := math.Min(1, float64(m.sxy*m.sxy)/float64(m.sxx*m.syy))
	se := math.Abs(l.Slope.Value) * math.Sqrt((1-rr)/rr/float64(l.DF))
	square := m.sxx/float64(m.n) + float64(m.mx*m.mx)
	t := tQuantile(confidence, l.DF)
	l.Slope = around(l.Slope.Value, se, t)
	l.Intercept = around(l.Intercept.Value, float64(se*math.Sqrt(square)), t)
	l.Covariance = -m.mx * float64(se*se)
	return l, nil
}

// demingLine checks what both forms need and gives the line without intervals.
func demingLine(pairs []Pair, lambda, confidence float64) (l Line, x, y []float64, err error) {
	if err := checkConfidence(confidence); err != nil {
		return Line{}, nil, nil, err
	}
	if err := checkLambda(lambda); err != nil {
		return Line{}, nil, nil, err
	}
	if err := check(pairs, nameDeming, 3, false); err != nil {
		return Line{}, nil, nil, err
	}
	x, y = columns(pairs)
	m := momentsOf(x, y)
	if m.sxx == 0 || m.syy == 0 {
		return Line{}, nil, nil, constant(nameDeming, "values of both methods")
	}
	b, ok := demingSlope(m, lambda)
	if !ok {
		return Line{}, nil, nil, unrelated(nameDeming)
	}
	l = Line{Method: nameDeming, N: m.n, Range: rangeOf(x), DF: m.n - 2, Confidence: confidence}
	l.Slope.Value, l.Intercept.Value = b, m.my-float64(b*m.mx)
	return l, x, y, nil
}

// demingSlope writes the formula so that no difference of nearly equal numbers is taken. It is not ok without association.
func demingSlope(m moments, lambda float64) (float64, bool) {
	d := float64(lambda*m.syy) - m.sxx
	root := math.Hypot(d, 2*math.Sqrt(lambda)*m.sxy)
	var b float64
	if d >= 0 {
		b = (d + root) / (2 * lambda * m.sxy)
	} else {
		b = 2 * m.sxy / (root - d)
	}
	return b, m.sxy != 0 && m.sxx > 0 && m.syy > 0 && !math.IsInf(b, 0) && !math.IsNaN(b)
}

// jackknifed gives the line with standard errors and intervals from the estimates without each pair.
func (l Line) jackknifed(slopes, intercepts []float64) Line {
	m := momentsOf(slopes, intercepts)
	n := float64(m.n)
	// The variance of the mean of pseudo-values is (n-1)/n times the sum of squares of the estimates themselves.
	f := (n - 1) / n
	t := tQuantile(l.Confidence, l.DF)
	l.Slope = around(l.Slope.Value, math.Sqrt(float64(f*m.sxx)), t)
	l.Intercept = around(l.Intercept.Value, math.Sqrt(float64(f*m.syy)), t)
	l.Covariance = float64(f * m.sxy)
	return l
}

// Package agreement compares a meter with a laboratory.
//
// Each method is a function of pairs and gives plain numbers: bias and limits of agreement, regressions that allow error in
// both methods, concordance, relative difference, accuracy criteria and error grids. A method that cannot be done with the
// pairs it was given refuses with a reason; it never gives NaN. Readings are decimals that somebody read off a display, so
// whatever is compared with a limit or a line is compared in whole numbers. Compare runs every method at once.
package agreement

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// Pair is one sample measured by the laboratory (Reference) and by the meter, both in the same unit.
type Pair struct {
	Reference float64 `json:"reference"`
	Meter     float64 `json:"meter"`
}

// Interval has both ends of an interval; Low is never above High.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Contains reports whether v lies in the interval, ends included.
func (i Interval) Contains(v float64) bool { return i.Low <= v && v <= i.High }

// Estimate is an estimated number. SE is 0 when the method has no standard error, CI is nil when there is no interval; then a
// note beside it says why.
type Estimate struct {
	Value float64   `json:"value"`
	SE    float64   `json:"se,omitempty"`
	CI    *Interval `json:"ci,omitempty"`
}

// largest bounds what is taken for a reading in either unit, so that whole-number arithmetic cannot overflow.
const largest = 10000

// check refuses pairs that no method can use: fewer than least, or a number that is not finite, negative or absurd. With
// positive it refuses zero too.
func check(pairs []Pair, method string, least int, positive bool) error {
	if len(pairs) < least {
		return fault.New(fault.Invalid, "pairs-too-few", fmt.Sprintf("%s needs at least %d pairs; there are %d.", method, least, len(pairs)),
			"With fewer there is nothing to estimate from.", "Measure more samples by both methods.")
	}
	for i, p := range pairs {
		for _, v := range [2]struct {
			name  string
			value float64
		}{{"reference", p.Reference}, {"meter", p.Meter}} {
			if why := unusable(v.value, positive); why != "" {
				return fault.New(fault.Invalid, "pair-unusable", fmt.Sprintf("The %s value of pair %d %s.", v.name, i+1, why),
					method+" cannot use it.", "Correct the value or leave the pair out, and say so.")
			}
		}
	}
	return nil
}

func unusable(v float64, positive bool) string {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "is not a finite number"
	case v < 0:
		return "is negative"
	case v > largest:
		return fmt.Sprintf("is above %d", largest)
	case positive && v == 0:
		return "is zero"
	}
	return ""
}

// checkConfidence refuses a confidence that is not between 0 and 1, exclusive.
func checkConfidence(c float64) error {
	if c > 0 && c < 1 {
		return nil
	}
	return fault.New(fault.Invalid, "confidence-unusable", fmt.Sprintf("A confidence of %v is not between 0 and 1.", c), "", "Give 0.95, for example.")
}

// checkK refuses a multiple of the standard deviation that is not a positive number.
func checkK(k float64) error {
	if k > 0 && !math.IsInf(k, 0) {
		return nil
	}
	return fault.New(fault.Invalid, "multiple-unusable", fmt.Sprintf("Limits of agreement at %v standard deviations are none.", k), "", "Give 1.96, for example.")
}

func constant(method, what string) error {
	return fault.New(fault.Invalid, "pairs-constant", fmt.Sprintf("%s needs %s that differ; all are the same.", method, what),
		"A line through one value has no direction.", "Measure samples over the whole range that matters.")
}

func unrelated(method string) error {
	return fault.New(fault.Invalid, "association-none", method+" needs a meter that rises with the laboratory; these pairs do not.",
		"The line would say nothing about the meter.", "Check that the pairs belong together and the columns are right.")
}

// tQuantile gives the two-sided quantile of Student's t for a confidence: 0.95 and 15 degrees of freedom give 2.1314.
func tQuantile(confidence float64, df int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Quantile(0.5 + confidence/2)
}

// tTail gives the two-sided p-value of a t statistic.
func tTail(t float64, df int) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Survival(math.Abs(t))
}

// zQuantile gives the two-sided quantile of the normal distribution: 0.95 gives 1.95996.
func zQuantile(confidence float64) float64 { return distuv.UnitNormal.Quantile(0.5 + confidence/2) }

// around gives the estimate with the interval value ± half.
func around(value, se, quantile float64) Estimate {
	half := float64(quantile * se)
	return Estimate{Value: value, SE: se, CI: &Interval{Low: value - half, High: value + half}}
}

// columns copies the pairs into two columns.
func columns(pairs []Pair) (x, y []float64) {
	x, y = make([]float64, len(pairs)), make([]float64, len(pairs))
	for i, p := range pairs {
		x[i], y[i] = p.Reference, p.Meter
	}
	return x, y
}

// moments has the means and the centred sums of squares and products of two columns.
type moments struct {
	n             int
	mx, my        float64
	sxx, syy, sxy float64
}

func momentsOf(x, y []float64) moments {
	m := moments{n: len(x), mx: mean(x), my: mean(y)}
	for i := range x {
		dx, dy := x[i]-m.mx, y[i]-m.my
		m.sxx += float64(dx * dx)
		m.syy += float64(dy * dy)
		m.sxy += float64(dx * dy)
	}
	return m
}

// mean adds the deviations from the first value, so that equal values have exactly their own mean.
func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x - v[0]
	}
	return v[0] + sum/float64(len(v))
}

// without gives the moments with one point left out.
func (m moments) without(x, y float64) moments {
	n := float64(m.n)
	dx, dy := x-m.mx, y-m.my
	f := n / (n - 1)
	return moments{
		n: m.n - 1, mx: m.mx - dx/(n-1), my: m.my - dy/(n-1),
		sxx: m.sxx - float64(f*dx*dx), syy: m.syy - float64(f*dy*dy), sxy: m.sxy - float64(f*dx*dy),
	}
}

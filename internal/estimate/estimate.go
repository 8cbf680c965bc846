// Package estimate is the arithmetic of a screening: intervals of shares, what a test is worth and what it will find, how sure
// a reading near a limit is, how many people or pairs a question needs, and whether last digits were rounded.
//
// A share of a small event means little without its interval, so every share that is shown is paired with one. The functions
// take counts and plain numbers, return plain numbers and read nothing else; what cannot be computed is an error, never NaN.
package estimate

import (
	"fmt"
	"math"
)

// Interval is a confidence interval of a proportion, both ends between 0 and 1.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// NormalQuantile gives z with P(Z <= z) = p for a standard normal Z: sqrt(2) * erfinv(2p-1). p of 0 and 1 give the
// infinities; p outside of 0 to 1, or NaN, gives NaN.
func NormalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// Wilson gives the score interval, without continuity correction, of x successes in n trials at a two-sided confidence (0.95):
//
//	(p + z²/2n ± z sqrt(p(1-p)/n + z²/4n²)) / (1 + z²/n)
//
// with p = x/n. The ends are exactly 0 for x = 0 and exactly 1 for x = n. No trials, x outside of 0 to n, or a confidence
// outside of 0 to 1 (exclusive) is an error. Source: Wilson EB, J Am Stat Assoc 1927;22:209-12, as method 3 of Newcombe RG,
// Stat Med 1998;17:857-72.
func Wilson(x, n int, confidence float64) (Interval, error) {
	switch {
	case n < 1:
		return Interval{}, fmt.Errorf("an interval needs at least one trial, got %d", n)
	case x < 0 || x > n:
		return Interval{}, fmt.Errorf("%d successes in %d trials", x, n)
	case !(confidence > 0 && confidence < 1):
		return Interval{}, fmt.Errorf("a confidence of %v is not between 0 and 1", confidence)
	}
	z := NormalQuantile(0.5 + confidence/2)
	zz := float64(z * z)
	m, k := float64(n), float64(x)
	p := k / m
	centre := float64(p + float64(zz/(2*m)))
	spread := z * math.Sqrt(float64(float64(p*(1-p))/m)+float64(zz/float64(4*m*m)))
	whole := 1 + float64(zz/m)
	i := Interval{Low: (centre - spread) / whole, High: (centre + spread) / whole}
	if x == 0 {
		i.Low = 0
	}
	if x == n {
		i.High = 1
	}
	return i, nil
}

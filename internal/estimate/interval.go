package estimate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// checkCount refuses what no count of successes can be, and a confidence that is none.
func checkCount(x, n int, confidence float64) error {
	switch {
	case n < 1:
		return fmt.Errorf("an interval needs at least one trial, got %d", n)
	case x < 0 || x > n:
		return fmt.Errorf("%d successes in %d trials", x, n)
	}
	return checkConfidence(confidence)
}

func checkConfidence(confidence float64) error {
	if !(confidence > 0 && confidence < 1) {
		return fmt.Errorf("a confidence of %v is not between 0 and 1", confidence)
	}
	return nil
}

// ClopperPearson gives the exact interval of x successes in n trials at a two-sided confidence (0.95): the shares at which
// x or more, and x or fewer, have a probability of half of what is left over, a = 1-confidence:
//
//	low = B(a/2; x, n-x+1)    high = B(1-a/2; x+1, n-x)
//
// with B the quantile of the beta distribution, found by bisection of its distribution function to the last bits. The ends
// are exactly 0 for x = 0 and exactly 1 for x = n. It holds the true share at least as often as it says, mostly more
// often. Errors as for Wilson. Source: Clopper CJ, Pearson ES, Biometrika 1934;26:404-13, as method 5 of Newcombe RG, Stat Med
// 1998;17:857-72.
func ClopperPearson(x, n int, confidence float64) (Interval, error) {
	if err := checkCount(x, n, confidence); err != nil {
		return Interval{}, err
	}
	tail := (1 - confidence) / 2
	i := Interval{Low: 0, High: 1}
	if x > 0 {
		i.Low = betaQuantile(float64(x), float64(n-x+1), tail)
	}
	if x < n {
		i.High = 1 - betaQuantile(float64(n-x), float64(x+1), tail)
	}
	return i, nil
}

// betaQuantile gives the x at which the beta distribution of a and b, both positive, has reached p.
func betaQuantile(a, b, p float64) float64 {
	low, high := 0.0, 1.0
	for {
		mid := low + (high-low)/2
		if mid <= low || mid >= high || high-low < 1e-16*high {
			return mid
		}
		if mathext.RegIncBeta(a, b, mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
}

// Share is a share of a count with both of its intervals.
type Share struct {
	X      int      `json:"x"`
	N      int      `json:"n"`
	Value  float64  `json:"value"` // X/N
	Wilson Interval `json:"wilson"`
	Exact  Interval `json:"exact"`
}

// ShareOf gives the share of x in n with its Wilson and its Clopper-Pearson interval. Errors as for Wilson.
func ShareOf(x, n int, confidence float64) (Share, error) {
	w, err := Wilson(x, n, confidence)
	if err != nil {
		return Share{}, err
	}
	e, err := ClopperPearson(x, n, confidence)
	if err != nil {
		return Share{}, err
	}
	return Share{X: x, N: n, Value: float64(x) / float64(n), Wilson: w, Exact: e}, nil
}

// Difference is a difference of two shares with its interval; all three lie between -1 and 1.
type Difference struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Newcombe gives the difference a/m - b/n of two independent shares with the interval that squares and adds the Wilson ends
// l1, u1 of a/m and l2, u2 of b/n, without continuity correction (method 10):
//
//	low = d - sqrt((p1-l1)² + (u2-p2)²)    high = d + sqrt((u1-p1)² + (p2-l2)²)
//
// Errors as for Wilson, for either share. Source: Newcombe RG, Stat Med 1998;17:873-90.
func Newcombe(a, m, b, n int, confidence float64) (Difference, error) {
	first, err := Wilson(a, m, confidence)
	if err != nil {
		return Difference{}, fmt.Errorf("the first share: %w", err)
	}
	second, err := Wilson(b, n, confidence)
	if err != nil {
		return Difference{}, fmt.Errorf("the second share: %w", err)
	}
	p1, p2 := float64(a)/float64(m), float64(b)/float64(n)
	d := p1 - p2
	return Difference{
		Value: d,
		Low:   math.Max(-1, d-math.Hypot(p1-first.Low, second.High-p2)),
		High:  math.Min(1, d+math.Hypot(first.High-p1, p2-second.Low)),
	}, nil
}

package estimate

import (
	"fmt"
	"math"
	"sort"
)

// Holm gives p-values corrected so that rejecting those that are at most alpha makes even one false alarm with a probability of
// at most alpha, however the tests depend on each other. With p(1) <= ... <= p(m) the i-th becomes the largest of (m-j+1) p(j)
// over j <= i, at most 1. The results stand in the order given; none gives none. A p outside of 0 to 1, or NaN, is an error.
// Source: Holm S, Scand J Stat 1979;6:65-70.
func Holm(p []float64) ([]float64, error) {
	order, err := ascending(p)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(p))
	worst := 0.0
	for rank, i := range order {
		worst = math.Max(worst, float64(len(p)-rank)*p[i])
		out[i] = math.Min(1, worst)
	}
	return out, nil
}

// BenjaminiHochberg gives p-values corrected so that of the tests whose value is at most alpha a share of at most alpha is
// false on average, when the tests are independent or positively dependent. The i-th of m becomes the smallest of m p(j)/j over
// j >= i, at most 1. Order, none and errors as for Holm. Source: Benjamini Y, Hochberg Y, J R Stat Soc B 1995;57:289-300.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	order, err := ascending(p)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(p))
	best := 1.0
	for rank := len(order) - 1; rank >= 0; rank-- {
		i := order[rank]
		best = math.Min(best, float64(len(p))*p[i]/float64(rank+1))
		out[i] = best
	}
	return out, nil
}

// ascending gives the places of the p-values from the smallest to the largest.
func ascending(p []float64) ([]int, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, fmt.Errorf("a p-value of %v is not between 0 and 1", v)
		}
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	return order, nil
}

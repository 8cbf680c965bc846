package estimate

import "fmt"

// MostPairs bounds a comparison that shows an accuracy criterion.
const MostPairs = 200_000

// Showing is a comparison that can show an accuracy criterion: N pairs of which at most MostOutside may lie outside of the
// limits.
type Showing struct {
	N           int     `json:"n"`
	MostOutside int     `json:"most_outside"`
	Power       float64 `json:"power"` // chance that a meter as good as assumed is shown to be good enough
}

// SizeForCriterion gives the smallest comparison that shows, at a one-sided alpha, that at least a share need of a meter's
// readings lies within the limits, with the power asked for when the true share is truth. It is shown when the exact lower
// limit of Clopper-Pearson at confidence 1-alpha is need or more, that is, when with the share need so few outside have a
// probability of at most alpha. 59 pairs without one outside show 95 % at an alpha of 5 %, since 0.95^59 < 0.05.
//
// The power saws: a few pairs more may have a little less of it, until one more may lie outside; ShowPower gives it for any
// number. Needs 0 < need < truth <= 1 and alpha and power between 0 and 1; anything else, or more than MostPairs, is an error.
// Source: exact binomial, see ClopperPearson.
func SizeForCriterion(need, truth, alpha, power float64) (Showing, error) {
	if err := checkCriterion(need, truth, alpha); err != nil {
		return Showing{}, err
	}
	if !(power > 0 && power < 1) {
		return Showing{}, fmt.Errorf("a power of %v is not between 0 and 1", power)
	}
	most := -1 // the most that may lie outside never falls as n grows
	for n := 1; n <= MostPairs; n++ {
		for binomialCDF(most+1, n, 1-need) <= alpha {
			most++
		}
		if most < 0 {
			continue
		}
		if p := binomialCDF(most, n, 1-truth); p >= power {
			return Showing{N: n, MostOutside: most, Power: p}, nil
		}
	}
	return Showing{}, fmt.Errorf("more than %d pairs would be needed to show %v when the truth is %v", MostPairs, need, truth)
}

// ShowPower gives what a comparison of n pairs can show: as SizeForCriterion, for a given n. MostOutside is -1 and the power 0
// when n is too small to show anything.
func ShowPower(n int, need, truth, alpha float64) (Showing, error) {
	if err := checkCriterion(need, truth, alpha); err != nil {
		return Showing{}, err
	}
	if n < 1 || n > MostPairs {
		return Showing{}, fmt.Errorf("%d pairs are not from 1 to %d", n, MostPairs)
	}
	s := Showing{N: n, MostOutside: -1}
	for binomialCDF(s.MostOutside+1, n, 1-need) <= alpha {
		s.MostOutside++
	}
	s.Power = binomialCDF(s.MostOutside, n, 1-truth)
	return s, nil
}

func checkCriterion(need, truth, alpha float64) error {
	switch {
	case !(need > 0 && truth > need && truth <= 1):
		return fmt.Errorf("a true share of %v must pass the share of %v that is to be shown", truth, need)
	case !(alpha > 0 && alpha < 1):
		return fmt.Errorf("an alpha of %v is not between 0 and 1", alpha)
	}
	return nil
}

// PassChance gives the chance that a comparison of n pairs passes a criterion that only counts, 100 within >= percent n, when
// the true share within the limits is truth. A meter that is just good enough passes about half of the time: passing is not
// showing. n from 1 to MostPairs, percent from 1 to 100, truth from 0 to 1; anything else is an error. Source: exact binomial.
func PassChance(n, percent int, truth float64) (float64, error) {
	switch {
	case n < 1 || n > MostPairs:
		return 0, fmt.Errorf("%d pairs are not from 1 to %d", n, MostPairs)
	case percent < 1 || percent > 100:
		return 0, fmt.Errorf("%d percent are not from 1 to 100", percent)
	case !(truth >= 0 && truth <= 1):
		return 0, fmt.Errorf("a share of %v is not between 0 and 1", truth)
	}
	return binomialCDF(n-(percent*n+99)/100, n, 1-truth), nil
}

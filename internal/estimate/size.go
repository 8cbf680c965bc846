package estimate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// MaxSize bounds a sample size: whoever needs more asks too much of a screening.
const MaxSize = 10_000_000

// least finds the smallest n from low to MaxSize that is enough, when every larger one is enough too.
func least(low int, enough func(n int) (bool, error)) (int, error) {
	high := low
	for {
		ok, err := enough(high)
		if err != nil {
			return 0, err
		}
		if ok {
			break
		}
		if high == MaxSize {
			return 0, fmt.Errorf("more than %d would be needed", MaxSize)
		}
		low, high = high+1, min(2*high, MaxSize)
	}
	for low < high {
		mid := low + (high-low)/2
		ok, err := enough(mid)
		if err != nil {
			return 0, err
		}
		if ok {
			high = mid
		} else {
			low = mid + 1
		}
	}
	return low, nil
}

// SizeForShare gives how many people are needed so that the Wilson interval of a share of about p is at most half to either
// side: the smallest n with
//
//	z sqrt(p(1-p)/n + z²/4n²) / (1 + z²/n) <= half
//
// p is from 0 to 1, half above 0 and below 0.5. Anything else, a bad confidence, or a size above MaxSize is an error. Source:
// the interval's own width, see Wilson; compare SizeForShareWald of the textbooks.
func SizeForShare(p, half, confidence float64) (int, error) {
	if err := checkShareSize(p, half, confidence); err != nil {
		return 0, err
	}
	z := NormalQuantile(0.5 + confidence/2)
	zz := float64(z * z)
	return least(1, func(n int) (bool, error) {
		m := float64(n)
		width := z * math.Sqrt(float64(p*(1-p))/m+zz/float64(4*m*m)) / (1 + zz/m)
		return width <= half, nil
	})
}

// SizeForShareWald gives the size of the textbooks, z² p(1-p)/half² rounded up, at least 1: 385 for a half of 5 points around
// 50 % at 95 %. It is too small when p is near 0 or 1. Errors as for SizeForShare. Source: Cochran WG, Sampling Techniques, 3rd
// ed., section 4.4.
func SizeForShareWald(p, half, confidence float64) (int, error) {
	if err := checkShareSize(p, half, confidence); err != nil {
		return 0, err
	}
	z := NormalQuantile(0.5 + confidence/2)
	n := math.Ceil(float64(z*z) * float64(p*(1-p)) / float64(half*half))
	if n > MaxSize {
		return 0, fmt.Errorf("more than %d would be needed", MaxSize)
	}
	return max(1, int(n)), nil
}

func checkShareSize(p, half, confidence float64) error {
	switch {
	case !(p >= 0 && p <= 1):
		return fmt.Errorf("a share of %v is not between 0 and 1", p)
	case !(half > 0 && half < 0.5):
		return fmt.Errorf("a half width of %v is not between 0 and 0.5", half)
	}
	return checkConfidence(confidence)
}

// SizeForShares gives how many people each of two groups needs so that shares p1 and p2 are told apart by a two-sided test at
// alpha with the power asked for:
//
//	n = (z(1-alpha/2) sqrt(2 p q) + z(power) sqrt(p1 q1 + p2 q2))² / (p1-p2)²,  p = (p1+p2)/2, q = 1-p
//
// rounded up. Shares outside of 0 to 1, equal ones, an alpha or a power that is not between 0 and 1, or a power that chance
// alone has (power <= alpha/2) is an error. Source: Fleiss JL, Levin B, Paik MC, Statistical Methods for Rates and Proportions,
// 3rd ed., section 4.2, without continuity correction.
func SizeForShares(p1, p2, alpha, power float64) (int, error) {
	if !(p1 >= 0 && p1 <= 1 && p2 >= 0 && p2 <= 1) || p1 == p2 {
		return 0, fmt.Errorf("the shares %v and %v cannot be told apart", p1, p2)
	}
	if err := checkTest(alpha, power); err != nil {
		return 0, err
	}
	p := (p1 + p2) / 2
	root := NormalQuantile(1-alpha/2)*math.Sqrt(float64(2*p*(1-p))) + NormalQuantile(power)*math.Sqrt(float64(p1*(1-p1))+float64(p2*(1-p2)))
	if root <= 0 {
		return 1, nil
	}
	n := math.Ceil(float64(root*root) / float64((p1-p2)*(p1-p2)))
	if n > MaxSize {
		return 0, fmt.Errorf("more than %d would be needed", MaxSize)
	}
	return max(1, int(n)), nil
}

func checkTest(alpha, power float64) error {
	if !(alpha > 0 && alpha < 1) || !(power > 0 && power < 1) {
		return fmt.Errorf("alpha %v and power %v must lie between 0 and 1", alpha, power)
	}
	if power <= alpha/2 {
		return fmt.Errorf("a power of %v is chance alone at an alpha of %v", power, alpha)
	}
	return nil
}

// SizeForBias gives how many pairs are needed so that a two-sided t test at alpha of the mean difference finds a true bias with
// the power asked for: the smallest n with BiasPower of at least power. bias and sd (of the differences) are in one unit; a
// bias of 0, an sd that is not positive, NaN, infinities, or a size above MaxSize is an error.
func SizeForBias(bias, sd, alpha, power float64) (int, error) {
	if err := checkTest(alpha, power); err != nil {
		return 0, err
	}
	if bias == 0 {
		return 0, fmt.Errorf("no number of pairs finds a bias of 0")
	}
	return least(2, func(n int) (bool, error) {
		p, err := BiasPower(n, bias, sd, alpha)
		return p >= power, err
	})
}

// BiasPower gives the chance that a two-sided t test of n pairs at alpha finds a true mean difference:
//
//	P(|T| > t(1-alpha/2; n-1)),  T noncentral t with n-1 degrees of freedom and noncentrality bias sqrt(n)/sd
//
// integrated over the distribution of the observed SD. Fewer than two pairs, an sd that is not positive, NaN, an infinity or an
// alpha outside of 0 to 1 is an error. Source: Cohen J, Statistical Power Analysis for the Behavioral Sciences, 2nd ed.,
// chapter 2; both sides counted.
func BiasPower(n int, bias, sd, alpha float64) (float64, error) {
	switch {
	case n < 2:
		return 0, fmt.Errorf("a t test needs at least two pairs, got %d", n)
	case !positive(sd):
		return 0, fmt.Errorf("an SD of %v is not a positive number", sd)
	case math.IsNaN(bias) || math.IsInf(bias, 0):
		return 0, fmt.Errorf("a bias of %v is not a number", bias)
	case !(alpha > 0 && alpha < 1):
		return 0, fmt.Errorf("an alpha of %v is not between 0 and 1", alpha)
	}
	nu := float64(n - 1)
	delta := bias / sd * math.Sqrt(float64(n))
	critical := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(1 - alpha/2)
	// Given the observed SD over the true one, r, T passes the limit when a normal value passes delta -/+ critical r. The
	// integral is over the probability of r, cut where nothing is left.
	chi := distuv.ChiSquared{K: nu}
	low, high := math.Sqrt(chiEnd(nu, -10)/nu), math.Sqrt(chiEnd(nu, 10)/nu)
	density := func(r float64) float64 {
		if r <= 0 {
			return 0
		}
		return chi.Prob(float64(nu*r*r)) * float64(2*nu*r)
	}
	power := quad.Fixed(func(r float64) float64 {
		return density(r) * (phi(delta-float64(critical*r)) + phi(-delta-float64(critical*r)))
	}, low, high, 200, quad.Legendre{}, 0)
	return math.Min(1, math.Max(0, power)), nil
}

// chiEnd gives the point of a chi-square distribution about z standard deviations from its middle (Wilson-Hilferty), not below
// 0.
func chiEnd(nu, z float64) float64 {
	v := 2 / (9 * nu)
	root := math.Max(0, 1-v+z*math.Sqrt(v))
	return nu * root * root * root
}

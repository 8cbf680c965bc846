package estimate

import (
	"fmt"
	"math"
)

// BinomialTail gives the exact upper tail P(X >= k) of a binomial count of n trials with probability p each: the sum of
// C(n,i) p^i (1-p)^(n-i) from k to n, smallest terms first, each from the logarithm of the gamma function. It is 1 for k of
// 0 or less and 0 for k above n. A negative n, or a p that is not between 0 and 1 (NaN too), is an error.
func BinomialTail(k, n int, p float64) (float64, error) {
	switch {
	case n < 0:
		return 0, fmt.Errorf("%d trials", n)
	case !(p >= 0 && p <= 1):
		return 0, fmt.Errorf("a probability of %v is not between 0 and 1", p)
	case k <= 0:
		return 1, nil
	case k > n:
		return 0, nil
	case p == 0 || p == 1:
		return p, nil
	}
	all, success, failure := logFactorial(n), math.Log(p), math.Log1p(-p)
	sum := 0.0
	for i := n; i >= k; i-- {
		log := all - logFactorial(i) - logFactorial(n-i) + float64(float64(i)*success) + float64(float64(n-i)*failure)
		sum += math.Exp(log)
	}
	return math.Min(sum, 1), nil
}

func logFactorial(n int) float64 {
	log, _ := math.Lgamma(float64(n) + 1)
	return log
}

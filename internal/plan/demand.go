package plan

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Demand is how much of something may be needed.
type Demand interface {
	// Quantile gives the smallest amount that suffices with probability p, which lies between 0 and 1, both excluded.
	Quantile(p float64) float64
}

// Counts is a demand in whole pieces: Poisson when Size is 0, else negative binomial with variance Mean + Mean²/Size.
type Counts struct {
	Mean float64
	Size float64
}

func (c Counts) check() error {
	if !finite(c.Mean, 0) || c.Mean > 1e6 || !finite(c.Size, 0) || c.Size > 0 && c.Size < 1e-6 {
		return bad("plan-demand", "", "A demand with mean %v and size %v cannot be computed.", c.Mean, c.Size)
	}
	return nil
}

// mostPieces ends the sum over a demand with a tail that is almost endless.
const mostPieces = 100_000_000

// terms walks up the probabilities of 0, 1, 2... until it is told to stop or nothing is left. It adds logarithms, so that for a large mean the first
// terms are rounded to 0 and grow back.
func (c Counts) terms(yield func(n int, p float64) bool) {
	log, step := -c.Mean, math.Log(c.Mean)
	if c.Size > 0 {
		log, step = -float64(c.Size*math.Log1p(c.Mean/c.Size)), -math.Log1p(c.Size/c.Mean)
	}
	for n := 0; n < mostPieces; n++ {
		p := math.Exp(log)
		if p == 0 && float64(n) > c.Mean || !yield(n, p) || c.Mean == 0 {
			return
		}
		more := 1.0
		if c.Size > 0 {
			more = float64(n) + c.Size
		}
		log += step + math.Log(more/float64(n+1))
	}
}

// Quantile gives the smallest whole number q with P(X <= q) >= p; NaN when the demand or p cannot be.
func (c Counts) Quantile(p float64) float64 {
	if c.check() != nil || !(p > 0 && p < 1) {
		return math.NaN()
	}
	sum, q := 0.0, 0
	c.terms(func(n int, term float64) bool {
		sum += term
		q = n
		return sum < p-1e-12 // the sum of many terms is rounded
	})
	return float64(q)
}

// Shortage is what a stock leaves to chance.
type Shortage struct {
	Stockout float64 `json:"stockout"` // P(D > Q)
	Short    float64 `json:"short"`    // E(D-Q)+
	Left     float64 `json:"left"`     // E(Q-D)+
}

// Shortage gives the chance that a stock of q runs out, how much is then missing and how much is left, on average. It holds
// Short - Left = Mean - q. A demand that cannot be and a negative stock are an error.
func (c Counts) Shortage(q int) (Shortage, error) {
	if err := c.check(); err != nil {
		return Shortage{}, err
	}
	if q < 0 {
		return Shortage{}, bad("plan-demand", "", "A stock of %d pieces cannot be.", q)
	}
	var s Shortage
	in := 0.0
	c.terms(func(n int, term float64) bool {
		if n > q {
			return false
		}
		in += term
		s.Left += float64(float64(q-n) * term)
		return true
	})
	s.Stockout = math.Max(0, 1-in)
	s.Short = math.Max(0, s.Left+c.Mean-float64(q))
	return s, nil
}

// Normal, LogNormalDemand and Even are demands that are measured rather than counted.
type (
	Normal          struct{ Mean, SD float64 }
	LogNormalDemand struct{ Median, Sigma float64 } // Sigma of the natural logarithm
	Even            struct{ From, To float64 }
)

// Quantile gives the quantile of the normal law.
func (n Normal) Quantile(p float64) float64 {
	return n.Mean + float64(n.SD*distuv.UnitNormal.Quantile(p))
}

// Quantile gives the quantile of the log-normal law.
func (l LogNormalDemand) Quantile(p float64) float64 {
	return l.Median * math.Exp(float64(l.Sigma*distuv.UnitNormal.Quantile(p)))
}

// Quantile gives the quantile of the uniform law.
func (e Even) Quantile(p float64) float64 { return e.From + float64(p*(e.To-e.From)) }

// Retested is a demand of so many tests, of which a share is done a second time, and a fixed number beside them: Tests + Binomial(Tests, Share) +
// Fixed. It is the instant answer for strips when the number of people is known.
type Retested struct {
	Tests int
	Share float64
	Fixed int
}

// Mean gives the mean.
func (r Retested) Mean() float64 { return float64(r.Tests)*(1+r.Share) + float64(r.Fixed) }

// Quantile gives the smallest number that suffices with probability p; NaN when the demand or p cannot be.
func (r Retested) Quantile(p float64) float64 {
	if r.Tests < 0 || r.Fixed < 0 || !share(r.Share) || !(p > 0 && p < 1) {
		return math.NaN()
	}
	b := distuv.Binomial{N: float64(r.Tests), P: r.Share}
	sum, again := 0.0, 0
	if r.Share > 0 && r.Share < 1 {
		for ; again < r.Tests; again++ {
			if sum += b.Prob(float64(again)); sum >= p-1e-12 {
				break
			}
		}
	} else if r.Share == 1 {
		again = r.Tests
	}
	return float64(r.Tests + again + r.Fixed)
}

// Seen is a demand as it was on simulated or recorded days, one number a day, in rising order.
type Seen []int

// NewSeen sorts a copy of the numbers of many days.
func NewSeen(days []int) Seen { return slices.Sorted(slices.Values(days)) }

// Quantile gives the smallest number that sufficed on at least a share p of the days; 0 without days.
func (s Seen) Quantile(p float64) float64 {
	if len(s) == 0 {
		return 0
	}
	return float64(s[rank(p, len(s))])
}

// Cost gives what a stock costs on average: over for each piece left, short for each piece that is missing.
func (s Seen) Cost(stock int, short, over float64) float64 {
	sum := 0.0
	for _, need := range s {
		sum += float64(short*float64(max(need-stock, 0))) + float64(over*float64(max(stock-need, 0)))
	}
	return sum / float64(max(len(s), 1))
}

// Newsvendor gives how much to buy of what cannot be kept: the smallest Q with F(Q) >= short/(short+over), where short is what a missing piece
// costs and over what a piece costs that is thrown away. It also gives that ratio. Both costs must be positive. Source: Arrow KJ, Harris T,
// Marschak J 1951; as in Cachon G, Terwiesch C, Matching Supply with Demand.
func Newsvendor(d Demand, short, over float64) (quantity, ratio float64, err error) {
	if !finite(short, 0) || !finite(over, 0) || short == 0 || over == 0 {
		return 0, 0, bad("plan-newsvendor", "Give two positive costs.", "With a missing piece at %v and a wasted one at %v nothing can be chosen.", short, over)
	}
	ratio = short / (short + over)
	q := d.Quantile(ratio)
	if math.IsNaN(q) || math.IsInf(q, 0) {
		return 0, 0, bad("plan-demand", "", "The demand has no quantile.")
	}
	return q, ratio, nil
}

// Pack is a size in which something is sold, with its price in cents.
type Pack struct {
	Size  int `json:"size"`
	Cents int `json:"cents"`
}

// BestPacks gives how many packs of one size cost the least on average, when what is left is worth nothing and a missing piece costs short cents.
// It tries every number of packs up to the most that any day needed; of equals the fewer.
func BestPacks(s Seen, p Pack, short float64) (int, error) {
	if p.Size < 1 || p.Cents < 0 || !finite(short, 0) || len(s) == 0 {
		return 0, bad("plan-newsvendor", "", "Packs of %d for %d cents cannot be chosen.", p.Size, p.Cents)
	}
	best, least := 0, math.Inf(1)
	for n := 0; ; n++ {
		cost := float64(n*p.Cents) + s.Cost(n*p.Size, short, 0)
		if cost < least {
			best, least = n, cost
		}
		if n*p.Size >= s[len(s)-1] {
			return best, nil
		}
	}
}

// Packs rounds a need up to whole packs of one size.
func Packs(need, size int) int {
	if need <= 0 || size < 1 {
		return 0
	}
	return (need + size - 1) / size
}

// CheapestPacks covers a need with packs of several sizes at the least price; of equals with the least left over. It gives how many of each
// to buy. No sizes, a size below 1, a negative price or a need above 100,000 is an error.
func CheapestPacks(need int, packs []Pack) (counts []int, cents int, err error) {
	if len(packs) == 0 || need > 100_000 {
		return nil, 0, bad("plan-packs", "", "A need of %d cannot be packed in %d sizes.", need, len(packs))
	}
	for _, p := range packs {
		if p.Size < 1 || p.Cents < 0 {
			return nil, 0, bad("plan-packs", "Give a size of at least 1 and no negative price.", "Packs of %d for %d cents cannot be.", p.Size, p.Cents)
		}
	}
	type way struct{ cents, pieces, last int }
	best := make([]way, max(need, 0)+1) // to cover at least i pieces
	for i := 1; i <= need; i++ {
		best[i].last = -1
		for k, p := range packs {
			from := best[max(0, i-p.Size)]
			w := way{from.cents + p.Cents, from.pieces + p.Size, k}
			if b := best[i]; b.last < 0 || w.cents < b.cents || w.cents == b.cents && w.pieces < b.pieces {
				best[i] = w
			}
		}
	}
	counts = make([]int, len(packs))
	for i := need; i > 0; i = max(0, i-packs[best[i].last].Size) {
		counts[best[i].last]++
	}
	return counts, best[max(need, 0)].cents, nil
}

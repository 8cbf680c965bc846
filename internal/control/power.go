package control

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// PowerSettings is an error of the meter and how it is looked for. Every level is hit alike.
type PowerSettings struct {
	Rules     Rules
	Shift     float64 // of the mean, in SD
	Inflation float64 // of the SD, as a factor; 1 is none
	Before    int     // runs in control before the error begins, which fill the counts of rules over several runs
	Runs      int     // runs after the error begins
	Trials    int     // simulated series
}

// Estimate is a simulated probability with its Monte-Carlo standard error sqrt(p(1-p)/trials).
type Estimate struct {
	P  float64
	SE float64
}

// Power is what a set of rules does against an error.
type Power struct {
	PerRun []Estimate // probability that the i-th run with the error is rejected
	Within []Estimate // probability that one of the first i of them is
}

// Simulate gives the probability of rejection for each run after an error begins, from independent normal z. Without a shift and with
// inflation 1 it is the rate of false alarms. What the rules reject before the error begins is not counted; the counts that
// they keep then are. Numbers below 1, an inflation that is not above 0, and NaN or infinity are a *fault.Fault.
func Simulate(s PowerSettings, rng *rand.Rand) (Power, error) {
	m, err := NewMultirule(s.Rules)
	if err != nil {
		return Power{}, err
	}
	switch {
	case s.Runs < 1 || s.Trials < 1 || s.Before < 0:
		return Power{}, powerFault(fmt.Sprintf("%d runs after %d others in %d trials cannot be simulated.", s.Runs, s.Before, s.Trials))
	case !(s.Inflation > 0) || math.IsInf(s.Inflation, 0):
		return Power{}, powerFault(fmt.Sprintf("An SD cannot be inflated by %v.", s.Inflation))
	case math.IsNaN(s.Shift) || math.IsInf(s.Shift, 0):
		return Power{}, powerFault("The shift is not a number.")
	}
	perRun, within := make([]int, s.Runs), make([]int, s.Runs)
	points := make([]Point, s.Rules.Levels)
	for range s.Trials {
		m.restart()
		rejected := false
		for run := -s.Before; run < s.Runs; run++ {
			for i := range points {
				z := rng.NormFloat64()
				if run >= 0 {
					z = s.Shift + float64(z*s.Inflation)
				}
				points[i] = Point{i, z}
			}
			r, err := m.Add(points)
			if err != nil {
				return Power{}, err
			}
			if run < 0 {
				continue
			}
			if r.Decision == Reject {
				rejected = true
				perRun[run]++
			}
			if rejected {
				within[run]++
			}
		}
	}
	return Power{estimates(perRun, s.Trials), estimates(within, s.Trials)}, nil
}

func estimates(counts []int, trials int) []Estimate {
	out := make([]Estimate, len(counts))
	for i, c := range counts {
		p := float64(c) / float64(trials)
		out[i] = Estimate{p, math.Sqrt(p * (1 - p) / float64(trials))}
	}
	return out
}

func powerFault(sentence string) error {
	return fault.New(fault.Invalid, "power-unusable", sentence, "", "Give an error and at least one run and one trial.")
}

// Beyond is the probability that one of n independent values in control lies beyond limit SD on either side: 1 - (1-2Q)^n. With limit
// 2 and 3 it is the rate of 1-2s and 1-3s. n below 1 gives 0; a limit that is not above 0 gives NaN.
func Beyond(limit float64, n int) float64 {
	if !(limit > 0) {
		return math.NaN()
	}
	if n < 1 {
		return 0
	}
	return -math.Expm1(float64(n) * math.Log1p(-2*distuv.UnitNormal.Survival(limit)))
}

// FalseWithinRun gives the rate, per run of 2 or 3 levels in control, of 2-2s (which with three levels is also 2of3-2s), of R-4s with
// both limits, and of R-4s as a range. Other numbers of levels are a *fault.Fault.
func FalseWithinRun(levels int) (twoOneSide, bothLimits, rangeForm float64, err error) {
	if levels < 2 || levels > MaxLevels {
		return 0, 0, 0, fault.New(fault.Invalid, "levels-unusable", fmt.Sprintf("Nothing can be said within a run of %d levels.", levels), "", "Give 2 or 3 levels.")
	}
	q, n := distuv.UnitNormal.Survival(2), float64(levels)
	oneSide := 1 - math.Pow(1-q, n) - n*q*math.Pow(1-q, n-1)
	bothLimits = 1 - 2*math.Pow(1-q, n) + math.Pow(1-2*q, n)
	// P(max - min <= 4) = n times the integral over the lowest value.
	inside := quad.Fixed(func(x float64) float64 {
		return n * bell(x) * math.Pow(distuv.UnitNormal.CDF(x+4)-distuv.UnitNormal.CDF(x), n-1)
	}, -10, 10, 200, quad.Legendre{}, 0)
	return 2 * oneSide, bothLimits, 1 - inside, nil
}

// RowARL is the mean number of values of one level, shifted by so many SD, until n in a row lie beyond limit SD on one side:
// 1/(1/up + 1/down) with up = (1-p^n)/((1-p) p^n), p the chance of one value beyond that side. Limit 0 is the x rules, 1 is 3-1s and
// 4-1s, 2 is 2-2s. n below 1, a negative limit, NaN and infinity are a *fault.Fault.
func RowARL(n int, limit, shift float64) (float64, error) {
	if n < 1 || !(limit >= 0) || math.IsInf(limit, 0) {
		return 0, powerFault(fmt.Sprintf("%d values in a row beyond %v SD are no rule.", n, limit))
	}
	if err := checkShift(shift); err != nil {
		return 0, err
	}
	rate := 0.0
	for _, s := range [2]float64{shift, -shift} {
		p := distuv.UnitNormal.Survival(limit - s)
		if p == 1 {
			return float64(n), nil
		}
		pn := math.Pow(p, float64(n))
		rate += (1 - p) * pn / (1 - pn)
	}
	return 1 / rate, nil
}

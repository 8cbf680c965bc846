package plan

import (
	"math"
	"math/rand/v2"
)

// Law is the shape of a service time.
type Law string

// The laws of a service time.
const (
	Fixed       Law = "fixed"
	Exponential Law = "exponential" // its CV is 1, whatever is given
	Gamma       Law = "gamma"       // shape 1/cv², scale mean cv²
	LogNormal   Law = "log-normal"  // sigma² = ln(1 + cv²), mu = ln mean - sigma²/2
)

// Laws lists all in a fixed order.
var Laws = []Law{Fixed, Exponential, Gamma, LogNormal}

// Dist is a distribution of minutes, given by the mean and the coefficient of variation of the minutes themselves (not of their
// logarithm). A CV of 0 is a fixed time. The zero value takes no time.
type Dist struct {
	Law  Law     `json:"law"`
	Mean float64 `json:"mean"`
	CV   float64 `json:"cv"`
}

// Spread gives the CV that the law really has: 0 for a fixed time, 1 for an exponential one.
func (d Dist) Spread() float64 {
	switch {
	case d.Law == Exponential:
		return 1
	case d.Law == Gamma || d.Law == LogNormal:
		return d.CV
	}
	return 0
}

// noSpread is the coefficient of variation below which nothing is spread; the shape of its gamma law would be no number.
const noSpread = 1e-4

// sampler is a Dist made ready to be drawn from.
type sampler struct {
	law  Law
	a, b float64 // fixed: minutes; exponential: mean; gamma: shape, scale; log-normal: mu, sigma
}

// none says that a distribution was left out.
func (d Dist) none() bool { return d == Dist{} }

func (d Dist) ready(what string) (sampler, error) {
	if d.none() {
		return sampler{law: Fixed}, nil
	}
	if !finite(d.Mean, 0) || d.Mean == 0 || !finite(d.CV, 0) || d.CV > 5 || d.Mean > 24*60 {
		return sampler{}, bad("plan-minutes", "Give a positive mean in minutes and a coefficient of variation from 0 to 5.",
			"A time of %v minutes with a coefficient of variation of %v for %s cannot be right.", d.Mean, d.CV, what)
	}
	cc := float64(d.CV * d.CV)
	switch {
	case d.Law == Fixed || (d.Law == Gamma || d.Law == LogNormal) && d.CV < noSpread:
		return sampler{Fixed, d.Mean, 0}, nil
	case d.Law == Exponential:
		return sampler{Exponential, d.Mean, 0}, nil
	case d.Law == Gamma:
		return sampler{Gamma, 1 / cc, float64(d.Mean * cc)}, nil
	case d.Law == LogNormal:
		v := math.Log1p(cc)
		return sampler{LogNormal, math.Log(d.Mean) - v/2, math.Sqrt(v)}, nil
	}
	return sampler{}, bad("plan-law", "Use fixed, exponential, gamma or log-normal.", "The law %q of a time is not known.", d.Law)
}

func (s *sampler) draw(rng *rand.Rand) float64 {
	switch s.law {
	case Exponential:
		return s.a * rng.ExpFloat64()
	case Gamma:
		return s.b * drawGamma(s.a, rng)
	case LogNormal:
		return exp(s.a + float64(s.b*rng.NormFloat64()))
	}
	return s.a
}

// drawGamma draws from a gamma law of unit scale. Source: Marsaglia G, Tsang WW, ACM Trans Math Softw 2000;26:363-72; below a shape of 1
// by the power of a uniform number that they give.
func drawGamma(shape float64, rng *rand.Rand) float64 {
	if shape < 1 {
		u := 1 - rng.Float64() // never 0
		return drawGamma(shape+1, rng) * math.Pow(u, 1/shape)
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + float64(c*x)
		if v <= 0 {
			continue
		}
		v = v * v * v
		u := 1 - rng.Float64()
		if math.Log(u) < float64(0.5*x*x)+d-float64(d*v)+float64(d*math.Log(v)) {
			return d * v
		}
	}
}

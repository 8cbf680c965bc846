package estimate

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Spread says how the readings of one true value are taken to scatter, when a meter's CV is known at one level.
type Spread string

// The spreads. All of them say 0.5 for a reading at the limit when nothing is known beforehand.
const (
	SDAtReading Spread = "sd-at-reading" // normal; the SD is CV times the reading
	SDAtLimit   Spread = "sd-at-limit"   // normal; the SD is CV times the limit
	LogNormal   Spread = "log-normal"    // the logarithm is normal with variance ln(1+CV²); the true value is the median
)

// Spreads lists all in a fixed order.
var Spreads = []Spread{SDAtReading, SDAtLimit, LogNormal}

// Prior is what is known of the people before anybody is tested: the middle of their true values and how far they scatter. With
// a normal spread Middle is their mean and CV times Middle their SD; with the log-normal one Middle is their median and the
// variance of the logarithm is ln(1+CV²).
type Prior struct {
	Middle float64 // in the unit of the reading
	CV     float64 // a fraction: 0.2 for 20 %
}

// ChanceAbove gives the chance that the true value is at or above a limit, given a reading and the meter's own observed CV (a
// fraction: 0.04 for 4 %), with a flat prior: every true value was as likely as any other before the reading, so that
// prevalence is ignored.
//
//	sd-at-reading   Phi((y - T) / (CV y))
//	sd-at-limit     Phi((y - T) / (CV T))
//	log-normal      Phi(ln(y/T) / sqrt(ln(1+CV²)))
//
// Reading and limit are in one unit, both positive; the CV lies between 0 and 1, both excluded (a CV of 4 would be a percentage
// taken for a fraction). Anything else, NaN and infinities too, is an error. A bias of the meter is not in it. Source: JCGM
// 106:2012, clause 7; the logarithmic form by the same reasoning on ln y.
func ChanceAbove(reading, limit, cv float64, s Spread) (float64, error) {
	y, t, u, err := scale(reading, limit, cv, s)
	if err != nil {
		return 0, err
	}
	return phi((y - t) / u), nil
}

// ChanceAboveWith is ChanceAbove with a prior of the same kind as the spread (normal with normal, log-normal with log-normal),
// so that what is known after the reading has that kind too. With v = 1/u² of the meter and w = 1/s² of the people:
//
//	Phi((m - T) sqrt(v+w)),  m = (v y + w M)/(v+w)
//
// each on the logarithmic scale for the log-normal spread. A wide prior (large CV) gives what ChanceAbove gives. The CV of the
// prior is positive and finite and may pass 1. Errors as for ChanceAbove. Source: conjugate normal model, for example Gelman A
// and others, Bayesian Data Analysis, 3rd ed., section 2.5; JCGM 106:2012, clause 6.
func ChanceAboveWith(reading, limit, cv float64, s Spread, p Prior) (float64, error) {
	y, t, u, err := scale(reading, limit, cv, s)
	if err != nil {
		return 0, err
	}
	if !positive(p.Middle) || !positive(p.CV) {
		return 0, fmt.Errorf("a prior needs a positive middle and CV, got %v and %v", p.Middle, p.CV)
	}
	middle, spread := p.Middle, float64(p.CV*p.Middle)
	if s == LogNormal {
		middle, spread = math.Log(p.Middle), logSD(p.CV)
	}
	// Divided by the precision of the meter: r is the variance of the meter over that of the people.
	r := float64(u/spread) * float64(u/spread)
	m := (y + float64(r*middle)) / (1 + r)
	return phi((m - t) / u * math.Sqrt(1+r)), nil
}

// PriorOf makes a log-normal prior of the readings that a crowd had on meters of one CV: the median is exp(mean of ln y), and
// the variance of the logarithm is that of the readings (n-1) less the meter's own, ln(1+CV²), so that what is left is the
// people's. Readings and median have one unit. Fewer than 20 readings (common practice), one that is not positive and finite, a
// CV outside of 0 to 1, or readings that scatter no more than the meter does are an error. It takes the people of this crowd as
// those of the next. Source: by moments, from the model of ChanceAboveWith.
func PriorOf(readings []float64, cv float64) (Prior, error) {
	const least = 20
	if len(readings) < least {
		return Prior{}, fmt.Errorf("a prior needs at least %d readings, got %d", least, len(readings))
	}
	if !(cv > 0 && cv < 1) {
		return Prior{}, fmt.Errorf("a CV of %v is not between 0 and 1; 4 %% is 0.04", cv)
	}
	logs := make([]float64, len(readings))
	for i, y := range readings {
		if !positive(y) {
			return Prior{}, fmt.Errorf("reading %d, %v, is not a positive number", i+1, y)
		}
		logs[i] = math.Log(y)
	}
	mean, variance := stat.MeanVariance(logs, nil)
	people := variance - math.Log1p(float64(cv*cv))
	if people <= 0 {
		return Prior{}, fmt.Errorf("the readings scatter no more than a meter with a CV of %v does", cv)
	}
	return Prior{Middle: math.Exp(mean), CV: math.Sqrt(math.Expm1(people))}, nil
}

// DecisionReading gives the reading from which the chance of ChanceAbove is at least p:
//
//	sd-at-reading   T / (1 - z CV)
//	sd-at-limit     T (1 + z CV)
//	log-normal      T exp(z sqrt(ln(1+CV²)))
//
// with z the normal quantile of p. Where the SD grows with the reading, no reading reaches a p with z CV of 1 or more; where it
// is that of the limit, the least readings would not be positive for z CV of -1 or less: both are errors, and so is a p outside
// of 0 to 1, or what ChanceAbove refuses.
func DecisionReading(limit, cv, p float64, s Spread) (float64, error) {
	if _, _, _, err := scale(limit, limit, cv, s); err != nil {
		return 0, err
	}
	if !(p > 0 && p < 1) {
		return 0, fmt.Errorf("a chance of %v is not between 0 and 1", p)
	}
	z := NormalQuantile(p)
	switch s {
	case SDAtReading:
		if z*cv >= 1 {
			return 0, fmt.Errorf("with a CV of %v no reading has a chance of %v", cv, p)
		}
		return limit / (1 - float64(z*cv)), nil
	case SDAtLimit:
		if z*cv <= -1 {
			return 0, fmt.Errorf("with a CV of %v no reading has a chance of %v", cv, p)
		}
		return limit * (1 + float64(z*cv)), nil
	}
	return limit * math.Exp(float64(z*logSD(cv))), nil
}

// scale gives reading, limit and SD on the scale on which the spread is normal.
func scale(reading, limit, cv float64, s Spread) (y, t, u float64, err error) {
	switch {
	case !positive(reading):
		return 0, 0, 0, fmt.Errorf("a reading of %v is not a positive number", reading)
	case !positive(limit):
		return 0, 0, 0, fmt.Errorf("a limit of %v is not a positive number", limit)
	case !(cv > 0 && cv < 1):
		return 0, 0, 0, fmt.Errorf("a CV of %v is not between 0 and 1; 4 %% is 0.04", cv)
	}
	switch s {
	case SDAtReading:
		return reading, limit, float64(cv * reading), nil
	case SDAtLimit:
		return reading, limit, float64(cv * limit), nil
	case LogNormal:
		return math.Log(reading), math.Log(limit), logSD(cv), nil
	}
	return 0, 0, 0, fmt.Errorf("the spread %q is not known", s)
}

// logSD gives the SD of the logarithm of what has a log-normal spread with a CV.
func logSD(cv float64) float64 { return math.Sqrt(math.Log1p(float64(cv * cv))) }

func phi(z float64) float64 { return distuv.UnitNormal.CDF(z) }

func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// Capability says how a meter's bias and CV stand to the error that is allowed.
type Capability struct {
	Sigma      float64 // (TEa - |bias|)/CV; negative when the bias alone is more than is allowed
	CriticalSE float64 // the shift, in SD, that lets 5 % of results pass the allowed error: sigma - 1.65
	PerMillion float64 // results beyond the allowed error on the side of the bias, of a million, by the normal law
	TotalError float64 // |bias| + 1.65 CV, percent
	Fails      bool    // the bias alone passes the allowed error
}

// Sigma is the sigma metric of an allowed total error, a bias and a CV, all in percent of the same level; the sign of the bias does not
// matter. Source: Westgard JO (sigma metric and critical systematic error; 1.65 is his rounding of the 95 % point). An allowed error or CV that is not
// above 0, NaN and infinity are a *fault.Fault; a negative sigma is a result.
func Sigma(allowed, bias, cv float64) (Capability, error) {
	for _, x := range []struct {
		name string
		v    float64
		ok   bool
	}{{"allowed error", allowed, allowed > 0}, {"CV", cv, cv > 0}, {"bias", bias, true}} {
		if !x.ok || math.IsNaN(x.v) || math.IsInf(x.v, 0) {
			return Capability{}, fault.New(fault.Invalid, "sigma-unusable", fmt.Sprintf("The %s cannot be %v percent.", x.name, x.v),
				"Sigma is the allowed error less the bias, in CV.", "Give an allowed error and a CV above 0 percent.")
		}
	}
	sigma := (allowed - math.Abs(bias)) / cv
	return Capability{
		Sigma: sigma, CriticalSE: sigma - 1.65, PerMillion: 1e6 * distuv.UnitNormal.Survival(sigma),
		TotalError: math.Abs(bias) + float64(1.65*cv), Fails: math.Abs(bias) > allowed,
	}, nil
}

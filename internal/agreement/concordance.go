package agreement

import (
	"math"

	"fairstick/internal/fault"
)

const nameCCC = "Concordance"

// Concordance is Lin's concordance correlation coefficient with its parts: CCC = R * Cb.
type Concordance struct {
	N             int       `json:"n"`
	CCC           float64   `json:"ccc"`
	CI            *Interval `json:"ci,omitempty"`
	R             float64   `json:"r"`              // Pearson's correlation: how close to some line
	Cb            float64   `json:"cb"`             // how close that line is to identity
	LocationShift float64   `json:"location_shift"` // (mean y - mean x)/sqrt(sx sy)
	ScaleShift    float64   `json:"scale_shift"`    // sy/sx
	Note          string    `json:"note,omitempty"`
}

// CCC gives Lin's concordance correlation, between -1 and 1, with moments divided by n as Lin wrote them:
//
//	2 sxy/(sx² + sy² + (mean x - mean y)²)
//
// The interval is by the z-transform: tanh(atanh(CCC) ± z SE), with the corrected variance and n-2. It is missing, and Note
// says so, when the pairs agree perfectly or have no correlation. Fewer than 3 pairs, numbers that are not finite and constant
// columns are refused. Source: Lin LI, Biometrics 1989;45:255-68, corrected 2000;56:324-5 (from memory).
func CCC(pairs []Pair, confidence float64) (Concordance, error) {
	if err := checkConfidence(confidence); err != nil {
		return Concordance{}, err
	}
	if err := check(pairs, nameCCC, 3, false); err != nil {
		return Concordance{}, err
	}
	x, y := columns(pairs)
	m := momentsOf(x, y)
	if m.sxx == 0 || m.syy == 0 {
		return Concordance{}, constant(nameCCC, "values of both methods")
	}
	n := float64(m.n)
	root := math.Sqrt(m.sxx) * math.Sqrt(m.syy)
	shift := m.my - m.mx
	whole := m.sxx + m.syy + float64(n*shift*shift)
	c := Concordance{
		N: m.n, CCC: 2 * m.sxy / whole, R: math.Max(-1, math.Min(1, m.sxy/root)), Cb: 2 * root / whole,
		LocationShift: shift / math.Sqrt(root/n), ScaleShift: math.Sqrt(m.syy / m.sxx),
	}
	rr, p, u := float64(c.R*c.R), c.CCC, float64(c.LocationShift*c.LocationShift)
	pp := float64(p * p)
	if rr == 0 || 1-pp <= 0 {
		c.Note = "No interval: it needs pairs that agree neither perfectly nor not at all."
		return c, nil
	}
	v := float64((1-rr)*pp*(1-pp))/rr + float64(2*pp*p*(1-p)*u)/c.R - float64(pp*pp*u*u)/(2*rr)
	if !(v > 0) {
		c.Note = "No interval: the pairs are too few and too far apart for the formula."
		return c, nil
	}
	half := zQuantile(confidence) * math.Sqrt(v/(n-2)) / (1 - pp)
	z := math.Atanh(p)
	c.CI = &Interval{Low: math.Tanh(z - half), High: math.Tanh(z + half)}
	return c, nil
}

// RelativeDifference has the mean and the median of the absolute relative difference, in percent of the reference.
type RelativeDifference struct {
	N      int     `json:"n"`
	MARD   float64 `json:"mard"`
	Median float64 `json:"median"`
}

// MARD gives mean and median of 100 |meter - reference|/reference, in percent. With an even number the median is the mean of
// the middle two. No pairs, numbers that are not finite and a reference of zero are refused.
func MARD(pairs []Pair) (RelativeDifference, error) {
	const name = "MARD"
	if err := check(pairs, name, 1, false); err != nil {
		return RelativeDifference{}, err
	}
	rel := make([]float64, len(pairs))
	for i, p := range pairs {
		if p.Reference == 0 {
			return RelativeDifference{}, zeroReference(name, i)
		}
		rel[i] = 100 * math.Abs(p.Meter-p.Reference) / p.Reference
	}
	return RelativeDifference{N: len(rel), MARD: mean(rel), Median: median(rel)}, nil
}

func zeroReference(method string, i int) error {
	return fault.New(fault.Invalid, "reference-zero", pairSentence("The reference value of pair %d is zero.", i),
		method+" divides by it.", "Correct the value or leave the pair out, and say so.")
}

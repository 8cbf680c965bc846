package agreement

import (
	"fmt"
	"math"
	"slices"

	"fairstick/internal/fault"
)

// Scale is what a difference is expressed in.
type Scale string

// The scales of limits of agreement.
const (
	Difference Scale = "difference" // meter - reference, in the unit of the pairs
	Percent    Scale = "percent"    // 100 (meter - reference)/mean of both
	Ratio      Scale = "ratio"      // meter/reference, computed on logarithms
)

// DefaultK is the multiple of the standard deviation that makes limits of agreement; the paper of 1986 used 2.
const DefaultK = 1.96

const nameBias = "Bias"

// Agreement has the bias and the limits of agreement, all on one scale. For Ratio they are ratios, and SD and SE are those of the
// natural logarithm.
type Agreement struct {
	Scale      Scale    `json:"scale"`
	N          int      `json:"n"`
	Mean       float64  `json:"mean"`
	SD         float64  `json:"sd"`
	SE         float64  `json:"se"`
	CI         Interval `json:"ci"` // of the mean
	K          float64  `json:"k"`
	Limits     Interval `json:"loa"`
	LowerCI    Interval `json:"loa_lower_ci"` // of the lower limit, standard error of 1999
	UpperCI    Interval `json:"loa_upper_ci"`
	LowerCI86  Interval `json:"loa_lower_ci_1986"`
	UpperCI86  Interval `json:"loa_upper_ci_1986"`
	Confidence float64  `json:"confidence"`
}

// Bias gives mean difference and limits of agreement on a scale. With the differences' mean d, SD s (n-1) and multiple k:
//
//	interval of d: d ± t(n-1) s/sqrt(n); limits: d ± k s; interval of a limit: limit ± t(n-1) SE
//	SE = s sqrt(1/n + k²/(2(n-1))) (1999), or sqrt(3 s²/n) (1986)
//
// Ratio does so with ln(meter/reference) and turns the ends back. Equal differences give limits of no width. Fewer than 2 pairs,
// numbers that are not finite, an unknown scale and a k that is not positive are refused; Percent refuses a pair of zeros, Ratio any zero. Sources:
// Bland JM, Altman DG, Lancet 1986;i:307-10 and Stat Methods Med Res 1999;8:135-60.
func Bias(pairs []Pair, scale Scale, k, confidence float64) (Agreement, error) {
	if err := checkConfidence(confidence); err != nil {
		return Agreement{}, err
	}
	if err := checkK(k); err != nil {
		return Agreement{}, err
	}
	if err := check(pairs, nameBias, 2, scale == Ratio); err != nil {
		return Agreement{}, err
	}
	d := make([]float64, len(pairs))
	for i, p := range pairs {
		switch scale {
		case Difference:
			d[i] = p.Meter - p.Reference
		case Percent:
			if p.Meter+p.Reference == 0 {
				return Agreement{}, zeroReference(nameBias+" in percent", i)
			}
			d[i] = 200 * (p.Meter - p.Reference) / (p.Meter + p.Reference)
		case Ratio:
			d[i] = math.Log(p.Meter / p.Reference)
		default:
			return Agreement{}, fault.New(fault.Invalid, "scale-unknown", fmt.Sprintf("There are no limits of agreement on the scale %q.", scale), "",
				"Give difference, percent or ratio.")
		}
	}
	a := limits(d, k, confidence)
	a.Scale = scale
	if scale == Ratio {
		a.Mean = math.Exp(a.Mean)
		for _, i := range []*Interval{&a.CI, &a.Limits, &a.LowerCI, &a.UpperCI, &a.LowerCI86, &a.UpperCI86} {
			*i = Interval{Low: math.Exp(i.Low), High: math.Exp(i.High)}
		}
	}
	return a, nil
}

func limits(d []float64, k, confidence float64) Agreement {
	n := float64(len(d))
	m := mean(d)
	sum := 0.0
	for _, v := range d {
		sum += float64((v - m) * (v - m))
	}
	s := math.Sqrt(sum / (n - 1))
	t := tQuantile(confidence, len(d)-1)
	a := Agreement{N: len(d), Mean: m, SD: s, SE: s / math.Sqrt(n), K: k, Confidence: confidence}
	a.CI = *around(m, a.SE, t).CI
	a.Limits = Interval{Low: m - float64(k*s), High: m + float64(k*s)}
	se99 := s * math.Sqrt(1/n+float64(k*k)/(2*(n-1)))
	se86 := s * math.Sqrt(3/n)
	a.LowerCI, a.UpperCI = *around(a.Limits.Low, se99, t).CI, *around(a.Limits.High, se99, t).CI
	a.LowerCI86, a.UpperCI86 = *around(a.Limits.Low, se86, t).CI, *around(a.Limits.High, se86, t).CI
	return a
}

// Repeatability gives the SD of the difference of two measurements of the same samples about zero, sqrt(sum d²/n), and the
// coefficient of repeatability k times that, in the unit of the values. Columns of different length, none at all, or numbers
// that are not finite are refused. Source: Bland JM, Altman DG, Lancet 1986;i:307-10, which used k = 2.
func Repeatability(first, second []float64, k float64) (sd, coefficient float64, err error) {
	if len(first) != len(second) || len(first) == 0 {
		return 0, 0, fmt.Errorf("repeatability of %d first and %d second values", len(first), len(second))
	}
	sum := 0.0
	for i := range first {
		d := first[i] - second[i]
		sum += float64(d * d)
	}
	if math.IsNaN(sum) || math.IsInf(sum, 0) {
		return 0, 0, fmt.Errorf("repeatability of values that are not finite")
	}
	sd = math.Sqrt(sum / float64(len(first)))
	return sd, float64(k * sd), nil
}

// median gives the middle value, or the mean of the middle two. It needs one value or more and changes nothing.
func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	h := len(s) / 2
	if len(s)%2 == 1 {
		return s[h]
	}
	return s[h-1] + (s[h]-s[h-1])/2
}

func pairSentence(format string, i int) string { return fmt.Sprintf(format, i+1) }

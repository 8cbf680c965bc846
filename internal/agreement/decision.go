package agreement

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// Lean says which way a meter leans at a level.
type Lean string

// The leans.
const (
	ReadsHigh Lean = "high"
	ReadsLow  Lean = "low"
	NotShown  Lean = "not-shown" // the interval holds 0: these pairs show no bias
	Unknown   Lean = "unknown"   // there is no interval
)

// LevelBias is the bias of a meter at one reference value, by a regression line.
type LevelBias struct {
	Method    string    `json:"method"`
	Level     float64   `json:"level"`
	Bias      float64   `json:"bias"`    // meter - reference, in the unit of the pairs
	Percent   float64   `json:"percent"` // of the level
	CI        *Interval `json:"ci,omitempty"`
	PercentCI *Interval `json:"percent_ci,omitempty"`
	Lean      Lean      `json:"lean"`
	Note      string    `json:"note,omitempty"`
}

// BiasAt gives the bias at a level from a line: intercept + (slope-1) level. The interval is by t with the variance
// var(intercept) + 2 level cov + level² var(slope), which for a jackknifed line is the jackknife of the bias itself. A level
// that is not positive or outside the range of the reference values is refused: the line is not known there.
func BiasAt(l Line, level float64) (LevelBias, error) {
	b, err := levelBias(l, level)
	if err != nil {
		return LevelBias{}, err
	}
	if l.DF > 0 && l.Slope.CI != nil {
		v := float64(l.Intercept.SE*l.Intercept.SE) + float64(2*level*l.Covariance) + float64(level*level*l.Slope.SE*l.Slope.SE)
		half := tQuantile(l.Confidence, l.DF) * math.Sqrt(math.Max(0, v))
		b.set(Interval{Low: b.Bias - half, High: b.Bias + half})
	} else {
		b.Note = l.Note
	}
	return b, nil
}

// BiasAtPassingBablok gives the bias at a level from the line of Passing and Bablok. Seen from the level, the line's height is the
// median of the residuals y - slope (x - level), which is unsure for two reasons: the slope, which moves that median to where its
// limits put it, and the median itself, which has a distribution-free interval by order statistics. The ends of the interval
// add both distances as the sides of a right angle, as for two independent errors; the derivation is ours, and simulation
// has it hold at least what it says. pairs are those of the line. Errors are those of BiasAt.
func BiasAtPassingBablok(p PassingBablok, pairs []Pair, level float64) (LevelBias, error) {
	b, err := levelBias(p.Line, level)
	if err != nil {
		return LevelBias{}, err
	}
	if len(pairs) != p.N {
		return LevelBias{}, fmt.Errorf("%d pairs for a line of %d", len(pairs), p.N)
	}
	rank := medianRank(p.N, p.Confidence)
	if p.Slope.CI == nil || rank < 1 {
		b.Note = p.Note
		if b.Note == "" {
			b.Note = fmt.Sprintf("No interval: %d pairs are too few at this confidence.", p.N)
		}
		return b, nil
	}
	seen := func(slope float64) []float64 {
		r := make([]float64, len(pairs))
		for i, q := range pairs {
			r[i] = q.Meter - level - float64(slope*(q.Reference-level))
		}
		slices.Sort(r)
		return r
	}
	r, steep, flat := seen(p.Slope.Value), median(seen(p.Slope.CI.High)), median(seen(p.Slope.CI.Low))
	down := math.Hypot(b.Bias-r[rank-1], b.Bias-min(b.Bias, steep, flat))
	up := math.Hypot(r[len(r)-rank]-b.Bias, max(b.Bias, steep, flat)-b.Bias)
	b.set(Interval{Low: b.Bias - down, High: b.Bias + up})
	return b, nil
}

func levelBias(l Line, level float64) (LevelBias, error) {
	if !(level > 0) || !l.Range.Contains(level) {
		return LevelBias{}, fault.New(fault.Invalid, "level-outside",
			fmt.Sprintf("The level %g lies outside the reference values, %g to %g.", level, l.Range.Low, l.Range.High),
			"The line is not known there.", "Measure samples around that level.")
	}
	bias := l.At(level) - level
	return LevelBias{Method: l.Method, Level: level, Bias: bias, Percent: 100 * bias / level, Lean: Unknown}, nil
}

func (b *LevelBias) set(i Interval) {
	b.CI = &i
	b.PercentCI = &Interval{Low: 100 * i.Low / b.Level, High: 100 * i.High / b.Level}
	switch {
	case i.Low > 0:
		b.Lean = ReadsHigh
	case i.High < 0:
		b.Lean = ReadsLow
	default:
		b.Lean = NotShown
	}
}

// medianRank gives the largest rank k so that the k-th smallest and k-th largest of n values hold their median with at least
// the confidence: twice P(Binomial(n, 1/2) < k) is at most 1 - confidence. 0 when n is too small.
func medianRank(n int, confidence float64) int {
	half := distuv.Binomial{N: float64(n), P: 0.5}
	low, high := 0, n/2
	for low < high { // the largest k that is good enough
		k := (low + high + 1) / 2
		if 2*half.CDF(float64(k-1)) <= 1-confidence {
			low = k
		} else {
			high = k - 1
		}
	}
	return low
}

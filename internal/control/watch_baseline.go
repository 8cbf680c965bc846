package control

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// Baseline is what a programme's participants usually show, in logarithms of mg/dL. Glucose is right-skewed: about one reading in ten of
// a crowd is high (common practice). So readings are taken as (ln value - Centre)/Spread, winsorised at 2 on either side: a high
// reading counts, but no more than that.
type Baseline struct {
	Centre  float64 // median of ln mg/dL
	Spread  float64 // quartile distance of ln mg/dL over 1.349, which is the SD of a normal law
	Mean    float64 // of the winsorised
	SD      float64 // of the winsorised within an event
	Between float64 // how much crowds differ: SD of an event's mean of the winsorised about Mean, in SD
	Events  int     // it was learned from; 0 is the stated default, against which no event is judged as a whole
}

const winsorSDs = 2.0

// DefaultBaseline is used until a programme has its own history. It is an assumption: a median of 100 mg/dL, a spread of 0.2 (two in three
// between 82 and 122), and one reading in ten high beyond the winsorising limit, which makes the mean 0.2 and the SD 1.09. With it
// meters, vials and lots are compared with each other; whether all of them together read high is not judged.
func DefaultBaseline() Baseline {
	return Baseline{Centre: math.Log(100), Spread: 0.2, Mean: 0.2, SD: 1.09, Between: 0.25}
}

// What a history must have before it is learned from.
const (
	leastEvents   = 5
	leastReadings = 200
)

// Learn makes a baseline of past events, each a list of participants' readings in mg/dL, one of each person; for LO and HI give the
// meter's own limits. Fewer than five events or 200 readings, an event without readings, a value not above 0 or not finite, and readings that hardly
// differ are a *fault.Fault.
func Learn(events [][]float64) (Baseline, error) {
	var logs []float64
	for i, e := range events {
		for _, v := range e {
			if !(v > 0) || math.IsInf(v, 0) {
				return Baseline{}, fault.New(fault.Invalid, "value-not-positive", fmt.Sprintf("A reading of event %d is not a number above 0.", i+1), "Its logarithm is needed.", "Correct it or leave it out.")
			}
			logs = append(logs, math.Log(v))
		}
		if len(e) == 0 {
			return Baseline{}, fault.New(fault.Invalid, "values-none", fmt.Sprintf("Event %d has no readings.", i+1), "", "Leave it out.")
		}
	}
	if len(events) < leastEvents || len(logs) < leastReadings {
		return Baseline{}, fault.New(fault.Invalid, "history-short", fmt.Sprintf("%d readings of %d events are too few to learn from.", len(logs), len(events)),
			fmt.Sprintf("At least %d readings of %d events are needed to know how crowds differ.", leastReadings, leastEvents), "Use the stated default until then.")
	}
	slices.Sort(logs)
	b := Baseline{Centre: median(logs), Spread: (quantileOf(logs, 0.75) - quantileOf(logs, 0.25)) / 1.349, Events: len(events)}
	if b.Spread < 0.01 {
		return Baseline{}, fault.New(fault.Invalid, "values-constant", "The readings hardly differ from each other.", "People differ by more than that.", "Check the file.")
	}
	// One-way analysis of variance of the winsorised by event.
	var all []float64
	var within, squaredSizes float64
	means := make([]float64, len(events))
	for i, e := range events {
		var own []float64
		for _, v := range e {
			own = append(own, b.winsorised(v))
		}
		means[i] = mean(own)
		within += squares(own, means[i])
		squaredSizes += float64(len(own) * len(own))
		all = append(all, own...)
	}
	b.Mean = mean(all)
	n, k := float64(len(all)), float64(len(events))
	between := 0.0
	for i, e := range events {
		between += float64(float64(len(e)) * (means[i] - b.Mean) * (means[i] - b.Mean))
	}
	within /= n - k
	b.SD = math.Sqrt(within)
	// Few events tell little of how crowds differ: the upper end of their mean square is taken, which is passed in one case of ten.
	upper := between / distuv.ChiSquared{K: k - 1}.Quantile(0.1)
	variance := (upper - within) / ((n - squaredSizes/n) / (k - 1))
	b.Between = math.Sqrt(math.Max(0, variance)) / b.SD
	return b, nil
}

func (b Baseline) check() error {
	for _, v := range []float64{b.Centre, b.Spread, b.Mean, b.SD, b.Between} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return driftFault("The baseline holds something that is not a number.")
		}
	}
	if b.Spread <= 0 || b.SD <= 0 || b.Between < 0 {
		return driftFault("The spread of a baseline must be above 0.")
	}
	return nil
}

// winsorised gives (ln value - Centre)/Spread within +-2.
func (b Baseline) winsorised(value float64) float64 {
	z := (math.Log(value) - b.Centre) / b.Spread
	return math.Min(math.Max(z, -winsorSDs), winsorSDs)
}

// score is the winsorised with mean 0 and SD 1 in the baseline's crowd.
func (b Baseline) score(value float64) float64 { return (b.winsorised(value) - b.Mean) / b.SD }

// quantileOf interpolates between the order statistics of a sorted list that is not empty.
func quantileOf(sorted []float64, p float64) float64 {
	at := p * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[i]
	}
	return sorted[i] + float64((at-float64(i))*(sorted[i+1]-sorted[i]))
}

func median(sorted []float64) float64 { return quantileOf(sorted, 0.5) }

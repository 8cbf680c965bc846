package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"fairstick/internal/fault"
)

// Replicate is one value of a precision study. Run is counted within its day: run 1 of one day is not run 1 of another. A study
// without runs leaves it empty.
type Replicate struct {
	Day   string
	Run   string
	Value float64
}

// Component is one source of variation.
type Component struct {
	Variance float64
	SD       float64
	CV       float64 // percent of the mean; 0 when the mean is 0
	DF       float64 // degrees of freedom, by Satterthwaite when it is made of several mean squares; 0 when it has none
	Low      float64 // interval of the SD by chi-square, from one degree of freedom on; 0 otherwise
	High     float64
	Zeroed   bool    // the estimate came out negative and is reported as 0
	Estimate float64 // the variance as it came out
}

// Precision is a nested analysis of variance of a control or a sample.
type Precision struct {
	N, Days, Runs         int // Runs is 0 in a study without runs
	Mean                  float64
	MSDay, MSRun, MSError float64 // MSRun is 0 in a study without runs
	DFDay, DFRun, DFError int
	Repeatability         Component
	BetweenRun            *Component // nil in a study without runs
	BetweenDay            Component
	WithinLaboratory      Component
	Confidence            float64
	Note                  string // says which components were set to 0
}

// Nested analyses replicates in runs in days (20 x 2 x 2) or replicates in days (5 x 5), balanced or not, by analysis of variance:
// with unequal numbers each component is solved from the expected mean squares of that very design. When no day has more
// than one run, runs are left out. A negative component is set to 0 and said; within-laboratory is the sum of what remains, and
// its degrees of freedom come by Satterthwaite from the mean squares that make that sum. Where a component was set to 0,
// programs differ in those degrees of freedom.
//
// Intervals of an SD: sqrt(df var / chi-square quantile), of the given confidence; those between runs and between days are rough. Source: CLSI EP05 and EP15 (formulas); Searle,
// Linear Models, on unbalanced nested designs (from memory). Fewer than two days, no repeat within a run, values that never differ, NaN, infinity
// and a confidence not between 0 and 1 are a *fault.Fault.
func Nested(values []Replicate, confidence float64) (Precision, error) {
	if !(confidence > 0 && confidence < 1) {
		return Precision{}, fault.New(fault.Invalid, "confidence-unusable", fmt.Sprintf("%v is not a confidence.", confidence), "", "Give a number between 0 and 1, such as 0.95.")
	}
	plain := make([]float64, len(values))
	for i, v := range values {
		plain[i] = v.Value
	}
	if err := finite(plain); err != nil {
		return Precision{}, err
	}
	days, runs := groups(values)
	p := Precision{N: len(values), Days: len(days), Runs: len(runs), Confidence: confidence}
	p.DFDay, p.DFRun, p.DFError = p.Days-1, p.Runs-p.Days, p.N-p.Runs
	if p.DFRun == 0 {
		p.Runs = 0
	}
	switch {
	case p.Days < 2:
		return Precision{}, fault.New(fault.Invalid, "days-too-few", fmt.Sprintf("A precision study needs at least two days; here there are %d.", p.Days),
			"Variation between days cannot be seen within one.", "Measure on several days, for example five days with five values each.")
	case p.DFError < 1:
		return Precision{}, fault.New(fault.Invalid, "replicates-none", "No run has more than one value.", "Repeatability cannot be told from variation between runs.",
			"Measure at least two values in a run, or leave the runs out.")
	}
	p.Mean = mean(plain)
	p.meanSquares(days, runs)
	if p.MSDay+p.MSRun+p.MSError == 0 {
		return Precision{}, fault.New(fault.Invalid, "values-constant", "All values are the same.", "An SD of 0 says more of the rounding than of the meter.", "Measure more, or use a level at which readings differ.")
	}
	p.components(days, runs)
	return p, nil
}

// group is the values of one day or of one run.
type group struct {
	day    int // of a run: its day
	values []float64
	mean   float64
}

// groups parts the values, in the order in which days and runs first appear.
func groups(values []Replicate) (days, runs []group) {
	dayOf, runOf := map[string]int{}, map[[2]string]int{}
	for _, v := range values {
		d, ok := dayOf[v.Day]
		if !ok {
			d = len(days)
			dayOf[v.Day] = d
			days = append(days, group{})
		}
		r, ok := runOf[[2]string{v.Day, v.Run}]
		if !ok {
			r = len(runs)
			runOf[[2]string{v.Day, v.Run}] = r
			runs = append(runs, group{day: d})
		}
		days[d].values = append(days[d].values, v.Value)
		runs[r].values = append(runs[r].values, v.Value)
	}
	for _, list := range [][]group{days, runs} {
		for i := range list {
			list[i].mean = mean(list[i].values)
		}
	}
	return days, runs
}

func (g group) n() float64 { return float64(len(g.values)) }

func (p *Precision) meanSquares(days, runs []group) {
	var ssDay, ssRun, ssError float64
	for _, d := range days {
		ssDay += float64(d.n() * (d.mean - p.Mean) * (d.mean - p.Mean))
	}
	for _, r := range runs {
		off := r.mean - days[r.day].mean
		ssRun += float64(r.n() * off * off)
		ssError += squares(r.values, r.mean)
	}
	p.MSDay, p.MSError = ssDay/float64(p.DFDay), ssError/float64(p.DFError)
	if p.DFRun > 0 {
		p.MSRun = ssRun / float64(p.DFRun)
	}
}

// combination is a variance as a sum of mean squares: day, run, error.
type combination [3]float64

func (c combination) plus(o combination) combination {
	return combination{c[0] + o[0], c[1] + o[1], c[2] + o[2]}
}

// components solves E(MSerror) = e, E(MSrun) = e + k1 r, E(MSday) = e + k2 r + k3 d, where the k are the design's own.
func (p *Precision) components(days, runs []group) {
	var perDay, perN, dayN float64 // sums of n_ij^2/n_i, n_ij^2/N and n_i^2/N
	n := float64(p.N)
	for _, r := range runs {
		perDay += r.n() * r.n() / days[r.day].n()
		perN += r.n() * r.n() / n
	}
	for _, d := range days {
		dayN += d.n() * d.n() / n
	}
	e := combination{0, 0, 1}
	k3 := (n - dayN) / float64(p.DFDay)
	d := combination{1 / k3, 0, -1 / k3}
	var r combination
	if p.DFRun > 0 {
		k1 := (n - perDay) / float64(p.DFRun)
		k2 := (perDay - perN) / float64(p.DFDay)
		r = combination{0, 1 / k1, -1 / k1}
		d = combination{1 / k3, -k2 / k1 / k3, (k2/k1 - 1) / k3}
	}
	total := e
	p.Repeatability = p.component(e)
	if p.DFRun > 0 {
		c := p.component(r)
		p.BetweenRun = &c
		if !c.Zeroed {
			total = total.plus(r)
		}
	}
	if p.BetweenDay = p.component(d); !p.BetweenDay.Zeroed {
		total = total.plus(d)
	}
	p.WithinLaboratory = p.component(total)
	switch run := p.BetweenRun != nil && p.BetweenRun.Zeroed; {
	case run && p.BetweenDay.Zeroed:
		p.Note = "The estimates between runs and between days came out negative and are reported as 0."
	case run:
		p.Note = "The estimate between runs came out negative and is reported as 0."
	case p.BetweenDay.Zeroed:
		p.Note = "The estimate between days came out negative and is reported as 0."
	}
}

func (p *Precision) component(c combination) Component {
	squares := [3]float64{p.MSDay, p.MSRun, p.MSError}
	var estimate, spread float64
	for i, df := range [3]int{p.DFDay, p.DFRun, p.DFError} {
		if c[i] != 0 {
			part := float64(c[i] * squares[i])
			estimate += part
			spread += part * part / float64(df)
		}
	}
	if estimate < 0 {
		return Component{Zeroed: true, Estimate: estimate}
	}
	out := Component{Variance: estimate, SD: math.Sqrt(estimate), Estimate: estimate}
	if spread > 0 {
		out.DF = estimate * estimate / spread
	}
	if p.Mean != 0 {
		out.CV = 100 * out.SD / math.Abs(p.Mean)
	}
	if out.DF >= 1 {
		chi := distuv.ChiSquared{K: out.DF}
		out.Low = out.SD * math.Sqrt(out.DF/chi.Quantile(0.5+p.Confidence/2))
		out.High = out.SD * math.Sqrt(out.DF/chi.Quantile(0.5-p.Confidence/2))
	}
	return out
}

// PooledSD is sqrt(sum (n-1) s^2 / sum (n-1)) over groups of values, with its degrees of freedom. A group of one value adds nothing.
// NaN, infinity and no group of two values are a *fault.Fault.
func PooledSD(groups [][]float64) (sd float64, df int, err error) {
	sum := 0.0
	for _, g := range groups {
		if err := finite(g); err != nil {
			return 0, 0, err
		}
		if len(g) > 1 {
			sum += squares(g, mean(g))
			df += len(g) - 1
		}
	}
	if df == 0 {
		return 0, 0, fault.New(fault.Invalid, "groups-too-small", "No group has two values.", "An SD needs at least two values of the same thing.", "Give groups of repeated values.")
	}
	return math.Sqrt(sum / float64(df)), df, nil
}

// PooledCV is the CV in percent within groups of values: each value in percent of the mean of its group, pooled by PooledSD, so that lots
// with other targets and units count together. n counts the values that say something about scatter: those of groups of two and more
// whose mean is above 0. Errors are those of PooledSD.
func PooledCV(groups [][]float64) (percent float64, n, df int, err error) {
	var relative [][]float64
	for _, g := range groups {
		if err := finite(g); err != nil {
			return 0, 0, 0, err
		}
		if len(g) < 2 || mean(g) <= 0 {
			continue
		}
		m, own := mean(g), make([]float64, len(g))
		for i, v := range g {
			own[i] = 100 * v / m
		}
		relative, n = append(relative, own), n+len(g)
	}
	percent, df, err = PooledSD(relative)
	return percent, n, df, err
}

// Duplicates is what pairs of values of the same samples tell of the scatter within a sample.
type Duplicates struct {
	Pairs  int
	SD     float64 // sqrt(sum d^2 / 2n), Dahlberg
	CV     float64 // percent: root mean square of the pairs' own CV
	CVLogs float64 // percent: from the logarithms, 100 (exp(sqrt(sum (ln a - ln b)^2 / 2n)) - 1)
}

// FromDuplicates gives SD and CV within a sample from pairs (formulas: Dahlberg; Bland & Altman, notes of 1996 and 2000). Lists that are empty or of different
// lengths, and values that are not above 0 and finite, are a *fault.Fault: a CV has no meaning there.
func FromDuplicates(a, b []float64) (Duplicates, error) {
	if len(a) != len(b) || len(a) == 0 {
		return Duplicates{}, fault.New(fault.Invalid, "pairs-uneven", fmt.Sprintf("%d first and %d second values do not make pairs.", len(a), len(b)), "", "Give two values of each sample.")
	}
	var d2, cv2, log2 float64
	for i := range a {
		if !(a[i] > 0) || !(b[i] > 0) || math.IsInf(a[i]+b[i], 0) {
			return Duplicates{}, fault.New(fault.Invalid, "value-not-positive", fmt.Sprintf("Pair %d is not of two numbers above 0.", i+1), "A CV has no meaning there.", "Correct the pair or leave it out.")
		}
		d, m, l := a[i]-b[i], (a[i]+b[i])/2, math.Log(a[i]/b[i])
		d2 += float64(d * d)
		cv2 += d * d / 2 / (m * m)
		log2 += float64(l * l)
	}
	n := float64(len(a))
	return Duplicates{
		Pairs: len(a), SD: math.Sqrt(d2 / (2 * n)), CV: 100 * math.Sqrt(cv2/n), CVLogs: 100 * math.Expm1(math.Sqrt(log2/(2*n))),
	}, nil
}

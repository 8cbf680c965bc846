package control

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// CusumChart is a tabular CUSUM of values with mean 0 and SD 1 in control, started at 0: C = max(0, C + x - K) with alarm when C >
// H, all in SD; with TwoSided also the mirrored sum. Run lengths are for independent normal values with known mean and SD. One
// side: integral equation with Gauss-Legendre nodes. Two sides: the ARL from those of the sides (1/ARL = 1/upper + 1/lower, exact
// from a start at 0), the distribution by a Markov chain over both sums. Sources: Page ES, Biometrika 1954;41:100-15; Brook D, Evans DA,
// Biometrika 1972;59:539-49.
type CusumChart struct {
	K        float64
	H        float64
	TwoSided bool
}

func (c CusumChart) check(shift float64) error {
	switch {
	case !(c.K >= 0 && c.K <= 10):
		return chartFault("allowance-unusable", fmt.Sprintf("An allowance of %v SD is not between 0 and 10.", c.K))
	case !(c.H > 0 && c.H <= mostH):
		return chartFault("limit-unusable", fmt.Sprintf("A limit of %v SD is not above 0 and at most %v.", c.H, mostH))
	}
	return checkShift(shift)
}

// ARL is the mean number of values up to and with the alarm, when every value is shifted by so many SD from the start.
func (c CusumChart) ARL(shift float64) (float64, error) {
	if err := c.check(shift); err != nil {
		return 0, err
	}
	up, errUp := c.side(shift)
	if !c.TwoSided {
		return up, errUp
	}
	down, errDown := c.side(-shift)
	switch { // a side that never alarms leaves the other
	case errUp != nil && errDown != nil:
		return 0, errUp
	case errUp != nil:
		return down, nil
	case errDown != nil:
		return up, nil
	}
	return 1 / (1/up + 1/down), nil
}

// nodes gives Gauss-Legendre nodes on 0 to H.
func (c CusumChart) nodes() (x, w []float64) {
	x, w = legendre(c.H)
	for i := range x {
		x[i], w[i] = c.H*(x[i]+1)/2, w[i]*c.H/2
	}
	return x, w
}

// side solves a(u) = 1 + a(0) P(back to 0 from u) + integral a(z) density(z|u) dz for the upper sum; unknown 0 is a(0).
func (c CusumChart) side(shift float64) (float64, error) {
	x, w := c.nodes()
	n := len(x)
	m := mat.NewDense(n+1, n+1, nil)
	for i := range n + 1 {
		u := 0.0
		if i > 0 {
			u = x[i-1]
		}
		m.Set(i, 0, -distuv.UnitNormal.CDF(c.K-u-shift))
		for j := range n {
			m.Set(i, j+1, -w[j]*bell(x[j]+c.K-u-shift))
		}
		m.Set(i, i, m.At(i, i)+1)
	}
	a, err := solveOnes(m)
	if err != nil {
		return 0, err
	}
	return a[0], nil
}

// Within is the probability of an alarm in the first n values. n below 0 or above a million, and two sides with H above 10, for which
// the chain would be too coarse, are a *fault.Fault.
func (c CusumChart) Within(n int, shift float64) (float64, error) {
	if err := c.checkChain(shift); err != nil {
		return 0, err
	}
	return within(c.survivor(shift), n)
}

func (c CusumChart) checkChain(shift float64) error {
	if c.TwoSided && c.H > 10 {
		return chartFault("limit-unusable", fmt.Sprintf("With two sides and a limit of %v SD only the mean run length is computed.", c.H))
	}
	return c.check(shift)
}

// Quantile is the smallest number of values in which an alarm comes with probability p at least. p must lie between 0 and 1.
func (c CusumChart) Quantile(p, shift float64) (int, error) {
	if err := c.checkChain(shift); err != nil {
		return 0, err
	}
	return quantile(c.survivor(shift), p)
}

func (c CusumChart) survivor(shift float64) survivor {
	if c.TwoSided {
		return newCusumPair(c, shift)
	}
	s := &cusumSurvivor{zero: 1}
	x, w := c.nodes()
	s.w, s.f, s.g = w, make([]float64, len(x)), make([]float64, len(x))
	s.fromZero, s.toZero = make([]float64, len(x)), make([]float64, len(x))
	s.stay = distuv.UnitNormal.CDF(c.K - shift)
	for j := range x {
		s.fromZero[j] = bell(x[j] + c.K - shift)
		s.toZero[j] = w[j] * distuv.UnitNormal.CDF(c.K-x[j]-shift)
		row := make([]float64, len(x))
		for k := range x {
			row[k] = w[k] * bell(x[j]-x[k]+c.K-shift)
		}
		s.kernel = append(s.kernel, row)
	}
	return s
}

// cusumSurvivor holds where the upper sum is: at 0 with probability zero, elsewhere with density f.
type cusumSurvivor struct {
	zero, stay       float64
	w, f, g          []float64
	fromZero, toZero []float64
	kernel           [][]float64
}

func (s *cusumSurvivor) next() {
	zero := s.zero * s.stay
	for j, row := range s.kernel {
		zero += float64(s.toZero[j] * s.f[j])
		sum := s.zero * s.fromZero[j]
		for k, v := range row {
			sum += float64(v * s.f[k])
		}
		s.g[j] = sum
	}
	s.zero = zero
	s.f, s.g = s.g, s.f
}

func (s *cusumSurvivor) alive() float64 {
	sum := s.zero
	for j, v := range s.f {
		sum += float64(s.w[j] * v)
	}
	return math.Min(1, sum)
}

func (s *cusumSurvivor) steady() bool { return true }

// cusumPair is a Markov chain over both sums of a two-sided CUSUM. Each sum stands on a lattice of step 2H/(2m-1), as Brook and
// Evans have it, so that the limit lies midway between the last state and the next. A value moves both at once; cells are the
// intervals of values within which the two moves stay the same.
type cusumPair struct {
	m     int
	p, q  []float64 // probability of up*m + down; q is scratch
	cells []cell    // in the order of values: up rises, down falls
	from  []int     // by state of the lower sum: the first cell that does not alarm
	until []int     // by state of the upper sum: the first cell that alarms
}

type cell struct {
	p        float64
	up, down int
}

func newCusumPair(c CusumChart, shift float64) *cusumPair {
	m := min(90, 30+int(6*c.H))
	step := 2 * c.H / float64(2*m-1)
	s := &cusumPair{m: m, p: make([]float64, m*m), q: make([]float64, m*m)}
	s.p[0] = 1
	var edges []float64
	for i := -m; i <= m; i++ {
		e := c.K + (float64(i)-0.5)*step
		edges = append(edges, e, -e)
	}
	sort.Float64s(edges)
	low := math.Inf(-1)
	for _, high := range append(edges, math.Inf(1)) {
		p := distuv.UnitNormal.CDF(high-shift) - distuv.UnitNormal.CDF(low-shift)
		if p > 0 && high-low > 1e-12 {
			x := (low + high) / 2
			if math.IsInf(low, -1) {
				x = high - 1
			} else if math.IsInf(high, 1) {
				x = low + 1
			}
			s.cells = append(s.cells, cell{p, int(math.Round((x - c.K) / step)), int(math.Round((-x - c.K) / step))})
		}
		low = high
	}
	for i := range m {
		s.from = append(s.from, sort.Search(len(s.cells), func(n int) bool { return i+s.cells[n].down < m }))
		s.until = append(s.until, sort.Search(len(s.cells), func(n int) bool { return i+s.cells[n].up >= m }))
	}
	return s
}

func (s *cusumPair) next() {
	clear(s.q)
	for i := range s.m {
		for j := range s.m {
			p := s.p[i*s.m+j]
			if p == 0 {
				continue
			}
			for n := s.from[j]; n < s.until[i]; n++ {
				c := s.cells[n]
				s.q[max(0, i+c.up)*s.m+max(0, j+c.down)] += float64(p * c.p)
			}
		}
	}
	s.p, s.q = s.q, s.p
}

func (s *cusumPair) alive() float64 {
	sum := 0.0
	for _, p := range s.p {
		sum += p
	}
	return math.Min(1, sum)
}

func (s *cusumPair) steady() bool { return true }

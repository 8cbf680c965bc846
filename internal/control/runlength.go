package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"

	"fairstick/internal/fault"
)

// EWMAChart is an exponentially weighted moving average of values with mean 0 and SD 1 in control, started at 0:
// z = Lambda x + (1-Lambda) z, with alarm when |z| > L sqrt(Lambda/(2-Lambda)). With Varying the limits open with the number of
// values i as L sqrt(Lambda/(2-Lambda) (1-(1-Lambda)^2i)). Lambda 1 is a Shewhart chart.
//
// Run lengths are computed by the integral equation of the chart with Gauss-Legendre nodes, for independent normal values with known mean and
// SD. Sources: Crowder SV, Technometrics 1987;29:401-7; Lucas JM, Saccucci MS, Technometrics 1990;32:1-12.
type EWMAChart struct {
	Lambda  float64
	L       float64
	Varying bool
}

// The bounds within which run lengths are computed.
const (
	leastLambda = 0.005
	mostLimit   = 7.0 // SD; beyond it no alarm is ever due and the equations cannot be solved in double precision
	mostH       = 100.0
	mostRuns    = 1_000_000
)

func (c EWMAChart) check(shift float64) error {
	switch {
	case !(c.Lambda >= leastLambda && c.Lambda <= 1):
		return chartFault("lambda-unusable", fmt.Sprintf("Lambda %v is not between %v and 1.", c.Lambda, leastLambda))
	case !(c.L > 0 && c.L <= mostLimit):
		return chartFault("limit-unusable", fmt.Sprintf("A limit of %v SD is not above 0 and at most %v.", c.L, mostLimit))
	}
	return checkShift(shift)
}

func checkShift(shift float64) error {
	if math.IsNaN(shift) || math.IsInf(shift, 0) {
		return chartFault("shift-unusable", "The shift is not a number.")
	}
	return nil
}

func chartFault(key, sentence string) error {
	return fault.New(fault.Invalid, key, sentence, "Run lengths cannot be computed for it.", "Choose another setting of the chart.")
}

// width is half the width of the band at value i, in SD of the values; i 0 is the asymptote.
func (c EWMAChart) width(i int) float64 {
	w := c.L * math.Sqrt(c.Lambda/(2-c.Lambda))
	if !c.Varying || i == 0 {
		return w
	}
	return w * math.Sqrt(-math.Expm1(2*float64(i)*math.Log1p(-c.Lambda)))
}

// settled reports whether the band at value i is its asymptote to double precision.
func (c EWMAChart) settled(i int) bool {
	return !c.Varying || c.Lambda == 1 || 2*float64(i)*math.Log1p(-c.Lambda) < -34
}

// legendre gives Gauss-Legendre nodes on -1 to 1, enough of them for a kernel that is one SD wide in an interval of so many SD.
func legendre(intervalSDs float64) (x, w []float64) {
	n := 40 + int(2*intervalSDs)
	x, w = make([]float64, n), make([]float64, n)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}

// bell is the density of the normal law.
func bell(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }

// density of the next z from u.
func (c EWMAChart) density(z, u, shift float64) float64 {
	x := (z-(1-c.Lambda)*u)/c.Lambda - shift
	if x > 9 || x < -9 { // below 1e-17 of its peak
		return 0
	}
	return bell(x) / c.Lambda
}

// remaining solves a(u) = 1 + integral a(z) density(z|u) dz at the nodes of the asymptotic band.
func (c EWMAChart) remaining(x, w []float64, shift float64) ([]float64, error) {
	n, h := len(x), c.width(0)
	m := mat.NewDense(n, n, nil)
	for i := range n {
		for j := range n {
			v := -w[j] * h * c.density(h*x[j], h*x[i], shift)
			if i == j {
				v++
			}
			m.Set(i, j, v)
		}
	}
	return solveOnes(m)
}

func solveOnes(m *mat.Dense) ([]float64, error) {
	n, _ := m.Dims()
	ones := make([]float64, n)
	for i := range ones {
		ones[i] = 1
	}
	var a mat.VecDense
	if err := a.SolveVec(m, mat.NewVecDense(n, ones)); err != nil || !(a.AtVec(0) > 0) {
		return nil, chartFault("run-length-endless", "With these limits an alarm is so rare that its run length cannot be computed.")
	}
	return a.RawVector().Data, nil
}

// ARL is the mean number of values up to and with the alarm, when every value is shifted by so many SD from the start. A
// setting out of bounds and a shift that is NaN or infinite are a *fault.Fault.
func (c EWMAChart) ARL(shift float64) (float64, error) {
	if err := c.check(shift); err != nil {
		return 0, err
	}
	s := c.survivor(shift)
	a, err := c.remaining(s.x, s.w, shift)
	if err != nil {
		return 0, err
	}
	sum := 1.0 // the values before which nothing has been alarmed: S(0) + S(1) + ...
	for s.next(); !c.settled(s.i); s.next() {
		sum += s.alive()
	}
	for j := range a {
		sum += s.w[j] * s.width * s.f[j] * a[j]
	}
	return sum, nil
}

// survivor steps through P(no alarm in the first i values).
type survivor interface {
	next()          // goes on by one value
	alive() float64 // P(no alarm so far)
	steady() bool   // the chart's limits no longer change
}

type ewmaSurvivor struct {
	chart      EWMAChart
	shift      float64
	i          int
	from       int         // limits hold from this value on; 0 and 1 are all of them
	x, w, f, g []float64   // nodes, weights, density of z at the nodes; g is scratch
	width      float64     // of the band at value i
	kernel     [][]float64 // once the limits have settled
}

func (s *ewmaSurvivor) next() {
	s.i++
	before, now := s.width, s.chart.width(s.i)
	s.width = now
	if s.i <= max(1, s.from) {
		s.free(now)
		return
	}
	if s.kernel == nil && s.chart.settled(s.i-1) {
		s.kernel = make([][]float64, len(s.x))
		for j := range s.x {
			s.kernel[j] = make([]float64, len(s.x))
			s.fill(s.kernel[j], j, before, now)
		}
	}
	row := make([]float64, len(s.x))
	for j := range s.x {
		if s.kernel != nil {
			row = s.kernel[j]
		} else {
			s.fill(row, j, before, now)
		}
		sum := 0.0
		for k, v := range row {
			sum += float64(v * s.f[k])
		}
		s.g[j] = sum
	}
	s.f, s.g = s.g, s.f
}

// free is the density of z at the nodes while no limit has cut it.
func (s *ewmaSurvivor) free(now float64) {
	decay := math.Pow(1-s.chart.Lambda, float64(s.i))
	sd := math.Sqrt(s.chart.Lambda / (2 - s.chart.Lambda) * (1 - decay*decay))
	for j, x := range s.x {
		s.f[j] = bell((now*x-s.shift*(1-decay))/sd) / sd
	}
}

// fill is the weight of every node before in the density at node j now.
func (s *ewmaSurvivor) fill(row []float64, j int, before, now float64) {
	for k := range row {
		row[k] = s.w[k] * before * s.chart.density(now*s.x[j], before*s.x[k], s.shift)
	}
}

func (s *ewmaSurvivor) alive() float64 {
	sum := 0.0
	for j, v := range s.f {
		sum += float64(s.w[j] * v)
	}
	return math.Min(1, sum*s.width)
}

func (s *ewmaSurvivor) steady() bool { return s.kernel != nil }

func (c EWMAChart) survivor(shift float64) *ewmaSurvivor {
	x, w := legendre(2 * c.width(0) / c.Lambda)
	return &ewmaSurvivor{chart: c, shift: shift, x: x, w: w, f: make([]float64, len(x)), g: make([]float64, len(x))}
}

// Within is the probability of an alarm in the first n values. n below 0 or above a million is a *fault.Fault.
func (c EWMAChart) Within(n int, shift float64) (float64, error) {
	if err := c.check(shift); err != nil {
		return 0, err
	}
	return within(c.survivor(shift), n)
}

// Quantile is the smallest number of values in which an alarm comes with probability p at least. p must lie between 0 and 1.
func (c EWMAChart) Quantile(p, shift float64) (int, error) {
	if err := c.check(shift); err != nil {
		return 0, err
	}
	return quantile(c.survivor(shift), p)
}

// tail follows survival step by step. Once it falls by the same factor every time it goes on like that for ever.
type tail struct {
	s      survivor
	alive  float64
	factor float64
	same   int
}

func (t *tail) next() {
	t.s.next()
	now := t.s.alive()
	if f := now / t.alive; t.s.steady() && math.Abs(f-t.factor) < 1e-13 {
		t.same++
	} else {
		t.factor, t.same = f, 0
	}
	t.alive = now
}

func (t *tail) geometric() bool { return t.same >= 5 && t.factor < 1 }

func within(s survivor, n int) (float64, error) {
	if n < 0 || n > mostRuns {
		return 0, chartFault("count-unusable", fmt.Sprintf("%d is not a number of values that can be looked at.", n))
	}
	t := tail{s: s, alive: 1}
	for i := range n {
		if t.next(); t.geometric() {
			return 1 - t.alive*math.Pow(t.factor, float64(n-i-1)), nil
		}
	}
	return 1 - t.alive, nil
}

func quantile(s survivor, p float64) (int, error) {
	if !(p > 0 && p < 1) {
		return 0, chartFault("probability-unusable", fmt.Sprintf("%v is not a probability between 0 and 1.", p))
	}
	t := tail{s: s, alive: 1}
	for n := 1; n <= mostRuns; n++ {
		t.next()
		if 1-t.alive >= p {
			return n, nil
		}
		if t.geometric() {
			if more := math.Ceil(math.Log((1-p)/t.alive) / math.Log(t.factor)); more < math.MaxInt32 {
				return n + int(math.Max(1, more)), nil
			}
			break
		}
	}
	return 0, chartFault("run-length-endless", "With these limits an alarm is so rare that its run length cannot be computed.")
}

// EWMALimit gives the L whose in-control ARL is arl0. An ARL not between 2 and ten million is a *fault.Fault.
func EWMALimit(lambda, arl0 float64, varying bool) (float64, error) {
	if !(arl0 >= 2 && arl0 <= 1e7) {
		return 0, chartFault("arl-unusable", fmt.Sprintf("A run length of %v values is not between 2 and ten million.", arl0))
	}
	return root(func(l float64) (float64, error) {
		arl, err := EWMAChart{lambda, l, varying}.ARL(0)
		return math.Log(arl / arl0), err
	})
}

// EWMALimitWithin gives the L with which n values in control raise an alarm with probability alpha.
func EWMALimitWithin(lambda float64, n int, alpha float64, varying bool) (float64, error) {
	return limitFrom(1, lambda, n, alpha, varying)
}

// limitFrom is EWMALimitWithin for a chart that is not looked at before the value from.
func limitFrom(from int, lambda float64, n int, alpha float64, varying bool) (float64, error) {
	if n < 1 || n > mostRuns || !(alpha >= 1e-6 && alpha <= 0.5) {
		return 0, chartFault("alpha-unusable", fmt.Sprintf("An alarm in %d values with probability %v cannot be asked for.", n, alpha))
	}
	return root(func(l float64) (float64, error) {
		c := EWMAChart{lambda, l, varying}
		if err := c.check(0); err != nil {
			return 0, err
		}
		s := c.survivor(0)
		s.from = min(from, n)
		p, err := within(s, n)
		return math.Log(alpha / math.Max(p, 1e-15)), err
	})
}

// root finds the limit at which an increasing function passes 0, by false position (Illinois form). A limit whose run length cannot be computed is too wide.
func root(f func(l float64) (float64, error)) (float64, error) {
	low, high := 0.05, mostLimit
	below, err := f(low)
	if err != nil {
		return 0, err
	}
	above, side := math.NaN(), 0
	for high-low > 1e-9 {
		l := (low + high) / 2
		if !math.IsNaN(above) {
			if l = high - above*(high-low)/(above-below); !(l > low && l < high) {
				break
			}
		}
		v, err := f(l)
		switch {
		case fault.Is(err, "run-length-endless"):
			high = l
		case err != nil:
			return 0, err
		case v < 0:
			if low, below = l, v; side < 0 {
				above /= 2
			}
			side = -1
		default:
			if high, above = l, v; side > 0 {
				below /= 2
			}
			side = 1
		}
		if err == nil && math.Abs(v) < 1e-10 {
			return l, nil
		}
	}
	return (low + high) / 2, nil
}

package agreement

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fairstick/internal/fault"
)

// Form says how Passing-Bablok takes the middle of the slopes.
type Form string

// The forms.
const (
	Tangent     Form = "tangent"     // 1983: with an even number, the mean of the middle two slopes
	Angle       Form = "angle"       // with an even number, the slope of the mean of their angles
	Equivariant Form = "equivariant" // 1988: median of the absolute slopes; follows any change of unit of one method
)

const namePB = "Passing-Bablok"

// PassingBablok is a line with what its order statistics were.
type PassingBablok struct {
	Line
	Form   Form    `json:"form"`
	Slopes int64   `json:"slopes"` // N: slopes that count
	K      int64   `json:"k"`      // slopes below -1; pairs of equal reference go by their order, which changes nothing else
	C      float64 `json:"c"`
	M1     int64   `json:"m1"` // ranks of the limits among the shifted slopes
	M2     int64   `json:"m2"`
	// Linearity is the cusum test; nil when all points lie on one side, or on the line.
	Linearity *Cusum `json:"linearity,omitempty"`
}

// PassingBablokLine fits the line of Passing and Bablok, which assumes nothing about the errors but that they are alike in shape,
// and is not moved by a few bad pairs. Of the slopes S of all pairs of points, identical points and slopes of exactly -1 do not
// count; equal references give an infinite slope. With N slopes, K of them below -1, sorted:
//
//	slope = S((N+1)/2+K), or the mean of S(N/2+K) and S(N/2+K+1); intercept = median of y - slope x
//	C = z sqrt(n(n-1)(2n+5)/18), M1 = round((N-C)/2), M2 = N-M1+1; limits S(M1+K), S(M2+K)
//
// The intercept's limits use the opposite slope limit, as published, and hold the truth in some 92 of 100 samples of 50 pairs
// instead of 95 (our simulation). All this is the median angle after turning angles below -45 degrees by 180, so a limit can pass
// the vertical: then the interval is missing and Note says so. Equivariant takes the median of |S| over all
// pairs but identical ones, with limits of the same ranks; nobody has proved those, and Note says so. Readings with up to 6
// decimals are computed in whole numbers, so ties and slopes of -1 are exact; others in floats, with a tolerance of rounding.
// Slope has no unit, the intercept that of the pairs.
//
// Fewer than 3 pairs, numbers that are not finite, constant columns and methods that do not rise together (Kendall's tau of
// 0 or less) are refused; below about 5 pairs there are no limits. Sources: Passing H, Bablok W, J Clin Chem Clin
// Biochem 1983;21:709-20; Bablok W et al., ibid. 1988;26:783-90.
func PassingBablokLine(pairs []Pair, form Form, confidence float64) (PassingBablok, error) {
	if err := checkConfidence(confidence); err != nil {
		return PassingBablok{}, err
	}
	if err := checkForm(form); err != nil {
		return PassingBablok{}, err
	}
	if err := check(pairs, namePB, 3, false); err != nil {
		return PassingBablok{}, err
	}
	x, y := columns(pairs)
	if m := momentsOf(x, y); m.sxx == 0 || m.syy == 0 {
		return PassingBablok{}, constant(namePB, "values of both methods")
	}
	var s middle
	var ok bool
	if ix, iy, whole := common(x, y); whole && small(ix, iy) {
		s, ok = slopesOf(ix, iy, 0, form, confidence)
	} else {
		fx, fy := shifted(x), shifted(y)
		s, ok = slopesOf(fx, fy, noise(x, y), form, confidence)
	}
	if !ok {
		return PassingBablok{}, unrelated(namePB)
	}
	p := PassingBablok{Form: form, Slopes: s.n, C: s.c, M1: s.m1, M2: s.m2}
	p.K = s.steep + downward(x, y)
	p.Line = Line{Method: namePB, N: len(pairs), Range: rangeOf(x), Confidence: confidence}
	p.Slope.Value = s.slope
	p.Intercept.Value = medianResidual(x, y, s.slope)
	p.limit(x, y, s)
	p.Linearity = cusum(x, y, p.Slope.Value, p.Intercept.Value)
	return p, nil
}

func checkForm(f Form) error {
	if f == Tangent || f == Angle || f == Equivariant {
		return nil
	}
	return fault.New(fault.Invalid, "form-unknown", fmt.Sprintf("%s has no form %q.", namePB, f), "", "Give tangent, angle or equivariant.")
}

// limit sets the intervals, or the note that says why there are none.
func (p *PassingBablok) limit(x, y []float64, s middle) {
	switch {
	case s.m1 < 1:
		p.Note = fmt.Sprintf("No interval: %d pairs are too few for limits at this confidence.", p.N)
	case math.IsInf(s.high, 1):
		p.Note = "No interval: the upper limit of the slope passes the vertical."
	default:
		p.Slope.CI = &Interval{Low: s.low, High: s.high}
		p.Intercept.CI = &Interval{Low: medianResidual(x, y, s.high), High: medianResidual(x, y, s.low)}
		if p.Form == Equivariant {
			p.Note = "The limits take the ranks of the 1983 form; for this form they are not proved."
		}
	}
}

// middle is what the slopes say: their number, ranks and the values at those ranks. high is +Inf when the upper limit passes the
// vertical; steep counts the finite slopes below -1.
type middle struct {
	n, steep, m1, m2 int64
	c                float64
	slope, low, high float64
}

// wholeLimit keeps cross products of whole numbers inside 64 bits.
const wholeLimit = 1 << 29

// small moves both columns to begin at 0 and reports whether they are small enough for exact products.
func small(x, y []int64) bool {
	for _, v := range [2][]int64{x, y} {
		least := slices.Min(v)
		if slices.Max(v)-least > wholeLimit {
			return false
		}
		for i := range v {
			v[i] -= least
		}
	}
	return true
}

// shifted gives a column moved to begin at 0.
func shifted(v []float64) []float64 {
	out, least := make([]float64, len(v)), slices.Min(v)
	for i := range v {
		out[i] = v[i] - least
	}
	return out
}

// noise is the difference below which two sums of floats count as equal: 16 units in the last place of the largest.
func noise(x, y []float64) float64 { return 0x1p-48 * (slices.Max(x) + slices.Max(y)) }

// slopesOf finds the slopes at the ranks. Turned by 45 degrees, u = x+y and v = y-x, the shifted order of the slopes is the plain
// order of t = dv/du, and pairs that do not count have du = 0; t of 1 is the vertical, of -1 the horizontal.
func slopesOf[T coord](x, y []T, tie T, form Form, confidence float64) (middle, bool) {
	n := int64(len(x))
	u, v := make([]T, n), make([]T, n)
	for i := range x {
		u[i], v[i] = x[i]+y[i], y[i]-x[i]
	}
	level(u, tie)
	fs := fans[T]{newFan(u, v)}
	whole := fs.open(slope[T]{-1, 0}, slope[T]{1, 0})
	vertical, flat := slope[T]{1, 1}, slope[T]{-1, 1}
	upToVertical := fs.count(vertical, true)
	rising := fs.count(vertical, false) - fs.count(flat, true)
	all := n * (n - 1) / 2
	falling := whole.belowHi - upToVertical + fs.count(flat, false) + (all - whole.belowHi - fs[0].same())
	if rising <= falling {
		return middle{}, false
	}
	base := int64(0)
	turn := func(t slope[T]) float64 { // back from t to the slope; +Inf at and past the vertical
		if t.dx-t.dy <= tie {
			return math.Inf(1)
		}
		return float64(t.dx+t.dy) / float64(t.dx-t.dy)
	}
	m := middle{n: whole.belowHi, steep: whole.belowHi - upToVertical}
	if form == Equivariant {
		fs, whole = absolute(x, y, tie)
		base = whole.belowHi / 2
		m.n = all - fs[0].same()
		turn = slope[T].float
	}
	m.c = zQuantile(confidence) * math.Sqrt(float64(n)*float64(n-1)*float64(2*n+5)/18)
	m.m1 = int64(math.Round((float64(m.n) - m.c) / 2))
	m.m2 = m.n - m.m1 + 1
	at := func(k int64) float64 {
		switch k += base; {
		case k <= whole.atLo:
			return turn(whole.lo)
		case k > whole.belowHi:
			return math.Inf(1)
		}
		return turn(fs.kth(whole, k))
	}
	m.slope = at((m.n + 1) / 2)
	if m.n%2 == 0 {
		m.slope = halfway(m.slope, at(m.n/2+1), form)
	}
	if !(m.slope > 0) || math.IsInf(m.slope, 0) {
		return middle{}, false
	}
	if m.m1 >= 1 {
		m.low, m.high = min(at(m.m1), m.slope), max(at(m.m2), m.slope) // floats may be a last bit out of order
	}
	return m, true
}

// halfway is the middle of the middle two slopes; +Inf when one of them is.
func halfway(a, b float64, form Form) float64 {
	if form == Angle && !math.IsInf(b, 0) {
		return math.Tan((math.Atan(a) + math.Atan(b)) / 2)
	}
	return a + (b-a)/2
}

// absolute gives the points and their mirror image. Every slope of the one is found with the other sign in the other, so the
// slopes above zero of both are the absolute slopes. Ranks in the bracket count the slopes below zero too: one half of all.
func absolute[T coord](x, y []T, tie T) (fans[T], bracket[T]) {
	x, mirror := slices.Clone(x), make([]T, len(y))
	level(x, tie)
	for i := range y {
		mirror[i] = -y[i]
	}
	fs := fans[T]{newFan(x, y), newFan(x, mirror)}
	return fs, fs.open(slope[T]{0, 1}, slope[T]{1, 0})
}

// level gives values that differ by no more than tie the value of the first of them, in order of size.
func level[T coord](v []T, tie T) {
	if tie == 0 {
		return
	}
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(v[a], v[b]) })
	for i := 1; i < len(order); i++ {
		if v[order[i]]-v[order[i-1]] <= tie {
			v[order[i]] = v[order[i-1]]
		}
	}
}

// downward counts the pairs of points with equal x of which the later has the smaller y.
func downward(x, y []float64) int64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	n := int64(0)
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && x[order[to]] == x[order[from]] {
			to++
		}
		if to-from > 1 {
			// One fan over the place in the data: a slope below zero is a later, smaller value.
			place, value := make([]float64, to-from), make([]float64, to-from)
			for i := from; i < to; i++ {
				place[i-from], value[i-from] = float64(i), y[order[i]]
			}
			n += newFan(place, value).count(slope[float64]{0, 1}, false)
		}
		from = to
	}
	return n
}

func medianResidual(x, y []float64, b float64) float64 {
	r := make([]float64, len(x))
	for i := range x {
		r[i] = y[i] - float64(b*x[i])
	}
	return median(r)
}

package agreement

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
)

func passing(t failer, pairs []Pair, form Form) PassingBablok {
	t.Helper()
	p, err := PassingBablokLine(pairs, form, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The fast form gives, bit for bit, what the definition gives with every slope an exact fraction: on decimals, with
// ties, identical points, equal references and slopes of exactly -1, few points and more than are listed at once.
func TestFastEqualsDirect(t *testing.T) {
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "state"), 7))
		n := rapid.SampledFrom([]int{3, 4, 5, 6, 7, 10, 25, 40, 150}).Draw(t, "n")
		top := rapid.SampledFrom([]int64{4, 30, 500}).Draw(t, "top")
		scale := rapid.SampledFrom([]int64{1, 10, 100, 1000}).Draw(t, "scale")
		scatter := rapid.SampledFrom([]int64{2, 5, 80}).Draw(t, "scatter")
		x, y := make([]int64, n), make([]int64, n)
		pairs := make([]Pair, n)
		for i := range x {
			x[i] = 1 + rng.Int64N(top)
			y[i] = max(0, x[i]+rng.Int64N(scatter)-scatter/2)
			pairs[i] = Pair{float64(x[i]) / float64(scale), float64(y[i]) / float64(scale)}
		}
		want := directly(x, y, 1.959963984540054)
		got, err := PassingBablokLine(pairs, Tangent, 0.95)
		if want.concordant <= want.discordant {
			seen["refused"]++
			if !fault.Is(err, "association-none") && !fault.Is(err, "pairs-constant") {
				t.Fatalf("no association gives %+v, %v", got, err)
			}
			return
		}
		if math.IsInf(want.slope, 0) || !(want.slope > 0) || math.IsNaN(want.slope) {
			seen["no line"]++
			if err == nil {
				t.Fatalf("a slope of %v gives %+v", want.slope, got)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if got.Slopes != want.n || got.K != want.k || got.M1 != want.m1 || got.M2 != want.m2 {
			t.Fatalf("N, K, M1, M2 are %d, %d, %d, %d; want %+v", got.Slopes, got.K, got.M1, got.M2, want)
		}
		near(t, "slope", got.Slope.Value, want.slope, 1e-14)
		near(t, "slope by angles", passing(t, pairs, Angle).Slope.Value, want.angle, 1e-13)
		switch limits := got.Slope.CI; {
		case limits == nil:
			seen["no limits"]++
			if !math.IsNaN(want.low) && !math.IsInf(want.high, 0) {
				t.Fatalf("limits are missing (%s), want %v to %v", got.Note, want.low, want.high)
			}
		case limits.Low != want.low || limits.High != want.high:
			t.Fatalf("limits %v, want %v to %v", *limits, want.low, want.high)
		default:
			seen["limits"]++
		}
		if want.absolute > 0 && !math.IsInf(want.absolute, 0) {
			seen["equivariant"]++
			near(t, "equivariant slope", passing(t, pairs, Equivariant).Slope.Value, want.absolute, 1e-14)
		}
	})
	for _, what := range []string{"limits", "no limits", "equivariant"} {
		if seen[what] == 0 {
			t.Errorf("no draw had %s: %v", what, seen)
		}
	}
}

// With several thousand points the slopes are never all formed; some ranks of the fast search against the sorted slopes.
func TestKthAgainstSorting(t *testing.T) {
	for _, top := range []int64{20, 400, 1 << 28} {
		rng := rand.New(rand.NewPCG(uint64(top), 8))
		x, y := make([]int64, 1500), make([]int64, 1500)
		for i := range x {
			x[i] = rng.Int64N(top)
			y[i] = x[i] + rng.Int64N(top/4+1)
		}
		type ratio = slope[int64]
		var all []ratio
		for i := range x {
			for j := i + 1; j < len(x); j++ {
				if dx := x[j] - x[i]; dx > 0 {
					all = append(all, ratio{y[j] - y[i], dx})
				} else if dx < 0 {
					all = append(all, ratio{y[i] - y[j], -dx})
				}
			}
		}
		slices.SortFunc(all, ratio.compare)
		fs := fans[int64]{newFan(x, y)}
		b := fs.open(ratio{-1, 0}, ratio{1, 0})
		n := int64(len(all))
		if b.atLo != 0 || b.belowHi != n {
			t.Fatalf("the bracket of all slopes has %d to %d, want 0 to %d", b.atLo, b.belowHi, n)
		}
		for _, k := range []int64{1, 2, n / 1000, n / 7, n / 2, n/2 + 1, n - n/7, n - 1, n} {
			if got := fs.kth(b, k); got.compare(all[k-1]) != 0 {
				t.Errorf("top %d: slope %d of %d is %v, want %v", top, k, n, got, all[k-1])
			}
		}
		for _, s := range []ratio{{0, 1}, {1, 1}, {-1, 1}, all[n/3]} {
			below, _ := slices.BinarySearchFunc(all, s, ratio.compare)
			upTo, _ := slices.BinarySearchFunc(all, s, func(a, b ratio) int {
				if a.compare(b) <= 0 {
					return -1
				}
				return 1
			})
			if fs.count(s, false) != int64(below) || fs.count(s, true) != int64(upTo) {
				t.Errorf("top %d: %d below and %d up to %v, want %d and %d", top, fs.count(s, false), fs.count(s, true), s, below, upTo)
			}
		}
	}
}

// Values without short decimals are computed in floats and must give the same line: here the same readings times a factor, once
// for few points and once for more than are listed at once, with many ties that are then ties but for rounding.
func TestFloatsGiveTheSameLine(t *testing.T) {
	for _, n := range []int{20, 600, 3000} {
		for _, top := range []int{25, 500} {
			rng := rand.New(rand.NewPCG(uint64(n), uint64(top)))
			pairs, scaled := make([]Pair, n), make([]Pair, n)
			for i := range pairs {
				x := float64(1 + rng.IntN(top))
				pairs[i] = Pair{x, x + float64(rng.IntN(top/3+1))}
				scaled[i] = Pair{pairs[i].Reference / 18.016, pairs[i].Meter / 18.016}
			}
			x, y := columns(scaled)
			if _, _, whole := common(x, y); whole {
				t.Fatal("the scaled readings are short decimals: floats were not tried")
			}
			for _, form := range []Form{Tangent, Angle, Equivariant} {
				a, b := passing(t, pairs, form), passing(t, scaled, form)
				near(t, string(form)+" slope", b.Slope.Value, a.Slope.Value, 1e-11)
				near(t, string(form)+" intercept", b.Intercept.Value*18.016, a.Intercept.Value, 1e-9)
				if a.Slopes != b.Slopes || a.M1 != b.M1 {
					t.Errorf("%s: %d slopes and M1 %d, in floats %d and %d", form, a.Slopes, a.M1, b.Slopes, b.M1)
				}
				if a.Slope.CI == nil || b.Slope.CI == nil {
					t.Fatalf("%s: limits are missing: %q, %q", form, a.Note, b.Note)
				}
				nearInterval(t, string(form)+" slope", b.Slope.CI, [2]float64{a.Slope.CI.Low, a.Slope.CI.High}, 1e-11)
			}
		}
	}
}

// Six decimals over a wide range are more than whole numbers hold: floats take over and agree with the exact fractions.
func TestWideRangeOfLongDecimals(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 9))
	x, y := make([]int64, 60), make([]int64, 60)
	pairs := make([]Pair, len(x))
	for i := range x {
		x[i] = 10_000_000 + rng.Int64N(900_000_000)
		y[i] = x[i] + rng.Int64N(80_000_000)
		pairs[i] = Pair{float64(x[i]) / 1e6, float64(y[i]) / 1e6}
	}
	want, got := directly(x, y, 1.959963984540054), passing(t, pairs, Tangent)
	near(t, "slope", got.Slope.Value, want.slope, 1e-12)
	nearInterval(t, "slope", got.Slope.CI, [2]float64{want.low, want.high}, 1e-12)
	near(t, "equivariant slope", passing(t, pairs, Equivariant).Slope.Value, want.absolute, 1e-12)
	if got.Slopes != want.n || got.K != want.k {
		t.Errorf("N and K are %d and %d, want %d and %d", got.Slopes, got.K, want.n, want.k)
	}
}

// All slopes of floats on a line are the same but for rounding, so no bracket narrows; every rank ends and gives that slope.
func TestFloatsOnALine(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 9))
	x, y := make([]float64, 800), make([]float64, 800)
	for i := range x {
		x[i] = 1 + 500*rng.Float64()
		y[i] = 1.1 * x[i]
	}
	fs := fans[float64]{newFan(x, y)}
	b := fs.open(slope[float64]{-1, 0}, slope[float64]{1, 0})
	for k := int64(1); k <= b.belowHi; k += 12345 {
		near(t, "slope", fs.kth(b, k).float(), 1.1, 1e-9)
	}
	if p := passing(t, pairsOf(x, y), Tangent); p.Slope.CI.Low > p.Slope.CI.High || !p.Slope.CI.Contains(p.Slope.Value) {
		t.Errorf("slope %v with the limits %v", p.Slope.Value, *p.Slope.CI)
	}
}

// The order of the pairs changes nothing but K, which counts equal references by their order.
func TestPassingBablokPermuted(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	for range 30 {
		pairs := simulated(60, rng)
		shuffled := slices.Clone(pairs)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		a, b := passing(t, pairs, Tangent), passing(t, shuffled, Tangent)
		if a.Slope.Value != b.Slope.Value || *a.Slope.CI != *b.Slope.CI || a.Intercept.Value != b.Intercept.Value || *a.Intercept.CI != *b.Intercept.CI {
			t.Fatalf("%+v and, shuffled, %+v", a.Line, b.Line)
		}
		if *a.Linearity != *b.Linearity {
			t.Fatalf("%+v and, shuffled, %+v", *a.Linearity, *b.Linearity)
		}
	}
}

// Exchanging the methods gives the inverse slope: exactly in the middle with an odd number of slopes or by angles, and the limits
// change places. The equivariant form also follows a change of unit of one method, the others do not.
func TestPassingBablokExchanged(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 9))
	odd := 0
	for range 60 {
		pairs := simulated(31+rng.IntN(2), rng)
		swapped, tenfold := make([]Pair, len(pairs)), make([]Pair, len(pairs))
		for i, p := range pairs {
			swapped[i], tenfold[i] = Pair{p.Meter, p.Reference}, Pair{p.Reference, 10 * p.Meter}
		}
		a, b := passing(t, pairs, Angle), passing(t, swapped, Angle)
		near(t, "inverse slope by angles", b.Slope.Value, 1/a.Slope.Value, 1e-12)
		a, b = passing(t, pairs, Tangent), passing(t, swapped, Tangent)
		if a.Slopes%2 == 1 {
			odd++
			near(t, "inverse slope", b.Slope.Value, 1/a.Slope.Value, 1e-14)
		}
		near(t, "inverse upper limit", b.Slope.CI.High, 1/a.Slope.CI.Low, 1e-14)
		near(t, "inverse lower limit", b.Slope.CI.Low, 1/a.Slope.CI.High, 1e-14)
		e, scaled := passing(t, pairs, Equivariant), passing(t, tenfold, Equivariant)
		near(t, "slope in other units", scaled.Slope.Value, 10*e.Slope.Value, 1e-14)
		near(t, "intercept in other units", scaled.Intercept.Value, 10*e.Intercept.Value, 1e-12)
	}
	if odd == 0 {
		t.Error("no draw had an odd number of slopes")
	}
}

// Moving both methods by constants moves the intercept alone; both in another unit scales it. By tenfold whole numbers to the last bit.
func TestPassingBablokMoved(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 9))
	for range 30 {
		pairs := simulated(25, rng)
		moved, tenfold := make([]Pair, len(pairs)), make([]Pair, len(pairs))
		for i, p := range pairs {
			moved[i], tenfold[i] = Pair{p.Reference + 100, p.Meter + 7}, Pair{10 * p.Reference, 10 * p.Meter}
		}
		for _, form := range []Form{Tangent, Angle, Equivariant} {
			a, b, c := passing(t, pairs, form), passing(t, moved, form), passing(t, tenfold, form)
			if b.Slope.Value != a.Slope.Value || c.Slope.Value != a.Slope.Value || *c.Slope.CI != *a.Slope.CI {
				t.Fatalf("%s: slopes %v, moved %v, tenfold %v", form, a.Slope, b.Slope, c.Slope)
			}
			near(t, "intercept moved", b.Intercept.Value, a.Intercept.Value+7-100*a.Slope.Value, 1e-11)
			near(t, "intercept tenfold", c.Intercept.Value, 10*a.Intercept.Value, 1e-11)
		}
	}
}

// Equal references in floats differ by rounding once both columns are added; the upper limit must still pass the vertical and not
// become a slope of 1e15.
func TestVerticalInFloats(t *testing.T) {
	steep := pairsOf([]float64{1, 2, 3, 3, 3, 3}, []float64{1, 2, 3, 5, 9, 20})
	for i := range steep {
		steep[i] = Pair{steep[i].Reference / 18.016, steep[i].Meter / 18.016}
	}
	p := passing(t, steep, Tangent)
	if p.Slope.CI != nil || !strings.Contains(p.Note, "vertical") {
		t.Errorf("%+v, %v", p, p.Slope.CI)
	}
}

// Published in the tests of the R package deming, for the third of its forms (median of the absolute slopes): 1.05 and 1/8 for six
// points, 4 and 6 for Sen's data, with limits 26/7 and 35/8 at 93 %.
func TestEquivariantPublished(t *testing.T) {
	toy := pairsOf([]float64{1, 2, 3, 4, 5, 6}, []float64{2, 1.2, 4.1, 3.5, 6.3, 3})
	p := passing(t, toy, Equivariant)
	near(t, "slope", p.Slope.Value, 1.05, 1e-14)
	near(t, "intercept", p.Intercept.Value, 0.125, 1e-14)
	sen := pairsOf([]float64{1, 2, 3, 4, 10, 12, 18}, []float64{9, 15, 19, 20, 45, 55, 78})
	for _, form := range []Form{Tangent, Equivariant} {
		s, err := PassingBablokLine(sen, form, 0.93)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "slope", s.Slope.Value, 4, 1e-14)
		near(t, "intercept", s.Intercept.Value, 6, 1e-13)
		nearInterval(t, "slope", s.Slope.CI, [2]float64{26.0 / 7, 35.0 / 8}, 1e-14)
	}
	if !strings.Contains(p.Note, "not proved") {
		t.Errorf("the note of the equivariant limits is %q", p.Note)
	}
}

// In steps of 0.01 a difference of readings carries rounding noise, and a slope of -1 is seen as -1 ± 1e-15. As whole numbers it is
// -1 and does not count: of these five points two pairs have it.
func TestSlopeOfMinusOneInDecimals(t *testing.T) {
	pairs := []Pair{{1.10, 1.16}, {1.13, 1.13}, {1.40, 1.52}, {1.47, 1.45}, {2.05, 2.11}}
	if noisy := (pairs[1].Meter - pairs[0].Meter) / (pairs[1].Reference - pairs[0].Reference); noisy == -1 {
		t.Fatal("this pair shows no noise: choose another")
	}
	p := passing(t, pairs, Tangent)
	if p.Slopes != 8 || p.K != 0 {
		t.Errorf("%d slopes count, %d of them below -1; want 8 and 0", p.Slopes, p.K)
	}
}

func TestPassingBablokRefuses(t *testing.T) {
	falling := pairsOf([]float64{1, 2, 3, 4, 5}, []float64{5, 4.5, 3, 2.5, 1})
	cross := pairsOf([]float64{1, 3, 2, 2}, []float64{2, 2, 1, 3})
	for _, x := range []struct {
		name  string
		pairs []Pair
		form  Form
		key   string
	}{
		{"two pairs", falling[:2], Tangent, "pairs-too-few"},
		{"falling", falling, Tangent, "association-none"},
		{"falling, equivariant", falling, Equivariant, "association-none"},
		{"a cross", cross, Tangent, "association-none"},
		{"a constant meter", pairsOf([]float64{1, 2, 3}, []float64{5, 5, 5}), Tangent, "pairs-constant"},
		{"a constant reference", pairsOf([]float64{5, 5, 5}, []float64{1, 2, 3}), Tangent, "pairs-constant"},
		{"NaN", pairsOf([]float64{1, 2, math.NaN()}, []float64{1, 2, 3}), Tangent, "pair-unusable"},
		{"a form", falling, "other", "form-unknown"},
	} {
		if p, err := PassingBablokLine(x.pairs, x.form, 0.95); !fault.Is(err, x.key) {
			t.Errorf("%s: %+v, %v; want %s", x.name, p, err, x.key)
		}
	}
}

// Three pairs have a line and no limits; five noisy ones have an upper limit past the vertical.
func TestPassingBablokWithoutLimits(t *testing.T) {
	p := passing(t, pairsOf([]float64{1, 2, 3}, []float64{1, 2, 4}), Tangent)
	if p.Slope.CI != nil || p.Intercept.CI != nil || !strings.Contains(p.Note, "too few") {
		t.Errorf("three pairs: %+v", p)
	}
	steep := pairsOf([]float64{1, 2, 3, 4, 2.9, 3}, []float64{1, 2, 3, 4, 8, 1.5})
	p = passing(t, steep, Tangent)
	if p.Slope.CI != nil || !strings.Contains(p.Note, "vertical") {
		t.Errorf("steep pairs: %+v", p)
	}
}

// By hand: twelve points, six a unit above and six a unit below a line of slope 1, so that every score is 1 or -1.
func TestCusum(t *testing.T) {
	var x, y []float64
	for i := range 12 {
		off := -1.0
		if i >= 3 && i < 9 {
			off = 1
		}
		x, y = append(x, float64(10*i)), append(y, float64(10*i)+off+50)
	}
	c := cusum(x, y, 1, 50)
	// 6 above, 6 below; after the first three the sum is -3, after nine +3: 3/sqrt(12).
	if c == nil || c.Above != 6 || c.Below != 6 {
		t.Fatalf("%+v", c)
	}
	near(t, "statistic", c.Statistic, 3/math.Sqrt(12), 1e-14)
	// All six above first: the sum reaches 6, and 6/sqrt(12) = 1.732 has p = 0.00496 by the series.
	for i := range y {
		off := 1.0
		if i >= 6 {
			off = -1
		}
		y[i] = x[i] + 50 + off
	}
	c = cusum(x, y, 1, 50)
	near(t, "statistic", c.Statistic, 6/math.Sqrt(12), 1e-14)
	near(t, "p", c.P, 2*(math.Exp(-6)-math.Exp(-24)), 1e-12)
	for i := range y {
		y[i] = x[i] + 50
	}
	if c := cusum(x, y, 1, 50); c != nil {
		t.Errorf("points on the line have the test %+v", c)
	}
}

// A parabola bends; whole readings on a line with even scatter do not.
func TestLinearity(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 9))
	var bent []Pair
	for i := range 80 {
		x := 50 + 4*float64(i)
		bent = append(bent, Pair{x, math.Round(0.003*x*x + 30 + rng.NormFloat64())})
	}
	if l := passing(t, bent, Tangent).Linearity; l == nil || l.P > 0.001 {
		t.Errorf("a parabola: %+v", l)
	}
	low := 0
	for range 200 {
		if l := passing(t, simulated(80, rng), Tangent).Linearity; l != nil && l.P < 0.05 {
			low++
		}
	}
	if low > 25 { // 10 expected at most; the fitted line makes fewer
		t.Errorf("%d of 200 straight sets bend at p < 0.05", low)
	}
}

package agreement

import (
	"math"

	"fairstick/internal/fault"
)

const (
	mostRounds    = 1000
	roundsEnd     = 1e-12 // relative change at which the iteration ends
	jackknifeFull = 1000  // up to this many pairs the jackknife is computed pair by pair
)

// WeightedDeming fits a line that allows errors in both methods which grow in proportion to the level (a constant CV). It
// repeats a Deming fit with weights until slope and intercept stand still, starting from the plain fit:
//
//	d = y - (a + b x), xhat = x + lambda b d/(1 + lambda b²), yhat = y - d/(1 + lambda b²)
//	weight = 1/((xhat + lambda yhat)/(1 + lambda))²
//
// lambda is the variance of the reference's errors over that of the meter's. Intervals are those of the jackknife with t(n-2);
// above 1,000 pairs the sums without one pair are expanded about the estimate (error of order 1/n of the standard error). Slope
// has no unit, the intercept that of the pairs. Fewer than 3 pairs, values that are not positive or finite, a constant column
// and pairs without association are refused, as is an iteration that does not settle (key "not-converged").
// Source: Linnet K, Stat Med 1990;9:1463-73 (from memory).
func WeightedDeming(pairs []Pair, lambda, confidence float64) (Line, error) {
	if err := check(pairs, nameWeightedDeming, 3, true); err != nil {
		return Line{}, err
	}
	l, x, y, err := demingLine(pairs, lambda, confidence)
	if err != nil {
		return Line{}, err
	}
	l.Method = nameWeightedDeming
	p := problem{x: x, y: y, lambda: lambda, cx: mean(x), cy: mean(y)}
	a, b, ok := p.settle(l.Intercept.Value, l.Slope.Value, p.allBut(-1))
	if !ok {
		return Line{}, fault.New(fault.Invalid, "not-converged", "Weighted Deming did not settle on a line.",
			"A value near zero would get all the weight.", "Look for values near zero, or use the unweighted Deming line.")
	}
	l.Intercept.Value, l.Slope.Value = a, b
	slopes, intercepts, ok := p.withoutEach(a, b)
	if !ok {
		l.Note = "No interval: without one of the pairs the iteration does not settle."
		return l, nil
	}
	return l.jackknifed(slopes, intercepts), nil
}

// problem is one weighted fit: the columns, and a centre (cx, cy) about which sums are taken so that nothing cancels.
type problem struct {
	x, y   []float64
	lambda float64
	cx, cy float64
}

// weighed has the weighted sums from which a Deming line follows: w, wx, wy, wxx, wyy, wxy, with x and y about the centre.
type weighed [6]float64

// sumsAt gives the sums at a line a + b x; not ok when a weight cannot be had there.
type sumsAt func(a, b float64) (weighed, bool)

// term gives what point i adds to the sums; not ok when its estimated true value is not positive.
func (p problem) term(i int, a, b float64) (weighed, bool) {
	x, y := p.x[i], p.y[i]
	share := (y - (a + float64(b*x))) / (1 + float64(p.lambda*b*b))
	xhat := x + float64(p.lambda*b*share)
	yhat := y - share
	level := (xhat + float64(p.lambda*yhat)) / (1 + p.lambda)
	if !(level > 0) {
		return weighed{}, false
	}
	w := 1 / float64(level*level)
	x, y = x-p.cx, y-p.cy
	wx, wy := float64(w*x), float64(w*y)
	return weighed{w, wx, wy, float64(wx * x), float64(wy * y), float64(wx * y)}, true
}

// allBut adds up all points but one; skip -1 leaves none out.
func (p problem) allBut(skip int) sumsAt {
	return func(a, b float64) (weighed, bool) {
		var out weighed
		for i := range p.x {
			if i == skip {
				continue
			}
			t, ok := p.term(i, a, b)
			if !ok {
				return weighed{}, false
			}
			for k := range out {
				out[k] += t[k]
			}
		}
		return out, true
	}
}

// line gives the Deming line of weighted sums; not ok when there is none.
func (p problem) line(s weighed) (a, b float64, ok bool) {
	mx, my := s[1]/s[0], s[2]/s[0]
	m := moments{sxx: s[3] - float64(s[1]*mx), syy: s[4] - float64(s[2]*my), sxy: s[5] - float64(s[1]*my)}
	b, ok = demingSlope(m, p.lambda)
	return p.cy + my - float64(b*(p.cx+mx)), b, ok && s[0] > 0
}

// settle repeats the weighted fit from a first line until it stands still.
func (p problem) settle(a, b float64, at sumsAt) (float64, float64, bool) {
	for range mostRounds {
		s, ok := at(a, b)
		if !ok {
			return 0, 0, false
		}
		na, nb, ok := p.line(s)
		if !ok {
			return 0, 0, false
		}
		still := math.Abs(nb-b) <= roundsEnd*math.Abs(nb) && math.Abs(na-a) <= roundsEnd*(math.Abs(na)+p.cy)
		a, b = na, nb
		if still {
			return a, b, true
		}
	}
	return 0, 0, false
}

// withoutEach gives slope and intercept without each pair, starting from the line of all.
func (p problem) withoutEach(a, b float64) (slopes, intercepts []float64, ok bool) {
	n := len(p.x)
	slopes, intercepts = make([]float64, n), make([]float64, n)
	var near expansion
	if n > jackknifeFull {
		if near, ok = p.expand(a, b); !ok {
			return nil, nil, false
		}
	}
	for i := range n {
		at := p.allBut(i)
		if n > jackknifeFull {
			at = near.without(p, i)
		}
		if intercepts[i], slopes[i], ok = p.settle(a, b, at); !ok {
			return nil, nil, false
		}
	}
	return slopes, intercepts, true
}

// expansion has the sums of all pairs at a line, with their slopes in a and b by central differences.
type expansion struct {
	a, b        float64
	sum, da, db weighed
}

func (p problem) expand(a, b float64) (expansion, bool) {
	const step = 1e-4
	stepA, stepB := step*(math.Abs(a)+p.cy), step*math.Abs(b)
	e := expansion{a: a, b: b}
	var around [5]weighed
	for i, at := range [5][2]float64{{a, b}, {a - stepA, b}, {a + stepA, b}, {a, b - stepB}, {a, b + stepB}} {
		var ok bool
		if around[i], ok = p.allBut(-1)(at[0], at[1]); !ok {
			return expansion{}, false
		}
	}
	e.sum = around[0]
	for k := range e.sum {
		e.da[k] = (around[2][k] - around[1][k]) / (2 * stepA)
		e.db[k] = (around[4][k] - around[3][k]) / (2 * stepB)
	}
	return e, true
}

// without gives the sums near the line with point i left out.
func (e expansion) without(p problem, i int) sumsAt {
	return func(a, b float64) (weighed, bool) {
		own, ok := p.term(i, a, b)
		out := e.sum
		for k := range out {
			out[k] += float64(e.da[k]*(a-e.a)) + float64(e.db[k]*(b-e.b)) - own[k]
		}
		return out, ok
	}
}

package agreement

import (
	"math"
	"math/big"
	"slices"
)

// directSlopes forms every slope of the pairs and sorts them: what the fast form must not need.
func directSlopes(pairs []Pair) []float64 {
	var s []float64
	for i, p := range pairs {
		for _, q := range pairs[i+1:] {
			dx, dy := q.Reference-p.Reference, q.Meter-p.Meter
			if dx+dy != 0 {
				s = append(s, dy/dx)
			}
		}
	}
	slices.Sort(s)
	return s
}

// direct is Passing-Bablok written from the definition of 1983, every slope an exact fraction of the decimals as typed. The
// points are given in whole steps.
type direct struct {
	n, k, m1, m2           int64
	slope, angle           float64
	low, high              float64 // of the slope; NaN when there are no limits
	absolute               float64 // median of the absolute slopes
	concordant, discordant int64
}

func directly(x, y []int64, z float64) direct {
	type fraction struct {
		infinite int // sign of an infinite slope
		value    *big.Rat
	}
	compare := func(a, b fraction) int {
		if a.infinite != 0 || b.infinite != 0 {
			return a.infinite - b.infinite
		}
		return a.value.Cmp(b.value)
	}
	float := func(f fraction) float64 {
		if f.infinite != 0 {
			return math.Inf(f.infinite)
		}
		v, _ := f.value.Float64()
		return v
	}
	minusOne := big.NewRat(-1, 1)
	var s, abs []fraction
	var d direct
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			dx, dy := x[j]-x[i], y[j]-y[i]
			switch product := dx * dy; {
			case product > 0:
				d.concordant++
			case product < 0:
				d.discordant++
			}
			if dx == 0 {
				if dy == 0 {
					continue
				}
				f := fraction{infinite: 1}
				abs = append(abs, f)
				if dy < 0 {
					f.infinite = -1
					d.k++
				}
				s = append(s, f)
				continue
			}
			v := big.NewRat(dy, dx)
			abs = append(abs, fraction{value: new(big.Rat).Abs(v)})
			switch v.Cmp(minusOne) {
			case 0:
				continue
			case -1:
				d.k++
			}
			s = append(s, fraction{value: v})
		}
	}
	slices.SortFunc(s, compare)
	slices.SortFunc(abs, compare)
	middle := func(s []fraction, k int64) (tangent, angle float64) {
		n := int64(len(s))
		if n%2 == 1 {
			v := float(s[(n+1)/2+k-1])
			return v, v
		}
		a, b := float(s[n/2+k-1]), float(s[n/2+k])
		return (a + b) / 2, math.Tan((math.Atan(a) + math.Atan(b)) / 2)
	}
	d.n = int64(len(s))
	n := float64(len(x))
	c := z * math.Sqrt(n*(n-1)*(2*n+5)/18)
	d.m1 = int64(math.Round((float64(d.n) - c) / 2))
	d.m2 = d.n - d.m1 + 1
	d.low, d.high = math.NaN(), math.NaN()
	if at := d.n/2 + d.k; d.n > 0 && at >= 1 && at < d.n {
		d.slope, d.angle = middle(s, d.k)
		d.absolute, _ = middle(abs, 0)
		if d.m1 >= 1 && d.m2+d.k <= d.n {
			d.low, d.high = float(s[d.m1+d.k-1]), float(s[d.m2+d.k-1])
		}
	}
	return d
}

package agreement

import (
	"cmp"
	"math"
	"slices"
)

// Cusum is the test of linearity that goes with Passing-Bablok.
type Cusum struct {
	Above     int     `json:"above"` // points above the line
	Below     int     `json:"below"`
	Statistic float64 `json:"statistic"` // max |cusum| / sqrt(above + below)
	P         float64 `json:"p"`         // of a straight line, by Kolmogorov's distribution
}

// cusum walks along the line and adds sqrt(below/above) for a point above it, -sqrt(above/below) for one below and 0 for one
// on it. On a straight line the points alternate; a bend makes a run of one side. Points are ordered by where they project:
// y + x/slope. Points that project to the same place are taken together. The sum's largest value is sqrt(above*below) times the
// two-sample statistic of Kolmogorov and Smirnov, so divided by sqrt(above+below) it follows Kolmogorov's distribution: 1.36
// has p = 0.05. Nil when no point lies above or none below. Source: Passing H, Bablok W, J Clin Chem Clin Biochem 1983;21:709-20;
// the divisor is our derivation.
func cusum(x, y []float64, slope, intercept float64) *Cusum {
	type point struct {
		along float64
		side  int
	}
	points := make([]point, len(x))
	var c Cusum
	for i := range x {
		r := y[i] - intercept - float64(slope*x[i])
		points[i].along = y[i] + x[i]/slope
		switch off := 0x1p-46 * (math.Abs(y[i]) + math.Abs(intercept) + math.Abs(slope*x[i])); {
		case r > off:
			points[i].side = 1
			c.Above++
		case r < -off:
			points[i].side = -1
			c.Below++
		}
	}
	if c.Above == 0 || c.Below == 0 {
		return nil
	}
	slices.SortFunc(points, func(a, b point) int { return cmp.Compare(a.along, b.along) })
	up := math.Sqrt(float64(c.Below) / float64(c.Above))
	down := math.Sqrt(float64(c.Above) / float64(c.Below))
	above, below, most := 0, 0, 0.0
	for i, p := range points {
		switch p.side {
		case 1:
			above++
		case -1:
			below++
		}
		if i+1 == len(points) || points[i+1].along-p.along > 0x1p-46*math.Abs(p.along) {
			most = math.Max(most, math.Abs(float64(float64(above)*up)-float64(float64(below)*down)))
		}
	}
	c.Statistic = most / math.Sqrt(float64(c.Above+c.Below))
	c.P = kolmogorov(c.Statistic)
	return &c
}

// kolmogorov gives the upper tail of Kolmogorov's distribution, 2 sum (-1)^(j-1) exp(-2 j² s²); by the other series, which
// converges where this one does not, when s is small.
func kolmogorov(s float64) float64 {
	if s <= 0 {
		return 1
	}
	sum := 0.0
	if s < 1 {
		for j := 1.0; j < 20; j += 2 {
			sum += math.Exp(-float64(j*j) * math.Pi * math.Pi / float64(8*s*s))
		}
		return 1 - math.Sqrt(2*math.Pi)/s*sum
	}
	sign := 1.0
	for j := 1.0; j < 20; j++ {
		sum += sign * math.Exp(-2*float64(j*j)*float64(s*s))
		sign = -sign
	}
	return 2 * sum
}

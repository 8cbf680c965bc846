package agreement

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fairstick/internal/glucose"
)

// simulated gives n pairs of whole mg/dL: log-uniform 40 to 500, a reference with 2 % and a meter with 6 % error.
func simulated(n int, rng *rand.Rand) []Pair {
	out := make([]Pair, n)
	for i := range out {
		v := 40 * math.Exp(rng.Float64()*math.Log(12.5))
		out[i] = Pair{math.Round(v * (1 + 0.02*rng.NormFloat64())), math.Round((4 + 0.96*v) * (1 + 0.06*rng.NormFloat64()))}
	}
	return out
}

// clock gives the shortest of several runs of f, in seconds.
func clock(runs int, f func()) float64 {
	best := math.Inf(1)
	for range runs {
		start := time.Now()
		f()
		best = min(best, time.Since(start).Seconds())
	}
	return best
}

// Ratios are measured in one run, so they hold on any machine: against sorting as many numbers, which no method can
// beat, and against the direct form, which makes every slope and sorts them. For 100,000 pairs, whose slopes would not fit in memory,
// the direct form is only made to look at every slope once. R has no fast form in Debian to be compared with.
func BenchmarkPassingBablok(b *testing.B) {
	for _, n := range []int{1000, 10000, 100000} {
		for _, decimals := range []bool{true, false} {
			name := "whole"
			if !decimals {
				name = "floats"
			}
			b.Run(fmt.Sprintf("%s/n=%d", name, n), func(b *testing.B) {
				rng := rand.New(rand.NewPCG(1, 2))
				pairs := simulated(n, rng)
				if !decimals {
					for i := range pairs {
						pairs[i].Reference += rng.Float64()
						pairs[i].Meter += rng.Float64()
					}
				}
				_, y := columns(pairs)
				fit := func() {
					if _, err := PassingBablokLine(pairs, Tangent, 0.95); err != nil {
						b.Fatal(err)
					}
				}
				fast := math.Inf(1)
				for b.Loop() {
					fast = min(fast, clock(1, fit))
				}
				sorting := clock(5, func() { slices.Sort(slices.Clone(y)) })
				b.ReportMetric(fast*1e3, "ms")
				b.ReportMetric(fast/sorting, "x-sort")
				if n <= 10000 {
					direct := clock(1, func() { directSlopes(pairs) })
					b.ReportMetric(direct/fast, "direct/fast")
				} else {
					steep := 0
					look := clock(1, func() { steep = steeper(pairs, 1) })
					if steep == 0 {
						b.Fatal("no slope is steeper than 1")
					}
					b.ReportMetric(look/fast, "look-at-all/fast")
				}
			})
		}
	}
}

// steeper counts the slopes above one by looking at all of them.
func steeper(pairs []Pair, slope float64) int {
	n := 0
	for i, p := range pairs {
		for _, q := range pairs[i+1:] {
			if dx, dy := q.Reference-p.Reference, q.Meter-p.Meter; dx > 0 && dy > slope*dx || dx < 0 && dy < slope*dx {
				n++
			}
		}
	}
	return n
}

// A million points against adding up the same memory once.
func BenchmarkErrorGrid(b *testing.B) {
	pairs := simulated(1_000_000, rand.New(rand.NewPCG(3, 4)))
	sum := 0.0
	pass := clock(5, func() {
		for _, p := range pairs {
			sum += p.Reference + p.Meter
		}
	})
	if sum == 0 {
		b.Fatal("nothing was added")
	}
	for _, g := range Grids {
		for _, unit := range glucose.Units {
			b.Run(string(g)+"/"+string(unit), func(b *testing.B) {
				best := math.Inf(1)
				for b.Loop() {
					best = min(best, clock(1, func() {
						if _, err := CountZones(g, pairs, unit); err != nil {
							b.Fatal(err)
						}
					}))
				}
				b.ReportMetric(best*1e3, "ms/Mpoints")
				b.ReportMetric(best/pass, "x-pass")
			})
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	pairs := simulated(100_000, rand.New(rand.NewPCG(5, 6)))
	for b.Loop() {
		if _, err := Compare(pairs, glucose.MgPerDL, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

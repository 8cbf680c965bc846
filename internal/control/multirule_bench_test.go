package control

import (
	"math/rand/v2"
	"testing"
	"time"
)

// The rules over a million points, as a ratio to one pass over the same memory that adds them up. In control few rules break; shifted by 1 SD
// nearly every run breaks several and lists its points.
func BenchmarkMultirules(b *testing.B) {
	const n = 1_000_000
	for name, shift := range map[string]float64{"in-control": 0, "shift-1SD": 1} {
		b.Run(name, func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 1))
			points := make([]Point, n)
			for i := range points {
				points[i] = Point{i % 2, shift + rng.NormFloat64()}
			}
			var rules, pass time.Duration
			rejected, sum := 0, 0.0
			for b.Loop() {
				start := time.Now()
				m := must[*Multirule](b)(NewMultirule(UsualRules(2)))
				for i := 0; i < n; i += 2 {
					r, err := m.Add(points[i : i+2])
					if err != nil {
						b.Fatal(err)
					}
					if r.Decision == Reject {
						rejected++
					}
				}
				rules += time.Since(start)
				start = time.Now()
				for _, p := range points {
					sum += p.Z
				}
				pass += time.Since(start)
			}
			if rejected == 0 || sum == 0 {
				b.Fatal("nothing was done")
			}
			b.ReportMetric(float64(rules)/float64(b.N)/1e6, "ms/million-points")
			b.ReportMetric(float64(rules)/float64(pass), "x-one-pass")
		})
	}
}

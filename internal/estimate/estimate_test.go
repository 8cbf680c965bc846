package estimate

import (
	_ "embed"
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"
)

//go:embed testdata/wilson.json
var wilsonJSON []byte

// Ends computed elsewhere agree to 1e-12; the four-decimal ends that Newcombe published agree to half a unit of the fourth
// decimal.
func TestWilsonAgainstPublished(t *testing.T) {
	var ref struct {
		Confidence float64
		Rows       []struct {
			X, N              int
			Wilson, Published []float64
		}
	}
	if err := json.Unmarshal(wilsonJSON, &ref); err != nil {
		t.Fatal(err)
	}
	published := 0
	for _, r := range ref.Rows {
		got, err := Wilson(r.X, r.N, ref.Confidence)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.Low-r.Wilson[0]) > 1e-12 || math.Abs(got.High-r.Wilson[1]) > 1e-12 {
			t.Errorf("Wilson(%d, %d) = %v, want %v", r.X, r.N, got, r.Wilson)
		}
		if len(r.Published) == 2 {
			published++
			if math.Abs(got.Low-r.Published[0]) > 0.00005 || math.Abs(got.High-r.Published[1]) > 0.00005 {
				t.Errorf("Wilson(%d, %d) = %v, published %v", r.X, r.N, got, r.Published)
			}
		}
	}
	if published < 4 {
		t.Errorf("%d published examples were compared, want at least 4", published)
	}
}

func TestWilsonRefuses(t *testing.T) {
	for _, tt := range []struct {
		x, n int
		c    float64
	}{{0, 0, 0.95}, {-1, 5, 0.95}, {6, 5, 0.95}, {1, 5, 0}, {1, 5, 1}, {1, 5, math.NaN()}} {
		if got, err := Wilson(tt.x, tt.n, tt.c); err == nil || got != (Interval{}) {
			t.Errorf("Wilson(%d, %d, %v) = %v, %v; want an error", tt.x, tt.n, tt.c, got, err)
		}
	}
}

func TestWilsonProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 100000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		c := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		i, err := Wilson(x, n, c)
		if err != nil {
			t.Fatal(err)
		}
		p := float64(x) / float64(n)
		if i.Low < 0 || i.High > 1 || i.Low > p || i.High < p {
			t.Fatalf("%v does not hold %v", i, p)
		}
		if x == 0 && i.Low != 0 || x == n && i.High != 1 {
			t.Fatalf("%v: the end is not exact for %d of %d", i, x, n)
		}
		m, err := Wilson(n-x, n, c)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(m.Low-(1-i.High)) > 1e-12 || math.Abs(m.High-(1-i.Low)) > 1e-12 {
			t.Fatalf("%v and %v are not mirror images", i, m)
		}
	})
}

// Quantiles to 10 decimals as in any table of the normal distribution.
func TestNormalQuantile(t *testing.T) {
	for p, z := range map[float64]float64{0.5: 0, 0.975: 1.9599639845, 0.95: 1.6448536270, 0.995: 2.5758293035} {
		if got := NormalQuantile(p); math.Abs(got-z) > 5e-11 {
			t.Errorf("NormalQuantile(%v) = %.12f, want %v", p, got, z)
		}
	}
	if !math.IsInf(NormalQuantile(1), 1) || !math.IsInf(NormalQuantile(0), -1) || !math.IsNaN(NormalQuantile(1.5)) {
		t.Errorf("the ends are %v, %v, %v", NormalQuantile(0), NormalQuantile(1), NormalQuantile(1.5))
	}
}

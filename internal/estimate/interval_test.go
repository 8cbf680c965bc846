package estimate

import (
	"embed"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

//go:embed testdata/*.json
var known embed.FS

// load reads a known answer; its source stands inside of it.
func load(t *testing.T, name string, into any) {
	t.Helper()
	data, err := known.ReadFile("testdata/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatal(err)
	}
}

// near reports whether two numbers agree to a tolerance, absolute below 1 and relative above.
func near(got, want, tol float64) bool {
	return math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))
}

func TestIntervalsAgainstPublished(t *testing.T) {
	var ref struct {
		Inputs   struct{ Conf float64 }
		Expected struct {
			Rows []struct {
				X, N           int
				Wilson         [2]float64
				ClopperPearson [2]float64 `json:"clopper_pearson"`
				Published      struct {
					Wilson         []float64
					ClopperPearson []float64 `json:"clopper_pearson"`
				}
			}
		}
	}
	load(t, "binomial_ci_f", &ref)
	published := 0
	for _, r := range ref.Expected.Rows {
		s, err := ShareOf(r.X, r.N, ref.Inputs.Conf)
		if err != nil {
			t.Fatal(err)
		}
		if s.Value != float64(r.X)/float64(r.N) || s.X != r.X || s.N != r.N {
			t.Errorf("%d of %d is shown as %+v", r.X, r.N, s)
		}
		for _, c := range []struct {
			name string
			got  Interval
			want []float64
			tol  float64
		}{
			{"Wilson", s.Wilson, r.Wilson[:], 1e-9},
			{"Clopper-Pearson", s.Exact, r.ClopperPearson[:], 1e-7},
			{"Wilson, published", s.Wilson, r.Published.Wilson, 1e-4},
			{"Clopper-Pearson, published", s.Exact, r.Published.ClopperPearson, 1e-4},
		} {
			if len(c.want) != 2 {
				continue
			}
			published++
			if math.Abs(c.got.Low-c.want[0]) > c.tol || math.Abs(c.got.High-c.want[1]) > c.tol {
				t.Errorf("%s of %d in %d = %v, want %v", c.name, r.X, r.N, c.got, c.want)
			}
		}
	}
	if published < 2*8+2*4 {
		t.Errorf("%d intervals were compared", published)
	}
}

func TestIntervalsRefuse(t *testing.T) {
	for _, tt := range []struct {
		x, n int
		c    float64
	}{{0, 0, 0.95}, {-1, 5, 0.95}, {6, 5, 0.95}, {1, 5, 0}, {1, 5, 1}, {1, 5, math.NaN()}} {
		if got, err := ClopperPearson(tt.x, tt.n, tt.c); err == nil || got != (Interval{}) {
			t.Errorf("ClopperPearson(%d, %d, %v) = %v, %v; want an error", tt.x, tt.n, tt.c, got, err)
		}
		if got, err := ShareOf(tt.x, tt.n, tt.c); err == nil || got != (Share{}) {
			t.Errorf("ShareOf(%d, %d, %v) = %v, %v; want an error", tt.x, tt.n, tt.c, got, err)
		}
		if _, err := Newcombe(tt.x, tt.n, 1, 5, tt.c); err == nil {
			t.Errorf("Newcombe with %d of %d first was accepted", tt.x, tt.n)
		}
		if _, err := Newcombe(1, 5, tt.x, tt.n, tt.c); err == nil {
			t.Errorf("Newcombe with %d of %d second was accepted", tt.x, tt.n)
		}
	}
}

// What defines the exact interval is held against the exact tail, which sums the terms one by one.
func TestClopperPearsonByItsDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		c := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		i, err := ClopperPearson(x, n, c)
		if err != nil {
			t.Fatal(err)
		}
		if x == 0 && i.Low != 0 || x == n && i.High != 1 {
			t.Fatalf("%v: the end is not exact for %d of %d", i, x, n)
		}
		if x > 0 {
			if tail, err := BinomialTail(x, n, i.Low); err != nil || !near(tail, (1-c)/2, 1e-9) {
				t.Fatalf("at %v, %d or more of %d have probability %v, want %v (%v)", i.Low, x, n, tail, (1-c)/2, err)
			}
		}
		if x < n {
			if tail, err := BinomialTail(x+1, n, i.High); err != nil || !near(1-tail, (1-c)/2, 1e-9) {
				t.Fatalf("at %v, %d or fewer of %d have probability %v, want %v (%v)", i.High, x, n, 1-tail, (1-c)/2, err)
			}
		}
		m, err := ClopperPearson(n-x, n, c)
		if err != nil || !near(m.Low, 1-i.High, 1e-12) || !near(m.High, 1-i.Low, 1e-12) {
			t.Fatalf("%v and %v are not mirror images", i, m)
		}
		wider, err := ClopperPearson(x, n, c+(1-c)/2)
		if err != nil || wider.Low > i.Low || wider.High < i.High {
			t.Fatalf("with more confidence %v became %v", i, wider)
		}
		if x < n {
			next, err := ClopperPearson(x+1, n, c)
			if err != nil || next.Low < i.Low || next.High < i.High {
				t.Fatalf("with one more %v became %v", i, next)
			}
		}
	})
}

// The exact interval holds the true share at least as often as it says (exact sum, no chance in it); that of Wilson does so on
// average over shares, within Monte-Carlo error.
func TestCoverage(t *testing.T) {
	const n = 40
	var exact [n + 1]Interval
	for x := range exact {
		exact[x], _ = ClopperPearson(x, n, 0.95)
	}
	for _, p := range []float64{0.003, 0.02, 0.1, 0.25, 0.5, 0.77, 0.95, 0.999} {
		held := 0.0
		for x, i := range exact {
			if i.Low <= p && p <= i.High {
				held += binomialCDF(x, n, p) - binomialCDF(x-1, n, p)
			}
		}
		if held < 0.95-1e-12 {
			t.Errorf("the exact interval holds %v in %v of samples", p, held)
		}
	}
	src := rand.New(rand.NewPCG(1, 2))
	const draws = 20000
	held := 0
	for range draws {
		p := src.Float64()
		x := 0
		for range 100 {
			if src.Float64() < p {
				x++
			}
		}
		if i, err := Wilson(x, 100, 0.95); err == nil && i.Low <= p && p <= i.High {
			held++
		}
	}
	if share, mc := float64(held)/draws, math.Sqrt(0.95*0.05/draws); math.Abs(share-0.95) > 0.004+3*mc {
		t.Errorf("Wilson held the share in %v of %d samples", share, draws)
	}
}

func TestNewcombeAgainstPublished(t *testing.T) {
	var ref struct {
		Expected struct {
			Rows []struct {
				Counts    [4]int `json:"a_m_b_n"`
				Diff      float64
				Newcombe  [2]float64 `json:"newcombe_10"`
				Published []float64  `json:"published_method10"`
			}
		}
	}
	load(t, "two_proportions_newcombe", &ref)
	if len(ref.Expected.Rows) < 5 {
		t.Fatalf("%d rows", len(ref.Expected.Rows))
	}
	for _, r := range ref.Expected.Rows {
		c := r.Counts
		d, err := Newcombe(c[0], c[1], c[2], c[3], 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if !near(d.Value, r.Diff, 1e-12) || !near(d.Low, r.Newcombe[0], 1e-9) || !near(d.High, r.Newcombe[1], 1e-9) {
			t.Errorf("Newcombe%v = %+v, want %v %v", c, d, r.Diff, r.Newcombe)
		}
		if len(r.Published) == 2 && (!near(d.Low, r.Published[0], 1e-4) || !near(d.High, r.Published[1], 1e-4)) {
			t.Errorf("Newcombe%v = %+v, published %v", c, d, r.Published)
		}
	}
}

func TestNewcombeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, n := rapid.IntRange(1, 5000).Draw(t, "m"), rapid.IntRange(1, 5000).Draw(t, "n")
		a, b := rapid.IntRange(0, m).Draw(t, "a"), rapid.IntRange(0, n).Draw(t, "b")
		d, err := Newcombe(a, m, b, n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if d.Low < -1 || d.High > 1 || d.Low > d.Value || d.High < d.Value {
			t.Fatalf("%+v", d)
		}
		swapped, err := Newcombe(b, n, a, m, 0.95)
		if err != nil || !near(swapped.Low, -d.High, 1e-12) || !near(swapped.High, -d.Low, 1e-12) {
			t.Fatalf("swapped: %+v and %+v", d, swapped)
		}
		failures, err := Newcombe(m-a, m, n-b, n, 0.95)
		if err != nil || !near(failures.Low, -d.High, 1e-11) || !near(failures.High, -d.Low, 1e-11) {
			t.Fatalf("of failures: %+v and %+v", d, failures)
		}
	})
}

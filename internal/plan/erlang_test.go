package plan

import (
	"embed"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

//go:embed testdata/*.json
var testdata embed.FS

// load reads a file of known answers; each names its source and its tolerance.
func load(t testing.TB, name string, into any) {
	t.Helper()
	b, err := testdata.ReadFile("testdata/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// relative says that a and b agree to a share of b.
func relative(a, b, tol float64) bool { return math.Abs(a-b) <= tol*math.Abs(b) }

// The traffic table as it is published, and the same to more digits.
func TestErlangBAgainstTheTrafficTable(t *testing.T) {
	var ref struct {
		Inputs struct {
			Servers  []int
			Blocking []float64
		}
		Expected struct {
			Published []float64 `json:"offered_load_published"`
			Load      []float64 `json:"offered_load"`
			Blocking  []float64 `json:"blocking_at_published_load"`
			Large     struct {
				Servers int
				Load, B float64
			}
		}
	}
	load(t, "erlang_b_table", &ref)
	if len(ref.Inputs.Servers) < 9 {
		t.Fatalf("%d rows", len(ref.Inputs.Servers))
	}
	for i, n := range ref.Inputs.Servers {
		a, err := OfferedLoad(n, ref.Inputs.Blocking[i])
		if err != nil || !relative(a, ref.Expected.Load[i], 1e-9) {
			t.Errorf("OfferedLoad(%d, %v) = %v, %v; want %v", n, ref.Inputs.Blocking[i], a, err, ref.Expected.Load[i])
		}
		printed := strconv.FormatFloat(ref.Expected.Published[i], 'f', -1, 64)
		_, decimals, _ := strings.Cut(printed, ".")
		if got := strconv.FormatFloat(a, 'f', len(decimals), 64); got != printed {
			t.Errorf("OfferedLoad(%d, %v) = %v; published %s", n, ref.Inputs.Blocking[i], a, printed)
		}
		b, err := ErlangB(n, ref.Expected.Published[i])
		if err != nil || !near(b, ref.Expected.Blocking[i], 1e-9) {
			t.Errorf("ErlangB(%d, %v) = %v, %v; want %v", n, ref.Expected.Published[i], b, err, ref.Expected.Blocking[i])
		}
	}
	l := ref.Expected.Large
	if b, err := ErlangB(l.Servers, l.Load); err != nil || !near(b, l.B, 1e-9) {
		t.Errorf("ErlangB(%d, %v) = %v, %v; want %v", l.Servers, l.Load, b, err, l.B)
	}
}

func TestSteadyAgainstKnown(t *testing.T) {
	var ref struct {
		Expected struct {
			Rows []struct {
				Lam, Mu           float64
				C                 int
				B                 float64 `json:"erlang_b"`
				Waits             float64 `json:"erlang_c"`
				P0                float64
				Lq, Wq, W, L, Rho float64
			}
			Published struct {
				Phone struct {
					PWait    float64 `json:"p_wait"`
					MeanWait float64 `json:"mean_wait_s"`
					Level    float64 `json:"service_level_15s"`
				}
			}
			Level float64 `json:"phone_service_level_15s"`
		}
	}
	load(t, "mmc_table_f", &ref)
	if len(ref.Expected.Rows) < 6 {
		t.Fatalf("%d rows", len(ref.Expected.Rows))
	}
	for _, r := range ref.Expected.Rows {
		l, err := Steady(r.Lam, 1/r.Mu, r.C)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			name      string
			got, want float64
		}{
			{"B", l.Blocking, r.B},
			{"C", l.Waits, r.Waits},
			{"p0", l.Empty, r.P0},
			{"Lq", l.InLine, r.Lq},
			{"Wq", l.Wait, r.Wq},
			{"W", l.Stay, r.W},
			{"L", l.Inside, r.L},
			{"rho", l.Use, r.Rho},
		} {
			if !relative(x.got, x.want, 1e-9) {
				t.Errorf("%s of %v/%v/%d = %v, want %v", x.name, r.Lam, r.Mu, r.C, x.got, x.want)
			}
		}
	}
	// The published telephone example: 0.2 calls a second, 240 s, 55 agents.
	phone, err := Steady(0.2, 240, 55)
	if err != nil {
		t.Fatal(err)
	}
	p := ref.Expected.Published.Phone
	if !near(phone.Waits, p.PWait, 0.0005) || !near(phone.Wait, p.MeanWait, 0.05) || !near(1-phone.WaitOver(15), p.Level, 0.001) || !near(1-phone.WaitOver(15), ref.Expected.Level, 1e-9) {
		t.Errorf("telephone: %v, %v s, %v; published %+v", phone.Waits, phone.Wait, 1-phone.WaitOver(15), p)
	}
	// The published eye clinic: 6 an hour, 20 minutes, 3 doctors: p0 1/9, Lq 8/9, 8.9 and 28.9 minutes.
	eye, err := Steady(0.1, 20, 3)
	if err != nil || !near(eye.Empty, 1.0/9, 1e-12) || !near(eye.InLine, 8.0/9, 1e-12) || !near(eye.Wait, 8.9, 0.05) || !near(eye.Stay, 28.9, 0.05) {
		t.Errorf("eye clinic: %+v, %v", eye, err)
	}
}

func TestWaitQuantilesAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs   struct{ Cases [][3]float64 }
		Expected struct {
			Rows []struct {
				A          float64 `json:"erlang_a"`
				C          float64 `json:"erlang_c"`
				Wq, W, Lq  float64
				L          float64
				P90        float64 `json:"p90_wait"`
				Rho, B, P0 float64
			}
		}
	}
	load(t, "mmc_wait_quantiles", &ref)
	if len(ref.Inputs.Cases) < 5 {
		t.Fatalf("%d cases", len(ref.Inputs.Cases))
	}
	for i, c := range ref.Inputs.Cases {
		want := ref.Expected.Rows[i]
		l, err := Steady(c[0]/60, c[1], int(c[2]))
		if err != nil {
			t.Fatal(err)
		}
		q, err := l.WaitQuantile(0.9)
		if err != nil || !near(q, want.P90, 1e-9) || !near(l.Wait, want.Wq, 1e-9) || !near(l.Stay, want.W, 1e-9) || !near(l.Load, want.A, 1e-9) || !near(l.Waits, want.C, 1e-9) {
			t.Errorf("%v: p90 %v, wait %v, stay %v, %v; want %+v", c, q, l.Wait, l.Stay, err, want)
		}
		if !near(l.WaitOver(q), 0.1, 1e-12) {
			t.Errorf("%v: %v wait longer than the quantile", c, l.WaitOver(q))
		}
	}
}

func TestGeneralWaitAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs struct {
			Rows []struct {
				Lambda float64 `json:"lambda_per_h"`
				Mean   float64 `json:"mean_min"`
				C      int
				CV     float64
			}
		}
		Expected struct {
			Rows []struct {
				Wq     float64 `json:"mmc_wq"`
				Approx float64 `json:"allen_cunneen"`
			}
		}
	}
	load(t, "mgc_approx_f", &ref)
	if len(ref.Inputs.Rows) < 4 {
		t.Fatalf("%d rows", len(ref.Inputs.Rows))
	}
	for i, r := range ref.Inputs.Rows {
		l, err := Steady(r.Lambda/60, r.Mean, r.C)
		if err != nil {
			t.Fatal(err)
		}
		w, err := l.GeneralWait(r.CV)
		if err != nil || !near(l.Wait, ref.Expected.Rows[i].Wq, 1e-9) || !near(w, ref.Expected.Rows[i].Approx, 1e-9) {
			t.Errorf("%+v: %v, %v, %v; want %+v", r, l.Wait, w, err, ref.Expected.Rows[i])
		}
	}
}

func TestTandemAgainstKnown(t *testing.T) {
	var ref struct {
		Inputs struct {
			Rate   float64 `json:"arrivals_per_hour"`
			Stages [][2]float64
		}
		Expected struct {
			Wq   []float64 `json:"Wq_min"`
			Stay float64   `json:"total_sojourn_min"`
		}
	}
	load(t, "jackson_tandem_steady_state", &ref)
	var means []float64
	var posts []int
	for _, s := range ref.Inputs.Stages {
		posts, means = append(posts, int(s[0])), append(means, s[1])
	}
	lines, stay, err := Tandem(ref.Inputs.Rate/60, means, posts)
	if err != nil || !near(stay, ref.Expected.Stay, 1e-9) {
		t.Fatalf("stay %v, %v; want %v", stay, err, ref.Expected.Stay)
	}
	for i, l := range lines {
		if !near(l.Wait, ref.Expected.Wq[i], 1e-9) {
			t.Errorf("station %d: %v, want %v", i, l.Wait, ref.Expected.Wq[i])
		}
	}
}

func TestLinesRefuse(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, x := range []struct {
		n int
		a float64
	}{{-1, 1}, {1, -1}, {1, nan}, {1, inf}} {
		if _, err := ErlangB(x.n, x.a); err == nil {
			t.Errorf("ErlangB(%d, %v) was computed", x.n, x.a)
		}
	}
	for _, x := range []struct {
		n int
		a float64
	}{{3, 3}, {3, 4}, {0, 0}, {2, nan}} {
		if _, err := ErlangC(x.n, x.a); err == nil {
			t.Errorf("ErlangC(%d, %v) was computed", x.n, x.a)
		}
	}
	for _, x := range []struct {
		rate, mean float64
		n          int
	}{{-1, 1, 2}, {1, 0, 2}, {1, -1, 2}, {1, 1, 0}, {nan, 1, 2}, {1, nan, 2}, {1, inf, 2}, {2, 1, 2}} {
		if _, err := Steady(x.rate, x.mean, x.n); err == nil {
			t.Errorf("Steady(%v) was computed", x)
		}
	}
	for _, p := range []float64{0, 1, -0.1, nan} {
		if _, err := OfferedLoad(3, p); err == nil {
			t.Errorf("OfferedLoad(3, %v) was computed", p)
		}
	}
	if _, err := OfferedLoad(0, 0.5); err == nil {
		t.Error("a group without servers was given a load")
	}
	l, err := Steady(0, 5, 2)
	if err != nil || l.Wait != 0 || l.Empty != 1 || l.Stay != 5 {
		t.Errorf("without arrivals: %+v, %v", l, err)
	}
	for _, p := range []float64{1, -0.1, nan} {
		if _, err := l.WaitQuantile(p); err == nil {
			t.Errorf("WaitQuantile(%v) was computed", p)
		}
	}
	if _, err := l.GeneralWait(-1); err == nil {
		t.Error("a negative CV was accepted")
	}
	if _, _, err := Tandem(1, []float64{1}, []int{2, 2}); err == nil {
		t.Error("a tandem with too few times was computed")
	}
	if _, _, err := Tandem(3, []float64{1, 1}, []int{4, 2}); err == nil {
		t.Error("an overloaded tandem was computed")
	}
}

// With more posts than anybody can fill, the number inside is Poisson and p0 is exp(-a) (M/M/infinity, Gross and Harris); one post is free
// for 1 - rho of the time.
func TestEmptyLineWithManyPosts(t *testing.T) {
	for _, c := range []struct {
		posts int
		load  float64
		p0    float64
	}{
		{197, 1.9678955078125, math.Exp(-1.9678955078125)},
		{200, 0.25, math.Exp(-0.25)},
		{10000, 1e-9, math.Exp(-1e-9)},
		{10000, 50, math.Exp(-50)},
		{2000, 700, math.Exp(-700)},
		{1, 0.75, 0.25},
		{1, 1e-300, 1},
	} {
		l, err := Steady(c.load, 1, c.posts)
		if err != nil || !relative(l.Empty, c.p0, 1e-11) {
			t.Errorf("%d posts, %v erlang: p0 %v, %v; want %v", c.posts, c.load, l.Empty, err, c.p0)
		}
	}
}

// More servers lose less and let people wait less; who is lost without a line would wait with one; one post obeys Pollaczek and Khinchine.
func TestLinesHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "posts")
		rho := rapid.Float64Range(0.01, 0.99).Draw(t, "rho")
		mean := rapid.Float64Range(0.1, 30).Draw(t, "mean")
		rate := rho * float64(n) / mean
		l, err := Steady(rate, mean, n)
		if err != nil {
			t.Fatal(err)
		}
		more, err := Steady(rate, mean, n+1)
		if err != nil {
			t.Fatal(err)
		}
		if l.Waits < l.Blocking || more.Wait > l.Wait || more.Blocking > l.Blocking || l.Empty <= 0 || l.Empty > 1 {
			t.Fatalf("%+v, %+v", l, more)
		}
		if !relative(l.Inside, l.InLine+l.Load, 1e-9) {
			t.Fatalf("inside %v, in line %v, load %v", l.Inside, l.InLine, l.Load)
		}
		back, err := OfferedLoad(n, l.Blocking)
		if l.Blocking > 1e-12 && (err != nil || !relative(back, l.Load, 1e-6)) {
			t.Fatalf("the load %v came back as %v, %v", l.Load, back, err)
		}
		one, err := Steady(rho/mean, mean, 1)
		if err != nil {
			t.Fatal(err)
		}
		cv := rapid.Float64Range(0, 3).Draw(t, "cv")
		w, err := one.GeneralWait(cv)
		if pk := rho * mean * (1 + cv*cv) / (2 * (1 - rho)); err != nil || !relative(w, pk, 1e-9) {
			t.Fatalf("wait %v, %v; Pollaczek-Khinchine %v", w, err, pk)
		}
	})
}

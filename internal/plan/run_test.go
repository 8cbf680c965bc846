package plan

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

func source(n uint64) *rand.Rand { return rand.New(rand.NewPCG(n, 2025)) }

// even makes a profile of parts of equal length with these numbers of people.
func even(minutes float64, people ...float64) (Profile, float64) {
	sum := 0.0
	for _, x := range people {
		sum += x
	}
	p := Profile{Name: "test"}
	for _, x := range people {
		p.Parts = append(p.Parts, Part{minutes, x / sum})
	}
	return p, sum
}

func draw(t testing.TB, f Flow, days int, seed uint64) *Days {
	t.Helper()
	d, err := Draw(f, days, source(seed))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func run(t testing.TB, d *Days, posts ...int) Result {
	t.Helper()
	r, err := d.Run(Setup{Posts: posts}, DefaultPromise)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

type engineStage struct {
	MeanWait  float64 `json:"mean_wait"`
	MeanSE    float64 `json:"mean_wait_se"`
	P90       float64 `json:"p90_wait"`
	P90SE     float64 `json:"p90_wait_se"`
	Any       float64 `json:"p_wait"`
	Use       float64 `json:"util_open"`
	UseSE     float64 `json:"util_open_se"`
	ToLast    float64 `json:"util_makespan"`
	ToLastSE  float64 `json:"util_makespan_se"`
	Customers float64 `json:"customers_per_session"`
}

type engine struct {
	Stages  []engineStage
	Total   float64 `json:"total_wait_mean"`
	TotalSE float64 `json:"total_wait_se"`
	Last    float64 `json:"last_leaves_mean"`
	LastSE  float64 `json:"last_leaves_se"`
}

type exactStage struct {
	Customers float64
	MeanWait  float64 `json:"mean_wait"`
	Any       float64 `json:"p_wait"`
	P90       float64 `json:"p90_wait"`
	Use       float64 `json:"util_open"`
	AtClose   float64 `json:"mean_queue_at_close"`
}

type scenario struct {
	Inputs struct {
		Scenario struct {
			Rates  []float64 `json:"arrivals_per_hour_by_block"`
			Block  float64   `json:"block_minutes"`
			Stages []struct {
				Name string
				C    int
				Dist string
				Mean float64
				CV   float64
			}
		}
	}
	Expected struct {
		KW    engine
		Simpy engine
		Exact *exactStage
		First *exactStage `json:"exact_stage1"`
	}
}

var lawOf = map[string]Law{"exp": Exponential, "lognormal": LogNormal, "gamma": Gamma, "det": Fixed}

func (s *scenario) flow() (Flow, []int) {
	in := s.Inputs.Scenario
	p, sum := even(in.Block, in.Rates...)
	f := Flow{Arrivals: Arrivals{Expected: sum * in.Block / 60, Profile: p}}
	var posts []int
	for _, x := range in.Stages {
		f.Stations = append(f.Stations, Station{Key: x.Name, Service: Dist{lawOf[x.Dist], x.Mean, x.CV}})
		posts = append(posts, x.C)
	}
	return f, posts
}

// Three events against two programs written by others and, for the first station, against the exact answer. A value agrees when it lies within
// 4 standard errors, its own and the other's; the error of an exact value is 0.
func TestRunAgainstKnown(t *testing.T) {
	for i, name := range []string{"des_single_stage", "des_peaked", "des_tandem_exp"} {
		var ref scenario
		load(t, name, &ref)
		f, posts := ref.flow()
		r := run(t, draw(t, f, 2500, uint64(i)), posts...)
		agree := func(what string, got Estimate, want, se float64) {
			t.Helper()
			if all := math.Hypot(got.SE, se); !(got.SE > 0) || math.Abs(got.Value-want) > 4*all {
				t.Errorf("%s: %s = %.4f (error %.4f), want %.4f (error %.4f)", name, what, got.Value, got.SE, want, se)
			}
		}
		for _, e := range []engine{ref.Expected.KW, ref.Expected.Simpy} {
			if len(e.Stages) != len(posts) {
				t.Fatalf("%s: %d stages", name, len(e.Stages))
			}
			for k, want := range e.Stages {
				s := r.Stations[k]
				agree("mean wait", s.Waits.Mean, want.MeanWait, want.MeanSE)
				agree("P90", s.Waits.P90, want.P90, want.P90SE)
				agree("use", s.Use, want.Use, want.UseSE)
				agree("use to the last", s.UseToLast, want.ToLast, want.ToLastSE)
				if !near(s.Waits.Count, want.Customers, 1) {
					t.Errorf("%s: %v people a day, want %v", name, s.Waits.Count, want.Customers)
				}
			}
			agree("total wait", r.Total.Mean, e.Total, e.TotalSE)
			agree("last", r.Last, e.Last, e.LastSE)
		}
		exact := ref.Expected.Exact
		if exact == nil {
			exact = ref.Expected.First
		}
		s := r.Stations[0]
		agree("exact mean wait", s.Waits.Mean, exact.MeanWait, 0)
		agree("exact share that waits", s.Waits.Any, exact.Any, 0)
		agree("exact P90", s.Waits.P90, exact.P90, 0)
		agree("exact use", s.Use, exact.Use, 0)
		q := int(ref.Inputs.Scenario.Block) * len(ref.Inputs.Scenario.Rates) / quarter
		if at := r.Quarters[q-1]; !relative(at.Queue[0].Mean, exact.AtClose, 0.15) {
			t.Errorf("%s: %v wait when the doors close, want %v", name, at.Queue[0].Mean, exact.AtClose)
		}
	}
}

// A long run forgets that it began empty: M/M/c, M/G/c and M/D/c against their steady state, within 4 combined standard errors.
func TestLongRunAgainstSteadyState(t *testing.T) {
	var ref struct {
		Inputs struct {
			Rows []struct {
				Lambda float64 `json:"lambda_per_h"`
				Mean   float64 `json:"mean_min"`
				C      int
				Dist   string
				CV     float64
			}
		}
		Expected struct {
			Rows []struct {
				Sim struct {
					Mean  float64 `json:"mean_wait"`
					SE    float64
					P90   float64
					P90SE float64 `json:"p90_se"`
					Any   float64 `json:"p_wait"`
				}
				Approx float64  `json:"allen_cunneen"`
				Exact  *float64 `json:"exact_mdc"`
			}
		}
	}
	load(t, "mgc_approx_f", &ref)
	for i, in := range ref.Inputs.Rows {
		want := ref.Expected.Rows[i]
		const hours = 250
		p, sum := even(hours*60, in.Lambda*hours)
		f := Flow{Arrivals: Arrivals{Expected: sum, Profile: p}, Stations: []Station{{Key: "test", Service: Dist{lawOf[in.Dist], in.Mean, in.CV}}}}
		r := run(t, draw(t, f, 60, uint64(100+i)), in.C)
		w := r.Stations[0].Waits
		check := func(what string, got Estimate, want, se float64) {
			t.Helper()
			if math.Abs(got.Value-want) > 4*math.Hypot(got.SE, se) {
				t.Errorf("%s %s = %v (error %v), want %v (error %v)", in.Dist, what, got.Value, got.SE, want, se)
			}
		}
		check("mean", w.Mean, want.Sim.Mean, want.Sim.SE)
		check("P90", w.P90, want.Sim.P90, want.Sim.P90SE)
		if want.Exact != nil {
			check("exact mean", w.Mean, *want.Exact, 0)
		}
		if !relative(w.Mean.Value, want.Approx, 0.05) {
			t.Errorf("%s: mean %v, approximation %v", in.Dist, w.Mean.Value, want.Approx)
		}
	}
}

// A schedule that can be done by hand: fixed times, three people at known minutes.
func TestWalkByHand(t *testing.T) {
	d := &Days{
		flow:    Flow{Stations: []Station{{Key: "desk"}, {Key: "test", Wipe: 1, Wet: 4}}},
		open:    60,
		first:   []int{0, 4},
		arrive:  []float64{0, 1, 2, 3},
		marks:   []mark{goesOn, goesOn, 0, goesOn},
		service: [][]float64{{5, 5, 5, 5}, {10, 10, 10, 10}},
		counts:  make([]Count, 1),
	}
	for _, x := range []struct {
		name  string
		setup Setup
		total []float64
		leave []float64
	}{
		// One desk: called at 0, 5, 10, 15. One screener: each holds the post for 10 + 1 + 4 minutes.
		{"one each", Setup{Posts: []int{1, 1}}, []float64{0, 4 + 10, 8, 12 + 15}, []float64{15, 30, 15, 45}},
		// A second meter dries while the first one tests: the post is held for 11 minutes alone.
		{"two meters", Setup{Posts: []int{1, 1}, Meters: 2}, []float64{0, 4 + 6, 8, 12 + 7}, []float64{15, 26, 15, 37}},
		// Two screeners with one meter between them are held by the meter.
		{"one meter", Setup{Posts: []int{1, 2}, Meters: 1}, []float64{0, 4 + 10, 8, 12 + 15}, []float64{15, 30, 15, 45}},
		{"two of all", Setup{Posts: []int{2, 2}}, []float64{0, 0, 3, 3 + 8 + 1}, []float64{15, 16, 10, 30}},
		{"no lines", Setup{Posts: []int{ample, ample}}, []float64{0, 0, 0, 0}, []float64{15, 16, 7, 18}},
	} {
		var s scratch
		d.walk(&s, 0, x.setup, true)
		if !slices.Equal(s.total, x.total) || !slices.Equal(s.at, x.leave) {
			t.Errorf("%s: waits %v, leaves %v; want %v, %v", x.name, s.total, s.at, x.total, x.leave)
		}
	}
}

// Days by hand, ten of one kind and thirty of another, one post that takes 20 minutes. On the first kind four come at 0, 1, 2 and 29: they wait 0,
// 19, 38 and 31 minutes; on the second one comes at 15. At minute 15 two wait, at 30 one of them and the last, at 45 only the last, at 60
// nobody.
func TestRunByHand(t *testing.T) {
	d := &Days{flow: Flow{Stations: []Station{{Key: "test", Service: Dist{Fixed, 20, 0}}}}, open: 60, first: []int{0}, service: [][]float64{nil}, counts: make([]Count, 40)}
	for i := range 40 {
		times := []float64{15}
		if i%4 == 0 {
			times = []float64{0, 1, 2, 29}
		}
		for _, at := range times {
			d.arrive, d.marks, d.service[0] = append(d.arrive, at), append(d.marks, goesOn), append(d.service[0], 20)
		}
		d.first = append(d.first, len(d.arrive))
	}
	r, err := d.Run(Setup{Posts: []int{1}}, Promise{0.8, 35})
	if err != nil {
		t.Fatal(err)
	}
	w := r.Total
	if !near(w.Mean.Value, 88.0/7, 1e-12) || w.P50.Value != 0 || w.P90.Value != 38 || !near(w.Over.Value, 1.0/7, 1e-12) || !near(w.Any.Value, 3.0/7, 1e-12) || w.Count != 1.75 {
		t.Errorf("waits %+v", w)
	}
	if r.Kept.Value != 0.75 || r.Someone.Value != 0.25 || !near(r.Kept.SE, math.Sqrt(0.75*0.25/39), 1e-12) {
		t.Errorf("kept %+v, someone %+v", r.Kept, r.Someone)
	}
	// Busy for 60 of 60 minutes and for 20 of 60; to the last for 80 of 80 and for 20 of 35.
	if s := r.Stations[0]; !near(s.Use.Value, 0.5, 1e-12) || !near(s.UseToLast.Value, 0.25+0.75*20/35, 1e-12) || !near(r.Last.Value, 0.25*80+0.75*35, 1e-12) || r.LastP90.Value != 80 {
		t.Errorf("%+v, last %+v", s, r.Last)
	}
	var queue []int
	for _, q := range r.Quarters[:5] {
		queue = append(queue, q.Queue[0].High)
		if q.Queue[0].Low != 0 || q.Queue[0].Mean != float64(q.Queue[0].High)/4 || !near(q.Capacity[0], 0.75, 1e-12) {
			t.Errorf("%+v", q)
		}
	}
	if !slices.Equal(queue, []int{2, 2, 1, 0, 0}) {
		t.Errorf("queue %v", queue)
	}
	if a := r.Quarters[0].Arrivals; a.Mean != 0.75 || a.High != 3 || r.Quarters[1].Arrivals.Mean != 1 || r.Quarters[2].Arrivals.Mean != 0 {
		t.Errorf("arrivals %+v", r.Quarters[:3])
	}
}

// The errors that are stated are those that many runs show: the standard deviation over runs is within a third of the mean stated error.
func TestErrorsAreTrue(t *testing.T) {
	f := three(40, 60, 2, 3, 1)
	const runs = 50
	shown, stated := make([][]float64, 5), make([]float64, 5)
	for i := range runs {
		r := run(t, draw(t, f, 100, uint64(1000+i)), 1, 3, 2)
		for k, e := range []Estimate{r.Total.Mean, r.Total.P90, r.Total.Over, r.Kept, r.Stations[0].Use} {
			shown[k] = append(shown[k], e.Value)
			stated[k] += e.SE / runs
		}
	}
	for k, xs := range shown {
		if _, sd := stat.MeanStdDev(xs, nil); !relative(stated[k], sd, 1.0/3) {
			t.Errorf("value %d: stated error %v, shown %v", k, stated[k], sd)
		}
	}
}

// The earliest of few and of many times is found.
func TestReplaceFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		times, sorted, now := make([]float64, n), make([]float64, n), 0.0
		for _, by := range rapid.SliceOfN(rapid.Float64Range(0, 10), 1, 200).Draw(t, "by") {
			if times[0] != sorted[0] {
				t.Fatalf("%v is first of %v", times[0], sorted)
			}
			now = times[0] + by
			replaceFirst(times, now)
			sorted[0] = now
			slices.Sort(sorted)
		}
	})
}

// fair draws a flow of any shape.
func fair(t *rapid.T) Flow {
	p := Profile{Name: "test"}
	n, sum := rapid.IntRange(1, 5).Draw(t, "parts"), 0.0
	for range n {
		p.Parts = append(p.Parts, Part{rapid.Float64Range(20, 90).Draw(t, "minutes"), rapid.Float64Range(0.1, 1).Draw(t, "share")})
		sum += p.Parts[len(p.Parts)-1].Share
	}
	for i := range p.Parts {
		p.Parts[i].Share /= sum
	}
	f := Flow{
		Arrivals: Arrivals{Expected: rapid.Float64Range(2, 60).Draw(t, "expected"), Profile: p, Scatter: rapid.Float64Range(0, 0.5).Draw(t, "scatter")},
		Funnel:   Funnel{Leaves: rapid.Float64Range(0, 0.2).Draw(t, "leaves"), Repeats: rapid.Float64Range(0, 0.2).Draw(t, "repeats"), Referred: rapid.Float64Range(0, 0.5).Draw(t, "referred")},
	}
	for range rapid.IntRange(1, 3).Draw(t, "stations") {
		s := Station{
			Key:     "station",
			Service: Dist{rapid.SampledFrom(Laws).Draw(t, "law"), rapid.Float64Range(1, 12).Draw(t, "mean"), rapid.Float64Range(0, 1.5).Draw(t, "cv")},
		}
		if rapid.Bool().Draw(t, "wipes") {
			s.Wipe, s.Wet = rapid.Float64Range(0, 2).Draw(t, "wipe"), rapid.Float64Range(0, 4).Draw(t, "wet")
		}
		f.Stations = append(f.Stations, s)
	}
	return f
}

// With the same people, one post more at a station, or one meter more, never lets anybody wait longer there, and the last station's wait is
// the only one that a post there changes. Across stations it may: people leave the first one sooner and in another order, so that somebody meets a
// fuller line at the next. That is why nothing is said here about the total of an inner station.
func TestMorePostsNeverLengthenTheirLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := fair(t)
		d, err := Draw(f, 40, source(rapid.Uint64().Draw(t, "seed")))
		if err != nil {
			t.Fatal(err)
		}
		setup := Setup{Meters: rapid.IntRange(1, 6).Draw(t, "meters")}
		for range f.Stations {
			setup.Posts = append(setup.Posts, rapid.IntRange(1, 4).Draw(t, "posts"))
		}
		k := rapid.IntRange(0, len(f.Stations)-1).Draw(t, "station")
		more := Setup{slices.Clone(setup.Posts), setup.Meters}
		if rapid.Bool().Draw(t, "a meter") {
			more.Meters++
			k = 0
		} else {
			more.Posts[k]++
		}
		var a, b scratch
		for day := range d.counts {
			d.walk(&a, day, setup, true)
			d.walk(&b, day, more, true)
			for i := range a.seen[k].start {
				before, after := a.seen[k].start[i], b.seen[k].start[i]
				if after > before+1e-9 {
					t.Fatalf("day %d, person %d: called at %v, with more at %v", day, i, before, after)
				}
			}
			if k == len(f.Stations)-1 && more.Meters == setup.Meters {
				for i := range a.total {
					if b.total[i] > a.total[i]+1e-9 {
						t.Fatalf("day %d, person %d: waits %v, with one more at the last station %v", day, i, a.total[i], b.total[i])
					}
				}
			}
		}
	})
}

// Nobody is lost: who comes leaves, nobody is called before coming, and no more people are served at once than there are posts.
func TestWalkHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := fair(t)
		d, err := Draw(f, 40, source(rapid.Uint64().Draw(t, "seed")))
		if err != nil {
			t.Fatal(err)
		}
		setup := Setup{}
		for range f.Stations {
			setup.Posts = append(setup.Posts, rapid.IntRange(1, 4).Draw(t, "posts"))
		}
		r, err := d.Run(setup, DefaultPromise)
		if err != nil {
			t.Fatal(err)
		}
		var s scratch
		came, tested := 0.0, 0.0
		for day := range d.counts {
			d.walk(&s, day, setup, true)
			if len(s.at) != d.counts[day].Came {
				t.Fatalf("%d leave, %d came", len(s.at), d.counts[day].Came)
			}
			came += float64(d.counts[day].Came)
			tested += float64(d.counts[day].Tested)
			for k := range f.Stations {
				for i, start := range s.seen[k].start {
					if start < s.seen[k].came[i] {
						t.Fatalf("person %d is called at %v but comes at %v", i, start, s.seen[k].came[i])
					}
					busy := 0
					for j, other := range s.seen[k].start {
						if other <= start && start < other+d.service[k][d.first[day]+j] {
							busy++
						}
					}
					if busy > setup.Posts[k] {
						t.Fatalf("%d are served at once by %d posts", busy, setup.Posts[k])
					}
				}
			}
		}
		if !relative(d.Mean().Came, came/40, 1e-12) || !relative(r.Total.Count, tested/40, 1e-12) && tested > 0 {
			t.Fatalf("%v and %v people a day, want %v and %v", d.Mean().Came, r.Total.Count, came/40, tested/40)
		}
		if r.Total.P50.Value > r.Total.P90.Value || r.Kept.Value < 0 || r.Kept.Value > 1 || r.Stations[0].Use.Value > 1+1e-9 {
			t.Fatalf("%+v", r)
		}
	})
}

// The waits that are pooled have the quantile that sorting gives.
func TestQuantile(t *testing.T) {
	if got := quantile([]float64{5, 1, 4, 2, 3, 9, 8, 7, 6, 10}, 0.9); got != 9 {
		t.Errorf("the ninth of ten is %v", got)
	}
	if got := quantile(nil, 0.9); got != 0 {
		t.Errorf("a quantile of nothing is %v", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Float64Range(0, 20), 1, 200).Draw(t, "xs")
		if rapid.Bool().Draw(t, "ties") {
			for i := range xs {
				xs[i] = math.Floor(xs[i])
			}
		}
		sorted := slices.Sorted(slices.Values(xs))
		p := rapid.Float64Range(0, 1).Draw(t, "p")
		q := rapid.Float64Range(p, 1).Draw(t, "q")
		low, high := quantile(slices.Clone(xs), p), quantile(slices.Clone(xs), q)
		if low > high || low != sorted[rank(p, len(xs))] || high != sorted[rank(q, len(xs))] {
			t.Fatalf("%v of %v is %v, %v is %v", p, sorted, low, q, high)
		}
	})
}

// simPyRow is a fair that SimPy has simulated, with what came of it.
type simPyRow struct {
	Scenario struct {
		Name                                  string
		Hours                                 []float64
		Scatter                               float64
		Posts                                 []int
		Meters                                int
		Desk, Test, Repeat, Explain, Referral [2]float64 // mean, CV
		Wipe, Wet, Ends, Repeats, Referred    float64
	}
	Tested, Mean, P90, Last float64
	MeanSE                  float64 `json:"mean_se"`
	P90SE                   float64 `json:"p90_se"`
	LastSE                  float64 `json:"last_se"`
}

func (r simPyRow) flow() (Flow, Setup) {
	s := r.Scenario
	spread := func(l [2]float64) Dist { return Dist{LogNormal, l[0], l[1]} }
	p, sum := even(60, s.Hours...)
	return Flow{
		Arrivals: Arrivals{sum, p, s.Scatter},
		Funnel:   Funnel{Leaves: s.Ends, Repeats: s.Repeats, Referred: s.Referred},
		Stations: []Station{
			{Key: Desk, Service: spread(s.Desk)},
			{Key: Test, Service: spread(s.Test), Repeat: spread(s.Repeat), Wipe: s.Wipe, Wet: s.Wet},
			{Key: Explain, Service: spread(s.Explain), Referred: spread(s.Referral)},
		},
	}, Setup{s.Posts, s.Meters}
}

func simPyRows(t testing.TB) []simPyRow {
	t.Helper()
	var ref struct{ Rows []simPyRow }
	load(t, "own_simpy", &ref)
	if len(ref.Rows) < 3 {
		t.Fatalf("%d rows", len(ref.Rows))
	}
	return ref.Rows
}

// Three whole fairs, with meters that are shared, wiped and wet, against a program that we did not write (testdata/regenerate.py), within 4
// combined standard errors.
func TestRunAgainstSimPy(t *testing.T) {
	for i, row := range simPyRows(t) {
		s := row.Scenario
		f, setup := row.flow()
		r, err := draw(t, f, 1500, uint64(50+i)).Run(setup, DefaultPromise)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			what string
			got  Estimate
			want Estimate
		}{
			{"mean wait", r.Total.Mean, Estimate{row.Mean, row.MeanSE}},
			{"P90", r.Total.P90, Estimate{row.P90, row.P90SE}},
			{"last", r.Last, Estimate{row.Last, row.LastSE}},
		} {
			if math.Abs(x.got.Value-x.want.Value) > 4*math.Hypot(x.got.SE, x.want.SE) {
				t.Errorf("%s: %s = %.3f (error %.3f), SimPy %.3f (error %.3f)", s.Name, x.what, x.got.Value, x.got.SE, x.want.Value, x.want.SE)
			}
		}
		t.Logf("%s: mean %.3f (%.3f), SimPy %.3f (%.3f)", s.Name, r.Total.Mean.Value, r.Total.Mean.SE, row.Mean, row.MeanSE)
		if !relative(r.Total.Count, row.Tested, 0.03) {
			t.Errorf("%s: %v tested, SimPy %v", s.Name, r.Total.Count, row.Tested)
		}
	}
}

package plan

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// three makes a small fair with the default times.
func three(expected float64, minutes float64, shares ...float64) Flow {
	p, _ := even(minutes, shares...)
	f := Defaults(50, Hours{540, 780}).Flow()
	f.Arrivals = Arrivals{expected, p, 0.1}
	return f
}

func searchFor(minutes float64, fixed ...int) Search {
	return Search{
		Promise: Promise{0.9, minutes}, Sure: 0.9, Fixed: fixed, Cost: []float64{1, 1, 1}, Watched: []bool{false, true, true},
		Supervision: DefaultSupervision, SupervisorCost: 1,
	}
}

// The search finds what trying all finds, and looks at far fewer setups.
func TestCheapestIsThatOfTryingAll(t *testing.T) {
	const most = 6
	looked, all := 0, 0
	for i, f := range []Flow{
		three(30, 60, 1, 1, 1),
		three(30, 60, 3, 1),
		three(45, 60, 30, 35, 22, 13),
		three(60, 90, 1, 2, 1),
		three(20, 60, 1),
		three(36, 120, 2, 1),
	} {
		d := draw(t, f, 60, uint64(i))
		for _, s := range []Search{searchFor(20, 0, 0, 0), searchFor(8, 0, 0, 0), searchFor(20, 2, 0, 0), searchFor(30, 0, 5, 0)} {
			if i%2 == 1 {
				s.Cost = []float64{1, 2.5, 1.5}
				s.SupervisorCost = 4
			}
			best, found := Choice{}, false
			for n := range most * most * most {
				posts := []int{1 + n/most/most, 1 + n/most%most, 1 + n%most}
				if slices.ContainsFunc([]int{0, 1, 2}, func(k int) bool { return s.Fixed[k] > 0 && s.Fixed[k] != posts[k] }) {
					continue
				}
				all++
				b, err := d.Look(Setup{Posts: posts}, s.Promise)
				if err != nil {
					t.Fatal(err)
				}
				if c := s.cost(posts); b.Confidence(s.Promise) >= s.Sure && (!found || c < best.Cost || c == best.Cost && b.Mean.Value < best.Brief.Mean.Value) {
					best, found = Choice{Posts: posts, Brief: b, Cost: c}, true
				}
			}
			c, ok, err := d.Cheapest(s)
			if err != nil {
				t.Fatal(err)
			}
			looked += c.Looked
			if ok != found || found && (!slices.Equal(c.Posts, best.Posts) || c.Cost != best.Cost || c.Brief != best.Brief) {
				t.Errorf("fair %d, %v minutes, fixed %v: found %v %v, trying all %v %v", i, s.Promise.Minutes, s.Fixed, ok, c, found, best)
			}
			if ok && c.Confidence < s.Sure {
				t.Errorf("chosen with a confidence of %v", c.Confidence)
			}
		}
	}
	if looked*5 > all {
		t.Errorf("the search looked at %d setups, trying all at %d", looked, all)
	}
}

func TestCheapestRefusesAndGivesUp(t *testing.T) {
	d := draw(t, three(60, 60, 1, 1), 40, 1)
	c, found, err := d.Cheapest(searchFor(5, 1, 0, 0))
	if err != nil || found || c.Posts != nil {
		t.Errorf("one at the desk for 60 people in two hours keeps 5 minutes: %+v, %v, %v", c, found, err)
	}
	s := searchFor(5, 0, 0, 0)
	s.Meters = 1
	if c, found, err = d.Cheapest(s); err != nil || found {
		t.Errorf("one meter keeps 5 minutes: %+v, %v", c, err)
	}
	for _, change := range []func(*Search){
		func(s *Search) { s.Fixed = []int{1} },
		func(s *Search) { s.Fixed = []int{-1, 0, 0} },
		func(s *Search) { s.Cost = []float64{1, 0, 1} },
		func(s *Search) { s.SupervisorCost = -1 },
		func(s *Search) { s.Meters = -1 },
		func(s *Search) { s.Sure = 1 },
		func(s *Search) { s.Sure = 0.2 },
		func(s *Search) { s.Promise.Minutes = 0 },
		func(s *Search) { s.Promise.Share = 1 },
		func(s *Search) { s.Supervision = Supervision{4, 2} },
	} {
		s := searchFor(20, 0, 0, 0)
		change(&s)
		if _, _, err := d.Cheapest(s); err == nil {
			t.Errorf("%+v was searched for", s)
		}
	}
	for _, setup := range []Setup{{Posts: []int{1, 1}}, {Posts: []int{1, 0, 1}}, {Posts: []int{1, 501, 1}}, {Posts: []int{1, 1, 1}, Meters: -1}} {
		if _, err := d.Run(setup, DefaultPromise); err == nil {
			t.Errorf("%+v was run", setup)
		}
		if _, err := d.Look(setup, DefaultPromise); err == nil {
			t.Errorf("%+v was looked at", setup)
		}
	}
	if _, err := d.Run(Setup{Posts: []int{1, 1, 1}}, Promise{0.9, math.NaN()}); err == nil {
		t.Error("a promise of no minutes was run")
	}
}

// What Look says is what Run says.
func TestLookIsRun(t *testing.T) {
	d := draw(t, three(50, 60, 2, 3, 1), 100, 3)
	r := run(t, d, 2, 3, 2)
	b, err := d.Look(Setup{Posts: []int{2, 3, 2}}, DefaultPromise)
	if err != nil || b.Mean != r.Total.Mean || b.P90 != r.Total.P90.Value || !near(b.Within.Value, 1-r.Total.Over.Value, 1e-12) {
		t.Errorf("%+v, %v; Run %+v", b, err, r.Total)
	}
}

func TestSupervision(t *testing.T) {
	for people, want := range map[int][2]int{0: {0, 0}, 1: {1, 1}, 7: {4, 2}, 8: {4, 2}, 9: {5, 3}} {
		if wanted, least := DefaultSupervision.Need(people); wanted != want[0] || least != want[1] {
			t.Errorf("%d people need %d and %d supervisors, want %v", people, wanted, least, want)
		}
	}
}

// With 15 % who stay away 9 posts need 11 by the rule. The chance is binomial, by hand for 2 posts: of 3 at least 2 come with 3 x 0.85² x 0.15 +
// 0.85³ = 0.93925, of 4 with 1 - 0.15^4 - 4 x 0.85 x 0.15³ = 0.98801875.
func TestRoster(t *testing.T) {
	r, err := NewRoster(2, 0.15, 0.95)
	if err != nil || r.Ask != 3 || !near(r.Chance, 0.93925, 1e-12) || r.Sure != 4 {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = NewRoster(9, 0.15, 0.95); err != nil || r.Ask != 11 {
		t.Errorf("%+v, %v", r, err)
	}
	if r, err = NewRoster(1, 0.15, 0.5); err != nil || r.Ask != 2 || r.Sure != 1 {
		t.Errorf("%+v, %v: at least one spare", r, err)
	}
	if r, err = NewRoster(4, 0, 0.95); err != nil || r.Ask != 4 || r.Sure != 4 || r.Chance != 1 {
		t.Errorf("%+v, %v", r, err)
	}
	for _, x := range [][3]float64{{-1, 0.1, 0.9}, {3, -0.1, 0.9}, {3, 1, 0.9}, {3, math.NaN(), 0.9}, {3, 0.1, 1}, {3, 0.1, 0}} {
		if _, err := NewRoster(int(x[0]), x[1], x[2]); err == nil {
			t.Errorf("%v was rostered", x)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		posts, noShow := rapid.IntRange(0, 60).Draw(t, "posts"), rapid.Float64Range(0, 0.6).Draw(t, "no-show")
		r, err := NewRoster(posts, noShow, 0.95)
		if err != nil || r.Ask < posts || r.Sure < posts {
			t.Fatalf("%+v, %v", r, err)
		}
		if (r.Chance >= 0.95) != (r.Ask >= r.Sure) {
			t.Fatalf("%d are asked with a chance of %v, %d are sure", r.Ask, r.Chance, r.Sure)
		}
	})
}

func TestBottleneckInWords(t *testing.T) {
	brief := func(mean, p90 float64) Brief { return Brief{Mean: Estimate{Value: mean}, P90: p90} }
	less := func(mean, p90 float64) *Brief { b := brief(mean, p90); return &b }
	r := Result{
		Total:    Waits{Mean: Estimate{Value: 8}, P90: Estimate{Value: 18}},
		Stations: []StationResult{{Use: Estimate{Value: 0.6}}, {Use: Estimate{Value: 0.7}, MeterUse: Estimate{Value: 0.9}}, {Use: Estimate{Value: 0.8}}},
	}
	b := FindBottleneck(r, []Change{
		{Desk, 2, brief(7.5, 17), less(40, 130)},
		{Test, 4, brief(7, 15), less(15, 41)},
		{Explain, 3, brief(5, 11), less(12, 32)},
	}, StationName)
	if b.Station != Explain || b.Busiest != Test || b.Fragile != Desk || !b.Hidden || b.Saves != 3 || b.Costs != 112 {
		t.Errorf("%+v", b)
	}
	const want = "The bottleneck is the explanation: one person more there would take the wait that 9 of 10 do not pass from 18 to 11 minutes. " +
		"It does not look so: the test is busier. Losing one hurts most at the desk: 130 minutes."
	if b.String() != want {
		t.Errorf("%s", b)
	}
	// With one more of what a meter is taken from, the test: nothing but the meters is to blame.
	b = FindBottleneck(r, []Change{{Desk, 1, brief(8, 18), nil}, {Test, 4, brief(8, 18), less(8, 18)}, {Explain, 1, brief(7.9, 18), nil}, {Meters, 3, brief(2, 6), less(60, 99)}}, StationName)
	if b.Station != Meters || b.Hidden || b.String() != "The bottleneck is the number of meters: one more would take the wait that 9 of 10 do not pass from 18 to 6 minutes, one fewer to 99." {
		t.Errorf("%+v", b)
	}
	b = FindBottleneck(r, []Change{{Desk, 1, brief(7.9, 17.5), nil}, {Test, 4, brief(8, 18), less(9, 24)}, {Explain, 1, brief(8, 18), nil}}, StationName)
	if b.Station != "" || b.Hidden || !strings.HasSuffix(b.String(), "Losing one hurts most at the test: 9 of 10 would wait up to 24 minutes instead of 18.") {
		t.Errorf("%+v", b)
	}
	b = FindBottleneck(r, []Change{{Desk, 1, brief(7.5, 17), nil}, {Test, 4, brief(5, 11), less(15, 41)}, {Explain, 1, brief(7, 15), nil}}, StationName)
	if b.Hidden || !strings.HasSuffix(b.String(), "from 18 to 11 minutes, one fewer to 41.") {
		t.Errorf("%+v", b)
	}
}

package plan

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"fairstick/internal/fault"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var fourHours = Hours{9 * 60, 13 * 60}

func plans(t testing.TB, expected int, profile string, change func(*Input)) Plan {
	t.Helper()
	in := Defaults(expected, fourHours)
	var err error
	if in.Profile, err = ParseProfile(profile, fourHours); err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(&in)
	}
	p, err := Make(in, source(1))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func line(t testing.TB, s Supplies, item string) Supply {
	t.Helper()
	i := slices.IndexFunc(s.Lines, func(l Supply) bool { return l.Item == item })
	if i < 0 {
		t.Fatalf("no line %s", item)
	}
	return s.Lines[i]
}

// The invented day: 90 expected, 84 came by 25, 30, 19, 10, four test posts; 68 tested, 79 strips on people and 19 for controls, 79 lancets, the last
// one left 14 minutes after closing.
func TestLarkfield(t *testing.T) {
	p := plans(t, 90, "25,30,19,10", func(in *Input) { in.Store.Controls.LotChanges = 1 })
	if p.Posts[1] != 4 || p.Posts[2] != 3 || p.Posts[0] < 2 || p.Posts[0] > 3 || !p.Kept {
		t.Errorf("posts %v, kept %v", p.Posts, p.Kept)
	}
	if p.Supervisors != 4 || p.Least != 2 {
		t.Errorf("%d and %d supervisors", p.Supervisors, p.Least)
	}
	if last := p.Result.Last.Value - 240; last < 5 || last > 25 {
		t.Errorf("the last one leaves %v minutes after closing", last)
	}
	for item, used := range map[string]int{"strips": 98, "lancets": 79, "slips": 68, "forms": 84, "sharps": 2, "meters": 5} {
		if l := line(t, p.Supplies, item); l.Packs*l.Pack < used || l.Packs*l.Pack > 3*used {
			t.Errorf("%s: %d packs of %d are packed, %d were used", item, l.Packs, l.Pack, used)
		}
	}
	// The day as it was staffed, with exactly as many people as came and are counted there.
	day := plans(t, 84, "25,30,19,10", func(in *Input) {
		in.Posts, in.Scatter = [3]int{2, 4, 3}, 0
		in.Funnel = Funnel{Leaves: 3.0 / 84, NotEligible: 11.0 / 84, Declines: 2.0 / 84, Repeats: 6.0 / 68, Errors: 5.0 / 68, Referred: 16.0 / 68}
	})
	if m := day.Result.Total; m.Mean.Value < 2 || m.Mean.Value > 10 || m.P90.Value < 8 || m.P90.Value > 25 || !(m.P90.SE > 0 && m.P90.SE < 2) {
		t.Errorf("waits %+v", m)
	}
	if !near(day.People.Tested, 68, 1) || !near(day.People.Referred, 16, 0.6) || !near(day.People.Came, 84, 1) {
		t.Errorf("people %+v", day.People)
	}
}

// Our own reference table of an earlier simulation: expected to be tested, then posts at the desk, the test and the explanation. A
// promise of 20 minutes, arrivals 30/35/22/13, everybody tested. One post at a station may differ: there the turnout was a fixed number.
func TestPostsAreInTheNeighbourhood(t *testing.T) {
	for _, x := range [][4]int{{25, 1, 2, 1}, {40, 1, 2, 2}, {60, 2, 3, 2}, {75, 2, 4, 3}, {90, 2, 4, 3}, {100, 2, 5, 3}, {125, 3, 6, 4}, {150, 3, 7, 4}} {
		p := plans(t, x[0], "front", func(in *Input) {
			in.Scatter, in.Funnel = 0, Funnel{Referred: 0.15}
			in.Days = 200
		})
		for k := range p.Posts {
			if d := p.Posts[k] - x[k+1]; d < -1 || d > 1 {
				t.Errorf("%d people: posts %v, want about %v", x[0], p.Posts, x[1:])
			}
		}
		if sum := p.Posts[0] + p.Posts[1] + p.Posts[2]; math.Abs(float64(sum-x[1]-x[2]-x[3])) > 2 {
			t.Errorf("%d people: posts %v, want about %v", x[0], p.Posts, x[1:])
		}
	}
}

func TestPlanIsTheSameForASeed(t *testing.T) {
	a, b := plans(t, 60, "lunch", nil), plans(t, 60, "lunch", nil)
	if fmt.Sprintf("%+v", a.Result) != fmt.Sprintf("%+v", b.Result) || fmt.Sprintf("%+v", a.Supplies.Strips) != fmt.Sprintf("%+v", b.Supplies.Strips) {
		t.Error("the same source gave two plans")
	}
}

// A plan that cannot keep its promise says so, and what would.
func TestPlanThatCannot(t *testing.T) {
	p := plans(t, 90, "front", func(in *Input) { in.Posts = [3]int{1, 0, 0} })
	if p.Kept || p.Would == nil || p.Would.Posts[0] < 2 || p.Confidence > 0.01 {
		t.Errorf("kept %v with %v, would %+v", p.Kept, p.Posts, p.Would)
	}
	if p.Longer <= 20 || float64(p.Longer) < p.Result.Total.P90.Value {
		t.Errorf("could promise %d minutes, and 9 of 10 wait up to %v", p.Longer, p.Result.Total.P90.Value)
	}
	longer := plans(t, 90, "front", func(in *Input) { in.Posts, in.Promise.Minutes = p.Posts, float64(p.Longer) })
	if !longer.Kept || longer.Longer != 0 {
		t.Errorf("%d minutes are not kept with %v: %v", p.Longer, p.Posts, longer.Confidence)
	}
	p = plans(t, 90, "front", func(in *Input) { in.Meters = 2 })
	if p.Kept || p.Would == nil {
		t.Errorf("two meters for 90 people: kept %v, would %+v", p.Kept, p.Would)
	}
	if last := p.Changes[len(p.Changes)-1]; p.Bottleneck.Station != Meters || last.Posts != 2 || !(last.More.P90 < p.Result.Total.P90.Value) || !(last.Fewer.P90 > p.Result.Total.P90.Value) {
		t.Errorf("two meters for 90 people: %s, %+v", p.Bottleneck, p.Changes)
	}
	// With two meters for each of its screeners a station waits for no contact time.
	one := plans(t, 90, "front", func(in *Input) { in.Posts, in.Scatter = [3]int{3, 3, 3}, 0 })
	two := plans(t, 90, "front", func(in *Input) { in.Posts, in.Scatter, in.Meters = [3]int{3, 3, 3}, 0, 6 })
	if !(two.Result.Total.Mean.Value < 0.7*one.Result.Total.Mean.Value) {
		t.Errorf("with 3 meters the mean wait is %v, with 6 %v", one.Result.Total.Mean.Value, two.Result.Total.Mean.Value)
	}
}

func TestInputRefuses(t *testing.T) {
	for key, change := range map[string]func(*Input){
		"plan-expected":    func(in *Input) { in.Expected = 0 },
		"plan-expected ":   func(in *Input) { in.Expected = 1_000_000 },
		"plan-hours":       func(in *Input) { in.Hours = Hours{780, 540} },
		"plan-no-show":     func(in *Input) { in.NoShow = 1 },
		"plan-sure":        func(in *Input) { in.Sure = 0.999 },
		"plan-wait":        func(in *Input) { in.Promise.Minutes = -3 },
		"plan-scatter":     func(in *Input) { in.Scatter = -0.1 },
		"plan-funnel":      func(in *Input) { in.Funnel.Leaves = 0.9 },
		"plan-funnel ":     func(in *Input) { in.Funnel.Referred = 4 },
		"plan-minutes":     func(in *Input) { in.Times.Test.Mean = -2 },
		"plan-minutes ":    func(in *Input) { in.Times.Wet = -2 },
		"plan-minutes  ":   func(in *Input) { in.Times.Desk = Dist{} },
		"plan-minutes   ":  func(in *Input) { in.Times.Explain.CV = math.NaN() },
		"plan-law":         func(in *Input) { in.Times.Desk.Law = "triangle" },
		"plan-profile":     func(in *Input) { in.Profile.Parts = nil },
		"plan-days":        func(in *Input) { in.Days = 10 },
		"plan-days ":       func(in *Input) { in.Days = 1_000_000 },
		"plan-supervisors": func(in *Input) { in.Supervision = Supervision{} },
		"plan-controls":    func(in *Input) { in.Store.Controls.Levels = -1 },
		"plan-gloves":      func(in *Input) { in.Store.Gloves = []GloveSize{{"S", 0}} },
		"plan-language":    func(in *Input) { in.Store.Languages = []Language{{"es", 0.4}} },
		"plan-packs":       func(in *Input) { in.Store.Packs = map[string]Pack{"strips": {50, -1}} },
		"plan-item":        func(in *Input) { in.Store.Packs = map[string]Pack{"balloons": {50, 1}} },
		"plan-store":       func(in *Input) { in.Store.SharpsHold = 0 },
		"plan-lot":         func(in *Input) { in.Store.Strips.Lots = []Lot{{ID: "A"}, {ID: "A"}} },
		"plan-posts":       func(in *Input) { in.Posts = [3]int{0, -1, 0} },
		"plan-meters":      func(in *Input) { in.Meters = -1 },
	} {
		in := Defaults(40, fourHours)
		in.Days = 40
		change(&in)
		if _, err := Make(in, source(1)); !fault.Is(err, trim(key)) {
			t.Errorf("%s: %v", key, err)
		}
	}
}

// trim takes the blanks off that keep several cases of one key apart.
func trim(key string) string {
	for key != "" && key[len(key)-1] == ' ' {
		key = key[:len(key)-1]
	}
	return key
}

func TestHoursAndProfiles(t *testing.T) {
	for text, want := range map[string]Hours{"09:00-13:00": {540, 780}, "9:30 - 14:15": {570, 855}, "08:00-24:00": {480, 1440}} {
		if h, err := ParseHours(text); err != nil || h != want {
			t.Errorf("%q is %+v, %v", text, h, err)
		}
	}
	for _, text := range []string{"", "9-13", "09:00", "13:00-09:00", "09:00-09:00", "09:00-09:10", "25:00-26:00", "09:60-13:00", "24:30-25:00", "a:00-b:00", "09:0-13:00", "-1:00-13:00", "00:00-23:00"} {
		if h, err := ParseHours(text); err == nil {
			t.Errorf("%q was read as %+v", text, h)
		}
	}
	own, err := ParseProfile("25, 30,19,10", fourHours)
	if err != nil || len(own.Parts) != 4 || !near(own.Parts[1].Share, 30.0/84, 1e-12) || !near(own.Peak(), 30.0/84, 1e-12) {
		t.Errorf("%+v, %v", own, err)
	}
	half, err := ParseProfile("10,20,30", Hours{540, 540 + 150})
	if err != nil || half.Parts[2].Minutes != 30 || !near(half.Minutes(), 150, 0) {
		t.Errorf("%+v, %v: the last number is for the half hour", half, err)
	}
	noon, err := ParseProfile("lunch", fourHours) // 150 minutes at one pace, 90 at two and a half times
	if err != nil || !near(noon.Parts[0].Share, 150.0/375, 1e-12) || !near(noon.Peak(), 150.0/375, 1e-12) {
		t.Errorf("%+v, %v", noon, err)
	}
	front, err := ParseProfile("front", Hours{600, 720})
	if err != nil || !near(front.Between(0, 60), 0.65, 1e-12) || !near(front.Between(15, 45), 0.325, 1e-12) || !near(front.Peak(), 0.65, 1e-12) {
		t.Errorf("%+v, %v", front, err)
	}
	for _, text := range []string{"", "evening", "1,2,3", "1,2,3,4,5", "0,0,0,0", "1,-2,3,4", "1,x,3,4", "1,,3,4", "NaN,1,1,1", "Inf,1,1,1", "1e308,1e308,1,1"} {
		if p, err := ParseProfile(text, fourHours); err == nil {
			t.Errorf("%q was read as %+v", text, p)
		}
	}
	if _, err := ParseProfile("lunch", Hours{8 * 60, 11 * 60}); err == nil {
		t.Error("a morning has a lunch break")
	}
	rapid.Check(t, func(t *rapid.T) {
		open := rapid.IntRange(0, 1000).Draw(t, "open")
		h := Hours{open, open + rapid.IntRange(30, 400).Draw(t, "minutes")}
		for _, name := range []string{"flat", "front", "lunch"} {
			p, err := ParseProfile(name, h)
			if err != nil {
				continue // no lunch in these hours
			}
			if err := p.check(); err != nil || !near(p.Minutes(), float64(h.Minutes()), 1e-9) || !near(p.Between(0, p.Minutes()), 1, 1e-9) || p.Peak() > 1+1e-9 {
				t.Fatalf("%s of %s: %+v, %v", name, h, p, err)
			}
		}
	})
}

// People come in order, within the opening, as the profile says; the number is Poisson, or negative binomial with the scatter.
func TestArrivals(t *testing.T) {
	p, err := ParseProfile("front", fourHours)
	if err != nil {
		t.Fatal(err)
	}
	for _, scatter := range []float64{0, 0.2, 1.2} {
		const days, mean = 4000, 60.0
		d := draw(t, Flow{Arrivals: Arrivals{mean, p, scatter}, Stations: []Station{{Key: "desk", Service: Dist{Fixed, 1, 0}}}}, days, 9)
		var counts []float64
		for day, c := range d.counts {
			counts = append(counts, float64(c.Came))
			times := d.arrive[d.first[day]:d.first[day+1]]
			if !slices.IsSorted(times) || len(times) > 0 && (times[0] < 0 || times[len(times)-1] >= 240) {
				t.Fatalf("times %v", times)
			}
		}
		m, v := stat.MeanVariance(counts, nil)
		want := mean + scatter*scatter*mean*mean
		if !near(m, mean, 4*math.Sqrt(want/days)) || !relative(v, want, 0.2) {
			t.Errorf("scatter %v: mean %v, variance %v; want %v and %v", scatter, m, v, mean, want)
		}
		quarters := make([]float64, 4)
		for _, at := range d.arrive {
			quarters[int(at/60)]++
		}
		for i, want := range frontShares {
			n := float64(len(d.arrive))
			if !near(quarters[i]/n, want, 4*math.Sqrt(want*(1-want)/n)) {
				t.Errorf("quarter %d has a share of %v, want %v", i+1, quarters[i]/n, want)
			}
		}
		r := run(t, d, 2)
		if !relative(r.Quarters[0].Arrivals.Mean, mean*0.30/4, 0.05) {
			t.Errorf("%v come in the first quarter hour", r.Quarters[0].Arrivals.Mean)
		}
	}
}

// Each law has the mean and the CV that were asked for, of the minutes themselves, and the distribution of its name.
func TestServiceTimes(t *testing.T) {
	const n = 60_000
	for _, d := range []Dist{{Fixed, 3, 0}, {Exponential, 6, 0.3}, {Gamma, 8, 0.3}, {Gamma, 5, 1.5}, {LogNormal, 4, 0.22}, {LogNormal, 12, 0.8}, {LogNormal, 5, 0}} {
		s, err := d.ready("test")
		if err != nil {
			t.Fatal(err)
		}
		rng, xs := source(11), make([]float64, n)
		for i := range xs {
			xs[i] = s.draw(rng)
		}
		m, sd := stat.MeanStdDev(xs, nil)
		if !near(m, d.Mean, 4*d.Mean*d.Spread()/math.Sqrt(n)+1e-9) || !near(sd/m, d.Spread(), 0.02) {
			t.Errorf("%+v: mean %v, CV %v", d, m, sd/m)
		}
		var law interface{ CDF(float64) float64 }
		switch {
		case d.Spread() == 0:
			continue
		case d.Law == Exponential:
			law = distuv.Exponential{Rate: 1 / d.Mean}
		case d.Law == Gamma:
			law = distuv.Gamma{Alpha: 1 / (d.CV * d.CV), Beta: 1 / (d.Mean * d.CV * d.CV)}
		default:
			law = distuv.LogNormal{Mu: s.a, Sigma: s.b}
		}
		slices.Sort(xs)
		worst := 0.0
		for i, x := range xs {
			worst = math.Max(worst, math.Abs(law.CDF(x)-float64(i)/n))
		}
		if worst > 2/math.Sqrt(n) { // Kolmogorov's distance passes this in one case of 1,500
			t.Errorf("%+v: the distance to the law is %v", d, worst)
		}
	}
}

// The instant answer: posts by the fullest hour, and the closed form beside a simulation of a long, flat day.
func TestQuick(t *testing.T) {
	in := Defaults(90, fourHours)
	in.Profile, _ = ParseProfile("front", fourHours)
	in.Funnel = Funnel{Referred: 0.15}
	q, err := in.Flow().Quick(nil)
	if err != nil {
		t.Fatal(err)
	}
	// 31.5 an hour at most: desk 15 an hour each, test 60/8.5 = 7.06, explanation 60/5.2 = 11.5.
	if q[0].Posts != 3 || q[1].Posts != 5 || q[2].Posts != 3 || !near(q[0].Rate, 31.5, 1e-9) || !near(q[1].Load, 31.5*8.5/60, 1e-9) || q[1].Backlog != 0 {
		t.Errorf("%+v", q)
	}
	// 85 % take 4 minutes with CV 0.22, 15 % take 12 with 0.17: mean 5.2, E(S²) = 0.85 x 16 x 1.0484 + 0.15 x 144 x 1.0289 = 36.48.
	if mean, cv := in.Flow().Stations[2].held(in.Funnel); !near(mean, 5.2, 1e-12) || !near(cv, math.Sqrt(0.85*16*1.0484+0.15*144*1.0289-5.2*5.2)/5.2, 1e-9) {
		t.Errorf("mean %v, CV %v", mean, cv)
	}
	// Seven hands-on people ask for four supervisors, who count like anybody else.
	if got := in.search().cost([]int{2, 4, 3}); got != 13 {
		t.Errorf("the search counts %v people", got)
	}
	if q, err = in.Flow().Quick([]int{1, 3, 2}); err != nil || q[0].Steady != nil || q[0].Backlog < 60 {
		t.Errorf("one at the desk: %+v, %v", q, err)
	}
	flat := in.Flow()
	p, _ := even(200*60, 1)
	flat.Arrivals = Arrivals{Expected: 200 * 20, Profile: p}
	flat.Stations = flat.Stations[1:] // people come to the test at random
	if q, err = flat.Quick([]int{4, 3}); err != nil || q[0].Steady == nil {
		t.Fatal(q, err)
	}
	r := run(t, draw(t, flat, 40, 5), 4, 3)
	if got := r.Stations[0].Waits.Mean.Value; !relative(*q[0].Steady, got, 0.15) {
		t.Errorf("closed form %v, simulated %v", *q[0].Steady, got)
	}
	for _, posts := range [][]int{{1}, {1, 0}, {1, 501}} {
		if _, err := flat.Quick(posts); err == nil {
			t.Errorf("%v was computed", posts)
		}
	}
}

func TestSupplies(t *testing.T) {
	in := Defaults(90, fourHours)
	in.Days = 400
	d := draw(t, in.Flow(), in.Days, 2)
	store := in.Store
	store.Strips.Meters = 5
	store.Gloves = []GloveSize{{"S", 2}, {"M", 3}}
	store.Languages = []Language{{"en", 0.7}, {"es", 0.3}}
	store.Packs = map[string]Pack{"strips": {50, 2450}, "lancets": {100, 980}, "gloves-S": {0, 700}}
	store.TurnedAway = 500
	posts := [3]int{2, 4, 3}
	packed := func(sure float64) Supplies {
		t.Helper()
		s, err := d.Pack(store, posts, sure, source(3))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	low, s, high := packed(0.8), packed(0.95), packed(0.99)
	for i, l := range s.Lines {
		if l.Packs*l.Pack < l.Need || (l.Packs-1)*l.Pack >= l.Need && l.Need > 0 || low.Lines[i].Need > l.Need || l.Need > high.Lines[i].Need || low.Lines[i].Mean != l.Mean {
			t.Errorf("%+v; at 80 %% %d, at 99 %% %d", l, low.Lines[i].Need, high.Lines[i].Need)
		}
	}
	if s.Enough.Value > 0.97 || s.Enough.Value < 0.8 {
		t.Errorf("all lines suffice together on %v of days", s.Enough.Value)
	}
	// By the funnel 79 % of 90 are tested: 71.1, with 4 % repeats, 4 % errors and 10 + 1 controls 87.8 strips on average.
	if l := line(t, s, "strips"); l.Mean < 86 || l.Mean > 90 || l.Cost == nil || *l.Cost != l.Packs*2450 || l.ByCost == nil || *l.ByCost != 2 {
		t.Errorf("%+v", l)
	}
	m := d.Mean()
	sticks := (m.Tested + m.Repeats + m.Errors/2) * 1.02
	for item, want := range map[string]float64{"lancets": sticks, "wipes": 2*m.Tested + 20, "gauze": 2.2 * m.Tested, "towels": 1.1 * (m.Tested + m.Repeats), "slips": 1.15 * m.Tested, "meters": 5, "table-covers": 11, "sharps": 5} {
		if l := line(t, s, item); !near(float64(l.Mean), want+0.5, 0.7) {
			t.Errorf("%s: %d on average, want %v rounded up", item, l.Mean, want)
		}
	}
	if s.Strips.Total() != line(t, s, "strips").Need || s.Strips.Controls < 10 {
		t.Errorf("%+v", s.Strips)
	}
	if small, large := line(t, s, "gloves-S"), line(t, s, "gloves-M"); small.Need >= large.Need || small.Cost == nil || *small.Cost != small.Packs*700 || large.Cost != nil {
		t.Errorf("%+v, %+v", small, large)
	}
	if en, es := line(t, s, "forms-en"), line(t, s, "forms-es"); en.Need < 2*es.Need*9/10 {
		t.Errorf("%+v, %+v", en, es)
	}
	want := *line(t, s, "strips").Cost + *line(t, s, "lancets").Cost + *line(t, s, "gloves-S").Cost
	if c := s.Cost; c == nil || c.Cents != want || !relative(c.PerTested, float64(want)/d.Mean().Tested, 1e-12) || !relative(c.PerSeen, c.PerReferral/DefaultSeen, 1e-9) || !slices.Contains(c.Unpriced, "swabs") || slices.Contains(c.Unpriced, "strips") {
		t.Errorf("%+v", c)
	}
	store.Packs = nil
	if s := packed(0.95); s.Cost != nil {
		t.Errorf("without prices it costs %+v", s.Cost)
	}
	store.Strips.Lots = []Lot{{ID: "A", Quantity: 20, Expires: 3}, {ID: "B", Quantity: 300, Expires: 9, Vial: 50}}
	if s := packed(0.95); len(s.Strips.Lots) != 2 || s.Strips.Changes != 1 || s.Strips.Controls < 20 || s.Strips.Short != 0 {
		t.Errorf("%+v", s.Strips)
	}
	if _, err := d.Pack(store, posts, 1, source(3)); err == nil {
		t.Error("a quantity that always suffices was packed")
	}
}

// 1 quart holds 150 lancets and is changed at three quarters, 112: 79 lancets at 4 posts fill no second one, 500 do.
func TestSharpsContainers(t *testing.T) {
	for _, x := range [][3]int{{79, 4, 4}, {448, 4, 4}, {449, 4, 8}, {500, 4, 8}, {0, 3, 3}, {113, 1, 2}, {5, 0, 0}} {
		if got := SharpsContainers(x[0], x[1], sharpsHold); got != x[2] {
			t.Errorf("%d lancets at %d posts: %d, want %d", x[0], x[1], got, x[2])
		}
	}
	if SharpsContainers(10, 2, 1) != 0 {
		t.Error("a container without room was counted")
	}
}

package plan

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"fairstick/internal/estimate"
)

// Brief is what the search looks at in a setup: means and shares over all people tested, without the parts that cost time.
type Brief struct {
	Mean   Estimate `json:"mean"`
	P90    float64  `json:"p90"`
	Within Estimate `json:"within"` // share that waits no longer than promised
}

// Confidence gives how sure it is, from the simulated days alone, that the true share reaches the promised one: Phi((share - promised)/error).
func (b Brief) Confidence(p Promise) float64 {
	over := b.Within.Value - p.Share
	switch {
	case b.Within.SE > 0:
		return math.Erfc(-over/b.Within.SE/math.Sqrt2) / 2
	case over >= 0:
		return 1
	}
	return 0
}

// brief walks through all days and keeps only what the search needs.
func (d *Days) brief(setup Setup, promise Promise, s *scratch, waits []float64) Brief {
	waits = waits[:0]
	var mean, in ratio
	for day := range d.counts {
		d.walk(s, day, setup, false)
		marks := d.marks[d.first[day]:d.first[day+1]]
		sum, kept, n := 0.0, 0.0, 0.0
		for i, w := range s.total {
			if marks[i]&goesOn == 0 {
				continue
			}
			waits = append(waits, w)
			sum += w
			n++
			if w <= promise.Minutes {
				kept++
			}
		}
		mean.add(sum, n)
		in.add(kept, n)
	}
	return Brief{mean.estimate(), quantile(waits, 0.9), in.estimate()}
}

// Look runs the days under a setup for its Brief alone, which takes about half as long as Run. It refuses what Run refuses.
func (d *Days) Look(setup Setup, promise Promise) (Brief, error) {
	if err := d.checkSetup(setup); err != nil {
		return Brief{}, err
	}
	if err := promise.check(); err != nil {
		return Brief{}, err
	}
	return d.brief(setup, promise, &scratch{}, make([]float64, 0, len(d.arrive))), nil
}

// Supervision is how many people who touch participants, or explain a result, one supervisor may look after.
type Supervision struct {
	Wanted int `json:"wanted"` // people for each supervisor
	Most   int `json:"most"`
}

// DefaultSupervision is 1:2 wanted and 1:4 at most. Source: Ohio Adm. Code 3349-5-75 has 1:2 for pharmacy and 1:4 for medical students;
// local rules decide.
var DefaultSupervision = Supervision{2, 4}

func (s Supervision) check() error {
	if s.Wanted < 1 || s.Most < s.Wanted {
		return bad("plan-supervisors", "Write for example 2 wanted and 4 at most.", "One supervisor for %d people wanted and for %d at most cannot be.", s.Wanted, s.Most)
	}
	return nil
}

// Need gives how many supervisors a number of people needs: as wanted, and at the least.
func (s Supervision) Need(people int) (wanted, least int) {
	return (people + s.Wanted - 1) / s.Wanted, (people + s.Most - 1) / s.Most
}

// Search is what is looked for: the cheapest posts that keep the promise with some confidence.
type Search struct {
	Promise Promise
	Sure    float64 // confidence, from the simulated days, that the promise is kept in the long run
	Fixed   []int   // posts that are given, by station; 0 leaves the station free
	Meters  int     // as in Setup
	Cost    []float64
	// Watched are the stations whose people count for Supervision; a supervisor costs SupervisorCost.
	Watched        []bool
	Supervision    Supervision
	SupervisorCost float64
}

// cost gives what a setup costs in the unit of Search.Cost.
func (s Search) cost(posts []int) float64 {
	sum, watched := 0.0, 0
	for k, n := range posts {
		sum += float64(s.Cost[k] * float64(n))
		if s.Watched[k] {
			watched += n
		}
	}
	wanted, _ := s.Supervision.Need(watched)
	return sum + float64(s.SupervisorCost*float64(wanted))
}

// Choice is what a search found.
type Choice struct {
	Posts      []int   `json:"posts"`
	Brief      Brief   `json:"brief"`
	Confidence float64 `json:"confidence"`
	Cost       float64 `json:"cost"`
	Looked     int     `json:"looked"` // setups that were simulated
}

// mostLooks bounds a search; a promise of seconds to thousands of people would go on for hours.
const mostLooks = 3000

// Cheapest finds the cheapest posts that keep the promise; of several at one cost the one with the shorter mean wait. First it finds, for each
// station by itself, the fewest posts that would do if nobody waited anywhere else: fewer cannot keep the promise. From there it takes setups in
// the order of their cost until the first keeps it, so that the answer is that of trying all. When the given posts cannot keep the promise
// however many others there are, found is false.
func (d *Days) Cheapest(s Search) (c Choice, found bool, err error) {
	if err := s.check(d); err != nil {
		return Choice{}, false, err
	}
	var work scratch
	room := make([]float64, 0, len(d.arrive))
	looked := 0
	look := func(posts []int) (Brief, float64) {
		looked++
		b := d.brief(Setup{posts, s.Meters}, s.Promise, &work, room)
		return b, b.Confidence(s.Promise)
	}
	floor, enough := make([]int, len(s.Fixed)), make([]bool, len(s.Fixed))
	looks := make([]int, len(s.Fixed))
	var all sync.WaitGroup
	for k := range floor {
		all.Go(func() { floor[k], looks[k], enough[k] = d.floor(s, k) })
	}
	all.Wait()
	for k := range floor {
		looked += looks[k]
	}
	if slices.Contains(enough, false) {
		return Choice{Looked: looked}, false, nil
	}
	queue := []candidate{{s.cost(floor), floor}}
	for len(queue) > 0 && looked < mostLooks {
		at := slices.MinFunc(queue, compare)
		queue = slices.DeleteFunc(queue, func(x candidate) bool { return slices.Equal(x.posts, at.posts) })
		if found && at.cost > c.Cost {
			break
		}
		b, sure := look(at.posts)
		if sure >= s.Sure {
			if !found || b.Mean.Value < c.Brief.Mean.Value {
				c = Choice{Posts: at.posts, Brief: b, Confidence: sure, Cost: at.cost}
			}
			found = true
			continue
		}
		for k := range at.posts {
			if s.Fixed[k] > 0 || at.posts[k] == mostPosts {
				continue
			}
			next := slices.Clone(at.posts)
			next[k]++
			queue = append(queue, candidate{s.cost(next), next})
		}
	}
	c.Looked = looked
	return c, found, nil
}

// floor gives the fewest posts of one station that would do if nobody waited anywhere else, with how many setups it looked at; false when those
// that are given, or any number, would not.
func (d *Days) floor(s Search, k int) (n, looked int, enough bool) {
	var work scratch
	room := make([]float64, 0, len(d.arrive))
	keeps := func(n int) bool {
		looked++
		only := make([]int, len(s.Fixed)) // ample elsewhere
		only[k] = n
		return d.brief(Setup{only, s.Meters}, s.Promise, &work, room).Confidence(s.Promise) >= s.Sure
	}
	if n = s.Fixed[k]; n > 0 {
		enough = keeps(n)
		return n, looked, enough
	}
	n = min(max(d.ruleOfThumb(k), 1), mostPosts)
	if keeps(n) {
		for n > 1 && keeps(n-1) {
			n--
		}
		return n, looked, true
	}
	most := mostPosts
	if s.Meters > 0 && d.flow.Stations[k].Wet > 0 {
		most = max(n, min(most, s.Meters+1)) // more people than that wait for the meters
	}
	short, step := n, 1
	for n = min(n+1, most); n > short && !keeps(n); n = min(n+step, most) {
		short, step = n, 2*step
	}
	if n == short {
		return n, looked, false
	}
	for short+1 < n { // the last that does not do, and one that does
		if mid := (short + n) / 2; keeps(mid) {
			n = mid
		} else {
			short = mid
		}
	}
	return n, looked, true
}

// longer gives the promise in whole minutes that these posts would keep, at least as sure as it is wanted; 0 when none within a day.
func (d *Days) longer(setup Setup, p Promise, sure, p90 float64) int {
	var work scratch
	room := make([]float64, 0, len(d.arrive))
	for m := math.Ceil(max(p90, p.Minutes)); m < 24*60; m += max(1, math.Floor(m/40)) {
		p.Minutes = m
		if d.brief(setup, p, &work, room).Confidence(p) >= sure {
			return int(m)
		}
	}
	return 0
}

type candidate struct {
	cost  float64
	posts []int
}

func compare(a, b candidate) int {
	switch {
	case a.cost < b.cost:
		return -1
	case a.cost > b.cost:
		return 1
	}
	return slices.Compare(a.posts, b.posts)
}

func (s Search) check(d *Days) error {
	n := len(d.flow.Stations)
	if len(s.Fixed) != n || len(s.Cost) != n || len(s.Watched) != n {
		return bad("plan-posts", "", "The search does not fit %d stations.", n)
	}
	for k := range s.Fixed {
		if s.Fixed[k] < 0 || s.Fixed[k] > mostPosts {
			return bad("plan-posts", "Give each station from 1 to 500 people.", "%d people at %s cannot be right.", s.Fixed[k], d.flow.Stations[k].Key)
		}
		if !finite(s.Cost[k], 0) || s.Cost[k] == 0 {
			return bad("plan-cost", "Give a positive cost.", "A person at %s cannot cost %v.", d.flow.Stations[k].Key, s.Cost[k])
		}
	}
	switch {
	case s.Meters < 0 || s.Meters > mostPosts:
		return bad("plan-meters", "Give from 1 to 500 meters.", "%d meters cannot be right.", s.Meters)
	case !(s.Sure >= 0.5 && s.Sure < 1):
		return bad("plan-sure", "Write 95 % as 0.95.", "A confidence of %v is not between 0.5 and 1.", s.Sure)
	case !finite(s.SupervisorCost, 0):
		return bad("plan-cost", "Give a positive cost.", "A supervisor cannot cost %v.", s.SupervisorCost)
	}
	if err := s.Supervision.check(); err != nil {
		return err
	}
	return s.Promise.check()
}

// ruleOfThumb gives the posts that keep pace with the fullest hour.
func (d *Days) ruleOfThumb(k int) int {
	rate := d.flow.Arrivals.Expected * d.flow.Arrivals.Profile.Peak() / math.Min(60, d.open)
	if k > 0 {
		rate *= d.flow.Funnel.stays()
	}
	return postsFor(rate, d.flow.Stations[k], d.flow.Funnel)
}

func postsFor(rate float64, s Station, f Funnel) int {
	return max(1, int(math.Ceil(rate/s.pace(f, 1, 1)-1e-9)))
}

// Change is what one person more or fewer at a station would do to all, the people who come being the same.
type Change struct {
	Station string `json:"station"`
	Posts   int    `json:"posts"`
	More    Brief  `json:"more"`
	Fewer   *Brief `json:"fewer"` // nil where there is only one
}

// Meters names the change of the number of meters among those of the stations.
const Meters = "meters"

// Changes gives what one person more or fewer would do at each station, and last, where a number of meters is given, one meter more or fewer. A
// post more works with the same meters.
func (d *Days) Changes(setup Setup, promise Promise) ([]Change, error) {
	look := func(k, by int) (Brief, error) {
		s := Setup{slices.Clone(setup.Posts), setup.Meters}
		if k < len(s.Posts) {
			s.Posts[k] += by
		} else {
			s.Meters += by
		}
		return d.Look(s, promise)
	}
	var all []Change
	for k, s := range d.flow.Stations {
		all = append(all, Change{Station: s.Key, Posts: setup.Posts[k]})
	}
	if setup.Meters > 0 {
		all = append(all, Change{Station: Meters, Posts: setup.Meters})
	}
	wrong := make([]error, 2*len(all))
	var done sync.WaitGroup
	for k := range all {
		done.Go(func() { all[k].More, wrong[2*k] = look(k, 1) })
		if all[k].Posts > 1 {
			all[k].Fewer = new(Brief)
			done.Go(func() { *all[k].Fewer, wrong[2*k+1] = look(k, -1) })
		}
	}
	done.Wait()
	for _, err := range wrong {
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Bottleneck is where one more would shorten the wait the most.
type Bottleneck struct {
	Station string  `json:"station"` // or the meters; empty when nobody more would help much
	Busiest string  `json:"busiest"` // the station that is busiest
	Hidden  bool    `json:"hidden"`  // the bottleneck is not the busiest station, or losing one hurts more elsewhere
	Fragile string  `json:"fragile"` // where one fewer lengthens the wait the most; empty when none can go
	Saves   float64 `json:"saves"`   // minutes that one more takes off the mean wait
	Costs   float64 `json:"costs"`   // minutes that one fewer at Fragile puts on the 90th percentile
	words   string
}

// String names the bottleneck in one to three plain sentences.
func (b Bottleneck) String() string { return b.words }

// worthAPerson is how many minutes of the wait that 9 of 10 do not pass one more must save to be called a bottleneck (common practice).
const worthAPerson = 1

// FindBottleneck names what holds people up, from a result and its changes. The station that is busiest is not always the one: a long talk after
// a quick test, or a line that forms before the one that everybody sees.
func FindBottleneck(r Result, changes []Change, name func(string) string) Bottleneck {
	var b Bottleneck
	var most, fragile Change
	use := -1.0
	for i, c := range changes {
		if saves := r.Total.Mean.Value - c.More.Mean.Value; saves > b.Saves {
			b.Saves, b.Station, most = saves, c.Station, c
		}
		if i < len(r.Stations) {
			if u := max(r.Stations[i].Use.Value, r.Stations[i].MeterUse.Value); u > use {
				use, b.Busiest = u, c.Station
			}
		}
		if c.Fewer != nil {
			if costs := c.Fewer.P90 - r.Total.P90.Value; costs > b.Costs {
				b.Costs, b.Fragile, fragile = costs, c.Station, c
			}
		}
	}
	p90 := r.Total.P90.Value
	if b.Station == "" || p90-most.More.P90 < worthAPerson {
		b.Station, b.Saves, b.words = "", 0, "No station holds people up: one person more would save little anywhere."
		if b.Costs >= worthAPerson {
			b.words += fmt.Sprintf(" Losing one hurts most at %s: 9 of 10 would wait up to %.0f minutes instead of %.0f.", name(b.Fragile), fragile.Fewer.P90, p90)
		}
		return b
	}
	b.Hidden = b.Station != b.Busiest || b.Fragile != "" && b.Fragile != b.Station
	one := "one person more there"
	if b.Station == Meters {
		one = "one more"
		b.Hidden = false // it is the test that is busy, with wet meters
	}
	b.words = fmt.Sprintf("The bottleneck is %s: %s would take the wait that 9 of 10 do not pass from %.0f to %.0f minutes", name(b.Station), one, p90, most.More.P90)
	if b.Fragile == b.Station {
		b.words += fmt.Sprintf(", one fewer to %.0f", fragile.Fewer.P90)
	}
	b.words += "."
	if b.Station != b.Busiest && b.Station != Meters {
		b.words += fmt.Sprintf(" It does not look so: %s is busier.", name(b.Busiest))
	}
	if b.Fragile != "" && b.Fragile != b.Station {
		b.words += fmt.Sprintf(" Losing one hurts most at %s: %.0f minutes.", name(b.Fragile), fragile.Fewer.P90)
	}
	return b
}

// Roster is how many volunteers to ask for a number of posts when some do not come.
type Roster struct {
	Posts  int     `json:"posts"`
	Ask    int     `json:"ask"`    // ceil(posts / (1 - no-show)), and at least one spare when anybody may stay away
	Chance float64 `json:"chance"` // that all posts are filled with Ask
	Sure   int     `json:"sure"`   // to ask so that all posts are filled with the chance wanted
}

// DefaultNoShow is the share of volunteers who do not come (common practice).
const DefaultNoShow = 0.15

// NewRoster gives how many volunteers to ask. Each stays away by himself with probability noShow, from 0 to below 1; the number that comes
// is binomial. sure is a chance between 0 and 1, both excluded.
func NewRoster(posts int, noShow, sure float64) (Roster, error) {
	if posts < 0 || posts > 4*mostPosts || !(noShow >= 0 && noShow <= 0.9) || !(sure > 0 && sure < 1) {
		return Roster{}, bad("plan-no-show", "Write 15 % as 0.15; at most 0.9.", "%d posts with a share of %v who stay away cannot be rostered.", posts, noShow)
	}
	r := Roster{Posts: posts, Ask: int(math.Ceil(float64(posts)/(1-noShow) - 1e-9))}
	if noShow > 0 && posts > 0 {
		r.Ask = max(r.Ask, posts+1)
	}
	chance := func(n int) (float64, error) { return estimate.BinomialTail(posts, n, 1-noShow) }
	var err error
	if r.Chance, err = chance(r.Ask); err != nil {
		return Roster{}, err
	}
	for r.Sure = posts; ; r.Sure++ {
		c, err := chance(r.Sure)
		if err != nil {
			return Roster{}, err
		}
		if c >= sure {
			return r, nil
		}
	}
}

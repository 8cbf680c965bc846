package plan

import (
	"math/rand/v2"
	"slices"
)

// Funnel is what becomes of people on their way. The first three are shares of all who come and end after the first station; the others are
// shares of those who are tested.
type Funnel struct {
	Leaves      float64 `json:"leaves"`       // goes before the test
	NotEligible float64 `json:"not_eligible"` // the protocol does not screen them
	Declines    float64 `json:"declines"`     // does not want the stick
	Repeats     float64 `json:"repeats"`      // washes and is tested again
	Errors      float64 `json:"errors"`       // a strip or a touch failed: a new strip
	Referred    float64 `json:"referred"`     // is advised to see somebody
}

func (f Funnel) check() error {
	for _, x := range []float64{f.Leaves, f.NotEligible, f.Declines, f.Repeats, f.Errors, f.Referred} {
		if !share(x) {
			return bad("plan-funnel", "Write 4 % as 0.04.", "A share of %v of the people is not between 0 and 1.", x)
		}
	}
	if f.stays() <= 0 {
		return bad("plan-funnel", "Lower the shares that leave, are not eligible or decline.", "By these shares nobody is tested.")
	}
	return nil
}

// stays gives the share of those who come that is tested.
func (f Funnel) stays() float64 { return 1 - f.Leaves - f.NotEligible - f.Declines }

// Station is one stop of the flow: one line, some posts, first come first served.
type Station struct {
	Key      string `json:"key"`
	Service  Dist   `json:"service"`  // with the person
	Repeat   Dist   `json:"repeat"`   // added for a person whose test is repeated
	Referred Dist   `json:"referred"` // instead of Service for a person who is referred
	// Wipe is how long the post is busy once the person has gone; Wet how long its meter then stays wet with disinfectant. A wet meter tests
	// nobody: the post waits for it, unless there is a dry one.
	Wipe float64 `json:"wipe"`
	Wet  float64 `json:"wet"`
}

// minutes gives the mean time with a person.
func (s Station) minutes(f Funnel) float64 {
	m := s.Service.Mean
	if !s.Referred.none() {
		m += float64(f.Referred * (s.Referred.Mean - m))
	}
	return m + float64(f.Repeats*s.Repeat.Mean)
}

// pace gives how many people a minute a station can take for ever. Posts and wet meters both hold it back.
func (s Station) pace(f Funnel, posts, meters int) float64 {
	held := s.minutes(f) + s.Wipe
	pace := float64(posts) / held
	if s.Wet > 0 {
		pace = min(pace, float64(meters)/(held+s.Wet))
	}
	return pace
}

// Flow is an event: who comes, and the stations that they pass one after the other.
type Flow struct {
	Arrivals Arrivals  `json:"arrivals"`
	Stations []Station `json:"stations"`
	Funnel   Funnel    `json:"funnel"`
}

// Count is what one day came to.
type Count struct {
	Came, Left, NotEligible, Declined, Tested, Repeats, Errors, Referred int
}

// mark says what becomes of one person.
type mark uint8

const (
	goesOn mark = 1 << iota
	repeated
	failed
	referred
)

// The most that is drawn: people in all days together. A day of 2,000 people is far beyond any event; the limit keeps memory in hand.
const (
	leastDays  = 40
	mostPeople = 6_000_000
)

// Days are drawn days: who came when, what becomes of them and how long each station will take with them, before anything is said about
// posts. Run under different numbers of posts they differ by these alone (common random numbers).
type Days struct {
	flow    Flow
	open    float64
	first   []int // of each day in the slices below; one more at the end
	arrive  []float64
	marks   []mark
	service [][]float64 // by station
	counts  []Count
}

// Draw draws days of a flow. At least 40 days are needed so that an error can be given; shares and times that cannot be, and more
// than six million people in all, are a *fault.Fault.
func Draw(f Flow, days int, rng *rand.Rand) (*Days, error) {
	if err := f.Arrivals.check(); err != nil {
		return nil, err
	}
	if err := f.Funnel.check(); err != nil {
		return nil, err
	}
	if days < leastDays || float64(float64(days)*f.Arrivals.Expected) > mostPeople {
		return nil, bad("plan-days", "Simulate fewer or smaller days, but at least 40.", "%d days with %v people each cannot be simulated.", days, f.Arrivals.Expected)
	}
	if len(f.Stations) == 0 {
		return nil, bad("plan-station", "", "A flow needs at least one station.")
	}
	ready := make([]laws, len(f.Stations))
	for i, s := range f.Stations {
		if !finite(s.Wipe, 0) || !finite(s.Wet, 0) || s.Wipe > 60 || s.Wet > 60 {
			return nil, bad("plan-minutes", "Give minutes from 0 to 60.", "Wiping for %v and waiting for %v minutes at %s cannot be right.", s.Wipe, s.Wet, s.Key)
		}
		if s.Service.none() {
			return nil, bad("plan-minutes", "Give a positive mean in minutes.", "The time that %s takes with a person is missing.", s.Key)
		}
		var err error
		if ready[i].service, err = s.Service.ready(s.Key); err != nil {
			return nil, err
		}
		if ready[i].repeat, err = s.Repeat.ready(s.Key); err != nil {
			return nil, err
		}
		if ready[i].referred, err = s.Referred.ready(s.Key); err != nil {
			return nil, err
		}
		ready[i].refers = !s.Referred.none()
	}
	f.Stations = slices.Clone(f.Stations)
	d := &Days{flow: f, open: f.Arrivals.Profile.Minutes(), first: make([]int, 1, days+1), service: make([][]float64, len(f.Stations)), counts: make([]Count, days)}
	people := int(1.1 * float64(days) * f.Arrivals.Expected) // about; more are appended
	d.arrive, d.marks = make([]float64, 0, people), make([]mark, 0, people)
	for k := range d.service {
		d.service[k] = make([]float64, 0, people)
	}
	for day := range days {
		d.arrive = f.Arrivals.draw(d.arrive, rng)
		for range len(d.arrive) - d.first[day] {
			d.marks = append(d.marks, f.Funnel.draw(&d.counts[day], rng))
		}
		for k := range ready {
			d.service[k] = ready[k].draw(d.service[k], d.marks[d.first[day]:], rng)
		}
		d.first = append(d.first, len(d.arrive))
	}
	return d, nil
}

// laws are the laws of one station, ready to be drawn from.
type laws struct {
	service, repeat, referred sampler
	refers                    bool // referred people take another time
}

// draw appends the minutes that a station will take with each of the people. Who ends before it is drawn as well: so a day differs from another
// by what was changed alone.
func (l *laws) draw(minutes []float64, marks []mark, rng *rand.Rand) []float64 {
	for _, m := range marks {
		law := &l.service
		if l.refers && m&referred != 0 {
			law = &l.referred
		}
		x := law.draw(rng)
		if m&repeated != 0 {
			x += l.repeat.draw(rng)
		}
		minutes = append(minutes, x)
	}
	return minutes
}

func (f Funnel) draw(c *Count, rng *rand.Rand) mark {
	c.Came++
	switch u := rng.Float64(); {
	case u < f.Leaves:
		c.Left++
		return 0
	case u < f.Leaves+f.NotEligible:
		c.NotEligible++
		return 0
	case u < f.Leaves+f.NotEligible+f.Declines:
		c.Declined++
		return 0
	}
	c.Tested++
	m := goesOn
	if f.Repeats > 0 && rng.Float64() < f.Repeats {
		c.Repeats++
		m |= repeated
	}
	if f.Errors > 0 && rng.Float64() < f.Errors {
		c.Errors++
		m |= failed
	}
	if f.Referred > 0 && rng.Float64() < f.Referred {
		c.Referred++
		m |= referred
	}
	return m
}

// Counts gives what each day came to.
func (d *Days) Counts() []Count { return slices.Clone(d.counts) }

// MeanCount is the mean of the counts of many days.
type MeanCount struct {
	Came        float64 `json:"came"`
	Left        float64 `json:"left"`
	NotEligible float64 `json:"not_eligible"`
	Declined    float64 `json:"declined"`
	Tested      float64 `json:"tested"`
	Repeats     float64 `json:"repeats"`
	Errors      float64 `json:"errors"`
	Referred    float64 `json:"referred"`
}

// Mean gives the mean of the counts of all days.
func (d *Days) Mean() MeanCount {
	var s Count
	for _, c := range d.counts {
		s.Came += c.Came
		s.Left += c.Left
		s.NotEligible += c.NotEligible
		s.Declined += c.Declined
		s.Tested += c.Tested
		s.Repeats += c.Repeats
		s.Errors += c.Errors
		s.Referred += c.Referred
	}
	n := float64(len(d.counts))
	return MeanCount{
		float64(s.Came) / n, float64(s.Left) / n, float64(s.NotEligible) / n, float64(s.Declined) / n,
		float64(s.Tested) / n, float64(s.Repeats) / n, float64(s.Errors) / n, float64(s.Referred) / n,
	}
}

package plan

import (
	"math"
)

// Promise is what the lead promises of the wait: a share of those tested waits no longer than some minutes in all lines together.
type Promise struct {
	Share   float64 `json:"share"`
	Minutes float64 `json:"minutes"`
}

// DefaultPromise is that 9 of 10 wait no longer than 20 minutes (common practice).
var DefaultPromise = Promise{0.9, 20}

func (p Promise) check() error {
	if !(p.Share > 0 && p.Share < 1) {
		return bad("plan-promise", "Write 9 of 10 as 0.9.", "A promise to a share of %v of the people cannot be kept.", p.Share)
	}
	if !finite(p.Minutes, 0) || p.Minutes == 0 || p.Minutes > 24*60 {
		return bad("plan-wait", "Give a limit in minutes, for example 20.", "A limit of %v minutes for the wait cannot be planned.", p.Minutes)
	}
	return nil
}

// Waits describes waits of many people on many days. All people are pooled: a mean is that over people, not over days.
type Waits struct {
	Mean  Estimate `json:"mean"`
	P50   Estimate `json:"p50"`
	P90   Estimate `json:"p90"`
	Any   Estimate `json:"any"`  // share of people who wait at all
	Over  Estimate `json:"over"` // share of people who wait longer than promised
	Count float64  `json:"count"`
}

// StationResult is one station over many days.
type StationResult struct {
	Key   string `json:"key"`
	Posts int    `json:"posts"`
	Waits Waits  `json:"waits"`
	// Use is the share of the posts' time between doors open and doors closed that they spend with a person or wiping; UseToLast the same from
	// doors open until the last person leaves the station, each day weighing the same; MeterUse the share of the meters' open time in which they
	// are used, wiped or wet, 0 where nothing is wiped.
	Use       Estimate `json:"use"`
	UseToLast Estimate `json:"use_to_last"`
	MeterUse  Estimate `json:"meter_use"`
}

// Band is the middle and the edges of a number over many days: 5 % of the days lie below Low and 5 % above High.
type Band struct {
	Mean float64 `json:"mean"`
	Low  int     `json:"low"`
	High int     `json:"high"`
}

// Quarter is a quarter of an hour.
type Quarter struct {
	To       int       `json:"to"` // minutes after doors open
	Arrivals Band      `json:"arrivals"`
	Queue    []Band    `json:"queue"`    // who waits at its end, by station
	Capacity []float64 `json:"capacity"` // how many each station can take in it
}

// Result is what happens under one setup.
type Result struct {
	Setup    Setup           `json:"setup"`
	Total    Waits           `json:"total"` // of those tested, all lines together
	Stations []StationResult `json:"stations"`
	Someone  Estimate        `json:"someone"` // chance that on a day at least one person waits longer than promised
	Kept     Estimate        `json:"kept"`    // chance that a single day keeps the promise
	Last     Estimate        `json:"last"`    // when the last person leaves, minutes after doors open, mean over days
	LastP90  Estimate        `json:"last_p90"`
	Quarters []Quarter       `json:"quarters"`
	Days     int             `json:"days"`
}

// Run runs the drawn days under a setup and says what came of it, with the Monte-Carlo error of each value. Errors of means and shares are
// those of ratio estimators over days; errors of quantiles come from 20 groups of days. A setup that does not fit the flow and a promise that
// cannot be are a *fault.Fault.
//
// With the same days one post more never lengthens a wait in its own line, and at the last station no wait at all. At an inner station it may make
// somebody wait longer further on, because people come there sooner and in another order.
func (d *Days) Run(setup Setup, promise Promise) (Result, error) {
	if err := d.checkSetup(setup); err != nil {
		return Result{}, err
	}
	if err := promise.check(); err != nil {
		return Result{}, err
	}
	days := len(d.counts)
	r := Result{Setup: Setup{append([]int(nil), setup.Posts...), setup.Meters}, Days: days}
	total := newTally(days, len(d.arrive), promise.Minutes)
	stations := make([]stationTally, len(d.flow.Stations))
	for k := range stations {
		stations[k].waits = newTally(days, len(d.arrive), promise.Minutes)
	}
	clock := d.newClock()
	var someone, kept, last ratio
	var lasts pool
	var s scratch
	for day := range days {
		d.walk(&s, day, setup, true)
		leaves := 0.0
		for _, t := range s.at {
			leaves = max(leaves, t)
		}
		last.add(leaves, 1)
		lasts.values = append(lasts.values, leaves)
		lasts.endDay()
		for i, w := range s.total {
			if d.marks[d.first[day]+i]&goesOn != 0 {
				total.add(w)
			}
		}
		over, people := total.endDay()
		someone.add(truth(over > 0), 1)
		kept.add(truth(float64(people-over) >= float64(promise.Share*float64(people))), 1)
		for k := range stations {
			stations[k].add(&s.seen[k], d.service[k][d.first[day]:d.first[day+1]], &d.flow.Stations[k], setup.Posts[k], d.meters(setup, k), d.open)
		}
		clock.add(day, d.arrive[d.first[day]:d.first[day+1]], s.seen)
	}
	room := make([]float64, 0, len(d.arrive))
	r.Total = total.waits(room)
	for k := range stations {
		t := &stations[k]
		r.Stations = append(r.Stations, StationResult{
			Key: d.flow.Stations[k].Key, Posts: setup.Posts[k], Waits: t.waits.waits(room),
			Use: t.use.estimate(), UseToLast: t.toLast.estimate(), MeterUse: t.meter.estimate(),
		})
	}
	r.Someone, r.Kept, r.Last = someone.estimate(), kept.estimate(), last.estimate()
	r.LastP90 = lasts.quantile(0.9, room)
	r.Quarters = clock.quarters(d, setup)
	return r, nil
}

// meters gives how many meters a station uses: those of the setup where it wipes them, else none.
func (d *Days) meters(s Setup, k int) int {
	switch {
	case d.flow.Stations[k].Wet == 0:
		return 0
	case s.Meters == 0:
		return s.Posts[k]
	}
	return s.Meters
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// tally gathers waits.
type tally struct {
	all             pool
	limit           float64
	sum, any, over  float64 // of the day that is being gathered
	people          int
	means, anys, ov ratio
}

func newTally(days, people int, limit float64) *tally {
	return &tally{limit: limit, all: pool{make([]float64, 0, people), make([]int, 0, days)}}
}

// A wait below a billionth of a minute is what rounding leaves of none.
const noWait = 1e-9

func (t *tally) add(wait float64) {
	t.all.values = append(t.all.values, wait)
	t.sum += wait
	t.people++
	if wait > noWait {
		t.any++
	}
	if wait > t.limit {
		t.over++
	}
}

// endDay gives how many people of the day waited longer than the limit, and how many there were.
func (t *tally) endDay() (over, people int) {
	n := float64(t.people)
	t.means.add(t.sum, n)
	t.anys.add(t.any, n)
	t.ov.add(t.over, n)
	t.all.endDay()
	over, people = int(t.over), t.people
	t.sum, t.any, t.over, t.people = 0, 0, 0, 0
	return over, people
}

func (t *tally) waits(room []float64) Waits {
	return Waits{
		Mean: t.means.estimate(), Any: t.anys.estimate(), Over: t.ov.estimate(),
		P50: t.all.quantile(0.5, room), P90: t.all.quantile(0.9, room),
		Count: float64(len(t.all.values)) / float64(len(t.all.ends)),
	}
}

type stationTally struct {
	waits              *tally
	use, toLast, meter ratio
}

func (t *stationTally) add(v *visits, service []float64, s *Station, posts, meters int, open float64) {
	var inOpen, whole, meterOpen, last float64
	for i, start := range v.start {
		if math.IsNaN(start) {
			continue
		}
		t.waits.add(start - v.came[i])
		gone := start + service[i]
		last = max(last, gone)
		whole += service[i] + s.Wipe
		inOpen += within(start, gone+s.Wipe, open)
		meterOpen += within(start, gone+s.Wipe+s.Wet, open)
	}
	t.waits.endDay()
	t.use.add(inOpen, float64(posts)*open)
	if last > 0 {
		t.toLast.add(whole/float64(float64(posts)*last), 1)
	}
	t.meter.add(meterOpen, float64(meters)*open)
	if meters == 0 {
		t.meter = ratio{}
	}
}

// within gives how much of a stretch of time lies before the doors close.
func within(from, to, open float64) float64 {
	return max(0, min(to, open)-from)
}

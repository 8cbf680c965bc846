package plan

import "math"

// QuickStation is the answer at once, without simulation: enough to begin with, too rough to staff by.
type QuickStation struct {
	Key     string   `json:"key"`
	Rate    float64  `json:"rate"`    // people an hour in the fullest hour
	Load    float64  `json:"load"`    // erlang in the fullest hour: how many posts would be busy all the time
	Posts   int      `json:"posts"`   // that are looked at
	Steady  *float64 `json:"steady"`  // mean wait by M/G/c at the mean pace, in minutes; nil when the posts cannot keep up with it
	Backlog float64  `json:"backlog"` // most minutes of work that pile up when people came evenly within each part of the profile
}

// Quick gives the closed-form answer for each station. Without posts those are looked at that keep pace with the fullest hour: posts =
// ceil(arrivals in it / people that a post takes an hour). Steady is M/M/c times (1+cv²)/2 at the mean pace, with a post held until its meter is
// dry; an event from empty with peaks is not steady. Backlog takes people for a liquid: it misses what chance adds. A flow that cannot be and
// posts that do not fit are a *fault.Fault.
func (f Flow) Quick(posts []int) ([]QuickStation, error) {
	if err := f.Arrivals.check(); err != nil {
		return nil, err
	}
	if err := f.Funnel.check(); err != nil {
		return nil, err
	}
	if posts != nil && len(posts) != len(f.Stations) {
		return nil, bad("plan-posts", "", "%d numbers of posts do not fit %d stations.", len(posts), len(f.Stations))
	}
	open := f.Arrivals.Profile.Minutes()
	var all []QuickStation
	for k, s := range f.Stations {
		if _, err := s.Service.ready(s.Key); err != nil || s.Service.none() {
			return nil, bad("plan-minutes", "Give a positive mean in minutes.", "The time that %s takes with a person cannot be right.", s.Key)
		}
		people := f.Arrivals.Expected
		if k > 0 {
			people *= f.Funnel.stays()
		}
		peak := people * f.Arrivals.Profile.Peak() / math.Min(60, open)
		mean, cv := s.held(f.Funnel)
		q := QuickStation{Key: s.Key, Rate: 60 * peak, Load: float64(peak * mean), Posts: postsFor(peak, s, f.Funnel)}
		if posts != nil {
			q.Posts = posts[k]
		}
		if q.Posts < 1 || q.Posts > mostPosts {
			return nil, bad("plan-posts", "Give each station from 1 to 500 people.", "%d people at %s cannot be right.", q.Posts, s.Key)
		}
		if l, err := Steady(people/open, mean, q.Posts); err == nil { // else the line would grow for ever, which nil says
			wait, err := l.GeneralWait(cv)
			if err != nil {
				return nil, err
			}
			q.Steady = &wait
		}
		pace, pile := float64(q.Posts)/mean, 0.0
		for _, part := range f.Arrivals.Profile.Parts {
			pile = math.Max(0, pile+float64(people*part.Share)-float64(pace*part.Minutes))
			q.Backlog = math.Max(q.Backlog, pile/pace)
		}
		all = append(all, q)
	}
	return all, nil
}

// held gives the mean and the coefficient of variation of the time for which a person holds a post with a meter of its own.
func (s Station) held(f Funnel) (mean, cv float64) {
	square := func(d Dist) float64 { return float64(d.Mean*d.Mean) * (1 + float64(d.Spread()*d.Spread())) }
	m, sq := s.Service.Mean, square(s.Service)
	if !s.Referred.none() {
		m += float64(f.Referred * (s.Referred.Mean - m))
		sq += float64(f.Referred * (square(s.Referred) - sq))
	}
	variance := sq - float64(m*m)
	if !s.Repeat.none() {
		add := float64(f.Repeats * s.Repeat.Mean)
		variance += float64(f.Repeats*square(s.Repeat)) - float64(add*add)
		m += add
	}
	m += s.Wipe + s.Wet
	return m, math.Sqrt(math.Max(0, variance)) / m
}

package plan

import "math"

// Setup is how the stations are staffed.
type Setup struct {
	Posts  []int // by station
	Meters int   // in use where a station wipes them; 0 for one at each post
}

// ample stands for as many posts as there are people: nobody waits. Only the search uses it.
const ample = 0

func (d *Days) checkSetup(s Setup) error {
	if len(s.Posts) != len(d.flow.Stations) {
		return bad("plan-posts", "", "%d numbers of posts do not fit %d stations.", len(s.Posts), len(d.flow.Stations))
	}
	for i, n := range s.Posts {
		if n < 1 || n > mostPosts {
			return bad("plan-posts", "Give each station from 1 to 500 people.", "%d people at %s cannot be right.", n, d.flow.Stations[i].Key)
		}
	}
	if s.Meters < 0 || s.Meters > mostPosts {
		return bad("plan-meters", "Give from 1 to 500 meters.", "%d meters cannot be right.", s.Meters)
	}
	return nil
}

const mostPosts = 500

// scratch is what one day needs while it is walked through; it is kept from day to day.
type scratch struct {
	at    []float64 // when a person comes to the next line
	total []float64 // what a person has waited so far
	order []int32   // in which people come to it
	posts []float64 // when the posts are free, the earliest first
	dry   []float64 // when the meters are dry, the earliest first
	seen  []visits  // by station, when it is asked for
}

// visits keeps a day at one station, by person; start is NaN for those who never came to it.
type visits struct{ came, start []float64 }

// walk lets one day happen. It leaves the total wait of each person in s.total and the time of leaving in s.at.
//
// Whoever comes first takes the post that is free first: start = max(arrival, first free post, first dry meter). With the earliest free time
// always first this needs no list of events (Kiefer J, Wolfowitz J, Trans Am Math Soc 1955;78:1-18).
func (d *Days) walk(s *scratch, day int, setup Setup, look bool) {
	low, high := d.first[day], d.first[day+1]
	n := high - low
	s.at = append(s.at[:0], d.arrive[low:high]...)
	s.total, s.order = s.total[:0], s.order[:0]
	for i := range n {
		s.total = append(s.total, 0)
		s.order = append(s.order, int32(i))
	}
	if look && s.seen == nil {
		s.seen = make([]visits, len(d.flow.Stations))
	}
	for k := range d.flow.Stations {
		if k > 0 {
			s.passOn(d.marks[low:high], k == 1)
		}
		if look {
			s.seen[k].reset(n)
		}
		station, posts := &d.flow.Stations[k], setup.Posts[k]
		service := d.service[k][low:high]
		wet, meters := station.Wet, setup.Meters
		if meters == 0 {
			meters = posts
		}
		hold := station.Wipe
		if wet > 0 && meters == posts {
			hold, wet = hold+wet, 0 // each post waits for its own meter
		}
		if posts == ample {
			wet = 0
		}
		s.posts = zeros(s.posts, posts)
		s.dry = zeros(s.dry, meters)
		for _, i := range s.order {
			came := s.at[i]
			start := came
			if posts != ample && s.posts[0] > start {
				start = s.posts[0]
			}
			if wet > 0 && s.dry[0] > start {
				start = s.dry[0]
			}
			gone := start + service[i]
			if posts != ample {
				replaceFirst(s.posts, gone+hold)
			}
			if wet > 0 {
				replaceFirst(s.dry, gone+hold+wet)
			}
			s.total[i] += start - came
			s.at[i] = gone
			if look {
				s.seen[k].came[i], s.seen[k].start[i] = came, start
			}
		}
	}
}

// passOn puts the people in the order in which they leave one station for the next; ties keep their order. After the first station those who
// end there drop out. The order is nearly right already, so that each moves a few places.
func (s *scratch) passOn(marks []mark, afterFirst bool) {
	if afterFirst {
		on := s.order[:0]
		for _, i := range s.order {
			if marks[i]&goesOn != 0 {
				on = append(on, i)
			}
		}
		s.order = on
	}
	for j := 1; j < len(s.order); j++ {
		who := s.order[j]
		when := s.at[who]
		k := j
		for k > 0 && s.at[s.order[k-1]] > when {
			s.order[k] = s.order[k-1]
			k--
		}
		s.order[k] = who
	}
}

func (v *visits) reset(n int) {
	v.came, v.start = v.came[:0], v.start[:0]
	for range n {
		v.came = append(v.came, math.NaN())
		v.start = append(v.start, math.NaN())
	}
}

func zeros(x []float64, n int) []float64 {
	x = x[:0]
	for range n {
		x = append(x, 0)
	}
	return x
}

// few is up to how many times are cheaper kept in rising order than as a heap.
const few = 12

// replaceFirst takes the earliest of many times out and puts another in. The earliest always stands first: a few are kept in rising order, more
// as a heap.
func replaceFirst(x []float64, with float64) {
	i := 0
	if len(x) <= few {
		for ; i+1 < len(x) && x[i+1] < with; i++ {
			x[i] = x[i+1]
		}
		x[i] = with
		return
	}
	for {
		child := 2*i + 1
		if child >= len(x) {
			break
		}
		if child+1 < len(x) && x[child+1] < x[child] {
			child++
		}
		if x[child] >= with {
			break
		}
		x[i] = x[child]
		i = child
	}
	x[i] = with
}

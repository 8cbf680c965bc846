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

// scratch is what one day needs while it is walked through; it is kept from day to day, so that a day allocates nothing.
type scratch struct {
	at    []float64 // when a person leaves
	total []float64 // what a person has waited
	line  []place   // who comes to a station, in the order of coming
	next  []place   // to the one behind it; so many of it are filled
	n     int
	free  []int64   // when the posts are free, the earliest first, as ordered bits
	posts []float64 // the same as numbers, where they are many
	dry   []float64 // when the meters are dry, the earliest first
	seen  []visits  // by station, when it is asked for
}

// place is a person's place in a line.
type place struct {
	at  float64
	who int32
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
	s.at, s.total, s.line = sized(s.at, n), sized(s.total, n), sized(s.line, n)
	s.next, s.n = sized(s.next, n), 0
	for i, t := range d.arrive[low:high] {
		s.total[i] = 0
		s.line[i] = place{t, int32(i)}
	}
	if look && s.seen == nil {
		s.seen = make([]visits, len(d.flow.Stations))
	}
	marks := d.marks[low:high]
	for k := range d.flow.Stations {
		station, posts := &d.flow.Stations[k], setup.Posts[k]
		to := onward{first: k == 0, last: k == len(d.flow.Stations)-1}
		if look {
			s.seen[k].reset(n)
			to.seen = &s.seen[k]
		}
		service := d.service[k][low:high]
		wet, meters := station.Wet, setup.Meters
		if meters == 0 {
			meters = posts
		}
		hold := station.Wipe
		if wet > 0 && meters == posts {
			hold, wet = hold+wet, 0 // each post waits for its own meter
		}
		switch {
		case posts == ample:
			s.serveAll(to, service, marks)
		case wet == 0 && posts <= few:
			s.serveFew(to, service, marks, posts, hold)
		default:
			s.serveMany(to, service, marks, posts, meters, hold, wet)
		}
		s.line, s.next, s.n = s.next[:s.n], s.line[:n], 0
	}
}

// onward says where people go from a station, and whether its day is kept.
type onward struct {
	first, last bool
	seen        *visits // may be nil
}

// pass lets a person go who has been served: out, or to the place in the next line that the time of leaving gives. Who leaves at one moment
// keeps the order of the line before. The order is nearly right already, so that each moves a few places.
func (s *scratch) pass(to onward, marks []mark, p place, start, gone float64) {
	s.total[p.who] += start - p.at
	if to.seen != nil {
		to.seen.came[p.who], to.seen.start[p.who] = p.at, start
	}
	if to.last || to.first && marks[p.who]&goesOn == 0 { // after the first station those who end there drop out
		s.at[p.who] = gone
		return
	}
	k := s.n
	s.n++
	for k > 0 && s.next[k-1].at > gone {
		s.next[k] = s.next[k-1]
		k--
	}
	s.next[k] = place{gone, p.who}
}

// serveAll is a station where nobody waits.
func (s *scratch) serveAll(to onward, service []float64, marks []mark) {
	for _, p := range s.line {
		s.pass(to, marks, p, p.at, p.at+service[p.who])
	}
}

// serveFew is a station of few posts, kept in the order in which they are free. Times are not negative, so their bits are ordered as they are,
// and whole numbers are compared without a jump that a processor would have to guess.
func (s *scratch) serveFew(to onward, service []float64, marks []mark, posts int, hold float64) {
	s.free = sized(s.free, posts)
	free := s.free
	clear(free)
	for _, p := range s.line {
		start := math.Float64frombits(uint64(max(int64(math.Float64bits(p.at)), free[0])))
		gone := start + service[p.who]
		busy := int64(math.Float64bits(gone + hold))
		for i := 1; i < len(free); i++ {
			t := free[i]
			free[i-1], busy = min(t, busy), max(t, busy)
		}
		free[len(free)-1] = busy
		s.pass(to, marks, p, start, gone)
	}
}

// serveMany is a station of any number of posts, which may share meters.
func (s *scratch) serveMany(to onward, service []float64, marks []mark, posts, meters int, hold, wet float64) {
	s.posts, s.dry = sized(s.posts, posts), sized(s.dry, meters)
	clear(s.posts)
	clear(s.dry)
	for _, p := range s.line {
		start := max(p.at, s.posts[0])
		if wet > 0 {
			start = max(start, s.dry[0])
		}
		gone := start + service[p.who]
		replaceFirst(s.posts, gone+hold)
		if wet > 0 {
			replaceFirst(s.dry, gone+hold+wet)
		}
		s.pass(to, marks, p, start, gone)
	}
}

// sized gives a slice of a length, with the room of another where it suffices. What stands in it is anything.
func sized[T any](x []T, n int) []T {
	if cap(x) < n {
		return make([]T, n, n+n/2)
	}
	return x[:n]
}

func (v *visits) reset(n int) {
	v.came, v.start = v.came[:0], v.start[:0]
	for range n {
		v.came = append(v.came, math.NaN())
		v.start = append(v.start, math.NaN())
	}
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

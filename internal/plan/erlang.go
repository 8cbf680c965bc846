package plan

import "math"

// ErlangB gives the share of calls that are lost by a group of servers without a waiting line:
//
//	B(0) = 1, B(k) = a B(k-1) / (k + a B(k-1))
//
// with a the offered load in erlang, arrival rate times mean service time. No servers lose all; no load loses nothing. A negative number
// of servers or load, NaN and infinity are an error. Source: Erlang 1917; the recursion as in any text on teletraffic.
func ErlangB(servers int, load float64) (float64, error) {
	if servers < 0 || !finite(load, 0) {
		return 0, bad("plan-load", "", "%d posts with a load of %v cannot be computed.", servers, load)
	}
	b := 1.0
	for k := 1; k <= servers; k++ {
		b = float64(load*b) / (float64(k) + float64(load*b))
	}
	return b, nil
}

// ErlangC gives the probability that somebody has to wait in an M/M/c line: B / (1 - rho (1 - B)), rho = a/c. The load must stay below
// the number of servers, else the line grows for ever and that is an error; so is what ErlangB refuses. Source: Erlang 1917.
func ErlangC(servers int, load float64) (float64, error) {
	b, err := ErlangB(servers, load)
	if err != nil {
		return 0, err
	}
	if !(load < float64(servers)) {
		return 0, bad("plan-overload", "Add a post, or let fewer people come at once.", "%d posts cannot keep up with a load of %.4g: the line would grow for ever.", servers, load)
	}
	rho := load / float64(servers)
	return b / (1 - float64(rho*(1-b))), nil
}

// OfferedLoad gives the load in erlang at which a group of servers loses a share of its calls: the inverse of ErlangB, by bisection to
// the last bits. It needs at least one server and a share between 0 and 1, both excluded.
func OfferedLoad(servers int, blocking float64) (float64, error) {
	if servers < 1 || !(blocking > 0 && blocking < 1) {
		return 0, bad("plan-load", "", "No load makes %d posts lose a share of %v.", servers, blocking)
	}
	low, high := 0.0, float64(servers)
	at := func(a float64) float64 {
		b, _ := ErlangB(servers, a) // both arguments are in range
		return b
	}
	for at(high) < blocking {
		high *= 2
	}
	for range 200 {
		mid := low + (high-low)/2
		if mid == low || mid == high {
			break
		}
		if at(mid) < blocking {
			low = mid
		} else {
			high = mid
		}
	}
	return low + (high-low)/2, nil
}

// Line is the steady state of an M/M/c line: Poisson arrivals, exponential service times, one line for all posts, first come first
// served. Times have the unit of the mean service time that was given.
type Line struct {
	Posts    int     `json:"posts"`
	Load     float64 `json:"load"`     // a, in erlang
	Use      float64 `json:"use"`      // rho = a/c
	Blocking float64 `json:"blocking"` // Erlang B
	Waits    float64 `json:"waits"`    // Erlang C: probability of any wait
	Empty    float64 `json:"empty"`    // probability that nobody is there
	Wait     float64 `json:"wait"`     // mean wait, Wq = C / (c mu - lambda)
	Stay     float64 `json:"stay"`     // mean wait and service, W
	InLine   float64 `json:"in_line"`  // mean number who wait, Lq = lambda Wq
	Inside   float64 `json:"inside"`   // mean number who wait or are served, L = lambda W

	drain float64 // c mu - lambda
}

// Steady gives the steady state of an M/M/c line. arrivals is the rate per unit of time, mean the mean service time in the same unit.
// No arrivals give zeros and an empty line; a mean that is not positive, fewer than one post, NaN or infinity, or a load of as much as the
// posts are an error. An event starts empty and ends: its waits are shorter, or with peaked arrivals much longer, than the steady state
// says. Source: Gross D, Harris CM, Fundamentals of Queueing Theory.
func Steady(arrivals, mean float64, posts int) (Line, error) {
	if !finite(arrivals, 0) || !finite(mean, 0) || mean == 0 || posts < 1 {
		return Line{}, bad("plan-line", "", "A line of %d posts with a rate of %v and a mean time of %v cannot be computed.", posts, arrivals, mean)
	}
	load := float64(arrivals * mean)
	c, err := ErlangC(posts, load)
	if err != nil {
		return Line{}, err
	}
	b, err := ErlangB(posts, load)
	if err != nil {
		return Line{}, err
	}
	l := Line{Posts: posts, Load: load, Use: load / float64(posts), Blocking: b, Waits: c, Empty: emptyLine(posts, load), drain: (float64(posts) - load) / mean}
	l.Wait = c / l.drain
	l.Stay = l.Wait + mean
	l.InLine = float64(arrivals * l.Wait)
	l.Inside = float64(arrivals * l.Stay)
	return l, nil
}

// emptyLine gives p0 = 1 / (sum of a^k/k! below c + a^c/c! / (1 - rho)), summed in units of its largest term, so that neither many posts nor
// a small load overflow it. Above a load of some 745 erlang it is smaller than a number can be, and 0.
func emptyLine(posts int, load float64) float64 {
	if load == 0 {
		return 1
	}
	top := min(int(load), posts-1)
	sum, term := 1.0, 1.0
	for k := top; k > 0; k-- { // from the term of k to that of k-1
		term *= float64(k) / load
		sum += term
	}
	term = 1
	for k := top + 1; k < posts; k++ {
		term *= load / float64(k)
		sum += term
	}
	c := float64(posts)
	sum += float64(term*load/c) / (1 - load/c)
	most := float64(top)
	gamma, _ := math.Lgamma(most + 1)
	return math.Exp(gamma-float64(most*math.Log(load))) / sum
}

// WaitOver gives the probability of a wait longer than t: C exp(-(c mu - lambda) t); 1 for a negative t, NaN for NaN.
func (l Line) WaitOver(t float64) float64 {
	if t < 0 {
		return 1
	}
	return l.Waits * math.Exp(-float64(l.drain*t))
}

// WaitQuantile gives the wait that a share p of people does not pass: max(0, ln(C/(1-p)) / (c mu - lambda)). p must lie between 0 and 1, 1
// excluded.
func (l Line) WaitQuantile(p float64) (float64, error) {
	if !(p >= 0 && p < 1) {
		return 0, bad("plan-quantile", "", "A share of %v is not between 0 and 1.", p)
	}
	if l.Waits == 0 {
		return 0, nil
	}
	return math.Max(0, math.Log(l.Waits/(1-p))/l.drain), nil
}

// GeneralWait gives the mean wait when service times have another coefficient of variation than the exponential one: Wq (1 + cv²) / 2. It
// is exact for one post and for cv = 1; else an approximation, found within 3 % of simulation for cv up to 1 and 10 % high at 1.5. A
// negative or infinite cv is an error. Source: Lee AM, Longton PA 1959; Allen AO, Probability, Statistics and Queueing Theory.
func (l Line) GeneralWait(cv float64) (float64, error) {
	if !finite(cv, 0) {
		return 0, bad("plan-cv", "", "A coefficient of variation of %v cannot be used.", cv)
	}
	return float64(l.Wait*(1+float64(cv*cv))) / 2, nil
}

// Tandem gives the steady state of lines behind each other, all people passing all: each is an M/M/c line with the same arrivals. The
// second value is the mean time from door to door. Source: Burke 1956; Jackson 1957.
func Tandem(arrivals float64, means []float64, posts []int) ([]Line, float64, error) {
	if len(means) != len(posts) || len(means) == 0 {
		return nil, 0, bad("plan-line", "", "%d mean times do not fit %d stations.", len(means), len(posts))
	}
	lines, stay := make([]Line, len(means)), 0.0
	for i := range means {
		l, err := Steady(arrivals, means[i], posts[i])
		if err != nil {
			return nil, 0, err
		}
		lines[i] = l
		stay += l.Stay
	}
	return lines, stay, nil
}

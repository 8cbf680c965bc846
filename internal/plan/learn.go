package plan

import "math"

// How much the published values weigh against what was seen. Our own choice: after one event of a hundred people, or thirty measured services,
// what was seen counts as much as what was published.
const (
	weighShare   = 100 // people
	weighMinutes = 30  // services
	weighPosts   = 20  // volunteers
)

// Measured is a sum of service times in minutes.
type Measured struct {
	N   int     `json:"n"`
	Sum float64 `json:"sum"`
}

// Mean gives the mean time; NaN when nothing was measured.
func (m Measured) Mean() float64 {
	if m.N == 0 {
		return math.NaN()
	}
	return m.Sum / float64(m.N)
}

// Record is what was counted and measured at events that are over.
type Record struct {
	Events   int    `json:"events"`
	People   Count  `json:"people"`   // the sums of all events
	Quarters [4]int `json:"quarters"` // who came in each quarter of the opening; early ones in the first, late ones in the last

	Desk     Measured `json:"desk"`
	Test     Measured `json:"test"` // of people with one reading
	Explain  Measured `json:"explain"`
	Referral Measured `json:"referral"`

	Sticks   int `json:"sticks"`   // lancets used on people
	Misfires int `json:"misfires"` // lancets that failed
	Posted   int `json:"posted"`   // on a roster, their coming or not written down
	Away     int `json:"away"`
}

func (r Record) check() error {
	p := r.People
	for _, x := range [][2]int{
		{p.Left + p.NotEligible + p.Declined, p.Came},
		{p.Tested, p.Came},
		{p.Repeats, math.MaxInt},
		{p.Errors, math.MaxInt},
		{p.Referred, p.Tested},
		{p.Left, p.Came},
		{p.NotEligible, p.Came},
		{p.Declined, p.Came},
		{r.Away, r.Posted},
		{r.Misfires, math.MaxInt},
		{r.Sticks, math.MaxInt},
		{r.Events, math.MaxInt},
	} {
		if x[0] < 0 || x[0] > x[1] {
			return bad("plan-record", "", "A count of %d of %d at past events cannot be right.", x[0], x[1])
		}
	}
	for _, n := range r.Quarters {
		if n < 0 {
			return bad("plan-record", "", "A count of %d people in a part of past events cannot be right.", n)
		}
	}
	for _, m := range []Measured{r.Desk, r.Test, r.Explain, r.Referral} {
		if m.N < 0 || !finite(m.Sum, 0) || m.N == 0 && m.Sum != 0 {
			return bad("plan-record", "", "A sum of %v minutes in %d services cannot be right.", m.Sum, m.N)
		}
	}
	return nil
}

// Shrink draws a published value toward what was seen:
//
//	used = (w published + m seen) / (w + m), m = min(n, w events)
//
// w is how many observations the published value is worth, n how many were made. For a share this is the mean of the beta distribution that
// a prior with the published mean and the weight w becomes, for minutes that of a normal mean with known variance (Gelman A and others,
// Bayesian Data Analysis, chapter 2; from memory). The limit on m is our own: people of one event are alike in venue, hosts and hour, so one
// event, however large, never outweighs what was published. With n = 0 the published value stays, and seen may be NaN.
func Shrink(published, seen float64, w, n, events int) float64 {
	m := float64(min(n, w*events))
	if m <= 0 {
		return published
	}
	return (float64(float64(w)*published) + float64(m*seen)) / (float64(w) + m)
}

// Learned is one planning value with what it is made from.
type Learned struct {
	Key       string  `json:"key"`
	Published float64 `json:"published"`
	Seen      float64 `json:"seen"` // meant only when N > 0
	N         int     `json:"n"`    // people, services or volunteers
	Used      float64 `json:"used"`
}

// The keys of planning values; those of the quarters of the opening are Quarter1 to Quarter4.
const (
	KeyLeaves      = "leaves"
	KeyNotEligible = "not-eligible"
	KeyDeclines    = "declines"
	KeyRepeats     = "repeats"
	KeyErrors      = "errors"
	KeyReferred    = "referred"
	KeyDesk        = "desk"
	KeyTest        = "test"
	KeyExplain     = "explain"
	KeyReferral    = "referral"
	KeyMisfires    = "misfires"
	KeyNoShow      = "no-show"
	KeyQuarter     = "quarter-" // and 1 to 4
)

// Learn draws an input's defaults toward what past events have shown, and says for each value what it is made from. Of the times the means are
// drawn, their coefficients of variation stay as published. The profile becomes that of the quarters of the opening, drawn from the one given,
// when anybody was seen to come. Counts that cannot be are a *fault.Fault; an empty record changes nothing.
func Learn(in Input, r Record) (Input, []Learned, error) {
	if err := r.check(); err != nil {
		return Input{}, nil, err
	}
	var all []Learned
	draw := func(key string, value *float64, seen float64, w, n int) {
		l := Learned{Key: key, Published: *value, N: n, Used: Shrink(*value, seen, w, n, r.Events)}
		if n > 0 {
			l.Seen = seen
		}
		*value = l.Used
		all = append(all, l)
	}
	share := func(key string, value *float64, hits, of int) {
		seen := 0.0
		if of > 0 {
			seen = min(float64(hits)/float64(of), 1)
		}
		draw(key, value, seen, weighShare, of)
	}
	p := r.People
	share(KeyLeaves, &in.Funnel.Leaves, p.Left, p.Came)
	share(KeyNotEligible, &in.Funnel.NotEligible, p.NotEligible, p.Came)
	share(KeyDeclines, &in.Funnel.Declines, p.Declined, p.Came)
	share(KeyRepeats, &in.Funnel.Repeats, p.Repeats, p.Tested)
	share(KeyErrors, &in.Funnel.Errors, p.Errors, p.Tested)
	share(KeyReferred, &in.Funnel.Referred, p.Referred, p.Tested)
	minutes := func(key string, d *Dist, m Measured) { draw(key, &d.Mean, m.Mean(), weighMinutes, m.N) }
	minutes(KeyDesk, &in.Times.Desk, r.Desk)
	minutes(KeyTest, &in.Times.Test, r.Test)
	minutes(KeyExplain, &in.Times.Explain, r.Explain)
	minutes(KeyReferral, &in.Times.Referral, r.Referral)
	share(KeyMisfires, &in.Store.Misfires, r.Misfires, r.Sticks)
	away := 0.0
	if r.Posted > 0 {
		away = float64(r.Away) / float64(r.Posted)
	}
	draw(KeyNoShow, &in.NoShow, away, weighPosts, r.Posted)
	in.NoShow = min(in.NoShow, 0.9)

	came, open := 0, in.Profile.Minutes()
	for _, n := range r.Quarters {
		came += n
	}
	own := Profile{Name: "as seen"}
	for k, n := range r.Quarters {
		x := in.Profile.Between(open*float64(k)/4, open*float64(k+1)/4)
		seen := 0.0
		if came > 0 {
			seen = float64(n) / float64(came)
		}
		draw(KeyQuarter+string(rune('1'+k)), &x, seen, weighShare, came)
		own.Parts = append(own.Parts, Part{open / 4, x})
	}
	if came > 0 && r.Events > 0 {
		in.Profile = own
	}
	return in, all, nil
}

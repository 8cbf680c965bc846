package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
)

// Hours is when the doors are open, in minutes after midnight.
type Hours struct {
	Open  int `json:"open"`
	Close int `json:"close"`
}

// ParseHours reads hours like 09:00-13:00 of one day. The event lasts from half an hour to 16 hours.
func ParseHours(text string) (Hours, error) {
	refuse := func() (Hours, error) {
		return Hours{}, bad("plan-hours", "Write them like 09:00-13:00.", "The hours %q cannot be read.", text)
	}
	from, to, ok := strings.Cut(text, "-")
	if !ok {
		return refuse()
	}
	open, okOpen := parseClock(from)
	end, okClose := parseClock(to)
	if !okOpen || !okClose {
		return refuse()
	}
	h := Hours{open, end}
	return h, h.check()
}

func parseClock(text string) (int, bool) {
	h, m, ok := strings.Cut(strings.TrimSpace(text), ":")
	hour, errH := strconv.ParseUint(h, 10, 8)
	minute, errM := strconv.ParseUint(m, 10, 8)
	if !ok || errH != nil || errM != nil || len(m) != 2 || hour > 24 || minute > 59 || hour == 24 && minute > 0 {
		return 0, false
	}
	return int(hour)*60 + int(minute), true
}

// Minutes gives how long the doors are open.
func (h Hours) Minutes() int { return h.Close - h.Open }

// String gives the hours as they are typed.
func (h Hours) String() string {
	return fmt.Sprintf("%02d:%02d-%02d:%02d", h.Open/60, h.Open%60, h.Close/60, h.Close%60)
}

func (h Hours) check() error {
	switch {
	case h.Open < 0 || h.Close > 24*60:
		return bad("plan-hours", "An event starts and ends on one day.", "The hours from minute %d to %d do not lie on one day.", h.Open, h.Close)
	case h.Close <= h.Open:
		return bad("plan-hours", "Write first when the doors open, then when they close.", "The doors cannot close at %02d:%02d when they open at %02d:%02d.", h.Close/60, h.Close%60, h.Open/60, h.Open%60)
	case h.Minutes() < 30 || h.Minutes() > 16*60:
		return bad("plan-hours", "Plan from half an hour to 16 hours; longer events as several.", "An event of %d minutes cannot be planned.", h.Minutes())
	}
	return nil
}

// Part is a stretch of the opening in which people come at an even pace.
type Part struct {
	Minutes float64 `json:"minutes"`
	Share   float64 `json:"share"` // of all who come
}

// Profile says how the arrivals spread over the opening.
type Profile struct {
	Name  string `json:"name"`
	Parts []Part `json:"parts"` // the shares add up to 1
}

// frontShares are the arrivals by quarter of the opening when most come early: our own proposal for a four-hour fair (common practice; no
// paper gives one).
var frontShares = []float64{0.30, 0.35, 0.22, 0.13}

// lunchFrom and lunchTo are when a fair in a lunch break is fullest, in minutes after midnight, and lunchTimes how many times the pace is
// that of the other hours (common practice).
const (
	lunchFrom  = 11*60 + 30
	lunchTo    = 13*60 + 30
	lunchTimes = 2.5
)

// ParseProfile reads how people come:
//
//	flat         at one pace
//	front        30, 35, 22 and 13 % in the quarters of the opening
//	lunch        from 11:30 to 13:30 two and a half times as many an hour as else
//	25,30,19,10  one number for each hour of the opening, the last for what is left of it; only their proportions count
func ParseProfile(text string, h Hours) (Profile, error) {
	if err := h.check(); err != nil {
		return Profile{}, err
	}
	whole := float64(h.Minutes())
	switch text {
	case "flat":
		return Profile{text, []Part{{whole, 1}}}, nil
	case "front":
		p := Profile{Name: text}
		for _, s := range frontShares {
			p.Parts = append(p.Parts, Part{whole / float64(len(frontShares)), s})
		}
		return p, nil
	case "lunch":
		return lunch(h)
	}
	if !strings.ContainsAny(text, ",0123456789") {
		return Profile{}, bad("plan-profile", "Use flat, front, lunch or one number an hour, like 25,30,19,10.", "The profile %q is not known.", text)
	}
	var each []float64
	for _, word := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(word), 64)
		if err != nil || !finite(x, 0) {
			return Profile{}, bad("plan-profile", "Write one number an hour, like 25,30,19,10.", "%q in the profile is not a number of people.", word)
		}
		each = append(each, x)
	}
	return ByHour(each, h)
}

// ByHour makes a profile from a number for each hour of the opening, the last one for what is left of it. Only their proportions count. A
// negative number, none above 0, or not one an hour is an error.
func ByHour(each []float64, h Hours) (Profile, error) {
	if err := h.check(); err != nil {
		return Profile{}, err
	}
	hours := (h.Minutes() + 59) / 60
	if len(each) != hours {
		return Profile{}, bad("plan-profile", "Write one number for each hour.", "The profile has %d numbers, but %s has %d hours.", len(each), h, hours)
	}
	sum := 0.0
	for _, x := range each {
		if !finite(x, 0) {
			return Profile{}, bad("plan-profile", "Write one number for each hour.", "%v in the profile is not a number of people.", x)
		}
		sum += x
	}
	if !finite(sum, 0) || sum == 0 {
		return Profile{}, bad("plan-profile", "Give at least one hour a number above 0.", "By the profile nobody comes.")
	}
	p, left := Profile{Name: "own"}, h.Minutes()
	for _, x := range each {
		p.Parts = append(p.Parts, Part{float64(min(left, 60)), x / sum})
		left -= 60
	}
	return p, nil
}

func lunch(h Hours) (Profile, error) {
	from, to := max(h.Open, lunchFrom), min(h.Close, lunchTo)
	if from >= to {
		return Profile{}, bad("plan-profile", "Use flat or front.", "The doors are closed over lunch, 11:30 to 13:30.")
	}
	before, in, after := float64(from-h.Open), float64(to-from), float64(h.Close-to)
	whole := before + float64(lunchTimes*in) + after
	p := Profile{Name: "lunch"}
	for _, part := range []Part{{before, before / whole}, {in, float64(lunchTimes*in) / whole}, {after, after / whole}} {
		if part.Minutes > 0 {
			p.Parts = append(p.Parts, part)
		}
	}
	return p, nil
}

// Minutes gives how long the profile lasts.
func (p Profile) Minutes() float64 {
	sum := 0.0
	for _, part := range p.Parts {
		sum += part.Minutes
	}
	return sum
}

func (p Profile) check() error {
	sum := 0.0
	for _, part := range p.Parts {
		if !finite(part.Minutes, 0) || part.Minutes == 0 || !share(part.Share) {
			return bad("plan-profile", "", "A part of %v minutes with a share of %v cannot be used.", part.Minutes, part.Share)
		}
		sum += part.Share
	}
	if len(p.Parts) == 0 || math.Abs(sum-1) > 1e-9 {
		return bad("plan-profile", "", "The shares of the profile make %v, not 1.", sum)
	}
	return nil
}

// Between gives the share of all who come between two times.
func (p Profile) Between(from, to float64) float64 {
	start, sum := 0.0, 0.0
	for _, part := range p.Parts {
		end := start + part.Minutes
		if in := math.Min(to, end) - math.Max(from, start); in > 0 {
			sum += float64(part.Share * in / part.Minutes)
		}
		start = end
	}
	return sum
}

// Peak gives the greatest share of all who come within one hour that begins on a quarter hour, or within the whole opening if that is
// shorter.
func (p Profile) Peak() float64 {
	most := 0.0
	for from := 0.0; ; from += 15 {
		most = math.Max(most, p.Between(from, from+60))
		if from+60 >= p.Minutes() {
			return most
		}
	}
}

// Arrivals is how many come, and when.
type Arrivals struct {
	Expected float64 `json:"expected"`
	Profile  Profile `json:"profile"`
	// Scatter is by how much the turnout itself is unsure: the coefficient of variation of its mean over events planned alike. The number of
	// people then has the variance m + m² Scatter², a negative binomial with size 1/Scatter²; 0 is a Poisson number.
	Scatter float64 `json:"scatter"`
}

func (a Arrivals) check() error {
	if !finite(a.Expected, 1) {
		return bad("plan-expected", "Give the number of people that you expect, at least 1.", "An event with %v expected people cannot be planned.", a.Expected)
	}
	if !finite(a.Scatter, 0) || a.Scatter > 2 {
		return bad("plan-scatter", "Give a coefficient of variation from 0 to 2.", "A turnout that scatters by %v cannot be planned.", a.Scatter)
	}
	return a.Profile.check()
}

// draw appends the times of one day to a slice, in order: a Poisson process of unit rate, stretched by the profile, with the whole day
// fuller or emptier by one gamma number.
func (a Arrivals) draw(times []float64, rng *rand.Rand) []float64 {
	mean := a.Expected
	if a.Scatter >= noSpread {
		shape := 1 / float64(a.Scatter*a.Scatter)
		mean *= drawGamma(shape, rng) / shape
	}
	at, start, before := rng.ExpFloat64(), 0.0, 0.0 // of the unit process; where a part begins, in minutes and in people
	for _, part := range a.Profile.Parts {
		people := float64(mean * part.Share)
		for at < before+people {
			times = append(times, start+float64((at-before)/people*part.Minutes))
			at += rng.ExpFloat64()
		}
		before += people
		start += part.Minutes
	}
	return times
}

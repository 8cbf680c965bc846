package protocol

import (
	"fmt"
	"time"

	"fairstick/internal/civil"
)

// Calling is how the people who were referred are followed up until it is known whether they were seen. The days on which
// they are called stand in Protocol.FollowUp; this is what happens around them. A person is called from the first to the last
// of Hours, which cut the day into its parts: a second try falls into a part in which nobody has tried yet.
type Calling struct {
	Attempts           int           `json:"attempts"`             // tries in a row that do not reach the person, before a letter is written
	OtherFrom          int           `json:"other_from"`           // from this try on another channel than before is used
	HoursBetween       int           `json:"hours_between"`        // at least, between two tries
	HoursBetweenUrgent int           `json:"hours_between_urgent"` // the same after a critical finding
	Hours              []civil.Clock `json:"hours"`                // edges of the parts of the day, rising
	Evening            civil.Clock   `json:"evening"`              // from when the call of the same day is made
	SweepDay           int           `json:"sweep_day"`            // day after the event on which the outcome is asked once more
	LastDay            int           `json:"last_day"`             // after this day nobody is called any more
	HoldMinutes        int           `json:"hold_minutes"`         // how long a person is held for whoever opened their number
	Source             string        `json:"source"`
}

// CallingRules gives the rules of following up: those of this protocol, or those that Fairstick ships with when the document
// is older than they are.
func (p Protocol) CallingRules() Calling {
	if p.Calling.Attempts == 0 {
		return Default().Calling
	}
	return p.Calling
}

// PartOf gives the part of the day in which a moment of the wall clock lies, from 0; -1 outside of the hours of calling.
func (c Calling) PartOf(t time.Time) int {
	at := civil.Clock(t.Hour()*60 + t.Minute())
	for i := 0; i+1 < len(c.Hours); i++ {
		if at >= c.Hours[i] && at < c.Hours[i+1] {
			return i
		}
	}
	return -1
}

// Parts counts the parts of the day.
func (c Calling) Parts() int { return max(len(c.Hours)-1, 0) }

// Between gives the least time between two tries.
func (c Calling) Between(urgent bool) time.Duration {
	if urgent {
		return time.Duration(c.HoursBetweenUrgent) * time.Hour
	}
	return time.Duration(c.HoursBetween) * time.Hour
}

func (p Protocol) checkCalling(c check) {
	r := p.Calling
	if r.Attempts == 0 && r.SweepDay == 0 && len(r.Hours) == 0 {
		return // an older document: CallingRules answers for it
	}
	c.between(r.Attempts, 1, 10, "calling.attempts")
	c.between(r.OtherFrom, 1, 11, "calling.other_from")
	c.between(r.HoursBetween, 1, 24*14, "calling.hours_between")
	c.between(r.HoursBetweenUrgent, 1, 24, "calling.hours_between_urgent")
	c.that(len(r.Hours) >= 2, "calling.hours", "The hours of calling need a beginning and an end.")
	for i := 1; i < len(r.Hours); i++ {
		c.that(r.Hours[i] > r.Hours[i-1], fmt.Sprintf("calling.hours[%d]", i), "%s does not come after %s.", r.Hours[i], r.Hours[i-1])
	}
	if len(r.Hours) >= 2 {
		c.that(r.Evening >= r.Hours[0] && r.Evening < r.Hours[len(r.Hours)-1], "calling.evening", "%s is not within the hours of calling.", r.Evening)
	}
	last := 0
	for _, days := range p.FollowUp {
		for _, d := range days {
			last = max(last, d)
		}
	}
	c.between(r.SweepDay, last+1, 366, "calling.sweep_day")
	c.between(r.LastDay, r.SweepDay, 732, "calling.last_day")
	c.between(r.HoldMinutes, 1, 240, "calling.hold_minutes")
	c.filled(r.Source, "calling.source")
}

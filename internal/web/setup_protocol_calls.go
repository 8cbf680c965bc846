package web

import (
	"fmt"

	"fairstick/internal/protocol"
)

// callingItems are the rules around the days of calling.
func callingItems(form dayForm, r protocol.Calling) []item {
	return []item{
		field(count(form, "calling.attempts", "Tries in a row before a letter", r.Attempts, "tries", "")),
		field(count(form, "calling.other_from", "Another channel from try", r.OtherFrom, "", "A text, an e-mail, or in person.")),
		field(count(form, "calling.hours_between", "At least between two tries", r.HoursBetween, "hours", "Each try falls into another part of the day.")),
		field(count(form, "calling.hours_between_urgent", "The same after a critical finding", r.HoursBetweenUrgent, "hours", "")),
		field(count(form, "calling.sweep_day", "The outcome is asked once more on day", r.SweepDay, "", "")),
		field(count(form, "calling.last_day", "Nobody is called after day", r.LastDay, "", "")),
		field(count(form, "calling.hold_minutes", "Whoever opens a number has the person for", r.HoldMinutes, "minutes", "Nobody else can call them meanwhile.")),
	}
}

// calling reads the rules around the days of calling. A document that is older than they are takes them over when they change.
func (e *protocolEditor) calling() {
	r := e.p.CallingRules()
	changed := false
	for _, n := range []struct {
		name, label string
		into        *int
	}{
		{"attempts", "The tries", &r.Attempts},
		{"other_from", "The try", &r.OtherFrom},
		{"hours_between", "The hours between two tries", &r.HoursBetween},
		{"hours_between_urgent", "The hours after a critical finding", &r.HoursBetweenUrgent},
		{"sweep_day", "The day of the last question", &r.SweepDay},
		{"last_day", "The last day of calling", &r.LastDay},
		{"hold_minutes", "The minutes", &r.HoldMinutes},
	} {
		changed = e.number("calling."+n.name, n.label, n.into) || changed
	}
	if !changed {
		return
	}
	e.p.Calling = r
	e.sourced(true, "the rules of calling", &e.p.Calling.Source)
}

// callingFact says the rules around the days of calling in a sentence.
func callingFact(r protocol.Calling) pairText {
	s := fmt.Sprintf("At most %s in a row, at least %d hours apart (%d after a critical finding), from try %d by another channel; then a letter. The outcome is asked once more on day %d, and nobody is called after day %d.",
		plural(r.Attempts, "try", "tries"), r.HoursBetween, r.HoursBetweenUrgent, r.OtherFrom, r.SweepDay, r.LastDay)
	if n := len(r.Hours); n > 1 {
		s += fmt.Sprintf(" Calls are made from %s to %s.", r.Hours[0], r.Hours[n-1])
	}
	return pairText{Name: "Calls", English: s + " " + r.Source}
}

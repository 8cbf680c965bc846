package programme

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/followup"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// A figure is one count of people with its one definition. Every report takes its figures from here, so that two reports cannot
// differ, and the rows behind a figure are found by the same question that counts them.
type Figure struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Of   string `json:"of,omitempty"` // key of the figure that it is a part of; empty for the first
	Says string `json:"says"`         // who is counted, in a sentence

	counts func(*counted) bool
}

// counted is one visit as a figure sees it.
type counted struct {
	visit.Tally
	after after
}

func (c *counted) yes(question string) bool { return slices.Contains(c.Yes, question) }

// knownDiabetes is the key of the question in the shipped protocol by which people who know that they have diabetes are counted
// apart.
const knownDiabetes = "known-diabetes"

// after is what became of a referral, as the follow-up says.
type after struct {
	Tried, Reached bool
	Outcome        followup.Outcome // that stands; empty while it is open
	Days           int              // from the day of the event to the day on which the person was seen
	Found          bool             // the person told that a clinician has found diabetes
}

func outcome(word followup.Outcome) func(*counted) bool {
	return func(c *counted) bool { return c.Refer && c.after.Outcome == word }
}

func seenWithin(days int) func(*counted) bool {
	return func(c *counted) bool {
		return c.Refer && c.after.Outcome == followup.Seen && c.after.Days <= days
	}
}

func basis(b protocol.Basis) func(*counted) bool {
	return func(c *counted) bool { return c.Tested && c.Band != "" && c.Basis == b }
}

// figureList is every figure about people in the order of the way through an event.
var figureList = append([]Figure{
	{"approached", "Came to the desk", "", "People who took a ticket. People who passed by without one are not known.", func(*counted) bool { return true }},
	{"consented", "Consented", "approached", "People who said yes to the consent text.", func(c *counted) bool { return c.Consented }},
	{"eligible", "Eligible", "approached", "People who answered the questions and were not turned away by the protocol.", func(c *counted) bool { return c.Answered && c.Eligible }},
	{"tested", "Tested", "approached", "People with at least one value: a number, LO or HI. A recheck after sugar alone does not count.", func(c *counted) bool { return c.Tested }},
	{"valid", "With a result", "tested", "People tested whose reading led to a finding that stands.", func(c *counted) bool { return c.Tested && c.Band != "" }},
	{"not-eligible", "Not eligible", "approached", "People whom the protocol turned away before a test.", func(c *counted) bool { return c.Phase == visit.NotEligible }},
	{"declined", "Declined", "approached", "People who said no to the consent or to the fingerstick.", func(c *counted) bool { return c.Phase == visit.HasDeclined }},
	{"left", "Left before the test", "approached", "People who went away before they were tested.", func(c *counted) bool { return c.Phase == visit.Gone && !c.Tested }},
	{"unfinished", "Not finished", "approached", "People who are neither tested nor gone: the event still runs, or a ticket was left open.", func(c *counted) bool { return !c.Phase.Ended() && !c.Tested }},
	{"known", "Know that they have diabetes", "approached", "People who answered that they live with diabetes. They are counted apart in every yield.", func(c *counted) bool { return c.yes(knownDiabetes) }},
	{"known-tested", "Tested, and know that they have diabetes", "tested", "People tested who answered that they live with diabetes.", func(c *counted) bool { return c.Tested && c.yes(knownDiabetes) }},
	{"fasting", "Fasting", "valid", "People with a result whose last food was long enough ago for the limits of fasting.", basis(protocol.Fasting)},
	{"random", "Not fasting", "valid", "People with a result judged by the limits for not fasting, and those whose last food is not known.", basis(protocol.Random)},
	{"outside", "Outside the usual range", "valid", "People with a result in any band but the usual one.", func(c *counted) bool { return c.Tested && c.Band != "" && c.Band != protocol.Usual }},
	{"repeated", "Repeated", "tested", "People with a second value before the result was given.", func(c *counted) bool { return c.Repeats > 0 }},
	{"care", "Needed care at once", "tested", "People tested for whom care was opened: a critical or low reading, or signs.", func(c *counted) bool { return c.Tested && c.Care != "" }},
	{"critical", "Critical", "valid", "People whose finding is critical in the protocol.", func(c *counted) bool { return c.Critical }},
	{"slips", "With a result slip", "tested", "People tested who were handed a slip.", func(c *counted) bool { return c.Tested && c.Slip }},
	{"explained", "Explained to", "tested", "People tested to whom the finding was explained.", func(c *counted) bool { return c.Tested && c.Explained }},
	{"referred", "Referred", "tested", "People whose finding asks for a referral in the protocol.", func(c *counted) bool { return c.Refer }},
	{"may-call", "May be called", "referred", "People referred who gave permission to be called about it.", func(c *counted) bool { return c.Refer && c.Written && c.Call }},
	{"no-call", "Gave no permission", "referred", "People referred who gave no permission to be called.", func(c *counted) bool { return c.Refer && c.Written && !c.Call }},
	{"not-written", "Referral not written down", "referred", "People whose finding asks for a referral that nobody wrote down.", func(c *counted) bool { return c.Refer && !c.Written }},
	{"tried", "Tried", "referred", "People referred whom somebody has tried to reach at least once.", func(c *counted) bool { return c.Refer && c.after.Tried }},
	{"reached", "Reached", "referred", "People referred with whom somebody has spoken or written.", func(c *counted) bool { return c.Refer && c.after.Reached }},
	{"unreachable", "No answer", "referred", "People referred who could not be reached in as many tries as the protocol asks for.", outcome(followup.Unreachable)},
	{"wrong-number", "Wrong number", "referred", "People referred whose number was wrong.", outcome(followup.BadNumber)},
	{"seen", "Seen", "referred", "People referred who were seen by a clinician, as they or the clinic told. This is completion: of everybody referred, never of those reached.", outcome(followup.Seen)},
	{"seen-30", "Seen within 30 days", "referred", "People seen no later than 30 days after the event, by the day that was told, or else the day on which it was told.", seenWithin(30)},
	{"seen-90", "Seen within 90 days", "referred", "People seen no later than 90 days after the event, by the day that was told, or else the day on which it was told.", seenWithin(90)},
	{"scheduled", "Have an appointment", "referred", "People referred who have a date and were not seen yet.", outcome(followup.Scheduled)},
	{"not-yet", "Not yet", "referred", "People referred who were reached and have not gone yet.", outcome(followup.NotYet)},
	{"declined-care", "Declined", "referred", "People referred who do not want to be seen or to be called again.", outcome(followup.Declined)},
	{"in-care", "In care already", "referred", "People referred who told that they were in care for it already.", outcome(followup.AlreadyKnown)},
	{"diagnosed", "New diagnosis, as told", "referred", "People referred who told that a clinician has found diabetes, and had not said at the desk that they knew. This program diagnoses nothing.", func(c *counted) bool { return c.Refer && c.after.Found && !c.yes(knownDiabetes) }},
}, bandFigures()...)

// bandFigures are the bands, all and by basis.
func bandFigures() []Figure {
	var out []Figure
	for _, b := range protocol.Bands {
		out = append(out, Figure{"band-" + string(b), "Band " + string(b), "valid", "People with a result in the band " + string(b) + " of the protocol.", func(c *counted) bool { return c.Tested && c.Band == b }})
	}
	for _, base := range protocol.Bases {
		of := string(base)
		for _, b := range protocol.Bands {
			in := basis(base)
			out = append(out, Figure{of + "-" + string(b), "Band " + string(b) + ", " + of, of, "People with a result in the band " + string(b) + ", judged as " + of + ".", func(c *counted) bool { return in(c) && c.Band == b }})
		}
	}
	return out
}

var figureAt = func() map[string]int {
	at := map[string]int{}
	for i, f := range figureList {
		at[f.Key] = i
	}
	return at
}()

// FigureList gives every figure about people with its definition.
func FigureList() []Figure { return slices.Clone(figureList) }

// FigureOf finds a figure by its key.
func FigureOf(key string) (Figure, bool) {
	i, ok := figureAt[key]
	if !ok {
		return Figure{}, false
	}
	return figureList[i], true
}

// Counts is every figure about some people.
type Counts struct{ n []int }

func newCounts() Counts { return Counts{make([]int, len(figureList))} }

// N gives one figure; a key that is no figure is a mistake of the program.
func (c Counts) N(key string) int {
	i, ok := figureAt[key]
	if !ok {
		panic("programme: no figure " + key)
	}
	if c.n == nil {
		return 0
	}
	return c.n[i]
}

// Share gives a figure with its own denominator and the 95 % interval.
func (c Counts) Share(key string) Share {
	f, _ := FigureOf(key)
	if f.Of == "" {
		return Share{N: c.N(key), Of: c.N(key)}
	}
	return share(c.N(key), c.N(f.Of))
}

// MarshalJSON writes the figures by key, in the order of the list.
func (c Counts) MarshalJSON() ([]byte, error) {
	var b strings.Builder
	b.WriteByte('{')
	for i, f := range figureList {
		if i > 0 {
			b.WriteByte(',')
		}
		n := 0
		if c.n != nil {
			n = c.n[i]
		}
		key, err := json.Marshal(f.Key)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%s:%d", key, n)
	}
	b.WriteByte('}')
	return []byte(b.String()), nil
}

// Further ways in which people are parted for a table, beside those of a Completion.
const (
	ByAge    = "age"
	ByReason = "reason" // of those who were not eligible or declined
	ByKnown  = "known"
)

// parts says in which part of each parting a visit falls; an empty answer leaves it out.
var parts = map[string]func(*counted) string{
	ByLanguage: func(c *counted) string { return c.Language },
	ByAge:      func(c *counted) string { return ageGroup(c.Age) },
	ByPermission: func(c *counted) string {
		switch {
		case !c.Refer:
			return ""
		case c.Written && c.Call:
			return "yes"
		}
		return "no"
	},
	ByReason: func(c *counted) string {
		if c.Phase == visit.NotEligible || c.Phase == visit.HasDeclined {
			if c.Phase == visit.HasDeclined {
				return "declined the " + c.Reason
			}
			return c.Reason
		}
		return ""
	},
	ByKnown: func(c *counted) string {
		switch {
		case !c.Answered:
			return "not-asked"
		case c.yes(knownDiabetes):
			return "yes"
		}
		return "no"
	},
	about.Race: aboutPart(about.Race), about.Sex: aboutPart(about.Sex), about.Zip: aboutPart(about.Zip), about.Insurance: aboutPart(about.Insurance),
	about.Doctor: aboutPart(about.Doctor), about.First: aboutPart(about.First), about.Easy: aboutPart(about.Easy),
}

// AgeGroups are the groups of age in reports, for reading alone: no rule rests on them.
var AgeGroups = []string{"under 18", "18 to 34", "35 to 44", "45 to 54", "55 to 64", "65 to 74", "75 and older", "not asked"}

func ageGroup(years int) string {
	switch {
	case years <= 0:
		return AgeGroups[7]
	case years < 18:
		return AgeGroups[0]
	case years < 35:
		return AgeGroups[1]
	case years < 75:
		return AgeGroups[2+(years-35)/10]
	}
	return AgeGroups[6]
}

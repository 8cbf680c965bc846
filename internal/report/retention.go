package report

import (
	"fmt"
	"strings"
	"time"

	"fairstick/internal/programme"
	"fairstick/internal/retention"
)

// RetentionWords are what a kind of record is called, and what happens when its time is over.
var RetentionWords = map[retention.Class][2]string{
	retention.Contacts:   {"Names and telephone numbers of participants", "erased by destroying their keys"},
	retention.Results:    {"Readings, answers and consent, by ticket", "stay in the record without a name; destroy the paper"},
	retention.Quality:    {"Controls, lots, meters, comparisons", "stay in the record; destroy the paper"},
	retention.Training:   {"Verifications and training of the staff", "stay in the record; destroy the paper"},
	retention.Sharps:     {"Sharps injury log", "stays in the record; confidential"},
	retention.Incidents:  {"Other incidents", "stay in the record"},
	retention.Governance: {"Protocols, rules, signatures", "stay in the record"},
}

// KeptFor says how long a kind of record is kept at least.
func KeptFor(r retention.Rule) string {
	text := plural(r.Months, "month", "months")
	if r.Months%12 == 0 {
		text = plural(r.Months/12, "year", "years")
	}
	if r.YearEnd {
		text += " after the end of the year"
	}
	return text
}

// KeptState says how many there are of a kind of record, and how many are over their time.
func KeptState(x programme.ClassReview) string {
	one := strings.TrimSuffix(x.Unit, "s")
	if x.Unit == "people" {
		one = "person"
	}
	switch {
	case x.N > 0 && x.Over > 0:
		return fmt.Sprintf("%d of %s over their time", x.Over, plural(x.N, one, x.Unit))
	case x.N > 0:
		return fmt.Sprintf("%s, none over; the oldest until %s", plural(x.N, one, x.Unit), x.Until.Long())
	}
	return "none yet"
}

// RetentionSays sums a review up.
func RetentionSays(r *programme.RetentionReview) string {
	if r.Erase+r.Held == 0 {
		return "No contact is over its time."
	}
	return fmt.Sprintf("%s can go, %d must stay. For %d of those that can go somebody may still have to call.", plural(r.Erase, "contact", "contacts"), r.Held, r.Waiting)
}

// RetentionTimes says who put the times in force; nothing while they are proposed.
func RetentionTimes(s *retention.State, zone *time.Location) string {
	a := s.Adopted
	if a == nil {
		return ""
	}
	return fmt.Sprintf("Adopted on %s, signed by %s and %s.", s.At.In(zone).Format("2 Jan 2006"), a.First.Name, a.Second.Name)
}

// Retention writes the yearly review: what is over its time, what must stay and why, and what was erased. It stays in the house and
// names no participant.
func Retention(r *programme.RetentionReview, name string, made time.Time) Sheet {
	s := Sheet{
		Kind: "retention", Title: "How long records are kept", Subtitle: "Review of " + r.Today.Long(), Programme: name, Made: made, Span: programme.Span{From: r.Today, To: r.Today}, Opens: "In short",
		Brief: []string{RetentionTimes(r.Rules, made.Location()), RetentionSays(r), "Local law comes first. Nothing is erased by this report."},
	}
	if s.Brief[0] == "" {
		s.Brief[0] = "These times are proposed. Nothing can be erased until the programme has adopted its own."
	}
	kindsOf := Part{
		Key: "kinds", Heading: "What is kept, and for how long?",
		Cols: []Col{{Label: "Kind"}, {Label: "Kept at least"}, {Label: "How it stands"}, {Label: "All", Num: true}, {Label: "Over", Num: true}, {Label: "Then"}, {Label: "Rests on"}},
	}
	for _, x := range r.Classes {
		words := RetentionWords[x.Rule.Class]
		kindsOf.Rows = append(kindsOf.Rows, []Cell{text(words[0]), text(KeptFor(x.Rule)), text(KeptState(x)), thing(x.N), thing(x.Over), text(words[1]), text(x.Rule.Source)})
	}
	over := Part{
		Key: "over", Heading: "Which contacts are over their time?", Empty: "None: no event is so long ago.",
		Cols: []Col{{Label: "Event"}, {Label: "Day"}, {Label: "Kept until"}, {Label: "Can go", Num: true}, {Label: "Must stay"}},
	}
	for _, o := range r.Over {
		held := "nobody"
		if len(o.Held) > 0 {
			held = strings.Join(o.Held, "; ")
		}
		over.Rows = append(over.Rows, []Cell{text(o.Event.Plan.Name), text(o.Event.Plan.Date.Long()), text(o.Until.Long()), thing(o.Erase), text(held)})
	}
	gone := Part{
		Key: "erased", Heading: "What was erased?", Empty: "Nothing yet.",
		Cols: []Col{{Label: "Erased"}, {Label: "Contacts", Num: true}, {Label: "Had to stay", Num: true}, {Label: "Of events up to"}, {Label: "Signed by"}},
	}
	for _, e := range r.Erasures {
		gone.Rows = append(gone.Rows, []Cell{text(e.At.In(made.Location()).Format("15:04 on 2 Jan 2006")), thing(e.Visits), thing(e.Held), text(e.Through.Long()), text(e.First.Name + " and " + e.Second.Name)})
	}
	s.Parts = []Part{kindsOf, over, gone}
	return s
}

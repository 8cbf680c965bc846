package charter

import "time"

// LeadTime is an approval, notice or order that must be there so many days before an event, or follow so many days after it.
type LeadTime struct {
	Key     string `json:"key"` // stays the same when the words change
	What    string `json:"what"`
	Days    int    `json:"days"`              // whole days before the event; after it when After
	After   bool   `json:"after,omitempty"`   // counted from the event on
	Owner   string `json:"owner,omitempty"`   // person id of who usually sees to it
	Source  string `json:"source,omitempty"`  // which rule asks for it
	Example bool   `json:"example,omitempty"` // as it was shipped: another place's rule, not this programme's own
}

// LeadTimesAdopted is the programme's list of lead times. The latest one holds.
type LeadTimesAdopted struct {
	Times []LeadTime `json:"times"`
}

// FactKind implements fact.Body.
func (LeadTimesAdopted) FactKind() string { return "programme.lead-times-adopted" }

// LeadTimes is the adopted list with when and by whom it was adopted.
type LeadTimes struct {
	Times []LeadTime `json:"times"`
	At    time.Time  `json:"at"`
	By    string     `json:"by"`
}

// Find gives a lead time by its key; ok is false when it is not on the list.
func (l *LeadTimes) Find(key string) (t LeadTime, ok bool) {
	if l == nil {
		return LeadTime{}, false
	}
	for _, t := range l.Times {
		if t.Key == key {
			return t, true
		}
	}
	return LeadTime{}, false
}

// ExampleLeadTimes are lead times that were found in published rules, longest first. They are examples from other places:
// local rules decide, and a programme adopts, changes or leaves out each of them.
func ExampleLeadTimes() []LeadTime {
	ex := func(key, what string, days int, after bool, source string) LeadTime {
		return LeadTime{Key: key, What: what, Days: days, After: after, Source: source, Example: true}
	}
	return []LeadTime{
		ex("timetable", "Begin: venue, date and partners agreed", 90, false, "A county's planning guide: two to three months for a small fair"),
		ex("partner", "Ask the hospital or other partner to attend", 42, false, "A public hospital system: at least 6 weeks"),
		ex("county-notice", "Give notice to the county health officer", 30, false, "California B&P 1244, county forms: at least 30 days"),
		ex("state-licence", "Apply for the state's licence or permit", 21, false, "Maryland, health-awareness testing: 2 to 3 weeks"),
		ex("university-request", "Send the event request to the university", 21, false, "A West-coast university: at least 3 weeks; no approval, no liability insurance"),
		ex("college-application", "Apply to the college: activity, supervision, training, consent form, education material", 14, false,
			"Ohio Adm. Code 3349-5-75: at least 14 days; the dean approves, else no liability cover"),
		ex("supplies-request", "Request supplies", 14, false, "A West-coast university: at least 2 weeks"),
		ex("certificate-extension", "Ask to extend the certificate of waiver to the event", 10, false, "A West-coast pharmacy school: at least 10 days, one form for each event"),
		ex("county-changes", "Last day to tell the county of another place, date or time", 1, false, "California B&P 1244, county forms: at least 24 hours"),
		ex("after-form", "Send the form about the event", 14, true, "A West-coast university: within 2 weeks after"),
	}
}

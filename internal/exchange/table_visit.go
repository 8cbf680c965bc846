package exchange

import (
	"slices"
	"sort"
	"strings"

	"fairstick/internal/about"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

func bandWords() []string {
	out := make([]string, len(protocol.Bands))
	for i, b := range protocol.Bands {
		out[i] = string(b)
	}
	return out
}

func urgencyWords() []string {
	out := make([]string, len(protocol.Urgencies))
	for i, u := range protocol.Urgencies {
		out[i] = string(u)
	}
	return out
}

var (
	basisWords   = []string{string(protocol.Fasting), string(protocol.Random)}
	unitWords    = []string{string(glucose.MgPerDL), string(glucose.MmolPerL)}
	kindWords    = []string{string(glucose.Numeric), string(glucose.Low), string(glucose.High), string(glucose.Error)}
	outcomeWords = []string{"tested", "left", "not-eligible", "declined-consent", "declined-fingerstick", "unfinished"}
	contactWords = []string{"given", "refused", "not-asked", "erased"}
)

// outcome says what became of a visit: tested is whoever has a value, whatever came after.
func outcome(v *visit.State) string {
	switch {
	case v.Tested():
		return "tested"
	case v.Phase() == visit.Gone:
		return "left"
	case v.Phase() == visit.NotEligible:
		return "not-eligible"
	case v.Phase() == visit.HasDeclined:
		return "declined-" + v.Declined.What
	}
	return "unfinished"
}

func contactWord(v *visit.State) string {
	switch {
	case v.Erased():
		return "erased"
	case v.Contact == nil:
		return "not-asked"
	case *v.Contact:
		return "given"
	}
	return "refused"
}

func visitTable(names bool) Table {
	t := Table{Name: "visits", Title: "One row for each participant's way through an event", Key: []string{"visit"}, Points: map[string]string{"event": "events"}, Fields: []Field{
		{Name: "visit", Type: asString, Means: "id of the visit in the record", Must: true},
		{Name: "event", Type: asString, Means: "id of the event", Must: true},
		{Name: "ticket", Type: asInteger, Means: "number of the ticket at this event", Must: true},
		{Name: "form", Type: asInteger, Means: "number of the paper form, when it was typed from one"},
		{Name: "language", Type: asString, Means: "language tag of the participant"},
		{Name: "outcome", Type: asString, Means: "what became of the visit; tested is whoever has a value", Words: outcomeWords, Must: true},
		{Name: "excluded_by", Type: asString, Means: "key of the question of the protocol that excludes"},
		{Name: "age", Type: asInteger, Means: "in whole years, as told"},
		{Name: "consent_version", Type: asString, Means: "version of the consent text; empty without a yes"},
		{Name: "consent_how", Type: asString, Means: "how the text was given", Words: []string{"read", "read-aloud", "interpreter"}},
		{Name: "contact", Type: asString, Means: "was contact allowed", Words: contactWords, Must: true},
		{Name: "may_call", Type: asBoolean, Means: "may the programme call", Must: true},
		{Name: "ate", Type: asString, Means: "was the last food known", Words: []string{"known", "not-known", "not-asked"}, Must: true},
		{Name: "last_food", Type: asDateTime, Means: "last food or drink with calories, when it is known"},
		{Name: "arrived", Type: asDateTime, Means: "ticket handed out", Must: true},
		{Name: "desk_done", Type: asDateTime, Means: "went on from the desk"},
		{Name: "test_called", Type: asDateTime, Means: "called to the test"},
		{Name: "first_reading", Type: asDateTime, Means: "first reading"},
		{Name: "found", Type: asDateTime, Means: "the result that needed no repeat"},
		{Name: "explain_called", Type: asDateTime, Means: "called to Explain"},
		{Name: "explained", Type: asDateTime, Means: "result explained"},
		{Name: "ended", Type: asDateTime, Means: "end of the visit"},
		{Name: "readings", Type: asInteger, Means: "values shown by a meter: numbers, LO and HI", Must: true},
		{Name: "meter_errors", Type: asInteger, Means: "error codes shown by a meter", Must: true},
		{Name: "sticks", Type: asInteger, Means: "fingersticks", Must: true},
		{Name: "misfires", Type: asInteger, Means: "lancets that did not work", Must: true},
		{Name: "counts", Type: asString, Means: "id of the reading that counts"},
		{Name: "basis", Type: asString, Means: "by which limits it was judged", Words: basisWords},
		{Name: "shown", Type: asString, Means: "what the meter showed in the reading that counts: 95, 5.6, LO, HI"},
		{Name: "unit", Type: asString, Means: "unit that the meter showed", Words: unitWords},
		{Name: "band", Type: asString, Means: "band of the protocol", Words: bandWords()},
		{Name: "urgency", Type: asString, Means: "how soon it needs somebody", Words: urgencyWords()},
		{Name: "unwell", Type: asBoolean, Means: "a sign of a crisis outranked the number"},
		{Name: "protocol", Type: asString, Means: "version of the protocol that judged it"},
		{Name: "care_cause", Type: asString, Means: "why care was opened", Words: []string{"critical-high", "critical-low", "low", "signs"}},
		{Name: "care_opened", Type: asDateTime, Means: "when care was opened"},
		{Name: "care_signed", Type: asDateTime, Means: "when a supervisor ended it"},
		{Name: "slips", Type: asInteger, Means: "result slips handed over", Must: true},
		{Name: "teach_back", Type: asString, Means: "how the teach-back went", Words: []string{"own-words", "again", "not-asked"}},
		{Name: "corrections", Type: asInteger, Means: "signed corrections", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for i := range x.Going {
			if err := put(visitCells(x, &x.Going[i], names)...); err != nil {
				return err
			}
		}
		return nil
	}}
	if names {
		t.Fields = append(t.Fields,
			Field{Name: "name", Type: asString, Means: "name, kept with permission"},
			Field{Name: "phone", Type: asString, Means: "telephone number, with permission to call"},
			Field{Name: "when_to_call", Type: asString, Means: "the best time to call"})
	}
	return t
}

func visitCells(x *programme.Leaving, v *programme.LeavingVisit, names bool) []string {
	at := v.Times
	shown, errs := 0, 0
	for _, r := range v.Readings {
		if r.Reading.Kind == glucose.Error {
			errs++
		} else {
			shown++
		}
	}
	excluded, age := "", ""
	if a := v.Answers; a != nil {
		excluded, age = a.Reason, a.Answers["age"]
	}
	version, how := "", ""
	if c := v.Consent; c != nil {
		version, how = c.Version, c.How
	}
	ate, food := "not-asked", ""
	if v.Ate != nil {
		if ate = "not-known"; v.Ate.Known {
			ate, food = "known", stamp(x, v.Ate.Last)
		}
	}
	out := []string{
		v.ID, v.Event, whole(v.Ticket), filled(v.Form), v.Language, outcome(v.State), excluded, age, version, how, contactWord(v.State), saysYes(programme.MayCall(v.State)),
		ate, food, stamp(x, at.Arrived), stamp(x, at.DeskDone), stamp(x, at.TestCalled), stamp(x, at.FirstRead), stamp(x, at.Found), stamp(x, at.ExplCalled), stamp(x, at.Explained), stamp(x, at.Ended),
		whole(shown), whole(errs), whole(v.Sticks()), whole(v.Misfires()),
	}
	counting, counts := v.Counting()
	if f := v.Finding(); f != nil && counts {
		out = append(out, counting.ID, string(f.Basis), counting.Reading.Shown(), string(counting.Reading.Unit), string(f.Band), string(f.Urgency), saysYes(f.Unwell), f.Protocol)
	} else {
		out = append(out, "", "", "", "", "", "", "", "")
	}
	if c := v.Care; c != nil {
		out = append(out, c.Cause, stamp(x, c.At), stamp(x, c.SignedAt))
	} else {
		out = append(out, "", "", "")
	}
	teach := ""
	if v.Explained != nil {
		teach = v.Explained.TeachBack
	}
	out = append(out, whole(len(v.Slips)), teach, whole(len(v.Corrections)))
	if !names {
		return out
	}
	if v.Contact == nil {
		return append(out, "", "", "")
	}
	return append(out, v.Contact.Name, v.Contact.Phone, v.Contact.When)
}

func answerTable() Table {
	return Table{Name: "answers", Title: "One row for each answer to a question of the protocol", Key: []string{"visit", "question"}, Points: map[string]string{"visit": "visits"}, Fields: []Field{
		{Name: "visit", Type: asString, Means: "id of the visit", Must: true},
		{Name: "question", Type: asString, Means: "key of the question", Must: true},
		{Name: "answer", Type: asString, Means: "yes, no, a number, or the keys of signs with commas between", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for i := range x.Going {
			v := &x.Going[i]
			if v.Answers == nil {
				continue
			}
			keys := make([]string, 0, len(v.Answers.Answers))
			for k := range v.Answers.Answers {
				keys = append(keys, k)
			}
			sort.Strings(keys)
			for _, k := range keys {
				if a := strings.TrimSpace(v.Answers.Answers[k]); a != "" {
					if err := put(v.ID, k, a); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}}
}

// aboutTable is what participants said about themselves. It has no column of its own in the visits, so that it can be left out of what is handed on.
func aboutTable() Table {
	var keys []string
	for _, q := range about.Questions() {
		keys = append(keys, q.Key)
	}
	return Table{Name: "about", Title: "One row for each answer of a participant about themself, and for each such question that was passed over", Key: []string{"visit", "question", "answer"}, Points: map[string]string{"visit": "visits"}, Fields: []Field{
		{Name: "visit", Type: asString, Means: "id of the visit", Must: true},
		{Name: "question", Type: asString, Means: "key of the question", Words: keys, Must: true},
		{Name: "answer", Type: asString, Means: "code of the answer, the first 3 digits of a ZIP code, prefer-not, or passed-over", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for i := range x.Going {
			v := &x.Going[i]
			for _, key := range keys {
				codes, asked := v.About[key]
				if asked && len(codes) == 0 {
					codes = []string{about.PassedOver}
				}
				for _, c := range codes {
					if err := put(v.ID, key, c); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}}
}

func readingTable() Table {
	return Table{Name: "readings", Title: "One row for each strip that was used on a person", Key: []string{"reading"}, Points: map[string]string{"visit": "visits", "meter": "meters", "strip_lot": "lots"}, Fields: []Field{
		{Name: "reading", Type: asString, Means: "id of the reading in the record", Must: true},
		{Name: "visit", Type: asString, Means: "id of the visit", Must: true},
		{Name: "time", Type: asDateTime, Means: "when it was taken", Must: true},
		{Name: "purpose", Type: asString, Means: "what it was for", Words: []string{visit.First, visit.Repeat, visit.Recheck}, Must: true},
		{Name: "kind", Type: asString, Means: "what sort of thing the meter showed", Words: kindWords, Must: true},
		{Name: "shown", Type: asString, Means: "what stood on the meter: 95, 5.6, LO, HI, E-4", Must: true},
		{Name: "value", Type: asNumber, Means: "the number in its own unit; empty for LO, HI and error codes"},
		{Name: "unit", Type: asString, Means: "unit of the meter", Words: unitWords, Must: true},
		{Name: "basis", Type: asString, Means: "fasting when the last food was long enough ago by the protocol", Words: basisWords, Must: true},
		{Name: "counts", Type: asBoolean, Means: "it is the one that counts", Must: true},
		{Name: "status", Type: asString, Means: "corrected: its details were corrected; withdrawn: it never happened, or belongs to another ticket", Words: []string{"as-taken", "corrected", "withdrawn"}, Must: true},
		{Name: "meter", Type: asString, Means: "id of the meter", Must: true},
		{Name: "strip_lot", Type: asString, Means: "id of the lot of strips", Must: true},
		{Name: "vial", Type: asString, Means: "the programme's name on the vial"},
		{Name: "station", Type: asString, Means: "where"},
		{Name: "screener", Type: asString, Means: "id of who took it"},
		{Name: "supervisor", Type: asString, Means: "id of who supervised"},
		{Name: "read_back", Type: asString, Means: "typed-twice, on-paper, or the id of the second person"},
		{Name: "new_lancet", Type: asBoolean, Means: "a new lancet was used for this strip", Must: true},
		{Name: "misfires", Type: asInteger, Means: "lancets that did not work", Must: true},
		{Name: "washed", Type: asBoolean, Means: "hands washed with soap; otherwise wiped, second drop", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for i := range x.Going {
			v := &x.Going[i]
			counting, _ := v.Counting()
			basis := string(v.BasisAt(x.Protocol, v.Times.FirstRead))
			row := func(r visit.Reading, status string) error {
				return put(r.ID, v.ID, stamp(x, r.At), r.Purpose, string(r.Reading.Kind), r.Reading.Shown(), digits(r.Reading), string(r.Reading.Unit), basis,
					saysYes(r.ID == counting.ID && status != "withdrawn"), status, r.Meter, r.StripLot, r.Vial, r.Station, r.By, r.Supervisor, r.ReadBack, saysYes(r.NewStick), whole(r.Misfires), saysYes(r.Washed))
			}
			for _, r := range v.Readings {
				status := "as-taken"
				if v.Changed[r.ID] {
					status = "corrected"
				}
				if err := row(r, status); err != nil {
					return err
				}
			}
			for _, r := range v.Withdrawn {
				if err := row(r, "withdrawn"); err != nil {
					return err
				}
			}
		}
		return nil
	}}
}

func referralTable() Table {
	return Table{Name: "referrals", Title: "One row for each participant who was advised to see somebody", Key: []string{"visit"}, Points: map[string]string{"visit": "visits"}, Fields: []Field{
		{Name: "visit", Type: asString, Means: "id of the visit", Must: true},
		{Name: "band", Type: asString, Means: "band of the protocol", Words: bandWords()},
		{Name: "urgency", Type: asString, Means: "how soon", Words: urgencyWords()},
		{Name: "route", Type: asString, Means: "the place"},
		{Name: "be_seen_by", Type: asDateTime, Means: "by when"},
		{Name: "agreed", Type: asBoolean, Means: "the participant said yes", Must: true},
		{Name: "may_call", Type: asBoolean, Means: "the programme may call about it", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for i := range x.Going {
			v := &x.Going[i]
			if v.Referral == nil {
				continue
			}
			band, urgency := "", ""
			if f := v.Finding(); f != nil {
				band, urgency = string(f.Band), string(f.Urgency)
			}
			if err := put(v.ID, band, urgency, v.Referral.Route, stamp(x, v.Referral.By), saysYes(v.Referral.Agreed), saysYes(programme.MayCall(v.State))); err != nil {
				return err
			}
		}
		return nil
	}}
}

// staffTable is who is on the list of people; it is written with names alone.
func staffTable() Table {
	return Table{Name: "staff", shared: true, Title: "Volunteers and licensed staff", Key: []string{"person"}, Fields: []Field{
		{Name: "person", Type: asString, Means: "id of the person", Must: true},
		{Name: "name", Type: asString, Means: "as it is called on the day", Must: true},
		{Name: "title", Type: asString, Means: "title"},
		{Name: "roles", Type: asString, Means: "roles with | between", Must: true},
	}, rows: func(x *programme.Leaving, put func(...string) error) error {
		for _, p := range x.People {
			roles := make([]string, len(p.Details.Roles))
			for i, r := range p.Details.Roles {
				roles[i] = string(r)
			}
			slices.Sort(roles)
			if err := put(p.ID, p.Details.Name, p.Details.Title, strings.Join(roles, "|")); err != nil {
				return err
			}
		}
		return nil
	}}
}

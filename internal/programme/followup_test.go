package programme_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/programme"
)

// referred is a hall in which one person was referred and may be called, three days later at ten.
func referred(t *testing.T, c programme.Contact) (*hall, *demo.Guest) {
	t.Helper()
	h := opened(t)
	g := h.tested("1", demo.Guest{Contact: c}, demo.Shot{Reading: "171"})
	h.finish(g)
	h.Clock.Set(h.Time("10:00").AddDate(0, 0, 14))
	return h, g
}

func callable() programme.Contact {
	return programme.Contact{Allow: true, Call: true, Name: "Invented Person", Phone: "555 0190", When: "evenings", Address: "5 Invented Road, 99999 Nowhere"}
}

func (h *hall) log(who string, g *demo.Guest, c programme.CallDetails) error {
	h.t.Helper()
	if c.Channel == "" && c.Happened != "" {
		c.Channel = "phone"
	}
	_, err := h.P.LogCall(h.ctx, h.As(who), programme.LogCall{Act: h.Act(), Visit: g.ID, CallDetails: c})
	return err
}

func (h *hall) followUp(g *demo.Guest) programme.FollowUp {
	h.t.Helper()
	f, _, err := h.P.FollowUpOf(h.ctx, g.ID)
	h.must(err)
	return f
}

// Whoever opens a number leaves an entry and has the person for a while; nobody else calls in the meantime.
func TestTwoCallers(t *testing.T) {
	h, g := referred(t, callable())
	c, err := h.P.CallContact(h.ctx, h.As("Dot Counsellor"), programme.CallContact{Act: h.Act(), Visit: g.ID})
	if err != nil || c.Name != "Invented Person" || c.Phone != "555 0190" || c.Address != "5 Invented Road, 99999 Nowhere" {
		t.Fatalf("opened %+v: %v", c, err)
	}
	if f := h.followUp(g); len(f.State.Openings) != 1 || f.State.Openings[0].By != h.ID("Dot Counsellor") {
		t.Errorf("no entry of the look at the contact: %+v", f.State)
	}
	h.later(5 * time.Minute)
	_, err = h.P.CallContact(h.ctx, h.As("Sue Supervisor"), programme.CallContact{Act: h.Act(), Visit: g.ID})
	h.refused("somebody-calls", err)
	if s := fault.Of(err).Sentence; !strings.Contains(s, "Dot Counsellor") || !strings.Contains(s, "10:00") {
		t.Errorf("says %q", s)
	}
	h.refused("somebody-calls", h.log("Sue Supervisor", g, programme.CallDetails{Happened: "no-answer"}))
	h.must(h.log("Dot Counsellor", g, programme.CallDetails{Happened: "no-answer"}))
	if _, err = h.P.CallContact(h.ctx, h.As("Sue Supervisor"), programme.CallContact{Act: h.Act(), Visit: g.ID}); err != nil {
		t.Errorf("free again once it was written down: %v", err)
	}
	_, err = h.P.CallContact(h.ctx, h.As("Dot Counsellor"), programme.CallContact{Act: h.Act(), Visit: g.ID})
	h.refused("somebody-calls", err)
	if _, err := h.P.PutBackContact(h.ctx, h.As("Sue Supervisor"), programme.PutBackContact{Act: h.Act(), Visit: g.ID}); err != nil {
		t.Fatal(err)
	}
	if _, err = h.P.CallContact(h.ctx, h.As("Dot Counsellor"), programme.CallContact{Act: h.Act(), Visit: g.ID}); err != nil {
		t.Errorf("free again once it was put back: %v", err)
	}
	h.later(20 * time.Minute)
	h.must(h.log("Sue Supervisor", g, programme.CallDetails{Happened: "no-answer"}))
}

// A page that was drawn before somebody else wrote is refused, and the same form sent twice is one call.
func TestStaleAndTwice(t *testing.T) {
	h, g := referred(t, callable())
	act := h.Act()
	send := func(act programme.Act, seen string) error {
		_, err := h.P.LogCall(h.ctx, h.As("Dot Counsellor"), programme.LogCall{Act: act, Visit: g.ID, Seen: seen, CallDetails: programme.CallDetails{Channel: "phone", Happened: "busy"}})
		return err
	}
	h.must(send(act, programme.SeenNothing))
	h.must(send(act, programme.SeenNothing))
	if n := len(h.followUp(g).State.Attempts); n != 1 {
		t.Errorf("%d attempts from one form", n)
	}
	h.refused("follow-up-changed", send(h.Act(), programme.SeenNothing))
	h.must(send(h.Act(), h.followUp(g).State.Last))
}

func TestWithoutPermissionNothingOpens(t *testing.T) {
	for name, c := range map[string]programme.Contact{"no contact": {}, "a name and no calls": {Allow: true, Name: "Invented Quiet"}} {
		t.Run(name, func(t *testing.T) {
			h, g := referred(t, c)
			_, err := h.P.CallContact(h.ctx, h.As("Lea Lead"), programme.CallContact{Act: h.Act(), Visit: g.ID})
			h.refused("no-permission", err)
			h.refused("no-permission", h.log("Lea Lead", g, programme.CallDetails{Happened: "no-answer"}))
			_, err = h.P.MakeLetter(h.ctx, h.As("Lea Lead"), programme.MakeLetter{Act: h.Act(), Visit: g.ID, To: "person"})
			h.refused("no-permission", err)
			calls, err := h.P.Calls(h.ctx)
			h.must(err)
			if len(calls.Open)+len(calls.Later) != 0 || calls.NoPermission["raised"] != 1 {
				t.Errorf("%+v", calls)
			}
			data, err := json.Marshal(calls)
			h.must(err)
			if strings.Contains(string(data), g.ID) || strings.Contains(string(data), "Quiet") {
				t.Errorf("more than a count: %s", data)
			}
		})
	}
	h, g := referred(t, callable())
	h.refused("role", h.log("Ann Screener", g, programme.CallDetails{Happened: "no-answer"}))
	_, err := h.P.CallContact(h.ctx, h.As("Ann Screener"), programme.CallContact{Act: h.Act(), Visit: g.ID})
	h.refused("role", err)
}

// What cannot be right is refused field by field, and nothing is kept of it.
func TestOddCalls(t *testing.T) {
	h, g := referred(t, callable())
	for name, c := range map[string]struct {
		call  programme.CallDetails
		field string
	}{
		"nothing":                        {programme.CallDetails{}, "happened"},
		"a channel alone":                {programme.CallDetails{Channel: "phone"}, "happened"},
		"a channel that is none":         {programme.CallDetails{Channel: "pigeon", Happened: "reached"}, "channel"},
		"a text that rang out":           {programme.CallDetails{Channel: "text", Happened: "no-answer"}, "happened"},
		"an outcome that is none":        {programme.CallDetails{Happened: "reached", Outcome: "cured"}, "outcome"},
		"seen, and nobody answered":      {programme.CallDetails{Happened: "no-answer", Outcome: "seen"}, "outcome"},
		"seen, and nobody called":        {programme.CallDetails{Outcome: "seen"}, "outcome"},
		"reached a wrong number":         {programme.CallDetails{Happened: "reached", Outcome: "wrong-number"}, "outcome"},
		"seen tomorrow":                  {programme.CallDetails{Happened: "reached", Outcome: "seen", On: "2026-07-05"}, "on"},
		"seen before the screening":      {programme.CallDetails{Happened: "reached", Outcome: "seen", On: "2026-06-19"}, "on"},
		"an appointment without a day":   {programme.CallDetails{Happened: "reached", Outcome: "scheduled"}, "on"},
		"an appointment that is over":    {programme.CallDetails{Happened: "reached", Outcome: "scheduled", On: "2026-07-01"}, "on"},
		"an appointment in years":        {programme.CallDetails{Happened: "reached", Outcome: "scheduled", On: "2036-07-01"}, "on"},
		"not yet without a reason":       {programme.CallDetails{Happened: "reached", Outcome: "not-yet"}, "reason"},
		"a result and not seen":          {programme.CallDetails{Happened: "reached", Test: "a1c", Said: "neither"}, "said"},
		"a result without what was said": {programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c"}, "said"},
		"an absurd value":                {programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c", Value: "118", Unit: "%", Said: "neither"}, "value"},
		"a value in words":               {programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c", Value: "Inf", Unit: "%", Said: "neither"}, "value"},
		"a value without a unit":         {programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c", Value: "6.1", Said: "neither"}, "unit"},
		"a test tomorrow":                {programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c", TestOn: "2026-07-30", Said: "neither"}, "test_on"},
		"a note without end":             {programme.CallDetails{Happened: "no-answer", Note: strings.Repeat("x", 301)}, "note"},
	} {
		t.Run(name, func(t *testing.T) {
			err := h.log("Dot Counsellor", g, c.call)
			if f := fault.Of(err); err == nil || f.Fields[c.field] == "" {
				t.Errorf("want the field %q, got %v %v", c.field, err, f)
			}
		})
	}
	if f := h.followUp(g); f.State != nil {
		t.Errorf("kept: %+v", f.State)
	}
	late := programme.LogCall{Act: programme.Act{At: h.Time("08:00")}, Visit: g.ID, CallDetails: programme.CallDetails{Channel: "phone", Happened: "busy"}}
	if _, err := h.P.LogCall(h.ctx, h.As("Dot Counsellor"), late); fault.Of(err).Fields["at"] == "" {
		t.Errorf("a call before the test: %v", err)
	}
}

// A note is sealed with the visit: it is not in the bytes of the record, is opened for callers alone, and goes with the person.
func TestNotesAreSealed(t *testing.T) {
	h, g := referred(t, callable())
	h.must(h.log("Dot Counsellor", g, programme.CallDetails{Happened: "not-in", Note: "ask for cousin Zebulon"}))
	if _, err := h.P.HandOver(h.ctx, h.As("Dot Counsellor"), programme.HandOver{Act: h.Act(), Visit: g.ID, To: h.ID("Sue Supervisor"), Note: "speaks slowly"}); err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(h.followUp(g).State)
	h.must(err)
	if strings.Contains(string(data), "Zebulon") {
		t.Error("the note is readable in the state")
	}
	if f := h.followUp(g); f.State.Assigned() != h.ID("Sue Supervisor") {
		t.Errorf("handed to %q", f.State.Assigned())
	}
	notes, err := h.P.FollowUpHistory(h.ctx, h.As("Lea Lead"), g.ID)
	h.must(err)
	if len(notes) != 2 || notes[0].Note != "ask for cousin Zebulon" || notes[0].By != "Dot Counsellor" || notes[1].Note != "speaks slowly" || notes[1].Caller != "Sue Supervisor" {
		t.Errorf("history %+v", notes)
	}
	_, err = h.P.FollowUpHistory(h.ctx, h.As("Ann Screener"), g.ID)
	h.refused("role", err)
	_, err = h.P.HandOver(h.ctx, h.As("Dot Counsellor"), programme.HandOver{Act: h.Act(), Visit: g.ID, To: h.ID("Ann Screener")})
	if fault.Of(err).Fields["to"] == "" {
		t.Errorf("a screener does not call: %v", err)
	}
	erase := programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseAsked, Confirmed: true, Sign: h.Sign("Lea Lead")}
	_, err = h.P.EraseContact(h.ctx, h.As("Lea Lead"), erase)
	h.must(err)
	notes, err = h.P.FollowUpHistory(h.ctx, h.As("Lea Lead"), g.ID)
	h.must(err)
	if len(notes) != 2 || notes[0].Note != "" || notes[1].Note != "" {
		t.Errorf("after the erasure: %+v", notes)
	}
	c, err := h.P.Completion(h.ctx, programme.FollowUpScope{})
	h.must(err)
	if c.Referred != 1 || c.Permitted != 1 || c.Places[programme.PlaceErased] != 1 {
		t.Errorf("the count changed: %+v", c)
	}
}

// A correction takes the place of what it corrects, and what was told in a try goes when the try reached nobody after all.
func TestCorrectingACall(t *testing.T) {
	h, g := referred(t, callable())
	h.must(h.log("Dot Counsellor", g, programme.CallDetails{Happened: "reached", Outcome: "seen", Test: "a1c", Said: "neither"}))
	st := h.followUp(g).State
	try, outcome := st.Attempts[0].FactID, st.Outcomes[0].FactID
	fix := func(who string, c programme.CorrectFollowUp) error {
		c.Act, c.Visit = h.Act(), g.ID
		_, err := h.P.CorrectFollowUp(h.ctx, h.As(who), c)
		return err
	}
	if err := fix("Dot Counsellor", programme.CorrectFollowUp{Fact: outcome, CallDetails: programme.CallDetails{Outcome: "seen", On: "2026-07-01"}}); fault.Of(err).Fields["reason"] == "" {
		t.Errorf("without a reason: %v", err)
	}
	h.refused("corrected-missing", fix("Dot Counsellor", programme.CorrectFollowUp{Fact: "none", Reason: "typed wrongly", Strike: true}))
	h.must(fix("Dot Counsellor", programme.CorrectFollowUp{Fact: outcome, Reason: "wrong day", CallDetails: programme.CallDetails{Outcome: "scheduled", On: "2026-07-20"}}))
	if f := h.followUp(g); f.Status != followup.Scheduled || f.Task == nil || f.Task.Why != followup.AfterVisit {
		t.Errorf("after the correction: %s %+v", f.Status, f.Task)
	}
	h.must(fix("Sue Supervisor", programme.CorrectFollowUp{Fact: try, Reason: "it was somebody else", CallDetails: programme.CallDetails{Channel: "phone", Happened: "wrong-number"}}))
	f := h.followUp(g)
	if f.Status != followup.BadNumber || len(f.State.Outcomes) != 1 || len(f.State.Attempts) != 1 || f.State.Attempts[0].Happened != followup.WrongNumber {
		t.Errorf("a wrong number after all: %s %+v", f.Status, f.State)
	}
	h.must(fix("Dot Counsellor", programme.CorrectFollowUp{Fact: try, Reason: "no call was made", Strike: true}))
	if f := h.followUp(g); f.Status != "" || len(f.State.Attempts)+len(f.State.Outcomes) != 0 {
		t.Errorf("struck: %s %+v", f.Status, f.State)
	}
	notes, err := h.P.FollowUpHistory(h.ctx, h.As("Lea Lead"), g.ID)
	h.must(err)
	if len(notes) != 4 || !notes[0].Gone || len(notes[0].Corrected) != 2 || notes[0].Corrected[0].Reason != "it was somebody else" {
		t.Errorf("both stand in the record: %+v", notes)
	}
	rep, err := h.store.Check(h.ctx)
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
}

func TestSomebodyElsesCall(t *testing.T) {
	h, g := referred(t, callable())
	h.must(h.log("Sue Supervisor", g, programme.CallDetails{Happened: "busy"}))
	_, err := h.P.CorrectFollowUp(h.ctx, h.As("Dot Counsellor"), programme.CorrectFollowUp{Act: h.Act(), Visit: g.ID, Fact: h.followUp(g).State.Attempts[0].FactID, Reason: "no", Strike: true})
	h.refused("not-yours", err)
}

// Three tries that reach nobody call for a letter; the letter leaves its entry and the batch takes nobody twice.
func TestLetters(t *testing.T) {
	h, g := referred(t, callable())
	for range 3 {
		h.must(h.log("Dot Counsellor", g, programme.CallDetails{Happened: "no-answer"}))
		h.later(26 * time.Hour)
	}
	f := h.followUp(g)
	if f.Status != followup.Unreachable || f.Task == nil || f.Task.Kind != followup.Write {
		t.Fatalf("after three tries: %s %+v", f.Status, f.Task)
	}
	letters, err := h.P.MakeLetters(h.ctx, h.As("Dot Counsellor"), h.Act())
	h.must(err)
	if len(letters) != 1 || letters[0].Contact.Name != "Invented Person" || letters[0].Contact.Phone != "" || letters[0].Contact.Address == "" || letters[0].Language != "en" {
		t.Errorf("letters %+v", letters)
	}
	if st := h.followUp(g).State; len(st.Letters) != 1 || st.Letters[0].To != followup.ToPerson {
		t.Errorf("no entry of the letter: %+v", st)
	}
	_, err = h.P.MakeLetters(h.ctx, h.As("Dot Counsellor"), h.Act())
	h.refused("no-letters", err)

	c := callable()
	c.Address = ""
	h, g = referred(t, c)
	_, err = h.P.MakeLetter(h.ctx, h.As("Dot Counsellor"), programme.MakeLetter{Act: h.Act(), Visit: g.ID, To: "person"})
	h.refused("no-address", err)
	if l, err := h.P.MakeLetter(h.ctx, h.As("Dot Counsellor"), programme.MakeLetter{Act: h.Act(), Visit: g.ID, To: "clinician"}); err != nil || l.Finding.Band != "raised" {
		t.Errorf("a note to a clinician needs no address: %v", err)
	}
}

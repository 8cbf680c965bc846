package programme_test

import (
	"slices"
	"strings"
	"testing"

	"fairstick/internal/about"
	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// asks is a hall that asks some questions at the desk and one at the end.
func asks(keys ...string) func(*demo.Programme) {
	return func(pr *demo.Programme) {
		pr.Asks = keys
		pr.People = append(pr.People, demo.Person{Name: "Ray Runner", PIN: "2468", Roles: []string{"runner"}, Post: "runner"})
	}
}

func (h *hall) choose(who string, keys ...string) error {
	_, err := h.P.ChooseQuestions(h.ctx, h.As(who), programme.ChooseQuestions{Act: h.Act(), Questions: keys})
	return err
}

func (h *hall) tell(who string, g *demo.Guest, said about.Answers) error {
	_, err := h.P.TellAbout(h.ctx, h.As(who), programme.TellAbout{Act: h.Act(), Visit: g.ID, Answers: said})
	return err
}

// said gives what a guest has said, as it is counted.
func (h *hall) said(g *demo.Guest) string {
	h.t.Helper()
	return h.visit(g).Counts().About
}

func (h *hall) asked() string {
	h.t.Helper()
	ch, err := h.P.Charter(h.ctx)
	h.must(err)
	return strings.Join(ch.Asks, " ")
}

// saidParts counts those who came and those who were tested by their answer to a question, as the equity and the funder report do.
func (h *hall) saidParts(key string) map[string][2]int {
	h.t.Helper()
	day := civil.MustParse("2026-06-20")
	f, err := h.P.Figures(h.ctx, programme.FiguresAsk{Span: programme.Span{From: day, To: day}})
	h.must(err)
	out := map[string][2]int{}
	for part, c := range f.Parted[key] {
		out[part] = [2]int{c.N("approached"), c.N("tested")}
	}
	return out
}

// Only a lead chooses what people are asked, of the list alone and at any time; the choice stands in the order of the list.
func TestChooseQuestions(t *testing.T) {
	h := opened(t, asks())
	for _, who := range []string{"Sue Supervisor", "Ann Screener", "Dot Counsellor", "Cy Lapsed", "Ray Runner"} {
		h.refused("role", h.choose(who, about.Sex))
	}
	if got := h.asked(); got != "" {
		t.Fatalf("those who may not have chosen %q", got)
	}
	h.must(h.choose("Lea Lead", about.Easy, about.Zip, about.Race))
	if got := h.asked(); got != "race zip3 easy" {
		t.Errorf("asked: %q", got)
	}
	for _, keys := range [][]string{{"income"}, {about.Sex, "income"}, {about.Sex, about.Sex}, {""}} {
		h.refused("no-question", h.choose("Lea Lead", keys...))
	}
	if got := h.asked(); got != "race zip3 easy" {
		t.Errorf("a refused choice holds: %q", got)
	}

	before, act := h.entries(), programme.ChooseQuestions{Act: h.Act(), Questions: []string{about.Sex}}
	for range 2 { // a second press
		_, err := h.P.ChooseQuestions(h.ctx, h.As("Lea Lead"), act)
		h.must(err)
	}
	if got, n := h.asked(), h.entries()-before; got != "sex" || n != 1 {
		t.Errorf("asked %q with %d facts", got, n)
	}
	h.close()
	h.must(h.choose("Lea Lead"))
	if got := h.asked(); got != "" {
		t.Errorf("nothing is to be asked, but %q is", got)
	}
}

// Whoever works at the desk may write down what somebody says of themself, and nobody else.
func TestWhoWritesDownWhatPeopleSay(t *testing.T) {
	h := opened(t, asks(about.Race, about.Sex))
	g := h.guest("", demo.Guest{})
	h.refused("role", h.tell("Ray Runner", g, about.Answers{about.Sex: {"male"}}))
	for i, who := range []string{"Lea Lead", "Sue Supervisor", "Ann Screener", "Dot Counsellor", "Cy Lapsed"} {
		code := []string{"female", "male", "other"}[i%3]
		h.must(h.tell(who, g, about.Answers{about.Sex: {code}}))
		if got := h.said(g); got != "race= sex="+code {
			t.Errorf("%s wrote %s, and it counts as %q", who, code, got)
		}
	}
	_, err := h.P.TellAbout(h.ctx, h.As("Cy Lapsed"), programme.TellAbout{Act: h.Act(), Visit: "no-such-visit"})
	if f := fault.Of(err); f == nil || f.Kind != fault.Missing {
		t.Errorf("a visit that is not there: %v", err)
	}
}

// What cannot be an answer is refused at its field, and what was said before holds.
func TestWhatIsNoAnswer(t *testing.T) {
	h := opened(t, asks(about.Race, about.Sex, about.Zip))
	g := h.guest("", demo.Guest{})
	h.must(h.tell("Cy Lapsed", g, about.Answers{about.Race: {"white", "asian"}, about.Sex: {about.PreferNot}, about.Zip: {"021"}}))
	const was = "race=asian+white sex=prefer-not zip3=021"
	if got := h.said(g); got != was {
		t.Fatalf("it counts as %q", got)
	}
	facts := h.entries()
	for name, x := range map[string]struct {
		said  about.Answers
		field string // empty: the whole is refused
	}{
		"no such answer":           {about.Answers{about.Sex: {"yes"}}, "about_sex"},
		"two answers where one is": {about.Answers{about.Sex: {"female", "male"}}, "about_sex"},
		"an answer and none":       {about.Answers{about.Race: {"asian", about.PreferNot}}, "about_race"},
		"a whole ZIP code":         {about.Answers{about.Zip: {"02139"}}, "about_zip3"},
		"letters for digits":       {about.Answers{about.Zip: {"O21"}}, "about_zip3"},
		"a question not in use":    {about.Answers{about.Insurance: {"yes"}}, ""},
		"a question of the end":    {about.Answers{about.Easy: {"yes"}}, ""},
		"an unknown question":      {about.Answers{"income": {"1"}}, ""},
	} {
		err := h.tell("Cy Lapsed", g, x.said)
		f := fault.Of(err)
		switch {
		case f == nil || f.Kind != fault.Invalid:
			t.Errorf("%s: %v", name, err)
		case x.field == "" && f.Key != "no-question", x.field != "" && f.Fields[x.field] == "":
			t.Errorf("%s: %q %v", name, f.Key, f.Fields)
		case strings.Contains(f.Sentence+f.Fields[x.field], "02139"):
			t.Errorf("%s: the ZIP code is repeated: %+v", name, f)
		}
	}
	if got := h.said(g); got != was || h.entries() != facts {
		t.Errorf("a refused answer is on record: %q, %d facts more", got, h.entries()-facts)
	}
}

// What was said can be put right and taken back while the visit lasts. A press counts once, and what is no longer asked stays with the visit.
func TestSaidOtherwiseLater(t *testing.T) {
	h := opened(t, asks(about.Sex, about.Doctor))
	g, silent := h.guest("", demo.Guest{}), h.guest("", demo.Guest{})
	c := programme.TellAbout{Act: h.Act(), Visit: g.ID, Answers: about.Answers{about.Sex: {"male"}, about.Doctor: {"no"}}}
	facts := h.entries()
	for range 2 {
		done, err := h.P.TellAbout(h.ctx, h.As("Cy Lapsed"), c)
		h.must(err)
		if done.ID != g.ID {
			t.Errorf("done: %+v", done)
		}
	}
	if n := h.entries() - facts; n != 1 {
		t.Errorf("one press pressed twice made %d facts", n)
	}
	h.must(h.tell("Cy Lapsed", g, about.Answers{about.Sex: {"female"}, about.Doctor: {"no"}}))
	if got := h.said(g); got != "sex=female doctor=no" {
		t.Errorf("put right: %q", got)
	}
	h.must(h.choose("Lea Lead", about.Doctor))
	h.must(h.tell("Cy Lapsed", g, nil))
	if got := h.said(g); got != "sex=female doctor=" {
		t.Errorf("taken back: %q", got)
	}
	h.must(h.tell("Cy Lapsed", silent, about.Answers{}))
	parts := h.saidParts(about.Doctor)
	if len(parts) != 1 || parts[about.PassedOver] != [2]int{2, 0} {
		t.Errorf("doctor: %v", parts)
	}
	h.must(h.choose("Lea Lead"))
	facts = h.entries()
	h.must(h.tell("Cy Lapsed", silent, nil))
	if h.entries() != facts {
		t.Error("where nothing is asked, something was recorded")
	}
	if _, err := h.P.Check(h.ctx); err != nil {
		t.Error(err)
	}
}

// Nobody is asked without a yes, nor before the questions of the protocol; and nothing is added to a visit that has ended or to a closed day.
func TestWhenPeopleAreAsked(t *testing.T) {
	h := opened(t, asks(about.Sex, about.Easy))
	said := about.Answers{about.Sex: {"male"}}
	gone := &demo.Guest{Desk: "Cy Lapsed"}
	h.must(h.Arrive(h.ctx, gone))
	h.refused("no-consent", h.tell("Cy Lapsed", gone, said))
	h.must(h.Consent(h.ctx, gone))
	h.refused("no-answers", h.tell("Cy Lapsed", gone, said))
	_, err := h.P.LeaveVisit(h.ctx, h.As("Cy Lapsed"), programme.LeaveVisit{Act: h.Act(), Visit: gone.ID, Reason: "bus"})
	h.must(err)
	h.refused("visit-ended", h.tell("Cy Lapsed", gone, said))
	if got := h.said(gone); got != "" {
		t.Errorf("asked too soon or too late: %q", got)
	}
	g := h.guest("", demo.Guest{})
	h.must(h.tell("Cy Lapsed", g, said))

	out := h.guest("", demo.Guest{Answers: map[string]string{"known-diabetes": "yes"}})
	h.refused("visit-ended", h.tell("Cy Lapsed", out, said))
	h.must(h.Call(h.ctx, g, "1"))
	_, err = h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.must(err)
	h.must(h.Clear(h.ctx, g, "1"))
	h.must(h.tell("Cy Lapsed", g, about.Answers{about.Sex: {"other"}})) // waiting for Explain
	h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
	finish := programme.FinishVisit{Act: h.Act(), Visit: g.ID, Answers: about.Answers{about.Easy: {"maybe"}}}
	_, err = h.P.FinishVisit(h.ctx, h.As("Dot Counsellor"), finish)
	if f := fault.Of(err); f == nil || f.Fields["about_easy"] == "" || h.visit(g).Finished {
		t.Errorf("an answer that the question has not: %v", err)
	}
	finish.Act, finish.Answers = h.Act(), about.Answers{about.Easy: {"partly"}}
	_, err = h.P.FinishVisit(h.ctx, h.As("Dot Counsellor"), finish)
	h.must(err)
	h.refused("visit-ended", h.tell("Cy Lapsed", g, said))
	h.close()
	h.refused("event-closed", h.tell("Lea Lead", g, said))
	if got := h.said(g); got != "sex=other easy=partly" {
		t.Errorf("at the end: %q", got)
	}
	sex, easy := h.saidParts(about.Sex), h.saidParts(about.Easy)
	if sex["other"] != [2]int{1, 1} || easy["partly"] != [2]int{1, 1} || sex["male"] != [2]int{} {
		t.Errorf("counted: sex %v, easy %v", sex, easy)
	}
}

// A lead who erases a person's name takes no answer with it, for none names anybody: the counts stay, and it can still be taken back.
func TestAnswersOfAnErasedPerson(t *testing.T) {
	h := opened(t, asks(about.Race, about.Zip))
	g := h.guest("", demo.Guest{Contact: programme.Contact{Allow: true, Name: "Zebulon Marked", Phone: "555 0188"}})
	h.must(h.tell("Cy Lapsed", g, about.Answers{about.Race: {"black", "hispanic"}, about.Zip: {"021"}}))
	before := [2]map[string][2]int{h.saidParts(about.Race), h.saidParts(about.Zip)}
	_, err := h.P.EraseContact(h.ctx, h.As("Lea Lead"), programme.EraseContact{Act: h.Act(), Visit: g.ID, Reason: programme.EraseAsked, Sign: h.Sign("Lea Lead")})
	h.must(err)
	race, zip := h.saidParts(about.Race), h.saidParts(about.Zip)
	if h.said(g) != "race=black+hispanic zip3=021" || race[about.More] != [2]int{1, 0} || zip[about.Elsewhere] != [2]int{1, 0} || len(before[0]) != len(race) || before[1][about.Elsewhere] != zip[about.Elsewhere] {
		t.Errorf("after the erasure: %q, %v, %v; before %v", h.said(g), race, zip, before)
	}
	h.must(h.tell("Cy Lapsed", g, nil))
	if got := h.said(g); got != "race= zip3=" {
		t.Errorf("taken back: %q", got)
	}
	if keys := slices.Collect(func(yield func(string) bool) {
		for part := range h.saidParts(about.Zip) {
			if !yield(part) {
				return
			}
		}
	}); len(keys) != 1 || keys[0] != about.PassedOver {
		t.Errorf("areas: %v", keys)
	}
}

// What people say of themselves on a paper form is held against the questions of the programme, and counts like what was said at the desk.
func TestWhatPeopleSayOnPaper(t *testing.T) {
	h := newHall(t, asks(about.Race, about.Zip, about.Easy))
	h.Clock.Set(h.Time("08:30"))
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	h.Clock.Set(h.Time("12:00"))
	on := func(said about.Answers, change ...func(*programme.PaperVisit)) programme.EnterPaper {
		return h.form(7, append(change, func(v *programme.PaperVisit) { v.About = said })...)
	}
	for name, x := range map[string]struct {
		in    programme.EnterPaper
		field string
	}{
		"no such answer":              {on(about.Answers{about.Race: {"martian"}}), "about_race"},
		"a whole ZIP code":            {on(about.Answers{about.Zip: {"02139"}}), "about_zip3"},
		"a question not in use":       {on(about.Answers{about.Sex: {"male"}}), "about_sex"},
		"passed over, but not in use": {on(about.Answers{about.First: nil}), "about_first_time"},
		"no consent": {on(about.Answers{about.Race: {"asian"}}, func(v *programme.PaperVisit) {
			v.Consent, v.Answers, v.Ate, v.Contact, v.Readings, v.Explained, v.Slip = nil, nil, nil, nil, nil, nil, nil
			v.Outcome = programme.PaperLeft
		}), "consent_time"},
	} {
		_, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), x.in)
		if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[x.field] == "" {
			t.Errorf("%s: want a message at %s, got %v", name, x.field, err)
		}
	}
	if n := len(h.day().Visits); n != 0 {
		t.Fatalf("%d visits were recorded", n)
	}
	done, err := h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), on(about.Answers{about.Race: {"white", "asian"}, about.Zip: nil, about.Easy: {"yes"}}))
	h.must(err)
	if got := h.said(&demo.Guest{ID: done.ID}); got != "race=asian+white zip3= easy=yes" {
		t.Errorf("on record: %q", got)
	}
	var at []string
	h.must(h.store.Read(h.ctx, func(v *store.View) error {
		list, err := v.Records(visit.Ref(done.ID))
		for _, r := range list {
			if b, told := r.Body.(visit.AboutTold); told {
				at = append(at, r.At.Format("15:04 ")+strings.Join(b.Asked, " "))
			}
		}
		return err
	}))
	if !slices.Equal(at, []string{"09:12 race zip3", "09:30 easy"}) { // with the consent, and when it was explained
		t.Errorf("said at %q", at)
	}
	race, zip, easy := h.saidParts(about.Race), h.saidParts(about.Zip), h.saidParts(about.Easy)
	if race[about.More] != [2]int{1, 1} || zip[about.PassedOver] != [2]int{1, 1} || easy["yes"] != [2]int{1, 1} || len(race)+len(zip)+len(easy) != 3 {
		t.Errorf("counted: %v %v %v", race, zip, easy)
	}
	h.must(h.choose("Lea Lead"))
	_, err = h.P.EnterPaper(h.ctx, h.As("Cy Lapsed"), on(about.Answers{about.Race: {"white"}}))
	h.refused("form-typed", err)
}

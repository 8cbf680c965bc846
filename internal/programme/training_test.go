package programme_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/bank"
	"fairstick/internal/competence/cards"
	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// class is the hall with somebody new, whom nobody has verified on paper.
func class(t *testing.T) *hall {
	return newHall(t, func(p *demo.Programme) {
		p.People = append(p.People, demo.Person{Name: "Nia New", PIN: "3816", Roles: []string{"screener"}, Post: ""})
	})
}

// sit answers the open quiz of a person, right but for as many as are to be wrong, and hands it in.
func (h *hall) sit(name string, l cards.Level, wrong int) programme.Marked {
	h.t.Helper()
	m, err := h.P.TakeQuiz(h.ctx, h.As(name), h.answers(name, l, wrong))
	h.must(err)
	return m
}

func (h *hall) answers(name string, l cards.Level, wrong int) programme.TakeQuiz {
	h.t.Helper()
	s, err := h.P.OpenQuiz(h.ctx, h.As(name), l)
	h.must(err)
	out := programme.TakeQuiz{Act: h.Act(), Level: l, Seed: s.Seed, Language: "en"}
	for i, q := range s.Quiz.Questions {
		var right, other bank.Answer
		for k, o := range q.Options {
			if o.Right {
				right = append(right, k)
			} else {
				other = bank.Answer{k}
			}
		}
		if i < wrong {
			right = other
		}
		out.Answers = append(out.Answers, right)
	}
	return out
}

func allSteps(l cards.Level, missed ...string) map[string]string {
	out := map[string]string{}
	for _, s := range cards.For(l) {
		out[s.Key] = "ok"
	}
	for _, k := range missed {
		out[k] = "missed"
	}
	return out
}

func (h *hall) watch(who, by string, marks map[string]string) (programme.Watched, error) {
	return h.P.RecordObservation(h.ctx, h.As(by), programme.RecordObservation{
		Act: h.Act(), Person: h.ID(who), Level: "screener", Marks: marks, Model: "Type A", Signed: h.Sign(who), Observer: h.Sign(by),
	})
}

// verifier makes Sue a verifier: what the first verifier of a programme needs.
func (h *hall) verifier() {
	h.t.Helper()
	h.verifies("Sue Supervisor", "Lea Lead")
}

// verifies makes somebody a verifier by another's word.
func (h *hall) verifies(name, by string) {
	h.t.Helper()
	lead, id := h.As(by), h.ID(name)
	h.sit(name, cards.Verifier, 0)
	_, err := h.P.RecordExternal(h.ctx, lead, programme.RecordExternal{Act: h.Act(), Person: id, Kind: "bloodborne", By: "the college", Day: "2026-03-01"})
	h.must(err)
	_, err = h.P.TrainModel(h.ctx, lead, programme.TrainModel{Act: h.Act(), Person: id, Model: "Type A", Edition: "Invented insert, January 2025"})
	h.must(err)
	_, err = h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: id, Level: "verifier"})
	h.must(err)
}

// proved gives Nia everything but the signature of a screener's verification.
func (h *hall) proved() {
	h.t.Helper()
	sue, nia := h.As("Sue Supervisor"), h.ID("Nia New")
	h.sit("Nia New", cards.Screener, 0)
	_, err := h.P.RecordPractice(h.ctx, sue, programme.RecordPractice{Act: h.Act(), Person: nia, Level: "screener", Right: 9, Of: 10})
	h.must(err)
	for range 3 {
		_, err := h.watch("Nia New", "Sue Supervisor", allSteps(cards.Screener))
		h.must(err)
	}
	for _, c := range []programme.RecordExternal{{Kind: "bloodborne", By: "the college", Day: "2026-03-01"}, {Kind: "hepatitis-b", Word: "cleared"}} {
		c.Act, c.Person = h.Act(), nia
		_, err := h.P.RecordExternal(h.ctx, sue, c)
		h.must(err)
	}
	_, err = h.P.TrainModel(h.ctx, sue, programme.TrainModel{Act: h.Act(), Person: nia, Model: "Type A", Edition: "Invented insert, January 2025"})
	h.must(err)
}

func (h *hall) lacking(name string, l cards.Level) string {
	h.t.Helper()
	t, err := h.P.Training(h.ctx, h.ID(name), civil.Date{})
	h.must(err)
	var keys []string
	for _, m := range t.At(l).Missing {
		keys = append(keys, m.Key)
	}
	return strings.Join(keys, " ")
}

// From nothing to verified: each proof takes one thing off the list; the lead cannot sign before it is empty, and the station opens
// only then. A withdrawal in the middle of the event shuts it again.
func TestFromNewToVerified(t *testing.T) {
	h := class(t)
	h.verifier()
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	lead, nia := h.As("Lea Lead"), h.ID("Nia New")
	post := func() error {
		_, err := h.P.PostPerson(h.ctx, lead, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: nia, Role: "screener", Station: "3"})
		return err
	}
	err := post()
	h.refused("not-verified", err)
	if f := fault.Of(err); f.Sentence != "Nia New has never been verified as screener." {
		t.Errorf("without training: %q", f.Sentence)
	}
	if got := h.lacking("Nia New", cards.Screener); got != "quiz rehearsal observations bloodborne hepatitis-b model signature" {
		t.Errorf("at first: %s", got)
	}
	_, err = h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener"})
	h.refused("not-ready", err)
	if f := fault.Of(err); !strings.Contains(f.Sentence, "quiz") || !strings.Contains(f.Sentence, "bloodborne") || !strings.Contains(f.Sentence, "meter Type A") {
		t.Errorf("the refusal does not name all that is missing: %q", f.Sentence)
	}
	h.proved()
	if got := h.lacking("Nia New", cards.Screener); got != "signature" {
		t.Fatalf("with every proof: %s", got)
	}
	err = post()
	h.refused("not-verified", err)
	if f := fault.Of(err); f.Sentence != "Nia New is not verified as screener. No verifier has signed yet." {
		t.Errorf("without a signature: %q", f.Sentence)
	}
	_, err = h.P.GrantLevel(h.ctx, h.As("Nia New"), programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener"})
	h.refused("role", err)
	_, err = h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener", Until: "2027-09-01"})
	h.refused("fields", err)
	_, err = h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener"})
	h.must(err)
	if got := h.lacking("Nia New", cards.Screener); got != "" {
		t.Errorf("verified and still: %s", got)
	}
	h.must(post())
	_, err = h.P.Attend(h.ctx, lead, programme.Attend{Act: h.Act(), Event: h.Event, Person: nia, Here: true})
	h.must(err)
	h.Sit("3", demo.Seat{Screener: "Nia New", Meter: "M2", Lot: "A", Vial: "A1", Wipe: "wipes"})
	g := h.guest("3", demo.Guest{})
	_, err = h.Read(h.ctx, g, "3", demo.Shot{Reading: "95"})
	h.must(err)

	h.later(5 * time.Minute)
	_, err = h.P.WithdrawLevel(h.ctx, lead, programme.WithdrawLevel{Act: h.Act(), Person: nia, Level: "screener", Reason: "recapped a lancet"})
	h.must(err)
	g = h.guest("3", demo.Guest{})
	_, err = h.Read(h.ctx, g, "3", demo.Shot{Reading: "95"})
	h.refused("not-verified", err)
	if f := fault.Of(err); !strings.Contains(f.Sentence, "observations") {
		t.Errorf("after the withdrawal: %q", f.Sentence)
	}
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	gates, _ := d.StationGates(d.Person(nia), programme.Device{Meter: h.ID("M2"), StripLot: h.ID("A"), Vial: "A1", Station: "3"}, h.Clock.Now())
	for _, x := range gates {
		if x.Key == "screener" && x.Open() {
			t.Error("the resting screen of the station still says that she may test")
		}
	}
	past, err := h.P.Training(h.ctx, nia, civil.MustParse("2026-06-19"))
	h.must(err)
	if past.At(cards.Screener).Holds {
		t.Error("she held it on the day before she was verified")
	}
}

// Somebody who is verified on paper is not asked for training; a withdrawal of either kind ends both.
func TestPaperAndTrainingStandSideBySide(t *testing.T) {
	h := class(t)
	h.verifier()
	h.proved()
	lead := h.As("Lea Lead")
	h.must(func() error {
		_, err := h.P.PostPerson(h.ctx, lead, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: h.ID("Ann Screener"), Role: "screener", Station: "1"})
		return err
	}())
	_, err := h.P.WithdrawLevel(h.ctx, lead, programme.WithdrawLevel{Act: h.Act(), Person: h.ID("Ann Screener"), Level: "screener", Reason: "moved away"})
	h.must(err)
	_, err = h.P.PostPerson(h.ctx, lead, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: h.ID("Ann Screener"), Role: "screener", Station: "1"})
	h.refused("not-verified", err)
	_, err = h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: h.ID("Nia New"), Level: "screener"})
	h.must(err)
	_, err = h.P.WithdrawVerification(h.ctx, lead, programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Nia New"), Role: "screener", Reason: "recapped a lancet"})
	h.must(err)
	if got := h.lacking("Nia New", cards.Screener); !strings.Contains(got, "signature") {
		t.Errorf("withdrawn on paper, and by training she lacks %q", got)
	}
}

// A verification ends with its last day, also while an event goes on.
func TestLapseInTheMiddleOfAnEvent(t *testing.T) {
	h := newHall(t, func(p *demo.Programme) {
		p.Plan.Doors, p.Plan.Ends = "20:00", "23:30"
		p.People = append(p.People, demo.Person{Name: "Nia New", PIN: "3816", Roles: []string{"screener"}})
	})
	h.verifier()
	h.proved()
	lead, nia := h.As("Lea Lead"), h.ID("Nia New")
	_, err := h.P.GrantLevel(h.ctx, lead, programme.GrantLevel{Act: h.Act(), Person: nia, Level: "screener", Until: "2026-06-20"})
	h.must(err)
	h.Clock.Set(h.Time("19:30"))
	h.prepare("")
	h.must(h.open())
	_, err = h.P.PostPerson(h.ctx, lead, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: nia, Role: "screener", Station: "3"})
	h.must(err)
	_, err = h.P.Attend(h.ctx, lead, programme.Attend{Act: h.Act(), Event: h.Event, Person: nia, Here: true})
	h.must(err)
	h.Sit("3", demo.Seat{Screener: "Nia New", Meter: "M2", Lot: "A", Vial: "A1", Wipe: "wipes"})
	h.Clock.Set(h.Time("23:50"))
	g := h.guest("3", demo.Guest{})
	_, err = h.Read(h.ctx, g, "3", demo.Shot{Reading: "95"})
	h.must(err)
	h.later(20 * time.Minute)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	gates, _ := d.StationGates(d.Person(nia), programme.Device{Meter: h.ID("M2"), StripLot: h.ID("A"), Vial: "A1", Station: "3"}, h.Clock.Now())
	said := ""
	for _, x := range gates {
		if x.Key == "screener" && x.Fault != nil {
			said = x.Fault.Sentence
		}
	}
	if !strings.Contains(said, "The verification lasted until 20 Jun 2026.") {
		t.Errorf("after midnight the station says %q", said)
	}
}

// A quiz is the same however often it is loaded, is taken once however often it is sent, and is nobody else's.
func TestQuizIsTakenOnce(t *testing.T) {
	h := class(t)
	nia := h.As("Nia New")
	one, err := h.P.OpenQuiz(h.ctx, nia, cards.Screener)
	h.must(err)
	h.later(time.Minute)
	two, err := h.P.AnswerQuiz(h.ctx, nia, cards.Screener, one.Seed, 3, bank.Answer{1})
	h.must(err)
	if one.Seed != two.Seed || one.Began != two.Began || two.Next() != 0 || len(two.Answers[3]) != 1 || len(two.Quiz.Questions) != 20 || two.Left != 3 {
		t.Errorf("opened again: %+v", two)
	}
	_, err = h.P.AnswerQuiz(h.ctx, nia, cards.Screener, one.Seed, 99, bank.Answer{1})
	h.refused("no-such-question", err)
	_, err = h.P.AnswerQuiz(h.ctx, nia, cards.Screener, one.Seed, 3, bank.Answer{9})
	h.refused("field-choice", err)
	_, err = h.P.AnswerQuiz(h.ctx, nia, cards.Screener, one.Seed+1, 3, bank.Answer{0})
	h.refused("other-quiz", err)
	_, err = h.P.TakeQuiz(h.ctx, h.As("Ann Screener"), programme.TakeQuiz{Act: h.Act(), Level: cards.Screener, Seed: one.Seed})
	h.refused("other-quiz", err)

	c := h.answers("Nia New", cards.Screener, 0)
	first, err := h.P.TakeQuiz(h.ctx, nia, c)
	h.must(err)
	again, err := h.P.TakeQuiz(h.ctx, nia, c)
	h.must(err)
	if !first.Result.Passed || first.Result.Right != 20 || again.ID != first.ID {
		t.Errorf("taken: %+v and %+v", first, again)
	}
	c.Act = h.Act()
	_, err = h.P.TakeQuiz(h.ctx, nia, c)
	h.refused("other-quiz", err)
	shown, err := h.P.ShowQuiz(h.ctx, nia.Person, first.ID)
	h.must(err)
	if len(shown.Questions) != 20 || len(shown.Taken.Answers) != 20 || shown.Taken.Answers[0].Chosen[0] == "" {
		t.Errorf("shown again: %d questions", len(shown.Questions))
	}
	stats, err := h.P.ItemStatistics(h.ctx, cards.Screener)
	h.must(err)
	if stats.Sittings != 1 || stats.Passed != 1 || stats.Tried != 1 || len(stats.Items) == 0 || stats.Rate.Share != 1 {
		t.Errorf("statistics: %+v", stats)
	}
}

// After three quizzes that were not passed a teacher comes first.
func TestTeachingComesFirst(t *testing.T) {
	h := class(t)
	for range 3 {
		if m := h.sit("Nia New", cards.Screener, 9); m.Result.Passed {
			t.Fatal("passed with nine wrong")
		}
	}
	_, err := h.P.OpenQuiz(h.ctx, h.As("Nia New"), cards.Screener)
	h.refused("teach-first", err)
	teach := programme.RecordTeaching{Act: h.Act(), Person: h.ID("Nia New"), What: "quiz", Level: "screener", Note: "went through controls"}
	_, err = h.P.RecordTeaching(h.ctx, h.As("Nia New"), teach)
	h.refused("role", err)
	_, err = h.P.RecordTeaching(h.ctx, h.As("Sue Supervisor"), teach)
	h.must(err)
	if m := h.sit("Nia New", cards.Screener, 0); !m.Result.Passed {
		t.Errorf("after the teaching: %+v", m)
	}
	teach.Act = h.Act()
	_, err = h.P.RecordTeaching(h.ctx, h.As("Sue Supervisor"), teach)
	h.refused("nothing-failed", err)
}

// An observation needs another person who is a verifier today and both PINs; one missed critical step ends it.
func TestObservation(t *testing.T) {
	h := class(t)
	_, err := h.watch("Nia New", "Sue Supervisor", allSteps(cards.Screener))
	h.refused("observer-not-current", err)
	h.verifier()
	_, err = h.watch("Sue Supervisor", "Sue Supervisor", allSteps(cards.Screener))
	h.refused("observe-self", err)
	c := programme.RecordObservation{Act: h.Act(), Person: h.ID("Nia New"), Level: "screener", Marks: allSteps(cards.Screener), Signed: h.Sign("Nia New"), Observer: h.Sign("Sue Supervisor")}
	bad := c
	bad.Signed.PIN = "0000"
	_, err = h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), bad)
	if f := fault.Of(err); f == nil || f.Fields["signed_pin"] != "Wrong PIN." {
		t.Errorf("a wrong PIN of the person: %+v", f)
	}
	bad = c
	bad.Marks = map[string]string{"dance": "ok"}
	_, err = h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), bad)
	h.refused("field-marks", err)
	bad.Marks = map[string]string{}
	_, err = h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), bad)
	h.refused("field-marks", err)
	done, err := h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), c)
	h.must(err)
	again, err := h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), c)
	h.must(err)
	if !done.Verdict.Passed || again.ID != done.ID {
		t.Errorf("watched: %+v, again %+v", done, again)
	}
	ended, err := h.watch("Nia New", "Sue Supervisor", allSteps(cards.Screener, "lancet-to-sharps"))
	h.must(err)
	if ended.Verdict.Passed || len(ended.Verdict.Ends) != 1 {
		t.Errorf("a lancet beside the container: %+v", ended)
	}
	for name, x := range map[string]struct {
		sample programme.SampleTaken
		key    string
		within bool
	}{
		"blind control in range":      {programme.SampleTaken{Kind: "blind-control", Unit: "mg/dL", Reading: "118", Low: "96", High: "144"}, "", true},
		"blind control out of range":  {programme.SampleTaken{Kind: "blind-control", Unit: "mg/dL", Reading: "145", Low: "96", High: "144"}, "", false},
		"split sample on the limit":   {programme.SampleTaken{Kind: "split-sample", Unit: "mg/dL", Reading: "115", Other: "100"}, "", true},
		"split sample over the limit": {programme.SampleTaken{Kind: "split-sample", Unit: "mg/dL", Reading: "116", Other: "100"}, "", false},
		"split sample with HI":        {programme.SampleTaken{Kind: "split-sample", Unit: "mg/dL", Reading: "HI", Other: "100"}, "sample", false},
		"a kind that is none":         {programme.SampleTaken{Kind: "guess", Unit: "mg/dL", Reading: "100"}, "field-sample_kind", false},
	} {
		got, err := h.P.RecordObservation(h.ctx, h.As("Sue Supervisor"), programme.RecordObservation{
			Act: h.Act(), Person: h.ID("Ann Screener"), Level: "screener", Marks: allSteps(cards.Screener), Sample: x.sample, Signed: h.Sign("Ann Screener"), Observer: h.Sign("Sue Supervisor"),
		})
		if x.key != "" {
			h.refused(x.key, err)
			continue
		}
		if err != nil || got.Within == nil || *got.Within != x.within || got.Verdict.Passed != x.within {
			t.Errorf("%s: %+v %v", name, got, err)
		}
	}
}

// The code of a certificate finds it again, also after a withdrawal; another one finds nothing.
func TestCertificateCode(t *testing.T) {
	h := class(t)
	_, err := h.P.CertificateOf(h.ctx, h.ID("Sue Supervisor"))
	h.refused("no-certificate", err)
	h.verifier()
	c, err := h.P.CertificateOf(h.ctx, h.ID("Sue Supervisor"))
	h.must(err)
	if len(c.Code) != 11 || c.By != "Lea Lead" || c.SignOff.Level != cards.Verifier || !c.Stands() || c.SignOff.Until != civil.MustParse("2027-06-19") {
		t.Errorf("certificate: %+v", c)
	}
	found, err := h.P.CheckCode(h.ctx, strings.ToLower(strings.ReplaceAll(c.Code, "-", " ")))
	h.must(err)
	if found.Person.ID != h.ID("Sue Supervisor") || found.SignOff.FactID != c.SignOff.FactID || !found.Stands() {
		t.Errorf("found: %+v", found)
	}
	_, err = h.P.CheckCode(h.ctx, "00000-00000")
	h.refused("code-unknown", err)
	_, err = h.P.CheckCode(h.ctx, "ABC")
	h.refused("field-code", err)
	_, err = h.P.WithdrawLevel(h.ctx, h.As("Lea Lead"), programme.WithdrawLevel{Act: h.Act(), Person: h.ID("Sue Supervisor"), Level: "verifier", Reason: "left the college"})
	h.must(err)
	if found, err = h.P.CheckCode(h.ctx, c.Code); err != nil || found.Stands() || found.SignOff.Withdrawn != "left the college" {
		t.Errorf("withdrawn: %+v %v", found, err)
	}
}

// The board of the class and the list of lapses agree with what each person lacks.
func TestCohortAndLapses(t *testing.T) {
	h := class(t)
	h.verifier()
	h.proved()
	c, err := h.P.Cohort(h.ctx)
	h.must(err)
	rows := map[string]programme.Trainee{}
	for _, r := range c.Rows {
		rows[r.Person.Details.Name] = r
	}
	if nia := rows["Nia New"]; !nia.Quiz || nia.Watched != 3 || nia.Wanted != 3 || !nia.Target.Ready || nia.Target.Level != cards.Screener {
		t.Errorf("Nia: %+v", nia)
	}
	if sue := rows["Sue Supervisor"]; sue.Holds != cards.Verifier || !sue.Target.Holds {
		t.Errorf("Sue: %+v", sue)
	}
	if c.Held != 4 || c.Ready != 1 { // Sue by training; Ann, Bob and Dot on paper
		t.Errorf("held %d, ready %d", c.Held, c.Ready)
	}
	lapses, err := h.P.Lapses(h.ctx, civil.MustParse("2027-01-01"))
	h.must(err)
	var said []string
	for _, l := range lapses {
		said = append(said, l.Name+" "+l.Until.String())
	}
	if got, want := strings.Join(said, "; "), "Ann Screener 2026-12-31; Bob Screener 2026-12-31; Dot Counsellor 2026-12-31"; got != want {
		t.Errorf("lapses: %s, want %s", got, want)
	}
	lapses, err = h.P.Lapses(h.ctx, civil.MustParse("2027-03-01"))
	h.must(err)
	if last := lapses[len(lapses)-1]; last.Name != "Sue Supervisor" || last.Until != civil.MustParse("2027-02-28") || last.Because != competence.NeedBloodborne {
		t.Errorf("the last lapse: %+v", last)
	}
}

// Rules of training stand in the protocol: those that cannot be used are refused when it is drafted, and the others hold.
func TestRulesOfTheProtocol(t *testing.T) {
	h := class(t)
	draft := func(version string, rules competence.Rules) error {
		raw, err := json.Marshal(rules)
		h.must(err)
		p := protocol.Default()
		p.Version, p.Verification.Competence = version, raw
		_, err = h.P.DraftProtocol(h.ctx, h.As("Lea Lead"), programme.DraftProtocol{Act: h.Act(), Protocol: p})
		return err
	}
	bad := competence.DefaultRules()
	bad.Quiz.PassMark = 10
	h.refused("competence-rules", draft("9", bad))
	own := competence.DefaultRules()
	own.Quiz.Questions, own.Quiz.Attempts = 6, 1
	h.must(draft("9", own))
	_, err := h.P.SignProtocol(h.ctx, h.As("Lea Lead"), programme.SignProtocol{Act: h.Act(), Version: "9", First: h.Sign("Lea Lead"), Second: h.Sign("Sue Supervisor")})
	h.must(err)
	s, err := h.P.OpenQuiz(h.ctx, h.As("Nia New"), cards.Desk)
	h.must(err)
	if len(s.Quiz.Questions) != 6 || s.Left != 1 || s.Protocol != "9" {
		t.Errorf("by its own rules: %d questions, %d attempts, protocol %s", len(s.Quiz.Questions), s.Left, s.Protocol)
	}
	h.sit("Nia New", cards.Desk, 5)
	_, err = h.P.OpenQuiz(h.ctx, h.As("Nia New"), cards.Desk)
	h.refused("teach-first", err)
	if programme.TargetOf(&people.State{Details: people.Described{Roles: []people.Role{people.Desk, people.Screener}}}) != cards.Screener {
		t.Error("the target is not the highest level that the roles ask for")
	}
}

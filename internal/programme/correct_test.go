package programme_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// at is a day with people who went the whole way: a reading each, in one place.
func (h *hall) tested(station string, g demo.Guest, readings ...demo.Shot) *demo.Guest {
	h.t.Helper()
	guest := h.guest(station, g)
	for i, shot := range readings {
		if i > 0 {
			h.later(time.Minute)
		}
		if _, err := h.Read(h.ctx, guest, station, shot); err != nil {
			h.t.Fatal(err)
		}
	}
	h.must(h.Clear(h.ctx, guest, station))
	h.later(2 * time.Minute)
	return guest
}

func (h *hall) finish(g *demo.Guest) {
	h.t.Helper()
	h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
	h.must(h.Finish(h.ctx, g, "Dot Counsellor"))
	h.later(time.Minute)
}

func (h *hall) day() *programme.Day {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	return d
}

// value is the correction of a reading as it stands, to be changed by the test.
func (h *hall) value(g *demo.Guest, n int, reading string) programme.Correct {
	h.t.Helper()
	r := h.visit(g).Readings[n]
	return programme.Correct{
		Event: h.Event, Kind: programme.CorrectReading, Visit: g.ID, Fact: r.ID, Reading: reading, Again: reading, Meter: r.Meter, StripLot: r.StripLot,
		Vial: r.Vial, Purpose: r.Purpose, Washed: r.Washed, SameStick: !r.NewStick, Misfires: r.Misfires,
	}
}

// preview looks at a correction as the lead.
func (h *hall) preview(c programme.Correct) programme.Preview {
	h.t.Helper()
	seen, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	return seen
}

// signs previews a correction and lets somebody sign it.
func (h *hall) signs(who string, c programme.Correct) (programme.Preview, error) {
	h.t.Helper()
	seen, err := h.P.PreviewCorrection(h.ctx, h.As(who), c)
	if err != nil {
		return seen, err
	}
	c.Act, c.Digest, c.Sign = h.Act(), seen.Digest, h.Sign(who)
	if c.Reason == "" {
		c.Reason = "typed wrongly"
	}
	_, err = h.P.Correct(h.ctx, h.As(who), c)
	return seen, err
}

func (h *hall) corrected(c programme.Correct) programme.Preview {
	h.t.Helper()
	seen, err := h.signs("Sue Supervisor", c)
	h.must(err)
	return seen
}

// uneven lists the sums of people that do not come out.
func (h *hall) uneven() []string {
	var out []string
	for _, e := range h.day().Reconcile() {
		if e.Difference != 0 {
			out = append(out, fmt.Sprintf("%s %+d", e.Key, e.Difference))
		}
	}
	return out
}

func band(v *visit.State) string {
	if f := v.Finding(); f != nil {
		return string(f.Band)
	}
	return ""
}

// 412 was typed for 142 while the person sits there: critical care had opened and stays until it is signed, the repeat is
// no longer due, and the finding is the one of 142.
func TestCriticalThatWasNone(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "412"})
	v := h.visit(g)
	if !v.OpenCare() || v.Care.Cause != "critical-high" || !v.Found.Repeat {
		t.Fatalf("412 opened %+v, %+v", v.Care, v.Found)
	}
	seen := h.preview(h.value(g, 0, "142"))
	if h.visit(g).Readings[0].Reading.Shown() != "412" || len(h.visit(g).Corrections) != 0 {
		t.Fatal("a preview was kept")
	}
	e := seen.Visits[0]
	if e.WasCounts != "412 mg/dL" || e.NowCounts != "142 mg/dL" || !e.WasRepeat || e.Repeat || e.Now == nil || e.Now.Band != protocol.Raised || e.CareStays != "critical-high" || e.CareOpens != "" {
		t.Errorf("the preview says %+v", e)
	}
	if len(seen.Changes) != 1 || seen.Changes[0].Was != "412 mg/dL" || seen.Changes[0].Now != "142 mg/dL" {
		t.Errorf("changes %+v", seen.Changes)
	}
	h.corrected(h.value(g, 0, "142"))
	v = h.visit(g)
	if !v.OpenCare() || band(v) != "raised" || v.Phase() != visit.AtExplain || v.Found.Finding.Protocol != h.day().Protocol.Version {
		t.Errorf("after it: care %v, band %s, phase %s", v.OpenCare(), band(v), v.Phase())
	}
	if c := v.Corrections; len(c) != 1 || c[0].Kind != "reading" || c[0].Reason != "typed wrongly" || c[0].Signed != h.ID("Sue Supervisor") || c[0].Changes[0].Was != "412 mg/dL" {
		t.Errorf("kept as %+v", v.Corrections)
	}
	rows, err := h.P.History(h.ctx, h.As("Lea Lead"), h.Event, g.ID)
	h.must(err)
	found := false
	for _, r := range rows {
		if r.Kind == "visit.reading-taken" {
			found = strings.Contains(r.Said, "412") && len(r.Later) == 1 && strings.Contains(r.Later[0].Said, "142") && r.Later[0].Reason == "typed wrongly" && r.By == "Ann Screener"
		}
	}
	if !found {
		t.Errorf("the history does not show both: %+v", rows)
	}
	if _, err := h.P.History(h.ctx, h.As("Ann Screener"), h.Event, g.ID); !fault.Is(err, "role") {
		t.Errorf("a screener read the history: %v", err)
	}
}

// 142 was typed for 412 and the person has gone: care opens, the finding stands without a repeat, the slip must be
// replaced, and the referral is for today.
func TestCriticalFoundAfterwards(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour, Contact: programme.Contact{Allow: true, Call: true, Name: "Invented Person", Phone: "555 0190"}}, demo.Shot{Reading: "112"})
	h.finish(g)
	if v := h.visit(g); band(v) != "usual" || v.Referral != nil || v.Phase() != visit.Done {
		t.Fatalf("112 ended as %s %+v %s", band(v), v.Referral, v.Phase())
	}
	seen := h.corrected(h.value(g, 0, "412"))
	e := seen.Visits[0]
	if e.CareOpens != "critical-high" || e.Slip.IsZero() || !e.Gone || !e.MayCall || e.Refer == nil || e.Refer.Was || !e.Refer.Now || !e.Refer.Unreferred || e.Repeat {
		t.Errorf("the preview says %+v, referral %+v", e, e.Refer)
	}
	v := h.visit(g)
	if band(v) != "critical-high" || !v.OpenCare() || v.Care.Station != "" || v.Phase() != visit.Done || !v.Referral.Call || v.Referral.Agreed {
		t.Errorf("after it: %s, %+v, %+v", band(v), v.Care, v.Referral)
	}
	if !strings.Contains(v.Found.Why, "the person has gone") {
		t.Errorf("why: %q", v.Found.Why)
	}
	if due := h.day().SlipsDue(); len(due) != 1 || due[0].ID != g.ID {
		t.Errorf("slips due: %d", len(due))
	}
	list, err := h.P.FollowUps(h.ctx, programme.FollowUpScope{})
	h.must(err)
	if len(list) != 1 || !list[0].Urgent || list[0].Due.Format("2006-01-02") != "2026-06-20" {
		t.Errorf("follow-up: %+v", list)
	}
	if off := h.uneven(); len(off) != 0 {
		t.Errorf("sums: %v", off)
	}
	if _, err := h.P.ReissueSlip(h.ctx, h.As("Dot Counsellor"), programme.ReissueSlip{Act: h.Act(), Visit: g.ID, Language: "en", Size: "a5"}); err != nil {
		t.Fatal(err)
	}
	if v := h.visit(g); programme.SlipDue(v) || len(v.Slips) != 2 {
		t.Errorf("slips %+v", v.Slips)
	}
}

// 66 was typed for 166 and the repeat 168 counted: after it the first value counts and no care for low is asked for.
func TestLowThatWasNone(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "66"}, demo.Shot{Reading: "168"})
	if v := h.visit(g); v.Care == nil || v.Care.Cause != "low" {
		t.Fatalf("66 opened %+v", v.Care)
	}
	seen := h.corrected(h.value(g, 0, "166"))
	v := h.visit(g)
	c, _ := v.Counting()
	if c.Reading.Shown() != "166" || band(v) != "raised" || v.Readings[0].Purpose != "first" || v.Readings[1].Purpose != "repeat" || seen.Visits[0].CareStays != "low" || !v.OpenCare() {
		t.Errorf("counts %s, %s, %+v", c.Reading.Shown(), band(v), seen.Visits[0])
	}
}

func TestWhoMaySign(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "118"})
	own := h.value(g, 0, "113")
	if _, err := h.signs("Bob Screener", own); !fault.Is(err, "signature-role") {
		t.Errorf("another screener signed: %v", err)
	}
	if _, err := h.signs("Ann Screener", programme.Correct{Event: h.Event, Kind: programme.CorrectFood, Visit: g.ID}); !fault.Is(err, "signature-role") {
		t.Errorf("a screener corrected the food: %v", err)
	}
	if _, err := h.P.PreviewCorrection(h.ctx, h.As("Cy Lapsed"), own); err != nil {
		t.Errorf("a screener may look: %v", err)
	}
	if _, err := h.signs("Ann Screener", own); err != nil {
		t.Errorf("the own last reading: %v", err)
	}
	h.finish(g)
	if _, err := h.signs("Ann Screener", h.value(g, 0, "118")); !fault.Is(err, "signature-role") {
		t.Errorf("after it was explained: %v", err)
	}
	c := h.value(g, 0, "118")
	seen := h.preview(c)
	c.Act, c.Digest, c.Sign = h.Act(), seen.Digest, h.Sign("Sue Supervisor")
	if _, err := h.P.Correct(h.ctx, h.As("Sue Supervisor"), c); !fault.Is(err, "fields") {
		t.Errorf("without a reason: %v", err)
	}
	c.Sign.PIN, c.Reason = "0000", "read again"
	if _, err := h.P.Correct(h.ctx, h.As("Sue Supervisor"), c); !fault.Is(err, "pin-wrong") {
		t.Errorf("with a wrong PIN: %v", err)
	}
}

func TestStalePreviewIsRefusedAndTwiceIsOnce(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "118"})
	c := h.value(g, 0, "113")
	seen := h.preview(c)
	h.corrected(h.value(g, 0, "115"))
	c.Act, c.Digest, c.Sign, c.Reason = h.Act(), seen.Digest, h.Sign("Lea Lead"), "read again"
	_, err := h.P.Correct(h.ctx, h.As("Lea Lead"), c)
	if !fault.Is(err, "record-changed") || fault.Of(err).Kind != fault.Conflict {
		t.Errorf("a stale preview: %v", err)
	}
	other := c
	other.Reading, other.Again = "114", "114"
	other.Digest = h.preview(c).Digest
	if _, err := h.P.Correct(h.ctx, h.As("Lea Lead"), other); !fault.Is(err, "record-changed") {
		t.Errorf("another value than the one previewed: %v", err)
	}
	c.Digest = h.preview(c).Digest
	for range 2 {
		_, err := h.P.Correct(h.ctx, h.As("Lea Lead"), c)
		h.must(err)
	}
	if v := h.visit(g); len(v.Corrections) != 2 || v.Readings[0].Reading.Shown() != "113" {
		t.Errorf("%d corrections, %s", len(v.Corrections), v.Readings[0].Reading.Shown())
	}
	if _, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), h.value(g, 0, "113")); !fault.Is(err, "nothing-changed") {
		t.Errorf("a correction of nothing: %v", err)
	}
	typo := h.value(g, 0, "131")
	typo.Again = "113"
	if _, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), typo); fault.Of(err).Fields["again"] == "" {
		t.Errorf("two typings that differ: %v", err)
	}
}

// A reading under the wrong ticket moves with its time, its screener and its lancet; strips and lancets still come out.
func TestMovingAReading(t *testing.T) {
	h := opened(t)
	a := h.guest("", demo.Guest{Ate: 4 * time.Hour})
	b := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "188", Misfires: 1}, demo.Shot{Reading: "95", Reason: "another person sat down"})
	taken := h.visit(b).Readings[0]
	was := h.day()
	seen := h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectTicket, Visit: b.ID, Fact: taken.ID, To: a.ID})
	if len(seen.Visits) != 2 || len(seen.Changes) < 2 {
		t.Errorf("it touches %d visits", len(seen.Visits))
	}
	from, to := h.visit(b), h.visit(a)
	if len(from.Readings) != 1 || from.Readings[0].Purpose != "first" || band(from) != "usual" {
		t.Errorf("left behind: %+v %s", from.Readings, band(from))
	}
	if len(to.Readings) != 1 || to.Readings[0].Reading.Shown() != "188" || !to.Readings[0].At.Equal(taken.At) || to.Readings[0].By != h.ID("Ann Screener") || to.Readings[0].Misfires != 1 {
		t.Fatalf("moved: %+v", to.Readings)
	}
	if to.Readings[0].From == nil || to.Readings[0].From.Visit != b.ID || to.Readings[0].From.Reading != taken.ID || band(to) != "raised" {
		t.Errorf("linked as %+v, %s", to.Readings[0].From, band(to))
	}
	if from.Binned != 1 || to.Binned != 2 {
		t.Errorf("lancets in sharps: %d and %d", from.Binned, to.Binned)
	}
	now := h.day()
	if r, e, c := now.StripsUsed(h.ID("A")); fmt.Sprint(r, e, c) != func() string { r, e, c := was.StripsUsed(h.ID("A")); return fmt.Sprint(r, e, c) }() {
		t.Errorf("strips: %d %d %d", r, e, c)
	}
	if now.LancetsLeft() != was.LancetsLeft() {
		t.Errorf("lancets left: %d, were %d", now.LancetsLeft(), was.LancetsLeft())
	}
	rows, err := h.P.History(h.ctx, h.As("Lea Lead"), h.Event, b.ID)
	h.must(err)
	linked := false
	for _, r := range rows {
		linked = linked || r.Struck && len(r.Later) == 1 && strings.Contains(r.Later[0].Said, fmt.Sprintf("ticket %03d", a.Ticket))
	}
	if !linked {
		t.Error("the old ticket does not say where the reading went")
	}
}

func TestStrikingTheFirstReading(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "260"}, demo.Shot{Reading: "131"})
	h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectStruck, Visit: g.ID, Fact: h.visit(g).Readings[0].ID})
	v := h.visit(g)
	if len(v.Readings) != 1 || v.Readings[0].Purpose != "first" || v.Binned != 1 || band(v) != "usual" {
		t.Errorf("%+v, %d in sharps, %s", v.Readings, v.Binned, band(v))
	}
	for _, e := range h.day().Reconcile() {
		if e.Key == "values" && e.Difference != 0 {
			t.Errorf("first values: %s", e.Sentence())
		}
	}
}

func TestFoodChangesTheBasis(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 3 * time.Hour}, demo.Shot{Reading: "112"})
	read := h.visit(g).Times.FirstRead
	if band(h.visit(g)) != "usual" {
		t.Fatalf("112 after food is %s", band(h.visit(g)))
	}
	c := programme.Correct{Event: h.Event, Kind: programme.CorrectFood, Visit: g.ID, AteKnown: true, AteAt: read.Add(-11 * time.Hour)}
	seen := h.corrected(c)
	if v := h.visit(g); band(v) != "raised" || v.Finding().Basis != protocol.Fasting || seen.Bands() != 1 {
		t.Errorf("fasting: %s, %d bands", band(v), seen.Bands())
	}
	c.AteAt = read.Add(time.Minute)
	if _, err := h.P.PreviewCorrection(h.ctx, h.As("Lea Lead"), c); fault.Of(err).Fields["ate_at"] == "" {
		t.Errorf("food after the reading: %v", err)
	}
}

// Answers that exclude, found after the test: the person is still told, and counts once.
func TestAnswersAfterTheTest(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "118"})
	answers := protocol.Answers{}
	for k, a := range h.visit(g).Answers.Answers {
		answers[k] = a
	}
	answers["icodextrin"] = "yes"
	seen := h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectAnswers, Visit: g.ID, Answers: answers})
	v := h.visit(g)
	if v.Phase() != visit.AtExplain || len(seen.Changes) == 0 {
		t.Errorf("%s, %+v", v.Phase(), seen.Changes)
	}
	if n := h.day().Counts(); n.Tested != 1 || n.NotEligible != 0 {
		t.Errorf("counted %+v", n)
	}
}

// The meter gave an error code, the visit then ended without a test, and the code turns out to have been a value: the person was tested,
// is told the result, and counts once. A rare order of acts in TestAnyOrderKeepsTheSums found it.
func TestErrorCodeWasAValueAfterTheEnd(t *testing.T) {
	for end, c := range map[visit.Phase]struct {
		act   func(*hall, *demo.Guest) error
		count func(programme.Outcomes) int
	}{
		visit.NotEligible: {func(h *hall, g *demo.Guest) error {
			g.Answers = map[string]string{"known-diabetes": "yes"}
			return h.Register(h.ctx, g)
		}, func(n programme.Outcomes) int { return n.NotEligible }},
		visit.HasDeclined: {func(h *hall, g *demo.Guest) error {
			_, err := h.P.Decline(h.ctx, h.As(g.Desk), programme.Decline{Visit: g.ID, What: "fingerstick"})
			return err
		}, func(n programme.Outcomes) int { return n.Declined }},
	} {
		t.Run(string(end), func(t *testing.T) {
			h := opened(t)
			g := h.guest("1", demo.Guest{Ate: 4 * time.Hour})
			_, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "E-3"})
			h.must(err)
			h.must(c.act(h, g))
			if v, n := h.visit(g), h.day().Counts(); v.Phase() != end || c.count(n) != 1 || n.Tested != 0 {
				t.Fatalf("ended: %s, %+v", v.Phase(), n)
			}
			h.corrected(h.value(g, 0, "104"))
			if v, n := h.visit(g), h.day().Counts(); v.Phase() != visit.AtExplain || v.Finding() == nil || c.count(n) != 0 || n.Tested != 1 {
				t.Errorf("corrected: %s, %+v", v.Phase(), n)
			}
			if off := fmt.Sprint(h.uneven()); off != "[slips +1 explained +1]" { // the person is still to be told
				t.Errorf("sums of people: %s", off)
			}
			h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectStruck, Visit: g.ID, Fact: h.visit(g).Readings[0].ID})
			if v := h.visit(g); v.Phase() != end {
				t.Errorf("struck: %s", v.Phase())
			}
		})
	}
}

func TestOutcomes(t *testing.T) {
	h := opened(t)
	g := h.guest("", demo.Guest{Ate: 4 * time.Hour})
	if _, err := h.P.LeaveVisit(h.ctx, h.As("Cy Lapsed"), programme.LeaveVisit{Act: h.Act(), Visit: g.ID, Reason: "bus"}); err != nil {
		t.Fatal(err)
	}
	out := func(outcome, why string) programme.Correct {
		return programme.Correct{Event: h.Event, Kind: programme.CorrectOutcome, Visit: g.ID, Outcome: outcome, Why: why}
	}
	h.corrected(out("declined", "needles"))
	if v := h.visit(g); v.Phase() != visit.HasDeclined || v.Declined.Reason != "needles" || v.Left != nil {
		t.Errorf("%s %+v", v.Phase(), v.Declined)
	}
	_, err := h.signs("Sue Supervisor", out("finished", ""))
	h.refused("no-finding", err)
	h.corrected(out("open", ""))
	if v := h.visit(g); v.Phase() != visit.AtTest {
		t.Errorf("opened again it is at %s", v.Phase())
	}
	_, err = h.signs("Sue Supervisor", out("left", ""))
	if v := h.visit(g); !fault.Is(err, "not-ended") || len(v.Corrections) != 2 {
		t.Errorf("%v, %d corrections", err, len(v.Corrections))
	}
}

func TestContactAndLanguage(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour, Contact: programme.Contact{Allow: true, Call: true, Name: "Invented Person", Phone: "555 0190"}}, demo.Shot{Reading: "250"}, demo.Shot{Reading: "240"})
	h.finish(g)
	if !programme.MayCall(h.visit(g)) {
		t.Fatal("no permission to begin with")
	}
	contact := func(permission, name, phone string) programme.Correct {
		return programme.Correct{Event: h.Event, Kind: programme.CorrectContact, Visit: g.ID, Permission: permission, Name: name, Phone: phone}
	}
	h.corrected(contact("none", "", ""))
	v := h.visit(g)
	if programme.MayCall(v) || v.Sealed != nil || v.Referral.Call {
		t.Errorf("still callable: %+v", v.Referral)
	}
	if _, err := h.signs("Lea Lead", contact("call", "", "")); fault.Of(err).Fields["phone"] == "" {
		t.Errorf("a call without a number: %v", err)
	}
	h.corrected(contact("call", "Invented Other", "555 0191"))
	got, ok, err := h.P.OpenContact(h.ctx, h.As("Lea Lead"), g.ID)
	if err != nil || !ok || got.Name != "Invented Other" || got.Phone != "555 0191" || !programme.MayCall(h.visit(g)) {
		t.Errorf("%+v %v %v", got, ok, err)
	}
	for _, c := range h.visit(g).Corrections {
		if s := fmt.Sprint(c); strings.Contains(s, "Invented Other") || strings.Contains(s, "0191") {
			t.Error("the correction tells the name")
		}
	}
	h.corrected(programme.Correct{Event: h.Event, Kind: programme.CorrectLanguage, Visit: g.ID, Language: "es"})
	if v := h.visit(g); v.Language != "es" || v.Ticket != g.Ticket {
		t.Errorf("%s, ticket %d", v.Language, v.Ticket)
	}
}

// A control typed as 118 showed 181: the meter was never cleared, and who was tested on it is listed.
func TestControlRun(t *testing.T) {
	h := opened(t)
	on1 := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "118"})
	h.tested("2", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "101"})
	var run event.Run
	for _, r := range h.day().Event.Runs {
		if r.Meter == h.ID("M1") && r.Level == "1" {
			run = r
		}
	}
	c := programme.Correct{
		Event: h.Event, Kind: programme.CorrectControl, Fact: run.ID, Reading: "181", Again: "181", Meter: run.Meter, StripLot: run.StripLot, Vial: run.Vial,
		ControlLot: run.ControlLot, Bottle: run.Bottle,
	}
	seen := h.corrected(c)
	if len(seen.LookBack) != 1 || seen.LookBack[0].Visit != on1.ID || seen.LookBack[0].Band != "usual" {
		t.Errorf("look-back: %+v", seen.LookBack)
	}
	lost := 0
	for _, x := range seen.Clearances {
		if x.Meter != "M1" || !x.WasClear && x.Clear {
			t.Errorf("clearance: %+v", x)
		}
		if x.WasClear && !x.Clear {
			lost++
		}
	}
	d := h.day()
	if lost != 1 || d.Clearance(h.ID("M1"), h.ID("A"), "A1").Cleared || !d.Clearance(h.ID("M2"), h.ID("A"), "A1").Cleared {
		t.Errorf("cleared: %d lost", lost)
	}
	if x := d.Event.Corrections; len(x) != 1 || len(x[0].LookBack) != 1 || x[0].LookBack[0] != on1.ID {
		t.Errorf("kept as %+v", x)
	}
	g := h.guest("1", demo.Guest{Ate: 4 * time.Hour})
	if _, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "99"}); fault.Of(err).Kind != fault.Refused {
		t.Errorf("tested on a meter that is not cleared: %v", err)
	}
	c.Reading, c.Again = "118", "118"
	if seen := h.corrected(c); len(seen.LookBack) != 0 || !h.day().Clearance(h.ID("M1"), h.ID("A"), "A1").Cleared {
		t.Errorf("corrected back: %+v", seen.LookBack)
	}
}

// A result that changed after it was explained is explained again before the visit ends.
func TestExplainedAgain(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "118"})
	h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
	h.corrected(h.value(g, 0, "181"))
	_, err := h.P.FinishVisit(h.ctx, h.As("Dot Counsellor"), programme.FinishVisit{Act: h.Act(), Visit: g.ID})
	h.refused("not-explained-again", err)
}

package programme_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// ahead is the hall on 20 June, forty days before its day.
func ahead(t *testing.T, change ...func(*demo.Programme)) *hall {
	t.Helper()
	return newHall(t, append(change, func(s *demo.Programme) { s.Plan.Date = "2026-07-30" })...)
}

// adopt takes examples by their keys over to the programme's list.
func (h *hall) adopt(keys ...string) {
	h.t.Helper()
	c := programme.AdoptLeadTimes{Act: h.Act()}
	for _, x := range charter.ExampleLeadTimes() {
		for _, k := range keys {
			if x.Key == k {
				c.Rows = append(c.Rows, programme.LeadTimeRow{Key: x.Key, What: x.What, Days: x.Days, After: x.After, Source: x.Source})
			}
		}
	}
	_, err := h.P.AdoptLeadTimes(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
}

func (h *hall) countdown(eventID string) *programme.Countdown {
	h.t.Helper()
	c, err := h.P.Countdown(h.ctx, eventID)
	h.must(err)
	return c
}

// lines are the open things, as "day what".
func lines(list []programme.Due) string {
	var out []string
	for _, d := range list {
		out = append(out, d.On.String()+" "+d.Subject)
	}
	return strings.Join(out, ", ")
}

func TestCountdownFromTheProgrammesList(t *testing.T) {
	h := ahead(t)
	lead, sue, ann := h.As("Lea Lead"), h.As("Sue Supervisor"), h.As("Ann Screener")
	plan := programme.PlanTasks{Act: h.Act(), Event: h.Event}
	_, err := h.P.PlanTasks(h.ctx, lead, plan)
	h.refused("no-lead-times", err)
	h.adopt("partner", "county-notice", "after-form")
	_, err = h.P.PlanTasks(h.ctx, ann, plan)
	h.refused("role", err)
	for range 2 { // a second press is the same act
		if _, err := h.P.PlanTasks(h.ctx, sue, plan); err != nil {
			t.Fatal(err)
		}
	}
	_, err = h.P.PlanTasks(h.ctx, sue, programme.PlanTasks{Act: h.Act(), Event: h.Event})
	h.refused("tasks-there", err)

	// The day is 30 July; today is 20 June. The partner should have been asked 42 days before, on 18 June.
	c := h.countdown(h.Event)
	if got, want := lines(c.Open), "2026-06-18 partner, 2026-06-30 county-notice, 2026-08-13 after-form"; got != want {
		t.Errorf("open: %s, want %s", got, want)
	}
	if c.Late() != 1 || !c.Open[0].Late() || c.Open[0].Left != -2 || c.Open[1].Left != 10 || c.Open[0].Owner != "Sue Supervisor" {
		t.Errorf("late: %+v", c.Open)
	}
	if got, want := lines(c.Settled), "2026-12-31 programme"; got != want || !strings.Contains(c.Settled[0].Says, "after this event") {
		t.Errorf("in order: %s, want %s", got, want)
	}

	h.later(time.Minute)
	// The event moves a week, and everything that hangs on it moves along.
	set := h.set.Plan
	set.Act, set.Event, set.Date = h.Act(), h.Event, "2026-08-06"
	_, err = h.P.PlanEvent(h.ctx, lead, set)
	h.must(err)
	if got, want := lines(h.countdown(h.Event).Open), "2026-06-25 partner, 2026-07-07 county-notice, 2026-08-20 after-form"; got != want {
		t.Errorf("after the move: %s, want %s", got, want)
	}
	if d := h.countdown(h.Event).Open[0]; d.Revision != 1 || !d.Stamp.Equal(h.Clock.Now()) {
		t.Errorf("the move is a revision of the calendar's entry: %d at %s", d.Revision, d.Stamp)
	}
}

func TestTasksAreDoneWaivedAndOpenedAgain(t *testing.T) {
	h := ahead(t)
	h.adopt("partner", "county-notice")
	lead, sue, ann, dot := h.As("Lea Lead"), h.As("Sue Supervisor"), h.As("Ann Screener"), h.As("Dot Counsellor")
	_, err := h.P.PlanTasks(h.ctx, lead, programme.PlanTasks{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.PlanTask(h.ctx, sue, programme.PlanTask{Act: h.Act(), Event: h.Event, Task: "partner", What: "Ask the hospital", Days: 45, Owner: h.ID("Ann Screener")})
	h.must(err)

	done := programme.FinishTask{Act: h.Act(), Event: h.Event, Task: "partner", Reference: "Letter 7"}
	_, err = h.P.FinishTask(h.ctx, dot, done)
	h.refused("role", err)
	empty := done
	empty.Act, empty.Reference = h.Act(), " "
	_, err = h.P.FinishTask(h.ctx, ann, empty)
	h.refused("fields", err)
	future := done
	future.Act, future.On = h.Act(), "2026-06-21"
	_, err = h.P.FinishTask(h.ctx, ann, future)
	h.refused("fields", err)
	for range 2 { // its owner may, and a second press is harmless
		_, err = h.P.FinishTask(h.ctx, ann, done)
		h.must(err)
	}
	again := done
	again.Act = h.Act()
	_, err = h.P.FinishTask(h.ctx, sue, again)
	h.refused("task-done", err)
	_, err = h.P.WaiveTask(h.ctx, lead, programme.WaiveTask{Act: h.Act(), Event: h.Event, Task: "partner", Reason: "no"})
	h.refused("task-done", err)
	if x, _ := h.day().Event.TaskOf("partner"); x.Done == nil || x.Done.On.String() != "2026-06-20" || x.Done.Reference != "Letter 7" || x.Times != 3 {
		t.Errorf("the task is %+v", x)
	}

	waive := programme.WaiveTask{Act: h.Act(), Event: h.Event, Task: "county-notice", Reason: "Not in this county"}
	_, err = h.P.WaiveTask(h.ctx, sue, waive)
	h.refused("role", err)
	for range 2 {
		_, err = h.P.WaiveTask(h.ctx, lead, waive)
		h.must(err)
	}
	if c := h.countdown(h.Event); len(c.Open) != 0 || len(c.Settled) != 3 {
		t.Errorf("open %s, settled %s", lines(c.Open), lines(c.Settled))
	}
	_, err = h.P.ReopenTask(h.ctx, sue, programme.ReopenTask{Act: h.Act(), Event: h.Event, Task: "county-notice", Reason: "It is, after all"})
	h.must(err)
	_, err = h.P.ReopenTask(h.ctx, sue, programme.ReopenTask{Act: h.Act(), Event: h.Event, Task: "county-notice", Reason: "again"})
	h.refused("task-open", err)
	if got := lines(h.countdown(h.Event).Open); got != "2026-06-30 county-notice" {
		t.Errorf("open: %s", got)
	}
	for _, err := range []error{
		second(h.P.FinishTask(h.ctx, sue, programme.FinishTask{Act: h.Act(), Event: h.Event, Task: "none", Note: "x"})),
		second(h.P.WaiveTask(h.ctx, lead, programme.WaiveTask{Act: h.Act(), Event: h.Event, Task: "none", Reason: "x"})),
		second(h.P.ReopenTask(h.ctx, lead, programme.ReopenTask{Act: h.Act(), Event: h.Event, Task: "none", Reason: "x"})),
		second(h.P.PlanTask(h.ctx, lead, programme.PlanTask{Act: h.Act(), Event: h.Event, Task: "none", What: "x", Owner: h.ID("Lea Lead")})),
	} {
		h.refused("no-such-task", err)
	}
}

func TestAbsurdLeadTimesAndOwners(t *testing.T) {
	h := ahead(t)
	lead := h.As("Lea Lead")
	_, err := h.P.Leave(h.ctx, lead, programme.Leave{Act: h.Act(), Person: h.ID("Bob Screener"), Reason: "moved"})
	h.must(err)
	for name, r := range map[string]programme.LeadTimeRow{
		"negative": {What: "x", Days: -1}, "10,000 days": {What: "x", Days: 10000}, "no such owner": {What: "x", Owner: "nobody"}, "an owner who left": {What: "x", Owner: h.ID("Bob Screener")},
		"long words": {What: strings.Repeat("x", 121)},
	} {
		before := h.entries()
		_, err := h.P.AdoptLeadTimes(h.ctx, lead, programme.AdoptLeadTimes{Act: h.Act(), Rows: []programme.LeadTimeRow{{What: "fine", Days: 3}, r}})
		if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || len(f.Fields) != 1 || h.entries() != before {
			t.Errorf("%s: %v", name, err)
		}
		if r.Owner == "" {
			r.Owner = h.ID("Ann Screener")
		}
		_, err = h.P.PlanTask(h.ctx, lead, programme.PlanTask{Act: h.Act(), Event: h.Event, What: r.What, Days: r.Days, Owner: r.Owner})
		h.refused("fields", err)
	}
	_, err = h.P.PlanTask(h.ctx, lead, programme.PlanTask{Act: h.Act(), Event: h.Event, What: "x"})
	h.refused("fields", err)
	_, err = h.P.AdoptLeadTimes(h.ctx, h.As("Sue Supervisor"), programme.AdoptLeadTimes{Act: h.Act(), Rows: []programme.LeadTimeRow{{What: "x"}}})
	h.refused("role", err)
	_, err = h.P.AdoptLeadTimes(h.ctx, lead, programme.AdoptLeadTimes{Act: h.Act(), Rows: []programme.LeadTimeRow{{Key: "partner", What: "x"}, {Key: "partner", What: "y"}}})
	h.refused("fields", err)
	many := programme.AdoptLeadTimes{Act: h.Act()}
	for range programme.MostLeadTimes + 1 {
		many.Rows = append(many.Rows, programme.LeadTimeRow{What: "x"})
	}
	_, err = h.P.AdoptLeadTimes(h.ctx, lead, many)
	h.refused("fields", err)

	// What the programme changes is its own; what it leaves alone stays an example. A key that is not known is not taken.
	_, err = h.P.AdoptLeadTimes(h.ctx, lead, programme.AdoptLeadTimes{Act: h.Act(), Rows: []programme.LeadTimeRow{
		{Key: "after-form", What: "Send the form about the event", Days: 14, After: true, Source: "A West-coast university: within 2 weeks after"}, {}, {Key: "../x", What: "Own"}, {Key: "partner", What: "Ask the hospital", Days: 60},
	}})
	h.must(err)
	ch, err := h.P.Charter(h.ctx)
	h.must(err)
	got := ch.LeadTimes.Times
	if len(got) != 3 || got[0].Key != "partner" || got[0].Example || got[1].What != "Own" || got[1].Key == "../x" || got[2].Key != "after-form" || !got[2].Example {
		t.Errorf("the list is %+v", got)
	}
}

func TestNothingIsPreparedForADayThatHasPassed(t *testing.T) {
	h := ahead(t)
	h.adopt("partner", "after-form")
	lead := h.As("Lea Lead")
	h.Clock.Set(h.Time("08:00").AddDate(0, 0, 41))
	_, err := h.P.PlanTasks(h.ctx, lead, programme.PlanTasks{Act: h.Act(), Event: h.Event})
	h.refused("event-past", err)
	task := programme.PlanTask{Act: h.Act(), Event: h.Event, What: "Thank the host", Days: 3, Owner: h.ID("Lea Lead")}
	_, err = h.P.PlanTask(h.ctx, lead, task)
	h.refused("event-past", err)
	task.Act, task.After = h.Act(), true
	done, err := h.P.PlanTask(h.ctx, lead, task)
	h.must(err)
	if c := h.countdown(""); len(c.Events) != 1 || lines(c.Open) != "2026-05-01 "+h.ID("Cy Lapsed")+", 2026-08-02 "+done.ID {
		t.Errorf("%d events: %s", len(c.Events), lines(c.Open))
	}
	_, err = h.P.AcceptRoster(h.ctx, lead, programme.AcceptRoster{Act: h.Act(), Event: h.Event, Rows: []programme.RosterRow{{Person: h.ID("Ann Screener"), Role: "screener"}}})
	h.refused("event-past", err)
}

// What comes after the day can be written down when the event is closed; nothing new is planned for it.
func TestAClosedEventKeepsWhatFollows(t *testing.T) {
	h := newHall(t)
	lead := h.As("Lea Lead")
	h.adopt("after-form")
	_, err := h.P.PlanTasks(h.ctx, lead, programme.PlanTasks{Act: h.Act(), Event: h.Event})
	h.must(err)
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	h.Clock.Set(h.Time("13:00"))
	h.close()
	if c := h.countdown(""); len(c.Events) != 1 || c.Open[len(c.Open)-1].Subject != "after-form" {
		t.Fatalf("a closed event with a form to send: %s", lines(c.Open))
	}
	_, err = h.P.PlanTask(h.ctx, lead, programme.PlanTask{Act: h.Act(), Event: h.Event, What: "x", After: true, Owner: h.ID("Lea Lead")})
	h.refused("event-closed", err)
	_, err = h.P.FinishTask(h.ctx, lead, programme.FinishTask{Act: h.Act(), Event: h.Event, Task: "after-form", Note: "sent by mail"})
	h.must(err)
	if c := h.countdown(""); len(c.Events) != 0 {
		t.Errorf("still %d events", len(c.Events))
	}
}

func TestExpiriesStandInTheSameList(t *testing.T) {
	h := ahead(t, func(s *demo.Programme) {
		s.Describe.CertificateUntil = "2026-07-25"
		s.People[2].Verified = []demo.Proof{{Role: "screener", From: "2026-01-01", Until: "2026-07-29"}} // Bob, a day short
	})
	lead := h.As("Lea Lead")
	h.must(post(h, "Ann Screener", "screener"))
	h.refused("not-verified", post(h, "Bob Screener", "screener"))
	h.must(second(h.P.Verify(h.ctx, lead, programme.Verify{Act: h.Act(), Person: h.ID("Bob Screener"), Role: "screener", From: "2026-01-01", Until: "2026-12-31"})))
	h.must(post(h, "Bob Screener", "screener"))
	h.must(second(h.P.WithdrawVerification(h.ctx, lead, programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Bob Screener"), Role: "screener", Reason: "hurried"})))
	_, err := h.P.DescribeMeter(h.ctx, lead, programme.DescribeMeter{Act: h.Act(), Label: "M77", Serial: "T-77", Model: "Type A", Coding: "none", Unit: "mg/dL", TempLow: num(10), TempHigh: num(40)})
	h.must(err)

	c := h.countdown(h.Event)
	kinds := map[programme.DueKind]programme.Due{}
	for _, d := range c.Open {
		kinds[d.Kind] = d
		if d.UID == "" || d.Stamp.IsZero() || d.Revision < 0 {
			t.Errorf("a calendar could not know %+v again", d)
		}
	}
	if d := kinds[programme.DueCertificate]; d.On.String() != "2026-07-25" || d.Says != "It ends on 25 Jul 2026; Test Fair is on 30 Jul 2026." {
		t.Errorf("certificate: %+v", d)
	}
	if d := kinds[programme.DueVerification]; d.On.String() != "2026-07-29" || d.Role != people.Screener || !strings.Contains(d.Says, "was withdrawn. Test Fair is on 30 Jul 2026.") {
		t.Errorf("verification: %+v", d)
	}
	if d := kinds[programme.DueMeter]; d.On.String() != "2026-07-29" || !strings.Contains(d.What, "M77") {
		t.Errorf("meter: %+v", d)
	}
	if len(c.Open) != 3 {
		t.Errorf("open: %s", lines(c.Open))
	}

	// Of all events: Cy's verification ended on 1 May, fifty days ago, and comes first; Ann's ends in December, beyond the horizon.
	all := h.countdown("")
	if d := all.Open[0]; d.Subject != h.ID("Cy Lapsed") || d.Left != -50 || !d.Late() {
		t.Errorf("first: %+v", d)
	}
	for _, d := range all.Open {
		if d.Subject == h.ID("Ann Screener") {
			t.Errorf("too early: %+v", d)
		}
	}
	if _, err := h.P.Countdown(h.ctx, "none"); !fault.Is(err, "no-such-event") {
		t.Errorf("an event that does not exist: %v", err)
	}
}

func num(f float64) *float64 { return &f }

func post(h *hall, name, role string) error {
	_, err := h.P.PostPerson(h.ctx, h.As("Lea Lead"), programme.PostPerson{Act: h.Act(), Event: h.Event, Person: h.ID(name), Role: role})
	return err
}

// A programme of one person with nothing else on record has a countdown too.
func TestCountdownOfAnEmptyProgramme(t *testing.T) {
	p, ctx := founded(t)
	c, err := p.Countdown(ctx, "")
	if err != nil || len(c.Events)+len(c.Open)+len(c.Settled) != 0 {
		t.Fatalf("%+v, %v", c, err)
	}
	all, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		t.Fatal(err)
	}
	ev, err := p.PlanEvent(ctx, programme.Actor{Person: all[0].ID}, programme.PlanEvent{Name: "First", Venue: "Hall", Date: "2026-07-30", Doors: "9:00", Ends: "12:00"})
	if err != nil {
		t.Fatal(err)
	}
	c, err = p.Countdown(ctx, ev.ID)
	if err != nil || len(c.Open) != 1 || c.Open[0].Kind != programme.DueCertificate || c.Open[0].On.String() != "2026-07-29" || c.Open[0].Says != "It is not on record." {
		t.Errorf("open %+v, %v", c.Open, err)
	}
}

func founded(t *testing.T) (*programme.Programme, context.Context) {
	t.Helper()
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	p, _ := testrecord.Open(t, clock.Now)
	if _, err := p.Found(t.Context(), programme.Founding{Programme: "Empty", Lead: "Lea Lead", PIN: "4821"}); err != nil {
		t.Fatal(err)
	}
	return p, t.Context()
}

package programme_test

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
)

func (h *hall) report(who, sort, station string) string {
	h.t.Helper()
	d, err := h.P.ReportIncident(h.ctx, h.As(who), programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: sort, Station: station})
	h.must(err)
	return d.ID
}

func (h *hall) does(who, id, step, choice, note string) error {
	_, err := h.P.IncidentStep(h.ctx, h.As(who), programme.IncidentStep{Act: h.Act(), Incident: id, Step: step, Choice: choice, Note: note})
	return err
}

func (h *hall) tellAbout(id, who string) error {
	_, err := h.P.TellIncident(h.ctx, h.As("Ann Screener"), programme.TellIncident{Act: h.Act(), Incident: id, Sign: h.Sign(who)})
	return err
}

func (h *hall) end(who, id, signer string) error {
	c := programme.CloseIncident{Act: h.Act(), Incident: id}
	if signer != "" {
		c.Sign = h.Sign(signer)
	}
	_, err := h.P.CloseIncident(h.ctx, h.As(who), c)
	return err
}

func (h *hall) mishap(id string) *incident.State {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	s := d.Incident(id)
	if s == nil {
		h.t.Fatalf("there is no incident %s", id)
	}
	return s
}

// at 11:35 a participant faints: laid down, legs raised, well in 10 minutes. The day's report counts one incident.
func TestFaintOnTheReport(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	h.Clock.Set(h.Time("11:35"))
	d, err := h.P.ReportIncident(h.ctx, h.As("Ann Screener"), programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: "faint", Visit: g.ID, Station: "1"})
	h.must(err)
	h.later(20 * time.Second)
	h.must(h.does("Ann Screener", d.ID, incident.LaidDown, "", ""))
	h.must(h.does("Bob Screener", d.ID, incident.LegsRaised, "", ""))
	h.must(h.does("Bob Screener", d.ID, incident.Stayed, "", ""))
	h.must(h.tellAbout(d.ID, "Sue Supervisor"))
	h.refused("incident-unfinished", h.end("Bob Screener", d.ID, "Sue Supervisor"))
	h.Clock.Set(h.Time("11:45"))
	h.must(h.does("Bob Screener", d.ID, incident.Well, "", ""))
	h.must(h.does("Bob Screener", d.ID, incident.Fall, "not-hurt", ""))
	h.must(h.does("Bob Screener", d.ID, incident.Ate, "drunk", ""))
	h.refused("signature", h.end("Bob Screener", d.ID, ""))
	h.refused("signature-role", h.end("Bob Screener", d.ID, "Ann Screener"))
	h.must(h.end("Bob Screener", d.ID, "Sue Supervisor"))

	s := h.mishap(d.ID)
	if after, ok := s.WellAfter(); !ok || after != 10*time.Minute {
		t.Errorf("well after %v", after)
	}
	if s.Open() || s.Closed.Signed != h.ID("Sue Supervisor") || s.Report.Visit != g.ID {
		t.Errorf("the incident is %+v", s)
	}
	r, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if len(r.Incidents) != 1 || r.Incidents[0] != (programme.IncidentCount{Kind: "faint", N: 1}) {
		t.Errorf("the report counts %+v", r.Incidents)
	}
	h.refused("incident-closed", h.does("Bob Screener", d.ID, incident.Ate, "eaten", ""))
	check, err := h.P.Check(h.ctx)
	h.must(err)
	if len(check.Problems) > 0 {
		t.Errorf("check: %v", check.Problems)
	}
}

// A sharps injury to its end, and the log of its year: the fields of the log, the times, and nobody's name.
func TestSharpsInjuryAndItsLog(t *testing.T) {
	h := opened(t)
	h.Clock.Set(h.Time("11:02"))
	id := h.report("Cy Lapsed", "sharps-injury", "2")
	if !h.mishap(id).Calls() {
		t.Error("an exposure that nobody was told of does not call")
	}
	h.later(time.Minute)
	h.must(h.does("Bob Screener", id, incident.FirstAid, "washed", ""))
	h.must(h.tellAbout(id, "Sue Supervisor"))
	if h.mishap(id).Calls() {
		t.Error("it still calls although a supervisor knows")
	}
	h.must(h.does("Bob Screener", id, incident.Called, "answered", "the nurse on duty"))
	form := programme.DescribeIncident{
		Incident: id, Happened: h.Time("10:58"), Device: "lancet", Brand: "Invented Blue", LancetLot: "L-7", Area: "station 2", Phase: "after-use",
		How: "Reached over the table and touched a used lancet", Role: "screener", Person: h.ID("Bob Screener"), Sharps: "out-of-reach",
	}
	form.Act = h.Act()
	_, err := h.P.DescribeIncident(h.ctx, h.As("Bob Screener"), form)
	h.must(err)
	if p := h.mishap(id).Details.Person; p != "" {
		t.Errorf("a screener's form keeps the person %q", p)
	}
	form.Act = h.Act()
	_, err = h.P.DescribeIncident(h.ctx, h.As("Lea Lead"), form)
	h.must(err)
	form.Act, form.Person = h.Act(), ""
	_, err = h.P.DescribeIncident(h.ctx, h.As("Sue Supervisor"), form)
	h.must(err)
	if p := h.mishap(id).Details.Person; p != h.ID("Bob Screener") {
		t.Errorf("the person that the lead wrote down is %q after a supervisor's form", p)
	}
	h.must(h.does("Bob Screener", id, incident.Source, "yes", ""))
	h.must(h.does("Bob Screener", id, incident.HandedOver, "clinician", "walked over to occupational health"))
	h.must(h.end("Bob Screener", id, "Lea Lead"))
	h.report("Cy Lapsed", "splash", "1")

	rows, err := h.P.SharpsLog(h.ctx, 2026)
	h.must(err)
	if len(rows) != 1 {
		t.Fatalf("%d rows in the log, want the one sharps injury", len(rows))
	}
	r := rows[0]
	for _, c := range [][2]string{
		{r.Device, "lancet"},
		{r.Brand, "Invented Blue"},
		{r.Area, "station 2"},
		{r.How, form.How},
		{r.Phase, "after-use"},
		{r.Role, "screener"},
		{r.Sharps, "out-of-reach"},
		{r.Source, "yes"},
		{r.Status, "closed"},
		{r.Happened.Format("2006-01-02 15:04"), "2026-06-20 10:58"},
		{r.Reported.Format("15:04"), "11:02"},
		{r.KeepUntil.String(), "2031-12-31"},
		{r.First(incident.Told).Format("15:04"), "11:03"},
	} {
		if c[0] != c[1] {
			t.Errorf("the log says %q, want %q", c[0], c[1])
		}
	}
	for _, s := range r.Steps {
		if strings.Contains(s.Choice, h.ID("Sue Supervisor")) || strings.Contains(s.Choice, "Sue") {
			t.Errorf("the log names somebody: %+v", s)
		}
	}
	if none, err := h.P.SharpsLog(h.ctx, 2025); err != nil || len(none) != 0 {
		t.Errorf("the log of 2025 has %d rows, %v", len(none), err)
	}
	rep, err := h.P.Report(h.ctx, h.Event)
	h.must(err)
	if len(rep.Incidents) != 2 || rep.Incidents[0] != (programme.IncidentCount{Kind: "sharps-injury", Phase: "after-use", N: 1}) || rep.Incidents[1] != (programme.IncidentCount{Kind: "splash", N: 1, Open: 1}) {
		t.Errorf("the report counts %+v", rep.Incidents)
	}
}

// Medical details and names have no place in any free text.
func TestIncidentsRefuseMedicalWordsAndNames(t *testing.T) {
	h := opened(t)
	id := h.report("Ann Screener", "complaint", "")
	for _, c := range []struct{ text, says string }{
		{"The woman said she has hepatitis B", "tell the clinician, not this log"},
		{"Dijo que toma insulina", "tell the clinician, not this log"},
		{"Bob Screener was rude", "write the role"},
	} {
		err := h.does("Ann Screener", id, incident.Remedy, "", c.text)
		if f := fault.Of(err); f == nil || f.Kind != fault.Invalid || !strings.Contains(f.Fields["note"], c.says) {
			t.Errorf("%q: %v", c.text, err)
		}
		_, err = h.P.ReportIncident(h.ctx, h.As("Ann Screener"), programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: "other", What: c.text})
		if f := fault.Of(err); f == nil || !strings.Contains(f.Fields["what"], c.says) {
			t.Errorf("%q in a report: %v", c.text, err)
		}
		_, err = h.P.DescribeIncident(h.ctx, h.As("Ann Screener"), programme.DescribeIncident{Act: h.Act(), Incident: id, How: c.text})
		if f := fault.Of(err); f == nil || !strings.Contains(f.Fields["how"], c.says) {
			t.Errorf("%q in a form: %v", c.text, err)
		}
		_, err = h.P.WithdrawIncident(h.ctx, h.As("Lea Lead"), programme.WithdrawIncident{Act: h.Act(), Incident: id, Reason: c.text})
		if f := fault.Of(err); f == nil || !strings.Contains(f.Fields["reason"], c.says) {
			t.Errorf("%q as a reason: %v", c.text, err)
		}
	}
	if len(h.mishap(id).Steps) != 0 {
		t.Error("a refused note was recorded")
	}
	h.must(h.does("Ann Screener", id, incident.Remedy, "", "Listened; a screener explained the wait"))
	h.must(h.end("Cy Lapsed", id, ""))
}

// What an incident does not take.
func TestIncidentsRefuse(t *testing.T) {
	h := opened(t)
	ctx, who := h.ctx, h.As("Ann Screener")
	_, err := h.P.ReportIncident(ctx, who, programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: "theft"})
	h.refused("fields", err)
	_, err = h.P.ReportIncident(ctx, who, programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: "faint", Visit: h.ID("M1")})
	h.refused("no-such-visit", err)
	_, err = h.P.ReportIncident(ctx, who, programme.ReportIncident{Act: h.Act(), Event: "nowhere", Sort: "faint"})
	h.refused("no-such-event", err)
	id := h.report("Ann Screener", "sharps-injury", "1")
	h.refused("field-step", h.does("Ann Screener", id, incident.LaidDown, "", ""))
	h.refused("field-step", h.does("Ann Screener", id, incident.Told, h.ID("Sue Supervisor"), "")) // not without a PIN
	h.refused("fields", h.does("Ann Screener", id, incident.FirstAid, "kissed", ""))
	h.refused("fields", h.does("Ann Screener", id, incident.Called, "answered", ""))
	h.refused("signature-role", h.tellAbout(id, "Bob Screener"))
	_, err = h.P.IncidentStep(ctx, who, programme.IncidentStep{Act: programme.Act{ID: h.Act().ID, At: h.Time("08:30")}, Incident: id, Step: incident.FirstAid, Choice: "washed"})
	h.refused("field-at", err)
	_, err = h.P.DescribeIncident(ctx, who, programme.DescribeIncident{Act: h.Act(), Incident: id, How: "slipped"})
	if f := fault.Of(err); f == nil || len(f.Fields) != 6 { // device, brand, area, phase, role, sharps
		t.Errorf("an empty log: %v", err)
	}
	_, err = h.P.WithdrawIncident(ctx, h.As("Sue Supervisor"), programme.WithdrawIncident{Act: h.Act(), Incident: id, Reason: "mistake"})
	h.refused("role", err)
	_, err = h.P.WithdrawIncident(ctx, h.As("Lea Lead"), programme.WithdrawIncident{Act: h.Act(), Incident: id, Reason: "pressed by mistake"})
	h.must(err)
	h.refused("incident-withdrawn", h.does("Ann Screener", id, incident.FirstAid, "washed", ""))
	r, err := h.P.Report(ctx, h.Event)
	h.must(err)
	if len(r.Incidents) != 0 {
		t.Errorf("a withdrawn incident is counted: %+v", r.Incidents)
	}
	if rows, err := h.P.SharpsLog(ctx, 2026); err != nil || len(rows) != 1 || rows[0].Status != "withdrawn" || rows[0].Why != "pressed by mistake" {
		t.Errorf("the log says %+v, %v", rows, err)
	}
}

// A second press of a tile makes no second incident.
func TestReportTwiceIsOnce(t *testing.T) {
	h := opened(t)
	c := programme.ReportIncident{Act: h.Act(), Event: h.Event, Sort: "faint"}
	first, err := h.P.ReportIncident(h.ctx, h.As("Ann Screener"), c)
	h.must(err)
	again, err := h.P.ReportIncident(h.ctx, h.As("Ann Screener"), c)
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if again.ID != first.ID || !again.Already || len(d.Incidents) != 1 {
		t.Errorf("%+v then %+v: %d incidents", first, again, len(d.Incidents))
	}
}

// Blood on a table shuts its station, and no other, until it is cleaned up and the surface was wet long enough.
func TestSpillShutsTheStation(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	id := h.report("Ann Screener", "spill", "1")
	_, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.refused("spill-open", err)
	other := h.guest("2", demo.Guest{})
	_, err = h.Read(h.ctx, other, "2", demo.Shot{Reading: "101"})
	h.must(err)
	for _, s := range []string{incident.Gloves, incident.Absorbed, incident.Cleaned} {
		h.must(h.does("Ann Screener", id, s, "", ""))
	}
	h.refused("no-such-disinfectant", h.does("Ann Screener", id, incident.Disinfected, "soap", ""))
	h.must(h.does("Ann Screener", id, incident.Disinfected, h.ID("wipes"), ""))
	h.later(59 * time.Second)
	h.refused("incident-unfinished", h.end("Ann Screener", id, ""))
	h.later(time.Second)
	h.must(h.end("Ann Screener", id, ""))
	_, err = h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.must(err)
}

// An event does not close over an open incident, and an incident that comes out after closing still finds its place, with
// both of its times.
func TestIncidentsAndTheClosing(t *testing.T) {
	h := opened(t)
	h.wholeVisit("1", "95")
	id := h.report("Ann Screener", "device-problem", "1")
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	h.refused("incident-open", h.closeDay())
	h.must(h.does("Ann Screener", id, incident.Remedy, "", "new battery"))
	h.must(h.end("Ann Screener", id, ""))
	h.refused("not-counted", h.closeDay())
	h.count(45, 50, 59, 2)
	h.memory("M1", 3)
	h.memory("M2", 2)
	h.must(h.closeDay())

	h.later(2 * time.Hour)
	late, err := h.P.ReportIncident(h.ctx, h.As("Ann Screener"), programme.ReportIncident{Act: programme.Act{ID: h.Act().ID, At: h.Time("09:01")}, Event: h.Event, Sort: "complaint"})
	h.must(err)
	s := h.mishap(late.ID)
	typed, isLate := programme.Late(s.At, s.Recorded)
	if !isLate || !s.At.Equal(h.Time("09:01")) || typed.Sub(h.Clock.Now()).Abs() > time.Second {
		t.Errorf("happened %s, typed in %s, late %v", s.At, typed, isLate)
	}
	_, err = h.P.ReportIncident(h.ctx, h.As("Ann Screener"), programme.ReportIncident{Act: programme.Act{ID: h.Act().ID, At: h.Clock.Now().Add(time.Hour)}, Event: h.Event, Sort: "complaint"})
	h.refused("field-at", err)
}

// A meter in doubt: whom it touched, the latest first.
func TestWhomAMeterTouched(t *testing.T) {
	h := opened(t)
	a, b := h.wholeVisit("1", "95"), h.wholeVisit("2", "101")
	c := h.wholeVisit("1", "99")
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	tickets := func(list []programme.Touch) (out []int) {
		for _, x := range list {
			out = append(out, x.Ticket)
		}
		return out
	}
	if got := tickets(d.Touched(h.ID("M1"), "")); len(got) != 2 || got[0] != c.Ticket || got[1] != a.Ticket {
		t.Errorf("meter M1 touched %v", got)
	}
	if got := tickets(d.Touched("", h.ID("A"))); len(got) != 3 {
		t.Errorf("lot A touched %v", got)
	}
	if got := tickets(d.Touched(h.ID("M2"), "")); len(got) != 1 || got[0] != b.Ticket {
		t.Errorf("meter M2 touched %v", got)
	}
	if got := d.Touched("", ""); got != nil {
		t.Errorf("nothing touched %v", got)
	}
}

// No event opens while nobody is named to call after an exposure.
func TestOpeningAsksForTheExposureContact(t *testing.T) {
	h := newHall(t)
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	c := setting().Describe
	c.Act, c.ExposurePhone = h.Act(), ""
	_, err := h.P.Describe(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	h.refused("no-exposure-contact", h.open())
	c.Act, c.ExposureContact, c.ExposurePhone, c.ExposureHours = h.Act(), "Invented Occupational Health", "555 0190", "day and night"
	_, err = h.P.Describe(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	h.must(h.open())
}

// Who may read what was written about somebody.
func TestMayReadIncident(t *testing.T) {
	h := opened(t)
	id := h.report("Ann Screener", "sharps-injury", "1")
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	for name, want := range map[string]bool{"Lea Lead": true, "Sue Supervisor": true, "Ann Screener": true, "Bob Screener": false, "Cy Lapsed": false, "Dot Counsellor": false} {
		if got := programme.MayReadIncident(d.Person(h.ID(name)), h.mishap(id)); got != want {
			t.Errorf("%s may read it: %v, want %v", name, got, want)
		}
	}
	if programme.MayReadIncident(nil, h.mishap(id)) {
		t.Error("nobody may read it")
	}
}

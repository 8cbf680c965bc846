package web

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

// autumn plans an event forty days ahead and gives its address.
func (o *office) autumn(name string) string {
	o.t.Helper()
	set := officeSetting().Plan
	set.Act, set.Name, set.Date = o.Act(), name, "2026-07-30"
	d, err := o.P.PlanEvent(o.t.Context(), o.As("Lea Lead"), set)
	if err != nil {
		o.t.Fatal(err)
	}
	return "/events/" + d.ID
}

func TestLeadTimesAreAdoptedAndChanged(t *testing.T) {
	o := setUp(t)
	const page = "/countdown/lead-times"
	o.want(o.get("Lea Lead", page), 200, "No lead time is adopted yet.", "30 days before the event: Give notice to the county health officer", "Example. California B&P 1244, county forms: at least 30 days.", "local rules decide")
	o.want(o.post("Lea Lead", page+"/examples"), 422, "Tick at least one example.")
	for range 2 {
		o.goes(o.post("Lea Lead", page+"/examples", "command=018f2b7c-0000-7000-8000-000000000001", "key=county-notice", "key=partner", "key=invented"), page)
	}
	o.want(o.get("Lea Lead", page), 200, "2 lines", "42 days before the event", "Example; local rules decide.", "!Example. A public hospital system")
	for _, c := range []struct{ days, says string }{
		{"-3", "The number of days must be from 0 to 730; -3 was given."},
		{"10000", "The number of days must be from 0 to 730; 10000 was given."},
		{"soon", `The number of days should be a whole number; "soon" was typed.`},
		{"", "The number of days is missing."},
	} {
		o.want(o.post("Lea Lead", page, "key_1=county-notice", "what_1=Tell the county", "days_1="+c.days, "when_1=before"), 422, c.says, `value="Tell the county"`)
	}
	o.goes(o.post("Lea Lead", page, "key_1=county-notice", "what_1=Tell the county", "days_1=35", "when_1=before", "source_1=Our county", "key_3=", "what_3=Thank the host", "days_3=3", "when_3=after", "owner_3="+o.ID("Sue Supervisor")), page)
	o.want(o.get("Lea Lead", page), 200, "2 lines", "35 days before the event Tell the county", "3 days after the event Thank the host Sue Supervisor", "!Example; local rules decide.", "!Ask the hospital or other partner to attend whoever")
}

func TestCountdownPages(t *testing.T) {
	o := setUp(t)
	ev := o.autumn("Autumn Fair")
	page := ev + "/countdown"
	o.want(o.get("Lea Lead", page), 200, "The day is in 40 days.", "The programme has no lead times yet.", "Choose the lead times", "It ends on 31 Dec 2026, after this event.")
	o.goes(o.post("Lea Lead", "/countdown/lead-times/examples", "key=county-notice", "key=partner", "key=after-form"), "/countdown/lead-times")
	o.want(o.get("Sue Supervisor", page), 200, "3 lines of the programme's list are not on this event yet.")
	o.want(o.get("Rae Runner", page), 200, "!Put the programme's list", "!Add a task")
	o.want(o.post("Rae Runner", page+"/list"), 403)
	o.goes(o.post("Sue Supervisor", page+"/list"), page)
	o.want(o.post("Sue Supervisor", page+"/list"), 409, "Everything on the programme's list is on this countdown already.")

	a := o.get("Sue Supervisor", page)
	o.want(a, 200, "1 thing is late.", "18 Jun 2026 late by 2 days", "30 Jun 2026 in 10 days", "13 Aug 2026 in 54 days")
	if late, next := strings.Index(a.text(), "18 Jun 2026"), strings.Index(a.text(), "30 Jun 2026"); late > next {
		t.Error("what is late does not come first")
	}
	task := page + "/county-notice"
	o.want(o.get("Rae Runner", task), 200, "30 Jun 2026 (30 days before the event)", "Sue Supervisor", "Example; local rules decide.", "!It is done", "!Change the task")
	o.want(o.post("Rae Runner", task+"/done", "note=x"), 403, "Rae Runner may not do this.")
	o.want(o.post("Sue Supervisor", task+"/done", "on=2026-06-20"), 422, "Write what shows that it is done")
	o.want(o.post("Sue Supervisor", task+"/done", "on=2026-06-21", "note=x"), 422, "21 Jun 2026 has not come yet.", `value="2026-06-21"`)
	o.want(o.post("Sue Supervisor", task, "what=Tell the county", "days=20", "when=before"), 422, "Choose who sees to it.")
	o.goes(o.post("Sue Supervisor", task, "what=Tell the county", "days=20", "when=before", "owner="+o.ID("Rae Runner")), page)
	o.want(o.get("Rae Runner", task), 200, "10 Jul 2026", "It is done")
	for range 2 {
		o.goes(o.post("Rae Runner", task+"/done", "command=018f2b7c-0000-7000-8000-000000000002", "on=2026-06-19", "reference=Receipt 12"), page)
	}
	o.want(o.get("Lea Lead", task), 200, "Done on 19 Jun 2026.", "Receipt 12", "Open it again", "!It is done")
	o.want(o.post("Lea Lead", task+"/done", "note=x"), 409, "This task is done already.")
	o.want(o.post("Sue Supervisor", page+"/partner/waive", "reason=x"), 403)
	o.want(o.post("Lea Lead", page+"/partner/waive"), 422, "The reason is missing.")
	o.goes(o.post("Lea Lead", page+"/partner/waive", "reason=No partner comes"), page)
	o.want(o.get("Lea Lead", page), 200, "!1 thing is late", "Next: Send the form about the event, in 54 days.", "Not needed: No partner comes", "Done on 19 Jun 2026.")
	o.goes(o.post("Sue Supervisor", page+"/partner/reopen", "reason=One comes"), page)
	o.goes(o.post("Sue Supervisor", page, "what=Book the hall", "days=10", "when=before", "owner="+o.ID("Sue Supervisor")), page)
	o.want(o.get("Lea Lead", "/countdown"), 200, "Autumn Fair, 30 Jul 2026", "3 of 4 tasks to do", "Test Fair, 20 Jun 2026", "no task on its list yet", "Book the hall", "Verify Cy Lapsed as screener again", "The verification ended on 1 May 2026.")
	o.want(o.get("Lea Lead", page+"/none"), 404, "There is no such task on this countdown.")
	o.want(o.get("Lea Lead", "/events/none/countdown"), 404)
	o.want(o.get("Lea Lead", ev), 200, page)
	o.want(o.get("Lea Lead", "/events"), 200, "Countdown of all events")
}

// A calendar that loads the file again finds the same entries: the file changes only when the record does, and it holds no
// note, reason or evidence.
func TestCalendarFile(t *testing.T) {
	o := setUp(t)
	ev := o.autumn("Autumn Fair")
	o.goes(o.post("Lea Lead", "/countdown/lead-times/examples", "key=county-notice", "key=partner", "key=after-form"), "/countdown/lead-times")
	o.goes(o.post("Lea Lead", ev+"/countdown/list"), ev+"/countdown")
	o.goes(o.post("Lea Lead", ev+"/countdown/county-notice/done", "note=Secret note", "reference=Secret letter"), ev+"/countdown")
	o.goes(o.post("Lea Lead", ev+"/countdown/partner/waive", "reason=Secret reason"), ev+"/countdown")
	a := o.get("Rae Runner", ev+"/countdown.ics")
	if a.status != 200 || a.header.Get("Content-Type") != "text/calendar; charset=utf-8" || a.header.Get("Content-Disposition") != `attachment; filename="countdown-2026-07-30.ics"` {
		t.Fatalf("%d %v", a.status, a.header)
	}
	text := strings.NewReplacer("\r\n ", "").Replace(a.body)
	for _, want := range []string{
		"SUMMARY:Autumn Fair\r\n", "DTSTART;VALUE=DATE:20260730\r\nDTEND;VALUE=DATE:20260731\r\n", "SUMMARY:Done: Give notice to the county health officer (Autumn Fair)\r\n",
		"SUMMARY:Not needed: Ask the hospital or other partner to attend (Autumn Fair)\r\n", "STATUS:CANCELLED\r\n", "SEQUENCE:1\r\n", "Who sees to it: Lea Lead",
		"UID:" + strings.TrimPrefix(ev, "/events/") + ".after-form@fairstick\r\n", "DTSTART;VALUE=DATE:20260813\r\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the calendar does not say %q", want)
		}
	}
	if strings.Contains(text, "Secret") || strings.Contains(text, "555") {
		t.Error("the calendar tells a note, a reason or a telephone")
	}
	o.Clock.Set(o.Time("08:10"))
	if again := o.get("Lea Lead", ev+"/countdown.ics"); again.body != a.body {
		t.Error("ten minutes later the same record gives another file")
	}
	all := o.get("Sue Supervisor", "/countdown.ics")
	uids := regexp.MustCompile(`(?m)^UID:.*`).FindAllString(all.body, -1)
	seen := map[string]bool{}
	for _, u := range uids {
		if seen[u] {
			t.Errorf("two entries are %s", u)
		}
		seen[u] = true
	}
	if len(uids) < 4 || strings.Count(all.body, "BEGIN:VEVENT") != len(uids) {
		t.Errorf("%d entries", len(uids))
	}
	o.want(o.get("Rae Runner", "/countdown.ics"), 403)
}

func TestRosterIsProposedAndAccepted(t *testing.T) {
	o := setUp(t)
	ev := o.autumn("Autumn Fair")
	page := ev + "/roster/propose"
	o.want(o.get("Ann Screener", page), 403)
	a := o.get("Sue Supervisor", page+"?desk=1&test=3&explain=1&supervisors=2&languages=en,es")
	o.want(a, 200, "Nobody is on the roster yet. 6 people are proposed.", "People are lacking. 1 screener more", "Cy Lapsed was verified as screener until 1 May 2026. The event is on 30 Jul 2026.",
		"Spanish: nobody on this roster is known to speak it.", "No glove size of those who test and supervise is known.", "Accept the proposal", "Rae Runner (runner)")
	for query, says := range map[string]string{
		"?test=-3": "Posts that test must be from 0 to 40; -3 was given.", "?desk=1000000": "Posts at the desk must be from 0 to 40", "?explain=many": `Explain: write a whole number; &#34;many&#34; was typed.`,
		"?test=99999999999999999999": "Test: write a whole number",
	} {
		o.want(o.get("Lea Lead", page+query), 422, says, "!Accept the proposal")
	}
	form := fieldsOf(formOf(t, answer{body: a.body[strings.Index(a.body, `id="form-accept"`)-40:]}, page))
	for range 2 {
		o.goes(o.post("Sue Supervisor", page, form...), ev+"/roster")
	}
	o.want(o.get("Lea Lead", ev+"/roster"), 200, "Ann Screener screener 1", "Bob Screener screener 2", "Dot Counsellor counsellor E1", "Cy Lapsed desk D1")
	stale := slices.DeleteFunc(slices.Clone(form), func(f string) bool { return strings.HasPrefix(f, "command=") })
	o.want(o.post("Sue Supervisor", page, stale...), 409, "Somebody of this proposal has a post already.", "6 people stay on the roster. Nobody is added.")
	o.want(o.post("Lea Lead", page, "person="+o.ID("Rae Runner")), 422, "The form arrived damaged.")
	o.want(o.post("Lea Lead", page), 409, "The proposal adds nobody.")

	if _, err := o.P.Attend(t.Context(), o.As("Lea Lead"), programme.Attend{Event: strings.TrimPrefix(ev, "/events/"), Person: o.ID("Ann Screener"), Note: "ill"}); err != nil {
		t.Fatal(err)
	}
	o.want(o.get("Lea Lead", page+"?test=2"), 200, "Ann Screener (screener, station 1). Is not there: ill", "Nobody else who is verified for this is free.")
	for path, name := range map[string]string{ev + "/roster.pdf": "roster-2026-07-30.pdf", ev + "/roster/stations.pdf?size=a4": "stations-2026-07-30.pdf"} {
		pdf := o.get("Rae Runner", path)
		if pdf.status != 200 || !strings.HasPrefix(pdf.body, "%PDF-") || !strings.Contains(pdf.header.Get("Content-Disposition"), name) {
			t.Errorf("%s: %d %v", path, pdf.status, pdf.header)
		}
	}
	for _, path := range []string{"/roster.pdf", "/roster/stations.pdf"} {
		if pdf := o.get("Rae Runner", "/events/"+o.Event+path); pdf.status != 200 || !strings.HasPrefix(pdf.body, "%PDF-") {
			t.Errorf("an empty roster as %s: %d", path, pdf.status)
		}
	}
}

// What stands on paper: everybody once, in the order of the day, and a page for each station.
func TestRosterOnPaper(t *testing.T) {
	m := newMarket(t)
	d := m.day()
	doc := rosterDocument(d)
	var names []string
	for _, r := range doc.Sections[0].Table.Rows {
		names = append(names, r[0]+" "+r[1]+" "+r[2]+" "+r[5])
	}
	want := "Maren Solbakk supervisor  not needed|Tobias Wren supervisor  not needed|Piet Lund desk  not needed|Hollis Bray desk  not needed|Ines Calder screener 1 1 Feb 2027|Jonah Pike screener 2 1 Feb 2027|" +
		"Saoirse Quill screener 3 1 Feb 2027|Rosa Amaya counsellor E1 1 Feb 2027|Dev Mahr counsellor E2 1 Feb 2027|Una Fairweather runner  not needed"
	if got := strings.Join(names, "|"); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	pages, titles := 0, ""
	for _, s := range stationSheets(d).Sections {
		if s.Table != nil {
			titles += s.Heading + "|"
		}
		if s.NewPage {
			pages++
		}
	}
	if titles != "Supervisors|Desk|Test, station 1|Test, station 2|Test, station 3|Explain, station E1|Explain, station E2|Runners|" || pages != 7 {
		t.Errorf("%d page breaks: %s", pages, titles)
	}
	for _, r := range []string{"lead", "supervisor", "desk", "screener", "counsellor", "runner"} {
		if len(stationTasks[r]) < 3 || stationTitles[r] == "" {
			t.Errorf("the sheet of a %s says nothing", r)
		}
	}
}

package web

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/programme"
)

// names are the invented participants who allowed a call; no page of the lead shows one unasked.
var names = []string{"Ada Invented", "Beto Inventado", "Cora Invented", "Dora Inventada", "Edda Invented"}

const (
	leadName = "Maren Solbakk"
	ferryDay = "2026-11-07"
)

func TestWhoMayOpenTheLeadsPages(t *testing.T) {
	m := newMarket(t)
	stranger, desk, screener, counsellor, lead := m.visitor(), m.as("Hollis Bray"), m.as("Ines Calder"), m.as("Rosa Amaya"), m.as(leadName)
	for path, want := range map[string][4]int{ // desk, screener, counsellor, lead
		m.event + "/open":                 {403, 403, 403, 200},
		m.event + "/stock":                {403, 403, 403, 200},
		m.event + "/controls":             {403, 200, 403, 200},
		m.event + "/controls/run":         {403, 200, 403, 200},
		m.event + "/controls/containers":  {403, 200, 403, 200},
		m.event + "/controls/log":         {403, 200, 403, 200},
		m.event + "/controls/log.pdf":     {403, 200, 403, 200},
		m.event + "/controls/runs/none":   {403, 404, 403, 404},
		m.event + "/controls/meters/none": {403, 404, 403, 404},
		m.event + "/board":                {200, 200, 200, 200},
		m.event + "/close":                {403, 403, 403, 200},
		m.event + "/report":               {403, 403, 403, 200},
		m.event + "/report.pdf":           {403, 403, 403, 200},
		m.event + "/report.csv":           {403, 403, 403, 200},
		m.event + "/report.json":          {403, 403, 403, 200},
		"/follow-up":                      {403, 403, 200, 200},
		"/follow-up/completion":           {403, 403, 200, 200},
		"/follow-up/none":                 {403, 403, 404, 404},
		"/events/none/board":              {404, 404, 404, 404},
	} {
		stranger.get(path)
		if stranger.status != http.StatusSeeOther || !strings.HasPrefix(stranger.to, "/sign-in?to=") {
			t.Errorf("a stranger at %s: %d to %q", path, stranger.status, stranger.to)
		}
		for i, v := range []*visitor{desk, screener, counsellor, lead} {
			v.get(path)
			if v.status != want[i] {
				t.Errorf("%s answers visitor %d with %d, want %d", path, i, v.status, want[i])
			}
			for _, n := range names {
				if strings.Contains(v.body, n) {
					t.Errorf("%s names %s", path, n)
				}
			}
		}
	}
	stranger.post(m.event+"/close/doors", form())
	stranger.want(http.StatusUnauthorized)
	desk.post(m.event+"/close/doors", form())
	desk.want(http.StatusForbidden)
	if p := m.day().Event.Phase; p != event.IsOpen {
		t.Errorf("the doors are %s after two refusals", p)
	}
}

func TestBoardAtMidMorning(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	v.get(m.event + "/board")
	v.want(http.StatusOK)
	v.see(`data-live="`+m.event+`/live"`, `id="alerts"`, `id="board"`, `id="board-meters"`, `id="board-notes"`, `id="board-stock"`, `id="board-figures"`,
		"Ticket 023: 412 mg/dL at 10:44, station 2.", "Low. Ticket 021: 64 mg/dL", "3 waiting, 1 called", "repeat due", "at station E1, Spanish",
		"of 70 expected", "3 not eligible, 1 declined, 1 left", "Out of use", "Controls again", "of 36 left, as computed", "of 100 left, as computed")
	n := m.day().Counts()
	if n.Arrived != 29 || n.Tested != 19 || n.Explained != 14 {
		t.Errorf("counts are %+v", n)
	}
	if left := m.day().LancetsLeft(); left != m.day().Event.Out.Lancets-m.day().Report().Lancets["used"] {
		t.Errorf("%d lancets left", left)
	}
}

// The stream says the whole board at once, and says it again when the record changes.
func TestLiveBoard(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	ctx, stop := context.WithTimeout(t.Context(), 3*refresh) // at most three ticks: four changes, each waited for, must have been brought by themselves
	defer stop()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, m.url+m.event+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	res, err := v.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	if got := res.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Fatalf("the stream is %q", got)
	}
	lines := bufio.NewScanner(res.Body)
	lines.Buffer(nil, 1<<20)
	until := func(text string) {
		t.Helper()
		for lines.Scan() {
			if strings.Contains(lines.Text(), text) {
				return
			}
		}
		t.Fatalf("the stream ended before it said %q: %v", text, lines.Err())
	}
	until("event: fragment")
	until(`id="alerts"`) // one line a fragment: the next one is another line
	until(`id="board-notes"`)
	until(`id="board-figures"`)
	until(`id="board"`)
	for ticket := 30; ticket < 34; ticket++ {
		if _, err := m.prog.Arrive(t.Context(), programme.Actor{Person: m.person("Hollis Bray")}, programme.Arrive{Event: m.day().Event.ID, Language: "es"}); err != nil {
			t.Fatal(err)
		}
		until(fmt.Sprintf(`id="ticket-%03d"`, ticket))
	}
}

func TestControlRuns(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	v.get(m.event + "/controls")
	v.see("Run level 1 on M4", "M3 is in quarantine. Level 2: 349 mg/dL, printed range 252 to 340 mg/dL", "Control runs, newest first")
	d := m.day()
	m4, lot := "", ""
	for _, x := range d.Meters {
		if x.Details.Label == "M4" {
			m4 = x.ID
		}
	}
	for _, l := range d.StripLots {
		if l.Details.Lot == "INV-41" {
			lot = l.ID
		}
	}
	run := func(level string) string {
		for _, x := range d.ControlLots {
			if x.Details.Level == level {
				return url.Values{"meter": {m4}, "vial": {lot + "/41-a"}, "bottle": {x.ID + "/" + x.Bottles[0].Name}}.Encode()
			}
		}
		t.Fatal("no such level")
		return ""
	}
	path := m.event + "/controls/run"
	v.get(path + "?" + run("1"))
	v.want(http.StatusOK)
	v.see("Level 1 on meter M4", "96 to 144 mg/dL", "What the meter shows")
	v.send(path, form("reading", "11.8"))
	v.want(http.StatusUnprocessableEntity)
	v.see(`value="11.8"`, "mg/dL has no decimals", "96 to 144 mg/dL")
	kept := v.fields.Get("command")
	v.send(path, form("reading", "118"))
	if got := v.fields.Get("command"); got != kept || got == "" {
		t.Errorf("the refused form had the command %q, the next one %q", kept, got)
	}
	v.follow()
	v.want(http.StatusOK)
	v.see("In range: 118 (96 to 144 mg/dL)", "Now run level 2 on meter M4.", "Run level 2 on M4")

	v.get(path + "?" + run("2"))
	v.send(path, form("reading", "361"))
	v.follow()
	v.see("Out of range: stop testing on M4", "361", "252 to 340 mg/dL", "Quarantine this meter", "Run level 2 again")
	where := v.path
	v.send(where+"/cause", form("cause", "drop not mixed", "action", ""))
	v.want(http.StatusUnprocessableEntity)
	v.see(`value="drop not mixed"`, "What was done is missing.")
	v.send(where+"/cause", form("cause", "drop not mixed", "action", "bottle shaken, first drop wiped away"))
	v.follow()
	v.see("Cause: drop not mixed", "bottle shaken, first drop wiped away")
	v.get(path + "?" + run("2"))
	v.send(path, form("reading", "HI"))
	v.follow()
	v.see("No value: stop testing on M4")
	v.send(m.event+"/controls/meters/"+m4+"/quarantine", form("reason", ""))
	v.want(http.StatusUnprocessableEntity)
	v.send(m.event+"/controls/meters/"+m4+"/quarantine", form("reason", "does not read level 2"))
	v.follow()
	v.see("Out of use", "does not read level 2")
	v.get(path + "?" + run("1"))
	v.see("Meter M4 is in quarantine.", "a lead returns this one under Meters")

	v.get(m.event + "/controls/log")
	v.see("drop not mixed", "bottle shaken, first drop wiped away", "361 mg/dL")
	v.get(m.event + "/controls/log.pdf?size=a4")
	if !strings.HasPrefix(v.body, "%PDF-") {
		t.Errorf("the log is no PDF: %s", v.main())
	}
}

func TestCodeAndContainers(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	d := m.day()
	m1 := d.BroughtMeters()[0]
	var second string
	for _, l := range d.StripLots {
		if l.Details.Lot == "INV-58" {
			second = l.ID
		}
	}
	v.get(m.event + "/controls/containers")
	v.see("Open a vial", "Lot INV-58, good for 180 days after opening")
	v.send(m.event+"/controls/containers/vial", form("strip_lot", second, "vial", "58-a", "on", "2027-01-01"))
	v.want(http.StatusUnprocessableEntity)
	v.see("1 Jan 2027 has not come yet", `value="58-a"`)
	v.send(m.event+"/controls/containers/vial", form("strip_lot", second, "vial", "58-a", "on", "2026-10-10"))
	v.follow()
	v.see("Vial 58-a of lot INV-58 is open. Last day of use: 8 Apr 2027")

	bottle := ""
	for _, x := range d.ControlLots {
		if x.Details.Level == "1" {
			bottle = x.ID + "/" + x.Bottles[0].Name
		}
	}
	v.get(m.event + "/controls/run?" + url.Values{"meter": {m1.ID}, "vial": {second + "/58-a"}, "bottle": {bottle}}.Encode())
	v.see("The code on meter M1 has not been compared with the vial of lot INV-58.")
	v.seeNot("says 58")
	v.send(m.event+"/controls/code", form("strip_lot", second, "shown", "41"))
	v.follow()
	v.see("The codes differ: meter M1 shows 41, the vial of lot INV-58 says 58.")
	v.send(m.event+"/controls/code", form("strip_lot", second, "shown", "58"))
	v.follow()
	v.see("The codes agree", "98 to 146 mg/dL", "Record this run")

	v.get(m.event + "/controls/meters/" + m1.ID)
	v.send(m.event+"/controls/meters/"+m1.ID+"/void", form("cause", ""))
	v.want(http.StatusUnprocessableEntity)
	v.send(m.event+"/controls/meters/"+m1.ID+"/void", form("cause", "battery-changed", "note", "showed a low battery"))
	v.follow()
	v.see("Controls again", "Its battery was changed: showed a low battery")
	v.get(m.event + "/controls/containers")
	v.send(m.event+"/controls/containers/throw-vial", form("container", second+"/58-a", "reason", "cap left open"))
	v.follow()
	v.see("Thrown away: cap left open")
}

// ferry is the second, planned event of the invented programme.
func ferry(t *testing.T, m *market) string {
	t.Helper()
	events, err := programme.List[*event.State](t.Context(), m.prog, event.Kind)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Phase == event.IsPlanned {
			return e.ID
		}
	}
	t.Fatal("no planned event")
	return ""
}

// A day from its first gate to its signature, through the pages, with nobody coming.
func TestOpenAndCloseADay(t *testing.T) {
	m := newMarket(t)
	id := ferry(t, m)
	m.event = "/events/" + id
	v := m.as(leadName)
	v.get(m.event + "/board")
	v.see("The doors are not open yet.", "Open the day")
	v.get(m.event + "/open")
	v.want(http.StatusOK)
	v.see("gates are shut", "No place is named to which people can be referred.", "The plan is for 7 Nov 2026 and today is 10 Oct 2026.")
	v.send(m.event+"/open", form())
	v.want(http.StatusConflict)
	v.see("No place is named to which people can be referred.", "Screening without a way to care", "Name at least one place")

	plan := m.day().Event.Plan
	m.clock.Set(civil.MustParse(ferryDay).Time(m.day().Event.Zone()).Add(8 * time.Hour))
	v = m.as(leadName) // a session lasts half a day
	lead := programme.Actor{Person: m.person(leadName)}
	if _, err := m.prog.PlanEvent(t.Context(), lead, programme.PlanEvent{
		Event: id, Name: plan.Name, Venue: plan.Venue, Address: plan.Address, Date: ferryDay, Doors: "09:00",
		Ends: "12:00", Zone: plan.Zone, Expected: 40, Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0161"}},
	}); err != nil {
		t.Fatal(err)
	}
	for who, role := range map[string]string{leadName: "supervisor", "Ines Calder": "screener", "Jonah Pike": "screener", "Rosa Amaya": "counsellor"} {
		if _, err := m.prog.PostPerson(t.Context(), lead, programme.PostPerson{Event: id, Person: m.person(who), Role: role}); err != nil {
			t.Fatal(err)
		}
		if _, err := m.prog.Attend(t.Context(), lead, programme.Attend{Event: id, Person: m.person(who), Here: true}); err != nil {
			t.Fatal(err)
		}
	}
	openGates(t, m, v)
	v.send(m.event+"/open", form())
	v.follow()
	v.see("The doors are open.", "Nobody waits here.")
	closeEmptyDay(t, m, v)
}

// openGates passes each gate of the opening through its form, with a refusal before it.
func openGates(t *testing.T, m *market, v *visitor) {
	open := m.event + "/open"
	d := m.day()
	var m1, lot string
	for _, x := range d.Meters {
		if x.Details.Label == "M1" {
			m1 = x.ID
		}
	}
	for _, x := range d.StripLots {
		if x.Details.Lot == "INV-41" {
			lot = x.ID
		}
	}
	v.get(open)
	v.send(open+"/stock", form("strips_"+lot, "fifty", "lancets", "100"))
	v.want(http.StatusUnprocessableEntity)
	v.see(`value="fifty"`, `value="100"`, "should be a whole number")
	v.send(open+"/stock", form("strips_"+lot, "50", "lancets", "100", "sharps", "2", "meters", m1))
	v.follow()
	v.see("50 strips of lot INV-41, 100 lancets, 2 sharps containers", "1 meter brought, reviewed", "The room has not been measured.")

	v.send(open+"/room", form("celsius", "68 F", "place", "by the window"))
	v.want(http.StatusUnprocessableEntity)
	v.see(`value="68 F"`, `value="by the window"`, "should be a plain number")
	v.send(open+"/room", form("celsius", "4.5", "place", "by the window"))
	v.follow()
	v.see("The room was 4.5 °C; the insert of meter M1 allows 10 to 40 °C.")
	v.send(open+"/room", form("celsius", "21", "humidity", "45"))
	v.follow()
	v.see("21 °C, humidity 45 %")

	checks := d.Protocol.OpeningChecks
	v.send(open+"/checks", form())
	v.want(http.StatusUnprocessableEntity)
	v.see("No check was ticked.")
	v.send(open+"/checks", form("check", checks[0].Key, "check", checks[1].Key))
	v.follow()
	v.see("2 opening checks are in the record.", strconv.Itoa(len(checks)-2)+" opening checks are not done.")
	v.send(open+"/problem", form("problem", checks[2].Key, "note", ""))
	v.want(http.StatusUnprocessableEntity)
	v.send(open+"/problem", form("problem", checks[2].Key, "note", "box not in the van"))
	v.follow()
	v.see("Cannot be done: box not in the van")
	rest := url.Values{}
	for _, k := range checks[2:] {
		rest.Add("check", k.Key)
	}
	v.send(open+"/checks", rest)
	v.follow()
	v.see(strconv.Itoa(len(checks))+" of "+strconv.Itoa(len(checks))+" done.", "3 people test or counsel under 1 supervisors")

	v.send(open+"/ratio", form("reason", "a small fair in one room", "sign_person", m.person(leadName), "sign_pin", "0000"))
	v.want(http.StatusForbidden)
	v.see(`value="a small fair in one room"`, "Wrong PIN.")
	v.seeNot("0000")
	v.send(open+"/ratio", form("reason", "a small fair in one room", "sign_person", m.person(leadName), "sign_pin", m.pins[leadName]))
	v.follow()
	v.see("reason signed by "+leadName+": a small fair in one room", "No meter is cleared.")
	v.send(open, form())
	v.want(http.StatusConflict)
	v.see("No meter is cleared.")

	if _, err := m.prog.CompareCode(t.Context(), programme.Actor{Person: m.person(leadName)}, programme.CompareCode{Event: d.Event.ID, Meter: m1, StripLot: lot, Shown: "41"}); err != nil {
		t.Fatal(err)
	}
	for _, x := range d.ControlLots {
		v.get(m.event + "/controls/run?" + url.Values{"meter": {m1}, "vial": {lot + "/41-a"}, "bottle": {x.ID + "/" + x.Bottles[0].Name}}.Encode())
		v.send(m.event+"/controls/run", form("reading", map[string]string{"1": "120", "2": "300"}[x.Details.Level]))
		v.want(http.StatusSeeOther)
	}
	v.get(open)
	v.see("Every gate is open. You can open the doors.", "M1: Cleared")
}

// closeEmptyDay closes the doors, counts back with one lancet too few, explains it and signs.
func closeEmptyDay(t *testing.T, m *market, v *visitor) {
	shut := m.event + "/close"
	d := m.day()
	m1 := d.BroughtMeters()[0].ID
	lot := d.BroughtLots()[0].ID
	sign := form("sign_person", m.person(leadName), "sign_pin", m.pins[leadName])
	with := func(pairs ...string) url.Values {
		f := form(pairs...)
		for k, list := range sign {
			f[k] = list
		}
		return f
	}
	v.get(shut)
	v.see("Close the doors", "The doors are still open.")
	v.send(shut+"/doors", form())
	v.follow()
	v.see("The doors are closed since 08:00.", "All visits have ended: 0 of 0 arrived.", "No alert is open.", "have not been counted back")
	v.send(shut+"/reopen", form())
	v.follow()
	v.see("The doors are open again.")
	v.get(shut)
	v.send(shut+"/doors", form())
	v.follow()
	v.send(shut+"/count", form("lancets", "99", "sharps", "2", "meters", m1))
	v.want(http.StatusUnprocessableEntity)
	v.see("The count of this lot is missing.", `value="99"`)
	v.send(shut+"/count", form("strips_"+lot, "48", "lancets", "", "sharps", "2", "meters", m1))
	v.want(http.StatusUnprocessableEntity)
	v.see("Lancets left: type the count, 0 when there are none.", `value="48"`)
	v.send(shut+"/count", form("strips_"+lot, "48", "lancets", "99", "sharps", "2", "meters", m1))
	v.follow()
	v.see("1 used (brought less left) = 0 sticks + 0 misfires", "Differs, not explained", "2 used (brought less left) = 0 readings + 0 meter errors + 2 controls")
	v.send(shut+"/memory", form())
	v.want(http.StatusUnprocessableEntity)
	v.send(shut+"/memory", form("rows_"+m1, "6000"))
	v.want(http.StatusUnprocessableEntity)
	v.see(`value="6000"`, "Meter M1:")
	v.send(shut+"/memory", form("rows_"+m1, "2"))
	v.follow()
	v.see("2 rows in the memory = 0 readings of participants + 2 controls", "Not yet.", "Lancets: a difference of 1 is not explained.")
	v.post(shut, with("command", newCommand()))
	v.want(http.StatusConflict)
	v.see("Lancets: a difference of 1 is not explained.")
	v.get(shut)
	v.send(shut+"/explain", form("note", "one fell into the drain", "sign_person", m.person(leadName), "sign_pin", "4711"))
	v.want(http.StatusForbidden)
	v.see("one fell into the drain", "Wrong PIN.")
	v.send(shut+"/explain", with("note", "one fell into the drain"))
	v.follow()
	v.see("one fell into the drain, signed by "+leadName, "Everything is accounted for.", "Close the day and sign")
	v.send(shut, with("note", "A quiet morning."))
	v.follow()
	v.see("The day is closed and signed.", "0 of 0 people who arrived were tested; 0 of 40 expected came.", "Nobody has been tested yet.", "one fell into the drain")
	v.seeNot("these numbers may still change")
	v.get(shut)
	v.see("Closed and signed by "+leadName, "A quiet morning.", "Read the report")
	v.seeNot("<form")
	if p := m.day().Event.Phase; p != event.IsClosed {
		t.Errorf("the day is %s", p)
	}
}

// Fewer lancets used than fingers pricked is an alarm; open care keeps the day open.
func TestLancetAlarmAndOpenCare(t *testing.T) {
	m := newMarket(t)
	v := m.as("Tobias Wren")
	shut := m.event + "/close"
	v.get(shut)
	v.see("10 of 29 visits have not ended.", "Ticket 023: 412 mg/dL")
	v.send(shut+"/doors", form())
	v.follow()
	v.send(shut+"/left", form("reason", "had to catch a bus"))
	v.follow()
	v.see("Ticket 020 is written down as left.", "9 of 29 visits have not ended.")
	f := form("lancets", "95", "sharps", "4")
	for _, l := range m.day().BroughtLots() {
		f.Set("strips_"+l.ID, strconv.Itoa(m.day().StripsLeft(l.ID)))
	}
	for _, x := range m.day().BroughtMeters() {
		f.Add("meters", x.ID)
	}
	v.send(shut+"/count", f)
	v.follow()
	v.see("Fewer lancets were used (5) than fingers were pricked", "A lancet may have been used twice.", "notice-stop", "Count the lancets again")
	v.post(shut, form("command", newCommand(), "sign_person", m.person("Tobias Wren"), "sign_pin", m.pins["Tobias Wren"]))
	v.want(http.StatusConflict)
	v.see("Ticket 021 still has open care.", "The day cannot end while somebody may be in danger.")
	if p := m.day().Event.Phase; p != event.IsDoorsClosed {
		t.Errorf("the day is %s", p)
	}
}

package web

import (
	"encoding/csv"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"fairstick/internal/incident"
	"fairstick/internal/programme"
)

// tap reports an incident as a person does, from the page of the day, and gives the address of its page.
func (v *visitor) tap(kind string, more ...string) string {
	v.m.t.Helper()
	v.get(v.m.event + "/board")
	v.see(v.m.event + "/incidents/new")
	v.get(v.m.event + "/incidents/new")
	v.want(http.StatusOK)
	v.send(v.m.event+"/incidents", form(append([]string{"kind", kind}, more...)...))
	v.want(http.StatusSeeOther)
	to := v.to
	v.follow()
	v.want(http.StatusOK)
	return to
}

func (m *market) incidentAt(path string) *incident.State {
	m.t.Helper()
	s := m.day().Incident(path[strings.LastIndex(path, "/")+1:])
	if s == nil {
		m.t.Fatalf("there is no incident at %s", path)
	}
	return s
}

// The first aid comes before any form, with the number to call and the latest time.
func TestFirstAidComesFirst(t *testing.T) {
	m := newMarket(t)
	v := m.as("Hollis Bray")
	path := v.tap("sharps-injury", "station", "2")
	v.see("Wash the wound with soap and running water now.", "Do not squeeze", "No bleach", "Tell the supervisor now.", "It happened at", "just now", "Invented Occupational Health", "tel:555 0190",
		"tel:911", "72 hours", m.clock.Now().Add(72*time.Hour).In(m.day().Event.Zone()).Format("Monday 2 January, 15:04"), "Now: Do the first aid above")
	if aid, form := strings.Index(v.main(), "Wash the wound"), strings.Index(v.main(), "<form"); aid < 0 || form < aid {
		t.Errorf("the first aid stands at %d, the first form at %d", aid, form)
	}
	v.seeNot("vaccin", "hepatitis", "medication")
	v.tap("splash")
	v.see("Flush the eye:", `data-seconds="900"`)
	v.tap("faint", "ticket", "14")
	v.see("Lay the person down and raise the legs.", "Do not let them stand up quickly.", "Ticket</span> <span class=\"ticket-number\">014")
	if s := m.incidentAt(path); s.Report.Station != "2" || s.By != m.person("Hollis Bray") {
		t.Errorf("reported: %+v by %s", s.Report, s.By)
	}
	v.get("/")
	v.see("Sharps injury", "station 2. A supervisor comes now.")
}

// What is written about an incident is read by a lead, a supervisor and who reported it; the list and the files by a lead and
// a supervisor; the person by a lead alone.
func TestWhoSeesAnIncident(t *testing.T) {
	m := newMarket(t)
	reporter, other, supervisor, lead := m.as("Ines Calder"), m.as("Hollis Bray"), m.as("Tobias Wren"), m.as(leadName)
	path := reporter.tap("sharps-injury", "station", "2")
	log := form("happened", m.clock.Now().In(m.day().Event.Zone()).Format("15:04"), "device", "lancet", "brand", "Invented Blue", "area", "station 2", "phase", "after-use", "how", "touched a used lancet", "role", "screener", "sharps", "out-of-reach")
	reporter.send(path+"/form", log)
	reporter.want(http.StatusSeeOther)
	log.Set("person", m.person("Jonah Pike"))
	lead.get(path)
	lead.send(path+"/form", log)
	lead.want(http.StatusSeeOther)

	for _, c := range []struct {
		v                  *visitor
		reads, named, list bool
	}{{reporter, true, false, false}, {other, false, false, false}, {supervisor, true, false, true}, {lead, true, true, true}} {
		c.v.get(path)
		c.v.want(http.StatusOK)
		c.v.see("Wash the wound") // everybody may help
		if got := strings.Contains(c.v.main(), "touched a used lancet"); got != c.reads {
			t.Errorf("reads %v, want %v", got, c.reads)
		}
		if got := strings.Contains(c.v.main(), "<dd>Jonah Pike"); got != c.named {
			t.Errorf("sees who it was: %v, want %v", got, c.named)
		}
		want := http.StatusForbidden
		if c.list {
			want = http.StatusOK
		}
		for _, p := range []string{m.event + "/incidents", m.event + "/incidents.csv", path + "/form.pdf", "/sharps-log.csv?year=2026", "/sharps-log.pdf?year=2026"} {
			c.v.get(p)
			if c.v.status != want {
				t.Errorf("%s answers %d, want %d", p, c.v.status, want)
			}
			if p != m.event+"/incidents" && strings.Contains(c.v.body, "Jonah") {
				t.Errorf("%s names somebody", p)
			}
		}
	}
	lead.get(m.event + "/incidents")
	lead.see("1 of 1 incident open", "Screener: Jonah Pike")
	supervisor.get(m.event + "/incidents")
	supervisor.see("Screener")
	supervisor.seeNot("Jonah Pike")

	other.post(path+"/form", log)
	other.want(http.StatusForbidden)
	other.post(path+"/withdraw", form("reason", "no"))
	other.want(http.StatusForbidden)
	supervisor.post(path+"/withdraw", form("reason", "no"))
	supervisor.want(http.StatusForbidden)
	m.visitor().get(path)

	supervisor.get("/sharps-log.csv?year=2026")
	rows, err := csv.NewReader(strings.NewReader(supervisor.body)).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][1] != "lancet" || rows[1][2] != "Invented Blue" {
		t.Errorf("the log is %q, %v", rows, err)
	}
	supervisor.get("/sharps-log.csv?year=2019")
	if rows, err = csv.NewReader(strings.NewReader(supervisor.body)).ReadAll(); err != nil || len(rows) != 1 {
		t.Errorf("the log of 2019 is %q, %v", rows, err)
	}
	supervisor.get("/sharps-log.csv?year=soon")
	supervisor.want(http.StatusUnprocessableEntity)
}

// A form that is refused keeps what was typed and says why beside the field.
func TestIncidentKeepsWhatWasTyped(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	path := v.tap("complaint")
	v.send(path+"/step", form("note", "She said that she takes insulin"))
	v.want(http.StatusUnprocessableEntity)
	v.see(`Leave out "insulin": tell the clinician, not this log.`, "She said that she takes insulin")
	command := v.fields.Get("command")
	v.send(path+"/step", form("note", "Listened to her; a supervisor calls on Monday"))
	v.want(http.StatusSeeOther)
	if got := v.fields.Get("command"); got != command {
		t.Errorf("the command is %s after a refusal, was %s", got, command)
	}
	v.follow()
	v.see("Everything is written down.")
	v.send(path+"/close", url.Values{})
	v.follow()
	v.see("Closed by Ines Calder")
	v.post(path+"/step", form("command", newCommand(), "step", incident.Remedy, "note", "more"))
	v.want(http.StatusConflict)

	v.get(m.event + "/incidents/new")
	v.send(m.event+"/incidents", form("kind", "faint", "ticket", "999"))
	v.want(http.StatusUnprocessableEntity)
	v.see("There is no ticket 999", `value="999"`)
	v.post(m.event+"/incidents", form("command", newCommand(), "kind", "theft"))
	v.want(http.StatusUnprocessableEntity)
	v.get(m.event + "/incidents/none")
	v.want(http.StatusNotFound)
}

// A late entry keeps when it happened and when it was typed in.
func TestLateIncident(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	path := v.tap("faint", "at", "09:30")
	s := m.incidentAt(path)
	if got := s.Happened().In(m.day().Event.Zone()).Format("15:04"); got != "09:30" {
		t.Errorf("it happened at %s", got)
	}
	typed := m.clock.Now().In(m.day().Event.Zone()).Format("15:04")
	v.see("It happened at 09:30", "09:30, typed in at "+typed)
	v.send(path+"/step", form("at", "09:20"))
	v.want(http.StatusUnprocessableEntity)
	v.see("is before the incident itself")
	v.send(path+"/step", form("at", "09:31"))
	v.want(http.StatusSeeOther)
	v.follow()
	v.see("09:31, typed in at " + typed)
	v.get(m.event + "/incidents/new")
	v.send(m.event+"/incidents", form("kind", "faint", "at", "23:59"))
	v.want(http.StatusUnprocessableEntity)
	v.see("has not come yet")
}

// A meter in doubt is out with one press, and the page lists whom it touched.
func TestDeviceProblemTakesTheMeterOut(t *testing.T) {
	m := newMarket(t)
	v := m.as("Jonah Pike")
	v.seat("2", "M2", "41-a")
	path := v.tap("device-problem")
	s := m.incidentAt(path)
	if s.Report.Station != "2" || m.day().MeterByID(s.Meter()).Details.Label != "M2" {
		t.Fatalf("the table of the device is not kept: %+v", s.Report)
	}
	v.see("Take meter M2 out of use", "Whom it touched at this event")
	v.seeNot("Withdraw strips") // that is a supervisor's
	v.send(path+"/quarantine", form("out", "meter"))
	v.want(http.StatusSeeOther)
	if q := m.day().MeterByID(s.Meter()).Quarantine; q == nil || !strings.Contains(q.Note, "Device problem") {
		t.Errorf("the meter's quarantine is %+v", q)
	}
	v.follow()
	v.see("Taken out of use: meter")
	v.seeNot("Take meter M2 out of use")

	d := m.as("Hollis Bray")
	d.post(path+"/quarantine", form("command", newCommand(), "out", "meter"))
	d.want(http.StatusForbidden)
}

// The report counts what happened, and nothing that was withdrawn.
func TestIncidentsOnTheReport(t *testing.T) {
	m := newMarket(t)
	v := m.as("Ines Calder")
	v.tap("faint")
	path := v.tap("complaint")
	lead := m.as(leadName)
	lead.get(m.event + "/report")
	lead.see("Incidents", "Faint", "Complaint")
	lead.get(path)
	lead.send(path+"/withdraw", form("reason", "pressed by mistake"))
	lead.want(http.StatusSeeOther)
	lead.get(m.event + "/report")
	lead.see("Faint")
	lead.seeNot("Complaint")
	lead.get(m.event + "/report.csv")
	if !strings.Contains(lead.body, "incidents,faint,count,1,") || strings.Contains(lead.body, "incidents,complaint") {
		t.Errorf("the CSV says\n%s", lead.body)
	}
	shut := false
	for _, g := range m.day().ClosingGates() {
		shut = shut || g.Key == "incidents" && g.Fault != nil && strings.Contains(g.Fault.Sentence, "An incident is not closed: faint at")
	}
	if !shut {
		t.Error("the day could close over an open incident")
	}
	if got := m.day().Report().Incidents; len(got) != 1 || got[0] != (programme.IncidentCount{Kind: "faint", N: 1, Open: 1}) {
		t.Errorf("the report counts %+v", got)
	}
}

package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

// pick finds a visit of the day.
func (m *market) pick(what string, is func(*visit.State) bool) *visit.State {
	m.t.Helper()
	for _, v := range m.day().Visits {
		if is(v) {
			return v
		}
	}
	m.t.Fatalf("nobody is %s", what)
	return nil
}

func finished(band string) func(*visit.State) bool {
	return func(v *visit.State) bool {
		return v.Phase() == visit.Done && v.Finding() != nil && string(v.Finding().Band) == band && len(v.Readings) == 1
	}
}

// fields are those of a reading as it stands.
func (m *market) readingForm(r visit.Reading, value string) url.Values {
	washed := "no"
	if r.Washed {
		washed = "yes"
	}
	return form("reading", value, "again", value, "meter", r.Meter, "vial", r.StripLot+"/"+r.Vial, "purpose", r.Purpose, "washed", washed, "misfires", "0")
}

func TestCorrectingAReading(t *testing.T) {
	m := newMarket(t)
	lead := "Maren Solbakk"
	x := m.pick("finished with a usual reading", finished("usual"))
	r := x.Readings[0]
	page, ask := m.event+"/correct/"+x.ID, m.event+"/correct/"+x.ID+"/reading?reading="+r.ID
	v := m.as(lead)
	v.get(page)
	v.want(http.StatusOK)
	v.see("What is wrong?", r.Reading.String(), "It is of another ticket", "Last food", "History of this ticket")
	v.get(ask)
	v.want(http.StatusOK)
	v.see("See what it touches", r.Reading.Shown())

	bad := m.readingForm(r, "412")
	bad.Set("again", "142")
	v.send(ask, bad)
	v.want(http.StatusUnprocessableEntity)
	v.see("the two do not agree", `value="412"`)

	v.get(ask)
	v.send(ask, m.readingForm(r, "412"))
	v.want(http.StatusOK)
	v.see("What this touches", "Nothing is recorded yet", "412 mg/dL", "Care opens", "must be replaced by a corrected one", "A referral is now asked for", "Sign the correction")
	if m.ticket(x.Ticket).Readings[0].Reading != r.Reading {
		t.Fatal("the preview was recorded")
	}
	preview := v.body
	v.send(ask, form("step", "sign", "reason", "", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
	v.want(http.StatusUnprocessableEntity)
	v.see("The reason is missing", "What this touches")
	v.send(ask, form("step", "sign", "reason", "digits turned", "sign_person", m.person(lead), "sign_pin", "0000"))
	v.want(http.StatusForbidden)
	v.see("digits turned")
	v.send(ask, form("step", "edit"))
	v.want(http.StatusOK)
	v.see(`value="412"`, "See what it touches")
	v.body = preview
	v.send(ask, form("step", "sign", "reason", "digits turned", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
	v.follow()
	v.see("Corrected.", "digits turned", "shows another result than the one that stands")
	if now := m.ticket(x.Ticket); now.Readings[0].Reading.Shown() != "412" || !now.OpenCare() {
		t.Errorf("%+v", now.Readings)
	}
	v.body = preview
	v.send(ask, form("step", "sign", "reason", "digits turned", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
	if v.status != http.StatusUnprocessableEntity && v.status != http.StatusSeeOther {
		t.Errorf("the same press again answered %d", v.status)
	}
	if n := len(m.ticket(x.Ticket).Corrections); n != 1 {
		t.Errorf("%d corrections after two presses", n)
	}

	v.get(m.event + "/slip/" + x.ID)
	v.see("Corrected slip 2", "takes the place of the slip of")
	v.get(page)
	v.send(page+"/slip", nil)
	v.follow()
	v.seeNot("shows another result than the one that stands")
	v.get(m.event + "/history/" + x.ID)
	v.want(http.StatusOK)
	v.see("412 mg/dL", r.Reading.String(), "digits turned", lead)
	v.get(m.event + "/corrections")
	v.see("digits turned", "Reading")
	v.get(m.event + "/report")
	v.see("Corrections", "1 correction was signed.")
}

func TestStalePreviewOnThePage(t *testing.T) {
	m := newMarket(t)
	lead := "Maren Solbakk"
	x := m.pick("finished with a usual reading", finished("usual"))
	r := x.Readings[0]
	ask := m.event + "/correct/" + x.ID + "/reading?reading=" + r.ID
	slow, quick := m.as(lead), m.as(lead)
	signed := form("step", "sign", "reason", "read again", "sign_person", m.person(lead), "sign_pin", m.pins[lead])
	slow.get(ask)
	slow.send(ask, m.readingForm(r, "121"))
	quick.get(ask)
	quick.send(ask, m.readingForm(r, "122"))
	quick.send(ask, signed)
	quick.want(http.StatusSeeOther)
	slow.send(ask, signed)
	slow.want(http.StatusConflict)
	slow.see("The record has changed since you looked", "122 mg/dL", "read again")
	slow.send(ask, signed)
	slow.want(http.StatusSeeOther)
	if now := m.ticket(x.Ticket); now.Readings[0].Reading.Shown() != "121" || len(now.Corrections) != 2 {
		t.Errorf("%+v", now.Corrections)
	}
}

func TestOtherCorrectionPages(t *testing.T) {
	m := newMarket(t)
	lead := "Maren Solbakk"
	v := m.as(lead)
	x := m.pick("finished with a usual reading", finished("usual"))
	sign := func(ask, said string) {
		t.Helper()
		v.want(http.StatusOK)
		v.see("What this touches", said)
		v.send(ask, form("step", "sign", "reason", "asked again", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
		v.follow()
		v.see("Corrected.")
	}
	base := m.event + "/correct/" + x.ID
	v.get(base + "/language")
	v.send(base+"/language", form("language", "es"))
	sign(base+"/language", "es")
	at := x.Times.FirstRead.Add(-11 * 60 * 60 * 1e9).In(m.day().Event.Zone())
	v.get(base + "/food")
	v.send(base+"/food", form("known", "yes", "ate_day", at.Format("2006-01-02"), "ate_at", "99:99"))
	v.want(http.StatusUnprocessableEntity)
	v.send(base+"/food", form("known", "yes", "ate_day", at.Format("2006-01-02"), "ate_at", at.Format("15:04")))
	sign(base+"/food", "fasting")
	v.get(base + "/outcome")
	v.send(base+"/outcome", form("outcome", "left", "why", "bus"))
	sign(base+"/outcome", "left (bus)")
	if now := m.ticket(x.Ticket); now.Phase() != visit.Gone || now.Language != "es" || len(now.Corrections) != 3 {
		t.Errorf("%s %s %d", now.Phase(), now.Language, len(now.Corrections))
	}
	v.get(base + "/answers")
	v.want(http.StatusOK)
	v.get(base + "/contact")
	v.want(http.StatusOK)
	other := m.pick("another one finished", func(o *visit.State) bool { return finished("usual")(o) && o.ID != x.ID })
	ask := m.event + "/correct/" + other.ID + "/ticket?reading=" + other.Readings[0].ID
	v.get(ask)
	v.send(ask, form("to", ticketText(x.Ticket)))
	sign(ask, "moved to ticket "+ticketText(x.Ticket))
	if now := m.ticket(x.Ticket); len(now.Readings) != 2 {
		t.Errorf("%d readings", len(now.Readings))
	}

	run := m.day().Event.Runs[0]
	ask = m.event + "/correct-run/" + run.ID
	v.get(m.event + "/controls/runs/" + run.ID)
	v.see(ask)
	v.get(ask)
	v.send(ask, form("reading", "20", "again", "20", "meter", run.Meter, "vial", run.StripLot+"/"+run.Vial, "bottle", run.ControlLot+"/"+run.Bottle))
	v.want(http.StatusOK)
	v.see("out-of-range", "What this touches")
	v.send(ask, form("step", "sign", "reason", "misread", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
	v.follow()
	if r, _ := m.day().Run(run.ID); r.Verdict != "out-of-range" {
		t.Errorf("the run is %s", r.Verdict)
	}
	v.get(base + "/nonsense")
	v.want(http.StatusNotFound)
}

func TestCorrectionsByRole(t *testing.T) {
	m := newMarket(t)
	x := m.pick("finished with a usual reading", finished("usual"))
	r := x.Readings[0]
	ask := m.event + "/correct/" + x.ID + "/reading?reading=" + r.ID
	for who, status := range map[string]int{"Hollis Bray": http.StatusForbidden, "Ines Calder": http.StatusOK, "Maren Solbakk": http.StatusOK} {
		v := m.as(who)
		v.get(ask)
		v.want(status)
	}
	v := m.as("Ines Calder")
	v.get(m.event + "/history/" + x.ID)
	v.want(http.StatusForbidden)
	v.get(m.event + "/digits")
	v.want(http.StatusForbidden)
	v.get(ask)
	v.send(ask, m.readingForm(r, "121"))
	v.want(http.StatusOK)
	v.send(ask, form("step", "sign", "reason", "read again", "sign_person", m.person("Ines Calder"), "sign_pin", m.pins["Ines Calder"]))
	v.want(http.StatusForbidden)
	v.see("may not sign this correction")
	nobody := m.visitor()
	nobody.get(ask)
	nobody.want(http.StatusSeeOther)
}

func TestComparingWithTheMemory(t *testing.T) {
	m := newMarket(t)
	lead := "Maren Solbakk"
	v := m.as(lead)
	v.get(m.event + "/digits")
	v.want(http.StatusOK)
	group := m.day().Digits()[0].Group
	v.see("/digits/"+group, "End in 0", "Every screener against chance", "corrected together (Holm)")
	v.get(m.event + "/digits/report.pdf")
	v.want(http.StatusOK)
	if !strings.HasPrefix(v.body, "%PDF-") {
		t.Errorf("the check of the screeners is no PDF: %.20q", v.body)
	}
	ask := m.event + "/digits/" + group
	v.get(ask)
	rows := m.day().DigitReadings(group)
	typed := url.Values{}
	for _, r := range rows {
		typed.Set("value-"+r.Reading.ID, r.Reading.Reading.Shown())
	}
	typed.Set("value-"+rows[0].Reading.ID, "nonsense")
	v.send(ask, typed)
	v.want(http.StatusUnprocessableEntity)
	v.see("nonsense")
	typed.Set("value-"+rows[0].Reading.ID, rows[0].Reading.Reading.Shown())
	v.send(ask, typed)
	v.want(http.StatusOK)
	v.see("compared with the memory; 0 differ. No band changes.")
	v.send(ask, form("step", "edit"))
	v.want(http.StatusOK)
	v.see("See what differs")
	v.send(ask, typed)
	v.send(ask, form("step", "sign", "reason", "end of the day", "sign_person", m.person(lead), "sign_pin", m.pins[lead]))
	v.follow()
	v.seeNot("/digits/" + group + `"`)
	v.get(m.event + "/digits/station-nowhere")
	v.want(http.StatusNotFound)
	if _, err := m.prog.PreviewCorrection(t.Context(), programme.Actor{Person: m.person(lead)}, programme.Correct{Event: strings.TrimPrefix(m.event, "/events/"), Kind: "nonsense"}); fault.Of(err).Fields["kind"] == "" {
		t.Errorf("a kind that there is not: %v", err)
	}
}

package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/visit"
)

func TestExplainToItsEnd(t *testing.T) {
	m := newMarket(t)
	v := m.as("Rosa Amaya")
	x := m.ticket(20) // 166 mg/dL two hours after food, in Spanish, already with her
	path := m.event + "/explain/" + x.ID
	v.get(m.event + "/explain")
	v.see("Go on with ticket 020", "Spanish")
	v.get(path)
	v.want(http.StatusOK)
	v.see(`<span class="reading-number">166</span> <span class="reading-unit">mg/dL</span>`, "Más alto que el rango habitual", "no en ayunas", "mark-away", "Qué hacer", "How to say it")
	v.get(path + "?lang=en")
	v.see("Higher than the usual range", "not fasting", "This is a screening, not a diagnosis.")
	card, _, _ := strings.Cut(v.main(), "<details")
	for _, word := range []string{"normal", "diabetic", "you have", "fail"} {
		if strings.Contains(strings.ToLower(card), word) {
			t.Errorf("the participant's card says %q", word)
		}
	}
	v.get(path + "?at=finish")
	v.see("Ticket 020 has not been explained.", "Ticket 020 has not been referred.", "Ticket 020 has no slip of this finding yet.")
	v.seeNot("Finish ticket")
	v.post(path+"/finish", nil)
	v.want(http.StatusConflict)
	v.see("Ticket 020 has not been explained.")

	v.get(path + "?at=teach")
	v.send(path+"/explained", form("teach_back", "own-words"))
	v.follow()
	v.see("Where to?", "Tamsin Green Community Clinic", "sliding fee", "¿Irá usted allí?", "allowed a call")
	v.send(path+"/refer", form("route", "Tamsin Green Community Clinic"))
	v.want(http.StatusUnprocessableEntity)
	v.see("Ask whether the person will go there.", "checked")
	v.send(path+"/refer", form("route", "Tamsin Green Community Clinic", "agreed", "yes"))
	v.follow()
	v.see("Print half-letter", "PDF A5", "Slip handed over")
	v.send(path+"/slip", form("size", "a5"))
	v.follow()
	v.see("Finish ticket 020")
	v.send(path+"/finish", nil)
	v.follow()
	v.see("Ticket 020 is finished.")
	x = m.ticket(20)
	if x.Phase() != visit.Done || x.Explained.TeachBack != "own-words" || x.Explained.Language != "es" || !x.Referral.Agreed || !x.Referral.Call || x.Slips[0].Size != "a5" {
		t.Errorf("the visit ended as %s: %+v %+v %+v", x.Phase(), x.Explained, x.Referral, x.Slips)
	}
}

func TestExplainTakesOneAndKeepsItFromOthers(t *testing.T) {
	m := newMarket(t)
	v, path := m.as("Dev Mahr"), m.event+"/explain/"+m.ticket(22).ID
	v.get(m.event + "/explain")
	v.send(path+"/take", nil)
	v.follow()
	v.see("The result", "98")
	o := m.as("Rosa Amaya")
	o.get(path)
	o.want(http.StatusConflict)
	o.see("Ticket 022 is at station E2.")
	o.get(path + "?at=slip")
	o.want(http.StatusConflict)
}

func TestContactAtExplain(t *testing.T) {
	m := newMarket(t)
	v, path := m.as("Rosa Amaya"), m.event+"/explain/"+m.ticket(20).ID
	v.get(path + "?at=contact")
	v.send(path+"/contact", nil)
	v.want(http.StatusSeeOther)
	if x := m.ticket(20); x.Call || *x.Contact {
		t.Errorf("call %v, contact %v after a no", x.Call, *x.Contact)
	}
	v.get(path + "?at=contact&allow=yes")
	v.send(path+"/contact", form("contact_name", "Dora Inventada", "contact_phone", "555 0188", "call", "yes"))
	v.want(http.StatusSeeOther)
	if x := m.ticket(20); !x.Call || !*x.Contact {
		t.Errorf("call %v, contact %v after a yes", x.Call, *x.Contact)
	}
}

func TestSlipOf(t *testing.T) {
	m := newMarket(t)
	d, now := m.day(), demo.Begins()
	x := m.ticket(13) // 214, repeated as 209, referred, gone home
	s := slipOf(d, x, "en", now)
	for _, c := range []struct{ field, got, want string }{
		{"Programme", s.Programme, "Corvane School of Pharmacy, Sugar Table"},
		{"Event", s.Event, "Tamsin Green Market"},
		{"Ticket", s.Ticket, "013"},
		{"Reading", s.Reading, "209"},
		{"Unit", s.Unit, "mg/dL"},
		{"OtherUnit", s.OtherUnit, "11.6 mmol/L"}, // 209 / 18.0156 = 11.60
		{"BasisWord", s.BasisWord, "not fasting"},
		{"LastAte", s.LastAte, "6:48\u00a0am, 3 h 11 min before the test"}, // 9:48 less three hours; the counting reading at 9:59:30
		{"Washed", s.Washed, "yes, with soap and water"},
		{"Band", s.Band, "high"},
		{"When", s.When, "See someone within 1 week: by 17 October 2026."},
		{"Where", s.Where, "Tamsin Green Community Clinic, 555 0151, 3 Millrace Walk, Monday to Saturday, 8:00 to 18:00, sliding fee, Spanish spoken"},
		{"TestedBy", s.TestedBy, "Ines Calder"},
		{"Contact", s.Contact + "; " + s.Hours, "555 0140; weekdays 9:00 to 16:00"},
		{"Certificate", s.Certificate, "INVENTED-77D"},
		{"CallPermission", s.CallPermission, "Yes"},
		{"EmergencyNumber", s.EmergencyNumber, "911"},
		{"Protocol", s.Protocol, "2026.1"},
		{"RecordID", s.RecordID, x.ID[len(x.ID)-12:] + "/" + x.FoundID[len(x.FoundID)-12:]},
	} {
		if c.got != c.want {
			t.Errorf("%s is %q, want %q", c.field, c.got, c.want)
		}
	}
	if s.Supervisor == "" || s.Supervisor == "not recorded" || s.Number != 1 || s.Corrected {
		t.Errorf("supervisor %q, number %d, corrected %v", s.Supervisor, s.Number, s.Corrected)
	}
	if len(s.Repeats) != 2 || s.Repeats[0].Counts || s.Repeats[0].Shown != "214" || !s.Repeats[1].Counts || s.Repeats[1].Why != "taken again after washing" {
		t.Errorf("repeats: %+v", s.Repeats)
	}
	if len(s.Advice) == 0 || len(s.Warnings) == 0 || len(s.CanMislead) == 0 {
		t.Errorf("%d advice, %d warnings, %d that mislead", len(s.Advice), len(s.Warnings), len(s.CanMislead))
	}
	es := slipOf(d, x, "es", now)
	if es.BandWord != "Mucho más alto que el rango habitual" || es.CallPermission != "Sí" || !strings.Contains(es.When, "a más tardar el 17 de octubre de 2026") {
		t.Errorf("in Spanish: %q, %q, %q", es.BandWord, es.CallPermission, es.When)
	}
}

func TestSlipOnScreenAndAsFile(t *testing.T) {
	m := newMarket(t)
	v := m.as("Rosa Amaya")
	slip := m.event + "/slip/" + m.ticket(20).ID
	v.get(slip + "?lang=es&size=a5")
	v.want(http.StatusOK)
	v.see("page-a5", `lang="es"`, "Su lectura", "166", "llame al 911", "Datos inventados", "hoja 1")
	v.seeNot("Dora Inventada") // a slip lies about; the name stays sealed
	v.get(slip + ".pdf?lang=es&size=a5")
	v.want(http.StatusOK)
	if !strings.HasPrefix(v.body, "%PDF-") || !strings.HasSuffix(strings.TrimSpace(v.body), "%%EOF") {
		t.Errorf("the file begins with %q", v.body[:min(20, len(v.body))])
	}
	v.get(m.event + "/slip/" + m.ticket(23).ID) // a repeat is due
	v.want(http.StatusNotFound)
	v.see("There is no result for a slip here.")
	o := m.as("Hollis Bray")
	o.get(slip)
	o.want(http.StatusForbidden)
}

func TestCareForACriticalReading(t *testing.T) {
	m := newMarket(t)
	x := m.ticket(23) // 412 mg/dL at station 2, nobody with the person yet
	care := m.event + "/care/" + x.ID
	v := m.as("Hollis Bray")
	v.get(care)
	v.want(http.StatusOK)
	v.see("Critical high", "911", "14 Invented Row, Tamsin Green", "412 mg/dL at 10:44", "Now: A supervisor goes to the person and signs in here.", "Then: Ask for each sign of a crisis")
	v.send(care+"/attend", form("sign_person", m.person("Tobias Wren"), "sign_pin", "0000"))
	v.want(http.StatusForbidden)
	v.see("Wrong PIN.")
	sign := form("sign_person", m.person("Tobias Wren"), "sign_pin", m.pins["Tobias Wren"])
	v.send(care+"/attend", sign)
	v.follow()
	v.see("Supervisor with the person: Tobias Wren", "10:47:00")
	v.send(care+"/step", form("step", "signs", "choice", "none"))
	v.want(http.StatusSeeOther)
	v.post(care+"/step", form("step", "action", "choice", "same-day-care"))
	v.want(http.StatusSeeOther)
	v.post(care+"/step", form("step", "handover"))
	v.want(http.StatusUnprocessableEntity)
	v.see("The note is missing.")
	v.post(care+"/sign", sign)
	v.want(http.StatusConflict)
	v.see("The care of ticket 023 is not complete: Repeat the reading")

	m.clock.Set(m.clock.Now().Add(2 * time.Minute))
	j := m.as("Jonah Pike")
	j.seat("2", "M2", "41-a")
	path := m.event + "/test/" + x.ID
	j.read(path, "washed", "405", "405")
	j.follow()
	j.see("Stay with the person.", "Open the alert")
	v.post(care+"/step", form("step", "handover", "note", "to the urgent care by car, with her sister"))
	v.want(http.StatusSeeOther)
	v.post(care+"/step", form("step", "arrived", "note", "11:20, the clinic called"))
	v.follow()
	v.see("Everything is written down. A supervisor signs.", "Handed over: to the urgent care by car")
	v.send(care+"/sign", sign)
	v.follow()
	v.see("Signed by Tobias Wren at 10:49.")
	if m.ticket(23).OpenCare() {
		t.Error("the care is still open after the signature")
	}
}

func TestCareForALowReading(t *testing.T) {
	m := newMarket(t)
	x := m.ticket(21) // 66 and 64; sugar was given at 10:37
	care := m.event + "/care/" + x.ID
	v := m.screener() // 10:57
	v.get(care)
	v.see("Low", "Now: Read the glucose again 15 minutes after the sugar.", "Recheck now.", "Take the reading", "Sugar: Sugar given, 4 glucose tablets")
	v.seeNot("Emergency number")
	v.get(m.event + "/test")
	v.see("after sugar", m.event+"/test/"+x.ID)
	c := m.as("Rosa Amaya") // a counsellor who has the ticket does not keep the recheck from being taken
	c.get(m.event + "/explain")
	c.send(m.event+"/explain/"+x.ID+"/take", nil)
	c.want(http.StatusSeeOther)
	path := m.event + "/test/" + x.ID
	v.read(path, "washed", "68", "68")
	v.want(http.StatusSeeOther)
	v.get(care)
	v.see("Now: The recheck is still low: give sugar once more.", "68 mg/dL at 10:57")
	v.send(care+"/step", form("choice", "given", "note", "juice"))
	v.follow()
	v.see("Recheck:", "15:00")
	m.clock.Set(m.clock.Now().Add(16 * time.Minute))
	v.read(path, "washed", "91", "91")
	v.follow()
	v.get(care)
	v.see("Everything is written down. A supervisor signs.", "91 mg/dL at 11:13")
	if got := m.ticket(21).Finding().Reading.Shown(); got != "64" {
		t.Errorf("the finding speaks of %s after the rechecks, want 64", got)
	}
}

func TestLooksUnwell(t *testing.T) {
	m := newMarket(t)
	v := m.screener()
	path := v.take(25)
	care := strings.Replace(path, "/test/", "/care/", 1)
	v.send(care+"/open", nil)
	v.follow()
	v.see("Unwell", "A supervisor is called on every screen.", "station 1")
	if x := m.ticket(25); !x.OpenCare() || x.Care.Cause != "signs" || x.Care.Station != "1" {
		t.Errorf("care: %+v", x.Care)
	}
	v.get(m.event + "/care/" + m.ticket(1).ID)
	v.see("No care is open for this ticket.", "This person looks unwell")
}

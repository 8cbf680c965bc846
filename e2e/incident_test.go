package e2e

import (
	"strings"
	"testing"
	"time"
)

// A splash of blood: two taps from the page of the work, first aid before any form, a call on every other screen until a
// supervisor signs, and the log to its end. Then somebody faints.
func TestIncident(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead, test, desk := f.comes("Maren Solbakk", laptop), f.comes("Ines Calder", phone), f.comes("Hollis Bray", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	desk.visit(f.at("/desk"))
	lead.visit(f.at("/board"))
	if desk.has("Splash of blood") {
		t.Fatal("the call stands before the incident")
	}

	test.click("Something happened") // one
	test.shot("ask")
	test.click("Splash of blood") // two
	for _, words := range []string{"flush with clean water or saline for 15 minutes", "Do not rub the eye.", "Flush the eye:", "Then call, today, within hours", "555 0190", "911", "72 hours", "Latest: Tuesday 13 October, 10:57", "Now: Do the first aid above"} {
		test.see(words)
	}
	var above bool
	test.eval(`document.querySelector("ol li").getBoundingClientRect().bottom < innerHeight && !document.querySelector("main form:first-child input:not([type=hidden])")`, &above)
	if !above {
		t.Error("the first aid does not stand at the top of the phone")
	}
	test.shot("first-aid")
	test.fullShot("first-aid-whole")
	desk.see("Splash of blood")
	desk.see("station 1. A supervisor comes now.")
	lead.see("station 1. A supervisor comes now.")
	desk.shot("call")
	lead.shot("call")
	desk.seeNot("Ines") // the call names nobody

	test.click("Eye: flushing has begun")
	test.see("Now: Tell a supervisor now")
	test.fill("Supervisor or lead", "Tobias Wren, Pharmacist")
	test.fill("PIN", f.pins["Tobias Wren"])
	test.click("I know and I am here")
	test.see("Now: Call the contact")
	desk.seeNot("A supervisor comes now.")
	test.fill("Who answered", "the nurse on duty")
	test.click("They answered")
	test.see("Now: Fill in the log")
	test.fullShot("log")
	test.click("Eye")
	test.fill("When in the work", "During use")
	test.fill("What happened, and how", "The source has hepatitis")
	test.fill("Whose injury, by role", "Screener")
	test.click("Save the log")
	test.see("tell the clinician, not this log")
	test.shot("medical")
	test.fill("What happened, and how", "The lancet sprang back and a drop flew up")
	test.click("Save the log")
	test.see("Now: Ask the source person")
	test.click("Yes, may be contacted")
	f.wait(20 * time.Minute)
	test.see("Now: Write down to whom the person went")
	test.fill("To whom and how, or why not", "walked to occupational health")
	test.click("To a clinician")
	test.see("A supervisor or lead signs.")
	test.shot("sign")

	lead.visit(f.at("/incidents"))
	lead.see("1 of 1 incident open")
	lead.shot("list")
	lead.click("css:#incidents a")
	lead.see("The lancet sprang back")
	lead.fill("PIN", f.pins["Maren Solbakk"])
	lead.click("Close the incident")
	lead.see("Closed by Maren Solbakk")
	lead.fullShot("closed")

	desk.click("Something happened")
	desk.click("Faint")
	desk.see("Lay the person down and raise the legs.")
	desk.fullShot("faint")
	desk.click("The person lies down")
	desk.see("Now: Raise the legs.")
	desk.visit(f.at("/incidents"))
	desk.see("may not open this page")

	test.visit(f.at("/test"))
	test.click("Something happened")
	test.click("Device problem")
	test.see("Whom it touched at this event:")
	test.see("with meter M1 or strips of lot INV-41")
	test.fullShot("device")
	test.click("Take meter M1 out of use")
	test.see("It is out of use.")
	test.visit(f.at("/test"))
	test.see("in quarantine")

	d := f.day()
	if len(d.Incidents) != 3 || d.Incidents[0].Open() || !d.Incidents[1].Open() {
		t.Fatalf("on record: %d incidents", len(d.Incidents))
	}
	s := d.Incidents[0]
	if s.Report.Station != "1" || s.Details.Site != "eye" || len(s.Steps) != 5 || !strings.Contains(s.Details.How, "sprang back") {
		t.Errorf("on record: %+v, %+v", s.Report, s.Details)
	}
}

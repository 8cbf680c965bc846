package e2e

import (
	"testing"
	"time"
)

// A critical reading stands on the lead's board and on another phone before anybody has touched them; a supervisor signs in
// on that phone, the steps are written down with their times, and the alert ends with a signature.
func TestCritical(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead, desk, test, other := f.comes("Maren Solbakk", laptop), f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone), f.comes("Rosa Amaya", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	ticket := f.desk(desk, guest{ate: "09:00"})
	test.click("Take ticket " + ticket)
	lead.visit(f.at("/board"))
	other.visit(f.at("/explain"))
	alert := "Ticket " + ticket + ": 426 mg/dL"
	if lead.has(alert) || other.has(alert) {
		t.Fatal("the alert stands before the reading")
	}

	f.read(test, "426")
	began := time.Now()
	lead.see(alert)
	other.see(alert)
	t.Logf("the alert was on the board and the other phone %v after the record", time.Since(began).Round(10*time.Millisecond))
	test.see("Repeat: wash with soap, dry, another finger.")
	lead.shot("board-alert")
	other.shot("alert")

	var to string
	other.eval(`[...document.querySelectorAll(".alert")].find(a => a.innerText.includes(`+quote("Ticket "+ticket)+`)).querySelector("a").pathname`, &to)
	other.click(`css:.alert a[href="` + to + `"]`)
	other.see("Emergency number")
	other.see("911")
	other.see("14 Invented Row, Tamsin Green")
	other.shot("care")
	other.fill("Supervisor", "Tobias Wren, Pharmacist")
	other.fill("PIN", "0000")
	other.click("I am with the person")
	other.see("Wrong PIN")
	other.fill("Supervisor", "Tobias Wren, Pharmacist")
	other.fill("PIN", f.pins["Tobias Wren"])
	other.click("I am with the person")
	other.see("Now: Ask for each sign of a crisis")
	other.click("None of these")
	other.see("Now: Repeat the reading after washing")

	f.read(test, "418")
	test.see("Stay with the person.")
	other.visit(f.url + to)
	other.see("Now: Write down what was done")
	other.click("Goes to same-day care")
	other.click("Write it down")
	other.fill("To whom the person went, and how", "Urgent care, by car with her brother")
	other.click("Write it down")
	f.wait(25 * time.Minute)
	other.fill("Arrived where and when, and who said so", "Tamsin Green Urgent Care, told by her brother")
	other.click("Write it down")
	other.see("Everything is written down. A supervisor signs.")
	other.shot("care-sign")
	lead.see("Ticket " + ticket + ": 418 mg/dL") // it stands until it is signed
	other.fill("Supervisor", "Tobias Wren, Pharmacist")
	other.fill("PIN", f.pins["Tobias Wren"])
	other.click("Sign: care has ended")
	other.see("Signed by Tobias Wren")
	lead.seeNot("Ticket " + ticket + ": 418 mg/dL")

	v := f.ticket(ticket)
	if v.OpenCare() || v.Care.Signed == nil || len(v.Care.Steps) != 5 || len(v.Readings) != 2 {
		t.Errorf("on record: open %v, %d steps, %d readings", v.OpenCare(), len(v.Care.Steps), len(v.Readings))
	}
	if a, b := v.Care.Steps[3].At, v.Care.Steps[4].At; b.Sub(a) != 25*time.Minute {
		t.Errorf("handed over at %v and arrived at %v, want 25 minutes between", a, b)
	}
}

package e2e

import (
	"testing"
	"time"

	"fairstick/internal/visit"
)

// A low reading is repeated, sugar is given, and the glucose is read again 15 minutes later; then a supervisor signs. The
// first result stays the result.
func TestLow(t *testing.T) {
	t.Parallel()
	f := market(t)
	desk, test, lead := f.comes("Hollis Bray", phone), f.comes("Ines Calder", phone), f.comes("Maren Solbakk", laptop)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	ticket := f.desk(desk, guest{ate: "05:00"})
	test.click("Take ticket " + ticket)
	f.read(test, "64")
	test.see("Repeat: wash with soap, dry, another finger.")
	f.read(test, "62")
	test.see("Give care first.")

	care := f.at("/care/" + f.ticket(ticket).ID)
	lead.visit(care)
	lead.see("Now: Give fast sugar if the person can swallow")
	lead.see("15 g of fast sugar")
	lead.see("Give nothing by mouth to someone who is drowsy")
	lead.shot("care-sugar")
	lead.fill("What was given", "4 tablets of 4 g")
	lead.click("Sugar given")
	lead.see("Now: Read the glucose again 15 minutes after the sugar.")
	lead.see("left")
	var left string
	lead.eval(`document.querySelector("[data-left]").textContent`, &left)
	if left != "15:00" && left != "14:59" && left != "14:58" {
		t.Errorf("the countdown begins at %q, want 15:00", left)
	}
	lead.shot("countdown")

	f.wait(15*time.Minute - time.Second)
	lead.visit(care)
	lead.seeNot("Recheck now.")
	f.wait(time.Second)
	lead.visit(care)
	lead.see("Recheck now.")
	test.visit(f.at("/test/" + f.ticket(ticket).ID))
	f.read(test, "88")
	lead.visit(care)
	lead.see("Everything is written down. A supervisor signs.")
	lead.fill("Supervisor", "Maren Solbakk, Faculty pharmacist")
	lead.fill("PIN", f.pins["Maren Solbakk"])
	lead.click("Sign: care has ended")
	lead.see("Signed by Maren Solbakk")

	v := f.ticket(ticket)
	if v.OpenCare() || len(v.Readings) != 3 || v.Readings[2].Purpose != visit.Recheck || v.Finding().Reading.Shown() != "62" || v.Phase() != visit.AtExplain {
		t.Errorf("on record: care open %v, %d readings, result %s, at %s", v.OpenCare(), len(v.Readings), v.Finding().Reading, v.Phase())
	}
	test.visit(f.at("/test/" + v.ID))
	test.click("Lancet in sharps, meter wiped")
	test.see("Ticket " + ticket + ": lancet in sharps")
	if got := f.ticket(ticket).Binned; got != 3 {
		t.Errorf("%d lancets went into sharps, want 3", got)
	}
}

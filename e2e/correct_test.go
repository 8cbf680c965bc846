package e2e

import (
	"testing"

	"fairstick/internal/visit"
)

// A supervisor finds in a meter's memory that 412 stands where a usual reading was typed, after the person has gone: the
// page shows what it touches before it is signed, care opens, and the corrected slip says what it replaces.
func TestCorrection(t *testing.T) {
	t.Parallel()
	f := market(t)
	var x *visit.State
	for _, v := range f.day().Visits {
		if v.Phase() == visit.Done && len(v.Readings) == 1 && v.Finding().Band == "usual" && x == nil {
			x = v
		}
	}
	number := ticketNumber(x.Ticket)
	lead, second := f.comes("Maren Solbakk", laptop), f.comes("Maren Solbakk", phone)
	lead.visit(f.at("/correct/" + x.ID))
	lead.see("What is wrong?")
	lead.fullShot("ticket")
	lead.click("Something in it is wrong")
	lead.fill("Reading", "412")
	lead.fill("The same once more", "412")
	lead.fullShot("form")
	lead.click("See what it touches")
	lead.see("Nothing is recorded yet")
	lead.see("412 mg/dL")
	lead.see("Care opens (critical, very high)")
	lead.see("must be replaced by a corrected one")
	lead.fullShot("preview")
	if f.ticket(number).OpenCare() {
		t.Error("the preview was recorded")
	}
	lead.fill("Why is it corrected?", "read from the meter's memory")
	lead.fill("Signed by", "Maren Solbakk")
	lead.fill("PIN", f.pins["Maren Solbakk"])
	lead.click("Sign the correction")
	lead.see("shows another result than the one that stands")
	lead.fullShot("signed")
	if v := f.ticket(number); !v.OpenCare() || v.Readings[0].Reading.Shown() != "412" || len(v.Corrections) != 1 {
		t.Errorf("on record: %+v", v.Corrections)
	}
	lead.click("Corrected slip, English")
	lead.see("Corrected slip 2. It takes the place of the slip of")
	lead.fullShot("slip")
	lead.visit(f.at("/slip/" + x.ID + "?lang=es"))
	lead.see("Hoja corregida 2. Reemplaza a la hoja del")
	lead.fullShot("slip-es")
	lead.visit(f.at("/history/" + x.ID))
	lead.see("read from the meter's memory")
	lead.fullShot("history")
	lead.visit(f.at("/board"))
	lead.see("a slip that must be replaced")
	lead.shot("board")
	second.visit(f.at("/digits"))
	second.fullShot("digits")
	second.visit(f.at("/digits/station-1"))
	second.fullShot("digits-station")
	second.visit(f.at("/correct/" + x.ID))
	second.fullShot("phone-ticket")
	second.click("Something in it is wrong")
	second.fill("Reading", "142")
	second.fill("The same once more", "142")
	second.fullShot("phone-form")
	second.click("See what it touches")
	second.see("stays open until a supervisor signs it")
	second.fullShot("phone-preview")
	second.visit(f.at("/correct/" + x.ID + "/answers"))
	second.fullShot("phone-answers")
	second.visit(f.at("/corrections"))
	second.fullShot("phone-corrections")
	second.visit(f.at("/history/" + x.ID))
	second.fullShot("phone-history")
	second.visit(f.at("/correct-run/" + f.day().Event.Runs[0].ID))
	second.fullShot("phone-run")
	lead.visit(f.at("/digits/station-1"))
	lead.fullShot("digits-laptop")
}

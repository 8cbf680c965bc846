package e2e

import "testing"

// A meter that was dropped runs its controls again. The second level is out twice without a cause: the meter goes into
// quarantine, and at a test seat it is refused.
func TestFailedControl(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead, test := f.comes("Maren Solbakk", laptop), f.comes("Saoirse Quill", phone)
	lead.visit(f.at("/board"))
	f.sit(test, "3", "M4", "Lot INV-41, vial 41-a")
	test.see("Meter M4 is not cleared with lot INV-41")
	test.shot("not-cleared")
	test.click("Run the controls")
	test.click("css:.toolbar .main-button") // what comes next: level 1 on M4
	test.see("Level 1 on meter M4")
	test.see("96 to 144 mg/dL")
	test.enter("119")
	test.shot("run")
	test.click("Record this run")
	test.see("In range: 119")
	test.click("Run level 2 on M4")
	test.see("252 to 340 mg/dL")
	test.enter("352")
	test.click("Record this run")
	test.see("stop testing on M4")
	test.shot("out-of-range")
	lead.see("Stop: control out of range")
	test.click("Run level 2 again")
	test.enter("349")
	test.click("Record this run")
	test.see("stop testing on M4")
	test.fill("Why is it taken out?", "Level 2 above its range twice, no cause found")
	test.click("Quarantine this meter")
	test.see("The meter is out. Put it in the quarantine bag")
	lead.visit(f.at("/controls"))
	lead.see("M4 is in quarantine. Level 2: 349 mg/dL, printed range 252 to 340 mg/dL")
	lead.shot("controls")

	waiting := len(f.day().Visits)
	test.visit(f.at("/test"))
	test.see("Meter M4 is in quarantine: Level 2 above its range twice, no cause found")
	test.shot("refused")
	test.seeNot("Press a number to take it.")
	test.click("Put another meter on the table")
	test.see("Out of use: in quarantine")

	d := f.day()
	for _, m := range d.Meters {
		if m.Details.Label == "M4" && (m.Quarantine == nil || len(d.Event.RunsOf(m.ID)) != 5) {
			t.Errorf("on record: quarantine %v, %d runs, want 5", m.Quarantine, len(d.Event.RunsOf(m.ID)))
		}
	}
	if len(d.Visits) != waiting {
		t.Error("visits have changed")
	}
}

// A new lot is refused until its code is compared and both levels of control have passed on the meter; then it reads.
func TestLotChange(t *testing.T) {
	t.Parallel()
	f := market(t)
	test := f.comes("Ines Calder", phone)
	f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")
	test.click("Change the table")
	test.click("Test")
	test.click("Next: strips and wipes")
	test.click("Open a new vial")
	test.click("Lot INV-58")
	test.fill("Name written on the vial", "58-a")
	test.click("Opened now")
	test.see("The new vial is written down.")
	test.click("Lot INV-58, vial 58-a")
	test.click("This is the table")

	test.see("The code on meter M1 has not been compared with the vial of lot INV-58.")
	test.shot("code")
	test.fill("Code on the meter's display", "41")
	test.click("The meter shows this")
	test.see("Meter M1 shows code 41; the vial of lot INV-58 says 58.")
	test.fill("Code on the meter's display", "58")
	test.click("The meter shows this")
	test.see("Meter M1 is not cleared with lot INV-58")
	test.seeNot("Press a number to take it.")

	test.click("Run the controls")
	run := func(level, shown, printed string) {
		test.visit(f.at("/controls"))
		var href string
		test.eval(`(links => (links.find(a => new URL(a.href).searchParams.get("vial").endsWith("/58-a")) || {}).href || "")([...document.querySelectorAll("main a")].filter(a => a.innerText === `+quote("Run level "+level+" on M1")+`))`, &href)
		if href == "" {
			t.Fatalf("Controls offers no run of level %s of the new lot on M1:\n%s", level, test.text())
		}
		test.visit(href)
		test.see("Level " + level + " on meter M1")
		test.see(printed)
		test.enter(shown)
		test.click("Record this run")
		test.see("In range: " + shown)
	}
	run("1", "122", "98 to 146 mg/dL")
	test.visit(f.at("/test"))
	test.see("Meter M1 is not cleared with lot INV-58") // one level is not enough
	run("2", "301", "255 to 344 mg/dL")
	test.visit(f.at("/test"))
	test.click("Take ticket 025")
	f.read(test, "104")
	test.see("Send to Explain.")
	r := f.ticket("025").Readings[0]
	if lot := f.day().StripLotByID(r.StripLot).Details.Lot; lot != "INV-58" || r.Vial != "58-a" {
		t.Errorf("read with lot %s, vial %s", lot, r.Vial)
	}
}

package e2e

import (
	"testing"
	"time"
)

// A form that was filled in by hand is typed twice with keys alone; what differs is settled by looking at the paper, what was
// irregular is signed, and the numbers come out.
func TestPaper(t *testing.T) {
	t.Parallel()
	f := market(t)
	lead := f.comes("Maren Solbakk", laptop)
	lead.visit(f.at("/paper"))
	lead.fill("How many forms", "12")
	lead.click("Number the next forms")
	lead.see("Numbers 001 to 012 are written down")
	lead.fullShot("paper")
	lead.look("paper")
	lead.click("A form is void")
	lead.fill("Number", "12")
	lead.fill("Why", "torn")
	lead.click("Write down that it is void")
	lead.see("Form 012 is void.")

	f.wait(time.Minute)
	first, second := f.comes("Hollis Bray", laptop), f.comes("Ines Calder", laptop)
	first.visit(f.at("/paper/type"))
	first.fullShot("paper-list")
	first.click("Type this form")
	first.see("First typing")
	first.fullShot("paper-first")
	first.look("first typing")
	typeForm(first, "52", "104", "N", 0)
	first.see("is typed once and kept on this laptop")
	first.fullShot("paper-second")

	second.visit(f.at("/paper/type"))
	second.see("typed once by Hollis Bray")
	second.fill("Number on the form", "001, typed once by Hollis Bray at "+f.clock.Now().In(f.day().Event.Zone()).Format("15:04"))
	second.click("Type this form")
	second.see("First typed by Hollis Bray")
	typeForm(second, "25", "104", "I", 5)
	second.see("2 fields differ")
	second.see("How old are you?")
	second.see("About the person: Do you have health insurance?")
	second.fullShot("paper-settle")
	second.look("settle")
	second.click("52")
	second.click("I am not sure")
	second.click("This is what the paper says")
	second.see("Nothing is recorded yet.")
	second.fullShot("paper-accept")
	second.look("accept")
	second.fill("Why it is recorded all the same", "paper beside the stations")
	second.fill("Signed by", "Maren Solbakk, Faculty pharmacist")
	second.fill("PIN", f.pins["Maren Solbakk"])
	second.click("Sign and record")
	second.see("Form 001 is in the record as ticket 030. 104 mg/dL")

	v := f.ticket("030")
	if v.Form != 1 || v.Answers.Answers["age"] != "52" || v.Readings[0].Reading.Shown() != "104" || !v.Finished {
		t.Errorf("on record: form %d, age %s, %+v", v.Form, v.Answers.Answers["age"], v.Readings)
	}
	if said := v.Counts().About; said != "race=asian insurance=unsure doctor=no first-time=yes easy=yes" {
		t.Errorf("said of themself: %q", said)
	}
	lead.visit(f.at("/paper"))
	lead.see("1 of 12")
	lead.see("Not accounted for: 002 to 011")
	lead.fullShot("paper-account")

	small := f.comes("Tobias Wren", phone)
	small.visit(f.at("/paper"))
	small.fullShot("paper")
	small.visit(f.at("/paper/type/form?number=2"))
	small.fullShot("paper-first")
	small.look("first typing on a phone")
}

// typeForm types the form of somebody who was tested at 10:40 with meter M1, key by key in the order of the page; insured is the letter of what
// they said of their insurance, and private how many fields for a name and a number follow.
func typeForm(p *page, age, value, insured string, private int) {
	p.t.Helper()
	for _, typed := range []string{
		"1031", "E", // arrived, language
		"R", "Y", "1033", // consent
		"Space", "", // no signs; the others stay folded
		age, "N", "N", "N", "N", "N", "N",
		"815", "T", // last food
		"1040", "F", value, value, "M", "l", "I", // the first reading
		"Y", "Y", "", "Y", "1041",
		"", "", "", "", "", // further readings
		"In", // the table
		"",   // care
		"O", "Y", "R", "1044",
		"", "", // referral
		"Y",             // easy to understand
		"T", "1045", "", // end
		"", "Enter", "", "Space", "", "", "", "", "", "", "", // about the person: not all skipped, and the second of the groups
		insured, "N", "Y",
		"N", // contact
	} {
		if typed != "" {
			p.keys(typed)
		}
		p.keys("Tab")
	}
	for range private + 1 {
		p.keys("Tab")
	}
	p.keys("Enter")
}

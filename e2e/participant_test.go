package e2e

import (
	"strings"
	"testing"

	"fairstick/internal/visit"
)

// A participant goes through the three stations, in Spanish on phones and in English on laptops with the keyboard, while the
// lead's board follows. From the chosen ticket to the record a practised screener needs 9 presses for three figures and 7
// for two; the limit is 12.
func TestParticipant(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		on      device
		guest   guest
		shown   string
		presses int
		words   []string // that the participant reads with the counsellor
		slip    []string
	}{
		{
			phone,
			guest{spanish: true, ate: "08:00", call: "Fina Inventada"},
			"112", 9,
			[]string{"112 mg/dL", "no en ayunas", "Esto no descarta la diabetes."},
			[]string{"Su lectura", "112 mg/dL", "Corvane School of Pharmacy", "555 0140"},
		},
		{
			laptop,
			guest{ate: "09:00"},
			"95", 7,
			[]string{"95 mg/dL", "not fasting", "This does not rule out diabetes."},
			[]string{"Your reading", "95 mg/dL", "Tamsin Green Market", "555 0140"},
		},
	} {
		t.Run(c.on.name, func(t *testing.T) {
			f := market(t)
			lead, desk, test, explain := f.comes("Maren Solbakk", laptop), f.comes("Hollis Bray", c.on), f.comes("Ines Calder", c.on), f.comes("Rosa Amaya", c.on)
			lead.visit(f.at("/board"))
			f.sit(test, "1", "M1", "Lot INV-41, vial 41-a")

			ticket := f.desk(desk, c.guest)
			desk.shot("desk-done")
			lead.seeIn("Test", ticket)
			test.click("Take ticket " + ticket) // its own line is live
			test.see("counts as not fasting")
			test.shot("hands")
			n := f.read(test, c.shown)
			t.Logf("%s: %d presses from the ticket to the record", c.shown, n)
			if n != c.presses || n > 12 {
				t.Errorf("%s took %d presses, want %d and at most 12", c.shown, n, c.presses)
			}
			test.see("Send to Explain.")
			test.shot("recorded")
			test.click("Lancet in sharps, meter wiped")
			test.see("Keep meter M1 wet")
			lead.seeIn("Explain", ticket)

			explain.visit(f.at("/explain"))
			explain.click("Take ticket " + ticket)
			for _, w := range c.words {
				explain.see(w)
			}
			explain.shot("result")
			explain.click("Explained: ask it back")
			explain.click("Said it in their own words")
			explain.click("Print half-letter")
			for _, w := range c.slip {
				explain.see(w)
			}
			for _, w := range []string{"normal", "diabetic", "diabético", "you have", "usted tiene", "fail"} {
				if explain.has(w) {
					t.Errorf("the slip says %q", w)
				}
			}
			explain.fullShot("slip")
			explain.click("Slip handed over")
			explain.click("Finish ticket " + ticket)
			explain.see("Ticket " + ticket + " is finished.")

			v := f.ticket(ticket)
			if v.Phase() != visit.Done || len(v.Slips) != 1 || v.Finding().Reading.Shown() != c.shown || v.Call != (c.guest.call != "") {
				t.Errorf("on record: %s, %d slips, %s, call %v", v.Phase(), len(v.Slips), v.Finding().Reading, v.Call)
			}
			gone := func() bool {
				return !strings.Contains(lead.column("Desk")+lead.column("Test")+lead.column("Explain"), ticket)
			}
			if !lead.until(gone) {
				t.Errorf("the board still shows ticket %s", ticket)
			}
			lead.shot("board")
		})
	}
}

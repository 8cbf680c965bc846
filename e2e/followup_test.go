package e2e

import (
	"strings"
	"testing"
	"time"
)

// afterwards is the market three days later at ten.
func afterwards(t *testing.T) *fair {
	t.Helper()
	f := market(t)
	d := f.clock.Now()
	f.clock.Set(time.Date(d.Year(), d.Month(), d.Day()+3, 10, 0, 0, 0, d.Location()))
	return f
}

// One call on a phone, with thumbs alone: the list, the number, what to say, and what was told. The network breaks while it is
// written down; what was chosen is sent when it is back, and recorded once.
func TestOneCallOnAPhone(t *testing.T) {
	t.Parallel()
	f := afterwards(t)
	w := f.wired()
	p := f.comes("Rosa Amaya", phone)
	p.visit(f.url + "/follow-up")
	p.see("To do now")
	p.seeNot("Cora Invented")
	p.look("follow-up list")
	p.shot("follow-up")
	p.click("Call 013")
	p.see("May I speak with")
	p.seeNot("Cora Invented")
	p.click("Show the name and number")
	p.see("Cora Invented")
	p.see("555 0212")
	if strings.Contains(p.url(), "Cora") || strings.Contains(p.url(), "0212") {
		t.Errorf("a person stands in the address %s", p.url())
	}
	p.look("a call")
	p.fullShot("call")
	p.click("Not seen yet")
	p.eval(`document.querySelector('select[name="reason"]').value = "cost", 1`, nil)
	w.cut.Store(true)
	w.hang()
	p.click("Write it down")
	p.see("Not recorded yet: the laptop does not answer.")
	if st, _, err := f.prog.FollowUpOf(t.Context(), f.ticket("013").ID); err != nil || len(st.State.Outcomes) != 0 {
		t.Errorf("recorded while the network was cut: %+v %v", st.State, err)
	}
	w.cut.Store(false)
	p.see("Ticket 013 is written down.")
	p.see("Ask again: not seen yet")
	x, _, err := f.prog.FollowUpOf(t.Context(), f.ticket("013").ID)
	if err != nil || len(x.State.Attempts) != 1 || len(x.State.Outcomes) != 1 || x.State.Outcomes[0].Reason != "cost" || len(x.State.Openings) != 1 {
		t.Errorf("on record: %+v %v", x.State, err)
	}
	p.click("How many were seen?")
	p.see("who were referred were seen by a clinician")
	p.look("completion")
	p.fullShot("completion")
}

package e2e

import (
	"testing"
	"time"

	"fairstick/internal/testkit"
)

// The laptop's clock jumps in the middle of the day: the board says so, the record goes on by its own time, and a supervisor
// says which is right.
func TestClockJumps(t *testing.T) {
	t.Parallel()
	f := market(t)
	c := &testkit.Timepiece{Record: f.clock}
	fatal(t, f.prog.GoBy(t.Context(), c))
	lead, phoneLead := f.comes("Maren Solbakk", laptop), f.comes("Maren Solbakk", phone)
	lead.visit(f.at("/board"))
	lead.seeNot("clock jumped")
	settle := func(by time.Duration) {
		c.SetLaptop(by)
		fatal(t, f.prog.SettleClock(t.Context()))
	}
	settle(47 * time.Minute)
	lead.see("This laptop's clock jumped forward by 47 min.") // by itself: the board is live
	lead.shot("board-clock")
	before := f.clock.Now()
	lead.click("Say which is right")
	lead.see("Which clock is right?")
	lead.see("The laptop slept")
	lead.shot("clock-forward")
	phoneLead.visit(f.at("/clock"))
	phoneLead.fullShot("clock-forward-phone")
	lead.click("The laptop slept")
	lead.see("The answer about the clock is in the record.")
	lead.seeNot("clock jumped")
	if want := before.Add(47 * time.Minute); !f.clock.Now().Equal(want) {
		t.Errorf("the record goes on with %v, want %v", f.clock.Now(), want)
	}
	phoneLead.click("The laptop slept") // an answer twice, from a page that is old
	phoneLead.see("The difference of the clocks is not the one that you saw.")

	settle(-25 * time.Hour)
	lead.see("This laptop's clock jumped back by 1 day 1 h.")
	lead.visit(f.at("/clock"))
	lead.seeNot("The laptop slept")
	lead.shot("clock-back")
	lead.click("Keep Fairstick's time")
	lead.see("The answer about the clock is in the record.")
	lead.seeNot("clock jumped")
	lead.visit(f.at("/report"))
	lead.see("Fairstick kept its own time until the day was closed.")
}

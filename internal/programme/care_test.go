package programme_test

import (
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
)

func (h *hall) visit(g *demo.Guest) *visit.State {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	return d.Visit(g.ID)
}

func (h *hall) todo(g *demo.Guest) []string {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	var steps []string
	for _, t := range programme.CareToDo(d.Visit(g.ID), d.Protocol) {
		steps = append(steps, t.Step)
	}
	return steps
}

func (h *hall) step(g *demo.Guest, c programme.CareStep) {
	h.t.Helper()
	c.Act, c.Visit = h.Act(), g.ID
	_, err := h.P.CareStep(h.ctx, h.As("Sue Supervisor"), c)
	h.must(err)
}

func (h *hall) read(g *demo.Guest, shown string) programme.Read {
	h.t.Helper()
	r, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: shown})
	h.must(err)
	return r
}

func (h *hall) signOff(g *demo.Guest) error {
	_, err := h.P.SignCare(h.ctx, h.As("Sue Supervisor"), programme.SignCare{Act: h.Act(), Visit: g.ID, Sign: h.Sign("Sue Supervisor")})
	return err
}

// low is a guest whose reading is low twice, as the protocol's repeat rule asks for.
func (h *hall) low() *demo.Guest {
	h.t.Helper()
	g := h.guest("1", demo.Guest{})
	h.read(g, "66")
	h.later(time.Minute)
	h.read(g, "64")
	return g
}

// A recheck before its time does not count as one; a low one asks for sugar again; after the protocol's two rounds it is an
// emergency on every screen, and nobody can sign it away.
func TestLowThatStaysLow(t *testing.T) {
	h := opened(t)
	g := h.low()
	h.step(g, programme.CareStep{Step: "sugar", Choice: "given"})
	h.later(5 * time.Minute)
	h.read(g, "71")
	if got := h.todo(g); len(got) != 1 || got[0] != "recheck" {
		t.Errorf("after a recheck at 5 minutes: %v", got)
	}
	h.later(10 * time.Minute)
	if r := h.read(g, "65"); r.Critical {
		t.Errorf("65 after one round: %+v", r)
	}
	if got := h.todo(g); len(got) != 1 || got[0] != "sugar" {
		t.Errorf("after a low recheck: %v", got)
	}
	h.refused("care-unfinished", h.signOff(g))
	h.step(g, programme.CareStep{Step: "sugar", Choice: "given"})
	h.later(15 * time.Minute)
	if r := h.read(g, "66"); !r.Critical || r.Care != "critical-low" {
		t.Errorf("66 after two rounds: %+v", r)
	}
	if c := h.visit(g).Care; !c.Critical() {
		t.Errorf("care is for %s", c.Cause)
	}
	h.refused("care-unfinished", h.signOff(g))
}

// A recheck that has fallen further alerts every screen at once.
func TestRecheckThatFalls(t *testing.T) {
	h := opened(t)
	g := h.low()
	h.step(g, programme.CareStep{Step: "sugar", Choice: "given"})
	h.later(15 * time.Minute)
	if r := h.read(g, "48"); !r.Critical || h.visit(g).Care.Cause != "critical-low" {
		t.Errorf("48 after sugar: %+v, care for %s", r, h.visit(g).Care.Cause)
	}
}

// Somebody who cannot swallow gets nothing by mouth: that is an emergency, not a low reading that can be signed.
func TestCannotSwallow(t *testing.T) {
	h := opened(t)
	g := h.low()
	h.step(g, programme.CareStep{Step: "sugar", Choice: "cannot-swallow"})
	v := h.visit(g)
	if v.Care.Cause != "signs" || !v.Finding().Unwell {
		t.Errorf("care for %s, finding %+v", v.Care.Cause, v.Finding())
	}
	h.refused("care-unfinished", h.signOff(g))
}

// Signs seen after the finding make it another finding, so that a slip of the old one must be replaced; a number read later
// does not take back that somebody looked unwell.
func TestSignsOutrankTheNumber(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	h.read(g, "95")
	before := h.visit(g)
	_, err := h.P.OpenCare(h.ctx, h.As("Ann Screener"), programme.OpenCare{Act: h.Act(), Visit: g.ID, Station: "1"})
	h.must(err)
	after := h.visit(g)
	if f := after.Finding(); f == nil || !f.Unwell || f.Band != "usual" || after.FoundID == before.FoundID {
		t.Errorf("finding %+v", f)
	}
	sick := h.guest("", demo.Guest{})
	_, err = h.P.OpenCare(h.ctx, h.As("Ann Screener"), programme.OpenCare{Act: h.Act(), Visit: sick.ID, Station: "2"})
	h.must(err)
	h.must(h.Call(h.ctx, sick, "2"))
	_, err = h.Read(h.ctx, sick, "2", demo.Shot{Reading: "412"})
	h.must(err)
	if v := h.visit(sick); v.Care.Cause != "signs" || !v.Finding().Unwell {
		t.Errorf("care for %s, finding %+v", v.Care.Cause, v.Finding())
	}
	high := h.guest("2", demo.Guest{})
	h.must(h.Clear(h.ctx, sick, "2"))
	h.later(2 * time.Minute)
	_, err = h.P.AttendCare(h.ctx, h.As("Bob Screener"), programme.AttendCare{Act: h.Act(), Visit: sick.ID, Sign: h.Sign("Sue Supervisor")})
	h.must(err)
	_, err = h.Read(h.ctx, high, "2", demo.Shot{Reading: "320"})
	h.must(err)
	h.step(high, programme.CareStep{Step: "signs", Signs: []string{"vomiting"}})
	if v := h.visit(high); v.Finding() == nil || !v.Finding().Unwell {
		t.Errorf("with vomiting, 320 is still %+v", v.Found)
	}
}

package programme_test

import (
	"fmt"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
)

func (h *hall) lookBack(name string) string {
	h.t.Helper()
	t, err := h.P.TraceSupply(h.ctx, h.key(name))
	h.must(err)
	s := fmt.Sprintf("%s people %d call %d left %d", t.Knows, t.People, t.MayCall, t.Line.OnHand)
	for _, d := range t.Days {
		s += fmt.Sprintf("; %s tested %d touched %d wipes %d", d.Name, d.Tested, d.Touched, d.Wipes)
		if d.Trip != nil {
			s += fmt.Sprintf(" brought %d", d.Trip.Brought)
		}
	}
	return s
}

// Three people are tested; the record says of lancets which event took them, of wipes who was read after one, and of anything else
// only that it was there.
func TestLookBackOfSupplies(t *testing.T) {
	h := newHall(t, withRunner, func(p *demo.Programme) {
		p.Supplies = append(p.Supplies, programme.DescribeSupply{Name: "Gloves, size S", Lot: "GL-7", Use: "gloves"})
	})
	h.receive("Lancets, box one", 1, 40, "Cupboard", "2026-06-01")
	h.receive("Lancets, box two", 1, 100, "Cupboard", "2026-06-01")
	h.receive("Gloves, size S", 1, 50, "Cupboard", "2026-06-01")
	h.receive("wipes", 1, 160, "Cupboard", "2026-06-01")
	h.receive("Sharps", 1, 1, "Cupboard", "2026-06-01")
	if got := h.lookBack("Gloves, size S"); got != "held people 0 call 0 left 50" {
		t.Error(got)
	}
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	for i, g := range []demo.Guest{{Contact: programme.Contact{Allow: true, Call: true, Name: "Ada Invented", Phone: "555 0201"}}, {}, {}} {
		h.later(10 * time.Minute)
		x := h.guest("1", g)
		h.later(time.Minute)
		_, err := h.Read(h.ctx, x, "1", demo.Shot{Reading: "104"})
		h.must(err)
		if i < 2 {
			h.must(h.Clear(h.ctx, x, "1"))
			h.later(5 * time.Minute)
		}
	}
	for name, want := range map[string]string{
		"Lancets, box one": "counted people 3 call 1 left 0; Test Fair tested 3 touched 3 wipes 0 brought 40",
		"Lancets, box two": "counted people 3 call 1 left 80; Test Fair tested 3 touched 3 wipes 0 brought 20",
		"Gloves, size S":   "held people 3 call 1 left 50; Test Fair tested 3 touched 3 wipes 0",
		"Balloons":         "held people 0 call 0 left 0", // never received
		"wipes":            "wiped people 2 call 0 left 160; Test Fair tested 3 touched 2 wipes 2",
	} {
		if got := h.lookBack(name); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
	if l := h.line("Gloves, size S"); l.Name != "Gloves, size S, lot GL-7" {
		t.Error(l.Name)
	}
	_, err := h.P.TraceSupply(h.ctx, h.key("A"))
	h.refused("lot-look-back", err)
	_, err = h.P.TraceSupply(h.ctx, "supply.nothing")
	h.refused("no-such-consumable", err)
	_, err = h.P.TraceSupply(h.ctx, "visit.x")
	h.refused("no-such-stock", err)
}

// What was thrown away, held or received afterwards was not at the event.
func TestLookBackKnowsTheDays(t *testing.T) {
	h := newHall(t, withRunner, func(p *demo.Programme) {
		p.Supplies = append(p.Supplies, programme.DescribeSupply{Name: "Gone", Use: "gauze"}, programme.DescribeSupply{Name: "Held", Use: "gauze"}, programme.DescribeSupply{Name: "Late", Use: "gauze"})
	})
	h.Clock.Set(time.Date(2026, 6, 18, 9, 0, 0, 0, time.UTC))
	for _, name := range []string{"Gone", "Held"} {
		h.receive(name, 1, 50, "Cupboard", "2026-06-01")
	}
	_, err := h.P.DisposeStock(h.ctx, h.As("Lea Lead"), programme.DisposeStock{Act: h.Act(), Thing: h.key("Gone"), Place: "Cupboard", N: 50, Reason: "wet"})
	h.must(err)
	_, err = h.P.HoldStock(h.ctx, h.As("Lea Lead"), programme.HoldStock{Act: h.Act(), Thing: h.key("Held"), Recall: true, Source: "the maker", Reason: "not sterile"})
	h.must(err)
	h.Clock.Set(h.Time("08:00"))
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	h.Clock.Set(h.Time("12:00").AddDate(0, 0, 2))
	h.receive("Late", 1, 50, "Cupboard", "")
	for name, left := range map[string]int{"Gone": 0, "Held": 50, "Late": 50} {
		if got, want := h.lookBack(name), fmt.Sprintf("held people 0 call 0 left %d", left); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

package programme_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

func withRunner(p *demo.Programme) {
	p.People = append(p.People, demo.Person{Name: "Rue Runner", PIN: "7392", Roles: []string{"runner"}})
	p.Supplies = []programme.DescribeSupply{{Name: "Lancets, box one", Expiry: "2026-07", Use: "lancets"}, {Name: "Lancets, box two", Expiry: "2027-07", Use: "lancets"}, {Name: "Sharps", Use: "sharps"}, {Name: "Balloons"}}
}

// key is a thing of the hall by its name.
func (h *hall) key(name string) string {
	h.t.Helper()
	switch name {
	case "A", "B":
		return "strip-lot." + h.ID(name)
	case "control 1", "control 2":
		return "control-lot." + h.ID(name)
	case "wipes":
		return "disinfectant." + h.ID(name)
	}
	all, err := programme.List[*stock.Supply](h.ctx, h.P, stock.SupplyKind)
	h.must(err)
	for _, s := range all {
		if s.Details.Name == name {
			return "supply." + s.ID
		}
	}
	h.t.Fatalf("no supply is called %s", name)
	return ""
}

func (h *hall) receive(name string, packs, perPack int, place, on string) {
	h.t.Helper()
	_, err := h.P.ReceiveStock(h.ctx, h.As("Lea Lead"), programme.ReceiveStock{Act: h.Act(), Thing: h.key(name), Packs: packs, PerPack: perPack, Place: place, On: on, Price: "20", Currency: "usd"})
	h.must(err)
}

func (h *hall) line(name string) programme.StockLine {
	h.t.Helper()
	_, l, err := h.P.StockThing(h.ctx, h.key(name))
	h.must(err)
	if l.Received+l.Found != l.OnHand+l.AtEvents+l.Used+l.Disposed+l.Lost {
		h.t.Errorf("%s does not add up: %+v", name, *l)
	}
	return *l
}

func (h *hall) stands(name, want string) {
	h.t.Helper()
	l := h.line(name)
	if got := fmt.Sprintf("hand %d away %d used %d found %d lost %d disposed %d", l.OnHand, l.AtEvents, l.Used, l.Found, l.Lost, l.Disposed); got != want {
		h.t.Errorf("%s: %s, want %s", name, got, want)
	}
}

// What an event takes, uses and gives back comes from its own facts, and nothing is counted twice.
func TestStockThroughADay(t *testing.T) {
	h := newHall(t, withRunner)
	h.receive("A", 4, 50, "Cupboard", "2026-06-01")
	h.receive("B", 1, 50, "Cupboard", "2026-06-01")
	h.receive("Lancets, box one", 1, 40, "Cupboard", "2026-06-01")
	h.receive("Lancets, box two", 1, 100, "Cupboard", "2026-06-01")
	h.receive("Sharps", 3, 1, "Cupboard", "2026-06-01")
	h.stands("A", "hand 200 away 0 used 0 found 0 lost 0 disposed 0")
	h.prepare("") // brings 50 of each lot, 60 lancets and 2 containers, and runs 4 controls with A
	h.Clock.Set(h.Time("09:00"))
	h.must(h.open())
	h.stands("A", "hand 150 away 46 used 4 found 0 lost 0 disposed 0")
	h.stands("Lancets, box one", "hand 0 away 40 used 0 found 0 lost 0 disposed 0") // the first to expire goes first
	h.stands("Lancets, box two", "hand 80 away 20 used 0 found 0 lost 0 disposed 0")
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.CountBack(h.ctx, h.As("Lea Lead"), programme.CountBack{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 41, h.ID("B"): 50}, Lancets: 55, Sharps: 2})
	h.must(err)
	h.stands("A", "hand 191 away 0 used 9 found 0 lost 0 disposed 0")
	h.stands("B", "hand 50 away 0 used 0 found 0 lost 0 disposed 0")
	h.stands("Lancets, box one", "hand 35 away 0 used 5 found 0 lost 0 disposed 0")
	h.stands("Lancets, box two", "hand 100 away 0 used 0 found 0 lost 0 disposed 0")
	h.stands("Sharps", "hand 3 away 0 used 0 found 0 lost 0 disposed 0")
	h.later(time.Hour)
	tally, err := h.P.CountStock(h.ctx, h.As("Rue Runner"), programme.CountStock{Act: h.Act(), Place: "cupboard", Lines: []programme.CountLine{{Thing: h.key("A"), N: 190}, {Thing: h.key("B"), N: 50}}})
	h.must(err)
	if tally.Counted != 2 || tally.Differ != 1 || tally.Says != "Strip lot A: 190, the record had 191" {
		t.Errorf("%+v", tally)
	}
	h.stands("A", "hand 190 away 0 used 9 found 0 lost 1 disposed 0")
	l := h.line("A")
	if len(l.Events) != 1 || l.Events[0].Brought != 50 || l.Events[0].Used != 9 || l.Events[0].Back != 41 || len(l.Places) != 1 || l.Places[0].Place != "Cupboard" {
		t.Errorf("%+v", l)
	}
	if l.Price == nil || l.Price.Mean != 40 || l.Value != 7600 || l.Price.Currency != "USD" {
		t.Errorf("price %+v, value %d", l.Price, l.Value)
	}
}

// A second press of each form changes nothing, and answers as it did before.
func TestStockDoublePress(t *testing.T) {
	h := newHall(t, withRunner)
	lead := h.As("Lea Lead")
	h.receive("A", 4, 50, "Cupboard", "2026-06-01")
	acts := []func() error{}
	twice := func(f func() error) { acts = append(acts, f) }
	a := h.key("A")
	r, m, d, n := h.Act(), h.Act(), h.Act(), h.Act()
	twice(func() error {
		_, err := h.P.ReceiveStock(h.ctx, lead, programme.ReceiveStock{Act: r, Thing: a, Packs: 1, PerPack: 50, Place: "Cupboard"})
		return err
	})
	twice(func() error {
		_, err := h.P.MoveStock(h.ctx, lead, programme.MoveStock{Act: m, Thing: a, From: "Cupboard", To: "Van", N: 30})
		return err
	})
	twice(func() error {
		_, err := h.P.DisposeStock(h.ctx, lead, programme.DisposeStock{Act: d, Thing: a, Place: "Van", N: 10, Reason: "wet"})
		return err
	})
	twice(func() error {
		_, err := h.P.CountStock(h.ctx, lead, programme.CountStock{Act: n, Place: "Van", Lines: []programme.CountLine{{Thing: a, N: 19}}})
		return err
	})
	for _, do := range acts {
		h.later(time.Minute)
		h.must(do())
		h.must(do())
	}
	h.stands("A", "hand 239 away 0 used 0 found 0 lost 1 disposed 10")
}

func TestStockRefusals(t *testing.T) {
	h := newHall(t, withRunner)
	lead, runner := h.As("Lea Lead"), h.As("Rue Runner")
	h.receive("A", 1, 50, "Cupboard", "2026-06-01")
	receive := func(change func(*programme.ReceiveStock)) error {
		c := programme.ReceiveStock{Act: h.Act(), Thing: h.key("A"), Packs: 1, PerPack: 50, Place: "Cupboard"}
		change(&c)
		_, err := h.P.ReceiveStock(h.ctx, lead, c)
		return err
	}
	for what, x := range map[string]struct {
		change func(*programme.ReceiveStock)
		key    string
	}{
		"no packs":            {func(c *programme.ReceiveStock) { c.Packs = 0 }, "fields"},
		"packs below nothing": {func(c *programme.ReceiveStock) { c.Packs = -4 }, "fields"},
		"a million packs":     {func(c *programme.ReceiveStock) { c.Packs = 1_000_000 }, "fields"},
		"too many in all":     {func(c *programme.ReceiveStock) { c.Packs, c.PerPack = 9000, 9000 }, "fields"},
		"no place":            {func(c *programme.ReceiveStock) { c.Place = " " }, "fields"},
		"a long place":        {func(c *programme.ReceiveStock) { c.Place = strings.Repeat("x", 41) }, "fields"},
		"not yet received":    {func(c *programme.ReceiveStock) { c.On = "2027-01-01" }, "fields"},
		"a day that is none":  {func(c *programme.ReceiveStock) { c.On = "2026-02-30" }, "fields"},
		"a price of words":    {func(c *programme.ReceiveStock) { c.Price, c.Currency = "cheap", "USD" }, "fields"},
		"a price below 0":     {func(c *programme.ReceiveStock) { c.Price, c.Currency = "-1", "USD" }, "fields"},
		"no currency":         {func(c *programme.ReceiveStock) { c.Price = "19" }, "fields"},
		"a currency of signs": {func(c *programme.ReceiveStock) { c.Price, c.Currency = "19", "$$$" }, "fields"},
		"nothing chosen":      {func(c *programme.ReceiveStock) { c.Thing = "" }, ""},
		"an unknown lot":      {func(c *programme.ReceiveStock) { c.Thing = "strip-lot.nobody" }, "no-such-strip-lot"},
		"a foreign kind":      {func(c *programme.ReceiveStock) { c.Thing = "visit." + h.Event }, "no-such-stock"},
		"a meter":             {func(c *programme.ReceiveStock) { c.Thing = "meter." + h.ID("M1") }, "no-such-stock"},
		"expired by then":     {func(c *programme.ReceiveStock) { c.Thing, c.On = h.key("Lancets, box one"), "2026-06-02" }, "none"},
	} {
		err := receive(x.change)
		switch {
		case x.key == "none":
			h.must(err)
		case x.key == "":
			if err == nil {
				t.Errorf("%s was recorded", what)
			}
		default:
			h.refused(x.key, err)
		}
	}
	_, err := h.P.MoveStock(h.ctx, lead, programme.MoveStock{Act: h.Act(), Thing: h.key("A"), From: "Cupboard", To: "Van", N: 51})
	h.refused("more-than-there", err)
	if err == nil || !strings.Contains(err.Error(), "where the record has 50") {
		t.Errorf("%v", err)
	}
	_, err = h.P.MoveStock(h.ctx, lead, programme.MoveStock{Act: h.Act(), Thing: h.key("A"), From: "Cupboard", To: "CUPBOARD", N: 1})
	h.refused("fields", err)
	_, err = h.P.DisposeStock(h.ctx, lead, programme.DisposeStock{Act: h.Act(), Thing: h.key("A"), Place: "Nowhere", N: 1, Reason: "wet"})
	h.refused("more-than-there", err)
	_, err = h.P.DisposeStock(h.ctx, lead, programme.DisposeStock{Act: h.Act(), Thing: h.key("A"), Place: "Cupboard", N: 1})
	h.refused("fields", err)
	for what, c := range map[string]programme.CountStock{
		"nothing": {Place: "Van"}, "no place": {Lines: []programme.CountLine{{Thing: h.key("A"), N: 1}}}, "below nothing": {Place: "Van", Lines: []programme.CountLine{{Thing: h.key("A"), N: -1}}},
		"absurd": {Place: "Van", Lines: []programme.CountLine{{Thing: h.key("A"), N: 2_000_000}}}, "twice": {Place: "Van", Lines: []programme.CountLine{{Thing: h.key("A"), N: 1}, {Thing: h.key("A"), N: 2}}},
	} {
		c.Act = h.Act()
		if _, err := h.P.CountStock(h.ctx, lead, c); err == nil {
			t.Errorf("a count of %s was recorded", what)
		}
	}
	// Roles: a runner counts, and does nothing else; a screener does nothing.
	thing := h.key("A")
	for name, do := range map[string]func(programme.Actor) error{
		"receive": func(a programme.Actor) error {
			_, err := h.P.ReceiveStock(h.ctx, a, programme.ReceiveStock{Thing: thing, Packs: 1, PerPack: 1, Place: "x"})
			return err
		},
		"move": func(a programme.Actor) error {
			_, err := h.P.MoveStock(h.ctx, a, programme.MoveStock{Thing: thing, From: "Cupboard", To: "x", N: 1})
			return err
		},
		"dispose": func(a programme.Actor) error {
			_, err := h.P.DisposeStock(h.ctx, a, programme.DisposeStock{Thing: thing, Place: "Cupboard", N: 1, Reason: "x"})
			return err
		},
		"hold": func(a programme.Actor) error {
			_, err := h.P.HoldStock(h.ctx, a, programme.HoldStock{Thing: thing, Reason: "x"})
			return err
		},
	} {
		for _, who := range []programme.Actor{runner, h.As("Ann Screener")} {
			if err := do(who); err == nil {
				t.Errorf("%s was done by somebody who may not", name)
			} else {
				h.refused("role", err)
			}
		}
	}
	_, err = h.P.CountStock(h.ctx, h.As("Ann Screener"), programme.CountStock{Place: "Van", Lines: []programme.CountLine{{Thing: thing, N: 1}}})
	h.refused("role", err)
	h.stands("A", "hand 50 away 0 used 0 found 0 lost 0 disposed 0")
}

func TestExpiredStockStaysAtHome(t *testing.T) {
	h := newHall(t, withRunner, func(p *demo.Programme) {
		p.Lots[1].Expiry, p.Lots[1].Vials = "2026-06-19", nil
	})
	lead := h.As("Lea Lead")
	_, err := h.P.ReceiveStock(h.ctx, lead, programme.ReceiveStock{Act: h.Act(), Thing: h.key("B"), Packs: 1, PerPack: 50, Place: "Cupboard"})
	h.refused("stock-expired", err)
	h.receive("B", 1, 50, "Cupboard", "2026-06-19") // its last day
	_, err = h.P.BringStock(h.ctx, lead, programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("B"): 10}})
	h.refused("strips-expired", err)
	l := h.line("B")
	if len(l.Warnings) != 1 || !l.Warnings[0].Stop || l.Warnings[0].Says != "Strip lot B expired on 19 Jun 2026. Dispose of 50 strips." {
		t.Errorf("%+v", l.Warnings)
	}
	_, err = h.P.DisposeStock(h.ctx, lead, programme.DisposeStock{Act: h.Act(), Thing: h.key("B"), Place: "Cupboard", N: 50, Reason: "expired"})
	h.must(err)
	h.stands("B", "hand 0 away 0 used 0 found 0 lost 0 disposed 50")
}

// gateOf tells what a gate of a test station says.
func (h *hall) gateOf(station, key string) string {
	h.t.Helper()
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	seat := h.Seat(station)
	gates, _ := d.StationGates(d.Person(h.ID(seat.Screener)), programme.Device{Station: station, Meter: h.ID(seat.Meter), StripLot: h.ID(seat.Lot), Vial: seat.Vial}, h.Clock.Now())
	for _, g := range gates {
		if g.Key == key && g.Fault != nil {
			return g.Fault.Key + ": " + g.Fault.Sentence
		}
	}
	return ""
}

// A lot in quarantine shuts the gates of the day at once: testing, controls, opening a vial, bringing more. Its release, signed, opens them.
func TestHeldStripsShutTheGates(t *testing.T) {
	h := opened(t, withRunner)
	lead := h.As("Lea Lead")
	if says := h.gateOf("1", "strips"); says != "" {
		t.Fatalf("before: %s", says)
	}
	h.later(time.Minute)
	hold, err := h.P.HoldStock(h.ctx, h.As("Sue Supervisor"), programme.HoldStock{Act: h.Act(), Thing: h.key("A"), Reason: "vial without its cap"})
	h.must(err)
	if says := h.gateOf("1", "strips"); says != "stock-held: Strip lot A is in quarantine: vial without its cap." {
		t.Errorf("the gate says %q", says)
	}
	h.refused("stock-held", h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"1": "118"}))
	_, err = h.P.OpenVial(h.ctx, lead, programme.OpenVial{Act: h.Act(), StripLot: h.ID("A"), Vial: "A9"})
	h.refused("stock-held", err)
	_, err = h.P.BringStock(h.ctx, lead, programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 10}})
	h.refused("stock-held", err)
	_, err = h.P.ReceiveStock(h.ctx, lead, programme.ReceiveStock{Act: h.Act(), Thing: h.key("A"), Packs: 1, PerPack: 50, Place: "Cupboard"})
	h.refused("stock-held", err)
	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: h.key("A"), Reason: "again"})
	h.refused("held-already", err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	for _, v := range d.VialsFor(h.ID("M1"), d.Event.Plan.Date) {
		if v.Lot.Details.Lot == "A" {
			t.Error("a vial of the lot is still offered")
		}
	}
	_, err = h.P.ReleaseStock(h.ctx, lead, programme.ReleaseStock{Act: h.Act(), Thing: h.key("A"), Hold: h.standing("A"), Reason: "another vial", Sign: h.Sign("Ann Screener")})
	h.refused("signature-role", err)
	_, err = h.P.ReleaseStock(h.ctx, lead, programme.ReleaseStock{Act: h.Act(), Thing: h.key("A"), Hold: hold.ID, Reason: "another vial", Sign: h.Sign("Sue Supervisor")})
	h.refused("not-held", err)
	h.later(time.Minute)
	_, err = h.P.ReleaseStock(h.ctx, lead, programme.ReleaseStock{Act: h.Act(), Thing: h.key("A"), Hold: h.standing("A"), Reason: "another vial", Sign: h.Sign("Sue Supervisor")})
	h.must(err)
	if says := h.gateOf("1", "strips"); says != "" {
		t.Errorf("after the release: %s", says)
	}
	// A recall of the control solution shuts the controls; only a lead ends it.
	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: h.key("control 1"), Recall: true, Reason: "reads high"})
	h.refused("fields", err)
	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: h.key("control 1"), Recall: true, Source: "the maker, notice of 19 June", Reason: "reads high"})
	h.must(err)
	h.refused("stock-held", h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"1": "118"}))
	end := programme.ReleaseStock{Act: h.Act(), Thing: h.key("control 1"), Hold: h.standing("control 1"), Reason: "another lot", Sign: h.Sign("Sue Supervisor")}
	_, err = h.P.ReleaseStock(h.ctx, lead, end)
	h.refused("signature-role", err)
	end.Sign = h.Sign("Lea Lead")
	_, err = h.P.ReleaseStock(h.ctx, lead, end)
	h.must(err)
	// So does a disinfectant that is held.
	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: h.key("wipes"), Reason: "dried out"})
	h.must(err)
	_, err = h.P.WipeMeter(h.ctx, h.As("Ann Screener"), programme.WipeMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Disinfectant: h.ID("wipes")})
	h.refused("stock-held", err)
}

func (h *hall) standing(name string) string {
	h.t.Helper()
	l := h.line(name)
	if hold := l.Shelf().Standing(); hold != nil {
		return hold.ID
	}
	return ""
}

// The look-back of a lot holds the tickets, meters and controls that it touched, and nothing of another lot.
func TestTraceLot(t *testing.T) {
	h := opened(t, withRunner)
	h.reading(0, h.ID("A"), "A1", h.ID("M1"), true)
	h.reading(1, h.ID("A"), "A1", h.ID("M2"), false)
	h.reading(2, h.ID("B"), "B1", h.ID("M2"), true)
	a, err := h.P.TraceLot(h.ctx, h.key("A"))
	h.must(err)
	if a.People != 2 || a.Read != 2 || a.MayCall != 1 || a.Runs != 4 || len(a.Events) != 1 || fmt.Sprint(a.Meters) != "[M1 M2]" || a.Brought[h.Event] != 50 {
		t.Errorf("%+v", a)
	}
	if v := a.Events[0].People; v[0].Ticket != 900 || v[1].Ticket != 901 || v[1].Readings[0].Meter != "M2" || fmt.Sprint(v[0].Vials()) != "[A1]" || fmt.Sprint(a.Events[0].Meters()) != "[M1 M2]" {
		t.Errorf("%+v", v)
	}
	b, err := h.P.TraceLot(h.ctx, h.key("B"))
	h.must(err)
	if b.People != 1 || b.Runs != 0 || b.MayCall != 1 || fmt.Sprint(b.Meters) != "[M2]" {
		t.Errorf("%+v", b)
	}
	c, err := h.P.TraceLot(h.ctx, h.key("control 1"))
	h.must(err)
	if c.People != 2 || c.Runs != 2 || len(c.Brought) != 0 { // both meters were cleared with lot A and this solution
		t.Errorf("%+v", c)
	}
	_, err = h.P.TraceLot(h.ctx, h.key("Balloons"))
	h.refused("no-look-back", err)
	_, err = h.P.TraceLot(h.ctx, "strip-lot.nobody")
	h.refused("no-such-strip-lot", err)
}

// reading puts a visit with one reading on record by its facts alone.
func (h *hall) reading(n int, lot, vial, meter string, call bool) {
	h.t.Helper()
	h.must(h.store.Write(h.ctx, func(tx *store.Tx) error { return writeVisit(tx, h.Event, n, lot, vial, meter, call, h.Clock.Now()) }))
}

func writeVisit(tx *store.Tx, ev string, n int, lot, vial, meter string, call bool, at time.Time) error {
	v, err := glucose.ParseValue("118", glucose.MgPerDL)
	if err != nil {
		return err
	}
	ref := visit.Ref(fmt.Sprintf("%s-v%d", ev, n))
	for _, b := range []fact.Body{
		visit.Arrived{Event: ev, Ticket: 900 + n, Language: "en"},
		visit.ReadingTaken{Purpose: visit.First, Reading: glucose.Number(v), Meter: meter, StripLot: lot, Vial: vial, NewStick: true},
		visit.Referred{Route: "Invented Clinic", Call: call},
	} {
		if _, err := tx.Append(store.Draft{At: at, Subject: ref, Body: b}); err != nil {
			return err
		}
	}
	return nil
}

// Orders come from the planned events and what lasts until then; warnings name what does not.
func TestStockOrdersAndWarnings(t *testing.T) {
	h := newHall(t, withRunner)
	lead := h.As("Lea Lead")
	next := h.set.Plan
	next.Act, next.Event, next.Name, next.Date, next.Expected = h.Act(), "", "August Fair", "2026-08-08", 50
	_, err := h.P.PlanEvent(h.ctx, lead, next)
	h.must(err)
	h.receive("A", 1, 50, "Cupboard", "")
	h.receive("Lancets, box one", 2, 100, "Cupboard", "") // expires in July
	r, err := h.P.Stock(h.ctx)
	h.must(err)
	if len(r.Events) != 2 || r.Events[1].Name != "August Fair" {
		t.Fatalf("planned: %+v", r.Events)
	}
	got := map[stock.Use]string{}
	for _, o := range r.Orders {
		got[o.Rate.Use] = fmt.Sprintf("need %d usable %d missing %d first %s", o.Need, o.Usable, o.Missing, o.First)
	}
	for use, want := range map[stock.Use]string{
		stock.UseStrips:  "need 98 usable 50 missing 48 first August Fair", // 28 for 20 people, 70 for 50
		stock.UseLancets: "need 79 usable 200 missing 56 first August Fair",
		stock.UseGloves:  "need 81 usable 0 missing 81 first Test Fair",
	} {
		if got[use] != want {
			t.Errorf("%s: %s, want %s", use, got[use], want)
		}
	}
	says := ""
	for _, w := range r.Warnings {
		says += w.Says + "\n"
	}
	for _, want := range []string{
		"Lancets, box one (200 lancets): the last day is 31 Jul 2026, before August Fair on 8 Aug 2026. Use it first.",
		"Vial old of Strip lot A was to be discarded after 2 Apr 2026. Throw it away.",
	} {
		if !strings.Contains(says, want) {
			t.Errorf("no warning says %q:\n%s", want, says)
		}
	}
	if !r.Warnings[0].Stop || len(r.Value) != 1 || r.Value[0] != (programme.StockValue{Minor: 6000, Currency: "USD"}) {
		t.Errorf("first warning %+v, value %+v", r.Warnings[0], r.Value)
	}
	if r.NameOf("") != "the programme" || r.NameOf(h.ID("Lea Lead")) != "Lea Lead" {
		t.Error("names")
	}
}

// BenchmarkTraceLot looks back over a record of 100,000 visits in 400 events, of which 5,000 used the lot.
func BenchmarkTraceLot(b *testing.B) {
	const events, each, every = 400, 250, 20
	h := newHall(b)
	for e := range events {
		ev := h.Event
		if e > 0 {
			ev = fmt.Sprintf("event-%d", e)
		}
		err := h.store.Write(b.Context(), func(tx *store.Tx) error {
			if e > 0 {
				if _, err := tx.Append(store.Draft{At: h.Clock.Now(), Subject: event.Ref(ev), Body: event.Planned{Name: ev, Date: h.Date.AddDays(-e)}}); err != nil {
					return err
				}
			}
			for n := range each {
				lot, vial := h.ID("B"), "B1"
				if e%every == 0 {
					lot, vial = h.ID("A"), "A1"
				}
				if err := writeVisit(tx, ev, n, lot, vial, h.ID("M1"), n%2 == 0, h.Clock.Now()); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		t, err := h.P.TraceLot(b.Context(), "strip-lot."+h.ID("A"))
		if err != nil || t.People != events/every*each || t.MayCall != t.People/2 {
			b.Fatalf("%v %+v", err, t.People)
		}
	}
}

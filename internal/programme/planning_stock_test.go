package programme_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
)

// What can be used at an event, by lot and vial: days in use, expiry and holds decide; strips that make no whole vials lie in the open ones.
func TestStockForAnEvent(t *testing.T) {
	h := newHall(t)
	lead := h.As("Lea Lead")
	buy := func(thing string, packs, per int, price string) {
		_, err := h.P.ReceiveStock(h.ctx, lead, programme.ReceiveStock{Act: h.Act(), Thing: thing, Packs: packs, PerPack: per, Place: "Cupboard", Price: price, Currency: "USD", On: "2026-06-10"})
		h.must(err)
	}
	at := func(date string) (*programme.Stockroom, programme.EventStock) {
		d, err := h.P.Day(h.ctx, h.Event)
		h.must(err)
		d.Event.Plan.Date = civil.MustParse(date)
		r, err := h.P.Stock(h.ctx)
		h.must(err)
		return r, r.ForEvent(d)
	}
	if _, e := at("2026-06-20"); e.Kept || len(e.Lots) != 0 || len(e.Levels) != 2 || e.Levels[0].First == nil || e.Levels[0].First.Vial != "c1" || e.Levels[0].Have != 1 {
		t.Errorf("an empty cupboard with open bottles has %+v", e)
	}
	c1 := "control-lot." + h.ID("control 1")
	buy(h.key("A"), 4, 50, "24.50")
	buy(h.key("B"), 1, 50, "20")
	buy(c1, 2, 1, "12")

	// Of lot A's 200 strips at least one lies in each of its two open vials, and they make 50; "old" was to be used up by 2 April.
	r, e := at("2026-06-20")
	a, b := h.ID("A"), h.ID("B")
	want := []plan.Lot{
		{ID: a + "/A1", Of: a, Quantity: 25, Expires: 194, Vial: 50, InUse: 90, Opened: true, OpenedOn: -19},
		{ID: a, Quantity: 150, Expires: 194, Vial: 50, InUse: 90},
		{ID: b + "/B1", Of: b, Quantity: 50, Expires: 194, Vial: 50, Opened: true, OpenedOn: -19},
	}
	if d := cmp.Diff(want, e.Lots); d != "" || !e.Kept || e.PerVial || e.Loaded {
		t.Errorf("kept %v, controls for each vial %v, loaded %v, lots (-want +got):\n%s", e.Kept, e.PerVial, e.Loaded, d)
	}
	if d := cmp.Diff([]programme.StockBehind{{Name: "Strip lot A, vial old", Why: "open, last day 2 Apr 2026"}}, e.Behind); d != "" {
		t.Errorf("behind (-want +got):\n%s", d)
	}
	if x := e.Entries[a+"/A1"]; x.Lot != "A" || x.Vial != "A1" || x.Last != civil.MustParse("2026-08-30") || x.Pieces != 25 {
		t.Errorf("the open vial is %+v", x)
	}
	if l := e.Levels[0]; l.Have != 2 || !l.Kept || l.First.Vial != "c1" {
		t.Errorf("level 1 is %+v, want the open bottle first and a sealed one", l)
	}
	have := r.Have(civil.MustParse("2026-06-20"), nil)
	e.Counts(have)
	if have["strips"] != 225 || have["control-solution-1"] != 2 || have["control-solution-2"] != 1 {
		t.Errorf("on hand: %v", have)
	}
	packs, _ := r.Packs(nil, []string{"1", "2"})
	if packs["control-solution-1"] != (plan.Pack{Size: 1, Cents: 1200}) {
		t.Errorf("packs %v, want level 1 at 12.00", packs)
	}
	if packs, _ = r.Packs(nil, []string{"2"}); len(packs) != 1 {
		t.Errorf("packs %v, want none of a level that nobody runs", packs)
	}

	summer := h.set.Plan
	summer.Act, summer.Name, summer.Date = h.Act(), "Summer Fair", "2026-07-04"
	_, err := h.P.PlanEvent(h.ctx, lead, summer)
	h.must(err)

	// In November the vials of A that are open now are past their 90 days, and so are the bottles; the sealed bottle is left.
	_, e = at("2026-11-07")
	if len(e.Lots) != 2 || e.Lots[0].ID != a || e.Lots[0].Quantity != 150 || e.Lots[1].Quantity != 50 || e.Levels[0].First.Vial != "" || e.Levels[0].Have != 1 || e.Levels[1].First != nil || len(e.Behind) != 4 {
		t.Errorf("in November %+v", e)
	}
	if len(e.Before) != 1 || e.Before[0].Name != "Summer Fair" {
		t.Errorf("before it come %+v", e.Before)
	}
	_, e = at("2027-01-01")
	if len(e.Lots) != 1 || e.Lots[0].Quantity != 0 || len(e.Behind) != 3 || e.Behind[0].Why != "last day 31 Dec 2026" {
		t.Errorf("after all has expired %+v", e)
	}

	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: h.key("B"), Reason: "Found in the sun"})
	h.must(err)
	if _, e = at("2026-06-20"); len(e.Lots) != 2 || len(e.Behind) != 2 {
		t.Errorf("with lot B in quarantine %+v", e)
	}
}

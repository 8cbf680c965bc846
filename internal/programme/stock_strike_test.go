package programme_test

import (
	"testing"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// move finds the first move of a kind that stands on the shelf of a thing.
func (h *hall) move(name string, kind stock.MoveKind) string {
	h.t.Helper()
	l := h.line(name)
	for _, m := range l.Shelf().Moves {
		if m.Kind == kind {
			return m.ID
		}
	}
	h.t.Fatalf("%s was never %s", name, kind)
	return ""
}

func (h *hall) strike(name, move, reason string) error {
	_, err := h.P.StrikeStock(h.ctx, h.As("Lea Lead"), programme.StrikeStock{Act: h.Act(), Thing: h.key(name), Move: move, Reason: reason})
	return err
}

// A receipt of 4 packs that was typed as 40: the right one is recorded, the wrong one struck, and levels, price and what to
// order follow.
func TestStrikeAMistypedReceipt(t *testing.T) {
	h := newHall(t, withRunner)
	h.receive("A", 40, 50, "Cupboard", "2026-06-01")
	wrong := h.move("A", stock.WasReceived)
	h.prepare("") // an event takes 50
	h.stands("A", "hand 1950 away 50 used 0 found 0 lost 0 disposed 0")
	h.refused("strike-used-up", h.strike("A", wrong, "4 packs, not 40"))
	if f := fault.Of(h.strike("A", wrong, "4 packs, not 40")); f.Sentence != "Without this receipt the record would hold less than nothing: 50 strips went to Test Fair." {
		t.Error(f.Sentence)
	}
	h.later(time.Minute)
	_, err := h.P.ReceiveStock(h.ctx, h.As("Lea Lead"), programme.ReceiveStock{Act: h.Act(), Thing: h.key("A"), Packs: 4, PerPack: 50, Place: "Cupboard", On: "2026-06-01", Price: "25", Currency: "usd"})
	h.must(err)
	x, err := h.P.StockStrike(h.ctx, h.key("A"), wrong)
	h.must(err)
	if x.Refused != nil || x.Struck != nil || x.Was.OnHand != 2150 || x.Now.OnHand != 150 || x.Was.Price.Mean >= x.Now.Price.Mean || x.Now.Price.Mean != 50 {
		t.Errorf("%+v was %+v now %+v", x, x.Was, x.Now)
	}
	if err := h.strike("A", wrong, " "); !fault.Is(err, "fields") {
		t.Errorf("a strike without a reason: %v", err)
	}
	h.must(h.strike("A", wrong, "4 packs, not 40"))
	h.stands("A", "hand 150 away 50 used 0 found 0 lost 0 disposed 0")
	l := h.line("A")
	if len(l.Struck) != 1 || l.Struck[0].Move.N != 2000 || l.Struck[0].Reason != "4 packs, not 40" || l.Struck[0].By != h.ID("Lea Lead") || l.Price.Mean != 50 || l.Value != 7500 {
		t.Errorf("struck %+v price %+v worth %d", l.Struck, l.Price, l.Value)
	}
	err = h.strike("A", wrong, "again")
	h.refused("struck-already", err)
	if f := fault.Of(err); f.Sentence != "This receipt was struck already, by Lea Lead: 4 packs, not 40." {
		t.Error(f.Sentence)
	}
	if n := len(h.line("A").Struck); n != 1 {
		t.Errorf("struck %d times", n)
	}
	h.checked()
}

// checked asks for a record without fault.
func (h *hall) checked() {
	h.t.Helper()
	r, err := h.P.Check(h.ctx)
	h.must(err)
	if len(r.Problems) > 0 {
		h.t.Error(r.Problems)
	}
}

func TestStrikeCountMoveAndDisposal(t *testing.T) {
	h := newHall(t, withRunner)
	lead := h.As("Lea Lead")
	b := h.key("B")
	h.receive("B", 2, 50, "Cupboard", "2026-06-01")
	_, err := h.P.MoveStock(h.ctx, lead, programme.MoveStock{Act: h.Act(), Thing: b, From: "Cupboard", To: "Van", N: 40})
	h.must(err)
	h.later(time.Minute)
	toss := programme.DisposeStock{Act: h.Act(), Thing: b, Place: "Van", N: 10, Reason: "wet"}
	_, err = h.P.DisposeStock(h.ctx, lead, toss)
	h.must(err)
	h.later(time.Minute)
	_, err = h.P.CountStock(h.ctx, h.As("Rue Runner"), programme.CountStock{Act: h.Act(), Place: "Cupboard", Lines: []programme.CountLine{{Thing: b, N: 6}}})
	h.must(err)
	h.stands("B", "hand 36 away 0 used 0 found 0 lost 54 disposed 10")
	h.must(h.strike("B", h.move("B", stock.WasCounted), "60, not 6"))
	h.stands("B", "hand 90 away 0 used 0 found 0 lost 0 disposed 10")
	h.refused("strike-used-up", h.strike("B", h.move("B", stock.WasMoved), "another box"))
	again := programme.StrikeStock{Act: h.Act(), Thing: b, Move: h.move("B", stock.WasDisposed), Reason: "another box"}
	for range 2 { // a second press of the same form
		_, err = h.P.StrikeStock(h.ctx, lead, again)
		h.must(err)
	}
	h.stands("B", "hand 100 away 0 used 0 found 0 lost 0 disposed 0")
	h.must(h.strike("B", h.move("B", stock.WasMoved), "another box"))
	if l := h.line("B"); len(l.Places) != 1 || l.Places[0].Place != "Cupboard" || l.OnHand != 100 || len(l.Struck) != 3 {
		t.Errorf("%+v", l)
	}
	for who, key := range map[string]string{"Rue Runner": "role", "Ann Screener": "role"} {
		_, err := h.P.StrikeStock(h.ctx, h.As(who), programme.StrikeStock{Act: h.Act(), Thing: b, Move: h.move("B", stock.WasReceived), Reason: "x"})
		h.refused(key, err)
	}
	h.refused("no-such-move", h.strike("B", "nothing", "x"))
	h.receive("A", 1, 50, "Cupboard", "2026-06-01")
	h.refused("no-such-move", h.strike("B", h.move("A", stock.WasReceived), "x")) // of another lot
	_, err = h.P.HoldStock(h.ctx, lead, programme.HoldStock{Act: h.Act(), Thing: b, Reason: "cap was off"})
	h.must(err)
	h.refused("no-such-move", h.strike("B", h.line("B").Shelf().Holds[0].ID, "x"))
	_, err = h.P.StockStrike(h.ctx, b, "nothing")
	h.refused("no-such-move", err)
	h.checked()
}

// What lacks is asked for as early as the programme's own lead time says, once it has adopted one.
func TestOrderByTheLeadTime(t *testing.T) {
	h := ahead(t) // the event is on 30 July
	room, err := h.P.Stock(h.ctx)
	h.must(err)
	if len(room.Orders) == 0 || !room.OrderBy.IsZero() {
		t.Errorf("without a lead time: %+v %v", room.Orders, room.OrderBy)
	}
	h.adopt("supplies-request") // 14 days before
	room, err = h.P.Stock(h.ctx)
	h.must(err)
	if room.OrderBy.String() != "2026-07-16" {
		t.Errorf("order by %v", room.OrderBy)
	}
}

// A lot that ends soon is named even when no event is planned after it; what events do not count out may be used or missing.
func TestExpiryIsNamedEarly(t *testing.T) {
	h := newHall(t, withRunner)
	h.receive("Lancets, box one", 1, 40, "Cupboard", "2026-06-01") // expires on 31 July, the event is on 20 June
	h.receive("Lancets, box two", 1, 40, "Cupboard", "2026-06-01")
	h.receive("wipes", 1, 160, "Cupboard", "2026-06-01")
	l := h.line("Lancets, box one")
	if len(l.Warnings) != 1 || l.Warnings[0].Stop || l.Warnings[0].Says != "Lancets, box one (40 lancets): the last day is 31 Jul 2026, in 41 days. Use it first, or give it to somebody who can." {
		t.Errorf("%+v", l.Warnings)
	}
	if l := h.line("Lancets, box two"); len(l.Warnings) != 0 || !l.Followed {
		t.Errorf("%+v", l)
	}
	if l := h.line("wipes"); l.Followed {
		t.Error("events do not count wipes")
	}
}

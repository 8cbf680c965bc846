package programme_test

import (
	"fmt"
	"testing"

	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The binder of a day joins what an inspector joins: value, person, operator, meter, strips and the controls that cleared them.
func TestBinder(t *testing.T) {
	h, _ := dayWithSwap(t)
	b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	h.must(err)
	if b.From != b.To || len(b.Days) != 1 || b.Visits != 5 || len(b.Results) != 5 || len(b.Protocols) != 1 || len(b.Meters) != 2 || len(b.StripLots) != 2 || len(b.Controls) != 2 || len(b.Wipes) != 1 {
		t.Fatalf("%d days, %d visits, %d results, %d protocols, %d meters, %d lots, %d solutions, %d wipes", len(b.Days), b.Visits, len(b.Results), len(b.Protocols), len(b.Meters), len(b.StripLots), len(b.Controls), len(b.Wipes))
	}
	r := b.Results[1]
	r.At = r.At.UTC()
	if want := (programme.BinderResult{Event: h.Event, At: h.Time("10:00"), Ticket: 2, Shown: "102 mg/dL", Purpose: "first", Counts: true, Basis: "random", Band: "usual", Meter: "M2", Strips: "A, A1", Screener: "Bob Screener", Supervisor: "Lea Lead", Cleared: "08:00, 08:00", Referred: "no"}); r != want {
		t.Errorf("got  %+v\nwant %+v", r, want)
	}
	none, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-21", To: "2026-06-30"})
	h.must(err)
	if len(none.Days) != 0 || none.Listed || len(none.Protocols) != 1 { // the protocol was in force all the same
		t.Errorf("%+v", none)
	}
	before, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2020-01-01", To: "2020-12-31"})
	h.must(err)
	if len(before.Protocols) != 0 {
		t.Errorf("a protocol before it was signed: %d", len(before.Protocols))
	}
	for _, ask := range []programme.AskBinder{{}, {From: "2026-06-20", To: "2026-06-19"}, {From: "soon"}} {
		_, err := h.P.Binder(h.ctx, ask)
		h.refused("fields", err)
	}
}

// A binder that nobody would read is refused before its visits are read, and says what to do.
func TestBinderTooThick(t *testing.T) {
	h := newHall(t)
	h.must(h.store.Write(h.ctx, func(tx *store.Tx) error {
		for i := range 9000 {
			ref := visit.Ref(fmt.Sprint("v", i))
			if _, err := tx.Append(store.Draft{Subject: ref, Body: visit.Arrived{Event: h.Event, Ticket: i + 1}}); err != nil {
				return err
			}
		}
		return nil
	}))
	b, events, err := h.P.BinderSize(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	if err != nil || events != 1 || b.Visits != 9000 || b.Pages <= programme.MostBinderPages {
		t.Errorf("%+v %d %v", b, events, err)
	}
	_, err = h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	h.refused("binder-thick", err)
	if b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20"}); err != nil || b.Visits != 9000 || b.Pages > 20 {
		t.Errorf("without results: %v", err)
	}
	if ev, err := programme.One[*event.State](h.ctx, h.P, event.Ref(h.Event)); err != nil || ev.Plan.Name != "Test Fair" {
		t.Error(err)
	}
}

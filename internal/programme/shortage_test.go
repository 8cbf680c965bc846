package programme_test

import (
	"testing"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/store"
)

// An event that used up what it brought is named with when the last of it went; one that brought enough is not.
func TestShortages(t *testing.T) {
	h := opened(t) // 50 strips of each lot, 60 lancets; 4 strips of lot A went to controls
	if list, err := h.P.Shortages(h.ctx); err != nil || len(list) != 0 {
		t.Fatalf("%+v %v", list, err)
	}
	g := h.guest("1", demo.Guest{})
	_, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "101", Misfires: 2})
	h.must(err)
	less := func(body event.StockMoved) {
		h.must(h.store.Write(h.ctx, func(tx *store.Tx) error {
			_, err := tx.Append(store.Draft{Subject: fact.Ref{Kind: event.Kind, ID: h.Event}, Body: body})
			return err
		}))
	}
	less(event.StockMoved{Strips: map[string]int{h.ID("A"): -45}, Lancets: -57}) // 5 strips and 3 lancets were brought
	list, err := h.P.Shortages(h.ctx)
	h.must(err)
	if len(list) != 2 || list[0].Says != "All 5 strips of lot A were used by 09:00." || list[1].Says != "All 3 lancets were used by 09:00." || list[0].Name != "Test Fair" {
		t.Errorf("%+v", list)
	}
	less(event.StockMoved{Lancets: -1})
	if list, err := h.P.Shortages(h.ctx); err != nil || list[1].Says != "3 lancets were used, 2 were written down as brought." {
		t.Errorf("%+v %v", list, err)
	}
}

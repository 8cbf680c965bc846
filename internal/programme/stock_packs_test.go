package programme_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
)

// A packing list takes packs and prices from the programme's own invoices: what was bought last counts, at the mean of its own receipts;
// another currency and gifts are told apart; gloves go by size.
func TestPacksByOwnInvoices(t *testing.T) {
	h := newHall(t)
	lead := h.As("Lea Lead")
	supply := func(name, use string) string {
		d, err := h.P.DescribeSupply(h.ctx, lead, programme.DescribeSupply{Act: h.Act(), Name: name, Expiry: "2027-12", Use: use})
		h.must(err)
		return "supply." + d.ID
	}
	buy := func(thing string, packs, per int, price, currency, on string) {
		_, err := h.P.ReceiveStock(h.ctx, lead, programme.ReceiveStock{Act: h.Act(), Thing: thing, Packs: packs, PerPack: per, Place: "Cupboard", Price: price, Currency: currency, On: on})
		h.must(err)
	}
	if r, err := h.P.Stock(h.ctx); err != nil {
		t.Fatal(err)
	} else if packs, currency := r.Packs(nil, nil); len(packs) != 0 || currency != "" {
		t.Errorf("an empty cupboard has %v in %q", packs, currency)
	}
	buy(h.key("A"), 4, 50, "24.50", "USD", "2026-05-01")
	buy(h.key("B"), 1, 25, "13.05", "USD", "2026-06-10") // the later lot
	buy(h.key("B"), 1, 25, "15.05", "USD", "2026-06-11") // mean 14.05
	buy(supply("Prickers", "lancets"), 2, 100, "9.80", "USD", "2026-03-01")
	buy(supply("Wet pads", "swabs"), 1, 200, "3", "EUR", "2026-04-01")
	buy(supply("Drops", "sugar"), 10, 1, "0", "USD", "2026-04-02") // a gift
	buy(supply("Hand gloves, size M", "gloves"), 1, 50, "7", "USD", "2026-04-03")
	supply("Paper", "towels") // never bought

	r, err := h.P.Stock(h.ctx)
	h.must(err)
	want := map[string]plan.Pack{"strips": {Size: 25, Cents: 1405}, "lancets": {Size: 100, Cents: 980}, "glucose": {Size: 1}, "gloves-M": {Size: 50, Cents: 700}}
	got, currency := r.Packs([]string{"S", "M"}, []string{"1", "2"})
	if d := cmp.Diff(want, got); d != "" || currency != "USD" {
		t.Errorf("in %s (-want +got):\n%s", currency, d)
	}
	if d := cmp.Diff(map[string]int{"strips": 250, "lancets": 200, "swabs": 200, "glucose": 10, "gloves-M": 50}, r.Have(civil.MustParse("2026-06-20"), []string{"S", "M"})); d != "" {
		t.Errorf("on hand (-want +got):\n%s", d)
	}
	if n := r.Have(civil.MustParse("2027-01-01"), nil); n["strips"] != 0 || n["lancets"] != 200 { // the strips expire in December 2026
		t.Errorf("on hand in 2027: %v", n)
	}
	delete(want, "gloves-M")
	want["gloves"] = plan.Pack{Size: 50, Cents: 700}
	if got, _ = r.Packs(nil, nil); cmp.Diff(want, got) != "" {
		t.Errorf("without sizes:\n%s", cmp.Diff(want, got))
	}
	if got, _ = r.Packs([]string{"XL"}, nil); len(got) != 3 {
		t.Errorf("nobody wears size M, and the list has %v", got)
	}
}

package demo

import (
	"context"

	"fairstick/internal/fact"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// shelves records what the invented programme had bought before its day, and one box that is in quarantine.
func (m *marketDay) shelves(ctx context.Context) error {
	lead := m.As("Maren Solbakk")
	keys, err := m.keys(ctx, "INV-41", "INV-58")
	if err != nil {
		return err
	}
	const cupboard, van = "College cupboard", "Van crate"
	if err := m.receive(ctx, lead, keys, []receipt{
		{"INV-41", 2, 50, "19.00", "INV-2026-071", cupboard, "2026-08-14"},
		{"INV-58", 3, 50, "19.90", "INV-2026-093", cupboard, "2026-09-18"},
		{"control 1", 2, 1, "8.50", "INV-2026-071", cupboard, "2026-08-14"},
		{"control 2", 2, 1, "8.50", "INV-2026-071", cupboard, "2026-08-14"},
		{"wipes", 3, 160, "11.20", "INV-2026-071", cupboard, "2026-08-14"},
		{"Single-use auto-disabling lancets", 2, 100, "14.75", "INV-2026-071", cupboard, "2026-08-14"},
		{"Gloves, size S", 1, 50, "7.10", "INV-2026-071", van, "2026-08-14"},
		{"Gloves, size M", 1, 50, "7.10", "INV-2026-071", van, "2026-08-14"},
		{"Glucose tablets, 4 g", 4, 2, "", "", van, "2026-09-18"},
		{"Alcohol swabs", 1, 200, "4.60", "INV-2026-093", cupboard, "2026-09-18"},
	}); err != nil {
		return err
	}
	_, err = m.P.HoldStock(ctx, lead, programme.HoldStock{Act: m.Act(), Thing: keys["Gloves, size M"], Reason: "the box got wet in the van"})
	return err
}

// receipt is one line of an invented invoice; one without a price is a gift that nobody priced.
type receipt struct {
	what           string
	packs, perPack int
	price          string
	invoice, place string
	on             string
}

// receive records receipts of an invented supplier.
func (s *Stage) receive(ctx context.Context, who programme.Actor, keys map[string]string, list []receipt) error {
	for _, x := range list {
		c := programme.ReceiveStock{Act: s.Act(), Thing: keys[x.what], Packs: x.packs, PerPack: x.perPack, Invoice: x.invoice, Place: x.place, On: x.on}
		if x.price != "" {
			c.Price, c.Currency, c.Supplier = x.price, "USD", "Invented Medical Supply"
		}
		if _, err := s.P.ReceiveStock(ctx, who, c); err != nil {
			return err
		}
	}
	return nil
}

// keys are the names under which the commands of the stock know the lots that are named here, and everything else.
func (s *Stage) keys(ctx context.Context, lots ...string) (map[string]string, error) {
	supplies, err := programme.List[*stock.Supply](ctx, s.P, stock.SupplyKind)
	if err != nil {
		return nil, err
	}
	key := func(ref fact.Ref) string { return ref.Kind + "." + ref.ID }
	keys := map[string]string{
		"control 1": key(stock.ControlLotRef(s.ID("control 1"))), "control 2": key(stock.ControlLotRef(s.ID("control 2"))), "wipes": key(stock.DisinfectantRef(s.ID("wipes"))),
	}
	for _, lot := range lots {
		keys[lot] = key(stock.StripLotRef(s.ID(lot)))
	}
	for _, x := range supplies {
		keys[x.Details.Name] = key(stock.SupplyRef(x.ID))
	}
	return keys, nil
}

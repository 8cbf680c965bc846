package demo

import (
	"context"

	"fairstick/internal/fact"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// The places of an invented programme.
const (
	cupboard = "College cupboard"
	van      = "Van crate"
)

// receipt is one line of an invented invoice; one without a price is a gift that nobody priced.
type receipt struct {
	what           string
	packs, perPack int
	price          string
	invoice, place string
	on             string
}

// augustInvoice and septemberInvoice are what the invented programme had bought before its day.
func augustInvoice() []receipt {
	const on, invoice = "2026-08-14", "INV-2026-071"
	return []receipt{
		{"INV-41", 2, 50, "19.00", invoice, cupboard, on},
		{"control 1", 2, 1, "8.50", invoice, cupboard, on},
		{"control 2", 2, 1, "8.50", invoice, cupboard, on},
		{"wipes", 3, 160, "11.20", invoice, cupboard, on},
		{"Single-use auto-disabling lancets", 2, 100, "14.75", invoice, cupboard, on},
		{"Gloves, size S", 1, 50, "7.10", invoice, van, on},
		{"Gloves, size M", 1, 50, "7.10", invoice, van, on},
	}
}

func septemberInvoice() []receipt {
	const on, invoice = "2026-09-18", "INV-2026-093"
	return []receipt{
		{"INV-58", 3, 50, "19.90", invoice, cupboard, on},
		{"Glucose tablets, 4 g", 4, 2, "", "", van, on},
		{"Alcohol swabs", 1, 200, "4.60", invoice, cupboard, on},
	}
}

// setAside puts a box in quarantine.
func (s *Stage) setAside(ctx context.Context, who string) error {
	key, err := s.key(ctx, "Gloves, size M")
	if err != nil {
		return err
	}
	_, err = s.P.HoldStock(ctx, s.As(who), programme.HoldStock{Act: s.Act(), Thing: key, Reason: "the box got wet in the van"})
	return err
}

// receive records receipts of an invented supplier.
func (s *Stage) receive(ctx context.Context, who string, list []receipt) error {
	for _, x := range list {
		key, err := s.key(ctx, x.what)
		if err != nil {
			return err
		}
		c := programme.ReceiveStock{Act: s.Act(), Thing: key, Packs: x.packs, PerPack: x.perPack, Invoice: x.invoice, Place: x.place, On: x.on}
		if x.price != "" {
			c.Price, c.Currency, c.Supplier = x.price, "USD", "Invented Medical Supply"
		}
		if _, err := s.P.ReceiveStock(ctx, s.As(who), c); err != nil {
			return err
		}
	}
	return nil
}

// key is the name under which the commands of the stock know a lot or supply.
func (s *Stage) key(ctx context.Context, name string) (string, error) {
	supplies, err := programme.List[*stock.Supply](ctx, s.P, stock.SupplyKind)
	if err != nil {
		return "", err
	}
	of := func(ref fact.Ref) string { return ref.Kind + "." + ref.ID }
	for _, x := range supplies {
		if x.Details.Name == name {
			return of(stock.SupplyRef(x.ID)), nil
		}
	}
	switch id := s.ID(name); name {
	case "control 1", "control 2":
		return of(stock.ControlLotRef(id)), nil
	case "wipes":
		return of(stock.DisinfectantRef(id)), nil
	default:
		return of(stock.StripLotRef(id)), nil
	}
}

package programme

import (
	"context"
	"fmt"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
)

// Things are named by their kind and id, as in "strip-lot.<id>", control-lot, disinfectant or supply.

// ReceiveStock is packs that came in.
type ReceiveStock struct {
	Act
	Thing             string
	Packs, PerPack    int
	Price, Currency   string // of one pack; both empty when it is not known
	Supplier, Invoice string
	Place, On         string // an empty day is today
}

const mostPieces = 1_000_000

// ReceiveStock records a receipt. A lead or supervisor may. What has expired, is in quarantine or recalled is refused.
func (p *Programme) ReceiveStock(ctx context.Context, a Actor, c ReceiveStock) (Done, error) {
	return do(ctx, p, a, c.Act, "stock.receive", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := stock.Received{
			Packs: c.Packs, PerPack: c.PerPack, Unit: t.unit, Currency: strings.ToUpper(tidy(c.Currency)),
			Supplier: f.text("supplier", "The supplier", c.Supplier, false, 80),
			Invoice:  f.text("invoice", "The invoice number", c.Invoice, false, 40),
			Place:    f.text("place", "The place", c.Place, true, 40),
			On:       f.date("on", "The day of receipt", c.On, false),
		}
		f.between("packs", "The number of packs", c.Packs, 1, 10000)
		f.between("per_pack", "The "+t.unit+" in a pack", c.PerPack, 1, 10000)
		if c.Packs > 0 && c.PerPack > 0 && c.Packs <= 10000 && b.Pieces() > mostPieces {
			f.say("packs", "%d packs of %d are %d %s, which cannot be right.", c.Packs, c.PerPack, b.Pieces(), t.unit)
		}
		today := civil.Of(w.at)
		switch {
		case b.On.IsZero():
			b.On = today
		case b.On.After(today.AddDays(1)):
			f.say("on", "The day of receipt, %s, has not come yet.", b.On.Long())
		}
		f.price(&b, c.Price)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if f := heldFault(t.name, t.shelf, w.at); f != nil {
			return Done{}, f
		}
		if t.withdrawn != "" {
			return Done{}, refuse("stock-withdrawn", t.name+" was taken out of use: "+t.withdrawn+".", "Nothing of it can be used any more.", "Send it back to the supplier.")
		}
		if s := stock.Expired(t.name, t.expiry, b.On); s != "" {
			return Done{}, refuse("stock-expired", s, "It cannot be used.", "Send it back to the supplier, or correct the expiry on its page if it was typed wrongly.")
		}
		_, err = w.append(t.ref, b)
		return Done{ID: c.Thing}, err
	})
}

// price reads the price of a pack; an empty one is not known.
func (f *fields) price(b *stock.Received, text string) {
	text = tidy(text)
	if text == "" {
		b.Currency = ""
		return
	}
	letters := len(b.Currency) == 3
	for _, r := range b.Currency {
		letters = letters && r >= 'A' && r <= 'Z'
	}
	if !letters {
		f.say("currency", "A price needs its currency in three letters, for example USD.")
		return
	}
	n, err := stock.ParseMoney(text, b.Currency)
	if err != nil || n > 100_000_000 {
		f.say("price", "The price of a pack should be an amount such as 19.50, without signs or separators; %q was typed.", text)
		return
	}
	b.Price = &n
}

// CountStock is a physical count at one place: what stands there of each thing that was counted.
type CountStock struct {
	Act
	Place string
	Lines []CountLine
}

// CountLine is the count of one thing.
type CountLine struct {
	Thing string
	N     int
}

// Tally is what a count found.
type Tally struct {
	Counted int    `json:"counted"`
	Differ  int    `json:"differ"` // lines that were not as the record had them
	Says    string `json:"says"`
}

// CountStock records a count; each line sets the level of its place and keeps what the record had expected. A lead, supervisor
// or runner may.
func (p *Programme) CountStock(ctx context.Context, a Actor, c CountStock) (Tally, error) {
	return do(ctx, p, a, c.Act, "stock.count", func(w *work) (Tally, error) {
		var out Tally
		if err := w.need(people.Lead, people.Supervisor, people.Runner); err != nil {
			return out, err
		}
		var f fields
		place := f.text("place", "The place", c.Place, true, 40)
		if len(c.Lines) == 0 {
			f.say("lines", "Nothing was counted. Type a number beside what you counted.")
		}
		accounts, _, err := w.accounts()
		if err != nil {
			return out, err
		}
		seen := map[string]bool{}
		var list []thing
		for _, l := range c.Lines {
			t, err := w.thing(l.Thing)
			if err != nil {
				return out, err
			}
			f.between("n_"+l.Thing, t.name, l.N, 0, mostPieces)
			if seen[l.Thing] {
				f.say("n_"+l.Thing, "%s was counted twice on one form.", t.name)
			}
			seen[l.Thing] = true
			list = append(list, t)
		}
		if err := f.err(); err != nil {
			return out, err
		}
		var differ []string
		for i, t := range list {
			book := accounts[t.ref].At(place) + accounts[t.ref].At("")
			n := c.Lines[i].N
			if _, err := w.append(t.ref, stock.Counted{Place: place, N: n, Book: book}); err != nil {
				return out, err
			}
			if n != book && len(t.shelf.Moves) > 0 { // the first count of a thing is a beginning, no difference
				differ = append(differ, fmt.Sprintf("%s: %d, the record had %d", t.name, n, book))
			}
		}
		out = Tally{Counted: len(list), Differ: len(differ), Says: strings.Join(differ, "; ")}
		return out, nil
	})
}

// MoveStock is pieces that go from one place to another.
type MoveStock struct {
	Act
	Thing, From, To string
	N               int
}

// MoveStock records a move. A lead or supervisor may. What is held or has expired may still be moved, so that it can be set
// apart; it cannot be brought to an event.
func (p *Programme) MoveStock(ctx context.Context, a Actor, c MoveStock) (Done, error) {
	return do(ctx, p, a, c.Act, "stock.move", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := stock.Moved{From: tidy(c.From), To: f.text("to", "The place where it goes", c.To, true, 40), N: c.N}
		f.between("n", "The number of "+t.unit, c.N, 1, mostPieces)
		if strings.EqualFold(b.From, b.To) && b.To != "" {
			f.say("to", "It is at %s already. Type another place.", b.To)
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if err := w.enough(t, b.From, c.N, "moved"); err != nil {
			return Done{}, err
		}
		_, err = w.append(t.ref, b)
		return Done{ID: c.Thing}, err
	})
}

// enough refuses to take more from a place than the record has there.
func (w *work) enough(t thing, place string, n int, what string) error {
	accounts, _, err := w.accounts()
	if err != nil {
		return err
	}
	have := accounts[t.ref].At(place)
	if n <= have {
		return nil
	}
	where := place
	if where == "" {
		where = "no place yet"
	}
	return refuse("more-than-there", fmt.Sprintf("%s: %d %s cannot be %s from %s, where the record has %d.", t.name, n, t.unit, what, where, have),
		"The record would hold less than nothing.", "Count what lies there first, or type a smaller number.")
}

// DisposeStock is pieces that are thrown away.
type DisposeStock struct {
	Act
	Thing, Place, Reason string
	N                    int
}

// DisposeStock records a disposal with its reason. A lead or supervisor may.
func (p *Programme) DisposeStock(ctx context.Context, a Actor, c DisposeStock) (Done, error) {
	return do(ctx, p, a, c.Act, "stock.dispose", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		var f fields
		b := stock.Disposed{Place: tidy(c.Place), N: c.N, Reason: f.text("reason", "The reason", c.Reason, true, 200)}
		f.between("n", "The number of "+t.unit, c.N, 1, mostPieces)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if err := w.enough(t, b.Place, c.N, "thrown away"); err != nil {
			return Done{}, err
		}
		_, err = w.append(t.ref, b)
		return Done{ID: c.Thing}, err
	})
}

// HoldStock takes a lot or supply out of use: a quarantine, or a recall with its source.
type HoldStock struct {
	Act
	Thing          string
	Recall         bool
	Source, Reason string
}

// HoldStock records a quarantine or a recall; the gates of every day are shut for it at once. A lead or supervisor may.
func (p *Programme) HoldStock(ctx context.Context, a Actor, c HoldStock) (Done, error) {
	return do(ctx, p, a, c.Act, "stock.hold", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		source := f.text("source", "Who recalled it", c.Source, c.Recall, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if h := t.shelf.Standing(); h != nil && (!c.Recall || h.Kind == stock.InRecall) {
			return Done{}, refuse("held-already", t.name+" is already "+h.Says()+".", "", "Nothing more to do; release it when the reason is gone.")
		}
		if c.Recall {
			_, err = w.append(t.ref, stock.Recalled{Source: source, Reason: reason})
		} else {
			_, err = w.append(t.ref, stock.Quarantined{Reason: reason})
		}
		return Done{ID: c.Thing}, err
	})
}

// ReleaseStock ends one hold under a signature.
type ReleaseStock struct {
	Act
	Thing, Hold, Reason string
	Sign                Sign
}

// ReleaseStock records the end of a hold: a quarantine is signed off by a lead or a supervisor, a recall by a lead.
func (p *Programme) ReleaseStock(ctx context.Context, a Actor, c ReleaseStock) (Done, error) {
	signer, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "stock.release", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		var hold *stock.Hold
		for i := range t.shelf.Holds {
			if h := &t.shelf.Holds[i]; h.ID == c.Hold && h.Released == nil {
				hold = h
			}
		}
		if hold == nil {
			return Done{}, refuse("not-held", t.name+" is not held for that reason any more.", "", "Load the page again.")
		}
		if hold.Kind == stock.InRecall && !signer.Has(people.Lead) {
			return Done{}, fault.New(fault.Denied, "signature-role", signer.Details.Name+" may not end a recall.", "It needs the role lead.", "Ask the lead to sign.").Field("sign_person", "Choose a lead.")
		}
		var f fields
		reason := f.text("reason", "What was found", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(t.ref, stock.Released{Hold: hold.ID, Reason: reason, Signed: signer.ID})
		return Done{ID: c.Thing}, err
	})
}

package programme

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// StruckMove is a receipt, count, move or disposal that was taken back: it stays in the record and counts for nothing.
type StruckMove struct {
	Move   stock.Move
	At     time.Time
	By     string // person id
	Reason string
}

// struckMoves finds, among the facts of one thing, the moves that were struck, with the strike that came last.
func struckMoves(recs []fact.Record) []StruckMove {
	strikes := map[string]fact.Record{}
	for _, r := range recs {
		if _, ok := r.Body.(fact.Struck); ok {
			strikes[r.Corrects] = r
		}
	}
	var out []StruckMove
	for _, r := range recs {
		s, struck := strikes[r.ID]
		if m, ok := stock.ReadMove(r); ok && struck {
			out = append(out, StruckMove{Move: m, At: s.At, By: s.By, Reason: s.Reason})
		}
	}
	return out
}

// moveWords name a move in the middle of a sentence.
var moveWords = map[stock.MoveKind]string{stock.WasReceived: "receipt", stock.WasCounted: "count", stock.WasMoved: "move", stock.WasDisposed: "disposal"}

// MoveWord is what a move is called: receipt, count, move or disposal.
func MoveWord(kind stock.MoveKind) string { return moveWords[kind] }

// StockStrike is what striking a move would change, before anybody does it.
type StockStrike struct {
	Move     stock.Move
	Struck   *StruckMove // it is struck already
	Was, Now *StockLine
	Orders   [2]stock.Order // what to order of its use, before and after; empty when nothing is planned
	Refused  *fault.Fault   // why it cannot be struck as things stand; nil when it can
	Room     *Stockroom
}

// StockStrike tells what striking a move would change.
func (p *Programme) StockStrike(ctx context.Context, key, move string) (*StockStrike, error) {
	ref, f, recs, err := p.thingFacts(ctx, key)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(f.things, func(t thing) bool { return t.ref == ref })
	if i < 0 {
		return nil, missing(ref)
	}
	out := &StockStrike{Room: f.room()}
	out.Was = out.Room.Line(key)
	if out.Move, out.Struck, err = findMove(recs, move); err != nil || out.Struck != nil {
		return out, err
	}
	out.Refused = strikeFault(f.things, f.events, f.things[i], out.Move)
	shelf := *f.things[i].shelf
	shelf.Moves = slices.DeleteFunc(slices.Clone(shelf.Moves), func(m stock.Move) bool { return m.ID == move })
	f.things[i].shelf = &shelf
	after := f.room()
	out.Now = after.Line(key)
	for n, r := range []*Stockroom{out.Room, after} {
		for _, o := range r.Orders {
			if out.Was.Use != "" && o.Rate.Use == out.Was.Use {
				out.Orders[n] = o
			}
		}
	}
	return out, nil
}

// findMove finds a move among the facts of its thing.
func findMove(recs []fact.Record, id string) (stock.Move, *StruckMove, error) {
	for _, s := range struckMoves(recs) {
		if s.Move.ID == id {
			return s.Move, &s, nil
		}
	}
	for _, r := range fact.Settle(recs) {
		if m, ok := stock.ReadMove(r); ok && m.ID == id {
			return m, nil, nil
		}
	}
	return stock.Move{}, nil, fault.New(fault.Missing, "no-such-move", "There is no such receipt, count, move or disposal of it in the record.",
		"It may have been linked wrongly. A quarantine or a recall is not struck: it is released.", "Go back to its page and choose it there.")
}

// strikeFault says why a move cannot be struck; nil when it can. More can never have been used, moved or thrown away than came in.
func strikeFault(things []thing, events []*event.State, t thing, m stock.Move) *fault.Fault {
	var strike stock.Strike
	for _, g := range grouped(things, events, nil) {
		if i := slices.IndexFunc(g.items, func(x stock.Item) bool { return x.Ref == t.ref }); i >= 0 {
			strike = stock.Without(g.items, g.trips, i, m.ID)
		}
	}
	if len(strike.Lacks) == 0 {
		return nil
	}
	taken := map[string]string{}
	for _, x := range things {
		for _, o := range x.shelf.Moves {
			where := o.Place
			if where == "" {
				where = "no place yet"
			}
			switch o.Kind {
			case stock.WasMoved:
				taken[o.ID] = "were moved from " + where + " to " + o.To
			case stock.WasDisposed:
				taken[o.ID] = "were disposed of from " + where
			case stock.WasReceived, stock.WasCounted: // they take nothing
			}
		}
	}
	for _, e := range events {
		taken[e.ID] = "went to " + e.Plan.Name
	}
	var says []string
	for _, s := range strike.Lacks {
		says = append(says, fmt.Sprintf("%d %s %s", s.N, t.unit, taken[s.Move+s.Event]))
	}
	do := "Strike first what took them, if that was mistyped too."
	if m.Kind == stock.WasReceived {
		do = "If they came with another receipt, record that one first, with the day on which it came, and strike this one afterwards."
	}
	return fault.New(fault.Refused, "strike-used-up", fmt.Sprintf("Without this %s the record would hold less than nothing: %s.", moveWords[m.Kind], strings.Join(says, "; ")),
		"What was used up must have come from somewhere.", do)
}

// StrikeStock takes back a receipt, a count, a move or a disposal that was typed wrongly.
type StrikeStock struct {
	Act
	Thing, Move, Reason string
}

// StrikeStock records that a move did not happen. Both stay in the record. A lead or supervisor may.
func (p *Programme) StrikeStock(ctx context.Context, a Actor, c StrikeStock) (Done, error) {
	return do(ctx, p, a, c.Act, "stock.strike", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		t, err := w.thing(c.Thing)
		if err != nil {
			return Done{}, err
		}
		recs, err := w.tx.Records(t.ref)
		if err != nil {
			return Done{}, err
		}
		m, struck, err := findMove(recs, c.Move)
		if err != nil {
			return Done{}, err
		}
		if struck != nil {
			return Done{}, w.struckFault(struck)
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		things, err := allThings(w.tx)
		if err != nil {
			return Done{}, err
		}
		events, err := listed[*event.State](w.tx.All(event.Kind))
		if err != nil {
			return Done{}, err
		}
		if f := strikeFault(things, events, t, m); f != nil {
			return Done{}, f
		}
		_, err = w.record(store.Draft{At: w.at, By: w.actor.Person, Subject: t.ref, Body: fact.Struck{}, Corrects: m.ID, Reason: reason})
		return Done{ID: c.Thing}, err
	})
}

// struckFault says that somebody was faster.
func (w *work) struckFault(s *StruckMove) error {
	name := "the programme"
	if s.By != "" {
		who, err := load[*people.State](w, people.Ref(s.By))
		if err != nil {
			return err
		}
		name = who.Details.Name
	}
	return fault.New(fault.Conflict, "struck-already", fmt.Sprintf("This %s was struck already, by %s: %s.", moveWords[s.Move.Kind], name, strings.TrimSuffix(s.Reason, ".")),
		"It counts for nothing since then.", "Nothing more to do.")
}

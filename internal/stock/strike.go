package stock

import "fairstick/internal/fact"

// Strike is what it would do to take one move back.
type Strike struct {
	Was, Now Account
	Lacks    []Shortage // what was taken since and would then come from nowhere
}

// Without settles items with and without one move of one of them. Items and trips are those of Settle. A shortage that
// stands already is no reason against it: only what would lack more than before is told.
func Without(items []Item, trips []Trip, item int, move string) Strike {
	before := Settle(items, trips)
	left := make([]Item, len(items))
	copy(left, items)
	left[item].Moves = nil
	for _, m := range items[item].Moves {
		if m.ID != move {
			left[item].Moves = append(left[item].Moves, m)
		}
	}
	after := Settle(left, trips)
	type taker struct{ move, event string }
	stood := map[taker]int{}
	for _, a := range before {
		for _, s := range a.Short {
			stood[taker{s.Move, s.Event}] += s.N
		}
	}
	out := Strike{Was: before[item], Now: after[item]}
	for _, a := range after {
		for _, s := range a.Short {
			by := taker{s.Move, s.Event}
			k := min(s.N, stood[by])
			stood[by] -= k
			if s.N -= k; s.N > 0 {
				out.Lacks = append(out.Lacks, s)
			}
		}
	}
	return out
}

// ReadMove reads a fact of the shelf as the move that it was; ok is false for every other one.
func ReadMove(r fact.Record) (m Move, ok bool) {
	var s Shelf
	s.apply(r)
	if len(s.Moves) == 0 {
		return m, false
	}
	return s.Moves[0], true
}

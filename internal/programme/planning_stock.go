package programme

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fairstick/internal/civil"
	"fairstick/internal/plan"
	"fairstick/internal/stock"
)

// EventStock is what the stock holds for one event: strips by lot and vial, control solution by level and bottle.
type EventStock struct {
	Kept    bool       // strips are kept in stock; else nothing is known of them
	Lots    []plan.Lot // days from that of the event, which is day 0
	PerVial bool       // some of the lots asks for controls with each new vial
	Entries map[string]StockEntry
	Levels  []LevelStock
	Behind  []StockBehind  // what cannot be used on that day
	Before  []stock.Demand // planned events that come first and take from the same stock
	Loaded  bool           // the event has its stock already
}

// StockEntry is one plan.Lot in words: an open vial, or the sealed ones of a lot.
type StockEntry struct {
	Key, Lot string
	Vial     string // of an open one
	Pieces   int
	Last     civil.Date // last day of use
}

// LevelStock is the control solution of one level: what to take, the bottle that must be used up first at the top.
type LevelStock struct {
	Level string
	Have  int // bottles that can be used on that day
	Kept  bool
	First *StockEntry // nil when there is none
}

// StockBehind is a lot, vial or bottle that stays behind, and why.
type StockBehind struct{ Name, Why string }

// ForEvent picks what can be used at an event, by expiry, days in use, holds, and the meters that are brought; without meters every lot
// fits. Of the open vials of a lot nobody counts the strips: what does not make whole vials is taken to lie in them, at least one in each.
func (r *Stockroom) ForEvent(d *Day) EventStock {
	out := EventStock{Entries: map[string]StockEntry{}, Loaded: len(d.Event.Loads) > 0}
	day := d.Event.Plan.Date
	for _, e := range r.Events {
		if e.Event != d.Event.ID && e.Date.Before(day) {
			out.Before = append(out.Before, e)
		}
	}
	fits := func(fit func(model string) bool) bool {
		meters := d.BroughtMeters()
		return len(meters) == 0 || slices.ContainsFunc(meters, func(m *stock.Meter) bool { return fit(m.Details.Model) })
	}
	levels := map[string]*LevelStock{}
	if d.ProtocolErr == nil {
		for _, level := range d.Protocol.Controls.Levels {
			out.Levels = append(out.Levels, LevelStock{Level: level})
		}
		for i := range out.Levels {
			levels[out.Levels[i].Level] = &out.Levels[i]
		}
	}
	for _, l := range r.Lines {
		switch s := l.of.(type) {
		case *stock.StripLot:
			if !l.Kept {
				continue
			}
			out.Kept = true
			if why := l.behind(day, fits(s.Fits)); why != "" {
				out.stays(l, why)
				continue
			}
			out.strips(l, s, day)
			out.PerVial = out.PerVial || d.ProtocolErr == nil && eachVial(s, d.Protocol)
		case *stock.ControlLot:
			level := levels[s.Details.Level]
			switch why := l.behind(day, fits(s.FitsModel)); {
			case why != "":
				out.stays(l, why)
			case level != nil:
				out.solution(level, l, s, day)
			}
		}
	}
	if out.Kept && len(out.Lots) == 0 { // known to be none
		out.Lots = []plan.Lot{{ID: "none"}}
	}
	return out
}

// behind says why nothing of a line can be used on a day; "" when it can.
func (l StockLine) behind(day civil.Date, fits bool) string {
	switch {
	case l.Hold != nil:
		return strings.TrimSuffix(l.Hold.Says(), ".")
	case l.Withdrawn != "":
		return "taken out of use: " + strings.TrimSuffix(l.Withdrawn, ".")
	case !l.Expiry.IsZero() && day.After(l.Expiry):
		return "last day " + l.Expiry.Long()
	case !fits:
		return "fits none of the meters that are brought"
	}
	return ""
}

// stays keeps a lot for the list of what stays behind, when there is something of it.
func (e *EventStock) stays(l StockLine, why string) {
	if l.OnHand > 0 {
		e.Behind = append(e.Behind, StockBehind{fmt.Sprintf("%s, %d %s", l.Name, l.OnHand, l.Unit), why})
	}
}

// strips enters a lot: its open vials each by itself, and the sealed ones together.
func (e *EventStock) strips(l StockLine, s *stock.StripLot, day civil.Date) {
	expires, size := day.DaysUntil(s.Details.Expiry), s.Details.PerVial
	open := undiscarded(s.Vials)
	loose := looseIn(l.OnHand, size, len(open))
	sealed := l.OnHand - loose
	for i, c := range open {
		n := loose / (len(open) - i) // the rest goes to the newest
		loose -= n
		if day.After(c.Discard) {
			e.Behind = append(e.Behind, StockBehind{l.Name + ", vial " + c.Name, "open, last day " + c.Discard.Long()})
			continue
		}
		id := s.ID + "/" + c.Name
		e.Lots = append(e.Lots, plan.Lot{ID: id, Of: s.ID, Quantity: n, Expires: expires, Vial: size, InUse: s.Details.InUseDays, Opened: true, OpenedOn: day.DaysUntil(c.Opened)})
		e.Entries[id] = StockEntry{Key: l.Key, Lot: s.Details.Lot, Vial: c.Name, Pieces: n, Last: c.Discard}
	}
	if sealed > 0 {
		e.Lots = append(e.Lots, plan.Lot{ID: s.ID, Quantity: sealed, Expires: expires, Vial: size, InUse: s.Details.InUseDays})
		e.Entries[s.ID] = StockEntry{Key: l.Key, Lot: s.Details.Lot, Pieces: sealed, Last: s.Details.Expiry}
	}
}

// looseIn gives how many of the strips on hand lie in open vials: as many as do not make whole vials, and at least one in each.
func looseIn(onHand, vial, open int) int {
	if open == 0 || vial <= 0 {
		return 0
	}
	n := onHand % vial
	for n < open {
		n += vial
	}
	return min(n, onHand)
}

// solution enters a lot of control solution: open bottles, which need not be kept in stock, and sealed ones.
func (e *EventStock) solution(level *LevelStock, l StockLine, s *stock.ControlLot, day civil.Date) {
	level.Kept = level.Kept || l.Kept
	open := undiscarded(s.Bottles)
	take := func(x StockEntry) {
		level.Have += x.Pieces
		if f := level.First; f == nil || cmp.Or(compareDates(x.Last, f.Last), cmp.Compare(f.Vial, x.Vial)) < 0 { // of one day the open one
			level.First = &x
		}
	}
	for _, c := range open {
		if day.After(c.Discard) {
			e.Behind = append(e.Behind, StockBehind{l.Name + ", bottle " + c.Name, "open, last day " + c.Discard.Long()})
			continue
		}
		take(StockEntry{Key: l.Key, Lot: s.Details.Lot, Vial: c.Name, Pieces: 1, Last: c.Discard})
	}
	if sealed := l.OnHand - len(open); sealed > 0 {
		take(StockEntry{Key: l.Key, Lot: s.Details.Lot, Pieces: sealed, Last: s.Details.Expiry})
	}
}

// undiscarded are the open containers, the one that must be used up first at the top.
func undiscarded(list []stock.Container) []stock.Container {
	var out []stock.Container
	for _, c := range list {
		if c.Discarded == "" {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b stock.Container) int { return compareDates(a.Discard, b.Discard) })
	return out
}

// Counts sets the pieces that can be used at the event, by line of a packing list, where something is known of them.
func (e EventStock) Counts(have map[string]int) {
	if e.Kept {
		n := 0
		for _, x := range e.Lots {
			n += x.Quantity
		}
		have["strips"] = n
	}
	for _, l := range e.Levels {
		if l.Kept || l.Have > 0 {
			have["control-solution-"+l.Level] = l.Have
		}
	}
}

package programme

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/stock"
)

// thing is one lot, disinfectant or supply as its shelf sees it.
type thing struct {
	ref       fact.Ref
	name      string
	unit      string // what is counted
	use       stock.Use
	expiry    civil.Date
	pack      int // pieces in a pack as far as it is known
	withdrawn string
	shelf     *stock.Shelf
	of        fact.State
}

// thingKinds are the subjects that are kept on a shelf.
var thingKinds = []string{stock.StripLotKind, stock.ControlLotKind, stock.DisinfectantKind, stock.SupplyKind}

func thingOf(st fact.State) (t thing, ok bool) {
	switch s := st.(type) {
	case *stock.StripLot:
		t = thing{ref: stock.StripLotRef(s.ID), name: "Strip lot " + s.Details.Lot, unit: "strips", use: stock.UseStrips, expiry: s.Details.Expiry, pack: s.Details.PerVial, withdrawn: s.Withdrawn, shelf: &s.Shelf}
	case *stock.ControlLot:
		t = thing{ref: stock.ControlLotRef(s.ID), name: "Control lot " + s.Details.Lot + ", level " + s.Details.Level, unit: "bottles", expiry: s.Details.Expiry, pack: 1, shelf: &s.Shelf}
	case *stock.Disinfectant:
		t = thing{ref: stock.DisinfectantRef(s.ID), name: withLot(s.Details.Name, s.Details.Lot), unit: "wipes", use: stock.UseWipes, expiry: s.Details.Expiry, shelf: &s.Shelf}
	case *stock.Supply:
		t = thing{ref: stock.SupplyRef(s.ID), name: withLot(s.Details.Name, s.Details.Lot), unit: "pieces", use: s.Details.Use, expiry: s.Details.Exp, shelf: &s.Shelf}
		if r, ok := stock.RateOf(s.Details.Use); ok {
			t.unit = r.Unit
		}
	default:
		return t, false
	}
	t.of = st
	for _, m := range t.shelf.Moves {
		if m.Receipt != nil {
			t.pack = m.Receipt.PerPack
		}
	}
	return t, true
}

// followed reports whether events count the thing out and back.
func (t thing) followed() bool {
	return t.ref.Kind == stock.StripLotKind || t.ref.Kind == stock.SupplyKind && (t.use == stock.UseLancets || t.use == stock.UseSharps)
}

// withLot names a supply with the lot on its box.
func withLot(name, lot string) string {
	if lot == "" {
		return name
	}
	return name + ", lot " + lot
}

// lotOf is the lot that stands for a supply or disinfectant: a list from a file says nothing of it.
func (w *work) lotOf(ref fact.Ref) (string, error) {
	st, ok, err := w.tx.State(ref)
	if err != nil || !ok {
		return "", err
	}
	switch s := st.(type) {
	case *stock.Supply:
		return s.Details.Lot, nil
	case *stock.Disinfectant:
		return s.Details.Lot, nil
	}
	return "", nil
}

// thingRef reads "strip-lot.<id>", as the pages write it.
func thingRef(key string) (fact.Ref, error) {
	kind, id, _ := strings.Cut(key, ".")
	if !slices.Contains(thingKinds, kind) || id == "" {
		return fact.Ref{}, fault.New(fault.Missing, "no-such-stock", "There is no such lot or supply in the record.", "It may have been typed or linked wrongly.", "Go back to the stock and choose it there.")
	}
	return fact.Ref{Kind: kind, ID: id}, nil
}

func thingKey(ref fact.Ref) string { return ref.Kind + "." + ref.ID }

// thing loads one lot or supply that must exist.
func (w *work) thing(key string) (thing, error) {
	if key == "" {
		return thing{}, fault.BadField("thing", "No lot or supply was chosen. Choose one from the list.")
	}
	ref, err := thingRef(key)
	if err != nil {
		return thing{}, err
	}
	st, err := load[fact.State](w, ref)
	if err != nil {
		return thing{}, err
	}
	t, ok := thingOf(st)
	if !ok {
		return thing{}, fmt.Errorf("programme: %s has no shelf", ref.Kind)
	}
	return t, nil
}

// allThings reads everything that is kept on a shelf.
func allThings(s source) ([]thing, error) {
	var out []thing
	for _, kind := range thingKinds {
		list, err := s.All(kind)
		if err != nil {
			return nil, err
		}
		for _, st := range list {
			if t, ok := thingOf(st); ok {
				out = append(out, t)
			}
		}
	}
	return out, nil
}

// eventUse is what an event has used so far, for an event that was not counted back.
type eventUse struct {
	strips  map[string]int
	lancets int
}

func (d *Day) used() eventUse {
	s := d.sums()
	u := eventUse{strips: map[string]int{}, lancets: s.sticks + s.misfires}
	for lot := range d.Event.Out.Strips {
		r, e, c := d.StripsUsed(lot)
		u.strips[lot] = r + e + c
	}
	return u
}

// trips are what the events took of one thing and gave back, as the facts of the events say it.
func trips(events []*event.State, used map[string]eventUse, brought func(event.Stock) int, usedOf func(eventUse) int) []stock.Trip {
	var out []stock.Trip
	for _, ev := range events {
		t := stock.Trip{Event: ev.ID, Used: usedOf(used[ev.ID])}
		for _, l := range ev.Loads {
			if n := brought(l.Stock); n != 0 {
				t.Out = append(t.Out, stock.Taken{At: l.At, N: n})
			}
		}
		if ev.Back != nil && (len(t.Out) > 0 || brought(*ev.Back) > 0) {
			t.Back = &stock.Taken{At: ev.BackAt, N: brought(*ev.Back)}
		}
		if len(t.Out) > 0 || t.Back != nil {
			out = append(out, t)
		}
	}
	return out
}

// shelfGroup is items that share their trips, as stock.Settle takes them.
type shelfGroup struct {
	items []stock.Item
	trips []stock.Trip
}

// grouped joins the shelves with the facts of the events. Strips go to events by lot; lancets and sharps containers are only
// counted there, so all supplies of that use share one account of trips.
func grouped(things []thing, events []*event.State, used map[string]eventUse) []shelfGroup {
	var out []shelfGroup
	shared := map[stock.Use][]stock.Item{}
	for _, t := range things {
		item := stock.Item{Ref: t.ref, Expiry: t.expiry, Moves: t.shelf.Moves}
		switch {
		case t.ref.Kind == stock.StripLotKind:
			out = append(out, shelfGroup{[]stock.Item{item}, trips(events, used, func(s event.Stock) int { return s.Strips[t.ref.ID] }, func(u eventUse) int { return u.strips[t.ref.ID] })})
		case t.followed():
			shared[t.use] = append(shared[t.use], item)
		default:
			out = append(out, shelfGroup{items: []stock.Item{item}})
		}
	}
	return append(out,
		shelfGroup{shared[stock.UseLancets], trips(events, used, func(s event.Stock) int { return s.Lancets }, func(u eventUse) int { return u.lancets })},
		shelfGroup{shared[stock.UseSharps], trips(events, used, func(s event.Stock) int { return s.Sharps }, func(eventUse) int { return 0 })})
}

func settle(things []thing, events []*event.State, used map[string]eventUse) map[fact.Ref]stock.Account {
	out := map[fact.Ref]stock.Account{}
	for _, g := range grouped(things, events, used) {
		for i, a := range stock.Settle(g.items, g.trips) {
			out[g.items[i].Ref] = a
		}
	}
	return out
}

// accounts settles everything inside a command. What events have used so far changes no level at a place, and is left out.
func (w *work) accounts() (map[fact.Ref]stock.Account, []thing, error) {
	things, err := allThings(w.tx)
	if err != nil {
		return nil, nil, err
	}
	events, err := listed[*event.State](w.tx.All(event.Kind))
	if err != nil {
		return nil, nil, err
	}
	return settle(things, events, nil), things, nil
}

// places lists every place that was ever named, by its first spelling, in alphabetical order.
func places(things []thing) []string {
	seen := map[string]string{}
	add := func(p string) {
		if key := strings.ToLower(p); key != "" && seen[key] == "" {
			seen[key] = p
		}
	}
	for _, t := range things {
		for _, m := range t.shelf.Moves {
			add(m.Place)
			add(m.To)
		}
	}
	keys := slices.Sorted(maps.Keys(seen))
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = seen[k]
	}
	return out
}

// heldFault refuses what is in quarantine or recalled; nil when it is not.
func heldFault(name string, shelf *stock.Shelf, at time.Time) *fault.Fault {
	h := shelf.Held(at)
	if h == nil {
		return nil
	}
	why, do := "It stays out of use until somebody has found out why.", "Put all of it aside and use another one; a supervisor releases it under Stock."
	if h.Kind == stock.InRecall {
		why, do = "Its readings may be wrong, or it may harm.", "Put all of it aside and use another one; the lead has the list of who was tested with it under Stock."
	}
	return refuse("stock-held", fmt.Sprintf("%s is %s.", name, strings.TrimSuffix(h.Says(), ".")), why, do)
}

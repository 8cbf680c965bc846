package programme

import (
	"context"
	"slices"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/stock"
	"fairstick/internal/store"
)

// LotTrace is everything that a lot of strips or of control solution touched: the look-back for the lot alone, what is left of it
// and which events brought it.
type LotTrace struct {
	Affected
	Key     string
	Name    string
	Hold    *stock.Hold
	OnHand  int
	Unit    string
	Brought map[string]int // strips of the lot, by event
}

// TraceLot finds the events, meters, control runs and participants that a lot of strips touched. For a lot of control solution
// those are the readings with the meters and strips whose controls were run with it on that day. Of the visits it reads those alone that
// mention the lot; it reads every event, for what of the lot they brought and used.
func (p *Programme) TraceLot(ctx context.Context, key string) (*LotTrace, error) {
	ref, err := thingRef(key)
	if err != nil {
		return nil, err
	}
	var ask AskBack
	switch ref.Kind {
	case stock.StripLotKind:
		ask.StripLot = ref.ID
	case stock.ControlLotKind:
		ask.ControlLot = ref.ID
	default:
		return nil, fault.New(fault.Refused, "no-look-back", "The record does not say which participants this was used for.", "Only strips and control solution are written down by lot with each reading.",
			"Look at the events since it was received: every one of them may have used it.")
	}
	out := &LotTrace{Key: key, Brought: map[string]int{}}
	now := p.now()
	err = p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(ref)
		if err != nil {
			return err
		}
		if !ok {
			return missing(ref)
		}
		t, _ := thingOf(st)
		out.Name, out.Unit, out.Hold = t.name, t.unit, t.shelf.Held(now)
		h, err := p.hunt(v, ask)
		if err != nil {
			return err
		}
		events, err := listed[*event.State](v.All(event.Kind))
		if err != nil {
			return err
		}
		out.OnHand = settle([]thing{t}, events, nil)[ref].OnHand()
		for _, ev := range events {
			h.days[ev.ID] = ev
			if n := ev.Out.Strips[ref.ID]; n > 0 {
				out.Brought[ev.ID] = n
			}
		}
		found, err := h.run(v)
		if err != nil {
			return err
		}
		out.Affected = *found
		for id := range out.Brought {
			if !slices.ContainsFunc(out.Events, func(d BackDay) bool { return d.Event == id }) {
				out.Events = append(out.Events, backDay(h.days[id]))
			}
		}
		out.sort()
		return nil
	})
	if err != nil {
		return nil, err
	}
	out.At = now
	if ref.Kind == stock.StripLotKind {
		out.How = "Readings and controls with these strips."
	}
	return out, nil
}

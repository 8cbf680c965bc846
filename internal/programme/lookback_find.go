package programme

import (
	"fmt"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// visits finds the visits that may hold a reading that is asked for, by the narrowest way there is.
func (h *hunt) visits(v *store.View) ([]*visit.State, error) {
	switch {
	case h.q.ControlLot != "":
		return h.cleared(v)
	case h.event != nil:
		return h.ofEvent(v, h.event.ID)
	}
	span := store.Span{From: h.q.From, Until: h.q.Until}
	best, least := fact.Mention{}, -1
	for _, m := range h.mentions() {
		n, err := v.CountAcross(visit.Kind, m.Name, m.Value, span)
		if err != nil {
			return nil, err
		}
		if least < 0 || n < least {
			best, least = m, n
		}
	}
	if least > MostBack {
		return nil, tooWide(least)
	}
	if least >= 0 {
		return listed[*visit.State](v.Across(visit.Kind, best.Name, best.Value, span))
	}
	return h.ofDays(v)
}

// mentions is what a visit must mention to fit.
func (h *hunt) mentions() []fact.Mention {
	var out []fact.Mention
	if h.q.Vial != "" {
		out = append(out, fact.Mention{Name: "vial", Value: h.q.StripLot + "/" + h.q.Vial})
	} else if h.q.StripLot != "" {
		out = append(out, fact.Mention{Name: "strip-lot", Value: h.q.StripLot})
	}
	if h.q.Meter != "" {
		out = append(out, fact.Mention{Name: "meter", Value: h.q.Meter})
	}
	if h.q.Screener != "" {
		out = append(out, fact.Mention{Name: "screener", Value: h.q.Screener})
	}
	return out
}

// ofEvent finds the visits of one event.
func (h *hunt) ofEvent(v *store.View, id string) ([]*visit.State, error) {
	if m := h.mentions(); len(m) > 0 {
		return listed[*visit.State](v.Mentioning(visit.Kind, id, m[0].Name, m[0].Value))
	}
	return listed[*visit.State](v.Children(visit.Kind, id))
}

// ofDays finds the visits of the events around the days that are asked for: a reading typed late keeps its own time.
func (h *hunt) ofDays(v *store.View) ([]*visit.State, error) {
	events, err := listed[*event.State](v.Labelled(event.Kind, dayOf(h.q.From, -1), dayOf(h.q.Until, 2)))
	if err != nil {
		return nil, err
	}
	n := 0
	for _, ev := range events {
		some, err := v.CountChildren(visit.Kind, ev.ID)
		if err != nil {
			return nil, err
		}
		if n += some; n > MostBack {
			return nil, tooWide(n)
		}
	}
	var out []*visit.State
	for _, ev := range events {
		h.days[ev.ID] = ev
		some, err := listed[*visit.State](v.Children(visit.Kind, ev.ID))
		if err != nil {
			return nil, err
		}
		out = append(out, some...)
	}
	return out, nil
}

// cleared finds the visits at which a meter was used with strips that a lot of control solution cleared on that day.
func (h *hunt) cleared(v *store.View) ([]*visit.State, error) {
	events, err := listed[*event.State](v.Across(event.Kind, "control-lot", h.q.ControlLot, store.Span{}))
	if err != nil {
		return nil, err
	}
	var out []*visit.State
	for _, ev := range events {
		if h.q.Event != "" && ev.ID != h.q.Event {
			continue
		}
		h.days[ev.ID] = ev
		pairs, lots := map[meterLot]bool{}, []string{}
		for _, r := range ev.Runs {
			if r.ControlLot == h.q.ControlLot {
				pairs[meterLot{r.Meter, r.StripLot}] = true
				lots = with(lots, r.StripLot)
			}
		}
		h.pairs[ev.ID] = pairs
		seen := map[string]bool{}
		for _, lot := range lots {
			some, err := listed[*visit.State](v.Mentioning(visit.Kind, ev.ID, "strip-lot", lot))
			if err != nil {
				return nil, err
			}
			for _, s := range some {
				if !seen[s.ID] {
					seen[s.ID] = true
					out = append(out, s)
				}
			}
		}
		if len(out) > MostBack {
			return nil, tooWide(len(out))
		}
	}
	return out, nil
}

func tooWide(n int) error {
	return fault.New(fault.Refused, "look-back-wide", fmt.Sprintf("This question touches %d readings or more.", n),
		fmt.Sprintf("Nobody can act on a list of more than %d.", MostBack), "Ask for fewer days, or for a lot, a vial or a meter beside it.")
}

// dayOf is the day of a moment, moved by some days, as the labels of events begin with it.
func dayOf(t time.Time, days int) string { return civil.Of(t).AddDays(days).String() }

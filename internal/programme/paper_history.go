package programme

import (
	"context"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// paperHistory is what the states of an event and of its meters no longer say, since they keep only the latest: what a gate
// at an earlier time must know.
type paperHistory struct {
	opened   time.Time // first
	wipes    map[string][]event.Wipe
	codes    map[string][]event.Code
	out      map[string][]span // a meter's quarantines that have ended
	contacts map[string][]byte // plain text by visit, to know a form that comes again
}

type span struct{ from, to time.Time }

func (p *Programme) paperHistory(ctx context.Context, eventID string) (*paperHistory, error) {
	h := &paperHistory{wipes: map[string][]event.Wipe{}, codes: map[string][]event.Code{}, out: map[string][]span{}, contacts: map[string][]byte{}}
	return h, p.store.Read(ctx, func(v *store.View) error {
		recs, err := v.Records(event.Ref(eventID))
		if err != nil {
			return err
		}
		for _, r := range fact.Settle(recs) {
			switch b := r.Body.(type) {
			case event.Opened:
				if h.opened.IsZero() || r.At.Before(h.opened) {
					h.opened = r.At
				}
			case event.MeterWiped:
				h.wiped(b, r.At)
			case event.CodeCompared:
				h.compared(b, r.At)
			}
		}
		meters, err := listed[*stock.Meter](v.All(stock.MeterKind))
		if err != nil {
			return err
		}
		for _, m := range meters {
			if recs, err = v.Records(stock.MeterRef(m.ID)); err != nil {
				return err
			}
			var from time.Time
			for _, r := range fact.Settle(recs) {
				switch r.Body.(type) {
				case stock.MeterQuarantined:
					from = r.At
				case stock.MeterReturned:
					h.out[m.ID] = append(h.out[m.ID], span{from, r.At})
				}
			}
		}
		return h.readContacts(v, eventID)
	})
}

func (h *paperHistory) readContacts(v *store.View, eventID string) error {
	visits, err := listed[*visit.State](v.Children(visit.Kind, eventID))
	if err != nil {
		return err
	}
	for _, s := range visits {
		if s.Paper == "" || len(s.Sealed) == 0 || !hasKey(v, s.ID) {
			continue
		}
		if h.contacts[s.ID], err = v.Open(visit.Ref(s.ID), s.Sealed); err != nil {
			return err
		}
	}
	return nil
}

func (h *paperHistory) wiped(b event.MeterWiped, at time.Time) {
	h.wipes[b.Meter] = append(h.wipes[b.Meter], event.Wipe{Start: at, Seconds: b.Seconds, Disinfectant: b.Disinfectant})
}

func (h *paperHistory) compared(b event.CodeCompared, at time.Time) {
	h.codes[b.Meter] = append(h.codes[b.Meter], event.Code{Lot: b.StripLot, Shown: b.Shown, At: at})
}

// eventAt is an event as its gates saw it at a moment: runs, room, codes and wipes up to then.
func (h *paperHistory) eventAt(ev *event.State, at time.Time) *event.State {
	e := *ev
	e.Runs, e.Rooms, e.Codes, e.Wipes = nil, nil, map[string]event.Code{}, map[string]event.Wipe{}
	for _, r := range ev.Runs {
		if !r.At.After(at) {
			e.Runs = append(e.Runs, r)
		}
	}
	for _, r := range ev.Rooms {
		if !r.At.After(at) {
			e.Rooms = append(e.Rooms, r)
		}
	}
	for meter, list := range h.codes {
		for _, c := range list {
			if !c.At.After(at) && !c.At.Before(e.Codes[meter].At) {
				e.Codes[meter] = c
			}
		}
	}
	for meter, list := range h.wipes {
		for _, w := range list {
			if !w.Start.After(at) && !w.Start.Before(e.Wipes[meter].Start) {
				e.Wipes[meter] = w
			}
		}
	}
	return &e
}

// meterAt is a meter as its gates saw it at a moment: voided and quarantined only by what came before.
func (h *paperHistory) meterAt(m *stock.Meter, at time.Time) *stock.Meter {
	c := *m
	c.Voids = nil
	for _, v := range m.Voids {
		if !v.At.After(at) {
			c.Voids = append(c.Voids, v)
		}
	}
	if c.Quarantine != nil && c.Quarantine.At.After(at) {
		c.Quarantine = nil
	}
	for _, s := range h.out[m.ID] {
		if !s.from.After(at) && s.to.After(at) {
			c.Quarantine = &stock.Voiding{Cause: "quarantined", Note: "It was brought back later.", At: s.from}
		}
	}
	return &c
}

// meterUse is one reading of a meter.
type meterUse struct {
	visit, meter string
	at           time.Time
}

// paperDay is what the gates look at while paper is typed in.
type paperDay struct {
	*work
	ev     *event.State
	proto  protocol.Protocol
	asks   []string // the questions about themselves that the programme asks
	h      *paperHistory
	visits map[string]*visit.State
	forms  map[int]*visit.State
	uses   []meterUse
}

// paperDay loads an event into which paper may be typed: not closed, and for visits opened.
func (w *work) paperDay(eventID string, h *paperHistory) (*paperDay, error) {
	ev, err := load[*event.State](w, event.Ref(eventID))
	if err != nil {
		return nil, err
	}
	if ev.Phase == event.IsClosed {
		return nil, closedFault()
	}
	ch, err := w.charter()
	if err != nil {
		return nil, err
	}
	d := &paperDay{work: w, ev: ev, h: h, asks: ch.Asks, visits: map[string]*visit.State{}}
	if d.proto, err = w.protocolOf(ev); err != nil {
		return nil, err
	}
	visits, err := listed[*visit.State](w.tx.Children(visit.Kind, eventID))
	if err != nil {
		return nil, err
	}
	d.forms = typedForms(visits)
	for _, v := range visits {
		d.seen(v)
	}
	return d, nil
}

func (d *paperDay) seen(v *visit.State) {
	d.visits[v.ID] = v
	if v.Form > 0 {
		d.forms[v.Form] = v
	}
	for _, r := range v.Readings {
		d.uses = append(d.uses, meterUse{visit: v.ID, meter: r.Meter, at: r.At})
	}
}

// lastUse finds the last reading of a meter on somebody else up to a moment.
func (d *paperDay) lastUse(meter, visitID string, at time.Time) use {
	var last use
	for _, u := range d.uses {
		if u.meter == meter && u.visit != visitID && !u.at.After(at) && (!last.ok || u.at.After(last.at)) {
			last = use{visit: u.visit, at: u.at, ok: true}
		}
	}
	return last
}

// nextUse finds the first reading of a meter on somebody else after a moment.
func (d *paperDay) nextUse(meter, visitID string, at time.Time) use {
	var next use
	for _, u := range d.uses {
		if u.meter == meter && u.visit != visitID && u.at.After(at) && (!next.ok || u.at.Before(next.at)) {
			next = use{visit: u.visit, at: u.at, ok: true}
		}
	}
	return next
}

// careAt finds somebody else with critical care at a station that no supervisor had taken over at a moment.
func (d *paperDay) careAt(station, visitID string, at time.Time) *visit.State {
	var found *visit.State
	for _, v := range d.visits {
		if v.ID == visitID || v.Care == nil || !v.Care.Critical() || v.Care.Station != station || !v.Care.At.Before(at) {
			continue
		}
		there := v.Care.Signed != nil && !v.Care.SignedAt.After(at)
		for _, s := range v.Care.Steps {
			there = there || s.Step == stepSupervisor && !s.At.After(at)
		}
		if !there && (found == nil || v.Ticket < found.Ticket) {
			found = v
		}
	}
	return found
}

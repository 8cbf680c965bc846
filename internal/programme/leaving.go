package programme

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// Reach says which events are meant: one by its id, or those of the days From to Until, both included. A zero day leaves
// that end open.
type Reach struct {
	Event       string
	From, Until civil.Date
}

// events lists the ids of the events in the span, oldest first. They are read one by one later: there may be very many.
func (s Reach) events(v *store.View) (ids []string, err error) {
	if s.Event != "" {
		_, ok, err := v.State(event.Ref(s.Event))
		if ok {
			ids = []string{s.Event}
		}
		return ids, err
	}
	from, before := labelsOf(s.From, s.Until)
	err = v.Groups("", event.Kind, from, before, func(g store.Group) error {
		ids = append(ids, g.ID)
		return nil
	})
	return ids, err
}

// HandOut is what is asked to leave the record. With Names the sealed contacts of those who allowed it go with it.
type HandOut struct {
	Reach
	Names bool
}

// Leaving is one event on its way out of the record.
type Leaving struct {
	*Day
	Names bool
	Zone  *time.Location // of the event
	Going []LeavingVisit // the visits of the day, in the order of their tickets
}

// LeavingVisit is one visit on its way out.
type LeavingVisit struct {
	*visit.State
	Contact   *Contact // given with permission and not erased, when names were asked for; the number only with leave to call
	Changed   map[string]bool
	Withdrawn []visit.Reading // taken back: they never happened, or belong to the person of another ticket
}

// Walk goes over the events that leave, oldest first. It may be called several times and shows the same each time.
type Walk func(each func(*Leaving) error) error

// HandOut lets the events of a span leave, all from one moment of the record. What is held in memory is one event, however
// long the span. Only a lead may; the programme itself may, for the command line. With Names the act must have been signed:
// see SignHandOut.
func (p *Programme) HandOut(ctx context.Context, a Actor, l HandOut, use func(Walk) error) error {
	if a.Person != "" {
		if _, err := p.lead(ctx, a); err != nil {
			f := fault.Of(err)
			if f.Key == "role" {
				f = fault.New(fault.Denied, "role", "Only a lead may let data leave the record.", "What has left cannot be called back.", "Ask a lead to sign in here.")
			}
			return f
		}
	}
	return p.store.Read(ctx, func(v *store.View) error {
		chosen, err := l.events(v)
		if err != nil {
			return err
		}
		switch {
		case len(chosen) == 0 && l.Event != "":
			return missing(event.Ref(l.Event))
		case len(chosen) == 0:
			return fault.New(fault.Missing, "span-empty", "No event lies between these days.", "There is nothing to write.", "Choose other days.")
		}
		shared, err := sharedDay(v)
		if err != nil {
			return err
		}
		return use(func(each func(*Leaving) error) error {
			for _, id := range chosen {
				st, ok, err := v.State(event.Ref(id))
				if err == nil && !ok {
					err = missing(event.Ref(id))
				}
				if err != nil {
					return err
				}
				out, err := leaving(v, shared, st.(*event.State), l.Names)
				if err == nil {
					err = each(out)
				}
				if err == nil {
					err = ctx.Err()
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
	})
}

func leaving(v *store.View, shared Day, ev *event.State, names bool) (*Leaving, error) {
	d, err := shared.of(v, ev)
	if err != nil {
		return nil, err
	}
	out := &Leaving{Day: d, Names: names, Zone: ev.Zone(), Going: make([]LeavingVisit, len(d.Visits))}
	for i, s := range d.Visits {
		if out.Going[i], err = leavingVisit(v, s, names); err != nil {
			return nil, fmt.Errorf("ticket %03d: %w", s.Ticket, err)
		}
	}
	return out, nil
}

func leavingVisit(v *store.View, s *visit.State, names bool) (LeavingVisit, error) {
	out := LeavingVisit{State: s}
	if len(s.Corrections) > 0 {
		records, err := v.Records(visit.Ref(s.ID))
		if err != nil {
			return out, err
		}
		out.Changed, out.Withdrawn = takenBack(s, records)
	}
	if !names || s.Erased() || len(s.Sealed) == 0 || !hasKey(v, s.ID) {
		return out, nil
	}
	plain, err := v.Open(visit.Ref(s.ID), s.Sealed)
	if err != nil {
		return out, err
	}
	var c Contact
	if err := decodeContact(plain, &c); err != nil {
		return out, err
	}
	if c.Call = MayCall(s); !c.Call {
		c.Phone, c.When = "", ""
	}
	out.Contact = &c
	return out, nil
}

// takenBack tells which readings were corrected, and gives those that were taken back as they had stood.
func takenBack(s *visit.State, records []fact.Record) (changed map[string]bool, withdrawn []visit.Reading) {
	stands := map[string]bool{}
	for _, r := range s.Readings {
		stands[r.ID] = true
	}
	corrected := map[string]bool{}
	for _, r := range records {
		if r.Corrects != "" {
			corrected[r.Corrects] = true
		}
	}
	changed = map[string]bool{}
	var gone []fact.Record
	for _, r := range records {
		if _, reads := r.Body.(visit.ReadingTaken); !reads || r.Corrects != "" || !corrected[r.ID] {
			continue
		}
		if stands[r.ID] {
			changed[r.ID] = true
			continue
		}
		gone = append(gone, r)
	}
	if len(gone) > 0 {
		withdrawn = fact.Fold(visit.New(s.ID).(*visit.State), gone).Readings
	}
	return changed, withdrawn
}

package programme

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/incident"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// Reach says which events are meant: one by its id, or those of the days From to Until, both included. A zero day leaves
// that end open.
type Reach struct {
	Event       string
	From, Until civil.Date
}

// holds reports whether an event lies in the span.
func (s Reach) holds(ev *event.State) bool {
	if s.Event != "" {
		return ev.ID == s.Event
	}
	day := ev.Plan.Date
	return (s.From.IsZero() || !day.Before(s.From)) && (s.Until.IsZero() || !day.After(s.Until))
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
		events, err := listed[*event.State](v.All(event.Kind))
		if err != nil {
			return err
		}
		chosen := slices.DeleteFunc(events, func(ev *event.State) bool { return !l.holds(ev) })
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
			for _, ev := range chosen {
				out, err := leaving(v, shared, ev, l.Names)
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

// sharedDay reads what the days of all events have in common.
func sharedDay(v *store.View) (Day, error) {
	d := Day{Charter: &charter.State{ID: charter.Ref.ID}}
	st, ok, err := v.State(charter.Ref)
	if err != nil {
		return d, err
	}
	if ok {
		d.Charter = st.(*charter.State)
	}
	return d, d.readThings(v)
}

func leaving(v *store.View, shared Day, ev *event.State, names bool) (*Leaving, error) {
	d := shared
	d.Event = ev
	d.Protocol, d.ProtocolErr = protocolFor(d.Charter, ev)
	var err error
	if d.Visits, err = listed[*visit.State](v.Children(visit.Kind, ev.ID)); err != nil {
		return nil, err
	}
	if d.Incidents, err = listed[*incident.State](v.Children(incident.Kind, ev.ID)); err != nil {
		return nil, err
	}
	if d.Followed, err = listed[*followup.State](v.Children(followup.Kind, ev.ID)); err != nil {
		return nil, err
	}
	out := &Leaving{Day: &d, Names: names, Zone: ev.Zone(), Going: make([]LeavingVisit, len(d.Visits))}
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

package programme

import (
	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/followup"
	"fairstick/internal/visit"
)

// afterwards reads what the follow-ups of an event count as, by visit.
func (r *figuring) afterwards(e *EventFigures) (map[string]followup.Tally, error) {
	out := map[string]followup.Tally{}
	err := r.v.Below(followup.Kind, e.ID, func(id, line string) error {
		x, err := followup.ReadTally(line)
		out[id] = x
		return err
	})
	return out, err
}

// after says what became of one referral under the rules of its event.
func (e *EventFigures) after(all map[string]followup.Tally, id string, v visit.Tally) after {
	t, ok := all[id]
	if !ok {
		return after{} // nobody has begun
	}
	a := after{Tried: t.Tried, Reached: t.Reached, Outcome: t.Status(e.attempts, v.Renewed), Found: t.Said == followup.SaidDiabetes}
	if a.Outcome == followup.Seen {
		on := dayGiven(t.On, civil.Of(t.ToldAt.In(e.zone)))
		a.Days = e.day.DaysUntil(on)
	}
	return a
}

// attempts gives how many tries are enough under a version of the protocol.
func (r *figuring) attempts(version string) int {
	n, ok := r.tries[version]
	if ok {
		return n
	}
	ev := &event.State{}
	if version != "" {
		ev.Opened = &event.Opened{Protocol: version}
	}
	if proto, err := protocolFor(r.ch, ev); err == nil {
		n = proto.CallingRules().Attempts
	}
	r.tries[version] = n
	return n
}

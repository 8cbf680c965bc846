package programme

import (
	"context"
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/stock"
	"fairstick/internal/visit"
)

// Override passes a soft gate with a signed reason.
type Override struct {
	Act
	Event, Gate, Reason string
	Sign                Sign
}

// Override records a signed reason for a gate that the protocol lets a role pass. It stands on the report.
func (p *Programme) Override(ctx context.Context, a Actor, c Override) (Done, error) {
	who, err := p.signed(ctx, c.Sign)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "event.override", func(w *work) (Done, error) {
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Done{}, err
		}
		role := proto.Overrides[c.Gate]
		g := supervisionGate(ev, proto)
		switch {
		case c.Gate != g.Key || role == "":
			return Done{}, refuse("hard-gate", "Nobody may pass this gate.", "The protocol allows no exception here.", "Do what the gate asks for.")
		case g.Open():
			return Done{}, refuse("gate-open", "There is nothing to pass: the gate is open.", "", "Load the page again.")
		case g.Fault.Override == "":
			return Done{}, g.Fault
		case !who.Has(people.Role(role)):
			return Done{}, fault.New(fault.Denied, "signature-role", who.Details.Name+" may not sign for this.", "It needs the role "+role+".", "Ask somebody with that role.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.Overridden{Gate: c.Gate, About: ratioOf(ev).String(), Reason: reason, Signed: who.ID})
		return Done{ID: ev.ID}, err
	})
}

// OpenEvent lets the first participant in.
type OpenEvent struct {
	Act
	Event string
}

// OpenEvent opens the day after every opening gate, or opens the doors again after they were closed.
func (p *Programme) OpenEvent(ctx context.Context, a Actor, c OpenEvent) (Done, error) {
	return do(ctx, p, a, c.Act, "event.open", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if ev.Phase == event.IsOpen {
			return Done{}, refuse("is-open", "The event is open already.", "", "Go on at the board.")
		}
		gates, proto, err := w.openingGates(ev)
		if err != nil {
			return Done{}, err
		}
		if err := firstShut(gates); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.Opened{Protocol: proto.Version})
		return Done{ID: ev.ID}, err
	})
}

// openingGates asks the gates of an opening at the time of the command.
func (w *work) openingGates(ev *event.State) ([]Gate, protocol.Protocol, error) {
	ch, err := w.charter()
	if err != nil {
		return nil, protocol.Protocol{}, err
	}
	proto, protoErr := protocolFor(ch, ev)
	meters, cleared, screeners, err := w.readiness(ev, proto, protoErr)
	return openingGates(ch, ev, proto, protoErr, meters, cleared, screeners, w.at), proto, err
}

// readiness gathers what the opening gates count: the meters brought, how many of them are cleared with any brought lot,
// and how many verified screeners are here.
func (w *work) readiness(ev *event.State, proto protocol.Protocol, protoErr error) (meters []*stock.Meter, cleared, screeners int, err error) {
	var lots []*stock.StripLot
	for id := range ev.Out.Strips {
		lot, err := load[*stock.StripLot](w, stock.StripLotRef(id))
		if err != nil {
			return nil, 0, 0, err
		}
		lots = append(lots, lot)
	}
	for _, id := range ev.Out.Meters {
		m, err := load[*stock.Meter](w, stock.MeterRef(id))
		if err != nil {
			return nil, 0, 0, err
		}
		meters = append(meters, m)
		if protoErr == nil && clearedWithAny(ev, m, lots, proto, ev.Day(w.at)) {
			cleared++
		}
	}
	for _, post := range ev.Roster {
		if !post.Here || post.Role != string(people.Screener) {
			continue
		}
		who, err := load[*people.State](w, people.Ref(post.Person))
		if err != nil {
			return nil, 0, 0, err
		}
		has, err := w.trained(who.ID, ev.Zone(), nil)
		if err != nil {
			return nil, 0, 0, err
		}
		if protoErr == nil && verifiedFault(who, has, people.Screener, proto, ev.Day(w.at)) == nil {
			screeners++
		}
	}
	return meters, cleared, screeners, nil
}

// CloseDoors lets nobody new in; those inside are finished.
type CloseDoors struct {
	Act
	Event string
}

// CloseDoors records that the doors are closed.
func (p *Programme) CloseDoors(ctx context.Context, a Actor, c CloseDoors) (Done, error) {
	return do(ctx, p, a, c.Act, "event.close-doors", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if ev.Phase != event.IsOpen {
			return Done{}, refuse("not-open", "The doors are not open.", "", "Load the page again.")
		}
		_, err = w.append(event.Ref(ev.ID), event.DoorsClosed{})
		return Done{ID: ev.ID}, err
	})
}

// CountBack is what was counted at the end.
type CountBack struct {
	Act
	Event   string
	Strips  map[string]int // left, by strip lot id
	Lancets int
	Sharps  int // containers taken back
	Meters  []string
}

// CountBack records the count. Any of the staff may; a later count replaces an earlier one.
func (p *Programme) CountBack(ctx context.Context, a Actor, c CountBack) (Done, error) {
	return do(ctx, p, a, c.Act, "event.count-back", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if ev.Phase != event.IsDoorsClosed {
			return Done{}, refuse("doors-open", "The doors are not closed yet.", "A count holds only when nothing more is used.", "Close the doors first.")
		}
		b, err := w.countStock(c.Strips, c.Lancets, c.Sharps, c.Meters, 0)
		if err != nil {
			return Done{}, err
		}
		var f fields
		for lot := range ev.Out.Strips {
			if _, ok := b.Strips[lot]; !ok {
				f.say("strips_"+lot, "The count of this lot is missing. Type 0 when none are left.")
			}
		}
		for lot := range b.Strips {
			if _, ok := ev.Out.Strips[lot]; !ok {
				f.say("strips_"+lot, "This lot was never written down as brought.")
			}
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.Counted(b))
		return Done{ID: ev.ID}, err
	})
}

// ReadMemory is the number of rows in a meter's memory for the day.
type ReadMemory struct {
	Act
	Event, Meter string
	Rows         int
}

// ReadMemory records the count of a meter's memory. Any of the staff may.
func (p *Programme) ReadMemory(ctx context.Context, a Actor, c ReadMemory) (Done, error) {
	return do(ctx, p, a, c.Act, "event.memory", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		ev, err := w.openable(c.Event)
		if err != nil {
			return Done{}, err
		}
		if !ev.Brought(c.Meter) {
			return Done{}, missing(stock.MeterRef(c.Meter))
		}
		var f fields
		f.between("rows", "The rows in the memory", c.Rows, 0, 5000)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(ev.ID), event.MemoryRead{Meter: c.Meter, Rows: c.Rows})
		return Done{ID: ev.ID}, err
	})
}

// ExplainDifference is the signed reason for a difference found at closing.
type ExplainDifference struct {
	Act
	Event, Equality, Note string
	Difference            int // as it was shown when it was signed
	Sign                  Sign
}

// ExplainDifference records the reason under a lead's or supervisor's name. It stands for that difference only: when the
// count changes, it must be explained again.
func (p *Programme) ExplainDifference(ctx context.Context, a Actor, c ExplainDifference) (Done, error) {
	if _, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor); err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "event.explain-difference", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		d, err := w.day(c.Event)
		if err != nil {
			return Done{}, err
		}
		if d.Event.Phase == event.IsClosed {
			return Done{}, closedFault()
		}
		var f fields
		note := f.text("note", "The reason", c.Note, true, 300)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		for _, e := range d.Reconcile() {
			if e.Key != c.Equality {
				continue
			}
			if e.Difference == 0 {
				return Done{}, refuse("no-difference", "There is no difference to explain.", "", "Load the page again.")
			}
			if e.Difference != c.Difference {
				return Done{}, fault.New(fault.Conflict, "difference-changed", fmt.Sprintf("The difference is %d now, not %d.", e.Difference, c.Difference),
					"A signature stands for one difference only.", "Load the page again and look.")
			}
			_, err = w.append(event.Ref(c.Event), event.DifferenceExplained{Equality: e.Key, Difference: e.Difference, Note: note})
			return Done{ID: c.Event}, err
		}
		return Done{}, fault.BadField("equality", "This is not one of the sums of the day. Load the page again.")
	})
}

// CloseEvent ends the event under a signature.
type CloseEvent struct {
	Act
	Event, Note string
	Sign        Sign
}

// CloseEvent closes the record of the day after every closing gate.
func (p *Programme) CloseEvent(ctx context.Context, a Actor, c CloseEvent) (Done, error) {
	if _, err := p.signed(ctx, c.Sign, people.Lead, people.Supervisor); err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "event.close", func(w *work) (Done, error) {
		if err := w.need(people.Lead, people.Supervisor); err != nil {
			return Done{}, err
		}
		d, err := w.day(c.Event)
		if err != nil {
			return Done{}, err
		}
		if err := firstShut(d.ClosingGates()); err != nil {
			return Done{}, err
		}
		var f fields
		note := f.text("note", "The note", c.Note, false, 500)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(event.Ref(c.Event), event.Closed{Note: note})
		return Done{ID: c.Event}, err
	})
}

// ClosingGates are the conditions for closing the event.
func (d *Day) ClosingGates() []Gate {
	var unfinished, care []*visit.State
	for _, v := range d.Visits {
		if !v.Phase().Ended() {
			unfinished = append(unfinished, v)
		}
		if v.OpenCare() {
			care = append(care, v)
		}
	}
	gates := []Gate{
		gate("doors", "Doors", doorsFault(d.Event)), gate("care", "Alerts", careOpenFault(care, d.Protocol)), gate("visits", "Visits", unfinishedFault(unfinished)),
		gate("incidents", "Incidents", incidentsFault(d.Event, d.Incidents)),
	}
	var counted, memory *fault.Fault
	if d.Event.Back == nil {
		counted = refuse("not-counted", "Strips, lancets, sharps and meters have not been counted back.", "Fewer lancets than sticks would mean reuse.", "Count and type them on this page.")
	}
	for _, m := range d.BroughtMeters() {
		if _, ok := d.Event.Memory[m.ID]; !ok && memory == nil {
			memory = refuse("memory-unread", "The memory of meter "+m.Details.Label+" has not been counted.", "The meter remembers what the record may have missed.", "Count the rows of today and type the number.")
		}
	}
	var differs *fault.Fault
	if d.Event.Back != nil {
		for _, e := range d.Reconcile() {
			if e.Difference != 0 && !e.Settled() && differs == nil {
				differs = refuse("difference", fmt.Sprintf("%s: a difference of %d is not explained.", e.Name, e.Difference), "Every difference has a reason that somebody signs.", "Look for it, write the reason, and sign.")
			}
		}
	}
	return append(gates, gate("counted", "Count", counted), gate("memory", "Meter memories", memory), gate("differences", "Differences", differs))
}

func doorsFault(ev *event.State) *fault.Fault {
	switch ev.Phase {
	case event.IsDoorsClosed:
		return nil
	case event.IsClosed:
		return closedFault()
	case event.IsOpen:
		return refuse("doors-open", "The doors are still open.", "The count holds only when nobody new comes in.", "Close the doors first; those inside are finished.")
	}
	return refuse("not-open", "The event was never opened.", "", "There is nothing to close.")
}

func careOpenFault(care []*visit.State, proto protocol.Protocol) *fault.Fault {
	if len(care) == 0 {
		return nil
	}
	first := ""
	if todo := CareToDo(care[0], proto); len(todo) > 0 {
		first = " " + todo[0].Sentence
	}
	return refuse("care-open", fmt.Sprintf("Ticket %03d still has open care.%s", care[0].Ticket, first), "The day cannot end while somebody may be in danger.", "Open the alert, finish it, and let a supervisor sign.")
}

func unfinishedFault(list []*visit.State) *fault.Fault {
	if len(list) == 0 {
		return nil
	}
	return refuse("visits-unfinished", fmt.Sprintf("%d visits have not ended. First: ticket %03d at %s.", len(list), list[0].Ticket, list[0].Phase()),
		"Everybody who came in must be accounted for.", "Finish them, or record that the person left.")
}

package programme

import (
	"time"

	"github.com/google/uuid"

	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/people"
	"fairstick/internal/visit"
)

// Counts tells what became of everybody who has arrived so far, from the same sums as the report.
func (d *Day) Counts() Outcomes {
	s := d.sums()
	return Outcomes{
		Arrived: s.arrived, Tested: s.tested, Left: s.leftUntested, NotEligible: s.notEligible, Declined: s.declined,
		Unfinished: s.unfinished, LeftAfter: s.leftTested, Slips: s.slips, Explained: s.explained,
	}
}

// LancetsLeft counts the lancets that should be left: brought, less sticks and misfires.
func (d *Day) LancetsLeft() int {
	s := d.sums()
	return d.Event.Out.Lancets - s.sticks - s.misfires
}

// Signers lists the people who can sign with a PIN and hold one of the roles, in the order of their names.
func (d *Day) Signers(roles ...people.Role) []*people.State {
	var out []*people.State
	for _, p := range d.People {
		if p.Gone != "" || p.PinHash == "" {
			continue
		}
		for _, r := range roles {
			if p.Has(r) {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// Run finds a control run of the event by its id.
func (d *Day) Run(id string) (event.Run, bool) {
	for _, r := range d.Event.Runs {
		if r.ID == id {
			return r, true
		}
	}
	return event.Run{}, false
}

// ControlGate tells, before anything is dripped on a strip, why this person may not do this control run now; nil when
// they may. It asks the same gates as RunControl.
func (d *Day) ControlGate(who *people.State, c RunControl, now time.Time) error {
	meter, lot, sol := d.MeterByID(c.Meter), d.StripLotByID(c.StripLot), d.ControlLotByID(c.ControlLot)
	if meter == nil || lot == nil || sol == nil {
		return refuse("nothing-chosen", "The meter, the strips or the control solution were not chosen.", "A run is kept with all three.", "Choose them and go on.")
	}
	if d.Event.Phase == event.IsClosed {
		return closedFault()
	}
	if d.ProtocolErr != nil {
		return d.ProtocolErr
	}
	w := &work{me: who, at: now}
	if err := w.controlGates(d.Event, c, meter, lot, sol); err != nil {
		return err
	}
	if who.Has(people.Supervisor) || who.Has(people.Lead) {
		return nil
	}
	return verified(who, d.standing(who.ID, meter), people.Screener, d.Protocol, d.Event.Day(now))
}

// AfterRun says what to do now after a control run, in a sentence, and whether its meter may test people with its strips.
func (d *Day) AfterRun(r event.Run) (string, control.Clearance) {
	c := d.Clearance(r.Meter, r.StripLot, r.Vial)
	m := d.MeterByID(r.Meter)
	if m == nil || m.Quarantine != nil {
		return c.Sentence, c
	}
	return nextAfterRun(m, control.Verdict(r.Verdict), c), c
}

// MayCall reports whether the participant of a visit allowed a call about the result.
func MayCall(v *visit.State) bool {
	if v.Erased() {
		return false // there is nobody left to call
	}
	if v.Referral != nil {
		return v.Referral.Call
	}
	return v.Call
}

// Part gives the command id of one part of a form that makes several facts of the same kind, so that a second press of
// the form repeats each part under its own id.
func (a Act) Part(name string) Act {
	if root, err := uuid.Parse(a.ID); err == nil {
		a.ID = uuid.NewSHA1(root, []byte(name)).String()
	}
	return a
}

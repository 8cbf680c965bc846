package programme

import (
	"context"

	"fairstick/internal/charter"
	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/people"
)

// Going is how much would leave.
type Going struct {
	Events, Visits, Tested, Readings, Referrals int
	Contacts                                    int // participants who allowed that their name is kept, and were not erased
	Calls                                       int // of those, who may be called
	From, Until                                 civil.Date
	Open                                        int // events that are not closed yet
}

// CountHandOut counts what would leave. Only a lead may ask.
func (p *Programme) CountHandOut(ctx context.Context, a Actor, l HandOut) (Going, error) {
	var n Going
	l.Names = false
	err := p.HandOut(ctx, a, l, func(walk Walk) error {
		return walk(func(x *Leaving) error {
			day := x.Event.Plan.Date
			if n.Events == 0 || day.Before(n.From) {
				n.From = day
			}
			if n.Events == 0 || day.After(n.Until) {
				n.Until = day
			}
			n.Events++
			if x.Event.ClosedAt.IsZero() {
				n.Open++
			}
			for i := range x.Going {
				n.visit(&x.Going[i])
			}
			return nil
		})
	})
	return n, err
}

func (n *Going) visit(v *LeavingVisit) {
	n.Visits++
	n.Readings += len(v.Readings)
	if v.Tested() {
		n.Tested++
	}
	if v.Referral != nil {
		n.Referrals++
	}
	if len(v.Sealed) > 0 && !v.Erased() {
		n.Contacts++
		if MayCall(v.State) {
			n.Calls++
		}
	}
}

// SignHandOut records that data with names is about to leave.
type SignHandOut struct {
	Act
	HandOut
	What string // fhir or csv
	To   string // to whom, and why
	Sign Sign   // of a lead
}

// SignHandOut records under a lead's signature that names leave the record, before they do: a file may get lost, the
// record of it may not.
func (p *Programme) SignHandOut(ctx context.Context, a Actor, c SignHandOut) (Done, error) {
	who, err := p.signed(ctx, c.Sign, people.Lead)
	if err != nil {
		return Done{}, err
	}
	var f fields
	to := f.text("to", "To whom, and why", c.To, true, 200)
	f.oneOf("what", "What is written", c.What, "fhir", "csv")
	if err := f.err(); err != nil {
		return Done{}, err
	}
	n, err := p.CountHandOut(ctx, a, c.HandOut)
	if err != nil {
		return Done{}, err
	}
	if n.Contacts == 0 {
		return Done{}, fault.New(fault.Refused, "no-names", "Nobody in these visits allowed that their name is kept.", "There are no names to hand out.", "Write the file without names.")
	}
	return do(ctx, p, a, c.Act, "programme.hand-out", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		_, err := w.append(charter.Ref, charter.HandedOut{
			What: c.What, Event: c.Event, From: c.From, Until: c.Until, Visits: n.Visits, Contacts: n.Contacts, To: to, Signed: who.ID,
		})
		return Done{ID: charter.Ref.ID}, err
	})
}

package programme

import (
	"context"
	"fmt"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The reasons for which a person's details are erased.
const (
	EraseAsked     = "asked"     // the person asked for it
	EraseRetention = "retention" // the time for which they were to be kept is over
	EraseMistake   = "mistake"   // they were recorded by mistake
)

// EraseContact destroys the name and telephone number of a participant for good. The visit, its readings and every count
// stay.
type EraseContact struct {
	Act
	Visit     string
	Reason    string // EraseAsked, EraseRetention or EraseMistake
	Confirmed bool   // the lead knows that nobody can call this person any more about care or a referral that is open
	Sign      Sign   // of a lead
}

// EraseContact records the erasure under a lead's signature and destroys the key in the same moment: the record holds
// either both or neither. What waits for a call is refused until it is confirmed.
func (p *Programme) EraseContact(ctx context.Context, a Actor, c EraseContact) (Done, error) {
	signer, err := p.signed(ctx, c.Sign, people.Lead)
	if err != nil {
		return Done{}, err
	}
	return do(ctx, p, a, c.Act, "visit.erase", func(w *work) (Done, error) {
		if err := w.need(people.Lead); err != nil {
			return Done{}, err
		}
		v, err := load[*visit.State](w, visit.Ref(c.Visit))
		if err != nil {
			return Done{}, err
		}
		var f fields
		f.oneOf("reason", "The reason", c.Reason, EraseAsked, EraseRetention, EraseMistake)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if v.Erased() {
			return Done{}, fault.New(fault.Conflict, "erased-already", fmt.Sprintf("The details of ticket %03d are erased already.", v.Ticket),
				"", "Nothing more to do here.")
		}
		if len(v.Sealed) == 0 {
			return Done{}, fault.New(fault.Refused, "no-contact", fmt.Sprintf("No name or number is kept for ticket %03d.", v.Ticket),
				"There is nothing to erase.", "Nothing more to do here.")
		}
		st, _, err := w.tx.State(followup.Ref(v.ID))
		if err != nil {
			return Done{}, err
		}
		if why := waitsForCall(v, st); why != "" && !c.Confirmed {
			return Done{}, fault.New(fault.Refused, "call-open", fmt.Sprintf("Ticket %03d: %s.", v.Ticket, why),
				"After this nobody can call the person any more.", "Settle that first, or confirm that the details go all the same.").
				Field("confirmed", "Confirm that nobody will be able to call this person.")
		}
		_, err = w.append(visit.Ref(v.ID), visit.ContactErased{Reason: c.Reason, Signed: signer.ID})
		return Done{ID: v.ID}, err
	})
}

// waitsForCall says why somebody may still have to call this person; empty when nobody has to. st is their follow-up, if somebody
// has begun it.
func waitsForCall(v *visit.State, st fact.State) string {
	if v.OpenCare() {
		return "care is still open"
	}
	if s, ok := st.(*followup.State); ok {
		if told, ok := s.Standing(); ok && told.Outcome.Final() {
			return ""
		}
	}
	if v.Refers() && MayCall(v) {
		return "a referral stands and the person may be called about it"
	}
	return ""
}

// Erasing is what the page of an erasure shows: what is there, and the proof when it is done.
type Erasing struct {
	Ticket  int
	Kept    bool   // a name or number is kept
	Open    string // why somebody may still have to call; empty when nobody has to
	Erasure *visit.Erasure
	Signed  string // name of the lead who signed
	KeyKept bool   // the key is still there; with an Erasure this must be false
}

// Erasing tells how it stands with the personal data of a visit. Only a lead may ask.
func (p *Programme) Erasing(ctx context.Context, a Actor, visitID string) (Erasing, error) {
	var out Erasing
	if _, err := p.lead(ctx, a); err != nil {
		return out, err
	}
	err := p.store.Read(ctx, func(v *store.View) error {
		st, ok, err := v.State(visit.Ref(visitID))
		if err != nil {
			return err
		}
		if !ok {
			return missing(visit.Ref(visitID))
		}
		x := st.(*visit.State)
		calls, _, err := v.State(followup.Ref(visitID))
		if err != nil {
			return err
		}
		out = Erasing{Ticket: x.Ticket, Kept: len(x.Sealed) > 0, Open: waitsForCall(x, calls), Erasure: x.Erasure}
		if out.KeyKept, err = v.HasKey(visit.Ref(visitID)); err != nil || x.Erasure == nil {
			return err
		}
		who, ok, err := v.State(people.Ref(x.Erasure.Signed))
		if ok {
			out.Signed = who.(*people.State).Details.Name
		}
		return err
	})
	return out, err
}

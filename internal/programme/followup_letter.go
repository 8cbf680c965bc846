package programme

import (
	"context"
	"fmt"
	"time"

	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// MakeLetter makes a letter to a person who could not be reached, or a note to a clinician that the person may carry.
type MakeLetter struct {
	Act
	Visit    string
	To       string // person or clinician
	Language string // empty: that of the person; a note to a clinician is in English
}

// Letter is what a letter is drawn from. It holds a name and an address: whoever has it prints it and keeps it nowhere.
type Letter struct {
	To       followup.Addressee
	Language string
	Contact  Contact // without the telephone number
	Event    *event.State
	Visit    *visit.State
	Finding  protocol.Finding
	Due      time.Time // by when the person was to be seen
	Place    string    // where they were advised to go; may be empty
	Charter  *charter.State
	Protocol protocol.Protocol
}

// MakeLetter records that a letter was made and gives what it is drawn from. It is refused without permission, and to the
// person without a postal address. Opening the name for it leaves that entry and no other.
func (p *Programme) MakeLetter(ctx context.Context, a Actor, c MakeLetter) (Letter, error) {
	var out Letter
	_, err := do(ctx, p, a, c.Act, "followup.letter", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if c.To == string(followup.ToClinician) {
			c.Language = "en"
		} else if c.Language == "" {
			c.Language = x.v.Language
		}
		var f fields
		f.oneOf("to", "The addressee", c.To, string(followup.ToPerson), string(followup.ToClinician))
		f.oneOf("language", "The language", c.Language, Languages...)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if c.To == string(followup.ToPerson) && !x.v.Post {
			return Done{}, noAddress(x.v)
		}
		_, err = w.noteDown(&x, followup.LetterMade{To: followup.Addressee(c.To), Language: c.Language})
		return Done{ID: x.v.ID}, err
	})
	if err != nil {
		return out, err
	}
	contact, found, err := p.OpenContact(ctx, a, c.Visit)
	if err != nil {
		return out, err
	}
	if !found {
		return out, fault.New(fault.Missing, "no-contact", "No contact is kept for this ticket.", "It was erased.", "Nothing more to do here.")
	}
	f, d, err := p.FollowUpOf(ctx, c.Visit)
	if err != nil {
		return out, err
	}
	contact.Phone, contact.When = "", ""
	language := c.Language
	if language == "" {
		language = f.Visit.Language
	}
	if c.To == string(followup.ToClinician) {
		language = "en"
	}
	place := ""
	if r := f.Visit.Referral; r != nil {
		place = r.Route
	} else if list := d.ReferralPlaces(f.Visit.Finding()); len(list) > 0 {
		place = list[0]
	}
	return Letter{
		Due: f.Due, Place: place,
		To: followup.Addressee(c.To), Language: language, Contact: contact, Event: f.Event, Visit: f.Visit, Finding: *f.Visit.Finding(),
		Charter: d.Charter, Protocol: d.Protocol,
	}, nil
}

func noAddress(v *visit.State) error {
	return refuse("no-address", fmt.Sprintf("No postal address is kept for ticket %03d.", v.Ticket), "A letter needs one.",
		"Ask for it in the next call, or let a lead add it under Corrections.")
}

// MakeLetters makes the letters of all whose tries are used up or whose number is wrong, each under its own entry. What was
// written to already is left alone, and so is whoever has no address.
func (p *Programme) MakeLetters(ctx context.Context, a Actor, act Act) ([]Letter, error) {
	calls, err := p.Calls(ctx)
	if err != nil {
		return nil, err
	}
	var out []Letter
	for _, f := range append(calls.Open, calls.Later...) {
		if f.Task.Kind != followup.Write {
			continue
		}
		l, err := p.MakeLetter(ctx, a, MakeLetter{Act: act.Part(f.Visit.ID), Visit: f.Visit.ID, To: string(followup.ToPerson)})
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	if len(out) == 0 {
		return nil, refuse("no-letters", "Nobody waits for a letter.", "A letter is written when the tries are used up or the number is wrong, and an address is kept.", "Go back to the list.")
	}
	return out, nil
}

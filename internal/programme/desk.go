package programme

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// deskRoles may work at the desk.
var deskRoles = []people.Role{people.Desk, people.Screener, people.Counsellor, people.Supervisor, people.Lead}

// Arrive hands out a ticket.
type Arrive struct {
	Act
	Event, Language string
}

// Ticket is a visit and its short number.
type Ticket struct {
	Visit  string `json:"visit"`
	Number int    `json:"number"`
}

// Arrive begins a visit. The doors must be open.
func (p *Programme) Arrive(ctx context.Context, a Actor, c Arrive) (Ticket, error) {
	return do(ctx, p, a, c.Act, "visit.arrive", func(w *work) (Ticket, error) {
		if err := w.need(deskRoles...); err != nil {
			return Ticket{}, err
		}
		ev, err := load[*event.State](w, event.Ref(c.Event))
		if err != nil {
			return Ticket{}, err
		}
		switch ev.Phase {
		case event.IsPlanned:
			return Ticket{}, refuse("not-open", "The event is not open yet.", "Nobody is let in before the opening checks and controls are done.", "A lead or supervisor opens it on the page Open.")
		case event.IsDoorsClosed:
			return Ticket{}, refuse("doors-closed", "The doors are closed.", "", "Tell the person when the next event is, or let the lead open the doors again.")
		case event.IsClosed:
			return Ticket{}, closedFault()
		case event.IsCancelled:
			return Ticket{}, cancelledFault()
		}
		var f fields
		f.oneOf("language", "The language", c.Language, Languages...)
		if err := f.err(); err != nil {
			return Ticket{}, err
		}
		if err := w.offered(c.Language, ev); err != nil {
			return Ticket{}, err
		}
		return w.arrive(visit.Arrived{Event: ev.ID, Language: c.Language})
	})
}

// arrive begins a visit under the next ticket.
func (w *work) arrive(b visit.Arrived) (Ticket, error) {
	last, err := w.tx.LastLabel(visit.Kind, b.Event)
	if err != nil {
		return Ticket{}, err
	}
	if last != "" {
		if _, err := fmt.Sscanf(last, "%d", &b.Ticket); err != nil {
			return Ticket{}, err
		}
	}
	b.Ticket++
	_, err = w.append(visit.Ref(w.id), b)
	return Ticket{Visit: w.id, Number: b.Ticket}, err
}

// live loads a visit with its event and refuses one that has ended or whose event is closed.
func (w *work) live(visitID string) (*visit.State, *event.State, error) {
	v, err := load[*visit.State](w, visit.Ref(visitID))
	if err != nil {
		return nil, nil, err
	}
	ev, err := load[*event.State](w, event.Ref(v.Event))
	if err != nil {
		return nil, nil, err
	}
	if ev.Phase == event.IsClosed {
		return nil, nil, closedFault()
	}
	if v.Phase().Ended() {
		return nil, nil, refuse("visit-ended", fmt.Sprintf("Ticket %03d has ended.", v.Ticket), "", "Look the ticket up on the board.")
	}
	return v, ev, nil
}

// Consent is a yes to the consent text that was shown.
type Consent struct {
	Act
	Visit, Version, Language, How string
}

// Consent records the yes with the version and language of the text.
func (p *Programme) Consent(ctx context.Context, a Actor, c Consent) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.consent", func(w *work) (Done, error) {
		if err := w.need(deskRoles...); err != nil {
			return Done{}, err
		}
		v, ev, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Done{}, err
		}
		var f fields
		f.oneOf("language", "The language", c.Language, Languages...)
		f.oneOf("how", "How the text was given", c.How, "read", "read-aloud", "interpreter")
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if c.Version != proto.Consent.Version {
			return Done{}, fault.New(fault.Conflict, "consent-version", "The consent text has changed since this page was loaded.",
				"A yes counts only for the text that was read.", "Load the page again and read the new text.")
		}
		_, err = w.append(visit.Ref(v.ID), visit.Consented{Version: c.Version, Language: c.Language, How: c.How})
		return Done{ID: v.ID}, err
	})
}

// Decline is a no to the consent or to the fingerstick.
type Decline struct {
	Act
	Visit, What, Reason string
}

// Decline ends a visit with a no. After a reading a visit is not declined; the participant has left.
func (p *Programme) Decline(ctx context.Context, a Actor, c Decline) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.decline", func(w *work) (Done, error) {
		if err := w.need(deskRoles...); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		f.oneOf("what", "What was declined", c.What, "consent", "fingerstick")
		reason := f.text("reason", "The reason", c.Reason, false, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		if v.Tested() {
			return Done{}, refuse("tested", fmt.Sprintf("Ticket %03d has been tested already.", v.Ticket), "The count must show a test.", "Record that the participant left instead.")
		}
		_, err = w.append(visit.Ref(v.ID), visit.Declined{What: c.What, Reason: reason})
		return Done{ID: v.ID}, err
	})
}

// Answer is the protocol's questions with the participant's answers.
type Answer struct {
	Act
	Visit   string
	Answers protocol.Answers
}

// Answered is what the answers lead to.
type Answered struct {
	Eligible bool          `json:"eligible"`
	Sentence protocol.Text `json:"sentence,omitempty"` // what to say to a participant who is not eligible
	Signs    bool          `json:"signs"`              // crisis signs: a supervisor was called
}

// Answer records the answers and what the protocol makes of them. Signs of a crisis open care at once, on every screen.
func (p *Programme) Answer(ctx context.Context, a Actor, c Answer) (Answered, error) {
	return do(ctx, p, a, c.Act, "visit.answer", func(w *work) (Answered, error) {
		if err := w.need(deskRoles...); err != nil {
			return Answered{}, err
		}
		v, ev, err := w.live(c.Visit)
		if err != nil {
			return Answered{}, err
		}
		if v.Consent == nil {
			return Answered{}, refuse("no-consent", fmt.Sprintf("Ticket %03d has not consented.", v.Ticket), "Nobody is asked about their health without a yes.", "Read the consent text first.")
		}
		if v.Tested() {
			return Answered{}, refuse("tested", fmt.Sprintf("Ticket %03d has been tested already.", v.Ticket), "The answers stand as they were at the test.", "A mistake is put right by a correction.")
		}
		proto, err := w.protocolOf(ev)
		if err != nil {
			return Answered{}, err
		}
		s, err := proto.Screen(c.Answers)
		if err != nil {
			return Answered{}, err
		}
		if err := w.answered(v, c.Answers, s, proto); err != nil {
			return Answered{}, err
		}
		return Answered{Eligible: s.Eligible, Sentence: s.Sentence, Signs: s.Emergency}, nil
	})
}

// answered records answers, live or from paper, with what the protocol made of them.
func (w *work) answered(v *visit.State, a protocol.Answers, s protocol.Screening, proto protocol.Protocol) error {
	_, err := w.append(visit.Ref(v.ID), visit.Answered{
		Answers: a, Eligible: s.Eligible, Reason: s.Reason, Counted: s.Counted,
		Barred: s.BarredChemistry, Cautions: s.Cautions, Protocol: proto.Version,
	})
	if err != nil || !s.Emergency || v.OpenCare() {
		return err
	}
	_, err = w.append(visit.Ref(v.ID), visit.CareOpened{Cause: causeSigns, Station: "desk"})
	return err
}

// LastAte is the last food or drink with calories.
type LastAte struct {
	Act
	Visit string
	Known bool
	At    time.Time
}

// LastAte records when the participant last ate.
func (p *Programme) LastAte(ctx context.Context, a Actor, c LastAte) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.ate", func(w *work) (Done, error) {
		if err := w.need(deskRoles...); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if v.Tested() {
			return Done{}, refuse("tested", fmt.Sprintf("Ticket %03d has been tested already.", v.Ticket), "The last meal stands as it was at the test.", "A mistake is put right by a correction.")
		}
		b := visit.Ate{Known: c.Known}
		if c.Known {
			switch {
			case c.At.IsZero():
				return Done{}, fault.BadField("ate_at", "Type when the participant last ate or drank something with sugar, or choose Not known.")
			case c.At.After(w.at):
				return Done{}, fault.BadField("ate_at", "The last meal at %s has not happened yet. Was it yesterday?", c.At.Format("15:04"))
			case w.at.Sub(c.At) > 72*time.Hour:
				return Done{}, fault.BadField("ate_at", "The last meal is more than three days ago. Check the day, or choose Not known.")
			}
			b.Last = c.At
		}
		_, err = w.append(visit.Ref(v.ID), b)
		return Done{ID: v.ID}, err
	})
}

// Contact is the personal data of a participant who allows contact. It is kept sealed.
type Contact struct {
	Act   `json:"-"`
	Visit string `json:"-"`
	Allow bool   `json:"-"`    // false: no name, no number is kept
	Call  bool   `json:"call"` // may the programme call about the result
	Name  string `json:"name"`
	Phone string `json:"phone"`
	When  string `json:"when,omitempty"` // best time to call

	Address string `json:"address,omitempty"` // where a letter reaches the person; lines are separated by commas
}

// Contact records the permission and, sealed with a key of this visit alone, the name and telephone number.
func (p *Programme) Contact(ctx context.Context, a Actor, c Contact) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.contact", func(w *work) (Done, error) {
		if err := w.need(deskRoles...); err != nil {
			return Done{}, err
		}
		v, err := load[*visit.State](w, visit.Ref(c.Visit))
		if err != nil {
			return Done{}, err
		}
		if v.Consent == nil {
			return Done{}, refuse("no-consent", fmt.Sprintf("Ticket %03d has not consented.", v.Ticket), "", "Read the consent text first.")
		}
		if !c.Allow {
			_, err = w.append(visit.Ref(v.ID), visit.ContactRefused{})
			return Done{ID: v.ID}, err
		}
		var f fields
		f.contact(&c)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		return Done{ID: v.ID}, w.sealContact(v.ID, c)
	})
}

// contact reads the personal data of a participant who allows contact.
func (f *fields) contact(c *Contact) {
	c.Name = f.text("contact_name", "The name", c.Name, true, 80)
	c.Phone = f.phone("contact_phone", "The telephone number", c.Phone, c.Call)
	c.When = f.text("contact_when", "The best time", c.When, false, 60)
	c.Address = f.text("contact_address", "The postal address", c.Address, false, 160)
}

// sealContact records it under the key of this visit alone.
func (w *work) sealContact(visitID string, c Contact) error {
	plain, err := json.Marshal(c)
	if err != nil {
		return err
	}
	sealed, err := w.tx.Seal(visit.Ref(visitID), plain)
	if err != nil {
		return err
	}
	_, err = w.append(visit.Ref(visitID), visit.ContactGiven{Sealed: sealed, Call: c.Call, Post: c.Address != ""})
	return err
}

// LeaveVisit says that the participant went away before the end.
type LeaveVisit struct {
	Act
	Visit, Reason string
}

// LeaveVisit ends a visit early. Care that is open stays open until a supervisor signs it.
func (p *Programme) LeaveVisit(ctx context.Context, a Actor, c LeaveVisit) (Done, error) {
	return do(ctx, p, a, c.Act, "visit.leave", func(w *work) (Done, error) {
		if err := w.need(people.Roles...); err != nil {
			return Done{}, err
		}
		v, _, err := w.live(c.Visit)
		if err != nil {
			return Done{}, err
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, false, 120)
		if err := f.err(); err != nil {
			return Done{}, err
		}
		_, err = w.append(visit.Ref(v.ID), visit.Left{Where: v.Phase(), Reason: reason})
		return Done{ID: v.ID}, err
	})
}

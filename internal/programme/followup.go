package programme

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// followRoles are those who call people about a referral.
var followRoles = []people.Role{people.Counsellor, people.Supervisor, people.Lead}

// following is one referral at work: what the subjects say of it.
type following struct {
	v    *visit.State
	ev   *event.State
	st   *followup.State // nil while nobody has begun
	when followup.Case
}

// follow loads a referral that may be followed up. A visit whose finding asks for none, and a person who gave no permission,
// are refused.
func (w *work) follow(visitID string) (following, error) {
	var x following
	if err := w.need(followRoles...); err != nil {
		return x, err
	}
	var err error
	if x.v, err = load[*visit.State](w, visit.Ref(visitID)); err != nil {
		return x, err
	}
	if x.ev, err = load[*event.State](w, event.Ref(x.v.Event)); err != nil {
		return x, err
	}
	if !x.v.Refers() {
		return x, refuse("no-referral", fmt.Sprintf("The finding of ticket %03d asks for no referral.", x.v.Ticket), "People are called about a referral alone.", "Go back to the list.")
	}
	if !MayCall(x.v) {
		return x, noPermission(x.v)
	}
	st, ok, err := w.tx.State(followup.Ref(visitID))
	if err != nil {
		return x, err
	}
	if ok {
		x.st = st.(*followup.State)
	}
	proto, err := w.protocolOf(x.ev)
	x.when = caseOf(x.v, x.ev, proto)
	return x, err
}

func noPermission(v *visit.State) error {
	if v.Erased() {
		return fault.New(fault.Missing, "no-contact", fmt.Sprintf("No contact is kept for ticket %03d.", v.Ticket), "It was erased.", "Nothing more to do here.")
	}
	return refuse("no-permission", fmt.Sprintf("Ticket %03d gave no permission to call.", v.Ticket),
		"Contact without permission breaks what was promised at the desk.", "Nothing more to do here.")
}

// caseOf is what a follow-up must know to say what is due.
func caseOf(v *visit.State, ev *event.State, proto protocol.Protocol) followup.Case {
	c := followup.Case{Day: ev.Plan.Date, Zone: ev.Zone(), Post: v.Post, Rules: proto.CallingRules()}
	if f := v.Finding(); f != nil {
		c.Days, c.Urgent = proto.FollowUp[f.Band], f.Critical
	}
	for _, x := range v.Corrections {
		if x.Kind == CorrectContact && x.At.After(c.Renewed) {
			c.Renewed = x.At
		}
	}
	return c
}

// noteDown appends a fact of a follow-up, and its beginning before the first one.
func (w *work) noteDown(x *following, body fact.Body) (fact.Record, error) {
	ref := followup.Ref(x.v.ID)
	r, err := w.append(ref, body)
	if err != nil || x.st != nil {
		return r, err
	}
	x.st = &followup.State{ID: x.v.ID, Event: x.ev.ID}
	_, err = w.append(ref, followup.Begun{Event: x.ev.ID, Ticket: x.v.Ticket})
	return r, err
}

// notHeld refuses a person whom somebody else is calling at this moment.
func (w *work) notHeld(x following) error {
	held := x.st.HeldAt(w.now, time.Duration(x.when.Rules.HoldMinutes)*time.Minute)
	if held == nil || held.By == w.actor.Person {
		return nil
	}
	name := "Somebody else"
	if who, err := load[*people.State](w, people.Ref(held.By)); err == nil {
		name = who.Details.Name
	}
	until := held.At.Add(time.Duration(x.when.Rules.HoldMinutes) * time.Minute).In(x.ev.Zone())
	return fault.New(fault.Conflict, "somebody-calls", fmt.Sprintf("%s opened the number of ticket %03d at %s and may be on the telephone.", name, x.v.Ticket, held.At.In(x.ev.Zone()).Format("15:04")),
		"Two calls about the same matter worry a person.", fmt.Sprintf("Take the next person on the list, or come back at %s.", until.Format("15:04")))
}

// CallContact opens the sealed name and number of a participant who allowed a call.
type CallContact struct {
	Act
	Visit string
}

// CallContact shows the contact and leaves an entry that says so. From then on the person is held for whoever opened it. It is
// refused without permission, for people who do not call, and while somebody else holds the person. The contact itself is
// never part of what the record keeps of the command.
func (p *Programme) CallContact(ctx context.Context, a Actor, c CallContact) (Contact, error) {
	_, err := do(ctx, p, a, c.Act, "followup.open-contact", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if len(x.v.Sealed) == 0 {
			return Done{}, noContact(x.v)
		}
		if err := w.notHeld(x); err != nil {
			return Done{}, err
		}
		_, err = w.noteDown(&x, followup.ContactOpened{})
		return Done{ID: x.v.ID}, err
	})
	if err != nil {
		return Contact{}, err
	}
	out, found, err := p.OpenContact(ctx, a, c.Visit)
	if err == nil && !found {
		err = fault.New(fault.Missing, "no-contact", "No contact is kept for this ticket.", "It was erased.", "Nothing more to do here.")
	}
	return out, err
}

func noContact(v *visit.State) error {
	return fault.New(fault.Missing, "no-contact", fmt.Sprintf("No contact is kept for ticket %03d.", v.Ticket),
		"It was never given, or it was erased.", "Nothing more to do here.")
}

// PutBackContact says that whoever opened the number does not call now.
type PutBackContact struct {
	Act
	Visit string
}

// PutBackContact lets others take the person. It does nothing when the person is not held by this caller.
func (p *Programme) PutBackContact(ctx context.Context, a Actor, c PutBackContact) (Done, error) {
	return do(ctx, p, a, c.Act, "followup.put-back", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil || x.st == nil || x.st.Held == nil || x.st.Held.By != w.actor.Person {
			return Done{ID: c.Visit}, err
		}
		_, err = w.noteDown(&x, followup.PutBack{})
		return Done{ID: x.v.ID}, err
	})
}

// SeenNothing is what a page saw of a follow-up that nobody had begun.
const SeenNothing = "nothing"

// LogCall is what is written down after a try to reach somebody: the try, and with it whatever was told. Without a channel it
// is news from somewhere else: a clinic wrote, a relative came by. Act.At is when, if not now.
type LogCall struct {
	Act
	Visit string
	Seen  string // the follow-up's Last as the page saw it, or SeenNothing; empty: not asked
	CallDetails
}

// CallDetails are the fields of a call as they were typed.
type CallDetails struct {
	Channel, Happened, Note     string
	Caller                      string // person id, when somebody else made the call
	Outcome, On, Reason, Source string
	Test, Value, Unit, TestOn   string
	Said                        string
}

// LogCall records the try, the outcome and the result in one act. A wrong number is an outcome too.
func (p *Programme) LogCall(ctx context.Context, a Actor, c LogCall) (Done, error) {
	return do(ctx, p, a, c.Act, "followup.log", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if err := w.notHeld(x); err != nil {
			return Done{}, err
		}
		if err := stale(x, c.Seen); err != nil {
			return Done{}, err
		}
		if w.at.Before(latest(x.v.Times.FirstRead, x.v.Times.Found)) {
			return Done{}, fault.BadField("at", "At %s the person had not been tested yet. Check the time that you typed.", w.at.In(x.ev.Zone()).Format("2 Jan 15:04"))
		}
		var f fields
		try, told, result := f.call(c.CallDetails, x, w.at)
		if result != nil && told == nil && !seenAlready(x) {
			f.say("said", "A result is written down once the person was seen.")
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		return Done{ID: x.v.ID}, w.logged(&x, c.CallDetails, try, told, result)
	})
}

func seenAlready(x following) bool {
	s := x.st.Status(x.when)
	return s == followup.Seen || s == followup.AlreadyKnown
}

// stale refuses a page that was drawn before somebody else wrote something down.
func stale(x following, seen string) error {
	last := SeenNothing
	if x.st != nil && x.st.Last != "" {
		last = x.st.Last
	}
	if seen == "" || seen == last {
		return nil
	}
	return fault.New(fault.Conflict, "follow-up-changed", fmt.Sprintf("Somebody has written something about ticket %03d since you opened this page.", x.v.Ticket),
		"What you wrote may not fit any more.", "Read what is new above. What you typed is still here; send it again if it is still right.")
}

// logged appends the facts of one call.
func (w *work) logged(x *following, c CallDetails, try *followup.AttemptMade, told *followup.OutcomeTold, result *followup.ResultTold) error {
	if try != nil && try.Caller != "" {
		who, err := load[*people.State](w, people.Ref(try.Caller))
		if err != nil {
			return err
		}
		if try.Caller == w.actor.Person {
			try.Caller = ""
		} else if !mayCall(who) {
			return deniedContact()
		}
	}
	note, err := w.sealNote(x.v.ID, c.Note)
	if err != nil {
		return err
	}
	attempt := ""
	if try != nil {
		try.Note = note
		r, err := w.noteDown(x, *try)
		if err != nil {
			return err
		}
		attempt = r.ID
	} else if told != nil {
		told.Note = note
	}
	if told != nil {
		told.Attempt = attempt
		if _, err := w.noteDown(x, *told); err != nil {
			return err
		}
	}
	if result != nil {
		_, err = w.noteDown(x, *result)
	}
	return err
}

// sealNote seals a free note under the key of the visit: it may say something about a person, and goes when they go.
func (w *work) sealNote(visitID, note string) ([]byte, error) {
	if tidy(note) == "" {
		return nil, nil
	}
	return w.tx.Seal(visit.Ref(visitID), []byte(tidy(note)))
}

// call reads the fields of a call. What stays out is nil.
func (f *fields) call(c CallDetails, x following, at time.Time) (*followup.AttemptMade, *followup.OutcomeTold, *followup.ResultTold) {
	f.text("note", "The note", c.Note, false, 300)
	try := f.attempt(c)
	reached := try != nil && try.Happened == followup.Reached
	told := f.outcome(c, x, reached, at)
	if try != nil && told == nil && (try.Happened == followup.WrongNumber || try.Happened == followup.NotInService) && try.Channel != followup.Email {
		told = &followup.OutcomeTold{Outcome: followup.BadNumber, Source: followup.FromCaller}
	}
	if try == nil && told == nil && c.Test == "" && c.Said == "" {
		f.say("happened", "Choose what happened.")
	}
	return try, told, f.result(c, x, at)
}

func (f *fields) attempt(c CallDetails) *followup.AttemptMade {
	if c.Channel == "" && c.Happened == "" {
		return nil
	}
	b := followup.AttemptMade{Channel: followup.Channel(c.Channel), Happened: followup.Happened(c.Happened), Caller: c.Caller}
	f.oneOf("channel", "How you tried", c.Channel, words(followup.Channels)...)
	if list := followup.Happenings(b.Channel); len(list) > 0 {
		f.oneOf("happened", "What happened", c.Happened, words(list)...)
	}
	return &b
}

func (f *fields) outcome(c CallDetails, x following, reached bool, at time.Time) *followup.OutcomeTold {
	if c.Outcome == "" {
		return nil
	}
	b := followup.OutcomeTold{Outcome: followup.Outcome(c.Outcome), Reason: followup.Reason(c.Reason), Source: followup.Source(c.Source)}
	f.oneOf("outcome", "What became of it", c.Outcome, words(followup.Outcomes)...)
	today, screened := civil.Of(at.In(x.ev.Zone())), x.ev.Plan.Date
	switch b.Outcome {
	case followup.Seen, followup.AlreadyKnown:
		b.Reason = ""
		b.On = f.date("on", "The day", c.On, false)
		if b.On.After(today) {
			f.say("on", "%s has not come yet. Choose that there is a date.", b.On.Long())
		}
		if b.Outcome == followup.Seen && !b.On.IsZero() && b.On.Before(screened) {
			f.say("on", "%s is before the screening on %s.", b.On.Long(), screened.Long())
		}
	case followup.Scheduled:
		b.Reason = ""
		b.On = f.date("on", "The day of the appointment", c.On, true)
		switch {
		case b.On.IsZero():
		case b.On.Before(today):
			f.say("on", "%s is over. Choose that the person was seen, or not yet.", b.On.Long())
		case today.DaysUntil(b.On) > 366:
			f.say("on", "%s is more than a year away. Check the year.", b.On.Long())
		}
	case followup.NotYet:
		f.oneOf("reason", "The reason", c.Reason, words(followup.Reasons)...)
	case followup.Declined:
		if c.Reason != "" {
			f.oneOf("reason", "The reason", c.Reason, words(followup.Reasons)...)
		}
	case followup.BadNumber, followup.Unreachable:
		b.Reason, b.Source = "", followup.FromCaller
		if reached {
			f.say("outcome", "The person was reached. Choose what they said.")
		}
		return &b
	}
	if b.Source == "" {
		b.Source = followup.FromPerson
	}
	f.oneOf("source", "Who said so", string(b.Source), words(followup.Sources)...)
	if b.Source == followup.FromPerson && !reached {
		f.say("outcome", "Nobody spoke with the person. Choose who said so, or that the person was reached.")
	}
	return &b
}

func (f *fields) result(c CallDetails, x following, at time.Time) *followup.ResultTold {
	if c.Test == "" && c.Said == "" && tidy(c.Value) == "" {
		return nil
	}
	b := followup.ResultTold{Test: followup.Test(c.Test), Said: followup.Said(c.Said), Value: strings.ReplaceAll(tidy(c.Value), ",", "."), Unit: c.Unit}
	f.oneOf("test", "The kind of test", c.Test, words(followup.Tests)...)
	f.oneOf("said", "What the clinician said", c.Said, words(followup.AllSaid)...)
	if b.Value == "" {
		b.Unit = ""
	} else {
		f.oneOf("unit", "The unit", b.Unit, followup.Units...)
		n, err := strconv.ParseFloat(b.Value, 64)
		if err != nil || len(b.Value) > 6 || strings.ContainsAny(b.Value, "eExXpPnNiI+-_") {
			f.say("value", "The value should be a number such as 6.1 or 118; %q was typed.", c.Value)
		} else if b.Unit != "" && !followup.Believable(n, b.Unit) {
			f.say("value", "%s %s is hardly possible. Ask again, or leave the value out.", b.Value, b.Unit)
		}
	}
	b.On = f.date("test_on", "The day of the test", c.TestOn, false)
	if b.On.After(civil.Of(at.In(x.ev.Zone()))) {
		f.say("test_on", "%s has not come yet.", b.On.Long())
	}
	if !b.On.IsZero() && b.On.Before(x.ev.Plan.Date) {
		f.say("test_on", "%s is before the screening on %s.", b.On.Long(), x.ev.Plan.Date.Long())
	}
	return &b
}

// words turns coded words into text.
func words[S ~string](list []S) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = string(s)
	}
	return out
}

// HandOver gives a person to another caller.
type HandOver struct {
	Act
	Visit, To, Note string
}

// HandOver records to whom, and what the next caller should know. The note is sealed.
func (p *Programme) HandOver(ctx context.Context, a Actor, c HandOver) (Done, error) {
	return do(ctx, p, a, c.Act, "followup.hand-over", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if err := w.notHeld(x); err != nil {
			return Done{}, err
		}
		var f fields
		f.text("note", "The note", c.Note, false, 300)
		if c.To == "" {
			f.say("to", "Choose who calls next.")
		}
		if err := f.err(); err != nil {
			return Done{}, err
		}
		to, err := load[*people.State](w, people.Ref(c.To))
		if err != nil {
			return Done{}, err
		}
		if !mayCall(to) {
			return Done{}, fault.BadField("to", "%s does not call people. Choose a counsellor, a supervisor or a lead.", to.Details.Name)
		}
		note, err := w.sealNote(x.v.ID, c.Note)
		if err != nil {
			return Done{}, err
		}
		_, err = w.noteDown(&x, followup.HandedOver{To: to.ID, Note: note})
		return Done{ID: x.v.ID}, err
	})
}

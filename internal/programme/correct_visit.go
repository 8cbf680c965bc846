package programme

import (
	"encoding/json"
	"fmt"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/visit"
)

// food corrects when the participant last ate; the basis of the readings follows.
func (x *correction) food() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	if v.Ate == nil {
		return notAskedYet(v, "The last food")
	}
	b := visit.Ate{Known: x.c.AteKnown}
	limit := x.at
	if !v.Times.FirstRead.IsZero() {
		limit = v.Times.FirstRead
	}
	if b.Known {
		switch {
		case x.c.AteAt.IsZero():
			return fault.BadField("ate_at", "Type when the participant last ate or drank something with sugar, or choose Not known.")
		case x.c.AteAt.After(limit):
			return fault.BadField("ate_at", "%s is after the reading at %s. Was it the day before?", x.clock(x.c.AteAt), x.clock(limit))
		case limit.Sub(x.c.AteAt) > 72*time.Hour:
			return fault.BadField("ate_at", "The last meal is more than three days before the reading. Check the day, or choose Not known.")
		}
		b.Last = x.c.AteAt
	}
	x.touch(v.ID, fact.Change{What: "last food", Was: x.ateWords(*v.Ate), Now: x.ateWords(b)})
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	if err := x.replaceLast(visit.Ref(v.ID), b, func(b fact.Body) bool { _, ok := b.(visit.Ate); return ok }); err != nil {
		return err
	}
	return x.settle(v, true)
}

func (x *correction) ateWords(a visit.Ate) string {
	if !a.Known {
		return "not known"
	}
	return a.Last.In(x.ev.Zone()).Format("Mon 2 Jan 15:04")
}

func (x *correction) clock(t time.Time) string { return t.In(x.ev.Zone()).Format("15:04") }

func notAskedYet(v *visit.State, what string) error {
	return refuse("not-recorded", fmt.Sprintf("%s of ticket %03d is not written down yet.", what, v.Ticket), "There is nothing to correct.", "Write it down at the desk.")
}

// replaceLast corrects the last standing fact of a kind.
func (x *correction) replaceLast(ref fact.Ref, body fact.Body, is func(fact.Body) bool) error {
	r, ok, err := x.standing(ref, is)
	if err != nil {
		return err
	}
	if !ok {
		return fault.New(fault.Missing, "corrected-missing", "What you want to correct is not in the record.", "", "Open it again and correct it there.")
	}
	return x.replace(ref, r.ID, body)
}

// answers corrects the questions of the desk; the protocol of the event judges them anew.
func (x *correction) answers() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	if v.Answers == nil {
		return notAskedYet(v, "The questions")
	}
	s, err := x.proto.Screen(x.c.Answers)
	if err != nil {
		return err
	}
	b := visit.Answered{
		Answers: x.c.Answers, Eligible: s.Eligible, Reason: s.Reason, Counted: s.Counted,
		Barred: s.BarredChemistry, Cautions: s.Cautions, Protocol: x.proto.Version,
	}
	for _, q := range x.proto.Questions {
		x.touch(v.ID, fact.Change{What: q.Text.In("en"), Was: answerWords(v.Answers.Answers[q.Key]), Now: answerWords(b.Answers[q.Key])})
	}
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	x.touch(v.ID, fact.Change{What: "may be tested", Was: yesNo(v.Answers.Eligible), Now: yesNo(b.Eligible)})
	if err := x.replaceLast(visit.Ref(v.ID), b, func(b fact.Body) bool { _, ok := b.(visit.Answered); return ok }); err != nil {
		return err
	}
	if s.Emergency && v.Answers.Reason != s.Reason && !v.OpenCare() {
		if _, err := x.append(visit.Ref(v.ID), visit.CareOpened{Cause: causeSigns, Station: "desk"}); err != nil {
			return err
		}
	}
	return x.settle(v, false)
}

func answerWords(a string) string {
	if a == "" {
		return "not asked"
	}
	return a
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// isEnd reports whether a body ends a visit by what somebody did.
func isEnd(b fact.Body) bool {
	switch b.(type) {
	case visit.Left, visit.Declined, visit.Finished:
		return true
	}
	return false
}

// outcome corrects how a visit ended, or strikes its end.
func (x *correction) outcome() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	ref := visit.Ref(v.ID)
	end, ok, err := x.standing(ref, isEnd)
	switch {
	case err != nil:
		return err
	case v.Phase() == visit.NotEligible:
		return refuse("by-answers", fmt.Sprintf("Ticket %03d ended by its answers.", v.Ticket), "The outcome follows from the questions.", "Correct the answer that is wrong.")
	case !ok:
		return refuse("not-ended", fmt.Sprintf("Ticket %03d has not ended.", v.Ticket), "There is no outcome to correct.", "Finish it at its station, or write down there that the person left.")
	}
	var f fields
	f.oneOf("outcome", "The outcome", x.c.Outcome, OutcomeOpen, OutcomeLeft, OutcomeDeclined, OutcomeFinished)
	why := f.text("why", "What is known", x.c.Why, false, 120)
	if err := f.err(); err != nil {
		return err
	}
	var body fact.Body
	switch x.c.Outcome {
	case OutcomeOpen:
		if x.ev.Phase == event.IsClosed {
			return refuse("event-closed", "The event is closed: a visit cannot go on.", "Nobody works at the stations any more.", "Choose how it really ended.")
		}
		body = fact.Struck{}
	case OutcomeLeft:
		body = visit.Left{Where: x.stoodAt(v), Reason: why}
	case OutcomeDeclined:
		if v.Tested() {
			return refuse("tested", fmt.Sprintf("Ticket %03d has been tested.", v.Ticket), "The count must show a test.", "Choose that the participant left, or strike the reading first.")
		}
		what := "fingerstick"
		if v.Consent == nil {
			what = "consent"
		}
		body = visit.Declined{What: what, Reason: why}
	case OutcomeFinished:
		body = visit.Finished{}
	}
	x.touch(v.ID, fact.Change{What: "outcome", Was: endWords(end.Body), Now: endWords(body)})
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	if err := x.replace(ref, end.ID, body); err != nil {
		return err
	}
	now, err := load[*visit.State](x.work, ref)
	if err != nil || x.c.Outcome != OutcomeFinished {
		return err
	}
	if now.Finding() == nil {
		return refuse("no-finding", fmt.Sprintf("Ticket %03d has no result.", v.Ticket), "Only a visit with a result that was explained is finished.", "Choose another outcome.")
	}
	return firstShut(FinishGates(now, x.proto))
}

// stoodAt tells at which step a visit would stand without its end.
func (x *correction) stoodAt(v *visit.State) visit.Phase {
	open := *v
	open.Left, open.Declined, open.Finished = nil, nil, false
	return open.Phase()
}

func endWords(b fact.Body) string {
	switch e := b.(type) {
	case visit.Left:
		return withWhy("left", e.Reason)
	case visit.Declined:
		return withWhy("declined the "+e.What, e.Reason)
	case visit.Finished:
		return "finished"
	}
	return "still here"
}

func withWhy(s, why string) string {
	if why == "" {
		return s
	}
	return s + " (" + why + ")"
}

// contact corrects the permission, and the name and number when new ones are typed.
func (x *correction) contact() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	if v.Contact == nil {
		return notAskedYet(v, "The permission")
	}
	var f fields
	f.oneOf("permission", "The permission", x.c.Permission, ContactNone, ContactKept, ContactCall)
	typed := tidy(x.c.Name) != "" || tidy(x.c.Phone) != ""
	if x.c.Permission != ContactNone && (typed || len(v.Sealed) == 0 || x.c.Permission == ContactCall && !v.Call) {
		typed = true
		x.c.Name = f.text("name", "The name", x.c.Name, true, 80)
		x.c.Phone = f.phone("phone", "The telephone number", x.c.Phone, x.c.Permission == ContactCall)
		x.c.When = f.text("when", "The best time", x.c.When, false, 60)
		x.c.Address = f.text("address", "The postal address", x.c.Address, false, 160)
	}
	if err := f.err(); err != nil {
		return err
	}
	ref, call := visit.Ref(v.ID), x.c.Permission == ContactCall
	var body fact.Body = visit.ContactRefused{}
	if x.c.Permission != ContactNone {
		sealed, post := v.Sealed, v.Post
		if typed {
			plain, err := json.Marshal(Contact{Call: call, Name: x.c.Name, Phone: x.c.Phone, When: x.c.When, Address: x.c.Address})
			if err != nil {
				return err
			}
			if sealed, err = x.tx.Seal(ref, plain); err != nil {
				return err
			}
			post = x.c.Address != ""
		}
		body = visit.ContactGiven{Sealed: sealed, Call: call, Post: post}
	}
	x.touch(v.ID, fact.Change{What: "permission", Was: permissionWords(*v.Contact, v.Call), Now: permissionWords(x.c.Permission != ContactNone, call)})
	if typed && x.c.Permission != ContactNone {
		x.touch(v.ID, fact.Change{What: "name and number", Was: "as sealed before", Now: "typed anew and sealed"})
	}
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	is := func(b fact.Body) bool {
		switch b.(type) {
		case visit.ContactGiven, visit.ContactRefused:
			return true
		}
		return false
	}
	if err := x.replaceLast(ref, body, is); err != nil {
		return err
	}
	if v.Referral != nil && v.Referral.Call != call {
		r := *v.Referral
		r.Call = call
		if _, err := x.append(ref, r); err != nil {
			return err
		}
	}
	return nil
}

func permissionWords(kept, call bool) string {
	switch {
	case call:
		return "may be called"
	case kept:
		return "a name is kept, no calls"
	}
	return "no contact"
}

// language corrects the language of the participant.
func (x *correction) language() error {
	v, err := x.target()
	if err != nil {
		return err
	}
	var f fields
	f.oneOf("language", "The language", x.c.Language, Languages...)
	if err := f.err(); err != nil {
		return err
	}
	x.touch(v.ID, fact.Change{What: "language", Was: v.Language, Now: x.c.Language})
	if err := x.nothingChanged(v.ID); err != nil {
		return err
	}
	return x.replaceLast(visit.Ref(v.ID), visit.Arrived{Event: v.Event, Ticket: v.Ticket, Language: x.c.Language},
		func(b fact.Body) bool { _, ok := b.(visit.Arrived); return ok })
}

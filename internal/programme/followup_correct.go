package programme

import (
	"context"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/store"
)

// CorrectFollowUp puts right what was written down of a call. Which of the details are read depends on what is corrected: a
// try, an outcome, or a result.
type CorrectFollowUp struct {
	Act
	Visit, Fact, Reason string
	Strike              bool   // it never happened
	Seen                string // as for LogCall
	CallDetails
}

// CorrectFollowUp records the correction with its reason; both stay in the record. Whoever wrote it down may correct it, and a
// supervisor or lead. What was told in a try that reached nobody after all goes with it.
func (p *Programme) CorrectFollowUp(ctx context.Context, a Actor, c CorrectFollowUp) (Done, error) {
	return do(ctx, p, a, c.Act, "followup.correct", func(w *work) (Done, error) {
		x, err := w.follow(c.Visit)
		if err != nil {
			return Done{}, err
		}
		if err := stale(x, c.Seen); err != nil {
			return Done{}, err
		}
		was, from, ok := standingIn(x.st, c.Fact)
		if !ok {
			return Done{}, fault.New(fault.Missing, "corrected-missing", "What you want to correct is not in the record.", "It may have been struck already.", "Open the person again and correct it there.")
		}
		if w.me != nil && w.me.ID != from.By && !w.me.Has(people.Supervisor) && !w.me.Has(people.Lead) {
			return Done{}, fault.New(fault.Denied, "not-yours", "Somebody else wrote this down.", "Whoever wrote it knows what was said.", "Ask them, a supervisor or a lead to correct it.")
		}
		var f fields
		reason := f.text("reason", "The reason", c.Reason, true, 200)
		now, err := w.corrected(&f, was, from, c, x)
		if err == nil {
			err = f.err()
		}
		if err != nil {
			return Done{}, err
		}
		return Done{ID: x.v.ID}, w.replaceCall(x, from.FactID, now, reason)
	})
}

// standingIn finds what a fact of a follow-up says now.
func standingIn(st *followup.State, id string) (fact.Body, followup.From, bool) {
	if st == nil || id == "" {
		return nil, followup.From{}, false
	}
	for _, a := range st.Attempts {
		if a.FactID == id {
			return a.AttemptMade, a.From, true
		}
	}
	for _, o := range st.Outcomes {
		if o.FactID == id {
			return o.OutcomeTold, o.From, true
		}
	}
	for _, r := range st.Results {
		if r.FactID == id {
			return r.ResultTold, r.From, true
		}
	}
	for _, h := range st.Handed {
		if h.FactID == id {
			return h.HandedOver, h.From, true
		}
	}
	for _, l := range st.Letters {
		if l.FactID == id {
			return l.LetterMade, l.From, true
		}
	}
	return nil, followup.From{}, false
}

// corrected is what stands in the place of a fact.
func (w *work) corrected(f *fields, was fact.Body, from followup.From, c CorrectFollowUp, x following) (fact.Body, error) {
	if c.Strike {
		return fact.Struck{}, nil
	}
	f.text("note", "The note", c.Note, false, 300)
	note, err := w.sealNote(x.v.ID, c.Note)
	if err != nil {
		return nil, err
	}
	missing := func(name string) { f.say(name, "Choose what it should say, or that it never happened.") }
	switch old := was.(type) {
	case followup.AttemptMade:
		b := f.attempt(c.CallDetails)
		if b == nil {
			missing("happened")
			return nil, nil
		}
		b.Caller = old.Caller
		if b.Note = note; note == nil {
			b.Note = old.Note
		}
		return *b, nil
	case followup.OutcomeTold:
		b := f.outcome(c.CallDetails, x, reachedIn(x.st, old.Attempt), from.At)
		if b == nil {
			missing("outcome")
			return nil, nil
		}
		b.Attempt = old.Attempt
		if b.Note = note; note == nil {
			b.Note = old.Note
		}
		return *b, nil
	case followup.ResultTold:
		b := f.result(c.CallDetails, x, w.at)
		if b == nil {
			missing("said")
			return nil, nil
		}
		return *b, nil
	}
	f.say("strike", "A handover and a letter can only be struck.")
	return nil, nil
}

func reachedIn(st *followup.State, attempt string) bool {
	for _, a := range st.Attempts {
		if a.FactID == attempt {
			return a.Happened == followup.Reached
		}
	}
	return false
}

// replaceCall records a correction, and what follows from a try that is no conversation any more or has become a wrong number.
func (w *work) replaceCall(x following, id string, now fact.Body, reason string) error {
	ref := followup.Ref(x.v.ID)
	put := func(id string, body fact.Body, why string) error {
		d := store.Draft{At: w.at, By: w.actor.Person, Subject: ref, Body: body, Corrects: id, Reason: why}
		if w.first {
			d.ID, w.first = w.id, false
		}
		_, err := w.tx.Append(d)
		return err
	}
	if err := put(id, now, reason); err != nil {
		return err
	}
	try, is := now.(followup.AttemptMade)
	if _, struck := now.(fact.Struck); !is && !struck || try.Happened == followup.Reached {
		return nil
	}
	wrong := is && (try.Happened == followup.WrongNumber || try.Happened == followup.NotInService) && try.Channel != followup.Email
	kept := false
	for _, o := range x.st.Outcomes {
		if o.Attempt != id {
			continue
		}
		if wrong && o.Outcome == followup.BadNumber {
			kept = true
			continue
		}
		if err := put(o.FactID, fact.Struck{}, "the try in which it was told: "+reason); err != nil {
			return err
		}
	}
	if !wrong || kept {
		return nil
	}
	_, err := w.append(ref, followup.OutcomeTold{Outcome: followup.BadNumber, Source: followup.FromCaller, Attempt: id})
	return err
}

// FollowUpNote is one thing that was written down in a follow-up, with its note opened. A correction stands in it: Was is what it
// said before.
type FollowUpNote struct {
	Fact      string
	At        time.Time
	By        string // name
	Caller    string // name, when it was somebody else
	Body      fact.Body
	Note      string
	Gone      bool // it was struck
	Corrected []FollowUpChange
}

// FollowUpChange is a correction of it.
type FollowUpChange struct {
	At     time.Time
	By     string
	Reason string
	Was    fact.Body
}

// FollowUpHistory tells a follow-up in the order in which it was recorded, what was corrected beside what it said before. Notes
// are opened for those who call alone; those of an erased person are gone.
func (p *Programme) FollowUpHistory(ctx context.Context, a Actor, visitID string) ([]FollowUpNote, error) {
	var out []FollowUpNote
	err := p.store.Read(ctx, func(v *store.View) error {
		me, ok, err := v.State(people.Ref(a.Person))
		if err != nil {
			return err
		}
		if !ok || !mayCall(me.(*people.State)) {
			return deniedContact()
		}
		recs, err := v.Records(followup.Ref(visitID))
		if err != nil {
			return err
		}
		out, err = tellHistory(v, visitID, recs)
		return err
	})
	return out, err
}

package programme

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sort"
	"time"

	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

func isDry(err error) bool { return errors.Is(err, errDry) }

// accepts checks the signature under what is irregular; nil when nobody signs.
func (p *Programme) accepts(ctx context.Context, s Sign, reason string) (*people.State, error) {
	if s.Person == "" {
		return nil, nil
	}
	if tidy(reason) == "" {
		return nil, fault.BadField("accept_reason", "Write why it is recorded all the same.")
	}
	return p.signed(ctx, s, people.Lead, people.Supervisor)
}

// as does something in the name of a person at a moment, as the paper says it.
func (w *work) as(who string, at time.Time, do func() error) error {
	me, actor, was := w.me, w.actor, w.at
	defer func() { w.me, w.actor, w.at = me, actor, was }()
	w.at = at
	if who != "" {
		var err error
		if w.me, err = load[*people.State](w, people.Ref(who)); err != nil {
			return err
		}
		w.actor = Actor{Person: who}
	}
	return do()
}

// entering is one visit while it is typed in.
type entering struct {
	*paperDay
	c    *paperCheck
	v    PaperVisit
	id   string
	out  EnteredPaper
	acts []paperAct
}

// paperAct is something that happened, to be recorded in its place.
type paperAct struct {
	at   time.Time
	rank int // at the same minute
	by   string
	do   func(*visit.State) error
}

// The order of what the paper says of the same minute.
const (
	rankDesk = iota
	rankSeen
	rankCall
	rankReading
	rankWipe
	rankCare
	rankSign
	rankTalk
	rankExplain
	rankEnd
)

// enter checks and records one visit. The first fact takes the id of the command.
func (d *paperDay) enter(v PaperVisit) (EnteredPaper, error) {
	if d.ev.Phase == event.IsCancelled {
		return EnteredPaper{}, cancelledFault()
	}
	if d.ev.Phase == event.IsPlanned {
		return EnteredPaper{}, refuse("not-open", "The event is not open yet.", "A visit belongs to a day that was opened after its checks and controls.", "A lead or supervisor opens it on the page Open.")
	}
	v = v.plain()
	c, err := d.check(&v)
	if err != nil {
		return EnteredPaper{}, err
	}
	digest, err := v.digest()
	if err != nil {
		return EnteredPaper{}, err
	}
	if err := d.again(v, digest); err != nil {
		return EnteredPaper{}, err
	}
	e := &entering{paperDay: d, c: c, v: v, id: d.id}
	if err := d.as("", v.Arrived, func() error {
		t, err := d.arrive(visit.Arrived{Event: d.ev.ID, Language: v.Language, Form: v.Form, Paper: digest})
		e.out.ID, e.out.Ticket = t.Visit, t.Number
		return err
	}); err != nil {
		return EnteredPaper{}, err
	}
	e.arrival()
	e.desk()
	e.test()
	e.care()
	e.explain()
	e.end()
	if err := e.play(); err != nil {
		return EnteredPaper{}, err
	}
	s, err := load[*visit.State](d.work, visit.Ref(e.id))
	if err != nil {
		return EnteredPaper{}, err
	}
	e.out.Finding = s.Finding()
	e.told()
	d.seen(s)
	return e.out, nil
}

// told compares the result that was ticked on the form with what the protocol makes of the readings.
func (e *entering) told() {
	f := e.out.Finding
	if e.v.Told == "" || f == nil || f.Band == e.v.Told {
		return
	}
	was := e.proto.Messages[e.v.Told].Word.In("en")
	e.irregular("told", refuse("told-otherwise", fmt.Sprintf("On the form the result is %q; by the protocol %s is %q. The participant may have been told the wrong thing.", was, f.Reading, f.Word.In("en")), "", ""))
}

// before is the visit of a form, or of a row without one, that is on record already; nil when there is none.
func (d *paperDay) before(form int) *visit.State {
	if form == 0 {
		return d.visits[d.id]
	}
	return d.forms[form]
}

// again tells a form that was typed before from a new one.
func (d *paperDay) again(v PaperVisit, digest string) error {
	was := d.before(v.Form)
	if was == nil {
		return nil
	}
	if was.Paper != digest {
		return errDiffer
	}
	if plain, ok := d.h.contacts[was.ID]; ok && v.Contact != nil {
		now, err := json.Marshal(v.Contact.sealable())
		if err != nil {
			return err
		}
		if !bytes.Equal(plain, now) {
			return errDiffer
		}
	}
	return errThere
}

// accept records the signed reason for what is irregular; without a signature it refuses.
func (d *paperDay) accept(e EnteredPaper, form int, who *people.State, reason string) error {
	if len(e.Irregular) == 0 {
		return nil
	}
	if who == nil {
		f := refuse("irregular", fmt.Sprintf("%d gates were shut on the day. First: %s", len(e.Irregular), e.Irregular[0].Sentence),
			"What happened is recorded, but somebody answers for it.", "A lead or supervisor reads the list, writes the reason and signs.")
		f.Override = string(people.Supervisor)
		return f
	}
	about := fmt.Sprintf("ticket %03d", e.Ticket)
	if form > 0 {
		about += fmt.Sprintf(", form %d", form)
	}
	return d.override(e.Irregular, about, who, reason)
}

func (d *paperDay) override(list []Irregular, about string, who *people.State, reason string) error {
	var f fields
	reason = f.text("accept_reason", "The reason", reason, true, 200)
	if err := f.err(); err != nil {
		return err
	}
	for _, i := range list {
		b := event.Overridden{Gate: "paper:" + i.Key, About: about + ": " + i.Sentence, Reason: reason, Signed: who.ID}
		if _, err := d.append(event.Ref(d.ev.ID), b); err != nil {
			return err
		}
	}
	return nil
}

func (e *entering) put(at time.Time, rank int, by string, do func(*visit.State) error) {
	e.acts = append(e.acts, paperAct{at, rank, by, do})
}

func (e *entering) play() error {
	sort.SliceStable(e.acts, func(i, j int) bool {
		if !e.acts[i].at.Equal(e.acts[j].at) {
			return e.acts[i].at.Before(e.acts[j].at)
		}
		return e.acts[i].rank < e.acts[j].rank
	})
	for _, a := range e.acts {
		if err := e.as(a.by, a.at, func() error {
			v, err := load[*visit.State](e.work, visit.Ref(e.id))
			if err != nil {
				return err
			}
			return a.do(v)
		}); err != nil {
			return err
		}
	}
	return nil
}

// irregular lists a shut gate once.
func (e *entering) irregular(field string, f *fault.Fault) {
	if f == nil {
		return
	}
	for _, i := range e.out.Irregular {
		if i.Key == f.Key && i.Sentence == f.Sentence {
			return
		}
	}
	e.out.Irregular = append(e.out.Irregular, Irregular{Key: f.Key, Sentence: f.Sentence, Field: field})
}

func (e *entering) fact(b fact.Body) error {
	_, err := e.append(visit.Ref(e.id), b)
	return err
}

func (e *entering) clock(t time.Time) string { return e.c.clock(t) }

func (e *entering) arrival() {
	at := e.v.Arrived
	switch {
	case at.Before(e.h.opened):
		e.irregular("arrived", refuse("not-open", fmt.Sprintf("The arrival at %s comes before the opening of the event at %s.", e.clock(at), e.clock(e.h.opened)), "", ""))
	case e.ev.Phase == event.IsDoorsClosed && at.After(e.ev.DoorsClosedAt):
		e.irregular("arrived", refuse("doors-closed", fmt.Sprintf("The arrival at %s comes after the closing of the doors at %s.", e.clock(at), e.clock(e.ev.DoorsClosedAt)), "", ""))
	}
}

// plain is the visit with every time in UTC to the second, and answers without spaces.
func (v PaperVisit) plain() PaperVisit {
	t := func(t time.Time) time.Time {
		if t.IsZero() {
			return time.Time{}
		}
		return t.UTC().Truncate(time.Second)
	}
	v.Arrived, v.Called, v.Talk, v.Ended = t(v.Arrived), t(v.Called), t(v.Talk), t(v.Ended)
	if v.Consent != nil {
		x := *v.Consent
		x.At = t(x.At)
		v.Consent = &x
	}
	if v.Ate != nil {
		x := *v.Ate
		x.Last = t(x.Last)
		v.Ate = &x
	}
	if v.Contact != nil {
		x := *v.Contact
		v.Contact = &x
	}
	if v.Explained != nil {
		x := *v.Explained
		x.At = t(x.At)
		v.Explained = &x
	}
	if v.Slip != nil {
		x := *v.Slip
		v.Slip = &x
	}
	if v.Referral != nil {
		x := *v.Referral
		v.Referral = &x
	}
	answers := protocol.Answers{}
	for k, a := range v.Answers {
		if a = tidy(a); a != "" {
			answers[k] = a
		}
	}
	v.Answers = answers
	v.Readings = append([]PaperReading(nil), v.Readings...)
	for i := range v.Readings {
		v.Readings[i].At, v.Readings[i].WipedAt = t(v.Readings[i].At), t(v.Readings[i].WipedAt)
	}
	if v.Care != nil {
		x := *v.Care
		x.SignedAt = t(x.SignedAt)
		x.Steps = append([]PaperCareStep(nil), x.Steps...)
		for i := range x.Steps {
			x.Steps[i].At = t(x.Steps[i].At)
		}
		v.Care = &x
	}
	return v
}

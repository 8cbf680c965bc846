package web

import (
	"slices"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

func deskConsent(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if c.Form("agree") == "no" {
		return c.declined(d, v, "consent")
	}
	_, err = s.prog.Consent(c.R.Context(), c.Actor(), programme.Consent{Act: c.Act(), Visit: v.ID, Version: c.Form("version"), Language: c.Form("lang"), How: c.Form("how")})
	if err != nil {
		return c.showVisitAtDesk(fault.Of(err), nil)
	}
	return c.Go(dayBase(d) + "/desk/" + v.ID)
}

// ask puts the next question on the page, with the answers so far to travel along.
func (view *deskVisitView) ask(d *programme.Day, a protocol.Answers, ticked []string) {
	view.Asking, view.Given, view.Ticked = d.Asking(a), nil, ticked
	for _, q := range d.Protocol.Questions {
		if value, ok := a[q.Key]; ok && (view.Asking.Question == nil || q.Key != view.Asking.Question.Key) {
			view.Given = append(view.Given, givenAnswer{q.Key, value})
		}
	}
	view.Wrong = view.Asking.Wrong
	for _, s := range d.Protocol.CrisisSigns {
		view.Signs = append(view.Signs, ui.Option{Value: s.Key, Label: s.Text.In(view.Lang)})
	}
}

// deskQuestions takes one answer and asks the next question. Nothing is recorded before all are there, one excludes, or a
// sign of a crisis is named; a person who would not be tested is shown to the desk once more first.
func deskQuestions(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	answers := protocol.Answers{}
	for _, g := range c.Forms("given") {
		key, value, ok := strings.Cut(g, "=")
		if _, known := d.Protocol.Question(key); ok && known {
			answers[key] = value
		}
	}
	signs := c.Forms("sign")
	q, known := d.Protocol.Question(c.Form("key"))
	if known {
		if wrong := takeAnswer(c.say(), answers, q, c.Form("answer"), signs); wrong != "" {
			return c.askAgain(answers, signs, wrong)
		}
	}
	asking := d.Asking(answers)
	switch {
	case asking.Question != nil:
		return c.askAgain(answers, nil, asking.Wrong)
	case !asking.Screening.Eligible && !asking.Screening.Emergency && c.Form("sure") != "yes":
		return c.showVisitAtDesk(nil, func(d *programme.Day, _ *visit.State, view *deskVisitView) {
			view.Step, view.Goodbye = stepQuestions, true
			view.ask(d, answers, nil)
			view.Kind, view.Route = asking.Screening.Sentence.In(view.Lang), asking.Screening.Route.In(view.Lang)
			view.Page.Title = c.say().Desk.NotTested
		})
	}
	out, err := s.prog.Answer(c.R.Context(), c.Actor(), programme.Answer{Act: c.Act(), Visit: v.ID, Answers: answers})
	if err != nil {
		return c.showVisitAtDesk(fault.Of(err), func(d *programme.Day, _ *visit.State, view *deskVisitView) {
			if view.Step == stepQuestions {
				view.ask(d, answers, nil)
			}
		})
	}
	if out.Signs {
		return c.Done(dayBase(d)+"/care/"+v.ID, c.say().Desk.SupervisorCalled(out.Sentence.In(v.Language)))
	}
	return c.Go(dayBase(d) + "/desk/" + v.ID)
}

// takeAnswer puts what was pressed among the answers, or says what does not fit together.
func takeAnswer(t *tongue, a protocol.Answers, q protocol.Question, answer string, signs []string) string {
	switch {
	case q.Kind != protocol.Signs:
		a[q.Key] = answer
	case answer == protocol.NoSign && len(signs) > 0:
		return t.Desk.SignsButNone
	case answer == protocol.NoSign:
		a[q.Key] = protocol.NoSign
	case len(signs) == 0:
		return t.Desk.TickSigns
	default:
		a[q.Key] = strings.Join(signs, ",")
	}
	return ""
}

func (c *Context) askAgain(answers protocol.Answers, signs []string, wrong string) error {
	wrong, _ = c.say().sentence(wrong)
	var f *fault.Fault
	if wrong != "" {
		f = c.say().bad("answer", wrong)
	}
	return c.showVisitAtDesk(f, func(d *programme.Day, _ *visit.State, view *deskVisitView) {
		view.Step = stepQuestions
		view.ask(d, answers, signs)
		view.Wrong = wrong
	})
}

func deskAte(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	now := c.now(d)
	cmd := programme.LastAte{Act: c.Act(), Visit: v.ID, Known: c.Form("known") != "no"}
	if cmd.Known {
		if cmd.At, err = ateAt(c.say(), c.Form("quick"), c.Form("ate_day"), c.Form("ate_at"), now); err != nil {
			return c.showVisitAtDesk(fault.Of(err), keepStep(stepAte))
		}
	}
	if _, err := s.prog.LastAte(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.showVisitAtDesk(fault.Of(err), keepStep(stepAte))
	}
	if d, err = c.Day(); err != nil {
		return err
	}
	return c.Done(dayBase(d)+"/desk/"+v.ID, c.say().ateText(d, d.Visit(v.ID), now))
}

// keepStep leaves the page at the step whose form was refused; the step is in the form as well.
func keepStep(step string) func(*programme.Day, *visit.State, *deskVisitView) {
	return func(_ *programme.Day, _ *visit.State, view *deskVisitView) { view.Step = step }
}

// ateAt reads a full hour that was pressed, or a day and a time on the wall clock of the event.
func ateAt(t *tongue, quick, day, clock string, now time.Time) (time.Time, error) {
	if quick != "" {
		at, err := time.ParseInLocation(quickLayout, quick, now.Location())
		if err != nil {
			return at, t.bad("ate_at", t.Desk.TimeDamaged)
		}
		return at, nil
	}
	if clock == "" {
		return time.Time{}, nil
	}
	back := slices.Index([]string{"today", "yesterday", "before"}, day)
	if back < 0 {
		return time.Time{}, t.bad("ate_day", t.Desk.ChooseDay)
	}
	k, err := civil.ParseClock(clock)
	if err != nil {
		return time.Time{}, fault.BadField("ate_at", "%s.", err)
	}
	return k.On(civil.Of(now).AddDays(-back), now.Location()), nil
}

// contactOf reads the form of the contact; it is the same at the desk and at Explain.
func (c *Context) contactOf(v *visit.State) programme.Contact {
	return programme.Contact{
		Act: c.Act(), Visit: v.ID, Allow: c.Form("allow") == "yes", Call: c.Form("call") == "yes",
		Name: c.Form("contact_name"), Phone: c.Form("contact_phone"), When: c.Form("contact_when"), Address: c.Form("contact_address"),
	}
}

func deskContact(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	cmd := c.contactOf(v)
	if f := callUnasked(c.say(), cmd, c.Form("call")); f != nil {
		return c.showVisitAtDesk(f, keepStep(stepContact))
	}
	if _, err := s.prog.Contact(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.showVisitAtDesk(fault.Of(err), keepStep(stepContact))
	}
	return c.Go(dayBase(d) + "/desk/" + v.ID)
}

// callUnasked refuses a contact without an answer to the question of a call.
func callUnasked(t *tongue, cmd programme.Contact, answer string) *fault.Fault {
	if cmd.Allow && answer != "yes" && answer != "no" {
		return t.bad("call", t.Desk.AskCall)
	}
	return nil
}

func deskDecline(_ *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	return c.declined(d, v, c.Form("what"))
}

func (c *Context) declined(d *programme.Day, v *visit.State, what string) error {
	if _, err := c.s.prog.Decline(c.R.Context(), c.Actor(), programme.Decline{Act: c.Act(), Visit: v.ID, What: what, Reason: c.Form("reason")}); err != nil {
		return c.showVisitAtDesk(fault.Of(err), nil)
	}
	return c.Done(dayBase(d)+"/desk/"+v.ID, c.say().Line.SaidNo(ticketText(v.Ticket)))
}

// visitLeave records that a participant went away, from whichever station saw it, and goes back to that station.
func visitLeave(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.LeaveVisit(c.R.Context(), c.Actor(), programme.LeaveVisit{Act: c.Act(), Visit: v.ID, Reason: c.Form("reason")}); err != nil {
		return err
	}
	to := dayBase(d) + "/desk/" + v.ID
	switch from := c.Form("from"); from {
	case "test", "explain", "care":
		to = dayBase(d) + "/" + from
		if from == "care" || from == "test" {
			to += "/" + v.ID
		}
	}
	return c.Done(to, c.say().Line.WentAway(ticketText(v.Ticket)))
}

// summaryOf is what the head of the questions says: a wrong answer stands beside its question already.
func summaryOf(v deskVisitView) *fault.Fault {
	if v.Fault == nil || v.Wrong != "" {
		return nil
	}
	return v.Fault
}

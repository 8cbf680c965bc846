package web

import (
	"cmp"
	"slices"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// deskView is the resting page of the desk.
type deskView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Base    string
	Shut    *fault.Fault // why nobody new is let in
	Command string
	Day     *programme.Day
	Now     time.Time
	Waiting int // for a test
	Tongues []ui.Link
}

func deskShow(_ *Server, c *Context) error { return c.showDesk(nil) }

func (c *Context) showDesk(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	t := c.say()
	v := deskView{Page: c.stationPage(d, t.Desk.Title, "/", t.Shell.Start), Fault: c.told(f), Base: dayBase(d), Command: c.command(), Waiting: len(d.Waiting(visit.AtTest))}
	v.Shut, v.Day, v.Now, v.Tongues = c.told(doorsShut(d)), d, c.now(d), tongueLinks(d, "", "")
	return c.Show(f, deskPage(v))
}

// deskRows are the tickets at the desk with what each of them needs next.
func deskRows(t *tongue, d *programme.Day, now time.Time) []queueRow {
	waiting := d.Waiting(visit.AtDesk)
	rows := queueRows(t, d, waiting, "/desk/", now)
	for i, x := range waiting {
		rows[i].Note = joinWords(rows[i].Note, t.Desk.Next(t.Desk.Steps[deskStep(d, x)]))
	}
	return rows
}

// doorsShut says why nobody new is let in, before anybody is asked anything.
func doorsShut(d *programme.Day) *fault.Fault {
	switch d.Event.Phase {
	case event.IsOpen:
		return nil
	case event.IsPlanned:
		return fault.New(fault.Refused, "not-open", "The event is not open yet.", "Nobody is let in before the opening checks and controls are done.",
			"A lead or supervisor opens it on the page Open.")
	case event.IsDoorsClosed:
		return fault.New(fault.Refused, "doors-closed", "The doors are closed.", "Those who are inside are finished; nobody new is let in.",
			"Tell the person when the next event is, or let the lead open the doors again.")
	case event.IsCancelled:
		return fault.New(fault.Refused, "event-cancelled", "This event was cancelled.", "Nothing happens at an event that is not held.", "Choose the running event on the start page.")
	case event.IsClosed:
	}
	return fault.New(fault.Refused, "event-closed", "This event is closed.", "Its record is signed and stays as it is.", "Choose the running event on the start page.")
}

func deskArrive(s *Server, c *Context) error {
	t, err := s.prog.Arrive(c.R.Context(), c.Actor(), programme.Arrive{Act: c.Act(), Event: c.R.PathValue("event"), Language: c.Form("language")})
	if err != nil {
		return c.showDesk(fault.Of(err))
	}
	return c.Go("/events/" + c.R.PathValue("event") + "/desk/" + t.Visit)
}

// The steps of a visit at the desk.
const (
	stepConsent   = "consent"
	stepQuestions = "questions"
	stepAte       = "ate"
	stepContact   = "contact"
	stepAbout     = "about" // only where the programme asks any of these questions; nothing waits for it
	stepDone      = "done"
)

var deskSteps = []string{stepConsent, stepQuestions, stepAte, stepContact}

var deskStepWords = map[string]string{stepConsent: "consent", stepQuestions: "questions", stepAte: "last food", stepContact: "contact", stepAbout: "about them", stepDone: "done"}

// deskStep is the step that is still missing. What people say about themselves comes when they stand in the line for the test already.
func deskStep(d *programme.Day, v *visit.State) string {
	switch {
	case v.Phase() == visit.AtTest && !v.Tested() && d.AsksAbout() && !deskStepDone(v, stepAbout):
		return stepAbout
	case v.Phase() != visit.AtDesk:
		return stepDone
	case v.Consent == nil:
		return stepConsent
	case v.Answers == nil:
		return stepQuestions
	case v.Ate == nil:
		return stepAte
	}
	return stepContact
}

// deskVisitView is one step of one visit at the desk.
type deskVisitView struct {
	Page       ui.Page
	Fault      *fault.Fault
	Base, Path string
	Tongues    []ui.Link // for the next ticket
	Switch     []ui.Link // the same in the other languages
	ID         string
	Ticket     string
	Step       string
	Steps      []ui.Step
	Lang       string
	Say        speech
	Command    string
	Shut       *fault.Fault

	Text, Version, How string // consent

	Asking  programme.Asking // questions
	Given   []givenAnswer
	Wrong   string
	Signs   []ui.Option
	Ticked  []string
	Goodbye bool // not eligible, not recorded yet
	Kind    string
	Route   string

	AteDay, AteAt  string // last food
	Today, Earlier []quickTime
	FastingBefore  string

	Contact contactView

	About []aboutRow // what they may say about themselves

	Phase  visit.Phase // done
	MayAsk bool        // about themselves, now or again
	Ate    string
	Count  string
}

// contactView is the permission, and with it the name and number. It is the same at the desk and at Explain.
type contactView struct {
	Fault                    *fault.Fault
	Action, YesHref, Command string
	Lang                     string
	Say                      speech
	Allow, Call              string
	Name, Phone, When        string
	Address                  string
}

// givenAnswer is an answer that travels with the form until all are there.
type givenAnswer struct{ Key, Value string }

// quickTime is a full hour that is chosen with one press.
type quickTime struct{ Label, Value string }

func deskVisit(_ *Server, c *Context) error { return c.showVisitAtDesk(nil, nil) }

// showVisitAtDesk renders the step that is due, or an earlier one that was asked for. change fills in what a step needs
// beyond the visit.
func (c *Context) showVisitAtDesk(f *fault.Fault, change func(*programme.Day, *visit.State, *deskVisitView)) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	t := c.say()
	view := deskVisitView{Fault: c.told(f), Base: dayBase(d), ID: v.ID, Ticket: ticketText(v.Ticket), Command: c.command(), Shut: c.told(doorsShut(d)), Phase: v.Phase(), Ate: t.ateText(d, v, c.now(d))}
	view.Path = view.Base + "/desk/" + v.ID
	view.Lang = spokenLang(d, cmp.Or(c.field("lang"), v.Language))
	view.Say = speechOf(d, view.Lang)
	view.Step = deskStep(d, v)
	if back := c.field("step"); canGoBack(v, back) {
		view.Step = back
	}
	view.Switch = tongueLinks(d, view.Path+"?step="+view.Step+"&lang=", view.Lang)
	view.Tongues = tongueLinks(d, "", "")
	steps := deskSteps
	if d.AsksAbout() {
		steps = append(slices.Clone(steps), stepAbout)
	}
	for _, s := range steps {
		step := ui.Step{Label: t.Desk.Titles[s], State: ui.StepNext}
		if deskStepDone(v, s) {
			step.State, step.Href = ui.StepDone, view.Path+"?step="+s
		}
		if s == view.Step {
			step.State = ui.StepNow
		}
		view.Steps = append(view.Steps, step)
	}
	view.Page = c.stationPage(d, t.Desk.Titles[view.Step], view.Base+"/desk", t.Desk.Back)
	view.Page.Ticket = view.Ticket
	c.fillDesk(d, v, &view)
	if change != nil {
		change(d, v, &view)
	}
	view.Wrong, _ = t.sentence(view.Wrong)
	return c.Show(f, deskVisitPage(view))
}

// canGoBack reports whether a step that was done may be done again: before the test, while the visit goes on. What people say about themselves
// may be said at any time.
func canGoBack(v *visit.State, step string) bool {
	if step == stepAbout { // no test rests on it
		return v.Answers != nil && !v.Phase().Ended()
	}
	return deskStepDone(v, step) && !v.Phase().Ended() && !v.Tested()
}

func deskStepDone(v *visit.State, step string) bool {
	switch step {
	case stepConsent:
		return v.Consent != nil
	case stepQuestions:
		return v.Answers != nil
	case stepAte:
		return v.Ate != nil
	case stepContact:
		return v.Contact != nil
	case stepAbout:
		for _, q := range about.Questions() {
			if _, asked := v.About[q.Key]; asked && !q.End {
				return true
			}
		}
	}
	return false
}

func (c *Context) fillDesk(d *programme.Day, v *visit.State, view *deskVisitView) {
	now, t := c.now(d), c.say()
	switch view.Step {
	case stepConsent:
		view.Text, view.Version, view.How = d.Protocol.Consent.Text.In(view.Lang), d.Protocol.Consent.Version, c.Form("how")
	case stepQuestions:
		view.ask(d, protocol.Answers{}, nil)
	case stepAte:
		view.AteDay, view.AteAt = cmp.Or(c.Form("ate_day"), "today"), c.Form("ate_at")
		view.Today, view.Earlier = quickTimes(now)
		cut := now.Add(-time.Duration(d.Protocol.FastingHours) * time.Hour)
		view.FastingBefore = t.Desk.FastingBefore(cut.Format("15:04"), t.dayWord(cut, now), d.Protocol.FastingHours)
	case stepContact:
		view.Contact = c.contactView(view.Fault, view.Path+"/contact", view.Path+"?step="+stepContact, view.Lang, view.Say, view.Command)
	case stepAbout:
		view.About = c.aboutRows(d, v, view)
	case stepDone:
		view.MayAsk = d.AsksAbout() && canGoBack(v, stepAbout)
		view.Page.Title = t.Line.Ticket(view.Ticket)
		view.Page.Ticket = ""
		if v.Answers != nil && !v.Answers.Eligible {
			q, _ := d.Protocol.Question(v.Answers.Reason)
			view.Kind, view.Route, view.Count = q.Sentence.In(view.Lang), q.Route.In(view.Lang), v.Answers.Counted
		}
	}
}

func (c *Context) contactView(f *fault.Fault, action, page, lang string, say speech, command string) contactView {
	return contactView{
		Fault: f, Action: action, YesHref: page + "&allow=yes&lang=" + lang, Command: command, Lang: lang, Say: say, Allow: c.field("allow"),
		Call: c.Form("call"), Name: c.Form("contact_name"), Phone: c.Form("contact_phone"), When: c.Form("contact_when"), Address: c.Form("contact_address"),
	}
}

// quickTimes offers the full hours of this morning and of last evening.
func quickTimes(now time.Time) (today, evening []quickTime) {
	const morning, dusk = 5, 17
	y, m, day := now.Date()
	for h := morning; h <= now.Hour(); h++ {
		t := time.Date(y, m, day, h, 0, 0, 0, now.Location())
		today = append(today, quickTime{t.Format("15:04"), t.Format(quickLayout)})
	}
	for h := dusk; h < 24; h++ {
		t := time.Date(y, m, day-1, h, 0, 0, 0, now.Location())
		evening = append(evening, quickTime{t.Format("15:04"), t.Format(quickLayout)})
	}
	return today, evening
}

const quickLayout = "2006-01-02T15:04"

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

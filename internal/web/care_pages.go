package web

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// careView is the page of somebody who needs help now: what to do in order, what was done and when.
type careView struct {
	Page       ui.Page
	Fault      *fault.Fault
	Base, Path string
	ID, Ticket string
	Command    string
	Open       bool
	Critical   bool
	Word       string
	Since      string
	Place      string
	Readings   []string

	Emergency, Venue, Address string
	Urgent                    string
	Lang                      string

	Todo   []careForm // what is missing, in order
	More   []careForm // acts that may come at any time
	Done   []careDone
	Signed string

	Sugar       programme.Sugar
	SugarTimer  *ui.Timer
	Grams       int
	Forms       []string
	Never, Then string

	Supervisors []ui.Option
	Supervisor  string
	Signs       []ui.Option
	Posted      string // the step of the form that was refused
	Choice      string
	Ticked      []string
	Note        string
	TestHref    string // where the recheck or the repeat is read
	MayTest     bool
	Leave       bool // the person has gone, the ticket can be closed
}

// careForm is one act of care.
type careForm struct {
	Step, Sentence, Lang string
}

// careDone is one act with its time.
type careDone struct {
	At, Text, By string
}

// careChoices are what may be chosen at a step of care, in order.
var careChoices = map[string][]string{
	"sugar": {"given", "cannot-swallow", "refused"}, "action": {"emergency-called", "same-day-care", "stays-here", "declined-care"},
}

// choices offers what may be chosen at a step of care.
func (t *tongue) choices(step string) []ui.Option {
	var out []ui.Option
	for _, key := range careChoices[step] {
		out = append(out, ui.Option{Value: key, Label: t.Care.Choices[key]})
	}
	return out
}

func careShow(_ *Server, c *Context) error { return c.showCare(nil) }

func (c *Context) showCare(f *fault.Fault) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	now, zone, t := c.now(d), d.Event.Zone(), c.say()
	view := careView{
		Fault: c.told(f), Base: dayBase(d), ID: v.ID, Ticket: ticketText(v.Ticket), Command: c.command(), Open: v.OpenCare(), Lang: v.Language,
		Emergency: d.Event.EmergencyNumber(d.Charter.Details.Emergency), Venue: d.Event.Plan.Venue, Address: d.Event.Plan.Address, Urgent: placeText(d, d.Event.Plan.Urgent.Name),
		Posted: c.Form("step"), Choice: c.Form("choice"), Ticked: c.Forms("sign"), Note: c.Form("note"), Supervisor: c.Form("sign_person"),
	}
	view.Path = view.Base + "/care/" + v.ID
	view.Page = c.stationPage(d, t.Care.Title, "/", t.Shell.Start)
	view.Page.Ticket = view.Ticket
	if v.Care == nil {
		return c.Show(f, carePage(view))
	}
	view.Page.Title = t.careWord(v.Care)
	view.Critical, view.Since = v.Care.Critical(), v.Care.At.In(zone).Format("15:04")
	view.Place = v.Care.Station
	for _, r := range v.Readings {
		view.Readings = append(view.Readings, t.Line.ReadAt(t.reading(r.Reading), r.At.In(zone).Format("15:04")))
	}
	c.fillCare(d, v, &view, now)
	return c.Show(f, carePage(view))
}

func (c *Context) fillCare(d *programme.Day, v *visit.State, view *careView, now time.Time) {
	missing, said := map[string]bool{}, c.say()
	for _, t := range programme.CareToDo(v, d.Protocol) {
		missing[t.Step] = true
		sentence, lang := said.sentence(t.Sentence)
		view.Todo = append(view.Todo, careForm{t.Step, sentence, lang})
	}
	view.Sugar = d.Sugar(v)
	if d.RecheckDue(v) {
		t := sugarTimer(said, d, v, now, false)
		view.SugarTimer = &t
	}
	for _, step := range []string{"action", "signs", "sugar", "handover", "arrived"} {
		_, done := v.Care.Last(step)
		if !missing[step] && (done || step == "signs" || step == "action") {
			view.More = append(view.More, careForm{Step: step})
		}
	}
	for _, s := range v.Care.Steps {
		view.Done = append(view.Done, careDone{At: s.At.In(now.Location()).Format("15:04:05"), Text: said.careStep(d, s), By: d.NameOf(s.By)})
	}
	if v.Care.Signed != nil {
		view.Signed = said.Care.Signed(d.NameOf(v.Care.Signed.Supervisor), v.Care.SignedAt.In(now.Location()).Format("15:04"))
	}
	low := d.Protocol.LowCare
	view.Grams, view.Never, view.Then = low.SugarGrams, low.Never.In(said.Lang), low.Then.In(said.Lang)
	view.Forms = textsIn(low.Forms, said.Lang)
	view.Supervisors = signersIn(said, d.Signers(people.Supervisor, people.Lead))
	if c.holds(senior) {
		view.Supervisor = cmp.Or(view.Supervisor, c.Me.ID)
	}
	for _, s := range d.Protocol.CrisisSigns {
		o := ui.Option{Value: s.Key, Label: s.Text.In(said.Lang)}
		if v.Language != said.Lang {
			o.Hint = s.Text.In(v.Language)
		}
		view.Signs = append(view.Signs, o)
	}
	view.TestHref, view.MayTest = view.Base+"/test/"+v.ID, c.holds(test)
	view.Leave = !v.Phase().Ended()
}

// careStep says what was done in one line.
func (t *tongue) careStep(d *programme.Day, s visit.Step) string {
	parts := []string{t.Care.Steps[s.Step]}
	switch s.Step {
	case "supervisor":
		parts = append(parts, d.NameOf(s.Choice))
	case "signs":
		if len(s.Signs) == 0 {
			parts = append(parts, t.Care.NoSigns)
		}
		for _, key := range s.Signs {
			sign, _ := d.Protocol.Sign(key)
			parts = append(parts, sign.Text.In(t.Lang))
		}
	default:
		if slices.Contains(careChoices[s.Step], s.Choice) {
			parts = append(parts, t.Care.Choices[s.Choice])
		}
	}
	if s.Note != "" {
		parts = append(parts, s.Note)
	}
	return parts[0] + ": " + strings.Join(parts[1:], ", ")
}

// careOpen calls for help for a person who looks unwell.
func careOpen(s *Server, c *Context) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if _, err := s.prog.OpenCare(c.R.Context(), c.Actor(), programme.OpenCare{Act: c.Act(), Visit: v.ID, Station: c.Form("station"), Note: c.Form("note")}); err != nil {
		return c.showCare(fault.Of(err))
	}
	return c.Done(dayBase(d)+"/care/"+v.ID, c.say().Care.Called)
}

func careAttend(s *Server, c *Context) error {
	return careAct(c, func(v *visit.State) error {
		_, err := s.prog.AttendCare(c.R.Context(), c.Actor(), programme.AttendCare{Act: c.Act(), Visit: v.ID, Sign: c.Sign("sign")})
		return err
	})
}

func careStep(s *Server, c *Context) error {
	return careAct(c, func(v *visit.State) error {
		signs := c.Forms("sign")
		if c.Form("step") == "signs" && c.Form("choice") == "none" && len(signs) > 0 {
			return c.say().bad("signs", c.say().Desk.SignsButNone)
		}
		if c.Form("step") == "signs" && c.Form("choice") != "none" && len(signs) == 0 {
			return c.say().bad("signs", c.say().Desk.TickSigns)
		}
		step := programme.CareStep{Act: c.Act(), Visit: v.ID, Step: c.Form("step"), Choice: c.Form("choice"), Signs: signs, Note: c.Form("note")}
		if step.Step == "signs" {
			step.Choice = ""
		}
		_, err := s.prog.CareStep(c.R.Context(), c.Actor(), step)
		return err
	})
}

func careSign(s *Server, c *Context) error {
	return careAct(c, func(v *visit.State) error {
		_, err := s.prog.SignCare(c.R.Context(), c.Actor(), programme.SignCare{Act: c.Act(), Visit: v.ID, Note: c.Form("note"), Sign: c.Sign("sign")})
		return err
	})
}

// careAct runs one command of care; a refusal shows the page again with what was typed.
func careAct(c *Context, run func(*visit.State) error) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	if err := run(v); err != nil {
		f := fault.Of(err)
		if f.Kind == fault.Internal {
			return err
		}
		return c.showCare(f)
	}
	return c.Done(dayBase(d)+"/care/"+v.ID, c.say().Care.Written(c.now(d).Format("15:04:05")))
}

// wrongIn is the message for a field of one of several forms.
func (v careView) wrongIn(step, field string) string {
	if v.Posted != step {
		return ""
	}
	return ui.Message(v.Fault, field)
}

// typedIn is what was typed in one of several forms.
func (v careView) typedIn(step, value string) string {
	if v.Posted != step || v.Fault == nil {
		return ""
	}
	return value
}

// careNoteLabel asks for what is written beside a step.
func (t *tongue) careNoteLabel(step string) string {
	if step == "arrived" {
		return t.Care.WhereArrived
	}
	return t.Care.ToWhom
}

// careSince says since when, and what the meter showed.
func (t *tongue) careSince(v careView) string {
	if len(v.Readings) == 0 {
		return t.Care.Since(v.Since)
	}
	return t.Care.SinceReadings(v.Since, strings.Join(v.Readings, ", "))
}

// carePlace is where the person is, for the telephone.
func (t *tongue) carePlace(v careView) string {
	if v.Place == "" {
		return v.Venue
	}
	return t.Care.Place(v.Venue, v.Place)
}

// helpLang marks the participant's words beside ours.
func helpLang(lang, hint string) string {
	if hint == "" {
		return ""
	}
	return lang
}

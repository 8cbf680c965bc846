package web

import (
	"cmp"
	"fmt"
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
	Step, Sentence string
}

// careDone is one act with its time.
type careDone struct {
	At, Text, By string
}

var careChoices = map[string][]ui.Option{
	"sugar": {{Value: "given", Label: "Sugar given"}, {Value: "cannot-swallow", Label: "Cannot swallow: nothing by mouth"}, {Value: "refused", Label: "Does not want it"}},
	"action": {
		{Value: "emergency-called", Label: "Emergency services called"},
		{Value: "same-day-care", Label: "Goes to same-day care"},
		{Value: "stays-here", Label: "Stays here under watch"},
		{Value: "declined-care", Label: "Does not want care"},
	},
}

var careStepWords = map[string]string{
	"supervisor": "Supervisor with the person", "signs": "Signs", "sugar": "Sugar", "action": "What was done", "handover": "Handed over", "arrived": "Arrived",
	"repeat": "Repeat", "recheck": "Recheck",
}

func careShow(_ *Server, c *Context) error { return c.showCare(nil) }

func (c *Context) showCare(f *fault.Fault) error {
	d, v, err := c.visit()
	if err != nil {
		return err
	}
	now, zone := c.now(d), d.Event.Zone()
	view := careView{
		Fault: f, Base: dayBase(d), ID: v.ID, Ticket: ticketText(v.Ticket), Command: c.command(), Open: v.OpenCare(), Lang: v.Language,
		Emergency: d.Event.EmergencyNumber(d.Charter.Details.Emergency), Venue: d.Event.Plan.Venue, Address: d.Event.Plan.Address, Urgent: placeText(d, d.Event.Plan.Urgent.Name),
		Posted: c.Form("step"), Choice: c.Form("choice"), Ticked: c.Forms("sign"), Note: c.Form("note"), Supervisor: c.Form("sign_person"),
	}
	view.Path = view.Base + "/care/" + v.ID
	view.Page = c.stationPage(d, "Care", "/", "Start")
	view.Page.Ticket = view.Ticket
	if v.Care == nil {
		return c.Show(f, carePage(view))
	}
	view.Page.Title = careWord(v.Care)
	view.Critical, view.Since = v.Care.Critical(), v.Care.At.In(zone).Format("15:04")
	view.Place = v.Care.Station
	for _, r := range v.Readings {
		view.Readings = append(view.Readings, shownWithUnit(r.Reading)+" at "+r.At.In(zone).Format("15:04"))
	}
	c.fillCare(d, v, &view, now)
	return c.Show(f, carePage(view))
}

func (c *Context) fillCare(d *programme.Day, v *visit.State, view *careView, now time.Time) {
	missing := map[string]bool{}
	for _, t := range programme.CareToDo(v, d.Protocol) {
		missing[t.Step] = true
		view.Todo = append(view.Todo, careForm{t.Step, t.Sentence})
	}
	view.Sugar = d.Sugar(v)
	if d.RecheckDue(v) {
		t := sugarTimer(d, v, now, false)
		view.SugarTimer = &t
	}
	for _, step := range []string{"action", "signs", "sugar", "handover", "arrived"} {
		_, done := v.Care.Last(step)
		if !missing[step] && (done || step == "signs" || step == "action") {
			view.More = append(view.More, careForm{step, "Write it down once more, or change it."})
		}
	}
	for _, s := range v.Care.Steps {
		view.Done = append(view.Done, careDone{At: s.At.In(now.Location()).Format("15:04:05"), Text: careStepText(d, s), By: d.NameOf(s.By)})
	}
	if v.Care.Signed != nil {
		view.Signed = fmt.Sprintf("Signed by %s at %s.", d.NameOf(v.Care.Signed.Supervisor), v.Care.SignedAt.In(now.Location()).Format("15:04"))
	}
	low := d.Protocol.LowCare
	view.Grams, view.Never, view.Then = low.SugarGrams, low.Never.In("en"), low.Then.In("en")
	view.Forms = textsIn(low.Forms, "en")
	view.Supervisors = signers(d.Signers(people.Supervisor, people.Lead))
	if c.holds(senior) {
		view.Supervisor = cmp.Or(view.Supervisor, c.Me.ID)
	}
	for _, s := range d.Protocol.CrisisSigns {
		o := ui.Option{Value: s.Key, Label: s.Text.In("en")}
		if v.Language != "en" {
			o.Hint = s.Text.In(v.Language)
		}
		view.Signs = append(view.Signs, o)
	}
	view.TestHref, view.MayTest = view.Base+"/test/"+v.ID, c.holds(test)
	view.Leave = !v.Phase().Ended()
}

// careStepText says what was done in one line.
func careStepText(d *programme.Day, s visit.Step) string {
	parts := []string{careStepWords[s.Step]}
	switch s.Step {
	case "supervisor":
		parts = append(parts, d.NameOf(s.Choice))
	case "signs":
		if len(s.Signs) == 0 {
			parts = append(parts, "none")
		}
		for _, key := range s.Signs {
			sign, _ := d.Protocol.Sign(key)
			parts = append(parts, sign.Text.In("en"))
		}
	default:
		for _, o := range careChoices[s.Step] {
			if o.Value == s.Choice {
				parts = append(parts, o.Label)
			}
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
	return c.Done(dayBase(d)+"/care/"+v.ID, "A supervisor is called on every screen. Stay with the person.")
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
			return fault.BadField("signs", "Signs are ticked, but None was pressed. Look at the person again.")
		}
		if c.Form("step") == "signs" && c.Form("choice") != "none" && len(signs) == 0 {
			return fault.BadField("signs", "Tick the signs that are there, or press None.")
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
	return c.Done(dayBase(d)+"/care/"+v.ID, "Written down at "+c.now(d).Format("15:04:05")+".")
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

func careNoteLabel(step string) string {
	if step == "arrived" {
		return "Arrived where and when, and who said so"
	}
	return "To whom the person went, and how"
}

// careSince says since when, and what the meter showed.
func careSince(v careView) string {
	if len(v.Readings) == 0 {
		return "Since " + v.Since + "."
	}
	return "Since " + v.Since + ". Readings: " + strings.Join(v.Readings, ", ") + "."
}

// carePlace is where the person is, for the telephone.
func carePlace(v careView) string {
	if v.Place == "" {
		return v.Venue
	}
	return v.Venue + ", station " + v.Place
}

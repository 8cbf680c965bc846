package web

import (
	"fmt"

	"fairstick/internal/civil"
	"fairstick/internal/competence"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// observeView is the verifier's form: a tap each step, then two PINs.
type observeView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Form     dayForm
	Level    cards.Level
	Levels   []ui.Link
	Steps    []observeStep
	Note     ui.Input
	Model    ui.Input
	Sample   []item
	SampleOn bool
	PIN      ui.Input
	Observer ui.Input
	Their    ui.Input
	Marks    string       // what is wrong with the marks
	Gate     *fault.Fault // why the one who is signed in may not observe
	Of       string       // of a second observer: the first one's form
	Submit   string
}

type observeStep struct {
	cards.Step
	ID, Name, Legend, Value string
	Ends                    bool // one miss ends the observation
}

var markAnswers = []ui.Option{{Value: "ok", Label: "OK"}, {Value: "missed", Label: "Missed"}, {Value: "not-seen", Label: "Not seen"}}

func observeShow(_ *Server, c *Context) error { return c.observeAgain(nil) }

func (c *Context) observeAgain(f *fault.Fault) error {
	t, err := c.s.prog.Training(c.R.Context(), c.R.PathValue("person"), civil.Date{})
	if err != nil {
		return err
	}
	level, of := cards.Level(c.query("level")), c.query("of")
	if c.R.Method == "POST" {
		level, of = cards.Level(c.Form("level")), c.Form("of")
	}
	if !level.Valid() || len(cards.For(level)) == 0 {
		level = t.Target
	}
	if len(cards.For(level)) == 0 {
		level = cards.Screener
	}
	path := "/training/" + t.Person.ID + "/observe"
	refused := ""
	if f != nil {
		refused = "observe"
	}
	v := observeView{Page: c.page("Observe " + t.Person.Details.Name), Fault: f, Form: c.dayForm("observe", path, refused, f), Level: level}
	v.Page.Nav = nil
	v.Page.Lead = fmt.Sprintf("As %s. One missed step marked S or V ends it as not passed. What did not come up stays not seen.", levelTitle(level))
	v.Submit, v.Gate = "Record the observation", fault.Of(c.s.prog.MayObserve(c.R.Context(), c.Me.ID, t.Person.ID, string(level)))
	if of != "" {
		v.Of, v.Submit = of, "Record the second form"
		first, err := c.s.prog.MaySeeAgain(c.R.Context(), c.Me.ID, t.Person.ID, of)
		if v.Gate = fault.Of(err); v.Gate != nil && v.Gate.Kind == fault.Missing {
			return err
		}
		level, v.Level = first.Level, first.Level
		v.Page.Lead = "Second observer of the same fingerstick. It shows whether two see the same; it counts for nothing else. Mark what you saw yourself."
	}
	v.Page.Back = &ui.Link{Href: "/", Label: "Start"}
	if c.holds(senior) {
		v.Page.Back = &ui.Link{Href: "/training/" + t.Person.ID, Label: "Training"}
	}
	for _, l := range cards.Levels {
		if of == "" && len(cards.For(l)) > 0 && l != level && l != cards.Verifier {
			v.Levels = append(v.Levels, ui.Link{Href: path + "?level=" + string(l), Label: levelTitle(l)})
		}
	}
	for _, st := range cards.For(level) {
		name := "mark-" + st.Key
		v.Steps = append(v.Steps, observeStep{st, v.Form.id(name), name, fmt.Sprintf("%d. %s", st.Number, st.Do.In("en")), v.Form.value(name, ""), t.Rules.Ends(st)})
	}
	v.Marks = v.Form.wrong("marks")
	v.Note = optional(size(v.Form.line("note", "Note", ""), ui.Full, ui.Area, "What was good, what to practise. No name of a participant."))
	models := []ui.Option{{Label: "None"}}
	for _, m := range t.Models {
		models = append(models, ui.Option{Value: m.Name, Label: m.Name})
	}
	v.Model = optional(chosenFrom(v.Form.line("model", "Meter in use", ""), models))
	c.observeSample(&v)
	v.PIN = pinOf(v.Form.line("signed_pin", "PIN of "+t.Person.Details.Name, ""))
	who, err := c.withPIN()
	if err != nil {
		return err
	}
	observer := v.Form.line("observer_person", "Verifier", c.Me.ID)
	v.Observer = chosenFrom(observer, who)
	v.Their = pinOf(v.Form.line("observer_pin", "PIN of the verifier", ""))
	return c.Show(f, ObservePage(v))
}

// observeSample asks for a test whose truth the verifier knows.
func (c *Context) observeSample(v *observeView) {
	f := v.Form
	kind := f.choice("sample_kind", "Kind of sample", "", ui.Option{Value: competence.BlindControl, Label: "Blind control", Hint: "A control whose level the person does not know"}, ui.Option{Value: competence.SplitSample, Label: "Split sample", Hint: "The same drop read by the person and by you"})
	kind.Optional = true
	unit := f.choice("sample_unit", "Unit", "mg/dL", ui.Option{Value: "mg/dL", Label: "mg/dL"}, ui.Option{Value: "mmol/L", Label: "mmol/L"})
	unit.Row = true
	number := func(name, label, help string) ui.Input {
		return optional(size(f.line(name, label, ""), ui.Short, ui.Number, help))
	}
	v.Sample = []item{
		pick(kind), pick(unit), field(number("sample_reading", "Reading of the person", "")),
		pair(number("sample_low", "Printed range from", ""), number("sample_high", "to", "")), field(number("sample_other", "Your reading", "Of a split sample.")),
	}
	for _, name := range []string{"sample_kind", "sample_unit", "sample_reading", "sample_low", "sample_high", "sample_other", "reading"} {
		v.SampleOn = v.SampleOn || f.wrong(name) != ""
	}
}

func observeRecord(s *Server, c *Context) error {
	person := c.R.PathValue("person")
	if of := c.Form("of"); of != "" {
		return c.seenAgain(person, of)
	}
	cmd := programme.RecordObservation{
		Act: c.Act(), Person: person, Level: c.Form("level"), Model: c.Form("model"), Note: c.Form("note"),
		Signed: programme.Sign{Person: person, PIN: c.Form("signed_pin")}, Observer: c.Sign("observer"),
		Sample: programme.SampleTaken{Kind: c.Form("sample_kind"), Unit: c.Form("sample_unit"), Reading: c.Form("sample_reading"), Low: c.Form("sample_low"), High: c.Form("sample_high"), Other: c.Form("sample_other")},
	}
	cmd.Marks = c.marks()
	done, err := s.prog.RecordObservation(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return c.observeAgain(fault.Of(err))
	}
	said := "The observation is recorded: passed."
	switch {
	case len(done.Verdict.Ends) > 0:
		said = "The observation is recorded: not passed. A critical step was missed."
	case done.Within != nil && !*done.Within:
		said = "The observation is recorded: not passed. The sample is outside its limits."
	case !done.Verdict.Passed:
		said = "The observation is recorded: not passed. Too many steps were missed."
	case len(done.Verdict.Unseen) > 0:
		said = fmt.Sprintf("The observation is recorded: passed. %s must be seen another time.", plural(len(done.Verdict.Unseen), "critical step", "critical steps"))
	}
	if !c.holds(senior) {
		return c.Done("/", said)
	}
	return c.Done("/training/"+person, said)
}

// marks are the steps that were tapped.
func (c *Context) marks() map[string]string {
	out := map[string]string{}
	for _, st := range cards.Steps() {
		if m := c.Form("mark-" + st.Key); m != "" {
			out[st.Key] = m
		}
	}
	return out
}

func (c *Context) seenAgain(person, of string) error {
	_, err := c.s.prog.RecordSecondForm(c.R.Context(), c.Actor(), programme.RecordSecondForm{
		Act: c.Act(), Person: person, Of: of, Marks: c.marks(), Note: c.Form("note"), Observer: c.Sign("observer"),
	})
	if err != nil {
		return c.observeAgain(fault.Of(err))
	}
	to := "/"
	if c.holds(senior) {
		to = "/training/" + person
	}
	return c.Done(to, "The second form is recorded.")
}

func certificatePDF(s *Server, c *Context) error {
	x, err := s.prog.CertificateOf(c.R.Context(), c.R.PathValue("person"))
	if err != nil {
		return err
	}
	doc := paper.Certificate{
		Programme: x.Programme, Name: x.Person.Details.Name, Title: x.Person.Details.Title, Level: levelTitle(x.SignOff.Level), From: x.SignOff.From.Long(), Until: x.SignOff.Until.Long(),
		Methods: methodsText(x.SignOff.Methods), By: x.By, Code: x.Code, ID: x.SignOff.FactID,
	}.Document()
	doc.Printed, doc.Invented = s.prog.Now(), s.opt.Demo != nil
	return c.sendPDF("certificate-"+x.Code, doc)
}

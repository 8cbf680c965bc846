package web

import (
	"fmt"
	"net/url"
	"strings"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// runView is one control run: what is on the table, the printed range, and the pad for what the meter shows.
type runView struct {
	Page     ui.Page
	Fault    *fault.Fault
	Base     string
	Chosen   bool
	Range    string
	Shut     *fault.Fault // a gate that is shut before the run
	Code     *codeForm    // the gate that is shut asks for the code
	Form     dayForm
	Pad      ui.Pad
	Meter    string
	Vial     string
	Bottle   string
	Meters   []ui.Option
	Vials    []ui.Option
	Bottles  []ui.Option
	NoBottle bool
}

// chosenRun is what a run is done with, from the query or the form.
type chosenRun struct {
	meter, lot, vial, solution, bottle string
}

func chosenOf(q url.Values) chosenRun {
	r := chosenRun{meter: q.Get("meter")}
	r.lot, r.vial, _ = strings.Cut(q.Get("vial"), "/")
	r.solution, r.bottle, _ = strings.Cut(q.Get("bottle"), "/")
	return r
}

func (r chosenRun) command(c *Context) programme.RunControl {
	return programme.RunControl{
		Act: c.Act(), Event: c.R.PathValue("event"), Meter: r.meter, StripLot: r.lot, Vial: r.vial, ControlLot: r.solution,
		Bottle: r.bottle, Reading: c.Form("reading"),
	}
}

func controlsRunShow(s *Server, c *Context) error { return c.runAgain(c.R.URL.Query(), "", nil) }

func (c *Context) runAgain(q url.Values, refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	base := dayBase(d) + "/controls"
	r := chosenOf(q)
	v := runView{
		Page: c.dayPage(d, "Run a control", "controls"), Fault: f, Base: base, Meter: q.Get("meter"), Vial: q.Get("vial"), Bottle: q.Get("bottle"),
		Form: c.dayForm("run", base+"/run", refused, f),
	}
	v.Page.Back = &ui.Link{Href: base, Label: "Controls"}
	c.runChoices(&v, d)
	m, lot, sol := d.MeterByID(r.meter), d.StripLotByID(r.lot), d.ControlLotByID(r.solution)
	if m == nil || lot == nil || sol == nil || r.vial == "" || r.bottle == "" {
		return c.Show(f, ControlRunPage(v))
	}
	v.Chosen = true
	v.Page.Title = "Level " + sol.Details.Level + " on meter " + m.Details.Label
	rng := lot.Details.Ranges[sol.Details.Level]
	if !rng.Low.IsZero() {
		v.Range = rng.Low.Number() + " to " + rng.High.String()
	}
	v.Page.Lead = "Strips of lot " + lot.Details.Lot + ", vial " + r.vial + ". Control lot " + sol.Details.Lot + ", bottle " + r.bottle + "."
	if err := d.ControlGate(c.Me, r.command(c), c.now(d)); err != nil {
		v.Shut = fault.Of(err)
		if k := v.Shut.Key; k == "code-unread" || k == "code-differs" {
			v.Code = c.codeForm(d, m, lot.ID, q.Encode(), refused, f)
		}
	}
	v.Pad = ui.Pad{
		Name: "reading", Label: "What the meter shows", Unit: string(m.Details.Unit), Decimal: m.Details.Unit == glucose.MmolPerL, Reading: true,
		Focus: f == nil, Value: v.Form.value("reading", ""), Error: v.Form.wrong("reading"),
	}
	return c.Show(f, ControlRunPage(v))
}

// runChoices lists what lies on the tables today.
func (c *Context) runChoices(v *runView, d *programme.Day) {
	day := d.Event.Day(c.now(d))
	v.Meters, v.Vials, v.Bottles = []ui.Option{{Label: "Choose a meter"}}, []ui.Option{{Label: "Choose a vial"}}, []ui.Option{{Label: "Choose a bottle"}}
	for _, m := range d.BroughtMeters() {
		o := ui.Option{Value: m.ID, Label: m.Details.Label, Disabled: m.Quarantine != nil}
		if o.Disabled {
			o.Label += " (quarantine)"
		}
		v.Meters = append(v.Meters, o)
	}
	for _, l := range d.BroughtLots() {
		for _, x := range l.OpenVials(day) {
			v.Vials = append(v.Vials, ui.Option{Value: l.ID + "/" + x.Name, Label: "Lot " + l.Details.Lot + ", vial " + x.Name})
		}
	}
	for _, sol := range d.ControlLots {
		for _, x := range sol.OpenBottles(day) {
			v.Bottles = append(v.Bottles, ui.Option{Value: sol.ID + "/" + x.Name, Label: "Level " + sol.Details.Level + ", lot " + sol.Details.Lot + ", bottle " + x.Name})
		}
	}
	v.NoBottle = len(v.Bottles) == 1 || len(v.Vials) == 1
}

func controlsRun(s *Server, c *Context) error {
	q := url.Values{"meter": {c.Form("meter")}, "vial": {c.Form("vial")}, "bottle": {c.Form("bottle")}}
	ran, err := s.prog.RunControl(c.R.Context(), c.Actor(), chosenOf(q).command(c))
	if err != nil {
		return c.runAgain(q, "run", fault.Of(err))
	}
	return c.Go("/events/" + url.PathEscape(c.R.PathValue("event")) + "/controls/runs/" + ran.ID)
}

// verdictView is what a run showed, in big words, and what to do now.
type verdictView struct {
	Page       ui.Page
	Fault      *fault.Fault
	Row        controlRow
	Number     string
	Unit       string
	Next       string
	Main       controlNext
	Repeat     controlNext
	Cause      *dayForm
	Quarantine *dayForm
	Back       string
	Correct    string // where a mistake in the run is put right
}

func controlsVerdict(s *Server, c *Context) error { return c.verdictAgain("", nil) }

func (c *Context) verdictAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	run, ok := d.Run(c.R.PathValue("run"))
	if !ok {
		return fault.New(fault.Missing, "no-such-run", "There is no such control run in the record.", "", "Go back to Controls and choose it in the log.")
	}
	m, lot := d.MeterByID(run.Meter), d.StripLotByID(run.StripLot)
	if m == nil || lot == nil {
		return fault.New(fault.Missing, "no-such-meter", "The meter or the strips of this run are not in the record.", "", "Go back to Controls.")
	}
	row := controlRowOf(d, run)
	base := dayBase(d) + "/controls"
	v := verdictView{Fault: f, Row: row, Number: run.Reading.Shown(), Unit: string(run.Reading.Unit), Back: base, Correct: dayBase(d) + "/correct-run/" + run.ID}
	v.Page = c.dayPage(d, verdictTitle(run, row), "controls")
	v.Page.Back = &ui.Link{Href: base, Label: "Controls"}
	day := d.Event.Day(c.now(d))
	said, clear := d.AfterRun(run)
	v.Next = said
	v.Main = controlNext{Label: "Back to controls", Href: base}
	v.Repeat = nextRun(d, m, lot, run.Vial, run.Level, day)
	v.Repeat.Label = "Run level " + run.Level + " again"
	switch {
	case row.In && clear.Cleared:
		if n := controlsOf(d, c.now(d)).Next; n != nil {
			v.Main = *n
		}
	case row.In && len(clear.Missing) > 0 && m.Quarantine == nil:
		v.Main = nextRun(d, m, lot, run.Vial, clear.Missing[0], day)
	}
	if !row.In && d.Event.Phase != event.IsClosed {
		cause := c.dayForm("cause", base+"/runs/"+run.ID+"/cause", refused, f)
		v.Cause = &cause
		if m.Quarantine == nil {
			out := c.dayForm("quarantine", base+"/meters/"+m.ID+"/quarantine", refused, f)
			v.Quarantine = &out
		}
	}
	return c.Show(f, ControlVerdictPage(v))
}

// verdictTitle is the verdict in big words.
func verdictTitle(run event.Run, row controlRow) string {
	if row.In {
		return fmt.Sprintf("In range: %s (%s)", run.Reading.Shown(), row.Range)
	}
	return row.Verdict + ": stop testing on " + row.Meter
}

func controlsCause(s *Server, c *Context) error {
	id, run := c.R.PathValue("event"), c.R.PathValue("run")
	cmd := programme.AssignCause{Act: c.Act(), Event: id, Run: run, Cause: c.Form("cause"), Action: c.Form("action")}
	if _, err := s.prog.AssignCause(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.verdictAgain("cause", fault.Of(err))
	}
	return c.Done("/events/"+url.PathEscape(id)+"/controls/runs/"+url.PathEscape(run), "Cause and action are in the record.")
}

// controlLogView is the log of the control runs, for print.
type controlLogView struct {
	Page ui.Page
	Base string
	View controlsView
}

func controlsLog(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := controlLogView{Page: c.dayPage(d, "Control log", "controls"), Base: dayBase(d) + "/controls", View: controlsOf(d, c.now(d))}
	v.Page.Lead = d.Event.Plan.Name + ", " + d.Event.Plan.Date.Long() + ". " + controlSum(v.View.Log)
	v.Page.Wide = true
	v.Page.Back = &ui.Link{Href: v.Base, Label: "Controls"}
	return c.Show(nil, ControlLogPage(v))
}

// controlSum counts the runs in a sentence.
func controlSum(rows []controlRow) string {
	in := 0
	for _, r := range rows {
		if r.In {
			in++
		}
	}
	return fmt.Sprintf("%d of %s in range.", in, plural(len(rows), "control run", "control runs"))
}

func controlsLogPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	rows := controlRows(d)
	doc := paper.Document{
		Title: "Control log", Subtitle: d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long(), Programme: d.Charter.Details.Name,
		RecordID: d.Event.ID, Printed: c.now(d), Invented: s.opt.Demo != nil, Lang: "en",
	}
	log := paper.Section{Paragraphs: []string{controlSum(rows)}}
	if len(rows) > 0 {
		log.Table = controlTable(rows)
	}
	doc.Sections = []paper.Section{log}
	return c.sendPDF("control-log-"+d.Event.Plan.Date.String(), doc)
}

// controlTable is the log for paper, oldest first.
func controlTable(rows []controlRow) *paper.Table {
	p := reportPart{Cols: []ui.Col{{Label: "Time"}, {Label: "Meter"}, {Label: "Strips"}, {Label: "Control"}, {Label: "Value and printed range"}, {Label: "Verdict, cause, action"}, {Label: "By"}}}
	for i := len(rows) - 1; i >= 0; i-- {
		r := rows[i]
		verdict := r.Verdict
		if r.Cause != "" {
			verdict += ". " + r.Cause + ". " + r.Action + " (" + r.Found + ")"
		}
		p.Rows = append(p.Rows, []string{r.At, r.Meter, r.Lot + ", vial " + r.Vial, "level " + r.Level + ", " + r.Solution, r.Shown + " (" + r.Range + ")", verdict, r.Operator})
	}
	return paperTable(p)
}

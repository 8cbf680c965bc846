package web

import (
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// taskView is one task of a countdown.
type taskView struct {
	Page   ui.Page
	Stray  *fault.Fault
	State  string
	Late   bool
	Facts  [][2]string
	Done   *officeForm
	Waive  *officeForm
	Change *officeForm
	Again  *officeForm
	Files  []evidenceRow
	Attach *officeForm
	Erase  []thingForm // of each file, for a lead
}

func taskShow(s *Server, c *Context) error { return c.taskAgain("", nil) }

func (c *Context) taskAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	t, ok := d.Event.TaskOf(c.R.PathValue("task"))
	if !ok {
		return fault.New(fault.Missing, "no-such-task", "There is no such task on this countdown.", "It may have been linked wrongly.", "Go back to the countdown and choose it there.")
	}
	list := dayBase(d) + "/countdown"
	base := list + "/" + t.Task
	today := d.Event.Day(c.s.prog.Now())
	due := t.Due(d.Event.Plan.Date)
	left := today.DaysUntil(due)
	v := taskView{Page: c.dayPage(d, t.What, "countdown"), Late: t.Open() && left < 0}
	v.Page.Lead = fmt.Sprintf("%s, %s.", d.Event.Plan.Name, d.Event.Plan.Date.Long())
	v.Page.Back = &ui.Link{Href: list, Label: "Countdown"}
	v.Facts = [][2]string{{"Due", due.Long() + " (" + ruleText(t.TaskPlanned) + ")"}, {"Who sees to it", d.NameOf(t.Owner)}, {"Rule", t.Source}}
	if x, known := d.Charter.LeadTimes.Find(t.Task); known && x.Example {
		v.Facts = append(v.Facts, [2]string{"Kind of rule", "Example; local rules decide."})
	}
	switch {
	case t.Done != nil:
		v.State = "Done on " + t.Done.On.Long() + "."
		v.Facts = append(v.Facts, [2]string{"Evidence", t.Done.Reference}, [2]string{"Note", t.Done.Note}, [2]string{"Written down by", d.NameOf(t.By)})
	case t.Waived != "":
		v.State = "Not needed for this event."
		v.Facts = append(v.Facts, [2]string{"Reason", t.Waived}, [2]string{"Waived by", d.NameOf(t.By)})
	default:
		v.State = capital(leftText(left)) + "."
		v.Facts = append(v.Facts, [2]string{"Opened again", t.Again})
	}
	c.taskForms(&v, d, t, base, refused, f)
	if err := c.evidence(&v, d, t, base, refused, f); err != nil {
		return err
	}
	forms := []*officeForm{v.Done, v.Waive, v.Change, v.Again, v.Attach}
	for i := range v.Erase {
		forms = append(forms, &v.Erase[i].Form)
	}
	v.Stray = stray(f, refused, forms...)
	return c.Show(f, TaskPage(v))
}

// ruleText says when a task is due.
func ruleText(t event.TaskPlanned) string {
	switch {
	case t.Days == 0:
		return "on the day"
	case t.After:
		return plural(t.Days, "day", "days") + " after the event"
	}
	return plural(t.Days, "day", "days") + " before the event"
}

func (c *Context) taskForms(v *taskView, d *programme.Day, t event.Task, base, refused string, f *fault.Fault) {
	if !t.Open() {
		if c.holds(senior) {
			form := c.dayForm("reopen", base+"/reopen", refused, f)
			v.Again = &officeForm{Form: form, Submit: "Open it again", Parts: []part{{Items: []item{field(form.line("reason", "Why it is to do again", ""))}}}}
		}
		return
	}
	if c.holds(senior) || c.Me.ID == t.Owner {
		form := c.dayForm("done", base+"/done", refused, f)
		v.Done = &officeForm{Form: form, Submit: "It is done", Parts: []part{{Help: "Evidence, a note or a file is needed: what shows that it was done.", Items: []item{
			field(size(form.line("on", "Day on which it was done", d.Event.Day(c.s.prog.Now()).String()), ui.Medium, ui.Date, "")),
			field(optional(size(form.line("reference", "Evidence", ""), ui.Full, ui.Text, "For example the approval's number, and where the paper lies"))),
			field(optional(form.line("note", "Note", ""))),
		}}}}
	}
	if c.holds(lead) {
		form := c.dayForm("waive", base+"/waive", refused, f)
		v.Waive = &officeForm{Form: form, Submit: "It is not needed", Danger: true, Parts: []part{{Items: []item{field(form.line("reason", "Why this event does not need it", ""))}}}}
	}
	if c.holds(senior) && d.Event.Phase != event.IsClosed {
		change := c.taskForm("change", base, refused, f, t.TaskPlanned, takingPart(d.People))
		v.Change = &change
	}
}

func taskChange(s *Server, c *Context) error {
	if err := c.plannedTask(c.R.PathValue("task")); err != nil {
		return c.taskAgain("change", fault.Of(err))
	}
	return c.Done(c.countdownPath(), "The task is changed.")
}

func (c *Context) countdownPath() string { return "/events/" + c.R.PathValue("event") + "/countdown" }

func taskDone(s *Server, c *Context) error {
	_, err := s.prog.FinishTask(c.R.Context(), c.Actor(), programme.FinishTask{
		Act: c.Act(), Event: c.R.PathValue("event"), Task: c.R.PathValue("task"), On: c.Form("on"), Note: c.Form("note"), Reference: c.Form("reference"),
	})
	if err != nil {
		return c.taskAgain("done", fault.Of(err))
	}
	return c.Done(c.countdownPath(), "It is written down as done.")
}

func taskWaive(s *Server, c *Context) error {
	_, err := s.prog.WaiveTask(c.R.Context(), c.Actor(), programme.WaiveTask{Act: c.Act(), Event: c.R.PathValue("event"), Task: c.R.PathValue("task"), Reason: c.Form("reason")})
	if err != nil {
		return c.taskAgain("waive", fault.Of(err))
	}
	return c.Done(c.countdownPath(), "It is written down as not needed.")
}

func taskReopen(s *Server, c *Context) error {
	_, err := s.prog.ReopenTask(c.R.Context(), c.Actor(), programme.ReopenTask{Act: c.Act(), Event: c.R.PathValue("event"), Task: c.R.PathValue("task"), Reason: c.Form("reason")})
	if err != nil {
		return c.taskAgain("reopen", fault.Of(err))
	}
	return c.Done(c.countdownPath(), "The task is open again.")
}

package web

import (
	"fmt"
	"strconv"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// countdownView is what must be there, the latest first.
type countdownView struct {
	Page    ui.Page
	Base    string
	Stray   *fault.Fault // of a form that is no longer on the page
	Late    int
	Soon    string // the first thing to come, in one sentence; empty when something is late or nothing is open
	Many    bool   // of all events: rows name theirs
	Open    []dueRow
	Settled []dueRow
	Links   []ui.Link
	Events  []countdownEvent // of all events

	Lacking int      // lines of the programme's list that are not on this event yet
	Adopt   *ui.Link // leads to the lead times when none are adopted; nil otherwise
	Take    *officeForm
	Add     *officeForm
}

// dueRow is one thing that is due.
type dueRow struct {
	Href, Day, Left, What, Event, Says, Do, Owner string
	Late                                          bool
	Files                                         []evidenceRow // the newest of a task, and how many it replaced
}

type countdownEvent struct {
	Href, Name, Date, Says string
}

// leftText says how far away a day is.
func leftText(days int) string {
	switch {
	case days < 0:
		return "late by " + plural(-days, "day", "days")
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days < 60:
		return "in " + strconv.Itoa(days) + " days"
	}
	return "in " + strconv.Itoa((days+3)/7) + " weeks"
}

// duePaths leads from a thing that is due to where it is put in order.
func (c *Context) duePath(d programme.Due) string {
	switch d.Kind {
	case programme.DueTask:
		return "/events/" + d.Event.ID + "/countdown/" + d.Subject
	case programme.DueCertificate:
		if c.holds(lead) {
			return "/setup/programme"
		}
	case programme.DueVerification:
		if c.holds(senior) {
			return "/people/" + d.Subject
		}
	case programme.DueMeter:
		return "/meters/" + d.Subject
	}
	return ""
}

func (c *Context) dueRows(list []programme.Due, name func(string) string) []dueRow {
	var out []dueRow
	for _, d := range list {
		r := dueRow{Href: c.duePath(d), Day: d.On.Long(), Left: leftText(d.Left), What: d.What, Says: d.Says, Do: d.Do, Owner: d.Owner, Late: d.Late(), Event: "Programme"}
		if !d.Open {
			r.Left = ""
		}
		if d.Event != nil {
			r.Event = d.Event.Plan.Name
		}
		for _, a := range d.Files {
			if a.Newest {
				r.Files = append(r.Files, c.evidenceRow(r.Href, a, name))
			}
		}
		if r.Owner == "" {
			r.Owner = map[programme.DueKind]string{programme.DueTask: "nobody named", programme.DueCertificate: "a lead", programme.DueMeter: "a lead or supervisor"}[d.Kind]
		}
		out = append(out, r)
	}
	return out
}

func countdownShow(s *Server, c *Context) error { return c.countdownAgain("", nil) }

func (c *Context) countdownAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	count, err := c.s.prog.Countdown(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	ev, base := d.Event, dayBase(d)+"/countdown"
	v := countdownView{Page: c.dayPage(d, "Countdown", "countdown"), Base: base, Late: count.Late(), Open: c.dueRows(count.Open, d.NameOf), Settled: c.dueRows(count.Settled, d.NameOf)}
	v.Page.Back = &ui.Link{Href: dayBase(d), Label: "The event"}
	v.Page.Wide = true
	v.Page.Lead = fmt.Sprintf("%s, %s. %s", ev.Plan.Name, ev.Plan.Date.Long(), dayLeft(count.Today.DaysUntil(ev.Plan.Date)))
	v.Soon = soonText(count)
	v.Links = []ui.Link{{Href: base + ".ics", Label: "Calendar file"}}
	if c.holds(senior) {
		v.Links = append(v.Links, ui.Link{Href: "/countdown", Label: "All events"})
	}
	times := count.Charter.LeadTimes
	if times != nil {
		for _, t := range times.Times {
			if _, there := ev.TaskOf(t.Key); !there {
				v.Lacking++
			}
		}
	}
	ahead := ev.Phase != event.IsClosed && !ev.Plan.Date.Before(count.Today)
	if c.holds(senior) && ahead {
		if v.Lacking > 0 {
			v.Take = &officeForm{Form: c.dayForm("list", base+"/list", refused, f), Submit: "Put the programme's list on this event", Plain: true}
		} else if times == nil && c.holds(lead) {
			v.Adopt = &ui.Link{Href: "/countdown/lead-times", Label: "Choose the lead times"}
		}
	}
	if c.holds(senior) && ev.Phase != event.IsClosed {
		add := c.taskForm("add", base, refused, f, event.TaskPlanned{Owner: c.Me.ID}, count.People)
		add.Submit = "Add this task"
		v.Add = &add
	}
	if c.holds(lead) {
		v.Links = append(v.Links, ui.Link{Href: "/countdown/lead-times", Label: "Lead times"})
	}
	v.Stray = stray(f, refused, v.Take, v.Add)
	return c.Show(f, CountdownPage(v))
}

// dayLeft says how far away the day of an event is.
func dayLeft(days int) string {
	switch {
	case days < 0:
		return "The day was " + plural(-days, "day", "days") + " ago."
	case days == 0:
		return "The day is today."
	}
	return "The day is " + leftText(days) + "."
}

func soonText(c *programme.Countdown) string {
	if c.Late() > 0 || len(c.Open) == 0 {
		return ""
	}
	d := c.Open[0]
	return fmt.Sprintf("Next: %s, %s.", d.What, leftText(d.Left))
}

func countdownAllShow(s *Server, c *Context) error {
	count, err := s.prog.Countdown(c.R.Context(), "")
	if err != nil {
		return err
	}
	v := countdownView{
		Page: c.officePage("Countdown", "What must be there before each event, what has to follow after it, and what runs out. What is late comes first.", "countdown", &ui.Link{Href: "/events", Label: "Events"}),
		Base: "/countdown", Many: true, Late: count.Late(), Soon: soonText(count), Open: c.dueRows(count.Open, count.NameOf),
	}
	v.Page.Wide = true
	v.Links = []ui.Link{{Href: "/countdown.ics", Label: "Calendar file"}}
	if c.holds(lead) {
		v.Links = append(v.Links, ui.Link{Href: "/countdown/lead-times", Label: "Lead times"})
	}
	for _, ev := range count.Events {
		open := 0
		for _, t := range ev.Tasks {
			if t.Open() {
				open++
			}
		}
		e := countdownEvent{Href: "/events/" + ev.ID + "/countdown", Name: ev.Plan.Name, Date: ev.Plan.Date.Long(), Says: fmt.Sprintf("%d of %s to do", open, plural(len(ev.Tasks), "task", "tasks"))}
		if len(ev.Tasks) == 0 {
			e.Says = "no task on its list yet"
		}
		v.Events = append(v.Events, e)
	}
	return c.Render(200, CountdownPage(v))
}

// ownerField asks who sees to something. On a list of lead times it may stay open.
func (form dayForm) ownerField(name, value string, from []*people.State) ui.Input {
	in := size(form.line(name, "Who sees to it", value), ui.Medium, ui.Select, "")
	in.Options = []ui.Option{{Label: "Choose a name"}}
	for _, p := range from {
		in.Options = append(in.Options, ui.Option{Value: p.ID, Label: p.Details.Name})
	}
	return in
}

// beforeAfter asks on which side of the event a day lies.
func (form dayForm) beforeAfter(name string, after bool) ui.Input {
	value := "before"
	if after {
		value = "after"
	}
	in := size(form.line(name, "Before or after", value), ui.Short, ui.Select, "")
	in.Options = []ui.Option{{Value: "before", Label: "before"}, {Value: "after", Label: "after"}}
	return in
}

// dueDays writes a number of days for a form; 0 is the day of the event.
func dueDays(t event.TaskPlanned) string {
	if t.What == "" {
		return ""
	}
	return strconv.Itoa(t.Days)
}

func (c *Context) taskForm(scope, action, refused string, f *fault.Fault, t event.TaskPlanned, from []*people.State) officeForm {
	form := c.dayForm(scope, action, refused, f)
	days := size(form.line("days", "Days", dueDays(t)), ui.Short, ui.Number, "Counted from the day of the event; 0 is that day.")
	return officeForm{Form: form, Submit: "Save", Parts: []part{{Items: []item{
		field(form.line("what", "What is to be done", t.What)),
		pair(days, form.beforeAfter("when", t.After), form.ownerField("owner", t.Owner, from)),
		field(optional(form.line("source", "Which rule asks for it", t.Source))),
	}}}}
}

// plannedTask reads the form of a task.
func (c *Context) plannedTask(task string) error {
	days, err := c.Int("days", "The number of days")
	if err != nil {
		return err
	}
	if c.Form("days") == "" {
		return fault.BadField("days", "The number of days is missing.")
	}
	_, err = c.s.prog.PlanTask(c.R.Context(), c.Actor(), programme.PlanTask{
		Act: c.Act(), Event: c.R.PathValue("event"), Task: task, What: c.Form("what"), Source: c.Form("source"), Days: days, After: c.Form("when") == "after", Owner: c.Form("owner"),
	})
	return err
}

func countdownAdd(s *Server, c *Context) error {
	if err := c.plannedTask(""); err != nil {
		return c.countdownAgain("add", fault.Of(err))
	}
	return c.Done("/events/"+c.R.PathValue("event")+"/countdown", "The task is on the countdown.")
}

func countdownTake(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.PlanTasks(c.R.Context(), c.Actor(), programme.PlanTasks{Act: c.Act(), Event: id}); err != nil {
		return c.countdownAgain("list", fault.Of(err))
	}
	return c.Done("/events/"+id+"/countdown", "The programme's list is on the countdown. Give each task to a person.")
}

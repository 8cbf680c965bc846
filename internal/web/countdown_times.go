package web

import (
	"bytes"
	"strconv"

	"fairstick/internal/charter"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// leadTimesView is the programme's list of lead times and the examples that are not on it.
type leadTimesView struct {
	Page     ui.Page
	Stray    *fault.Fault
	Rows     []leadTimeRow
	Examples *officeForm
	Change   *officeForm
	Keys     [][2]string // name and value of the hidden key of each line of Change
}

type leadTimeRow struct {
	What, When, Owner, Source string
	Example                   bool
}

// blankLines is how many empty rows the form of the lead times has for new ones.
const blankLines = 2

func leadTimesShow(s *Server, c *Context) error { return c.leadTimesAgain("", nil) }

func (c *Context) leadTimesAgain(refused string, f *fault.Fault) error {
	ch, err := c.s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	all, err := programme.List[*people.State](c.R.Context(), c.s.prog, people.Kind)
	if err != nil {
		return err
	}
	v := leadTimesView{Page: c.officePage("Lead times", "How long before an event each approval, notice and order must be there. The list is put on the countdown of each event.", "countdown", &ui.Link{Href: "/countdown", Label: "Countdown"})}
	v.Page.Wide = true
	times := adopted(ch)
	for _, t := range times {
		r := leadTimeRow{What: t.What, When: ruleText(taskOf(t)), Source: t.Source, Example: t.Example}
		if t.Owner != "" {
			r.Owner = nameIn(all, t.Owner)
		}
		v.Rows = append(v.Rows, r)
	}
	v.Examples = c.exampleForm(ch, refused, f)
	change := c.leadTimesForm(times, takingPart(all), refused, f)
	v.Change = &change
	for i := range change.Parts {
		key := ""
		if i < len(times) {
			key = times[i].Key
		}
		n := "key_" + strconv.Itoa(i+1)
		v.Keys = append(v.Keys, [2]string{n, change.Form.value(n, key)})
	}
	v.Stray = stray(f, refused, v.Examples, v.Change)
	return c.Show(f, LeadTimesPage(v))
}

func taskOf(t charter.LeadTime) event.TaskPlanned {
	return event.TaskPlanned{Task: t.Key, What: t.What, Days: t.Days, After: t.After, Owner: t.Owner, Source: t.Source}
}

func adopted(ch *charter.State) []charter.LeadTime {
	if ch.LeadTimes == nil {
		return nil
	}
	return ch.LeadTimes.Times
}

func takingPart(all []*people.State) []*people.State {
	var out []*people.State
	for _, p := range all {
		if p.Gone == "" {
			out = append(out, p)
		}
	}
	return out
}

// exampleForm offers the examples that are not on the list; nil when all of them are.
func (c *Context) exampleForm(ch *charter.State, refused string, f *fault.Fault) *officeForm {
	form := c.dayForm("examples", "/countdown/lead-times/examples", refused, f)
	ticks := boxes{ID: form.id("key"), Legend: "Examples: local rules decide", Help: "Found in published rules of other places. Adopt those that apply to you; days and words can be changed afterwards.", Error: form.wrong("key")}
	for _, t := range charter.ExampleLeadTimes() {
		if _, there := ch.LeadTimes.Find(t.Key); there {
			continue
		}
		ticks.List = append(ticks.List, ui.Box{
			ID: form.id("key") + "-" + t.Key, Name: "key", Value: t.Key, Label: capital(ruleText(taskOf(t))) + ": " + t.What, Help: "Example. " + t.Source + ".", Checked: form.ticked("key", t.Key, false),
		})
	}
	if len(ticks.List) == 0 {
		return nil
	}
	return &officeForm{Form: form, Submit: "Adopt the ticked ones", Parts: []part{{Items: []item{tickBoxes(ticks)}}}}
}

func (c *Context) leadTimesForm(times []charter.LeadTime, from []*people.State, refused string, f *fault.Fault) officeForm {
	form := c.dayForm("times", "/countdown/lead-times", refused, f)
	out := officeForm{Form: form, Submit: "Save the list"}
	for i := range min(len(times)+blankLines, programme.MostLeadTimes) {
		t, n := charter.LeadTime{}, "_"+strconv.Itoa(i+1)
		heading := "New line"
		if i < len(times) {
			t = times[i]
			heading = t.What
		}
		owner := optional(form.ownerField("owner"+n, t.Owner, from))
		out.Parts = append(out.Parts, part{ID: "line" + n, Heading: heading, Items: []item{
			field(optional(form.line("what"+n, "What is to be done", t.What))),
			pair(optional(size(form.line("days"+n, "Days", dueDays(taskOf(t))), ui.Short, ui.Number, "")), form.beforeAfter("when"+n, t.After), owner),
			field(optional(form.line("source"+n, "Which rule asks for it", t.Source))),
		}})
	}
	return out
}

// leadTimesSave reads the lines of the list by the keys that they had when the page was drawn, with the new ones.
func leadTimesSave(s *Server, c *Context) error {
	cmd := programme.AdoptLeadTimes{Act: c.Act()}
	var bad []error
	for i := range programme.MostLeadTimes {
		n := "_" + strconv.Itoa(i+1)
		row := programme.LeadTimeRow{Key: c.Form("key" + n), What: c.Form("what" + n), After: c.Form("when"+n) == "after", Owner: c.Form("owner" + n), Source: c.Form("source" + n)}
		if row.What != "" {
			days, err := c.Int("days"+n, "The number of days")
			if err == nil && c.Form("days"+n) == "" {
				err = fault.BadField("days"+n, "The number of days is missing.")
			}
			if err != nil {
				bad = append(bad, err)
			}
			row.Days = days
		}
		cmd.Rows = append(cmd.Rows, row)
	}
	if len(bad) > 0 {
		return c.leadTimesAgain("times", merge(bad...))
	}
	if _, err := s.prog.AdoptLeadTimes(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.leadTimesAgain("times", fault.Of(err))
	}
	return c.Done("/countdown/lead-times", "The list of lead times is saved.")
}

func leadTimesAdopt(s *Server, c *Context) error {
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	cmd := programme.AdoptLeadTimes{Act: c.Act()}
	add := func(t charter.LeadTime) {
		cmd.Rows = append(cmd.Rows, programme.LeadTimeRow{Key: t.Key, What: t.What, Days: t.Days, After: t.After, Owner: t.Owner, Source: t.Source})
	}
	for _, t := range adopted(ch) {
		add(t)
	}
	chosen := c.Forms("key")
	if len(chosen) == 0 {
		return c.leadTimesAgain("examples", fault.BadField("key", "Tick at least one example."))
	}
	for _, t := range charter.ExampleLeadTimes() {
		if _, there := ch.LeadTimes.Find(t.Key); !there && contains(chosen, t.Key) {
			add(t)
		}
	}
	if _, err := s.prog.AdoptLeadTimes(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.leadTimesAgain("examples", fault.Of(err))
	}
	return c.Done("/countdown/lead-times", "The ticked lead times are on the programme's list.")
}

// countdownCalendar sends the countdown as a calendar file: of the event of the address, else of all events that are ahead.
// It says what is due, when, and who sees to it; notes and evidence stay in the record.
func countdownCalendar(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	count, err := s.prog.Countdown(c.R.Context(), id)
	if err != nil {
		return err
	}
	name, file := "Countdown, "+count.Charter.Details.Name, "countdown"
	if count.Event != nil {
		name, file = "Countdown, "+count.Event.Plan.Name, "countdown-"+count.Event.Plan.Date.String()
	}
	var buf bytes.Buffer
	if err := exchange.WriteCalendar(&buf, name, calendarOf(count)); err != nil {
		return err
	}
	return c.sendFile("text/calendar; charset=utf-8", file+".ics", buf.Bytes())
}

func calendarOf(count *programme.Countdown) []exchange.CalendarEntry {
	var out []exchange.CalendarEntry
	for _, ev := range count.Events {
		at, changes := count.Planned(ev)
		p := ev.Plan
		out = append(out, exchange.CalendarEntry{
			UID: ev.ID, Stamp: at, Sequence: changes, Day: p.Date, Summary: p.Name, Location: venueText(p),
			Description: "Doors " + p.Doors.String() + " to " + p.Ends.String() + ".", Categories: []string{"Screening"}, Busy: true,
		})
	}
	for _, d := range append(append([]programme.Due(nil), count.Open...), count.Settled...) {
		e := exchange.CalendarEntry{UID: d.UID, Stamp: d.Stamp, Sequence: d.Revision, Day: d.On, Summary: d.What, Categories: []string{"Countdown"}}
		switch {
		case d.Open:
		case d.Task == nil:
			continue // in order
		case d.Task.Done != nil:
			e.Summary = "Done: " + e.Summary
		default:
			e.Summary, e.Cancelled = "Not needed: "+e.Summary, true
		}
		if d.Event != nil {
			e.Summary += " (" + d.Event.Plan.Name + ")"
		}
		if d.Owner != "" {
			e.Description = "Who sees to it: " + d.Owner
		}
		if d.Task != nil && d.Task.Source != "" {
			if e.Description != "" {
				e.Description += "\n"
			}
			e.Description += "Rule: " + d.Task.Source
		}
		out = append(out, e)
	}
	return out
}

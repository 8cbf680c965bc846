package web

import (
	"fmt"

	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// closeView is the closing of a day in its steps.
type closeView struct {
	Page  ui.Page
	Fault *fault.Fault
	Base  string
	Phase event.Phase
	Steps []ui.Step
	Alarm string

	DoorsClosed string
	Doors       dayForm
	Reopen      dayForm

	Care    []closeVisit
	Calls   []closeVisit // calls after a critical finding that are still to be made
	Visits  []closeVisit
	Arrived int

	Count      dayForm
	Counted    bool
	CountLots  []countLot
	CountOther []countLot
	Meters     []countMeter

	Memory     dayForm
	MemoryRows []memoryRow

	Sums    []sumRow
	Signers []ui.Option

	Close    dayForm
	Shut     *fault.Fault // the first shut gate before the signature
	ClosedAt string
	ClosedBy string
	Note     string
}

// closeVisit is a visit that stands in the way of closing.
type closeVisit struct {
	Ticket, Where, Said, Href string
	Visit                     string
	Form                      dayForm
}

type countLot struct {
	Name, Label, Help, Value string
}

type countMeter struct {
	ID, Label string
	Back      bool
}

type memoryRow struct {
	Name, Label, Value, Help string
	Href                     string // where a download is held against the log
	Read                     bool
}

// sumRow is one equality with its state.
type sumRow struct {
	Key, Name, Sentence, Difference, State, Alarm string
	N                                             int
	Even, Settled                                 bool
	Signed                                        string
	Form                                          dayForm
}

func closeShow(s *Server, c *Context) error { return c.closeAgain("", nil) }

func (c *Context) closeAgain(refused string, f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	ev, base := d.Event, dayBase(d)+"/close"
	v := closeView{
		Page: c.dayPage(d, "Close the day", "close"), Fault: f, Base: dayBase(d), Phase: ev.Phase, DoorsClosed: clockOr(ev.DoorsClosedAt, ev.Zone()),
		Doors: c.dayForm("doors", base+"/doors", refused, f), Reopen: c.dayForm("reopen", base+"/reopen", refused, f),
		Count: c.dayForm("count", base+"/count", refused, f), Memory: c.dayForm("memory", base+"/memory", refused, f),
		Close: c.dayForm("close", base, refused, f), Counted: ev.Back != nil, Arrived: len(d.Visits),
		Signers: signers(d.Signers(people.Lead, people.Supervisor)),
	}
	v.Page.Lead = "The day ends when everybody is accounted for, everything is counted, and every difference has a signed reason."
	v.visits(c, d, refused, f)
	v.counts(d)
	v.sums(c, d, refused, f)
	v.steps(d)
	if ev.Phase == event.IsClosed {
		v.ClosedAt, v.ClosedBy, v.Note = ev.ClosedAt.In(ev.Zone()).Format("2 Jan 2006, 15:04"), d.NameOf(ev.ClosedBy), ev.ClosingNote
	}
	return c.Show(f, ClosePage(v))
}

func (v *closeView) visits(c *Context, d *programme.Day, refused string, f *fault.Fault) {
	zone := d.Event.Zone()
	for _, x := range d.Alerts() {
		v.Care = append(v.Care, closeVisit{Ticket: ticketText(x.Ticket), Where: careWord(x.Care), Said: careText(d, x), Href: v.Base + "/care/" + x.ID, Visit: x.ID})
	}
	v.Calls = criticalCalls(d, c.now(d))
	for _, x := range d.Visits {
		if x.Phase().Ended() {
			continue
		}
		row := closeVisit{
			Ticket: ticketText(x.Ticket), Where: stepWord(x.Phase()), Href: v.Base + "/" + string(x.Phase()) + "/" + x.ID, Visit: x.ID,
			Said: "since " + clockOr(programme.Since(x), zone), Form: c.dayForm("left-"+x.ID, v.Base+"/close/left", refused, f),
		}
		v.Visits = append(v.Visits, row)
	}
}

func stepWord(p visit.Phase) string {
	switch p {
	case visit.AtDesk:
		return "Desk"
	case visit.AtTest:
		return "Test"
	case visit.AtExplain:
		return "Explain"
	}
	return string(p)
}

func (v *closeView) counts(d *programme.Day) {
	ev := d.Event
	was := func(n int) string {
		if ev.Back == nil {
			return ""
		}
		return fmt.Sprint(n)
	}
	back := event.Stock{}
	if ev.Back != nil {
		back = *ev.Back
	}
	for _, l := range d.BroughtLots() {
		name := "strips_" + l.ID
		v.CountLots = append(v.CountLots, countLot{
			Name: name, Label: "Strips of lot " + l.Details.Lot + " left", Help: fmt.Sprintf("%d brought", ev.Out.Strips[l.ID]),
			Value: v.Count.value(name, was(back.Strips[l.ID])),
		})
	}
	v.CountOther = []countLot{
		{Name: "lancets", Label: "Lancets left", Help: fmt.Sprintf("%d brought", ev.Out.Lancets), Value: v.Count.value("lancets", was(back.Lancets))},
		{Name: "sharps", Label: "Sharps containers", Help: fmt.Sprintf("%d brought; count the used ones too", ev.Out.Sharps), Value: v.Count.value("sharps", was(back.Sharps))},
	}
	for _, m := range d.BroughtMeters() {
		here := false
		for _, id := range back.Meters {
			here = here || id == m.ID
		}
		v.Meters = append(v.Meters, countMeter{ID: m.ID, Label: m.Details.Label + ", serial " + m.Details.Serial, Back: v.Count.ticked("meters", m.ID, here)})
		name := "rows_" + m.ID
		n, read := ev.Memory[m.ID]
		row := memoryRow{Name: name, Label: "Meter " + m.Details.Label, Help: "rows of " + ev.Plan.Date.Long(), Href: dayBase(d) + "/close/meter/" + m.ID, Read: read}
		if read {
			row.Value = fmt.Sprint(n)
		}
		row.Value = v.Memory.value(name, row.Value)
		v.MemoryRows = append(v.MemoryRows, row)
	}
}

func (v *closeView) sums(c *Context, d *programme.Day, refused string, f *fault.Fault) {
	for _, e := range d.Reconcile() {
		row := sumRow{
			Key: e.Key, Name: e.Name, Sentence: e.Sentence(), Difference: signedNumber(e.Difference), N: e.Difference, Alarm: e.Alarm,
			Even: e.Difference == 0, Settled: e.Settled(), State: "Comes out",
		}
		if e.Alarm != "" {
			v.Alarm = e.Alarm
		}
		if e.Explained != nil && e.Difference != 0 {
			row.Signed = fmt.Sprintf("%s, signed by %s at %s", e.Explained.Note, d.NameOf(e.Explained.By), clockOr(e.Explained.At, d.Event.Zone()))
		}
		switch {
		case row.Even:
		case row.Settled:
			row.State = "Differs, explained"
		case e.Explained != nil:
			row.State = "Differs; explained for another difference"
		default:
			row.State = "Differs, not explained"
		}
		row.Form = c.dayForm("explain-"+e.Key, v.Base+"/close/explain", refused, f)
		v.Sums = append(v.Sums, row)
	}
}

// signedNumber writes a difference with its sign.
func signedNumber(n int) string {
	if n > 0 {
		return fmt.Sprintf("+%d", n)
	}
	return fmt.Sprint(n)
}

// steps shows how far the closing is; the first shut gate is the step to do now.
func (v *closeView) steps(d *programme.Day) {
	labels := []struct{ key, label, anchor string }{
		{"doors", "Doors", "#step-doors"},
		{"care", "Alerts", "#step-care"},
		{"visits", "Visits", "#step-visits"},
		{"counted", "Count", "#step-count"},
		{"memory", "Memories", "#step-memory"},
		{"differences", "Sums", "#step-sums"},
		{"sign", "Sign", "#step-sign"},
	}
	shut := map[string]bool{}
	for _, g := range d.ClosingGates() {
		if g.Fault != nil {
			shut[g.Key] = true
			if v.Shut == nil {
				v.Shut = g.Fault
			}
		}
	}
	shut["differences"] = shut["differences"] || shut["counted"] || shut["memory"]
	shut["sign"] = d.Event.Phase != event.IsClosed
	now := false
	for _, l := range labels {
		step := ui.Step{Label: l.label, Href: l.anchor, State: ui.StepDone}
		if shut[l.key] && d.Event.Phase != event.IsClosed {
			step.State = ui.StepNext
			if !now {
				step.State, now = ui.StepNow, true
			}
		}
		v.Steps = append(v.Steps, step)
	}
}

func closeDoors(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.CloseDoors(c.R.Context(), c.Actor(), programme.CloseDoors{Act: c.Act(), Event: id}); err != nil {
		return c.closeAgain("doors", fault.Of(err))
	}
	return c.Done("/events/"+id+"/close", "The doors are closed. Nobody new is let in.")
}

func closeReopen(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.OpenEvent(c.R.Context(), c.Actor(), programme.OpenEvent{Act: c.Act(), Event: id}); err != nil {
		return c.closeAgain("reopen", fault.Of(err))
	}
	return c.Done("/events/"+id+"/board", "The doors are open again.")
}

func closeLeft(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := d.Visit(c.Form("visit"))
	if v == nil {
		return c.closeAgain("", fault.New(fault.Missing, "no-such-visit", "This visit is not one of today's.", "", "Load the page again."))
	}
	if _, err := s.prog.LeaveVisit(c.R.Context(), c.Actor(), programme.LeaveVisit{Act: c.Act(), Visit: v.ID, Reason: c.Form("reason")}); err != nil {
		return c.closeAgain("left-"+v.ID, fault.Of(err))
	}
	return c.Done("/events/"+id+"/close", "Ticket "+ticketText(v.Ticket)+" is written down as left.")
}

func closeCount(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	cmd := programme.CountBack{Act: c.Act(), Event: id, Meters: c.Forms("meters")}
	strips, err := c.stripCounts(true)
	if err != nil {
		return c.closeAgain("count", fault.Of(err))
	}
	cmd.Strips = strips
	for _, x := range []struct {
		name, label string
		to          *int
	}{{"lancets", "Lancets left", &cmd.Lancets}, {"sharps", "Sharps containers", &cmd.Sharps}} {
		if c.Form(x.name) == "" {
			return c.closeAgain("count", fault.BadField(x.name, "%s: type the count, 0 when there are none.", x.label))
		}
		if *x.to, err = c.Int(x.name, x.label); err != nil {
			return c.closeAgain("count", fault.Of(err))
		}
	}
	if _, err := s.prog.CountBack(c.R.Context(), c.Actor(), cmd); err != nil {
		return c.closeAgain("count", fault.Of(err))
	}
	return c.Done("/events/"+id+"/close", "The count is in the record.")
}

func closeMemory(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	typed := 0
	for _, m := range d.BroughtMeters() {
		name := "rows_" + m.ID
		if c.Form(name) == "" {
			continue
		}
		n, err := c.Int(name, "The rows of meter "+m.Details.Label)
		if err != nil {
			return c.closeAgain("memory", fault.Of(err))
		}
		if was, ok := d.Event.Memory[m.ID]; ok && was == n {
			continue
		}
		cmd := programme.ReadMemory{Act: c.Act().Part(m.ID), Event: d.Event.ID, Meter: m.ID, Rows: n}
		if _, err := s.prog.ReadMemory(c.R.Context(), c.Actor(), cmd); err != nil {
			f := fault.Of(err)
			if said := ui.Message(f, "rows"); said != "" {
				f = fault.BadField(name, "Meter %s: %s", m.Details.Label, said)
			}
			return c.closeAgain("memory", f)
		}
		typed++
	}
	if typed == 0 {
		return c.closeAgain("memory", fault.BadField("rows", "No new number was typed. Count the rows of today in a meter's memory and type the number."))
	}
	return c.Done(dayBase(d)+"/close", plural(typed, "memory is", "memories are")+" in the record.")
}

func closeExplain(s *Server, c *Context) error {
	id, key := c.R.PathValue("event"), c.Form("equality")
	n, err := c.Int("difference", "The difference")
	if err == nil {
		_, err = s.prog.ExplainDifference(c.R.Context(), c.Actor(), programme.ExplainDifference{Act: c.Act(), Event: id, Equality: key, Note: c.Form("note"), Difference: n, Sign: c.Sign("sign")})
	}
	if err != nil {
		return c.closeAgain("explain-"+key, fault.Of(err))
	}
	return c.Done("/events/"+id+"/close", "The reason is signed. It is on the report.")
}

func closeEvent(s *Server, c *Context) error {
	id := c.R.PathValue("event")
	if _, err := s.prog.CloseEvent(c.R.Context(), c.Actor(), programme.CloseEvent{Act: c.Act(), Event: id, Note: c.Form("note"), Sign: c.Sign("sign")}); err != nil {
		return c.closeAgain("close", fault.Of(err))
	}
	return c.Done("/events/"+id+"/report", "The day is closed and signed.")
}

// memoryWord stands beside the field of a meter's memory.
func memoryWord(read bool) string {
	if read {
		return "read"
	}
	return "not read yet"
}

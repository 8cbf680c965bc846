package web

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/visit"
	"fairstick/internal/web/ui"
)

// incidentNewView asks what happened, in large tiles; the second tap reports it.
type incidentNewView struct {
	Page    ui.Page
	Fault   *fault.Fault
	Path    string
	Form    dayForm
	Visit   string
	Ticket  string
	Meters  []ui.Option
	Lots    []ui.Option
	Earlier bool // the fields for another place or time are open
}

func incidentNew(_ *Server, c *Context) error { return c.askIncident(nil) }

func (c *Context) askIncident(f *fault.Fault) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	v := incidentNewView{Fault: f, Path: dayBase(d) + "/incidents", Form: c.dayForm("report", dayBase(d)+"/incidents", "report", f), Earlier: f != nil}
	v.Visit = cmp.Or(c.Form("visit"), c.query("visit"))
	v.Page = c.stationPage(d, "What happened?", dayBase(d)+"/board", "Board")
	v.Page.Nav = nil
	if x := d.Visit(v.Visit); x != nil {
		v.Ticket = ticketText(x.Ticket)
		v.Page.Ticket = v.Ticket
	} else {
		v.Visit = ""
	}
	v.Page.Lead = "One tap reports it and shows what to do first. Nothing else is asked before that."
	v.Meters, v.Lots = gearOptions(d)
	return c.Show(f, IncidentNewPage(v))
}

// gearOptions lists the meters and lots brought to the event, with an empty answer first.
func gearOptions(d *programme.Day) (meters, lots []ui.Option) {
	meters, lots = []ui.Option{{Value: "", Label: "None"}}, []ui.Option{{Value: "", Label: "None"}}
	for _, m := range d.BroughtMeters() {
		meters = append(meters, ui.Option{Value: m.ID, Label: "Meter " + m.Details.Label})
	}
	for _, l := range d.BroughtLots() {
		lots = append(lots, ui.Option{Value: l.ID, Label: "Lot " + l.Details.Lot})
	}
	return meters, lots
}

// incidentReport reports what happened. The table of the device stands in for what was not said.
func incidentReport(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	cmd := programme.ReportIncident{
		Act: c.Act(), Event: d.Event.ID, Sort: c.Form("kind"), Visit: c.Form("visit"), Station: c.Form("station"), Meter: c.Form("meter"), StripLot: c.Form("strip_lot"), What: c.Form("what"),
	}
	sort := incident.Sort(cmd.Sort)
	if c.Device.Event == d.Event.ID && c.Device.Step != string(visit.AtDesk) {
		cmd.Station = cmp.Or(cmd.Station, c.Device.Station)
		if sort == incident.DeviceProblem || sort == incident.ResultProblem {
			cmd.Meter, cmd.StripLot = cmp.Or(cmd.Meter, c.Device.Meter), cmp.Or(cmd.StripLot, c.Device.StripLot)
		}
	}
	if n := c.Form("ticket"); n != "" {
		v := visitByTicket(d, n)
		if v == nil {
			return c.askIncident(fault.BadField("ticket", "There is no ticket %s at this event.", n))
		}
		cmd.Visit = v.ID
	}
	day := d.Event.Day(s.prog.Now())
	if day.After(d.Event.Plan.Date) {
		day = d.Event.Plan.Date
	}
	if cmd.At, err = clockOn(c, "at", day, d.Event.Zone()); err != nil {
		return c.askIncident(fault.Of(err))
	}
	done, err := s.prog.ReportIncident(c.R.Context(), c.Actor(), cmd)
	if err != nil {
		return c.askIncident(fault.Of(err))
	}
	return c.Go(dayBase(d) + "/incidents/" + done.ID)
}

func visitByTicket(d *programme.Day, text string) *visit.State {
	n, err := strconv.Atoi(text)
	if err != nil {
		return nil
	}
	for _, v := range d.Visits {
		if v.Ticket == n {
			return v
		}
	}
	return nil
}

// clockOn reads a wall-clock time of a form on a day; the zero time when none was typed.
func clockOn(c *Context, name string, day civil.Date, zone *time.Location) (time.Time, error) {
	text := c.Form(name)
	if text == "" {
		return time.Time{}, nil
	}
	k, err := civil.ParseClock(text)
	if err != nil {
		return time.Time{}, fault.BadField(name, "%v.", err)
	}
	return k.On(day, zone), nil
}

// incidentTask is one act that is still to be done, or one that may be added.
type incidentTask struct {
	Step, Sentence string
	Form           dayForm
	Choices        []ui.Option
	Note           string // label; empty when the step takes none
	NoteNeeded     bool
	Button         string
}

// incidentView is the page of one incident: what to do first, since when, whom to call, what is still missing, its form.
type incidentView struct {
	Page       ui.Page
	Fault      *fault.Fault
	Path, Base string
	State      *incident.State
	Sort       incident.Sort
	Aid        incident.Aid
	Open       bool
	Status     string // how it ended; empty while it is open
	Reads      bool   // may read what was written
	Lead       bool

	Now        time.Time
	Exposure   bool
	Flush      *ui.Timer
	Wet        *ui.Timer
	Latest     *ui.Timer
	LatestText string

	Emergency, Venue, Address    string
	Contact, Phone, ContactHours string

	Todo   []incidentTask
	More   []incidentTask
	Tell   dayForm
	Form   incidentForm
	Close  dayForm
	Signs  bool
	Staff  []ui.Option
	Signer string
	Log    []careDone

	Withdraw   dayForm
	Quarantine dayForm
	OutMeter   string // label of the meter that may be taken out of use
	OutLot     string
	Touched    []incidentTouch
	Gear       string // what the look-back is about
}

type incidentTouch struct{ Ticket, At, Href string }

// incident reads the event and the incident of the address.
func (c *Context) incident() (*programme.Day, *incident.State, error) {
	d, err := c.Day()
	if err != nil {
		return nil, nil, err
	}
	s := d.Incident(c.R.PathValue("incident"))
	if s == nil {
		return nil, nil, fault.New(fault.Missing, "no-such-incident", "There is no such incident at this event.",
			"The address may have been typed or linked wrongly.", "Go back to the board and open it there.")
	}
	return d, s, nil
}

func incidentShow(_ *Server, c *Context) error { return c.showIncident("", nil) }

func (c *Context) showIncident(refused string, f *fault.Fault) error {
	d, s, err := c.incident()
	if err != nil {
		return err
	}
	now, zone := c.now(d), d.Event.Zone()
	path := incidentPath(d, s)
	v := incidentView{
		Page: c.stationPage(d, incidentWord(s.Report.Sort), dayBase(d)+"/board", "Board"), Fault: f, Path: path, Base: dayBase(d), State: s, Sort: s.Report.Sort,
		Aid: incident.AidFor(s.Report.Sort), Open: s.Open(), Reads: programme.MayReadIncident(c.Me, s), Lead: c.holds(lead), Now: now, Exposure: s.Report.Sort.Exposure(),
		Emergency: d.Event.EmergencyNumber(d.Charter.Details.Emergency), Venue: d.Event.Plan.Venue, Address: d.Event.Plan.Address,
		Contact: d.Charter.Details.ExposureContact, Phone: d.Charter.Details.ExposurePhone, ContactHours: d.Charter.Details.ExposureHours,
		Tell: c.dayForm("tell", path+"/tell", refused, f), Close: c.dayForm("close", path+"/close", refused, f),
		Withdraw: c.dayForm("withdraw", path+"/withdraw", refused, f), Quarantine: c.dayForm("quarantine", path+"/quarantine", refused, f),
		Signs: s.Report.Sort.Signs(), Staff: signers(d.Signers(people.Supervisor, people.Lead)),
	}
	v.Page.Nav = nil
	if c.holds(senior) {
		v.Signer = c.Me.ID
		v.Page.Back = &ui.Link{Href: dayBase(d) + "/incidents", Label: "Incidents"}
	}
	if x := d.Visit(s.Report.Visit); x != nil {
		v.Page.Ticket = ticketText(x.Ticket)
	}
	v.clocks(s, now, zone)
	v.tasks(c, d, s, refused, f, now)
	v.Form = c.incidentForm(d, s, refused, f)
	v.log(d, s, zone)
	v.gear(c, d, s, zone)
	switch {
	case s.Withdrawn != nil:
		v.Status = fmt.Sprintf("Withdrawn by %s at %s: %s", d.NameOf(s.WithdrawnBy), clockOr(s.WithdrawnAt, zone), s.Withdrawn.Reason)
	case s.Closed != nil:
		v.Status = fmt.Sprintf("Closed by %s at %s.", d.NameOf(cmp.Or(s.Closed.Signed, s.ClosedBy)), clockOr(s.ClosedAt, zone))
		if s.Closed.Note != "" && v.Reads {
			v.Status += " " + s.Closed.Note
		}
	}
	return c.Show(f, IncidentPage(v))
}

// clocks are the times that run: an eye that is flushed, a surface that stays wet, the last hour for treatment.
func (v *incidentView) clocks(s *incident.State, now time.Time, zone *time.Location) {
	if !v.Open {
		return
	}
	if left, ok := s.WetFor(now); ok && left > 0 {
		d, _ := s.Last(incident.Disinfected)
		v.Wet = &ui.Timer{ID: "wet", Text: "Keep the surface wet", Done: "The time is over. The surface may dry.", Start: d.At.In(zone), Now: now, Seconds: d.Seconds}
	}
	if !v.Exposure {
		return
	}
	if until, ok := s.FlushUntil(); ok {
		start := until.Add(-incident.FlushFor)
		v.Flush = &ui.Timer{ID: "flush", Text: "Flush the eye", Done: "15 minutes of flushing are over.", Start: start.In(zone), Now: now, Seconds: int(incident.FlushFor / time.Second)}
	}
	last := s.Happened().Add(incident.Latest).In(zone)
	v.LatestText = last.Format("Monday 2 January, 15:04")
	v.Latest = &ui.Timer{ID: "latest", Text: "Until then", Done: "72 hours have passed. Go all the same: the clinician decides.", Start: s.Happened().In(zone), Now: now, Seconds: int(incident.Latest / time.Second), Compact: true}
}

// tasks are what is missing in its order, and what may be written down once more.
func (v *incidentView) tasks(c *Context, d *programme.Day, s *incident.State, refused string, f *fault.Fault, now time.Time) {
	if !v.Open {
		return
	}
	task := func(step, sentence string) incidentTask {
		rule, _ := incident.RuleOf(s.Report.Sort, step)
		t := incidentTask{Step: step, Sentence: sentence, Form: c.dayForm("step-"+step, v.Path+"/step", refused, f), Choices: incidentChoices[step], Note: incidentNotes[step], NoteNeeded: rule.Note}
		t.Button = cmp.Or(incidentNow[step], "Write it down")
		if step == incident.Disinfected {
			t.Choices = nil
			day := d.Event.Day(now)
			for _, x := range d.Disinfectants {
				if x.Details.Expiry.IsZero() || !day.After(x.Details.Expiry) {
					t.Choices = append(t.Choices, ui.Option{Value: x.ID, Label: fmt.Sprintf("%s: wet for %d s", x.Details.Name, x.Details.ContactSeconds)})
				}
			}
		}
		return t
	}
	listed := map[string]bool{}
	for _, t := range s.Missing(now) {
		listed[t.Step] = true
		v.Todo = append(v.Todo, task(t.Step, t.Sentence))
	}
	for _, step := range incident.StepsOf(s.Report.Sort) {
		if !listed[step] && step != incident.Quarantined {
			v.More = append(v.More, task(step, incidentStepWords[step]))
		}
	}
}

func (v *incidentView) log(d *programme.Day, s *incident.State, zone *time.Location) {
	at := func(t time.Time, recorded string) string {
		text := t.In(zone).Format("15:04:05")
		if typed, late := programme.Late(t, recorded); late {
			text = t.In(zone).Format("15:04") + ", typed in at " + typed.In(zone).Format("15:04")
		}
		return text
	}
	type line struct {
		t time.Time
		careDone
	}
	lines := []line{{s.At, careDone{at(s.At, s.Recorded), "Reported", d.NameOf(s.By)}}}
	for _, m := range s.Written {
		lines = append(lines, line{m.At, careDone{at(m.At, m.Recorded), "The log was filled in", d.NameOf(m.By)}})
	}
	for _, x := range s.Steps {
		lines = append(lines, line{x.At, careDone{at(x.At, x.Recorded), incidentStepText(d, x, v.Reads), d.NameOf(x.By)}})
	}
	for len(lines) > 0 { // in order of time; the lists are short
		first := 0
		for i := range lines {
			if lines[i].t.Before(lines[first].t) {
				first = i
			}
		}
		v.Log = append(v.Log, lines[first].careDone)
		lines = append(lines[:first], lines[first+1:]...)
	}
}

// gear is the meter or the lot in doubt: what may be taken out of use, and whom it touched.
func (v *incidentView) gear(c *Context, d *programme.Day, s *incident.State, zone *time.Location) {
	if s.Report.Sort != incident.DeviceProblem && s.Report.Sort != incident.ResultProblem {
		return
	}
	var names []string
	if m := d.MeterByID(s.Meter()); m != nil {
		names = append(names, "meter "+m.Details.Label)
		if m.Quarantine == nil && c.holds(test) {
			v.OutMeter = m.Details.Label
		}
	}
	if l := d.StripLotByID(s.StripLot()); l != nil {
		names = append(names, "strips of lot "+l.Details.Lot)
		if l.Withdrawn == "" && c.holds(senior) {
			v.OutLot = l.Details.Lot
		}
	}
	v.Gear = strings.Join(names, " or ")
	for _, t := range d.Touched(s.Meter(), s.StripLot()) {
		x := d.Visit(t.Visit)
		row := incidentTouch{Ticket: ticketText(t.Ticket), At: t.At.In(zone).Format("15:04")}
		if c.holds(tell) && x != nil {
			row.Href = v.Base + "/explain/" + x.ID
		}
		v.Touched = append(v.Touched, row)
	}
}

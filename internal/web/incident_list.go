package web

import (
	"bytes"
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"

	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/paper"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

// incidentListView is the incidents of an event.
type incidentListView struct {
	Page      ui.Page
	Base, New string
	Caption   string
	Rows      []incidentListRow
	Year      int
}

type incidentListRow struct {
	Href, What, At, Where, Ticket, Status, Who string
	Open                                       bool
}

func incidentsShow(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	now, zone := c.now(d), d.Event.Zone()
	v := incidentListView{Page: c.dayPage(d, "Incidents", "incidents"), Base: dayBase(d), New: dayBase(d) + "/incidents/new", Year: d.Event.Plan.Date.Year}
	v.Page.Wide = true
	open := 0
	for i := len(d.Incidents) - 1; i >= 0; i-- {
		s := d.Incidents[i]
		r := incidentListRow{
			Href: incidentPath(d, s), What: incidentWord(s.Report.Sort), At: s.Happened().In(zone).Format("2 Jan 2006, 15:04"),
			Where: cmp.Or(incidentPlace(s), "-"), Ticket: "-", Who: "-", Open: s.Open(),
		}
		if x := d.Visit(s.Report.Visit); x != nil {
			r.Ticket = ticketText(x.Ticket)
		}
		if x := s.Details; x != nil {
			r.Where = cmp.Or(x.Area, r.Where)
			r.Who = cmp.Or(optionWord(hurtOptions, x.Role), "-")
			if x.Person != "" && c.holds(lead) {
				r.Who += ": " + d.NameOf(x.Person)
			}
		}
		switch {
		case s.Withdrawn != nil:
			r.Status = "Withdrawn"
		case s.Closed != nil:
			r.Status = "Closed at " + clockOr(s.ClosedAt, zone)
		default:
			open++
			r.Status = "Open: somebody closes it."
			if s.Report.Sort.Signs() {
				r.Status = "Open: a supervisor or lead signs its end."
			}
			if todo := s.Missing(now); len(todo) > 0 {
				r.Status = "Open: " + todo[0].Sentence
			}
		}
		v.Rows = append(v.Rows, r)
	}
	v.Page.Lead = "What went wrong, and how it was looked after. The day cannot close while one is open."
	v.Caption = fmt.Sprintf("%d of %s open", open, plural(len(v.Rows), "incident", "incidents"))
	return c.Show(nil, IncidentListPage(v))
}

func incidentsCSV(_ *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteIncidents(&buf, d.IncidentRows()); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "incidents-"+d.Event.Plan.Date.String()+".csv", buf.Bytes())
}

// sharpsYear is the year of the address, else the present one.
func (c *Context) sharpsYear() (int, error) {
	q := c.query("year")
	if q == "" {
		return c.s.prog.Now().Year(), nil
	}
	y, err := strconv.Atoi(q)
	if err != nil || y < 1900 || y > 2199 {
		return 0, fault.BadField("year", "%q is not a year.", q)
	}
	return y, nil
}

func sharpsCSV(s *Server, c *Context) error {
	year, err := c.sharpsYear()
	if err != nil {
		return err
	}
	rows, err := s.prog.SharpsLog(c.R.Context(), year)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteSharpsLog(&buf, rows); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", fmt.Sprintf("sharps-log-%d.csv", year), buf.Bytes())
}

func sharpsPDF(s *Server, c *Context) error {
	year, err := c.sharpsYear()
	if err != nil {
		return err
	}
	rows, err := s.prog.SharpsLog(c.R.Context(), year)
	if err != nil {
		return err
	}
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	log := paper.SharpsLog{Programme: ch.Details.Name, Year: year}
	for _, r := range rows {
		log.Rows = append(log.Rows, paper.SharpsRow{
			When: r.Happened.Format("2 Jan 2006, 15:04"), Event: r.EventName, Device: strings.TrimPrefix(optionWord(deviceOptions, r.Device)+", "+r.Brand, ", "), Area: cmp.Or(r.Area, r.Station), How: r.How,
			Phase: optionWord(phaseOptions, r.Phase), Status: r.Status,
		})
	}
	doc := log.Document()
	doc.Printed, doc.Invented = s.prog.Now(), s.opt.Demo != nil
	return c.sendPDF(fmt.Sprintf("sharps-log-%d", year), doc)
}

// incidentPDF is the form of one incident on one page, for the college. It names nobody.
func incidentPDF(s *Server, c *Context) error {
	d, x, err := c.incident()
	if err != nil {
		return err
	}
	zone := d.Event.Zone()
	f := paper.IncidentForm{
		Programme: d.Charter.Details.Name, ID: x.ID, Title: incidentWord(x.Report.Sort), Event: d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long(),
	}
	add := func(label, value string) { f.Facts = append(f.Facts, paper.IncidentFact{Label: label, Value: value}) }
	if x.Details != nil {
		for _, p := range incidentFacts(d, x, false) {
			add(p[0], p[1])
		}
	} else {
		add("When it happened", x.Happened().In(zone).Format("2 Jan 2006, 15:04"))
	}
	if p := incidentPlace(x); p != "" {
		add("Station", x.Report.Station)
	}
	if t := d.Visit(x.Report.Visit); t != nil {
		add("Ticket", ticketText(t.Ticket))
	}
	step := func(what string, at time.Time, recorded string) {
		row := paper.IncidentAct{At: at.In(zone).Format("15:04"), What: what}
		if typed, late := programme.Late(at, recorded); late {
			row.Typed = typed.In(zone).Format("2 Jan, 15:04")
		}
		f.Acts = append(f.Acts, row)
	}
	step("Reported by: "+roleOf(d, x.By), x.At, x.Recorded)
	for _, a := range x.Steps {
		what := incidentStepText(d, a, true)
		if a.Step.Step == incident.Told {
			what = incidentStepWords[incident.Told] + ": " + roleOf(d, a.Choice)
		}
		step(what, a.At, a.Recorded)
	}
	switch {
	case x.Withdrawn != nil:
		f.End = "Withdrawn at " + x.WithdrawnAt.In(zone).Format("2 Jan 2006, 15:04") + ": " + x.Withdrawn.Reason
	case x.Closed != nil:
		f.End = "Closed by: " + roleOf(d, cmp.Or(x.Closed.Signed, x.ClosedBy)) + ", " + x.ClosedAt.In(zone).Format("2 Jan 2006, 15:04") + ". " + x.Closed.Note
	default:
		f.End = "Not closed yet."
	}
	doc := f.Document()
	doc.Printed, doc.Invented = c.now(d), s.opt.Demo != nil
	return c.sendPDF("incident-"+x.Happened().In(zone).Format("2006-01-02-1504"), doc)
}

// roleOf is somebody of the staff by their first role.
func roleOf(d *programme.Day, id string) string {
	if p := d.Person(id); p != nil {
		for _, r := range people.Roles {
			if p.Has(r) {
				return string(r)
			}
		}
	}
	return "member of the staff"
}

// incidentsPart is the incidents of the day on the report: how many of each kind, exposures by phase.
func incidentsPart(r programme.Report) reportPart {
	p := reportPart{Key: "incidents", Heading: "Incidents", Empty: "No incident was reported.", Cols: []ui.Col{{Label: "Kind"}, {Label: "Phase of the work"}, {Label: "Count", Num: true}, {Label: "Open", Num: true}}}
	for _, x := range r.Incidents {
		p.Rows = append(p.Rows, []string{incidentWord(incident.Sort(x.Kind)), cmp.Or(optionWord(phaseOptions, x.Phase), "-"), fmt.Sprint(x.N), fmt.Sprint(x.Open)})
	}
	return p
}

// The helpers of the pages' markup.

func (v incidentView) wrongStep(step string) bool {
	switch step {
	case incident.Form:
		return v.Form.Form.fault != nil
	case incident.Told:
		return v.Tell.fault != nil
	}
	for _, list := range [][]incidentTask{v.Todo, v.More} {
		for _, t := range list {
			if t.Step == step {
				return t.Form.fault != nil
			}
		}
	}
	return false
}

func options(in ui.Input, list []ui.Option) ui.Input {
	in.Options = list
	return in
}

func pinOf(in ui.Input) ui.Input {
	in.Kind, in.Width, in.MaxLength = ui.PIN, ui.Short, 6
	return in
}

func noteField(t incidentTask) ui.Input {
	in := t.Form.line("note", t.Note, "")
	in.MaxLength, in.Optional = 200, !t.NoteNeeded
	return in
}

// sinceText is how long ago something happened.
func sinceText(s *incident.State, now time.Time) string {
	n := ui.WholeMinutes(s.Happened(), now)
	switch {
	case n < 1:
		return "just now"
	case n < 60:
		return ui.MinutesText(n) + " ago"
	}
	return fmt.Sprintf("%d h %02d min ago", n/60, n%60)
}

func touchedTitle(v incidentView) string {
	return fmt.Sprintf("Whom it touched at this event: %s with %s", plural(len(v.Touched), "ticket", "tickets"), v.Gear)
}

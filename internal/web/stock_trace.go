package web

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"fairstick/internal/exchange"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
	"fairstick/internal/web/ui"
)

// traceView is everything that a lot touched, for reading and print. It names nobody.
type traceView struct {
	Page    ui.Page
	Base    string
	Ask     string // the look-back with every filter; empty when there is none for this
	Hold    string
	Recall  bool
	How     string
	Says    []string
	Numbers []ui.Figure
	Days    []traceDayView
	At      time.Time
}

type traceDayView struct {
	ID, Heading, Says string
	Visits            []traceVisitRow
	Runs              []traceRunRow
}

type traceVisitRow struct{ Ticket, Href, Readings, Meter, Vial, At, Told string }

type traceRunRow struct{ At, Meter, Level, Vial, Bottle, Verdict string }

var verdictShort = map[string]string{"in-range": "in range", "out-of-range": "out of range", "no-value": "no value"}

func traceShow(s *Server, c *Context) error {
	v, err := c.trace()
	if err != nil {
		return err
	}
	return c.Render(200, TracePage(v))
}

func (c *Context) trace() (traceView, error) {
	t, err := c.s.prog.TraceLot(c.R.Context(), c.R.PathValue("thing"))
	if err != nil {
		return traceView{}, err
	}
	v := traceOf(t)
	v.Page = c.officePage("What "+lotWord(t.Name)+" touched", v.How, "stock", &ui.Link{Href: v.Base, Label: t.Name})
	v.Page.Wide = true
	return v, nil
}

// lotWord makes the name of a lot fit the middle of a sentence.
func lotWord(name string) string { return strings.ToLower(name[:1]) + name[1:] }

func traceOf(t *programme.LotTrace) traceView {
	v := traceView{Base: thingPath(t.Key), Ask: lookBackOf(t.Key), How: t.How, At: t.At}
	if t.Hold != nil {
		v.Hold, v.Recall = t.Hold.Says(), t.Hold.Kind == stock.InRecall
	}
	v.Numbers = []ui.Figure{
		{Label: "People", Number: fmt.Sprint(t.People), Of: "with " + plural(t.Read, "reading", "readings")},
		{Label: "May be called", Number: fmt.Sprint(t.MayCall), Of: fmt.Sprintf("of %d people", t.People)},
		{Label: "Control runs", Number: fmt.Sprint(t.Runs), Of: "on " + plural(len(t.Meters), "meter", "meters")},
		{Label: "Events", Number: fmt.Sprint(len(t.Events))},
		{Label: "Still on hand", Number: fmt.Sprint(t.OnHand), Of: t.Unit},
	}
	v.Says = []string{
		fmt.Sprintf("%s touched %s at %s: %s, %s, %s.", t.Name, plural(t.People, "person", "people"), plural(len(t.Events), "event", "events"), plural(t.Read, "reading", "readings"), plural(t.Runs, "control run", "control runs"), plural(len(t.Meters), "meter", "meters")),
		fmt.Sprintf("%d of %d may be called about their result; the others gave no permission, or their number was erased.", t.MayCall, t.People),
		fmt.Sprintf("%d %s are on hand by the record.", t.OnHand, t.Unit),
	}
	for i, d := range t.Events {
		day := traceDayView{ID: fmt.Sprintf("event-%d", i+1), Heading: d.Name + ", " + d.Date.Long()}
		day.Says = fmt.Sprintf("%s. %s, of whom %d may be called. %s. Meters: %s.", d.Venue, plural(len(d.People), "person", "people"), d.MayCall, plural(len(d.Runs), "control run", "control runs"), orNone(strings.Join(d.Meters(), ", ")))
		if n := t.Brought[d.Event]; n > 0 {
			day.Says += fmt.Sprintf(" %d strips were brought.", n)
		}
		for _, x := range d.People {
			told := "no"
			if x.Counts {
				told = "yes"
			}
			day.Visits = append(day.Visits, traceVisitRow{
				Ticket: ticketText(x.Ticket), Href: "/events/" + d.Event + "/history/" + x.Visit, Readings: fmt.Sprint(len(x.Readings)), Meter: x.Readings[0].Meter, Vial: strings.Join(x.Vials(), ", "),
				At: x.Readings[0].At.In(d.Zone).Format("15:04"), Told: told,
			})
		}
		day.Runs = runRows(d)
		v.Days = append(v.Days, day)
	}
	return v
}

// runRows are the control runs of a day, in the time of the event.
func runRows(d programme.BackDay) []traceRunRow {
	var out []traceRunRow
	for _, r := range d.Runs {
		out = append(out, traceRunRow{At: r.At.In(d.Zone).Format("15:04"), Meter: r.Meter, Level: r.Level, Vial: r.Vial, Bottle: r.Bottle, Verdict: verdictShort[r.Verdict]})
	}
	return out
}

// runsPaper sets the control runs of a day for print; nothing when there were none.
func runsPaper(day string, rows []traceRunRow) []paper.Section {
	if len(rows) == 0 {
		return nil
	}
	t := &paper.Table{Columns: []paper.Column{{Title: "At", Width: 1}, {Title: "Meter", Width: 1.5}, {Title: "Level", Width: 1}, {Title: "Vial", Width: 2}, {Title: "Bottle", Width: 2}, {Title: "Verdict", Width: 2}}}
	for _, r := range rows {
		t.Rows = append(t.Rows, []string{r.At, r.Meter, r.Level, r.Vial, r.Bottle, r.Verdict})
	}
	return []paper.Section{{Heading: "Controls, " + day, Table: t}}
}

func traceCSV(s *Server, c *Context) error {
	t, err := s.prog.TraceLot(c.R.Context(), c.R.PathValue("thing"))
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteTrace(&buf, t); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "look-back-"+t.At.Format("2006-01-02")+".csv", buf.Bytes())
}

func tracePDF(s *Server, c *Context) error {
	v, err := c.trace()
	if err != nil {
		return err
	}
	doc := paper.Document{Title: v.Page.Title, Subtitle: v.Hold, Programme: v.Page.Programme, RecordID: strings.TrimPrefix(v.Base, "/stock/of/"), Lang: "en", Printed: v.At, Invented: s.opt.Demo != nil}
	doc.Sections = []paper.Section{{Heading: "In short", Paragraphs: append([]string{v.How}, v.Says...), Keep: true}}
	for _, d := range v.Days {
		sec := paper.Section{Heading: d.Heading, Paragraphs: []string{d.Says}}
		if len(d.Visits) > 0 {
			sec.Table = &paper.Table{Columns: []paper.Column{{Title: "Ticket", Width: 1.2}, {Title: "Read at", Width: 1.2}, {Title: "Readings", Width: 1.5, Right: true}, {Title: "Meter", Width: 1.5}, {Title: "Vial", Width: 2}, {Title: "Told to the person", Width: 2}}}
			for _, x := range d.Visits {
				sec.Table.Rows = append(sec.Table.Rows, []string{x.Ticket, x.At, x.Readings, x.Meter, x.Vial, x.Told})
			}
		}
		doc.Sections = append(doc.Sections, sec)
		doc.Sections = append(doc.Sections, runsPaper(d.Heading, d.Runs)...)
	}
	return c.sendPDF("look-back-"+v.At.Format("2006-01-02"), doc)
}

package web

import (
	"bytes"
	"fmt"
	"net/url"
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/exchange"
	"fairstick/internal/fault"
	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/report"
	"fairstick/internal/web/ui"
)

// sheetsView offers the reports of a span.
type sheetsView struct {
	Page   ui.Page
	From   ui.Input
	To     ui.Input
	Fault  *fault.Fault
	Tiles  []sheetTile
	Events []ui.Link // letters to hosts, and the report of each event
	Season *ui.Link  // for a lead
}

type sheetTile struct{ Name, Href, Says string }

// sheetView is one report as a page.
type sheetView struct {
	Page  ui.Page
	Sheet report.Sheet
	Files []ui.Link
	Parts []sheetPart
	At    time.Time
}

type sheetPart struct {
	report.Part
	Picture *twoSizes
	Links   string // the query of the span, for the rows behind a count
}

// Rows gives where the rows behind a cell stand; empty for none.
func (p sheetPart) rows(c report.Cell) string {
	if c.Ask == "" || c.Hidden || c.N == nil || *c.N == 0 {
		return ""
	}
	return "/reports/rows?" + c.Ask + "&" + p.Links
}

// span reads the days from the address; the usual ones when there are none.
func (c *Context) span() (programme.Span, error) {
	s, err := c.s.prog.UsualSpan(c.R.Context())
	if err != nil {
		return s, err
	}
	for name, day := range map[string]*civil.Date{"from": &s.From, "to": &s.To} {
		if said := c.query(name); said != "" {
			d, err := civil.Parse(said)
			if err != nil {
				return s, fault.BadField(name, "%q is not a day. Write it like 2026-04-30.", said)
			}
			*day = d
		}
	}
	s.Event = c.query("event")
	return s, nil
}

func spanQuery(s programme.Span) string {
	q := url.Values{"from": {s.From.String()}, "to": {s.To.String()}}
	if s.Event != "" {
		q.Set("event", s.Event)
	}
	return q.Encode()
}

func sheetsShow(s *Server, c *Context) error {
	span, err := c.span()
	var f *fault.Fault
	if err != nil {
		if f = fault.Of(err); f.Kind != fault.Invalid {
			return err
		}
	}
	v := sheetsView{Page: c.officePage("Reports", "From one count of the record: each report says the same in another way.", "reports", nil), Fault: f}
	v.From = ui.Input{ID: "from", Name: "from", Label: "First day", Kind: ui.Date, Value: span.From.String(), Error: wrongField(v.Fault, "from")}
	v.To = ui.Input{ID: "to", Name: "to", Label: "Last day", Kind: ui.Date, Value: span.To.String(), Error: wrongField(v.Fault, "to")}
	if c.holds(lead) {
		v.Season = &ui.Link{Href: "/reports/season/targets", Label: "The season and its targets"}
	}
	if v.Fault != nil {
		return c.Show(v.Fault, SheetsPage(v))
	}
	span.Event = ""
	for _, k := range report.Kinds {
		info, _ := report.KindOf(k)
		if !info.Event {
			v.Tiles = append(v.Tiles, sheetTile{Name: info.Name, Href: "/reports/" + k + "?" + spanQuery(span), Says: info.Says})
		}
	}
	events, err := programme.List[*event.State](c.R.Context(), s.prog, event.Kind)
	if err != nil {
		return err
	}
	for _, e := range slices.Backward(events) {
		if e.Phase == event.IsPlanned || e.Phase == event.IsCancelled || e.Plan.Date.Before(span.From) || e.Plan.Date.After(span.To) {
			continue
		}
		name := e.Plan.Name + ", " + e.Plan.Date.Long()
		own := programme.Span{From: e.Plan.Date, To: e.Plan.Date, Event: e.ID}
		v.Events = append(v.Events, ui.Link{Href: "/events/" + e.ID + "/report", Label: name + ": report"}, ui.Link{Href: "/reports/host?" + spanQuery(own), Label: name + ": letter to the host"})
	}
	return c.Show(nil, SheetsPage(v))
}

func wrongField(f *fault.Fault, name string) string {
	if f == nil {
		return ""
	}
	return f.Fields[name]
}

// sheet makes the report that the address asks for.
func (c *Context) sheet() (report.Sheet, error) {
	kind := c.R.PathValue("kind")
	info, ok := report.KindOf(kind)
	if !ok {
		return report.Sheet{}, fault.New(fault.Missing, "no-such-report", "There is no such report.", "It may have been typed or linked wrongly.", "Choose one on the page Reports.")
	}
	span, err := c.span()
	if err != nil {
		return report.Sheet{}, err
	}
	if info.Event && span.Event == "" {
		return report.Sheet{}, fault.New(fault.Missing, "no-event", "A letter to the host is about one event.", "", "Choose the event on the page Reports.")
	}
	f, err := c.s.prog.Figures(c.R.Context(), programme.FiguresAsk{Span: span})
	if err != nil {
		return report.Sheet{}, err
	}
	return report.Of(kind, f)
}

func sheetShow(s *Server, c *Context) error {
	sheet, err := c.sheet()
	if err != nil {
		return err
	}
	q := spanQuery(sheet.Span)
	v := sheetView{Page: c.officePage(sheet.Title, sheet.Subtitle+".", "reports", &ui.Link{Href: "/reports?" + q, Label: "Reports"}), Sheet: sheet, At: sheet.Made}
	v.Page.Wide = true
	base := "/reports/" + sheet.Kind + "/report"
	v.Files = []ui.Link{{Href: base + ".pdf?" + q, Label: "PDF, letter"}, {Href: base + ".pdf?size=a4&" + q, Label: "PDF, A4"}, {Href: base + ".xlsx?" + q, Label: "XLSX"}, {Href: base + ".csv?" + q, Label: "CSV"}, {Href: base + ".json?" + q, Label: "JSON"}}
	for _, p := range sheet.Parts {
		part := sheetPart{Part: p, Links: q}
		if p.Bars != nil {
			both, err := drawBoth(p.Bars)
			if err != nil {
				return err
			}
			part.Picture = &both
		}
		v.Parts = append(v.Parts, part)
	}
	return c.Show(nil, SheetPage(v))
}

func sheetName(s report.Sheet) string {
	return s.Kind + "-report-" + s.Span.From.String() + "-to-" + s.Span.To.String()
}

func sheetPDF(s *Server, c *Context) error {
	sheet, err := c.sheet()
	if err != nil {
		return err
	}
	doc, err := paper.ReportOf(sheet, s.opt.Demo != nil)
	if err != nil {
		return err
	}
	return c.sendPDF(sheetName(sheet), doc)
}

func sheetXLSX(s *Server, c *Context) error {
	sheet, err := c.sheet()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteReportXLSX(&buf, sheet); err != nil {
		return err
	}
	return c.sendFile("application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", sheetName(sheet)+".xlsx", buf.Bytes())
}

func sheetCSV(s *Server, c *Context) error {
	sheet, err := c.sheet()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteReport(&buf, sheet); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", sheetName(sheet)+".csv", buf.Bytes())
}

func sheetJSON(s *Server, c *Context) error {
	sheet, err := c.sheet()
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := exchange.WriteReportJSON(&buf, sheet); err != nil {
		return err
	}
	return c.sendFile("application/json; charset=utf-8", "", buf.Bytes())
}

// rowsView is the visits behind one figure.
type rowsView struct {
	Page  ui.Page
	Says  string
	Part  string
	Table reportPart
	Links []string // where each row leads
	More  int      // rows that are not shown
}

// mostRows is how many visits one page lists.
const mostRows = 500

func sheetRows(s *Server, c *Context) error {
	span, err := c.span()
	if err != nil {
		return err
	}
	ask := programme.RowsAsk{Span: span, Figure: c.query("figure"), Parting: c.query("parting"), Part: c.query("part"), Most: mostRows}
	r, err := s.prog.FigureRows(c.R.Context(), ask)
	if err != nil {
		return err
	}
	v := rowsView{Page: c.officePage(r.Figure.Name, span.Words()+". "+plural(r.N, "visit", "visits")+".", "reports", &ui.Link{Href: "/reports?" + spanQuery(programme.Span{From: span.From, To: span.To}), Label: "Reports"}), Says: r.Figure.Says, More: r.N - len(r.Rows)}
	v.Page.Wide = true
	if ask.Parting != "" {
		v.Part = report.PartName(ask.Parting, ask.Part)
	}
	v.Table = reportPart{Key: "rows", Heading: "The visits that are counted", Empty: "Nobody is counted here.", Cols: []ui.Col{{Label: "Ticket"}, {Label: "Event"}, {Label: "Day"}, {Label: "Arrived"}, {Label: "Language"}, {Label: "Basis"}, {Label: "Band"}, {Label: "Afterwards"}}}
	for _, x := range r.Rows {
		band := "-"
		if x.Band != "" {
			band = ui.BandWord(x.Band)
		}
		day := x.Date
		if d, err := civil.Parse(x.Date); err == nil {
			day = d.Long()
		}
		v.Table.Rows = append(v.Table.Rows, []string{ticketText(x.Ticket), x.Name, day, x.Arrived, languageName(x.Language), orDash(x.Basis), band, orDash(x.Outcome)})
		v.Links = append(v.Links, fmt.Sprintf("/events/%s/history/%s", x.Event, x.Visit))
	}
	return c.Show(nil, RowsPage(v))
}

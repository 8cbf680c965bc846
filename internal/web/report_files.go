package web

import (
	"bytes"
	"encoding/json"
	"strings"

	"fairstick/internal/paper"
	"fairstick/internal/programme"
	"fairstick/internal/web/ui"
)

func reportJSON(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	r, err := s.prog.Report(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetIndent("", "  ")
	if err := enc.Encode(r); err != nil {
		return err
	}
	return c.sendFile("application/json; charset=utf-8", "", buf.Bytes())
}

func reportCSV(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	r, err := s.prog.Report(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	var buf bytes.Buffer
	if err := writeReportCSV(&buf, r); err != nil {
		return err
	}
	return c.sendFile("text/csv; charset=utf-8", "event-report-"+d.Event.Plan.Date.String()+".csv", buf.Bytes())
}

func reportPDF(s *Server, c *Context) error {
	d, err := c.Day()
	if err != nil {
		return err
	}
	r, err := s.prog.Report(c.R.Context(), d.Event.ID)
	if err != nil {
		return err
	}
	doc := reportDocument(d, r)
	doc.Printed, doc.Invented = c.now(d), s.opt.Demo != nil
	return c.sendPDF("event-report-"+d.Event.Plan.Date.String(), doc)
}

// reportDocument is the report on paper: the same summary and tables as the page.
func reportDocument(d *programme.Day, r programme.Report) paper.Document {
	v := reportOf(d, r)
	doc := paper.Document{
		Title: "Event report", Subtitle: d.Event.Plan.Name + ", " + d.Event.Plan.Venue + ", " + d.Event.Plan.Date.Long(), Programme: d.Charter.Details.Name,
		RecordID: d.Event.ID, Lang: "en",
	}
	summary := paper.Section{Heading: "In two minutes", Paragraphs: v.Brief, Keep: true}
	if !v.Final {
		summary.Paragraphs = append([]string{"The day is not closed: these numbers may still change."}, v.Brief...)
	}
	doc.Sections = append(doc.Sections, summary)
	for _, p := range v.Sections {
		sec := paper.Section{Heading: p.Heading, Paragraphs: p.Said}
		if len(p.Rows) == 0 {
			sec.Paragraphs = append(append([]string(nil), p.Said...), p.Empty)
		} else {
			sec.Table = paperTable(p)
			if p.Key == "controls" {
				sec.Table = controlTable(controlRows(d))
			}
		}
		doc.Sections = append(doc.Sections, sec)
	}
	if d.Event.ClosingNote != "" {
		doc.Sections = append(doc.Sections, paper.Section{Heading: "Note on the day", Paragraphs: []string{d.Event.ClosingNote}})
	}
	return doc
}

// paperTable sets a part as a table for paper. Columns share the width by their longest text, within bounds that leave the
// narrowest of them room on either paper.
func paperTable(p reportPart) *paper.Table {
	t := &paper.Table{}
	const least, sum, gutter = 8, 120, 3
	widest := sum / max(1, len(p.Cols)-1)
	for i, c := range p.Cols {
		width := 0
		for _, r := range p.Rows {
			width = max(width, len([]rune(r[i])))
		}
		for word := range strings.SplitSeq(c.Label, " ") {
			width = max(width, len([]rune(word)))
		}
		t.Columns = append(t.Columns, paper.Column{Title: c.Label, Width: float64(max(least, min(width+gutter, widest))), Right: c.Num})
	}
	for _, r := range p.Rows {
		row := append([]string(nil), r...)
		if p.Bands {
			row[0] = ui.BandWord(r[0])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// sendPDF sends a document as PDF, on letter paper unless the address asks for A4.
func (c *Context) sendPDF(name string, doc paper.Document) error {
	size := paper.Letter
	if c.R.URL.Query().Get("size") == "a4" {
		size = paper.A4
	}
	var buf bytes.Buffer
	if err := paper.WriteDocument(&buf, doc, size); err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", `inline; filename="`+name+`.pdf"`)
	return c.sendFile("application/pdf", "", buf.Bytes())
}

// sendFile sends a whole file; with a name it is saved rather than shown.
func (c *Context) sendFile(kind, name string, data []byte) error {
	h := c.W.Header()
	h.Set("Content-Type", kind)
	if name != "" {
		h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	}
	if _, err := c.W.Write(data); err != nil {
		c.s.log.Debug("file not sent", "err", err)
	}
	return nil
}

package web

import (
	"slices"
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/paper"
)

// qualityWidths are the shares of the columns on paper, by the table's key; the others go by their texts.
var qualityWidths = map[string][]float64{
	"rules": {60, 34, 110, 56, 128, 70},
	"lots":  {50, 40, 34, 44, 43, 44, 58, 44, 46, 47, 58},
	"runs":  {64, 72, 68, 38, 42, 52, 42, 54, 56, 52},
}

// qualityPDF is the page of a meter on paper.
func qualityPDF(s *Server, c *Context) error {
	q, err := s.prog.MeterQuality(c.R.Context(), c.R.PathValue("meter"))
	if err != nil {
		return err
	}
	ch, err := s.prog.Charter(c.R.Context())
	if err != nil {
		return err
	}
	d := q.Meter.Details
	doc := paper.Document{
		Title: qualityQuestion(q), Subtitle: "Control history of meter " + d.Label + ", " + d.Model + ", serial number " + d.Serial, Programme: ch.Details.Name, RecordID: q.Meter.ID, Lang: "en",
		Printed: s.prog.Now(), Invented: s.opt.Demo != nil,
	}
	answer := paper.Section{Paragraphs: append([]string{q.Verdict}, q.Problems...)}
	parts := []reportPart{actsPart(q)}
	if len(q.Runs) > 0 {
		pic := pictureOf(q)
		if answer.Figure, err = figureOf(pic); err != nil {
			return err
		}
		doc.Sections = append(doc.Sections, answer, paper.Section{Heading: "How to read the picture", Paragraphs: qualityBasis(q, pic.Left)})
		parts = []reportPart{breaksPart(q), partsPart(q), scatterPart(q), actsPart(q), runsOf(q).reportPart}
	} else {
		doc.Sections = append(doc.Sections, answer)
	}
	for _, p := range parts {
		sec := paper.Section{Heading: p.Heading, Paragraphs: p.Said}
		if len(p.Rows) == 0 {
			sec.Paragraphs = append(slices.Clone(p.Said), p.Empty)
		} else {
			sec.Table = paperTable(p)
			for i, w := range qualityWidths[p.Key] {
				sec.Table.Columns[i].Width = w
			}
		}
		doc.Sections = append(doc.Sections, sec)
	}
	return c.sendPDF("meter-"+fileName(d.Label), doc)
}

// figureOf sets a picture for print.
func figureOf(c chart.Chart) (*paper.Figure, error) {
	p, err := c.Draw(chart.Print)
	if err != nil {
		return nil, err
	}
	raster, err := p.PNG(300)
	if err != nil {
		return nil, err
	}
	return &paper.Figure{PNG: raster, Width: p.Width(), Height: p.Height()}, nil
}

// fileName keeps what is safe in the name of a file.
func fileName(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, s)
}

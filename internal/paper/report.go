package paper

import (
	"strings"

	"fairstick/internal/chart"
	"fairstick/internal/report"
)

// ReportOf sets a report for print: the summary, then each table under its question with its picture, then the definitions of the
// figures. A report of one page has neither pictures nor definitions.
func ReportOf(s report.Sheet, invented bool) (Document, error) {
	doc := Document{
		Title: s.Title, Subtitle: s.Subtitle, Programme: s.Programme, RecordID: s.Kind + " " + s.Span.From.String() + " to " + s.Span.To.String(), Printed: s.Made, Invented: invented, Lang: "en",
		Sections: []Section{{Heading: s.Opens, Paragraphs: s.Brief, Keep: true}},
	}
	for _, p := range s.Parts {
		sec := Section{Heading: p.Heading, Paragraphs: p.Said}
		if len(p.Rows) == 0 {
			sec.Paragraphs = append(append([]string(nil), p.Said...), p.Empty)
			doc.Sections = append(doc.Sections, sec)
			continue
		}
		if p.Bars != nil && !s.OnePage {
			fig, err := pictureOf(p.Bars)
			if err != nil {
				return doc, err
			}
			sec.Figure = fig
		}
		sec.Table = reportTable(p)
		doc.Sections = append(doc.Sections, sec)
	}
	if !s.OnePage && len(s.Defined) > 0 {
		t := &Table{Columns: []Column{{Title: "Figure", Width: 26}, {Title: "Who is counted", Width: 80}}}
		for _, d := range s.Defined {
			t.Rows = append(t.Rows, []string{d.Name, d.Says})
		}
		doc.Sections = append(doc.Sections, Section{Heading: "What each figure counts", Table: t})
	}
	return doc, nil
}

// reportDots is how fine a picture is printed.
const reportDots = 200

func pictureOf(c chart.Chart) (*Figure, error) {
	p, err := c.Draw(chart.Print)
	if err != nil {
		return nil, err
	}
	png, err := p.PNG(reportDots)
	if err != nil {
		return nil, err
	}
	return &Figure{PNG: png, Width: p.Width(), Height: p.Height()}, nil
}

// reportTable shares the width out by the longest cell of each column, within bounds that leave the narrowest of them room.
func reportTable(p report.Part) *Table {
	t := &Table{}
	const least, sum, gutter = 8, 120, 3
	widest := sum / max(1, len(p.Cols)-1)
	for i, c := range p.Cols {
		width := 0
		for _, r := range p.Rows {
			width = max(width, len([]rune(r[i].Text)))
		}
		for word := range strings.SplitSeq(c.Label, " ") {
			width = max(width, len([]rune(word)))
		}
		t.Columns = append(t.Columns, Column{Title: c.Label, Width: float64(max(least, min(width+gutter, widest))), Right: c.Num})
	}
	for _, r := range p.Rows {
		row := make([]string, len(r))
		for i, c := range r {
			row[i] = c.Text
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

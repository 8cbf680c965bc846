// Package figure says what the numbers show, in words, pictures and tables, the same for a page, for paper and for the
// command line. It takes the results of the methods and adds no judgement of its own: every verdict is that of a named
// criterion, and a number that a method refused is replaced by the method's reason.
package figure

import (
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/agreement"
	"fairstick/internal/chart"
	"fairstick/internal/glucose"
	"fairstick/internal/paper"
)

// Figure is one picture: a question, its answer in a sentence, the picture and the table behind it. A square one has the same scale
// along and upwards.
type Figure struct {
	Key    string // name of its file and of its place on a page
	Title  string
	Answer string
	Square bool
	Chart  chart.Chart
	Table  Table
}

// Table is rows under column titles. A row has a cell for each column.
type Table struct {
	Key, Heading string
	Said         []string // sentences above it
	Cols         []Col
	Rows         [][]string
}

// Col is a column's title; Num says that figures stand in it.
type Col struct {
	Label string
	Num   bool
}

// File is a picture in a file of its own.
type File struct {
	Name string
	Data []byte
}

// Size is how wide a figure is laid out for a laptop: a square one has no use for the whole width.
func (f Figure) Size() chart.Size {
	s := chart.Page
	if f.Square {
		s.Width = 600
	}
	return s
}

// SVG draws each figure as a file that stands alone, with its question above it.
func SVG(figures []Figure) ([]File, error) {
	var out []File
	for _, f := range figures {
		p, err := f.headed().Draw(f.Size())
		if err != nil {
			return nil, fmt.Errorf("figure %s: %w", f.Key, err)
		}
		out = append(out, File{Name: f.Key + ".svg", Data: p.SVG()})
	}
	return out, nil
}

// headed is the chart with its question drawn above it.
func (f Figure) headed() chart.Chart {
	switch c := f.Chart.(type) {
	case chart.Difference:
		c.Heading = true
		return c
	case chart.Regression:
		c.Heading = true
		return c
	case chart.ErrorGrid:
		c.Heading = true
		return c
	case chart.LeveyJennings:
		c.Heading = true
		return c
	case chart.Bars:
		c.Heading = true
		return c
	case chart.Drift:
		c.Heading = true
		return c
	}
	return f.Chart
}

// dots is how fine a picture is printed: about what an office printer resolves in grey.
const dots = 200

// Section sets a figure with its table for print.
func (f Figure) Section() (paper.Section, error) {
	p, err := f.Chart.Draw(chart.Print)
	if err != nil {
		return paper.Section{}, fmt.Errorf("figure %s: %w", f.Key, err)
	}
	png, err := p.PNG(dots)
	if err != nil {
		return paper.Section{}, fmt.Errorf("figure %s: %w", f.Key, err)
	}
	s := paper.Section{Heading: f.Title, Paragraphs: []string{f.Answer}, Figure: &paper.Figure{PNG: png, Width: p.Width(), Height: p.Height()}, Keep: true}
	if len(f.Table.Rows) > 0 {
		s.Table = f.Table.paper()
		s.Table.Caption = f.Table.Heading
	}
	return s, nil
}

// Section sets a table for print, on one page where it can be held.
func (t Table) Section() paper.Section {
	s := paper.Section{Heading: t.Heading, Paragraphs: t.Said, Keep: true}
	if len(t.Rows) > 0 {
		s.Table = t.paper()
	}
	return s
}

// paper shares the width out by the longest cell of each column, within bounds that leave the narrowest of them room.
func (t Table) paper() *paper.Table {
	out := &paper.Table{}
	const least, sum, gutter = 9, 120, 3
	widest := sum / max(1, len(t.Cols)-1)
	for i, c := range t.Cols {
		width := 0
		for _, r := range t.Rows {
			width = max(width, len([]rune(r[i])))
		}
		for word := range strings.SplitSeq(c.Label, " ") {
			width = max(width, len([]rune(word))+1) // set bold
		}
		out.Columns = append(out.Columns, paper.Column{Title: c.Label, Width: float64(max(least, min(width+gutter, widest))), Right: c.Num})
	}
	out.Rows = t.Rows
	return out
}

// words writes numbers of one unit: a laboratory's last figure, and no more.
type words struct {
	unit glucose.Unit
}

func (w words) decimals() int {
	if w.unit == glucose.MmolPerL {
		return 2
	}
	return 1
}

// value writes an amount with its unit.
func (w words) value(v float64) string { return fixed(v, w.decimals()) + " " + string(w.unit) }

// off writes a difference with its sign and its unit.
func (w words) off(v float64) string { return signed(v, w.decimals()) + " " + string(w.unit) }

func (w words) span(i agreement.Interval) string { return signedSpan(i, w.decimals()) }

// fixed writes a number with a real minus sign, and never a minus zero.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		if strings.Trim(rest, "0.") == "" {
			return rest
		}
		return "−" + rest
	}
	return s
}

// signed writes a number with its sign; nothing has none.
func signed(v float64, decimals int) string {
	s := fixed(v, decimals)
	if strings.HasPrefix(s, "−") || strings.Trim(s, "0.") == "" {
		return s
	}
	return "+" + s
}

func signedSpan(i agreement.Interval, decimals int) string {
	return signed(i.Low, decimals) + " to " + signed(i.High, decimals)
}

func fixedSpan(i agreement.Interval, decimals int) string {
	return fixed(i.Low, decimals) + " to " + fixed(i.High, decimals)
}

func percent(v float64) string { return fixed(v, 1) + " %" }

package paper

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"fairstick/internal/fault"
)

// Document is a report, a log or a form of the programme, ready to print.
type Document struct {
	Title, Subtitle, Programme string
	RecordID                   string
	Printed                    time.Time // also the document's date
	Invented                   bool
	Lang                       string // of the fixed words: "en" or "es"
	Contents                   string // heading of a list of the sections that are Listed, with their pages; no list when empty
	Sections                   []Section
}

// Section is a heading with paragraphs, then a sketch, then a figure, then a card, then a table; each may be missing. Keep holds it on one
// page where a page can hold it, NewPage begins a page with it, and Large sets heading and paragraphs to be read from a table away.
type Section struct {
	Heading    string
	Paragraphs []string
	Sketch     *Sketch
	Figure     *Figure
	Card       *Card
	Table      *Table
	Keep       bool
	NewPage    bool
	Large      bool
	Listed     bool // stands in the contents
}

// Figure is a picture as a PNG in greys. It is set as wide as the text, or smaller where a page is not high enough.
type Figure struct {
	PNG           []byte
	Width, Height float64 // its own measures, in any unit
	Note          string  // under it
}

// Table is rows under column titles, which are repeated on each page. A row is never cut unless it is taller than a
// page. A row may be shorter than the columns, never longer.
type Table struct {
	Caption string
	Columns []Column
	Rows    [][]string
	Note    string
}

// Column is a column's title and its share of the width; a share of 0 counts as 1. Right sets it to the right, for
// figures.
type Column struct {
	Title string
	Width float64
	Right bool
	Tick  bool // a square to tick in each row
}

// PageSize is a page for documents.
type PageSize int

// The pages a document is made for.
const (
	Letter PageSize = iota // 8.5 x 11 in
	A4                     // 210 x 297 mm
)

// points gives width and height; A4 by ISO 216.
func (s PageSize) points() (w, h float64) {
	if s == A4 {
		return 210 / 25.4 * 72, 297 / 25.4 * 72
	}
	return 8.5 * 72, 11 * 72
}

const (
	docSide    = 54
	docTop     = 50
	docBottom  = 40
	docHeadH   = 30 // running head of later pages, and the place of the invented mark
	docFootH   = 24
	docBody    = 10.5
	docLead    = 1.38
	cellSize   = 9.5
	cellLead   = 1.28
	cellPad    = 3.2
	cellGutter = 12
)

type docSheet struct {
	*press
	d     Document
	l     SlipLabels
	width float64

	figures int // set so far

	listed []listing
}

// WriteDocument sets a document as a PDF in black and white. It refuses, with a fault, a table whose columns are too
// narrow to set or whose row has more cells than there are columns.
func WriteDocument(w io.Writer, d Document, size PageSize) error {
	sheet, pages, err := setDocument(d, size)
	if err != nil {
		return err
	}
	sheet.put(pages, len(pages))
	return sheet.write(w)
}

// setDocument sets a document on pages that are not drawn yet.
func setDocument(d Document, size PageSize) (*docSheet, [][]placed, error) {
	pw, ph := size.points()
	l := Labels(d.Lang)
	p, err := newPress(pw, ph, l.Lang, d.Title, d.Printed)
	if err != nil {
		return nil, nil, err
	}
	sheet := &docSheet{press: p, d: d, l: l, width: pw - 2*docSide}
	chunks := sheet.titleChunks()
	chunks = append(chunks, sheet.contents()...)
	var starts []int // the first chunk of each listed section
	for _, s := range d.Sections {
		set, err := sheet.section(s)
		if err != nil {
			return nil, nil, err
		}
		if s.Listed && d.Contents != "" {
			starts = append(starts, len(chunks))
		}
		chunks = append(chunks, set...)
	}
	if p.boxes {
		chunks = append(chunks, p.paragraph(14, docSide, docLead, p.lines(sheet.width, span{l.Unprintable, style{size: cellSize}}))...)
	}
	pages, begins := flowed(chunks, sheet.room)
	for i, at := range starts {
		sheet.listed[i].page = begins[min(at, len(begins)-1)]
	}
	return sheet, pages, nil
}

// put draws the pages of the document, the first of a number of pages.
func (sh *docSheet) put(pages [][]placed, of int) {
	for i, strips := range pages {
		sh.pdf.AddPage()
		sh.bookmarks(i)
		top := sh.head(i)
		for _, st := range strips {
			st.draw(top + st.y)
		}
		sh.foot(i, of)
	}
}

// room gives the height of the text area of a page.
func (sh *docSheet) room(page int) float64 {
	h := sh.h - docTop - docBottom - docFootH
	if page > 0 || sh.d.Invented {
		h -= docHeadH
	}
	return h
}

func (sh *docSheet) titleChunks() []chunk {
	var all []chunk
	add := func(gap, lead float64, limit int, s string, st style) {
		if set := sh.paragraph(gap, docSide, lead, sh.capped(limit, sh.width, span{s, st})); len(set) > 0 {
			all = append(all, set...)
		}
	}
	add(0, 1.3, 2, sh.d.Programme, style{size: 11})
	add(1, 1.15, 4, sh.d.Title, style{size: 24, bold: true})
	add(3, 1.3, 6, sh.d.Subtitle, style{size: 12})
	all = append(all, chunk{gap: 8, strips: []strip{{4, func(y float64) { sh.rule(docSide, sh.w-docSide, y+1, 2) }}}})
	return []chunk{together(all)}
}

// head sets what stands above the text area and gives where that begins.
func (sh *docSheet) head(page int) float64 {
	y := float64(docTop)
	right := sh.w - docSide
	if sh.d.Invented {
		mark := sh.lines(sh.width, span{sh.l.Invented, style{size: 10, bold: true}})[0]
		sh.frame(right-mark.w-16, y-12, mark.w+16, 18, 0.8)
		sh.draw(right-mark.w-8, baseline(y-12, 18, 10), mark)
		right -= mark.w + 28
	}
	if page > 0 {
		running := sh.capped(1, right-docSide, span{join(" · ", sh.d.Title, sh.d.Programme), style{size: 9.5}})
		if len(running) > 0 {
			sh.draw(docSide, baseline(y-12, 18, 9.5), running[0])
		}
		sh.rule(docSide, sh.w-docSide, y+11, 0.4)
	}
	if page > 0 || sh.d.Invented {
		y += docHeadH
	}
	return y
}

func (sh *docSheet) foot(page, pages int) {
	y := sh.h - docBottom - docFootH + 8
	st := style{size: 9}
	sh.rule(docSide, sh.w-docSide, y, 0.4)
	of := sh.lines(sh.width, span{sh.l.PageOf(page+1, pages), st})[0]
	sh.draw(sh.w-docSide-of.w, baseline(y+3, 12, 9), of)
	var record, printed string
	if strings.TrimSpace(sh.d.RecordID) != "" {
		record = sh.l.Record + " " + sh.d.RecordID
	}
	if m := sh.l.MomentText(sh.d.Printed); m != "" {
		printed = sh.l.Printed + " " + m
	}
	for i, ln := range sh.capped(2, sh.width-of.w-20, span{join(dot, record, printed), st}) {
		sh.draw(docSide, baseline(y+3+float64(i)*12, 12, 9), ln)
	}
}

func (sh *docSheet) section(s Section) ([]chunk, error) {
	var body []chunk
	text, title := docBody, 14.0
	if s.Large {
		text, title = 16, 26
	}
	for i, words := range s.Paragraphs {
		gap := text * 6 / docBody
		if i == 0 {
			gap = 4
		}
		body = append(body, sh.paragraph(gap, docSide, docLead, sh.lines(sh.width, span{words, style{size: text}}))...)
	}
	if s.Sketch != nil {
		body = append(body, sh.sketch(*s.Sketch))
	}
	if s.Figure != nil {
		set, err := sh.figure(*s.Figure)
		if err != nil {
			return nil, err
		}
		body = append(body, set...)
	}
	if s.Card != nil {
		body = append(body, sh.card(*s.Card))
	}
	if s.Table != nil {
		set, err := sh.table(*s.Table)
		if err != nil {
			return nil, err
		}
		body = append(body, set...)
	}
	heading := sh.paragraph(20, docSide, 1.25, sh.lines(sh.width, span{s.Heading, style{size: title, bold: true}}))
	if len(heading) > 0 {
		body = joined(together(heading), body)
	}
	if s.Keep && len(body) > 1 {
		if kept := together(body); height(kept.strips) <= sh.room(1) {
			body = []chunk{kept}
		}
	}
	if s.NewPage && len(body) > 0 {
		body[0].fresh = true
	}
	return body, nil
}

// figure sets a picture with its note, together on one page.
func (sh *docSheet) figure(f Figure) ([]chunk, error) {
	if !(f.Width > 0) || !(f.Height > 0) {
		return nil, fmt.Errorf("paper: a figure of %v by %v", f.Width, f.Height)
	}
	name := fmt.Sprintf("figure-%d", sh.figures)
	sh.figures++
	o := fpdf.ImageOptions{ImageType: "PNG"}
	if sh.pdf.RegisterImageOptionsReader(name, o, bytes.NewReader(f.PNG)); sh.pdf.Err() {
		return nil, fmt.Errorf("paper: the picture of a figure cannot be read: %w", sh.pdf.Error())
	}
	w, h := sh.width, sh.width*f.Height/f.Width
	if most := sh.room(1) - 60; h > most {
		w, h = most*f.Width/f.Height, most
	}
	all := []chunk{{gap: 6, strips: []strip{{h, func(y float64) {
		sh.pdf.ImageOptions(name, docSide, y, w, h, false, o, 0, "")
	}}}}}
	all = append(all, sh.paragraph(3, docSide, 1.3, sh.lines(sh.width, span{f.Note, style{size: 9}}))...)
	return []chunk{together(all)}, nil
}

// table sets a caption, the column titles, the rows under hairlines, and the note.
func (sh *docSheet) table(t Table) ([]chunk, error) {
	widths, err := sh.columns(t)
	if err != nil {
		return nil, err
	}
	titles := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		titles[i] = c.Title
	}
	head := []strip{{1, func(y float64) { sh.rule(docSide, sh.w-docSide, y, 1) }}}
	head = append(head, sh.cells(t, widths, titles, true)...)
	last := len(head) - 1
	title := head[last]
	head[last] = strip{title.h, func(y float64) {
		title.draw(y)
		sh.rule(docSide, sh.w-docSide, y+title.h, 0.7)
	}}
	if len(t.Columns) == 0 {
		head = nil
	}

	var rows []chunk
	for i, row := range t.Rows {
		if len(row) > len(t.Columns) {
			return nil, fault.New(fault.Internal, "table-row-too-long", "A row of a table has more cells than the table has columns.",
				"Part of it would be missing on paper.", "Tell the lead which report it was.")
		}
		strips := sh.cells(t, widths, row, false)
		weight := 0.25
		if i == len(t.Rows)-1 {
			weight = 1
		}
		end := strips[len(strips)-1]
		strips[len(strips)-1] = strip{end.h, func(y float64) {
			end.draw(y)
			sh.rule(docSide, sh.w-docSide, y+end.h, weight)
		}}
		rows = append(rows, chunk{head: head, again: head, strips: strips})
	}
	if len(rows) == 0 {
		rows = sh.paragraph(4, docSide, docLead, sh.lines(sh.width, span{sh.l.NoRows, style{size: cellSize}}))
	}
	rows[0] = together([]chunk{{gap: 8, strips: head}, rows[0]})
	if caption := sh.paragraph(10, docSide, 1.3, sh.lines(sh.width, span{t.Caption, style{size: docBody, bold: true}})); len(caption) > 0 {
		rows[0].gap = 4
		rows = joined(together(caption), rows)
	}
	return append(rows, sh.paragraph(5, docSide, 1.3, sh.lines(sh.width, span{t.Note, style{size: 9}}))...), nil
}

// columns shares the width out.
func (sh *docSheet) columns(t Table) ([]float64, error) {
	share := func(c Column) float64 {
		if c.Width > 0 {
			return c.Width
		}
		return 1
	}
	sum := 0.0
	for _, c := range t.Columns {
		sum += share(c)
	}
	widths := make([]float64, len(t.Columns))
	for i, c := range t.Columns {
		widths[i] = (sh.width + cellGutter) * share(c) / sum // the last column has its gutter outside the page's measure
		if !(widths[i] >= cellGutter+2*cellSize) {
			return nil, fault.New(fault.Invalid, "table-too-wide", "This table has columns too narrow to print.",
				"Their text would run into each other.", "Leave columns out, or save the table as a spreadsheet instead.")
		}
	}
	return widths, nil
}

// cells sets one row as strips, one for each line of its tallest cell. Figures come in the face whose digits are of one
// width, so that they stand under each other.
func (sh *docSheet) cells(t Table, widths []float64, row []string, title bool) []strip {
	set := make([][]line, len(row))
	tall := 1
	for i, text := range row {
		set[i] = sh.lines(widths[i]-cellGutter, span{text, style{size: cellSize, bold: title, wide: t.Columns[i].Right && !title}})
		tall = max(tall, len(set[i]))
	}
	strips := make([]strip, tall)
	for k := range strips {
		h, top := cellSize*cellLead, 0.0
		if k == 0 {
			h, top = h+cellPad, cellPad
		}
		if k == tall-1 {
			h += cellPad
		}
		strips[k] = strip{h, func(y float64) {
			x := float64(docSide)
			for i, lines := range set {
				at := k
				if title {
					at -= tall - len(lines) // titles stand on the rule
				}
				if t.Columns[i].Tick && !title && k == 0 {
					sh.frame(x, y+top+(cellSize*cellLead-tickSide)/2, tickSide, tickSide, 0.8)
				}
				if at >= 0 && at < len(lines) {
					left := x
					if t.Columns[i].Right {
						left += widths[i] - cellGutter - lines[at].w
					}
					sh.draw(left, baseline(y+top, cellSize*cellLead, cellSize), lines[at])
				}
				x += widths[i]
			}
		}}
	}
	return strips
}

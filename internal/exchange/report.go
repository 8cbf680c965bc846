package exchange

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"fairstick/internal/report"
)

// reportColumns are the columns of a report as CSV, one cell of its tables a row.
var reportColumns = []struct{ Name, Holds string }{
	{"part", "which table of the report"},
	{"row", "what the row of the table is about"},
	{"column", "what was counted or measured"},
	{"value", "a count, a share in percent, an amount or a word; empty when it is not shown"},
	{"number", "the count, or the share from 0 to 1; empty for words and for what is not shown"},
	{"not_shown", "yes for a count from 1 to 10, and for one that could give such a count away"},
}

// ReportColumns gives the columns of a report as CSV with what stands in them.
func ReportColumns() (names, holds []string) {
	for _, c := range reportColumns {
		names, holds = append(names, c.Name), append(holds, c.Holds)
	}
	return names, holds
}

// WriteReport writes a report as CSV.
func WriteReport(w io.Writer, s report.Sheet) error {
	c := csv.NewWriter(w)
	names, _ := ReportColumns()
	if err := c.Write(names); err != nil {
		return err
	}
	for _, p := range s.Parts {
		for _, row := range p.Rows {
			for i, cell := range row[1:] {
				value, number, hidden := inert(cell.Text), "", ""
				switch {
				case cell.Hidden:
					value, hidden = "", "yes"
				case cell.N != nil:
					number = strconv.Itoa(*cell.N)
				case cell.Share != nil:
					number = strconv.FormatFloat(*cell.Share, 'f', 4, 64)
				}
				if err := c.Write([]string{p.Key, inert(row[0].Text), inert(p.Cols[i+1].Label), value, number, hidden}); err != nil {
					return err
				}
			}
		}
	}
	c.Flush()
	return c.Error()
}

// inert keeps a spreadsheet from running a text as a formula: such a text gets an apostrophe in front. Numbers below zero stay numbers.
func inert(s string) string {
	if s == "" || !strings.ContainsRune("=+@-\t\r", rune(s[0])) || s == "-" {
		return s
	}
	if s[0] == '-' {
		if _, err := strconv.ParseFloat(s, 64); err == nil {
			return s
		}
	}
	return "'" + s
}

// WriteReportJSON writes a report for programs.
func WriteReportJSON(w io.Writer, s report.Sheet) error {
	type col struct {
		Key   string          `json:"key"`
		Title string          `json:"title"`
		Said  []string        `json:"said,omitempty"`
		Cols  []string        `json:"columns"`
		Rows  [][]report.Cell `json:"rows"`
	}
	out := struct {
		Kind      string   `json:"report"`
		Title     string   `json:"title"`
		Programme string   `json:"programme"`
		From      string   `json:"from"`
		To        string   `json:"to"`
		Event     string   `json:"event,omitempty"`
		Made      string   `json:"made"`
		Public    bool     `json:"public"`
		Hidden    int      `json:"cells_not_shown"`
		Brief     []string `json:"summary"`
		Parts     []col    `json:"parts"`
		Defined   any      `json:"definitions"`
	}{s.Kind, s.Title, s.Programme, s.Span.From.String(), s.Span.To.String(), s.Span.Event, s.Made.UTC().Format("2006-01-02T15:04:05Z"), s.Public, s.Hidden, s.Brief, nil, s.Defined}
	for _, p := range s.Parts {
		c := col{Key: p.Key, Title: p.Heading, Said: p.Said, Rows: p.Rows}
		for _, x := range p.Cols {
			c.Cols = append(c.Cols, x.Label)
		}
		out.Parts = append(out.Parts, c)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(out)
}

// WriteReportXLSX writes a report as a workbook: the summary first, then a sheet for each table, then the definitions. Counts and
// shares are numbers; what is not shown is a word.
func WriteReportXLSX(w io.Writer, s report.Sheet) error {
	f := excelize.NewFile()
	x := &workbook{f: f}
	x.begin("Summary")
	x.row(x.bold, s.Title)
	x.row(0, s.Programme)
	x.row(0, s.Subtitle)
	x.row(0, "Made "+s.Made.Format("2 Jan 2006 15:04"))
	x.row(0)
	for _, said := range s.Brief {
		x.row(x.wrap, said)
	}
	x.width(110)
	for _, p := range s.Parts {
		x.part(p)
	}
	x.begin("Definitions")
	x.row(x.bold, "Figure", "Key", "Of", "Who is counted")
	for _, d := range s.Defined {
		x.row(0, d.Name, d.Key, d.Of, d.Says)
	}
	x.width(34, 18, 14, 110)
	if x.err == nil {
		x.err = f.DeleteSheet("Sheet1")
	}
	if x.err == nil {
		x.err = f.SetDocProps(&excelize.DocProperties{Title: s.Title + ", " + s.Subtitle, Creator: s.Programme, Created: s.Made.UTC().Format("2006-01-02T15:04:05Z"), Modified: s.Made.UTC().Format("2006-01-02T15:04:05Z")})
	}
	if x.err == nil {
		x.err = f.Write(w)
	}
	if err := f.Close(); x.err == nil {
		x.err = err
	}
	return x.err
}

// workbook is a workbook at work. The first failure stays in err.
type workbook struct {
	f                   *excelize.File
	sheet               string
	at                  int
	bold, wrap, percent int
	err                 error
}

func (x *workbook) begin(name string) {
	if x.err != nil {
		return
	}
	if x.bold == 0 {
		for _, s := range []struct {
			to    *int
			style excelize.Style
		}{
			{&x.bold, excelize.Style{Font: &excelize.Font{Bold: true}}},
			{&x.wrap, excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}}},
			{&x.percent, excelize.Style{NumFmt: 10}}, // 0.00 %
		} {
			if *s.to, x.err = x.f.NewStyle(&s.style); x.err != nil {
				return
			}
		}
	}
	x.sheet, x.at = name, 0
	_, x.err = x.f.NewSheet(name)
}

// row writes the next row; a style of 0 is plain.
func (x *workbook) row(style int, values ...any) {
	x.at++
	for i, v := range values {
		x.set(i+1, v, style)
	}
}

func (x *workbook) set(col int, v any, style int) {
	if x.err != nil {
		return
	}
	var at string
	if at, x.err = excelize.CoordinatesToCellName(col, x.at); x.err != nil {
		return
	}
	if x.err = x.f.SetCellValue(x.sheet, at, v); x.err == nil && style != 0 {
		x.err = x.f.SetCellStyle(x.sheet, at, at, style)
	}
}

func (x *workbook) width(wide ...float64) {
	for i, w := range wide {
		if x.err != nil {
			return
		}
		var name string
		if name, x.err = excelize.ColumnNumberToName(i + 1); x.err == nil {
			x.err = x.f.SetColWidth(x.sheet, name, name, w)
		}
	}
}

func (x *workbook) part(p report.Part) {
	x.begin(sheetName(p.Key))
	x.row(x.bold, p.Heading)
	for _, s := range p.Said {
		x.row(0, s)
	}
	if len(p.Rows) == 0 {
		x.row(0, p.Empty)
		return
	}
	titles := make([]any, len(p.Cols))
	wide := make([]float64, len(p.Cols))
	for i, c := range p.Cols {
		titles[i], wide[i] = c.Label, float64(max(12, len(c.Label)+2))
	}
	x.row(x.bold, titles...)
	for _, row := range p.Rows {
		x.at++
		for i, c := range row {
			wide[i] = max(wide[i], float64(min(60, len(c.Text)+2)))
			switch {
			case c.N != nil:
				x.set(i+1, *c.N, 0)
			case c.Share != nil:
				x.set(i+1, *c.Share, x.percent)
			default:
				x.set(i+1, c.Text, 0)
			}
		}
	}
	x.width(wide...)
}

// sheetName makes the name of a table a name of a sheet: at most 31 characters, the first large.
func sheetName(key string) string {
	key = strings.ToUpper(key[:1]) + key[1:]
	return fmt.Sprintf("%.31s", key)
}

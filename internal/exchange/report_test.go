package exchange

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"fairstick/internal/programme"
	"fairstick/internal/report"
)

func reportSheet() report.Sheet {
	n, three, share := 905, 3, 0.135
	return report.Sheet{
		Kind: "season", Title: "Season report", Subtitle: "Invented", Programme: "=Invented()", Made: time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC), Brief: []string{"All well."},
		Parts: []report.Part{
			{Key: "funnel", Heading: "How far?", Cols: []report.Col{{Label: "Figure"}, {Label: "People", Num: true}, {Label: "Share", Num: true}}, Rows: [][]report.Cell{
				{{Text: "Tested"}, {Text: "905", N: &n}, {Text: "13.5 %", Share: &share}},
				{{Text: "@few"}, {Text: report.NotShown, Hidden: true}, {Text: report.NotShown, Hidden: true}},
			}},
			{Key: "staff", Heading: "Who?", Cols: []report.Col{{Label: "Who"}, {Label: "Count"}}, Rows: [][]report.Cell{{{Text: "People"}, {Text: "3", N: &three, Thing: true}}}},
			{Key: "cost", Heading: "Cost?", Empty: "No invoice."},
		},
		Defined: []programme.Figure{{Key: "tested", Name: "Tested", Of: "approached", Says: "People with a value."}},
	}
}

func TestReportCSV(t *testing.T) {
	var out strings.Builder
	if err := WriteReport(&out, reportSheet()); err != nil {
		t.Fatal(err)
	}
	want := `part,row,column,value,number,not_shown
funnel,Tested,People,905,905,
funnel,Tested,Share,13.5 %,0.1350,
funnel,'@few,People,,,yes
funnel,'@few,Share,,,yes
staff,People,Count,3,3,
`
	if out.String() != want {
		t.Errorf("got\n%s", out.String())
	}
}

// Counts and shares are numbers in the workbook, a text never becomes a formula, and what is hidden is a word.
func TestReportXLSX(t *testing.T) {
	var buf bytes.Buffer
	if err := WriteReportXLSX(&buf, reportSheet()); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&buf)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}()
	if got := strings.Join(f.GetSheetList(), ","); got != "Summary,Funnel,Staff,Cost,Definitions" {
		t.Errorf("sheets %s", got)
	}
	for at, want := range map[string]string{"Funnel!A1": "How far?", "Funnel!B3": "905", "Funnel!C3": "13.50%", "Funnel!A4": "@few", "Funnel!B4": report.NotShown, "Summary!A2": "=Invented()", "Cost!A2": "No invoice.", "Definitions!D2": "People with a value."} {
		sheet, cell, _ := strings.Cut(at, "!")
		if got, err := f.GetCellValue(sheet, cell); err != nil || got != want {
			t.Errorf("%s: %q, want %q (%v)", at, got, want, err)
		}
	}
	if kind, err := f.GetCellType("Funnel", "B3"); err != nil || kind != excelize.CellTypeNumber && kind != excelize.CellTypeUnset {
		t.Errorf("a count is of type %v, %v", kind, err)
	}
	if formula, err := f.GetCellFormula("Summary", "A2"); err != nil || formula != "" {
		t.Errorf("a text became the formula %q", formula)
	}
}

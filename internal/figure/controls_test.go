package figure

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/exchange"
	"fairstick/internal/paper"
)

func judged(t *testing.T, csv string) exchange.ControlReport {
	t.Helper()
	values, err := exchange.ReadControls(strings.NewReader(csv))
	if err != nil {
		t.Fatal(err)
	}
	r, err := exchange.JudgeControls(values, exchange.ControlOptions{Rules: []control.RuleName{control.Rule12s, control.Rule13s, control.Rule22s}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Two levels of one meter and one of another. Level 1 has a mean of 100 and an SD of 4: 109 is +2.25 and warns, 113 is +3.25 and
// rejects; 119 leaves the printed range from 82 to 118 of the other meter.
const historyCSV = `date,meter,lot,level,value,low,high,mean,sd
2026-01-01,M1,A,1,101,,,100,4
2026-01-01,M1,A,2,251,,,250,5
2026-01-02,M1,A,1,109,,,100,4
2026-01-03,M1,A,1,100,,,100,4
2026-01-03,M1,A,2,249,,,250,5
2026-01-03,M1,A,1,113,,,100,4
2026-01-01,M/2,B,1,119,82,118,,
`

func TestControlsArePlacedAndMarked(t *testing.T) {
	figures := Controls(judged(t, historyCSV))
	if len(figures) != 2 {
		t.Fatalf("%d pictures", len(figures))
	}
	var m1, m2 Figure
	for _, f := range figures {
		if strings.Contains(f.Title, "M1") {
			m1 = f
		} else {
			m2 = f
		}
	}
	if m1.Key != "controls-M1-A" || m2.Key != "controls-M-2-B" || m1.Title != "Is meter M1 in control with strip lot A?" {
		t.Errorf("%q, %q, %q", m1.Key, m2.Key, m1.Title)
	}
	var got []string
	for _, p := range m1.Chart.(chart.LeveyJennings).Panels {
		for _, r := range p.Runs {
			got = append(got, fmt.Sprintf("%s: %d %s %v %d %s", p.Y, r.At, r.Date, r.Value, r.Kind, r.Note))
		}
	}
	want := []string{
		"level 1: 1 2026-01-01 101 0 ", "level 1: 2 2026-01-02 109 1 1-2s", "level 1: 3 2026-01-03 100 0 ", "level 1: 4 2026-01-03 113 2 1-2s, 1-3s",
		"level 2: 1 2026-01-01 251 0 ", "level 2: 3 2026-01-03 249 0 ",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if !strings.HasPrefix(m1.Answer, "4 of 6 control results in range, 1 with a warning, 1 rejected.") {
		t.Errorf("%s", m1.Answer)
	}
	if r := m1.Table.Rows[1]; strings.Join(r, "|") != "2026-01-01|2|251|+0.20|yes|-" {
		t.Errorf("the table: %q", r)
	}
	c := m2.Chart.(chart.LeveyJennings).Panels[0]
	if c.Runs[0].Kind != chart.OutOfRange || len(c.Bands) != 1 || c.Bands[0].Low != 82 || !strings.Contains(m2.Answer, "The grey strip is the printed range.") {
		t.Errorf("%+v, %s", c, m2.Answer)
	}
	if files, err := SVG(figures); err != nil || len(files) != 2 {
		t.Errorf("%d files, %v", len(files), err)
	}
}

// Two meters whose names are one file name keep a file each; of a long history the last runs are shown.
func TestControlsOfManyRuns(t *testing.T) {
	var csv strings.Builder
	csv.WriteString("date,meter,lot,level,value,mean,sd\n")
	for i := range 130 {
		fmt.Fprintf(&csv, "%s,M/1,A,1,%d,100,4\n", time.Date(2026, 1, 1+i, 0, 0, 0, 0, time.UTC).Format("2006-01-02 15:04"), 97+i%7)
	}
	csv.WriteString("2026-01-01,M 1,A,1,100,100,4\n")
	r := judged(t, csv.String())
	figures := Controls(r)
	if len(figures) != 2 || figures[0].Key != "controls-M-1-A" || figures[1].Key != "controls-M-1-A-2" {
		t.Fatalf("%d pictures, the first %s", len(figures), figures[0].Key)
	}
	long := figures[1]
	if runs := long.Chart.(chart.LeveyJennings).Panels[0].Runs; len(runs) != 100 || runs[0].Date != "2026-01-31" || runs[99].At != 100 || !strings.Contains(long.Answer, "30 came before them") {
		t.Errorf("%d runs from %s: %s", len(runs), runs[0].Date, long.Answer)
	}
	doc, err := ControlDocument(r, "history.csv")
	if err != nil {
		t.Fatal(err)
	}
	var pdf bytes.Buffer
	if err := paper.WriteDocument(&pdf, doc, paper.Letter); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(pdf.Bytes(), []byte("/Subtype /Image")); n != 2 {
		t.Errorf("%d pictures", n)
	}
}

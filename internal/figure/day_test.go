package figure

import (
	"strings"
	"testing"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/estimate"
)

// The answer says what the watch raised and what to do; a meter that cannot be compared stands in the table without a picture.
func TestReadAlike(t *testing.T) {
	traces := []control.Trace{
		{Meter: "M1", Tests: 20, Percent: -2.4, Limit: 3.1, Steps: []control.TraceStep{{At: 16, Distance: 0.4}, {At: 17, Distance: -0.6}}},
		{Meter: "M/2", Tests: 21, Percent: 14.6, Limit: 3.1, Steps: []control.TraceStep{{At: 16, Distance: 2.8}, {At: 18, Distance: 3.3, Alarm: true}, {At: 19, Distance: 2.9}}},
		{Meter: "M3", Tests: 3, Limit: 3.1},
	}
	told := ReadAlike(traces, []control.Alarm{{Kind: control.MeterApart, What: "Meter M/2 has read higher.", Do: "Check meter M/2."}})
	if told.Answer != "Meter M/2 has read higher. Check meter M/2." || len(told.Figures) != 2 || told.Figures[1].Key != "meter-M-2" {
		t.Fatalf("%q, %d pictures", told.Answer, len(told.Figures))
	}
	var rows []string
	for _, r := range told.Table.Rows {
		rows = append(rows, strings.Join(r, "|"))
	}
	if got, want := strings.Join(rows, "\n"), "M1|20|−2 %|−0.6|±3.1|alike\nM/2|21|+15 %|+2.9|±3.1|alarm after test 18\nM3|3|-|-|±3.1|too few tests to compare"; got != want {
		t.Errorf("%s", got)
	}
	c := told.Figures[1].Chart.(chart.Drift)
	if len(c.Steps) != 3 || c.Steps[1].Alarm != "check M/2" || c.Steps[0].Alarm != "" || c.Levels[1].Value != 3.1 || c.Levels[2].Value != -3.1 {
		t.Errorf("%+v", c)
	}
	if a := told.Figures[1].Answer; !strings.HasPrefix(a, "There was an alarm after test 18. 21 first readings") || !strings.Contains(a, "was 3.3 at most") {
		t.Errorf("%q", a)
	}
	files, err := SVG(told.Figures)
	if err != nil || !strings.Contains(string(files[1].Data), ">check M/2<") || !strings.Contains(string(files[1].Data), ">Does meter M/2 read like the others?<") {
		t.Errorf("%v", err)
	}
	if a := ReadAlike(traces[:1], nil).Answer; !strings.Contains(a, "1 of 1 meters could be compared, and none lies beyond its limits") {
		t.Errorf("%q", a)
	}
	if a := ReadAlike(traces[2:], nil); !strings.HasPrefix(a.Answer, "Too few people") || len(a.Figures) != 0 || len(a.Table.Rows) != 1 {
		t.Errorf("%+v", a)
	}
}

// Who has fewer than two readings for each digit has no picture; dark bars and words stand only where the test of all screeners alarms.
func TestLastFigures(t *testing.T) {
	checks, err := estimate.CheckDigits([]estimate.Screener{
		{Name: "Ada", Digits: estimate.LastDigits{14, 3, 4, 2, 3, 12, 3, 2, 4, 3}},
		{Name: "Ben", Digits: estimate.LastDigits{1, 1, 1, 1, 1, 1, 1, 1, 1, 1}},
		{Name: "Cid", Digits: estimate.LastDigits{4, 3, 4, 2, 3, 5, 3, 2, 4, 3}},
	}, 0.05, estimate.HolmCorrection)
	if err != nil {
		t.Fatal(err)
	}
	figures := LastFigures(checks)
	if len(figures) != 2 || figures[0].Title != "How do the readings of Ada end?" || figures[1].Key != "digits-3" {
		t.Fatalf("%+v", figures)
	}
	ada, cid := figures[0].Chart.(chart.Bars), figures[1].Chart.(chart.Bars)
	if !ada.Bars[0].Marked || !ada.Bars[5].Marked || ada.Bars[4].Marked || cid.Bars[0].Marked || ada.Bars[0].Value != 14 || ada.Levels[0].Value != 5 {
		t.Errorf("%+v, %+v", ada, cid)
	}
	if a := figures[0].Answer; a != "26 of 50 end in 0 or 5; chance alone gives about 10. Chance alone hardly does this: compare with the meter's memory." {
		t.Errorf("%q", a)
	}
	if a := figures[1].Answer; a != "9 of 33 end in 0 or 5; chance alone gives about 7." {
		t.Errorf("%q", a)
	}
	if r := figures[1].Table.Rows; len(r) != 10 || strings.Join(r[5], "|") != "5|5|3.3" {
		t.Errorf("%v", r)
	}
}

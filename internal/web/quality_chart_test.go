package web

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"fairstick/internal/chart"
	"fairstick/internal/control"
	"fairstick/internal/event"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/stock"
)

// The picture of a long history begins 100 places before its end, holds the meter against its own first 20 runs where it has
// them, and tells every kind of control by shape and word.
func TestPictureOfALongHistory(t *testing.T) {
	q := programme.MeterQuality{Meter: &stock.Meter{Details: stock.MeterDescribed{Label: "M1"}}, Levels: []string{"1"}, Verdict: "Said."}
	start := time.Date(2026, 6, 1, 8, 0, 0, 0, time.UTC)
	byLot := map[string][]control.Run{}
	add := func(lot string, low, high int, r glucose.Reading, change func(*programme.QualityRun)) {
		n := len(q.Runs) + 1
		run := programme.QualityRun{Lot: lot, Place: n, Run: event.Run{ID: fmt.Sprint(n), At: start.Add(time.Duration(n) * time.Hour), ControlRun: event.ControlRun{StripLot: lot, Level: "1", Reading: r, Low: glucose.MgDL(low), High: glucose.MgDL(high)}}}
		verdict, err := control.Judge(r, run.Low, run.High)
		if err != nil {
			t.Fatal(err)
		}
		run.Verdict = string(verdict)
		if r.Kind == glucose.Numeric {
			run.Value = float64(r.Value.Steps)
		}
		change(&run)
		q.Runs = append(q.Runs, run)
		byLot[lot] = append(byLot[lot], control.Run{ID: run.ID, Meter: "M1", Lot: lot, Level: "1", At: run.At, Reading: r, Low: run.Low, High: run.High})
	}
	plain := func(*programme.QualityRun) {}
	for i := range 114 {
		add("A", 96, 144, glucose.Number(glucose.MgDL(116+8*(i%2))), plain) // mean 120, SD 4.1039
	}
	add("B", 98, 146, glucose.Number(glucose.MgDL(123)), plain)
	add("B", 98, 146, glucose.Number(glucose.MgDL(150)), func(r *programme.QualityRun) {
		r.Broken, r.Rejected, r.Action = []control.RuleName{control.Rule12s, control.Rule22s}, true, "new vial"
	})
	add("B", 98, 146, glucose.Number(glucose.MgDL(140)), func(r *programme.QualityRun) {
		r.Broken, r.Rejected = []control.RuleName{control.Rule12s, control.Rule41s}, true
	})
	add("B", 98, 146, glucose.Number(glucose.MgDL(141)), func(r *programme.QualityRun) { r.Broken = []control.RuleName{control.Rule12s} })
	add("B", 98, 146, glucose.HI(glucose.MgPerDL), plain)
	add("B", 98, 146, glucose.ErrorCode("E-3", glucose.MgPerDL), plain)
	for _, lot := range []string{"A", "B"} {
		s, err := control.Describe(byLot[lot], control.RangeSDs)
		if err != nil {
			t.Fatal(err)
		}
		part := programme.QualityPart{LotID: lot, Series: s, Target: *s.Printed, Ruled: true}
		if s.Own != nil {
			part.Target = *s.Own
		}
		q.Parts = append(q.Parts, part)
	}
	q.Acts = []programme.QualityAct{{Kind: "void", Key: "dropped", Next: 3}, {Kind: "void", Key: "dropped", Next: 115}, {Kind: "quarantine"}}

	pic := pictureOf(q)
	if pic.Left != 20 || len(pic.Panels) != 1 || len(pic.Panels[0].Runs) != 100 {
		t.Fatalf("%d places left out, %d panels", pic.Left, len(pic.Panels))
	}
	p := pic.Panels[0]
	if want := []chart.Lot{{Before: 1, Label: "lot A"}, {Before: 95, Label: "lot B"}}; !slices.Equal(p.Lots, want) {
		t.Errorf("lots %v", p.Lots)
	}
	want := []chart.Run{
		{At: 95, Date: "6 Jun", Value: 123, Action: "dropped"},
		{At: 96, Date: "6 Jun", Value: 150, Kind: chart.OutOfRange, Note: "out of range, 2-2s", Action: "new vial"},
		{At: 97, Date: "6 Jun", Value: 140, Kind: chart.Rejected, Note: "4-1s"},
		{At: 98, Date: "6 Jun", Value: 141, Kind: chart.Warning, Note: "1-2s"},
		{At: 99, Date: "6 Jun", Kind: chart.OutOfRange, Note: "HI", Edge: chart.Above},
		{At: 100, Date: "6 Jun", Kind: chart.OutOfRange, Note: "error E-3", Edge: chart.Below, Action: "quarantine"},
	}
	if got := p.Runs[94:]; !slices.Equal(got, want) {
		t.Errorf("the last runs are %+v\nwant %+v", got, want)
	}
	var named []string
	for _, l := range p.Levels {
		named = append(named, fmt.Sprintf("%s %.1f", l.Label, l.From))
	}
	wantLines := []string{
		"mean 120.0 0.5", "+1 SD 124.1 0.5", "−1 SD 115.9 0.5", "+2 SD 128.2 0.5", "−2 SD 111.8 0.5", "+3 SD 132.3 0.5", "−3 SD 107.7 0.5", "range to 144 0.5", "range from 96 0.5",
		"centre 122.0 94.5", "+1 SD 134.0 94.5", "−1 SD 110.0 94.5", "range to 146 94.5", "range from 98 94.5", "+3 SD 158.0 94.5", "−3 SD 86.0 94.5",
	}
	if !slices.Equal(named, wantLines) {
		t.Errorf("lines %q\nwant  %q", named, wantLines)
	}
	if want := []chart.Band{{Low: 96, High: 144, From: 0.5, To: 94.5}, {Low: 98, High: 146, From: 94.5, To: 101.5}}; !slices.Equal(p.Bands, want) {
		t.Errorf("bands %v", p.Bands)
	}
	drawn, err := pic.draw()
	if err != nil || len(drawn.Narrow) == 0 || len(drawn.Wide) == 0 {
		t.Errorf("it was not drawn: %v", err)
	}
}

package chart

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"

	"fairstick/internal/fault"
)

func drawn(t *testing.T, c Chart, s Size) (*Picture, []element) {
	t.Helper()
	p, err := c.Draw(s)
	if err != nil {
		t.Fatal(err)
	}
	return p, checkSVG(t, p)
}

// circles gives the middles of all circles of a look: filled dots or hollow rings.
func circles(all []element, filled bool) []XY {
	var out []XY
	for _, e := range all {
		for _, s := range e.paths {
			if s.round && (e.attr["fill"] != "") == filled {
				out = append(out, XY{(s.pts[0].X + s.pts[1].X) / 2, s.pts[0].Y})
			}
		}
	}
	return out
}

// find gives the element of a text.
func find(t *testing.T, all []element, s string) element {
	t.Helper()
	for _, e := range all {
		if e.name == "text" && e.text == s {
			return e
		}
	}
	t.Fatalf("no text %q among %q", s, words(all))
	return element{}
}

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

func TestPointsStandWhereTheAxesSay(t *testing.T) {
	c := Difference{Text: Text{Title: "t", X: "x", Y: "y"}, Points: []Mark{{X: 100, Y: 10}, {X: 200, Y: -10}, {X: 150, Y: 0}}}
	_, all := drawn(t, c, Page)
	x := func(s string) float64 { return attrNumber(t, find(t, all, s), "x") }
	y := func(s string) float64 { return attrNumber(t, find(t, all, s), "y") }
	got := circles(all, false)
	if len(got) != 3 {
		t.Fatalf("%d rings for 3 points", len(got))
	}
	lift := Page.Font * 0.92 * 0.34 // a number's baseline stands below the middle of its letters
	for i, want := range []XY{{x("100"), y("10") - lift}, {x("200"), y("−10") - lift}, {(x("100") + x("200")) / 2, (y("10")+y("−10"))/2 - lift}} {
		if !near(got[i].X, want.X, 0.25) || !near(got[i].Y, want.Y, 0.25) {
			t.Errorf("point %d stands at %v, want %v", i, got[i], want)
		}
	}
}

func TestControlChartSaysEveryBreakInShapeAndWord(t *testing.T) {
	p, all := drawn(t, sampleControl(), Page)
	text := words(all)
	for _, want := range []string{
		"1-3s", "1-2s", "2-2s", "LO", "out of range, 190", "new vial, repeated", "meter cleaned", "meter set aside", "vial thrown away",
		"lot B417", "lot C020", "mean 98.0", "+3 SD 108.3", "−3 SD 234.5", "Level 1, mg/dL", "Level 2, mg/dL", "control run, by date",
	} {
		if !slices.Contains(text, want) {
			t.Errorf("%q is not said; the picture says %q", want, text)
		}
	}
	if p.Unlabelled() != 0 {
		t.Errorf("%d words found no room on a page", p.Unlabelled())
	}
	if n := len(circles(all, true)); n != 41 {
		t.Errorf("%d dots for 41 results in range", n)
	}
	// Two levels of a run stand above one another: the run of 1 October is the first of both panels.
	dots := circles(all, true)
	if first := dots[0].X; !slices.ContainsFunc(dots[1:], func(d XY) bool { return near(d.X, first, 0.05) }) {
		t.Error("the second panel does not share the axis of the first")
	}
}

func TestControlWordsWithoutANote(t *testing.T) {
	c := LeveyJennings{Text: Text{Title: "t"}, Panels: []ControlPanel{{Runs: []Run{
		{Value: 1, Kind: Warning}, {Value: 2, Kind: Rejected}, {Value: 3, Kind: OutOfRange}, {Value: 2, Kind: InRange}, {Kind: OutOfRange, Edge: Above, Note: "HI"},
	}}}}
	_, all := drawn(t, c, Page)
	for _, want := range []string{"warning", "rejected", "out of range", "HI"} {
		find(t, all, want)
	}
	if len(circles(all, true)) != 1 {
		t.Error("the result in range is not a dot, or another one is")
	}
	if got, want := c.Summary(), "1 of 5 control results in range, 1 with a warning, 1 rejected, 2 out of the printed range."; got != want {
		t.Errorf("Summary = %q, want %q", got, want)
	}
}

// A mean that holds for the first lot alone is drawn there, and its name does not stand at the end.
func TestLimitsOfALot(t *testing.T) {
	p := ControlPanel{Lots: []Lot{{4, "new lot"}}, Levels: []Level{
		{Value: 100, Label: "old mean", Heavy: true, From: 0.5, To: 3.5}, {Value: 110, Label: "new mean", Heavy: true, From: 3.5, To: 6.5},
	}}
	for i := range 6 {
		p.Runs = append(p.Runs, Run{Value: 100 + 10*float64(i/3)})
	}
	_, all := drawn(t, LeveyJennings{Text: Text{Title: "t"}, Panels: []ControlPanel{p}}, Page)
	if text := words(all); slices.Contains(text, "old mean") || !slices.Contains(text, "new mean") {
		t.Errorf("the right edge names %q", text)
	}
	var lengths []float64
	for _, e := range all {
		if e.attr["stroke-width"] == "1.8" && e.attr["stroke-dasharray"] == "" {
			for _, s := range e.paths {
				lengths = append(lengths, s.pts[1].X-s.pts[0].X)
			}
		}
	}
	if len(lengths) != 2 || !near(lengths[0], lengths[1], 20) {
		t.Errorf("the two means have lengths %v, want two of three runs each", lengths)
	}
}

func TestRegressionAxesAreEqual(t *testing.T) {
	_, all := drawn(t, sampleRegression(110), Page)
	if n := len(circles(all, false)); n != 110 {
		t.Errorf("%d rings for 110 pairs", n)
	}
	for _, e := range all {
		if strings.HasPrefix(e.attr["stroke-dasharray"], "6") && len(e.paths) == 1 {
			a, b := e.paths[0].pts[0], e.paths[0].pts[1]
			if !near(b.X-a.X, a.Y-b.Y, 0.3) {
				t.Errorf("the line of equality runs from %v to %v", a, b)
			}
			return
		}
	}
	t.Error("no dashed line of equality")
}

func TestErrorGridShowsZonesByShape(t *testing.T) {
	c := sampleGrid(110)
	_, all := drawn(t, c, Page)
	letters := 0
	for _, w := range words(all) {
		if len(w) == 1 && strings.Contains("ABCDE", w) {
			letters++
		}
	}
	if letters != len(c.Zones) {
		t.Errorf("%d letters for %d zones", letters, len(c.Zones))
	}
	find(t, all, "(380, 470)") // beyond the axis: an arrow with its value
	inA := 0
	for _, p := range c.Points {
		if p.Zone == "A" && p.Y <= c.YMax {
			inA++
		}
	}
	if n := len(circles(all, false)); n != inA {
		t.Errorf("%d rings for %d pairs of zone A within the axes", n, inA)
	}
	c.Points = []ZonePoint{{100, 100, "A"}, {100, 130, "B"}, {100, 120, "?"}}
	if got, want := c.Summary(), "Of 3 pairs: 1 in zone A, 1 in zone B, 1 elsewhere."; got != want {
		t.Errorf("Summary = %q, want %q", got, want)
	}
}

func TestDriftMarksItsAlarm(t *testing.T) {
	c := sampleDrift(100)
	_, all := drawn(t, c, Phone)
	find(t, all, "check meter M-02")
	if got, want := c.Summary(), "1 alarm in 100 steps."; got != want {
		t.Errorf("Summary = %q, want %q", got, want)
	}
}

func TestBarsAreAsHighAsTheirCounts(t *testing.T) {
	_, all := drawn(t, sampleDigits(), Page)
	var heights []float64
	for _, e := range all {
		if e.attr["stroke"] == ink.String() {
			for _, s := range e.paths {
				if s.closed && len(s.pts) == 4 {
					heights = append(heights, s.pts[0].Y-s.pts[2].Y)
				}
			}
		}
	}
	counts := []float64{31, 12, 11, 14, 9, 22, 10, 12, 13, 8}
	if len(heights) != len(counts) {
		t.Fatalf("%d bars for %d counts", len(heights), len(counts))
	}
	for i, n := range counts {
		if !near(heights[i]/heights[0], n/31, 0.002) {
			t.Errorf("bar %d is %v high for %v; bar 0 is %v high for 31", i, heights[i], n, heights[0])
		}
	}
	find(t, all, "31 !")
	find(t, all, "expected 14.2")
}

func TestLinesBreakWhereNothingWasMeasured(t *testing.T) {
	_, all := drawn(t, sampleLines(), Page)
	parts := 0
	for _, e := range all {
		if e.attr["stroke-width"] == "1.8" && e.attr["stroke-dasharray"] != "" {
			parts += len(e.paths)
		}
	}
	if parts != 2 {
		t.Errorf("the series with a gap is drawn in %d parts, want 2", parts)
	}
	find(t, all, "by phone")
	find(t, all, "by letter")
	c := sampleLines()
	c.Series[0].Points[2].X = 2
	if _, err := c.Draw(Page); err == nil {
		t.Error("two points of a series at one place are accepted")
	}
}

func TestWhatCannotBeDrawnIsRefused(t *testing.T) {
	bad := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300}
	words := Text{Title: "t"}
	empty := map[string]Chart{
		"control": LeveyJennings{Text: words, Panels: []ControlPanel{{}}}, "difference": Difference{Text: words}, "regression": Regression{Text: words},
		"grid": ErrorGrid{Text: words, XMax: 1, YMax: 1, Borders: [][]XY{{{0, 0}, {1, 1}}}}, "zones": ErrorGrid{Text: words, XMax: 1, YMax: 1, Points: []ZonePoint{{1, 1, "A"}}},
		"drift": Drift{Text: words}, "bars": Bars{Text: words}, "lines": Lines{Text: words, Series: []Series{{Name: "a"}}},
	}
	for name, c := range empty {
		_, err := c.Draw(Page)
		if f := fault.Of(err); f == nil || f.Key != "chart-no-data" || f.Do == "" {
			t.Errorf("%s without data: %v", name, err)
		}
		_ = c.Summary()
	}
	for _, v := range bad {
		one := []Mark{{X: 1, Y: 1}}
		for name, c := range map[string]Chart{
			"control":      LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Value: v}}}}},
			"level":        LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Value: 1}}, Levels: []Level{{Value: v}}}}},
			"difference x": Difference{Text: words, Points: []Mark{{X: v, Y: 1}}}, "difference y": Difference{Text: words, Points: []Mark{{X: 1, Y: v}}},
			"band": Difference{Text: words, Points: one, Bands: []Band{{Low: v}}}, "curve": Difference{Text: words, Points: one, Curves: []Curve{{Points: []XY{{1, v}}}}},
			"regression": Regression{Text: words, Points: []Mark{{X: v, Y: 1}}}, "fit": Regression{Text: words, Points: one, Fits: []Fit{{Slope: v}}},
			"grid":  ErrorGrid{Text: words, XMax: 1, YMax: 1, Borders: [][]XY{{{0, 0}}}, Points: []ZonePoint{{v, 1, "A"}}},
			"drift": Drift{Text: words, Steps: []Step{{1, v, ""}}}, "result": Drift{Text: words, Steps: []Step{{1, 1, ""}}, Results: []XY{{1, v}}},
			"bars": Bars{Text: words, Bars: []Bar{{Value: v}}}, "lines": Lines{Text: words, Labels: []string{"a"}, Series: []Series{{Points: []XY{{1, v}}}}},
			"span": Lines{Text: words, Labels: []string{"a"}, Series: []Series{{Points: []XY{{1, 1}}, Spans: []Span{{1, v, 2}}}}},
		} {
			if _, err := c.Draw(Page); !fault.Is(err, "chart-not-a-number") {
				t.Errorf("%s with %v: %v", name, v, err)
			}
		}
	}
	ok := Difference{Text: words, Points: []Mark{{X: 1, Y: 1}}}
	for _, s := range []Size{{}, {Width: 100, Font: 9}, {Width: 360, Font: 30}, {Width: 360, Font: math.NaN()}, {Width: 720, Font: 14, Height: 60}, {Width: math.Inf(1), Font: 9}} {
		if _, err := ok.Draw(s); err == nil {
			t.Errorf("size %+v is accepted", s)
		}
	}
	for name, c := range map[string]Chart{
		"no title": Difference{Points: ok.Points}, "below 0": Bars{Text: words, Bars: []Bar{{Value: -1}}}, "61 bars": Bars{Text: words, Bars: make([]Bar, 61)},
		"no axis": ErrorGrid{Text: words, Points: []ZonePoint{{1, 1, "A"}}, Borders: [][]XY{{{0, 0}}}}, "5 series": Lines{Text: words, Labels: []string{"a"}, Series: []Series{{Points: []XY{{1, 1}}}, {}, {}, {}, {}}},
		"no label": Lines{Text: words, Series: []Series{{Points: []XY{{1, 1}}}}},
	} {
		if _, err := c.Draw(Page); err == nil {
			t.Errorf("%s is accepted", name)
		}
	}
}

func TestLittleAndEqualData(t *testing.T) {
	words := Text{Title: "t", X: "x", Y: "y"}
	for name, c := range map[string]Chart{
		"one run":      LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Value: 100}}}}},
		"equal runs":   LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Value: 100}, {Value: 100}}, Levels: SDLines(100, 0, 3, 1)}}},
		"off scale":    LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Edge: Above, Note: "HI"}}}}},
		"one pair":     Difference{Text: words, Points: []Mark{{X: 100, Y: 0}}},
		"zeros":        Regression{Text: words, Points: []Mark{{}, {}}, Fits: []Fit{{1, 0, "f", Solid}}},
		"tiny":         Difference{Text: words, Points: []Mark{{X: 1e-9, Y: 1e-9}, {X: 2e-9, Y: -1e-9}}},
		"huge":         Difference{Text: words, Points: []Mark{{X: 1e11, Y: -1e11}, {X: -1e11, Y: 1e11}}},
		"close":        Difference{Text: words, Points: []Mark{{X: 1e6, Y: 1e6}, {X: 1e6 + 1e-6, Y: 1e6 + 1e-6}}},
		"steep":        Regression{Text: words, Points: []Mark{{X: 1, Y: 1}, {X: 2, Y: 2}}, Fits: []Fit{{50, -60, "a steep one", Solid}}},
		"one result":   Drift{Text: words, Steps: []Step{{1, 104, ""}}},
		"one bar":      Bars{Text: words, Bars: []Bar{{Label: "a", Value: 0}}},
		"nothing":      Bars{Text: words, Bars: []Bar{{Label: "a"}, {Label: "b"}}},
		"one event":    Lines{Text: words, Labels: []string{"May"}, Series: []Series{{Name: "s", Points: []XY{{1, 5}}}}},
		"60 bars":      Bars{Text: words, Bars: slices.Repeat([]Bar{{Label: "a long name of a bar", Value: 3}}, 60)},
		"many names":   Difference{Text: words, Points: []Mark{{X: 1, Y: 1}}, Levels: slices.Repeat([]Level{{Value: 1, Label: "name"}}, 80)},
		"small digits": LeveyJennings{Text: words, Panels: []ControlPanel{{Runs: []Run{{Value: 5.4}, {Value: 5.6}}, Levels: SDLines(5.5, 0.1, 3, 2)}}},
	} {
		for _, s := range sizes {
			t.Run(name+"/"+s.name, func(t *testing.T) { drawn(t, c, s.size) })
		}
	}
}

// Thousands of points, each with something to say, stay small and legible: what finds no room is counted.
func TestThousandsOfPoints(t *testing.T) {
	p := ControlPanel{Y: "Level 1, mg/dL", Levels: SDLines(100, 3, 3, 1)}
	for i := range 5000 {
		r := Run{Date: fmt.Sprintf("day %d", i), Value: 100 + float64(i*7919%23) - 11}
		if i%2 == 0 {
			r.Kind, r.Note, r.Action = Rejected, "1-3s", "repeated"
		}
		if i%10 == 9 {
			p.Lots = append(p.Lots, Lot{i, fmt.Sprintf("lot %d", i)})
		}
		p.Runs = append(p.Runs, r)
	}
	pic, all := drawn(t, LeveyJennings{Text: Text{Title: "t"}, Panels: []ControlPanel{p}}, Phone)
	said := 0
	for _, w := range words(all) {
		if w == "1-3s" || w == "repeated" || strings.HasPrefix(w, "lot ") {
			said++
		}
	}
	if said == 0 || said+pic.Unlabelled() != 5500 {
		t.Errorf("%d words are said and %d left out, of 5500", said, pic.Unlabelled())
	}
	marks := samplePairs(50_000)
	for i := range marks {
		marks[i].X += float64(i) / 1e5
		marks[i].Note = "n"
	}
	drawn(t, Regression{Text: Text{Title: "t"}, Points: marks, Identity: "equal"}, Page)
	d := sampleDrift(20_000)
	drawn(t, d, Page)
}

// A rare point is never lost in a crowd: it keeps its shape and place.
func TestRarePointIsSeenInACrowd(t *testing.T) {
	c := sampleGrid(5000)
	p, err := c.Draw(Page)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, e := range readSVG(t, p.SVG()) {
		for _, s := range e.paths {
			if s.closed && len(s.pts) == 3 && e.attr["stroke"] == ink.String() {
				found["C"] = true
			}
			if s.closed && len(s.pts) == 4 && e.attr["stroke"] == ink.String() && s.pts[0].X == s.pts[2].X {
				found["D"] = true
			}
		}
	}
	if !found["C"] || !found["D"] {
		t.Errorf("of the two rare pairs %v are drawn in full", found)
	}
}

func TestPNGHasTheSizeAsked(t *testing.T) {
	p, err := sampleControl().Draw(Print)
	if err != nil {
		t.Fatal(err)
	}
	for dpi, width := range map[int]int{72: 480, 150: 1000, 300: 2000} {
		b, err := p.PNG(dpi)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		size := img.Bounds().Size()
		if height := p.Height() * float64(dpi) / 72; size.X != width || !near(float64(size.Y), height, 1) {
			t.Errorf("at %d dpi the picture is %v, want %d by %.0f", dpi, size, width, height)
		}
		grey, ok := img.(*image.Gray)
		if !ok {
			t.Fatalf("the picture is kept as %T", img)
		}
		dark := 0
		for _, v := range grey.Pix {
			if v < 0x40 {
				dark++
			}
		}
		if part := float64(dark) / float64(len(grey.Pix)); part < 0.002 || part > 0.2 || grey.At(0, 0) != (color.Gray{Y: 255}) {
			t.Errorf("at %d dpi %.3f of the picture is ink", dpi, part)
		}
	}
	for _, dpi := range []int{0, -1, 35, 601} {
		if _, err := p.PNG(dpi); err == nil {
			t.Errorf("%d dpi is accepted", dpi)
		}
	}
}

func TestSummaries(t *testing.T) {
	for _, x := range []struct {
		want string
		c    Chart
	}{
		{"1 of 3 pairs outside the limits.", Difference{Points: []Mark{{Y: 1}, {Y: 5}, {Y: -1}}, Levels: []Level{{Value: -2}, {Value: 2}}}},
		{"3 pairs.", Difference{Points: []Mark{{Y: 1}, {Y: 5}, {Y: -1}}}},
		{"2 pairs: the meter read higher in 1, lower in 0.", Regression{Points: []Mark{{X: 1, Y: 2}, {X: 1, Y: 1}}}},
		{"No alarm in 1 step.", Drift{Steps: []Step{{1, 1, ""}}}},
		{"7 in 2 groups; most at b: 4.", Bars{Bars: []Bar{{Label: "a", Value: 3}, {Label: "b", Value: 4}}}},
		{"by phone from 41 to 71 over 6 points; by letter from 20 to 35 over 5 points.", sampleLines()},
		{"41 of 48 control results in range, 2 with a warning, 3 rejected, 2 out of the printed range.", sampleControl()},
	} {
		if got := x.c.Summary(); got != x.want {
			t.Errorf("Summary = %q, want %q", got, x.want)
		}
	}
}

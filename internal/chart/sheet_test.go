package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func labels(ticks []tick) []string {
	var out []string
	for _, t := range ticks {
		out = append(out, t.label)
	}
	return out
}

func TestScaleHasRoundNumbers(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		n      int
		want   string
	}{
		{0, 400, 8, "0 50 100 150 200 250 300 350 400"},
		{-23.4, 40.9, 8, "−20 −10 0 10 20 30 40"},
		{5.35, 5.85, 5, "5.4 5.5 5.6 5.7 5.8"},
		{0, 1, 4, "0.0 0.5 1.0"},
		{0, 3e6, 3, "0 1000000 2000000 3000000"},
		{-0.02, 0.02, 4, "−0.02 −0.01 0.00 0.01 0.02"},
	} {
		if got := strings.Join(labels(scale(c.lo, c.hi, c.n)), " "); got != c.want {
			t.Errorf("scale(%v, %v, %d) = %s, want %s", c.lo, c.hi, c.n, got, c.want)
		}
	}
}

func TestScaleProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, w := rapid.Float64Range(-1e6, 1e6).Draw(t, "from"), rapid.Float64Range(1e-4, 1e6).Draw(t, "width")
		n := rapid.IntRange(1, 10).Draw(t, "n")
		lo, hi := span(a, a+w, 0.05)
		ticks := scale(lo, hi, n)
		if len(ticks) > n+2 {
			t.Fatalf("%d numbers for %d", len(ticks), n)
		}
		for i, k := range ticks {
			if k.at < lo-(hi-lo)*1e-6 || k.at > hi+(hi-lo)*1e-6 || i > 0 && (k.at <= ticks[i-1].at || k.label == ticks[i-1].label) {
				t.Fatalf("scale(%v, %v, %d) = %v", lo, hi, n, ticks)
			}
		}
	})
}

func TestSpanAlwaysHasRoom(t *testing.T) {
	for _, c := range [][2]float64{{0, 0}, {100, 100}, {-5, -5}, {1e-9, 2e-9}, {1e11, 1e11}, {3, 4}} {
		lo, hi := span(c[0], c[1], 0.05)
		if !(lo < c[0] && hi > c[1]) || hi-lo < 1e-5 {
			t.Errorf("span(%v) = %v, %v", c, lo, hi)
		}
	}
}

func TestFormatWritesARealMinus(t *testing.T) {
	for want, got := range map[string]string{"−1.5": format(-1.5, 1), "0": format(-0.2, 0), "12": format(12, 0), "104": plain(104), "5.5": plain(5.5), "5.55": plain(5.552)} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestWrapAndFit(t *testing.T) {
	wide := widthOf("upper limit of", 12, false)
	if got := wrap("upper limit of agreement", 12, false, wide); !slices.Equal(got, []string{"upper limit of", "agreement"}) {
		t.Errorf("wrap = %q", got)
	}
	if got := wrap("", 12, false, 10); got != nil {
		t.Errorf("wrap of nothing = %q", got)
	}
	got := fit("Donaudampfschiffahrt", 12, false, 60)
	if !strings.HasSuffix(got, "…") || widthOf(got, 12, false) > 60 || widthOf(got, 12, false) < 40 {
		t.Errorf("fit = %q", got)
	}
	if b, r := widthOf("mean", 12, true), widthOf("mean", 12, false); b <= r {
		t.Errorf("bold letters measure %v, regular ones %v", b, r)
	}
}

func TestApartKeepsOneOfEachPlace(t *testing.T) {
	at := slices.Repeat([]XY{{1, 1}, {50, 50}}, 40)
	if got := apart(at, 10); len(got) != 2 {
		t.Errorf("kept %d of two places", len(got))
	}
	var many []XY
	for i := range 10_000 {
		many = append(many, XY{float64(i % 100), float64(i / 100)})
	}
	if got := len(apart(many, 3000)); got > 3000 || got < 1000 {
		t.Errorf("kept %d of 10,000, want a little below 3,000", got)
	}
}

func TestDecimateKeepsTheExtremes(t *testing.T) {
	var pts []XY
	for i := range 20_000 {
		pts = append(pts, XY{float64(i) / 100, math.Sin(float64(i)) * 10})
	}
	pts[7777].Y, pts[8888].Y = 99, -99
	got := decimate(pts)
	if len(got) > 1700 || !slices.Contains(got, pts[7777]) || !slices.Contains(got, pts[8888]) || got[0] != pts[0] || got[len(got)-1] != pts[len(pts)-1] {
		t.Errorf("kept %d of 20,000 points, or lost an end or extreme", len(got))
	}
}

// Whatever is typed, a control chart is well-formed and its words stand on the paper and not on one another.
func TestAnyControlChartIsClean(t *testing.T) {
	outer := t
	rapid.Check(t, func(t *rapid.T) {
		c := LeveyJennings{Text: Text{Title: "t" + rapid.String().Draw(t, "title"), X: rapid.StringN(0, 30, -1).Draw(t, "x")}}
		for range rapid.IntRange(1, 2).Draw(t, "panels") {
			mean, sd := rapid.Float64Range(2, 400).Draw(t, "mean"), rapid.Float64Range(0, 30).Draw(t, "sd")
			p := ControlPanel{Y: "Level, mg/dL", Levels: SDLines(mean, sd, 3, 1)}
			for i := range rapid.IntRange(1, 40).Draw(t, "runs") {
				p.Runs = append(p.Runs, Run{
					Date: fmt.Sprintf("%d May", i+1), Value: rapid.Float64Range(0, 600).Draw(t, "value"), Kind: Kind(rapid.IntRange(0, 3).Draw(t, "kind")),
					Note: rapid.SampledFrom([]string{"", "1-3s", "2-2s, R-4s"}).Draw(t, "note"), Action: rapid.SampledFrom([]string{"", "", "new vial", "meter set aside until Monday"}).Draw(t, "action"),
					Edge: Edge(rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(t, "edge")),
				})
			}
			c.Panels = append(c.Panels, p)
		}
		p, err := c.Draw(sizes[rapid.IntRange(0, 2).Draw(t, "size")].size)
		if err != nil {
			t.Fatal(err)
		}
		checkSVG(outer, p)
		if outer.Failed() {
			t.FailNow()
		}
	})
}

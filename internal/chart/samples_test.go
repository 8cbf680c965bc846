package chart

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// sizes are those in use, by name.
var sizes = []struct {
	name string
	size Size
}{{"phone", Phone}, {"page", Page}, {"print", Print}}

func source() *rand.Rand { return rand.New(rand.NewPCG(4, 20)) }

func sampleControl() LeveyJennings {
	r := source()
	c := LeveyJennings{Text: Text{
		Title: "Can meter M-03 be trusted?", Desc: "Level 1 and level 2, 24 runs: two runs broke a rule.", X: "control run, by date", Heading: true,
	}}
	for level, mean := range []float64{98, 262} {
		sd := mean * 0.035
		p := ControlPanel{Y: fmt.Sprintf("Level %d, mg/dL", level+1), Levels: SDLines(mean, sd, 3, 1), Bands: []Band{{Low: mean - 2*sd, High: mean + 2*sd}}}
		p.Lots = []Lot{{9, "lot B417"}, {18, "lot C020"}}
		for i := range 24 {
			v := math.Round(mean + r.NormFloat64()*sd*0.8)
			run := Run{At: i + 1, Date: fmt.Sprintf("%d Oct", i/2+1), Value: v}
			switch {
			case i == 6 && level == 0:
				run.Value, run.Kind, run.Note, run.Action = math.Round(mean+3.3*sd), Rejected, "1-3s", "new vial, repeated"
			case i == 13:
				run.Value, run.Kind, run.Note = math.Round(mean-2.3*sd), Warning, "1-2s"
			case i == 14:
				run.Value, run.Kind, run.Note, run.Action = math.Round(mean-2.4*sd), Rejected, "2-2s", "meter cleaned"
			case i == 20 && level == 1:
				run.Edge, run.Kind, run.Note, run.Action = Below, OutOfRange, "LO", "meter set aside"
			case i == 23 && level == 0:
				run.Value, run.Kind, run.Action = 190, OutOfRange, "vial thrown away"
			}
			p.Runs = append(p.Runs, run)
		}
		c.Panels = append(c.Panels, p)
	}
	return c
}

func samplePairs(n int) []Mark {
	r := source()
	out := make([]Mark, n)
	for i := range out {
		x := 60 + 260*r.Float64()*r.Float64()
		out[i] = Mark{X: math.Round(x), Y: math.Round(x*1.04 - 2 + r.NormFloat64()*x*0.06)}
	}
	return out
}

func sampleDifference(n int) Difference {
	c := Difference{Text: Text{
		Title: "How far is meter M-03 from the laboratory?", Desc: "It reads 3.2 mg/dL high on average.",
		X: "laboratory, mg/dL", Y: "meter − laboratory, mg/dL",
	}}
	for _, p := range samplePairs(n) {
		c.Points = append(c.Points, Mark{X: p.X, Y: p.Y - p.X})
	}
	c.Levels = []Level{
		{Value: 3.2, Label: "bias +3.2", Heavy: true},
		{Value: 20.9, Label: "upper limit of agreement +20.9", Dash: Dashed},
		{Value: -14.5, Label: "lower limit of agreement −14.5", Dash: Dashed},
		{Value: 0, Label: "no difference", Dash: Dotted},
	}
	c.Bands = []Band{{Low: 1.6, High: 4.8}, {Low: 18.1, High: 23.7}, {Low: -17.3, High: -11.7}}
	return c
}

func sampleRegression(n int) Regression {
	return Regression{
		Text:   Text{Title: "Does meter M-03 agree with the laboratory?", Desc: "Nearly.", X: "laboratory, mg/dL", Y: "meter, mg/dL"},
		Points: samplePairs(n), Identity: "equal",
		Fits: []Fit{{1.04, -2, "Passing-Bablok: 1.04 x − 2.0", Solid}},
	}
}

func sampleGrid(n int) ErrorGrid {
	c := ErrorGrid{
		Text: Text{Title: "Would the meter's errors change what is advised?", Desc: "No.", X: "laboratory, mg/dL", Y: "meter, mg/dL"},
		XMax: 400, YMax: 400,
		Borders: [][]XY{
			{{0, 70}, {58, 70}, {333, 400}},
			{{70, 0}, {70, 56}, {400, 320}},
			{{0, 180}, {70, 180}, {70, 400}},
			{{70, 84}, {70, 180}},
			{{180, 0}, {180, 70}, {400, 70}},
			{{240, 70}, {240, 180}, {400, 180}},
			{{130, 0}, {180, 70}},
			{{70, 180}, {290, 400}},
		},
		Zones: []Place{{30, 30, "A"}, {370, 240, "B"}, {280, 370, "B"}, {150, 360, "C"}, {160, 15, "C"}, {35, 125, "D"}, {380, 125, "D"}, {30, 360, "E"}, {380, 30, "E"}},
	}
	for i, p := range samplePairs(n) {
		z := "A"
		if math.Abs(p.Y-p.X) > 0.2*p.X && p.X > 70 {
			z = "B"
		}
		if i == 3 {
			p.X, p.Y, z = 100, 260, "C"
		}
		if i == 4 {
			p.X, p.Y, z = 55, 110, "D"
		}
		if i == 5 {
			p.X, p.Y, z = 60, 250, "E"
		}
		if i == 6 {
			p.X, p.Y, z = 380, 470, "A"
		}
		c.Points = append(c.Points, ZonePoint{p.X, p.Y, z})
	}
	return c
}

func sampleDrift(n int) Drift {
	r := source()
	c := Drift{
		Text:   Text{Title: "Has a meter drifted today?", Desc: "Once.", X: "participant, in order", Y: "weighted mean of results, mg/dL"},
		Levels: []Level{{Value: 104, Label: "usual 104", Heavy: true}, {Value: 116, Label: "upper limit 116", Dash: Dashed}, {Value: 92, Label: "lower limit 92", Dash: Dashed}},
	}
	mean := 104.0
	for i := range n {
		v := 104 + r.NormFloat64()*14
		if i > n*2/3 {
			v += 20
		}
		c.Results = append(c.Results, XY{float64(i + 1), math.Round(v)})
		mean += 0.15 * (v - mean)
		s := Step{At: i + 1, Value: mean}
		if mean > 116 && (len(c.Steps) == 0 || c.Steps[i-1].Value <= 116) {
			s.Alarm = "check meter M-02"
		}
		c.Steps = append(c.Steps, s)
	}
	return c
}

func sampleDigits() Bars {
	c := Bars{
		Text:   Text{Title: "Are last digits rounded?", Desc: "Zeros stand out.", X: "last digit of the reading", Y: "readings"},
		Levels: []Level{{Value: 14.2, Label: "expected 14.2", Dash: Dashed}},
	}
	for i, n := range []float64{31, 12, 11, 14, 9, 22, 10, 12, 13, 8} {
		b := Bar{Label: fmt.Sprint(i), Value: n}
		if i == 0 {
			b.Note, b.Marked = "31 !", true
		}
		c.Bars = append(c.Bars, b)
	}
	return c
}

func sampleCauses() Bars {
	return Bars{
		Text: Text{Title: "Why were tests repeated?", Desc: "Mostly too little blood.", X: "reason", Y: "tests repeated"},
		Bars: []Bar{
			{Label: "too little blood on the strip", Value: 19, Note: "19, twice the spring's", Marked: true},
			{Label: "hands not washed", Value: 7},
			{Label: "strip left open to the air", Value: 2},
			{Label: "meter's error code", Value: 1},
			{Label: "not written down", Value: 0},
		},
		Levels: []Level{{Value: 9.5, Label: "spring: 9.5", Dash: Dashed}},
	}
}

func sampleLines() Lines {
	c := Lines{
		Text:   Text{Title: "Do people come back with an answer?", Desc: "More of them than in spring.", X: "event", Y: "referrals with a known outcome, %"},
		Labels: []string{"Oak Hall, 3 Mar", "Market, 21 Mar", "School, 4 Apr", "Oak Hall, 2 May", "Market, 13 Jun", "Fair, 1 Sep"}, Zero: true,
		Levels: []Level{{Value: 80, Label: "aim 80", Dash: Dotted}},
	}
	c.Series = []Series{
		{Name: "by phone", Points: []XY{{1, 41}, {2, 52}, {3, 49}, {4, 60}, {5, 66}, {6, 71}}, Spans: []Span{{1, 30, 53}, {2, 41, 63}, {3, 36, 62}, {4, 49, 70}, {5, 55, 76}, {6, 60, 80}}},
		{Name: "by letter", Points: []XY{{1, 20}, {2, 25}, {4, 31}, {5, 28}, {6, 35}}},
	}
	return c
}

// samples are every chart with data of an ordinary day, and some with too much of it.
func samples() map[string]Chart {
	dense := sampleControl()
	for k := range dense.Panels {
		p := &dense.Panels[k]
		first := p.Runs
		p.Runs, p.Lots = nil, nil
		for i := range 160 {
			r := first[i%24]
			r.At, r.Date = i+1, fmt.Sprintf("%d %s", i%28+1, []string{"Sep", "Oct", "Nov", "Dec", "Jan", "Feb"}[i/28])
			p.Runs = append(p.Runs, r)
			if i%20 == 10 {
				p.Lots = append(p.Lots, Lot{i, fmt.Sprintf("lot %d", 400+i)})
			}
		}
	}
	single := sampleControl()
	single.Panels = single.Panels[:1]
	single.Panels[0].Runs = single.Panels[0].Runs[6:7]
	single.Panels[0].Lots = nil
	return map[string]Chart{
		"control": sampleControl(), "control-dense": dense, "control-one": single, "difference": sampleDifference(110), "difference-5000": sampleDifference(5000),
		"regression": sampleRegression(110), "regression-20000": sampleRegression(20000), "grid": sampleGrid(110), "grid-5000": sampleGrid(5000),
		"drift": sampleDrift(100), "digits": sampleDigits(), "causes": sampleCauses(), "lines": sampleLines(),
	}
}

func TestGallery(t *testing.T) {
	shots := cmp.Or(os.Getenv("FAIRSTICK_SHOTS"), t.TempDir()) // a folder into which the sample charts are written, to be looked at
	for name, c := range samples() {
		for _, s := range sizes {
			p, err := c.Draw(s.size)
			if err != nil {
				t.Fatalf("%s %s: %v", name, s.name, err)
			}
			raster, err := p.PNG(144)
			if err != nil {
				t.Fatal(err)
			}
			svg := p.SVG()
			t.Logf("%-18s %-6s svg %6d png %6d unlabelled %d · %s", name, s.name, len(svg), len(raster), p.Unlabelled(), c.Summary())
			base := filepath.Join(shots, name+"-"+s.name)
			if err := os.WriteFile(base+".svg", svg, 0o644); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(base+".png", raster, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

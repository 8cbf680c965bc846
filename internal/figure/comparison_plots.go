package figure

import (
	"fmt"

	"fairstick/internal/agreement"
	"fairstick/internal/chart"
	"fairstick/internal/glucose"
)

// difference is the plot of differences with bias and limits of agreement.
func (in Compared) difference(w words) Figure {
	f := Figure{Key: "difference", Title: "How far does " + in.Meter + " read from the laboratory?"}
	c := chart.Difference{Levels: []chart.Level{{Value: 0, Label: "no difference", Dash: chart.Dotted}}}
	b := in.Agrees.Bias.Result
	outside := 0
	for _, p := range in.Pairs {
		m := chart.Mark{X: (p.Reference + p.Meter) / 2, Y: p.Meter - p.Reference}
		if b != nil && !b.Limits.Contains(m.Y) {
			m.Shape = chart.Triangle
			outside++
		}
		c.Points = append(c.Points, m)
	}
	if b == nil {
		f.Answer = in.Agrees.Bias.Why
	} else {
		d := w.decimals()
		c.Levels = append(c.Levels,
			chart.Level{Value: b.Mean, Label: "bias " + signed(b.Mean, d), Heavy: true},
			chart.Level{Value: b.Limits.High, Label: "upper limit " + signed(b.Limits.High, d), Dash: chart.Dashed},
			chart.Level{Value: b.Limits.Low, Label: "lower limit " + signed(b.Limits.Low, d), Dash: chart.Dashed})
		c.Bands = []chart.Band{{Low: b.CI.Low, High: b.CI.High}, {Low: b.UpperCI.Low, High: b.UpperCI.High}, {Low: b.LowerCI.Low, High: b.LowerCI.High}}
		f.Answer = fmt.Sprintf("%s on average, and from %s to %s for single samples; %d of %s outside, drawn as triangles. Grey strips are intervals.",
			w.off(b.Mean), signed(b.Limits.Low, d), w.off(b.Limits.High), outside, pairs(len(in.Pairs)))
		f.Table = Table{Key: "difference-table", Heading: "Bias and limits of agreement", Cols: []Col{{"What", false}, {"Difference", true}, {in.confidence() + " interval", true}}}
		for _, row := range in.agreementRows(w) {
			f.Table.Rows = append(f.Table.Rows, row[:3])
		}
	}
	c.Text = chart.Text{Title: f.Title, Desc: f.Answer, X: "mean of laboratory and meter, " + string(w.unit), Y: "meter − laboratory, " + string(w.unit)}
	f.Chart = c
	return f
}

// regression is the plot of the pairs with the lines of Deming and of Passing and Bablok.
func (in Compared) regression(w words) Figure {
	f := Figure{Key: "regression", Square: true, Title: "Does the difference change with the level?"}
	c := chart.Regression{Identity: "equal"}
	for _, p := range in.Pairs {
		c.Points = append(c.Points, chart.Mark{X: p.Reference, Y: p.Meter})
	}
	f.Table = Table{Key: "regression-table", Heading: "Lines through the pairs", Cols: []Col{
		{"Line", false},
		{"Slope", true},
		{in.confidence() + " interval", true},
		{"Intercept, " + string(w.unit), true},
		{in.confidence() + " interval", true},
	}}
	for i, l := range in.lines()[:2] {
		if l.line == nil {
			f.Answer += l.why + " "
			continue
		}
		s, t := l.line.Slope, l.line.Intercept
		row := []string{l.name, fixed(s.Value, 3), "-", signed(t.Value, w.decimals()), "-"}
		if s.CI != nil {
			row[2] = fixedSpan(*s.CI, 3)
		}
		if t.CI != nil {
			row[4] = w.span(*t.CI)
		}
		f.Table.Rows = append(f.Table.Rows, row)
		f.Answer += lineSays(l.name, *l.line) + " "
		c.Fits = append(c.Fits, chart.Fit{Slope: s.Value, Intercept: t.Value, Label: l.name, Dash: []chart.Dash{chart.Solid, chart.DashDot}[i]})
	}
	f.Answer += c.Summary()
	c.Text = chart.Text{Title: f.Title, Desc: f.Answer, X: "laboratory, " + string(w.unit), Y: "meter, " + string(w.unit)}
	f.Chart = c
	return f
}

// lineSays reads a line: a slope whose interval holds 1 shows no change with the level, an intercept whose interval holds 0 no
// constant difference.
func lineSays(name string, l agreement.Line) string {
	if l.Slope.CI == nil || l.Intercept.CI == nil {
		return fmt.Sprintf("%s: slope %s, without an interval.", name, fixed(l.Slope.Value, 3))
	}
	slope, intercept := "no change with the level is shown", "no constant difference is shown"
	switch {
	case l.Slope.CI.Low > 1:
		slope = "the meter rises faster than the laboratory"
	case l.Slope.CI.High < 1:
		slope = "the meter rises more slowly than the laboratory"
	}
	if !l.Intercept.CI.Contains(0) {
		intercept = "a constant difference is shown too"
		if l.Slope.CI.Contains(1) {
			intercept = "a constant difference is shown"
		}
	}
	return fmt.Sprintf("%s: %s (slope %s), %s.", name, slope, fixedSpan(*l.Slope.CI, 2), intercept)
}

// drawn is an error grid with where its picture ends and its letters stand, in mg/dL: a letter lies in its zone.
type drawn struct {
	grid    agreement.Grid
	key     string
	name    string
	end     float64
	letters []chart.Place
}

var drawnGrids = []drawn{
	{agreement.ConsensusType1, "grid-consensus", "consensus grid, type 1", 550, []chart.Place{
		{X: 500, Y: 480, Text: "A"},
		{X: 310, Y: 500, Text: "B"},
		{X: 500, Y: 310, Text: "B"},
		{X: 180, Y: 500, Text: "C"},
		{X: 500, Y: 180, Text: "C"},
		{X: 82, Y: 500, Text: "D"},
		{X: 500, Y: 60, Text: "D"},
		{X: 20, Y: 500, Text: "E"},
	}},
	{agreement.Clarke, "grid-clarke", "Clarke grid", 400, []chart.Place{
		{X: 370, Y: 350, Text: "A"},
		{X: 370, Y: 240, Text: "B"},
		{X: 270, Y: 360, Text: "B"},
		{X: 150, Y: 360, Text: "C"},
		{X: 160, Y: 15, Text: "C"},
		{X: 35, Y: 125, Text: "D"},
		{X: 370, Y: 125, Text: "D"},
		{X: 30, Y: 360, Text: "E"},
		{X: 370, Y: 30, Text: "E"},
	}},
}

// mgPerMmol turns the borders, which are published in mg/dL, for a picture in mmol/L: as package agreement converts readings.
const mgPerMmol = 18.016

// grid is the picture of an error grid, in the unit of the pairs.
func (in Compared) grid(g drawn) (Figure, error) {
	r, unit := in.Agrees, in.Agrees.Unit
	f := Figure{Key: g.key, Square: true, Title: "Would the errors change what is advised, by the " + g.name + "?"}
	scale := 1.0
	if unit == glucose.MmolPerL {
		scale = mgPerMmol
	}
	c := chart.ErrorGrid{XMax: g.end / scale, YMax: g.end / scale}
	for _, b := range agreement.Borders(g.grid) {
		var line []chart.XY
		for _, p := range b.Points {
			line = append(line, chart.XY{X: p.X / scale, Y: p.Y / scale})
		}
		c.Borders = append(c.Borders, line)
	}
	for _, l := range g.letters {
		c.Zones = append(c.Zones, chart.Place{X: l.X / scale, Y: l.Y / scale, Text: l.Text})
	}
	for _, p := range in.Pairs {
		z, err := agreement.ZoneOf(g.grid, p, unit)
		if err != nil {
			return f, err
		}
		c.Points = append(c.Points, chart.ZonePoint{X: p.Reference, Y: p.Meter, Zone: z.String()})
	}
	n := map[agreement.Grid]agreement.ZoneCounts{agreement.ConsensusType1: r.Consensus1, agreement.Clarke: r.Clarke}[g.grid]
	all := n.Total()
	f.Answer = fmt.Sprintf("%d of %s (%s) lie in zones A and B, where an error changes nothing or little.", n.A+n.B, pairs(all), percent(share(n.A+n.B, all)))
	f.Table = Table{Key: g.key + "-table", Heading: "Pairs by zone", Cols: []Col{{"Zone", false}, {"Pairs", true}, {"Share", true}, {"What an error there means", false}}}
	for i, k := range []int{n.A, n.B, n.C, n.D, n.E} {
		z := agreement.ZoneA + agreement.Zone(i)
		f.Table.Rows = append(f.Table.Rows, []string{z.String(), fmt.Sprint(k), percent(share(k, all)), zoneMeans[g.grid][i]})
	}
	c.Text = chart.Text{Title: f.Title, Desc: f.Answer + " " + c.Summary(), X: "laboratory, " + string(unit), Y: "meter, " + string(unit)}
	f.Chart = c
	return f, nil
}

// zoneMeans says in short what the zones mean, A to E, after the papers of 2000 and 1987 (wording ours, from memory).
var zoneMeans = map[agreement.Grid][5]string{
	agreement.ConsensusType1: {
		"no effect on what is done", "what is done changes, with little or no effect on the outcome", "what is done changes and is likely to affect the outcome",
		"what is done could be of significant risk", "what is done could be dangerous",
	},
	agreement.Clarke: {
		"close enough to act on", "further off, but a harmless act follows", "would lead to treating what needs no treatment", "would miss what needs treatment", "would confuse too low with too high",
	},
}

func share(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return 100 * float64(n) / float64(of)
}

func pairs(n int) string {
	if n == 1 {
		return "1 pair"
	}
	return fmt.Sprintf("%d pairs", n)
}

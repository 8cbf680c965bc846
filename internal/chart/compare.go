package chart

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Difference shows differences against a size: a meter minus its reference over the reference or the mean of both, in
// units or in percent; the words of the axes say which. Levels are the bias and the limits of agreement, Bands their
// intervals, Curves limits that change with the size.
type Difference struct {
	Text
	Points []Mark
	Levels []Level
	Bands  []Band
	Curves []Curve
}

// Summary counts the differences above and below the outermost levels.
func (c Difference) Summary() string {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, l := range c.Levels {
		lo, hi = math.Min(lo, l.Value), math.Max(hi, l.Value)
	}
	s := plural(len(c.Points), "pair")
	if len(c.Levels) < 2 {
		return s + "."
	}
	out := 0
	for _, p := range c.Points {
		if p.Y < lo || p.Y > hi {
			out++
		}
	}
	return fmt.Sprintf("%d of %s outside the limits.", out, s)
}

func checkMarks(what string, marks []Mark) error {
	for i, m := range marks {
		if err := finite(what, i, m.X, m.Y); err != nil {
			return err
		}
	}
	return nil
}

const needPairs = "Bring readings in pairs, one of the meter and one of the laboratory."

// Draw lays the chart out.
func (c Difference) Draw(size Size) (*Picture, error) {
	if len(c.Points) == 0 {
		return nil, noData("no pair of readings", needPairs)
	}
	if err := checkMarks("Pair", c.Points); err != nil {
		return nil, err
	}
	if err := checkLevels(c.Levels, c.Bands, c.Curves); err != nil {
		return nil, err
	}
	s := &scene{bands: c.Bands, levels: c.Levels, curves: c.Curves, marks: c.Points}
	x0, x1, y0, y1 := extent(c.Points)
	s.xlo, s.xhi = span(x0, x1, 0.04)
	s.x, s.y = clean(c.X), clean(c.Y)
	s.xTicks = scale(s.xlo, s.xhi, 7)
	s.fitY(y0, y1)
	s.names = named(c.Levels, c.Curves, s.xhi)
	return newPicture(c.Text, size, s.height(size), s.draw)
}

func extent(marks []Mark) (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, m := range marks {
		x0, x1 = math.Min(x0, m.X), math.Max(x1, m.X)
		y0, y1 = math.Min(y0, m.Y), math.Max(y1, m.Y)
	}
	return x0, x1, y0, y1
}

// Fit is a straight line through pairs.
type Fit struct {
	Slope, Intercept float64
	Label            string
	Dash             Dash // solid for the first one, as a rule
}

// Regression shows a meter against its reference on equal scales, with the line of equality and fitted lines. A fit is
// drawn over the range of the references alone: it says nothing beyond them.
type Regression struct {
	Text
	Points   []Mark
	Fits     []Fit
	Curves   []Curve // for example the borders of an interval
	Identity string  // name of the line of equality, for example "equal"; empty leaves only its dashes
}

// Summary counts the pairs above and below the line of equality.
func (c Regression) Summary() string {
	above, below := 0, 0
	for _, p := range c.Points {
		switch {
		case p.Y > p.X:
			above++
		case p.Y < p.X:
			below++
		}
	}
	return fmt.Sprintf("%s: the meter read higher in %d, lower in %d.", plural(len(c.Points), "pair"), above, below)
}

// Draw lays the chart out.
func (c Regression) Draw(size Size) (*Picture, error) {
	if len(c.Points) == 0 {
		return nil, noData("no pair of readings", needPairs)
	}
	if err := checkMarks("Pair", c.Points); err != nil {
		return nil, err
	}
	if err := checkLevels(nil, nil, c.Curves); err != nil {
		return nil, err
	}
	x0, x1, y0, y1 := extent(c.Points)
	s := &scene{marks: c.Points, square: true, curves: slices.Clone(c.Curves)}
	for i, f := range c.Fits {
		if err := finite("Fitted line", i, f.Slope, f.Intercept); err != nil {
			return nil, err
		}
		at := func(x float64) XY { return XY{x, float64(f.Slope*x) + f.Intercept} }
		s.curves = append(s.curves, Curve{Points: []XY{at(x0), at(x1)}, Label: f.Label, Dash: f.Dash, Heavy: true})
	}
	lo, hi := span(math.Min(x0, y0), math.Max(x1, y1), 0.04)
	if lo < 0 && x0 >= 0 && y0 >= 0 {
		lo = 0 // nothing is below nothing
	}
	s.xlo, s.xhi, s.ylo, s.yhi = lo, hi, lo, hi
	s.x, s.y = clean(c.X), clean(c.Y)
	s.xTicks, s.yTicks = scale(lo, hi, 8), scale(lo, hi, 8)
	same := Curve{Points: []XY{{lo, lo}, {hi, hi}}, Label: c.Identity, Dash: Dashed}
	s.names = named(nil, slices.Concat([]Curve{same}, s.curves), hi)
	s.curves = slices.Concat([]Curve{same}, s.curves)
	return newPicture(c.Text, size, s.height(size), s.draw)
}

// ZonePoint is a pair and the zone that it lies in.
type ZonePoint struct {
	X, Y float64
	Zone string // "A" to "E"; decides the shape
}

// ErrorGrid shows pairs over the zones of an error grid. The borders come from whoever judged the pairs, so that picture
// and judgement cannot differ. The axes run from 0; a pair beyond their ends is held at the edge as an arrow.
type ErrorGrid struct {
	Text
	Points     []ZonePoint
	Borders    [][]XY
	Zones      []Place // the letters, each where its zone is widest; a zone in two parts has two
	XMax, YMax float64
}

// Summary counts the pairs by zone.
func (c ErrorGrid) Summary() string {
	count, others := map[string]int{}, 0
	for _, p := range c.Points {
		if len(p.Zone) == 1 && strings.Contains("ABCDE", p.Zone) {
			count[p.Zone]++
		} else {
			others++
		}
	}
	parts := []string{}
	for _, z := range []string{"A", "B", "C", "D", "E"} {
		if count[z] > 0 || z == "A" {
			parts = append(parts, fmt.Sprintf("%d in zone %s", count[z], z))
		}
	}
	if others > 0 {
		parts = append(parts, fmt.Sprintf("%d elsewhere", others))
	}
	return fmt.Sprintf("Of %s: %s.", plural(len(c.Points), "pair"), strings.Join(parts, ", "))
}

var zoneShape = map[string]Shape{"A": Ring, "B": Plus, "C": Triangle, "D": Diamond, "E": Square}

// Draw lays the chart out.
func (c ErrorGrid) Draw(size Size) (*Picture, error) {
	if len(c.Points) == 0 {
		return nil, noData("no pair of readings", needPairs)
	}
	if len(c.Borders) == 0 {
		return nil, noData("no zone", "Choose an error grid.")
	}
	if err := finite("End of the axis", -1, c.XMax, c.YMax); err != nil || c.XMax <= 0 || c.YMax <= 0 {
		return nil, fmt.Errorf("chart: axes of an error grid end at %v and %v", c.XMax, c.YMax)
	}
	s := &scene{square: true, zones: c.Zones}
	s.xhi, s.yhi = c.XMax, c.YMax
	for i, p := range c.Points {
		if err := finite("Pair", i, p.X, p.Y); err != nil {
			return nil, err
		}
		m := Mark{X: p.X, Y: p.Y, Shape: zoneShape[p.Zone]}
		if p.X > c.XMax || p.Y > c.YMax {
			m.Note = "(" + plain(p.X) + ", " + plain(p.Y) + ")"
		}
		s.marks = append(s.marks, m)
	}
	for i, z := range c.Zones {
		if err := finite("Letter", i, z.X, z.Y); err != nil {
			return nil, err
		}
	}
	for _, b := range c.Borders {
		s.curves = append(s.curves, Curve{Points: b})
	}
	if err := checkLevels(nil, nil, s.curves); err != nil {
		return nil, err
	}
	s.x, s.y = clean(c.X), clean(c.Y)
	s.xTicks, s.yTicks = scale(0, c.XMax, 8), scale(0, c.YMax, 8)
	return newPicture(c.Text, size, s.height(size), s.draw)
}

package chart

import (
	"fmt"
	"math"
)

// Step is a running value after a result.
type Step struct {
	At    int // the result's number in its sequence, from 1
	Value float64
	Alarm string // what the alarm says, for example "check meter M2"; empty when there is none
}

// Drift shows how a running value of participants' results moves between its limits, in the order of the results. Text.X
// names the sequence, Text.Y the running value.
type Drift struct {
	Text
	Results []XY // the results themselves, faint; may be empty
	Steps   []Step
	Levels  []Level // centre and limits
	Curves  []Curve // limits that change along the sequence
}

// Summary counts the alarms.
func (c Drift) Summary() string {
	n := 0
	for _, s := range c.Steps {
		if s.Alarm != "" {
			n++
		}
	}
	if n == 0 {
		return fmt.Sprintf("No alarm in %s.", plural(len(c.Steps), "step"))
	}
	return fmt.Sprintf("%s in %s.", plural(n, "alarm"), plural(len(c.Steps), "step"))
}

// Draw lays the chart out.
func (c Drift) Draw(size Size) (*Picture, error) {
	if len(c.Steps) == 0 {
		return nil, noData("no participant result yet", "Come back when the meter has tested people today.")
	}
	if err := checkLevels(c.Levels, nil, c.Curves); err != nil {
		return nil, err
	}
	s := &scene{levels: c.Levels, curves: c.Curves}
	lo, hi, xlo, xhi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	path := Curve{Heavy: true}
	for i, st := range c.Steps {
		if err := finite("Step", i, st.Value, float64(st.At)); err != nil {
			return nil, err
		}
		path.Points = append(path.Points, XY{float64(st.At), st.Value})
		if st.Alarm != "" {
			s.marks = append(s.marks, Mark{X: float64(st.At), Y: st.Value, Shape: Square, Note: st.Alarm})
		}
		lo, hi = math.Min(lo, st.Value), math.Max(hi, st.Value)
		xlo, xhi = math.Min(xlo, float64(st.At)), math.Max(xhi, float64(st.At))
	}
	for i, r := range c.Results {
		if err := finite("Result", i, r.X, r.Y); err != nil {
			return nil, err
		}
		s.faint = append(s.faint, r)
		lo, hi = math.Min(lo, r.Y), math.Max(hi, r.Y)
		xlo, xhi = math.Min(xlo, r.X), math.Max(xhi, r.X)
	}
	if len(c.Steps) == 1 && c.Steps[0].Alarm == "" {
		s.marks = append(s.marks, Mark{X: path.Points[0].X, Y: path.Points[0].Y, Shape: Dot})
	}
	s.paths = []Curve{path}
	s.xlo, s.xhi = xlo-0.5, xhi+0.5
	for _, t := range scale(s.xlo, s.xhi, 7) {
		if t.at == math.Trunc(t.at) {
			s.xTicks = append(s.xTicks, tick{t.at, plain(t.at)}) // tests are counted in whole numbers
		}
	}
	s.x, s.y = clean(c.X), clean(c.Y)
	s.fitY(lo, hi)
	s.names = named(c.Levels, c.Curves, xhi)
	return newPicture(c.Text, size, s.height(size), s.draw)
}

// Series is one line of a chart of lines.
type Series struct {
	Name   string
	Points []XY   // X counts the labels of the axis, from 1; a missing place breaks the line
	Spans  []Span // intervals at the points; may be empty
}

// Lines shows one to four series over events, months or years.
type Lines struct {
	Text
	Labels []string // along the axis
	Series []Series
	Levels []Level
	Bands  []Band // behind all; From and To count the labels
	Zero   bool   // the axis begins at 0
}

// mostSeries is how many series can be told apart by dash and shape.
const mostSeries = 4

// Summary says where each series began and ended.
func (c Lines) Summary() string {
	s := ""
	for _, l := range c.Series {
		if n := len(l.Points); n > 0 {
			if s != "" {
				s += "; "
			}
			s += fmt.Sprintf("%s from %s to %s over %s", l.Name, plain(l.Points[0].Y), plain(l.Points[n-1].Y), plural(n, "point"))
		}
	}
	return s + "."
}

// Draw lays the chart out.
func (c Lines) Draw(size Size) (*Picture, error) {
	n := 0
	for _, l := range c.Series {
		n += len(l.Points)
	}
	if n == 0 {
		return nil, noData("no point in any series", "Choose a time in which there was an event.")
	}
	if len(c.Series) > mostSeries {
		return nil, fmt.Errorf("chart: %d series in one picture cannot be told apart", len(c.Series))
	}
	if err := checkLevels(c.Levels, c.Bands, nil); err != nil {
		return nil, err
	}
	s := &scene{levels: c.Levels, bands: c.Bands}
	s.grid = true
	s.x, s.y = clean(c.X), clean(c.Y)
	s.xlo, s.xhi = 0.5, float64(len(c.Labels))+0.5
	for i, l := range c.Labels {
		s.xTicks = append(s.xTicks, tick{float64(i + 1), clean(l)})
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	if c.Zero {
		lo = 0
	}
	for k, l := range c.Series {
		look := Curve{Dash: []Dash{Solid, Dashed, Dotted, DashDot}[k], Heavy: true}
		part := look
		for i, pt := range l.Points {
			if err := finite("Point", i, pt.X, pt.Y); err != nil {
				return nil, err
			}
			if pt.X < 1 || pt.X > float64(len(c.Labels)) || i > 0 && pt.X <= l.Points[i-1].X {
				return nil, fmt.Errorf("chart: point %d of series %q has no label of its own at %v", i+1, l.Name, pt.X)
			}
			if i > 0 && pt.X > l.Points[i-1].X+1 {
				s.paths = append(s.paths, part)
				part = look
			}
			part.Points = append(part.Points, pt)
			s.marks = append(s.marks, Mark{X: pt.X, Y: pt.Y, Shape: []Shape{Dot, Triangle, Square, Diamond}[k]})
			lo, hi = math.Min(lo, pt.Y), math.Max(hi, pt.Y)
		}
		s.paths = append(s.paths, part)
		for i, v := range l.Spans {
			if err := finite("Interval", i, v.X, v.Low, v.High); err != nil {
				return nil, err
			}
		}
		s.spans = append(s.spans, l.Spans...)
		if n := len(l.Points); n > 0 {
			s.names = append(s.names, tag{l.Points[n-1].Y, clean(l.Name), true, l.Points[n-1].X})
		}
	}
	s.fitY(lo, hi)
	if c.Zero && s.ylo < 0 {
		s.ylo = 0
	}
	s.names = append(s.names, named(c.Levels, nil, s.xhi)...)
	return newPicture(c.Text, size, s.height(size), s.draw)
}

package chart

import (
	"fmt"
	"math"
	"sort"
)

// Kind is what a control result is, and with it its shape on the chart.
type Kind int

// The kinds of a control result.
const (
	InRange    Kind = iota // dot
	Warning                // hollow triangle
	Rejected               // cross
	OutOfRange             // solid square: outside the range printed for the strip lot
)

// shape and word are what a kind looks like, and what is said beside it when the caller says nothing.
func (k Kind) shape() Shape {
	switch k {
	case Warning:
		return Triangle
	case Rejected:
		return Cross
	case OutOfRange:
		return Square
	case InRange:
	}
	return Dot
}

func (k Kind) word() string {
	switch k {
	case Warning:
		return "warning"
	case Rejected:
		return "rejected"
	case OutOfRange:
		return "out of range"
	case InRange:
	}
	return ""
}

// Run is one control result.
type Run struct {
	At     int    // place among the runs, from 1, so that two levels stand above one another; 0 in all: as they come
	Date   string // below the axis
	Value  float64
	Kind   Kind
	Edge   Edge   // set when the meter showed no number; Value is then not read
	Note   string // the rule it broke, for example "1-3s", or "LO"; the kind's English word when empty
	Action string // what was done, for example "new vial": a flag above the point
}

// Edge says that a result has no place of its own because it lies off the scale.
type Edge int

// The edges.
const (
	OnScale Edge = iota
	Above
	Below
)

// Lot is a change of strips or control solution: a line before the run at which it came into use. The line between the
// points is broken there.
type Lot struct {
	Before int
	Label  string
}

// SDLines gives the lines of a mean and of its standard deviations from -k to +k, named in English with so many decimals.
func SDLines(mean, sd float64, k, decimals int) []Level {
	out := []Level{{Value: mean, Label: "mean " + format(mean, decimals), Heavy: true}}
	for i := 1; i <= k; i++ {
		for _, sign := range []int{1, -1} {
			v := mean + float64(float64(sign*i)*sd)
			out = append(out, Level{
				Value: v, Label: fmt.Sprintf("%s%d SD %s", map[int]string{1: "+", -1: "−"}[sign], i, format(v, decimals)),
				Dash: []Dash{Solid, Dotted, Dashed, DashDot}[min(i, 3)],
			})
		}
	}
	return out
}

// ControlPanel is one level of one meter.
type ControlPanel struct {
	Y      string // what is measured, with its unit, for example "Level 1, mg/dL"
	Runs   []Run
	Levels []Level // centre line and limits; From and To count runs
	Bands  []Band
	Lots   []Lot
}

// LeveyJennings is a control chart: results in order, their limits, what broke them and what was done. Panels stand above
// one another with one axis of runs, for example for two levels. Text.Y is not used.
type LeveyJennings struct {
	Text
	Panels []ControlPanel
}

// Summary counts the results.
func (c LeveyJennings) Summary() string {
	n, count := 0, map[Kind]int{}
	for _, p := range c.Panels {
		for _, r := range p.Runs {
			n++
			count[r.Kind]++
		}
	}
	s := fmt.Sprintf("%d of %s in range", count[InRange], plural(n, "control result"))
	for k := Warning; k <= OutOfRange; k++ {
		if count[k] > 0 {
			s += fmt.Sprintf(", %d %s", count[k], map[Kind]string{Warning: "with a warning", Rejected: "rejected", OutOfRange: "out of the printed range"}[k])
		}
	}
	return s + "."
}

func plural(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}

func (c LeveyJennings) check() error {
	n := 0
	for i, p := range c.Panels {
		for j, r := range p.Runs {
			n++
			if r.Edge != OnScale {
				continue
			}
			if err := finite(fmt.Sprintf("Result %d of panel", j+1), i, r.Value); err != nil {
				return err
			}
		}
		if err := checkLevels(p.Levels, p.Bands, nil); err != nil {
			return err
		}
	}
	if n == 0 {
		return noData("no control result", "Run a control, or choose a meter, lot and level that have one.")
	}
	return nil
}

// at gives the place of a run on the axis.
func (r Run) at(i int) float64 {
	if r.At == 0 {
		return float64(i + 1)
	}
	return float64(r.At)
}

// Draw lays the chart out. Results that lie far outside the limits are held at the edge as an arrow with their value, so
// that one of them does not press all others flat.
func (c LeveyJennings) Draw(size Size) (*Picture, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	var ticks []tick
	xlo, xhi := math.Inf(1), math.Inf(-1)
	seen := map[float64]bool{}
	for _, p := range c.Panels {
		for i, r := range p.Runs {
			x := r.at(i)
			xlo, xhi = math.Min(xlo, x), math.Max(xhi, x)
			if r.Date != "" && !seen[x] {
				seen[x] = true
				ticks = append(ticks, tick{x, clean(r.Date)})
			}
		}
	}
	sort.SliceStable(ticks, func(i, j int) bool { return ticks[i].at < ticks[j].at })
	var apartTicks []tick
	for i, t := range ticks {
		if i == 0 || t.label != ticks[i-1].label {
			apartTicks = append(apartTicks, t)
		}
	}
	parts := make([]axes, len(c.Panels))
	for i, p := range c.Panels {
		a := axes{xlo: xlo - 0.6, xhi: xhi + 0.6, y: clean(p.Y), names: named(p.Levels, nil, xhi)}
		a.ylo, a.yhi = p.yRange()
		a.yTicks = scale(a.ylo, a.yhi, 6)
		if i == len(c.Panels)-1 {
			a.x, a.xTicks = clean(c.X), apartTicks
		}
		parts[i] = a
	}
	lay := func(sh *sheet, width float64) (ms []margins, heads [][]flag) {
		var all margins
		for _, a := range parts {
			all = all.widest(sh.margin(a, width))
		}
		for i, a := range parts {
			m := sh.margin(a, width)
			m.left, m.right = all.left, all.right
			ms = append(ms, m)
			heads = append(heads, sh.flags(c.Panels[i], a, width-m.left-m.right))
		}
		return ms, heads
	}
	inner := math.Min(math.Max(size.Width*0.3, size.Font*15), size.Width*0.7)
	ms, heads := lay(&sheet{pen: blankPen{}, f: size.Font}, size.Width-size.Font)
	height := size.Font
	for i, m := range ms {
		height += inner + m.top + m.bottom + headHeight(heads[i], size.Font)
	}
	return newPicture(c.Text, size, height, func(sh *sheet, area rect) {
		ms, heads := lay(sh, area.w())
		room := area.h()
		for i, m := range ms {
			room -= m.top + m.bottom + headHeight(heads[i], sh.f)
		}
		for i, m := range ms {
			a := parts[i]
			a.head = headHeight(heads[i], sh.f)
			below := area.y1 - room/float64(len(ms)) - m.top - m.bottom - a.head
			p := sh.panel(rect{area.x0, below, area.x1, area.y1}, m, a)
			c.Panels[i].draw(sh, p, heads[i])
			area.y1 = below
		}
	})
}

// yRange spans the limits and the results, but follows results only half the limits' width beyond them.
func (c ControlPanel) yRange() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, l := range c.Levels {
		lo, hi = math.Min(lo, l.Value), math.Max(hi, l.Value)
	}
	for _, b := range c.Bands {
		lo, hi = math.Min(lo, math.Min(b.Low, b.High)), math.Max(hi, math.Max(b.Low, b.High))
	}
	least, most := math.Inf(-1), math.Inf(1)
	if hi > lo {
		least, most = lo-(hi-lo)/2, hi+(hi-lo)/2
	}
	for _, r := range c.Runs {
		if r.Edge == OnScale {
			lo, hi = math.Min(lo, math.Max(r.Value, least)), math.Max(hi, math.Min(r.Value, most))
		}
	}
	if lo > hi {
		lo, hi = 0, 1 // every result is off the scale, and there are no limits
	}
	return span(lo, hi, 0.06)
}

func (c ControlPanel) draw(sh *sheet, p *panel, head []flag) {
	sh.bands(p, c.Bands)
	sh.levels(p, c.Levels)
	pl := newPlacer(sh, p.data())
	for _, l := range c.Levels {
		x0, x1, _ := p.reach(l.From, l.To)
		pl.line([]XY{{x0, p.py(l.Value)}, {x1, p.py(l.Value)}})
	}
	marks := make([]Mark, len(c.Runs))
	for i, r := range c.Runs {
		marks[i] = Mark{X: r.at(i), Y: r.Value, Shape: r.Kind.shape(), Note: clean(r.Note)}
		if r.Note == "" {
			marks[i].Note = r.Kind.word()
		}
		switch r.Edge {
		case Above:
			marks[i].Y, marks[i].Shape = p.yhi, ArrowUp
		case Below:
			marks[i].Y, marks[i].Shape = p.ylo, ArrowDown
		case OnScale:
			if _, s := p.held(sh, marks[i]); s == ArrowUp || s == ArrowDown {
				marks[i].Note = joinWords(marks[i].Note, plain(r.Value))
			}
		}
	}
	sort.SliceStable(marks, func(i, j int) bool { return marks[i].X < marks[j].X })
	for _, part := range c.between(sh, p, marks) {
		part = decimate(part)
		pl.line(part)
		sh.line(stroke{mid, sh.thin(), Solid}, part...)
	}
	sh.raise(p, pl, head, marks)
	c.points(sh, p, pl, marks)
	sh.tags(p)
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// plain writes a value with the digits that it has, at most two decimals.
func plain(v float64) string {
	for d := range 2 {
		if math.Round(v*math.Pow10(d)) == v*math.Pow10(d) {
			return format(v, d)
		}
	}
	return format(v, 2)
}

// between gives the lines from result to result, broken where a lot changes.
func (c ControlPanel) between(sh *sheet, p *panel, marks []Mark) [][]XY {
	var out [][]XY
	var part []XY
	for i, k := range marks {
		at, _ := p.held(sh, k)
		if i > 0 && c.changed(marks[i-1].X, k.X) {
			out, part = append(out, part), nil
		}
		part = append(part, at)
	}
	return append(out, part)
}

func (c ControlPanel) changed(from, to float64) bool {
	for _, l := range c.Lots {
		if b := float64(l.Before); from < b && b <= to {
			return true
		}
	}
	return false
}

// points draws the results; of a crowd, those in range are left to the line.
func (c ControlPanel) points(sh *sheet, p *panel, pl *placer, marks []Mark) {
	r := math.Min(sh.f*0.24, math.Max(sh.f*0.12, p.w()/float64(len(marks))*0.35))
	byShape := map[Shape][]XY{}
	for _, k := range marks {
		at, shape := p.held(sh, k)
		byShape[shape] = append(byShape[shape], at)
	}
	for shape := Ring; shape <= ArrowDown; shape++ {
		at := byShape[shape]
		if shape == Dot && len(marks) > crowd {
			continue
		}
		size := r
		if shape != Dot {
			size = sh.f * 0.3
		}
		if len(at) > crowd {
			at = apart(at, most/4)
		}
		pl.points(at, size)
		sh.marks(shape, at, size, ink)
	}
	for _, k := range marks {
		at, _ := p.held(sh, k)
		pl.beside(at, sh.f*0.38, k.Note, true)
	}
}

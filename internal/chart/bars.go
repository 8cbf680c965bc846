package chart

import (
	"fmt"
	"math"

	"fairstick/internal/fault"
)

// Bar is one count or amount.
type Bar struct {
	Label  string
	Value  float64 // not negative
	Note   string  // said at the bar's end in place of the value, for example "12, too many"
	Marked bool    // dark instead of hatched, for what the Note is about
}

// Bars shows counts, for example how often each last digit occurs, with the count expected. They stand upright where their
// names fit below them, and lie where they do not.
type Bars struct {
	Text
	Bars   []Bar
	Levels []Level // the value expected, limits
	Bands  []Band
}

// mostBars is how many bars a picture can name.
const mostBars = 60

// Summary counts the bars and their sum, and names the highest.
func (c Bars) Summary() string {
	sum, top := 0.0, 0
	for i, b := range c.Bars {
		sum += b.Value
		if b.Value > c.Bars[top].Value {
			top = i
		}
	}
	if len(c.Bars) == 0 {
		return "Nothing was counted."
	}
	return fmt.Sprintf("%s in %s; most at %s: %s.", plain(sum), plural(len(c.Bars), "group"), c.Bars[top].Label, plain(c.Bars[top].Value))
}

func (c Bars) check() error {
	if len(c.Bars) == 0 {
		return noData("no group to count", "Choose a time or a person with at least one record.")
	}
	if len(c.Bars) > mostBars {
		return fault.New(fault.Invalid, "chart-too-many-bars", fmt.Sprintf("%d bars are too many for one picture.", len(c.Bars)),
			"Their names could not be read.", fmt.Sprintf("Show %d at most, and the others in the table.", mostBars))
	}
	for i, b := range c.Bars {
		if err := finite("Bar", i, b.Value); err != nil {
			return err
		}
		if b.Value < 0 {
			return fmt.Errorf("chart: bar %d is below 0", i+1)
		}
	}
	return checkLevels(c.Levels, c.Bands, nil)
}

// top is the end of the scale, never 0.
func (c Bars) top() float64 {
	hi := 0.0
	for _, b := range c.Bars {
		hi = math.Max(hi, b.Value)
	}
	for _, l := range c.Levels {
		hi = math.Max(hi, l.Value)
	}
	for _, b := range c.Bands {
		hi = math.Max(hi, math.Max(b.Low, b.High))
	}
	if hi <= 0 {
		return 1
	}
	return hi * 1.04
}

// counts gives the numbers of the scale, whole ones when every value is.
func (c Bars) counts(hi float64, n int) []tick {
	whole := true
	for _, b := range c.Bars {
		whole = whole && b.Value == math.Trunc(b.Value)
	}
	var out []tick
	for _, t := range scale(0, hi, n) {
		if !whole || t.at == math.Trunc(t.at) {
			out = append(out, t)
		}
	}
	return out
}

func (b Bar) said() string {
	if b.Note != "" {
		return clean(b.Note)
	}
	return plain(b.Value)
}

// Draw lays the chart out.
func (c Bars) Draw(size Size) (*Picture, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	sh := &sheet{pen: blankPen{}, f: size.Font}
	a := axes{xlo: 0.5, xhi: float64(len(c.Bars)) + 0.5, yhi: c.top(), x: clean(c.X), y: clean(c.Y), head: size.Font * 1.2, grid: true}
	a.yTicks = c.counts(a.yhi, 5)
	a.names = named(c.Levels, nil, a.xhi)
	for i, b := range c.Bars {
		a.xTicks = append(a.xTicks, tick{float64(i + 1), clean(b.Label)})
	}
	width := size.Width - size.Font
	m := sh.margin(a, width)
	slot := (width - m.left - m.right) / float64(len(c.Bars))
	for i, b := range c.Bars {
		if widthOf(a.xTicks[i].label, sh.small(), false)+size.Font*0.5 > slot || widthOf(b.said(), sh.small(), b.Marked) > slot {
			return c.lying(size)
		}
	}
	inner := math.Min(math.Max(size.Width*0.35, size.Font*13), size.Width*0.6)
	return newPicture(c.Text, size, inner+m.top+m.bottom+size.Font, func(sh *sheet, area rect) {
		p := sh.panel(area, sh.margin(a, area.w()), a)
		sh.bands(p, c.Bands)
		half := math.Min(p.w()/float64(len(c.Bars))*0.36, sh.f*2)
		for i, b := range c.Bars {
			x := p.px(float64(i + 1))
			sh.bar(rect{x - half, p.y0, x + half, p.py(b.Value)}, b.Marked)
		}
		for _, l := range c.Levels { // on a strip of paper, so that it shows on a dark bar too
			sh.line(stroke{white, sh.thin() * 3, Solid}, XY{p.x0, p.py(l.Value)}, XY{p.x1, p.py(l.Value)})
		}
		sh.levels(p, c.Levels)
		for i, b := range c.Bars {
			x, w := p.px(float64(i+1)), widthOf(b.said(), sh.small(), b.Marked)
			y := p.py(b.Value) + sh.f*0.2
			sh.box(rect{x - w/2, y, x + w/2, y + sh.f}, white)
			sh.write(note{at: XY{x, y + sh.f*0.15}, s: b.said(), size: sh.small(), bold: b.Marked, anchor: 0.5, shade: ink})
		}
		sh.tags(p)
	})
}

// bar draws one bar: grey with an outline, or ink when it is marked.
func (sh *sheet) bar(r rect, marked bool) {
	if r.w() < 0.1 || r.h() < 0.1 {
		return
	}
	if marked {
		sh.box(r, dark)
	} else {
		sh.box(r, pale)
	}
	sh.pen.line(pathOf([]XY{{r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}}, true), stroke{ink, sh.thin(), Solid})
}

// lying draws the bars from left to right, each below its name, and the levels as lines from above to below.
func (c Bars) lying(size Size) (*Picture, error) {
	row := size.Font * 2.7
	foot := size.Font * 2.7
	head := size.Font * 0.4
	if len(c.Levels) > 0 {
		head += size.Font * 1.4 * float64(len(c.Levels))
	}
	if c.X != "" {
		head += size.Font * 1.4
	}
	return newPicture(c.Text, size, row*float64(len(c.Bars))+foot+head+size.Font, func(sh *sheet, area rect) {
		hi := c.top()
		said := 0.0
		for _, b := range c.Bars {
			said = math.Max(said, widthOf(b.said(), sh.small(), b.Marked))
		}
		x0, x1 := area.x0+sh.f*0.3, area.x1-math.Min(said+sh.f*0.6, area.w()/2)
		px := func(v float64) float64 { return x0 + v/hi*(x1-x0) }
		y1, y0 := area.y1-head, area.y0+foot
		if c.X != "" {
			sh.write(note{at: XY{area.x0, area.y1 - sh.f}, s: fit(clean(c.X), sh.f, false, area.w()), size: sh.f, shade: dark})
		}
		for _, b := range c.Bands {
			sh.box(rect{px(math.Min(b.Low, b.High)), y0, px(math.Max(b.Low, b.High)), y1}, wash)
		}
		step := (y1 - y0) / float64(len(c.Bars))
		for i, b := range c.Bars {
			top := y1 - float64(i)*step
			sh.bar(rect{x0, top - sh.f*2.35, px(b.Value), top - sh.f*1.35}, b.Marked)
		}
		for i, l := range c.Levels {
			x := px(l.Value)
			y := y1 + sh.f*(0.4+1.4*float64(len(c.Levels)-1-i))
			sh.line(stroke{white, sh.thin() * 3, Solid}, XY{x, y0}, XY{x, y1})
			sh.line(sh.look(l.Dash, l.Heavy), XY{x, y0}, XY{x, y})
			s := fit(clean(l.Label), sh.small(), l.Heavy, area.w())
			at := math.Min(x, area.x1-widthOf(s, sh.small(), l.Heavy))
			sh.write(note{at: XY{at, y + sh.f*0.2}, s: s, size: sh.small(), bold: l.Heavy, shade: ink})
		}
		for i, b := range c.Bars {
			top := y1 - float64(i)*step
			sh.onPaper(XY{x0, top - sh.f*1.05}, fit(clean(b.Label), sh.small(), b.Marked, area.w()), b.Marked)
			at := px(b.Value) + sh.f*0.35
			sh.onPaper(XY{at, top - sh.f*2.15}, fit(b.said(), sh.small(), b.Marked, area.x1-at), b.Marked)
		}
		p := &panel{rect: rect{x0, y0, x1, y1}, axes: axes{xhi: hi}, outer: area}
		sh.line(stroke{dark, sh.thin(), Solid}, XY{x0, y1}, XY{x0, y0}, XY{x1, y0})
		for _, t := range sh.thinned(p, c.counts(hi, 5)) {
			sh.line(stroke{dark, sh.thin(), Solid}, XY{px(t.at), y0}, XY{px(t.at), y0 - sh.f*0.3})
			sh.write(note{at: XY{px(t.at), y0 - sh.f*1.25}, s: t.label, size: sh.small(), anchor: 0.5, shade: dark})
		}
		sh.write(note{at: XY{x0, y0 - sh.f*2.5}, s: fit(clean(c.Y), sh.f, false, area.w()), size: sh.f, shade: dark})
	})
}

// onPaper writes words on a strip of paper, which hides a line behind them.
func (sh *sheet) onPaper(at XY, s string, bold bool) {
	sh.box(rect{at.X + sh.thin(), at.Y - sh.f*0.2, at.X + widthOf(s, sh.small(), bold), at.Y + sh.f*0.8}, white)
	sh.write(note{at: XY{at.X + sh.thin(), at.Y}, s: s, size: sh.small(), bold: bold, shade: ink})
}

package chart

import (
	"math"
	"sort"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// rect is a part of the sheet; y counts upwards.
type rect struct{ x0, y0, x1, y1 float64 }

func (r rect) w() float64 { return r.x1 - r.x0 }
func (r rect) h() float64 { return r.y1 - r.y0 }

func (r rect) meets(o rect) bool {
	return r.x0 < o.x1 && o.x0 < r.x1 && r.y0 < o.y1 && o.y0 < r.y1
}

func (r rect) holds(o rect) bool {
	return o.x0 >= r.x0 && o.x1 <= r.x1 && o.y0 >= r.y0 && o.y1 <= r.y1
}

// sheet is the paper while a picture is drawn on it.
type sheet struct {
	pen     pen
	f       float64 // size of the letters
	dropped int     // labels that found no room
}

// small is the size of what is read second: numbers on axes, words beside points.
func (sh *sheet) small() float64 { return sh.f * 0.92 }

// thin is the width of an ordinary line.
func (sh *sheet) thin() float64 { return math.Max(0.6, sh.f/14) }

func (sh *sheet) write(n note) {
	if n.s != "" {
		sh.pen.text(n)
	}
}

func (sh *sheet) line(s stroke, pts ...XY) { sh.pen.line(pathOf(pts, false), s) }

func (sh *sheet) box(r rect, s shade) {
	sh.pen.fill(pathOf([]XY{{r.x0, r.y0}, {r.x1, r.y0}, {r.x1, r.y1}, {r.x0, r.y1}}, true), s)
}

func pathOf(pts []XY, closed bool) vg.Path {
	var p vg.Path
	for i, pt := range pts {
		at := vg.Point{X: vg.Length(pt.X), Y: vg.Length(pt.Y)}
		if i == 0 {
			p.Move(at)
		} else {
			p.Line(at)
		}
	}
	if closed {
		p.Close()
	}
	return p
}

// tick is a number or a name on an axis, at a value.
type tick struct {
	at    float64
	label string
}

// axes is what a panel needs to know before it can be placed.
type axes struct {
	xlo, xhi, ylo, yhi float64
	xTicks, yTicks     []tick
	x, y               string
	names              []tag   // beside the right edge
	head               float64 // room kept free above the data, inside the panel
	grid               bool    // faint lines across at the y ticks
}

// tag is a name in the right margin, at a value of y.
type tag struct {
	at   float64
	s    string
	bold bool
	from float64 // the x at which what it names ends; the hair line to the name begins there
}

// margins is the room around the data.
type margins struct{ left, right, bottom, top float64 }

func (m margins) widest(o margins) margins {
	return margins{math.Max(m.left, o.left), math.Max(m.right, o.right), math.Max(m.bottom, o.bottom), math.Max(m.top, o.top)}
}

// share is the part of the width that names in the right margin may take; longer ones are broken into lines.
const share = 0.27

// margin measures the room around the data of a panel in a width.
func (sh *sheet) margin(a axes, width float64) margins {
	var m margins
	for _, t := range a.yTicks {
		m.left = math.Max(m.left, widthOf(t.label, sh.small(), false))
	}
	m.left += sh.f * 0.7
	for _, n := range a.names {
		for _, l := range sh.tagLines(n, width) {
			m.right = math.Max(m.right, widthOf(l, sh.small(), n.bold))
		}
	}
	if m.right > 0 {
		m.right += sh.f * 0.9
	} else if n := len(a.xTicks); n > 0 {
		m.right = widthOf(a.xTicks[n-1].label, sh.small(), false) / 2
	}
	m.bottom = sh.f * 0.9 // a panel without numbers below it still keeps its distance from the next
	if len(a.xTicks) > 0 {
		m.bottom += sh.f * 0.8
	}
	m.bottom += sh.f * 1.25 * float64(len(wrap(a.x, sh.f, false, width)))
	m.top = sh.f*0.75 + sh.f*1.3*float64(len(wrap(a.y, sh.f, false, width)))
	return m
}

func (sh *sheet) tagLines(n tag, width float64) []string {
	return wrap(n.s, sh.small(), n.bold, width*share)
}

// panel is a part of the sheet with scales.
type panel struct {
	rect
	axes
	outer rect
}

func (p *panel) px(x float64) float64 { return p.x0 + (x-p.xlo)/(p.xhi-p.xlo)*p.w() }

func (p *panel) py(y float64) float64 {
	return p.y0 + (y-p.ylo)/(p.yhi-p.ylo)*(p.h()-p.head)
}

func (p *panel) at(pt XY) XY { return XY{p.px(pt.X), p.py(pt.Y)} }

// data is the part of the panel where values stand, without the room kept above.
func (p *panel) data() rect { return rect{p.x0, p.y0, p.x1, p.y1 - p.head} }

// panel draws the axes of a panel in an area and gives the place of its data. The name of the y axis stands level above it,
// where it is read without turning the head.
func (sh *sheet) panel(area rect, m margins, a axes) *panel {
	p := &panel{rect{area.x0 + m.left, area.y0 + m.bottom, area.x1 - m.right, area.y1 - m.top}, a, area}
	y := area.y1
	for _, l := range wrap(a.y, sh.f, false, area.w()) {
		y -= sh.f * 1.3
		sh.write(note{at: XY{area.x0, y + sh.f*0.35}, s: l, size: sh.f, shade: dark})
	}
	every := 1
	if len(a.yTicks) > 1 { // a low panel shows fewer numbers
		every = int(math.Ceil(sh.small() * 1.15 / (p.py(a.yTicks[1].at) - p.py(a.yTicks[0].at))))
	}
	for i := 0; i < len(a.yTicks); i += max(every, 1) {
		t := a.yTicks[i]
		at := p.py(t.at)
		if a.grid && at > p.y0+0.5 {
			sh.line(stroke{wash, sh.thin(), Solid}, XY{p.x0, at}, XY{p.x1, at})
		}
		sh.line(stroke{dark, sh.thin(), Solid}, XY{p.x0 - sh.f*0.3, at}, XY{p.x0, at})
		sh.write(note{at: XY{p.x0 - sh.f*0.5, at - sh.small()*0.34}, s: t.label, size: sh.small(), anchor: 1, shade: dark})
	}
	for _, t := range sh.thinned(p, a.xTicks) {
		at := p.px(t.at)
		sh.line(stroke{dark, sh.thin(), Solid}, XY{at, p.y0 - sh.f*0.3}, XY{at, p.y0})
		// A long last label is held inside the sheet.
		half := widthOf(t.label, sh.small(), false) / 2
		at = math.Min(math.Max(at, area.x0+half), area.x1-half)
		sh.write(note{at: XY{at, p.y0 - sh.f*1.25}, s: t.label, size: sh.small(), anchor: 0.5, shade: dark})
	}
	y = p.y0 - sh.f*0.5
	if len(a.xTicks) > 0 {
		y -= sh.f * 1.2
	}
	for _, l := range wrap(a.x, sh.f, false, area.w()) {
		y -= sh.f * 1.25
		half := widthOf(l, sh.f, false) / 2
		mid := math.Min(math.Max((p.x0+p.x1)/2, area.x0+half), area.x1-half)
		sh.write(note{at: XY{mid, y + sh.f*0.35}, s: l, size: sh.f, anchor: 0.5, shade: dark})
	}
	sh.line(stroke{dark, sh.thin(), Solid}, XY{p.x0, p.y1}, XY{p.x0, p.y0}, XY{p.x1, p.y0})
	return p
}

// thinned keeps every k-th label of the x axis, with the smallest k for which none touches the next.
func (sh *sheet) thinned(p *panel, ticks []tick) []tick {
	for k := 1; k <= len(ticks); k++ {
		var kept []tick
		end, ok := math.Inf(-1), true
		for i := 0; i < len(ticks); i += k {
			half := widthOf(ticks[i].label, sh.small(), false) / 2
			at := math.Min(math.Max(p.px(ticks[i].at), p.outer.x0+half), p.outer.x1-half)
			if at-half < end+sh.f*0.5 {
				ok = false
				break
			}
			end = at + half
			kept = append(kept, ticks[i])
		}
		if ok {
			return kept
		}
	}
	return nil
}

// tags writes the names in the right margin, each at its value or, where two would touch, as near as there is room, with a
// hair line to the value.
func (sh *sheet) tags(p *panel) {
	type placed struct {
		tag
		lines    []string
		want, at float64 // middle
		height   float64
	}
	var all []placed
	step := sh.small() * 1.15
	for _, n := range p.names {
		if n.s == "" {
			continue
		}
		lines := sh.tagLines(n, p.outer.w())
		want := math.Min(math.Max(p.py(n.at), p.y0), p.y1)
		all = append(all, placed{n, lines, want, want, step * float64(len(lines))})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].want < all[j].want })
	top, room := p.outer.y1, 0.0
	for _, t := range all {
		room += t.height
	}
	for len(all) > 0 && room > top-p.y0+sh.f*0.5 { // cannot all stand: the last named go first
		last := 0
		for i := range all {
			if !all[i].bold && (all[last].bold || all[i].height >= all[last].height) {
				last = i
			}
		}
		room -= all[last].height
		all = append(all[:last], all[last+1:]...)
		sh.dropped++
	}
	low := p.y0 - sh.f*0.5
	for i := range all { // up from below
		all[i].at = math.Max(all[i].at, low+all[i].height/2)
		low = all[i].at + all[i].height/2
	}
	high := top
	for i := len(all) - 1; i >= 0; i-- { // and down from above
		all[i].at = math.Min(all[i].at, high-all[i].height/2)
		high = all[i].at - all[i].height/2
	}
	for _, t := range all {
		if start := math.Min(p.px(t.from), p.x1); math.Abs(t.at-t.want) > sh.f*0.3 || start < p.x1-sh.f {
			sh.line(stroke{mid, sh.thin() * 0.7, Solid}, XY{start + sh.f*0.3, t.want}, XY{math.Max(p.x1, start+sh.f*0.3), t.want}, XY{p.x1 + sh.f*0.5, t.at})
		}
		y := t.at + t.height/2
		for _, l := range t.lines {
			y -= step
			sh.write(note{at: XY{p.x1 + sh.f*0.65, y + step*0.24}, s: l, size: sh.small(), bold: t.bold, shade: ink})
		}
	}
}

// inside cuts a line of places on the sheet to the data of a panel.
func (p *panel) inside(pts []XY) [][]XY {
	d := p.data()
	c := draw.Canvas{Rectangle: vg.Rectangle{
		Min: vg.Point{X: vg.Length(d.x0), Y: vg.Length(d.y0)}, Max: vg.Point{X: vg.Length(d.x1), Y: vg.Length(d.y1)},
	}}
	line := make([]vg.Point, len(pts))
	for i, pt := range pts {
		line[i] = vg.Point{X: vg.Length(pt.X), Y: vg.Length(pt.Y)}
	}
	var out [][]XY
	for _, part := range c.ClipLinesXY(line) {
		var one []XY
		for _, pt := range part {
			one = append(one, XY{float64(pt.X), float64(pt.Y)})
		}
		if len(one) > 1 {
			out = append(out, one)
		}
	}
	return out
}

// reach gives the part of the x axis where a level or band holds, in places on the sheet, and whether it has an end on it.
func (p *panel) reach(from, to float64) (x0, x1 float64, seen bool) {
	if from == 0 && to == 0 {
		return p.x0, p.x1, true
	}
	x0, x1 = math.Max(p.px(from), p.x0), math.Min(p.px(to), p.x1)
	return x0, x1, x0 < x1
}

// bands and levels draw what stands behind the data.
func (sh *sheet) bands(p *panel, bands []Band) {
	d := p.data()
	for _, b := range bands {
		x0, x1, seen := p.reach(b.From, b.To)
		y0, y1 := math.Max(p.py(math.Min(b.Low, b.High)), d.y0), math.Min(p.py(math.Max(b.Low, b.High)), d.y1)
		if seen && y0 < y1 {
			sh.box(rect{x0, y0, x1, y1}, wash)
		}
	}
}

func (sh *sheet) levels(p *panel, levels []Level) {
	d := p.data()
	for _, l := range levels {
		x0, x1, seen := p.reach(l.From, l.To)
		if y := p.py(l.Value); seen && y >= d.y0-0.01 && y <= d.y1+0.01 {
			sh.line(sh.look(l.Dash, l.Heavy), XY{x0, y}, XY{x1, y})
		}
	}
}

func (sh *sheet) look(d Dash, heavy bool) stroke {
	if heavy {
		return stroke{ink, sh.thin() * 1.8, d}
	}
	return stroke{mid, sh.thin(), d}
}

func (sh *sheet) curves(p *panel, curves []Curve) {
	for _, c := range curves {
		pts := make([]XY, len(c.Points))
		for i, pt := range c.Points {
			pts[i] = p.at(pt)
		}
		for _, part := range p.inside(decimate(pts)) {
			sh.line(sh.look(c.Dash, c.Heavy), part...)
		}
	}
}

// named gives the tags of the lines that reach the right edge.
func named(levels []Level, curves []Curve, xhi float64) []tag {
	var out []tag
	for _, l := range levels {
		if l.Label != "" && (l.To == 0 && l.From == 0 || l.To >= xhi) {
			out = append(out, tag{l.Value, clean(l.Label), l.Heavy, math.Inf(1)})
		}
	}
	for _, c := range curves {
		if n := len(c.Points); n > 0 && c.Label != "" {
			out = append(out, tag{c.Points[n-1].Y, clean(c.Label), c.Heavy, c.Points[n-1].X})
		}
	}
	return out
}

// wrap breaks a label into lines that fit a width, at spaces; a single word that is too long is cut with an ellipsis.
func wrap(s string, size float64, bold bool, width float64) []string {
	var lines []string
	for _, word := range strings.Fields(s) {
		if n := len(lines); n > 0 && widthOf(lines[n-1]+" "+word, size, bold) <= width {
			lines[n-1] += " " + word
			continue
		}
		lines = append(lines, fit(word, size, bold, width))
	}
	return lines
}

// fit cuts a text to a width.
func fit(s string, size float64, bold bool, width float64) string {
	if widthOf(s, size, bold) <= width {
		return s
	}
	r := []rune(s)
	n := sort.Search(len(r), func(n int) bool { return widthOf(string(r[:n])+"…", size, bold) > width })
	return strings.TrimRight(string(r[:max(n-1, 0)]), " ") + "…"
}

// scale gives round numbers from at or above lo to at or below hi, about n of them.
func scale(lo, hi float64, n int) []tick {
	raw := (hi - lo) / float64(max(n, 1))
	exp := math.Floor(math.Log10(raw))
	base := math.Pow(10, exp)
	step := 10 * base
	for _, m := range []float64{1, 2, 5} {
		if m*base >= raw*0.999 {
			step = m * base
			break
		}
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var out []tick
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+step*1e-9; i++ {
		out = append(out, tick{i * step, format(i*step, decimals)})
	}
	return out
}

// format writes a number with a real minus sign.
func format(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return "−" + s[1:]
	}
	return s
}

// span widens a range so that nothing stands on its edge and equal values still have a scale.
func span(lo, hi, part float64) (float64, float64) {
	if least := math.Max(math.Abs(hi), math.Abs(lo)) * 1e-3; hi-lo <= math.Max(least, 1e-4) {
		pad := math.Max(math.Abs(hi)*0.1, 1)
		if math.Abs(hi) < 0.1 && hi != lo {
			pad = math.Max(hi-lo, 1e-4)
		}
		return lo - pad, hi + pad
	}
	pad := (hi - lo) * part
	return lo - pad, hi + pad
}

func reversed(s []string) []string {
	out := make([]string, len(s))
	for i, v := range s {
		out[len(s)-1-i] = v
	}
	return out
}

package chart

import (
	"math"
	"slices"
)

// Mark is one point, with a shape and, where it needs one, a word.
type Mark struct {
	X, Y  float64
	Shape Shape
	Note  string
}

// scene is what the charts with two measured axes have in common: strips, lines and points in one panel.
type scene struct {
	axes
	bands  []Band
	levels []Level
	curves []Curve // limits and fits, behind the points
	paths  []Curve // the data's own lines
	faint  []XY    // what the path was made from
	marks  []Mark
	spans  []Span
	zones  []Place
	square bool // one unit is as long upwards as along
}

// Span is a vertical interval at a point, for example a confidence interval.
type Span struct{ X, Low, High float64 }

// Place is a word at a place, for example the letter of a zone.
type Place struct {
	X, Y float64
	Text string
}

// squareSide is the longest side of a square panel, in letters' heights.
const squareSide = 34

// height gives the height that a scene needs in a size.
func (s *scene) height(size Size) float64 {
	sh := &sheet{pen: blankPen{}, f: size.Font}
	width := size.Width - size.Font
	m := sh.margin(s.axes, width)
	inner := math.Min(math.Max(size.Width*0.42, size.Font*17), size.Width*0.75)
	if s.square {
		inner = math.Min(width-m.left-m.right, size.Font*squareSide)
	}
	return inner + m.top + m.bottom + size.Font
}

func (s *scene) draw(sh *sheet, area rect) {
	m := sh.margin(s.axes, area.w())
	if s.square {
		side := math.Min(area.w()-m.left-m.right, area.h()-m.top-m.bottom)
		area.x1 = area.x0 + side + m.left + m.right
		area.y0 = area.y1 - side - m.top - m.bottom
	}
	p := sh.panel(area, m, s.axes)
	sh.bands(p, s.bands)
	sh.levels(p, s.levels)
	sh.curves(p, s.curves)
	pl := newPlacer(sh, p.rect)
	faint := apart(places(p, s.faint), most)
	sh.marks(Plus, faint, sh.f*0.13, mid)
	for _, at := range faint {
		pl.soft.add(around(at, sh.f*0.16))
	}
	for _, l := range s.levels {
		x0, x1, _ := p.reach(l.From, l.To)
		pl.line([]XY{{x0, p.py(l.Value)}, {x1, p.py(l.Value)}})
	}
	for _, c := range slices.Concat(s.curves, s.paths) {
		for _, part := range p.inside(decimate(places(p, c.Points))) {
			pl.line(part)
		}
	}
	sh.curves(p, s.paths)
	for _, v := range s.spans {
		sh.span(p, v)
	}
	s.points(sh, p, pl)
	sh.tags(p)
}

func places(p *panel, pts []XY) []XY {
	out := make([]XY, len(pts))
	for i, pt := range pts {
		out[i] = p.at(pt)
	}
	return out
}

// points draws the marks by shape, the plain ones first, then the words beside them and the letters of the zones.
func (s *scene) points(sh *sheet, p *panel, pl *placer) {
	byShape := map[Shape][]XY{}
	for _, k := range s.marks {
		at, shape := p.held(sh, k)
		byShape[shape] = append(byShape[shape], at)
	}
	for shape := Ring; shape <= ArrowDown; shape++ {
		pl.points(sh.cloud(shape, byShape[shape], len(s.marks)), sh.f*0.22)
	}
	if len(s.marks) > crowd {
		s.lift(sh, p)
	}
	for _, k := range s.marks {
		at, _ := p.held(sh, k)
		pl.beside(at, sh.f*0.3, clean(k.Note), true)
	}
	for _, z := range s.zones {
		sh.zone(p, pl, z)
	}
}

// lift draws the heavy lines once more, over a crowd that would bury them, each on a strip of paper.
func (s *scene) lift(sh *sheet, p *panel) {
	for _, paper := range []bool{true, false} {
		draw := func(l stroke, pts ...XY) {
			if paper {
				l = stroke{white, l.width * 2.4, Solid}
			}
			sh.line(l, pts...)
		}
		for _, l := range s.levels {
			if x0, x1, seen := p.reach(l.From, l.To); seen && l.Heavy {
				draw(sh.look(l.Dash, true), XY{x0, p.py(l.Value)}, XY{x1, p.py(l.Value)})
			}
		}
		for _, c := range s.curves {
			if !c.Heavy {
				continue
			}
			for _, part := range p.inside(decimate(places(p, c.Points))) {
				draw(sh.look(c.Dash, true), part...)
			}
		}
	}
}

// held gives the place of a mark; one that lies outside the panel is held at its edge as an arrow.
func (p *panel) held(sh *sheet, k Mark) (XY, Shape) {
	at, shape, d := p.at(XY{k.X, k.Y}), k.Shape, p.data()
	if at.Y > d.y1+0.01 || shape == ArrowUp {
		at.Y, shape = d.y1-sh.f*0.42, ArrowUp
	}
	if at.Y < d.y0-0.01 || shape == ArrowDown {
		at.Y, shape = d.y0+sh.f*0.42, ArrowDown
	}
	at.X = math.Min(math.Max(at.X, d.x0), d.x1)
	return at, shape
}

// span draws an interval with a bar at each end.
func (sh *sheet) span(p *panel, v Span) {
	x, d := p.px(v.X), p.data()
	y0, y1 := math.Max(p.py(v.Low), d.y0), math.Min(p.py(v.High), d.y1)
	w, s := sh.f*0.22, stroke{mid, sh.thin(), Solid}
	sh.line(s, XY{x, y0}, XY{x, y1})
	sh.line(s, XY{x - w, y0}, XY{x + w, y0})
	sh.line(s, XY{x - w, y1}, XY{x + w, y1})
}

// zone writes the letter of a zone large, on paper of its own, as near to its place as no point is hidden; where points
// are everywhere it stands over them.
func (sh *sheet) zone(p *panel, pl *placer, z Place) {
	size, s := sh.f*1.25, clean(z.Text)
	w, h := widthOf(s, size, true), size*1.1
	at := p.at(XY{z.X, z.Y})
	box := rect{at.X - w/2, at.Y - h/2, at.X + w/2, at.Y + h/2}
	for _, far := range []float64{0, 0.6, 1.2} {
		found := false
		for _, dir := range directions {
			b := rect{box.x0 + dir.X*far*h, box.y0 + dir.Y*far*h, box.x1 + dir.X*far*h, box.y1 + dir.Y*far*h}
			if p.holds(b) && pl.hard.free(b) && pl.soft.free(b) {
				box, found = b, true
				break
			}
		}
		if found {
			break
		}
	}
	// A letter near the frame is held inside it.
	dx := math.Max(p.x0-box.x0, 0) - math.Max(box.x1-p.x1, 0)
	dy := math.Max(p.y0-box.y0, 0) - math.Max(box.y1-p.y1, 0)
	box = rect{box.x0 + dx, box.y0 + dy, box.x1 + dx, box.y1 + dy}
	sh.box(box, white)
	sh.write(note{at: XY{(box.x0 + box.x1) / 2, box.y0 + h*0.2}, s: s, size: size, bold: true, anchor: 0.5, shade: ink})
	pl.hard.add(box)
}

// fitY widens the y axis to hold everything, and gives both axes their numbers.
func (s *scene) fitY(lo, hi float64) {
	for _, l := range s.levels {
		lo, hi = math.Min(lo, l.Value), math.Max(hi, l.Value)
	}
	for _, b := range s.bands {
		lo, hi = math.Min(lo, math.Min(b.Low, b.High)), math.Max(hi, math.Max(b.Low, b.High))
	}
	for _, c := range slices.Concat(s.curves, s.paths) {
		for _, pt := range c.Points {
			lo, hi = math.Min(lo, pt.Y), math.Max(hi, pt.Y)
		}
	}
	for _, v := range s.spans {
		lo, hi = math.Min(lo, v.Low), math.Max(hi, v.High)
	}
	s.ylo, s.yhi = span(lo, hi, 0.06)
	s.yTicks = scale(s.ylo, s.yhi, 8)
}

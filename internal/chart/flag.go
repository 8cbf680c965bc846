package chart

import (
	"math"
	"sort"
)

// flag is something that stands in the rows above the data: a change of lot, or an action at a run.
type flag struct {
	x     float64 // on the axis
	label string
	lot   bool
	row   int  // -1 when its words found no room
	back  bool // its words stand to the left, because the right edge is near
}

// rows is how many rows of flags may stand above the data.
const rows = 4

func headHeight(flags []flag, f float64) float64 {
	n := 0
	for _, g := range flags {
		n = max(n, g.row+1)
	}
	if n == 0 {
		return 0
	}
	return (float64(n)*1.25 + 0.4) * f
}

// flags sorts changes and actions into rows so that no two of them touch.
func (sh *sheet) flags(c ControlPanel, a axes, width float64) []flag {
	var all []flag
	for _, l := range c.Lots {
		all = append(all, flag{x: float64(l.Before) - 0.5, label: clean(l.Label), lot: true})
	}
	for i, r := range c.Runs {
		if r.Action != "" {
			all = append(all, flag{x: r.at(i), label: clean(r.Action)})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].x < all[j].x })
	ends := [rows]float64{}
	for i := range all {
		g := &all[i]
		g.label = fit(g.label, sh.small(), false, width*0.5)
		at := (g.x - a.xlo) / (a.xhi - a.xlo) * width
		w := widthOf(g.label, sh.small(), false) + sh.f*0.9
		left := at
		if at+w > width {
			g.back, left = true, at-w
		}
		g.row = -1
		for r := range ends {
			if left >= ends[r] {
				g.row, ends[r] = r, left+w+sh.f*0.3
				break
			}
		}
	}
	return all
}

// raise draws the flags: a lot change as a dashed line through the whole panel, an action as a pennant whose pole stands on
// its point.
func (sh *sheet) raise(p *panel, pl *placer, flags []flag, marks []Mark) {
	over := make(map[float64]float64, len(marks)) // from the run to just above its point
	for _, k := range marks {
		at, _ := p.held(sh, k)
		over[k.X] = at.Y + sh.f*0.35
	}
	var lots, bare []XY
	for _, g := range flags {
		x := p.px(g.x)
		if x < p.x0 || x > p.x1 {
			continue
		}
		if g.row < 0 {
			sh.dropped++
		}
		if g.lot {
			lots = append(lots, XY{x, p.y1})
			continue
		}
		if g.row < 0 { // no words, but still a flag at its point
			bare = append(bare, XY{x, math.Min(over[g.x]+sh.f*0.9, p.data().y1)})
			continue
		}
		pole := []XY{{x, over[g.x]}, {x, p.y1 - float64(g.row)*sh.f*1.25}}
		sh.line(stroke{mid, sh.thin(), Solid}, pole...)
		pl.line(pole)
	}
	for _, l := range apart(lots, most) {
		sh.line(stroke{dark, sh.thin() * 1.3, DashDot}, XY{l.X, p.y0}, l)
		pl.line([]XY{{l.X, p.y0}, l})
	}
	bare = apart(bare, most/8)
	for _, b := range bare {
		sh.line(stroke{mid, sh.thin(), Solid}, XY{b.X, b.Y - sh.f*0.9}, b)
		pl.soft.add(around(b, sh.f*0.6))
	}
	for _, b := range bare {
		sh.pennant(b.X, b.Y, 1)
	}
	for _, g := range flags { // words and their pennants stand over every line
		if x := p.px(g.x); g.row >= 0 && x >= p.x0 && x <= p.x1 {
			sh.words(g, x, p.y1-float64(g.row)*sh.f*1.25)
		}
	}
}

// words writes what a flag says, beside its pennant.
func (sh *sheet) words(g flag, x, top float64) {
	side, anchor := 1.0, 0.0
	if g.back {
		side, anchor = -1, 1
	}
	far := x + side*(widthOf(g.label, sh.small(), false)+sh.f*0.8)
	sh.box(rect{math.Min(x+side, far), top - sh.f*1.15, math.Max(x+side, far), top - sh.f*0.02}, white)
	sh.write(note{at: XY{x + side*sh.f*0.75, top - sh.f*0.9}, s: g.label, size: sh.small(), anchor: anchor, shade: ink})
	if !g.lot {
		sh.pennant(x, top, side)
	}
}

func (sh *sheet) pennant(x, top, side float64) {
	sh.pen.fill(pathOf([]XY{{x, top}, {x, top - sh.f*0.62}, {x + side*sh.f*0.6, top - sh.f*0.31}}, true), ink)
}

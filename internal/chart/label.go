package chart

import "math"

// placer finds room for words beside points: inside the panel, never over points or other words, and off the lines where it
// can.
type placer struct {
	sh   *sheet
	room rect
	lost int   // words that found no room
	hard cells // points and words
	soft cells // lines, which may pass behind a word if there is no other room
}

type cells map[[2]int][]rect

// cellSize is the side of a cell of the index that places are looked up in.
const cellSize = 24.0

func newPlacer(sh *sheet, room rect) *placer { return &placer{sh, room, 0, cells{}, cells{}} }

// each visits the cells that a rectangle touches until do says no.
func (r rect) each(do func([2]int) bool) bool {
	for x := int(math.Floor(r.x0 / cellSize)); x <= int(math.Floor(r.x1/cellSize)); x++ {
		for y := int(math.Floor(r.y0 / cellSize)); y <= int(math.Floor(r.y1/cellSize)); y++ {
			if !do([2]int{x, y}) {
				return false
			}
		}
	}
	return true
}

func (c cells) add(r rect) {
	r.each(func(key [2]int) bool {
		c[key] = append(c[key], r)
		return true
	})
}

func (c cells) free(r rect) bool {
	return r.each(func(key [2]int) bool {
		for _, o := range c[key] {
			if o.meets(r) {
				return false
			}
		}
		return true
	})
}

// points and line mark what is drawn as taken.
func (p *placer) points(at []XY, r float64) {
	for _, a := range at {
		p.hard.add(around(a, r))
	}
}

// clear reports whether a hair line passes no other point and no word.
func (p *placer) clear(hair []XY) bool {
	a, b := hair[0], hair[1]
	n := int(math.Hypot(b.X-a.X, b.Y-a.Y)/3) + 1
	for k := 1; k < n; k++ {
		t := float64(k) / float64(n)
		if !p.hard.free(around(XY{a.X + (b.X-a.X)*t, a.Y + (b.Y-a.Y)*t}, 0.5)) {
			return false
		}
	}
	return true
}

func around(at XY, r float64) rect { return rect{at.X - r, at.Y - r, at.X + r, at.Y + r} }

func (p *placer) line(pts []XY) {
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		n := int(math.Hypot(b.X-a.X, b.Y-a.Y)/4) + 1
		for k := range n {
			t, u := float64(k)/float64(n), float64(k+1)/float64(n)
			x0, x1 := a.X+(b.X-a.X)*t, a.X+(b.X-a.X)*u
			y0, y1 := a.Y+(b.Y-a.Y)*t, a.Y+(b.Y-a.Y)*u
			p.soft.add(rect{math.Min(x0, x1) - 0.5, math.Min(y0, y1) - 0.5, math.Max(x0, x1) + 0.5, math.Max(y0, y1) + 0.5})
		}
	}
}

// enough is the number of words without room after which a panel is full and no more are tried.
const enough = 200

// directions in which words are tried, best first.
var directions = []XY{{0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}, {1, 0}, {-1, 0}, {0.5, 1}, {-0.5, 1}, {0.5, -1}, {-0.5, -1}}

// beside writes words near a point of radius r, with a hair line when they had to move away. Words that find no room are
// counted as dropped.
func (p *placer) beside(at XY, r float64, s string, bold bool) {
	if s == "" {
		return
	}
	if p.lost > enough {
		p.sh.dropped++
		return
	}
	size := p.sh.small()
	w, h := widthOf(s, size, bold)+size*0.2, size*1.02
	for _, over := range []bool{false, true} {
		for ring := range 5 {
			d := r + size*0.15 + float64(ring)*size*0.8
			for _, dir := range directions {
				x, y := at.X+dir.X*d, at.Y+dir.Y*d
				box := rect{x - w*(1-dir.X)/2, y - h*(1-dir.Y)/2, x + w*(1+dir.X)/2, y + h*(1+dir.Y)/2}
				if !p.room.holds(box) || !p.hard.free(box) || !over && !p.soft.free(box) {
					continue
				}
				hair := []XY{{at.X + dir.X*r, at.Y + dir.Y*r}, {x, y}}
				if ring > 1 && !p.clear(hair) {
					continue
				}
				if over {
					p.sh.box(box, white)
				}
				if ring > 1 {
					p.sh.line(stroke{mid, p.sh.thin() * 0.7, Solid}, hair...)
					p.line(hair)
				}
				p.sh.write(note{at: XY{box.x0 + (w-widthOf(s, size, bold)/slack)/2, box.y0 + size*0.26}, s: s, size: size, bold: bold, shade: ink})
				p.hard.add(box)
				return
			}
		}
	}
	p.sh.dropped++
	p.lost++
}

package chart

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// Shape tells points apart without colour.
type Shape int

// The shapes. Ring is the plain one: rings that overlap can still be counted.
const (
	Ring Shape = iota
	Dot
	Triangle
	Square
	Diamond
	Cross
	Plus
	ArrowUp   // the value stands above the picture
	ArrowDown // the value stands below it
)

// corners gives the outline of a shape around the origin at radius 1; nil for round and line shapes.
func (s Shape) corners() []XY {
	switch s {
	case Triangle:
		return []XY{{0, 1.25}, {1.1, -0.75}, {-1.1, -0.75}}
	case Square:
		return []XY{{-0.9, -0.9}, {0.9, -0.9}, {0.9, 0.9}, {-0.9, 0.9}}
	case Diamond:
		return []XY{{0, 1.3}, {1.3, 0}, {0, -1.3}, {-1.3, 0}}
	case ArrowUp:
		return []XY{{0, 1.4}, {1.1, 0}, {0.35, 0}, {0.35, -1.2}, {-0.35, -1.2}, {-0.35, 0}, {-1.1, 0}}
	case ArrowDown:
		return []XY{{0, -1.4}, {1.1, 0}, {0.35, 0}, {0.35, 1.2}, {-0.35, 1.2}, {-0.35, 0}, {-1.1, 0}}
	case Ring, Dot, Cross, Plus:
	}
	return nil
}

// solid shapes are filled with ink, the others stand hollow on the paper.
func (s Shape) solid() bool { return s == Dot || s == Square || s == ArrowUp || s == ArrowDown }

// outline gives the path of a shape at a place.
func (s Shape) outline(at XY, r float64) vg.Path {
	var p vg.Path
	pt := func(x, y float64) vg.Point { return vg.Point{X: vg.Length(at.X + x*r), Y: vg.Length(at.Y + y*r)} }
	switch s {
	case Ring, Dot:
		p.Move(pt(1, 0))
		p.Arc(pt(0, 0), vg.Length(r), 0, 2*math.Pi)
		p.Close()
		return p
	case Cross:
		p.Move(pt(-1, -1))
		p.Line(pt(1, 1))
		p.Move(pt(-1, 1))
		p.Line(pt(1, -1))
		return p
	case Plus:
		p.Move(pt(-1.2, 0))
		p.Line(pt(1.2, 0))
		p.Move(pt(0, -1.2))
		p.Line(pt(0, 1.2))
		return p
	case Triangle, Square, Diamond, ArrowUp, ArrowDown:
	}
	var pts []XY
	for _, c := range s.corners() {
		pts = append(pts, XY{at.X + c.X*r, at.Y + c.Y*r})
	}
	return pathOf(pts, true)
}

// marks draws many points of one shape, in two passes so that neighbours become one path: paper first, ink over it.
func (sh *sheet) marks(s Shape, at []XY, r float64, tone shade) {
	if len(at) == 0 {
		return
	}
	if s.solid() {
		for _, a := range at {
			sh.pen.fill(s.outline(a, r), tone)
		}
		return
	}
	if s.corners() != nil {
		for _, a := range at {
			sh.pen.fill(s.outline(a, r), white)
		}
	}
	w := sh.thin() * 1.2
	if s == Cross || s == Plus {
		w = sh.thin() * 1.6
	}
	for _, a := range at {
		sh.pen.line(s.outline(a, r), stroke{tone, w, Solid})
	}
}

// crowd is the number of points from which those of a common shape are drawn small, few what is still rare among them, and
// most how many of a shape are drawn at all.
const (
	crowd = 700
	few   = 150
	most  = 4000
)

// cloud draws the points of one shape among all, and gives those that it drew. In a crowd a common shape is drawn small,
// the plain ring as a grey speck, and points that would fall on one another are drawn once; what is rare keeps its size.
func (sh *sheet) cloud(s Shape, at []XY, all int) []XY {
	if all <= crowd || len(at) <= few {
		sh.marks(s, at, sh.f*0.23, ink)
		return at
	}
	at = apart(at, most)
	if s != Ring && s != Dot {
		sh.marks(s, at, sh.f*0.13, ink)
		return at
	}
	for _, a := range at {
		sh.box(around(a, sh.f*0.09), mid)
	}
	return at
}

// apart keeps one point of each cell of a grid, and makes the cells as large as it takes to keep at most n.
func apart(at []XY, n int) []XY {
	for cell := 0.5; ; cell *= 1.4 {
		seen := make(map[[2]int]bool, n)
		var kept []XY
		for _, a := range at {
			key := [2]int{int(math.Floor(a.X / cell)), int(math.Floor(a.Y / cell))}
			if !seen[key] {
				seen[key] = true
				kept = append(kept, a)
			}
		}
		if len(kept) <= n {
			return kept
		}
	}
}

// decimate keeps, of the many points of a line that share half a unit of width, the first, lowest, highest and last: the
// picture stays the same.
func decimate(pts []XY) []XY {
	if len(pts) < 2000 {
		return pts
	}
	var out []XY
	for i := 0; i < len(pts); {
		j, lo, hi := i, i, i
		for j < len(pts) && math.Floor(pts[j].X*2) == math.Floor(pts[i].X*2) {
			if pts[j].Y < pts[lo].Y {
				lo = j
			}
			if pts[j].Y > pts[hi].Y {
				hi = j
			}
			j++
		}
		last := -1
		for _, k := range []int{i, min(lo, hi), max(lo, hi), j - 1} {
			if k != last {
				out = append(out, pts[k])
			}
			last = k
		}
		i = j
	}
	return out
}

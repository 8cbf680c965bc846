package paper

import "codeberg.org/go-pdf/fpdf"

// Point is a corner of a band's mark in a unit square: x to the right, y downwards, both 0 to 1.
type Point struct{ X, Y float64 }

// bandSteps says how many steps a band's mark goes up; a negative number goes down.
var bandSteps = map[string]int{"critical-low": -2, "low": -1, "usual": 0, "raised": 1, "high": 2, "critical-high": 3}

// MarkPoints gives the mark of a band as an open line through points, starting at the left: two steps down, one step
// down, a level line, one, two or three steps up for critical-low, low, usual, raised, high and critical-high. Every
// step is a third of the square. An unknown band has no mark: nil.
func MarkPoints(band string) []Point {
	steps, ok := bandSteps[band]
	if !ok {
		return nil
	}
	n := max(steps, -steps)
	rise := -1.0 / 3
	if steps < 0 {
		rise = -rise
	}
	tread := 1 / float64(n+1)
	y := 0.5 - rise*float64(n)/2
	points := []Point{{0, y}}
	for i := range n {
		x := tread * float64(i+1)
		points = append(points, Point{x, y}, Point{x, y + rise})
		y += rise
	}
	return append(points, Point{1, y})
}

// mark draws a band's mark in a box: the ground as a hairline, the steps in heavy strokes. It looks the same in every language.
func (p *press) mark(band string, x, y, w, h float64) {
	points := MarkPoints(band)
	if points == nil {
		return
	}
	const heavy = 5
	x = p.left(x, w)
	path := make([]fpdf.PointType, len(points))
	for i, pt := range points {
		path[i] = fpdf.PointType{X: x + pt.X*w, Y: y + pt.Y*h}
	}
	if len(points) > 2 {
		p.pdf.SetLineWidth(0.5)
		p.pdf.Line(x, path[0].Y, x+w, path[0].Y)
	}
	p.pdf.SetLineWidth(heavy)
	p.pdf.MoveTo(path[0].X, path[0].Y)
	for _, pt := range path[1:] {
		p.pdf.LineTo(pt.X, pt.Y)
	}
	p.pdf.DrawPath("D")
}

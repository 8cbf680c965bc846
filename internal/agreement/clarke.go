package agreement

// clarkeZone gives the zone of the grid of 1987, in this order, with x the reference and y the meter in mg/dL:
//
//	A: |y-x| <= 0.2 x, or both below 70
//	E: x <= 70 and y >= 180, or x >= 180 and y <= 70
//	D: 70 <= y <= 180 with x < 70 or x > 240
//	C: x >= 70 and y > x+110, or 130 <= x <= 180 and y < 1.4 (x-130)
//	B: the rest
//
// The paper says nothing of points on a line; the signs here do. The upper line of C goes on beyond 400, where the paper's
// drawing ends. Source: Clarke WL et al., Diabetes Care 1987;10:622-8.
func clarkeZone(e exact) Zone {
	x, y, s := e.x, e.y, e.scale
	off := y - x
	if off < 0 {
		off = -off
	}
	switch {
	case 5*off <= x+e.slack || x < 70*s && y < 70*s:
		return ZoneA
	case x <= 70*s && y >= 180*s || x >= 180*s && y <= 70*s:
		return ZoneE
	case 70*s <= y && y <= 180*s && (x < 70*s || x > 240*s):
		return ZoneD
	case x >= 70*s && y > x+110*s, 130*s <= x && x <= 180*s && 5*y < 7*(x-130*s):
		return ZoneC
	}
	return ZoneB
}

// clarkeBorders gives the lines as drawn in 1987, to 400 mg/dL.
func clarkeBorders() []Border {
	return []Border{
		{Upper: true, Points: []Point{{0, 70}, {70 / 1.2, 70}, {400 / 1.2, 400}}},
		{Upper: true, Points: []Point{{70, 84}, {70, 400}}},
		{Upper: true, Points: []Point{{0, 180}, {70, 180}, {290, 400}}},
		{Points: []Point{{70, 0}, {70, 56}, {400, 320}}},
		{Points: []Point{{180, 0}, {180, 70}, {400, 70}}},
		{Points: []Point{{240, 70}, {240, 180}, {400, 180}}},
		{Points: []Point{{130, 0}, {180, 70}}},
	}
}

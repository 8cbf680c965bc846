package agreement

// border is one line of a consensus grid in whole mg/dL. The last piece goes on beyond its end.
type border struct {
	zone   Zone
	upper  bool
	points [][2]int64
}

// The lines from the outside in, above and below identity; no line borders E below. Sources: Parkes JL et al., Diabetes
// Care 2000;23:1143-8; corners from Pfützner A et al., J Diabetes Sci Technol 2013;7:1275-81, table 1.
var (
	consensus1 = []border{
		{ZoneE, true, [][2]int64{{0, 150}, {35, 155}, {50, 550}}},
		{ZoneD, true, [][2]int64{{0, 100}, {25, 100}, {50, 125}, {80, 215}, {125, 550}}},
		{ZoneC, true, [][2]int64{{0, 60}, {30, 60}, {50, 80}, {70, 110}, {260, 550}}},
		{ZoneB, true, [][2]int64{{0, 50}, {30, 50}, {140, 170}, {280, 380}, {430, 550}}},
		{ZoneD, false, [][2]int64{{250, 0}, {250, 40}, {550, 150}}},
		{ZoneC, false, [][2]int64{{120, 0}, {120, 30}, {260, 130}, {550, 250}}},
		{ZoneB, false, [][2]int64{{50, 0}, {50, 30}, {170, 145}, {385, 300}, {550, 450}}},
	}
	consensus2 = []border{
		{ZoneE, true, [][2]int64{{0, 200}, {35, 200}, {50, 550}}},
		{ZoneD, true, [][2]int64{{0, 80}, {25, 80}, {35, 90}, {125, 550}}},
		{ZoneC, true, [][2]int64{{0, 60}, {30, 60}, {280, 550}}},
		{ZoneB, true, [][2]int64{{0, 50}, {30, 50}, {230, 330}, {440, 550}}},
		{ZoneD, false, [][2]int64{{250, 0}, {250, 40}, {410, 110}, {550, 160}}},
		{ZoneC, false, [][2]int64{{90, 0}, {260, 130}, {550, 250}}},
		{ZoneB, false, [][2]int64{{50, 0}, {50, 30}, {90, 80}, {330, 230}, {550, 450}}},
	}
)

func consensusLines(g Grid) []border {
	if g == ConsensusType2 {
		return consensus2
	}
	return consensus1
}

// consensusZone gives the zone of the outermost line that the point lies beyond, A when there is none. The lines above identity
// stay above it and those below stay below, so only one side is looked at.
func consensusZone(lines []border, e exact) Zone {
	if e.x == e.y {
		return ZoneA
	}
	for _, l := range lines {
		if l.upper == (e.y > e.x) && l.beyond(e) {
			return l.zone
		}
	}
	return ZoneA
}

// beyond reports whether the point lies on the far side of the line from identity; a point on the line does not.
func (l border) beyond(e exact) bool {
	x, s := e.x, e.scale
	if !l.upper && x <= l.points[0][0]*s {
		return false // before the riser of a lower line, or on it
	}
	last := len(l.points) - 2
	i := 0
	for i < last && x > l.points[i+1][0]*s {
		i++
	}
	p, q := l.points[i], l.points[i+1]
	// The height of the line at x against y, both times the width of the piece.
	side := (e.y-p[1]*s)*(q[0]-p[0]) - (q[1]-p[1])*(x-p[0]*s)
	return l.upper && side > 0 || !l.upper && side < 0
}

package agreement

import (
	"fmt"

	"fairstick/internal/glucose"
)

// Zone is a zone of an error grid, A the best and E the worst. The zero Zone means "none".
type Zone uint8

// The zones.
const (
	ZoneA Zone = iota + 1
	ZoneB
	ZoneC
	ZoneD
	ZoneE
)

// String gives the letter, "" for none.
func (z Zone) String() string {
	if z < ZoneA || z > ZoneE {
		return ""
	}
	return "ABCDE"[z-1 : z]
}

// Grid is one of the error grids.
type Grid string

// The error grids.
const (
	Clarke         Grid = "clarke"
	ConsensusType1 Grid = "consensus_type1"
	ConsensusType2 Grid = "consensus_type2"
)

// Grids lists the grids in a fixed order.
var Grids = []Grid{Clarke, ConsensusType1, ConsensusType2}

// Point is a corner of a border, in mg/dL.
type Point struct {
	X float64 `json:"x"` // reference
	Y float64 `json:"y"` // meter
}

// Border is one line of a grid. For a consensus grid it is the border of Zone, and the last piece goes on beyond its end; a
// Clarke border has no zone of its own.
type Border struct {
	Zone   Zone    `json:"zone,omitempty"`
	Upper  bool    `json:"upper"` // lies above identity
	Points []Point `json:"points"`
}

// Borders gives the lines of a grid for drawing, in mg/dL: Clarke to 400, the consensus grids to 550. An unknown grid has none.
func Borders(g Grid) []Border {
	switch g {
	case Clarke:
		return clarkeBorders()
	case ConsensusType1, ConsensusType2:
	default:
		return nil
	}
	var out []Border
	for _, l := range consensusLines(g) {
		b := Border{Zone: l.zone, Upper: l.upper}
		for _, p := range l.points {
			b.Points = append(b.Points, Point{float64(p[0]), float64(p[1])})
		}
		out = append(out, b)
	}
	return out
}

// ZoneOf gives the zone of a pair. Values in mmol/L are converted to mg/dL first, with 18.016 mg/dL to 1 mmol/L (molar mass
// 180.156 g/mol; others use 18, which moves points near a line). The side of a line is decided in whole numbers: a point on a
// line of a consensus grid belongs to the zone nearer to identity, for Clarke see clarkeZone. A value that is not finite,
// negative or above 10,000, and an unknown unit or grid, is an error.
func ZoneOf(g Grid, p Pair, unit glucose.Unit) (Zone, error) {
	if err := check([]Pair{p}, "The error grid", 1, false); err != nil {
		return 0, err
	}
	classify, err := classifier(g, unit)
	if err != nil {
		return 0, err
	}
	return classify(p), nil
}

// classifier gives the function that classifies a checked pair.
func classifier(g Grid, unit glucose.Unit) (func(Pair) Zone, error) {
	if _, err := glucose.ParseUnit(string(unit)); err != nil {
		return nil, err
	}
	mgdl := func(p Pair) exact {
		if unit == glucose.MmolPerL {
			return exactly(p).mgDL()
		}
		return exactly(p)
	}
	switch g {
	case Clarke:
		return func(p Pair) Zone { return clarkeZone(mgdl(p)) }, nil
	case ConsensusType1, ConsensusType2:
		lines := consensusLines(g)
		return func(p Pair) Zone { return consensusZone(lines, mgdl(p)) }, nil
	}
	return nil, fmt.Errorf("no error grid is called %q", g)
}

// ZoneCounts counts pairs by zone.
type ZoneCounts struct {
	A int `json:"A"`
	B int `json:"B"`
	C int `json:"C"`
	D int `json:"D"`
	E int `json:"E"`
}

// Total gives the number of pairs.
func (c ZoneCounts) Total() int { return c.A + c.B + c.C + c.D + c.E }

// CountZones counts pairs by zone; errors are those of ZoneOf. No pairs at all are refused.
func CountZones(g Grid, pairs []Pair, unit glucose.Unit) (ZoneCounts, error) {
	if err := check(pairs, "The error grid", 1, false); err != nil {
		return ZoneCounts{}, err
	}
	classify, err := classifier(g, unit)
	if err != nil {
		return ZoneCounts{}, err
	}
	var n [ZoneE + 1]int
	for _, p := range pairs {
		n[classify(p)]++
	}
	return ZoneCounts{n[ZoneA], n[ZoneB], n[ZoneC], n[ZoneD], n[ZoneE]}, nil
}

package agreement

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func zone(t failer, g Grid, x, y float64, unit glucose.Unit) Zone {
	t.Helper()
	z, err := ZoneOf(g, Pair{x, y}, unit)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// Points half of which lie 0.6 or 3 mg/dL off a line; zones on which several independent programs agree (named in the files).
func TestZonesAgainstKnownAnswers(t *testing.T) {
	for g, name := range map[Grid]string{Clarke: "grid_clarke_f", ConsensusType1: "grid_parkes1_f", ConsensusType2: "grid_parkes2_f"} {
		var f struct {
			Inputs   struct{ Ref, Test []float64 }
			Expected struct {
				Zones  string
				Counts map[string]int
			}
		}
		read(t, name, &f)
		if len(f.Inputs.Ref) < 200 || len(f.Inputs.Ref) != len(f.Expected.Zones) {
			t.Fatalf("%s has %d points and %d zones", name, len(f.Inputs.Ref), len(f.Expected.Zones))
		}
		for i := range f.Inputs.Ref {
			x, y := f.Inputs.Ref[i], f.Inputs.Test[i]
			if z := zone(t, g, x, y, glucose.MgPerDL); z.String() != f.Expected.Zones[i:i+1] {
				t.Errorf("%s: (%v, %v) is in %s, want %c", g, x, y, z, f.Expected.Zones[i])
			}
		}
		c, err := CountZones(g, pairsOf(f.Inputs.Ref, f.Inputs.Test), glucose.MgPerDL)
		if err != nil {
			t.Fatal(err)
		}
		want := f.Expected.Counts
		if c != (ZoneCounts{want["A"], want["B"], want["C"], want["D"], want["E"]}) || c.Total() != len(f.Inputs.Ref) {
			t.Errorf("%s: %+v, want %v", g, c, want)
		}
	}
}

// Points on a line. No paper says where they belong; the files give our convention as "own", beside other programs'.
func TestZonesOnALine(t *testing.T) {
	for g, name := range map[Grid]string{Clarke: "grid_boundary_clarke", ConsensusType1: "grid_boundary_parkes1", ConsensusType2: "grid_boundary_parkes2"} {
		var f struct {
			Inputs   struct{ Points [][2]float64 }
			Expected struct{ Own string }
		}
		read(t, name, &f)
		got := ""
		for _, p := range f.Inputs.Points {
			got += zone(t, g, p[0], p[1], glucose.MgPerDL).String()
		}
		if got != f.Expected.Own {
			t.Errorf("%s: %s, want %s for %v", g, got, f.Expected.Own, f.Inputs.Points)
		}
	}
}

type corners struct {
	BUpper [][2]float64 `json:"B_upper"`
	CUpper [][2]float64 `json:"C_upper"`
	DUpper [][2]float64 `json:"D_upper"`
	EUpper [][2]float64 `json:"E_upper"`
	BLower [][2]float64 `json:"B_lower"`
	CLower [][2]float64 `json:"C_lower"`
	DLower [][2]float64 `json:"D_lower"`
}

func publishedCorners(t testing.TB) map[Grid]corners {
	var f struct {
		Inputs struct{ Type1, Type2 corners }
	}
	read(t, "grid_coordinates_parkes", &f)
	return map[Grid]corners{ConsensusType1: f.Inputs.Type1, ConsensusType2: f.Inputs.Type2}
}

// Pfützner A et al., J Diabetes Sci Technol 2013;7:1275-81, table 1.
func TestConsensusCorners(t *testing.T) {
	for g, want := range publishedCorners(t) {
		seen := 0
		for _, b := range Borders(g) {
			name := b.Zone.String() + map[bool]string{true: " upper", false: " lower"}[b.Upper]
			line := map[string][][2]float64{
				"B upper": want.BUpper, "C upper": want.CUpper, "D upper": want.DUpper, "E upper": want.EUpper,
				"B lower": want.BLower, "C lower": want.CLower, "D lower": want.DLower,
			}[name]
			if len(line) != len(b.Points) {
				t.Fatalf("%s %s: %v, want %v", g, name, b.Points, line)
			}
			for i, p := range b.Points {
				if p != (Point{line[i][0], line[i][1]}) {
					t.Errorf("%s %s: corner %d is %v, want %v", g, name, i, p, line[i])
				}
			}
			seen++
		}
		if seen != 7 {
			t.Errorf("%s has %d lines, want 7", g, seen)
		}
	}
	if len(Borders(Clarke)) != 7 || Borders("other") != nil {
		t.Errorf("Clarke has %d lines, an unknown grid %v", len(Borders(Clarke)), Borders("other"))
	}
}

// polygon is a closed region for the independent classifier of the tiling test.
type polygon struct {
	zone    Zone
	corners [][2]float64
}

// holds casts a ray to the right and counts the edges it meets.
func (p polygon) holds(x, y float64) bool {
	in := false
	last := p.corners[len(p.corners)-1]
	for _, c := range p.corners {
		if (c[1] > y) != (last[1] > y) && x < (last[0]-c[0])*(y-c[1])/(last[1]-c[1])+c[0] {
			in = !in
		}
		last = c
	}
	return in
}

// far is where lines are extended to, well outside the points that are drawn.
const far = 20000.0

func extended(line [][2]float64) [][2]float64 {
	p, q := line[len(line)-2], line[len(line)-1]
	f := far / math.Max(q[0]-p[0], 1)
	return append(append([][2]float64{}, line...), [2]float64{q[0] + f*(q[0]-p[0]), q[1] + f*(q[1]-p[1])})
}

// strip is the region between two lines.
func strip(z Zone, inner, outer [][2]float64) polygon {
	out := extended(inner)
	back := extended(outer)
	for i := len(back) - 1; i >= 0; i-- {
		out = append(out, back[i])
	}
	return polygon{z, out}
}

func consensusPolygons(c corners) []polygon {
	top, right := [][2]float64{{0, 1}, {0, 2 * far}}, [][2]float64{{1, 0}, {2 * far, 0}}
	a := [][2]float64{{0, 0}}
	a = append(a, extended(c.BLower)...)
	up := extended(c.BUpper)
	for i := len(up) - 1; i >= 0; i-- {
		a = append(a, up[i])
	}
	edge := func(z Zone, line [][2]float64, axis [][2]float64) polygon {
		return polygon{z, append(extended(line), axis[1])}
	}
	return []polygon{
		{ZoneA, a},
		strip(ZoneB, c.BUpper, c.CUpper), strip(ZoneC, c.CUpper, c.DUpper), strip(ZoneD, c.DUpper, c.EUpper), edge(ZoneE, c.EUpper, top),
		strip(ZoneB, c.BLower, c.CLower), strip(ZoneC, c.CLower, c.DLower), edge(ZoneD, c.DLower, right),
	}
}

// clarkePolygons tile the square to 400 mg/dL: the regions as drawn in Diabetes Care 1987;10:622-8.
func clarkePolygons() []polygon {
	return []polygon{
		{ZoneA, [][2]float64{{0, 0}, {70, 0}, {70, 56}, {400, 320}, {400, 400}, {400 / 1.2, 400}, {70 / 1.2, 70}, {0, 70}}},
		{ZoneE, [][2]float64{{0, 180}, {70, 180}, {70, 400}, {0, 400}}},
		{ZoneE, [][2]float64{{180, 0}, {400, 0}, {400, 70}, {180, 70}}},
		{ZoneD, [][2]float64{{0, 70}, {70 / 1.2, 70}, {70, 84}, {70, 180}, {0, 180}}},
		{ZoneD, [][2]float64{{240, 70}, {400, 70}, {400, 180}, {240, 180}}},
		{ZoneC, [][2]float64{{70, 180}, {290, 400}, {70, 400}}},
		{ZoneC, [][2]float64{{130, 0}, {180, 0}, {180, 70}}},
		{ZoneB, [][2]float64{{70, 84}, {400 / 1.2, 400}, {290, 400}, {70, 180}}},
		{ZoneB, [][2]float64{{70, 0}, {130, 0}, {180, 70}, {240, 70}, {240, 180}, {400, 180}, {400, 320}, {70, 56}}},
	}
}

// At a million random points the zone is that of the one polygon which holds the point: no gap, no overlap. The polygons are made
// here from the published corners. A point within 1e-6 of a line could fall on either side and is not drawn by chance.
func TestZonesTileThePlane(t *testing.T) {
	published := publishedCorners(t)
	for g, side := range map[Grid]float64{Clarke: 400, ConsensusType1: 1000, ConsensusType2: 1000} {
		polygons := clarkePolygons()
		if g != Clarke {
			polygons = consensusPolygons(published[g])
		}
		rng := rand.New(rand.NewPCG(11, 12))
		classify, err := classifier(g, glucose.MgPerDL)
		if err != nil {
			t.Fatal(err)
		}
		wrong := 0
		seen := map[Zone]int{}
		for range 1_000_000 {
			x, y := side*rng.Float64(), side*rng.Float64()
			in, want := 0, Zone(0)
			for _, p := range polygons {
				if p.holds(x, y) {
					in++
					want = p.zone
				}
			}
			got := classify(Pair{x, y})
			seen[got]++
			if in != 1 || got != want {
				if wrong++; wrong < 5 {
					t.Errorf("%s: (%v, %v) is in %d polygons, zone %s, classified %s", g, x, y, in, want, got)
				}
			}
		}
		if len(seen) != 5 {
			t.Errorf("%s: only the zones %v were met", g, seen)
		}
	}
}

// On a consensus line the zone is one of the two that meet there, the better one; a thousandth further out it is the worse.
func TestConsensusLinesBelongInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.SampledFrom([]Grid{ConsensusType1, ConsensusType2}).Draw(t, "grid")
		lines := Borders(g)
		l := lines[rapid.IntRange(0, len(lines)-1).Draw(t, "line")]
		i := rapid.IntRange(0, len(l.Points)-2).Draw(t, "piece")
		p, q := l.Points[i], l.Points[i+1]
		if p.X == q.X {
			return // a riser has no inside above or below
		}
		// Thirds and the like are no decimals, so the point is chosen where both coordinates are.
		f := float64(rapid.IntRange(1, 99).Draw(t, "share")) / 100
		x, y := math.Round((p.X+f*(q.X-p.X))*1e4)/1e4, math.Round((p.Y+f*(q.Y-p.Y))*1e4)/1e4
		out := 0.001
		if !l.Upper {
			out = -out
		}
		on, beyond := zone(t, g, x, y, glucose.MgPerDL), zone(t, g, x, y+out, glucose.MgPerDL)
		if on != l.Zone-1 || beyond != l.Zone {
			t.Fatalf("%s: (%v, %v) on the line of %s is in %s, further out in %s", g, x, y, l.Zone, on, beyond)
		}
	})
}

// Identity is always A; at one reference value a reading further away is never in a better zone of a consensus grid.
func TestZonesWorsenOutwards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.SampledFrom(Grids).Draw(t, "grid")
		x := float64(rapid.IntRange(1, 9000).Draw(t, "x")) / 10
		if z := zone(t, g, x, x, glucose.MgPerDL); z != ZoneA {
			t.Fatalf("%s: identity at %v is in %s", g, x, z)
		}
		if g == Clarke {
			return
		}
		for _, step := range []float64{7.3, -7.3} {
			last := ZoneA
			for y := x; y >= 0 && y < 2000; y += step {
				z := zone(t, g, x, y, glucose.MgPerDL)
				if z < last {
					t.Fatalf("%s: at %v the zone turns from %s to %s at %v", g, x, last, z, y)
				}
				last = z
			}
		}
	})
}

// A reading in mmol/L is in the zone of its exact conversion with 18.016; 7.0 and 10.5 lie on Clarke's A line whatever the factor.
func TestZonesInMmol(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.SampledFrom(Grids).Draw(t, "grid")
		x, y := rapid.IntRange(1, 400).Draw(t, "x"), rapid.IntRange(1, 400).Draw(t, "y")
		mmol := zone(t, g, float64(x)/10, float64(y)/10, glucose.MmolPerL)
		mg := zone(t, g, float64(x*18016)/10000, float64(y*18016)/10000, glucose.MgPerDL)
		if mmol != mg {
			t.Fatalf("%s: %v, %v tenths of mmol/L are in %s, converted in %s", g, x, y, mmol, mg)
		}
	})
	for _, p := range []Pair{{10, 12}, {10, 8}, {7.5, 9}, {0.1, 3.8}} {
		if z := zone(t, Clarke, p.Reference, p.Meter, glucose.MmolPerL); z != ZoneA {
			t.Errorf("%v mmol/L is in %s, want A", p, z)
		}
	}
	// 3.9 mmol/L is 70.26 mg/dL with 18.016, above Clarke's 70: not E against 10.0 (180.16) as 3.8 (68.46) would be.
	if z := zone(t, Clarke, 3.8, 10, glucose.MmolPerL); z != ZoneE {
		t.Errorf("3.8 against 10.0 mmol/L is in %s, want E", z)
	}
	if z := zone(t, Clarke, 3.9, 10, glucose.MmolPerL); z == ZoneE {
		t.Error("3.9 against 10.0 mmol/L is in E")
	}
}

func TestZonesRefuse(t *testing.T) {
	for _, p := range []Pair{{math.NaN(), 1}, {1, math.Inf(1)}, {-1, 1}, {1, 10001}} {
		for _, g := range Grids {
			if z, err := ZoneOf(g, p, glucose.MgPerDL); !fault.Is(err, "pair-unusable") || z != 0 {
				t.Errorf("%s: %v is in %s, %v", g, p, z, err)
			}
		}
	}
	if _, err := ZoneOf(Clarke, Pair{1, 1}, "g/L"); !fault.Is(err, "unit-unknown") {
		t.Errorf("an unknown unit gives %v", err)
	}
	if _, err := ZoneOf("other", Pair{1, 1}, glucose.MgPerDL); err == nil || !strings.Contains(err.Error(), "other") {
		t.Errorf("an unknown grid gives %v", err)
	}
	if _, err := CountZones(Clarke, nil, glucose.MgPerDL); !fault.Is(err, "pairs-too-few") {
		t.Errorf("no pairs give %v", err)
	}
	if s := Zone(9).String() + Zone(0).String(); s != "" {
		t.Errorf("no zone is called %q", s)
	}
	// Zero is a reading that some meters give; nothing divides by it.
	if z := zone(t, Clarke, 0, 0, glucose.MgPerDL); z != ZoneA {
		t.Errorf("(0, 0) is in %s", z)
	}
}

package control

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"fairstick/internal/fault"
)

const longest = 12 // values of one level that a rule may look back on

// Multirule applies rules to runs one after another. It keeps counts, not values: a run costs the same however long the
// series is. Make it with NewMultirule.
type Multirule struct {
	rules  Rules
	active []active
	run    int
	levels [MaxLevels]track
	across [2][3]int // consecutive complete runs with every level beyond 0, 1, 2 SD above and below

	spare   []Place // room for the points of breaks, cut off piece by piece
	scratch []Break

	least, leastOver [3]int // by limit: the shortest row that a rule asks of one level, and of all together
}

type active struct {
	spec
	over int // complete runs that all levels together need; 0 when n is not a multiple of the levels
}

// track is what one level has shown so far.
type track struct {
	row      [2][3]int      // consecutive values beyond 0, 1, 2 SD above and below
	outside  [2]uint8       // the last three values, a bit each: beyond 2 SD above and below
	seen     int            // values since the counts began
	up, down int            // length of the rise and of the fall that end here
	last     float64        // the newest value
	runs     [longest]int32 // runs of the last values, a ring
	head     int            // where the next one goes
}

// NewMultirule makes an engine. No rule at all, a rule that is not known or stands in both lists, and a number of levels other
// than 1, 2 or 3 are a *fault.Fault.
func NewMultirule(r Rules) (*Multirule, error) {
	if r.Levels < 1 || r.Levels > MaxLevels {
		return nil, fault.New(fault.Invalid, "levels-unusable", fmt.Sprintf("A run cannot have %d control levels.", r.Levels),
			"The rules are defined for one, two or three levels.", "Give 1, 2 or 3 levels.")
	}
	if len(r.Warn)+len(r.Reject) == 0 {
		return nil, fault.New(fault.Invalid, "rules-none", "No control rule is chosen.", "Without a rule every run would be accepted.", "Choose at least one rule, for example 1-3s.")
	}
	for _, name := range slices.Concat(r.Warn, r.Reject) {
		if !slices.ContainsFunc(specs, func(s spec) bool { return s.name == name }) {
			return nil, fault.New(fault.Invalid, "rule-unknown", fmt.Sprintf("%q is not a control rule.", string(name)), "",
				fmt.Sprintf("Choose among %v.", RuleNames()))
		}
		if slices.Contains(r.Warn, name) && slices.Contains(r.Reject, name) {
			return nil, fault.New(fault.Invalid, "rule-twice", fmt.Sprintf("Rule %s is to warn and to reject.", name), "", "Put it in one of the two lists.")
		}
	}
	m := &Multirule{rules: r}
	for i := range m.least {
		m.least[i], m.leastOver[i] = math.MaxInt, math.MaxInt
	}
	for _, s := range specs {
		a := active{spec: s}
		if !slices.Contains(r.Reject, s.name) && !slices.Contains(r.Warn, s.name) {
			continue
		}
		if r.Levels > 1 && s.n > 0 && s.n%r.Levels == 0 {
			a.over = s.n / r.Levels
			m.leastOver[s.limit] = min(m.leastOver[s.limit], a.over)
		}
		if s.n > 0 {
			m.least[s.limit] = min(m.least[s.limit], s.n)
		}
		m.active = append(m.active, a)
	}
	return m, nil
}

// Multirules applies rules to a whole series of runs, oldest first: what NewMultirule and Add give one by one.
func Multirules(r Rules, runs [][]Point) ([]RunResult, error) {
	m, err := NewMultirule(r)
	if err != nil {
		return nil, err
	}
	out := make([]RunResult, len(runs))
	for i, points := range runs {
		if out[i], err = m.Add(points); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Add judges the next run. Its points may stand in any order; a level may be missing, at most one value stands for each.
// A level that is missing leaves its own counts as they are (the next value follows the one before), and ends the counts over
// all levels, which need complete runs. A run without any point, a level that is not there, a level given twice, and a z that is
// NaN or infinite are a *fault.Fault and change nothing.
func (m *Multirule) Add(points []Point) (RunResult, error) {
	result := RunResult{Run: m.run, Decision: Accept}
	z, present, err := m.read(points)
	if err != nil {
		return RunResult{}, err
	}
	if loud := m.count(&z, present); loud || m.rules.RangeForm {
		m.scratch = m.breaks(m.scratch[:0], &z, present)
		if len(m.scratch) > 0 {
			result.Breaks = slices.Clone(m.scratch)
		}
	}
	for _, b := range result.Breaks {
		if result.Decision = Warn; slices.Contains(m.rules.Reject, b.Rule) {
			result.Decision = Reject
			break
		}
	}
	m.run++
	if result.Decision == Reject && m.rules.Restart {
		m.restart()
	}
	return result, nil
}

func (m *Multirule) restart() { m.levels, m.across = [MaxLevels]track{}, [2][3]int{} }

// room gives place for n points that nobody else will write to.
func (m *Multirule) room(n int) []Place {
	if len(m.spare) < n {
		m.spare = make([]Place, 256)
	}
	out := m.spare[:n:n]
	m.spare = m.spare[n:]
	return out
}

// read puts the points in the order of their levels; present has a bit for each level that is there.
func (m *Multirule) read(points []Point) (z [MaxLevels]float64, present uint8, err error) {
	if len(points) == 0 {
		return z, 0, m.refuse("run-empty", "has no control value", "Leave the run out, or give its values.")
	}
	for _, p := range points {
		switch {
		case p.Level < 0 || p.Level >= m.rules.Levels:
			return z, 0, m.refuse("level-unknown", fmt.Sprintf("has a value of level %d, but there are %d levels", p.Level+1, m.rules.Levels), "Check the level.")
		case present&(1<<p.Level) != 0:
			return z, 0, m.refuse("level-twice", fmt.Sprintf("has two values of level %d", p.Level+1), "Make two runs of it: one value a level and run.")
		case math.IsNaN(p.Z) || math.IsInf(p.Z, 0):
			return z, 0, m.refuse("z-not-a-number", fmt.Sprintf("has no usable value of level %d", p.Level+1), "Check the value, the assigned mean and the SD.")
		}
		z[p.Level] = p.Z
		present |= 1 << p.Level
	}
	return z, present, nil
}

func (m *Multirule) refuse(key, what, do string) error {
	return fault.New(fault.Invalid, key, fmt.Sprintf("Control run %d %s.", m.run+1, what), "The rules cannot judge it.", do)
}

// beyond gives how many of the limits 0, 1 and 2 SD a value exceeds on the upper side. Written without branches that depend on chance.
func beyond(z float64) (depth int) {
	if z > 0 {
		depth = 1
	}
	if z > 1 {
		depth = 2
	}
	if z > 2 {
		depth = 3
	}
	return depth
}

// extend lengthens the counts of the limits that were exceeded and ends the others.
func extend(row *[3]int, depth int) {
	a, b, c := row[0]+1, row[1]+1, row[2]+1
	if depth < 1 {
		a = 0
	}
	if depth < 2 {
		b = 0
	}
	if depth < 3 {
		c = 0
	}
	*row = [3]int{a, b, c}
}

// count takes the values in and reports whether any rule can have been broken: most runs break none, and are done here.
func (m *Multirule) count(z *[MaxLevels]float64, present uint8) (loud bool) {
	above, below := 3, 3
	for i := range m.rules.Levels {
		if present&(1<<i) == 0 {
			above, below = 0, 0
			continue
		}
		t := &m.levels[i]
		up, down := beyond(z[i]), beyond(-z[i])
		above, below = min(above, up), min(below, down)
		extend(&t.row[0], up)
		extend(&t.row[1], down)
		t.outside[0], t.outside[1] = t.outside[0]<<1&7, t.outside[1]<<1&7
		t.outside[0] |= uint8(up) / 3
		t.outside[1] |= uint8(down) / 3
		t.up, t.down = t.up+1, t.down+1
		if t.seen == 0 || z[i] <= t.last {
			t.up = 1
		}
		if t.seen == 0 || z[i] >= t.last {
			t.down = 1
		}
		t.last = z[i]
		t.seen++
		t.runs[t.head] = int32(m.run)
		if t.head++; t.head == longest {
			t.head = 0
		}
		loud = loud || t.outside[0]|t.outside[1] != 0 || max(t.up, t.down) >= 7
		for limit, n := range m.least {
			loud = loud || max(t.row[0][limit], t.row[1][limit]) >= n
		}
	}
	extend(&m.across[0], above)
	extend(&m.across[1], below)
	for limit, n := range m.leastOver {
		loud = loud || max(m.across[0][limit], m.across[1][limit]) >= n
	}
	return loud
}

func (m *Multirule) breaks(out []Break, z *[MaxLevels]float64, present uint8) []Break {
	if m.rules.Gate && len(m.single(z, present, 2)) == 0 {
		return out
	}
	for _, a := range m.active {
		switch a.name {
		case Rule12s, Rule13s:
			if places := m.single(z, present, float64(a.limit)); places != nil {
				out = append(out, Break{a.name, OneValue, -1, places})
			}
		case RuleR4s:
			if places := m.opposite(z, present); places != nil {
				out = append(out, Break{a.name, WithinRun, -1, places})
			}
		case Rule2of3s:
			out = m.twoOfThree(out, z, present)
		case Rule7T:
			for i := range m.rules.Levels {
				if t := &m.levels[i]; present&(1<<i) != 0 && max(t.up, t.down) >= a.n {
					out = append(out, Break{a.name, OneLevel, i, m.latest(i, a.n)})
				}
			}
		default:
			out = m.rows(out, a, z, present)
		}
	}
	return out
}

// single lists the values of this run beyond a limit on either side; nil when there are none.
func (m *Multirule) single(z *[MaxLevels]float64, present uint8, limit float64) []Place {
	var out []Place
	for i := range m.rules.Levels {
		if present&(1<<i) != 0 && (z[i] > limit || z[i] < -limit) {
			if out == nil {
				out = m.room(MaxLevels)[:0]
			}
			out = append(out, Place{m.run, i})
		}
	}
	return out
}

// opposite is R-4s: the highest and the lowest value of this run, when they are far enough apart.
func (m *Multirule) opposite(z *[MaxLevels]float64, present uint8) []Place {
	high, low := -1, -1
	for i := range m.rules.Levels {
		if present&(1<<i) == 0 {
			continue
		}
		if high < 0 || z[i] > z[high] {
			high = i
		}
		if low < 0 || z[i] < z[low] {
			low = i
		}
	}
	broken := z[high] > 2 && z[low] < -2
	if m.rules.RangeForm {
		broken = tidy(z[high]-z[low]) > 4
	}
	if !broken {
		return nil
	}
	return []Place{{m.run, min(high, low)}, {m.run, max(high, low)}}
}

// twoOfThree is 2of3-2s: over the last three values of a level, and over three levels of one run.
func (m *Multirule) twoOfThree(out []Break, z *[MaxLevels]float64, present uint8) []Break {
	if m.rules.Levels == 3 {
		out = m.several(out, Rule2of3s, 2, z, present)
	}
	for i := range m.rules.Levels {
		t := &m.levels[i]
		if present&(1<<i) == 0 || t.seen < 3 {
			continue
		}
		for _, bit := range t.outside {
			if bits.OnesCount8(bit) < 2 || m.rules.NewestOutside && bit&1 == 0 {
				continue
			}
			var places []Place
			for back, p := range m.latest(i, 3) {
				if bit&(4>>back) != 0 {
					places = append(places, p)
				}
			}
			out = append(out, Break{Rule2of3s, OneLevel, i, places})
		}
	}
	return out
}

// several asks for so many levels of this run beyond the same 2 SD limit.
func (m *Multirule) several(out []Break, name RuleName, n int, z *[MaxLevels]float64, present uint8) []Break {
	for _, sign := range [2]float64{1, -1} {
		var places []Place
		for i := range m.rules.Levels {
			if present&(1<<i) != 0 && sign*z[i] > 2 {
				places = append(places, Place{m.run, i})
			}
		}
		if len(places) >= n {
			out = append(out, Break{name, WithinRun, -1, places})
		}
	}
	return out
}

// rows is every rule that asks for n values in a row beyond one limit.
func (m *Multirule) rows(out []Break, a active, z *[MaxLevels]float64, present uint8) []Break {
	if a.name == Rule22s && m.rules.Levels > 1 {
		out = m.several(out, a.name, a.n, z, present)
	}
	for i := range m.rules.Levels {
		t := &m.levels[i]
		if present&(1<<i) != 0 && max(t.row[0][a.limit], t.row[1][a.limit]) >= a.n {
			out = append(out, Break{a.name, OneLevel, i, m.latest(i, a.n)})
		}
	}
	if a.name == Rule22s || a.over == 0 || max(m.across[0][a.limit], m.across[1][a.limit]) < a.over {
		return out
	}
	scope := AcrossLevels
	if a.over == 1 {
		scope = WithinRun
	}
	places := m.room(a.n)[:0]
	for run := m.run - a.over + 1; run <= m.run; run++ {
		for i := range m.rules.Levels {
			places = append(places, Place{run, i})
		}
	}
	return append(out, Break{a.name, scope, -1, places})
}

// latest gives the places of the last n values of a level, oldest first.
func (m *Multirule) latest(level, n int) []Place {
	t, out := &m.levels[level], m.room(n)
	for i := range out {
		out[i] = Place{int(t.runs[(t.head-n+i+longest)%longest]), level}
	}
	return out
}

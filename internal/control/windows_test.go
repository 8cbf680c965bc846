package control

import (
	"fmt"
	"sort"
)

// windows finds the breaks of the last run straight from the definitions, looking back over the values themselves.
func windows(rules Rules, runs [][]Point) []string {
	now := len(runs) - 1
	at := func(run, level int) (float64, bool) {
		for _, p := range runs[run] {
			if p.Level == level {
				return p.Z, true
			}
		}
		return 0, false
	}
	type value struct {
		z     float64
		place Place
	}
	var here []value
	for l := range rules.Levels {
		if z, ok := at(now, l); ok {
			here = append(here, value{z, Place{now, l}})
		}
	}
	last := func(level, n int) []value {
		var out []value
		if _, ok := at(now, level); !ok {
			return nil
		}
		for run := now; run >= 0 && len(out) < n; run-- {
			if z, ok := at(run, level); ok {
				out = append([]value{{z, Place{run, level}}}, out...)
			}
		}
		if len(out) < n {
			return nil
		}
		return out
	}
	complete := func(n int) []value {
		var out []value
		for run := now - n/rules.Levels + 1; run <= now; run++ {
			for l := range rules.Levels {
				if run < 0 {
					return nil
				}
				z, ok := at(run, l)
				if !ok {
					return nil
				}
				out = append(out, value{z, Place{run, l}})
			}
		}
		return out
	}
	var out []string
	say := func(b Break) { out = append(out, fmt.Sprint(label(b, false), b.Points)) }
	beyond := func(vs []value, sign, limit float64) []Place {
		var out []Place
		for _, v := range vs {
			if sign*v.z > limit {
				out = append(out, v.place)
			}
		}
		return out
	}
	both := func(limit float64) []Place {
		var out []Place
		for _, v := range here {
			if v.z > limit || v.z < -limit {
				out = append(out, v.place)
			}
		}
		return out
	}
	if rules.Gate && both(2) == nil {
		return nil
	}
	for name, limit := range map[RuleName]float64{Rule12s: 2, Rule13s: 3} {
		if p := both(limit); p != nil {
			say(Break{name, OneValue, -1, p})
		}
	}
	high, low := here[0], here[0]
	for _, v := range here {
		if v.z > high.z {
			high = v
		}
		if v.z < low.z {
			low = v
		}
	}
	if !rules.RangeForm && high.z > 2 && low.z < -2 || rules.RangeForm && high.z-low.z > 4 {
		a, b := high.place, low.place
		if a.Level > b.Level {
			a, b = b, a
		}
		say(Break{RuleR4s, WithinRun, -1, []Place{a, b}})
	}
	for _, sign := range []float64{1, -1} {
		if p := beyond(here, sign, 2); len(p) >= 2 && rules.Levels >= 2 {
			say(Break{Rule22s, WithinRun, -1, p})
			if rules.Levels == 3 {
				say(Break{Rule2of3s, WithinRun, -1, p})
			}
		}
		for l := range rules.Levels {
			if vs := last(l, 3); vs != nil {
				p := beyond(vs, sign, 2)
				if len(p) >= 2 && (!rules.NewestOutside || p[len(p)-1].Run == now) {
					say(Break{Rule2of3s, OneLevel, l, p})
				}
			}
			if vs := last(l, 7); vs != nil {
				moving := true
				for i := 1; i < 7; i++ {
					moving = moving && sign*(vs[i].z-vs[i-1].z) > 0
				}
				if moving {
					say(Break{Rule7T, OneLevel, l, beyond(vs, 1, -1e9)})
				}
			}
		}
		for _, row := range []struct {
			name  RuleName
			n     int
			limit float64
		}{{Rule22s, 2, 2}, {Rule31s, 3, 1}, {Rule41s, 4, 1}, {Rule6x, 6, 0}, {Rule8x, 8, 0}, {Rule9x, 9, 0}, {Rule10x, 10, 0}, {Rule12x, 12, 0}} {
			for l := range rules.Levels {
				if p := beyond(last(l, row.n), sign, row.limit); len(p) == row.n {
					say(Break{row.name, OneLevel, l, p})
				}
			}
			if row.name == Rule22s || rules.Levels == 1 || row.n%rules.Levels != 0 {
				continue
			}
			if p := beyond(complete(row.n), sign, row.limit); len(p) == row.n {
				scope := AcrossLevels
				if row.n == rules.Levels {
					scope = WithinRun
				}
				say(Break{row.name, scope, -1, p})
			}
		}
	}
	sort.Strings(out)
	return out
}

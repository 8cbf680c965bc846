package programme

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"fairstick/internal/estimate"
	"fairstick/internal/glucose"
	"fairstick/internal/visit"
)

// digitAlarm is the tail probability below which rounding is more likely than chance: one false alarm in a thousand looks
// (our own arithmetic, exact binomial). That typed readings are rounded is known for blood pressure, where 64 % end in 0
// and 10 % would be expected; no figure for glucose was found.
const digitAlarm = 0.001

// Digits is how the typed numbers of one station or one screener end, among those that were not yet held against the
// memory of their meter.
type Digits struct {
	Group      string // "station-2" or "person-<id>"
	Name       string // "Station 2" or the screener's name
	N          int
	Zeros      int     // end in 0
	ZeroOrFive int     // end in 0 or 5
	ZeroTail   float64 // chance of as many zeros or more, when each last figure is as likely as the others
	FiveTail   float64 // the same of 0 or 5
	Alarm      bool
}

// Sentence says what is odd, with the count that would be expected.
func (g Digits) Sentence() string {
	count, of, ends, tail := g.Zeros, 10, "0", g.ZeroTail
	if g.FiveTail < tail {
		count, of, ends = g.ZeroOrFive, 5, "0 or 5"
	}
	return fmt.Sprintf("%s: %d of %d readings end in %s; about %d would be expected. Compare with the meter's memory.", g.Name, count, g.N, ends, (g.N+of/2)/of)
}

func digitsOf(n, zeros, fives int) (g Digits, err error) {
	g = Digits{N: n, Zeros: zeros, ZeroOrFive: fives}
	if g.ZeroTail, err = estimate.BinomialTail(zeros, n, 0.1); err != nil {
		return g, err
	}
	if g.FiveTail, err = estimate.BinomialTail(fives, n, 0.2); err != nil {
		return g, err
	}
	g.Alarm = g.ZeroTail < digitAlarm || g.FiveTail < digitAlarm
	return g, nil
}

// Digits counts the last figures of the typed numbers by station and by screener, those with an alarm first.
func (d *Day) Digits() []Digits {
	type tally struct {
		name           string
		n, zeros, five int
	}
	groups := map[string]*tally{}
	add := func(group, name string, last byte) {
		t := groups[group]
		if t == nil {
			t = &tally{name: name}
			groups[group] = t
		}
		t.n++
		if last == '0' {
			t.zeros++
		}
		if last == '0' || last == '5' {
			t.five++
		}
	}
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Reading.Kind != glucose.Numeric || d.Event.Compared[r.ID] {
				continue
			}
			number := r.Reading.Value.Number()
			last := number[len(number)-1]
			if r.Station != "" {
				add("station-"+r.Station, "Station "+r.Station, last)
			}
			add("person-"+r.By, d.NameOf(r.By), last)
		}
	}
	out := make([]Digits, 0, len(groups))
	for group, t := range groups {
		g, err := digitsOf(t.n, t.zeros, t.five)
		if err != nil {
			continue
		}
		g.Group, g.Name = group, t.name
		out = append(out, g)
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Alarm != b.Alarm {
			return a.Alarm
		}
		if sa, sb := strings.HasPrefix(a.Group, "station-"), strings.HasPrefix(b.Group, "station-"); sa != sb {
			return sa
		}
		return a.Name < b.Name
	})
	return out
}

// digitFamily is the chance of even one false alarm among all screeners and tests of a day: one day in twenty, a choice of our own.
const digitFamily = 0.05

// DigitChecks holds the last figures of every screener of the day against chance, three ways, with the false alarms of all of them held to
// one day in twenty by Holm's correction. Only whole mg/dL can be looked at so, and only readings not yet held against a meter's
// memory; the list is empty when there are none.
func (d *Day) DigitChecks() []estimate.DigitCheck {
	byPerson := map[string]*estimate.LastDigits{}
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Reading.Kind != glucose.Numeric || r.Reading.Unit != glucose.MgPerDL || d.Event.Compared[r.ID] {
				continue
			}
			if byPerson[r.By] == nil {
				byPerson[r.By] = &estimate.LastDigits{}
			}
			byPerson[r.By][r.Reading.Value.Steps%10]++
		}
	}
	var all []estimate.Screener
	for id, digits := range byPerson {
		all = append(all, estimate.Screener{Name: d.NameOf(id), Digits: *digits})
	}
	sort.Slice(all, func(i, j int) bool { return all[i].Name < all[j].Name })
	checks, err := estimate.CheckDigits(all, digitFamily, estimate.HolmCorrection)
	if err != nil {
		return nil // nobody has read anything yet
	}
	return checks
}

// DigitAlarms lists the stations with an alarm, and the screeners with one whose readings are not all of such a station.
func (d *Day) DigitAlarms() []Digits {
	var out []Digits
	covered := map[string]bool{}
	for _, g := range d.Digits() {
		if !g.Alarm {
			continue
		}
		if rows := d.DigitReadings(g.Group); strings.HasPrefix(g.Group, "person-") && allCovered(rows, covered) {
			continue
		} else {
			for _, r := range rows {
				covered[r.Reading.ID] = true
			}
		}
		out = append(out, g)
	}
	return out
}

func allCovered(rows []DigitReading, covered map[string]bool) bool {
	for _, r := range rows {
		if !covered[r.Reading.ID] {
			return false
		}
	}
	return true
}

// DigitReading is one typed number that can be held against the memory of its meter.
type DigitReading struct {
	Visit    *visit.State
	Reading  visit.Reading
	Compared bool
	At       time.Time
}

// DigitReadings lists the typed numbers of a station or screener in the order in which they were taken.
func (d *Day) DigitReadings(group string) []DigitReading {
	var out []DigitReading
	for _, v := range d.Visits {
		for _, r := range v.Readings {
			if r.Reading.Kind == glucose.Numeric && (group == "station-"+r.Station || group == "person-"+r.By) {
				out = append(out, DigitReading{Visit: v, Reading: r, Compared: d.Event.Compared[r.ID], At: r.At})
			}
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].At.Before(out[j].At) })
	return out
}

package download

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"time"
)

// Clock is one setting of a meter's clock: how far it was from the log, robustly, and on how many readings that rests.
type Clock struct {
	Offset time.Duration // median of meter less log: above 0 when the meter's clock was ahead
	Spread time.Duration // 1.4826 times the median absolute deviation from it: as a standard deviation when the rest is normal
	N      int
	From   time.Time // of the log
	Until  time.Time
}

// near is how far from a whole hour an offset may be to be called one; right is up to where a clock counts as right.
const (
	near  = 6 * time.Minute
	right = 2 * time.Minute
)

// Words says in a sentence how wrong the clock was, and what is the likely reason.
func (c Clock) Words() string {
	abs, way := c.Offset, "ahead"
	if abs < 0 {
		abs, way = -abs, "behind"
	}
	days := int((abs + 12*time.Hour) / (24 * time.Hour))
	rest := abs - time.Duration(days)*24*time.Hour
	switch {
	case abs <= right:
		return "The meter's clock was right."
	case (abs - 12*time.Hour).Abs() <= near:
		return fmt.Sprintf("The meter's clock was %s %s. Morning and afternoon were probably mixed up.", span(abs), way)
	case days > 0 && rest.Abs() <= right:
		return fmt.Sprintf("The meter's date was %s %s. Its time of day was right.", many(days, "day"), way)
	case days > 0:
		if rest < 0 { // count whole days and what is missing to them
			days, rest = days-1, rest+24*time.Hour
		}
		return fmt.Sprintf("The meter's date and time were %s and %s %s.", many(days, "day"), span(rest), way)
	case (abs - time.Hour).Abs() <= near:
		return fmt.Sprintf("The meter's clock was %s %s. Summer time was probably not set.", span(abs), way)
	}
	return fmt.Sprintf("The meter's clock was %s %s.", span(abs), way)
}

func many(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// span writes hours and minutes.
func span(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m >= 60 && m%60 == 0:
		return many(m/60, "hour")
	case m >= 60:
		return many(m/60, "hour") + " " + many(m%60, "minute")
	}
	return many(m, "minute")
}

// meeting is a row and an entry that show the same.
type meeting struct {
	row, entry int
	by         time.Duration // meter less log
}

// window is how far the offsets of one setting of the clock may lie apart.
const window = 10 * time.Minute

// mostClocks bounds how often a clock is believed to have been set in a day.
const mostClocks = 3

// least is how many readings must agree before a clock that is wrong is believed, and before a second setting is.
const least = 3

// clocks finds the settings of the clock and to which of them each row belongs, -1 for none. The offset that most pairs of the same
// value share wins; what is left over may share another, when the clock was set during the day.
func clocks(rows []Row, entries []Entry) (list []Clock, ofRow []int) {
	var all []meeting
	for i, r := range rows {
		for j, e := range entries {
			if same, _ := alike(r.Reading, e.Reading); same {
				all = append(all, meeting{i, j, r.At.Sub(e.At)})
			}
		}
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := all[i], all[j]
		return cmp.Or(cmp.Compare(a.by, b.by), a.entry-b.entry, a.row-b.row) < 0
	})
	ofRow = filled(len(rows))
	ofEntry := filled(len(entries))
	for len(list) < mostClocks {
		found := best(all, len(rows), len(entries))
		need := 1
		if len(found) > 0 && middle(found).Abs() > window {
			need = least
		}
		if len(list) > 0 {
			need = max(least, (unplaced(ofEntry)+1)/2)
		}
		if len(found) < need || len(found) == 0 {
			break
		}
		c := Clock{Offset: middle(found), N: len(found)}
		var off []time.Duration
		for _, m := range found {
			ofRow[m.row], ofEntry[m.entry] = len(list), len(list)
			off = append(off, (m.by - c.Offset).Abs())
			at := entries[m.entry].At
			if c.From.IsZero() || at.Before(c.From) {
				c.From = at
			}
			if at.After(c.Until) {
				c.Until = at
			}
		}
		c.Spread = time.Duration(1.4826 * float64(median(off)))
		list = append(list, c)
		all = slices.DeleteFunc(all, func(m meeting) bool { return ofRow[m.row] >= 0 || ofEntry[m.entry] >= 0 })
	}
	return list, ofRow
}

func filled(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = -1
	}
	return out
}

func unplaced(of []int) int {
	n := 0
	for _, c := range of {
		if c < 0 {
			n++
		}
	}
	return n
}

// best gives the pairs of the window of offsets in which most rows meet most entries, each once; of equal windows the one
// closest to a clock that is right.
func best(all []meeting, rows, entries int) []meeting {
	inRow, inEntry := make([]int, rows), make([]int, entries)
	nRows, nEntries := 0, 0
	most, from, until := 0, 0, 0
	end := 0
	for start := range all {
		for end < len(all) && all[end].by-all[start].by <= window {
			if inRow[all[end].row]++; inRow[all[end].row] == 1 {
				nRows++
			}
			if inEntry[all[end].entry]++; inEntry[all[end].entry] == 1 {
				nEntries++
			}
			end++
		}
		n := min(nRows, nEntries)
		if n > most || n == most && n > 0 && closer(all[start:end], all[from:until]) {
			most, from, until = n, start, end
		}
		if inRow[all[start].row]--; inRow[all[start].row] == 0 {
			nRows--
		}
		if inEntry[all[start].entry]--; inEntry[all[start].entry] == 0 {
			nEntries--
		}
	}
	return once(all[from:until])
}

func closer(a, b []meeting) bool { return a[len(a)/2].by.Abs() < b[len(b)/2].by.Abs() }

// once keeps each row and each entry in one pair, those closest to the middle first.
func once(list []meeting) []meeting {
	if len(list) == 0 {
		return nil
	}
	mid := middle(list)
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b meeting) int { return cmp.Compare((a.by - mid).Abs(), (b.by - mid).Abs()) })
	rows, entries := map[int]bool{}, map[int]bool{}
	var out []meeting
	for _, m := range sorted {
		if !rows[m.row] && !entries[m.entry] {
			rows[m.row], entries[m.entry] = true, true
			out = append(out, m)
		}
	}
	return out
}

func middle(list []meeting) time.Duration {
	by := make([]time.Duration, len(list))
	for i, m := range list {
		by[i] = m.by
	}
	return median(by)
}

// median gives the middle of the values, the mean of the two middle ones when their number is even; 0 for none.
func median(list []time.Duration) time.Duration {
	if len(list) == 0 {
		return 0
	}
	s := slices.Clone(list)
	slices.Sort(s)
	if n := len(s); n%2 == 0 {
		return s[n/2-1] + (s[n/2]-s[n/2-1])/2
	}
	return s[len(s)/2]
}

package download

import (
	"cmp"
	"slices"
	"sort"
	"time"

	"fairstick/internal/glucose"
)

// Match holds the rows of a memory against the entries of a log for one meter. Neither is changed. Rows of other days are
// counted and left alone.
func Match(rows []Row, entries []Entry, o Options) Result {
	var out Result
	rows = slices.DeleteFunc(slices.Clone(rows), func(r Row) bool {
		if r.Reading.Kind == glucose.Error {
			out.Errors++
			return true
		}
		return false
	})
	entries = slices.DeleteFunc(slices.Clone(entries), func(e Entry) bool { return e.Reading.Kind == glucose.Error })
	sortRows(rows)
	sort.SliceStable(entries, func(i, j int) bool { return entries[i].At.Before(entries[j].At) })
	list, ofRow := clocks(rows, entries)
	out.Clocks = inOrder(list)
	right := corrected(rows, list, ofRow)
	rows, right = day(rows, right, o.OfDay, &out)
	out.Day = len(rows)
	out.pair(rows, right, entries, o.Tolerance)
	return out
}

// sortRows puts rows in the order in which the meter took them: by its own numbers when every row has one.
func sortRows(rows []Row) {
	numbered := !slices.ContainsFunc(rows, func(r Row) bool { return r.Seq == 0 })
	slices.SortStableFunc(rows, func(a, b Row) int {
		if numbered && a.Seq != b.Seq {
			return a.Seq - b.Seq
		}
		return cmp.Or(a.At.Compare(b.At), a.Line-b.Line)
	})
}

func inOrder(list []Clock) []Clock {
	out := slices.Clone(list)
	slices.SortStableFunc(out, func(a, b Clock) int { return a.From.Compare(b.From) })
	return out
}

// corrected gives the time of each row as the log would have it. A row that met no entry has the clock of the row beside it
// that did.
func corrected(rows []Row, list []Clock, ofRow []int) []time.Time {
	out := make([]time.Time, len(rows))
	for i, r := range rows {
		out[i] = r.At
		if c := beside(ofRow, i); c >= 0 {
			out[i] = r.At.Add(-list[c].Offset)
		}
	}
	return out
}

// beside gives the value at a place, or the nearest one that is set; -1 when none is.
func beside(of []int, i int) int {
	for d := range len(of) {
		if i-d >= 0 && of[i-d] >= 0 {
			return of[i-d]
		}
		if i+d < len(of) && of[i+d] >= 0 {
			return of[i+d]
		}
	}
	return -1
}

// day keeps the rows of the day of the event, in the order of their corrected times.
func day(rows []Row, right []time.Time, ofDay func(time.Time) bool, out *Result) ([]Row, []time.Time) {
	order := make([]int, 0, len(rows))
	for i := range rows {
		if ofDay != nil && !ofDay(right[i]) {
			out.Others++
			continue
		}
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return right[a].Compare(right[b]) })
	keptRows, keptTimes := make([]Row, len(order)), make([]time.Time, len(order))
	for n, i := range order {
		keptRows[n], keptTimes[n] = rows[i], right[i]
	}
	return keptRows, keptTimes
}

// What it costs to bring a row and an entry together, against leaving each of them alone.
const (
	alone     = 1.0 // a row or an entry without the other
	otherwise = 1.2 // two that show something else: dearer than one alone, cheaper than both
	swapped   = 0.3 // a control on one side, a person on the other
)

// cost is what bringing two together costs; no when they are too far apart.
func cost(r Row, at time.Time, e Entry, tolerance time.Duration) (c float64, no bool) {
	apart := at.Sub(e.At).Abs()
	same, _ := alike(r.Reading, e.Reading)
	switch {
	case same && apart <= far:
		c = 0.5 * float64(apart) / float64(far)
	case !same && apart <= tolerance:
		c = otherwise + 0.2*float64(apart)/float64(far)
	default:
		return 0, true
	}
	if mismarked(r, e) {
		c += swapped
	}
	return c, false
}

func mismarked(r Row, e Entry) bool {
	return r.Mark == Control && !e.Control || r.Mark == Person && e.Control
}

// pair finds the cheapest way to go through both in order (the alignment of Needleman and Wunsch, J Mol Biol 1970;48:443-53), and
// names what differs.
func (out *Result) pair(rows []Row, right []time.Time, entries []Entry, tolerance time.Duration) {
	n, m := len(rows), len(entries)
	price := make([][]float64, n+1)
	for i := range price {
		price[i] = make([]float64, m+1)
	}
	for i := n; i >= 0; i-- {
		for j := m; j >= 0; j-- {
			switch {
			case i == n:
				price[i][j] = alone * float64(m-j)
				continue
			case j == m:
				price[i][j] = alone * float64(n-i)
				continue
			}
			p := alone + min(price[i+1][j], price[i][j+1])
			if c, no := cost(rows[i], right[i], entries[j], tolerance); !no {
				p = min(p, c+price[i+1][j+1])
			}
			price[i][j] = p
		}
	}
	var apartRows []int // rows and entries that stayed alone
	var apartEntries []int
	for i, j := 0, 0; i < n || j < m; {
		if i < n && j < m {
			if c, no := cost(rows[i], right[i], entries[j], tolerance); !no && c+price[i+1][j+1] <= price[i][j]+1e-9 {
				out.together(rows[i], entries[j], right[i].Sub(entries[j].At), tolerance)
				i, j = i+1, j+1
				continue
			}
		}
		if i < n && (j == m || alone+price[i+1][j] <= price[i][j]+1e-9) {
			apartRows = append(apartRows, i)
			i++
			continue
		}
		apartEntries = append(apartEntries, j)
		j++
	}
	out.outOfTurn(rows, right, entries, apartRows, apartEntries, tolerance)
	slices.SortStableFunc(out.Pairs, func(a, b Pair) int { return a.Entry.At.Compare(b.Entry.At) })
	slices.SortStableFunc(out.Differences, func(a, b Difference) int { return slices.Index(Kinds, a.Kind) - slices.Index(Kinds, b.Kind) })
}

// outOfTurn brings together what stayed alone and shows the same within reach: it was written down after others that were
// measured later. Whatever is still alone is missing on the other side.
func (out *Result) outOfTurn(rows []Row, right []time.Time, entries []Entry, apartRows, apartEntries []int, tolerance time.Duration) {
	taken := map[int]bool{}
	for _, j := range apartEntries {
		found := -1
		for _, i := range apartRows {
			apart := right[i].Sub(entries[j].At).Abs()
			same, _ := alike(rows[i].Reading, entries[j].Reading)
			if same && !taken[i] && apart <= far && (found < 0 || apart < right[found].Sub(entries[j].At).Abs()) {
				found = i
			}
		}
		if found < 0 {
			out.differ(Difference{Kind: NotInMeter, Entry: &entries[j]})
			continue
		}
		taken[found] = true
		out.together(rows[found], entries[j], right[found].Sub(entries[j].At), tolerance)
	}
	for _, i := range apartRows {
		if !taken[i] {
			out.differ(Difference{Kind: NotInLog, Row: &rows[i]})
		}
	}
}

func (out *Result) differ(d Difference) { out.Differences = append(out.Differences, d) }

// together notes that a row is an entry, and in what they differ.
func (out *Result) together(r Row, e Entry, by, tolerance time.Duration) {
	out.Pairs = append(out.Pairs, Pair{r, e, by})
	before := len(out.Differences)
	same, converted := alike(r.Reading, e.Reading)
	switch {
	case !same && sameDigits(r.Reading, e.Reading), same && converted:
		out.differ(Difference{Kind: Unit, Row: &r, Entry: &e})
	case !same:
		out.differ(Difference{Kind: Value, Row: &r, Entry: &e})
	}
	if mismarked(r, e) {
		out.differ(Difference{Kind: Marked, Row: &r, Entry: &e})
	}
	if by.Abs() > tolerance {
		out.differ(Difference{Kind: Time, Row: &r, Entry: &e, By: by})
	}
	if len(out.Differences) == before {
		out.Same++
	}
}

// sameDigits reports whether two numbers are written alike in different units: the unit was mixed up, not the number.
func sameDigits(r, e glucose.Reading) bool {
	return r.Kind == glucose.Numeric && e.Kind == glucose.Numeric && r.Unit != e.Unit && r.Value.Number() == e.Value.Number()
}

package download

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fairstick/internal/glucose"
)

var morning = time.Date(2026, 10, 10, 8, 0, 0, 0, time.UTC)

func onDay(t time.Time) bool { return t.Format(time.DateOnly) == "2026-10-10" }

// log makes entries three minutes apart from values as they are written down; one with c in front is a control.
func log(values ...string) []Entry {
	var out []Entry
	for i, v := range values {
		v, control := strings.CutPrefix(v, "c")
		out = append(out, Entry{ID: fmt.Sprint(i), At: morning.Add(time.Duration(i*3) * time.Minute), Reading: parse(v), Control: control})
	}
	return out
}

func parse(v string) glucose.Reading {
	u := glucose.MgPerDL
	if strings.Contains(v, ".") {
		u = glucose.MmolPerL
	}
	r, err := glucose.ParseReading(v, u)
	if err != nil {
		panic(err)
	}
	return r
}

// memory makes the rows of a log by a clock that is off, each written some seconds before it was typed.
func memory(entries []Entry, off time.Duration) []Row {
	var out []Row
	for i, e := range entries {
		r := Row{Line: i + 2, At: e.At.Add(off - time.Duration(i%7)*5*time.Second), Reading: e.Reading, Mark: Person, Seq: i + 1}
		if e.Control {
			r.Mark = Control
		}
		out = append(out, r)
	}
	return out
}

func match(rows []Row, entries []Entry) Result {
	return Match(rows, entries, Options{Tolerance: DefaultTolerance, OfDay: onDay})
}

// kinds counts the differences.
func kinds(r Result) map[string]int {
	n := map[string]int{}
	for _, d := range r.Differences {
		n[d.Kind]++
	}
	return n
}

var fair = []string{"c118", "c300", "112", "98", "104", "131", "98", "156", "HI", "121", "66", "64", "104", "87"}

// Whatever the clock shows, every row is found and the clock's offset is told with its likely reason.
func TestClocks(t *testing.T) {
	entries := log(fair...)
	for name, c := range map[string]struct {
		off  time.Duration
		says string
	}{
		"right":        {20 * time.Second, "The meter's clock was right."},
		"a bit slow":   {-17 * time.Minute, "17 minutes behind."},
		"summer time":  {-time.Hour, "1 hour behind. Summer time"},
		"half a day":   {12*time.Hour + time.Minute, "Morning and afternoon were probably mixed up."},
		"a day early":  {-24 * time.Hour, "The meter's date was 1 day behind. Its time of day was right."},
		"never set":    {-2474*24*time.Hour - 3*time.Hour, "The meter's date and time were 2474 days and 3 hours behind."},
		"hours ahead":  {5*time.Hour + 30*time.Minute, "5 hours 30 minutes ahead."},
		"just a day+":  {25 * time.Hour, "1 day and 1 hour ahead."},
		"almost a day": {23 * time.Hour, "23 hours ahead."},
	} {
		got := match(memory(entries, c.off), entries)
		if got.Same != len(entries) || len(got.Differences) != 0 || got.Day != len(entries) || got.Others != 0 {
			t.Errorf("%s: %+v", name, got)
			continue
		}
		if len(got.Clocks) != 1 || got.Clocks[0].N != len(entries) || !strings.Contains(got.Clocks[0].Words(), c.says) || (got.Clocks[0].Offset-c.off).Abs() > 20*time.Second || got.Clocks[0].Spread > 20*time.Second {
			t.Errorf("%s: %+v %q", name, got.Clocks, got.Clocks[0].Words())
		}
	}
}

// Each sort of difference is named once, with both sides, and the rest still agrees.
func TestDifferences(t *testing.T) {
	entries := log(fair...)
	change := func(do func(rows []Row) []Row) Result { return match(do(memory(entries, -time.Hour)), entries) }
	for name, c := range map[string]struct {
		do   func([]Row) []Row
		want map[string]int
		same int
	}{
		"digits swapped": {func(r []Row) []Row { r[5].Reading = parse("113"); return r }, map[string]int{Value: 1}, 13},
		"HI typed":       {func(r []Row) []Row { r[8].Reading = parse("598"); return r }, map[string]int{Value: 1}, 13},
		"not written": {func(r []Row) []Row {
			return append(r, Row{Line: 20, At: r[3].At.Add(time.Minute), Reading: parse("222"), Mark: Person, Seq: 20})
		}, map[string]int{NotInLog: 1}, 14},
		"not measured": {func(r []Row) []Row { return append(r[:6:6], r[7:]...) }, map[string]int{NotInMeter: 1}, 13},
		"other unit":   {func(r []Row) []Row { r[2].Reading = parse("6.2"); return r }, map[string]int{Unit: 1}, 13},
		"marked":       {func(r []Row) []Row { r[0].Mark = Person; return r }, map[string]int{Marked: 1}, 13},
		"no marks":     {func(r []Row) []Row { r[0].Mark, r[1].Mark = Unmarked, Unmarked; return r }, map[string]int{}, 14},
		"typed late":   {func(r []Row) []Row { r[13].At = r[13].At.Add(-11 * time.Minute); r[13].Seq = 0; return unnumbered(r) }, map[string]int{Time: 1}, 13},
		"other day": {func(r []Row) []Row {
			return append(r, Row{Line: 30, At: r[0].At.Add(-72 * time.Hour), Reading: parse("112"), Seq: -3})
		}, map[string]int{}, 14},
		"error rows": {func(r []Row) []Row {
			return append(r, Row{Line: 31, At: r[4].At, Reading: glucose.ErrorCode("E-3", glucose.MgPerDL), Seq: 31})
		}, map[string]int{}, 14},
		"two at once": {func(r []Row) []Row {
			r[5].Reading = parse("113")
			return append(r[:9:9], r[10:]...)
		}, map[string]int{Value: 1, NotInMeter: 1}, 12},
	} {
		got := change(c.do)
		if d := cmp.Diff(c.want, kinds(got)); d != "" || got.Same != c.same {
			t.Errorf("%s: %d the same, want %d; %s", name, got.Same, c.same, d)
		}
		for _, x := range got.Differences {
			if (x.Row == nil) != (x.Kind == NotInMeter) || (x.Entry == nil) != (x.Kind == NotInLog) {
				t.Errorf("%s: %+v", name, x)
			}
		}
	}
}

func unnumbered(rows []Row) []Row {
	for i := range rows {
		rows[i].Seq = 0
	}
	return rows
}

// A clock that was set during the day has two settings, and nothing is lost between them.
func TestAClockThatWasSet(t *testing.T) {
	entries := log(fair...)
	rows := memory(entries, -time.Hour)
	for i := 7; i < len(rows); i++ {
		rows[i].At = rows[i].At.Add(time.Hour)
	}
	got := match(rows, entries)
	if got.Same != len(entries) || len(got.Differences) != 0 || len(got.Clocks) != 2 {
		t.Fatalf("%+v", got)
	}
	if a, b := got.Clocks[0], got.Clocks[1]; (a.Offset+time.Hour).Abs() > time.Minute || b.Offset.Abs() > time.Minute || a.N+b.N != len(entries) || a.Until.After(b.From) {
		t.Errorf("%+v", got.Clocks)
	}
}

// A download in the other unit is recognised by its values; every row says that the unit differs and none that the value does.
func TestADownloadInTheOtherUnit(t *testing.T) {
	entries := log("112", "98", "104", "131", "156", "121", "66")
	rows := memory(entries, 40*time.Minute)
	for i := range rows {
		rows[i].Reading = glucose.Number(rows[i].Reading.Value.In(glucose.MmolPerL))
	}
	got := match(rows, entries)
	if d := cmp.Diff(map[string]int{Unit: len(entries)}, kinds(got)); d != "" || len(got.Pairs) != len(entries) {
		t.Error(d)
	}
}

// Nothing that could tell a clock: nothing is claimed about it.
func TestTooLittleToTell(t *testing.T) {
	entries := log("112", "98")
	if got := match(memory(entries, 90*time.Minute), entries); len(got.Clocks) != 0 || got.Same != 0 {
		t.Errorf("two readings are no proof of a clock: %+v", got)
	}
	if got := match(nil, entries); kinds(got)[NotInMeter] != 2 {
		t.Errorf("an empty memory: %+v", got)
	}
	if got := match(memory(entries, 0), nil); kinds(got)[NotInLog] != 2 {
		t.Errorf("an empty log: %+v", got)
	}
	if got := match(nil, nil); len(got.Differences) != 0 {
		t.Errorf("nothing at all: %+v", got)
	}
}

// For any day, any clock and any few changes, each row and each entry is in exactly one pair or difference, nothing is changed
// in what was given, and without changes there are no differences.
func TestMatchProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(t, "n")
		var entries []Entry
		at := morning
		for i := range n {
			at = at.Add(time.Duration(rapid.IntRange(61, 600).Draw(t, "gap")) * time.Second)
			entries = append(entries, Entry{ID: fmt.Sprint(i), At: at, Reading: glucose.Number(glucose.MgDL(rapid.IntRange(60, 320).Draw(t, "value")))})
		}
		off := time.Duration(rapid.IntRange(-900, 900).Draw(t, "off")) * 24 * time.Minute
		rows := memory(entries, off)
		if got := match(rows, entries); n >= 12 && (got.Same != n || len(got.Differences) != 0) {
			t.Fatalf("an honest memory: %d of %d, %v, %+v", got.Same, n, off, got.Clocks)
		}
		for range rapid.IntRange(0, 4).Draw(t, "changes") {
			if len(rows) == 0 {
				break
			}
			i := rapid.IntRange(0, len(rows)-1).Draw(t, "row")
			switch rapid.IntRange(0, 2).Draw(t, "change") {
			case 0:
				rows = append(rows[:i:i], rows[i+1:]...)
			case 1:
				rows[i].Reading = glucose.Number(glucose.MgDL(rapid.IntRange(20, 600).Draw(t, "other")))
			case 2:
				rows = append(rows, Row{Line: 1000 + i, At: rows[i].At.Add(time.Minute), Seq: 1000 + i, Reading: glucose.HI(glucose.MgPerDL)})
			}
		}
		before := fmt.Sprint(rows, entries)
		got := match(rows, entries)
		if fmt.Sprint(rows, entries) != before {
			t.Fatal("what was given was changed")
		}
		k := kinds(got)
		if len(got.Pairs)+k[NotInLog]+got.Others != len(rows) || len(got.Pairs)+k[NotInMeter] != len(entries) {
			t.Fatalf("%d rows, %d entries: %d pairs, %v, %d others", len(rows), len(entries), len(got.Pairs), k, got.Others)
		}
	})
}

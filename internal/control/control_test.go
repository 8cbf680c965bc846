package control

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

func TestJudge(t *testing.T) {
	mg := glucose.MgDL
	for _, tt := range []struct {
		r         glucose.Reading
		low, high glucose.Value
		want      Verdict
		key       string
	}{
		{glucose.Number(mg(252)), mg(252), mg(340), InRange, ""}, // both ends belong to the range (common practice)
		{glucose.Number(mg(340)), mg(252), mg(340), InRange, ""},
		{glucose.Number(mg(251)), mg(252), mg(340), OutOfRange, ""},
		{glucose.Number(mg(341)), mg(252), mg(340), OutOfRange, ""},
		{glucose.Number(glucose.Mmol(58)), glucose.Mmol(42), glucose.Mmol(58), InRange, ""},
		{glucose.Number(glucose.Mmol(59)), glucose.Mmol(42), glucose.Mmol(58), OutOfRange, ""},
		{glucose.HI(glucose.MgPerDL), mg(252), mg(340), NoValue, ""},
		{glucose.LO(glucose.MgPerDL), mg(252), mg(340), NoValue, ""},
		{glucose.ErrorCode("E-4", glucose.MgPerDL), mg(252), mg(340), NoValue, ""},
		{glucose.Number(mg(100)), mg(340), mg(252), "", "range-reversed"},
		{glucose.Number(glucose.Mmol(58)), mg(252), mg(340), "", "units-differ"},
		{glucose.HI(glucose.MmolPerL), mg(252), mg(340), "", "units-differ"},
		{glucose.Number(mg(100)), glucose.Value{}, glucose.Value{}, "", "units-differ"},
		{glucose.Number(mg(100)), mg(252), glucose.Mmol(190), "", "units-differ"},
		{glucose.Reading{Unit: glucose.MgPerDL}, mg(252), mg(340), "", "reading-empty"},
	} {
		got, err := Judge(tt.r, tt.low, tt.high)
		if got != tt.want || (tt.key == "") != (err == nil) || tt.key != "" && !fault.Is(err, tt.key) {
			t.Errorf("Judge(%v, %v, %v) = %q, %v; want %q, key %q", tt.r, tt.low, tt.high, got, err, tt.want, tt.key)
		}
	}
}

func clock(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", "2025-10-04 "+s)
	if err != nil {
		panic(err)
	}
	return t
}

// runs writes control runs as "08:10 M1 A v1 1 108" with the word "caused" at the end when a cause was assigned. Level 1 has the
// printed range 90 to 126, level 2 has 252 to 340.
func runs(t testing.TB, lines ...string) []Run {
	t.Helper()
	var out []Run
	for i, l := range lines {
		w := strings.Fields(l)
		r, err := glucose.ParseReading(w[5], glucose.MgPerDL)
		if err != nil {
			t.Fatal(err)
		}
		run := Run{ID: fmt.Sprint(i), At: clock(w[0]), Meter: w[1], Lot: w[2], Vial: w[3], Level: w[4], Reading: r, Low: glucose.MgDL(90), High: glucose.MgDL(126)}
		if run.Level == "2" {
			run.Low, run.High = glucose.MgDL(252), glucose.MgDL(340)
		}
		if len(w) > 6 {
			run.Cause = "vial was left open; new vial opened"
		}
		out = append(out, run)
	}
	return out
}

func TestClear(t *testing.T) {
	dropped := func(at string) []Void { return []Void{{Meter: "M3", At: clock(at), Cause: "dropped"}} }
	for _, tt := range []struct {
		name    string
		runs    []string
		voids   []Void
		vial    bool // each vial needs its own
		key     string
		missing []string
		since   string
		says    string
	}{
		{name: "nothing has been run", key: KeyNeverRun, missing: []string{"1", "2"}, says: "Run levels 1 and 2."},
		{name: "another meter's runs", runs: []string{"08:10 M1 A v1 1 108", "08:11 M1 A v1 2 300"}, key: KeyNeverRun, missing: []string{"1", "2"}},
		{name: "another lot's runs", runs: []string{"08:10 M3 B v1 1 108", "08:11 M3 B v1 2 300"}, key: KeyNeverRun, missing: []string{"1", "2"}},
		{name: "both levels pass", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, key: KeyCleared, since: "08:12", says: "Passed levels 1 and 2"},
		{name: "order of the list does not matter", runs: []string{"08:12 M3 A v1 2 300", "08:10 M3 A v1 1 108"}, key: KeyCleared, since: "08:12"},
		{name: "since the row that still holds", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300", "11:00 M3 A v1 1 110"}, key: KeyCleared, since: "08:12"},
		{name: "one level is missing", runs: []string{"08:10 M3 A v1 1 108"}, key: KeyMissing, missing: []string{"2"}, says: "Level 2 has not been run"},

		{name: "a miss", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361"}, key: KeyFailed, missing: []string{"2"}, says: "Level 2 showed 361 mg/dL; the printed range is 252 to 340 mg/dL. Do not test people."},
		{name: "a miss and its repeat", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361", "08:15 M3 A v1 2 358"}, key: KeyFailed, missing: []string{"2"}, says: "358"},
		{name: "a miss after a pass", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300", "11:00 M3 A v1 1 130"}, key: KeyFailed, missing: []string{"1"}},
		{name: "LO is a miss", runs: []string{"08:10 M3 A v1 1 LO", "08:12 M3 A v1 2 300"}, key: KeyFailed, missing: []string{"1"}, says: "Level 1 showed LO"},
		{name: "an error code is a miss", runs: []string{"08:10 M3 A v1 1 E-4", "08:12 M3 A v1 2 300"}, key: KeyFailed, missing: []string{"1"}, says: "Level 1 showed E-4"},
		{name: "a cause alone does not clear", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361 caused"}, key: KeyFailed, missing: []string{"2"}, says: "now run the level again"},
		{name: "a miss and a missing level", runs: []string{"08:12 M3 A v1 2 361"}, key: KeyFailed, missing: []string{"1", "2"}},

		{name: "a pass without a cause", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361", "08:15 M3 A v1 2 300"}, key: KeyNoCause, says: "assign the cause"},
		{name: "a pass with a cause", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361 caused", "08:15 M3 A v1 2 300"}, key: KeyCleared, since: "08:15"},
		{name: "a cause for one of two", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361 caused", "08:13 M3 A v1 2 350", "08:15 M3 A v1 2 300"}, key: KeyNoCause},
		{name: "an error code and a pass still need a cause", runs: []string{"08:10 M3 A v1 1 E-4", "08:11 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, key: KeyNoCause},
		{name: "no cause weighs more than a missing level", runs: []string{"08:12 M3 A v1 2 361", "08:15 M3 A v1 2 300"}, key: KeyNoCause, missing: []string{"1"}},

		{name: "three without a cause", runs: []string{"08:12 M3 A v1 2 361", "08:15 M3 A v1 2 358", "08:18 M3 A v1 2 360"}, key: KeyTakeOut, missing: []string{"1", "2"}, says: "Take this meter out"},
		{name: "a pass between does not end the row", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361", "08:13 M3 A v1 2 358", "08:14 M3 A v1 2 300", "08:18 M3 A v1 2 360", "08:20 M3 A v1 2 300"}, key: KeyTakeOut, missing: []string{"1", "2"}},
		{name: "three with two lots", runs: []string{"08:12 M3 B v9 2 361", "08:15 M3 B v9 2 358", "08:18 M3 A v1 2 360"}, key: KeyTakeOut, missing: []string{"1", "2"}},
		{name: "three, one with a cause", runs: []string{"08:12 M3 A v1 2 361 caused", "08:15 M3 A v1 2 358", "08:18 M3 A v1 2 360"}, key: KeyFailed, missing: []string{"1", "2"}},
		{name: "another lot's miss", runs: []string{"08:05 M3 B v9 2 361", "08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, key: KeyCleared, since: "08:12"},

		{name: "dropped after both passed", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, voids: dropped("10:00"), key: KeyVoid, missing: []string{"1", "2"}, says: "no longer hold (dropped)"},
		{name: "dropped, one level again", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300", "10:05 M3 A v1 1 110"}, voids: dropped("10:00"), key: KeyVoid, missing: []string{"2"}, says: "Run level 2 again."},
		{name: "dropped, both again", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300", "10:05 M3 A v1 1 110", "10:06 M3 A v1 2 299"}, voids: dropped("10:00"), key: KeyCleared, since: "10:06"},
		{name: "at the very moment", runs: []string{"10:00 M3 A v1 1 108", "10:01 M3 A v1 2 300"}, voids: dropped("10:00"), key: KeyVoid, missing: []string{"1"}},
		{name: "dropped twice", runs: []string{"10:05 M3 A v1 1 110", "10:06 M3 A v1 2 299"}, voids: append(dropped("11:00"), dropped("10:00")...), key: KeyVoid, missing: []string{"1", "2"}},
		{name: "another meter dropped", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, voids: []Void{{Meter: "M1", At: clock("10:00")}}, key: KeyCleared, since: "08:12"},
		{name: "another lot void", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, voids: []Void{{Meter: "M3", Lot: "B", At: clock("10:00")}}, key: KeyCleared, since: "08:12"},
		{name: "this lot void", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, voids: []Void{{Meter: "M3", Lot: "A", At: clock("10:00"), Cause: "left in the sun"}}, key: KeyVoid, missing: []string{"1", "2"}},
		{name: "dropped before anything was run", voids: dropped("07:00"), key: KeyNeverRun, missing: []string{"1", "2"}},
		{name: "a new battery is no cause", runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 361", "10:05 M3 A v1 1 110", "10:06 M3 A v1 2 299"}, voids: dropped("10:00"), key: KeyNoCause},

		{name: "another vial is enough", runs: []string{"08:10 M3 A v2 1 108", "08:12 M3 A v2 2 300"}, key: KeyCleared, since: "08:12"},
		{name: "another vial is not enough", vial: true, runs: []string{"08:10 M3 A v2 1 108", "08:12 M3 A v2 2 300"}, key: KeyNeverRun, missing: []string{"1", "2"}, says: "this strip vial"},
		{name: "this vial", vial: true, runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, key: KeyCleared, since: "08:12"},
		{name: "one level with each vial", vial: true, runs: []string{"08:10 M3 A v1 1 108", "08:12 M3 A v2 2 300"}, key: KeyMissing, missing: []string{"2"}},
		{name: "another vial does not explain a miss", vial: true, runs: []string{"08:05 M3 A v2 2 361", "08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300"}, key: KeyNoCause},
	} {
		t.Run(tt.name, func(t *testing.T) {
			list := runs(t, tt.runs...)
			before := slices.Clone(list)
			c := Clear("M3", "A", "v1", list, tt.voids, Rule{Levels: []string{"1", "2"}, RunsWithoutCause: 3, EachVial: tt.vial})
			if c.Key != tt.key || c.Cleared != (tt.key == KeyCleared) || !slices.Equal(c.Missing, tt.missing) {
				t.Errorf("%+v, want key %s, missing %v", c, tt.key, tt.missing)
			}
			if tt.since == "" && !c.Since.IsZero() || tt.since != "" && !c.Since.Equal(clock(tt.since)) {
				t.Errorf("since %v, want %q", c.Since, tt.since)
			}
			if c.Sentence == "" || !strings.Contains(c.Sentence, tt.says) {
				t.Errorf("says %q, want %q in it", c.Sentence, tt.says)
			}
			if !slices.Equal(list, before) {
				t.Error("the list of runs was changed")
			}
		})
	}
}

func TestClearNeedsARule(t *testing.T) {
	list := runs(t, "08:10 M3 A v1 1 108", "08:12 M3 A v1 2 300")
	if c := Clear("M3", "A", "v1", list, nil, Rule{}); c.Cleared || c.Sentence == "" {
		t.Errorf("a protocol without levels clears a meter: %+v", c)
	}
	c := Clear("M3", "A", "v1", runs(t, "08:10 M3 A v1 1 12", "08:11 M3 A v1 1 13"), nil, Rule{Levels: []string{"1"}})
	if c.Key != KeyFailed {
		t.Errorf("without a number of runs no meter is taken out by it: %+v", c)
	}
	odd := runs(t, "08:10 M3 A v1 1 108")
	odd[0].High = glucose.Value{}
	if c := Clear("M3", "A", "v1", odd, nil, Rule{Levels: []string{"1"}}); c.Cleared {
		t.Errorf("a run without a printed range clears a meter: %+v", c)
	}
}

// Whatever happened before, one more miss or void never leaves a meter cleared.
func TestNothingBadClears(t *testing.T) {
	rule := Rule{Levels: []string{"1", "2"}, RunsWithoutCause: 3}
	rapid.Check(t, func(t *rapid.T) {
		var list []Run
		for i := range rapid.IntRange(0, 12).Draw(t, "runs") {
			level := rapid.SampledFrom(rule.Levels).Draw(t, "level")
			r := Run{
				Meter: "M3", Lot: "A", Level: level, At: clock("08:00").Add(time.Duration(i) * time.Minute),
				Reading: glucose.Number(glucose.MgDL(rapid.SampledFrom([]int{80, 100, 120, 300}).Draw(t, "shown"))), Low: glucose.MgDL(90), High: glucose.MgDL(126),
			}
			if rapid.Bool().Draw(t, "caused") {
				r.Cause = "known"
			}
			list = append(list, r)
		}
		end := clock("12:00")
		miss := Run{Meter: "M3", Lot: "A", Level: "1", At: end, Reading: glucose.HI(glucose.MgPerDL), Low: glucose.MgDL(90), High: glucose.MgDL(126)}
		if c := Clear("M3", "A", "", append(slices.Clone(list), miss), nil, rule); c.Cleared {
			t.Fatalf("cleared after a miss: %+v", c)
		}
		if c := Clear("M3", "A", "", list, []Void{{Meter: "M3", At: end}}, rule); c.Cleared {
			t.Fatalf("cleared after a void: %+v", c)
		}
	})
}

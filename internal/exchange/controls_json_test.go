package exchange

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/control"
	"fairstick/internal/fault"
)

func judged(t *testing.T, text string, o ControlOptions) ControlReport {
	t.Helper()
	v, err := ReadControls(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	r, err := JudgeControls(v, o)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(r); err != nil { // refuses NaN and infinities
		t.Fatal(err)
	}
	return r
}

// Two controls on 28 days with the verdict of each day, as published: J O Westgard, teaching lesson "QC: Levey-Jennings:
// Answers". The lesson looks at 1-2s, 1-3s, 2-2s and R-4s.
func TestControlsOfAPublishedMonth(t *testing.T) {
	data, err := numberFiles.ReadFile("testdata/two_levels_28_days.csv")
	if err != nil {
		t.Fatal(err)
	}
	lesson := []control.RuleName{control.Rule12s, control.Rule13s, control.Rule22s, control.RuleR4s}
	r := judged(t, string(data), ControlOptions{Rules: lesson})
	if len(r.Runs) != 28 || len(r.Series) != 2 {
		t.Fatalf("%d runs, %d series", len(r.Runs), len(r.Series))
	}
	rules := map[int]string{5: "1-2s 1-3s", 6: "1-2s", 8: "1-2s 2-2s", 11: "1-2s R-4s", 13: "1-2s", 14: "1-2s 2-2s", 17: "1-2s", 25: "1-2s", 27: "1-2s"}
	for i, run := range r.Runs {
		day := i + 1
		want := control.Accept
		switch day {
		case 5, 8, 11, 14:
			want = control.Reject
		case 6, 13, 17, 25, 27:
			want = control.Warn
		}
		var got []string
		for _, rule := range run.Rules {
			got = append(got, string(rule))
		}
		if run.Verdict != want || strings.Join(got, " ") != rules[day] || run.Date != fmt.Sprintf("2026-01-%02d", day) || run.Meter != "M1" {
			t.Errorf("day %d: %+v, want %s for %q", day, run, want, rules[day])
		}
	}
	// Day 14: only the second control breaks 2-2s, and with the day before.
	if one, two := r.Series[0].Points[13], r.Series[1].Points[13]; len(one.Rules) != 0 || len(two.Rules) != 2 || !one.InRange || two.InRange {
		t.Errorf("%+v %+v", one, two)
	}
	for _, b := range r.Runs[13].Breaks {
		if b.Rule != control.Rule22s {
			continue
		}
		want := []BreakPoint{{"2026-01-13", "2", 239, -2.2}, {"2026-01-14", "2", 236, -2.8}}
		if d := cmp.Diff(want, b.Points); d != "" || b.Scope != control.OneLevel {
			t.Errorf("%s %s", b.Scope, d)
		}
	}
	// The range form of R-4s also breaks on days 5 and 14.
	wide := judged(t, string(data), ControlOptions{Rules: []control.RuleName{control.RuleR4s}, RangeForm: true})
	var days []int
	for i, run := range wide.Runs {
		if run.Verdict == control.Reject {
			days = append(days, i+1)
		}
	}
	if d := cmp.Diff([]int{5, 11, 14}, days); d != "" {
		t.Error(d)
	}
	// With the usual set, 4-1s rejects on day 17 and 8x from day 25 to 27; the gate hides what comes without a value beyond 2
	// SD.
	usual, gated := judged(t, string(data), ControlOptions{}), judged(t, string(data), ControlOptions{Gate: true})
	for _, day := range []int{17, 25, 26, 27} {
		if usual.Runs[day-1].Verdict != control.Reject {
			t.Errorf("usual rules, day %d: %+v", day, usual.Runs[day-1])
		}
	}
	if gated.Runs[25].Verdict != control.Accept || gated.Runs[24].Verdict != control.Reject {
		t.Errorf("with the gate: %+v %+v", gated.Runs[24], gated.Runs[25])
	}
}

// Mean and SD of one level by hand: 92, 100, 108 have the mean 100 and the SD 8.
func TestControlSeriesByHand(t *testing.T) {
	r := judged(t, "date,meter,lot,level,value,low,high\n2026-03-03,M1,EX1,1,100,91,109\n2026-03-02,M1,EX1,1,92,91,109\n2026-03-04,M1,EX1,1,108,91,109\n2026-03-02,M2,EX1,1,110,91,109\n", ControlOptions{})
	if len(r.Series) != 2 {
		t.Fatalf("%+v", r.Series)
	}
	s := r.Series[0]
	if s.N != 3 || s.Mean != 100 || *s.SD != 8 || *s.CV != 8 || s.Target.Mean != 100 || s.Target.SD != 4.5 || s.Target.From != control.RangeBasis || *s.Target.Low != 91 || s.Bias != 0 || s.OutOfRange != 0 {
		t.Errorf("%+v", s)
	}
	if s.Points[0].Date != "2026-03-02" || s.Points[2].Date != "2026-03-04" || math.Abs(s.Points[0].Z+8/4.5) > 1e-8 {
		t.Errorf("%+v", s.Points)
	}
	one := r.Series[1]
	if one.N != 1 || one.SD != nil || one.CV != nil || one.OutOfRange != 1 || one.Points[0].InRange || *one.BiasPct != 10 {
		t.Errorf("%+v", one)
	}
	for i, want := range []string{"z is counted from the printed range, read as mean ± 2 SD", "one value has no SD", "fewer than 20 values are rough"} {
		if len(r.Notes) != 3 || !strings.Contains(r.Notes[i], want) {
			t.Errorf("%q", r.Notes)
		}
	}
}

// A value on the end of a printed range is in it, whatever it is in binary.
func TestEndsOfTheRangeAreInIt(t *testing.T) {
	r := judged(t, "date,meter,lot,level,value,low,high\n2026-03-02,M1,EX1,1,5.1,5.1,6.3\n2026-03-03,M1,EX1,1,6.3,5.1,6.3\n2026-03-04,M1,EX1,1,6.4,5.1,6.3\n", ControlOptions{})
	p := r.Series[0].Points
	if !p[0].InRange || !p[1].InRange || p[2].InRange || p[0].Z != -2 || p[1].Z != 2 || len(p[1].Rules) != 0 || len(p[2].Rules) != 1 {
		t.Errorf("%+v", p)
	}
}

func TestRunsOfADay(t *testing.T) {
	const head = "date,meter,lot,level,value,mean,sd"
	for name, c := range map[string]struct {
		text string
		want []string
	}{
		"a level again is the next run": {
			head + "\n2026-03-02,M1,EX1,1,113,100,4\n2026-03-02,M1,EX1,1,101,100,4\n2026-03-02,M1,EX1,2,203,200,8\n",
			[]string{"2026-03-02 reject", "2026-03-02 accept"},
		},
		"named runs": {
			head + ",run\n2026-03-02,M1,EX1,1,101,100,4,early\n2026-03-02,M1,EX1,1,113,100,4,late\n2026-03-02,M1,EX1,2,203,200,8,late\n",
			[]string{"2026-03-02 accept", "2026-03-02 reject"},
		},
		"by the time": {
			head + "\n2026-03-02 16:00,M1,EX1,1,113,100,4\n2026-03-02 08:05,M1,EX1,2,203,200,8\n2026-03-02 08:00,M1,EX1,1,101,100,4\n2026-03-03 08:00,M1,EX1,1,101,100,4\n",
			[]string{"2026-03-02 08:00 accept", "2026-03-02 16:00 reject", "2026-03-03 08:00 accept"},
		},
		"meters and lots apart": {
			head + "\n2026-03-02,M10,EX1,1,101,100,4\n2026-03-02,M2,EX1,1,101,100,4\n2026-03-02,M2,EX0,1,101,100,4\n",
			[]string{"2026-03-02 accept", "2026-03-02 accept", "2026-03-02 accept"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			r := judged(t, c.text, ControlOptions{})
			var got []string
			for _, run := range r.Runs {
				got = append(got, run.Date+" "+string(run.Verdict))
			}
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestJudgeControlsRefuses(t *testing.T) {
	const head = "date,meter,lot,level,value,mean,sd,run\n"
	for name, c := range map[string]struct {
		text string
		o    ControlOptions
		says string
	}{
		"four levels": {head + "2026-03-02,M1,EX1,1,101,100,4,\n2026-03-02,M1,EX1,2,101,100,4,\n2026-03-02,M1,EX1,3,101,100,4,\n2026-03-02,M1,EX1,low,101,100,4,\n", ControlOptions{}, "Meter M1 with lot EX1 has 4 levels: 1, 2, 3, low."},
		"level twice": {head + "2026-03-02,M1,EX1,1,101,100,4,a\n2026-03-02,M1,EX1,1,101,100,4,a\n", ControlOptions{}, "Meter M1 has level 1 twice in run a of 2026-03-02."},
		"no rule":     {head + "2026-03-02,M1,EX1,1,101,100,4,a\n", ControlOptions{Rules: []control.RuleName{"5-5s"}}, "5-5s"},
	} {
		t.Run(name, func(t *testing.T) {
			v, err := ReadControls(strings.NewReader(c.text))
			if err != nil {
				t.Fatal(err)
			}
			if _, err := JudgeControls(v, c.o); fault.Of(err) == nil || fault.Of(err).Kind != fault.Invalid || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v", err)
			}
		})
	}
}

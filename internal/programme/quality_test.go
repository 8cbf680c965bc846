package programme_test

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/control"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// fairDay plans a further fair, brings both meters to it and stands at 08:00 of its day.
func (h *hall) fairDay(date string) {
	h.t.Helper()
	plan := h.set.Plan
	plan.Act, plan.Name, plan.Date = h.Act(), "Fair of "+date, date
	ev, err := h.P.PlanEvent(h.ctx, h.As("Lea Lead"), plan)
	h.must(err)
	h.Event, h.Date = ev.ID, civil.MustParse(date)
	h.Clock.Set(h.Time("08:00"))
	_, err = h.P.BringStock(h.ctx, h.As("Lea Lead"), programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 50, h.ID("B"): 50}, Meters: []string{h.ID("M1"), h.ID("M2")}})
	h.must(err)
	_, err = h.P.MeasureRoom(h.ctx, h.As("Lea Lead"), programme.MeasureRoom{Act: h.Act(), Event: h.Event, Celsius: "21"})
	h.must(err)
}

// runs tests both levels one after another, ten minutes apart; an empty reading leaves its level out.
func (h *hall) runs(meter, lot string, sessions ...[2]string) {
	h.t.Helper()
	for _, s := range sessions {
		levels := map[string]string{}
		for i, shown := range s {
			if shown != "" {
				levels[fmt.Sprint(i+1)] = shown
			}
		}
		h.must(h.RunControls(h.ctx, "Ann Screener", meter, lot, lot+"1", levels))
		h.later(10 * time.Minute)
	}
}

func (h *hall) quality(meter string) programme.MeterQuality {
	h.t.Helper()
	q, err := h.P.MeterQuality(h.ctx, h.ID(meter))
	h.must(err)
	return q
}

// explain assigns a cause to the newest run of a meter.
func (h *hall) explainRun(meter, cause, action string) {
	h.t.Helper()
	runs := h.quality(meter).Runs
	_, err := h.P.AssignCause(h.ctx, h.As("Lea Lead"), programme.AssignCause{Act: h.Act(), Event: h.Event, Run: runs[len(runs)-1].ID, Cause: cause, Action: action})
	h.must(err)
}

func (h *hall) says(q programme.MeterQuality, state programme.QualityState, verdict string) {
	h.t.Helper()
	if q.State != state || q.Verdict != verdict {
		h.t.Errorf("state %q: %q\nwant  %q: %q", q.State, q.Verdict, state, verdict)
	}
}

func closeTo(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// threeFairs is meter M2 over three fairs: two quiet sessions; two sessions with both levels a little above 1 SD, which
// together break 4-1s; one value out of range with its cause, repeated, and then the next lot.
func threeFairs(t *testing.T) *hall {
	h := newHall(t)
	h.fairDay("2026-06-20")
	h.runs("M2", "A", [2]string{"118", "300"}, [2]string{"122", "290"})
	h.fairDay("2026-07-04")
	h.runs("M2", "A", [2]string{"133", "319"}, [2]string{"134", "320"})
	return h
}

func thirdFair(h *hall) {
	h.fairDay("2026-07-18")
	_, err := h.P.VoidMeter(h.ctx, h.As("Ann Screener"), programme.VoidMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M2"), Cause: "dropped"})
	h.must(err)
	h.later(time.Minute)
	h.runs("M2", "A", [2]string{"", "295"}, [2]string{"150", ""})
	h.explainRun("M2", "the drop was too small", "repeated with a new strip")
	h.runs("M2", "A", [2]string{"119", ""})
	h.runs("M2", "B", [2]string{"121", "301"})
}

func TestQualityOfAMeterOverThreeFairs(t *testing.T) {
	h := threeFairs(t)
	h.says(h.quality("M2"), programme.QualityLook, "All 8 controls in range; 4-1s broken on 4 Jul 2026 at levels 1 and 2: look at it before the next fair.")
	thirdFair(h)
	q := h.quality("M2")
	h.says(q, programme.QualityInControl, "12 of 13 controls in range, 1 out of range, with the cause written; 4-1s was broken on 4 Jul 2026 at levels 1 and 2, and no rule since.")

	// By hand: lot A level 1 is 118 122 133 134 150 119: sum 776, squared deviations 751.333; level 2 is 300 290 319 320 295:
	// sum 1524, squared deviations 770.8. The ranges are 96 to 144 and 252 to 340, their centres 120 and 296.
	if len(q.Parts) != 4 {
		t.Fatalf("%d parts", len(q.Parts))
	}
	for i, want := range []struct {
		lot, level                   string
		n, out                       int
		mean, sd, cv, bias, biasPerc float64
	}{
		{"A", "1", 6, 1, 129.3333, 12.2583, 9.4781, 9.3333, 7.7778},
		{"A", "2", 5, 0, 304.8, 13.8816, 4.5543, 8.8, 2.9730},
		{"B", "1", 1, 0, 121, 0, 0, -1, -0.8197},
		{"B", "2", 1, 0, 301, 0, 0, 1.5, 0.5008},
	} {
		p := q.Parts[i]
		if p.Lot != want.lot || p.Level != want.level || p.N != want.n || p.OutOfRange != want.out || !p.Ruled || p.Target.Basis != control.RangeBasis {
			t.Errorf("part %d is %+v", i, p.LotLevel)
		}
		name := "lot " + want.lot + " level " + want.level
		closeTo(t, name+" mean", p.Mean, want.mean, 1e-4)
		closeTo(t, name+" bias", p.Bias, want.bias, 1e-4)
		closeTo(t, name+" bias percent", p.BiasPercent, want.biasPerc, 1e-4)
		if want.n == 1 {
			if p.Spread != nil {
				t.Errorf("%s: one value scatters by %v", name, *p.Spread)
			}
			continue
		}
		closeTo(t, name+" SD", p.Spread.SD, want.sd, 1e-4)
		closeTo(t, name+" CV", p.Spread.CV, want.cv, 1e-4)
	}

	// The scatter leaves the explained 150 out: 118 122 133 134 119 have the mean 125.2 and squared deviations 238.8; lot B
	// with its one value says nothing about scatter.
	if len(q.Scatter) != 2 || q.Scatter[0].N != 5 || q.Scatter[0].Lots != 1 || q.Scatter[0].DF != 4 || q.Scatter[1].N != 5 {
		t.Fatalf("scatter: %+v", q.Scatter)
	}
	closeTo(t, "pooled CV of level 1", q.Scatter[0].CV, 100*math.Sqrt(238.8/4)/125.2, 1e-9)
	closeTo(t, "pooled CV of level 2", q.Scatter[1].CV, 100*math.Sqrt(770.8/4)/304.8, 1e-9)

	// z from the range read as the centre and 2 SD either side: (133-120)/12, (320-296)/22, (150-120)/12, (121-122)/12.
	type row struct {
		shown  string
		place  int
		z      float64
		broken []control.RuleName
		reject bool
	}
	want := []row{
		{"118", 1, -2.0 / 12, nil, false},
		{"300", 1, 4.0 / 22, nil, false},
		{"122", 2, 2.0 / 12, nil, false},
		{"290", 2, -6.0 / 22, nil, false},
		{"133", 3, 13.0 / 12, nil, false},
		{"319", 3, 23.0 / 22, nil, false},
		{"134", 4, 14.0 / 12, []control.RuleName{"4-1s"}, true},
		{"320", 4, 24.0 / 22, []control.RuleName{"4-1s"}, true},
		{"295", 5, -1.0 / 22, nil, false},
		{"150", 5, 30.0 / 12, []control.RuleName{"1-2s"}, false},
		{"119", 6, -1.0 / 12, nil, false},
		{"121", 7, -1.0 / 12, nil, false},
		{"301", 7, 1.5 / 22.25, nil, false},
	}
	if len(q.Runs) != len(want) {
		t.Fatalf("%d runs, want %d", len(q.Runs), len(want))
	}
	for i, w := range want {
		r := q.Runs[i]
		if r.Reading.Shown() != w.shown || r.Place != w.place || !r.HasZ || !slices.Equal(r.Broken, w.broken) || r.Rejected != w.reject {
			t.Errorf("run %d: %s at place %d, rules %v, rejected %v; want %+v", i+1, r.Reading.Shown(), r.Place, r.Broken, r.Rejected, w)
		}
		closeTo(t, "z of "+w.shown, r.Z, w.z, 1e-9)
	}
	if q.Runs[4].Event != "Fair of 2026-07-04" || q.Runs[4].Operator != "Ann Screener" || q.Runs[4].Lot != "A" {
		t.Errorf("run 5: %+v", q.Runs[4])
	}
	var kinds []string
	for _, a := range q.Acts {
		kinds = append(kinds, fmt.Sprint(a.Kind, " ", a.Next))
	}
	if got := fmt.Sprint(kinds); got != "[void 5 cause 5 lot 7]" {
		t.Errorf("acts: %s", got)
	}
	all, err := h.P.Quality(h.ctx)
	h.must(err)
	if len(all) != 3 || all[1].Meter.Details.Label != "M2" || all[1].Verdict != q.Verdict {
		t.Fatalf("%d meters", len(all))
	}
	h.says(all[0], programme.QualityNone, "No control has been run on this meter yet.")
	if _, err := h.P.MeterQuality(h.ctx, "nothing"); !fault.Is(err, "no-such-meter") {
		t.Errorf("a meter that is not there: %v", err)
	}
}

// After 20 runs a meter is held against itself: 116 and 124 in turn have the mean 120 and the SD sqrt(20*16/19) = 4.1039, so
// that 133 breaks 1-3s, though the printed range goes to 144.
func TestQualityUsesTheMetersOwnRuns(t *testing.T) {
	h := newHall(t)
	h.fairDay("2026-06-20")
	for range 10 {
		h.runs("M2", "A", [2]string{"116", ""}, [2]string{"124", ""})
	}
	q := h.quality("M2")
	if len(q.Parts) != 1 || q.Parts[0].Target.Basis != control.OwnBasis {
		t.Fatalf("target after 20 runs: %+v", q.Parts[0].Target)
	}
	closeTo(t, "own SD", q.Parts[0].Target.SD, math.Sqrt(20*16.0/19), 1e-9)
	h.runs("M2", "A", [2]string{"133", ""})
	q = h.quality("M2")
	r := q.Runs[20]
	closeTo(t, "z of 133", r.Z, 13/math.Sqrt(20*16.0/19), 1e-9)
	if !slices.Equal(r.Broken, []control.RuleName{"1-2s", "1-3s"}) || !r.Rejected {
		t.Errorf("rules: %v", r.Broken)
	}
	h.says(q, programme.QualityLook, "All 21 controls in range; 1-3s broken on 20 Jun 2026 at level 1: look at it before the next fair.")
}

// A range that was copied wrongly and corrected later leaves two: both parts are described, the rules look at the newer, and
// the page says what is wrong.
func TestQualityWithTwoPrintedRanges(t *testing.T) {
	h := newHall(t)
	h.fairDay("2026-06-20")
	h.runs("M2", "A", [2]string{"118", "300"}, [2]string{"121", "299"})
	c := programme.DescribeStripLot{
		Act: h.Act(), StripLot: h.ID("A"), Lot: "A", Models: []string{"Type A"}, Chemistry: "gdh-pqq", Code: "17", Expiry: "2026-12", InUse: "90", EachVial: "no", PerVial: 50, Unit: "mg/dL",
		Ranges: []programme.RangeText{{Level: "1", Low: "98", High: "146"}, {Level: "2", Low: "252", High: "340"}},
	}
	_, err := h.P.DescribeStripLot(h.ctx, h.As("Lea Lead"), c)
	h.must(err)
	h.runs("M2", "A", [2]string{"128", "298"})
	q := h.quality("M2")
	if len(q.Parts) != 3 || q.Parts[0].Ruled || q.Parts[0].N != 2 || !q.Parts[1].Ruled || q.Parts[1].N != 1 || q.Parts[2].N != 3 {
		t.Fatalf("parts: %+v", q.Parts)
	}
	if q.Runs[0].HasZ || !q.Runs[1].HasZ || !q.Runs[4].HasZ || math.Abs(q.Runs[4].Z-0.5) > 1e-9 {
		t.Errorf("z is counted from the wrong range: %+v", q.Runs)
	}
	want := "Level 1 of lot A has 2 printed ranges: 96 to 144 mg/dL (2 runs), 98 to 146 mg/dL (1 run). A lot has one: correct the one that was copied wrongly. Until then the rules look at 98 to 146 mg/dL alone."
	if len(q.Problems) != 1 || q.Problems[0] != want {
		t.Errorf("problems: %q", q.Problems)
	}
	h.says(q, programme.QualityLook, "All 6 controls in range; no rule broken; not all of it can be judged: look at it before the next fair.")
}

// A meter that shows LO has no value to describe; its miss waits for a cause. Quarantine and return stay in what happened,
// though the meter's state forgets when it was taken out.
func TestQualityWithoutANumberAndAfterQuarantine(t *testing.T) {
	h := newHall(t)
	h.fairDay("2026-06-20")
	h.runs("M2", "A", [2]string{"LO", ""})
	q := h.quality("M2")
	h.says(q, programme.QualityLook, "0 of 1 controls in range, 1 without a number; no rule could be looked at; 1 miss of the last event without a written cause: look at it before the next fair.")
	if len(q.Parts) != 0 || q.Runs[0].HasZ || q.Runs[0].Place != 1 || len(q.Problems) != 0 {
		t.Errorf("%+v, problems %q", q.Parts, q.Problems)
	}
	h.explainRun("M2", "no blood drawn in", "repeated")
	h.later(time.Minute)
	_, err := h.P.QuarantineMeter(h.ctx, h.As("Lea Lead"), programme.QuarantineMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M2"), Reason: "shows LO"})
	h.must(err)
	if q = h.quality("M2"); q.State != programme.QualityQuarantine {
		t.Errorf("in quarantine it is %q: %s", q.State, q.Verdict)
	}
	h.later(time.Minute)
	_, err = h.P.ReturnMeter(h.ctx, h.As("Lea Lead"), programme.ReturnMeter{Act: h.Act(), Meter: h.ID("M2"), Reason: "new battery", Sign: h.Sign("Lea Lead")})
	h.must(err)
	h.later(time.Minute)
	h.runs("M2", "A", [2]string{"120", "298"})
	q = h.quality("M2")
	var said []string
	for _, a := range q.Acts {
		said = append(said, fmt.Sprint(a.Kind, " ", a.Note, " ", a.By, " ", a.Next))
	}
	if got := fmt.Sprint(said); got != "[cause repeated  1 quarantine shows LO Lea Lead 2 return new battery Lea Lead 2]" {
		t.Errorf("acts: %s", got)
	}
	h.says(q, programme.QualityInControl, "2 of 3 controls in range, 1 without a number, with the cause written; no rule broken.")
}

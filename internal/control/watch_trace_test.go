package control

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The traces say what the watch says: an alarm stands where the watch raised it, beyond the limit and not before, for the meter that it
// named; and the meters that nothing was said of stay within theirs.
func TestTracesFollowTheWatch(t *testing.T) {
	l := must[Limits](t)(defaultLimits())
	rng := rand.New(rand.NewPCG(3, 5))
	seen := 0
	for range 60 {
		readings := day(rng, "E", 100, 4, nil)
		for i := range readings {
			if readings[i].Meter == readings[0].Meter {
				readings[i].Value *= 1.25
			}
		}
		alarms := must[[]Alarm](t)(Watch(l, readings))
		traces := must[[]Trace](t)(Traces(l, readings))
		if len(traces) != 4 || traces[0].Meter != readings[0].Meter {
			t.Fatalf("%+v", traces)
		}
		tests := 0
		for _, tr := range traces {
			tests += tr.Tests
			for i, s := range tr.Steps {
				want := slices.ContainsFunc(alarms, func(a Alarm) bool {
					return a.Kind == MeterApart && a.At == s.At && (a.Meter == tr.Meter || a.Other == tr.Meter)
				})
				if s.Alarm != want || s.Alarm && math.Abs(s.Distance) <= tr.Limit {
					t.Errorf("%s after test %d: alarm %v at %.2f, want %v", tr.Meter, s.At, s.Alarm, s.Distance, want)
				}
				if s.Alarm {
					seen++
				}
				if i > 0 && s.At <= tr.Steps[i-1].At {
					t.Errorf("%s: step %d after %d", tr.Meter, s.At, tr.Steps[i-1].At)
				}
			}
		}
		if tests != len(readings) {
			t.Errorf("%d tests of %d", tests, len(readings))
		}
		if p := traces[0].Percent; p < 5 || p > 60 {
			t.Errorf("a meter 25 %% high is shown %.0f %% off", p)
		}
	}
	if seen < 20 {
		t.Errorf("only %d alarms in 60 days with a meter 25 %% high", seen)
	}
}

// Each event begins anew, and too few tests have no steps.
func TestTracesOfTheLastEvent(t *testing.T) {
	l := must[Limits](t)(defaultLimits())
	rng := rand.New(rand.NewPCG(1, 1))
	first, second := day(rng, "A", 60, 2, nil), day(rng, "B", 10, 2, nil)
	traces := must[[]Trace](t)(Traces(l, slices.Concat(first, second)))
	if len(traces) != 2 || traces[0].Tests+traces[1].Tests != 10 || len(traces[0].Steps)+len(traces[1].Steps) != 0 {
		t.Errorf("%+v", traces)
	}
	if got := must[[]Trace](t)(Traces(l, nil)); got != nil {
		t.Errorf("%+v", got)
	}
	if _, err := Traces(l, []Reading{{Event: "A", Value: 100}}); err == nil {
		t.Error("a reading without a meter is traced")
	}
}

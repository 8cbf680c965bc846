package programme_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/demo"
)

// A crowd of invented people: the same values in another order at each of two stations.
var crowd = []int{92, 118, 101, 85, 134, 97, 109, 88, 126, 104, 95, 113, 83, 121, 99, 107, 90, 142, 102, 96, 111, 87, 129, 105}

// readings of two meters in turn, the second off by a percentage.
func (h *hall) drifts(percent int) {
	h.t.Helper()
	for i, v := range crowd {
		h.tested("1", demo.Guest{Ate: 3 * time.Hour}, demo.Shot{Reading: fmt.Sprint(v)})
		h.tested("2", demo.Guest{Ate: 3 * time.Hour}, demo.Shot{Reading: fmt.Sprint(crowd[len(crowd)-1-i] * (100 + percent) / 100)})
	}
}

func TestDriftOfAMeter(t *testing.T) {
	h := opened(t)
	h.drifts(0)
	if got := h.day().Drift(); len(got) != 0 {
		t.Errorf("an even day raises %+v", got)
	}
	h = opened(t, func(p *demo.Programme) { p.Plan.Expected = 60 })
	h.drifts(30)
	if traces, err := opened(t).day().MeterTraces(); err != nil || len(traces) != 0 {
		t.Errorf("before anybody was tested: %+v, %v", traces, err)
	}
	traces, err := h.day().MeterTraces()
	if err != nil || len(traces) != 2 || traces[0].Tests != len(crowd) || len(traces[0].Steps) == 0 {
		t.Errorf("traces %+v, %v", traces, err)
	}
	got := h.day().Drift()
	if len(got) != 1 || got[0].Kind != control.MeterApart || got[0].Other == "" {
		t.Fatalf("alarms %+v, want one that two meters differ", got)
	}
	a := got[0]
	if a.Percent < 15 == (a.Meter == "M2") || !strings.Contains(a.Do, "M1") || !strings.Contains(a.Do, "M2") || a.At < 16 {
		t.Errorf("alarm %+v", a)
	}
}

// Errors, repeats and rechecks are not participants' first values; LO and HI are.
func TestDriftTakesFirstValues(t *testing.T) {
	h := opened(t)
	h.tested("1", demo.Guest{Ate: 3 * time.Hour}, demo.Shot{Reading: "E-4"}, demo.Shot{Reading: "96"})
	h.tested("1", demo.Guest{Ate: 3 * time.Hour}, demo.Shot{Reading: "214"}, demo.Shot{Reading: "209"})
	got := h.day().WatchedForTest()
	if len(got) != 2 || got[0].Value != 96 || got[1].Value != 214 || got[1].Sequence != 2 || got[0].Meter != "M1" || got[0].Lot != "A" || got[0].Vial != "A1" {
		t.Errorf("watched: %+v", got)
	}
}

func BenchmarkDriftOfADay(b *testing.B) {
	limits, err := control.Tune(control.DefaultWatch())
	if err != nil {
		b.Fatal(err)
	}
	var day []control.Reading
	for i := range 300 {
		day = append(day, control.Reading{Event: "e", Meter: fmt.Sprint("M", i%5), Lot: "A", Vial: fmt.Sprint("v", i%5, i/100), Value: float64(crowd[i%len(crowd)]), Sequence: i + 1})
	}
	for b.Loop() {
		if _, err := control.Watch(limits, day); err != nil {
			b.Fatal(err)
		}
	}
}

package programme_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
)

// Station 2 rounds: nine of nineteen readings end in 0. The memory of its meter shows other figures for six of them; no
// band changes, and the sums of the memory still come out.
func TestRoundedReadings(t *testing.T) {
	h := opened(t)
	typed := []string{"90", "104", "110", "97", "120", "113", "80", "88", "100", "131", "92", "110", "126", "90", "119", "105", "120", "102", "110"}
	differ := map[int]string{0: "93", 2: "108", 4: "117", 6: "84", 11: "112", 16: "122"}
	for _, shown := range typed {
		h.tested("2", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: shown})
	}
	for _, shown := range []string{"91", "104", "99", "107", "112"} {
		h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: shown})
	}
	alarms := h.day().DigitAlarms()
	if len(alarms) != 1 || alarms[0].Group != "station-2" || alarms[0].Zeros != 9 || alarms[0].N != 19 {
		t.Fatalf("alarms: %+v", alarms)
	}
	if got, want := alarms[0].Sentence(), "Station 2: 9 of 19 readings end in 0; about 2 would be expected. Compare with the meter's memory."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.ReadMemory(h.ctx, h.As("Lea Lead"), programme.ReadMemory{Act: h.Act(), Event: h.Event, Meter: h.ID("M2"), Rows: len(typed) + 2})
	h.must(err)

	c := programme.Correct{Event: h.Event, Kind: programme.CorrectMemory, Values: map[string]string{}, Reason: "rounded; read from the memory"}
	rows := h.day().DigitReadings("station-2")
	for i, r := range rows {
		c.Values[r.Reading.ID] = typed[i]
		if v, ok := differ[i]; ok {
			c.Values[r.Reading.ID] = v
		}
	}
	checks := h.day().DigitChecks()
	// Ten of Bob's 19 end in 0 or 5; the exact binomial tail at 0.2 is 0.0015791 (the sum of its terms), which Holm's correction among the four
	// tests (two of each screener; evenness needs more readings) makes four times as large.
	if len(checks) != 2 || checks[1].Name != "Bob Screener" || checks[1].N != 19 || checks[1].ZeroOrFive.Count != 10 || checks[1].EvennessP != nil ||
		math.Abs(checks[1].ZeroOrFiveP-4*0.0015791205) > 1e-8 || !checks[1].Alarm || checks[0].Alarm {
		t.Errorf("checks: %+v", checks)
	}
	if _, err := h.signs("Bob Screener", c); err == nil {
		t.Error("a screener signed the comparison")
	}
	seen := h.corrected(c)
	if seen.Compared != 19 || seen.Differed != 6 || seen.Bands() != 0 || len(seen.Changes) != 6 || len(seen.Equalities) != 0 {
		t.Errorf("compared %d, differed %d, bands %d, %d changes, sums %+v", seen.Compared, seen.Differed, seen.Bands(), len(seen.Changes), seen.Equalities)
	}
	d := h.day()
	if a := d.DigitAlarms(); len(a) != 0 {
		t.Errorf("the alarm stays: %+v", a)
	}
	for i, r := range d.DigitReadings("station-2") {
		want := typed[i]
		if v, ok := differ[i]; ok {
			want = v
		}
		if r.Reading.Reading.Shown() != want || !r.Compared {
			t.Errorf("reading %d is %s, compared %v; want %s", i+1, r.Reading.Reading.Shown(), r.Compared, want)
		}
	}
	even := false
	for _, e := range d.Reconcile() {
		if strings.HasPrefix(e.Key, "memory:") {
			even = e.Difference == 0 && e.Left.N == 21
		}
	}
	if !even {
		t.Error("the memory of meter M2 does not come out")
	}
	if n := d.Report().Corrections; fmt.Sprint(n) != "[{memory 6 0}]" {
		t.Errorf("counted as %v", n)
	}
}

func TestNothingComparedIsRefused(t *testing.T) {
	h := opened(t)
	g := h.tested("1", demo.Guest{Ate: 4 * time.Hour}, demo.Shot{Reading: "110"})
	c := programme.Correct{Event: h.Event, Kind: programme.CorrectMemory, Values: map[string]string{}}
	_, err := h.signs("Lea Lead", c)
	if err == nil || !strings.Contains(err.Error(), "Nothing was typed") {
		t.Errorf("an empty comparison: %v", err)
	}
	c.Values[h.visit(g).Readings[0].ID] = "9999"
	if _, err := h.signs("Lea Lead", c); err == nil {
		t.Error("9999 was taken from a memory")
	}
	c.Values[h.visit(g).Readings[0].ID] = "110"
	seen := h.corrected(c)
	if seen.Compared != 1 || seen.Differed != 0 || len(h.visit(g).Corrections) != 0 || len(h.day().Digits()) != 0 {
		t.Errorf("%+v, %d corrections", seen, len(h.visit(g).Corrections))
	}
}

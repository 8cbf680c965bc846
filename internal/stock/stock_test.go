package stock

import (
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

func at(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

func apply(s fact.State, when string, bodies ...fact.Body) {
	for _, b := range bodies {
		s.Apply(fact.Record{Meta: fact.Meta{At: at(when), By: "p"}, Body: b})
	}
}

// A control bottle opened on 2 July with 90 days may be used through 30 September, though its label says March.
func TestControlBottleInUse(t *testing.T) {
	l := NewControlLot("c").(*ControlLot)
	apply(l, "2025-07-02 10:00", ControlLotDescribed{Lot: "C1", Level: "1", Expiry: civil.MustParse("2026-03-31"), InUseDays: 90}, BottleOpened{Bottle: "b", On: civil.MustParse("2025-07-02")})
	for day, ok := range map[string]bool{"2025-07-01": false, "2025-07-02": true, "2025-09-30": true, "2025-10-01": false} {
		if s := l.Usable("b", civil.MustParse(day)); (s == "") != ok {
			t.Errorf("%s: %q", day, s)
		}
	}
	if s := l.Usable("b", civil.MustParse("2025-10-04")); s != "Control bottle b was opened on 2 Jul 2025 and could be used until 30 Sep 2025." {
		t.Errorf("sentence %q", s)
	}
	apply(l, "2026-01-01 10:00", BottleOpened{Bottle: "late", On: civil.MustParse("2026-02-01")})
	if b, _ := l.Bottle("LATE"); b.Discard != civil.MustParse("2026-03-31") {
		t.Errorf("the label's expiry comes before the 90 days, got %s", b.Discard)
	}
}

func TestVialInUse(t *testing.T) {
	l := NewStripLot("s").(*StripLot)
	apply(l, "2025-09-20 08:00", StripLotDescribed{Lot: "A", Expiry: civil.MustParse("2026-02-28"), InUseDays: 0, EachVial: EachVialUnknown, Models: []string{"Type A"}},
		VialOpened{Vial: "A1", On: civil.MustParse("2025-09-20")})
	day := civil.MustParse("2026-02-28")
	if s := l.Usable("a1", day); s != "" {
		t.Errorf("on its last day: %q", s)
	}
	if s := l.Usable("A1", day.AddDays(1)); s != "Strip lot A expired on 28 Feb 2026." {
		t.Errorf("the day after: %q", s)
	}
	if !l.ControlEachVial() {
		t.Error("what the insert leaves open must count as yes")
	}
	if !l.Fits(" type a ") || l.Fits("Type B") {
		t.Error("Fits compares the words for the type")
	}
	if s := l.Usable("A9", day); s == "" {
		t.Error("a vial that nobody opened may not be used")
	}
	apply(l, "2025-10-01 08:00", VialDiscarded{Vial: "A1", Reason: "wet"})
	if s := l.Usable("A1", civil.MustParse("2025-10-02")); s != "Vial A1 was discarded: wet." {
		t.Errorf("a discarded vial: %q", s)
	}
	apply(l, "2025-10-01 09:00", StripLotWithdrawn{Reason: "recalled."})
	if s := l.Usable("A1", civil.MustParse("2025-10-02")); s != "Strip lot A was taken out of use: recalled." {
		t.Errorf("a withdrawn lot: %q", s)
	}
}

func TestMeterVoidsAndQuarantine(t *testing.T) {
	m := NewMeter("m").(*Meter)
	apply(m, "2025-10-04 08:00", MeterDescribed{Label: "M3"})
	if m.Reviewed() == "" {
		t.Error("a meter that nobody reviewed may not test several people")
	}
	apply(m, "2025-10-04 08:01", MeterReviewed{SeveralPeople: false, Disinfect: "wipe", Disinfectants: []string{"w"}})
	if m.Reviewed() == "" {
		t.Error("a meter for one person may not test several")
	}
	apply(m, "2025-10-04 08:02", MeterReviewed{SeveralPeople: true, Disinfect: "wipe", Disinfectants: []string{"w"}})
	if s := m.Reviewed(); s != "" || !m.Allows("w") || m.Allows("x") {
		t.Errorf("reviewed: %q", s)
	}
	apply(m, "2025-10-04 09:00", MeterVoided{Cause: Dropped}, MeterQuarantined{Reason: "cracked"})
	if len(m.Voids) != 1 || m.Quarantine == nil {
		t.Errorf("voids %v, quarantine %v", m.Voids, m.Quarantine)
	}
	apply(m, "2025-10-05 09:00", MeterReturned{Reason: "new battery"})
	if m.Quarantine != nil || len(m.Voids) != 2 || m.Voids[1].Cause != "returned" {
		t.Errorf("a returned meter must run its controls again: %v %v", m.Voids, m.Quarantine)
	}
}

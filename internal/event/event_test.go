package event

import (
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

var eight = time.Date(2025, 10, 4, 8, 0, 0, 0, time.UTC)

func begin(bodies ...fact.Body) *State {
	s := New("e").(*State)
	for i, b := range bodies {
		s.Apply(fact.Record{Meta: fact.Meta{ID: string(rune('a' + i)), At: eight.Add(time.Duration(i) * time.Minute), By: "p"}, Body: b})
	}
	return s
}

func TestPhasesOfAnEvent(t *testing.T) {
	steps := []struct {
		body fact.Body
		want Phase
	}{{Planned{Name: "Fair"}, IsPlanned}, {Opened{Protocol: "1"}, IsOpen}, {DoorsClosed{}, IsDoorsClosed}, {Opened{Protocol: "1"}, IsOpen}, {DoorsClosed{}, IsDoorsClosed}, {Closed{Note: "done"}, IsClosed}}
	var all []fact.Body
	for i, s := range steps {
		all = append(all, s.body)
		if got := begin(all...).Phase; got != s.want {
			t.Errorf("after step %d: %s, want %s", i, got, s.want)
		}
	}
}

func TestStockAddsUp(t *testing.T) {
	s := begin(StockMoved{Strips: map[string]int{"A": 58}, Lancets: 100, Sharps: 4, Meters: []string{"M1", "M2"}}, StockMoved{Strips: map[string]int{"A": -8, "B": 50}, Lancets: 20, Meters: []string{"M2", "M3"}})
	if s.Out.Strips["A"] != 50 || s.Out.Strips["B"] != 50 || s.Out.Lancets != 120 || s.Out.Sharps != 4 || len(s.Out.Meters) != 3 {
		t.Errorf("stock out %+v", s.Out)
	}
	if !s.Brought("M3") || s.Brought("M4") {
		t.Error("Brought")
	}
}

func TestRosterMovesAPersonToOnePost(t *testing.T) {
	s := begin(Posted{Person: "ben", Role: "screener", Station: "2"}, Attended{Person: "ben", Here: true}, Posted{Person: "ben", Role: "desk"}, Posted{Person: "eve", Role: "supervisor"})
	p, ok := s.PostOf("ben")
	if !ok || p.Role != "desk" || p.Station != "" || !p.Here {
		t.Errorf("post %+v", p)
	}
	if n := s.Present(); n["desk"] != 1 || n["supervisor"] != 0 {
		t.Errorf("present %v", n)
	}
	if s := begin(Posted{Person: "ben", Role: "desk"}, Unposted{Person: "ben"}); len(s.Roster) != 0 {
		t.Errorf("roster %v", s.Roster)
	}
}

// A cause recorded for a run stays with that run; the last wipe counts even when an older one arrives later.
func TestRunsAndWipes(t *testing.T) {
	s := begin(ControlRun{Meter: "M3", Level: "2", Verdict: "out-of-range"}, CauseAssigned{Run: "a", Cause: "old bottle", Action: "new bottle"}, ControlRun{Meter: "M3", Level: "2", Verdict: "in-range"})
	r := s.RunsOf("M3")
	if len(r) != 2 || r[0].Cause != "old bottle" || r[1].Cause != "" {
		t.Errorf("runs %+v", r)
	}
	if r[0].Found == nil || *r[0].Found != (Finder{By: "p", At: eight.Add(time.Minute)}) || r[1].Found != nil {
		t.Errorf("the cause was found by %+v and %+v", r[0].Found, r[1].Found)
	}
	s.Apply(fact.Record{Meta: fact.Meta{At: eight.Add(time.Hour), By: "p"}, Body: MeterWiped{Meter: "M1", Seconds: 60, Disinfectant: "w"}})
	s.Apply(fact.Record{Meta: fact.Meta{At: eight.Add(30 * time.Minute), By: "p"}, Body: MeterWiped{Meter: "M1", Seconds: 120, Disinfectant: "w"}})
	w := s.Wipes["M1"]
	if w.Count != 2 || !w.Until().Equal(eight.Add(61*time.Minute)) {
		t.Errorf("wipe %+v", w)
	}
}

func TestDayAndEmergencyNumber(t *testing.T) {
	s := begin(Planned{Zone: "America/New_York", Date: civil.MustParse("2025-10-04")})
	if got := s.Day(time.Date(2025, 10, 5, 2, 0, 0, 0, time.UTC)); got != civil.MustParse("2025-10-04") {
		t.Errorf("02:00 UTC is still %s at the event", got)
	}
	if s.EmergencyNumber("911") != "911" {
		t.Error("the programme's number stands in")
	}
	s.Plan.Emergency = "112"
	if s.EmergencyNumber("911") != "112" {
		t.Error("the event's own number comes first")
	}
}

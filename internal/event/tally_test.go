package event

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

func TestTallyOfAnEvent(t *testing.T) {
	s := New("e").(*State)
	at := time.Date(2026, 6, 20, 9, 0, 30, 0, time.UTC)
	apply := func(body fact.Body) {
		s.Apply(fact.Record{Meta: fact.Meta{ID: "x", At: at, By: "lead"}, Subject: Ref("e"), Body: body})
	}
	apply(Planned{Name: "A | B", Venue: "Hall", Zone: "UTC", Date: civil.MustParse("2026-06-20"), Expected: 40})
	apply(Posted{Person: "p1", Role: "screener"})
	apply(Attended{Person: "p1", Here: true})
	apply(Posted{Person: "p2", Role: "desk"})
	apply(ControlRun{Verdict: "in-range"})
	apply(ControlRun{Verdict: "out-of-range"})
	apply(ControlRun{Verdict: "no-value"})
	apply(StockMoved{Strips: map[string]int{"a": 50, "b": 20}, Lancets: 30})
	apply(Opened{Protocol: "1"})
	open, err := ReadTally(s.Tally())
	if err != nil {
		t.Fatal(err)
	}
	want := Tally{
		Phase: IsOpen, Name: "A / B", Venue: "Hall", Zone: "UTC", Protocol: "1", Date: "2026-06-20", Expected: 40, Runs: 3, InRange: 1, OutOfRange: 1, NoValue: 1, Unanswered: 2, Opened: at.Truncate(time.Minute), Lancets: -1,
		Strips: []StripsOf{{"a", 50, -1}, {"b", 20, -1}}, Roster: []PostOf{{"p1", "screener", true}, {"p2", "desk", false}},
	}
	if d := cmp.Diff(want, open); d != "" {
		t.Error(d)
	}
	apply(DoorsClosed{})
	apply(Counted{Strips: map[string]int{"a": 12}, Lancets: 0})
	apply(Closed{})
	closed, err := ReadTally(s.Tally())
	if err != nil || closed.Phase != IsClosed || closed.Lancets != 30 || closed.Strips[0].Used != 38 || closed.Strips[1].Used != 20 {
		t.Errorf("%+v %v", closed, err)
	}
	if d := cmp.Diff([]string{"b", "lancets"}, closed.Emptied); d != "" {
		t.Error(d)
	}
}

func TestACancelledEvent(t *testing.T) {
	s := New("e").(*State)
	apply := func(body fact.Body) { s.Apply(fact.Record{Subject: Ref("e"), Body: body}) }
	apply(Planned{Name: "Fair"})
	apply(Cancelled{Reason: "storm"})
	if x, err := ReadTally(s.Tally()); s.Phase != IsCancelled || err != nil || x.Cancelled != "storm" || x.Phase != IsCancelled {
		t.Errorf("%s %+v %v", s.Phase, x, err)
	}
	apply(Reinstated{})
	if s.Phase != IsPlanned || s.Cancelled != nil {
		t.Errorf("%s %v", s.Phase, s.Cancelled)
	}
	apply(Cancelled{Reason: "storm"})
	apply(Opened{Protocol: "1"}) // on another laptop, which did not know
	apply(Cancelled{Reason: "late"})
	if s.Phase != IsOpen || s.Cancelled != nil {
		t.Errorf("an open event is not cancelled: %s %v", s.Phase, s.Cancelled)
	}
}

package event

import (
	"fmt"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

func TestCountdownOfAnEvent(t *testing.T) {
	s := New("e").(*State)
	n := 0
	apply := func(b fact.Body) {
		n++
		s.Apply(fact.Record{Meta: fact.Meta{ID: fmt.Sprint(n), At: time.Date(2026, 5, n, 9, 0, 0, 0, time.UTC), By: "lead"}, Body: b})
	}
	day := civil.MustParse("2026-03-01")
	apply(TaskDone{Task: "notice"}) // before it is planned: a fact of another laptop may be missing
	if len(s.Tasks) != 0 {
		t.Fatalf("a task that nobody planned: %+v", s.Tasks)
	}
	apply(TaskPlanned{Task: "notice", What: "Notice", Days: 30, Owner: "ann"})
	apply(TaskPlanned{Task: "form", What: "Form", Days: 14, After: true, Owner: "ann"})
	if got := s.Tasks[0].Due(day); got != civil.MustParse("2026-01-30") { // February of 2026 has 28 days
		t.Errorf("30 days before 1 March 2026 is %s", got)
	}
	if got := s.Tasks[1].Due(day); got != civil.MustParse("2026-03-15") {
		t.Errorf("14 days after 1 March 2026 is %s", got)
	}
	if got := (TaskPlanned{Days: 1}).Due(civil.MustParse("2028-03-01")); got != civil.MustParse("2028-02-29") {
		t.Errorf("the day before 1 March 2028 is %s", got)
	}
	state := func(open, done bool, waived string, times int) {
		t.Helper()
		x, ok := s.TaskOf("notice")
		if !ok || x.Open() != open || (x.Done != nil) != done || x.Waived != waived || x.Times != times || x.Planner != "lead" {
			t.Errorf("the task is %+v", x)
		}
	}
	state(true, false, "", 1)
	apply(TaskDone{Task: "notice", On: day, Reference: "letter 7"})
	state(false, true, "", 2)
	apply(TaskPlanned{Task: "notice", What: "Notice", Days: 40, Owner: "bob"}) // a change of the plan leaves it done
	state(false, true, "", 3)
	apply(TaskReopened{Task: "notice", Reason: "another place"})
	state(true, false, "", 4)
	apply(TaskWaived{Task: "notice", Reason: "private ground"})
	state(false, false, "private ground", 5)
	if x := s.Tasks[0]; x.Days != 40 || x.Owner != "bob" || x.Again != "another place" || !x.Changed.Equal(time.Date(2026, 5, 7, 9, 0, 0, 0, time.UTC)) {
		t.Errorf("the task is %+v", x)
	}
}

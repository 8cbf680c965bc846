package demo_test

import (
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// The invented class shows every state that a lead meets in a season, and leaves the day as it is.
func TestTheInventedClass(t *testing.T) {
	clock := demo.NewClock(demo.Begins())
	p, _ := testrecord.Open(t, clock.Now)
	if _, err := demo.Make(t.Context(), p, clock); err != nil {
		t.Fatal(err)
	}
	if err := demo.Class(t.Context(), p, clock); err != nil {
		t.Fatal(err)
	}
	hints := demo.ClassHints()
	if len(hints) != 4 {
		t.Errorf("%d can sign in", len(hints))
	}
	co, err := p.Cohort(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]programme.Trainee{}
	for _, r := range co.Rows {
		rows[r.Person.Details.Name] = r
	}
	if co.Ready != 1 || !rows["Jorun Saltcellar"].Target.Ready || !rows["Kit Barometer"].Target.Holds || rows["Lorcan Windlass"].Target.Holds || rows["Tobias Wren"].Holds != cards.Verifier {
		t.Errorf("ready %d, Kit %+v", co.Ready, rows["Kit Barometer"].Target)
	}
	if m := rows["Fenna Lathe"].Target.Missing; len(m) == 0 || m[0].Key != "teaching" || rows["Fenna Lathe"].Quiz || !rows["Cira Dovecote"].Quiz {
		t.Errorf("Fenna lacks %+v", m)
	}
	lapses, err := p.Lapses(t.Context(), civil.MustParse("2026-11-30"))
	if err != nil {
		t.Fatal(err)
	}
	if len(lapses) == 0 || lapses[0].Name != "Kit Barometer" || lapses[0].Until.String() != "2026-10-31" {
		t.Errorf("the first lapse is %+v", lapses)
	}
	s, err := p.ItemStatistics(t.Context(), "")
	if err != nil || s.Sittings < 14 || len(s.Items) < 60 {
		t.Errorf("%d quizzes, %d questions, %v", s.Sittings, len(s.Items), err)
	}
}

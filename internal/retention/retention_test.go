package retention

import (
	"testing"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// The last day is counted by calendar months, from the day or from the end of its year.
func TestUntil(t *testing.T) {
	for _, x := range []struct {
		rule      Rule
		day, want string
	}{
		{Rule{Months: 12}, "2026-10-10", "2027-10-10"},
		{Rule{Months: 60, YearEnd: true}, "2026-01-02", "2031-12-31"}, // 29 CFR 1904.33: five years after the end of the year
		{Rule{Months: 60, YearEnd: true}, "2026-12-31", "2031-12-31"},
		{Rule{Months: 36}, "2024-02-29", "2027-03-01"},
	} {
		if got := x.rule.Until(civil.MustParse(x.day)).String(); got != x.want {
			t.Errorf("%+v of %s: %s, want %s", x.rule, x.day, got, x.want)
		}
	}
}

// Every class has a proposed rule with its source, and an adopted rule takes its place alone.
func TestRules(t *testing.T) {
	s := New(Ref.ID).(*State)
	for _, c := range Classes {
		if r := s.Rule(c); r.Months < 1 || r.Source == "" {
			t.Errorf("%s: %+v", c, r)
		}
	}
	s.Apply(fact.Record{Body: RulesAdopted{Rules: []Rule{{Class: Contacts, Months: 3, Source: "ours"}}}})
	if s.Rule(Contacts).Months != 3 || s.Rule(Sharps).Months != 60 {
		t.Errorf("%+v", s.Adopted)
	}
}

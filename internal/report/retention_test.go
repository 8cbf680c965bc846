package report

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/retention"
)

// What can go, what must stay and why, and what went, each with its count; a proposal says that it is none of the programme's own.
func TestRetentionSheet(t *testing.T) {
	made := time.Date(2027, 6, 21, 12, 0, 0, 0, time.UTC)
	rules := retention.New(retention.Ref.ID).(*retention.State)
	r := &programme.RetentionReview{Rules: rules, Today: civil.Of(made)}
	s := Retention(r, "Invented", made)
	if s.Brief[0] != "These times are proposed. Nothing can be erased until the programme has adopted its own." || s.Brief[1] != "No contact is over its time." || len(s.Parts[1].Rows) != 0 {
		t.Errorf("%+v", s)
	}
	rules.Adopted, rules.At = &retention.RulesAdopted{First: retention.Signature{Name: "Lea Lead"}, Second: retention.Signature{Name: "Sue Supervisor"}}, made
	r.Erase, r.Held, r.Waiting = 2, 1, 1
	ev := &event.State{}
	ev.Plan.Name, ev.Plan.Date = "Test Fair", civil.MustParse("2026-06-20")
	r.Over = []programme.OverDay{{Event: ev, Until: civil.MustParse("2027-06-20"), Erase: 2, Held: []string{"1: an open look-back touches them"}}}
	r.Classes = []programme.ClassReview{
		{Rule: rules.Rule(retention.Contacts), N: 3, Unit: "people", Over: 3},
		{Rule: rules.Rule(retention.Sharps), N: 1, Unit: "incidents", Until: civil.MustParse("2031-12-31")},
		{Rule: rules.Rule(retention.Training), Unit: "verifications"},
	}
	r.Erasures = []retention.Erasure{{ClassErased: retention.ClassErased{Through: civil.MustParse("2025-06-20"), Visits: 40, Held: 2, First: retention.Signature{Name: "Lea Lead"}, Second: retention.Signature{Name: "Sue Supervisor"}}, At: made.AddDate(-1, 0, 0)}}
	s = Retention(r, "Invented", made)
	var said strings.Builder
	for _, b := range s.Brief {
		fmt.Fprintln(&said, b)
	}
	for _, p := range s.Parts {
		for _, row := range p.Rows {
			if len(row) != len(p.Cols) {
				t.Errorf("%s: %d cells under %d titles", p.Key, len(row), len(p.Cols))
			}
			for _, c := range row {
				said.WriteString(c.Text + " | ")
			}
			said.WriteString("\n")
		}
	}
	for _, want := range []string{
		"Adopted on 21 Jun 2027, signed by Lea Lead and Sue Supervisor.\n",
		"2 contacts can go, 1 must stay. For 1 of those that can go somebody may still have to call.\n",
		"Names and telephone numbers of participants | 1 year | 3 of 3 people over their time | 3 | 3 | erased by destroying their keys | own proposal",
		"Sharps injury log | 5 years after the end of the year | 1 incident, none over; the oldest until 31 Dec 2031 | 1 | 0 |",
		"Verifications and training of the staff | 3 years | none yet | 0 | 0 |",
		"Test Fair | 20 Jun 2026 | 20 Jun 2027 | 2 | 1: an open look-back touches them | \n",
		"12:00 on 21 Jun 2026 | 40 | 2 | 20 Jun 2025 | Lea Lead and Sue Supervisor | \n",
	} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("it does not say %q:\n%s", want, said.String())
		}
	}
}

// Every kind of record has its words.
func TestRetentionWords(t *testing.T) {
	for _, c := range retention.Classes {
		if w := RetentionWords[c]; w[0] == "" || w[1] == "" {
			t.Errorf("%s has no words", c)
		}
	}
}

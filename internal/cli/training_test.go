package cli

import (
	"encoding/json"
	"strings"
	"testing"
)

// Whose verification ends before a date, and what a named person lacks; a date or a name that says nothing is refused.
func TestTrainingReport(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string, string) {
		return on(append([]string{"report", "training"}, args...)...)
	}
	code, out, _ := run("--before", "2028-01-01")
	if code != 0 || !strings.Contains(out, "Ines Calder") || !strings.Contains(out, "verification on paper") || strings.Contains(out, "Piet Lund") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	if code, out, _ = run("--before", "2020-01-01"); code != 0 || !strings.Contains(out, "No verification that holds today ends before 2020-01-01.") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	if code, out, _ = run("--before", "2028-01-01", "--person", "piet"); code != 0 || !strings.Contains(out, "Piet Lund, needs screener") || !strings.Contains(out, "missing: The quiz has not been taken yet.") {
		t.Errorf("exit %d:\n%s", code, out)
	}
	code, out, _ = run("--before", "2028-01-01", "--person", "Piet Lund", "--json")
	var got struct {
		Before string `json:"before"`
		Lapses []any  `json:"lapses"`
		Person struct {
			Needs  string `json:"needs"`
			Levels []struct {
				Level   string `json:"level"`
				Holds   bool   `json:"holds"`
				Missing []struct {
					Key string `json:"key"`
				} `json:"missing"`
			} `json:"levels"`
		} `json:"person"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("exit %d, %v:\n%s", code, err, out)
	}
	if got.Before != "2028-01-01" || got.Lapses == nil || len(got.Lapses) != 0 || got.Person.Needs != "screener" || len(got.Person.Levels) != 5 || got.Person.Levels[3].Holds || got.Person.Levels[3].Missing[0].Key != "quiz" {
		t.Errorf("as JSON: %+v", got)
	}
	for _, c := range []struct {
		args []string
		says string
	}{
		{nil, "--before needs a date"},
		{[]string{"--on", "then"}, "--on needs a date"},
		{[]string{"--on", "1999-01-01"}, "No protocol had been signed by 1 Jan 1999."},
		{[]string{"--on", "2026-07-01", "--before", "2028-01-01"}, "Use one of --before, --on and --event."},
		{[]string{"--event", "no such fair"}, "no such fair"},
		{[]string{"--before", "soon"}, "--before needs a date"},
		{[]string{"--before", "2028-01-01", "--person", "Nobody Here"}, `Nobody is called "Nobody Here"`},
		{[]string{"--before", "2028-01-01", "--person", "a"}, "people match"},
	} {
		if code, _, said := run(c.args...); code != 2 || !strings.Contains(said, c.says) {
			t.Errorf("%v: exit %d and %q", c.args, code, said)
		}
	}
}

// For an inspector: who stood where at the event, verified for what by whom, as a table and as JSON.
func TestStaffRecord(t *testing.T) {
	on := market(t)
	code, out, _ := on("report", "training", "--event", "market", "--json")
	var got struct {
		Day, Event, Protocol string
		Rows                 []struct {
			Name, Role, Station, Way, By, Until string
			Asked, Verified                     bool
		}
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("exit %d, %v:\n%s", code, err, out)
	}
	seen := map[string]bool{}
	for _, r := range got.Rows {
		seen[r.Name] = true
		if r.Name == "Ines Calder" && (r.Role != "screener" || !r.Verified || r.Way != "paper" || r.By == "" || r.Until == "" || !r.Asked) {
			t.Errorf("Ines Calder: %+v", r)
		}
	}
	if !seen["Ines Calder"] || got.Event == "" || got.Protocol == "" {
		t.Errorf("as JSON: %+v", got)
	}
	code, out, _ = on("report", "training", "--on", got.Day, "--person", "Ines Calder")
	if code != 0 || !strings.Contains(out, "Yes, on paper, from") || strings.Contains(out, "Tobias Wren  ") {
		t.Errorf("exit %d:\n%s", code, out)
	}
}

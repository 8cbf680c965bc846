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
		{[]string{"--before", "soon"}, "--before needs a date"},
		{[]string{"--before", "2028-01-01", "--person", "Nobody Here"}, `Nobody is called "Nobody Here"`},
		{[]string{"--before", "2028-01-01", "--person", "a"}, "people match"},
	} {
		if code, _, said := run(c.args...); code != 2 || !strings.Contains(said, c.says) {
			t.Errorf("%v: exit %d and %q", c.args, code, said)
		}
	}
}

package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The reports over a span from the command line: as text, as files of each kind, and what is typed wrongly.
func TestReportSheets(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string) {
		code, out, said := on(append([]string{"report"}, args...)...)
		return code, out + said
	}
	span := []string{"--from", "2026-10-01", "--to", "2026-10-31"}
	code, said := run(append([]string{"season"}, span...)...)
	for _, want := range []string{"Season report", "19 of 29 people who came to the desk were tested at 1 event.", "6 of 19 (31.6 %", "Which bands did the readings lie in?", "What is there to learn for next year?"} {
		if code != 0 || !strings.Contains(said, want) {
			t.Errorf("code %d, the season does not say %q:\n%s", code, want, said)
		}
	}
	code, said = run("host", "--event", "2026-10-10")
	if code != 0 || !strings.Contains(said, "Letter to the host") || !strings.Contains(said, "not shown") {
		t.Errorf("code %d:\n%s", code, said)
	}
	code, raw := run(append([]string{"funder", "--json"}, span...)...)
	var got struct {
		Report string `json:"report"`
		Public bool   `json:"public"`
		Hidden int    `json:"cells_not_shown"`
		Parts  []struct {
			Key  string `json:"key"`
			Rows [][]struct {
				N      *int `json:"n"`
				Hidden bool `json:"hidden"`
				Thing  bool `json:"thing"`
			} `json:"rows"`
		} `json:"parts"`
	}
	if err := json.Unmarshal([]byte(raw), &got); code != 0 || err != nil || got.Report != "funder" || !got.Public || got.Hidden == 0 {
		t.Errorf("code %d, %v: %+v", code, err, got)
	}
	for _, p := range got.Parts {
		for _, r := range p.Rows {
			for _, c := range r {
				if c.N != nil && !c.Thing && *c.N >= 1 && *c.N <= 10 {
					t.Errorf("the funder's report shows %d in %s", *c.N, p.Key)
				}
			}
		}
	}
	dir := t.TempDir()
	for ending, begins := range map[string]string{"pdf": "%PDF", "xlsx": "PK", "csv": "part,row,column,value,number,not_shown\n", "json": "{"} {
		file := filepath.Join(dir, "college."+ending)
		code, said := run(append([]string{"college", "--out", file}, span...)...)
		data, err := os.ReadFile(file)
		if code != 0 || err != nil || !bytes.HasPrefix(data, []byte(begins)) {
			t.Errorf("%s: code %d, %v: %s", ending, code, err, said)
		}
	}
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"season", "--from", "soon"}, "is not a day"},
		{[]string{"season", "--json", "--csv"}, "More than one format was given."},
		{[]string{"season", "--out", "season.docx"}, "cannot be written as"},
		{[]string{"season", "--paper", "a3"}, "There is no paper"},
		{[]string{"host", "--event", "nowhere"}, "No event matches"},
		{[]string{"season", "--from", "2026-10-31", "--to", "2026-10-01"}, "comes before its first"},
	} {
		if code, said := run(c.args...); code != 2 || !strings.Contains(said, c.says) {
			t.Errorf("%v: code %d: %s", c.args, code, said)
		}
	}
}

// The yearly review of what is kept how long, from the command line, in the forms of the other reports.
func TestReportRetention(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string) {
		code, out, said := on(append([]string{"report", "retention"}, args...)...)
		return code, out + said
	}
	code, said := run()
	for _, want := range []string{"Review of 10 Oct 2026", "These times are proposed.", "No contact is over its time.", "Names and telephone numbers of participants", "None: no event is so long ago.", "29 CFR 1904.33"} {
		if code != 0 || !strings.Contains(said, want) {
			t.Errorf("code %d, it does not say %q:\n%s", code, want, said)
		}
	}
	code, raw := run("--json")
	var got struct {
		Report string `json:"report"`
		Parts  []struct {
			Key  string              `json:"key"`
			Rows [][]json.RawMessage `json:"rows"`
		} `json:"parts"`
	}
	if err := json.Unmarshal([]byte(raw), &got); code != 0 || err != nil || got.Report != "retention" || len(got.Parts) != 3 || len(got.Parts[0].Rows) != 7 {
		t.Errorf("code %d, %v: %+v", code, err, got)
	}
	if code, table := run("--csv"); code != 0 || !strings.Contains(table, "kinds,Sharps injury log,Kept at least,5 years after the end of the year,,\n") {
		t.Errorf("code %d:\n%s", code, table)
	}
	file := filepath.Join(t.TempDir(), "review.pdf")
	if code, said := run("--out", file); code != 0 {
		t.Errorf("code %d: %s", code, said)
	}
	if data, err := os.ReadFile(file); err != nil || !bytes.HasPrefix(data, []byte("%PDF")) {
		t.Errorf("%v", err)
	}
	if code, said := run("--csv", "--json"); code != 2 || !strings.Contains(said, "Give one of --json, --csv and --out.") {
		t.Errorf("code %d: %s", code, said)
	}
}

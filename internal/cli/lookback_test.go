package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

// A look-back on the command line: words, CSV and JSON of the same answer, and one sentence for what it cannot look for.
func TestLookBack(t *testing.T) {
	on := market(t)
	code, raw, said := on("lookback", "--lot", "INV-41", "--json")
	var b programme.Affected
	if err := json.Unmarshal([]byte(raw), &b); code != 0 || err != nil || b.People == 0 || b.Runs == 0 || len(b.Events) == 0 {
		t.Fatalf("code %d, %v, %s: %+v", code, err, said, b)
	}
	code, csv, _ := on("lookback", "--lot", "inv-41", "--csv")
	if code != 0 || strings.Count(csv, ",reading,") != b.Read+1 || strings.Count(csv, ",control,") != b.Runs {
		t.Errorf("code %d: the file has not %d readings and %d controls:\n%s", code, b.Read, b.Runs, csv)
	}
	code, text, _ := on("lookback", "--lot", "INV-41", "--screener", "Ines Calder")
	if code != 0 || !strings.Contains(text, "Readings with strips of lot INV-41, taken by Ines Calder.") || !strings.Contains(text, "supervisors present") {
		t.Errorf("code %d:\n%s", code, text)
	}
	for _, x := range []struct{ args, says string }{
		{"", "Nothing was asked for."},
		{"--lot none", `There is no strip lot "none" in the record.`},
		{"--meter M1 --from-time 10:00", "A time needs its day, or an event."},
		{"--lot INV-41 --json --csv", "Give one of them."},
	} {
		if code, _, said := on(append([]string{"lookback"}, strings.Fields(x.args)...)...); code != 2 || !strings.Contains(said, x.says) {
			t.Errorf("%q: code %d, %s", x.args, code, said)
		}
	}
}

// The binder is one whole PDF or none.
func TestReportBinder(t *testing.T) {
	on := market(t)
	file := filepath.Join(t.TempDir(), "binder.pdf")
	code, out, said := on("report", "binder", "--from", "2026-10-10", file)
	pdf, err := os.ReadFile(file)
	if code != 0 || err != nil || !bytes.HasPrefix(pdf, []byte("%PDF-")) || !strings.Contains(out, "1 events, 29 visits.") {
		t.Errorf("code %d, %v: %s%s", code, err, out, said)
	}
	for _, x := range []struct{ args, says string }{{"", "the name of the PDF"}, {file, "The first day is missing."}, {"--from 2026-10-10 --to 2026-10-09 " + file, "The last day comes before the first."}} {
		if code, _, said := on(append([]string{"report", "binder"}, strings.Fields(x.args)...)...); code != 2 || !strings.Contains(said, x.says) {
			t.Errorf("%q: code %d, %s", x.args, code, said)
		}
	}
}

// What ran out and what is late are one command each.
func TestDrills(t *testing.T) {
	on := market(t)
	if code, out, said := on("report", "shortages"); code != 0 || !strings.Contains(out, "No event ran out of strips or lancets.") {
		t.Errorf("code %d: %s%s", code, out, said)
	}
	if code, out, said := on("report", "shortages", "--json"); code != 0 || strings.TrimSpace(out) != "null" && strings.TrimSpace(out) != "[]" {
		t.Errorf("code %d: %s%s", code, out, said)
	}
	code, out, said := on("report", "late")
	if code != 0 || !strings.Contains(out, " late, ") || !strings.Contains(out, "still to come.") {
		t.Errorf("code %d: %s%s", code, out, said)
	}
	if code, _, said := on("report", "late", "no such fair"); code != 2 || !strings.Contains(said, "No event matches") {
		t.Errorf("code %d: %s", code, said)
	}
}

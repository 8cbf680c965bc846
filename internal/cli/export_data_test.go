package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestExportData(t *testing.T) {
	run := market(t)
	dir := t.TempDir()
	file := func(name string) string { return filepath.Join(dir, name) }
	do := func(want int, says string, args ...string) {
		t.Helper()
		code, out, said := run(args...)
		if code != want || !strings.Contains(out+said, says) {
			t.Errorf("%v: exit code %d, want %d; want %q in:\n%s%s", args, code, want, says, out, said)
		}
	}
	const day = "2026-10-10"
	do(0, "is written", "export", "fhir", "--event", day, file("day.json"))
	do(0, "is written", "export", "fhir", "--event", day, file("day.ndjson"))
	do(0, "is written", "export", "fhir", "--event", day, file("day")+"/")
	do(0, "is written", "export", "csv", "--from", day, "--to", day, file("day.zip"))
	do(0, "is written", "export", "deidentified", "--from", "2026-01-01", file("people.zip"))
	do(0, "readings are in the file as they are in the record", "import", "fhir", file("day.json"), "--event", day)
	do(0, "readings are in the file as they are in the record", "import", "fhir", file("day.ndjson"), "--event", day)
	do(0, "readings are in the file as they are in the record", "import", "fhir", file("day/Observation.ndjson"), "--event", day)
	data, err := os.ReadFile(file("day.ndjson"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file("changed.ndjson"), []byte(strings.Replace(string(data), `{"value":112,`, `{"value":211,`, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	do(1, "value: file 211 mg/dL, record 112 mg/dL", "import", "fhir", file("changed.ndjson"), "--event", day)
	do(2, "not a FHIR bundle", "import", "fhir", file("day.zip"), "--event", day)
	do(2, "already", "export", "csv", "--event", day, file("day.zip"))
	do(2, "cannot be made", "export", "fhir", "--event", day, file("day")+"/")
	do(2, "which events", "export", "csv", file("x.zip"))
	do(2, "not clear which events", "export", "csv", "--event", day, "--from", day, file("x.zip"))
	do(2, "comes before its first day", "export", "csv", "--from", day, "--to", "2026-10-09", file("x.zip"))
	do(2, "is not a day", "export", "csv", "--from", "10/10/2026", file("x.zip"))
	do(2, "in which form", "export", "fhir", "--event", day, file("x.xml"))
	do(1, "No event lies between", "export", "csv", "--from", "2031-01-01", file("x.zip"))
	do(2, "needs the name of the file", "export", "csv", "--event", day)
	do(2, "No answer was given", "export", "fhir", "--event", day, "--names", "--recipient", "Example Clinic", file("x.json"))
	left, err := filepath.Glob(file("x*"))
	if err != nil || len(left) != 0 {
		t.Errorf("a refused export left %v", left)
	}
	hidden, err := filepath.Glob(file(".fairstick-*"))
	if err != nil || len(hidden) != 0 {
		t.Errorf("half a file was left: %v", hidden)
	}
	st, err := os.Stat(file("day.zip"))
	if err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("others may read the file: %v %v", st.Mode(), err)
	}
}

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
	do(0, "Ticket 025: the visit has not ended, and no reading is there.", "export", "day", "--event", day, file("files"))
	do(0, "0 visits and 0 control runs would be added, 24 and 11 are there already", "import", "day", file("files/visits.csv"), "--controls", file("files/controls.csv"), "--event", day)
	do(2, "cannot be made", "export", "day", "--event", day, file("files"))
	do(2, "not clear which events", "export", "day", file("files"))
	left, err := filepath.Glob(file("x*"))
	if err != nil || len(left) != 0 {
		t.Errorf("a refused export left %v", left)
	}
	hidden, err := filepath.Glob(file(".fairstick-*"))
	if err != nil || len(hidden) != 0 {
		t.Errorf("half a file was left: %v", hidden)
	}
	memory := "Time,Value,Control\n2026-10-10 08:12,59,\n2026-10-10 08:25,127,\n2026-10-10 08:40,268,\n2026-10-10 08:43,118,\n"
	if err := os.WriteFile(file("m1.csv"), []byte(memory), 0o600); err != nil {
		t.Fatal(err)
	}
	meter := []string{"import", "meter", file("m1.csv"), "--event", day, "--meter"}
	do(0, "1 hour behind", append(meter, "M1")...)
	do(0, "The value differs. Log: ticket 001, 95 mg/dL at 09:12. Meter: 59 mg/dL at 10 Oct 2026 08:12 by its clock (line 2).", append(meter, "m1")...)
	do(2, "No meter \"M7\" was brought", append(meter, "M7")...)
	do(2, "has no column \"Clock\"", append(meter, "M1", "--time", "Clock")...)
	do(0, "4 rows of the day are in the record.", append(meter, "M1", "--add")...)
	st, err := os.Stat(file("day.zip"))
	if err != nil || st.Mode().Perm() != 0o600 {
		t.Errorf("others may read the file: %v %v", st.Mode(), err)
	}
}

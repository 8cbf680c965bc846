package exchange

import (
	"bytes"
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
)

func someIncidents() []programme.IncidentRow {
	zone := time.FixedZone("there", -4*3600)
	at := func(h, m int) time.Time { return time.Date(2026, 10, 10, h, m, 0, 0, zone) }
	return []programme.IncidentRow{
		{
			ID: "i1", EventName: "Invented Fair", Kind: string(incident.SharpsInjury), Status: "closed", Happened: at(10, 58), Typed: at(11, 2), Station: "2", Device: "lancet", Brand: "Invented Blue",
			How: "=cmd touched a used lancet, \"twice\"", Phase: "after-use", Role: "screener", Sharps: "out-of-reach", Source: "yes", ClosedAt: at(12, 0), KeepUntil: civil.MustParse("2031-12-31"),
			Steps: []programme.IncidentStepRow{{Step: incident.FirstAid, Choice: "washed", At: at(11, 0)}, {Step: incident.Told, At: at(11, 3)}},
		},
		{ID: "i2", EventName: "Invented Fair", Kind: string(incident.Faint), Status: "open", Happened: at(11, 35), Typed: at(11, 35), Ticket: "014", Steps: []programme.IncidentStepRow{{Step: incident.Well, At: at(11, 45)}}},
	}
}

// table writes rows and reads them back as cells by column.
func table(t *testing.T, write func(*bytes.Buffer) error) []map[string]string {
	t.Helper()
	var buf bytes.Buffer
	if err := write(&buf); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func TestWriteSharpsLog(t *testing.T) {
	got := table(t, func(b *bytes.Buffer) error { return WriteSharpsLog(b, someIncidents()[:1]) })
	for column, want := range map[string]string{
		"happened_at": "2026-10-10T10:58:00-04:00", "typed_at": "2026-10-10T11:02:00-04:00", "device_type": "lancet", "device_brand": "Invented Blue", "work_area": "station 2",
		"how": "'=cmd touched a used lancet, \"twice\"", "phase": "after-use", "role": "screener", "sharps_container": "out-of-reach", "supervisor_told_at": "2026-10-10T11:03:00-04:00",
		"contact_called_at": "", "source_may_be_contacted": "yes", "status": "closed", "keep_until": "2031-12-31", "event": "Invented Fair", "id": "i1",
	} {
		if got[0][column] != want {
			t.Errorf("%s is %q, want %q", column, got[0][column], want)
		}
	}
}

func TestWriteIncidents(t *testing.T) {
	got := table(t, func(b *bytes.Buffer) error { return WriteIncidents(b, someIncidents()) })
	for _, c := range []struct {
		row          int
		column, want string
	}{
		{0, "kind", "sharps-injury"},
		{0, "steps", "first-aid (washed) 11:00:00; told 11:03:00"},
		{0, "well_after_min", ""},
		{1, "kind", "faint"},
		{1, "ticket", "014"},
		{1, "well_after_min", "10"},
		{1, "closed_at", ""},
		{1, "status", "open"},
	} {
		if got[c.row][c.column] != c.want {
			t.Errorf("row %d: %s is %q, want %q", c.row, c.column, got[c.row][c.column], c.want)
		}
	}
}

// The document lists every column with what it holds, in order.
func TestIncidentColumnsAreDocumented(t *testing.T) {
	doc, err := os.ReadFile("../../docs/incidents.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, columns := range [][][2]string{SharpsColumns(), IncidentColumns()} {
		var rows strings.Builder
		for _, c := range columns {
			rows.WriteString("| `" + c[0] + "` | " + c[1] + " |\n")
		}
		if !strings.Contains(string(doc), rows.String()) {
			t.Errorf("docs/incidents.md should hold\n%s", rows.String())
		}
	}
}

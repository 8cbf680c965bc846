package cli

import (
	"encoding/json"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

// The invented programme's stock as table, CSV and JSON.
func TestReportStock(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string) {
		code, out, said := on(append([]string{"report", "stock"}, args...)...)
		return code, out + said
	}
	code, table := run()
	for _, want := range []string{"stop: Gloves, size M is in quarantine: the box got wet in the van. Set 50 pairs apart.", "on hand by own invoices", "145.37 USD", "Alcohol swabs", "planned events: 1"} {
		if code != 0 || !strings.Contains(table, want) {
			t.Errorf("code %d, the table does not say %q:\n%s", code, want, table)
		}
	}
	if code, csv := run("--csv"); code != 0 || strings.Count(csv, "\n") != 11 || !strings.Contains(csv, ",Strip lot INV-41,strips,2027-03-31,64,College cupboard 64,2,100,0,34,0,0,may be used,,38.00,USD,2432\n") {
		t.Errorf("code %d:\n%s", code, csv)
	}
	code, raw := run("--json")
	var got struct {
		Lines  []struct{ Name string }
		Value  []programme.StockValue
		Orders []struct{ Missing int }
	}
	if err := json.Unmarshal([]byte(raw), &got); code != 0 || err != nil || len(got.Lines) != 10 || len(got.Value) != 1 || got.Value[0].Minor != 14537 || len(got.Orders) != 12 || got.Orders[0].Missing != 48 {
		t.Errorf("code %d, %v: %+v", code, err, got)
	}
	if code, said := run("--json", "--csv"); code != 2 || !strings.Contains(said, "Give one of them.") {
		t.Errorf("code %d: %s", code, said)
	}
}

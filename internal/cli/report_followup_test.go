package cli

import (
	"encoding/json"
	"strings"
	"testing"

	"fairstick/internal/programme"
)

// The invented day's referrals as a table and as JSON: all of them are in the denominator, and nobody is named.
func TestReportFollowUp(t *testing.T) {
	on := market(t)
	run := func(args ...string) (int, string) {
		code, out, said := on(append([]string{"report", "followup"}, args...)...)
		return code, out + said
	}
	code, table := run()
	for _, want := range []string{"referred                              6\n", "may be called                         4 of 6\n", "seen, of all referred                 0 of 6  0.0 %  95 % interval 0.0 to 39.0 %\n", "no-permission     2 of 6\n"} {
		if code != 0 || !strings.Contains(table, want) {
			t.Errorf("code %d, the table does not say %q:\n%s", code, want, table)
		}
	}
	code, raw := run("--json")
	var got programme.Completion
	if err := json.Unmarshal([]byte(raw), &got); code != 0 || err != nil || got.Referred != 6 || len(got.Rows) != 6 || got.Places["no-permission"] != 2 || got.Rows[0].Visit == "" {
		t.Errorf("code %d, %v: %+v", code, err, got)
	}
	for _, who := range []string{"Cora", "555 02"} {
		if strings.Contains(raw, who) {
			t.Errorf("%q stands in it", who)
		}
	}
	if code, said := run("--event", "nowhere"); code != 2 || !strings.Contains(said, "No event matches") {
		t.Errorf("code %d: %s", code, said)
	}
}

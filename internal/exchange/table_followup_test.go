package exchange_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/demo"
	"fairstick/internal/programme"
	"fairstick/internal/testrecord"
)

// The table of follow-ups says of each referral what came of it, the package is still what its dictionary says, and the
// release without identifiers has the word alone.
func TestFollowUpTable(t *testing.T) {
	clock := demo.NewClock(demo.Begins())
	p, _ := testrecord.Open(t, clock.Now)
	if _, err := demo.MakeSeason(t.Context(), p, clock); err != nil {
		t.Fatal(err)
	}
	files := exported(t, p, "csv", false)
	checkPackage(t, files)
	all := rows(t, files["followup.csv"])
	want := map[string]string{
		"2026-04-25T10:09:00-04:00": "seen,,person,2026-04-24,2,yes,2026-04-21T10:24:00-04:00,2026-04-25T10:09:00-04:00,a1c,7.4,%,diabetes",
		"2026-05-02T11:04:00-04:00": "declined,feels-well,person,,1,yes,2026-05-02T11:04:00-04:00,2026-05-02T11:04:00-04:00,,,,",
		"2026-06-27T10:04:00-04:00": "wrong-number,,caller,,1,no,2026-06-27T10:04:00-04:00,2026-06-27T10:04:00-04:00,,,,",
		"2026-09-28T12:34:00-04:00": "scheduled,,person,2026-10-09,2,yes,2026-09-26T11:09:00-04:00,2026-09-28T12:34:00-04:00,,,,",
	}
	got, places := map[string]string{}, map[string]int{}
	for _, r := range all[1:] {
		places[r[1]]++
		if _, asked := want[r[4]]; asked {
			got[r[4]] = strings.Join([]string{r[1], r[2], r[3], r[5], r[7], r[8], r[9], r[10], r[12], r[13], r[14], r[16]}, ",")
		}
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	c, err := p.Completion(t.Context(), programme.FollowUpScope{})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(c.Places, places); d != "" || places["seen"] != 4 {
		t.Errorf("the table differs from the completion (-completion +table):\n%s", d)
	}

	release := exported(t, p, "deidentified", false)
	checkPackage(t, release)
	n := map[string]int{}
	people := rows(t, release["people.csv"])
	last := len(people[0]) - 1
	for _, r := range people[1:] {
		n[r[last]]++
		if (r[last] != "") != (r[last-1] != "") {
			t.Errorf("an outcome without a referral, or a referral without one: %v", r)
		}
	}
	if people[0][last] != "followup" || n["seen"] != 4 || n["unreachable"] != 1 || n["wrong-number"] != 1 || n["declined"] != 1 {
		t.Errorf("%s: %v", people[0][last], n)
	}
}

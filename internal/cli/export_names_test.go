package cli_test

import (
	"os"
	"strings"
	"testing"
)

// Names leave under a lead's PIN alone, with a word on where they go, and the record keeps that they left.
func TestExportWithNames(t *testing.T) {
	c := newCounter(t)
	header := strings.Replace(dayHeader, ";contact;", ";contact;contact_call;contact_name;contact_phone;", 1)
	visit := strings.Replace(dayVisit, ";no;9:20;", ";yes;yes;Invented Guest;555 0177;9:20;", 1)
	visits, runs := c.file("visits.csv", header+visit), c.file("runs.csv", dayRuns)
	c.run(0, "", "import", "day", visits, "--controls", runs, "--event", whichEvent, "--opened", "8:55", "--add")
	export := func(name string, more ...string) []string {
		return append([]string{"export", "fhir", "--event", whichEvent, c.dir + "/" + name}, more...)
	}
	holds := func(name, text string, want bool) {
		t.Helper()
		data, err := os.ReadFile(c.dir + "/" + name)
		c.must(err)
		if got := strings.Contains(string(data), text); got != want {
			t.Errorf("%s holds %q: %v, want %v", name, text, got, want)
		}
	}
	c.run(0, "", export("plain.json")...)
	holds("plain.json", "Invented Guest", false)
	holds("plain.json", "555 0177", false)
	c.contains(c.run(2, "4821\n", export("a.json", "--names")...), "To whom, and why")
	c.contains(c.run(1, "9999\n", export("b.json", "--names", "--recipient", "Example Clinic, referrals")...), "do not belong together")
	c.contains(c.run(0, "4821\n", export("named.json", "--names", "--recipient", "Example Clinic, referrals")...), "It holds names.")
	holds("named.json", `"name":[{"text":"Invented Guest"}]`, true)
	holds("named.json", `"value":"555 0177"`, true)
	for _, gone := range []string{"a.json", "b.json"} {
		if _, err := os.Stat(c.dir + "/" + gone); err == nil {
			t.Errorf("%s was written without a signature", gone)
		}
	}
	c.contains(c.run(0, "", "check"), "were checked")
}

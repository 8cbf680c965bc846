package cli

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// What cannot be planned gets one clear sentence and what to write instead, and nothing is printed.
func TestPlanRefuses(t *testing.T) {
	const day = "plan --expected 90 --hours 09:00-13:00 "
	for _, x := range []struct{ args, says string }{
		{"plan --expected 0 --hours 09:00-13:00", "An event with 0 expected people cannot be planned."},
		{"plan --expected 1000000 --hours 09:00-13:00", "1000000 people are more than one event can be planned for."},
		{"plan --expected -5 --hours 09:00-13:00", "An event with -5 expected people cannot be planned."},
		{"plan --expected many --hours 09:00-13:00", `invalid argument "many" for "--expected" flag`},
		{"plan --expected 90 --hours 13:00-09:00", "The doors cannot close at 09:00 when they open at 13:00."},
		{"plan --expected 90 --hours 09:00-09:00", "The doors cannot close at 09:00 when they open at 09:00."},
		{"plan --expected 90 --hours morning", `The hours "morning" cannot be read.`},
		{"plan --expected 90", "--hours is missing."},
		{"plan --hours 09:00-13:00", "--expected is missing."},
		{day + "--profile tidal", `The profile "tidal" is not known.`},
		{day + "--profile 5,-1,2,3", `"-1" in the profile is not a number of people.`},
		{day + "--profile 5,1", "The profile has 2 numbers, but 09:00-13:00 has 4 hours."},
		{day + "--wait -3", "A limit of -3 minutes for the wait cannot be planned."},
		{day + "--contact -1", "Wiping for 0.5 and waiting for -1 minutes at test cannot be right."},
		{day + "--desk 0", "--desk 0 cannot be right."},
		{day + "--meters 501", "--meters 501 cannot be right."},
		{day + "--sure 1", "A confidence of 1 is not between 0.5 and 1."},
		{day + "--no-show 1", "A share of 1 of the volunteers who stay away cannot be planned."},
		{day + "--price gold=1", `The list has no item "gold".`},
		{day + "--price strips=free", `The price "strips=free" cannot be read.`},
		{day + "--gloves S=0", "Nobody wears the gloves."},
	} {
		var out, errOut bytes.Buffer
		code := Run(t.Context(), App{}, strings.Fields(x.args), nil, &out, &errOut)
		if first, hint, _ := strings.Cut(errOut.String(), "\n"); code != 2 || first != "error: "+x.says || !strings.HasPrefix(hint, "hint: ") || out.Len() > 0 {
			t.Errorf("%s: exit %d, %q and %d bytes", x.args, code, errOut.String(), out.Len())
		}
	}
}

// A plan that cannot keep its promise is a plan: it says so and what would, in words and as JSON.
func TestPlanThatCannotSaysWhatWould(t *testing.T) {
	ask := func(args string) string {
		var out, errOut bytes.Buffer
		if code := Run(t.Context(), App{}, strings.Fields(args), nil, &out, &errOut); code != 0 || errOut.Len() > 0 {
			t.Fatalf("%s: exit %d, %s", args, code, errOut.String())
		}
		return out.String()
	}
	const cannot = "plan --expected 90 --hours 09:00-13:00 --profile front --desk 2 --test 3 --explain 3"
	text := ask(cannot)
	for _, want := range []string{"The promise that 9 of 10 wait at most 20 min is not kept:", "It would be kept with ", "With the people that are planned, a promise of "} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
	var a struct {
		Promise struct {
			Kept   bool                `json:"kept"`
			Longer int                 `json:"would_keep_minutes"`
			Would  *struct{ Test int } `json:"would"`
		} `json:"promise"`
		Wait struct{ P90 float64 } `json:"wait"`
	}
	if err := json.Unmarshal([]byte(ask(cannot+" --json")), &a); err != nil {
		t.Fatal(err)
	}
	if a.Promise.Kept || a.Promise.Would == nil || a.Promise.Would.Test < 4 || float64(a.Promise.Longer) < a.Wait.P90 || float64(a.Promise.Longer) > 1.2*a.Wait.P90+2 {
		t.Errorf("%+v", a)
	}
	if kept := ask("plan --expected 1 --hours 09:00-13:00"); !strings.Contains(kept, "1 person expected") || !strings.Contains(kept, "is kept:") || strings.Contains(kept, "With the people that are planned") {
		t.Errorf("for one person:\n%s", kept)
	}
}

package web

import (
	"math"
	"net/url"
	"testing"

	"fairstick/internal/event"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
)

// What closed events have shown is asked for first, and stands in the input: half of it after as many people as weigh for the published value.
func TestFlowAsksForWhatWasSeen(t *testing.T) {
	d := &programme.Day{Event: &event.State{Plan: event.Planned{Doors: 540, Ends: 780, Expected: 40}}}
	pl := programme.Planning{On: true, Record: plan.Record{Events: 1, People: plan.Count{Came: 100, Tested: 80, Left: 20}, Quarters: [4]int{100, 0, 0, 0}}}
	asked := flowTyped(d, pl, url.Values{})
	if asked.Profile != "own" || flowProfiles(pl)[0].Label != "As at 1 closed event" || asked.Expected != "40" || asked.From != "09:00" || asked.To != "13:00" {
		t.Errorf("asked %+v", asked)
	}
	in, f := asked.input(d, pl, &programme.Stockroom{})
	if f != nil {
		t.Fatal(f)
	}
	if got := in.Profile.Between(0, 60); math.Abs(got-0.625) > 1e-12 || math.Abs(in.Funnel.Leaves-0.12) > 1e-12 {
		t.Errorf("%v come in the first hour, %v leave; want 0.625 and 0.12", got, in.Funnel.Leaves)
	}
	if again := flowTyped(d, pl, asked.query()); again != asked {
		t.Errorf("%+v came back as %+v", asked, again)
	}
	pl.On = false
	asked = flowTyped(d, pl, url.Values{})
	in, f = asked.input(d, pl, &programme.Stockroom{})
	if asked.Profile != "front" || flowProfiles(pl)[0].Value == "own" || f != nil || in.Funnel != plan.DefaultFunnel {
		t.Errorf("with learning off: asked %+v, %v", asked, f)
	}
}

package programme_test

import (
	"math"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/plan"
	"fairstick/internal/programme"
)

// An event counts once it is closed: who came when, what became of them, and how long the stations took. A lead may turn that off and on.
func TestPlanningLearns(t *testing.T) {
	h := opened(t)
	minutes := func(n int) { h.later(time.Duration(n) * time.Minute) }
	whole := func(station, reading string, test, talk int) {
		t.Helper()
		g := h.guest(station, demo.Guest{})
		minutes(test)
		_, err := h.Read(h.ctx, g, station, demo.Shot{Reading: reading})
		h.must(err)
		h.must(h.Clear(h.ctx, g, station))
		minutes(2)
		h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
		minutes(talk)
		h.must(h.Finish(h.ctx, g, "Dot Counsellor"))
	}
	whole("1", "95", 5, 3)
	whole("2", "101", 9, 5)
	late := h.guest("", demo.Guest{})
	_, err := h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	_, err = h.P.LeaveVisit(h.ctx, h.As("Cy Lapsed"), programme.LeaveVisit{Act: h.Act(), Visit: late.ID, Reason: "went home"})
	h.must(err)
	h.count(44, 50, 58, 2)
	h.memory("M1", 3)
	h.memory("M2", 3)
	pl, err := h.P.Planning(h.ctx)
	h.must(err)
	if pl.Has() || !pl.On || pl.Record.People.Came != 0 {
		t.Errorf("an open event was counted: %+v", pl)
	}
	h.must(h.closeDay())

	pl, err = h.P.Planning(h.ctx)
	h.must(err)
	r := pl.Record
	if r.Events != 1 || r.People != (plan.Count{Came: 3, Left: 1, Tested: 2}) || r.Quarters != [4]int{3, 0, 0, 0} || r.Sticks != 2 || r.Misfires != 0 {
		t.Errorf("%+v", r)
	}
	if r.Test.N != 2 || math.Abs(r.Test.Mean()-7) > 1.01 || r.Explain.N != 2 || math.Abs(r.Explain.Mean()-4) > 1.01 || r.Referral.N != 0 {
		t.Errorf("test %+v (about 7 minutes), explaining %+v (about 4), with referral %+v", r.Test, r.Explain, r.Referral)
	}
	hours := plan.Hours{Open: 540, Close: 780}
	in, err := pl.Begin(90, hours)
	h.must(err)
	// 3 of 3 came in the first quarter, against 100 that weigh as published; one of three left.
	if got, want := in.Profile.Between(0, 60), (25+3)/103.0; math.Abs(got-want) > 1e-12 {
		t.Errorf("%v come in the first hour, want %v", got, want)
	}
	if want := (100*0.04 + 1) / 103.0; math.Abs(in.Funnel.Leaves-want) > 1e-12 {
		t.Errorf("%v leave, want %v", in.Funnel.Leaves, want)
	}
	_, err = h.P.ChoosePlanning(h.ctx, h.As("Sue Supervisor"), programme.ChoosePlanning{Act: h.Act()})
	h.refused("role", err)
	for _, learn := range []bool{false, true} {
		_, err := h.P.ChoosePlanning(h.ctx, h.As("Lea Lead"), programme.ChoosePlanning{Act: h.Act(), Learn: learn})
		h.must(err)
		pl, err := h.P.Planning(h.ctx)
		h.must(err)
		in, err := pl.Begin(90, hours)
		h.must(err)
		if pl.On != learn || (in.Funnel == plan.DefaultFunnel) == learn || (in.Profile.Name == "flat") == learn {
			t.Errorf("with learning %v: on %v, %+v, %s", learn, pl.On, in.Funnel, in.Profile.Name)
		}
		lines, err := pl.Lines()
		h.must(err)
		for _, l := range lines {
			if !learn && l.Used != l.Published || l.Source == "" || l.Name == "" {
				t.Errorf("with learning %v: %+v", learn, l)
			}
			if l.Key == plan.KeyTest && (l.N != 2 || learn == (l.Used == l.Published)) {
				t.Errorf("with learning %v the test is %+v", learn, l)
			}
		}
	}
}

// Times from paper, of people who were cared for, with a repeat or of more than an hour are no measure.
func TestPlanningLeavesOutWhatIsNoMeasure(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	h.later(70 * time.Minute)
	_, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.must(err)
	h.must(h.Clear(h.ctx, g, "1"))
	h.later(2 * time.Minute)
	h.must(h.Explain(h.ctx, g, "Dot Counsellor", "E1", "Invented Clinic", true))
	h.later(3 * time.Minute)
	h.must(h.Finish(h.ctx, g, "Dot Counsellor"))
	_, err = h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: h.Act(), Event: h.Event})
	h.must(err)
	h.count(45, 50, 59, 2)
	h.memory("M1", 3)
	h.memory("M2", 2)
	h.must(h.closeDay())
	pl, err := h.P.Planning(h.ctx)
	h.must(err)
	if pl.Out != 1 || pl.Record.Test.N != 0 || pl.Record.Explain.N != 1 {
		t.Errorf("%d left out, test %+v, explaining %+v", pl.Out, pl.Record.Test, pl.Record.Explain)
	}
}

package demo

import (
	"context"
	"log/slog"
	"testing"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// The invented season closes its events with every sum settled, and leaves the invented day as it is without them.
func TestSeason(t *testing.T) {
	ctx := context.Background()
	make1 := func(play func(context.Context, *programme.Programme, *Clock) ([]Hint, error)) (*programme.Programme, *store.Store) {
		clock := NewClock(Begins())
		st, err := store.Create(ctx, store.Options{Dir: t.TempDir() + "/data", Catalogue: programme.Catalogue(), Now: clock.Now, Fleeting: true})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := st.Close(); err != nil {
				t.Error(err)
			}
		})
		p := programme.New(st, clock.Now, slog.New(slog.DiscardHandler))
		hints, err := play(ctx, p, clock)
		if err != nil {
			t.Fatal(err)
		}
		if len(hints) != 10 || !clock.Now().Equal(Begins()) {
			t.Errorf("%d people at %v", len(hints), clock.Now())
		}
		return p, st
	}
	with, st := make1(MakeSeason)
	rep, err := st.Check(ctx)
	if err != nil || !rep.OK() {
		t.Errorf("record: %v %v", rep.Problems, err)
	}
	events, err := programme.List[*event.State](ctx, with, event.Kind)
	if err != nil {
		t.Fatal(err)
	}
	closed, arrived, tested, referred, call, repeats := 0, 0, 0, 0, 0, 0
	var market string
	for _, ev := range events {
		switch {
		case ev.Plan.Date.String() == marketDate:
			market = ev.ID
		case ev.Phase == event.IsClosed:
			closed++
			r, err := with.Report(ctx, ev.ID)
			if err != nil {
				t.Fatal(err)
			}
			arrived, tested, repeats = arrived+r.Outcomes.Arrived, tested+r.Outcomes.Tested, repeats+r.Readings.Repeats
			referred, call = referred+r.Referrals.N, call+r.Referrals.Call
		}
	}
	if closed != 3 || arrived != 82 || tested != 67 || repeats != 4 || referred != 14 || call != 10 {
		t.Errorf("%d closed, %d came, %d tested, %d repeats, %d referred of whom %d may be called", closed, arrived, tested, repeats, referred, call)
	}
	c, err := with.Completion(ctx, programme.FollowUpScope{Until: civil.MustParse("2026-09-30")})
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(map[string]int{"seen": 4, "scheduled": 2, "declined": 1, "wrong-number": 1, "unreachable": 1, "calling": 1, "no-permission": 4}, c.Places); d != "" {
		t.Errorf("what came of the referrals (-want +got):\n%s", d)
	}
	if c.Referred != 14 || c.Permitted != 10 || c.Called != 10 || c.Reached != 7 || c.Within30.N != 2 {
		t.Errorf("%d referred, %d permitted, %d called, %d reached, %d seen within 30 days", c.Referred, c.Permitted, c.Called, c.Reached, c.Within30.N)
	}
	calls, err := with.Calls(ctx)
	if err != nil {
		t.Fatal(err)
	}
	due := map[string]string{}
	for _, x := range calls.Open {
		if x.Event.ID == market {
			continue
		}
		word := x.Task.Why
		if x.LateAt(Begins()) {
			word += ", late"
		}
		due[x.Event.Plan.Date.String()+" "+word] = x.Visit.Language
	}
	if d := cmp.Diff(map[string]string{"2026-09-12 try-again, late": "es", "2026-09-12 after-appointment": "en"}, due); d != "" {
		t.Errorf("due on the invented day (-want +got):\n%s", d)
	}
	alone, _ := make1(Make)
	events, err = programme.List[*event.State](ctx, alone, event.Kind)
	if err != nil {
		t.Fatal(err)
	}
	for _, ev := range events {
		if ev.Plan.Date.String() != marketDate {
			continue
		}
		a, err := alone.Report(ctx, ev.ID)
		if err != nil {
			t.Fatal(err)
		}
		b, err := with.Report(ctx, market)
		if err != nil {
			t.Fatal(err)
		}
		if a.Outcomes.Arrived != b.Outcomes.Arrived || a.Outcomes.Tested != b.Outcomes.Tested || a.Referrals.N != b.Referrals.N || a.Lancets["used"] != b.Lancets["used"] {
			t.Errorf("the invented day is another one after a season:\n%+v\n%+v", b, a)
		}
	}
}

package demo

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"fairstick/internal/civil"
	"fairstick/internal/event"
	"fairstick/internal/followup"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
)

// The invented season closes its events with every sum settled, and leaves the invented day as it is without them.
func TestSeason(t *testing.T) {
	ctx := context.Background()
	make1 := func(play func(context.Context, *programme.Programme, *Clock) ([]Hint, error)) (*programme.Programme, *store.Store) {
		clock := NewClock(Begins())
		p, st := testrecord.Open(t, clock.Now)
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

// listedAsFollowed checks that the list of calls, which reads little of each event, says of everybody on it what is said where the whole
// event is read.
func listedAsFollowed(t *testing.T, p *programme.Programme) {
	t.Helper()
	all, err := p.FollowUps(t.Context(), programme.FollowUpScope{})
	if err != nil {
		t.Fatal(err)
	}
	calls, err := p.Calls(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	type said struct {
		Name, Day, Zone, Status string
		Due                     time.Time
		Urgent                  bool
		Task                    followup.Task
		Case                    followup.Case
	}
	say := func(f programme.FollowUp) said {
		zone := f.Event.Zone()
		return said{f.Event.Plan.Name, f.Event.Plan.Date.String(), zone.String(), string(f.Status), f.Due, f.Urgent, *f.Task, f.Case}
	}
	want := map[string]said{}
	for _, f := range all {
		if f.May && f.Task != nil {
			want[f.Visit.ID] = say(f)
		}
	}
	got := map[string]said{}
	for _, f := range append(calls.Open, calls.Later...) {
		got[f.Visit.ID] = say(f)
	}
	if len(got) == 0 || calls.Rested != 0 {
		t.Fatalf("%d are called, %d rest", len(got), calls.Rested)
	}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() })); d != "" {
		t.Error(d)
	}
}

// What reports keep of closed events is what they would count, follows what is written down afterwards, and is found out when it is
// not what the record says.
func TestSeasonKeepsItsCounts(t *testing.T) {
	ctx := context.Background()
	clock := NewClock(Begins())
	p, st := testrecord.Open(t, clock.Now)
	if _, err := MakeSeason(ctx, p, clock); err != nil {
		t.Fatal(err)
	}
	listedAsFollowed(t, p)
	clock.Set(Begins().AddDate(1, 0, 0))
	ask := programme.FiguresAsk{Span: programme.Span{From: civil.MustParse("2026-01-01"), To: civil.MustParse("2026-12-31")}}
	figures := func() (text string, tried int) {
		t.Helper()
		f, err := p.Figures(ctx, ask)
		if err != nil {
			t.Fatal(err)
		}
		data, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		return string(data), f.All.N("tried")
	}
	rested := func(want int) {
		t.Helper()
		for _, when := range []string{"counted", "kept"} {
			c, err := p.Calls(ctx)
			if err != nil {
				t.Fatal(err)
			}
			if c.Rested != want || len(c.Open)+len(c.Later) != 0 {
				t.Errorf("%s: %d were never known to be seen, %d are called; want %d and nobody", when, c.Rested, len(c.Open)+len(c.Later), want)
			}
		}
	}
	clean := func() {
		t.Helper()
		c, err := p.Check(ctx)
		if err != nil || len(c.Problems) > 0 {
			t.Errorf("%v %v", c.Problems, err)
		}
	}
	all, err := p.FollowUps(ctx, programme.FollowUpScope{})
	if err != nil {
		t.Fatal(err)
	}
	var waits []programme.FollowUp
	for _, f := range all {
		if f.May && f.Task != nil {
			waits = append(waits, f)
		}
	}
	if len(waits) < 4 {
		t.Fatalf("%d wait", len(waits))
	}
	first, tried := figures()
	if again, _ := figures(); again != first {
		t.Errorf("the kept counts say\n%s\nwant\n%s", again, first)
	}
	rested(len(waits))
	clean()
	staff, err := programme.List[*people.State](ctx, p, people.Kind)
	if err != nil {
		t.Fatal(err)
	}
	lead := programme.Actor{Person: staff[slices.IndexFunc(staff, func(x *people.State) bool { return x.Has(people.Lead) })].ID}
	x := waits[slices.IndexFunc(waits, func(f programme.FollowUp) bool { return f.Event.Phase == event.IsClosed })]
	_, err = p.LogCall(ctx, lead, programme.LogCall{Visit: x.Visit.ID, CallDetails: programme.CallDetails{Channel: "phone", Happened: "reached", Outcome: "declined"}})
	if err != nil {
		t.Fatal(err)
	}
	after, now := figures()
	want := tried
	if x.State == nil || len(x.State.Attempts) == 0 {
		want++
	}
	if after == first || now != want {
		t.Errorf("%d were tried after a call, want %d", now, want)
	}
	if again, _ := figures(); again != after {
		t.Errorf("the kept counts say\n%s\nwant\n%s", again, after)
	}
	rested(len(waits) - 1)
	clean()
	if err := st.Rebuild(ctx); err != nil {
		t.Fatal(err)
	}
	if again, _ := figures(); again != after {
		t.Errorf("counted anew\n%s\nwant\n%s", again, after)
	}
	rested(len(waits) - 1)
	if err := st.Rebuild(ctx); err != nil {
		t.Fatal(err)
	}
	if err := p.CountAhead(ctx); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"figures", "rested"} {
		held := 0
		err := st.Read(ctx, func(v *store.View) error {
			return v.Groups(name, event.Kind, "", "~", func(g store.Group) error {
				if g.Holds {
					held++
				}
				return nil
			})
		})
		if err != nil || held < 3 {
			t.Errorf("%s of %d events are kept after counting ahead, %v", name, held, err)
		}
	}
	if again, _ := figures(); again != after {
		t.Errorf("counted ahead\n%s\nwant\n%s", again, after)
	}
	for _, name := range []string{"figures", "rested"} {
		var kept []store.Counted
		err := st.Read(ctx, func(v *store.View) error {
			return v.Groups(name, event.Kind, "", "~", func(g store.Group) error {
				if g.Holds && len(kept) == 0 {
					kept = append(kept, store.Counted{ID: g.ID, Stamp: g.Stamp, Line: strings.Replace(g.Kept, "|1", "|2", 1)})
				}
				return nil
			})
		})
		if err != nil || len(kept) != 1 {
			t.Fatalf("%s: %d kept, %v", name, len(kept), err)
		}
		if name == "rested" {
			kept[0].Line += "9"
		}
		if err := st.KeepCounts(ctx, name, kept); err != nil {
			t.Fatal(err)
		}
	}
	c, err := p.Check(ctx)
	if err != nil || len(c.Problems) != 2 {
		t.Errorf("two counts that were changed by hand: %q %v", c.Problems, err)
	}
}

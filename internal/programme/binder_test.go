package programme_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
	"fairstick/internal/visit"
)

// The binder of a day joins what an inspector joins: value, person, operator, meter, strips and the controls that cleared them.
func TestBinder(t *testing.T) {
	h, _ := dayWithSwap(t)
	b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	h.must(err)
	if b.From != b.To || len(b.Days) != 1 || b.Visits != 5 || len(b.Results) != 5 || len(b.Protocols) != 1 || len(b.Meters) != 2 || len(b.StripLots) != 2 || len(b.Controls) != 2 || len(b.Wipes) != 1 {
		t.Fatalf("%d days, %d visits, %d results, %d protocols, %d meters, %d lots, %d solutions, %d wipes", len(b.Days), b.Visits, len(b.Results), len(b.Protocols), len(b.Meters), len(b.StripLots), len(b.Controls), len(b.Wipes))
	}
	r := b.Results[1]
	r.At = r.At.UTC()
	if want := (programme.BinderResult{Event: h.Event, At: h.Time("10:00"), Ticket: 2, Shown: "102 mg/dL", Purpose: "first", Counts: true, Basis: "random", Band: "usual", Meter: "M2", Strips: "A, A1", Screener: "Bob Screener", Supervisor: "Lea Lead", Cleared: "08:00, 08:00", Referred: "no"}); r != want {
		t.Errorf("got  %+v\nwant %+v", r, want)
	}
	none, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-21", To: "2026-06-30"})
	h.must(err)
	if len(none.Days) != 0 || none.Listed || len(none.Protocols) != 1 { // the protocol was in force all the same
		t.Errorf("%+v", none)
	}
	before, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2020-01-01", To: "2020-12-31"})
	h.must(err)
	if len(before.Protocols) != 0 {
		t.Errorf("a protocol before it was signed: %d", len(before.Protocols))
	}
	for _, ask := range []programme.AskBinder{{}, {From: "2026-06-20", To: "2026-06-19"}, {From: "soon"}} {
		_, err := h.P.Binder(h.ctx, ask)
		h.refused("fields", err)
	}
}

// The staff in a binder stand as they stood on the day of the event: a verification that was withdrawn or lapsed since still counts
// for that day, and what became of it stands beside it. One that was only written down afterwards does not.
func TestBinderShowsTheStaffAsItWas(t *testing.T) {
	h, _ := dayWithSwap(t)
	lead := h.As("Lea Lead")
	before, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20"})
	h.must(err)
	until := dutyOf(t, before.Staff[h.Event], "Bob Screener", people.Screener).Until
	h.Clock.Set(h.Time("09:00").AddDate(0, 0, 3))
	_, err = h.P.WithdrawVerification(h.ctx, lead, programme.WithdrawVerification{Act: h.Act(), Person: h.ID("Ann Screener"), Role: "screener", Reason: "moved away"})
	h.must(err)
	_, err = h.P.DescribePerson(h.ctx, lead, programme.DescribePerson{Act: h.Act(), Person: h.ID("Bob Screener"), Name: "Bob Screener", Title: "Renamed later", Roles: []string{"screener"}})
	h.must(err)
	h.Clock.Set(h.Time("09:00").AddDate(2, 0, 0)) // every verification has lapsed
	if today := h.Clock.Now(); !until.Before(civil.Of(today)) {
		t.Fatalf("%s has not lapsed on %s", until, today)
	}
	b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20"})
	h.must(err)
	r := b.Staff[h.Event]
	if len(b.Staff) != 1 || len(r.Rows) != len(b.Days[0].Event.Roster) {
		t.Fatalf("%d events with staff, %d rows for a roster of %d", len(b.Staff), len(r.Rows), len(b.Days[0].Event.Roster))
	}
	ann := dutyOf(t, r, "Ann Screener", people.Screener)
	if !ann.Verified || ann.Way != programme.OnPaper || ann.Until != until || len(ann.Later) != 1 || !strings.HasPrefix(ann.Later[0], "By what is on record now: not verified. On paper: withdrawn (moved away).") {
		t.Errorf("withdrawn three days later: %+v", ann)
	}
	bob := dutyOf(t, r, "Bob Screener", people.Screener)
	if !bob.Verified || bob.Until != until || len(bob.Later) != 0 || bob.Title == "Renamed later" || bob.Readings == 0 {
		t.Errorf("lapsed since: %+v", bob)
	}
	here := 0
	for _, x := range r.Rows {
		if x.Here {
			here++
		}
	}
	want := 0
	for _, x := range b.Days[0].Event.Roster {
		if x.Told && x.Here {
			want++
		}
	}
	if here != want || want == 0 {
		t.Errorf("%d of the staff were here, the record says %d", here, want)
	}
}

// The roster of an event for which no protocol was signed is in the binder, and says that nobody could be verified for it.
func TestBinderWithoutProtocol(t *testing.T) {
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	p, st := testrecord.Open(t, clock.Now)
	err := st.Write(t.Context(), func(tx *store.Tx) error {
		for _, body := range []fact.Body{event.Planned{Name: "Fair", Date: civil.MustParse("2026-06-20")}, event.Posted{Person: "p1", Role: "screener", Station: "1"}, event.Attended{Person: "p1", Note: "ill"}} {
			if _, err := tx.Append(store.Draft{Subject: event.Ref("e1"), Body: body}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	b, err := p.Binder(t.Context(), programme.AskBinder{From: "2026-06-20"})
	if err != nil {
		t.Fatal(err)
	}
	if rows := b.Staff["e1"].Rows; len(rows) != 1 || rows[0].Station != "1" || rows[0].Absent != "ill" || rows[0].Verified || fmt.Sprint(rows[0].Missing) != "[No protocol is signed for this event.]" {
		t.Errorf("%+v", rows)
	}
}

// A binder that nobody would read is refused before its visits are read, and says what to do.
func TestBinderTooThick(t *testing.T) {
	h := newHall(t)
	h.must(h.store.Write(h.ctx, func(tx *store.Tx) error {
		for i := range 9000 {
			ref := visit.Ref(fmt.Sprint("v", i))
			if _, err := tx.Append(store.Draft{Subject: ref, Body: visit.Arrived{Event: h.Event, Ticket: i + 1}}); err != nil {
				return err
			}
		}
		return nil
	}))
	b, events, err := h.P.BinderSize(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	if err != nil || events != 1 || b.Visits != 9000 || b.Pages <= programme.MostBinderPages {
		t.Errorf("%+v %d %v", b, events, err)
	}
	_, err = h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20", Results: true})
	h.refused("binder-thick", err)
	if b, err := h.P.Binder(h.ctx, programme.AskBinder{From: "2026-06-20"}); err != nil || b.Visits != 9000 || b.Pages > 20 {
		t.Errorf("without results: %v", err)
	}
	if ev, err := programme.One[*event.State](h.ctx, h.P, event.Ref(h.Event)); err != nil || ev.Plan.Name != "Test Fair" {
		t.Error(err)
	}
}

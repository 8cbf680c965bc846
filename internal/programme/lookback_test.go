package programme_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/lookback"
	"fairstick/internal/people"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// dayWithSwap is a day on which Bob used the wrong lancets from 10:00 to 11:30, and Ann worked beside him.
func dayWithSwap(t *testing.T) (h *hall, swapped []*demo.Guest) {
	t.Helper()
	h = opened(t)
	test := func(clock, station, reading string, contact programme.Contact) *demo.Guest {
		t.Helper()
		h.Clock.Set(h.Time(clock))
		g := h.guest(station, demo.Guest{Contact: contact})
		_, err := h.Read(h.ctx, g, station, demo.Shot{Reading: reading})
		h.must(err)
		h.must(h.Clear(h.ctx, g, station))
		return g
	}
	yes := programme.Contact{Allow: true, Call: true, Name: "Invented Ivy", Phone: "555 0171"}
	test("09:55", "2", "101", programme.Contact{})
	swapped = append(swapped, test("10:00", "2", "102", yes))
	test("10:20", "1", "103", yes)
	swapped = append(swapped, test("11:30", "2", "104", programme.Contact{}))
	test("11:33", "2", "105", yes)
	return h, swapped
}

// One screener used a wrong lancet type at one event between two times: who, which meter, who supervised.
func TestLookBackByScreenerAndTime(t *testing.T) {
	h, swapped := dayWithSwap(t)
	got, err := h.P.LookBack(h.ctx, programme.AskBack{Event: "Test Fair", Screener: "bob screener", FromTime: "10:00", UntilTime: "11:30"})
	h.must(err)
	if got.People != 2 || got.Read != 2 || got.MayCall != 1 || got.Counts != 2 || got.Runs != 0 || len(got.Events) != 1 || fmt.Sprint(got.Meters, got.Screened) != "[M2] [Bob Screener]" {
		t.Fatalf("%+v", got)
	}
	if got.Words != "Readings taken by Bob Screener, at Test Fair on 20 Jun 2026, from 10:00 to 11:30." {
		t.Error(got.Words)
	}
	for i, x := range got.Events[0].People {
		r := x.Readings[0]
		if x.Visit != swapped[i].ID || r.Meter != "M2" || r.Lot != "A" || r.Vial != "A1" || r.Shown != []string{"102 mg/dL", "104 mg/dL"}[i] || r.Supervisor == "" || fmt.Sprint(r.Present) != "[Lea Lead Sue Supervisor]" {
			t.Errorf("%d: %+v", i, x)
		}
	}
	// A supervisor who had gone home is no longer named as there.
	h.Clock.Set(h.Time("11:31"))
	_, err = h.P.Attend(h.ctx, h.As("Lea Lead"), programme.Attend{Act: h.Act(), Event: h.Event, Person: h.ID("Sue Supervisor"), Here: false, Note: "went home"})
	h.must(err)
	got, err = h.P.LookBack(h.ctx, programme.AskBack{Event: "2026-06-20", Meter: "m2"})
	h.must(err)
	at := got.Events[0].People
	if got.People != 4 || got.Runs != 2 || fmt.Sprint(at[2].Readings[0].Present) != "[Lea Lead Sue Supervisor]" || fmt.Sprint(at[3].Readings[0].Present) != "[Lea Lead]" {
		t.Errorf("%+v", got)
	}
	if ev, err := programme.One[*event.State](h.ctx, h.P, event.Ref(h.Event)); err != nil || fmt.Sprint(ev.HereAt(h.Time("11:32"), "supervisor")) != fmt.Sprint([]string{h.ID("Lea Lead")}) {
		t.Error(err)
	}
}

// What cannot be looked for is refused with the field that is wrong.
func TestLookBackRefusals(t *testing.T) {
	h := opened(t)
	for _, x := range []struct {
		ask   programme.AskBack
		field string
		key   string
	}{
		{programme.AskBack{}, "", "look-back-empty"},
		{programme.AskBack{FromDay: "2026-06-20"}, "until_day", "look-back-open"},
		{programme.AskBack{StripLot: "nothing of the kind"}, "strip_lot", "fields"},
		{programme.AskBack{Vial: "Z"}, "vial", "fields"},
		{programme.AskBack{ControlLot: "Z"}, "control_lot", "fields"},
		{programme.AskBack{Meter: strings.Repeat("M", 4000)}, "meter", "fields"},
		{programme.AskBack{Screener: "Screener"}, "screener", "fields"},
		{programme.AskBack{Event: "no such fair"}, "event", "fields"},
		{programme.AskBack{Event: "Test", FromTime: "25:00"}, "from_time", "fields"},
		{programme.AskBack{Meter: "M1", FromTime: "10:00"}, "from_day", "fields"},
		{programme.AskBack{Meter: "M1", UntilTime: "10:00"}, "until_day", "fields"},
		{programme.AskBack{Meter: "M1", FromDay: "yesterday"}, "from_day", "fields"},
		{programme.AskBack{Event: "Test", FromTime: "11:00", UntilTime: "10:00"}, "until_time", "fields"},
	} {
		_, err := h.P.LookBack(h.ctx, x.ask)
		h.refused(x.key, err)
		if f := faultOf(err); x.field != "" && (f == nil || f.Fields[x.field] == "" || len(f.Fields[x.field]) > 200) {
			t.Errorf("%+v: %+v", x.ask, f)
		}
	}
}

// Names come only for a look-back that was kept with its reason, for those who gave permission, with an entry for each look.
func TestLookBackNames(t *testing.T) {
	h, _ := dayWithSwap(t)
	lead := h.As("Lea Lead")
	ask := programme.AskBack{StripLot: "A"}
	_, err := h.P.OpenLookBack(h.ctx, lead, programme.OpenLookBack{Act: h.Act(), Ask: ask})
	h.refused("fields", err)
	_, err = h.P.OpenLookBack(h.ctx, h.As("Ann Screener"), programme.OpenLookBack{Act: h.Act(), Ask: ask, Reason: "recall"})
	h.refused("role", err)
	act := h.Act()
	done, err := h.P.OpenLookBack(h.ctx, lead, programme.OpenLookBack{Act: act, Ask: ask, Reason: "the maker recalls the lot"})
	h.must(err)
	if twice, err := h.P.OpenLookBack(h.ctx, lead, programme.OpenLookBack{Act: act, Ask: ask, Reason: "the maker recalls the lot"}); err != nil || twice.ID != done.ID || !twice.Already {
		t.Errorf("%+v %v", twice, err)
	}
	for _, who := range []string{"Ann Screener", "Dot Counsellor", "Cy Lapsed"} {
		list, err := h.P.LookBackNames(h.ctx, h.As(who), h.Act(), done.ID)
		h.refused("role", err)
		if list != nil {
			t.Errorf("%s saw %d names", who, len(list))
		}
	}
	if _, err := h.P.LookBackNames(h.ctx, programme.Actor{}, h.Act(), done.ID); err == nil {
		t.Error("nobody saw names")
	}
	look := h.Act()
	for range 2 { // a second press shows them again and leaves no second entry
		list, err := h.P.LookBackNames(h.ctx, h.As("Sue Supervisor"), look, done.ID)
		h.must(err)
		if len(list) != 3 || list[0].Name != "Invented Ivy" || list[0].Phone != "555 0171" || list[0].Ticket != 2 {
			t.Errorf("%+v", list)
		}
	}
	_, err = h.P.LookBackLetters(h.ctx, lead, h.Act(), done.ID, "sales")
	h.refused("fields", err)
	letters, err := h.P.LookBackLetters(h.ctx, lead, h.Act(), done.ID, programme.LetterReading)
	h.must(err)
	kept, err := h.P.KeptLookBack(h.ctx, done.ID)
	h.must(err)
	if len(letters) != 3 || kept.Now.People != 5 || len(kept.Seen) != 2 || kept.Seen[0].People != 3 || kept.Seen[1].Without != 2 || kept.Seen[1].Letter != "reading" || kept.Names[kept.Seen[0].By] != "Sue Supervisor" {
		t.Errorf("%d letters, %+v", len(letters), kept.State)
	}
	_, err = h.P.CloseLookBack(h.ctx, lead, programme.CloseLookBack{Act: h.Act(), LookBack: done.ID, Sign: h.Sign("Sue Supervisor")})
	h.refused("fields", err)
	_, err = h.P.CloseLookBack(h.ctx, lead, programme.CloseLookBack{Act: h.Act(), LookBack: done.ID, Outcome: "all were called", Sign: h.Sign("Sue Supervisor")})
	h.must(err)
	_, err = h.P.LookBackNames(h.ctx, lead, h.Act(), done.ID)
	h.refused("look-back-closed", err)
	if list, err := h.P.LookBacks(h.ctx); err != nil || len(list) != 1 || list[0].Open() || list[0].Opened.People != 5 {
		t.Errorf("%+v %v", list, err)
	}
	if _, err := h.P.KeptLookBack(h.ctx, "nothing"); err == nil {
		t.Error("a look-back out of nothing")
	}
	report, err := h.P.Check(h.ctx)
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("%+v %v", report, err)
	}
}

// Every question finds what reading the whole record finds: whatever is combined, however it is looked up.
func TestLookBackIsComplete(t *testing.T) {
	h := newHall(t)
	rng := rand.New(rand.NewPCG(7, 11))
	lots := []string{h.ID("A"), h.ID("B")}
	vials := map[string][]string{h.ID("A"): {"A1", "old"}, h.ID("B"): {"B1"}}
	meters, staff := []string{h.ID("M1"), h.ID("M2"), h.ID("M9")}, []string{h.ID("Ann Screener"), h.ID("Bob Screener")}
	sols := []string{h.ID("control 1"), h.ID("control 2")}
	events := []string{h.Event, "fair-2", "fair-3"}
	pick := func(list []string) string { return list[rng.IntN(len(list))] }
	h.must(h.store.Write(h.ctx, func(tx *store.Tx) error {
		say := func(ref fact.Ref, at time.Time, by string, body fact.Body) error {
			_, err := tx.Append(store.Draft{At: at, By: by, Subject: ref, Body: body})
			return err
		}
		for e, ev := range events {
			morning := h.Time("09:00").AddDate(0, 0, -30*e)
			if e > 0 {
				if err := say(event.Ref(ev), morning, "", event.Planned{Name: ev, Date: h.Date.AddDays(-30 * e), Zone: "UTC"}); err != nil {
					return err
				}
			}
			for range 8 {
				if err := say(event.Ref(ev), morning, pick(staff), event.ControlRun{Meter: pick(meters), StripLot: pick(lots), ControlLot: pick(sols), Level: "1", Verdict: "in-range"}); err != nil {
					return err
				}
			}
			for n := range 30 {
				ref := visit.Ref(fmt.Sprintf("v-%d-%d", e, n))
				if err := say(ref, morning, "", visit.Arrived{Event: ev, Ticket: n + 1, Language: "en"}); err != nil {
					return err
				}
				for range rng.IntN(3) {
					lot := pick(lots)
					body := visit.ReadingTaken{Purpose: visit.First, Reading: glucose.Number(glucose.MgDL(90 + n)), Meter: pick(meters), StripLot: lot, Vial: pick(vials[lot]), NewStick: true}
					if err := say(ref, morning.Add(time.Duration(rng.IntN(300))*time.Minute), pick(staff), body); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}))
	all, err := programme.List[*visit.State](h.ctx, h.P, visit.Kind)
	h.must(err)
	days, err := programme.List[*event.State](h.ctx, h.P, event.Kind)
	h.must(err)
	cleared := func(q lookback.Question, ev string, r visit.Reading) bool {
		for _, d := range days {
			for _, x := range d.Runs {
				if d.ID == ev && x.ControlLot == q.ControlLot && x.Meter == r.Meter && x.StripLot == r.StripLot {
					return true
				}
			}
		}
		return q.ControlLot == ""
	}
	found := 0
	for n := range 400 {
		maybe := func(v string) string {
			if rng.IntN(3) == 0 {
				return v
			}
			return ""
		}
		ask := programme.AskBack{Event: maybe(pick(events)), StripLot: maybe(pick(lots)), ControlLot: maybe(pick(sols)), Meter: maybe(pick(meters)), Screener: maybe(pick(staff)), FromDay: maybe("2026-05-01"), UntilDay: maybe("2026-06-20")}
		if ask.StripLot != "" {
			ask.Vial = maybe(pick(vials[ask.StripLot]))
		}
		if ask.UntilDay != "" {
			ask.UntilTime = maybe("11:30")
		}
		got, err := h.P.LookBack(h.ctx, ask)
		if err != nil {
			if f := faultOf(err); f == nil || !strings.HasPrefix(f.Key, "look-back-") {
				t.Fatalf("%+v: %v", ask, err)
			}
			continue
		}
		q := got.Question
		var want, is []string
		for _, v := range all {
			for _, r := range v.Readings {
				if (q.Event == "" || v.Event == q.Event) && (q.StripLot == "" || r.StripLot == q.StripLot) && (q.Vial == "" || r.Vial == q.Vial) && (q.Meter == "" || r.Meter == q.Meter) && (q.Screener == "" || r.By == q.Screener) &&
					!r.At.Before(q.From) && (q.Until.IsZero() || !r.At.After(q.Until)) && cleared(q, v.Event, r) {
					want = append(want, v.ID+" "+r.At.String()+" "+r.Reading.String())
				}
			}
		}
		for _, d := range got.Events {
			for _, x := range d.People {
				for _, r := range x.Readings {
					is = append(is, x.Visit+" "+r.At.String()+" "+r.Shown)
				}
			}
		}
		slices.Sort(want)
		slices.Sort(is)
		if !slices.Equal(want, is) || got.Read != len(want) {
			t.Fatalf("question %d, %+v: %d readings, the whole record has %d", n, ask, len(is), len(want))
		}
		found += len(is)
	}
	if found < 1000 {
		t.Errorf("only %d readings were found: the questions are too narrow to show anything", found)
	}
	if who, err := programme.One[*people.State](h.ctx, h.P, people.Ref(staff[0])); err != nil || who.Details.Name != "Ann Screener" {
		t.Error(err)
	}
}

// faultOf gives the fault of an error; nil when it is none.
func faultOf(err error) *fault.Fault {
	var f *fault.Fault
	errors.As(err, &f)
	return f
}

package programme_test

import (
	"context"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/testrecord"
)

// hall is a small invented programme on its day, played by hand.
type hall struct {
	*demo.Stage
	t     testing.TB
	ctx   context.Context
	store *store.Store
	set   demo.Programme
}

func setting() demo.Programme {
	proof := func(role string) []demo.Proof {
		return []demo.Proof{{Role: role, From: "2026-01-01", Until: "2026-12-31"}}
	}
	return demo.Programme{
		Describe: programme.Describe{Name: "Test Hall Programme", Certificate: "INVENTED-1", CertificateUntil: "2026-12-31", Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []demo.Person{
			{Name: "Sue Supervisor", PIN: "5093", Roles: []string{"supervisor"}, Post: "supervisor"},
			{Name: "Ann Screener", PIN: "6174", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "1"},
			{Name: "Bob Screener", PIN: "7285", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "2"},
			{Name: "Cy Lapsed", PIN: "8396", Roles: []string{"screener", "desk"}, Verified: []demo.Proof{{Role: "screener", From: "2025-01-01", Until: "2026-05-01"}}, Post: "desk"},
			{Name: "Dot Counsellor", PIN: "9407", Roles: []string{"counsellor"}, Verified: proof("counsellor"), Post: "counsellor"},
		},
		Meters: []demo.Meter{{Label: "M1", Serial: "T-1", Coding: "button"}, {Label: "M2", Serial: "T-2", Coding: "none"}, {Label: "M9", Serial: "T-9", Coding: "none"}},
		Lots: []demo.Lot{
			{Lot: "A", Code: "17", Expiry: "2026-12", InUse: "90", Chemistry: "gdh-pqq", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []demo.Opened{{Name: "A1", On: "2026-06-01"}, {Name: "old", On: "2026-01-02"}}},
			{Lot: "B", Code: "23", Expiry: "2026-12", InUse: "expiry", Chemistry: "gdh-fad", Level1: [2]string{"98", "146"}, Level2: [2]string{"255", "344"}, Vials: []demo.Opened{{Name: "B1", On: "2026-06-01"}}},
		},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c1", On: "2026-06-01"}}}, {Lot: "C2", Level: "2", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c2", On: "2026-06-01"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes", ContactSeconds: 60},
		Plan: programme.PlanEvent{
			Name: "Test Fair", Venue: "Test Hall", Address: "1 Invented Lane", Date: "2026-06-20", Doors: "09:00", Ends: "13:00", Zone: "UTC", Expected: 20,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}}, Urgent: event.Route{Name: "Invented Urgent Care", Phone: "555 0112"},
		},
	}
}

// newHall records the setting as changed by the test and stands at 08:00 of the day.
func newHall(t testing.TB, change ...func(*demo.Programme)) *hall {
	t.Helper()
	clock := demo.NewClock(time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	p, st := testrecord.Open(t, clock.Now)
	h := &hall{t: t, ctx: t.Context(), store: st, set: setting()}
	for _, c := range change {
		c(&h.set)
	}
	h.Stage = demo.NewStage(p, clock, time.UTC, civil.MustParse("2026-06-20"))
	if err := h.Build(h.ctx, h.set); err != nil {
		t.Fatal(err)
	}
	clock.Set(h.Time("08:00"))
	return h
}

// The steps that lead to an open event, by name, so that a test can leave one out.
var opening = []string{"room", "stock", "roster", "code", "controls", "checks"}

func (h *hall) prepare(without string) {
	h.t.Helper()
	lead := h.As("Lea Lead")
	steps := map[string]func() error{
		"room": func() error {
			_, err := h.P.MeasureRoom(h.ctx, lead, programme.MeasureRoom{Act: h.Act(), Event: h.Event, Celsius: "21"})
			return err
		},
		"stock": func() error {
			_, err := h.P.BringStock(h.ctx, lead, programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 50, h.ID("B"): 50}, Lancets: 60, Sharps: 2, Meters: []string{h.ID("M1"), h.ID("M2")}})
			return err
		},
		"roster": func() error { return h.Roster(h.ctx, h.set) },
		"code": func() error {
			_, err := h.P.CompareCode(h.ctx, lead, programme.CompareCode{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), StripLot: h.ID("A"), Shown: "17"})
			return err
		},
		"controls": func() error { return h.controls("M1", "M2") },
		"checks":   func() error { return h.CheckAll(h.ctx, "Lea Lead") },
	}
	for _, name := range opening {
		if name == without || without == "code" && name == "controls" {
			continue
		}
		if err := steps[name](); err != nil {
			h.t.Fatalf("%s: %v", name, err)
		}
	}
	h.Sit("1", demo.Seat{Screener: "Ann Screener", Meter: "M1", Lot: "A", Vial: "A1", Wipe: "wipes"})
	h.Sit("2", demo.Seat{Screener: "Bob Screener", Meter: "M2", Lot: "A", Vial: "A1", Wipe: "wipes"})
}

func (h *hall) controls(meters ...string) error {
	for _, m := range meters {
		if err := h.RunControls(h.ctx, "Ann Screener", m, "A", "A1", map[string]string{"1": "118", "2": "300"}); err != nil {
			return err
		}
	}
	return nil
}

func (h *hall) open() error {
	_, err := h.P.OpenEvent(h.ctx, h.As("Lea Lead"), programme.OpenEvent{Act: h.Act(), Event: h.Event})
	return err
}

// opened is a hall with its doors open at 09:00.
func opened(t *testing.T, change ...func(*demo.Programme)) *hall {
	t.Helper()
	h := newHall(t, change...)
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	if err := h.open(); err != nil {
		t.Fatal(err)
	}
	return h
}

// guest brings somebody through the desk and to a station.
func (h *hall) guest(station string, g demo.Guest) *demo.Guest {
	h.t.Helper()
	g.Desk = "Cy Lapsed"
	if err := h.Arrive(h.ctx, &g); err != nil {
		h.t.Fatal(err)
	}
	if err := h.Register(h.ctx, &g); err != nil {
		h.t.Fatal(err)
	}
	if station != "" {
		if err := h.Call(h.ctx, &g, station); err != nil {
			h.t.Fatal(err)
		}
	}
	return &g
}

func (h *hall) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

// refused asks for a refusal with a key, in three parts where it is a gate.
func (h *hall) refused(key string, err error) {
	h.t.Helper()
	if !fault.Is(err, key) {
		h.t.Errorf("want a refusal %q, got %v", key, err)
		return
	}
	if f := fault.Of(err); f.Kind == fault.Refused && (f.Sentence == "" || f.Do == "") {
		h.t.Errorf("%s: a refusal says what happened and what to do: %+v", key, f)
	}
}

func (h *hall) later(d time.Duration) { h.Clock.Set(h.Clock.Now().Add(d)) }

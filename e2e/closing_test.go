package e2e

import (
	"context"
	"testing"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

// endOfDay is a small invented day in which two people were tested, one was not eligible, and one still waits.
func endOfDay(t *testing.T) *fair {
	t.Helper()
	f := newFair(t, time.Date(2026, 6, 20, 7, 0, 0, 0, time.UTC))
	s := demo.NewStage(f.prog, f.clock, time.UTC, civil.MustParse("2026-06-20"))
	proof := func(role string) []demo.Proof {
		return []demo.Proof{{Role: role, From: "2026-01-01", Until: "2026-12-31"}}
	}
	pr := demo.Programme{
		Describe: programme.Describe{Name: "Invented Evening Programme", Certificate: "INVENTED-3", CertificateUntil: "2026-12-31", Contact: "555 0100", ContactHours: "9 to 5", Emergency: "911", Unit: "mg/dL", LabelledUse: true},
		Lead:     demo.Person{Name: "Lea Lead", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []demo.Person{
			{Name: "Ann Screener", PIN: "6174", Roles: []string{"screener"}, Verified: proof("screener"), Post: "screener", Station: "1"},
			{Name: "Dot Counsellor", PIN: "9407", Roles: []string{"counsellor"}, Verified: proof("counsellor"), Post: "counsellor"},
			{Name: "Ivo Desk", PIN: "7174", Roles: []string{"desk"}, Post: "desk"},
		},
		Meters:   []demo.Meter{{Label: "M1", Serial: "T-1", Coding: "none"}, {Label: "M2", Serial: "T-2", Coding: "none"}},
		Lots:     []demo.Lot{{Lot: "A", Expiry: "2026-12", InUse: "expiry", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"}, Vials: []demo.Opened{{Name: "A1", On: "2026-06-01"}}}},
		Controls: []demo.Solution{{Lot: "C1", Level: "1", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c1", On: "2026-06-01"}}}, {Lot: "C2", Level: "2", Expiry: "2026-12", Bottles: []demo.Opened{{Name: "c2", On: "2026-06-01"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes", ContactSeconds: 60},
		Plan: programme.PlanEvent{
			Name: "Invented Evening", Venue: "Hall", Address: "1 Invented Lane", Date: "2026-06-20", Doors: "08:00", Ends: "12:00", Zone: "UTC", Expected: 10,
			Routes: []event.Route{{Name: "Invented Clinic", Phone: "555 0111"}},
		},
	}
	fatal(t, s.Build(t.Context(), pr))
	f.event = s.Event
	f.pins["Lea Lead"] = "4821"
	lead := s.As("Lea Lead")
	put := func(at string, do func(context.Context) error) { s.Put(s.Time(at), at, do) }
	put("07:10", func(ctx context.Context) error {
		_, err := f.prog.MeasureRoom(ctx, lead, programme.MeasureRoom{Act: s.Act(), Event: s.Event, Celsius: "21"})
		return err
	})
	put("07:15", func(ctx context.Context) error {
		_, err := f.prog.BringStock(ctx, lead, programme.BringStock{Act: s.Act(), Event: s.Event, Strips: map[string]int{s.ID("A"): 50}, Lancets: 20, Sharps: 2, Meters: []string{s.ID("M1"), s.ID("M2")}})
		return err
	})
	put("07:20", func(ctx context.Context) error { return s.Roster(ctx, pr) })
	for _, m := range []string{"M1", "M2"} {
		put("07:30", func(ctx context.Context) error {
			return s.RunControls(ctx, "Ann Screener", m, "A", "A1", map[string]string{"1": "118", "2": "300"})
		})
	}
	put("07:50", func(ctx context.Context) error { return s.CheckAll(ctx, "Lea Lead") })
	put("07:55", func(ctx context.Context) error {
		_, err := f.prog.OpenEvent(ctx, lead, programme.OpenEvent{Act: s.Act(), Event: s.Event})
		return err
	})
	s.Sit("1", demo.Seat{Screener: "Ann Screener", Meter: "M1", Lot: "A", Vial: "A1", Wipe: "wipes"})
	for i, x := range []struct {
		shown string
		guest demo.Guest
	}{
		{"95", demo.Guest{Ate: 10 * time.Hour}},
		{"158", demo.Guest{Ate: 2 * time.Hour, Contact: programme.Contact{Allow: true, Call: true, Name: "Gus Invented", Phone: "555 0177"}}},
		{"", demo.Guest{Answers: protocol.Answers{"known-diabetes": "yes"}}},
		{"", demo.Guest{Ate: 3 * time.Hour}},
	} {
		g := &x.guest
		g.Desk = "Ivo Desk"
		at := s.Time("08:05").Add(time.Duration(i) * 30 * time.Minute)
		s.Put(at, "arrives", func(ctx context.Context) error { return s.Arrive(ctx, g) })
		s.Put(at.Add(3*time.Minute), "desk", func(ctx context.Context) error { return s.Register(ctx, g) })
		if x.shown == "" {
			continue
		}
		s.Put(at.Add(6*time.Minute), "called", func(ctx context.Context) error { return s.Call(ctx, g, "1") })
		s.Put(at.Add(8*time.Minute), "read", func(ctx context.Context) error {
			_, err := s.Read(ctx, g, "1", demo.Shot{Reading: x.shown})
			return err
		})
		s.Put(at.Add(9*time.Minute), "cleared", func(ctx context.Context) error { return s.Clear(ctx, g, "1") })
		s.Put(at.Add(12*time.Minute), "explained", func(ctx context.Context) error {
			return s.Explain(ctx, g, "Dot Counsellor", "Explain", "Invented Clinic", true)
		})
		s.Put(at.Add(14*time.Minute), "home", func(ctx context.Context) error { return s.Finish(ctx, g, "Dot Counsellor") })
	}
	fatal(t, s.Play(t.Context()))
	f.clock.Set(s.Time("12:05"))
	f.b = startBrowser(t)
	return f
}

// The lead closes the day: whoever still waits is written down as left, a lancet too few raises the alarm until it is counted
// again, a strip too many is explained under a signature, the memories agree, and the report says so.
func TestClosing(t *testing.T) {
	t.Parallel()
	f := endOfDay(t)
	lead := f.comes("Lea Lead", laptop)
	lead.visit(f.at("/close"))
	lead.see("The doors are open.")
	lead.click("Close the doors")
	lead.see("The doors are closed since 12:05.")
	lead.see("1 of 4 visits have not ended.")
	lead.see("Not yet.")
	lead.fullShot("close-begin")
	lead.click("Ticket 004 has left")
	lead.fill("What is known about it", "could not wait any longer")
	lead.click("Write down that this person left")
	lead.see("Ticket 004 is written down as left.")

	count := func(strips, lancets, act string) {
		lead.fill("Strips of lot A left", strips)
		lead.fill("Lancets left", lancets)
		lead.fill("Sharps containers", "2")
		if act == "Record the count" {
			lead.click("M1, serial T-1")
			lead.click("M2, serial T-2")
		}
		lead.click(act)
		lead.see("The count is in the record.")
	}
	count("43", "19", "Record the count")
	lead.see("Fewer lancets were used (1) than fingers were pricked (2).")
	lead.shot("alarm")
	count("43", "18", "Record the new count")
	lead.seeNot("Fewer lancets were used")

	lead.fill("Meter M1", "4")
	lead.fill("Meter M2", "2")
	lead.click("Record the memories")
	lead.see("2 memories are in the record.")

	lead.click("Explain Strips of lot A (+1)")
	lead.fill("What is the reason?", "One strip fell on the floor at station 1")
	lead.fill("Signed by", "Lea Lead")
	lead.fill("PIN", f.pins["Lea Lead"])
	lead.click("Sign the reason")
	lead.see("The reason is signed. It is on the report.")
	lead.see("Differs, explained")
	lead.see("Everything is accounted for.")
	lead.fullShot("close-ready")
	lead.fill("Note on the day", "A calm evening")
	lead.fill("Signed by", "Lea Lead")
	lead.fill("PIN", f.pins["Lea Lead"])
	lead.click("Close the day and sign")

	lead.see("The day is closed and signed.")
	lead.at("/report")
	for _, w := range []string{
		"2 of 4 people who arrived were tested; 4 of 10 expected came.",
		"1 of 2 tested (50.0 %; 95 % interval 9.5 to 90.5 %)", "Of these 1 may be called about it, 0 gave no permission",
		"4 of 4 control runs were in range", "12 of 13 sums come out; 1 of the other 1 are explained under a signature.",
		"One strip fell on the floor at station 1",
		"Doors opened at 07:55 and closed at 12:05",
	} {
		lead.see(w)
	}
	lead.fullShot("report")
	if d := f.day(); d.Event.Phase != event.IsClosed || d.Event.ClosingNote != "A calm evening" {
		t.Errorf("on record: %s, note %q", d.Event.Phase, d.Event.ClosingNote)
	}
	lead.visit(f.at("/close"))
	lead.see("Closed and signed by Lea Lead")
	lead.visit(f.url + "/follow-up")
	lead.see("Nobody is to be called now.")
	lead.shot("follow-up")
}

package programme_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/store"
	"fairstick/internal/visit"
)

// The same form sent twice, even at once, makes one ticket and gives the same answer.
func TestASecondPressIsHarmless(t *testing.T) {
	h := opened(t)
	act := h.Act()
	got := make([]programme.Ticket, 8)
	var wg sync.WaitGroup
	for i := range got {
		wg.Go(func() {
			tk, err := h.P.Arrive(h.ctx, h.As("Cy Lapsed"), programme.Arrive{Act: act, Event: h.Event, Language: "en"})
			if err != nil {
				t.Error(err)
			}
			got[i] = tk
		})
	}
	wg.Wait()
	for _, tk := range got {
		if tk != got[0] || tk.Number != 1 {
			t.Errorf("tickets %v", got)
		}
	}
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if len(d.Visits) != 1 {
		t.Errorf("%d visits stand", len(d.Visits))
	}
	_, err = h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: act, Event: h.Event})
	h.refused("id-reused", err)
	_, err = h.P.CloseDoors(h.ctx, h.As("Lea Lead"), programme.CloseDoors{Act: programme.Act{ID: "1; drop table"}, Event: h.Event})
	h.refused("field-id", err)
}

// Tickets given out at the same time by many desks are 1, 2, 3 ... without a gap or a pair.
func TestTicketsAreNumberedOnce(t *testing.T) {
	h := opened(t)
	const n = 40
	seen := make([]bool, n+1)
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range n {
		wg.Go(func() {
			tk, err := h.P.Arrive(h.ctx, h.As("Cy Lapsed"), programme.Arrive{Event: h.Event, Language: "es"})
			if err != nil {
				t.Error(err)
				return
			}
			mu.Lock()
			defer mu.Unlock()
			if tk.Number < 1 || tk.Number > n || seen[tk.Number] {
				t.Errorf("ticket %d", tk.Number)
				return
			}
			seen[tk.Number] = true
		})
	}
	wg.Wait()
}

func TestTwoStationsOnOneTicket(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	h.refused("elsewhere", h.Call(h.ctx, g, "2"))
	_, err := h.Read(h.ctx, g, "2", demo.Shot{Reading: "95"})
	h.refused("elsewhere", err)
	_, err = h.P.PutBack(h.ctx, h.As("Ann Screener"), programme.PutBack{Act: h.Act(), Visit: g.ID})
	h.must(err)
	h.must(h.Call(h.ctx, g, "2"))
}

func TestReadingsThatCannotBe(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	for _, c := range []struct{ first, again, key string }{
		{"1118", "1118", "value-absurd"},
		{"5.6", "5.6", ""},
		{"12", "12", ""},
		{"97", "79", "read-back-differs"},
		{"97", "", "read-back"},
		{"", "", ""},
		{"ninety", "ninety", ""},
		{"97", "HI", "read-back-differs"},
		{"-97", "-97", ""},
	} {
		seat := h.Seat("1")
		_, err := h.P.TakeReading(h.ctx, h.As("Ann Screener"), programme.TakeReading{Act: h.Act(), Visit: g.ID, Station: "1", Meter: h.ID(seat.Meter), StripLot: h.ID(seat.Lot), Vial: seat.Vial, Reading: c.first, Again: c.again, Washed: true})
		f := fault.Of(err)
		if err == nil || f.Kind != fault.Invalid && f.Kind != fault.Refused || c.key != "" && f.Key != c.key {
			t.Errorf("%q, %q: %v", c.first, c.again, err)
		}
	}
	r, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.must(err)
	if r.Finding == nil || r.Finding.Band != "usual" || r.Repeat {
		t.Errorf("95: %+v", r)
	}
	_, err = h.Read(h.ctx, g, "1", demo.Shot{Reading: "95"})
	h.refused("has-result", err)
}

// After two sticks a supervisor must agree to a third.
func TestSticks(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	shot := func(s demo.Shot) error {
		h.later(time.Minute)
		_, err := h.Read(h.ctx, g, "1", s)
		return err
	}
	h.refused("field-same_stick", shot(demo.Shot{Reading: "95", SameStick: true}))
	h.must(shot(demo.Shot{Reading: "E-4"}))
	h.must(shot(demo.Shot{Reading: "E-4", SameStick: true}))
	h.must(shot(demo.Shot{Reading: "231"}))
	h.refused("sticks", shot(demo.Shot{Reading: "225"}))
	h.refused("signature-role", shot(demo.Shot{Reading: "225", Agreed: "Bob Screener"}))
	h.must(shot(demo.Shot{Reading: "225", Agreed: "Sue Supervisor"}))
}

func TestPINs(t *testing.T) {
	h := newHall(t)
	for _, weak := range []string{"1234", "0000", "987654", "12", "1234567", "12a4", ""} {
		_, err := h.P.DescribePerson(h.ctx, h.As("Lea Lead"), programme.DescribePerson{Act: h.Act(), Name: "New Person " + weak, Roles: []string{"desk"}, PIN: weak})
		if (err == nil) != (weak == "") { // without a PIN a person is on the list but cannot sign in
			t.Errorf("PIN %q: %v", weak, err)
		}
	}
	in := func(pin string) error {
		_, err := h.P.SignIn(h.ctx, "device", h.ID("Ann Screener"), pin)
		return err
	}
	h.must(in("6174"))
	for range 5 {
		h.refused("pin-wrong", in("1111"))
	}
	h.refused("pin-wait", in("6174"))
	h.later(31 * time.Second)
	h.must(in("6174"))
}

func TestSessions(t *testing.T) {
	h := newHall(t)
	token, err := h.P.SignIn(h.ctx, "device", h.ID("Ann Screener"), "6174")
	h.must(err)
	who, err := h.P.Who(h.ctx, "device", token)
	h.must(err)
	if who.Details.Name != "Ann Screener" {
		t.Errorf("signed in as %s", who.Details.Name)
	}
	_, err = h.P.Who(h.ctx, "device", token+"x")
	h.refused("sign-in", err)
	_, err = h.P.Leave(h.ctx, h.As("Lea Lead"), programme.Leave{Act: h.Act(), Person: h.ID("Ann Screener"), Reason: "moved away"})
	h.must(err)
	_, err = h.P.Who(h.ctx, "device", token)
	h.refused("sign-in", err)
	lead, err := h.P.SignIn(h.ctx, "device", h.ID("Lea Lead"), "4821")
	h.must(err)
	h.later(13 * time.Hour)
	_, err = h.P.Who(h.ctx, "device", lead)
	h.refused("sign-in", err)
}

// Who may not do something is refused, and nobody can be their own proof.
func TestRolesOfCommands(t *testing.T) {
	h := opened(t)
	for name, do := range map[string]func(a programme.Actor) error{
		"plan": func(a programme.Actor) error {
			c := h.set.Plan
			c.Act, c.Event = h.Act(), h.Event
			_, err := h.P.PlanEvent(h.ctx, a, c)
			return err
		},
		"person": func(a programme.Actor) error {
			_, err := h.P.DescribePerson(h.ctx, a, programme.DescribePerson{Act: h.Act(), Name: "X", Roles: []string{"lead"}})
			return err
		},
		"verify": func(a programme.Actor) error {
			_, err := h.P.Verify(h.ctx, a, programme.Verify{Act: h.Act(), Person: h.ID("Cy Lapsed"), Role: "screener", From: "2026-01-01", Until: "2026-12-31"})
			return err
		},
		"meter": func(a programme.Actor) error {
			_, err := h.P.DescribeMeter(h.ctx, a, programme.DescribeMeter{Act: h.Act()})
			return err
		},
		"doors": func(a programme.Actor) error {
			_, err := h.P.CloseDoors(h.ctx, a, programme.CloseDoors{Act: h.Act(), Event: h.Event})
			return err
		},
		"post": func(a programme.Actor) error {
			_, err := h.P.PostPerson(h.ctx, a, programme.PostPerson{Act: h.Act(), Event: h.Event, Person: h.ID("Ann Screener"), Role: "screener"})
			return err
		},
	} {
		if err := do(h.As("Ann Screener")); !fault.Is(err, "role") {
			t.Errorf("%s by a screener: %v", name, err)
		}
	}
	_, err := h.P.Verify(h.ctx, h.As("Lea Lead"), programme.Verify{Act: h.Act(), Person: h.ID("Lea Lead"), Role: "lead", From: "2026-01-01", Until: "2026-12-31"})
	h.refused("verify-self", err)
	_, err = h.P.Leave(h.ctx, h.As("Lea Lead"), programme.Leave{Act: h.Act(), Person: h.ID("Lea Lead"), Reason: "tired"})
	h.refused("last-lead", err)
}

// Contact is sealed: it stands nowhere in the record in clear, and only those who call may open it.
func TestContactIsSealed(t *testing.T) {
	h := opened(t)
	g := h.guest("", demo.Guest{Contact: programme.Contact{Allow: true, Call: true, Name: "Zebulon Invented", Phone: "555 0177"}})
	c, ok, err := h.P.OpenContact(h.ctx, h.As("Dot Counsellor"), g.ID)
	h.must(err)
	if !ok || c.Name != "Zebulon Invented" || c.Phone != "555 0177" || !c.Call {
		t.Errorf("contact %+v %v", c, ok)
	}
	_, _, err = h.P.OpenContact(h.ctx, h.As("Cy Lapsed"), g.ID)
	h.refused("role", err)
	h.must(h.store.Read(h.ctx, func(v *store.View) error {
		records, err := v.Records(visit.Ref(g.ID))
		for _, r := range records {
			if b := fmt.Sprintf("%+v", r.Body); strings.Contains(b, "Zebulon") || strings.Contains(b, "0177") {
				t.Errorf("in clear: %s", b)
			}
		}
		if len(records) < 5 {
			t.Errorf("only %d facts were looked at", len(records))
		}
		return err
	}))
}

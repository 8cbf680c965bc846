package programme_test

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/event"
	"fairstick/internal/fault"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
)

func TestOpeningIsRefusedUntilEverythingIsThere(t *testing.T) {
	for _, c := range []struct {
		key, without string
		change       func(*demo.Programme)
	}{
		{"no-route", "", func(p *demo.Programme) { p.Plan.Routes = nil }},
		{"no-route", "", func(p *demo.Programme) { p.Plan.Routes = []event.Route{{Name: "A place without telephone or address"}} }},
		{"certificate-expired", "", func(p *demo.Programme) { p.Describe.CertificateUntil = "2026-06-19" }},
		{"no-emergency", "", func(p *demo.Programme) { p.Plan.Address = "" }},
		{"labelled-use", "", func(p *demo.Programme) { p.Describe.LabelledUse = false }},
		{"other-day", "", func(p *demo.Programme) { p.Plan.Date = "2026-06-21" }},
		{"no-meters", "stock", nil},
		{"room-unknown", "room", nil},
		{"checks-open", "checks", nil},
		{"no-screener", "", func(p *demo.Programme) { p.People[1].Absent, p.People[2].Absent = true, true }},
		{"no-supervisor", "", func(p *demo.Programme) { p.Lead.Absent, p.People[0].Absent = true, true }},
		{"ratio-wanted", "", func(p *demo.Programme) { p.People[0].Absent = true }},
		{"none-cleared", "controls", nil},
	} {
		h := newHall(t, func(p *demo.Programme) {
			if c.change != nil {
				c.change(p)
			}
		})
		switch c.key {
		case "no-meters": // without stock there are no meters, so no control can be run either
			h.must(h.CheckAll(h.ctx, "Lea Lead"))
		case "room-unknown":
			h.prepareWithoutControls()
		default:
			h.prepare(c.without)
		}
		h.Clock.Set(h.Time("09:00"))
		h.refused(c.key, h.open())
	}
}

func (h *hall) prepareWithoutControls() {
	_, err := h.P.BringStock(h.ctx, h.As("Lea Lead"), programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): 50}, Lancets: 60, Sharps: 2, Meters: []string{h.ID("M1")}})
	h.must(err)
	h.must(h.Roster(h.ctx, h.set))
	h.must(h.CheckAll(h.ctx, "Lea Lead"))
}

// With one supervisor for three hands-on people a lead may sign; the signature covers that ratio and better ones only.
func TestRatioOverride(t *testing.T) {
	h := newHall(t, func(p *demo.Programme) { p.People[0].Absent = true })
	h.prepare("")
	h.Clock.Set(h.Time("09:00"))
	o := func(who string) error {
		_, err := h.P.Override(h.ctx, h.As(who), programme.Override{Act: h.Act(), Event: h.Event, Gate: "ratio", Reason: "all in sight", Sign: h.Sign(who)})
		return err
	}
	h.refused("signature-role", o("Ann Screener"))
	h.must(o("Lea Lead"))
	h.must(h.open())
	h.refused("gate-open", o("Lea Lead"))
	_, err := h.P.Override(h.ctx, h.As("Lea Lead"), programme.Override{Act: h.Act(), Event: h.Event, Gate: "controls", Reason: "no time", Sign: h.Sign("Lea Lead")})
	h.refused("hard-gate", err)
}

func TestTestIsRefusedAtEachGate(t *testing.T) {
	read := func(h *hall, g *demo.Guest, station string) error {
		_, err := h.Read(h.ctx, g, station, demo.Shot{Reading: "95"})
		return err
	}
	seat := func(h *hall, change func(*demo.Seat)) {
		s := h.Seat("1")
		change(&s)
		h.Sit("1", s)
	}
	for name, c := range map[string]struct {
		key   string
		shut  func(h *hall)
		guest demo.Guest
	}{
		"lapsed screener":            {key: "not-verified", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Screener = "Cy Lapsed" }) }},
		"somebody without a post":    {key: "not-verified", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Screener = "Dot Counsellor" }) }},
		"a meter that was left home": {key: "meter-not-brought", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Meter = "M9" }) }},
		"an old vial":                {key: "strips-use", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Vial = "old" }) }},
		"an unknown vial":            {key: "strips-use", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Vial = "none" }) }},
		"a new lot, code not read":   {key: "code-unread", shut: func(h *hall) { seat(h, func(s *demo.Seat) { s.Lot, s.Vial = "B", "B1" }) }},
		"a new lot, code differs": {key: "code-differs", shut: func(h *hall) {
			seat(h, func(s *demo.Seat) { s.Lot, s.Vial = "B", "B1" })
			_, err := h.P.CompareCode(h.ctx, h.As("Ann Screener"), programme.CompareCode{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), StripLot: h.ID("B"), Shown: "17"})
			h.must(err)
		}},
		"a new lot, no controls": {key: "not-cleared", shut: func(h *hall) {
			seat(h, func(s *demo.Seat) { s.Lot, s.Vial = "B", "B1" })
			_, err := h.P.CompareCode(h.ctx, h.As("Ann Screener"), programme.CompareCode{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), StripLot: h.ID("B"), Shown: "23"})
			h.must(err)
		}},
		"a dropped meter": {key: "not-cleared", shut: func(h *hall) {
			h.later(time.Minute)
			_, err := h.P.VoidMeter(h.ctx, h.As("Ann Screener"), programme.VoidMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Cause: "dropped"})
			h.must(err)
		}},
		"a quarantined meter": {key: "quarantined", shut: func(h *hall) {
			_, err := h.P.QuarantineMeter(h.ctx, h.As("Ann Screener"), programme.QuarantineMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Reason: "cracked"})
			h.must(err)
		}},
		"a control out of range since": {key: "not-cleared", shut: func(h *hall) {
			h.later(time.Minute)
			h.must(h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"2": "361"}))
		}},
		"a pass after a fail without a cause": {key: "not-cleared", shut: func(h *hall) {
			h.later(time.Minute)
			h.must(h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"2": "361"}))
			h.later(time.Minute)
			h.must(h.RunControls(h.ctx, "Ann Screener", "M1", "A", "A1", map[string]string{"2": "300"}))
		}},
		"a cold room": {key: "room-temperature", shut: func(h *hall) {
			_, err := h.P.MeasureRoom(h.ctx, h.As("Ann Screener"), programme.MeasureRoom{Act: h.Act(), Event: h.Event, Celsius: "8.5"})
			h.must(err)
		}},
		"the supervisors go": {key: "no-supervisor", shut: func(h *hall) {
			for _, who := range []string{"Lea Lead", "Sue Supervisor"} {
				_, err := h.P.Attend(h.ctx, h.As("Lea Lead"), programme.Attend{Act: h.Act(), Event: h.Event, Person: h.ID(who), Here: false})
				h.must(err)
			}
		}},
		"strips barred by a treatment": {key: "chemistry", shut: func(*hall) {}, guest: demo.Guest{Answers: protocol.Answers{"icodextrin": "yes"}}},
	} {
		t.Run(name, func(t *testing.T) {
			h := opened(t)
			g := h.guest("1", c.guest)
			c.shut(h)
			err := read(h, g, "1")
			h.refused(c.key, err)
			h.saysOfTheNumber(err, c.key)
			d, err := h.P.Day(h.ctx, h.Event)
			h.must(err)
			if n := len(d.Visit(g.ID).Readings); n != 0 {
				t.Errorf("%d readings stand after a refusal", n)
			}
		})
	}
}

// saysOfTheNumber wants what to do with a number that is on the meter already.
func (h *hall) saysOfTheNumber(err error, key string) {
	h.t.Helper()
	advice := programme.NumberAdvice(key)
	if f := fault.Of(err); advice == "" || !strings.HasSuffix(f.Do, " "+advice) {
		h.t.Errorf("%s: what to do is %q, which does not end with %q", key, f.Do, advice)
	}
}

// A number that means danger is cared for whatever gate is shut; one that was never typed is not spoken of.
func TestADangerousNumberBehindAShutGate(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	_, err := h.P.QuarantineMeter(h.ctx, h.As("Sue Supervisor"), programme.QuarantineMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Reason: "cracked"})
	h.must(err)
	for shown, care := range map[string]bool{"95": false, "188": false, "412": true, "HI": true, "LO": true, "48": true, "66": true, "E-3": false, "1x": false} {
		_, err := h.Read(h.ctx, g, "1", demo.Shot{Reading: shown})
		h.refused("quarantined", err)
		if f := fault.Of(err); strings.HasPrefix(f.Do, programme.NumberNeedsCare) != care || !strings.HasSuffix(f.Do, programme.NumberDoubted) {
			t.Errorf("%s: %q, care first %v", shown, f.Do, care)
		}
	}
	_, err = h.Read(h.ctx, g, "1", demo.Shot{})
	if f := fault.Of(err); f.Key != "quarantined" || strings.Contains(f.Do, "number") {
		t.Errorf("without a number: %q", f.Do)
	}
	if len(h.visit(g).Readings) != 0 {
		t.Error("a refused number was recorded")
	}
}

// A screener whose proof ends between the stick and the press, and an event that ends: both say where the number goes.
func TestTheProofEndsWithANumberOnTheMeter(t *testing.T) {
	h := opened(t)
	g := h.guest("1", demo.Guest{})
	_, err := h.P.WithdrawVerification(h.ctx, h.As("Lea Lead"), programme.WithdrawVerification{Act: h.Act(), Person: h.ID(h.Seat("1").Screener), Role: "screener", Reason: "hurried"})
	h.must(err)
	_, err = h.Read(h.ctx, g, "1", demo.Shot{Reading: "104"})
	h.refused("not-verified", err)
	h.saysOfTheNumber(err, "not-verified")
	_, err = h.P.LeaveVisit(h.ctx, h.As("Cy Lapsed"), programme.LeaveVisit{Act: h.Act(), Visit: g.ID})
	h.must(err)
	_, err = h.Read(h.ctx, g, "2", demo.Shot{Reading: "104"})
	h.refused("visit-ended", err)
	h.saysOfTheNumber(err, "visit-ended")
}

// A cause that is written down turns fail and pass into a clearance; three fails in a row take the meter out.
func TestCorrectiveAction(t *testing.T) {
	h := opened(t)
	h.later(time.Minute)
	run := func(level, shown string) programme.Ran {
		r, err := h.P.RunControl(h.ctx, h.As("Ann Screener"), programme.RunControl{
			Act: h.Act(), Event: h.Event, Meter: h.ID("M2"), StripLot: h.ID("A"), Vial: "A1",
			ControlLot: h.ID("control " + level), Bottle: "c" + level, Reading: shown,
		})
		h.must(err)
		h.later(time.Minute)
		return r
	}
	bad := run("2", "251")
	if bad.Verdict != "out-of-range" || bad.Low != "252" || bad.High != "340" {
		t.Errorf("run %+v", bad)
	}
	if r := run("2", "252"); r.Verdict != "in-range" {
		t.Errorf("the lower end of the range is in range: %+v", r)
	}
	_, err := h.P.AssignCause(h.ctx, h.As("Ann Screener"), programme.AssignCause{Act: h.Act(), Event: h.Event, Run: bad.ID, Cause: "drop too small", Action: "fresh drop, same bottle"})
	h.must(err)
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if c := d.Clearance(h.ID("M2"), h.ID("A"), "A1"); !c.Cleared {
		t.Errorf("not cleared after the cause: %+v", c)
	}
	for i, shown := range []string{"360", "LO", "E-2"} {
		run("2", shown)
		d, err := h.P.Day(h.ctx, h.Event)
		h.must(err)
		if out := d.MeterByID(h.ID("M2")).Quarantine != nil; out != (i == 2) {
			t.Errorf("after %d fails: quarantined %v", i+1, out)
		}
	}
}

func TestWipeBetweenPeople(t *testing.T) {
	h := opened(t)
	first, second := h.guest("1", demo.Guest{}), h.guest("1", demo.Guest{})
	_, err := h.Read(h.ctx, first, "1", demo.Shot{Reading: "95"})
	h.must(err)
	h.later(10 * time.Second)
	read := func() error {
		_, err := h.Read(h.ctx, second, "1", demo.Shot{Reading: "101"})
		return err
	}
	err = read()
	h.refused("not-wiped", err)
	h.saysOfTheNumber(err, "not-wiped")
	h.must(h.Clear(h.ctx, first, "1"))
	h.later(59 * time.Second)
	h.refused("still-wet", read())
	h.later(time.Second)
	h.must(read())
	_, err = h.P.WipeMeter(h.ctx, h.As("Ann Screener"), programme.WipeMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Disinfectant: "nothing"})
	h.refused("no-such-disinfectant", err)
}

// A critical reading shuts its station until a supervisor has come; other stations go on.
func TestCriticalShutsItsStation(t *testing.T) {
	h := opened(t)
	sick, next, other := h.guest("1", demo.Guest{}), h.guest("", demo.Guest{}), h.guest("2", demo.Guest{})
	r, err := h.Read(h.ctx, sick, "1", demo.Shot{Reading: "HI"})
	h.must(err)
	if !r.Critical || !r.Repeat || r.Care != "critical-high" {
		t.Errorf("HI: %+v", r)
	}
	h.must(h.Clear(h.ctx, sick, "1"))
	h.later(2 * time.Minute)
	h.must(h.Call(h.ctx, next, "1"))
	_, err = h.Read(h.ctx, next, "1", demo.Shot{Reading: "95"})
	h.refused("care-open", err)
	_, err = h.Read(h.ctx, other, "2", demo.Shot{Reading: "95"})
	h.must(err)
	attend := func(who string) error {
		_, err := h.P.AttendCare(h.ctx, h.As("Ann Screener"), programme.AttendCare{Act: h.Act(), Visit: sick.ID, Sign: h.Sign(who)})
		return err
	}
	h.refused("signature-role", attend("Ann Screener"))
	h.must(attend("Sue Supervisor"))
	_, err = h.Read(h.ctx, next, "1", demo.Shot{Reading: "95"})
	h.must(err)
	_, err = h.P.SignCare(h.ctx, h.As("Ann Screener"), programme.SignCare{Act: h.Act(), Visit: sick.ID, Sign: h.Sign("Sue Supervisor")})
	h.refused("care-unfinished", err)
}

// A station says so when, by the count, no strip of its lot is left; writing down more strips opens it.
func TestStripsUsedUp(t *testing.T) {
	h := opened(t)
	shut := func() bool {
		d, err := h.P.Day(h.ctx, h.Event)
		h.must(err)
		gates, _ := d.StationGates(d.Person(h.ID("Ann Screener")), programme.Device{Station: "1", Meter: h.ID("M1"), StripLot: h.ID("A"), Vial: "A1"}, h.Clock.Now())
		for _, g := range gates {
			if g.Key == "left" {
				return !g.Open()
			}
		}
		return false
	}
	bring := func(n int) {
		_, err := h.P.BringStock(h.ctx, h.As("Lea Lead"), programme.BringStock{Act: h.Act(), Event: h.Event, Strips: map[string]int{h.ID("A"): n}})
		h.must(err)
	}
	if shut() {
		t.Error("46 of 50 strips are left, but the station is shut")
	}
	bring(-46)
	if !shut() {
		t.Error("4 strips were brought and 4 used in controls, but the station is open")
	}
	bring(1)
	if shut() {
		t.Error("one strip is left, but the station is shut")
	}
}

package programme_test

import (
	"strings"
	"testing"
	"time"

	"fairstick/internal/demo"
	"fairstick/internal/fault"
	"fairstick/internal/incident"
	"fairstick/internal/programme"
	"fairstick/internal/testkit"
)

// clocked lets a hall go by a clock beside a laptop's that can be set.
func (h *hall) clocked() *testkit.Timepiece {
	h.t.Helper()
	c := &testkit.Timepiece{Record: h.Clock}
	h.must(h.P.GoBy(h.ctx, c))
	return c
}

func (h *hall) answer(who, answer string, ahead time.Duration) error {
	_, err := h.P.AnswerClock(h.ctx, h.As(who), programme.AnswerClock{Act: h.Act(), Event: h.Event, Answer: answer, Ahead: ahead})
	return err
}

// While nothing is open, the laptop's clock is taken over without a word, back and forward.
func TestClockFollowsBetweenDays(t *testing.T) {
	h := newHall(t)
	c := h.clocked()
	for _, by := range []time.Duration{-time.Hour, 24 * time.Hour, -24 * time.Hour, 3 * time.Second} {
		want := h.Clock.Now().Add(by)
		c.SetLaptop(by)
		h.must(h.P.SettleClock(h.ctx))
		if st := h.P.ClockState(); st.Ask || st.Ahead != 0 || !st.Now.Equal(want) {
			t.Errorf("set by %v: %+v, want %v and no question", by, st, want)
		}
	}
}

// A meter that is wiped before the doors open stays wet for its time, whatever happens to the laptop's clock.
func TestClockWaitsForAWetMeterBeforeTheDay(t *testing.T) {
	h := newHall(t)
	h.prepare("")
	c := h.clocked()
	_, err := h.P.WipeMeter(h.ctx, h.As("Lea Lead"), programme.WipeMeter{Act: h.Act(), Event: h.Event, Meter: h.ID("M1"), Disinfectant: h.ID("wipes")})
	h.must(err)
	before := h.Clock.Now()
	c.SetLaptop(time.Hour)
	h.must(h.P.SettleClock(h.ctx))
	if !h.Clock.Now().Equal(before) {
		t.Error("the clock was moved while a meter was wet")
	}
	h.later(time.Minute)
	h.must(h.P.SettleClock(h.ctx))
	if want := before.Add(time.Minute + time.Hour); !h.Clock.Now().Equal(want) {
		t.Errorf("dry: %v, want %v", h.Clock.Now(), want)
	}
}

// On an open day a jump forward ends no minutes early, and is taken over only when somebody says so and nothing runs.
func TestClockJumpsForwardOnTheDay(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	first, second := h.guest("1", demo.Guest{}), h.guest("1", demo.Guest{})
	_, err := h.Read(h.ctx, first, "1", demo.Shot{Reading: "95"})
	h.must(err)
	h.later(10 * time.Second)
	h.must(h.Clear(h.ctx, first, "1"))
	c.SetLaptop(time.Hour)
	h.must(h.P.SettleClock(h.ctx))
	_, err = h.Read(h.ctx, second, "1", demo.Shot{Reading: "101"})
	h.refused("still-wet", err)
	st := h.P.ClockState()
	want := "This laptop's clock jumped forward by 1 h. It shows 10:00; Fairstick goes on with 09:00."
	if got := st.Sentence(time.UTC); !st.Ask || got != want {
		t.Errorf("%v %q, want %q", st.Ask, got, want)
	}

	h.refused("role", h.answer("Ann Screener", programme.ClockSlept, time.Hour))
	h.refused("clock-moved", h.answer("Lea Lead", programme.ClockSlept, 2*time.Hour))
	h.refused("clock-runs", h.answer("Lea Lead", programme.ClockSet, time.Hour))
	if f := fault.Of(h.answer("Lea Lead", "perhaps", time.Hour)); len(f.Fields) != 1 {
		t.Errorf("an answer that is none: %v", f)
	}
	h.later(time.Minute)
	before := h.Clock.Now()
	h.must(h.answer("Sue Supervisor", programme.ClockSet, time.Hour))
	if want := before.Add(time.Hour); !h.Clock.Now().Equal(want) || h.P.ClockState().Ask {
		t.Errorf("answered: %v, want %v", h.Clock.Now(), want)
	}
	h.refused("clock-moved", h.answer("Lea Lead", programme.ClockSet, time.Hour)) // once is enough
	d, err := h.P.Day(h.ctx, h.Event)
	h.must(err)
	if o, ok := d.Event.OverrideOf("clock:set"); !ok || o.About != "forward by 1 h" || o.Signed != h.ID("Sue Supervisor") || !strings.Contains(o.Reason, "set right") {
		t.Errorf("on record: %+v", o)
	}
}

// A laptop that slept takes its own time over although a meter was wet: the minutes have passed.
func TestClockAfterSleep(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	first, second := h.guest("1", demo.Guest{}), h.guest("1", demo.Guest{})
	_, err := h.Read(h.ctx, first, "1", demo.Shot{Reading: "95"})
	h.must(err)
	h.must(h.Clear(h.ctx, first, "1"))
	c.SetLaptop(5 * time.Minute)
	h.must(h.answer("Lea Lead", programme.ClockSlept, 5*time.Minute))
	_, err = h.Read(h.ctx, second, "1", demo.Shot{Reading: "101"})
	h.must(err)
}

// Time does not go back on an open day; it does when the day is closed.
func TestClockJumpsBackOnTheDay(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	c.SetLaptop(-24 * time.Hour)
	h.must(h.P.SettleClock(h.ctx))
	before := h.Clock.Now()
	h.refused("clock-back", h.answer("Lea Lead", programme.ClockSlept, -24*time.Hour))
	h.refused("clock-back", h.answer("Lea Lead", programme.ClockSet, -24*time.Hour))
	h.must(h.answer("Lea Lead", programme.ClockKeep, -24*time.Hour))
	if h.P.ClockState().Ask || !h.Clock.Now().Equal(before) {
		t.Errorf("kept: asks %v, %v, want %v", h.P.ClockState().Ask, h.Clock.Now(), before)
	}
	c.SetLaptop(2 * time.Hour) // another jump asks again
	if !h.P.ClockState().Ask {
		t.Error("a second jump asks nothing")
	}
}

// A clock that jumps, forward or back, ends nothing early and draws nothing out: a wet meter, a recheck and a device that nobody
// uses go by the record's own minutes, to the second.
func TestTimersHoldWhenTheClockJumps(t *testing.T) {
	for _, jump := range []time.Duration{-time.Hour, -24 * time.Hour, time.Hour, 24 * time.Hour} {
		h := opened(t)
		c := h.clocked()
		first, second := h.guest("1", demo.Guest{}), h.guest("1", demo.Guest{})
		h.read(first, "95")
		h.must(h.Clear(h.ctx, first, "1"))
		c.SetLaptop(jump)
		h.must(h.P.SettleClock(h.ctx))
		h.later(59 * time.Second)
		_, err := h.Read(h.ctx, second, "1", demo.Shot{Reading: "66"})
		h.refused("still-wet", err)
		h.later(time.Second)
		h.read(second, "66")
		h.later(time.Minute)
		h.read(second, "64")
		h.step(second, programme.CareStep{Step: "sugar", Choice: "given"})
		h.later(14*time.Minute + 59*time.Second)
		h.read(second, "80")
		if got := h.todo(second); len(got) != 1 || got[0] != "recheck" {
			t.Errorf("%v: a recheck one second early leaves %v to be done", jump, got)
		}
		h.later(time.Second)
		h.read(second, "92")
		if got := h.todo(second); len(got) != 0 {
			t.Errorf("%v: after the recheck %v is to be done", jump, got)
		}
		h.must(h.answer("Lea Lead", programme.ClockKeep, jump))
		token, err := h.P.SignIn(h.ctx, "laptop", h.ID("Lea Lead"), "4821")
		h.must(err)
		h.later(20 * time.Minute)
		_, err = h.P.Who(h.ctx, "laptop", token)
		h.must(err)
		c.SetLaptop(-30 * time.Minute) // once more: it must not keep a device open
		h.later(20*time.Minute + time.Second)
		_, err = h.P.Who(h.ctx, "laptop", token)
		h.refused("idle", err)
	}
}

// A recheck after sugar waits its minutes, and keeps a clock that was set from being taken over.
func TestClockWaitsForARecheck(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	g := h.low()
	h.step(g, programme.CareStep{Step: "sugar", Choice: "given"})
	c.SetLaptop(time.Hour)
	h.later(2 * time.Minute)
	h.refused("clock-runs", h.answer("Lea Lead", programme.ClockSet, time.Hour))
}

// Nor is it while an eye is being flushed.
func TestClockWaitsForAnEye(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	id := h.report("Ann Screener", "splash", "1")
	h.must(h.does("Ann Screener", id, incident.FirstAid, "flushed", ""))
	c.SetLaptop(time.Hour)
	h.later(14 * time.Minute)
	h.refused("clock-runs", h.answer("Lea Lead", programme.ClockSet, time.Hour))
	h.later(time.Minute)
	h.must(h.answer("Lea Lead", programme.ClockSet, time.Hour))
}

// What is newer in the record than the laptop's clock allows is said when the day is opened; a device that nobody touched while
// the laptop slept asks for the PIN.
func TestClockAtStart(t *testing.T) {
	h := newHall(t)
	h.Clock.Set(h.Clock.Now().Add(-2 * time.Hour))
	c := h.clocked()
	want := "This laptop's clock shows 20 Jun 2026, 06:00, but the record has an entry of 20 Jun 2026, 07:00 already. One of the two clocks was wrong."
	if got := h.P.ClockState().Sentence(time.UTC); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	c.SetLaptop(2 * time.Hour)
	h.must(h.P.SettleClock(h.ctx))
	if got := h.P.ClockState().Sentence(time.UTC); got != "" {
		t.Errorf("with the right time it still says %q", got)
	}
}

func TestIdleCountsSleep(t *testing.T) {
	h := opened(t)
	c := h.clocked()
	token, err := h.P.SignIn(h.ctx, "laptop", h.ID("Lea Lead"), "4821")
	h.must(err)
	c.SetLaptop(time.Hour)
	_, err = h.P.Who(h.ctx, "laptop", token)
	h.refused("idle", err)

	h.must(h.answer("Lea Lead", programme.ClockKeep, time.Hour))
	token, err = h.P.SignIn(h.ctx, "laptop", h.ID("Lea Lead"), "4821")
	h.must(err)
	h.later(time.Minute) // a clock that stays wrong keeps nobody out
	_, err = h.P.Who(h.ctx, "laptop", token)
	h.must(err)
}

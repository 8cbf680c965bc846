package boot

import (
	"testing"
	"time"
)

// hand moves a laptop's clock and the seconds that pass apart from each other.
type hand struct {
	laptop time.Time
	passed time.Duration
}

func (h *hand) wait(d time.Duration) { h.laptop, h.passed = h.laptop.Add(d), h.passed+d }
func (h *hand) steady() *steady {
	return steadyOf(func() time.Time { return h.laptop }, func() time.Duration { return h.passed })
}

func TestSteadyClock(t *testing.T) {
	begin := time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC)
	cases := []struct {
		name  string
		set   time.Duration // the laptop's clock is set by this much, or it sleeps so long
		moved time.Duration // how far the record's clock moves with it
		ahead time.Duration
	}{
		{"nothing", 0, 0, 0},
		{"corrected forward", 1500 * time.Millisecond, 1500 * time.Millisecond, 0},
		{"corrected back", -1500 * time.Millisecond, 0, -1500 * time.Millisecond},
		{"ten seconds forward", 10 * time.Second, 0, 10 * time.Second},
		{"an hour forward", time.Hour, 0, time.Hour},
		{"an hour back", -time.Hour, 0, -time.Hour},
		{"a day forward", 24 * time.Hour, 0, 24 * time.Hour},
		{"a year back", -365 * 24 * time.Hour, 0, -365 * 24 * time.Hour},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			h := &hand{laptop: begin}
			s := h.steady()
			h.wait(90 * time.Second)
			h.laptop = h.laptop.Add(c.set)
			if got, want := s.Now(), begin.Add(90*time.Second+c.moved); !got.Equal(want) {
				t.Errorf("now %v, want %v", got, want)
			}
			if got := s.Ahead(); got != c.ahead {
				t.Errorf("ahead %v, want %v", got, c.ahead)
			}
			h.wait(time.Minute)
			if got, want := s.Now(), begin.Add(150*time.Second+c.moved); !got.Equal(want) {
				t.Errorf("a minute later %v, want %v", got, want)
			}
			s.Follow()
			if !s.Now().Equal(h.laptop) || s.Ahead() != 0 {
				t.Errorf("after Follow %v, ahead %v, want %v", s.Now(), s.Ahead(), h.laptop)
			}
		})
	}
}

// Summer time ends or begins while the day runs: the instant does not jump, only what a clock on the wall shows.
func TestSteadyClockKeepsSummerTime(t *testing.T) {
	madrid, err := time.LoadLocation("Europe/Madrid")
	if err != nil {
		t.Fatal(err)
	}
	h := &hand{laptop: time.Date(2026, 10, 25, 2, 59, 0, 0, madrid).Add(-time.Hour)} // 02:59 for the first time
	s := h.steady()
	h.wait(2 * time.Minute)
	h.laptop = h.laptop.In(madrid)
	if got := s.Now().In(madrid).Format("15:04 MST"); got != "02:01 CET" || s.Ahead() != 0 {
		t.Errorf("two minutes after 02:59 CEST it is %s, ahead %v", got, s.Ahead())
	}
}

// However the laptop's clock is pushed about, the record's never goes back.
func TestSteadyClockNeverGoesBack(t *testing.T) {
	h := &hand{laptop: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	s := h.steady()
	last := s.Now()
	for i := range 2000 {
		h.wait(time.Duration(i%7) * 100 * time.Millisecond)
		h.laptop = h.laptop.Add(time.Duration(i%5-2) * time.Second)
		now := s.Now()
		if now.Before(last) {
			t.Fatalf("step %d: %v after %v", i, now, last)
		}
		last = now
	}
}

package boot

import (
	"sync"
	"time"

	"fairstick/internal/programme"
)

// steady is the clock that the record goes by. It starts at the laptop's time and then counts seconds, so that nobody who
// sets the laptop's clock, and no laptop that sleeps, ends the minutes of a wet meter or of a recheck early.
//
// Small steps forward are taken over, since every laptop's clock is corrected by a little all day; anything else stays a
// difference until Follow is called.
type steady struct {
	laptop  func() time.Time     // what its clock says
	elapsed func() time.Duration // seconds that have passed, whatever its clock says

	mu   sync.Mutex
	base time.Time
	from time.Duration
}

var _ programme.Timepiece = (*steady)(nil)

// slack is a step forward that is no jump.
const slack = 2 * time.Second

func newSteady() *steady {
	started := time.Now()
	return steadyOf(func() time.Time { return time.Now().Round(0) }, func() time.Duration { return time.Since(started) })
}

func steadyOf(laptop func() time.Time, elapsed func() time.Duration) *steady {
	return &steady{laptop: laptop, elapsed: elapsed, base: laptop(), from: elapsed()}
}

// Now implements programme.Timepiece.
func (s *steady) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	now, ahead := s.read()
	if 0 < ahead && ahead <= slack {
		s.base = s.base.Add(ahead)
		now = now.Add(ahead)
	}
	return now
}

// Ahead implements programme.Timepiece.
func (s *steady) Ahead() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, ahead := s.read()
	return ahead
}

// Follow implements programme.Timepiece.
func (s *steady) Follow() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.base, s.from = s.laptop(), s.elapsed()
}

func (s *steady) read() (now time.Time, ahead time.Duration) {
	laptop := s.laptop()
	now = s.base.Add(s.elapsed() - s.from)
	return now.In(laptop.Location()), laptop.Sub(now)
}

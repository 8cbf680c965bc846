package testkit

import (
	"sync"
	"time"
)

// Timepiece is a clock that goes by Record, beside the clock of a laptop that a test sets.
type Timepiece struct {
	Record interface {
		Now() time.Time
		Set(at time.Time)
	}

	mu    sync.Mutex
	ahead time.Duration
}

// SetLaptop sets the laptop's clock by a difference.
func (t *Timepiece) SetLaptop(by time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.ahead += by
}

// Now is the record's time.
func (t *Timepiece) Now() time.Time { return t.Record.Now() }

// Ahead is how far the laptop's clock is ahead of it.
func (t *Timepiece) Ahead() time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.ahead
}

// Follow takes over the laptop's clock.
func (t *Timepiece) Follow() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.Record.Set(t.Record.Now().Add(t.ahead))
	t.ahead = 0
}

package demo

import (
	"sync"
	"time"
)

// Clock is the clock of an invented day. It stands still while the day is made, one moment after another, and runs like
// any clock once Run was called.
type Clock struct {
	mu      sync.Mutex
	base    time.Time
	started time.Time // zero while it stands
}

// NewClock makes a clock that stands at a moment.
func NewClock(at time.Time) *Clock { return &Clock{base: at} }

// Set moves a standing clock.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.base = at
}

// Run lets the clock go on from where it stands.
func (c *Clock) Run() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.started = time.Now()
}

// Now tells the moment.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.started.IsZero() {
		return c.base
	}
	return c.base.Add(time.Since(c.started))
}

package programme

import "fairstick/internal/control"

// WatchedForTest gives what the drift watch of a day is fed with.
func (d *Day) WatchedForTest() []control.Reading { return d.watched() }

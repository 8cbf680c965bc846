// Package plan says, before an event, how many posts each station needs, how long people will wait, and what to pack.
//
// Three layers build on each other. The lines: closed forms of queues (Erlang, M/M/c, M/G/c), which answer at once but know only the
// steady state. The days: whole events drawn at random, each from empty rooms to the last person who leaves, and then run again and
// again under other numbers of posts with the same people, so that two plans differ by their posts and not by luck. The needs: what
// those same days use up, of which a quantile, not the mean, is packed.
//
// A first-come-first-served line needs no list of events: who comes next takes the post that is free first. That makes thousand days
// cheap enough to be run while somebody drags a number.
//
// The package reads no clock and draws no number but from the source that it is given. Every default carries where it comes from; "common
// practice" marks what no paper says. Times are minutes; zero is when the doors open.
package plan

import (
	"fmt"
	"math"

	"fairstick/internal/fault"
)

// Estimate is a simulated value with its Monte-Carlo standard error.
type Estimate struct {
	Value float64 `json:"value"`
	SE    float64 `json:"se"`
}

// bad is a refusal of something that was typed.
func bad(key, do, format string, args ...any) *fault.Fault {
	return fault.New(fault.Invalid, key, fmt.Sprintf(format, args...), "", do)
}

// finite says that a number is neither NaN nor infinite, and not below a least value.
func finite(x, least float64) bool { return x >= least && !math.IsInf(x, 1) }

// share says that a number lies between 0 and 1, both included.
func share(x float64) bool { return x >= 0 && x <= 1 }

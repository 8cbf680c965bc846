// Package download holds the memory of a meter against what was written down: which row is which reading, what is missing
// on either side, what differs, and how wrong the meter's clock was.
//
// The clock is not trusted: many meters show another hour, another day or another year. So rows and readings are first
// brought together by the row of their values; the time by which the two then differ is the offset of the clock. Only with
// it do times mean anything.
package download

import (
	"time"

	"fairstick/internal/glucose"
)

// Mark is whether a meter marked a row as a control.
type Mark string

// The marks of a row.
const (
	Unmarked Mark = ""        // the meter does not tell
	Person   Mark = "person"  // not marked as a control
	Control  Mark = "control" // marked as a control
)

// Row is one row of a meter's memory, as the meter shows it.
type Row struct {
	Line    int       // in the file, from 1
	At      time.Time // by the meter's own clock
	Reading glucose.Reading
	Mark    Mark
	Seq     int // the meter's own number; 0 when it gives none
}

// Entry is one reading or control run that was written down for the meter.
type Entry struct {
	ID      string
	At      time.Time
	Reading glucose.Reading
	Control bool
}

// What can differ.
const (
	NotInLog   = "not-in-log"   // the meter has a row that nobody wrote down
	NotInMeter = "not-in-meter" // somebody wrote down what the meter does not have
	Value      = "value"
	Unit       = "unit"
	Time       = "time"
	Marked     = "mark" // control on one side, a person on the other
)

// Kinds lists what can differ, the gravest first.
var Kinds = []string{Value, NotInMeter, NotInLog, Unit, Marked, Time}

// Difference is one thing that the memory and the log say differently. Row or Entry is nil where that side has nothing.
type Difference struct {
	Kind  string
	Row   *Row
	Entry *Entry
	By    time.Duration // for Time: meter less log, once the clock is set right
}

// Pair is a row and the reading that it is.
type Pair struct {
	Row   Row
	Entry Entry
	By    time.Duration // meter less log, once the clock is set right
}

// Result is a memory held against a log.
type Result struct {
	Clocks      []Clock // one for each setting that the clock had, in the order of time; none when nothing tells
	Pairs       []Pair  // in the order of the log, those with a difference too
	Differences []Difference
	Same        int // rows that agree in everything
	Day         int // rows of the day
	Others      int // rows of other days
	Errors      int // rows without a value, which are not compared
}

// Options say how close is close.
type Options struct {
	Tolerance time.Duration                  // by which the times of one reading may differ once the clock is right
	OfDay     func(corrected time.Time) bool // whether a moment lies on the day of the event
}

// DefaultTolerance is what writing a reading down may take (common practice: it is typed at once).
const DefaultTolerance = 5 * time.Minute

// far is how far a row may lie from a reading with the same value and still be the same.
const far = 30 * time.Minute

// alike reports whether a row shows what was written down; converted when it does so in the other unit.
func alike(r, e glucose.Reading) (same, converted bool) {
	if r.Kind != e.Kind {
		return false, false
	}
	if r.Unit == e.Unit {
		return r == e, false
	}
	if r.Kind != glucose.Numeric {
		return true, true
	}
	// Converted for recognising a reading alone, never for judging it: a download may give what the meter showed in the
	// other unit, off by the rounding of one step.
	d := r.Value.In(e.Unit).Steps - e.Value.Steps
	b := e.Value.In(r.Unit).Steps - r.Value.Steps
	return d >= -1 && d <= 1 || b >= -1 && b <= 1, true
}

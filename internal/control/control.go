// Package control judges control runs and says whether a meter may test people.
//
// A meter is cleared for one strip lot by the latest run of every level, all in the range printed for that lot, with
// nothing since that voids it. A pass after an unexplained miss is not clearance: repeating until it passes hides a broken
// meter. The functions see only the runs they are given and read no clock.
//
// Over time the same runs make series (Describe), are judged by control rules (Multirule), and give precision (Nested) and capability (Sigma).
// Participants' own results are a second control: detectors of drift with computed run lengths (NewEWMA, EWMAChart), and the
// rule for the day (Watch), which says what to check and proves nothing.
package control

import (
	"time"

	"fairstick/internal/glucose"
)

// Verdict is what a control run shows.
type Verdict string

// The verdicts.
const (
	InRange    Verdict = "in-range"
	OutOfRange Verdict = "out-of-range"
	NoValue    Verdict = "no-value" // LO, HI or an error code
)

// Run is one control test on one meter with the range printed for its strip lot.
type Run struct {
	ID      string
	Meter   string
	Lot     string // strip lot
	Vial    string
	Level   string
	At      time.Time
	Reading glucose.Reading
	Low     glucose.Value
	High    glucose.Value
	Cause   string // assigned cause of a run that was not in range, with its corrective action; empty when none was found
}

// Void is something that ended a meter's clearance: dropped, battery changed, another place.
type Void struct {
	Meter string
	Lot   string // empty: every lot
	At    time.Time
	Cause string
}

// Rule is what the protocol asks of controls.
type Rule struct {
	Levels           []string
	RunsWithoutCause int  // this many uncaused runs out of range in a row take the meter out; 0 never
	EachVial         bool // each vial needs its own runs
}

// The keys of a Clearance.
const (
	KeyCleared  = "cleared"
	KeyNeverRun = "never-run"
	KeyMissing  = "level-missing"
	KeyFailed   = "failed"
	KeyVoid     = "void"
	KeyNoCause  = "no-cause"
	KeyTakeOut  = "take-out"
)

// Clearance says whether a meter may test people with a strip lot, and if not, why.
type Clearance struct {
	Cleared  bool      `json:"cleared"`
	Since    time.Time `json:"since"` // when the last level that was needed passed; zero when not cleared
	Key      string    `json:"key"`
	Missing  []string  `json:"missing,omitempty"` // levels that still have to pass
	Sentence string    `json:"sentence"`
}

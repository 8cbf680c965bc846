package control

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"
)

// Clear says whether a meter may test people with a strip lot. The caller passes the runs and voids that may count, usually
// today's, in any order; runs of other meters and lots are passed over. With Rule.EachVial the passes must come from
// this vial.
//
// A run that is not in range, error codes included, is a miss. The first of these that holds gives the key:
//
//	take-out       the meter has Rule.RunsWithoutCause misses in a row without an assigned cause, with any lot
//	failed         the latest run of a level is a miss
//	no-cause       a miss with this lot has no assigned cause, even though the level passed later
//	never-run      no level has been run
//	void           a level passed only before the last void
//	level-missing  a level has not been run
//	cleared        none of these
//
// A pass without an assigned cause does not end a row of misses. A void does not wipe out a miss: changing a battery is a
// cause only when somebody writes that down. A run at the very moment of a void does not count.
func Clear(meter, lot, vial string, runs []Run, voids []Void, rule Rule) Clearance {
	runs = ordered(runs, meter)
	voided := lastVoid(meter, lot, voids)
	if len(rule.Levels) == 0 {
		return Clearance{Key: KeyNeverRun, Sentence: "The protocol names no control level, so nothing can clear a meter."}
	}
	if uncaused := missesWithoutCause(runs, ""); rule.RunsWithoutCause > 0 && len(uncaused) >= rule.RunsWithoutCause {
		return Clearance{Key: KeyTakeOut, Missing: slices.Clone(rule.Levels), Sentence: fmt.Sprintf(
			"%d control runs were out of range without a cause. Take this meter out and tell the lead.", len(uncaused))}
	}
	state := map[string]level{}
	ran := false
	for _, r := range runs {
		if r.Lot == lot && (!rule.EachVial || r.Vial == vial) {
			ran = true
			state[r.Level] = state[r.Level].after(r, voided)
		}
	}
	var missing, failed, void []string
	var since time.Time
	for _, name := range rule.Levels {
		l := state[name]
		switch {
		case l.passing:
			if l.since.After(since) {
				since = l.since
			}
			continue
		case l.missed != nil:
			failed = append(failed, name)
		case l.before:
			void = append(void, name)
		}
		missing = append(missing, name)
	}
	c := Clearance{Missing: missing}
	switch uncaused := missesWithoutCause(runs, lot); {
	case len(failed) > 0:
		c.Key, c.Sentence = KeyFailed, missSentence(*state[failed[0]].missed)
	case len(uncaused) > 0:
		c.Key = KeyNoCause
		c.Sentence = fmt.Sprintf("Level %s was out of range and no cause is written. A later pass alone does not clear the meter: assign the cause.", uncaused[0].Level)
	case !ran:
		c.Key = KeyNeverRun
		c.Sentence = fmt.Sprintf("No control has been run with this strip %s. Run %s.", container(rule), levels(rule.Levels))
	case len(void) > 0:
		c.Key = KeyVoid
		c.Sentence = fmt.Sprintf("The controls no longer hold (%s). Run %s again.", voided.Cause, levels(missing))
	case len(missing) > 0:
		c.Key = KeyMissing
		c.Sentence = fmt.Sprintf("%s not been run with this strip %s. Run %s.", have(missing), container(rule), it(missing))
	default:
		c.Cleared, c.Since, c.Key = true, since, KeyCleared
		c.Sentence = fmt.Sprintf("Passed %s with this strip %s.", levels(rule.Levels), container(rule))
	}
	return c
}

// level is what the runs of one level amount to so far.
type level struct {
	passing bool
	since   time.Time // first pass of the row that still holds
	missed  *Run      // the latest run, when it was a miss
	before  bool      // it was run before the last void
}

func (l level) after(r Run, voided Void) level {
	switch {
	case !inRange(r):
		return level{missed: &r, before: l.before}
	case !voided.At.IsZero() && !r.At.After(voided.At):
		return level{before: true}
	case l.passing:
		return l
	}
	return level{passing: true, since: r.At, before: l.before}
}

// ordered copies the runs of one meter in the order of time.
func ordered(runs []Run, meter string) []Run {
	var own []Run
	for _, r := range runs {
		if r.Meter == meter {
			own = append(own, r)
		}
	}
	sort.SliceStable(own, func(i, j int) bool { return own[i].At.Before(own[j].At) })
	return own
}

func lastVoid(meter, lot string, voids []Void) Void {
	var last Void
	for _, v := range voids {
		if v.Meter == meter && (v.Lot == "" || v.Lot == lot) && v.At.After(last.At) {
			last = v
		}
	}
	return last
}

// missesWithoutCause lists the uncaused misses, of one lot or, with "", of every lot.
func missesWithoutCause(runs []Run, lot string) []Run {
	var out []Run
	for _, r := range runs {
		if (lot == "" || r.Lot == lot) && !inRange(r) && strings.TrimSpace(r.Cause) == "" {
			out = append(out, r)
		}
	}
	return out
}

// inRange treats a run that cannot be judged as a miss.
func inRange(r Run) bool {
	v, err := Judge(r.Reading, r.Low, r.High)
	return err == nil && v == InRange
}

func missSentence(r Run) string {
	next := "Do not test people. Find the cause, write it down, then run the level again."
	if strings.TrimSpace(r.Cause) != "" {
		next = "The cause is written: now run the level again."
	}
	return fmt.Sprintf("Level %s showed %s; the printed range is %s to %s. %s", r.Level, r.Reading, r.Low.Number(), r.High, next)
}

func container(rule Rule) string {
	if rule.EachVial {
		return "vial"
	}
	return "lot"
}

// levels gives "level 1", "levels 1 and 2", "levels 1, 2 and 3".
func levels(names []string) string {
	if len(names) == 1 {
		return "level " + names[0]
	}
	return "levels " + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func have(names []string) string {
	s := "L" + levels(names)[1:]
	if len(names) == 1 {
		return s + " has"
	}
	return s + " have"
}

func it(names []string) string {
	if len(names) == 1 {
		return "it"
	}
	return "them"
}

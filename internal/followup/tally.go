package followup

import (
	"strconv"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Tally is what a follow-up counts as in a report. It holds what Status needs, since only the protocol of the event says how
// many tries are enough.
type Tally struct {
	Tried, Reached bool
	Told           Outcome // the outcome that was told last; empty while none was
	ToldAt         time.Time
	On             civil.Date // the day that was told with it
	Heard          time.Time  // when something was last heard of the person
	Missed         []time.Time
	Said           Said // of the result that was told last
}

// Tally implements fact.Tallier.
func (s *State) Tally() string { return s.Counts().line() }

// Counts gives what a follow-up counts as.
func (s *State) Counts() Tally {
	t := Tally{Tried: len(s.Attempts) > 0, Reached: s.Reached(), Heard: s.heard()}
	if told, ok := s.Standing(); ok {
		t.Told, t.ToldAt, t.On = told.Outcome, told.At, told.On
	}
	for _, a := range s.Misses() {
		t.Missed = append(t.Missed, a.At)
	}
	if r := s.Result(); r != nil {
		t.Said = r.Said
	}
	return t
}

// Status is State.Status: the outcome that stands when so many tries are enough and the number was last put right at renewed.
func (t Tally) Status(attempts int, renewed time.Time) Outcome {
	if t.Told != "" && (t.Told.Spoken() || !t.Heard.After(t.ToldAt) && !renewed.After(t.ToldAt)) {
		return t.Told
	}
	missed := t.Missed
	for len(missed) > 0 && !missed[0].After(renewed) {
		missed = missed[1:]
	}
	if len(missed) >= attempts {
		return Unreachable
	}
	return ""
}

func milli(t time.Time) int {
	if t.IsZero() {
		return 0
	}
	return int(t.UnixMilli())
}

func ofMilli(n int) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.UnixMilli(int64(n)).UTC()
}

func (t Tally) line() string {
	var l fact.Line
	l.Flag(t.Tried)
	l.Flag(t.Reached)
	l.Text(string(t.Told))
	l.Int(milli(t.ToldAt))
	on := ""
	if !t.On.IsZero() {
		on = t.On.String()
	}
	l.Text(on)
	l.Int(milli(t.Heard))
	missed := make([]string, len(t.Missed))
	for i, m := range t.Missed {
		missed[i] = strconv.Itoa(milli(m))
	}
	l.Text(strings.Join(missed, " "))
	l.Text(string(t.Said))
	return l.String()
}

// ReadTally reads what State.Tally wrote.
func ReadTally(line string) (Tally, error) {
	r := fact.ReadLine(line)
	t := Tally{Tried: r.Flag(), Reached: r.Flag(), Told: Outcome(r.Text()), ToldAt: ofMilli(r.Int())}
	on := r.Text()
	t.Heard = ofMilli(r.Int())
	missed := r.Text()
	t.Said = Said(r.Text())
	if err := r.Err(); err != nil {
		return t, err
	}
	if on != "" {
		day, err := civil.Parse(on)
		if err != nil {
			return t, err
		}
		t.On = day
	}
	for m := range strings.FieldsSeq(missed) {
		n, err := strconv.Atoi(m)
		if err != nil {
			return t, err
		}
		t.Missed = append(t.Missed, ofMilli(n))
	}
	return t, nil
}

package event

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"fairstick/internal/control"
	"fairstick/internal/fact"
)

// Tally is what an event counts as in a report, apart from its visits.
type Tally struct {
	Phase     Phase
	Name      string
	Venue     string
	Zone      string
	Protocol  string // version frozen at the opening; empty before
	Date      string
	Expected  int
	Cancelled string // why; empty when it was not

	Runs, InRange, OutOfRange, NoValue, Unanswered int // control runs; Unanswered: out of range or without a value, and no cause written
	Overrides, Corrections                         int

	Opened, DoorsClosed time.Time // to the minute, UTC

	Strips  []StripsOf // by lot id, of the lots that were brought
	Lancets int        // brought less left, once counted; -1 before
	Emptied []string   // what was brought and all used up: "lancets", or a lot id

	Roster []PostOf
}

// StripsOf is one lot's strips at the event: Used is brought less left, -1 before they were counted.
type StripsOf struct {
	Lot           string
	Brought, Used int
}

// PostOf is one person's place.
type PostOf struct {
	Person, Role string
	Here         bool
}

// Tally implements fact.Tallier.
func (s *State) Tally() string { return s.Counts().line() }

// Counts gives what an event counts as.
func (s *State) Counts() Tally {
	t := Tally{
		Phase: s.Phase, Name: s.Plan.Name, Venue: s.Plan.Venue, Zone: s.Plan.Zone, Date: s.Plan.Date.String(), Expected: s.Plan.Expected,
		Runs: len(s.Runs), Overrides: len(s.Overrides), Corrections: len(s.Corrections), Opened: minute(s.OpenedAt), DoorsClosed: minute(s.DoorsClosedAt), Lancets: -1,
	}
	if s.Opened != nil {
		t.Protocol = s.Opened.Protocol
	}
	if s.Cancelled != nil {
		t.Cancelled = cmp.Or(s.Cancelled.Reason, "no reason")
	}
	for _, r := range s.Runs {
		switch control.Verdict(r.Verdict) {
		case control.InRange:
			t.InRange++
			continue
		case control.OutOfRange:
			t.OutOfRange++
		case control.NoValue:
			t.NoValue++
		}
		if r.Cause == "" {
			t.Unanswered++
		}
	}
	for lot, n := range s.Out.Strips {
		x := StripsOf{Lot: lot, Brought: n, Used: -1}
		if s.Back != nil {
			x.Used = n - s.Back.Strips[lot]
			if n > 0 && s.Back.Strips[lot] == 0 {
				t.Emptied = append(t.Emptied, lot)
			}
		}
		t.Strips = append(t.Strips, x)
	}
	slices.SortFunc(t.Strips, func(a, b StripsOf) int { return cmp.Compare(a.Lot, b.Lot) })
	slices.Sort(t.Emptied)
	if s.Back != nil {
		t.Lancets = s.Out.Lancets - s.Back.Lancets
		if s.Out.Lancets > 0 && s.Back.Lancets == 0 {
			t.Emptied = append(t.Emptied, "lancets")
		}
	}
	for _, p := range s.Roster {
		t.Roster = append(t.Roster, PostOf{Person: p.Person, Role: p.Role, Here: p.Here})
	}
	return t
}

func minute(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.UTC().Truncate(time.Minute)
}

func unixMinute(t time.Time) int {
	if t.IsZero() {
		return 0
	}
	return int(t.Unix() / 60)
}

func fromMinute(n int) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.Unix(int64(n)*60, 0).UTC()
}

func (t Tally) line() string {
	var l fact.Line
	for _, s := range []string{string(t.Phase), t.Name, t.Venue, t.Zone, t.Date, t.Cancelled, t.Protocol, strings.Join(t.Emptied, " ")} {
		l.Text(s)
	}
	for _, n := range []int{
		t.Expected, t.Runs, t.InRange, t.OutOfRange, t.NoValue, t.Unanswered, t.Overrides, t.Corrections, unixMinute(t.Opened), unixMinute(t.DoorsClosed), t.Lancets,
		len(t.Strips), len(t.Roster),
	} {
		l.Int(n)
	}
	for _, x := range t.Strips {
		l.Text(x.Lot)
		l.Int(x.Brought)
		l.Int(x.Used)
	}
	for _, p := range t.Roster {
		l.Text(p.Person)
		l.Text(p.Role)
		l.Flag(p.Here)
	}
	return l.String()
}

// ReadTally reads what State.Tally wrote.
func ReadTally(line string) (Tally, error) {
	r := fact.ReadLine(line)
	var t Tally
	t.Phase, t.Name, t.Venue, t.Zone, t.Date, t.Cancelled, t.Protocol = Phase(r.Text()), r.Text(), r.Text(), r.Text(), r.Text(), r.Text(), r.Text()
	if s := r.Text(); s != "" {
		t.Emptied = strings.Split(s, " ")
	}
	var opened, closed, strips, roster int
	for _, n := range []*int{
		&t.Expected, &t.Runs, &t.InRange, &t.OutOfRange, &t.NoValue, &t.Unanswered, &t.Overrides, &t.Corrections, &opened, &closed, &t.Lancets, &strips, &roster,
	} {
		*n = r.Int()
	}
	t.Opened, t.DoorsClosed = fromMinute(opened), fromMinute(closed)
	for range strips {
		if r.Failed() {
			break
		}
		t.Strips = append(t.Strips, StripsOf{Lot: r.Text(), Brought: r.Int(), Used: r.Int()})
	}
	for range roster {
		if r.Failed() {
			break
		}
		t.Roster = append(t.Roster, PostOf{Person: r.Text(), Role: r.Text(), Here: r.Flag()})
	}
	return t, r.Err()
}

// Package followup is what happens after a referral as a subject of the record: who tried to reach the person, when and how,
// what became of the referral, and what a clinician is said to have found. It holds no name and no number: those stay sealed
// with the visit, and so does every free note.
//
// A follow-up never says by itself what is due. Next derives it from the facts and from the rules of the protocol, so that a
// corrected attempt or a fact that comes late from another laptop moves the task with it.
package followup

import (
	"fmt"
	"sort"
	"time"

	"fairstick/internal/fact"
)

// Kind is the subject kind of a follow-up. Its id is the id of the visit.
const Kind = "followup"

// Ref names the follow-up of one visit.
func Ref(visit string) fact.Ref { return fact.Ref{Kind: Kind, ID: visit} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Begun{}, ContactOpened{}, PutBack{}, AttemptMade{}, OutcomeTold{}, ResultTold{}, HandedOver{}, LetterMade{})
}

// From is the place in the record where something comes from.
type From struct {
	FactID string    `json:"fact_id"`
	At     time.Time `json:"at"`
	By     string    `json:"by"` // person id of whoever wrote it down
}

// Attempt is one try with where it comes from.
type Attempt struct {
	AttemptMade
	From
}

// Who gives the person id of the caller.
func (a Attempt) Who() string {
	if a.Caller != "" {
		return a.Caller
	}
	return a.By
}

// Missed reports whether a try counts as one that did not reach the person. A letter is no try: it is written when the tries
// are used up.
func (a Attempt) Missed() bool { return a.Happened != Reached && a.Channel != Letter }

// Told is an outcome with where it comes from.
type Told struct {
	OutcomeTold
	From
}

// Result is a result of a confirming test with where it comes from.
type Result struct {
	ResultTold
	From
}

// Handover is one with where it comes from.
type Handover struct {
	HandedOver
	From
}

// Written is a letter with where it comes from.
type Written struct {
	LetterMade
	From
}

// Opening is a look at the sealed contact.
type Opening struct {
	ContactOpened
	From
}

// State is a follow-up as it stands. Lists are in the order in which things happened.
type State struct {
	ID       string     `json:"id"`
	Event    string     `json:"event"`
	Ticket   int        `json:"ticket"`
	Attempts []Attempt  `json:"attempts,omitempty"`
	Outcomes []Told     `json:"outcomes,omitempty"`
	Results  []Result   `json:"results,omitempty"`
	Handed   []Handover `json:"handed,omitempty"`
	Letters  []Written  `json:"letters,omitempty"`
	Openings []Opening  `json:"openings,omitempty"`
	Held     *Opening   `json:"held,omitempty"` // somebody opened the number and has written nothing down since
	Last     string     `json:"last,omitempty"` // fact id of what was written down last; looking at the contact does not count
}

// New gives a follow-up before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Index keeps the follow-ups of an event in the order of their tickets.
func (s *State) Index() (parent, label string) { return s.Event, fmt.Sprintf("%06d", s.Ticket) }

// Mentions points at whoever made a try or wrote an outcome down, so that a caller's work can be found.
func (s *State) Mentions() []fact.Mention {
	var out []fact.Mention
	for _, a := range s.Attempts {
		out = append(out, fact.Mention{Name: "caller", Value: a.Who(), At: a.At})
	}
	return out
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	from := From{FactID: r.ID, At: r.At, By: r.By}
	switch b := r.Body.(type) {
	case Begun:
		s.Event, s.Ticket = b.Event, b.Ticket
		return
	case ContactOpened:
		o := Opening{b, from}
		s.Openings = append(s.Openings, o)
		s.Held = &o
		return
	case PutBack:
		s.letGo(r.By)
		return
	case AttemptMade:
		s.Attempts = append(s.Attempts, Attempt{b, from})
		inTime(s.Attempts, func(a Attempt) time.Time { return a.At })
		s.letGo(r.By)
	case OutcomeTold:
		s.Outcomes = append(s.Outcomes, Told{b, from})
		inTime(s.Outcomes, func(t Told) time.Time { return t.At })
		s.letGo(r.By)
	case ResultTold:
		s.Results = append(s.Results, Result{b, from})
		inTime(s.Results, func(t Result) time.Time { return t.At })
	case HandedOver:
		s.Handed = append(s.Handed, Handover{b, from})
		s.letGo(r.By)
	case LetterMade:
		s.Letters = append(s.Letters, Written{b, from})
		inTime(s.Letters, func(l Written) time.Time { return l.At })
	default:
		return
	}
	s.Last = r.ID
}

// letGo ends the hold of whoever has it.
func (s *State) letGo(by string) {
	if s.Held != nil && s.Held.By == by {
		s.Held = nil
	}
}

// inTime orders by when things happened; what happened at the same moment stays in the order of the record.
func inTime[T any](list []T, at func(T) time.Time) {
	sort.SliceStable(list, func(i, j int) bool { return at(list[i]).Before(at(list[j])) })
}

// HeldAt tells who holds the person at a moment; nil when nobody does, or when their time is up.
func (s *State) HeldAt(now time.Time, hold time.Duration) *Opening {
	if s == nil || s.Held == nil || now.Sub(s.Held.At) >= hold {
		return nil
	}
	return s.Held
}

// Assigned gives the person id of the caller to whom the person was handed over last; empty when nobody was named.
func (s *State) Assigned() string {
	if s == nil || len(s.Handed) == 0 {
		return ""
	}
	return s.Handed[len(s.Handed)-1].To
}

// Reached reports whether anybody has spoken or written with the person.
func (s *State) Reached() bool {
	if s == nil {
		return false
	}
	for _, a := range s.Attempts {
		if a.Happened == Reached {
			return true
		}
	}
	return false
}

// Standing gives the outcome that was told last; ok is false while none was.
func (s *State) Standing() (Told, bool) {
	if s == nil || len(s.Outcomes) == 0 {
		return Told{}, false
	}
	return s.Outcomes[len(s.Outcomes)-1], true
}

// Result gives what was told last about a confirming test; nil when nothing was.
func (s *State) Result() *Result {
	if s == nil || len(s.Results) == 0 {
		return nil
	}
	return &s.Results[len(s.Results)-1]
}

// Misses counts the tries in a row, up to the latest, that did not reach the person. An outcome that somebody told, be it a clinic, ends
// the row like a conversation.
func (s *State) Misses() []Attempt {
	if s == nil {
		return nil
	}
	heard := s.heard()
	var out []Attempt
	for _, a := range s.Attempts {
		if a.Missed() && a.At.After(heard) {
			out = append(out, a)
		}
	}
	return out
}

// heard is when something was last heard of the person; the zero time for never.
func (s *State) heard() time.Time {
	var at time.Time
	if s == nil {
		return at
	}
	for _, a := range s.Attempts {
		if a.Happened == Reached && a.At.After(at) {
			at = a.At
		}
	}
	for _, o := range s.Outcomes {
		if o.Outcome.Spoken() && o.At.After(at) {
			at = o.At
		}
	}
	return at
}

// lettered reports whether a letter to the person was made after a moment.
func (s *State) lettered(after time.Time) bool {
	if s == nil {
		return false
	}
	for _, l := range s.Letters {
		if l.To == ToPerson && l.At.After(after) {
			return true
		}
	}
	return false
}

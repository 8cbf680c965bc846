// Package lookback is a look-back as a subject of the record: what was in doubt, why, whom it touched when it was asked, who saw
// names for it, which letters were made, and how it ended. While one is open, what it is about is not erased. It keeps the
// question, never the answer: that is found again in the record whenever it is needed.
package lookback

import (
	"time"

	"fairstick/internal/fact"
)

// Kind is the subject kind of a look-back.
const Kind = "look-back"

// Ref names one look-back.
func Ref(id string) fact.Ref { return fact.Ref{Kind: Kind, ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Opened{}, NamesShown{}, LettersMade{}, Closed{})
}

// Question is what a look-back asks for: readings that fit everything it names. Ids are those of the record; a vial is named with
// its lot. A zero time is an open end.
type Question struct {
	Event      string    `json:"event,omitempty"`
	StripLot   string    `json:"strip_lot,omitempty"`
	Vial       string    `json:"vial,omitempty"`
	ControlLot string    `json:"control_lot,omitempty"`
	Meter      string    `json:"meter,omitempty"`
	Screener   string    `json:"screener,omitempty"`
	From       time.Time `json:"from,omitzero"`
	Until      time.Time `json:"until,omitzero"`
}

// Opened begins a look-back.
type Opened struct {
	Question Question `json:"question"`
	Words    string   `json:"words"` // the question in words
	Reason   string   `json:"reason"`
	People   int      `json:"people"` // whom it touched when it was opened
	Readings int      `json:"readings"`
}

// FactKind implements fact.Body.
func (Opened) FactKind() string { return "look-back.opened" }

// NamesShown says that names and telephone numbers of those who may be called were looked at for this look-back.
type NamesShown struct {
	People int `json:"people"`
}

// FactKind implements fact.Body.
func (NamesShown) FactKind() string { return "look-back.names-shown" }

// LettersMade says that letters were made for those who may be contacted.
type LettersMade struct {
	Letter  string `json:"letter"`  // which text
	People  int    `json:"people"`  // letters
	Without int    `json:"without"` // touched, but nobody may write to them
}

// FactKind implements fact.Body.
func (LettersMade) FactKind() string { return "look-back.letters-made" }

// Closed ends a look-back under a signature.
type Closed struct {
	Outcome string `json:"outcome"`
	Signed  string `json:"signed"` // person id
}

// FactKind implements fact.Body.
func (Closed) FactKind() string { return "look-back.closed" }

// Seen is one look at names, or one making of letters.
type Seen struct {
	At      time.Time `json:"at"`
	By      string    `json:"by"`
	Letter  string    `json:"letter,omitempty"` // empty: names were shown
	People  int       `json:"people"`
	Without int       `json:"without,omitempty"`
}

// State is a look-back as it stands.
type State struct {
	ID       string    `json:"id"`
	Opened   Opened    `json:"opened"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Seen     []Seen    `json:"seen,omitempty"`
	Closed   *Closed   `json:"closed,omitempty"`
	ClosedAt time.Time `json:"closed_at,omitzero"`
}

// New gives a look-back before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Index keeps look-backs in the order in which they were opened.
func (s *State) Index() (parent, label string) {
	return "", s.At.UTC().Format("2006-01-02T15:04:05.000") + " " + s.ID
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case Opened:
		s.Opened, s.At, s.By = b, r.At, r.By
	case NamesShown:
		s.Seen = append(s.Seen, Seen{At: r.At, By: r.By, People: b.People})
	case LettersMade:
		s.Seen = append(s.Seen, Seen{At: r.At, By: r.By, Letter: b.Letter, People: b.People, Without: b.Without})
	case Closed:
		s.Closed, s.ClosedAt = &b, r.At
	}
}

// Open reports whether it has not ended.
func (s *State) Open() bool { return s.Closed == nil }

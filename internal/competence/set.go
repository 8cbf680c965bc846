package competence

import (
	"slices"
	"time"

	"fairstick/internal/competence/cards"
	"fairstick/internal/competence/rehearse"
	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

// SetKind is the subject kind of a set of situations that a teacher composed.
const SetKind = "rehearsal-set"

// SetRef names a set.
func SetRef(id string) fact.Ref { return fact.Ref{Kind: SetKind, ID: id} }

// SetComposed is a practice day as a teacher wants it. A later one of the same set takes the place of the earlier.
type SetComposed struct {
	Name       string      `json:"name"`
	Level      cards.Level `json:"level"`
	Situations []string    `json:"situations"` // keys
}

// FactKind implements fact.Body.
func (SetComposed) FactKind() string { return "rehearsal-set.composed" }

// SetRetired takes a set off the list. Practice days that were done with it stay as they are.
type SetRetired struct{}

// FactKind implements fact.Body.
func (SetRetired) FactKind() string { return "rehearsal-set.retired" }

// Set is a set as it stands.
type Set struct {
	ID string `json:"id"`
	SetComposed
	By      string    `json:"by"` // person id
	At      time.Time `json:"at"`
	Retired bool      `json:"retired,omitempty"`
}

// NewSet gives a set before any fact.
func NewSet(id string) fact.State { return &Set{ID: id} }

// Mentions implements fact.State; a set is found by its own id alone.
func (s *Set) Mentions() []fact.Mention { return nil }

// Apply implements fact.State.
func (s *Set) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case SetComposed:
		s.SetComposed, s.By, s.At, s.Retired = b, r.By, r.At, false
	case SetRetired:
		s.Retired = true
	}
}

// LeastSituations is how many situations a set has at least: a practice day counts for a verification, and so it may not be a formality.
const LeastSituations = 4

// Check refuses a set that could not be practised, or that would prove too little: a *fault.Fault with a message by field.
func (b SetComposed) Check() error {
	bad := func(field, format string, args ...any) error { return fault.BadField(field, format, args...) }
	if !b.Level.Valid() || b.Level == cards.Observer {
		return bad("level", "Choose for which work it is.")
	}
	urgent := false
	for i, key := range b.Situations {
		k := slices.IndexFunc(rehearse.Makers(), func(m rehearse.Maker) bool { return m.Key == key })
		if k < 0 {
			return bad("situations", "There is no situation %q.", key)
		}
		m := rehearse.Makers()[k]
		switch {
		case slices.Contains(b.Situations[:i], key):
			return bad("situations", "%s stands there twice.", m.Name.In("en"))
		case !b.Level.Covers(m.From):
			return bad("situations", "“%s” is the work of a %s.", m.Name.In("en"), m.From.Word().In("en"))
		}
		urgent = urgent || m.Group == rehearse.Urgent
	}
	switch {
	case len(b.Situations) < LeastSituations:
		return bad("situations", "Choose at least %d situations.", LeastSituations)
	case !urgent:
		return bad("situations", "Choose one in which somebody is in danger: a faint, a low reading, HI or a needlestick.")
	}
	return nil
}

// Package incident is a mishap at an event as a subject of the record: what happened, what was done and when, who was told,
// and its end. It knows which steps each kind of incident asks for and what is said first, before any form. It has no
// place for anything medical: that belongs to a clinician.
package incident

import (
	"sort"
	"time"

	"fairstick/internal/fact"
)

// Kind is the subject kind of an incident.
const Kind = "incident"

// Ref names one incident.
func Ref(id string) fact.Ref { return fact.Ref{Kind: Kind, ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Reported{}, Described{}, Step{}, Closed{}, Withdrawn{})
}

// Sort is what sort of mishap it is.
type Sort string

// The sorts of incident.
const (
	SharpsInjury  Sort = "sharps-injury"
	Splash        Sort = "splash" // blood to an eye, the mouth or broken skin
	Faint         Sort = "faint"
	Spill         Sort = "spill"
	DeviceProblem Sort = "device-problem"
	ResultProblem Sort = "result-problem"
	Complaint     Sort = "complaint"
	Other         Sort = "other"
)

// Sorts lists the sorts in the order in which they are offered: those that cannot wait come first.
var Sorts = []Sort{SharpsInjury, Splash, Faint, Spill, DeviceProblem, ResultProblem, Complaint, Other}

// Valid reports whether s is one of Sorts.
func (s Sort) Valid() bool {
	for _, k := range Sorts {
		if s == k {
			return true
		}
	}
	return false
}

// Exposure reports whether blood may have got into somebody.
func (s Sort) Exposure() bool { return s == SharpsInjury || s == Splash }

// Signs reports whether a lead or supervisor must be told at once and signs the end.
func (s Sort) Signs() bool { return s.Exposure() || s == Faint }

// The answers of the form.
var (
	Devices      = []string{"safety-lancet", "lancet", "needle", "glass", "other"}
	Sites        = []string{"eye", "mouth", "broken-skin"}
	Phases       = []string{"before-use", "during-use", "after-use", "disposal", "other"}
	Hurt         = []string{"lead", "supervisor", "screener", "counsellor", "desk", "runner", "participant", "visitor", "other"}
	SharpsStates = []string{"below-three-quarters", "three-quarters-or-more", "overfull-or-open", "out-of-reach", "not-known"}
)

// Done is one step with when it happened, when it was typed in, and by whom.
type Done struct {
	Step
	At       time.Time `json:"at"`
	Recorded string    `json:"recorded"` // hybrid logical clock of the entry
	By       string    `json:"by"`
}

// Mark is when the form was filled in.
type Mark struct {
	At       time.Time `json:"at"`
	Recorded string    `json:"recorded"`
	By       string    `json:"by"`
}

// State is an incident as it stands.
type State struct {
	ID       string    `json:"id"`
	Report   Reported  `json:"report"`
	At       time.Time `json:"at"` // when it happened, as it was first said
	Recorded string    `json:"recorded"`
	By       string    `json:"by"` // who reported it

	Details *Described `json:"details,omitempty"`
	Written []Mark     `json:"written,omitempty"` // each time the form was filled in
	Steps   []Done     `json:"steps,omitempty"`   // in order of time

	Closed      *Closed    `json:"closed,omitempty"`
	ClosedAt    time.Time  `json:"closed_at,omitzero"`
	ClosedBy    string     `json:"closed_by,omitempty"`
	Withdrawn   *Withdrawn `json:"withdrawn,omitempty"`
	WithdrawnAt time.Time  `json:"withdrawn_at,omitzero"`
	WithdrawnBy string     `json:"withdrawn_by,omitempty"`
}

// New gives an incident before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Index keeps the incidents of an event in the order in which they were said to happen.
func (s *State) Index() (parent, label string) {
	return s.Report.Event, s.At.UTC().Format("2006-01-02T15:04:05.000") + " " + s.ID
}

// Mentions points at the meter, the lot and the ticket that it touches, and at a station that is shut by a spill.
func (s *State) Mentions() []fact.Mention {
	var out []fact.Mention
	for _, m := range []fact.Mention{{Name: "meter", Value: s.Meter()}, {Name: "strip-lot", Value: s.StripLot()}, {Name: "visit", Value: s.Report.Visit}} {
		if m.Value != "" {
			m.At = s.At
			out = append(out, m)
		}
	}
	if s.Shuts() != "" {
		out = append(out, fact.Mention{Name: "shut", Value: s.Shuts(), At: s.At})
	}
	return out
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case Reported:
		s.Report, s.At, s.Recorded, s.By = b, r.At, r.Recorded, r.By
	case Described:
		s.Details = &b
		s.Written = append(s.Written, Mark{At: r.At, Recorded: r.Recorded, By: r.By})
	case Step:
		s.Steps = append(s.Steps, Done{Step: b, At: r.At, Recorded: r.Recorded, By: r.By})
		sort.SliceStable(s.Steps, func(i, j int) bool { return s.Steps[i].At.Before(s.Steps[j].At) })
	case Closed:
		s.Closed, s.ClosedAt, s.ClosedBy = &b, r.At, r.By
	case Withdrawn:
		s.Withdrawn, s.WithdrawnAt, s.WithdrawnBy = &b, r.At, r.By
	}
}

// Open reports whether something is still to be done.
func (s *State) Open() bool { return s.Closed == nil && s.Withdrawn == nil }

// Happened is when it happened: as the form says, else as it was first said.
func (s *State) Happened() time.Time {
	if s.Details != nil && !s.Details.Happened.IsZero() {
		return s.Details.Happened
	}
	return s.At
}

// Meter is the meter that it is about: as the form says, else as it was reported.
func (s *State) Meter() string {
	if s.Details != nil && s.Details.Meter != "" {
		return s.Details.Meter
	}
	return s.Report.Meter
}

// StripLot is the lot of strips that it is about: as the form says, else as it was reported.
func (s *State) StripLot() string {
	if s.Details != nil && s.Details.StripLot != "" {
		return s.Details.StripLot
	}
	return s.Report.StripLot
}

// Shuts is the station at which nobody is tested until an open spill is cleaned up; "" for none.
func (s *State) Shuts() string {
	if s.Report.Sort == Spill && s.Open() {
		return s.Report.Station
	}
	return ""
}

// Last finds the latest step of a kind.
func (s *State) Last(step string) (Done, bool) {
	for i := len(s.Steps) - 1; i >= 0; i-- {
		if s.Steps[i].Step.Step == step {
			return s.Steps[i], true
		}
	}
	return Done{}, false
}

// Calls reports whether a lead or supervisor must come: the incident is open and nobody was told.
func (s *State) Calls() bool {
	_, told := s.Last(Told)
	return s.Open() && s.Report.Sort.Signs() && !told
}

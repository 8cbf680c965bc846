// Package competence is what a person has shown that they can do, as a subject of the record: quizzes, rehearsals, observed work,
// trainings held elsewhere, and the verifications that rest on them.
//
// A verification is never typed in as a fact of its own strength. It needs proof that the rules name, each with its day, and
// it stands only as long as every proof behind it: that is what Lacks and ValidUntil compute. The rules are data of the
// programme; the learning cards, the questions and the statistics of training live in parts of this package.
package competence

import (
	"slices"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/fact"
)

// Kind is the subject kind of a person's competence. Its id is the id of the person.
const Kind = "competence"

// Ref names the competence of one person.
func Ref(person string) fact.Ref { return fact.Ref{Kind: Kind, ID: person} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, QuizTaken{}, Rehearsed{}, Observed{}, SeenAgain{}, BloodborneTrained{}, HepatitisB{}, ModelTrained{}, WarmedUp{}, Taught{}, Granted{}, Withdrawn{})
	c.Subject(SetKind, NewSet, SetComposed{}, SetRetired{})
}

// The methods by which competence is shown. A rehearsal is practice and not one of them.
const (
	MethodQuiz     = "quiz"
	MethodObserved = "observed"
	MethodSample   = "sample" // a blind control or a split sample within its limits
)

// Entry is the place in the record where a proof comes from.
type Entry struct {
	FactID   string    `json:"fact_id"`
	At       time.Time `json:"at"`
	Recorder string    `json:"recorder,omitempty"` // person id
}

// Quiz is a quiz with where it comes from.
type Quiz struct {
	QuizTaken
	Entry
}

// Rehearsal is a rehearsal with where it comes from.
type Rehearsal struct {
	Rehearsed
	Entry
}

// Observation is an observation with where it comes from and whether it still counts.
type Observation struct {
	Observed
	Entry
	Ended
}

// Second is the form of a second observer with where it comes from.
type Second struct {
	SeenAgain
	Entry
}

// SignOff is a verification with what became of it.
type SignOff struct {
	Granted
	Entry
	Ended
}

// Ended is a withdrawal as seen from what it ended.
type Ended struct {
	Withdrawn   string     `json:"withdrawn,omitempty"` // reason; empty while it stands
	WithdrawnOn civil.Date `json:"withdrawn_on,omitzero"`
}

// stands reports whether it had not been withdrawn by a day.
func (e Ended) stands(day civil.Date) bool { return e.Withdrawn == "" || day.Before(e.WithdrawnOn) }

// end withdraws; of two withdrawals the earlier day holds.
func (e *Ended) end(b Withdrawn) {
	if e.stands(b.Day) {
		e.Withdrawn, e.WithdrawnOn = b.Reason, b.Day
	}
}

// Tries is how often somebody has not passed since the last pass or teaching.
type Tries struct {
	Failed int      `json:"failed,omitempty"`
	By     []string `json:"by,omitempty"`     // observers of the tries
	NotBy  []string `json:"not_by,omitempty"` // observers of an earlier round: the next one is somebody else
}

// State is the competence of a person as it stands. Lists are in the order of the record.
type State struct {
	ID           string              `json:"id"`
	Quizzes      []Quiz              `json:"quizzes,omitempty"`
	Rehearsals   []Rehearsal         `json:"rehearsals,omitempty"`
	Observations []Observation       `json:"observations,omitempty"`
	Seconds      []Second            `json:"seconds,omitempty"` // of second observers
	Bloodborne   []BloodborneTrained `json:"bloodborne,omitempty"`
	HepatitisB   []HepatitisB        `json:"hepatitis_b,omitempty"`
	Models       []ModelTrained      `json:"models,omitempty"`
	WarmUps      []WarmedUp          `json:"warm_ups,omitempty"`
	Teaching     []Taught            `json:"teaching,omitempty"`
	SignOffs     []SignOff           `json:"sign_offs,omitempty"`
	Tries        map[string]Tries    `json:"tries,omitempty"` // by method and level: "quiz/screener"
}

// New gives the competence of a person before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Mentions points at the observers, so that what somebody has signed can be found.
func (s *State) Mentions() []fact.Mention {
	var out []fact.Mention
	for _, o := range s.Observations {
		out = append(out, fact.Mention{Name: "observer", Value: o.Observer, At: o.At})
	}
	return out
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	from := Entry{FactID: r.ID, At: r.At, Recorder: r.By}
	switch b := r.Body.(type) {
	case QuizTaken:
		s.Quizzes = append(s.Quizzes, Quiz{b, from})
		s.try(MethodQuiz, b.Level, b.Passed, "")
	case Rehearsed:
		s.Rehearsals = append(s.Rehearsals, Rehearsal{b, from})
	case Observed:
		s.Observations = append(s.Observations, Observation{Observed: b, Entry: from})
		s.try(MethodObserved, b.Level, b.Passed, b.Observer)
	case SeenAgain:
		s.Seconds = append(s.Seconds, Second{b, from})
	case BloodborneTrained:
		s.Bloodborne = append(s.Bloodborne, b)
	case HepatitisB:
		s.HepatitisB = append(s.HepatitisB, b)
	case ModelTrained:
		s.Models = append(s.Models, b)
	case WarmedUp:
		s.WarmUps = append(s.WarmUps, b)
	case Taught:
		s.Teaching = append(s.Teaching, b)
		s.taught(b)
	case Granted:
		s.SignOffs = append(s.SignOffs, SignOff{Granted: b, Entry: from})
	case Withdrawn:
		s.withdraw(b)
	}
}

func tryKey(method string, l cards.Level) string { return method + "/" + string(l) }

// try counts an attempt. A pass ends the row.
func (s *State) try(method string, l cards.Level, passed bool, by string) {
	if s.Tries == nil {
		s.Tries = map[string]Tries{}
	}
	key := tryKey(method, l)
	if passed {
		delete(s.Tries, key)
		return
	}
	t := s.Tries[key]
	t.Failed++
	if by != "" && !slices.Contains(t.By, by) {
		t.By = append(slices.Clone(t.By), by)
	}
	s.Tries[key] = t
}

func (s *State) taught(b Taught) {
	key := tryKey(b.What, b.Level)
	if t, ok := s.Tries[key]; ok {
		s.Tries[key] = Tries{NotBy: t.By}
	}
}

func (s *State) withdraw(b Withdrawn) {
	for i := range s.SignOffs {
		if o := &s.SignOffs[i]; o.Level.Covers(b.Level) {
			o.end(b)
		}
	}
	for i := range s.Observations {
		if o := &s.Observations[i]; o.Level.Covers(b.Level) {
			o.end(b)
		}
	}
}

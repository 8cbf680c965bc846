package competence

import (
	"fairstick/internal/civil"
	"fairstick/internal/competence/cards"
	"fairstick/internal/glucose"
)

// QuizTaken is a quiz that somebody has finished, with everything by which it can be shown again.
type QuizTaken struct {
	Level          cards.Level `json:"level"`
	Day            civil.Date  `json:"day"`
	Language       string      `json:"language"`
	Seed           uint64      `json:"seed"`
	Protocol       string      `json:"protocol"` // version by which made questions were computed
	Answers        []Answered  `json:"answers"`  // in the order of the quiz
	Right          int         `json:"right"`
	Of             int         `json:"of"`
	CriticalMissed []string    `json:"critical_missed,omitempty"`
	Seconds        int         `json:"seconds,omitempty"`
	Late           bool        `json:"late,omitempty"`
	Passed         bool        `json:"passed"` // by the rules of that day
}

// Answered is one question of a quiz with what was chosen, in the words that were shown.
type Answered struct {
	Question string   `json:"question"`       // key
	Stem     string   `json:"stem,omitempty"` // of a made question, since its numbers are its own
	Chosen   []string `json:"chosen"`
	Right    bool     `json:"right"`
}

// FactKind implements fact.Body.
func (QuizTaken) FactKind() string { return "competence.quiz-taken" }

// Rehearsed is a practice day that somebody has finished. Nothing of it stands among real data. One that was done with the program has the version of
// its protocol and its decisions; one that a teacher held and judged has neither.
type Rehearsed struct {
	Level      cards.Level  `json:"level"`
	Day        civil.Date   `json:"day"`
	Seed       uint64       `json:"seed"`
	Right      int          `json:"right"` // decisions as the protocol has them
	Of         int          `json:"of"`
	Harm       int          `json:"harm,omitempty"`    // wrong ones that could have harmed somebody
	Spoiled    int          `json:"spoiled,omitempty"` // wrong ones by which a value could not be trusted
	Passed     bool         `json:"passed"`            // by the rules of that day
	Protocol   string       `json:"protocol,omitempty"`
	Unit       glucose.Unit `json:"unit,omitempty"`
	Language   string       `json:"language,omitempty"`
	Set        string       `json:"set,omitempty"`        // name of the set that a teacher composed; empty when drawn
	Situations []string     `json:"situations,omitempty"` // keys, in the order of the day
	Decisions  []Decided    `json:"decisions,omitempty"`
	Stopped    []Stopped    `json:"stopped,omitempty"`
	Seconds    int          `json:"seconds,omitempty"`
}

// Decided is one decision of a practice day, in the words that were shown.
type Decided struct {
	Decision string     `json:"decision"` // key
	Choice   string     `json:"choice"`   // key; empty when nothing was decided
	Chose    string     `json:"chose,omitempty"`
	Did      string     `json:"did,omitempty"`  // what was typed on the page of the day
	Gate     string     `json:"gate,omitempty"` // what the program would have said on the day
	Right    bool       `json:"right"`
	Harm     cards.Harm `json:"harm,omitempty"`
}

// Stopped is something that was tried on a page of a practice day, and that the program refused there as it does on the day.
type Stopped struct {
	Situation string `json:"situation"`
	Gate      string `json:"gate"` // key of the refusal
	Sentence  string `json:"sentence"`
}

// FactKind implements fact.Body.
func (Rehearsed) FactKind() string { return "competence.rehearsed" }

// Mark is what an observer saw of one step.
type Mark string

// The marks.
const (
	OK      Mark = "ok"
	Missed  Mark = "missed"
	NotSeen Mark = "not-seen" // it did not come up
)

// Observed is one observed fingerstick, or one observed hour of a role without it, step by step.
type Observed struct {
	Level          cards.Level     `json:"level"`
	Day            civil.Date      `json:"day"`
	Observer       string          `json:"observer"`        // person id
	SignedPerson   string          `json:"signed_person"`   // person id that was proved by PIN
	SignedObserver string          `json:"signed_observer"` // the same for the observer
	Model          string          `json:"model,omitempty"` // meter model in use
	Marks          map[string]Mark `json:"marks"`           // by step key
	Sample         *Sample         `json:"sample,omitempty"`
	Note           string          `json:"note,omitempty"`
	Passed         bool            `json:"passed"` // by the rules of that day
}

// FactKind implements fact.Body.
func (Observed) FactKind() string { return "competence.observed" }

// SeenAgain is the form of a second observer who watched the same fingerstick. It tells whether two observers see the same; it is no
// observation of its own and counts for nothing else.
type SeenAgain struct {
	Of             string          `json:"of"` // fact id of the first observer's form
	Day            civil.Date      `json:"day"`
	Observer       string          `json:"observer"`        // person id
	SignedObserver string          `json:"signed_observer"` // person id that was proved by PIN
	Marks          map[string]Mark `json:"marks"`           // by step key
	Note           string          `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (SeenAgain) FactKind() string { return "competence.seen-again" }

// The kinds of sample.
const (
	BlindControl = "blind-control" // a control whose level the person did not know
	SplitSample  = "split-sample"  // the same blood by the person and by the verifier
)

// Sample is a test whose truth the observer knows.
type Sample struct {
	Kind    string          `json:"kind"`
	Reading glucose.Reading `json:"reading"`        // of the person observed
	Low     glucose.Value   `json:"low,omitzero"`   // of a blind control: its printed range
	High    glucose.Value   `json:"high,omitzero"`  //
	Other   glucose.Reading `json:"other,omitzero"` // of a split sample: what the verifier read
	Within  bool            `json:"within"`         // by the rules of that day
}

// BloodborneTrained is the record of a training on bloodborne pathogens that was held elsewhere.
type BloodborneTrained struct {
	Day civil.Date `json:"day"`
	By  string     `json:"by"` // who held it, in words
}

// FactKind implements fact.Body.
func (BloodborneTrained) FactKind() string { return "competence.bloodborne-trained" }

// HepatitisB is what the college says, and nothing more: cleared for work with blood, or not. Vaccination, titre and refusal
// belong to the college; there is no field for them.
type HepatitisB struct {
	Day     civil.Date `json:"day"`
	Cleared bool       `json:"cleared"`
}

// FactKind implements fact.Body.
func (HepatitisB) FactKind() string { return "competence.hepatitis-b" }

// ModelTrained says that a person was trained on a meter model with the instructions of an edition.
type ModelTrained struct {
	Model   string     `json:"model"`
	Edition string     `json:"edition,omitempty"` // of its instructions
	Day     civil.Date `json:"day"`
	By      string     `json:"by"` // person id
}

// FactKind implements fact.Body.
func (ModelTrained) FactKind() string { return "competence.model-trained" }

// WarmedUp is the refresher of somebody who has not tested for a while.
type WarmedUp struct {
	Day civil.Date `json:"day"`
	How string     `json:"how"` // "control-run" or "observed-test"
	By  string     `json:"by"`  // person id of who watched
}

// FactKind implements fact.Body.
func (WarmedUp) FactKind() string { return "competence.warmed-up" }

// Taught says that somebody was taught again after the attempts were used up.
type Taught struct {
	What  string      `json:"what"` // MethodQuiz or MethodObserved
	Level cards.Level `json:"level"`
	Day   civil.Date  `json:"day"`
	By    string      `json:"by"` // person id
	Note  string      `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Taught) FactKind() string { return "competence.taught" }

// Granted is a verification: another person's word, on proof, that this one may work at a level.
type Granted struct {
	Level   cards.Level `json:"level"`
	From    civil.Date  `json:"from"`
	Until   civil.Date  `json:"until"` // lasts to the end of this day
	By      string      `json:"by"`    // person id
	Methods []string    `json:"methods,omitempty"`
	Note    string      `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Granted) FactKind() string { return "competence.granted" }

// Withdrawn ends the verifications of a level and of those above it from a day on, and takes the observations made by then with
// them. What somebody might do on an earlier day stays as it was.
type Withdrawn struct {
	Level  cards.Level `json:"level"`
	Day    civil.Date  `json:"day"`
	Reason string      `json:"reason"`
	By     string      `json:"by"` // person id
}

// FactKind implements fact.Body.
func (Withdrawn) FactKind() string { return "competence.withdrawn" }

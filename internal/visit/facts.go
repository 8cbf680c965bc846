package visit

import (
	"time"

	"fairstick/internal/about"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// Arrived begins a visit: the ticket is handed out.
type Arrived struct {
	Event    string `json:"event"`
	Ticket   int    `json:"ticket"`
	Language string `json:"language"`
	Form     int    `json:"form,omitempty"`  // number of the paper form from which the visit was typed
	Paper    string `json:"paper,omitempty"` // digest of the paper as it was typed, without personal data
}

// FactKind implements fact.Body.
func (Arrived) FactKind() string { return "visit.arrived" }

// Consented is the participant's yes to a consent text, whose version and language are kept.
type Consented struct {
	Version  string `json:"version"`
	Language string `json:"language"`
	How      string `json:"how"` // "read", "read-aloud", "interpreter"
}

// FactKind implements fact.Body.
func (Consented) FactKind() string { return "visit.consented" }

// Declined is a no: to the consent or, later, to the fingerstick.
type Declined struct {
	What   string `json:"what"` // "consent" or "fingerstick"
	Reason string `json:"reason,omitempty"`
}

// FactKind implements fact.Body.
func (Declined) FactKind() string { return "visit.declined" }

// Answered is the protocol's questions with the answers and what the protocol made of them then.
type Answered struct {
	Answers  protocol.Answers `json:"answers"`
	Eligible bool             `json:"eligible"`
	Reason   string           `json:"reason,omitempty"`  // key of the question that excludes
	Counted  string           `json:"counted,omitempty"` // how the report counts it
	Barred   []string         `json:"barred,omitempty"`  // strip chemistries that must not be used
	Cautions []protocol.Text  `json:"cautions,omitempty"`
	Protocol string           `json:"protocol"` // version
}

// FactKind implements fact.Body.
func (Answered) FactKind() string { return "visit.answered" }

// Ate is the last food or drink with calories.
type Ate struct {
	Known bool      `json:"known"`
	Last  time.Time `json:"last"`
}

// FactKind implements fact.Body.
func (Ate) FactKind() string { return "visit.ate" }

// AboutTold is what a participant chose to say about themself, with the questions that were asked. It names nobody and no place smaller than
// the area of a ZIP code's first 3 digits, so that it is not sealed. A later one replaces the answers to the same questions.
type AboutTold struct {
	Asked   []string      `json:"asked"`             // keys of package about
	Answers about.Answers `json:"answers,omitempty"` // codes; a question that was asked and is not here was passed over
}

// FactKind implements fact.Body.
func (AboutTold) FactKind() string { return "visit.about-told" }

// ContactGiven is the personal data of a participant who allows contact, sealed with the key of this visit.
type ContactGiven struct {
	Sealed []byte `json:"sealed"`
	Call   bool   `json:"call"`           // may we call about the result
	Post   bool   `json:"post,omitempty"` // a postal address is among it
}

// FactKind implements fact.Body.
func (ContactGiven) FactKind() string { return "visit.contact-given" }

// ContactRefused says that the participant wants no contact; no name is kept.
type ContactRefused struct{}

// FactKind implements fact.Body.
func (ContactRefused) FactKind() string { return "visit.contact-refused" }

// ContactErased says that the personal data of the visit was destroyed with its key. Whoever keeps this fact destroys the
// key too: on this laptop in the same moment, on another one when the fact comes there.
type ContactErased struct {
	Reason string `json:"reason"`        // asked, retention, mistake
	Signed string `json:"signed"`        // person id of the lead
	Run    string `json:"run,omitempty"` // fact id of the erasure of a whole class that it is part of
}

// FactKind implements fact.Body.
func (ContactErased) FactKind() string { return "visit.contact-erased" }

// Called says that a station has taken up the ticket.
type Called struct {
	Step    Phase  `json:"step"` // AtTest or AtExplain
	Station string `json:"station"`
}

// FactKind implements fact.Body.
func (Called) FactKind() string { return "visit.called" }

// PutBack says that a station has put the ticket back in the line.
type PutBack struct {
	Reason string `json:"reason,omitempty"`
}

// FactKind implements fact.Body.
func (PutBack) FactKind() string { return "visit.put-back" }

// The purposes of a reading.
const (
	First   = "first"
	Repeat  = "repeat"
	Recheck = "recheck" // after sugar; never counts
)

// ReadingTaken is what a meter showed, with everything a look-back needs.
type ReadingTaken struct {
	Purpose    string          `json:"purpose"`
	Reading    glucose.Reading `json:"reading"`
	Meter      string          `json:"meter"`
	StripLot   string          `json:"strip_lot"`
	Vial       string          `json:"vial"`
	Station    string          `json:"station"`
	Supervisor string          `json:"supervisor"`
	NewStick   bool            `json:"new_stick"` // a new lancet was used for this strip
	Misfires   int             `json:"misfires"`  // lancets that did not work and went into sharps unused
	Washed     bool            `json:"washed"`    // soap and water; otherwise wiped, second drop
	ReadBack   string          `json:"read_back"` // "typed-twice" or the id of the second person
	Reason     string          `json:"reason,omitempty"`
	Screener   string          `json:"screener,omitempty"` // who took it, when somebody else wrote it down here
	From       *MovedFrom      `json:"from,omitempty"`     // it was first written under another ticket
}

// MovedFrom says where a reading stood before it was moved to the ticket of the person it was taken from.
type MovedFrom struct {
	Visit   string `json:"visit"`
	Reading string `json:"reading"` // fact id there
}

// FactKind implements fact.Body.
func (ReadingTaken) FactKind() string { return "visit.reading-taken" }

// LancetBinned says that the lancet went straight into the sharps container.
type LancetBinned struct {
	Station string `json:"station"`
}

// FactKind implements fact.Body.
func (LancetBinned) FactKind() string { return "visit.lancet-binned" }

// Found is what the protocol concluded from the readings so far. A later one replaces it.
type Found struct {
	Finding *protocol.Finding `json:"finding,omitempty"`
	Counts  string            `json:"counts,omitempty"` // fact id of the reading that counts
	Why     string            `json:"why"`
	Repeat  bool              `json:"repeat"` // a repeat is due before the result is given
	Because string            `json:"because,omitempty"`
}

// FactKind implements fact.Body.
func (Found) FactKind() string { return "visit.found" }

// CareOpened says that a reading or a sign needs action that must be written down to its end.
type CareOpened struct {
	Cause   string `json:"cause"` // critical-high, critical-low, low, signs
	Station string `json:"station,omitempty"`
	Note    string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (CareOpened) FactKind() string { return "visit.care-opened" }

// CareStep is one act of care with its time.
type CareStep struct {
	Step   string   `json:"step"`
	Choice string   `json:"choice,omitempty"`
	Signs  []string `json:"signs,omitempty"`
	Note   string   `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (CareStep) FactKind() string { return "visit.care-step" }

// CareSigned ends care under a supervisor's name.
type CareSigned struct {
	Supervisor string `json:"supervisor"`
	Note       string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (CareSigned) FactKind() string { return "visit.care-signed" }

// Explained says that the finding was explained, in which language, and how the teach-back went.
type Explained struct {
	Language  string `json:"language"`
	TeachBack string `json:"teach_back"` // "own-words", "again", "not-asked"
	Station   string `json:"station,omitempty"`
}

// FactKind implements fact.Body.
func (Explained) FactKind() string { return "visit.explained" }

// SlipIssued says that a result slip was handed over.
type SlipIssued struct {
	Language string `json:"language"`
	Size     string `json:"size,omitempty"`
	Finding  string `json:"finding"` // fact id of the finding it shows
}

// FactKind implements fact.Body.
func (SlipIssued) FactKind() string { return "visit.slip-issued" }

// Referred is the advice to see someone, and whether the programme may call about it.
type Referred struct {
	Route  string    `json:"route"`
	By     time.Time `json:"by"` // be seen by
	Agreed bool      `json:"agreed"`
	Call   bool      `json:"call"`
}

// FactKind implements fact.Body.
func (Referred) FactKind() string { return "visit.referred" }

// Left says that the participant went away before the end.
type Left struct {
	Where  Phase  `json:"where"`
	Reason string `json:"reason,omitempty"`
}

// FactKind implements fact.Body.
func (Left) FactKind() string { return "visit.left" }

// Finished ends a visit that went its whole way.
type Finished struct{}

// FactKind implements fact.Body.
func (Finished) FactKind() string { return "visit.finished" }

// ReadingMoved stands, as a correction, in the place of a reading that was taken from the person of another ticket.
type ReadingMoved struct {
	To      string `json:"to"`      // visit id
	Reading string `json:"reading"` // fact id there
}

// FactKind implements fact.Body.
func (ReadingMoved) FactKind() string { return "visit.reading-moved" }

// Corrected is the signed act of a correction: what it changed and who answers for it. The corrections themselves stand
// in the facts that they correct.
type Corrected struct {
	Kind    string        `json:"kind"`           // for example "reading", "ticket", "food"
	Fact    string        `json:"fact,omitempty"` // fact id of what was corrected first
	Changes []fact.Change `json:"changes"`
	Reason  string        `json:"reason"`
	Signed  string        `json:"signed"`                  // person id
	Late    bool          `json:"after_closing,omitempty"` // the event had been closed
}

// FactKind implements fact.Body.
func (Corrected) FactKind() string { return "visit.corrected" }

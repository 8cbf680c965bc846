package programme

import (
	"context"
	"errors"
	"fmt"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/fault"
	"fairstick/internal/protocol"
)

// What became of a participant, as a paper form says it.
const (
	PaperTested        = "tested"
	PaperLeft          = "left"
	PaperNotEligible   = "not-eligible"
	PaperNoConsent     = "declined-consent"
	PaperNoFingerstick = "declined-fingerstick"
)

// PaperOutcomes lists the outcomes in the order of the form.
var PaperOutcomes = []string{PaperTested, PaperLeft, PaperNotEligible, PaperNoConsent, PaperNoFingerstick}

// MostPaperReadings is how many readings one form has room for.
const MostPaperReadings = 6

// PaperVisit is one visit as it stands on paper. Times are those of the paper; a zero time was not written down. People,
// meters, lots and disinfectants are ids.
type PaperVisit struct {
	Form     int       `json:"form,omitempty"` // serial number of the form; 0 when it has none
	Row      string    `json:"row,omitempty"`  // the own key of a row without a form number; unique in the event
	Language string    `json:"language"`
	Arrived  time.Time `json:"arrived"`
	Outcome  string    `json:"outcome"`
	Reason   string    `json:"reason,omitempty"` // why they declined or left

	Consent *PaperConsent    `json:"consent,omitempty"`
	Answers protocol.Answers `json:"answers,omitempty"` // by the keys of the protocol's questions
	Ate     *PaperAte        `json:"ate,omitempty"`     // nil: not asked
	Contact *PaperContact    `json:"contact,omitempty"` // nil: not asked
	About   about.Answers    `json:"about,omitempty"`   // by question: none for one that was passed over

	Called    time.Time       `json:"called,omitzero"` // to the test
	Readings  []PaperReading  `json:"readings,omitempty"`
	Care      *PaperCare      `json:"care,omitempty"`
	Talk      time.Time       `json:"talk,omitzero"` // called to Explain
	Explained *PaperExplained `json:"explained,omitempty"`
	Slip      *PaperSlip      `json:"slip,omitempty"`
	Referral  *PaperReferral  `json:"referral,omitempty"`
	Told      protocol.Band   `json:"told,omitempty"` // the band that was ticked on the form; empty: not compared
	Ended     time.Time       `json:"ended,omitzero"` // zero: the person is still here
}

// PaperConsent is a yes to the consent text that is printed on the form.
type PaperConsent struct {
	At      time.Time `json:"at"`
	How     string    `json:"how"`               // "read", "read-aloud" or "interpreter"
	Version string    `json:"version,omitempty"` // of the text; empty for the one in force at the event
}

// PaperAte is the last food or drink with calories.
type PaperAte struct {
	Known bool      `json:"known"`
	Last  time.Time `json:"last,omitzero"`
}

// PaperContact is the answer to the question for contact. Name, number and time to call are kept sealed.
type PaperContact struct {
	Allow bool   `json:"allow"`
	Call  bool   `json:"call,omitempty"`
	Name  string `json:"-"`
	Phone string `json:"-"`
	When  string `json:"-"`
}

// PaperReading is one reading on paper.
type PaperReading struct {
	At       time.Time `json:"at"`
	Purpose  string    `json:"-"`     // empty: it follows from the readings before it; else it must agree with them
	Shown    string    `json:"shown"` // as on the meter: 112, LO, HI, E-3
	Again    string    `json:"-"`     // typed a second time; compared when it is not empty
	Meter    string    `json:"meter"`
	StripLot string    `json:"strip_lot"`
	Vial     string    `json:"vial"`
	Station  string    `json:"station,omitempty"`
	Screener string    `json:"screener"`
	SameDrop bool      `json:"same_drop,omitempty"` // no new lancet: the drop was used again after a meter error
	Misfires int       `json:"misfires,omitempty"`  // lancets that did not work
	Washed   bool      `json:"washed"`
	ReadBy   string    `json:"read_by,omitempty"` // second person who read the meter; empty: the form has one hand only
	Sharps   bool      `json:"sharps,omitempty"`  // the lancets were seen into sharps
	WipedAt  time.Time `json:"wiped_at,omitzero"` // the meter, after this reading
	Wipe     string    `json:"wipe,omitempty"`    // disinfectant; empty: the only one that the meter's review allows
	Reason   string    `json:"reason,omitempty"`  // for a repeat that no rule asks for
}

// PaperCare is the care that was written down, to the supervisor's name under it. Without a name it stays open.
type PaperCare struct {
	Steps    []PaperCareStep `json:"steps,omitempty"`
	SignedAt time.Time       `json:"signed_at,omitzero"`
	SignedBy string          `json:"signed_by,omitempty"`
	Note     string          `json:"note,omitempty"`
}

// PaperCareStep is one act of care. Step is "seen" (somebody looked unwell), "supervisor", "signs", "sugar", "action",
// "handover" or "arrived"; Choice is as in CareStep, and for "supervisor" nothing: By names them.
type PaperCareStep struct {
	At     time.Time `json:"at"`
	By     string    `json:"by,omitempty"`
	Step   string    `json:"step"`
	Choice string    `json:"choice,omitempty"`
	Signs  []string  `json:"signs,omitempty"`
	Note   string    `json:"note,omitempty"`
}

// PaperExplained says who explained the finding.
type PaperExplained struct {
	At        time.Time `json:"at"`
	By        string    `json:"by"`
	Language  string    `json:"language,omitempty"` // empty: that of the visit
	TeachBack string    `json:"teach_back"`         // "own-words", "again" or "not-asked"
	Station   string    `json:"station,omitempty"`
}

// PaperSlip says that a slip was handed over when the finding was explained.
type PaperSlip struct {
	Language string `json:"language,omitempty"` // empty: that of the visit
	Size     string `json:"size,omitempty"`     // empty: half-letter
}

// PaperReferral is the place to which the participant was referred.
type PaperReferral struct {
	Route  string `json:"route"`
	Agreed bool   `json:"agreed"`
}

// Irregular is a gate that would have refused on the day. What happened has happened: it is recorded once a lead or a
// supervisor signs a reason, and stands on the report.
type Irregular struct {
	Key      string `json:"key"`      // of the gate, for example "not-cleared"
	Sentence string `json:"sentence"` // what is not as it should be
	Field    string `json:"field"`    // of the form, for example "reading1_meter"
}

// EnterPaper types in one visit that happened on paper. Dry tries everything and records nothing.
type EnterPaper struct {
	Act    // At is not used: the paper has its own times
	Event  string
	Visit  PaperVisit
	Accept Sign   // of a lead or supervisor, when something is irregular
	Reason string // why it is recorded all the same
	Dry    bool
}

// EnteredPaper is what came of a form. Until Recorded is true nothing is in the record.
type EnteredPaper struct {
	ID        string            `json:"id"`
	Ticket    int               `json:"ticket"`
	Recorded  bool              `json:"recorded"`
	Irregular []Irregular       `json:"irregular,omitempty"`
	Finding   *protocol.Finding `json:"finding,omitempty"`
}

// EnterPaper records a visit with the times of the paper; when it was typed is kept by the record itself. Nonsense is
// refused with a message by field: those of readings are reading1_time, reading1_value, reading1_meter and so on, those of
// answers answer_KEY. Gates that were shut on the day come as Irregular: without a signature the error is "irregular",
// the list is in the answer, and nothing was recorded. Whoever may work at the desk may type.
func (p *Programme) EnterPaper(ctx context.Context, a Actor, c EnterPaper) (EnteredPaper, error) {
	who, err := p.accepts(ctx, c.Accept, c.Reason)
	if err != nil {
		return EnteredPaper{}, err
	}
	h, err := p.paperHistory(ctx, c.Event)
	if err != nil {
		return EnteredPaper{}, err
	}
	act := Act{ID: c.ID}
	if c.Dry {
		act.ID = ""
	}
	var tried EnteredPaper
	out, err := do(ctx, p, a, act, "paper.enter", func(w *work) (EnteredPaper, error) {
		if err := w.need(deskRoles...); err != nil {
			return EnteredPaper{}, err
		}
		d, err := w.paperDay(c.Event, h)
		if err != nil {
			return EnteredPaper{}, err
		}
		tried, err = d.enter(c.Visit)
		switch {
		case errors.Is(err, errThere), errors.Is(err, errDiffer):
			return EnteredPaper{}, d.typedAlready(c.Visit.Form)
		case err != nil:
			return EnteredPaper{}, err
		}
		if c.Dry {
			return EnteredPaper{}, errDry
		}
		if err := d.accept(tried, c.Visit.Form, who, c.Reason); err != nil {
			return EnteredPaper{}, err
		}
		tried.Recorded = true
		return tried, nil
	})
	switch {
	case isDry(err):
		tried.Recorded, tried.ID, tried.Ticket = false, "", 0
		return tried, nil
	case fault.Is(err, "irregular"):
		return EnteredPaper{Irregular: tried.Irregular, Finding: tried.Finding}, err
	}
	return out, err
}

// typedAlready refuses a form that was typed in before.
func (d *paperDay) typedAlready(form int) error {
	was := d.forms[form]
	if was == nil {
		return fault.New(fault.Conflict, "form-typed", "This visit was typed in already.", "Twice in the record, it would count twice.", "Look it up on the board.")
	}
	return fault.New(fault.Conflict, "form-typed", fmt.Sprintf("Form %d was typed in already, as ticket %03d.", form, was.Ticket), "Twice in the record, it would count twice.",
		"Look at the number on the form; a mistake in what was typed is put right by a correction.").Field("form", "This form was typed in already.")
}

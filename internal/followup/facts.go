package followup

import "fairstick/internal/civil"

// Begun ties the follow-up to its visit. It is made with the first fact of a follow-up; two laptops that begin at once say
// the same.
type Begun struct {
	Event  string `json:"event"`
	Ticket int    `json:"ticket"`
}

// FactKind implements fact.Body.
func (Begun) FactKind() string { return "followup.begun" }

// ContactOpened says that the sealed name and number were shown to somebody. From then on the person is held for whoever
// opened them, until an attempt is written down, they put the person back, or the time is up.
type ContactOpened struct{}

// FactKind implements fact.Body.
func (ContactOpened) FactKind() string { return "followup.contact-opened" }

// PutBack says that whoever held the person does not call now.
type PutBack struct{}

// FactKind implements fact.Body.
func (PutBack) FactKind() string { return "followup.put-back" }

// AttemptMade is one try to reach the person. Its time is that of the fact.
type AttemptMade struct {
	Channel  Channel  `json:"channel"`
	Happened Happened `json:"happened"`
	Caller   string   `json:"caller,omitempty"` // person id, when somebody else wrote it down
	Note     []byte   `json:"note,omitempty"`   // sealed with the key of the visit
}

// FactKind implements fact.Body.
func (AttemptMade) FactKind() string { return "followup.attempt-made" }

// OutcomeTold is what became of the referral as it was told. The one that was told last stands.
type OutcomeTold struct {
	Outcome Outcome    `json:"outcome"`
	On      civil.Date `json:"on,omitzero"`       // Seen: the day; Scheduled: the day of the appointment
	Reason  Reason     `json:"reason,omitempty"`  // NotYet and Declined
	Source  Source     `json:"source"`            // who said so
	Attempt string     `json:"attempt,omitempty"` // fact id of the attempt in which it was told
	Note    []byte     `json:"note,omitempty"`    // sealed with the key of the visit
}

// FactKind implements fact.Body.
func (OutcomeTold) FactKind() string { return "followup.outcome-told" }

// ResultTold is the result of a confirming test as the person told it. It is their word about what a clinician found and never
// a finding of this programme.
type ResultTold struct {
	Test  Test       `json:"test"`
	Value string     `json:"value,omitempty"` // digits as told
	Unit  string     `json:"unit,omitempty"`  // one of Units
	On    civil.Date `json:"on,omitzero"`
	Said  Said       `json:"said"` // what the clinician said, in a word
}

// FactKind implements fact.Body.
func (ResultTold) FactKind() string { return "followup.result-told" }

// HandedOver gives the person to another caller.
type HandedOver struct {
	To   string `json:"to"`             // person id
	Note []byte `json:"note,omitempty"` // sealed with the key of the visit
}

// FactKind implements fact.Body.
func (HandedOver) FactKind() string { return "followup.handed-over" }

// LetterMade says that a letter was made to be sent or handed over.
type LetterMade struct {
	To       Addressee `json:"to"`
	Language string    `json:"language"`
}

// FactKind implements fact.Body.
func (LetterMade) FactKind() string { return "followup.letter-made" }

// Package visit is one participant's way through one event as a subject of the record: ticket, consent, eligibility, last
// food, readings, finding, care, explanation, referral. A visit needs no name; personal data stands sealed in facts of
// its own.
package visit

import (
	"cmp"
	"fmt"
	"sort"
	"time"

	"fairstick/internal/about"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// Kind is the subject kind of a visit.
const Kind = "visit"

// Ref names one visit.
func Ref(id string) fact.Ref { return fact.Ref{Kind: Kind, ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Arrived{}, Consented{}, Declined{}, Answered{}, Ate{}, AboutTold{}, ContactGiven{}, ContactRefused{}, Called{},
		PutBack{}, ReadingTaken{}, LancetBinned{}, Found{}, CareOpened{}, CareStep{}, CareSigned{}, Explained{},
		SlipIssued{}, Referred{}, Left{}, Finished{}, ReadingMoved{}, Corrected{}, ContactErased{})
}

// Phase is where a visit stands.
type Phase string

// The phases of a visit. Those from Done on are its ends.
const (
	AtDesk      Phase = "desk"
	AtTest      Phase = "test"
	AtExplain   Phase = "explain"
	Done        Phase = "done"
	Gone        Phase = "left"
	NotEligible Phase = "not-eligible"
	HasDeclined Phase = "declined"
)

// Reading is one reading with who took it and when.
type Reading struct {
	ReadingTaken
	ID string    `json:"id"`
	At time.Time `json:"at"`
	By string    `json:"by"` // the screener
}

// Step is one act of care with who did it and when.
type Step struct {
	CareStep
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Care is an open or finished course of action for a reading or a sign that cannot wait.
type Care struct {
	CareOpened
	At       time.Time   `json:"at"`
	By       string      `json:"by"`
	Steps    []Step      `json:"steps,omitempty"`
	Signed   *CareSigned `json:"signed,omitempty"`
	SignedAt time.Time   `json:"signed_at"`
}

// Critical reports whether the care was opened by something that must be shown on every screen.
func (c Care) Critical() bool { return c.Cause != string(protocol.Low) }

// Last finds the latest step of a kind.
func (c Care) Last(step string) (Step, bool) {
	for i := len(c.Steps) - 1; i >= 0; i-- {
		if c.Steps[i].Step == step {
			return c.Steps[i], true
		}
	}
	return Step{}, false
}

// State is a visit as it stands.
type State struct {
	ID       string `json:"id"`
	Event    string `json:"event"`
	Ticket   int    `json:"ticket"`
	Language string `json:"language"`
	Form     int    `json:"form,omitempty"`  // number of the paper form; 0 for none
	Paper    string `json:"paper,omitempty"` // digest of the paper; empty when it was recorded live

	Consent  *Consented    `json:"consent,omitempty"`
	Declined *Declined     `json:"declined,omitempty"`
	Answers  *Answered     `json:"answers,omitempty"`
	Ate      *Ate          `json:"ate,omitempty"`
	About    about.Answers `json:"about,omitempty"`   // by question: none for one that was passed over; no key for one that was not asked
	Contact  *bool         `json:"contact,omitempty"` // nil: not asked; true: sealed contact is there
	Call     bool          `json:"call"`
	Post     bool          `json:"post,omitempty"` // a postal address is sealed with it
	Sealed   []byte        `json:"sealed,omitempty"`
	Erasure  *Erasure      `json:"erasure,omitempty"` // the contact was destroyed; the permissions stay as they were given

	Taken    *Called   `json:"taken,omitempty"` // the station that has the ticket now
	TakenBy  string    `json:"taken_by,omitempty"`
	Readings []Reading `json:"readings,omitempty"`
	Binned   int       `json:"binned"` // lancets seen into sharps
	Found    *Found    `json:"found,omitempty"`
	FoundID  string    `json:"found_id,omitempty"`
	Care     *Care     `json:"care,omitempty"`

	Explained  *Explained  `json:"explained,omitempty"`
	Told       string      `json:"told,omitempty"` // fact id of the finding that was explained
	Counsellor string      `json:"counsellor,omitempty"`
	Slips      []SlipGiven `json:"slips,omitempty"`
	Referral   *Referred   `json:"referral,omitempty"`
	Left       *Left       `json:"left,omitempty"`
	Finished   bool        `json:"finished"`

	Corrections []Correction `json:"corrections,omitempty"`

	Times Times `json:"times"`
}

// Erasure is the end of the personal data of a visit.
type Erasure struct {
	ContactErased
	At time.Time `json:"at"`
}

// Erased reports whether the personal data was destroyed. The store asks it, and keeps no key for what was erased.
func (s *State) Erased() bool { return s.Erasure != nil }

// SlipGiven is a slip with when it was handed over.
type SlipGiven struct {
	SlipIssued
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Correction is a signed correction with when it was made and by whom it was typed.
type Correction struct {
	Corrected
	ID string    `json:"id"`
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// Times are the moments from which waits are counted; zero until they come.
type Times struct {
	Arrived     time.Time `json:"arrived"`
	DeskDone    time.Time `json:"desk_done"`
	TestCalled  time.Time `json:"test_called"`
	FirstRead   time.Time `json:"first_read"`
	Found       time.Time `json:"found"` // the finding that needs no repeat
	ExplCalled  time.Time `json:"explain_called"`
	Explained   time.Time `json:"explained"`
	Ended       time.Time `json:"ended"`
	LastTouched time.Time `json:"last_touched"`
}

// New gives a visit before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Index keeps the visits of an event in the order of their tickets.
func (s *State) Index() (parent, label string) { return s.Event, fmt.Sprintf("%06d", s.Ticket) }

// Mentions points at the meters, lots, vials and people of the readings, at a contact that is kept or was erased with others, at open
// care, and at a finding that asks for a referral.
func (s *State) Mentions() []fact.Mention {
	var out []fact.Mention
	for _, r := range s.Readings {
		out = append(out,
			fact.Mention{Name: "meter", Value: r.Meter, At: r.At},
			fact.Mention{Name: "strip-lot", Value: r.StripLot, At: r.At},
			fact.Mention{Name: "vial", Value: r.StripLot + "/" + r.Vial, At: r.At},
			fact.Mention{Name: "screener", Value: r.By, At: r.At})
	}
	if len(s.Sealed) > 0 {
		out = append(out, fact.Mention{Name: "contact", Value: "kept", At: s.Times.Arrived})
	}
	if s.Erasure != nil && s.Erasure.Run != "" {
		out = append(out, fact.Mention{Name: "erased", Value: s.Erasure.Run, At: s.Times.Arrived})
	}
	if s.Care != nil && s.Care.Signed == nil {
		out = append(out, fact.Mention{Name: "care", Value: "open", At: s.Care.At})
	}
	if s.Refers() {
		out = append(out, fact.Mention{Name: "referral", Value: "asked", At: s.Times.FirstRead})
	}
	return out
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	s.Times.LastTouched = r.At
	before := s.Phase()
	switch b := r.Body.(type) {
	case Arrived:
		s.Event, s.Ticket, s.Language, s.Times.Arrived = b.Event, b.Ticket, b.Language, r.At
		s.Form, s.Paper = b.Form, b.Paper
		return
	case Consented:
		s.Consent = &b
	case Declined:
		s.Declined = &b
	case Answered:
		s.Answers = &b
	case Ate:
		s.Ate = &b
	case AboutTold:
		s.told(b)
	case ContactGiven:
		yes := true
		s.Contact, s.Call, s.Sealed, s.Post = &yes, b.Call, b.Sealed, b.Post
		if s.Erasure != nil { // it came late from a laptop that did not know
			s.Sealed, s.Post = nil, false
		}
	case ContactRefused:
		no := false
		s.Contact, s.Call, s.Sealed, s.Post = &no, false, nil, false
	case ContactErased:
		s.Sealed, s.Post, s.Erasure = nil, false, &Erasure{ContactErased: b, At: r.At}
	case Called:
		s.called(b, r)
	case PutBack:
		s.Taken, s.TakenBy = nil, ""
	case ReadingTaken:
		s.read(b, r)
	case LancetBinned:
		s.Binned++
	case Found:
		s.Found, s.FoundID = &b, r.ID
	default:
		s.afterTest(r)
	}
	s.moved(before, r.At)
}

// afterTest applies the facts that come after the reading.
func (s *State) afterTest(r fact.Record) {
	switch b := r.Body.(type) {
	case CareOpened:
		if s.Care == nil || s.Care.Signed != nil {
			s.Care = &Care{CareOpened: b, At: r.At, By: r.By}
		} else {
			s.Care.Cause = b.Cause // a later reading may change what the care is for
		}
	case CareStep:
		if s.Care != nil {
			s.Care.Steps = append(s.Care.Steps, Step{CareStep: b, At: r.At, By: r.By})
		}
	case CareSigned:
		if s.Care != nil {
			s.Care.Signed, s.Care.SignedAt = &b, r.At
		}
	case Explained:
		s.Explained, s.Told, s.Counsellor, s.Times.Explained = &b, s.FoundID, r.By, r.At
	case SlipIssued:
		s.Slips = append(s.Slips, SlipGiven{SlipIssued: b, At: r.At, By: r.By})
	case Referred:
		s.Referral = &b
	case Left:
		s.Left = &b
	case Finished:
		s.Finished = true
	case Corrected:
		s.Corrections = append(s.Corrections, Correction{Corrected: b, ID: r.ID, At: r.At, By: r.By})
	}
}

// told takes in what a participant said about themself.
func (s *State) told(b AboutTold) {
	if s.About == nil {
		s.About = about.Answers{}
	}
	for _, key := range b.Asked {
		s.About[key] = b.Answers[key]
	}
}

func (s *State) called(b Called, r fact.Record) {
	s.Taken, s.TakenBy = &b, r.By
	switch {
	case b.Step == AtTest && s.Times.TestCalled.IsZero():
		s.Times.TestCalled = r.At
	case b.Step == AtExplain && s.Times.ExplCalled.IsZero():
		s.Times.ExplCalled = r.At
	}
}

func (s *State) read(b ReadingTaken, r fact.Record) {
	s.Readings = append(s.Readings, Reading{ReadingTaken: b, ID: r.ID, At: r.At, By: cmp.Or(b.Screener, r.By)})
	sort.SliceStable(s.Readings, func(i, j int) bool { return s.Readings[i].At.Before(s.Readings[j].At) })
	if s.Times.FirstRead.IsZero() || r.At.Before(s.Times.FirstRead) {
		s.Times.FirstRead = r.At
	}
}

// moved notes when the visit went to its next phase.
func (s *State) moved(before Phase, at time.Time) {
	now := s.Phase()
	if now == before {
		return
	}
	s.Taken, s.TakenBy = nil, ""
	switch {
	case now == AtTest && s.Times.DeskDone.IsZero():
		s.Times.DeskDone = at
	case now == AtExplain:
		s.Times.Found = at
	case now.Ended():
		s.Times.Ended = at
	}
}

// Ended reports whether p is an end of a visit.
func (p Phase) Ended() bool {
	return p == Done || p == Gone || p == NotEligible || p == HasDeclined
}

// Phase derives where the visit stands.
func (s *State) Phase() Phase {
	switch {
	case s.Left != nil:
		return Gone
	case s.Declined != nil && !s.Tested(): // whoever was tested, as a correction may show, is told the result
		return HasDeclined
	case s.Answers != nil && !s.Answers.Eligible && !s.Tested():
		return NotEligible
	case s.Finished:
		return Done
	case s.Consent == nil || s.Answers == nil || s.Ate == nil || s.Contact == nil:
		return AtDesk
	case s.Found == nil || s.Found.Repeat || s.Found.Finding == nil:
		return AtTest
	}
	return AtExplain
}

// Tested reports whether the participant has a value: a number, LO or HI.
func (s *State) Tested() bool {
	for _, r := range s.Readings {
		if r.Purpose != Recheck && r.Reading.Kind != glucose.Error {
			return true
		}
	}
	return false
}

// Sticks counts the fingersticks.
func (s *State) Sticks() int {
	n := 0
	for _, r := range s.Readings {
		if r.NewStick {
			n++
		}
	}
	return n
}

// Misfires counts the lancets that did not work.
func (s *State) Misfires() int {
	n := 0
	for _, r := range s.Readings {
		n += r.Misfires
	}
	return n
}

// Taken lists the readings as the protocol wants to see them.
func (s *State) TakenReadings() []protocol.Taken {
	out := make([]protocol.Taken, 0, len(s.Readings))
	for _, r := range s.Readings {
		out = append(out, protocol.Taken{ID: r.ID, Reading: r.Reading, Purpose: r.Purpose, Washed: r.Washed})
	}
	return out
}

// Counting finds the reading that counts; ok is false while there is none.
func (s *State) Counting() (Reading, bool) {
	if s.Found == nil {
		return Reading{}, false
	}
	for _, r := range s.Readings {
		if r.ID == s.Found.Counts {
			return r, true
		}
	}
	return Reading{}, false
}

// Finding gives the finding that stands; nil while there is none or a repeat is due.
func (s *State) Finding() *protocol.Finding {
	if s.Found == nil || s.Found.Repeat {
		return nil
	}
	return s.Found.Finding
}

// Refers reports whether the finding that stands asks for a referral.
func (s *State) Refers() bool {
	f := s.Finding()
	return f != nil && f.Refer
}

// BasisAt derives the basis from the last food and a protocol at the moment of a reading.
func (s *State) BasisAt(p protocol.Protocol, at time.Time) protocol.Basis {
	if s.Ate == nil {
		return p.Basis(time.Time{}, false, at)
	}
	return p.Basis(s.Ate.Last, s.Ate.Known, at)
}

// OpenCare reports whether care is open and unsigned.
func (s *State) OpenCare() bool { return s.Care != nil && s.Care.Signed == nil }

// Package charter is the programme itself as a subject of the record: its name, certificate, contacts, unit, and the
// protocols it has drafted and signed. There is one charter in a logbook.
package charter

import (
	"sort"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// Kind is the subject kind of the charter.
const Kind = "programme"

// Ref names the one charter of a logbook.
var Ref = fact.Ref{Kind: Kind, ID: "programme"}

// Described says who the programme is. The latest one holds.
type Described struct {
	Name              string       `json:"name"`
	Certificate       string       `json:"certificate"` // number of the certificate of waiver
	CertificateUntil  civil.Date   `json:"certificate_until"`
	Contact           string       `json:"contact"`                    // telephone that participants may call
	ContactHours      string       `json:"contact_hours"`              // when somebody answers it
	Emergency         string       `json:"emergency"`                  // number of the emergency services
	ExposureContact   string       `json:"exposure_contact,omitempty"` // who gives care after a needlestick or a splash of blood
	ExposurePhone     string       `json:"exposure_phone,omitempty"`
	ExposureHours     string       `json:"exposure_hours,omitempty"`
	Unit              glucose.Unit `json:"unit"`
	LabelledUse       bool         `json:"labelled_use"` // the lead read what the meters are labelled for
	LabelledUseSigned string       `json:"labelled_use_signed,omitempty"`
}

// FactKind implements fact.Body.
func (Described) FactKind() string { return "programme.described" }

// ProtocolDrafted is a protocol text that nobody has signed yet. The latest draft replaces an earlier one.
type ProtocolDrafted struct {
	Protocol protocol.Protocol `json:"protocol"`
}

// FactKind implements fact.Body.
func (ProtocolDrafted) FactKind() string { return "programme.protocol-drafted" }

// ProtocolSigned puts a protocol in force under two names.
type ProtocolSigned struct {
	Protocol protocol.Protocol `json:"protocol"`
	First    Signature         `json:"first"`
	Second   Signature         `json:"second"`
}

// FactKind implements fact.Body.
func (ProtocolSigned) FactKind() string { return "programme.protocol-signed" }

// PlanningChosen says whether plans of events rest on what past events have shown, or on the published values alone. The
// latest one holds; without any, what was seen is used.
type PlanningChosen struct {
	Learn bool `json:"learn"`
}

// FactKind implements fact.Body.
func (PlanningChosen) FactKind() string { return "programme.planning-chosen" }

// QuestionsChosen says which of the optional questions of package about participants are asked. The latest one holds; without any, none is.
type QuestionsChosen struct {
	Questions []string `json:"questions"` // keys
}

// FactKind implements fact.Body.
func (QuestionsChosen) FactKind() string { return "programme.questions-chosen" }

// HandedOut says that data with names left the record: what, of which days, to whom, and who answers for it.
type HandedOut struct {
	What     string     `json:"what"`            // "fhir" or "csv"
	Event    string     `json:"event,omitempty"` // id of the event; empty for a span of days
	From     civil.Date `json:"from,omitzero"`
	Until    civil.Date `json:"until,omitzero"`
	Visits   int        `json:"visits"`
	Contacts int        `json:"contacts"` // participants whose name went with it
	To       string     `json:"to"`       // to whom, and why
	Signed   string     `json:"signed"`   // person id of the lead
}

// FactKind implements fact.Body.
func (HandedOut) FactKind() string { return "programme.handed-out" }

// Signature is a name under something, with the person who confirmed it by PIN.
type Signature struct {
	Person string `json:"person"`
	Name   string `json:"name"`
	Title  string `json:"title,omitempty"`
}

// Adopted is a protocol in force from a moment on.
type Adopted struct {
	Protocol      protocol.Protocol `json:"protocol"`
	First, Second Signature
	At            time.Time `json:"at"`
}

// Handing is data with names that left the record, with when it did.
type Handing struct {
	HandedOut
	At time.Time `json:"at"`
}

// State is the charter as it stands.
type State struct {
	ID      string             `json:"id"`
	Details Described          `json:"details"`
	Draft   *protocol.Protocol `json:"draft,omitempty"`
	Adopted []Adopted          `json:"adopted,omitempty"` // oldest first

	LeadTimes     *LeadTimes `json:"lead_times,omitempty"`     // nil until a list is adopted
	Asks          []string   `json:"asks,omitempty"`           // keys of the optional questions that are asked
	PublishedOnly bool       `json:"published_only,omitempty"` // plans rest on the published values alone

	Languages map[string]Tongue `json:"languages,omitempty"`  // by code
	Seasons   []SeasonSet       `json:"seasons,omitempty"`    // in the order of their first days
	HandedOut []Handing         `json:"handed_out,omitempty"` // oldest first
}

// New gives the charter before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Described{}, ProtocolDrafted{}, ProtocolSigned{}, LeadTimesAdopted{}, PlanningChosen{}, QuestionsChosen{}, LanguageOffered{}, LanguageWritten{}, LanguageReviewed{}, SeasonSet{}, HandedOut{})
}

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case Described:
		s.Details = b
	case ProtocolDrafted:
		p := b.Protocol
		s.Draft = &p
	case ProtocolSigned:
		s.Adopted = append(s.Adopted, Adopted{Protocol: b.Protocol, First: b.First, Second: b.Second, At: r.At})
		sort.SliceStable(s.Adopted, func(i, j int) bool { return s.Adopted[i].At.Before(s.Adopted[j].At) })
		s.Draft = nil
	case LeadTimesAdopted:
		s.LeadTimes = &LeadTimes{Times: b.Times, At: r.At, By: r.By}
	case SeasonSet:
		s.setSeason(b)
	case HandedOut:
		s.HandedOut = append(s.HandedOut, Handing{HandedOut: b, At: r.At})
	case PlanningChosen:
		s.PublishedOnly = !b.Learn
	case QuestionsChosen:
		s.Asks = b.Questions
	case LanguageOffered:
		s.tongue(b.Lang, func(t *Tongue) { t.Offered = b.Offered })
	case LanguageWritten:
		s.tongue(b.Lang, func(t *Tongue) { t.Own = b.Entries })
	case LanguageReviewed:
		s.tongue(b.Lang, func(t *Tongue) {
			t.Reviews = append(t.Reviews, Review{Digest: b.Digest, Reviewer: b.Reviewer, Title: b.Title, At: r.At, By: r.By})
		})
	}
}

// InForce gives the protocol that was signed last; ok is false when none has been signed.
func (s *State) InForce() (a Adopted, ok bool) {
	if len(s.Adopted) == 0 {
		return Adopted{}, false
	}
	return s.Adopted[len(s.Adopted)-1], true
}

// Version gives a signed protocol by its version; ok is false when it was never signed.
func (s *State) Version(version string) (a Adopted, ok bool) {
	for i := len(s.Adopted) - 1; i >= 0; i-- {
		if s.Adopted[i].Protocol.Version == version {
			return s.Adopted[i], true
		}
	}
	return Adopted{}, false
}

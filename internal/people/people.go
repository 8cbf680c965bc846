// Package people is the volunteers and licensed staff as subjects of the record: who they are, which roles they hold, and
// the dated proof that they may do them. Participants are not here; they have visits.
package people

import (
	"sort"
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Kind is the subject kind of a person.
const Kind = "person"

// Role is what a person may be asked to do. One person may hold several.
type Role string

// The roles of a programme.
const (
	Lead       Role = "lead"
	Supervisor Role = "supervisor"
	Screener   Role = "screener"
	Counsellor Role = "counsellor"
	Desk       Role = "desk"
	Runner     Role = "runner" // stock, restocking, greeting; no touch
)

// Roles lists the roles in the order in which they are shown.
var Roles = []Role{Lead, Supervisor, Screener, Counsellor, Desk, Runner}

// Valid reports whether r is one of Roles.
func (r Role) Valid() bool {
	for _, k := range Roles {
		if r == k {
			return true
		}
	}
	return false
}

// Ref names one person.
func Ref(id string) fact.Ref { return fact.Ref{Kind: Kind, ID: id} }

// Described says who a person is and which roles they hold. The latest one holds.
type Described struct {
	Name      string   `json:"name"`
	Roles     []Role   `json:"roles"`
	Title     string   `json:"title,omitempty"`     // for example "PharmD, licensed"
	Languages []string `json:"languages,omitempty"` // language tags, for example "en", "es"
	Glove     string   `json:"glove,omitempty"`     // S, M, L, XL
}

// FactKind implements fact.Body.
func (Described) FactKind() string { return "person.described" }

// PinSet keeps the slow hash of a person's PIN, never the PIN.
type PinSet struct {
	Hash string `json:"hash"`
}

// FactKind implements fact.Body.
func (PinSet) FactKind() string { return "person.pin-set" }

// Verified is proof that a person may do a role, from one day through another.
type Verified struct {
	Role  Role       `json:"role"`
	From  civil.Date `json:"from"`
	Until civil.Date `json:"until"` // lasts to the end of this day
	By    string     `json:"by"`    // person id of the verifier
	Note  string     `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Verified) FactKind() string { return "person.verified" }

// VerificationWithdrawn ends every verification of a person for a role from the moment it is recorded.
type VerificationWithdrawn struct {
	Role   Role   `json:"role"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (VerificationWithdrawn) FactKind() string { return "person.verification-withdrawn" }

// Left says that a person no longer takes part; they can no longer sign in.
type Left struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Left) FactKind() string { return "person.left" }

// Returned takes Left back.
type Returned struct{}

// FactKind implements fact.Body.
func (Returned) FactKind() string { return "person.returned" }

// Verification is one entry of the register with what became of it.
type Verification struct {
	Verified
	FactID    string    `json:"fact_id"`
	Recorded  time.Time `json:"recorded"`
	Withdrawn string    `json:"withdrawn,omitempty"` // reason; empty while it stands
}

// State is a person as they stand.
type State struct {
	ID            string         `json:"id"`
	Details       Described      `json:"details"`
	PinHash       string         `json:"pin_hash,omitempty"`
	Verifications []Verification `json:"verifications,omitempty"`
	Gone          string         `json:"gone,omitempty"` // reason why they left; empty while they take part
}

// New gives a person before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, Described{}, PinSet{}, Verified{}, VerificationWithdrawn{}, Left{}, Returned{})
}

// Index keeps people in the order of their names.
func (s *State) Index() (parent, label string) { return "", strings.ToLower(s.Details.Name) }

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case Described:
		s.Details = b
	case PinSet:
		s.PinHash = b.Hash
	case Verified:
		s.Verifications = append(s.Verifications, Verification{Verified: b, FactID: r.ID, Recorded: r.At})
	case VerificationWithdrawn:
		for i := range s.Verifications {
			v := &s.Verifications[i]
			if v.Role == b.Role && v.Withdrawn == "" {
				v.Withdrawn = b.Reason
			}
		}
	case Left:
		s.Gone = b.Reason
	case Returned:
		s.Gone = ""
	}
}

// Has reports whether the person holds a role.
func (s *State) Has(role Role) bool {
	for _, r := range s.Details.Roles {
		if r == role {
			return true
		}
	}
	return false
}

// VerifiedOn finds the verification for a role that stands on a day and lasts longest.
func (s *State) VerifiedOn(role Role, day civil.Date) (v Verification, ok bool) {
	for _, x := range s.Verifications {
		if x.Role != role || x.Withdrawn != "" || day.Before(x.From) || day.After(x.Until) {
			continue
		}
		if !ok || x.Until.After(v.Until) {
			v, ok = x, true
		}
	}
	return v, ok
}

// LastFor finds the verification for a role that lasts or lasted longest, standing or not; ok is false when there is none.
func (s *State) LastFor(role Role) (v Verification, ok bool) {
	var all []Verification
	for _, x := range s.Verifications {
		if x.Role == role {
			all = append(all, x)
		}
	}
	if len(all) == 0 {
		return v, false
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].Until.Before(all[j].Until) })
	return all[len(all)-1], true
}

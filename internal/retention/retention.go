// Package retention is how long each kind of record is kept, as a subject of the record: the rules that the programme adopted under
// two names, and each erasure of a whole class with its proof. There is one of it in a logbook.
package retention

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
)

// Kind is the subject kind of the rules and the erasures.
const Kind = "retention"

// Ref names the one subject.
var Ref = fact.Ref{Kind: Kind, ID: "retention"}

// Register tells a catalogue about this subject.
func Register(c *fact.Catalogue) {
	c.Subject(Kind, New, RulesAdopted{}, ClassErased{})
}

// Class is a kind of record with a time of its own.
type Class string

// The classes, in the order in which they are shown.
const (
	Contacts   Class = "contacts"   // names and telephone numbers of participants
	Results    Class = "results"    // readings, findings, answers, consent, by ticket
	Quality    Class = "quality"    // controls, lots, meters, comparisons
	Training   Class = "training"   // verifications and training of the staff
	Sharps     Class = "sharps"     // the sharps injury log
	Incidents  Class = "incidents"  // every other incident
	Governance Class = "governance" // protocols, rules, signatures
)

// Classes lists them all.
var Classes = []Class{Contacts, Results, Quality, Training, Sharps, Incidents, Governance}

// Rule is how long a class is kept.
type Rule struct {
	Class   Class  `json:"class"`
	Months  int    `json:"months"`             // at least
	YearEnd bool   `json:"year_end,omitempty"` // counted from the end of the calendar year, else from the day
	Source  string `json:"source"`
}

// Until is the last day on which something of a day must be kept.
func (r Rule) Until(day civil.Date) civil.Date {
	if r.YearEnd {
		day = civil.Date{Year: day.Year, Month: time.December, Day: 31}
	}
	return civil.Of(time.Date(day.Year, day.Month+time.Month(r.Months), day.Day, 12, 0, 0, 0, time.UTC))
}

// Proposed are the rules that are shown until a programme adopts its own. Each source says what kind of source it is; local law
// comes first.
var Proposed = []Rule{
	{Contacts, 12, false, "own proposal: follow-up ends 90 days after an event, a season ends within the year; adopt what was promised at the desk"},
	{Results, 60, false, "Illinois laboratory rule, 5 years, as restated (77 Ill. Adm. Code 450); California asks for 1 year; at least 2 years by 42 CFR 493.1105, from memory: check"},
	{Quality, 36, false, "own proposal; at least 2 years by 42 CFR 493.1105, from memory: check"},
	{Training, 36, false, "bloodborne training 3 years, 29 CFR 1910.1030(h)(2), as restated"},
	{Sharps, 60, true, "5 years after the end of the year, 29 CFR 1904.33, as restated"},
	{Incidents, 60, true, "own proposal: as the sharps log"},
	{Governance, 72, false, "6 years, 45 CFR 164.316(b)(2)(i), where it applies"},
}

// Signature is a name under something, with the person who confirmed it by PIN.
type Signature struct {
	Person string `json:"person"`
	Name   string `json:"name"`
}

// RulesAdopted puts the programme's own rules in force. The latest one holds.
type RulesAdopted struct {
	Rules  []Rule    `json:"rules"`
	First  Signature `json:"first"`
	Second Signature `json:"second"`
}

// FactKind implements fact.Body.
func (RulesAdopted) FactKind() string { return "retention.rules-adopted" }

// ClassErased says that every contact of the events up to a day was destroyed with its key, but those that were held.
type ClassErased struct {
	Class   Class      `json:"class"`
	Through civil.Date `json:"through"` // the last day of an event
	Visits  int        `json:"visits"`
	Held    int        `json:"held"`
	First   Signature  `json:"first"`
	Second  Signature  `json:"second"`
}

// FactKind implements fact.Body.
func (ClassErased) FactKind() string { return "retention.class-erased" }

// Erasure is one erasure with when it was done. Its id is that of its fact; the erased visits name it.
type Erasure struct {
	ClassErased
	ID string    `json:"id"`
	At time.Time `json:"at"`
	By string    `json:"by"`
}

// State is what was adopted and erased.
type State struct {
	ID       string        `json:"id"`
	Adopted  *RulesAdopted `json:"adopted,omitempty"`
	At       time.Time     `json:"at,omitzero"` // when the rules were adopted
	Erasures []Erasure     `json:"erasures,omitempty"`
}

// New gives the subject before any fact.
func New(id string) fact.State { return &State{ID: id} }

// Apply implements fact.State.
func (s *State) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case RulesAdopted:
		s.Adopted, s.At = &b, r.At
	case ClassErased:
		s.Erasures = append(s.Erasures, Erasure{ClassErased: b, ID: r.ID, At: r.At, By: r.By})
	}
}

// Rule gives the rule of a class: the adopted one, else the proposed one.
func (s *State) Rule(c Class) Rule {
	rules := Proposed
	if s.Adopted != nil {
		rules = append(append([]Rule{}, s.Adopted.Rules...), Proposed...)
	}
	for _, r := range rules {
		if r.Class == c {
			return r
		}
	}
	return Rule{Class: c}
}

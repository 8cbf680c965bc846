// Package protocol holds a programme's rules as data and applies them: who may be screened, what a reading means, when it is
// repeated, and what the participant is told.
//
// A Protocol is a document that two people sign. Every number with a clinical meaning stands in it, with its source; the
// code here only compares and chooses. Limits exist per basis and per unit because a reading is compared in the unit that
// the meter showed. Every Finding carries the version that made it, so that an old result can always be explained.
package protocol

import (
	"encoding/json"
	"time"

	"fairstick/internal/glucose"
)

// Text is one text by language code ("en", "es"). English is always there.
type Text map[string]string

// In gives the text in a language, or in English when that language is missing.
func (t Text) In(lang string) string {
	if s := t[lang]; s != "" {
		return s
	}
	return t["en"]
}

// IsZero reports whether there is no text at all; an empty Text is left out of JSON.
func (t Text) IsZero() bool { return len(t) == 0 }

// Basis says by which limits a reading is judged.
type Basis string

// The bases. Anything that is not known to be fasting is random.
const (
	Fasting Basis = "fasting"
	Random  Basis = "random" // "not fasting" to people
)

// Bases lists both in a fixed order.
var Bases = []Basis{Fasting, Random}

// Band is where a reading lies among the limits.
type Band string

// The bands, from the lowest.
const (
	CriticalLow  Band = "critical-low"
	Low          Band = "low"
	Usual        Band = "usual"
	Raised       Band = "raised"
	High         Band = "high"
	CriticalHigh Band = "critical-high"
)

// Bands lists the bands from the lowest to the highest.
var Bands = []Band{CriticalLow, Low, Usual, Raised, High, CriticalHigh}

// Order gives the place of a band from the lowest (0) to the highest (5); -1 for anything else.
func (b Band) Order() int {
	for i, x := range Bands {
		if x == b {
			return i
		}
	}
	return -1
}

// Urgency says how soon a finding needs somebody.
type Urgency string

// The urgencies, from the least.
const (
	None      Urgency = "none"      // nobody needs to be seen about it
	Weeks     Urgency = "weeks"     // a visit within weeks
	Days      Urgency = "days"      // a visit within days
	Today     Urgency = "today"     // handed over to a clinician today
	Emergency Urgency = "emergency" // act now, at the table, with a supervisor
)

// Urgencies lists the urgencies from the least to the most.
var Urgencies = []Urgency{None, Weeks, Days, Today, Emergency}

// Order gives the place of an urgency from the least (0) to the most (4); -1 for anything else.
func (u Urgency) Order() int {
	for i, x := range Urgencies {
		if x == u {
			return i
		}
	}
	return -1
}

// Protocol is one version of a programme's rules.
type Protocol struct {
	Name          string                            `json:"name"`
	Version       string                            `json:"version"`
	Title         Text                              `json:"title"`
	Sources       []string                          `json:"sources"`
	Consent       Consent                           `json:"consent"`
	MinAge        int                               `json:"min_age"` // whole years; the question "age" excludes below it
	Questions     []Question                        `json:"questions"`
	FastingHours  int                               `json:"fasting_hours"`
	Limits        map[Basis]map[glucose.Unit]Limits `json:"limits"`
	MeterRange    map[glucose.Unit]Range            `json:"meter_range"` // what a number must lie in to be believed
	Repeat        Repeat                            `json:"repeat"`
	Messages      map[Band]Message                  `json:"messages"`
	OffScale      map[glucose.Kind]OffScale         `json:"off_scale"` // what LO and HI mean
	Unwell        Message                           `json:"unwell"`    // what any value means with a crisis sign
	CrisisSigns   []Sign                            `json:"crisis_signs"`
	OpeningChecks []Sign                            `json:"opening_checks"` // what is looked at before the doors open (common practice)
	LowCare       LowCare                           `json:"low_care"`
	Warnings      []Text                            `json:"warnings"` // signs that send a participant to emergency care later
	Disclaimer    Text                              `json:"disclaimer"`
	CanMislead    []Text                            `json:"can_mislead"`
	FollowUp      map[Band][]int                    `json:"follow_up"`        // days after the event on which to call
	Calling       Calling                           `json:"calling,omitzero"` // how they are called
	Controls      Controls                          `json:"controls"`
	Ratio         Ratio                             `json:"ratio"`
	ReadBack      string                            `json:"read_back"` // TypedTwice or SecondPerson
	WarmUp        int                               `json:"warm_up_minutes"`
	Overrides     map[string]string                 `json:"overrides"` // gate key to the role that may pass it with a signed reason
	Verification  Verification                      `json:"verification"`
	Retention     int                               `json:"retention_years"`
}

// How a reading is read back.
const (
	TypedTwice   = "typed-twice"
	SecondPerson = "second-person"
)

// Consent is the consent text and the version that is kept with each yes.
type Consent struct {
	Version string `json:"version"`
	Text    Text   `json:"text"`
}

// Limits are the edges between the bands for one basis in one unit. A value below LowBelow is low, one at or above RaisedFrom is
// raised, and so on; Source says where each edge comes from.
type Limits struct {
	CriticalBelow glucose.Value `json:"critical_below"`
	LowBelow      glucose.Value `json:"low_below"`
	RaisedFrom    glucose.Value `json:"raised_from"`
	HighFrom      glucose.Value `json:"high_from"`
	CriticalFrom  glucose.Value `json:"critical_from"`
	Source        EdgeSources   `json:"source"`
	ReferralLine  bool          `json:"referral_line,omitempty"` // RaisedFrom is a line for referral, not a published category
}

// EdgeSources has the source of each edge.
type EdgeSources struct {
	CriticalBelow string `json:"critical_below"`
	LowBelow      string `json:"low_below"`
	RaisedFrom    string `json:"raised_from"`
	HighFrom      string `json:"high_from"`
	CriticalFrom  string `json:"critical_from"`
}

// Range is from Low to High, both included.
type Range struct {
	Low  glucose.Value `json:"low"`
	High glucose.Value `json:"high"`
}

// Repeat says when a reading is taken again before a result is given.
type Repeat struct {
	HighFrom  map[glucose.Unit]glucose.Value `json:"high_from"`  // at or above, or HI
	LowBelow  map[glucose.Unit]glucose.Value `json:"low_below"`  // below, or LO
	MaxSticks int                            `json:"max_sticks"` // more need a supervisor
	Source    string                         `json:"source"`
}

// Message is what a band means to the participant and how soon it needs somebody.
type Message struct {
	Word       Text           `json:"word"`
	Sentence   map[Basis]Text `json:"sentence"`
	Advice     []Text         `json:"advice"`
	When       Text           `json:"when"`
	Where      Text           `json:"where"`
	WithinDays int            `json:"within_days"` // 0: today, or never
	Urgency    Urgency        `json:"urgency"`
	Refer      bool           `json:"refer"`
	Critical   bool           `json:"critical"` // shown on every screen until signed
}

// OffScale is what a reading beyond the meter's range means.
type OffScale struct {
	Band    Band    `json:"band"`
	Source  string  `json:"source"`
	Message Message `json:"message"`
}

// Sign is a text with a key: a sign that outranks any number, or something to look at before the doors open.
type Sign struct {
	Key  string `json:"key"`
	Text Text   `json:"text"`
}

// LowCare is what is done for a low reading in a person who can swallow.
type LowCare struct {
	SugarGrams     int    `json:"sugar_grams"`
	RecheckMinutes int    `json:"recheck_minutes"`
	MostRounds     int    `json:"most_rounds"` // sugar given this often without rising: emergency
	Forms          []Text `json:"forms"`       // what holds that much sugar
	Never          Text   `json:"never"`       // when nothing is given by mouth
	Then           Text   `json:"then"`
	Source         string `json:"source"`
}

// Controls are the rules for control runs.
type Controls struct {
	Levels           []string `json:"levels"`
	RunsWithoutCause int      `json:"runs_without_cause"` // this many out-of-range runs in a row take the meter out
	InUseDays        int      `json:"in_use_days"`        // of control solution after opening; the insert wins
	EachVial         string   `json:"each_vial"`          // AsInsert, Always or Never
	Source           string   `json:"source"`
}

// Whether both levels are run again for each newly opened vial of strips.
const (
	AsInsert = "as-insert"
	Always   = "always"
	Never    = "never"
)

// Ratio is how many hands-on volunteers one supervisor may have.
type Ratio struct {
	Wanted int    `json:"wanted"`
	Most   int    `json:"most"`
	Source string `json:"source"`
}

// Verification says which roles need proof and how long it lasts.
type Verification struct {
	Roles       []string        `json:"roles"`
	ValidMonths int             `json:"valid_months"`
	Competence  json.RawMessage `json:"competence,omitempty"` // the rules of training; the package competence reads and validates them
}

// Basis derives the basis of a reading taken at a moment: fasting only if the last food or drink with calories is known and
// at least FastingHours ago. A time in the future is not believed.
func (p Protocol) Basis(lastAte time.Time, known bool, at time.Time) Basis {
	if known && p.FastingHours > 0 && at.Sub(lastAte) >= time.Duration(p.FastingHours)*time.Hour {
		return Fasting
	}
	return Random
}

// Sign finds a crisis sign by its key.
func (p Protocol) Sign(key string) (Sign, bool) {
	for _, s := range p.CrisisSigns {
		if s.Key == key {
			return s, true
		}
	}
	return Sign{}, false
}

// Question finds a question by its key.
func (p Protocol) Question(key string) (Question, bool) {
	for _, q := range p.Questions {
		if q.Key == key {
			return q, true
		}
	}
	return Question{}, false
}

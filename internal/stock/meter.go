package stock

import (
	"strings"
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
)

// Coding is how a meter learns which strip lot it reads.
type Coding string

// The ways a meter is coded.
const (
	CodingNone   Coding = "none"   // the strip or meter needs no code
	CodingChip   Coding = "chip"   // a chip or key packed with the lot
	CodingButton Coding = "button" // a code set by hand and shown on the display
)

// Codings lists the ways a meter is coded.
var Codings = []Coding{CodingNone, CodingChip, CodingButton}

// Limits are the operating limits from the insert. A pointer is nil when the insert does not state the limit.
type Limits struct {
	TempLow      float64  `json:"temp_low"`  // degrees Celsius
	TempHigh     float64  `json:"temp_high"` // degrees Celsius
	HumidityLow  *float64 `json:"humidity_low,omitempty"`
	HumidityHigh *float64 `json:"humidity_high,omitempty"`
}

// MeterDescribed says what a meter is. The latest one holds.
type MeterDescribed struct {
	Label  string       `json:"label"`  // the programme's own name on it, for example "M1"
	Serial string       `json:"serial"` // from the back of the meter
	Model  string       `json:"model"`  // the programme's word for the type; strip lots name the types they fit
	Coding Coding       `json:"coding"`
	Unit   glucose.Unit `json:"unit"`
	Limits Limits       `json:"limits"`
}

// FactKind implements fact.Body.
func (MeterDescribed) FactKind() string { return "meter.described" }

// MeterReviewed is the signed reading of a meter's instructions: may it be used on several people, and how is it
// disinfected. The latest one holds.
type MeterReviewed struct {
	SeveralPeople bool       `json:"several_people"`
	Disinfect     string     `json:"disinfect"`     // how the instructions say to clean and disinfect it
	Disinfectants []string   `json:"disinfectants"` // ids of the products the instructions allow
	Insert        string     `json:"insert"`        // which version or date of the instructions was read
	On            civil.Date `json:"on"`
	SignedBy      string     `json:"signed_by"` // person id
}

// FactKind implements fact.Body.
func (MeterReviewed) FactKind() string { return "meter.reviewed" }

// VoidCause is something that ends a meter's clearance until controls pass again.
type VoidCause string

// The causes that void a clearance.
const (
	Dropped        VoidCause = "dropped"
	BatteryChanged VoidCause = "battery-changed"
	TooHotOrCold   VoidCause = "too-hot-or-cold"
	InDoubt        VoidCause = "result-in-doubt"
)

// VoidCauses lists the causes in the order in which they are offered.
var VoidCauses = []VoidCause{Dropped, BatteryChanged, TooHotOrCold, InDoubt}

// MeterVoided says that something happened to a meter: its controls must be run again.
type MeterVoided struct {
	Event string    `json:"event,omitempty"`
	Cause VoidCause `json:"cause"`
	Note  string    `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (MeterVoided) FactKind() string { return "meter.voided" }

// MeterQuarantined takes a meter out until somebody returns it.
type MeterQuarantined struct {
	Event  string `json:"event,omitempty"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (MeterQuarantined) FactKind() string { return "meter.quarantined" }

// MeterReturned brings a quarantined meter back; its controls must be run again.
type MeterReturned struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (MeterReturned) FactKind() string { return "meter.returned" }

// Voiding is one act that voided a meter's clearance.
type Voiding struct {
	Cause string    `json:"cause"`
	Note  string    `json:"note,omitempty"`
	Event string    `json:"event,omitempty"`
	At    time.Time `json:"at"`
	By    string    `json:"by"`
}

// Meter is a meter as it stands.
type Meter struct {
	ID         string         `json:"id"`
	Details    MeterDescribed `json:"details"`
	Review     *MeterReviewed `json:"review,omitempty"`
	Voids      []Voiding      `json:"voids,omitempty"` // oldest first
	Quarantine *Voiding       `json:"quarantine,omitempty"`
}

// NewMeter gives a meter before any fact.
func NewMeter(id string) fact.State { return &Meter{ID: id} }

// Index keeps meters in the order of their labels.
func (m *Meter) Index() (parent, label string) { return "", strings.ToLower(m.Details.Label) }

// Apply implements fact.State.
func (m *Meter) Apply(r fact.Record) {
	switch b := r.Body.(type) {
	case MeterDescribed:
		m.Details = b
	case MeterReviewed:
		m.Review = &b
	case MeterVoided:
		m.Voids = append(m.Voids, Voiding{Cause: string(b.Cause), Note: b.Note, Event: b.Event, At: r.At, By: r.By})
	case MeterQuarantined:
		m.Quarantine = &Voiding{Cause: "quarantined", Note: b.Reason, Event: b.Event, At: r.At, By: r.By}
	case MeterReturned:
		m.Quarantine = nil
		m.Voids = append(m.Voids, Voiding{Cause: "returned", Note: b.Reason, At: r.At, By: r.By})
	}
}

// Reviewed gives the sentence that is missing before this meter may test several people, or "" when nothing is.
func (m *Meter) Reviewed() string {
	switch {
	case m.Review == nil:
		return "Nobody has signed that the instructions of meter " + m.Details.Label + " were read."
	case !m.Review.SeveralPeople:
		return "The instructions of meter " + m.Details.Label + " do not allow use on several people."
	case strings.TrimSpace(m.Review.Disinfect) == "" || len(m.Review.Disinfectants) == 0:
		return "The review of meter " + m.Details.Label + " does not say how it is disinfected and with what."
	}
	return ""
}

// Allows reports whether the instructions of the meter name a disinfectant.
func (m *Meter) Allows(disinfectant string) bool {
	if m.Review == nil {
		return false
	}
	for _, id := range m.Review.Disinfectants {
		if id == disinfectant {
			return true
		}
	}
	return false
}

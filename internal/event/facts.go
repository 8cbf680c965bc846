package event

import (
	"time"

	"fairstick/internal/civil"
	"fairstick/internal/fact"
	"fairstick/internal/glucose"
)

// Route is a place to which a participant can be referred.
type Route struct {
	Name    string `json:"name"`
	Phone   string `json:"phone,omitempty"`
	Address string `json:"address,omitempty"`
	Hours   string `json:"hours,omitempty"`
	Note    string `json:"note,omitempty"` // for example cost, languages, uninsured people
}

// Planned says what the event is. The latest one holds.
type Planned struct {
	Name      string      `json:"name"`
	Venue     string      `json:"venue"`
	Address   string      `json:"address"` // street address to give to the emergency services
	Emergency string      `json:"emergency"`
	Date      civil.Date  `json:"date"`
	Doors     civil.Clock `json:"doors"`
	Ends      civil.Clock `json:"ends"`
	Zone      string      `json:"zone"` // IANA name, for example "America/New_York"
	Expected  int         `json:"expected"`
	Routes    []Route     `json:"routes"` // where people are referred to; the first is the usual one
	Urgent    Route       `json:"urgent"` // same-day care
}

// FactKind implements fact.Body.
func (Planned) FactKind() string { return "event.planned" }

// Cancelled says that a planned event will not be held.
type Cancelled struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Cancelled) FactKind() string { return "event.cancelled" }

// Reinstated takes Cancelled back: the event is planned again.
type Reinstated struct{}

// FactKind implements fact.Body.
func (Reinstated) FactKind() string { return "event.reinstated" }

// Posted puts a person at a post; a later one moves them.
type Posted struct {
	Person  string `json:"person"`
	Role    string `json:"role"`
	Station string `json:"station,omitempty"`
}

// FactKind implements fact.Body.
func (Posted) FactKind() string { return "event.posted" }

// Unposted takes a person off the roster.
type Unposted struct {
	Person string `json:"person"`
}

// FactKind implements fact.Body.
func (Unposted) FactKind() string { return "event.unposted" }

// Attended says whether a rostered person is here.
type Attended struct {
	Person string `json:"person"`
	Here   bool   `json:"here"`
	Note   string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Attended) FactKind() string { return "event.attended" }

// Checked is one opening check.
type Checked struct {
	Check string `json:"check"`
	OK    bool   `json:"ok"`
	Note  string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Checked) FactKind() string { return "event.checked" }

// RoomMeasured is the room's temperature in degrees Celsius and, when a hygrometer is there, its relative humidity in
// percent.
type RoomMeasured struct {
	Celsius  float64  `json:"celsius"`
	Humidity *float64 `json:"humidity,omitempty"`
	Place    string   `json:"place,omitempty"`
}

// FactKind implements fact.Body.
func (RoomMeasured) FactKind() string { return "event.room-measured" }

// StockMoved is stock brought to the event; several add up.
type StockMoved Stock

// FactKind implements fact.Body.
func (StockMoved) FactKind() string { return "event.stock-brought" }

// ControlRun is one control test on one meter, with the range printed for that strip lot as it stood then.
type ControlRun struct {
	Meter      string          `json:"meter"`
	StripLot   string          `json:"strip_lot"`
	Vial       string          `json:"vial"`
	ControlLot string          `json:"control_lot"`
	Bottle     string          `json:"bottle"`
	Level      string          `json:"level"`
	Reading    glucose.Reading `json:"reading"`
	Low        glucose.Value   `json:"low"`
	High       glucose.Value   `json:"high"`
	Verdict    string          `json:"verdict"` // in-range, out-of-range, no-value
	Celsius    *float64        `json:"celsius,omitempty"`
}

// FactKind implements fact.Body.
func (ControlRun) FactKind() string { return "event.control-run" }

// CauseAssigned says why a control run was out of range and what was done.
type CauseAssigned struct {
	Run    string `json:"run"` // fact id of the run
	Cause  string `json:"cause"`
	Action string `json:"action"`
}

// FactKind implements fact.Body.
func (CauseAssigned) FactKind() string { return "event.cause-assigned" }

// Overridden is a gate passed with a signed reason.
type Overridden struct {
	Gate   string `json:"gate"`
	About  string `json:"about,omitempty"` // what it concerns, for example a count or a ticket
	Reason string `json:"reason"`
	Signed string `json:"signed"` // person id
}

// FactKind implements fact.Body.
func (Overridden) FactKind() string { return "event.gate-overridden" }

// MeterWiped says that a meter was wiped at this moment and must stay wet for a time.
type MeterWiped struct {
	Meter        string `json:"meter"`
	Disinfectant string `json:"disinfectant"`
	Seconds      int    `json:"seconds"`
}

// FactKind implements fact.Body.
func (MeterWiped) FactKind() string { return "event.meter-wiped" }

// CodeCompared is the code that the meter shows, compared with the vial.
type CodeCompared struct {
	Meter    string `json:"meter"`
	StripLot string `json:"strip_lot"`
	Shown    string `json:"shown"`
}

// FactKind implements fact.Body.
func (CodeCompared) FactKind() string { return "event.code-compared" }

// Opened lets the first participant in. It freezes the protocol version for the day.
type Opened struct {
	Protocol string `json:"protocol"`
}

// FactKind implements fact.Body.
func (Opened) FactKind() string { return "event.opened" }

// DoorsClosed says that nobody new is let in.
type DoorsClosed struct{}

// FactKind implements fact.Body.
func (DoorsClosed) FactKind() string { return "event.doors-closed" }

// Counted is what was counted back at the end. The latest one holds.
type Counted Stock

// FactKind implements fact.Body.
func (Counted) FactKind() string { return "event.counted-back" }

// MemoryRead is the number of rows that a meter's memory holds for this day.
type MemoryRead struct {
	Meter string `json:"meter"`
	Rows  int    `json:"rows"`
}

// FactKind implements fact.Body.
func (MemoryRead) FactKind() string { return "event.memory-read" }

// MemoryRow is one row of a meter's memory as it was downloaded.
type MemoryRow struct {
	At      time.Time `json:"at"` // by the meter's own clock, in the zone of the event
	Shown   string    `json:"shown"`
	Unit    string    `json:"unit"`
	Control string    `json:"control,omitempty"` // yes or no; empty when the meter does not tell
	Seq     int       `json:"seq,omitempty"`
	Line    int       `json:"line,omitempty"` // in the file
}

// MemoryDownloaded is the rows of the day in a meter's memory, as a file gave them. The latest one holds; it stands for a
// count of the memory too.
type MemoryDownloaded struct {
	Meter  string      `json:"meter"`
	Rows   []MemoryRow `json:"rows"`
	Others int         `json:"others,omitempty"` // rows of other days, which are not kept
}

// FactKind implements fact.Body.
func (MemoryDownloaded) FactKind() string { return "event.memory-downloaded" }

// DifferenceExplained signs the reason for a difference found at closing.
type DifferenceExplained struct {
	Equality   string `json:"equality"`
	Difference int    `json:"difference"`
	Note       string `json:"note"`
}

// FactKind implements fact.Body.
func (DifferenceExplained) FactKind() string { return "event.difference-explained" }

// Closed ends the event.
type Closed struct {
	Note string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Closed) FactKind() string { return "event.closed" }

// Corrected is the signed act of correcting a control run: what it changed, who answers for it, and the visits whose
// readings were taken on a meter that, as corrected, was not cleared.
type Corrected struct {
	Kind     string        `json:"kind"`
	Fact     string        `json:"fact"`
	Changes  []fact.Change `json:"changes"`
	Reason   string        `json:"reason"`
	Signed   string        `json:"signed"` // person id
	LookBack []string      `json:"look_back,omitempty"`
	Late     bool          `json:"after_closing,omitempty"` // the event had been closed
}

// FactKind implements fact.Body.
func (Corrected) FactKind() string { return "event.corrected" }

// ReadingsCompared says that typed readings were held against the memory of their meters.
type ReadingsCompared struct {
	Readings []string `json:"readings"` // fact ids
	Differed int      `json:"differed"`
	Reason   string   `json:"reason"`
	Signed   string   `json:"signed"` // person id
}

// FactKind implements fact.Body.
func (ReadingsCompared) FactKind() string { return "event.readings-compared" }

// FormRange is paper forms with consecutive numbers, both ends among them.
type FormRange struct {
	From int `json:"from"`
	To   int `json:"to"`
}

// FormsPrinted says that paper forms with these numbers were printed for the event.
type FormsPrinted struct {
	From     int    `json:"from"`
	To       int    `json:"to"`
	Language string `json:"language"`
}

// FactKind implements fact.Body.
func (FormsPrinted) FactKind() string { return "event.forms-printed" }

// FormVoided says that a paper form is spoilt or was thrown away.
type FormVoided struct {
	Form   int    `json:"form"`
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (FormVoided) FactKind() string { return "event.form-voided" }

// FormsBack is the blank paper forms counted back. The latest count holds.
type FormsBack struct {
	Forms []FormRange `json:"forms"`
}

// FactKind implements fact.Body.
func (FormsBack) FactKind() string { return "event.forms-back" }

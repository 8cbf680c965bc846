package incident

import "time"

// Reported begins an incident: somebody of the staff said that it happened. It needs nothing but its kind, so that it can be
// said in two taps while somebody is being helped.
type Reported struct {
	Event    string `json:"event"`
	Sort     Sort   `json:"kind"`
	Visit    string `json:"visit,omitempty"` // the ticket that it touches; never a name
	Station  string `json:"station,omitempty"`
	Meter    string `json:"meter,omitempty"`
	StripLot string `json:"strip_lot,omitempty"`
	What     string `json:"what,omitempty"`
}

// FactKind implements fact.Body.
func (Reported) FactKind() string { return "incident.reported" }

// Described is the form of an incident; the latest one holds. Device, brand, area and how it happened are the fields of a
// sharps injury log (29 CFR 1910.1030(h)(5)). There is no field for anything medical.
type Described struct {
	Happened  time.Time `json:"happened,omitzero"` // when the person says it happened; zero: when it was reported
	Device    string    `json:"device,omitempty"`  // one of Devices
	Brand     string    `json:"brand,omitempty"`
	LancetLot string    `json:"lancet_lot,omitempty"`
	Area      string    `json:"area,omitempty"`
	Site      string    `json:"site,omitempty"`  // one of Sites
	Phase     string    `json:"phase,omitempty"` // one of Phases
	How       string    `json:"how,omitempty"`
	Role      string    `json:"role,omitempty"`   // whose: one of Hurt
	Person    string    `json:"person,omitempty"` // person id of the staff, for the lead alone
	Sharps    string    `json:"sharps,omitempty"` // state of the sharps container: one of SharpsStates
	Meter     string    `json:"meter,omitempty"`
	StripLot  string    `json:"strip_lot,omitempty"`
}

// FactKind implements fact.Body.
func (Described) FactKind() string { return "incident.described" }

// Step is one act after an incident with its time.
type Step struct {
	Step    string `json:"step"`
	Choice  string `json:"choice,omitempty"`
	Note    string `json:"note,omitempty"`
	Seconds int    `json:"seconds,omitempty"` // how long the surface must stay wet, for a disinfection
}

// FactKind implements fact.Body.
func (Step) FactKind() string { return "incident.step" }

// Closed ends an incident.
type Closed struct {
	Signed string `json:"signed,omitempty"` // person id of the lead or supervisor, where one must sign
	Note   string `json:"note,omitempty"`
}

// FactKind implements fact.Body.
func (Closed) FactKind() string { return "incident.closed" }

// Withdrawn says that it was no incident: pressed by mistake, or reported twice. It stays in the record.
type Withdrawn struct {
	Reason string `json:"reason"`
}

// FactKind implements fact.Body.
func (Withdrawn) FactKind() string { return "incident.withdrawn" }

package fhir

import "encoding/json"

// The parts of FHIR R4 (4.0.1) that this package writes, by the names and in the order of the standard. What is empty is
// left out, as the standard asks.

// Resource is one resource; what it is and its id are asked by the writer.
type Resource interface {
	About() (kind, id string)
}

// Head is what every resource begins with.
type Head struct {
	ResourceType string `json:"resourceType"`
	ID           string `json:"id,omitempty"`
}

// About implements Resource.
func (h Head) About() (kind, id string) { return h.ResourceType, h.ID }

// Coding is a code of a system.
type Coding struct {
	System  string `json:"system,omitempty"`
	Code    string `json:"code,omitempty"`
	Display string `json:"display,omitempty"`
}

// Concept is a CodeableConcept: codes, words, or both.
type Concept struct {
	Coding []Coding `json:"coding,omitempty"`
	Text   string   `json:"text,omitempty"`
}

// Identifier is a name in some system of names.
type Identifier struct {
	System string `json:"system,omitempty"`
	Value  string `json:"value,omitempty"`
}

// Reference points at another resource, or names somebody by an identifier alone.
type Reference struct {
	Reference  string      `json:"reference,omitempty"`
	Type       string      `json:"type,omitempty"`
	Identifier *Identifier `json:"identifier,omitempty"`
	Display    string      `json:"display,omitempty"`
}

// Quantity is a number with its unit. The number keeps the digits that the meter showed.
type Quantity struct {
	Value  json.Number `json:"value,omitempty"`
	Unit   string      `json:"unit,omitempty"`
	System string      `json:"system,omitempty"`
	Code   string      `json:"code,omitempty"`
}

// Period is from one moment to another.
type Period struct {
	Start string `json:"start,omitempty"`
	End   string `json:"end,omitempty"`
}

// Text is a name or an address that is kept as one line.
type Text struct {
	Text string `json:"text,omitempty"`
}

// ContactPoint is a telephone number.
type ContactPoint struct {
	System string `json:"system,omitempty"`
	Value  string `json:"value,omitempty"`
	Use    string `json:"use,omitempty"`
}

// Annotation is a note.
type Annotation struct {
	Text string `json:"text"`
}

// Organization is the programme, or a place to which people are referred.
type Organization struct {
	Head
	Identifier []Identifier   `json:"identifier,omitempty"`
	Type       []Concept      `json:"type,omitempty"`
	Name       string         `json:"name,omitempty"`
	Telecom    []ContactPoint `json:"telecom,omitempty"`
	Address    []Text         `json:"address,omitempty"`
}

// Location is the venue of an event.
type Location struct {
	Head
	Status               string     `json:"status,omitempty"`
	Name                 string     `json:"name,omitempty"`
	Address              *Text      `json:"address,omitempty"`
	ManagingOrganization *Reference `json:"managingOrganization,omitempty"`
}

// Practitioner is one of the staff: a student, a volunteer or somebody licensed.
type Practitioner struct {
	Head
	Identifier    []Identifier    `json:"identifier,omitempty"`
	Name          []Text          `json:"name,omitempty"`
	Qualification []Qualification `json:"qualification,omitempty"`
}

// Qualification is a title or a role, in words.
type Qualification struct {
	Code Concept `json:"code"`
}

// Device is a meter, or a lot of strips or of control solution.
type Device struct {
	Head
	Identifier     []Identifier `json:"identifier,omitempty"`
	Status         string       `json:"status,omitempty"`
	ExpirationDate string       `json:"expirationDate,omitempty"`
	LotNumber      string       `json:"lotNumber,omitempty"`
	SerialNumber   string       `json:"serialNumber,omitempty"`
	DeviceName     []DeviceName `json:"deviceName,omitempty"`
	ModelNumber    string       `json:"modelNumber,omitempty"`
	Type           *Concept     `json:"type,omitempty"`
	Owner          *Reference   `json:"owner,omitempty"`
}

// DeviceName is what a device is called.
type DeviceName struct {
	Name string `json:"name"`
	Type string `json:"type"`
}

// Patient is a participant who allowed that their name is kept.
type Patient struct {
	Head
	Identifier           []Identifier    `json:"identifier,omitempty"`
	Name                 []Text          `json:"name,omitempty"`
	Telecom              []ContactPoint  `json:"telecom,omitempty"`
	Communication        []Communicating `json:"communication,omitempty"`
	ManagingOrganization *Reference      `json:"managingOrganization,omitempty"`
}

// Communicating is a language that somebody is spoken to in.
type Communicating struct {
	Language  Concept `json:"language"`
	Preferred bool    `json:"preferred,omitempty"`
}

// Consent is one decision of a participant.
type Consent struct {
	Head
	Status     string      `json:"status"`
	Scope      Concept     `json:"scope"`
	Category   []Concept   `json:"category"`
	Patient    *Reference  `json:"patient,omitempty"`
	DateTime   string      `json:"dateTime,omitempty"`
	Org        []Reference `json:"organization,omitempty"`
	PolicyRule *Concept    `json:"policyRule,omitempty"`
	Provision  *Provision  `json:"provision,omitempty"`
}

// Provision says whether something is allowed.
type Provision struct {
	Type string    `json:"type,omitempty"`
	Code []Concept `json:"code,omitempty"`
}

// Specimen is one drop of blood.
type Specimen struct {
	Head
	Status     string      `json:"status,omitempty"`
	Type       *Concept    `json:"type,omitempty"`
	Subject    *Reference  `json:"subject,omitempty"`
	Collection *Collection `json:"collection,omitempty"`
}

// Collection is how a specimen was taken.
type Collection struct {
	Collector         *Reference `json:"collector,omitempty"`
	CollectedDateTime string     `json:"collectedDateTime,omitempty"`
	Method            *Concept   `json:"method,omitempty"`
	BodySite          *Concept   `json:"bodySite,omitempty"`
}

// Observation is what a meter showed for a participant, or for a control solution.
type Observation struct {
	Head
	Identifier        []Identifier     `json:"identifier,omitempty"`
	Status            string           `json:"status"`
	Category          []Concept        `json:"category,omitempty"`
	Code              Concept          `json:"code"`
	Subject           *Reference       `json:"subject,omitempty"`
	EffectiveDateTime string           `json:"effectiveDateTime,omitempty"`
	Performer         []Reference      `json:"performer,omitempty"`
	ValueQuantity     *Quantity        `json:"valueQuantity,omitempty"`
	DataAbsentReason  *Concept         `json:"dataAbsentReason,omitempty"`
	Interpretation    []Concept        `json:"interpretation,omitempty"`
	Note              []Annotation     `json:"note,omitempty"`
	Method            *Concept         `json:"method,omitempty"`
	Specimen          *Reference       `json:"specimen,omitempty"`
	Device            *Reference       `json:"device,omitempty"`
	ReferenceRange    []ReferenceRange `json:"referenceRange,omitempty"`
	Component         []Component      `json:"component,omitempty"`
}

// ReferenceRange is a range of values and what it is.
type ReferenceRange struct {
	Low  *Quantity `json:"low,omitempty"`
	High *Quantity `json:"high,omitempty"`
	Text string    `json:"text,omitempty"`
}

// Component is an answer that belongs to an observation.
type Component struct {
	Code                 Concept  `json:"code"`
	ValueCodeableConcept *Concept `json:"valueCodeableConcept,omitempty"`
	DataAbsentReason     *Concept `json:"dataAbsentReason,omitempty"`
}

// ServiceRequest is the advice to see somebody.
type ServiceRequest struct {
	Head
	Status           string      `json:"status"`
	Intent           string      `json:"intent"`
	Priority         string      `json:"priority,omitempty"`
	Code             *Concept    `json:"code,omitempty"`
	Subject          Reference   `json:"subject"`
	OccurrencePeriod *Period     `json:"occurrencePeriod,omitempty"`
	AuthoredOn       string      `json:"authoredOn,omitempty"`
	Requester        *Reference  `json:"requester,omitempty"`
	Performer        []Reference `json:"performer,omitempty"`
	ReasonReference  []Reference `json:"reasonReference,omitempty"`
}

// Task is the follow-up of a referral.
type Task struct {
	Head
	Status          string       `json:"status"`
	StatusReason    *Concept     `json:"statusReason,omitempty"`
	BusinessStatus  *Concept     `json:"businessStatus,omitempty"`
	Intent          string       `json:"intent"`
	Priority        string       `json:"priority,omitempty"`
	Code            *Concept     `json:"code,omitempty"`
	Focus           *Reference   `json:"focus,omitempty"`
	For             *Reference   `json:"for,omitempty"`
	ExecutionPeriod *Period      `json:"executionPeriod,omitempty"`
	AuthoredOn      string       `json:"authoredOn,omitempty"`
	Owner           *Reference   `json:"owner,omitempty"`
	Restriction     *Restriction `json:"restriction,omitempty"`
	Output          []Output     `json:"output,omitempty"`
}

// Output is something that a task brought: a date or words.
type Output struct {
	Type                 Concept  `json:"type"`
	ValueCodeableConcept *Concept `json:"valueCodeableConcept,omitempty"`
	ValueDate            string   `json:"valueDate,omitempty"`
	ValueString          string   `json:"valueString,omitempty"`
}

// Communication is one try to reach somebody.
type Communication struct {
	Head
	Identifier   []Identifier `json:"identifier,omitempty"`
	BasedOn      []Reference  `json:"basedOn,omitempty"`
	PartOf       []Reference  `json:"partOf,omitempty"`
	Status       string       `json:"status"`
	StatusReason *Concept     `json:"statusReason,omitempty"`
	Medium       []Concept    `json:"medium,omitempty"`
	Subject      *Reference   `json:"subject,omitempty"`
	Topic        *Concept     `json:"topic,omitempty"`
	Sent         string       `json:"sent,omitempty"`
	Sender       *Reference   `json:"sender,omitempty"`
}

// Restriction is until when something is to be done.
type Restriction struct {
	Period *Period `json:"period,omitempty"`
}

// Provenance says who wrote a resource, from what, and when.
type Provenance struct {
	Head
	Target   []Reference `json:"target"`
	Recorded string      `json:"recorded"`
	Activity *Concept    `json:"activity,omitempty"`
	Agent    []Agent     `json:"agent"`
	Entity   []Entity    `json:"entity,omitempty"`
}

// Agent is somebody who took part.
type Agent struct {
	Type *Concept  `json:"type,omitempty"`
	Who  Reference `json:"who"`
}

// Entity is something that was used.
type Entity struct {
	Role string    `json:"role"`
	What Reference `json:"what"`
}

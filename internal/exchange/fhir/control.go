package fhir

import (
	"fairstick/internal/control"
	"fairstick/internal/event"
)

var verdicts = map[control.Verdict]string{
	control.InRange: "in the printed range", control.OutOfRange: "out of the printed range", control.NoValue: "no value to hold against the printed range",
}

// control writes a control run. Its subject is the meter, never a person, and its code is in words: the codes of glucose in capillary
// blood say what a control solution is not, and none for a control could be verified.
func (b *builder) control(r event.Run) {
	meter := b.to("Device", r.Meter)
	meter.Type = deviceType
	o := Observation{
		Head: head("Observation", r.ID), Identifier: []Identifier{record(r.ID)}, Status: "final",
		Category: []Concept{*words("Quality control of a meter")}, Code: *words("Glucose in control solution level " + r.Level + ", by meter; not a person"), Subject: &meter,
		EffectiveDateTime: b.moment(r.At), Device: b.at("Device", r.Meter), Interpretation: []Concept{*words(verdicts[control.Verdict(r.Verdict)])},
	}
	if who := b.person(r.By); who != nil {
		o.Performer = append(o.Performer, *who)
	}
	o.Performer = append(o.Performer, b.to("Organization", programmeID))
	b.value(&o, r.Reading)
	if r.High.Steps > 0 {
		o.ReferenceRange = []ReferenceRange{{Low: quantity(r.Low), High: quantity(r.High), Text: "printed for this lot of strips and this level"}}
	}
	if r.Cause != "" {
		o.Note = []Annotation{{"Cause: " + r.Cause}, {"Action: " + r.Action}}
	}
	b.write(o)
	p := Provenance{
		Head: head("Provenance", r.ID), Target: []Reference{b.to("Observation", r.ID)}, Recorded: b.moment(r.At), Activity: coded(Coding{hl7 + "v3-DataOperation", "CREATE", "create"}, ""),
		Entity: []Entity{{Role: "source", What: b.to("Device", r.ControlLot)}, {Role: "source", What: b.to("Device", r.StripLot)}},
	}
	if who := b.person(r.By); who != nil {
		p.Agent = append(p.Agent, Agent{took("performer", "Performer"), *who})
	}
	p.Agent = append(p.Agent, Agent{took("custodian", "Custodian"), b.to("Organization", programmeID)})
	b.write(p)
}

// deviceType in the subject of an Observation tells a control run from a reading.
const deviceType = "Device"

// ofDevice reports whether an Observation is of a device and not of a person.
func ofDevice(o Observation) bool { return o.Subject != nil && o.Subject.Type == deviceType }

package fhir

import (
	"fmt"

	"fairstick/internal/glucose"
	"fairstick/internal/programme"
	"fairstick/internal/protocol"
	"fairstick/internal/visit"
)

// visit writes one participant's way through the event.
func (b *builder) visit(v *programme.LeavingVisit) {
	b.patient(v)
	b.consents(v)
	specimen := ""
	for i, r := range v.Readings {
		if specimen == "" || r.NewStick {
			specimen = r.ID
			b.specimen(v, r)
		}
		b.observation(v, r, specimen, b.status(v, r))
		if i == len(v.Readings)-1 {
			b.referral(v)
			b.followUp(v)
		}
	}
	for _, r := range v.Withdrawn {
		b.observation(v, r, "", "entered-in-error")
	}
}

// subject is the Patient of those who allowed it; everybody else is the id of their visit.
func (b *builder) subject(v *programme.LeavingVisit) *Reference {
	if v.Contact != nil {
		return b.at("Patient", v.ID)
	}
	id := record(v.ID)
	return &Reference{Type: "Patient", Identifier: &id}
}

func (b *builder) patient(v *programme.LeavingVisit) {
	if v.Contact == nil {
		return
	}
	p := Patient{Head: head("Patient", v.ID), Identifier: []Identifier{record(v.ID)}, ManagingOrganization: b.at("Organization", programmeID)}
	if v.Contact.Name != "" {
		p.Name = []Text{{v.Contact.Name}}
	}
	p.Telecom = phone(v.Contact.Phone)
	if v.Language != "" {
		p.Communication = []Communicating{{Language: Concept{Coding: []Coding{{System: bcp47, Code: v.Language}}}, Preferred: true}}
	}
	b.write(p)
}

// consents writes the answer to the consent text, and the answer to the question for contact.
func (b *builder) consents(v *programme.LeavingVisit) {
	scope := func(code, display string) Concept {
		return *coded(Coding{hl7 + "consentscope", code, display}, "")
	}
	c := Consent{
		Status: "active", Scope: scope("treatment", "Treatment"), Category: []Concept{*coded(consentCode, "")}, Patient: b.subject(v), DateTime: b.moment(v.Times.Arrived),
		Org: []Reference{b.to("Organization", programmeID)},
	}
	agreed := c
	agreed.Head, agreed.PolicyRule = head("Consent", v.ID, "screening"), words("Consent to screening, version "+b.x.Protocol.Consent.Version)
	switch {
	case v.Consent != nil:
		agreed.PolicyRule = words(fmt.Sprintf("Consent to screening, version %s, in %s (%s)", v.Consent.Version, v.Consent.Language, v.Consent.How))
		agreed.Provision = &Provision{Type: "permit"}
		if v.Declined != nil { // the stick was declined after the consent
			agreed.Status = "inactive"
		}
		b.write(agreed)
	case v.Declined != nil:
		agreed.Status, agreed.Provision = "rejected", &Provision{Type: "deny"}
		b.write(agreed)
	}
	if v.Contact == nil && v.State.Contact == nil {
		return
	}
	call := c
	call.Head, call.Scope, call.PolicyRule = head("Consent", v.ID, "contact"), scope("patient-privacy", "Privacy Consent"), words("Contact about the result")
	call.Provision = &Provision{Type: "deny", Code: []Concept{*words("telephone call about the result")}}
	if programme.MayCall(v.State) {
		call.Provision.Type = "permit"
	}
	if v.Erased() {
		call.Status = "inactive"
	}
	b.write(call)
}

func (b *builder) specimen(v *programme.LeavingVisit, r visit.Reading) {
	b.write(Specimen{
		Head: head("Specimen", r.ID), Status: "available", Type: coded(capillaryBlood, ""), Subject: b.subject(v),
		Collection: &Collection{Collector: b.person(r.By), CollectedDateTime: b.moment(r.At), BodySite: coded(finger, ""), Method: words(hands(r) + "; single-use lancet")},
	})
}

func hands(r visit.Reading) string {
	if r.Washed {
		return "Hands washed with soap, first drop"
	}
	return "Finger wiped, second drop"
}

// person points at one of the staff; nil when it was not recorded.
func (b *builder) person(id string) *Reference {
	if b.x.Person(id) == nil {
		return nil
	}
	return b.at("Practitioner", id)
}

// status is how far a reading can be relied on: a correction shows, and so does a result that waits for its repeat.
func (b *builder) status(v *programme.LeavingVisit, r visit.Reading) string {
	switch {
	case r.Reading.Kind == glucose.Error:
		return "cancelled"
	case v.Changed[r.ID]:
		return "corrected"
	case v.Found == nil || v.Found.Repeat:
		return "preliminary"
	}
	return "final"
}

var purposes = map[string]string{visit.First: "first reading", visit.Repeat: "repeat before the result", visit.Recheck: "recheck after sugar"}

func (b *builder) observation(v *programme.LeavingVisit, r visit.Reading, specimen, status string) {
	basis := v.BasisAt(b.x.Protocol, v.Times.FirstRead)
	o := Observation{
		Head: head("Observation", r.ID), Identifier: []Identifier{record(r.ID)}, Status: status,
		Category: []Concept{*coded(Coding{hl7 + "observation-category", "laboratory", "Laboratory"}, "")},
		Code:     *coded(glucoseCodes[r.Reading.Unit][basis], "Glucose, capillary, by meter; screening"), Subject: b.subject(v),
		EffectiveDateTime: b.moment(r.At), Method: coded(measuring, "Fingerstick with a meter: "+purposes[r.Purpose]), Device: b.at("Device", r.Meter),
		Component: []Component{b.fasting(v, basis)},
	}
	if who := b.person(r.By); who != nil {
		o.Performer = append(o.Performer, *who)
	}
	o.Performer = append(o.Performer, b.to("Organization", programmeID))
	if specimen != "" {
		o.Specimen = b.at("Specimen", specimen)
	}
	b.value(&o, r.Reading)
	if counts, ok := v.Counting(); ok && counts.ID == r.ID && status != "entered-in-error" {
		b.judged(&o, v, r)
	}
	b.write(o)
	b.provenance(v, r, status)
}

// value writes what the meter showed. LO and HI have no number: where the meter's range ends is not in the record, and a
// number that nobody saw is not made up.
func (b *builder) value(o *Observation, r glucose.Reading) {
	missing := func(code, display string) {
		o.DataAbsentReason = coded(Coding{absent, code, display}, "the meter showed "+r.Shown())
	}
	switch r.Kind {
	case glucose.Numeric:
		o.ValueQuantity = quantity(r.Value)
	case glucose.Low:
		missing("negative-infinity", "Negative Infinity (NINF)")
		o.Interpretation = append(o.Interpretation, *coded(offScaleLow, "LO: below what the meter measures"))
	case glucose.High:
		missing("positive-infinity", "Positive Infinity (PINF)")
		o.Interpretation = append(o.Interpretation, *coded(offScaleHigh, "HI: above what the meter measures"))
	case glucose.Error:
		missing("error", "Error")
	}
}

// judged writes what the protocol of the event says of the reading that counts.
func (b *builder) judged(o *Observation, v *programme.LeavingVisit, r visit.Reading) {
	f := v.Finding()
	if f == nil {
		return
	}
	text := f.Word.In("en") + " (" + f.Rule + "; protocol " + f.Protocol + ")"
	o.Interpretation = append(o.Interpretation, *coded(bandCodes[f.Band], text))
	o.Note = []Annotation{{"A screening reading can neither diagnose diabetes nor rule it out."}}
	lim, ok := b.x.Protocol.Limits[f.Basis][r.Reading.Unit]
	if !ok || f.Protocol != b.x.Protocol.Version {
		return
	}
	top := lim.RaisedFrom
	top.Steps--
	o.ReferenceRange = []ReferenceRange{{Low: quantity(lim.LowBelow), High: quantity(top), Text: fmt.Sprintf("usual range for this kind of test, %s; protocol %s", f.Basis, f.Protocol)}}
}

// fasting is the reported fasting status. Whoever did not know when they last ate is judged as not fasting, and that they
// did not know is said.
func (b *builder) fasting(v *programme.LeavingVisit, basis protocol.Basis) Component {
	c := Component{Code: *coded(fastingStatus, "")}
	switch {
	case v.Ate == nil:
		c.DataAbsentReason = coded(Coding{absent, "not-asked", "Not Asked"}, "")
	case !v.Ate.Known:
		c.DataAbsentReason = coded(Coding{absent, "asked-unknown", "Asked But Unknown"}, "")
	case basis == protocol.Fasting:
		c.ValueCodeableConcept = coded(Coding{hl7 + "v2-0136", "Y", "Yes"}, "")
	default:
		c.ValueCodeableConcept = coded(Coding{hl7 + "v2-0136", "N", "No"}, "")
	}
	return c
}

// took is the part that somebody had in something.
func took(code, display string) *Concept {
	return coded(Coding{hl7 + "provenance-participant-type", code, display}, "")
}

// provenance says who took a reading, who stood by, and from which lot the strip was.
func (b *builder) provenance(v *programme.LeavingVisit, r visit.Reading, status string) {
	p := Provenance{
		Head: head("Provenance", r.ID), Target: []Reference{b.to("Observation", r.ID)}, Recorded: b.moment(r.At),
		Activity: coded(Coding{hl7 + "v3-DataOperation", "CREATE", "create"}, ""),
		Entity:   []Entity{{Role: "source", What: b.to("Device", r.StripLot)}},
	}
	for _, c := range v.Corrections {
		if status == "corrected" || status == "entered-in-error" {
			p.Recorded, p.Activity = b.moment(c.At), coded(Coding{hl7 + "v3-DataOperation", "UPDATE", "revise"}, "")
		}
	}
	if who := b.person(r.By); who != nil {
		p.Agent = append(p.Agent, Agent{took("performer", "Performer"), *who})
	}
	if who := b.person(r.Supervisor); who != nil {
		p.Agent = append(p.Agent, Agent{words("supervisor"), *who})
	}
	if who := b.person(r.ReadBack); who != nil {
		p.Agent = append(p.Agent, Agent{took("verifier", "Verifier"), *who})
	}
	p.Agent = append(p.Agent, Agent{took("custodian", "Custodian"), b.to("Organization", programmeID)})
	b.write(p)
}

// referral writes the advice to see somebody.
func (b *builder) referral(v *programme.LeavingVisit) {
	ref, f := v.Referral, v.Finding()
	if ref == nil || f == nil {
		return
	}
	s := ServiceRequest{
		Head: head("ServiceRequest", v.ID), Status: "active", Intent: "proposal", Priority: priorities[f.Urgency],
		Code: words("See a clinician about a screening reading; confirm in a laboratory"), Subject: *b.subject(v), AuthoredOn: b.moment(v.Times.Explained), Requester: b.person(v.Counsellor),
	}
	if !ref.Agreed {
		s.Status = "on-hold" // it was advised; the participant did not say yes
	}
	if !ref.By.IsZero() {
		s.OccurrencePeriod = &Period{End: b.moment(ref.By)}
	}
	if r, ok := v.Counting(); ok {
		s.ReasonReference = []Reference{b.to("Observation", r.ID)}
	}
	if ref.Route != "" {
		b.share(Organization{Head: head("Organization", "route", ref.Route), Name: ref.Route})
		s.Performer = []Reference{b.to("Organization", "route", ref.Route)}
	}
	b.write(s)
}

package fhir

import (
	"fairstick/internal/followup"
	"fairstick/internal/glucose"
	"fairstick/internal/protocol"
)

// The systems that codes are taken from.
const (
	loinc          = "http://loinc.org"
	snomed         = "http://snomed.info/sct"
	ucum           = "http://unitsofmeasure.org"
	uri            = "urn:ietf:rfc:3986"
	bcp47          = "urn:ietf:bcp:47"
	hl7            = "http://terminology.hl7.org/CodeSystem/"
	interpretation = hl7 + "v3-ObservationInterpretation"
	absent         = hl7 + "data-absent-reason"
)

// glucoseCodes are the LOINC codes of capillary glucose by glucometer. The unit picks the code; there is none for "random
// capillary", which is said by fastingStatus beside the plain code. Source: the LOINC table, as copied in several public lists.
var glucoseCodes = map[glucose.Unit]map[protocol.Basis]Coding{
	glucose.MgPerDL: {
		protocol.Fasting: {loinc, "41604-0", "Fasting glucose [Mass/volume] in Capillary blood by Glucometer"},
		protocol.Random:  {loinc, "41653-7", "Glucose [Mass/volume] in Capillary blood by Glucometer"},
	},
	glucose.MmolPerL: {
		protocol.Fasting: {loinc, "14770-2", "Fasting glucose [Moles/volume] in Capillary blood by Glucometer"},
		protocol.Random:  {loinc, "14743-9", "Glucose [Moles/volume] in Capillary blood by Glucometer"},
	},
}

var (
	fastingStatus = Coding{loinc, "49541-6", "Fasting status - Reported"}
	consentCode   = Coding{loinc, "59284-0", "Consent Document"} // from memory: check before an interface relies on it

	// SNOMED CT needs a licence outside of its member countries.
	capillaryBlood = Coding{snomed, "122554006", "Capillary blood specimen"}
	finger         = Coding{snomed, "7569003", "Finger structure"}
	measuring      = Coding{snomed, "33747003", "Blood glucose measurement"}
)

// bandCodes are what the bands of a protocol are called among the interpretations of HL7 v3. The display of N is left out:
// the programme never calls a reading normal, the text says what was seen.
var bandCodes = map[protocol.Band]Coding{
	protocol.CriticalLow:  {interpretation, "LL", "Critical low"},
	protocol.Low:          {interpretation, "L", "Low"},
	protocol.Usual:        {interpretation, "N", ""},
	protocol.Raised:       {interpretation, "H", "High"},
	protocol.High:         {interpretation, "H", "High"},
	protocol.CriticalHigh: {interpretation, "HH", "Critical high"},
}

var (
	offScaleLow  = Coding{interpretation, "<", "Off scale low"}
	offScaleHigh = Coding{interpretation, ">", "Off scale high"}
)

// priorities are the urgencies of a protocol in the words of FHIR.
var priorities = map[protocol.Urgency]string{
	protocol.None: "routine", protocol.Weeks: "routine", protocol.Days: "urgent", protocol.Today: "asap", protocol.Emergency: "stat",
}

// media are the ways of trying in the words of HL7 v3, ParticipationMode, as R4 binds it to Communication.medium (public copies of the
// value set). It has no code for a text message, which is told in words beside the wider one.
var media = map[followup.Channel]Coding{
	followup.Phone:    {hl7 + "v3-ParticipationMode", "PHONE", "telephone"},
	followup.Text:     {hl7 + "v3-ParticipationMode", "WRITTEN", "written"},
	followup.Letter:   {hl7 + "v3-ParticipationMode", "MAILWRIT", "mail"},
	followup.InPerson: {hl7 + "v3-ParticipationMode", "FACE", "face-to-face"},
	followup.Email:    {hl7 + "v3-ParticipationMode", "EMAILWRIT", "email"},
}

func coded(c Coding, text string) *Concept { return &Concept{Coding: []Coding{c}, Text: text} }

func words(text string) *Concept { return &Concept{Text: text} }

// quantity gives a value with the digits of the meter and its UCUM unit, which is spelt as the meter spells it.
func quantity(v glucose.Value) *Quantity {
	return &Quantity{Value: number(v), Unit: string(v.Unit), System: ucum, Code: string(v.Unit)}
}

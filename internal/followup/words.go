package followup

import "slices"

// Channel is how somebody tried to reach the person.
type Channel string

// The channels.
const (
	Phone    Channel = "phone"
	Text     Channel = "text"
	Letter   Channel = "letter"
	InPerson Channel = "in-person"
	Email    Channel = "email"
)

// Channels lists the channels in the order in which they are offered.
var Channels = []Channel{Phone, Text, Email, InPerson, Letter}

// Happened is what came of a try.
type Happened string

// What can come of a try.
const (
	Reached      Happened = "reached"      // spoke or wrote with the person
	NoAnswer     Happened = "no-answer"    // rang out; no message was left
	LeftMessage  Happened = "left-message" // a message that says nothing about health
	NotIn        Happened = "not-in"       // somebody else answered
	Busy         Happened = "busy"
	WrongNumber  Happened = "wrong-number"   // whoever answered does not know the person
	NotInService Happened = "not-in-service" // the number does not exist
	Sent         Happened = "sent"           // a text, an e-mail or a letter went out; no answer yet
	Returned     Happened = "returned"       // it came back
)

// Happenings lists what can come of a try by a channel, in the order in which it is offered.
func Happenings(c Channel) []Happened {
	switch c {
	case Phone:
		return []Happened{Reached, NoAnswer, LeftMessage, NotIn, Busy, WrongNumber, NotInService}
	case Text, Email:
		return []Happened{Sent, Reached, WrongNumber, Returned}
	case Letter:
		return []Happened{Sent, Reached, Returned}
	case InPerson:
		return []Happened{Reached, NotIn}
	}
	return nil
}

// Outcome is what became of a referral.
type Outcome string

// The outcomes.
const (
	Seen         Outcome = "seen"          // a clinician has seen the person about it
	Scheduled    Outcome = "scheduled"     // there is an appointment
	NotYet       Outcome = "not-yet"       // not seen and no date, with the reason
	Declined     Outcome = "declined"      // the person wants no more of it
	BadNumber    Outcome = "wrong-number"  // the number is not the person's
	Unreachable  Outcome = "unreachable"   // the tries are used up
	AlreadyKnown Outcome = "already-known" // the person knew, and is in care for it
)

// Outcomes lists the outcomes in the order in which they are offered and counted.
var Outcomes = []Outcome{Seen, Scheduled, NotYet, Declined, BadNumber, Unreachable, AlreadyKnown}

// Final reports whether nobody calls any more after an outcome.
func (o Outcome) Final() bool { return o == Seen || o == Declined || o == AlreadyKnown }

// Spoken reports whether an outcome can only be told by somebody who was reached.
func (o Outcome) Spoken() bool { return o.Final() || o == Scheduled || o == NotYet }

// Reason is why the person has not been seen.
type Reason string

// The reasons, from what people told after screenings, in the order in which they are offered.
const (
	NoTime      Reason = "no-time"
	Forgot      Reason = "forgot"
	Cost        Reason = "cost"
	NoTransport Reason = "no-transport"
	NoClinic    Reason = "no-clinic" // no doctor or no appointment to be had
	Language    Reason = "language"
	FeelsWell   Reason = "feels-well"
	Afraid      Reason = "afraid"
	OtherReason Reason = "other"
	NotSaid     Reason = "not-said"
)

// Reasons lists them.
var Reasons = []Reason{NoTime, Forgot, Cost, NoTransport, NoClinic, Language, FeelsWell, Afraid, OtherReason, NotSaid}

// Source is who told an outcome.
type Source string

// The sources.
const (
	FromPerson   Source = "person"
	FromRelative Source = "relative"
	FromClinic   Source = "clinic"
	FromCaller   Source = "caller" // wrong number and unreachable: the caller's own experience
)

// Sources lists who can tell an outcome to the caller.
var Sources = []Source{FromPerson, FromRelative, FromClinic}

// Test is the kind of a confirming test, as far as the person knows it.
type Test string

// The tests.
const (
	FastingLab Test = "fasting-lab" // glucose of a blood draw, fasting
	RandomLab  Test = "random-lab"
	A1c        Test = "a1c"
	Tolerance  Test = "tolerance" // two hours after a sweet drink
	OtherTest  Test = "other"
	NotKnown   Test = "not-known"
)

// Tests lists them.
var Tests = []Test{A1c, FastingLab, RandomLab, Tolerance, OtherTest, NotKnown}

// Units are those in which people tell a value.
var Units = []string{"%", "mg/dL", "mmol/L", "mmol/mol"}

// Said is what the clinician said, as the person told it. It is nobody's finding here.
type Said string

// What a clinician may have said.
const (
	SaidDiabetes    Said = "diabetes"
	SaidPrediabetes Said = "prediabetes"
	SaidNeither     Said = "neither"
	SaidTestAgain   Said = "test-again"
	SaidOther       Said = "other"
	SaidNothing     Said = "not-told" // not told yet, or the person does not want to say
)

// AllSaid lists them.
var AllSaid = []Said{SaidNeither, SaidPrediabetes, SaidDiabetes, SaidTestAgain, SaidOther, SaidNothing}

// Addressee is to whom a letter goes.
type Addressee string

// The addressees.
const (
	ToPerson    Addressee = "person"
	ToClinician Addressee = "clinician" // a note that the person may carry
)

// Fits reports whether a result can come of a try by a channel.
func Fits(c Channel, h Happened) bool { return slices.Contains(Happenings(c), h) }

// likely says which values of a unit a form believes: a slip of the finger is asked about again. These are no clinical limits.
var likely = map[string][2]float64{"%": {3, 25}, "mg/dL": {10, 2000}, "mmol/L": {0.5, 120}, "mmol/mol": {9, 250}}

// Believable reports whether a value can have been meant in a unit.
func Believable(value float64, unit string) bool {
	r, ok := likely[unit]
	return ok && value >= r[0] && value <= r[1]
}

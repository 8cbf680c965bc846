package programme

import (
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/visit"
)

// What to do with a number that stands on the meter already when a gate is shut.
const (
	NumberWaits   = "Leave the number on the meter and on this page. When that is done, press Record again."
	NumberUnclean = "When that is done, press Record again. If the meter touched this person before it was clean and dry, tell the supervisor and report it under Something happened."
	NumberDoubted = "This number does not count, and nobody is told it as a result. Write ticket, number, meter and time on paper for the supervisor. Test again, with a new lancet, only when this is put right."
	NumberOnPaper = "Write ticket, number, meter and time on paper and give it to the supervisor now."

	// NumberNeedsCare stands before all of these: a number that means danger does so whatever gate is shut.
	NumberNeedsCare = "First care for the person: this number can mean danger. Call a supervisor to them now and press This person looks unwell."
)

// numberAdvice says it by the key of the gate. A gate that somebody opens while the person waits leaves the number good; one
// that puts the meter, the strips or the screener in doubt does not.
var numberAdvice = map[string]string{
	"not-here": NumberWaits, "not-posted": NumberWaits, "no-supervisor": NumberWaits, "ratio-most": NumberWaits, "ratio-wanted": NumberWaits,
	"room-unknown": NumberWaits, "no-meter": NumberWaits, "meter-not-brought": NumberWaits, "no-strips": NumberWaits, "code-unread": NumberWaits,
	"care-open": NumberWaits, "spill-open": NumberWaits, "elsewhere": NumberWaits, "desk-unfinished": NumberWaits, "sticks": NumberWaits,

	"not-wiped": NumberUnclean, "still-wet": NumberUnclean,

	"not-verified": NumberDoubted, "meter-review": NumberDoubted, "quarantined": NumberDoubted, "not-cleared": NumberDoubted, "strips-fit": NumberDoubted,
	"strips-use": NumberDoubted, "stock-held": NumberDoubted, "code-differs": NumberDoubted, "room-temperature": NumberDoubted, "room-humidity": NumberDoubted,
	"chemistry": NumberDoubted, "no-consent": NumberDoubted,

	"not-open": NumberOnPaper, "event-closed": NumberOnPaper, "event-cancelled": NumberOnPaper, "visit-ended": NumberOnPaper,
}

// NumberAdvice says what to do with a number that stands on the meter when a gate with this key is shut; empty when the
// refusal is about the number itself and says so.
func NumberAdvice(key string) string { return numberAdvice[key] }

// withNumber adds to the refusal of a test what to do with the number that was typed.
func withNumber(refused error, typed string, care bool) error {
	f := fault.Of(refused)
	advice := numberAdvice[f.Key]
	if advice == "" || tidy(typed) == "" {
		return refused
	}
	said := *f
	said.Do = oneAfter(said.Do, advice)
	if care {
		said.Do = oneAfter(NumberNeedsCare, said.Do)
	}
	return &said
}

func oneAfter(a, b string) string {
	if a == "" {
		return b
	}
	return a + " " + b
}

// needsCare reports whether a number that was typed asks for care by itself, by the protocol of the event.
func (t testing) needsCare(v *visit.State, typed string) bool {
	if t.meter == nil {
		return false
	}
	r, err := glucose.ParseReading(typed, t.meter.Details.Unit)
	return err == nil && careCause(r, v.BasisAt(t.proto, t.at), t.proto) != ""
}

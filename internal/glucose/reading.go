package glucose

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"fairstick/internal/fault"
)

// Kind is what sort of thing the meter showed.
type Kind string

// What a meter can show. The zero Kind means that there is no reading.
const (
	Numeric Kind = "number"
	Low     Kind = "LO"    // below what the meter can measure
	High    Kind = "HI"    // above what the meter can measure
	Error   Kind = "error" // a code; no value at all
)

// Reading is what a meter showed, in the unit it is set to. The zero Reading means "none".
type Reading struct {
	Kind  Kind
	Value Value  // for Numeric alone
	Code  string // for Error alone, for example "E-4"
	Unit  Unit
}

// Number makes a reading of a value.
func Number(v Value) Reading { return Reading{Kind: Numeric, Value: v, Unit: v.Unit} }

// LO makes the reading of a meter that shows LO.
func LO(u Unit) Reading { return Reading{Kind: Low, Unit: u} }

// HI makes the reading of a meter that shows HI.
func HI(u Unit) Reading { return Reading{Kind: High, Unit: u} }

// ErrorCode makes the reading of a meter that shows an error code.
func ErrorCode(code string, u Unit) Reading {
	return Reading{Kind: Error, Code: strings.TrimSpace(code), Unit: u}
}

var errorCode = regexp.MustCompile(`^(?i)(?:(e)([ -]?[0-9]{1,3}[a-z]?)|(er|err|error)([ -]?[0-9]{1,3}[a-z]?)?)$`)

// codeWord spells the word of an error code as meters show it.
var codeWord = map[string]string{"e": "E", "er": "Er", "err": "Err", "error": "Error"}

// ParseReading reads what stands on the meter: a number ("95", "5.6"), "LO", "HI", or an error code ("E-4", "Err 3"), in any
// case and with spaces around. What no meter can show is refused with a *fault.Fault: key "reading-empty",
// "number-unreadable" or "unit-slip". Whether a number is plausible is the protocol's question.
func ParseReading(text string, u Unit) (Reading, error) {
	if !u.Valid() {
		_, err := ParseUnit(string(u))
		return Reading{}, err
	}
	text = strings.TrimSpace(text)
	if text == "" {
		return Reading{}, fault.New(fault.Invalid, "reading-empty", "No reading was typed.",
			"A strip that gave nothing is counted as a meter error, not left out.",
			"Type the number, LO, HI or the error code on the meter.").
			Field("reading", "Type what the meter shows.")
	}
	switch strings.ToLower(text) {
	case "lo", "low":
		return LO(u), nil
	case "hi", "high":
		return HI(u), nil
	}
	if m := errorCode.FindStringSubmatch(text); m != nil {
		return ErrorCode(codeWord[strings.ToLower(m[1]+m[3])]+strings.ToUpper(m[2]+m[4]), u), nil
	}
	v, err := ParseValue(text, u)
	if err != nil {
		return Reading{}, err
	}
	return Number(v), nil
}

// IsZero reports whether there is no reading.
func (r Reading) IsZero() bool { return r == Reading{} }

// Shown gives what stands on the meter without a unit: "95", "LO", "HI", "E-4".
func (r Reading) Shown() string {
	switch r.Kind {
	case Numeric:
		return r.Value.Number()
	case Error:
		return r.Code
	}
	return string(r.Kind)
}

// String gives what stands on the meter; a number with its unit: "95 mg/dL", "LO", "E-4".
func (r Reading) String() string {
	if r.Kind == Numeric {
		return r.Value.String()
	}
	return r.Shown()
}

type readingJSON struct {
	Kind   Kind   `json:"kind"`
	Number string `json:"number,omitempty"`
	Code   string `json:"code,omitempty"`
	Unit   Unit   `json:"unit"`
}

// MarshalJSON writes {"kind":"number","number":"95","unit":"mg/dL"}, {"kind":"HI","unit":"mg/dL"} or
// {"kind":"error","code":"E-4","unit":"mg/dL"}; null when there is no reading.
func (r Reading) MarshalJSON() ([]byte, error) {
	if r.IsZero() {
		return []byte("null"), nil
	}
	j := readingJSON{Kind: r.Kind, Code: r.Code, Unit: r.Unit}
	if r.Kind == Numeric {
		j.Number = r.Value.Number()
	}
	return json.Marshal(j)
}

// UnmarshalJSON reads what MarshalJSON wrote; anything else is refused.
func (r *Reading) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*r = Reading{}
		return nil
	}
	var j readingJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	if !j.Unit.Valid() {
		return fmt.Errorf("a reading with the unit %q", j.Unit)
	}
	switch {
	case j.Kind == Numeric && j.Code == "":
		v, err := ParseValue(j.Number, j.Unit)
		if err != nil {
			return err
		}
		*r = Number(v)
	case j.Kind == Low && j.Code == "" && j.Number == "":
		*r = LO(j.Unit)
	case j.Kind == High && j.Code == "" && j.Number == "":
		*r = HI(j.Unit)
	case j.Kind == Error && j.Number == "":
		*r = ErrorCode(j.Code, j.Unit)
	default:
		return fmt.Errorf("a reading of the kind %q with number %q and code %q", j.Kind, j.Number, j.Code)
	}
	return nil
}

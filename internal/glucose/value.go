// Package glucose has concentrations and readings exactly as a meter shows them.
//
// A meter shows whole mg/dL or tenths of mmol/L, so a Value counts those steps in an integer and is never a binary
// fraction. Two values are compared only in the unit both were shown in: converting first moves results across published
// limits (11.1 mmol/L is 199.97 mg/dL and would miss 200). Conversion exists for display alone. LO, HI and error codes are
// readings too, not missing data.
package glucose

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"fairstick/internal/fault"
)

// Unit is the unit a meter shows, in UCUM spelling.
type Unit string

// The units that meters show.
const (
	MgPerDL  Unit = "mg/dL"
	MmolPerL Unit = "mmol/L"
)

// Units lists both units in a fixed order.
var Units = []Unit{MgPerDL, MmolPerL}

// ParseUnit reads "mg/dL" or "mmol/L" in any case; the letters alone ("mgdl", "mmol") are understood too.
func ParseUnit(s string) (Unit, error) {
	switch strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), "/", "")) {
	case "mgdl":
		return MgPerDL, nil
	case "mmoll", "mmol":
		return MmolPerL, nil
	}
	return "", fault.New(fault.Invalid, "unit-unknown", fmt.Sprintf("%q is not a unit of glucose.", clip(s)),
		"The same number means something else in the other unit.", "Give mg/dL or mmol/L, as the meter shows it.").
		Field("unit", "Give mg/dL or mmol/L.")
}

// Valid reports whether u is one of the two units.
func (u Unit) Valid() bool { return u == MgPerDL || u == MmolPerL }

// Other gives the other unit.
func (u Unit) Other() Unit {
	if u == MgPerDL {
		return MmolPerL
	}
	return MgPerDL
}

// Value is a concentration as a meter shows it: Steps of 1 mg/dL or of 0.1 mmol/L. The zero Value (no unit) means "none".
type Value struct {
	Steps int
	Unit  Unit
}

// MgDL makes a value from whole mg/dL.
func MgDL(n int) Value { return Value{n, MgPerDL} }

// Mmol makes a value from tenths of mmol/L: Mmol(56) is 5.6 mmol/L.
func Mmol(tenths int) Value { return Value{tenths, MmolPerL} }

// maxDigits bounds the whole part of a number that is read at all.
const maxDigits = 4

// ParseValue reads a number as a meter shows it: whole mg/dL, or mmol/L with at most one decimal ("5" is 5.0). Signs,
// exponents, separators and leading zeros are refused. The error is a *fault.Fault with key "number-unreadable", or
// "unit-slip" when decimals stand in a mg/dL number.
func ParseValue(text string, u Unit) (Value, error) {
	if !u.Valid() {
		_, err := ParseUnit(string(u))
		return Value{}, err
	}
	whole, decimals, pointed := strings.Cut(text, ".")
	if strings.Contains(text, ",") {
		return Value{}, unreadable(text, "A comma can stand for tenths or for thousands.", "Use a point, as the meter shows it.")
	}
	if !digits(whole) || pointed && !digits(decimals) {
		return Value{}, unreadable(text, "Only digits, LO, HI or an error code stand on a meter.",
			"Read the meter again and type exactly what it shows.")
	}
	if len(whole) > maxDigits {
		return Value{}, unreadable(text, fmt.Sprintf("No meter shows more than %d digits.", maxDigits), "Read the meter again; was a digit typed twice?")
	}
	if len(whole) > 1 && whole[0] == '0' {
		return Value{}, unreadable(text, "No meter shows a zero in front.", "Read the meter again; is a digit missing?")
	}
	n, err := strconv.Atoi(whole)
	if err != nil {
		return Value{}, unreadable(text, "Only digits, LO, HI or an error code stand on a meter.", "Read the meter again.")
	}
	if u == MgPerDL {
		if pointed {
			return Value{}, fault.New(fault.Invalid, "unit-slip", fmt.Sprintf("%s has decimals, but the unit here is mg/dL.", clip(text)),
				"A meter that shows decimals measures in mmol/L: the unit is probably wrong.",
				"Look at the unit on the meter's screen, then choose that unit or read the number again.").
				Field("reading", "mg/dL has no decimals: is the unit right?")
		}
		return MgDL(n), nil
	}
	if len(decimals) > 1 {
		return Value{}, unreadable(text, "A meter shows one decimal in mmol/L.", "Read the meter again; do not convert by hand.")
	}
	tenths := 0
	if pointed {
		tenths = int(decimals[0] - '0')
	}
	return Mmol(n*10 + tenths), nil
}

func unreadable(text, why, do string) *fault.Fault {
	f := fault.New(fault.Invalid, "number-unreadable", fmt.Sprintf("%q is not a number that a meter shows.", clip(text)), why, do)
	return f.Field("reading", why)
}

func digits(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// clip keeps what is quoted back short.
func clip(s string) string {
	r := []rune(s)
	if len(r) > 20 {
		return string(r[:20]) + "..."
	}
	return s
}

// IsZero reports whether there is no value at all.
func (v Value) IsZero() bool { return v == Value{} }

// Number gives the number as the meter shows it, without its unit: "95" or "5.6".
func (v Value) Number() string {
	if v.Unit != MmolPerL {
		return strconv.Itoa(v.Steps)
	}
	sign, n := "", v.Steps
	if n < 0 {
		sign, n = "-", -n
	}
	return fmt.Sprintf("%s%d.%d", sign, n/10, n%10)
}

// String gives number and unit: "95 mg/dL"; "" for the zero Value.
func (v Value) String() string {
	if v.IsZero() {
		return ""
	}
	return v.Number() + " " + string(v.Unit)
}

// Compare gives -1, 0 or 1 as a is below, at or above b. Values of different units are never compared: that is a
// *fault.Fault with key "units-differ".
func Compare(a, b Value) (int, error) {
	if a.Unit != b.Unit || !a.Unit.Valid() {
		return 0, fault.New(fault.Invalid, "units-differ", fmt.Sprintf("%s and %s cannot be compared.", quoteNone(a), quoteNone(b)),
			"A converted value can land on the other side of a limit.", "Use a limit in the unit that the meter shows.")
	}
	switch {
	case a.Steps < b.Steps:
		return -1, nil
	case a.Steps > b.Steps:
		return 1, nil
	}
	return 0, nil
}

func quoteNone(v Value) string {
	if v.IsZero() {
		return "a missing value"
	}
	return v.String()
}

// Float gives the number in its own unit, for arithmetic that needs no exact comparison; 0 for the zero Value.
func (v Value) Float() float64 {
	if v.Unit == MmolPerL {
		return float64(v.Steps) / 10
	}
	return float64(v.Steps)
}

// In gives the value in a unit, rounded half away from zero to what a meter would show, for display only. The arithmetic is exact,
// with 18.0156 mg/dL to 1 mmol/L (molar mass of glucose 180.156 g/mol). An unknown unit gives the zero Value.
func (v Value) In(u Unit) Value {
	switch {
	case v.Unit == u:
		return v
	case v.Unit == MgPerDL && u == MmolPerL:
		return Mmol(divide(int64(v.Steps)*100000, 180156))
	case v.Unit == MmolPerL && u == MgPerDL:
		return MgDL(divide(int64(v.Steps)*180156, 100000))
	}
	return Value{}
}

// divide gives a/b rounded half away from zero; b is positive.
func divide(a, b int64) int {
	if a < 0 {
		return -divide(-a, b)
	}
	return int((2*a + b) / (2 * b))
}

type valueJSON struct {
	Number string `json:"number"`
	Unit   Unit   `json:"unit"`
}

// MarshalJSON writes {"number":"5.6","unit":"mmol/L"}, or null for the zero Value.
func (v Value) MarshalJSON() ([]byte, error) {
	if v.IsZero() {
		return []byte("null"), nil
	}
	return json.Marshal(valueJSON{v.Number(), v.Unit})
}

// UnmarshalJSON reads what MarshalJSON wrote, as strictly as ParseValue.
func (v *Value) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*v = Value{}
		return nil
	}
	var j valueJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	p, err := ParseValue(j.Number, j.Unit)
	if err != nil {
		return err
	}
	*v = p
	return nil
}

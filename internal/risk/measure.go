package risk

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"fairstick/internal/fault"
)

// Length is a height or a waist, kept as whole micrometres: an inch is exactly 25.4 mm, so a hundredth of an inch and a
// hundredth of a centimetre are both whole. It remembers the unit it was given in, to be shown in it. The zero Length
// means not measured.
type Length struct {
	um   int64
	unit string // "cm", "in" or "ft"
}

// Weight is a body weight, kept as whole tenths of a microgram: a pound is exactly 0.45359237 kg, so a hundredth of a pound
// and a hundredth of a kilogram are both whole. It remembers its unit. The zero Weight means not measured.
type Weight struct {
	units int64
	unit  string // "kg" or "lb"
}

const (
	umPerCM   = 10_000
	umPerInch = 25_400
	perKG     = 10_000_000_000
	perPound  = 4_535_923_700
)

func centimetres(n int64) Length { return Length{n * umPerCM, "cm"} }
func kilograms(n int64) Weight   { return Weight{n * perKG, "kg"} }

// IsZero reports whether nothing was measured.
func (l Length) IsZero() bool { return l.unit == "" }

// IsZero reports whether nothing was measured.
func (w Weight) IsZero() bool { return w.unit == "" }

// String gives the length in the unit it was given in, for example "5 ft 10 in" or "178.5 cm".
func (l Length) String() string {
	switch l.unit {
	case "cm":
		return hundredths(l.um*100/umPerCM) + " cm"
	case "in":
		return hundredths(l.um*100/umPerInch) + " in"
	case "ft":
		n := l.um * 100 / umPerInch
		return fmt.Sprintf("%d ft %s in", n/1200, hundredths(n%1200))
	}
	return ""
}

// String gives the weight in the unit it was given in, for example "215 lb".
func (w Weight) String() string {
	switch w.unit {
	case "kg":
		return hundredths(w.units/(perKG/100)) + " kg"
	case "lb":
		return hundredths(w.units/(perPound/100)) + " lb"
	}
	return ""
}

var (
	plain = regexp.MustCompile(`^([0-9.]+)([a-z"”″]*)$`)
	feet  = regexp.MustCompile(`^([0-9])(?:ft|feet|foot|'|’|′)(?:([0-9.]+)(?:in|inch|inches|"|”|″)?)?$`)
)

// ParseLength reads a length with its unit: "5ft10in", "5 ft 10.5 in", 5'10", "70in", "178cm", "178.5 cm" or "1.78m". It
// keeps two decimals at most and takes no length without a unit. field is the form field that the fault names.
func ParseLength(field, text string) (Length, error) {
	s := squeeze(text)
	if m := feet.FindStringSubmatch(s); m != nil {
		ft, _ := strconv.ParseInt(m[1], 10, 64) // one digit
		in, ok := int64(0), true
		if m[2] != "" {
			in, ok = parseHundredths(m[2])
		}
		if ok && in < 1200 {
			return Length{(ft*1200 + in) * umPerInch / 100, "ft"}, nil
		}
	}
	if m := plain.FindStringSubmatch(s); m != nil {
		if n, ok := parseHundredths(m[1]); ok {
			switch m[2] {
			case "cm":
				return Length{n * umPerCM / 100, "cm"}, nil
			case "m":
				if n < 100_00 { // shown in centimetres, it must still be readable
					return Length{n * umPerCM, "cm"}, nil
				}
			case "in", "inch", "inches", `"`, "”", "″":
				return Length{n * umPerInch / 100, "in"}, nil
			}
		}
	}
	return Length{}, unreadable(field, text, "5ft10in, 70in or 178cm")
}

// ParseWeight reads a weight with its unit: "215lb", "215.5 lbs" or "98kg". It keeps two decimals at most and takes no
// weight without a unit: 98 lb and 98 kg are different people.
func ParseWeight(text string) (Weight, error) {
	if m := plain.FindStringSubmatch(squeeze(text)); m != nil {
		if n, ok := parseHundredths(m[1]); ok {
			switch m[2] {
			case "kg":
				return Weight{n * (perKG / 100), "kg"}, nil
			case "lb", "lbs":
				return Weight{n * (perPound / 100), "lb"}, nil
			}
		}
	}
	return Weight{}, unreadable("weight", text, "215lb or 98kg")
}

func unreadable(field, text, example string) error {
	if r := []rune(text); len(r) > 30 {
		text = string(r[:30]) + "…"
	}
	sentence := fmt.Sprintf("The %s %q cannot be read.", field, text)
	return fault.New(fault.Invalid, "risk-"+field, sentence, "It needs a number and its unit.",
		"Write it like "+example+", with at most two decimals after a point.").Field(field, sentence)
}

// squeeze takes out spaces and capitals.
func squeeze(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), "")) }

// parseHundredths reads up to four digits and up to two decimals as whole hundredths.
func parseHundredths(s string) (int64, bool) {
	whole, dec, point := strings.Cut(s, ".")
	if whole == "" || len(whole) > 4 || len(dec) > 2 || point && dec == "" {
		return 0, false
	}
	n, err := strconv.ParseUint(whole+(dec + "00")[:2], 10, 32)
	return int64(n), err == nil
}

// hundredths shows whole hundredths as a decimal number without trailing zeros.
func hundredths(n int64) string {
	s := fmt.Sprintf("%d.%02d", n/100, n%100)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// compareBMI compares weight over height squared with a whole number of kg/m² and gives -1, 0 or +1. It is exact:
// w·10⁻¹⁰ kg / (h·10⁻⁶ m)² is compared with n as 100·w with n·h², which stays far below 2⁶³ within the limits of sense.
func compareBMI(w Weight, h Length, n int64) int {
	a, b := 100*w.units, n*h.um*h.um
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

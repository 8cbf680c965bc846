package download

import (
	"encoding/binary"
	"fmt"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// A glucose measurement as the Bluetooth Glucose Service 1.0.1 sends it (characteristic 0x2A18, bluetooth.com, 18 January 2022), little-endian:
// flags, sequence number, base time, and by the flags time offset, concentration with type and location, status. Nothing here
// can send anything to a meter, so nothing can delete its memory.
const (
	hasOffset        = 1 << 0
	hasConcentration = 1 << 1
	isMolar          = 1 << 2
	hasStatus        = 1 << 3
	reservedFlags    = 0b1110_0000

	typeControl     = 10 // low nibble of the octet of type and location
	locationControl = 4  // high nibble

	statusTooHigh = 1 << 5
	statusTooLow  = 1 << 6

	offsetOverrun, offsetUnderrun = 0x7FFF, 0x8000
)

// Measurement is one record as a meter sent it.
type Measurement struct {
	Seq      int
	At       time.Time // base time and offset; the record has no zone, that of the caller is taken
	Reading  glucose.Reading
	Mark     Mark
	Type     int // sample type, 1 to 10
	Location int
	Status   int
}

// SFloat is a number as IEEE 11073-20601 writes it in 16 bits: the low 12 bits a signed mantissa, the high 4 a signed exponent of ten.
type SFloat uint16

// Parts gives mantissa and exponent; special is the name of a value that is no number, empty otherwise.
func (f SFloat) Parts() (mantissa, exponent int, special string) {
	m, e := int(f&0x0FFF), int(f>>12)
	if m >= 0x0800 {
		m -= 0x1000
	}
	if e >= 8 {
		e -= 16
	}
	if e == 0 {
		switch f & 0x0FFF {
		case 0x07FF:
			return 0, 0, "not a number"
		case 0x0800, 0x0801:
			return 0, 0, "an error"
		case 0x07FE:
			return 0, 0, "more than can be measured"
		case 0x0802:
			return 0, 0, "less than can be measured"
		}
	}
	return m, e, ""
}

// scaled gives the number times a power of ten as a whole number, rounded half away from zero.
func scaled(mantissa, exponent int) int {
	for ; exponent > 0; exponent-- {
		mantissa *= 10
	}
	for ; exponent < -1; exponent++ {
		mantissa /= 10 // the last step rounds; 12 bits have at most 4 digits, so no more than one is cut before it
	}
	if exponent == -1 {
		if mantissa < 0 {
			return -((-mantissa + 5) / 10)
		}
		return (mantissa + 5) / 10
	}
	return mantissa
}

func refuse(format string, args ...any) error {
	said := fmt.Sprintf(format, args...)
	return fault.New(fault.Invalid, "record-unreadable", said, "A wrong reading is worse than none.", "Leave this record out, and look at it on the meter.").Field("record", said)
}

// DecodeMeasurement reads one record. A zone says where the meter's clock stood. What is no whole record of glucose is refused with a
// *fault.Fault of key "record-unreadable": another length, no date, no concentration, nothing or less than nothing.
func DecodeMeasurement(b []byte, zone *time.Location) (Measurement, error) {
	if len(b) < 10 {
		return Measurement{}, refuse("The record has %d octets; a glucose measurement has at least 10.", len(b))
	}
	flags := int(b[0])
	if flags&reservedFlags != 0 {
		return Measurement{}, refuse("The first octet 0x%02X is not that of a glucose measurement.", b[0])
	}
	want := 10
	for _, x := range []struct{ flag, octets int }{{hasOffset, 2}, {hasConcentration, 3}, {hasStatus, 2}} {
		if flags&x.flag != 0 {
			want += x.octets
		}
	}
	if len(b) != want {
		return Measurement{}, refuse("The record has %d octets; by its first one it should have %d.", len(b), want)
	}
	m := Measurement{Seq: int(binary.LittleEndian.Uint16(b[1:]))}
	base, err := baseTime(b[3:10], zone)
	if err != nil {
		return Measurement{}, err
	}
	rest := b[10:]
	if flags&hasOffset != 0 {
		raw := binary.LittleEndian.Uint16(rest)
		if raw == offsetOverrun || raw == offsetUnderrun {
			return Measurement{}, refuse("The time of record %d is out of the meter's reach.", m.Seq)
		}
		base, rest = plus(base, int(int16(raw))), rest[2:]
	}
	m.At = base
	if flags&hasConcentration == 0 {
		return Measurement{}, refuse("Record %d has no concentration.", m.Seq)
	}
	value := SFloat(binary.LittleEndian.Uint16(rest))
	m.Type, m.Location, rest = int(rest[2]&0x0F), int(rest[2]>>4), rest[3:]
	m.Mark = Person
	if m.Type == typeControl || m.Location == locationControl {
		m.Mark = Control
	}
	if flags&hasStatus != 0 {
		m.Status = int(binary.LittleEndian.Uint16(rest))
	}
	m.Reading, err = m.reading(value, flags&isMolar != 0)
	return m, err
}

// baseTime reads year, month, day, hour, minute, second. A date that is not known is refused: such a row could be of any day.
func baseTime(b []byte, zone *time.Location) (time.Time, error) {
	year, month, d := int(binary.LittleEndian.Uint16(b)), int(b[2]), int(b[3])
	hour, minute, second := int(b[4]), int(b[5]), int(b[6])
	if year == 0 || month == 0 || d == 0 {
		return time.Time{}, refuse("The record has no date.")
	}
	t := time.Date(year, time.Month(month), d, hour, minute, second, 0, time.UTC)
	if year < 1582 || year > 9999 || month > 12 || hour > 23 || minute > 59 || second > 59 || t.Day() != d {
		return time.Time{}, refuse("The record has the impossible time %04d-%02d-%02d %02d:%02d:%02d.", year, month, d, hour, minute, second)
	}
	return time.Date(year, time.Month(month), d, hour, minute, second, 0, zone), nil
}

// plus moves a meter's clock by minutes. Its clock knows no summer time, so the hands are moved and not the instant.
func plus(t time.Time, minutes int) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute()+minutes, t.Second(), 0, t.Location())
}

// reading turns the concentration into what the meter shows: whole mg/dL from kg/L, tenths of mmol/L from mol/L.
func (m Measurement) reading(value SFloat, molar bool) (glucose.Reading, error) {
	unit, by := glucose.MgPerDL, 5
	if molar {
		unit, by = glucose.MmolPerL, 4 // mol/L to tenths of mmol/L
	}
	switch {
	case m.Status&statusTooHigh != 0:
		return glucose.HI(unit), nil
	case m.Status&statusTooLow != 0:
		return glucose.LO(unit), nil
	}
	mantissa, exponent, special := value.Parts()
	switch special {
	case "more than can be measured":
		return glucose.HI(unit), nil
	case "less than can be measured":
		return glucose.LO(unit), nil
	case "":
	default:
		return glucose.Reading{}, refuse("Record %d has no number: %s.", m.Seq, special)
	}
	if mantissa <= 0 {
		return glucose.Reading{}, refuse("Record %d has a concentration of nothing or less.", m.Seq)
	}
	steps := scaled(mantissa, exponent+by)
	if molar {
		return glucose.Number(glucose.Mmol(steps)), nil
	}
	return glucose.Number(glucose.MgDL(steps)), nil
}

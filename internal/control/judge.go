package control

import (
	"fmt"

	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Judge compares a control reading with the range printed for its strip lot and level; both ends belong to the range. LO, HI and
// error codes are NoValue. A range that is missing, upside down or in another unit than the reading is a *fault.Fault.
func Judge(r glucose.Reading, low, high glucose.Value) (Verdict, error) {
	order, err := glucose.Compare(low, high)
	if err != nil {
		return "", err
	}
	if order > 0 {
		return "", fault.New(fault.Invalid, "range-reversed", fmt.Sprintf("The range %s to %s is upside down.", low, high),
			"No control can lie in it.", "Copy the range from the strip vial again.")
	}
	if r.Unit != low.Unit {
		return "", fault.New(fault.Invalid, "units-differ", fmt.Sprintf("The meter shows %s, the printed range is in %s.", r.Unit, low.Unit),
			"A control is judged in the unit of its printed range.", "Copy the range in the meter's unit, or check the meter's unit.")
	}
	switch r.Kind {
	case glucose.Numeric:
	case glucose.Low, glucose.High, glucose.Error:
		return NoValue, nil
	default:
		return "", fault.New(fault.Invalid, "reading-empty", "The control run has no reading.", "Nothing can be judged.", "Run the control again.")
	}
	below, err := glucose.Compare(r.Value, low)
	if err != nil {
		return "", err
	}
	above, err := glucose.Compare(r.Value, high)
	if err != nil {
		return "", err
	}
	if below < 0 || above > 0 {
		return OutOfRange, nil
	}
	return InRange, nil
}

package exchange

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unique"

	"fairstick/internal/glucose"
)

// Columns of a control history, in the order of historyColumns.
const (
	historyDate = iota
	historyMeter
	historyLot
	historyLevel
	historyValue
	historyLow
	historyHigh
	historyMean
	historySD
	historyRun
	historyUnit
)

var historyColumns = []Column{
	{"date", "like 2026-08-31, with a time (2026-08-31 14:05) or without", true},
	{"meter", "the programme's own name on it", true},
	{"lot", "of the strips", true},
	{"level", "of the control solution: one to three levels", true},
	{"value", "what the meter showed", true},
	{"low", "lower end of the printed range; with high", false},
	{"high", "upper end of the printed range", false},
	{"mean", "assigned mean of the level; with sd", false},
	{"sd", "assigned standard deviation of the level", false},
	{"run", "name of the run, when there are several a day", false},
	{"unit", "mg/dL or mmol/L, the same in every row", false},
}

// HistoryColumns gives the columns of a control history.
func HistoryColumns() []Column { return slices.Clone(historyColumns) }

// ControlValue is one control value of a history.
type ControlValue struct {
	Line   int
	Date   string // as it stands in the file
	At     time.Time
	Meter  string
	Lot    string
	Level  string
	Run    string // name of the run; empty when the file does not name it
	Value  float64
	Range  *[2]float64 // printed range; nil when the file has none
	Target *[2]float64 // assigned mean and SD; nil when the file has none
}

// ControlValues is a control history as it was read, in the order of the file.
type ControlValues struct {
	Values []ControlValue
	Unit   glucose.Unit // of the column unit; empty without it
	Notes  []string
}

// dateLayouts are the ways in which a date is understood; 31/08 and 08/31 cannot be told apart, so neither is.
var dateLayouts = []string{"2006-01-02", "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05", time.RFC3339}

// ReadControls reads a control history from CSV: date, meter, lot, level, value, and low and high, or mean and sd, or both; in
// any order. Other columns are passed over and named in Notes. Refused with line and column, as a *fault.Fault of key
// "numbers-unreadable", are cells that are not what they should be, a range upside down, a value in another unit than its
// range, and two different ranges or targets for one meter, lot and level.
func ReadControls(r io.Reader) (ControlValues, error) {
	t, err := openNumbers(r, historyColumns)
	if err != nil {
		return ControlValues{}, err
	}
	ranged, err := t.both(historyLow, historyHigh)
	if err != nil {
		return ControlValues{}, err
	}
	assigned, err := t.both(historyMean, historySD)
	if err != nil {
		return ControlValues{}, err
	}
	if !ranged && !assigned {
		return ControlValues{}, badFile("Line 1, column 1: the columns low and high, or mean and sd, are missing: a value needs something to be compared with.")
	}
	var out ControlValues
	units := unitCells{}
	first := map[[3]string]ControlValue{}
	for {
		more, err := t.next()
		if err != nil {
			return ControlValues{}, err
		}
		if !more {
			break
		}
		v, ok := t.controlValue(ranged, assigned)
		if t.has(historyUnit) {
			ok = t.unit(historyUnit, &units) && ok
		}
		if !ok {
			continue
		}
		name := [3]string{v.Meter, v.Lot, v.Level}
		if f, seen := first[name]; !seen {
			first[name] = v
		} else if !same(f.Range, v.Range) || !same(f.Target, v.Target) {
			t.cell(historyLevel, fmt.Sprintf("the range or target of meter %s, lot %s, level %s differs from that in line %d. Give another lot name to what has another range.",
				clip(v.Meter), clip(v.Lot), clip(v.Level), f.Line))
			continue
		}
		out.Values = append(out.Values, v)
	}
	if err := t.finish(); err != nil {
		return ControlValues{}, err
	}
	out.Unit = units.unit
	if len(t.unused) > 0 {
		out.Notes = append(out.Notes, "Columns that were not used: "+strings.Join(t.unused, ", ")+".")
	}
	return out, nil
}

func same(a, b *[2]float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// both reports whether the file has both columns of two that only mean something together.
func (t *numberTable) both(a, b int) (bool, error) {
	if t.has(a) == t.has(b) {
		return t.has(a), nil
	}
	there, missing := a, b
	if t.has(b) {
		there, missing = b, a
	}
	return false, badFile(fmt.Sprintf("Line 1, column 1: the column %q is missing: %q alone says nothing.", t.columns[missing].Name, t.columns[there].Name))
}

// controlValue reads a row; false when any of its cells cannot be used, which have been told.
func (t *numberTable) controlValue(ranged, assigned bool) (ControlValue, bool) {
	v := ControlValue{Line: t.line()}
	ok := true
	need := func(read bool) { ok = read && ok }
	var read bool
	v.Date, v.At, read = t.date(historyDate)
	need(read)
	v.Meter, read = t.name(historyMeter)
	need(read)
	v.Lot, read = t.name(historyLot)
	need(read)
	v.Level, read = t.name(historyLevel)
	need(read)
	v.Run = unique.Make(t.text(historyRun)).Value()
	v.Value, read = t.number(historyValue)
	need(read)
	// A row of a file that has both pairs of columns may leave one pair empty.
	withRange := ranged && (!assigned || t.text(historyLow) != "" || t.text(historyHigh) != "")
	withTarget := assigned && (!ranged || t.text(historyMean) != "" || t.text(historySD) != "")
	if withRange {
		low, okLow := t.number(historyLow)
		high, okHigh := t.number(historyHigh)
		need(okLow && okHigh)
		if okLow && okHigh && low >= high {
			t.cell(historyHigh, fmt.Sprintf("the range from %g to %g is upside down or empty.", low, high))
			ok = false
		}
		v.Range = &[2]float64{low, high}
	}
	if withTarget {
		mean, okMean := t.number(historyMean)
		sd, okSD := t.number(historySD)
		need(okMean && okSD)
		if okMean && okSD && (sd <= 0 || mean > 0 && sd >= mean) {
			t.cell(historySD, fmt.Sprintf("an SD of %g at a mean of %g cannot be right.", sd, mean))
			ok = false
		}
		v.Target = &[2]float64{mean, sd}
	}
	if !withRange && !withTarget {
		t.cell(historyLow, "there is neither a range nor a mean and SD to compare the value with.")
		return v, false
	}
	return v, ok && t.plausible(v)
}

// plausible tells a value that cannot belong to its range or target.
func (t *numberTable) plausible(v ControlValue) bool {
	centre := 0.0
	if v.Target != nil {
		centre = v.Target[0]
	} else {
		centre = (v.Range[0] + v.Range[1]) / 2
	}
	shown := clip(t.text(historyValue))
	switch {
	case v.Value > mostReading[glucose.MgPerDL] || v.Value < -mostReading[glucose.MgPerDL]:
		t.cell(historyValue, shown+" is beyond any reading. Was a digit typed twice?")
	case centre > 0 && v.Value <= 0:
		t.cell(historyValue, shown+" is not above 0; no reading is.")
	case centre > 0 && (v.Value >= 9*centre || 9*v.Value <= centre):
		t.cell(historyValue, fmt.Sprintf("%s is far from its mean of %g: is one of them in the other unit? Nothing is converted.", shown, centre))
	default:
		return true
	}
	return false
}

// date gives a date as it was written and as an instant; without a zone it is taken as it stands.
func (t *numberTable) date(column int) (string, time.Time, bool) {
	text := t.text(column)
	for _, layout := range dateLayouts {
		if at, err := time.Parse(layout, text); err == nil && at.Year() >= 1900 && at.Year() <= 2199 {
			return unique.Make(text).Value(), at, true
		}
	}
	if text == "" {
		t.cell(column, "the cell is empty.")
	} else {
		t.cell(column, fmt.Sprintf("%q is not a date: write it like 2026-08-31, or 2026-08-31 14:05.", clip(text)))
	}
	return "", time.Time{}, false
}

package exchange

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"fairstick/internal/agreement"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
)

// Columns of a comparison, in the order of pairColumns.
const (
	pairReference = iota
	pairMeter
	pairReplicate
	pairUnit
)

var pairColumns = []Column{
	{"reference", "what the laboratory measured", true},
	{"meter", "what the meter showed for the same sample", true},
	{"replicate", "number of the repeat of the same sample: 1, 2, ...; the next 1 begins another sample", false},
	{"unit", "mg/dL or mmol/L, the same in every row", false},
}

// PairColumns gives the columns of a comparison of a meter with the laboratory.
func PairColumns() []Column { return slices.Clone(pairColumns) }

// UnitFrom says how the unit of a comparison is known.
type UnitFrom string

// How a unit is known.
const (
	UnitGiven  UnitFrom = "given"  // by whoever asked
	UnitColumn UnitFrom = "column" // by the file
	UnitValues UnitFrom = "values" // by values that only one unit has
)

// Pairs is a comparison as it was read, in one unit.
type Pairs struct {
	Pairs      []agreement.Pair
	Replicates []int // number of the repeat, one for each pair; nil without the column
	Unit       glucose.Unit
	UnitFrom   UnitFrom
	Doubtful   bool // the values look like the other unit: what depends on the unit must not be said
	Notes      []string
}

// What readings are at all: a number above the most is a slip of the finger or of the unit (common practice; the highest that
// people have survived lie near these).
var mostReading = map[glucose.Unit]float64{glucose.MgPerDL: 2000, glucose.MmolPerL: 111}

// Where the two units part (common practice): meters show nothing below 20 mg/dL (1.1 mmol/L) and nothing above 33.3 mmol/L
// (600 mg/dL), so a number below lookMmol is hardly mg/dL, and one above lookMgdl hardly mmol/L.
const (
	lookMmol = 20.0
	lookMgdl = 45.0
)

// ReadPairs reads a comparison from CSV: reference and meter, optionally replicate and unit, in any order; other columns are
// passed over and named in Notes. The unit is the one given, or that of the column, or the one that the values leave no doubt
// about, which Notes then says; nothing is ever converted. Cells that are no number, not above 0 or beyond what readings are,
// and values of both units in one file are refused with line and column: a *fault.Fault of key "numbers-unreadable",
// "units-mixed" or "unit-unclear".
func ReadPairs(r io.Reader, unit glucose.Unit) (Pairs, error) {
	t, err := openNumbers(r, pairColumns)
	if err != nil {
		return Pairs{}, err
	}
	p := Pairs{Unit: unit, UnitFrom: UnitGiven}
	var cells []pairPlace
	units := unitCells{}
	for {
		more, err := t.next()
		if err != nil {
			return Pairs{}, err
		}
		if !more {
			break
		}
		reference, ok := t.reading(pairReference)
		meter, okMeter := t.reading(pairMeter)
		ok = ok && okMeter
		if t.has(pairUnit) {
			ok = t.unit(pairUnit, &units) && ok
		}
		if t.has(pairReplicate) {
			n, okReplicate := t.replicate(pairReplicate, p.Replicates)
			ok = ok && okReplicate
			p.Replicates = append(p.Replicates, n)
		}
		if !ok {
			continue
		}
		p.Pairs = append(p.Pairs, agreement.Pair{Reference: reference, Meter: meter})
		cells = append(cells, t.pairPlace())
	}
	if err := t.finish(); err != nil {
		return Pairs{}, err
	}
	if units.unit != "" {
		if unit != "" && unit != units.unit {
			return Pairs{}, fault.New(fault.Invalid, "units-mixed", fmt.Sprintf("The file says %s, but %s was asked for.", units.unit, unit), "Nothing is converted.",
				"Leave --unit out, or correct the column unit.")
		}
		p.Unit, p.UnitFrom = units.unit, UnitColumn
	}
	if err := p.settleUnit(cells); err != nil {
		return Pairs{}, err
	}
	if len(t.unused) > 0 {
		p.Notes = append(p.Notes, "Columns that were not used: "+strings.Join(t.unused, ", ")+".")
	}
	return p, nil
}

// reading gives a number above 0 and below what any reading is.
func (t *numberTable) reading(column int) (float64, bool) {
	v, ok := t.number(column)
	switch {
	case !ok:
		return 0, false
	case v <= 0:
		t.cell(column, fmt.Sprintf("%s is not above 0; no reading is.", clip(t.text(column))))
		return 0, false
	case v > mostReading[glucose.MgPerDL]:
		t.cell(column, fmt.Sprintf("%s is beyond any reading. Was a digit typed twice?", clip(t.text(column))))
		return 0, false
	}
	return v, true
}

// replicate gives the number of a repeat; before are those of the rows so far.
func (t *numberTable) replicate(column int, before []int) (int, bool) {
	text := t.text(column)
	n, err := strconv.Atoi(text)
	switch {
	case err != nil || n < 1 || n > 99:
		t.cell(column, fmt.Sprintf("%q is not the number of a repeat: 1, 2, ... of the same sample.", clip(text)))
		return 0, false
	case n > 1 && (len(before) == 0 || before[len(before)-1] != n-1):
		t.cell(column, fmt.Sprintf("repeat %d does not follow repeat %d of the same sample.", n, n-1))
		return n, false
	}
	return n, true
}

// unitCells holds the unit of a file to that of its first row.
type unitCells struct {
	unit glucose.Unit
	line int
}

func (t *numberTable) unit(column int, seen *unitCells) bool {
	text := t.text(column)
	if text == "" {
		t.cell(column, "the cell is empty.")
		return false
	}
	u, err := glucose.ParseUnit(text)
	switch {
	case err != nil:
		t.cell(column, fmt.Sprintf("%q is not a unit of glucose: mg/dL or mmol/L.", clip(text)))
		return false
	case seen.unit == "":
		seen.unit, seen.line = u, t.line()
	case seen.unit != u:
		t.cell(column, fmt.Sprintf("the unit is %s, but %s in line %d. Put them into two files; nothing is converted.", u, seen.unit, seen.line))
		return false
	}
	return true
}

// pairPlace is where a pair stands in its file.
type pairPlace struct{ line, reference, meter int32 }

func (t *numberTable) pairPlace() pairPlace {
	line, reference := t.place(t.at[pairReference])
	_, meter := t.place(t.at[pairMeter])
	return pairPlace{int32(line), int32(reference), int32(meter)}
}

// settleUnit refuses values of both units and finds the unit when nobody gave it.
func (p *Pairs) settleUnit(cells []pairPlace) error {
	if p.UnitFrom != UnitColumn {
		if err := mixedUnits(p.Pairs, cells); err != nil {
			return err
		}
	}
	all := make([]float64, 0, 2*len(p.Pairs))
	for _, pair := range p.Pairs {
		all = append(all, pair.Reference, pair.Meter)
	}
	slices.Sort(all)
	middle := (all[(len(all)-1)/2] + all[len(all)/2]) / 2
	looks := glucose.Unit("")
	switch {
	case middle < lookMmol:
		looks = glucose.MmolPerL
	case middle > lookMgdl:
		looks = glucose.MgPerDL
	}
	switch {
	case p.Unit == "" && looks == "":
		return fault.New(fault.Invalid, "unit-unclear", fmt.Sprintf("The unit is missing, and the values (median %.4g) could be of either.", middle),
			"The same number means something else in the other unit.", "Add --unit mg/dL or --unit mmol/L.")
	case p.Unit == "":
		p.Unit, p.UnitFrom = looks, UnitValues
		p.Notes = append(p.Notes, fmt.Sprintf("No unit was given; with a median of %.4g the values are taken as %s.", middle, looks))
	case looks != "" && looks != p.Unit:
		p.Doubtful = true
		p.Notes = append(p.Notes, fmt.Sprintf("The unit is said to be %s, but with a median of %.4g the values look like %s: what depends on the unit is left out.", p.Unit, middle, looks))
	}
	return p.bounds(cells)
}

// bounds refuses values beyond what readings of the unit are.
func (p *Pairs) bounds(cells []pairPlace) error {
	most := mostReading[p.Unit]
	t := numberTable{}
	for i, pair := range p.Pairs {
		c := cells[i]
		for _, v := range []struct {
			value  float64
			column int32
			name   string
		}{{pair.Reference, c.reference, "reference"}, {pair.Meter, c.meter, "meter"}} {
			if v.value > most {
				t.tell(fmt.Sprintf("Line %d, column %d (%s): %g %s is beyond any reading. Is the unit right?", c.line, v.column, v.name, v.value, p.Unit))
			}
		}
	}
	return t.told()
}

// mixedUnits refuses pairs of which some look like mmol/L and others like mg/dL. Three signs are looked for, none of which
// readings of one unit show:
//
//	columns   in at least half of the pairs one value is 12 to 27 times the other (the units differ by 18)
//	gap       a value below 34 is followed by one above 34 that is at least 2.5 times as large, and the values below have a median below 20
//	two heaps fewer values lie from 20 to 45 than a fifth of those below and a fifth of those above
func mixedUnits(pairs []agreement.Pair, cells []pairPlace) error {
	lower, higher := 0, 0 // pairs whose meter is far below, and far above
	all := make([]float64, 0, 2*len(pairs))
	for _, p := range pairs {
		if ratio := p.Meter / p.Reference; ratio >= 12 && ratio <= 27 {
			higher++
		} else if ratio := p.Reference / p.Meter; ratio >= 12 && ratio <= 27 {
			lower++
		}
		all = append(all, p.Reference, p.Meter)
	}
	switch {
	case 2*higher >= len(pairs):
		return mixed("The column reference looks like mmol/L and the column meter like mg/dL.")
	case 2*lower >= len(pairs):
		return mixed("The column reference looks like mg/dL and the column meter like mmol/L.")
	}
	slices.Sort(all)
	edge := 0.0 // what lies below it looks like mmol/L
	for i := 1; i < len(all) && edge == 0; i++ {
		if a, b := all[i-1], all[i]; a < 34 && b > 34 && b >= 2.5*a && all[(i-1)/2] < lookMmol {
			edge = b
		}
	}
	low, _ := slices.BinarySearch(all, lookMmol)
	high, _ := slices.BinarySearch(all, lookMgdl)
	if between := high - low; edge == 0 && 5*between < min(low, len(all)-high) {
		edge = (lookMmol + lookMgdl) / 2
	}
	if edge == 0 {
		return nil
	}
	return mixed(fewer(pairs, cells, edge))
}

func mixed(sentence string) error {
	return fault.New(fault.Invalid, "units-mixed", sentence, "Values of two units cannot be compared, and nothing is converted.",
		`Put each unit into a file of its own. If the values are right as they are, name the unit of each row in a column "unit".`)
}

// fewer names the cells of the smaller of the two heaps that an edge parts.
func fewer(pairs []agreement.Pair, cells []pairPlace, edge float64) string {
	below := 0
	for _, p := range pairs {
		for _, v := range []float64{p.Reference, p.Meter} {
			if v < edge {
				below++
			}
		}
	}
	above := 2*len(pairs) - below
	few, ofFew, other, nameBelow := below, "mmol/L", "mg/dL", true
	if above < below {
		few, ofFew, other, nameBelow = above, "mg/dL", "mmol/L", false
	}
	var named []string
	for i := 0; i < len(pairs) && len(named) < min(few, 5); i++ {
		for _, v := range []struct {
			value  float64
			column int32
		}{{pairs[i].Reference, cells[i].reference}, {pairs[i].Meter, cells[i].meter}} {
			if (v.value < edge) == nameBelow && len(named) < 5 {
				named = append(named, fmt.Sprintf("line %d, column %d: %g", cells[i].line, v.column, v.value))
			}
		}
	}
	if more := few - len(named); more > 0 {
		named = append(named, fmt.Sprintf("%d more", more))
	}
	looks := "values look"
	if few == 1 {
		looks = "value looks"
	}
	return fmt.Sprintf("The units are mixed: %d %s like %s (%s) among %d that look like %s.", few, looks, ofFew, strings.Join(named, "; "), 2*len(pairs)-few, other)
}

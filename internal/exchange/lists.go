// Package exchange reads and writes what other programs read and write. Here are the lists that a programme loads from a
// spreadsheet: it only turns text into rows of named cells, with the place of whatever is wrong in the file itself. What
// the cells mean is decided by package programme, by the same checks as on the pages.
package exchange

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// Column is one column of a list.
type Column struct {
	Name     string
	Means    string
	Required bool
}

// list is a list with its columns and two invented rows in the order of the columns.
type list struct {
	name     string
	columns  []Column
	examples [2][]string
}

const several = "several with | between"

var lists = []list{
	{programme.PeopleList, []Column{
		{"name", "as it is called on the day; nobody else on the list has it", true},
		{"title", "for example PharmD, licensed", false},
		{"roles", "lead, supervisor, screener, counsellor, desk, runner; " + several, true},
		{"languages", "language tags such as en, es; " + several, false},
		{"glove", "XS, S, M, L or XL", false},
	}, [2][]string{{"Ines Example", "third year", "screener|desk", "en|es", "S"}, {"Tomas Example", "PharmD, licensed", "supervisor", "en", "L"}}},
	{programme.VerificationsList, []Column{
		{"name", "as it stands on the list of people", true},
		{"role", "the role that was verified", true},
		{"from", "first day, like 2026-08-31", true},
		{"until", "last day, like 2026-08-31", true},
		{"note", "for example what was observed", false},
	}, [2][]string{{"Ines Example", "screener", "2026-01-10", "2027-01-09", "quiz and three observed fingersticks"}, {"Tomas Example", "supervisor", "2026-01-10", "2027-01-09", ""}}},
	{programme.MetersList, []Column{
		{"label", "the programme's own name on it, for example M1", true},
		{"serial", "from the back of the meter", true},
		{"model", "the programme's word for the type; strip lots name it too", true},
		{"coding", "none, chip or button", true},
		{"unit", "mg/dL or mmol/L, as the meter shows it", true},
		{"temp_low", "lowest room temperature of the insert, in degrees Celsius", true},
		{"temp_high", "highest room temperature of the insert, in degrees Celsius", true},
		{"humidity_low", "lowest humidity in percent, when the insert states it", false},
		{"humidity_high", "highest humidity in percent, when the insert states it", false},
	}, [2][]string{{"M1", "EX-0001", "Type A", "button", "mg/dL", "10", "40", "10", "90"}, {"M2", "EX-0002", "Type A", "button", "mg/dL", "10", "40", "", ""}}},
	{programme.StripLotsList, []Column{
		{"lot", "as printed on the vial", true},
		{"models", "the types of meter that the strips fit; " + several, true},
		{"chemistry", "glucose-oxidase, gdh-fad, gdh-nad, gdh-pqq, hexokinase or unknown", true},
		{"code", "as printed on the vial, when there is one", false},
		{"expiry", "like 2026-08-31, or 2026-08 for the end of the month", true},
		{"in_use", "days after opening from the insert, or the word expiry", true},
		{"each_vial", "does a new vial need controls: yes, no or unknown", true},
		{"per_vial", "strips in a vial", true},
		{"unit", "of the printed ranges: mg/dL or mmol/L", true},
		{programme.RangePrefix + "1", "printed control range of level 1, like 92-128; one such column for each level, range_2 and so on", true},
		{programme.RangePrefix + "2", "printed control range of level 2", false},
	}, [2][]string{{"EX100", "Type A", "gdh-fad", "21", "2027-08", "90", "no", "50", "mg/dL", "92-128", "265-359"}, {"EX101", "Type A|Type B", "gdh-fad", "24", "2027-11-30", "expiry", "unknown", "25", "mg/dL", "90-126", "262-355"}}},
	{programme.ControlLotsList, []Column{
		{"lot", "as printed on the bottle", true},
		{"level", "as the strips' ranges name it, for example 1", true},
		{"models", "the types of meter it is made for; " + several, true},
		{"expiry", "like 2026-08-31, or 2026-08 for the end of the month", true},
		{"in_use_days", "days after opening", true},
	}, [2][]string{{"EXC1", "1", "Type A", "2027-05", "90"}, {"EXC2", "2", "Type A", "2027-05", "90"}}},
	{programme.DisinfectantsList, []Column{
		{"name", "as printed on it, or the programme's word for it", true},
		{"contact_seconds", "how long the surface must stay wet, from the label", true},
		{"two_step", "one wipe to clean and a second to disinfect: yes or no", true},
		{"expiry", "when it is printed", false},
	}, [2][]string{{"Example two-minute wipes", "120", "yes", "2027-12"}, {"Example one-minute wipes", "60", "no", ""}}},
	{programme.SuppliesList, []Column{
		{"name", "what it is", true},
		{"pack", "how it is packed", false},
		{"expiry", "when it is printed", false},
		{"note", "anything that helps", false},
	}, [2][]string{{"Lancets, 28 gauge", "box of 200", "2028-03", "single use, they retract"}, {"Gauze", "pack of 100", "", ""}}},
}

// Lists names the lists that can be loaded, in the order in which a programme needs them.
func Lists() []string {
	out := make([]string, len(lists))
	for i, l := range lists {
		out[i] = l.name
	}
	return out
}

func find(name string) (list, bool) {
	for _, l := range lists {
		if l.name == name {
			return l, true
		}
	}
	return list{}, false
}

// ListColumns gives the columns of a list in the order of its example; nil for a list that does not exist.
func ListColumns(name string) []Column {
	l, _ := find(name)
	return append([]Column(nil), l.columns...)
}

// Example gives a file of a list with its header and two invented rows; the error is a *fault.Fault of kind Missing.
func Example(name string) ([]byte, error) {
	l, ok := find(name)
	if !ok {
		return nil, noList(name)
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	header := make([]string, len(l.columns))
	for i, c := range l.columns {
		header[i] = c.Name
	}
	for _, row := range [][]string{header, l.examples[0], l.examples[1]} {
		if err := w.Write(row); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// Help says in plain text which columns each list has.
func Help() string {
	var b strings.Builder
	b.WriteString("The first row names the columns, in any order; commas, semicolons or tabs stand between cells; the file is UTF-8.\n")
	for _, l := range lists {
		fmt.Fprintf(&b, "\n%s\n", l.name)
		for _, c := range l.columns {
			need := " (may be left out)"
			if c.Required {
				need = ""
			}
			fmt.Fprintf(&b, "  %-16s %s%s\n", c.Name, c.Means, need)
		}
	}
	return b.String()
}

func noList(name string) *fault.Fault {
	return fault.New(fault.Missing, "no-such-list", fmt.Sprintf("There is no list called %q.", clip(name)), "", "Choose one of: "+strings.Join(Lists(), ", ")+".")
}

// clip keeps what is quoted back short.
func clip(s string) string {
	if r := []rune(s); len(r) > 30 {
		return string(r[:30]) + "..."
	}
	return s
}

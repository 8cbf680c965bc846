package exchange

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"fairstick/internal/about"
	"fairstick/internal/programme"
)

// The two files of a day that was written on paper.
const (
	DayVisits   = "visits"
	DayControls = "controls"
)

// Day is a file of a day as it was read: rows of named cells, and what is wrong with the file itself, row by row.
type Day struct {
	Rows []programme.ImportRow
	Bad  []programme.BadRow
}

// MaxDayColumns bounds the header of a file of a day.
const MaxDayColumns = 250

const (
	clockMeans = "a time like 9:05, 14:05 or 2:05 pm"
	yesMeans   = "yes or no"
	nameMeans  = "the name on the list of people"
)

// aboutMeans says which answers a question has that people answer if they want to.
func aboutMeans(q about.Question) string {
	answers := strings.Join(q.Codes(), ", ")
	if q.Digits > 0 {
		answers = fmt.Sprintf("%d digits, never more", q.Digits)
	}
	if q.Several {
		answers += ", several with | between"
	}
	return "what the person said of themself: " + answers + ", " + about.PreferNot + ", or " + about.PassedOver + "; empty: not asked"
}

var visitColumns = func() []Column {
	out := []Column{
		{"form", "number of the form; leave it empty for a row without one", false},
		{"row", "for a row without a form number: a key of your own that no other row has", false},
		{"language", "en or es; en when empty", false},
		{"arrived", clockMeans, true},
		{"outcome", "tested, left, not-eligible, declined-consent or declined-fingerstick", true},
		{"reason", "why the person left or declined", false},
		{"consent_time", clockMeans, false},
		{"consent_how", "read, read-aloud or interpreter", false},
		{programme.AnswerPrefix + "age", "answer to a question of the protocol, one column each: the question's key with _ for each hyphen", false},
		{"last_food", "a time, yesterday 21:30, 2026-06-19 21:30, or not known", false},
		{"contact", "yes: with permission; no: refused; empty: not asked", false},
		{"contact_call", "may the programme call: " + yesMeans, false},
		{"contact_name", "only with permission; it is kept sealed", false},
		{"contact_phone", "only with permission; it is kept sealed", false},
		{"contact_when", "the best time to call", false},
	}
	for _, q := range about.Questions() {
		out = append(out, Column{about.Field(q.Key), aboutMeans(q), false})
	}
	out = append(out, Column{"called", "when the person was called to the test, if it was written down", false})
	for n := 1; n <= programme.MostPaperReadings; n++ {
		p := fmt.Sprintf("reading%d_", n)
		out = append(out,
			Column{p + "time", clockMeans, false},
			Column{p + "value", "as the meter showed it, in the meter's unit: 112, LO, HI, E-3", false},
			Column{p + "meter", "label of the meter", false},
			Column{p + "strip_lot", "as printed on the vial", false},
			Column{p + "vial", "the programme's name on the vial", false},
			Column{p + "station", "where it was taken", false},
			Column{p + "screener", nameMeans, false},
			Column{p + "purpose", "first, repeat or recheck; empty: it follows from the readings before", false},
			Column{p + "same_drop", "no new lancet after a meter error: " + yesMeans + "; no when empty", false},
			Column{p + "misfires", "lancets that did not work; 0 when empty", false},
			Column{p + "washed", "hands washed with soap: " + yesMeans, false},
			Column{p + "read_by", "second person who read the meter", false},
			Column{p + "sharps", "lancets seen into sharps: " + yesMeans + "; no when empty", false},
			Column{p + "wiped", "when the meter was wiped after this reading", false},
			Column{p + "wipe", "disinfectant, when the meter's review allows more than one", false},
			Column{p + "reason", "of a repeat that no rule asks for", false},
		)
	}
	act := func(step string, with ...Column) {
		out = append(out, Column{"care_" + step + "_time", clockMeans, false}, Column{"care_" + step + "_by", nameMeans, false})
		out = append(out, with...)
	}
	act("seen", Column{"care_seen_note", "what was seen on a person who looked unwell", false})
	act("supervisor")
	act("signs", Column{"care_signs_signs", "signs of a crisis by their keys, several with | between, or none", false}, Column{"care_signs_note", "anything that helps", false})
	act("sugar", Column{"care_sugar_choice", "given, cannot-swallow or refused", false}, Column{"care_sugar_note", "what was given", false})
	act("sugar2", Column{"care_sugar2_choice", "the second time of sugar", false}, Column{"care_sugar2_note", "what was given", false})
	act("action", Column{"care_action_choice", "emergency-called, same-day-care, stays-here or declined-care", false}, Column{"care_action_note", "anything that helps", false})
	act("handover", Column{"care_handover_note", "to whom the person went and how", false})
	act("arrived", Column{"care_arrived_note", "who said that the person arrived", false})
	return append(out,
		Column{"care_signed_time", clockMeans, false},
		Column{"care_signed_by", "the supervisor who ended the care; empty: it stays open", false},
		Column{"care_note", "note beside the signature", false},
		Column{"talk", "when the person was called to Explain, if it was written down", false},
		Column{"explained", clockMeans, false},
		Column{"explained_by", nameMeans, false},
		Column{"explained_station", "where", false},
		Column{"explained_language", "en or es; that of the visit when empty", false},
		Column{"teach_back", "own-words, again or not-asked", false},
		Column{"slip", "handed over: " + yesMeans, false},
		Column{"slip_language", "en or es; that of the explanation when empty", false},
		Column{"slip_size", "half-letter, a5 or screen; half-letter when empty", false},
		Column{"referral", "the place to which the person was referred", false},
		Column{"referral_agreed", yesMeans, false},
		Column{"ended", "when the person left", false},
	)
}()

var controlColumns = []Column{
	{"time", clockMeans, true},
	{"meter", "label of the meter", true},
	{"strip_lot", "as printed on the vial", true},
	{"vial", "the programme's name on the vial", true},
	{"control_lot", "as printed on the bottle", true},
	{"level", "when one number stands on more than one level", false},
	{"bottle", "the programme's name on the bottle", true},
	{"value", "as the meter showed it, in the meter's unit: 112, LO, HI, E-3", true},
	{"operator", nameMeans, true},
	{"code", "the code that the meter showed, when it was compared with the vial", false},
	{"cause", "of a run that was not in range", false},
	{"action", "what was done about it", false},
}

// DayColumns gives the columns of one of the files of a day; nil for another name.
func DayColumns(file string) []Column {
	switch file {
	case DayVisits:
		return append([]Column(nil), visitColumns...)
	case DayControls:
		return append([]Column(nil), controlColumns...)
	}
	return nil
}

// DayHelp says in plain text which columns the files of a day have. The columns of readings 2 to 6 are those of the first.
func DayHelp() string {
	var b strings.Builder
	for _, file := range []string{DayVisits, DayControls} {
		fmt.Fprintf(&b, "\n%s\n", file)
		for _, c := range DayColumns(file) {
			if strings.HasPrefix(c.Name, "reading") && !strings.HasPrefix(c.Name, "reading1_") {
				continue
			}
			need := " (may be left out)"
			if c.Required {
				need = ""
			}
			fmt.Fprintf(&b, "  %-20s %s%s\n", c.Name, c.Means, need)
		}
	}
	fmt.Fprintf(&b, "\nFurther readings of a person are in columns reading2_time to reading%d_reason.\n", programme.MostPaperReadings)
	return b.String()
}

// DayExample gives the header of a file of a day, for a spreadsheet to be filled in; the error is a *fault.Fault of kind
// Missing. The questions of the protocol are named by their keys.
func DayExample(file string, questions []string) ([]byte, error) {
	columns := DayColumns(file)
	if columns == nil {
		return nil, noList(file)
	}
	var header []string
	for _, c := range columns {
		if !strings.HasPrefix(c.Name, programme.AnswerPrefix) {
			header = append(header, c.Name)
			continue
		}
		for _, q := range questions {
			header = append(header, programme.AnswerPrefix+strings.ReplaceAll(q, "-", "_"))
		}
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	if err := w.Write(header); err != nil {
		return nil, err
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// ReadDay reads one of the files of a day from CSV, as ReadList reads a list. What is wrong with one row is kept in Bad and
// does not stop the reading of the others; a file that cannot be read at all is a *fault.Fault of key "list-unreadable".
func ReadDay(file string, r io.Reader) (Day, error) {
	columns := DayColumns(file)
	if columns == nil {
		return Day{}, noList(file)
	}
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return Day{}, unreadable("The file could not be read.").Because(err)
	}
	if len(data) > MaxBytes {
		return Day{}, unreadable(fmt.Sprintf("The file is larger than %d kB.", MaxBytes>>10))
	}
	if data, err = clean(data); err != nil {
		return Day{}, err
	}
	in := newReader(data)
	header, err := in.Read()
	if errors.Is(err, io.EOF) {
		return Day{}, unreadable("The file is empty.")
	}
	if err != nil {
		return Day{}, in.broken(err)
	}
	names, err := dayHeader(in, header, columns)
	if err != nil {
		return Day{}, err
	}
	var out Day
	for rows := 0; ; {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return Day{}, in.broken(err)
		}
		row, bad := dayRow(in, names, cells)
		if len(row.Values) == 0 && len(bad) == 0 {
			continue
		}
		if rows++; rows > programme.MaxImportRows {
			return Day{}, at(row.Line, 1, fmt.Sprintf("there are more than %d rows. Load the rest in a second file.", programme.MaxImportRows))
		}
		out.Bad = append(out.Bad, bad...)
		if len(row.Values) > 0 {
			out.Rows = append(out.Rows, row)
		}
	}
	if len(out.Rows) == 0 && len(out.Bad) == 0 {
		return Day{}, unreadable("There are no rows under the header.")
	}
	return out, nil
}

// dayHeader matches the names of the first row with the columns of the file.
func dayHeader(in *reader, header []string, columns []Column) ([]string, error) {
	if len(header) > MaxDayColumns {
		return nil, at(1, 1, fmt.Sprintf("there are more than %d columns.", MaxDayColumns))
	}
	known := map[string]bool{}
	for _, c := range columns {
		known[c.Name] = true
	}
	answers := known[programme.AnswerPrefix+"age"]
	seen := map[string]bool{}
	out := make([]string, len(header))
	for i, h := range header {
		line, col := in.place(i)
		name := columnName(h)
		answer := answers && strings.HasPrefix(name, programme.AnswerPrefix) && len(name) > len(programme.AnswerPrefix)
		switch {
		case name == "" && i == len(header)-1 && i > 0:
			continue // a separator at the end of the line
		case !known[name] && !answer:
			return nil, at(line, col, fmt.Sprintf("%q is not a column of this file. fairstick import day --help lists them.", clip(strings.TrimSpace(h))))
		case seen[name]:
			return nil, at(line, col, fmt.Sprintf("the column %q stands there twice.", clip(name)))
		}
		out[i], seen[name] = name, true
	}
	for _, c := range columns {
		if c.Required && !seen[c.Name] {
			return nil, at(1, 1, fmt.Sprintf("the column %q is missing: %s.", c.Name, c.Means))
		}
	}
	return out, nil
}

// dayRow names the cells of a row; what stands in the wrong place is told and left out.
func dayRow(in *reader, names, cells []string) (programme.ImportRow, []programme.BadRow) {
	line, _ := in.place(0)
	row := programme.ImportRow{Line: line, Values: map[string]string{}}
	var bad []programme.BadRow
	for i, c := range cells {
		text := plainText(strings.TrimSpace(c))
		if text == "" {
			continue
		}
		l, col := in.place(i)
		switch {
		case i >= len(names) || names[i] == "":
			return row, append(bad, programme.BadRow{Line: l, Column: fmt.Sprintf("at letter %d", col), Sentence: fmt.Sprintf("%q stands under no column. Is a cell with a separator in it without quotes?", clip(text))})
		case utf8.RuneCountInString(text) > MaxCell:
			bad = append(bad, programme.BadRow{Line: l, Column: names[i], Sentence: fmt.Sprintf("The cell has more than %d letters. Is a quotation mark missing?", MaxCell)})
		default:
			row.Values[names[i]] = text
		}
	}
	return row, bad
}

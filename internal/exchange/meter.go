package exchange

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"fairstick/internal/download"
	"fairstick/internal/fault"
	"fairstick/internal/glucose"
	"fairstick/internal/programme"
)

// MeterTable is a file that was downloaded from a meter, before anybody has said what its columns are.
type MeterTable struct {
	Header []string
	rows   []meterLine
}

type meterLine struct {
	line  int
	cells []string
}

// Orders are the orders of a date in numbers: year, month and day first.
var Orders = []string{"ymd", "mdy", "dmy"}

// MeterColumns says which column of a file is what, by the names in its header. Empty is none.
type MeterColumns struct {
	Date     string // when the time has a column of its own
	Time     string
	Value    string
	Unit     string // empty: every value is in the unit of Fixed
	Control  string
	Sequence string
	Order    string // of the date, one of Orders; empty: it follows from the dates, when they allow only one
	Fixed    glucose.Unit
}

// ReadMeterTable reads a CSV file that came out of a meter. Lines before the header, as many programs write them, are left out: the
// header is the first row with two or more cells of which none begins with a digit. The error is a *fault.Fault.
func ReadMeterTable(r io.Reader) (MeterTable, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return MeterTable{}, unreadable("The file could not be read.").Because(err)
	}
	if len(data) > MaxBytes {
		return MeterTable{}, unreadable(fmt.Sprintf("The file is larger than %d kB.", MaxBytes>>10))
	}
	if data, err = clean(data); err != nil {
		return MeterTable{}, err
	}
	var out MeterTable
	in := newReader(data)
	in.Comma = commonSeparator(data)
	in.LazyQuotes = true
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return MeterTable{}, in.broken(err)
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		line, _ := in.place(0)
		switch {
		case !slices.ContainsFunc(cells, func(c string) bool { return c != "" }):
		case out.Header == nil:
			if isHeader(cells) {
				out.Header = cells
			}
		case len(out.rows) == programme.MostDownloaded:
			return MeterTable{}, at(line, 1, fmt.Sprintf("there are more than %d rows. Leave out those of other days.", programme.MostDownloaded))
		default:
			out.rows = append(out.rows, meterLine{line, cells})
		}
	}
	switch {
	case out.Header == nil:
		return MeterTable{}, unreadable("No row of this file names its columns.")
	case len(out.rows) == 0:
		return MeterTable{}, unreadable("There are no rows under the header.")
	}
	return out, nil
}

// commonSeparator gives the separator that stands most often in the whole file: what comes before the header may have none.
func commonSeparator(data []byte) rune {
	best, most := ',', 0
	for _, c := range []rune{',', ';', '\t'} {
		if n := bytes.Count(data, []byte(string(c))); n > most {
			best, most = c, n
		}
	}
	return best
}

func isHeader(cells []string) bool {
	n := 0
	for _, c := range cells {
		if c == "" {
			continue
		}
		if unicode.IsDigit([]rune(c)[0]) {
			return false
		}
		n++
	}
	return n > 1
}

// Guess proposes the columns by the words in their names. It is a proposal: whoever loads the file confirms it.
func (t MeterTable) Guess(unit glucose.Unit) MeterColumns {
	c := MeterColumns{Fixed: unit}
	for _, x := range []struct {
		to    *string
		words []string
	}{
		{&c.Value, []string{"value", "glucose", "reading", "result", "mg/dl", "mmol"}},
		{&c.Unit, []string{"unit"}},
		{&c.Control, []string{"control", "mark", "flag", "type"}},
		{&c.Sequence, []string{"sequence", "seq", "record", "number", "no."}},
		{&c.Time, []string{"time", "hour"}},
		{&c.Date, []string{"date", "day"}},
	} {
		for _, word := range x.words {
			for _, h := range t.Header {
				taken := slices.Contains([]string{c.Value, c.Unit, c.Control, c.Sequence, c.Time}, h)
				if *x.to == "" && !taken && h != "" && strings.Contains(strings.ToLower(h), word) {
					*x.to = h
				}
			}
		}
	}
	if c.Time == "" {
		c.Time, c.Date = c.Date, ""
	}
	return c
}

// Rows reads the rows by the columns that were chosen. What is wrong with a row is told with its line and column; the fault is about
// the choice itself. plausible is asked about each number.
func (t MeterTable) Rows(c MeterColumns, zone *time.Location, plausible func(glucose.Reading) error) ([]download.Row, []programme.BadRow, error) {
	r := meterReader{t: t, c: c, zone: zone, plausible: plausible, at: map[string]int{}}
	if err := r.columns(); err != nil {
		return nil, nil, err
	}
	if err := r.chooseOrder(); err != nil {
		return nil, nil, err
	}
	var out []download.Row
	for _, l := range t.rows {
		if row, ok := r.row(l); ok {
			out = append(out, row)
		}
	}
	return out, r.bad, nil
}

type meterReader struct {
	t         MeterTable
	c         MeterColumns
	zone      *time.Location
	plausible func(glucose.Reading) error
	at        map[string]int
	bad       []programme.BadRow
}

func (r *meterReader) columns() error {
	for i, h := range r.t.Header {
		if _, twice := r.at[h]; !twice {
			r.at[h] = i
		}
	}
	for _, x := range []struct{ field, label, name string }{
		{"column_time", "the time", r.c.Time},
		{"column_value", "the value", r.c.Value},
	} {
		if x.name == "" {
			return fault.BadField(x.field, "Choose the column of %s.", x.label)
		}
	}
	for _, x := range []struct{ field, name string }{
		{"column_time", r.c.Time}, {"column_value", r.c.Value}, {"column_date", r.c.Date}, {"column_unit", r.c.Unit}, {"column_control", r.c.Control}, {"column_sequence", r.c.Sequence},
	} {
		if _, ok := r.at[x.name]; x.name != "" && !ok {
			return fault.BadField(x.field, "The file has no column %q. Its columns are: %s.", clip(x.name), strings.Join(r.t.Header, ", "))
		}
	}
	if r.c.Order != "" && !slices.Contains(Orders, r.c.Order) {
		return fault.BadField("order", "Choose the order of the date: ymd, mdy or dmy.")
	}
	return nil
}

func (r *meterReader) cell(l meterLine, name string) string {
	i, ok := r.at[name]
	if name == "" || !ok || i >= len(l.cells) {
		return ""
	}
	return l.cells[i]
}

func (r *meterReader) when(l meterLine) string {
	return strings.TrimSpace(r.cell(l, r.c.Date) + " " + r.cell(l, r.c.Time))
}

// chooseOrder finds the only order of the date in which every row has one. When 4 October and 10 April are both possible, somebody
// who knows the meter must say which.
func (r *meterReader) chooseOrder() error {
	if r.c.Order != "" {
		return nil
	}
	var fit []string
	for _, o := range Orders {
		if !slices.ContainsFunc(r.t.rows, func(l meterLine) bool {
			_, ok := meterTime(r.when(l), o, r.zone)
			return r.when(l) != "" && !ok
		}) {
			fit = append(fit, o)
		}
	}
	if len(fit) > 1 && !slices.Contains(fit, "ymd") {
		return fault.BadField("order", "The dates can be read in two ways (%q). Choose whether the month or the day comes first.", clip(r.when(r.t.rows[0])))
	}
	r.c.Order = Orders[0]
	if len(fit) > 0 {
		r.c.Order = fit[0]
	}
	return nil
}

func (r *meterReader) say(l meterLine, column, format string, args ...any) {
	r.bad = append(r.bad, programme.BadRow{Line: l.line, Column: column, Sentence: fmt.Sprintf(format, args...)})
}

func (r *meterReader) row(l meterLine) (download.Row, bool) {
	before := len(r.bad)
	out := download.Row{Line: l.line}
	t, ok := meterTime(r.when(l), r.c.Order, r.zone)
	if !ok {
		r.say(l, r.c.Time, "%q is not a date and a time.", clip(r.when(l)))
	}
	out.At = t
	unit := r.c.Fixed
	if r.c.Unit != "" {
		u, err := glucose.ParseUnit(r.cell(l, r.c.Unit))
		if err != nil {
			r.say(l, r.c.Unit, "%s", fault.Of(err).Sentence)
			return out, false
		}
		unit = u
	}
	text := r.cell(l, r.c.Value)
	if whole, cut := strings.CutSuffix(text, ".0"); cut && unit == glucose.MgPerDL {
		text = whole // some programs write every number with a decimal
	}
	reading, err := glucose.ParseReading(text, unit)
	if err == nil {
		err = r.plausible(reading)
	}
	if err != nil {
		r.say(l, r.c.Value, "%s", fault.Of(err).Sentence)
	}
	out.Reading = reading
	if r.c.Control != "" {
		if out.Mark, ok = controlMark(r.cell(l, r.c.Control)); !ok {
			r.say(l, r.c.Control, "%q does not say whether this is a control. Write yes or no, or choose another column.", clip(r.cell(l, r.c.Control)))
		}
	}
	if s := r.cell(l, r.c.Sequence); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 0 || n > 1<<31-2 {
			r.say(l, r.c.Sequence, "%q is not a number of a row.", clip(s))
		}
		out.Seq = n + 1 // 0 means none; only the order matters
	}
	return out, len(r.bad) == before
}

// controlMark reads the words that mark a control. An empty cell is no mark: it is of a person.
func controlMark(s string) (download.Mark, bool) {
	switch strings.ToLower(s) {
	case "", "no", "n", "0", "false", "person", "patient", "test", "blood", "result":
		return download.Person, true
	case "yes", "y", "1", "true", "x", "c", "control", "control solution", "qc", "ctl", "cs":
		return download.Control, true
	}
	return download.Unmarked, false
}

// meterTime reads a date and a time of day in one of the orders.
func meterTime(text, order string, zone *time.Location) (time.Time, bool) {
	text = strings.Join(strings.Fields(strings.NewReplacer("T", " ", ".", "/", "-", "/").Replace(strings.ToUpper(text))), " ")
	if i := strings.IndexByte(text, ' '); i > 0 { // only the date has strokes
		text = text[:i] + " " + strings.ReplaceAll(text[i+1:], "/", ".")
	}
	dates := map[string][]string{"ymd": {"2006/1/2"}, "mdy": {"1/2/2006", "1/2/06"}, "dmy": {"2/1/2006", "2/1/06"}}
	for _, d := range dates[order] {
		for _, clock := range []string{"15:04:05", "15:04", "3:04:05 PM", "3:04 PM", "3:04:05PM", "3:04PM", "15:04:05.999", "15:04:05Z"} {
			if t, err := time.ParseInLocation(d+" "+clock, text, zone); err == nil {
				return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, zone), true
			}
		}
	}
	return time.Time{}, false
}

// ReadMeterHex reads glucose measurements (characteristic 0x2A18) as octets in hexadecimal, one record a line; spaces, colons and 0x are
// understood, and what follows a # is left out. What is no whole record of glucose is told with its line and left out.
func ReadMeterHex(r io.Reader, zone *time.Location, plausible func(glucose.Reading) error) ([]download.Row, []programme.BadRow, error) {
	var out []download.Row
	var bad []programme.BadRow
	in := bufio.NewScanner(io.LimitReader(r, MaxBytes))
	line := 0
	for in.Scan() {
		line++
		text, _, _ := strings.Cut(in.Text(), "#")
		text = strings.NewReplacer(" ", "", "\t", "", ":", "", "-", "", "0x", "", "0X", "", ",", "").Replace(strings.TrimPrefix(text, "\ufeff"))
		if strings.TrimSpace(text) == "" {
			continue
		}
		if line > 2*programme.MostDownloaded {
			return nil, nil, unreadable(fmt.Sprintf("There are more than %d records.", programme.MostDownloaded))
		}
		say := func(sentence string) {
			bad = append(bad, programme.BadRow{Line: line, Column: "record", Sentence: sentence})
		}
		octets, err := hex.DecodeString(text)
		if err != nil {
			say("This is not a row of octets in hexadecimal.")
			continue
		}
		m, err := download.DecodeMeasurement(octets, zone)
		if err == nil {
			err = plausible(m.Reading)
		}
		if err != nil {
			say(fault.Of(err).Sentence)
			continue
		}
		out = append(out, download.Row{Line: line, At: m.At, Reading: m.Reading, Mark: m.Mark, Seq: m.Seq + 1})
	}
	if err := in.Err(); err != nil {
		return nil, nil, unreadable("A line of the file is too long.").Because(err)
	}
	if len(out)+len(bad) == 0 {
		return nil, nil, unreadable("There are no records in the file.")
	}
	return out, bad, nil
}

// Sample gives the first rows under the header, each as wide as it.
func (t MeterTable) Sample(n int) [][]string {
	var out [][]string
	for _, l := range t.rows[:min(n, len(t.rows))] {
		row := make([]string, len(t.Header))
		copy(row, l.cells)
		out = append(out, row)
	}
	return out
}

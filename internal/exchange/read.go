package exchange

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"fairstick/internal/fault"
	"fairstick/internal/programme"
)

// MaxBytes bounds a list; MaxCell bounds one cell, since no field of any list is longer.
const (
	MaxBytes = 1 << 20
	MaxCell  = 1000
)

// List is a list as it was read.
type List struct {
	Name string
	Rows []programme.ImportRow
}

// ReadList reads a list from CSV: a header of known columns in any order and case, then rows. A byte order mark, CRLF and
// quoted cells are understood; commas, semicolons or tabs may stand between cells, whichever the header has most. Rows without any
// text are left out. What cannot be read is a *fault.Fault of key "list-unreadable" that names line and column.
func ReadList(name string, r io.Reader) (List, error) {
	l, ok := find(name)
	if !ok {
		return List{}, noList(name)
	}
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return List{}, unreadable("The file could not be read.").Because(err)
	}
	if len(data) > MaxBytes {
		return List{}, unreadable(fmt.Sprintf("The file is larger than %d kB.", MaxBytes>>10))
	}
	if data, err = clean(data); err != nil {
		return List{}, err
	}
	in := newReader(data)
	header, err := in.Read()
	if errors.Is(err, io.EOF) {
		return List{}, unreadable("The file is empty.")
	}
	if err != nil {
		return List{}, in.broken(err)
	}
	columns, err := l.header(in, header)
	if err != nil {
		return List{}, err
	}
	out := List{Name: name}
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return List{}, in.broken(err)
		}
		row, err := readRow(in, columns, cells)
		if err != nil {
			return List{}, err
		}
		if len(row.Values) == 0 {
			continue
		}
		if len(out.Rows) == programme.MaxImportRows {
			return List{}, at(row.Line, 1, fmt.Sprintf("there are more than %d rows. Load the rest in a second file.", programme.MaxImportRows))
		}
		out.Rows = append(out.Rows, row)
	}
	if len(out.Rows) == 0 {
		return List{}, unreadable("There are no rows under the header.")
	}
	return out, nil
}

// clean drops a byte order mark, turns the line ends of old spreadsheets into new ones, and refuses text that is not UTF-8.
func clean(data []byte) ([]byte, error) {
	const save = "Save it again as CSV in UTF-8."
	if bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}) {
		return nil, unreadable("The file is in UTF-16. " + save)
	}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) {
		return nil, unreadable("This is a workbook, not a CSV file. " + save)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !bytes.Contains(data, []byte("\n")) {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	for i, line := 0, 1; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			return nil, at(line, column(data, i), "this letter is not UTF-8. "+save)
		case r == 0:
			return nil, at(line, column(data, i), "this is not text.")
		case r == '\n':
			line++
		}
		i += n
	}
	return data, nil
}

// column counts the letters of a line before an offset, from 1.
func column(data []byte, offset int) int {
	return 1 + utf8.RuneCount(data[1+bytes.LastIndexByte(data[:offset], '\n'):offset])
}

// separator gives the separator that stands most often in the header outside of quotes.
func separator(data []byte) rune {
	n := map[byte]int{}
	quoted := false
	for _, c := range bytes.TrimLeft(data, "\r\n") {
		if c == '"' {
			quoted = !quoted
		}
		if c == '\n' && !quoted {
			break
		}
		if !quoted {
			n[c]++
		}
	}
	best := byte(',')
	for _, c := range []byte{';', '\t'} {
		if n[c] > n[best] {
			best = c
		}
	}
	return rune(best)
}

// header matches the names of the first row with the columns of the list.
func (l list) header(in *reader, header []string) ([]string, error) {
	known := map[string]bool{}
	names := make([]string, len(l.columns))
	for i, c := range l.columns {
		known[c.Name], names[i] = true, c.Name
	}
	out := make([]string, len(header))
	seen := map[string]bool{}
	for i, h := range header {
		line, col := in.place(i)
		name := columnName(h)
		isRange := known[programme.RangePrefix+"1"] && strings.HasPrefix(name, programme.RangePrefix) && len(name) > len(programme.RangePrefix)
		switch {
		case name == "" && i == len(header)-1 && i > 0:
			out[i] = "" // a separator at the end of the line
			continue
		case !known[name] && !isRange:
			return nil, at(line, col, fmt.Sprintf("%q is not a column of this list. Its columns are: %s.", clip(strings.TrimSpace(h)), strings.Join(names, ", ")))
		case seen[name]:
			return nil, at(line, col, fmt.Sprintf("the column %q stands there twice.", name))
		}
		out[i], seen[name] = name, true
	}
	for _, c := range l.columns {
		if c.Required && !seen[c.Name] && !strings.HasPrefix(c.Name, programme.RangePrefix) {
			return nil, at(1, 1, fmt.Sprintf("the column %q is missing: %s.", c.Name, c.Means))
		}
	}
	return out, nil
}

// columnName folds case, and spaces or hyphens to underscores; the level after range_ keeps its case.
func columnName(h string) string {
	h = strings.NewReplacer(" ", "_", "-", "_").Replace(strings.TrimSpace(h))
	if n := len(programme.RangePrefix); len(h) > n && strings.EqualFold(h[:n], programme.RangePrefix) {
		return programme.RangePrefix + h[n:]
	}
	return strings.ToLower(h)
}

func readRow(in *reader, columns, cells []string) (programme.ImportRow, error) {
	line, _ := in.place(0)
	row := programme.ImportRow{Line: line, Values: map[string]string{}}
	for i, c := range cells {
		text := strings.TrimSpace(c)
		if text == "" {
			continue
		}
		l, col := in.place(i)
		if i >= len(columns) || columns[i] == "" {
			return row, at(l, col, fmt.Sprintf("%q stands under no column. Is a cell with a separator in it without quotes?", clip(text)))
		}
		if utf8.RuneCountInString(text) > MaxCell {
			return row, at(l, col, fmt.Sprintf("a cell has more than %d letters. Is a quotation mark missing?", MaxCell))
		}
		row.Values[columns[i]] = text
	}
	if len(row.Values) > 0 && len(cells) < len(columns) && columns[len(cells)] != "" {
		return row, at(line, 1, fmt.Sprintf("there are %d cells under %d columns.", len(cells), len(columns)))
	}
	return row, nil
}

// reader is a CSV reader that counts columns in letters, as an editor does.
type reader struct {
	*csv.Reader
	lines [][]byte
}

func newReader(data []byte) *reader {
	r := &reader{csv.NewReader(bytes.NewReader(data)), bytes.Split(data, []byte("\n"))}
	r.Comma = separator(data)
	r.FieldsPerRecord = -1
	return r
}

func (r *reader) place(field int) (line, column int) {
	line, b := r.FieldPos(field)
	return line, r.letters(line, b)
}

// letters turns a byte column into one of letters; both count from 1.
func (r *reader) letters(line, column int) int {
	if line < 1 || line > len(r.lines) || column < 1 {
		return 1
	}
	text := r.lines[line-1]
	return 1 + utf8.RuneCount(text[:min(column-1, len(text))])
}

// broken says where a file stops being CSV.
func (r *reader) broken(err error) *fault.Fault {
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return unreadable("The file could not be read.").Because(err)
	}
	what := "it is not CSV."
	switch {
	case errors.Is(err, csv.ErrQuote):
		what = "a quotation mark is missing or one too many."
	case errors.Is(err, csv.ErrBareQuote):
		what = "a quotation mark stands inside a cell without quotes. Write it twice inside of quotes."
	}
	if p.StartLine < p.Line {
		what += fmt.Sprintf(" The row begins in line %d.", p.StartLine)
	}
	return at(p.Line, r.letters(p.Line, p.Column), what)
}

func at(line, column int, what string) *fault.Fault {
	return unreadable(fmt.Sprintf("Line %d, column %d: %s", line, column, what))
}

func unreadable(sentence string) *fault.Fault {
	return fault.New(fault.Invalid, "list-unreadable", sentence, "Nothing of the file was recorded.", "Correct the file and load it again.").Field("file", sentence)
}

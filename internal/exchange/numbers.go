package exchange

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
	"unique"

	"fairstick/internal/fault"
)

// What bounds a file of numbers: its bytes, its rows, and one line of it.
const (
	MaxNumberBytes = 256 << 20
	MaxNumberRows  = 2_000_000
	maxLine        = 64 << 10
	maxRow         = 1 << 20 // a row over several lines
)

// shownCells is how many bad cells are named one by one; the rest are counted.
const shownCells = 20

// numberTable reads a file of numbers row by row: a header of known columns in any order and case, then rows. What ReadList
// understands of spreadsheets it understands too, but the file is never held as a whole. A column that is not known is passed
// over and named in unused. Cells that cannot be used are collected, so that all of them are told at once.
type numberTable struct {
	lines   *lineReader
	csv     *csv.Reader
	columns []Column
	at      []int // place of each column in a row; -1 when the file does not have it
	filled  []bool
	width   int // cells in a full row
	unused  []string
	cells   []string
	rows    int

	shown    []string // bad cells, at most shownCells of them
	bad      int
	point    int // line of the first decimal point
	comma    int // line of the first decimal comma
	twoMarks bool
}

// openNumbers reads the header. What is wrong with the file itself is a *fault.Fault of key "numbers-unreadable".
func openNumbers(r io.Reader, columns []Column) (*numberTable, error) {
	lines := &lineReader{src: bufio.NewReaderSize(r, maxLine)}
	head, err := lines.open()
	if err != nil {
		return nil, err
	}
	t := &numberTable{lines: lines, csv: csv.NewReader(lines), columns: columns, at: make([]int, len(columns)), filled: make([]bool, len(columns))}
	t.csv.Comma = separator(head)
	t.csv.FieldsPerRecord = -1
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if errors.Is(err, io.EOF) && lines.fault == nil {
		return nil, badFile("The file is empty.")
	}
	if err != nil {
		return nil, t.broken(err)
	}
	for i := range t.at {
		t.at[i] = -1
	}
	for place, h := range header {
		name := columnName(h)
		line, col := t.place(place)
		c := t.column(name)
		switch {
		case name == "" && place == len(header)-1 && place > 0:
			continue // a separator at the end of the line
		case c < 0:
			t.unused = append(t.unused, clip(strings.TrimSpace(h)))
		case t.at[c] >= 0:
			return nil, badFile(fmt.Sprintf("Line %d, column %d: the column %q stands there twice.", line, col, name))
		default:
			t.at[c] = place
		}
		t.width = place + 1
	}
	for i, c := range columns {
		if c.Required && t.at[i] < 0 {
			return nil, badFile(fmt.Sprintf("Line 1, column 1: the column %q is missing: %s. The first row must name the columns.", c.Name, c.Means))
		}
	}
	return t, nil
}

// column gives the number of a column by its name, or -1.
func (t *numberTable) column(name string) int {
	for i, c := range t.columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

// has reports whether the file has a column.
func (t *numberTable) has(column int) bool { return t.at[column] >= 0 }

// next goes to the next row with any text in it; false at the end.
func (t *numberTable) next() (bool, error) {
	for {
		t.lines.forget()
		cells, err := t.csv.Read()
		if errors.Is(err, io.EOF) && t.lines.fault == nil {
			return false, nil
		}
		if err != nil {
			return false, t.broken(err)
		}
		empty := true
		for i, c := range cells {
			cells[i] = strings.TrimSpace(c)
			empty = empty && cells[i] == ""
		}
		if empty {
			continue
		}
		if t.rows++; t.rows > MaxNumberRows {
			return false, badFile(fmt.Sprintf("Line %d, column 1: there are more than %d rows.", t.line(), MaxNumberRows))
		}
		t.cells = cells
		for i := t.width; i < len(cells); i++ {
			if cells[i] == "" {
				continue
			}
			line, col := t.place(i)
			t.tell(fmt.Sprintf("Line %d, column %d: %q stands under no column; a decimal comma needs semicolons or tabs between cells.", line, col, clip(cells[i])))
		}
		return true, nil
	}
}

// line is the line in which the row begins.
func (t *numberTable) line() int {
	line, _ := t.csv.FieldPos(0)
	return line
}

// text gives a cell of the row, empty when there is none.
func (t *numberTable) text(column int) string {
	if p := t.at[column]; p >= 0 && p < len(t.cells) && t.cells[p] != "" {
		t.filled[column] = true
		return t.cells[p]
	}
	return ""
}

// name gives a short text that a row must have; false, and the cell is told, when it is missing or too long.
func (t *numberTable) name(column int) (string, bool) {
	text := t.text(column)
	switch {
	case text == "":
		t.cell(column, "the cell is empty.")
		return "", false
	case utf8.RuneCountInString(text) > 100:
		t.cell(column, "the cell has more than 100 letters. Is a quotation mark missing?")
		return "", false
	}
	return unique.Make(text).Value(), true // a few names stand in many rows
}

// number gives a number that a row must have; false, and the cell is told, when there is none.
func (t *numberTable) number(column int) (float64, bool) {
	text := t.text(column)
	v, problem := t.parse(text)
	if problem != "" {
		t.cell(column, problem)
		return 0, false
	}
	return v, true
}

// parse reads a number: digits with at most one decimal mark, a sign and an exponent. A decimal comma is understood where
// commas do not stand between cells. The problem is empty when there is none.
func (t *numberTable) parse(text string) (v float64, problem string) {
	if text == "" {
		return 0, "the cell is empty."
	}
	plain := text
	if i := strings.IndexByte(text, ','); i >= 0 {
		if t.csv.Comma == ',' {
			return 0, fmt.Sprintf("%q has a comma: write a point, or put semicolons between cells.", clip(text))
		}
		plain = text[:i] + "." + text[i+1:]
	}
	if !decimal(plain) {
		return 0, noNumber(text)
	}
	switch {
	case plain != text && t.comma == 0:
		t.comma = t.line()
	case plain == text && t.point == 0 && strings.IndexByte(text, '.') >= 0:
		t.point = t.line()
	}
	if t.comma > 0 && t.point > 0 && !t.twoMarks {
		t.twoMarks = true
		return 0, fmt.Sprintf("decimals have a comma in line %d but a point in line %d: one of them may stand for thousands.", t.comma, t.point)
	}
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Sprintf("%q is not a finite number.", clip(text))
	}
	return v, ""
}

// decimal reports whether a text is digits with at most one point among them, with a sign before and an exponent behind or
// without.
func decimal(s string) bool {
	i, n := 0, 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	for ; i < len(s) && digit(s[i]); i++ {
		n++
	}
	if i < len(s) && s[i] == '.' {
		for i++; i < len(s) && digit(s[i]); i++ {
			n++
		}
	}
	if n == 0 || i == len(s) {
		return n > 0
	}
	if s[i] != 'e' && s[i] != 'E' {
		return false
	}
	i++
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	from := i
	for i < len(s) && digit(s[i]) {
		i++
	}
	return i > from && i == len(s)
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

func noNumber(text string) string {
	switch strings.ToLower(strings.TrimLeft(text, "+-")) {
	case "lo", "low", "hi", "high":
		return fmt.Sprintf("%q is what a meter shows beyond its range, not a number: leave the row out and report how many there were.", clip(text))
	case "nan", "inf", "infinity", "na", "n/a", "#n/a", "null":
		return fmt.Sprintf("%q is not a finite number: leave the row out.", clip(text))
	}
	return fmt.Sprintf("%q is not a number.", clip(text))
}

// cell tells what is wrong with the cell of a column in this row.
func (t *numberTable) cell(column int, problem string) {
	p := min(t.at[column], len(t.cells)-1)
	line, col := t.place(max(p, 0))
	t.tell(fmt.Sprintf("Line %d, column %d (%s): %s", line, col, t.columns[column].Name, problem))
}

func (t *numberTable) tell(problem string) {
	if t.bad++; t.bad <= shownCells {
		t.shown = append(t.shown, problem)
	}
}

// finish gives what was wrong with the rows, if anything: empty columns first, since they make every cell bad.
func (t *numberTable) finish() error {
	if t.rows == 0 {
		return badFile("There are no rows under the header.")
	}
	for i, c := range t.columns {
		if c.Required && !t.filled[i] {
			return badFile(fmt.Sprintf("The column %q is empty: %s.", c.Name, c.Means))
		}
	}
	return t.told()
}

// told gives the bad cells so far as one fault, or nil.
func (t *numberTable) told() error {
	if t.bad == 0 {
		return nil
	}
	sentence := strings.Join(t.shown, "\n")
	if more := t.bad - len(t.shown); more > 0 {
		sentence += fmt.Sprintf("\nand %d more.", more)
	}
	return badFile(sentence)
}

// place gives line and column of a cell of the row, the column in letters as an editor counts.
func (t *numberTable) place(cell int) (line, column int) {
	line, b := t.csv.FieldPos(cell)
	return line, t.lines.letters(line, b)
}

// broken says where the file stops being CSV.
func (t *numberTable) broken(err error) error {
	if t.lines.fault != nil {
		return t.lines.fault
	}
	var p *csv.ParseError
	if !errors.As(err, &p) {
		return badFile("The file could not be read.").Because(err)
	}
	what := "it is not CSV."
	switch {
	case errors.Is(err, csv.ErrQuote):
		what = "a quotation mark is missing or one too many."
	case errors.Is(err, csv.ErrBareQuote):
		what = "a quotation mark stands inside a cell without quotes."
	}
	return badFile(fmt.Sprintf("Line %d, column %d: %s", p.Line, t.lines.letters(p.Line, p.Column), what))
}

func badFile(sentence string) *fault.Fault {
	return fault.New(fault.Invalid, "numbers-unreadable", sentence, "", "Correct the file and run the command again.").Field("file", sentence)
}

// lineReader hands out a file one line at a time, so that a CSV reader above it never holds more than the row it reads, and
// keeps the lines of that row to count their letters. It drops a byte order mark, turns the line ends of old spreadsheets into
// new ones, and stops at what is not UTF-8 or too large.
type lineReader struct {
	src   *bufio.Reader
	cr    bool   // lines end with CR alone
	rest  []byte // of the line that is being handed out
	count int    // lines so far
	size  int
	kept  []byte // the lines of the row, one behind the other
	ends  []int  // where each of them ends in kept
	fault *fault.Fault
}

// open looks at the beginning of the file and gives what it saw.
func (l *lineReader) open() ([]byte, error) {
	const save = "Save it again as CSV in UTF-8."
	head, err := l.src.Peek(maxLine)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, badFile("The file could not be read.").Because(err)
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}) || bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return nil, badFile("The file is in UTF-16. " + save)
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, badFile("This is a workbook, not a CSV file. " + save)
	}
	if mark := []byte("\ufeff"); bytes.HasPrefix(head, mark) {
		if _, err := l.src.Discard(len(mark)); err != nil {
			return nil, badFile("The file could not be read.").Because(err)
		}
		head = head[len(mark):]
	}
	l.cr = bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0
	head = bytes.Clone(head)
	if l.cr {
		head = bytes.ReplaceAll(head, []byte("\r"), []byte("\n"))
	}
	return head, nil
}

// Read gives a part of at most one line.
func (l *lineReader) Read(p []byte) (int, error) {
	if len(l.rest) == 0 {
		if err := l.line(); err != nil {
			return 0, err
		}
	}
	n := copy(p, l.rest)
	l.rest = l.rest[n:]
	return n, nil
}

func (l *lineReader) line() error {
	if l.fault != nil {
		return l.fault
	}
	end := byte('\n')
	if l.cr {
		end = '\r'
	}
	line, err := l.src.ReadSlice(end)
	if len(line) == 0 && errors.Is(err, io.EOF) {
		return io.EOF // no line of its own: the last one may have had no end
	}
	l.count++
	l.size += len(line)
	switch {
	case errors.Is(err, bufio.ErrBufferFull):
		l.fault = badFile(fmt.Sprintf("Line %d has more than %d kB. Is this a file of numbers?", l.count, maxLine>>10))
	case l.size > MaxNumberBytes:
		l.fault = badFile(fmt.Sprintf("The file is larger than %d MB.", MaxNumberBytes>>20))
	case err != nil && !errors.Is(err, io.EOF):
		l.fault = badFile("The file could not be read.").Because(err)
	case len(l.kept) > maxRow:
		l.fault = badFile(fmt.Sprintf("Line %d: a row has more than %d kB. Is a quotation mark missing before it?", l.count, maxRow>>10))
	case !utf8.Valid(line) || bytes.IndexByte(line, 0) >= 0:
		l.fault = badFile(fmt.Sprintf("Line %d, column %d: this is not text in UTF-8. Save the file again as CSV in UTF-8.", l.count, 1+utf8.RuneCount(line[:firstBad(line)])))
	}
	if l.fault != nil {
		return l.fault
	}
	if l.cr && line[len(line)-1] == '\r' {
		line[len(line)-1] = '\n'
	}
	l.rest = line
	l.kept = append(l.kept, line...)
	l.ends = append(l.ends, len(l.kept))
	return nil
}

// firstBad gives the offset of the first byte that is no text.
func firstBad(line []byte) int {
	for i := 0; i < len(line); {
		r, n := utf8.DecodeRune(line[i:])
		if r == 0 || r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return len(line)
}

// forget lets the lines of the last row go.
func (l *lineReader) forget() { l.kept, l.ends = l.kept[:0], l.ends[:0] }

// letters turns a byte column of a line of the row into one of letters; both count from 1.
func (l *lineReader) letters(line, column int) int {
	i := len(l.ends) - 1 - (l.count - line)
	if i < 0 || i >= len(l.ends) || column < 1 {
		return 1
	}
	from := 0
	if i > 0 {
		from = l.ends[i-1]
	}
	text := l.kept[from:l.ends[i]]
	return 1 + utf8.RuneCount(text[:min(column-1, len(text))])
}

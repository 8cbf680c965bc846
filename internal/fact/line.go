package fact

import (
	"fmt"
	"strconv"
	"strings"
)

// Line writes and reads the fields of a Tally, parted by bars. Texts lose their bars.
type Line struct{ b strings.Builder }

// Text adds a text.
func (l *Line) Text(s string) {
	if l.b.Len() > 0 {
		l.b.WriteByte('|')
	} else {
		l.b.WriteByte('1') // version of the line, so that an empty first field is not lost
		l.b.WriteByte('|')
	}
	l.b.WriteString(strings.ReplaceAll(s, "|", "/"))
}

// Int adds a number; 0 is written as nothing.
func (l *Line) Int(n int) {
	if n == 0 {
		l.Text("")
		return
	}
	l.Text(strconv.Itoa(n))
}

// Flag adds a yes or no.
func (l *Line) Flag(yes bool) {
	if yes {
		l.Text("y")
		return
	}
	l.Text("")
}

// String gives the line.
func (l *Line) String() string { return l.b.String() }

// LineReader takes the fields out again in the same order. The first failure stays in Err, and what follows is empty.
type LineReader struct {
	rest string
	done bool
	err  error
}

// ReadLine begins to read a line.
func ReadLine(s string) *LineReader {
	r := &LineReader{rest: s}
	if version := r.Text(); version != "1" {
		r.fail("is not a tally")
	}
	return r
}

func (r *LineReader) fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("fact: a line "+format, args...)
	}
}

// Text takes the next field.
func (r *LineReader) Text() string {
	if r.err != nil {
		return ""
	}
	if r.done {
		r.fail("ends too early")
		return ""
	}
	field, rest, more := strings.Cut(r.rest, "|")
	r.rest, r.done = rest, !more
	return field
}

// Int takes the next field as a number.
func (r *LineReader) Int() int {
	s := r.Text()
	if s == "" {
		return 0
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		r.fail("has %q where a number stands", s)
	}
	return n
}

// Flag takes the next field as a yes or no.
func (r *LineReader) Flag() bool { return r.Text() == "y" }

// Err gives the first failure; a line with fields left over is one too.
func (r *LineReader) Err() error {
	if r.err == nil && !r.done {
		r.fail("has more fields than are known")
	}
	return r.err
}

// Failed reports whether a field could not be taken.
func (r *LineReader) Failed() bool { return r.err != nil }

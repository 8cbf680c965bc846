package exchange

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"fairstick/internal/civil"
)

// CalendarEntry is one all-day entry of a calendar file.
type CalendarEntry struct {
	UID         string // the same for the same thing for ever; a calendar that loads the file again replaces it
	Stamp       time.Time
	Sequence    int // how often it was changed
	Day         civil.Date
	Summary     string
	Description string   // may be empty
	Location    string   // may be empty
	Categories  []string // may be empty
	Cancelled   bool     // not needed any more
	Busy        bool     // takes the day up; otherwise the day stays free
}

// WriteCalendar writes entries as an iCalendar file (RFC 5545): CRLF lines folded at 75 octets (3.1), text escaped (3.3.11),
// whole days as DATE values whose end is the day after (3.6.1), DTSTAMP in UTC. As there is no METHOD, DTSTAMP is when the
// entry was last revised in the record (3.8.7.2), so that the same record always gives the same file. It refuses an entry
// without UID, day or stamp.
func WriteCalendar(w io.Writer, name string, entries []CalendarEntry) error {
	var b strings.Builder
	line := func(property, value string) { b.WriteString(fold(property + ":" + value)) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//Fairstick//Countdown//EN")
	line("CALSCALE", "GREGORIAN")
	line("X-WR-CALNAME", escape(name)) // not of the RFC; most calendars show it
	for _, e := range entries {
		if e.UID == "" || e.Day.IsZero() || e.Stamp.IsZero() {
			return fmt.Errorf("exchange: calendar entry %q lacks its UID, day or stamp", e.Summary)
		}
		line("BEGIN", "VEVENT")
		line("UID", escape(e.UID)+"@fairstick")
		line("DTSTAMP", e.Stamp.UTC().Format("20060102T150405Z"))
		line("DTSTART;VALUE=DATE", dateText(e.Day))
		line("DTEND;VALUE=DATE", dateText(e.Day.AddDays(1)))
		if e.Sequence > 0 {
			line("SEQUENCE", fmt.Sprint(e.Sequence))
		}
		line("SUMMARY", escape(e.Summary))
		if e.Description != "" {
			line("DESCRIPTION", escape(e.Description))
		}
		if e.Location != "" {
			line("LOCATION", escape(e.Location))
		}
		if len(e.Categories) > 0 {
			cats := make([]string, len(e.Categories))
			for i, c := range e.Categories {
				cats[i] = escape(c)
			}
			line("CATEGORIES", strings.Join(cats, ","))
		}
		if e.Cancelled {
			line("STATUS", "CANCELLED")
		} else {
			line("STATUS", "CONFIRMED")
		}
		if e.Busy {
			line("TRANSP", "OPAQUE")
		} else {
			line("TRANSP", "TRANSPARENT")
		}
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	_, err := io.WriteString(w, b.String())
	return err
}

func dateText(d civil.Date) string { return fmt.Sprintf("%04d%02d%02d", d.Year, int(d.Month), d.Day) }

// escape writes a TEXT value: backslash, semicolon, comma and line breaks are escaped; other control characters, which TEXT
// may not hold, and what is not UTF-8 are left out.
func escape(s string) string {
	var b strings.Builder
	for _, r := range strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteRune('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r < ' ' && r != '\t' || r == 0x7f || r == utf8.RuneError:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// foldAt is the most octets of a line without its CRLF.
const foldAt = 75

// fold breaks a line into lines of at most 75 octets, each after the first beginning with a space, never inside a
// character. Each ends with CRLF.
func fold(s string) string {
	var b strings.Builder
	room := foldAt
	for s != "" {
		if len(s) <= room {
			b.WriteString(s)
			break
		}
		cut := room
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		b.WriteString(s[:cut] + "\r\n ")
		s, room = s[cut:], foldAt-1 // the space counts
	}
	return b.String() + "\r\n"
}

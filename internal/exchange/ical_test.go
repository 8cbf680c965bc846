package exchange

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"fairstick/internal/civil"
)

// The examples of RFC 5545 3.1: a long line and what it says when it is unfolded, by the RFC's own rule.
func TestFoldAsTheRFCUnfolds(t *testing.T) {
	const long = "DESCRIPTION:This is a long description that exists on a long line."
	folded := "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n" // as it stands in 3.1
	if got := unfold(folded); got != long {
		t.Fatalf("the RFC's example unfolds to %q", got)
	}
	if got := fold(long); got != long+"\r\n" {
		t.Errorf("a line of %d octets was folded: %q", len(long), got)
	}
	for _, s := range []string{
		"", strings.Repeat("a", 74), strings.Repeat("a", 75), strings.Repeat("a", 76), strings.Repeat("a", 1000),
		"SUMMARY:" + strings.Repeat("é", 100), strings.Repeat("語", 60), strings.Repeat("🙂", 77), "x" + strings.Repeat("🙂", 77),
	} {
		got := fold(s)
		if unfold(got) != s {
			t.Errorf("%.20q unfolds to %q", s, unfold(got))
		}
		for _, l := range strings.Split(strings.TrimSuffix(got, "\r\n"), "\r\n") {
			if len(l) > 75 || !utf8.ValidString(l) {
				t.Errorf("a line of %d octets, valid text %v: %q", len(l), utf8.ValidString(l), l)
			}
		}
	}
}

// unfold is RFC 5545 3.1: a CRLF followed by one space or tab is taken away.
func unfold(s string) string {
	return strings.TrimSuffix(strings.NewReplacer("\r\n ", "", "\r\n\t", "").Replace(s), "\r\n")
}

// RFC 5545 3.3.11 gives this value and the text that it stands for.
func TestEscapeAsInTheRFC(t *testing.T) {
	const text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
	const value = `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`
	if got := escape(text); got != value {
		t.Errorf("got %q", got)
	}
	for in, want := range map[string]string{
		`a;b,c\d`: `a\;b\,c\\d`, "one\r\ntwo\rthree": `one\ntwo\nthree`, "bell\a tab\t": "bell tab\t", "12:00": "12:00", "bad\xff": "bad", "Begoña": "Begoña",
	} {
		if got := escape(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// The all-day entry of RFC 5545 3.6.1 ("20070628" to "20070709" is the RFC's longer one; ours are always one day).
func TestCalendar(t *testing.T) {
	entries := []CalendarEntry{
		{
			UID: "ev.county-notice", Stamp: time.Date(2026, 9, 1, 22, 30, 0, 0, time.FixedZone("", -4*3600)), Sequence: 2, Day: civil.MustParse("2026-12-31"),
			Summary: "Notice to the county; Fair, hall", Description: "Owner: Ana", Categories: []string{"Approval", "a,b"},
		},
		{UID: "ev", Stamp: time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), Day: civil.MustParse("2026-10-04"), Summary: "Fair", Location: "1 Invented Lane", Busy: true, Cancelled: true},
	}
	var b bytes.Buffer
	if err := WriteCalendar(&b, "Test Programme", entries); err != nil {
		t.Fatal(err)
	}
	want := strings.Join([]string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Fairstick//Countdown//EN", "CALSCALE:GREGORIAN", "X-WR-CALNAME:Test Programme",
		"BEGIN:VEVENT", "UID:ev.county-notice@fairstick", "DTSTAMP:20260902T023000Z", "DTSTART;VALUE=DATE:20261231", "DTEND;VALUE=DATE:20270101", "SEQUENCE:2",
		`SUMMARY:Notice to the county\; Fair\, hall`, "DESCRIPTION:Owner: Ana", `CATEGORIES:Approval,a\,b`, "STATUS:CONFIRMED", "TRANSP:TRANSPARENT", "END:VEVENT",
		"BEGIN:VEVENT", "UID:ev@fairstick", "DTSTAMP:20260901T000000Z", "DTSTART;VALUE=DATE:20261004", "DTEND;VALUE=DATE:20261005",
		"SUMMARY:Fair", "LOCATION:1 Invented Lane", "STATUS:CANCELLED", "TRANSP:OPAQUE", "END:VEVENT",
		"END:VCALENDAR", "",
	}, "\r\n")
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
	for _, bad := range []CalendarEntry{{Stamp: entries[0].Stamp, Day: entries[0].Day}, {UID: "a", Day: entries[0].Day}, {UID: "a", Stamp: entries[0].Stamp}} {
		if err := WriteCalendar(&b, "x", []CalendarEntry{bad}); err == nil {
			t.Errorf("accepted %+v", bad)
		}
	}
}

// FuzzCalendarText: whatever is typed, a calendar stays lines of at most 75 octets, and nothing typed becomes a property.
func FuzzCalendarText(f *testing.F) {
	for _, s := range []string{"plain", "a\r\nEND:VEVENT\r\nBEGIN:VEVENT", strings.Repeat("é;", 60), "\\", "\xff\xfe", "a\u2028b"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var b bytes.Buffer
		e := CalendarEntry{UID: "u", Stamp: time.Unix(0, 0), Day: civil.MustParse("2026-01-01"), Summary: s, Description: s, Location: s}
		if err := WriteCalendar(&b, s, []CalendarEntry{e}); err != nil {
			t.Fatal(err)
		}
		if !utf8.ValidString(b.String()) {
			t.Fatal("not UTF-8")
		}
		lines := strings.Split(strings.TrimSuffix(b.String(), "\r\n"), "\r\n")
		for _, l := range lines {
			if len(l) > 75 || strings.ContainsAny(l, "\r\n") {
				t.Fatalf("line %q", l)
			}
		}
		if n := strings.Count("\r\n"+b.String(), "\r\nBEGIN:"); n != 2 {
			t.Fatalf("%d components begin", n)
		}
	})
}

// Package civil has calendar dates and wall-clock times without a zone, as they stand on a vial label, a certificate or a
// poster. It reads no clock.
package civil

import (
	"fmt"
	"strings"
	"time"
)

// Date is a calendar day. The zero Date means "not given".
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// Of gives the calendar day of an instant in the instant's own zone.
func Of(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

// Parse reads "2026-08-31". Years from 1900 to 2199 are accepted; a day that the month does not have is an error.
func Parse(s string) (Date, error) {
	t, err := time.Parse("2006-01-02", strings.TrimSpace(s))
	if err != nil || t.Year() < 1900 || t.Year() > 2199 {
		return Date{}, fmt.Errorf("%q is not a date; write it like 2026-08-31", s)
	}
	return Of(t), nil
}

// ParseExpiry reads a label's expiry: "2026-08-31", or "2026-08" which lasts through the last day of that month
// (common practice).
func ParseExpiry(s string) (Date, error) {
	s = strings.TrimSpace(s)
	if t, err := time.Parse("2006-01", s); err == nil && t.Year() >= 1900 && t.Year() <= 2199 {
		return Of(t.AddDate(0, 1, -1)), nil
	}
	d, err := Parse(s)
	if err != nil {
		return Date{}, fmt.Errorf("%q is not an expiry; write it like 2026-08-31, or 2026-08 for the end of August 2026", s)
	}
	return d, nil
}

// MustParse is Parse for literals in tests and the demo; it panics on a bad literal.
func MustParse(s string) Date {
	d, err := Parse(s)
	if err != nil {
		panic(err)
	}
	return d
}

// IsZero reports whether no date was given.
func (d Date) IsZero() bool { return d == Date{} }

// String gives "2026-08-31", or "" for the zero Date.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// Long gives the date as people read it, with the month in letters: "31 Aug 2026".
func (d Date) Long() string {
	if d.IsZero() {
		return ""
	}
	return d.Time(time.UTC).Format("2 Jan 2006")
}

// Time gives midnight at the start of the day in a zone.
func (d Date) Time(zone *time.Location) time.Time {
	return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, zone)
}

// AddDays moves by whole days; the day itself is day 0.
func (d Date) AddDays(n int) Date {
	return Of(time.Date(d.Year, d.Month, d.Day+n, 0, 0, 0, 0, time.UTC))
}

// Before reports whether d is an earlier day than o.
func (d Date) Before(o Date) bool { return d.Time(time.UTC).Before(o.Time(time.UTC)) }

// After reports whether d is a later day than o.
func (d Date) After(o Date) bool { return o.Before(d) }

// DaysUntil counts the days from d to o; negative when o is earlier.
func (d Date) DaysUntil(o Date) int {
	return int(o.Time(time.UTC).Sub(d.Time(time.UTC)) / (24 * time.Hour))
}

// Earlier gives the earlier of two dates; a zero Date counts as "no limit".
func Earlier(a, b Date) Date {
	switch {
	case a.IsZero():
		return b
	case b.IsZero() || a.Before(b):
		return a
	}
	return b
}

// MarshalText writes the form that Parse reads.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote; empty text is the zero Date.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = Date{}
		return nil
	}
	p, err := Parse(string(b))
	if err != nil {
		return err
	}
	*d = p
	return nil
}

// Clock is a wall-clock time of day in minutes after midnight, 0 to 1439.
type Clock int

// ParseClock reads "9:05" or "09:05" on a 24-hour clock.
func ParseClock(s string) (Clock, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of day; write it like 09:30 or 13:00", s)
	}
	return Clock(t.Hour()*60 + t.Minute()), nil
}

// String gives "09:05".
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// On gives the instant of this time on a day in a zone.
func (c Clock) On(d Date, zone *time.Location) time.Time {
	return time.Date(d.Year, d.Month, d.Day, int(c)/60, int(c)%60, 0, 0, zone)
}

// MarshalText writes the form that ParseClock reads.
func (c Clock) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (c *Clock) UnmarshalText(b []byte) error {
	p, err := ParseClock(string(b))
	if err != nil {
		return err
	}
	*c = p
	return nil
}

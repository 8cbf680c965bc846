package civil

import (
	"strings"
	"testing"
	"time"
)

// FuzzDates: a date that is read is a day of the calendar and is written as it was read, without the spaces around it.
func FuzzDates(f *testing.F) {
	for _, s := range []string{"2026-06-20", "2024-02-29", "2026-02-30", "0000-00-00", "2026-12", "9999-12-31", "10000-01-01", "26-6-2", " 2026-06-20", "２０２６-06-20"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := Parse(s); err == nil {
			if d.String() != strings.TrimSpace(s) {
				t.Fatalf("%q is written as %q", s, d)
			}
			if !d.Before(d.AddDays(1)) || d.AddDays(1).AddDays(-1) != d || d.DaysUntil(d.AddDays(40)) != 40 {
				t.Fatalf("%q does not count its days", s)
			}
		}
		if d, err := ParseExpiry(s); err == nil {
			if again, err := ParseExpiry(d.String()); err != nil || again != d {
				t.Fatalf("the expiry %q is %s, which reads %s (%v)", s, d, again, err)
			}
		}
	})
}

// FuzzClock: a time of day that is read stands on the wall clock as it was typed.
func FuzzClock(f *testing.F) {
	for _, s := range []string{"09:05", "9:05", "23:59", "24:00", "00:00", "12:60", "-1:00", "9.05", "0905", "09:05:00", "+9:05"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseClock(s)
		if err != nil {
			return
		}
		if again, err := ParseClock(c.String()); err != nil || again != c || c < 0 || c >= 24*60 {
			t.Fatalf("%q is %s, which reads %s (%v)", s, c, again, err)
		}
		at := c.On(MustParse("2026-06-20"), time.UTC)
		if got := at.Format("15:04"); got != c.String() || Of(at) != MustParse("2026-06-20") {
			t.Fatalf("%q stands at %s", s, at)
		}
	})
}

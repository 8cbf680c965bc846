package civil

import (
	"testing"
	"time"
)

func TestParseExpiry(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"2026-08", "2026-08-31"},
		{"2026-02", "2026-02-28"},
		{"2028-02", "2028-02-29"},
		{"2026-12", "2026-12-31"},
		{" 2026-08-05 ", "2026-08-05"},
		{"", "error"},
		{"2026", "error"},
		{"2026-13", "error"},
		{"2026-02-30", "error"},
		{"08/2026", "error"},
		{"1026-08", "error"},
		{"9026-08-01", "error"},
	} {
		d, err := ParseExpiry(c.in)
		got := d.String()
		if err != nil {
			got = "error"
		}
		if got != c.want {
			t.Errorf("ParseExpiry(%q) = %s, want %s", c.in, got, c.want)
		}
	}
}

// The day of opening is day 0: 2 July and 90 days is 30 September; 4 October and 90 days is 2 January.
func TestAddDays(t *testing.T) {
	for _, c := range []struct {
		from string
		n    int
		want string
	}{{"2025-07-02", 90, "2025-09-30"}, {"2025-10-04", 90, "2026-01-02"}, {"2024-02-28", 1, "2024-02-29"}, {"2025-03-01", -1, "2025-02-28"}} {
		if got := MustParse(c.from).AddDays(c.n).String(); got != c.want {
			t.Errorf("%s + %d days = %s, want %s", c.from, c.n, got, c.want)
		}
		if got := MustParse(c.from).DaysUntil(MustParse(c.want)); got != c.n {
			t.Errorf("from %s to %s are %d days, want %d", c.from, c.want, got, c.n)
		}
	}
}

func TestEarlierTreatsZeroAsNoLimit(t *testing.T) {
	a, b := MustParse("2026-01-02"), MustParse("2026-03-31")
	if Earlier(a, b) != a || Earlier(b, a) != a || Earlier(Date{}, b) != b || Earlier(a, Date{}) != a {
		t.Error("Earlier does not give the earlier date")
	}
}

func TestTextRoundTrip(t *testing.T) {
	for _, s := range []string{"", "2026-08-31"} {
		var d Date
		if err := d.UnmarshalText([]byte(s)); err != nil || d.String() != s {
			t.Errorf("%q became %q, %v", s, d, err)
		}
	}
	if got := MustParse("2026-08-05").Long(); got != "5 Aug 2026" {
		t.Errorf("Long = %q", got)
	}
}

func TestClock(t *testing.T) {
	for _, c := range []struct{ in, want string }{{"9:05", "09:05"}, {"23:59", "23:59"}, {"24:00", "error"}, {"9", "error"}, {"9.05", "error"}} {
		k, err := ParseClock(c.in)
		got := k.String()
		if err != nil {
			got = "error"
		}
		if got != c.want {
			t.Errorf("ParseClock(%q) = %s, want %s", c.in, got, c.want)
		}
	}
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	if got := Clock(9*60).On(MustParse("2025-10-04"), zone).UTC().Format(time.RFC3339); got != "2025-10-04T13:00:00Z" {
		t.Errorf("09:00 on that day = %s", got)
	}
}

func FuzzParseExpiry(f *testing.F) {
	for _, s := range []string{"2026-08", "2026-08-31", "", "x"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseExpiry(s)
		if err != nil {
			return
		}
		if back, err := Parse(d.String()); err != nil || back != d {
			t.Errorf("%q gave %v, which reads back as %v, %v", s, d, back, err)
		}
	})
}

package logbook

import "testing"

// FuzzStamp: a reading of the record's clock has one form, and the next one sorts after it.
func FuzzStamp(f *testing.F) {
	for _, s := range []string{"2026-10-17T09:12:33.120Z+0003", "1970-01-01T00:00:00.000Z+0000", "9999-12-31T23:59:59.999Z+fffe", "2026-10-17T09:12:33.120Z+000G", "", "+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var c Clock
		if c.Observe(s) != nil {
			return
		}
		if !WallOf(s).IsZero() && s < "9999-12-31T23:59:59.999Z+ffff" {
			if next := c.Next(WallOf(s)); next <= s {
				t.Fatalf("after %s comes %s", s, next)
			}
		}
	})
}

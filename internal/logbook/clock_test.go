package logbook

import (
	"regexp"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestClockFollowsTheWallAndNeverGoesBack(t *testing.T) {
	var c Clock
	at := time.Date(2031, 5, 4, 9, 0, 0, 120e6, time.UTC)
	for i, step := range []struct {
		now  time.Time
		want string
	}{
		{at, "2031-05-04T09:00:00.120Z+0000"},
		{at, "2031-05-04T09:00:00.120Z+0001"},
		{at.Add(999 * time.Microsecond), "2031-05-04T09:00:00.120Z+0002"},
		{at.Add(-72 * time.Hour), "2031-05-04T09:00:00.120Z+0003"}, // the wall clock jumped back
		{at.Add(time.Millisecond).In(time.FixedZone("", 3600)), "2031-05-04T09:00:00.121Z+0000"},
		{time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC), "2031-05-04T09:00:00.121Z+0001"},
	} {
		if got := c.Next(step.now); got != step.want {
			t.Errorf("%d: %s, want %s", i, got, step.want)
		}
	}
	if err := c.Observe("2031-05-04T10:00:00.000Z+ffff"); err != nil {
		t.Fatal(err)
	}
	if got := c.Next(at); got != "2031-05-04T10:00:00.001Z+0000" { // the counter was full
		t.Error(got)
	}
	if err := c.Observe("2030-01-01T00:00:00.000Z+0000"); err != nil {
		t.Fatal(err)
	}
	if got := c.Next(at); got != "2031-05-04T10:00:00.001Z+0001" {
		t.Error(got)
	}
	for _, bad := range []string{"", "2031-05-04T10:00:00.000Z", "2031-05-04T10:00:00.000Z+00zz", "2031-13-04T10:00:00.000Z+0000", "2031-05-04T10:00:00.000Z-0001", "1969-05-04T10:00:00.000Z+0001"} {
		if err := c.Observe(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
		if !WallOf(bad).IsZero() {
			t.Errorf("%q has a wall time", bad)
		}
	}
	if got := WallOf("2031-05-04T10:00:00.250Z+0007"); !got.Equal(time.Date(2031, 5, 4, 10, 0, 0, 250e6, time.UTC)) {
		t.Error(got)
	}
}

// Two clocks on wall clocks that wander, telling one another now and then: every reading is later, as text, than all that
// its laptop gave or heard before.
func TestReadingsSortAsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var clocks [2]Clock
		var last [2]string
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			i := rapid.IntRange(0, 1).Draw(t, "clock")
			if rapid.IntRange(0, 3).Draw(t, "hear") == 0 && last[1-i] != "" {
				if err := clocks[i].Observe(last[1-i]); err != nil {
					t.Fatal(err)
				}
				last[i] = max(last[i], last[1-i])
				continue
			}
			got := clocks[i].Next(time.UnixMilli(rapid.Int64Range(-5, 40).Draw(t, "ms")))
			if got <= last[i] {
				t.Fatalf("%s after %s", got, last[i])
			}
			last[i] = got
		}
	})
}

func TestNewIDIsAUUIDOfVersion7(t *testing.T) {
	form := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	// The time of RFC 9562, appendix A.6: 0x017F22E279B0 milliseconds.
	at := time.UnixMilli(0x017F22E279B0)
	a, b := NewID(at), NewID(at)
	if !form.MatchString(a) || a[:13] != "017f22e2-79b0" || a == b {
		t.Errorf("%s %s", a, b)
	}
	if later := NewID(at.Add(time.Millisecond)); later <= a {
		t.Errorf("%s after %s", later, a)
	}
}

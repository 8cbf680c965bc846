package testkit

import (
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

func TestClockMovesOnlyWhenTold(t *testing.T) {
	start := time.Date(2026, 5, 9, 9, 0, 0, 0, time.UTC)
	c := NewClock(start)
	if got := c.Now(); !got.Equal(start) {
		t.Errorf("a new clock stands at %v, want %v", got, start)
	}
	if got, want := c.Advance(90*time.Second), start.Add(90*time.Second); !got.Equal(want) || !c.Now().Equal(want) {
		t.Errorf("after 90 s: %v and %v, want %v", got, c.Now(), want)
	}
	c.Set(start.Add(-time.Hour))
	if got, want := c.Now(), start.Add(-time.Hour); !got.Equal(want) {
		t.Errorf("set back an hour: %v, want %v", got, want)
	}
}

func TestClockIsShared(t *testing.T) {
	start := time.Date(2026, 5, 9, 9, 0, 0, 0, time.UTC)
	c := NewClock(start)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 100 {
				c.Advance(time.Second)
				c.Now()
			}
		})
	}
	wg.Wait()
	if got, want := c.Now(), start.Add(800*time.Second); !got.Equal(want) {
		t.Errorf("eight goroutines moved it to %v, want %v", got, want)
	}
}

func TestIDs(t *testing.T) {
	a, b, again := NewIDs(10), NewIDs(11), NewIDs(10)
	if got, want := a.Next(), "00000000-0001-7000-8000-00000000000a"; got != want {
		t.Errorf("first id %s, want %s", got, want)
	}
	again.Next()
	last := ""
	for range 70_000 { // past the sixteen bits of the second group
		x, y := a.Next(), again.Next()
		if x != y {
			t.Fatalf("the same family gave %s and %s", x, y)
		}
		if x <= last || x == b.Next() {
			t.Fatalf("%s comes after %s, or stands in another family too", x, last)
		}
		last = x
	}
	if want := "00000001-1171-7000-8000-00000000000a"; last != want {
		t.Errorf("id 70001 is %s, want %s", last, want)
	}
}

func TestDifference(t *testing.T) {
	cases := []struct{ want, got, says string }{
		{"a\nb\n", "a\nb\n", ""},
		{"a\nb\n", "a\nc\n", "line 2 differs\n want \"b\"\n  got \"c\""},
		{"a\nb", "a\nb\nc", "want 2 lines, got 3; the shorter is the beginning of the longer"},
		{"a\n", "a\r\n", "line 1 differs\n want \"a\"\n  got \"a\\r\""},
	}
	for _, c := range cases {
		if d := difference([]byte(c.want), []byte(c.got)); d != c.says {
			t.Errorf("%q against %q: %q, want %q", c.want, c.got, d, c.says)
		}
	}
}

// heard stands in for a test and keeps whether it failed.
type heard struct {
	testing.TB
	errors int
}

func (h *heard) Helper()               {}
func (h *heard) Errorf(string, ...any) { h.errors++ }

func TestGolden(t *testing.T) {
	t.Chdir(t.TempDir())
	*update = true
	Golden(t, "sub/slip.txt", []byte("one\n"))
	*update = false
	if text, err := os.ReadFile(filepath.Join("testdata", "sub", "slip.txt")); err != nil || string(text) != "one\n" {
		t.Fatalf("with -update the file holds %q, %v", text, err)
	}
	h := &heard{TB: t}
	Golden(h, "sub/slip.txt", []byte("one\n"))
	if h.errors != 0 {
		t.Error("the same bytes were reported as different")
	}
	Golden(h, "sub/slip.txt", []byte("two\n"))
	if h.errors != 1 {
		t.Error("a changed line was not reported")
	}
}

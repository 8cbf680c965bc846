// Package testkit has what tests of many packages need: a clock that is set by hand, ids that come out the same on every
// run, and golden files. It knows no product package, so that any package's tests can use it.
//
// Importing it adds the flag -update to a test binary: it rewrites the golden files with what the test got.
package testkit

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// Clock is a clock that moves only when it is told to. It may be used by several goroutines.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// NewClock gives a clock that stands at t.
func NewClock(t time.Time) *Clock { return &Clock{now: t} }

// Now gives the instant at which the clock stands; pass the method where a func() time.Time is wanted.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// Set moves the clock to t, forwards or backwards.
func (c *Clock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// Advance moves the clock by d and gives the new instant.
func (c *Clock) Advance(d time.Duration) time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
	return c.now
}

// IDs gives the same row of version 7 UUIDs on every run. They sort in the order in which they were given. It may be used
// by several goroutines.
type IDs struct {
	mu     sync.Mutex
	family uint32
	n      uint64
}

// NewIDs starts a row of ids; two rows of different families share no id.
func NewIDs(family uint32) *IDs { return &IDs{family: family} }

// Next gives the next id in its canonical text form: the first of family 10 is 00000000-0001-7000-8000-00000000000a.
func (s *IDs) Next() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n++
	return fmt.Sprintf("%08x-%04x-7000-8000-%012x", s.n>>16, s.n&0xffff, s.family)
}

var update = flag.Bool("update", false, "rewrite golden files with what the test got")

// Golden compares got with the file testdata/name of the package under test and fails at the first line that differs.
// Run with -update, it writes the file instead; read the change before keeping it.
func Golden(t testing.TB, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", filepath.FromSlash(name))
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (run the test with -update to make it)", err)
	}
	if d := difference(want, got); d != "" {
		t.Errorf("%s: %s", filepath.ToSlash(path), d)
	}
}

// difference names the first line in which two texts differ; empty when they are the same bytes.
func difference(want, got []byte) string {
	if bytes.Equal(want, got) {
		return ""
	}
	w, g := strings.Split(string(want), "\n"), strings.Split(string(got), "\n")
	for i := 0; i < len(w) && i < len(g); i++ {
		if w[i] != g[i] {
			return fmt.Sprintf("line %d differs\n want %q\n  got %q", i+1, w[i], g[i])
		}
	}
	return fmt.Sprintf("want %d lines, got %d; the shorter is the beginning of the longer", len(w), len(g))
}

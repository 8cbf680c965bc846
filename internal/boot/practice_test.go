package boot

import (
	"log/slog"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fairstick/internal/programme"
)

// The record of a practice day lies in a folder of its own, goes by its own clock, and goes away when it is closed.
func TestPracticeRecord(t *testing.T) {
	place := t.TempDir()
	t.Setenv("TMPDIR", place)
	t.Setenv("TMP", place) // of Windows
	at := time.Date(2026, 11, 28, 10, 0, 0, 0, time.UTC)
	p, c, err := practiceRecord(slog.New(slog.DiscardHandler))(t.Context(), func() time.Time { return at })
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Found(t.Context(), programme.Founding{Programme: "Practice", Lead: "Invented Lead", PIN: "2580"}); err != nil {
		t.Fatal(err)
	}
	if !p.Now().Equal(at) {
		t.Errorf("the clock says %s", p.Now())
	}
	if in, err := os.ReadDir(place); err != nil || len(in) != 1 {
		t.Fatalf("%d folders, %v", len(in), err)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if in, err := os.ReadDir(place); err != nil || len(in) != 0 {
		t.Errorf("%d folders are left, %v", len(in), err)
	}
}

// What a lost practice day left behind goes after a day; a folder in use, and everything else, stays.
func TestSweepPractice(t *testing.T) {
	place, now := t.TempDir(), time.Now()
	for name, age := range map[string]time.Duration{practiceFolder + "old": stale + time.Hour, practiceFolder + "new": time.Hour, "other": 3 * stale} {
		dir := filepath.Join(place, name)
		if err := os.MkdirAll(filepath.Join(dir, "record"), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(dir, now.Add(-age), now.Add(-age)); err != nil {
			t.Fatal(err)
		}
	}
	sweepPractice(place, now, slog.New(slog.DiscardHandler))
	for name, stays := range map[string]bool{practiceFolder + "old": false, practiceFolder + "new": true, "other": true} {
		if _, err := os.Stat(filepath.Join(place, name)); (err == nil) != stays {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Package testrecord opens an empty record for a test. It stands apart from testkit, which knows no product package, so that the
// ground and the subjects can use that one.
package testrecord

import (
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"fairstick/internal/programme"
	"fairstick/internal/store"
)

// Open gives a programme over an empty record that goes by a clock, and its store. It is closed when the test ends, and never waits
// for the disk.
func Open(t testing.TB, now func() time.Time) (*programme.Programme, *store.Store) {
	t.Helper()
	quiet := slog.New(slog.DiscardHandler)
	st, err := store.Create(t.Context(), store.Options{Dir: filepath.Join(t.TempDir(), "data"), Catalogue: programme.Catalogue(), Now: now, Log: quiet, Fleeting: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return programme.New(st, now, quiet), st
}

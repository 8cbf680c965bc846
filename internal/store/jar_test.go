package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

// The subject of these tests: a jar on a shelf, with a label, an amount and sealed notes.

type named struct {
	Shelf string `json:"shelf"`
	Name  string `json:"name"`
}
type added struct {
	N int `json:"n"`
}
type noted struct {
	Sealed []byte `json:"sealed"`
}
type strange struct{} // registered nowhere

func (named) FactKind() string   { return "jar.named" }
func (added) FactKind() string   { return "jar.added" }
func (noted) FactKind() string   { return "jar.noted" }
func (strange) FactKind() string { return "jar.strange" }

type jar struct {
	ID    string    `json:"id"`
	Shelf string    `json:"shelf"`
	Name  string    `json:"name"`
	Total int       `json:"total"`
	Trail []string  `json:"trail,omitempty"` // order matters here
	Last  time.Time `json:"last"`
	Marks []mark    `json:"marks,omitempty"`
}

// mark is an amount that was added, and when: what a jar mentions.
type mark struct {
	N  string    `json:"n"`
	At time.Time `json:"at"`
}

func (j *jar) Mentions() (out []fact.Mention) {
	for _, m := range j.Marks {
		out = append(out, fact.Mention{Name: "amount", Value: m.N, At: m.At})
	}
	return out
}

func (j *jar) Tally() string { return fmt.Sprint(j.Total) }

func (j *jar) Index() (string, string) { return j.Shelf, j.Name }

func (j *jar) Apply(r fact.Record) {
	j.Last = r.At
	switch b := r.Body.(type) {
	case named:
		j.Shelf, j.Name = b.Shelf, b.Name
	case added:
		j.Total += b.N
		j.Trail = append(j.Trail, fmt.Sprint(b.N))
		j.Marks = append(j.Marks, mark{fmt.Sprint(b.N), r.At})
	}
}

func catalogue() *fact.Catalogue {
	c := fact.NewCatalogue()
	c.Subject("jar", func(id string) fact.State { return &jar{ID: id} }, named{}, added{}, noted{})
	return c
}

func jarRef(id string) fact.Ref { return fact.Ref{Kind: "jar", ID: id} }

// testClock is a wall clock that moves a millisecond at every look.
func testClock() func() time.Time {
	var mu sync.Mutex
	t := time.Date(2031, 5, 4, 9, 0, 0, 0, time.UTC)
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		t = t.Add(time.Millisecond)
		return t
	}
}

func options(dir string) Options {
	return Options{Dir: dir, Catalogue: catalogue(), Now: testClock()}
}

func create(t testing.TB) *Store {
	t.Helper()
	s, err := Create(context.Background(), options(filepath.Join(t.TempDir(), "record")))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { shut(t, s) })
	return s
}

func write(t testing.TB, s *Store, drafts ...Draft) (recs []fact.Record) {
	t.Helper()
	err := s.Write(t.Context(), func(tx *Tx) error {
		recs = nil
		for _, d := range drafts {
			r, err := tx.Append(d)
			if err != nil {
				return err
			}
			recs = append(recs, r)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return recs
}

func jarOf(t testing.TB, s *Store, id string) *jar {
	t.Helper()
	var out *jar
	err := s.Read(t.Context(), func(v *View) error {
		state, ok, err := v.State(jarRef(id))
		if ok {
			out = state.(*jar)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func problems(t testing.TB, s *Store) []string {
	t.Helper()
	r, err := s.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return r.Problems
}

func wantFault(t testing.TB, err error, kind fault.Kind, key string) {
	t.Helper()
	var f *fault.Fault
	if !errors.As(err, &f) || f.Kind != kind || f.Key != key {
		t.Fatalf("got %v, want a fault %s %q", err, kind, key)
	}
}

func mustWrite(t testing.TB, s *Store, do func(*Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), do); err != nil {
		t.Error(err)
	}
}

func mustRead(t testing.TB, s *Store, do func(*View) error) {
	t.Helper()
	if err := s.Read(t.Context(), do); err != nil {
		t.Error(err)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func shut(t testing.TB, s *Store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// bytesOf hashes every file of a folder.
func bytesOf(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		out[d.Name()] = fmt.Sprintf("%x %d", sha256.Sum256(data), len(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

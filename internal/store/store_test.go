package store

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

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

func TestWhatIsWrittenIsThereAfterOpeningAgain(t *testing.T) {
	s := create(t)
	at := time.Date(2031, 5, 4, 10, 30, 0, 123456789, time.FixedZone("", 3600))
	recs := write(t, s,
		Draft{Subject: jarRef("a"), Body: named{"top", "plum"}, By: "p1"},
		Draft{Subject: jarRef("a"), Body: added{3}, At: at},
		Draft{Subject: jarRef("b"), Body: named{"top", "fig"}},
		Draft{Subject: jarRef("c"), Body: named{"low", "apple"}})
	if recs[0].Seq != 1 || recs[3].Seq != 4 || recs[0].Node != s.Node() || recs[0].By != "p1" {
		t.Fatalf("records %+v", recs)
	}
	last := time.Date(2031, 5, 4, 9, 30, 0, 123e6, time.UTC)
	want := &jar{ID: "a", Shelf: "top", Name: "plum", Total: 3, Trail: []string{"3"}, Last: last, Marks: []mark{{"3", last}}}
	if diff := cmp.Diff(want, jarOf(t, s, "a")); diff != "" {
		t.Fatal(diff)
	}
	o := s.o
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if diff := cmp.Diff(want, jarOf(t, s, "a")); diff != "" {
		t.Fatal(diff)
	}
	names := func(states []fact.State, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, st := range states {
			out = append(out, st.(*jar).Name)
		}
		return strings.Join(out, " ")
	}
	mustRead(t, s, func(v *View) error {
		if got := names(v.All("jar")); got != "apple fig plum" {
			t.Errorf("all: %s", got)
		}
		if got := names(v.Children("jar", "top")); got != "fig plum" {
			t.Errorf("children: %s", got)
		}
		since, err := v.RecordsSince(recs[1].Recorded, 1)
		if err != nil || len(since) != 1 || since[0].ID != recs[2].ID {
			t.Errorf("since: %v %v", since, err)
		}
		return nil
	})
	next := write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	if next[0].Seq != 5 || next[0].Recorded <= recs[3].Recorded {
		t.Errorf("the chain did not go on: %+v", next[0])
	}
	r, err := s.Check(t.Context())
	if err != nil || !r.OK() || r.Entries != 5 || r.Subjects != 3 || r.Nodes != 1 {
		t.Errorf("check: %+v %v", r, err)
	}
}

func TestOneRefusalHarmsNoOther(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	refusal := fault.New(fault.Refused, "shut", "No.", "", "")
	// Hold the writer so that the others wait and become one group.
	started, let := make(chan bool), make(chan bool)
	var wg sync.WaitGroup
	wg.Go(func() {
		mustWrite(t, s, func(*Tx) error { close(started); <-let; return nil })
	})
	<-started
	errs := make([]error, 9)
	var seqs sync.Map
	for i := range errs {
		wg.Go(func() {
			errs[i] = s.Write(t.Context(), func(tx *Tx) error {
				rec, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{10}})
				if err != nil {
					return err
				}
				switch i % 3 {
				case 1:
					return refusal
				case 2:
					panic("a defect")
				}
				seqs.Store(rec.Seq, true)
				return nil
			})
		})
	}
	close(let)
	wg.Wait()
	for i, err := range errs {
		switch i % 3 {
		case 0:
			if err != nil {
				t.Errorf("%d: %v", i, err)
			}
		case 1:
			if !errors.Is(err, refusal) {
				t.Errorf("%d: %v", i, err)
			}
		case 2:
			wantFault(t, err, fault.Internal, "internal")
		}
	}
	if got := jarOf(t, s, "a"); got.Total != 31 {
		t.Errorf("total %d, want 31", got.Total)
	}
	for _, seq := range []uint64{2, 3, 4} {
		if _, ok := seqs.Load(seq); !ok {
			t.Errorf("no command got seq %d", seq)
		}
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestStatesGivenAwayDoNotChange(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	before := jarOf(t, s, "a")
	err := s.Write(t.Context(), func(tx *Tx) error {
		var seen []*jar
		for i := range 3 {
			if i == 2 { // a list writes the rows first
				if all, err := tx.All("jar"); err != nil || len(all) != 1 || all[0].(*jar).Total != 3 {
					t.Errorf("all: %v %v", all, err)
				}
			}
			state, ok, err := tx.State(jarRef("a"))
			if err != nil || !ok {
				return fmt.Errorf("%v %w", ok, err)
			}
			seen = append(seen, state.(*jar))
			if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); err != nil {
				return err
			}
		}
		for i, j := range seen {
			if j.Total != i+1 || len(j.Trail) != i+1 {
				t.Errorf("state %d changed later: %+v", i, j)
			}
		}
		return errors.New("refused after all")
	})
	if err == nil || err.Error() != "refused after all" {
		t.Fatal(err)
	}
	if got := jarOf(t, s, "a"); got.Total != 1 || before.Total != 1 {
		t.Errorf("a refused command left %d, an earlier view %d", got.Total, before.Total)
	}
	mustWrite(t, s, func(tx *Tx) error {
		if st, _, _ := tx.State(jarRef("a")); st.(*jar).Total != 1 {
			t.Errorf("the writer remembers what it undid: %+v", st)
		}
		return nil
	})
}

func TestReceiptGivesTheSameAnswer(t *testing.T) {
	s := create(t)
	press := func() (answer string) {
		err := s.Write(t.Context(), func(tx *Tx) error {
			if kept, ok, err := tx.Receipt("press-1"); err != nil || ok {
				answer = string(kept)
				return err
			}
			rec, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{7}})
			if err != nil {
				return err
			}
			answer = rec.ID
			return tx.Keep("press-1", []byte(answer))
		})
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	first := press()
	if second := press(); second != first || first == "" {
		t.Errorf("answers %q and %q", first, second)
	}
	if got := jarOf(t, s, "a"); got.Total != 7 {
		t.Errorf("total %d: the second press made a second fact", got.Total)
	}
	err := s.Write(t.Context(), func(tx *Tx) error { return tx.Keep("press-1", nil) })
	wantFault(t, err, fault.Conflict, "already-recorded")
	// A command that fails keeps no receipt.
	if err := s.Write(t.Context(), func(tx *Tx) error {
		if err := tx.Keep("press-2", []byte("x")); err != nil {
			t.Error(err)
		}
		return errors.New("no")
	}); err == nil || err.Error() != "no" {
		t.Error(err)
	}
	mustWrite(t, s, func(tx *Tx) error {
		if _, ok, _ := tx.Receipt("press-2"); ok {
			t.Error("a refused command left a receipt")
		}
		return nil
	})
}

func TestAppendRefuses(t *testing.T) {
	s := create(t)
	rec := write(t, s, Draft{ID: "fixed", Subject: jarRef("a"), Body: added{1}})[0]
	for name, c := range map[string]struct {
		d    Draft
		kind fault.Kind
		key  string
	}{
		"same id":            {Draft{ID: "fixed", Subject: jarRef("b"), Body: added{1}}, fault.Conflict, "already-recorded"},
		"corrects nothing":   {Draft{Corrects: "nobody", Reason: "r", Subject: jarRef("a"), Body: added{1}}, fault.Missing, "corrected-missing"},
		"corrects a strange": {Draft{Corrects: rec.ID, Reason: "r", Subject: jarRef("b"), Body: added{1}}, fault.Missing, "corrected-missing"},
		"no reason":          {Draft{Corrects: rec.ID, Subject: jarRef("a"), Body: added{1}}, fault.Invalid, "reason-missing"},
		"too large":          {Draft{Subject: jarRef("a"), Body: named{Name: strings.Repeat("x", 300<<10)}}, fault.Invalid, "not-recordable"},
		"control character":  {Draft{ID: "a\x00b", Subject: jarRef("a"), Body: added{1}}, fault.Invalid, "not-recordable"},
	} {
		err := s.Write(t.Context(), func(tx *Tx) error { _, err := tx.Append(c.d); return err })
		t.Run(name, func(t *testing.T) { wantFault(t, err, c.kind, c.key) })
	}
	for name, d := range map[string]Draft{
		"unregistered body":    {Subject: jarRef("a"), Body: strange{}},
		"unregistered subject": {Subject: fact.Ref{Kind: "spoon", ID: "1"}, Body: added{1}},
	} {
		err := s.Write(t.Context(), func(tx *Tx) error {
			if _, err := tx.Append(d); err == nil {
				t.Error("it was taken")
			}
			return nil // a command that looks away cannot be kept either
		})
		if err == nil || fault.Of(err).Kind != fault.Internal {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := jarOf(t, s, "a"); got.Total != 1 {
		t.Errorf("total %d", got.Total)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestCorrectionTakesThePlaceOfTheFact(t *testing.T) {
	s := create(t)
	recs := write(t, s, Draft{Subject: jarRef("a"), Body: added{5}}, Draft{Subject: jarRef("a"), Body: added{50}})
	write(t, s, Draft{Subject: jarRef("a"), Body: added{6}, Corrects: recs[0].ID, Reason: "miscounted"})
	write(t, s, Draft{Subject: jarRef("a"), Body: fact.Struck{}, Corrects: recs[1].ID, Reason: "another jar"}, Draft{Subject: jarRef("a"), Body: added{1}})
	got := jarOf(t, s, "a")
	if got.Total != 7 || !cmp.Equal(got.Trail, []string{"6", "1"}) {
		t.Errorf("%+v", got)
	}
	mustRead(t, s, func(v *View) error {
		all, err := v.Records(jarRef("a"))
		if err != nil || len(all) != 5 || all[2].Reason != "miscounted" || all[2].Corrects != recs[0].ID {
			t.Errorf("records %+v %v", all, err)
		}
		return nil
	})
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestPersonalData(t *testing.T) {
	s := create(t)
	secret := []byte(`{"name":"Ada Example"}`)
	var sealed []byte
	seal := func(id string) error {
		return s.Write(t.Context(), func(tx *Tx) (err error) {
			if sealed, err = tx.Seal(jarRef(id), secret); err != nil {
				return err
			}
			_, err = tx.Append(Draft{Subject: jarRef(id), Body: noted{sealed}})
			return err
		})
	}
	open := func(ref fact.Ref) (out []byte, has bool, err error) {
		err = s.Read(t.Context(), func(v *View) (err error) {
			if has, err = v.HasKey(ref); err != nil {
				return err
			}
			out, err = v.Open(ref, sealed)
			return err
		})
		return out, has, err
	}
	if err := seal("a"); err != nil {
		t.Fatal(err)
	}
	first := sealed
	if err := seal("b"); err != nil {
		t.Fatal(err)
	}
	if _, _, err := open(jarRef("a")); err == nil {
		t.Error("what was sealed for b opened for a")
	}
	sealed = first
	if got, has, err := open(jarRef("a")); string(got) != string(secret) || !has || err != nil {
		t.Errorf("%q %v %v", got, has, err)
	}
	_, _, err := open(jarRef("nobody"))
	wantFault(t, err, fault.Missing, "erased")

	var wrapped []byte
	mustRead(t, s, func(v *View) error { wrapped, _, err = subjectKey(v.c, jarRef("a")); return err })
	if data, _ := os.ReadFile(filepath.Join(s.o.Dir, dataFile+"-wal")); !strings.Contains(string(data), string(wrapped)) {
		t.Error("the key is not where this test looks for it")
	}
	if err := s.Write(t.Context(), func(tx *Tx) error { return tx.Erase(jarRef("a")) }); err != nil {
		t.Fatal(err)
	}
	_, has, err := open(jarRef("a"))
	wantFault(t, err, fault.Missing, "erased")
	if has {
		t.Error("the key is still there")
	}
	wantFault(t, seal("a"), fault.Missing, "erased")
	r, err := s.Check(t.Context())
	if err != nil || !r.OK() || r.Keys != 1 || r.Erased != 1 {
		t.Errorf("check %+v %v", r, err)
	}
	for _, name := range []string{dataFile, dataFile + "-wal"} { // as they lie while the program runs
		data, err := os.ReadFile(filepath.Join(s.o.Dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(data), string(secret)) {
			t.Errorf("%s still holds the person", name)
		}
		for i := 0; i+16 <= len(wrapped); i += 8 {
			if strings.Contains(string(data), string(wrapped[i:i+16])) {
				t.Errorf("%s still holds a part of the key", name)
			}
		}
	}
}

func TestLocalIsNoPartOfTheRecord(t *testing.T) {
	s := create(t)
	changes, cancel := s.Changes()
	defer cancel()
	l := s.Local("sessions")
	ctx := t.Context()
	for k, v := range map[string]string{"x": "1", "y": "2"} {
		if err := l.Put(ctx, k, []byte(v)); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(l.Put(ctx, "x", []byte("3")), l.Delete(ctx, "y"), l.Delete(ctx, "never")); err != nil {
		t.Fatal(err)
	}
	if v, ok, err := l.Get(ctx, "x"); string(v) != "3" || !ok || err != nil {
		t.Errorf("%q %v %v", v, ok, err)
	}
	if _, ok, _ := s.Local("devices").Get(ctx, "x"); ok {
		t.Error("buckets are not apart")
	}
	if m, err := l.All(ctx); err != nil || len(m) != 1 || string(m["x"]) != "3" {
		t.Errorf("%v %v", m, err)
	}
	select {
	case <-changes:
		t.Error("a local value is no change of the record")
	default:
	}
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}, Draft{Subject: jarRef("a"), Body: added{1}})
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	<-changes
	select {
	case <-changes:
		t.Error("pokes are not put together")
	default:
	}
}

func TestReadersKeepTheirSnapshotAndDoNotWait(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	err := s.Read(t.Context(), func(v *View) error {
		total := func() int { st, _, _ := v.State(jarRef("a")); return st.(*jar).Total }
		if total() != 1 {
			t.Error("before")
		}
		write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}) // the writer does not wait for the reader either
		if total() != 1 {
			t.Error("the snapshot moved")
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// A reader during a command that is not finished sees what was there before it.
	mustWrite(t, s, func(tx *Tx) error {
		_, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}})
		if got := jarOf(t, s, "a"); got.Total != 2 {
			t.Errorf("a reader sees %d", got.Total)
		}
		return err
	})
	if got := jarOf(t, s, "a"); got.Total != 3 {
		t.Errorf("after: %d", got.Total)
	}
}

func TestUseAfterTheEndIsRefused(t *testing.T) {
	s := create(t)
	var tx *Tx
	var v *View
	mustWrite(t, s, func(x *Tx) error { tx = x; return nil })
	mustRead(t, s, func(x *View) error { v = x; return nil })
	if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); !errors.Is(err, errOver) {
		t.Error(err)
	}
	if _, err := v.All("jar"); !errors.Is(err, errOver) {
		t.Error(err)
	}
	ended, stop := context.WithCancel(t.Context())
	stop()
	if err := s.Write(ended, func(*Tx) error { t.Error("ran"); return nil }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if err := s.Read(ended, func(v *View) error { _, err := v.All("jar"); return err }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if got := jarOf(t, s, "a"); got != nil {
		t.Error(got)
	}
	shut(t, s)
	wantFault(t, s.Write(t.Context(), func(*Tx) error { return nil }), fault.Unusable, "record-closed")
	wantFault(t, s.Read(t.Context(), func(*View) error { return nil }), fault.Unusable, "record-closed")
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// A test that calls t.Fatal inside a command ends the goroutine that runs it: the writer's.
func TestWriterOutlivesGoexit(t *testing.T) {
	s := create(t)
	err := s.Write(t.Context(), func(tx *Tx) error {
		if _, err := tx.Append(Draft{Subject: jarRef("a"), Body: added{1}}); err != nil {
			t.Error(err)
		}
		runtime.Goexit()
		return nil
	})
	wantFault(t, err, fault.Internal, "internal")
	write(t, s, Draft{Subject: jarRef("a"), Body: added{4}})
	if got := jarOf(t, s, "a"); got.Total != 4 {
		t.Errorf("total %d", got.Total)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestFullDisk(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	mustWrite(t, s, func(tx *Tx) error {
		return tx.w.c.script(`PRAGMA max_page_count = 1`) // SQLite then allows no page more than there are
	})
	big := named{Name: strings.Repeat("x", 60<<10)}
	started, let := make(chan bool), make(chan bool)
	var wg sync.WaitGroup
	wg.Go(func() { mustWrite(t, s, func(*Tx) error { close(started); <-let; return nil }) })
	<-started
	errs := make([]error, 4)
	for i := range errs {
		wg.Go(func() {
			errs[i] = s.Write(t.Context(), func(tx *Tx) error {
				_, err := tx.Append(Draft{Subject: jarRef("a"), Body: big})
				return err
			})
		})
	}
	close(let)
	wg.Wait()
	for _, err := range errs {
		wantFault(t, err, fault.Unusable, "not-recorded")
		if f := fault.Of(err); f.Sentence != "Not recorded: the disk is full." {
			t.Error(f.Sentence)
		}
	}
	mustWrite(t, s, func(tx *Tx) error { return tx.w.c.script(`PRAGMA max_page_count = 1000000`) })
	rec := write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})[0]
	if got := jarOf(t, s, "a"); got.Total != 2 || got.Name != "" || rec.Seq != 2 {
		t.Errorf("%+v, seq %d", got, rec.Seq)
	}
	if p := problems(t, s); p != nil {
		t.Error(p)
	}
}

func TestStateJSONIsWhatTheRowSays(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{2}})
	var text string
	mustRead(t, s, func(v *View) (err error) {
		text, _, err = one(v.c, func(r row) string { return r.text(0) }, `SELECT state FROM subject`)
		return err
	})
	want, _ := json.Marshal(jarOf(t, s, "a"))
	if text != string(want) {
		t.Errorf("%s, want %s", text, want)
	}
}

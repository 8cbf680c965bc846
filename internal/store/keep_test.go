package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

const (
	aPassphrase     = "four heron paper lantern"
	otherPassphrase = "another walnut, quite different"
)

func with(dir, passphrase string) Options {
	o := options(dir)
	o.Passphrase = func() ([]byte, error) { return []byte(passphrase), nil }
	return o
}

func createSealed(t testing.TB) *Store {
	t.Helper()
	s, err := Create(context.Background(), with(filepath.Join(t.TempDir(), "record"), aPassphrase))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { shut(t, s) })
	return s
}

// secretNote seals a name for a jar and adds an amount to it.
func secretNote(t testing.TB, s *Store, id, note string) {
	t.Helper()
	mustWrite(t, s, func(tx *Tx) error {
		sealed, err := tx.Seal(jarRef(id), []byte(note))
		if err != nil {
			return err
		}
		_, err = tx.Append(Draft{Subject: jarRef(id), Body: noted{sealed}})
		return err
	})
}

func reads(t testing.TB, s *Store, id string) string {
	t.Helper()
	var out string
	mustRead(t, s, func(v *View) error {
		recs, err := v.Records(jarRef(id))
		if err != nil {
			return err
		}
		for _, r := range recs {
			if n, ok := r.Body.(noted); ok {
				plain, err := v.Open(jarRef(id), n.Sealed)
				if fault.Is(err, "erased") {
					out = "erased"
					return nil
				}
				if err != nil {
					return err
				}
				out = string(plain)
			}
		}
		return nil
	})
	return out
}

func TestAPassphraseEncryptsEveryByteOfTheRecord(t *testing.T) {
	t.Parallel()
	s := createSealed(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: named{"plum shelf", "quince"}})
	secretNote(t, s, "a", "Ann Invented")
	looks := func(when string) {
		t.Helper()
		files, err := os.ReadDir(s.o.Dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			data, err := os.ReadFile(filepath.Join(s.o.Dir, f.Name()))
			must(t, err)
			for _, word := range []string{"plum shelf", "quince", "SQLite format", aPassphrase, "jar.named"} {
				if bytes.Contains(data, []byte(word)) {
					t.Errorf("%s, %q can be read in %s", when, word, f.Name())
				}
			}
			if f.Name() == dataFile {
				t.Errorf("%s, there is a plain database", when)
			}
		}
	}
	looks("while open")
	if log, err := os.Stat(filepath.Join(s.o.Dir, sealedFile+"-wal")); err != nil || log.Size() == 0 {
		t.Fatalf("the log that was looked at was empty: %v", err)
	}
	shut(t, s)
	looks("closed")

	_, err := Open(t.Context(), options(s.o.Dir))
	wantFault(t, err, fault.Denied, "record-locked")
	before := bytesOf(t, s.o.Dir)
	_, err = Open(t.Context(), with(s.o.Dir, aPassphrase+"x"))
	wantFault(t, err, fault.Denied, "passphrase-wrong")
	if strings.Contains(fmt.Sprintf("%v %+v", err, err), "heron") {
		t.Error("the passphrase is in the error")
	}
	for name, was := range before {
		if now := bytesOf(t, s.o.Dir)[name]; now != was {
			t.Errorf("a wrong passphrase changed %s", name)
		}
	}
	for _, readOnly := range []bool{false, true} {
		o := with(s.o.Dir, aPassphrase)
		o.ReadOnly = readOnly
		r, err := Open(t.Context(), o)
		if err != nil {
			t.Fatal(err)
		}
		if got := jarOf(t, r, "a"); got.Name != "quince" || reads(t, r, "a") != "Ann Invented" {
			t.Errorf("read only %v: %+v", readOnly, got)
		}
		if p := problems(t, r); p != nil {
			t.Error(p)
		}
		shut(t, r)
	}
}

func TestAnEncryptedRecordThatIsDamagedIsRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		key   string
		spoil func(t *testing.T, dir string)
	}{
		"no database": {"record-missing", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, sealedFile))) }},
		"no keys":     {"keys-unreadable", func(t *testing.T, dir string) { must(t, os.Remove(filepath.Join(dir, keysFile))) }},
		"cut inside a block": {"record-damaged", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, sealedFile), func(b []byte) []byte { return b[:len(b)-100] })
		}},
		"cut between blocks": {"record-damaged", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, sealedFile), func(b []byte) []byte { return b[:len(b)-cipherBlock] })
		}},
		"another header": {"record-damaged", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, sealedFile), func(b []byte) []byte { b[20] ^= 1; return b })
		}},
		"absurd cost": {"keys-unreadable", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, keysFile), func(b []byte) []byte {
				return bytes.Replace(b, []byte(`"memory_kib": 65536`), []byte(`"memory_kib": 4000000000`), 1)
			})
		}},
		"changed seal": {"passphrase-wrong", func(t *testing.T, dir string) {
			patch(t, filepath.Join(dir, keysFile), func(b []byte) []byte {
				return bytes.Replace(b, []byte(`"sealed": "A`), []byte(`"sealed": "B`), 1)
			})
		}},
	} {
		t.Run(name, func(t *testing.T) {
			s := createSealed(t)
			write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
			shut(t, s)
			before := bytesOf(t, s.o.Dir)
			c.spoil(t, s.o.Dir)
			spoilt := bytesOf(t, s.o.Dir)
			if len(spoilt) == len(before) {
				same := true
				for n, b := range before {
					same = same && spoilt[n] == b
				}
				if same {
					t.Fatal("nothing was spoilt")
				}
			}
			r, err := Open(t.Context(), with(s.o.Dir, aPassphrase))
			if err == nil {
				shut(t, r)
			}
			if !fault.Is(err, c.key) {
				t.Errorf("got %v, want %s", err, c.key)
			}
		})
	}
}

func TestWeakPassphrasesAreRefused(t *testing.T) {
	for _, weak := range []string{"short", "elevenchars", "123456789012", "1234 5678 9012 3456", "aaaaaaaaaaaaaaaa", "abababababababab", "a b c d", "up up go go", strings.Repeat("long ", 400), "bell\x07 in the tower"} {
		dir := filepath.Join(t.TempDir(), "record")
		_, err := Create(t.Context(), with(dir, weak))
		wantFault(t, err, fault.Invalid, "passphrase-weak")
		if _, err := os.Stat(filepath.Join(dir, keysFile)); err == nil {
			t.Errorf("%q left a record behind", weak)
		}
	}
}

func TestChangingThePassphraseLeavesTheDatabaseAlone(t *testing.T) {
	t.Parallel()
	s := createSealed(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{3}})
	wantFault(t, s.Rewrap([]byte("not the old one"), []byte(otherPassphrase)), fault.Denied, "passphrase-wrong")
	wantFault(t, s.Rewrap([]byte(aPassphrase), []byte("1234")), fault.Invalid, "passphrase-weak")
	must(t, s.Rewrap([]byte(aPassphrase), []byte(otherPassphrase)))
	write(t, s, Draft{Subject: jarRef("a"), Body: added{4}})
	shut(t, s)
	_, err := Open(t.Context(), with(s.o.Dir, aPassphrase))
	wantFault(t, err, fault.Denied, "passphrase-wrong")
	r, err := Open(t.Context(), with(s.o.Dir, otherPassphrase))
	must(t, err)
	defer shut(t, r)
	if got := jarOf(t, r, "a"); got.Total != 7 {
		t.Errorf("total %d", got.Total)
	}
}

// The power fails after each step of giving a plain record its first passphrase. The folder then opens as the one or as the
// other, with everything in it, and nothing is left over.
func TestEncryptingMayBeCutShortAtAnyStep(t *testing.T) {
	t.Parallel()
	const steps = 6
	for stop := range steps + 1 {
		t.Run(fmt.Sprint("after step ", stop), func(t *testing.T) {
			s := create(t)
			for i := range 50 {
				write(t, s, Draft{Subject: jarRef(fmt.Sprint(i % 7)), Body: added{i}})
			}
			secretNote(t, s, "a", "Ann Invented")
			node := s.Node()
			s.closing.Do(func() { // as Encrypt does, but it ends in the middle
				s.writer.stop()
				must(t, s.readers.close())
				way, err := s.encryption(t.Context(), mustPass(t, s, aPassphrase))
				must(t, err)
				if len(way) != steps {
					t.Fatalf("there are %d steps", len(way))
				}
				for _, step := range way[:stop] {
					must(t, step())
				}
				if stop < steps { // the log is as it lies when the power fails: keep a copy of it and put it back
					wal, err := os.ReadFile(filepath.Join(s.o.Dir, dataFile+"-wal"))
					must(t, err)
					db, err := os.ReadFile(filepath.Join(s.o.Dir, dataFile))
					must(t, err)
					must(t, s.writer.c.close())
					must(t, os.WriteFile(filepath.Join(s.o.Dir, dataFile), db, 0o600))
					must(t, os.WriteFile(filepath.Join(s.o.Dir, dataFile+"-wal"), wal, 0o600))
				}
				must(t, s.lock.close())
			})
			sealed := stop >= 5
			o := with(s.o.Dir, aPassphrase)
			if !sealed {
				o = options(s.o.Dir)
			}
			r, err := Open(t.Context(), o)
			must(t, err)
			if r.Sealed() != sealed || r.Node() != node {
				t.Errorf("sealed %v, node %s", r.Sealed(), r.Node())
			}
			if got := jarOf(t, r, "3"); got.Total != 3+10+17+24+31+38+45 || reads(t, r, "a") != "Ann Invented" {
				t.Errorf("after the cut: %+v", got)
			}
			if p := problems(t, r); p != nil {
				t.Error(p)
			}
			write(t, r, Draft{Subject: jarRef("3"), Body: added{1}})
			shut(t, r)
			want := map[string]bool{keysFile: true, lockFile: true, dataName(sealed): true}
			for name := range bytesOf(t, s.o.Dir) {
				if !want[name] {
					t.Errorf("%s was left behind", name)
				}
			}
		})
	}
}

func TestEncryptingAPlainRecord(t *testing.T) {
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: named{"plum shelf", "quince"}})
	wantFault(t, s.Encrypt(t.Context(), []byte("1234")), fault.Invalid, "passphrase-weak")
	must(t, s.Encrypt(t.Context(), []byte(aPassphrase)))
	if err := s.Write(t.Context(), func(*Tx) error { return nil }); !fault.Is(err, "record-closed") {
		t.Errorf("it is still open: %v", err)
	}
	for name := range bytesOf(t, s.o.Dir) {
		data, err := os.ReadFile(filepath.Join(s.o.Dir, name))
		must(t, err)
		if bytes.Contains(data, []byte("plum shelf")) {
			t.Errorf("%s can be read", name)
		}
	}
	r, err := Open(t.Context(), with(s.o.Dir, aPassphrase))
	must(t, err)
	defer shut(t, r)
	if got := jarOf(t, r, "a"); got.Name != "quince" {
		t.Errorf("%+v", got)
	}
	if p := problems(t, r); p != nil {
		t.Error(p)
	}
}

// Somebody put a plain record into the folder of the encrypted one: what is only there is never removed.
func TestAPlainRecordWithEntriesOfItsOwnIsNotRemoved(t *testing.T) {
	plain := closedRecord(t)
	s := createSealed(t)
	shut(t, s)
	data, err := os.ReadFile(filepath.Join(plain, dataFile))
	must(t, err)
	must(t, os.WriteFile(filepath.Join(s.o.Dir, dataFile), data, 0o600))
	r, err := Open(t.Context(), with(s.o.Dir, aPassphrase))
	must(t, err)
	shut(t, r)
	if got, err := os.ReadFile(filepath.Join(s.o.Dir, dataFile)); err != nil || !bytes.Equal(got, data) {
		t.Errorf("it is gone: %v", err)
	}
}

// eventually waits for what another goroutine brings about.
func eventually(t testing.TB, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); runtime.Gosched() {
		if ok() {
			return
		}
		<-time.After(20 * time.Millisecond)
	}
	t.Fatalf("in vain: %s", what)
}

func errorOf(f *fault.Fault) error {
	if f == nil {
		return errors.New("no fault")
	}
	return f
}

func mustPass(t testing.TB, s *Store, passphrase string) *logbook.PassKey {
	t.Helper()
	if s.Sealed() {
		t.Fatal("it has a passphrase")
	}
	return logbook.NewPassKey([]byte(passphrase))
}

package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

func boxed(t testing.TB, pass *logbook.PassKey, content []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := newBox(&out, pass)
	must(t, err)
	_, err = w.Write(content)
	must(t, err)
	must(t, w.Close())
	return out.Bytes()
}

func unboxed(data []byte, pass *logbook.PassKey) ([]byte, error) {
	r, _, err := openBox(bytes.NewReader(data), func(l logbook.Lock) (*logbook.PassKey, error) {
		if !bytes.Equal(l.Salt, pass.Lock().Salt) || l.Passes != pass.Lock().Passes || l.Memory != pass.Lock().Memory || l.Lanes != pass.Lock().Lanes {
			return nil, logbook.ErrLock // another key would come out
		}
		return pass, nil
	})
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}

func TestABoxThatIsCutOrChangedAnywhereIsRefused(t *testing.T) {
	pass := logbook.NewPassKey([]byte(aPassphrase))
	content := bytes.Repeat([]byte("what was recorded "), 20)
	whole := boxed(t, pass, content)
	if got, err := unboxed(whole, pass); err != nil || !bytes.Equal(got, content) {
		t.Fatalf("whole: %v", err)
	}
	for cut := range whole {
		if _, err := unboxed(whole[:cut], pass); err == nil {
			t.Fatalf("cut to %d of %d bytes it is taken for whole", cut, len(whole))
		}
	}
	for at := range whole {
		for bit := range 8 {
			changed := bytes.Clone(whole)
			changed[at] ^= 1 << bit
			if _, err := unboxed(changed, pass); err == nil {
				t.Fatalf("with byte %d changed it is taken for whole", at)
			}
		}
	}
	if _, err := unboxed(append(bytes.Clone(whole), 0), pass); err == nil {
		t.Error("with a byte added it is taken for whole")
	}
}

func TestBoxesOfManyChunks(t *testing.T) {
	pass := logbook.NewPassKey([]byte(aPassphrase))
	const sealed = boxChunk + 16
	for _, size := range []int{0, 1, boxChunk - 1, boxChunk, boxChunk + 1, 3 * boxChunk, 3*boxChunk + 5} {
		content := random(size)
		whole := boxed(t, pass, content)
		if got, err := unboxed(whole, pass); err != nil || !bytes.Equal(got, content) {
			t.Fatalf("%d bytes: %v", size, err)
		}
		for at := boxHead; at < len(whole); at += sealed { // cut between chunks: each that is left is sound by itself
			if _, err := unboxed(whole[:at], pass); !errors.Is(err, errBroken) {
				t.Errorf("%d bytes, cut at a chunk: %v", size, err)
			}
		}
		if size >= 3*boxChunk { // two chunks change places; one is left out; one comes twice
			body := whole[boxHead:]
			for name, b := range map[string][]byte{
				"swapped":  bytes.Join([][]byte{whole[:boxHead], body[sealed : 2*sealed], body[:sealed], body[2*sealed:]}, nil),
				"left out": bytes.Join([][]byte{whole[:boxHead], body[:sealed], body[2*sealed:]}, nil),
				"twice":    bytes.Join([][]byte{whole[:boxHead], body[:sealed], body[:sealed], body[sealed:]}, nil),
			} {
				if _, err := unboxed(b, pass); !errors.Is(err, errBroken) {
					t.Errorf("%s: %v", name, err)
				}
			}
		}
	}
	whole := boxed(t, pass, random(3*boxChunk+77))
	rapid.Check(t, func(r *rapid.T) {
		changed := bytes.Clone(whole)
		if at := rapid.IntRange(0, len(whole)-1).Draw(r, "at"); rapid.Bool().Draw(r, "cut") {
			changed = changed[:at]
		} else {
			changed[at] ^= rapid.Byte().Filter(func(b byte) bool { return b != 0 }).Draw(r, "by")
		}
		if _, err := unboxed(changed, pass); err == nil {
			r.Fatal("it is taken for whole")
		}
	})
}

func TestBackupAndRestore(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		make func(testing.TB) *Store
		pass []byte // of the backup
		open string
	}{
		"an encrypted record":                       {createSealed, nil, aPassphrase},
		"a plain record":                            {create, []byte(otherPassphrase), otherPassphrase},
		"an encrypted one under another of its own": {createSealed, []byte(otherPassphrase), otherPassphrase},
	} {
		t.Run(name, func(t *testing.T) {
			s := c.make(t)
			for i := range 200 {
				write(t, s, Draft{Subject: jarRef(fmt.Sprint(i % 20)), Body: added{i}})
			}
			secretNote(t, s, "a", "Ann Invented")
			secretNote(t, s, "b", "Bob Invented")
			mustWrite(t, s, func(tx *Tx) error { return tx.Erase(jarRef("b")) })
			must(t, s.Local("session").Put(t.Context(), "token", []byte("signed in")))
			path := filepath.Join(t.TempDir(), "day.backup")
			b, err := s.Backup(t.Context(), path, c.pass)
			must(t, err)
			if b.Manifest.Entries != 202 || !b.Report.OK() || b.Report.Entries != 202 || b.Report.Keys != 1 || b.Report.Erased != 1 {
				t.Errorf("%+v", b)
			}
			last, ok := s.LastBackup()
			if !ok || last.Entries != 202 || !last.At.Equal(b.Manifest.Made) {
				t.Errorf("noted as %+v", last)
			}
			_, err = s.Backup(t.Context(), path, c.pass)
			wantFault(t, err, fault.Refused, "backup-exists")

			data, err := os.ReadFile(path)
			must(t, err)
			if bytes.Contains(data, []byte("Invented")) || bytes.Contains(data, []byte("SQLite")) {
				t.Error("it can be read")
			}
			v, err := VerifyBackup(t.Context(), with("", c.open), path)
			if err != nil || !v.Report.OK() || v.Manifest.Entries != 202 {
				t.Errorf("verified: %+v %v", v, err)
			}
			_, err = VerifyBackup(t.Context(), with("", "quite another one"), path)
			wantFault(t, err, fault.Denied, "passphrase-wrong")

			dir := filepath.Join(t.TempDir(), "new laptop")
			_, _, err = Restore(t.Context(), with(dir, "quite another one"), path)
			wantFault(t, err, fault.Denied, "passphrase-wrong")
			if _, err := os.Stat(dir); err == nil {
				t.Error("a wrong passphrase left a folder behind")
			}
			r, m, err := Restore(t.Context(), with(dir, c.open), path)
			must(t, err)
			if m.Entries != 202 || m.Last.IsZero() || r.Node() == s.Node() || !r.Sealed() {
				t.Errorf("restored %+v as %s", m, r.Node())
			}
			if p := problems(t, r); p != nil {
				t.Error(p)
			}
			if got, want := jarOf(t, r, "3"), jarOf(t, s, "3"); got.Total != want.Total {
				t.Errorf("%+v, want %+v", got, want)
			}
			if reads(t, r, "a") != "Ann Invented" || reads(t, r, "b") != "erased" {
				t.Errorf("sealed notes: %q %q", reads(t, r, "a"), reads(t, r, "b"))
			}
			if _, ok, err := r.Local("session").Get(t.Context(), "token"); err != nil || ok {
				t.Errorf("the old laptop's sessions came along: %v", err)
			}

			// Both laptops go on; what each wrote is taken in by the other without a fork.
			write(t, r, Draft{Subject: jarRef("3"), Body: added{1000}})
			write(t, s, Draft{Subject: jarRef("3"), Body: added{5000}})
			exchange(t, r, s)
			exchange(t, s, r)
			if a, b := jarOf(t, r, "3").Total, jarOf(t, s, "3").Total; a != b || a < 6000 {
				t.Errorf("totals %d and %d", a, b)
			}
			for _, x := range []*Store{r, s} {
				if p := problems(t, x); p != nil {
					t.Error(p)
				}
			}
			shut(t, r)
			again, err := Open(t.Context(), with(dir, c.open))
			must(t, err)
			shut(t, again)
		})
	}
}

// exchange brings what one laptop wrote into another.
func exchange(t testing.TB, from, to *Store) {
	t.Helper()
	mustRead(t, from, func(v *View) error {
		run, err := v.Run(from.Node(), 0)
		if err != nil {
			return err
		}
		_, err = to.Absorb(t.Context(), run)
		return err
	})
}

func TestAPlainRecordNeedsAPassphraseForItsBackup(t *testing.T) {
	s := create(t)
	dir := t.TempDir()
	_, err := s.Backup(t.Context(), filepath.Join(dir, "b"), nil)
	wantFault(t, err, fault.Invalid, "backup-passphrase")
	_, err = s.Backup(t.Context(), filepath.Join(dir, "b"), []byte("1234"))
	wantFault(t, err, fault.Invalid, "passphrase-weak")
	_, err = s.Backup(t.Context(), filepath.Join(dir, "missing", "b"), []byte(aPassphrase))
	wantFault(t, err, fault.Unusable, "not-backed-up")
	if got := bytesOf(t, dir); len(got) != 0 {
		t.Errorf("left behind: %v", got)
	}
}

func TestRestoreNeverWritesOverAnything(t *testing.T) {
	t.Parallel()
	s := createSealed(t)
	path := filepath.Join(t.TempDir(), "b")
	_, err := s.Backup(t.Context(), path, nil)
	must(t, err)
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "letter.txt"), []byte("keep me"), 0o600))
	before := bytesOf(t, dir)
	_, _, err = Restore(t.Context(), with(dir, aPassphrase), path)
	wantFault(t, err, fault.Unusable, "folder-not-empty")
	_, _, err = Restore(t.Context(), with(s.o.Dir, aPassphrase), path)
	wantFault(t, err, fault.Unusable, "folder-not-empty")
	if after := bytesOf(t, dir); len(after) != 1 || after["letter.txt"] != before["letter.txt"] {
		t.Errorf("the folder was touched: %v", after)
	}
	must(t, os.Remove(filepath.Join(dir, "letter.txt")))
	spoilt, err := os.ReadFile(path)
	must(t, err)
	must(t, os.WriteFile(path, spoilt[:len(spoilt)-1], 0o600))
	_, _, err = Restore(t.Context(), with(dir, aPassphrase), path)
	wantFault(t, err, fault.Unusable, "backup-damaged")
	must(t, os.WriteFile(path, []byte("a shopping list"), 0o600))
	_, _, err = Restore(t.Context(), with(dir, aPassphrase), path)
	wantFault(t, err, fault.Unusable, "backup-foreign")
	_, _, err = Restore(t.Context(), with(dir, aPassphrase), path+"x")
	wantFault(t, err, fault.Unusable, "backup-unreadable")
	if after := bytesOf(t, dir); len(after) != 0 {
		t.Errorf("left behind: %v", after)
	}
}

// Backups are made while 32 people write. Each holds a beginning of the chain as it was at one moment, nothing torn.
func TestBackupWhileManyWrite(t *testing.T) {
	s := createSealed(t)
	ctx, stop := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	for i := range 32 {
		wg.Go(func() {
			for n := 0; ctx.Err() == nil; n++ {
				err := s.Write(ctx, func(tx *Tx) error {
					for range 3 { // one command, three facts: a backup has all or none
						if _, err := tx.Append(Draft{Subject: jarRef(fmt.Sprint(i)), Body: added{1}}); err != nil {
							return err
						}
					}
					return nil
				})
				if err != nil && ctx.Err() == nil {
					t.Error(err)
					return
				}
			}
		})
	}
	dir := t.TempDir()
	var made []Backup
	for i := range 3 {
		b, err := s.Backup(t.Context(), filepath.Join(dir, fmt.Sprint(i)), nil)
		if err != nil {
			t.Error(err)
			break
		}
		made = append(made, b)
	}
	// A process that only looks on makes one too.
	o := with(s.o.Dir, aPassphrase)
	o.ReadOnly = true
	looker, err := Open(t.Context(), o)
	must(t, err)
	b, err := looker.Backup(t.Context(), filepath.Join(dir, "looker"), nil)
	must(t, err)
	shut(t, looker)
	made = append(made, b)
	stop()
	wg.Wait()
	was := 0
	for _, b := range made {
		if !b.Report.OK() || b.Manifest.Entries < was || b.Manifest.Entries%3 != 0 {
			t.Errorf("%+v", b)
		}
		was = b.Manifest.Entries
		for _, c := range b.Manifest.Chains {
			if c.Seq == 0 {
				continue
			}
			var hash string
			mustRead(t, s, func(v *View) error {
				h, ok, err := one(v.c, func(r row) [32]byte { return r.hash(0) }, `SELECT hash FROM entry WHERE node = ? AND seq = ?`, c.Node, c.Seq)
				hash = fmt.Sprintf("%x", h)
				if !ok {
					hash = "missing"
				}
				return err
			})
			if hash != c.Hash {
				t.Errorf("entry %d of the backup is %s, of the record %s", c.Seq, c.Hash, hash)
			}
		}
	}
	if was == 0 {
		t.Error("nothing was written meanwhile")
	}
	if held, _ := filepath.Glob(filepath.Join(os.TempDir(), "fairstick-backup-*")); strings.Contains(strings.Join(held, " "), dir) {
		t.Errorf("left behind: %v", held)
	}
}

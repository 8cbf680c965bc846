package store

import (
	"os"
	"path/filepath"
	"testing"

	"fairstick/internal/fault"
)

func copyTo(t testing.TB, s *Store, dir string) *Copy {
	t.Helper()
	c, err := s.Copy(dir, false)
	must(t, err)
	t.Cleanup(c.Stop)
	return c
}

// caughtUp waits until the copy holds everything that was recorded before this call.
func caughtUp(t testing.TB, c *Copy) {
	t.Helper()
	since := now(c.from.o)
	eventually(t, "the copy holds everything", func() bool {
		s := c.State()
		return s.Fault == nil && s.Whole.After(since)
	})
}

func broken(t testing.TB, c *Copy, key string) {
	t.Helper()
	eventually(t, "the copy says "+key, func() bool { return fault.Is(errorOf(c.State().Fault), key) })
}

func TestASecondCopyIsServedWhenTheLaptopDies(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		make func(testing.TB) *Store
		open func(dir string) Options
	}{
		"plain":     {create, options},
		"encrypted": {createSealed, func(dir string) Options { return with(dir, aPassphrase) }},
	} {
		t.Run(name, func(t *testing.T) {
			s := c.make(t)
			write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
			dir := filepath.Join(t.TempDir(), "stick")
			second := copyTo(t, s, dir)
			caughtUp(t, second)
			for range 30 {
				write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
			}
			secretNote(t, s, "a", "Ann Invented")
			secretNote(t, s, "b", "Bob Invented")
			caughtUp(t, second)
			mustWrite(t, s, func(tx *Tx) error { return tx.Erase(jarRef("b")) })
			caughtUp(t, second)
			second.Stop()

			r, err := Open(t.Context(), c.open(dir))
			must(t, err)
			if r.Node() == s.Node() || r.Sealed() != s.Sealed() {
				t.Errorf("node %s, sealed %v", r.Node(), r.Sealed())
			}
			if got := jarOf(t, r, "a").Total; got != 31 {
				t.Errorf("the copy adds up to %d", got)
			}
			if a, b := reads(t, r, "a"), reads(t, r, "b"); a != "Ann Invented" || b != "erased" {
				t.Errorf("sealed notes: %q %q", a, b)
			}
			if p := problems(t, r); p != nil {
				t.Error(p)
			}
			write(t, r, Draft{Subject: jarRef("a"), Body: added{9}}) // the day goes on from the stick
			shut(t, r)
		})
	}
}

func TestAStickIsPulledAndPutBack(t *testing.T) {
	s := createSealed(t)
	media := t.TempDir()
	dir, away := filepath.Join(media, "stick"), filepath.Join(media, "pocket")
	c := copyTo(t, s, dir)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	caughtUp(t, c)
	must(t, os.Rename(dir, away))
	for range 5 {
		write(t, s, Draft{Subject: jarRef("a"), Body: added{1}}) // the day is not held up
	}
	broken(t, c, "copy-gone")
	if st := c.State(); st.Since.IsZero() || st.Behind != 5 {
		t.Errorf("it says %+v", st)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("a new copy was begun where the stick should be")
	}
	must(t, os.Rename(away, dir))
	caughtUp(t, c)
	if st := c.State(); !st.Since.IsZero() || st.Behind != 0 {
		t.Errorf("it says %+v", st)
	}
	c.Stop()
	r, err := Open(t.Context(), with(dir, aPassphrase))
	must(t, err)
	if got := jarOf(t, r, "a").Total; got != 6 {
		t.Errorf("the copy adds up to %d", got)
	}
	shut(t, r)

	// Another stick takes its place: only when it is asked for.
	must(t, os.Rename(dir, away))
	c = copyTo(t, s, dir)
	broken(t, c, "copy-gone")
	c.Stop()
	c, err = s.Copy(dir, true)
	must(t, err)
	caughtUp(t, c)
	c.Stop()
}

func TestTheCopyIsLockedAsTheRecordIs(t *testing.T) {
	t.Parallel()
	s := createSealed(t)
	dir := filepath.Join(t.TempDir(), "stick")
	c := copyTo(t, s, dir)
	caughtUp(t, c)
	must(t, s.Rewrap([]byte(aPassphrase), []byte(otherPassphrase)))
	eventually(t, "the copy takes the new passphrase", func() bool {
		f, err := readKeyFile(filepath.Join(dir, keysFile))
		if err != nil {
			return false
		}
		_, err = f.unlock(s.pass())
		return err == nil
	})
	c.Stop()
	_, err := Open(t.Context(), with(dir, aPassphrase))
	wantFault(t, err, fault.Denied, "passphrase-wrong")
	r, err := Open(t.Context(), with(dir, otherPassphrase))
	must(t, err)
	shut(t, r)
}

func TestAPlainCopyIsReplacedWhenTheRecordIsEncrypted(t *testing.T) {
	t.Parallel()
	s := create(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: named{"plum shelf", "quince"}})
	dir := filepath.Join(t.TempDir(), "stick")
	c := copyTo(t, s, dir)
	caughtUp(t, c)
	c.Stop()
	must(t, s.Encrypt(t.Context(), []byte(aPassphrase)))
	s, err := Open(t.Context(), with(s.o.Dir, aPassphrase))
	must(t, err)
	defer shut(t, s)
	c = copyTo(t, s, dir)
	caughtUp(t, c)
	c.Stop()
	if _, err := os.Stat(filepath.Join(dir, dataFile)); err == nil {
		t.Error("the plain copy is still there")
	}
	r, err := Open(t.Context(), with(dir, aPassphrase))
	must(t, err)
	if got := jarOf(t, r, "a").Name; got != "quince" {
		t.Errorf("the copy says %q", got)
	}
	shut(t, r)
}

func TestACopyIsRefusedWhereItWouldHarm(t *testing.T) {
	s := create(t)
	for _, dir := range []string{s.o.Dir, filepath.Join(s.o.Dir, "copy")} {
		_, err := s.Copy(dir, false)
		wantFault(t, err, fault.Invalid, "copy-inside")
	}
	full := t.TempDir()
	must(t, os.WriteFile(filepath.Join(full, "letter.txt"), []byte("keep me"), 0o600))
	c := copyTo(t, s, full)
	broken(t, c, "folder-not-empty")
	if got := bytesOf(t, full); len(got) != 1 {
		t.Errorf("the folder was touched: %v", got)
	}
	other := closedRecord(t)
	before := bytesOf(t, other)
	c = copyTo(t, s, other)
	broken(t, c, "record-exists")
	for name, was := range before {
		if bytesOf(t, other)[name] != was {
			t.Errorf("%s of another record was touched", name)
		}
	}
	c = copyTo(t, s, filepath.Join(t.TempDir(), "no", "such"))
	broken(t, c, "copy-gone")
}

package store

import (
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

// pair appends one command of two facts under an id, as the programme does: a second time it answers as the first.
func pair(s *Store, t *testing.T, id string) error {
	t.Helper()
	return s.Write(t.Context(), func(tx *Tx) error {
		if _, ok, err := tx.Receipt(id); err != nil || ok {
			return err
		}
		for _, jar := range []string{"a", "b"} {
			if _, err := tx.Append(Draft{Subject: fact.Ref{Kind: "jar", ID: jar}, Body: added{1}}); err != nil {
				return err
			}
		}
		return tx.Keep(id, []byte("yes"))
	})
}

// A disk that is full at its n-th write, for every n of a command: the command is refused in the words for it, what was
// recorded stays, and the same command is taken once when there is space.
func TestDiskFullAtEveryWrite(t *testing.T) {
	d := under(t)
	n, refused := 0, 0
	for done := false; !done; n++ {
		s := create(t)
		must(t, pair(s, t, "before"))
		left := n
		hit := false
		d.failing(func(what deed) error {
			if what != writeDeed {
				return nil
			}
			if left == 0 {
				hit = true
				return vfs.SystemError(syscall.ENOSPC, sqlite3.FULL) // as the system's own layer says it
			}
			left--
			return nil
		})
		err := pair(s, t, "during")
		d.failing(nil)
		done = !hit
		if hit {
			refused++
			wantFault(t, err, fault.Unusable, "not-recorded")
			if f := fault.Of(err); f.Sentence != "Not recorded: the disk is full." || f.Do == "" {
				t.Errorf("write %d: %q %q", n, f.Sentence, f.Do)
			}
			if got := jarOf(t, s, "a").Total; got != 1 {
				t.Errorf("write %d: %d stand after the refusal, want 1", n, got)
			}
		}
		must(t, pair(s, t, "during"))
		must(t, pair(s, t, "after"))
		three(t, s, n)
		shut(t, s)
		again, err := Open(t.Context(), options(s.o.Dir))
		must(t, err)
		three(t, again, n)
		shut(t, again)
	}
	if refused < 3 {
		t.Errorf("a command of two facts met the full disk at %d writes only", refused)
	}
	t.Logf("refused at each of %d writes", refused)
}

func three(t *testing.T, s *Store, n int) {
	t.Helper()
	if a, b := jarOf(t, s, "a").Total, jarOf(t, s, "b").Total; a != 3 || b != 3 {
		t.Errorf("write %d: %d and %d stand, want 3 and 3", n, a, b)
	}
	if p := problems(t, s); p != nil {
		t.Errorf("write %d: %v", n, p)
	}
}

// A disk that cannot make a commit durable says so. What becomes of the command nobody can know, so it is sent again under
// its id, also after a start in between, and stands once.
func TestFailedSyncIsNotAYes(t *testing.T) {
	for name, restart := range map[string]bool{"running on": false, "after a start": true} {
		t.Run(name, func(t *testing.T) { failedSync(t, restart) })
	}
}

func failedSync(t *testing.T, restart bool) {
	t.Helper()
	d := under(t)
	s := create(t)
	must(t, pair(s, t, "before"))
	d.failing(func(what deed) error {
		if what == syncDeed {
			return syscall.EIO
		}
		return nil
	})
	wantFault(t, pair(s, t, "during"), fault.Unusable, "not-recorded")
	d.failing(nil)
	if restart {
		left := bytesIn(t, s.o.Dir) // as the power cut leaves it: nobody closed anything
		dir := filepath.Join(t.TempDir(), "left")
		delete(left, dataFile+"-shm")
		must(t, put(dir, left))
		var err error
		s, err = Open(t.Context(), options(dir))
		must(t, err)
		defer shut(t, s)
	}
	must(t, pair(s, t, "during"))
	must(t, pair(s, t, "after"))
	three(t, s, 0)
}

// The disk is pulled out: every command and every look is refused in plain words and the process lives; when the disk is
// back, it goes on where it was.
func TestPulledDisk(t *testing.T) {
	d := under(t)
	s := create(t)
	must(t, pair(s, t, "before"))
	d.failing(func(deed) error { return errPulled })
	for range 3 {
		err := pair(s, t, "during")
		wantFault(t, err, fault.Unusable, "not-recorded")
		if got := fault.Of(err).Sentence; got != "Not recorded: the disk did not take it." {
			t.Errorf("a command is told %q", got)
		}
		err = s.Read(t.Context(), func(v *View) error { _, err := v.RecordsSince("", 10); return err })
		wantFault(t, err, fault.Unusable, "record-unreadable")
		if f := fault.Of(err); !strings.Contains(f.Sentence, "disk") || f.Do == "" {
			t.Errorf("a reader is told %q %q", f.Sentence, f.Do)
		}
	}
	d.failing(nil)
	must(t, pair(s, t, "during"))
	must(t, pair(s, t, "after"))
	three(t, s, 0)
}

package store

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3"
)

// A stick fills up, is emptied, and is write-protected. Where a small file system may be mounted it is a real one;
// elsewhere what the system would say is judged.
func TestAStickThatIsFullOrProtected(t *testing.T) {
	for err, key := range map[error]string{
		syscall.ENOSPC: "copy-full", sqlite3.FULL: "copy-full", syscall.EROFS: "copy-read-only", os.ErrPermission: "copy-read-only", syscall.EIO: "copy-gone", os.ErrNotExist: "copy-gone",
	} {
		if f := copyFault("/media/stick", err); f.Key != key || f.Why == "" || f.Do == "" {
			t.Errorf("%v is said as %s", err, f.Key)
		}
	}
	stick := t.TempDir()
	if err := syscall.Mount("tmpfs", stick, "tmpfs", 0, "size=1m"); err != nil {
		t.Logf("no small file system may be mounted here: %v", err)
		return
	}
	t.Cleanup(func() { _ = syscall.Unmount(stick, syscall.MNT_DETACH) })
	s := createSealed(t)
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	c := copyTo(t, s, filepath.Join(stick, "copy"))
	caughtUp(t, c)
	ballast := filepath.Join(stick, "ballast")
	f, err := os.Create(ballast)
	must(t, err)
	for block := make([]byte, 4096); err == nil; {
		_, err = f.Write(block)
	}
	must(t, f.Close())
	for range 20 {
		write(t, s, Draft{Subject: jarRef("a"), Body: noted{make([]byte, 20_000)}})
	}
	broken(t, c, "copy-full")
	// The first few may still fit into the log as it lies there; the rest are counted at the next try.
	eventually(t, "it says what it lacks", func() bool { n := c.State().Behind; return n > 0 && n <= 20 })
	must(t, os.Remove(ballast))
	must(t, syscall.Mount("tmpfs", stick, "tmpfs", syscall.MS_REMOUNT, "size=8m"))
	caughtUp(t, c)
	c.Stop()
	r, err := Open(t.Context(), with(filepath.Join(stick, "copy"), aPassphrase))
	must(t, err)
	if p := problems(t, r); p != nil {
		t.Error(p)
	}
	mustRead(t, r, func(v *View) error {
		recs, err := v.Records(jarRef("a"))
		if len(recs) != 21 {
			t.Errorf("caught up, it holds %d of 21 entries", len(recs))
		}
		return err
	})
	shut(t, r)

	must(t, syscall.Mount("tmpfs", stick, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	c = copyTo(t, s, filepath.Join(stick, "copy"))
	write(t, s, Draft{Subject: jarRef("a"), Body: added{1}})
	eventually(t, "it says that it cannot be written", func() bool { return c.State().Fault != nil })
	if key := c.State().Fault.Key; key != "copy-read-only" && key != "copy-failed" && key != "folder-unusable" {
		t.Errorf("it says %s", key)
	}
	c.Stop()
}

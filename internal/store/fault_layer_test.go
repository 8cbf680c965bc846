package store

import (
	"errors"
	"path/filepath"
	"sync"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3/util/vfsutil"
	"github.com/ncruces/go-sqlite3/vfs"
	"github.com/ncruces/go-sqlite3/vfs/adiantum"
)

// disk stands between the record and the system's files. It writes down what reaches the disk, and fails when told to.
type disk struct {
	vfs.VFS
	mu     sync.Mutex
	record bool
	ops    []op
	fail   func(deed) error // nil lets everything pass
}

// deed is what is asked of the disk.
type deed int

const (
	readDeed deed = iota
	writeDeed
	syncDeed
	otherDeed // truncate, size, delete
)

// op is one thing that reached the disk, or a command that was answered in between.
type op struct {
	what     string // write, truncate, sync, delete, answered
	file     string
	off      int64
	data     []byte
	answered int
}

// under puts a disk below every record that this test opens.
func under(t *testing.T) *disk {
	t.Helper()
	d := &disk{VFS: vfs.Find("os")}
	vfs.Register("tried", d)
	vfs.Register(encrypting, adiantum.Wrap(d, nil))
	was := plain
	plain = "tried"
	t.Cleanup(func() {
		plain = was
		vfs.Unregister("tried")
		vfs.Register(encrypting, adiantum.Wrap(vfs.Find("os"), nil))
	})
	return d
}

func (d *disk) failing(f func(deed) error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.fail = f
}

// answered notes that a command was told that it is recorded.
func (d *disk) answered(n int) { d.did(op{what: "answered", answered: n}) }

func (d *disk) did(o op) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.record && o.file != "." { // a temporary file has no name
		d.ops = append(d.ops, o)
	}
}

func (d *disk) may(what deed) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.fail == nil {
		return nil
	}
	return d.fail(what)
}

func (d *disk) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	if err := d.may(otherDeed); err != nil {
		return nil, flags, err
	}
	f, flags, err := vfsutil.WrapOpenFilename(d.VFS, name, flags)
	if err != nil {
		return nil, flags, err
	}
	return &diskFile{File: f, d: d, name: filepath.Base(name.String())}, flags, nil
}

func (d *disk) Delete(name string, syncDir bool) error {
	if err := d.may(otherDeed); err != nil {
		return err
	}
	err := d.VFS.Delete(name, syncDir)
	if err == nil {
		d.did(op{what: "delete", file: filepath.Base(name)})
	}
	return err
}

type diskFile struct {
	vfs.File
	d    *disk
	name string
}

func (f *diskFile) ReadAt(p []byte, off int64) (int, error) {
	if err := f.d.may(readDeed); err != nil {
		return 0, err
	}
	return f.File.ReadAt(p, off)
}

func (f *diskFile) WriteAt(p []byte, off int64) (int, error) {
	if err := f.d.may(writeDeed); err != nil {
		return 0, err
	}
	n, err := f.File.WriteAt(p, off)
	if err == nil {
		f.d.did(op{what: "write", file: f.name, off: off, data: append([]byte(nil), p...)})
	}
	return n, err
}

func (f *diskFile) Truncate(size int64) error {
	if err := f.d.may(otherDeed); err != nil {
		return err
	}
	err := f.File.Truncate(size)
	if err == nil {
		f.d.did(op{what: "truncate", file: f.name, off: size})
	}
	return err
}

func (f *diskFile) Sync(flags vfs.SyncFlag) error {
	if err := f.d.may(syncDeed); err != nil {
		return err
	}
	err := f.File.Sync(flags)
	if err == nil {
		f.d.did(op{what: "sync", file: f.name})
	}
	return err
}

func (f *diskFile) Size() (int64, error) {
	if err := f.d.may(readDeed); err != nil {
		return 0, err
	}
	return f.File.Size()
}

func (f *diskFile) SharedMemory() vfs.SharedMemory { return vfsutil.WrapSharedMemory(f.File) }
func (f *diskFile) LockState() vfs.LockLevel       { return vfsutil.WrapLockState(f.File) }
func (f *diskFile) PersistWAL() bool               { return vfsutil.WrapPersistWAL(f.File) }
func (f *diskFile) SetPersistWAL(keep bool)        { vfsutil.WrapSetPersistWAL(f.File, keep) }
func (f *diskFile) HasMoved() (bool, error)        { return vfsutil.WrapHasMoved(f.File) }
func (f *diskFile) PowersafeOverwrite() bool       { return vfsutil.WrapPowersafeOverwrite(f.File) }

func (f *diskFile) SetPowersafeOverwrite(psow bool) { vfsutil.WrapSetPowersafeOverwrite(f.File, psow) }

var (
	_ vfs.VFSFilename      = (*disk)(nil)
	_ vfs.FileSharedMemory = (*diskFile)(nil)
)

var errPulled = errors.Join(errors.New("the disk is gone"), syscall.EIO)

package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// The files of a data folder.
const (
	dataFile = "fairstick.db"
	keysFile = "keys.json"
	lockFile = "fairstick.lock"
)

// appID marks a SQLite file as ours: "FSTK" in its header. schemaVersion counts the steps of the schema.
const (
	appID         = 0x4653544B
	schemaVersion = 1
)

func unusable(key, sentence, do string) *fault.Fault {
	return fault.New(fault.Unusable, key, sentence, "Nothing in the folder was changed.", do)
}

// Create makes an empty data folder and opens it. It refuses a folder that holds anything.
func Create(ctx context.Context, o Options) (*Store, error) {
	o = o.withDefaults()
	if err := os.MkdirAll(o.Dir, 0o700); err != nil {
		return nil, unusable("folder-unusable", "The data folder "+o.Dir+" cannot be made.", "Choose another folder.").Because(err)
	}
	held, err := os.ReadDir(o.Dir)
	if err != nil {
		return nil, unusable("folder-unusable", "The data folder "+o.Dir+" cannot be read.", "Choose another folder.").Because(err)
	}
	for _, f := range held {
		if f.Name() == dataFile {
			return nil, unusable("record-exists", "The folder "+o.Dir+" already holds a record.", "Open it, or choose an empty folder for a new one.")
		}
	}
	if len(held) > 0 {
		return nil, unusable("folder-not-empty", "The folder "+o.Dir+" holds other files.", "Choose an empty folder, or a name that does not exist yet.")
	}
	if err := o.fill(); err != nil {
		for _, name := range []string{dataFile, dataFile + "-wal", dataFile + "-shm", keysFile, lockFile} {
			_ = os.Remove(filepath.Join(o.Dir, name))
		}
		return nil, unusable("folder-unusable", "The record could not be made in "+o.Dir+".",
			"Check that the disk has space and that you may write there.").Because(err)
	}
	return Open(ctx, o)
}

// fill writes the database and then the keys, without which the folder does not count as a record.
func (o Options) fill() error {
	if err := os.Chmod(o.Dir, 0o700); err != nil {
		return err
	}
	for _, name := range []string{dataFile, lockFile} {
		f, err := os.OpenFile(filepath.Join(o.Dir, name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
	}
	file := newKeyFile()
	k, err := file.keys()
	if err != nil {
		return err
	}
	c, err := dial(filepath.Join(o.Dir, dataFile), readWrite)
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }() // a second time after success, which is harmless
	err = c.script(fmt.Sprintf("BEGIN IMMEDIATE; PRAGMA application_id = %d; PRAGMA user_version = %d;\n%s\n%s",
		appID, schemaVersion, schemaSQL, derivedSQL))
	if err != nil {
		return err
	}
	head := logbook.Head{Node: k.node}
	err = exec(c, `INSERT INTO node (node, public, seq, hash, signature) VALUES (?, ?, ?, ?, ?)`,
		k.node, []byte(k.public()), head.Seq, head.Hash[:], head.Sign(k.sign))
	if err != nil {
		return err
	}
	if err := noteDerived(c, o.Catalogue); err != nil {
		return err
	}
	if err := c.script(`COMMIT`); err != nil {
		return err
	}
	if err := c.close(); err != nil { // moves everything from the log into the file
		return err
	}
	return writeKeys(filepath.Join(o.Dir, keysFile), file)
}

// Open opens a data folder. It refuses, with a fault of kind Unusable and without touching anything, a folder that is
// missing, damaged, not ours, newer than this program, in use by another process, or without its keys. A store that is
// only read takes no lock and may look on while another process writes.
func Open(ctx context.Context, o Options) (*Store, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	o = o.withDefaults()
	path := filepath.Join(o.Dir, dataFile)
	if err := inspect(path); err != nil {
		return nil, err
	}
	k, err := readKeys(filepath.Join(o.Dir, keysFile))
	if err != nil {
		return nil, unusable("keys-unreadable", "The keys of the record in "+o.Dir+" cannot be read.",
			"Put back the file "+keysFile+" from your backup.").Because(err)
	}
	if info, err := os.Stat(filepath.Join(o.Dir, keysFile)); err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		o.Log.Warn("other users of this computer can read the keys of the record", "file", keysFile)
	}
	s := &Store{o: o, keys: k, states: newStates(), listeners: map[chan struct{}]bool{}}
	if !o.ReadOnly {
		if err := s.takeLock(); err != nil {
			return nil, err
		}
	}
	if err := s.open(path); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func (s *Store) takeLock() error {
	held, taken, err := lock(filepath.Join(s.o.Dir, lockFile))
	switch {
	case taken:
		return unusable("record-in-use", "The record in "+s.o.Dir+" is open in another Fairstick.",
			"Use the one that is running, or stop it first.").Because(err)
	case err != nil:
		return unusable("folder-unusable", "The record in "+s.o.Dir+" cannot be locked.", "Check that you may write in this folder.").Because(err)
	}
	s.lock = held
	return nil
}

func (s *Store) open(path string) error {
	spoilt := unusable("record-damaged", "The record in "+s.o.Dir+" is damaged.", "Look at it with `fairstick check`, and restore your last backup.")
	if !s.o.ReadOnly {
		if err := sound(path); err != nil {
			return spoilt.Because(err)
		}
	}
	s.readers = newReaders(path)
	if s.o.ReadOnly {
		return s.readers.with(context.Background(), func(c *conn) error {
			fits, err := derivedFits(c, s.o.Catalogue)
			switch {
			case err != nil && damaged(err):
				return spoilt.Because(err)
			case err != nil:
				return unusable("folder-unusable", "The record in "+s.o.Dir+" cannot be read.", "Check that you may read this folder.").Because(err)
			case !fits:
				return unusable("other-version", "The record in "+s.o.Dir+" was last opened by another version of Fairstick.", "Start this version on it once.")
			}
			return nil
		})
	}
	c, err := dial(path, readWrite)
	if err != nil {
		return unusable("folder-unusable", "The record in "+s.o.Dir+" cannot be opened.", "Check that you may write in this folder.").Because(err)
	}
	w := &writer{s: s, c: c, queue: make(chan *command), quit: make(chan struct{}), stopped: make(chan struct{})}
	if err := w.load(); err != nil {
		_ = c.close() // err is what matters
		var wrong *fault.Fault
		if errors.As(err, &wrong) {
			return err
		}
		return spoilt.Because(err)
	}
	if err := w.refresh(); err != nil {
		_ = c.close() // err is what matters
		return fmt.Errorf("store: making the tables again from the entries: %w", err)
	}
	s.writer = w
	go w.work()
	return nil
}

// inspect reads the header of the file alone: is it there, is it SQLite, is it ours, is it of an age that we know.
func inspect(path string) error {
	dir := filepath.Dir(path)
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return unusable("record-missing", "There is no record in "+dir+".", "Make one with `fairstick init`, or name the right folder.").Because(err)
	case err != nil:
		return unusable("folder-unusable", "The record in "+dir+" cannot be opened.", "Check that you may read this folder.").Because(err)
	}
	defer func() { _ = f.Close() }() // only read
	var head [100]byte               // https://www.sqlite.org/fileformat.html, section 1.3
	if _, err := io.ReadFull(f, head[:]); err != nil || string(head[:16]) != "SQLite format 3\x00" {
		return unusable("record-foreign", "The file "+dataFile+" in "+dir+" is not a record of Fairstick, or its beginning is damaged.",
			"Name the right folder, or restore your last backup.").Because(err)
	}
	if id := binary.BigEndian.Uint32(head[68:]); id != appID {
		return unusable("record-foreign", "The file "+dataFile+" in "+dir+" is a database of another program.", "Name the right folder.")
	}
	if v := binary.BigEndian.Uint32(head[60:]); v != schemaVersion {
		if v > schemaVersion {
			return unusable("record-newer", "The record in "+dir+" was made by a newer Fairstick.", "Install that version or a later one.")
		}
		return unusable("record-damaged", "The record in "+dir+" is damaged.", "Restore your last backup.")
	}
	return nil
}

// sound looks through the whole file for damage before anything is written to it. A file that was closed in order is read
// without touching it; one that was not is read together with its log.
func sound(path string) error {
	how := untouched
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		how = readOnly
	}
	c, err := dial(path, how)
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }() // only read
	said, err := all(c, func(r row) string { return r.text(0) }, `PRAGMA quick_check(1)`)
	if err != nil {
		return err
	}
	if len(said) != 1 || said[0] != "ok" {
		return fmt.Errorf("quick_check: %q", said)
	}
	return nil
}

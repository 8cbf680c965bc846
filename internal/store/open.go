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

// The files of a data folder. Of the two databases the keys file says which one is the record.
const (
	dataFile   = "fairstick.db"
	sealedFile = "fairstick.sealed"
	keysFile   = "keys.json"
	lockFile   = "fairstick.lock"
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
	k, err := o.newKeys()
	if err != nil {
		return nil, err
	}
	if err := o.fill(k); err != nil {
		name := filepath.Join(o.Dir, dataName(k.sealed()))
		for _, name := range []string{name, name + "-wal", name + "-shm", filepath.Join(o.Dir, keysFile), filepath.Join(o.Dir, lockFile)} {
			_ = os.Remove(name)
		}
		return nil, unusable("folder-unusable", "The record could not be made in "+o.Dir+".",
			"Check that the disk has space and that you may write there.").Because(err)
	}
	o.given = &k
	return Open(ctx, o)
}

// newKeys makes the keys of a new record, with the passphrase that is given.
func (o Options) newKeys() (keys, error) {
	if o.given != nil {
		return *o.given, nil
	}
	if o.Passphrase == nil {
		return newIdentity(nil, nil)
	}
	passphrase, err := o.Passphrase()
	if err != nil {
		return keys{}, err
	}
	if len(passphrase) == 0 {
		return newIdentity(nil, nil)
	}
	if err := logbook.CheckPassphrase(passphrase); err != nil {
		return keys{}, err
	}
	return newIdentity(nil, logbook.NewPassKey(passphrase))
}

// fill writes the database and then the keys, without which the folder does not count as a record.
func (o Options) fill(k keys) error {
	if err := os.Chmod(o.Dir, 0o700); err != nil && !o.alone { // a stick may know no owners
		return err
	}
	for _, name := range []string{dataName(k.sealed()), lockFile} {
		f, err := os.OpenFile(filepath.Join(o.Dir, name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
	}
	c, err := dial(k.data(o.Dir), o.writing(), k.File)
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }() // a second time after success, which is harmless
	err = c.script(fmt.Sprintf("BEGIN IMMEDIATE; PRAGMA application_id = %d; PRAGMA user_version = %d;\n%s\n%s",
		appID, schemaVersion, schemaSQL, derivedSQL))
	if err != nil {
		return err
	}
	if err := k.enter(c); err != nil {
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
	return writeKeys(filepath.Join(o.Dir, keysFile), k)
}

// enter adds a new laptop, with no entries yet, to those whose chains are held.
func (k keys) enter(c *conn) error {
	head := logbook.Head{Node: k.node}
	return exec(c, `INSERT INTO node (node, public, seq, hash, signature) VALUES (?, ?, ?, ?, ?)`,
		k.node, []byte(k.public()), head.Seq, head.Hash[:], head.Sign(k.sign))
}

func (o Options) writing() access {
	if o.alone {
		return alone
	}
	return readWrite
}

// Open opens a data folder. It refuses, with a fault of kind Unusable and without touching anything, a folder that is
// missing, damaged, not ours, newer than this program, in use by another process, or without its keys. A store that is
// only read takes no lock and may look on while another process writes. When the context ends first, nothing was changed.
func Open(ctx context.Context, o Options) (*Store, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	o = o.withDefaults()
	k, err := o.findKeys()
	if err != nil {
		return nil, err
	}
	if info, err := os.Stat(filepath.Join(o.Dir, keysFile)); err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 && !o.alone {
		o.Log.Warn("other users of this computer can read the keys of the record", "file", keysFile)
	}
	s := &Store{o: o, keys: k, states: newStates(), listeners: map[chan struct{}]bool{}, followers: map[chan struct{}]bool{}}
	if !o.ReadOnly {
		if err := s.takeLock(); err != nil {
			return nil, err
		}
	}
	if err := s.open(ctx, k.data(o.Dir)); err != nil {
		if ctx.Err() != nil {
			err = unusable("opening-stopped", "Opening the record in "+o.Dir+" was stopped.", "Start it again when there is time for it.").Because(ctx.Err())
		}
		return nil, errors.Join(err, s.Close())
	}
	if !o.ReadOnly {
		s.tidy()
	}
	return s, nil
}

// findKeys looks at the folder without touching it and gives the keys of the record in it.
func (o Options) findKeys() (keys, error) {
	unreadable := unusable("keys-unreadable", "The keys of the record in "+o.Dir+" cannot be read.", "Put back the file "+keysFile+" from your backup.")
	f, bad := readKeyFile(filepath.Join(o.Dir, keysFile))
	if bad == nil && f.Lock != nil {
		if err := inspectSealed(filepath.Join(o.Dir, sealedFile)); err != nil {
			return keys{}, err
		}
	} else if err := inspect(filepath.Join(o.Dir, dataFile)); err != nil {
		if _, sealed := os.Stat(filepath.Join(o.Dir, sealedFile)); bad != nil && sealed == nil {
			return keys{}, unreadable.Because(bad)
		}
		return keys{}, err
	}
	if bad != nil {
		return keys{}, unreadable.Because(bad)
	}
	if o.given != nil && o.given.node == f.Node {
		return *o.given, nil
	}
	k, err := f.open(o.Passphrase)
	var said *fault.Fault
	if err != nil && !errors.As(err, &said) && !errors.Is(err, context.Canceled) {
		return keys{}, unreadable.Because(err)
	}
	return k, err
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

func (s *Store) open(ctx context.Context, path string) error {
	spoilt := unusable("record-damaged", "The record in "+s.o.Dir+" is damaged.", "Look at it with `fairstick check`, and restore your last backup.")
	if !s.o.ReadOnly {
		if err := wholeBlocks(path, s.keys.File); err != nil {
			return unusable("folder-unusable", "The log of the record in "+s.o.Dir+" cannot be opened.", "Check that you may write in this folder.").Because(err)
		}
		if err := sound(ctx, path, s.keys.File, s.o.looking(path)); err != nil {
			return spoilt.Because(err)
		}
	}
	s.readers = newReaders(path, s.keys.File)
	if s.o.ReadOnly {
		return s.readers.with(context.Background(), func(c *conn) error {
			if err := s.known(c); err != nil {
				return err
			}
			fits, err := derivedFits(c, s.o.Catalogue)
			switch {
			case err != nil && busy(err):
				return unusable("record-in-use", "The record in "+s.o.Dir+" is being written by another Fairstick.", "Stop that one first, or wait until it is done.").Because(err)
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
	c, err := dial(path, s.o.writing(), s.keys.File)
	if err != nil {
		return unusable("folder-unusable", "The record in "+s.o.Dir+" cannot be opened.", "Check that you may write in this folder.").Because(err)
	}
	if s.o.Fleeting {
		if err := c.script(`PRAGMA synchronous = OFF`); err != nil {
			return errors.Join(err, c.close())
		}
	}
	w := &writer{s: s, c: c, queue: make(chan *command), quit: make(chan struct{}), stopped: make(chan struct{})}
	err = s.known(c)
	if err == nil {
		err = w.load()
	}
	if err != nil {
		_ = c.close() // err is what matters
		var wrong *fault.Fault
		if errors.As(err, &wrong) {
			return err
		}
		return spoilt.Because(err)
	}
	if err := w.refresh(ctx); err != nil {
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
	return aged(dir, int64(binary.BigEndian.Uint32(head[60:])))
}

func aged(dir string, v int64) error {
	switch {
	case v > schemaVersion:
		return unusable("record-newer", "The record in "+dir+" was made by a newer Fairstick.", "Install that version or a later one.")
	case v != schemaVersion:
		return unusable("record-damaged", "The record in "+dir+" is damaged.", "Restore your last backup.")
	}
	return nil
}

// inspectSealed looks at an encrypted database from outside: is it there, and is it made of whole blocks.
func inspectSealed(path string) error {
	dir := filepath.Dir(path)
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return unusable("record-missing", "There is no record in "+dir+", only the keys of one.", "Put back the file "+sealedFile+", or restore your last backup.").Because(err)
	case err != nil || !info.Mode().IsRegular():
		return unusable("folder-unusable", "The record in "+dir+" cannot be opened.", "Check that you may read this folder.").Because(err)
	case info.Size() == 0 || info.Size()%cipherBlock != 0 && !logged(path):
		return unusable("record-damaged", "The record in "+dir+" is damaged: a part of it is missing.", "Restore your last backup.")
	}
	return nil
}

// cipherBlock is the block in which the database is encrypted, in bytes.
const cipherBlock = 4096

// wholeBlocks cuts off a part of a block at the end of an encrypted file and of its log. Blocks are encrypted whole, so that a
// part of one cannot be read, and a power cut can leave one. Nothing that was answered is in it: a commit is answered when its
// blocks are in the log whole, and the file grows from a log that is kept until the file is on the disk.
func wholeBlocks(path string, key []byte) error {
	if key == nil || !logged(path) {
		return nil
	}
	for _, name := range []string{path, path + "-wal"} {
		info, err := os.Stat(name)
		if err != nil {
			return err
		}
		if part := info.Size() % cipherBlock; part != 0 {
			if err := os.Truncate(name, info.Size()-part); err != nil {
				return err
			}
		}
	}
	return nil
}

// logged reports whether a file has a log that may hold what the file lacks.
func logged(path string) bool {
	log, err := os.Stat(path + "-wal")
	return err == nil && log.Size() > 0
}

// known checks what inspect reads from a plain header, once an encrypted one can be read.
func (s *Store) known(c *conn) error {
	if !s.Sealed() {
		return nil
	}
	number := func(r row) int64 { return r.int(0) }
	id, _, err := one(c, number, `PRAGMA application_id`)
	if err != nil {
		return s.unreadable(err)
	}
	v, _, err := one(c, number, `PRAGMA user_version`)
	if err != nil {
		return s.unreadable(err)
	}
	if id != appID {
		return unusable("record-foreign", "The file "+sealedFile+" in "+s.o.Dir+" is a database of another program.", "Name the right folder.")
	}
	return aged(s.o.Dir, v)
}

func (s *Store) unreadable(err error) error {
	if busy(err) {
		return unusable("record-in-use", "The record in "+s.o.Dir+" is being written by another Fairstick.", "Stop that one first, or wait until it is done.").Because(err)
	}
	return unusable("record-damaged", "The record in "+s.o.Dir+" is damaged.", "Look at it with `fairstick check`, and restore your last backup.").Because(err)
}

// sound looks through the whole file for damage before anything is written to it. A file that was closed in order is read
// without touching it; one that was not is read together with its log. tick is called again and again meanwhile.
func sound(ctx context.Context, path string, key []byte, tick func()) error {
	how := untouched
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		how = readOnly
	}
	c, err := dial(path, how, key)
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }() // only read
	c.until(ticking{ctx, tick})
	said, err := all(c, func(r row) string { return r.text(0) }, `PRAGMA quick_check(1)`)
	c.until(context.Background())
	if err != nil {
		return err
	}
	if len(said) != 1 || said[0] != "ok" {
		return fmt.Errorf("quick_check: %q", said)
	}
	return nil
}

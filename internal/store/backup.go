package store

import (
	"context"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// Manifest says what a backup holds.
type Manifest struct {
	Form    int         `json:"form"` // 1
	Made    time.Time   `json:"made"`
	Node    string      `json:"node"` // the laptop that made it
	Chains  []ChainMark `json:"chains"`
	Entries int         `json:"entries"`
	Last    time.Time   `json:"last"` // when the newest entry was recorded; zero when there is none
	Bytes   int64       `json:"bytes"`
}

// ChainMark is the end of one laptop's chain.
type ChainMark struct {
	Node string `json:"node"`
	Seq  uint64 `json:"seq"`
	Hash string `json:"hash"` // SHA-256 in hex
}

// manifest is what stands in the backup: with what it takes to read the rest.
type manifest struct {
	Manifest
	Programme []byte `json:"programme"`
	File      []byte `json:"file"`
}

const maxManifest = 16 << 20

var errWrongBackupPassphrase = fault.New(fault.Denied, "passphrase-wrong", "This is not the passphrase of the backup.",
	"It is the one that the record had on the day of the backup.", "Try the passphrase of that day.").Field("passphrase", "Wrong passphrase.")

func marks(c *conn) ([]ChainMark, error) {
	ends, err := heads(c)
	out := make([]ChainMark, len(ends))
	for i, h := range ends {
		out[i] = ChainMark{h.Node, h.Seq, hex.EncodeToString(h.Hash[:])}
	}
	return out, err
}

// Newest gives the time by the laptop's clock at which the newest entry was recorded; zero when there is none.
func (s *Store) Newest(ctx context.Context) (at time.Time, err error) {
	err = s.readers.with(ctx, func(c *conn) error {
		at, err = lastRecorded(c)
		return err
	})
	return at, err
}

// lastRecorded gives the time of the newest entry; zero when there is none.
func lastRecorded(c *conn) (time.Time, error) {
	stamp, ok, err := one(c, func(r row) string { return r.text(0) }, `SELECT recorded FROM entry ORDER BY recorded DESC LIMIT 1`)
	if err != nil || !ok {
		return time.Time{}, err
	}
	return logbook.WallOf(stamp), nil
}

// lockOf gives the key that a backup of this record is locked with: a new passphrase when one is given, else the record's.
func (s *Store) lockOf(passphrase []byte) (*logbook.PassKey, error) {
	if len(passphrase) > 0 {
		if err := logbook.CheckPassphrase(passphrase); err != nil {
			return nil, err
		}
		return logbook.NewPassKey(passphrase), nil
	}
	if pass := s.pass(); pass != nil {
		return pass, nil
	}
	return nil, fault.New(fault.Invalid, "backup-passphrase", "A backup needs a passphrase, and this record has none.",
		"A backup is always encrypted: it is carried about.", "Give one for this backup, and keep it where you will find it.").
		Field("passphrase", "Type a passphrase for this backup.")
}

// writeBackup writes all of the record as it stands at one moment, while others write.
func (s *Store) writeBackup(ctx context.Context, to io.Writer, pass *logbook.PassKey) (m Manifest, err error) {
	dir, err := os.MkdirTemp("", "fairstick-backup-")
	if err != nil {
		return m, err
	}
	defer func() { _ = os.RemoveAll(dir) }() // encrypted with a key that is in the backup alone
	snapshot := filepath.Join(dir, sealedFile)
	full := manifest{Manifest: Manifest{Form: 1, Made: now(s.o), Node: s.keys.node}, Programme: s.keys.Programme, File: random(logbook.KeySize)}
	err = s.readers.with(ctx, func(c *conn) (err error) {
		if full.Chains, err = marks(c); err != nil {
			return err
		}
		if full.Entries, err = countEntries(c); err != nil {
			return err
		}
		if full.Last, err = lastRecorded(c); err != nil {
			return err
		}
		return c.copyTo(ctx, snapshot, full.File)
	})
	if err != nil {
		return m, err
	}
	f, err := os.Open(snapshot)
	if err != nil {
		return m, err
	}
	defer func() { _ = f.Close() }() // only read
	info, err := f.Stat()
	if err != nil {
		return m, err
	}
	full.Bytes = info.Size()
	head, err := json.Marshal(full)
	if err != nil {
		return m, err
	}
	box, err := newBox(to, pass)
	if err != nil {
		return m, err
	}
	if _, err = box.Write(append(binary.BigEndian.AppendUint32(nil, uint32(len(head))), head...)); err != nil {
		return m, err
	}
	if _, err = io.Copy(box, f); err != nil {
		return m, err
	}
	return full.Manifest, box.Close()
}

// Backup is one backup as it was made.
type Backup struct {
	Manifest Manifest
	Report   Report // of the check of what was read back from it
	Path     string
	Size     int64
}

// Backup writes the whole record into one new encrypted file while others write, reads it back, opens what it read and
// checks it. Only then does the file get its name. passphrase may be empty for an encrypted record: the record's own opens
// it then. A file that exists is never replaced.
func (s *Store) Backup(ctx context.Context, path string, passphrase []byte) (b Backup, err error) {
	pass, err := s.lockOf(passphrase)
	if err != nil {
		return b, err
	}
	if _, err := os.Lstat(path); err == nil {
		return b, fault.New(fault.Refused, "backup-exists", "The file "+path+" exists already.", "An older backup may be the one you need one day.", "Choose another name.")
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".fairstick-backup-*.tmp") // 0600, by its contract
	if err != nil {
		return b, notBackedUp(err)
	}
	defer func() {
		if err != nil {
			_ = tmp.Close() // err is what matters
			_ = os.Remove(tmp.Name())
		}
	}()
	if b.Manifest, err = s.writeBackup(ctx, tmp, pass); err != nil {
		return b, notBackedUp(err)
	}
	if err = errors.Join(tmp.Sync(), tmp.Close()); err != nil {
		return b, notBackedUp(err)
	}
	verified, err := s.verify(ctx, tmp.Name(), pass)
	if err != nil {
		if ctx.Err() != nil {
			return b, ctx.Err()
		}
		return b, fault.New(fault.Unusable, "backup-not-verified", "The backup was written, but it could not be read back whole.", "It was removed: a backup that cannot be read is none.",
			"Try another stick or folder.").Because(err)
	}
	b.Report, b.Size, b.Path = verified.Report, verified.Size, path
	if err = os.Rename(tmp.Name(), path); err != nil {
		return b, notBackedUp(err)
	}
	if err = syncDir(filepath.Dir(path)); err != nil {
		return b, notBackedUp(err)
	}
	s.noteBackup(b)
	return b, nil
}

func notBackedUp(err error) error {
	var said *fault.Fault
	switch {
	case errors.As(err, &said), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case full(err):
		return fault.New(fault.Unusable, "not-backed-up", "No backup was made: there is no space left.", "The record itself is as it was.",
			"Free some space there or here, and try again.").Because(err)
	}
	return fault.New(fault.Unusable, "not-backed-up", "No backup was made: the file could not be written.", "The record itself is as it was.",
		"Check that the folder exists and may be written to, or choose another.").Because(err)
}

// verify reads a backup back with a key that is known.
func (s *Store) verify(ctx context.Context, path string, pass *logbook.PassKey) (Backup, error) {
	return verifyBackup(ctx, s.o, path, func(l logbook.Lock) (*logbook.PassKey, error) {
		if l.Salt == nil || string(l.Salt) != string(pass.Lock().Salt) {
			return nil, errBroken
		}
		return pass, nil
	})
}

// VerifyBackup reads a backup to its end, opens what it holds in a place that is then removed, and checks it. o needs a
// Catalogue, and a Passphrase that is asked once.
func VerifyBackup(ctx context.Context, o Options, path string) (Backup, error) {
	return verifyBackup(ctx, o.withDefaults(), path, o.askKey)
}

func (o Options) askKey(l logbook.Lock) (*logbook.PassKey, error) {
	if o.Passphrase == nil {
		return nil, errLocked
	}
	passphrase, err := o.Passphrase()
	if err != nil {
		return nil, err
	}
	return l.Key(passphrase)
}

func verifyBackup(ctx context.Context, o Options, path string, key func(logbook.Lock) (*logbook.PassKey, error)) (b Backup, err error) {
	dir, err := os.MkdirTemp("", "fairstick-verify-")
	if err != nil {
		return b, err
	}
	defer func() { _ = os.RemoveAll(dir) }() // encrypted as the record would be
	into := Options{Dir: filepath.Join(dir, "record"), Catalogue: o.Catalogue, Now: o.Now, Log: o.Log}
	restored, m, err := restore(ctx, into, path, key)
	if err != nil {
		return b, err
	}
	report, err := restored.Check(ctx)
	if err = errors.Join(err, restored.Close()); err != nil {
		return b, err
	}
	info, err := os.Stat(path)
	if err != nil {
		return b, err
	}
	return Backup{Manifest: m, Report: report, Path: path, Size: info.Size()}, nil
}

const backupNote = "last-backup.json"

// LastBackup is when a backup of this record was last made and verified on this laptop.
type LastBackup struct {
	At      time.Time `json:"at"`
	Entries int       `json:"entries"`
}

// noteBackup leaves word for the page that asks. It is a file beside the record, since a backup may be made by a process
// that only looks on.
func (s *Store) noteBackup(b Backup) {
	data, err := json.Marshal(LastBackup{b.Manifest.Made.UTC(), b.Manifest.Entries})
	if err == nil {
		err = replace(filepath.Join(s.o.Dir, backupNote), append(data, '\n'))
	}
	if err != nil {
		s.o.Log.Warn("the time of the backup could not be noted", "error", err)
	}
}

// LastBackup gives the last backup; ok is false when none is known.
func (s *Store) LastBackup() (l LastBackup, ok bool) {
	data, err := os.ReadFile(filepath.Join(s.o.Dir, backupNote))
	return l, err == nil && json.Unmarshal(data, &l) == nil
}

package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// pending is the end of the name of a file that is not yet part of the record.
const pending = ".new"

// pass gives the key that the passphrase became; nil when there is none.
func (s *Store) pass() *logbook.PassKey {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.keys.pass
}

// Rewrap changes the passphrase of an encrypted record that is open: the keys file is sealed anew, the database stays. The
// old passphrase is asked once more. It refuses a wrong one ("passphrase-wrong") and a new one that is soon guessed.
func (s *Store) Rewrap(old, passphrase []byte) error {
	if s.writer == nil {
		return errReadOnly
	}
	if err := logbook.CheckPassphrase(passphrase); err != nil {
		return err
	}
	if err := s.Proves(old); err != nil {
		return err
	}
	pass := logbook.NewPassKey(passphrase)
	k := s.keys
	k.pass = pass
	if err := writeKeys(filepath.Join(s.o.Dir, keysFile), k); err != nil {
		return fault.New(fault.Unusable, "passphrase-not-set", "The passphrase was not changed: the disk did not take it.", "The old one still holds.",
			"Free some space on this laptop and try again.").Because(err)
	}
	s.mu.Lock()
	s.keys.pass = pass
	s.mu.Unlock()
	s.poke(s.followers) // a second copy is locked the same way
	return nil
}

// Proves refuses a passphrase that is not the one of this record.
func (s *Store) Proves(passphrase []byte) error {
	if !s.Sealed() {
		return fault.New(fault.Refused, "no-passphrase", "This record has no passphrase.", "", "Set one first.")
	}
	f, err := readKeyFile(filepath.Join(s.o.Dir, keysFile))
	if err != nil {
		return err
	}
	_, err = f.open(func() ([]byte, error) { return passphrase, nil })
	return err
}

// Encrypt gives a plain record its first passphrase and closes it: the database is copied into an encrypted one, compared,
// and takes the place of the plain one. Whenever this is cut short, the folder still opens, as the one or as the other.
func (s *Store) Encrypt(ctx context.Context, passphrase []byte) error {
	if s.writer == nil {
		return errReadOnly
	}
	if s.Sealed() {
		return fault.New(fault.Conflict, "already-encrypted", "The record has a passphrase already.", "", "Change it instead.")
	}
	if err := logbook.CheckPassphrase(passphrase); err != nil {
		return err
	}
	failed := error(errClosed)
	s.closing.Do(func() {
		s.writer.stop()
		failed = s.readers.close()
		if failed == nil {
			failed = s.encrypt(ctx, logbook.NewPassKey(passphrase))
		}
		failed = errors.Join(failed, s.writer.c.close(), s.lock.close())
	})
	var said *fault.Fault
	if failed != nil && !errors.As(failed, &said) {
		return fault.New(fault.Unusable, "passphrase-not-set", "The record could not be encrypted.", "It is as it was before.",
			"Free as much space on this laptop as the record takes, and try again.").Because(failed)
	}
	return failed
}

func (s *Store) encrypt(ctx context.Context, pass *logbook.PassKey) error {
	steps, err := s.encryption(ctx, pass)
	if err != nil {
		return err
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// encryption is the way from a plain record to an encrypted one, in steps after each of which the power may fail. The one
// that counts is the renaming of the keys file.
func (s *Store) encryption(ctx context.Context, pass *logbook.PassKey) ([]func() error, error) {
	k := s.keys
	k.File = random(logbook.KeySize)
	k.pass = pass
	if _, err := k.file(); err != nil {
		return nil, err
	}
	keysPath, database := filepath.Join(s.o.Dir, keysFile), filepath.Join(s.o.Dir, sealedFile)
	return []func() error{
		func() error {
			if err := s.writer.c.copyTo(ctx, database+pending, k.File); err != nil {
				return err
			}
			if err := os.Chmod(database+pending, 0o600); err != nil {
				return err
			}
			return syncFile(database + pending)
		},
		func() error { return alike(s.writer.c, database+pending, k.File) },
		func() error { return writeKeys(keysPath+pending, k) },
		func() error {
			if err := os.Rename(database+pending, database); err != nil {
				return err
			}
			return syncDir(s.o.Dir)
		},
		func() error {
			if err := os.Rename(keysPath+pending, keysPath); err != nil {
				return err
			}
			return syncDir(s.o.Dir)
		},
		func() error {
			if err := s.writer.c.close(); err != nil { // before the file goes
				return err
			}
			return removeDatabase(filepath.Join(s.o.Dir, dataFile))
		},
	}, nil
}

func removeDatabase(path string) error {
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		if err := os.Remove(name); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// heads reads where every chain ends.
func heads(c *conn) ([]logbook.Head, error) {
	return all(c, func(r row) logbook.Head { return logbook.Head{Node: r.text(0), Seq: uint64(r.int(1)), Hash: r.hash(2)} },
		`SELECT node, seq, hash FROM node ORDER BY node`)
}

func countEntries(c *conn) (int, error) {
	n, _, err := one(c, func(r row) int64 { return r.int(0) }, `SELECT count(*) FROM entry`)
	return int(n), err
}

// alike compares a copy with what it was copied from: whole, the same chains to the same ends, the same number of entries.
func alike(c *conn, path string, key []byte) error {
	if err := sound(context.Background(), path, key, func() {}); err != nil {
		return err
	}
	other, err := dial(path, untouched, key)
	if err != nil {
		return err
	}
	defer func() { _ = other.close() }() // only read
	want, err := heads(c)
	if err != nil {
		return err
	}
	got, err := heads(other)
	if err != nil {
		return err
	}
	n, err := countEntries(c)
	if err != nil {
		return err
	}
	m, err := countEntries(other)
	if err != nil {
		return err
	}
	if !slices.Equal(want, got) || n != m {
		return fmt.Errorf("store: the copy has %d entries of %d laptops, not %d of %d", m, len(got), n, len(want))
	}
	return nil
}

// tidy removes what an encryption that was cut short left behind. It is called on an open record, with the lock held, and
// removes a database only when the open one is known to be its whole successor, or it never became the record.
func (s *Store) tidy() {
	at := func(name string) string { return filepath.Join(s.o.Dir, name) }
	clean := func(err error) {
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			s.o.Log.Warn("something was left behind in the data folder", "error", err)
		}
	}
	_, unfinished := os.Stat(at(keysFile + pending))
	switch _, err := os.Stat(at(dataFile)); {
	case !s.Sealed() && unfinished == nil:
		clean(removeDatabase(at(sealedFile)))
	case s.Sealed() && err == nil:
		over, err := s.succeeds(at(dataFile))
		if err == nil && !over {
			err = errors.New("the folder holds a plain record beside the encrypted one, with entries that are not in it")
		}
		if err == nil {
			err = removeDatabase(at(dataFile))
		}
		clean(err)
	}
	clean(removeDatabase(at(sealedFile + pending)))
	clean(os.Remove(at(keysFile + pending)))
	old, _ := filepath.Glob(at(keysFile + "*.tmp"))
	for _, name := range old {
		clean(os.Remove(name))
	}
}

// succeeds reports whether every chain of a plain database is held here at least as far.
func (s *Store) succeeds(path string) (bool, error) {
	how := untouched
	if log, err := os.Stat(path + "-wal"); err == nil && log.Size() > 0 {
		how = readOnly
	}
	c, err := dial(path, how, nil)
	if err != nil {
		return false, err
	}
	defer func() { _ = c.close() }() // only read
	theirs, err := heads(c)
	if err != nil {
		return false, err
	}
	for _, h := range theirs {
		_, ok, err := one(s.writer.c, func(r row) int64 { return r.int(0) }, `SELECT 1 FROM entry WHERE node = ? AND seq = ? AND hash = ?
			UNION ALL SELECT 1 FROM node WHERE node = ? AND ? = 0 LIMIT 1`, h.Node, h.Seq, h.Hash[:], h.Node, h.Seq)
		if err != nil || !ok {
			return false, err
		}
	}
	return true, nil
}

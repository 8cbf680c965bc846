package store

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// Restore makes a new data folder from a backup and opens it. The folder must be empty or not be there yet. The laptop gets
// a name of its own in the record, so that it and the one that the backup came from may both go on; the programme key is
// the same. The record is encrypted, with the passphrase of the backup. Nothing is left behind when it is refused.
func Restore(ctx context.Context, o Options, path string) (*Store, Manifest, error) {
	o = o.withDefaults()
	return restore(ctx, o, path, o.askKey)
}

func restore(ctx context.Context, o Options, path string, key func(logbook.Lock) (*logbook.PassKey, error)) (s *Store, m Manifest, err error) {
	made, err := emptyFolder(o.Dir)
	if err != nil {
		return nil, m, err
	}
	o = o.withDefaults()
	defer func() {
		if err == nil {
			return
		}
		if made {
			_ = os.RemoveAll(o.Dir)
			return
		}
		for _, name := range []string{sealedFile + pending, sealedFile + pending + "-wal", sealedFile + pending + "-shm", sealedFile, keysFile, lockFile} {
			_ = os.Remove(filepath.Join(o.Dir, name))
		}
	}()
	k, m, err := unpack(ctx, o, path, key)
	if err != nil {
		return nil, m, refusedBackup(path, err)
	}
	o.given = &k
	s, err = Open(ctx, o)
	return s, m, err
}

// emptyFolder makes a folder, or takes one that holds nothing.
func emptyFolder(dir string) (made bool, err error) {
	unusable := func(sentence, do string, cause error) error {
		return fault.New(fault.Unusable, "folder-not-empty", sentence, "A backup is restored beside what you have, never over it.", do).Because(cause)
	}
	held, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return false, unusable("The data folder "+dir+" cannot be made.", "Choose another folder.", err)
		}
		return true, nil
	case err != nil:
		return false, unusable("The data folder "+dir+" cannot be read.", "Choose another folder.", err)
	case len(held) > 0:
		return false, unusable("The folder "+dir+" is not empty.", "Name an empty folder, or one that does not exist yet, with --data.", nil)
	}
	return false, os.Chmod(dir, 0o700)
}

func refusedBackup(path string, err error) error {
	refuse := func(key, sentence, do string) error {
		return fault.New(fault.Unusable, key, sentence, "Nothing was restored from it.", do).Because(err)
	}
	var said *fault.Fault
	switch {
	case errors.As(err, &said), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, os.ErrNotExist), errors.Is(err, os.ErrPermission):
		return refuse("backup-unreadable", "The file "+path+" cannot be read.", "Check its name, and that you may read it.")
	case errors.Is(err, errNotABox):
		return refuse("backup-foreign", "The file "+path+" is not a backup of Fairstick.", "Choose the file that `fairstick backup` wrote.")
	case errors.Is(err, errNewerBox):
		return refuse("backup-newer", "The backup "+path+" was made by a newer Fairstick.", "Install that version or a later one.")
	case full(err):
		return refuse("not-restored", "There is no space left for the record.", "Free some space on this laptop and try again.")
	}
	return refuse("backup-damaged", "The backup "+path+" is damaged: a part of it was changed or is missing.", "Use another backup, or copy this one from its stick again.")
}

// unpack writes the files of a data folder from a backup.
func unpack(ctx context.Context, o Options, path string, key func(logbook.Lock) (*logbook.PassKey, error)) (k keys, m Manifest, err error) {
	f, err := os.Open(path)
	if err != nil {
		return k, m, err
	}
	defer func() { _ = f.Close() }() // only read
	box, pass, err := openBox(f, key)
	if err != nil {
		return k, m, err
	}
	full, err := readManifest(box)
	if err != nil {
		return k, m, err
	}
	m = full.Manifest
	if k, err = newIdentity(full.Programme, pass); err != nil {
		return k, m, err
	}
	k.File = full.File
	database := filepath.Join(o.Dir, sealedFile)
	if err := pour(ctx, box, database+pending, m.Bytes); err != nil {
		return k, m, err
	}
	if err := settle(database+pending, k, m); err != nil {
		return k, m, err
	}
	if err := os.Rename(database+pending, database); err != nil {
		return k, m, err
	}
	if err := os.WriteFile(filepath.Join(o.Dir, lockFile), nil, 0o600); err != nil {
		return k, m, err
	}
	return k, m, writeKeys(filepath.Join(o.Dir, keysFile), k)
}

func readManifest(r io.Reader) (m manifest, err error) {
	var size [4]byte
	if _, err := io.ReadFull(r, size[:]); err != nil {
		return m, err
	}
	n := binary.BigEndian.Uint32(size[:])
	if n > maxManifest {
		return m, errBroken
	}
	data := make([]byte, n)
	if _, err := io.ReadFull(r, data); err != nil {
		return m, err
	}
	if err := json.Unmarshal(data, &m); err != nil {
		return m, err
	}
	switch {
	case m.Form > 1:
		return m, errNewerBox
	case m.Form != 1 || len(m.File) != logbook.KeySize || m.Bytes <= 0 || m.Bytes%cipherBlock != 0:
		return m, errBroken
	}
	return m, nil
}

// pour writes the database, which must be as long as was said, and nothing may follow it.
func pour(ctx context.Context, from io.Reader, path string, size int64) error {
	out, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	n, err := io.Copy(out, contextReader{ctx, from})
	if err == nil && n != size {
		err = errBroken
	}
	if err == nil {
		err = out.Sync()
	}
	return errors.Join(err, out.Close())
}

// contextReader ends when the context does.
type contextReader struct {
	ctx  context.Context
	from io.Reader
}

func (r contextReader) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.from.Read(p)
}

// settle compares the database with the manifest, forgets what belonged to the old laptop alone, and enters the new one.
func settle(path string, k keys, m Manifest) error {
	c, err := dial(path, alone, k.File)
	if err != nil {
		return err
	}
	defer func() { _ = c.close() }() // a second time after success, which is harmless
	got, err := marks(c)
	if err != nil {
		return err
	}
	n, err := countEntries(c)
	if err != nil {
		return err
	}
	if !slices.Equal(got, m.Chains) || n != m.Entries {
		return fmt.Errorf("store: the backup holds %d entries, not %d: %w", n, m.Entries, errBroken)
	}
	if err := c.script(`BEGIN IMMEDIATE; DELETE FROM local`); err != nil {
		return err
	}
	if err := k.enter(c); err != nil {
		return err
	}
	if err := c.script(`COMMIT`); err != nil {
		return err
	}
	return c.close() // moves everything from the log into the file
}

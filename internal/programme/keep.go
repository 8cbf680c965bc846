package programme

import (
	"context"
	"errors"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"fairstick/internal/fault"
	"fairstick/internal/logbook"
	"fairstick/internal/store"
)

// What the faces need to know about keeping the record.
type (
	CopyState  = store.CopyState
	LastBackup = store.LastBackup
	Backup     = store.Backup
	Manifest   = store.Manifest
)

// CheckPassphrase refuses a passphrase that is soon guessed.
func CheckPassphrase(passphrase []byte) error { return logbook.CheckPassphrase(passphrase) }

// House is what the program around the record does for it; nil parts cannot be done here.
type House struct {
	// Lock ends the pages and closes the record until somebody gives the passphrase.
	Lock func()
	// Encrypt closes the record, gives it its first passphrase and opens it again. It returns at once; Failed tells.
	Encrypt func(passphrase []byte)
	// Failed gives what the last Encrypt said; nil when it went well or there was none.
	Failed func() *fault.Fault
}

// keeping is how this record is kept while the program runs.
type keeping struct {
	house atomic.Pointer[House]
	used  atomic.Int64 // when somebody who is signed in last asked for something, in milliseconds since 1970

	mu   sync.Mutex
	copy *store.Copy
}

const (
	keepBucket  = "keep"
	keepIdle    = "idle"
	keepCopy    = "copy"
	recordIdle  = 15      // minutes, until a lead sets something else
	maximumIdle = 24 * 60 // minutes
)

// Move tells the record which house it lives in.
func (p *Programme) Move(h *House) {
	p.keep.house.Store(h)
	p.keep.touch(p.now())
}

// House is where the record lives: what of it is nil cannot be done here.
func (p *Programme) House() House {
	if h := p.keep.house.Load(); h != nil {
		return *h
	}
	return House{}
}

func (k *keeping) touch(now time.Time) { k.used.Store(now.UnixMilli()) }

// Sealed reports whether the record is encrypted.
func (p *Programme) Sealed() bool { return p.store.Sealed() }

// RecordIdle gives after how many minutes without use the record locks itself; 0 means never.
func (p *Programme) RecordIdle(ctx context.Context) (int, error) {
	raw, ok, err := p.store.Local(keepBucket).Get(ctx, keepIdle)
	if err != nil || !ok {
		return recordIdle, err
	}
	n, err := strconv.Atoi(string(raw))
	if err != nil || n < 0 || n > maximumIdle {
		return recordIdle, nil
	}
	return n, nil
}

// SetRecordIdle sets after how many minutes without use the record locks itself; 0 means never.
func (p *Programme) SetRecordIdle(ctx context.Context, by Actor, minutes int) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	if minutes < 0 || minutes > maximumIdle {
		return fault.BadField("idle", "The record can lock after 1 to %d minutes; 0 means never.", maximumIdle)
	}
	return p.store.Local(keepBucket).Put(ctx, keepIdle, strconv.AppendInt(nil, int64(minutes), 10))
}

// LockIsDue reports whether the record should lock itself now: it is encrypted, nobody has used it for the time that was
// set, and no event is open.
func (p *Programme) LockIsDue(ctx context.Context) (bool, error) {
	if !p.Sealed() || p.House().Lock == nil {
		return false, nil
	}
	minutes, err := p.RecordIdle(ctx)
	if err != nil || minutes == 0 {
		return false, err
	}
	if p.now().Sub(time.UnixMilli(p.keep.used.Load())) < time.Duration(minutes)*time.Minute {
		return false, nil
	}
	open, err := p.anyOpen(ctx)
	return err == nil && !open, err
}

// LockNow locks the record at a lead's word.
func (p *Programme) LockNow(ctx context.Context, by Actor) error {
	if _, err := p.lead(ctx, by); err != nil {
		return err
	}
	h := p.House()
	if !p.Sealed() || h.Lock == nil {
		return fault.New(fault.Refused, "no-passphrase", "The record cannot be locked.", "It has no passphrase that could open it again.", "Set a passphrase first.")
	}
	h.Lock()
	return nil
}

// SetPassphrase gives the record its first passphrase or changes it; old is asked only for a change. At a first one the
// record is closed and opened again by the house; without a house it stays closed.
func (p *Programme) SetPassphrase(ctx context.Context, by Actor, old, passphrase []byte) error {
	if by.Person != "" {
		if _, err := p.lead(ctx, by); err != nil {
			return err
		}
	}
	if err := CheckPassphrase(passphrase); err != nil {
		return err
	}
	if p.Sealed() {
		return p.store.Rewrap(old, passphrase)
	}
	if h := p.House(); h.Encrypt != nil {
		h.Encrypt(passphrase)
		return nil
	}
	if by.Person != "" {
		return fault.New(fault.Refused, "not-here", "This record cannot be encrypted from this page.", "", "Stop Fairstick and use the command fairstick passphrase.")
	}
	p.StopCopy()
	return p.store.Encrypt(ctx, passphrase)
}

// Backup writes the whole record into one encrypted file and reads it back. passphrase is needed for a plain record.
func (p *Programme) Backup(ctx context.Context, path string, passphrase []byte) (Backup, error) {
	return p.store.Backup(ctx, path, passphrase)
}

// LastBackup gives the last backup that was made on this laptop; ok is false when none is known.
func (p *Programme) LastBackup() (l LastBackup, ok bool) { return p.store.LastBackup() }

// CopyState says how the second copy stands; its Dir is empty when none is kept.
func (p *Programme) CopyState() CopyState {
	p.keep.mu.Lock()
	defer p.keep.mu.Unlock()
	if p.keep.copy == nil {
		return CopyState{}
	}
	return p.keep.copy.State()
}

// SetCopy keeps a second copy in a folder from now on, also after the next start. again begins a new copy where the one of
// this laptop is missing. An empty folder ends the copying; what is in the old one stays there.
func (p *Programme) SetCopy(ctx context.Context, by Actor, dir string, again bool) error {
	if by.Person != "" {
		if _, err := p.lead(ctx, by); err != nil {
			return err
		}
	}
	dir = strings.TrimSpace(dir)
	if dir != "" && by.Person != "" && !filepath.IsAbs(dir) {
		return fault.BadField("copy", "Write the whole path of the folder, for example %s.", examplePath())
	}
	if dir == "" {
		p.StopCopy()
		return p.store.Local(keepBucket).Delete(ctx, keepCopy)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if err := p.copyInto(dir, again); err != nil {
		return err
	}
	return p.store.Local(keepBucket).Put(ctx, keepCopy, []byte(dir))
}

func examplePath() string {
	if filepath.Separator == '\\' {
		return `E:\fairstick`
	}
	return "/media/stick/fairstick"
}

// ResumeCopy goes on with the second copy that was set before the last start.
func (p *Programme) ResumeCopy(ctx context.Context) error {
	raw, ok, err := p.store.Local(keepBucket).Get(ctx, keepCopy)
	if err != nil || !ok {
		return err
	}
	return p.copyInto(string(raw), false)
}

func (p *Programme) copyInto(dir string, again bool) error {
	p.keep.mu.Lock()
	defer p.keep.mu.Unlock()
	if p.keep.copy != nil && p.keep.copy.State().Dir == dir && !again {
		return nil
	}
	if p.keep.copy != nil {
		p.keep.copy.Stop()
		p.keep.copy = nil
	}
	c, err := p.store.Copy(dir, again)
	if err != nil {
		return err
	}
	p.keep.copy = c
	return nil
}

// StopCopy ends the copying until the next start. It waits a few seconds at most.
func (p *Programme) StopCopy() {
	p.keep.mu.Lock()
	defer p.keep.mu.Unlock()
	if p.keep.copy != nil {
		p.keep.copy.Stop()
		p.keep.copy = nil
	}
}

// IsLocked reports whether an error says that the record cannot be opened without its passphrase.
func IsLocked(err error) bool { return fault.Is(err, "record-locked") }

// IsWrongPassphrase reports whether an error says that the passphrase is another one.
func IsWrongPassphrase(err error) bool {
	var f *fault.Fault
	return errors.As(err, &f) && f.Key == "passphrase-wrong"
}

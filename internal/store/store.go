// Package store keeps the logbook and the tables derived from it in one SQLite file.
//
// Everything that happens comes in as a command, a function that looks at states and appends facts. One goroutine takes
// the commands; those that wait are put into one transaction with a savepoint each, so that a disk that takes a
// thousand commits a second takes many thousand commands, and one refusal harms no other. A command is answered only after
// its commit has reached the disk. Readers look at a snapshot and never wait.
//
// The entries are the truth. A state is the fold of its entries; its row is kept in the same transaction and can always be
// made again: Check does, and compares.
package store

import (
	"context"
	_ "embed"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
)

//go:embed schema.sql
var schemaSQL string

//go:embed derived.sql
var derivedSQL string

// Options says which folder and how to read what is in it.
type Options struct {
	Dir       string
	Catalogue *fact.Catalogue
	Now       func() time.Time // nil means time.Now
	Log       *slog.Logger     // nil means no log
	ReadOnly  bool             // take no lock, write nothing; may look on while a server runs

	// Fleeting says that the record is thrown away in any case, as that of an invented day: commits do not wait for the disk,
	// and what was answered last may be lost when the computer stops at once.
	Fleeting bool

	// Passphrase is asked once by Open when the record is encrypted; nil refuses such a record ("record-locked"). Create
	// asks it too: with an answer that is not empty the new record is encrypted.
	Passphrase func() ([]byte, error)

	// Slow is told in a sentence, about once a second, what Open is doing and how far it is, once that has taken a while; nil tells nobody.
	Slow func(sentence string)

	given *keys // opens with these keys instead of asking
	alone bool  // share the file with no other connection, see access
}

func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	return o
}

// Store is an open data folder. It is safe for use by several goroutines.
type Store struct {
	o       Options
	keys    keys
	lock    *conn
	writer  *writer // nil when the store is only read
	readers *readers
	states  *states
	closing sync.Once
	version atomic.Uint64
	remade  bool // the tables were made again when it was opened

	mu        sync.Mutex
	listeners map[chan struct{}]bool
	followers map[chan struct{}]bool // poked by what is no fact too
}

// Close waits for the commands and readers at work and lets the folder go. Closing twice is harmless.
func (s *Store) Close() (err error) {
	s.closing.Do(func() {
		if s.writer != nil {
			s.writer.stop()
		}
		if s.readers != nil {
			err = s.readers.close()
		}
		if s.writer != nil { // last, so that it moves the log into the file
			err = errors.Join(err, s.writer.c.close())
		}
		if s.lock != nil {
			err = errors.Join(err, s.lock.close())
		}
	})
	return err
}

// Remade reports whether the tables were made again from the entries when the store was opened, so that nothing is kept of any count.
func (s *Store) Remade() bool { return s.remade }

// Sealed reports whether the record is encrypted.
func (s *Store) Sealed() bool { return len(s.keys.File) > 0 }

// Dir is the data folder.
func (s *Store) Dir() string { return s.o.Dir }

// Version counts the durable commits that added facts since the store was opened: while it stays, a reader sees the same.
// A store that is only read stays at 0.
func (s *Store) Version() uint64 { return s.version.Load() }

// Node is the name of this laptop in the record.
func (s *Store) Node() string { return s.keys.node }

var errClosed = fault.New(fault.Unusable, "record-closed", "Fairstick is stopping.", "What you entered is not in the record.",
	"Start it again, then enter it again.")

var errReadOnly = fault.New(fault.Refused, "read-only", "This record is open for reading only.", "", "Open it without reading only.")

// Write runs a command. It returns after the facts that the command appended are durable, or with the error for which
// nothing of it was kept: what do returned, a fault "not-recorded" when the disk failed, an Internal fault when do
// panicked, or the context's error when it ended before the command began. do runs on the writer's goroutine and must
// not call Write.
func (s *Store) Write(ctx context.Context, do func(*Tx) error) error {
	if s.writer == nil {
		return errReadOnly
	}
	cmd := &command{ctx: ctx, do: do, done: make(chan error, 1)}
	select {
	case s.writer.queue <- cmd:
		return <-cmd.done
	case <-ctx.Done():
		return ctx.Err()
	case <-s.writer.quit:
		return errClosed
	}
}

// Changes gives a channel that is poked after each durable commit that added facts; pokes that nobody took yet are one.
// cancel ends it. A store that is only read is never poked.
func (s *Store) Changes() (ch <-chan struct{}, cancel func()) { return s.listen(s.listeners) }

// Poke tells everybody who listens to Changes to look again, although no fact was added.
func (s *Store) Poke() { s.poke(s.listeners) }

// follow is poked as Changes is, and after a key was destroyed too.
func (s *Store) follow() (ch <-chan struct{}, cancel func()) { return s.listen(s.followers) }

func (s *Store) listen(all map[chan struct{}]bool) (ch <-chan struct{}, cancel func()) {
	c := make(chan struct{}, 1)
	s.mu.Lock()
	defer s.mu.Unlock()
	all[c] = true
	return c, func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(all, c)
	}
}

func (s *Store) poke(all map[chan struct{}]bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for c := range all {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

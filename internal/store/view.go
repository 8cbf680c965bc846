package store

import (
	"context"
	"crypto/ed25519"
	"errors"
	"runtime"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// readers is a pool of connections that only read. A connection is made when it is first needed.
type readers struct {
	path  string
	key   []byte     // nil when the file is plain
	slots chan *conn // as many as readers may be at work; nil stands for a connection not made yet
}

func newReaders(path string, key []byte) *readers {
	r := &readers{path: path, key: key, slots: make(chan *conn, max(4, 2*runtime.GOMAXPROCS(0)))}
	for range cap(r.slots) {
		r.slots <- nil
	}
	return r
}

// with lends a connection in a read transaction.
func (r *readers) with(ctx context.Context, do func(*conn) error) (err error) {
	defer func() { err = unreadable(err) }()
	var c *conn
	var ok bool
	select {
	case c, ok = <-r.slots:
		if !ok {
			return errClosed
		}
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { r.slots <- c }()
	if c == nil {
		var err error
		if c, err = dial(r.path, readOnly, r.key); err != nil {
			c = nil
			return err
		}
	}
	if err := exec(c, `BEGIN`); err != nil {
		return err
	}
	c.until(ctx)
	defer func() {
		c.until(context.Background())
		_ = exec(c, `ROLLBACK`) // nothing was written; a failed read may have ended it already
	}()
	return stopped(ctx, do(c))
}

// stopped says that the caller went away rather than that the database was interrupted.
func stopped(ctx context.Context, err error) error {
	var f *fault.Fault
	if err != nil && ctx.Err() != nil && !errors.As(err, &f) {
		return ctx.Err()
	}
	return err
}

// close waits for the readers at work.
func (r *readers) close() error {
	var first error
	for range cap(r.slots) {
		if c := <-r.slots; c != nil {
			if err := c.close(); err != nil && first == nil {
				first = err
			}
		}
	}
	close(r.slots)
	return first
}

// View is one consistent snapshot of the record. It is good until the function it was given to returns, on its goroutine.
type View struct {
	s *Store
	c *conn // nil once it is over
}

// Read shows a snapshot: every command that was answered before is in it, none that is committed later. It never waits
// for the writer, and ends early when the context does.
func (s *Store) Read(ctx context.Context, do func(*View) error) error {
	return s.readers.with(ctx, func(c *conn) error {
		v := &View{s: s, c: c}
		defer func() { v.c = nil }()
		return do(v)
	})
}

func (v *View) known(ref fact.Ref, arrived int64) (*held, bool) { return v.s.states.get(ref, arrived) }

// learn keeps a decoded state for other readers, who need no more of it than that.
func (v *View) learn(h *held) {
	h.json = nil
	v.s.states.put(h)
}

// list reads states in the order of a query over heldColumns. States that are known need not be decoded again.
func list(
	c *conn, cat *fact.Catalogue, known func(fact.Ref, int64) (*held, bool), learn func(*held), sql string, args ...any,
) ([]fact.State, error) {
	var out []fact.State
	err := each(c, func(r row) error {
		ref, arrived := fact.Ref{Kind: r.text(0), ID: r.text(1)}, r.int(5)
		h, ok := known(ref, arrived)
		if !ok {
			h = heldRow(r)
			var err error
			if h.state, err = decode(cat, ref, h.json); err != nil {
				return err
			}
			learn(h)
		}
		out = append(out, h.state)
		return nil
	}, sql, args...)
	return out, err
}

func (v *View) list(sql string, args ...any) ([]fact.State, error) {
	if v.c == nil {
		return nil, errOver
	}
	return list(v.c, v.s.o.Catalogue, v.known, v.learn, sql, args...)
}

// State gives a subject; ok is false when it has no facts. The caller must not change it.
func (v *View) State(ref fact.Ref) (state fact.State, ok bool, err error) {
	found, err := v.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? AND id = ?`, ref.Kind, ref.ID)
	if err != nil || len(found) == 0 {
		return nil, false, err
	}
	return found[0], true, nil
}

// Children gives the subjects of a kind whose state names this parent, in the order of their labels.
func (v *View) Children(kind, parent string) ([]fact.State, error) {
	return v.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? AND parent = ? ORDER BY label, id`, kind, parent)
}

// All gives every subject of a kind in the order of their labels.
func (v *View) All(kind string) ([]fact.State, error) {
	return v.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? ORDER BY label, id`, kind)
}

// LastMentions gives for every value that subjects of a kind mention under a name when it was mentioned last.
func (v *View) LastMentions(kind, name string) (map[string]time.Time, error) {
	if v.c == nil {
		return nil, errOver
	}
	return lastMentions(v.c, kind, name)
}

// HashOf gives the link of the chain under an entry, by the entry's id; ok is false when there is no such entry.
func (v *View) HashOf(id string) (hash [32]byte, ok bool, err error) {
	if v.c == nil {
		return hash, false, errOver
	}
	return one(v.c, func(r row) [32]byte { return r.hash(0) }, `SELECT hash FROM entry WHERE id = ?`, id)
}

// Records gives every fact about a subject, corrections too, in the order of folding. A kind that this program does not
// know comes as logbook.Unread.
func (v *View) Records(ref fact.Ref) ([]fact.Record, error) {
	if v.c == nil {
		return nil, errOver
	}
	recs, _, err := records(v.c, v.s.o.Catalogue, ref)
	return recs, err
}

// RecordsSince gives at most limit facts whose Recorded comes after this one, in the order of folding; an empty one means
// from the beginning.
func (v *View) RecordsSince(recorded string, limit int) ([]fact.Record, error) {
	if v.c == nil {
		return nil, errOver
	}
	rows, err := all(v.c, arrivedRow, `SELECT arrived, bytes FROM entry WHERE recorded > ? ORDER BY recorded, node, seq LIMIT ?`, recorded, max(limit, 0))
	if err != nil {
		return nil, err
	}
	out := make([]fact.Record, 0, len(rows))
	for _, r := range rows {
		e, err := logbook.Decode(r.bytes)
		if err != nil {
			return nil, err
		}
		out = append(out, readRecord(v.s.o.Catalogue, e))
	}
	return out, nil
}

// Open reads personal data that Seal sealed. It refuses as Missing when the subject's details were erased, and with
// logbook.ErrUnsealed when the bytes were not sealed for this subject.
func (v *View) Open(ref fact.Ref, sealed []byte) ([]byte, error) {
	if v.c == nil {
		return nil, errOver
	}
	key, _, err := subjectKey(v.c, ref)
	switch {
	case err != nil:
		return nil, err
	case key == nil:
		return nil, errErased
	}
	return v.s.keys.keyring.Open(key, ref, sealed)
}

// HasKey reports whether the personal data of a subject, if there is any, can still be read.
func (v *View) HasKey(ref fact.Ref) (bool, error) {
	if v.c == nil {
		return false, errOver
	}
	key, _, err := subjectKey(v.c, ref)
	return key != nil, err
}

// Run gives what this record holds of a laptop's chain after a number, under the signature of its end, for Absorb on
// another laptop. A laptop that is not known here is Missing.
func (v *View) Run(node string, after uint64) (logbook.Run, error) {
	if v.c == nil {
		return logbook.Run{}, errOver
	}
	run, ok, err := one(v.c, func(r row) logbook.Run {
		return logbook.Run{Node: node, Public: ed25519.PublicKey(r.blob(0)), Signature: r.blob(1)}
	}, `SELECT public, signature FROM node WHERE node = ?`, node)
	if err != nil {
		return run, err
	}
	if !ok {
		return run, fault.New(fault.Missing, "laptop-unknown", "There is no laptop "+node+" in this record.", "", "")
	}
	run.Entries, err = all(v.c, func(r row) []byte { return r.blob(0) }, `SELECT bytes FROM entry WHERE node = ? AND seq > ? ORDER BY seq`, node, after)
	return run, err
}

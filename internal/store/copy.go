package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// Copy keeps a second data folder true to this record while it is open: a stick or another disk that can be served when
// the laptop dies. It works on its own goroutine and on its own connection, so that a slow, full or missing stick delays
// nobody; it tries again until the folder is back, and then catches up. The folder is encrypted as the record is, has a
// name of its own in it, and the same programme key. Entries are taken in as from any other laptop, checked.
type Copy struct {
	from *Store
	dir  string
	quit context.CancelFunc
	done chan struct{}

	mu    sync.Mutex
	state CopyState

	// Of the goroutine alone.
	to      *Store
	file    os.FileInfo // of its database when it was opened
	had     uint64      // entries that it held when it last answered
	refresh bool        // begin a new copy where one of ours is missing
}

// CopyState says how a second copy stands.
type CopyState struct {
	Dir    string       // empty when no copy is kept
	Whole  time.Time    // when it last held everything; zero while it never has
	Behind int          // entries that it lacks, as far as is known
	Fault  *fault.Fault // why it cannot be written now; nil while it can
	Since  time.Time    // since when it cannot
}

// How often the copy is written: changes are gathered for a moment, and a folder that failed is tried again.
const (
	copyPause = 250 * time.Millisecond
	copyAgain = 3 * time.Second
	copyEnd   = 5 * time.Second // how long the end of the program waits for a stick that hangs
)

// copyBucket keeps the keys of the copies that this laptop has made, by folder, so that they can be opened and locked anew
// when the passphrase has changed.
const copyBucket = "copy"

type copyKeys struct {
	Node string `json:"node"`
	Made bool   `json:"made"` // the folder was filled; before that, one that is empty is no loss
	secrets
}

// Copy begins to keep a second copy in a folder. A folder that this laptop has not copied to before must be empty or not
// be there yet; one where its copy is missing is not filled anew unless again is set, since a stick that is not plugged in
// looks just like that.
func (s *Store) Copy(dir string, again bool) (*Copy, error) {
	if s.writer == nil {
		return nil, errReadOnly
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	own, err := filepath.Abs(s.o.Dir)
	if err != nil {
		return nil, err
	}
	if rel, err := filepath.Rel(own, dir); err == nil && (rel == "." || filepath.IsLocal(rel)) {
		return nil, fault.New(fault.Invalid, "copy-inside", "The second copy cannot lie inside the record's own folder.", "It would be lost together with it.",
			"Choose a stick or another disk.").Field("copy", "Choose a folder somewhere else.")
	}
	ctx, quit := context.WithCancel(context.Background())
	c := &Copy{from: s, dir: dir, quit: quit, done: make(chan struct{}), refresh: again, state: CopyState{Dir: dir}}
	go c.work(ctx)
	return c, nil
}

// State says how the copy stands. It never waits for the folder.
func (c *Copy) State() CopyState {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.state
}

// Stop ends the copying; a folder that hangs is not waited for longer than a few seconds.
func (c *Copy) Stop() {
	c.quit()
	select {
	case <-c.done:
	case <-time.After(copyEnd):
		c.from.o.Log.Warn("the second copy hangs; it is left as it is", "folder", c.dir)
	}
}

func (c *Copy) work(ctx context.Context) {
	changes, cancel := c.from.follow()
	defer cancel()
	defer close(c.done)
	defer c.shut()
	for {
		err := c.sync(ctx)
		if ctx.Err() != nil {
			return
		}
		wait := copyPause
		if err != nil {
			c.failed(err)
			wait = copyAgain
		}
		select { // gather what comes in quick succession, or let the stick come back
		case <-time.After(wait):
		case <-ctx.Done():
			return
		}
		if err != nil {
			continue
		}
		select {
		case <-changes:
		case <-time.After(copyAgain): // notices a stick that was pulled while nothing happens
		case <-ctx.Done():
			return
		}
	}
}

func (c *Copy) shut() {
	if c.to != nil {
		if err := c.to.Close(); err != nil {
			c.from.o.Log.Debug("the second copy was not closed in order", "error", err)
		}
		c.to = nil
	}
}

func (c *Copy) failed(err error) {
	c.shut()
	f := copyFault(c.dir, err)
	behind := c.behind()
	c.from.o.Log.Warn("the second copy is not being written", "folder", c.dir, "error", err)
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.state.Fault == nil {
		c.state.Since = now(c.from.o)
	}
	c.state.Fault, c.state.Behind = f, behind
}

// behind counts what the record holds beyond what the copy last did.
func (c *Copy) behind() int {
	var n uint64
	err := c.from.readers.with(context.Background(), func(conn *conn) error {
		ours, err := heads(conn)
		n = entriesIn(ours)
		return err
	})
	if err != nil || n < c.had {
		return 0
	}
	return int(n - c.had)
}

func entriesIn(ends []logbook.Head) (n uint64) {
	for _, h := range ends {
		n += h.Seq
	}
	return n
}

func copyFault(dir string, err error) *fault.Fault {
	cannot := func(key, sentence, do string) *fault.Fault {
		return fault.New(fault.Unusable, key, sentence, "The record itself is safe on this laptop; it has no second copy until then.", do).Because(err)
	}
	var said *fault.Fault
	isFault := errors.As(err, &said)
	switch {
	case full(err):
		return cannot("copy-full", "The second copy is not being written: there is no space left in "+dir+".", "Free some space there, or choose another folder.")
	case errors.Is(err, os.ErrNotExist), errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENODEV):
		return cannot("copy-gone", "The second copy is not being written: "+dir+" is not there.", "Put the stick back in. It is caught up by itself.")
	case errors.Is(err, os.ErrPermission), errors.Is(err, syscall.EROFS):
		return cannot("copy-read-only", "The second copy is not being written: "+dir+" cannot be written to.", "Take the write protection off, or choose another folder.")
	case isFault && said.Key == "record-in-use":
		return cannot("copy-in-use", "The second copy is not being written: another Fairstick has it open.", "Stop that one, or choose another folder.")
	case isFault && said.Kind == fault.Unusable && said.Key != "not-recorded":
		return cannot(said.Key, "The second copy is not being written. "+said.Sentence, "Choose an empty folder for a new copy.")
	}
	return cannot("copy-failed", "The second copy is not being written: "+dir+" does not take it.", "Look at the stick; put it back in, or choose another folder.")
}

// sync brings the folder up to where the record is now.
func (c *Copy) sync(ctx context.Context) error {
	if c.to != nil {
		// A folder that was pulled out may still take writes into the void, or be another one by now.
		file, err := os.Stat(c.to.keys.data(c.dir))
		if err != nil {
			return err
		}
		if !os.SameFile(file, c.file) || c.to.pass() != c.from.pass() {
			c.shut() // it came back, or the passphrase has changed: open it, and lock it, anew
		}
	}
	if c.to == nil {
		if err := c.open(ctx); err != nil {
			return err
		}
		var err error
		if c.file, err = os.Stat(c.to.keys.data(c.dir)); err != nil {
			return err
		}
	}
	var theirs []logbook.Head
	var have keyCount
	if err := c.to.Write(ctx, func(tx *Tx) (err error) {
		if theirs, err = heads(tx.w.c); err == nil {
			have, err = countKeys(tx.w.c)
		}
		return tx.try(err)
	}); err != nil {
		return beneath(err)
	}
	c.had = entriesIn(theirs)
	news, err := c.news(ctx, theirs, have)
	if err != nil {
		return err
	}
	c.mu.Lock()
	c.state.Behind = 0
	for _, run := range news.runs {
		c.state.Behind += len(run.Entries)
	}
	c.mu.Unlock()
	if len(news.runs) > 0 || len(news.keys) > 0 {
		if err := c.to.Write(ctx, news.take); err != nil {
			return beneath(err)
		}
		for _, run := range news.runs {
			c.had += uint64(len(run.Entries))
		}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.state.Behind, c.state.Fault, c.state.Since, c.state.Whole = 0, nil, time.Time{}, news.at
	return nil
}

// beneath gives what made a write fail, not what is said of it to somebody who typed.
func beneath(err error) error {
	var f *fault.Fault
	if errors.As(err, &f) && f.Key == "not-recorded" && f.Unwrap() != nil {
		return f.Unwrap()
	}
	return err
}

// news is what the copy lacks.
type news struct {
	at   time.Time // it is everything that was recorded by then
	runs []logbook.Run
	keys []wrappedKey
}

type keyCount struct{ all, whole int64 }

type wrappedKey struct {
	ref       fact.Ref
	wrapped   []byte // nil once it was destroyed
	destroyed string
}

func countKeys(c *conn) (keyCount, error) {
	n, _, err := one(c, func(r row) keyCount { return keyCount{r.int(0), r.int(1)} }, `SELECT count(*), count(wrapped) FROM subject_key`)
	return n, err
}

func (c *Copy) news(ctx context.Context, theirs []logbook.Head, have keyCount) (n news, err error) {
	known := map[string]uint64{}
	for _, h := range theirs {
		known[h.Node] = h.Seq
	}
	n.at = now(c.from.o)
	err = c.from.Read(ctx, func(v *View) error {
		ours, err := heads(v.c)
		if err != nil {
			return err
		}
		for _, h := range ours {
			if seq, ok := known[h.Node]; (ok && seq >= h.Seq) || h.Node == c.to.Node() {
				continue
			}
			run, err := v.Run(h.Node, known[h.Node])
			if err != nil {
				return err
			}
			n.runs = append(n.runs, run)
		}
		if want, err := countKeys(v.c); err != nil || want == have {
			return err
		}
		n.keys, err = all(v.c, func(r row) wrappedKey {
			k := wrappedKey{ref: fact.Ref{Kind: r.text(0), ID: r.text(1)}, destroyed: r.text(3)}
			if !r.null(2) {
				k.wrapped = r.blob(2)
			}
			return k
		}, `SELECT kind, id, wrapped, destroyed FROM subject_key`)
		return err
	})
	return n, err
}

// take is the command that brings the news into the copy.
func (n news) take(tx *Tx) error {
	for _, run := range n.runs {
		if _, err := tx.absorb(run); err != nil {
			return err
		}
	}
	for _, k := range n.keys {
		if err := tx.takeKey(k); err != nil {
			return tx.try(err)
		}
	}
	return nil
}

// takeKey keeps another folder's key of a subject. A key that is destroyed in either stays destroyed.
func (tx *Tx) takeKey(k wrappedKey) error {
	c := tx.w.c
	if k.wrapped != nil {
		return exec(c, `INSERT INTO subject_key (kind, id, wrapped) VALUES (?, ?, ?) ON CONFLICT (kind, id) DO NOTHING`, k.ref.Kind, k.ref.ID, k.wrapped)
	}
	gone, _, err := one(c, func(r row) bool { return r.null(0) }, `SELECT wrapped FROM subject_key WHERE kind = ? AND id = ?`, k.ref.Kind, k.ref.ID)
	if err != nil || gone {
		return err
	}
	tx.w.erased = true
	return exec(c, `INSERT INTO subject_key (kind, id, wrapped, destroyed) VALUES (?, ?, NULL, ?)
		ON CONFLICT (kind, id) DO UPDATE SET wrapped = NULL, destroyed = excluded.destroyed`, k.ref.Kind, k.ref.ID, k.destroyed)
}

// open opens the folder of the copy, or makes it.
func (c *Copy) open(ctx context.Context) error {
	o := Options{Dir: c.dir, Catalogue: c.from.o.Catalogue, Now: c.from.o.Now, Log: c.from.o.Log, alone: true}
	bucket := c.from.Local(copyBucket)
	raw, known, err := bucket.Get(ctx, c.dir)
	if err != nil {
		return err
	}
	if known {
		var ours copyKeys
		if err := json.Unmarshal(raw, &ours); err != nil {
			return err
		}
		err := c.reopen(ctx, o, ours)
		if ours.Made && !c.refresh || !missing(err) {
			return err
		}
	}
	return c.begin(ctx, o)
}

// missing reports whether an error says that the folder, or the copy in it, is not there.
func missing(err error) bool {
	return errors.Is(err, os.ErrNotExist) || fault.Is(err, "record-missing")
}

// reopen opens a copy that this laptop made, locks it as the record is locked now, and makes it anew when the record has
// been encrypted since.
func (c *Copy) reopen(ctx context.Context, o Options, ours copyKeys) error {
	f, err := readKeyFile(filepath.Join(c.dir, keysFile))
	if err != nil {
		return err
	}
	if f.Node != ours.Node {
		return fault.New(fault.Unusable, "copy-of-another", "The folder "+c.dir+" holds another record.", "", "Choose an empty folder.")
	}
	pass := c.from.pass()
	if len(ours.File) == 0 && pass != nil {
		if err := clearCopy(c.dir); err != nil {
			return err
		}
		return c.begin(ctx, o)
	}
	k, err := ours.keys(ours.Node, pass)
	if err != nil {
		return err
	}
	if pass != nil {
		if _, err := f.unlock(pass); err != nil {
			if err := writeKeys(filepath.Join(c.dir, keysFile), k); err != nil {
				return err
			}
		}
	}
	o.given = &k
	c.to, err = Open(ctx, o)
	return err
}

// clearCopy removes a copy of ours.
func clearCopy(dir string) error {
	for _, name := range []string{dataFile, sealedFile} {
		if err := removeDatabase(filepath.Join(dir, name)); err != nil {
			return err
		}
	}
	for _, name := range []string{keysFile, lockFile} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return syncDir(dir)
}

// begin makes a new copy in a folder that is empty or not there; the one above it must be.
func (c *Copy) begin(ctx context.Context, o Options) error {
	if _, err := os.Stat(filepath.Dir(c.dir)); err != nil {
		return err
	}
	k, err := newIdentity(c.from.keys.Programme, c.from.pass())
	if err != nil {
		return err
	}
	o.given = &k
	if err := c.keep(ctx, copyKeys{k.node, false, k.secrets}); err != nil {
		return err
	}
	if c.to, err = Create(ctx, o); err != nil {
		return err
	}
	c.refresh = false
	return c.keep(ctx, copyKeys{k.node, true, k.secrets})
}

func (c *Copy) keep(ctx context.Context, k copyKeys) error {
	raw, err := json.Marshal(k)
	if err == nil {
		err = c.from.Local(copyBucket).Put(ctx, c.dir, raw)
	}
	if err != nil {
		return fmt.Errorf("store: the keys of the copy were not kept: %w", err)
	}
	return nil
}

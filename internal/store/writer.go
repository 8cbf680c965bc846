package store

import (
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"maps"
	"runtime"
	"runtime/debug"
	"slices"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// command is one call of Write on its way through the writer.
type command struct {
	ctx  context.Context
	do   func(*Tx) error
	done chan error
	err  error
}

// groupLimit is the most commands in one transaction.
const groupLimit = 256

// writer owns the one connection that writes. Everything in it belongs to the goroutine of work.
type writer struct {
	s       *Store
	c       *conn
	queue   chan *command
	quit    chan struct{}
	stopped chan struct{}

	clock  logbook.Clock
	head   logbook.Head       // the end of this laptop's chain, with what the group at work appended
	cache  map[fact.Ref]*held // rows as committed
	cached int                // how much of them, at most, as JSON counts
	group  map[fact.Ref]*held // rows as the group at work wrote them
	added  bool               // the group at work added entries
	erased bool               // a command destroyed a key
	stale  bool               // the end of the chain could not be read after a failure: read it before anything else
}

// load reads the end of this laptop's chain and checks that it is the one that was signed.
func (w *writer) load() error {
	w.cached = 0
	w.cache, w.group, w.added, w.stale = map[fact.Ref]*held{}, map[fact.Ref]*held{}, false, true
	n, ok, err := one(w.c, func(r row) storedNode {
		return storedNode{logbook.Head{Node: r.text(0), Seq: uint64(r.int(1)), Hash: r.hash(2)}, r.blob(3), r.blob(4)}
	}, `SELECT node, seq, hash, public, signature FROM node WHERE node = ?`, w.s.keys.node)
	if err != nil {
		return err
	}
	if !ok {
		return unusable("keys-unreadable", "The keys in "+w.s.o.Dir+" belong to another record.", "Put back the file "+keysFile+" from your backup.")
	}
	last, ok, err := one(w.c, func(r row) logbook.Head {
		return logbook.Head{Node: n.head.Node, Seq: uint64(r.int(0)), Hash: r.hash(1)}
	},
		`SELECT seq, hash FROM entry WHERE node = ? ORDER BY seq DESC LIMIT 1`, n.head.Node)
	if err != nil {
		return err
	}
	if !ok {
		last = logbook.Head{Node: n.head.Node}
	}
	if last != n.head || !n.head.Verify(ed25519.PublicKey(n.public), n.signature) {
		return errors.New("the end of this laptop's chain is not the one that it signed")
	}
	w.head = n.head
	recorded, ok, err := one(w.c, func(r row) string { return r.text(0) }, `SELECT recorded FROM entry ORDER BY recorded DESC LIMIT 1`)
	if err == nil && ok {
		err = w.clock.Observe(recorded)
	}
	w.stale = err != nil
	return err
}

// refresh makes the derived tables again when another program made them, and leaves them as they were when the context ends first.
func (w *writer) refresh(ctx context.Context) error {
	fits, err := derivedFits(w.c, w.s.o.Catalogue)
	if err != nil {
		return err
	}
	by, err := meta(w.c, "derived_by")
	if err != nil || fits && by == build() {
		return err
	}
	if err := w.c.script(`BEGIN IMMEDIATE`); err != nil {
		return err
	}
	if err := rebuild(ctx, w.c, w.s.o.Catalogue, w.s.o.remaking()); err != nil {
		w.rollback()
		return err
	}
	w.s.remade = true
	return w.c.script(`COMMIT`)
}

// stop ends the work after the group at hand.
func (w *writer) stop() {
	close(w.quit)
	<-w.stopped
}

// work takes commands until the store closes.
func (w *writer) work() {
	var batch []*command
	ended := false
	defer func() {
		if ended {
			close(w.stopped)
			return
		}
		// A command ended the goroutine (runtime.Goexit): nothing of its group is kept, and the work goes on in a new one.
		w.fail(batch, fault.Of(errors.New("store: a command ended the writer's goroutine")))
		go w.work()
	}()
	for {
		select {
		case first := <-w.queue:
			batch = w.gather(first)
			w.run(batch)
			batch = nil
		case <-w.quit:
			ended = true
			return
		}
	}
}

// gather takes the commands that wait. Those whose callers were only just answered get a turn to come back.
func (w *writer) gather(first *command) []*command {
	batch := []*command{first}
	for idle := 0; len(batch) < groupLimit && idle < 2; {
		select {
		case cmd := <-w.queue:
			batch, idle = append(batch, cmd), 0
		default:
			idle++
			runtime.Gosched()
		}
	}
	return batch
}

// run puts a group through one transaction and answers every command in it.
func (w *writer) run(batch []*command) {
	if err := w.transact(batch); err != nil {
		w.s.o.Log.Error("a group of commands was not recorded", "commands", len(batch), "error", err)
		w.fail(batch, notRecorded(err))
		return
	}
	changed := slices.Collect(maps.Values(w.group))
	if w.cached > keptBytes {
		clear(w.cache)
		w.cached = 0
	}
	for _, h := range changed {
		w.learn(h)
	}
	clear(w.group)
	w.s.states.put(changed...)
	if w.added {
		w.s.version.Add(1) // before anybody is answered: who reads after an answer sees the new version
	}
	erased := w.erased
	if erased {
		w.erased = false
		// The key was overwritten in the file's new pages; its old ones lie in the log until it is emptied.
		if err := w.c.script(`PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
			w.s.o.Log.Warn("the log still holds a destroyed key until it is next emptied", "error", err)
		}
	}
	for _, cmd := range batch {
		cmd.done <- cmd.err
	}
	if w.added || erased {
		w.s.poke(w.s.followers)
	}
	if w.added {
		w.added = false
		w.s.poke(w.s.listeners)
	}
}

// transact runs the commands, signs the new end of the chain, and commits. An error means that nothing was kept.
func (w *writer) transact(batch []*command) error {
	if w.stale {
		if err := w.load(); err != nil {
			return err
		}
	}
	if err := exec(w.c, `BEGIN IMMEDIATE`); err != nil {
		return err
	}
	start := w.head
	for _, cmd := range batch {
		if cmd.err = cmd.ctx.Err(); cmd.err != nil {
			continue
		}
		if err := w.command(cmd); err != nil {
			return err
		}
	}
	if w.head != start {
		err := exec(w.c, `UPDATE node SET seq = ?, hash = ?, signature = ? WHERE node = ?`,
			w.head.Seq, w.head.Hash[:], w.head.Sign(w.s.keys.sign), w.head.Node)
		if err != nil {
			return err
		}
	}
	return exec(w.c, `COMMIT`)
}

// command runs one command in its savepoint. Its own refusal goes to cmd.err; the error is for the whole group.
func (w *writer) command(cmd *command) error {
	if err := exec(w.c, `SAVEPOINT command`); err != nil {
		return err
	}
	head, added := w.head, w.added
	tx := &Tx{w: w, now: now(w.s.o), own: map[fact.Ref]*working{}}
	cmd.err = call(cmd.do, tx)
	if cmd.err == nil {
		cmd.err = tx.broken
	}
	if cmd.err == nil {
		cmd.err = tx.flush()
	}
	tx.over = true
	if !w.c.inTransaction() || full(tx.broken) {
		return errors.Join(errors.New("store: the transaction was lost"), tx.broken)
	}
	if cmd.err == nil {
		if err := exec(w.c, `RELEASE command`); err != nil {
			return err
		}
		for ref, own := range tx.own {
			if own.base != nil {
				w.group[ref] = own.base
			}
		}
		return nil
	}
	w.head, w.added = head, added
	if err := exec(w.c, `ROLLBACK TO command`); err != nil {
		return err
	}
	return exec(w.c, `RELEASE command`)
}

// call runs what the caller gave; a panic in it becomes an Internal fault of that command alone.
func call(do func(*Tx) error, tx *Tx) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fault.Of(fmt.Errorf("store: panic in a command: %v\n%s", p, debug.Stack()))
		}
	}()
	return do(tx)
}

func (w *writer) rollback() {
	if w.c.inTransaction() {
		if err := w.c.script(`ROLLBACK`); err != nil {
			w.s.o.Log.Error("the transaction could not be rolled back", "error", err)
		}
	}
}

// fail undoes a group, forgets everything that was kept in memory, and tells every command.
func (w *writer) fail(batch []*command, why *fault.Fault) {
	w.rollback()
	if err := w.load(); err != nil {
		w.s.o.Log.Error("the end of the chain could not be read again", "error", err)
	}
	w.s.states.clear()
	for _, cmd := range batch {
		cmd.done <- why
	}
}

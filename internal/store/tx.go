package store

import (
	"errors"
	"time"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// Draft is a fact about to be appended.
type Draft struct {
	ID       string    // empty for a fresh UUID of version 7
	At       time.Time // when it happened; zero for now
	By       string    // person id; empty for the programme itself
	Subject  fact.Ref
	Body     fact.Body
	Corrects string // id of the fact that this one corrects
	Reason   string // why; a correction must say it
}

// Tx is what a command sees and does. It is good until the command returns, on the command's own goroutine.
type Tx struct {
	w      *writer
	now    time.Time
	own    map[fact.Ref]*working
	broken error // the first failure of the database: the command cannot be kept, whatever it returns
	over   bool
}

// working is a subject that this command touched.
type working struct {
	base  *held      // its row as last written or read; nil for a new one
	state fact.State // as of now
	lent  bool       // the state was shown to somebody, or is the row's own: change a copy
	dirty bool       // the row does not say this yet
	// Of the entries so far, as held has them.
	recorded string
	arrived  int64
}

var errOver = errors.New("store: used after its command or reader returned")

// now is the one timestamp of a command: the clock's, cut to the millisecond, in the clock's own zone.
func now(o Options) time.Time { return o.Now().Round(0).Truncate(time.Millisecond) }

// Now is the time of this command: the same however often it is asked, to the millisecond.
func (tx *Tx) Now() time.Time { return tx.now }

// try notes a failure of the database.
func (tx *Tx) try(err error) error {
	if err != nil && tx.broken == nil {
		tx.broken = err
	}
	return err
}

func (tx *Tx) usable() error {
	if tx.over {
		return errOver
	}
	return tx.broken
}

// row finds a subject as it stands before what this command has not yet written; nil when it has no facts.
func (tx *Tx) row(ref fact.Ref) (*held, error) {
	if own, ok := tx.own[ref]; ok && own.base != nil {
		return own.base, nil
	}
	if h, ok := tx.w.group[ref]; ok {
		return h, nil
	}
	if h, ok := tx.w.cache[ref]; ok {
		return h, nil
	}
	h, ok, err := one(tx.w.c, heldRow, `SELECT `+heldColumns+` FROM subject WHERE kind = ? AND id = ?`, ref.Kind, ref.ID)
	if err != nil || !ok {
		return nil, tx.try(err)
	}
	if h.state, err = decode(tx.w.s.o.Catalogue, ref, h.json); err != nil {
		return nil, tx.try(err)
	}
	tx.w.learn(h) // nobody in this transaction has written it, so it is as committed
	return h, nil
}

// State gives a subject as of now, with what this command appended; ok is false when it has no facts. The caller must not
// change it, and it stays as it is when more is appended.
func (tx *Tx) State(ref fact.Ref) (state fact.State, ok bool, err error) {
	if err := tx.usable(); err != nil {
		return nil, false, err
	}
	if own, ok := tx.own[ref]; ok {
		own.lent = true
		return own.state, true, nil
	}
	h, err := tx.row(ref)
	if err != nil || h == nil {
		return nil, false, err
	}
	return h.state, true, nil
}

// Children gives the subjects of a kind whose state names this parent, in the order of their labels.
func (tx *Tx) Children(kind, parent string) ([]fact.State, error) {
	return tx.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? AND parent = ? ORDER BY label, id`, kind, parent)
}

// All gives every subject of a kind in the order of their labels.
func (tx *Tx) All(kind string) ([]fact.State, error) {
	return tx.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? ORDER BY label, id`, kind)
}

func (tx *Tx) list(sql string, args ...any) ([]fact.State, error) {
	if err := tx.usable(); err != nil {
		return nil, err
	}
	if err := tx.flush(); err != nil {
		return nil, err
	}
	found, err := list(tx.w.c, tx.w.s.o.Catalogue, tx.known, tx.w.learn, sql, args...)
	return found, tx.try(err)
}

// known finds a decoded state without asking the database.
func (tx *Tx) known(ref fact.Ref, arrived int64) (*held, bool) {
	if own, ok := tx.own[ref]; ok {
		return own.base, true // just flushed
	}
	if h, ok := tx.w.group[ref]; ok {
		return h, true
	}
	h, ok := tx.w.cache[ref]
	return h, ok
}

func (w *writer) learn(h *held) {
	w.cache[h.ref] = h
	w.cached += h.size
}

// Append adds a fact and gives it as it was recorded: with its place in the chain, and with the body as it will be read
// back. Times are kept in UTC to the millisecond. It refuses an id that the record has already (Conflict,
// "already-recorded"), a correction of something that is not a fact of this subject, one without a reason, and what is
// too large or not text.
func (tx *Tx) Append(d Draft) (fact.Record, error) {
	if err := tx.usable(); err != nil {
		return fact.Record{}, err
	}
	late, err := tx.admit(d)
	if err != nil {
		return fact.Record{}, err
	}
	rec := fact.Record{Subject: d.Subject, Body: d.Body}
	rec.ID, rec.At, rec.By, rec.Corrects, rec.Reason = d.ID, d.At, d.By, d.Corrects, d.Reason
	if rec.ID == "" {
		rec.ID = logbook.NewID(tx.now)
	}
	if rec.At.IsZero() {
		rec.At = tx.now
	}
	rec.Recorded = tx.w.clock.Next(tx.now)
	entry, err := logbook.NewEntry(rec)
	if err != nil {
		return fact.Record{}, tx.try(err)
	}
	link, err := tx.w.head.Extend(entry)
	if err != nil {
		return fact.Record{}, fault.New(fault.Invalid, "not-recordable", "The record cannot hold this as it is.",
			"It is too long, incomplete, or holds characters that are not text.", "Shorten it or type it again.").Because(err)
	}
	if rec, err = link.Record(tx.w.s.o.Catalogue); err != nil {
		return fact.Record{}, tx.try(err) // a body that nobody registered
	}
	arrived, err := insert(tx.w.c, link)
	if err != nil {
		return fact.Record{}, tx.try(err)
	}
	tx.w.head, tx.w.added = link.Head(), true
	if late || d.Corrects != "" {
		return rec, tx.try(tx.again(d.Subject))
	}
	return rec, tx.try(tx.apply(rec, arrived))
}

// admit checks a draft against the record. late says that a correction of this very fact is here already.
func (tx *Tx) admit(d Draft) (late bool, err error) {
	count := func(r row) int64 { return r.int(0) }
	if d.ID != "" {
		_, taken, err := one(tx.w.c, count, `SELECT 1 FROM entry WHERE id = ?`, d.ID)
		if err != nil {
			return false, tx.try(err)
		}
		if taken {
			return false, fault.New(fault.Conflict, "already-recorded", "This is in the record already.", "",
				"Look at the record before you enter it again.")
		}
		if _, late, err = one(tx.w.c, count, `SELECT 1 FROM entry WHERE corrects = ? AND corrects <> ''`, d.ID); err != nil {
			return false, tx.try(err)
		}
	}
	if _, ok := tx.w.s.o.Catalogue.Fresh(d.Subject); !ok {
		_, err := fresh(tx.w.s.o.Catalogue, d.Subject)
		return false, tx.try(err)
	}
	if d.Corrects == "" {
		return late, nil
	}
	subject, ok, err := one(tx.w.c, func(r row) fact.Ref { return fact.Ref{Kind: r.text(0), ID: r.text(1)} },
		`SELECT subject_kind, subject_id FROM entry WHERE id = ?`, d.Corrects)
	switch {
	case err != nil:
		return false, tx.try(err)
	case !ok || subject != d.Subject:
		return false, fault.New(fault.Missing, "corrected-missing", "What you want to correct is not in the record.", "", "Open it again and correct it there.")
	case d.Reason == "":
		return false, fault.New(fault.Invalid, "reason-missing", "A correction needs a reason.",
			"The record keeps both, and whoever reads it must see why.", "Say in a few words why.").Field("reason", "Say in a few words why.")
	}
	return late, nil
}

// insert keeps a link and gives its place in the order of arrival.
func insert(c *conn, l logbook.Link) (arrived int64, err error) {
	err = exec(c, `INSERT INTO entry (node, seq, id, subject_kind, subject_id, recorded, corrects, bytes, hash)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		l.Node, l.Seq, l.ID, l.Subject.Kind, l.Subject.ID, l.Recorded, l.Corrects, l.Bytes, l.Hash[:])
	return c.lastRow(), err
}

// apply adds the newest fact to its subject's state, on a copy when somebody may be looking at it.
func (tx *Tx) apply(rec fact.Record, arrived int64) error {
	cat := tx.w.s.o.Catalogue
	own, ok := tx.own[rec.Subject]
	if !ok {
		own = &working{lent: true}
		var err error
		if own.base, err = tx.row(rec.Subject); err != nil {
			return err
		}
	}
	var err error
	switch {
	case own.base == nil && !own.dirty:
		own.state, err = fresh(cat, rec.Subject)
	case own.lent && !own.dirty:
		own.state, err = decode(cat, rec.Subject, own.base.json)
	case own.lent:
		var copied *held
		if copied, err = hold(rec.Subject, own.state, own.recorded, own.arrived); err == nil {
			own.state, err = decode(cat, rec.Subject, copied.json)
		}
	}
	if err != nil {
		return err
	}
	own.state.Apply(rec)
	if err := tx.forget(rec.Subject, own.state); err != nil {
		return err
	}
	own.lent, own.dirty, own.recorded, own.arrived = false, true, rec.Recorded, arrived
	tx.own[rec.Subject] = own
	return nil
}

// again folds a subject from all its entries.
func (tx *Tx) again(ref fact.Ref) error {
	h, err := refold(tx.w.c, tx.w.s.o.Catalogue, ref)
	if err != nil {
		return err
	}
	if err := tx.forget(ref, h.state); err != nil {
		return err
	}
	was, err := tx.row(ref)
	if err != nil {
		return err
	}
	tx.own[ref] = &working{base: was, state: h.state, lent: true, dirty: true, recorded: h.recorded, arrived: h.arrived}
	return nil
}

// flush writes the rows of the subjects that this command touched.
func (tx *Tx) flush() error {
	for ref, own := range tx.own {
		if !own.dirty {
			continue
		}
		h, err := hold(ref, own.state, own.recorded, own.arrived)
		if err != nil {
			return tx.try(err)
		}
		if err := h.save(tx.w.c, own.base); err != nil {
			return tx.try(err)
		}
		own.base, own.dirty, own.lent = h, false, true
	}
	return nil
}

// Receipt gives what an earlier command with this id answered; ok is false when there was none.
func (tx *Tx) Receipt(commandID string) (result []byte, ok bool, err error) {
	if err := tx.usable(); err != nil {
		return nil, false, err
	}
	result, ok, err = one(tx.w.c, func(r row) []byte { return r.blob(0) }, `SELECT result FROM command WHERE id = ?`, commandID)
	return result, ok, tx.try(err)
}

// Keep keeps what this command answers, in the same transaction as its facts. A second Keep for the same id is a Conflict.
func (tx *Tx) Keep(commandID string, result []byte) error {
	_, ok, err := tx.Receipt(commandID)
	if err != nil {
		return err
	}
	if ok {
		return fault.New(fault.Conflict, "already-recorded", "This is in the record already.", "", "Look at the record before you enter it again.")
	}
	return tx.try(exec(tx.w.c, `INSERT INTO command (id, at, result) VALUES (?, ?, ?)`, commandID, clockText(tx.now), result))
}

// Seal encrypts personal data of a subject for a fact's body, and makes the subject's key on first use. A subject whose
// key was destroyed is refused ("erased").
func (tx *Tx) Seal(ref fact.Ref, plaintext []byte) ([]byte, error) {
	if err := tx.usable(); err != nil {
		return nil, err
	}
	key, ok, err := subjectKey(tx.w.c, ref)
	switch {
	case err != nil:
		return nil, tx.try(err)
	case ok && key == nil:
		return nil, errErased
	case !ok:
		key = tx.w.s.keys.keyring.NewSubjectKey(ref)
		if err := exec(tx.w.c, `INSERT INTO subject_key (kind, id, wrapped) VALUES (?, ?, ?)`, ref.Kind, ref.ID, key); err != nil {
			return nil, tx.try(err)
		}
	}
	sealed, err := tx.w.s.keys.keyring.Seal(key, ref, plaintext)
	return sealed, tx.try(err)
}

// Erase destroys the key of a subject: its sealed data can never be read again, its facts and the chain stay whole.
// Erasing a subject that never had a key means that it will not get one.
func (tx *Tx) Erase(ref fact.Ref) error {
	if err := tx.usable(); err != nil {
		return err
	}
	tx.w.erased = true
	return tx.try(exec(tx.w.c, `INSERT INTO subject_key (kind, id, wrapped, destroyed) VALUES (?, ?, NULL, ?)
		ON CONFLICT (kind, id) DO UPDATE SET wrapped = NULL, destroyed = excluded.destroyed WHERE wrapped IS NOT NULL`,
		ref.Kind, ref.ID, clockText(tx.now)))
}

// forget destroys the key of a subject whose state says that it was erased, wherever the fact that says so came from.
func (tx *Tx) forget(ref fact.Ref, state fact.State) error {
	if x, ok := state.(interface{ Erased() bool }); !ok || !x.Erased() {
		return nil
	}
	key, known, err := subjectKey(tx.w.c, ref)
	if err != nil || known && key == nil {
		return err
	}
	return tx.Erase(ref)
}

// subjectKey finds a wrapped key; ok with a nil key says that it was destroyed.
func subjectKey(c *conn, ref fact.Ref) (wrapped []byte, ok bool, err error) {
	return one(c, func(r row) []byte {
		if r.null(0) {
			return nil
		}
		return r.blob(0)
	}, `SELECT wrapped FROM subject_key WHERE kind = ? AND id = ?`, ref.Kind, ref.ID)
}

var errErased = fault.New(fault.Missing, "erased", "This person's details were erased.", "They asked for it, or their time was up.",
	"Carry on without them.")

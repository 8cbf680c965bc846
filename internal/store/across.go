package store

import (
	"errors"
	"math"
	"time"

	"fairstick/internal/fact"
)

// Span is a stretch of time, both ends among it. A zero end is open.
type Span struct {
	From, Until time.Time
}

// millis gives the ends as the mentions keep them.
func (s Span) millis() (from, until int64) {
	from, until = math.MinInt64, math.MaxInt64
	if !s.From.IsZero() {
		from = s.From.UnixMilli()
	}
	if !s.Until.IsZero() {
		until = s.Until.UnixMilli()
	}
	return from, until
}

// CountAcross counts how often subjects of a kind mention a value in a span, over all parents.
func (v *View) CountAcross(kind, name, value string, in Span) (int, error) {
	if v.c == nil {
		return 0, errOver
	}
	from, until := in.millis()
	n, _, err := one(v.c, func(r row) int64 { return r.int(0) },
		`SELECT count(*) FROM mention WHERE kind = ? AND name = ? AND value = ? AND at BETWEEN ? AND ?`, kind, name, value, from, until)
	return int(n), err
}

// acrossSQL finds the ids in one index and then the subjects one by one; the plus signs keep SQLite from walking every subject of
// the kind for the sake of the order.
const acrossSQL = `SELECT ` + heldColumns + ` FROM subject WHERE kind = ? AND id IN
	(SELECT id FROM mention WHERE kind = ? AND name = ? AND value = ? AND at BETWEEN ? AND ?) ORDER BY +parent, +label, +id`

// Across gives the subjects of a kind whose states mention a value in a span, over all parents, by parent and then label. The
// time that it takes grows with the answer, not with the record.
func (v *View) Across(kind, name, value string, in Span) ([]fact.State, error) {
	from, until := in.millis()
	return v.list(acrossSQL, kind, kind, name, value, from, until)
}

// Back gives the parents of the subjects of a kind that mention a value before a moment, the latest mention first, until do has had
// enough.
func (v *View) Back(kind, name, value string, before time.Time, do func(parent string) (enough bool, err error)) error {
	if v.c == nil {
		return errOver
	}
	done := errors.New("done")
	err := each(v.c, func(r row) error {
		enough, err := do(r.text(0))
		if err == nil && enough {
			err = done
		}
		return err
	}, `SELECT parent FROM mention WHERE kind = ? AND name = ? AND value = ? AND at < ? ORDER BY at DESC, id DESC`, kind, name, value, before.UnixMilli())
	if errors.Is(err, done) {
		return nil
	}
	return err
}

// Labelled gives the subjects of a kind whose labels lie between two, the first among them and the second not, in their order.
func (v *View) Labelled(kind, from, before string) ([]fact.State, error) {
	return v.list(`SELECT `+heldColumns+` FROM subject WHERE kind = ? AND label >= ? AND label < ? ORDER BY label, id`, kind, from, before)
}

// CountChildren counts the subjects of a kind whose state names this parent.
func (v *View) CountChildren(kind, parent string) (int, error) {
	if v.c == nil {
		return 0, errOver
	}
	n, _, err := one(v.c, func(r row) int64 { return r.int(0) }, `SELECT count(*) FROM subject WHERE kind = ? AND parent = ?`, kind, parent)
	return int(n), err
}

// End gives the number of entries in this laptop's own chain and the last link of it.
func (v *View) End() (seq uint64, hash [32]byte, err error) {
	if v.c == nil {
		return 0, hash, errOver
	}
	type end struct {
		seq  int64
		hash [32]byte
	}
	e, _, err := one(v.c, func(r row) end { return end{r.int(0), r.hash(1)} }, `SELECT seq, hash FROM node WHERE node = ?`, v.s.Node())
	return uint64(e.seq), e.hash, err
}

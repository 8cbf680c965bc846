package store

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"

	"fairstick/internal/fact"
)

// tally is what a state counts as; ok is false when its kind does not count.
func (h *held) tally() (line string, ok bool) {
	t, ok := h.state.(fact.Tallier)
	if !ok {
		return "", false
	}
	return t.Tally(), true
}

// saveTally writes what a state counts as, when that differs from what stands there.
func (h *held) saveTally(c *conn, was *held) error {
	line, ok := h.tally()
	if !ok {
		return nil
	}
	if was != nil {
		old, _ := was.tally()
		if was.parent == h.parent && old == line {
			return nil
		}
		if was.parent != h.parent {
			if err := exec(c, `DELETE FROM tally WHERE kind = ? AND parent = ? AND id = ?`, h.ref.Kind, was.parent, h.ref.ID); err != nil {
				return err
			}
		}
	}
	return exec(c, `INSERT INTO tally (kind, parent, id, line) VALUES (?, ?, ?, ?)
		ON CONFLICT (kind, parent, id) DO UPDATE SET line = excluded.line`, h.ref.Kind, h.parent, h.ref.ID, line)
}

// tallyFits reports whether the line that stands in the table is that of a state, and no other.
func tallyFits(c *conn, h *held) bool {
	want, ok := h.tally()
	if !ok {
		return true
	}
	got, found, err := one(c, func(r row) string { return r.text(0) }, `SELECT line FROM tally WHERE kind = ? AND parent = ? AND id = ?`, h.ref.Kind, h.parent, h.ref.ID)
	return err == nil && found && got == want
}

// group is the id under which a subject counts: its parent's, or its own when it has none.
func (h *held) group() string { return cmp.Or(h.parent, h.ref.ID) }

// saveStamp notes that something that counts has changed, whether or not its line did: a count may rest on the whole state.
func (h *held) saveStamp(c *conn, was *held) error {
	if _, counts := h.state.(fact.Tallier); !counts {
		return nil
	}
	const set = `INSERT INTO stamp (parent, arrived) VALUES (?, ?) ON CONFLICT (parent) DO UPDATE SET arrived = max(arrived, excluded.arrived)`
	if was != nil && was.group() != h.group() {
		if err := exec(c, set, was.group(), h.arrived); err != nil {
			return err
		}
	}
	return exec(c, set, h.group(), h.arrived)
}

// Below gives the lines of the subjects of a kind that belong to a parent, by their ids. The states themselves are not read.
func (v *View) Below(kind, parent string, do func(id, line string) error) error {
	if v.c == nil {
		return errOver
	}
	return each(v.c, func(r row) error { return do(r.text(0), r.text(1)) }, `SELECT id, line FROM tally WHERE kind = ? AND parent = ? ORDER BY id`, kind, parent)
}

// Latest gives the lines of the subjects of a kind that have no parent, the last label first, until do has had enough. The states
// themselves are not read.
func (v *View) Latest(kind string, do func(id, line string) (enough bool, err error)) error {
	if v.c == nil {
		return errOver
	}
	done := errors.New("done")
	err := each(v.c, func(r row) error {
		enough, err := do(r.text(0), r.text(1))
		if err == nil && enough {
			err = done
		}
		return err
	}, `SELECT e.id, t.line FROM subject e CROSS JOIN tally t ON t.kind = e.kind AND t.parent = '' AND t.id = e.id WHERE e.kind = ? ORDER BY e.label DESC, e.id DESC`, kind)
	if errors.Is(err, done) {
		return nil
	}
	return err
}

// Group is one subject that has no parent as reports count it, with what was kept of a count over it and all below it.
type Group struct {
	ID, Label, Line string
	Stamp           int64  // another one whenever anything in the group has changed
	Kept            string // the line of the count; good when Holds
	Holds           bool
}

// groupsSQL reads the groups in the order of their labels, each from the indexes alone.
const groupsSQL = `SELECT e.id, e.label, t.line, coalesce(s.arrived, 0), c.line FROM subject e
	CROSS JOIN tally t ON t.kind = e.kind AND t.parent = '' AND t.id = e.id
	LEFT JOIN stamp s ON s.parent = e.id LEFT JOIN counted c ON c.name = ? AND c.parent = e.id AND c.stamp = s.arrived
	WHERE e.kind = ? AND e.label >= ? AND e.label < ? ORDER BY e.label, e.id`

// Groups gives the subjects of a kind whose label lies in [from, before), in the order of labels, with what is kept of the count of
// this name.
func (v *View) Groups(count, kind, from, before string, do func(Group) error) error {
	if v.c == nil {
		return errOver
	}
	return each(v.c, func(r row) error {
		return do(Group{ID: r.text(0), Label: r.text(1), Line: r.text(2), Stamp: r.int(3), Kept: r.text(4), Holds: !r.null(4)})
	}, groupsSQL, count, kind, from, before)
}

// Counted is what a count over a group came to, and the stamp that the group had.
type Counted struct {
	ID    string
	Stamp int64
	Line  string
}

// KeepCounts keeps counts for later Groups. They are good only as long as their stamps, so that none can be wrong by coming late.
// A record that is only read keeps none.
func (s *Store) KeepCounts(ctx context.Context, count string, list []Counted) error {
	if s.o.ReadOnly {
		return nil
	}
	for some := range slices.Chunk(list, countsAtOnce) { // the writer has others to answer
		err := s.Write(ctx, func(tx *Tx) error {
			for _, x := range some {
				if err := exec(tx.w.c, `INSERT INTO counted (name, parent, stamp, line) VALUES (?, ?, ?, ?)
					ON CONFLICT (name, parent) DO UPDATE SET stamp = excluded.stamp, line = excluded.line`, count, x.ID, x.Stamp, x.Line); err != nil {
					return tx.try(err)
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

const countsAtOnce = 500

// staleStamps lists the groups whose stamp is behind what arrived in them: there a count that was kept would hide a change.
func staleStamps(c *conn, arrived map[string]int64) ([]string, error) {
	err := each(c, func(r row) error {
		if at, ok := arrived[r.text(0)]; ok && r.int(1) >= at {
			delete(arrived, r.text(0))
		}
		return nil
	}, `SELECT parent, arrived FROM stamp`)
	return slices.Sorted(maps.Keys(arrived)), err
}

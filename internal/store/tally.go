package store

import "fairstick/internal/fact"

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

// Tally is one subject as reports count it. Line is read by the package of its kind.
type Tally struct{ Parent, ID, Line string }

func tallyRow(r row) Tally { return Tally{r.text(0), r.text(1), r.text(2)} }

// talliesSQL reads the lines in the order of the days. The cross joins keep SQLite from walking every line of the kind for
// the sake of a few days.
const (
	talliesSQL = `SELECT t.parent, t.id, t.line FROM subject e CROSS JOIN tally t ON t.kind = ? AND t.parent = e.id
		WHERE e.kind = ? AND e.label >= ? AND e.label < ? ORDER BY e.label, e.id, t.id`
	ownTalliesSQL = `SELECT e.label, e.id, t.line FROM subject e CROSS JOIN tally t ON t.kind = e.kind AND t.parent = e.parent AND t.id = e.id
		WHERE e.kind = ? AND e.label >= ? AND e.label < ? ORDER BY e.label, e.id`
)

// Tallies gives the lines of the subjects of a kind that belong to a parent of another kind whose label lies in [from, before),
// in the order of those labels. The states themselves are not read.
func (v *View) Tallies(kind, parentKind, from, before string, do func(Tally) error) error {
	if v.c == nil {
		return errOver
	}
	return each(v.c, func(r row) error { return do(tallyRow(r)) }, talliesSQL, kind, parentKind, from, before)
}

// OwnTallies gives the lines of the subjects of a kind whose own label lies in [from, before), in the order of labels; Parent
// is the label.
func (v *View) OwnTallies(kind, from, before string, do func(Tally) error) error {
	if v.c == nil {
		return errOver
	}
	return each(v.c, func(r row) error { return do(tallyRow(r)) }, ownTalliesSQL, kind, from, before)
}

package store

import (
	"slices"
	"time"

	"fairstick/internal/fact"
)

// mentions is what a state points at, without repeats that differ in nothing.
func (h *held) mentions() []fact.Mention {
	m, ok := h.state.(fact.Mentioner)
	if !ok {
		return nil
	}
	out := m.Mentions()
	for i := range out {
		out[i].At = out[i].At.Truncate(time.Millisecond).UTC()
	}
	return out
}

// saveMentions writes what a state points at, when that differs from what stands there.
func (h *held) saveMentions(c *conn, was *held) error {
	now := h.mentions()
	if was != nil && was.parent == h.parent && slices.Equal(now, was.mentions()) {
		return nil
	}
	if was != nil {
		if err := exec(c, `DELETE FROM mention WHERE kind = ? AND id = ?`, h.ref.Kind, h.ref.ID); err != nil {
			return err
		}
	}
	for _, m := range now {
		err := exec(c, `INSERT INTO mention (kind, id, parent, name, value, at) VALUES (?, ?, ?, ?, ?, ?)`,
			h.ref.Kind, h.ref.ID, h.parent, m.Name, m.Value, m.At.UnixMilli())
		if err != nil {
			return err
		}
	}
	return nil
}

// mentionsFit reports whether the mentions that stand in the table are those of a state.
func mentionsFit(c *conn, h *held) bool {
	got, err := all(c, func(r row) fact.Mention {
		return fact.Mention{Name: r.text(0), Value: r.text(1), At: time.UnixMilli(r.int(2)).UTC()}
	}, `SELECT name, value, at FROM mention WHERE kind = ? AND id = ? AND parent = ? ORDER BY rowid`, h.ref.Kind, h.ref.ID, h.parent)
	return err == nil && slices.Equal(got, h.mentions())
}

// LastMention finds the subject of a kind and parent that mentioned a value last, and when; ok is false when none did.
func (tx *Tx) LastMention(kind, parent, name, value string) (m fact.Mention, id string, ok bool, err error) {
	if err := tx.ready(); err != nil {
		return m, "", false, err
	}
	type hit struct {
		id string
		at int64
	}
	h, ok, err := one(tx.w.c, func(r row) hit { return hit{r.text(0), r.int(1)} },
		`SELECT id, at FROM mention WHERE kind = ? AND parent = ? AND name = ? AND value = ? ORDER BY at DESC LIMIT 1`, kind, parent, name, value)
	return fact.Mention{Name: name, Value: value, At: time.UnixMilli(h.at).UTC()}, h.id, ok, tx.try(err)
}

// LastMentions gives for every value that subjects of a kind mention under a name when it was mentioned last.
func (tx *Tx) LastMentions(kind, name string) (map[string]time.Time, error) {
	if err := tx.ready(); err != nil {
		return nil, err
	}
	out, err := lastMentions(tx.w.c, kind, name)
	return out, tx.try(err)
}

// lastMentionsSQL steps from one value to the next in the index, so that it takes as long as there are values, not mentions.
const lastMentionsSQL = `WITH RECURSIVE v (value) AS (
	SELECT min(value) FROM mention WHERE kind = ? AND name = ?
	UNION ALL SELECT (SELECT min(value) FROM mention WHERE kind = ? AND name = ? AND value > v.value) FROM v WHERE v.value IS NOT NULL)
	SELECT value, (SELECT max(at) FROM mention WHERE kind = ? AND name = ? AND value = v.value) FROM v WHERE value IS NOT NULL`

func lastMentions(c *conn, kind, name string) (map[string]time.Time, error) {
	out := map[string]time.Time{}
	err := each(c, func(r row) error {
		out[r.text(0)] = time.UnixMilli(r.int(1)).UTC()
		return nil
	}, lastMentionsSQL, kind, name, kind, name, kind, name)
	return out, err
}

// Mentioned lists the ids of the subjects of a kind and parent that mention a value, the earliest first.
func (tx *Tx) Mentioned(kind, parent, name, value string) ([]string, error) {
	if err := tx.ready(); err != nil {
		return nil, err
	}
	ids, err := all(tx.w.c, func(r row) string { return r.text(0) },
		`SELECT id FROM mention WHERE kind = ? AND parent = ? AND name = ? AND value = ? GROUP BY id ORDER BY min(at), id`, kind, parent, name, value)
	return ids, tx.try(err)
}

// mentioningSQL looks the subjects up one by one: the plus signs keep SQLite from walking every subject of the kind for the sake
// of the order.
const mentioningSQL = `SELECT ` + heldColumns + ` FROM subject WHERE kind = ? AND id IN
	(SELECT id FROM mention WHERE kind = ? AND parent = ? AND name = ? AND value = ?) ORDER BY +label, +id`

// Mentioning gives the subjects of a kind and parent whose states mention a value, in the order of their labels.
func (v *View) Mentioning(kind, parent, name, value string) ([]fact.State, error) {
	return v.list(mentioningSQL, kind, kind, parent, name, value)
}

// LastLabel gives the last label among the subjects of a kind and parent; "" when there are none.
func (tx *Tx) LastLabel(kind, parent string) (string, error) {
	if err := tx.ready(); err != nil {
		return "", err
	}
	label, _, err := one(tx.w.c, func(r row) string { return r.text(0) },
		`SELECT label FROM subject WHERE kind = ? AND parent = ? ORDER BY label DESC LIMIT 1`, kind, parent)
	return label, tx.try(err)
}

// ready makes the rows say what this command appended, before they are asked.
func (tx *Tx) ready() error {
	if err := tx.usable(); err != nil {
		return err
	}
	return tx.flush()
}

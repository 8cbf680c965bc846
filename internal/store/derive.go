package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"

	"fairstick/internal/fact"
	"fairstick/internal/logbook"
)

// held is one subject as its row says, with the state decoded. It is never changed once made.
type held struct {
	ref           fact.Ref
	parent, label string
	json          []byte
	recorded      string // of the last entry in the order of folding
	arrived       int64  // of the last entry in the order of arrival
	state         fact.State
	size          int // of the state as JSON, also when json was let go
}

// hold makes the row of a state.
func hold(ref fact.Ref, state fact.State, recorded string, arrived int64) (*held, error) {
	data, err := json.Marshal(state)
	if err != nil {
		return nil, fmt.Errorf("store: state of %s: %w", ref.Kind, err)
	}
	h := &held{ref: ref, json: data, size: len(data), recorded: recorded, arrived: arrived, state: state}
	if x, ok := state.(interface{ Index() (parent, label string) }); ok {
		h.parent, h.label = x.Index()
	}
	return h, nil
}

// fresh gives the state of a subject before any fact.
func fresh(cat *fact.Catalogue, ref fact.Ref) (fact.State, error) {
	state, ok := cat.Fresh(ref)
	if !ok {
		return nil, fmt.Errorf("store: %q is not a kind of subject", ref.Kind)
	}
	return state, nil
}

// decode reads a state from the JSON of its row.
func decode(cat *fact.Catalogue, ref fact.Ref, data []byte) (fact.State, error) {
	state, err := fresh(cat, ref)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(data, state); err != nil {
		return nil, fmt.Errorf("store: row of %s %s: %w", ref.Kind, ref.ID, err)
	}
	return state, nil
}

const heldColumns = `kind, id, parent, label, last_recorded, last_arrived, state`

// heldRow reads a row whose columns are heldColumns, its state not decoded.
func heldRow(r row) *held {
	h := &held{
		ref: fact.Ref{Kind: r.text(0), ID: r.text(1)}, parent: r.text(2), label: r.text(3),
		recorded: r.text(4), arrived: r.int(5), json: r.blob(6),
	}
	h.size = len(h.json)
	return h
}

// save writes a row and what the state mentions. When nothing but the state changed since was, the two indexes are left alone.
func (h *held) save(c *conn, was *held) error {
	if err := h.saveMentions(c, was); err != nil {
		return err
	}
	if err := h.saveTally(c, was); err != nil {
		return err
	}
	if err := h.saveStamp(c, was); err != nil {
		return err
	}
	if was != nil && was.parent == h.parent && was.label == h.label {
		return exec(c, `UPDATE subject SET state = ?, last_recorded = ?, last_arrived = ? WHERE kind = ? AND id = ?`,
			jsonText(h.json), h.recorded, h.arrived, h.ref.Kind, h.ref.ID)
	}
	return exec(c, `INSERT INTO subject (kind, id, parent, label, last_recorded, last_arrived, state) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (kind, id) DO UPDATE SET parent = excluded.parent, label = excluded.label, state = excluded.state,
		last_recorded = excluded.last_recorded, last_arrived = excluded.last_arrived`,
		h.ref.Kind, h.ref.ID, h.parent, h.label, h.recorded, h.arrived, jsonText(h.json))
}

type arrivedBytes struct {
	arrived int64
	bytes   []byte
}

func arrivedRow(r row) arrivedBytes { return arrivedBytes{r.int(0), r.blob(1)} }

// records reads every entry of a subject, corrections too, in the order of folding, and the last arrival among them.
func records(c *conn, cat *fact.Catalogue, ref fact.Ref) (out []fact.Record, arrived int64, err error) {
	rows, err := all(c, arrivedRow, `SELECT arrived, bytes FROM entry WHERE subject_kind = ? AND subject_id = ?
		ORDER BY recorded, node, seq`, ref.Kind, ref.ID)
	for _, r := range rows {
		e, err := logbook.Decode(r.bytes)
		if err != nil {
			return nil, 0, err
		}
		out = append(out, readRecord(cat, e))
		arrived = max(arrived, r.arrived)
	}
	return out, arrived, err
}

// readRecord reads an entry as a fact; what this program does not know stands there as logbook.Unread.
func readRecord(cat *fact.Catalogue, e logbook.Entry) fact.Record {
	r, err := e.Record(cat)
	if err != nil {
		return r // its body is Unread, which no state applies; Check counts them
	}
	return r
}

// refold makes a subject again from all its entries; nil when it has none.
func refold(c *conn, cat *fact.Catalogue, ref fact.Ref) (*held, error) {
	recs, arrived, err := records(c, cat, ref)
	if err != nil || len(recs) == 0 {
		return nil, err
	}
	state, err := fresh(cat, ref)
	if err != nil {
		return nil, err
	}
	return hold(ref, fact.Fold(state, once(recs)), recs[len(recs)-1].Recorded, arrived)
}

// once leaves out the later of two facts with one id: an act that was sent to two laptops happened once.
func once(recs []fact.Record) []fact.Record {
	seen := make(map[string]bool, len(recs))
	out := recs[:0:0]
	for _, r := range recs {
		if !seen[r.ID] {
			seen[r.ID] = true
			out = append(out, r)
		}
	}
	return out
}

// subjectsOf lists the subjects that have entries and that this program knows.
func subjectsOf(c *conn, cat *fact.Catalogue) ([]fact.Ref, error) {
	refs, err := all(c, func(r row) fact.Ref { return fact.Ref{Kind: r.text(0), ID: r.text(1)} },
		`SELECT DISTINCT subject_kind, subject_id FROM entry ORDER BY subject_kind, subject_id`)
	known := refs[:0]
	for _, ref := range refs {
		if _, ok := cat.Fresh(ref); ok {
			known = append(known, ref)
		}
	}
	return known, err
}

// rebuild makes the derived tables again from the entries, inside the caller's transaction. tell hears how many subjects are done.
func rebuild(ctx context.Context, c *conn, cat *fact.Catalogue, tell func(done, of int)) error {
	if err := c.script(derivedSQL); err != nil {
		return err
	}
	refs, err := subjectsOf(c, cat)
	if err != nil {
		return err
	}
	for i, ref := range refs {
		if err := ctx.Err(); err != nil {
			return err
		}
		tell(i, len(refs))
		h, err := refold(c, cat, ref)
		if err != nil {
			return err
		}
		if err := h.save(c, nil); err != nil {
			return err
		}
	}
	return noteDerived(c, cat)
}

// shape is a hash of what the derived tables look like: their SQL, and the subjects and bodies that are known.
func shape(cat *fact.Catalogue) string {
	sum := sha256.Sum256([]byte(derivedSQL + "\n" + strings.Join(cat.Subjects(), " ") + "\n" + strings.Join(cat.Bodies(), " ")))
	return hex.EncodeToString(sum[:])
}

// build names the program that folded the entries: another build may fold them differently.
var build = sync.OnceValue(func() string {
	said := []string{runtime.Version()}
	if info, ok := debug.ReadBuildInfo(); ok {
		said = append(said, info.Main.Version)
	}
	if path, err := os.Executable(); err == nil {
		if file, err := os.Stat(path); err == nil {
			said = append(said, fmt.Sprint(file.Size()), clockText(file.ModTime()))
		}
	}
	return strings.Join(said, " ")
})

// noteDerived keeps which shape and which build made the derived tables.
func noteDerived(c *conn, cat *fact.Catalogue) error {
	const set = `INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`
	if err := exec(c, set, "derived_shape", shape(cat)); err != nil {
		return err
	}
	return exec(c, set, "derived_by", build())
}

func meta(c *conn, key string) (string, error) {
	v, _, err := one(c, func(r row) string { return r.text(0) }, `SELECT value FROM meta WHERE key = ?`, key)
	return v, err
}

// derivedFits reports whether the derived tables have the shape that this program reads.
func derivedFits(c *conn, cat *fact.Catalogue) (bool, error) {
	v, err := meta(c, "derived_shape")
	return v == shape(cat), err
}

// states keeps decoded states for the readers, each good for as long as its row still says the same last arrival.
type states struct {
	mu   sync.RWMutex
	m    map[fact.Ref]*held
	size int
}

// keptBytes bounds how much of states is kept decoded, by the writer and by the readers, as it counts in JSON; beyond it they begin
// anew. In memory a decoded state takes some three times as much.
const keptBytes = 32 << 20

func newStates() *states { return &states{m: map[fact.Ref]*held{}} }

func (s *states) get(ref fact.Ref, arrived int64) (*held, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	h, ok := s.m[ref]
	return h, ok && h.arrived == arrived
}

func (s *states) put(hs ...*held) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, h := range hs {
		old, ok := s.m[h.ref]
		if ok && old.arrived >= h.arrived {
			continue
		}
		if ok {
			s.size -= old.size
		}
		if s.size += h.size; s.size > keptBytes {
			clear(s.m)
			s.size = h.size
		}
		s.m[h.ref] = h
	}
}

func (s *states) clear() {
	s.mu.Lock()
	defer s.mu.Unlock()
	clear(s.m)
	s.size = 0
}

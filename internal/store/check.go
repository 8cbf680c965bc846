package store

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"

	"fairstick/internal/fact"
	"fairstick/internal/logbook"
)

// Report is what Check counted and found.
type Report struct {
	Nodes       int // laptops with a chain here
	Entries     int // entries whose place in a chain holds
	Corrections int // of them
	Unread      int // of them, of a kind that this version does not know
	Subjects    int // rows that equal a fold of their entries
	Keys        int // subjects whose personal data can be read
	Erased      int // subjects whose key was destroyed
	Problems    []string
}

// OK reports whether nothing is wrong.
func (r Report) OK() bool { return len(r.Problems) == 0 }

func (r *Report) say(format string, args ...any) {
	r.Problems = append(r.Problems, fmt.Sprintf(format, args...))
}

// Check reads the whole record and changes nothing: the file's own integrity, every entry's bytes, the chain and the
// signed head of every laptop, and that a rebuild from the entries gives exactly the rows that are there. Problems are
// whole sentences; the error is only for a check that could not be carried out.
func (s *Store) Check(ctx context.Context) (Report, error) {
	var r Report
	err := s.readers.with(ctx, func(c *conn) error {
		for _, part := range []func(*conn, *Report) error{checkFile, s.checkChains, s.checkRows, s.checkKeys} {
			if err := part(c, &r); err != nil {
				if !damaged(err) {
					return err
				}
				r.say("The file is damaged: parts of it cannot be read.")
			}
		}
		return nil
	})
	return r, err
}

// Rebuild makes the derived tables again from the entries. It is never needed while Check finds nothing.
func (s *Store) Rebuild(ctx context.Context) error {
	err := s.Write(ctx, func(tx *Tx) error {
		clear(tx.w.cache)
		tx.w.cached = 0
		clear(tx.w.group)
		tx.w.added = true // whatever was kept from the old rows is old
		return tx.try(rebuild(ctx, tx.w.c, s.o.Catalogue, func(int, int) {}))
	})
	s.states.clear()
	return err
}

func checkFile(c *conn, r *Report) error {
	said, err := all(c, func(r row) string { return r.text(0) }, `PRAGMA integrity_check(20)`)
	for _, line := range said {
		if line != "ok" {
			r.say("The file is damaged: %s.", line)
		}
	}
	return err
}

// storedNode is a laptop's row: the end of its chain as signed.
type storedNode struct {
	head              logbook.Head
	public, signature []byte
}

func (s *Store) checkChains(c *conn, r *Report) error {
	nodes, err := all(c, func(r row) storedNode {
		return storedNode{logbook.Head{Node: r.text(0), Seq: uint64(r.int(1)), Hash: r.hash(2)}, r.blob(3), r.blob(4)}
	}, `SELECT node, seq, hash, public, signature FROM node ORDER BY node`)
	if err != nil {
		return err
	}
	r.Nodes = len(nodes)
	for _, n := range nodes {
		if err := s.checkChain(c, r, n); err != nil {
			return err
		}
	}
	strays, err := all(c, func(r row) string { return r.text(0) }, `SELECT DISTINCT node FROM entry WHERE node NOT IN (SELECT node FROM node)`)
	for _, node := range strays {
		r.say("There are entries of laptop %s, but its key is not here.", node)
	}
	return err
}

// found is the columns by which an entry is found; they must say what its bytes say.
type found struct {
	id, recorded, corrects string
	subject                fact.Ref
}

func (s *Store) checkChain(c *conn, r *Report, n storedNode) error {
	var columns found
	var reading error
	kept := func(yield func(logbook.Kept) bool) {
		done := errors.New("done")
		reading = each(c, func(r row) error {
			columns = found{r.text(2), r.text(3), r.text(4), fact.Ref{Kind: r.text(5), ID: r.text(6)}}
			if !yield(logbook.Kept{Bytes: r.blob(0), Hash: r.hash(1)}) {
				return done
			}
			return nil
		}, `SELECT bytes, hash, id, recorded, corrects, subject_kind, subject_id FROM entry WHERE node = ? ORDER BY seq`, n.head.Node)
		if errors.Is(reading, done) {
			reading = nil
		}
	}
	end, err := logbook.VerifyChain(logbook.Head{Node: n.head.Node}, kept, func(l logbook.Link) error {
		r.Entries++
		if l.Corrects != "" {
			r.Corrections++
		}
		if _, err := l.Record(s.o.Catalogue); err != nil {
			r.Unread++
		}
		if columns != (found{l.ID, l.Recorded, l.Corrects, l.Subject}) {
			r.say("Entry %d of laptop %s is filed under something other than what it says.", l.Seq, l.Node)
		}
		return nil
	})
	if reading != nil {
		return reading
	}
	if err != nil {
		r.say("%s", err)
		return nil
	}
	if end != n.head {
		r.say("The chain of laptop %s ends at entry %d, but %d were signed.", n.head.Node, end.Seq, n.head.Seq)
	}
	if !n.head.Verify(ed25519.PublicKey(n.public), n.signature) {
		r.say("The end of the chain of laptop %s does not bear its signature.", n.head.Node)
	}
	return nil
}

func (s *Store) checkRows(c *conn, r *Report) error {
	refs, err := subjectsOf(c, s.o.Catalogue)
	if err != nil {
		return err
	}
	seen := make(map[fact.Ref]bool, len(refs))
	arrived := map[string]int64{} // of what counts, by group
	for _, ref := range refs {
		seen[ref] = true
		want, err := refold(c, s.o.Catalogue, ref)
		if err != nil {
			if damaged(err) {
				return err
			}
			r.say("The entries about %s %s cannot be read.", ref.Kind, ref.ID)
			continue
		}
		got, ok, err := one(c, heldRow, `SELECT `+heldColumns+` FROM subject WHERE kind = ? AND id = ?`, ref.Kind, ref.ID)
		switch {
		case err != nil:
			return err
		case !ok:
			r.say("The row of %s %s is missing.", ref.Kind, ref.ID)
		case !got.same(want):
			r.say("The row of %s %s is not what its entries say.", ref.Kind, ref.ID)
		case !mentionsFit(c, want):
			r.say("The mentions of %s %s are not what its entries say.", ref.Kind, ref.ID)
		case !tallyFits(c, want):
			r.say("What %s %s counts as in reports is not what its entries say.", ref.Kind, ref.ID)
		default:
			r.Subjects++
			if _, counts := want.tally(); counts {
				arrived[want.group()] = max(arrived[want.group()], want.arrived)
			}
		}
	}
	stale, err := staleStamps(c, arrived)
	if err != nil {
		return err
	}
	for _, group := range stale {
		r.say("Counts that are kept of %s would not follow a change of it.", group)
	}
	rows, err := all(c, func(r row) fact.Ref { return fact.Ref{Kind: r.text(0), ID: r.text(1)} }, `SELECT kind, id FROM subject ORDER BY kind, id`)
	for _, ref := range rows {
		if !seen[ref] {
			r.say("There is a row of %s %s, but no entry about it.", ref.Kind, ref.ID)
		}
	}
	return err
}

// same reports whether two rows are equal to the byte.
func (h *held) same(o *held) bool {
	return h.parent == o.parent && h.label == o.label && h.recorded == o.recorded && h.arrived == o.arrived && bytes.Equal(h.json, o.json)
}

func (s *Store) checkKeys(c *conn, r *Report) error {
	return each(c, func(q row) error {
		ref := fact.Ref{Kind: q.text(0), ID: q.text(1)}
		if q.null(2) {
			r.Erased++
			return nil
		}
		if !s.keys.keyring.Holds(q.blob(2), ref) {
			r.say("The key of %s %s cannot be unwrapped: its personal data cannot be read.", ref.Kind, ref.ID)
			return nil
		}
		r.Keys++
		return nil
	}, `SELECT kind, id, wrapped FROM subject_key ORDER BY kind, id`)
}

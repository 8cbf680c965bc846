package store

import (
	"bytes"
	"context"
	"crypto/ed25519"

	"fairstick/internal/fact"
	"fairstick/internal/fault"
	"fairstick/internal/logbook"
)

// Absorb takes a run of another laptop's chain into this record and says how many entries were new. The run must begin no
// later than where this record ends, and its end must be the one that the laptop signed: otherwise nothing of it is kept.
// Entries that are here already are compared and passed over. The subjects that it tells of are folded again, so that any
// order of arrival gives the same states.
func (s *Store) Absorb(ctx context.Context, run logbook.Run) (added int, err error) {
	err = s.Write(ctx, func(tx *Tx) error {
		added, err = tx.absorb(run)
		return err
	})
	return added, err
}

func (tx *Tx) absorb(run logbook.Run) (added int, err error) {
	refuse := func(key, sentence string, cause error) error {
		return fault.New(fault.Refused, key, sentence, "Nothing of what it sent was kept.", "Check both laptops with `fairstick check`.").Because(cause)
	}
	if run.Node == tx.w.head.Node {
		return 0, refuse("own-chain", "Another laptop sent this laptop's own entries.", nil)
	}
	c := tx.w.c
	head, known, err := one(c, func(r row) logbook.Head { return logbook.Head{Node: run.Node, Seq: uint64(r.int(0)), Hash: r.hash(1)} },
		`SELECT seq, hash FROM node WHERE node = ?`, run.Node)
	if err != nil {
		return 0, tx.try(err)
	}
	if !known {
		head = logbook.Head{Node: run.Node}
	}
	var fresh []logbook.Link
	end := head
	for _, data := range run.Entries {
		e, err := logbook.Decode(data)
		if err == nil && e.Node == run.Node && e.Seq <= head.Seq {
			here, _, err := one(c, func(r row) []byte { return r.blob(0) }, `SELECT bytes FROM entry WHERE node = ? AND seq = ?`, e.Node, e.Seq)
			if err != nil {
				return 0, tx.try(err)
			}
			if !bytes.Equal(here, data) {
				return 0, refuse("chain-forked", "Laptop "+run.Node+" has two different histories.", nil)
			}
			continue
		}
		link, err := end.Follow(data)
		if err != nil {
			return 0, refuse("chain-broken", "What laptop "+run.Node+" sent does not follow what is here.", err)
		}
		fresh, end = append(fresh, link), link.Head()
	}
	if !end.Verify(run.Public, run.Signature) {
		return 0, refuse("chain-unsigned", "What laptop "+run.Node+" sent does not bear its signature.", nil)
	}
	if len(fresh) == 0 && known {
		return 0, nil
	}
	return len(fresh), tx.adopt(end, run, fresh)
}

// adopt writes verified links and folds their subjects again.
func (tx *Tx) adopt(end logbook.Head, run logbook.Run, links []logbook.Link) error {
	err := exec(tx.w.c, `INSERT INTO node (node, public, seq, hash, signature) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (node) DO UPDATE SET seq = excluded.seq, hash = excluded.hash, signature = excluded.signature`,
		end.Node, []byte(ed25519.PublicKey(run.Public)), end.Seq, end.Hash[:], run.Signature)
	if err != nil {
		return tx.try(err)
	}
	touched := map[fact.Ref]bool{}
	for _, l := range links {
		if _, err := insert(tx.w.c, l); err != nil {
			return tx.try(err)
		}
		if err := tx.w.clock.Observe(l.Recorded); err != nil {
			return tx.try(err)
		}
		touched[l.Subject] = true
		tx.w.added = true
	}
	for ref := range touched {
		if _, ok := tx.w.s.o.Catalogue.Fresh(ref); !ok {
			continue // a kind that a newer laptop knows: kept, and folded by a program that knows it
		}
		if err := tx.again(ref); err != nil {
			return tx.try(err)
		}
	}
	return nil
}

package store

import "fairstick/internal/fact"

// Records gives every fact about a subject, corrections too, in the order of folding and with what this command appended.
// A kind that this program does not know comes as logbook.Unread.
func (tx *Tx) Records(ref fact.Ref) ([]fact.Record, error) {
	if err := tx.usable(); err != nil {
		return nil, err
	}
	recs, _, err := records(tx.w.c, tx.w.s.o.Catalogue, ref)
	return recs, tx.try(err)
}

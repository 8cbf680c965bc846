package store

import (
	"context"
)

// Local is a bucket of small values of this laptop alone: sign-in sessions, device settings. They are durable but not part
// of the record, are never sent anywhere, and are not looked at by Check.
type Local struct {
	s      *Store
	bucket string
}

// Local gives a bucket by name; it exists from its first Put.
func (s *Store) Local(bucket string) *Local { return &Local{s, bucket} }

// Get gives a value; ok is false when there is none.
func (l *Local) Get(ctx context.Context, key string) (value []byte, ok bool, err error) {
	err = l.s.readers.with(ctx, func(c *conn) error {
		value, ok, err = one(c, func(r row) []byte { return r.blob(0) }, `SELECT value FROM local WHERE bucket = ? AND key = ?`, l.bucket, key)
		return err
	})
	return value, ok, err
}

// All gives every value of the bucket by its key.
func (l *Local) All(ctx context.Context) (map[string][]byte, error) {
	out := map[string][]byte{}
	err := l.s.readers.with(ctx, func(c *conn) error {
		return each(c, func(r row) error { out[r.text(0)] = r.blob(1); return nil }, `SELECT key, value FROM local WHERE bucket = ?`, l.bucket)
	})
	return out, err
}

// Put keeps a value, in the place of an earlier one.
func (l *Local) Put(ctx context.Context, key string, value []byte) error {
	return l.s.Write(ctx, func(tx *Tx) error {
		return tx.try(exec(tx.w.c, `INSERT INTO local (bucket, key, value) VALUES (?, ?, ?)
			ON CONFLICT (bucket, key) DO UPDATE SET value = excluded.value`, l.bucket, key, value))
	})
}

// Delete forgets a value; one that is not there is no error.
func (l *Local) Delete(ctx context.Context, key string) error {
	return l.s.Write(ctx, func(tx *Tx) error {
		return tx.try(exec(tx.w.c, `DELETE FROM local WHERE bucket = ? AND key = ?`, l.bucket, key))
	})
}

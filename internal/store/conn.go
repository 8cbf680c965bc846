package store

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/ncruces/go-sqlite3"

	"fairstick/internal/fault"
)

// This file is the only one that knows the SQLite driver. The driver's own interface is used, not database/sql: there is
// one writer with statements that live as long as it does, and a snapshot per reader is one connection held for a while.

// conn is one connection with the statements prepared on it. It is for one goroutine at a time.
type conn struct {
	db    *sqlite3.Conn
	stmts map[string]*sqlite3.Stmt
}

type access int

const (
	readWrite access = iota
	readOnly
	untouched // reads the file alone: no lock, no WAL, nothing created beside it
)

// dial opens a database file that exists and sets what every connection must have.
func dial(path string, how access) (*conn, error) {
	flags := sqlite3.OPEN_READWRITE
	switch how {
	case readWrite:
	case readOnly:
		flags = sqlite3.OPEN_READONLY
	case untouched:
		flags = sqlite3.OPEN_READONLY | sqlite3.OPEN_URI
		p := filepath.ToSlash(path)
		if !strings.HasPrefix(p, "/") {
			p = "/" + p
		}
		path = (&url.URL{Scheme: "file", Path: p, RawQuery: "immutable=1"}).String()
	}
	db, err := sqlite3.OpenFlags(path, flags)
	if err != nil {
		return nil, err
	}
	c := &conn{db: db, stmts: map[string]*sqlite3.Stmt{}}
	if err := db.Exec(`PRAGMA busy_timeout = 5000; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF`); err != nil {
		return nil, errors.Join(err, c.close())
	}
	if how != readWrite {
		return c, nil
	}
	// WAL with FULL syncs the log at every commit; the two fullfsync pragmas make that reach the disk itself on macOS,
	// where a plain sync stops at the drive's cache. secure_delete overwrites a destroyed key.
	err = db.Exec(`PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA fullfsync = ON; PRAGMA checkpoint_fullfsync = ON;
		PRAGMA secure_delete = ON`)
	if err != nil {
		return nil, errors.Join(err, c.close())
	}
	return c, nil
}

// lock takes an exclusive lock on a file of its own, made when missing, for as long as the connection lives. It uses
// SQLite's locking of an empty database because that is the same on every system.
func lock(path string) (held *conn, taken bool, err error) {
	db, err := sqlite3.OpenFlags(path, sqlite3.OPEN_READWRITE|sqlite3.OPEN_CREATE)
	if err != nil {
		return nil, false, err
	}
	if err := db.Exec(`BEGIN EXCLUSIVE`); err != nil {
		taken := errors.Is(err, sqlite3.BUSY)
		return nil, taken, errors.Join(err, db.Close())
	}
	return &conn{db: db}, false, nil
}

func (c *conn) close() error {
	var err error
	for sql, s := range c.stmts {
		err = errors.Join(err, s.Close())
		delete(c.stmts, sql)
	}
	return errors.Join(err, c.db.Close())
}

// script runs several statements without arguments.
func (c *conn) script(sql string) error { return c.db.Exec(sql) }

// inTransaction reports whether a transaction is open: a full disk may end it without being asked.
func (c *conn) inTransaction() bool { return !c.db.GetAutocommit() }

func (c *conn) prepare(sql string, args []any) (*sqlite3.Stmt, error) {
	s, ok := c.stmts[sql]
	if !ok {
		var err error
		if s, _, err = c.db.PrepareFlags(sql, sqlite3.PREPARE_PERSISTENT); err != nil {
			return nil, fmt.Errorf("%w in %s", err, sql)
		}
		c.stmts[sql] = s
	}
	if s.Busy() {
		return nil, fmt.Errorf("store: statement used inside itself: %s", sql)
	}
	if len(args) != s.BindCount() {
		return nil, fmt.Errorf("store: %d arguments for %s", len(args), sql)
	}
	for i, a := range args {
		var err error
		switch v := a.(type) {
		case string:
			err = s.BindText(i+1, v)
		case []byte:
			if v == nil {
				v = []byte{} // NULL is written in the SQL where it is meant
			}
			err = s.BindBlob(i+1, v)
		case jsonText:
			err = s.BindRawText(i+1, v)
		case int64:
			err = s.BindInt64(i+1, v)
		case uint64:
			err = s.BindInt64(i+1, int64(v))
		case int:
			err = s.BindInt(i+1, v)
		default:
			err = fmt.Errorf("store: cannot bind a %T", a)
		}
		if err != nil {
			return nil, err
		}
	}
	return s, nil
}

// jsonText is bytes that are bound as text.
type jsonText []byte

// row is one row of an answer; columns count from 0.
type row struct{ s *sqlite3.Stmt }

func (r row) text(i int) string { return r.s.ColumnText(i) }
func (r row) blob(i int) []byte { return r.s.ColumnBlob(i, nil) }
func (r row) int(i int) int64   { return r.s.ColumnInt64(i) }
func (r row) null(i int) bool   { return r.s.ColumnType(i) == sqlite3.NULL }

func (r row) hash(i int) (h [32]byte) {
	copy(h[:], r.s.ColumnRawBlob(i))
	return h
}

// exec runs one statement.
func exec(c *conn, sql string, args ...any) error {
	s, err := c.prepare(sql, args)
	if err != nil {
		return err
	}
	return s.Exec()
}

// each shows every row; scan must not use the connection for the same statement.
func each(c *conn, scan func(row) error, sql string, args ...any) error {
	s, err := c.prepare(sql, args)
	if err != nil {
		return err
	}
	for s.Step() {
		if err := scan(row{s}); err != nil {
			return errors.Join(err, s.Reset())
		}
	}
	return s.Reset()
}

// one gives the first row; ok is false when there is none.
func one[T any](c *conn, scan func(row) T, sql string, args ...any) (v T, ok bool, err error) {
	s, err := c.prepare(sql, args)
	if err != nil {
		return v, false, err
	}
	if ok = s.Step(); ok {
		v = scan(row{s})
	}
	return v, ok, s.Reset()
}

// all gives every row.
func all[T any](c *conn, scan func(row) T, sql string, args ...any) ([]T, error) {
	var out []T
	err := each(c, func(r row) error { out = append(out, scan(r)); return nil }, sql, args...)
	return out, err
}

// until makes every statement from now on end when the context does.
func (c *conn) until(ctx context.Context) { c.db.SetInterrupt(ctx) }

// lastRow is the rowid of the row inserted last.
func (c *conn) lastRow() int64 { return c.db.LastInsertRowID() }

// full reports whether an error says that the disk is full.
func full(err error) bool {
	const windowsDiskFull, windowsHandleDiskFull = syscall.Errno(112), syscall.Errno(39)
	return errors.Is(err, sqlite3.FULL) || errors.Is(err, syscall.ENOSPC) ||
		runtime.GOOS == "windows" && (errors.Is(err, windowsDiskFull) || errors.Is(err, windowsHandleDiskFull))
}

// notRecorded is what every command of a group is told when the group could not be made durable.
func notRecorded(err error) *fault.Fault {
	if full(err) {
		return fault.New(fault.Unusable, "not-recorded", "Not recorded: the disk is full.",
			"What you entered is not in the record.", "Free some space on this laptop, then enter it again.").Because(err)
	}
	return fault.New(fault.Unusable, "not-recorded", "Not recorded: the disk did not take it.",
		"What you entered is not in the record.", "Enter it again; if it comes back, carry on with paper and tell the lead.").Because(err)
}

// damaged reports whether an error says that the file is not a sound database.
func damaged(err error) bool {
	return errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB)
}

// clockText is how a local time is kept: UTC, to the millisecond.
func clockText(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

package store

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/ncruces/go-sqlite3"
	_ "github.com/ncruces/go-sqlite3/vfs/adiantum" // the encrypting file layer

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
	alone     // writes, shares with nobody, and maps no memory: a stick that is pulled out is an error, not the end
)

// The driver's file layers by name: the system's own, and the one that encrypts databases, logs and temporary files with
// Adiantum, block by block, over it.
var plain, encrypting = "os", "adiantum"

// address names a database file to the engine. key is nil for a plain file.
func address(path string, key []byte, more ...string) string {
	p := filepath.ToSlash(path)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p
	}
	q := url.Values{"vfs": {plain}}
	if key != nil {
		q.Set("vfs", encrypting)
		q.Set("hexkey", hex.EncodeToString(key))
	}
	for i := 0; i+1 < len(more); i += 2 {
		q.Set(more[i], more[i+1])
	}
	return (&url.URL{Scheme: "file", Path: p, RawQuery: q.Encode()}).String()
}

// dial opens a database file that exists, with the key that it is encrypted with (nil when it is plain), and sets what
// every connection must have.
func dial(path string, how access, key []byte) (*conn, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	name, flags := address(path, key), sqlite3.OPEN_READWRITE
	switch how {
	case readWrite, alone:
	case readOnly:
		flags = sqlite3.OPEN_READONLY
	case untouched:
		name, flags = address(path, key, "immutable", "1"), sqlite3.OPEN_READONLY
	}
	db, err := sqlite3.OpenFlags(name, flags|sqlite3.OPEN_URI)
	if err != nil {
		return nil, err
	}
	c := &conn{db: db, stmts: map[string]*sqlite3.Stmt{}}
	if err := db.Exec(`PRAGMA busy_timeout = 5000; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA temp_store = MEMORY`); err != nil {
		return nil, errors.Join(err, c.close())
	}
	if how != readWrite && how != alone {
		return c, nil
	}
	if how == alone { // the index of the log is then kept in this process, not in a mapped file
		if err := db.Exec(`PRAGMA locking_mode = EXCLUSIVE`); err != nil {
			return nil, errors.Join(err, c.close())
		}
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

// copyTo writes all that this connection's snapshot holds into a new database file, page by page.
func (c *conn) copyTo(ctx context.Context, path string, key []byte) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	b, err := c.db.BackupInit("main", address(path, key))
	if err != nil {
		return err
	}
	for done := false; !done; {
		if err := ctx.Err(); err != nil {
			return errors.Join(err, b.Close())
		}
		if done, err = b.Step(2048); err != nil {
			return errors.Join(err, b.Close())
		}
	}
	return b.Close()
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

// ticking is a context that counts how often it is asked whether it has ended: the engine does so all the time while it works.
type ticking struct {
	context.Context
	tick func()
}

// Err implements context.Context.
func (t ticking) Err() error {
	t.tick()
	return t.Context.Err()
}

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

// unreadable puts into words that the disk does not answer a reader. Every other error passes.
func unreadable(err error) error {
	var told *fault.Fault
	if errors.As(err, &told) || !errors.Is(err, sqlite3.IOERR) && !errors.Is(err, sqlite3.CANTOPEN) {
		return err
	}
	return fault.New(fault.Unusable, "record-unreadable", "The record cannot be read: the disk does not answer.",
		"Nothing new is recorded while it is away.", "Look at the disk of this laptop, and carry on with paper until the pages are back.").Because(err)
}

// damaged reports whether an error says that the file is not a sound database.
func damaged(err error) bool {
	return errors.Is(err, sqlite3.CORRUPT) || errors.Is(err, sqlite3.NOTADB)
}

// busy reports whether an error says that another process holds the file.
func busy(err error) bool { return errors.Is(err, sqlite3.BUSY) }

// clockText is how a local time is kept: UTC, to the millisecond.
func clockText(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

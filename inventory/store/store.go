package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/uptrace/bun"
	"github.com/uptrace/bun/dialect/sqlitedialect"

	"reseal/geo/gpkg"
	"reseal/migrations"
)

// driverName is a sqlite3 driver whose connections know the functions that
// the GeoPackage's R-tree triggers call.
const driverName = "reseal-sqlite3"

func init() {
	sql.Register(driverName, &sqlite3.SQLiteDriver{ConnectHook: gpkg.Register})
}

// Options for Open. The zero value opens an inventory that exists.
type Options struct {
	Create bool             // make the file if it is not there
	Frozen bool             // it must never change: open it for reading alone
	Now    func() time.Time // the clock; nil is time.Now

	schema fs.FS // the migrations; nil is this version's
}

// Store is an open inventory.
type Store struct {
	path     string
	write    *bun.DB // one connection, immediate transactions; nil when the file is read-only
	read     *bun.DB // many connections, query-only
	readOnly error   // why nothing can be written
	now      func() time.Time
	schema   fs.FS
}

// Open opens the inventory at path, migrating a file of an older version
// after it has put a backup copy beside it. A file of a newer version, a
// database that is no inventory, and a missing file are refused with an Error
// that says what to do. A file that may only be read is opened for reading.
func Open(ctx context.Context, path string, opt Options) (*Store, error) {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.schema == nil {
		var err error
		if opt.schema, err = fs.Sub(migrations.Files, "sqlite"); err != nil {
			return nil, err
		}
	}
	s := &Store{path: path, now: opt.Now, schema: opt.schema}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !opt.Create:
		return nil, NotFound("make one with reseal init, or see it all at once with reseal demo",
			"%s: there is no inventory here", path)
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Stat(filepath.Dir(path)); err != nil {
			return nil, NotFound("make the folder first", "%s: there is no folder %s", path, filepath.Dir(path))
		}
	case err != nil:
		return nil, fmt.Errorf("open %s: %w", path, err)
	case info.IsDir():
		return nil, Invalid("name a file, for example "+filepath.Join(path, "reseal.gpkg"), "%s: is a folder", path)
	}
	if opt.Frozen {
		err = s.openReadOnly(ctx, errFrozen)
		s.readOnly = &Error{Kind: ErrInvalid, Text: "what was closed never changes", Hint: "leave --as-of out to change the inventory of today", Err: errFrozen}
	} else {
		err = s.open(ctx, info == nil)
	}
	if err != nil {
		s.Close()
		return nil, translate(path, err)
	}
	return s, nil
}

// errFrozen is why a frozen file is not written.
var errFrozen = errors.New("opened for reading alone")

func (s *Store) open(ctx context.Context, isNew bool) error {
	var err error
	if s.write, err = connect(ctx, s.path, writer); err == nil {
		err = s.upgrade(ctx, isNew)
	}
	var e sqlite3.Error
	if errors.As(err, &e) && !isNew && (e.Code == sqlite3.ErrReadonly || e.Code == sqlite3.ErrCantOpen || e.Code == sqlite3.ErrPerm) {
		return s.openReadOnly(ctx, err)
	}
	if err != nil {
		return err
	}
	s.read, err = connect(ctx, s.path, reader)
	return err
}

// openReadOnly serves readers of a file in a folder that cannot be written.
func (s *Store) openReadOnly(ctx context.Context, why error) error {
	s.readOnly = readOnly(s.path, why)
	if s.write != nil {
		s.write.Close()
		s.write = nil
	}
	var err error
	if s.read, err = connect(ctx, s.path, frozen); err != nil {
		return s.readOnly
	}
	behind, err := pending(ctx, s.read, s.schema)
	if err != nil || len(behind) > 0 {
		return s.readOnly // it would have to be migrated first
	}
	return nil
}

// The three ways to connect.
type mode struct {
	params map[string]string
	conns  int
}

var (
	// database/sql gives a connection to one goroutine at a time: SQLite's own
	// locks around every column would cost an eighth of a long read for nothing.
	common = map[string]string{"_busy_timeout": "5000", "_foreign_keys": "on", "_mutex": "no"}
	writer = mode{conns: 1, params: map[string]string{"_journal_mode": "WAL", "_synchronous": "NORMAL", "_txlock": "immediate", "_cache_size": "-65536"}}
	reader = mode{conns: 4, params: map[string]string{"_query_only": "1"}}
	frozen = mode{conns: 4, params: map[string]string{"_query_only": "1", "mode": "ro", "immutable": "1"}}
)

func connect(ctx context.Context, path string, m mode) (*bun.DB, error) {
	q := url.Values{}
	for k, v := range common {
		q.Set(k, v)
	}
	for k, v := range m.params {
		q.Set(k, v)
	}
	// A file: URI, so that ? # % in a path are data.
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	dsn := (&url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: q.Encode()}).String()
	db, err := sql.Open(driverName, dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(m.conns)
	db.SetMaxIdleConns(m.conns)
	if err := readBack(ctx, db, m); err != nil {
		db.Close()
		return nil, err
	}
	return bun.NewDB(db, sqlitedialect.New()), nil
}

// readBack proves that the pragmas took: the driver ignores a misspelt option
// without a word.
func readBack(ctx context.Context, db *sql.DB, m mode) error {
	for _, p := range []struct{ pragma, option, want string }{
		{"foreign_keys", "_foreign_keys", "1"},
		{"busy_timeout", "_busy_timeout", "5000"},
		{"journal_mode", "_journal_mode", "wal"},
		{"query_only", "_query_only", "1"},
	} {
		if common[p.option] == "" && m.params[p.option] == "" {
			continue
		}
		var got string
		if err := db.QueryRowContext(ctx, "PRAGMA "+p.pragma).Scan(&got); err != nil {
			return err
		}
		if !strings.EqualFold(got, p.want) {
			return fmt.Errorf("pragma %s is %q, want %q", p.pragma, got, p.want)
		}
	}
	return nil
}

// Path is where the inventory lies.
func (s *Store) Path() string { return s.path }

// Now is the store's clock, in UTC.
func (s *Store) Now() time.Time { return s.now().UTC() }

// Read gives query-only access.
func (s *Store) Read() *bun.DB { return s.read }

// Close checkpoints the write-ahead log into the file and closes it.
func (s *Store) Close() error {
	var errs []error
	if s.read != nil {
		errs = append(errs, s.read.Close())
	}
	if s.write != nil {
		errs = append(errs, s.write.Close()) // last, so that SQLite removes the log
	}
	return errors.Join(errs...)
}

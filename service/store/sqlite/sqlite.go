// Package sqlite keeps publications in one SQLite file, with no server: the
// default store of a site. Begin with [Open].
//
// The file is in WAL mode: readers are never blocked by a publication and see the
// one before it until the commit. It belongs on a local disk.
package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"time"

	"github.com/klauspost/compress/zstd"
	driver "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"ropewalk/service"
)

const (
	readers  = 4       // connections for reading
	pageSize = 8192    // bytes; a compressed body is about 1.4 KB
	maxBody  = 1 << 28 // bytes a stored body may unpack to
	patience = 5 * time.Second

	logPatience = 200 * time.Millisecond // for readers, when the log could be emptied
	busyRetry   = 50 * time.Millisecond
)

// Store is a [service.Store] in a file.
type Store struct {
	path   string
	write  *sql.DB // one connection
	read   *sql.DB
	stmts  [len(queries)]*sql.Stmt // on read
	pack   *zstd.Encoder
	unpack *zstd.Decoder
	now    func() time.Time
	newest inquiry // number of the last publication
	watch  watch
	recent lately
}

// Option changes how a store is opened.
type Option func(*Store)

// Clock sets the source of the time of publications; [time.Now] otherwise.
func Clock(now func() time.Time) Option { return func(s *Store) { s.now = now } }

// Open opens the store in the file at path and makes it if there is none. A file
// that is not a store, or whose schema is newer than this program, is an error
// that names the file; it is left as it is.
func Open(path string, options ...Option) (*Store, error) {
	s := &Store{path: path, now: time.Now, recent: newLately()}
	for _, o := range options {
		o(s)
	}
	if err := s.open(); err != nil {
		_ = s.Close()
		return nil, &service.Error{Code: service.CodeOf(s.failed(err)), Message: "store " + path, Err: err}
	}
	return s, nil
}

func (s *Store) open() (err error) {
	if s.write, err = connect(s.path, 1, "synchronous(full)"); err != nil {
		return err
	}
	if err = migrate(s.write); err != nil {
		return err
	}
	if s.read, err = connect(s.path, readers, "query_only(true)", "cache_size(-8192)"); err != nil {
		return err
	}
	for i, text := range queries {
		if s.stmts[i], err = s.read.Prepare(text); err != nil {
			return err
		}
	}
	if s.pack, err = zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedDefault), zstd.WithEncoderConcurrency(1)); err != nil {
		return err
	}
	s.unpack, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(readers), zstd.WithDecoderMaxMemory(maxBody))
	return err
}

func connect(path string, conns int, pragmas ...string) (*sql.DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	q := url.Values{"_pragma": {fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds())}}
	for _, p := range pragmas {
		q.Add("_pragma", p)
	}
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: q.Encode()}
	db, err := sql.Open("sqlite", u.String())
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db, nil
}

// Close ends all work with the file.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if s.unpack != nil {
		s.unpack.Close()
	}
	return errors.Join(errs...)
}

// failed gives an error of the driver its code.
func (s *Store) failed(err error) error {
	if err == nil || errors.As(err, new(*service.Error)) {
		return err
	}
	code := service.Internal
	var e *driver.Error
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded), isBusy(err):
		code = service.Unavailable
	case errors.As(err, &e):
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PROTOCOL:
			code = service.Unavailable
		}
	}
	return &service.Error{Code: code, Message: "store " + s.path, Err: err}
}

func isBusy(err error) bool {
	var e *driver.Error
	if !errors.As(err, &e) {
		return false
	}
	c := e.Code() & 0xff
	return c == sqlite3.SQLITE_BUSY || c == sqlite3.SQLITE_LOCKED
}

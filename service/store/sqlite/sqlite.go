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
	"strings"
	"time"

	"github.com/klauspost/compress/zstd"
	driver "modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"ropewalk/service"
)

const (
	readers   = 4       // connections for reading
	pageSize  = 8192    // bytes; a compressed body is about 1.4 KB
	maxBody   = 1 << 28 // bytes a stored body may unpack to
	patience  = 5 * time.Second
	busyRetry = 50 * time.Millisecond
)

// Store is a [service.Store] in a file.
type Store struct {
	path   string
	write  *sql.DB // one connection
	read   *sql.DB
	get    *sql.Stmt
	list   *sql.Stmt
	last   *sql.Stmt
	tally  *sql.Stmt
	pack   *zstd.Encoder
	unpack *zstd.Decoder
	now    func() time.Time
}

// Option changes how a store is opened.
type Option func(*Store)

// Clock sets the source of the time of publications; [time.Now] otherwise.
func Clock(now func() time.Time) Option { return func(s *Store) { s.now = now } }

// Open opens the store in the file at path and makes it if there is none. A file
// that is not a store, or whose schema is newer than this program, is an error
// that names the file; it is left as it is.
func Open(path string, options ...Option) (*Store, error) {
	s := &Store{path: path, now: time.Now}
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
	for _, q := range []struct {
		stmt **sql.Stmt
		text string
	}{{&s.get, selectRecord}, {&s.list, selectList}, {&s.last, selectLast}, {&s.tally, selectTally}} {
		if *q.stmt, err = s.read.Prepare(q.text); err != nil {
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

const selectRecord = `select t.iri, t.seq, t.state, t.class, t.endpoint, t.label, t.digest,
	v.publication, v.keys, v.sets, v.moved_to, v.reason, v.body, p.time
	from thing t join version v on v.seq = t.seq join publication p on p.number = v.publication
	where t.path = ?`

// Get returns the record at path.
func (s *Store) Get(ctx context.Context, path string) (*service.Record, error) {
	if err := ctx.Err(); err != nil {
		return nil, s.failed(err)
	}
	// Watching the context would cost more than the reading does.
	rows, err := s.get.QueryContext(context.WithoutCancel(ctx), path)
	if err != nil {
		return nil, s.failed(err)
	}
	defer rows.Close()
	if !rows.Next() {
		if err := rows.Err(); err != nil {
			return nil, s.failed(err)
		}
		return nil, service.Errorf(service.NotFound, "nothing was ever published at %q", path)
	}
	r := &service.Record{Path: path}
	var digest, body sql.RawBytes
	var sets string
	var at int64
	err = rows.Scan(&r.IRI, &r.Seq, &r.State, &r.Class, &r.Endpoint, &r.Label, &digest,
		&r.Publication, &r.Keys, &sets, &r.MovedTo, &r.Reason, &body, &at)
	if err != nil {
		return nil, s.failed(err)
	}
	copy(r.Digest[:], digest)
	if sets != "" {
		r.Sets = strings.Split(sets, "\n")
	}
	r.Modified = time.Unix(at, 0).UTC()
	if len(body) > 0 {
		if r.Body, err = s.unpack.DecodeAll(body, nil); err != nil {
			return nil, s.failed(fmt.Errorf("body at %q: %w", path, err))
		}
	}
	if err := rows.Close(); err != nil {
		return nil, s.failed(err)
	}
	return r, nil
}

const selectList = `select iri, path, class, label from thing
	where endpoint = ? and path > ? and state = 1 order by path limit ?`

// List returns live records of an endpoint.
func (s *Store) List(ctx context.Context, l service.Listing) ([]service.Entry, error) {
	rows, err := s.list.QueryContext(ctx, l.Endpoint, l.After, max(l.Limit, 1))
	if err != nil {
		return nil, s.failed(err)
	}
	defer rows.Close()
	var out []service.Entry
	for rows.Next() {
		var e service.Entry
		if err := rows.Scan(&e.IRI, &e.Path, &e.Class, &e.Label); err != nil {
			return nil, s.failed(err)
		}
		out = append(out, e)
	}
	return out, s.failed(rows.Err())
}

const selectTally = `select endpoint, live from tally order by endpoint`

// Tallies counts the live records of each endpoint.
func (s *Store) Tallies(ctx context.Context) ([]service.Tally, error) {
	rows, err := s.tally.QueryContext(ctx)
	if err != nil {
		return nil, s.failed(err)
	}
	defer rows.Close()
	var out []service.Tally
	for rows.Next() {
		var t service.Tally
		if err := rows.Scan(&t.Endpoint, &t.Live); err != nil {
			return nil, s.failed(err)
		}
		out = append(out, t)
	}
	return out, s.failed(rows.Err())
}

const selectLast = `select number, time, added, changed, returned, withdrawn, moved, unchanged
	from publication order by number desc limit 1`

// Current returns the last publication.
func (s *Store) Current(ctx context.Context) (service.Publication, error) {
	p, err := scanPublication(s.last.QueryRowContext(ctx))
	return p, s.failed(err)
}

func scanPublication(row *sql.Row) (service.Publication, error) {
	var p service.Publication
	var at int64
	u := &p.Summary
	err := row.Scan(&p.Number, &at, &u.Added, &u.Changed, &u.Returned, &u.Withdrawn, &u.Moved, &u.Unchanged)
	if errors.Is(err, sql.ErrNoRows) {
		return service.Publication{}, nil
	}
	p.Time = time.Unix(at, 0).UTC()
	return p, err
}

package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"ropewalk/service"
	"ropewalk/service/store/draft"
)

// The queries of readers. Joins are written in the order in which they are to be
// done; "cross" holds SQLite to it.
const (
	getRecord = iota
	getVersion
	getAt
	getFirst
	listLive
	listChanges
	listChangesBodies
	listNamed
	listNamedBodies
	listLog
	listVersions
	walkLive
	bounds
	countAll
	countNamed
	extentOf
	extents
	lastPublication
	lastNumber
	publications
	earliest
	labelOf
	known
	markOf
)

const (
	headColumns = `select t.iri, v.path, v.seq, v.prev, v.state, v.class, v.endpoint, v.label, v.digest, v.publication,
		v.sets, v.moved_to, v.reason, v.change, p.time, `
	plain  = headColumns + `0, '', x''`
	full   = headColumns + `0, v.keys, v.body`
	ofThis = ` from version v cross join thing t on t.path = v.path cross join publication p on p.number = v.publication `

	publicationColumns = `select number, time, added, changed, returned, withdrawn, moved, unchanged, first_seq, last_seq, note, sources
		from publication `

	// Seqs between two times, both included.
	seqFrom  = `coalesce((select first_seq from publication where time >= ?2 order by time limit 1), 9223372036854775807)`
	seqUntil = `coalesce((select last_seq from publication where time <= ?3 order by time desc limit 1), 0)`

	ofAll    = ` from thing t cross join version v on v.seq = t.seq cross join publication p on p.number = v.publication `
	inRange  = ` t.seq > ?1 and t.seq >= ` + seqFrom + ` and t.seq <= ` + seqUntil + ` and t.seq <= ?4 order by t.seq limit ?5`
	ofName   = ` from entry e cross join version v on v.seq = e.seq cross join thing t on t.path = v.path cross join publication p on p.number = v.publication `
	inNamed  = ` e.name = ?6 and e.seq > ?1 and e.seq >= ` + seqFrom + ` and e.seq <= ` + seqUntil + ` and e.seq <= ?4 order by e.seq limit ?5`
	leftHead = `e.departed, `
)

var queries = [...]string{
	getRecord:         full + ofAll + `where t.path = ?`,
	getVersion:        full + ofThis + `where v.seq = ?`,
	getAt:             full + ofThis + `where v.path = ? and v.seq <= coalesce((select last_seq from publication where time <= ? order by time desc limit 1), 0) order by v.seq desc limit 1`,
	getFirst:          full + ofThis + `where v.path = ? order by v.seq limit 1`,
	listLive:          `select iri, path, class, label from thing where endpoint = ? and path > ? and state = 1 order by path limit ?`,
	listChanges:       plain + ofAll + `where` + inRange,
	listChangesBodies: full + ofAll + `where` + inRange,
	listNamed:         headColumns + leftHead + `'', x''` + ofName + `where` + inNamed,
	listNamedBodies:   headColumns + leftHead + `v.keys, v.body` + ofName + `where` + inNamed,
	listLog:           plain + ofThis + `where v.seq > ? order by v.seq limit ?`,
	listVersions:      plain + ofThis + `where v.path = ? and v.seq > ? order by v.seq limit ?`,
	walkLive:          full + ofAll + `where t.state = 1 order by t.path`,
	bounds:            `select max(?1 + 1, ` + seqFrom + `), min(` + seqUntil + `, ?4)`,
	countAll:          `select count(*) from thing where seq >= ? and seq <= ?`,
	countNamed:        `select count(*) from entry where name = ?3 and seq >= ?1 and seq <= ?2`,
	extentOf:          `select listed from extent where name = ?`,
	extents:           `select name, live from extent where name >= 'e:' and name < 'e;' and live > 0 order by name`,
	lastPublication:   publicationColumns + `order by number desc limit 1`,
	lastNumber:        `select coalesce(max(number), 0) from publication`,
	publications:      publicationColumns + `where number < ? order by number desc limit ?`,
	earliest:          `select time from publication order by number limit 1`,
	labelOf:           `select label from thing where path = ? and state = 1`,
	known:             `select 1 from thing where path = ?`,
	markOf:            `select seq from mark where name = ?`,
}

// columns receives a row of a query that begins with headColumns.
type columns struct {
	r            service.Record
	digest, body sql.RawBytes
	sets         string
	at           int64
}

func (c *columns) scan(s *Store, rows *sql.Rows) error {
	r := &c.r
	*r = service.Record{Body: r.Body}
	if err := rows.Scan(&r.IRI, &r.Path, &r.Seq, &r.Prev, &r.State, &r.Class, &r.Endpoint, &r.Label, &c.digest, &r.Publication,
		&c.sets, &r.MovedTo, &r.Reason, &r.Change, &c.at, &r.Left, &r.Keys, &c.body); err != nil {
		return err
	}
	copy(r.Digest[:], c.digest)
	r.Sets = draft.SplitSets(c.sets)
	r.Modified = time.Unix(c.at, 0).UTC()
	r.Body = r.Body[:0]
	if len(c.body) > 0 {
		var err error
		if r.Body, err = s.unpack.DecodeAll(c.body, r.Body); err != nil {
			return fmt.Errorf("body at %q: %w", r.Path, err)
		}
	}
	return nil
}

// query runs a prepared query. Watching the context would cost more than the
// reading of a row does, so it is looked at before, and between rows.
func (s *Store) query(ctx context.Context, q int, args ...any) (*sql.Rows, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return s.stmts[q].QueryContext(context.WithoutCancel(ctx), args...)
}

// one returns the record of the first row, or nil.
func (s *Store) one(ctx context.Context, q int, args ...any) (*service.Record, error) {
	rows, err := s.query(ctx, q, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	if !rows.Next() {
		return nil, rows.Err()
	}
	c := new(columns)
	if err := c.scan(s, rows); err != nil {
		return nil, err
	}
	return &c.r, rows.Close()
}

// many returns the records of all rows.
func (s *Store) many(ctx context.Context, q int, args ...any) ([]service.Record, error) {
	rows, err := s.query(ctx, q, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []service.Record
	for rows.Next() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var c columns
		if err := c.scan(s, rows); err != nil {
			return nil, err
		}
		out = append(out, c.r)
	}
	return out, rows.Err()
}

func never(path string) error {
	return service.Errorf(service.NotFound, "nothing was ever published at %q", path)
}

// Get returns the record at path.
func (s *Store) Get(ctx context.Context, path string) (*service.Record, error) {
	if err := ctx.Err(); err != nil {
		return nil, s.failed(err)
	}
	last, err := s.lastPublication()
	if err != nil {
		return nil, s.failed(err)
	}
	at := moment{last, path}
	r, none := s.recent.get(at)
	if r == nil && !none {
		if r, err = s.one(ctx, getRecord, path); err != nil {
			return nil, s.failed(err)
		}
		s.recent.put(at, r)
	}
	if r == nil {
		return nil, never(path)
	}
	mine := *r
	return &mine, nil
}

// Labels returns labels of live records.
func (s *Store) Labels(ctx context.Context, paths []string) (map[string]string, error) {
	out := make(map[string]string, len(paths))
	for _, p := range paths {
		if err := ctx.Err(); err != nil {
			return nil, s.failed(err)
		}
		var label string
		switch err := s.stmts[labelOf].QueryRow(p).Scan(&label); {
		case err == nil:
			out[p] = label
		case !errors.Is(err, sql.ErrNoRows):
			return nil, s.failed(err)
		}
	}
	return out, nil
}

// List returns live records of an endpoint.
func (s *Store) List(ctx context.Context, l service.Listing) ([]service.Entry, error) {
	rows, err := s.query(ctx, listLive, l.Endpoint, l.After, max(l.Limit, 1))
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

// Tallies counts the live records of each endpoint.
func (s *Store) Tallies(ctx context.Context) ([]service.Tally, error) {
	rows, err := s.query(ctx, extents)
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
		t.Endpoint = strings.TrimPrefix(t.Endpoint, draft.EndpointName(""))
		out = append(out, t)
	}
	return out, s.failed(rows.Err())
}

// window turns the bounds of a selection into arguments of inRange and inNamed.
func window(q service.Selection) (from, until, through int64) {
	from, until, through = math.MinInt64, math.MaxInt64, math.MaxInt64
	if !q.From.IsZero() {
		from = q.From.Unix()
		if q.From.Nanosecond() > 0 {
			from++
		}
	}
	if !q.Until.IsZero() {
		until = q.Until.Unix()
	}
	if q.Through > 0 {
		through = q.Through
	}
	return from, until, through
}

// Changes returns part of a selection.
func (s *Store) Changes(ctx context.Context, q service.Selection) ([]service.Record, error) {
	name, err := draft.SelectionName(q)
	if err != nil {
		return nil, err
	}
	from, until, through := window(q)
	args := []any{q.After, from, until, through, max(q.Limit, 1)}
	text := listChanges
	if name != draft.Everything {
		text, args = listNamed, append(args, name)
	}
	if q.Bodies {
		text++
	}
	out, err := s.many(ctx, text, args...)
	return out, s.failed(err)
}

// countAtMost is how many versions a range may have for Count to look at each.
const countAtMost = 10000

// Count counts a selection, or estimates it.
func (s *Store) Count(ctx context.Context, q service.Selection) (int64, bool, error) {
	name, err := draft.SelectionName(q)
	if err != nil {
		return 0, false, err
	}
	if err := ctx.Err(); err != nil {
		return 0, false, s.failed(err)
	}
	var listed, lo, hi int64
	if err := s.stmts[extentOf].QueryRow(name).Scan(&listed); errors.Is(err, sql.ErrNoRows) {
		return 0, true, nil
	} else if err != nil {
		return 0, false, s.failed(err)
	}
	if q.From.IsZero() && q.Until.IsZero() && q.Through == 0 {
		return listed, true, nil
	}
	from, until, through := window(q)
	if err := s.stmts[bounds].QueryRow(0, from, until, through).Scan(&lo, &hi); err != nil {
		return 0, false, s.failed(err)
	}
	switch span := hi - lo + 1; {
	case hi < lo:
		return 0, true, nil
	case span > countAtMost:
		return min(listed, span), false, nil
	}
	var n int64
	if name == draft.Everything {
		err = s.stmts[countAll].QueryRow(lo, hi).Scan(&n)
	} else {
		err = s.stmts[countNamed].QueryRow(lo, hi, name).Scan(&n)
	}
	return n, true, s.failed(err)
}

// Log returns versions in order.
func (s *Store) Log(ctx context.Context, after int64, limit int) ([]service.Record, error) {
	out, err := s.many(ctx, listLog, after, max(limit, 1))
	return out, s.failed(err)
}

// Walk goes through all live records.
func (s *Store) Walk(ctx context.Context, f func(*service.Record) error) (service.Publication, error) {
	var none service.Publication
	tx, err := s.read.BeginTx(context.WithoutCancel(ctx), &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return none, s.failed(err)
	}
	defer func() { _ = tx.Rollback() }()
	p, err := scanPublication(tx.Stmt(s.stmts[lastPublication]).QueryRow())
	if err != nil {
		return none, s.failed(err)
	}
	rows, err := tx.Stmt(s.stmts[walkLive]).Query()
	if err != nil {
		return none, s.failed(err)
	}
	defer rows.Close()
	var c columns
	for rows.Next() {
		if err := ctx.Err(); err != nil {
			return none, s.failed(err)
		}
		if err := c.scan(s, rows); err != nil {
			return none, s.failed(err)
		}
		if err := f(&c.r); err != nil {
			return none, err
		}
	}
	return p, s.failed(rows.Err())
}

// Versions returns versions of one record.
func (s *Store) Versions(ctx context.Context, path string, after int64, limit int) ([]service.Record, error) {
	out, err := s.many(ctx, listVersions, path, after, max(limit, 1))
	if err != nil {
		return nil, s.failed(err)
	}
	if len(out) == 0 {
		var one int
		if err := s.stmts[known].QueryRow(path).Scan(&one); errors.Is(err, sql.ErrNoRows) {
			return nil, never(path)
		} else if err != nil {
			return nil, s.failed(err)
		}
	}
	return out, nil
}

// Version returns one version.
func (s *Store) Version(ctx context.Context, seq int64) (*service.Record, error) {
	r, err := s.one(ctx, getVersion, seq)
	if err != nil {
		return nil, s.failed(err)
	}
	if r == nil {
		return nil, service.Errorf(service.NotFound, "there is no version %d", seq)
	}
	return r, nil
}

// At returns the version that was in force at a time.
func (s *Store) At(ctx context.Context, path string, t time.Time) (*service.Record, error) {
	r, err := s.one(ctx, getAt, path, t.Unix())
	if err == nil && r == nil {
		r, err = s.one(ctx, getFirst, path)
	}
	if err != nil {
		return nil, s.failed(err)
	}
	if r == nil {
		return nil, never(path)
	}
	return r, nil
}

// Current returns the last publication.
func (s *Store) Current(ctx context.Context) (service.Publication, error) {
	if err := ctx.Err(); err != nil {
		return service.Publication{}, s.failed(err)
	}
	p, err := scanPublication(s.stmts[lastPublication].QueryRow())
	return p, s.failed(err)
}

// Publications returns publications, newest first.
func (s *Store) Publications(ctx context.Context, before int64, limit int) ([]service.Publication, error) {
	if before <= 0 {
		before = math.MaxInt64
	}
	rows, err := s.query(ctx, publications, before, max(limit, 1))
	if err != nil {
		return nil, s.failed(err)
	}
	defer rows.Close()
	var out []service.Publication
	for rows.Next() {
		p, err := scanPublication(rows)
		if err != nil {
			return nil, s.failed(err)
		}
		out = append(out, p)
	}
	return slices.Clip(out), s.failed(rows.Err())
}

func scanPublication(row interface{ Scan(...any) error }) (service.Publication, error) {
	var p service.Publication
	var at int64
	u := &p.Summary
	err := row.Scan(&p.Number, &at, &u.Added, &u.Changed, &u.Returned, &u.Withdrawn, &u.Moved, &u.Unchanged,
		&p.First, &p.Last, &p.Note, &p.Sources)
	if errors.Is(err, sql.ErrNoRows) {
		return service.Publication{}, nil
	}
	p.Time = time.Unix(at, 0).UTC()
	return p, err
}

// Earliest is the time of the first publication.
func (s *Store) Earliest(ctx context.Context) (time.Time, error) {
	var at int64
	switch err := s.stmts[earliest].QueryRowContext(ctx).Scan(&at); {
	case errors.Is(err, sql.ErrNoRows):
		return time.Time{}, nil
	case err != nil:
		return time.Time{}, s.failed(err)
	}
	return time.Unix(at, 0).UTC(), nil
}

// Mark returns a mark.
func (s *Store) Mark(ctx context.Context, name string) (int64, error) {
	var seq int64
	err := s.stmts[markOf].QueryRowContext(ctx, name).Scan(&seq)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return seq, s.failed(err)
}

// SetMark sets a mark.
func (s *Store) SetMark(ctx context.Context, name string, seq int64) error {
	return s.failed(retryBusy(ctx, func() error {
		_, err := s.write.ExecContext(ctx, "insert into mark (name, seq) values (?, ?) on conflict (name) do update set seq = excluded.seq", name, seq)
		return err
	}))
}

// retryBusy calls f again while another process writes, until ctx ends.
func retryBusy(ctx context.Context, f func() error) error {
	for {
		err := f()
		if !isBusy(err) {
			return err
		}
		select {
		case <-ctx.Done():
			return &service.Error{Code: service.Unavailable, Message: "another publication is under way", Err: ctx.Err()}
		case <-time.After(busyRetry):
		}
	}
}

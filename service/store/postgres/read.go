package postgres

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"ropewalk/service"
	"ropewalk/service/store/draft"
)

// Lists take their rows by one index first, as many as are asked for, and join the
// rest to those: so no plan can read more than a page.
const (
	headColumns = `select t.iri, v.path, v.seq, v.prev, v.state, v.class, v.endpoint, v.label, v.digest, v.publication,
		v.sets, v.moved_to, v.reason, v.change, p.time, `
	none   = `'', ''::bytea`
	whole  = `v.keys, v.body`
	joined = ` join publication p on p.number = v.publication `
	ofThis = ` from version v join thing t on t.path = v.path` + joined

	publicationColumns = `select number, time, added, changed, returned, withdrawn, moved, unchanged, first_seq, last_seq, note, sources from publication `

	// Seqs between two times, both included.
	seqFrom  = `coalesce((select first_seq from publication where time >= $2 order by time limit 1), 9223372036854775807)`
	seqUntil = `coalesce((select last_seq from publication where time <= $3 order by time desc limit 1), 0)`
	inRange  = ` seq > $1 and seq >= ` + seqFrom + ` and seq <= ` + seqUntil + ` and seq <= $4 order by seq limit $5`
	ofAll    = ` from (select seq, iri from thing where` + inRange + `) t join version v on v.seq = t.seq` + joined + `order by v.seq`
	ofName   = ` from (select seq, departed from entry where name = $6 and` + inRange + `) e join version v on v.seq = e.seq join thing t on t.path = v.path` + joined + `order by v.seq`

	selectRecord   = headColumns + `false, ` + whole + ` from thing t join version v on v.seq = t.seq` + joined + `where t.path = $1`
	selectVersion  = headColumns + `false, ` + whole + ofThis + `where v.seq = $1`
	selectAt       = headColumns + `false, ` + whole + ofThis + `where v.path = $1 and v.seq <= coalesce((select last_seq from publication where time <= $2 order by time desc limit 1), 0) order by v.seq desc limit 1`
	selectFirst    = headColumns + `false, ` + whole + ofThis + `where v.path = $1 order by v.seq limit 1`
	selectList     = `select iri, path, class, label from thing where endpoint = $1 and state = 1 and path > $2 order by path limit $3`
	selectLog      = headColumns + `false, ` + none + ` from (select * from version where seq > $1 order by seq limit $2) v join thing t on t.path = v.path` + joined + `order by v.seq`
	selectVersions = headColumns + `false, ` + none + ` from (select * from version where path = $1 and seq > $2 order by seq limit $3) v join thing t on t.path = v.path` + joined + `order by v.seq`
	selectWalk     = headColumns + `false, ` + whole + ` from (select path, iri, seq from thing where state = 1 and path > $1 order by path limit $2) t join version v on v.seq = t.seq` + joined + `order by t.path`
	selectEnds     = headColumns + `false, ` + none + ofThis + `where v.seq = any($1)`
	selectPresent  = headColumns + `false, ` + none + ` from thing t join version v on v.seq = t.seq` + joined + `where t.path = $1`
	selectBounds   = `select greatest($1::bigint + 1, ` + seqFrom + `), least(` + seqUntil + `, $4::bigint)`
	selectLast     = publicationColumns + `order by number desc limit 1`
)

// columns receives a row of a query that begins with headColumns.
type columns struct {
	r                  service.Record
	path, digest, body []byte
	state, change      int16
	sets               string
	at                 int64
}

func (c *columns) scan(s *Store, rows pgx.Rows) error {
	r := &c.r
	*r = service.Record{}
	if err := rows.Scan(&r.IRI, &c.path, &r.Seq, &r.Prev, &c.state, &r.Class, &r.Endpoint, &r.Label, &c.digest, &r.Publication,
		&c.sets, &r.MovedTo, &r.Reason, &c.change, &c.at, &r.Left, &r.Keys, &c.body); err != nil {
		return err
	}
	r.Path, r.State, r.Change = string(c.path), service.State(c.state), service.Change(c.change)
	copy(r.Digest[:], c.digest)
	r.Sets = draft.SplitSets(c.sets)
	r.Modified = time.Unix(c.at, 0).UTC()
	if len(c.body) > 0 {
		var err error
		if r.Body, err = s.unpack.DecodeAll(c.body, nil); err != nil {
			return fmt.Errorf("body at %q: %w", r.Path, err)
		}
	}
	return nil
}

// querier is a pool, a connection or a transaction.
type querier interface {
	Query(ctx context.Context, text string, args ...any) (pgx.Rows, error)
}

// records runs a query that begins with headColumns.
func (s *Store) records(ctx context.Context, q querier, text string, args ...any) ([]service.Record, error) {
	rows, err := q.Query(ctx, text, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []service.Record
	for rows.Next() {
		var c columns
		if err := c.scan(s, rows); err != nil {
			return nil, err
		}
		out = append(out, c.r)
	}
	return out, rows.Err()
}

func (s *Store) many(ctx context.Context, text string, args ...any) (out []service.Record, err error) {
	err = s.retry(ctx, func(ctx context.Context) (err error) {
		out, err = s.records(ctx, s.pool, text, args...)
		return err
	})
	return out, err
}

// one returns the record of the only row, or nil.
func (s *Store) one(ctx context.Context, text string, args ...any) (*service.Record, error) {
	l, err := s.many(ctx, text, args...)
	if err != nil || len(l) == 0 {
		return nil, err
	}
	return &l[0], nil
}

// row reads one row of anything; it reports false if there is none.
func (s *Store) row(ctx context.Context, to []any, text string, args ...any) (bool, error) {
	found := true
	err := s.retry(ctx, func(ctx context.Context) error {
		err := s.pool.QueryRow(ctx, text, args...).Scan(to...)
		if found = !errors.Is(err, pgx.ErrNoRows); !found {
			return nil
		}
		return err
	})
	return found && err == nil, err
}

func never(path string) error {
	return service.Errorf(service.NotFound, "nothing was ever published at %q", path)
}

// Get returns the record at path.
func (s *Store) Get(ctx context.Context, path string) (*service.Record, error) {
	r, err := s.one(ctx, selectRecord, []byte(path))
	if err == nil && r == nil {
		err = never(path)
	}
	return r, err
}

// Labels returns labels of live records.
func (s *Store) Labels(ctx context.Context, paths []string) (map[string]string, error) {
	out := make(map[string]string, len(paths))
	for part := range slices.Chunk(paths, 1000) {
		keys := make([][]byte, len(part))
		for i, p := range part {
			keys[i] = []byte(p)
		}
		err := s.retry(ctx, func(ctx context.Context) error {
			rows, err := s.pool.Query(ctx, "select path, label from thing where path = any($1) and state = 1", keys)
			if err != nil {
				return err
			}
			var path []byte
			var label string
			_, err = pgx.ForEachRow(rows, []any{&path, &label}, func() error {
				out[string(path)] = label
				return nil
			})
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// List returns live records of an endpoint.
func (s *Store) List(ctx context.Context, l service.Listing) (out []service.Entry, err error) {
	err = s.retry(ctx, func(ctx context.Context) error {
		out = nil
		rows, err := s.pool.Query(ctx, selectList, l.Endpoint, []byte(l.After), max(l.Limit, 1))
		if err != nil {
			return err
		}
		var e service.Entry
		var path []byte
		_, err = pgx.ForEachRow(rows, []any{&e.IRI, &path, &e.Class, &e.Label}, func() error {
			e.Path = string(path)
			out = append(out, e)
			return nil
		})
		return err
	})
	return out, err
}

// Tallies counts the live records of each endpoint.
func (s *Store) Tallies(ctx context.Context) (out []service.Tally, err error) {
	err = s.retry(ctx, func(ctx context.Context) error {
		out = nil
		rows, err := s.pool.Query(ctx, "select name, live from extent where live > 0")
		if err != nil {
			return err
		}
		var name string
		var live int
		_, err = pgx.ForEachRow(rows, []any{&name, &live}, func() error {
			if endpoint, ok := strings.CutPrefix(name, draft.EndpointName("")); ok {
				out = append(out, service.Tally{Endpoint: endpoint, Live: live})
			}
			return nil
		})
		return err
	})
	slices.SortFunc(out, func(a, b service.Tally) int { return strings.Compare(a.Endpoint, b.Endpoint) })
	return out, err
}

// window turns the bounds of a selection into arguments of inRange.
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
	content := none
	if q.Bodies {
		content = whole
	}
	if name == draft.Everything {
		return s.many(ctx, headColumns+"false, "+content+ofAll, args...)
	}
	return s.many(ctx, headColumns+"e.departed, "+content+ofName, append(args, name)...)
}

// countAtMost is how many versions a range may have for Count to look at each.
const countAtMost = 10000

// Count counts a selection, or estimates it.
func (s *Store) Count(ctx context.Context, q service.Selection) (int64, bool, error) {
	name, err := draft.SelectionName(q)
	if err != nil {
		return 0, false, err
	}
	var listed, lo, hi, n int64
	found, err := s.row(ctx, []any{&listed}, "select listed from extent where name = $1", name)
	if err != nil || !found || q.From.IsZero() && q.Until.IsZero() && q.Through == 0 {
		return listed, err == nil, err
	}
	from, until, through := window(q)
	if _, err := s.row(ctx, []any{&lo, &hi}, selectBounds, 0, from, until, through); err != nil {
		return 0, false, err
	}
	switch span := hi - lo + 1; {
	case hi < lo:
		return 0, true, nil
	case span > countAtMost:
		return min(listed, span), false, nil
	}
	if name == draft.Everything {
		_, err = s.row(ctx, []any{&n}, "select count(*) from thing where seq >= $1 and seq <= $2", lo, hi)
	} else {
		_, err = s.row(ctx, []any{&n}, "select count(*) from entry where name = $3 and seq >= $1 and seq <= $2", lo, hi, name)
	}
	return n, err == nil, err
}

// Log returns versions in order.
func (s *Store) Log(ctx context.Context, after int64, limit int) ([]service.Record, error) {
	return s.many(ctx, selectLog, after, max(limit, 1))
}

// walkPage is how many records a walk reads at a time.
const walkPage = 500

// Walk goes through all live records, in a transaction that sees one state. A broken
// connection ends it: f cannot be called again with what it had.
func (s *Store) Walk(ctx context.Context, f func(*service.Record) error) (service.Publication, error) {
	var p service.Publication
	var own error
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) (err error) {
		if p, err = scanPublication(tx.QueryRow(ctx, selectLast)); err != nil {
			return err
		}
		after := []byte{}
		for {
			page, err := s.records(ctx, tx, selectWalk, after, walkPage)
			if err != nil {
				return err
			}
			for i := range page {
				if err := ctx.Err(); err != nil {
					return err
				}
				if own = f(&page[i]); own != nil {
					return own
				}
			}
			if len(page) < walkPage {
				return ctx.Err()
			}
			after = []byte(page[len(page)-1].Path)
		}
	})
	if own != nil {
		return service.Publication{}, own
	}
	if err != nil {
		return service.Publication{}, s.failed(errors.Join(ctx.Err(), err))
	}
	return p, nil
}

// Versions returns versions of one record.
func (s *Store) Versions(ctx context.Context, path string, after int64, limit int) ([]service.Record, error) {
	out, err := s.many(ctx, selectVersions, []byte(path), after, max(limit, 1))
	if err != nil || len(out) > 0 {
		return out, err
	}
	var one int
	found, err := s.row(ctx, []any{&one}, "select 1 from thing where path = $1", []byte(path))
	if err == nil && !found {
		err = never(path)
	}
	return nil, err
}

// Version returns one version.
func (s *Store) Version(ctx context.Context, seq int64) (*service.Record, error) {
	r, err := s.one(ctx, selectVersion, seq)
	if err == nil && r == nil {
		err = service.Errorf(service.NotFound, "there is no version %d", seq)
	}
	return r, err
}

// At returns the version that was in force at a time.
func (s *Store) At(ctx context.Context, path string, t time.Time) (*service.Record, error) {
	r, err := s.one(ctx, selectAt, []byte(path), t.Unix())
	if err == nil && r == nil {
		r, err = s.one(ctx, selectFirst, []byte(path))
	}
	if err == nil && r == nil {
		err = never(path)
	}
	return r, err
}

// Current returns the last publication.
func (s *Store) Current(ctx context.Context) (p service.Publication, err error) {
	err = s.retry(ctx, func(ctx context.Context) (err error) {
		p, err = scanPublication(s.pool.QueryRow(ctx, selectLast))
		return err
	})
	return p, err
}

// Publications returns publications, newest first.
func (s *Store) Publications(ctx context.Context, before int64, limit int) (out []service.Publication, err error) {
	if before <= 0 {
		before = math.MaxInt64
	}
	err = s.retry(ctx, func(ctx context.Context) error {
		rows, err := s.pool.Query(ctx, publicationColumns+"where number < $1 order by number desc limit $2", before, max(limit, 1))
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (service.Publication, error) { return scanPublication(row) })
		return err
	})
	return out, err
}

func scanPublication(row interface{ Scan(...any) error }) (service.Publication, error) {
	var p service.Publication
	var at int64
	u := &p.Summary
	err := row.Scan(&p.Number, &at, &u.Added, &u.Changed, &u.Returned, &u.Withdrawn, &u.Moved, &u.Unchanged,
		&p.First, &p.Last, &p.Note, &p.Sources)
	if errors.Is(err, pgx.ErrNoRows) {
		return service.Publication{}, nil
	}
	p.Time = time.Unix(at, 0).UTC()
	return p, err
}

// Earliest is the time of the first publication.
func (s *Store) Earliest(ctx context.Context) (time.Time, error) {
	var at int64
	found, err := s.row(ctx, []any{&at}, "select time from publication order by number limit 1")
	if !found {
		return time.Time{}, err
	}
	return time.Unix(at, 0).UTC(), nil
}

// Mark returns a mark.
func (s *Store) Mark(ctx context.Context, name string) (int64, error) {
	var seq int64
	_, err := s.row(ctx, []any{&seq}, "select seq from mark where name = $1", name)
	return seq, err
}

// SetMark sets a mark.
func (s *Store) SetMark(ctx context.Context, name string, seq int64) error {
	return s.retry(ctx, func(ctx context.Context) error {
		_, err := s.pool.Exec(ctx, "insert into mark (name, seq) values ($1, $2) on conflict (name) do update set seq = excluded.seq", name, seq)
		return err
	})
}

package sqlite

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"strings"

	"ropewalk/service"
	"ropewalk/service/store/draft"
)

// Records wait until this many or this much is there, so that they can be written
// in the order of their paths: rows of thing then fill page after page.
const (
	batchRows  = 5000
	batchBytes = 16 << 20
	endsAtOnce = 500
)

type row struct {
	draft.Row
	from, to int // body in backend.bodies
}

// backend is the [draft.Backend] of a draft. It works in one transaction.
type backend struct {
	s     *Store
	conn  *sql.Conn
	last  service.Publication
	book  *draft.Book
	texts int // of names that are packed already; -1 if none is, or not rightly

	rows    []row
	bodies  []byte
	entries []draft.Entry // for sorting
	stmts   [len(draftQueries)]*sql.Stmt
	done    bool // the transaction is committed
}

const (
	insertVersion = iota
	insertThing
	updateThing
	insertEntry
	deleteEntry
	ownerOf
	presentAt
	versionOf
	endOf
)

var draftQueries = [...]string{
	insertVersion: `insert into version (seq, prev, path, publication, state, class, endpoint, label, digest, keys, sets, moved_to, reason, body, change)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
	insertThing: `insert into thing (path, iri, seq, state, class, endpoint, label, digest, names) values (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
	updateThing: `update thing set seq = ?, state = ?, class = ?, endpoint = ?, label = ?, digest = ?, names = ? where path = ?`,
	insertEntry: `insert into entry (name, seq, departed) values (?, ?, ?)`,
	deleteEntry: `delete from entry where name = ? and seq = ?`,
	ownerOf:     `select iri from thing where path = ?`,
	presentAt:   plain + ofAll + `where t.path = ?`,
	versionOf:   queries[getVersion],
	endOf:       plain + ofThis + `where v.seq = ?`,
}

// Begin opens a draft. It holds the file's write lock until the draft ends.
func (s *Store) Begin(ctx context.Context) (service.Draft, error) {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return nil, s.failed(err)
	}
	err = retryBusy(ctx, func() error {
		_, err := conn.ExecContext(ctx, "begin immediate")
		return err
	})
	if err != nil {
		_ = conn.Close()
		return nil, s.failed(err)
	}
	b := &backend{s: s, conn: conn}
	if b.book, err = b.load(ctx); err != nil {
		return nil, errors.Join(s.failed(err), b.End())
	}
	b.book.Use(b)
	return b.book, nil
}

// load reads what is published: as the last publication packed it, else thing by thing.
func (b *backend) load(ctx context.Context) (*draft.Book, error) {
	var err error
	if b.last, err = scanPublication(b.conn.QueryRowContext(ctx, queries[lastPublication])); err != nil {
		return nil, err
	}
	for i, text := range draftQueries {
		if b.stmts[i], err = b.conn.PrepareContext(ctx, text); err != nil {
			return nil, err
		}
	}
	var n int
	if err := b.conn.QueryRowContext(ctx, "select coalesce(sum(listed), 0) from extent where name = ?", draft.Everything).Scan(&n); err != nil {
		return nil, err
	}
	if book, err := b.packed(ctx, n); book != nil || err != nil {
		return book, err
	}
	return b.plain(ctx, n)
}

// packed reads the packed book; nil if there is none of the last publication.
func (b *backend) packed(ctx context.Context, n int) (*draft.Book, error) {
	var number int64
	switch err := b.conn.QueryRowContext(ctx, "select publication from packing").Scan(&number); {
	case errors.Is(err, sql.ErrNoRows):
		return nil, nil
	case err != nil:
		return nil, err
	case number != b.last.Number:
		return nil, nil
	}
	texts, err := gather[string](ctx, b.conn, "select names from packed_names order by place")
	if err != nil {
		return nil, err
	}
	parts, err := gather[[]byte](ctx, b.conn, "select things from packed order by part")
	if err != nil {
		return nil, err
	}
	book := draft.New(b.last, n)
	if !book.Unpack(texts, parts, n) {
		return nil, nil
	}
	rows, err := b.conn.QueryContext(ctx, `select t.path, t.iri, v.moved_to from thing t cross join version v on v.seq = t.seq where t.state = 3`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var path, iri, to string
		if err := rows.Scan(&path, &iri, &to); err != nil {
			return nil, err
		}
		book.AddMoved(path, iri, to)
	}
	b.texts = len(texts)
	return book, rows.Err()
}

// gather reads the only column of all rows.
func gather[T any](ctx context.Context, c *sql.Conn, query string) ([]T, error) {
	rows, err := c.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		var v T
		if err := rows.Scan(&v); err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

func (b *backend) plain(ctx context.Context, n int) (*draft.Book, error) {
	book := draft.New(b.last, n)
	book.Spoil()
	b.texts = -1
	rows, err := b.conn.QueryContext(ctx, `select path, seq, state, digest, names, iri,
		iif(state = 3, (select moved_to from version v where v.seq = thing.seq), '') from thing`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var path, digest, names, iri, movedTo sql.RawBytes
	var seq int64
	var state service.State
	for rows.Next() {
		if err := rows.Scan(&path, &seq, &state, &digest, &names, &iri, &movedTo); err != nil {
			return nil, err
		}
		book.Add(path, seq, state, digest, names, iri, movedTo)
	}
	return book, rows.Err()
}

// repack writes what the next draft must know, in the same transaction.
func (b *backend) repack(ctx context.Context, number int64) error {
	do := func(query string, args ...any) error {
		_, err := b.conn.ExecContext(ctx, query, args...)
		return err
	}
	if b.texts < 0 {
		b.texts = 0
		if err := errors.Join(do("delete from packed"), do("delete from packed_names")); err != nil {
			return err
		}
	}
	texts, err := b.book.Pack(func(part int, things []byte) error {
		return do("insert into packed (part, things) values (?, ?) on conflict (part) do update set things = excluded.things", part, things)
	}, b.texts)
	if err != nil {
		return err
	}
	for i, t := range texts {
		if err := do("insert into packed_names (place, names) values (?, ?)", b.texts+i, t); err != nil {
			return err
		}
	}
	return do("insert into packing (id, publication) values (1, ?) on conflict (id) do update set publication = excluded.publication", number)
}

func (b *backend) one(q int, arg any) (*service.Record, error) {
	rows, err := b.stmts[q].Query(arg)
	if err != nil {
		return nil, b.s.failed(err)
	}
	defer rows.Close()
	if !rows.Next() {
		return nil, b.s.failed(errors.Join(rows.Err(), sql.ErrNoRows))
	}
	c := new(columns)
	if err := c.scan(b.s, rows); err != nil {
		return nil, b.s.failed(err)
	}
	return &c.r, nil
}

// Present is the published record at a path.
func (b *backend) Present(path string) (*service.Record, error) { return b.one(presentAt, path) }

// Version is a published version.
func (b *backend) Version(seq int64) (*service.Record, error) { return b.one(versionOf, seq) }

// Owner is the IRI at a path.
func (b *backend) Owner(path string) (string, error) {
	for i := range b.rows { // not yet written
		if b.rows[i].Path == path {
			return b.rows[i].IRI, nil
		}
	}
	var iri string
	err := b.stmts[ownerOf].QueryRow(path).Scan(&iri)
	return iri, b.s.failed(err)
}

// Ends reads published records.
func (b *backend) Ends(seqs []int64, f func(*service.Record) error) error {
	for part := range slices.Chunk(seqs, endsAtOnce) {
		was := make([]*service.Record, len(part))
		for i, seq := range part {
			var err error
			if was[i], err = b.one(endOf, seq); err != nil {
				return err
			}
		}
		for _, r := range was {
			if err := f(r); err != nil {
				return err
			}
		}
	}
	return nil
}

// Keep takes a version.
func (b *backend) Keep(r *draft.Row) error {
	w := row{Row: *r, from: len(b.bodies)}
	w.Body = nil
	if len(r.Body) > 0 {
		b.bodies = b.s.pack.EncodeAll(r.Body, b.bodies)
	}
	w.to = len(b.bodies)
	b.rows = append(b.rows, w)
	if len(b.rows) >= batchRows || len(b.bodies) >= batchBytes {
		return b.flush()
	}
	return nil
}

func (b *backend) flush() error {
	if err := b.write(); err != nil {
		return b.s.failed(err)
	}
	clear(b.rows)
	b.rows, b.bodies = b.rows[:0], b.bodies[:0]
	return nil
}

func (b *backend) write() error {
	for i := range b.rows {
		w := &b.rows[i]
		body := b.bodies[w.from:w.to]
		if body == nil {
			body = []byte{}
		}
		if _, err := b.stmts[insertVersion].Exec(w.Seq, w.Prev, w.Path, w.Publication, w.State, w.Class, w.Endpoint, w.Label,
			w.Digest[:], w.Keys, w.SetLines, w.MovedTo, w.Reason, body, w.Change); err != nil {
			return err
		}
	}
	slices.SortFunc(b.rows, func(a, b row) int { return strings.Compare(a.Path, b.Path) })
	for i := range b.rows {
		w := &b.rows[i]
		var err error
		if w.Prev == 0 {
			_, err = b.stmts[insertThing].Exec(w.Path, w.IRI, w.Seq, w.State, w.Class, w.Endpoint, w.Label, w.Digest[:], w.Names)
		} else {
			_, err = b.stmts[updateThing].Exec(w.Seq, w.State, w.Class, w.Endpoint, w.Label, w.Digest[:], w.Names, w.Path)
		}
		if err != nil {
			return err
		}
	}
	for _, e := range b.sorted(func(w *row) []draft.Entry { return w.End }) {
		if _, err := b.stmts[deleteEntry].Exec(e.Name, e.Seq); err != nil {
			return err
		}
	}
	for _, e := range b.sorted(func(w *row) []draft.Entry { return w.Begin }) {
		if _, err := b.stmts[insertEntry].Exec(e.Name, e.Seq, e.Left); err != nil {
			return err
		}
	}
	return nil
}

// sorted gathers entries of all rows in the order in which the table has them.
func (b *backend) sorted(of func(*row) []draft.Entry) []draft.Entry {
	b.entries = b.entries[:0]
	for i := range b.rows {
		b.entries = append(b.entries, of(&b.rows[i])...)
	}
	slices.SortFunc(b.entries, draft.Entry.Compare)
	return b.entries
}

// Kept reads the first versions of the draft with a kind of change.
func (b *backend) Kept(kind service.Change, limit int) ([]*service.Record, error) {
	if err := b.flush(); err != nil {
		return nil, err
	}
	// Its publication is not written yet: that of the version is joined by none.
	rows, err := b.conn.QueryContext(context.Background(), `select t.iri, v.path, v.seq, v.prev, v.state, v.class, v.endpoint, v.label, v.digest, v.publication,
		v.sets, v.moved_to, v.reason, v.change, 0, 0, v.keys, v.body
		from version v cross join thing t on t.path = v.path where v.seq > ? and v.change = ? order by v.seq limit ?`, b.last.Last, kind, limit)
	if err != nil {
		return nil, b.s.failed(err)
	}
	defer rows.Close()
	var out []*service.Record
	for rows.Next() {
		c := new(columns)
		if err := c.scan(b.s, rows); err != nil {
			return nil, b.s.failed(err)
		}
		out = append(out, &c.r)
	}
	return out, b.s.failed(rows.Err())
}

// Publish commits.
func (b *backend) Publish(ctx context.Context, p service.Publication, extents []draft.Extent) (service.Publication, error) {
	err := b.publish(ctx, &p, extents)
	if err != nil {
		return service.Publication{}, b.s.failed(err)
	}
	b.done = true
	// The log may have grown to the size of the publication. Readers of older
	// states may keep this from being done now; then a later one does it, so a
	// publisher hardly waits for them.
	whole := context.WithoutCancel(ctx)
	for _, pragma := range []string{fmt.Sprintf("busy_timeout(%d)", logPatience.Milliseconds()), "wal_checkpoint(truncate)", fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds())} {
		_, _ = b.conn.ExecContext(whole, "pragma "+pragma)
	}
	return p, nil
}

func (b *backend) publish(ctx context.Context, p *service.Publication, extents []draft.Extent) error {
	if err := b.write(); err != nil {
		return err
	}
	for _, e := range extents {
		if _, err := b.conn.ExecContext(ctx, `insert into extent (name, listed, live) values (?, ?, ?)
			on conflict (name) do update set listed = listed + excluded.listed, live = live + excluded.live`, e.Name, e.Listed, e.Live); err != nil {
			return err
		}
	}
	if err := b.repack(ctx, p.Number); err != nil {
		return err
	}
	// The time is taken last: what readers see after a moment bears a later time.
	p.Time = service.NextTime(b.last.Time, b.s.now())
	u := p.Summary
	if _, err := b.conn.ExecContext(ctx, `insert into publication (number, time, added, changed, returned, withdrawn, moved, unchanged, first_seq, last_seq, note, sources)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		p.Number, p.Time.Unix(), u.Added, u.Changed, u.Returned, u.Withdrawn, u.Moved, u.Unchanged, p.First, p.Last, p.Note, p.Sources); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	_, err := b.conn.ExecContext(context.WithoutCancel(ctx), "commit")
	return err
}

// End rolls back what was not committed and gives the connection back.
func (b *backend) End() error {
	var err error
	if !b.done {
		// After some failures SQLite has rolled back by itself.
		_, err = b.conn.ExecContext(context.Background(), "rollback")
		if err != nil && strings.Contains(err.Error(), "no transaction is active") {
			err = nil
		}
		if err != nil {
			// A connection that may still hold the lock must not be used again.
			_ = b.conn.Raw(func(any) error { return driver.ErrBadConn })
		}
	}
	for _, s := range b.stmts {
		if s != nil {
			_ = s.Close()
		}
	}
	err = errors.Join(err, b.conn.Close())
	b.rows, b.bodies = nil, nil
	return b.s.failed(err)
}

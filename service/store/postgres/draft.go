package postgres

import (
	"context"
	"crypto/rand"
	"errors"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"ropewalk/service"
	"ropewalk/service/store/draft"
)

const (
	batchRows  = 2000
	batchBytes = 16 << 20
	endsAtOnce = 1000
)

// backend is the [draft.Backend] of a draft. While the draft is made it holds the
// lock of the row of ropewalk, in a transaction that does nothing else, on a
// connection of its own: that of a process that dies is let go by the server. What
// the draft keeps goes to a spool and, at the end, into that same transaction.
type backend struct {
	s     *Store
	last  service.Publication
	token string
	spool spool
	pack  []byte

	mu   sync.Mutex // conn and tx: the heartbeat uses them too
	conn *pgx.Conn
	tx   pgx.Tx
	stop chan struct{}
	done sync.WaitGroup
}

// Begin opens a draft.
func (s *Store) Begin(ctx context.Context) (service.Draft, error) {
	for try := 1; ; try++ {
		d, err := s.begin(ctx)
		switch {
		case err == nil:
			return d, nil
		case ctx.Err() != nil:
			return nil, &service.Error{Code: service.Unavailable, Message: "another publication is under way", Err: errors.Join(ctx.Err(), err)}
		case waited(err): // the server limits how long one may wait for a lock
			try = 4
		case try == writeTries || !calledOff(err) && !lost(err) || refused(err):
			return nil, s.failed(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(time.Duration(try*try) * 5 * time.Millisecond):
		}
	}
}

// waited reports whether a wait for the lock was cut off by a limit of the server:
// lock not available, query cancelled.
func waited(err error) bool {
	state := sqlState(err)
	return state == "55P03" || state == "57014"
}

const diskFull = "53100" // does not pass by itself in the time of a few tries

func (s *Store) begin(ctx context.Context) (service.Draft, error) {
	b := &backend{s: s, token: rand.Text(), stop: make(chan struct{})}
	if err := b.lock(ctx); err != nil {
		return nil, errors.Join(err, b.End())
	}
	book, err := b.load(ctx)
	if err != nil {
		return nil, errors.Join(err, b.End())
	}
	book.Use(b)
	b.done.Add(1)
	go b.heartbeat()
	return book, nil
}

// lock connects and waits until no other draft is open.
func (b *backend) lock(ctx context.Context) error {
	var err error
	if b.conn, err = pgx.ConnectConfig(ctx, b.s.pool.Config().ConnConfig); err != nil {
		return err
	}
	if b.tx, err = b.conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.ReadCommitted}); err != nil {
		return err
	}
	var number int64
	return b.tx.QueryRow(ctx, "select publication from ropewalk where id = 1 for update").Scan(&number)
}

// unlock gives the lock back; what was written is forgotten.
func (b *backend) unlock() {
	if b.conn == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), dialTime)
	defer cancel()
	_ = b.conn.Close(ctx) // the server rolls back
	b.conn, b.tx = nil, nil
}

// heartbeat keeps servers and what lies between from taking the connection for
// dead.
func (b *backend) heartbeat() {
	defer b.done.Done()
	tick := time.NewTicker(b.s.beat)
	defer tick.Stop()
	for {
		select {
		case <-b.stop:
			return
		case <-tick.C:
		}
		b.mu.Lock()
		if b.tx != nil {
			ctx, cancel := context.WithTimeout(context.Background(), dialTime)
			_, _ = b.tx.Exec(ctx, "select 1") // if it is lost, Publish finds out
			cancel()
		}
		b.mu.Unlock()
	}
}

func (b *backend) load(ctx context.Context) (*draft.Book, error) {
	var err error
	if b.last, err = scanPublication(b.tx.QueryRow(ctx, selectLast)); err != nil {
		return nil, err
	}
	var n int
	if err := b.tx.QueryRow(ctx, "select coalesce(sum(listed), 0)::bigint from extent where name = $1", draft.Everything).Scan(&n); err != nil {
		return nil, err
	}
	book := draft.New(b.last, n)
	rows, err := b.tx.Query(ctx, `select path, seq, state, digest, names, iri,
		case when state = 3 then coalesce((select moved_to from version v where v.seq = thing.seq), '') else '' end from thing`)
	if err != nil {
		return nil, err
	}
	var path, digest, names, iri, movedTo pgtype.DriverBytes
	var seq int64
	var state int16
	_, err = pgx.ForEachRow(rows, []any{&path, &seq, &state, &digest, &names, &iri, &movedTo}, func() error {
		book.Add(path, seq, service.State(state), digest, names, iri, movedTo)
		return nil
	})
	return book, err
}

// Present is the published record at a path.
func (b *backend) Present(path string) (*service.Record, error) {
	r, err := b.s.one(context.Background(), selectPresent, []byte(path))
	if err == nil && r == nil {
		err = never(path)
	}
	return r, err
}

// Owner is the IRI at a path.
func (b *backend) Owner(path string) (string, error) {
	var iri string
	found, err := b.s.row(context.Background(), []any{&iri}, "select iri from thing where path = $1", []byte(path))
	if found || err != nil {
		return iri, err
	}
	err = b.spool.each(func(r *spooled) (bool, error) {
		if r.Path == path {
			iri = r.IRI
		}
		return iri == "", nil
	})
	if err == nil && iri == "" {
		err = never(path)
	}
	return iri, b.s.failed(err)
}

// Version is a published version.
func (b *backend) Version(seq int64) (*service.Record, error) {
	return b.s.Version(context.Background(), seq)
}

// Ends reads published records.
func (b *backend) Ends(seqs []int64, f func(*service.Record) error) error {
	for part := range slices.Chunk(seqs, endsAtOnce) {
		l, err := b.s.many(context.Background(), selectEnds, part)
		if err != nil {
			return err
		}
		bySeq := make(map[int64]*service.Record, len(l))
		for i := range l {
			bySeq[l[i].Seq] = &l[i]
		}
		for _, seq := range part {
			r := bySeq[seq]
			if r == nil {
				return service.Errorf(service.Internal, "store %s: there is no version %d", b.s.name, seq)
			}
			if err := f(r); err != nil {
				return err
			}
		}
	}
	return nil
}

// Keep takes a version.
func (b *backend) Keep(r *draft.Row) error {
	b.pack = b.pack[:0]
	if len(r.Body) > 0 {
		b.pack = b.s.pack.EncodeAll(r.Body, b.pack)
	}
	return b.s.failed(b.spool.add(r, b.pack))
}

// Kept reads the first versions of the draft with a kind of change.
func (b *backend) Kept(kind service.Change, limit int) ([]*service.Record, error) {
	var out []*service.Record
	err := b.spool.each(func(r *spooled) (bool, error) {
		if r.Change == kind {
			c := r.Record
			c.Sets = draft.SplitSets(r.SetLines)
			if len(r.packed) > 0 {
				var err error
				if c.Body, err = b.s.unpack.DecodeAll(r.packed, nil); err != nil {
					return false, err
				}
			}
			out = append(out, &c)
		}
		return len(out) < limit, nil
	})
	return out, b.s.failed(err)
}

// Publish writes all that was kept and commits. If the transaction is called off or
// the connection lost it is done again from the spool, provided that no other
// publication came between.
func (b *backend) Publish(ctx context.Context, p service.Publication, extents []draft.Extent) (service.Publication, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for try := 1; ; try++ {
		done, err := b.attempt(ctx, &p, extents, try > 1)
		if err == nil && done {
			return p, nil
		}
		b.unlock()
		if e := ctx.Err(); e != nil {
			return p, b.s.failed(errors.Join(e, err))
		}
		if try == writeTries || !calledOff(err) && !lost(err) && !refused(err) || sqlState(err) == diskFull {
			return p, b.s.failed(err)
		}
		select {
		case <-ctx.Done():
		case <-time.After(time.Duration(try*try) * 40 * time.Millisecond):
		}
	}
}

func (b *backend) attempt(ctx context.Context, p *service.Publication, extents []draft.Extent, again bool) (bool, error) {
	if again {
		if err := b.lock(ctx); err != nil {
			return false, err
		}
		// It may have been committed, and the answer lost.
		last, err := scanPublication(b.tx.QueryRow(ctx, selectLast))
		if err != nil {
			return false, err
		}
		if last.Number != b.last.Number {
			var token string
			if err := b.tx.QueryRow(ctx, "select token from publication where number = $1", p.Number).Scan(&token); err != nil {
				return false, err
			}
			if token != b.token {
				return false, service.Errorf(service.Unavailable, "store %s: another publication came between while the connection was lost", b.s.name)
			}
			p.Time, err = publishedAt(ctx, b.tx, p.Number)
			return err == nil, err
		}
	}
	if err := b.write(ctx); err != nil {
		return false, err
	}
	for _, e := range extents {
		if _, err := b.tx.Exec(ctx, `insert into extent as x (name, listed, live) values ($1, $2, $3)
			on conflict (name) do update set listed = x.listed + excluded.listed, live = x.live + excluded.live`, e.Name, e.Listed, e.Live); err != nil {
			return false, err
		}
	}
	// The time is taken last: what readers see after a moment bears a later time.
	p.Time = service.NextTime(b.last.Time, b.s.now())
	u := p.Summary
	if _, err := b.tx.Exec(ctx, `insert into publication (number, time, added, changed, returned, withdrawn, moved, unchanged, first_seq, last_seq, note, sources, token)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)`,
		p.Number, p.Time.Unix(), u.Added, u.Changed, u.Returned, u.Withdrawn, u.Moved, u.Unchanged, p.First, p.Last, p.Note, p.Sources, b.token); err != nil {
		return false, err
	}
	if _, err := b.tx.Exec(ctx, "update ropewalk set publication = $1 where id = 1", p.Number); err != nil {
		return false, err
	}
	if err := ctx.Err(); err != nil {
		return false, err
	}
	err := b.tx.Commit(context.WithoutCancel(ctx))
	return err == nil, err
}

func publishedAt(ctx context.Context, tx pgx.Tx, number int64) (time.Time, error) {
	var at int64
	err := tx.QueryRow(ctx, "select time from publication where number = $1", number).Scan(&at)
	return time.Unix(at, 0).UTC(), err
}

// write writes the spool, batch by batch.
func (b *backend) write(ctx context.Context) error {
	var batch []*spooled
	size := 0
	err := b.spool.each(func(r *spooled) (bool, error) {
		batch, size = append(batch, r), size+len(r.packed)
		if len(batch) < batchRows && size < batchBytes {
			return true, nil
		}
		err := b.writeBatch(ctx, batch)
		batch, size = batch[:0], 0
		return err == nil, err
	})
	if err != nil {
		return err
	}
	return b.writeBatch(ctx, batch)
}

func (b *backend) writeBatch(ctx context.Context, batch []*spooled) error {
	if len(batch) == 0 {
		return nil
	}
	_, err := b.tx.CopyFrom(ctx, pgx.Identifier{"version"}, []string{"seq", "prev", "path", "publication", "state", "change", "class", "endpoint",
		"label", "digest", "keys", "sets", "moved_to", "reason", "body"},
		pgx.CopyFromSlice(len(batch), func(i int) ([]any, error) {
			r := batch[i]
			body := r.packed
			if body == nil {
				body = []byte{}
			}
			return []any{r.Seq, r.Prev, []byte(r.Path), r.Publication, int16(r.State), int16(r.Change), r.Class, r.Endpoint,
				r.Label, r.Digest[:], r.Keys, r.SetLines, r.MovedTo, r.Reason, body}, nil
		}))
	if err != nil {
		return err
	}
	slices.SortFunc(batch, func(a, b *spooled) int { return strings.Compare(a.Path, b.Path) })
	var added, changed []*spooled
	var end, begin []draft.Entry
	for _, r := range batch {
		if r.Prev == 0 {
			added = append(added, r)
		} else {
			changed = append(changed, r)
		}
		end, begin = append(end, r.End...), append(begin, r.Begin...)
	}
	if _, err := b.tx.CopyFrom(ctx, pgx.Identifier{"thing"}, thingColumns,
		pgx.CopyFromSlice(len(added), func(i int) ([]any, error) { return thingRow(added[i]), nil })); err != nil {
		return err
	}
	for part := range slices.Chunk(changed, 500) {
		args := make([]any, 0, len(part)*len(thingColumns))
		for _, r := range part {
			args = append(args, thingRow(r)...)
		}
		if _, err := b.tx.Exec(ctx, upsertThings(len(part)), args...); err != nil {
			return err
		}
	}
	slices.SortFunc(end, draft.Entry.Compare)
	for len(end) > 0 {
		name := end[0].Name
		var seqs []int64
		for len(end) > 0 && end[0].Name == name {
			seqs, end = append(seqs, end[0].Seq), end[1:]
		}
		if _, err := b.tx.Exec(ctx, "delete from entry where name = $1 and seq = any($2)", name, seqs); err != nil {
			return err
		}
	}
	slices.SortFunc(begin, draft.Entry.Compare)
	_, err = b.tx.CopyFrom(ctx, pgx.Identifier{"entry"}, []string{"name", "seq", "departed"},
		pgx.CopyFromSlice(len(begin), func(i int) ([]any, error) { return []any{begin[i].Name, begin[i].Seq, begin[i].Left}, nil }))
	return err
}

var thingColumns = []string{"path", "iri", "seq", "state", "class", "endpoint", "label", "digest", "names"}

func thingRow(r *spooled) []any {
	return []any{[]byte(r.Path), r.IRI, r.Seq, int16(r.State), r.Class, r.Endpoint, r.Label, r.Digest[:], r.Names}
}

// upsertThings is an insert of n rows that are there already, which is how many rows
// are updated by their key in one statement.
func upsertThings(n int) string {
	b := []byte("insert into thing (" + strings.Join(thingColumns, ", ") + ") values ")
	arg := 1
	for i := range n {
		if i > 0 {
			b = append(b, ", "...)
		}
		for k := range thingColumns {
			b = append(b, ",("[max(0, 1-k)], '$')
			b = strconv.AppendInt(b, int64(arg), 10)
			arg++
		}
		b = append(b, ')')
	}
	b = append(b, " on conflict (path) do update set "...)
	for k, c := range thingColumns[2:] {
		if k > 0 {
			b = append(b, ", "...)
		}
		b = append(b, c+" = excluded."+c...)
	}
	return string(b)
}

// End rolls back what was not committed and gives the lock back.
func (b *backend) End() error {
	select {
	case <-b.stop:
		return nil
	default:
		close(b.stop)
	}
	b.done.Wait()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.unlock()
	return b.s.failed(b.spool.close())
}

package sqlite

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"database/sql/driver"
	"errors"
	"slices"
	"strings"
	"time"

	"ropewalk/service"
)

// Records wait until this many or this much is there, so that they can be written
// in the order of their paths: rows of thing then fill page after page.
const (
	batchRows  = 5000
	batchBytes = 16 << 20
)

// published is what a draft knows of an address; with its hash about 60 bytes,
// whatever the size of the document.
type published struct {
	seq    int64
	digest service.Digest
	state  service.State
	seen   bool
}

type pathHash [16]byte

func hashPath(path string) pathHash {
	var b [128]byte
	sum := sha256.Sum256(append(b[:0], path...))
	return pathHash(sum[:16])
}

type row struct {
	service.Record
	prev int64
	sets string
	from int // body in draft.bodies
	to   int
}

type draft struct {
	s      *Store
	conn   *sql.Conn
	last   service.Publication
	known  map[pathHash]int32
	things []published
	seq    int64
	sum    service.Summary
	unseen int

	rows   []row
	bodies []byte
	newer  *sql.Stmt
	insert *sql.Stmt
	update *sql.Stmt
	owner  *sql.Stmt

	err error // what broke the draft
}

// Begin opens a draft. It holds the file's write lock until the draft ends.
func (s *Store) Begin(ctx context.Context) (service.Draft, error) {
	conn, err := s.write.Conn(ctx)
	if err != nil {
		return nil, s.failed(err)
	}
	for {
		if _, err = conn.ExecContext(ctx, "begin immediate"); !isBusy(err) {
			break
		}
		select {
		case <-ctx.Done():
			_ = conn.Close()
			return nil, &service.Error{Code: service.Unavailable, Message: "another publication is under way", Err: ctx.Err()}
		case <-time.After(busyRetry):
		}
	}
	if err != nil {
		_ = conn.Close()
		return nil, s.failed(err)
	}
	d := &draft{s: s, conn: conn}
	if err := d.load(ctx); err != nil {
		_ = d.Discard()
		return nil, s.failed(err)
	}
	return d, nil
}

func (d *draft) load(ctx context.Context) error {
	var err error
	if d.last, err = scanPublication(d.conn.QueryRowContext(ctx, selectLast)); err != nil {
		return err
	}
	var n int
	if err = d.conn.QueryRowContext(ctx, "select count(*) from thing").Scan(&n); err != nil {
		return err
	}
	if err = d.conn.QueryRowContext(ctx, "select coalesce(max(seq), 0) from version").Scan(&d.seq); err != nil {
		return err
	}
	d.known = make(map[pathHash]int32, n)
	d.things = make([]published, 0, n)
	rows, err := d.conn.QueryContext(ctx, "select path, seq, state, digest from thing")
	if err != nil {
		return err
	}
	defer rows.Close()
	var path, digest sql.RawBytes
	for rows.Next() {
		var p published
		if err := rows.Scan(&path, &p.seq, &p.state, &digest); err != nil {
			return err
		}
		copy(p.digest[:], digest)
		sum := sha256.Sum256(path)
		d.known[pathHash(sum[:16])] = int32(len(d.things))
		d.things = append(d.things, p)
		if p.state == service.Live {
			d.unseen++
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, q := range []struct {
		stmt **sql.Stmt
		text string
	}{{&d.newer, insertVersion}, {&d.insert, insertThing}, {&d.update, updateThing}, {&d.owner, "select iri from thing where path = ?"}} {
		if *q.stmt, err = d.conn.PrepareContext(ctx, q.text); err != nil {
			return err
		}
	}
	return nil
}

const (
	insertVersion = `insert into version (seq, prev, path, publication, state, class, endpoint, label, digest, keys, sets, moved_to, reason, body)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	insertThing = `insert into thing (path, iri, seq, state, class, endpoint, label, digest) values (?, ?, ?, ?, ?, ?, ?, ?)`
	updateThing = `update thing set seq = ?, state = ?, class = ?, endpoint = ?, label = ?, digest = ? where path = ?`
)

// Put compares r with what is published and keeps it if it differs.
func (d *draft) Put(r *service.Record) (service.Change, error) {
	if d.err != nil {
		return 0, d.err
	}
	if err := r.Check(); err != nil {
		return 0, err
	}
	hash := hashPath(r.Path)
	at, known := d.known[hash]
	if known && d.things[at].seen {
		var first string
		if first, d.err = d.ownerOf(r.Path); d.err != nil {
			return 0, d.err
		}
		return 0, service.Errorf(service.Conflict, "two records of this run have the address %q: <%s> and <%s>", r.Path, first, r.IRI)
	}
	if known && r.State != service.Live && r.Class == "" && r.Label == "" {
		if r, d.err = d.inherit(r); d.err != nil {
			return 0, d.err
		}
	}
	digest := r.ContentDigest()
	var prev int64
	change := service.Added
	if known {
		was := &d.things[at]
		if was.digest != digest {
			var iri string
			if iri, d.err = d.ownerOf(r.Path); d.err != nil {
				return 0, d.err
			}
			if iri != r.IRI {
				return 0, service.Errorf(service.Conflict, "the address %q belongs to <%s>; <%s> cannot have it", r.Path, iri, r.IRI)
			}
		}
		prev = was.seq
		change = service.Changed
		if was.digest == digest {
			change = service.Unchanged
		} else if was.state != r.State {
			change = turned[r.State]
		}
	} else if r.State != service.Live {
		change = turned[r.State]
	}
	if change == service.Unchanged {
		d.see(at)
		d.sum.Count(change)
		return change, nil
	}
	if !known {
		at = int32(len(d.things))
		d.things = append(d.things, published{})
		d.known[hash] = at
	} else {
		d.see(at)
	}
	d.seq++
	d.things[at] = published{seq: d.seq, digest: digest, state: r.State, seen: true}
	d.sum.Count(change)
	d.keep(r, digest, prev)
	if len(d.rows) >= batchRows || len(d.bodies) >= batchBytes {
		if d.err = d.flush(); d.err != nil {
			return 0, d.err
		}
	}
	return change, nil
}

// turned is what it is called when a record takes on a state.
var turned = [...]service.Change{service.Live: service.Returned, service.Gone: service.Withdrawn, service.Moved: service.Relocated}

// inherit gives a tombstone or redirection what the version before says of the
// thing.
func (d *draft) inherit(r *service.Record) (*service.Record, error) {
	c := *r
	var sets string
	err := d.conn.QueryRowContext(context.Background(), `select t.class, t.endpoint, t.label, v.sets
		from thing t join version v on v.seq = t.seq where t.path = ?`, r.Path).
		Scan(&c.Class, &c.Endpoint, &c.Label, &sets)
	if sets != "" && len(c.Sets) == 0 {
		c.Sets = strings.Split(sets, "\n")
	}
	return &c, d.s.failed(err)
}

func (d *draft) see(at int32) {
	p := &d.things[at]
	if p.state == service.Live {
		d.unseen--
	}
	p.seen = true
}

// ownerOf is the IRI at a path.
func (d *draft) ownerOf(path string) (string, error) {
	for i := range d.rows { // not yet written
		if d.rows[i].Path == path {
			return d.rows[i].IRI, nil
		}
	}
	var iri string
	err := d.owner.QueryRow(path).Scan(&iri)
	return iri, d.s.failed(err)
}

func (d *draft) keep(r *service.Record, digest service.Digest, prev int64) {
	w := row{Record: *r, prev: prev, sets: strings.Join(r.Sets, "\n"), from: len(d.bodies)}
	w.Body, w.Sets = nil, nil
	// The strings may live in the caller's arena.
	for _, s := range []*string{&w.IRI, &w.Path, &w.Class, &w.Endpoint, &w.Label, &w.Keys, &w.MovedTo, &w.Reason} {
		*s = strings.Clone(*s)
	}
	w.Seq, w.Publication, w.Digest = d.seq, d.last.Number+1, digest
	if len(r.Body) > 0 {
		d.bodies = d.s.pack.EncodeAll(r.Body, d.bodies)
	}
	w.to = len(d.bodies)
	d.rows = append(d.rows, w)
}

func (d *draft) flush() error {
	for i := range d.rows {
		w := &d.rows[i]
		body := d.bodies[w.from:w.to]
		if body == nil {
			body = []byte{}
		}
		if _, err := d.newer.Exec(w.Seq, w.prev, w.Path, w.Publication, w.State, w.Class, w.Endpoint, w.Label,
			w.Digest[:], w.Keys, w.sets, w.MovedTo, w.Reason, body); err != nil {
			return d.s.failed(err)
		}
	}
	slices.SortFunc(d.rows, func(a, b row) int { return strings.Compare(a.Path, b.Path) })
	for i := range d.rows {
		w := &d.rows[i]
		var err error
		if w.prev == 0 {
			_, err = d.insert.Exec(w.Path, w.IRI, w.Seq, w.State, w.Class, w.Endpoint, w.Label, w.Digest[:])
		} else {
			_, err = d.update.Exec(w.Seq, w.State, w.Class, w.Endpoint, w.Label, w.Digest[:], w.Path)
		}
		if err != nil {
			return d.s.failed(err)
		}
	}
	d.rows, d.bodies = d.rows[:0], d.bodies[:0]
	return nil
}

// Review counts what a commit would do now.
func (d *draft) Review() service.Summary {
	u := d.sum
	u.Withdrawn += d.unseen
	return u
}

// unput is the seqs of live records that were not put, in order.
func (d *draft) unput() []int64 {
	var out []int64
	for i := range d.things {
		if p := &d.things[i]; !p.seen && p.state == service.Live {
			out = append(out, p.seq)
		}
	}
	slices.SortFunc(out, cmp.Compare[int64])
	return out
}

// Withdrawals lists what a commit would withdraw for not having been put.
func (d *draft) Withdrawals(limit int) []string {
	var out []string
	for _, seq := range d.unput() {
		if len(out) >= limit || d.err != nil {
			break
		}
		var path string
		if err := d.conn.QueryRowContext(context.Background(), "select path from version where seq = ?", seq).Scan(&path); err != nil {
			d.err = d.s.failed(err)
			break
		}
		out = append(out, path)
	}
	return out
}

// Commit publishes the draft.
func (d *draft) Commit(ctx context.Context) (service.Publication, error) {
	if d.err != nil {
		return service.Publication{}, errors.Join(d.err, d.Discard())
	}
	if d.conn == nil {
		return service.Publication{}, service.Errorf(service.Internal, "the draft has ended")
	}
	sum := d.Review()
	if sum.Changes() == 0 {
		p := d.last
		p.Summary = sum
		return p, d.Discard()
	}
	p, err := d.commit(ctx, sum)
	if err != nil {
		return service.Publication{}, errors.Join(d.s.failed(err), d.Discard())
	}
	d.err = service.Errorf(service.Internal, "the draft has ended")
	// The log may have grown to the size of the publication. Readers of older
	// states may keep this from being done now; then a later one does it.
	_, _ = d.conn.ExecContext(ctx, "pragma wal_checkpoint(truncate)")
	_ = d.release()
	return p, nil
}

func (d *draft) commit(ctx context.Context, sum service.Summary) (service.Publication, error) {
	p := service.Publication{Number: d.last.Number + 1, Summary: sum}
	if err := d.flush(); err != nil {
		return p, err
	}
	for _, seq := range d.unput() {
		if err := d.withdraw(ctx, seq, p.Number); err != nil {
			return p, err
		}
	}
	for _, q := range []string{
		"delete from tally",
		"insert into tally select endpoint, count(*) from thing where state = 1 group by endpoint",
	} {
		if _, err := d.conn.ExecContext(ctx, q); err != nil {
			return p, err
		}
	}
	// The time is taken last: what readers see after a moment bears a later time.
	p.Time = service.NextTime(d.last.Time, d.s.now())
	if _, err := d.conn.ExecContext(ctx, `insert into publication (number, time, added, changed, returned, withdrawn, moved, unchanged)
		values (?, ?, ?, ?, ?, ?, ?, ?)`, p.Number, p.Time.Unix(), sum.Added, sum.Changed, sum.Returned, sum.Withdrawn, sum.Moved, sum.Unchanged); err != nil {
		return p, err
	}
	if err := ctx.Err(); err != nil {
		return p, err
	}
	_, err := d.conn.ExecContext(context.WithoutCancel(ctx), "commit")
	return p, err
}

// withdraw turns the live record of a version into a tombstone.
func (d *draft) withdraw(ctx context.Context, seq, publication int64) error {
	r := service.Record{State: service.Gone}
	var sets string
	err := d.conn.QueryRowContext(ctx, `select t.iri, t.path, t.class, t.endpoint, t.label, v.sets
		from version v join thing t on t.path = v.path where v.seq = ?`, seq).
		Scan(&r.IRI, &r.Path, &r.Class, &r.Endpoint, &r.Label, &sets)
	if err != nil {
		return err
	}
	if sets != "" {
		r.Sets = strings.Split(sets, "\n")
	}
	digest := r.ContentDigest()
	d.seq++
	if _, err := d.newer.ExecContext(ctx, d.seq, seq, r.Path, publication, r.State, r.Class, r.Endpoint, r.Label,
		digest[:], "", sets, "", "", []byte{}); err != nil {
		return err
	}
	_, err = d.update.ExecContext(ctx, d.seq, r.State, r.Class, r.Endpoint, r.Label, digest[:], r.Path)
	return err
}

// Discard forgets the draft.
func (d *draft) Discard() error {
	if d.conn == nil {
		return nil
	}
	if d.err == nil {
		d.err = service.Errorf(service.Internal, "the draft has ended")
	}
	// After some failures SQLite has rolled back by itself.
	_, err := d.conn.ExecContext(context.Background(), "rollback")
	if err != nil && strings.Contains(err.Error(), "no transaction is active") {
		err = nil
	}
	if err != nil {
		// A connection that may still hold the lock must not be used again.
		_ = d.conn.Raw(func(any) error { return driver.ErrBadConn })
	}
	return d.s.failed(errors.Join(err, d.release()))
}

// release gives the connection back.
func (d *draft) release() error {
	for _, s := range []*sql.Stmt{d.newer, d.insert, d.update, d.owner} {
		if s != nil {
			_ = s.Close()
		}
	}
	err := d.conn.Close()
	d.conn, d.known, d.things, d.rows, d.bodies = nil, nil, nil, nil, nil
	return err
}

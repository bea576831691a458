// Package draft is what every store's draft has in common: it compares records with
// what is published, counts, refuses clashes and works out under which names records
// are listed. Stores give it a [Backend] and get a [service.Draft], see [New].
package draft

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"ropewalk/service"
)

// Row is a version to be written.
type Row struct {
	service.Record // Sets is nil: see SetLines
	SetLines       string
	Names          string  // see [Entry]
	End, Begin     []Entry // entries to delete and to insert
}

// Backend is the part of a draft that is a store's own.
type Backend interface {
	// Present is the published record at a path that the draft has not yet written,
	// without Body and Keys.
	Present(path string) (*service.Record, error)

	// Owner is the IRI at a path, in the draft or else as published.
	Owner(path string) (string, error)

	// Version is a version before the draft, with Body and Keys.
	Version(seq int64) (*service.Record, error)

	// Ends calls f with the published records of these versions, without Body and
	// Keys, in the order given.
	Ends(seqs []int64, f func(*service.Record) error) error

	// Keep takes the next version. It may keep r, but not r.Body.
	Keep(r *Row) error

	// Kept are the first records that Keep took with a kind of change, with Body
	// and Keys.
	Kept(kind service.Change, limit int) ([]*service.Record, error)

	// Publish commits. The time is the backend's to set, with [service.NextTime].
	Publish(ctx context.Context, p service.Publication, extents []Extent) (service.Publication, error)

	// End forgets what was not committed and lets the next draft begin.
	End() error
}

// known is what a draft knows of an address; with its hash about 70 bytes, whatever
// the size of the document.
type known struct {
	seq    int64
	iri    uint64 // part of its hash
	digest service.Digest
	names  int32 // in book.texts
	state  service.State
	seen   bool
}

type pathHash [16]byte

func hashPath(path string) pathHash {
	var b [128]byte
	sum := sha256.Sum256(append(b[:0], path...))
	return pathHash(sum[:16])
}

type move struct{ iri, to string }

// target is the path of the record to which the one at from moved, if it has the
// same base.
func (m move) target(from string) (string, bool) {
	return service.Path(service.BaseOf(m.iri, from), m.to)
}

// hashIRI must tell apart who may have an address; it is stored (see pack.go).
func hashIRI(iri string) uint64 {
	var b [128]byte
	sum := sha256.Sum256(append(b[:0], iri...))
	return binary.LittleEndian.Uint64(sum[:])
}

// Book is a [service.Draft].
type Book struct {
	be     Backend
	last   service.Publication
	at     map[pathHash]int32
	things []known
	texts  []string
	textAt map[string]int32
	names  map[string][]string // by endpoint and sets
	dirty  [Parts]bool         // of what is known: not as it was packed

	seq     int64
	sum     service.Summary
	live    int
	unseen  int
	extents map[string]*Extent
	note    string
	sources string

	moved    map[string]move     // as published, by path
	moves    map[string]move     // new in this draft
	returned map[pathHash]string // where records moved to that are back, and who they are

	err   error // what broke the draft
	ended bool
}

// New begins a draft after a publication of a store with about n addresses. Before
// anything else it must be told all of them, with [Book.Add].
func New(last service.Publication, n int) *Book {
	return &Book{
		last: last, seq: last.Last, at: make(map[pathHash]int32, n), things: make([]known, 0, n),
		textAt: map[string]int32{}, names: map[string][]string{}, extents: map[string]*Extent{},
		moved: map[string]move{}, moves: map[string]move{}, returned: map[pathHash]string{},
	}
}

// Add tells of a published address; movedTo need only be given of a moved one. It
// keeps nothing of what it is given.
func (b *Book) Add(path []byte, seq int64, state service.State, digest, names, iri, movedTo []byte) {
	k := known{seq: seq, state: state, iri: hashIRI(string(iri))}
	copy(k.digest[:], digest)
	i, ok := b.textAt[string(names)]
	if !ok {
		i = b.text(string(names))
	}
	k.names = i
	b.add(hashPath(string(path)), k)
	if state == service.Moved {
		b.AddMoved(string(path), string(iri), string(movedTo))
	}
}

// AddMoved tells of a published address that redirects.
func (b *Book) AddMoved(path, iri, to string) { b.moved[path] = move{iri, to} }

func (b *Book) add(hash pathHash, k known) {
	b.at[hash] = int32(len(b.things))
	b.things = append(b.things, k)
	if k.state == service.Live {
		b.live++
		b.unseen++
	}
}

// Use sets the backend; the book is a draft from then on.
func (b *Book) Use(be Backend) { b.be = be }

func (b *Book) text(s string) int32 {
	i, ok := b.textAt[s]
	if !ok {
		i = int32(len(b.texts))
		b.texts = append(b.texts, s)
		b.textAt[s] = i
	}
	return i
}

var errEnded = service.Errorf(service.Internal, "the draft has ended")

func (b *Book) usable() error {
	if b.err != nil {
		return b.err
	}
	if b.ended {
		return errEnded
	}
	return nil
}

// broken notes an error after which the draft can only be discarded.
func (b *Book) broken(err error) error {
	if err != nil && b.err == nil {
		b.err = err
	}
	return err
}

// Put compares r with what is published and keeps it if it differs.
func (b *Book) Put(r *service.Record) (service.Change, error) {
	if err := b.usable(); err != nil {
		return 0, err
	}
	if err := r.Check(); err != nil {
		return 0, err
	}
	hash := hashPath(r.Path)
	at, found := b.at[hash]
	if found && b.things[at].seen {
		first, err := b.be.Owner(r.Path)
		if err != nil {
			return 0, b.broken(err)
		}
		return 0, service.Errorf(service.Conflict, "two records of this run have the address %q: <%s> and <%s>", r.Path, first, r.IRI)
	}
	if r.State == service.Live && len(b.returned) > 0 {
		if other, ok := b.returned[hash]; ok {
			return 0, bothLive(other, r.IRI)
		}
	}
	if found && r.State != service.Live && r.Class == "" && r.Label == "" {
		var err error
		if r, err = b.inherit(r); err != nil {
			return 0, b.broken(err)
		}
	}
	digest := r.ContentDigest()
	if found && b.things[at].digest == digest {
		b.see(at)
		b.sum.Count(service.Unchanged)
		return service.Unchanged, nil
	}
	row := Row{Record: *r}
	row.Change = service.Added
	if found {
		was := &b.things[at]
		if was.iri != hashIRI(r.IRI) {
			owner, err := b.be.Owner(r.Path)
			if err != nil {
				return 0, b.broken(err)
			}
			return 0, service.Errorf(service.Conflict, "the address %q belongs to <%s>; <%s> cannot have it", r.Path, owner, r.IRI)
		}
		if was.state == service.Moved && r.State == service.Live {
			if err := b.comesBack(r); err != nil {
				return 0, err
			}
		}
		row.Prev = was.seq
		row.Change = service.Changed
		if was.state != r.State {
			row.Change = turned[r.State]
		}
	} else if r.State != service.Live {
		row.Change = turned[r.State]
	}
	if found {
		b.see(at)
	} else {
		at = int32(len(b.things))
		b.things = append(b.things, known{})
		b.at[hash] = at
	}
	row.Digest = digest
	b.sum.Count(row.Change)
	if r.State == service.Moved {
		b.moves[strings.Clone(r.Path)] = move{strings.Clone(r.IRI), strings.Clone(r.MovedTo)}
	}
	if err := b.keep(&row, at); err != nil {
		return 0, b.broken(err)
	}
	return row.Change, nil
}

// turned is what it is called when a record takes on a state.
var turned = [...]service.Change{service.Live: service.Returned, service.Gone: service.Withdrawn, service.Moved: service.Relocated}

// inherit gives a tombstone or redirection what the version before says of the
// thing.
func (b *Book) inherit(r *service.Record) (*service.Record, error) {
	was, err := b.be.Present(r.Path)
	if err != nil {
		return nil, err
	}
	c := *r
	c.Class, c.Endpoint, c.Label = was.Class, was.Endpoint, was.Label
	if len(c.Sets) == 0 {
		c.Sets = was.Sets
	}
	return &c, nil
}

// comesBack decides whether a moved record may be live again at its old address: not
// if a record to which it moved is live in this draft. What it moved to is noted, in
// case that comes later.
func (b *Book) comesBack(r *service.Record) error {
	hops := map[pathHash]bool{hashPath(r.Path): false}
	for from := r.Path; ; {
		m, ok := b.moved[from]
		if !ok {
			break
		}
		path, ok := m.target(from)
		hash := hashPath(path)
		if _, again := hops[hash]; again || !ok {
			break
		}
		if at, ok := b.at[hash]; ok && b.things[at].seen && b.things[at].state == service.Live {
			return bothLive(r.IRI, m.to)
		}
		hops[hash], from = true, path
	}
	for hash, beyond := range hops {
		if beyond {
			b.returned[hash] = strings.Clone(r.IRI)
		}
	}
	return nil
}

func bothLive(old, now string) error {
	return service.Errorf(service.Conflict, "<%s> moved to <%s>, yet both are in this run; an IRI cannot be given to another record", old, now)
}

func (b *Book) see(at int32) {
	k := &b.things[at]
	if k.state == service.Live {
		b.unseen--
	}
	k.seen = true
}

// keep gives a version to the backend. Digest, Prev and Change are set.
func (b *Book) keep(row *Row, at int32) error {
	k := &b.things[at]
	b.seq++
	row.Seq, row.Publication = b.seq, b.last.Number+1
	row.SetLines = strings.Clone(JoinSets(row.Sets))
	old := ""
	if row.Prev != 0 {
		old = b.texts[k.names]
	}
	row.Names, row.End, row.Begin = enlist(old, row.Prev, b.namesOf(row), b.seq)
	b.count(old, k.state, -1)
	b.count(row.Names, row.State, 1)
	for _, e := range row.End {
		b.extent(e.Name).Listed--
	}
	for _, e := range row.Begin {
		b.extent(e.Name).Listed++
	}
	if row.Prev == 0 {
		b.extent(Everything).Listed++
	}
	*k = known{seq: b.seq, iri: hashIRI(row.IRI), digest: row.Digest, names: b.text(row.Names), state: row.State, seen: true}
	b.dirty[hashPath(row.Path)[0]] = true
	row.Sets = nil
	// The strings may live in the caller's arena.
	for _, s := range []*string{&row.IRI, &row.Path, &row.Class, &row.Endpoint, &row.Label, &row.Keys, &row.MovedTo, &row.Reason} {
		*s = strings.Clone(*s)
	}
	return b.be.Keep(row)
}

func (b *Book) namesOf(row *Row) []string {
	var buf [256]byte
	key := append(append(append(buf[:0], row.Endpoint...), '\n'), row.SetLines...)
	if n, ok := b.names[string(key)]; ok {
		return n
	}
	// All names are new strings: they outlive the caller's arena.
	n := names(row.Endpoint, SplitSets(row.SetLines))
	b.names[string(key)] = n
	return n
}

func (b *Book) extent(name string) *Extent {
	e := b.extents[name]
	if e == nil {
		e = &Extent{Name: name}
		b.extents[name] = e
	}
	return e
}

// count adds n live records under a thing's names if it is live.
func (b *Book) count(names string, state service.State, n int64) {
	if state != service.Live {
		return
	}
	current(names, func(name string) { b.extent(name).Live += n })
	b.extent(Everything).Live += n
}

// Withdraw makes a tombstone.
func (b *Book) Withdraw(path, reason string) (service.Change, error) {
	return b.end(path, func(r *service.Record) { r.State, r.Reason = service.Gone, reason })
}

// Move makes a redirection.
func (b *Book) Move(path, iri string) (service.Change, error) {
	return b.end(path, func(r *service.Record) { r.State, r.MovedTo = service.Moved, iri })
}

func (b *Book) end(path string, edit func(*service.Record)) (service.Change, error) {
	if err := b.usable(); err != nil {
		return 0, err
	}
	if _, ok := b.at[hashPath(path)]; !ok {
		return 0, service.Errorf(service.NotFound, "nothing was ever published at %q", path)
	}
	iri, err := b.be.Owner(path)
	if err != nil {
		return 0, b.broken(err)
	}
	r := &service.Record{IRI: iri, Path: path}
	edit(r)
	return b.Put(r)
}

// Annotate sets note and sources of the publication.
func (b *Book) Annotate(note, sources string) { b.note, b.sources = note, sources }

// Last is the publication before.
func (b *Book) Last() service.Publication { return b.last }

// Live is the number of records live in it.
func (b *Book) Live() int { return b.live }

// Review counts what a commit would do now.
func (b *Book) Review() service.Summary {
	u := b.sum
	u.Withdrawn += b.unseen
	return u
}

// unput is the seqs of live records that were not put, in order.
func (b *Book) unput() []int64 {
	out := make([]int64, 0, b.unseen)
	for i := range b.things {
		if k := &b.things[i]; !k.seen && k.state == service.Live {
			out = append(out, k.seq)
		}
	}
	slices.SortFunc(out, cmp.Compare[int64])
	return out
}

// Withdrawals lists what a commit would withdraw for not having been put.
func (b *Book) Withdrawals(limit int) []string {
	if b.usable() != nil || b.unseen == 0 || limit <= 0 {
		return nil
	}
	seqs := b.unput()
	var out []string
	_ = b.broken(b.be.Ends(seqs[:min(limit, len(seqs))], func(r *service.Record) error {
		out = append(out, r.Path)
		return nil
	}))
	return out
}

// Differences shows the first changes of a kind.
func (b *Book) Differences(kind service.Change, limit int) ([]service.Difference, error) {
	if err := b.usable(); err != nil || kind == service.Unchanged || limit <= 0 {
		return nil, err
	}
	kept, err := b.be.Kept(kind, limit)
	if err != nil {
		return nil, b.broken(err)
	}
	if kind == service.Withdrawn && len(kept) < limit && b.unseen > 0 {
		seqs := b.unput()
		err := b.be.Ends(seqs[:min(limit-len(kept), len(seqs))], func(r *service.Record) error {
			kept = append(kept, tombstone(r))
			return nil
		})
		if err != nil {
			return nil, b.broken(err)
		}
	}
	out := make([]service.Difference, 0, len(kept))
	for _, after := range kept {
		d := service.Difference{Change: kind, After: after}
		if after.Prev != 0 {
			if d.Before, err = b.be.Version(after.Prev); err != nil {
				return nil, b.broken(err)
			}
		}
		after.Seq, after.Prev, after.Publication, after.Digest, after.Modified, after.Change = 0, 0, 0, service.Digest{}, time.Time{}, kind
		out = append(out, d)
	}
	return out, nil
}

// tombstone is what becomes of a live record that is not put.
func tombstone(was *service.Record) *service.Record {
	r := &service.Record{
		IRI: was.IRI, Path: was.Path, State: service.Gone, Class: was.Class, Endpoint: was.Endpoint, Label: was.Label, Sets: was.Sets,
		Prev: was.Seq, Change: service.Withdrawn,
	}
	r.Digest = r.ContentDigest()
	return r
}

// Check looks where the moves of this draft lead.
func (b *Book) Check() error {
	if err := b.usable(); err != nil {
		return err
	}
	for _, from := range slices.Sorted(maps.Keys(b.moves)) {
		if err := b.follow(from); err != nil {
			return err
		}
	}
	return nil
}

func (b *Book) follow(begin string) error {
	visited := map[string]bool{begin: true}
	first := b.moves[begin]
	for from, m := begin, first; ; {
		path, ok := m.target(from)
		if !ok {
			return nil // elsewhere
		}
		refuse := func(why string) error {
			return service.Errorf(service.Conflict, "<%s> cannot move to <%s>: %s", first.iri, m.to, why)
		}
		if visited[path] {
			return refuse("that leads back to where it came from")
		}
		visited[path] = true
		at, ok := b.at[hashPath(path)]
		if !ok {
			return refuse("there is no such record")
		}
		switch k := &b.things[at]; {
		case k.state == service.Live && k.seen:
			return nil
		case k.state != service.Moved:
			return refuse("that record is withdrawn")
		}
		from = path
		if m, ok = b.moves[path]; !ok {
			m = b.moved[path]
		}
	}
}

// Commit publishes the draft.
func (b *Book) Commit(ctx context.Context) (service.Publication, error) {
	fail := func(err error) (service.Publication, error) {
		return service.Publication{}, errors.Join(err, b.Discard())
	}
	if b.ended {
		return service.Publication{}, errEnded
	}
	if err := b.Check(); err != nil {
		return fail(err)
	}
	p := service.Publication{
		Number: b.last.Number + 1, Summary: b.Review(), First: b.last.Last + 1, Note: b.note, Sources: b.sources,
	}
	if p.Summary.Changes() == 0 {
		same := b.last
		same.Summary = p.Summary
		return same, b.Discard()
	}
	if err := ctx.Err(); err != nil {
		return fail(&service.Error{Code: service.Unavailable, Message: "the publication was called off", Err: err})
	}
	if err := b.withdrawRest(); err != nil {
		return fail(err)
	}
	p.Last = b.seq
	changed := make([]Extent, 0, len(b.extents))
	for _, e := range b.extents {
		if e.Listed != 0 || e.Live != 0 {
			changed = append(changed, *e)
		}
	}
	slices.SortFunc(changed, func(a, b Extent) int { return strings.Compare(a.Name, b.Name) })
	p, err := b.be.Publish(ctx, p, changed)
	if err != nil {
		return fail(err)
	}
	b.ended = true
	b.forget()
	_ = b.be.End() // the publication stands, whatever happens to the connection
	return p, nil
}

// withdrawRest makes tombstones of the live records that were not put.
func (b *Book) withdrawRest() error {
	return b.be.Ends(b.unput(), func(was *service.Record) error {
		r := tombstone(was)
		return b.keep(&Row{Record: *r}, b.at[hashPath(r.Path)])
	})
}

// Discard forgets the draft.
func (b *Book) Discard() error {
	if b.ended {
		return nil
	}
	b.ended = true
	b.forget()
	return b.be.End()
}

func (b *Book) forget() {
	b.at, b.things, b.texts, b.textAt, b.names, b.extents, b.moved, b.moves, b.returned = nil, nil, nil, nil, nil, nil, nil, nil, nil
}

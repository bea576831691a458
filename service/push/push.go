// Package push copies what is published into an RDF store over the SPARQL 1.1 Graph
// Store HTTP Protocol (W3C Recommendation of 21 March 2013), a named graph for each
// document, and afterwards only what has changed. Begin with [NewTarget], then [Run];
// [Plan] says what a run would send.
//
// # Names of graphs
//
// A document's graph has the document's own IRI as its name, as in the N-Quads that
// the program writes. Graphs are addressed indirectly (§4.2): endpoint?graph=IRI.
//
// # State
//
// How far the target has followed is kept in the target itself, in the graph of
// [StateGraph]: whoever empties or restores the target takes the state with it, and
// every machine that may push sees it. It says: of all records whose last change has
// a Seq not above "through", the target has what the store has, but for the documents
// named as refused. It is written after the documents of which it speaks have been
// acknowledged, never before, and names the version at that Seq, so that a
// store with another history is found out ([service.Conflict]).
//
// Documents that were never in this store are not touched, whoever put them there: the
// protocol has no way to list graphs, and they may be somebody else's.
//
// # Two at once
//
// The protocol has no conditional writes that stores agree upon. So a push adds a
// claim to the state graph (POST merges, §5.5), and then reads it: if there
// is another claim it takes its own back. Of several that claim at once at most one
// goes on. It renews the claim while it works, and sends nothing when it could not
// for half of [Options].Lease. A claim that does not change for a whole Lease, as the
// one who waits measures it, belongs to a push that died, and is taken over. What
// this can't exclude is a target that carries out a request long after its sender
// has given it up or died; [Options].All puts right whatever such a target holds.
package push

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"sync"
	"time"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/service"
)

// Options of a push.
type Options struct {
	Base    string // of the site: names the graph of the state
	All     bool   // send everything, whatever the state says
	Workers int    // requests at once; at least 1
	Claim   string // names this push, for programs and people; no other push may have the same

	// Dead says whether the push with a claim is known to have ended. It may be nil,
	// and need not know of every one.
	Dead func(claim string) bool
	// Waiting is called once if another push has to be waited for. It may be nil.
	Waiting func(claim string)
	// Progress is called with the Seq up to which all is acknowledged, and the last. It
	// may be nil.
	Progress func(through, last int64)

	Lease time.Duration // two minutes if zero; requests must end in half of it

	each int // documents after which the state is written, if it is not time before
}

// MaxRefused is how many documents a target may refuse before a push stops: the
// state names each of them.
const MaxRefused = 1000

// Refusal is a document that the target did not take.
type Refusal struct {
	IRI    string
	Status int    // of the answer; 0 if the document could not be written
	Answer string // what the target said, shortened; no control characters
}

// Report says what a push has done, also when it ended with an error.
type Report struct {
	Put     int       // documents that the target took
	Deleted int       // graphs that it deleted
	Absent  int       // graphs that were to be deleted and were not there
	Refused []Refusal // by IRI; the next push tries them again
	Began   int64     // Seq after which it began
	Through int64     // Seq up to which the target has followed, but for Refused
}

// Run brings a target up to date with a store. Its error has the code [service.Conflict]
// if the target follows another history than the store's, or if another push has taken
// over; [service.Unavailable] if the target does not answer; [service.Invalid] if it is
// no graph store or does not let us write.
func Run(ctx context.Context, store service.Store, t *Target, o Options) (Report, error) {
	if o.Lease == 0 {
		o.Lease = defaultLease
	}
	if o.each == 0 {
		o.each = 2000
	}
	p := &pusher{store: store, target: t, o: o, lease: &lease{}, refused: map[string]Refusal{}}
	if t.timeout = o.Lease / 2; t.timeout > maxTimeout {
		t.timeout = maxTimeout
	}
	if err := p.claim(ctx); err != nil {
		return Report{}, err
	}
	err := p.follow(ctx)
	if rerr := p.release(ctx, err); err == nil {
		err = rerr
	}
	p.report.Through = p.state.through
	for _, r := range p.refused {
		p.report.Refused = append(p.report.Refused, r)
	}
	slices.SortFunc(p.report.Refused, func(a, b Refusal) int { return strings.Compare(a.IRI, b.IRI) })
	return p.report, err
}

// Plan calls f with what [Run] would send, without bodies, in order. Documents that the
// target refused before come first. It writes nothing, and takes no notice of other
// pushes.
func Plan(ctx context.Context, store service.Store, t *Target, o Options, f func(*service.Record) error) error {
	t.timeout = maxTimeout
	s, err := t.state(ctx, StateGraph(o.Base))
	if err != nil {
		return err
	}
	if o.All {
		s = state{}
	}
	if err := s.belongs(ctx, store, t); err != nil {
		return err
	}
	p := &pusher{store: store, state: s}
	return p.changes(ctx, false, func(r *service.Record, _ bool) error { return f(r) })
}

type pusher struct {
	store  service.Store
	target *Target
	o      Options
	lease  *lease
	report Report

	// Of the coordinator:
	state   state
	refused map[string]Refusal // by path: what the target does not have
	versions
	name     string    // of our claim
	tries    int       // to claim the target
	refusals int       // of documents not tried before
	renewed  time.Time // when the last renewal of the claim began
	since    int       // documents since then
	lost     bool      // the claim is another's
}

// page is how many records are read from the store at once.
const page = 64

// changes calls f with everything that the target lacks by its state, the refused ones
// first.
func (p *pusher) changes(ctx context.Context, bodies bool, f func(r *service.Record, again bool) error) error {
	for _, path := range p.state.refused {
		r, err := p.store.Get(ctx, path)
		if service.CodeOf(err) == service.NotFound {
			continue // not of this store any more: belongs() has seen to the history
		}
		if err != nil {
			return err
		}
		if r.Seq <= p.state.through { // else it comes in its turn
			if err := f(r, true); err != nil {
				return err
			}
		}
	}
	for after := p.state.through; ; {
		rs, err := p.store.Changes(ctx, service.Selection{After: after, Bodies: bodies, Limit: page})
		if err != nil {
			return err
		}
		for i := range rs {
			if err := f(&rs[i], false); err != nil {
				return err
			}
		}
		if len(rs) < page {
			return nil
		}
		after = rs[len(rs)-1].Seq
	}
}

// event is what the coordinator hears of.
type event struct {
	sent   bool // handed to a worker; else the worker is done with it
	again  bool // a document refused before, the state is past it
	rec    *service.Record
	absent bool
	err    error    // ends the push
	no     *Refusal // the target did not take it
}

// follow sends all that has changed. The reader hands records to workers, each path
// always to the same one, so that versions of a document arrive in order; the
// coordinator, here, hears of each in the order in which they were read.
func (p *pusher) follow(ctx context.Context) error {
	last, err := p.store.Current(ctx)
	if err != nil {
		return err
	}
	p.report.Began = p.state.through
	// The reader goes by the state at the beginning.
	reader := &pusher{store: p.store, state: p.state}
	work, stop := context.WithCancel(ctx)
	defer stop()
	events := make(chan event)
	tell := func(e event) bool {
		select {
		case events <- e:
			return true
		case <-work.Done():
			return false
		}
	}
	var wg sync.WaitGroup
	queues := make([]chan event, max(p.o.Workers, 1))
	for i := range queues {
		queues[i] = make(chan event, 2)
		wg.Go(func() { p.work(work, queues[i], tell) })
	}
	wg.Go(func() {
		defer func() {
			for _, q := range queues {
				close(q)
			}
		}()
		err := reader.changes(work, true, func(r *service.Record, again bool) error {
			rec := *r
			seen := rec
			seen.Body, seen.Keys = nil, ""
			if !tell(event{sent: true, again: again, rec: &seen}) {
				return work.Err()
			}
			h := fnv.New32a()
			_, _ = h.Write([]byte(r.Path))
			select {
			case queues[h.Sum32()%uint32(len(queues))] <- event{again: again, rec: &rec}:
				return nil
			case <-work.Done():
				return work.Err()
			}
		})
		if err != nil {
			tell(event{err: err})
		}
	})
	go func() {
		wg.Wait()
		close(events)
	}()
	renew := time.NewTicker(p.o.Lease / 6)
	defer renew.Stop()
	for {
		select {
		case e, more := <-events:
			if !more {
				return ctx.Err()
			}
			if err = p.heard(e); err != nil || e.sent {
				break
			}
			if p.o.Progress != nil {
				p.o.Progress(p.state.through, max(last.Last, p.state.through))
			}
			if p.since++; p.since >= p.o.each {
				err = p.renew(work)
			}
		case <-renew.C:
			err = p.renew(work)
		}
		if err != nil {
			stop()
			for range events { // until all have stopped: what they still did is not counted
			}
			return err
		}
	}
}

// heard takes note of one event.
func (p *pusher) heard(e event) error {
	switch {
	case e.err != nil:
		return e.err
	case e.sent:
		if !e.again {
			p.versions.sent(e.rec)
		}
		return nil
	case e.no != nil:
		p.refused[e.rec.Path] = *e.no
	default:
		delete(p.refused, e.rec.Path)
		switch {
		case e.rec.State == service.Live:
			p.report.Put++
		case e.absent:
			p.report.Absent++
		default:
			p.report.Deleted++
		}
	}
	if e.again {
		return nil
	}
	if r := p.versions.done(e.rec.Seq); r != nil {
		p.state.through, p.state.version = r.Seq, fingerprint(r)
	}
	if e.no == nil {
		return nil
	}
	p.refusals++
	if taken := p.report.Put + p.report.Deleted + p.report.Absent; len(p.refused) > MaxRefused || taken == 0 && p.refusals >= allRefused {
		return service.Errorf(service.Invalid, "%s takes too little: it has refused %d documents and taken %d, and refused the last one %s. Nothing more is sent", p.target, len(p.refused), taken, e.no.said())
	}
	return nil
}

// allRefused is after how many refusals, and nothing else, a push stops.
const allRefused = 50

func (r Refusal) said() string {
	if r.Status == 0 {
		return r.Answer
	}
	if r.Answer == "" {
		return fmt.Sprintf("with status %d", r.Status)
	}
	return fmt.Sprintf("with status %d: %s", r.Status, r.Answer)
}

// String says which document and why.
func (r Refusal) String() string {
	if r.Status == 0 {
		return fmt.Sprintf("<%s>: %s", r.IRI, r.Answer)
	}
	return fmt.Sprintf("<%s>: refused %s", r.IRI, r.said())
}

// work sends what comes in a queue.
func (p *pusher) work(ctx context.Context, queue <-chan event, tell func(event) bool) {
	w := writer{e: render.NewEncoder(render.FormatByName("nt"), render.Options{})}
	for e := range queue {
		var a answer
		var err error
		rec := e.rec
		if rec.State == service.Live {
			var body []byte
			if body, err = w.write(rec); err != nil {
				e.no = &Refusal{IRI: rec.IRI, Answer: err.Error()}
				err = nil
			} else {
				a, err = p.target.send(ctx, p.lease, "PUT", rec.IRI, body)
			}
		} else {
			a, err = p.target.send(ctx, p.lease, "DELETE", rec.IRI, nil)
		}
		rec.Body, rec.Keys = nil, ""
		switch {
		case err != nil:
			e.err = err
		case e.no != nil || a.done():
		case rec.State != service.Live && a.status == 404:
			e.absent = true
		default:
			e.no, e.err = p.target.refusal(rec, a)
		}
		if !tell(e) {
			return
		}
	}
}

// writer makes N-Triples of records.
type writer struct {
	d entity.Document
	e *render.Encoder
	b []byte
}

func (w *writer) write(r *service.Record) ([]byte, error) {
	if err := w.d.Parse(r.Body, r.Keys); err != nil {
		return nil, fmt.Errorf("the stored document can't be read: %w", err)
	}
	var err error
	w.b, err = w.e.Append(w.e.Header(w.b[:0]), &w.d)
	w.b = w.e.Footer(w.b)
	return w.b, err
}

// versions are the records that were sent and not passed, in order of Seq.
type versions struct {
	list []*service.Record
	is   map[int64]bool // done
}

func (v *versions) sent(r *service.Record) { v.list = append(v.list, r) }

// done takes note that one is acknowledged or refused. It returns the last of those
// before which there is nothing open, if that is a new one.
func (v *versions) done(seq int64) (passed *service.Record) {
	if v.is == nil {
		v.is = map[int64]bool{}
	}
	v.is[seq] = true
	for len(v.list) > 0 && v.is[v.list[0].Seq] {
		passed = v.list[0]
		delete(v.is, passed.Seq)
		v.list = v.list[1:]
	}
	return passed
}

// Package line walks records through a program: rows are read in order, batches
// are mapped and encoded by several workers, and what comes out is in the order of
// the rows again, the same whatever the number of workers. Begin with [Run].
package line

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/cespare/xxhash/v2"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
	"ropewalk/mapping/trade"
	"ropewalk/vocab"
)

// Encoder turns documents into bytes. Each worker has its own.
type Encoder interface {
	// Encode appends the document to dst. Problems it finds are told like those of
	// the mapping.
	Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte
}

// Lean is an encoder that may do without a document's events, see [mapping.Run].
type Lean interface{ Lean() bool }

// Options say how to run.
type Options struct {
	Workers    int                              // at least 1
	NewEncoder func() Encoder                   // called once for each worker
	Problem    func(mapping.RecordProblem)      // told in order; nil to hear nothing
	Report     *source.Report                   // gathers what the readers repair and find odd; may be nil
	Progress   func(source string, bytes int64) // told of bytes read; may be nil
	Missed     func(mapping.Missed)             // told at the end, in order, of documents that no record made though one should; may be nil
	Now        time.Time                        // by which it is judged what is public; the beginning of the run if zero
	Describe   bool                             // fill in Label and Keys of items
	Trade      bool                             // hold the documents against the rules of the trade, see [ropewalk/mapping/trade]
	Waived     func(Waived)                     // told at the end of what breaks a rule and is waived; may be nil
	References bool                             // report references to documents of this site that are not made
	Rows       int                              // rows of a batch; 0: the reader's choice
}

// Item is a document that came out.
type Item struct {
	IRI      string
	Class    *vocab.Class
	Endpoint *vocab.Endpoint
	Sets     []string
	Label    string // with Describe
	Keys     string // author's keys, with Describe; see [entity.Keys]
	Triples  int    // filled in by encoders that count, see [Counter]
	Data     []byte // encoded; valid until the sink returns

	from, to  int
	says      int // problems of the batch in front of those the encoder told of the document
	said      int // and with them
	iri, hash uint64
	once      bool
	made      bool
	facts     int  // number in the batch of facts; -1 for none
	skipped   bool // the worker knows it has encoded the same before
	row       *source.Row
	file      string
	num       int
}

// Place is the record that made the document.
func (it *Item) Place() source.Place { return source.Place{File: it.file, Row: it.num} }

// Counter is an encoder that counts the triples of the document it encoded last.
type Counter interface{ Triples() int }

// Totals say what a run has done.
type Totals struct {
	Records   map[string]int // by source
	Documents map[string]int // by class
	Merged    int            // documents that were made again, equal to the first
	Twins     int            // nodes left out because an equal one stood beside them
	Triples   int
	Bytes     int64
}

// The problems that only show across records.
const (
	// ProblemTwice is that two records make the same IRI. The problem's places are
	// those of this record and of the one before, whose document came out.
	ProblemTwice mapping.ProblemRule = "identifier-twice"

	problemDiffers  mapping.ProblemRule = "differs-from-first" // a document made again is not equal to the first
	problemUnsafe   mapping.ProblemRule = "unsafe-row"         // a row that may have a withheld cell in another column
	problemDangling mapping.ProblemRule = "dangling-reference" // a reference to a document that is not made
)

type job struct {
	sp    *mapping.SourceProgram
	batch *source.Batch
	out   chan *result
}

type result struct {
	items    []Item
	problems []mapping.RecordProblem
	missed   []mapping.Missed
	refs     []reference
	facts    trade.Batch
	data     []byte
	twins    int
	err      error
	batch    *source.Batch
	source   string
	rows     int
	read     int64
}

type reference struct {
	iri   string
	place source.Place
}

// Run walks every record of the program's sources and hands each document to
// sink, in order. It stops at the first error of a source, the sink or ctx.
func Run(ctx context.Context, p *mapping.Program, opt Options, sink func(*Item) error) (*Totals, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	workers := max(1, opt.Workers)
	if opt.Rows == 0 {
		opt.Rows = 32 // some 500 KB of N-Triples: several batches wait their turn
	}
	if opt.Report == nil {
		opt.Report = &source.Report{}
	}
	if opt.Now.IsZero() {
		opt.Now = time.Now()
	}
	if opt.Problem == nil {
		opt.Trade = false
	}
	jobs := make(chan job, workers)
	order := make(chan chan *result, 2*workers+2)
	pool := &sync.Pool{New: func() any { return &result{} }}

	var wg sync.WaitGroup
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			w := newWorker(p, opt)
			for j := range jobs {
				res := pool.Get().(*result)
				w.work(j, res)
				j.out <- res
			}
		}()
	}
	readErr := make(chan error, 1)
	go func() {
		defer close(order)
		defer close(jobs)
		for _, sp := range p.Sources {
			err := sp.Source.Read(ctx, sp.Layout, source.Options{Report: opt.Report, Rows: opt.Rows}, func(b *source.Batch) error {
				out := make(chan *result, 1)
				select {
				case order <- out:
				case <-ctx.Done():
					return ctx.Err()
				}
				select {
				case jobs <- job{sp, b, out}:
				case <-ctx.Done():
					close(out)
					return ctx.Err()
				}
				return nil
			})
			if err != nil {
				readErr <- err
				return
			}
		}
		readErr <- nil
	}()

	g := &gatherer{opt: opt, sink: sink, ledger: newLedger(opt),
		totals: &Totals{Records: map[string]int{}, Documents: map[string]int{}}}
	var err error
	for out := range order {
		res, ok := <-out
		if !ok {
			continue
		}
		if err == nil {
			if err = g.gather(res); err != nil {
				cancel()
			}
		}
		res.batch.Release()
		res.reset()
		pool.Put(res)
	}
	wg.Wait()
	if rerr := <-readErr; err == nil {
		err = rerr
	}
	if err == nil {
		g.unsafe()
		g.dangling()
		g.notMade()
		err = g.breaches(ctx, p)
	}
	return g.totals, err
}

func (r *result) reset() {
	clear(r.items)
	r.facts.Reset()
	*r = result{items: r.items[:0], problems: r.problems[:0], missed: r.missed[:0], refs: r.refs[:0], facts: r.facts, data: r.data[:0]}
}

// worker maps and encodes batches.
type worker struct {
	p    *mapping.Program
	opt  Options
	run  *mapping.Run
	enc  Encoder
	from *trade.Extractor  // nil: no rules of the trade
	done map[uint64]uint64 // digest of the last document with an IRI, where many records make it
	res  *result
	tell func(mapping.RecordProblem)
}

func newWorker(p *mapping.Program, opt Options) *worker {
	w := &worker{p: p, opt: opt, run: p.NewRun(), enc: opt.NewEncoder(), done: map[uint64]uint64{}}
	w.tell = func(pr mapping.RecordProblem) { w.res.problems = append(w.res.problems, pr) }
	w.run.Now = opt.Now
	if opt.Problem != nil {
		w.run.Problem = w.tell
	}
	if opt.Missed != nil {
		w.run.Missed = func(m mapping.Missed) { w.res.missed = append(w.res.missed, m) }
	}
	l, ok := w.enc.(Lean)
	if opt.Trade {
		w.from = trade.NewExtractor(opt.Now, wants(p))
		w.from.Lives(p.Prefixes(trade.LifeKeys...))
	}
	w.run.Full = !ok || !l.Lean() || opt.Describe || opt.References
	return w
}

func (w *worker) work(j job, res *result) {
	w.res = res
	res.batch, res.source, res.rows, res.read = j.batch, j.sp.Source.Name, len(j.batch.Rows), j.batch.Read
	emit := func(d *entity.Document, m mapping.Meta) error {
		res.twins += d.Merged()
		it := Item{Class: d.Class(), Endpoint: m.Endpoint, Sets: m.Sets, once: m.Once, made: m.Made,
			iri: xxhash.Sum64String(d.IRI()), IRI: strings.Clone(d.IRI()), row: m.Row, facts: -1}
		if m.Row.File != nil {
			it.file, it.num = m.Row.File.Name, m.Row.Num
		}
		if m.Once {
			it.hash = d.Digest()
			if h, ok := w.done[it.iri]; ok && h == it.hash {
				it.skipped = true
				it.says, it.said = len(res.problems), len(res.problems)
				res.items = append(res.items, it)
				return nil
			}
			w.done[it.iri] = it.hash
		}
		if w.opt.Describe {
			it.Label, it.Keys = strings.Clone(d.Label()), entity.Keys(d)
		}
		if w.opt.References {
			w.references(d)
		}
		if w.from != nil {
			it.facts = w.take(d, m)
		}
		it.from = len(res.data)
		it.says = len(res.problems)
		res.data = w.enc.Encode(res.data, d, m, w.tell)
		it.to, it.said = len(res.data), len(res.problems)
		if c, ok := w.enc.(Counter); ok {
			it.Triples = c.Triples()
		}
		res.items = append(res.items, it)
		return nil
	}
	for i := range j.batch.Rows {
		if err := w.run.Record(j.sp, &j.batch.Rows[i], emit); err != nil {
			res.err = err
			return
		}
	}
}

// references notes the documents of this site that a document speaks of.
func (w *worker) references(d *entity.Document) {
	for i, e := range d.Events() {
		if i > 0 && e.Kind == entity.Open && e.Ref && strings.HasPrefix(e.Value, w.p.Base) {
			w.res.refs = append(w.res.refs, reference{strings.Clone(e.Value), w.run.Cell()})
		}
	}
}

// gatherer takes results in order.
type gatherer struct {
	opt    Options
	sink   func(*Item) error
	seen   seen
	missed []mapping.Missed
	refs   map[string]source.Place
	asked  []string
	totals *Totals
	ledger *trade.Ledger // nil: no rules of the trade
}

func (g *gatherer) gather(r *result) error {
	if r.err != nil {
		return r.err
	}
	g.totals.Records[r.source] += r.rows
	g.totals.Twins += r.twins
	g.missed = append(g.missed, r.missed...)
	for _, ref := range r.refs {
		if g.refs == nil {
			g.refs = map[string]source.Place{}
		}
		if _, ok := g.refs[ref.iri]; !ok {
			g.refs[ref.iri] = ref.place
			g.asked = append(g.asked, ref.iri)
		}
	}
	told := 0
	for i := range r.items {
		it := &r.items[i]
		g.tell(r.problems[told:it.says])
		told = it.said
		if first, ok := g.seen.find(it.iri); ok {
			// What the encoder says of it does not matter: it does not come out. Another
			// worker might not even have encoded it.
			g.again(it, first)
			continue
		}
		g.tell(r.problems[it.says:it.said])
		g.seen.add(it.iri, it.file, it.num)
		if it.facts >= 0 {
			g.ledger.Take(&r.facts, it.facts)
		}
		if it.once {
			g.seen.addOnce(it.iri, it.hash)
		}
		it.Data = r.data[it.from:it.to]
		g.totals.Documents[it.Class.Key]++
		g.totals.Triples += it.Triples
		g.totals.Bytes += int64(len(it.Data))
		if err := g.sink(it); err != nil {
			return err
		}
	}
	g.tell(r.problems[told:])
	if g.opt.Progress != nil {
		g.opt.Progress(r.source, r.read)
	}
	return nil
}

func (g *gatherer) tell(problems []mapping.RecordProblem) {
	if g.opt.Problem == nil {
		return
	}
	for _, p := range problems {
		g.opt.Problem(p)
	}
}

// again deals with a document whose IRI has been made before.
func (g *gatherer) again(it *Item, first uint32) {
	digest, once := g.seen.once[it.iri]
	if it.made || it.once && once && digest == uint32(it.hash) {
		g.totals.Merged++
		return
	}
	if g.opt.Problem == nil {
		return
	}
	file, row := g.seen.place(first)
	p := mapping.RecordProblem{Rule: ProblemTwice, IRI: it.IRI, Places: []source.Place{it.Place(), {File: file, Row: row}}}
	where := fmt.Sprintf("%s, row %d", file, row)
	p.Message = "another record makes this identifier already (" + where + "), so this one makes no document"
	if it.once && once {
		p.Rule = problemDiffers
		p.Message = "this document differs from the one made first (" + where + "), which is kept"
	}
	g.opt.Problem(p)
}

// dangling reports references to documents that no record makes.
func (g *gatherer) dangling() {
	for _, iri := range g.asked {
		if _, ok := g.seen.find(xxhash.Sum64String(iri)); !ok && g.opt.Problem != nil {
			g.opt.Problem(mapping.RecordProblem{Rule: problemDangling, IRI: iri, Places: []source.Place{g.refs[iri]},
				Value: iri, Message: "this document is referred to, and no record makes it"})
		}
	}
}

// notMade tells of documents that were missed by one record and not made by
// another.
func (g *gatherer) notMade() {
	if g.opt.Missed == nil {
		return
	}
	for _, m := range g.missed {
		if m.IRI != "" {
			if _, ok := g.seen.find(xxhash.Sum64String(m.IRI)); ok {
				continue
			}
		}
		g.opt.Missed(m)
	}
}

// unsafe tells of rows that were not read because a withheld cell may stand where
// another belongs. Which documents they would have made is not known.
func (g *gatherer) unsafe() {
	for _, n := range g.opt.Report.Notes() {
		if n.Kind != source.Unsafe {
			continue
		}
		for i := range n.Count {
			var p source.Place
			if i < len(n.Places) {
				p = n.Places[i]
			} else {
				p.File = n.Places[len(n.Places)-1].File // so many that not all places were kept
			}
			if g.opt.Problem != nil {
				g.opt.Problem(mapping.RecordProblem{Rule: problemUnsafe, Places: []source.Place{p},
					Message: "the row has more or fewer cells than the header, so a cell of a withheld column may stand in another: the row was not read"})
			}
			g.missed = append(g.missed, mapping.Missed{Why: mapping.Unfit, Place: p})
		}
	}
}

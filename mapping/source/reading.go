package source

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/bits"

	"github.com/klauspost/compress/gzip"
)

// Options adjust a Read.
type Options struct {
	Report *Report // gathers repairs and oddities; may be nil
	Rows   int     // most rows of a batch; 0: 128
	Limit  int     // stop after so many records; 0: all
}

// Read streams the source's records, laid out by l, in the order of the files. It
// works in the calling goroutine and calls emit with each batch, which then
// belongs to emit's side until it is released there. It stops at the first error
// of emit, when ctx is done, and at a file that can't be read: the error is then
// an [*Error], and the records before it have been emitted. Joined sources are
// loaded first and stay in memory (see [Set.Forget]); apart from them, memory does
// not grow with the number of records.
func (s *Source) Read(ctx context.Context, l *Layout, opt Options, emit func(*Batch) error) (err error) {
	if l.src != s || l.prefix != "" {
		return fmt.Errorf("source %s: the layout is not one of its records", s.Name)
	}
	if _, err := s.describe(); err != nil {
		return err
	}
	rd := newReading(ctx, s, opt)
	rd.emit = emit
	defer func() {
		rd.close()
		if rd.opt.Report != nil {
			rd.report(rd.opt.Report, err == nil)
		}
	}()
	if rd.root, err = rd.bind(l); err != nil {
		return err
	}
	err = rd.readFiles()
	if err == nil || err == errLimit {
		limited := err == errLimit
		if err = rd.flush(); err == nil && limited {
			rd.limited = true
		}
	}
	var stop *emitError
	if errors.As(err, &stop) {
		return stop.err
	}
	return err
}

// errLimit ends a Read that has its number of records.
var errLimit = errors.New("enough records")

// reading is one Read, or the look that Describe takes.
type reading struct {
	ctx     context.Context
	src     *Source
	opt     Options
	emit    func(*Batch) error
	root    *layoutRun
	runs    []*layoutRun
	collect *collector // Describe: note paths instead of making rows
	headers bool       // Describe: read no further than the header of a table

	clean  cleaner
	mem    *memory
	seq    int
	total  int // records
	read   int64
	window []byte
	gz     *gzip.Reader

	file    *File
	files   []FileReport
	odd     map[noteKey]*Note // about files and joins
	limited bool
	json    *jsonReader
	xml     *xmlReader
}

const batchRows = 128

func newReading(ctx context.Context, s *Source, opt Options) *reading {
	if opt.Rows <= 0 {
		opt.Rows = batchRows
	}
	rd := &reading{ctx: ctx, src: s, opt: opt, odd: map[noteKey]*Note{}}
	rd.clean.html = s.HTML != "keep"
	return rd
}

func (rd *reading) close() {
	if rd.mem != nil {
		rd.mem.reset()
		memories.Put(rd.mem)
		rd.mem = nil
	}
}

// readFiles reads the files in order. Where a source has several, one that has
// nothing at the path to the records is counted and passed over, unless none has.
func (rd *reading) readFiles() error {
	var none error
	some := false
	for _, f := range rd.src.files {
		err := rd.readFile(f)
		var e *Error
		if errors.As(err, &e) && e.none {
			rd.oddity(NoRecords, rd.src.Records, Place{Source: f.Source, File: f.Name})
			if none == nil {
				none = err
			}
			continue
		}
		if err != nil {
			return err
		}
		some = true
	}
	if some {
		return nil
	}
	return none
}

// readFile reads one file; its errors name the file.
func (rd *reading) readFile(f *File) error {
	if err := rd.ctx.Err(); err != nil {
		return err
	}
	rd.file = f
	rd.files = append(rd.files, FileReport{Source: f.Source, Name: f.Name, Size: f.Size})
	in, err := rd.src.set.fsys.Open(f.Name)
	if err != nil {
		return rd.fault(err)
	}
	defer in.Close()
	if info, err := in.Stat(); err == nil && info.IsDir() {
		return &Error{File: f.Name, Reason: "this is a folder"}
	}
	var r io.Reader = &countingReader{r: in, n: &rd.read}
	if f.gzip {
		if rd.gz == nil {
			rd.gz = new(gzip.Reader)
		}
		if err := rd.gz.Reset(r); err != nil {
			return &Error{File: f.Name, Reason: "not readable as gzip", Err: err}
		}
		r = rd.gz
	}
	if f.Format == "xlsx" {
		return rd.fault(rd.readWorkbook(f, r))
	}
	if rd.window == nil {
		n := chunkSize
		if rd.src.family != tables {
			n = 64 << 10
		}
		rd.window = make([]byte, n)
	}
	t, err := decode(r, rd.src.Encoding, rd.src.family == xmls, rd.window)
	if err != nil {
		return rd.fault(err)
	}
	rep := rd.fileReport()
	rep.Encoding, rep.Mark = t.encoding, t.bom
	switch rd.src.family {
	case jsons:
		return rd.fault(rd.readJSON(f, t))
	case xmls:
		return rd.fault(rd.readXML(f, t))
	default:
		return rd.fault(rd.readTable(f, t))
	}
}

func (rd *reading) fileReport() *FileReport { return &rd.files[len(rd.files)-1] }

// fault makes an error name the file it came from.
func (rd *reading) fault(err error) error {
	var e *Error
	var stop *emitError
	switch {
	case err == nil || err == errLimit || errors.As(err, &e) || errors.As(err, &stop) || rd.ctx.Err() != nil:
		return err
	case errors.Is(err, fs.ErrNotExist):
		return &Error{File: rd.file.Name, Reason: "the file is gone", Err: err}
	case errors.Is(err, io.ErrUnexpectedEOF) && rd.file.gzip:
		return &Error{File: rd.file.Name, Reason: "the compressed file is cut short", Err: err}
	}
	return &Error{File: rd.file.Name, Reason: "can't be read", Err: err}
}

// emitError keeps the errors of emit apart from those of files.
type emitError struct{ err error }

func (e *emitError) Error() string { return e.err.Error() }
func (e *emitError) Unwrap() error { return e.err }

// begin gives the next row of the batch.
func (rd *reading) begin() (*Row, error) {
	if rd.mem != nil && len(rd.mem.batch.Rows) >= rd.opt.Rows {
		if err := rd.flush(); err != nil {
			return nil, err
		}
	}
	if rd.mem == nil {
		rd.mem = memories.Get().(*memory)
	}
	b := &rd.mem.batch
	if cap(b.Rows) < rd.opt.Rows {
		b.Rows = make([]Row, 0, rd.opt.Rows)
	}
	b.Rows = b.Rows[:len(b.Rows)+1]
	r := &b.Rows[len(b.Rows)-1]
	*r = Row{Cells: rd.mem.cells.take(len(rd.root.l.fields)), File: rd.file}
	return r, nil
}

// end completes a record.
func (rd *reading) end(r *Row) error {
	rd.join(rd.root, r)
	rd.total++
	rd.fileReport().Records++
	if rd.total == rd.opt.Limit {
		return errLimit
	}
	return nil
}

// flush hands the batch over.
func (rd *reading) flush() error {
	if err := rd.ctx.Err(); err != nil {
		return err
	}
	if rd.mem == nil {
		return nil
	}
	m := rd.mem
	rd.mem = nil
	m.batch.Seq, m.batch.Read, m.batch.mem = rd.seq, rd.read, m
	rd.seq++
	if err := rd.emit(&m.batch); err != nil {
		return &emitError{err}
	}
	return nil
}

type countingReader struct {
	r io.Reader
	n *int64
}

func (c *countingReader) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	*c.n += int64(n)
	return n, err
}

// layoutRun is a layout in use by one reading.
type layoutRun struct {
	l      *Layout
	parent *layoutRun
	slots  []tally // by slot
	whole  tally   // of the row
	looks  []joinRun
	kids   []kidRun
	extras bool // rows need a record of what their look-ups found

	columns []int32 // tables: column of each slot in the file being read; -1: none
	trie    *node   // nested
	nodes   []*node
	rows    []Row // nested: child rows of the record being read
	marks   []int // nested: the row, by serial, in which "several values" was last noted for a slot
	serial  int
}

type kidRun struct {
	run  *layoutRun // nested child rows
	join joinRun    // declared rows of another source
}

// joinRun is an index in use.
type joinRun struct {
	ix      *index
	claimed []uint64 // groups that belong to a record, a bit each
	tally   tally
	key     []byte
}

// bind makes the runs for a layout and loads what it joins.
func (rd *reading) bind(l *Layout) (*layoutRun, error) {
	run := &layoutRun{l: l, slots: make([]tally, len(l.fields)), marks: make([]int, len(l.fields))}
	rd.runs = append(rd.runs, run)
	run.looks = make([]joinRun, len(l.looks))
	run.extras = len(l.looks) > 0
	for i, lk := range l.looks {
		ix, err := rd.load(lk)
		if err != nil {
			return nil, err
		}
		run.looks[i].ix = ix
	}
	run.kids = make([]kidRun, len(l.kids))
	for i := range l.kids {
		k := &l.kids[i]
		switch {
		case k.look >= 0:
		case k.join != nil:
			ix, err := rd.load(k.join)
			if err != nil {
				return nil, err
			}
			run.kids[i].join.ix = ix
			run.kids[i].join.claimed = make([]uint64, (len(ix.starts)+63)/64)
		default:
			sub, err := rd.bind(k.l)
			if err != nil {
				return nil, err
			}
			sub.parent = run
			run.kids[i].run = sub
		}
	}
	if l.src.family != tables {
		run.buildTrie(l.src.family == xmls)
	}
	return run, nil
}

// repaired counts the repairs made in a cell.
func (rd *reading) repaired(run *layoutRun, r *Row, slot int, raw []byte) {
	for f := rd.clean.found; f != 0; f &= f - 1 {
		run.note(Kind(bits.TrailingZeros32(uint32(f))), r, slot, view(raw))
	}
}

// note counts one thing about a cell, or about the row if slot is -1.
func (run *layoutRun) note(k Kind, r *Row, slot int, value string) {
	t := &run.whole
	if slot >= 0 {
		t = &run.slots[slot]
	}
	if t.add(k) {
		p := run.l.whereRow(r)
		if slot >= 0 {
			p = run.l.whereOwn(r, slot)
		}
		if slot >= 0 || len(run.l.src.Withheld) == 0 {
			p.Value = preview(value)
		}
		t.places[k] = append(t.places[k], p)
	}
}

// tally counts what happened in one column.
type tally struct {
	counts *[kindCount]int
	places map[Kind][]Place
}

// add counts and says whether the place is wanted.
func (t *tally) add(k Kind) bool {
	if t.counts == nil {
		t.counts = new([kindCount]int)
		t.places = map[Kind][]Place{}
	}
	t.counts[k]++
	return t.counts[k] <= k.kept()
}

// oddity counts something about a file or a join.
func (rd *reading) oddity(k Kind, column string, p Place) {
	key := noteKey{k, rd.src.Name, column}
	n := rd.odd[key]
	if n == nil {
		n = &Note{Kind: k, Source: rd.src.Name, Column: column}
		rd.odd[key] = n
	}
	n.Count++
	if len(n.Places) < placesKept {
		p.Value = preview(p.Value)
		n.Places = append(n.Places, p)
	}
}

// report adds everything found to rep.
func (rd *reading) report(rep *Report, complete bool) {
	rep.mu.Lock()
	defer rep.mu.Unlock()
	for i := range rd.files {
		rep.addFile(&rd.files[i])
	}
	for _, n := range rd.odd {
		rep.addNote(n)
	}
	for _, run := range rd.runs {
		for slot := range run.slots {
			rep.addTally(run.l.src.Name, run.l.full(run.l.fields[slot].path), &run.slots[slot])
		}
		rep.addTally(run.l.src.Name, run.l.prefix, &run.whole)
		for i := range run.looks {
			j := &run.looks[i]
			if j.ix == nil {
				continue // it could not be loaded
			}
			rep.addTally(run.l.src.Name, run.l.full(run.l.looks[i].name), &j.tally)
			j.ix.report.into(rep)
		}
		for i := range run.kids {
			j := &run.kids[i].join
			if j.ix == nil {
				continue
			}
			j.ix.report.into(rep)
			if complete && !rd.limited {
				j.unclaimed(run.l.kids[i].join)
				rep.addTally(run.l.src.Name, run.l.full(run.l.kids[i].path), &j.tally)
			}
		}
	}
}

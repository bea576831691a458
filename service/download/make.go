package download

import (
	"bufio"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"ropewalk/mapping/entity"
	"ropewalk/service"
)

// Media types of compressed files (RFC 6713, RFC 8878).
const (
	gzipType = "application/gzip"
	zstdType = "application/zstd"
)

// packings are the two compressions of every file, by suffix.
var packings = []struct{ suffix, mediaType string }{{".gz", gzipType}, {".zst", zstdType}}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// output is a file being written: buffer, compression, checksum, disk.
type output struct {
	File
	f        *os.File
	buf      *bufio.Writer
	sum      hash.Hash
	pack     io.WriteCloser // nil if it is not compressed
	unpacked int64
}

func create(dir string, meta File) (*output, error) {
	f, err := os.OpenFile(filepath.Join(dir, meta.Name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return nil, err
	}
	o := &output{File: meta, f: f, sum: sha256.New()}
	o.buf = bufio.NewWriterSize(io.MultiWriter(f, o.sum), 64<<10)
	switch meta.Packing {
	case gzipType:
		o.pack = gzip.NewWriter(o.buf)
	case zstdType:
		// Windows of at most 8 MB are what every reader can take (RFC 9659).
		o.pack, err = zstd.NewWriter(o.buf, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(4<<20))
	}
	return o, err
}

func (o *output) Write(b []byte) (int, error) {
	o.unpacked += int64(len(b))
	if o.pack != nil {
		return o.pack.Write(b)
	}
	return o.buf.Write(b)
}

// close ends the file and brings it to the disk. Its error is the first one.
func (o *output) close() error {
	var err error
	if o.pack != nil {
		err = o.pack.Close()
	}
	err = cmp.Or(err, o.buf.Flush(), o.f.Sync())
	if i, e := o.f.Stat(); e == nil {
		o.Bytes = i.Size()
	}
	o.Unpacked, o.SHA256 = o.unpacked, hex.EncodeToString(o.sum.Sum(nil))
	return cmp.Or(err, o.f.Close())
}

// maker makes one set. Its line: the store's walk → batches → workers, who write each
// batch in every kind → the batches in order again → a goroutine for each file.
type maker struct {
	o     Options
	store service.Store
	dir   string
}

const batchSize = 64

// batch is some records on their way.
type batch struct {
	n       int
	records []service.Record
	text    [][]byte // by kind
	written []int64  // records, by kind
	omitted []int64
	stats   []statement
	nodes   []uint64
	err     error
	users   sync.WaitGroup // files that still read text
}

func (m *maker) make(ctx context.Context) (*Set, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	kinds, workers := m.o.Kinds, max(1, m.o.Workers)

	var outputs []*output
	var feeds []chan *batch
	var writers sync.WaitGroup
	closed := false
	end := func() error {
		if closed {
			return nil
		}
		closed = true
		for _, f := range feeds {
			close(f)
		}
		writers.Wait()
		var first error // a full disk fails all
		for _, o := range outputs {
			first = cmp.Or(first, o.close())
		}
		return first
	}
	defer func() { _ = end() }()
	for k, kind := range kinds {
		for _, p := range packings {
			o, err := create(m.dir, File{Name: "records" + kind.Suffix + p.suffix, Kind: kind.Name, Title: kind.Title, MediaType: kind.MediaType,
				Packing: p.mediaType, Feature: kind.Feature, Conforms: kind.Conforms})
			if err != nil {
				return nil, err
			}
			feed := make(chan *batch, 2)
			outputs, feeds = append(outputs, o), append(feeds, feed)
			writers.Add(1)
			go func() {
				defer writers.Done()
				failed := false
				for b := range feed {
					if !failed {
						if _, err := o.Write(b.text[k]); err != nil {
							failed = true
							cancel(err)
						}
					}
					b.users.Done()
				}
			}()
		}
	}
	stats, err := newStatistics(m.dir)
	if err != nil {
		return nil, err
	}
	defer stats.discard()
	maps := newSitemaps(m.dir, m.o.Site)
	defer maps.discard()

	free := make(chan *batch, 2*workers+2)
	for range cap(free) {
		free <- &batch{text: make([][]byte, len(kinds)), written: make([]int64, len(kinds)), omitted: make([]int64, len(kinds))}
	}
	work, done := make(chan *batch, workers), make(chan *batch, cap(free))
	var busy sync.WaitGroup
	for range workers {
		w := m.worker(stats)
		busy.Add(1)
		go func() {
			defer busy.Done()
			for b := range work {
				if b.err = context.Cause(ctx); b.err == nil {
					w.do(b)
				}
				done <- b
			}
		}()
	}
	collected := make(chan error, 1)
	go func() {
		waiting, next := map[int]*batch{}, 0
		var failed error
		for b := range done {
			waiting[b.n] = b
			for b := waiting[next]; b != nil; b = waiting[next] {
				delete(waiting, next)
				next++
				if failed == nil {
					failed = m.collect(b, outputs, feeds, stats, maps)
					if failed != nil {
						cancel(failed)
					}
				}
				b.users.Wait()
				free <- b
			}
		}
		collected <- failed
	}()

	for k, kind := range kinds {
		b := &batch{text: make([][]byte, len(kinds))}
		b.text[k] = kind.New().Header(nil)
		feed(b, feeds[len(packings)*k:len(packings)*(k+1)])
	}
	n := 0
	var b *batch
	send := func() {
		work <- b
		b = nil
	}
	pub, err := m.store.Walk(ctx, func(r *service.Record) error {
		if b == nil {
			select {
			case b = <-free:
			case <-ctx.Done():
				return context.Cause(ctx)
			}
			b.n, b.records, n = n, b.records[:0], n+1
		}
		b.take(r)
		if len(b.records) == batchSize {
			send()
		}
		return nil
	})
	if b != nil {
		send()
	}
	close(work)
	busy.Wait()
	close(done)
	if failed := <-collected; failed != nil {
		err = failed
	} else if err == nil {
		err = context.Cause(ctx)
	}
	if err != nil {
		return nil, err
	}
	for k, kind := range kinds {
		b := &batch{text: make([][]byte, len(kinds))}
		b.text[k] = kind.New().Footer(nil)
		feed(b, feeds[len(packings)*k:len(packings)*(k+1)])
	}
	if err := end(); err != nil {
		return nil, err
	}
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	set := &Set{Publication: pub.Number, Time: pub.Time}
	for _, o := range outputs {
		set.Files = append(set.Files, o.File)
	}
	if set.Counts, err = stats.counts(); err != nil {
		return nil, err
	}
	sitemaps, err := maps.close(pub.Time)
	if err != nil {
		return nil, err
	}
	described, err := describe(m.dir, m.o.Site, set)
	if err != nil {
		return nil, err
	}
	set.Files = append(append(set.Files, described...), sitemaps...)
	stats.discard() // before the folder is what others see
	return set, syncFolder(m.dir)
}

// take copies a record, which is its giver's again afterwards, into memory that is
// used again.
func (b *batch) take(r *service.Record) {
	i := len(b.records)
	if i < cap(b.records) {
		b.records = b.records[:i+1]
	} else {
		b.records = append(b.records, service.Record{})
	}
	body := append(b.records[i].Body[:0], r.Body...)
	b.records[i] = *r
	b.records[i].Body, b.records[i].Sets = body, nil
}

// feed gives a batch to files and waits until they have written it.
func feed(b *batch, to []chan *batch) {
	b.users.Add(len(to))
	for _, f := range to {
		f <- b
	}
	b.users.Wait()
}

// collect takes a batch when it is its turn.
func (m *maker) collect(b *batch, outputs []*output, feeds []chan *batch, stats *statistics, maps *sitemaps) error {
	if b.err != nil {
		return b.err
	}
	for i, o := range outputs {
		o.Records += b.written[i/len(packings)]
		o.Omitted += b.omitted[i/len(packings)]
	}
	b.users.Add(len(feeds))
	for _, f := range feeds {
		f <- b
	}
	for i := range b.records {
		if err := maps.add(&b.records[i]); err != nil {
			return err
		}
	}
	return stats.add(b)
}

// worker writes batches.
type worker struct {
	kinds    []Kind
	encoders []Encoder
	doc      entity.Document
	counter  *counter
}

func (m *maker) worker(s *statistics) *worker {
	w := &worker{kinds: m.o.Kinds, counter: s.counter()}
	for _, k := range m.o.Kinds {
		w.encoders = append(w.encoders, k.New())
	}
	return w
}

func (w *worker) do(b *batch) {
	clear(b.written)
	clear(b.omitted)
	for k := range b.text {
		b.text[k] = b.text[k][:0]
	}
	b.stats, b.nodes = b.stats[:0], b.nodes[:0]
	for i := range b.records {
		r := &b.records[i]
		if err := w.doc.Parse(r.Body, r.Keys); err != nil {
			b.err = fmt.Errorf("the stored document of %s: %w", r.IRI, err)
			return
		}
		if err := w.doc.Err(); err != nil {
			b.err = fmt.Errorf("the stored document of %s: %w", r.IRI, err)
			return
		}
		for k, e := range w.encoders {
			kind := &w.kinds[k]
			if len(kind.Endpoints) > 0 && !slices.Contains(kind.Endpoints, r.Endpoint) {
				continue
			}
			out, err := e.Append(b.text[k], r, &w.doc)
			if err != nil {
				if !kind.Lossy {
					b.err = err
					return
				}
				b.omitted[k]++
				continue
			}
			b.text[k] = out
			b.written[k]++
		}
		w.counter.count(b, &w.doc)
	}
}

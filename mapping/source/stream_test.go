package source

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/klauspost/compress/gzip"
)

// endless is a file system with one file, made as it is read: head, then n times
// what line gives.
type endless struct {
	name, head string
	n          int
	line       func(b []byte, i int) []byte
	tail       string
}

func (e *endless) Open(name string) (fs.File, error) {
	if name != e.name {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &endlessFile{e: e, buf: []byte(e.head)}, nil
}

type endlessFile struct {
	e   *endless
	i   int
	buf []byte
}

func (f *endlessFile) Read(b []byte) (int, error) {
	for len(f.buf) < len(b) && f.i < f.e.n {
		f.buf = f.e.line(f.buf, f.i)
		if f.i++; f.i == f.e.n {
			f.buf = append(f.buf, f.e.tail...)
		}
	}
	n := copy(b, f.buf)
	f.buf = append(f.buf[:0], f.buf[n:]...)
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

func (f *endlessFile) Close() error               { return nil }
func (f *endlessFile) Stat() (fs.FileInfo, error) { return fileInfo{f.e.name}, nil }

type fileInfo struct{ name string }

func (i fileInfo) Name() string       { return i.name }
func (i fileInfo) Size() int64        { return 0 }
func (i fileInfo) Mode() fs.FileMode  { return 0 }
func (i fileInfo) ModTime() time.Time { return time.Time{} }
func (i fileInfo) IsDir() bool        { return false }
func (i fileInfo) Sys() any           { return nil }

var streams = map[string]*endless{
	"csv": {name: "t.csv", head: "id,title,note\n", line: func(b []byte, i int) []byte {
		return fmt.Appendf(b, "%d,\"Sextant, brass\",Zürich\u00a0%d\n", i, i)
	}},
	"json": {name: "t.json", head: "[{}", tail: "]", line: func(b []byte, i int) []byte {
		return fmt.Appendf(b, ",\n{\"id\":%d,\"title\":\"Sextant\\u00e9\",\"a\":[{\"b\":1},{\"b\":2}]}", i)
	}},
	"xml": {name: "t.xml", head: "<l>", tail: "</l>", line: func(b []byte, i int) []byte {
		return fmt.Appendf(b, "<o><id>%d</id>\n<title>Sextant &amp; case</title><a><b>1</b></a><a><b>2</b></a></o>", i)
	}},
}

// The heap after many records is what it was after few.
func TestMemoryDoesNotGrow(t *testing.T) {
	for name, e := range streams {
		t.Run(name, func(t *testing.T) {
			measure := func(n int) (peak uint64) {
				x := *e
				x.n = n
				set, err := New(&x, []Spec{{Name: "t", Files: []string{e.name}, Records: map[string]string{"xml": "l.o"}[name]}})
				if err != nil {
					t.Fatal(err)
				}
				src := set.Source("t")
				l := src.Layout()
				slots(t, l, "id", "title")
				if name != "csv" {
					a, _ := kids(t, l, "a")
					slots(t, a, "b")
				}
				records, batches := 0, 0
				err = src.Read(t.Context(), l, Options{Report: &Report{}}, func(b *Batch) error {
					records += len(b.Rows)
					b.Release()
					if batches++; batches%200 == 0 {
						var m runtime.MemStats
						runtime.GC()
						runtime.ReadMemStats(&m)
						peak = max(peak, m.HeapAlloc)
					}
					return nil
				})
				if err != nil {
					t.Fatal(err)
				}
				if want := n + map[string]int{"json": 1}[name]; records != want {
					t.Fatalf("%d records, want %d", records, want)
				}
				return peak
			}
			few, many := measure(30_000), measure(200_000)
			if many > few+1<<20 {
				t.Errorf("heap of %d bytes with 30,000 records, %d with 200,000", few, many)
			}
		})
	}
}

func TestCancel(t *testing.T) {
	for name, e := range streams {
		t.Run(name, func(t *testing.T) {
			x := *e
			x.n = 1 << 40
			set, err := New(&x, []Spec{{Name: "t", Files: []string{e.name}, Records: map[string]string{"xml": "l.o"}[name]}})
			if err != nil {
				t.Fatal(err)
			}
			src := set.Source("t")
			l := src.Layout()
			slots(t, l, "id")
			ctx, cancel := context.WithCancel(t.Context())
			batches := 0
			err = src.Read(ctx, l, Options{}, func(b *Batch) error {
				b.Release()
				if batches++; batches == 3 {
					cancel()
				}
				return nil
			})
			if !errors.Is(err, context.Canceled) || batches != 3 {
				t.Errorf("%v after %d batches", err, batches)
			}
			stop := errors.New("enough")
			if err := src.Read(t.Context(), l, Options{}, func(b *Batch) error { b.Release(); return stop }); err != stop {
				t.Errorf("emit's error came back as %v", err)
			}
			var rep Report
			rows, err := readAll(src, l, Options{Limit: 300, Report: &rep})
			if err != nil || len(rows) != 300 || rep.Records("t") != 300 {
				t.Errorf("with a limit of 300: %d rows, %d reported, %v", len(rows), rep.Records("t"), err)
			}
		})
	}
}

// Batches may be kept and released by other goroutines in any order.
func TestBatchesAcrossGoroutines(t *testing.T) {
	x := *streams["csv"]
	x.n = 50_000
	set, err := New(&x, []Spec{{Name: "t", Files: []string{"t.csv"}}})
	if err != nil {
		t.Fatal(err)
	}
	src := set.Source("t")
	l := src.Layout()
	slots(t, l, "id", "title", "note")
	work := make(chan *Batch, 16)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			var held []*Batch
			for b := range work {
				held = append(held, b)
				if len(held) < 5 {
					continue
				}
				for _, b := range held {
					for i := range b.Rows {
						r := &b.Rows[i]
						if r.Cells[0] != fmt.Sprint(r.Num-2) || r.Cells[1] != "Sextant, brass" || r.Cells[2] != "Zürich "+r.Cells[0] {
							t.Errorf("row %d: %q", r.Num, r.Cells)
						}
					}
					b.Release()
				}
				held = held[:0]
			}
		})
	}
	next := 0
	err = src.Read(t.Context(), l, Options{}, func(b *Batch) error {
		if b.Seq != next {
			t.Errorf("batch %d, want %d", b.Seq, next)
		}
		next++
		work <- b
		return nil
	})
	close(work)
	wg.Wait()
	if err != nil || next < 50_000/batchRows {
		t.Errorf("%d batches, %v", next, err)
	}
}

func TestRowsBeforeAFault(t *testing.T) {
	set := mustNew(t, files("a.csv", "id\n1\n2\n", "b.csv", "id,x\n3,\n4,\"x\n"), Spec{Name: "t", Files: []string{"a.csv", "b.csv"}})
	src := set.Source("t")
	rep := &Report{}
	_, err := readAll(src, allColumns(t, src), Options{Report: rep, Rows: 1})
	var e *Error
	if !errors.As(err, &e) || e.File != "b.csv" || e.Row != 3 || e.Line != 3 || e.Col != 3 {
		t.Errorf("%v", err)
	}
	if n := rep.Records("t"); n != 3 {
		t.Errorf("%d records in the report, want 3", n)
	}
}

func TestGzip(t *testing.T) {
	pack := func(s string) string {
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		io.WriteString(w, s)
		w.Close()
		return b.String()
	}
	long := "id,x\n" + strings.Repeat("1,some text of no interest\n2,and more of it\n", 5000)
	fsys := files("a.csv.gz", pack("id\n1\n"), "b.json.gz", pack(`{"id":2}`), "c.xml.gz", pack("<o><id>3</id></o>"), "cut.csv.gz", pack(long)[:200], "no.csv.gz", "id\n1\n")
	for i, name := range []string{"a.csv.gz", "b.json.gz", "c.xml.gz"} {
		src := mustNew(t, fsys, Spec{Name: "t", Files: []string{name}}).Source("t")
		l := src.Layout()
		slots(t, l, "id")
		if rows := rowsOf(t, src, l, nil); len(rows) != 1 || !strings.HasSuffix(rows[0], fmt.Sprintf(": %d", i+1)) {
			t.Errorf("%s: %q", name, rows)
		}
	}
	for name, reason := range map[string]string{"cut.csv.gz": "cut short", "no.csv.gz": "not readable as gzip"} {
		src := mustNew(t, fsys, Spec{Name: "t", Files: []string{name}}).Source("t")
		if e := failure(t, src, src.Layout()); e.File != name || !strings.Contains(e.Reason, reason) {
			t.Errorf("%v, want %s", e, reason)
		}
	}
}

// A file that is gone or unreadable by the time it is read.
func TestFilesThatFail(t *testing.T) {
	fsys := fstest.MapFS{"a.csv": {Data: []byte("id\n1\n")}}
	src := mustNew(t, fsys, Spec{Name: "t", Files: []string{"a.csv"}}).Source("t")
	l := allColumns(t, src)
	delete(fsys, "a.csv")
	if e := failure(t, src, l); e.File != "a.csv" || e.Reason != "the file is gone" || !errors.Is(e, fs.ErrNotExist) {
		t.Errorf("%v", e)
	}
	fsys["a.csv"] = &fstest.MapFile{Mode: fs.ModeDir}
	if e := failure(t, src, l); e.File != "a.csv" || e.Reason != "this is a folder" {
		t.Errorf("%v", e)
	}
}

func TestProgress(t *testing.T) {
	text := "id,x\n" + strings.Repeat("1,some text\n", 100_000)
	set := mustNew(t, files("a.csv", text), Spec{Name: "t", Files: []string{"a.csv"}})
	src := set.Source("t")
	var seen []int64
	err := src.Read(t.Context(), allColumns(t, src), Options{}, func(b *Batch) error {
		seen = append(seen, b.Read)
		b.Release()
		return nil
	})
	if err != nil || !slices.IsSorted(seen) || seen[0] > int64(len(text)/2) || seen[len(seen)-1] != src.Size() {
		t.Errorf("from %d to %d of %d, %v", seen[0], seen[len(seen)-1], src.Size(), err)
	}
}

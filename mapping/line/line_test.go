package line_test

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
)

const siteFile = `title: T
base: https://a.example/
sources:
  things: { files: things*.csv }
  makers: { files: makers.csv }
terms: { words: words.csv }
`

const mappings = `make: HumanMadeObject
from: things
id: object/{nr}
when: state != "hidden"
label: "{title}"
identified_by:
  - { type: Name, content: "{title}" }
  - { each: { split: "{words}", at: ";" }, type: Name, content: "{.}" }
made_of: { term: words, from: "{words}", split: ";", otherwise: make }
part_of: { refer: "object/{whole}" }
produced_by:
  timespan: { read: date, from: "{made}" }
  carried_out_by: { refer: "person/{maker}", label: "{maker}" }
---
make: Person
from: things
id: person/{maker}
once: true
when: maker != ""
label: "{maker}"
referred_to_by: { type: LinguisticObject, content: "{about}" }
---
make: Person
from: makers
id: person/{name}
label: "{name}"
`

const words = "word,iri\nebony,aat:300012130\nglass,\n"

// telling is an encoder that finds something wrong with every document whose label
// says so, as a validator would.
type telling struct {
	enc *render.Encoder
	n   int
}

func (e *telling) Triples() int { return e.n }

func (e *telling) Encode(dst []byte, d *entity.Document, m mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	if strings.HasPrefix(d.Label(), "bad") {
		tell(mapping.RecordProblem{Rule: "bad-label", IRI: strings.Clone(d.IRI()), Message: "a bad label"})
	}
	e.n = len(d.Events())
	out, err := e.enc.Append(dst, d)
	if err != nil {
		tell(mapping.RecordProblem{Rule: "not-written", IRI: strings.Clone(d.IRI()), Message: err.Error()})
	}
	return out
}

func program(t testing.TB, files fstest.MapFS) *mapping.Program {
	t.Helper()
	files[site.FileName] = &fstest.MapFile{Data: []byte(siteFile)}
	files["mapping/all.yaml"] = &fstest.MapFile{Data: []byte(mappings)}
	files["words.csv"] = &fstest.MapFile{Data: []byte(words)}
	s, ds := site.Load(files)
	if s.Program == nil {
		t.Fatal(ds)
	}
	return s.Program
}

// walk is all that a run gives and says, as text.
func walk(p *mapping.Program, format string, workers, rows int) string {
	var docs, says strings.Builder
	opt := line.Options{Workers: workers, Rows: rows, Report: &source.Report{}, References: true, Describe: true,
		Now: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC),
		NewEncoder: func() line.Encoder {
			return &telling{enc: render.NewEncoder(render.FormatByName(format), render.Options{})}
		},
		Problem: func(r mapping.RecordProblem) {
			fmt.Fprintf(&says, "%s %v %s %s %q %v\n", r.Rule, r.Places, r.IRI, r.Message, r.Value, r.Nearest)
		},
		Missed: func(m mapping.Missed) { fmt.Fprintf(&says, "missed %+v\n", m) },
	}
	totals, err := line.Run(context.Background(), p, opt, func(it *line.Item) error {
		fmt.Fprintf(&docs, "%s %s %q %q %d\n%s", it.IRI, it.Class.Key, it.Label, it.Keys, it.Triples, it.Data)
		return nil
	})
	return fmt.Sprintf("%s\n%s\n%+v %v\n", docs.String(), says.String(), totals, err)
}

// What comes out is the same for any number of workers and any size of batches:
// documents and their order, problems and theirs, and all totals.
func TestSameForAnyWorkersAndBatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := func(name string, of ...string) string { return rapid.SampledFrom(of).Draw(t, name) }
		table := func() string {
			var b strings.Builder
			b.WriteString("nr,title,state,words,whole,made,maker,about\n")
			for range rapid.IntRange(0, 30).Draw(t, "rows") {
				fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%s,%s,%s\n",
					from("nr", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", ""), from("title", "Octant", "Gauge", "bad title", ""),
					from("state", "", "", "hidden"), from("words", "", "ebony", "ebony; glass", "ivory", "glass; ivory; ebony"),
					from("whole", "", "", "1", "20"), from("made", "", "1790", "long ago"),
					from("maker", "", "fell", "dahl", "bad man"), from("about", "turner", "turner", "engraver"))
			}
			return b.String()
		}
		files := fstest.MapFS{
			"things1.csv": {Data: []byte(table())},
			"things2.csv": {Data: []byte(table())},
			"makers.csv":  {Data: []byte("name\n" + strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"fell", "orlop", "bad maker"}), 0, 3).Draw(t, "makers"), "\n") + "\n")},
		}
		p := program(fatal{TB: nil, t: t}, files)
		format := from("format", "jsonld", "nt", "ttl")
		want := walk(p, format, 1, 1000)
		for range 4 {
			workers, rows := rapid.IntRange(1, 8).Draw(t, "workers"), rapid.SampledFrom([]int{0, 1, 2, 3, 7, 20}).Draw(t, "batch")
			if got := walk(p, format, workers, rows); got != want {
				t.Fatalf("%d workers, batches of %d:\n%s\none worker, one batch:\n%s", workers, rows, got, want)
			}
		}
	})
}

// fatal lets a rapid test stand where a testing.TB is asked for.
type fatal struct {
	testing.TB
	t *rapid.T
}

func (f fatal) Helper()        { f.t.Helper() }
func (f fatal) Fatal(a ...any) { f.t.Fatal(a...) }

// many is a table with many records; with bad above 0 that row is malformed.
func many(n, bad int) fstest.MapFS {
	var b strings.Builder
	b.WriteString("nr,title,state,words,whole,made,maker,about\n")
	for i := 1; i <= n; i++ {
		if i == bad {
			fmt.Fprintf(&b, "%d,\"never closed,,,,,,\n", i)
			continue
		}
		fmt.Fprintf(&b, "%d,Thing,,,,,,\n", i)
	}
	return fstest.MapFS{"things.csv": {Data: []byte(b.String())}, "makers.csv": {Data: []byte("name\n")}}
}

func options(workers int) line.Options {
	return line.Options{Workers: workers, Rows: 5, NewEncoder: func() line.Encoder {
		return &telling{enc: render.NewEncoder(render.FormatByName("nt"), render.Options{})}
	}}
}

// settled waits until as many goroutines run as before.
func settled(t *testing.T, before int) {
	t.Helper()
	for range 100 {
		if runtime.NumGoroutine() <= before {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d goroutines, %d before", runtime.NumGoroutine(), before)
}

// The sink's error ends the run: it is returned, and the sink is not called again.
func TestSinkFails(t *testing.T) {
	p := program(t, many(500, 0))
	before := runtime.NumGoroutine()
	full := errors.New("the disk is full")
	for _, workers := range []int{1, 3} {
		calls := 0
		_, err := line.Run(t.Context(), p, options(workers), func(*line.Item) error {
			if calls++; calls == 42 {
				return full
			}
			return nil
		})
		if !errors.Is(err, full) || calls != 42 {
			t.Errorf("%d workers: %v after %d calls, want %v after 42", workers, err, calls, full)
		}
	}
	settled(t, before)
}

// Cancelling ends the run.
func TestCancelled(t *testing.T) {
	p := program(t, many(2000, 0))
	before := runtime.NumGoroutine()
	for _, workers := range []int{1, 3} {
		ctx, cancel := context.WithCancel(t.Context())
		calls := 0
		_, err := line.Run(ctx, p, options(workers), func(*line.Item) error {
			if calls++; calls == 10 {
				cancel()
			}
			return nil
		})
		if !errors.Is(err, context.Canceled) || calls == 2000 {
			t.Errorf("%d workers: %v after %d documents", workers, err, calls)
		}
		cancel()
	}
	settled(t, before)
}

// A malformed file ends the run with its error; what came before has come out, in
// order.
func TestSourceFails(t *testing.T) {
	p := program(t, many(300, 200))
	before := runtime.NumGoroutine()
	for _, workers := range []int{1, 4} {
		var got []string
		_, err := line.Run(t.Context(), p, options(workers), func(it *line.Item) error {
			got = append(got, it.IRI)
			return nil
		})
		var se *source.Error
		if !errors.As(err, &se) || se.File != "things.csv" || se.Line != 201 {
			t.Errorf("%d workers: %v, want an error at things.csv:201", workers, err)
		}
		if len(got) < 190 || len(got) > 199 {
			t.Errorf("%d workers: %d documents in front of row 200", workers, len(got))
		}
		for i, iri := range got {
			if want := fmt.Sprintf("https://a.example/object/%d", i+1); iri != want {
				t.Fatalf("%d workers: document %d is <%s>, want <%s>", workers, i, iri, want)
			}
		}
	}
	settled(t, before)
}

// What is read is told as it goes, and never goes back.
func TestProgress(t *testing.T) {
	p := program(t, many(400, 0))
	opt := options(3)
	last, calls := int64(0), 0
	opt.Progress = func(name string, n int64) {
		if name != "things" {
			return
		}
		if n < last {
			t.Errorf("%d bytes after %d", n, last)
		}
		last = n
		calls++
	}
	if _, err := line.Run(t.Context(), p, opt, func(*line.Item) error { return nil }); err != nil {
		t.Fatal(err)
	}
	if size := p.Sources[0].Source.Size(); last != size || calls < 10 {
		t.Errorf("%d of %d bytes were told of, in %d calls", last, size, calls)
	}
}

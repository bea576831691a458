package main

import (
	"bytes"
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing/fstest"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
)

// bench holds the records in memory, with a program for them.
type bench struct {
	rounds  int
	context string
	files   fstest.MapFS
	site    *site.Site
	sp      *mapping.SourceProgram
	batches []*source.Batch
	floors  []record
	bytes   map[string]int // of one pass, by format
	triples int
	docs    [][]byte // some documents as JSON-LD, for peers
	nt      []byte   // and as N-Triples
}

// sampled is how many documents the slow peers are given.
const sampled = 300

func prepare(n, rounds int, context string) (*bench, error) {
	b := &bench{rounds: rounds, context: context, files: siteFS(n), bytes: map[string]int{}}
	s, diags := site.Load(b.files)
	if diags.Problems() > 0 {
		return nil, diags
	}
	b.site, b.sp = s, s.Program.Sources[0]
	if err := b.read(func(x *source.Batch) { b.batches = append(b.batches, x) }); err != nil {
		return nil, err
	}
	return b, b.checkFloors()
}

func (b *bench) read(f func(*source.Batch)) error {
	return b.sp.Source.Read(context.Background(), b.sp.Layout, source.Options{}, func(x *source.Batch) error {
		f(x)
		return nil
	})
}

var markPlaces = []*regexp.Regexp{
	regexp.MustCompile(`#representation\.([0-9a-z]{12})>`),
	regexp.MustCompile(`/assigned_by\.([0-9a-z]{12})>`),
	regexp.MustCompile(`/digitally_shown_by\.([0-9a-z]{12})>`),
	regexp.MustCompile(`/timespan/identified_by\.([0-9a-z]{12})>`),
}

// checkFloors fills in what the floors write from and makes sure that they write
// the very bytes of the export, for every record.
func (b *bench) checkFloors() error {
	run := b.site.Program.NewRun()
	ntEnc := render.NewEncoder(render.FormatByName("nt"), render.Options{})
	jsEnc := render.NewEncoder(render.FormatByName("jsonld"), render.Options{})
	i := 0
	var failed error
	each := func(d *entity.Document, _ mapping.Meta) error {
		c := synthetic(i)
		r := record{id: c[0], title: c[1], date: c[3], makerID: c[4], maker: c[5], placeID: c[6], place: c[7],
			height: c[9], width: c[10], description: c[12], credit: c[13], department: c[14], image: c[15]}
		r.typeIRI, r.typeLabel = b.term("object-types", c[2])
		r.techniqueIRI, r.techniqueLabel = b.term("techniques", c[8])
		r.materialIRI, r.materialLabel = b.term("materials", c[11])
		r.heightE, r.widthE = double(c[9]), double(c[10])
		nt, err := ntEnc.Append(nil, d)
		if err != nil {
			return err
		}
		js, err := jsEnc.Append(nil, d)
		if err != nil {
			return err
		}
		for _, re := range markPlaces {
			m := re.FindSubmatch(nt)
			if m == nil {
				return fmt.Errorf("record %d: no node for %v", i, re)
			}
			r.marks = append(r.marks, string(m[1]))
		}
		for _, f := range []struct {
			name  string
			write func([]byte, *record) []byte
			want  []byte
		}{{"floorNT", floorNT, nt}, {"bareNT", bareNT, nt}, {"floorJSON", floorJSON, js}, {"bareJSON", bareJSON, js}} {
			if got := f.write(nil, &r); !bytes.Equal(got, f.want) {
				return fmt.Errorf("record %d: %s does not write the bytes of the export: %s", i, f.name, difference(got, f.want))
			}
		}
		b.triples += bytes.Count(nt, []byte("\n"))
		b.bytes["nt"] += len(nt)
		if i < sampled {
			b.docs = append(b.docs, js)
			b.nt = append(b.nt, nt...)
		}
		b.floors = append(b.floors, r)
		i++
		return nil
	}
	for _, x := range b.batches {
		for k := range x.Rows {
			if failed = run.Record(b.sp, &x.Rows[k], each); failed != nil {
				return failed
			}
		}
	}
	return nil
}

func (b *bench) term(list, word string) (iri, label string) {
	t, _ := b.site.Terms[list].Find(word)
	return t.IRI, t.Label
}

// double is the canonical form of an xsd:double as JSON-LD writes it (JSON-LD 1.1
// API §8.6: sixteen significant digits).
func double(s string) string {
	f, _ := strconv.ParseFloat(s, 64)
	m, e, _ := strings.Cut(strconv.FormatFloat(f, 'E', 15, 64), "E")
	m = strings.TrimRight(m, "0")
	if strings.HasSuffix(m, ".") {
		m += "0"
	}
	n, _ := strconv.Atoi(e)
	return fmt.Sprintf("%sE%d", m, n)
}

// export is one pass over the records in memory: mapped, built and written.
func (b *bench) export(run *mapping.Run, enc *render.Encoder, buf []byte) (last []byte, bytes int) {
	run.Full = enc.Format().Name != "jsonld" // as the program does
	emit := func(d *entity.Document, _ mapping.Meta) error {
		var err error
		buf, err = enc.Append(buf[:0], d)
		bytes += len(buf)
		return err
	}
	for _, x := range b.batches {
		for k := range x.Rows {
			if err := run.Record(b.sp, &x.Rows[k], emit); err != nil {
				panic(err)
			}
		}
	}
	return buf, bytes
}

// formats measures every format against its floor.
func (b *bench) formats(t *table) error {
	n := float64(len(b.floors))
	fmt.Printf("%d triples and %d bytes of N-Triples a record\n\n", b.triples/len(b.floors), b.bytes["nt"]/len(b.floors))
	buf := make([]byte, 0, 1<<20)
	floor := func(f func([]byte, *record) []byte) func() {
		return func() {
			for i := range b.floors {
				buf = f(buf[:0], &b.floors[i])
			}
		}
	}
	for _, x := range []struct {
		name   string
		floor  func([]byte, *record) []byte
		bare   func([]byte, *record) []byte // measured where it is the format's own
		of     string
		target float64
	}{
		{"nt", floorNT, bareNT, "floor", 3}, {"jsonld", floorJSON, bareJSON, "its floor", 3}, {"nq", floorNT, nil, "floor", 0},
		{"ttl", floorNT, nil, "floor", 6}, {"rdf", floorNT, nil, "floor", 7},
	} {
		f := render.FormatByName(x.name)
		enc, run := render.NewEncoder(f, render.Options{}), b.site.Program.NewRun()
		out := make([]byte, 0, 1<<20)
		size := 0
		export := func() { out, size = b.export(run, enc, out) }
		ratio, ours, low := contest(b.rounds, export, floor(x.floor))
		b.bytes[x.name] = size
		mb := float64(size) / 1e6
		if x.bare != nil {
			t.add(row{what: "floor: " + f.Title + " written by hand", records: n / low.Seconds(), mb: mb / low.Seconds()})
		}
		t.add(row{what: "export " + f.Title + ", records in memory", records: n / ours.Seconds(), mb: mb / ours.Seconds(),
			ratio: ratio, of: x.of, target: x.target})
		if x.bare != nil {
			bare, _, copied := contest(b.rounds, export, floor(x.bare))
			t.add(row{what: "  beside a bare copy of the bytes", records: n / copied.Seconds(), mb: mb / copied.Seconds(), ratio: bare, of: "bare copy"})
		}
	}
	// From the CSV file: the same reader feeds the export and the floor.
	enc, run := render.NewEncoder(render.FormatByName("nt"), render.Options{}), b.site.Program.NewRun()
	out := make([]byte, 0, 1<<20)
	emit := func(d *entity.Document, _ mapping.Meta) error {
		var err error
		out, err = enc.Append(out[:0], d)
		return err
	}
	var failed error
	fromCSV := func() {
		failed = b.read(func(x *source.Batch) {
			for k := range x.Rows {
				if err := run.Record(b.sp, &x.Rows[k], emit); err != nil {
					panic(err)
				}
			}
			x.Release()
		})
	}
	floorCSV := func() {
		i := 0
		failed = b.read(func(x *source.Batch) {
			for range x.Rows {
				buf = floorNT(buf[:0], &b.floors[i])
				i++
			}
			x.Release()
		})
	}
	ratio, ours, _ := contest(b.rounds, fromCSV, floorCSV)
	if failed != nil {
		return failed
	}
	t.add(row{what: "export N-Triples from CSV", records: n / ours.Seconds(), mb: float64(b.bytes["nt"]) / 1e6 / ours.Seconds(),
		ratio: ratio, of: "CSV reader with floor", target: 2})
	return nil
}

// difference shows where two texts part.
func difference(a, b []byte) string {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	cut := func(s []byte) []byte { return s[max(0, i-60):min(len(s), i+60)] }
	return fmt.Sprintf("…%s… instead of …%s…", cut(a), cut(b))
}

package conformance

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"ropewalk/conformance/collections"
	"ropewalk/conformance/outside"
	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/service/demo"
	"ropewalk/vocab"
)

// siteDocument is a document of a site as the line from rows to documents makes it.
type siteDocument struct {
	endpoint *vocab.Endpoint
	doc      *entity.Document // valid until yield returns
	jsonld   []byte           // what our writer made of it; valid until yield returns
}

// jsonldEncoder writes documents as JSON-LD.
type jsonldEncoder struct{ e *render.Encoder }

func (j jsonldEncoder) Encode(dst []byte, d *entity.Document, _ mapping.Meta, tell func(mapping.RecordProblem)) []byte {
	out, err := j.e.Append(dst, d)
	if err != nil {
		tell(mapping.RecordProblem{Rule: "cannot-be-written", Message: err.Error()})
	}
	return out
}

// siteDocuments walks the documents of a site.
func siteDocuments(dir fs.FS, yield func(siteDocument) error) error {
	s, diags := site.Load(dir)
	if diags.Problems() > 0 {
		return diags
	}
	var broken error
	doc := new(entity.Document)
	_, err := line.Run(context.Background(), s.Program, line.Options{
		Workers:  2,
		Describe: true,
		NewEncoder: func() line.Encoder {
			return jsonldEncoder{render.NewEncoder(render.FormatByName("jsonld"), render.Options{})}
		},
		Problem: func(p mapping.RecordProblem) {
			if p.Rule == "cannot-be-written" && broken == nil {
				broken = errors.New(p.Message)
			}
		},
	}, func(it *line.Item) error {
		if err := doc.Parse(it.Data, it.Keys); err != nil {
			return fmt.Errorf("%s: our JSON-LD read by us: %w", it.IRI, err)
		}
		return yield(siteDocument{it.Endpoint, doc, it.Data})
	})
	if err == nil {
		err = broken
	}
	return err
}

// leastDocuments are the sites there are, and how many documents each makes at
// least: the demonstration, and those over real museums' data.
var leastDocuments = map[string]int{
	"demo":       300,
	"skokloster": 1500,
	"tate":       7000,
}

// openSite gives a site's folder, with its data in it.
func openSite(t *testing.T, name string) fs.FS {
	t.Helper()
	if name != "demo" {
		f, err := collections.Open(name, outside.Shared(t))
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	dir := filepath.Join(t.TempDir(), "demo")
	if err := demo.Write(dir); err != nil {
		t.Fatal(err)
	}
	return os.DirFS(dir)
}

// TestSites takes every document of every site: it is valid against the published
// schema of its kind, and every statement keeps to the domains and ranges of the
// published ontologies. A sample over all classes is written in every format and
// read back by every reader; the graph must be that which json-gold makes of the
// JSON-LD with the published context.
func TestSites(t *testing.T) {
	schemas := outside.PublishedSchemas(t)
	ontology := outside.PublishedOntology(t, outside.Knakk())
	expand := outside.PublishedContext(t)
	readers := append(allReaders(t), expand.Reader())
	dev := outside.LoadDeviations(t, "sites")
	names := append(collections.Names(), "demo")
	size, few, sample := 40, 1000, 0
	if !outside.Long() {
		names, size, few = []string{"demo"}, 1, 2
	}
	nt := render.NewEncoder(render.FormatByName("nt"), render.Options{})
	uses := map[outside.Use]int{}
	triples := 0
	for _, name := range names {
		classes := map[string]*lowest{}
		total, valid := 0, 0
		var text []byte
		err := siteDocuments(openSite(t, name), func(d siteDocument) error {
			total++
			err := schemas.Validate(path.Base(d.endpoint.Schema), d.jsonld)
			if err == nil {
				valid++
			} else {
				dev.Check(name+" schema "+shortFault(err), fmt.Errorf("%s: %w", d.doc.IRI(), err))
			}
			if text, err = nt.Append(text[:0], d.doc); err != nil {
				return err
			}
			quads, err := outside.ParseNQuads(string(text))
			if err != nil {
				return fmt.Errorf("%s: our N-Triples: %w", d.doc.IRI(), err)
			}
			triples += len(quads)
			outside.Uses(quads, uses)
			class := d.endpoint.Name + " " + d.doc.Class().Key
			if classes[class] == nil {
				classes[class] = &lowest{size: size}
			}
			classes[class].offer(d)
			return nil
		})
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		var chosen []specimen
		for _, class := range slices.Sorted(maps.Keys(classes)) {
			t.Logf("%s: %s: %d documents", name, class, classes[class].seen)
			for _, d := range classes[class].kept {
				quads, err := expand.Quads(d.jsonld)
				if err != nil {
					t.Errorf("%s: %v", d.doc.IRI(), err)
					continue
				}
				s, err := newSpecimen(name+" "+d.doc.IRI(), d.doc, quads)
				if err != nil {
					t.Errorf("%s: %v", d.doc.IRI(), err)
					continue
				}
				chosen = append(chosen, s)
			}
		}
		t.Logf("%s: %d documents, %d valid against the published schemas, %d in the sample", name, total, valid, len(chosen))
		least, ok := leastDocuments[name]
		if !ok {
			t.Errorf("leastDocuments does not list the site %s", name)
		}
		outside.AtLeast(t, name+": documents", total, least)
		read := checkWriters(t, dev, readers, chosen, few)
		outside.AtLeast(t, name+": texts read back", read, 10*len(chosen))
		sample += len(chosen)
	}
	if outside.Long() {
		outside.AtLeast(t, "documents in the sample", sample, 300)
	}
	dev.Done(outside.Long(), 10*sample)
	checkUses(t, ontology, "ontology-sites", uses, triples)
}

// lowest keeps the documents whose IRIs have the lowest hashes: an even sample,
// the same at every run.
type lowest struct {
	size, seen int
	kept       []hashed
}

type hashed struct {
	hash uint64
	siteDocument
}

func (l *lowest) offer(d siteDocument) {
	l.seen++
	h := fnv.New64a()
	h.Write([]byte(d.doc.IRI()))
	hash := h.Sum64()
	if len(l.kept) == l.size {
		if hash > l.kept[l.size-1].hash {
			return
		}
		l.kept = l.kept[:l.size-1]
	}
	d.doc, d.jsonld = d.doc.Clone(), slices.Clone(d.jsonld)
	at, _ := slices.BinarySearchFunc(l.kept, hash, func(k hashed, h uint64) int { return cmp.Compare(k.hash, h) })
	l.kept = slices.Insert(l.kept, at, hashed{hash, d})
}

// shortFault is the first line of a fault without the numbers in its place.
func shortFault(err error) string {
	l, _, _ := strings.Cut(err.Error(), "\n")
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return 'n'
		}
		return r
	}, l)
}

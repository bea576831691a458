package conformance

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
)

// syntaxes are what our lossless formats are called outside.
var syntaxes = map[string]outside.Syntax{
	"jsonld": outside.JSONLD,
	"nt":     outside.NTriples,
	"nq":     outside.NQuadsSy,
	"ttl":    outside.Turtle,
	"rdf":    outside.RDFXML,
}

// losslessFormats are our formats that lose nothing. One that this package does
// not know of fails the test: it would go unchecked.
func losslessFormats(t *testing.T) []*render.Format {
	t.Helper()
	var list []*render.Format
	for _, f := range render.Formats() {
		if !f.Lossless {
			continue
		}
		if syntaxes[f.Name] == "" {
			t.Errorf("no independent reader is known for the format %s", f.Name)
			continue
		}
		list = append(list, f)
	}
	outside.AtLeast(t, "lossless formats", len(list), 5)
	return list
}

// specimen is a document and the graph that it must be in every syntax.
type specimen struct {
	name  string
	doc   *entity.Document
	quads []outside.Quad // embedded nodes being blank
	canon string         // their canonical form
}

// newSpecimen makes a specimen of a graph that has blank nodes. IRIs that look like
// the document's skolem IRIs become blank nodes too, as they do in what is
// compared with it: one that is also the name of an embedded node shows.
func newSpecimen(name string, doc *entity.Document, quads []outside.Quad) (specimen, error) {
	quads = outside.Unskolemise(quads, doc.IRI())
	canon, err := outside.Canonical(quads)
	return specimen{name, doc, quads, canon}, err
}

// write is the text of a document alone.
func write(f *render.Format, d *entity.Document) ([]byte, error) {
	e := render.NewEncoder(f, render.Options{})
	b, err := e.Append(e.Header(nil), d)
	if err != nil {
		return nil, err
	}
	return e.Footer(b), nil
}

// asWritten is the graph that our N-Triples say, skolem IRIs as they are.
func asWritten(t *testing.T, s specimen) []outside.Quad {
	t.Helper()
	text, err := write(render.FormatByName("nt"), s.doc)
	if err != nil {
		return nil // the checks of N-Triples tell
	}
	quads, err := outside.ParseNQuads(string(text))
	if err != nil {
		t.Errorf("%s: our N-Triples: %v", s.name, err)
	}
	return quads
}

// checkWriters writes every specimen in every lossless format, has every reader
// that knows the syntax read it, and compares the graphs. A check is called after
// the specimen, the format and the reader. jsonld.js, which is slow, gets only the
// first few. It returns the number of texts read.
func checkWriters(t *testing.T, dev *outside.Deviations, readers []*outside.Reader, specimens []specimen, few int) int {
	t.Helper()
	read, leftOut := 0, 0
	graphs := make([]graph, len(specimens))
	for i, s := range specimens {
		graphs[i] = graph{s.name, asWritten(t, s)}
	}
	for _, f := range losslessFormats(t) {
		syntax := syntaxes[f.Name]
		var reqs []outside.Request
		var of []int
		for i, s := range specimens {
			text, err := write(f, s.doc)
			if err != nil {
				dev.Check(s.name+" "+f.Name, err)
				continue
			}
			reqs = append(reqs, outside.Request{Syntax: syntax, Base: s.doc.IRI(), Text: text})
			of = append(of, i)
		}
		n := 0
		for _, r := range readers {
			if !r.Reads(syntax) {
				continue
			}
			n++
			fit, from := withoutQuirks(r, reqs, of, graphs)
			if r.Name == "jsonld" {
				fit = fit[:min(few, len(fit))]
			}
			read += len(fit)
			leftOut += len(reqs) - len(fit)
			for i, a := range r.Read(fit) {
				s := specimens[from[i]]
				dev.Check(s.name+" "+f.Name+" "+r.Name, compare(s, f, r, a))
			}
		}
		outside.AtLeast(t, "independent readers of "+f.Title, n, 2)
	}
	t.Logf("%d documents, %d texts read back, %d not given to a reader, most because of its quirks", len(specimens), read, leftOut)
	return read
}

// compare holds what a reader made of a document against the specimen.
func compare(s specimen, f *render.Format, r *outside.Reader, a outside.Answer) error {
	if a.Err != nil {
		return a.Err
	}
	if r.RewritesNumbers(syntaxes[f.Name]) {
		got := outside.Unskolemise(a.Quads, s.doc.IRI())
		return sameGraph(outside.NumbersByValue(s.quads), outside.NumbersByValue(got))
	}
	quads := outside.Unskolemise(a.Quads, s.doc.IRI())
	for i := range quads {
		if f.Name == "nq" {
			if g := quads[i].G; g != (outside.Term{Kind: outside.IRI, Value: s.doc.IRI()}) {
				return fmt.Errorf("statement in the graph %v, not in the document's own", g)
			}
			quads[i].G = outside.Term{}
		}
	}
	canon, err := outside.Canonical(quads)
	if err != nil {
		return err
	}
	if d := outside.Difference(s.canon, canon); d != "" {
		return errors.New(d)
	}
	return nil
}

// TestExamplesWritten has every published example that is valid read by us,
// written in every format and read back by every reader. The graph must be that
// which json-gold makes of the published text with the published context.
func TestExamplesWritten(t *testing.T) {
	expand := outside.PublishedContext(t)
	schemas := outside.PublishedSchemas(t)
	readers := append(allReaders(t), expand.Reader())
	dev := outside.LoadDeviations(t, "examples")
	jsonld := render.FormatByName("jsonld")
	var specimens []specimen
	valid := 0
	for _, e := range outside.Examples(t) {
		if !e.Valid {
			continue
		}
		if valid++; valid%25 != 1 && !outside.Long() {
			continue
		}
		name := strings.TrimPrefix(e.File, "examples/")
		doc, err := entity.Parse(e.Text, "")
		dev.Check(name, err)
		if err != nil {
			continue
		}
		quads, err := expand.Quads(e.Text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		s, err := newSpecimen(name, doc, quads)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		specimens = append(specimens, s)
		text, err := write(jsonld, doc)
		if err == nil {
			err = schemas.Validate(e.Schema, text)
		}
		dev.Check(name+" schema", err)
	}
	read := checkWriters(t, dev, readers, specimens, len(specimens))
	outside.AtLeast(t, "valid examples", valid, 151)
	dev.Done(outside.Long(), read*9/10)
}

// TestRandomDocuments writes random documents, of every kind of record the profile
// knows and with all sorts of text, in every format and has every reader read
// them. The graph must be that which json-gold makes of our JSON-LD.
func TestRandomDocuments(t *testing.T) {
	expand := outside.PublishedContext(t)
	readers := append(allReaders(t), expand.Reader())
	dev := outside.LoadDeviations(t, "random")
	count := 8
	if outside.Long() {
		count = 300
	}
	documents := entitytest.Documents(entitytest.Options{Text: entitytest.XMLText(), Keys: true})
	jsonld := render.FormatByName("jsonld")
	var specimens []specimen
	events := 0
	for seed := 0; len(specimens) < count; seed++ {
		doc := documents.Example(seed)
		name := fmt.Sprintf("seed %d", seed)
		if seed > 3*count {
			t.Fatalf("only %d of %d documents can be compared", len(specimens), seed)
		}
		text, err := write(jsonld, doc)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		// A reference that has the form of a skolem IRI of the same document is
		// one node with it in our triples and another in JSON-LD, rightly. Here it
		// is made another IRI.
		root, _ := json.Marshal(doc.IRI())
		own := append([]byte(`"id":`), append(bytes.TrimSuffix(root, []byte(`"`)), '#')...)
		text = bytes.ReplaceAll(text, own, []byte(`"id":"https://museum.example/own/`))
		if doc, err = entity.Parse(text, entity.Keys(doc)); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		quads, err := expand.Quads(text)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		s, err := newSpecimen(name, doc, quads)
		if err != nil {
			t.Logf("%s: %v", name, err) // a matter of the comparison, not of the document
			continue
		}
		if fit, _ := withoutQuirks(expand.Reader(), []outside.Request{{Syntax: outside.JSONLD}}, []int{0}, []graph{{name, asWritten(t, s)}}); len(fit) == 0 {
			continue // json-gold is no measure for it
		}
		specimens = append(specimens, s)
		events += doc.Len()
	}
	t.Logf("%d events", events)
	few := 1 // jsonld.js expands two or three of these a second
	if outside.Long() {
		few = 40
	}
	read := checkWriters(t, dev, readers, specimens, few)
	dev.Done(outside.Long(), read*9/10)
}

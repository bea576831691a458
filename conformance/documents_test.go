package conformance

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
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

func newSpecimen(name string, doc *entity.Document, quads []outside.Quad) (specimen, error) {
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

// checkWriters writes every specimen in every lossless format, has every reader
// that knows the syntax read it, and compares the graphs. A check is called after
// the specimen, the format and the reader. It returns the number of texts read.
func checkWriters(t *testing.T, dev *outside.Deviations, readers []*outside.Reader, specimens []specimen) int {
	t.Helper()
	read := 0
	for _, f := range losslessFormats(t) {
		syntax := syntaxes[f.Name]
		var reqs []outside.Request
		var of []specimen
		for _, s := range specimens {
			text, err := write(f, s.doc)
			if err != nil {
				dev.Check(s.name+" "+f.Name, err)
				continue
			}
			reqs = append(reqs, outside.Request{Syntax: syntax, Base: s.doc.IRI(), Text: text})
			of = append(of, s)
		}
		n := 0
		for _, r := range readers {
			if !r.Reads(syntax) {
				continue
			}
			n++
			for i, a := range r.Read(reqs) {
				s := of[i]
				dev.Check(s.name+" "+f.Name+" "+r.Name, compare(s, f, r, a))
			}
		}
		read += n * len(reqs)
		outside.AtLeast(t, "independent readers of "+f.Title, n, 2)
	}
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
	readers := append(outside.Readers(t), expand.Reader())
	dev := outside.LoadDeviations(t, "examples")
	jsonld := render.FormatByName("jsonld")
	var specimens []specimen
	valid := 0
	for _, e := range outside.Examples(t) {
		if !e.Valid {
			continue
		}
		if valid++; valid%12 != 1 && !outside.Long() {
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
	read := checkWriters(t, dev, readers, specimens)
	t.Logf("%d documents, %d texts read", len(specimens), read)
	outside.AtLeast(t, "valid examples", valid, 151)
	dev.Done(outside.Long(), read*9/10)
}

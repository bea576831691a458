package entity_test

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/piprate/json-gold/ld"
	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
)

// publishedContext reads the profile's context from the folder of shared test
// data.
func publishedContext(t *testing.T) any {
	dir := os.Getenv("ROPEWALK_SHARED")
	if dir == "" {
		dir = "../../../shared"
	}
	file := filepath.Join(dir, "standards/linked-art/context/linked-art.json")
	b, err := os.ReadFile(file)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skipf("SKIPPED, NOT TESTED: the published context is not there: %v", err)
	}
	var v any
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

type onlyContext struct{ v any }

func (l onlyContext) LoadDocument(u string) (*ld.RemoteDocument, error) {
	if u != entity.Context {
		return nil, ld.NewJsonLdError(ld.LoadingDocumentFailed, u)
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: l.v}, nil
}

// TestPublishedContext: with the published context, the JSON of a document expands
// to its triples, its embedded nodes being blank (JSON-LD 1.1 API §8.1; graphs
// compared by RDFC-1.0).
func TestPublishedContext(t *testing.T) {
	opts := ld.NewJsonLdOptions("")
	opts.DocumentLoader = onlyContext{publishedContext(t)}
	proc := ld.NewJsonLdProcessor()
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		if compared == 40 {
			return // the library parses the context again for each document
		}
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		for _, e := range d.Events() {
			if e.Kind == entity.Number {
				// json-gold takes integers beyond int64 for doubles.
				if f, _ := strconv.ParseFloat(e.Value, 64); math.Abs(f) >= 1<<63 {
					return
				}
			}
		}
		if namesOwnNode(d) {
			return // which in JSON-LD is another node than the embedded one
		}
		var doc any
		body := jsonOf(t, d, render.Options{})
		if err := json.NewDecoder(bytes.NewReader(body)).Decode(&doc); err != nil {
			t.Fatal(err)
		}
		got, err := proc.ToRDF(doc, opts)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(canonical(t, got.(*ld.RDFDataset)), canonical(t, dataset(d))); diff != "" {
			t.Fatalf("%s\n%s", body, diff)
		}
		compared++
	})
	t.Logf("%d documents compared", compared)
	if compared < 20 {
		t.Errorf("only %d documents compared", compared)
	}
}

func namesOwnNode(d *entity.Document) bool {
	own := map[string]bool{}
	for _, i := range d.Nodes() {
		if !d.Events()[i].Ref {
			own[d.Names()[i]] = true
		}
	}
	for _, i := range d.Nodes() {
		if d.Events()[i].Ref && own[d.Names()[i]] {
			return true
		}
	}
	return false
}

func dataset(d *entity.Document) *ld.RDFDataset {
	blank := map[string]ld.Node{}
	for _, i := range d.Nodes() {
		if !d.Events()[i].Ref {
			blank[d.Names()[i]] = ld.NewBlankNode("_:n" + strconv.Itoa(int(i)))
		}
	}
	set := ld.NewRDFDataset()
	node := func(t entity.RDFTerm) ld.Node {
		if t.Kind == entity.Literal {
			if t.Datatype == "" {
				t.Datatype = entity.XSDString
			}
			return ld.NewLiteral(t.Value, t.Datatype, "")
		}
		if b := blank[t.Value]; b != nil {
			return b
		}
		return ld.NewIRI(t.Value)
	}
	for _, tr := range d.Triples() {
		set.Graphs["@default"] = append(set.Graphs["@default"], ld.NewQuad(node(tr.Subject), node(tr.Predicate), node(tr.Object), "@default"))
	}
	return set
}

func canonical(t *rapid.T, set *ld.RDFDataset) string {
	opts := ld.NewJsonLdOptions("")
	opts.Format = "application/n-quads"
	out, err := ld.NewNormalisationAlgorithm(ld.AlgorithmURDNA2015).Main(set, opts)
	if err != nil {
		t.Fatal(err)
	}
	return out.(string)
}

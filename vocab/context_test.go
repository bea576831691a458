package vocab

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/piprate/json-gold/ld"
)

// oneContext serves one document as the profile's context and nothing else.
type oneContext struct{ doc any }

func (c oneContext) LoadDocument(u string) (*ld.RemoteDocument, error) {
	if u != ContextURL {
		return nil, fmt.Errorf("%s is not at hand", u)
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: c.doc}, nil
}

func decodeJSON(t *testing.T, data []byte) any {
	t.Helper()
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func jsonLD(context any) *ld.JsonLdOptions {
	opts := ld.NewJsonLdOptions("https://example.org/base/")
	opts.DocumentLoader = oneContext{context}
	opts.ProcessingMode = ld.JsonLd_1_1
	opts.Format = "application/n-quads"
	opts.Algorithm = "URDNA2015"
	return opts
}

// canonical expands a document with a context document into canonical N-Quads.
func canonical(t *testing.T, doc any, context any) string {
	t.Helper()
	out, err := ld.NewJsonLdProcessor().Normalize(doc, jsonLD(context))
	if err != nil {
		t.Fatal(err)
	}
	return out.(string)
}

// TestContextJSONExamples expands every published example with both contexts.
func TestContextJSONExamples(t *testing.T) {
	theirs, err := os.ReadFile(published(t, "linked-art", "context", "linked-art.json"))
	if err != nil {
		t.Fatal(err)
	}
	theirsDoc, ours := decodeJSON(t, theirs), decodeJSON(t, ContextJSON())
	files, triples := 0, 0
	root := published(t, "linked-art", "examples")
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".json" {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		files++
		want := canonical(t, decodeJSON(t, data), theirsDoc)
		got := canonical(t, decodeJSON(t, data), ours)
		triples += strings.Count(want, "\n")
		if got != want {
			t.Errorf("%s:\n%s\nwant\n%s", path, got, want)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files != 211 || triples < 3900 {
		t.Errorf("%d examples with %d triples, want 211 with 3,960", files, triples)
	}
}

// TestTermsAgainstProcessor writes, for every class, a node with every key of the
// context and with assignments of every scoped name, and compares what a JSON-LD
// processor makes of it under both contexts with what the tables say.
func TestTermsAgainstProcessor(t *testing.T) {
	theirs, err := os.ReadFile(published(t, "linked-art", "context", "linked-art.json"))
	if err != nil {
		t.Fatal(err)
	}
	contexts := map[string]any{"the published context": decodeJSON(t, theirs), "our context": decodeJSON(t, ContextJSON())}
	names := []string{"part", "part_of", "member", "member_of", "broader", "identified_by", "Place", "crm:P1_is_identified_by", "https://example.org/own"}
	var graph []any
	want := map[string]bool{}
	for _, c := range classList {
		graph = append(graph, everyKey(c, names, want))
	}
	doc := map[string]any{"@context": ContextURL, "@graph": graph}
	for which, context := range contexts {
		// Not canonical: there are no blank nodes, and the canonical text takes time
		// with the square of its length.
		out, err := ld.NewJsonLdProcessor().ToRDF(doc, jsonLD(context))
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]bool{}
		for line := range strings.Lines(out.(string)) {
			got[strings.TrimSpace(line)] = true
		}
		for q := range want {
			if !got[q] {
				t.Errorf("%s: missing %s", which, q)
			}
		}
		for q := range got {
			if !want[q] {
				t.Errorf("%s: unexpected %s", which, q)
			}
		}
	}
}

// everyKey makes a node of class c with every key and with an assignment of every
// name, and adds to want the statements that the tables say it stands for.
func everyKey(c *Class, names []string, want map[string]bool) map[string]any {
	const base = "https://example.org/base/"
	it := base + c.Key
	node := map[string]any{"id": it, "type": c.Key}
	want[quad(it, rdfType, "<"+c.IRI+">")] = true
	for _, term := range termList {
		if c.Term(term.Key) != term || term.Key == "attributed_by" {
			continue
		}
		var object string
		switch term.Kind {
		case KindNode:
			node[term.Key] = map[string]any{"id": base + term.Key}
			object = "<" + base + term.Key + ">"
		case KindTerm:
			node[term.Key] = "Type"
			object = "<" + ClassByKey("Type").IRI + ">"
		case KindDateTime:
			node[term.Key] = "1911-02-03T00:00:00Z"
			object = `"1911-02-03T00:00:00Z"^^<` + nsXSD + `dateTime>`
		case KindNumber:
			node[term.Key] = float64(12)
			object = `"12"^^<` + nsXSD + `integer>`
		default:
			node[term.Key] = "a word"
			object = `"a word"`
		}
		want[quad(it, term.IRI, object)] = true
	}
	var list []any
	for _, name := range names {
		id := it + "/by/" + name
		list = append(list, map[string]any{"id": id, "type": assignment.Key, "assigned_property": name})
		iri := c.Resolve(name)
		switch {
		case iri != "":
		case strings.Contains(name, ":"):
			iri = name
		default: // a JSON-LD processor takes it for a relative reference
			iri = base + name
		}
		want[quad(it, c.Term("attributed_by").IRI, "<"+id+">")] = true
		want[quad(id, rdfType, "<"+assignment.IRI+">")] = true
		want[quad(id, terms["assigned_property"].IRI, "<"+iri+">")] = true
	}
	node["attributed_by"] = list
	return node
}

func quad(s, p, o string) string { return "<" + s + "> <" + p + "> " + o + " ." }

package outside

import (
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/piprate/json-gold/ld"
)

// LinkedArtContext is the address of the profile's published JSON-LD context.
const LinkedArtContext = "https://linked.art/ns/v1/linked-art.json"

// Expander turns JSON-LD into RDF with json-gold and the published context,
// which is parsed once. It is not safe for concurrent use.
type Expander struct {
	loader  files
	context *ld.Context
	opts    *ld.JsonLdOptions
}

// files loads documents by address from memory and nothing else.
type files map[string]any

func (f files) LoadDocument(u string) (*ld.RemoteDocument, error) {
	doc, ok := f[u]
	if !ok {
		return nil, ld.NewJsonLdError(ld.LoadingDocumentFailed, fmt.Errorf("the address %s is not among the files given", u))
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: doc}, nil
}

// PublishedContext makes an [Expander] for the profile's published context.
func PublishedContext(t testing.TB) *Expander {
	t.Helper()
	b, err := os.ReadFile(Shared(t, "standards", "linked-art", "context", "linked-art.json"))
	if err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	e := &Expander{loader: files{LinkedArtContext: doc}}
	e.opts = ld.NewJsonLdOptions("")
	e.opts.DocumentLoader = e.loader
	e.opts.SafeMode = true
	if e.context, err = ld.NewContext(nil, e.opts).Parse(LinkedArtContext); err != nil {
		t.Fatal(err)
	}
	return e
}

// Quads is the RDF of a JSON-LD document whose @context is the published one
// alone. A key that the context does not know is an error. A relative IRI is
// dropped in silence: compare with something that would not drop it.
func (e *Expander) Quads(text []byte) ([]Quad, error) {
	var doc map[string]any
	if err := json.Unmarshal(text, &doc); err != nil {
		return nil, err
	}
	if doc["@context"] != LinkedArtContext {
		return nil, fmt.Errorf("@context is %v, not %s", doc["@context"], LinkedArtContext)
	}
	delete(doc, "@context")
	api := ld.NewJsonLdApi()
	expanded, err := api.Expand(e.context, "", doc, e.opts, false, nil)
	if err != nil {
		return nil, err
	}
	list, ok := expanded.([]any)
	if !ok {
		list = []any{expanded}
	}
	data, err := api.ToRDF(list, e.opts)
	if err != nil {
		return nil, err
	}
	var quads []Quad
	for name, graph := range data.Graphs {
		if name != "@default" {
			return nil, fmt.Errorf("a named graph: %s", name)
		}
		for _, q := range graph {
			quads = append(quads, Quad{S: goldTerm(q.Subject), P: goldTerm(q.Predicate), O: goldTerm(q.Object)})
		}
	}
	return quads, nil
}

func goldTerm(n ld.Node) Term {
	switch n := n.(type) {
	case ld.IRI:
		return Term{Kind: IRI, Value: n.Value}
	case ld.BlankNode:
		return Term{Kind: Blank, Value: n.Attribute[2:]}
	case ld.Literal:
		return Term{Kind: Literal, Value: n.Value, Datatype: n.Datatype, Language: n.Language}
	}
	return Term{}
}

// Reader is json-gold as a reader.
func (e *Expander) Reader() *Reader {
	return &Reader{Name: "json-gold", Syntaxes: []Syntax{JSONLD}, read: func(reqs []Request) []Answer {
		out := make([]Answer, len(reqs))
		for i, r := range reqs {
			out[i].Quads, out[i].Err = e.Quads(r.Text)
		}
		return out
	}}
}

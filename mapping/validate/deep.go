package validate

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/knakk/rdf"
	"github.com/piprate/json-gold/ld"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
	"ropewalk/vocab"
)

// RuleDeep is the rule of [Deep.Check].
const RuleDeep = "deep"

// Deep compares what a document's JSON-LD says with what its N-Triples say. The
// JSON-LD is expanded by an independent library with the profile's context; the
// N-Triples are read by another. It is slow (some hundred documents a second)
// and for one goroutine only.
type Deep struct {
	context *ld.Context
	opts    *ld.JsonLdOptions
	jsonld  *render.Encoder
	ntriple *render.Encoder
	pointer map[uintptr]string // expanded node → JSON Pointer
}

// NewDeep makes a Deep. The context is parsed once.
func NewDeep() (*Deep, error) {
	var doc map[string]any
	if err := json.Unmarshal(vocab.ContextJSON(), &doc); err != nil {
		return nil, fmt.Errorf("the profile's context: %w", err)
	}
	x := &Deep{
		jsonld:  render.NewEncoder(render.FormatByName("jsonld"), render.Options{}),
		ntriple: render.NewEncoder(render.FormatByName("nt"), render.Options{}),
	}
	x.opts = ld.NewJsonLdOptions("")
	x.opts.DocumentLoader = noDocuments{}
	x.opts.SafeMode = true // a key that the context does not know is an error
	x.opts.ExpandedElementHandler = func(pointer string, node any) {
		if m, ok := node.(map[string]any); ok {
			x.pointer[reflect.ValueOf(m).Pointer()] = pointer
		}
	}
	var err error
	x.context, err = ld.NewContext(nil, x.opts).Parse(doc["@context"])
	if err != nil {
		return nil, fmt.Errorf("the profile's context: %w", err)
	}
	return x, nil
}

// noDocuments keeps the library from the network.
type noDocuments struct{}

func (noDocuments) LoadDocument(u string) (*ld.RemoteDocument, error) {
	return nil, ld.NewJsonLdError(ld.LoadingDocumentFailed, fmt.Errorf("%s is not to be fetched", u))
}

// Check returns the statements that only one of the two forms makes, each as a
// Problem whose message shows it; nil if both say the same. For that every blank
// node of the JSON-LD gets the skolem IRI that the document has for the node at
// its place ([entity.Document.Names]), and no two nodes may have the same.
func (x *Deep) Check(d *entity.Document) []Problem {
	fault := func(format string, args ...any) []Problem {
		return []Problem{{Rule: RuleDeep, Message: fmt.Sprintf(format, args...)}}
	}
	if err := d.Err(); err != nil {
		return fault("%v", err)
	}
	nodes, twice := nodesByPath(d)
	if twice != "" {
		return fault("two embedded nodes are named %s", twice)
	}
	text, err := x.jsonld.Append(nil, d)
	if err != nil {
		return fault("the JSON-LD cannot be written: %v", err)
	}
	theirs, err := x.expand(text, d, nodes)
	if err != nil {
		return fault("the JSON-LD cannot be expanded: %v", err)
	}
	text, err = x.ntriple.Append(nil, d)
	if err != nil {
		return fault("the N-Triples cannot be written: %v", err)
	}
	ours, err := readNTriples(text)
	if err != nil {
		return fault("the N-Triples cannot be read: %v", err)
	}
	for i, t := range d.Triples() {
		if _, ok := ours[full(t)]; ok {
			ours[full(t)] = i
		}
	}
	ps := without(theirs, ours, "only in the JSON-LD: ", d)
	return append(ps, without(ours, theirs, "only in the RDF: ", d)...)
}

// nodesByPath gives the event of the node at every JSON Pointer, and a name that
// two embedded nodes have, or "".
func nodesByPath(d *entity.Document) (nodes map[string]int, twice string) {
	ev, names := d.Events(), d.Names()
	nodes = map[string]int{}
	seen := map[string]bool{}
	for i := range ev {
		if ev[i].Kind != entity.Open {
			continue
		}
		nodes[Path(ev, i)] = i
		if !ev[i].Ref {
			if seen[names[i]] {
				return nil, names[i]
			}
			seen[names[i]] = true
		}
	}
	return nodes, ""
}

// graph is a set of triples, each with the event it comes from.
type graph map[entity.Triple]int

// full is a triple whose literal says its datatype.
func full(t entity.Triple) entity.Triple {
	if t.Object.Kind == entity.Literal && t.Object.Datatype == "" {
		t.Object.Datatype = entity.XSDString
	}
	return t
}

// without lists the triples of a that b has not.
func without(a, b graph, prefix string, d *entity.Document) []Problem {
	var ps []Problem
	for t, i := range a {
		if _, ok := b[t]; !ok {
			ps = append(ps, Problem{Rule: RuleDeep, Path: Path(d.Events(), i), Event: i, Message: prefix + show(t)})
		}
	}
	slices.SortFunc(ps, func(x, y Problem) int {
		return cmp.Or(x.Event-y.Event, strings.Compare(x.Message, y.Message))
	})
	return ps
}

// show writes a triple for people.
func show(t entity.Triple) string {
	term := func(t entity.RDFTerm) string {
		switch {
		case t.Kind == entity.IRI:
			return "<" + t.Value + ">"
		case t.Kind == entity.Blank:
			return "_:" + t.Value
		case t.Lang != "":
			return strconv.Quote(t.Value) + "@" + t.Lang
		case t.Datatype != entity.XSDString:
			return strconv.Quote(t.Value) + "^^" + local(t.Datatype)
		}
		return strconv.Quote(t.Value)
	}
	return term(t.Subject) + " " + term(t.Predicate) + " " + term(t.Object)
}

// expand turns JSON-LD into triples: expansion by the library (JSON-LD 1.1 API
// §5.1), the rest here, because the library drops triples it dislikes without a
// word.
func (x *Deep) expand(text []byte, d *entity.Document, nodes map[string]int) (graph, error) {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.UseNumber()
	var doc map[string]any
	if err := dec.Decode(&doc); err != nil {
		return nil, err
	}
	if doc["@context"] != vocab.ContextURL {
		return nil, fmt.Errorf("the context is %v", doc["@context"])
	}
	delete(doc, "@context")
	x.pointer = map[uintptr]string{}
	expanded, err := ld.NewJsonLdApi().Expand(x.context, "", doc, x.opts, false, nil)
	if err != nil {
		return nil, err
	}
	c := converter{g: graph{}, ev: d.Events(), names: d.Names(), nodes: nodes, pointer: x.pointer}
	for _, n := range ld.Arrayify(expanded) {
		if _, err := c.node(n); err != nil {
			return nil, err
		}
	}
	return c.g, nil
}

// converter makes triples of expanded JSON-LD (JSON-LD 1.1 API §8.1).
type converter struct {
	g       graph
	ev      []entity.Event
	names   []string
	nodes   map[string]int     // JSON Pointer → event
	pointer map[uintptr]string // expanded node → JSON Pointer
}

func (c *converter) node(v any) (entity.RDFTerm, error) {
	o, ok := v.(map[string]any)
	if !ok {
		return entity.RDFTerm{}, fmt.Errorf("expansion gave %v where a node should stand", v)
	}
	id, named := o["@id"].(string)
	if named && len(o) == 1 { // the name of a term
		return entity.RDFTerm{Kind: entity.IRI, Value: id}, nil
	}
	path, ok := c.pointer[reflect.ValueOf(o).Pointer()]
	event, known := c.nodes[path]
	if !ok || !known {
		return entity.RDFTerm{}, fmt.Errorf("expansion gave a node at no known place (%s)", path)
	}
	subject := entity.RDFTerm{Kind: entity.IRI, Value: id}
	switch {
	case named:
	case c.ev[event].Ref:
		subject = entity.RDFTerm{Kind: entity.Blank, Value: path}
	default:
		subject.Value = c.names[event]
	}
	for _, key := range ld.GetOrderedKeys(o) {
		if key == "@id" {
			continue
		}
		predicate := entity.RDFTerm{Kind: entity.IRI, Value: key}
		if key == "@type" {
			predicate.Value = entity.TypeIRI
		} else if strings.HasPrefix(key, "@") {
			return subject, fmt.Errorf("expansion gave the keyword %s", key)
		}
		for _, item := range ld.Arrayify(o[key]) {
			object, err := c.object(key, item)
			if err != nil {
				return subject, err
			}
			c.g[entity.Triple{Subject: subject, Predicate: predicate, Object: object}] = event
		}
	}
	return subject, nil
}

func (c *converter) object(key string, item any) (entity.RDFTerm, error) {
	if key == "@type" {
		iri, ok := item.(string)
		if !ok {
			return entity.RDFTerm{}, fmt.Errorf("expansion gave the class %v", item)
		}
		return entity.RDFTerm{Kind: entity.IRI, Value: iri}, nil
	}
	o, ok := item.(map[string]any)
	if !ok {
		return entity.RDFTerm{}, fmt.Errorf("expansion gave %v under %s", item, key)
	}
	v, isValue := o["@value"]
	if !isValue {
		return c.node(o)
	}
	if len(o) > 2 || len(o) == 2 && o["@type"] == nil {
		return entity.RDFTerm{}, fmt.Errorf("expansion gave a value with more than a type: %v", o)
	}
	lit := entity.RDFTerm{Kind: entity.Literal}
	lit.Datatype, _ = o["@type"].(string)
	switch v := v.(type) {
	case string:
		lit.Value = v
		if lit.Datatype == "" {
			lit.Datatype = entity.XSDString
		}
	case json.Number:
		f, err := v.Float64()
		if err != nil {
			return lit, fmt.Errorf("the number %s: %w", v, err)
		}
		datatype := entity.XSDInteger
		lit.Value = strconv.FormatFloat(f, 'f', 0, 64)
		if f != math.Trunc(f) || math.Abs(f) >= 1e21 {
			datatype = entity.XSDDouble
			lit.Value = ld.GetCanonicalDouble(f)
		} else if f == 0 {
			lit.Value = "0"
		}
		if lit.Datatype == "" {
			lit.Datatype = datatype
		}
	default:
		return lit, fmt.Errorf("expansion gave the value %v", v)
	}
	return lit, nil
}

// readNTriples reads what the N-Triples writer wrote.
func readNTriples(text []byte) (graph, error) {
	term := func(t rdf.Term) entity.RDFTerm {
		switch t := t.(type) {
		case rdf.IRI:
			return entity.RDFTerm{Kind: entity.IRI, Value: t.String()}
		case rdf.Literal:
			return entity.RDFTerm{Kind: entity.Literal, Value: t.String(), Datatype: t.DataType.String(), Lang: t.Lang()}
		}
		return entity.RDFTerm{Kind: entity.Blank, Value: t.String()}
	}
	g := graph{}
	dec := rdf.NewTripleDecoder(bytes.NewReader(text), rdf.NTriples)
	for {
		t, err := dec.Decode()
		if errors.Is(err, io.EOF) {
			return g, nil
		}
		if err != nil {
			return nil, err
		}
		g[entity.Triple{Subject: term(t.Subj), Predicate: term(t.Pred), Object: term(t.Obj)}] = 0
	}
}

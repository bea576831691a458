package validate

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
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
// Problem whose message shows it; nil if both say the same. Skolem IRIs count as
// the blank nodes they stand for. Blank nodes of documents are trees, so graphs
// are compared by the content below each, which is exact and, unlike the naming of
// blank nodes in general, takes no more time for symmetrical documents.
func (x *Deep) Check(d *entity.Document) []Problem {
	fault := func(format string, args ...any) []Problem {
		return []Problem{{Rule: RuleDeep, Message: fmt.Sprintf(format, args...)}}
	}
	if err := d.Err(); err != nil {
		return fault("%v", err)
	}
	text, err := x.jsonld.Append(nil, d)
	if err != nil {
		return fault("the JSON-LD cannot be written: %v", err)
	}
	theirs, err := x.expand(text)
	if err != nil {
		return fault("the JSON-LD cannot be expanded: %v", err)
	}
	text, err = x.ntriple.Append(nil, d)
	if err != nil {
		return fault("the N-Triples cannot be written: %v", err)
	}
	ours, err := readNTriples(text, d)
	if err != nil {
		return fault("the N-Triples cannot be read: %v", err)
	}
	locate(theirs, ours, d)
	return compare(theirs, ours)
}

// statement is an RDF triple with the event it comes from.
type statement struct {
	s, p, o entity.RDFTerm
	path    string
	event   int
}

// graph holds statements by subject: an IRI, or "_:" and a name.
type graph map[string][]*statement

func subjectKey(t entity.RDFTerm) string {
	if t.Kind == entity.Blank {
		return "_:" + t.Value
	}
	return t.Value
}

// add adds a statement unless it is there.
func (g graph) add(st *statement) {
	key := subjectKey(st.s)
	for _, there := range g[key] {
		if there.p == st.p && there.o == st.o {
			return
		}
	}
	g[key] = append(g[key], st)
}

// expand turns JSON-LD into statements: expansion by the library (JSON-LD 1.1 API
// §5.1), the rest here, because the library drops statements it dislikes without
// a word.
func (x *Deep) expand(text []byte) (graph, error) {
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
	c := converter{g: graph{}, pointer: x.pointer}
	for _, n := range ld.Arrayify(expanded) {
		if _, err := c.node(n); err != nil {
			return nil, err
		}
	}
	return c.g, nil
}

// converter makes statements of expanded JSON-LD (JSON-LD 1.1 API §8.1).
type converter struct {
	g       graph
	pointer map[uintptr]string
	blanks  int
}

func (c *converter) node(v any) (entity.RDFTerm, error) {
	o, ok := v.(map[string]any)
	if !ok {
		return entity.RDFTerm{}, fmt.Errorf("expansion gave %v where a node should stand", v)
	}
	subject := entity.RDFTerm{Kind: entity.IRI}
	if id, ok := o["@id"].(string); ok {
		subject.Value = id
	} else {
		c.blanks++
		subject = entity.RDFTerm{Kind: entity.Blank, Value: strconv.Itoa(c.blanks)}
	}
	path := c.pointer[reflect.ValueOf(o).Pointer()]
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
			c.g.add(&statement{s: subject, p: predicate, o: object, path: path})
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

// readNTriples reads what the N-Triples writer wrote and puts blank nodes back in
// place of skolem IRIs.
func readNTriples(text []byte, d *entity.Document) (graph, error) {
	skolem := map[string]bool{}
	ev, names := d.Events(), d.Names()
	for i := range ev {
		if ev[i].Kind == entity.Open && !ev[i].Ref {
			skolem[names[i]] = true
		}
	}
	back := func(t rdf.Term) (entity.RDFTerm, error) {
		switch t := t.(type) {
		case rdf.IRI:
			if skolem[t.String()] {
				return entity.RDFTerm{Kind: entity.Blank, Value: t.String()}, nil
			}
			return entity.RDFTerm{Kind: entity.IRI, Value: t.String()}, nil
		case rdf.Literal:
			return entity.RDFTerm{Kind: entity.Literal, Value: t.String(), Datatype: t.DataType.String(), Lang: t.Lang()}, nil
		}
		return entity.RDFTerm{}, fmt.Errorf("a term that documents do not have: %v", t)
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
		st := &statement{}
		var errS, errP, errO error
		st.s, errS = back(t.Subj)
		st.p, errP = back(t.Pred)
		st.o, errO = back(t.Obj)
		if err := errors.Join(errS, errP, errO); err != nil {
			return nil, err
		}
		g.add(st)
	}
}

// locate gives every statement its event.
func locate(theirs, ours graph, d *entity.Document) {
	ev := d.Events()
	byPath := map[string]int{}
	term := func(t entity.RDFTerm) entity.RDFTerm {
		if t.Kind == entity.Blank {
			t.Kind = entity.IRI
		}
		return t
	}
	plain := func(t entity.RDFTerm) entity.RDFTerm {
		if t.Kind == entity.Literal && t.Datatype == "" {
			t.Datatype = entity.XSDString
		}
		return t
	}
	events := map[entity.Triple]int{}
	for i, t := range d.Triples() {
		events[entity.Triple{Subject: t.Subject, Predicate: t.Predicate, Object: plain(t.Object)}] = i
	}
	for i := range ev {
		if ev[i].Kind == entity.Open {
			byPath[Path(ev, i)] = i
		}
	}
	for _, list := range ours {
		for _, st := range list {
			st.event = events[entity.Triple{Subject: term(st.s), Predicate: term(st.p), Object: term(plain(st.o))}]
			st.path = Path(ev, st.event)
		}
	}
	for _, list := range theirs {
		for _, st := range list {
			st.event = byPath[st.path]
		}
	}
}

// compare returns the statements of one graph that the other has not.
func compare(theirs, ours graph) []Problem {
	a, b := newReader(theirs), newReader(ours)
	if a.fault != "" || b.fault != "" {
		return []Problem{{Rule: RuleDeep, Message: a.fault + b.fault}}
	}
	if slices.Equal(a.whole(), b.whole()) {
		return nil
	}
	ps := append(a.without(b, "only in the JSON-LD: "), b.without(a, "only in the RDF: ")...)
	if len(ps) == 0 {
		ps = []Problem{{Rule: RuleDeep, Message: "JSON-LD and RDF make the same statements about nodes that are not the same"}}
	}
	return ps
}

// reader writes statements out in a form that does not depend on the names of
// blank nodes.
type reader struct {
	g     graph
	up    map[string]*statement // blank node → the statement that has it as object
	fault string
}

func newReader(g graph) *reader {
	r := &reader{g: g, up: map[string]*statement{}}
	subjects := slices.Sorted(maps.Keys(g))
	for _, key := range subjects {
		for _, st := range g[key] {
			if st.o.Kind != entity.Blank {
				continue
			}
			key := subjectKey(st.o)
			if r.up[key] != nil {
				r.fault = "two statements lead to the embedded node " + st.o.Value
				return r
			}
			r.up[key] = st
		}
	}
	for _, key := range subjects {
		at := key
		for steps := 0; strings.HasPrefix(at, "_:"); steps++ {
			st := r.up[at]
			if st == nil || steps > len(g) {
				r.fault = "no statement leads to the embedded node " + key[2:]
				return r
			}
			at = subjectKey(st.s)
		}
	}
	return r
}

// whole is the sorted statements about IRIs, with all that is said about a blank
// node in its place.
func (r *reader) whole() []string {
	var lines []string
	for key, list := range r.g {
		if strings.HasPrefix(key, "_:") {
			continue
		}
		for _, st := range list {
			lines = append(lines, show(st.s)+" "+show(st.p)+" "+r.content(st.o))
		}
	}
	slices.Sort(lines)
	return slices.Compact(lines)
}

func (r *reader) content(t entity.RDFTerm) string {
	if t.Kind != entity.Blank {
		return show(t)
	}
	var parts []string
	for _, st := range r.g[subjectKey(t)] {
		parts = append(parts, show(st.p)+" "+r.content(st.o))
	}
	slices.Sort(parts)
	return "[ " + strings.Join(slices.Compact(parts), " ; ") + " ]"
}

// without lists the statements of r that o has not, blank nodes named by the way
// to them.
func (r *reader) without(o *reader, prefix string) []Problem {
	have := map[string]int{}
	for _, list := range o.g {
		for _, st := range list {
			have[o.line(st)]++
		}
	}
	type found struct {
		line string
		st   *statement
	}
	var left []found
	for _, list := range r.g {
		for _, st := range list {
			left = append(left, found{r.line(st), st})
		}
	}
	slices.SortFunc(left, func(a, b found) int {
		if c := strings.Compare(a.line, b.line); c != 0 {
			return c
		}
		return a.st.event - b.st.event
	})
	var ps []Problem
	for _, f := range left {
		if have[f.line]--; have[f.line] < 0 {
			ps = append(ps, Problem{Rule: RuleDeep, Path: f.st.path, Event: f.st.event, Message: prefix + f.line})
		}
	}
	return ps
}

func (r *reader) line(st *statement) string {
	return r.way(st.s) + " " + show(st.p) + " " + r.way(st.o)
}

// way names a blank node by the properties that lead to it from an IRI.
func (r *reader) way(t entity.RDFTerm) string {
	if t.Kind != entity.Blank {
		return show(t)
	}
	st := r.up[subjectKey(t)]
	return r.way(st.s) + "/" + local(st.p.Value)
}

func show(t entity.RDFTerm) string {
	if t.Kind == entity.IRI {
		return "<" + t.Value + ">"
	}
	s := strconv.Quote(t.Value)
	switch {
	case t.Lang != "":
		s += "@" + t.Lang
	case t.Datatype != "" && t.Datatype != entity.XSDString:
		s += "^^" + local(t.Datatype)
	}
	return s
}

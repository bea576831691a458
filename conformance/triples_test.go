package conformance

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render"
)

// writeTriples is a graph in one of our formats, statement by statement.
func writeTriples(f *render.Format, quads []outside.Quad) ([]byte, error) {
	var b bytes.Buffer
	w, err := render.NewTripleWriter(&b, f)
	if err != nil {
		return nil, err
	}
	for _, q := range quads {
		if err := w.Write(entity.Triple{Subject: ourTerm(q.S), Predicate: ourTerm(q.P), Object: ourTerm(q.O)}); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func ourTerm(t outside.Term) entity.RDFTerm {
	kind := map[outside.Kind]entity.TermKind{outside.IRI: entity.IRI, outside.Blank: entity.Blank, outside.Literal: entity.Literal}[t.Kind]
	return entity.RDFTerm{Kind: kind, Value: t.Value, Datatype: t.Datatype, Lang: t.Language}
}

// tripleFormats are our formats that carry any RDF.
func tripleFormats(t *testing.T) []*render.Format {
	t.Helper()
	var list []*render.Format
	for _, f := range losslessFormats(t) {
		if f.Name != "jsonld" {
			list = append(list, f)
		}
	}
	outside.AtLeast(t, "formats that carry any triples", len(list), 4)
	return list
}

// holds reports whether a format can say a statement: RDF/XML has no characters
// that XML lacks (XML 1.0 §2.2) and no predicate that does not end in an XML name
// or is reserved (RDF/XML §5.1); all else must be written.
func holds(f *render.Format, q outside.Quad) bool {
	if f.Name != "rdf" {
		return true
	}
	if q.O.Kind == outside.Literal && !xmlCarries(q.O.Value) {
		return false
	}
	if reserved[q.P.Value] {
		return false
	}
	p := []rune(q.P.Value)
	// The last character that cannot stand in a name is followed by the longest
	// name there is, if one of the characters after it can begin a name.
	for i := len(p) - 1; i >= 0; i-- {
		c := p[i]
		if unicode.IsLetter(c) || c == '_' {
			return true
		}
		if !unicode.IsDigit(c) && !unicode.IsMark(c) && c != '-' && c != '.' {
			return false
		}
	}
	return false
}

// reserved are the properties that RDF/XML §5.1 keeps for its own syntax, and
// rdf:li, which is read as rdf:_1.
var reserved = map[string]bool{
	rdfNS + "RDF": true, rdfNS + "ID": true, rdfNS + "about": true, rdfNS + "parseType": true, rdfNS + "resource": true,
	rdfNS + "nodeID": true, rdfNS + "datatype": true, rdfNS + "Description": true, rdfNS + "aboutEach": true,
	rdfNS + "aboutEachPrefix": true, rdfNS + "bagID": true, rdfNS + "li": true,
}

// graph is a graph under a name.
type graph struct {
	name  string
	quads []outside.Quad
}

// checkTriples writes every graph in every format that can hold it, has every
// reader read it and compares. A check is called after the graph, the format and
// the reader. It returns how many texts were read and how many graphs a format
// could not hold, and prints how many were kept from readers with a quirk.
func checkTriples(t *testing.T, dev *outside.Deviations, readers []*outside.Reader, graphs []graph) (read, beyond int) {
	t.Helper()
	leftOut := 0
	for _, f := range tripleFormats(t) {
		syntax := syntaxes[f.Name]
		var reqs []outside.Request
		var of []int
		for i, g := range graphs {
			can := true
			for _, q := range g.quads {
				can = can && holds(f, q)
			}
			text, err := writeTriples(f, g.quads)
			switch {
			case can && err != nil:
				dev.Check(g.name+" "+f.Name, err)
			case !can && err == nil:
				dev.Check(g.name+" "+f.Name, errors.New("written, though the format cannot hold it"))
			case !can:
				beyond++
			default:
				reqs = append(reqs, outside.Request{Syntax: syntax, Text: text})
				of = append(of, i)
			}
		}
		for _, r := range readers {
			if !r.Reads(syntax) {
				continue
			}
			fit, from := withoutQuirks(r, reqs, of, graphs)
			leftOut += len(reqs) - len(fit)
			read += len(fit)
			for i, a := range r.Read(fit) {
				g, err := graphs[from[i]], a.Err
				if err == nil {
					err = sameGraph(g.quads, a.Quads)
				}
				dev.Check(g.name+" "+f.Name+" "+r.Name, err)
			}
		}
	}
	t.Logf("%d texts were not given to a reader because of its quirks", leftOut)
	return read, beyond
}

// TestSuiteGraphs takes every graph of the positive evaluation tests of the W3C
// suites of Turtle and RDF/XML, as an independent reader reads it, through our
// writers and back by all readers.
func TestSuiteGraphs(t *testing.T) {
	readers := allReaders(t)
	dev := outside.LoadDeviations(t, "suites")
	var graphs []graph
	for _, suite := range []struct {
		folder, kind string
		syntax       outside.Syntax
		reader       string
		least        int
	}{
		{"rdf-turtle", "TestTurtleEval", outside.Turtle, "n3", 145},
		{"rdf-xml", "TestXMLEval", outside.RDFXML, "rdflib", 126},
	} {
		var tests []outside.SuiteTest
		var reqs []outside.Request
		for _, s := range outside.Suite(t, suitesBase+suite.folder+"/", "standards", "w3c-rdf", suite.folder) {
			if s.Kind == suite.kind {
				tests = append(tests, s)
				reqs = append(reqs, outside.Request{Syntax: suite.syntax, Base: s.Base, Text: outside.Text(t, s.Action)})
			}
		}
		outside.AtLeast(t, suite.folder+" evaluation tests", len(tests), suite.least)
		for i, a := range readerNamed(t, suite.reader).Read(reqs) {
			name := suite.folder + " " + tests[i].Name
			err := a.Err
			if err == nil {
				var want []outside.Quad
				if want, err = outside.ParseNQuads(string(outside.Text(t, tests[i].Result))); err == nil {
					err = sameGraph(want, a.Quads)
				}
			}
			dev.Check(name, err)
			if a.Err == nil {
				graphs = append(graphs, graph{name, a.Quads})
			}
		}
	}
	all := len(graphs)
	if !outside.Long() {
		var sample []graph
		for i := 0; i < len(graphs); i += 25 {
			sample = append(sample, graphs[i])
		}
		graphs = sample
	}
	read, beyond := checkTriples(t, dev, readers, graphs)
	t.Logf("%d of %d graphs written, %d texts read back; %d graphs are beyond RDF/XML", len(graphs), all, read, beyond)
	dev.Done(outside.Long(), read*9/10)
}

// TestTerms takes generated literals and IRIs through every writer and back by
// every reader.
func TestTerms(t *testing.T) {
	readers := allReaders(t)
	dev := outside.LoadDeviations(t, "terms")
	count := 300
	if outside.Long() {
		count = 10_000
	}
	var quads []outside.Quad
	for i, s := range append(slices.Clone(strange), notXML...) {
		quads = append(quads, outside.Quad{
			S: outside.Term{Kind: outside.IRI, Value: fmt.Sprintf("http://a.example/%d", i)},
			P: outside.Term{Kind: outside.IRI, Value: rdfsNS + "label"},
			O: outside.Term{Kind: outside.Literal, Value: s, Datatype: outside.XSDString},
		})
	}
	for g := newGenerator(1); len(quads) < count; {
		quads = append(quads, g.triple())
	}
	// Statements that some reader stumbles over, or RDF/XML cannot say, do not
	// share a text with the others.
	var graphs []graph
	add := func(name string, is func(outside.Quad) bool, size int) {
		var in []outside.Quad
		for _, q := range quads {
			if is(q) {
				in = append(in, q)
			}
		}
		for part := range slices.Chunk(in, size) {
			graphs = append(graphs, graph{fmt.Sprintf("%s %d", name, len(graphs)), part})
		}
	}
	xml := render.FormatByName("rdf")
	add("plain", func(q outside.Quad) bool { return holds(xml, q) && !odd(q) }, 100)
	add("not for XML", func(q outside.Quad) bool { return !holds(xml, q) && !odd(q) }, 10)
	add("odd", odd, 10)
	read, beyond := checkTriples(t, dev, readers, graphs)
	t.Logf("%d statements in %d graphs, %d texts read back, %d graphs are beyond RDF/XML", len(quads), len(graphs), read, beyond)
	outside.AtLeast(t, "graphs that RDF/XML must refuse", beyond, 2)
	dev.Done(outside.Long(), read*8/10)
}

// TestCodePoints takes a literal with every Unicode scalar value but U+0000
// through every writer and back by every reader.
func TestCodePoints(t *testing.T) {
	readers := allReaders(t)
	dev := outside.LoadDeviations(t, "terms")
	const each = 4096
	step := rune(1)
	if !outside.Long() {
		step = 1021 // prime, so that the low bytes differ
	}
	var graphs []graph
	points := 0
	add := func(name string, runes []rune) {
		var quads []outside.Quad
		for len(runes) > 0 {
			n := min(16, len(runes))
			var b strings.Builder
			for _, r := range runes[:n] {
				b.WriteRune(r)
				b.WriteByte('.')
			}
			quads = append(quads, outside.Quad{
				S: outside.Term{Kind: outside.IRI, Value: fmt.Sprintf("http://a.example/%X", runes[0])},
				P: outside.Term{Kind: outside.IRI, Value: rdfsNS + "label"},
				O: outside.Term{Kind: outside.Literal, Value: b.String(), Datatype: outside.XSDString},
			})
			points += n
			runes = runes[n:]
		}
		graphs = append(graphs, graph{name, quads})
	}
	var runes, notForXML []rune
	for r := rune(1); r <= unicode.MaxRune; r += step {
		switch {
		case r >= 0xD800 && r <= 0xDFFF:
			continue
		case xmlCarries(string(r)):
			runes = append(runes, r)
		default:
			notForXML = append(notForXML, r)
		}
		if len(runes) == each {
			add(fmt.Sprintf("code points from %U", runes[0]), runes)
			runes = nil
		}
	}
	add("code points to U+10FFFF", runes)
	add("code points not for XML", notForXML)
	read, _ := checkTriples(t, dev, readers, graphs)
	t.Logf("%d code points, %d texts read back", points, read)
	if outside.Long() {
		outside.AtLeast(t, "code points", points, 0x110000-0x800-1)
	}
	dev.Done(false, read*8/10)
}

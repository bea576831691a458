// Package outside is what the conformance tests compare Ropewalk with: readers of
// RDF that other people wrote, run as they are, and published corpora, schemas
// and ontologies, read where they lie.
//
// Start with [Shared] for the corpora, [Readers] for the programs that read RDF
// back, [Canonical] for the form in which two graphs are compared, and
// [LoadDeviations] for what is known to differ.
package outside

import (
	"errors"
	"strconv"
	"strings"
)

// Kind is the kind of an RDF term.
type Kind uint8

// The kinds of terms. Absent stands for the default graph.
const (
	Absent Kind = iota
	IRI
	Blank
	Literal
)

// The datatypes that RDF 1.1 Concepts §3.3 gives to literals written without one.
const (
	XSDString  = "http://www.w3.org/2001/XMLSchema#string"
	LangString = "http://www.w3.org/1999/02/22-rdf-syntax-ns#langString"
)

// RDFType is the property that gives a node its class.
const RDFType = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"

// Term is an RDF term. Value is the IRI, the blank node's label without "_:", or
// the literal's lexical form. Every literal has a Datatype.
type Term struct {
	Kind     Kind
	Value    string
	Datatype string
	Language string
}

// Quad is a triple in a graph; G is Absent for the default graph.
type Quad struct{ S, P, O, G Term }

// append writes a quad as RDFC-1.0 §5 "canonical form" of N-Quads wants it, with
// line end.
func (q Quad) append(b []byte) []byte {
	b = append(q.S.append(b), ' ')
	b = append(q.P.append(b), ' ')
	b = append(q.O.append(b), ' ')
	if q.G.Kind != Absent {
		b = append(q.G.append(b), ' ')
	}
	return append(b, '.', '\n')
}

// String is the quad as a line of N-Quads without line end.
func (q Quad) String() string { return strings.TrimSuffix(string(q.append(nil)), "\n") }

func (t Term) append(b []byte) []byte {
	switch t.Kind {
	case IRI:
		b = append(b, '<')
		b = append(b, t.Value...)
		return append(b, '>')
	case Blank:
		b = append(b, '_', ':')
		return append(b, t.Value...)
	case Literal:
		b = append(b, '"')
		b = appendEscaped(b, t.Value)
		b = append(b, '"')
		switch {
		case t.Language != "":
			b = append(b, '@')
			return append(b, t.Language...)
		case t.Datatype != XSDString:
			b = append(b, '^', '^', '<')
			b = append(b, t.Datatype...)
			return append(b, '>')
		}
	}
	return b
}

func appendEscaped(b []byte, s string) []byte {
	const hex = "0123456789ABCDEF"
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '\b':
			b = append(b, '\\', 'b')
		case c == '\t':
			b = append(b, '\\', 't')
		case c == '\n':
			b = append(b, '\\', 'n')
		case c == '\f':
			b = append(b, '\\', 'f')
		case c == '\r':
			b = append(b, '\\', 'r')
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
		case c < 0x20 || c == 0x7F:
			b = append(b, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		default:
			b = append(b, c)
		}
	}
	return b
}

// NQuads writes quads in the order given.
func NQuads(quads []Quad) []byte {
	var b []byte
	for _, q := range quads {
		b = q.append(b)
	}
	return b
}

// Unskolemise puts blank nodes where the skolem IRIs of a document stand: every
// IRI that begins with the document's own and "#", or "/" if the document's has a
// fragment already (RDF 1.1 Concepts §3.5).
func Unskolemise(quads []Quad, document string) []Quad {
	prefix := document + "#"
	if strings.Contains(document, "#") {
		prefix = document + "/"
	}
	put := func(t Term) Term {
		if t.Kind == IRI && strings.HasPrefix(t.Value, prefix) {
			return Term{Kind: Blank, Value: t.Value}
		}
		return t
	}
	out := make([]Quad, len(quads))
	for i, q := range quads {
		out[i] = Quad{S: put(q.S), P: q.P, O: put(q.O), G: put(q.G)}
	}
	return out
}

// NumbersByValue writes the literals of XML Schema's number types in one form, so
// that those of the same value are the same.
func NumbersByValue(quads []Quad) []Quad {
	out := make([]Quad, len(quads))
	for i, q := range quads {
		switch strings.TrimPrefix(q.O.Datatype, "http://www.w3.org/2001/XMLSchema#") {
		case "double", "decimal", "integer":
			f, err := strconv.ParseFloat(q.O.Value, 64)
			if err == nil || errors.Is(err, strconv.ErrRange) { // then f is infinite
				q.O.Value = strconv.FormatFloat(f, 'E', -1, 64)
			}
		}
		out[i] = q
	}
	return out
}

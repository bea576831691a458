package render

import (
	"fmt"
	"io"

	"ropewalk/mapping/entity"
)

// TripleWriter streams arbitrary RDF triples in one format. Turtle and RDF/XML join
// successive triples of one subject. Labels of blank nodes are written as they are
// if they are ASCII letters, digits and "_" with no digit in front; others in
// a form of their own, a different one for each.
type TripleWriter struct {
	w      io.Writer
	f      *Format
	syntax tripleSyntax
	buf    []byte
	begun  bool
	err    error
	graph  entity.RDFTerm
}

// tripleSyntax writes triples that have been checked.
type tripleSyntax interface {
	triple(dst []byte, t *entity.Triple) ([]byte, error)
	close(dst []byte) []byte
}

// TripleError says why a triple cannot be written.
type TripleError struct {
	Triple entity.Triple
	Reason string
}

func (e *TripleError) Error() string {
	return fmt.Sprintf("the triple %q %q %q cannot be written: %s", e.Triple.Subject.Value, e.Triple.Predicate.Value, e.Triple.Object.Value, e.Reason)
}

// NewTripleWriter makes a writer in format f, which must be one of RDF's own
// syntaxes: JSON-LD is not.
func NewTripleWriter(w io.Writer, f *Format) (*TripleWriter, error) {
	if f.triples == nil {
		return nil, fmt.Errorf("%s is written from documents, not from triples", f.Title)
	}
	t := &TripleWriter{w: w, f: f}
	t.syntax = f.triples(t)
	return t, nil
}

// Graph sets the graph of the triples that follow: an IRI or a blank node, or the
// zero value for the default graph. Only N-Quads has named graphs.
func (w *TripleWriter) Graph(g entity.RDFTerm) error {
	if g.Kind == 0 {
		w.graph = g
		return nil
	}
	if w.f.Name != "nq" {
		return fmt.Errorf("%s has no named graphs", w.f.Title)
	}
	if reason := checkResource(&g); reason != "" {
		return fmt.Errorf("the name of a graph: %s", reason)
	}
	w.graph = g
	return nil
}

// Write writes one triple. It returns a [*TripleError] and writes nothing if RDF
// or the format cannot express the triple, as RDF/XML a predicate that no XML name
// can stand for; IRIs are checked for the characters that break the syntaxes.
func (w *TripleWriter) Write(t entity.Triple) error {
	if w.err != nil {
		return w.err
	}
	w.begin()
	if reason := checkTriple(&t); reason != "" {
		return &TripleError{t, reason}
	}
	b, err := w.syntax.triple(w.buf, &t)
	w.buf = b
	if err != nil {
		return err
	}
	if len(w.buf) >= writeSize {
		w.flush()
	}
	return w.err
}

// Close ends the text and writes what is buffered. It does not close the
// underlying writer.
func (w *TripleWriter) Close() error {
	if w.err == nil {
		w.begin()
		w.buf = append(w.syntax.close(w.buf), w.f.footer...)
		w.flush()
	}
	return w.err
}

func (w *TripleWriter) begin() {
	if !w.begun && w.f.header != nil {
		w.buf = w.f.header(w.buf)
	}
	w.begun = true
}

func (w *TripleWriter) flush() {
	_, w.err = w.w.Write(w.buf)
	w.buf = w.buf[:0]
}

func checkTriple(t *entity.Triple) string {
	if r := checkResource(&t.Subject); r != "" {
		return "the subject: " + r
	}
	if t.Predicate.Kind != entity.IRI {
		return "the predicate is not an IRI"
	}
	if r := checkResource(&t.Predicate); r != "" {
		return "the predicate: " + r
	}
	o := &t.Object
	if o.Kind != entity.Literal {
		if r := checkResource(o); r != "" {
			return "the object: " + r
		}
		return ""
	}
	if o.Lang != "" {
		if !langTag(o.Lang) {
			return fmt.Sprintf("%q is no language tag", o.Lang)
		}
		if o.Datatype != "" && o.Datatype != rdfNS+"langString" {
			return "a literal with a language tag has another datatype"
		}
		return ""
	}
	if o.Datatype == rdfNS+"langString" {
		return "an rdf:langString without a language tag"
	}
	if o.Datatype != "" {
		if r := checkIRIRef(o.Datatype); r != "" {
			return "the datatype: " + r
		}
	}
	return ""
}

func checkResource(t *entity.RDFTerm) string {
	switch t.Kind {
	case entity.IRI:
		return checkIRIRef(t.Value)
	case entity.Blank:
		if t.Value == "" {
			return "a blank node without a label"
		}
		return ""
	}
	return "neither an IRI nor a blank node"
}

// checkIRIRef refuses what [entity.CheckIRI] does, but for the percent signs and
// characters that RFC 3987 alone, not the syntaxes, forbids.
func checkIRIRef(s string) string {
	err, _ := entity.CheckIRI(s).(*entity.IRIError)
	if err == nil || !err.Breaks {
		return ""
	}
	return err.Error()
}

// langTag reports whether s is what LANGTAG of Turtle matches, without the "@".
func langTag(s string) bool {
	part, first := 0, true
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9' && !first:
			part++
		case c == '-' && part > 0:
			part, first = 0, false
		default:
			return false
		}
	}
	return part > 0
}

// appendBlank writes a blank node's label as all syntaxes take it.
func appendBlank(dst []byte, label string) []byte {
	plain := len(label) < 2 || label[:2] != "_x"
	for i := 0; i < len(label); i++ {
		c := label[i]
		plain = plain && (nameByte[c] && c != '-' && (i > 0 || c < '0' || c > '9'))
	}
	if plain {
		return append(dst, label...)
	}
	dst = append(dst, '_', 'x')
	for i := 0; i < len(label); i++ {
		dst = append(dst, upperHex[label[i]>>4], upperHex[label[i]&15])
	}
	return dst
}

// lineSyntax is N-Triples and N-Quads.
type lineSyntax struct{ w *TripleWriter }

func newLineSyntax(w *TripleWriter) tripleSyntax { return lineSyntax{w} }

func (s lineSyntax) triple(dst []byte, t *entity.Triple) ([]byte, error) {
	from := len(dst)
	dst = append(appendLineTerm(dst, &t.Subject), ' ')
	dst = append(appendLineTerm(dst, &t.Predicate), ' ')
	if t.Object.Kind == entity.Literal {
		var ok bool
		if dst, ok = appendLiteral(dst, &t.Object, appendFullIRI); !ok {
			return dst[:from], &TextError{Format: s.w.f.Name, Text: t.Object.Value}
		}
	} else {
		dst = appendLineTerm(dst, &t.Object)
	}
	if s.w.graph.Kind != 0 {
		dst = appendLineTerm(append(dst, ' '), &s.w.graph)
	}
	return append(dst, " .\n"...), nil
}

func (s lineSyntax) close(dst []byte) []byte { return dst }

func appendFullIRI(dst []byte, iri string) []byte {
	dst = append(dst, '<')
	dst = append(dst, iri...)
	return append(dst, '>')
}

func appendLineTerm(dst []byte, t *entity.RDFTerm) []byte {
	if t.Kind == entity.Blank {
		return appendBlank(append(dst, "_:"...), t.Value)
	}
	return appendFullIRI(dst, t.Value)
}

func appendLiteral(dst []byte, t *entity.RDFTerm, iri func([]byte, string) []byte) ([]byte, bool) {
	dst, ok := appendString(append(dst, '"'), t.Value)
	dst = append(dst, '"')
	switch {
	case t.Lang != "":
		dst = append(dst, '@')
		dst = append(dst, t.Lang...)
	case t.Datatype != "" && t.Datatype != entity.XSDString:
		dst = iri(append(dst, "^^"...), t.Datatype)
	}
	return dst, ok
}

// turtleSyntax joins triples of one subject by ";" and of one predicate by ",".
type turtleSyntax struct {
	subject   entity.RDFTerm
	predicate string
}

func newTurtleSyntax(*TripleWriter) tripleSyntax { return &turtleSyntax{} }

func (s *turtleSyntax) triple(dst []byte, t *entity.Triple) ([]byte, error) {
	from := len(dst)
	same := s.subject.Kind == t.Subject.Kind && s.subject.Value == t.Subject.Value
	switch {
	case same && s.predicate == t.Predicate.Value:
		dst = append(dst, ", "...)
	case same:
		dst = append(dst, " ;\n\t"...)
		dst = append(appendTurtlePredicate(dst, t.Predicate.Value), ' ')
	default:
		dst = s.close(dst)
		dst = append(appendTurtleTerm(dst, &t.Subject), ' ')
		dst = append(appendTurtlePredicate(dst, t.Predicate.Value), ' ')
	}
	if t.Object.Kind == entity.Literal {
		var ok bool
		if dst, ok = appendLiteral(dst, &t.Object, appendTurtleIRI); !ok {
			return dst[:from], &TextError{Format: "ttl", Text: t.Object.Value}
		}
	} else {
		dst = appendTurtleTerm(dst, &t.Object)
	}
	s.subject, s.predicate = t.Subject, t.Predicate.Value
	return dst, nil
}

func (s *turtleSyntax) close(dst []byte) []byte {
	if s.subject.Kind == 0 {
		return dst
	}
	return append(dst, " .\n"...)
}

func appendTurtlePredicate(dst []byte, iri string) []byte {
	if iri == entity.TypeIRI {
		return append(dst, 'a')
	}
	return appendTurtleIRI(dst, iri)
}

func appendTurtleTerm(dst []byte, t *entity.RDFTerm) []byte {
	if t.Kind == entity.Blank {
		return appendBlank(append(dst, "_:"...), t.Value)
	}
	return appendTurtleIRI(dst, t.Value)
}

// xmlSyntax writes an rdf:Description for every run of triples of one subject.
type xmlSyntax struct{ subject entity.RDFTerm }

func newXMLSyntax(*TripleWriter) tripleSyntax { return &xmlSyntax{} }

func (s *xmlSyntax) triple(dst []byte, t *entity.Triple) ([]byte, error) {
	from := len(dst)
	if s.subject.Kind != t.Subject.Kind || s.subject.Value != t.Subject.Value {
		dst = s.close(dst)
		dst = append(dst, "<rdf:Description"...)
		dst = appendXMLResource(dst, "rdf:about", &t.Subject)
		dst = append(dst, ">\n"...)
	}
	dst = append(dst, "  <"...)
	dst, name, ok := xmlName(dst, t.Predicate.Value)
	if !ok {
		return dst[:from], &TripleError{*t, "no XML name can stand for the predicate (RDF/XML §2.14)"}
	}
	o := &t.Object
	if o.Kind != entity.Literal {
		dst = appendXMLResource(dst, "rdf:resource", o)
		dst = append(dst, "/>\n"...)
		s.subject = t.Subject
		return dst, nil
	}
	switch {
	case o.Lang != "":
		dst = append(append(append(dst, ` xml:lang="`...), o.Lang...), '"')
	case o.Datatype != "" && o.Datatype != entity.XSDString:
		dst = append(appendXMLIRI(append(dst, ` rdf:datatype="`...), o.Datatype), '"')
	}
	if dst, ok = appendXML(append(dst, '>'), o.Value, false); !ok {
		return dst[:from], &TextError{Format: "rdf", Text: o.Value}
	}
	dst = append(dst, "</"...)
	dst = append(dst, name...)
	s.subject = t.Subject
	return append(dst, ">\n"...), nil
}

func (s *xmlSyntax) close(dst []byte) []byte {
	if s.subject.Kind == 0 {
		return dst
	}
	return append(dst, descriptionClose...)
}

func appendXMLResource(dst []byte, attr string, t *entity.RDFTerm) []byte {
	dst = append(dst, ' ')
	if t.Kind == entity.Blank {
		dst = appendBlank(append(dst, `rdf:nodeID="`...), t.Value)
	} else {
		dst = append(dst, attr...)
		dst = appendXMLIRI(append(dst, `="`...), t.Value)
	}
	return append(dst, '"')
}

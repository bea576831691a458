package render_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/knakk/rdf"

	"ropewalk/mapping/entity"
)

// statement is a triple with the name of its graph.
type statement struct {
	entity.Triple
	graph entity.RDFTerm
}

// readLines is a strict reader of N-Triples and N-Quads (RDF 1.1 N-Quads §4),
// written apart from the renderers. It wants the white space of the canonical form.
func readLines(text []byte) (all []statement, err error) {
	if !utf8.Valid(text) {
		return nil, fmt.Errorf("not UTF-8")
	}
	for n, line := range strings.SplitAfter(string(text), "\n") {
		if line == "" {
			continue
		}
		r := lineReader{s: line}
		var st statement
		st.Subject = r.term()
		r.want(" ")
		st.Predicate = r.term()
		r.want(" ")
		st.Object = r.term()
		r.want(" ")
		if !strings.HasPrefix(r.s, ".") {
			st.graph = r.term()
			r.want(" ")
		}
		r.want(".\n")
		if r.err == nil && r.s != "" {
			r.err = fmt.Errorf("more text")
		}
		if r.err != nil {
			return nil, fmt.Errorf("line %d: %w: %q", n+1, r.err, line)
		}
		all = append(all, st)
	}
	return all, nil
}

type lineReader struct {
	s   string
	err error
}

func (r *lineReader) fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf(format, args...)
	}
	r.s = ""
}

func (r *lineReader) want(s string) {
	rest, ok := strings.CutPrefix(r.s, s)
	if !ok {
		r.fail("%q is missing at %q", s, r.s)
		return
	}
	r.s = rest
}

func (r *lineReader) term() (t entity.RDFTerm) {
	switch {
	case strings.HasPrefix(r.s, "<"):
		t.Kind, t.Value = entity.IRI, r.iri()
	case strings.HasPrefix(r.s, "_:"):
		i := 2
		for i < len(r.s) && (r.s[i] == '_' || r.s[i] >= '0' && r.s[i] <= '9' || r.s[i]|0x20 >= 'a' && r.s[i]|0x20 <= 'z') {
			i++
		}
		t.Kind, t.Value = entity.Blank, r.s[2:i]
		r.s = r.s[i:]
	case strings.HasPrefix(r.s, `"`):
		t.Kind, t.Value = entity.Literal, r.quoted()
		switch {
		case strings.HasPrefix(r.s, "^^"):
			r.s = r.s[2:]
			t.Datatype = r.iri()
		case strings.HasPrefix(r.s, "@"):
			i := strings.IndexByte(r.s, ' ')
			if i < 0 {
				i = len(r.s)
			}
			t.Lang, r.s = r.s[1:i], r.s[i:]
		}
	default:
		r.fail("no term at %q", r.s)
	}
	return t
}

func (r *lineReader) iri() string {
	r.want("<")
	i := strings.IndexByte(r.s, '>')
	if i < 0 {
		r.fail("an IRI without an end")
		return ""
	}
	iri := r.s[:i]
	r.s = r.s[i+1:]
	for _, c := range iri {
		if c <= ' ' || strings.ContainsRune("<>\"{}|^`\\", c) {
			r.fail("the character %q in an IRI", c)
		}
	}
	return iri
}

func (r *lineReader) quoted() string {
	r.want(`"`)
	var b strings.Builder
	for i := 0; i < len(r.s); i++ {
		switch c := r.s[i]; c {
		case '"':
			r.s = r.s[i+1:]
			return b.String()
		case '\n', '\r':
			r.fail("a line end in a literal")
			return ""
		case '\\':
			i++
			if k := strings.IndexByte(`tbnrf"'\`, r.s[i]); k >= 0 {
				b.WriteByte("\t\b\n\r\f\"'\\"[k])
				continue
			}
			if r.s[i] != 'u' || i+5 > len(r.s) {
				r.fail("a wrong escape")
				return ""
			}
			u, err := strconv.ParseUint(r.s[i+1:i+5], 16, 16)
			if err != nil {
				r.fail("a wrong escape")
				return ""
			}
			b.WriteRune(rune(u))
			i += 4
		default:
			if c < ' ' || c == 0x7f {
				r.fail("a raw control character")
			}
			b.WriteByte(c)
		}
	}
	r.fail("a literal without an end")
	return ""
}

// readKnakk reads with github.com/knakk/rdf.
func readKnakk(t fataler, text []byte, f rdf.Format) (all []entity.Triple) {
	t.Helper()
	dec := rdf.NewTripleDecoder(bytes.NewReader(text), f)
	for {
		tr, err := dec.Decode()
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		all = append(all, entity.Triple{Subject: knakkTerm(tr.Subj), Predicate: knakkTerm(tr.Pred), Object: knakkTerm(tr.Obj)})
	}
}

type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

func knakkTerm(t rdf.Term) entity.RDFTerm {
	switch t := t.(type) {
	case rdf.IRI:
		return entity.RDFTerm{Kind: entity.IRI, Value: t.String()}
	case rdf.Blank:
		return entity.RDFTerm{Kind: entity.Blank, Value: strings.TrimPrefix(t.String(), "_:")}
	case rdf.Literal:
		r := entity.RDFTerm{Kind: entity.Literal, Value: t.String(), Lang: t.Lang()}
		if dt := t.DataType.String(); r.Lang == "" && dt != entity.XSDString {
			r.Datatype = dt
		}
		return r
	}
	panic(fmt.Sprintf("a term of type %T", t))
}

func TestReadLinesIsStrict(t *testing.T) {
	for _, bad := range []string{
		"<a:b> <a:c> \"x\n", "<a:b> <a:c> \"x\" \n", "<a:b> <a:c> \"\t\" .\n", "<a:b> <a:c> \"\\x\" .\n", "<a:b> <a:c> \"\\u00\" .\n", "<a b> <a:c> <a:d> .\n",
		"<a:b> <a:c> <a:d .\n", "<a:b>  <a:c> <a:d> .\n", "<a:b> <a:c> <a:d> . \n", "<a:b> <a:c> <a:d> .", "<a:b> <a:c> \"\xff\" .\n", "<a:b> <a:c> \"\x7f\" .\n",
	} {
		if got, err := readLines([]byte(bad)); err == nil {
			t.Errorf("%q is read as %v", bad, got)
		}
	}
	got, err := readLines([]byte("_:a <a:c> \"x\\\"\\u0001é\"@de <a:g> .\n"))
	if err != nil || len(got) != 1 || got[0].Object.Value != "x\"\x01é" || got[0].graph.Value != "a:g" || got[0].Object.Lang != "de" {
		t.Errorf("%v %v", got, err)
	}
}

// readXML reads the part of RDF/XML that the renderers write, with the white space
// of literals kept, by encoding/xml alone.
func readXML(text []byte) (all []entity.Triple, err error) {
	const rdfNS = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	iri := func(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} }
	dec := xml.NewDecoder(bytes.NewReader(text))
	var subject, object entity.RDFTerm
	depth := 0 // 1 within rdf:RDF, 2 within a node, 3 within a property
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return nil, err
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			depth++
			if depth == 1 {
				continue
			}
			if depth > 3 {
				return nil, fmt.Errorf("an element in a literal")
			}
			t := entity.RDFTerm{Kind: entity.Literal}
			for _, a := range tok.Attr {
				switch a.Name.Space + a.Name.Local {
				case rdfNS + "about", rdfNS + "resource":
					t = iri(a.Value)
				case rdfNS + "nodeID":
					t = entity.RDFTerm{Kind: entity.Blank, Value: a.Value}
				case rdfNS + "datatype":
					t.Datatype = a.Value
				case "http://www.w3.org/XML/1998/namespacelang":
					t.Lang = a.Value
				default:
					if a.Name.Space != "xmlns" {
						return nil, fmt.Errorf("the attribute %v", a.Name)
					}
				}
			}
			name := tok.Name.Space + tok.Name.Local
			if depth == 3 {
				object = t
				continue
			}
			subject = t
			if name != rdfNS+"Description" {
				all = append(all, entity.Triple{Subject: subject, Predicate: iri(entity.TypeIRI), Object: iri(name)})
			}
		case xml.CharData:
			if depth == 3 {
				object.Value += string(tok)
			} else if strings.TrimSpace(string(tok)) != "" {
				return nil, fmt.Errorf("text outside of literals: %q", tok)
			}
		case xml.EndElement:
			if depth == 3 {
				all = append(all, entity.Triple{Subject: subject, Predicate: iri(tok.Name.Space + tok.Name.Local), Object: object})
			}
			depth--
		}
	}
}

package conformance

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"ropewalk/conformance/outside"
)

// quirk is something that a reader is known to read wrongly. Texts to which it
// applies are not given to that reader. Each is listed in the deviations file,
// and proof is read to see that it is still so: a reader that has mended it fails
// the test.
type quirk struct {
	id       string
	reader   string
	syntaxes []outside.Syntax          // nil for all
	quad     func(q outside.Quad) bool // a statement to which it applies, or
	text     func(text []byte) bool    // a text
	proof    string                    // read in the first of syntaxes, or in Turtle
	right    string                    // what N-Quads of it must say
}

const (
	rdfXMLOpen  = `<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="`
	rdfXMLClose = `"><rdf:value>v</rdf:value></rdf:Description></rdf:RDF>`
)

var (
	xmlOnly   = []outside.Syntax{outside.RDFXML}
	lineBased = []outside.Syntax{outside.NTriples, outside.NQuadsSy}

	noAuthority   = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*:(?:[^/]|/[^/])`)
	dotSegment    = regexp.MustCompile(`^[^?#]*/\.\.?(?:[/?#]|$)`)
	emptyPart     = regexp.MustCompile(`^[^?#]*;(?:[?#]|$)|^[^#]*\?(?:#|$)`)
	escapeLike    = regexp.MustCompile(`\\[tbnrfuU"'\\]`)
	capitalScheme = regexp.MustCompile(`^[a-z0-9+.-]*[A-Z][A-Za-z0-9+.-]*:`)
	httpRelative  = regexp.MustCompile(`^http:(?:[^/]|/[^/])`)
)

var quirks = []quirk{
	{
		id: "rapper U+0000", reader: "rapper",
		quad:  literalWhere(func(v string) bool { return strings.ContainsRune(v, 0) }),
		proof: `<a:s> <a:p> "a\u0000b" .`, right: `"a\u0000b"`,
	},
	{
		id: "rapper U+FFFE", reader: "rapper",
		quad:  literalWhere(func(v string) bool { return strings.ContainsAny(v, "\ufffe\uffff") }),
		proof: `<a:s> <a:p> "a\uFFFEb" .`, right: "\"a\ufffeb\"",
	},
	{
		id: "rapper dot segments", reader: "rapper", syntaxes: []outside.Syntax{outside.Turtle, outside.RDFXML},
		quad:  iriWhere(dotSegment.MatchString),
		proof: `<http://a.example/b/./c> <a:p> <a:o> .`, right: `<http://a.example/b/./c>`,
	},
	{
		id: "knakk rdfxml namespace on a property", reader: "knakk", syntaxes: xmlOnly,
		text: func(text []byte) bool {
			_, body, _ := bytes.Cut(text, []byte("<rdf:Description"))
			return bytes.Contains(body, []byte(" xmlns"))
		},
		proof: `<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="http://a.example/s"><x:p xmlns:x="http://a.example/">v</x:p></rdf:Description></rdf:RDF>`,
		right: `<http://a.example/s> <http://a.example/p> "v"`,
	},
	{
		id: "knakk rdfxml IRI without authority", reader: "knakk", syntaxes: xmlOnly,
		quad:  iriWhere(noAuthority.MatchString),
		proof: rdfXMLOpen + "urn:x:y" + rdfXMLClose, right: `<urn:x:y>`,
	},
	{
		id: "rdflib rdfxml empty query", reader: "rdflib", syntaxes: xmlOnly,
		quad:  iriWhere(emptyPart.MatchString),
		proof: rdfXMLOpen + "http://a.example/?#x" + rdfXMLClose, right: `<http://a.example/?#x>`,
	},
	{
		id: "rdflib rdfxml scheme without authority", reader: "rdflib", syntaxes: xmlOnly,
		quad:  iriWhere(httpRelative.MatchString),
		proof: rdfXMLOpen + "http:g" + rdfXMLClose, right: `<http:g>`,
	},
	{
		id: "rdflib rdfxml capital scheme", reader: "rdflib", syntaxes: xmlOnly,
		quad:  iriWhere(capitalScheme.MatchString),
		proof: rdfXMLOpen + "HTTP://a.example/" + rdfXMLClose, right: `<HTTP://a.example/>`,
	},
	{
		id: "rdflib ntriples escaped reverse solidus", reader: "rdflib", syntaxes: lineBased,
		quad:  literalWhere(escapeLike.MatchString),
		proof: `<a:s> <a:p> "a\\nb" .`, right: `"a\\nb"`,
	},
	{
		id: "rdflib ntriples white space in an IRI", reader: "rdflib", syntaxes: lineBased,
		quad:  iriWhere(func(v string) bool { return strings.ContainsFunc(v, unicode.IsSpace) }),
		proof: "<http://a.example/\u00a0> <a:p> <a:o> .\n", right: "<http://a.example/\u00a0>",
	},
	{
		id: "json-gold whole numbers from 2^63", reader: "json-gold", syntaxes: []outside.Syntax{outside.JSONLD},
		quad:  literalWhere(func(v string) bool { return len(v) >= 19 && strings.Trim(v, "-0123456789") == "" }),
		proof: `{"@context":"` + outside.LinkedArtContext + `","id":"http://a.example/1","type":"HumanMadeObject","dimension":[{"type":"Dimension","value":100000000000000000000}]}`,
		right: `"100000000000000000000"^^<http://www.w3.org/2001/XMLSchema#integer>`,
	},
	{
		// Such texts are given to it all the same and compared by the value of
		// their numbers.
		id: "rdflib turtle 4.5E2", reader: "rdflib", syntaxes: []outside.Syntax{outside.Turtle},
		proof: `<a:s> <a:p> 4.5E2 .`, right: `"4.5E2"^^<http://www.w3.org/2001/XMLSchema#double>`,
	},
}

func literalWhere(is func(string) bool) func(outside.Quad) bool {
	return func(q outside.Quad) bool { return q.O.Kind == outside.Literal && is(q.O.Value) }
}

func iriWhere(is func(string) bool) func(outside.Quad) bool {
	return func(q outside.Quad) bool {
		return q.S.Kind == outside.IRI && is(q.S.Value) || q.O.Kind == outside.IRI && is(q.O.Value) || is(q.O.Datatype)
	}
}

// odd reports whether any reader has a quirk for a statement.
func odd(q outside.Quad) bool {
	return slices.ContainsFunc(quirks, func(k quirk) bool { return k.quad != nil && k.quad(q) })
}

// withoutQuirks are the texts that a reader can be expected to read. Text i says
// the graph numbered of[i]; from are those numbers for the texts that remain.
func withoutQuirks(r *outside.Reader, reqs []outside.Request, of []int, graphs []graph) (fit []outside.Request, from []int) {
	for i, req := range reqs {
		apt := !slices.ContainsFunc(quirks, func(k quirk) bool {
			if k.reader != r.Name || k.syntaxes != nil && !slices.Contains(k.syntaxes, req.Syntax) {
				return false
			}
			return k.quad != nil && slices.ContainsFunc(graphs[of[i]].quads, k.quad) || k.text != nil && k.text(req.Text)
		})
		if apt {
			fit, from = append(fit, req), append(from, of[i])
		}
	}
	return fit, from
}

// TestReaderQuirks proves that every allowance made for a reader is still needed.
func TestReaderQuirks(t *testing.T) {
	dev := outside.LoadDeviations(t, "readers")
	readers := map[string]*outside.Reader{}
	for _, r := range append(allReaders(t), outside.PublishedContext(t).Reader()) {
		readers[r.Name] = r
	}
	for _, q := range quirks {
		syntax := outside.Turtle
		if q.syntaxes != nil {
			syntax = q.syntaxes[0]
		}
		a := readers[q.reader].Read([]outside.Request{{Syntax: syntax, Text: []byte(q.proof)}})[0]
		if a.Err == nil {
			if got := string(outside.NQuads(a.Quads)); !strings.Contains(got, q.right) {
				a.Err = fmt.Errorf("read as %s", got)
			}
		}
		dev.Check(q.id, a.Err)
	}
	dev.Done(true, 0)
}

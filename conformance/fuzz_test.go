package conformance

import (
	"regexp"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/render"
)

// languageTag is LANGTAG without "@" (RDF 1.1 N-Triples §7).
var languageTag = regexp.MustCompile(`^[a-zA-Z]+(-[a-zA-Z0-9]+)*$`)

// FuzzStatement writes a statement and reads it back: N-Triples with our reader
// of N-Quads, which the W3C suites prove, and Turtle and N-Triples with knakk. What
// is not UTF-8 must be refused, and so must an IRI that would break the syntax.
func FuzzStatement(f *testing.F) {
	for _, s := range append(append([]string{}, strange...), notXML...) {
		f.Add("http://a.example/s", s, "")
		f.Add("http://a.example/"+s, "v", "en")
	}
	for g, i := newGenerator(7), 0; i < 50; i++ {
		q := g.triple()
		f.Add(q.S.Value, q.O.Value, q.O.Language)
	}
	f.Add("A:", "0", "A ")
	f.Add("A:% ", "0", "") // a mild fault before one that breaks the syntax
	knakk := outside.Knakk()
	f.Fuzz(func(t *testing.T, subject, value, language string) {
		o := outside.Term{Kind: outside.Literal, Value: value, Datatype: outside.XSDString}
		if language != "" {
			o.Language, o.Datatype = language, outside.LangString
		}
		quads := []outside.Quad{{S: outside.Term{Kind: outside.IRI, Value: subject}, P: outside.Term{Kind: outside.IRI, Value: rdfsNS + "label"}, O: o}}
		nt, err := writeTriples(render.FormatByName("nt"), quads)
		if err != nil {
			// The reader must think so too of the same statement, except for what
			// the syntax allows in an IRI and RFC 3987 does not.
			// A language tag that is none may look like one with white space behind it.
			if language != "" && !languageTag.MatchString(language) {
				return
			}
			_, err := outside.ParseNQuads(string(outside.NQuads(quads)))
			if err == nil && utf8.ValidString(subject) && utf8.ValidString(value) && !strings.Contains(subject, "\\") && !strings.ContainsFunc(subject, unicode.IsControl) {
				t.Fatalf("refused, though it is legal: %q %q %q", subject, value, language)
			}
			return
		}
		if !utf8.Valid(nt) {
			t.Fatalf("not UTF-8: %q", nt)
		}
		back, err := outside.ParseNQuads(string(nt))
		if err == nil {
			err = sameGraph(quads, back)
		}
		if err != nil {
			t.Fatalf("N-Triples %q: %v", nt, err)
		}
		ttl, err := writeTriples(render.FormatByName("ttl"), quads)
		if err != nil {
			t.Fatalf("Turtle: %v", err)
		}
		for _, r := range []outside.Request{{Syntax: outside.NTriples, Text: nt}, {Syntax: outside.Turtle, Text: ttl}} {
			a := knakk.Read([]outside.Request{r})[0]
			if a.Err == nil {
				a.Err = sameGraph(quads, a.Quads)
			}
			if a.Err != nil {
				t.Fatalf("%s read by knakk: %q: %v", r.Syntax, r.Text, a.Err)
			}
		}
	})
}

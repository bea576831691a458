package render_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/knakk/rdf"
	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
)

// triples generates arbitrary RDF triples: blank nodes, any datatype, languages,
// predicates that only an XML declaration of their own can name.
func triples(text *rapid.Generator[string]) *rapid.Generator[[]entity.Triple] {
	iri := rapid.Map(entitytest.IRI(), func(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} })
	blank := rapid.Map(rapid.SampledFrom([]string{"a", "b0", "_x41", "_y", "0", "a.b", "a-b", "ö", "A B"}), func(s string) entity.RDFTerm {
		return entity.RDFTerm{Kind: entity.Blank, Value: s}
	})
	predicate := rapid.Map(rapid.Custom(func(t *rapid.T) string {
		return rapid.SampledFrom([]string{"http://example.org/ns#", "http://example.org/a/", "urn:p:1", "http://www.w3.org/1999/02/22-rdf-syntax-ns#", "http://example.org/?q=a&r="}).Draw(t, "ns") +
			rapid.SampledFrom([]string{"p", "_1", "name.", "a-b", "öäü", "κλειδί", "x1", "_"}).Draw(t, "name")
	}), func(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} })
	literal := rapid.Custom(func(t *rapid.T) entity.RDFTerm {
		l := entity.RDFTerm{Kind: entity.Literal, Value: text.Draw(t, "text")}
		switch rapid.IntRange(0, 3).Draw(t, "sort") {
		case 0:
			l.Lang = rapid.SampledFrom([]string{"en", "sv", "zh-Hans-CN", "de-1996"}).Draw(t, "lang")
		case 1:
			l.Datatype = rapid.OneOf(entitytest.IRI(), rapid.SampledFrom([]string{entity.XSDInteger, "http://www.w3.org/1999/02/22-rdf-syntax-ns#XMLLiteral"})).Draw(t, "datatype")
			if l.Datatype == entity.XSDString {
				l.Datatype = ""
			}
		}
		return l
	})
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) entity.Triple {
		return entity.Triple{
			Subject: rapid.OneOf(iri, blank).Draw(t, "s"), Predicate: predicate.Draw(t, "p"), Object: rapid.OneOf(iri, blank, literal, literal).Draw(t, "o"),
		}
	}), 1, 12)
}

func writeTriples(t fataler, f *render.Format, all []entity.Triple) []byte {
	t.Helper()
	var b bytes.Buffer
	w, err := render.NewTripleWriter(&b, f)
	if err != nil {
		t.Fatalf("%v", err)
	}
	for _, tr := range all {
		if err := w.Write(tr); err != nil {
			t.Fatalf("%v", err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatalf("%v", err)
	}
	return b.Bytes()
}

// sameTriples compares lists in order, with blank nodes renamed one to one.
func sameTriples(t fataler, want, got []entity.Triple, text []byte) {
	t.Helper()
	if len(want) != len(got) {
		t.Fatalf("%d triples, want %d\n%s", len(got), len(want), text)
	}
	there, back := map[string]string{}, map[string]string{}
	same := func(a, b entity.RDFTerm) bool {
		if a.Kind != entity.Blank || b.Kind != entity.Blank {
			return a == b
		}
		if _, ok := there[a.Value]; !ok {
			there[a.Value] = b.Value
		}
		if _, ok := back[b.Value]; !ok {
			back[b.Value] = a.Value
		}
		return there[a.Value] == b.Value && back[b.Value] == a.Value
	}
	for i := range want {
		if !same(want[i].Subject, got[i].Subject) || want[i].Predicate != got[i].Predicate || !same(want[i].Object, got[i].Object) {
			t.Fatalf("got  %+v\nwant %+v\n%s", got[i], want[i], text)
		}
	}
}

func TestTriplesInLines(t *testing.T) {
	graph := entity.RDFTerm{Kind: entity.IRI, Value: "https://museum.example/graph"}
	rapid.Check(t, func(t *rapid.T) {
		want := triples(entitytest.Text()).Draw(t, "triples")
		for _, name := range []string{"nt", "nq"} {
			var b bytes.Buffer
			w, err := render.NewTripleWriter(&b, format(name))
			if err != nil {
				t.Fatal(err)
			}
			if err := w.Graph(graph); (err == nil) != (name == "nq") {
				t.Fatalf("%s: graph: %v", name, err)
			}
			for _, tr := range want {
				if err := w.Write(tr); err != nil {
					t.Fatal(err)
				}
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			all, err := readLines(b.Bytes())
			if err != nil {
				t.Fatal(err)
			}
			var got []entity.Triple
			for _, st := range all {
				got = append(got, st.Triple)
				if name == "nq" && st.graph != graph {
					t.Fatalf("the graph is %v", st.graph)
				}
			}
			sameTriples(t, want, got, b.Bytes())
		}
	})
}

func TestTriplesInTurtle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := triples(entitytest.Text()).Draw(t, "triples")
		text := writeTriples(t, format("ttl"), want)
		sameTriples(t, want, readKnakk(t, text, rdf.Turtle), text)
	})
}

func TestTriplesInXML(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := triples(entitytest.XMLText()).Draw(t, "triples")
		text := writeTriples(t, format("rdf"), want)
		got, err := readXML(text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		sameTriples(t, want, got, text)
	})
}

// TestTriplesRefused: each triple is wrong in one way; nothing of it is written.
func TestTriplesRefused(t *testing.T) {
	iri := func(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} }
	lit := func(s, lang, dt string) entity.RDFTerm {
		return entity.RDFTerm{Kind: entity.Literal, Value: s, Lang: lang, Datatype: dt}
	}
	s, p, o := iri("http://example.org/s"), iri("http://example.org/p"), iri("http://example.org/o")
	const rdfNS = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	all := []string{"nt", "nq", "ttl", "rdf"}
	for _, tt := range []struct {
		name   string
		t      entity.Triple
		in     []string
		reason string
	}{
		{"literal subject", entity.Triple{Subject: lit("a", "", ""), Predicate: p, Object: o}, all, "the subject: neither an IRI nor a blank node"},
		{"blank predicate", entity.Triple{Subject: s, Predicate: entity.RDFTerm{Kind: entity.Blank, Value: "b"}, Object: o}, all, "the predicate is not an IRI"},
		{"empty term", entity.Triple{Subject: s, Predicate: p}, all, "the object: neither"},
		{"blank without label", entity.Triple{Subject: entity.RDFTerm{Kind: entity.Blank}, Predicate: p, Object: o}, all, "without a label"},
		{"relative", entity.Triple{Subject: iri("a/b"), Predicate: p, Object: o}, all, "no scheme"},
		{"space", entity.Triple{Subject: s, Predicate: p, Object: iri("http://example.org/a b")}, all, "a space"},
		{"angle", entity.Triple{Subject: s, Predicate: iri("http://example.org/a>b"), Object: o}, all, "the character >"},
		{"datatype", entity.Triple{Subject: s, Predicate: p, Object: lit("a", "", "integer")}, all, "the datatype"},
		{"language", entity.Triple{Subject: s, Predicate: p, Object: lit("a", "en_GB", "")}, all, "no language tag"},
		{"language's end", entity.Triple{Subject: s, Predicate: p, Object: lit("a", "en-", "")}, all, "no language tag"},
		{"language and datatype", entity.Triple{Subject: s, Predicate: p, Object: lit("a", "en", entity.XSDString)}, all, "another datatype"},
		{"langString without language", entity.Triple{Subject: s, Predicate: p, Object: lit("a", "", rdfNS+"langString")}, all, "without a language tag"},
		{"not UTF-8", entity.Triple{Subject: s, Predicate: p, Object: lit("a\xff", "", "")}, all, "not UTF-8"},
		{"control", entity.Triple{Subject: s, Predicate: p, Object: lit("a\x01", "", "")}, []string{"rdf"}, "U+0001"},
		{"no XML name", entity.Triple{Subject: s, Predicate: iri("http://example.org/123"), Object: o}, []string{"rdf"}, "no XML name"},
		{"no local name", entity.Triple{Subject: s, Predicate: iri("http://example.org/"), Object: o}, []string{"rdf"}, "no XML name"},
		{"rdf:li", entity.Triple{Subject: s, Predicate: iri(rdfNS + "li"), Object: o}, []string{"rdf"}, "no XML name"},
		{"rdf:Description", entity.Triple{Subject: s, Predicate: iri(rdfNS + "Description"), Object: o}, []string{"rdf"}, "no XML name"},
	} {
		for _, name := range all {
			var b bytes.Buffer
			w, err := render.NewTripleWriter(&b, format(name))
			if err != nil {
				t.Fatal(err)
			}
			good := entity.Triple{Subject: s, Predicate: p, Object: o}
			if err := w.Write(good); err != nil {
				t.Fatal(err)
			}
			err = w.Write(tt.t)
			refused := false
			for _, in := range tt.in {
				refused = refused || in == name
			}
			if !refused {
				if err != nil {
					t.Errorf("%s: %s: %v", name, tt.name, err)
				}
				continue
			}
			if err == nil || !strings.Contains(err.Error(), tt.reason) {
				t.Errorf("%s: %s: %v", name, tt.name, err)
			}
			if err := w.Close(); err != nil {
				t.Error(err)
			}
			if want := writeTriples(t, format(name), []entity.Triple{good}); !bytes.Equal(want, b.Bytes()) {
				t.Errorf("%s: %s: wrote\n%s", name, tt.name, b.Bytes())
			}
		}
	}
	if _, err := render.NewTripleWriter(nil, format("jsonld")); err == nil {
		t.Error("a triple writer for JSON-LD")
	}
}

type full struct{}

var errFull = errors.New("no space left")

func (full) Write([]byte) (int, error) { return 0, errFull }

// TestWriteError: an error of the underlying writer is not lost.
func TestWriteError(t *testing.T) {
	for _, f := range render.Formats() {
		w := render.NewWriter(full{}, f, render.Options{})
		err := w.Write(label(strings.Repeat("x", 100000)))
		if !errors.Is(err, errFull) || !errors.Is(w.Write(label("x")), errFull) || !errors.Is(w.Close(), errFull) {
			t.Errorf("%s: %v", f.Name, err)
		}
		w = render.NewWriter(full{}, f, render.Options{})
		if err := w.Write(label("x")); err != nil {
			t.Errorf("%s: %v", f.Name, err)
		}
		if err := w.Close(); !errors.Is(err, errFull) {
			t.Errorf("%s: %v", f.Name, err)
		}
	}
}

package termlist

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/knakk/rdf"
	"pgregory.net/rapid"
)

func TestResolve(t *testing.T) {
	for _, tt := range []struct{ base, ref, want string }{
		{"http://a/b/c/d;p?q", "../../../g", "http://a/g"},
		{"http://a", "g", "http://a/g"},
		{"http://a/ö/x", "ä#é", "http://a/ö/ä#é"},
		{"http://a/b", "", "http://a/b"},
		{"http://a/b?q", "#f", "http://a/b?q#f"},
		{"urn:x:y", "#f", "urn:x:y#f"},
		{"", "g", "g"},
		{"http://a/", "urn:x", "urn:x"},
	} {
		if got := resolve(tt.base, tt.ref); got != tt.want {
			t.Errorf("%s below %s: %s, want %s", tt.ref, tt.base, got, tt.want)
		}
	}
}

func TestTidy(t *testing.T) {
	const p = "<http://example.org/s> <http://example.org/p> "
	for _, tt := range []struct{ text, object string }{
		{p + "\"\"\"one\n# two \"three\"\n\"\"\"@en-GB .", `"one\n# two \"three\"\n"^^<http://www.w3.org/1999/02/22-rdf-syntax-ns#langString>@en-gb`},
		{p + "'''a\n'''^^<http://example.org/d> .", `"a\n"^^<http://example.org/d>@`},
		{p + "'''a\n'''^^ \n<http://example.org/d> .", `"a\n"^^<http://example.org/d>@`},
		{"@prefix e: <http://example.org/> .\n" + p + "'''a\n'''^^e:d .", `"a\n"^^<http://example.org/d>@`},
		{p + "'a \"b\"' . # it's \"odd", `"a \"b\""^^<http://www.w3.org/2001/XMLSchema#string>@`},
		{p + "\n.5 .", `"0.5"^^<http://www.w3.org/2001/XMLSchema#decimal>@`},
		{p + "-.5e3\n.", `"-0.5e3"^^<http://www.w3.org/2001/XMLSchema#double>@`},
		{p + "5.", `"5"^^<http://www.w3.org/2001/XMLSchema#integer>@`},
		{"@prefix e.1: <http://example.org/> .e.1:s e.1:p e.1:o..5.", "<http://example.org/o..5>"},
		{p + "5\n.", `"5"^^<http://www.w3.org/2001/XMLSchema#integer>@`},
		{"@prefix e: <http://example.org/> .\ne:s e:p e:o\\#.5 .", "<http://example.org/o#.5>"},
		{"@base <http://example.org/a/b> .\n<s> <p> <../o> .", "<http://example.org/o>"},
		{"BASE <http://example.org/a/b>\n<s> <p> <\\u00f6> .", "<http://example.org/a/ö>"},
	} {
		got, err := read(tt.text, "", rdf.Turtle)
		if err != nil || len(got) != 1 || !strings.HasSuffix(got[0], " "+tt.object) {
			t.Errorf("%s: %q, %v; want %s", tt.text, got, err, tt.object)
		}
	}
	for _, tt := range []struct {
		text string
		line int
		want string
	}{
		{p + "<http://example.org/x\n.", 1, "an IRI that does not end on its line"},
		{"\n" + p + "<http://exa mple.org/x> .", 2, "has a ' ' in it"},
		{"\n" + p + "<http://\\u0020> .", 2, "has a ' ' in it"},
		{p + "<http://\\u00> .", 1, "a bad escape in the IRI"},
		{p + "true..5 .", 1, "nothing that can stand here"},
		{p + "_:b..5 .", 1, "nothing that can stand here"},
		{p + "~ .", 1, "nothing that can stand here"},
		{p + "\"a\n\" .", 1, "a line end in a literal"},
		{"\n" + p + "\"\"\"a\n\n\" .", 2, "a literal that does not end"},
		{p + "\"a\",\n", 1, "the text ends within a statement"},
		{p + "( 1 2 .", 1, "a bracket is not closed"},
		{p + "'''a\n\n'''^^\"\"\"\"0\" .", 3, "RDF"},
		{p + "'''a\n\n'''@en ~ .", 3, "nothing that can stand here"},
		{p + "\"\\q\" .", 1, "a bad escape in a literal"},
		{p + "\"\\uD800\" .", 1, "a bad escape in a literal"},
	} {
		_, err := read(tt.text, "", rdf.Turtle)
		var e *Error
		if !errors.As(err, &e) || e.Line != tt.line || !strings.Contains(e.Reason, tt.want) {
			t.Errorf("%q: %v; want line %d, %s", tt.text, err, tt.line, tt.want)
		}
	}
}

// TestTruncated cuts a file off at every place: either what is left is whole
// statements, or there is a fault.
func TestTruncated(t *testing.T) {
	for _, tt := range []struct {
		text   string
		format rdf.Format
	}{{skosTurtle, rdf.Turtle}, {skosNTriples, rdf.NTriples}} {
		for i := range tt.text {
			before := strings.TrimSpace(tt.text[:i])
			whole := before == "" || strings.HasSuffix(before, ".") || strings.Contains(before[strings.LastIndexByte(before, '\n')+1:], "#")
			if _, err := read(tt.text[:i], "", tt.format); err == nil && !whole {
				t.Errorf("no fault in %q", before[max(0, len(before)-40):])
			}
		}
	}
}

// TestTokensAtRandom puts tokens together that the decoder takes apart in its own way.
// A text at which it waits or panics ends the test's process.
func TestTokensAtRandom(t *testing.T) {
	tokens := rapid.SampledFrom([]string{`"`, `""`, `"""`, `'`, `'''`, "a", ":", "e:", "<a>", "<", ">", ".", "..", "5", "0.5", "1e5", "e", "+", "-", "@en", "@", "^^", "^",
		"_:b", "_:", "_", "[", "]", "(", ")", ",", ";", " ", "\n", "\r", `\`, `\u00e9`, `\"`, "true", "t", "false", "PREFIX", "prefix", "@prefix", "BASE", "@base", "#", "%41", "é", "\xff", "8"})
	rapid.Check(t, func(t *rapid.T) {
		for range 100 { // one is cheap
			text := strings.Join(rapid.SliceOfN(tokens, 1, 10).Draw(t, "tokens"), "")
			if rapid.Bool().Draw(t, "in a statement") {
				text = "<s> <p> " + text + " ."
			}
			_, _ = read(text, "http://example.org/", rapid.SampledFrom([]rdf.Format{rdf.Turtle, rdf.NTriples}).Draw(t, "format"))
		}
	})
}

// FuzzRDF: whatever the text, the decoder comes back, and leaves no goroutine but those
// of a decoder that waits for ever.
func FuzzRDF(f *testing.F) {
	for _, text := range []string{skosTurtle, skosNTriples, "<a\n", ".5", "\"\"\"#\n#\"\"\"@en", "a:b.c\\,.1", "@base <", "'\\u00e9'^^<x>", "_:a.", "true", "\\", "....0. 0.", "..0.0`.", "<a> <b> <c> .\n.\n",
		"<s> <p> '''\n'''^^\"\"\"\"0\"8\" .", `""""""""0"8""`, "<s> <p> 5..0.5 .", "<s> <p> true..5 .", "<s> <p> _:b..5 .", "<s> <p> true_:b...8 ."} {
		f.Add([]byte(text), true)
		f.Add([]byte(text), false)
	}
	for _, pattern := range []string{"rdf-turtle/*.ttl", "rdf-n-triples/*.nt"} {
		dir, name := filepath.Split(pattern)
		files, _ := filepath.Glob(filepath.Join(suite(f, dir), name))
		for _, file := range files {
			if data, err := os.ReadFile(file); err == nil && len(data) < 2000 {
				f.Add(data, filepath.Ext(file) == ".ttl")
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, turtle bool) {
		format := rdf.NTriples
		if turtle {
			format = rdf.Turtle
		}
		before, alone := runtime.NumGoroutine(), abandoned.Load()
		_ = triples(data, format, "http://example.org/", func(rdf.Triple) {})
		for deadline := time.Now().Add(2 * time.Second); runtime.NumGoroutine() > before+2*int(abandoned.Load()-alone); runtime.Gosched() {
			if time.Now().After(deadline) {
				t.Fatal("a goroutine stayed behind")
			}
		}
	})
}

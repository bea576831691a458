package render_test

import (
	"bytes"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/knakk/rdf"
	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
	"ropewalk/vocab"
)

var update = flag.Bool("update", false, "write the golden files anew")

func triplesOf(d *entity.Document) (all []entity.Triple) {
	for _, t := range d.Triples() {
		all = append(all, t)
	}
	return all
}

// write gives d as a whole text.
func write(t fataler, f *render.Format, o render.Options, docs ...*entity.Document) []byte {
	t.Helper()
	var b bytes.Buffer
	w := render.NewWriter(&b, f, o)
	for _, d := range docs {
		if err := w.Write(d); err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatalf("%s: %v", f.Name, err)
	}
	return b.Bytes()
}

func format(name string) *render.Format { return render.FormatByName(name) }

// TestGolden compares documents that use every kind of value with files read by a
// person.
func TestGolden(t *testing.T) {
	src, err := filepath.Glob("testdata/*.json")
	if err != nil || len(src) < 2 {
		t.Fatalf("golden documents: %v, %v", src, err)
	}
	for _, file := range src {
		body, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		keys, err := os.ReadFile(strings.TrimSuffix(file, ".json") + ".keys")
		if err != nil {
			t.Fatal(err)
		}
		d, err := entity.Parse(body, strings.TrimSpace(string(keys)))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		for _, f := range render.Formats() {
			text, err := render.Document(f, render.Options{}, d)
			if err != nil {
				t.Fatal(err)
			}
			golden(t, strings.TrimSuffix(file, ".json")+f.Suffix, text)
			if stream := write(t, f, render.Options{}, d); !bytes.Equal(text, stream) {
				t.Errorf("%s: %s: a stream of one document is\n%s", file, f.Name, stream)
			}
		}
		if got := write(t, format("jsonld"), render.Options{Indent: true}, d); !bytes.Equal(got, body) {
			t.Errorf("%s, written with line breaks:\n%s", file, cmp.Diff(string(body), string(got)))
		}
	}
}

func golden(t *testing.T, file string, got []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s:\n%s", file, diff)
	}
}

// TestNTriplesRoundTrip: any document, read back by a strict reader, is its triples
// in order, without a repeated line.
func TestNTriplesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		want := triplesOf(d)
		for _, name := range []string{"nt", "nq"} {
			got, err := readLines(write(t, format(name), render.Options{}, d))
			if err != nil {
				t.Fatal(err)
			}
			var triples []entity.Triple
			for _, st := range got {
				triples = append(triples, st.Triple)
				if name == "nq" && st.graph != (entity.RDFTerm{Kind: entity.IRI, Value: d.IRI()}) || name == "nt" && st.graph.Kind != 0 {
					t.Fatalf("%s: the graph is %v", name, st.graph)
				}
			}
			if diff := cmp.Diff(want, triples); diff != "" {
				t.Fatalf("%s:\n%s", name, diff)
			}
		}
	})
}

// TestTurtleRoundTrip reads back with knakk/rdf.
func TestTurtleRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		got := readKnakk(t, write(t, format("ttl"), render.Options{}, d), rdf.Turtle)
		if diff := cmp.Diff(triplesOf(d), got); diff != "" {
			t.Fatal(diff)
		}
	})
}

// TestRDFXMLRoundTrip reads back with a reader of our own and, where no IRI looks
// like a prefixed name to it, with knakk/rdf.
func TestRDFXMLRoundTrip(t *testing.T) {
	byKnakk := 0
	rapid.Check(t, func(t *rapid.T) {
		o := entitytest.Options{Keys: true, Text: entitytest.XMLText()}
		if rapid.Bool().Draw(t, "web") {
			o.IRI = entitytest.IRI().Filter(func(s string) bool { return strings.HasPrefix(s, "http") })
		}
		d := entitytest.Documents(o).Draw(t, "document")
		text, want := write(t, format("rdf"), render.Options{}, d), triplesOf(d)
		got, err := readXML(text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s\n%s", diff, text)
		}
		for _, i := range d.Nodes() {
			if !strings.HasPrefix(d.Names()[i], "http") {
				return
			}
		}
		byKnakk++
		if diff := cmp.Diff(want, readKnakk(t, text, rdf.RDFXML)); diff != "" {
			t.Fatalf("%s\n%s", diff, text)
		}
	})
	t.Logf("knakk/rdf read %d documents", byKnakk)
	if byKnakk < 20 {
		t.Errorf("knakk/rdf read only %d documents", byKnakk)
	}
}

// TestSameBytes: a document gives the same bytes each time, alone or after others,
// with a fresh encoder or a used one.
func TestSameBytes(t *testing.T) {
	used := map[string]*render.Encoder{}
	for _, f := range render.Formats() {
		used[f.Name] = render.NewEncoder(f, render.Options{})
	}
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Text: entitytest.XMLText()}).Draw(t, "document")
		for _, f := range render.Formats() {
			fresh, err := render.NewEncoder(f, render.Options{}).Append(nil, d)
			if err != nil {
				t.Fatal(err)
			}
			again, err := used[f.Name].Append([]byte("before"), d.Clone())
			if err != nil {
				t.Fatal(err)
			}
			if string(again) != "before"+string(fresh) {
				t.Fatalf("%s:\n%s\nthen\n%s", f.Name, fresh, again)
			}
			if f.Lossless && f.Concat {
				if two := write(t, f, render.Options{}, d, d); !bytes.Equal(two, append(slices.Clone(fresh), fresh...)) {
					t.Fatalf("%s: two documents are not one after another", f.Name)
				}
			}
		}
	})
}

// TestStream: a stream of documents has one header and one footer.
func TestStream(t *testing.T) {
	docs := []*entity.Document{docOf(1), docOf(2), docOf(3)}
	var want []entity.Triple
	for _, d := range docs {
		want = append(want, triplesOf(d)...)
	}
	for name, f := range map[string]rdf.Format{"ttl": rdf.Turtle, "rdf": rdf.RDFXML, "nt": rdf.NTriples} {
		if diff := cmp.Diff(want, readKnakk(t, write(t, format(name), render.Options{}, docs...), f)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
	for _, f := range render.Formats() {
		empty := write(t, f, render.Options{})
		if f.Concat != (len(empty) == 0) {
			t.Errorf("%s without documents is %q", f.Name, empty)
		}
	}
}

func label(text string) *entity.Document {
	d, c := new(entity.Document), vocab.ClassByKey("Place")
	d.Begin(nil, false, c, true, "https://museum.example/place/1", -1)
	d.Text(c.Term("_label"), false, text, -1)
	d.End()
	return d
}

// TestRefused: what a format cannot carry is an error, nothing of the document is
// written, and the writer goes on.
func TestRefused(t *testing.T) {
	for _, tt := range []struct {
		text   string
		in     []string
		reason string
	}{
		{"a\x00b", []string{"rdf"}, "U+0000"},
		{"a\x0bb", []string{"rdf"}, "U+000B"},
		{"a\ufffeb", []string{"rdf"}, "U+FFFE"},
		{"a\uffffb", []string{"rdf"}, "U+FFFF"},
		{"a\xffb", []string{"jsonld", "nt", "nq", "ttl", "rdf"}, "not UTF-8"},
		{"a long enough text\xed\xa0\x80", []string{"jsonld", "nt", "nq", "ttl", "rdf"}, "not UTF-8"},
	} {
		for _, f := range render.Formats() {
			var b bytes.Buffer
			w := render.NewWriter(&b, f, render.Options{})
			err := w.Write(label(tt.text))
			if !slices.Contains(tt.in, f.Name) {
				if err != nil {
					t.Errorf("%s: %q: %v", f.Name, tt.text, err)
				}
				continue
			}
			var te *render.TextError
			if !errors.As(err, &te) || !strings.Contains(err.Error(), tt.reason) || te.Text != tt.text {
				t.Errorf("%s: %q: %v", f.Name, tt.text, err)
			}
			if err := w.Write(label("good")); err != nil {
				t.Error(err)
			}
			if err := w.Close(); err != nil {
				t.Error(err)
			}
			if want := write(t, f, render.Options{}, label("good")); !bytes.Equal(b.Bytes(), want) {
				t.Errorf("%s: %q wrote\n%s", f.Name, tt.text, b.Bytes())
			}
		}
	}
	bad := new(entity.Document)
	bad.Begin(nil, false, vocab.ClassByKey("Place"), true, "https://museum.example/a b", -1)
	bad.End()
	for _, f := range render.Formats() {
		got, err := render.NewEncoder(f, render.Options{}).Append([]byte("before"), bad)
		if err == nil || string(got) != "before" {
			t.Errorf("%s: %q, %v", f.Name, got, err)
		}
	}
}

// TestEscapes fixes the escapes of every syntax.
func TestEscapes(t *testing.T) {
	for _, tt := range []struct{ text, nt, json, xml string }{
		{"plain, long enough for words", "plain, long enough for words", "plain, long enough for words", "plain, long enough for words"},
		{"\"\\'", `\"\\'`, `\"\\'`, `"\'`},
		{"\t\b\n\f\r", `\t\b\n\f\r`, `\t\b\n\f\r`, ""},
		{"\t\n\r", `\t\n\r`, `\t\n\r`, "\t\n&#xD;"},
		{"\x00\x01\x0b\x1f", `\u0000\u0001\u000B\u001F`, `\u0000\u0001\u000b\u001f`, ""},
		{"\x7f\u0080\u0085", "\\u007F\u0080\u0085", "\x7f\u0080\u0085", "\x7f\u0080\u0085"},
		{"é\u2028\ufeff\ufffd\U0001F4D0", "é\u2028\ufeff\ufffd\U0001F4D0", "é\u2028\ufeff\ufffd\U0001F4D0", "é\u2028\ufeff\ufffd\U0001F4D0"},
		{"\ufffe\uffff", `\uFFFE\uFFFF`, "\ufffe\uffff", ""},
		{"<a href='x'>R&D]]></a>", "<a href='x'>R&D]]></a>", "<a href='x'>R&D]]></a>", "&lt;a href='x'&gt;R&amp;D]]&gt;&lt;/a&gt;"},
	} {
		for name, want := range map[string]string{"nt": tt.nt, "nq": tt.nt, "ttl": tt.nt, "jsonld": tt.json, "rdf": tt.xml} {
			if want == "" {
				continue
			}
			left, right := `"`, `"`
			if name == "rdf" {
				left, right = "<rdfs:label>", "</rdfs:label>"
			}
			if got := write(t, format(name), render.Options{}, label(tt.text)); !bytes.Contains(got, []byte(left+want+right)) {
				t.Errorf("%s: %q is not written %s:\n%s", name, tt.text, want, got)
			}
		}
	}
}

func TestFormats(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range render.Formats() {
		if render.FormatByName(f.Name) != f || render.FormatBySuffix("a/b"+f.Suffix) != f {
			t.Errorf("%s is not found by its name and suffix", f.Name)
		}
		for _, m := range f.MediaTypes {
			if seen[m] {
				t.Errorf("%s: the media type %s belongs to another format", f.Name, m)
			}
			seen[m] = true
		}
	}
	if render.FormatByName("none") != nil || render.FormatBySuffix("a.none") != nil {
		t.Error("an unknown format is found")
	}
}

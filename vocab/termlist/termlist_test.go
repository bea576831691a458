package termlist

import (
	"errors"
	"fmt"
	"io/fs"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"ropewalk/vocab/near"
)

func load(file, text string) (*List, error) {
	return Load("list", fstest.MapFS{file: {Data: []byte(text)}}, file)
}

func mustLoad(t testing.TB, file, text string) *List {
	t.Helper()
	l, err := load(file, text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

const materials = `word,iri,label,type,broader,note,source
brass,aat:300010946,,Material,aat:300010942,,published label table
Messing,aat:300010946,,Material,,,
mahogany,http://vocab.getty.edu/aat/300012221,mahogany,Material,,"dark, heavy",From memory
lignum vitae,,,Material,,no authority found,
Zinn,https://example.org/tin,tin,Material,,,
`

func TestCSV(t *testing.T) {
	l := mustLoad(t, "materials.csv", "\ufeff"+materials)
	brass := Term{IRI: "http://vocab.getty.edu/aat/300010946", Label: "brass", Type: "Material",
		Broader: "http://vocab.getty.edu/aat/300010942", Source: "published label table", Line: 2}
	if got, ok := l.Find("brass"); !ok || *got != brass {
		t.Errorf("brass: %+v", got)
	}
	if got, ok := l.Find("MESSING "); !ok || got.IRI != brass.IRI || got.Label != "brass" || got.Line != 3 {
		t.Errorf("Messing: %+v", got)
	}
	if got, ok := l.Find("mahogany"); !ok || !got.FromMemory || got.Note != "dark, heavy" {
		t.Errorf("mahogany: %+v", got)
	}
	if got, ok := l.Find("lignum vitae"); !ok || got.IRI != "" || got.Label != "lignum vitae" {
		t.Errorf("lignum vitae: %+v", got)
	}
	if _, ok := l.Find("pewter"); ok {
		t.Error("pewter was found")
	}
	if got := l.Words(); !slices.Equal(got, []string{"brass", "Messing", "mahogany", "lignum vitae", "Zinn"}) {
		t.Errorf("words: %q", got)
	}
	if l.Name() != "list" || l.Len() != 5 || len(l.Terms()) != 5 {
		t.Errorf("%s with %d terms", l.Name(), l.Len())
	}
}

func TestCSVForms(t *testing.T) {
	for name, text := range map[string]string{
		"semicolons.csv": "Term;ID\noak;aat:300012264\n",
		"tabs.tsv":       "term\tid\noak\taat:300012264\n",
		"tabs.csv":       "term\tid\noak\taat:300012264\n",
		"crlf.csv":       "id,term\r\naat:300012264,oak\r\n\r\n,\r\n",
		"short.csv":      "word,iri,label,note\noak,aat:300012264\n",
		"no-iri.csv":     "word\noak\n",
	} {
		l := mustLoad(t, name, text)
		if got, ok := l.Find("Oak"); !ok || got.Label != "oak" {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestFind(t *testing.T) {
	l := mustLoad(t, "w.csv", "word,iri\nå ö,https://example.org/1\nRot,https://example.org/2\nrot,https://example.org/3\n"+
		"Straße,https://example.org/4\nin. ,https://example.org/5\nwhat?,https://example.org/6\n")
	for word, want := range map[string]string{
		"å ö":             "1",
		"A\u030a O\u0308": "1", // decomposed
		"\u00a0Å\t Ö.":    "1",
		"Rot":             "2",
		"rot":             "3",
		"ROT":             "", // could be either
		"rot.":            "",
		"STRASSE":         "4",
		"in":              "5",
		"IN.":             "5",
		"what":            "", // a question mark says something
		"What?":           "6",
		"":                "",
		" . ":             "",
	} {
		got, ok := l.Find(word)
		iri := ""
		if ok {
			iri = strings.TrimPrefix(got.IRI, "https://example.org/")
		}
		if iri != want {
			t.Errorf("%q: %q, want %q", word, iri, want)
		}
	}
}

func TestFindDoesNotAllocate(t *testing.T) {
	l := mustLoad(t, "materials.csv", materials+"Mässing,\n")
	if _, ok := l.Find("MÄSSING"); !ok {
		t.Error("Mässing is not found")
	}
	for _, word := range []string{"brass", "BRASS", " Lignum  Vitae;", "pewter", "MÄSSING", "mässing."} {
		if n := testing.AllocsPerRun(100, func() { l.Find(word) }); n != 0 {
			t.Errorf("%q: %v allocations", word, n)
		}
	}
}

func TestFoldLatin(t *testing.T) {
	words := []string{"", "a", " a ", "A  b\tC", "a.", "a. ;", ". a", ":", "a?", "\v x \f.", "a\u00a0\u0085 b", strings.Repeat("x ", 45)}
	slow := 0
	for r := rune(0); r < 0x260; r++ {
		words = append(words, string(r), "a"+string(r)+".")
	}
	for _, s := range words {
		got, ok := foldLatin(make([]byte, 0, 96), s)
		if !ok {
			slow++
			continue
		}
		if string(got) != fold(s) {
			t.Errorf("%q: %q and %q", s, got, fold(s))
		}
	}
	if slow != 2*(6+16) { // six letters, and those above U+024F
		t.Errorf("%d words were not folded", slow)
	}
	for _, s := range []string{strings.Repeat("x", 97), "o\u0308"} {
		if _, ok := foldLatin(make([]byte, 0, 96), s); ok {
			t.Errorf("%q was folded", s)
		}
	}
}

func TestNearest(t *testing.T) {
	l := mustLoad(t, "w.csv", "word\nbrass\nbronze\nBrasil wood\nglass\ngrass\ntin\niron\nmahogany\nMahagoni\n")
	for _, tt := range []struct {
		word string
		n    int
		want []string
	}{
		{"brsas", 1, []string{"brass"}}, // two letters swapped
		{"gras", 3, []string{"grass", "brass", "glass"}},
		{"BRASS.", 1, []string{"brass"}},
		{"mahogony", 2, []string{"mahogany", "Mahagoni"}},
		{"tim", 3, []string{"tin"}},
		{"xylophone", 3, nil},
		{"", 3, nil},
		{"brass", 0, nil},
	} {
		got := l.Nearest(tt.word, tt.n)
		if !slices.Equal(got, tt.want) {
			t.Errorf("%q: %q, want %q", tt.word, got, tt.want)
		}
	}
}

func TestDistance(t *testing.T) {
	var rows near.Rows
	for _, tt := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"a", "", 1}, {"ab", "ba", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}, {"åäö", "äåö", 1}, {"abcdef", "badcfe", 3}} {
		if got := rows.Between([]rune(tt.a), []rune(tt.b), 10); got != tt.want {
			t.Errorf("%s to %s: %d, want %d", tt.a, tt.b, got, tt.want)
		}
		if got := rows.Between([]rune(tt.b), []rune(tt.a), tt.want); got != tt.want {
			t.Errorf("%s to %s within %d: %d", tt.b, tt.a, tt.want, got)
		}
		if tt.want > 0 {
			if got := rows.Between([]rune(tt.a), []rune(tt.b), tt.want-1); got < tt.want {
				t.Errorf("%s to %s within %d: %d", tt.a, tt.b, tt.want-1, got)
			}
		}
	}
}

const skosTurtle = `@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix crm: <http://www.cidoc-crm.org/cidoc-crm/> .
@prefix : <https://example.org/m/> .
# metals
:brass a skos:Concept, crm:E57_Material ;
  skos:prefLabel "Messing"@de, "brass"@en ;
  skos:altLabel "yellow metal"@en, "tin" ;
  skos:hiddenLabel "bras" ;
  skos:notation "M-1" ;
  skos:definition "an alloy" ;
  skos:broader :alloy .
:tin skos:prefLabel "tin"@en, "étain"@fr-CA .
:alloy skos:prefLabel "Legierung"@de ; skos:altLabel "mixture" .
:mix skos:altLabel "mixture", "blend" .
:scheme a skos:ConceptScheme .
`

const skosNTriples = `<https://example.org/m/brass> <http://www.w3.org/2004/02/skos/core#prefLabel> "brass"@en .
<https://example.org/m/brass> <http://www.w3.org/2004/02/skos/core#altLabel> "yellow metal" .
`

const skosXML = `<?xml version="1.0"?>
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" xmlns:skos="http://www.w3.org/2004/02/skos/core#">
  <skos:Concept rdf:about="https://example.org/m/brass">
    <skos:prefLabel xml:lang="en">brass</skos:prefLabel>
    <skos:altLabel>yellow metal</skos:altLabel>
  </skos:Concept>
</rdf:RDF>
`

func TestSKOS(t *testing.T) {
	for file, text := range map[string]string{"m.ttl": skosTurtle, "m.nt": skosNTriples, "m.rdf": skosXML, "m.xml": skosXML} {
		l := mustLoad(t, file, text)
		for _, word := range []string{"brass", "Yellow metal"} {
			if got, ok := l.Find(word); !ok || got.IRI != "https://example.org/m/brass" || got.Label != "brass" {
				t.Errorf("%s, %s: %+v", file, word, got)
			}
		}
	}
	l := mustLoad(t, "m.ttl", skosTurtle)
	want := Term{IRI: "https://example.org/m/brass", Label: "brass", Type: "Material", Broader: "https://example.org/m/alloy", Note: "an alloy"}
	for _, word := range []string{"messing", "bras", "m-1"} {
		if got, ok := l.Find(word); !ok || *got != want {
			t.Errorf("%s: %+v", word, got)
		}
	}
	if got, ok := l.Find("tin"); !ok || got.IRI != "https://example.org/m/tin" {
		t.Errorf("a preferred label gives way to an alternative one: %+v", got)
	}
	if got, ok := l.Find("ÉTAIN"); !ok || got.Label != "tin" {
		t.Errorf("étain: %+v", got)
	}
	if got, ok := l.Find("mixture"); ok || !slices.Equal(l.Ambiguous(), []string{"mixture"}) {
		t.Errorf("mixture: %+v; ambiguous: %q", got, l.Ambiguous())
	}
	if got, ok := l.Find("blend"); !ok || got.Label != "mixture" {
		t.Errorf("blend: %+v", got)
	}
	if got, _ := l.Find("Legierung"); got.Label != "Legierung" {
		t.Errorf("Legierung: %+v", got)
	}
}

func TestFaults(t *testing.T) {
	for _, tt := range []struct{ file, text, want string }{
		{"a.csv", "", "a.csv: the file is empty"},
		{"a.csv", "word,iri\n", "a.csv: the list has no words"},
		{"a.csv", "word,uri\nx,y\n", `a.csv:1: unknown column "uri"; a term list has word, iri, label, type, broader, note, source`},
		{"a.csv", "iri,label\naat:300010946,brass\n", `a.csv:1: there is no column "word"`},
		{"a.csv", "word,term\nx,y\n", `a.csv:1: column "term" stands twice`},
		{"a.csv", "word,iri\nx,aat:1\n,aat:2\n", "a.csv:3: the word is missing"},
		{"a.csv", "word,iri\nx,aat:30x\n", `a.csv:2: iri: "aat:30x" is not an IRI: "aat" is neither a known prefix with a possible number nor the scheme of a web address`},
		{"a.csv", "word,iri\nx,300010946\n", `a.csv:2: iri: "300010946" is not an IRI: it has no scheme, such as http:`},
		{"a.csv", "word,iri\nx,http:///y\n", `a.csv:2: iri: "http:///y" is not an IRI: it names no host`},
		{"a.csv", "word,iri\nx,https://example.org/a b\n", `a.csv:2: iri: "https://example.org/a b" is not an IRI: it has a ' ' in it`},
		{"a.csv", "word,iri,broader\nx,aat:1,y\n", `a.csv:2: broader: "y" is not an IRI: it has no scheme, such as http:`},
		{"a.csv", "word,iri\nx,aat:1\n\nx,aat:2\n", `a.csv:4: the word "x" is already on line 2, as <http://vocab.getty.edu/aat/1>`},
		{"a.csv", "word,iri\nx,\nx,aat:2\n", `a.csv:3: the word "x" is already on line 2, as a word without an authority`},
		{"a.csv", "word,iri,label\nx,aat:1,one\nx,aat:1,two\n", `a.csv:3: the word "x" is already on line 2, with the label "one"`},
		{"a.csv", "word,type\nx,Materiel\n", `a.csv:2: type: the profile has no class "Materiel"; did you mean "Material"?`},
		{"a.csv", "word,type\nx,Nonsense\n", `a.csv:2: type: the profile has no class "Nonsense"`},
		{"a.csv", "word,iri\nx,aat:1,extra\n", `a.csv:2: 3 cells under 2 columns; put quotes around a cell that has a ',' in it`},
		{"a.csv", "word,iri\n\"x,aat:1\n", `a.csv:2: column 10: extraneous or missing " in quoted-field`},
		{"a.csv", "word\nb\xe4r\n", "a.csv:2: not UTF-8; save the file as UTF-8"},
		{"a.csv", "word,iri\n,aat:1\n,aat:2\n", "a.csv:2: the word is missing (and one more)"},
		{"a.csv", "word,iri\n,aat:1\n,aat:2\n,aat:3\n", "a.csv:2: the word is missing (and 2 more)"},
		{"a.txt", "word\nx\n", `a.txt: a term list ends in .csv, .tsv, .ttl, .nt, .rdf, .xml or .owl, not ".txt"`},
		{"a.ttl", "", "a.ttl: no subject has a skos:prefLabel, altLabel, hiddenLabel or notation"},
		{"a.ttl", "@prefix skos: <http://www.w3.org/2004/02/skos/core#> .\n\n<https://example.org/a> skos:prefLabel \"x\"@en !\n", "a.ttl:3: RDF: "},
		{"a.ttl", "<a> <http://www.w3.org/2004/02/skos/core#prefLabel> \"x\" .", `a.ttl: the concept "x": "a" is not an IRI: it has no scheme, such as http:`},
		{"a.ttl", "[] <http://www.w3.org/2004/02/skos/core#prefLabel> \"x\" .", `a.ttl: the concept "x" is a blank node; a term needs an IRI`},
		{"a.nt", "<https://example.org/a> <http://www.w3.org/2004/02/skos/core#prefLabel> \"x\"@en .\n<https://example.org/b> <http://www.w3.org/2004/02/skos/core#prefLabel> \"x\"@en .\n",
			`a.nt: the word "x" is the preferred label of <https://example.org/a> and of <https://example.org/b>`},
		{"a.nt", "<https://example.org/a> <https://example.org/p> \n", "a.nt:1: RDF: "},
		{"a.rdf", "<rdf:RDF xmlns:rdf='http://www.w3.org/1999/02/22-rdf-syntax-ns#'>\n<a>", "a.rdf:2: XML: "},
	} {
		_, err := load(tt.file, tt.text)
		var errs Errors
		if !errors.As(err, &errs) || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%q:\n%v\nwant\n%s", tt.text, err, tt.want)
		}
		var one *Error
		if err != nil && (!errors.As(err, &one) || one.File != tt.file) {
			t.Errorf("%q: no single fault in %#v", tt.text, err)
		}
	}
	if _, err := load("b.csv", ""); err == nil {
		t.Error("no error")
	}
	if _, err := Load("list", fstest.MapFS{}, "a.csv"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
	var many strings.Builder
	many.WriteString("word,iri\n")
	for i := range 1000 {
		fmt.Fprintf(&many, "w%d,x\n", i)
	}
	var errs Errors
	if _, err := load("a.csv", many.String()); !errors.As(err, &errs) || len(errs) != maxErrors {
		t.Errorf("%d faults were kept", len(errs))
	}
}

// TestNoGoroutineLeft loads faulty files over and over: the decoder's goroutine
// must not stay behind.
func TestNoGoroutineLeft(t *testing.T) {
	before := runtime.NumGoroutine()
	bad := "<https://example.org/a> <https://example.org/p> nonsense .\n" + strings.Repeat(skosNTriples, 2000)
	for range 50 {
		for _, file := range []string{"a.ttl", "a.nt"} {
			if _, err := load(file, bad); err == nil {
				t.Fatal("no error")
			}
		}
	}
	for deadline := time.Now().Add(2 * time.Second); runtime.NumGoroutine() > before; {
		if time.Now().After(deadline) {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), before)
		}
		time.Sleep(time.Millisecond)
	}
}

// TestShared has several goroutines use one list; run it with -race.
func TestShared(t *testing.T) {
	l := mustLoad(t, "materials.csv", materials)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 200 {
				l.Find("Brass")
				l.Find("Mässing")
				l.Nearest("bras", 3)
				l.Words()
			}
		})
	}
	wg.Wait()
}

// FuzzLoad: a file either loads, and then every word is found unless it is
// ambiguous, or gives faults that name the file.
func FuzzLoad(f *testing.F) {
	exts := []string{".csv", ".tsv", ".ttl", ".nt", ".rdf"}
	f.Add(uint8(0), materials)
	f.Add(uint8(1), "word\tid\nx\taat:1")
	f.Add(uint8(2), skosTurtle)
	f.Add(uint8(3), skosNTriples)
	f.Add(uint8(4), skosXML)
	f.Add(uint8(3), "..0.0`.") // two faults, behind which the decoder waited for ever
	f.Fuzz(func(t *testing.T, n uint8, text string) {
		ext := exts[int(n)%len(exts)]
		l, err := load("a"+ext, text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "a"+ext) {
				t.Fatal(err)
			}
			return
		}
		for _, w := range l.Words() {
			if got, ok := l.Find(w); !ok || got.Label == "" {
				t.Fatalf("%q is not found", w)
			}
		}
	})
}

func BenchmarkFind(b *testing.B) {
	l := mustLoad(b, "materials.csv", materials)
	for _, word := range []string{"brass", "Lignum Vitae.", "pewter", "Mässing"} {
		b.Run(word, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				l.Find(word)
			}
		})
	}
}

func BenchmarkNearest(b *testing.B) {
	var text strings.Builder
	text.WriteString("word\n")
	for i := range 20000 {
		fmt.Fprintf(&text, "word %x %d\n", i*2654435761, i)
	}
	l := mustLoad(b, "w.csv", text.String())
	b.ResetTimer()
	for b.Loop() {
		l.Nearest("word 12f3ab 1234", 3)
	}
}

package termlist

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/knakk/rdf"
)

// suite returns a folder of the published W3C test suites; see the package vocab
// for the rule about missing ones.
func suite(t testing.TB, name string) string {
	t.Helper()
	shared := os.Getenv("ROPEWALK_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "..", "shared")
	}
	dir := filepath.Join(shared, "standards", "w3c-rdf", name)
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("a published test suite is missing: %v", err)
		}
		t.Skipf("SKIPPED, a published test suite is missing: %v", err)
	}
	return dir
}

// read gives the statements of a text as sorted lines, blank nodes all alike.
func read(text, base string, format rdf.Format) ([]string, error) {
	var lines []string
	err := triples([]byte(text), format, base, func(tr rdf.Triple) {
		lines = append(lines, fmt.Sprint(show(tr.Subj), " ", show(tr.Pred), " ", show(tr.Obj)))
	})
	slices.Sort(lines)
	return lines, err
}

func show(term rdf.Term) string {
	switch x := term.(type) {
	case rdf.Literal:
		return fmt.Sprintf("%q^^<%s>@%s", x.String(), x.DataType, strings.ToLower(x.Lang()))
	case rdf.Blank:
		return "_:"
	}
	return "<" + term.String() + ">"
}

// refused are tests of the suites that are refused although they are RDF: what
// they hold has no place in a term list.
var refused = map[string]string{
	"LITERAL1_all_controls.ttl":          "a NUL character",
	"LITERAL1_ascii_boundaries.ttl":      "a NUL character",
	"LITERAL2_ascii_boundaries.ttl":      "a NUL character",
	"LITERAL_LONG1_ascii_boundaries.ttl": "a NUL character",
	"LITERAL_LONG2_ascii_boundaries.ttl": "a NUL character",
	"test-38.ttl":                        "a bad escape", // a surrogate pair as two \u escapes
}

// wrong are tests of the suites that the decoder gets wrong, with what it trips
// over; none of it occurs in a SKOS file. One that comes out right must go.
var wrong = map[string]string{
	"rdfms-reification-required/test002.rdf":   "rdf:ID on a property element",
	"rdfms-seq-representation/test002.rdf":     "rdf:ID on a property element",
	"xml-canon/test002.rdf":                    "rdf:ID on a property element",
	"rdfms-xml-literal-namespaces/test001.rdf": "an XML literal with namespaces",
	"rdfms-xml-literal-namespaces/test002.rdf": "an XML literal with namespaces",
	"xmlbase/test014.rdf":                      "an empty xml:base",
}

// compare runs the evaluation tests in a folder, that is, the files beside which
// stands an N-Triples file, and reads all other files, which must come back. It
// returns the number of files compared.
func compare(t *testing.T, dir, ext string, format rdf.Format) int {
	t.Helper()
	compared := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ext {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		got, gotErr := read(string(text), "https://w3c.github.io/rdf-tests/rdf/rdf11/"+filepath.Base(dir)+"/"+filepath.ToSlash(name), format)
		result, err := os.ReadFile(strings.TrimSuffix(path, ext) + ".nt")
		if err != nil || ext == ".nt" {
			return nil
		}
		if wrong[name] != "" {
			if want, err := read(string(result), "", rdf.NTriples); err == nil && gotErr == nil && slices.Equal(got, want) {
				t.Errorf("%s comes out right now", name)
			}
			return nil
		}
		if want := refused[name]; want != "" || gotErr != nil {
			if gotErr == nil || want == "" || !strings.Contains(gotErr.Error(), want) {
				t.Errorf("%s: %v", name, gotErr)
			}
			return nil
		}
		want, err := read(string(result), "", rdf.NTriples)
		if err != nil {
			t.Errorf("%s: the result: %v", name, err)
			return nil
		}
		compared++
		if !slices.Equal(got, want) {
			t.Errorf("%s:\n%s\nwant\n%s", name, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return compared
}

func TestTurtleSuite(t *testing.T) {
	if n := compare(t, suite(t, "rdf-turtle"), ".ttl", rdf.Turtle); n < 100 {
		t.Errorf("only %d files were compared", n)
	}
	compare(t, suite(t, "rdf-n-triples"), ".nt", rdf.NTriples)
}

func TestXMLSuite(t *testing.T) {
	if n := compare(t, suite(t, "rdf-xml"), ".rdf", rdf.RDFXML); n < 100 {
		t.Errorf("only %d files were compared", n)
	}
}

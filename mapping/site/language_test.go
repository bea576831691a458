package site_test

import (
	"context"
	"os"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
)

// languageBlock returns the first block of YAML behind a heading of LANGUAGE.md.
func languageBlock(t *testing.T, heading string, nth int) string {
	t.Helper()
	data, err := os.ReadFile("../LANGUAGE.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(data), "\n"+heading+"\n")
	if !ok {
		t.Fatalf("LANGUAGE.md has no heading %q", heading)
	}
	blocks := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllStringSubmatch(rest, nth+1)
	if len(blocks) <= nth {
		t.Fatalf("no block of YAML behind %q", heading)
	}
	return blocks[nth][1]
}

// made runs a site and returns the triples of its documents in short form, by
// document. Every document must be valid.
func made(t *testing.T, files fstest.MapFS) map[string]string {
	t.Helper()
	s, diags := site.Load(files)
	if diags.Problems() > 0 {
		t.Fatal(diags)
	}
	out := map[string]string{}
	checker := validate.NewChecker()
	run := s.Program.NewRun()
	run.Problem = func(p mapping.RecordProblem) { t.Errorf("%s: %s (%q)", p.Rule, p.Message, p.Value) }
	for _, sp := range s.Program.Sources {
		err := sp.Source.Read(context.Background(), sp.Layout, source.Options{}, func(b *source.Batch) error {
			defer b.Release()
			for i := range b.Rows {
				err := run.Record(sp, &b.Rows[i], func(d *entity.Document, _ mapping.Meta) error {
					for _, p := range append(checker.Check(d), validate.Domain(d)...) {
						t.Errorf("%s: %s %s: %s", d.IRI(), p.Rule, p.Path, p.Message)
					}
					var text strings.Builder
					for _, tr := range d.Triples() {
						text.WriteString(short(s.Base, tr.Subject.Value) + " " + short(s.Base, tr.Predicate.Value) + " " + short(s.Base, tr.Object.Value) + "\n")
					}
					out[strings.Clone(short(s.Base, d.IRI()))] = text.String() // the IRI is gone with the next document
					return nil
				})
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func short(base, iri string) string {
	if rest, ok := strings.CutPrefix(iri, base); ok {
		return rest
	}
	if strings.Contains(iri, "cidoc-crm") || strings.Contains(iri, "linked.art") {
		return iri[strings.LastIndexAny(iri, "/#")+1:]
	}
	return iri
}

// TestMakersInOneCell runs the example of the language's page: what the words
// before a name mean is said by the profile's own patterns (linked.art/model,
// pages on objects' production and on assertions).
func TestMakersInOneCell(t *testing.T) {
	conventions := languageBlock(t, "## Readers", 0)
	docs := made(t, fstest.MapFS{
		"ropewalk.yaml":     {Data: []byte("title: T\nbase: https://t.example/\nsources:\n  objects: { files: o.csv }\n" + conventions)},
		"mapping/make.yaml": {Data: []byte(languageBlock(t, "### Makers in one cell", 0))},
		"o.csv": {Data: []byte(`no,title,maker
1,A,Abel Fenwright
2,B,workshop of Abel Fenwright
3,C,after Abel Fenwright
4,D,attributed to Abel Fenwright
5,E,formerly attributed to Abel Fenwright
6,F,Fenwright & Sons
7,G,possibly by Abel Fenwright
`)},
	})
	const person, makes, took = "person/abel-fenwright", "P108i_was_produced_by", "P14_carried_out_by"
	for doc, want := range map[string][]string{
		"object/1":                         {took + " " + person},
		"object/2":                         {took + " group/workshop-of-abel-fenwright"},
		"object/3":                         {"P15_was_influenced_by " + person},
		"object/4":                         {"P140i_was_attributed_by ", "P141_assigned ", took + " " + person},
		"object/5":                         {"P140i_was_attributed_by ", "P141_assigned ", took + " " + person},
		"object/6":                         {took + " group/fenwright-sons"},
		"object/7":                         {"P140i_was_attributed_by ", "P141_assigned ", took + " " + person},
		"group/workshop-of-abel-fenwright": {"P95i_was_formed_by ", "P15_was_influenced_by " + person},
		"group/fenwright-sons":             {"E74_Group"},
		person:                             {"E21_Person"},
	} {
		text, ok := docs[doc]
		if !ok {
			t.Errorf("no document %s", doc)
			continue
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s does not say %q:\n%s", doc, w, text)
			}
		}
	}
	// What is doubted, given up or only followed is not asserted of the object's making.
	for _, doc := range []string{"object/3", "object/4", "object/5", "object/7"} {
		for line := range strings.Lines(docs[doc]) {
			if strings.HasPrefix(line, doc+"#produced_by") && strings.Contains(line, took) {
				t.Errorf("%s asserts a maker: %s", doc, line)
			}
		}
	}
	for _, doc := range []string{"object/4", "object/5", "object/7"} {
		if strings.Contains(docs[doc], makes) && strings.Contains(docs[doc], "assigned") && strings.Contains(docs[doc], doc+" "+makes) {
			t.Errorf("%s asserts a production:\n%s", doc, docs[doc])
		}
	}
}

// TestWithheldInSharedFile: a column withheld in one source can't be read through
// another source that has the same file.
func TestWithheldInSharedFile(t *testing.T) {
	files := func(withheldInB string) fstest.MapFS {
		return fstest.MapFS{
			"ropewalk.yaml": {Data: []byte("title: T\nbase: https://t.example/\nsources:\n" +
				"  a: { files: o.csv, withheld: [price] }\n  b: { files: o.csv" + withheldInB + " }\n")},
			"mapping/m.yaml": {Data: []byte("make: HumanMadeObject\nfrom: a\nid: object/{no}\nlabel: \"{no}\"\n")},
			"o.csv":          {Data: []byte("no,price\n1,900\n")},
		}
	}
	_, diags := site.Load(files(""))
	if diags.Problems() != 1 || !strings.Contains(diags.Error(), "leaves it open") {
		t.Errorf("a withheld column is open in another source: %v", diags)
	}
	if _, diags := site.Load(files(", withheld: [price]")); diags.Problems() > 0 {
		t.Errorf("withheld in both: %v", diags)
	}
}

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

// TestEvidence runs the example of the language's page: evidence becomes an attribute
// assignment with the keys that the profile has for it (linked.art/model, page on
// assertions), and what is doubted stands in it alone.
func TestEvidence(t *testing.T) {
	docs := made(t, fstest.MapFS{
		"ropewalk.yaml": {Data: []byte("title: T\nbase: https://t.example/\nsources:\n" +
			"  objects: { files: o.csv }\n  papers: { files: p.csv }\n")},
		"mapping/make.yaml": {Data: []byte(languageBlock(t, "## Evidence", 0))},
		"p.csv":             {Data: []byte("no,title\nP1,Order book\n")},
		"o.csv": {Data: []byte(`no,title,made,dated_by,maker,paper,paper_title,folio,book,page,scholar,said_in,grounds,sure
1,A,1874,,Ann Fell,,,,,,,,,
2,B,1874,Stamp on the case,Ann Fell,P1,Order book,7v,,,Bo Hale,1926,the hand,certain
3,C,1874,,Ann Fell,,,,Gauges,12,Bo Hale,,,probable
4,D,1874,,Ann Fell,,,,,,,,,possible
5,E,1874,,Ann Fell,,,,,,Bo Hale,1926,,disputed
6,F,1874,,Ann Fell,P1,Order book,,,,,,,superseded
7,G,1874,,Ann Fell,,,,,,,,,by tradition
`)},
	})
	const took, claimed = "P14_carried_out_by person/ann-fell", "P140i_was_attributed_by "
	for doc, want := range map[string][]string{
		"object/1":                   {"object/1#produced_by " + took},
		"object/2":                   {"object/2#produced_by " + took, claimed, "P16_used_specific_object object/P1", "Order book, fol. 7v", "P14_carried_out_by person/bo-hale", "the hand", "concept/certainty/certain", "Stamp on the case"},
		"object/3":                   {claimed, "Gauges, p. 12", "concept/certainty/probable"},
		"object/4":                   {claimed, "concept/certainty/possible", "http://vocab.getty.edu/aat/300404272"},
		"object/5":                   {claimed, "concept/certainty/disputed", "P4_has_time-span"},
		"object/6":                   {claimed, "concept/certainty/superseded", "P16_used_specific_object object/P1"},
		"object/7":                   {claimed, "concept/certainty/possible", "Certainty as recorded: by tradition"},
		"concept/certainty/disputed": {"E55_Type", "disputed"},
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
		if sure := doc == "object/1" || doc == "object/2"; strings.Contains(text, "#produced_by "+took) != sure {
			t.Errorf("%s asserts the maker, or does not:\n%s", doc, text)
		}
	}
	if strings.Contains(docs["object/1"], claimed) {
		t.Errorf("an assignment without any evidence:\n%s", docs["object/1"])
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

package mapping_test

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/line"
	"ropewalk/mapping/render"
	"ropewalk/mapping/site"
	"ropewalk/mapping/source"
	"ropewalk/mapping/validate"
)

// worked is what a small site makes: every document as JSON-LD, by its path, and all
// of them in one file of Turtle.
type worked struct {
	documents map[string]string
	turtle    string
}

// The worked cases: each file of testdata/worked holds rows and a mapping, every
// document that comes of them and the Turtle of all. Every document is valid, within
// the domains and ranges of CRM, and says in JSON-LD what it says in N-Triples; no
// record is reported. What is expected is written by -update alone, to be read. The
// same cases are held against the published schemas, ontologies and examples in the
// room conformance.
func TestWorkedCases(t *testing.T) {
	eachCase(t, "testdata/worked", 27, func(t *testing.T, f string, a *txtar.Archive) {
		fsys := fstest.MapFS{}
		want := map[string]string{}
		var inputs []txtar.File
		for _, x := range a.Files {
			if strings.HasPrefix(x.Name, "want") {
				want[x.Name] = string(x.Data)
				continue
			}
			inputs = append(inputs, x)
			fsys[x.Name] = &fstest.MapFile{Data: x.Data}
		}
		w := work(t, fsys)
		got := map[string]string{"want.ttl": w.turtle}
		for path, text := range w.documents {
			got["want/"+path+".json"] = text
		}
		if maps.Equal(want, got) {
			return
		}
		if !*update {
			t.Errorf("-want +got (-update accepts it):\n%s", cmp.Diff(want, got))
			return
		}
		a.Files = inputs
		for _, name := range slices.SortedFunc(maps.Keys(got), func(a, b string) int {
			return strings.Compare(strings.Replace(a, "want.", "want~", 1), strings.Replace(b, "want.", "want~", 1)) // Turtle last
		}) {
			a.Files = append(a.Files, txtar.File{Name: name, Data: []byte(got[name])})
		}
		if err := os.WriteFile(f, txtar.Format(a), 0o644); err != nil {
			t.Fatal(err)
		}
	})
}

// The examples of LANGUAGE.md on events and provenance are those of worked cases.
func TestWorkedInLanguage(t *testing.T) {
	page, err := os.ReadFile("LANGUAGE.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(page), "\n## Events and provenance\n")
	section, _, _ = strings.Cut(section, "\n## ")
	blocks := strings.Split(section, "```yaml\n")[1:]
	if len(blocks) != 2 {
		t.Fatalf("%d examples, 2 expected", len(blocks))
	}
	for i, name := range []string{"purchase-with-subscribers", "field-collecting"} {
		block, _, _ := strings.Cut(blocks[i], "```")
		text, err := os.ReadFile("testdata/worked/" + name + ".txtar")
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(text), block) {
			t.Errorf("the worked case %s does not have this example:\n%s", name, block)
		}
	}
}

// Nothing of an exact place is in what is published of it, and the places of one square
// are told alike.
func TestWorkedHidesThePlace(t *testing.T) {
	a, err := txtar.ParseFile("testdata/worked/field-collecting.txtar")
	if err != nil {
		t.Fatal(err)
	}
	published := 0
	for _, x := range a.Files {
		if !strings.HasPrefix(x.Name, "want") {
			continue
		}
		published++
		for _, exact := range []string{"54.37", "3.14"} {
			if bytes.Contains(x.Data, []byte(exact)) {
				t.Errorf("%s tells the exact place: %s", x.Name, exact)
			}
		}
	}
	if published < 8 {
		t.Errorf("only %d documents", published)
	}
}

// work makes all documents of a small site. References may lead to documents that
// other mappings of a real site would make.
func work(t *testing.T, fsys fstest.MapFS) worked {
	t.Helper()
	complete(fsys)
	s, ds := site.Load(fsys)
	for _, d := range ds {
		t.Errorf("%s:%d:%d %s: %s", d.File, d.Line, d.Col, d.Rule, d.Message)
	}
	if s.Program == nil {
		t.FailNow()
	}
	deep, err := validate.NewDeep()
	if err != nil {
		t.Fatal(err)
	}
	checker := validate.NewChecker()
	turtle := render.NewEncoder(render.FormatByName("ttl"), render.Options{})
	w := worked{documents: map[string]string{}}
	text := turtle.Header(nil)
	_, err = line.Run(context.Background(), s.Program, line.Options{Workers: 1, Report: &source.Report{}, Describe: true,
		NewEncoder: func() line.Encoder {
			return &checking{render.NewEncoder(render.FormatByName("jsonld"), render.Options{}), checker}
		},
		Problem: func(r mapping.RecordProblem) { t.Error(problemLine(r)) },
	}, func(it *line.Item) error {
		d := new(entity.Document)
		if err := d.Parse(it.Data, it.Keys); err != nil {
			return err
		}
		for _, p := range deep.Check(d) {
			t.Errorf("%s %s: %s", it.IRI, p.Path, p.Message)
		}
		path := strings.TrimPrefix(it.IRI, testBase)
		if w.documents[path] != "" {
			return fmt.Errorf("two documents %s", path)
		}
		w.documents[path] = laidOut(bytes.TrimSpace(it.Data), 0) + "\n"
		text, err = turtle.Append(text, d)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	w.turtle = string(turtle.Footer(text))
	return w
}

// laidOut is JSON to be read by people: what fits into a line stands in one.
func laidOut(text []byte, depth int) string {
	const width = 150
	if 2*depth+len(text) <= width && depth > 0 || text[0] != '{' && text[0] != '[' {
		return string(text)
	}
	var items []string
	begin := 1
	for i, level, quoted := 1, 0, false; i < len(text); i++ {
		switch c := text[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case level == 0 && (c == ',' || i == len(text)-1):
			items = append(items, string(text[begin:i]))
			begin = i + 1
		case c == '{' || c == '[':
			level++
		case c == '}' || c == ']':
			level--
		}
	}
	pad := strings.Repeat("  ", depth+1)
	var b strings.Builder
	b.WriteByte(text[0])
	for i, x := range items {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n" + pad)
		if text[0] == '{' {
			key, value, _ := strings.Cut(x, `":`) // no key of the profile has a quotation mark
			b.WriteString(key + `": `)
			x = value
		}
		b.WriteString(laidOut([]byte(x), depth+1))
	}
	b.WriteString("\n" + pad[2:])
	b.WriteByte(text[len(text)-1])
	return b.String()
}

package conformance

import (
	"encoding/json"
	"encoding/xml"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"ropewalk/conformance/collections"
	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render/view"
	"ropewalk/vocab"
)

// fact is something that a document says: a literal or the IRI of a reference, under a
// path of keys.
type fact struct {
	path string // such as "produced_by.part.technique"; of a reference's IRI with "@id" at its end
	kind entity.Kind
	text string
}

// facts lists what a document says, its own IRI aside.
func facts(d *entity.Document) []fact {
	var out []fact
	ev := d.Events()
	var path []string
	for i := 1; i < len(ev)-1; i++ {
		switch e := &ev[i]; e.Kind {
		case entity.Open:
			path = append(path, e.Term.Key)
			if e.Ref {
				out = append(out, fact{strings.Join(path, ".") + ".@id", e.Kind, e.Value})
			}
		case entity.Close:
			path = path[:len(path)-1]
		default:
			out = append(out, fact{strings.Join(append(path, e.Term.Key), "."), e.Kind, e.Value})
		}
	}
	return out
}

// said is all that a text in a view says, without its form: the characters and attributes
// of XML, the strings and numbers of JSON.
func said(t *testing.T, text []byte) string {
	t.Helper()
	var b strings.Builder
	if text[0] == '{' {
		dec := json.NewDecoder(strings.NewReader(string(text)))
		dec.UseNumber()
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				return b.String()
			}
			if err != nil {
				t.Fatalf("%v\n%s", err, text)
			}
			switch v := tok.(type) {
			case string:
				b.WriteString(v + "\n")
			case json.Number:
				b.WriteString(v.String() + "\n")
			}
		}
	}
	dec := xml.NewDecoder(strings.NewReader(string(text)))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return b.String()
		}
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		switch v := tok.(type) {
		case xml.StartElement:
			for _, a := range v.Attr {
				if a.Name.Space != "xmlns" && a.Name.Local != "schemaLocation" {
					b.WriteString(a.Value + "\n")
				}
			}
		case xml.CharData:
			b.WriteString(string(v) + "\n")
		}
	}
}

// carries reports whether what a view says has a fact in it. A language may be there as
// its tag, a moment as a date, a key in words; a licence with http for https.
func carries(said string, f fact) bool {
	has := func(s string) bool { return strings.Contains(said, s) }
	switch {
	case has(f.text):
		return true
	case f.kind == entity.DateTime:
		day, _, _ := strings.Cut(f.text, "T")
		year := strings.TrimSuffix(strings.TrimSuffix(day, "-01-01"), "-12-31")
		return has(year)
	case f.kind == entity.TermName:
		return has(strings.ReplaceAll(f.text, "_", " "))
	case f.kind == entity.Open:
		a, ok := vocab.AuthorityByIRI(f.text)
		return ok && a.Class == "Language" && has("\n"+a.Code+"\n")
	}
	return false
}

// loss is a row of LOSSES.md: what a view does not say.
type loss struct {
	line  int
	path  []string // keys; "*" for any
	views map[string]bool
	hit   map[string]int
}

// lossColumns are the views in the order of the table.
var lossColumns = []string{"lido", "edm", "oai_dc", "schemaorg"}

// readLosses reads the table of losses.
func readLosses(t *testing.T) []*loss {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(outside.Room(t), "..", "mapping", "render", "view", "LOSSES.md"))
	if err != nil {
		t.Fatal(err)
	}
	var list []*loss
	for n, line := range strings.Split(string(text), "\n") {
		cells := strings.Split(line, "|")
		if len(cells) != 8 || !strings.Contains(cells[1], "`") {
			continue
		}
		l := &loss{line: n + 1, path: strings.Split(strings.Trim(cells[1], " `"), "."), views: map[string]bool{}, hit: map[string]int{}}
		for i, name := range lossColumns {
			switch strings.TrimSpace(cells[2+i]) {
			case "no":
				l.views[name] = true
			case "":
			default:
				t.Errorf("LOSSES.md:%d: %q", n+1, cells[2+i])
			}
		}
		list = append(list, l)
	}
	outside.AtLeast(t, "rows of LOSSES.md", len(list), 40)
	return list
}

// matches reports whether keys match a pattern.
func matches(pattern, keys []string) bool {
	if len(pattern) == 0 {
		return len(keys) == 0
	}
	if pattern[0] != "*" {
		return len(keys) > 0 && pattern[0] == keys[0] && matches(pattern[1:], keys[1:])
	}
	for i := 0; i <= len(keys); i++ {
		if matches(pattern[1:], keys[i:]) {
			return true
		}
	}
	return false
}

// TestViewsLosses takes every object of every site and looks for all that it says in
// what each view writes of it. What is missing stands in the table of losses; in a long
// run every mark of that table is needed.
func TestViewsLosses(t *testing.T) {
	names := append(collections.Names(), "demo")
	if !outside.Long() {
		names = []string{"demo"}
	}
	losses := readLosses(t)
	total, missing := 0, 0
	for _, name := range names {
		c := viewContext(t, name)
		unknown := map[string]string{}
		err := siteDocuments(openSite(t, name), func(d siteDocument) error {
			if d.doc.Class().Key != "HumanMadeObject" {
				return nil
			}
			all := facts(d.doc)
			for _, v := range view.Views() {
				text, err := v.Document(d.doc, c)
				if err != nil {
					continue // TestViewsValid knows how often
				}
				s := said(t, text)
				for _, f := range all {
					if total++; carries(s, f) {
						continue
					}
					missing++
					keys := strings.Split(f.path, ".")
					known := false
					for _, l := range losses {
						if l.views[v.Name] && matches(l.path, keys) {
							known = true
							l.hit[v.Name]++
						}
					}
					if !known && unknown[v.Name+" "+f.path] == "" {
						unknown[v.Name+" "+f.path] = d.doc.IRI() + " " + strings.Clone(f.text)
					}
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range slices.Sorted(maps.Keys(unknown)) {
			t.Errorf("%s: LOSSES.md does not say that the view loses this: %s: %s", name, path, unknown[path])
		}
	}
	t.Logf("%d facts looked for, %d of them lost", total, missing)
	outside.AtLeast(t, "facts looked for", total, 20000)
	if !outside.Long() {
		return
	}
	for _, l := range losses {
		for _, name := range lossColumns {
			if l.views[name] && l.hit[name] == 0 {
				t.Errorf("LOSSES.md:%d: %s no longer loses %s", l.line, name, strings.Join(l.path, "."))
			}
		}
	}
}

package entity_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/vocab"
)

// rebuild copies d event by event. Edit may change an event, and drops the node or
// value where it reports false. It returns the copy and, by index of an event
// in d, its index in the copy, -1 if it is gone.
func rebuild(d *entity.Document, edit func(i int, e *entity.Event) bool) (*entity.Document, []int) {
	c, at := new(entity.Document), make([]int, d.Len())
	for i := range at {
		at[i] = -1
	}
	ev := d.Events()
	for i := 0; i < len(ev); i++ {
		e := ev[i]
		if e.Kind == entity.Close {
			c.End()
			continue
		}
		if !edit(i, &e) {
			if e.Kind == entity.Open {
				i = int(e.End)
			}
			continue
		}
		at[i] = c.Len()
		if e.Kind == entity.Open {
			c.Begin(e.Term, e.Many, e.Class, e.Ref, e.Value, e.Origin)
		} else {
			c.Value(e.Kind, e.Term, e.Many, e.Value, e.Origin)
		}
	}
	return c, at
}

// toldApart reports whether the name has a further suffix somewhere, because a
// sibling's content looks the same.
func toldApart(name string) bool {
	_, path, _ := strings.Cut(name, "#")
	for _, part := range strings.Split(path, "/") {
		if strings.Count(part, ".") > 1 || strings.Contains(part, ":") && strings.Contains(part, ".") {
			return true
		}
	}
	return false
}

var museumDocuments = entitytest.Options{Keys: true, IRI: rapid.Map(rapid.IntRange(0, 30), func(n int) string {
	return "https://museum.example/thing/" + string(rune('a'+n))
})}

func TestNamesAreDistinct(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		names, seen := d.Names(), map[string]bool{}
		sep := "#"
		if strings.Contains(d.IRI(), "#") {
			sep = "/"
		}
		for i, e := range d.Events() {
			if e.Kind != entity.Open || e.Ref {
				continue
			}
			if seen[names[i]] {
				t.Fatalf("two nodes are named %s", names[i])
			}
			seen[names[i]] = true
			if err := entity.CheckIRI(names[i]); err != nil {
				t.Fatal(err)
			}
			if !strings.HasPrefix(names[i], d.IRI()+sep) {
				t.Fatalf("%s is not below the document", names[i])
			}
		}
	})
}

// TestNamesOfSiblings: taking a node away leaves the names of all nodes alone but
// for those whose content it was.
func TestNamesOfSiblings(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(museumDocuments).Draw(t, "document")
		ev := d.Events()
		var nodes []int
		for i, e := range ev {
			if i > 0 && e.Kind == entity.Open && !e.Ref && e.Many {
				nodes = append(nodes, i)
			}
		}
		if len(nodes) == 0 {
			return
		}
		gone := rapid.SampledFrom(nodes).Draw(t, "gone")
		c, at := rebuild(d, func(i int, _ *entity.Event) bool { return i != gone })
		if c.Merged() > 0 {
			return // a node has become the same as its sibling
		}
		changed := func(i int) bool { // may its name change?
			for k := 1; k <= i; k++ {
				n := ev[k]
				if n.Kind == entity.Open && !n.Ref && n.Many && n.Value == "" && int(n.End) >= i && k < gone && int(n.End) > gone {
					return true
				}
			}
			return false
		}
		old, now := d.Names(), c.Names()
		for i, e := range ev {
			if e.Kind != entity.Open || at[i] < 0 || changed(i) || toldApart(old[i]) || toldApart(now[at[i]]) {
				continue
			}
			compared++
			if old[i] != now[at[i]] {
				t.Fatalf("without %s the name %s is %s", old[gone], old[i], now[at[i]])
			}
		}
	})
	t.Logf("%d names compared", compared)
	if compared < 100 {
		t.Errorf("only %d names compared", compared)
	}
}

// TestNamesAndLabels: labels of references have no part in names, nor has the
// content of a node with an author's key.
func TestNamesAndLabels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(museumDocuments).Draw(t, "document")
		ev := d.Events()
		refs := make([]bool, len(ev))
		for i, e := range ev {
			if i > 0 && e.Kind == entity.Open && e.Ref {
				for k := i; k < int(e.End); k++ {
					refs[k] = refs[k] || ev[k].Kind != entity.Open && ev[k].Term.Key == "_label"
				}
			}
		}
		c, at := rebuild(d, func(i int, e *entity.Event) bool {
			if refs[i] {
				e.Value += "!"
			}
			return true
		})
		if c.Merged() > 0 {
			return
		}
		old, now := d.Names(), c.Names()
		for i, e := range ev {
			if e.Kind == entity.Open && !toldApart(old[i]) && old[i] != now[at[i]] {
				// A label within an embedded node within a reference is content.
				if strings.Contains(old[i], ":") && strings.Contains(old[i][len("https:"):], ":") {
					continue
				}
				t.Fatalf("%s became %s", old[i], now[at[i]])
			}
		}
	})
}

func build(root string, with func(d *entity.Document, c *vocab.Class)) *entity.Document {
	d, c := new(entity.Document), vocab.ClassByKey("HumanMadeObject")
	d.Begin(nil, false, c, true, root, -1)
	with(d, c)
	d.End()
	return d
}

func name(d *entity.Document, c *vocab.Class, key, content string) {
	n := vocab.ClassByKey("Name")
	d.Begin(c.Term("identified_by"), true, n, false, key, -1)
	d.Text(n.Term("content"), false, content, -1)
	d.End()
}

func embeddedNames(d *entity.Document) (all []string) {
	for i, e := range d.Events() {
		if i > 0 && e.Kind == entity.Open && !e.Ref {
			all = append(all, d.Names()[i])
		}
	}
	return all
}

// TestNamesByExample fixes the names themselves: they are published addresses.
func TestNamesByExample(t *testing.T) {
	production, span := vocab.ClassByKey("Production"), vocab.ClassByKey("TimeSpan")
	d := build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) {
		name(d, c, "", "Sextant")
		name(d, c, "local", "Sextanten")
		name(d, c, "local", "Sextant, two")
		d.Begin(c.Term("produced_by"), false, production, false, "", -1)
		d.Begin(production.Term("timespan"), false, span, false, "", -1)
		name(d, span, "", "1850s")
		d.End()
		d.End()
	})
	want := []string{
		"https://museum.example/object/1#identified_by.0xf8gxwkr17m",
		"https://museum.example/object/1#identified_by.local",
		"https://museum.example/object/1#identified_by.local.4jptt7xht9g4",
		"https://museum.example/object/1#produced_by",
		"https://museum.example/object/1#produced_by/timespan",
		"https://museum.example/object/1#produced_by/timespan/identified_by.rte1xnhvf0ra",
	}
	for i, got := range embeddedNames(d) {
		if got != want[i] {
			t.Errorf("got  %s\nwant %s", got, want[i])
		}
	}
}

// TestNameOfKeyLikeMark: a key that an author copied from a published IRI keeps that
// IRI, and a node whose content has the same mark gets another.
func TestNameOfKeyLikeMark(t *testing.T) {
	before := embeddedNames(build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) { name(d, c, "", "Sextant") }))
	_, mark, _ := strings.Cut(before[0], "identified_by.")
	for _, keyFirst := range []bool{true, false} {
		d := build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) {
			if keyFirst {
				name(d, c, mark, "Octant")
			}
			name(d, c, "", "Sextant")
			if !keyFirst {
				name(d, c, mark, "Octant")
			}
		})
		got := embeddedNames(d)
		if got[0] != before[0] || got[1] == got[0] {
			t.Errorf("key first %v: %q", keyFirst, got)
		}
	}
}

func TestNamesBelowFragment(t *testing.T) {
	d := build("https://museum.example/objects#1", func(d *entity.Document, c *vocab.Class) { name(d, c, "a", "Sextant") })
	if got, want := embeddedNames(d)[0], "https://museum.example/objects#1/identified_by.a"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestCheckIRI(t *testing.T) {
	for _, iri := range []string{"https://museum.example/a", "urn:x", "a+b-c.1:", "mailto:x@y", "https://x/%C3%BC?a=b&c#d", "https://x/üöÅ", "https://x/\U00010000", "https://[::1]/"} {
		if err := entity.CheckIRI(iri); err != nil {
			t.Errorf("%s: %v", iri, err)
		}
	}
	for iri, reason := range map[string]string{
		"": "nothing", "object/1": "no scheme", ":x": "no scheme", "1a:b": "no scheme", "a b:c": "a space", "https://x/a b": "a space at byte 12",
		"https://x/\n": "U+000A", "https://x/\x7f": "U+007F", "https://x/<": "the character <", "https://x/a\"b": "the character \"", "https://x/{": "the character {",
		"https://x/|": "the character |", "https://x/\\": "the character \\", "https://x/^": "the character ^", "https://x/`": "the character `", "https://x/}": "the character }",
		"https://x/%": "percent", "https://x/%4": "percent", "https://x/%4g": "percent", "https://x/\xff": "not UTF-8", "https://x/\u0085": "U+0085", "https://x/\ufffe": "U+FFFE",
		"https://x/\ufdd0": "U+FDD0", "https://x/\U0001ffff": "U+1FFFF", "https://x/ü€ ": "a space",
	} {
		err := entity.CheckIRI(iri)
		if err == nil || !strings.Contains(err.Error(), reason) {
			t.Errorf("%q: %v, want %s", iri, err, reason)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		if err := entity.CheckIRI(entitytest.IRI().Draw(t, "iri")); err != nil {
			t.Fatal(err)
		}
	})
}

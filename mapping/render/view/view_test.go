package view_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render"
	"ropewalk/mapping/render/view"
	"ropewalk/vocab"
)

var update = flag.Bool("update", false, "write the golden files")

// document reads a document of testdata.
func document(tb testing.TB, name string) *entity.Document {
	tb.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name+".json"))
	if err != nil {
		tb.Fatal(err)
	}
	d, err := entity.Parse(text, "")
	if err != nil {
		tb.Fatalf("%s: %v", name, err)
	}
	return d
}

func museum() *view.Context {
	return &view.Context{
		Base: "https://museum.example/", Language: "en",
		Publisher: view.Agent{Name: "Museum of Navigation & Weather", IRI: "https://museum.example/group/museum", Page: "https://www.museum.example/"},
		Provider:  view.Agent{Name: "Coastal Union"},
		Licence:   "https://creativecommons.org/publicdomain/zero/1.0/",
		Page:      func(iri string) string { return iri + ".html" },
	}
}

// TestGolden writes one object with everything in every view, and documents of other
// classes in those that take them. Other tests hold the same code against the schemas.
func TestGolden(t *testing.T) {
	for _, name := range []string{"object", "person", "group", "place", "text", "visual", "digital", "event", "provenance", "set", "concept"} {
		d := document(t, name)
		for _, v := range view.Views() {
			text, err := v.Document(d, museum())
			var reason *view.Reason
			if errors.As(err, &reason) && reason.Code == view.WrongClass && name != "object" {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			// A line for each element or member, so that differences can be read.
			text = bytes.ReplaceAll(text, []byte("><"), []byte(">\n<"))
			if v.Root == "" {
				var b bytes.Buffer
				if err := json.Indent(&b, text, "", " "); err != nil {
					t.Fatal(err)
				}
				text = b.Bytes()
			}
			file := filepath.Join("testdata", name+v.Suffix)
			if *update {
				if err := os.WriteFile(file, text, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(text, want) {
				t.Errorf("%s differs from what %s now writes:\n%s", file, v.Name, text)
			}
		}
	}
}

// The table is complete, and what it says of the XML is what is written.
func TestViews(t *testing.T) {
	d := document(t, "object")
	seen := map[string]bool{}
	for _, v := range view.Views() {
		for _, s := range []string{v.Name, v.Suffix, v.Title} {
			if s == "" || seen[s] {
				t.Errorf("%s: %q", v.Name, s)
			}
			seen[s] = true
		}
		if view.ByName(v.Name) != v || v.Prefix != "" && view.ByPrefix(v.Prefix) != v || len(v.MediaTypes) == 0 {
			t.Errorf("%s is not found by its names", v.Name)
		}
		text, err := v.Append(nil, d, museum())
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.HasSuffix(text, []byte("\n")) {
			t.Errorf("%s has no line end", v.Name)
		}
		if v.Root == "" {
			continue
		}
		if !bytes.HasPrefix(text, []byte("<"+v.Root+" ")) || !bytes.Contains(text, []byte(` xsi:schemaLocation="`+v.Namespace+" "+v.Schema+`"`)) {
			t.Errorf("%s: %.300s", v.Name, text)
		}
		var root struct{ XMLName xml.Name }
		if err := xml.Unmarshal(text, &root); err != nil || root.XMLName.Space != v.Namespace {
			t.Errorf("%s: %v %v", v.Name, root.XMLName, err)
		}
		before, after, ok := v.Wrap()
		if ok != (v.Name == "lido") {
			t.Errorf("%s: Wrap says %v", v.Name, ok)
		}
		if ok {
			wellFormed(t, slices.Concat([]byte(before), text, text, []byte(after)))
		}
	}
	if view.ByName("") != nil || view.ByPrefix("") != nil || view.ByPrefix("schemaorg") != nil {
		t.Error("found what is not there")
	}
}

// Each reason for leaving a document out.
func TestReasons(t *testing.T) {
	base := document(t, "object")
	without := func(drop func(e *entity.Event) bool) *entity.Document { return edited(base, drop, nil) }
	key := func(k string) func(*entity.Event) bool {
		return func(e *entity.Event) bool { return e.Term != nil && e.Term.Key == k }
	}
	nowhere := func(c *view.Context) { c.Page = func(string) string { return "" } }
	for _, r := range []struct {
		name, view, code string
		d                *entity.Document
		c                func(*view.Context)
	}{
		{"a person", "lido", view.WrongClass, document(t, "person"), nil},
		{"a person", "edm", view.WrongClass, document(t, "person"), nil},
		{"kinds, but none is marked", "lido", view.NoObjectType, edited(base, func(e *entity.Event) bool { return e.Value == "http://vocab.getty.edu/aat/300435443" }, nil), nil},
		{"no kinds at all", "edm", view.NoObjectType, without(key("classified_as")), nil},
		{"no names", "lido", view.NoTitle, without(key("identified_by")), nil},
		{"no names", "edm", view.NoTitle, without(key("identified_by")), nil},
		{"a name of spaces", "lido", view.NoTitle, edited(base, key("identified_by"), func(d *entity.Document) { named(d, " \t\u00a0") }), nil},
		{"no publisher", "lido", view.NoPublisher, base, func(c *view.Context) { c.Publisher.Name = " " }},
		{"no publisher", "edm", view.NoPublisher, base, func(c *view.Context) { c.Publisher.Name = "" }},
		{"pictures without rights", "edm", view.NoRights, edited(base, func(e *entity.Event) bool { return strings.HasPrefix(e.Value, "CC BY") }, nil), nil},
		{"pictures with unknown words, whatever the site says", "edm", view.NoRights, edited(base, nil, nil, "CC BY 4.0; name the museum", "Ask us"), func(c *view.Context) { c.Rights = c.Licence }},
		{"no pictures and no licence", "edm", view.NoRights, without(key("representation")), func(c *view.Context) { c.Licence = "" }},
		{"nothing on the web", "edm", view.NotOnWeb, without(func(e *entity.Event) bool { return key("representation")(e) || key("subject_of")(e) }), nowhere},
		{"a control character", "lido", view.NotPrintable, edited(base, nil, nil, "Skeppsbarometer", "Skepps\x01barometer"), nil},
		{"a control character", "edm", view.NotPrintable, edited(base, nil, nil, "Skeppsbarometer", "Skepps\x01barometer"), nil},
		{"a control character", "oai_dc", view.NotPrintable, edited(base, nil, nil, "Skeppsbarometer", "Skepps\x01barometer"), nil},
		{"not UTF-8", "schemaorg", view.NotPrintable, edited(base, nil, nil, "Skeppsbarometer", "Skepps\xffbarometer"), nil},
		{"an IRI with two fragments", "edm", view.BadIdentifier, edited(base, nil, nil, "https://union.example/thing/12", "https://union.example/#a#b"), nil},
		{"a broken IRI", "oai_dc", view.Broken, edited(base, nil, nil, "https://union.example/thing/12", "https://union.example/a b"), nil},
		{"an empty document", "schemaorg", view.Broken, new(entity.Document), nil},
	} {
		c := museum()
		if r.c != nil {
			r.c(c)
		}
		dst := []byte("before")
		out, err := view.ByName(r.view).Append(dst, r.d, c)
		var reason *view.Reason
		if !errors.As(err, &reason) || reason.Code != r.code || reason.View != r.view || reason.Document != r.d.IRI() || reason.Text == "" {
			t.Errorf("%s: %s: %v", r.name, r.view, err)
			continue
		}
		if string(out) != "before" {
			t.Errorf("%s: %s: something was written: %s", r.name, r.view, out)
		}
		if check := view.ByName(r.view).Check(r.d, c); r.code != view.NotPrintable && r.code != view.BadIdentifier && (check == nil || check.Error() != err.Error()) {
			t.Errorf("%s: %s: Check says %v, Append %v", r.name, r.view, check, err)
		}
		var text *render.TextError
		if r.code == view.NotPrintable && !errors.As(err, &text) {
			t.Errorf("%s: %v has no cause", r.name, err)
		}
	}
	if err := view.CanLIDO(base); err != nil {
		t.Error(err)
	}
	if err := view.CanLIDO(document(t, "place")); err == nil {
		t.Error("LIDO takes a place")
	}
}

// edited copies a document without the nodes and values for which drop is true, with
// one text for another, and with what add adds to the root.
func edited(d *entity.Document, drop func(*entity.Event) bool, add func(*entity.Document), swap ...string) *entity.Document {
	c := new(entity.Document)
	ev := d.Events()
	for i := 0; i < len(ev); i++ {
		e := &ev[i]
		value := e.Value
		if len(swap) == 2 && value == swap[0] {
			value = swap[1]
		}
		switch {
		case e.Kind == entity.Close:
			if i == len(ev)-1 && add != nil {
				add(c)
			}
			c.End()
		case drop != nil && drop(e):
			if e.Kind == entity.Open {
				i = int(e.End)
			}
		case e.Kind == entity.Open:
			c.Begin(e.Term, e.Many, e.Class, e.Ref, value, -1)
		default:
			c.Value(e.Kind, e.Term, e.Many, value, -1)
		}
	}
	return c
}

// Nothing that is only claimed, qualified or given up stands anywhere as a fact.
func TestDoubts(t *testing.T) {
	d := document(t, "object")
	doubtful := map[string]string{"pascroft": "possibly", "orlop": "given up", "pell": "attributed to", "venhallow": "influence", "mundwick": "given up"}
	certain := []string{"maker", "thrisslow"}
	texts := map[string]string{}
	for _, v := range view.Views() {
		text, err := v.Append(nil, d, museum())
		if err != nil {
			t.Fatal(err)
		}
		texts[v.Name] = string(text)
	}
	for _, actor := range strings.Split(texts["lido"], "<lido:eventActor>")[1:] {
		actor, _, _ = strings.Cut(actor, "</lido:eventActor>")
		qualified := strings.Contains(actor, "<lido:attributionQualifierActor>")
		for name, how := range doubtful {
			if !strings.Contains(actor, "/person/"+name+"<") {
				continue
			}
			if !qualified || how == "given up" {
				t.Errorf("LIDO has %s (%s) as an actor: %s", name, how, actor)
			}
		}
		for _, name := range certain {
			if strings.Contains(actor, "/"+name+"<") && qualified {
				t.Errorf("LIDO doubts %s: %s", name, actor)
			}
		}
	}
	for name := range doubtful {
		iri := "https://museum.example/person/" + name
		if strings.Contains(texts["edm"], iri) {
			t.Errorf("EDM refers to %s", name)
		}
		if strings.Contains(texts["schemaorg"], iri) {
			t.Errorf("schema.org refers to %s", name)
		}
	}
	for _, name := range []string{"Ottilie Pascroft", "A. Orlop", "Jo Pell", "Abel Venhallow", "Ruben Mundwick"} {
		if strings.Contains(texts["oai_dc"], "<dc:creator>"+name) {
			t.Errorf("Dublin Core has %s as a maker", name)
		}
		for view, text := range texts {
			if !strings.Contains(text, name) {
				t.Errorf("%s does not speak of %s at all", view, name)
			}
		}
	}
	for _, name := range []string{"Fenwright &amp; Co.", "Jo Thrisslow"} {
		if !strings.Contains(texts["oai_dc"], "<dc:creator>"+name) {
			t.Errorf("Dublin Core does not have %s as a maker", name)
		}
	}
}

// TestAny: whatever the document, a view is well-formed or there is a reason.
func TestAny(t *testing.T) {
	c := museum()
	rapid.Check(t, func(rt *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(rt, "document")
		for _, v := range view.Views() {
			out, err := v.Append([]byte("x"), d, c)
			var reason *view.Reason
			switch {
			case errors.As(err, &reason):
				if string(out) != "x" {
					rt.Fatalf("%s: %q was written", v.Name, out)
				}
			case err != nil:
				rt.Fatalf("%s: %v", v.Name, err)
			case v.Root != "":
				wellFormed(rt, out[1:])
			default:
				if !json.Valid(out[1:]) || !utf8.Valid(out) || bytes.IndexByte(out, '<') >= 0 {
					rt.Fatalf("%s: %s", v.Name, out)
				}
			}
			again, err2 := v.Append([]byte("x"), d, c)
			if !bytes.Equal(out, again) || (err == nil) != (err2 == nil) {
				rt.Fatalf("%s: two runs differ:\n%s\n%s", v.Name, out, again)
			}
		}
	})
}

// wellFormed reads XML to its end.
func wellFormed(t interface{ Fatalf(string, ...any) }, text []byte) {
	dec := xml.NewDecoder(bytes.NewReader(text))
	for {
		if _, err := dec.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
	}
}

// Many goroutines write at once, each its own documents, with one context.
func TestTogether(t *testing.T) {
	c := museum()
	var wg sync.WaitGroup
	for _, name := range []string{"object", "person", "place", "object"} {
		d := document(t, name)
		want := map[string][]byte{}
		for _, v := range view.Views() {
			want[v.Name], _ = v.Append(nil, d, c)
		}
		wg.Add(1)
		go func() {
			defer wg.Done()
			for range 50 {
				for _, v := range view.Views() {
					if got, _ := v.Append(nil, d, c); !bytes.Equal(got, want[v.Name]) {
						t.Errorf("%s: %s differs", name, v.Name)
					}
				}
			}
		}()
	}
	wg.Wait()
}

// Writing does not allocate for each value.
func TestAllocations(t *testing.T) {
	d, c := document(t, "object"), museum()
	c.Page = nil
	for _, v := range view.Views() {
		buf, err := v.Append(nil, d, c)
		if err != nil {
			t.Fatal(err)
		}
		n := testing.AllocsPerRun(100, func() { buf, _ = v.Append(buf[:0], d, c) })
		if n > 8 {
			t.Errorf("%s: %v allocations for a document", v.Name, n)
		}
	}
}

var nameClass = vocab.ClassByKey("Name")

func named(d *entity.Document, content string) {
	c := d.Class()
	d.Begin(c.Term("identified_by"), true, nameClass, false, "", -1)
	d.Text(nameClass.Term("content"), false, content, -1)
	d.End()
}

package conformance

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/render/view"
	"ropewalk/vocab"
)

// evidenceSite is a site with one object, of which several statements have evidence of
// one degree of certainty. Without, the statements are made only if bare is asked for.
func evidenceSite(certainty string, evidence, bare bool) fstest.MapFS {
	ev := func(n int) string {
		if !evidence {
			return ""
		}
		return fmt.Sprintf(`, evidence: { citations: "Minutes no. %d", by: { refer: person/critic, label: Critic }, on: "1999", certainty: "{sure}" }`, n)
	}
	row := "1,Gauge,W1,W2,gold,1831,1850,77 cm,O1,P1," + certainty
	if !evidence && !bare {
		row = "1,Gauge,,,,,,,,,"
	}
	return fstest.MapFS{
		"ropewalk.yaml": {Data: []byte("title: T\nbase: https://t.example/\nlanguage: en\nlicence: https://creativecommons.org/publicdomain/zero/1.0/\n" +
			"publisher: { name: Museum, id: group/museum }\nsources:\n  things: { files: t.csv }\nterms: { stuff: stuff.csv }\n")},
		"stuff.csv": {Data: []byte("word,iri,label\ngold,aat:300011021,gold\n")},
		"t.csv":     {Data: []byte("nr,title,maker,helper,material,made,repaired,size,owner,place,sure\n" + row + "\n")},
		"mapping/m.yaml": {Data: []byte(`make: HumanMadeObject
from: things
id: object/{nr}
label: "{title}"
classified_as: { use: type-of-work, id: aat:300028051, label: books }
identified_by: { use: primary-name, content: "{title}" }
subject_of: { use: web-page, address: "https://www.t.example/{nr}" }
referred_to_by: { use: rights-statement, content: "CC0 1.0" }
representation: { use: digital-image, address: "https://www.t.example/{nr}.jpg", format: image/jpeg, rights: "CC0 1.0" }
made_of: { term: stuff, from: "{material}"` + ev(1) + ` }
dimension: { read: dimensions, from: "{size}"` + ev(2) + ` }
current_owner: { refer: "group/{owner}", type: Group, label: "Owner {owner}"` + ev(3) + ` }
current_location: { refer: "place/{place}", type: Place, label: "Place {place}"` + ev(4) + ` }
produced_by:
  carried_out_by: { refer: "person/{maker}", type: Person, label: "Maker {maker}"` + ev(5) + ` }
  timespan: { read: date, from: "{made}"` + ev(6) + ` }
  part:
    type: Production
    identified_by: { type: Name, content: "helper", when: helper != "" }
    carried_out_by: { refer: "person/{helper}", type: Person, label: "Helper {helper}" }
` + strings.ReplaceAll(strings.TrimPrefix(ev(7), ", "), "evidence:", "    evidence:") + `
modified_by:
  type: Modification
  timespan: { read: date, from: "{repaired}" }
` + strings.ReplaceAll(strings.TrimPrefix(ev(8), ", "), "evidence:", "  evidence:") + `
---
make: Person
from: things
id: person/critic
once: true
label: Critic
`)},
	}
}

// theObject gives the one object of a site, which must be valid, in memory of its own.
func theObject(t *testing.T, schemas *outside.Schemas, fsys fstest.MapFS) *entity.Document {
	t.Helper()
	var doc *entity.Document
	err := siteDocuments(fsys, func(d siteDocument) error {
		if err := schemas.Validate(d.endpoint.Schema[strings.LastIndexByte(d.endpoint.Schema, '/')+1:], d.jsonld); err != nil {
			t.Errorf("%s: %v\n%s", d.doc.IRI(), err, d.jsonld)
		}
		if strings.HasSuffix(d.doc.IRI(), "/object/1") {
			doc = d.doc.Clone()
		}
		return nil
	})
	if err != nil || doc == nil {
		t.Fatal("no object: ", err)
	}
	return doc
}

// leaves lists what a view says: for each text and attribute the path of its element or
// member. Below an actor whose attribution is qualified the path says so.
func leaves(t *testing.T, text []byte) []string {
	t.Helper()
	var out []string
	if text[0] == '{' {
		var v any
		if err := json.Unmarshal(text, &v); err != nil {
			t.Fatal(err)
		}
		var walk func(p string, v any)
		walk = func(p string, v any) {
			switch x := v.(type) {
			case map[string]any:
				for k, y := range x {
					walk(path.Join(p, k), y)
				}
			case []any:
				for _, y := range x {
					walk(p, y)
				}
			default:
				out = append(out, fmt.Sprintf("%s = %v", p, x))
			}
		}
		walk("", v)
		slices.Sort(out)
		return out
	}
	type open struct {
		name string
		from int
		text string
	}
	var stack []open
	at := func() string {
		var names []string
		for _, o := range stack {
			names = append(names, o.name)
		}
		return strings.Join(names, "/")
	}
	dec := xml.NewDecoder(strings.NewReader(string(text)))
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch x := tok.(type) {
		case xml.StartElement:
			stack = append(stack, open{name: x.Name.Local, from: len(out)})
			for _, a := range x.Attr {
				out = append(out, at()+"/@"+a.Name.Local+" = "+a.Value)
			}
		case xml.CharData:
			if len(stack) > 0 {
				stack[len(stack)-1].text += string(x)
			}
		case xml.EndElement:
			o := stack[len(stack)-1]
			if s := strings.TrimSpace(o.text); s != "" {
				out = append(out, at()+" = "+s)
			}
			if o.name == "eventActor" && slices.ContainsFunc(out[o.from:], func(s string) bool { return strings.Contains(s, "/attributionQualifierActor/term = ") }) {
				for i := range out[o.from:] {
					out[o.from+i] = strings.Replace(out[o.from+i], "/eventActor/", "/qualified eventActor/", 1)
				}
			}
			stack = stack[:len(stack)-1]
		}
	}
	slices.Sort(out)
	return out
}

// without takes one of each of b from a.
func without(a, b []string) []string {
	a = slices.Clone(a)
	for _, s := range b {
		if i := slices.Index(a, s); i >= 0 {
			a = slices.Delete(a, i, i+1)
		}
	}
	return a
}

// inWords are the places of the views in which people tell something in words, and
// an actor of LIDO with the words of doubt.
func inWords(leaf string) bool {
	p, _, _ := strings.Cut(leaf, " = ")
	for _, s := range []string{"description", "descriptiveNoteValue", "sourceDescriptiveNote", "objectDescriptionSet/@type", "descriptiveNoteValue/@lang", "description/@lang"} {
		if p == s || strings.HasSuffix(p, "/"+s) {
			return true
		}
	}
	return strings.Contains(p, "/qualified eventActor/") || strings.HasSuffix(p, "/eventType/conceptID") || strings.HasSuffix(p, "/eventType/term") ||
		strings.HasSuffix(p, "/eventType/conceptID/@type") || strings.HasSuffix(p, "/eventType/conceptID/@source") || strings.HasSuffix(p, "/eventType/term/@lang") // an event for such actors
}

// TestEvidenceInViews: in every view, what a doubted statement adds to a document is told
// in words with the doubt in them, and nowhere else; what is certain adds to the facts
// only the words of its evidence.
func TestEvidenceInViews(t *testing.T) {
	c := &view.Context{Base: "https://t.example/", Language: "en", Licence: "https://creativecommons.org/publicdomain/zero/1.0/", Publisher: view.Agent{Name: "Museum"}}
	schemas := outside.PublishedSchemas(t)
	nothing, facts := theObject(t, schemas, evidenceSite("", false, false)), theObject(t, schemas, evidenceSite("", false, true))
	values := []string{"gold", "77", "Owner O1", "Place P1", "Maker W1", "1831", "Helper W2", "1850"}
	for _, degree := range []string{"", "certain", "probable", "possible", "disputed", "superseded", "who can tell", "by tradition"} {
		said := theObject(t, schemas, evidenceSite(degree, true, false))
		word := degree
		switch degree {
		case "":
			word = "documented"
		case "by tradition":
			word = "possible"
		case "who can tell":
			word = "claimed"
		}
		sure := degree == "" || degree == "certain"
		for _, v := range view.Views() {
			base := nothing
			if sure {
				base = facts
			}
			before, err := v.Document(base, c)
			if err != nil {
				t.Fatal(v.Name, err)
			}
			text, err := v.Document(said, c)
			if err != nil {
				t.Fatal(v.Name, err)
			}
			was, is := leaves(t, before), leaves(t, text)
			if lost := without(was, is); len(lost) > 0 && !sure {
				t.Errorf("%s, %q: lost\n%s", v.Name, degree, strings.Join(lost, "\n"))
			} else if len(lost) > 0 && sure {
				t.Errorf("%s, %q: a fact is no longer told as one\n%s", v.Name, degree, strings.Join(lost, "\n"))
			}
			words := ""
			for _, l := range without(is, was) {
				if !inWords(l) {
					t.Errorf("%s, %q: told as a fact: %s", v.Name, degree, l)
				}
				if sure && strings.Contains(l, "/qualified eventActor/") {
					t.Errorf("%s, %q: a fact is told with a doubt: %s", v.Name, degree, l)
				}
				if _, s, _ := strings.Cut(l, " = "); strings.Contains(s, word) {
					words += s + "\n"
				}
			}
			for _, x := range values {
				if !strings.Contains(words, x) {
					t.Errorf("%s, %q: %s is not told with the word %q in\n%s", v.Name, degree, x, word, words)
				}
			}
			if degree != word && degree != "" && !strings.Contains(string(text), degree) {
				t.Errorf("%s: the words %q are lost", v.Name, degree)
			}
			if !strings.Contains(string(text), "Minutes no. 1") || !strings.Contains(string(text), "Critic") {
				t.Errorf("%s, %q: it is not told from which document, or who says so", v.Name, degree)
			}
		}
	}
}

// assignments collects the attribute assignments below "attributed_by" that say which
// property they assign, as "Class key Class" of all that they hold. above is the class
// and key of what carries them, with the nodes on the way to the document.
func assignments(v any, way []string, out *[][]string) {
	switch x := v.(type) {
	case []any:
		for _, y := range x {
			assignments(y, way, out)
		}
	case map[string]any:
		class, _ := x["type"].(string)
		for k, y := range x {
			if k != "attributed_by" {
				assignments(y, append(slices.Clone(way), class+" "+k), out)
				continue
			}
			for _, a := range y.([]any) {
				m := a.(map[string]any)
				property, ok := m["assigned_property"].(string)
				if !ok {
					continue
				}
				var uses []string
				var see func(n map[string]any)
				see = func(n map[string]any) {
					for k, y := range n {
						list, isList := y.([]any)
						if !isList {
							list = []any{y}
						}
						for _, z := range list {
							switch z := z.(type) {
							case map[string]any:
								uses = append(uses, fmt.Sprintf("%s %s %s", n["type"], k, z["type"]))
								see(z)
							case string:
								if k != "id" && k != "type" && k != "_label" && k != "assigned_property" {
									uses = append(uses, fmt.Sprintf("%s %s", n["type"], k))
								}
							}
						}
					}
				}
				see(m)
				// Carried by the document instead of a node in it, an assignment is of the
				// document's own property and holds the nodes on the way.
				for i := len(way) - 1; i >= 0; i-- {
					uses = append(uses, class+" "+property+" "+assignedClass(m))
					_, property, _ = strings.Cut(way[i], " ")
				}
				uses = append(uses, "assigned_property "+property)
				slices.Sort(uses)
				*out = append(*out, slices.Compact(uses))
			}
		}
	}
}

func assignedClass(m map[string]any) string {
	return m["assigned"].([]any)[0].(map[string]any)["type"].(string)
}

// evidenceExamples are the published worked examples (linked-art/examples) of attribute
// assignments that say which property they assign, with the mapping of the same facts.
// Left out is what evidence has no words for.
var evidenceExamples = []struct {
	file, mapping string
	leftOut       []string
}{
	// Possibly by Salomon Corrodi. The example has the assignment on the Production, where the
	// schema does not list it (deviations.yaml); ours is the document's.
	{"object/forum/1.json", `produced_by:
  part:
    type: Production
    carried_out_by: { id: "https://linked.art/example/person/corrodi", type: Person, label: Salomon Corrodi }
    evidence: { certainty: possible }
`, nil},
	// That it is of canvas was said in 2015.
	{"object/spring/21.json", `made_of: { id: aat:300014078, evidence: { on: "{when}", certainty: disputed } }
`, nil},
	// The condition, who found it and when. The name of the check, and of what it was part, are the check's own.
	{"object/nightwatch/25.json", `classified_as:
  id: "http://vocab.getty.edu/aat/300387447"
  label: Microcracks
  evidence:
    by: { id: "https://linked.art/example/group/rijksmuseum", type: Group, label: Rijksmuseum }
    on: "May to September {when}"
    grounds: Very fine cracks throughout the painted surface
`, []string{"AttributeAssignment identified_by Name", "Name content", "AttributeAssignment part_of Activity"}},
}

// TestEvidenceAsPublished: our attribute assignments use the classes and properties of the
// published examples for the same facts. We add what the examples do not say: the words of
// a date and all its corners, and the concept of a certainty.
func TestEvidenceAsPublished(t *testing.T) {
	examples := map[string][]byte{}
	named := 0
	for _, e := range outside.Examples(t) {
		var v any
		if err := json.Unmarshal(e.Text, &v); err != nil {
			t.Fatal(err)
		}
		var found [][]string
		assignments(v, nil, &found)
		if len(found) > 0 {
			named++
			examples[e.File] = e.Text
		}
	}
	if named != len(evidenceExamples) {
		t.Errorf("%d examples assign a property, %d are compared", named, len(evidenceExamples))
	}
	for _, x := range evidenceExamples {
		text := examples[x.file]
		if text == nil {
			for f, b := range examples {
				if strings.HasSuffix(f, x.file) {
					text = b
				}
			}
		}
		if text == nil {
			t.Errorf("there is no example %s", x.file)
			continue
		}
		var want, got [][]string
		var v any
		_ = json.Unmarshal(text, &v)
		assignments(v, nil, &want)
		siteErr := siteDocuments(fstest.MapFS{
			"ropewalk.yaml":  {Data: []byte("title: T\nbase: https://t.example/\nsources:\n  things: { files: t.csv }\n")},
			"t.csv":          {Data: []byte("nr,when\n1,2015\n")},
			"mapping/m.yaml": {Data: []byte("make: HumanMadeObject\nfrom: things\nid: object/{nr}\nlabel: \"{nr}\"\n" + x.mapping)},
		}, func(d siteDocument) error {
			if d.doc.Class() == vocab.ClassByKey("HumanMadeObject") {
				var v any
				if err := json.Unmarshal(d.jsonld, &v); err != nil {
					return err
				}
				assignments(v, nil, &got)
			}
			return nil
		})
		if siteErr != nil {
			t.Errorf("%s: %v", x.file, siteErr)
			continue
		}
		if len(want) != 1 || len(got) != 1 {
			t.Errorf("%s: %d assignments, ours %d", x.file, len(want), len(got))
			continue
		}
		for _, use := range without(want[0], got[0]) {
			if !slices.Contains(x.leftOut, use) {
				t.Errorf("%s: ours lacks %s", x.file, use)
			}
		}
		for _, use := range without(got[0], want[0]) {
			switch use {
			case "TimeSpan identified_by Name", "Name classified_as Type", "Name content", "TimeSpan begin_of_the_end", "TimeSpan end_of_the_begin",
				"AttributeAssignment classified_as Type":
			default:
				t.Errorf("%s: only ours has %s", x.file, use)
			}
		}
		for _, use := range x.leftOut {
			if !slices.Contains(want[0], use) {
				t.Errorf("%s: %s is not left out", x.file, use)
			}
		}
	}
}

// TestCertaintyTerms: neither the profile's published label table nor its worked examples have
// a term for a degree of certainty, save the one we use of makers. Should one be
// published, this fails, and the site's own concepts can have equivalents.
func TestCertaintyTerms(t *testing.T) {
	var labels map[string]string
	if err := json.Unmarshal(outside.ReadShared(t, "standards", "linked-art", "vocab", "aat_labels.json"), &labels); err != nil {
		t.Fatal(err)
	}
	outside.AtLeast(t, "labels", len(labels), 1500)
	words := []string{"certain", "uncertain", "probab", "possib", "disputed", "superseded", "doubt"}
	hasWord := func(s string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(strings.ToLower(s), w) })
	}
	for iri, l := range labels {
		if hasWord(l) {
			t.Errorf("the label table has %s, %q", iri, l)
		}
	}
	found := map[string]string{}
	for _, e := range outside.Examples(t) {
		var v any
		if err := json.Unmarshal(e.Text, &v); err != nil {
			t.Fatal(err)
		}
		var walk func(v any)
		walk = func(v any) {
			switch x := v.(type) {
			case []any:
				for _, y := range x {
					walk(y)
				}
			case map[string]any:
				if label, _ := x["_label"].(string); x["type"] == "Type" && hasWord(label) {
					id, _ := x["id"].(string)
					found[id] = label
				}
				for _, y := range x {
					walk(y)
				}
			}
		}
		walk(v)
	}
	if a, ok := vocab.AuthorityByCURIE("aat:300404272"); !ok || a.FromMemory || len(found) != 1 || found[a.IRI] != a.Label {
		t.Errorf("the examples have %v", found)
	}
	for _, c := range vocab.Certainties() {
		if vocab.CertaintyByWord(strings.ToUpper(c.Word())) != c || vocab.CertaintyByIRI("https://a.example/b/"+c.Path()) != c {
			t.Errorf("%s is not found by its word or concept", c.Word())
		}
	}
	for _, iri := range []string{"https://a.example/concept/certainty/", "https://a.example/concept/certainty/surely", "https://a.example/xconcept/certainty/certain", "concept"} {
		if c := vocab.CertaintyByIRI(iri); c != vocab.CertaintyUnsaid {
			t.Errorf("%s is taken for %s", iri, c.Word())
		}
	}
}

package conformance

import (
	"errors"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/conformance/collections"
	"ropewalk/conformance/outside"
	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/mapping/render/view"
	"ropewalk/mapping/site"
	"ropewalk/vocab"
)

// viewSchemas are the published XML Schemas of the views, below standards.
var viewSchemas = map[string]string{
	"oai_dc": "oai-pmh/oai_dc.xsd",
	"lido":   "lido/lido-v1.1.xsd",
	"edm":    "edm/xsd/EDM.xsd",
}

// ruledSchemas are those with Schematron rules in their annotations.
var ruledSchemas = map[string][]string{
	"lido": {"lido/lido-v1.1.xsd"},
	"edm":  {"edm/xsd/EDM-EXTERNAL-MAIN.xsd", "edm/xsd/ORE.xsd", "edm/xsd/CONTEXTS.xsd"},
}

// viewContext is what a site says of itself.
func viewContext(t *testing.T, name string) *view.Context {
	t.Helper()
	s, _ := site.Load(openSite(t, name))
	if s.Program == nil {
		t.Fatalf("%s does not compile", name)
	}
	c := &view.Context{
		Base: s.Base, Language: s.Language, Licence: s.Licence,
		Publisher: view.Agent{Name: s.Publisher.Name, IRI: s.Publisher.ID, Page: s.Publisher.Page},
	}
	if c.Publisher.IRI != "" && !strings.Contains(c.Publisher.IRI, "://") {
		c.Publisher.IRI = s.Base + c.Publisher.IRI
	}
	return c
}

// leastViews says how many documents of a site each view must take at least.
var leastViews = map[string]map[string]int{
	"demo":       {"oai_dc": 300, "lido": 60, "edm": 60, "schemaorg": 300},
	"skokloster": {"oai_dc": 1500, "lido": 500, "edm": 500, "schemaorg": 1500},
	"tate":       {"oai_dc": 7000, "lido": 660, "edm": 140, "schemaorg": 7000},
}

// TestViewsValid writes every document of every site in every view. What is written is
// valid against the published schemas and keeps their Schematron rules; what cannot be
// written comes with a reason, and there are no more reasons than are known here.
func TestViewsValid(t *testing.T) {
	names := append(collections.Names(), "demo")
	if !outside.Long() {
		names = []string{"demo"}
	}
	// Documents left out for another reason than their class.
	known := map[string]map[string]int{
		"demo":       {},
		"skokloster": {},
		"tate":       {"lido no-type": 2, "edm no-rights": 527},
	}
	for _, name := range names {
		c := viewContext(t, name)
		for _, v := range view.Views() {
			var texts [][]byte
			var iris []string
			left := map[string]int{}
			flush := func() {
				checkXML(t, v, texts, iris)
				texts, iris = texts[:0], iris[:0]
			}
			total := 0
			err := siteDocuments(openSite(t, name), func(d siteDocument) error {
				text, err := v.Document(d.doc, c)
				var reason *view.Reason
				switch {
				case errors.As(err, &reason):
					if reason.Code != view.WrongClass {
						left[v.Name+" "+reason.Code]++
					} else if d.doc.Class().Key == "HumanMadeObject" {
						t.Errorf("%v", reason)
					}
					if check := v.Check(d.doc, c); check == nil || check.Error() != err.Error() {
						t.Errorf("%s: Check says %v, Append %v", d.doc.IRI(), check, err)
					}
				case err != nil:
					t.Errorf("%v", err)
				default:
					total++
					texts, iris = append(texts, text), append(iris, strings.Clone(d.doc.IRI()))
					if len(texts) == 2000 {
						flush()
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			flush()
			t.Logf("%s: %s: %d documents, left out: %v", name, v.Name, total, left)
			outside.AtLeast(t, name+": "+v.Name, total, leastViews[name][v.Name])
			for code, n := range left {
				if known[name][code] != n {
					t.Errorf("%s: %s: %d documents left out, %d known", name, code, n, known[name][code])
				}
			}
		}
	}
}

// checkXML holds texts of a view against its schema and its rules.
func checkXML(t *testing.T, v *view.View, texts [][]byte, names []string) {
	t.Helper()
	if v.Root == "" || len(texts) == 0 {
		return
	}
	report := func(faults map[int]string, what string) {
		for n, i := range slices.Sorted(maps.Keys(faults)) {
			if n == 5 {
				t.Errorf("%s: %s: and %d more", v.Name, what, len(faults)-n)
				break
			}
			t.Errorf("%s: %s: %s: %s\n%.3000s", names[i], v.Name, what, faults[i], texts[i])
		}
	}
	report(outside.XMLSchema(t, viewSchemas[v.Name], texts), "not valid")
	if schemas := ruledSchemas[v.Name]; schemas != nil {
		rules, prefixes := outside.AppinfoRules(t, schemas...)
		report(outside.Schematron(t, outside.SchematronSchema(rules, prefixes), texts), "breaks a rule")
	}
}

// TestViewsRandom does so with random documents of all classes.
func TestViewsRandom(t *testing.T) {
	n := 150
	if outside.Long() {
		n = 3000
	}
	c := &view.Context{
		Base: "https://museum.example/", Language: "en", Publisher: view.Agent{Name: "Museum <&> \"Ö\"", IRI: "https://museum.example/group/museum"},
		Licence: "https://creativecommons.org/publicdomain/zero/1.0/", Rights: "https://creativecommons.org/licenses/by/4.0/",
	}
	kinds := rapid.Map(rapid.SampledFrom(vocab.Authorities()), func(a vocab.Authority) string { return a.IRI })
	iris := rapid.OneOf(entitytest.IRI(), kinds, rapid.Map(kinds, func(s string) string { return strings.Clone(s) }),
		rapid.SampledFrom([]string{"http://vocab.getty.edu/aat/300404270", "http://vocab.getty.edu/aat/300404269", "https://creativecommons.org/licenses/by/4.0/"}))
	objects := entitytest.Documents(entitytest.Options{Text: entitytest.XMLText(), IRI: iris, Endpoint: "object", Keys: true})
	others := entitytest.Documents(entitytest.Options{Text: entitytest.XMLText()})
	texts, names := map[string][][]byte{}, map[string][]string{}
	for i := range n {
		for _, d := range []*entity.Document{completed(objects.Example(i)), others.Example(i)} {
			for _, v := range view.Views() {
				text, err := v.Document(d, c)
				var reason *view.Reason
				if errors.As(err, &reason) {
					continue
				}
				if err != nil {
					t.Fatalf("%s: %v", v.Name, err)
				}
				texts[v.Name] = append(texts[v.Name], text)
				names[v.Name] = append(names[v.Name], d.IRI())
			}
		}
	}
	for _, v := range view.Views() {
		t.Logf("%s: %d documents", v.Name, len(texts[v.Name]))
		checkXML(t, v, texts[v.Name], names[v.Name])
	}
	outside.AtLeast(t, "oai_dc", len(texts["oai_dc"]), 2*n)
	outside.AtLeast(t, "lido", len(texts["lido"]), n)
	outside.AtLeast(t, "edm", len(texts["edm"]), n/2)
}

// completed is a copy of an object with what LIDO and EDM demand: a kind of thing and a
// name.
func completed(d *entity.Document) *entity.Document {
	c := new(entity.Document)
	ev := d.Events()
	object := ev[0].Class
	for i := range ev[:len(ev)-1] {
		switch e := &ev[i]; e.Kind {
		case entity.Open:
			c.Begin(e.Term, e.Many, e.Class, e.Ref, e.Value, -1)
		case entity.Close:
			c.End()
		default:
			c.Value(e.Kind, e.Term, e.Many, e.Value, -1)
		}
	}
	kind := vocab.ClassByKey("Type")
	classified := object.Term("classified_as")
	c.Begin(classified, true, kind, true, "https://museum.example/concept/barometer", -1)
	c.Begin(classified, true, kind, true, "http://vocab.getty.edu/aat/300435443", -1)
	c.End()
	c.End()
	c.Begin(object.Term("identified_by"), true, vocab.ClassByKey("Name"), false, "", -1)
	c.Text(object.Term("content"), false, "Barometer", -1)
	c.End()
	c.End()
	return c
}

// breaks are changes to what we write that the Schematron rules of a schema must find:
// the first match of a pattern is replaced.
var breaks = map[string][][2]string{
	"lido": {
		{`<lido:measurementType>`, `<lido:measurementType>words beside the term`},
		{`<lido:eventType>`, `<lido:eventType><skos:Collection xmlns:skos="http://www.w3.org/2004/02/skos/core#"/>`},
		{`<lido:eventType>`, `<lido:eventType><skos:Concept xmlns:skos="http://www.w3.org/2004/02/skos/core#"><lido:term/></skos:Concept>`},
		{`(<lido:actorID[^>]*>[^<]*</lido:actorID>)`, `$1<owl:differentFrom xmlns:owl="http://www.w3.org/2002/07/owl#"/>`},
		{`<lido:rightsType lido:type="[^"]*">`, `<lido:rightsType/><lido:rightsType>`},
		{`<lido:rightsType lido:type="[^"]*">`, `<lido:rightsType lido:type="licence">`},
		{`(<lido:collection><lido:object>.*?)<lido:objectName>.*?</lido:objectName>`, `$1`},
	},
	"edm": {
		{`<edm:isShownAt [^>]*/>(<edm:isShownBy [^>]*/>)?`, ``},
		{`<edm:dataProvider>[^<]*</edm:dataProvider>`, ``},
		{`<edm:dataProvider>[^<]*<`, `<edm:dataProvider> <`},
		{`<edm:provider>[^<]*</edm:provider>`, ``},
		{`<edm:provider>[^<]*<`, `<edm:provider><`},
		{`<edm:rights rdf:resource="[^"]*"/></ore`, `<edm:rights/></ore`},
		{`<dc:type [^>]*/>|<dc:subject>[^<]*</dc:subject>|<dcterms:spatial [^>]*/>|<dc:title[^>]*>[^<]*</dc:title>|<dc:description[^>]*>[^<]*</dc:description>`, ``},
		{`<dc:type [^>]*/>|<dc:subject>[^<]*</dc:subject>|<dcterms:spatial [^>]*/>`, `<dc:type> </dc:type>`},
		{`<edm:type>[^<]*<`, `<edm:type>TEXT<`},
		{`<edm:WebResource ([^>]*)>`, `<edm:WebResource $1><dcterms:hasPart>words</dcterms:hasPart>`},
	},
}

// everyMatch are the changes that are made everywhere, since one match would be left.
func everyMatch(pattern string) bool { return strings.Contains(pattern, "|") }

// TestViewsRules proves that the rules find what breaks them: every test of the
// published rules fails on one of the changes above, and on nothing that we write.
func TestViewsRules(t *testing.T) {
	c := viewContext(t, "demo")
	texts := map[string][]byte{}
	err := siteDocuments(openSite(t, "demo"), func(d siteDocument) error {
		if d.doc.IRI() == c.Base+"object/1908.3.1" {
			for name := range breaks {
				text, err := view.ByName(name).Document(d.doc, c)
				if err != nil {
					return err
				}
				texts[name] = text
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, list := range breaks {
		rules, prefixes := outside.AppinfoRules(t, ruledSchemas[name]...)
		var broken [][]byte
		for _, b := range list {
			re := regexp.MustCompile("(?s)" + b[0])
			text := string(texts[name])
			if everyMatch(b[0]) {
				text = re.ReplaceAllString(text, b[1])
			} else if at := re.FindStringSubmatchIndex(text); at != nil {
				text = text[:at[0]] + string(re.ExpandString(nil, b[1], text, at)) + text[at[1]:]
			}
			if text == string(texts[name]) {
				t.Errorf("%s: %q matches nothing", name, b[0])
			}
			broken = append(broken, []byte(text))
		}
		tests := map[string][]outside.Rule{}
		for _, r := range rules {
			if r.Context != "ore:Proxy" { // there are none outside of the aggregator's own store
				tests[r.Test] = append(tests[r.Test], r)
			}
		}
		for test, rules := range tests {
			schema := outside.SchematronSchema(rules, prefixes)
			if faults := outside.Schematron(t, schema, broken); len(faults) == 0 {
				t.Errorf("%s: nothing breaks the rule %s (context %s)", name, test, rules[0].Context)
			}
			if faults := outside.Schematron(t, schema, [][]byte{texts[name]}); len(faults) > 0 {
				t.Errorf("%s: we break the rule %s: %s", name, test, faults[0])
			}
		}
		t.Logf("%s: %d rules with %d different tests", name, len(rules), len(tests))
		outside.AtLeast(t, name+": different tests", len(tests), map[string]int{"lido": 7, "edm": 10}[name])
	}
}

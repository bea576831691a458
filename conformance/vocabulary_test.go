package conformance

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/vocab"
)

const (
	rdfNS  = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
	rdfsNS = "http://www.w3.org/2000/01/rdf-schema#"
	xsdNS  = "http://www.w3.org/2001/XMLSchema#"
	crmNS  = "http://www.cidoc-crm.org/cidoc-crm/"
)

// TestVocabularyPackage holds our tables against the ontology as the npm package
// @vocabulary/crm carries it: every axiom there is here, and the other way round.
func TestVocabularyPackage(t *testing.T) {
	file := filepath.Join(outside.Room(t), "node_modules", "@vocabulary", "crm", "crm.nq")
	text, err := os.ReadFile(file)
	if err != nil {
		outside.Missing(t, file)
	}
	quads, err := outside.ParseNQuads(string(text))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	type axiom struct{ s, p, o string }
	theirs, ours := map[axiom]bool{}, map[axiom]bool{}
	classes := map[string]bool{}
	for _, q := range quads {
		switch q.P.Value {
		case rdfsNS + "domain", rdfsNS + "range", rdfsNS + "subClassOf", rdfsNS + "subPropertyOf":
			theirs[axiom{q.S.Value, q.P.Value, q.O.Value}] = true
		case outside.RDFType:
			classes[q.S.Value] = q.O.Value == rdfsNS+"Class"
		}
	}
	declared := map[string]bool{}
	for _, p := range vocab.Properties() {
		if p.Source != vocab.FromCRM {
			continue
		}
		declared[p.IRI] = true
		domain, rng := vocab.DomainRange(p)
		for _, a := range []axiom{{p.IRI, rdfsNS + "domain", domain}, {p.IRI, rdfsNS + "range", rng}} {
			if a.o != "" {
				ours[a] = true
			}
		}
		for _, s := range p.Supers {
			ours[axiom{p.IRI, rdfsNS + "subPropertyOf", s}] = true
		}
	}
	for iri, isClass := range classes {
		if !isClass {
			if !declared[iri] && strings.HasPrefix(iri, crmNS+"P") {
				t.Errorf("property %s of the package is not in our tables", iri)
			}
			continue
		}
		for _, s := range vocab.SuperClasses(iri) {
			if strings.HasPrefix(s, crmNS) { // the profile puts some classes under its own as well
				ours[axiom{iri, rdfsNS + "subClassOf", s}] = true
			}
		}
	}
	for iri := range declared {
		if _, ok := classes[iri]; !ok {
			t.Errorf("property %s of our tables is not in the package", iri)
		}
	}
	dev := outside.LoadDeviations(t, "vocabulary")
	name := func(a axiom) string {
		return outside.Use{Subject: a.s, Property: a.p, Object: a.o}.String()
	}
	for a := range theirs {
		if ours[a] {
			dev.Check(name(a), nil)
		} else {
			dev.Check(name(a), errors.New("in the package, not in our tables"))
		}
	}
	for a := range ours {
		if !theirs[a] {
			dev.Check(name(a), errors.New("in our tables, not in the package"))
		}
	}
	t.Logf("%d properties, %d axioms in the package, %d in our tables", len(declared), len(theirs), len(ours))
	outside.AtLeast(t, "properties", len(declared), 300)
	dev.Done(true, 880)
}

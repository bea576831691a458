package conformance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"

	"ropewalk/conformance/outside"
	"ropewalk/mapping/validate"
)

// TestOntologyRead proves the reading of the published ontologies: two readers of
// RDF/XML find the same classes, domains and ranges.
func TestOntologyRead(t *testing.T) {
	knakk := outside.PublishedOntology(t, outside.Knakk())
	if err := knakk.Equal(outside.PublishedOntology(t, readerNamed(t, "rdflib"))); err != nil {
		t.Errorf("knakk and rdflib: %v", err)
	}
	classes, properties := knakk.Counts()
	t.Logf("%d classes, %d properties", classes, properties)
	outside.AtLeast(t, "classes", classes, 85)
	outside.AtLeast(t, "properties", properties, 300)
}

// TestExamplesOntology holds the published examples that are valid against the
// domains and ranges of the published ontologies.
func TestExamplesOntology(t *testing.T) {
	ontology := outside.PublishedOntology(t, outside.Knakk())
	expand := outside.PublishedContext(t)
	uses := map[outside.Use]int{}
	for _, e := range outside.Examples(t) {
		if !e.Valid {
			continue
		}
		quads, err := expand.Quads(e.Text)
		if err != nil {
			t.Fatalf("%s: %v", e.File, err)
		}
		outside.Uses(quads, uses)
	}
	checkUses(t, ontology, "ontology-examples", uses, 2000)
}

// TestValidateAgrees holds the verdicts of our own check of domain and range
// against those of the published ontologies: every class with every property and
// every class or datatype.
func TestValidateAgrees(t *testing.T) {
	ontology := outside.PublishedOntology(t, outside.Knakk())
	dev := outside.LoadDeviations(t, "validate")
	classes := ontology.Classes()
	objects := append([]string{xsdNS + "string", xsdNS + "dateTime", xsdNS + "double", xsdNS + "integer"}, classes...)
	compared := 0
	for _, p := range ontology.Properties(true) {
		var fault error
		for i, s := range classes {
			if i%8 != 0 && !outside.Long() {
				continue
			}
			for _, o := range objects {
				compared++
				use := outside.Use{Subject: s, Property: p, Object: o}
				theirs := ontology.Allows(use)
				ours, why := validate.Allowed(s, p, o)
				if ours != (theirs == nil) && fault == nil {
					fault = fmt.Errorf("%v: we say %v (%s), the ontologies %v", use, ours, why, theirs)
				}
			}
		}
		dev.Check(p[strings.LastIndexAny(p, "#/")+1:], fault)
	}
	t.Logf("%d uses of properties compared", compared)
	dev.Done(true, 330)
}

// checkUses holds the uses of properties against the ontologies.
func checkUses(t *testing.T, ontology *outside.Ontology, group string, uses map[outside.Use]int, triples int) {
	t.Helper()
	dev := outside.LoadDeviations(t, group)
	list := make([]outside.Use, 0, len(uses))
	total := 0
	for u, n := range uses {
		list = append(list, u)
		total += n
	}
	slices.SortFunc(list, func(a, b outside.Use) int { return cmp.Compare(a.String(), b.String()) })
	for _, u := range list {
		dev.Check(u.String(), ontology.Allows(u))
	}
	t.Logf("%d triples in %d uses of properties", total, len(list))
	outside.AtLeast(t, "triples", total, triples)
	dev.Done(true, len(list)/2)
}

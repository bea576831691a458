package vocab

import (
	"maps"
	"slices"
	"testing"
)

func TestIsA(t *testing.T) {
	for _, tt := range []struct {
		class, super string
		want         bool
	}{
		{crmNS + "E22_Human-Made_Object", crmNS + "E22_Human-Made_Object", true},
		{crmNS + "E22_Human-Made_Object", crmNS + "E1_CRM_Entity", true},
		{crmNS + "E1_CRM_Entity", crmNS + "E22_Human-Made_Object", false},
		{crmNS + "E98_Currency", crmNS + "E55_Type", true},
		{laNS + "Payment", crmNS + "E7_Activity", true},
		{laNS + "Set", crmNS + "E72_Legal_Object", true},
		{crmNS + "E74_Group", laNS + "Set", true},
		{crmNS + "E21_Person", laNS + "Set", false},
		{"http://www.ics.forth.gr/isl/CRMdig/D1_Digital_Object", crmNS + "E73_Information_Object", true},
		{"http://www.ics.forth.gr/isl/CRMsci/S19_Encounter_Event", crmNS + "E5_Event", true},
		{nsXSD + "dateTime", rdfsLiteral, true},
		{nsXSD + "dateTime", crmNS + "E1_CRM_Entity", false},
		{"https://example.org/X", "https://example.org/Y", false},
		{"https://example.org/X", "https://example.org/X", true},
	} {
		if got := IsA(tt.class, tt.super); got != tt.want {
			t.Errorf("IsA(%s, %s) = %v", tt.class, tt.super, got)
		}
	}
}

func TestProperties(t *testing.T) {
	p := PropertyByIRI(crmNS + "P108i_was_produced_by")
	if d, r := DomainRange(p); d != crmNS+"E24_Physical_Human-Made_Thing" || r != crmNS+"E12_Production" {
		t.Errorf("P108i: %s %s", d, r)
	}
	if !p.Allows(crmNS+"E22_Human-Made_Object", crmNS+"E12_Production") || p.Allows(crmNS+"E21_Person", crmNS+"E12_Production") {
		t.Error("P108i allows the wrong classes")
	}
	if PropertyByIRI("https://example.org/p") != nil {
		t.Error("an unknown property was found")
	}
	for _, p := range Properties() {
		if p.Inverse != "" && PropertyByIRI(p.Inverse) == nil {
			t.Errorf("%s: its inverse %s is not there", p.IRI, p.Inverse)
		}
	}
	for _, term := range Terms() {
		if PropertyByIRI(term.IRI) == nil {
			t.Errorf("%s: no property %s", term.Key, term.IRI)
		}
	}
}

// outsideOntology lists what the published schemas allow although domains and
// ranges do not: shape, key and class of the subject. A document that uses one of
// them is valid JSON and makes a statement that CIDOC CRM does not cover.
var outsideOntology = []string{
	"Dissolution.influenced_by Dissolution", // P15 is for E7 Activity, E68 Dissolution is not one
	"abstract.subject_to PropositionalObject",
	"event.carried_out_by Event",
	"event.carried_out_by Period",
	"event.caused_by Period",
	"event.influenced_by Event",
	"event.influenced_by Period",
	"event.participant Period",
	"event.technique Event",
	"event.technique Period",
	"event.used_specific_object Event",
	"event.used_specific_object Period",
}

// TestShapesWithinOntology holds every shape against domain and range: all that
// the schemas allow beyond them is listed above, and nothing else.
func TestShapesWithinOntology(t *testing.T) {
	found := map[string]bool{}
	for _, s := range Shapes() {
		for _, sl := range s.Slots {
			for _, c := range s.Classes {
				p := PropertyByIRI(c.Term(sl.Key).IRI)
				if !IsA(c.IRI, p.Domain) {
					found[s.Name+"."+sl.Key+" "+c.Key] = true
				}
				for _, o := range sl.Shapes {
					for _, oc := range o.Classes {
						if !IsA(oc.IRI, p.Range) {
							t.Errorf("%s.%s: range %s, but %s is allowed", s.Name, sl.Key, p.Range, oc.Key)
						}
					}
				}
				switch sl.Kind {
				case KindText, KindNumber, KindDateTime:
					if !IsA(nsXSD+"string", p.Range) {
						t.Errorf("%s.%s: a literal where %s is asked for", s.Name, sl.Key, p.Range)
					}
				}
			}
		}
	}
	if got := slices.Sorted(maps.Keys(found)); !slices.Equal(got, outsideOntology) {
		t.Errorf("outside the ontology:\n%q\nlisted:\n%q", got, outsideOntology)
	}
}

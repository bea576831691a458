package validate

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

const crm = "http://www.cidoc-crm.org/cidoc-crm/"

func TestAllowed(t *testing.T) {
	for _, tt := range []struct{ subject, property, object, why string }{
		{crm + "E22_Human-Made_Object", crm + "P108i_was_produced_by", crm + "E12_Production", ""},
		{crm + "E22_Human-Made_Object", crm + "P1_is_identified_by", crm + "E33_E41_Linguistic_Appellation", ""},
		{crm + "E21_Person", crm + "P108i_was_produced_by", crm + "E12_Production", "P108i_was_produced_by starts from E24_Physical_Human-Made_Thing, and E21_Person is none"},
		{crm + "E22_Human-Made_Object", crm + "P108i_was_produced_by", crm + "E8_Acquisition", "P108i_was_produced_by leads to E12_Production, and E8_Acquisition is none"},
		{crm + "E22_Human-Made_Object", crm + "P999_was_sung_by", crm + "E21_Person", "neither CIDOC CRM nor the profile has a property " + crm + "P999_was_sung_by"},
		{crm + "E54_Dimension", crm + "P90_has_value", entity.XSDDouble, ""},
		{crm + "E54_Dimension", crm + "P91_has_unit", entity.XSDString, "P91_has_unit leads to E58_Measurement_Unit, and string is none"},
		{crm + "E5_Event", crm + "P14_carried_out_by", crm + "E21_Person", "P14_carried_out_by starts from E7_Activity, and E5_Event is none"},
		{crm + "E13_Attribute_Assignment", crm + "P177_assigned_property_of_type", rdfProperty, ""},
	} {
		ok, why := Allowed(tt.subject, tt.property, tt.object)
		if ok != (tt.why == "") || why != tt.why {
			t.Errorf("%s %s %s: %v %q", local(tt.subject), local(tt.property), local(tt.object), ok, why)
		}
	}
}

func TestEveryDeviationIsNeeded(t *testing.T) {
	for i, dev := range deviations {
		if len(dev.reason) < 40 {
			t.Errorf("entry %d has no reason", i)
		}
		if vocab.PropertyByIRI(dev.property) == nil {
			t.Errorf("entry %d: no property %s", i, dev.property)
		}
		others := slices.Delete(slices.Clone(deviations), i, i+1)
		if unused := func() bool {
			for _, c := range vocab.Classes() {
				if dev.subject == "" || dev.subject == c.IRI {
					if ok, _ := allowed(others, c.IRI, dev.property, dev.object); !ok {
						return false
					}
				}
			}
			return true
		}(); unused {
			t.Errorf("entry %d is allowed without it: remove it", i)
		}
	}
}

// TestPublishedExamplesWithinCRM counts the statements of the published examples.
// Those that domain and range forbid are the profile's, not ours; they are listed.
func TestPublishedExamplesWithinCRM(t *testing.T) {
	files, docs, _ := published(t)
	statements := 0
	found := map[string]int{}
	for _, f := range files {
		if docs[f] == nil {
			continue
		}
		for _, tr := range docs[f].Triples() {
			if tr.Predicate.Value != entity.TypeIRI {
				statements++
			}
		}
		for _, p := range Domain(docs[f]) {
			found[p.Message]++
		}
	}
	t.Logf("%d statements besides classes, outside domain and range: %v", statements, found)
	if statements < 1300 {
		t.Errorf("only %d statements", statements)
	}
	if len(found) != 0 {
		t.Errorf("outside domain and range: %v", found)
	}
}

func TestDomainSaysWhere(t *testing.T) {
	d := new(entity.Document)
	d.Begin(nil, false, vocab.ClassByKey("Event"), true, "http://example.org/1", -1)
	d.Text(term("Event", "_label"), false, "The storm", -1)
	for _, who := range []string{"http://example.org/2", "http://example.org/3"} {
		d.Begin(term("Event", "carried_out_by"), true, vocab.ClassByKey("Person"), true, who, -1)
		d.End()
	}
	d.End()
	var got []string
	for _, p := range Domain(d) {
		got = append(got, fmt.Sprintf("%s %s %s %s", p.Rule, p.Path, d.Events()[p.Event].Value, p.Message))
	}
	const why = "P14_carried_out_by starts from E7_Activity, and E5_Event is none"
	want := "outside-crm /carried_out_by/0 http://example.org/2 " + why + "\noutside-crm /carried_out_by/1 http://example.org/3 " + why
	if s := strings.Join(got, "\n"); s != want {
		t.Errorf("got\n%s\nwant\n%s", s, want)
	}
}

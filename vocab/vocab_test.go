package vocab

import "testing"

func TestTermsByClass(t *testing.T) {
	for _, tt := range []struct{ class, key, want string }{
		{"HumanMadeObject", "part", "http://www.cidoc-crm.org/cidoc-crm/P46_is_composed_of"},
		{"Place", "part", "http://www.cidoc-crm.org/cidoc-crm/P89i_contains"},
		{"Production", "part", "http://www.cidoc-crm.org/cidoc-crm/P9_consists_of"},
		{"Name", "part", "http://www.cidoc-crm.org/cidoc-crm/P106_is_composed_of"},
		{"Person", "member_of", "http://www.cidoc-crm.org/cidoc-crm/P107i_is_current_or_former_member_of"},
		{"Set", "member", "https://linked.art/ns/terms/has_member"},
		{"Encounter", "encountered", "http://www.ics.forth.gr/isl/CRMsci/O19_encountered_object"},
		{"Dimension", "upper_value_limit", "http://www.cidoc-crm.org/cidoc-crm/P90b_has_upper_value_limit"},
		{"Encounter", "part_of", ""},
		{"Place", "no_such_key", ""},
	} {
		got := ""
		if term := ClassByKey(tt.class).Term(tt.key); term != nil {
			got = term.IRI
		}
		if got != tt.want {
			t.Errorf("%s.%s is %q, want %q", tt.class, tt.key, got, tt.want)
		}
	}
}

func TestResolve(t *testing.T) {
	const crm = "http://www.cidoc-crm.org/cidoc-crm/"
	for _, tt := range []struct{ class, name, want string }{
		{"HumanMadeObject", "part_of", crm + "P46i_forms_part_of"},
		{"Type", "part_of", "http://www.w3.org/2004/02/skos/core#broader"},
		{"Person", "part_of", crm + "P9i_forms_part_of"},
		{"", "part_of", crm + "P9i_forms_part_of"},
		{"Person", "member_of", "https://linked.art/ns/terms/member_of"},
		{"Person", "identified_by", crm + "P1_is_identified_by"},
		{"Person", "crm:P1_is_identified_by", crm + "P1_is_identified_by"},
		{"Person", "Type", crm + "E55_Type"},
		{"Person", "member", ""},
		{"Person", "crm://x", ""},
		{"Person", "nonsense:x", ""},
	} {
		if got := ClassByKey(tt.class).Resolve(tt.name); got != tt.want {
			t.Errorf("%s: %s is %q, want %q", tt.class, tt.name, got, tt.want)
		}
	}
}

func TestShapes(t *testing.T) {
	name := ShapeByName("Name")
	if name == nil || name.Slots[0].Key != "_label" || name.Slot("part").Shapes[0] != name {
		t.Fatalf("Name is not the recursive shape of the schemas: %+v", name)
	}
	obj := EndpointByName("object")
	if sl := obj.Shape.Slot("identified_by"); !sl.Many || sl.Kind != KindNode || len(sl.Shapes) != 2 {
		t.Errorf("object identified_by: %+v", sl)
	}
	if r := Record(ClassByKey("Activity")); len(r) != 2 || r[0].Name != "event" || r[1].Name != "provenance" {
		t.Errorf("endpoints of Activity: %v", r)
	}
	if sl := ShapeByName("AttributeAssignment").Slot("assigned"); sl.Kind != KindNode || !sl.Many || sl.Shapes != nil {
		t.Errorf("assigned: %+v", sl)
	}
	for _, s := range Shapes() {
		if len(s.Classes) == 0 {
			t.Errorf("%s has no class", s.Name)
		}
		for i, sl := range s.Slots {
			if sl.Index != i {
				t.Errorf("%s.%s: index %d at %d", s.Name, sl.Key, sl.Index, i)
			}
			for _, c := range s.Classes {
				if term := c.Term(sl.Key); term == nil || term.Kind != sl.Kind {
					t.Errorf("%s.%s: kind %d, term %+v", s.Name, sl.Key, sl.Kind, term)
				}
			}
		}
	}
	for i, term := range Terms() {
		if int(term.Index) != i {
			t.Errorf("term %s has index %d at %d", term.Key, term.Index, i)
		}
	}
}

package entity_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/entity/entitytest"
	"ropewalk/vocab"
)

// TestTriplesOnce: no triple comes twice, and none is missing that a walk without
// regard to repetition gives.
func TestTriplesOnce(t *testing.T) {
	repeated := 0
	rapid.Check(t, func(t *rapid.T) {
		d := entitytest.Documents(entitytest.Options{Keys: true}).Draw(t, "document")
		got := map[entity.Triple]bool{}
		for i, tr := range d.Triples() {
			if got[tr] {
				t.Fatalf("twice: %v", tr)
			}
			if e := d.Events()[i]; e.Kind == entity.Close {
				t.Fatalf("event %d of %v is a Close", i, tr)
			}
			got[tr] = true
		}
		if d.Said() != nil {
			repeated++
		}
		want := walk(d)
		for tr := range want {
			if !got[tr] {
				t.Fatalf("missing: %v", tr)
			}
		}
		if len(got) != len(want) {
			t.Fatalf("%d triples, want %d", len(got), len(want))
		}
	})
	t.Logf("%d documents with repeated triples", repeated)
	if repeated < 10 {
		t.Errorf("only %d documents had repeated triples", repeated)
	}
}

// walk gives the triples of d by recursion.
func walk(d *entity.Document) map[entity.Triple]bool {
	all := map[entity.Triple]bool{}
	iri := func(s string) entity.RDFTerm { return entity.RDFTerm{Kind: entity.IRI, Value: s} }
	ev, names := d.Events(), d.Names()
	var node func(i int) int
	node = func(i int) int {
		s := iri(names[i])
		all[entity.Triple{Subject: s, Predicate: iri(entity.TypeIRI), Object: iri(ev[i].Class.IRI)}] = true
		k := i + 1
		for ; ev[k].Kind != entity.Close; k++ {
			o, p := entity.RDFTerm{Kind: entity.Literal, Value: ev[k].Value}, iri(ev[k].Term.IRI)
			switch ev[k].Kind {
			case entity.Open:
				o = iri(names[k])
				k = node(k)
			case entity.TermName:
				o = iri(names[k])
			case entity.DateTime:
				o.Datatype = entity.XSDDateTime
			case entity.Number:
				b, whole := entity.AppendDecimal(nil, o.Value)
				o.Value, o.Datatype = string(b), entity.XSDDouble
				if whole {
					o.Datatype = entity.XSDInteger
				}
			}
			all[entity.Triple{Subject: s, Predicate: p, Object: o}] = true
		}
		return k
	}
	node(0)
	return all
}

// TestTextKeys: saidBefore and the renderers rely on it that no two keys for
// literals stand for one property.
func TestTextKeys(t *testing.T) {
	seen := map[string]string{}
	for _, term := range vocab.Terms() {
		if term.Kind == vocab.KindNode || term.Key == seen[term.IRI] {
			continue
		}
		if seen[term.IRI] != "" {
			t.Errorf("%s and %s are both %s", term.Key, seen[term.IRI], term.IRI)
		}
		seen[term.IRI] = term.Key
	}
}

func TestOriginOfTriples(t *testing.T) {
	d := build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) { name(d, c, "", "Sextant") })
	var at []int
	for i := range d.Triples() {
		at = append(at, i)
	}
	if want := []int{0, 1, 1, 2}; !slices.Equal(at, want) {
		t.Errorf("triples come from events %v, want %v", at, want)
	}
}

// TestAssignedPropertyScope follows the scoping of the published context: what an
// object's attributed_by says of part_of holds for all that is nested in it.
func TestAssignedPropertyScope(t *testing.T) {
	const crm = "http://www.cidoc-crm.org/cidoc-crm/"
	head := `{"@context":"https://linked.art/ns/v1/linked-art.json","id":"https://m.example/1",`
	for _, tt := range []struct{ body, want string }{
		{head + `"type":"HumanMadeObject","attributed_by":[{"type":"AttributeAssignment","assigned_property":"part_of"}]}`, crm + "P46i_forms_part_of"},
		{head + `"type":"Person","attributed_by":[{"type":"AttributeAssignment","assigned_property":"part_of"}]}`, crm + "P9i_forms_part_of"},
		{head + `"type":"HumanMadeObject","attributed_by":[{"type":"AttributeAssignment","assigned_property":"part"}]}`, crm + "P9_consists_of"},
		{head + `"type":"HumanMadeObject","attributed_by":[{"type":"AttributeAssignment","identified_by":[{"type":"Identifier","content":"x","assigned_by":[{"type":"AttributeAssignment","assigned_property":"part_of"}]}]}]}`, crm + "P46i_forms_part_of"},
		{head + `"type":"HumanMadeObject","identified_by":[{"type":"Identifier","content":"x","assigned_by":[{"type":"AttributeAssignment","assigned_property":"part_of"}]}]}`, crm + "P9i_forms_part_of"},
	} {
		d, err := entity.Parse([]byte(tt.body), "")
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, tr := range d.Triples() {
			if strings.HasSuffix(tr.Predicate.Value, "P177_assigned_property_of_type") {
				got = tr.Object.Value
			}
		}
		if got != tt.want {
			t.Errorf("%s\ngives %s, want %s", tt.body, got, tt.want)
		}
	}
}

func TestErr(t *testing.T) {
	c := vocab.ClassByKey("HumanMadeObject")
	bad := build("https://museum.example/object/1 2", func(*entity.Document, *vocab.Class) {})
	if bad.Err() == nil {
		t.Error("a space in the document's IRI is accepted")
	}
	typ := vocab.ClassByKey("Type")
	bad = build("https://museum.example/object/1", func(d *entity.Document, c *vocab.Class) {
		d.Begin(c.Term("classified_as"), true, typ, true, "terms/3", -1)
		d.End()
	})
	if bad.Err() == nil {
		t.Error("a relative reference is accepted")
	}
	bad = build("https://museum.example/object/1", func(d *entity.Document, _ *vocab.Class) {
		a := vocab.ClassByKey("AttributeAssignment")
		d.Begin(c.Term("attributed_by"), true, a, false, "", -1)
		d.Value(entity.TermName, a.Term("assigned_property"), false, "nonsense", -1)
		d.End()
	})
	if bad.Err() == nil {
		t.Error("an unknown term is accepted")
	}
	good := build("https://museum.example/object/1", func(*entity.Document, *vocab.Class) {})
	if good.Err() != nil {
		t.Error(good.Err())
	}
}

func TestNumbersInRDF(t *testing.T) {
	for _, tt := range []struct {
		in, want string
		integer  bool
	}{
		{"0", "0", true}, {"-0", "0", true}, {"12", "12", true}, {"-7", "-7", true}, {"100000000000000000000", "100000000000000000000", true},
		{"123456789012345680", "123456789012345680", true}, {"999999999999999900000", "999999999999999868928", true}, {"1e+21", "1.0E21", false},
		{"80.9", "8.090000000000001E1", false}, {"9.2", "9.199999999999999E0", false}, {"5.3", "5.3E0", false}, {"0.5", "5.0E-1", false}, {"1e-7", "1.0E-7", false},
		{"-12.75", "-1.275E1", false}, {"5e-324", "4.940656458412465E-324", false}, {"1.7976931348623157e+308", "1.797693134862316E308", false},
	} {
		got, integer := entity.AppendDecimal(nil, tt.in)
		if string(got) != tt.want || integer != tt.integer {
			t.Errorf("%s is %s (integer %v), want %s (%v)", tt.in, got, integer, tt.want, tt.integer)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		f := entitytest.Number().Draw(t, "number")
		if got, _ := entity.AppendDecimal([]byte("x"), string(entity.AppendNumber(nil, f))); got[0] != 'x' || len(got) < 2 {
			t.Fatalf("%v gives %q", f, got)
		}
	})
}

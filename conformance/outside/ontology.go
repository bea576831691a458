package outside

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

// Ontology is what published ontologies say of classes and properties.
type Ontology struct {
	classes map[string][]string // class to its direct super-classes
	domain  map[string][]string // property to its domains; a property without one is declared all the same
	ranges  map[string][]string
	source  map[string]string // class or property to the file that declares it
}

// The files of an [Ontology], in the order in which they are believed: a property
// that an earlier file declares is not looked up in a later one. The last is an
// older CRM, which the profile ships.
var ontologyFiles = []string{
	"crm/CIDOC_CRM_v7.1.3.rdf",
	"linked-art/ns-terms/index.xml",
	"linked-art/ontologies/linkedart_crm_enhancements.rdf",
	"linked-art/ontologies/cidoc.rdf",
}

// crmBase is the address from which the files count relative references.
const crmBase = "http://www.cidoc-crm.org/cidoc-crm/"

const rdfs = "http://www.w3.org/2000/01/rdf-schema#"

// PublishedOntology reads CIDOC CRM and the profile's own ontologies with a
// reader of RDF/XML.
func PublishedOntology(t testing.TB, reader *Reader) *Ontology {
	t.Helper()
	o := &Ontology{map[string][]string{}, map[string][]string{}, map[string][]string{}, map[string]string{}}
	for _, file := range ontologyFiles {
		text := ReadShared(t, append([]string{"standards"}, strings.Split(file, "/")...)...)
		a := reader.Read([]Request{{Syntax: RDFXML, Base: crmBase, Text: text}})[0]
		if a.Err != nil {
			t.Fatalf("%s read by %s: %v", file, reader.Name, a.Err)
		}
		o.add(file, a.Quads)
	}
	return o
}

func (o *Ontology) add(file string, quads []Quad) {
	for _, q := range quads {
		if q.P.Value != RDFType || o.source[q.S.Value] != "" {
			continue
		}
		switch name := q.O.Value[strings.LastIndexAny(q.O.Value, "#/")+1:]; name {
		case "Class", "Property", "DatatypeProperty", "ObjectProperty":
			o.source[q.S.Value] = file
			if name == "Class" {
				o.classes[q.S.Value] = nil
			}
		}
	}
	older := file == ontologyFiles[len(ontologyFiles)-1]
	for _, q := range quads {
		// The profile puts classes of CRM under its own too; what an older CRM said
		// of classes that CRM still has is past.
		if q.P.Value == rdfs+"subClassOf" && !slices.Contains(o.classes[q.S.Value], q.O.Value) && (!older || o.source[q.S.Value] == file) {
			o.classes[q.S.Value] = append(o.classes[q.S.Value], q.O.Value)
		}
		if o.source[q.S.Value] != file {
			continue
		}
		switch q.P.Value {
		case rdfs + "domain":
			o.domain[q.S.Value] = append(o.domain[q.S.Value], q.O.Value)
		case rdfs + "range":
			o.ranges[q.S.Value] = append(o.ranges[q.S.Value], q.O.Value)
		}
	}
}

// Counts are the numbers of classes and properties declared.
func (o *Ontology) Counts() (classes, properties int) {
	return len(o.classes), len(o.source) - len(o.classes)
}

// Equal compares two readings of the same files.
func (o *Ontology) Equal(p *Ontology) error {
	for _, m := range []struct {
		name string
		a, b map[string][]string
	}{{"super-classes", o.classes, p.classes}, {"domain", o.domain, p.domain}, {"range", o.ranges, p.ranges}} {
		if len(m.a) != len(m.b) {
			return fmt.Errorf("%s: %d and %d entries", m.name, len(m.a), len(m.b))
		}
		for k, a := range m.a {
			x, y := slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(m.b[k]))
			if !slices.Equal(x, y) {
				return fmt.Errorf("%s of %s: %v and %v", m.name, k, x, y)
			}
		}
	}
	return nil
}

// isA reports whether class is super or below it.
func (o *Ontology) isA(class, super string) bool {
	if class == super {
		return true
	}
	for _, s := range o.classes[class] {
		if s != class && o.isA(s, super) {
			return true
		}
	}
	return false
}

// Use is a property as it stands between a subject of one class and an object of
// another, or a literal of a datatype.
type Use struct{ Subject, Property, Object string }

// String is the use in short names.
func (u Use) String() string {
	name := func(iri string) string {
		if iri == "" {
			return "(no class)"
		}
		return short(iri)
	}
	if u.Property == RDFType {
		return "type " + name(u.Object)
	}
	return name(u.Subject) + " " + short(u.Property) + " " + name(u.Object)
}

// short drops the namespace of an IRI.
func short(iri string) string { return iri[strings.LastIndexAny(iri, "#/")+1:] }

// Uses counts how each property is used in a graph. A node with several classes
// stands for each of them; a node without one has the class "".
func Uses(quads []Quad, into map[Use]int) {
	types := map[Term][]string{}
	for _, q := range quads {
		if q.P.Value == RDFType {
			types[q.S] = append(types[q.S], q.O.Value)
		}
	}
	of := func(t Term) []string {
		switch {
		case t.Kind == Literal:
			return []string{t.Datatype}
		case len(types[t]) == 0:
			return []string{""}
		}
		return types[t]
	}
	seen := map[Quad]bool{}
	for _, q := range quads {
		if seen[q] {
			continue
		}
		seen[q] = true
		if q.P.Value == RDFType {
			into[Use{Property: RDFType, Object: q.O.Value}]++
			continue
		}
		for _, s := range of(q.S) {
			for _, o := range of(q.O) {
				into[Use{s, q.P.Value, o}]++
			}
		}
	}
}

// Allows is nil if the ontologies allow a use: the class of the subject is in the
// property's domain, the class or datatype of the object in its range.
func (o *Ontology) Allows(u Use) error {
	if u.Property == RDFType {
		if _, ok := o.classes[u.Object]; !ok {
			return fmt.Errorf("class %s is declared nowhere", u.Object)
		}
		return nil
	}
	if o.source[u.Property] == "" {
		return fmt.Errorf("property %s is declared nowhere", u.Property)
	}
	within := func(class string, allowed []string) bool {
		return len(allowed) == 0 || slices.ContainsFunc(allowed, func(a string) bool {
			if a == rdfs+"Literal" {
				_, isClass := o.classes[class]
				return class != "" && !isClass
			}
			return o.isA(class, a)
		})
	}
	if !within(u.Subject, o.domain[u.Property]) {
		return fmt.Errorf("subject is %q, domain of %s is %v (%s)", short(u.Subject), short(u.Property), shorts(o.domain[u.Property]), o.source[u.Property])
	}
	if !within(u.Object, o.ranges[u.Property]) {
		return fmt.Errorf("object is %q, range of %s is %v (%s)", short(u.Object), short(u.Property), shorts(o.ranges[u.Property]), o.source[u.Property])
	}
	return nil
}

func shorts(iris []string) (out []string) {
	for _, i := range iris {
		out = append(out, short(i))
	}
	return out
}

// Classes lists the classes declared, sorted.
func (o *Ontology) Classes() []string { return slices.Sorted(maps.Keys(o.classes)) }

// Properties lists the properties declared, sorted; with current, without those
// that only the profile's copy of an older CRM declares.
func (o *Ontology) Properties(current bool) (list []string) {
	for iri, file := range o.source {
		if _, isClass := o.classes[iri]; !isClass && (!current || file != ontologyFiles[len(ontologyFiles)-1]) {
			list = append(list, iri)
		}
	}
	slices.Sort(list)
	return list
}

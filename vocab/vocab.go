// Package vocab holds the vocabulary Ropewalk writes in: the classes and
// properties of CIDOC CRM with domain, range, inverse and super-properties, and
// the JSON terms and record shapes of the Linked Art 1.0 profile.
//
// Start with [ClassByKey] for a class of the profile, [Class.Term] for a JSON
// key as it stands on that class, and [Record] for the shape of a document. The
// tables are generated from the published ontologies, context and schemas by
// vocab/gen; tests prove that they are current.
//
// All values are immutable and may be shared by goroutines.
package vocab

import (
	"slices"
	"strings"
)

// Class is a class a node of a document can have, under its JSON name in the
// profile's context.
type Class struct {
	Key   string // JSON type, such as "HumanMadeObject"
	IRI   string // full IRI, such as "http://www.cidoc-crm.org/cidoc-crm/E22_Human-Made_Object"
	Index uint16 // dense, from 0, for side tables

	terms  map[string]*Term // keys whose meaning the class changes (the context's scoped terms)
	partOf string           // IRI of what "part_of" names in assigned_property; "" for the usual meaning
}

// Kind says what a term's values are.
type Kind uint8

// The kinds of values.
const (
	KindNode     Kind = iota + 1 // a node: a reference or an embedded node
	KindText                     // a plain string: xsd:string in RDF
	KindNumber                   // a JSON number: xsd:integer or xsd:double in RDF (JSON-LD 1.1 API §8.6)
	KindDateTime                 // xsd:dateTime
	KindTerm                     // a string that names a term of the context ("@type": "@vocab"): an IRI in RDF
)

// Term is a JSON key with the property it stands for on a class. The same key
// gives different terms where the profile's context scopes it by class: "part"
// on HumanMadeObject is P46, on Place P89i.
type Term struct {
	Key   string // JSON key
	IRI   string // full IRI of the property
	Kind  Kind
	Set   bool   // the context gives it "@container": "@set"
	Index uint16 // dense, from 0, for side tables
}

// Property is a property of CIDOC CRM or of an extension the profile uses.
// Inverse forms (P46i) are entries of their own.
type Property struct {
	IRI     string
	Domain  string   // IRI of the class a subject must have; "" if the ontology gives none
	Range   string   // IRI of the class or datatype of an object; "" if none is given
	Inverse string   // IRI of the inverse property; "" if none
	Supers  []string // IRIs of the direct super-properties
	Source  Source   // which publication declares it
}

// IDRule says whether a node of a shape carries an identifier.
type IDRule uint8

// The identifier rules.
const (
	IDForbidden IDRule = iota // embedded: has no "id" in JSON
	IDRequired                // a reference or a document: must have "id"
)

// Shape is a form a node may take in the profile: which class, whether it has an
// identifier, and which keys. A document's root has the shape given by [Record].
type Shape struct {
	Name     string   // as in the published schemas, such as "Statement" or "PersonRef"
	Classes  []*Class // the classes a node of this shape may have; never empty
	ID       IDRule
	Slots    []*Slot // in the order in which documents are written
	Document bool    // the shape is that of a whole document
}

// Slot is a key of a shape and what may stand in it.
type Slot struct {
	Key      string
	Many     bool     // an array in JSON
	Required bool     // must be present and, for arrays, the published schema demands the key
	Kind     Kind     // kind of the values
	Shapes   []*Shape // for KindNode: the shapes allowed; nil allows any shape ("assigned")
	Index    int      // place in Shape.Slots
}

// Endpoint is one of the kinds of record the profile serves, such as "object" or
// "provenance".
type Endpoint struct {
	Name   string // last path segment used by the profile
	Schema string // address of the published JSON Schema
	Shape  *Shape
}

// Slot returns the slot of key, or nil if the shape has no such key.
func (s *Shape) Slot(key string) *Slot {
	for _, sl := range s.Slots {
		if sl.Key == key {
			return sl
		}
	}
	return nil
}

// Allows reports whether a node of class c may have this shape.
func (s *Shape) Allows(c *Class) bool {
	for _, k := range s.Classes {
		if k == c {
			return true
		}
	}
	return false
}

// Term returns the term of a JSON key on nodes of class c, or nil if the
// context has no such key.
func (c *Class) Term(key string) *Term {
	if t := c.terms[key]; t != nil {
		return t
	}
	return terms[key]
}

// Resolve returns the IRI of a name that stands as a value of a [KindTerm] key,
// that is, in the assigned_property of an AttributeAssignment: a key or a class of
// the context, or a compact IRI with one of its prefixes. Class c is the class of
// the node that has the assignment under attributed_by, because "part_of" names
// another property there on some classes; for an assignment that stands under
// another key (assigned_by), or in a document of its own, c is nil. Resolve
// returns "" if the context gives the name no meaning.
//
// The names that AttributeAssignment itself has in scope (part, part_of,
// member_of) keep the meaning they have on it, as JSON-LD 1.1 §4.1.8 rules, save
// for the "part_of" above; so "member_of" is la:member_of on a Person, too.
func (c *Class) Resolve(name string) string {
	if name == "part_of" && c != nil && c.partOf != "" {
		return c.partOf
	}
	if t := assignment.Term(name); t != nil {
		return t.IRI
	}
	if k := classes[name]; k != nil {
		return k.IRI
	}
	if p, local, ok := strings.Cut(name, ":"); ok && !strings.HasPrefix(local, "//") {
		if ns, ok := prefixes[p]; ok {
			return ns + local
		}
	}
	return ""
}

// ClassByKey returns the class with a JSON type name, or nil.
func ClassByKey(key string) *Class { return classes[key] }

// Record returns the endpoints at which a document of class c may be served, in
// the profile's order. Activity has two: event and provenance.
func Record(c *Class) []*Endpoint { return records[c] }

// EndpointByName returns the endpoint with a name, or nil.
func EndpointByName(name string) *Endpoint { return endpoints[name] }

// Classes lists the classes by index.
func Classes() []*Class { return slices.Clone(classList) }

// Terms lists the terms by index, those scoped by class last.
func Terms() []*Term { return slices.Clone(termList) }

// Shapes lists all shapes: documents first, in the order of [Endpoints].
func Shapes() []*Shape { return slices.Clone(shapeList) }

// Endpoints lists the endpoints in the profile's order.
func Endpoints() []*Endpoint { return slices.Clone(endpointList) }

// ShapeByName returns the shape with a name, or nil. A document's shape has its
// endpoint's name; a name that two schemas define has the schema's name and a
// point before it, as in "object.Encounter".
func ShapeByName(name string) *Shape { return shapes[name] }

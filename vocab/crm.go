package vocab

import "strings"

// Source says which publication declares a property.
type Source uint8

// The sources.
const (
	FromCRM      Source = iota + 1 // CIDOC CRM 7.1.3
	FromProfile                    // the profile's own ontology
	FromOlderCRM                   // only the older CRM that the profile ships beside its own ontology
)

type (
	genSuper struct {
		iri    string
		supers []string
	}
	genProperty struct {
		iri, domain, rng, inverse string
		supers                    []string
		source                    Source
	}
)

const (
	nsXSD       = "http://www.w3.org/2001/XMLSchema#"
	rdfsLiteral = "http://www.w3.org/2000/01/rdf-schema#Literal"
)

var (
	properties   = map[string]*Property{}
	propertyList []*Property
	supers       = map[string][]string{}        // class IRI → direct super-classes
	ancestors    = map[string]map[string]bool{} // class IRI → itself and all above it
)

func initOntology() {
	for _, g := range genSupers {
		iri := fullIRI(g.iri)
		supers[iri] = fullIRIs(g.supers)
	}
	for iri := range supers {
		above(iri)
	}
	for _, g := range genProperties {
		p := &Property{
			IRI:     fullIRI(g.iri),
			Domain:  fullIRI(g.domain),
			Range:   fullIRI(g.rng),
			Inverse: fullIRI(g.inverse),
			Supers:  fullIRIs(g.supers),
			Source:  g.source,
		}
		properties[p.IRI] = p
		propertyList = append(propertyList, p)
	}
}

// above works out the ancestors of a class.
func above(iri string) map[string]bool {
	if set := ancestors[iri]; set != nil {
		return set
	}
	set := map[string]bool{iri: true}
	ancestors[iri] = set
	for _, s := range supers[iri] {
		for a := range above(s) {
			set[a] = true
		}
	}
	return set
}

func fullIRIs(curies []string) []string {
	var list []string
	for _, c := range curies {
		list = append(list, fullIRI(c))
	}
	return list
}

// PropertyByIRI returns the property with an IRI, or nil.
func PropertyByIRI(iri string) *Property { return properties[iri] }

// Properties lists the properties: those of CIDOC CRM in its order, then the
// profile's.
func Properties() []*Property { return append([]*Property(nil), propertyList...) }

// SuperClasses returns the IRIs of the direct super-classes of a class; nil for a
// class without any and for one that is not known.
func SuperClasses(classIRI string) []string { return append([]string(nil), supers[classIRI]...) }

// IsA reports whether a class is another class or below it, by the subclass
// axioms of CIDOC CRM 7.1.3 and of the profile. Every XML Schema datatype is an
// rdfs:Literal (RDF Schema 1.1 §2.4).
func IsA(classIRI, superIRI string) bool {
	if classIRI == superIRI || ancestors[classIRI][superIRI] {
		return true
	}
	return superIRI == rdfsLiteral && strings.HasPrefix(classIRI, nsXSD)
}

// DomainRange returns the IRIs of the class a subject of p must have and of the
// class or datatype of its objects; "" where the ontologies set no bound.
func DomainRange(p *Property) (domain, rng string) { return p.Domain, p.Range }

// Allows reports whether p may lead from a node of class subject to a node of
// class object (or a literal of a datatype), by domain and range with subclasses.
func (p *Property) Allows(subject, object string) bool {
	return (p.Domain == "" || IsA(subject, p.Domain)) && (p.Range == "" || IsA(object, p.Range))
}

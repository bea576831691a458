package validate

import (
	"fmt"
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// RuleOutsideCRM is the rule of [Domain].
const RuleOutsideCRM = "outside-crm"

// Allowed reports whether the property may lead from a node of the subject class
// to one of the object class, or to a literal of a datatype: whether CIDOC CRM
// 7.1.3 or the profile's own ontology declares the property, and the classes are
// its domain and range or below them. All are full IRIs. If not, why says so in a
// sentence without a full stop. The exceptions stand in deviations.go.
func Allowed(subjectClassIRI, propertyIRI, objectClassIRI string) (ok bool, why string) {
	return allowed(deviations, subjectClassIRI, propertyIRI, objectClassIRI)
}

func allowed(but []deviation, subjectClassIRI, propertyIRI, objectClassIRI string) (ok bool, why string) {
	p := vocab.PropertyByIRI(propertyIRI)
	switch {
	case p == nil:
		why = fmt.Sprintf("neither CIDOC CRM nor the profile has a property %s", propertyIRI)
	case p.Domain != "" && !vocab.IsA(subjectClassIRI, p.Domain):
		why = fmt.Sprintf("%s starts from %s, and %s is none", local(p.IRI), local(p.Domain), local(subjectClassIRI))
	case p.Range != "" && !vocab.IsA(objectClassIRI, p.Range):
		why = fmt.Sprintf("%s leads to %s, and %s is none", local(p.IRI), local(p.Range), local(objectClassIRI))
	default:
		return true, ""
	}
	for i := range but {
		if but[i].covers(subjectClassIRI, propertyIRI, objectClassIRI) {
			return true, ""
		}
	}
	return false, why
}

// Domain holds every statement of a document against domain and range and
// returns those that [Allowed] refuses. A reference counts with the class that
// the document gives it.
func Domain(d *entity.Document) []Problem {
	var ps []Problem
	ev := d.Events()
	var open []*vocab.Class
	for i := range ev {
		e := &ev[i]
		if e.Kind == entity.Close {
			open = open[:len(open)-1]
			continue
		}
		if e.Term != nil && len(open) > 0 {
			if ok, why := Allowed(open[len(open)-1].IRI, e.Term.IRI, objectClass(e)); !ok {
				ps = append(ps, Problem{Rule: RuleOutsideCRM, Path: Path(ev, i), Event: i, Message: why})
			}
		}
		if e.Kind == entity.Open {
			open = append(open, e.Class)
		}
	}
	return ps
}

// rdfProperty is the class of what an assigned property names.
const rdfProperty = "http://www.w3.org/1999/02/22-rdf-syntax-ns#Property"

// objectClass is the class of a node or the datatype of a value.
func objectClass(e *entity.Event) string {
	switch e.Kind {
	case entity.Open:
		return e.Class.IRI
	case entity.TermName:
		return rdfProperty
	case entity.DateTime:
		return entity.XSDDateTime
	case entity.Number:
		if _, integer := entity.AppendDecimal(nil, e.Value); integer {
			return entity.XSDInteger
		}
		return entity.XSDDouble
	}
	return entity.XSDString
}

// local is the last part of an IRI, by which people know classes and properties.
func local(iri string) string {
	return iri[strings.LastIndexAny(iri, "#/")+1:]
}

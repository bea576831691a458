package entity

import "iter"

// TermKind is the kind of an RDF term.
type TermKind uint8

// The kinds of RDF terms (RDF 1.1 Concepts §3.1).
const (
	IRI TermKind = iota + 1
	Blank
	Literal
)

// RDFTerm is an RDF term.
type RDFTerm struct {
	Kind     TermKind
	Value    string // the IRI, the blank node's label without "_:", or the literal's lexical form
	Datatype string // of a literal: its datatype's IRI; "" means xsd:string, or rdf:langString where Lang is set
	Lang     string // of a literal: its language tag, or ""
}

// Triple is an RDF triple.
type Triple struct {
	Subject, Predicate, Object RDFTerm
}

// TypeIRI is rdf:type.
const TypeIRI = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"

// Triples gives the triples of d in the order in which the renderers write them,
// each with the index of the event that it comes from; the class and the link of a
// node both have its Open event. They are those that the profile's JSON-LD context
// gives for the document's JSON, with skolem IRIs for blank nodes, each once.
// [Document.Err] must be nil.
func (d *Document) Triples() iter.Seq2[int, Triple] {
	return func(yield func(int, Triple) bool) {
		names, said := d.Names(), d.Said()
		skip := func(i int32, flag uint8) bool { return said != nil && said[i]&flag != 0 }
		for _, i := range d.Nodes() {
			s := RDFTerm{Kind: IRI, Value: names[i]}
			n := &d.ev[i]
			if !skip(i, SaidClass) && !yield(int(i), Triple{s, RDFTerm{Kind: IRI, Value: TypeIRI}, RDFTerm{Kind: IRI, Value: n.Class.IRI}}) {
				return
			}
			for k := i + 1; k < n.End; k++ {
				e, at := &d.ev[k], k
				if e.Kind == Open {
					k = e.End
				}
				if skip(at, SaidHere) {
					continue
				}
				o := RDFTerm{Kind: Literal, Value: e.Value}
				switch e.Kind {
				case Open, TermName:
					o = RDFTerm{Kind: IRI, Value: names[at]}
				case DateTime:
					o.Datatype = XSDDateTime
				case Number:
					b, integer := AppendDecimal(nil, e.Value)
					o.Value, o.Datatype = string(b), XSDDouble
					if integer {
						o.Datatype = XSDInteger
					}
				}
				if !yield(int(at), Triple{s, RDFTerm{Kind: IRI, Value: e.Term.IRI}, o}) {
					return
				}
			}
		}
	}
}

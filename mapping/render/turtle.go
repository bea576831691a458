package render

import (
	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// Byte forms in Turtle, by Index.
var (
	classTurtle []string // " a crm:E22_Human-Made_Object"
	termTurtle  []string // "\tcrm:P1_is_identified_by "
)

func init() {
	for _, c := range vocab.Classes() {
		classTurtle = append(classTurtle, " a "+string(appendTurtleIRI(nil, c.IRI)))
	}
	for _, t := range vocab.Terms() {
		termTurtle = append(termTurtle, "\t"+string(appendTurtleIRI(nil, t.IRI))+" ")
	}
}

// turtleHeader declares all prefixes, so that texts of the same header join.
func turtleHeader(dst []byte) []byte {
	for _, n := range namespaces {
		dst = append(dst, "@prefix "...)
		dst = append(dst, n[0]...)
		dst = append(dst, ": <"...)
		dst = append(dst, n[1]...)
		dst = append(dst, "> .\n"...)
	}
	return append(dst, '\n')
}

func appendTurtleIRI(dst []byte, iri string) []byte {
	if p, local, ok := shorten(iri); ok {
		dst = append(dst, p...)
		return append(dst, local...)
	}
	dst = append(dst, '<')
	dst = append(dst, iri...)
	return append(dst, '>')
}

// appendTurtle writes a document node by node, predicates joined by ";" and
// values of one key by ",".
func appendTurtle(e *Encoder, dst []byte, d *doc) []byte {
	ev, names, said := d.Events(), d.Names(), d.Said()
	for _, i := range d.Nodes() {
		n := &ev[i]
		if said != nil && said[i]&entity.SaidAll != 0 {
			continue
		}
		if n.Ref {
			dst = appendTurtleIRI(dst, names[i])
		} else {
			dst = append(dst, '<')
			dst = append(dst, names[i]...)
			dst = append(dst, '>')
		}
		first := said != nil && said[i]&entity.SaidClass != 0
		if !first {
			dst = append(dst, classTurtle[n.Class.Index]...)
		}
		var last *vocab.Term
		for k := i + 1; k < n.End; k++ {
			v, at := &ev[k], k
			if v.Kind == entity.Open {
				k = v.End
			}
			if said != nil && said[at]&entity.SaidHere != 0 {
				continue
			}
			switch {
			case v.Term == last:
				dst = append(dst, ',', ' ')
			case first:
				dst = append(dst, '\n')
				dst = append(dst, termTurtle[v.Term.Index]...)
			default:
				dst = append(dst, ' ', ';', '\n')
				dst = append(dst, termTurtle[v.Term.Index]...)
			}
			last, first = v.Term, false
			switch v.Kind {
			case entity.Open:
				if v.Ref {
					dst = appendTurtleIRI(dst, names[at])
				} else {
					dst = append(dst, '<')
					dst = append(dst, names[at]...)
					dst = append(dst, '>')
				}
			case entity.TermName:
				dst = appendTurtleIRI(dst, names[at])
			case entity.Number:
				// The bare forms of integers and of doubles in E notation have the
				// datatypes wanted (Turtle §2.5.2).
				dst, _ = entity.AppendDecimal(dst, v.Value)
			default:
				dst = append(dst, '"')
				if plainString(v.Value) {
					dst = append(dst, v.Value...)
				} else {
					dst = e.string(dst, v.Value)
				}
				dst = append(dst, '"')
				if v.Kind == entity.DateTime {
					dst = append(dst, "^^xsd:dateTime"...)
				}
			}
		}
		dst = append(dst, " .\n"...)
	}
	return dst
}

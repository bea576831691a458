package render

import (
	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// Byte forms in N-Triples, by Index. Each begins with the end of the subject.
var (
	classLine []string // "> <…#type> <…E22_Human-Made_Object"
	termNode  []string // "> <…P1_is_identified_by> <"
	termText  []string // "> <…P190_has_symbolic_content> \""
)

func init() {
	for _, c := range vocab.Classes() {
		classLine = append(classLine, "> <"+entity.TypeIRI+"> <"+c.IRI)
	}
	for _, t := range vocab.Terms() {
		termNode = append(termNode, "> <"+t.IRI+"> <")
		termText = append(termText, "> <"+t.IRI+"> \"")
	}
}

// endings are what closes a statement after an IRI and after literals.
type endings struct {
	iri, text, integer, double, dateTime []byte
}

var (
	integerEnd  = "\"^^<" + entity.XSDInteger + ">"
	doubleEnd   = "\"^^<" + entity.XSDDouble + ">"
	dateTimeEnd = "\"^^<" + entity.XSDDateTime + ">"
)

// set makes the endings of statements in the graph of an IRI, "" for the default
// graph; buf is the memory to use, and is returned.
func (n *endings) set(buf []byte, graph string) []byte {
	add := func(end string) []byte {
		from := len(buf)
		buf = append(buf, end...)
		if graph != "" {
			buf = append(append(append(buf, " <"...), graph...), '>')
		}
		buf = append(buf, " .\n<"...)
		return buf[from:]
	}
	n.iri, n.text = add(">"), add(`"`)
	n.integer, n.double, n.dateTime = add(integerEnd), add(doubleEnd), add(dateTimeEnd)
	return buf
}

var ntEndings = func() (n endings) {
	n.set(nil, "")
	return n
}()

// appendNTriples writes a document in N-Triples, every IRI in full.
func appendNTriples(e *Encoder, dst []byte, d *doc) []byte {
	return e.appendLines(dst, d, &ntEndings)
}

// appendNQuads writes a document in N-Quads: its IRI is the name of its graph.
func appendNQuads(e *Encoder, dst []byte, d *doc) []byte {
	e.tail = e.graph.set(e.tail[:0], d.IRI())
	return e.appendLines(dst, d, &e.graph)
}

func (e *Encoder) appendLines(dst []byte, d *doc, end *endings) []byte {
	ev, names, said := d.Events(), d.Names(), d.Said()
	if e.making != nil {
		return e.makeLines(dst, d)
	}
	dst = append(dst, '<') // of the first subject; endings have that of the next
	for _, i := range d.Nodes() {
		n := &ev[i]
		if said != nil && said[i]&entity.SaidAll != 0 {
			continue
		}
		subject := names[i]
		if said == nil || said[i]&entity.SaidClass == 0 {
			dst = append(dst, subject...)
			dst = append(dst, classLine[n.Class.Index]...)
			dst = append(dst, end.iri...)
		}
		for k := i + 1; k < n.End; k++ {
			v, at := &ev[k], k
			if v.Kind == entity.Open {
				k = v.End
			}
			if said != nil && said[at]&entity.SaidHere != 0 {
				continue
			}
			dst = append(dst, subject...)
			switch v.Kind {
			case entity.Open, entity.TermName:
				dst = append(dst, termNode[v.Term.Index]...)
				dst = append(dst, names[at]...)
				dst = append(dst, end.iri...)
			case entity.Text:
				dst = append(dst, termText[v.Term.Index]...)
				if plainString(v.Value) {
					dst = append(dst, v.Value...)
				} else {
					dst = e.string(dst, v.Value)
				}
				dst = append(dst, end.text...)
			case entity.DateTime:
				dst = append(dst, termText[v.Term.Index]...)
				dst = e.string(dst, v.Value)
				dst = append(dst, end.dateTime...)
			case entity.Number:
				dst = append(dst, termText[v.Term.Index]...)
				var integer bool
				if dst, integer = entity.AppendDecimal(dst, v.Value); integer {
					dst = append(dst, end.integer...)
				} else {
					dst = append(dst, end.double...)
				}
			}
		}
	}
	return dst[:len(dst)-1]
}

// makeLines writes the template of a document's shape: the same walk, cut where a
// value is not fixed.
func (e *Encoder) makeLines(dst []byte, d *doc) []byte {
	ev, names, said := d.Events(), d.Names(), d.Said()
	t, from := e.making, len(dst)
	name := func(i int32, fixed bool) {
		if fixed {
			dst = append(dst, names[i]...)
		} else {
			t.cut(dst, from, i, cutName)
		}
	}
	text := func(i int32) {
		if ev[i].Fixed {
			dst = e.string(dst, ev[i].Value)
		} else {
			t.cut(dst, from, i, cutString)
		}
	}
	end := func() {
		if e.f.quads {
			dst = append(dst, " <"...)
			t.cut(dst, from, 0, cutName)
			dst = append(dst, '>')
		}
		dst = append(dst, " .\n<"...)
	}
	dst = append(dst, '<')
	for _, i := range d.Nodes() {
		n := &ev[i]
		if said != nil && said[i]&entity.SaidAll != 0 {
			continue
		}
		fixed := n.Fixed && n.Ref
		if said == nil || said[i]&entity.SaidClass == 0 {
			name(i, fixed)
			dst = append(append(dst, classLine[n.Class.Index]...), '>')
			end()
		}
		for k := i + 1; k < n.End; k++ {
			v, at := &ev[k], k
			if v.Kind == entity.Open {
				k = v.End
			}
			if said != nil && said[at]&entity.SaidHere != 0 {
				continue
			}
			name(i, fixed)
			switch v.Kind {
			case entity.Open, entity.TermName:
				dst = append(dst, termNode[v.Term.Index]...)
				name(at, v.Fixed && (v.Ref || v.Kind == entity.TermName))
				dst = append(dst, '>')
			case entity.Text:
				dst = append(dst, termText[v.Term.Index]...)
				text(at)
				dst = append(dst, '"')
			case entity.DateTime:
				dst = append(dst, termText[v.Term.Index]...)
				text(at)
				dst = append(dst, dateTimeEnd...)
			case entity.Number:
				dst = append(dst, termText[v.Term.Index]...)
				if !v.Fixed {
					t.cut(dst, from, at, cutNumber)
				} else if b, integer := entity.AppendDecimal(dst, v.Value); integer {
					dst = append(b, integerEnd...)
				} else {
					dst = append(b, doubleEnd...)
				}
			}
			end()
		}
	}
	return dst[:len(dst)-1]
}

func (e *Encoder) string(dst []byte, s string) []byte {
	dst, ok := appendString(dst, s)
	if !ok {
		e.fail(s)
	}
	return dst
}

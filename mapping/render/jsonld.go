package render

import (
	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

const rdfNS = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"

// Byte forms of classes and terms, by their Index.
var (
	classJSON []string // {"type":"Name"
	classRef  []string // ","type":"Name"
	termJSON  []string // ,"content":
	termArray []string // ,"part":[
)

func init() {
	for _, c := range vocab.Classes() {
		classJSON = append(classJSON, `{"type":"`+c.Key+`"`)
		classRef = append(classRef, `","type":"`+c.Key+`"`)
	}
	for _, t := range vocab.Terms() {
		termJSON = append(termJSON, `,"`+t.Key+`":`)
		termArray = append(termArray, `,"`+t.Key+`":[`)
	}
}

const jsonRoot = `{"@context":"` + entity.Context + `","id":"`

// appendJSONLD writes the document's events in order. Every node begins with
// "type", so that a comma stands before all other keys.
func appendJSONLD(e *Encoder, dst []byte, d *doc) []byte {
	if e.indent {
		return e.appendIndented(dst, d)
	}
	ev := d.Events()
	if len(ev) == 0 {
		return dst
	}
	t, from := e.making, len(dst)
	dst = append(dst, jsonRoot...)
	if t != nil {
		t.cut(dst, from, 0, cutIRI)
	} else {
		dst = append(dst, ev[0].Value...)
	}
	dst = append(dst, classRef[ev[0].Class.Index]...)
	last := len(ev) - 1
	for i := 1; i < last; i++ {
		v := &ev[i]
		many := v.Many
		if v.Kind == entity.Close {
			dst = append(dst, '}')
			many = ev[v.End].Many
		} else {
			switch {
			case !many:
				dst = append(dst, termJSON[v.Term.Index]...)
			case ev[i-1].Term == v.Term && ev[i-1].Kind != entity.Open:
				dst = append(dst, ',')
			default:
				dst = append(dst, termArray[v.Term.Index]...)
			}
			switch v.Kind {
			case entity.Open:
				if v.Ref {
					dst = append(dst, `{"id":"`...)
					if t != nil && !v.Fixed {
						t.cut(dst, from, int32(i), cutIRI)
					} else {
						dst = append(dst, v.Value...)
					}
					dst = append(dst, classRef[v.Class.Index]...)
				} else {
					dst = append(dst, classJSON[v.Class.Index]...)
				}
				continue
			case entity.Number:
				if t != nil && !v.Fixed {
					t.cut(dst, from, int32(i), cutNumber)
				} else {
					dst = append(dst, v.Value...)
				}
			default:
				dst = append(dst, '"')
				if t != nil && !v.Fixed {
					t.cut(dst, from, int32(i), cutString)
				} else {
					dst = e.jsonString(dst, v.Value)
				}
				dst = append(dst, '"')
			}
		}
		if many && (ev[i+1].Term != v.Term || ev[i+1].Kind == entity.Close) {
			dst = append(dst, ']')
		}
	}
	return append(dst, '}', '\n')
}

func (e *Encoder) jsonString(dst []byte, s string) []byte {
	if plainString(s) {
		return append(dst, s...)
	}
	dst, ok := appendJSONString(dst, s)
	if !ok {
		e.fail(s)
	}
	return dst
}

// appendIndented writes the same with line breaks and two spaces a level.
func (e *Encoder) appendIndented(dst []byte, d *doc) []byte {
	ev := d.Events()
	if len(ev) == 0 {
		return dst
	}
	depth := 1
	line := func() {
		dst = append(dst, '\n')
		for range depth {
			dst = append(dst, ' ', ' ')
		}
	}
	text := func(s string) {
		dst = append(dst, '"')
		dst = append(e.jsonString(dst, s), '"')
	}
	member := func(key, s string) {
		line()
		text(key)
		dst = append(dst, ": "...)
		text(s)
	}
	dst = append(dst, '{')
	member("@context", entity.Context)
	dst = append(dst, ',')
	member("id", ev[0].Value)
	dst = append(dst, ',')
	member("type", ev[0].Class.Key)
	last := len(ev) - 1
	for i := 1; i < last; i++ {
		v := &ev[i]
		many := v.Many
		if v.Kind == entity.Close {
			depth--
			line()
			dst = append(dst, '}')
			many = ev[v.End].Many
		} else {
			dst = append(dst, ',')
			if !many || ev[i-1].Term != v.Term || ev[i-1].Kind == entity.Open {
				line()
				text(v.Term.Key)
				dst = append(dst, ": "...)
				if many {
					dst = append(dst, '[')
					depth++
				}
			}
			if many {
				line()
			}
			switch v.Kind {
			case entity.Open:
				dst = append(dst, '{')
				depth++
				if v.Ref {
					member("id", v.Value)
					dst = append(dst, ',')
				}
				member("type", v.Class.Key)
				continue
			case entity.Number:
				dst = append(dst, v.Value...)
			default:
				text(v.Value)
			}
		}
		if many && (ev[i+1].Term != v.Term || ev[i+1].Kind == entity.Close) {
			depth--
			line()
			dst = append(dst, ']')
		}
	}
	return append(dst, "\n}\n"...)
}

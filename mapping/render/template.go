package render

import (
	"ropewalk/mapping/entity"
)

// A template is what documents of one shape have in common in one syntax: fixed
// text, cut where a value of the document goes. Templates only save work: what is
// written with one is what the walk over the events writes.

// cut is a place in a template.
type cut struct {
	at   int32 // where in the fixed text
	ev   int32 // index of the event
	val  int32 // which of the values that do not belong to the shape
	kind cutKind
}

type cutKind uint8

const (
	cutIRI    cutKind = iota + 1 // the event's value, an IRI
	cutName                      // the event's name, an IRI
	cutString                    // the event's value, inside a quoted string
	cutNumber                    // the event's value in full: a JSON number, or the lexical form and datatype in N-Triples
)

type template struct {
	text []byte
	cuts []cut
	size int     // number of events
	vals int     // number of values that do not belong to the shape
	said []uint8 // as in the document it was made from
}

// maxTemplates is how many shapes an encoder remembers; then it begins anew.
const maxTemplates = 2000

func (t *template) cut(dst []byte, from int, ev int32, kind cutKind) {
	t.cuts = append(t.cuts, cut{at: int32(len(dst) - from), ev: ev, kind: kind})
}

// known returns the template of a document's shape, or nil; again says that the
// shape has been met before, so that a template is worth making.
func (e *Encoder) known(d *doc) (t *template, id uint64, again bool) {
	id, ok := d.Shape()
	if !ok {
		return nil, 0, false
	}
	if id == e.lastShape && e.last != nil {
		return e.last, id, false
	}
	t, met := e.templates[id]
	if t != nil {
		e.lastShape, e.last = id, t
	}
	return t, id, met
}

// learn notes that a shape has been met, and makes its template the second time.
func (e *Encoder) learn(id uint64, met bool, d *doc) {
	if e.templates == nil || len(e.templates) >= maxTemplates {
		e.templates = map[uint64]*template{}
	}
	if !met {
		e.templates[id] = nil
		return
	}
	t := &template{size: d.Len()}
	e.making = t
	t.text = e.f.append(e, nil, d)
	e.making = nil
	t.count(d)
	if e.f.lines {
		t.said = append(t.said, d.Said()...)
	}
	e.templates[id] = t
}

// count works out which value each cut is.
func (t *template) count(d *doc) {
	ev := d.Events()
	nth := make([]int32, len(ev))
	for i := range ev {
		nth[i] = int32(t.vals)
		if ev[i].Kind != entity.Close && !ev[i].Fixed {
			t.vals++
		}
	}
	for i := range t.cuts {
		t.cuts[i].val = nth[t.cuts[i].ev]
	}
}

// fillJSONLD is the fill of JSON-LD. It does with the values of a lean document.
func fillJSONLD(e *Encoder, dst []byte, d *doc, t *template) ([]byte, bool, error) {
	if vals, ok := d.Values(); ok && len(vals) == t.vals {
		text, from := t.text, int32(0)
		for i := range t.cuts {
			c := &t.cuts[i]
			dst = append(dst, text[from:c.at]...)
			from = c.at
			v := vals[c.val]
			switch {
			case c.kind == cutString && !plainString(v):
				dst = e.jsonString(dst, v)
				continue
			case c.kind == cutIRI:
				if err := entity.CheckIRI(v); err != nil {
					return dst, false, err
				}
			}
			dst = append(dst, v...)
		}
		return append(dst, text[from:]...), true, nil
	}
	if t.size != d.Len() {
		return dst, false, nil // a collision of hashes, if ever
	}
	if err := t.checkIRIs(d); err != nil {
		return dst, false, err
	}
	return e.fillJSON(dst, d, t), true, nil
}

// fillStatements is the fill of N-Triples and N-Quads.
func fillStatements(e *Encoder, dst []byte, d *doc, t *template) ([]byte, bool, error) {
	if t.size != d.Len() || !t.sameSaid(d) {
		return dst, false, nil
	}
	if err := d.Err(); err != nil {
		return dst, false, err
	}
	return e.fillLines(dst, d, t), true, nil
}

// fillJSON writes a document of the template's shape in JSON-LD.
func (e *Encoder) fillJSON(dst []byte, d *doc, t *template) []byte {
	ev := d.Events()
	text, from := t.text, int32(0)
	for i := range t.cuts {
		c := &t.cuts[i]
		dst = append(dst, text[from:c.at]...)
		from = c.at
		v := ev[c.ev].Value
		if c.kind == cutString && !plainString(v) {
			dst = e.jsonString(dst, v)
		} else {
			dst = append(dst, v...)
		}
	}
	return append(dst, text[from:]...)
}

// checkIRIs checks the IRIs that are not fixed.
func (t *template) checkIRIs(d *doc) error {
	ev := d.Events()
	for i := range t.cuts {
		if c := &t.cuts[i]; c.kind == cutIRI {
			if err := entity.CheckIRI(ev[c.ev].Value); err != nil {
				return err
			}
		}
	}
	return nil
}

// fillLines writes a document of the template's shape in N-Triples.
func (e *Encoder) fillLines(dst []byte, d *doc, t *template) []byte {
	ev, names := d.Events(), d.Names()
	text, from := t.text, int32(0)
	for i := range t.cuts {
		c := &t.cuts[i]
		dst = append(dst, text[from:c.at]...)
		from = c.at
		switch c.kind {
		case cutName:
			dst = append(dst, names[c.ev]...)
		case cutString:
			if v := ev[c.ev].Value; plainString(v) {
				dst = append(dst, v...)
			} else {
				dst = e.string(dst, v)
			}
		case cutNumber:
			var integer bool
			if dst, integer = entity.AppendDecimal(dst, ev[c.ev].Value); integer {
				dst = append(dst, integerEnd...)
			} else {
				dst = append(dst, doubleEnd...)
			}
		}
	}
	return append(dst, text[from:]...)
}

// sameSaid reports whether the same triples of a document stand twice as in the one
// the template was made from.
func (t *template) sameSaid(d *doc) bool {
	said := d.Said()
	if said == nil {
		return t.said == nil
	}
	return string(said) == string(t.said)
}

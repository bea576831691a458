package entity

import "ropewalk/vocab"

// A lean document is built without its events: it keeps its shape and, in order,
// the values that do not belong to the shape. That is all a renderer needs that
// knows the shape already. Whoever asks for anything else has the document built
// in full.
//
// Whether two siblings are equal can't be seen without events. A lean document only
// sees that they might be, being of the same size, and is then built in full.

// lean is the state of a lean document.
type lean struct {
	on     bool
	unsure bool // two siblings may be equal
	full   func()
	vals   []string
	events int // so far
	bytes  int // of values, so far
	open   []leanNode
	closed []leanSibling
	iri    string
	class  *vocab.Class
}

type leanNode struct {
	events, bytes int
	shape         uint64
	closed        int // siblings closed when it opened
	term          *vocab.Term
	many          bool
}

// leanSibling is a closed node of an array.
type leanSibling struct {
	term          *vocab.Term
	depth         int
	events, bytes int
}

// Lean begins a lean document. It follows Reset. Full must build the same document
// again in d, as the first time but without Lean; it is called at most once, before
// d is reset.
func (d *Document) Lean(seed uint64, full func()) {
	l := &d.lean
	*l = lean{on: true, full: full, vals: l.vals[:0], open: l.open[:0], closed: l.closed[:0]}
	d.Shaped(seed)
}

// Values are the values that do not belong to the shape of a lean document, in
// order; ok is false if d is not lean (any more).
func (d *Document) Values() (vals []string, ok bool) {
	if d.lean.on && d.lean.unsure {
		d.need()
	}
	return d.lean.vals, d.lean.on
}

// need builds a lean document in full.
func (d *Document) need() {
	if d.lean.on {
		d.lean.on = false
		full := d.lean.full
		d.Reset()
		full()
	}
}

func (l *lean) begin(d *Document, term *vocab.Term, many bool, class *vocab.Class, ref bool, iri string, origin int32) {
	l.open = append(l.open, leanNode{l.events, l.bytes, d.shape, len(l.closed), term, many})
	if l.events == 0 {
		l.iri, l.class = iri, class
	}
	d.step(&Event{Kind: Open, Many: many, Ref: ref, Term: term, Class: class, Origin: origin})
	l.value(iri)
}

func (l *lean) value(s string) {
	l.vals = append(l.vals, s)
	l.events++
	l.bytes += len(s)
}

// fix takes the value added last back: it belongs to the shape.
func (l *lean) fix() string {
	v := l.vals[len(l.vals)-1]
	l.vals = l.vals[:len(l.vals)-1]
	return v
}

func (l *lean) end(d *Document) {
	n := l.open[len(l.open)-1]
	l.open = l.open[:len(l.open)-1]
	l.closed = l.closed[:n.closed]
	d.shape = mix(d.shape, uint64(Close))
	if n.many {
		l.sibling(n.term, l.events-n.events, l.bytes-n.bytes)
	}
}

// sibling notes a closed node of an array, and whether one before it might equal it.
func (l *lean) sibling(term *vocab.Term, events, bytes int) {
	depth := len(l.open)
	for i := len(l.closed) - 1; i >= 0; i-- {
		s := &l.closed[i]
		if s.depth != depth || s.term != term {
			break
		}
		if s.events == events && s.bytes == bytes {
			l.unsure = true
		}
	}
	l.closed = append(l.closed, leanSibling{term, depth, events, bytes})
}

func (l *lean) put(d *Document, b *Block) {
	d.shape = mix(d.shape, b.key)
	l.events += b.events
	l.bytes += b.bytes
	if b.ev[0].Many {
		l.sibling(b.ev[0].Term, b.events, b.bytes)
	}
}

// Package entity is the document: one entity's record as a tree of nodes, values
// and references.
//
// A [Document] is built in one pass with [Document.Begin], [Document.Text],
// [Document.End] and their kin, and read as a sequence of [Event] values in
// document order ([Document.Events]): an Open for each node, its values and child
// nodes, a Close. Nodes are either references (they carry an IRI) or embedded
// (they carry none in JSON; [Document.Names] gives them skolem IRIs for RDF, see
// RDF 1.1 Concepts §3.5).
//
// A Document is an arena: [Document.Reset] keeps its memory for the next record.
// Strings taken from a document are valid until then. A Document is not safe for
// concurrent use while it is being built.
package entity

import (
	"unsafe"

	"ropewalk/vocab"
)

// Kind is the kind of an event.
type Kind uint8

// The kinds of events.
const (
	Open     Kind = iota + 1 // a node begins
	Close                    // the node ends
	Text                     // a string value
	Number                   // a JSON number in its shortest form
	DateTime                 // an xsd:dateTime
	TermName                 // a string that names a term of the profile's context
)

// Event is one step of a walk through a document.
type Event struct {
	Kind   Kind
	Many   bool         // the value stands in a JSON array
	Ref    bool         // Open: the node is a reference (or the document's root); Value is its IRI
	Fixed  bool         // the value belongs to the document's shape, see [Document.Shape]
	Term   *vocab.Term  // the term under which the value or node stands; nil for the root
	Class  *vocab.Class // Open: the node's class
	Value  string       // literal's text; reference's IRI; an embedded node's author key, or ""
	End    int32        // Open: index of its Close; Close: index of its Open
	Origin int32        // index into the mapping's table of origins; -1 for none
}

// Document is a document under construction or complete.
type Document struct {
	ev     []Event
	open   []int32 // indexes of the nodes now open
	buf    []byte  // text made while building
	merged int
	runs   []run
	lean   lean
	shaped bool
	shape  uint64
	before []uint64 // by open node: the shape before it

	// What plan works out, by event unless said otherwise.
	planned bool
	repeats bool
	err     error
	names   []string
	nameBuf []byte
	nodes   []int32 // indexes of the Open events
	marks   []uint64
	said    []uint8
	parent  []int32
	prev    []int32 // the last node before with the same name; -1 for none
	frames  []frame
	bases   []refBase
	table   []entry
	round   uint32
}

// Reset empties d and keeps its memory.
func (d *Document) Reset() {
	d.dropRuns(0)
	d.ev, d.open, d.buf, d.merged, d.planned = d.ev[:0], d.open[:0], d.buf[:0], 0, false
	d.shaped, d.shape, d.before, d.lean.on = false, 0, d.before[:0], false
}

// IRI is the identifier of the document's entity.
func (d *Document) IRI() string {
	if d.lean.on {
		return d.lean.iri
	}
	if len(d.ev) == 0 {
		return ""
	}
	return d.ev[0].Value
}

// Class is the class of the document's entity.
func (d *Document) Class() *vocab.Class {
	if d.lean.on {
		return d.lean.class
	}
	if len(d.ev) == 0 {
		return nil
	}
	return d.ev[0].Class
}

// Label is the root's _label, or "".
func (d *Document) Label() string {
	d.need()
	for i := 1; i < len(d.ev); i++ {
		switch e := &d.ev[i]; {
		case e.Kind == Open:
			i = int(e.End)
		case e.Term != nil && e.Term.Key == "_label":
			return e.Value
		}
	}
	return ""
}

// Events is the document in order. The slice belongs to d.
func (d *Document) Events() []Event {
	d.need()
	return d.ev
}

// Len is the number of events.
func (d *Document) Len() int {
	d.need()
	return len(d.ev)
}

// Merged is the number of nodes that were dropped because an identical sibling
// stood before them.
func (d *Document) Merged() int {
	if d.lean.unsure {
		d.need()
	}
	return d.merged
}

// Begin opens a node under term of the node now open, or the root if none is.
// For a reference iri is its IRI; for an embedded node ref is false and iri
// holds the author's key, or "".
func (d *Document) Begin(term *vocab.Term, many bool, class *vocab.Class, ref bool, iri string, origin int32) {
	if d.lean.on {
		d.lean.begin(d, term, many, class, ref, iri, origin)
		return
	}
	d.planned = false
	d.open = append(d.open, int32(len(d.ev)))
	d.ev = append(d.ev, Event{Kind: Open, Many: many, Ref: ref, Term: term, Class: class, Value: iri, Origin: origin})
	if d.shaped {
		d.before = append(d.before, d.shape)
		d.step(&d.ev[len(d.ev)-1])
	}
}

// Text adds a string value to the node now open.
func (d *Document) Text(term *vocab.Term, many bool, value string, origin int32) {
	d.Value(Text, term, many, value, origin)
}

// Value adds a literal of any kind to the node now open.
func (d *Document) Value(kind Kind, term *vocab.Term, many bool, value string, origin int32) {
	if d.lean.on {
		d.step(&Event{Kind: kind, Many: many, Term: term, Origin: origin})
		d.lean.value(value)
		return
	}
	d.ev = append(d.ev, Event{Kind: kind, Many: many, Term: term, Value: value, Origin: origin})
	if d.shaped {
		d.step(&d.ev[len(d.ev)-1])
	}
}

// End closes the innermost open node. If an earlier sibling under the same term
// is identical, the node is dropped and End reports false: in RDF the two would
// be one statement (or one skolem IRI).
func (d *Document) End() bool {
	if d.lean.on {
		d.lean.end(d)
		return true
	}
	at := d.open[len(d.open)-1]
	d.open = d.open[:len(d.open)-1]
	o := &d.ev[at]
	o.End = int32(len(d.ev))
	if len(d.runs) > 0 {
		d.dropRuns(at)
	}
	many := o.Many
	d.ev = append(d.ev, Event{Kind: Close, Term: o.Term, Class: o.Class, End: at, Origin: -1})
	var before uint64
	if d.shaped {
		before = d.before[len(d.before)-1]
		d.before = d.before[:len(d.before)-1]
		d.shape = mix(d.shape, uint64(Close))
	}
	if many && d.hasTwin(at) {
		d.ev = d.ev[:at]
		d.merged++
		d.shape = before
		return false
	}
	return true
}

// Mark is a place in a document under construction.
type Mark struct {
	events, depth int
	shape         uint64
	values, bytes int // of a lean document
	closed        int
}

// Mark returns a place to which [Document.Cut] can go back.
func (d *Document) Mark() Mark {
	if l := &d.lean; l.on {
		return Mark{l.events, len(l.open), d.shape, len(l.vals), l.bytes, len(l.closed)}
	}
	return Mark{events: len(d.ev), depth: len(d.open), shape: d.shape}
}

// Cut drops all that was added since Mark.
func (d *Document) Cut(m Mark) {
	if l := &d.lean; l.on {
		l.events, l.open, d.shape = m.events, l.open[:m.depth], m.shape
		l.vals, l.bytes, l.closed = l.vals[:m.values], m.bytes, l.closed[:m.closed]
		return
	}
	d.dropRuns(int32(m.events))
	d.ev, d.open, d.shape = d.ev[:m.events], d.open[:m.depth], m.shape
	if d.shaped {
		d.before = d.before[:m.depth]
	}
}

// Scratch is the buffer for text made while building: append to it and hand the
// result to [Document.Made].
func (d *Document) Scratch() []byte { return d.buf }

// Made takes the buffer back and returns what was appended since from as a string
// that lives as long as the document.
func (d *Document) Made(buf []byte, from int) string {
	d.buf = buf
	if len(buf) == from {
		return ""
	}
	return unsafe.String(&buf[from], len(buf)-from)
}

// Clone copies d into memory of its own.
func (d *Document) Clone() *Document {
	d.need()
	c := &Document{ev: append([]Event(nil), d.ev...), merged: d.merged}
	n := 0
	for i := range c.ev {
		n += len(c.ev[i].Value)
	}
	c.buf = make([]byte, 0, n)
	for i := range c.ev {
		from := len(c.buf)
		c.ev[i].Value = c.Made(append(c.buf, c.ev[i].Value...), from)
	}
	return c
}

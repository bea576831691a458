package entity

import (
	"github.com/cespare/xxhash/v2"
)

// The shape of a document is all of it but the values that differ from record to
// record: which nodes and keys there are, in what order, and the values that the
// mapping fixes. Documents of one shape differ only in the values of events that
// are not Fixed, so that a renderer can work out the rest once.
//
// A shape is known only of documents that are built by a program that says what is
// fixed: see [Document.Shaped]. It is identified by 64 bits of a hash over what
// the program did, with the program's own seed.

// Shaped begins a document whose shape is kept; seed tells the program apart from
// others. It follows Reset.
func (d *Document) Shaped(seed uint64) { d.shaped, d.shape = true, mix(seed, 1) }

// Shape identifies the document's shape; ok is false if it is not known.
func (d *Document) Shape() (id uint64, ok bool) {
	if d.lean.on && d.lean.unsure {
		d.need()
	}
	return d.shape, d.shaped && len(d.open) == 0
}

// Fix says that the event added last has the same value in every document in which
// its origin stands.
func (d *Document) Fix() {
	if d.lean.on {
		d.lean.fix()
		return
	}
	d.ev[len(d.ev)-1].Fixed = true
}

// FixValue says that the value of the event added last belongs to the shape: a
// document with another value has another shape.
func (d *Document) FixValue() {
	if d.lean.on {
		d.shape = mix(d.shape, xxhash.Sum64String(d.lean.fix()))
		return
	}
	e := &d.ev[len(d.ev)-1]
	e.Fixed = true
	if d.shaped {
		d.shape = mix(d.shape, xxhash.Sum64String(e.Value))
	}
}

// step mixes an event into the shape.
func (d *Document) step(e *Event) {
	x := uint64(e.Kind) | uint64(uint32(e.Origin))<<32
	if e.Many {
		x |= 1 << 3
	}
	if e.Ref {
		x |= 1 << 4
	}
	if e.Term != nil {
		x |= uint64(e.Term.Index) << 5
	}
	if e.Class != nil {
		x |= uint64(e.Class.Index) << 18
	}
	d.shape = mix(d.shape, x)
}

// Block is a node, with all below it, that is the same in every document.
type Block struct {
	ev            []Event
	key           uint64
	events, bytes int
}

// Block takes the node at the index of an Open event out of d as a block. Key tells
// it apart from other blocks of the program.
func (d *Document) Block(at int32, key uint64) *Block {
	end := d.ev[at].End
	b := &Block{ev: append([]Event(nil), d.ev[at:end+1]...), key: mix(key, 2)}
	for i := range b.ev {
		e := &b.ev[i]
		e.Fixed = true
		if e.Kind != Close {
			b.events++
			b.bytes += len(e.Value)
		}
		if e.Kind == Open || e.Kind == Close {
			e.End -= at
		}
	}
	return b
}

// Put adds a block to the node now open. Like [Document.End] it reports false if an
// equal sibling stands before it.
func (d *Document) Put(b *Block) bool {
	if d.lean.on {
		d.lean.put(d, b)
		return true
	}
	d.planned = false
	at := int32(len(d.ev))
	d.ev = append(d.ev, b.ev...)
	if at > 0 {
		for i := at; i < int32(len(d.ev)); i++ {
			if k := d.ev[i].Kind; k == Open || k == Close {
				d.ev[i].End += at
			}
		}
	}
	if d.ev[at].Many && d.hasTwin(at) {
		d.ev = d.ev[:at]
		d.merged++
		return false
	}
	d.shape = mix(d.shape, b.key)
	return true
}

package entity

import (
	"math/bits"
	"unsafe"

	"github.com/cespare/xxhash/v2"
)

// Names gives every node its IRI, by the index of its Open event: a reference
// has its own, an embedded node a skolem IRI below the document's.
//
// The skolem IRI is the document's IRI, "#", and the path of keys from the root
// joined by "/". A node in an array adds "." and its author's key, or twelve
// characters made from the node's content; never its position. So an edit to one
// node leaves the IRIs of its siblings alone. Two siblings with the same author's
// key, or with colliding content marks, are told apart by a further suffix from
// the content.
//
// The slice belongs to d and is valid until Reset.
func (d *Document) Names() []string {
	if d.named {
		return d.names
	}
	d.named = true
	n := len(d.ev)
	if cap(d.names) < n {
		d.names = make([]string, n, n+n/2)
	}
	d.names = d.names[:n]
	d.nameBuf = d.nameBuf[:0]
	if n == 0 {
		return d.names
	}
	d.names[0] = d.ev[0].Value
	d.nameChildren(0, d.extend(d.names[0], '#', "", 0, false))
	return d.names
}

// nameChildren names the nodes below the one at index at; base is what their
// names begin with.
func (d *Document) nameChildren(at int32, base string) {
	end := d.ev[at].End
	for i := at + 1; i < end; i++ {
		e := &d.ev[i]
		if e.Kind != Open {
			continue
		}
		if e.Ref {
			d.names[i] = e.Value
			if d.hasEmbedded(i) {
				// Its own IRI may stand elsewhere in the document too, so the path
				// goes on from here.
				d.nameChildren(i, d.extend(base, '/', e.Term.Key, xxhash.Sum64String(e.Value), true))
			}
		} else {
			d.nameNode(at, i, base)
			if e.End > i+1 {
				d.nameChildren(i, d.extend(d.names[i], '/', "", 0, false))
			}
		}
		i = e.End
	}
}

func (d *Document) hasEmbedded(at int32) bool {
	for i := at + 1; i < d.ev[at].End; i++ {
		if d.ev[i].Kind == Open {
			return true
		}
	}
	return false
}

// room makes sure that the block has space for n more bytes. A new block rather
// than a regrown one: names already given stay where they are.
func (d *Document) room(n int) {
	if cap(d.nameBuf)-len(d.nameBuf) < n {
		d.nameBuf = make([]byte, 0, max(4096, 2*cap(d.nameBuf), n))
	}
}

// extend returns base with, if marked, a key and a mark put behind it, and sep.
func (d *Document) extend(base string, sep byte, key string, mark uint64, marked bool) string {
	d.room(len(base) + len(key) + 16)
	from := len(d.nameBuf)
	b := append(d.nameBuf, base...)
	if marked {
		b = append(b, key...)
		b = append(b, '.')
		b = appendMark(b, mark)
	}
	b = append(b, sep)
	d.nameBuf = b
	return unsafe.String(&b[from], len(b)-from)
}

func (d *Document) nameNode(parent, i int32, base string) {
	e := &d.ev[i]
	d.room(len(base) + len(e.Term.Key) + 3*len(e.Value) + 32)
	b := d.nameBuf
	from := len(b)
	b = append(b, base...)
	b = append(b, e.Term.Key...)
	if e.Many {
		b = append(b, '.')
		if e.Value != "" {
			b = appendFragment(b, e.Value)
		} else {
			b = appendMark(b, d.digest(i))
		}
	}
	name := unsafe.String(&b[from], len(b)-from)
	if e.Many && d.taken(parent, i, name) {
		b = append(b, '.')
		b = appendMark(b, d.digest(i)^0x9e3779b97f4a7c15)
		name = unsafe.String(&b[from], len(b)-from)
	}
	d.nameBuf = b
	d.names[i] = name
}

// taken reports whether a sibling before i already has the name.
func (d *Document) taken(parent, i int32, name string) bool {
	for k := i - 1; k > parent; {
		c := &d.ev[k]
		if c.Kind != Close || c.Term != d.ev[i].Term {
			return false
		}
		if d.names[c.End] == name {
			return true
		}
		k = c.End - 1
	}
	return false
}

// digest is a hash of the content of the node at i: classes, terms, values and
// references, in order.
func (d *Document) digest(i int32) uint64 {
	const k1, k2 = 0x9e3779b97f4a7c15, 0xc2b2ae3d27d4eb4f
	h := uint64(k2)
	for end := d.ev[i].End; i < end; i++ {
		e := &d.ev[i]
		x := uint64(e.Kind)
		if e.Kind == Open {
			x ^= xxhash.Sum64String(e.Class.Key)
		}
		if e.Term != nil {
			x = bits.RotateLeft64(x, 7) ^ xxhash.Sum64String(e.Term.Key)
		}
		if e.Value != "" {
			x = bits.RotateLeft64(x, 11) ^ xxhash.Sum64String(e.Value)
		}
		h = bits.RotateLeft64(h^x*k1, 29) * k2
	}
	h ^= h >> 32
	return h * k1
}

const markAlphabet = "0123456789abcdefghjkmnpqrstvwxyz"

// appendMark writes 60 bits of h in twelve characters.
func appendMark(b []byte, h uint64) []byte {
	for s := 55; s >= 0; s -= 5 {
		b = append(b, markAlphabet[h>>uint(s)&31])
	}
	return b
}

// appendFragment writes an author's key as part of an IRI fragment: characters
// outside RFC 3986 unreserved are percent-encoded as UTF-8.
func appendFragment(b []byte, key string) []byte {
	const hex = "0123456789ABCDEF"
	for i := 0; i < len(key); i++ {
		c := key[i]
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '_' || c == '~' {
			b = append(b, c)
		} else {
			b = append(b, '%', hex[c>>4], hex[c&15])
		}
	}
	return b
}

package entity

import (
	"math/bits"
	"unsafe"

	"github.com/cespare/xxhash/v2"

	"ropewalk/vocab"
)

// Flags of a document's events, see [Document.Said].
const (
	SaidHere  uint8 = 1 << iota // the value's or link's triple stands earlier in the document
	SaidClass                   // Open: the triple with the node's class does
	SaidAll                     // Open: all triples that have this node as subject do
)

// Names gives every node its IRI, by the index of its Open event: a reference
// has its own, an embedded node a skolem IRI below the document's. At the index
// of a TermName event stands the IRI that the name resolves to; what stands at
// other indexes means nothing.
//
// The skolem IRI is the document's IRI, "#", and the path of keys from the root
// joined by "/" (if the document's IRI has a fragment already, "/" stands for the
// "#", too). A node in an array adds "." and its author's key, or twelve
// characters made from the node's content; never its position. The content is the
// classes, keys and literals of the node and of the nodes embedded in it, in any
// order; of a reference its IRI alone, not its class or label; of an embedded node
// with an author's key that key alone. So an edit to one node leaves the IRIs of
// its siblings alone, and a new label of a term changes no IRI. Siblings with the
// same author's key, or whose contents differ only in what is not counted, are told
// apart by a further suffix made from all of their content.
//
// The path of a node embedded in a reference has the reference's key, ":" and
// twelve characters made from its IRI.
//
// The slice belongs to d and is valid until Reset.
func (d *Document) Names() []string {
	d.plan()
	return d.names
}

// Nodes lists the indexes of the Open events. The triples of a document are
// written node by node in this order. The slice belongs to d and is valid until
// Reset.
func (d *Document) Nodes() []int32 {
	d.plan()
	return d.nodes
}

// Said tells, by event, which triples stand earlier in the document: the class
// and label of a reference that occurs twice, for one. Said is nil if no triple
// occurs twice. The slice belongs to d and is valid until Reset.
func (d *Document) Said() []uint8 {
	d.plan()
	if !d.repeats {
		return nil
	}
	return d.said
}

// Err is the reason why d cannot be written: an IRI that [CheckIRI] refuses, or a
// TermName that names nothing; nil if there is none.
func (d *Document) Err() error {
	d.need()
	if d.planned {
		return d.err
	}
	for i := range d.ev {
		switch e := &d.ev[i]; {
		case e.Kind == Open && e.Ref:
			if err := CheckIRI(e.Value); err != nil {
				return err
			}
		case e.Kind == TermName && d.resolve(d.enclosing(int32(i)), e.Value) == "":
			return &TermError{Name: e.Value, Document: d.IRI()}
		}
	}
	return nil
}

// frame is a node that is open in a walk.
type frame struct {
	at     int32
	wanted bool   // the content is part of a mark
	sum    uint64 // of the marks of the content so far
}

// entry is a place in the table of names of a document.
type entry struct {
	hash  uint64
	index int32
	round uint32 // of the document for which the entry is valid
}

var (
	classMark []uint64
	termMark  []uint64
)

func init() {
	for _, c := range vocab.Classes() {
		classMark = append(classMark, xxhash.Sum64String(c.Key))
	}
	for _, t := range vocab.Terms() {
		termMark = append(termMark, xxhash.Sum64String(t.Key))
	}
}

// mix makes one hash of two.
func mix(a, b uint64) uint64 {
	hi, lo := bits.Mul64(a^0x9e3779b97f4a7c15, b^0xc2b2ae3d27d4eb4f)
	return hi ^ lo
}

// plan works out names and repeated triples.
func (d *Document) plan() {
	d.need()
	if d.planned {
		return
	}
	d.planned = true
	d.err, d.repeats = nil, false
	d.nodes, d.nameBuf = d.nodes[:0], d.nameBuf[:0]
	n := len(d.ev)
	if cap(d.names) < n {
		c := n + n/2
		d.names, d.marks, d.said = make([]string, n, c), make([]uint64, n, c), make([]uint8, n, c)
		d.parent, d.prev = make([]int32, n, c), make([]int32, n, c)
	}
	d.names, d.marks, d.said, d.parent, d.prev = d.names[:n], d.marks[:n], d.said[:n], d.parent[:n], d.prev[:n]
	if n == 0 {
		return
	}
	clear(d.said)
	d.markAll()
	if d.nameAll() {
		d.findRepeats()
	}
}

// markAll makes the mark of every node that needs one: of its IRI, its author's
// key or its content.
func (d *Document) markAll() {
	frames := d.frames[:0]
	for i := range d.ev {
		e := &d.ev[i]
		switch e.Kind {
		case Open:
			f := frame{at: int32(i), sum: classMark[e.Class.Index]}
			d.nodes = append(d.nodes, int32(i))
			d.parent[i] = -1
			if len(frames) > 0 {
				above := &frames[len(frames)-1]
				d.parent[i] = above.at
				f.wanted = !e.Ref && (above.wanted || e.Many) && (!e.Many || e.Value == "")
			}
			frames = append(frames, f)
		case Close:
			f := &frames[len(frames)-1]
			frames = frames[:len(frames)-1]
			o := &d.ev[f.at]
			var m uint64
			switch {
			case f.wanted:
				m = mix(f.sum, 0)
			case o.Ref:
				m = xxhash.Sum64String(o.Value)
			case o.Many:
				m = xxhash.Sum64String(o.Value)
				if k, ok := readMark(o.Value); ok {
					m = k // the key looks like a mark: keep it apart from equal ones
				}
			}
			d.marks[f.at] = m
			if len(frames) > 0 && frames[len(frames)-1].wanted {
				frames[len(frames)-1].sum += mix(m, termMark[o.Term.Index])
			}
		default:
			if f := &frames[len(frames)-1]; f.wanted {
				f.sum += mix(xxhash.Sum64String(e.Value), termMark[e.Term.Index])
			}
			if e.Many && d.valueTwice(int32(i)) {
				d.said[i], d.repeats = SaidHere, true
			}
			if e.Kind == TermName {
				d.names[i] = d.resolve(frames[len(frames)-1].at, e.Value)
				if d.names[i] == "" && d.err == nil {
					d.err = &TermError{Name: e.Value, Document: d.IRI()}
				}
			}
		}
	}
	d.frames = frames
}

// valueTwice reports whether the value at i stands in the same array before.
func (d *Document) valueTwice(i int32) bool {
	for k := i - 1; k > 0 && d.ev[k].Term == d.ev[i].Term && d.ev[k].Kind == d.ev[i].Kind; k-- {
		if d.ev[k].Value == d.ev[i].Value {
			return true
		}
	}
	return false
}

// resolve gives the IRI of a name in the node at index at. The profile's context
// scopes attributed_by by class, and what it says there of a name holds for all
// that is nested below (JSON-LD 1.1 §4.1.8), until another class says otherwise.
func (d *Document) resolve(at int32, name string) string {
	plain := (*vocab.Class)(nil).Resolve(name)
	for at > 0 {
		above := d.enclosing(at)
		if d.ev[at].Term.Key == "attributed_by" {
			if iri := d.ev[above].Class.Resolve(name); iri != plain {
				return iri
			}
		}
		at = above
	}
	return plain
}

// enclosing is the index of the node in which the event at i > 0 stands.
func (d *Document) enclosing(i int32) int32 {
	for i--; d.ev[i].Kind != Open; i-- {
		if d.ev[i].Kind == Close {
			i = d.ev[i].End
		}
	}
	return i
}

// nameAll names the nodes and reports whether triples may occur twice.
func (d *Document) nameAll() bool {
	size := 64
	for size < 2*len(d.nodes) {
		size *= 2
	}
	if len(d.table) < size {
		d.table, d.round = make([]entry, size), 0
	}
	if d.round++; d.round == 0 {
		clear(d.table)
		d.round = 1
	}
	root := d.ev[0].Value
	sep := byte('#')
	for i := 0; i < len(root); i++ {
		if root[i] == '#' {
			sep = '/'
		}
	}
	d.bases = d.bases[:0]
	repeats, own := d.repeats, false
	for _, i := range d.nodes {
		e := &d.ev[i]
		d.prev[i] = -1
		switch {
		case e.Ref || i == 0:
			d.names[i] = e.Value
			if t := d.look(d.marks[i], e.Value); t.round == d.round {
				d.prev[i], t.index = t.index, i
				repeats = true
			} else {
				*t = entry{d.marks[i], i, d.round}
				if d.err == nil {
					d.err = CheckIRI(e.Value)
				}
				own = own || i > 0 && len(e.Value) > len(root) && e.Value[len(root)] == sep && e.Value[:len(root)] == root
			}
			if i > 0 && d.hasEmbedded(i) {
				d.bases = append(d.bases, d.refBase(i, sep))
			}
		case e.Many:
			d.nameRepeated(i, sep)
		default:
			base, s := d.base(d.parent[i], sep)
			d.room(len(base) + len(e.Term.Key) + 1)
			from := len(d.nameBuf)
			d.nameBuf = append(append(append(d.nameBuf, base...), s), e.Term.Key...)
			d.names[i] = d.made(from)
		}
	}
	if own {
		d.joinOwn()
		return true
	}
	return repeats
}

// base is what the names of nodes embedded in the node at index at begin with,
// and the separator that follows.
func (d *Document) base(at int32, sep byte) (string, byte) {
	if at == 0 {
		return d.names[0], sep
	}
	if d.ev[at].Ref {
		for k := len(d.bases) - 1; k >= 0; k-- {
			if d.bases[k].at == at {
				return d.bases[k].name, '/'
			}
		}
	}
	return d.names[at], '/'
}

// refBase makes the path of a reference that has embedded nodes: its own IRI may
// stand elsewhere in the document too.
func (d *Document) refBase(i int32, sep byte) refBase {
	base, s := d.base(d.parent[i], sep)
	e := &d.ev[i]
	for n := uint64(0); ; n++ {
		d.room(len(base) + len(e.Term.Key) + 48)
		from := len(d.nameBuf)
		b := append(append(append(d.nameBuf, base...), s), e.Term.Key...)
		b = appendMark(append(b, ':'), d.marks[i])
		if n > 0 {
			b = appendMark(append(b, '.'), mix(d.full(i), n))
		}
		d.nameBuf = b
		name := d.made(from)
		taken := false
		for _, other := range d.bases {
			taken = taken || other.name == name
		}
		if !taken {
			return refBase{i, name}
		}
		d.nameBuf = d.nameBuf[:from]
	}
}

type refBase struct {
	at   int32
	name string
}

// nameRepeated names an embedded node that stands in an array.
func (d *Document) nameRepeated(i int32, sep byte) {
	e := &d.ev[i]
	base, s := d.base(d.parent[i], sep)
	d.room(len(base) + len(e.Term.Key) + 3*len(e.Value) + 48)
	from := len(d.nameBuf)
	b := append(append(append(d.nameBuf, base...), s), e.Term.Key...)
	b = append(b, '.')
	if e.Value != "" {
		b = appendFragment(b, e.Value)
	} else {
		b = appendMark(b, d.marks[i])
	}
	d.nameBuf = b
	stem, h := len(b), mix(d.marks[i]>>4, uint64(d.parent[i])<<16|uint64(e.Term.Index))
	for n := uint64(1); ; n++ {
		name := d.made(from)
		t := d.look(h, name)
		if t.round != d.round {
			*t = entry{h, i, d.round}
			d.names[i] = name
			return
		}
		d.nameBuf = appendMark(append(d.nameBuf[:stem], '.'), mix(d.full(i), n))
	}
}

// look finds the entry of a name, or the free one where it belongs.
func (d *Document) look(hash uint64, name string) *entry {
	mask := uint64(len(d.table) - 1)
	for k := (hash ^ hash>>32) & mask; ; k = (k + 1) & mask {
		t := &d.table[k]
		if t.round != d.round || t.hash == hash && d.names[t.index] == name {
			return t
		}
	}
}

func (d *Document) hasEmbedded(at int32) bool {
	for i, end := at+1, d.ev[at].End; i < end; i++ {
		if d.ev[i].Kind == Open && !d.ev[i].Ref {
			return true
		}
	}
	return false
}

// joinOwn finds the earlier node of the same name for every node, also where a
// reference names an embedded node of the document itself.
func (d *Document) joinOwn() {
	last := make(map[string]int32, len(d.nodes))
	for _, i := range d.nodes {
		d.prev[i] = -1
		if p, ok := last[d.names[i]]; ok {
			d.prev[i] = p
		}
		last[d.names[i]] = i
	}
}

// findRepeats marks what an earlier node of the same name says already.
func (d *Document) findRepeats() {
	for _, i := range d.nodes {
		if d.prev[i] < 0 {
			continue
		}
		p := d.parent[i]
		for j := d.prev[i]; j > 0; j = d.prev[j] {
			if d.names[d.parent[j]] == d.names[p] && d.ev[j].Term.IRI == d.ev[i].Term.IRI {
				d.said[i] |= SaidHere
				d.repeats = true
				break
			}
			if j < p && d.prev[p] < 0 {
				break // what stands before its only parent is no sibling
			}
		}
		for j := d.prev[i]; j >= 0; j = d.prev[j] {
			if d.ev[j].Class == d.ev[i].Class {
				d.said[i] |= SaidClass
				d.repeats = true
				break
			}
		}
		for k := i + 1; k < d.ev[i].End; k++ {
			if d.ev[k].Kind == Open {
				k = d.ev[k].End
			} else if d.saidBefore(i, k) {
				d.said[k] |= SaidHere
				d.repeats = true
			}
		}
	}
	for _, i := range d.nodes {
		if d.said[i]&SaidClass == 0 {
			continue
		}
		all := true
		for k := i + 1; k < d.ev[i].End && all; k++ {
			all = d.said[k]&SaidHere != 0
			if d.ev[k].Kind == Open {
				k = d.ev[k].End
			}
		}
		if all {
			d.said[i] |= SaidAll
		}
	}
}

// saidBefore reports whether an earlier node with the name of the one at i has the
// literal at k.
func (d *Document) saidBefore(i, k int32) bool {
	e := &d.ev[k]
	for j := d.prev[i]; j >= 0; j = d.prev[j] {
		for m := j + 1; m < d.ev[j].End; m++ {
			o := &d.ev[m]
			if o.Kind == Open {
				m = o.End
			} else if o.Kind == e.Kind && o.Value == e.Value && o.Term.IRI == e.Term.IRI {
				if e.Kind != TermName || d.names[m] == d.names[k] {
					return true
				}
			}
		}
	}
	return false
}

// full is a hash of all content of the node at i, that of references included.
func (d *Document) full(i int32) uint64 {
	e := &d.ev[i]
	h := mix(classMark[e.Class.Index], xxhash.Sum64String(e.Value))
	for k := i + 1; k < e.End; k++ {
		c := &d.ev[k]
		if c.Kind == Open {
			h += mix(d.full(k), termMark[c.Term.Index])
			k = c.End
		} else {
			h += mix(xxhash.Sum64String(c.Value), termMark[c.Term.Index])
		}
	}
	return mix(h, 1)
}

// room makes sure that the block has space for n more bytes. A new block rather
// than a regrown one: names already given stay where they are.
func (d *Document) room(n int) {
	if cap(d.nameBuf)-len(d.nameBuf) < n {
		d.nameBuf = make([]byte, 0, max(4096, 2*cap(d.nameBuf), n))
	}
}

// made is what was appended to the block since from.
func (d *Document) made(from int) string {
	return unsafe.String(&d.nameBuf[from], len(d.nameBuf)-from)
}

const markAlphabet = "0123456789abcdefghjkmnpqrstvwxyz"

// markPairs holds the two characters of every ten bits.
var markPairs = func() (t [1024][2]byte) {
	for i := range t {
		t[i] = [2]byte{markAlphabet[i>>5], markAlphabet[i&31]}
	}
	return t
}()

// appendMark writes the upper 60 bits of h in twelve characters.
func appendMark(b []byte, h uint64) []byte {
	p0, p1, p2 := markPairs[h>>54], markPairs[h>>44&1023], markPairs[h>>34&1023]
	p3, p4, p5 := markPairs[h>>24&1023], markPairs[h>>14&1023], markPairs[h>>4&1023]
	return append(b, p0[0], p0[1], p1[0], p1[1], p2[0], p2[1], p3[0], p3[1], p4[0], p4[1], p5[0], p5[1])
}

// readMark reads back what appendMark wrote.
func readMark(s string) (h uint64, ok bool) {
	if len(s) != 12 {
		return 0, false
	}
	for i := 0; i < len(s); i++ {
		k := 0
		for k < len(markAlphabet) && markAlphabet[k] != s[i] {
			k++
		}
		if k == len(markAlphabet) {
			return 0, false
		}
		h = h<<5 | uint64(k)
	}
	return h << 4, true
}

// appendFragment writes an author's key as part of an IRI fragment: characters
// outside RFC 3986 unreserved, and the point, are percent-encoded as UTF-8.
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

// Digest is a hash of the whole document: classes, terms, values and references
// in order. Equal documents have equal digests, run after run.
func (d *Document) Digest() uint64 {
	d.need()
	h := uint64(len(d.ev))
	for i := range d.ev {
		e := &d.ev[i]
		x := uint64(e.Kind)
		if e.Kind == Open {
			x += classMark[e.Class.Index]
		}
		if e.Term != nil {
			x = bits.RotateLeft64(x, 7) ^ termMark[e.Term.Index]
		}
		if e.Value != "" {
			x = bits.RotateLeft64(x, 11) ^ xxhash.Sum64String(e.Value)
		}
		h = mix(h, x)
	}
	return h
}

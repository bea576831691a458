package mapping

import (
	"maps"
	"slices"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

// reader turns the text of a cell into nodes: the language's "read".
type reader struct {
	name string
	many bool // it may find several
	key  string
	conv *reading.Conventions
	// scan reads the text and calls make for each thing found, with a function that
	// writes what the reading says under a key of the node. It returns the reason
	// why not. Kept words, if any, are made too, with partial true.
	scan func(r *Run, v *value, text string, c *reading.Conventions, make func(write writeFunc)) error
}

// writeFunc writes what a reading says under slot of the node now open, and
// reports whether it said anything.
type writeFunc func(r *Run, class *vocab.Class, slot *vocab.Slot, origin int32) bool

func (r *reader) class() *vocab.Class { return vocab.ClassByKey(r.key) }

// readers are the readers of nodes.
var readers = map[string]*reader{}

// rowReader turns the text of a cell into rows, for "each".
type rowReader struct {
	name   string
	fields []string
	conv   *reading.Conventions
	rows   func(text string, c *reading.Conventions) ([][]string, error)
}

var rowReaders = map[string]*rowReader{}

func readerNames() []string    { return slices.Sorted(maps.Keys(readers)) }
func rowReaderNames() []string { return slices.Sorted(maps.Keys(rowReaders)) }

// read makes what a reader finds in a text.
func (r *Run) read(v *value, f *fill) (made, filled bool) {
	n := v.node
	if n.when != nil && !r.truth(n.when) {
		return false, false
	}
	s, _ := r.fill(v.text)
	if s == "" {
		return false, false
	}
	err := v.read.scan(r, v, s, v.read.conv, func(write writeFunc) {
		if made && !f.slot.Many {
			return
		}
		key := ""
		if n.key != nil {
			key, _ = r.fill(n.key)
		}
		r.doc.Begin(f.term, f.slot.Many, n.class, false, key, v.origin)
		r.traceText(v.text)
		own := n.fills
		for _, sl := range n.shape.Slots {
			wrote := write(r, n.class, sl, v.origin)
			for len(own) > 0 && own[0].slot.Index <= sl.Index {
				if own[0].slot == sl && (sl.Many || !wrote) {
					for _, x := range own[0].values {
						r.value(x, own[0])
					}
				}
				own = own[1:]
			}
		}
		r.doc.End()
		made = true
	})
	if err != nil {
		r.unread(v.text, v.span, s, err)
	}
	return made, true
}

// say adds a literal that a reading gives.
func (r *Run) say(kind entity.Kind, class *vocab.Class, slot *vocab.Slot, s string, v *value, origin int32) {
	r.doc.Value(kind, class.Term(slot.Key), slot.Many, s, origin)
	r.traceText(v.text)
}

// sayName adds an embedded Name with the words as written.
func (r *Run) sayName(class *vocab.Class, slot *vocab.Slot, words string, typ string, v *value, origin int32) {
	name := vocab.ClassByKey("Name")
	r.doc.Begin(class.Term(slot.Key), slot.Many, name, false, "", origin)
	if typ != "" {
		r.sayType(name, "classified_as", typ, origin)
	}
	r.doc.Text(name.Term("content"), false, words, origin)
	r.traceText(v.text)
	r.doc.End()
}

// sayType adds a reference to a known authority term under key.
func (r *Run) sayType(class *vocab.Class, key, curie string, origin int32) {
	a, ok := vocab.AuthorityByCURIE(curie)
	if !ok {
		return
	}
	typ := vocab.ClassByKey("Type")
	r.doc.Begin(class.Term(key), true, typ, true, a.IRI, origin)
	r.doc.Text(typ.Term("_label"), false, a.Label, origin)
	r.doc.End()
}

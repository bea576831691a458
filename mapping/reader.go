package mapping

import (
	"maps"
	"slices"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

// reader turns the text of a cell into nodes: the language's "read". It is the seam
// to package reading: text and conventions in, findings or a reason out.
type reader struct {
	name string
	many bool   // it may find several
	key  string // class of the nodes it makes
	conv *reading.Conventions
	// scan appends what it finds in a text. The error is the reason why not; words
	// that are kept all the same are a finding.
	scan func(r *Run, v *value, text string, found []finding) ([]finding, error)
}

// finding is one thing that a reader has found: it becomes a node.
type finding interface {
	// write adds what stands under a slot of the node now open, and reports whether
	// anything does.
	write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool
}

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
	if !r.holds(n.whens) || !r.asserted(n.sure) {
		return false, false
	}
	s, _ := r.fill(v.text)
	if s == "" {
		return false, false
	}
	found, err := v.read.scan(r, v, s, r.found[:0])
	r.found = found
	for _, x := range found {
		if made && !f.slot.Many {
			break
		}
		key := ""
		if n.key != nil {
			key, _ = r.fill(n.key)
		}
		r.doc.Begin(f.term, f.slot.Many, n.class, false, key, v.origin)
		if n.key == nil || n.key.holes == 0 {
			r.doc.Fix()
		}
		r.traceText(v.text)
		own := n.fills
		for _, sl := range n.shape.Slots {
			wrote := x.write(r, v, sl, v.terms[sl.Index])
			for len(own) > 0 && own[0].slot.Index <= sl.Index {
				if own[0].slot == sl && (sl.Many || !wrote) {
					for _, y := range own[0].values {
						r.value(y, own[0])
					}
				}
				own = own[1:]
			}
		}
		r.doc.End()
		made = true
	}
	if err != nil {
		r.unread(v.text, v.span, s, err)
	}
	return made, true
}

// say adds a literal that a reading gives.
func (r *Run) say(kind entity.Kind, v *value, slot *vocab.Slot, term *vocab.Term, s string) {
	r.doc.Value(kind, term, slot.Many, s, v.origin)
	r.traceText(v.text)
}

// The classes and terms of what readers write.
var (
	nameClass, typeClass, unitClass, currencyClass *vocab.Class
	nameContent, nameType, label                   *vocab.Term
	displayTitle                                   *vocab.Authority
)

func init() {
	nameClass, typeClass, unitClass = vocab.ClassByKey("Name"), vocab.ClassByKey("Type"), vocab.ClassByKey("MeasurementUnit")
	currencyClass = vocab.ClassByKey("Currency")
	nameContent, nameType, label = nameClass.Term("content"), nameClass.Term("classified_as"), typeClass.Term("_label")
	displayTitle, _ = vocab.AuthorityByCURIE("aat:300404669")
}

// sayName adds an embedded Name with the words as written, as the display title.
func (r *Run) sayName(v *value, slot *vocab.Slot, term *vocab.Term, words string) {
	r.doc.Begin(term, slot.Many, nameClass, false, "", v.origin)
	r.doc.Fix()
	r.sayTerm(v, nameType, true, typeClass, displayTitle)
	r.doc.Text(nameContent, false, words, v.origin)
	r.traceText(v.text)
	r.doc.End()
}

// sayTerm adds a reference to a known authority term.
func (r *Run) sayTerm(v *value, term *vocab.Term, many bool, class *vocab.Class, a *vocab.Authority) {
	r.doc.Begin(term, many, class, true, a.IRI, v.origin)
	r.doc.FixValue()
	r.doc.Text(label, false, a.Label, v.origin)
	r.doc.FixValue()
	r.doc.End()
}

// figures are the number of a measure, an amount or a count, with its limits; ""
// where there are none.
type figures struct{ val, lower, upper string }

// write adds the figure that belongs to a slot.
func (f *figures) write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool {
	s := ""
	switch slot.Key {
	case "value":
		s = f.val
	case "lower_value_limit":
		s = f.lower
	case "upper_value_limit":
		s = f.upper
	}
	if s == "" {
		return false
	}
	r.say(entity.Number, v, slot, term, s)
	return true
}

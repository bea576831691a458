// Package entitytest makes random documents of the profile, for property tests.
package entitytest

import (
	"strings"

	"pgregory.net/rapid"

	"ropewalk/mapping/entity"
	"ropewalk/vocab"
)

// Options narrow what [Documents] makes. The zero value gives small documents
// of every class, with all of Unicode in their texts.
type Options struct {
	Text     *rapid.Generator[string] // texts; default [Text]
	IRI      *rapid.Generator[string] // references; default [IRI]
	Endpoint string                   // make documents of this endpoint only
	Depth    int                      // of nested nodes; default 4
	Keys     bool                     // some embedded nodes have author's keys
}

// Documents generates documents that fit the shapes of the profile. References
// repeat, also with differing labels; some name the document or its own nodes.
func Documents(o Options) *rapid.Generator[*entity.Document] {
	if o.Text == nil {
		o.Text = Text()
	}
	if o.IRI == nil {
		o.IRI = IRI()
	}
	if o.Depth == 0 {
		o.Depth = 4
	}
	return rapid.Custom(func(t *rapid.T) *entity.Document {
		ep := vocab.EndpointByName(o.Endpoint)
		if ep == nil {
			ep = rapid.SampledFrom(vocab.Endpoints()).Draw(t, "endpoint")
		}
		m := maker{o: o, t: t, d: new(entity.Document), root: o.IRI.Draw(t, "document")}
		m.pool = []string{m.root, m.root + "#produced_by", m.root + "#timespan", "http://vocab.getty.edu/aat/300379098"}
		m.pool = append(m.pool, rapid.SliceOfN(o.IRI, 1, 4).Draw(t, "pool")...)
		m.node(nil, false, ep.Shape, 0)
		return m.d
	})
}

type maker struct {
	o    Options
	t    *rapid.T
	d    *entity.Document
	root string
	pool []string // IRIs that repeat
}

func (m *maker) node(term *vocab.Term, many bool, s *vocab.Shape, depth int) {
	class := rapid.SampledFrom(s.Classes).Draw(m.t, "class")
	ref, iri := s.ID == vocab.IDRequired, ""
	switch {
	case depth == 0:
		iri = m.root
	case ref && rapid.IntRange(0, 3).Draw(m.t, "fresh") == 0:
		iri = m.o.IRI.Draw(m.t, "iri")
	case ref:
		iri = rapid.SampledFrom(m.pool).Draw(m.t, "known")
	case m.o.Keys && rapid.IntRange(0, 3).Draw(m.t, "keyed") == 0:
		iri = rapid.SampledFrom([]string{"primary", "a b", "ü.;=%/", "0123456789ab", "k" + m.o.Text.Draw(m.t, "key")}).Draw(m.t, "key")
	}
	m.d.Begin(term, many, class, ref, iri, -1)
	few := 3
	if len(s.Slots) > 8 {
		few = 6 // of larger shapes a smaller part
	}
	for _, slot := range s.Slots {
		if slot.Required || depth < m.o.Depth && rapid.IntRange(0, few).Draw(m.t, slot.Key) == 0 {
			m.slot(class, slot, depth)
		}
	}
	m.d.End()
}

func (m *maker) slot(class *vocab.Class, slot *vocab.Slot, depth int) {
	term, n := class.Term(slot.Key), 1
	if slot.Many && depth < m.o.Depth {
		n = rapid.IntRange(1, 3).Draw(m.t, "n")
	}
	for range n {
		switch slot.Kind {
		case vocab.KindNode:
			m.node(term, slot.Many, m.shape(slot, depth), depth+1)
		case vocab.KindNumber:
			m.d.Value(entity.Number, term, slot.Many, string(entity.AppendNumber(nil, Number().Draw(m.t, "number"))), -1)
		case vocab.KindDateTime:
			m.d.Value(entity.DateTime, term, slot.Many, DateTime().Draw(m.t, "date"), -1)
		case vocab.KindTerm:
			names := []string{"part_of", "part", "member_of", "identified_by", "carried_out_by", "crm:P2_has_type", "Type"}
			m.d.Value(entity.TermName, term, slot.Many, rapid.SampledFrom(names).Draw(m.t, "term"), -1)
		default:
			m.d.Text(term, slot.Many, m.o.Text.Draw(m.t, "text"), -1)
		}
	}
}

// shape chooses one of the shapes of a slot; below the wanted depth a reference, if
// there is one.
func (m *maker) shape(slot *vocab.Slot, depth int) *vocab.Shape {
	shapes := slot.Shapes
	if shapes == nil {
		shapes = vocab.Shapes()
	}
	if depth+1 >= m.o.Depth {
		var refs []*vocab.Shape
		for _, s := range shapes {
			if s.ID == vocab.IDRequired && !s.Document {
				refs = append(refs, s)
			}
		}
		if len(refs) > 0 {
			shapes = refs
		}
	}
	return rapid.SampledFrom(shapes).Draw(m.t, "shape")
}

// Text generates strings of any characters, those that need care in some syntax
// among them.
func Text() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.StringN(0, 12, -1),
		rapid.StringOfN(special, 0, 12, -1),
		rapid.StringOfN(rapid.OneOf(special, rapid.Rune()), 0, 40, -1),
		rapid.SampledFrom([]string{"Plain words", "Sextant, Öland", "a \"quoted\" \\ text\r\n\tindented", "<p>R&D ]]></p>", "  ", "trailing.", "ελληνικά", "海圖 📐"}),
	)
}

// XMLText generates strings as Text does, of characters that XML can carry.
func XMLText() *rapid.Generator[string] {
	return rapid.Map(Text(), func(s string) string {
		return strings.Map(func(r rune) rune {
			if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
				return '?'
			}
			return r
		}, s)
	})
}

var special = rapid.SampledFrom([]rune{
	'"', '\\', '\'', '<', '>', '&', ']', '\n', '\r', '\t', '\b', '\f', 0, 1, 0x0b, 0x1f, ' ', 0x7f, 0x80, 0x85, 0xa0, 0xad,
	0x300, 0xd7ff, 0xe000, 0xf000, 0xfdd0, 0xfeff, 0xfffd, 0xfffe, 0xffff, 0x10000, 0x1fffe, 0x10ffff, 0x2028, 0x2029, 0x202e, 'a', '0', '.', '%', '{', '}', '@', '^', '#',
})

// IRI generates legal IRIs.
func IRI() *rapid.Generator[string] {
	tail := rapid.StringOfN(rapid.SampledFrom([]rune("abcXYZ019-._~:/?#@!$&'()*+,;=öÅ海\U00010000")), 0, 12, -1)
	head := rapid.SampledFrom([]string{
		"https://museum.example/object/", "http://vocab.getty.edu/aat/30", "http://www.cidoc-crm.org/cidoc-crm/", "https://linked.art/ns/terms/",
		"urn:x:", "tag:example,2020:", "http://www.w3.org/2001/XMLSchema#", "mailto:a@example.org?", "https://museum.example/a%20b/",
	})
	return rapid.Map(rapid.Custom(func(t *rapid.T) [2]string {
		return [2]string{head.Draw(t, "head"), tail.Draw(t, "tail")}
	}), func(p [2]string) string {
		if i := strings.IndexByte(p[0], '#'); i >= 0 {
			p[1] = strings.ReplaceAll(p[1], "#", "") // a fragment has no second sign
		} else if i := strings.IndexByte(p[1], '#'); i >= 0 {
			p[1] = p[1][:i+1] + strings.ReplaceAll(p[1][i+1:], "#", "")
		}
		return p[0] + p[1]
	})
}

// Number generates finite numbers of every magnitude.
func Number() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Float64Range(-1e30, 1e30),
		rapid.Float64Range(0, 1000),
		rapid.Map(rapid.IntRange(-100000, 100000), func(n int) float64 { return float64(n) / 100 }),
		rapid.Map(rapid.Int64(), func(n int64) float64 { return float64(n) }),
		rapid.SampledFrom([]float64{0, 1, -1, 9.2, 80.9, 1e15, 123456789012345680, 1e20, 999999999999999900000, 1e21, 1e-6, 1e-7, 5e-324, 1.7976931348623157e308}),
	)
}

// DateTime generates xsd:dateTime values, years before the common era among them.
func DateTime() *rapid.Generator[string] {
	return rapid.SampledFrom([]string{"1850-01-01T00:00:00Z", "1899-12-31T23:59:59Z", "-0043-03-15T00:00:00Z", "2024-02-29T12:30:00+01:00", "0001-01-01T00:00:00Z"})
}

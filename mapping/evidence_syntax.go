package mapping

import (
	"fmt"

	"ropewalk/vocab"
)

// textValue is text that is compiled already.
type textValue struct{ *text }

// Place is where the text stands.
func (t *textValue) Place() Span { return t.src.Span }

// inEnv is a value with the inside of a pattern it was written in.
type inEnv struct {
	Value
	env *env
}

func fixedScalar(sp Span, s string) *Scalar { return &Scalar{Span: sp, Text: s, Quoted: true} }

func word(sp Span, key, s string) Entry { return Entry{fixedScalar(sp, key), fixedScalar(sp, s)} }

// assignmentSyntax writes an attribute assignment as an author of a mapping would, but
// for what it assigns and how sure it is. It returns nil after saying what is wrong.
func (c *compiler) assignmentSyntax(sp Span, said map[string]bound, property string, g *grounds) *Map {
	m := &Map{Span: sp, Entries: []Entry{word(sp, "type", "AttributeAssignment")}}
	put := func(key string, vs ...Value) {
		switch len(vs) {
		case 0:
		case 1:
			m.Entries = append(m.Entries, Entry{fixedScalar(sp, key), vs[0]})
		default:
			m.Entries = append(m.Entries, Entry{fixedScalar(sp, key), &List{Span: sp, Items: vs}})
		}
	}
	if b, ok := said["key"]; ok {
		put("key", inEnv{b.value, b.env})
	}
	if b, ok := said["by"]; ok {
		put("carried_out_by", inEnv{b.value, b.env})
	}
	if b, ok := said["on"]; ok {
		v := b.value
		if s, isText := v.(*Scalar); isText && !s.Null { // a date as a curator writes it
			v = &Map{Span: s.Span, Entries: []Entry{word(s.Span, "read", "date"), {fixedScalar(s.Span, "from"), s}}}
		}
		put("timespan", inEnv{v, b.env})
	}
	var things, others, statements []Value
	if b, ok := said["documents"]; ok {
		for _, item := range c.list(b.value) {
			v, e := c.deref(item, b.env)
			if v == nil {
				continue
			}
			doc, page := c.evidenceDocument(v)
			if doc == nil {
				return nil
			}
			if page != nil {
				statements = append(statements, inEnv{page, e})
			}
			switch cl := c.documentClass(doc, e, g); {
			case cl == nil:
				return nil
			case cl.Key == "HumanMadeObject" || cl.Key == "Set":
				things = append(things, inEnv{doc, e})
			default:
				others = append(others, inEnv{doc, e})
			}
		}
	}
	put("used_specific_object", things...)
	put("influenced_by", others...)
	if b, ok := said["citations"]; ok {
		for _, item := range c.list(b.value) {
			v, e := c.deref(item, b.env)
			if v == nil {
				continue
			}
			s := c.evidenceCitation(v)
			if s == nil {
				return nil
			}
			statements = append(statements, inEnv{s, e})
		}
	}
	if b, ok := said["grounds"]; ok {
		for _, item := range c.list(b.value) {
			if v, e := c.deref(item, b.env); v != nil {
				statements = append(statements, inEnv{&Map{Span: v.Place(), Entries: []Entry{word(v.Place(), "use", "note"), {fixedScalar(v.Place(), "content"), v}}}, e})
			}
		}
	}
	put("referred_to_by", statements...)
	put("assigned_property", fixedScalar(sp, property))
	return m
}

// leaf cuts page and folio off a document or citation. at is the text that stands
// before the figures ("p. 12"), nil if neither is given.
func (c *compiler) leaf(m *Map) (rest *Map, mark string, at Value, ok bool) {
	rest = &Map{Span: m.Span, Flow: m.Flow}
	var first *Scalar
	for _, e := range m.Entries {
		switch e.Key.Text {
		case "page", "folio":
			if first != nil {
				c.add(ruleWrongValue, e.Key.Span, "a place in a document is a page or a folio", "leave one of the two out, or write both into the words of a citation", first.Span)
				return nil, "", nil, false
			}
			first, at = e.Key, e.Value
			mark = map[string]string{"page": "p. ", "folio": "fol. "}[e.Key.Text]
		default:
			rest.Entries = append(rest.Entries, e)
		}
	}
	return rest, mark, at, true
}

// citation is a statement with words and the place in the document. Without need there
// may be words alone.
func citation(sp Span, words Value, mark string, at Value, need bool, beside []Entry) *Map {
	content := words
	if at != nil {
		content = &joined{sp, []joint{{value: words}, {value: at, lead: ", " + mark, need: need}}}
	}
	m := &Map{Span: sp, Entries: []Entry{word(sp, "use", "citation"), {fixedScalar(sp, "content"), content}}}
	m.Entries = append(m.Entries, beside...)
	return m
}

// evidenceDocument takes a reference to a document, and a citation of the place in it
// if one is given.
func (c *compiler) evidenceDocument(v Value) (doc Value, page *Map) {
	m, ok := v.(*Map)
	if !ok {
		return v, nil
	}
	rest, mark, at, ok := c.leaf(m)
	if !ok {
		return nil, nil
	}
	if at == nil {
		return rest, nil
	}
	var words Value
	var beside []Entry
	for _, e := range rest.Entries {
		switch e.Key.Text {
		case "label":
			words = e.Value
		case "each", "when":
			beside = append(beside, e)
		}
	}
	if words == nil {
		c.add(ruleWrongValue, at.Place(), "a page or folio of a document needs the document's name beside it", "add label: to the reference")
		return nil, nil
	}
	return rest, citation(m.Span, words, mark, at, true, beside)
}

// evidenceCitation takes a citation in words.
func (c *compiler) evidenceCitation(v Value) Value {
	m, ok := v.(*Map)
	if !ok {
		return citation(v.Place(), v, "", nil, false, nil)
	}
	if c.wantsQuotes(m) {
		return nil
	}
	rest, mark, at, ok := c.leaf(m)
	if !ok {
		return nil
	}
	var words Value
	var beside []Entry
	for _, e := range rest.Entries {
		switch e.Key.Text {
		case "text":
			words = e.Value
		case "each", "when", "key", "language":
			beside = append(beside, e)
		default:
			c.add(ruleUnknownKey, e.Key.Span, fmt.Sprintf("%q has no place in a citation", e.Key.Text),
				"its words are text, page, folio, language, each, when and key; a reference to a document stands under \"documents\"")
			return nil
		}
	}
	if words == nil {
		c.add(ruleWrongValue, m.Span, "a citation has no words", "add text:, such as { text: \"Order book 3\", folio: \"{folio}\" }")
		return nil
	}
	return citation(m.Span, words, mark, at, false, beside)
}

// documentClass is the class of what a reference leads to: what the profile calls used
// objects are things and sets, all others are what an assignment was influenced by.
func (c *compiler) documentClass(v Value, e *env, g *grounds) *vocab.Class {
	n := &node{}
	sc := g.scope
	switch x := v.(type) {
	case *Scalar:
		n.id, n.iri = c.iri(x, e, sc)
	case *Map:
		parts := make([]part, 0, len(x.Entries))
		for _, en := range x.Entries {
			parts = append(parts, part{en.Key, en.Value, e})
		}
		parts, absent := c.expand(parts)
		if absent {
			return vocab.ClassByKey("HumanMadeObject") // a pattern without what it needs makes nothing
		}
		for _, p := range parts {
			pv, pe := c.deref(p.value, p.env)
			switch {
			case pv == nil:
			case p.key.Text == "each":
				if _, sc = c.each(pv, pe, sc); sc == nil {
					return nil
				}
			case p.key.Text == "type":
				return vocab.ClassByKey(scalarText(pv)) // an unknown one is reported below
			}
		}
		for _, p := range parts {
			if p.key.Text == "id" || p.key.Text == "refer" {
				if pv, pe := c.deref(p.value, p.env); pv != nil {
					n.id, n.iri = c.iri(pv, pe, sc)
				}
			}
		}
	}
	if n.id == nil {
		c.add(ruleWrongValue, v.Place(), "a document is a reference", "such as { refer: \"text/{doc}\", label: \"{doc_title}\" }; words stand under \"citations\"")
		return nil
	}
	if d := c.maker(n); d != nil {
		return d.class
	}
	c.add(ruleUnknownClass, v.Place(), "it can't be told what kind of document this is", "add type:, such as LinguisticObject for a text or HumanMadeObject for a book or paper")
	return nil
}

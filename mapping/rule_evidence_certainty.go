package mapping

import (
	"fmt"
	"strings"

	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

var ruleEvidenceCertainty = &Rule{Name: "evidence-certainty", About: "evidence that does not say how sure a statement is, or a doubt that can't be kept"}

func certaintyList() string {
	var words []string
	for _, c := range vocab.Certainties() {
		words = append(words, c.Word())
	}
	return orList(words)
}

// sureness compiles what evidence says of how sure a statement is. It returns nil after
// saying what is wrong.
func (c *compiler) sureness(said map[string]bound, g *grounds) *surety {
	n := g.val.node
	s := &surety{span: g.key.Span, maker: n.namesMaker()}
	if b, ok := said["certainty"]; ok {
		s.span = b.value.Place()
		switch x := b.value.(type) {
		case *Map:
			if c.wantsQuotes(x) || !c.certaintyFrom(s, x, b.env, g) {
				return nil
			}
		default:
			if s.text = c.text(x, b.env, g.scope, false); s.text == nil {
				return nil
			}
			if s.text.never() {
				s.text = nil
			}
		}
	}
	degree, fixed := s.fixed()
	if fixed && s.text != nil && (degree == vocab.CertaintyUnknown || degree == vocab.CertaintyUnsaid) {
		near := ""
		for _, d := range vocab.Certainties() {
			if near == "" {
				near = didYouMean(s.text.fixed, []string{d.Word()})
			}
		}
		if near == "" {
			near = "it is " + certaintyList() + ", or a field in braces"
		}
		c.add(ruleEvidenceCertainty, s.span, fmt.Sprintf("%q does not say how sure the statement is", s.text.fixed), near)
		return nil
	}
	if b, ok := said["assert"]; ok {
		x, isScalar := b.value.(*Scalar)
		if !isScalar || !x.Bool {
			c.add(ruleWrongValue, b.value.Place(), "\"assert\" is true or false, without quotes", "")
			return nil
		}
		s.assert = strings.EqualFold(x.Text, "true")
		if s.assert && fixed && degree != vocab.Probable {
			hint := "leave \"assert\" out: what is not doubted is asserted anyway"
			if !s.asserts(degree) {
				hint = "leave \"assert\" out: this is never told as a fact"
			}
			c.add(ruleEvidenceCertainty, b.key.Span, "only what is probable can be asserted on request", hint)
			return nil
		}
	}
	if fixed && !s.asserts(degree) && g.fill.slot.Required {
		c.add(ruleEvidenceCertainty, s.span, fmt.Sprintf("the profile requires %q here, and what is %s is not asserted", g.fill.key.Text, degree.Word()),
			"write the evidence of the node in which it stands")
		return nil
	}
	return s
}

// certaintyFrom compiles { term: list, from: text }.
func (c *compiler) certaintyFrom(s *surety, m *Map, e *env, g *grounds) bool {
	var from Value
	var name *Scalar
	for _, en := range m.Entries {
		v, _ := c.deref(en.Value, e)
		switch en.Key.Text {
		case "term":
			name, _ = v.(*Scalar)
		case "from":
			from = en.Value
		default:
			c.add(ruleUnknownKey, en.Key.Span, fmt.Sprintf("%q has no place in \"certainty\"", en.Key.Text), "it is a word, a field in braces, or { term: list, from: field }")
			return false
		}
	}
	if name == nil || from == nil {
		c.add(ruleWrongValue, m.Span, "\"certainty\" is a word, a field in braces, or a look-up in a term list", "such as { term: sureness, from: \"{certainty}\" }")
		return false
	}
	if s.list = c.Terms[name.Text]; s.list == nil {
		c.unknownTerms(name, name.Text)
		return false
	}
	fv, fe := c.deref(from, e)
	if fv == nil {
		s.list = nil
		return true
	}
	if s.text = c.text(fv, fe, g.scope, false); s.text == nil {
		return false
	}
	s.levels = map[*termlist.Term]vocab.Certainty{}
	for _, w := range s.list.Words() {
		t, known := s.list.Find(w)
		if !known {
			continue
		}
		d := listed(t, w)
		if d == vocab.CertaintyUnknown {
			c.add(ruleEvidenceCertainty, name.Span, fmt.Sprintf("the term list %q has the word %q, and it is not known how sure that is", name.Text, w),
				"give it the label "+certaintyList())
			return false
		}
		s.levels[t] = d
	}
	return true
}

// listed is the degree that a term of a word list stands for: as its IRI says, or its
// label, or the word itself.
func listed(t *termlist.Term, word string) vocab.Certainty {
	if d := vocab.CertaintyByIRI(t.IRI); d != vocab.CertaintyUnsaid {
		return d
	}
	for _, w := range []string{t.Label, word} {
		if d := readCertainty(w); d != vocab.CertaintyUnknown && d != vocab.CertaintyUnsaid {
			return d
		}
	}
	if t.IRI == possiblyBy.IRI {
		return vocab.Possible
	}
	return vocab.CertaintyUnknown
}

// namesMaker reports whether a node says who made the thing.
func (n *node) namesMaker() bool {
	if n.slot.Key == "carried_out_by" && n.parent != nil {
		n = n.parent
	}
	if n.class == nil || n.class.Key != "Production" || n.shape == nil {
		return false
	}
	for _, f := range n.fills {
		if f.slot.Key == "carried_out_by" {
			return true
		}
	}
	return false
}

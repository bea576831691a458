package mapping

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

// part is a key of a node, from the node itself or from a pattern it uses.
type part struct {
	key   *Scalar
	value Value
	env   *env
}

// expand puts the parts of used patterns in front of a node's own. absent says that
// a required hole of a pattern was bound to an outer pattern's optional hole that
// was not given, or that a pattern can't be used, which has been said: then there is
// no node.
func (c *compiler) expand(parts []part) (all []part, absent bool) {
	var own []part
	var uses []part
	for _, p := range parts {
		if p.key.Text == "use" {
			uses = append(uses, p)
		} else {
			own = append(own, p)
		}
	}
	if len(uses) == 0 {
		return parts, false
	}
	var out []part
	taken := map[string]bool{}
	for _, u := range uses {
		v, ve := c.deref(u.value, u.env)
		for _, item := range c.list(v) {
			s, ok := item.(*Scalar)
			if !ok {
				c.add(ruleWrongValue, item.Place(), "\"use\" names a pattern", "such as use: primary-name")
				absent = true
				continue
			}
			p := c.patterns[s.Text]
			if p == nil {
				c.unknownPattern(s)
				absent = true // nothing more can be said of this node
				continue
			}
			if c.usesItself(p, s, ve) {
				return own, true
			}
			e := &env{pattern: p, use: s.Span, args: map[string]bound{}, outer: ve}
			for _, o := range own {
				if p.hole(o.key.Text) != nil {
					taken[o.key.Text] = true
					if bv, be := c.deref(o.value, o.env); bv != nil {
						e.args[o.key.Text] = bound{bv, be, o.key}
					}
				}
			}
			for _, h := range p.holes {
				if _, ok := e.args[h.name]; h.required && !ok {
					if taken[h.name] {
						absent = true
					} else {
						c.holeNotGiven(s, p, h.name, own)
						absent = true
					}
				}
			}
			var body []part
			for _, b := range p.body {
				body = append(body, part{b.Key, b.Value, e})
			}
			inner, gone := c.expand(body)
			out, absent = append(out, inner...), absent || gone
		}
	}
	for _, o := range own {
		if !taken[o.key.Text] {
			out = append(out, o)
		}
	}
	return out, absent
}

// deref follows a value that is exactly one hole of a pattern to what the caller
// gave: nil if nothing was given.
func (c *compiler) deref(v Value, e *env) (Value, *env) {
	if x, ok := v.(inEnv); ok {
		v, e = x.Value, x.env
	}
	for e != nil {
		s, ok := v.(*Scalar)
		if !ok || s.Number || s.Bool {
			return v, e
		}
		name, ok := onlyHole(s.Text)
		if !ok || e.pattern.hole(name) == nil {
			return v, e
		}
		b, ok := e.args[name]
		if !ok {
			return nil, nil
		}
		v, e = b.value, b.env
	}
	return v, e
}

// Words of a node that are not keys of the profile.
var nodeWords = []string{"type", "id", "label", "key", "when", "each", "use", "refer", "term", "read", "from", "split", "otherwise", "first", "evidence", "only_with"}

// fillNode compiles the parts of a node whose class and shape are known.
func (c *compiler) fillNode(n *node, parts []part, sc *scope, e *env, conv *reading.Conventions) {
	parts, _ = c.expand(parts)
	fills := map[string]*fill{}
	var only []*Scalar
	for _, p := range parts {
		v, ve := c.deref(p.value, p.env)
		word := p.key.Text
		if word == "label" {
			word = "_label"
		}
		if v == nil {
			n.missing = true
			if n.shape != nil && n.shape.Slot(word) != nil {
				n.lacks = append(n.lacks, word)
			}
			continue
		}
		n.given = n.given || v != p.value
		switch word {
		case "only_with":
			only = append(only, c.onlyWith(n, v, p)...)
			continue
		case "type", "each", "term", "read", "from", "split", "otherwise":
			continue // the caller has dealt with them
		case "evidence":
			if n.slot == nil {
				c.evidenceOfDocument(p.key)
			}
			continue
		case "id", "refer":
			if n.id != nil {
				c.givenTwice(p.key, n.id.src.Span)
				continue
			}
			n.id, n.iri = c.iri(v, ve, sc)
			continue
		case "key":
			n.key = c.text(v, ve, sc, true)
			continue
		case "when":
			s, ok := v.(*Scalar)
			if !ok {
				c.add(ruleWrongValue, v.Place(), "\"when\" is an expression", "such as when: title != \"\"")
				continue
			}
			if w := c.expression(s.Text, s, 0, ve, sc, true); w != nil {
				n.whens = append(n.whens, w)
			}
			continue
		}
		if n.shape == nil {
			continue
		}
		slot := n.shape.Slot(word)
		if slot == nil {
			c.unknownKey(n, p.key, p.env)
			continue
		}
		f := fills[word]
		if f == nil {
			f = &fill{key: p.key, slot: slot, term: n.class.Term(word)}
			fills[word] = f
		}
		for _, item := range c.list(v) {
			iv, ie := c.deref(item, ve)
			if iv == nil {
				n.missing = true
			}
			n.given = n.given || iv != item
			for _, x := range c.list(iv) {
				xv, xe := c.deref(x, ie)
				if xv == nil {
					continue
				}
				if val := c.value(xv, xe, n, f, sc, conv); val != nil {
					f.values = append(f.values, val)
				}
			}
		}
	}
	for _, s := range only {
		word := s.Text
		if word == "label" {
			word = "_label"
		}
		if f := fills[word]; f != nil {
			f.only = true
		} else if n.shape.Slot(word) == nil {
			c.unknownKey(n, s, nil)
		} else {
			n.never = true
		}
	}
	for _, f := range fills {
		n.fills = append(n.fills, f)
	}
	slices.SortFunc(n.fills, func(a, b *fill) int { return a.slot.Index - b.slot.Index })
}

// onlyWith gives the keys without which a node is not to be made.
func (c *compiler) onlyWith(n *node, v Value, p part) (keys []*Scalar) {
	if n.slot == nil {
		c.add(ruleUnknownKey, p.key.Span, "\"only_with\" has no place in the head of a mapping", "a condition for whole documents is \"when\"")
		return nil
	}
	if n.byReader {
		c.add(ruleUnknownKey, p.key.Span, "\"only_with\" has no place beside \"read\"", "what cannot be read is not made anyway")
		return nil
	}
	if n.shape == nil {
		return nil
	}
	for _, item := range c.list(v) {
		s, ok := item.(*Scalar)
		if !ok {
			c.add(ruleWrongValue, item.Place(), "\"only_with\" names keys of the node", "such as only_with: carried_out_by")
			return nil
		}
		keys = append(keys, s)
	}
	return keys
}

// value compiles one value of a fill.
func (c *compiler) value(v Value, e *env, n *node, f *fill, sc *scope, conv *reading.Conventions) *value {
	if f.slot.Kind != vocab.KindNode {
		if j, ok := v.(*joined); ok {
			t := c.joinedText(j, e, sc)
			if t == nil || t.never() {
				return nil
			}
			return &value{kind: literalValue, span: j.Span, text: t, origin: c.origin(t.src.Span, e, t)}
		}
		s, ok := v.(*Scalar)
		if !ok {
			if m, isMap := v.(*Map); isMap && m.Get("first") != nil {
				return c.first(m, e, n, f, sc, conv)
			}
			if m, isMap := v.(*Map); !isMap || !c.wantsQuotes(m) {
				c.add(ruleWrongValue, v.Place(), fmt.Sprintf("%q holds text, not a node", f.key.Text), "write text, or a field in braces within quotes")
			}
			return nil
		}
		t := c.text(s, e, sc, false)
		if t == nil {
			return nil
		}
		if t.never() {
			n.missing = true
			n.lacks = append(n.lacks, f.slot.Key)
			return nil
		}
		if t.holes == 0 {
			if why := badLiteral(f.slot.Kind, t.fixed); why != "" {
				c.add(ruleWrongValue, s.Span, fmt.Sprintf("%q can't hold %q: %s", f.key.Text, t.fixed, why), literalHint(f.slot.Kind))
				return nil
			}
		}
		return &value{kind: literalValue, span: s.Span, text: t, origin: c.origin(s.Span, e, t)}
	}
	switch x := v.(type) {
	case *Scalar:
		if x.Null {
			return nil
		}
		return c.shorthand(x, e, n, f, sc)
	case *Map:
		switch {
		case x.Get("first") != nil:
			return c.first(x, e, n, f, sc, conv)
		case c.wantsQuotes(x):
			return nil
		default:
			return c.nodeValue(x, e, n, f, sc, conv)
		}
	default:
		c.add(ruleWrongValue, v.Place(), "a list within a list has no meaning here", "")
		return nil
	}
}

func (c *compiler) first(m *Map, e *env, n *node, f *fill, sc *scope, conv *reading.Conventions) *value {
	for _, en := range m.Entries {
		if en.Key.Text != "first" {
			c.add(ruleUnknownKey, en.Key.Span, fmt.Sprintf("%q has no place beside \"first\"", en.Key.Text), "put it into each of the alternatives")
		}
	}
	v, ve := c.deref(m.Get("first"), e)
	return c.firstOf(v, ve, m.Span, n, f, sc, conv)
}

// firstOf compiles the alternatives of a "first".
func (c *compiler) firstOf(v Value, ve *env, at Span, n *node, f *fill, sc *scope, conv *reading.Conventions) *value {
	out := &value{kind: firstValue, span: at, origin: -1}
	c.inFirst++
	defer func() { c.inFirst-- }()
	for _, item := range c.list(v) {
		xv, xe := c.deref(item, ve)
		if xv == nil {
			continue
		}
		if x := c.value(xv, xe, n, f, sc, conv); x != nil {
			out.first = append(out.first, x)
		}
	}
	if len(out.first) == 0 {
		return nil
	}
	return out
}

// shorthand is a reference written as plain text.
func (c *compiler) shorthand(s *Scalar, e *env, n *node, f *fill, sc *scope) *value {
	x := &node{span: s.Span, slot: f.slot, term: f.term, parent: n}
	x.id, x.iri = c.iri(s, e, sc)
	if x.id == nil {
		return nil
	}
	x.class = c.referClass(x, f.slot)
	if !c.settleShape(x, f, s) {
		return nil
	}
	c.authorityLabel(x)
	x.origin = c.origin(s.Span, e, x.id)
	return &value{kind: nodeValue, span: s.Span, node: x, origin: x.origin}
}

// nodeValue is a node, a term or a reading written as a mapping.
func (c *compiler) nodeValue(m *Map, e *env, parent *node, f *fill, sc *scope, conv *reading.Conventions) *value {
	parts := make([]part, 0, len(m.Entries))
	for _, en := range m.Entries {
		parts = append(parts, part{en.Key, en.Value, e})
	}
	parts, absent := c.expand(parts)
	if absent {
		return nil
	}
	get := func(word string) (Value, *env, *Scalar) {
		for i := len(parts) - 1; i >= 0; i-- {
			if parts[i].key.Text == word {
				v, ve := c.deref(parts[i].value, parts[i].env)
				return v, ve, parts[i].key
			}
		}
		return nil, nil, nil
	}
	if v, ve, key := get("first"); key != nil {
		return c.firstOf(v, ve, key.Span, parent, f, sc, conv)
	}
	n := &node{span: m.Span, slot: f.slot, term: f.term, parent: parent, inFirst: c.inFirst > 0}
	inner := sc
	if v, ve, _ := get("each"); v != nil {
		n.each, inner = c.each(v, ve, sc)
		if inner == nil {
			return nil
		}
	}
	val := &value{kind: nodeValue, span: m.Span, node: n}
	typeV, _, _ := get("type")
	if tv, _, _ := get("type"); tv != nil {
		s, ok := tv.(*Scalar)
		if !ok {
			c.add(ruleWrongValue, tv.Place(), "\"type\" names a class", "such as "+orList(slotClasses(f.slot)))
			return nil
		}
		n.class = vocab.ClassByKey(s.Text)
		if n.class == nil {
			c.unknownClass(s, slotClasses(f.slot))
			return nil
		}
	}
	termV, termE, termKey := get("term")
	readV, _, readKey := get("read")
	if !c.together(parts, termKey, readKey) {
		return nil
	}
	switch {
	case termKey != nil:
		if termV == nil {
			return nil
		}
		val.kind = termValue
		if !c.term(val, termV, termE, get, inner, f) {
			return nil
		}
		n.id = val.text // a reference, with an IRI from the list
		if n.class == nil {
			n.class = onlyClass(f.slot, vocab.IDRequired)
		}
	case readKey != nil:
		val.kind = readValue
		if !c.read(val, readV, get, inner, f, conv) {
			return nil
		}
		n.class, n.byReader = val.read.class(), true
	default:
		if v, ve, _ := get("id"); v != nil {
			n.id, n.iri = c.iri(v, ve, inner)
		} else if v, ve, _ := get("refer"); v != nil {
			n.id, n.iri = c.iri(v, ve, inner)
			if n.id != nil && n.iri != iriLocal && n.iri != iriWhole {
				c.add(ruleWrongValue, v.Place(), "\"refer\" names a document of this site by its path", "use \"id\" for other IRIs")
			}
		}
		if _, _, k := get("id"); k != nil && n.id == nil {
			return nil
		}
		if _, _, k := get("refer"); k != nil && n.id == nil {
			return nil
		}
		if n.class == nil {
			n.class = c.referClass(n, f.slot)
		}
	}
	if !c.settleShape(n, f, typeOr(typeV, m)) {
		return nil
	}
	rest := parts[:0:0]
	for _, p := range parts {
		if p.key.Text != "id" && p.key.Text != "refer" {
			rest = append(rest, p)
		}
	}
	if val.kind == termValue {
		n.id, n.byTerm = nil, true
	}
	c.fillNode(n, rest, inner, e, conv)
	if n.without() {
		return nil
	}
	if val.kind == nodeValue && n.id != nil {
		c.authorityLabel(n)
	}
	var t *text
	if n.id != nil {
		t = n.id
	}
	n.origin = c.origin(m.Span, e, t)
	val.origin = n.origin
	for _, p := range parts {
		if p.key.Text == "evidence" {
			c.evidence = append(c.evidence, grounds{p, val, f, inner, conv})
		}
	}
	return val
}

// together checks the words that say what a node is, and those that belong to one
// of them only.
func (c *compiler) together(parts []part, term, read *Scalar) bool {
	ok := true
	var is *Scalar
	for _, p := range parts {
		switch w := p.key.Text; w {
		case "id", "refer", "term", "read":
			if is != nil && is.Text != w {
				c.besides(p.key, is)
				ok = false
			}
			is = p.key
		case "from", "split", "otherwise":
			if term == nil && (read == nil || w != "from") {
				c.wordAlone(p.key)
				ok = false
			}
		}
	}
	return ok
}

func typeOr(v Value, m *Map) Value {
	if v != nil {
		return v
	}
	return m
}

// slotClasses are the names of the classes that may stand in a slot.
func slotClasses(s *vocab.Slot) []string {
	seen := map[string]bool{}
	for _, sh := range s.Shapes {
		for _, cl := range sh.Classes {
			seen[cl.Key] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}

// refers reports whether a reference may stand in a slot.
func refers(s *vocab.Slot) bool {
	for _, sh := range s.Shapes {
		if sh.ID == vocab.IDRequired {
			return true
		}
	}
	return s.Shapes == nil
}

// onlyClass is the class of a slot where only one fits, or nil.
func onlyClass(s *vocab.Slot, id vocab.IDRule) *vocab.Class {
	var found *vocab.Class
	for _, sh := range s.Shapes {
		if sh.ID != id {
			continue
		}
		for _, cl := range sh.Classes {
			if found != nil && found != cl {
				return nil
			}
			found = cl
		}
	}
	return found
}

// referClass is the class of a node that does not say it: that of the mapping
// that makes the IRI, else the only one that fits.
func (c *compiler) referClass(n *node, s *vocab.Slot) *vocab.Class {
	if n.id == nil {
		return onlyClass(s, vocab.IDForbidden)
	}
	if d := c.maker(n); d != nil {
		return d.class
	}
	return onlyClass(s, vocab.IDRequired)
}

// maker is the mapping whose documents a reference within the site leads to, as
// far as its path tells, or nil.
func (c *compiler) maker(n *node) *document {
	if n.id == nil || n.iri != iriLocal || len(n.id.segs)+len(n.id.fixed) == 0 {
		return nil
	}
	lit := n.id.fixed
	if lit == "" {
		lit = n.id.segs[0].lit
	}
	var best *document
	for _, d := range c.documents {
		if d.class != nil && d.prefix != "" && strings.HasPrefix(lit, d.prefix) && (best == nil || len(d.prefix) > len(best.prefix)) {
			best = d
		}
	}
	return best
}

// settleShape finds the shape of a node in its slot, or says why none fits.
func (c *compiler) settleShape(n *node, f *fill, at Value) bool {
	want := vocab.IDForbidden
	if n.id != nil {
		want = vocab.IDRequired
	}
	if n.class == nil {
		c.classNotSaid(n, f, at)
		return false
	}
	shapes := f.slot.Shapes
	if shapes == nil {
		for _, sh := range vocab.Shapes() {
			if !sh.Document {
				shapes = append(shapes, sh)
			}
		}
	}
	var other *vocab.Shape
	for _, sh := range shapes {
		if !sh.Allows(n.class) {
			continue
		}
		if sh.ID == want {
			n.shape = sh
			return true
		}
		other = sh
	}
	if other != nil {
		c.identifierRule(n, f, at)
	} else {
		c.outsideRange(n, f, at)
	}
	return false
}

// authorityLabel gives a reference to a known authority term its label.
func (c *compiler) authorityLabel(n *node) {
	if n.id == nil || n.id.holes > 0 || n.shape == nil || n.shape.Slot("_label") == nil {
		return
	}
	for _, f := range n.fills {
		if f.key.Text == "label" || f.key.Text == "_label" {
			return
		}
	}
	iri := n.id.fixed
	label := ""
	if a, ok := vocab.AuthorityByIRI(iri); ok {
		label = a.Label
	}
	if label == "" {
		label = c.listLabel(iri)
	}
	if label == "" {
		return
	}
	slot := n.shape.Slot("_label")
	t := &text{src: n.id.src, fixed: label}
	f := &fill{key: n.id.src, slot: slot, term: n.class.Term("_label"),
		values: []*value{{kind: literalValue, span: n.id.src.Span, text: t, origin: c.origin(n.id.src.Span, nil, t)}}}
	n.fills = append([]*fill{f}, n.fills...)
}

// listLabel is the label that the site's term lists give an IRI, or "".
func (c *compiler) listLabel(iri string) string {
	if c.labels == nil {
		c.labels = map[string]string{}
		for _, name := range slices.Sorted(maps.Keys(c.Terms)) {
			for _, t := range c.Terms[name].Terms() {
				if _, ok := c.labels[t.IRI]; !ok && t.IRI != "" {
					c.labels[t.IRI] = t.Label
				}
			}
		}
	}
	return c.labels[iri]
}

// without reports whether a key that the profile requires hangs on a hole of a
// pattern that was not given, or a key that it is made only with has nothing to hold:
// then the node is meant to be left out.
func (n *node) without() bool {
	if n.never {
		return true
	}
	for _, key := range n.lacks {
		if sl := n.shape.Slot(key); sl != nil && sl.Required && !n.read(sl) {
			return true
		}
	}
	return false
}

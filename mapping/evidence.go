package mapping

import (
	"fmt"
	"slices"
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

// Evidence is said of a node and becomes an attribute assignment (CIDOC CRM E13) of
// the nearest node above that the profile lets have "attributed_by". The assignment
// is compiled like any other node, from syntax put together here; what it assigns is
// the plan of the statement itself, in a chain of nodes that holds no more than leads
// to it. The rows and conditions on the way are those of the mapping.

// evidenceWords are the words of evidence.
var evidenceWords = []string{"documents", "citations", "by", "on", "grounds", "certainty", "assert", "key"}

// grounds is the evidence of a node, kept until its document is compiled.
type grounds struct {
	part
	val   *value
	fill  *fill
	scope *scope
	conv  *reading.Conventions
}

// claim is what an attribute assignment made of evidence needs beside its keys.
type claim struct {
	lifts []lift    // from the node that carries it down to the statement
	sure  []*surety // what may keep the statement from being asserted
	own   *surety   // what this piece of evidence says of that
	cells []*text   // texts of which the evidence is made
}

// lift is one node on the way to a statement: how often it is made, and when.
type lift struct {
	each  *each
	whens []*expression
}

// surety is what evidence says of how sure a statement is.
type surety struct {
	span   Span
	text   *text // nil: nothing
	list   *termlist.List
	levels map[*termlist.Term]vocab.Certainty // by term of list
	assert bool                               // what is probable is asserted
	maker  bool                               // the statement is that somebody made the thing
}

// fixed is the degree where it is the same for every record.
func (s *surety) fixed() (c vocab.Certainty, ok bool) {
	if s.text == nil {
		return vocab.CertaintyUnsaid, true
	}
	if s.text.holes > 0 || s.list != nil {
		return 0, false
	}
	return readCertainty(s.text.fixed), true
}

// asserts reports whether a statement of a degree is told as a fact.
func (s *surety) asserts(c vocab.Certainty) bool {
	switch c {
	case vocab.CertaintyUnsaid, vocab.Certain:
		return true
	case vocab.Probable:
		return s.assert
	}
	return false
}

// doubtful reports whether the statement is asserted of no record.
func (n *node) doubtful() bool {
	for _, s := range n.sure {
		if c, ok := s.fixed(); ok && !s.asserts(c) {
			return true
		}
	}
	return false
}

// readCertainty gives the degree of certainty that a word means: one of the five, or
// what the reader of makers knows of such words in several languages. A word that
// the reader ranks between two of the five counts as the less sure.
func readCertainty(word string) vocab.Certainty {
	word = strings.TrimSpace(word)
	if word == "" {
		return vocab.CertaintyUnsaid
	}
	if c := vocab.CertaintyByWord(word); c != vocab.CertaintyUnknown {
		return c
	}
	c := reading.Certainty(strings.ToLower(word))
	if read, err := reading.ReadCertainty(word, nil); err == nil {
		c = read
	}
	switch c {
	case reading.CertaintyCertain:
		return vocab.Certain
	case reading.CertaintyProbably, reading.CertaintyAttributed:
		return vocab.Probable
	case reading.CertaintyPossibly, reading.CertaintyUncertain, reading.CertaintyTradition, reading.CertaintyAlternative:
		return vocab.Possible
	case reading.CertaintyDoubtful:
		return vocab.Disputed
	case reading.CertaintySuperseded:
		return vocab.Superseded
	}
	return vocab.CertaintyUnknown
}

// joined is text put together of several: words, and where in a document they stand.
type joined struct {
	Span
	parts []joint
}

type joint struct {
	value Value
	lead  string // in front of it, if it is there; without the comma if nothing stands before
	need  bool   // without it there is nothing
}

// Place is where the first text stands.
func (j *joined) Place() Span { return j.Span }

func (c *compiler) joinedText(j *joined, e *env, sc *scope) *text {
	t := &text{}
	for _, p := range j.parts {
		v, ve := c.deref(p.value, e)
		if v == nil {
			if p.need {
				return nil
			}
			continue
		}
		sub := c.text(v, ve, sc, false)
		if sub == nil {
			return nil
		}
		if t.src == nil || t.holes == 0 {
			t.src = sub.src
		}
		t.given, t.missing = t.given || sub.given, t.missing || sub.missing
		t.holes += min(sub.holes, 1)
		t.segs = append(t.segs, segment{sub: sub, lit: p.lead, must: p.need, span: sub.src.Span})
	}
	if t.holes == 0 {
		for i := range t.segs {
			t.fixed = string(t.segs[i].join([]byte(t.fixed), 0, t.segs[i].sub.fixed))
		}
		t.segs = nil
	}
	return t
}

// join adds the text of a joint to what stands in b since from.
func (s *segment) join(b []byte, from int, x string) []byte {
	if x == "" {
		return b
	}
	lead := s.lit
	if len(b) == from {
		lead = strings.TrimPrefix(lead, ", ")
	}
	return append(append(b, lead...), x...)
}

// assignments makes attribute assignments of the evidence of a document.
func (c *compiler) assignments(d *document) {
	all := c.evidence
	c.evidence = nil
	if len(all) == 0 {
		return
	}
	there := map[*node]bool{} // others were left out for want of a pattern's holes
	d.root.walk(func(n *node) { there[n] = true })
	type one struct {
		grounds
		said map[string]bound
		sure *surety
	}
	var list []one
	for _, g := range all {
		if !there[g.val.node] || !c.mayHaveEvidence(&g) {
			continue
		}
		v, e := c.deref(g.value, g.env)
		for _, item := range c.list(v) {
			iv, ie := c.deref(item, e)
			said, ok := c.evidenceParts(iv, ie)
			if !ok || len(said) == 0 {
				continue
			}
			s := c.sureness(said, &g)
			if s == nil {
				continue
			}
			g.val.node.sure = append(g.val.node.sure, s)
			list = append(list, one{g, said, s})
		}
	}
	for i := range list {
		c.assignment(&list[i].grounds, list[i].said, list[i].sure)
	}
	for i := range list {
		n := list[i].val.node
		n.sure = slices.DeleteFunc(n.sure, func(s *surety) bool { // never a doubt: nothing to ask of a record
			d, ok := s.fixed()
			return ok && s.asserts(d)
		})
	}
}

// evidenceParts takes evidence apart; what is left out, or hangs on holes of a pattern
// that were not given, is not among the parts.
func (c *compiler) evidenceParts(v Value, e *env) (map[string]bound, bool) {
	said := map[string]bound{}
	switch x := v.(type) {
	case nil:
		return nil, false
	case *Scalar:
		if !x.Null {
			said["citations"] = bound{x, e, x}
		}
		return said, true
	case *Map:
		if c.wantsQuotes(x) {
			return nil, false
		}
		for _, en := range x.Entries {
			if !slices.Contains(evidenceWords, en.Key.Text) {
				hint := didYouMean(en.Key.Text, evidenceWords)
				if hint == "" {
					hint = "its words are " + orList(evidenceWords)
				}
				c.add(ruleUnknownKey, en.Key.Span, fmt.Sprintf("%q has no place in \"evidence\"", en.Key.Text), hint)
				return nil, false
			}
			if pv, pe := c.deref(en.Value, e); pv != nil {
				said[en.Key.Text] = bound{pv, pe, en.Key}
			}
		}
		return said, true
	}
	c.add(ruleWrongValue, v.Place(), "\"evidence\" says who proves the statement and how sure it is", "such as evidence: { citations: \"{source}\", certainty: probable }")
	return nil, false
}

// chain lists the nodes from the one below the carrier of attribute assignments down
// to n; carrier is nil if the profile lets none of those above have any.
func (n *node) chain() (carrier *node, way []*node) {
	for ; n != nil; n = n.parent {
		if len(way) > 0 && n.shape != nil && n.shape.Slot("attributed_by") != nil {
			slices.Reverse(way)
			return n, way
		}
		way = append(way, n)
	}
	return nil, nil
}

// assignment adds the attribute assignment for one piece of evidence.
func (c *compiler) assignment(g *grounds, said map[string]bound, s *surety) {
	carrier, way := g.val.node.chain()
	key := g.key
	slot := carrier.shape.Slot("attributed_by")
	var f *fill
	for _, x := range carrier.fills {
		if x.slot == slot {
			f = x
		}
	}
	if f == nil {
		f = &fill{key: key, slot: slot, term: carrier.class.Term(slot.Key)}
		carrier.fills = append(carrier.fills, f)
		slices.SortFunc(carrier.fills, func(a, b *fill) int { return a.slot.Index - b.slot.Index })
	}
	name := way[0].term.Key
	if carrier.class.Resolve(name) != way[0].term.IRI {
		name = vocab.Compact(way[0].term.IRI) // the key means something else where it is a value
	}
	m := c.assignmentSyntax(key.Span, said, name, g)
	if m == nil {
		return
	}
	val := c.nodeValue(m, g.env, carrier, f, g.scope, g.conv)
	if val == nil {
		return
	}
	n := val.node
	n.claim = &claim{own: s}
	for _, w := range way {
		n.claim.lifts = append(n.claim.lifts, lift{w.each, w.whens})
		n.claim.sure = append(n.claim.sure, w.sure...)
	}
	degrees := []*surety{s}
	for _, w := range way[:len(way)-1] { // a doubt of the whole is one of the part
		degrees = append(degrees, w.sure...)
	}
	n.add(key, "classified_as", &value{kind: certaintyValue, span: s.span, origin: c.origin(s.span, nil, s.text), sure: degrees})
	if s.text != nil {
		words := &Map{Span: s.span, Entries: []Entry{
			word(s.span, "use", "note"),
			{Key: fixedScalar(s.span, "content"), Value: &joined{s.span, []joint{{value: &textValue{s.text}, lead: "Certainty as recorded: "}}}},
		}}
		if wv := c.nodeValue(words, nil, n, n.fillOf(key, "referred_to_by"), g.scope, g.conv); wv != nil {
			n.add(key, "referred_to_by", &value{kind: wordsValue, span: s.span, origin: wv.origin, node: wv.node, sure: degrees[:1]})
		}
	}
	n.walk(func(x *node) { x.texts(func(t *text) { n.claim.cells = append(n.claim.cells, t) }) })
	if s.text != nil {
		n.claim.cells = append(n.claim.cells, s.text)
	}
	assigned := n.add(key, "assigned", c.claimed(g.val, way, n))
	assigned.only = true
	f.values = append(f.values, val)
}

// fillOf is the fill of a key, or a new one that is not yet the node's.
func (n *node) fillOf(key *Scalar, name string) *fill {
	slot := n.shape.Slot(name)
	for _, f := range n.fills {
		if f.slot == slot {
			return f
		}
	}
	return &fill{key: key, slot: slot, term: n.class.Term(name)}
}

// add puts a value under a key of a node.
func (n *node) add(key *Scalar, name string, v *value) *fill {
	f := n.fillOf(key, name)
	if !slices.Contains(n.fills, f) {
		n.fills = append(n.fills, f)
		slices.SortFunc(n.fills, func(a, b *fill) int { return a.slot.Index - b.slot.Index })
	}
	f.values = append(f.values, v)
	return f
}

// claimed copies the plan of a statement for its attribute assignment: the nodes on
// the way to it, with only what they must have to be nodes of the profile, and at the
// end the whole of what is stated.
func (c *compiler) claimed(val *value, way []*node, under *node) *value {
	last := len(way) - 1
	v, n := *val, *way[last]
	n.each, n.whens, n.sure = nil, nil, nil
	v.node = &n
	n.origin = c.again(n.origin)
	v.origin = c.again(v.origin)
	at := &v
	for i := last - 1; i >= 0; i-- {
		w := way[i]
		mid := &node{span: w.span, class: w.class, shape: w.shape, slot: w.slot, term: w.term, id: w.id, iri: w.iri, key: w.key, origin: c.again(w.origin)}
		child := &fill{key: way[i+1].fillKey(w), slot: way[i+1].slot, term: way[i+1].term, values: []*value{at}, only: true}
		for _, f := range w.fills {
			if f.slot != child.slot && (f.slot.Required || w.id != nil && f.slot.Key == "_label") {
				mid.fills = append(mid.fills, f)
			}
		}
		mid.fills = append(mid.fills, child)
		slices.SortFunc(mid.fills, func(a, b *fill) int { return a.slot.Index - b.slot.Index })
		at.node.parent = mid
		at = &value{kind: nodeValue, span: w.span, node: mid, origin: mid.origin}
	}
	at.node.parent, at.node.slot, at.node.term = under, under.shape.Slot("assigned"), under.class.Term("assigned")
	return at
}

// fillKey is the key under which n stands in the node above.
func (n *node) fillKey(above *node) *Scalar {
	for _, f := range above.fills {
		if f.slot == n.slot {
			return f.key
		}
	}
	return fixedScalar(n.span, n.slot.Key)
}

// again is an origin of its own with the place of another.
func (c *compiler) again(o int32) int32 {
	if o < 0 {
		return o
	}
	x := c.origins[o]
	x.Of = o + 1
	c.origins = append(c.origins, x)
	return int32(len(c.origins) - 1)
}

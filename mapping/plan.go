package mapping

import (
	"ropewalk/mapping/entity"
	"ropewalk/mapping/source"
	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

// The plan is the compiled form of a mapping: the tree of the document with its
// holes resolved to cells. It is what the rules check and what a Run walks. It is
// immutable after Compile.

// document is a mapping with its head.
type document struct {
	span     Span
	file     string
	source   *source.Source
	class    *vocab.Class
	endpoint *vocab.Endpoint
	once     bool
	sets     []*text
	waive    []*waive
	disclose []*disclosure
	public   *text  // date from which the documents are public; nil: at once
	scope    *scope // of the record
	root     *node
	prefix   string // fixed beginning of the IRIs it makes
}

// node is a node to be made.
type node struct {
	span   Span
	class  *vocab.Class // nil if it could not be told
	shape  *vocab.Shape
	slot   *vocab.Slot // nil for the root
	term   *vocab.Term // nil for the root
	id     *text       // reference's IRI; nil: embedded
	iri    iriKind
	key    *text
	whens  []*expression // all must be true
	sure   []*surety     // what its evidence says of its certainty; a doubt keeps it from being asserted
	claim  *claim        // it is an attribute assignment made of evidence
	each   *each
	fills  []*fill // in the order of the shape's slots
	static bool    // the same for every record
	origin int32
	parent *node

	given    bool          // it stands in a pattern, and a hole of the pattern in it was given
	missing  bool          // it stands in a pattern, and a hole of the pattern in it was not given
	lacks    []string      // keys that hang on holes that were not given
	block    *entity.Block // where static: the node as it always is
	byReader bool          // a reader fills the keys that the profile requires
	byTerm   bool          // a term list gives what it is
	inFirst  bool          // it stands in an alternative of "first"
	never    bool          // a key that it is made only with has nothing to hold
	holes    bool          // it has holes, of its own or below: made only if one is filled
}

// fill is a key of a node with what is to stand there.
type fill struct {
	key    *Scalar
	slot   *vocab.Slot
	term   *vocab.Term
	values []*value
	only   bool // without it the node is not made
}

type valueKind uint8

const (
	literalValue valueKind = iota + 1
	nodeValue
	termValue
	readValue
	firstValue
	certaintyValue // the concepts of an attribute assignment's certainty
	wordsValue     // a node with the words of a certainty, where they say more than its concept
)

// value is one thing to stand under a key.
type value struct {
	kind   valueKind
	span   Span
	origin int32

	text  *text // literal; term and read: the text to look up or read
	node  *node // node; also term: keys given beside it
	list  *termlist.List
	name  string    // name of the term list or reader
	split string    // term: words are split at this
	other otherwise // term: what to do with an unknown word
	read  *reader
	terms []*vocab.Term // read: terms of the node's slots, by index
	label *vocab.Term   // term: of the label
	first []*value
	sure  []*surety // certainty: the statement's own, and those of what it stands in
}

// otherwise says what becomes of a word that a term list does not know.
type otherwise uint8

const (
	otherwiseReport otherwise = iota
	otherwiseMake
	otherwiseLeave
)

// each repeats a node for every row.
type each struct {
	span  Span
	depth int   // frame whose row has the child rows
	kid   int   // index of the child rows; -1: pieces of text
	text  *text // split or read
	at    string
	read  *rowReader
	scope *scope // scope inside
}

// scope is what can be named at a place: the fields of a row, and of the rows
// around it.
type scope struct {
	parent *scope
	depth  int
	layout *source.Layout // nil for pieces of text
	fields []string       // names of the cells of pieces; "." alone for split
	source *source.Source // whose row it is; nil for pieces
	path   string         // path from the source's record, for messages
}

// iriKind says how the text of an IRI becomes one.
type iriKind uint8

const (
	iriLocal    iriKind = iota + 1 // a path below the base; holes are percent-encoded
	iriAbsolute                    // begins with a scheme; holes are percent-encoded
	iriWhole                       // begins with a hole that holds a whole IRI, a known prefix and name, or a path
)

// walk calls f for n and every node below it, terms' own nodes included.
func (n *node) walk(f func(*node)) {
	if n == nil {
		return
	}
	f(n)
	for _, fl := range n.fills {
		for _, v := range fl.values {
			v.walkNodes(f)
		}
	}
}

func (v *value) walkNodes(f func(*node)) {
	v.node.walk(f)
	for _, x := range v.first {
		x.walkNodes(f)
	}
}

// texts calls f for every text directly in n: identifiers, keys, conditions,
// literals, and what terms and readers read.
func (n *node) texts(f func(*text)) {
	do := func(t *text) {
		if t != nil {
			f(t)
		}
	}
	do(n.id)
	do(n.key)
	for _, w := range n.whens {
		for i := range w.vars {
			do(w.vars[i].text)
		}
	}
	if n.each != nil {
		do(n.each.text)
	}
	for _, s := range n.sure {
		do(s.text)
	}
	var vs func([]*value)
	vs = func(list []*value) {
		for _, v := range list {
			do(v.text)
			vs(v.first)
		}
	}
	for _, fl := range n.fills {
		vs(fl.values)
	}
}

// fieldRefs calls f for every field named in t.
func (t *text) fieldRefs(f func(*fieldRef)) {
	for i := range t.segs {
		s := &t.segs[i]
		if s.field != nil {
			f(s.field)
		}
		if s.sub != nil {
			s.sub.fieldRefs(f)
		}
		if s.expr != nil {
			for k := range s.expr.vars {
				if x := s.expr.vars[k].text; x != nil {
					x.fieldRefs(f)
				}
			}
		}
	}
}

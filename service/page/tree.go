package page

import (
	"ropewalk/mapping/entity"
)

// node is a node of a document as a tree. What has been shown is taken out of
// fields, so that what is left can be shown too.
type node struct {
	key    string // under which it stands
	class  string
	iri    string // of a reference or the root
	fields []field
}

type field struct {
	key    string
	nodes  []*node
	values []value
}

type value struct {
	kind entity.Kind
	text string
}

// tree copies d: the strings of d need not outlive the page, but they do.
func tree(d *entity.Document) *node {
	ev := d.Events()
	if len(ev) == 0 {
		return &node{}
	}
	root := &node{class: ev[0].Class.Key, iri: ev[0].Value}
	open := []*node{root}
	for i := 1; i < len(ev); i++ {
		e := &ev[i]
		at := open[len(open)-1]
		switch e.Kind {
		case entity.Open:
			n := &node{key: e.Term.Key, class: e.Class.Key}
			if e.Ref {
				n.iri = e.Value
			}
			f := at.field(e.Term.Key)
			f.nodes = append(f.nodes, n)
			open = append(open, n)
		case entity.Close:
			open = open[:len(open)-1]
		default:
			f := at.field(e.Term.Key)
			f.values = append(f.values, value{e.Kind, e.Value})
		}
	}
	return root
}

// field returns the field of key, which is added if there is none.
func (n *node) field(key string) *field {
	for i := range n.fields {
		if n.fields[i].key == key {
			return &n.fields[i]
		}
	}
	n.fields = append(n.fields, field{key: key})
	return &n.fields[len(n.fields)-1]
}

// look returns the field of key, empty if there is none.
func (n *node) look(key string) field {
	for _, f := range n.fields {
		if f.key == key {
			return f
		}
	}
	return field{key: key}
}

// take returns the field of key and removes it.
func (n *node) take(key string) field {
	for i, f := range n.fields {
		if f.key == key {
			n.fields = append(n.fields[:i:i], n.fields[i+1:]...)
			return f
		}
	}
	return field{key: key}
}

// text is the first value under key, or "".
func (n *node) text(key string) string {
	if f := n.look(key); len(f.values) > 0 {
		return f.values[0].text
	}
	return ""
}

// takeText takes a field whose only content is one value.
func (n *node) takeText(key string) (value, bool) {
	if f := n.look(key); len(f.values) == 1 && len(f.nodes) == 0 {
		n.take(key)
		return f.values[0], true
	}
	return value{}, false
}

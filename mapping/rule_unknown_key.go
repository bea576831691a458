package mapping

import (
	"fmt"

	"ropewalk/vocab"
)

var ruleUnknownKey = &Rule{Name: "unknown-key", About: "a key that nodes of the class don't have"}

func (c *compiler) unknownKey(n *node, key *Scalar, e *env) {
	var have []string
	for _, s := range n.shape.Slots {
		have = append(have, s.Key)
	}
	near := append(append([]string{}, have...), nodeWords...)
	if e != nil {
		near = append(near, e.pattern.holeNames()...)
	}
	what := n.class.Key
	if !n.shape.Document && n.shape.Name != what {
		what = fmt.Sprintf("%s (%s)", what, n.shape.Name)
	}
	hint := didYouMean(key.Text, near)
	if hint == "" {
		for _, cl := range vocab.Shapes() {
			if cl.Slot(key.Text) != nil && cl.Document {
				hint = fmt.Sprintf("%s has this key; %s has: %s", cl.Classes[0].Key, what, oneOf(have))
				break
			}
		}
	}
	if hint == "" {
		hint = "it has: " + oneOf(have)
	}
	c.add(ruleUnknownKey, key.Span, fmt.Sprintf("%s has no key %q in the profile", what, key.Text), hint)
}

package mapping

import (
	"fmt"
)

var ruleUnknownClass = &Rule{Name: "unknown-class", About: "a class the profile does not have, or not in this place"}

func (c *compiler) unknownClass(s *Scalar, candidates []string) {
	hint := didYouMean(s.Text, candidates)
	if hint == "" && len(candidates) > 0 {
		hint = "what fits here: " + oneOf(candidates)
	}
	c.add(ruleUnknownClass, s.Span, fmt.Sprintf("the profile has no class %q that can stand here", s.Text), hint)
}

// classNotSaid reports a node whose class can't be told.
func (c *compiler) classNotSaid(n *node, f *fill, at Value) {
	what := "several classes could stand here"
	if n.id != nil && n.iri == iriLocal {
		what = "no mapping makes documents with this path, and several classes could stand here"
	}
	c.add(ruleUnknownClass, at.Place(), fmt.Sprintf("the class of this node under %q is not said: %s", f.key.Text, what),
		"add \"type:\" with one of "+oneOf(slotClasses(f.slot)))
}

package mapping

import (
	"fmt"
)

var ruleUnknownClass = &Rule{Name: "unknown-class", About: "a class the profile does not have, or not in this place"}

func (c *compiler) unknownClass(s *Scalar, candidates []string) {
	hint := didYouMean(s.Text, candidates)
	if hint == "" && len(candidates) > 0 {
		hint = orList(candidates) + " can stand here"
	}
	c.add(ruleUnknownClass, s.Span, fmt.Sprintf("the profile has no class %q", s.Text), hint)
}

// notADocument reports a class that no document can have.
func (c *compiler) notADocument(s *Scalar) {
	c.add(ruleUnknownClass, s.Span, fmt.Sprintf("the profile has no documents of the class %s", s.Text), "documents are of the classes "+oneOf(documentClasses()))
}

// classNotSaid reports a node whose class can't be told.
func (c *compiler) classNotSaid(n *node, f *fill, at Value) {
	if n.id != nil && !refers(f.slot) {
		c.embedded(f, at)
		return
	}
	what := "several classes could stand here"
	if n.id != nil && n.iri == iriLocal {
		what = "no mapping makes documents with this path, and several classes could stand here"
	}
	hint := "add \"type:\" with " + orList(slotClasses(f.slot))
	if x, ok := at.(*Scalar); ok {
		hint = fmt.Sprintf("write { id: %s, type: … } with %s", x.Text, orList(slotClasses(f.slot)))
	}
	c.add(ruleUnknownClass, at.Place(), fmt.Sprintf("the class of this node under %q is not said: %s", f.key.Text, what), hint)
}

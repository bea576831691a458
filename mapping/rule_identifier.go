package mapping

import (
	"fmt"
	"slices"
)

var ruleIdentifier = &Rule{Name: "identifier", About: "a node with an identifier where the profile embeds it, or without one where the profile wants a reference"}

func (c *compiler) identifierRule(n *node, f *fill, at Value) {
	switch {
	case n.id != nil:
		c.add(ruleIdentifier, at.Place(), fmt.Sprintf("under %q %s is embedded and has no identifier of its own", f.key.Text, a(n.class.Key)),
			"leave the identifier out; \"key:\" gives the node a name of its own")
	default:
		c.add(ruleIdentifier, at.Place(), fmt.Sprintf("under %q %s is a reference and needs an identifier", f.key.Text, a(n.class.Key)),
			"add \"refer:\" for a document of this site, \"id:\" for another, or \"term:\" for a word of a term list")
	}
}

// embedded reports a reference where every class that fits is embedded.
func (c *compiler) embedded(f *fill, at Value) {
	classes := slotClasses(f.slot)
	example := classes[0]
	if slices.Contains(classes, "Name") { // what most people mean
		example = "Name"
	}
	keys := ""
	if f.slot.Shapes[0].Slot("content") != nil {
		keys = ", content: …"
	}
	c.add(ruleIdentifier, at.Place(), fmt.Sprintf("under %q no reference can stand: %s is embedded, with keys of its own", f.key.Text, a(orList(classes))),
		fmt.Sprintf("write { type: %s%s }", example, keys))
}

package mapping

import (
	"fmt"
)

var ruleIdentifier = &Rule{Name: "identifier", About: "a node with an identifier where the profile embeds it, or without one where the profile wants a reference"}

func (c *compiler) identifierRule(n *node, f *fill, at Value) {
	if n.id != nil {
		c.add(ruleIdentifier, at.Place(), fmt.Sprintf("under %q a %s is embedded and has no identifier of its own", f.key.Text, n.class.Key),
			"leave the identifier out, or use \"key:\" to name the node")
		return
	}
	c.add(ruleIdentifier, at.Place(), fmt.Sprintf("under %q a %s is a reference and needs an identifier", f.key.Text, n.class.Key),
		"add \"refer:\", \"id:\" or \"term:\"")
}

package mapping

import (
	"fmt"
)

var ruleOutsideRange = &Rule{Name: "outside-range", About: "a node of a class that can't stand under its key"}

func (c *compiler) outsideRange(n *node, f *fill, at Value) {
	c.add(ruleOutsideRange, at.Place(), fmt.Sprintf("a %s can't stand under %q", n.class.Key, f.key.Text),
		"what can: "+oneOf(slotClasses(f.slot)))
}

package mapping

import (
	"fmt"
)

var ruleOutsideRange = &Rule{Name: "outside-range", About: "a node of a class that can't stand under its key"}

func (c *compiler) outsideRange(n *node, f *fill, at Value) {
	if d := c.maker(n); d != nil && d.class == n.class {
		c.add(ruleOutsideRange, at.Place(), fmt.Sprintf("this refers to %s, which can't stand under %q", a(n.class.Key), f.key.Text),
			orList(slotClasses(f.slot))+" can", d.span)
		return
	}
	c.add(ruleOutsideRange, at.Place(), fmt.Sprintf("%s can't stand under %q", a(n.class.Key), f.key.Text),
		orList(slotClasses(f.slot))+" can")
}

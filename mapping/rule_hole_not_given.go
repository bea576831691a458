package mapping

import (
	"fmt"
)

var ruleHoleNotGiven = &Rule{Name: "hole-not-given", About: "a required hole of a pattern that the use leaves out"}

func (c *compiler) holeNotGiven(use *Scalar, p *pattern, name string, own []part) {
	for _, o := range own {
		if p.hole(o.key.Text) == nil && nearest(o.key.Text, []string{name}) != "" {
			c.add(ruleHoleNotGiven, o.key.Span, fmt.Sprintf("the pattern %q needs %q, and there is %q", p.name, name, o.key.Text),
				fmt.Sprintf("did you mean %q?", name), p.span)
			return
		}
	}
	c.add(ruleHoleNotGiven, use.Span, fmt.Sprintf("the pattern %q needs %q", p.name, name), fmt.Sprintf("add \"%s:\" beside \"use\"", name), p.span)
}

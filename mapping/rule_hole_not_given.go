package mapping

import (
	"fmt"
)

var ruleHoleNotGiven = &Rule{Name: "hole-not-given", About: "a required hole of a pattern that the use leaves out"}

func (c *compiler) holeNotGiven(use *Scalar, p *pattern, name string) {
	c.add(ruleHoleNotGiven, use.Span, fmt.Sprintf("the pattern %q needs %q", p.name, name), fmt.Sprintf("add \"%s:\" beside \"use\"", name), p.span)
}

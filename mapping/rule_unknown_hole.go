package mapping

import (
	"fmt"
)

var ruleUnknownHole = &Rule{Name: "unknown-hole", About: "a hole that the pattern does not declare"}

func (c *compiler) unknownHole(name string, sp Span, e *env) {
	hint := didYouMean(name, e.pattern.holeNames())
	if hint == "" {
		hint = "declare it under \"holes:\"; a pattern can't read fields itself"
	}
	c.add(ruleUnknownHole, sp, fmt.Sprintf("the pattern %q has no hole %q", e.pattern.name, name), hint, e.use)
}

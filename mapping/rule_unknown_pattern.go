package mapping

import (
	"fmt"
	"maps"
	"slices"
)

var ruleUnknownPattern = &Rule{Name: "unknown-pattern", About: "a pattern that neither the library nor the site has, or one that uses itself"}

func (c *compiler) unknownPattern(s *Scalar) {
	names := slices.Sorted(maps.Keys(c.patterns))
	hint := didYouMean(s.Text, names)
	if hint == "" {
		hint = "\"ropewalk patterns\" lists those of the library"
	}
	c.add(ruleUnknownPattern, s.Span, fmt.Sprintf("there is no pattern %q", s.Text), hint)
}

// usesItself reports a pattern in use within itself. e is the pattern in which the
// use stands.
func (c *compiler) usesItself(p *pattern, use *Scalar, e *env) bool {
	var way string
	for x := e; x != nil; x = x.outer {
		if x.pattern == p {
			msg := fmt.Sprintf("the pattern %q uses itself", p.name)
			if way != "" {
				msg += ", by way of " + way
			}
			c.add(ruleUnknownPattern, use.Span, msg, "it would never end", p.span)
			return true
		}
		if way != "" {
			way += " and "
		}
		way += fmt.Sprintf("%q", x.pattern.name)
	}
	return false
}

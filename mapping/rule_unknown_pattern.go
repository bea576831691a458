package mapping

import (
	"fmt"
	"maps"
	"slices"
)

var ruleUnknownPattern = &Rule{Name: "unknown-pattern", About: "a pattern that neither the library nor the site has"}

func (c *compiler) unknownPattern(s *Scalar) {
	names := slices.Sorted(maps.Keys(c.patterns))
	hint := didYouMean(s.Text, names)
	if hint == "" {
		hint = "there are: " + oneOf(names)
	}
	c.add(ruleUnknownPattern, s.Span, fmt.Sprintf("there is no pattern %q", s.Text), hint)
}

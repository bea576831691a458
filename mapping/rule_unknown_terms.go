package mapping

import (
	"fmt"
	"maps"
	"slices"
)

var ruleUnknownTerms = &Rule{Name: "unknown-terms", About: "a term list that the site file does not declare"}

func (c *compiler) unknownTerms(s *Scalar, name string) {
	names := slices.Sorted(maps.Keys(c.Terms))
	hint := didYouMean(name, names)
	if hint == "" {
		hint = "the site file has: " + oneOf(names)
	}
	c.add(ruleUnknownTerms, s.Span, fmt.Sprintf("the site file declares no term list %q", name), hint)
}

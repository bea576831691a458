package mapping

import (
	"fmt"
	"maps"
	"slices"
)

var ruleUnknownTerms = &Rule{Name: "unknown-terms", About: "a term list that the site file does not declare"}

func (c *compiler) unknownTerms(s *Scalar, name string) {
	names := slices.DeleteFunc(slices.Sorted(maps.Keys(c.Terms)), func(n string) bool { return n == CautionList })
	hint := didYouMean(name, names)
	if hint == "" && len(names) > 0 {
		hint = "the site file has " + oneOf(names)
	}
	if hint == "" {
		hint = "declare it under \"terms:\" in the site file"
	}
	c.add(ruleUnknownTerms, s.Span, fmt.Sprintf("the site file declares no term list %q", name), hint)
}

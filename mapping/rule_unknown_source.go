package mapping

import (
	"fmt"
)

var ruleUnknownSource = &Rule{Name: "unknown-source", About: "a source that the site file does not declare"}

func (c *compiler) unknownSource(s *Scalar) {
	names := c.Sources.Names()
	hint := didYouMean(s.Text, names)
	if hint == "" {
		hint = "the site file has " + oneOf(names)
	}
	c.add(ruleUnknownSource, s.Span, fmt.Sprintf("the site file declares no source %q", s.Text), hint)
}

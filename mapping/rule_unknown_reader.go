package mapping

import (
	"fmt"
)

var ruleUnknownReader = &Rule{Name: "unknown-reader", About: "a reader that does not exist"}

func (c *compiler) unknownReader(s *Scalar, names []string) {
	hint := didYouMean(s.Text, names)
	if hint == "" {
		hint = "there are: " + oneOf(names)
	}
	c.add(ruleUnknownReader, s.Span, fmt.Sprintf("there is no reader %q", s.Text), hint)
}

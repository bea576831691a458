package mapping

import (
	"fmt"
)

var ruleUnknownReader = &Rule{Name: "unknown-reader", About: "a reader that does not exist"}

// unknownRowReader reports a reader that "each" does not know.
func (c *compiler) unknownRowReader(s *Scalar) {
	if names := rowReaderNames(); len(names) > 0 {
		c.unknownReader(s, names)
		return
	}
	c.add(ruleUnknownReader, s.Span, fmt.Sprintf("there is no reader %q for \"each\"", s.Text), "split the text: "+eachHint)
}

func (c *compiler) unknownReader(s *Scalar, names []string) {
	hint := didYouMean(s.Text, names)
	if hint == "" {
		hint = "there are " + oneOf(names)
	}
	c.add(ruleUnknownReader, s.Span, fmt.Sprintf("there is no reader %q", s.Text), hint)
}

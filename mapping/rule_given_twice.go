package mapping

import (
	"fmt"
)

var ruleGivenTwice = &Rule{Name: "given-twice", About: "the same thing said twice where once is all there is room for"}

func (c *compiler) givenTwice(key *Scalar, before Span) {
	c.add(ruleGivenTwice, key.Span, fmt.Sprintf("%q is given twice for the same node", key.Text), "leave one of them out", before)
}

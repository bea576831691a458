package mapping

import (
	"fmt"
)

var ruleGivenTwice = &Rule{Name: "given-twice", About: "the same thing said twice where once is all there is room for"}

func (c *compiler) givenTwice(key *Scalar, before Span) {
	c.add(ruleGivenTwice, key.Span, fmt.Sprintf("%q is given twice for the same node", key.Text), "leave one of them out", before)
}

// besides reports a word that stands beside another that says what the node is
// already.
func (c *compiler) besides(key, other *Scalar) {
	c.add(ruleGivenTwice, key.Span, fmt.Sprintf("%q and %q both say what stands here", other.Text, key.Text),
		"leave one of them out, or write them as two values of a list", other.Span)
}

func (c *compiler) patternTwice(p *pattern, before Span) {
	c.add(ruleGivenTwice, p.span, fmt.Sprintf("the pattern %q is written twice", p.name), "give one of them another name", before)
}

package mapping

import (
	"fmt"
)

var ruleSingleValued = &Rule{Name: "single-valued", About: "several values under a key that holds one"}

func (c *compiler) singleValued(f *fill, sp Span, why string) {
	c.add(ruleSingleValued, sp, fmt.Sprintf("%q holds one value: %s", f.key.Text, why), partHint(f))
}

// partHint says where several values go if the one can have parts.
func partHint(f *fill) string {
	for _, sh := range f.slot.Shapes {
		if sh.Slot("part") != nil && !sh.Document {
			return "put them under \"part:\" of one " + sh.Classes[0].Key
		}
	}
	return ""
}

func orPart(hint string, f *fill) string {
	if h := partHint(f); h != "" {
		return hint + "; if all are, " + h
	}
	return hint
}

func checkSingleValued(c *compiler, d *document) {
	d.root.walk(func(n *node) {
		for _, f := range n.fills {
			if f.slot.Many {
				continue
			}
			var stand []*value // what is always doubted is not asserted here, and may stand beside what is
			for _, v := range f.values {
				if v.node == nil || !v.node.doubtful() {
					stand = append(stand, v)
				}
			}
			if len(stand) > 1 {
				c.add(ruleSingleValued, stand[1].span, fmt.Sprintf("%q holds one value, and %d are given", f.key.Text, len(stand)),
					orPart("use \"first:\" if only one of them is to stand", f), stand[0].span)
			}
			var see func(vs []*value)
			see = func(vs []*value) {
				for _, v := range vs {
					if v.node != nil && v.node.each != nil {
						c.singleValued(f, v.node.each.span, "\"each\" may give several")
					}
					see(v.first)
				}
			}
			see(f.values)
		}
	})
}

package mapping

import (
	"fmt"
	"slices"

	"ropewalk/vocab"
)

var ruleRequiredKey = &Rule{Name: "required-key", About: "a key that the profile requires and the mapping leaves out"}

func checkRequiredKey(c *compiler, d *document) {
	d.root.walk(func(n *node) {
		if n.shape == nil || n.term == nil && n != d.root {
			return
		}
		if n == d.root && n.id == nil {
			return // missing-head has said it
		}
		for _, s := range n.shape.Slots {
			if !s.Required || n.read(s) || n.refused(s) && c.diags.Problems() > 0 {
				continue
			}
			key := s.Key
			if key == "_label" {
				key = "label"
			}
			c.add(ruleRequiredKey, n.span, fmt.Sprintf("the profile requires %q on this %s", key, n.class.Key), fmt.Sprintf("add \"%s:\"", key))
		}
	})
}

// read reports whether the node fills a slot, or a reader fills it.
func (n *node) read(s *vocab.Slot) bool {
	if n.byReader {
		return true
	}
	for _, f := range n.fills {
		if f.slot == s && len(f.values) > 0 {
			return true
		}
	}
	return false
}

// refused reports whether a slot is given but what was given could not be
// compiled: that has been said.
func (n *node) refused(s *vocab.Slot) bool {
	for _, f := range n.fills {
		if f.slot == s {
			return len(f.values) == 0 && !slices.Contains(n.lacks, s.Key)
		}
	}
	return false
}

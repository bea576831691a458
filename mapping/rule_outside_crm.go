package mapping

import (
	"fmt"

	"ropewalk/mapping/validate"
	"ropewalk/vocab"
)

var ruleOutsideCRM = &Rule{Name: "outside-crm", About: "a statement whose subject or object CIDOC CRM does not allow for its property"}

func checkOutsideCRM(c *compiler, d *document) {
	d.root.walk(func(n *node) {
		if n.class == nil {
			return
		}
		for _, f := range n.fills {
			if f.term == nil || f.slot.Kind != vocab.KindNode {
				continue
			}
			for _, v := range f.values {
				if v.node == nil || v.node.class == nil {
					continue
				}
				if ok, why := validate.Allowed(n.class.IRI, f.term.IRI, v.node.class.IRI); !ok {
					c.add(ruleOutsideCRM, v.span, fmt.Sprintf("%s %s %s: %s", n.class.Key, f.key.Text, v.node.class.Key, why), "")
				}
			}
		}
	})
}

package mapping

import (
	"fmt"

	"ropewalk/mapping/validate"
	"ropewalk/vocab"
)

var ruleOutsideCRM = &Rule{Name: "outside-crm", About: "a statement whose subject or object CIDOC CRM does not allow for its property"}

// crmHint names the classes that the node could have instead.
func crmHint(n *node, f *fill, object *vocab.Class) string {
	var can []string
	for _, cl := range n.shape.Classes {
		if t := cl.Term(f.slot.Key); t != nil {
			if ok, _ := validate.Allowed(cl.IRI, t.IRI, object.IRI); ok {
				can = append(can, cl.Key)
			}
		}
	}
	if len(can) == 0 {
		return ""
	}
	return "the class can be " + orList(can)
}

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
					c.add(ruleOutsideCRM, f.key.Span, fmt.Sprintf("CIDOC CRM does not let %q lead from %s to %s: %s", f.key.Text, a(n.class.Key), a(v.node.class.Key), why), crmHint(n, f, v.node.class))
					break
				}
			}
		}
	})
}

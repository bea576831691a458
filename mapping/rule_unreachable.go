package mapping

var ruleUnreachable = &Rule{Name: "unreachable", About: "a part of a mapping that can never make anything"}

func checkUnreachable(c *compiler, d *document) {
	d.root.walk(func(n *node) {
		for _, w := range n.whens {
			if w.konst == nil || *w.konst {
				continue
			}
			what := "so this node is never made"
			if n == d.root {
				what = "so there is never a document"
			}
			c.add(ruleUnreachable, w.span, "this condition is never true, "+what, "leave the node out, or ask for a field")
		}
		for _, f := range n.fills {
			for _, v := range f.values {
				for i, x := range v.first {
					if i+1 < len(v.first) && x.always() {
						c.add(ruleUnreachable, v.first[i+1].span, "the alternative before this one is always made, so this one never is",
							"put the one that is always made last", x.span)
						break
					}
				}
			}
		}
	})
}

// always reports whether the value surely gives something for every record.
func (v *value) always() bool {
	switch v.kind {
	case literalValue:
		return v.text.holes == 0
	case nodeValue:
		return v.node.always()
	default:
		return false
	}
}

func (n *node) always() bool {
	if n.id != nil && n.id.holes > 0 || n.key != nil && n.key.holes > 0 || len(n.whens) > 0 || len(n.sure) > 0 || n.claim != nil || n.each != nil || n.byReader || n.missing {
		return false
	}
	for _, f := range n.fills {
		for _, v := range f.values {
			if !v.always() {
				return false
			}
		}
	}
	return true
}

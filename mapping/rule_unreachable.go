package mapping

var ruleUnreachable = &Rule{Name: "unreachable", About: "a part of a mapping that can never make anything"}

func checkUnreachable(c *compiler, d *document) {
	d.root.walk(func(n *node) {
		for _, w := range n.whens {
			if w.konst == nil || *w.konst {
				continue
			}
			c.add(ruleUnreachable, w.span, "this condition is never true, so the node is never made", "")
		}
		for _, f := range n.fills {
			for _, v := range f.values {
				for i, x := range v.first {
					if i+1 < len(v.first) && x.always() {
						c.add(ruleUnreachable, v.first[i+1].span, "the alternative before this one is always made, so this one never is",
							"put it in front", x.span)
						break
					}
				}
			}
		}
	})
}

// always reports whether the value gives something for every record.
func (v *value) always() bool {
	switch v.kind {
	case literalValue:
		return v.text.holes == 0
	case nodeValue:
		return v.node.static
	default:
		return false
	}
}

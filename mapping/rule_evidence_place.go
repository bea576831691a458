package mapping

var ruleEvidencePlace = &Rule{Name: "evidence-place", About: "evidence of something that no attribute assignment can assign"}

func (c *compiler) evidenceOfDocument(key *Scalar) {
	c.add(ruleEvidencePlace, key.Span, "a document as a whole is no statement, so there is nothing that evidence could prove",
		"write it below the key whose value it proves")
}

// mayHaveEvidence reports whether an attribute assignment can assign the statement of
// which there is evidence, or says why not.
func (c *compiler) mayHaveEvidence(g *grounds) bool {
	n := g.val.node
	if n.inFirst {
		c.add(ruleEvidencePlace, g.key.Span, "an alternative of \"first\" can't have evidence: a doubt would make the next one a fact",
			"write the alternatives as values of their own, each with a condition")
		return false
	}
	carrier, way := n.chain()
	if carrier == nil {
		c.add(ruleEvidencePlace, g.key.Span, "nothing above this can have an attribute assignment in the profile", "")
		return false
	}
	for _, w := range way[:len(way)-1] {
		if w.byReader || w.byTerm {
			c.add(ruleEvidencePlace, g.key.Span, "this stands in what a reader or a term list makes, which can't be split into statements",
				"write the evidence beside \"from\", of the whole", w.span)
			return false
		}
	}
	for _, w := range way {
		if w.term.Key == "attributed_by" || w.term.Key == "assigned" {
			c.add(ruleEvidencePlace, g.key.Span, "this is part of a claim, not a statement of the document", "write who says so, when and from what into the claim itself", w.span)
			return false
		}
	}
	return true
}

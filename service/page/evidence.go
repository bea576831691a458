package page

import (
	"slices"

	"ropewalk/vocab"
)

// evidenceKey stands for the attribute assignments of which the document itself states
// what they assign: they prove a fact, while the others only claim something.
const evidenceKey = "attributed_by (evidence)"

// provenKey stands for what they assign.
const provenKey = "assigned (evidence)"

// splitEvidence puts the evidence of facts under a key of its own, and says of claims
// that do not say how sure they are that they are claims.
func splitEvidence(root *node) {
	all := root.look("attributed_by").nodes
	if len(all) == 0 {
		return
	}
	var proofs, claims []*node
	for _, n := range all {
		if root.states(n) {
			proofs = append(proofs, n)
		} else {
			claims = append(claims, n)
		}
	}
	f := root.field("attributed_by")
	f.nodes = claims
	if len(claims) == 0 && len(f.values) == 0 {
		root.take("attributed_by")
	}
	if len(proofs) == 0 {
		return
	}
	for _, n := range proofs {
		n.key = evidenceKey
		for i := range n.fields {
			if n.fields[i].key == "assigned" {
				n.fields[i].key = provenKey
			}
		}
	}
	root.field(evidenceKey).nodes = proofs
}

// states reports whether a document says all that an attribute assignment assigns.
func (n *node) states(claim *node) bool {
	class := vocab.ClassByKey(n.class)
	property := class.Resolve(claim.text("assigned_property"))
	assigned := claim.look("assigned").nodes
	if property == "" || len(assigned) == 0 {
		return false
	}
	for _, a := range assigned {
		said := false
		for _, f := range n.fields {
			if t := class.Term(f.key); t != nil && t.IRI == property {
				said = said || slices.ContainsFunc(f.nodes, func(x *node) bool { return x.covers(a) })
			}
		}
		if !said {
			return false
		}
	}
	return true
}

// covers reports whether a node says all that a claimed one does.
func (n *node) covers(claimed *node) bool {
	if n.class != claimed.class || n.iri != claimed.iri {
		return false
	}
	for _, f := range claimed.fields {
		own := n.look(f.key)
		for _, v := range f.values {
			if !slices.Contains(own.values, v) {
				return false
			}
		}
		for _, c := range f.nodes {
			if !slices.ContainsFunc(own.nodes, func(x *node) bool { return x.covers(c) }) {
				return false
			}
		}
	}
	return true
}

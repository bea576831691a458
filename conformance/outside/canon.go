package outside

import (
	"fmt"
	"slices"
	"strings"

	"github.com/piprate/json-gold/ld"
)

// Canonical is the dataset in the canonical form of RDF Dataset Canonicalization
// (RDFC-1.0), with SHA-256: sorted lines of N-Quads, each statement once, blank
// nodes named c14n0, c14n1 and so on. Two datasets are isomorphic when their
// canonical forms are equal. Language tags, which RDF 1.1 compares without regard
// to case, are written in lower case.
//
// json-gold finds the names of the blank nodes. A dataset so symmetric that this
// would take for ever is refused with an error (RDFC-1.0 §7.1).
func Canonical(quads []Quad) (string, error) {
	names, err := blankNames(quads)
	if err != nil {
		return "", err
	}
	lines := make([]string, 0, len(quads))
	for _, q := range quads {
		for _, t := range []*Term{&q.S, &q.O, &q.G} {
			if t.Kind == Blank {
				t.Value = names[t.Value]
			}
		}
		q.O.Language = strings.ToLower(q.O.Language)
		lines = append(lines, string(q.append(nil)))
	}
	slices.Sort(lines)
	return strings.Join(slices.Compact(lines), ""), nil
}

// blankNames gives every blank node of a dataset its canonical name.
func blankNames(quads []Quad) (map[string]string, error) {
	labels := make(map[string]string) // ours to those handed to json-gold, which must not look canonical
	node := func(t Term) ld.Node {
		switch t.Kind {
		case IRI:
			return ld.NewIRI(t.Value)
		case Blank:
			l, ok := labels[t.Value]
			if !ok {
				l = fmt.Sprintf("_:n%d", len(labels))
				labels[t.Value] = l
			}
			return ld.NewBlankNode(l)
		case Literal:
			return ld.NewLiteral(t.Value, t.Datatype, strings.ToLower(t.Language))
		}
		return nil
	}
	data := ld.NewRDFDataset()
	given := make(map[*ld.Quad]Quad, len(quads))
	seen := make(map[Quad]bool, len(quads))
	for _, q := range quads {
		q.O.Language = strings.ToLower(q.O.Language)
		if seen[q] {
			continue
		}
		seen[q] = true
		if q.S.Kind != Blank && q.O.Kind != Blank && q.G.Kind != Blank {
			continue // names no blank node, so it has no part in their names
		}
		graph := "@default"
		if g := node(q.G); g != nil {
			graph = g.GetValue()
		}
		lq := ld.NewQuad(node(q.S), node(q.P), node(q.O), graph)
		given[lq] = q
		data.Graphs[graph] = append(data.Graphs[graph], lq)
	}
	names := make(map[string]string, len(labels))
	if len(labels) == 0 {
		return names, nil
	}
	if err := tooSymmetric(seen); err != nil {
		return nil, err
	}
	ld.NewNormalisationAlgorithm(ld.AlgorithmURDNA2015).Normalize(data)
	for lq, q := range given {
		for _, p := range []struct {
			was Term
			now ld.Node
		}{{q.S, lq.Subject}, {q.O, lq.Object}, {q.G, lq.Graph}} {
			if p.was.Kind == Blank {
				names[p.was.Value] = strings.TrimPrefix(p.now.GetValue(), "_:")
			}
		}
	}
	return names, nil
}

// maxAlike is how many neighbours of a blank node may look alike: the algorithm
// tries all their orders, and 8! is still quick.
const maxAlike = 8

// maxTangle bounds, over a dataset, how many pairs of look-alike blank nodes are
// joined by a statement; there the algorithm's work multiplies.
const maxTangle = 100

// tooSymmetric refuses datasets on which canonicalisation would not end in
// reasonable time. It tells blank nodes apart by what surrounds them, as far as
// that goes, and looks at those that stay alike.
func tooSymmetric(quads map[Quad]bool) error {
	colour := make(map[string]string)
	for q := range quads {
		for _, t := range []Term{q.S, q.O, q.G} {
			if t.Kind == Blank {
				colour[t.Value] = ""
			}
		}
	}
	for distinct := 0; ; {
		around := make(map[string][]string, len(colour))
		for q := range quads {
			for at, t := range []Term{q.S, q.O, q.G} {
				if t.Kind == Blank {
					around[t.Value] = append(around[t.Value], fmt.Sprint(at, described(q, t.Value, colour)))
				}
			}
		}
		ids := make(map[string]string)
		next := make(map[string]string, len(colour))
		for label, lines := range around {
			slices.Sort(lines)
			all := colour[label] + "\n" + strings.Join(lines, "\n")
			if ids[all] == "" {
				ids[all] = fmt.Sprintf("%d", len(ids)+1)
			}
			next[label] = ids[all]
		}
		colour = next
		if len(ids) == distinct {
			break
		}
		distinct = len(ids)
	}
	type near struct{ node, colour string }
	alike := make(map[near]map[string]bool)
	tangle := 0
	for q := range quads {
		blanks := []Term{q.S, q.O, q.G}
		for _, a := range blanks {
			for _, b := range blanks {
				if a.Kind != Blank || b.Kind != Blank || a.Value == b.Value {
					continue
				}
				if colour[a.Value] == colour[b.Value] {
					tangle++
				}
				k := near{a.Value, colour[b.Value]}
				if alike[k] == nil {
					alike[k] = make(map[string]bool)
				}
				alike[k][b.Value] = true
			}
		}
	}
	for k, nodes := range alike {
		if len(nodes) > maxAlike {
			return fmt.Errorf("too symmetric to canonicalise: blank node %s has %d neighbours that look alike", k.node, len(nodes))
		}
	}
	if tangle > maxTangle {
		return fmt.Errorf("too symmetric to canonicalise: %d statements join blank nodes that look alike", tangle/2)
	}
	return nil
}

// described is a quad as seen from one of its blank nodes: the others by colour.
func described(q Quad, self string, colour map[string]string) string {
	for _, t := range []*Term{&q.S, &q.O, &q.G} {
		if t.Kind == Blank {
			if t.Value == self {
				t.Value = "self"
			} else {
				t.Value = colour[t.Value]
			}
		}
	}
	return q.String()
}

// Difference says in a few lines how two canonical forms differ, or "" if they
// do not.
func Difference(want, got string) string {
	if want == got {
		return ""
	}
	w, g := strings.SplitAfter(want, "\n"), strings.SplitAfter(got, "\n")
	var b strings.Builder
	fmt.Fprintf(&b, "graphs differ (%d statements wanted, %d got)", len(w)-1, len(g)-1)
	list := func(mark string, from, other []string) {
		in := make(map[string]bool, len(other))
		for _, l := range other {
			in[l] = true
		}
		n := 0
		for _, l := range from {
			if l == "" || in[l] {
				continue
			}
			if n++; n > 6 {
				b.WriteString("\n" + mark + " …")
				return
			}
			if len(l) > 400 {
				l = l[:400] + "…"
			}
			b.WriteString("\n" + mark + " " + strings.TrimSpace(l))
		}
	}
	list("-", w, g)
	list("+", g, w)
	return b.String()
}

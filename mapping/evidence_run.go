package mapping

import (
	"slices"
	"strings"

	"ropewalk/mapping/source"
	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

// degree is how sure a statement is of the record in hand, the term of a word list
// that says so, if any, and the words.
func (r *Run) degree(s *surety) (c vocab.Certainty, t *termlist.Term, words string) {
	if s.text == nil {
		return vocab.CertaintyUnsaid, nil, ""
	}
	words, _ = r.fill(s.text)
	if words == "" || s.list == nil {
		return readCertainty(words), nil, words
	}
	t, known := s.list.Find(words)
	if !known || t == nil {
		return vocab.CertaintyUnknown, nil, words
	}
	return s.levels[t], t, words
}

// asserted reports whether a statement is told as a fact, for all that its evidence
// says.
func (r *Run) asserted(list []*surety) bool {
	for _, s := range list {
		if c, _, _ := r.degree(s); !s.asserts(c) {
			return false
		}
	}
	return true
}

// claim makes the attribute assignments of a statement, for every row in which it
// stands. What there is to report on the way there has been reported of the statement.
func (r *Run) claim(n *node) (made, filled bool) {
	tell := r.Problem
	var down func(lifts []lift)
	down = func(lifts []lift) {
		if len(lifts) == 0 {
			r.Problem = tell
			m := r.assignment(n)
			made, r.Problem = made || m, nil
			return
		}
		l := &lifts[0]
		inner := func() {
			if r.holds(l.whens) {
				down(lifts[1:])
			}
		}
		if l.each == nil {
			inner()
		} else {
			r.repeat(l.each, inner)
		}
	}
	r.Problem = nil
	down(n.claim.lifts)
	r.Problem = tell
	return made, made
}

// assignment makes an attribute assignment if the statement says anything, and its
// evidence does, too, if only that there is a doubt.
func (r *Run) assignment(n *node) bool {
	asserted := r.asserted(n.claim.sure)
	mark := r.doc.Mark()
	key := ""
	if n.key != nil {
		key, _ = r.fill(n.key)
	}
	r.doc.Begin(n.term, n.slot.Many, n.class, false, key, n.origin)
	if n.key == nil || n.key.holes == 0 {
		r.doc.Fix()
	}
	assigned, evidence := false, false
	for _, f := range n.fills {
		tell := r.Problem
		if f.only && asserted {
			r.Problem = nil // it has been told where the statement stands
		}
		for _, v := range f.values {
			m, fl := r.value(v, f)
			if f.only {
				assigned = assigned || m
			} else {
				evidence = evidence || fl
			}
			if m && !f.slot.Many {
				break
			}
		}
		r.Problem = tell
	}
	if evidence {
		r.noteCells(n, assigned)
	}
	if c, _, _ := r.degree(n.claim.own); !assigned || n.holes && !evidence && n.claim.own.asserts(c) {
		r.doc.Cut(mark)
		return false
	}
	r.doc.End()
	return true
}

// idle is a cell with evidence of a statement that was not made.
type idle struct {
	cell   *string
	span   Span
	places []source.Place
}

// noteCells remembers which cells prove something, and which would have.
func (r *Run) noteCells(n *node, assigned bool) {
	if r.Problem == nil {
		return
	}
	for _, t := range n.claim.cells {
		t.fieldRefs(func(f *fieldRef) {
			if f.depth >= len(r.frames) {
				return // a row of the evidence itself
			}
			cell := &r.frames[f.depth].cells[f.slot]
			switch {
			case *cell == "":
			case assigned:
				r.proofs = append(r.proofs, cell)
			default:
				one := &text{src: t.src, holes: 1, segs: []segment{{field: f}}}
				r.idle = append(r.idle, idle{cell, t.src.Span, r.places(one, nil)})
			}
		})
	}
}

// evidenceAlone reports cells with evidence that proves nothing in the whole document:
// what they say would be lost in silence.
func (r *Run) evidenceAlone() {
	for _, x := range r.idle {
		if !slices.Contains(r.proofs, x.cell) {
			r.proofs = append(r.proofs, x.cell) // once is enough
			r.tell(RecordProblem{Rule: problemNoStatement, Places: x.places, Span: x.span, IRI: r.doc.IRI(), Value: *x.cell,
				Message: "this is evidence, and what it should prove is empty"})
		}
	}
}

// certainty adds the concepts of a statement's degree of certainty.
func (r *Run) certainty(v *value, f *fill) (made, filled bool) {
	for i, s := range v.sure {
		c, t, words := r.degree(s)
		if i > 0 && s.asserts(c) {
			continue
		}
		filled = filled || i == 0 && words != "" && s.text.holes > 0
		if i == 0 && c == vocab.CertaintyUnknown {
			r.unknownCertainty(s, words)
		}
		if i == 0 && s.asserts(c) && !r.asserted(v.sure[1:]) {
			continue // nobody may take for certain what stands in something doubtful
		}
		if path := c.Path(); path != "" {
			from := len(r.doc.Scratch())
			iri := r.doc.Made(append(append(r.doc.Scratch(), r.p.Base...), path...), from)
			r.kind(v, f, s, iri, c.Word())
			r.made = append(r.made, madeTerm{class: typeClass, list: "certainty", iri: strings.Clone(iri), label: c.Word()})
			made = true
		}
		switch {
		case t != nil && t.IRI != "" && vocab.CertaintyByIRI(t.IRI) == vocab.CertaintyUnsaid:
			r.kind(v, f, s, t.IRI, termLabel(t, words))
		case t == nil && c == vocab.Possible && s.maker:
			r.kind(v, f, s, possiblyBy.IRI, possiblyBy.Label)
		}
	}
	return made, filled
}

// possiblyBy is the one term for a degree of certainty that the profile's examples
// have (object/forum/1.json): of a maker.
var possiblyBy, _ = vocab.AuthorityByCURIE("aat:300404272")

func termLabel(t *termlist.Term, words string) string {
	if a, ok := vocab.AuthorityByIRI(t.IRI); ok && a.Label != "" {
		return a.Label
	}
	if t.Label != "" {
		return t.Label
	}
	return words
}

func (r *Run) kind(v *value, f *fill, s *surety, iri, name string) {
	r.doc.Begin(f.term, f.slot.Many, typeClass, true, iri, v.origin)
	r.doc.FixValue()
	r.traceText(s.text)
	r.doc.Text(label, false, name, v.origin)
	r.doc.FixValue()
	r.traceText(s.text)
	r.doc.End()
}

// inOtherWords reports whether the record says how sure a statement is in other words
// than those of the degree's concept, and no term list says that they mean the same.
func (r *Run) inOtherWords(s *surety) bool {
	c, t, words := r.degree(s)
	return words != "" && t == nil && !strings.EqualFold(words, c.Word())
}

func (r *Run) unknownCertainty(s *surety, words string) {
	if r.Problem == nil {
		return
	}
	p := RecordProblem{Rule: problemUnknownTerm, Places: r.places(s.text, nil), Span: s.span, IRI: r.doc.IRI(), Value: words,
		Message: "it is not known how sure this is, so the statement is not asserted: only its evidence is"}
	if s.list != nil {
		p.Nearest = s.list.Nearest(words, 3)
	}
	r.tell(p)
}

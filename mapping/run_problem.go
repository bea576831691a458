package mapping

import (
	"errors"
	"fmt"
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
)

// places gives the cells that a text takes its holes from, as the frames stand.
func (r *Run) places(t *text, out []source.Place) []source.Place {
	if t == nil {
		return out
	}
	t.fieldRefs(func(f *fieldRef) {
		if f.depth >= len(r.frames) {
			return
		}
		fr := &r.frames[f.depth]
		if fr.row == nil {
			out = r.places(fr.from, out)
			return
		}
		p := fr.layout.Where(fr.row, f.slot)
		for i := range out {
			if out[i] == p {
				return
			}
		}
		out = append(out, p)
	})
	return out
}

// traceText keeps the cells of the event just added.
func (r *Run) traceText(t *text) {
	if !r.Trace {
		return
	}
	i := r.doc.Len() - 1
	for len(r.cells) <= i {
		r.cells = append(r.cells, nil)
	}
	r.cells = r.cells[:i+1]
	r.cells[i] = r.places(t, nil)
}

func (r *Run) tell(p RecordProblem) {
	if r.Problem == nil {
		return
	}
	p.IRI = strings.Clone(p.IRI)
	p.Value = strings.Clone(p.Value)
	for i := range p.Places {
		p.Places[i].Value = strings.Clone(p.Places[i].Value)
	}
	if len(p.Places) == 0 && len(r.frames) > 0 {
		fr := &r.frames[0]
		p.Places = []source.Place{fr.layout.WhereRow(fr.row)}
	}
	r.Problem(p)
}

// onlyEmpty leaves the empty ones of several cells, if there are any: where a text
// must be filled it is they that matter.
func onlyEmpty(ps []source.Place) []source.Place {
	var out []source.Place
	for _, p := range ps {
		if p.Value == "" {
			out = append(out, p)
		}
	}
	if out == nil {
		return ps
	}
	return out
}

func (r *Run) textProblem(rule ProblemRule, t *text, value, msg string) {
	if r.Problem == nil {
		return
	}
	ps := r.places(t, nil)
	if rule == problemRequired {
		ps = onlyEmpty(ps)
	}
	r.tell(RecordProblem{Rule: rule, Places: ps, Span: t.src.Span, IRI: r.doc.IRI(), Message: msg, Value: value})
}

func (r *Run) problem(rule ProblemRule, sp Span, vars []exprVar, value, msg string) {
	if r.Problem == nil {
		return
	}
	var ps []source.Place
	for i := range vars {
		ps = r.places(vars[i].text, ps)
	}
	r.tell(RecordProblem{Rule: rule, Places: ps, Span: sp, IRI: r.doc.IRI(), Message: msg, Value: value})
}

// noIdentifier reports a document whose identifier has an empty hole.
func (r *Run) noIdentifier(n *node) {
	if n.parent != nil || n.term != nil {
		return
	}
	r.textProblem(problemRequired, n.id, "", "a hole of the identifier is empty, so there is no document")
}

// lostLabel reports a reference that has a label but no identifier: its words
// would be lost in silence.
func (r *Run) lostLabel(n *node) {
	if r.Problem == nil {
		return
	}
	for _, f := range n.fills {
		if f.slot.Key != "_label" {
			continue
		}
		for _, v := range f.values {
			if v.kind != literalValue {
				continue
			}
			if s, filled := r.fill(v.text); filled {
				r.textProblem(problemReference, v.text, s, fmt.Sprintf("%q has a label here but no identifier, so nothing is made of it", f.parentKey(n)))
			}
		}
	}
}

func (f *fill) parentKey(n *node) string {
	if n.term != nil {
		return n.term.Key
	}
	return f.key.Text
}

// required reports a node that had to be left out.
func (r *Run) required(n *node, missing *fill, iri string) {
	if r.Problem == nil {
		return
	}
	what := "the document"
	if n.term != nil {
		what = "the " + n.class.Key + " under \"" + n.term.Key + "\""
	}
	key := missing.slot.Key
	if key == "_label" {
		key = "label"
	}
	var ps []source.Place
	var see func(vs []*value)
	see = func(vs []*value) {
		for _, v := range vs {
			ps = r.places(v.text, ps)
			see(v.first)
		}
	}
	see(missing.values)
	r.tell(RecordProblem{Rule: problemRequired, Places: ps, Span: missing.key.Span, IRI: iri,
		Message: fmt.Sprintf("%s was left out: it needs %q, and there is none", what, key)})
}

func (r *Run) unknownWord(v *value, word string, listed bool) {
	if r.Problem == nil {
		return
	}
	p := RecordProblem{Rule: problemUnknownTerm, Places: r.places(v.text, nil), Span: v.span, IRI: r.doc.IRI(), Value: word,
		Message: fmt.Sprintf("the term list %q does not know this word", v.name)}
	switch {
	case listed:
		p.Message = fmt.Sprintf("the term list %q has no IRI for this word, and nothing says what to do then (otherwise: make, or leave)", v.name)
		r.tell(p)
		return
	case v.other == otherwiseMake:
		p.Message += "; a local concept is made for it"
	}
	p.Nearest = v.list.Nearest(word, 3)
	r.tell(p)
}

func (r *Run) unread(t *text, sp Span, s string, err error) {
	if r.Problem == nil {
		return
	}
	msg := err.Error()
	var u *reading.Unread
	if errors.As(err, &u) {
		msg = u.Reason
	}
	r.tell(RecordProblem{Rule: problemUnread, Places: r.places(t, nil), Span: sp, IRI: r.doc.IRI(), Message: msg, Value: s})
}

// Cell is the place of the record now being made into documents.
func (r *Run) Cell() source.Place {
	if len(r.frames) == 0 {
		return source.Place{}
	}
	return r.frames[0].layout.WhereRow(r.frames[0].row)
}

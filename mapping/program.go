package mapping

import (
	"slices"
	"sync/atomic"

	"ropewalk/mapping/source"
	"ropewalk/vocab"
)

// Program is a compiled set of mappings. It is immutable; goroutines may share
// it, each with a [Run] of its own.
type Program struct {
	Base     string
	Sources  []*SourceProgram // in the order in which mappings first name them
	origins  []Origin
	columns  []ColumnReport
	sets     map[string]bool
	waivable []string
	seed     uint64 // tells the shapes of its documents from those of other programs
}

var programs atomic.Uint64

// SourceProgram is what a program makes of one source.
type SourceProgram struct {
	Source *source.Source
	Layout *source.Layout
	docs   []*document
}

// ColumnReport says what becomes of the columns of a source.
type ColumnReport struct {
	Source   string
	Mapped   []string
	Unused   []source.Column // read by no mapping and not named in the site file
	Left     []string        // named as unused
	Withheld []string
}

// Columns reports on the columns of all sources, by name of source.
func (p *Program) Columns() []ColumnReport { return p.columns }

// Origin returns the i-th origin, as events carry it; ok is false for -1.
func (p *Program) Origin(i int32) (o Origin, ok bool) {
	if i < 0 || int(i) >= len(p.origins) {
		return Origin{}, false
	}
	return p.origins[i], true
}

// Makes lists the classes of the documents that a program makes from a source.
func (s *SourceProgram) Makes() []*vocab.Class {
	var out []*vocab.Class
	for _, d := range s.docs {
		if !slices.Contains(out, d.class) {
			out = append(out, d.class)
		}
	}
	return out
}

func (c *compiler) program() *Program {
	p := &Program{Base: c.Base, origins: c.origins, columns: c.columnUse(), waivable: c.Waivable, seed: programs.Add(1)}
	p.sets = map[string]bool{}
	for _, s := range c.Sets {
		p.sets[s] = true
	}
	run := p.NewRun()
	for _, d := range c.documents {
		d.root.settle()
		for _, f := range d.root.fills {
			for _, v := range f.values {
				run.freeze(v)
			}
		}
		var sp *SourceProgram
		for _, x := range p.Sources {
			if x.Source == d.source {
				sp = x
			}
		}
		if sp == nil {
			sp = &SourceProgram{Source: d.source, Layout: c.layouts[d.source.Name]}
			p.Sources = append(p.Sources, sp)
		}
		sp.docs = append(sp.docs, d)
	}
	return p
}

// settle works out which nodes have holes and which are the same for every record.
func (n *node) settle() {
	holes := n.id != nil && n.id.holes > 0 || n.key != nil && n.key.holes > 0
	given, missing := n.given, n.missing
	mark := func(t *text) {
		if t != nil {
			given, missing = given || t.given, missing || t.missing
		}
	}
	mark(n.id)
	mark(n.key)
	static := !holes && len(n.whens) == 0 && n.each == nil && !n.byReader && n.claim == nil && len(n.sure) == 0
	var see func(v *value)
	see = func(v *value) {
		mark(v.text)
		if v.node != nil {
			v.node.settle()
			given = given || v.node.given
		}
		switch v.kind {
		case literalValue:
			if v.text.holes > 0 {
				holes, static = true, false
			}
		case nodeValue:
			holes = holes || v.node.holes || len(v.node.sure) > 0 // it may stay away as a cell may be empty
			static = static && v.node.static
		case termValue, readValue:
			if v.text.holes > 0 || v.node.holes || len(v.node.sure) > 0 {
				holes = true
			}
			static = false
		case certaintyValue:
			static = false
			holes = holes || v.sure[0].text != nil && v.sure[0].text.holes > 0
		case wordsValue:
			holes, static = holes || v.node.holes, false
		case firstValue:
			static = false
			for _, x := range v.first {
				see(x)
			}
		}
	}
	for _, f := range n.fills {
		before := holes
		for _, v := range f.values {
			see(v)
		}
		if n.claim != nil && f.only {
			holes = before // only what the evidence itself says counts
		}
	}
	n.given, n.missing = given, missing
	if missing && !given && !holes {
		holes, static = true, false // only holes that were not given: never made
	}
	n.holes, n.static = holes, static
}

// freeze makes blocks of the nodes that are the same for every record.
func (r *Run) freeze(v *value) {
	for _, x := range v.first {
		r.freeze(x)
	}
	n := v.node
	if n == nil {
		return
	}
	switch v.kind {
	case readValue:
		v.terms = make([]*vocab.Term, len(n.shape.Slots))
		for i, sl := range n.shape.Slots {
			v.terms[i] = n.class.Term(sl.Key)
		}
	case termValue:
		v.label = n.class.Term("_label")
	}
	if v.kind == nodeValue && n.static {
		r.doc.Reset()
		r.doc.Begin(nil, false, n.class, true, "x:", -1)
		if made, _ := r.one(n); made {
			r.doc.End()
			n.block = r.doc.Block(1, uint64(n.origin))
		}
		return
	}
	for _, f := range n.fills {
		for _, x := range f.values {
			r.freeze(x)
		}
	}
}

// columnUse works out what becomes of every source's columns.
func (c *compiler) columnUse() []ColumnReport {
	var layouts []*source.Layout
	for _, name := range c.Sources.Names() {
		if l := c.layouts[name]; l != nil {
			layouts = append(layouts, l)
		}
	}
	var out []ColumnReport
	for _, name := range c.Sources.Names() {
		s := c.Sources.Source(name)
		use := c.Env.Columns[name]
		r := ColumnReport{Source: name, Left: use.Unused, Withheld: use.Withheld}
		unread := map[string]bool{}
		for _, col := range s.Unused(layouts...) {
			unread[col.Path] = true
			if !covered(use.Unused, col.Path) && !covered(use.Withheld, col.Path) {
				r.Unused = append(r.Unused, col)
			}
		}
		if d, err := s.Describe(); err == nil {
			for _, col := range d.Columns {
				if !unread[col.Path] && !covered(use.Withheld, col.Path) {
					r.Mapped = append(r.Mapped, col.Path)
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// covered reports whether a path or one above it is listed.
func covered(list []string, path string) bool {
	for _, x := range list {
		if path == x || len(path) > len(x) && path[len(x)] == '.' && path[:len(x)] == x {
			return true
		}
	}
	return false
}

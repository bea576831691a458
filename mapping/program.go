package mapping

import (
	"slices"

	"ropewalk/mapping/source"
	"ropewalk/vocab"
)

// Program is a compiled set of mappings. It is immutable; goroutines may share
// it, each with a [Run] of its own.
type Program struct {
	Base    string
	Sources []*SourceProgram // in the order in which mappings first name them
	origins []Origin
	columns []ColumnReport
}

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
	p := &Program{Base: c.Base, origins: c.origins, columns: c.columnUse()}
	for _, d := range c.documents {
		d.root.settle()
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
	static := !holes && n.when == nil && n.each == nil && !n.byReader
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
			holes = holes || v.node.holes
			static = static && v.node.static
		case termValue, readValue:
			holes, static = true, false
		case firstValue:
			static = false
			for _, x := range v.first {
				see(x)
			}
		}
	}
	for _, f := range n.fills {
		for _, v := range f.values {
			see(v)
		}
	}
	n.given, n.missing = given, missing
	if missing && !given && !holes {
		holes, static = true, false // only holes that were not given: never made
	}
	n.holes, n.static = holes, static
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

package mapping

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"github.com/expr-lang/expr/ast"

	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
)

// Sensitive is the kind of harm that publishing a column's cells can do.
type Sensitive string

// The kinds.
const (
	NotSaid  Sensitive = ""         // the site says nothing of the column
	Location Sensitive = "location" // somebody goes where they should not: find spots, nesting sites
	Personal Sensitive = "personal" // somebody is found or harmed: addresses, birthdays, telephone numbers
	Open     Sensitive = "open"     // looked at, and harmless
)

// A grid for coarsening is at least a thousandth of a degree, some hundred metres, and
// at most ten degrees.
const (
	gridLeast = 0.001
	gridMost  = 10
)

// coarse puts a coordinate in decimal degrees on the nearest line of a grid whose lines
// are so many degrees apart, away from zero where two are as near; it is computed in
// exact decimals. Nothing gives nothing.
func coarse(coordinate string, grid float64) (string, error) {
	if strings.TrimSpace(coordinate) == "" {
		return "", nil
	}
	v, err := degrees("coordinate", coordinate, 360)
	if err != nil {
		return "", fmt.Errorf("this is no coordinate in decimal degrees, so it can't be made coarse")
	}
	if !goodGrid(grid) {
		return "", fmt.Errorf("a grid of %v degrees is not one from %v to %v", grid, gridLeast, float64(gridMost))
	}
	side := strconv.FormatFloat(grid, 'f', -1, 64)
	step, _ := new(big.Rat).SetString(side) // a decimal: can't fail
	lines, _ := new(big.Rat).SetString(new(big.Rat).Quo(v, step).FloatString(0))
	_, decimals, _ := strings.Cut(side, ".")
	out := lines.Mul(lines, step).FloatString(len(decimals))
	if strings.Trim(out, "-0.") == "" {
		out = strings.TrimPrefix(out, "-")
	}
	return out, nil
}

func goodGrid(g float64) bool { return g >= gridLeast && g <= gridMost }

// yearOnly is the year of a date. A date that does not lie within one year, or can't
// be read, has none.
func yearOnly(date string) (string, error) {
	if strings.TrimSpace(date) == "" {
		return "", nil
	}
	d, err := reading.ReadDate(date, nil)
	if err != nil || !d.EarliestBegin.Known() || !d.LatestEnd.Known() || d.EarliestBegin.Year != d.LatestEnd.Year {
		return "", fmt.Errorf("the year of this date can't be told, so nothing is made of it")
	}
	return strconv.FormatInt(int64(d.EarliestBegin.Year), 10), nil
}

// coarsening are the functions through which a sensitive column may be published.
// Of each, so many arguments are made coarse.
var coarsening = map[string]int{"coarse": 1, "grid_cell": 2, "year_only": 1}

// openNames finds the names that an expression uses outside of coarsening functions.
type openNames struct {
	all     []*ast.IdentifierNode
	coarse  map[*ast.IdentifierNode]bool
	badGrid ast.Node
}

// Visit sees the arguments of a call before the call.
func (v *openNames) Visit(n *ast.Node) {
	switch x := (*n).(type) {
	case *ast.IdentifierNode:
		v.all = append(v.all, x)
	case *ast.CallNode:
		f, ok := x.Callee.(*ast.IdentifierNode)
		if !ok {
			return
		}
		within := &identifiers{}
		for i := range x.Arguments[:min(coarsening[f.Value], len(x.Arguments))] {
			ast.Walk(&x.Arguments[i], within)
		}
		for _, id := range within.found {
			v.coarse[id] = true
		}
		if f.Value == "coarse" && len(x.Arguments) == 2 && !constantGrid(x.Arguments[1]) {
			v.badGrid = x.Arguments[1]
		}
	}
}

// onlyCoarse reports whether a name stands in coarsening functions only.
func (v *openNames) onlyCoarse(name string) bool {
	for _, id := range v.all {
		if id.Value == name && !v.coarse[id] {
			return false
		}
	}
	return true
}

func constantGrid(n ast.Node) bool {
	switch x := n.(type) {
	case *ast.FloatNode:
		return goodGrid(x.Value)
	case *ast.IntegerNode:
		return goodGrid(float64(x.Value))
	}
	return false
}

// openRefs calls f for every field whose value goes into the text as it is.
func (t *text) openRefs(f func(*fieldRef)) {
	for i := range t.segs {
		s := &t.segs[i]
		if s.field != nil {
			f(s.field)
		}
		if s.expr == nil {
			continue
		}
		for k := range s.expr.vars {
			if v := &s.expr.vars[k]; v.text != nil && !v.coarse {
				v.text.openRefs(f)
			}
		}
	}
}

// published calls f for every text of a node that becomes part of the document, which
// conditions do not.
func (n *node) published(f func(*text)) {
	whens := map[*text]bool{}
	for _, w := range n.whens {
		for i := range w.vars {
			whens[w.vars[i].text] = true
		}
	}
	n.texts(func(t *text) {
		if !whens[t] {
			f(t)
		}
	})
}

// columnOf follows a path through look-ups and child rows to the source that has the
// column, and gives what that source says of it, or of what it lies in.
func (c *compiler) columnOf(src *source.Source, path string) (from *source.Source, column string, kind Sensitive) {
	for _, joins := range []map[string]source.Join{src.Lookups, src.Rows} {
		for name, j := range joins {
			if rest, ok := strings.CutPrefix(path, name+"."); ok {
				if next := c.Sources.Source(j.From); next != nil {
					return c.columnOf(next, rest)
				}
			}
		}
	}
	said := c.Columns[src.Name].Sensitive
	for p := path; ; {
		if k, ok := said[p]; ok {
			return src, path, k
		}
		i := strings.LastIndexByte(p, '.')
		if i < 0 {
			return src, path, NotSaid
		}
		p = p[:i]
	}
}

// column is the column that a field of a mapping comes from.
func (c *compiler) column(r *fieldRef) (from *source.Source, column string, kind Sensitive) {
	src, path := r.scope.source, r.scope.full(r.path)
	if r.scope.layout != nil {
		src, path = r.scope.layout.Origin(r.slot)
	}
	return c.columnOf(src, path)
}

package mapping

import (
	"fmt"
	"strings"

	"ropewalk/mapping/source"
)

var ruleWithheldColumn = &Rule{Name: "withheld-column", About: "a mapping that reads a column the site withholds"}

func checkWithheldColumn(c *compiler, d *document) {
	see := func(t *text) {
		t.fieldRefs(func(r *fieldRef) {
			if r.scope.source == nil {
				return
			}
			col, from, withheld := c.withheld(r.scope.source, r.scope.full(r.path))
			if !withheld && r.scope.layout != nil { // look-ups within child rows
				src, path := r.scope.layout.Origin(r.slot)
				col, from, withheld = c.withheld(src, path)
			}
			if withheld {
				c.add(ruleWithheldColumn, r.span, fmt.Sprintf("the column %q of source %q is withheld", col, from),
					"no public mapping can read it; the site file says so under \"withheld\"")
			}
		})
	}
	for _, t := range d.sets {
		see(t)
	}
	if d.public != nil {
		see(d.public)
	}
	for _, w := range d.waive {
		see(w.rule)
		see(w.because)
	}
	d.root.walk(func(n *node) {
		n.texts(see)
		if n.each != nil && n.each.kid >= 0 && n.each.scope.path != "" { // repeating for rows reads nothing of what lies below them
			s := n.each.scope
			if col, from, withheld := c.withheld(s.source, s.path); withheld && !strings.HasPrefix(col, s.path+".") {
				c.add(ruleWithheldColumn, n.each.span, fmt.Sprintf("%q of source %q is withheld", col, from),
					"no public mapping can read it; the site file says so under \"withheld\"")
			}
		}
	})
}

// full is a path of the scope's row as a path of the source's record.
func (s *scope) full(path string) string {
	for strings.HasPrefix(path, "^.") {
		path = path[2:]
	}
	switch {
	case s.path == "":
		return path
	case path == ".":
		return s.path
	default:
		return s.path + "." + path
	}
}

// withheld follows a path through look-ups and child rows to the source that has
// the column, and says whether that source, or any on the way, withholds it. What
// lies below a withheld path is withheld too.
func (c *compiler) withheld(src *source.Source, path string) (column, from string, yes bool) {
	for _, w := range c.Columns[src.Name].Withheld {
		if path == w || strings.HasPrefix(path, w+".") {
			return path, src.Name, true
		}
		// The text of an element is that of all elements within.
		if src.XML() && (path == "." || path == "" || strings.HasPrefix(w, path+".")) && !strings.HasPrefix(w[strings.LastIndexByte(w, '.')+1:], "@") {
			return w, src.Name, true
		}
	}
	for _, joins := range []map[string]source.Join{src.Lookups, src.Rows} {
		for name, j := range joins {
			if rest, ok := strings.CutPrefix(path, name+"."); ok {
				if next := c.Sources.Source(j.From); next != nil {
					return c.withheld(next, rest)
				}
			}
		}
	}
	return "", "", false
}

package source

import "strings"

// node is a place in nested records that a layout asks for.
type node struct {
	name  string
	path  string // from the record
	run   *layoutRun
	kids  []*node
	attrs []*node // XML attributes, by name without the @
	slot  int     // of the value; -1: not wanted
	rows  int     // index of the child rows that begin here; -1: none

	locked bool            // a value was taken from an earlier instance in this row
	nth    int             // instances so far within the parent's
	known  map[string]bool // names below it that nobody asks for
}

// buildTrie arranges what a layout asks for by path.
func (run *layoutRun) buildTrie(xml bool) {
	l := run.l
	run.trie = &node{run: run, path: l.prefix, slot: -1, rows: -1}
	run.nodes = append(run.nodes[:0], run.trie)
	for i := range l.fields {
		if l.fields[i].look < 0 {
			run.grow(l.fields[i].path, xml).slot = i
		}
	}
	for i := range l.kids {
		if k := &l.kids[i]; k.look < 0 && k.join == nil {
			run.grow(k.path, false).rows = i
		}
	}
}

// grow gives the node of a path.
func (run *layoutRun) grow(path string, xml bool) *node {
	n := run.trie
	if path == "." {
		return n
	}
	attr := ""
	if xml {
		switch i := strings.LastIndex(path, ".@"); {
		case path[0] == '@':
			path, attr = "", path[1:]
		case i >= 0:
			path, attr = path[:i], path[i+2:]
		}
	}
	if path != "" {
		for _, seg := range strings.Split(path, ".") {
			n = run.child(n, &n.kids, seg, seg)
		}
	}
	if attr != "" {
		n = run.child(n, &n.attrs, attr, "@"+attr)
	}
	return n
}

func (run *layoutRun) child(n *node, list *[]*node, name, seg string) *node {
	for _, k := range *list {
		if k.name == name {
			return k
		}
	}
	path := seg
	if n.path != "" {
		path = n.path + "." + seg
	}
	k := &node{name: name, path: path, run: run, slot: -1, rows: -1}
	*list = append(*list, k)
	run.nodes = append(run.nodes, k)
	return k
}

// find gives the node of a member or element below n, or nil. Names may
// themselves hold dots.
func (n *node) find(name []byte) *node {
	for _, k := range n.kids {
		if k.name == string(name) {
			return k
		}
	}
	for i, c := range name {
		if c == '.' {
			for _, k := range n.kids {
				if k.name == string(name[:i]) {
					if found := k.find(name[i+1:]); found != nil {
						return found
					}
				}
			}
		}
	}
	return nil
}

// leaf reports whether nothing below n is wanted.
func (n *node) leaf() bool { return len(n.kids) == 0 && len(n.attrs) == 0 }

// fresh forgets what earlier rows took.
func (run *layoutRun) fresh() {
	for _, n := range run.nodes {
		n.locked = false
		n.nth = 0
	}
	run.serial++
}

// gather moves the nested child rows read since to the row they belong to.
func (rd *reading) gather(run *layoutRun, r *Row) {
	if len(run.kids) == 0 {
		return
	}
	r.Kids = rd.mem.lists.take(len(run.kids))
	for i := range run.kids {
		sub := run.kids[i].run
		if sub == nil || len(sub.rows) == 0 {
			continue
		}
		rows := rd.mem.rows.raw(len(sub.rows))
		copy(rows, sub.rows)
		r.Kids[i] = rows
		sub.rows = sub.rows[:0]
	}
}

// newRow makes a child row, or fills in a record.
func (rd *reading) newRow(run *layoutRun) Row {
	return Row{Cells: rd.mem.cells.take(len(run.l.fields)), File: rd.file}
}

// put stores one value in a slot of a nested row: the first that is not empty is
// taken, a different one after it counted. It reports whether v was taken.
func (rd *reading) put(run *layoutRun, r *Row, slot, line int, take bool, raw []byte) bool {
	v := rd.clean.clean(raw)
	found := rd.clean.found
	if len(v) == 0 {
		if found != 0 && take {
			rd.repaired(run, r, slot, raw)
		}
		return false
	}
	if r.Cells[slot] != "" || !take {
		if r.Cells[slot] != string(v) && run.marks[slot] != run.serial {
			run.marks[slot] = run.serial
			run.note(SeveralValues, r, slot, string(v))
		}
		return false
	}
	r.Cells[slot] = rd.mem.put(v)
	if r.extra == nil {
		r.extra = &rd.mem.extras.take(1)[0]
	}
	if r.extra.lines == nil {
		r.extra.lines = rd.mem.lines.take(len(run.l.fields))
	}
	r.extra.lines[slot] = int32(line)
	if found != 0 {
		rd.repaired(run, r, slot, raw)
	}
	return true
}

// met notes a name below n that no layout asks for, if Describe did not see it.
func (rd *reading) met(n *node, name []byte) {
	if n.known[string(name)] || len(n.known) >= pathsMost {
		return
	}
	if n.known == nil {
		n.known = map[string]bool{}
	}
	n.known[string(name)] = true
	path := string(name)
	if n.path != "" {
		path = n.path + "." + path
	}
	s := rd.src
	if s.desc.has(path) {
		return
	}
	s.seenMu.Lock()
	defer s.seenMu.Unlock()
	if s.seen == nil {
		s.seen = map[string]*Column{}
	}
	if len(s.seen) < pathsMost && s.seen[path] == nil {
		s.seen[path] = &Column{Path: path, Count: 1, value: true}
	}
}

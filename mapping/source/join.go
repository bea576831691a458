package source

import (
	"context"
	"strconv"
	"strings"
	"sync"
)

// index is a joined source in memory: the rows, grouped by key, in the order of
// the files.
type index struct {
	rows    []Row
	starts  []int32 // where each group begins in rows; one more at the end
	groups  map[string]int32
	keyless int // rows before starts[0]: their key is empty
	report  *Report
}

// indexEntry is an index that is loaded once for all who want it.
type indexEntry struct {
	once sync.Once
	ix   *index
	err  error
}

// find gives the group of a key; -1 if there is none.
func (ix *index) find(key string) int32 {
	if g, ok := ix.groups[key]; ok {
		return g
	}
	return -1
}

func (ix *index) group(g int32) []Row {
	from, to := ix.starts[g], ix.starts[g+1]
	return ix.rows[from:to:to]
}

// signature tells layouts apart that keep different fields.
func (l *Layout) signature(b *strings.Builder) {
	b.WriteString(l.src.Name)
	b.WriteByte(0)
	for i := range l.fields {
		b.WriteString(l.fields[i].path)
		b.WriteByte(1)
	}
	for i := range l.kids {
		b.WriteString(l.kids[i].path)
		b.WriteByte(2)
		l.kids[i].l.signature(b)
	}
	for _, lk := range l.looks {
		b.WriteString(lk.name)
		b.WriteByte(3)
		lk.sub.signature(b)
	}
	b.WriteByte(4)
}

// load gives the index of a join, from memory if an equal one was loaded before.
func (rd *reading) load(j *join) (*index, error) {
	var b strings.Builder
	j.sub.signature(&b)
	for _, t := range j.there {
		b.WriteString(strconv.Itoa(t) + ",")
	}
	key := b.String()
	set := rd.src.set
	set.mu.Lock()
	e := set.indexes[key]
	if e == nil {
		e = &indexEntry{}
		set.indexes[key] = e
	}
	set.mu.Unlock()
	e.once.Do(func() { e.ix, e.err = loadIndex(rd.ctx, j) })
	if e.err != nil {
		set.mu.Lock()
		if set.indexes[key] == e {
			delete(set.indexes, key)
		}
		set.mu.Unlock()
	}
	return e.ix, e.err
}

func loadIndex(ctx context.Context, j *join) (*index, error) {
	ix := &index{groups: map[string]int32{}, report: &Report{}}
	keep := &memory{}
	keep.cells.size, keep.rows.size, keep.lists.size = 4096, 1024, 1024
	keep.lines.size, keep.extras.size, keep.looked.size, keep.text.size = 4096, 1024, 1024, 64<<10
	var rows []Row
	var of []int32 // group of each row; -1: no key
	var key []byte
	err := j.sub.src.Read(ctx, j.sub, Options{Report: ix.report}, func(b *Batch) error {
		for i := range b.Rows {
			rows = append(rows, keep.copyRow(j.sub, &b.Rows[i]))
			key = appendKey(key[:0], &rows[len(rows)-1], j.there)
			g := int32(-1)
			if len(key) > 0 {
				var ok bool
				if g, ok = ix.groups[string(key)]; !ok {
					g = int32(len(ix.groups))
					ix.groups[keep.put(key)] = g
				}
			}
			of = append(of, g)
		}
		b.Release()
		return nil
	})
	if err != nil {
		return nil, err
	}
	ix.starts = make([]int32, len(ix.groups)+1)
	for _, g := range of {
		if g < 0 {
			ix.keyless++
		} else {
			ix.starts[g]++
		}
	}
	at := int32(ix.keyless)
	for g, n := range ix.starts {
		ix.starts[g] = at
		at += n
	}
	ix.rows = make([]Row, len(rows))
	next := append([]int32(nil), ix.starts...)
	none := 0
	for i, g := range of {
		if g < 0 {
			ix.rows[none] = rows[i]
			none++
			continue
		}
		ix.rows[next[g]] = rows[i]
		next[g]++
	}
	return ix, nil
}

// appendKey appends the key of a row; nothing if all its parts are empty.
func appendKey(b []byte, r *Row, slots []int) []byte {
	if len(slots) == 1 {
		return append(b, r.Cells[slots[0]]...)
	}
	empty := true
	for _, s := range slots {
		empty = empty && r.Cells[s] == ""
	}
	if empty {
		return b
	}
	for _, s := range slots {
		b = append(append(b, r.Cells[s]...), 0x1f)
	}
	return b
}

// copyRow copies a row out of its batch.
func (m *memory) copyRow(l *Layout, r *Row) Row {
	c := *r
	c.Cells = m.cells.raw(len(r.Cells))
	for i, v := range r.Cells {
		if l.fields[i].look < 0 {
			v = m.put(bytesOf(v))
		}
		c.Cells[i] = v
	}
	c.Path = m.put(bytesOf(r.Path))
	if r.extra != nil {
		x := &m.extras.raw(1)[0]
		*x = extra{}
		if r.extra.lines != nil {
			x.lines = m.lines.raw(len(r.extra.lines))
			copy(x.lines, r.extra.lines)
		}
		if r.extra.looked != nil {
			x.looked = m.looked.raw(len(r.extra.looked))
			copy(x.looked, r.extra.looked)
		}
		c.extra = x
	}
	if r.Kids != nil {
		c.Kids = m.lists.take(len(r.Kids))
		for i, rows := range r.Kids {
			if l.kids[i].join != nil || l.kids[i].look >= 0 {
				c.Kids[i] = rows // of another index, which stays
				continue
			}
			c.Kids[i] = m.rows.raw(len(rows))
			for k := range rows {
				c.Kids[i][k] = m.copyRow(l.kids[i].l, &rows[k])
			}
		}
	}
	return c
}

// join fills the looked-up cells of a row and gives it its declared child rows.
func (rd *reading) join(run *layoutRun, r *Row) {
	l := run.l
	if run.extras {
		if r.extra == nil {
			r.extra = &rd.mem.extras.take(1)[0]
		}
		r.extra.looked = rd.mem.looked.take(len(l.looks))
		for i := range run.looks {
			rd.lookUp(run, r, i)
		}
		for slot := range l.fields {
			if f := &l.fields[slot]; f.look >= 0 {
				if row := r.extra.looked[f.look]; row != nil {
					r.Cells[slot] = row.Cells[f.sub]
				}
			}
		}
	}
	if len(l.kids) == 0 {
		return
	}
	if r.Kids == nil {
		r.Kids = rd.mem.lists.take(len(l.kids))
	}
	for i := range l.kids {
		k := &l.kids[i]
		if k.look >= 0 {
			if row := r.extra.looked[k.look]; row != nil {
				r.Kids[i] = row.Kids[k.sub]
			}
			continue
		}
		if k.join == nil {
			continue
		}
		j := &run.kids[i].join
		if j.key = appendKey(j.key[:0], r, k.join.here); len(j.key) > 0 {
			if g := j.ix.find(view(j.key)); g >= 0 {
				r.Kids[i] = j.ix.group(g)
				j.claimed[g/64] |= 1 << (g % 64)
			}
		}
	}
}

// lookUp finds the row of one look-up. A key may itself be a looked-up cell of an
// earlier look-up, so cells are filled as they are found.
func (rd *reading) lookUp(run *layoutRun, r *Row, i int) {
	l, j := run.l, &run.looks[i]
	lk := l.looks[i]
	for _, h := range lk.here {
		if f := &l.fields[h]; f.look >= 0 && r.extra.looked[f.look] != nil {
			r.Cells[h] = r.extra.looked[f.look].Cells[f.sub]
		}
	}
	j.key = appendKey(j.key[:0], r, lk.here)
	if len(j.key) == 0 {
		return
	}
	g := j.ix.find(view(j.key))
	if g < 0 {
		j.tally.at(Unmatched, l, r, lk.here[0])
		return
	}
	rows := j.ix.group(g)
	r.extra.looked[i] = &rows[0]
	if len(rows) > 1 {
		j.tally.at(SeveralMatches, l, r, lk.here[0])
	}
}

// at counts something about a join, at the place of its key.
func (t *tally) at(k Kind, l *Layout, r *Row, slot int) {
	if t.add(k) {
		p := l.Where(r, slot)
		p.Value = preview(p.Value)
		t.places[k] = append(t.places[k], p)
	}
}

// unclaimed counts the joined rows that no record has claimed.
func (j *joinRun) unclaimed(decl *join) {
	for i := range j.ix.keyless {
		j.tally.at(Unclaimed, decl.sub, &j.ix.rows[i], decl.there[0])
	}
	for g := range len(j.ix.starts) - 1 {
		if j.claimed[g/64]&(1<<(g%64)) != 0 {
			continue
		}
		rows := j.ix.group(int32(g))
		for i := range rows {
			j.tally.at(Unclaimed, decl.sub, &rows[i], decl.there[0])
		}
	}
}

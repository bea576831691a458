package source

import (
	"context"
	"slices"
	"strings"
)

// Description is what a source holds.
type Description struct {
	Columns   []Column // in the order in which they were met
	Complete  bool     // everything was looked at, not a sample
	Records   int      // records looked at; 0 for tables, of which only the header is read
	Encoding  string   // of the first file
	Delimiter string   // of the first file, for CSV

	byPath map[string]int
}

// Column is a column of a table, or a path of nested records.
type Column struct {
	Path   string
	Count  int    // records looked at that have something there
	Most   int    // most values, or child rows, in one record
	Sample string // one value, shortened
	Rows   bool   // repeats within a record: [Layout.Rows] gives each

	value bool // has values
	inner bool // has paths below it
}

// describeMost is how many records of a nested source are looked at.
const describeMost = 2000

// pathsMost bounds the paths that are told apart: files whose member names are
// data (numbers, dates) have no end of them.
const pathsMost = 5000

// Describe lists what the source holds: the columns of tables, whose headers are
// read, and the paths of nested records, of which up to 2,000 are read. The result
// is kept and shared; it must not be changed.
func (s *Source) Describe() (*Description, error) {
	d, err := s.describe()
	if err != nil {
		return nil, err
	}
	out := *d
	out.Columns = nil
	for _, c := range d.Columns {
		if c.value || c.Rows || s.family == tables {
			out.Columns = append(out.Columns, c)
		}
	}
	return &out, nil
}

func (s *Source) describe() (*Description, error) {
	s.once.Do(func() {
		s.desc, s.err = s.look()
		if s.desc != nil {
			s.desc.byPath = make(map[string]int, len(s.desc.Columns))
			for i := range s.desc.Columns {
				s.desc.byPath[s.desc.Columns[i].Path] = i
			}
		}
	})
	return s.desc, s.err
}

func (s *Source) look() (*Description, error) {
	rd := newReading(context.Background(), s, Options{})
	defer rd.close()
	if s.family == tables {
		return s.lookTables(rd)
	}
	c := &collector{root: &seenPath{}}
	rd.collect = c
	if err := rd.readFiles(); err != nil && err != errLimit {
		return nil, err
	}
	d := &Description{Complete: !c.partial, Records: c.records}
	if len(rd.files) > 0 {
		d.Encoding = rd.files[0].Encoding
	}
	c.root.list("", d)
	return d, nil
}

func (d *Description) has(path string) bool {
	_, ok := d.byPath[path]
	return ok
}

func (d *Description) find(path string) *Column {
	if path == "" || path == "." {
		return &Column{Path: ".", value: true}
	}
	if i, ok := d.byPath[path]; ok {
		return &d.Columns[i]
	}
	return nil
}

// below are the paths of values under a path.
func (d *Description) below(path string) []string {
	var out []string
	for i := range d.Columns {
		if c := &d.Columns[i]; c.value && strings.HasPrefix(c.Path, path+".") {
			out = append(out, c.Path)
		}
	}
	return out[:min(len(out), 3)]
}

// collector notes every path that occurs in nested records.
type collector struct {
	root    *seenPath
	records int
	paths   int
	partial bool
}

// seenPath is a path that occurred.
type seenPath struct {
	name   string
	column Column
	kids   []*seenPath
	byName map[string]*seenPath

	null bool // was there without a value
	last int  // record in which it last had a value
	now  int  // values in that record
	in   int  // instance of the parent in which it last occurred
	nth  int  // instances of itself so far, to tell the parents of its children apart
}

// child gives the path below p. It returns nil when there are too many.
func (c *collector) child(p *seenPath, name []byte) *seenPath {
	if k := p.byName[string(name)]; k != nil {
		return k
	}
	if c.paths >= pathsMost {
		c.partial = true
		return nil
	}
	c.paths++
	k := &seenPath{name: string(name)}
	if p.byName == nil {
		p.byName = map[string]*seenPath{}
	}
	p.byName[k.name] = k
	p.kids = append(p.kids, k)
	p.column.inner = true
	return k
}

// met notes that an instance of p began within instance in of its parent.
func (p *seenPath) met(in int) {
	p.nth++
	if p.in == in && in > 0 {
		p.column.Rows = true
	}
	p.in = in
}

// hasValue notes a value; record counts from 1.
func (p *seenPath) hasValue(record int, v []byte) {
	p.column.value = true
	if len(v) == 0 {
		return
	}
	p.tick(record)
	if p.column.Sample == "" {
		p.column.Sample = preview(string(v))
	}
}

// tick counts a value, or something that holds values.
func (p *seenPath) tick(record int) {
	if p.last != record {
		p.last, p.now = record, 0
		p.column.Count++
	}
	p.now++
	p.column.Most = max(p.column.Most, p.now)
}

// list adds the paths below p to the description, parents first.
func (p *seenPath) list(path string, d *Description) {
	for _, k := range p.kids {
		full := k.name
		if path != "" {
			full = path + "." + k.name
		}
		k.column.Path = full
		if k.column.inner && k.column.Sample == "" {
			k.column.value = false // now and then empty, never with a value of its own
		}
		k.column.value = k.column.value || k.null && !k.column.inner
		d.Columns = append(d.Columns, k.column)
		k.list(full, d)
	}
}

// Unused are the columns that none of the layouts asks for: neither as a field or
// child rows, nor as the key of a join in use. The layouts may belong to any
// source; only what they take from s counts. For nested sources the list also has
// paths that Describe did not see but Read met.
func (s *Source) Unused(layouts ...*Layout) []Column {
	d, err := s.describe()
	if err != nil {
		return nil
	}
	used := map[string]bool{}
	whole := map[string]bool{} // XML elements whose text, and so that of all elements within, is used
	seen := map[*Layout]bool{}
	var walk func(l *Layout)
	walk = func(l *Layout) {
		if l == nil || seen[l] {
			return
		}
		seen[l] = true
		for i := range l.fields {
			if f := &l.fields[i]; f.look < 0 && l.src == s {
				full := l.full(f.path)
				used[full] = true
				if s.family == xmls {
					whole[full] = true
				}
			}
		}
		for _, lk := range l.looks {
			walk(lk.sub)
		}
		for i := range l.kids {
			walk(l.kids[i].l)
		}
	}
	for _, l := range layouts {
		walk(l)
	}
	var out []Column
	s.seenMu.Lock()
	late := make([]Column, 0, len(s.seen))
	for _, name := range keysOf(s.seen) {
		late = append(late, *s.seen[name])
	}
	s.seenMu.Unlock()
	for _, c := range slices.Concat(d.Columns, late) {
		if used[c.Path] || s.family != tables && !c.value {
			continue
		}
		within := false
		for p := c.Path; s.family == xmls && !within; {
			i := strings.LastIndexByte(p, '.')
			if i < 0 || strings.HasPrefix(p[i+1:], "@") {
				break
			}
			p = p[:i]
			within = whole[p]
		}
		if !within {
			out = append(out, c)
		}
	}
	return out
}

package source

import (
	"strings"
)

// Layout is what is wanted from the rows of a source: the fields by slot and the
// child rows by index. Build it, then hand it to [Source.Read]; from then on it
// must not be changed and may be shared by goroutines.
type Layout struct {
	src    *Source
	prefix string // path from the source's record; "" at the record itself
	fields []field
	kids   []kid
	looks  []*look
	bySlot map[string]int
	byKid  map[string]int
}

// field is one slot of a layout.
type field struct {
	path string
	look int // look-up that fills it; -1: the row's own
	sub  int // slot in the looked-up row
}

// kid is one list of child rows.
type kid struct {
	path string
	l    *Layout
	join *join // declared rows of another source; nil: nested in the record, or a look-up's
	look int   // look-up whose row has them; -1: the row's own
	sub  int   // index in the looked-up row
}

// join is a declared join in use: the key's slots on both sides.
type join struct {
	name  string
	here  []int
	there []int
	sub   *Layout // of the joined source
}

// look is a look-up in use.
type look = join

// Layout gives a fresh layout of the source's records.
func (s *Source) Layout() *Layout { return newLayout(s, "") }

func newLayout(s *Source, prefix string) *Layout {
	return &Layout{src: s, prefix: prefix, bySlot: map[string]int{}, byKid: map[string]int{}}
}

// Source is the source whose rows l lays out. For declared child rows it is the
// joined source.
func (l *Layout) Source() *Source { return l.src }

// Path is the path from the source's record to the rows that l lays out; "" for
// the records themselves.
func (l *Layout) Path() string { return l.prefix }

// Origin is where the values of a slot come from in the end, through look-ups: the
// source, and the path in its records.
func (l *Layout) Origin(slot int) (*Source, string) {
	f := &l.fields[slot]
	if f.look >= 0 {
		return l.looks[f.look].sub.Origin(f.sub)
	}
	return l.src, l.full(f.path)
}

// Names are the paths of the fields, by slot.
func (l *Layout) Names() []string {
	out := make([]string, len(l.fields))
	for i := range l.fields {
		out[i] = l.fields[i].path
	}
	return out
}

// full is a path as seen from the source's record.
func (l *Layout) full(path string) string {
	switch {
	case l.prefix == "":
		return path
	case path == "." || path == "":
		return l.prefix
	}
	return l.prefix + "." + path
}

// tidy drops the dot of ".@lido:type", which means the row's own attribute. Names
// of columns stay as they are.
func (l *Layout) tidy(path string) string {
	if len(path) > 1 && path[0] == '.' && l.src.family != tables {
		return path[1:]
	}
	return path
}

// Field gives the slot of a field in [Row.Cells], the same slot each time. The
// error is an [*UnknownField] if the source surely has no such field, or an
// [*Error] if the source can't be read.
func (l *Layout) Field(path string) (int, error) {
	path = l.tidy(path)
	if slot, ok := l.bySlot[path]; ok {
		return slot, nil
	}
	d, err := l.src.describe()
	if err != nil {
		return 0, err
	}
	if l.src.family == tables && d.has(path) {
		return l.addField(path, -1, 0), nil
	}
	if name, rest, ok := l.splitJoin(path, l.src.Lookups); ok {
		at, err := l.lookUp(name)
		if err != nil {
			return 0, err
		}
		sub, err := l.looks[at].sub.Field(rest)
		if err != nil {
			return 0, err
		}
		return l.addField(path, at, sub), nil
	}
	if _, ok := l.src.Lookups[path]; ok {
		return 0, &UnknownField{Source: l.src.Name, Path: path, Reason: "this is a look-up; name one of its fields",
			Nearest: l.lookedFields(path)}
	}
	if name, _, ok := l.splitJoin(path+".", l.src.Rows); ok {
		return 0, &UnknownField{Source: l.src.Name, Path: path,
			Reason: name + " are child rows; a field of theirs has a value for each of them"}
	}
	if err := l.check(d, path, false); err != nil {
		return 0, err
	}
	return l.addField(path, -1, 0), nil
}

func (l *Layout) addField(path string, look, sub int) int {
	l.bySlot[path] = len(l.fields)
	l.fields = append(l.fields, field{path: path, look: look, sub: sub})
	return len(l.fields) - 1
}

// splitJoin cuts a path behind the name of a join. The longest name wins, since
// names may hold dots.
func (l *Layout) splitJoin(path string, joins map[string]Join) (name, rest string, ok bool) {
	for n := range joins {
		if len(n) > len(name) && len(path) > len(n) && path[len(n)] == '.' && strings.HasPrefix(path, n) {
			name, ok = n, true
		}
	}
	if !ok {
		return "", "", false
	}
	return name, path[len(name)+1:], true
}

// lookUp gives the index of a look-up in use.
func (l *Layout) lookUp(name string) (int, error) {
	for i, lk := range l.looks {
		if lk.name == name {
			return i, nil
		}
	}
	j, err := l.join(name, l.src.Lookups[name])
	if err != nil {
		return 0, err
	}
	l.looks = append(l.looks, j)
	return len(l.looks) - 1, nil
}

// join resolves both sides of a declared join.
func (l *Layout) join(name string, decl Join) (*join, error) {
	j := &join{name: name, sub: l.src.set.Source(decl.From).Layout()}
	for _, pair := range decl.On {
		here := pair[0]
		if l.prefix != "" {
			rel, ok := strings.CutPrefix(here, l.prefix+".")
			if here == l.prefix {
				rel, ok = ".", true
			}
			if !ok {
				return nil, &UnknownField{Source: l.src.Name, Path: l.full(name),
					Reason: "this join goes by " + here + ", which does not lie within " + l.prefix}
			}
			here = rel
		}
		h, err := l.Field(here)
		if err != nil {
			return nil, err
		}
		t, err := j.sub.Field(pair[1])
		if err != nil {
			return nil, err
		}
		j.here, j.there = append(j.here, h), append(j.there, t)
	}
	return j, nil
}

// Rows gives the layout of child rows and their index in [Row.Kids]: rows that
// the source declares, JSON arrays, repeated XML elements, or those of a looked-up
// row. Errors are those of [Layout.Field].
func (l *Layout) Rows(path string) (*Layout, int, error) {
	path = l.tidy(path)
	if i, ok := l.byKid[path]; ok {
		return l.kids[i].l, i, nil
	}
	d, err := l.src.describe()
	if err != nil {
		return nil, 0, err
	}
	if decl, ok := l.src.Rows[path]; ok {
		j, err := l.join(path, decl)
		if err != nil {
			return nil, 0, err
		}
		return l.addKid(kid{path: path, l: j.sub, join: j, look: -1})
	}
	if name, rest, ok := l.splitJoin(path, l.src.Lookups); ok {
		at, err := l.lookUp(name)
		if err != nil {
			return nil, 0, err
		}
		sub, i, err := l.looks[at].sub.Rows(rest)
		if err != nil {
			return nil, 0, err
		}
		return l.addKid(kid{path: path, l: sub, look: at, sub: i})
	}
	if l.src.family == tables {
		e := &UnknownField{Source: l.src.Name, Path: path, Nearest: nearest(path, keysOf(l.src.Rows))}
		if d.has(path) {
			e.Reason = "a column has one value in each row; split it, or declare child rows"
		} else {
			e.Reason = "no child rows of that name are declared"
		}
		return nil, 0, e
	}
	if err := l.check(d, path, true); err != nil {
		return nil, 0, err
	}
	return l.addKid(kid{path: path, l: newLayout(l.src, l.full(path)), look: -1})
}

func (l *Layout) addKid(k kid) (*Layout, int, error) {
	l.byKid[k.path] = len(l.kids)
	l.kids = append(l.kids, k)
	return k.l, len(l.kids) - 1, nil
}

// check returns an [*UnknownField] if the source surely lacks a path.
func (l *Layout) check(d *Description, path string, rows bool) error {
	full := l.full(path)
	e := &UnknownField{Source: l.src.Name, Path: path}
	if l.src.family == tables {
		e.Nearest = l.suggest(d, path)
		return e
	}
	if !d.Complete || l.src.declares(full) {
		return nil
	}
	c := d.find(full)
	switch {
	case c == nil:
		e.Nearest = l.suggest(d, path)
		return e
	case !rows && l.src.family == jsons && c.inner && !c.value:
		e.Reason = "this holds other fields, not a value"
		e.Nearest = d.below(full)
		for i, p := range e.Nearest {
			e.Nearest[i] = strings.TrimPrefix(p, l.prefix+".")
		}
		return e
	}
	return nil
}

// declares reports whether a path is, or lies above, a declared field.
func (s *Source) declares(full string) bool {
	for _, f := range s.Fields {
		if f == full || strings.HasPrefix(f, full) && f[len(full)] == '.' {
			return true
		}
	}
	return false
}

// suggest gives paths, as seen from l, that may have been meant.
func (l *Layout) suggest(d *Description, path string) []string {
	var all []string
	for i := range d.Columns {
		p := d.Columns[i].Path
		if l.prefix != "" {
			rel, ok := strings.CutPrefix(p, l.prefix+".")
			if !ok {
				continue
			}
			p = rel
		}
		all = append(all, p)
	}
	if l.prefix == "" {
		for _, name := range keysOf(l.src.Lookups) {
			all = append(all, l.lookedFields(name)...)
		}
	}
	return nearest(path, all)
}

// lookedFields are the paths of a look-up's fields.
func (l *Layout) lookedFields(name string) []string {
	src := l.src.set.Source(l.src.Lookups[name].From)
	d, err := src.describe()
	if err != nil {
		return nil
	}
	out := make([]string, 0, len(d.Columns))
	for i := range d.Columns {
		if p := d.Columns[i].Path; src.Mentionable(p) {
			out = append(out, name+"."+p)
		}
	}
	return out
}

package source

import (
	"fmt"
	"strings"
)

// Layout is what is wanted from the rows of a source: the fields by slot and the
// child rows by index. Build it, then hand it to [Source.Read]; from then on it
// must not be changed and may be shared by goroutines.
type Layout struct {
	src    *Source
	parent *Layout
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
	join *join // declared rows of another source; nil: nested in the record
	look int   // look-up whose row has them; -1: the row's own
	sub  int   // index in the looked-up row
}

// look is a look-up in use.
type look struct {
	name string
	here []int // slots of the key
	join *join
	sub  *Layout // of the joined source
}

// join is a declared join in use.
type join struct {
	name  string
	from  *Source
	here  []int // slots of the key in the layout that has the join
	there []int // slots of the key in the joined source's layout
	sub   *Layout
}

// UnknownField is the error for a path that a source surely doesn't have.
type UnknownField struct {
	Source  string
	Path    string
	Reason  string
	Nearest []string // what may have been meant, best first
}

// Error gives path, source and reason.
func (e *UnknownField) Error() string {
	s := fmt.Sprintf("source %s has no %q", e.Source, e.Path)
	if e.Reason != "" {
		s = fmt.Sprintf("source %s, %q: %s", e.Source, e.Path, e.Reason)
	}
	if len(e.Nearest) > 0 {
		s += " (did you mean " + strings.Join(e.Nearest, ", ") + "?)"
	}
	return s
}

// Source is the source whose rows l lays out. For declared child rows it is the
// joined source.
func (l *Layout) Source() *Source { return l.src }

// Names are the paths of the fields, by slot.
func (l *Layout) Names() []string {
	out := make([]string, len(l.fields))
	for i := range l.fields {
		out[i] = l.fields[i].path
	}
	return out
}

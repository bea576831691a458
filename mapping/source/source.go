// Package source reads a museum's exports as they come (CSV and TSV in any common
// encoding, XLSX, JSON, JSON Lines, XML) and gives records in which every cell
// knows its place.
//
// Start with [New], which checks the sources a site declares. [Source.Layout]
// gives a fresh [Layout]: ask it for the fields and child rows that are wanted,
// then hand it to [Source.Read], which streams batches of [Row]s. Only what the
// layout asks for is kept. [Layout.Where] tells where a cell stands;
// [Source.Describe] lists what a source holds.
//
// # Paths
//
// A field is named by a path: segments joined by dots. In a table the whole path
// is first tried as the name of a column, so names may hold dots and spaces. In
// JSON a segment is the name of a member, in XML the name of an element as
// written ("lido:event"); a last segment "@lido:type" is an attribute, and "."
// alone is the row's own value. The first segment may be the name of a look-up
// the source declares; the rest then names a field of the looked-up row.
//
// # Text
//
// Cells are Unicode text in NFC (UAX #15) with no character that XML 1.0 (§2.2)
// can't carry and no white space at either end. Everything that had to be
// repaired is counted in the [Report], with the first places.
//
// # Private cells
//
// Where a source has withheld columns, a row of delimited text with more or fewer
// cells than the header may have a private text under a public name: one comma too
// many, and every cell behind it is shifted. Such rows give no record; they are
// counted ([Unsafe]). Nor does a [Report] quote cells of such a source that no
// layout asks for.
package source

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"
)

// Spec declares a source, as the site file does.
type Spec struct {
	Name       string
	Files      []string          // files, folders and globs ("**" crosses folders)
	Format     string            // csv, tsv, xlsx, json, jsonl or xml; "": by suffix
	Encoding   string            // utf-8, utf-16, utf-16le, utf-16be, windows-1252, iso-8859-1; "": detected
	Delimiter  string            // one character; "": detected among comma, semicolon, tab and bar
	Quote      string            // "": RFC 4180; "none": quotes mean nothing
	Columns    []string          // names of the columns of tables without a header
	Sheet      string            // sheet of a workbook; "": the first
	Records    string            // path to the records in a JSON or XML file; "": array items, the object, the root element
	Namespaces map[string]string // prefix to namespace name, for XML paths; nil: prefixes as the file writes them
	Key        string            // path that identifies a record
	Fields     []string          // paths that a nested source may have although none was seen yet
	Rows       map[string]Join   // child rows of a record, in another source
	Lookups    map[string]Join   // one row of another source
	Withheld   []string          // paths that are private; see "Private cells"
	HTML       string            // "strip" (default) or "keep": HTML remnants in cells
}

// Join says how rows of another source belong to a record: the pairs name a field
// here and the field there that must be equal. In nested sources the fields here
// may all lie within one child row, such as "contributors.id"; the join then
// belongs to these child rows.
type Join struct {
	From string
	On   [][2]string
}

// SpecError is a mistake in the declaration of a source.
type SpecError struct {
	Source  string
	Field   string   // key of the site file within the source, such as "files" or "rows.makers.from"
	Value   string   // the value that is wrong, or ""
	Reason  string   // one sentence
	Nearest []string // what may have been meant
}

// Error gives source, key and reason.
func (e *SpecError) Error() string {
	s := "source " + e.Source
	if e.Field != "" {
		s += ", " + e.Field
	}
	if e.Value != "" {
		s += fmt.Sprintf(" %q", e.Value)
	}
	s += ": " + e.Reason
	if len(e.Nearest) > 0 {
		s += " (did you mean " + strings.Join(e.Nearest, ", ") + "?)"
	}
	return s
}

// Set is the sources of a site. It is safe for concurrent use.
type Set struct {
	fsys    fs.FS
	sources []*Source
	byName  map[string]*Source

	mu      sync.Mutex
	indexes map[string]*indexEntry // loaded joined sources
}

// Source is a declared source. It is safe for concurrent use.
type Source struct {
	Spec
	set    *Set
	files  []*File
	family family

	once sync.Once
	desc *Description
	err  error

	seenMu sync.Mutex
	seen   map[string]*Column // columns met by Read that Describe had not seen
}

// family is what formats have in common: how records lie in a file.
type family uint8

const (
	tables family = iota + 1
	jsons
	xmls
)

// Source returns the source with a name, or nil.
func (s *Set) Source(name string) *Source { return s.byName[name] }

// Names are the names of the sources in the order in which they were declared.
func (s *Set) Names() []string {
	out := make([]string, len(s.sources))
	for i, x := range s.sources {
		out[i] = x.Name
	}
	return out
}

// Forget drops the joined rows kept in memory.
func (s *Set) Forget() {
	s.mu.Lock()
	s.indexes = map[string]*indexEntry{}
	s.mu.Unlock()
}

// Files are the files of the source, in the order in which they are read.
func (s *Source) Files() []*File { return slices.Clone(s.files) }

// Size is the sum of the sizes of the files, in bytes.
func (s *Source) Size() int64 {
	var n int64
	for _, f := range s.files {
		n += f.Size
	}
	return n
}

// XML reports whether the source's files are XML, where the text of an element
// is that of all elements within.
func (s *Source) XML() bool { return s.family == xmls }

// Mentionable reports whether a path may be shown to people: all but what lies below
// a withheld one, where even names may be private.
func (s *Source) Mentionable(path string) bool {
	return !slices.ContainsFunc(s.Withheld, func(w string) bool { return strings.HasPrefix(path, w+".") })
}

// Nested reports whether records have paths rather than columns.
func (s *Source) Nested() bool { return s.family != tables }

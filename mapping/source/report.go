package source

import (
	"cmp"
	"slices"
	"sync"
)

// Kind is what was repaired, or what did not fit.
type Kind uint8

// The kinds of entries of a report. Up to CharacterRef they are repairs of text;
// the others say what is odd about the records.
const (
	ByteOrderMark  Kind = iota + 1 // a byte order mark within the text
	InvalidBytes                   // bytes that are not UTF-8, read as windows-1252
	Misread                        // C1 control characters, read as the windows-1252 characters they stand for
	Control                        // control characters that XML can't carry: removed
	Noncharacter                   // U+FFFE and the like: removed
	Surrogate                      // half of a surrogate pair: removed, or joined to its other half
	Space                          // no-break and other special spaces: made plain
	Invisible                      // soft hyphens, zero-width and misplaced direction marks: removed
	LineEnd                        // CR, CR LF and other line ends: made LF
	NotNFC                         // characters composed (Unicode NFC)
	Lost                           // U+FFFD: characters lost before the export, kept
	Entity                         // HTML entities decoded
	Tag                            // HTML tags removed
	ShortRow                       // rows with fewer cells than the header
	LongRow                        // rows with more
	EmptyRow                       // rows with nothing in them: left out
	StrayQuote                     // quotes that RFC 4180 doesn't allow where they stand: kept as text
	DuplicateName                  // columns with the same name: numbered
	EmptyName                      // columns without a name: called "column N"
	MissingColumn                  // files of a source that lack a column
	SeveralValues                  // several values where one was asked for: the first is taken
	NotValue                       // an object or array where a value was asked for: left empty
	SeveralMatches                 // look-ups with several rows: the first is taken
	Unmatched                      // look-ups that found nothing
	Unclaimed                      // child rows that belong to no record
	NoRecords                      // files with nothing at the path to the records: passed over
	Unsafe                         // rows left out because a withheld cell might stand in another column

	kindCount
)

var kindNames = [...]string{"", "byte-order-mark", "invalid-bytes", "misread", "control-characters", "noncharacters",
	"lone-surrogates", "special-spaces", "invisible-characters", "line-ends", "not-nfc", "lost-characters", "html-entities", "html-tags",
	"short-rows", "long-rows", "empty-rows", "stray-quotes", "duplicate-names", "empty-names", "missing-columns",
	"several-values", "not-a-value", "several-matches", "unmatched", "unclaimed-rows", "files-without-records", "unsafe-rows"}

// String is the stable name of the kind.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return ""
}

// Repair reports whether the kind is a repair of a cell's text.
func (k Kind) Repair() bool { return k >= ByteOrderMark && k <= Tag }

// Note is what a report says about one kind, source and column.
type Note struct {
	Kind   Kind
	Source string
	Column string // column or path without indexes; "" for whole rows
	Count  int    // cells, rows or files, by kind
	Places []Place
}

// FileReport is what was read of a file.
type FileReport struct {
	Source    string
	Name      string
	Size      int64 // bytes on disk
	Encoding  string
	Mark      bool   // begins with a byte order mark
	Delimiter string // of CSV
	Sheet     string // of a workbook
	Records   int
}

// Report gathers what Reads found. Reading a source several times counts
// everything once. It is safe for concurrent use; its methods give copies.
type Report struct {
	mu    sync.Mutex
	notes map[noteKey]*Note
	files map[[2]string]*FileReport
	order [][2]string
}

type noteKey struct {
	kind           Kind
	source, column string
}

// How many places a note holds.
const (
	placesKept = 5
	unsafeKept = 10_000 // of rows that were left out: each may be a document
)

// kept is how many places are held for a kind.
func (k Kind) kept() int {
	if k == Unsafe {
		return unsafeKept
	}
	return placesKept
}

// Notes are the notes, sorted by kind, source and column.
func (r *Report) Notes() []Note {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := make([]Note, 0, len(r.notes))
	for _, n := range r.notes {
		c := *n
		c.Places = slices.Clone(n.Places)
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b Note) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Source, b.Source), cmp.Compare(a.Column, b.Column))
	})
	return out
}

// Count is the number of things of a kind.
func (r *Report) Count(k Kind) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := 0
	for key, x := range r.notes {
		if key.kind == k {
			n += x.Count
		}
	}
	return n
}

// Files are the files read, in the order in which they were first read.
func (r *Report) Files() []FileReport {
	r.mu.Lock()
	defer r.mu.Unlock()
	out := make([]FileReport, len(r.order))
	for i, k := range r.order {
		out[i] = *r.files[k]
	}
	return out
}

// Records is the number of records read from a source.
func (r *Report) Records(source string) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	n := 0
	for k, f := range r.files {
		if k[0] == source {
			n += f.Records
		}
	}
	return n
}

// addFile takes over what was read of a file. Of several Reads the one that got
// furthest counts.
func (r *Report) addFile(f *FileReport) {
	k := [2]string{f.Source, f.Name}
	if r.files == nil {
		r.files = map[[2]string]*FileReport{}
	}
	old := r.files[k]
	if old == nil {
		r.order = append(r.order, k)
	}
	if old == nil || f.Records >= old.Records {
		c := *f
		r.files[k] = &c
	}
}

// addNote takes over a note. Every Read of a source finds the same in a column,
// so of several counts the greatest holds.
func (r *Report) addNote(n *Note) {
	if n.Count == 0 {
		return
	}
	k := noteKey{n.Kind, n.Source, n.Column}
	if r.notes == nil {
		r.notes = map[noteKey]*Note{}
	}
	if old := r.notes[k]; old == nil || n.Count > old.Count {
		c := *n
		r.notes[k] = &c
	}
}

func (r *Report) addTally(source, column string, t *tally) {
	if t.counts == nil {
		return
	}
	for k, n := range t.counts {
		r.addNote(&Note{Kind: Kind(k), Source: source, Column: column, Count: n, Places: t.places[Kind(k)]})
	}
}

// into adds a report to another, which the caller has locked.
func (r *Report) into(to *Report) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, k := range r.order {
		to.addFile(r.files[k])
	}
	for _, n := range r.notes {
		to.addNote(n)
	}
}

// Package termlist holds a site's term lists: the words of its catalogue and the
// authority terms they stand for.
//
// [Load] reads a list from CSV or TSV, or from SKOS in Turtle, RDF/XML or
// N-Triples; the ending of the file's name says which. [List.Find] looks a word
// up; [List.Nearest] gives the words most like one that was not found.
//
// A list is immutable once loaded and may be shared by goroutines.
package termlist

import (
	"bytes"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"unicode/utf8"
)

// Term is what a word stands for.
type Term struct {
	IRI        string // full IRI; "" for a word that is known but has no authority
	Label      string // never empty: the list's label, the authority's, or the word itself
	Type       string // key of a class of the profile, such as "Material"; "" if the list does not say
	Broader    string // full IRI of a broader term, or ""
	Note       string
	Source     string // where the row was found, as the list says
	FromMemory bool   // the source is given as "from memory"
	Line       int    // line of a CSV file; 0 for SKOS
}

// List is a term list.
type List struct {
	name      string
	terms     []*Term
	words     []string         // as written, in order of appearance
	exact     map[string]*Term // by word as written
	folded    map[string]*Term // by folded word; nil for one that is ambiguous
	byLen     [][]entry        // folded words by their length in runes, for Nearest
	ambiguous []string
}

// entry is a folded word and the place in words of the word it comes from.
type entry struct {
	folded []rune
	word   int
}

// Error is a fault of a term list's file.
type Error struct {
	File   string
	Line   int // from 1; 0 if the fault has no place in the file
	Reason string
}

func (e *Error) Error() string {
	if e.Line == 0 {
		return e.File + ": " + e.Reason
	}
	return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Reason)
}

// Errors are all faults of a file, by line; never empty.
type Errors []*Error

// Error gives the first fault and the number of the others.
func (e Errors) Error() string {
	switch len(e) {
	case 1:
		return e[0].Error()
	case 2:
		return e[0].Error() + " (and one more)"
	}
	return fmt.Sprintf("%s (and %d more)", e[0], len(e)-1)
}

// Unwrap gives access to the single faults.
func (e Errors) Unwrap() []error {
	list := make([]error, len(e))
	for i := range e {
		list[i] = e[i]
	}
	return list
}

// maxErrors is how many faults are collected before reading stops.
const maxErrors = 100

// Load reads a term list from a file. Name is the name the site gives it. The
// format follows the ending: .csv, .tsv, .ttl, .nt, .rdf, .xml, .owl. Faults of
// the file's content come as [Errors].
func Load(name string, fsys fs.FS, file string) (*List, error) {
	data, err := fs.ReadFile(fsys, file)
	if err != nil {
		return nil, err
	}
	return Parse(name, file, data)
}

// Parse is [Load] of what has been read already.
func Parse(name, file string, data []byte) (*List, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	b := &builder{file: file, list: &List{name: name, exact: map[string]*Term{}, folded: map[string]*Term{}}}
	if line, ok := invalidUTF8(data); ok {
		b.fault(line, "not UTF-8; save the file as UTF-8")
		return nil, b.errs
	}
	switch ext := strings.ToLower(path.Ext(file)); ext {
	case ".csv", ".tsv":
		b.csv(data, ext == ".tsv")
	case ".ttl", ".nt", ".rdf", ".xml", ".owl":
		b.skos(data, formats[ext])
	default:
		b.fault(0, fmt.Sprintf("a term list ends in .csv, .tsv, .ttl, .nt, .rdf, .xml or .owl, not %q", ext))
	}
	return b.finish()
}

// invalidUTF8 gives the line of the first byte that is not UTF-8.
func invalidUTF8(data []byte) (line int, found bool) {
	if utf8.Valid(data) {
		return 0, false
	}
	line = 1
	for len(data) > 0 {
		r, n := utf8.DecodeRune(data)
		if r == utf8.RuneError && n == 1 {
			return line, true
		}
		if r == '\n' {
			line++
		}
		data = data[n:]
	}
	return 0, false
}

// Name is the name the site gives the list.
func (l *List) Name() string { return l.name }

// Len is the number of terms.
func (l *List) Len() int { return len(l.terms) }

// Terms lists the terms in the order of the file.
func (l *List) Terms() []*Term { return append([]*Term(nil), l.terms...) }

// Words lists the words as written, in the order of the file.
func (l *List) Words() []string { return append([]string(nil), l.words...) }

// Ambiguous lists words of a SKOS file that stand for more than one concept with
// equal right, and so are not found.
func (l *List) Ambiguous() []string { return append([]string(nil), l.ambiguous...) }

// Find looks a word up. A word that is written exactly as in the list wins; after
// that case (Unicode case folding), white space, trailing punctuation and the
// composition of accents do not matter. Two words of the list that differ only in
// these, and stand for different terms, are found only as written.
//
// Find does not allocate for words of Latin letters of up to 92 bytes.
func (l *List) Find(word string) (*Term, bool) {
	if t := l.exact[word]; t != nil {
		return t, true
	}
	var buf [96]byte
	if key, ok := foldLatin(buf[:0], word); ok {
		t := l.folded[string(key)]
		return t, t != nil
	}
	t := l.folded[fold(word)]
	return t, t != nil
}

// builder fills a list.
type builder struct {
	file   string
	list   *List
	errs   Errors
	ranks  map[string]rank
	labels map[string]string // IRI → label given for it
}

// rank is how good a word's claim to a term is: 0 is best.
type rank struct {
	n    int
	lang string
}

func (b *builder) fault(line int, reason string) {
	b.errs = append(b.errs, &Error{File: b.file, Line: line, Reason: reason})
}

// full reports whether there are so many faults that reading on is no use.
func (b *builder) full() bool { return len(b.errs) >= maxErrors }

func (b *builder) finish() (*List, error) {
	if len(b.errs) == 0 && len(b.list.words) == 0 {
		b.fault(0, "the list has no words")
	}
	if len(b.errs) > 0 {
		return nil, b.errs
	}
	l := b.list
	keep := l.words[:0]
	for _, w := range l.words {
		if l.exact[w] == nil {
			delete(l.exact, w)
			l.ambiguous = append(l.ambiguous, w)
			continue
		}
		keep = append(keep, w)
	}
	l.words = keep
	for _, w := range l.ambiguous {
		l.folded[fold(w)] = nil
	}
	for i, w := range l.words {
		f := fold(w)
		t := l.exact[w]
		if old, there := l.folded[f]; there {
			if old != nil && !same(old, t) {
				l.folded[f] = nil
			}
		} else {
			l.folded[f] = t
		}
		r := []rune(f)
		for len(l.byLen) <= len(r) {
			l.byLen = append(l.byLen, nil)
		}
		l.byLen[len(r)] = append(l.byLen[len(r)], entry{r, i})
	}
	return l, nil
}

// same reports whether two terms are one for a reader of the list.
func same(a, b *Term) bool {
	return a == b || a.IRI == b.IRI && (a.IRI != "" || a.Label == b.Label)
}

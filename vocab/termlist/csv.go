package termlist

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"ropewalk/vocab"
	"ropewalk/vocab/near"
)

// columns are the names a header may have, with the field each fills.
var columns = map[string]string{
	"word": "word", "term": "word",
	"iri": "iri", "id": "iri",
	"label": "label", "type": "type", "broader": "broader", "note": "note", "source": "source",
}

// csv reads rows of words. The columns may stand in any order; a row with a word
// and no IRI is a word that is known and has no authority.
func (b *builder) csv(data []byte, tabs bool) {
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma = separator(data, tabs)
	r.FieldsPerRecord = -1
	r.LazyQuotes = tabs
	header, err := r.Read()
	if err == io.EOF {
		b.fault(0, "the file is empty")
		return
	}
	if err != nil {
		b.csvFault(err)
		return
	}
	at := b.header(header)
	if at == nil {
		return
	}
	for !b.full() {
		row, err := r.Read()
		if err == io.EOF {
			return
		}
		if err != nil {
			b.csvFault(err)
			return
		}
		line, _ := r.FieldPos(0)
		if len(row) > len(header) {
			b.fault(line, fmt.Sprintf("%d cells under %d columns; put quotes around a cell that has a %q in it", len(row), len(header), r.Comma))
			continue
		}
		b.row(line, func(field string) string {
			if i, ok := at[field]; ok && i < len(row) {
				return strings.TrimSpace(row[i])
			}
			return ""
		})
	}
}

// separator is the character between cells: the first of comma, semicolon and
// tab that the header line has.
func separator(data []byte, tabs bool) rune {
	line, _, _ := bytes.Cut(data, []byte("\n"))
	if i := bytes.IndexAny(line, ",;\t"); i >= 0 && !tabs {
		return rune(line[i])
	}
	if tabs {
		return '\t'
	}
	return ','
}

func (b *builder) csvFault(err error) {
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		b.fault(pe.Line, fmt.Sprintf("column %d: %v", pe.Column, pe.Err))
		return
	}
	b.fault(0, err.Error())
}

// header maps fields to their columns, or returns nil after a fault.
func (b *builder) header(names []string) map[string]int {
	at := map[string]int{}
	for i, name := range names {
		field := columns[strings.ToLower(strings.TrimSpace(name))]
		switch {
		case field == "":
			b.fault(1, fmt.Sprintf("unknown column %q; a term list has word, iri, label, type, broader, note, source", name))
		default:
			if _, twice := at[field]; twice {
				b.fault(1, fmt.Sprintf("column %q stands twice", name))
			}
			at[field] = i
		}
	}
	if _, ok := at["word"]; !ok {
		b.fault(1, "there is no column \"word\"")
	}
	if len(b.errs) > 0 {
		return nil
	}
	return at
}

// row adds the term of a row.
func (b *builder) row(line int, cell func(string) string) {
	faults := len(b.errs)
	t := &Term{Label: cell("label"), Type: cell("type"), Note: cell("note"), Source: cell("source"), Line: line}
	word := cell("word")
	if word == "" {
		if cell("iri") == "" && t.Label == "" && t.Type == "" && t.Note == "" && t.Source == "" && cell("broader") == "" {
			return
		}
		b.fault(line, "the word is missing")
	}
	t.FromMemory = strings.Contains(strings.ToLower(t.Source), "from memory")
	t.IRI = b.iri(line, "iri", cell("iri"))
	t.Broader = b.iri(line, "broader", cell("broader"))
	if t.Type != "" && vocab.ClassByKey(t.Type) == nil {
		b.fault(line, fmt.Sprintf("type: the profile has no class %q", t.Type)+hint(t.Type))
	}
	if len(b.errs) > faults {
		return
	}
	old, there := b.list.exact[word]
	switch {
	case !there:
	case old.IRI == t.IRI && (t.Label == "" || t.Label == old.Label):
		return
	case old.IRI == t.IRI:
		b.fault(line, fmt.Sprintf("the word %q is already on line %d, with the label %q", word, old.Line, old.Label))
		return
	default:
		b.fault(line, fmt.Sprintf("the word %q is already on line %d, as %s", word, old.Line, orNone(old.IRI)))
		return
	}
	b.label(t, word)
	b.list.terms = append(b.list.terms, t)
	b.list.words = append(b.list.words, word)
	b.list.exact[word] = t
}

// label fills an empty label: from an earlier row with the same IRI, from the
// authority, or with the word.
func (b *builder) label(t *Term, word string) {
	if b.labels == nil {
		b.labels = map[string]string{}
	}
	if t.Label == "" {
		t.Label = b.labels[t.IRI]
	}
	if a, ok := vocab.AuthorityByIRI(t.IRI); ok && t.Label == "" {
		t.Label = a.Label
	}
	if t.Label == "" {
		t.Label = word
	}
	if t.IRI != "" && b.labels[t.IRI] == "" {
		b.labels[t.IRI] = t.Label
	}
}

func orNone(iri string) string {
	if iri == "" {
		return "a word without an authority"
	}
	return "<" + iri + ">"
}

// iri reads a full or compact IRI; "" stays "".
func (b *builder) iri(line int, column, s string) string {
	if s == "" {
		return ""
	}
	if full, ok := vocab.Expand(s); ok {
		return full
	}
	if reason := badIRI(s); reason != "" {
		b.fault(line, fmt.Sprintf("%s: %q is not an IRI: %s", column, s, reason))
		return ""
	}
	return s
}

// hint names the class of the profile nearest to a misspelt one.
func hint(key string) string {
	best, least := "", 3
	for _, c := range vocab.Classes() {
		if d := near.Between(strings.ToLower(key), strings.ToLower(c.Key), 2); d < least {
			best, least = c.Key, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// schemes are those under which a term can be named for good.
var schemes = []string{"http", "https", "urn", "info", "ark", "tag"}

// badIRI says why s cannot be the IRI of a term, or "".
func badIRI(s string) string {
	scheme, rest, found := strings.Cut(s, ":")
	if !found {
		return "it has no scheme, such as http:"
	}
	if i := strings.IndexFunc(s, func(r rune) bool {
		return r <= ' ' || r == 0x7f || r == '\ufffd' || strings.ContainsRune("<>\"{}|\\^`", r)
	}); i >= 0 {
		return fmt.Sprintf("it has a %q in it", []rune(s[i:])[0])
	}
	scheme = strings.ToLower(scheme)
	if !slices.Contains(schemes, scheme) {
		return fmt.Sprintf("%q is neither a known prefix with a possible number nor the scheme of a web address", scheme)
	}
	if scheme == "http" || scheme == "https" {
		host, ok := strings.CutPrefix(rest, "//")
		host, _, _ = strings.Cut(host, "/")
		if !ok || host == "" {
			return "it names no host"
		}
	} else if rest == "" {
		return "nothing follows its scheme"
	}
	return ""
}

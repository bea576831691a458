package report

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// clean makes text safe to show on a line of a terminal. What would move the cursor,
// change colours or reorder the line is written out ("\x1b", "\u202e"); breaks and tabs
// become spaces. Letters, combining marks and joiners stay.
func clean(s string) string {
	bad := func(r rune) bool {
		return unicode.IsControl(r) || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0x2028 || r == 0x2029
	}
	if strings.IndexFunc(s, bad) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range strings.ReplaceAll(s, "\r\n", "\n") {
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == 0x85 || r == 0x2028 || r == 0x2029:
			b.WriteByte(' ')
		case !bad(r):
			b.WriteRune(r)
		case r < 0x100:
			fmt.Fprintf(&b, `\x%02x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}

// columns is how many columns of a terminal text takes: two for each wide character
// (Unicode Standard Annex 11), none for marks that combine and characters of format.
func columns(s string) int {
	n := 0
	for _, r := range s {
		switch {
		case r < 0x7f:
			n++
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		default:
			n++
			if k := width.LookupRune(r).Kind(); k == width.EastAsianWide || k == width.EastAsianFullwidth {
				n++
			}
		}
	}
	return n
}

// wrap breaks text at spaces into lines of at most so many columns; a word that is
// longer is cut between characters. No limit if most is 0.
func wrap(s string, most int) []string {
	if most <= 0 || columns(s) <= most {
		return []string{s}
	}
	var out []string
	at, n := "", 0
	for i, word := range strings.Split(s, " ") {
		if k := columns(word); i > 0 && n+1+k <= most {
			at, n = at+" "+word, n+1+k
			continue
		}
		if i > 0 {
			out = append(out, at)
		}
		for at, n = word, columns(word); n > most; {
			head := cut(at, most)
			out = append(out, head)
			at, n = at[len(head):], n-columns(head)
		}
	}
	return append(out, at)
}

// cut is as much of the beginning of text as takes at most so many columns, and one
// character at least; up to its last hyphen, if it has one. Marks stay with what they
// combine with.
func cut(s string, most int) string {
	n, hyphen := 0, 0
	for i, r := range s {
		k := columns(string(r))
		if i > 0 && n+k > most {
			if hyphen > 0 {
				return s[:hyphen]
			}
			return s[:i]
		}
		n += k
		if r == '-' {
			hyphen = i + 1
		}
	}
	return s
}

// table is rows of cells that are written in columns.
type table struct {
	indent string
	rows   [][]string
}

func (t *table) row(cells ...string) {
	for i := range cells {
		cells[i] = clean(cells[i])
	}
	t.rows = append(t.rows, cells)
}

const (
	gap      = 2  // columns between cells
	leastFit = 12 // columns to which a cell may be narrowed
)

// write writes the table; its widest columns are narrowed until it takes at most so
// many columns, as far as that goes. No limit if most is 0.
func (t *table) write(w io.Writer, most int) {
	var widths []int
	for _, r := range t.rows {
		for i, c := range r {
			if i == len(widths) {
				widths = append(widths, 0)
			}
			widths[i] = max(widths[i], columns(c))
		}
	}
	all := len(t.indent) + gap*(len(widths)-1)
	for _, n := range widths {
		all += n
	}
	for ; most > 0 && all > most; all-- {
		widest := 0
		for i, n := range widths {
			if n > widths[widest] {
				widest = i
			}
		}
		if widths[widest] <= leastFit {
			break
		}
		widths[widest]--
	}
	for _, r := range t.rows {
		cells := make([][]string, len(r))
		lines := 1
		for i, c := range r {
			cells[i] = wrap(c, widths[i])
			lines = max(lines, len(cells[i]))
		}
		for k := range lines {
			var b strings.Builder
			at := 0 // columns written
			for i, c := range cells {
				if k < len(c) && c[k] != "" {
					b.WriteString(strings.Repeat(" ", max(0, start(widths, i)-at)))
					b.WriteString(c[k])
					at = start(widths, i) + columns(c[k])
				}
			}
			fmt.Fprintf(w, "%s\n", strings.TrimRight(t.indent+b.String(), " "))
		}
	}
}

// start is the column at which a cell begins.
func start(widths []int, i int) int {
	n := i * gap
	for _, w := range widths[:i] {
		n += w
	}
	return n
}

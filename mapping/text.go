package mapping

import (
	"fmt"
	"strings"
)

// text is a string with holes, ready to be filled from a record.
type text struct {
	src   *Scalar
	segs  []segment
	holes int    // holes as written, also those of a pattern that stay unfilled
	all   bool   // every hole must be filled
	fixed string // the whole text where there are no holes

	given   bool // a pattern's hole in it was given
	missing bool // a pattern's hole in it was not given
}

// segment is a stretch of fixed text or one hole.
type segment struct {
	lit   string
	field *fieldRef
	expr  *expression
	sub   *text // a text of its own, filled if any of its holes is
	must  bool  // written {name!}
	span  Span
}

// fieldRef is a field of a record in one of the frames open where it stands.
type fieldRef struct {
	path  string
	depth int // frame
	slot  int // index in the frame's cells
	span  Span
	scope *scope
}

// piece is a part of a template as written: fixed text, or a hole.
type piece struct {
	lit      string
	hole     string
	isHole   bool
	from, to int // bytes of the text, braces included
}

// splitTemplate cuts text into fixed parts and holes. It returns the byte offset
// of a brace that has no partner with an error.
func splitTemplate(s string) ([]piece, int, error) {
	var out []piece
	var lit strings.Builder
	litFrom := 0
	flush := func(to int) {
		if lit.Len() > 0 {
			out = append(out, piece{lit: lit.String(), from: litFrom, to: to})
			lit.Reset()
		}
	}
	for i := 0; i < len(s); {
		switch {
		case strings.HasPrefix(s[i:], "{{"), strings.HasPrefix(s[i:], "}}"):
			lit.WriteByte(s[i])
			i += 2
		case s[i] == '{':
			end := closing(s, i)
			if end < 0 {
				return nil, i, fmt.Errorf("this brace is never closed")
			}
			flush(i)
			out = append(out, piece{hole: strings.TrimSpace(s[i+1 : end]), isHole: true, from: i, to: end + 1})
			i = end + 1
			litFrom = i
		case s[i] == '}':
			return nil, i, fmt.Errorf("this brace closes nothing")
		default:
			lit.WriteByte(s[i])
			i++
		}
	}
	flush(len(s))
	return out, 0, nil
}

// closing finds the brace that closes the one at open, skipping inner braces and
// strings in quotes.
func closing(s string, open int) int {
	depth := 0
	for i := open; i < len(s); i++ {
		switch c := s[i]; c {
		case '{':
			depth++
		case '}':
			if depth--; depth == 0 {
				return i
			}
		case '"', '\'':
			if j := strings.IndexByte(s[i+1:], c); j >= 0 && depth > 0 && strings.IndexByte(s[i+1:], '}') > j {
				i += j + 1
			}
		}
	}
	return -1
}

// onlyHole returns the name in a text that is one hole and nothing else.
func onlyHole(s string) (string, bool) {
	if len(s) < 3 || s[0] != '{' || s[1] == '{' || closing(s, 0) != len(s)-1 {
		return "", false
	}
	return strings.TrimSpace(s[1 : len(s)-1]), true
}

// never reports whether the text can't be filled: none of the pattern's holes in
// it was given, and it has no other.
func (t *text) never() bool {
	if t.holes == 0 || !t.missing {
		return false
	}
	for i := range t.segs {
		if t.segs[i].field != nil || t.segs[i].expr != nil {
			return false
		}
	}
	return !t.given
}

package termlist

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// trailing is the punctuation that does not matter at the end of a word. A
// question mark is not in it: it says that the cataloguer was not sure.
const trailing = ".,;:"

// fold is the form of a word under which it is compared: NFC, case-folded, white
// space collapsed and trimmed, without trailing punctuation.
func fold(s string) string {
	s = norm.NFC.String(cases.Fold().String(norm.NFC.String(s)))
	s = strings.Join(strings.FieldsFunc(s, unicode.IsSpace), " ")
	return strings.TrimRight(s, trailing+" ")
}

// foldLatin does what fold does, without allocating, for a word of letters up to
// U+024F (Latin Extended-B) that fits into b. It reports false for any other word
// and for the few letters whose folding is not one letter's lower case.
func foldLatin(b []byte, s string) ([]byte, bool) {
	space := false
	for _, r := range s {
		switch {
		case r == ' ' || '\t' <= r && r <= '\r' || r == 0x85 || r == 0xa0:
			space = len(b) > 0
			continue
		case 'A' <= r && r <= 'Z':
			r += 'a' - 'A'
		case r < 0x80:
		case r > 0x24f || strings.ContainsRune("µßİŉſǰ", r):
			return nil, false
		default:
			r = unicode.ToLower(r)
		}
		if len(b)+4 > cap(b) {
			return nil, false
		}
		if space {
			b = append(b, ' ')
			space = false
		}
		b = utf8.AppendRune(b, r)
	}
	for len(b) > 0 && strings.IndexByte(trailing+" ", b[len(b)-1]) >= 0 {
		b = b[:len(b)-1]
	}
	return b, true
}

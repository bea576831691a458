package termlist

import (
	"strings"
	"unicode"

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

// foldASCII does what fold does for a word of ASCII characters that fits into b.
func foldASCII(b []byte, s string) ([]byte, bool) {
	if len(s) > cap(b) {
		return nil, false
	}
	space := false
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case c >= 0x80:
			return nil, false
		case c == ' ' || '\t' <= c && c <= '\r':
			space = len(b) > 0
			continue
		case 'A' <= c && c <= 'Z':
			c += 'a' - 'A'
		}
		if space {
			b = append(b, ' ')
			space = false
		}
		b = append(b, c)
	}
	for len(b) > 0 && strings.IndexByte(trailing+" ", b[len(b)-1]) >= 0 {
		b = b[:len(b)-1]
	}
	return b, true
}

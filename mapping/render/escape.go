package render

import (
	"encoding/binary"
	"unicode/utf8"
	"unsafe"
)

// The scans below look at eight bytes at a time. In a word without bytes ≥ 0x80,
// x-ones has the high bit in a lane that was zero, and (x-0x20…) in one below
// 0x20; a borrow can only reach lanes above a hit, so that a word without hits
// gives exactly zero.
const (
	ones  = 0x0101010101010101
	highs = 0x8080808080808080
)

func word(s string, i int) uint64 {
	return binary.LittleEndian.Uint64(unsafe.Slice(unsafe.StringData(s), len(s))[i:])
}

// stringWord flags bytes that are not plain in a Turtle, N-Triples or JSON string:
// control characters, DEL, quotation mark, reverse solidus, anything beyond ASCII.
func stringWord(x uint64) uint64 {
	return ((x - 0x20*ones) | ((x ^ 0x22*ones) - ones) | ((x ^ 0x5c*ones) - ones) | (x + ones) | x) & highs
}

// xmlWord flags bytes that are not plain in XML: control characters, ampersand,
// less-than and greater-than sign, anything beyond ASCII.
func xmlWord(x uint64) uint64 {
	return ((x - 0x20*ones) | ((x ^ '&'*ones) - ones) | ((x ^ '<'*ones) - ones) | ((x ^ '>'*ones) - ones) | x) & highs
}

var stringByte, xmlByte = func() (str, xml [256]bool) {
	for c := range str {
		str[c] = stringWord(uint64(c)|0x4141414141414100) != 0
		xml[c] = xmlWord(uint64(c)|0x4141414141414100) != 0
	}
	return
}()

// plainString reports whether s is plain in a string of Turtle, N-Triples or JSON.
func plainString(s string) bool {
	if len(s) < 8 {
		for i := 0; i < len(s); i++ {
			if stringByte[s[i]] {
				return false
			}
		}
		return true
	}
	i := 0
	for ; i+8 <= len(s); i += 8 {
		if stringWord(word(s, i)) != 0 {
			return false
		}
	}
	return stringWord(word(s, len(s)-8)) == 0
}

// plainXML reports whether s is plain in XML text and, but for quotation marks, in
// an attribute.
func plainXML(s string) bool {
	if len(s) < 8 {
		for i := 0; i < len(s); i++ {
			if xmlByte[s[i]] {
				return false
			}
		}
		return true
	}
	i := 0
	for ; i+8 <= len(s); i += 8 {
		if xmlWord(word(s, i)) != 0 {
			return false
		}
	}
	return xmlWord(word(s, len(s)-8)) == 0
}

const upperHex = "0123456789ABCDEF"

// appendString writes s as the inside of a quoted string of N-Triples, N-Quads and
// Turtle, escaped as canonical N-Triples and RDFC-1.0 have it: ECHAR where there
// is one, \uXXXX for other controls, DEL, U+FFFE and U+FFFF, all else as it is. It
// reports false if s is not UTF-8.
func appendString(dst []byte, s string) ([]byte, bool) {
	from := 0
	for i := 0; i < len(s); {
		if i+8 <= len(s) && stringWord(word(s, i)) == 0 {
			i += 8
			continue
		}
		c := s[i]
		if !stringByte[c] {
			i++
			continue
		}
		n, u := 1, rune(c)
		if c >= utf8.RuneSelf {
			u, n = utf8.DecodeRuneInString(s[i:])
			if u == utf8.RuneError && n == 1 {
				return dst, false
			}
			if u != 0xFFFE && u != 0xFFFF {
				i += n
				continue
			}
		}
		dst = append(dst, s[from:i]...)
		i += n
		from = i
		switch u {
		case '"', '\\':
			dst = append(dst, '\\', c)
		case '\b':
			dst = append(dst, '\\', 'b')
		case '\t':
			dst = append(dst, '\\', 't')
		case '\n':
			dst = append(dst, '\\', 'n')
		case '\f':
			dst = append(dst, '\\', 'f')
		case '\r':
			dst = append(dst, '\\', 'r')
		default:
			dst = append(dst, '\\', 'u', upperHex[u>>12&15], upperHex[u>>8&15], upperHex[u>>4&15], upperHex[u&15])
		}
	}
	return append(dst, s[from:]...), true
}

// appendJSONString writes s as the inside of a JSON string (RFC 8259 §7; the
// escapes of RFC 8785). It reports false if s is not UTF-8.
func appendJSONString(dst []byte, s string) ([]byte, bool) {
	from := 0
	for i := 0; i < len(s); {
		if i+8 <= len(s) && stringWord(word(s, i)) == 0 {
			i += 8
			continue
		}
		c := s[i]
		if !stringByte[c] || c == 0x7f {
			i++
			continue
		}
		if c >= utf8.RuneSelf {
			u, n := utf8.DecodeRuneInString(s[i:])
			if u == utf8.RuneError && n == 1 {
				return dst, false
			}
			i += n
			continue
		}
		dst = append(dst, s[from:i]...)
		i++
		from = i
		switch c {
		case '"', '\\':
			dst = append(dst, '\\', c)
		case '\b':
			dst = append(dst, '\\', 'b')
		case '\t':
			dst = append(dst, '\\', 't')
		case '\n':
			dst = append(dst, '\\', 'n')
		case '\f':
			dst = append(dst, '\\', 'f')
		case '\r':
			dst = append(dst, '\\', 'r')
		default:
			const hex = "0123456789abcdef"
			dst = append(dst, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		}
	}
	return append(dst, s[from:]...), true
}

// appendXML writes s as XML 1.0 text or, with attr, as an attribute's value in
// quotation marks, so that a reader's normalisation of line ends and white space
// changes nothing. It reports false if s has a character that XML cannot carry
// (XML 1.0 §2.2) or is not UTF-8.
func appendXML(dst []byte, s string, attr bool) ([]byte, bool) {
	from := 0
	for i := 0; i < len(s); {
		if !attr && i+8 <= len(s) && xmlWord(word(s, i)) == 0 {
			i += 8
			continue
		}
		c := s[i]
		if !xmlByte[c] && c != '"' {
			i++
			continue
		}
		if c >= utf8.RuneSelf {
			u, n := utf8.DecodeRuneInString(s[i:])
			if u == utf8.RuneError && n == 1 || u == 0xFFFE || u == 0xFFFF {
				return dst, false
			}
			i += n
			continue
		}
		esc := ""
		switch c {
		case '&':
			esc = "&amp;"
		case '<':
			esc = "&lt;"
		case '>':
			esc = "&gt;"
		case '\r':
			esc = "&#xD;"
		case '"':
			if attr {
				esc = "&quot;"
			}
		case '\t':
			if attr {
				esc = "&#x9;"
			}
		case '\n':
			if attr {
				esc = "&#xA;"
			}
		default:
			return dst, false
		}
		if esc != "" {
			dst = append(dst, s[from:i]...)
			dst = append(dst, esc...)
			from = i + 1
		}
		i++
	}
	return append(dst, s[from:]...), true
}

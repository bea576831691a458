package source

import (
	"bytes"
	"strconv"
	"unicode/utf8"
)

// checkReferences looks for a reference that is not well-formed or names nothing
// known. It returns its place and what is wrong, as the arguments of a message, or -1.
func checkReferences(b []byte) (int, string, []any) {
	for i := 0; ; {
		n := bytes.IndexByte(b[i:], '&')
		if n < 0 {
			return -1, "", nil
		}
		i += n
		size, ok := referenceSize(b[i:])
		if !ok {
			return i, "an & that begins no reference; write &amp;", nil
		}
		ref := b[i : i+size]
		if predefined(ref) == 0 {
			if r, text := resolveEntity(ref); r < 0 && text == "" {
				return i, "the entity %s is not known here", []any{ref}
			}
		}
		i += size
	}
}

// referenceSize is the length of the reference at the start of b.
func referenceSize(b []byte) (int, bool) {
	var is func(c byte, first bool) bool
	i := 1
	switch {
	case len(b) > 2 && b[1] == '#' && b[2] == 'x':
		is = func(c byte, _ bool) bool { return c-'0' < 10 || c|0x20-'a' < 6 }
		i = 3
	case len(b) > 1 && b[1] == '#':
		is = func(c byte, _ bool) bool { return c-'0' < 10 }
		i = 2
	default:
		is = func(c byte, first bool) bool {
			return c|0x20-'a' < 26 || !first && (c-'0' < 10 || c == '.' || c == '-' || c == '_')
		}
	}
	from := i
	for i < len(b) && is(b[i], i == from) {
		i++
	}
	if i == from || i >= len(b) || b[i] != ';' {
		return 0, false
	}
	return i + 1, true
}

// predefined is the character of one of XML's own five references (§4.6), or 0.
func predefined(ref []byte) byte {
	switch string(ref) {
	case "&lt;":
		return '<'
	case "&gt;":
		return '>'
	case "&amp;":
		return '&'
	case "&apos;":
		return '\''
	case "&quot;":
		return '"'
	}
	return 0
}

// decodeXML appends character data to dst with references resolved and line ends
// made LF (XML 1.0 §2.11). In attribute values white space becomes spaces
// (§3.3.3). It returns how many of HTML's named characters it met.
func decodeXML(dst, b []byte, attribute bool) ([]byte, int) {
	entities := 0
	for i := 0; i < len(b); {
		from := i
		for i < len(b) && b[i] != '&' && b[i] != '\r' && (!attribute || b[i] != '\n' && b[i] != '\t') {
			i++
		}
		dst = append(dst, b[from:i]...)
		switch {
		case i == len(b):
		case b[i] == '&':
			size, _ := referenceSize(b[i:])
			ref := b[i : i+size]
			i += size
			if p := predefined(ref); p != 0 {
				dst = append(dst, p)
			} else if ref[1] == '#' {
				dst = appendReference(dst, ref)
			} else {
				_, text := resolveEntity(ref)
				dst = append(dst, text...)
				entities++
			}
		default:
			if b[i] == '\r' && i+1 < len(b) && b[i+1] == '\n' {
				i++
			}
			if attribute {
				dst = append(dst, ' ')
			} else {
				dst = append(dst, '\n')
			}
			i++
		}
	}
	return dst, entities
}

// appendReference writes the character of a numeric reference (§4.1). Halves of
// surrogate pairs and what is no character at all are left for the cleaner.
func appendReference(dst, ref []byte) []byte {
	digits, base := ref[2:len(ref)-1], 10
	if len(digits) > 1 && digits[0]|0x20 == 'x' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseUint(string(digits), base, 32)
	switch {
	case err != nil || n > utf8.MaxRune:
		return append(dst, "\uffff"...)
	case n >= 0xd800 && n < 0xe000:
		return appendSurrogate(dst, rune(n))
	}
	return utf8.AppendRune(dst, rune(n))
}

// lineEnds makes CR and CR LF into LF.
func lineEnds(b []byte) []byte {
	b = bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))
	return bytes.ReplaceAll(b, []byte("\r"), []byte("\n"))
}

package render

// AppendXML appends s as XML 1.0 text or, with attr, as the inside of an
// attribute's value in quotation marks, so that a reader gives back exactly s. It
// reports false, with part of s appended, if s is not UTF-8 or has a character that
// XML cannot carry (XML 1.0 §2.2).
func AppendXML(dst []byte, s string, attr bool) ([]byte, bool) {
	if !attr && plainXML(s) {
		return append(dst, s...), true
	}
	return appendXML(dst, s, attr)
}

// AppendJSON appends s as the inside of a JSON string (RFC 8259 §7; the escapes of
// RFC 8785). It reports false, with part of s appended, if s is not UTF-8.
func AppendJSON(dst []byte, s string) ([]byte, bool) {
	if plainString(s) {
		return append(dst, s...), true
	}
	return appendJSONString(dst, s)
}

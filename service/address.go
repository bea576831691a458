package service

import (
	"strings"
)

// Site is what the service says about itself.
type Site struct {
	Base      string // IRI below which all records lie; ends with "/"
	Title     string
	Publisher string
	Licence   string // IRI of the licence of the data; "" if none is stated
	Language  string // BCP 47 tag of the labels; "" for English
	About     string // a sentence or two on what the data are; "" if nothing is said
	Page      string // address of the publisher's own page; "" if none is stated
	Email     string // of whoever looks after the service; "" if none is stated
	Sets      []Set  // into which the records are divided, in the publisher's order
}

// Set is a set of records, made by the publisher for those who take a part of the
// whole. The set "a:b" is in the set "a".
type Set struct{ Spec, Name, About string }

// Path is the address of a record below base: the rest of its IRI, as the path of
// a URI (RFC 3987 §3.1) in normal form (see [NormalPath]). It reports false if iri
// does not lie below base or cannot be the address of a document: a query or
// fragment, an empty rest, dot segments.
func Path(base, iri string) (string, bool) {
	rest, ok := strings.CutPrefix(iri, base)
	if !ok || !strings.HasSuffix(base, "/") || strings.ContainsAny(rest, "?#") {
		return "", false
	}
	return NormalPath(rest)
}

// BaseOf is the base below which iri has an address of as many segments as path: the
// rest of iri, up to a slash. It is "" if iri has too few.
func BaseOf(iri, path string) string {
	at := len(iri)
	for n := strings.Count(path, "/"); n >= 0 && at >= 0; n-- {
		at = strings.LastIndexByte(iri[:at], '/')
	}
	return iri[:at+1]
}

// NormalPath brings the path of a request or an IRI, without its leading slash,
// into the form in which addresses are compared (RFC 3986 §6.2.2): unreserved
// characters are not percent-encoded, everything that a path cannot hold is, with
// capital hexadecimal digits. It reports false for an empty path, an empty first
// segment, dot segments, malformed percent-encoding and control characters.
func NormalPath(p string) (string, bool) {
	if p == "" || p[0] == '/' {
		return "", false
	}
	plain := true
	for i := 0; i < len(p); i++ {
		if c := p[i]; c < 0x20 || c == 0x7f || c == '?' || c == '#' {
			return "", false
		} else if !pathChar[c] {
			plain = false
		}
	}
	if !plain {
		var ok bool
		if p, ok = encodePath(p); !ok {
			return "", false
		}
	}
	for rest := p; ; {
		seg, more, found := strings.Cut(rest, "/")
		if seg == "." || seg == ".." {
			return "", false
		}
		if !found {
			return p, true
		}
		rest = more
	}
}

func encodePath(p string) (string, bool) {
	const hex = "0123456789ABCDEF"
	b := make([]byte, 0, len(p)+16)
	for i := 0; i < len(p); i++ {
		c := p[i]
		if c == '%' {
			if i+2 >= len(p) {
				return "", false
			}
			hi, lo := unhex(p[i+1]), unhex(p[i+2])
			if hi > 15 || lo > 15 {
				return "", false
			}
			i += 2
			if c = hi<<4 | lo; c < 0x20 || c == 0x7f {
				return "", false
			} else if !unreserved(c) {
				b = append(b, '%', hex[hi], hex[lo])
				continue
			}
		}
		if pathChar[c] {
			b = append(b, c)
		} else {
			b = append(b, '%', hex[c>>4], hex[c&15])
		}
	}
	return string(b), true
}

func unhex(c byte) byte {
	switch {
	case '0' <= c && c <= '9':
		return c - '0'
	case 'a' <= c && c <= 'f':
		return c - 'a' + 10
	case 'A' <= c && c <= 'F':
		return c - 'A' + 10
	}
	return 255
}

func unreserved(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' || c == '-' || c == '.' || c == '_' || c == '~'
}

// pathChar are the characters of pchar (RFC 3986 §3.3) that stand for themselves,
// and the slash.
var pathChar = func() (t [256]bool) {
	for c := range t {
		t[c] = unreserved(byte(c)) || strings.IndexByte("/!$&'()*+,;=:@", byte(c)) >= 0 && c != 0
	}
	return t
}()

// reserved are first segments that records cannot have: the service answers
// there itself, now or by the design's list of addresses.
var reserved = map[string]bool{
	"healthz": true, "metrics": true, "harvest": true, "changes": true, "downloads": true, "search": true,
	"readiness": true, "timemap": true, "memento": true, "pattern": true, ".well-known": true,
	"robots.txt": true, "favicon.ico": true, "sitemap.xml": true,
}

// Reserved reports whether a path is kept for the service: one of its own
// addresses, or the list of an endpoint (a single segment and a slash).
func Reserved(path string) bool {
	first, rest, found := strings.Cut(path, "/")
	sitemap := strings.HasPrefix(first, "sitemap-") && strings.HasSuffix(first, ".xml.gz")
	return reserved[first] || sitemap || found && rest == ""
}

// Relative is the relative reference (RFC 3986 §4.2) that leads from the page at one
// path to another. Relative references keep working when the site is served
// below another base than its own.
func Relative(from, to string) string {
	common := 0
	for i := 0; i < len(from) && i < len(to) && from[i] == to[i]; i++ {
		if from[i] == '/' {
			common = i + 1
		}
	}
	up := strings.Count(from[common:], "/")
	rest := to[common:]
	if up > 0 {
		return strings.Repeat("../", up) + rest
	}
	// A reference without a directory step must not be empty, look like a scheme
	// (§4.2) or begin with a slash.
	if seg, _, _ := strings.Cut(rest, "/"); rest == "" || seg == "" || strings.Contains(seg, ":") {
		return "./" + rest
	}
	return rest
}

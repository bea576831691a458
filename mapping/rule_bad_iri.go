package mapping

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"ropewalk/vocab"

	"ropewalk/vocab/near"
)

var ruleBadIRI = &Rule{Name: "bad-iri", About: "an identifier that is no IRI"}

// schemes are those under which something can be named for good. Another word in
// front of a colon is nearly always a misspelt prefix, or text that is no IRI.
var schemes = []string{"http", "https", "ftp", "urn", "info", "ark", "tag", "doi", "hdl", "oai", "mailto", "geo"}

// authorities are the prefixes of authorities in the order in which people know
// them, with an example each.
var authorities = [][2]string{{"aat", "aat:300404670"}, {"ulan", "ulan:500115588"}, {"tgn", "tgn:7008038"}, {"wd", "wd:Q43361"}}

// knownScheme reports whether s begins with one of the schemes.
func knownScheme(s string) bool {
	scheme, _, ok := strings.Cut(s, ":")
	return ok && slices.Contains(schemes, strings.ToLower(scheme))
}

// knownPrefix reports whether s begins with a known prefix that is no scheme.
func knownPrefix(s string) bool {
	prefix, _, ok := strings.Cut(s, ":")
	if !ok || knownScheme(s) {
		return false
	}
	for _, local := range []string{"1", "Q1", "x"} {
		if _, ok := vocab.Expand(prefix + ":" + local); ok {
			return true
		}
	}
	return false
}

// badIRI says why a fixed identifier is no IRI.
func (c *compiler) badIRI(s *Scalar, iri string) {
	const write = "write a path below the site's base, a full IRI, or a known prefix and name such as aat:300404670"
	prefix, rest, colon := strings.Cut(iri, ":")
	known := slices.IndexFunc(authorities, func(a [2]string) bool { return a[0] == prefix })
	odd := strings.IndexFunc(iri, func(r rune) bool { return r > unicode.MaxASCII || !iriChar[byte(r)] && r != '%' })
	switch {
	case strings.TrimSpace(iri) == "":
		c.add(ruleBadIRI, s.Span, "an identifier is wanted here, and this is empty", write)
	case known >= 0:
		c.add(ruleBadIRI, s.Span, fmt.Sprintf("%q can't be a name behind %q", rest, prefix+":"), "such as "+authorities[known][1])
	case colon && hasScheme(iri) && !knownScheme(iri):
		hint := ""
		for _, a := range authorities {
			if near.Between(a[0], strings.ToLower(prefix), 1) == 1 {
				hint = fmt.Sprintf("did you mean %q?", a[0]+":"+rest)
			}
		}
		if hint == "" {
			hint = "known prefixes are aat:, ulan:, tgn: and wd:; a full IRI begins with https: or the like"
		}
		c.add(ruleBadIRI, s.Span, fmt.Sprintf("%q is neither a known prefix nor the beginning of an IRI", prefix+":"), hint)
	case odd >= 0 && !hasScheme(iri):
		var b []byte
		for i := 0; i < len(iri); i++ {
			if iriChar[iri[i]] || iri[i] == '%' {
				b = append(b, iri[i])
			} else {
				b = appendEncoded(b, iri[i])
			}
		}
		c.add(ruleBadIRI, s.at(odd, odd+1), fmt.Sprintf("an identifier can't have %s in it", charName([]rune(iri[odd:])[0])), "write "+string(b))
	case odd >= 0:
		c.add(ruleBadIRI, s.at(odd, odd+1), fmt.Sprintf("an IRI can't have %s in it", charName([]rune(iri[odd:])[0])), "")
	default:
		c.add(ruleBadIRI, s.Span, fmt.Sprintf("%q is no IRI", iri), write)
	}
}

// fixedParts checks what stands between the holes of an identifier: only what comes
// out of cells is percent-encoded.
func (c *compiler) fixedParts(t *text) bool {
	for i := range t.segs {
		lit := t.segs[i].lit
		odd := strings.IndexFunc(lit, func(r rune) bool { return r > unicode.MaxASCII || !iriChar[byte(r)] && r != '%' })
		if odd < 0 {
			continue
		}
		r := []rune(lit[odd:])[0]
		sp := t.src.Span
		if at := strings.Index(t.src.Text, lit); at >= 0 {
			sp = t.src.at(at+odd, at+odd+len(string(r)))
		}
		var b []byte
		for _, c := range []byte(string(r)) {
			b = appendEncoded(b, c)
		}
		c.add(ruleBadIRI, sp, fmt.Sprintf("an identifier can't have %s in it", charName(r)), fmt.Sprintf("write %s; what comes from cells is encoded by itself", b))
		return false
	}
	return true
}

func charName(r rune) string {
	switch r {
	case ' ':
		return "a space"
	case '\n':
		return "a line end"
	case '\t':
		return "a tab"
	}
	return fmt.Sprintf("%q", string(r))
}

package outside

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// ParseNQuads reads N-Quads, and so N-Triples too, by the grammar of RDF 1.1
// N-Quads §5. It refuses relative IRIs. Every reader answers in this form.
func ParseNQuads(text string) ([]Quad, error) {
	var quads []Quad
	p := nquadsParser{s: text, line: 1}
	for {
		p.space()
		switch {
		case p.i == len(p.s):
			return quads, nil
		case p.s[p.i] == '\n' || p.s[p.i] == '\r':
			p.newline()
			continue
		case p.s[p.i] == '#':
			p.comment()
			continue
		}
		q, err := p.statement()
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", p.line, err)
		}
		quads = append(quads, q)
	}
}

type nquadsParser struct {
	s    string
	i    int
	line int
}

func (p *nquadsParser) space() {
	for p.i < len(p.s) && (p.s[p.i] == ' ' || p.s[p.i] == '\t') {
		p.i++
	}
}

func (p *nquadsParser) newline() {
	if p.s[p.i] == '\n' {
		p.line++
	}
	p.i++
}

func (p *nquadsParser) comment() {
	for p.i < len(p.s) && p.s[p.i] != '\n' && p.s[p.i] != '\r' {
		p.i++
	}
}

func (p *nquadsParser) at(c byte) bool { return p.i < len(p.s) && p.s[p.i] == c }

func (p *nquadsParser) statement() (q Quad, err error) {
	if q.S, err = p.resource(true); err != nil {
		return q, fmt.Errorf("subject: %w", err)
	}
	p.space()
	if q.P, err = p.resource(false); err != nil {
		return q, fmt.Errorf("predicate: %w", err)
	}
	p.space()
	if p.at('"') {
		q.O, err = p.literal()
	} else {
		q.O, err = p.resource(true)
	}
	if err != nil {
		return q, fmt.Errorf("object: %w", err)
	}
	p.space()
	if !p.at('.') {
		if q.G, err = p.resource(true); err != nil {
			return q, fmt.Errorf("graph: %w", err)
		}
		p.space()
	}
	if !p.at('.') {
		return q, fmt.Errorf("no full stop at %.20q", p.s[p.i:])
	}
	p.i++
	p.space()
	if p.at('#') {
		p.comment()
	}
	if p.i < len(p.s) && p.s[p.i] != '\n' && p.s[p.i] != '\r' {
		return q, fmt.Errorf("text after the statement: %.20q", p.s[p.i:])
	}
	return q, nil
}

func (p *nquadsParser) resource(blank bool) (Term, error) {
	switch {
	case p.at('<'):
		iri, err := p.iri()
		return Term{Kind: IRI, Value: iri}, err
	case blank && strings.HasPrefix(p.s[p.i:], "_:"):
		p.i += 2
		from := p.i
		for p.i < len(p.s) {
			r, n := utf8.DecodeRuneInString(p.s[p.i:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			first := p.i == from
			if !nameStart(r) && !(r >= '0' && r <= '9') && (first || !(r == '-' || r == '.' || r == 0xB7 || r >= 0x300 && r <= 0x36F || r == 0x203F || r == 0x2040)) {
				break
			}
			p.i += n
		}
		for p.i > from && p.s[p.i-1] == '.' {
			p.i--
		}
		if p.i == from {
			return Term{}, fmt.Errorf("blank node without a label")
		}
		return Term{Kind: Blank, Value: p.s[from:p.i]}, nil
	}
	return Term{}, fmt.Errorf("no term at %.20q", p.s[p.i:])
}

// nameStart is PN_CHARS_U without the colon, which the published tests refuse
// (an erratum of RDF 1.1 N-Triples §7).
func nameStart(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '_' ||
		r >= 0xC0 && r <= 0x2FF && r != 0xD7 && r != 0xF7 || r >= 0x370 && r <= 0x1FFF && r != 0x37E ||
		r == 0x200C || r == 0x200D || r >= 0x2070 && r <= 0x218F || r >= 0x2C00 && r <= 0x2FEF ||
		r >= 0x3001 && r <= 0xD7FF || r >= 0xF900 && r <= 0xFDCF || r >= 0xFDF0 && r <= 0xEFFFF
}

func (p *nquadsParser) iri() (string, error) {
	p.i++
	from := p.i
	var b strings.Builder
	for p.i < len(p.s) {
		switch c := p.s[p.i]; {
		case c == '>':
			b.WriteString(p.s[from:p.i])
			p.i++
			iri := b.String()
			if !absolute(iri) {
				return "", fmt.Errorf("relative IRI <%s>", iri)
			}
			return iri, nil
		case c == '\\':
			b.WriteString(p.s[from:p.i])
			r, err := p.escape(false)
			if err != nil {
				return "", err
			}
			if r <= 0x20 || strings.ContainsRune("<>\"{}|^`\\", r) {
				return "", fmt.Errorf("escaped character %U not allowed in an IRI", r)
			}
			b.WriteRune(r)
			from = p.i
		case c <= 0x20 || strings.IndexByte("<\"{}|^`", c) >= 0:
			return "", fmt.Errorf("character %q not allowed in an IRI", c)
		default:
			p.i++
		}
	}
	return "", fmt.Errorf("IRI without an end")
}

// absolute reports whether iri begins with a scheme (RFC 3986 §3.1).
func absolute(iri string) bool {
	for i := 0; i < len(iri); i++ {
		c := iri[i]
		switch {
		case c == ':':
			return i > 0
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z':
		case i > 0 && (c >= '0' && c <= '9' || c == '+' || c == '-' || c == '.'):
		default:
			return false
		}
	}
	return false
}

// escape reads \u and \U and, in strings, the escapes with one letter.
func (p *nquadsParser) escape(str bool) (rune, error) {
	p.i++
	if p.i == len(p.s) {
		return 0, fmt.Errorf("escape without an end")
	}
	c := p.s[p.i]
	p.i++
	digits := 0
	switch c {
	case 'u':
		digits = 4
	case 'U':
		digits = 8
	default:
		if k := strings.IndexByte("tbnrf\"'\\", c); str && k >= 0 {
			return rune("\t\b\n\r\f\"'\\"[k]), nil
		}
		return 0, fmt.Errorf("unknown escape \\%c", c)
	}
	if p.i+digits > len(p.s) {
		return 0, fmt.Errorf("escape without an end")
	}
	r := rune(0)
	for _, d := range []byte(p.s[p.i : p.i+digits]) {
		switch {
		case d >= '0' && d <= '9':
			r = r<<4 | rune(d-'0')
		case d >= 'a' && d <= 'f':
			r = r<<4 | rune(d-'a'+10)
		case d >= 'A' && d <= 'F':
			r = r<<4 | rune(d-'A'+10)
		default:
			return 0, fmt.Errorf("%q in an escape", d)
		}
		if r > utf8.MaxRune {
			return 0, fmt.Errorf("escape beyond U+10FFFF")
		}
	}
	p.i += digits
	if !utf8.ValidRune(r) {
		return 0, fmt.Errorf("escape of a surrogate %U", r)
	}
	return r, nil
}

func (p *nquadsParser) literal() (Term, error) {
	value, err := p.quoted()
	if err != nil {
		return Term{}, err
	}
	t := Term{Kind: Literal, Value: value, Datatype: XSDString}
	switch {
	case p.at('@'):
		p.i++
		from := p.i
		for p.i < len(p.s) && tagByte(p.s[p.i], p.i > from) {
			p.i++
		}
		t.Language, t.Datatype = p.s[from:p.i], LangString
		if !validTag(t.Language) {
			return t, fmt.Errorf("language tag %q", t.Language)
		}
	case strings.HasPrefix(p.s[p.i:], "^^"):
		p.i += 2
		if !p.at('<') {
			return t, fmt.Errorf("no datatype IRI after ^^")
		}
		t.Datatype, err = p.iri()
	}
	return t, err
}

func tagByte(c byte, later bool) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || later && (c == '-' || c >= '0' && c <= '9')
}

// validTag is LANGTAG of the grammar without "@".
func validTag(tag string) bool {
	for i, part := range strings.Split(tag, "-") {
		if part == "" {
			return false
		}
		for k := 0; k < len(part); k++ {
			if !tagByte(part[k], i > 0) || part[k] == '-' {
				return false
			}
		}
	}
	return true
}

func (p *nquadsParser) quoted() (string, error) {
	p.i++
	from := p.i
	var b strings.Builder
	for p.i < len(p.s) {
		switch c := p.s[p.i]; c {
		case '"':
			b.WriteString(p.s[from:p.i])
			p.i++
			return b.String(), nil
		case '\\':
			b.WriteString(p.s[from:p.i])
			r, err := p.escape(true)
			if err != nil {
				return "", err
			}
			b.WriteRune(r)
			from = p.i
		case '\n', '\r':
			return "", fmt.Errorf("line end in a string")
		default:
			p.i++
		}
	}
	return "", fmt.Errorf("string without an end")
}

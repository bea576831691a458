package conformance

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"ropewalk/conformance/outside"
)

// strange are pieces of text that writers and readers are known to stumble over.
var strange = []string{
	"", " ", "  two  spaces ", "\t", "\n", "\r", "\r\n", "\n\n", "line\nbreak", "trailing\n", "\u0085", "\u2028", "\u2029", "\u000b",
	`"`, `""`, `"""`, `"""" `, `ends with "`, `ends with ""`, `'`, `'''`, `it's`, `\`, `\\`, `\"`, `ends with \`, `\n`, `\u0041`, `\U0001F600`, "\\\n",
	"<", ">", "&", "&amp;", "&#10;", "<b>bold</b>", "]]>", "<!-- -->", "<?x?>", "<![CDATA[x]]>", "%", "%20", "{", "}", "${x}", "@en", "^^", "#", "# x", ".", " .", ";", ",", "_:b0", "<http://a.example/>", "[]", "()",
	"\u00a0", "\u200b", "\u200d", "\ufeff", "\ufeffx", "x\ufeff", "e\u0301", "\u00e9", "\u1e9b\u0323", "\u202e\u202c", "\u061c", "\u0300", "\u00ad",
	"\ud7ff", "\ue000", "\ufdd0", "\ufdef", "\ufffd", "\uffee", "\U00010000", "\U0001f600", "\U0001f468\u200d\U0001f469", "\U0001fffd", "\U0002ffff", "\U000e0001", "\U0010fffd", "\U0010ffff",
	"\u007f", "\u0080", "\u009f", "Ω", "漢字", "שלום", "مرحبا", "नमस्ते", "ꙮ", "ﬁ",
	"0", "1", "01", "-1", "+1", "1.", ".5", "1.0", "1e0", "1E+10", "-.5e-3", "INF", "NaN", "true", "false", "TRUE", "a", "null", "1911-04-02", "1911-04-02T00:00:00Z", "-0044-03-15T00:00:00Z", "24:00:00",
}

// notXML is text with characters that XML 1.0 cannot carry (§2.2 Char).
var notXML = []string{"\u0001", "a\u0008b", "\u000b", "\u000c", "\u001b[0m", "\u001f", "\ufffe", "\uffff", "x\ufffe"}

// xmlCarries reports whether XML 1.0 has every character of s.
func xmlCarries(s string) bool {
	for _, r := range s {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
		case r < 0x20 || r == 0xFFFE || r == 0xFFFF:
			return false
		}
	}
	return true
}

// generator makes terms from a seed; the same seed, the same terms.
type generator struct{ *rand.Rand }

func newGenerator(seed uint64) generator { return generator{rand.New(rand.NewPCG(seed, 1911))} }

// char is a Unicode scalar value, drawn evenly over the kinds of characters
// rather than over the code points. Control characters only if asked for.
func (g generator) char(controls bool) rune {
	span := func(from, to rune) rune { return from + g.Int32N(to-from+1) }
	switch g.IntN(12) {
	case 3:
		if controls {
			return span(0x01, 0x1F)
		}
		fallthrough
	case 0, 1, 2:
		return span(0x20, 0x7E)
	case 4:
		return span(0x7F, 0xFF)
	case 5:
		return span(0x100, 0x7FF)
	case 6:
		return span(0x800, 0xD7FF)
	case 7:
		return span(0xE000, 0xFFFD)
	case 8:
		return span(0x2000, 0x206F)
	case 9:
		return span(0x300, 0x36F)
	case 10:
		return span(0x10000, 0x1FFFF)
	}
	return span(0x20000, 0x10FFFF)
}

func (g generator) text() string {
	var b strings.Builder
	controls := g.IntN(8) == 0
	for n := g.IntN(5); n >= 0; n-- {
		if g.IntN(2) == 0 {
			b.WriteString(strange[g.IntN(len(strange))])
		} else {
			for k := g.IntN(8); k >= 0; k-- {
				b.WriteRune(g.char(controls))
			}
		}
	}
	if g.IntN(200) == 0 {
		return strings.Repeat(b.String()+"·", 3000) // longer than the line buffers of some readers
	}
	return b.String()
}

var languages = []string{"en", "EN", "sv", "zh-Hans-CN", "sl-rozaj-biske-1994", "de-1996", "x-klingon", "en-x-us", "de-CH-1901", "az-Arab-x-AZE-derbend"}

var datatypes = []string{"string", "integer", "decimal", "double", "boolean", "dateTime", "date", "gYear", "anyURI", "hexBinary", "language", "float", "nonNegativeInteger"}

func (g generator) literal() outside.Term {
	t := outside.Term{Kind: outside.Literal, Value: g.text(), Datatype: outside.XSDString}
	switch g.IntN(5) {
	case 0:
		t.Language, t.Datatype = languages[g.IntN(len(languages))], outside.LangString
	case 1:
		t.Datatype = "http://www.w3.org/2001/XMLSchema#" + datatypes[g.IntN(len(datatypes))]
		if g.IntN(2) == 0 {
			t.Value = strange[len(strange)-1-g.IntN(25)]
		}
	case 2:
		t.Datatype = g.iri()
	}
	return t
}

// iri is an absolute IRI by the grammar of RFC 3987 §2.2.
func (g generator) iri() string {
	var b strings.Builder
	b.WriteString([]string{"http://", "https://", "HTTP://", "ftp://"}[g.IntN(4)])
	b.WriteString([]string{"a.example", "museum.example:8080", "user@a.example", "xn--bcher-kva.example", "bücher.example", "127.0.0.1", "[2001:db8::1]"}[g.IntN(7)])
	for n := g.IntN(4); n > 0; n-- {
		b.WriteByte('/')
		g.part(&b, "-._~!$&'()*+,;=:@", g.IntN(8))
	}
	if g.IntN(3) == 0 {
		b.WriteByte('?')
		g.part(&b, "-._~!$&'()*+,;=:@/?", g.IntN(8))
	}
	if g.IntN(2) == 0 {
		b.WriteByte('#')
		g.part(&b, "-._~!$&'()*+,;=:@/?", g.IntN(8))
	}
	switch g.IntN(25) {
	case 0:
		return "urn:isbn:0" + fmt.Sprint(g.IntN(1e9))
	case 1:
		return "mailto:keeper@museum.example"
	case 2:
		return "tag:museum.example,2024:x/" + fmt.Sprint(g.IntN(1e6))
	case 3:
		return "http://vocab.getty.edu/aat/" + fmt.Sprint(300000000+g.IntN(1e6))
	case 4:
		return "info:doi/10.1000/" + fmt.Sprint(g.IntN(1e6)) + "()-x;y"
	}
	return b.String()
}

// part writes n characters that may stand in a part of an IRI: letters, digits,
// the marks given, percent-encoded bytes and ucschar.
func (g generator) part(b *strings.Builder, marks string, n int) {
	for ; n > 0; n-- {
		switch g.IntN(6) {
		case 0:
			b.WriteByte(marks[g.IntN(len(marks))])
		case 1:
			fmt.Fprintf(b, "%%%02X", g.IntN(256))
		case 2:
			b.WriteRune(g.ucschar())
		case 3:
			b.WriteByte('0' + byte(g.IntN(10)))
		default:
			b.WriteByte("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"[g.IntN(52)])
		}
	}
}

// ucschar is a character of that rule of RFC 3987 §2.2.
func (g generator) ucschar() rune {
	spans := [][2]rune{{0xA0, 0x2FF}, {0x370, 0x1FFF}, {0x2070, 0xD7FF}, {0xF900, 0xFDCF}, {0xFDF0, 0xFFEF}, {0x10000, 0x1FFFD}, {0x20000, 0x2FFFD}, {0xE1000, 0xEFFFD}}
	s := spans[g.IntN(len(spans))]
	return s[0] + g.Int32N(s[1]-s[0]+1)
}

// properties are predicates, those first that RDF/XML can write as a qualified
// name: they end in a name of XML and are not reserved.
var properties = []string{
	crmNS + "P3_has_note",
	rdfsNS + "label",
	rdfNS + "value",
	rdfNS + "_1",
	"http://a.example/1234/x1",
	"http://a.example/ns#a",
	"http://a.example/ns#a.b-c",
	"http://a.example/é#Größe-1",
	"http://a.example/漢字",
	"http://a.example/?q=1&r=2#p",
	"http://a.example/a%20b",
	"http://a.example/'_x",
	"urn:x:name",
	// Not in RDF/XML:
	"http://a.example/p/1",
	"http://a.example/",
	"http://a.example/#",
	"urn:x:1",
	rdfNS + "li",
	rdfNS + "Description",
	rdfNS + "about",
}

// property is one of properties, seldom one of the last.
func (g generator) property() string {
	if g.IntN(20) == 0 {
		return properties[g.IntN(len(properties))]
	}
	return properties[g.IntN(13)]
}

// triple is any statement without blank nodes.
func (g generator) triple() outside.Quad {
	q := outside.Quad{
		S: outside.Term{Kind: outside.IRI, Value: g.iri()},
		P: outside.Term{Kind: outside.IRI, Value: g.property()},
	}
	if g.IntN(4) == 0 {
		q.O = outside.Term{Kind: outside.IRI, Value: g.iri()}
	} else {
		q.O = g.literal()
	}
	return q
}

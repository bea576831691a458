package source

import (
	"strings"
	"testing"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

func TestClean(t *testing.T) {
	tests := []struct {
		name, in, want string
		kinds          string // names of the repairs, joined by spaces
	}{
		{"plain", "Brass sextant", "Brass sextant", ""},
		{"empty", "", "", ""},
		{"blank", " \t\n\r ", "", ""},
		{"trimmed", " \n x y \t", "x y", ""},
		{"inner lines and tabs stay", "a\n\tb", "a\n\tb", ""},
		{"Latin letters", "Zürich – “Łódź” … ’s", "Zürich – “Łódź” … ’s", ""},
		{"Cyrillic", "Секстант", "Секстант", ""},
		{"Greek", "Σεξτάντας", "Σεξτάντας", ""},
		{"Chinese", "六分儀", "六分儀", ""},
		{"eight and more bytes with one late", "abcdefgh\x01", "abcdefgh", "control-characters"},
		{"control characters", "a\x00b\x07c\x7f", "abc", "control-characters"},
		{"control between eight bytes", "abc\x1bdefghijk", "abcdefghijk", "control-characters"},
		{"separators of old databases", "one\x0btwo\x1dthree", "one\ntwo\nthree", "line-ends"},
		{"carriage returns", "a\r\nb\rc", "a\nb\nc", "line-ends"},
		{"line and paragraph separators", "a\u2028b\u2029c", "a\nb\nc", "line-ends"},
		{"no-break spaces", "5\u00a0mm\u202fx\u3000y", "5 mm x y", "special-spaces"},
		{"no-break space at the end", "x\u00a0", "x", "special-spaces"},
		{"soft hyphen, zero width", "sex\u00adtant\u200b\u2060", "sextant", "invisible-characters"},
		{"byte order mark", "\ufeffx", "x", "byte-order-mark"},
		{"joiners in Latin text", "a\u200db\u200cc", "abc", "invisible-characters"},
		{"joiner in Persian", "می\u200cخواهم", "می\u200cخواهم", ""},
		{"joiner in emoji", "👩\u200d🔬", "👩\u200d🔬", ""},
		{"direction marks in Latin text", "\u200ea\u202ab\u202c", "ab", "invisible-characters"},
		{"direction marks in Hebrew", "שלום\u200f abc", "שלום\u200f abc", ""},
		{"decomposed", "Zu\u0308rich", "Zürich", "not-nfc"},
		{"singleton", "5 \u212b \u2126", "5 Å Ω", "not-nfc"},
		{"combining mark without a composed form", "x\u0323", "x\u0323", ""},
		{"bytes of windows-1252", "caf\xe9 \x80", "café €", "invalid-bytes"},
		{"a byte that windows-1252 lacks", "a\x81b", "ab", "invalid-bytes"},
		{"overlong form", "\xc0\xaf", "À¯", "invalid-bytes"},
		{"cut character", "x\xe2\x82", "xâ‚", "invalid-bytes"},
		{"C1 read for windows-1252", "\u0093x\u0094", "“x”", "misread"},
		{"C1 without a meaning", "a\u0081b", "ab", "control-characters"},
		{"lone high half", "a\xed\xa0\x80b", "ab", "lone-surrogates"},
		{"lone low half", "a\xed\xb0\x80b", "ab", "lone-surrogates"},
		{"two halves", "\xed\xa0\xb4\xed\xb4\x9e", "𝄞", "lone-surrogates"},
		{"halves in the wrong order", "x\xed\xb4\x9e\xed\xa0\xb4y", "xy", "lone-surrogates"},
		{"noncharacters", "a\ufffeb\uffff", "ab", "noncharacters"},
		{"replacement character", "a\ufffdb", "a\ufffdb", "lost-characters"},
		{"entities", "R&amp;D &eacute; &#233; &#xE9; &lt;", "R&D é é é <", "html-entities"},
		{"entity for a no-break space", "a&nbsp;b", "a b", "special-spaces html-entities"},
		{"numeric references for windows-1252", "&#147;x&#148;", "“x”", "misread html-entities"},
		{"references to nothing", "a&#0;b&#xD800;c&#1114112;d", "abcd", "control-characters noncharacters html-entities"},
		{"one pass", "&amp;lt;", "&lt;", "html-entities"},
		{"no entities", "AT&T; a&b &; &x &notreal; &#; &#xg; x&copy=1", "AT&T; a&b &; &x &notreal; &#; &#xg; x&copy=1", ""},
		{"a name that only begins like one", "&notit;", "&notit;", ""},
		{"tags", "<i>Endeavour</i>, <b class=\"x\">1770</b><br/>", "Endeavour, 1770", "html-tags"},
		{"upper-case tags", "<I>x</I><BR>y", "x\ny", "html-tags"},
		{"line breaks", "one<br>two<br />three", "one\ntwo\nthree", "html-tags"},
		{"paragraphs", "<p>one</p><p>two</p>", "one\ntwo", "html-tags"},
		{"list", "<ul><li>one</li><li>two</li></ul>", "one\ntwo", "html-tags"},
		{"table", "<table><tr><td>a</td><td>b</td></tr><tr><td>c</td></tr></table>", "a b\nc", "html-tags"},
		{"link", `see <a href="http://x.example/?a>b" target=_blank>here</a>`, "see here", "html-tags"},
		{"powers", "3 m<sup>2</sup>, H<sub>2</sub>O", "3 m², H₂O", "html-tags"},
		{"fraction", "10<sup>1</sup>/<sub>2</sub> in", "10¹/₂ in", "html-tags"},
		{"ordinal", "1<sup>st</sup>", "1st", "html-tags"},
		{"sup never closed", "x<sup>2 and 1900", "x2 and 1900", "html-tags"},
		{"comment", "a<!-- no > text -->b", "ab", "html-tags"},
		{"style and script", "<style>p { color: red }</style>x<script>1<2</script>", "x", "html-tags"},
		{"word processor's tag", "x<o:p></o:p>", "x", "html-tags"},
		{"less than", "a < b, c<d and 5 <6> 7", "a < b, c<d and 5 <6> 7", ""},
		{"b that is no tag", "if a <b and c> d", "if a <b and c> d", ""},
		{"names in angle brackets", "<unknown> <title> <J. Smith> <object>", "<unknown> <title> <J. Smith> <object>", ""},
		{"tag never closed", "x <i y", "x <i y", ""},
		{"quote never closed", `x <a href="y>z`, `x <a href="y>z`, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := cleaner{html: true}
			got := string(c.clean([]byte(tt.in)))
			if got != tt.want {
				t.Errorf("clean(%q) = %q, want %q", tt.in, got, tt.want)
			}
			if k := kindNamesOf(c.found); k != tt.kinds {
				t.Errorf("clean(%q) reports %q, want %q", tt.in, k, tt.kinds)
			}
		})
	}
}

func TestCleanKeepsHTML(t *testing.T) {
	c := cleaner{}
	const in = "<i>x</i> &amp; y"
	if got := string(c.clean([]byte(in))); got != in || c.found != 0 {
		t.Errorf("clean(%q) = %q, %s", in, got, kindNamesOf(c.found))
	}
}

func kindNamesOf(k kinds) string {
	var out []string
	for i := Kind(1); i < kindCount; i++ {
		if k&(1<<i) != 0 {
			out = append(out, i.String())
		}
	}
	return strings.Join(out, " ")
}

// xmlChar is the Char production of XML 1.0 §2.2, less the C1 controls and DEL
// that are removed too.
func xmlChar(r rune) bool {
	return r == '\t' || r == '\n' || r >= 0x20 && r < 0x7f || r >= 0xa0 && r <= 0xd7ff || r >= 0xe000 && r <= 0xfffd || r >= 0x10000
}

// Whatever the bytes, the text is valid, in NFC, without characters that XML
// can't carry and without white space at its ends; and it is left alone when it
// comes again.
func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "plain", "caf\xe9", "\xed\xa0\x80", "a\u0308", "&lt;b&gt;", "<p>x", "\u200fש", "x\u200d", " \u0301x", "&#x301;", "a<br>\u0308"} {
		f.Add([]byte(s), true)
		f.Add([]byte(s), false)
	}
	f.Fuzz(func(t *testing.T, b []byte, html bool) {
		c := cleaner{html: html}
		before := string(b)
		got := string(c.clean(b))
		found := c.found
		if string(b) != before {
			t.Fatalf("clean changed its input %q to %q", before, b)
		}
		if !utf8.ValidString(got) || !norm.NFC.IsNormalString(got) || got != string(trim([]byte(got))) {
			t.Fatalf("clean(%q) = %q: not valid, not NFC or not trimmed", b, got)
		}
		for _, r := range got {
			if !xmlChar(r) {
				t.Fatalf("clean(%q) = %q has %U", b, got, r)
			}
		}
		if found == 0 && got != string(trim(b)) {
			t.Fatalf("clean(%q) = %q without a repair", b, got)
		}
		if !html {
			if again := string(c.clean([]byte(got))); again != got || c.found&^(1<<Lost) != 0 {
				t.Fatalf("clean(%q) = %q, cleaned again %q (%s)", b, got, again, kindNamesOf(c.found))
			}
		}
	})
}

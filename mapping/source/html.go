package source

import (
	"bytes"
	"html"
	"strconv"
	"unicode/utf8"
)

// entity decodes the HTML character reference at b[i] (HTML §13.5, with the
// closing semicolon) and says how many bytes it took; 0 if there is none.
func (c *cleaner) entity(b []byte, i int) int {
	const longest = 33 // &CounterClockwiseContourIntegral;
	end := bytes.IndexByte(b[i:min(len(b), i+longest)], ';')
	if end < 2 {
		return 0
	}
	ref := b[i : i+end+1]
	r, text := resolveEntity(ref)
	switch {
	case text != "":
		for _, x := range text {
			c.put(x, b)
		}
	case r >= 0:
		c.put(r, b)
	default:
		return 0
	}
	c.found.add(Entity)
	return end + 1
}

// resolveEntity gives the character or text of a reference such as "&eacute;";
// a negative character and no text if there is none of that name.
func resolveEntity(ref []byte) (rune, string) {
	if ref[1] == '#' {
		digits, base := ref[2:len(ref)-1], 10
		if len(digits) > 1 && (digits[0] == 'x' || digits[0] == 'X') {
			digits, base = digits[1:], 16
		}
		n, err := strconv.ParseUint(string(digits), base, 32)
		if err != nil {
			return -1, ""
		}
		if n > utf8.MaxRune || n >= 0xd800 && n < 0xe000 {
			n = 0xffff // no character: removed as such
		}
		return rune(n), ""
	}
	for _, x := range ref[1 : len(ref)-1] {
		if x-'0' >= 10 && x|0x20-'a' >= 26 {
			return -1, ""
		}
	}
	name := string(ref)
	text := html.UnescapeString(name)
	if text == name || text[len(text)-1] == ';' && name != "&semi;" {
		return -1, "" // unknown, or only a beginning of it is known
	}
	return -1, text
}

// tagEffect is what removing a tag leaves behind.
type tagEffect uint8

const (
	inline   tagEffect = iota + 1
	block              // begins a new line
	lineFeed           // is a line break
	cell               // a space
	raise
	lower
	hide // its content is no text
)

// tags are the HTML elements that rich text fields leave in exports. Names that
// people also put in angle brackets for other reasons (title, object, address)
// are not among them.
var tags = map[string]tagEffect{
	"a": inline, "abbr": inline, "acronym": inline, "b": inline, "big": inline, "cite": inline, "code": inline,
	"del": inline, "em": inline, "font": inline, "i": inline, "img": inline, "ins": inline, "kbd": inline,
	"mark": inline, "nobr": inline, "o:p": inline, "q": inline, "s": inline, "small": inline, "span": inline,
	"strike": inline, "strong": inline, "tt": inline, "u": inline, "wbr": inline,
	"blockquote": block, "body": block, "center": block, "dd": block, "div": block, "dl": block, "dt": block,
	"h1": block, "h2": block, "h3": block, "h4": block, "h5": block, "h6": block, "hr": block, "html": block,
	"li": block, "ol": block, "p": block, "pre": block, "table": block, "tbody": block, "tfoot": block,
	"thead": block, "tr": block, "ul": block,
	"br": lineFeed, "td": cell, "th": cell, "sup": raise, "sub": lower, "script": hide, "style": hide,
}

// tag removes the HTML tag or comment at the start of b and says how many bytes
// it took; 0 if b does not begin with one.
func (c *cleaner) tag(b []byte) int {
	if bytes.HasPrefix(b, []byte("<!--")) {
		end := bytes.Index(b, []byte("-->"))
		if end < 0 {
			return 0
		}
		c.found.add(Tag)
		return end + 3
	}
	i := 1
	closing := i < len(b) && b[i] == '/'
	if closing {
		i++
	}
	from := i
	for i < len(b) && (b[i]|0x20-'a' < 26 || b[i]-'0' < 10 || b[i] == ':') {
		i++
	}
	var name [12]byte
	if i == from || i-from > len(name) {
		return 0
	}
	n := copy(name[:], bytes.ToLower(b[from:i]))
	effect := tags[string(name[:n])]
	if effect == 0 {
		return 0
	}
	end := attributes(b, i)
	if end < 0 {
		return 0
	}
	c.found.add(Tag)
	switch effect {
	case block:
		if n := len(c.out); n > 0 && c.out[n-1] != '\n' {
			c.out = append(c.out, '\n')
		}
	case lineFeed:
		c.out = append(c.out, '\n')
	case cell:
		if n := len(c.out); !closing && n > 0 && !blank(c.out[n-1]) {
			c.out = append(c.out, ' ')
		}
	case raise, lower:
		c.super = 0
		if !closing && bytes.Contains(b[end:], append([]byte("</"), b[from:i]...)) {
			c.super = 1
			if effect == lower {
				c.super = -1
			}
		}
	case hide:
		if !closing {
			shut := append([]byte("</"), name[:n]...)
			if at := bytes.Index(bytes.ToLower(b[end:]), shut); at >= 0 {
				if gt := bytes.IndexByte(b[end+at:], '>'); gt >= 0 {
					return end + at + gt + 1
				}
			}
		}
	}
	return end
}

// attributes passes over the attributes of a tag from b[i] and returns the end
// of the tag. Words without a value make it no tag, as in "a <b and c> d": -1.
func attributes(b []byte, i int) int {
	for {
		gap := i
		for i < len(b) && blank(b[i]) {
			i++
		}
		switch {
		case i >= len(b):
			return -1
		case b[i] == '>':
			return i + 1
		case b[i] == '/' && i+1 < len(b) && b[i+1] == '>':
			return i + 2
		case i == gap:
			return -1
		}
		from := i
		for i < len(b) && (b[i]|0x20-'a' < 26 || b[i]-'0' < 10 || b[i] == '-' || b[i] == ':' || b[i] == '_') {
			i++
		}
		if i == from {
			return -1
		}
		for i < len(b) && blank(b[i]) {
			i++
		}
		if i >= len(b) || b[i] != '=' {
			return -1
		}
		i++
		for i < len(b) && blank(b[i]) {
			i++
		}
		if i >= len(b) {
			return -1
		}
		if q := b[i]; q == '"' || q == '\'' {
			end := bytes.IndexByte(b[i+1:], q)
			if end < 0 {
				return -1
			}
			i += end + 2
			continue
		}
		for i < len(b) && !blank(b[i]) && b[i] != '>' && b[i] != '<' {
			i++
		}
	}
}

package source

import (
	"bytes"
	"encoding/binary"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// kinds is a set of repairs.
type kinds uint32

func (k *kinds) add(x Kind) { *k |= 1 << x }

// cleaner repairs the text of cells.
type cleaner struct {
	html bool // decode entities, remove tags

	out   []byte
	found kinds
	nfc   []byte
	rtl   int8 // whether the cell has right-to-left text: 0 not yet known, 1 yes, -1 no
	super int8 // within sup (1) or sub (-1)
}

const (
	lo8    = 0x0101010101010101
	hi8    = 0x8080808080808080
	space8 = 0x20 * lo8
	amp8   = '&' * lo8
	lt8    = '<' * lo8
)

// plain reports whether b is printable ASCII without & and <.
func plain(b []byte) bool {
	if len(b) < 8 {
		for _, c := range b {
			if c-0x20 >= 0x5f || c == '&' || c == '<' {
				return false
			}
		}
		return true
	}
	for i := 0; ; i += 8 {
		if i+8 > len(b) {
			i = len(b) - 8
		}
		if !plain8(binary.LittleEndian.Uint64(b[i:])) {
			return false
		}
		if i+8 == len(b) {
			return true
		}
	}
}

// plain8 does the same for eight bytes at once.
func plain8(w uint64) bool {
	a, l := w^amp8, w^lt8
	return (w|(w+lo8)|(w-space8)&^w|(a-lo8)&^a|(l-lo8)&^l)&hi8 == 0
}

// inert reports whether b needs no repair, for the characters that are common in
// Latin and Cyrillic text: letters that NFC leaves alone, dashes, quotation marks.
func (c *cleaner) inert(b []byte) bool {
	for i := 0; i < len(b); {
		x := b[i]
		switch {
		case x < utf8.RuneSelf:
			if i+8 <= len(b) && plain8(binary.LittleEndian.Uint64(b[i:])) {
				i += 8
				continue
			}
			if x < 0x20 && x != '\n' && x != '\t' || x == 0x7f || c.html && (x == '&' || x == '<') {
				return false
			}
			i++
			continue
		case x >= 0xc3 && x <= 0xcb || x == 0xd0 || x == 0xd1:
			if i+1 >= len(b) || b[i+1]&0xc0 != 0x80 {
				return false
			}
			i += 2
		case x == 0xc2:
			if i+1 >= len(b) || b[i+1] <= 0xa0 || b[i+1] == 0xad || b[i+1] >= 0xc0 {
				return false
			}
			i += 2
		case x == 0xe2:
			if i+2 >= len(b) || b[i+1] != 0x80 || b[i+2] < 0x90 || b[i+2] > 0xa7 {
				return false
			}
			i += 3
		default:
			return false
		}
	}
	return true
}

func blank(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

func trim(b []byte) []byte {
	for len(b) > 0 && blank(b[0]) {
		b = b[1:]
	}
	for len(b) > 0 && blank(b[len(b)-1]) {
		b = b[:len(b)-1]
	}
	return b
}

// clean gives the text of a cell with all repairs made. c.found says which; if it
// is empty the text is a part of b, else it is memory of c that is valid until the
// next call.
func (c *cleaner) clean(b []byte) []byte {
	c.found = 0
	b = trim(b)
	if plain(b) || c.inert(b) {
		return b
	}
	return c.repair(b)
}

func (c *cleaner) repair(b []byte) []byte {
	c.out, c.rtl, c.super = c.out[:0], 0, 0
	for i := 0; i < len(b); {
		x := b[i]
		if x < utf8.RuneSelf {
			switch {
			case x == '\r':
				c.found.add(LineEnd)
				if i+1 >= len(b) || b[i+1] != '\n' {
					c.out = append(c.out, '\n')
				}
			case x == '&' && c.html:
				if n := c.entity(b, i); n > 0 {
					i += n
					continue
				}
				c.put(rune(x), b)
			case x == '<' && c.html:
				if n := c.tag(b[i:]); n > 0 {
					i += n
					continue
				}
				c.put(rune(x), b)
			default:
				c.put(rune(x), b)
			}
			i++
			continue
		}
		r, size := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && size <= 1 {
			i += c.broken(b[i:])
			continue
		}
		c.put(r, b)
		i += size
	}
	out := c.out
	if !norm.NFC.IsNormal(out) {
		c.found.add(NotNFC)
		c.nfc = norm.NFC.Append(c.nfc[:0], out...)
		out = c.nfc
	}
	if c.found == 0 {
		return b
	}
	return trim(out)
}

// broken deals with bytes that are not UTF-8 and says how many it took.
func (c *cleaner) broken(b []byte) int {
	if high, ok := surrogate(b); ok {
		c.found.add(Surrogate)
		if low, ok := surrogate(b[3:]); ok && high < 0xdc00 && low >= 0xdc00 {
			c.out = utf8.AppendRune(c.out, (high-0xd800)<<10|(low-0xdc00)+0x10000)
			return 6
		}
		return 3
	}
	c.found.add(InvalidBytes)
	if r := rune1252(b[0]); r != 0 {
		c.put(r, b[:0])
	}
	return 1
}

// surrogate decodes the three-byte form of half of a surrogate pair.
func surrogate(b []byte) (rune, bool) {
	if len(b) < 3 || b[0] != 0xed || b[1] < 0xa0 || b[1] > 0xbf || b[2]&0xc0 != 0x80 {
		return 0, false
	}
	return 0xd000 | rune(b[1]&0x3f)<<6 | rune(b[2]&0x3f), true
}

// put adds a character, repaired where it must be. cell is where it stands.
func (c *cleaner) put(r rune, cell []byte) {
	switch {
	case r < 0x20:
		switch {
		case r == '\n' || r == '\t':
			c.out = append(c.out, byte(r))
		case r == 0x0b || r == 0x0c || r >= 0x1c:
			// Line, page and record separators of old databases.
			c.found.add(LineEnd)
			c.out = append(c.out, '\n')
		default:
			c.found.add(Control)
		}
	case r < 0x7f:
		if c.super != 0 {
			r = c.raised(r)
		}
		c.out = utf8.AppendRune(c.out, r)
	case r == 0x7f:
		c.found.add(Control)
	case r < 0xa0:
		if u := rune1252(byte(r)); u != 0 {
			c.found.add(Misread)
			c.out = utf8.AppendRune(c.out, u)
		} else {
			c.found.add(Control)
		}
	case r == 0xa0, r == 0x1680, r >= 0x2000 && r <= 0x200a, r == 0x202f, r == 0x205f, r == 0x3000:
		c.found.add(Space)
		c.out = append(c.out, ' ')
	case r == 0xad, r == 0x200b, r == 0x2060:
		c.found.add(Invisible)
	case r == 0xfeff:
		c.found.add(ByteOrderMark)
	case r == 0x200c, r == 0x200d:
		// Joiners mean something in scripts that join and in emoji.
		if prev, _ := utf8.DecodeLastRune(c.out); prev >= 0x590 && prev != utf8.RuneError {
			c.out = utf8.AppendRune(c.out, r)
		} else {
			c.found.add(Invisible)
		}
	case r == 0x200e, r == 0x200f, r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
		if c.rightToLeft(cell) {
			c.out = utf8.AppendRune(c.out, r)
		} else {
			c.found.add(Invisible)
		}
	case r == 0x2028, r == 0x2029:
		c.found.add(LineEnd)
		c.out = append(c.out, '\n')
	case r == 0xfffe, r == 0xffff:
		c.found.add(Noncharacter)
	case r == utf8.RuneError:
		c.found.add(Lost)
		c.out = utf8.AppendRune(c.out, r)
	default:
		c.out = utf8.AppendRune(c.out, r)
	}
}

// rightToLeft reports whether a cell has text of a right-to-left script.
func (c *cleaner) rightToLeft(cell []byte) bool {
	if c.rtl == 0 {
		c.rtl = -1
		for _, r := range string(cell) {
			if r >= 0x590 && r <= 0x8ff || r >= 0xfb1d && r <= 0xfdff || r >= 0xfe70 && r <= 0xfeff ||
				r >= 0x10800 && r <= 0x10fff || r >= 0x1e800 && r <= 0x1efff {
				c.rtl = 1
				break
			}
		}
	}
	return c.rtl > 0
}

// raised gives the superscript or subscript form of a digit or sign, so that
// "10<sup>1</sup>/<sub>2</sub>" does not become 101/2.
func (c *cleaner) raised(r rune) rune {
	const from, up, down = "0123456789+-=()", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁼⁽⁾", "₀₁₂₃₄₅₆₇₈₉₊₋₌₍₎"
	i := bytes.IndexRune([]byte(from), r)
	if i < 0 {
		return r
	}
	form := []rune(up)
	if c.super < 0 {
		form = []rune(down)
	}
	return form[i]
}

package source

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math/bits"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/transform"
)

// The names of encodings.
const (
	encUTF8    = "utf-8"
	encUTF16   = "utf-16"
	encUTF16LE = "utf-16le"
	encUTF16BE = "utf-16be"
	encW1252   = "windows-1252"
	encLatin1  = "iso-8859-1"
)

// encodingName gives the one name of an encoding for the many it goes by, or "".
func encodingName(s string) string {
	switch n := strings.ToLower(strings.TrimSpace(s)); n {
	case "":
		return ""
	case "utf-8", "utf8", "us-ascii", "ascii":
		return encUTF8
	case "utf-16", "utf16", "unicode":
		return encUTF16
	case "utf-16le", "utf16le":
		return encUTF16LE
	case "utf-16be", "utf16be":
		return encUTF16BE
	case "windows-1252", "cp1252", "ansi":
		return encW1252
	case "iso-8859-1", "latin1", "latin-1":
		return encLatin1
	default:
		if _, err := htmlindex.Get(n); err != nil {
			return ""
		}
		return n
	}
}

// text is a file's content as UTF-8. Bytes that are not UTF-8 pass through in a
// UTF-8 file; halves of surrogate pairs come as their three-byte form: both are
// repaired and counted cell by cell.
type text struct {
	io.Reader
	encoding string
	bom      bool
}

// decode finds out the encoding and returns the text. window is scratch memory;
// its length is how far detection looks.
func decode(r io.Reader, declared string, xml bool, window []byte) (text, error) {
	n, err := io.ReadFull(r, window)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return text{}, err
	}
	head := window[:n]
	t := text{encoding: encodingName(declared)}
	skip := 0
	byMark, mark := bomOf(head)
	switch {
	case mark > 0 && (t.encoding == "" || t.encoding == byMark || t.encoding == encUTF16 && byMark != encUTF8):
		t.encoding, t.bom, skip = byMark, true, mark
	case t.encoding == encUTF16:
		t.encoding = encUTF16LE
		if looksUTF16(head) == encUTF16BE {
			t.encoding = encUTF16BE
		}
	case t.encoding == "":
		if xml {
			t.encoding = xmlEncoding(head)
		}
		if t.encoding == "" {
			t.encoding = detect(head, n < len(window))
		}
	}
	rest := &prefixed{head: head[skip:], r: r}
	switch t.encoding {
	case encUTF8:
		t.Reader = rest
	case encUTF16LE, encUTF16BE:
		t.Reader = &blocks{r: rest, conv: (&utf16Decoder{big: t.encoding == encUTF16BE}).convert}
	case encW1252:
		t.Reader = &blocks{r: rest, conv: convert1252}
	case encLatin1:
		t.Reader = &blocks{r: rest, conv: convertLatin1}
	default:
		e, err := htmlindex.Get(t.encoding)
		if err != nil {
			return text{}, err
		}
		t.Reader = transform.NewReader(rest, e.NewDecoder())
	}
	return t, nil
}

func bomOf(b []byte) (string, int) {
	switch {
	case bytes.HasPrefix(b, []byte{0xef, 0xbb, 0xbf}):
		return encUTF8, 3
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}):
		return encUTF16LE, 2
	case bytes.HasPrefix(b, []byte{0xfe, 0xff}):
		return encUTF16BE, 2
	}
	return "", 0
}

// detect tells UTF-8 from windows-1252, and UTF-16 without a mark by its zero
// bytes. A few bad bytes among much UTF-8 do not make a file windows-1252.
func detect(b []byte, whole bool) string {
	if e := looksUTF16(b); e != "" {
		return e
	}
	good, bad := 0, 0
	for i := 0; i < len(b); {
		if b[i] < utf8.RuneSelf {
			i++
			continue
		}
		r, size := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && size <= 1 {
			if !whole && !utf8.FullRune(b[i:]) {
				break // cut off by the window
			}
			bad++
		} else {
			good++
		}
		i += size
	}
	if bad > good {
		return encW1252
	}
	return encUTF8
}

// looksUTF16 goes by zero bytes on every other place.
func looksUTF16(b []byte) string {
	b = b[:min(len(b), 4096)&^1]
	var zero [2]int
	for i, c := range b {
		if c == 0 {
			zero[i&1]++
		}
	}
	half := len(b) / 2
	switch {
	case half < 2:
		return ""
	case zero[1]*2 > half && zero[0]*10 < half:
		return encUTF16LE
	case zero[0]*2 > half && zero[1]*10 < half:
		return encUTF16BE
	}
	return ""
}

// xmlEncoding reads the encoding declaration (XML 1.0 §4.3.3).
func xmlEncoding(b []byte) string {
	b = b[:min(len(b), 512)]
	if !bytes.HasPrefix(b, []byte("<?xml")) {
		return ""
	}
	end := bytes.Index(b, []byte("?>"))
	if end < 0 {
		return ""
	}
	_, after, ok := bytes.Cut(b[:end], []byte("encoding"))
	if !ok {
		return ""
	}
	after = bytes.TrimLeft(after, " \t\r\n=")
	if len(after) < 2 {
		return ""
	}
	name, _, ok := bytes.Cut(after[1:], after[:1])
	if !ok {
		return ""
	}
	e := encodingName(string(name))
	if e == encUTF16 || e == encUTF16LE || e == encUTF16BE {
		return encUTF8 // the declaration was readable as bytes, so it is wrong
	}
	return e
}

// prefixed reads head, then r.
type prefixed struct {
	head []byte
	r    io.Reader
}

func (p *prefixed) Read(b []byte) (int, error) {
	if len(p.head) > 0 {
		n := copy(b, p.head)
		p.head = p.head[n:]
		return n, nil
	}
	return p.r.Read(b)
}

// blocks converts a block at a time.
type blocks struct {
	r       io.Reader
	conv    func(dst, src []byte, last bool) (out []byte, used int)
	in, out []byte
	have    int
	off     int
	err     error
}

func (d *blocks) Read(b []byte) (int, error) {
	for d.off == len(d.out) {
		if d.err != nil {
			return 0, d.err
		}
		if d.in == nil {
			d.in = make([]byte, 32<<10)
		}
		n, err := d.r.Read(d.in[d.have:])
		d.have += n
		if err != nil {
			d.err = err
			if !errors.Is(err, io.EOF) {
				return 0, err
			}
		}
		var used int
		d.out, used = d.conv(d.out[:0], d.in[:d.have], d.err != nil)
		d.have = copy(d.in, d.in[used:d.have])
		d.off = 0
	}
	n := copy(b, d.out[d.off:])
	d.off += n
	return n, nil
}

type utf16Decoder struct{ big bool }

func (d *utf16Decoder) unit(b []byte) rune {
	if d.big {
		return rune(b[0])<<8 | rune(b[1])
	}
	return rune(b[1])<<8 | rune(b[0])
}

func (d *utf16Decoder) convert(dst, src []byte, last bool) ([]byte, int) {
	i := 0
	for {
		for i+8 <= len(src) {
			w := binary.LittleEndian.Uint64(src[i:])
			if d.big {
				w = bits.ReverseBytes64(w)
				w = w<<48 | w>>48 | w>>16&0xffff0000 | w&0xffff0000<<16
			}
			if w&0xff80_ff80_ff80_ff80 != 0 {
				break
			}
			dst = append(dst, byte(w), byte(w>>16), byte(w>>32), byte(w>>48))
			i += 8
		}
		if i+2 > len(src) {
			break
		}
		u := d.unit(src[i:])
		if !utf16.IsSurrogate(u) {
			dst = utf8.AppendRune(dst, u)
			i += 2
			continue
		}
		if i+4 > len(src) && !last {
			break
		}
		if i+4 <= len(src) {
			if r := utf16.DecodeRune(u, d.unit(src[i+2:])); r != utf8.RuneError {
				dst = utf8.AppendRune(dst, r)
				i += 4
				continue
			}
		}
		dst = appendSurrogate(dst, u)
		i += 2
	}
	if last && i < len(src) {
		dst = append(dst, "\ufffd"...)
		i = len(src)
	}
	return dst, i
}

// appendSurrogate writes half of a surrogate pair in the form UTF-8 would give
// it, for the cleaner to find.
func appendSurrogate(dst []byte, r rune) []byte {
	return append(dst, 0xe0|byte(r>>12), 0x80|byte(r>>6)&0x3f, 0x80|byte(r)&0x3f)
}

// upper1252 is what windows-1252 has at 0x80 to 0x9F (Unicode's mapping table
// CP1252); 0 where it has nothing.
var upper1252 = [32]rune{
	0x20ac, 0, 0x201a, 0x0192, 0x201e, 0x2026, 0x2020, 0x2021, 0x02c6, 0x2030, 0x0160, 0x2039, 0x0152, 0, 0x017d, 0,
	0, 0x2018, 0x2019, 0x201c, 0x201d, 0x2022, 0x2013, 0x2014, 0x02dc, 0x2122, 0x0161, 0x203a, 0x0153, 0, 0x017e, 0x0178,
}

// rune1252 is the character of a windows-1252 byte, or 0.
func rune1252(c byte) rune {
	if c >= 0x80 && c < 0xa0 {
		return upper1252[c-0x80]
	}
	return rune(c)
}

func convert1252(dst, src []byte, _ bool) ([]byte, int) {
	for i := 0; i < len(src); {
		if i+8 <= len(src) && binary.LittleEndian.Uint64(src[i:])&hi8 == 0 {
			dst = append(dst, src[i:i+8]...)
			i += 8
			continue
		}
		switch c := src[i]; {
		case c < utf8.RuneSelf:
			dst = append(dst, c)
		case c < 0xa0 && upper1252[c-0x80] != 0:
			dst = utf8.AppendRune(dst, upper1252[c-0x80])
		default:
			dst = append(dst, 0xc0|c>>6, 0x80|c&0x3f)
		}
		i++
	}
	return dst, len(src)
}

func convertLatin1(dst, src []byte, _ bool) ([]byte, int) {
	for i := 0; i < len(src); {
		if i+8 <= len(src) && binary.LittleEndian.Uint64(src[i:])&hi8 == 0 {
			dst = append(dst, src[i:i+8]...)
			i += 8
			continue
		}
		if c := src[i]; c < utf8.RuneSelf {
			dst = append(dst, c)
		} else {
			dst = append(dst, 0xc0|c>>6, 0x80|c&0x3f)
		}
		i++
	}
	return dst, len(src)
}

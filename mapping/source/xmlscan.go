package source

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"unicode/utf8"
)

// xmlKind is the kind of a token.
type xmlKind uint8

const (
	xmlStart xmlKind = iota + 1
	xmlEnd
	xmlText
)

// xmlAttr is an attribute; its value is as written.
type xmlAttr struct {
	name  []byte
	value []byte
}

// xmlScanner cuts a stream of UTF-8 into the tokens of an XML 1.0 document, with
// names as written. It checks that the document is well-formed, except that it
// lets characters pass that XML forbids (cells are repaired later, and counted),
// knows HTML's named characters, and does not read what a DOCTYPE declares. It
// makes no use of anything outside the document.
type xmlScanner struct {
	r   io.Reader
	buf []byte
	pos int
	end int
	eof bool
	err error // of r

	private bool // errors don't quote the file
	line    int  // at counted
	counted int
	head    int // characters of the line that were dropped with the buffer's front

	kind  xmlKind
	name  []byte    // of a start or end tag
	attrs []xmlAttr // of a start tag
	text  []byte    // character data, raw if coded
	coded bool      // text may hold references or carriage returns
	at    int       // where the token begins
	empty bool      // the start tag is also the end tag

	names  []byte // open elements
	open   []xmlOpen
	pend   bool // an end token for an empty element is due
	rooted bool // the root element has been met
	begun  bool
}

type xmlOpen struct {
	name int // begins in names
	line int
}

const (
	xmlBuffer    = 64 << 10
	xmlDepth     = 10000
	xmlAttrsMost = 5000
	xmlTagMost   = 16 << 20 // bytes of one tag, comment or section
)

func newXMLScanner(r io.Reader) *xmlScanner {
	x := &xmlScanner{buf: make([]byte, xmlBuffer)}
	x.reset(r)
	return x
}

// reset makes x ready for another document.
func (x *xmlScanner) reset(r io.Reader) {
	*x = xmlScanner{r: r, buf: x.buf, attrs: x.attrs[:0], names: x.names[:0], open: x.open[:0], line: 1}
}

// unquoted takes out of the arguments of a message what comes from the file: even a
// name may be private, as in "Jo Pell <jo@pell.example>".
func unquoted(args []any) []any {
	out := slices.Clone(args)
	for i, a := range out {
		switch a.(type) {
		case []byte, string:
			out[i] = "…"
		}
	}
	return out
}

// lineAt gives the line of a place in the buffer; places must not go back beyond
// the start of the token.
func (x *xmlScanner) lineAt(at int) int {
	if at > x.counted {
		x.line += bytes.Count(x.buf[x.counted:at], []byte{'\n'})
		x.counted = at
	}
	return x.line
}

// fail is an error at a place in the buffer.
func (x *xmlScanner) fail(at int, format string, args ...any) *Error {
	at = min(at, x.end)
	line := x.line
	if at >= x.counted {
		line += bytes.Count(x.buf[x.counted:at], []byte{'\n'})
	} else {
		line -= bytes.Count(x.buf[at:x.counted], []byte{'\n'})
	}
	from := bytes.LastIndexByte(x.buf[:at], '\n') + 1
	col := utf8.RuneCount(x.buf[from:at]) + 1
	if from == 0 {
		col += x.head
	}
	if x.private {
		args = unquoted(args)
	}
	return &Error{Line: line, Col: col, Reason: fmt.Sprintf(format, args...)}
}

// more reads on, keeping what lies behind the start of the token. It returns
// false at the end of the stream.
func (x *xmlScanner) more() bool {
	if x.eof {
		return false
	}
	if x.at > 0 {
		x.lineAt(x.at)
		if from := bytes.LastIndexByte(x.buf[:x.at], '\n'); from >= 0 {
			x.head = utf8.RuneCount(x.buf[from+1 : x.at])
		} else {
			x.head += utf8.RuneCount(x.buf[:x.at])
		}
		x.end = copy(x.buf, x.buf[x.at:x.end])
		x.pos -= x.at
		x.counted -= x.at
		x.at = 0
	}
	if x.end == len(x.buf) {
		if len(x.buf) > xmlTagMost {
			x.err = x.fail(0, "this tag or section is longer than %d MiB", xmlTagMost>>20)
			x.eof = true
			return false
		}
		x.buf = append(x.buf, make([]byte, len(x.buf))...)
	}
	for range 100 {
		n, err := x.r.Read(x.buf[x.end:])
		x.end += n
		if err != nil {
			x.eof = true
			if err != io.EOF {
				x.err = err
			}
			return n > 0
		}
		if n > 0 {
			return true
		}
	}
	x.eof, x.err = true, io.ErrNoProgress
	return false
}

// need makes n bytes from pos on available.
func (x *xmlScanner) need(n int) bool {
	for x.end-x.pos < n {
		if !x.more() {
			return false
		}
	}
	return true
}

// find gives the place of a mark at or after pos+skip, reading as far as it must;
// -1 if there is none.
func (x *xmlScanner) find(mark string, skip int) int {
	from := skip
	for {
		if x.pos+from <= x.end {
			if i := bytes.Index(x.buf[x.pos+from:x.end], []byte(mark)); i >= 0 {
				return x.pos + from + i
			}
			from = max(from, x.end-x.pos-len(mark)+1)
		}
		if !x.more() {
			return -1
		}
	}
}

// next finds the next token. Its parts are valid until the call after. At the end
// of a whole document the error is io.EOF; else it is an *Error without a file, or
// what the reader gave.
func (x *xmlScanner) next() (xmlKind, error) {
	if x.pend {
		x.pend = false
		return x.close()
	}
	for {
		x.at = x.pos
		if !x.need(1) {
			return 0, x.atEnd()
		}
		if x.buf[x.pos] != '<' {
			if done, err := x.chars(); done || err != nil {
				return x.kind, err
			}
			continue
		}
		if !x.need(2) {
			return 0, x.cut("a tag")
		}
		switch x.buf[x.pos+1] {
		case '/':
			return x.endTag()
		case '!':
			if done, err := x.bang(); done || err != nil {
				return x.kind, err
			}
		case '?':
			if err := x.instruction(); err != nil {
				return 0, err
			}
		default:
			return x.startTag()
		}
		x.begun = true
	}
}

func (x *xmlScanner) atEnd() error {
	switch {
	case x.err != nil:
		return x.err
	case len(x.open) > 0:
		o := x.open[len(x.open)-1]
		return x.fail(x.end, "the file ends before element %s, which began on line %d, is closed", x.names[o.name:], o.line)
	case !x.rooted:
		return x.fail(x.end, "there is no element in this file")
	}
	return io.EOF
}

// cut is the error for a file that ends within something.
func (x *xmlScanner) cut(what string) error {
	if x.err != nil {
		return x.err
	}
	return x.fail(x.at, "the file ends within "+what+" that begins here")
}

// chars takes character data up to the next tag. It returns false if there is
// nothing to hand on.
func (x *xmlScanner) chars() (bool, error) {
	end := -1
	for from := 0; end < 0; {
		if i := bytes.IndexByte(x.buf[x.pos+from:x.end], '<'); i >= 0 {
			end = x.pos + from + i
			break
		}
		from = x.end - x.pos
		if from >= xmlBuffer/2 && x.whole() {
			end = x.end - x.partial()
			break
		}
		if !x.more() {
			if x.err != nil {
				return false, x.err
			}
			end = x.end
		}
	}
	b := x.buf[x.pos:end]
	x.pos = end
	x.begun = true
	if len(x.open) == 0 {
		if t := trim(b); len(t) > 0 {
			at := x.at + bytes.IndexByte(b, t[0])
			return false, x.fail(at, "there is text outside the root element")
		}
		return false, nil
	}
	x.kind, x.text = xmlText, b
	amp := bytes.IndexByte(b, '&')
	if i := bytes.Index(b, []byte("]]>")); i >= 0 {
		return false, x.fail(x.at+i, "]]> may only stand at the end of a CDATA section")
	}
	if amp >= 0 {
		if bad, why, ref := checkReferences(b[amp:]); bad >= 0 {
			return false, x.fail(x.at+amp+bad, why, ref...)
		}
	}
	x.coded = amp >= 0 || bytes.IndexByte(b, '\r') >= 0
	return true, nil
}

// whole reports whether long text may be handed on in pieces here.
func (x *xmlScanner) whole() bool { return x.end-x.pos > x.partial() }

// partial is the number of bytes at the end of the buffer that may be the
// beginning of something that must not be split: a reference, a line end, "]]>",
// a character.
func (x *xmlScanner) partial() int {
	tail := x.buf[max(x.pos, x.end-40):x.end]
	if i := bytes.LastIndexByte(tail, '&'); i >= 0 && bytes.IndexByte(tail[i:], ';') < 0 {
		return len(tail) - i
	}
	n := 0
	for n < len(tail) && (tail[len(tail)-1-n] == ']' || tail[len(tail)-1-n] == '\r') {
		n++
	}
	if n > 0 {
		return n
	}
	for i := 1; i <= min(3, len(tail)); i++ {
		if c := tail[len(tail)-i]; utf8.RuneStart(c) {
			if c >= utf8.RuneSelf && !utf8.FullRune(tail[len(tail)-i:]) {
				return i
			}
			break
		}
	}
	return 0
}

func (x *xmlScanner) startTag() (xmlKind, error) {
	end, err := x.tagEnd()
	if err != nil {
		return 0, err
	}
	if len(x.open) == 0 && x.rooted {
		return 0, x.fail(x.at, "a second root element; XML has only one")
	}
	x.rooted, x.begun = true, true
	b := x.buf[:end-1] // without >
	x.empty = b[len(b)-1] == '/'
	if x.empty {
		b = b[:len(b)-1]
	}
	i := nameEnd(b, x.at+1)
	if i == x.at+1 {
		return 0, x.fail(x.at, "a < that begins no tag; write &lt;")
	}
	x.name = b[x.at+1 : i]
	x.attrs = x.attrs[:0]
	for {
		gap := i
		for i < len(b) && blank(b[i]) {
			i++
		}
		if i == len(b) {
			break
		}
		if i == gap {
			return 0, x.fail(i, "a space is missing in the tag of element %s", x.name)
		}
		n := nameEnd(b, i)
		if n == i {
			return 0, x.fail(i, "the name of an attribute of element %s is expected here", x.name)
		}
		a := xmlAttr{name: b[i:n]}
		for i = n; i < len(b) && blank(b[i]); {
			i++
		}
		if i == len(b) || b[i] != '=' {
			return 0, x.fail(i, "attribute %s has no value", a.name)
		}
		for i++; i < len(b) && blank(b[i]); {
			i++
		}
		if i == len(b) || b[i] != '"' && b[i] != '\'' {
			return 0, x.fail(i, "the value of attribute %s is not in quotation marks", a.name)
		}
		n = bytes.IndexByte(b[i+1:], b[i])
		if n < 0 {
			return 0, x.fail(i, "the value of attribute %s is not closed", a.name)
		}
		a.value = b[i+1 : i+1+n]
		if lt := bytes.IndexByte(a.value, '<'); lt >= 0 {
			return 0, x.fail(i+1+lt, "a < in the value of attribute %s; write &lt;", a.name)
		}
		if bad, why, ref := checkReferences(a.value); bad >= 0 {
			return 0, x.fail(i+1+bad, why, ref...)
		}
		if len(x.attrs) >= xmlAttrsMost {
			return 0, x.fail(i, "element %s has more than %d attributes", x.name, xmlAttrsMost)
		}
		for _, o := range x.attrs {
			if bytes.Equal(o.name, a.name) {
				return 0, x.fail(i, "element %s has attribute %s twice", x.name, a.name)
			}
		}
		x.attrs = append(x.attrs, a)
		i += n + 2
	}
	if len(x.open) >= xmlDepth {
		return 0, x.fail(x.at, "elements are nested more than %d deep", xmlDepth)
	}
	x.open = append(x.open, xmlOpen{len(x.names), x.lineAt(x.at)})
	x.names = append(x.names, x.name...)
	x.pos = end
	x.pend = x.empty
	x.kind = xmlStart
	return xmlStart, nil
}

// tagEnd gives the place behind the > of the tag at pos. A > within quotation
// marks does not end it.
func (x *xmlScanner) tagEnd() (int, error) {
	i, quote := 1, byte(0)
	for {
		b := x.buf[x.pos:x.end]
		for i < len(b) {
			if quote != 0 {
				n := bytes.IndexByte(b[i:], quote)
				if n < 0 {
					i = len(b)
					break
				}
				i += n
				quote = 0
			} else {
				switch b[i] {
				case '>':
					return x.pos + i + 1, nil
				case '"', '\'':
					quote = b[i]
				case '<':
					return 0, x.fail(x.pos+i, "a < within a tag; was the tag begun on line %d meant as text? Write &lt;", x.lineAt(x.at))
				}
			}
			i++
		}
		if !x.more() {
			return 0, x.cut("a tag")
		}
	}
}

func (x *xmlScanner) endTag() (xmlKind, error) {
	gt := x.find(">", 2)
	if gt < 0 {
		return 0, x.cut("an end tag")
	}
	name := x.buf[x.at+2 : gt]
	for len(name) > 0 && blank(name[len(name)-1]) {
		name = name[:len(name)-1]
	}
	if len(x.open) == 0 {
		return 0, x.fail(x.at, "</%s> closes nothing", name)
	}
	o := x.open[len(x.open)-1]
	if open := x.names[o.name:]; !bytes.Equal(name, open) {
		return 0, x.fail(x.at, "</%s> stands where element %s, which began on line %d, should be closed", preview(string(name)), open, o.line)
	}
	x.pos = gt + 1
	return x.close()
}

// close ends the innermost element.
func (x *xmlScanner) close() (xmlKind, error) {
	o := x.open[len(x.open)-1]
	x.open = x.open[:len(x.open)-1]
	x.name = x.names[o.name:]
	x.names = x.names[:o.name]
	x.kind = xmlEnd
	return xmlEnd, nil
}

// bang takes a comment, CDATA section or DOCTYPE. It returns true for text.
func (x *xmlScanner) bang() (bool, error) {
	switch {
	case x.need(4) && string(x.buf[x.pos:x.pos+4]) == "<!--":
		end := x.find("--", 4)
		if end < 0 {
			return false, x.cut("a comment")
		}
		size := end + 3 - x.pos
		if !x.need(size) {
			return false, x.cut("a comment")
		}
		if x.buf[x.pos+size-1] != '>' {
			return false, x.fail(x.pos+size-3, "-- within a comment")
		}
		x.pos += size
		return false, nil
	case x.need(9) && string(x.buf[x.pos:x.pos+9]) == "<![CDATA[":
		end := x.find("]]>", 9)
		if end < 0 {
			return false, x.cut("a CDATA section")
		}
		if len(x.open) == 0 {
			return false, x.fail(x.at, "there is text outside the root element")
		}
		b := x.buf[x.pos+9 : end]
		x.pos = end + 3
		x.kind, x.text, x.coded = xmlText, b, false
		if bytes.IndexByte(b, '\r') >= 0 {
			x.text = lineEnds(b)
		}
		return true, nil
	case x.need(9) && string(x.buf[x.pos:x.pos+9]) == "<!DOCTYPE":
		if x.rooted {
			return false, x.fail(x.at, "a DOCTYPE must stand before the root element")
		}
		return false, x.doctype()
	}
	return false, x.fail(x.at, "<! begins neither a comment nor a CDATA section nor a DOCTYPE")
}

// doctype passes over the document type declaration and its internal subset.
func (x *xmlScanner) doctype() error {
	depth, quote := 0, byte(0)
	for i := 9; ; i++ {
		if !x.need(i + 1) {
			return x.cut("a DOCTYPE")
		}
		switch c := x.buf[x.pos+i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '[' || c == '<':
			if c == '<' && x.need(i+4) && string(x.buf[x.pos+i:x.pos+i+4]) == "<!--" {
				end := x.find("-->", i+4)
				if end < 0 {
					return x.cut("a DOCTYPE")
				}
				i = end - x.pos + 2
				continue
			}
			depth++
		case c == ']':
			depth--
		case c == '>':
			if depth == 0 {
				x.pos += i + 1
				return nil
			}
			depth--
		}
	}
}

func (x *xmlScanner) instruction() error {
	end := x.find("?>", 2)
	if end < 0 {
		return x.cut("a processing instruction")
	}
	n := nameEnd(x.buf[:end], x.pos+2)
	if n == x.pos+2 {
		return x.fail(x.at, "a processing instruction without a name")
	}
	if name := x.buf[x.pos+2 : n]; bytes.EqualFold(name, []byte("xml")) && x.begun {
		return x.fail(x.at, "the XML declaration must stand at the very beginning of the file")
	}
	x.pos = end + 2
	return nil
}

// nameEnd gives the end of the XML name at b[i:]. Of characters beyond ASCII all
// are taken for name characters.
func nameEnd(b []byte, i int) int {
	from := i
	for i < len(b) {
		c := b[i]
		if c >= utf8.RuneSelf || c|0x20-'a' < 26 || c == '_' || c == ':' ||
			i > from && (c-'0' < 10 || c == '-' || c == '.') {
			i++
			continue
		}
		break
	}
	return i
}

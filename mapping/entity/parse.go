package entity

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
	"unsafe"

	"ropewalk/vocab"
)

// Context is the address of the profile's JSON-LD context: the value of
// "@context" in every document.
const Context = "https://linked.art/ns/v1/linked-art.json"

// maxDepth is the deepest nesting of nodes that Parse accepts.
const maxDepth = 64

// ParseError says where and why a document cannot be read.
type ParseError struct {
	Path   string // such as "$.identified_by[2].content"
	At     int    // byte offset in the document, from 0
	Reason string
}

func (e *ParseError) Error() string {
	return fmt.Sprintf("%s (byte %d): %s", e.Path, e.At+1, e.Reason)
}

// Parse reads a document from its JSON-LD. Keys is what [Keys] gave for it, ""
// for none.
//
// It reads what the renderer of JSON-LD writes, byte for byte the same when written again, with
// any white space: in every node "id" (of a reference or the document) and "type"
// stand before other keys, and in the root "@context" before those. A class or key
// that no shape of the profile allows where it stands, a key given twice, an IRI
// that is not legal, an empty array and a number that a double does not hold are
// errors, each a [*ParseError].
func Parse(body []byte, keys string) (*Document, error) {
	d := new(Document)
	if err := d.Parse(body, keys); err != nil {
		return nil, err
	}
	return d, nil
}

// Parse is [Parse] into a document whose memory is used again. After an error d
// is empty.
func (d *Document) Parse(body []byte, keys string) error {
	d.Reset()
	d.buf = append(d.buf, body...)
	p := parser{d: d, s: d.buf}
	err := p.document(keys)
	if err != nil {
		d.Reset()
	}
	return err
}

// step is a part of the path to the value being read.
type step struct {
	key   string
	index int // in the array; -1 outside of one
}

type parser struct {
	d    *Document
	s    []byte // the text; strings with escapes are unescaped in place
	pos  int
	path []step
	keys keyReader
	seen []*vocab.Term  // keys of the open nodes
	fits []*vocab.Shape // shapes that the open nodes may have
}

func (p *parser) fail(format string, args ...any) error {
	var b strings.Builder
	b.WriteByte('$')
	for _, s := range p.path {
		b.WriteByte('.')
		b.WriteString(s.key)
		if s.index >= 0 {
			b.WriteByte('[')
			b.WriteString(strconv.Itoa(s.index))
			b.WriteByte(']')
		}
	}
	return &ParseError{Path: b.String(), At: p.pos, Reason: fmt.Sprintf(format, args...)}
}

func (p *parser) document(keys string) (err error) {
	if p.keys, err = newKeyReader(keys); err != nil {
		return p.fail("%s", err)
	}
	if err := p.node(nil, false, nil); err != nil {
		return err
	}
	p.space()
	if p.pos < len(p.s) {
		return p.fail("more text after the document")
	}
	if p.keys.next >= 0 {
		return p.fail("%s: it names more embedded nodes than there are", errKeys)
	}
	return nil
}

// node reads a node. Shapes are those allowed where it stands; nil for the root.
func (p *parser) node(term *vocab.Term, many bool, shapes []*vocab.Shape) error {
	if len(p.d.open) >= maxDepth {
		return p.fail("nodes nested deeper than %d", maxDepth)
	}
	if err := p.expect('{', "a node"); err != nil {
		return err
	}
	root := term == nil
	key, err := p.key()
	if err != nil {
		return err
	}
	if root {
		if key != "@context" {
			return p.fail(`the first key must be "@context"`)
		}
		if c, err := p.text(); err != nil {
			return err
		} else if c != Context {
			return p.fail("the context must be %s", Context)
		}
		if key, err = p.nextKey("id"); err != nil {
			return err
		}
	}
	ref, iri := key == "id", ""
	switch {
	case ref:
		if iri, err = p.text(); err != nil {
			return err
		}
		if err := CheckIRI(iri); err != nil {
			return p.fail("%s", err)
		}
		if key, err = p.nextKey("type"); err != nil {
			return err
		}
	case root:
		return p.fail(`"id" must follow "@context"`)
	default:
		if iri, err = p.keys.key(); err != nil {
			return p.fail("%s", err)
		}
	}
	if key != "type" {
		if ref {
			return p.fail(`"type" must follow "id"`)
		}
		return p.fail(`the first key of a node must be "id" or "type"`)
	}
	name, err := p.text()
	if err != nil {
		return err
	}
	class := vocab.ClassByKey(name)
	if class == nil {
		return p.fail("the profile has no class %q", name)
	}
	fitsFrom, seenFrom := len(p.fits), len(p.seen)
	if err := p.fit(class, ref, root, shapes); err != nil {
		return err
	}
	p.d.Begin(term, many, class, ref, iri, -1)
	for {
		p.space()
		if p.pos < len(p.s) && p.s[p.pos] == '}' {
			p.pos++
			break
		}
		if key, err = p.nextKey(""); err != nil {
			return err
		}
		if err := p.property(class, key, fitsFrom, seenFrom); err != nil {
			return err
		}
	}
	p.d.End()
	clear(p.fits[fitsFrom:])
	p.fits, p.seen = p.fits[:fitsFrom], p.seen[:seenFrom]
	return nil
}

// fit puts the shapes that a node may have on top of p.fits.
func (p *parser) fit(class *vocab.Class, ref, root bool, shapes []*vocab.Shape) error {
	from := len(p.fits)
	if root {
		for _, e := range vocab.Record(class) {
			p.fits = append(p.fits, e.Shape)
		}
		if len(p.fits) == from {
			return p.fail("no document of the profile has the class %s", class.Key)
		}
		return nil
	}
	for _, s := range shapes {
		if s.Allows(class) && ref == (s.ID == vocab.IDRequired) {
			p.fits = append(p.fits, s)
		}
	}
	if len(p.fits) > from {
		return nil
	}
	if ref {
		return p.fail("a reference to a %s may not stand here", class.Key)
	}
	return p.fail("an embedded %s may not stand here", class.Key)
}

// property reads the value or values of a key.
func (p *parser) property(class *vocab.Class, key string, fitsFrom, seenFrom int) error {
	p.path = append(p.path, step{key, -1})
	term := class.Term(key)
	p.space()
	many := p.pos < len(p.s) && p.s[p.pos] == '['
	n, known := fitsFrom, false
	var slot *vocab.Slot
	for _, s := range p.fits[fitsFrom:] {
		if sl := s.Slot(key); sl != nil {
			known = true
			if sl.Many == many {
				p.fits[n], slot = s, sl
				n++
			}
		}
	}
	switch {
	case !known || term == nil:
		return p.fail("%s has no key %q here", class.Key, key)
	case n == fitsFrom && many:
		return p.fail("one value is wanted, not an array")
	case n == fitsFrom:
		return p.fail("an array is wanted")
	}
	p.fits = p.fits[:n]
	for _, t := range p.seen[seenFrom:] {
		if t == term {
			return p.fail("the key stands twice in the node")
		}
	}
	p.seen = append(p.seen, term)
	shapes := slot.Shapes
	if slot.Kind == vocab.KindNode {
		shapes = allowed(p.fits[fitsFrom:n], key, slot)
	}
	if !many {
		if err := p.value(term, false, shapes); err != nil {
			return err
		}
	} else if err := p.array(term, shapes); err != nil {
		return err
	}
	p.path = p.path[:len(p.path)-1]
	return nil
}

var anyShape = vocab.Shapes()

// allowed lists the shapes that a value of key may have in any of the shapes.
func allowed(fits []*vocab.Shape, key string, slot *vocab.Slot) []*vocab.Shape {
	if slot.Shapes == nil {
		return anyShape
	}
	if len(fits) == 1 {
		return slot.Shapes
	}
	var all []*vocab.Shape
	for _, s := range fits {
		sl := s.Slot(key)
		if sl.Shapes == nil {
			return anyShape
		}
		all = append(all, sl.Shapes...)
	}
	return all
}

func (p *parser) array(term *vocab.Term, shapes []*vocab.Shape) error {
	p.pos++
	at := len(p.path) - 1
	for i := 0; ; i++ {
		p.path[at].index = i
		p.space()
		if i == 0 && p.pos < len(p.s) && p.s[p.pos] == ']' {
			return p.fail("an empty array")
		}
		if err := p.value(term, true, shapes); err != nil {
			return err
		}
		p.space()
		switch {
		case p.pos < len(p.s) && p.s[p.pos] == ',':
			p.pos++
		case p.pos < len(p.s) && p.s[p.pos] == ']':
			p.pos++
			p.path[at].index = -1
			return nil
		default:
			return p.fail(`"," or "]" is missing`)
		}
	}
}

func (p *parser) value(term *vocab.Term, many bool, shapes []*vocab.Shape) error {
	switch term.Kind {
	case vocab.KindNode:
		return p.node(term, many, shapes)
	case vocab.KindNumber:
		n, err := p.number()
		if err == nil {
			p.d.Value(Number, term, many, n, -1)
		}
		return err
	}
	at := p.pos
	s, err := p.text()
	if err != nil {
		return err
	}
	switch term.Kind {
	case vocab.KindDateTime:
		p.d.Value(DateTime, term, many, s, -1)
	case vocab.KindTerm:
		if p.d.resolve(p.d.open[len(p.d.open)-1], s) == "" {
			p.pos = at
			return p.fail("%q names no term of the profile's context", s)
		}
		p.d.Value(TermName, term, many, s, -1)
	default:
		p.d.Text(term, many, s, -1)
	}
	return nil
}

func (p *parser) space() {
	for p.pos < len(p.s) {
		switch p.s[p.pos] {
		case ' ', '\t', '\n', '\r':
			p.pos++
		default:
			return
		}
	}
}

func (p *parser) expect(c byte, what string) error {
	p.space()
	if p.pos >= len(p.s) {
		return p.fail("the text ends where %s should stand", what)
	}
	if p.s[p.pos] != c {
		return p.fail("%s is wanted", what)
	}
	p.pos++
	return nil
}

// key reads a key and its colon.
func (p *parser) key() (string, error) {
	k, err := p.text()
	if err != nil {
		return "", err
	}
	return k, p.expect(':', `":"`)
}

// nextKey reads a comma and the key after it. If want is not "", its absence is
// part of the error.
func (p *parser) nextKey(want string) (string, error) {
	p.space()
	if p.pos >= len(p.s) || p.s[p.pos] != ',' {
		if want != "" {
			return "", p.fail("%q is missing", want)
		}
		return "", p.fail(`"," or "}" is missing`)
	}
	p.pos++
	return p.key()
}

// text reads a string.
func (p *parser) text() (string, error) {
	if err := p.expect('"', "a string"); err != nil {
		return "", err
	}
	from, ascii := p.pos, byte(0)
	for ; p.pos < len(p.s); p.pos++ {
		c := p.s[p.pos]
		if c == '"' {
			b := p.s[from:p.pos]
			if ascii >= utf8.RuneSelf && !utf8.Valid(b) {
				p.pos = from
				return "", p.fail("the string is not UTF-8")
			}
			p.pos++
			return unsafe.String(unsafe.SliceData(b), len(b)), nil
		}
		if c == '\\' {
			return p.escaped(from)
		}
		if c < ' ' {
			return "", p.fail("a control character in a string")
		}
		ascii |= c
	}
	return "", p.fail("the text ends within a string")
}

// escaped reads on from a string's first escape, and unescapes in place.
func (p *parser) escaped(from int) (string, error) {
	w := p.pos
	for p.pos < len(p.s) {
		c := p.s[p.pos]
		switch {
		case c == '"':
			p.pos++
			b := p.s[from:w]
			if !utf8.Valid(b) {
				return "", p.fail("the string is not UTF-8")
			}
			return unsafe.String(unsafe.SliceData(b), len(b)), nil
		case c < ' ':
			return "", p.fail("a control character in a string")
		case c != '\\':
			p.s[w] = c
			w++
			p.pos++
		default:
			r, n := p.escape(p.s[p.pos:])
			if n == 0 {
				return "", p.fail("a wrong escape in a string")
			}
			w += utf8.EncodeRune(p.s[w:w+n], r)
			p.pos += n
		}
	}
	return "", p.fail("the text ends within a string")
}

// escape decodes the escape at the beginning of s, of n bytes; 0 if it is wrong.
func (p *parser) escape(s []byte) (r rune, n int) {
	if len(s) < 2 {
		return 0, 0
	}
	switch s[1] {
	case '"', '\\', '/':
		return rune(s[1]), 2
	case 'b':
		return '\b', 2
	case 'f':
		return '\f', 2
	case 'n':
		return '\n', 2
	case 'r':
		return '\r', 2
	case 't':
		return '\t', 2
	case 'u':
		r := hex4(s[2:])
		if !utf16.IsSurrogate(r) {
			if r < 0 {
				return 0, 0
			}
			return r, 6
		}
		if len(s) >= 12 && s[6] == '\\' && s[7] == 'u' {
			if r = utf16.DecodeRune(r, hex4(s[8:])); r != utf8.RuneError {
				return r, 12
			}
		}
	}
	return 0, 0
}

// hex4 is the value of four hexadecimal digits, -1 if there are none.
func hex4(s []byte) rune {
	if len(s) < 4 {
		return -1
	}
	var r rune
	for _, c := range s[:4] {
		switch {
		case '0' <= c && c <= '9':
			r = r<<4 | rune(c-'0')
		case 'a' <= c && c <= 'f':
			r = r<<4 | rune(c-'a'+10)
		case 'A' <= c && c <= 'F':
			r = r<<4 | rune(c-'A'+10)
		default:
			return -1
		}
	}
	return r
}

// number reads a JSON number (RFC 8259 §6) and gives its shortest form.
func (p *parser) number() (string, error) {
	p.space()
	from := p.pos
	digits := func() bool {
		at := p.pos
		for p.pos < len(p.s) && '0' <= p.s[p.pos] && p.s[p.pos] <= '9' {
			p.pos++
		}
		return p.pos > at
	}
	is := func(chars string) bool {
		if p.pos < len(p.s) && strings.IndexByte(chars, p.s[p.pos]) >= 0 {
			p.pos++
			return true
		}
		return false
	}
	is("-")
	ok := is("0") || digits()
	if ok && is(".") {
		ok = digits()
	}
	if ok && is("eE") {
		is("+-")
		ok = digits()
	}
	b := p.s[from:p.pos]
	if !ok {
		p.pos = from
		return "", p.fail("a number is wanted")
	}
	text := unsafe.String(unsafe.SliceData(b), len(b))
	short, ok := canonicalNumber(text)
	if !ok {
		p.pos = from
		return "", p.fail("the number %s is beyond what a double holds", text)
	}
	return short, nil
}

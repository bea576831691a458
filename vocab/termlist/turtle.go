package termlist

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// tidy rewrites Turtle or N-Triples text into a form that the decoder reads
// without harm, and checks what it would stumble over. The decoder's lexer runs
// on a goroutine of its own and panics there, beyond recovery, at an IRI that
// does not end on its line, at a number that begins with a point or at a quote
// right behind an empty literal; it also loses lines of a long literal that begin
// with "#", and refuses a number at the end of a line, and takes a text as complete
// that stops within a list of values. So literals become short ones and stand
// apart, comments go, numbers get a digit before the point, and a space stands
// before each line end. Relative IRIs, which the decoder merely puts behind the
// base, are made absolute. Lines keep their numbers.
//
// The productions are those of RDF 1.1 Turtle §6.5.
func tidy(data []byte, base string) ([]byte, *Error) {
	t := tidier{in: data, line: 1, base: base, out: make([]byte, 0, len(data)+len(data)/16)}
	for t.at < len(t.in) {
		if err := t.step(); err != nil {
			return nil, err
		}
	}
	t.settle()
	if err := t.ended(); err != nil {
		return nil, err
	}
	return append(t.out, " \n"...), nil
}

type tidier struct {
	in     []byte
	at     int
	line   int
	base   string
	open   int  // brackets that are not closed
	last   byte // the first of the token before; 0 at the beginning
	behind bool // right behind a literal
	owed   int  // line ends of a literal that stand behind it in what is written
	out    []byte
}

func (t *tidier) fault(format string, args ...any) *Error {
	return &Error{Line: t.line, Reason: "RDF: " + fmt.Sprintf(format, args...)}
}

// step reads one token and writes it with a space before it; only what says the
// language or datatype of a literal stands right behind it, as it must.
func (t *tidier) step() *Error {
	c := t.in[t.at]
	switch {
	case c == '\n':
		t.out = append(t.out, " \n"...)
		t.line++
		t.behind = false
		t.at++
		return nil
	case c == ' ' || c == '\t' || c == '\r':
		t.behind = false
		t.at++
		return nil
	case c == '#':
		end := bytes.IndexByte(t.in[t.at:], '\n')
		if end < 0 {
			end = len(t.in) - t.at
		}
		t.at += end
		return nil
	case c == 0:
		return t.fault("a NUL character")
	}
	rest := t.in[t.at:]
	tag := t.behind && (c == '@' || c == '^')
	t.behind = false
	if !tag {
		if t.last != '^' { // the datatype belongs to the literal
			t.settle()
		}
		t.out = append(t.out, ' ')
	}
	was := t.last
	t.last = c
	switch {
	case c == '<':
		return t.iri()
	case c == '"' || c == '\'':
		t.behind = true
		return t.literal(c)
	case c == '@' && tag:
		return t.take(tagLength(rest))
	case c == '@' && (bytes.HasPrefix(rest, []byte("@prefix")) || bytes.HasPrefix(rest, []byte("@base"))):
		return t.take(tagLength(rest))
	case bytes.HasPrefix(rest, []byte("^^")) && tag:
		return t.take(2)
	case isDigit(c) || (c == '+' || c == '-' || c == '.') && number(rest) > 0:
		t.last = '0'
		return t.number(number(rest))
	case c == '.':
		if was == '.' || was == 0 {
			return t.fault("a full stop without a statement")
		}
		return t.take(1)
	case c == '(' || c == '[':
		t.open++
		return t.take(1)
	case c == ')' || c == ']':
		t.open--
		return t.take(1)
	case c == ',' || c == ';':
		return t.take(1)
	}
	if n := name(rest); n > 0 && known(string(rest[:n])) {
		return t.take(n)
	}
	return t.fault("%s is nothing that can stand here", preview(rest))
}

// known reports whether a name is one at which the decoder does no harm. It begins
// names with keywords by reading the keyword, and parts the labels of blank nodes at
// two full stops; at what is left it may read the same digit for ever.
func known(name string) bool {
	prefix, _, ok := strings.Cut(name, ":")
	low := strings.ToLower(prefix)
	switch {
	case !ok:
		return name == "a" || name == "true" || name == "false" || low == "prefix" || low == "base"
	case prefix == "_":
		return !strings.Contains(name, "..")
	case strings.HasPrefix(low, "a."), strings.HasPrefix(low, "true"), strings.HasPrefix(low, "false"), strings.HasPrefix(low, "prefix"), strings.HasPrefix(low, "base"):
		return !strings.Contains(prefix, ".") && !strings.Contains(name, "..")
	}
	return true
}

// settle writes the line ends that are owed.
func (t *tidier) settle() {
	for ; t.owed > 0; t.owed-- {
		t.out = append(t.out, " \n"...)
	}
}

// take writes the next n bytes as they are.
func (t *tidier) take(n int) *Error {
	t.out = append(t.out, t.in[t.at:t.at+n]...)
	t.at += n
	return nil
}

// number writes a number of n bytes, with a digit before the point.
func (t *tidier) number(n int) *Error {
	if c := t.in[t.at]; c == '+' || c == '-' {
		t.out = append(t.out, c)
		t.at++
		n--
	}
	if t.in[t.at] == '.' {
		t.out = append(t.out, '0')
	}
	return t.take(n)
}

// number is the length of the number at the start of b, or 0 (productions INTEGER,
// DECIMAL and DOUBLE).
func number(b []byte) int {
	i := 0
	digits := func() int {
		from := i
		for i < len(b) && isDigit(b[i]) {
			i++
		}
		return i - from
	}
	if i < len(b) && (b[i] == '+' || b[i] == '-') {
		i++
	}
	whole := digits()
	if point := i; i < len(b) && b[i] == '.' {
		i++
		if digits() == 0 && (whole == 0 || exponent(b[i:]) == 0) {
			i = point
		} else {
			whole++
		}
	}
	if whole == 0 {
		return 0
	}
	return i + exponent(b[i:])
}

// exponent is the length of an exponent at the start of b, or 0.
func exponent(b []byte) int {
	i := 0
	if i == len(b) || b[i]|0x20 != 'e' {
		return 0
	}
	if i++; i < len(b) && (b[i] == '+' || b[i] == '-') {
		i++
	}
	from := i
	for i < len(b) && isDigit(b[i]) {
		i++
	}
	if i == from {
		return 0
	}
	return i
}

// tagLength is the length of a language tag or directive at the start of b.
func tagLength(b []byte) int {
	n := 1
	for n < len(b) && (isDigit(b[n]) || b[n] == '-' || b[n]|0x20 >= 'a' && b[n]|0x20 <= 'z') {
		n++
	}
	return n
}

// name is the length of a prefixed name, blank node label or keyword at the start of
// b, or 0. A full stop at its end is not part of it.
func name(b []byte) int {
	n := 0
	for i := 0; i < len(b); {
		c := b[i]
		switch {
		case c|0x20 >= 'a' && c|0x20 <= 'z', c == ':', c >= 0x80, c == '_', i > 0 && (isDigit(c) || c == '-'), c == '%':
			i++
			n = i
		case c == '.' && i > 0:
			i++
		case c == '\\' && i+1 < len(b) && b[i+1] > ' ':
			i += 2
			n = i
		default:
			return n
		}
	}
	return n
}

// ended reports a text that stops within a statement, which the decoder takes as
// complete after a comma or an open bracket.
func (t *tidier) ended() *Error {
	text := bytes.TrimRight(t.out, " \t\r\n")
	t.line -= bytes.Count(t.out[len(text):], []byte("\n"))
	if len(text) == 0 || t.open == 0 && text[len(text)-1] == '.' {
		return nil
	}
	if t.open > 0 {
		return t.fault("a bracket is not closed")
	}
	last := text[bytes.LastIndexByte(text, '\n')+1:]
	if len(last) > 6 && (bytes.EqualFold(last[:6], []byte("prefix")) || bytes.EqualFold(last[:4], []byte("base"))) && last[len(last)-1] == '>' {
		return nil
	}
	return t.fault("the text ends within a statement; a full stop is missing")
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// iri reads an IRIREF and writes it without escapes, absolute if there is a base.
func (t *tidier) iri() *Error {
	end := bytes.IndexAny(t.in[t.at:], ">\n")
	if end < 0 || t.in[t.at+end] == '\n' {
		return t.fault("an IRI that does not end on its line: %s", preview(t.in[t.at:]))
	}
	body := t.in[t.at+1 : t.at+end]
	ref := make([]byte, 0, len(body))
	for i := 0; i < len(body); i++ {
		c := body[i]
		switch {
		case c == '\\':
			r, n, ok := numericEscape(body[i:])
			if !ok {
				return t.fault("a bad escape in the IRI %s", preview(body))
			}
			if r <= ' ' || strings.ContainsRune("<>\"{}|^`\\", r) {
				return t.fault("the IRI %s has a %q in it", preview(body), r)
			}
			ref = utf8.AppendRune(ref, r)
			i += n - 1
		case c <= ' ' || strings.IndexByte("<\"{}|^`", c) >= 0:
			return t.fault("the IRI %s has a %q in it", preview(body), c)
		default:
			ref = append(ref, c)
		}
	}
	isBase := t.afterBase()
	iri := resolve(t.base, string(ref))
	if isBase {
		t.base = iri
	}
	t.out = append(t.out, '<')
	t.out = append(t.out, iri...)
	t.out = append(t.out, '>')
	t.at += end + 1
	return nil
}

// afterBase reports whether the text so far ends in @base or BASE.
func (t *tidier) afterBase() bool {
	before := bytes.TrimRight(t.out, " \t\r\n")
	if bytes.HasSuffix(before, []byte("@base")) {
		return true
	}
	i := len(before) - len("base")
	return i >= 0 && bytes.EqualFold(before[i:], []byte("base")) && (i == 0 || strings.IndexByte(" \t\r\n.", before[i-1]) >= 0)
}

// numericEscape reads \uXXXX or \UXXXXXXXX at the start of b.
func numericEscape(b []byte) (r rune, n int, ok bool) {
	if len(b) < 2 {
		return 0, 0, false
	}
	switch b[1] {
	case 'u':
		n = 6
	case 'U':
		n = 10
	default:
		return 0, 0, false
	}
	if len(b) < n {
		return 0, 0, false
	}
	v, err := strconv.ParseUint(string(b[2:n]), 16, 32)
	if err != nil || !utf8.ValidRune(rune(v)) {
		return 0, 0, false
	}
	return rune(v), n, true
}

// literal reads a literal in any of the four kinds of quotes and writes it in
// double quotes on one line.
func (t *tidier) literal(quote byte) *Error {
	start := t.line
	long := t.at+2 < len(t.in) && t.in[t.at+1] == quote && t.in[t.at+2] == quote
	t.at++
	if long {
		t.at += 2
	}
	t.out = append(t.out, '"')
	for {
		if t.at >= len(t.in) {
			t.line = start
			return t.fault("a literal that does not end")
		}
		c := t.in[t.at]
		switch {
		case c == quote && !long:
			t.at++
			t.out = append(t.out, '"')
			return nil
		case c == quote && t.at+2 < len(t.in) && t.in[t.at+1] == quote && t.in[t.at+2] == quote:
			t.at += 3
			t.out = append(t.out, '"')
			return nil
		case c == '\\':
			if err := t.escape(); err != nil {
				return err
			}
			continue
		case c == '\n' && !long:
			return t.fault("a line end in a literal with single quotes")
		case c == '\n':
			t.line++
			t.owed++
			t.out = append(t.out, `\n`...)
		case c == '\r':
			t.out = append(t.out, `\r`...)
		case c == '"':
			t.out = append(t.out, `\"`...)
		case c == 0:
			return t.fault("a NUL character")
		default:
			t.out = append(t.out, c)
		}
		t.at++
	}
}

func (t *tidier) escape() *Error {
	rest := t.in[t.at:]
	if r, n, ok := numericEscape(rest); ok {
		if r == 0 {
			return t.fault("a NUL character")
		}
		t.out = append(t.out, rest[:n]...)
		t.at += n
		return nil
	}
	if len(rest) < 2 || strings.IndexByte(`tbnrf"'\`, rest[1]) < 0 {
		return t.fault("a bad escape in a literal: %s", preview(rest))
	}
	t.out = append(t.out, rest[:2]...)
	t.at += 2
	return nil
}

// preview is the beginning of a text, on one line.
func preview(b []byte) string {
	if i := bytes.IndexByte(b, '\n'); i >= 0 {
		b = b[:i]
	}
	s := string(b)
	if r := []rune(s); len(r) > 40 {
		s = string(r[:40]) + "…"
	}
	return s
}

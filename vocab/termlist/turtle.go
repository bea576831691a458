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
// does not end on its line or at a number that begins with a point; it also loses
// lines of a long literal that begin with "#", and refuses a number at the end of
// a line, and takes a text as complete that stops within a list of values. So literals become short ones, comments go, numbers get a digit before
// the point, and a space stands before each line end. Relative IRIs, which the
// decoder merely puts behind the base, are made absolute. Lines keep their numbers.
//
// The productions are those of RDF 1.1 Turtle §6.5.
func tidy(data []byte, base string) ([]byte, *Error) {
	t := tidier{in: data, line: 1, base: base, out: make([]byte, 0, len(data)+len(data)/16)}
	for t.at < len(t.in) {
		if err := t.step(); err != nil {
			return nil, err
		}
	}
	if err := t.ended(); err != nil {
		return nil, err
	}
	return append(t.out, " \n"...), nil
}

type tidier struct {
	in   []byte
	at   int
	line int
	base string
	name int // index behind the last escape in a local name
	open int // brackets that are not closed
	out  []byte
}

func (t *tidier) fault(format string, args ...any) *Error {
	return &Error{Line: t.line, Reason: "RDF: " + fmt.Sprintf(format, args...)}
}

func (t *tidier) step() *Error {
	switch c := t.in[t.at]; c {
	case '\n':
		t.out = append(t.out, " \n"...)
		t.line++
	case '#':
		end := bytes.IndexByte(t.in[t.at:], '\n')
		if end < 0 {
			end = len(t.in) - t.at
		}
		t.at += end
		return nil
	case '<':
		return t.iri()
	case '"', '\'':
		return t.literal(c)
	case '\\': // an escape in a local name: what follows is no quote or comment
		t.out = append(t.out, c)
		t.at++
		if t.at < len(t.in) && t.in[t.at] != '\n' {
			t.out = append(t.out, t.in[t.at])
			t.at++
		}
		t.name = t.at
		return nil
	case '.':
		if t.stray() {
			return t.fault("a full stop without a statement")
		}
		if t.at+1 < len(t.in) && isDigit(t.in[t.at+1]) && !t.inToken() {
			t.out = append(t.out, " 0"...)
		}
		t.out = append(t.out, c)
	case 0:
		return t.fault("a NUL character")
	case '(', '[':
		t.open++
		t.out = append(t.out, c)
	case ')', ']':
		t.open--
		t.out = append(t.out, c)
	default:
		t.out = append(t.out, c)
	}
	t.at++
	return nil
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

// stray reports whether the full stop here follows another, or nothing. The decoder may
// wait for ever after such a one. Within a name full stops may follow one another.
func (t *tidier) stray() bool {
	before := bytes.TrimRight(t.out, " \t\r\n")
	if len(before) == 0 {
		return t.at+1 == len(t.in) || !isDigit(t.in[t.at+1])
	}
	if before[len(before)-1] != '.' {
		return false
	}
	if len(before) < len(t.out) {
		return t.at+1 == len(t.in) || !isDigit(t.in[t.at+1])
	}
	name := bytes.TrimRight(before, ".")
	return len(name) == 0 || strings.IndexByte(" \t\r\n>\"')],;", name[len(name)-1]) >= 0
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// inToken reports whether the character before the current one belongs to a name
// or number that the current one can go on with.
func (t *tidier) inToken() bool {
	if t.at == 0 {
		return false
	}
	c := t.in[t.at-1]
	return t.at == t.name || isDigit(c) || c|0x20 >= 'a' && c|0x20 <= 'z' || c >= 0x80 || strings.IndexByte("_-:%.", c) >= 0
}

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
			return t.closeLiteral(start)
		case c == quote && t.at+2 < len(t.in) && t.in[t.at+1] == quote && t.in[t.at+2] == quote:
			t.at += 3
			return t.closeLiteral(start)
		case c == '\\':
			if err := t.escape(); err != nil {
				return err
			}
			continue
		case c == '\n' && !long:
			return t.fault("a line end in a literal with single quotes")
		case c == '\n':
			t.line++
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

// closeLiteral ends a literal that began on line start, with the line ends that
// were in it behind it; a language tag or datatype comes first.
func (t *tidier) closeLiteral(start int) *Error {
	t.out = append(t.out, '"')
	if t.line == start {
		return nil
	}
	rest := t.in[t.at:]
	n := 0
	switch {
	case len(rest) > 0 && rest[0] == '@':
		for n = 1; n < len(rest) && (isDigit(rest[n]) || rest[n] == '-' || rest[n]|0x20 >= 'a' && rest[n]|0x20 <= 'z'); n++ {
		}
	case len(rest) > 2 && rest[0] == '^' && rest[1] == '^' && rest[2] == '<':
		t.out = append(t.out, "^^"...)
		t.at += 2
		if err := t.iri(); err != nil {
			return err
		}
	case len(rest) > 1 && rest[0] == '^' && rest[1] == '^':
		n = bytes.IndexAny(rest, " \t\r\n;,.)]")
		if n < 0 {
			n = len(rest)
		}
	}
	t.out = append(t.out, rest[:n]...)
	t.at += n
	for range t.line - start {
		t.out = append(t.out, " \n"...)
	}
	return nil
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

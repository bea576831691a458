package mapping

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
)

var ruleYAML = &Rule{Name: "yaml", About: "a file that is no YAML, or uses parts of YAML that have no meaning here"}

// yamlWords say in plain words what the YAML library finds.
var yamlWords = []struct{ begins, message, hint string }{
	{"found character '\t'", "a tab stands where YAML wants spaces", "indent with spaces"},
	{"tab character cannot", "a tab stands where YAML wants spaces", "indent with spaces"},
	{"could not find end character of double-quoted", "the quotes that open here are never closed", "close them with \""},
	{"could not find end character of single-quoted", "the quotes that open here are never closed", "close them with '; within such quotes an apostrophe is written twice"},
	{"sequence end token ']' not found", "the list that opens here is never closed", "close it with ]"},
	{"could not find flow mapping end token '}'", "the brace that opens here is never closed", "close it with }"},
	{"could not find '[' character", "this bracket closes nothing", ""},
	{"could not find '{' character", "this brace closes nothing", ""},
	{"',' or ']' must be specified", "a comma or the closing bracket is missing in front of this", ""},
	{"',' or '}' must be specified", "a comma or the closing brace is missing in front of this", ""},
	{"could not find flow map content", "a comma or the closing brace is missing in front of this", ""},
	{"mapping value is not allowed", "this can't be a key here", "keys of one node are indented alike"},
	{"value is not allowed in this context", "this does not belong to what stands above it", "keys of one node are indented alike, and so are the items of a list"},
	{"non-map value is specified", "a key with a colon is expected here", "keys of one node are indented alike"},
	{"unexpected key name", "a key with a colon is expected here", "keys of one node are indented alike"},
	{"block sequence entries are not allowed", "a list can't begin on the line of its key", "begin each item on a line of its own with \"- \""},
	{"found an invalid key", "a key is a plain word or text in quotes", "text that begins with a bracket or a brace goes into quotes"},
	{"map key definition includes an implicit line break", "a key stands on one line with its colon", ""},
}

var (
	yamlTwice = regexp.MustCompile(`^mapping key (".*") already defined at \[(\d+):(\d+)\]`)
	yamlKey   = regexp.MustCompile(`^(\s*(?:- +)*)([\w@:.-]+): +(\S.*?)\s*$`)                // a line with a key and a plain value
	yamlRest  = regexp.MustCompile(`^(?:\{[^{}]*\}|\[[^\[\]]*\])\s*\S`)                      // braces or brackets with something behind
	yamlComma = regexp.MustCompile(`[{,]\s*[\w-]+: +[^\s,{}\[\]"'][^,{}\[\]"']* ([\w-]+): `) // in braces, two keys with no comma between
)

// yamlError tells what the YAML library found wrong.
func (c *converter) yamlError(err error) {
	sp := Span{File: c.file, Line: c.doc.above + 1, Col: 1, Len: 1}
	msg := err.Error()
	var ye yaml.Error
	if errors.As(err, &ye) {
		msg = ye.GetMessage()
		sp = c.span(ye.GetToken())
		sp.Len = max(1, min(sp.Len, utf8.RuneCountInString(c.line(sp.Line))-sp.Col+1))
	}
	if i := strings.Index(msg, " [level:"); i > 0 {
		msg = msg[:i]
	}
	if m := yamlTwice.FindStringSubmatch(msg); m != nil {
		first := Span{File: c.file, Len: sp.Len}
		first.Line, _ = strconv.Atoi(m[2])
		first.Col, _ = strconv.Atoi(m[3])
		first.Line += c.doc.above
		c.add(sp, fmt.Sprintf("the key %s stands here a second time", m[1]), "give several values as a list under one key", first)
		return
	}
	if strings.HasPrefix(msg, "found character") || strings.HasPrefix(msg, "tab") || !c.yamlGuess(sp) {
		for _, w := range yamlWords {
			if strings.HasPrefix(msg, w.begins) {
				c.add(sp, w.message, w.hint)
				return
			}
		}
		c.add(sp, "this can't be read as YAML: "+msg, "")
	}
}

// line is a line of the file, by its number.
func (c *converter) line(n int) string {
	l, _, _ := strings.Cut(c.from(Span{Line: n, Col: 1}), "\n")
	return l
}

// yamlGuess looks on the line for the slips that people make most: text that wants
// quotes, a missing comma, a line indented too far, a missing colon.
func (c *converter) yamlGuess(sp Span) bool {
	l := c.line(sp.Line)
	mark := func(n, from, to int) Span { // bytes of line n
		l := c.line(n)
		return Span{File: c.file, Line: n, Col: utf8.RuneCountInString(l[:from]) + 1, Len: max(1, utf8.RuneCountInString(l[from:to]))}
	}
	if m := yamlComma.FindStringSubmatchIndex(l); m != nil {
		c.add(mark(sp.Line, m[2], m[3]), fmt.Sprintf("a comma is missing in front of %q", l[m[2]:m[3]]), "")
		return true
	}
	if i := sp.Col - 1; i > 0 && i < len(l) && l[i] == ',' && strings.HasSuffix(strings.TrimRight(l[:i], " "), ",") {
		c.add(mark(sp.Line, i, i+1), "there is a comma too many", "")
		return true
	}
	trimmed := strings.TrimSpace(l)
	if i := sp.Col - 1; i >= 0 && i < len(l) && (l[i] == ']' || l[i] == '}') {
		what := map[byte]string{']': "this bracket closes nothing", '}': "this brace closes nothing"}[l[i]]
		c.add(mark(sp.Line, i, i+1), what, "take it out, or put the text in quotes if it belongs to it")
		return true
	}
	if m := yamlKey.FindStringSubmatchIndex(l); m != nil {
		key, text := l[m[4]:m[5]], l[m[6]:m[7]]
		text, _, _ = strings.Cut(text, " #")
		text = strings.TrimSpace(text)
		why := ""
		switch {
		case strings.HasPrefix(text, "{") && yamlRest.MatchString(text):
			why = "text that begins with a brace goes into quotes"
		case strings.HasPrefix(text, "[") && yamlRest.MatchString(text):
			why = "text that begins with a bracket goes into quotes"
		case strings.ContainsAny(text[:1], "@`%"):
			why = fmt.Sprintf("text that begins with %s goes into quotes", text[:1])
		case !strings.ContainsAny(text[:1], "{[\"'|>&*!") && strings.Contains(text, ": "):
			why = "text with a colon and a space in it goes into quotes"
		}
		if why != "" {
			quoted := strconv.Quote(text)
			c.add(mark(sp.Line, m[6], m[6]+len(text)), why, fmt.Sprintf("%s: %s", key, quoted))
			return true
		}
		// The line is whole; then it is the next that stands further right.
		if next := c.line(sp.Line + 1); yamlKey.MatchString(next) && indentOf(next) > indentOf(l) && !strings.HasSuffix(trimmed, ",") {
			from := indentOf(next)
			c.add(mark(sp.Line+1, from, len(strings.TrimRight(next, " "))),
				"this line is indented further than the one above, which has a value already", fmt.Sprintf("indent it like %q", key))
			return true
		}
	}
	if words := strings.Fields(trimmed); len(words) > 1 && !strings.Contains(trimmed, ":") && !strings.HasPrefix(trimmed, "-") && isWord(words[0]) {
		from := indentOf(l)
		c.add(mark(sp.Line, from, len(strings.TrimRight(l, " "))), fmt.Sprintf("a colon is missing behind %q", words[0]),
			fmt.Sprintf("%s: %s", words[0], strings.Join(words[1:], " ")))
		return true
	}
	return false
}

func indentOf(l string) int { return len(l) - len(strings.TrimLeft(l, " ")) }

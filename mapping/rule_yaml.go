package mapping

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
)

var ruleYAML = &Rule{Name: "yaml", About: "a file that is no YAML, or uses parts of YAML that have no meaning here"}

const quoteIt = "text that holds a colon with a space, or begins with one of { [ * & ! | > % @ ` \" ', goes into quotes"

// yamlWords say in plain words what the YAML library finds.
var yamlWords = []struct{ begins, message, hint string }{
	{"found character '\t'", "a tab stands where YAML wants spaces", "indent with spaces"},
	{"tab character cannot", "a tab stands where YAML wants spaces", "indent with spaces"},
	{"could not find end character of double-quoted", "the quotes that open here are never closed", "close them with \" on the same line"},
	{"could not find end character of single-quoted", "the quotes that open here are never closed", "close them with '; within such quotes an apostrophe is written twice"},
	{"sequence end token ']' not found", "the list that opens here is never closed", "close it with ]"},
	{"could not find flow mapping end token '}'", "the brace that opens here is never closed", "close it with }"},
	{"could not find '[' character", "this bracket closes nothing", quoteIt},
	{"could not find '{' character", "this brace closes nothing", quoteIt},
	{"',' or ']' must be specified", "a comma or the closing bracket is missing in front of this", ""},
	{"',' or '}' must be specified", "a comma or the closing brace is missing in front of this", ""},
	{"could not find flow map content", "a comma or the closing brace is missing in front of this", ""},
	{"mapping value is not allowed", "a key can't stand here: the line before it is not finished, or this line is indented too far, or its text has a colon", quoteIt},
	{"value is not allowed in this context", "this does not belong to what stands before it: the indentation differs, or text needs quotes", quoteIt},
	{"non-map value is specified", "a key with a colon is expected here", "keys of one node are indented alike; " + quoteIt},
	{"block sequence entries are not allowed", "a list can't begin on the line of its key", "begin each item on a line of its own with \"- \""},
	{"found an invalid key", "a key is a plain word or text in quotes", ""},
	{"unexpected key name", "a key with a colon is expected here", "keys of one node are indented alike; " + quoteIt},
	{"map key definition includes an implicit line break", "a key stands on one line with its colon", ""},
	{"unexpected directive value", "text can't begin with % without quotes", quoteIt},
	{"'@' is a reserved character", "text can't begin with @ without quotes", quoteIt},
	{"'`' is a reserved character", "text can't begin with ` without quotes", quoteIt},
}

var yamlTwice = regexp.MustCompile(`^mapping key (".*") already defined at \[(\d+):(\d+)\]`)

// yamlError tells what the YAML library found wrong.
func (c *converter) yamlError(err error) {
	sp := Span{File: c.file, Line: c.doc.above + 1, Col: 1, Len: 1}
	msg := err.Error()
	var ye yaml.Error
	if errors.As(err, &ye) {
		msg = ye.GetMessage()
		sp = c.span(ye.GetToken())
		if line, _, _ := strings.Cut(c.from(Span{Line: sp.Line, Col: 1}), "\n"); sp.Col > len(line) {
			sp.Len = 1
		}
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
	for _, w := range yamlWords {
		if strings.HasPrefix(msg, w.begins) {
			c.add(sp, w.message, w.hint)
			return
		}
	}
	c.add(sp, "this can't be read as YAML: "+msg, "")
}

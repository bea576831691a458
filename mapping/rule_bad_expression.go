package mapping

import (
	"errors"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/file"
)

var ruleBadExpression = &Rule{Name: "bad-expression", About: "an expression that can't be parsed or mixes up types"}

// functionUse shows how the functions that the language adds are written.
var functionUse = map[string]string{
	"slug": "slug(text)", "either": "either(text, text, …)", "number": "number(text)", "first_line": "first_line(text)",
	"after": "after(text, mark)", "before": "before(text, mark)", "squash": "squash(text)",
	"match": `match(text, "regular expression")`, "filled": "filled(text)",
}

// expressionWords say in plain words what the expression library finds. The groups
// of the regular expression stand in message and hint as %[1]s, %[2]s.
var expressionWords = []struct {
	finds         *regexp.Regexp
	message, hint string
}{
	{regexp.MustCompile(`^unexpected token EOF|^unexpected end of expression`), "the expression breaks off: something is missing at its end", "such as a closing parenthesis, or what stands behind an operator"},
	{regexp.MustCompile(`^unexpected token Operator\("="\)`), "one equals sign has no meaning in an expression", "two things are compared with =="},
	{regexp.MustCompile(`^unexpected token Identifier\("(.*)"\)`), "an operator is missing in front of %q", "a field whose name is not one plain word goes into braces, as in {Web status}; conditions are joined by && or ||"},
	{regexp.MustCompile(`^unexpected token \w+\("(.*)"\)`), "%q has no meaning here", ""},
	{regexp.MustCompile(`^literal not terminated`), "the quotes that open here are never closed", ""},
	{regexp.MustCompile(`^unrecognized character: U\+\w+ '(.*)'`), "the character %q has no meaning in an expression", "text goes into quotes"},
	{regexp.MustCompile(`^invalid char escape|unescape`), "the backslash in this text begins nothing known", `a backslash itself is written \\, or the text in back quotes`},
	{regexp.MustCompile(`^expected bool, but got string`), "this gives text, and a condition is true or false", `compare it with something, as in title != "", or write filled(title)`},
	{regexp.MustCompile(`^expected bool, but got (\w+)`), "this gives a number, and a condition is true or false", "compare it with something, as in number(height) > 10"},
	{regexp.MustCompile(`^invalid operation: (\S+) \(mismatched types? (?:string and (?:int|float64)|(?:int|float64) and string)\)`), "%q stands between text and a number", "cells are text; number(height) makes a number of a cell, and text goes into quotes"},
	{regexp.MustCompile(`^invalid operation: (%) `), "%q is for whole numbers", "int(height) makes a whole number of a cell"},
	{regexp.MustCompile(`^invalid operation: (\S+) \(mismatched types? bool and string|string and bool\)`), "%q stands between a condition and text", "compare the text with something first"},
	{regexp.MustCompile(`^invalid operation: (\S+) \(mismatched types? string(?: and string)?\)`), "%q can't be done with text", "cells are text; number(height) makes a number of a cell"},
	{regexp.MustCompile(`^(?:too many arguments|not enough arguments) to call (\w+)`), "%s is given the wrong number of things", ""},
	{regexp.MustCompile(`^cannot use (?:int|float64) as argument \(type string\) to call (\w+)`), "%s wants text, and is given a number", ""},
	{regexp.MustCompile(`^cannot use bool as argument \(type string\) to call (\w+)`), "%s wants text, and is given a condition", ""},
	{regexp.MustCompile(`^unknown name (\w+)`), "there is no function %q", ""},
	{regexp.MustCompile(`^type string has no field (\w+)`), "%q can't be taken from text", "a field with dots in its name goes into braces, as in {maker.name}"},
}

// expressionError says what is wrong with an expression that stands from byte base
// of the scalar on. place tells where in it a character of what was parsed is
// written.
func (c *compiler) expressionError(err error, s *Scalar, base int, code string, place func(int) int) {
	sp := s.at(base, base+len(code))
	msg := err.Error()
	var fe *file.Error
	if errors.As(err, &fe) {
		msg = fe.Message
		from := place(fe.From)
		sp = s.at(base+from, base+max(from+1, place(fe.To)))
		if from >= len(code) { // behind the end
			sp = s.at(base+len(strings.TrimRight(code, " \n")), base+len(code))
			sp.Len = 1
		}
	}
	message, hint := "the expression can't be used: "+msg, ""
	for _, w := range expressionWords {
		m := w.finds.FindStringSubmatch(msg)
		if m == nil {
			continue
		}
		message, hint = w.message, w.hint
		name := ""
		if len(m) > 1 {
			name = m[1]
		}
		if strings.Contains(message, "%") {
			message = fmt.Sprintf(message, name)
		}
		if strings.HasPrefix(msg, "literal not terminated") {
			if i := openQuote(code); i >= 0 {
				sp = s.at(base+i, base+len(code))
			}
		}
		if strings.HasPrefix(msg, "unknown name") {
			known := slices.Sorted(maps.Keys(functionUse))
			if hint = didYouMean(name, append(known, "lower", "upper", "trim", "split", "replace", "len")); hint == "" {
				hint = "the language adds " + oneOf(known) + " to those of the expression library"
			}
		} else if use := functionUse[name]; use != "" {
			hint = "it is written " + use
		}
		break
	}
	c.add(ruleBadExpression, sp, message, hint)
}

// openQuote finds the quotes in code that are never closed, or -1.
func openQuote(code string) int {
	for i := 0; i < len(code); i++ {
		q := code[i]
		if q != '"' && q != '\'' && q != '`' {
			continue
		}
		from := i
		for i++; i < len(code) && code[i] != q; i++ {
			if code[i] == '\\' && q != '`' {
				i++
			}
		}
		if i >= len(code) {
			return from
		}
	}
	return -1
}

// badPattern looks for a regular expression that can't be one.
type badPattern struct {
	at  ast.Node
	err error
}

func (v *badPattern) Visit(n *ast.Node) {
	call, ok := (*n).(*ast.CallNode)
	if !ok || v.err != nil || len(call.Arguments) != 2 {
		return
	}
	if f, ok := call.Callee.(*ast.IdentifierNode); !ok || f.Value != "match" {
		return
	}
	if s, ok := call.Arguments[1].(*ast.StringNode); ok {
		if _, err := regexp.Compile(s.Value); err != nil {
			v.at, v.err = s, err
		}
	}
}

// runeAt is the byte at which the n-th character of s begins.
func runeAt(s string, n int) int {
	for i := range s {
		if n == 0 {
			return i
		}
		n--
	}
	return len(s)
}

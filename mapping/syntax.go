package mapping

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Value is a node of the syntax tree: a [*Scalar], [*List] or [*Map].
type Value interface{ Place() Span }

// Scalar is text, a number, true, false or nothing.
type Scalar struct {
	Span
	Text   string
	Quoted bool // written in quotes
	Block  bool // written as a block: its text begins on the next line
	Null   bool
	Number bool
	Bool   bool
	Indent int // Block: columns before the text
}

// List is a sequence.
type List struct {
	Span
	Items []Value
}

// Map is a mapping in the order written.
type Map struct {
	Span
	Entries []Entry
}

// Entry is a key with its value.
type Entry struct {
	Key   *Scalar
	Value Value
}

// Place is where the value begins.
func (s *Scalar) Place() Span { return s.Span }

// Place is where the list begins.
func (l *List) Place() Span { return l.Span }

// Place is where the mapping begins.
func (m *Map) Place() Span { return m.Span }

// Get returns the value of a key, or nil.
func (m *Map) Get(key string) Value {
	if e := m.entry(key); e != nil {
		return e.Value
	}
	return nil
}

func (m *Map) entry(key string) *Entry {
	for i := range m.Entries {
		if m.Entries[i].Key.Text == key {
			return &m.Entries[i]
		}
	}
	return nil
}

// Tree is a parsed YAML file: a value for each document in it.
type Tree struct {
	File string
	Docs []Value
}

// ParseYAML reads YAML and keeps where each value stands. The error is a
// [Diagnostics] with rule "yaml".
func ParseYAML(file string, data []byte) (*Tree, error) {
	if !utf8.Valid(data) {
		return nil, Diagnostics{{Span: Span{File: file, Line: 1, Col: 1, Len: 1}, Rule: "yaml", Message: "the file is not UTF-8"}}
	}
	f, err := parser.ParseBytes(data, 0)
	if err != nil {
		sp := Span{File: file, Line: 1, Col: 1, Len: 1}
		msg := err.Error()
		var ye yaml.Error
		if errors.As(err, &ye) {
			msg = ye.GetMessage()
			if t := ye.GetToken(); t != nil && t.Position != nil {
				sp.Line, sp.Col, sp.Len = t.Position.Line, t.Position.Column, max(1, utf8.RuneCountInString(strings.TrimSpace(t.Value)))
			}
		}
		if i := strings.Index(msg, " [level:"); i > 0 {
			msg = msg[:i]
		}
		return nil, Diagnostics{{Span: sp, Rule: "yaml", Message: msg}}
	}
	t := &Tree{File: file}
	c := &converter{file: file, anchors: map[string]Value{}}
	for _, d := range f.Docs {
		if d.Body == nil {
			continue
		}
		t.Docs = append(t.Docs, c.value(d.Body))
	}
	if len(c.diags) > 0 {
		return nil, c.diags
	}
	return t, nil
}

type converter struct {
	file    string
	diags   Diagnostics
	anchors map[string]Value
}

func (c *converter) span(t *token.Token) Span {
	s := Span{File: c.file, Line: 1, Col: 1, Len: 1}
	if t != nil && t.Position != nil {
		s.Line, s.Col = t.Position.Line, t.Position.Column
		s.Len = utf8.RuneCountInString(strings.TrimSpace(t.Value))
		if t.Type == token.DoubleQuoteType || t.Type == token.SingleQuoteType {
			s.Len += 2
		}
		s.Len = max(1, s.Len)
	}
	return s
}

func (c *converter) fail(n ast.Node, msg, hint string) Value {
	sp := c.span(n.GetToken())
	c.diags = append(c.diags, &Diagnostic{Span: sp, Rule: "yaml", Message: msg, Hint: hint})
	return &Scalar{Span: sp, Null: true}
}

func (c *converter) value(n ast.Node) Value {
	switch v := n.(type) {
	case *ast.MappingNode:
		return c.mapping(v.Values, c.span(v.GetToken()))
	case *ast.MappingValueNode:
		return c.mapping([]*ast.MappingValueNode{v}, c.span(v.GetToken()))
	case *ast.SequenceNode:
		l := &List{Span: c.span(v.GetToken())}
		for _, x := range v.Values {
			l.Items = append(l.Items, c.value(x))
		}
		return l
	case *ast.StringNode:
		t := v.GetToken()
		return &Scalar{Span: c.span(t), Text: v.Value,
			Quoted: t.Type == token.DoubleQuoteType || t.Type == token.SingleQuoteType}
	case *ast.LiteralNode:
		sp := c.span(v.GetToken())
		s := &Scalar{Span: sp, Text: v.Value.Value, Block: true}
		if t := v.Value.GetToken(); t != nil {
			for _, line := range strings.Split(t.Origin, "\n") {
				if trimmed := strings.TrimLeft(line, " "); trimmed != "" {
					s.Indent = len(line) - len(trimmed)
					break
				}
			}
		}
		return s
	case *ast.IntegerNode, *ast.FloatNode:
		t := n.GetToken()
		return &Scalar{Span: c.span(t), Text: t.Value, Number: true}
	case *ast.BoolNode:
		return &Scalar{Span: c.span(v.GetToken()), Text: fmt.Sprint(v.Value), Bool: true}
	case *ast.NullNode:
		return &Scalar{Span: c.span(v.GetToken()), Null: true}
	case *ast.AnchorNode:
		x := c.value(v.Value)
		c.anchors[v.Name.GetToken().Value] = x
		return x
	case *ast.AliasNode:
		name := v.Value.GetToken().Value
		if x := c.anchors[name]; x != nil {
			return x
		}
		return c.fail(n, fmt.Sprintf("no anchor &%s stands before this alias", name), "")
	case *ast.InfinityNode, *ast.NanNode:
		return c.fail(n, "infinity and not-a-number have no place here", "put the word in quotes if it is text")
	case *ast.TagNode:
		return c.fail(n, "YAML tags are not used here", "leave the tag out")
	default:
		return c.fail(n, "this kind of YAML value is not used here", "")
	}
}

func (c *converter) mapping(vs []*ast.MappingValueNode, sp Span) *Map {
	m := &Map{Span: sp}
	for i, e := range vs {
		kt := e.Key.GetToken()
		ks := c.span(kt)
		if i == 0 && m.Col > ks.Col || i == 0 && m.Line != ks.Line {
			m.Line, m.Col = ks.Line, ks.Col
		}
		if e.Key.IsMergeKey() {
			c.fail(e.Key, "merge keys (<<) are not used here", "write a pattern and use it")
			continue
		}
		k := &Scalar{Span: ks, Text: kt.Value}
		m.Entries = append(m.Entries, Entry{Key: k, Value: c.value(e.Value)})
	}
	if len(m.Entries) > 0 && m.Entries[0].Key.Line == m.Line {
		m.Len = m.Entries[0].Key.Len
		m.Col = m.Entries[0].Key.Col
	}
	return m
}

// at gives the span of n characters of a scalar's text, from byte offset from.
// Escapes within quotes make it approximate.
func (s *Scalar) at(from, to int) Span {
	sp := s.Span
	from, to = min(from, len(s.Text)), min(to, len(s.Text))
	pre := s.Text[:from]
	switch {
	case s.Block:
		sp.Line += 1 + strings.Count(pre, "\n")
		sp.Col = s.Indent + 1 + utf8.RuneCountInString(pre[strings.LastIndexByte(pre, '\n')+1:])
	case s.Quoted:
		sp.Col += 1 + utf8.RuneCountInString(pre)
	default:
		sp.Col += utf8.RuneCountInString(pre)
	}
	seg := s.Text[from:to]
	if i := strings.IndexByte(seg, '\n'); i >= 0 {
		seg = seg[:i]
	}
	sp.Len = max(1, utf8.RuneCountInString(seg))
	return sp
}

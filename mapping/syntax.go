package mapping

import (
	"fmt"
	"strings"
	"unicode/utf8"

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

	written string // the file from the scalar's first character on
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
	Flow    bool // written in braces
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
	c := &converter{file: file}
	t := &Tree{File: file}
	if sp, ok := c.notUTF8(data); ok {
		c.add(sp, "the file is not UTF-8", "save it as UTF-8; editors call this the encoding")
		return nil, c.diags
	}
	for _, d := range splitDocuments(withoutBOM(string(data))) {
		if v := c.document(d); v != nil {
			t.Docs = append(t.Docs, v)
		}
	}
	if len(c.diags) > 0 {
		return nil, c.diags.Sort()
	}
	return t, nil
}

var lineEnds = strings.NewReplacer("\r\n", "\n", "\r", "\n")

// withoutBOM drops the mark that some editors put in front of UTF-8, and makes
// line ends the same everywhere, as YAML 1.2 does (§5.2, §5.4).
func withoutBOM(s string) string {
	return lineEnds.Replace(strings.TrimPrefix(s, "\ufeff"))
}

// yamlDocument is one document of a file.
type yamlDocument struct {
	text  string
	above int // lines of the file above it
}

// splitDocuments cuts a file at the lines that begin with "---" or "...", which
// no value of any style can contain (YAML 1.2 §9.1.4). The parser gets documents
// one by one: of a file with an empty document it gives none of those behind.
func splitDocuments(s string) []yamlDocument {
	var out []yamlDocument
	from, above, line := 0, 0, 0
	for at := 0; at < len(s); line++ {
		end := len(s)
		if i := strings.IndexByte(s[at:], '\n'); i >= 0 {
			end = at + i + 1
		}
		l := s[at:end]
		if len(l) >= 3 && (l[:3] == "---" || l[:3] == "...") && strings.Trim(l[3:min(4, len(l))], " \t\n") == "" {
			out = append(out, yamlDocument{s[from:at], above})
			from, above = at, line
		}
		at = end
	}
	out = append(out, yamlDocument{s[from:], above})
	for i := range out {
		if t := out[i].text; strings.HasPrefix(t, "---") || strings.HasPrefix(t, "...") {
			out[i].text = "   " + t[3:]
		}
	}
	return out
}

type converter struct {
	file    string
	doc     yamlDocument
	starts  []int // of the lines of doc
	diags   Diagnostics
	anchors map[string]Value
}

func (c *converter) add(sp Span, msg, hint string, also ...Span) {
	c.diags = append(c.diags, &Diagnostic{Span: sp, Rule: ruleYAML.Name, Message: msg, Hint: hint, Also: also})
}

// notUTF8 finds the first character that is not UTF-8.
func (c *converter) notUTF8(data []byte) (Span, bool) {
	if utf8.Valid(data) {
		return Span{}, false
	}
	sp := Span{File: c.file, Line: 1, Col: 1, Len: 1}
	for len(data) > 0 {
		r, n := utf8.DecodeRune(data)
		if r == utf8.RuneError && n == 1 {
			break
		}
		if sp.Col++; r == '\n' {
			sp.Line, sp.Col = sp.Line+1, 1
		}
		data = data[n:]
	}
	return sp, true
}

// document parses and converts one document; nil if there is nothing in it.
func (c *converter) document(d yamlDocument) (v Value) {
	c.doc, c.anchors, c.starts = d, map[string]Value{}, append(c.starts[:0], 0)
	for i := range d.text {
		if d.text[i] == '\n' {
			c.starts = append(c.starts, i+1)
		}
	}
	defer func() {
		if p := recover(); p != nil {
			c.add(Span{File: c.file, Line: d.above + 1, Col: 1, Len: 1}, "this can't be read as YAML", "")
			v = nil
		}
	}()
	for i, at := range c.starts {
		if rest := d.text[at:]; strings.HasPrefix(rest, "%") {
			line, _, _ := strings.Cut(rest, "\n")
			c.add(Span{File: c.file, Line: d.above + i + 1, Col: 1, Len: max(1, utf8.RuneCountInString(strings.TrimSpace(line)))},
				"YAML directives are not used here", "leave the line out")
			return nil
		}
	}
	f, err := parser.ParseBytes([]byte(d.text), 0)
	if err != nil {
		c.yamlError(err)
		return nil
	}
	for _, x := range f.Docs {
		if x.Body == nil || x.Body.Type() == ast.CommentType {
			continue
		}
		if v != nil {
			c.fail(x.Body, "a second value stands here", "put \"---\" on a line of its own between them")
			return nil
		}
		v = c.value(x.Body)
	}
	return v
}

// span is the place of a token.
func (c *converter) span(t *token.Token) Span {
	s := Span{File: c.file, Line: c.doc.above + 1, Col: 1, Len: 1}
	if t != nil && t.Position != nil {
		s.Line, s.Col = c.doc.above+t.Position.Line, t.Position.Column
		first, _, _ := strings.Cut(strings.TrimSpace(t.Value), "\n")
		s.Len = max(1, utf8.RuneCountInString(first))
	}
	return s
}

// from is the document from a place on.
func (c *converter) from(s Span) string {
	i := s.Line - c.doc.above - 1
	if i < 0 || i >= len(c.starts) {
		return ""
	}
	rest := c.doc.text[c.starts[i]:]
	for n := s.Col - 1; n > 0 && rest != "" && rest[0] != '\n'; n-- {
		_, size := utf8.DecodeRuneInString(rest)
		rest = rest[size:]
	}
	return rest
}

func (c *converter) fail(n ast.Node, msg, hint string) Value {
	sp := c.span(n.GetToken())
	c.add(sp, msg, hint)
	return &Scalar{Span: sp, Null: true}
}

// scalar makes a scalar of a token and measures it.
func (c *converter) scalar(t *token.Token, s Scalar) *Scalar {
	s.Span = c.span(t)
	s.written = strings.TrimLeft(c.from(s.Span), " \t") // a token's place is that of the tab before it
	s.Col += len(c.from(s.Span)) - len(s.written)
	s.Quoted = t.Type == token.DoubleQuoteType || t.Type == token.SingleQuoteType
	s.measure()
	return &s
}

func (c *converter) value(n ast.Node) Value {
	switch v := n.(type) {
	case *ast.MappingNode:
		return c.mapping(v.Values, c.span(v.GetToken()), v.IsFlowStyle)
	case *ast.MappingValueNode:
		return c.mapping([]*ast.MappingValueNode{v}, c.span(v.GetToken()), false)
	case *ast.SequenceNode:
		l := &List{Span: c.span(v.GetToken())}
		for _, x := range v.Values {
			if s := c.wordWithColon(x, v.IsFlowStyle); s != nil {
				l.Items = append(l.Items, s)
				continue
			}
			l.Items = append(l.Items, c.value(x))
		}
		return l
	case *ast.StringNode:
		return c.scalar(v.GetToken(), Scalar{Text: v.Value})
	case *ast.LiteralNode:
		return c.scalar(v.GetToken(), Scalar{Text: v.Value.Value, Block: true})
	case *ast.IntegerNode, *ast.FloatNode:
		t := n.GetToken()
		return c.scalar(t, Scalar{Text: t.Value, Number: true})
	case *ast.BoolNode:
		t := v.GetToken()
		return c.scalar(t, Scalar{Text: t.Value, Bool: true})
	case *ast.NullNode:
		return c.null(v.GetToken())
	case *ast.AnchorNode:
		x := c.value(v.Value)
		c.anchors[v.Name.GetToken().Value] = x
		return x
	case *ast.AliasNode:
		name := v.Value.GetToken().Value
		if x := c.anchors[name]; x != nil {
			return x
		}
		return c.fail(n, fmt.Sprintf("no anchor &%s stands before this alias", name), "put the text in quotes if it begins with \"*\"")
	case *ast.InfinityNode, *ast.NanNode:
		return c.fail(n, "infinity and not-a-number have no place here", "put the word in quotes if it is text")
	case *ast.TagNode:
		return c.fail(n, "YAML tags are not used here", "leave the tag out, or put the text in quotes if it begins with \"!\"")
	default:
		return c.fail(n, "this kind of YAML value is not used here", "")
	}
}

// null is a value that is not there, or written as "null" or "~".
func (c *converter) null(t *token.Token) *Scalar {
	s := &Scalar{Span: c.span(t), Null: true}
	s.written = c.from(s.Span)
	if !strings.HasPrefix(s.written, t.Value) {
		s.Len, s.written = 1, ""
	}
	return s
}

// wordWithColon reads an item of a list in brackets such as aat:300404670, which
// the parser takes for a key with a value where the brackets stand in braces. To
// YAML (1.2 §7.3.3) a colon with no white space behind it is part of the word.
func (c *converter) wordWithColon(n ast.Node, flow bool) *Scalar {
	pair, ok := n.(*ast.MappingValueNode)
	if m, isMap := n.(*ast.MappingNode); isMap && len(m.Values) == 1 && !m.IsFlowStyle {
		pair, ok = m.Values[0], true
	}
	if !ok || !flow {
		return nil
	}
	key := c.scalar(pair.Key.GetToken(), Scalar{Text: pair.Key.GetToken().Value})
	rest, ok := strings.CutPrefix(key.written, key.Text+":")
	if key.Quoted || !ok || rest == "" || strings.Contains(" \t\n,[]{}", rest[:1]) {
		return nil
	}
	w := key.written
	end := strings.IndexAny(w, ",[]{}")
	for _, stop := range []string{": ", ":\n", " #"} {
		if i := strings.Index(w, stop); i >= 0 && (end < 0 || i < end) {
			end = i
		}
	}
	if end < 0 {
		return nil
	}
	key.Text = strings.Join(strings.Fields(w[:end]), " ")
	key.measure()
	return key
}

// colonWithin reports a key in braces with no white space behind its colon: to
// YAML (1.2 §7.4) the colon is part of the word, to the parser it ends the key.
func (c *converter) colonWithin(k *Scalar) {
	rest, ok := strings.CutPrefix(k.written, k.Text+":")
	if k.Quoted || !ok || rest == "" || strings.Contains(" \t\n,[]{}", rest[:1]) {
		return
	}
	sp := k.Span
	sp.Col, sp.Len = sp.Col+sp.Len, 1
	c.add(sp, "in braces a colon within a word can't be told from the colon behind a key",
		"put the word in quotes if the colon belongs to it, else a space behind the colon")
}

func (c *converter) mapping(vs []*ast.MappingValueNode, sp Span, flow bool) *Map {
	m := &Map{Span: sp, Flow: flow}
	for i, e := range vs {
		kt := e.Key.GetToken()
		if i == 0 {
			m.Span = c.span(kt)
		}
		switch e.Key.(type) {
		case *ast.MergeKeyNode:
			c.fail(e.Key, "merge keys (<<) are not used here", "write a pattern and use it")
		case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode:
			k := c.scalar(kt, Scalar{Text: kt.Value})
			if i == 0 {
				m.Span = k.Span
			}
			if flow {
				c.colonWithin(k)
			}
			m.Entries = append(m.Entries, Entry{Key: k, Value: c.value(e.Value)})
		default:
			c.fail(e.Key, "a key is a plain word or text in quotes", "text that begins with a bracket or a brace goes into quotes")
		}
	}
	return m
}

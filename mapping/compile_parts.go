package mapping

import (
	"errors"
	"fmt"
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
	"ropewalk/vocab"
)

// getter finds a word among the parts of a node.
type getter func(word string) (Value, *env, *Scalar)

// text compiles text with holes. With all, every hole must be filled.
func (c *compiler) text(v Value, e *env, sc *scope, all bool) *text {
	switch x := v.(type) {
	case *textValue:
		return x.text
	case *joined:
		return c.joinedText(x, e, sc)
	}
	s, ok := v.(*Scalar)
	if !ok {
		if m, isMap := v.(*Map); !isMap || !c.wantsQuotes(m) {
			c.add(ruleWrongValue, v.Place(), "text is expected here", "")
		}
		return nil
	}
	t := &text{src: s, all: all}
	if s.Null {
		return t
	}
	if s.Number || s.Bool {
		t.fixed = s.Text
		return t
	}
	str := s.Text
	if s.Block {
		str = strings.TrimRight(str, "\n")
	}
	ps, at, err := splitTemplate(str)
	if err != nil {
		hint := "close it behind the name of the field; a brace in the text itself is written {{"
		if str[at] == '}' {
			hint = "open it in front of the name of the field; a brace in the text itself is written }}"
		}
		c.add(ruleBadText, s.at(at, at+1), err.Error(), hint)
		return nil
	}
	for _, p := range ps {
		if !p.isHole {
			t.segs = append(t.segs, segment{lit: p.lit})
			continue
		}
		t.holes++
		name, must := strings.CutSuffix(p.hole, "!")
		name = strings.TrimSpace(name)
		if name == "" {
			c.add(ruleBadText, s.at(p.from, p.to), "these braces hold nothing", "write the name of a field into them; a brace in the text itself is written {{")
			return nil
		}
		sub := c.hole(name, s, p.from+1, p.to-1, e, sc)
		if sub == nil {
			return nil
		}
		t.given, t.missing = t.given || sub.given, t.missing || sub.missing
		if must {
			for i := range sub.segs {
				sub.segs[i].must = sub.segs[i].must || sub.segs[i].field != nil || sub.segs[i].expr != nil
			}
		}
		if sub.holes == 0 { // fixed text bound to a pattern's hole
			t.holes--
			t.segs = append(t.segs, segment{lit: sub.fixed})
			continue
		}
		t.segs = append(t.segs, sub.segs...)
	}
	if t.holes == 0 {
		var b strings.Builder
		for i := range t.segs {
			b.WriteString(t.segs[i].lit)
		}
		t.fixed, t.segs = b.String(), nil
	}
	return t
}

// hole resolves what stands between braces, or a name in an expression, to text:
// a pattern's hole to what was given, a path to a field, anything else to an
// expression. It returns nil after saying what is wrong. from and to are the
// bytes of s.
func (c *compiler) hole(name string, s *Scalar, from, to int, e *env, sc *scope) *text {
	sp := s.at(from, to)
	if e != nil {
		if h := e.pattern.hole(name); h != nil {
			b, ok := e.args[name]
			if !ok {
				return &text{src: s, holes: 1, missing: true}
			}
			t := c.text(b.value, b.env, sc, false)
			if t != nil {
				cp := *t
				cp.given = true
				t = &cp
			}
			return t
		}
		if f := pieceField(name, sp, sc); f != nil {
			return &text{src: s, holes: 1, segs: []segment{{field: f, span: sp}}}
		}
		if isWord(name) {
			c.unknownHole(name, sp, e)
			return nil
		}
	} else {
		f, err := c.field(name, sp, sc)
		if f != nil {
			return &text{src: s, holes: 1, segs: []segment{{field: f, span: sp}}}
		}
		if isWord(name) || strings.HasPrefix(name, "^.") || !looksLikeExpression(name) {
			c.unknownField(name, sp, sc, err)
			return nil
		}
	}
	lead := strings.Index(s.Text[from:to], name)
	x := c.expression(name, s, from+max(lead, 0), e, sc, false)
	if x == nil {
		return nil
	}
	return &text{src: s, holes: 1, segs: []segment{{expr: x, span: sp}}}
}

// pieceField finds a name among the pieces of text that are being gone through: a
// pattern may split or read what it was given, and name what comes out.
func pieceField(name string, sp Span, sc *scope) *fieldRef {
	for s := sc; s != nil && s.layout == nil; s = s.parent {
		for i, f := range s.fields {
			if f == name {
				return &fieldRef{path: name, depth: s.depth, slot: i, span: sp, scope: s}
			}
		}
	}
	return nil
}

// isWord reports whether s could only be a name.
func isWord(s string) bool {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if !(c == '_' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c >= 0x80 || i > 0 && '0' <= c && c <= '9') {
			return false
		}
	}
	return s != ""
}

// looksLikeExpression reports whether s has anything of an expression in it.
func looksLikeExpression(s string) bool {
	return strings.ContainsAny(s, "()|+*/<>=!?\"'`[]{}&%#")
}

// field looks a path up in the scopes from the inside out.
func (c *compiler) field(path string, sp Span, sc *scope) (*fieldRef, error) {
	skip := 0
	p := path
	for strings.HasPrefix(p, "^.") {
		skip++
		p = p[2:]
	}
	var first error
	for s := sc; s != nil; s = s.parent {
		if skip > 0 {
			skip--
			continue
		}
		if s.layout == nil {
			for i, f := range s.fields {
				if f == p {
					return &fieldRef{path: path, depth: s.depth, slot: i, span: sp, scope: s}, nil
				}
			}
			continue
		}
		slot, err := s.layout.Field(p)
		if err == nil {
			return &fieldRef{path: path, depth: s.depth, slot: slot, span: sp, scope: s}, nil
		}
		if first == nil {
			first = err
		}
		var u *source.UnknownField
		if !errors.As(err, &u) {
			return nil, err
		}
	}
	return nil, first
}

const eachHint = `name child rows, or write { split: "{field}", at: ";" }`

// each compiles what a node is repeated for and gives the scope inside.
func (c *compiler) each(v Value, e *env, sc *scope) (*each, *scope) {
	x := &each{span: v.Place(), kid: -1}
	switch y := v.(type) {
	case *Scalar:
		path, out := y.Text, sc
		for strings.HasPrefix(path, "^.") && out != nil {
			path, out = path[2:], out.parent
		}
		var first error
		for s := out; s != nil; s = s.parent {
			if s.layout == nil {
				continue
			}
			l, kid, err := s.layout.Rows(path)
			if err == nil {
				x.depth, x.kid = s.depth, kid
				x.scope = &scope{parent: sc, depth: sc.depth + 1, layout: l, source: l.Source(), path: l.Path()}
				return x, x.scope
			}
			if first == nil {
				first = err
			}
		}
		c.unknownRows(y, sc, first)
		return nil, nil
	case *Map:
		var by *Scalar
		for _, en := range y.Entries {
			ev, ee := c.deref(en.Value, e)
			if ev == nil {
				return nil, nil
			}
			switch en.Key.Text {
			case "split":
				x.text, by = c.text(ev, ee, sc, false), en.Key
				x.scope = &scope{parent: sc, depth: sc.depth + 1, fields: []string{"."}}
			case "at":
				x.at = scalarText(ev)
			case "read":
				name, _ := ev.(*Scalar)
				if name == nil {
					c.add(ruleWrongValue, ev.Place(), "\"read\" names a reader", "")
					return nil, nil
				}
				r := rowReaders[name.Text]
				if r == nil {
					c.unknownRowReader(name)
					return nil, nil
				}
				x.read, by = r, en.Key
				x.scope = &scope{parent: sc, depth: sc.depth + 1, fields: r.fields}
			case "from":
				x.text = c.text(ev, ee, sc, false)
			default:
				hint := didYouMean(en.Key.Text, []string{"split", "at", "read", "from"})
				if hint == "" {
					hint = eachHint
				}
				c.add(ruleUnknownKey, en.Key.Span, fmt.Sprintf("%q has no place in \"each\"", en.Key.Text), hint)
				return nil, nil
			}
		}
		if by == nil || x.text == nil {
			if by == nil {
				c.add(ruleWrongValue, y.Span, "\"each\" does not say what to repeat for", eachHint)
			} else if y.Get("from") == nil && y.Get("split") == nil {
				c.add(ruleWrongValue, y.Span, "the reader is given nothing to read", "add from: with the field that holds the text")
			}
			return nil, nil
		}
		if by.Text == "split" && x.at == "" {
			c.add(ruleWrongValue, y.Span, "\"split\" does not say at what mark", "add at: \";\"")
			return nil, nil
		}
		if x.read != nil {
			x.read = c.withConventions(x.read, sc)
		}
		return x, x.scope
	default:
		c.add(ruleWrongValue, v.Place(), "\"each\" names child rows, or splits or reads text", eachHint)
		return nil, nil
	}
}

func (c *compiler) withConventions(r *rowReader, sc *scope) *rowReader {
	cp := *r
	cp.conv = c.conventionsOf(sc)
	return &cp
}

// conventionsOf gives the habits of the source a scope belongs to, or else of the
// nearest around it that has some.
func (c *compiler) conventionsOf(sc *scope) *reading.Conventions {
	for s := sc; s != nil; s = s.parent {
		if s.source != nil && c.Conventions[s.source.Name] != nil {
			return c.Conventions[s.source.Name]
		}
	}
	return c.Conventions[""]
}

// iri compiles the text of an IRI.
func (c *compiler) iri(v Value, e *env, sc *scope) (*text, iriKind) {
	t := c.text(v, e, sc, true)
	if t == nil {
		return nil, 0
	}
	if t.holes == 0 {
		iri, ok := c.fullIRI(t.fixed)
		if !ok {
			c.badIRI(t.src, t.fixed)
			return nil, 0
		}
		kind := iriAbsolute
		if strings.HasPrefix(iri, c.Base) {
			kind = iriLocal
		}
		cp := *t
		cp.fixed = iri
		return &cp, kind
	}
	if len(t.segs) == 0 { // a pattern's hole that was not given
		return t, iriWhole
	}
	if t.segs[0].field != nil || t.segs[0].expr != nil {
		return t, iriWhole
	}
	lit := t.segs[0].lit
	if knownPrefix(lit) { // aat:{number}: what comes of it is looked at when it is filled
		return t, iriWhole
	}
	if hasScheme(lit) && !knownScheme(lit) || !c.fixedParts(t) {
		if hasScheme(lit) && !knownScheme(lit) {
			c.badIRI(t.src, lit)
		}
		return nil, 0
	}
	if hasScheme(lit) || strings.HasPrefix(lit, c.Base) {
		if iri, ok := vocab.Expand(lit); ok {
			lit = iri
		}
		cp := *t
		cp.segs = append([]segment{{lit: lit}}, t.segs[1:]...)
		if strings.HasPrefix(lit, c.Base) {
			return &cp, iriLocal
		}
		return &cp, iriAbsolute
	}
	cp := *t
	cp.segs = append([]segment{{lit: c.Base + strings.TrimPrefix(lit, "/")}}, t.segs[1:]...)
	return &cp, iriLocal
}

// fullIRI makes a full IRI of a fixed one: a known prefix is expanded, a path put
// below the base.
func (c *compiler) fullIRI(s string) (string, bool) { return fullIRI(c.Base, s) }

func fullIRI(base, s string) (string, bool) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", false
	}
	if iri, ok := vocab.Expand(s); ok {
		return iri, goodIRI(iri)
	}
	if !hasScheme(s) {
		s = base + strings.TrimPrefix(s, "/")
	} else if !knownScheme(s) {
		return "", false
	}
	return s, goodIRI(s)
}

// hasScheme reports whether s begins with a scheme (RFC 3986 §3.1).
func hasScheme(s string) bool {
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z':
		case i > 0 && ('0' <= c && c <= '9' || c == '+' || c == '-' || c == '.'):
		case c == ':':
			return i > 1
		default:
			return false
		}
	}
	return false
}

// goodIRI reports whether s is an absolute URI of RFC 3986 characters: the
// profile's schemas want "format": "uri".
func goodIRI(s string) bool {
	if !hasScheme(s) {
		return false
	}
	i := strings.IndexByte(s, ':') + 1
	if i == len(s) {
		return false
	}
	for ; i < len(s); i++ {
		c := s[i]
		if c == '%' {
			if i+2 >= len(s) || !isHex(s[i+1]) || !isHex(s[i+2]) {
				return false
			}
			continue
		}
		if !iriChar[c] {
			return false
		}
	}
	return strings.Count(s, "#") <= 1
}

func isHex(c byte) bool {
	return '0' <= c && c <= '9' || 'a' <= c && c <= 'f' || 'A' <= c && c <= 'F'
}

// iriChar are the reserved and unreserved characters of RFC 3986; plainChar those
// of them that may come from a cell into a path unencoded.
var iriChar, plainChar = func() (a, b [256]bool) {
	for c := 'a'; c <= 'z'; c++ {
		a[c], b[c], a[c-32], b[c-32] = true, true, true, true
	}
	for c := '0'; c <= '9'; c++ {
		a[c], b[c] = true, true
	}
	for _, c := range "-._~" {
		a[c], b[c] = true, true
	}
	for _, c := range ":/?#[]@!$&'()*+,;=" {
		a[c] = true
	}
	for _, c := range "/:@!$()*,;=" {
		b[c] = true
	}
	return
}()

// term compiles a look-up in a term list.
func (c *compiler) term(val *value, v Value, e *env, get getter, sc *scope, f *fill) bool {
	s, ok := v.(*Scalar)
	if !ok {
		c.add(ruleWrongValue, v.Place(), "\"term\" names one term list", "such as { term: materials, from: \"{material}\" }")
		return false
	}
	val.name = s.Text
	if e != nil { // the name itself may be a text with a pattern's holes
		if t := c.text(s, e, sc, false); t != nil && t.holes == 0 {
			val.name = t.fixed
		}
	}
	if val.list = c.Terms[val.name]; val.list == nil {
		c.unknownTerms(s, val.name)
		return false
	}
	fv, fe, _ := get("from")
	if fv == nil {
		if _, _, k := get("from"); k == nil {
			c.add(ruleWrongValue, s.Span, "nothing is looked up in the term list", "add from: with the field that holds the word")
		}
		return false
	}
	if val.text = c.text(fv, fe, sc, false); val.text == nil {
		return false
	}
	if val.name == CautionList && val.text.holes == 0 && cautionOf(val.text.fixed) == nil {
		hint := didYouMean(val.text.fixed, CautionKinds())
		if hint == "" {
			hint = "there are " + oneOf(CautionKinds())
		}
		c.add(ruleWrongValue, val.text.src.Span, fmt.Sprintf("there is no kind of caution %q", val.text.fixed), hint)
		return false
	}
	if x, _, _ := get("split"); x != nil {
		if val.split = scalarText(x); val.split == "" {
			c.add(ruleWrongValue, x.Place(), "\"split\" is the mark between the words of a cell", "such as split: \";\"")
			return false
		}
		if !f.slot.Many {
			c.singleValued(f, x.Place(), "the cell may hold several words")
		}
	}
	if x, _, _ := get("otherwise"); x != nil {
		switch scalarText(x) {
		case "make":
			val.other = otherwiseMake
		case "leave":
			val.other = otherwiseLeave
		case "report":
		default:
			c.add(ruleWrongValue, x.Place(), fmt.Sprintf("\"otherwise\" is make, leave or report, not %q", scalarText(x)), "without it an unknown word is reported")
		}
	}
	return true
}

// read compiles a reading.
func (c *compiler) read(val *value, v Value, get getter, sc *scope, f *fill, _ *reading.Conventions) bool {
	s, ok := v.(*Scalar)
	if !ok {
		c.add(ruleWrongValue, v.Place(), "\"read\" names one reader", "such as { read: date, from: \"{made}\" }")
		return false
	}
	r := readers[s.Text]
	if r == nil {
		c.unknownReader(s, readerNames())
		return false
	}
	cp := *r
	cp.conv = c.conventionsOf(sc)
	val.read, val.name = &cp, s.Text
	fv, fe, k := get("from")
	if fv == nil {
		if k == nil {
			c.add(ruleWrongValue, s.Span, "the reader is given nothing to read", "add from: with the field that holds the text")
		}
		return false
	}
	val.text = c.text(fv, fe, sc, false)
	if val.text != nil && r.many && !f.slot.Many {
		c.singleValued(f, s.Span, fmt.Sprintf("the reader %q may find several", s.Text))
	}
	return val.text != nil
}

// literalHint shows how a literal of a kind is written.
func literalHint(k vocab.Kind) string {
	switch k {
	case vocab.KindNumber:
		return "numbers are written 24 or 24.5"
	case vocab.KindDateTime:
		return "{ read: date, from: … } makes the whole time span of a date in any form"
	}
	return ""
}

// badLiteral says why text can't be a literal of a kind, or "".
func badLiteral(k vocab.Kind, s string) string {
	switch k {
	case vocab.KindNumber:
		if _, ok := jsonNumber(s); !ok {
			return "it is not a number"
		}
	case vocab.KindDateTime:
		if !goodDateTime(s) {
			return "it is not a date and time such as 1874-01-01T00:00:00Z"
		}
	}
	return ""
}

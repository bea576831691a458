package mapping

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
	"ropewalk/vocab"
	"ropewalk/vocab/termlist"
)

// Env is what a mapping is compiled against.
type Env struct {
	SiteFile    string                          // name of the site file, for diagnostics about it
	Base        string                          // base IRI, ending in "/" or "#"
	Sources     *source.Set                     // the site's sources
	Columns     map[string]ColumnUse            // by source: what the site says of columns
	Terms       map[string]*termlist.List       // term lists by name
	Sets        []string                        // names of harvest sets
	Conventions map[string]*reading.Conventions // by source; "" for the site's default
	Waivable    []string                        // names of the rules that a mapping may waive
}

// ColumnUse is what a site says of the columns of a source.
type ColumnUse struct {
	Withheld []string // may not be read by any mapping
	Unused   []string // left out on purpose
	// Sensitive says of columns what kind of harm their cells can do, see [Sensitive].
	Sensitive map[string]Sensitive
}

// File is a parsed mapping or pattern file.
type File struct {
	Name     string
	Mappings []*Map
	Patterns []*Map
}

// Parse reads a file of mappings and patterns. The error is a [Diagnostics].
func Parse(name string, data []byte) (*File, error) {
	t, err := ParseYAML(name, data)
	if err != nil {
		return nil, err
	}
	f := &File{Name: name}
	var diags Diagnostics
	for _, d := range t.Docs {
		m, ok := d.(*Map)
		switch {
		case !ok:
			if s, isScalar := d.(*Scalar); isScalar && s.Null {
				continue
			}
			diags = append(diags, &Diagnostic{Span: d.Place(), Rule: ruleWrongValue.Name,
				Message: "a mapping or a pattern is expected here", Hint: "begin with \"make:\" or \"pattern:\""})
		case m.Get("pattern") != nil:
			f.Patterns = append(f.Patterns, m)
		case m.Get("make") != nil:
			f.Mappings = append(f.Mappings, m)
		default:
			diags = append(diags, &Diagnostic{Span: m.Span, Rule: ruleMissingHead.Name,
				Message: "this is neither a mapping nor a pattern: it has no \"make\" and no \"pattern\"",
				Hint:    "a mapping begins with \"make: HumanMadeObject\" or another class"})
		}
	}
	if len(f.Mappings)+len(f.Patterns) == 0 && len(diags) == 0 {
		diags = append(diags, &Diagnostic{Span: Span{File: name, Line: 1, Col: 1, Len: 1}, Rule: ruleMissingHead.Name,
			Message: "the file holds no mapping and no pattern"})
	}
	if len(diags) > 0 {
		return nil, diags
	}
	return f, nil
}

// pattern is a pattern ready for use.
type pattern struct {
	name  string
	span  Span
	body  []Entry
	holes []hole
}

type hole struct {
	name     string
	required bool
}

func (p *pattern) hole(name string) *hole {
	for i := range p.holes {
		if p.holes[i].name == name {
			return &p.holes[i]
		}
	}
	return nil
}

func (p *pattern) holeNames() []string {
	var out []string
	for _, h := range p.holes {
		out = append(out, h.name)
	}
	return out
}

// env is the inside of a pattern in use: what its holes are bound to. The nil env
// is a mapping itself.
type env struct {
	pattern *pattern
	use     Span
	args    map[string]bound
	outer   *env
}

// bound is a value with the env it was written in.
type bound struct {
	value Value
	env   *env
	key   *Scalar
}

// compiler holds the state of one Compile.
type compiler struct {
	Env
	diags     Diagnostics
	patterns  map[string]*pattern
	documents []*document
	origins   []Origin
	layouts   map[string]*source.Layout
	labels    map[string]string // labels of the term lists by IRI
	evidence  []grounds         // of the document being compiled
	inFirst   int               // alternatives of "first" that are open
	sampled   map[*source.Source]map[string][]string
}

// Origin says where in the mapping files a statement comes from.
type Origin struct {
	Span        // the value as written
	Via  []Span // the patterns through which it came, innermost first
	Of   int32  // for what an attribute assignment made of evidence assigns: one more than the origin of the statement itself; else 0
	text *text
}

// Compile checks files against the profile, CIDOC CRM and the sources, and makes
// a program of them. Library patterns are known; a pattern of the same name in
// files takes precedence. The diagnostics are complete even where there are
// problems; the program is nil if there are any.
func Compile(files []*File, e Env) (*Program, Diagnostics) {
	if _, own := e.Terms[CautionList]; !own {
		terms := map[string]*termlist.List{}
		maps.Copy(terms, e.Terms)
		_, terms[CautionList] = cautionTable()
		e.Terms = terms
	}
	c := &compiler{Env: e, patterns: map[string]*pattern{}, layouts: map[string]*source.Layout{}}
	for _, f := range libraryFiles() {
		for _, m := range f.Patterns {
			c.declare(m, true)
		}
	}
	for _, f := range files {
		own := map[string]bool{}
		for _, m := range f.Patterns {
			c.declare(m, false)
			own[scalarText(m.Get("pattern"))] = true
		}
	}
	for _, f := range files {
		for _, m := range f.Mappings {
			c.head(f, m)
		}
	}
	for i, d := range c.documents {
		c.body(d, files, i)
	}
	for _, check := range checks {
		for _, d := range c.documents {
			check(c, d)
		}
	}
	if c.diags.Problems() == 0 {
		c.schema(files)
	}
	if c.diags.Problems() == 0 {
		checkUnusedColumn(c)
	}
	c.diags = c.diags.Sort()
	if c.diags.Problems() > 0 {
		return nil, c.diags
	}
	return c.program(), c.diags
}

func (c *compiler) add(r *Rule, sp Span, msg, hint string, also ...Span) {
	c.diags = append(c.diags, &Diagnostic{Span: sp, Rule: r.Name, Severity: r.Severity, Message: msg, Hint: hint, Also: also})
}

func scalarText(v Value) string {
	if s, ok := v.(*Scalar); ok {
		return s.Text
	}
	return ""
}

// declare takes in a pattern.
func (c *compiler) declare(m *Map, library bool) {
	p := &pattern{span: m.Span}
	for _, e := range m.Entries {
		switch e.Key.Text {
		case "pattern":
			p.name = scalarText(e.Value)
			p.span = e.Value.Place()
			if p.name == "" {
				c.add(ruleWrongValue, e.Value.Place(), "a pattern's name is a word", "such as pattern: my-name")
				return
			}
		case "about":
		case "holes":
			hm, ok := e.Value.(*Map)
			if !ok {
				c.add(ruleWrongValue, e.Value.Place(), "\"holes\" lists the pattern's holes, each required or optional", "write { content: required, language: optional }")
				continue
			}
			for _, h := range hm.Entries {
				kind := scalarText(h.Value)
				if kind != "required" && kind != "optional" {
					c.add(ruleWrongValue, h.Value.Place(), fmt.Sprintf("a hole is \"required\" or \"optional\", not %q", kind), "")
				}
				if slices.Contains(nodeWords, h.Key.Text) || slices.Contains(headWords, h.Key.Text) {
					c.add(ruleWrongValue, h.Key.Span, fmt.Sprintf("a hole can't be called %q: that is a word of the language", h.Key.Text), "choose another name")
				}
				p.holes = append(p.holes, hole{h.Key.Text, kind == "required"})
			}
		default:
			p.body = append(p.body, e)
		}
	}
	if old := c.patterns[p.name]; old != nil && !library && !strings.HasPrefix(old.span.File, libraryPrefix) {
		c.patternTwice(p, old.span)
	}
	c.patterns[p.name] = p
}

var headWords = []string{"make", "endpoint", "from", "id", "when", "each", "once", "label", "sets", "public_from", "waive", "disclose", "use"}

// head reads the head of a mapping, so that other mappings can refer to it.
func (c *compiler) head(f *File, m *Map) {
	d := &document{span: m.Span, file: f.Name}
	root := &node{span: m.Span}
	d.root = root
	c.documents = append(c.documents, d)

	name, _ := m.Get("make").(*Scalar)
	if name == nil || name.Text == "" {
		c.add(ruleUnknownClass, m.Get("make").Place(), "\"make\" names the class of the documents", "such as make: HumanMadeObject")
		return
	}
	d.class = vocab.ClassByKey(name.Text)
	if d.class == nil || len(vocab.Record(d.class)) == 0 {
		if d.class != nil {
			c.notADocument(name)
		} else {
			c.unknownClass(name, documentClasses())
		}
		d.class = nil
		return
	}
	root.class = d.class
	d.endpoint = vocab.Record(d.class)[0]
	if v := m.Get("endpoint"); v != nil {
		d.endpoint = nil
		var names []string
		for _, ep := range vocab.Record(d.class) {
			names = append(names, ep.Name)
			if ep.Name == scalarText(v) {
				d.endpoint = ep
			}
		}
		if d.endpoint == nil {
			c.add(ruleUnknownClass, v.Place(), fmt.Sprintf("%s is not served at the endpoint %q", d.class.Key, scalarText(v)), "it is served at "+orList(names))
			d.class = nil
			return
		}
	}
	root.shape = d.endpoint.Shape

	from, _ := m.Get("from").(*Scalar)
	if from == nil {
		c.add(ruleMissingHead, m.Span, "the mapping does not say which source it reads", "add \"from:\" with a source of the site file")
	} else if d.source = c.Sources.Source(from.Text); d.source == nil {
		c.unknownSource(from)
	} else {
		l := c.layouts[from.Text]
		if l == nil {
			l = d.source.Layout()
			c.layouts[from.Text] = l
		}
		d.scope = &scope{layout: l, source: d.source}
	}
	if s, ok := m.Get("id").(*Scalar); ok {
		if ps, _, err := splitTemplate(s.Text); err == nil && len(ps) > 0 && !ps[0].isHole {
			d.prefix = ps[0].lit
			if !hasScheme(d.prefix) {
				d.prefix = c.Base + strings.TrimPrefix(d.prefix, "/")
			}
		}
	} else {
		c.add(ruleMissingHead, m.Span, "the mapping does not say which IRI its documents have", "add \"id:\", such as object/{accession_no}")
	}
	if v := m.Get("once"); v != nil {
		d.once = strings.EqualFold(scalarText(v), "true")
		if x, ok := v.(*Scalar); !ok || !x.Bool {
			c.add(ruleWrongValue, v.Place(), "\"once\" is true or false, without quotes", "")
		}
	}
}

func documentClasses() []string {
	var out []string
	for _, cl := range vocab.Classes() {
		if len(vocab.Record(cl)) > 0 {
			out = append(out, cl.Key)
		}
	}
	slices.Sort(out)
	return out
}

// list gives the items of a list, or a single value as a list of one.
func (c *compiler) list(v Value) []Value {
	switch x := v.(type) {
	case nil:
		return nil
	case *List:
		return x.Items
	default:
		return []Value{v}
	}
}

// body compiles the rest of the i-th mapping.
func (c *compiler) body(d *document, files []*File, i int) {
	if d.class == nil || d.scope == nil {
		return
	}
	m := mappingAt(files, i)
	parts := []part{}
	sc := d.scope
	var public, waive Value
	for _, e := range m.Entries {
		switch e.Key.Text {
		case "make", "endpoint", "from", "once":
		case "sets":
			for _, s := range c.list(e.Value) {
				t := c.text(s, nil, sc, true)
				if t == nil {
					continue
				}
				if t.holes == 0 && !slices.Contains(c.Sets, t.fixed) {
					c.unknownSet(s)
					continue
				}
				d.sets = append(d.sets, t)
			}
		case "public_from":
			public = e.Value
		case "waive":
			waive = e.Value
		case "disclose":
			c.disclosures(d, e.Value)
		case "each":
			d.root.each, sc = c.each(e.Value, nil, sc)
			if sc == nil {
				return
			}
		default:
			parts = append(parts, part{e.Key, e.Value, nil})
		}
	}
	if public != nil {
		d.public = c.publicFrom(public, sc)
	}
	if waive != nil {
		c.waivers(d, waive, sc)
	}
	c.fillNode(d.root, parts, sc, nil, c.Conventions[d.source.Name])
	c.assignments(d)
	if d.root.id != nil {
		d.root.origin = c.origin(d.root.id.src.Span, nil, d.root.id)
	}
}

func mappingAt(files []*File, i int) *Map {
	for _, f := range files {
		if i < len(f.Mappings) {
			return f.Mappings[i]
		}
		i -= len(f.Mappings)
	}
	return nil
}

func (c *compiler) origin(sp Span, e *env, t *text) int32 {
	var via []Span
	for ; e != nil; e = e.outer {
		via = append(via, e.use)
	}
	c.origins = append(c.origins, Origin{Span: sp, Via: via, text: t})
	return int32(len(c.origins) - 1)
}

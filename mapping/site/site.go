// Package site loads a site: the folder with ropewalk.yaml, its mappings, term
// lists and exports. Begin with [Load].
package site

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"

	"ropewalk/mapping"
	"ropewalk/mapping/concordance"
	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
	"ropewalk/mapping/trade"
	"ropewalk/schemas"
	"ropewalk/vocab/termlist"
)

// FileName is the name of a site's file in its folder.
const FileName = "ropewalk.yaml"

// Site is a loaded site. It is immutable after Load.
type Site struct {
	Title     string
	About     string
	Base      string // IRI that all documents' IRIs begin with; ends in "/"
	Publisher Publisher
	Language  string // BCP 47; "" if not said
	Licence   string // IRI; "" if not said
	Rights    string // IRI of what holds for pictures and files of which no record says it; "" if not said
	Sets      []Set
	Publish   Publish
	PushTo    string // address of a store's Graph Store HTTP Protocol; "" if not said
	Store     string // file of the store, relative to the site's folder
	Listen    string

	Concordance *concordance.Result // nil if the site declares none

	Sources *source.Set
	Terms   map[string]*termlist.List
	Program *mapping.Program

	files  map[string][]byte // text of the site file and mappings, for diagnostics
	looked map[string]int    // records that the concordance has read, by source
}

// Looked is how many records of a source were read for the concordance.
func (s *Site) Looked(name string) int { return s.looked[name] }

// Publisher is who publishes the data.
type Publisher struct {
	Name  string
	ID    string // IRI; "" if not said
	Page  string
	Email string
}

// Publish says what publishing is careful about.
type Publish struct {
	Most      float64 // share of the published documents, in percent, that a run may withdraw without being told
	Withdrawn []Withdrawn
	Moved     []Moved
}

// Withdrawn is a row of the list of withdrawn identifiers.
type Withdrawn struct {
	IRI    string // below the base
	Reason string // for the public; may be empty
	Date   string // YYYY, YYYY-MM or YYYY-MM-DD, or ""
	Place  source.Place
}

// Moved is a row of the list of identifiers that gave way to others.
type Moved struct {
	From  string // IRI below the base
	To    string // IRI
	Place source.Place
}

// Set is a set for harvesting.
type Set struct{ Spec, Name, About string }

// Text returns the text of a file named in a diagnostic: the site file, a mapping
// or a file of the library.
func (s *Site) Text(name string) ([]byte, bool) {
	if b, ok := mapping.LibraryFile(name); ok {
		return b, true
	}
	b, ok := s.files[name]
	return b, ok
}

// The rules of the site file, besides "yaml".
var (
	ruleSiteFile = &mapping.Rule{Name: "site-file", About: "a site file that lacks something, or says something that has no meaning"}
	ruleSource   = &mapping.Rule{Name: "source", About: "a source that can't be used: its files, its format, its look-ups or child rows"}
	ruleTermList = &mapping.Rule{Name: "term-list", About: "a term list that can't be used"}
	ruleNoFile   = &mapping.Rule{Name: "missing-file", About: "a site file or mapping files that are not there"}
	ruleEnded    = &mapping.Rule{Name: "withdrawn-or-moved", About: "a list of withdrawn or moved identifiers that can't be used"}
	ruleColumn   = &mapping.Rule{Name: "unknown-column", About: "a column named as withheld, sensitive or unused that the source does not have"}
)

// Rules lists the rules of the site file.
func Rules() []*mapping.Rule {
	return []*mapping.Rule{ruleNoFile, ruleSiteFile, ruleSource, ruleTermList, ruleEnded, ruleColumn, ruleConcordance, ruleDecision, ruleOddRow}
}

// Load reads the site in fsys, checks it, and compiles its mappings. The
// diagnostics are complete as far as things could be read; if any is a problem,
// the site's Program is nil. The Site itself is never nil, so that [Site.Text]
// can serve the drawing of diagnostics.
func Load(fsys fs.FS) (*Site, mapping.Diagnostics) {
	s := &Site{files: map[string][]byte{}, Publish: Publish{Most: 5}, Store: "store/ropewalk.db", Listen: "127.0.0.1:8080"}
	l := &loader{site: s, fsys: fsys}
	l.load()
	l.diags = l.diags.Sort()
	return s, l.diags
}

type loader struct {
	site  *Site
	fsys  fs.FS
	root  *mapping.Map
	diags mapping.Diagnostics

	decided         *decided       // the source of decisions; nil if the site declares no concordance
	decisionColumns map[string]int // numbers of the columns of the file of decisions
}

func (l *loader) add(sp mapping.Span, rule *mapping.Rule, msg, hint string) {
	l.diags = append(l.diags, &mapping.Diagnostic{Span: sp, Rule: rule.Name, Severity: rule.Severity, Message: msg, Hint: hint})
}

func (l *loader) load() {
	data, err := fs.ReadFile(l.fsys, FileName)
	if err != nil {
		l.add(mapping.Span{File: FileName, Line: 1, Col: 1, Len: 1}, ruleNoFile, "the site file can't be read: "+reason(err),
			"a site is a folder with a file ropewalk.yaml; ropewalk init makes one")
		return
	}
	l.site.files[FileName] = data
	tree, err := mapping.ParseYAML(FileName, data)
	if err != nil {
		var ds mapping.Diagnostics
		errors.As(err, &ds)
		l.diags = append(l.diags, ds...)
		return
	}
	if len(tree.Docs) != 1 {
		l.add(mapping.Span{File: FileName, Line: 1, Col: 1, Len: 1}, ruleSiteFile, "the site file holds one YAML document", "")
		return
	}
	root, ok := tree.Docs[0].(*mapping.Map)
	if !ok {
		l.add(tree.Docs[0].Place(), ruleSiteFile, "the site file holds keys with values", "begin with \"title:\"")
		return
	}
	l.root = root
	if err := schemas.Site().Validate(mapping.Plain(root)); err != nil {
		for _, p := range schemas.Problems(err) {
			l.schemaProblem(p)
		}
		return
	}
	l.plain()
	specs, use := l.sources()
	specs = l.concordanceSpec(specs, use)
	set, err := source.New(l.fileSystem(), specs)
	if err != nil {
		l.sourceErrors(err)
		return
	}
	l.site.Sources = set
	readable := true
	for _, name := range set.Names() {
		if _, err := set.Source(name).Describe(); err != nil {
			l.add(mapping.Find(root, l.sourceKey(name)+"/files"), ruleSource, "the source can't be read: "+err.Error(), "")
			readable = false
		}
	}
	for _, name := range set.Names() {
		if readable {
			l.sourceErrors(errors.Join(set.Source(name).Check()...))
		}
	}
	l.terms()
	l.ended()
	files := l.mappings()
	if l.diags.Problems() > 0 {
		return
	}
	if !l.columns(use) {
		return
	}
	l.sharedFiles(use)
	conv := l.conventions()
	l.concordance(use, conv)
	env := mapping.Env{SiteFile: FileName, Base: l.site.Base, Sources: set, Columns: use, Terms: l.site.Terms, Conventions: conv, Waivable: trade.Names()}
	for _, st := range l.site.Sets {
		env.Sets = append(env.Sets, st.Spec)
	}
	prog, ds := mapping.Compile(files, env)
	for _, d := range ds {
		if d.Rule == "unused-column" {
			d.Span = l.unusedPlace(d.Message, d.Span)
		}
	}
	l.diags = append(l.diags, ds...)
	if l.diags.Problems() == 0 {
		l.site.Program = prog
	}
}

// schemaProblem words what the schema finds.
func (l *loader) schemaProblem(p schemas.Problem) {
	at := mapping.Find(l.root, p.InstancePath)
	key := p.InstancePath[strings.LastIndexByte(p.InstancePath, '/')+1:]
	key = strings.ReplaceAll(strings.ReplaceAll(key, "~1", "/"), "~0", "~")
	value := mapping.Text(l.root, p.InstancePath)
	msg, hint := p.Message, ""
	switch {
	case p.Keyword == "additionalProperties":
		at = mapping.FindKey(l.root, p.InstancePath)
		if hint = mapping.DidYouMean(p.Key, p.Allowed); hint == "" && len(p.Allowed) > 0 {
			hint = "there are " + strings.Join(p.Allowed, ", ")
		}
	case strings.Contains(p.Location, "/propertyNames/"):
		at = mapping.FindKey(l.root, p.InstancePath)
		msg = fmt.Sprintf("the name %q %s", key, p.Message)
		if rest, ok := strings.CutPrefix(p.Message, "is not "); ok {
			msg = fmt.Sprintf("the name %q may only hold %s", key, rest)
		}
		hint = mapping.DidYouMean(key, p.Allowed)
	case p.Keyword == "required" && key == "":
		msg = fmt.Sprintf("the site file %s", p.Message)
	case p.Keyword == "required":
		msg = fmt.Sprintf("%q %s", key, p.Message)
	case p.Keyword == "maxLength":
		msg = fmt.Sprintf("%q is a single character, not %q", key, value)
	case p.Keyword == "format" || p.Keyword == "pattern":
		msg = fmt.Sprintf("%q is not %s", value, strings.TrimPrefix(p.Message, "is not "))
		if p.Keyword == "format" {
			msg = p.Message
		}
		msg = fmt.Sprintf("%q: %s", key, msg)
	default:
		msg = fmt.Sprintf("%q %s", key, p.Message)
		hint = mapping.DidYouMean(value, p.Allowed)
	}
	switch p.InstancePath {
	case "/base":
		hint = "such as https://data.example.org/; it ends in a slash, and can never change once it is published"
	case "/publish/withdraw_at_most":
		hint = "such as 5%"
	case "/push/to":
		hint = "such as https://store.example.org/data; name and password stand in ROPEWALK_PUSH_USER and ROPEWALK_PUSH_PASSWORD"
	case "/listen":
		hint = "such as 127.0.0.1:8080, or :8080 for all addresses of the machine"
	}
	if strings.HasPrefix(p.InstancePath, "/sets/") && p.Keyword == "type" {
		hint = fmt.Sprintf("write %s: { name: %s }", key, value)
	}
	if p.Keyword == "type" && value != "" && strings.HasPrefix(p.Message, "must be a list") {
		hint = fmt.Sprintf("write %s: [%s]", key, value)
	}
	l.add(at, ruleSiteFile, msg, hint)
}

func reason(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		if errors.Is(err, fs.ErrNotExist) {
			return "there is no such file"
		}
		return pe.Err.Error()
	}
	return err.Error()
}

// plain takes over the values that stand for themselves.
func (l *loader) plain() {
	s := l.site
	str := func(p string) string { return mapping.Text(l.root, p) }
	s.Title, s.About, s.Base, s.Language, s.Licence, s.Rights = str("/title"), str("/about"), str("/base"), str("/language"), str("/licence"), str("/rights")
	s.Publisher = Publisher{Name: str("/publisher/name"), ID: str("/publisher/id"), Page: str("/publisher/page"), Email: str("/publisher/email")}
	if id := s.Publisher.ID; id != "" && !hasScheme(id) {
		s.Publisher.ID = s.Base + strings.TrimPrefix(id, "/")
	}
	if s.Publisher.Name == "" {
		s.Publisher.Name = s.Title
	}
	if v := str("/store"); v != "" {
		s.Store = v
	}
	if v := str("/listen"); v != "" {
		s.Listen = v
	}
	s.PushTo = str("/push/to")
	if v := str("/publish/withdraw_at_most"); v != "" {
		s.Publish.Most, _ = strconv.ParseFloat(strings.TrimRight(v, " %"), 64) // the schema has seen to its form
	}
	for _, e := range entries(l.root.Get("sets")) {
		m, _ := e.Value.(*mapping.Map)
		s.Sets = append(s.Sets, Set{Spec: e.Key.Text, Name: mapping.Text(m, "/name"), About: mapping.Text(m, "/about")})
	}
}

func entries(v mapping.Value) []mapping.Entry {
	if m, ok := v.(*mapping.Map); ok {
		return m.Entries
	}
	return nil
}

// list gives the texts of a list, or of a single value.
func list(v mapping.Value) []string {
	switch x := v.(type) {
	case *mapping.Scalar:
		return []string{x.Text}
	case *mapping.List:
		var out []string
		for _, i := range x.Items {
			if sc, ok := i.(*mapping.Scalar); ok {
				out = append(out, sc.Text)
			}
		}
		return out
	}
	return nil
}

// sources turns the declarations into specifications.
func (l *loader) sources() ([]source.Spec, map[string]mapping.ColumnUse) {
	var out []source.Spec
	use := map[string]mapping.ColumnUse{}
	for _, e := range entries(l.root.Get("sources")) {
		m, ok := e.Value.(*mapping.Map)
		if !ok {
			continue
		}
		str := func(key string) string { return mapping.Text(m, "/"+key) }
		sp := source.Spec{Name: e.Key.Text, Files: list(m.Get("files")), Format: str("format"), Encoding: str("encoding"),
			Delimiter: str("delimiter"), Quote: str("quote"), Columns: list(m.Get("columns")), Sheet: str("sheet"),
			Records: str("records"), Key: str("key"), Fields: list(m.Get("fields")), HTML: str("html"), Withheld: list(m.Get("withheld")),
			Rows: joins(m.Get("rows")), Lookups: joins(m.Get("lookup"))}
		for _, n := range entries(m.Get("namespaces")) {
			if sp.Namespaces == nil {
				sp.Namespaces = map[string]string{}
			}
			if sc, ok := n.Value.(*mapping.Scalar); ok {
				sp.Namespaces[n.Key.Text] = sc.Text
			}
		}
		out = append(out, sp)
		use[sp.Name] = mapping.ColumnUse{Withheld: list(m.Get("withheld")), Unused: list(m.Get("unused")), Sensitive: sensitive(m.Get("sensitive"))}
	}
	return out, use
}

// sensitive reads which columns can do harm.
func sensitive(v mapping.Value) map[string]mapping.Sensitive {
	out := map[string]mapping.Sensitive{}
	for _, e := range entries(v) {
		if sc, ok := e.Value.(*mapping.Scalar); ok {
			out[e.Key.Text] = mapping.Sensitive(sc.Text)
		}
	}
	return out
}

func joins(v mapping.Value) map[string]source.Join {
	out := map[string]source.Join{}
	for _, e := range entries(v) {
		m, ok := e.Value.(*mapping.Map)
		if !ok {
			continue
		}
		j := source.Join{From: mapping.Text(m, "/from")}
		switch on := m.Get("on").(type) {
		case *mapping.Scalar:
			j.On = [][2]string{{on.Text, on.Text}}
		case *mapping.Map:
			for _, p := range on.Entries {
				if sc, ok := p.Value.(*mapping.Scalar); ok {
					j.On = append(j.On, [2]string{p.Key.Text, sc.Text})
				}
			}
		}
		out[e.Key.Text] = j
	}
	if len(out) == 0 {
		return nil
	}
	return out
}

// sourceErrors puts what is wrong with declarations at their places.
func (l *loader) sourceErrors(err error) {
	if err == nil {
		return
	}
	if multi, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range multi.Unwrap() {
			l.sourceErrors(e)
		}
		return
	}
	var se *source.SpecError
	if !errors.As(err, &se) {
		l.add(mapping.Find(l.root, "/sources"), ruleSource, err.Error(), "")
		return
	}
	p := l.sourceKey(se.Source)
	if se.Field != "" {
		p += "/" + strings.ReplaceAll(strings.ReplaceAll(se.Field, "lookups", "lookup"), ".", "/")
	}
	msg := "source \"" + se.Source + "\": " + se.Reason
	if se.Value != "" {
		msg = fmt.Sprintf("source %q: %q: %s", se.Source, se.Value, se.Reason)
	}
	hint := ""
	if len(se.Nearest) > 0 {
		hint = "did you mean \"" + se.Nearest[0] + "\"?"
	}
	l.add(mapping.Find(l.root, p), ruleSource, msg, hint)
}

// terms loads the term lists.
func (l *loader) terms() {
	l.site.Terms = map[string]*termlist.List{}
	for _, e := range entries(l.root.Get("terms")) {
		sc, ok := e.Value.(*mapping.Scalar)
		if !ok {
			continue
		}
		name := path.Clean(sc.Text)
		t, err := termlist.Load(e.Key.Text, l.fsys, name)
		var faults termlist.Errors
		if errors.As(err, &faults) {
			if data, rerr := fs.ReadFile(l.fsys, name); rerr == nil {
				l.site.files[name] = data
			}
			for _, f := range faults {
				l.add(mapping.Span{File: f.File, Line: max(f.Line, 1), Col: 1, Len: 1}, ruleTermList, f.Reason, "")
			}
			continue
		}
		if err != nil {
			l.add(sc.Span, ruleTermList, "the term list can't be used: "+reason(err), "")
			continue
		}
		l.site.Terms[e.Key.Text] = t
	}
}

// mappings reads and parses the mapping files.
func (l *loader) mappings() []*mapping.File {
	globs := list(l.root.Get("mappings"))
	place := mapping.Find(l.root, "/mappings")
	if globs == nil {
		globs = []string{"mapping/*.yaml"}
		place = l.root.Span
	}
	seen := map[string]bool{}
	var names []string
	for i, g := range globs {
		found, err := fs.Glob(l.fsys, path.Clean(g))
		if err != nil || len(found) == 0 {
			at := mapping.Find(l.root, fmt.Sprintf("/mappings/%d", i))
			if _, isList := l.root.Get("mappings").(*mapping.List); !isList {
				at = place
			}
			l.add(at, ruleNoFile, fmt.Sprintf("no mapping file matches %q", g), l.mappingHint())
			continue
		}
		for _, f := range found {
			if !seen[f] {
				seen[f] = true
				names = append(names, f)
			}
		}
	}
	slices.Sort(names)
	var out []*mapping.File
	for _, n := range names {
		data, err := fs.ReadFile(l.fsys, n)
		if err != nil {
			l.add(place, ruleNoFile, n+": "+reason(err), "")
			continue
		}
		l.site.files[n] = data
		f, err := mapping.Parse(n, data)
		if err != nil {
			var ds mapping.Diagnostics
			errors.As(err, &ds)
			l.diags = append(l.diags, ds...)
			continue
		}
		out = append(out, f)
	}
	return out
}

// mappingHint says where mapping files are, if there are any.
func (l *loader) mappingHint() string {
	for _, g := range []string{"mapping/*.yaml", "mapping/*.yml", "mappings/*.yaml", "mappings/*.yml", "*/*.yaml"} {
		if found, err := fs.Glob(l.fsys, g); err == nil && len(found) > 0 {
			return fmt.Sprintf("did you mean %q?", g)
		}
	}
	return "mapping files stand in the folder mapping, and end in .yaml"
}

// columns checks that withheld and unused columns exist: a misspelt withheld
// column would not be withheld. It reports false if a withheld one is missing: then
// nobody knows which cells are private, nor whether the names of the columns are
// names at all, and nothing more may be said of them.
func (l *loader) columns(use map[string]mapping.ColumnUse) bool {
	known := true
	for _, name := range l.site.Sources.Names() {
		src := l.site.Sources.Source(name)
		desc, err := src.Describe()
		if err != nil {
			continue
		}
		var have []string
		for _, c := range desc.Columns {
			if src.Mentionable(c.Path) {
				have = append(have, c.Path)
			}
		}
		has := func(n string) bool {
			return slices.ContainsFunc(desc.Columns, func(c source.Column) bool { return c.Path == n || strings.HasPrefix(c.Path, n+".") })
		}
		for i, n := range use[name].Withheld {
			where := fmt.Sprintf("source %q", name)
			missing := !has(n) && !slices.Contains(src.Fields, n)
			for _, f := range src.Files() {
				if cols := f.Columns(); cols != nil && !missing && !slices.Contains(cols, n) {
					where, missing = f.Name, true
				}
			}
			if !missing {
				continue
			}
			known = false
			hint := mapping.DidYouMean(n, have)
			switch {
			case hint == "" && src.Nested():
				hint = "if only some records have it, name it under \"fields\", too"
			case hint == "":
				hint = "as long as it is not known which cells are withheld, nothing is read; is there a header, and is it complete?"
			}
			l.add(mapping.Find(l.root, fmt.Sprintf("/sources/%s/withheld/%d", name, i)), ruleColumn, fmt.Sprintf("%s has no column %q", where, n), hint)
		}
		for _, n := range slices.Sorted(maps.Keys(use[name].Sensitive)) {
			if has(n) || slices.Contains(src.Fields, n) {
				continue
			}
			hint := mapping.DidYouMean(n, have)
			if hint == "" && src.Nested() {
				hint = "if only some records have it, name it under \"fields\", too"
			}
			l.add(mapping.FindKey(l.root, fmt.Sprintf("/sources/%s/sensitive/%s", name, pointer(n))), ruleColumn, fmt.Sprintf("source %q has no column %q", name, n), hint)
		}
		for i, n := range use[name].Unused {
			if has(n) || slices.Contains(src.Fields, n) || !desc.Complete && src.Nested() {
				continue
			}
			hint := mapping.DidYouMean(n, have)
			if hint == "" && src.Nested() {
				hint = "if only some records have it, name it under \"fields\", too"
			}
			if hint == "" && len(have) <= 30 && known {
				hint = "it has " + strings.Join(have, ", ")
			}
			l.add(mapping.Find(l.root, fmt.Sprintf("/sources/%s/unused/%d", name, i)), ruleColumn,
				fmt.Sprintf("source %q has no column %q", name, n), hint)
		}
	}
	return known
}

// pointer writes a key as a step of a JSON Pointer (RFC 6901 §3).
func pointer(key string) string {
	return strings.ReplaceAll(strings.ReplaceAll(key, "~", "~0"), "/", "~1")
}

// sharedFiles refuses a column that is withheld in one source and open in another
// that reads the same file.
func (l *loader) sharedFiles(use map[string]mapping.ColumnUse) {
	full := func(s *source.Source, column string) string {
		if s.Records == "" {
			return column
		}
		return s.Records + "." + column
	}
	for _, name := range l.site.Sources.Names() {
		a := l.site.Sources.Source(name)
		for i, w := range use[name].Withheld {
			for _, other := range l.site.Sources.Names() {
				b := l.site.Sources.Source(other)
				if other == name || !shareFile(a, b) {
					continue
				}
				desc, err := b.Describe()
				if err != nil {
					continue
				}
				for _, c := range desc.Columns {
					at, hidden := full(b, c.Path), full(a, w)
					if at != hidden && !strings.HasPrefix(at, hidden+".") || covered(use[other].Withheld, c.Path) {
						continue
					}
					l.add(mapping.Find(l.root, fmt.Sprintf("/sources/%s/withheld/%d", name, i)), ruleColumn,
						fmt.Sprintf("the column %q is withheld here, but source %q reads the same file and leaves it open", w, other),
						fmt.Sprintf("add %q under \"withheld\" of source %q, too", c.Path, other))
					break
				}
			}
		}
	}
}

func shareFile(a, b *source.Source) bool {
	for _, f := range a.Files() {
		if slices.ContainsFunc(b.Files(), func(g *source.File) bool { return g.Name == f.Name }) {
			return true
		}
	}
	return false
}

// covered reports whether a path or one above it is listed.
func covered(list []string, path string) bool {
	return slices.ContainsFunc(list, func(x string) bool { return path == x || strings.HasPrefix(path, x+".") })
}

// conventions reads the habits of writing, for the site and for single sources.
func (l *loader) conventions() map[string]*reading.Conventions {
	out := map[string]*reading.Conventions{}
	base := l.decodeConventions(l.root.Get("conventions"), reading.Conventions{})
	out[""] = base
	for _, e := range entries(l.root.Get("sources")) {
		if m, ok := e.Value.(*mapping.Map); ok && m.Get("conventions") != nil {
			out[e.Key.Text] = l.decodeConventions(m.Get("conventions"), *base)
		}
	}
	return out
}

func (l *loader) decodeConventions(v mapping.Value, base reading.Conventions) *reading.Conventions {
	for _, e := range entries(v) {
		for _, f := range entries(e.Value) {
			err := base.Set(e.Key.Text, f.Key.Text, mapping.Plain(f.Value))
			var unknown *reading.UnknownSetting
			switch {
			case errors.As(err, &unknown):
				hint := mapping.DidYouMean(unknown.Name, unknown.Known)
				if hint == "" {
					hint = "there are " + strings.Join(unknown.Known, ", ")
				}
				l.add(f.Key.Span, ruleSiteFile, fmt.Sprintf("there is no convention %q for %ss", f.Key.Text, e.Key.Text), hint)
			case err != nil:
				l.add(f.Key.Span, ruleSiteFile, fmt.Sprintf("the convention %q can't be used: %v", f.Key.Text, err), "")
			}
		}
	}
	return &base
}

// unusedPlace finds the source that a notice about unused columns speaks of.
func (l *loader) unusedPlace(msg string, sp mapping.Span) mapping.Span {
	for _, e := range entries(l.root.Get("sources")) {
		if strings.HasPrefix(msg, fmt.Sprintf("source %q:", e.Key.Text)) {
			return e.Key.Span
		}
	}
	return sp
}

// TermNames lists the term lists.
func (s *Site) TermNames() []string { return slices.Sorted(maps.Keys(s.Terms)) }

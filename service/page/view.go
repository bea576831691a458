package page

import (
	"net/url"
	"path"
	"slices"
	"strings"
	"time"

	"ropewalk/mapping"
	"ropewalk/mapping/entity"
	"ropewalk/service"
	"ropewalk/vocab"
)

// row is a term with what belongs to it.
type row struct {
	Term  []span
	Items []item
	key   string // under which the items stand
}

// item is a value or a node: a line of text, and what else the node says.
type item struct {
	Lead []span
	Rows []row
}

// span is a piece of a line.
type span struct {
	Text     string
	Href     string // "" for plain text
	External bool   // Href leads out of the site
	Lang     string
	Time     string // machine-readable form of a date
	Code     string // what the document says where Text says it in other words
	Quiet    bool
}

type image struct {
	Href, Alt string
}

type block struct {
	ID, Heading string
	Rows        []row
}

// viewer turns a document into blocks. Everything in the document goes somewhere:
// what has no place of its own is shown under the words for its key.
type viewer struct {
	site service.Site
	path string // of the page
}

// blocks takes root apart.
func (v *viewer) blocks(root *node) []block {
	splitEvidence(root)
	var out []block
	for _, s := range sections {
		b := block{ID: s.id, Heading: s.heading}
		for _, key := range s.keys {
			b.Rows = append(b.Rows, v.rows(root.take(key), root.class)...)
		}
		if len(b.Rows) > 0 {
			b.Rows = unfold(b.Rows, s.heading)
			out = append(out, b)
		}
	}
	if rest := v.rest(root); len(rest) > 0 {
		out = append(out, block{ID: "further", Heading: "Also recorded", Rows: rest})
	}
	return out
}

// cautions takes the statements of caution out of root: those whose kind is one of
// the site's concepts of caution.
func (v *viewer) cautions(root *node) [][]span {
	kinds := v.site.Base + "concept/" + mapping.CautionList + "/"
	f := root.take("referred_to_by")
	var out [][]span
	var rest []*node
	for _, n := range f.nodes {
		if !slices.ContainsFunc(n.look("classified_as").nodes, func(k *node) bool { return strings.HasPrefix(k.iri, kinds) }) {
			rest = append(rest, n)
			continue
		}
		n.take("identified_by") // the heading stands above them all
		out = append(out, v.inline(n))
	}
	if f.nodes = rest; len(rest)+len(f.values) > 0 {
		root.fields = append(root.fields, f)
	}
	return out
}

// unfold lifts the rows of a node that has nothing else to say, and whose term
// only repeats the heading, up to the block.
func unfold(rows []row, heading string) []row {
	var out []row
	for _, r := range rows {
		if plain(r.Term) && r.Term[0].Text == heading && len(r.Items) == 1 && len(r.Items[0].Lead) == 0 {
			out = append(out, r.Items[0].Rows...)
		} else {
			out = append(out, r)
		}
	}
	return out
}

// plain reports whether a term is only our word for a key.
func plain(term []span) bool { return len(term) == 1 && term[0].Href == "" && term[0].Code == "" }

// rest makes rows of all fields that are left.
func (v *viewer) rest(n *node) []row {
	var out []row
	for len(n.fields) > 0 {
		out = append(out, v.rows(n.take(n.fields[0].key), n.class)...)
	}
	return out
}

// rows makes rows of a field on a node of a class: one for each term that its
// nodes bring themselves ("Accession number"), one for all the others.
func (v *viewer) rows(f field, class string) []row {
	var out []row
	add := func(term []span, it item) {
		for i := range out {
			if slices.Equal(out[i].Term, term) {
				out[i].Items = append(out[i].Items, it)
				return
			}
		}
		out = append(out, row{Term: term, Items: []item{it}, key: f.key})
	}
	word := []span{{Text: keyWord(f.key, class)}}
	for _, val := range f.values {
		add(word, item{Lead: []span{literal(val)}})
	}
	for _, n := range f.nodes {
		term := word
		if own := v.ownTerm(n); own != nil {
			term = own
		}
		if says(term, n.text("_label")) {
			n.takeText("_label")
		}
		add(term, v.item(n))
	}
	return out
}

// ownWords stand before names, numbers, statements and measures that have no
// classification.
var ownWords = map[string]string{"Name": "Name", "Identifier": "Number", "LinguisticObject": "Statement", "Dimension": "Size"}

// ownTerm takes the classifications of an embedded name, number, statement or
// measure: what a curator would write before the colon.
func (v *viewer) ownTerm(n *node) []span {
	word, ok := ownWords[n.class]
	if !ok || n.iri != "" {
		return nil
	}
	kinds := n.take("classified_as")
	if len(kinds.nodes) == 0 {
		if n.class == "LinguisticObject" && n.key != "referred_to_by" {
			return nil
		}
		return []span{{Text: word}}
	}
	var term []span
	for i, k := range kinds.nodes {
		s := v.inline(k)
		if i > 0 {
			s = quiet(s)
		}
		term = append(term, s...)
	}
	return term
}

// wrapping are keys whose word need not be said of a node that has no more to say.
var wrapping = map[string]bool{"digitally_shown_by": true, "digitally_carried_by": true, "access_point": true, "identified_by": true, "part": true}

// item shows a node: a line, and below it the rest.
func (v *viewer) item(n *node) item {
	it := item{Lead: v.lead(n)}
	it.Rows = v.rest(n)
	switch {
	case len(it.Lead) > 0:
	case len(it.Rows) == 0:
		it.Lead = []span{{Text: classWord(n.class), Quiet: true}}
	case len(it.Rows) == 1 && len(it.Rows[0].Items) == 1 && plain(it.Rows[0].Term) && wrapping[it.Rows[0].key]:
		return it.Rows[0].Items[0]
	}
	return it
}

// inline shows a node in one line.
func (v *viewer) inline(n *node) []span {
	out := v.lead(n)
	for len(n.fields) > 0 {
		f := n.take(n.fields[0].key)
		for _, val := range f.values {
			s := literal(val)
			s.Text = keyWord(f.key, n.class) + ": " + s.Text
			s.Quiet = true
			out = append(out, s)
		}
		for _, c := range f.nodes {
			out = append(out, quiet(v.inline(c))...)
		}
	}
	if len(out) == 0 {
		out = []span{{Text: classWord(n.class), Quiet: true}}
	}
	return out
}

// lead takes from a node what makes its line.
func (v *viewer) lead(n *node) []span {
	switch {
	case n.iri != "":
		return v.reference(n)
	case n.class == "TimeSpan":
		return v.period(n)
	case n.class == "Dimension" || n.class == "MonetaryAmount":
		return v.amount(n)
	}
	return v.words(n)
}

// reference is a link to what n refers to, with its classifications behind it.
func (v *viewer) reference(n *node) []span {
	s := v.link(n)
	if l, ok := n.takeText("_label"); ok {
		s.Text = l.text
	}
	out := []span{s}
	for _, c := range n.take("classified_as").nodes {
		out = append(out, quiet(v.inline(c))...)
	}
	return out
}

// link leads to the record of a reference if it lies in this site, else to its
// IRI. Files are not records.
func (v *viewer) link(n *node) span {
	if n.key != "access_point" {
		if p, ok := service.Path(v.site.Base, n.iri); ok {
			return span{Text: n.iri, Href: service.Relative(v.path, p), Code: n.iri}
		}
	}
	if onWeb(n.iri) {
		return span{Text: n.iri, Href: n.iri, External: true}
	}
	return span{Text: n.iri, Code: n.iri}
}

func onWeb(iri string) bool {
	u, err := url.Parse(iri)
	return err == nil && (u.Scheme == "http" || u.Scheme == "https") && u.Host != ""
}

func quiet(s []span) []span {
	for i := range s {
		s[i].Quiet = true
	}
	return s
}

func literal(val value) span {
	switch val.kind {
	case entity.DateTime:
		return moment(val.text)
	case entity.TermName:
		return span{Text: keyWord(val.text, ""), Code: val.text}
	}
	return span{Text: val.text}
}

// words is the line of an embedded node: its text, its classifications, its label.
func (v *viewer) words(n *node) []span {
	var out []span
	if c, ok := n.takeText("content"); ok {
		s := span{Text: c.text}
		langs := n.take("language").nodes
		if len(langs) == 1 {
			if a, ok := vocab.AuthorityByIRI(langs[0].iri); ok {
				s.Lang = a.Code
			}
		}
		out = append(out, s)
		for _, l := range langs {
			out = append(out, quiet(v.inline(l))...)
		}
	}
	label, hasLabel := n.takeText("_label")
	if len(out) == 0 && hasLabel {
		out = append(out, span{Text: label.text})
	}
	for _, k := range n.take("classified_as").nodes {
		s := v.inline(k)
		if len(out) > 0 {
			s = quiet(s)
		}
		out = append(out, s...)
	}
	if hasLabel && !says(out, label.text) {
		out = append(out, span{Text: label.text, Quiet: true})
	}
	if len(out) > 0 {
		if f, ok := n.takeText("format"); ok {
			out = append(out, span{Text: f.text, Quiet: true})
		}
	}
	return out
}

func says(s []span, text string) bool {
	return text != "" && slices.ContainsFunc(s, func(s span) bool { return strings.EqualFold(s.Text, text) })
}

// amount is a number with its unit.
func (v *viewer) amount(n *node) []span {
	var out []span
	if val, ok := n.takeText("value"); ok {
		out = append(out, span{Text: val.text})
	}
	low, hasLow := n.takeText("lower_value_limit")
	high, hasHigh := n.takeText("upper_value_limit")
	limits := ""
	switch {
	case hasLow && hasHigh:
		limits = "between " + low.text + " and " + high.text
	case hasLow:
		limits = "at least " + low.text
	case hasHigh:
		limits = "at most " + high.text
	}
	if limits != "" {
		out = append(out, span{Text: limits, Quiet: len(out) > 0})
	}
	for _, key := range [...]string{"unit", "currency"} {
		for _, u := range n.take(key).nodes {
			out = append(out, v.inline(u)...)
		}
	}
	return append(out, quietAfter(out, v.words(n))...)
}

func quietAfter(before, s []span) []span {
	if len(before) > 0 {
		return quiet(s)
	}
	return s
}

// period is a time span: as it was written down, and its outermost limits.
func (v *viewer) period(n *node) []span {
	var out []span
	if f := n.look("identified_by"); len(f.nodes) == 1 && len(f.values) == 0 && f.nodes[0].iri == "" {
		n.take("identified_by")
		out = append(out, v.inline(f.nodes[0])...)
	}
	if l, ok := n.takeText("_label"); ok && !says(out, l.text) {
		out = append(out, span{Text: l.text, Quiet: len(out) > 0})
	}
	begin, hasBegin := n.takeText("begin_of_the_begin")
	end, hasEnd := n.takeText("end_of_the_end")
	var limits []span
	switch {
	case hasBegin && hasEnd:
		limits = between(begin.text, end.text)
		if len(limits) == 1 && len(out) > 0 && out[0].Text == limits[0].Text {
			out[0].Time, out[0].Code = limits[0].Time, limits[0].Code
			return out
		}
	case hasBegin:
		limits = []span{{Text: "not before"}, moment(begin.text)}
	case hasEnd:
		limits = []span{{Text: "not after"}, moment(end.text)}
	}
	return append(out, quietAfter(out, limits)...)
}

// between is a span of time from its limits, in years if it has whole ones.
func between(begin, end string) []span {
	from, to := moment(begin), moment(end)
	y1, ok1 := strings.CutPrefix(from.Text, "1 January ")
	y2, ok2 := strings.CutPrefix(to.Text, "31 December ")
	if ok1 && ok2 && !strings.Contains(y1+y2, ",") {
		from.Text, to.Text = y1, y2
		if y1 == y2 {
			from.Code = begin + "/" + end
			return []span{from}
		}
	}
	return []span{from, {Text: "to"}, to}
}

// moment writes a date or time the short way.
func moment(s string) span {
	out := span{Text: s, Time: s}
	t, err := time.Parse("2006-01-02T15:04:05Z07:00", s)
	if err != nil {
		if t, err = time.Parse("2006-01-02T15:04:05", s); err != nil {
			return out
		}
	}
	h, m, sec := t.Clock()
	switch day := h*3600 + m*60 + sec; {
	case day == 0 || day == 86399: // a whole day's begin or end
		out.Text = t.Format("2 January 2006")
	case sec == 0:
		out.Text = t.Format("2 January 2006, 15:04")
	default:
		out.Text = t.Format("2 January 2006, 15:04:05")
	}
	return out
}

// imageSuffixes are those of files that browsers show.
var imageSuffixes = []string{".jpg", ".jpeg", ".png", ".gif", ".webp", ".avif", ".svg"}

// images finds the pictures of a document: the access points of its digital
// objects that a browser can show. It takes nothing.
func images(root *node, name string) []image {
	var out []image
	var walk func(n *node, alt string)
	walk = func(n *node, alt string) {
		switch l := n.text("_label"); {
		case l != "" && n != root:
			alt = l
		case n.class == "DigitalObject" || n.class == "VisualItem":
			for _, c := range n.look("identified_by").nodes {
				if t := c.text("content"); t != "" {
					alt = t
					break
				}
			}
		}
		if n.class == "DigitalObject" {
			format := n.text("format")
			for _, a := range n.look("access_point").nodes {
				i := image{Href: a.iri, Alt: alt}
				if shows(a.iri, format) && !slices.ContainsFunc(out, func(o image) bool { return o.Href == i.Href }) {
					out = append(out, i)
				}
			}
		}
		for _, f := range n.fields {
			if f.key == "attributed_by" {
				continue // a claimed picture is none
			}
			for _, c := range f.nodes {
				walk(c, alt)
			}
		}
	}
	walk(root, name)
	return out
}

func shows(iri, format string) bool {
	u, err := url.Parse(iri)
	if err != nil || !onWeb(iri) {
		return false
	}
	if format == "" {
		return slices.Contains(imageSuffixes, strings.ToLower(path.Ext(u.Path)))
	}
	return strings.HasPrefix(format, "image/") && format != "image/tiff" && format != "image/jp2"
}

// summary is who made a thing, when and where, in a line; empty if the document
// does not say.
func summary(root *node) []string {
	var who, when, where []string
	var walk func(n *node)
	walk = func(n *node) {
		for _, a := range n.look("carried_out_by").nodes {
			who = appendNew(who, a.text("_label"))
		}
		for _, t := range n.look("timespan").nodes {
			for _, name := range t.look("identified_by").nodes {
				when = appendNew(when, name.text("content"))
			}
			when = appendNew(when, t.text("_label"))
		}
		for _, p := range n.look("took_place_at").nodes {
			where = appendNew(where, p.text("_label"))
		}
		for _, p := range n.look("part").nodes {
			walk(p)
		}
	}
	for _, key := range [...]string{"produced_by", "created_by"} {
		for _, n := range root.look(key).nodes {
			walk(n)
		}
	}
	var out []string
	for _, part := range [...][]string{who, when, where} {
		if len(part) > 3 {
			part = append(part[:3:3], "and others")
		}
		if len(part) > 0 {
			out = append(out, strings.Join(part, ", "))
		}
	}
	return out
}

func appendNew(list []string, s string) []string {
	if s == "" || slices.Contains(list, s) {
		return list
	}
	return append(list, s)
}

package site

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"ropewalk/mapping"
	"ropewalk/mapping/concordance"
	"ropewalk/mapping/reading"
	"ropewalk/mapping/source"
)

// ConcordanceSource is the name of the source that holds what curators have decided
// about an order list; see [concordance.Result.Rows].
const ConcordanceSource = "concordance"

// decidedName stands in the place of a file's name for the rows of that source. No
// file can have it.
const decidedName = "concordance (as decided)"

// decisionsName is the file of decisions, if the site has it and does not name another.
const decisionsName = "decisions.csv"

var (
	ruleConcordance = &mapping.Rule{Name: "concordance", About: "an order list, a catalogue or objects that can't be used for a concordance"}
	ruleDecision    = &mapping.Rule{Name: "decision", About: "a decision about a line of an order list that does not fit, or contradicts another"}
	ruleOddRow      = &mapping.Rule{Name: "odd-row", Severity: mapping.Notice, About: "a row of an order list or a catalogue that can't be used as it is"}
)

// decided is a file system with one file more: the rows of the source of decisions,
// which are known only when the other sources have been read.
type decided struct {
	fs.FS
	data []byte
}

func (d *decided) Open(name string) (fs.File, error) {
	if name != decidedName {
		return d.FS.Open(name)
	}
	return &memoryFile{Reader: bytes.NewReader(d.data), size: int64(len(d.data))}, nil
}

func (d *decided) fill(rows [][]string) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(concordance.Columns) // a buffer does not fail
	_ = w.WriteAll(rows)
	w.Flush()
	d.data = b.Bytes()
}

type memoryFile struct {
	*bytes.Reader
	size int64
}

func (f *memoryFile) Stat() (fs.FileInfo, error) { return f, nil }
func (f *memoryFile) Close() error               { return nil }
func (f *memoryFile) Name() string               { return decidedName }
func (f *memoryFile) Size() int64                { return f.size }
func (f *memoryFile) Mode() fs.FileMode          { return 0o444 }
func (f *memoryFile) ModTime() time.Time         { return time.Time{} }
func (f *memoryFile) IsDir() bool                { return false }
func (f *memoryFile) Sys() any                   { return nil }

var _ io.ReaderAt = (*memoryFile)(nil)

// fileSystem is the site's folder, with the rows of the source of decisions if there
// are any.
func (l *loader) fileSystem() fs.FS {
	if l.decided != nil {
		return l.decided
	}
	return l.fsys
}

// concordanceSpec declares the source of decisions.
func (l *loader) concordanceSpec(specs []source.Spec, use map[string]mapping.ColumnUse) []source.Spec {
	m, ok := l.root.Get("concordance").(*mapping.Map)
	if !ok {
		return specs
	}
	l.decided = &decided{FS: l.fsys}
	l.decided.fill(nil)
	use[ConcordanceSource] = mapping.ColumnUse{Unused: concordance.Columns}
	return append(specs, source.Spec{Name: ConcordanceSource, Files: []string{decidedName}, Format: "csv", Encoding: "utf-8", Delimiter: ",", HTML: "keep", Key: "key",
		Rows: joins(m.Get("rows")), Lookups: joins(m.Get("lookup"))})
}

// at is the value below keys of the site file; nil if there is none.
func (l *loader) at(pointer string) mapping.Value {
	var v mapping.Value = l.root
	for _, key := range strings.Split(strings.TrimPrefix(pointer, "/"), "/") {
		m, ok := v.(*mapping.Map)
		if !ok {
			return nil
		}
		v = m.Get(key)
	}
	return v
}

// sourceKey is where a source stands in the site file.
func (l *loader) sourceKey(name string) string {
	if name == ConcordanceSource && l.decided != nil {
		return "/concordance"
	}
	return "/sources/" + name
}

// columnReader reads fields of a source, named at places of the site file.
type columnReader struct {
	l      *loader
	use    map[string]mapping.ColumnUse
	src    *source.Source
	layout *source.Layout
	at     string // pointer
	slots  map[string]int
	failed bool
}

// columnsOf prepares the reading of the source that is named at a pointer.
func (l *loader) columnsOf(at string, use map[string]mapping.ColumnUse) *columnReader {
	name := mapping.Text(l.root, at+"/from")
	src := l.site.Sources.Source(name)
	place := mapping.Find(l.root, at+"/from")
	switch {
	case name == ConcordanceSource:
		l.add(place, ruleConcordance, "the concordance can't be worked out of itself", "")
		return nil
	case src == nil:
		l.add(place, ruleConcordance, fmt.Sprintf("there is no source %q", name), mapping.DidYouMean(name, l.site.Sources.Names()))
		return nil
	case src.Nested():
		l.add(place, ruleConcordance, fmt.Sprintf("source %q is no table", name), "an order list, a catalogue and objects are read from tables")
		return nil
	}
	return &columnReader{l: l, use: use, src: src, layout: src.Layout(), at: at, slots: map[string]int{}}
}

// field asks for the field that is named at a key, if one is.
func (c *columnReader) field(key string) {
	if name := mapping.Text(c.l.root, c.at+"/"+key); name != "" {
		c.column(key, name, mapping.Find(c.l.root, c.at+"/"+key))
	}
}

func (c *columnReader) column(key, name string, place mapping.Span) {
	l := c.l
	slot, err := c.layout.Field(name)
	if err != nil {
		c.failed = true
		hint := ""
		if d, derr := c.src.Describe(); derr == nil {
			var have []string
			for _, col := range d.Columns {
				if c.src.Mentionable(col.Path) {
					have = append(have, col.Path)
				}
			}
			if hint = mapping.DidYouMean(name, have); hint == "" && len(have) <= 30 {
				hint = "it has " + strings.Join(have, ", ")
			}
		}
		l.add(place, ruleConcordance, fmt.Sprintf("source %q has no field %q", c.src.Name, name), hint)
		return
	}
	from, column := c.layout.Origin(slot)
	switch {
	case from.Name == ConcordanceSource:
		c.failed = true
		l.add(place, ruleConcordance, fmt.Sprintf("the field %q comes from the concordance, which can't be worked out of itself", name), "")
		return
	case covered(c.use[from.Name].Withheld, column) || c.withheldOnTheWay(name):
		c.failed = true
		l.add(place, ruleConcordance, fmt.Sprintf("%q of source %q is withheld", column, from.Name), "the concordance is shown and published; the site file says under \"withheld\" that this column is not")
		return
	}
	// What the concordance reads is not unused.
	u := c.use[from.Name]
	if !slices.Contains(u.Unused, column) {
		u.Unused = append(slices.Clone(u.Unused), column)
		c.use[from.Name] = u
	}
	c.slots[key] = slot
}

// withheldOnTheWay reports whether a look-up goes by a withheld column.
func (c *columnReader) withheldOnTheWay(name string) bool {
	src := c.src
	for {
		next := ""
		for look, j := range src.Lookups {
			if rest, ok := strings.CutPrefix(name, look+"."); ok {
				for _, on := range j.On {
					if covered(c.use[src.Name].Withheld, on[0]) || covered(c.use[j.From].Withheld, on[1]) {
						return true
					}
				}
				name, next = rest, j.From
				break
			}
		}
		if src = c.l.site.Sources.Source(next); src == nil {
			return false
		}
	}
}

// oddRows says what is odd about rows that are used all the same. Nobody else tells of
// a source that no mapping reads.
var oddRows = map[source.Kind]string{
	source.ShortRow:       "it has fewer cells than the header; those that are missing are taken as empty",
	source.LongRow:        "it has more cells than the header; those beyond it are not used",
	source.SeveralMatches: "the look-up finds several rows; the first is used",
	source.Unmatched:      "the look-up finds no row, so its fields are empty",
}

// read reads all rows.
func (c *columnReader) read(row func(cell func(key string) string, at concordance.Place)) {
	if c.failed {
		return
	}
	rep := &source.Report{}
	err := c.src.Read(context.Background(), c.layout, source.Options{Report: rep}, func(b *source.Batch) error {
		defer b.Release()
		for i := range b.Rows {
			r := &b.Rows[i]
			p := c.layout.WhereRow(r)
			row(func(key string) string {
				if s, ok := c.slots[key]; ok {
					return strings.Clone(r.Cells[s])
				}
				return ""
			}, concordance.Place{File: p.File, Row: p.Row, Line: p.Line})
		}
		return nil
	})
	if err != nil {
		c.l.add(mapping.Find(c.l.root, c.at+"/from"), ruleConcordance, fmt.Sprintf("source %q can't be read: %v", c.src.Name, err), "")
	}
	if c.l.site.looked == nil {
		c.l.site.looked = map[string]int{}
	}
	c.l.site.looked[c.src.Name] = rep.Records(c.src.Name)
	for _, n := range rep.Notes() {
		if what := oddRows[n.Kind]; what != "" && len(n.Places) > 0 && (n.Kind != source.Unmatched || c.at != "/concordance/objects") {
			at := n.Places[0]
			name, more := "", ""
			if n.Count > 1 {
				more = fmt.Sprintf(" (%d rows are like this)", n.Count)
			}
			if n.Column != "" {
				name = fmt.Sprintf(" (%s)", n.Column)
			}
			c.l.add(mapping.Span{File: at.File, Line: max(at.Line, 1), Col: 1, Len: 1}, ruleOddRow, fmt.Sprintf("row %d%s: %s%s", at.Row, name, what, more), "")
		}
		if n.Kind == source.Unsafe {
			c.l.add(mapping.Find(c.l.root, c.at+"/from"), ruleOddRow,
				fmt.Sprintf("source %q: rows with more or fewer cells than the header were not read (%d of them), because a withheld cell may stand in another column", c.src.Name, n.Count), "")
		}
	}
}

// concordance reads what the site declares, works it out, and fills the source of
// decisions.
func (l *loader) concordance(use map[string]mapping.ColumnUse, conv map[string]*reading.Conventions) {
	if l.decided == nil {
		return
	}
	before := l.diags.Problems()
	of := func(from string) *reading.Conventions {
		if c := conv[from]; c != nil {
			return c
		}
		return conv[""]
	}
	in := &concordance.Input{About: 10}
	if v := mapping.Text(l.root, "/concordance/about"); v != "" {
		in.About, _ = strconv.Atoi(strings.TrimRight(v, " %")) // the schema has seen to its form
	}
	if c := l.columnsOf("/concordance/orders", use); c != nil {
		for _, k := range []string{"document", "folio", "line", "number", "edition", "words", "quantity", "price", "amount", "note", "date", "total"} {
			c.field(k)
		}
		_, counted := c.slots["quantity"]
		in.Each = !counted
		in.LineConventions = of(c.src.Name)
		c.read(func(cell func(string) string, at concordance.Place) {
			in.Lines = append(in.Lines, concordance.Line{Document: cell("document"), Folio: cell("folio"), Line: cell("line"), Number: cell("number"),
				Edition: cell("edition"), Name: cell("words"), Quantity: cell("quantity"), Price: cell("price"), Amount: cell("amount"), Note: cell("note"),
				Date: cell("date"), Total: cell("total"), Place: at})
		})
	}
	for _, e := range entries(l.at("/concordance/catalogues")) {
		c := l.columnsOf("/concordance/catalogues/"+e.Key.Text, use)
		if c == nil {
			continue
		}
		for _, k := range []string{"edition", "published", "number", "name", "price", "description"} {
			c.field(k)
		}
		habits := of(c.src.Name)
		c.read(func(cell func(string) string, at concordance.Place) {
			in.Entries = append(in.Entries, concordance.Entry{Catalogue: e.Key.Text, Edition: cell("edition"), Published: cell("published"), Number: cell("number"),
				Name: cell("name"), Price: cell("price"), Description: cell("description"), Conventions: habits, Place: at})
		})
	}
	if l.at("/concordance/objects") != nil {
		l.concordanceObjects(in, use)
	}
	l.decisions(in)
	if l.diags.Problems() > before {
		return
	}
	res := concordance.Work(in)
	for _, p := range res.Problems {
		l.concordanceProblem(p)
	}
	l.site.Concordance = res
	l.decided.fill(res.Rows())
	l.site.Sources.Forget()
}

func (l *loader) concordanceObjects(in *concordance.Input, use map[string]mapping.ColumnUse) {
	const at = "/concordance/objects"
	c := l.columnsOf(at, use)
	if c == nil {
		return
	}
	for _, k := range []string{"id", "name", "edition", "document"} {
		c.field(k)
	}
	var numbers []string
	many := l.at(at + "/numbers")
	for i, name := range list(many) {
		place := mapping.Find(l.root, at+"/numbers")
		if _, ok := many.(*mapping.List); ok {
			place = mapping.Find(l.root, fmt.Sprintf("%s/numbers/%d", at, i))
		}
		numbers = append(numbers, fmt.Sprintf("numbers %d", i))
		c.column(numbers[i], name, place)
	}
	states := map[string][]stateWords{}
	for _, key := range []string{"fragmentary", "lost"} {
		for i, e := range entries(l.at(at + "/" + key)) {
			k := fmt.Sprintf("%s %d", key, i)
			c.column(k, e.Key.Text, e.Key.Span)
			states[key] = append(states[key], stateWords{k, list(e.Value)})
		}
	}
	ids := map[string]concordance.Place{}
	var objects []concordance.Object
	c.read(func(cell func(string) string, at concordance.Place) {
		o := concordance.Object{ID: cell("id"), Name: cell("name"), Edition: cell("edition"), Document: cell("document"), Place: at}
		if o.ID == "" {
			return // an object that can't be named can't be decided about
		}
		if first, twice := ids[o.ID]; twice {
			l.add(mapping.Span{File: at.File, Line: max(at.Line, 1), Col: 1, Len: 1}, ruleOddRow,
				fmt.Sprintf("row %d: %s has the object %q already, so this row is left out of the concordance", at.Row, first, o.ID), "")
			return
		}
		ids[o.ID] = at
		for _, k := range numbers {
			if n := cell(k); n != "" {
				o.Numbers = append(o.Numbers, n)
			}
		}
		said := func(key string) bool {
			return slices.ContainsFunc(states[key], func(s stateWords) bool { return s.in(cell(s.key)) })
		}
		o.Fragmentary, o.Lost = said("fragmentary"), said("lost")
		objects = append(objects, o)
	})
	in.Objects = objects
}

// stateWords are words of a column by which an object is in pieces, or lost.
type stateWords struct {
	key   string
	words []string
}

// in reports whether a cell holds one of the words, as whole words.
func (s stateWords) in(cell string) bool {
	plain := func(t string) string {
		return " " + strings.Join(strings.FieldsFunc(strings.ToLower(t), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
	}
	c := plain(cell)
	return slices.ContainsFunc(s.words, func(w string) bool { return strings.Contains(c, plain(w)) })
}

// decisions reads the file of decisions.
func (l *loader) decisions(in *concordance.Input) {
	must, may := []string{"document", "line", "decision", "by", "on", "because"}, []string{"folio", "edition", "number", "object", "pieces"}
	l.decisionColumns = map[string]int{}
	l.list("/concordance/decisions", "decisions", decisionsName, ruleDecision, must, may, func(c []string, where func(int) source.Place) {
		p := where(0)
		if len(l.decisionColumns) == 0 {
			for i, name := range slices.Concat(must, may) {
				l.decisionColumns[name] = where(i).Col
			}
		}
		in.Decisions = append(in.Decisions, concordance.Decision{Document: c[0], Line: c[1], Kind: c[2], By: c[3], On: c[4], Because: c[5],
			Folio: c[6], Edition: c[7], Number: c[8], Object: c[9], Pieces: c[10], Place: concordance.Place{File: p.File, Row: p.Row, Line: p.Line}})
	})
}

// concordanceProblem puts what is wrong at its cell.
func (l *loader) concordanceProblem(p concordance.Problem) {
	at := source.Place{File: p.Place.File, Row: p.Place.Row, Line: p.Place.Line, Value: p.Value}
	if !p.Decision {
		l.add(mapping.Span{File: at.File, Line: max(at.Line, 1), Col: 1, Len: 1}, ruleOddRow, fmt.Sprintf("row %d: %s", at.Row, p.Message), p.Hint)
		return
	}
	at.Column, at.Col = p.Column, l.decisionColumns[p.Column]
	l.addCell(ruleDecision, at, p.Message, p.Hint)
}

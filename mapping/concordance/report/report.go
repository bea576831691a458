// Package report shows a concordance: as a table for a terminal, as CSV, as JSON and as
// an HTML page. Begin with [Formats].
package report

import (
	"fmt"
	"io"
	"strings"

	"ropewalk/mapping/concordance"
)

// Options say what to show.
type Options struct {
	Title string // of the site
	Why   bool   // the text shows the reasons of what is identified, too
	Width int    // columns of the terminal, at which the text is wrapped; 0: it is not
}

// Formats are the formats by name. Each writes the whole of a result.
var Formats = map[string]func(io.Writer, *concordance.Result, Options) error{"text": Text, "csv": CSV, "html": HTML, "json": JSON}

// meaning says what an item means: entries, or what is open.
func meaning(r *concordance.Result, it *concordance.Item) string {
	if len(it.Entries) == 0 {
		switch n := fitting(it); {
		case it.State == concordance.Ambiguous && n > 1:
			return fmt.Sprintf("? one of %d", n)
		case it.State == concordance.Refused:
			return "no entry"
		}
		return "?"
	}
	e := &r.Input.Entries[it.Entries[0]]
	s := e.Label()
	for _, i := range it.Entries[1:] {
		if x := &r.Input.Entries[i]; x.Number == e.Number {
			s += ", also " + x.Edition
		} else {
			s += ", also " + x.Label()
		}
	}
	return s + ", " + e.Name
}

func fitting(it *concordance.Item) int {
	n := 0
	for _, c := range it.Candidates {
		if !c.Against {
			n++
		}
	}
	return n
}

// found says which objects are pieces of a line: at most so many of each kind by name.
func found(r *concordance.Result, l *concordance.LineResult, most int) string {
	var sure, may []string
	for i := range l.Pieces {
		p := &l.Pieces[i]
		s := r.Input.Objects[p.Object].ID
		switch o := &r.Input.Objects[p.Object]; {
		case o.Lost:
			s += " (lost)"
		case o.Fragmentary:
			s += " (in pieces)"
		}
		if p.Certain {
			sure = append(sure, s)
		} else {
			may = append(may, s)
		}
	}
	var parts []string
	names := func(list []string) string {
		if len(list) > most+1 {
			return fmt.Sprintf("%s and %d more", strings.Join(list[:most], ", "), len(list)-most)
		}
		return strings.Join(list, ", ")
	}
	if len(sure) > 0 {
		parts = append(parts, names(sure))
	}
	if len(may) > 0 {
		parts = append(parts, "perhaps "+names(may))
	}
	if l.Lost > 0 {
		parts = append(parts, fmt.Sprintf("%d lost", l.Lost))
	}
	return strings.Join(parts, "; ")
}

func quantity(l *concordance.LineResult) string {
	if l.State == concordance.StruckOut {
		return "–"
	}
	return l.Quantity.String()
}

// linesOf are the lines of each document, by index.
func linesOf(r *concordance.Result) map[string][]int {
	out := map[string][]int{}
	for i := range r.Lines {
		d := r.Lines[i].Document
		out[d] = append(out[d], i)
	}
	return out
}

// Text writes a table for each document, then what is to be decided, the objects and
// the totals. Control characters in cells are written out, so that none reaches the
// terminal.
func Text(w io.Writer, r *concordance.Result, opt Options) error {
	out := &printer{w: w, width: opt.Width}
	lines := linesOf(r)
	for d := range r.Documents {
		doc := &r.Documents[d]
		out.para("", heading(doc))
		t := &table{}
		t.row("leaf", "line", "as written", "pieces", "price", "means", "objects", "state")
		for _, i := range lines[doc.Document] {
			l := &r.Lines[i]
			items := l.Items
			if len(items) == 0 {
				items = []concordance.Item{{}}
			}
			for k := range items {
				it := &items[k]
				mean := meaning(r, it)
				if l.State == concordance.StruckOut {
					mean = ""
				}
				if k == 0 {
					t.row(l.Folio, l.Line.Line, l.Number, quantity(l), l.Unit.String(), mean, found(r, l, 3), state(l, it))
				} else {
					t.row("", "", "", "", "", mean, "", state(l, it))
				}
			}
		}
		out.table(t)
		out.blank()
	}
	out.decide(r, opt)
	out.objects(r)
	out.totals(r)
	return out.err
}

func heading(t *concordance.Totals) string {
	if t.Date != "" {
		return name(t) + ", " + t.Date
	}
	return name(t)
}

// name is what a document is called.
func name(t *concordance.Totals) string {
	if t.Document == "" {
		return "no document"
	}
	return t.Document
}

func state(l *concordance.LineResult, it *concordance.Item) string {
	if it.State == "" {
		return string(l.State)
	}
	if it.State == concordance.Identified {
		return "identified by " + it.Rule
	}
	return string(it.State)
}

type printer struct {
	w     io.Writer
	width int
	err   error
}

func (p *printer) Write(b []byte) (int, error) {
	if p.err == nil {
		_, p.err = p.w.Write(b)
	}
	return len(b), nil
}

func (p *printer) blank() { fmt.Fprintln(p) }

func (p *printer) table(t *table) { t.write(p, p.width) }

// para writes text behind a lead; lines that are wrapped begin below it.
func (p *printer) para(lead, text string) {
	most := 0
	if p.width > 0 {
		most = max(leastFit, p.width-columns(lead))
	}
	for _, l := range wrap(clean(text), most) {
		fmt.Fprintf(p, "%s\n", strings.TrimRight(lead+l, " "))
		lead = strings.Repeat(" ", columns(lead))
	}
}

// quoted writes what was written, between quotation marks; the marks of a ditto are
// often those too.
func quoted(s string) string {
	if strings.Contains(s, `"`) {
		return "“" + s + "”"
	}
	return `"` + s + `"`
}

// decide lists what is open, with candidates and reasons.
func (p *printer) decide(r *concordance.Result, opt Options) {
	first, title := true, "To be decided or looked at"
	if opt.Why {
		title = "The lines and their reasons"
	}
	for i := range r.Lines {
		l := &r.Lines[i]
		for k := range l.Items {
			it := &l.Items[k]
			if it.State.Known() && !opt.Why || l.State == concordance.Refused && !opt.Why {
				continue
			}
			if first {
				p.para("", title)
				first = false
			}
			p.para("  ", fmt.Sprintf("%s, %s: %s: %s", l.ID(), quoted(l.Number), it.State, it.Why))
			for _, c := range it.Candidates {
				e := &r.Input.Entries[c.Entry]
				p.para(fmt.Sprintf("    %3s  ", signed(c.Points)), fmt.Sprintf("%s, %s%s", e.Label(), e.Name, against(c)))
				for _, reason := range c.Reasons {
					p.para("         ", points(reason))
				}
			}
		}
		for _, n := range l.Notes {
			if first {
				p.para("", title)
				first = false
			}
			p.para("  ", l.ID()+": "+n)
		}
		if !opt.Why {
			continue
		}
		for _, x := range l.Pieces {
			o := &r.Input.Objects[x.Object]
			p.para("    ", fmt.Sprintf("piece %s: %s", named(o), r.Objects[x.Object].Why))
			for _, reason := range x.Reasons {
				p.para("         ", points(reason))
			}
		}
	}
	if !first {
		p.blank()
	}
}

func against(c concordance.Candidate) string {
	if c.Against {
		return " (does not fit)"
	}
	return ""
}

// named is an object's number and name.
func named(o *concordance.Object) string { return strings.TrimSuffix(o.ID+", "+o.Name, ", ") }

// signed writes points with the minus of print, as amounts of money have it.
func signed(points int) string {
	if points < 0 {
		return fmt.Sprintf("−%d", -points)
	}
	return fmt.Sprint(points)
}

func points(r concordance.Reason) string {
	switch {
	case r.Points > 0:
		return fmt.Sprintf("+%d  %s", r.Points, r.Text)
	case r.Points < 0:
		return fmt.Sprintf("−%d  %s", -r.Points, r.Text)
	}
	return r.Text
}

// objects lists the objects that are open, and those that were never ordered.
func (p *printer) objects(r *concordance.Result) {
	for _, part := range objectParts(r) {
		if len(part.objects) == 0 {
			continue
		}
		p.para("", part.title)
		t := &table{indent: "  "}
		for _, o := range part.objects {
			x, res := &r.Input.Objects[o], &r.Objects[o]
			t.row(x.ID, x.Name, "no. "+strings.Join(x.Numbers, ", "), res.Why+optionLines(r, res))
		}
		p.table(t)
		p.blank()
	}
}

type objectPart struct {
	title   string
	objects []int
}

// objectParts are the objects that are a piece of no line for certain, by state.
func objectParts(r *concordance.Result) []objectPart {
	parts := []struct {
		title string
		state concordance.ObjectState
	}{{"Objects that may be a piece of a line", concordance.OfSeveral}, {"Objects that were never ordered there", concordance.NeverOrdered},
		{"Objects whose number stands in no catalogue", concordance.NotListed}, {"Objects whose number can't be read", concordance.NotRead}}
	var out []objectPart
	for _, s := range parts {
		p := objectPart{title: s.title}
		for i := range r.Objects {
			if r.Objects[i].State == s.state {
				p.objects = append(p.objects, i)
			}
		}
		out = append(out, p)
	}
	return out
}

func optionLines(r *concordance.Result, o *concordance.ObjectResult) string {
	if len(o.Options) == 0 || o.State != concordance.OfSeveral {
		return ""
	}
	const most = 6
	var ids []string
	for i, l := range o.Options {
		if i == most {
			ids = append(ids, fmt.Sprintf("%d more", len(o.Options)-most))
			break
		}
		ids = append(ids, r.Lines[l].ID())
	}
	return ": " + strings.Join(ids, "; ")
}

// totalRows are the rows of the table of totals, the same in every format.
func totalRows(t *concordance.Totals) [][2]string {
	return [][2]string{{"ordered", t.Ordered.String()}, {"identified", t.Identified.String()}, {"surviving", t.Surviving.String()},
		{"fragmentary", t.Fragmentary.String()}, {"lost", t.Lost.String()}, {"on record as lost", t.RecordedLost.String()}, {"unexplained", t.Unexplained.String()},
		{"price of the lines", t.Sum.String()}, {"the document says", t.OwnSum.String()}}
}

func (p *printer) totals(r *concordance.Result) {
	all := make([]*concordance.Totals, 0, len(r.Documents)+1)
	for i := range r.Documents {
		all = append(all, &r.Documents[i])
	}
	if len(r.Documents) > 1 {
		all = append(all, &r.All)
	}
	p.para("", "Totals, in pieces and in pounds, shillings and pence")
	// Few documents stand beside each other; many, one below the other.
	cells := [][]string{{""}}
	for _, row := range totalRows(&r.All) {
		cells[0] = append(cells[0], row[0])
	}
	for _, t := range all {
		c := []string{"all"}
		if t != &r.All {
			c[0] = name(t)
		}
		for _, row := range totalRows(t) {
			c = append(c, row[1])
		}
		cells = append(cells, c)
	}
	if len(r.Documents) <= besides {
		cells = turned(cells)
	}
	t := &table{indent: "  "}
	for _, c := range cells {
		t.row(c...)
	}
	p.table(t)
	for i := range r.Documents {
		t := &r.Documents[i]
		p.para("", name(t)+": "+t.Verdict)
		for _, m := range t.Missing {
			p.para("", name(t)+": "+m)
		}
	}
}

// besides is how many documents the table of totals has beside each other at most.
const besides = 4

func turned(rows [][]string) [][]string {
	out := make([][]string, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			out[i] = append(out[i], c)
		}
	}
	return out
}

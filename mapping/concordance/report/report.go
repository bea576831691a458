// Package report shows a concordance: as a table for a terminal, as CSV, as JSON and as
// an HTML page. Begin with [Formats].
package report

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"ropewalk/mapping/concordance"
)

// Options say what to show.
type Options struct {
	Title string // of the site
	Why   bool   // the text shows the reasons of what is identified, too
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

// Text writes a table for each document, then what is to be decided, the objects and
// the totals.
func Text(w io.Writer, r *concordance.Result, opt Options) error {
	out := &printer{w: w}
	for d := range r.Documents {
		doc := &r.Documents[d]
		out.printf("%s\n", heading(doc))
		tw := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(tw, "leaf\tline\tas written\tpieces\tprice\tmeans\tobjects\tstate")
		for i := range r.Lines {
			l := &r.Lines[i]
			if l.Document != doc.Document {
				continue
			}
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
					fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", l.Folio, l.Line.Line, l.Number, quantity(l), l.Unit, mean, found(r, l, 3), state(l, it))
				} else {
					fmt.Fprintf(tw, "\t\t\t\t\t%s\t\t%s\n", mean, it.State)
				}
			}
		}
		_ = tw.Flush()
		out.printf("\n")
	}
	out.decide(r, opt)
	out.objects(r)
	out.totals(r)
	return out.err
}

func heading(t *concordance.Totals) string {
	if t.Date != "" {
		return t.Document + ", " + t.Date
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
	w   io.Writer
	err error
}

func (p *printer) Write(b []byte) (int, error) {
	if p.err == nil {
		_, p.err = p.w.Write(b)
	}
	return len(b), nil
}

func (p *printer) printf(format string, args ...any) { fmt.Fprintf(p, format, args...) }

// decide lists what is open, with candidates and reasons.
func (p *printer) decide(r *concordance.Result, opt Options) {
	first := true
	for i := range r.Lines {
		l := &r.Lines[i]
		for k := range l.Items {
			it := &l.Items[k]
			if it.State.Known() && !opt.Why || l.State == concordance.Refused && !opt.Why {
				continue
			}
			if first {
				if opt.Why {
					p.printf("The lines and their reasons\n")
				} else {
					p.printf("To be decided\n")
				}
				first = false
			}
			p.printf("  %s, %q: %s: %s\n", l.ID(), l.Number, it.State, it.Why)
			for _, c := range it.Candidates {
				e := &r.Input.Entries[c.Entry]
				p.printf("    %3d  %s, %s%s\n", c.Points, e.Label(), e.Name, against(c))
				for _, reason := range c.Reasons {
					p.printf("         %s\n", points(reason))
				}
			}
		}
		for _, n := range l.Notes {
			if first {
				p.printf("To be decided\n")
				first = false
			}
			p.printf("  %s: %s\n", l.ID(), n)
		}
		if !opt.Why {
			continue
		}
		for _, x := range l.Pieces {
			o := &r.Input.Objects[x.Object]
			p.printf("    piece %s, %s: %s\n", o.ID, o.Name, r.Objects[x.Object].Why)
			for _, reason := range x.Reasons {
				p.printf("         %s\n", points(reason))
			}
		}
	}
	if !first {
		p.printf("\n")
	}
}

func against(c concordance.Candidate) string {
	if c.Against {
		return " (does not fit)"
	}
	return ""
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
		p.printf("%s\n", part.title)
		tw := tabwriter.NewWriter(p, 0, 0, 2, ' ', 0)
		for _, o := range part.objects {
			x, res := &r.Input.Objects[o], &r.Objects[o]
			fmt.Fprintf(tw, "  %s\t%s\tno. %s\t%s%s\n", x.ID, x.Name, strings.Join(x.Numbers, ", "), res.Why, optionLines(r, res))
		}
		_ = tw.Flush()
		p.printf("\n")
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
	p.printf("Totals, in pieces\n")
	tw := tabwriter.NewWriter(p, 0, 0, 2, ' ', 0)
	for _, t := range all {
		name := t.Document
		if t == &r.All {
			name = "all"
		}
		fmt.Fprintf(tw, "\t%s", name)
	}
	fmt.Fprintln(tw)
	rows := totalRows(&r.All)
	for k := range rows {
		fmt.Fprintf(tw, "  %s", rows[k][0])
		for _, t := range all {
			fmt.Fprintf(tw, "\t%s", totalRows(t)[k][1])
		}
		fmt.Fprintln(tw)
	}
	_ = tw.Flush()
	for i := range r.Documents {
		t := &r.Documents[i]
		p.printf("%s: %s\n", t.Document, t.Verdict)
		for _, m := range t.Missing {
			p.printf("%s: %s\n", t.Document, m)
		}
	}
}

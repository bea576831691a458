package report

import (
	_ "embed"
	"html/template"
	"io"
	"strings"

	"ropewalk/mapping/concordance"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("concordance").Funcs(template.FuncMap{"struck": struck}).Parse(pageText))

type pageView struct {
	Title     string
	CSS       template.CSS
	Documents []pageDocument
	Objects   []pageObjects
	Heads     []string // of the table of totals
	Totals    []pageTotal
}

type pageDocument struct {
	ID, Heading, Verdict string
	Agrees               bool
	Missing              []string
	Lines                []pageLine
}

type pageLine struct {
	ID, Folio, Line, Number, Pieces, Price string
	Items                                  []pageItem
	Objects                                string
	Parts                                  []pagePart
	Notes                                  []string
	Open                                   bool
}

type pageItem struct {
	Meaning, State, Why string
	Candidates          []pageCandidate
}

type pageCandidate struct {
	Label   string
	Points  int
	Against bool
	Reasons []string
}

type pagePart struct {
	Label, Why string
	Reasons    []string
}

type pageObjects struct {
	Title string
	Rows  [][4]string
}

type pageTotal struct {
	Name  string
	Cells []string
}

// struck writes what stands between two pairs of tildes as struck out.
func struck(s string) template.HTML {
	var b strings.Builder
	parts := strings.Split(s, "~~")
	for i, p := range parts {
		if i%2 == 1 && i < len(parts)-1 {
			b.WriteString("<s>" + template.HTMLEscapeString(p) + "</s>")
			continue
		}
		if i%2 == 1 {
			b.WriteString("~~") // not closed
		}
		b.WriteString(template.HTMLEscapeString(p))
	}
	return template.HTML(b.String())
}

// HTML writes a page that stands alone: no script, no other file.
func HTML(w io.Writer, r *concordance.Result, opt Options) error {
	v := pageView{Title: opt.Title, CSS: template.CSS(pageCSS)}
	totals := []*concordance.Totals{}
	for d := range r.Documents {
		t := &r.Documents[d]
		v.Heads = append(v.Heads, t.Document)
		totals = append(totals, t)
		doc := pageDocument{ID: t.Document, Heading: heading(t), Verdict: t.Verdict, Agrees: t.Agrees, Missing: t.Missing}
		for i := range r.Lines {
			if l := &r.Lines[i]; l.Document == t.Document {
				doc.Lines = append(doc.Lines, lineView(r, l))
			}
		}
		v.Documents = append(v.Documents, doc)
	}
	if len(r.Documents) > 1 {
		v.Heads = append(v.Heads, "all")
		totals = append(totals, &r.All)
	}
	for k, row := range totalRows(&r.All) {
		p := pageTotal{Name: row[0]}
		for _, t := range totals {
			p.Cells = append(p.Cells, totalRows(t)[k][1])
		}
		v.Totals = append(v.Totals, p)
	}
	for _, part := range objectParts(r) {
		if len(part.objects) == 0 {
			continue
		}
		p := pageObjects{Title: part.title}
		for _, o := range part.objects {
			x, res := &r.Input.Objects[o], &r.Objects[o]
			p.Rows = append(p.Rows, [4]string{x.ID, x.Name, strings.Join(x.Numbers, ", "), res.Why + optionLines(r, res)})
		}
		v.Objects = append(v.Objects, p)
	}
	return page.Execute(w, v)
}

func lineView(r *concordance.Result, l *concordance.LineResult) pageLine {
	p := pageLine{ID: l.ID(), Folio: l.Folio, Line: l.Line.Line, Number: l.Number, Pieces: quantity(l), Price: l.Unit.String(), Objects: found(r, l, 1<<30), Notes: l.Notes}
	p.Open = l.State == concordance.Ambiguous || l.State == concordance.Unexplained
	if l.State == concordance.StruckOut {
		p.Items = []pageItem{{State: string(l.State), Why: l.Why}}
	}
	for k := range l.Items {
		it := &l.Items[k]
		if l.State == concordance.StruckOut {
			break
		}
		x := pageItem{Meaning: meaning(r, it), State: string(it.State), Why: it.Why}
		for _, c := range it.Candidates {
			e := &r.Input.Entries[c.Entry]
			y := pageCandidate{Label: e.Label() + ", " + e.Name, Points: c.Points, Against: c.Against}
			for _, reason := range c.Reasons {
				y.Reasons = append(y.Reasons, points(reason))
			}
			x.Candidates = append(x.Candidates, y)
		}
		p.Items = append(p.Items, x)
	}
	for _, x := range l.Pieces {
		o := &r.Input.Objects[x.Object]
		y := pagePart{Label: strings.TrimSuffix(o.ID+", "+o.Name, ", "), Why: r.Objects[x.Object].Why}
		for _, reason := range x.Reasons {
			y.Reasons = append(y.Reasons, points(reason))
		}
		p.Parts = append(p.Parts, y)
	}
	return p
}

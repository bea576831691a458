package report

import (
	"bytes"
	_ "embed"
	"html/template"
	"io"
	"strings"
	"unicode"

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
	Heads     []string // of the table of totals: what each cell is
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
	Points  string
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
	for _, row := range totalRows(&r.All) {
		v.Heads = append(v.Heads, row[0])
	}
	total := func(name string, t *concordance.Totals) {
		p := pageTotal{Name: name}
		for _, row := range totalRows(t) {
			p.Cells = append(p.Cells, row[1])
		}
		v.Totals = append(v.Totals, p)
	}
	lines := linesOf(r)
	for d := range r.Documents {
		t := &r.Documents[d]
		total(name(t), t)
		doc := pageDocument{ID: name(t), Heading: heading(t), Verdict: t.Verdict, Agrees: t.Agrees, Missing: t.Missing}
		for _, i := range lines[t.Document] {
			doc.Lines = append(doc.Lines, lineView(r, &r.Lines[i]))
		}
		v.Documents = append(v.Documents, doc)
	}
	if len(r.Documents) > 1 {
		total("all", &r.All)
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
	return page.Execute(printable{w}, v)
}

// printable replaces what HTML allows in no text (HTML, 13.2.2, "control-character-in-
// input-stream") by the character for what can't be shown.
type printable struct{ w io.Writer }

func (p printable) Write(b []byte) (int, error) {
	_, err := p.w.Write(bytes.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return unicode.ReplacementChar
		}
		return r
	}, b))
	return len(b), err
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
			y := pageCandidate{Label: e.Label() + ", " + e.Name, Points: signed(c.Points), Against: c.Against}
			for _, reason := range c.Reasons {
				y.Reasons = append(y.Reasons, points(reason))
			}
			x.Candidates = append(x.Candidates, y)
		}
		p.Items = append(p.Items, x)
	}
	for _, x := range l.Pieces {
		o := &r.Input.Objects[x.Object]
		y := pagePart{Label: named(o), Why: r.Objects[x.Object].Why}
		for _, reason := range x.Reasons {
			y.Reasons = append(y.Reasons, points(reason))
		}
		p.Parts = append(p.Parts, y)
	}
	return p
}

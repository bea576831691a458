package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/net/html"

	"ropewalk/mapping/concordance"
)

// catalogue is an invented maker's catalogue in two editions.
func catalogue() []concordance.Entry {
	var out []concordance.Entry
	for _, e := range [][4]string{
		{"1871", "12", "Rain gauge", "£1"}, {"1871", "13", "Dip circle", "£9 9s"}, {"1871", "14", "Sextant", "£7"}, {"1871", "14a", "Box sextant", "£3"},
		{"1871", "20", "Octant", "£4"}, {"1884", "12", "Rain gauge", "£1 1s"}, {"1884", "13", "Barograph", "£8"},
	} {
		out = append(out, concordance.Entry{Catalogue: "maker", Edition: e[0], Published: e[0], Number: e[1], Name: e[2], Price: e[3]})
	}
	return out
}

// orders has a line of each kind, in two documents.
func orders() *concordance.Input {
	in := &concordance.Input{About: 10, Entries: catalogue()}
	add := func(document, folio, line, number, quantity, price, note string) {
		in.Lines = append(in.Lines, concordance.Line{Document: document, Folio: folio, Line: line, Number: number, Quantity: quantity, Price: price, Note: note,
			Date: map[string]string{"A": "1875", "B": "1890"}[document], Total: map[string]string{"A": "£99 19s 11¾d", "B": "£16"}[document],
			Place: concordance.Place{File: "orders.csv", Row: len(in.Lines) + 2}})
	}
	add("A", "1", "1", "14", "3", "£7", "")           // identified; one survives, one is in pieces, one is on record as lost
	add("A", "1", "2", "do. a", "about 20", "£3", "") // a ditto, about so many
	add("A", "1", "3", "12-13", "2", "", "")          // a range
	add("A", "1", "4", "[illegible]", "1", "5s", "")  // nothing can be read
	add("A", "1", "5", "~~20~~ 12", "1", "£1", "")    // struck out, and what stands for it
	add("A", "1", "6", "20", "5", "£4", "struck out") // struck out by the note
	add("A", "3", "1", "\"", "2", "", "")             // a ditto over a missing leaf
	add("A", "3", "2", "999", "1", "£1 0s 0½d", "")   // in no catalogue
	add("B", "1", "1", "13", "1", "", "")             // two editions have it: ambiguous
	add("B", "1", "2", "13", "2", "£8", "")           // the price decides
	add("B", "1", "3", "20", "2", "", "")             // declared lost
	in.Objects = []concordance.Object{
		{ID: "1901.1", Name: "Sextant", Numbers: []string{"14"}, Edition: "1871"},
		{ID: "1901.2", Name: "Sextant, frame", Numbers: []string{"14"}, Edition: "1871", Fragmentary: true},
		{ID: "X.1", Name: "Sextant", Numbers: []string{"No. 14"}, Edition: "1871", Lost: true},
		{ID: "1902.5", Name: "Barograph", Numbers: []string{"13"}},
		{ID: "1903.1", Name: "Telescope", Numbers: []string{"77"}},
		{ID: "1903.2", Name: "Clock", Numbers: []string{"a box"}},
		{ID: "1904", Name: "Chair"},
	}
	in.Decisions = []concordance.Decision{
		{Document: "B", Folio: "1", Line: "3", Kind: "entry", Edition: "1871", Number: "20", By: "Curator", On: "2024", Because: "the invoice says so"},
		{Document: "B", Folio: "1", Line: "3", Kind: "lost", Pieces: "2", By: "Curator", On: "2024", Because: "the register of losses"},
	}
	return in
}

func work(t testing.TB, in *concordance.Input) *concordance.Result {
	t.Helper()
	r := concordance.Work(in)
	if len(r.Problems) > 0 {
		t.Fatalf("%+v", r.Problems)
	}
	return r
}

func show(t testing.TB, format string, r *concordance.Result, opt Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := Formats[format](&b, r, opt); err != nil {
		t.Fatalf("%s: %v", format, err)
	}
	return b.String()
}

// The input has all that the formats are tested with.
func TestKinds(t *testing.T) {
	r := work(t, orders())
	var got []string
	for i := range r.Lines {
		got = append(got, string(r.Lines[i].State))
	}
	want := []string{"identified", "identified", "identified", "unexplained", "identified", "struck out", "unexplained", "unexplained", "ambiguous", "identified", "accepted"}
	if !slices.Equal(got, want) {
		t.Errorf("lines are %q, want %q", got, want)
	}
	states := map[concordance.ObjectState]int{}
	for _, o := range r.Objects {
		states[o.State]++
	}
	for s, n := range map[concordance.ObjectState]int{concordance.OfLine: 3, concordance.OfSeveral: 1, concordance.NotListed: 1, concordance.NotRead: 1, concordance.NoNumber: 1} {
		if states[s] != n {
			t.Errorf("%d objects are %q, want %d", states[s], s, n)
		}
	}
}

// cells cuts a line of a table into its cells, which stand two columns apart at least.
func cells(line string) []string {
	return regexp.MustCompile(` {2,}`).Split(strings.TrimSpace(line), -1)
}

func TestText(t *testing.T) {
	out := show(t, "text", work(t, orders()), Options{})
	for _, want := range [][]string{
		{"leaf", "line", "as written", "pieces", "price", "means", "objects", "state"},
		{"1", "1", "14", "3", "£7", "1871 no. 14, Sextant", "1901.1, 1901.2 (in pieces), X.1 (lost)", "identified by number"},
		{"1", "2", "do. a", "about 20 (18–22)", "£3", "1871 no. 14a, Box sextant", "identified by number"},
		{"1", "4", "[illegible]", "1", "5s", "?", "unexplained"},
		{"1", "5", "~~20~~ 12", "1", "£1", "1871 no. 12, Rain gauge", "identified by number"},
		{"1", "6", "20", "–", "£4", "struck out"},
		{"3", "1", `"`, "2", "?", "unexplained"},
		{"1", "1", "13", "1", "? one of 2", "perhaps 1902.5", "ambiguous"},
		{"1", "2", "13", "2", "£8", "1884 no. 13, Barograph", "perhaps 1902.5", "identified by number and price"},
		{"1", "3", "20", "2", "1871 no. 20, Octant", "2 lost", "accepted"},
		{"A, leaf 3, line 1, “\"”: unexplained: a ditto, and the line it repeats is missing: leaf 2 is missing before this line"},
		{"A", "B", "all"},
		{"the document says", "£99 19s 11¾d", "£16", "£115 19s 11¾d"},
		{"A: leaf 2 is missing before this line (A, leaf 3, line 1)"},
	} {
		if !slices.ContainsFunc(strings.Split(out, "\n"), func(l string) bool { return slices.Equal(cells(l), want) }) {
			t.Errorf("no line %q in\n%s", want, out)
		}
	}
	for _, head := range []string{"A, 1875\n", "\nB, 1890\n", "\nTo be decided or looked at\n", "\nObjects that may be a piece of a line\n", "\nObjects whose number stands in no catalogue\n  1903.1",
		"\nObjects whose number can't be read\n  1903.2", "\nTotals, in pieces and in pounds, shillings and pence\n"} {
		if !strings.Contains(out, head) {
			t.Errorf("no %q in\n%s", head, out)
		}
	}
	// The lines of A, by hand: 3 at £7, 18 to 22 at £3, 5s, £1 and £1 0s 0½d.
	if want := "about £83 5s ½d (£77 5s ½d to £89 5s ½d)"; !strings.Contains(out, want) {
		t.Errorf("the lines of A do not come to %s in\n%s", want, out)
	}
	if strings.Contains(out, "1904") {
		t.Error("an object without a number is listed")
	}
	// With all reasons, what is identified is there as well.
	why := show(t, "text", work(t, orders()), Options{Why: true})
	for _, want := range []string{"\nThe lines and their reasons\n", "  A, leaf 1, line 1, \"14\": identified:", "    piece 1901.1, Sextant: ", "accepted by Curator on 2024: the invoice says so"} {
		if !strings.Contains(why, want) {
			t.Errorf("no %q in\n%s", want, why)
		}
	}
}

// Cells of a table begin in the same column of the terminal, whatever they are written in.
func TestTextWidth(t *testing.T) {
	in := &concordance.Input{About: 10, Entries: catalogue()}
	for i, n := range []string{"14", "望遠鏡 14", "e\u0301\u0308 14", "شراع 14", "שלום", "a\u200db", "ｆ１４"} {
		in.Lines = append(in.Lines, concordance.Line{Document: "D", Line: fmt.Sprint(i + 1), Number: n, Quantity: "1"})
	}
	out := show(t, "text", work(t, in), Options{})
	lines := strings.Split(out, "\n")[1:9]
	at := strings.Index(lines[0], "pieces")
	// Widths by Unicode Standard Annex 11 and the classes of combining marks, by hand.
	for i, w := range []int{2, 9, 4, 7, 4, 2, 6} {
		l := lines[i+1]
		k := strings.Index(l, in.Lines[i].Number)
		rest := l[k+len(in.Lines[i].Number):]
		if pad := len(rest) - len(strings.TrimLeft(rest, " ")); k+w+pad != at || !strings.HasPrefix(strings.TrimSpace(rest), "1") {
			t.Errorf("%q: the next cell begins in column %d, not %d", l, k+w+pad, at)
		}
	}
}

// In a narrow terminal no line is wider than it, and no word is lost.
func TestTextNarrow(t *testing.T) {
	in := orders()
	in.Lines[0].Note = strings.Repeat("much is written of it ", 2000)
	in.Lines[3].Number = strings.Repeat("望遠", 4000)
	r := work(t, in)
	words := func(s string) []string {
		w := strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) })
		slices.Sort(w)
		return w
	}
	wide := show(t, "text", work(t, orders()), Options{Why: true})
	for _, width := range []int{100, 120, 200} {
		narrow := show(t, "text", work(t, orders()), Options{Why: true, Width: width})
		if !slices.Equal(words(narrow), words(wide)) {
			t.Errorf("at %d columns other words are shown than without a limit:\n%s", width, narrow)
		}
		for _, out := range []string{narrow, show(t, "text", r, Options{Width: width})} {
			for _, l := range strings.Split(out, "\n") {
				if columns(l) > width {
					t.Errorf("%d columns in a terminal of %d: %q", columns(l), width, l)
				}
			}
		}
	}
	_ = show(t, "text", r, Options{Width: 1})
}

// Many documents stand one below the other in the table of totals.
func TestTextManyDocuments(t *testing.T) {
	in := &concordance.Input{About: 10, Entries: catalogue()}
	for i := range 60 {
		in.Lines = append(in.Lines, concordance.Line{Document: fmt.Sprintf("D%02d", i), Line: "1", Number: "14", Quantity: fmt.Sprint(i + 1), Price: "£7"})
	}
	out := show(t, "text", work(t, in), Options{Width: 160})
	_, totals, _ := strings.Cut(out, "\nTotals, ")
	for i := range 60 {
		if want := fmt.Sprintf("\n  D%02d ", i); strings.Count(totals, want) != 1 {
			t.Errorf("no row %q", want)
		}
	}
	for _, l := range strings.Split(totals, "\n") {
		if c := cells(l); c[0] == "all" && (c[1] != "1,830" || !slices.Contains(c, "£12,810")) {
			t.Errorf("%q", c)
		}
	}
}

// hostile cells, each with a mark by which it is found again.
var hostile = []string{
	"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "a & b &amp; <b>", "</table></style></title><plaintext>", "{{.Title}}", "';--",
	"\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\u009b31m", "back\bspace\x7f", "line\r\nbreak\ttab", "nul\x00", "\u202eevil\u202c", "\u2066x\u2069",
	"=1+1", "+44", "-1", "@cmd", "=cmd|' /C calc'!A0", "\tx", "~~a~~ ~~b", "~~<i>~~", "\u2028sep\u2029", `\.`, "a,b;c", "\ufeffbom", "\U0001F9ED", "e\u0301",
}

func hostileOrders() *concordance.Input {
	in := &concordance.Input{About: 10, Entries: catalogue()}
	for i, h := range hostile {
		in.Lines = append(in.Lines, concordance.Line{Document: h, Folio: h, Line: fmt.Sprint(i), Number: h, Name: h, Quantity: h, Price: h, Amount: h, Note: h, Date: h, Total: h, Edition: h})
		in.Entries = append(in.Entries, concordance.Entry{Catalogue: "hostile", Edition: h, Number: fmt.Sprint(100 + i), Name: h, Description: h, Price: h})
		in.Lines = append(in.Lines, concordance.Line{Document: h, Folio: h, Line: fmt.Sprintf("%d entry", i), Number: fmt.Sprint(100 + i), Quantity: "1"})
		in.Objects = append(in.Objects, concordance.Object{ID: h, Name: h, Numbers: []string{h, fmt.Sprint(100 + i)}}, concordance.Object{ID: h + h, Name: h, Numbers: []string{h}})
	}
	return in
}

func TestTextHostile(t *testing.T) {
	r := work(t, hostileOrders())
	for _, opt := range []Options{{}, {Why: true}, {Why: true, Width: 80}} {
		out := show(t, "text", r, opt)
		for i, c := range out {
			if unicode.IsControl(c) && c != '\n' || unicode.Is(unicode.Bidi_Control, c) || c == '\u2028' || c == '\u2029' {
				t.Fatalf("%+v: %q reaches the terminal: %q", opt, c, out[max(0, i-40):i+10])
			}
		}
		if opt.Width == 0 && (!strings.Contains(out, `\x1b[31mred`) || !strings.Contains(out, `\u202eevil`) || !strings.Contains(out, "line break tab")) {
			t.Error("what was left out of a cell is not told")
		}
	}
}

func TestCSV(t *testing.T) {
	r := work(t, orders())
	out := show(t, "csv", r, Options{})
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], csvHeader) {
		t.Errorf("%q", rows[0])
	}
	col := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	// A row for each number of each line, then the objects that are a piece of none for certain.
	var got []string
	for _, row := range rows[1:] {
		got = append(got, strings.Join([]string{col(row, "document"), col(row, "folio"), col(row, "line"), col(row, "number"), col(row, "quantity"), col(row, "amount"), col(row, "state"), col(row, "entry"),
			col(row, "objects"), col(row, "possible_objects"), col(row, "declared_lost")}, "|"))
	}
	want := []string{
		"A|1|1|14|3|£21|identified|1871 no. 14|1901.1; 1901.2; X.1||",
		"A|1|2|14a|about 20 (18–22)|about £60 (£54 to £66)|identified|1871 no. 14a|||",
		"A|1|3|12|2||identified|1871 no. 12|||",
		"A|1|3|13|2||identified|1871 no. 13|||",
		"A|1|4||1|5s|unexplained||||",
		"A|1|5|12|1|£1|identified|1871 no. 12|||",
		"A|1|6|20|–||struck out||||",
		"A|3|1||2||unexplained||||",
		"A|3|2|999|1|£1 ½d|unexplained||||",
		"B|1|1|13|1||ambiguous|||1902.5|",
		"B|1|2|13|2|£16|identified|1884 no. 13||1902.5|",
		"B|1|3|20|2||accepted|1871 no. 20|||2",
		"||||||undecided||1902.5||",
		"||||||not in the catalogues||1903.1||",
		"||||||not read||1903.2||",
	}
	if !slices.Equal(got, want) {
		t.Errorf("rows\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if !strings.Contains(out, "leaf 2 is missing before this line") || !strings.Contains(out, "1884 no. 13 (") {
		t.Errorf("notes and candidates are missing:\n%s", out)
	}
}

// A spreadsheet takes no cell for a formula, and what was written comes back but for the
// apostrophe that keeps it from that (and breaks of lines, which CSV has one way).
func TestCSVHostile(t *testing.T) {
	in := hostileOrders()
	rows, err := csv.NewReader(strings.NewReader(show(t, "csv", work(t, in), Options{}))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	written := map[string]bool{}
	for _, row := range rows[1:] {
		for i, c := range row {
			if c != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", []rune(c)[0]) {
				t.Errorf("column %s is a formula: %q", csvHeader[i], c)
			}
		}
		written[row[3]] = true
	}
	for _, h := range hostile {
		want := strings.ReplaceAll(h, "\r\n", "\n")
		if !written[want] && !written["'"+want] {
			t.Errorf("%q is not in the column of what was written", h)
		}
	}
	if !written["'=1+1"] || written["'a,b;c"] || !written["a,b;c"] {
		t.Error("an apostrophe stands where none is needed, or not where one is")
	}
}

type readBack struct {
	Lines []struct {
		Key, Document, Folio, Line, AsWritten, State, Why, Place string
		Quantity                                                 struct {
			Low, About int
			High       *int
		}
		UnitPrice, Amount *struct {
			Low, High int64
			Text      string
		}
		Numbers []struct {
			Number, State, Rule string
			Entries             []string
			Candidates          []struct {
				Entry  string
				Points int
				Fits   bool
			}
		}
		Pieces []struct {
			Object           string
			Certain, Decided bool
			OtherLines       []string
		}
		DeclaredLost int
		Notes        []string
	}
	Objects []struct {
		ID, State string
		Lines     []string
	}
	Documents []struct {
		Document, Verdict string
		Lines             map[string]int
		Ordered           struct{ Low, High, About int }
		Agrees            bool
		Missing           []string
	}
	All struct{ Ordered struct{ Low, High int } }
}

func TestJSON(t *testing.T) {
	for name, in := range map[string]*concordance.Input{"every kind": orders(), "hostile": hostileOrders(), "nothing": {}} {
		r := work(t, in)
		var back readBack
		text := show(t, "json", r, Options{})
		if err := json.Unmarshal([]byte(text), &back); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(back.Lines) != len(r.Lines) || len(back.Documents) != len(r.Documents) {
			t.Fatalf("%s: %d lines and %d documents", name, len(back.Lines), len(back.Documents))
		}
		for i := range r.Lines {
			l, b := &r.Lines[i], &back.Lines[i]
			if b.Key != l.Key || b.Document != l.Document || b.Folio != l.Folio || b.Line != l.Line.Line || b.AsWritten != l.Number || b.State != string(l.State) || b.Why != l.Why ||
				b.Place != l.Place.String() || !slices.Equal(b.Notes, l.Notes) || b.DeclaredLost != l.Lost {
				t.Errorf("%s: line %d: %+v", name, i, b)
			}
			if b.Quantity.Low != l.Quantity.Low || b.Quantity.About != l.Quantity.About || (b.Quantity.High == nil) != (l.Quantity.High < 0) || b.Quantity.High != nil && *b.Quantity.High != l.Quantity.High {
				t.Errorf("%s: line %d: quantity %+v, want %+v", name, i, b.Quantity, l.Quantity)
			}
			if (b.Amount != nil) != l.Sum.Given || b.Amount != nil && (b.Amount.Low != int64(l.Sum.Low) || b.Amount.High != int64(l.Sum.High) || b.Amount.Text != l.Sum.String()) {
				t.Errorf("%s: line %d: amount %+v, want %+v", name, i, b.Amount, l.Sum)
			}
			if len(b.Numbers) != len(l.Items) || len(b.Pieces) != len(l.Pieces) {
				t.Fatalf("%s: line %d: %+v", name, i, b)
			}
			for k, it := range l.Items {
				n := b.Numbers[k]
				state := it.State
				if l.State == concordance.StruckOut {
					state = l.State
				}
				if n.Number != it.Number || n.State != string(state) || n.State == "" || n.Rule != it.Rule || len(n.Entries) != len(it.Entries) || len(n.Candidates) != len(it.Candidates) {
					t.Errorf("%s: line %d, number %d: %+v, want %+v", name, i, k, n, it)
				}
				for c := range it.Candidates {
					if n.Candidates[c].Fits == it.Candidates[c].Against || n.Candidates[c].Points != it.Candidates[c].Points {
						t.Errorf("%s: line %d, number %d: candidate %+v, want %+v", name, i, k, n.Candidates[c], it.Candidates[c])
					}
				}
			}
			for k, p := range l.Pieces {
				if q := b.Pieces[k]; q.Object != in.Objects[p.Object].ID || q.Certain != p.Certain || q.Decided != p.Decided || len(q.OtherLines) != len(p.Others) {
					t.Errorf("%s: line %d, piece %d: %+v, want %+v", name, i, k, q, p)
				}
			}
		}
		for i := range r.Documents {
			d, b := &r.Documents[i], &back.Documents[i]
			n := 0
			for s, k := range b.Lines {
				n += k
				if k != d.Lines[concordance.State(s)] {
					t.Errorf("%s: %d lines are %q", name, k, s)
				}
			}
			if b.Document != d.Document || b.Verdict != d.Verdict || b.Agrees != d.Agrees || !slices.Equal(b.Missing, d.Missing) || n == 0 {
				t.Errorf("%s: document %d: %+v", name, i, b)
			}
		}
		if strings.Contains(text, `"lines": null`) || strings.Contains(text, `"objects": null`) {
			t.Errorf("%s: an empty list is null", name)
		}
	}
}

// page is what a browser sees of the page: the text of each element by its tag, and the
// rows of tables.
type pageSeen struct {
	tags   map[string][]*html.Node
	tables [][][]string
}

func parse(t *testing.T, text string) *pageSeen {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	p := &pageSeen{tags: map[string][]*html.Node{}}
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		p.tags[n.Data] = append(p.tags[n.Data], n)
		switch n.Data {
		case "table":
			p.tables = append(p.tables, nil)
		case "tr":
			p.tables[len(p.tables)-1] = append(p.tables[len(p.tables)-1], nil)
		case "td", "th":
			tab := p.tables[len(p.tables)-1]
			tab[len(tab)-1] = append(tab[len(tab)-1], textOf(n))
		}
	}
	return p
}

// textOf is the text of an element without its details.
func textOf(n *html.Node) string {
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data)
		}
		if n.Data == "details" && n.Type == html.ElementNode {
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(n)
	return strings.Join(strings.Fields(b.String()), " ")
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// The totals of the page are those of its own lines, added up here.
func TestHTML(t *testing.T) {
	p := parse(t, show(t, "html", work(t, orders()), Options{Title: "A museum"}))
	if len(p.tables) != 6 { // totals, two documents, three kinds of objects
		t.Fatalf("%d tables", len(p.tables))
	}
	totals := p.tables[0]
	if want := []string{"document", "ordered", "identified", "surviving", "fragmentary", "lost", "on record as lost", "unexplained", "price of the lines", "the document says"}; !slices.Equal(totals[0], want) {
		t.Fatalf("%q", totals[0])
	}
	bounds := regexp.MustCompile(`^(?:about \d+ \()?(\d+)(?:–(\d+))?\)?$`)
	limits := func(s string) (low, high int) {
		m := bounds.FindStringSubmatch(s)
		if m == nil {
			t.Fatalf("%q is no number of pieces", s)
		}
		low, _ = strconv.Atoi(m[1])
		high = low
		if m[2] != "" {
			high, _ = strconv.Atoi(m[2])
		}
		return low, high
	}
	allLow, allHigh := 0, 0
	for d, rows := range p.tables[1:3] {
		low, high, unknown := 0, 0, 0
		for _, row := range rows[1:] {
			if len(row) != 7 {
				t.Fatalf("%q", row)
			}
			if row[3] == "–" {
				continue
			}
			l, h := limits(row[3])
			low, high = low+l, high+h
			if strings.Contains(row[5], "unexplained") || strings.Contains(row[5], "ambiguous") {
				unknown += l
			}
		}
		gotLow, gotHigh := limits(totals[d+1][1])
		if gotLow != low || gotHigh != high {
			t.Errorf("%s: %q are ordered, and its lines have %d to %d", totals[d+1][0], totals[d+1][1], low, high)
		}
		if l, h := limits(totals[d+1][7]); l != unknown || h != unknown {
			t.Errorf("%s: %q are unexplained, and its lines have %d", totals[d+1][0], totals[d+1][7], unknown)
		}
		// What is ordered is identified or unexplained.
		il, ih := limits(totals[d+1][2])
		if il+unknown != low || ih+unknown != high {
			t.Errorf("%s: %q are identified, of %d to %d, and %d unexplained", totals[d+1][0], totals[d+1][2], low, high, unknown)
		}
		allLow, allHigh = allLow+low, allHigh+high
	}
	if l, h := limits(totals[3][1]); totals[3][0] != "all" || l != allLow || h != allHigh {
		t.Errorf("all: %q, want %d to %d", totals[3], allLow, allHigh)
	}
	// By hand: the sextants, and the octants that are declared lost.
	for _, c := range []struct {
		row, column int
		want        string
	}{{1, 3, "1"}, {1, 4, "1"}, {1, 6, "1"}, {2, 6, "2"}, {1, 8, "about £83 5s ½d (£77 5s ½d to £89 5s ½d)"}, {1, 9, "£99 19s 11¾d"}, {2, 8, "£16"}, {2, 9, "£16"}, {3, 9, "£115 19s 11¾d"}} {
		if got := totals[c.row][c.column]; got != c.want {
			t.Errorf("%s, %s: %q, want %q", totals[c.row][0], totals[0][c.column], got, c.want)
		}
	}
	var struck []string
	for _, n := range p.tags["s"] {
		struck = append(struck, textOf(n))
	}
	if !slices.Equal(struck, []string{"20"}) {
		t.Errorf("struck out are %q", struck)
	}
	if attr(p.tags["html"][0], "lang") != "en" || textOf(p.tags["title"][0]) != "What was ordered, and what is left: A museum" {
		t.Error("the page has no language or title")
	}
	ids := map[string]int{}
	for _, ns := range p.tags {
		for _, n := range ns {
			if id := attr(n, "id"); id != "" {
				ids[id]++
			}
		}
	}
	for _, a := range p.tags["a"] {
		if ids[strings.TrimPrefix(attr(a, "href"), "#")] != 1 {
			t.Errorf("%q leads nowhere", attr(a, "href"))
		}
	}
	// In a narrow window a cell is named by what stands above it in a wide one.
	for _, table := range p.tags["table"] {
		var heads []string
		for n := range table.Descendants() {
			switch {
			case n.Data == "th" && attr(n, "scope") == "col":
				heads = append(heads, textOf(n))
			case n.Data == "tr" && n.Parent.Data == "tbody":
				i := 0
				for c := n.FirstChild; c != nil; c = c.NextSibling {
					if c.Type != html.ElementNode {
						continue
					}
					if l := attr(c, "data-label"); l != heads[i] && (i > 0 || l != "") {
						t.Errorf("cell %d is named %q, and stands below %q", i, l, heads[i])
					}
					i++
				}
			}
		}
	}
}

// Whatever cells hold, the page has the elements that it has for harmless ones, and the
// cells are its text.
func TestHTMLHostile(t *testing.T) {
	in := hostileOrders()
	text := show(t, "html", work(t, in), Options{Title: hostile[3]})
	p := parse(t, text)
	for _, tag := range []string{"script", "img", "b", "i", "plaintext"} {
		if len(p.tags[tag]) > 0 {
			t.Errorf("a cell has become <%s>", tag)
		}
	}
	if len(p.tags["title"]) != 1 || len(p.tags["style"]) != 1 || len(p.tags["main"]) != 1 {
		t.Error("a cell has ended an element")
	}
	for name, ns := range p.tags {
		for _, n := range ns {
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" && !strings.HasPrefix(a.Val, "#") {
					t.Errorf("<%s %s=%q>", name, a.Key, a.Val)
				}
			}
		}
	}
	for i, r := range text {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			t.Fatalf("%q is in the page: %q", r, text[max(0, i-30):i+10])
		}
	}
	for _, h := range []string{"<script>alert(1)</script>", "a & b &amp; <b>", "{{.Title}}", "\U0001F9ED", "e\u0301"} {
		found := false
		for _, tab := range p.tables {
			for _, row := range tab {
				found = found || slices.Contains(row, h)
			}
		}
		if !found {
			t.Errorf("%q is in no cell", h)
		}
	}
	var struck []string
	for _, n := range p.tags["s"] {
		struck = append(struck, textOf(n))
	}
	if !slices.Contains(struck, "<i>") || !slices.Contains(struck, "a") || slices.Contains(struck, "b") {
		t.Errorf("struck out are %q", struck)
	}
}

// Every format writes the same bytes each time, and reports what the writer refuses.
func TestFormats(t *testing.T) {
	for name, write := range Formats {
		for _, in := range []func() *concordance.Input{orders, hostileOrders, func() *concordance.Input { return &concordance.Input{} }} {
			first := show(t, name, work(t, in()), Options{Title: "T", Why: true})
			for range 5 {
				if again := show(t, name, work(t, in()), Options{Title: "T", Why: true}); again != first {
					t.Fatalf("%s differs from run to run", name)
				}
			}
			if first == "" {
				t.Errorf("%s of an empty list is nothing at all", name)
			}
		}
		r := work(t, orders())
		for _, n := range []int{0, 1, 100, len(show(t, name, r, Options{Title: "T"})) - 1} {
			if err := write(&full{n}, r, Options{Title: "T"}); err != errFull {
				t.Errorf("%s: %v when nothing more than %d bytes can be written", name, err, n)
			}
		}
	}
}

var errFull = fmt.Errorf("full: %w", io.ErrShortWrite)

type full struct{ room int }

func (f *full) Write(b []byte) (int, error) {
	if len(b) > f.room {
		n := f.room
		f.room = 0
		return n, errFull
	}
	f.room -= len(b)
	return len(b), nil
}

package report

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"ropewalk/mapping/concordance"
)

var csvHeader = []string{"document", "folio", "line", "number_as_written", "number", "quantity", "price", "amount", "state", "entry", "entry_name", "why", "candidates",
	"objects", "possible_objects", "declared_lost", "notes"}

// CSV writes a row for each number of each line, and then a row for each object that
// is a piece of no line, with the object in "objects" and its state in "state".
func CSV(w io.Writer, r *concordance.Result, _ Options) error {
	c := csv.NewWriter(w)
	_ = c.Write(csvHeader)
	for i := range r.Lines {
		l := &r.Lines[i]
		var sure, may []string
		for _, p := range l.Pieces {
			if id := r.Input.Objects[p.Object].ID; p.Certain {
				sure = append(sure, id)
			} else {
				may = append(may, id)
			}
		}
		lost := ""
		if l.Lost > 0 {
			lost = fmt.Sprint(l.Lost)
		}
		items := l.Items
		if len(items) == 0 {
			items = []concordance.Item{{State: l.State, Why: l.Why}}
		}
		for k := range items {
			it := &items[k]
			state, why := stateOf(l, it)
			entry, name := "", ""
			if len(it.Entries) > 0 {
				e := &r.Input.Entries[it.Entries[0]]
				entry, name = e.Label(), e.Name
			}
			var cands []string
			for _, x := range it.Candidates {
				cands = append(cands, fmt.Sprintf("%s (%d)%s", r.Input.Entries[x.Entry].Label(), x.Points, against(x)))
			}
			_ = c.Write(safe([]string{l.Document, l.Folio, l.Line.Line, l.Number, it.Number, quantity(l), l.Unit.String(), l.Sum.String(), string(state), entry, name, why,
				strings.Join(cands, "; "), strings.Join(sure, "; "), strings.Join(may, "; "), lost, strings.Join(l.Notes, "; ")}))
		}
	}
	for _, part := range objectParts(r) {
		for _, o := range part.objects {
			x, res := &r.Input.Objects[o], &r.Objects[o]
			row := make([]string, len(csvHeader))
			row[3], row[8], row[11], row[13] = strings.Join(x.Numbers, "; "), string(res.State), res.Why+optionLines(r, res), x.ID
			_ = c.Write(safe(row))
		}
	}
	c.Flush()
	return c.Error()
}

// stateOf is what is known of a number of a line, and why. The numbers of a line that is
// struck out have no state of their own.
func stateOf(l *concordance.LineResult, it *concordance.Item) (concordance.State, string) {
	if it.State == "" {
		return l.State, l.Why
	}
	return it.State, it.Why
}

// safe keeps a spreadsheet from taking a cell for a formula, by an apostrophe before what
// begins like one (common practice). Cells of an order list begin
// with a ditto's dash or a plus now and then. JSON has them as they are written.
func safe(row []string) []string {
	for i, s := range row {
		if r, _ := utf8.DecodeRuneInString(s); s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", r) {
			row[i] = "'" + s
		}
	}
	return row
}

// The JSON of a concordance. Money is in farthings: 960 make a pound.
type (
	jsonRange struct {
		Low   int  `json:"low"`
		High  *int `json:"high"` // null: no upper limit
		About int  `json:"about,omitempty"`
	}
	jsonSum struct {
		Low  int64  `json:"low"`
		High int64  `json:"high"`
		Text string `json:"text"`
	}
	jsonReason struct {
		Text   string `json:"text"`
		Points int    `json:"points,omitempty"`
	}
	jsonCandidate struct {
		Entry   string       `json:"entry"`
		Name    string       `json:"name"`
		Points  int          `json:"points"`
		Fits    bool         `json:"fits"`
		Reasons []jsonReason `json:"reasons"`
	}
	jsonItem struct {
		Number     string          `json:"number,omitempty"`
		State      string          `json:"state"`
		Rule       string          `json:"rule,omitempty"`
		Why        string          `json:"why"`
		Entries    []string        `json:"entries,omitempty"`
		Candidates []jsonCandidate `json:"candidates,omitempty"`
	}
	jsonPiece struct {
		Object  string       `json:"object"`
		Certain bool         `json:"certain"`
		Decided bool         `json:"decided,omitempty"`
		Points  int          `json:"points,omitempty"`
		Reasons []jsonReason `json:"reasons,omitempty"`
		Others  []string     `json:"otherLines,omitempty"`
	}
	jsonLine struct {
		Key      string      `json:"key"`
		Document string      `json:"document"`
		Folio    string      `json:"folio,omitempty"`
		Line     string      `json:"line"`
		Written  string      `json:"asWritten"`
		State    string      `json:"state"`
		Why      string      `json:"why"`
		Quantity jsonRange   `json:"quantity"`
		Unit     *jsonSum    `json:"unitPrice,omitempty"`
		Sum      *jsonSum    `json:"amount,omitempty"`
		Items    []jsonItem  `json:"numbers,omitempty"`
		Pieces   []jsonPiece `json:"pieces,omitempty"`
		Lost     int         `json:"declaredLost,omitempty"`
		Notes    []string    `json:"notes,omitempty"`
		Place    string      `json:"place"`
	}
	jsonObject struct {
		ID     string   `json:"id"`
		State  string   `json:"state"`
		Why    string   `json:"why"`
		Lines  []string `json:"lines,omitempty"`
		Number []string `json:"numbers,omitempty"`
	}
	jsonTotals struct {
		Document     string         `json:"document,omitempty"`
		Lines        map[string]int `json:"lines"`
		Ordered      jsonRange      `json:"ordered"`
		Identified   jsonRange      `json:"identified"`
		Surviving    jsonRange      `json:"surviving"`
		Fragmentary  jsonRange      `json:"fragmentary"`
		Lost         jsonRange      `json:"lost"`
		RecordedLost jsonRange      `json:"onRecordAsLost"`
		Unexplained  jsonRange      `json:"unexplained"`
		Sum          *jsonSum       `json:"sum,omitempty"`
		Own          *jsonSum       `json:"documentSays,omitempty"`
		Agrees       bool           `json:"agrees"`
		Verdict      string         `json:"verdict"`
		Missing      []string       `json:"missing,omitempty"`
	}
)

func rangeJSON(r concordance.Range) jsonRange {
	out := jsonRange{Low: r.Low, About: r.About}
	if r.High >= 0 {
		out.High = &r.High
	}
	return out
}

func sumJSON(s concordance.Sum) *jsonSum {
	if !s.Given {
		return nil
	}
	return &jsonSum{int64(s.Low), int64(s.High), s.String()}
}

func reasonsJSON(rs []concordance.Reason) []jsonReason {
	out := make([]jsonReason, 0, len(rs))
	for _, r := range rs {
		out = append(out, jsonReason(r))
	}
	return out
}

func totalsJSON(t *concordance.Totals) jsonTotals {
	lines := map[string]int{}
	for k, n := range t.Lines {
		lines[string(k)] = n
	}
	return jsonTotals{Document: t.Document, Lines: lines, Ordered: rangeJSON(t.Ordered), Identified: rangeJSON(t.Identified), Surviving: rangeJSON(t.Surviving),
		Fragmentary: rangeJSON(t.Fragmentary), Lost: rangeJSON(t.Lost), RecordedLost: rangeJSON(t.RecordedLost), Unexplained: rangeJSON(t.Unexplained),
		Sum: sumJSON(t.Sum), Own: sumJSON(t.OwnSum), Agrees: t.Agrees, Verdict: t.Verdict, Missing: t.Missing}
}

// JSON writes everything, with all reasons.
func JSON(w io.Writer, r *concordance.Result, _ Options) error {
	out := struct {
		Lines     []jsonLine   `json:"lines"`
		Objects   []jsonObject `json:"objects"`
		Documents []jsonTotals `json:"documents"`
		All       jsonTotals   `json:"all"`
	}{Lines: []jsonLine{}, Objects: []jsonObject{}, Documents: []jsonTotals{}}
	for i := range r.Lines {
		l := &r.Lines[i]
		j := jsonLine{Key: l.Key, Document: l.Document, Folio: l.Folio, Line: l.Line.Line, Written: l.Number, State: string(l.State), Why: l.Why,
			Quantity: rangeJSON(l.Quantity), Unit: sumJSON(l.Unit), Sum: sumJSON(l.Sum), Lost: l.Lost, Notes: l.Notes, Place: l.Place.String()}
		for k := range l.Items {
			it := &l.Items[k]
			state, why := stateOf(l, it)
			x := jsonItem{Number: it.Number, State: string(state), Rule: it.Rule, Why: why}
			for _, e := range it.Entries {
				x.Entries = append(x.Entries, r.Input.Entries[e].Label())
			}
			for _, c := range it.Candidates {
				e := &r.Input.Entries[c.Entry]
				x.Candidates = append(x.Candidates, jsonCandidate{e.Label(), e.Name, c.Points, !c.Against, reasonsJSON(c.Reasons)})
			}
			j.Items = append(j.Items, x)
		}
		for _, p := range l.Pieces {
			x := jsonPiece{Object: r.Input.Objects[p.Object].ID, Certain: p.Certain, Decided: p.Decided, Points: p.Points, Reasons: reasonsJSON(p.Reasons)}
			for _, o := range p.Others {
				x.Others = append(x.Others, r.Lines[o].Key)
			}
			j.Pieces = append(j.Pieces, x)
		}
		out.Lines = append(out.Lines, j)
	}
	for i := range r.Objects {
		o := &r.Objects[i]
		if o.State == concordance.NoNumber {
			continue
		}
		j := jsonObject{ID: r.Input.Objects[i].ID, State: string(o.State), Why: o.Why, Number: r.Input.Objects[i].Numbers}
		for _, l := range o.Options {
			j.Lines = append(j.Lines, r.Lines[l].Key)
		}
		out.Objects = append(out.Objects, j)
	}
	for i := range r.Documents {
		out.Documents = append(out.Documents, totalsJSON(&r.Documents[i]))
	}
	out.All = totalsJSON(&r.All)
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(out)
}

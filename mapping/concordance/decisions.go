package concordance

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Decision is a row of the decisions file, as written: what a curator has accepted of a
// line. Several rows may be about one line: its entry, each object, what is lost.
type Decision struct {
	Document string
	Folio    string
	Line     string
	Kind     string // entry, object, lost or none
	Edition  string // of the entry
	Number   string // of the entry, as the catalogue has it
	Object   string
	Pieces   string // that are lost; all that are left if empty
	By       string
	On       string // YYYY, YYYY-MM or YYYY-MM-DD
	Because  string
	Place    Place
}

// The kinds of decisions.
const (
	decideEntry  = "entry"
	decideObject = "object"
	decideLost   = "lost"
	decideNone   = "none"
)

// DecisionKinds are the words that the column "decision" may hold.
var DecisionKinds = []string{decideEntry, decideObject, decideLost, decideNone}

// lostMost is how many pieces of a line may be declared lost: each becomes a record.
const lostMost = 1000

// made is a decision that fits.
type made struct {
	*Decision
	line   int
	entry  int // -1: none
	object int // -1: none
	pieces int // lost
}

// decide applies the decisions to the lines. What does not fit is a problem and is
// not applied. It gives the line of each object that a decision names.
func (w *worker) decide() map[int]int {
	taken := map[int]int{}
	lines := map[string][]int{}
	for i := range w.res.Lines {
		l := &w.res.Lines[i]
		lines[decisionKey(l.Document, l.Folio, l.Line.Line)] = append(lines[decisionKey(l.Document, l.Folio, l.Line.Line)], i)
	}
	objects := map[string]int{}
	for i := range w.Objects {
		objects[w.Objects[i].ID] = i
	}
	for i := range w.Decisions {
		d := made{Decision: &w.Decisions[i], entry: -1, object: -1}
		if w.fitsLine(&d, lines) && w.fitsThing(&d, objects, taken) {
			if d.object >= 0 {
				taken[d.object] = d.line
			}
			w.made = append(w.made, d)
			l := &w.res.Lines[d.line]
			l.decisions = append(l.decisions, len(w.made)-1)
		}
	}
	for i := range w.res.Lines {
		if l := &w.res.Lines[i]; len(l.decisions) > 0 {
			w.apply(l)
		}
	}
	return taken
}

func decisionKey(document, folio, line string) string {
	return strings.TrimSpace(document) + "\x00" + strings.TrimSpace(folio) + "\x00" + strings.TrimSpace(line)
}

func (w *worker) wrong(d *made, column, value, hint, format string, args ...any) bool {
	w.problem(Problem{Decision: true, Place: d.Place, Column: column, Value: value, Message: fmt.Sprintf(format, args...), Hint: hint})
	return false
}

// fitsLine checks the words of a decision and finds its line.
func (w *worker) fitsLine(d *made, lines map[string][]int) bool {
	if !slices.Contains(DecisionKinds, d.Kind) {
		if d.Kind == "" {
			return w.wrong(d, "decision", "", "there are "+strings.Join(DecisionKinds, ", "), "what was decided? The cell is empty")
		}
		return w.wrong(d, "decision", d.Kind, "there are "+strings.Join(DecisionKinds, ", "), "there is no decision %q", d.Kind)
	}
	for _, c := range [...]struct{ column, value, what string }{{"by", d.By, "who decided it"}, {"on", d.On, "when it was decided"}, {"because", d.Because, "why it was decided"}} {
		if c.value == "" {
			return w.wrong(d, c.column, "", "", "it is not said %s", c.what)
		}
	}
	if !isDay(d.On) {
		return w.wrong(d, "on", d.On, "write 2024-03-01, 2024-03 or 2024", "%q is not a date", d.On)
	}
	at := lines[decisionKey(d.Document, d.Folio, d.Line)]
	name := (&Line{Document: d.Document, Folio: d.Folio, Line: d.Line}).ID()
	switch len(at) {
	case 0:
		hint := "a line is named by document, folio and line as the order list writes them"
		for i := range w.res.Lines {
			if l := &w.res.Lines[i]; l.Document == d.Document && l.Line.Line == d.Line {
				hint = "there is " + l.ID()
				break
			}
		}
		return w.wrong(d, "line", d.Line, hint, "the order list has no line %q", name)
	case 1:
	default:
		return w.wrong(d, "line", d.Line, "give one of them a line number of its own in the order list", "%d lines of the order list are called %q", len(at), name)
	}
	d.line = at[0]
	if l := &w.res.Lines[d.line]; l.declined && d.Kind != decideNone {
		return w.wrong(d, "decision", d.Kind, "if it was ordered all the same, the order list must say so", "the line is struck out (%s), so nothing of it was ordered", l.Place)
	}
	return true
}

// fitsThing finds what a decision is about, and holds it against those before it.
func (w *worker) fitsThing(d *made, objects map[string]int, taken map[int]int) bool {
	if d.Kind != decideEntry && d.Kind != decideObject && (d.Number != "" || d.Edition != "") {
		return w.wrong(d, "number", d.Number, "say that in a row of its own, with the decision entry", "a decision %q names no entry", d.Kind)
	}
	if d.Object != "" && d.Kind != decideObject {
		return w.wrong(d, "object", d.Object, "say that in a row of its own, with the decision object", "a decision %q names no object", d.Kind)
	}
	if d.Pieces != "" && d.Kind != decideLost {
		return w.wrong(d, "pieces", d.Pieces, "", "only a decision \"lost\" has a number of pieces")
	}
	if (d.Kind == decideEntry || d.Number != "" || d.Edition != "") && !w.fitsEntry(d) {
		return false
	}
	for _, k := range w.res.Lines[d.line].decisions {
		e := &w.made[k]
		switch {
		case (d.Kind == decideNone) != (e.Kind == decideNone):
			return w.wrong(d, "decision", d.Kind, "one of the two must go", "it contradicts %s, where this line is decided to be %q", e.Place, e.Kind)
		case d.Kind == e.Kind && (d.Kind == decideNone || d.Kind == decideLost):
			return w.wrong(d, "decision", d.Kind, "", "%s has decided this already", e.Place)
		case d.Kind == decideEntry && e.Kind == decideEntry && d.entry == e.entry:
			return w.wrong(d, "number", d.Number, "", "%s has accepted this entry already", e.Place)
		}
	}
	if d.entry >= 0 && !w.roomForEntry(d) {
		return false
	}
	switch d.Kind {
	case decideObject:
		o, ok := objects[d.Object]
		if d.Object == "" || !ok {
			return w.wrong(d, "object", d.Object, "", "there is no object %q", d.Object)
		}
		if line, twice := taken[o]; twice {
			return w.wrong(d, "object", d.Object, "an object is a piece of one line", "%q is accepted as a piece of %q already", d.Object, w.res.Lines[line].ID())
		}
		d.object = o
	case decideLost:
		if d.Pieces != "" {
			n, err := strconv.Atoi(d.Pieces)
			if err != nil || n < 1 || n > lostMost {
				return w.wrong(d, "pieces", d.Pieces, "", "a number of pieces from 1 to %d is wanted", lostMost)
			}
			d.pieces = n
		}
	}
	return true
}

// fitsEntry finds the entry that a decision names.
func (w *worker) fitsEntry(d *made) bool {
	if d.Number == "" {
		return w.wrong(d, "number", "", "", "which entry of the catalogue? The cell is empty")
	}
	wr, err := ReadNumbers(d.Number)
	var list []int
	for i := range w.Entries {
		e, inf := &w.Entries[i], &w.entries.info[i]
		same := strings.EqualFold(strings.TrimSpace(e.Number), d.Number)
		if !same && inf.read && err == nil && len(wr.Numbers) == 1 {
			same = inf.number.key() == wr.Numbers[0].key()
		}
		if same && (d.Edition == "" || editionNamed(d.Edition, e)) {
			list = append(list, i)
		}
	}
	switch len(list) {
	case 0:
		if d.Edition != "" {
			return w.wrong(d, "number", d.Number, "", "the edition %q has no entry with the number %q", d.Edition, d.Number)
		}
		return w.wrong(d, "number", d.Number, "", "no catalogue has the number %q", d.Number)
	case 1:
		d.entry = list[0]
		return true
	}
	var labels []string
	for _, i := range list {
		labels = append(labels, w.Entries[i].Label()+" ("+w.Entries[i].Place.String()+")")
	}
	hint := "say which edition"
	if d.Edition != "" {
		hint = "a number stands once in an edition: take out the row that is too many, or give it the number that it has in print"
	}
	return w.wrong(d, "number", d.Number, hint, "several entries have this number: %s", strings.Join(labels, ", "))
}

// roomForEntry reports whether a line has a number left that an entry can be meant by.
func (w *worker) roomForEntry(d *made) bool {
	l := &w.res.Lines[d.line]
	have := map[int]bool{d.entry: true}
	for _, k := range l.decisions {
		if e := w.made[k].entry; e >= 0 {
			have[e] = true
		}
	}
	if len(have) > max(1, len(l.Items)) {
		for _, k := range l.decisions {
			if e := &w.made[k]; e.entry >= 0 && e.entry != d.entry {
				return w.wrong(d, "number", d.Number, "one of the two must go", "it contradicts %s, where %s is accepted, and the line has no more numbers", e.Place, w.Entries[e.entry].Label())
			}
		}
	}
	return true
}

// apply puts the decisions about a line into effect.
func (w *worker) apply(l *LineResult) {
	for _, k := range l.decisions {
		d := &w.made[k]
		said := fmt.Sprintf("accepted by %s on %s: %s", d.By, d.On, d.Because)
		if d.Kind == decideNone {
			l.State, l.Why = Refused, fmt.Sprintf("by %s on %s: %s", d.By, d.On, d.Because)
			for i := range l.Items {
				l.Items[i].State, l.Items[i].Why, l.Items[i].Entries, l.Items[i].Sure, l.Items[i].articles = Refused, l.Why, nil, false, nil
			}
		}
		if d.entry >= 0 {
			w.acceptEntry(l, d, said)
		}
	}
	for _, k := range l.decisions {
		d := &w.made[k]
		if d.object < 0 {
			continue
		}
		p := Piece{Object: d.object, Item: -1, Certain: true, Decided: true, Reasons: []Reason{{fmt.Sprintf("accepted by %s on %s: %s", d.By, d.On, d.Because), 0}}}
		for i := range l.Items {
			if a := l.Items[i].articles; d.entry >= 0 && len(a) == 1 && a[0] == w.entries.info[d.entry].article || d.entry < 0 && len(l.Items) > 1 && w.linked(d.object, a) {
				p.Item = i
			}
		}
		l.Pieces = append(l.Pieces, p)
	}
	if l.State != Refused {
		l.sumUp()
	}
	w.applyLost(l)
	if n := len(l.Pieces) + l.Lost; l.Quantity.High >= 0 && n > l.Quantity.High {
		last := &w.made[l.decisions[len(l.decisions)-1]]
		w.wrong(last, "decision", last.Kind, "", "%d pieces of this line are decided, and it orders %s", n, l.Quantity)
	}
}

func (w *worker) linked(object int, articles []int) bool {
	return slices.ContainsFunc(w.objects[object].links, func(l link) bool { return slices.Contains(articles, l.article) })
}

// acceptEntry makes an item mean an entry: the item that may mean it already, else the
// first that nothing has been decided of.
func (w *worker) acceptEntry(l *LineResult, d *made, said string) {
	article := w.entries.info[d.entry].article
	at := -1
	for i := range l.Items {
		it := &l.Items[i]
		if it.State == Accepted && it.Entries[0] == d.entry {
			return
		}
		if it.State != Accepted && slices.Contains(it.articles, article) && (at < 0 || !slices.Contains(l.Items[at].articles, article)) {
			at = i
		}
		if it.State != Accepted && at < 0 {
			at = i
		}
	}
	if at < 0 {
		return // roomForEntry has reported it
	}
	it := &l.Items[at]
	switch {
	case slices.Contains(it.Entries, d.entry):
		it.Rule = "as the rules found by " + it.Rule
	case it.State == Identified:
		it.Rule = "though the rules found " + w.Entries[it.Entries[0]].Label()
		w.otherwise(l, d, it.Rule)
	case slices.Contains(it.articles, article):
		it.Rule = fmt.Sprintf("out of %d that the rules left", len(it.articles))
	default:
		it.Rule = "which the rules did not find"
		w.otherwise(l, d, it.Rule)
	}
	it.State, it.Why, it.Sure, it.Entries, it.articles = Accepted, said+" ("+it.Rule+")", true, []int{d.entry}, []int{article}
}

// otherwise notes that a curator decides against what the line says.
func (w *worker) otherwise(l *LineResult, d *made, rule string) {
	at := ""
	if p := d.Place.String(); p != "" {
		at = p + ": "
	}
	l.Notes = append(l.Notes, fmt.Sprintf("%s%s is accepted, %s", at, w.Entries[d.entry].Label(), rule))
}

// applyLost works out how many pieces are declared lost.
func (w *worker) applyLost(l *LineResult) {
	for _, k := range l.decisions {
		d := &w.made[k]
		if d.Kind != decideLost {
			continue
		}
		if d.pieces == 0 {
			switch rest := l.Quantity.High - len(l.Pieces); {
			case l.Quantity.Low != l.Quantity.High:
				w.wrong(d, "pieces", "", "say how many pieces are lost", "the line orders %s pieces, so it is not known how many the others are", l.Quantity)
				continue
			case rest < 1:
				w.wrong(d, "decision", d.Kind, "", "no piece of this line is left to be lost: it orders %s, and %d are accepted as objects", l.Quantity, len(l.Pieces))
				continue
			case rest > lostMost:
				w.wrong(d, "pieces", "", "", "the rest are %d pieces, and %d is the most that can be declared lost", rest, lostMost)
				continue
			default:
				d.pieces = rest
			}
		}
		l.Lost = d.pieces
	}
}

func isDay(s string) bool {
	for _, layout := range [...]string{time.DateOnly, "2006-01", "2006"} {
		if _, err := time.Parse(layout, s); err == nil {
			return true
		}
	}
	return false
}

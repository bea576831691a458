package concordance

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ropewalk/mapping/reading"
)

// readLines reads the cells of every line, in the order of the documents, and replaces
// dittos by what they stand for.
func (w *worker) readLines() {
	w.res.Lines = make([]LineResult, len(w.Lines))
	last := map[string]*previous{} // by document
	keys := map[string]int{}
	for i := range w.Lines {
		l := &w.res.Lines[i]
		l.Line = w.Lines[i]
		l.Key = lineKey(&l.Line)
		if l.Document == "" {
			w.problem(Problem{Place: l.Place, Column: "document", Message: "the line does not say of which document it is; it is counted with all others that don't"})
		}
		if first, twice := keys[l.Key]; twice {
			w.problem(Problem{Place: l.Place, Column: "line", Value: l.ID(),
				Message: fmt.Sprintf("%s has the name of this line already (%s), so no decision can be about either", w.Lines[first].Place, l.ID()),
				Hint:    "give the second a line number of its own, such as 3a"})
		} else {
			keys[l.Key] = i
		}
		prev := last[l.Document]
		if prev == nil {
			prev = &previous{}
			last[l.Document] = prev
		}
		gap := prev.gap(&l.Line)
		if gap != "" {
			l.Notes = append(l.Notes, gap)
			if !slices.Contains(w.gaps, l.Document) {
				w.gaps = append(w.gaps, l.Document)
			}
		}
		w.readNumber(l, prev, gap)
		w.readFigures(l, prev, gap)
		prev.line, prev.any = l, true
	}
}

func lineKey(l *Line) string {
	var parts []string
	for _, s := range []string{l.Document, l.Folio, l.Line} {
		if s = slug(s); s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "-")
}

// slug keeps letters and figures, small, joined by points: two hyphens apart are
// document, leaf and line.
func slug(s string) string {
	fields := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 0x7f)
	})
	return strings.Join(fields, ".")
}

// previous is what stood on the line above.
type previous struct {
	line    *LineResult
	any     bool
	written Written // dittos replaced
	doubt   string  // why a ditto below it would be in doubt
	price   string
	amount  string
	qty     string
}

// gap says what is missing between the line above and this one.
func (p *previous) gap(l *Line) string {
	if !p.any {
		return ""
	}
	a, okA := leading(p.line.Folio)
	b, okB := leading(l.Folio)
	if okA && okB && b > a+1 {
		if b == a+2 {
			return fmt.Sprintf("leaf %d is missing before this line", a+1)
		}
		return fmt.Sprintf("leaves %d to %d are missing before this line", a+1, b-1)
	}
	if p.line.Folio != l.Folio {
		return ""
	}
	x, okX := leading(p.line.Line.Line)
	y, okY := leading(l.Line)
	if okX && okY && y > x+1 {
		if y == x+2 {
			return fmt.Sprintf("line %d is missing before this line", x+1)
		}
		return fmt.Sprintf("lines %d to %d are missing before this line", x+1, y-1)
	}
	return ""
}

// leading is the number at the beginning of "3r".
func leading(s string) (int, bool) {
	i := 0
	for i < len(s) && isFigure(s[i]) {
		i++
	}
	n, err := strconv.Atoi(s[:i])
	return n, err == nil
}

// readNumber reads the number as written and makes the items of a line.
func (w *worker) readNumber(l *LineResult, prev *previous, gap string) {
	wr, err := ReadNumbers(l.Number)
	numbers, doubt, why := wr.Numbers, "", ""
	ditto := ""
	var u *reading.Unread
	switch {
	case errors.As(err, &u):
		why = fmt.Sprintf("the number %q can't be read: %s", l.Number, u.Reason)
	case wr.Ditto && !prev.any:
		why = "a ditto with no line above it"
	case wr.Ditto && gap != "":
		why = "a ditto, and the line it repeats is missing: " + gap
	case wr.Ditto:
		numbers = prev.written.Numbers
		if len(numbers) == 0 && len(prev.written.Struck) > 0 {
			numbers = prev.written.Struck
		}
		ditto = prev.line.ID()
		doubt = prev.doubt
		switch {
		case len(numbers) == 0:
			why = "a ditto for a line whose number can't be read"
		case len(numbers) > 1 && wr.Suffix != "":
			why, numbers = "a ditto with a letter for a line with several numbers", nil
		case wr.Suffix != "":
			n := numbers[0]
			n.Suffix = wr.Suffix
			numbers = []Number{n}
		case len(numbers) > 1:
			doubt = "the line above has several numbers, and the ditto may stand for the last of them or for all"
		}
	case wr.Illegible:
		why = "the number can't be read"
	case l.Number == "":
		why = "no number is written"
	}
	if wr.Cancelled || struckNote(l.Note) {
		l.State, l.declined = StruckOut, true
		l.Why = "struck out"
		if l.Note != "" && !wr.Cancelled {
			l.Why = "struck out, as the note says"
		}
	}
	for _, n := range numbers {
		it := Item{Number: n.String(), read: n, legible: true}
		if doubt != "" {
			it.read.Doubt = true
		}
		if ditto != "" {
			it.Why = "ditto of " + ditto
			if doubt != "" {
				it.Why += ", in doubt: " + doubt
			}
		}
		l.Items = append(l.Items, it)
	}
	if len(numbers) == 0 && !l.declined {
		l.Items = []Item{{State: Unexplained, Why: why}}
	}
	prev.written, prev.doubt = wr, ""
	if wr.Ditto {
		prev.written = Written{Numbers: numbers}
		prev.doubt = doubt
	}
	if l.declined {
		prev.doubt = "the line above is struck out"
	}
}

// struckNote reports whether a note begins with words that strike the line out.
func struckNote(note string) bool {
	m := struckWords.FindStringIndex(note)
	return m != nil && m[0] == 0
}

// readFigures reads quantity, price and amount.
func (w *worker) readFigures(l *LineResult, prev *previous, gap string) {
	carry := func(cell string, above *string, what string) string {
		wr, err := ReadNumbers(cell)
		if err != nil || !wr.Ditto || wr.Suffix != "" {
			*above = cell
			return cell
		}
		if !prev.any || gap != "" || *above == "" {
			l.Notes = append(l.Notes, fmt.Sprintf("the %s is a ditto, and what it repeats is missing", what))
			*above = ""
			return ""
		}
		return *above
	}
	qty := carry(l.Line.Quantity, &prev.qty, "quantity")
	price := carry(l.Price, &prev.price, "price")
	amount := carry(l.Amount, &prev.amount, "amount")

	each := false
	switch {
	case l.declined:
		l.Quantity = exactly(0)
	case w.Each:
		l.Quantity = exactly(max(1, len(l.Items)))
	case strings.TrimSpace(qty) == "":
		l.Quantity = Range{Low: 1, High: -1}
		l.Notes = append(l.Notes, "no quantity is written: at least one piece")
	default:
		var why string
		if l.Quantity, each, why = readQuantity(qty, w.LineConventions, w.About); why != "" {
			l.Notes = append(l.Notes, why)
		}
	}
	n := len(l.Items)
	switch {
	case n < 2:
	case each && l.Quantity.High >= 0:
		for k := range l.Items {
			l.Items[k].hi = l.Quantity.High
		}
		one := l.Quantity
		for range n - 1 {
			l.Quantity = l.Quantity.plus(one)
		}
	case l.Quantity == exactly(n):
		for k := range l.Items {
			l.Items[k].hi = 1
		}
	}
	l.Unit = ReadSum(price, w.LineConventions, w.About)
	total := ReadSum(amount, w.LineConventions, w.About)
	l.Sum = l.Unit.times(l.Quantity)
	switch {
	case l.declined:
		l.Sum = Sum{Why: "struck out"}
	case total.Given:
		if l.Sum.Given && (total.High < l.Sum.Low || total.Low > l.Sum.High) {
			l.Notes = append(l.Notes, fmt.Sprintf("the amount %s is not the price %s for %s pieces, which would be %s", total, l.Unit, l.Quantity, l.Sum))
		}
		l.Sum = total
		if q := Farthings(l.Quantity.Low); !l.Unit.Given && l.Quantity.Low == l.Quantity.High && q > 0 && total.Exact() && total.Low%q == 0 {
			l.Unit = Sum{Low: total.Low / q, High: total.Low / q, Given: true}
		}
	case amount != "":
		l.Notes = append(l.Notes, "the amount "+total.Why)
	}
	if price != "" && !l.Unit.Given {
		l.Notes = append(l.Notes, "the price "+l.Unit.Why)
	}
}

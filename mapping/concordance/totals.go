package concordance

import (
	"fmt"
	"slices"
	"strings"
)

// Totals are the sums of a document, or of all.
//
// Ordered is Identified and Unexplained together. Of what is identified, Surviving,
// Fragmentary and Lost are the parts, each as a range where it is not known which
// object is a piece of what, or how many were ordered.
type Totals struct {
	Document string // "" for all
	Date     string
	Lines    map[State]int

	Ordered      Range
	Identified   Range
	Surviving    Range // whole
	Fragmentary  Range
	Lost         Range // no object is known, or its record says that it is lost
	RecordedLost Range // those of the lost that a record or a decision speaks of
	Unexplained  Range // pieces of lines whose entry is not known

	Sum      Sum    // of the prices that can be read
	Unpriced int    // lines without one
	Own      string // the document's own total, as written
	OwnSum   Sum
	Agrees   bool   // the sum is the document's own total, or may be
	Verdict  string // a sentence about both
	Missing  []string
}

// totals adds everything up.
func (w *worker) totals() {
	var documents []string
	at := map[string][]int{}
	all := make([]int, len(w.res.Lines))
	for i := range w.res.Lines {
		d := w.res.Lines[i].Document
		if at[d] == nil {
			documents = append(documents, d)
		}
		at[d] = append(at[d], i)
		all[i] = i
	}
	var own Sum
	unknown := 0
	for _, d := range documents {
		t := w.add(at[d])
		t.Document = d
		w.own(&t, at[d])
		if t.OwnSum.Given {
			own = own.plus(t.OwnSum)
		} else {
			unknown++
		}
		w.res.Documents = append(w.res.Documents, t)
	}
	w.res.All = w.add(all)
	t := &w.res.All
	if unknown == 0 {
		t.OwnSum = own
	}
	switch {
	case len(documents) == 1:
		t.Verdict, t.Agrees, t.Own = w.res.Documents[0].Verdict, w.res.Documents[0].Agrees, w.res.Documents[0].Own
	case own.Given && unknown == 0:
		w.compare(t)
	case own.Given:
		t.Verdict = fmt.Sprintf("%d of %d documents give no total", unknown, len(documents))
	}
}

// kind is what has become of an object.
func (o *Object) kind() int {
	switch {
	case o.Lost:
		return kindLost
	case o.Fragmentary:
		return kindFragment
	}
	return kindWhole
}

const (
	kindWhole = iota
	kindFragment
	kindLost
)

// add sums up some lines.
func (w *worker) add(lines []int) Totals {
	t := Totals{Lines: map[State]int{}}
	in := map[int]bool{}
	lost := 0
	for _, i := range lines {
		l := &w.res.Lines[i]
		in[i] = true
		t.Lines[l.State]++
		if t.Date == "" {
			t.Date = l.Date
		}
		for _, n := range l.Notes {
			if strings.HasSuffix(n, " missing before this line") {
				t.Missing = append(t.Missing, fmt.Sprintf("%s (%s)", n, l.ID()))
			}
		}
		if l.declined {
			continue
		}
		lost += l.Lost
		t.Ordered = t.Ordered.plus(l.Quantity)
		known := l.known()
		t.Identified = t.Identified.plus(known)
		if known == (Range{}) {
			t.Unexplained = t.Unexplained.plus(l.Quantity)
		} else if known != l.Quantity {
			t.Unexplained = t.Unexplained.plus(l.Quantity.minus(known))
		}
		if l.Sum.Given {
			t.Sum = t.Sum.plus(l.Sum)
		} else {
			t.Unpriced++
		}
	}
	kinds, present := w.pieces(in)
	t.Surviving, t.Fragmentary, t.RecordedLost = kinds[kindWhole], kinds[kindFragment], kinds[kindLost].plus(exactly(lost))
	t.Lost = t.Identified.minus(present)
	if t.Identified.High >= 0 {
		t.Surviving.High = min(t.Surviving.High, t.Ordered.High)
		t.Fragmentary.High = min(t.Fragmentary.High, t.Ordered.High)
	}
	return t
}

// known is how many pieces of a line are of a known article.
func (l *LineResult) known() Range {
	all, some, sum, split := true, false, Range{}, true
	for i := range l.Items {
		it := &l.Items[i]
		if !it.State.Known() {
			all = false
			continue
		}
		some = true
		split = split && it.hi > 0
		sum = sum.plus(exactly(it.hi))
	}
	switch {
	case all && some:
		return l.Quantity
	case !some:
		return Range{}
	case split:
		return sum
	}
	return Range{Low: 0, High: l.Quantity.High}
}

// pieces counts the objects that are pieces of some lines, by what has become of them,
// and those that are not lost together. Of objects that compete it is known how many
// are pieces, and not which.
func (w *worker) pieces(in map[int]bool) (kinds [3]Range, present Range) {
	g := w.pairs
	type group struct {
		within, touches bool
		objects         []int
	}
	groups := map[int]*group{}
	var order []int
	for _, e := range g.edges {
		p := g.best.parts[e.object]
		if p < 0 {
			continue
		}
		x := groups[p]
		if x == nil {
			x = &group{within: true}
			groups[p] = x
			order = append(order, p)
		}
		here := in[g.slots[e.slot].line]
		x.within, x.touches = x.within && here, x.touches || here
		if n := len(x.objects); n == 0 || x.objects[n-1] != e.object {
			x.objects = append(x.objects, e.object)
		}
	}
	for o := range w.Objects {
		if r := &w.res.Objects[o]; r.Line >= 0 && in[r.Line] && g.best.parts[o] < 0 {
			kinds[w.Objects[o].kind()] = kinds[w.Objects[o].kind()].plus(exactly(1)) // a curator has decided
		}
	}
	present = kinds[kindWhole].plus(kinds[kindFragment])
	for _, p := range order {
		x := groups[p]
		if !x.touches {
			continue
		}
		var low, high [3]int
		best, firm, here := 0, 0, 0
		for _, o := range x.objects {
			k := w.Objects[o].kind()
			r := &w.res.Objects[o]
			if g.best.slots[o] >= 0 {
				best++
			}
			if g.firm.slots[o] >= 0 {
				firm++
			}
			if slices.ContainsFunc(r.Options, func(i int) bool { return in[i] }) {
				high[k]++
				here++
			}
			if w.surely(o, in) {
				low[k]++
			}
		}
		if !x.within {
			best, firm = here, 0
		}
		for k := range kinds {
			others := 0
			for j := range kinds {
				if j != k {
					others += min(high[j], best)
				}
			}
			kinds[k] = kinds[k].plus(Range{Low: max(low[k], firm-others), High: min(high[k], best)})
		}
		upper := min(best-low[kindLost], high[kindWhole]+high[kindFragment])
		lower := max(low[kindWhole]+low[kindFragment], firm-min(high[kindLost], best))
		present = present.plus(Range{Low: lower, High: max(lower, upper)})
	}
	return kinds, present
}

// surely reports whether an object is a piece of one of some lines, whichever.
func (w *worker) surely(o int, in map[int]bool) bool {
	g := w.pairs
	for _, s := range slices.Concat(g.best.options[o], g.firm.options[o]) {
		if s < 0 || !in[g.slots[s].line] || !g.whys[g.at[[2]int{o, s}]].sure {
			return false
		}
	}
	return true
}

// own reads the document's own total.
func (w *worker) own(t *Totals, lines []int) {
	for _, i := range lines {
		switch own := strings.TrimSpace(w.res.Lines[i].Total); {
		case own == "" || own == t.Own:
		case t.Own == "":
			t.Own = own
		default:
			t.Verdict = fmt.Sprintf("the lines give several totals of the document: %q and %q", t.Own, own)
			return
		}
	}
	if t.Own == "" {
		t.Verdict = "the document gives no total"
		return
	}
	if t.OwnSum = ReadSum(t.Own, w.LineConventions, w.About); !t.OwnSum.Given {
		t.Verdict = "the document's total " + t.OwnSum.Why
		return
	}
	w.compare(t)
}

// compare holds the sum of the lines against the document's own total.
func (w *worker) compare(t *Totals) {
	lines := "1 line has"
	if t.Unpriced != 1 {
		lines = fmt.Sprintf("%d lines have", t.Unpriced)
	}
	missing := ""
	if len(t.Missing) > 0 {
		missing = ", and parts of the list are missing"
	}
	switch low, high := t.OwnSum.Low-t.Sum.High, t.OwnSum.High-t.Sum.Low; {
	case !t.Sum.Given:
		t.Verdict = "no line has a price that can be read; the document says " + t.OwnSum.String()
	case t.Unpriced > 0 && low > 0:
		t.Verdict = fmt.Sprintf("%s no price that can be read; the others come to %s, and the document says %s: %s is left for them%s",
			lines, t.Sum, t.OwnSum, Sum{Low: low, High: high, Given: true}, missing)
	case low <= 0 && high >= 0:
		t.Agrees = t.Unpriced == 0
		t.Verdict = fmt.Sprintf("the lines come to %s, as the document says", t.Sum)
		if low != high {
			t.Verdict = fmt.Sprintf("the lines come to %s, and the document says %s, which may be the same", t.Sum, t.OwnSum)
		}
		if t.Unpriced > 0 {
			t.Verdict += "; but " + lines + " no price that can be read"
		}
	case low > 0:
		t.Verdict = fmt.Sprintf("the lines come to %s, which is %s less than the document says (%s)%s", t.Sum, Sum{Low: low, High: high, Given: true}, t.OwnSum, missing)
	default:
		t.Verdict = fmt.Sprintf("the lines come to %s, which is %s more than the document says (%s)", t.Sum, Sum{Low: -high, High: -low, Given: true}, t.OwnSum)
	}
}

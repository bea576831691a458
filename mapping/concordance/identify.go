package concordance

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"ropewalk/mapping/reading"
)

// The points of what speaks for a match, and against it. They rank candidates and
// weigh assignments; they never decide what a line means.
const (
	pointsNumber    = 60
	pointsRoman     = 50
	pointsFigure    = 12 // for each figure that can be read, where others can't
	pointsSuffix    = 20
	pointsOneFigure = 15
	pointsDoubt     = -20
	pointsPrice     = 30
	pointsWords     = 20
	pointsSomeWords = 5
	pointsNote      = 5
	pointsEdition   = 10 // the edition is named
	pointsOrder     = 80 // the object is recorded to come from the order
	pointsLineKnown = 5
	// Assignments as near as this are alternatives: that one record names the edition and
	// another does not is no reason to prefer it. That one names the order is.
	marginPoints     = 39
	candidatesMost   = 8
	candidatesWeakly = 5
)

// agreement is what a second piece of evidence says of a candidate.
type agreement int8

const (
	silent agreement = iota
	agrees
	disagrees
)

// evidence is everything that speaks of one entry as the meaning of one number.
type evidence struct {
	found
	excluded string // why it can't be meant at all
	price    agreement
	words    agreement
	named    bool
	points   int
	reasons  []Reason
}

func (e *evidence) say(points int, format string, args ...any) {
	e.points += points
	e.reasons = append(e.reasons, Reason{fmt.Sprintf(format, args...), points})
}

// strong reports whether the number alone would do.
func (e *evidence) strong() bool { return e.excluded == "" && e.how <= gapsFit }

// fits reports whether nothing speaks against it.
func (e *evidence) fits() bool {
	return e.strong() && e.price != disagrees && e.words != disagrees
}

// identify works out the entries that a line's numbers mean.
func (w *worker) identify(l *LineResult) {
	if l.declined {
		return
	}
	date := w.date(l.Date, w.LineConventions)
	for i := range l.Items {
		if it := &l.Items[i]; it.legible {
			w.identifyItem(l, it, date)
		}
	}
	l.sumUp()
}

// sumUp makes the state of a line from those of its items.
func (l *LineResult) sumUp() {
	if l.declined {
		return
	}
	worst := 0
	rank := map[State]int{Accepted: 0, Identified: 1, Ambiguous: 2, Unexplained: 3}
	for i := range l.Items {
		if r := rank[l.Items[i].State]; i == 0 || r > rank[l.Items[worst].State] {
			worst = i
		}
	}
	l.State, l.Why = l.Items[worst].State, l.Items[worst].Why
	if len(l.Items) > 1 && l.Items[worst].Number != "" {
		l.Why = l.Items[worst].Number + ": " + l.Why
	}
}

func (w *worker) identifyItem(l *LineResult, it *Item, date *reading.Date) {
	all := w.weigh(l, it.read, date)
	lead := it.Why // of a ditto
	if lead != "" {
		lead += "; "
	}
	fit := map[int][]*evidence{}
	var articles []int
	doubtful := it.read.Doubt || it.read.Open
	for i := range all {
		e := &all[i]
		a := w.entries.info[e.entry].article
		if e.fits() {
			if fit[a] == nil {
				articles = append(articles, a)
			}
			fit[a] = append(fit[a], e)
		}
	}
	it.articles, it.points = articles, map[int]int{}
	for _, a := range articles {
		for _, e := range fit[a] {
			it.points[a] = max(it.points[a], e.points)
		}
	}
	switch len(articles) {
	case 1:
		others := func(fault func(*evidence) bool) bool {
			return slices.ContainsFunc(all, func(e evidence) bool {
				return e.strong() && fault(&e) && w.entries.info[e.entry].article != articles[0]
			})
		}
		priced := others(func(e *evidence) bool { return e.price == disagrees })
		worded := others(func(e *evidence) bool { return e.words == disagrees })
		w.settle(it, fit[articles[0]], lead, doubtful, priced, worded)
	case 0:
		it.State = Unexplained
		it.Why = lead + w.whyNone(it.read, all)
	default:
		it.State = Ambiguous
		it.Why = lead + fmt.Sprintf("%d articles fit", len(articles))
	}
	w.list(it, all)
}

// settle decides about the only article that fits. Where others were put aside by
// their price or their words, or the number is in doubt, the price or the words must
// speak for this one: that they are silent is not enough.
func (w *worker) settle(it *Item, fit []*evidence, lead string, doubtful, priced, worded bool) {
	price, word := false, false
	for _, e := range fit {
		price = price || e.price == agrees
		word = word || e.words == agrees
	}
	switch {
	case priced && !price:
		it.State, it.Why = Ambiguous, lead+"the others that fit have other prices, but the price of this one is not known"
	case worded && !word:
		it.State, it.Why = Ambiguous, lead+"the others that fit are called otherwise, but this one has no words to compare"
	case doubtful && !price && !word:
		it.State, it.Why = Ambiguous, lead+"the number is in doubt, and neither price nor words confirm it"
	default:
		it.State, it.Sure = Identified, true
		rules := []string{"number"}
		switch fit[0].how {
		case exactRoman:
			rules[0] = "Roman figures"
		case gapsFit:
			rules[0] = "the figures that can be read"
		}
		if (priced || doubtful) && price {
			rules = append(rules, "price")
		}
		if (worded || doubtful) && word {
			rules = append(rules, "words")
		}
		it.Rule = strings.Join(rules, " and ")
		it.Why = lead + "by " + it.Rule
		// Where prices differ between editions the one that agrees is meant.
		for _, e := range fit {
			if !price || e.price == agrees {
				it.Entries = append(it.Entries, e.entry)
			}
		}
		w.newest(it.Entries)
		if len(it.Entries) > 1 {
			it.Why += fmt.Sprintf("; %d editions have it alike", len(it.Entries))
		}
	}
}

func (w *worker) whyNone(n Number, all []evidence) string {
	var excluded, price, wordy int
	for i := range all {
		switch e := &all[i]; {
		case e.how > gapsFit:
		case e.excluded != "":
			excluded++
		case e.price == disagrees:
			price++
		case e.words == disagrees:
			wordy++
		}
	}
	switch {
	case price+wordy > 0 && price >= wordy:
		return "an entry has this number, and its price is another"
	case wordy > 0:
		return "an entry has this number, and it is called otherwise"
	case excluded > 0:
		return "only editions that can't be meant have this number"
	}
	return "no catalogue has the number " + n.String()
}

// weigh gathers the entries a number may mean, with what speaks for each and against
// it.
func (w *worker) weigh(l *LineResult, n Number, date *reading.Date) []evidence {
	var out []evidence
	name, note := words(l.Name), words(l.Note)
	for _, f := range w.entries.find(n, true) {
		e := evidence{found: f}
		entry, inf := &w.Entries[f.entry], &w.entries.info[f.entry]
		switch f.how {
		case exactNumber:
			e.say(pointsNumber, "the number is %s", entry.Number)
		case exactRoman:
			e.say(pointsRoman, "%s and %s are the same number, one in Roman figures", n, entry.Number)
		case gapsFit:
			legible := len(strings.Trim(n.Figures, "?…")) - strings.Count(strings.Trim(n.Figures, "?…"), "?")
			e.say(min(pointsRoman, pointsFigure*legible), "the figures that can be read are those of %s", entry.Number)
		case otherSuffix:
			e.say(pointsSuffix, "the same figures, but the entry is %s", entry.Number)
		case oneFigure:
			e.say(pointsOneFigure, "a slip of the pen away from %s", entry.Number)
		}
		if f.how == exactNumber && n.Doubt {
			e.say(pointsDoubt, "the number is in doubt")
		}
		if l.Edition != "" {
			if editionNamed(l.Edition, entry) {
				e.named = true
				e.say(pointsEdition, "the document names this edition")
			} else {
				e.excluded = "the document names another edition, " + l.Edition
			}
		}
		if printedAfter(inf.date, date) {
			e.excluded = fmt.Sprintf("the edition of %s came out after the order of %s", entry.Published, l.Date)
		}
		w.price(&e, l, inf)
		switch k := shared(name, inf.words); {
		case len(name) == 0 || len(inf.words) == 0:
		case k == len(name):
			e.words = agrees
			e.say(pointsWords, "it is called %q", entry.Name)
		case k == 0:
			e.words = disagrees
			e.say(-pointsWords, "it is called %q, not %q", entry.Name, l.Name)
		default:
			e.say(pointsSomeWords, "it is called %q, which shares words with %q", entry.Name, l.Name)
		}
		if k := shared(note, inf.words); k > 0 && len(inf.words) > 0 {
			e.say(pointsNote, "the note shares words with it")
		}
		// A slip of the pen is believed only with another reason.
		if f.how == oneFigure && e.price != agrees && e.words != agrees {
			continue
		}
		if e.excluded != "" {
			e.say(-pointsNumber, "%s", e.excluded)
		}
		out = append(out, e)
	}
	w.favourNewest(out)
	slices.SortStableFunc(out, func(a, b evidence) int {
		return cmp.Or(cmp.Compare(b.points, a.points), cmp.Compare(a.entry, b.entry))
	})
	return out
}

// price compares what the line says of the price with the entry's.
func (w *worker) price(e *evidence, l *LineResult, inf *entryInfo) {
	if !inf.price.Exact() {
		return
	}
	p := inf.price.Low
	switch {
	case l.Unit.Exact():
		if l.Unit.Low == p {
			e.price = agrees
			e.say(pointsPrice, "the price is %s", p)
		} else {
			e.price = disagrees
			e.say(-pointsPrice, "the entry costs %s, the line says %s", p, l.Unit)
		}
	case l.Unit.Given:
		if p >= l.Unit.Low && p <= l.Unit.High {
			e.say(pointsSomeWords, "the price %s is near %s", p, l.Unit)
		}
	}
}

// favourNewest prefers, of the editions in which an article has the number, the newest
// that was out.
func (w *worker) favourNewest(all []evidence) {
	best := map[int]int{}
	for i := range all {
		e := &all[i]
		d := w.entries.info[e.entry].date
		if !e.strong() || d == nil {
			continue
		}
		a := w.entries.info[e.entry].article
		if k, ok := best[a]; !ok || d.EarliestBegin.Compare(w.entries.info[all[k].entry].date.EarliestBegin) > 0 {
			best[a] = i
		}
	}
	for i := range all {
		if k, ok := best[w.entries.info[all[i].entry].article]; ok && k == i && len(w.entries.articles[w.entries.info[all[i].entry].article]) > 1 {
			all[i].say(0, "the newest edition that was out and has it")
		}
	}
}

// list keeps the candidates that are worth showing.
func (w *worker) list(it *Item, all []evidence) {
	weak := 0
	for i := range all {
		e := &all[i]
		if it.State == Identified && !slices.Contains(it.Entries, e.entry) && !e.strong() {
			continue
		}
		if !e.fits() {
			if weak++; weak > candidatesWeakly {
				continue
			}
		}
		if len(it.Candidates) == candidatesMost {
			break
		}
		it.Candidates = append(it.Candidates, Candidate{Entry: e.entry, Points: e.points, Reasons: e.reasons, Against: !e.fits()})
	}
}

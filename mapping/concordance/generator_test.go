package concordance

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// The generator invents a maker, a catalogue in two editions, orders from it and what is
// left of them. It keeps the truth, and says from the truth alone what the surviving
// evidence leaves open: a line is unambiguous if one article, the right one, fits what
// can still be read of its number, its price and its date. It shares no code with the
// rules under test.

type truth struct {
	in       *Input
	articles []article
	entryOf  []int // article of each entry
	lines    []trueLine
	objects  []trueObject
	sums     map[string]Farthings // of the lines that are left, by document
	totals   map[string]Farthings // of the documents when they were whole
	damage   map[string]int
}

type article struct {
	name  string
	in    [2]string    // number in each edition; "" if not in it
	price [2]Farthings // of one piece
}

// trueLine is a line that is left.
type trueLine struct {
	articles []int // that were ordered; empty if it is struck out
	fit      [][]int
	clear    bool // unambiguous
}

type trueObject struct {
	line    int  // -1: never ordered, -2: on a leaf that is missing
	clear   bool // unambiguously a piece of the line
	matched bool // by what evidence is left it is unambiguously a piece of one line
	implied bool // or the others that it may be of are full
}

var editionYears = [2]string{"1871", "1884"}

// written is a line before the damage.
type written struct {
	document, folio, line string
	articles              []int
	edition               int
	quantity              int
	price                 Farthings // 0: not written
	struck                bool
	ditto                 bool
	pieces                []bool // by piece: it survives
	missing               bool
}

// evidenceOf is what can be read of a number.
type evidenceOf struct {
	figures []string // with '?' for one that is lost; nil: nothing
	doubt   bool
	price   Farthings
}

func generate(seed uint64, n int) *truth {
	r := rand.New(rand.NewPCG(seed, uint64(n)))
	t := &truth{in: &Input{About: 10}, sums: map[string]Farthings{}, totals: map[string]Farthings{}, damage: map[string]int{}}
	t.catalogue(r, max(60, n*2))
	docs := []struct {
		name, date string
		year       int
	}{{"D1", "4 May 1874", 1874}, {"D2", "12 March 1889", 1889}, {"D3", "1890", 1890}}
	if n < 50 {
		docs = docs[:2]
	}
	leaf := 12
	if n < 50 {
		leaf = 3
	}
	var all []*written
	for i := range n {
		d := docs[i*len(docs)/n]
		k := 0
		if len(all) > 0 && all[len(all)-1].document == d.name {
			last := all[len(all)-1]
			k, _ = strconv.Atoi(last.folio)
			k = (k-1)*leaf + atoi(last.line)
		}
		w := &written{document: d.name, folio: strconv.Itoa(k/leaf + 1), line: strconv.Itoa(k%leaf + 1), quantity: 1 + r.IntN(4)}
		if d.year > 1884 && r.IntN(5) > 0 {
			w.edition = 1
		}
		switch {
		case k > 0 && r.IntN(10) == 0:
			last := all[len(all)-1]
			if len(last.articles) == 1 && !last.struck {
				w.ditto, w.articles, w.edition = true, last.articles, last.edition
				w.price = last.price
				t.damage["dittos"]++
			}
		case r.IntN(25) == 0:
			w.articles = []int{t.any(r, w.edition), t.any(r, w.edition)}
			if w.articles[0] == w.articles[1] {
				w.articles = w.articles[:1]
			}
			w.quantity = len(w.articles)
		}
		if w.articles == nil {
			w.articles = []int{t.any(r, w.edition)}
		}
		if !w.ditto && len(w.articles) == 1 && r.IntN(3) > 0 {
			w.price = t.articles[w.articles[0]].price[w.edition]
		}
		w.struck = !w.ditto && r.IntN(30) == 0
		if !w.struck {
			for range w.quantity {
				w.pieces = append(w.pieces, r.IntN(2) == 0)
			}
			t.totals[w.document] += w.price * Farthings(w.quantity)
		}
		all = append(all, w)
	}
	// Missing leaves: never the first or the last, whose loss leaves no trace in the list.
	lost := map[string]bool{}
	for i, w := range all {
		whole := i > 0 && all[i-1].document == w.document && all[len(all)-1] != w
		if f := w.document + w.folio; w.line == "1" && whole && r.IntN(8) == 0 && !lost[w.document+strconv.Itoa(atoi(w.folio)-1)] {
			end := i
			for end < len(all) && all[end].document == w.document && all[end].folio == w.folio {
				end++
			}
			if end < len(all) && all[end].document == w.document {
				lost[f] = true
				t.damage["missing leaves"]++
			}
		}
		w.missing = lost[w.document+w.folio]
	}
	t.write(r, all, docs[0].year, func(doc string) (string, int) {
		for _, d := range docs {
			if d.name == doc {
				return d.date, d.year
			}
		}
		panic(doc)
	})
	t.survivors(r, all)
	return t
}

func atoi(s string) int { n, _ := strconv.Atoi(s); return n }

var firstWords = []string{"Aneroid", "Marine", "Pocket", "Brass", "Folding", "Mountain", "Reflecting", "Standard", "Portable", "Improved", "Registering", "Solar", "Marine-pattern", "Ebony", "Boxwood", "Silvered", "Jewelled", "Hinged", "Gimballed", "Enamelled"}
var secondWords = []string{"barometer", "thermometer", "hygrometer", "sextant", "octant", "quadrant", "telescope", "protractor", "compass", "dividers", "gauge", "level", "theodolite", "chronometer", "sundial", "anemometer", "barograph", "sympiesometer", "clinometer", "pedometer"}

var thirdWords = []string{"", "Ternsey", "Ostrey", "Cullerness", "Lunnish", "Sarnby", "Lantern", "Candlemas", "Quernlow", "Thrisslow", "Orbelow", "Nightglass", "Hasper"}

// catalogue invents the articles and their numbers in both editions.
func (t *truth) catalogue(r *rand.Rand, n int) {
	next := [2]int{100, 100}
	for i := range n {
		a := article{name: strings.TrimSpace(fmt.Sprintf("%s %s %s", firstWords[i%20], secondWords[i/20%20], thirdWords[i/400]))}
		for e := range 2 {
			if i > 5 && r.IntN(8) == 0 && (e == 0 || a.in[0] != "") {
				continue // only in the other edition
			}
			suffix := ""
			switch r.IntN(12) {
			case 0:
				suffix = "a"
			case 1:
				suffix = " bis"
			}
			if r.IntN(3) == 0 {
				next[e] += 1 + r.IntN(9) // gaps
			} else {
				next[e]++
			}
			a.in[e] = strconv.Itoa(next[e]) + suffix
			if e == 1 && a.in[0] != "" && r.IntN(3) == 0 {
				a.in[1] = a.in[0] // kept its number
			}
			a.price[e] = Farthings(12 * (4 + r.IntN(400)))
			if e == 1 && a.price[0] > 0 && r.IntN(2) == 0 {
				a.price[1] = a.price[0]
			}
		}
		t.articles = append(t.articles, a)
	}
	// Printer's errors: a number given twice in one edition.
	for range n / 40 {
		e, i, k := r.IntN(2), r.IntN(n), r.IntN(n)
		if i != k && t.articles[i].in[e] != "" && t.articles[k].in[e] != "" {
			t.articles[k].in[e] = t.articles[i].in[e]
			t.damage["double numbers"]++
		}
	}
	for e := range 2 {
		for i, a := range t.articles {
			if a.in[e] == "" {
				continue
			}
			t.in.Entries = append(t.in.Entries, Entry{Catalogue: "maker", Edition: editionYears[e], Published: editionYears[e], Number: strings.TrimSpace(a.in[e]),
				Name: a.name, Price: writePrice(r, a.price[e]), Place: Place{File: "catalogue.csv", Row: len(t.in.Entries) + 2}})
			t.entryOf = append(t.entryOf, i)
		}
	}
}

// any is an article of an edition.
func (t *truth) any(r *rand.Rand, edition int) int {
	for {
		if i := r.IntN(len(t.articles)); t.articles[i].in[edition] != "" {
			return i
		}
	}
}

// writePrice writes an amount in one of the ways of the time.
func writePrice(r *rand.Rand, f Farthings) string {
	p, s, d := f/960, f%960/48, f%48/4
	if q := f % 4; q != 0 {
		panic("the generator uses whole pence")
	}
	switch {
	case p == 0 && r.IntN(2) == 0:
		return fmt.Sprintf("%d/%d", s, d)
	case d == 0 && s == 0:
		return fmt.Sprintf("£%d", p)
	case d == 0:
		return fmt.Sprintf("£%d %ds", p, s)
	}
	return fmt.Sprintf("£%d %ds %dd", p, s, d)
}

// write puts the lines on paper, damages them, and works out what the damage leaves.
func (t *truth) write(r *rand.Rand, all []*written, _ int, docs func(string) (string, int)) {
	var above evidenceOf
	aboveAt := -1
	for i, w := range all {
		if w.missing {
			continue
		}
		date, year := docs(w.document)
		l := Line{Document: w.document, Folio: w.folio, Line: w.line, Quantity: strconv.Itoa(w.quantity), Date: date,
			Place: Place{File: "order.csv", Row: len(t.in.Lines) + 2}}
		ev := evidenceOf{price: w.price}
		var cells []string
		for _, a := range w.articles {
			n := t.articles[a].in[w.edition]
			cells = append(cells, n)
			ev.figures = append(ev.figures, n)
		}
		switch {
		case w.ditto && aboveAt == i-1 && all[i-1].document == w.document:
			ev.figures, ev.doubt = above.figures, above.doubt
			l.Number = []string{"ditto", "do.", "\"", "〃"}[r.IntN(4)]
		case w.ditto:
			ev.figures = nil // the line it repeats is lost
			l.Number = "do."
			t.damage["dittos without a line above"]++
		default:
			switch x := r.IntN(24); {
			case x < 2 && len(cells) == 1:
				k := r.IntN(3)
				lost := cells[0][:k] + "?" + cells[0][k+1:]
				ev.figures[0] = lost
				cells[0] = lost
				if k == 2 && len(lost) == 3 {
					cells[0] = lost[:2] + "[.]"
				}
				t.damage["illegible figures"]++
			case x == 2 && len(cells) == 1:
				ev.figures = nil
				cells = []string{[]string{"[illegible]", "???", ""}[r.IntN(3)]}
				t.damage["illegible numbers"]++
			case x == 3 && len(cells) == 1:
				cells[0] += " (?)"
				ev.doubt = true
				t.damage["doubtful numbers"]++
			case x == 4 && w.price > 0 && !w.struck:
				// The clerk's slip: another number, which the price gives away.
				if wrong := t.slip(r, w, year); wrong != "" {
					cells[0], ev.figures[0] = wrong, wrong
					t.damage["slips of the pen"]++
				}
			}
			l.Number = strings.Join(cells, []string{", ", " & ", "; "}[r.IntN(3)])
			if bis, ok := strings.CutSuffix(l.Number, " bis"); ok && r.IntN(2) == 0 {
				l.Number = bis + " (bis)"
			}
			if l.Number != "" && r.IntN(3) == 0 && isFigure(l.Number[0]) {
				l.Number = []string{"No. ", "Nr ", "N° ", "no "}[r.IntN(4)] + l.Number
			}
		}
		if w.struck {
			l.Number = "~~" + l.Number + "~~"
			t.damage["struck out"]++
		}
		if w.price > 0 {
			l.Price = writePrice(r, w.price)
			if w.ditto && aboveAt == i-1 && r.IntN(2) == 0 {
				l.Price = "do."
			}
			if !w.struck {
				t.sums[w.document] += w.price * Farthings(w.quantity)
			}
		}
		tl := trueLine{articles: w.articles}
		if w.struck {
			tl.articles = nil
		} else {
			tl.clear = ev.figures != nil
			for k := range max(1, len(ev.figures)) {
				var fit []int
				if ev.figures != nil {
					fit = t.fitting(ev.figures[k], ev.price, year)
				}
				tl.fit = append(tl.fit, fit)
				tl.clear = tl.clear && len(fit) == 1 && fit[0] == w.articles[k] && !(ev.doubt && ev.price == 0)
			}
		}
		above, aboveAt = ev, i
		if w.struck {
			aboveAt = -2
		}
		t.in.Lines = append(t.in.Lines, l)
		t.lines = append(t.lines, tl)
	}
	for i := range t.in.Lines {
		t.in.Lines[i].Total = writePrice(rand.New(rand.NewPCG(1, 1)), t.totals[t.in.Lines[i].Document])
	}
}

// fitting are the articles that what can be read of a number, and the price if there
// is one, may mean in the editions that were out.
func (t *truth) fitting(number string, price Farthings, year int) []int {
	var out []int
	for i, a := range t.articles {
		for e := range 2 {
			if atoi(editionYears[e]) > year || len(a.in[e]) != len(number) {
				continue
			}
			like := true
			for k := range number {
				like = like && (number[k] == '?' || number[k] == a.in[e][k])
			}
			if like && (price == 0 || price == a.price[e]) {
				out = append(out, i)
				break
			}
		}
	}
	return out
}

// slip is a wrong number that no article with the line's price has.
func (t *truth) slip(r *rand.Rand, w *written, year int) string {
	right := t.articles[w.articles[0]].in[w.edition]
	for range 20 {
		b := []byte(right)
		b[1+r.IntN(2)] = byte('0' + r.IntN(10))
		if s := string(b); s != right && len(t.fitting(s, w.price, year)) == 0 {
			return s
		}
	}
	return ""
}

// survivors makes the objects: what is left of the pieces, and things that were never
// ordered here.
func (t *truth) survivors(r *rand.Rand, all []*written) {
	type piece struct {
		article, edition, line int
		document               string
	}
	var pieces []piece
	at := -1
	ordered := map[int]bool{}
	for _, w := range all {
		line := -2
		if !w.missing {
			at++
			line = at
		}
		for _, a := range w.articles {
			ordered[a] = true
		}
		for k, left := range w.pieces {
			if left {
				pieces = append(pieces, piece{w.articles[k%len(w.articles)], w.edition, line, w.document})
			}
		}
	}
	for range len(pieces) / 6 {
		e := r.IntN(2)
		if a := t.any(r, e); !ordered[a] {
			pieces = append(pieces, piece{a, e, -1, ""})
		}
	}
	r.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
	var fits [][]int // articles that an object's record may mean
	for i, p := range pieces {
		a := t.articles[p.article]
		o := Object{ID: fmt.Sprintf("M.%d", i+1), Numbers: []string{strings.TrimSpace(a.in[p.edition])}, Fragmentary: r.IntN(6) == 0}
		if r.IntN(3) > 0 {
			o.Name = strings.ToLower(a.name)
		}
		if r.IntN(3) > 0 {
			o.Edition = editionYears[p.edition]
		}
		if p.document != "" && r.IntN(3) == 0 {
			o.Document = p.document
		}
		var fit []int
		for k, b := range t.articles {
			for e := range 2 {
				if b.in[e] == a.in[p.edition] && (o.Edition == "" || e == p.edition) && (o.Name == "" || haveWord(a.name, b.name)) {
					fit = append(fit, k)
					break
				}
			}
		}
		fits = append(fits, fit)
		t.in.Objects = append(t.in.Objects, o)
		t.objects = append(t.objects, trueObject{line: p.line})
	}
	// An object is unambiguous if its record means one article, one line may order that,
	// the line is unambiguous, and the object takes its place there however the objects
	// are laid out so that as many as possible have a place: first those whose records name
	// the order, for they have no rivals but their like, then all.
	var places []place
	for l, tl := range t.lines {
		for k, fit := range tl.fit {
			p := place{line: l, fit: fit, clear: tl.clear, room: atoi(t.in.Lines[l].Quantity)}
			if len(tl.fit) > 1 {
				p.clear, p.room = len(fit) == 1 && fit[0] == tl.articles[k], 1
			}
			places = append(places, p)
		}
	}
	may := make([][]int, len(pieces)) // places
	for i, o := range t.in.Objects {
		for k, p := range places {
			if o.Document != "" && o.Document != t.in.Lines[p.line].Document {
				continue
			}
			if slices.ContainsFunc(p.fit, func(a int) bool { return slices.Contains(fits[i], a) }) {
				may[i] = append(may[i], k)
			}
		}
	}
	named := make([][]int, len(pieces))
	for i, o := range t.in.Objects {
		if o.Document != "" {
			named[i] = may[i]
		}
	}
	firm := make([]int, len(places)) // objects that can only be of this place
	for i := range may {
		if len(may[i]) == 1 && len(fits[i]) == 1 && places[may[i][0]].clear {
			firm[may[i][0]]++
		}
	}
	placedNamed, placed := alwaysPlaced(places, named), alwaysPlaced(places, may)
	for i := range t.objects {
		o := &t.objects[i]
		if len(may[i]) == 1 && len(fits[i]) == 1 && places[may[i][0]].clear {
			o.matched = placed[i] || placedNamed[i]
			o.clear = o.matched && o.line == places[may[i][0]].line
		}
		// Of several lines one may be left because the others are full with objects that
		// can be nowhere else. That need not be found, and may be.
		if open := slices.DeleteFunc(slices.Clone(may[i]), func(k int) bool { return firm[k] >= places[k].room }); len(open) == 1 && len(may[i]) > 1 {
			o.implied = len(fits[i]) == 1 && places[open[0]].clear
		}
	}
}

// place is a line, or one number of a list, with room for so many pieces.
type place struct {
	line, room int
	fit        []int
	clear      bool
}

// alwaysPlaced says which objects have a place on a line in every layout in which as
// many as possible have one: by augmenting paths (Berge 1957), and then by what can be
// reached from an object without a place.
func alwaysPlaced(places []place, may [][]int) []bool {
	on := make([]int, len(may))
	by := make([][]int, len(places))
	for i := range on {
		on[i] = -1
	}
	room := func(l int) bool { return len(by[l]) < places[l].room }
	var seen map[int]bool
	var put func(i int) bool
	put = func(i int) bool {
		for _, l := range may[i] {
			if seen[l] {
				continue
			}
			seen[l] = true
			if room(l) {
				by[l], on[i] = append(by[l], i), l
				return true
			}
			for k, j := range by[l] {
				if put(j) {
					by[l][k], on[i] = i, l
					return true
				}
			}
		}
		return false
	}
	for i := range may {
		seen = map[int]bool{}
		put(i)
	}
	always := make([]bool, len(may))
	var reach func(i int)
	reach = func(i int) {
		for _, l := range may[i] {
			if seen[l] {
				continue
			}
			seen[l] = true
			for _, j := range by[l] {
				if always[j] {
					always[j] = false
					reach(j)
				}
			}
		}
	}
	for i := range may {
		always[i] = on[i] >= 0
	}
	seen = map[int]bool{}
	for i := range may {
		if on[i] < 0 {
			reach(i)
		}
	}
	return always
}

func haveWord(a, b string) bool {
	for _, x := range strings.Fields(a) {
		for _, y := range strings.Fields(b) {
			if x == y {
				return true
			}
		}
	}
	return false
}

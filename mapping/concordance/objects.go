package concordance

import (
	"fmt"
	"slices"
	"strings"
)

// objectNumbers is what the numbers of an object name.
type objectNumbers struct {
	any     bool     // a number is recorded
	unread  []string // why some can't be read
	links   []link   // one for each article, in order
	written string
}

// link is an article that an object may be a piece of.
type link struct {
	article int
	entry   int // the entry that its number names
	points  int
	reasons []Reason
	words   agreement
	doubt   bool
}

// readObjects finds the articles that the objects' own numbers name.
func (w *worker) readObjects() {
	w.objects = make([]objectNumbers, len(w.Objects))
	w.res.Objects = make([]ObjectResult, len(w.Objects))
	for i := range w.Objects {
		o, n := &w.Objects[i], &w.objects[i]
		w.res.Objects[i].Line = -1
		name := words(o.Name)
		for _, cell := range o.Numbers {
			if strings.TrimSpace(cell) == "" {
				continue
			}
			n.any = true
			n.written = strings.TrimPrefix(n.written+", "+cell, ", ")
			wr, err := ReadNumbers(cell)
			if err != nil || wr.Ditto || wr.Illegible || wr.Cancelled {
				n.unread = append(n.unread, cell)
				continue
			}
			for _, num := range wr.Numbers {
				w.linkObject(o, n, num, name, len(wr.Numbers) > 1)
			}
		}
		// Where one article bears the object's name, those with no word of it are not meant.
		// Alone, a name without a common word is no argument: it may be that of a ship.
		if slices.ContainsFunc(n.links, func(l link) bool { return l.words == agrees }) {
			n.links = slices.DeleteFunc(n.links, func(l link) bool { return l.words == disagrees })
		}
	}
}

func (w *worker) linkObject(o *Object, n *objectNumbers, num Number, name []string, several bool) {
	for _, f := range w.entries.find(num, false) {
		e, inf := &w.Entries[f.entry], &w.entries.info[f.entry]
		ev := evidence{found: f}
		switch f.how {
		case exactNumber:
			ev.say(pointsNumber, "its number is %s", e.Number)
		case exactRoman:
			ev.say(pointsRoman, "its number %s is %s, one in Roman figures", num, e.Number)
		default:
			ev.say(pointsRoman-pointsFigure, "the figures of its number that can be read are those of %s", e.Number)
		}
		if num.Doubt {
			ev.say(pointsDoubt, "the number is in doubt")
		}
		if o.Edition != "" {
			if !editionNamed(o.Edition, e) {
				continue
			}
			ev.say(pointsEdition, "its record names the edition")
		}
		switch k := shared(name, inf.words); {
		case len(name) == 0 || len(inf.words) == 0:
		case k == 0:
			ev.words = disagrees
			ev.say(-pointsWords, "it is called %q, and the entry %q", o.Name, e.Name)
		case shared(words(e.Name), name) == len(words(e.Name)):
			ev.words = agrees
			ev.say(pointsWords, "both are called %q", e.Name)
		default:
			ev.say(pointsSomeWords, "%q shares words with the entry %q", o.Name, e.Name)
		}
		l := link{article: inf.article, entry: f.entry, points: max(1, ev.points), reasons: ev.reasons, words: ev.words, doubt: num.Doubt || f.how == gapsFit || several || ev.words == disagrees}
		if k := slices.IndexFunc(n.links, func(x link) bool { return x.article == l.article }); k < 0 {
			n.links = append(n.links, l)
		} else if l.points > n.links[k].points {
			n.links[k] = l
		}
	}
}

// slot is something that objects are pieces of: a line, or one number of it.
type slot struct {
	line int
	item int // -1: any
}

// assign gives the objects to the lines, those that a curator has not given already.
func (w *worker) assign(taken map[int]int) {
	var slots []slot
	var capacity []int
	byArticle := map[int][]int{} // slots
	for i := range w.res.Lines {
		l := &w.res.Lines[i]
		if l.declined || l.State == Refused {
			continue
		}
		split := len(l.Items) > 1 && l.Items[0].hi > 0
		left := l.Quantity.High
		if left < 0 {
			left = len(w.Objects)
		}
		left = max(0, left-l.Lost)
		for k := range l.Items {
			it := &l.Items[k]
			if k == 0 || split {
				s := slot{i, -1}
				c := left
				if split {
					s.item, c = k, it.hi
				}
				for _, p := range l.Pieces {
					if !split || p.Item == k {
						c--
					}
				}
				slots = append(slots, s)
				capacity = append(capacity, max(0, c))
			}
			for _, a := range it.articles {
				if list := byArticle[a]; len(list) == 0 || list[len(list)-1] != len(slots)-1 {
					byArticle[a] = append(list, len(slots)-1)
				}
			}
		}
	}
	g := &pairing{slots: slots, at: map[[2]int]int{}, linked: map[int]bool{}}
	var firm, loose []edge
	for o := range w.Objects {
		if _, ok := taken[o]; ok {
			continue
		}
		for _, lk := range w.objects[o].links {
			for _, s := range byArticle[lk.article] {
				e, why, ok := w.edge(o, lk, s, slots[s])
				if !ok {
					continue
				}
				g.linked[o] = true
				k, twice := g.at[[2]int{o, s}]
				switch {
				case capacity[s] == 0:
				case !twice:
					g.at[[2]int{o, s}] = len(g.edges)
					g.edges = append(g.edges, e)
					g.whys = append(g.whys, why)
				case e.points > g.edges[k].points:
					// Two numbers of one object may name two articles of one line.
					g.edges[k], g.whys[k] = e, why
				}
			}
		}
	}
	for i, why := range g.whys {
		if why.sure {
			firm = append(firm, g.edges[i])
		} else {
			loose = append(loose, g.edges[i])
		}
	}
	g.best = assign(len(w.Objects), capacity, g.edges, nil, marginPoints)
	g.firm = assign(len(w.Objects), capacity, firm, loose, marginPoints)
	w.pairs = g
	w.place(g, taken)
}

// pairing is what the assignment was made from, and what it gave.
type pairing struct {
	slots  []slot
	edges  []edge
	whys   []edgeWhy
	at     map[[2]int]int // edge of an object and a slot
	linked map[int]bool   // objects that a line names, full or not
	best   assignment
	firm   assignment // by the edges without a doubt alone; an object's own doubtful edges are options
}

// edgeWhy explains an edge.
type edgeWhy struct {
	reasons []Reason
	sure    bool // line and object both name one article, without a doubt
}

func (w *worker) edge(o int, lk link, s int, at slot) (edge, edgeWhy, bool) {
	l, obj := &w.res.Lines[at.line], &w.Objects[o]
	ev := evidence{points: lk.points, reasons: slices.Clone(lk.reasons)}
	if obj.Document != "" {
		if !strings.EqualFold(obj.Document, l.Document) {
			return edge{}, edgeWhy{}, false
		}
		ev.say(pointsOrder, "its record names the order %s", l.Document)
	}
	known := false
	for k := range l.Items {
		if it := &l.Items[k]; (at.item < 0 || at.item == k) && it.State.Known() && slices.Contains(it.articles, lk.article) {
			known = true
		}
	}
	if known {
		ev.say(pointsLineKnown, "the line means this entry")
	}
	for _, d := range w.gaps {
		if obj.Document == "" || strings.EqualFold(obj.Document, d) {
			ev.say(0, "parts of %s are missing, and it may have been ordered there", d)
		}
	}
	sure := known && len(w.objects[o].links) == 1 && !lk.doubt
	return edge{o, s, ev.points}, edgeWhy{ev.reasons, sure}, true
}

// place writes the assignment into lines and objects.
func (w *worker) place(g *pairing, taken map[int]int) {
	a, slots := &g.best, g.slots
	for o := range w.Objects {
		res := &w.res.Objects[o]
		for _, lk := range w.objects[o].links {
			res.Entries = append(res.Entries, lk.entry)
		}
		if line, ok := taken[o]; ok {
			res.State, res.Line, res.Options = OfLine, line, []int{line}
			res.Why = "a curator has decided"
			continue
		}
		var lines []int
		none := false
		// A place is certain only if it stays the only one when what is doubtful of all others
		// is left out: another may not crowd it out of a line by a guess.
		sure := true
		options := slices.Clone(a.options[o])
		for _, s := range g.firm.options[o] {
			if !slices.Contains(options, s) {
				options = append(options, s)
			}
		}
		slices.Sort(options)
		for _, s := range options {
			if s < 0 {
				none = true
				continue
			}
			if i := slots[s].line; !slices.Contains(lines, i) {
				lines = append(lines, i)
			}
			sure = sure && g.whys[g.at[[2]int{o, s}]].sure
		}
		res.Options = lines
		switch {
		case len(lines) == 0:
			w.unplaced(o, g)
		case len(lines) == 1 && !none && sure:
			res.State, res.Line = OfLine, lines[0]
			res.Why = "only this line fits"
		default:
			res.State = OfSeveral
			switch {
			case len(lines) > 1 && none:
				res.Why = fmt.Sprintf("%d lines fit, and more objects than were ordered", len(lines))
			case len(lines) > 1:
				res.Why = fmt.Sprintf("%d lines fit as well as each other", len(lines))
			case none:
				res.Why = "more objects fit the line than it ordered"
			case len(w.objects[o].links) > 1:
				res.Why = "its number is that of several articles"
			default:
				res.Why = "the line may mean other things, or the object's number or name leaves a doubt"
			}
		}
		for _, s := range options {
			if s < 0 {
				continue
			}
			i := g.at[[2]int{o, s}]
			p := Piece{Object: o, Item: slots[s].item, Certain: res.State == OfLine, Points: g.edges[i].points, Reasons: g.whys[i].reasons}
			for _, other := range lines {
				if other != slots[s].line {
					p.Others = append(p.Others, other)
				}
			}
			l := &w.res.Lines[slots[s].line]
			l.Pieces = append(l.Pieces, p)
		}
	}
	for i := range w.res.Lines {
		slices.SortStableFunc(w.res.Lines[i].Pieces, func(x, y Piece) int {
			switch {
			case x.Certain == y.Certain:
				return 0
			case x.Certain:
				return -1
			}
			return 1
		})
	}
}

// unplaced says why an object is a piece of no line.
func (w *worker) unplaced(o int, g *pairing) {
	res, n := &w.res.Objects[o], &w.objects[o]
	switch {
	case !n.any:
		res.State, res.Why = NoNumber, "no maker's number is recorded"
	case len(n.links) == 0 && len(n.unread) > 0:
		res.State, res.Why = NotRead, fmt.Sprintf("its number %q can't be read", strings.Join(n.unread, ", "))
	case len(n.links) == 0:
		res.State, res.Why = NotListed, fmt.Sprintf("no catalogue has the number %q", n.written)
		if w.Objects[o].Edition != "" {
			res.Why += " in the edition " + w.Objects[o].Edition
		}
	case g.linked[o]:
		res.State, res.Why = NeverOrdered, "the pieces of the lines with its number are all accounted for by others"
	default:
		res.State, res.Why = NeverOrdered, "no line names it"
		if open := w.openLines(); open > 0 {
			res.Why = fmt.Sprintf("no line names it, unless it is one of %d that are not explained", open)
		}
	}
}

// openLines counts the lines whose meaning is not known at all.
func (w *worker) openLines() int {
	n := 0
	for i := range w.res.Lines {
		if l := &w.res.Lines[i]; l.State == Unexplained {
			n++
		}
	}
	return n
}

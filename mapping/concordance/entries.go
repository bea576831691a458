package concordance

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"ropewalk/mapping/reading"
)

// entryIndex finds entries by their numbers.
type entryIndex struct {
	info     []entryInfo
	byKey    map[string][]int // number
	byFigure map[string][]int // prefix and figures, whatever the suffix
	byShape  map[string][]int // prefix, suffix and number of figures
	roman    map[int][]int    // value of a number in Roman figures
	articles [][]int          // entries of each article
}

// entryInfo is what was read of an entry.
type entryInfo struct {
	number  Number
	read    bool
	price   Sum
	date    *reading.Date // of the edition
	words   []string
	nameKey string
	article int
}

func (w *worker) indexEntries() *entryIndex {
	x := &entryIndex{info: make([]entryInfo, len(w.Entries)), byKey: map[string][]int{}, byFigure: map[string][]int{}, byShape: map[string][]int{}, roman: map[int][]int{}}
	for i := range w.Entries {
		e, inf := &w.Entries[i], &x.info[i]
		inf.price = ReadSum(e.Price, e.Conventions, w.About)
		inf.date = w.date(e.Published, e.Conventions)
		inf.words = words(e.Name + " " + e.Description)
		inf.nameKey = strings.Join(words(e.Name), " ")
		wr, err := ReadNumbers(e.Number)
		switch {
		case err == nil && len(wr.Numbers) == 1 && wr.Numbers[0].legible():
			inf.number, inf.read = wr.Numbers[0], true
		default:
			why := "it is not one number"
			var u *reading.Unread
			if errors.As(err, &u) {
				why = u.Reason
			} else if strings.TrimSpace(e.Number) == "" {
				why = "it is empty"
			}
			w.problem(Problem{Place: e.Place, Column: "number", Value: e.Number, Message: "the number of this entry can't be read, so no line can mean it: " + why})
			continue
		}
		n := inf.number
		x.byKey[n.key()] = append(x.byKey[n.key()], i)
		f := n.Prefix + "|" + n.Figures
		x.byFigure[f] = append(x.byFigure[f], i)
		s := shapeKey(n.Prefix, n.Suffix, len(n.Figures))
		x.byShape[s] = append(x.byShape[s], i)
		if n.Roman > 0 && n.Figures == "" && n.Suffix == "" {
			x.roman[n.Roman] = append(x.roman[n.Roman], i)
		}
	}
	x.group(w.Entries)
	return x
}

func shapeKey(prefix, suffix string, figures int) string {
	return fmt.Sprintf("%s|%s|%d", prefix, suffix, figures)
}

// group finds the entries of different editions of a catalogue that are one article:
// those with one name, as long as no edition has the name twice; else those with one
// name and description; else those with one name and number whose descriptions do not
// differ. What stays apart is only an article more to choose from.
func (x *entryIndex) group(entries []Entry) {
	root := make([]int, len(entries))
	members := make([][]int, len(entries))
	for i := range root {
		root[i], members[i] = i, []int{i}
	}
	edition := func(i int) string { return entries[i].Catalogue + "\x00" + entries[i].Edition }
	join := func(a, b int) {
		a, b = root[a], root[b]
		if a == b {
			return
		}
		for _, i := range members[a] {
			for _, k := range members[b] {
				if edition(i) == edition(k) {
					return
				}
			}
		}
		if b < a {
			a, b = b, a
		}
		for _, k := range members[b] {
			root[k] = a
		}
		members[a], members[b] = append(members[a], members[b]...), nil
	}
	by := func(key func(i int) string, one bool, fit func(i, k int) bool) {
		groups := map[string][]int{}
		var order []string
		for i := range entries {
			if k := key(i); k != "" && x.info[i].nameKey != "" {
				k = entries[i].Catalogue + "\x00" + k
				if groups[k] == nil {
					order = append(order, k)
				}
				groups[k] = append(groups[k], i)
			}
		}
		for _, name := range order {
			g := groups[name]
			seen := map[string]bool{}
			twice := false
			for _, i := range g {
				twice = twice || seen[edition(i)]
				seen[edition(i)] = true
			}
			if twice && one {
				continue
			}
			for k, i := range g {
				for _, j := range g[:k] {
					if fit == nil || fit(i, j) {
						join(i, j)
					}
				}
			}
		}
	}
	description := func(i int) string { return strings.Join(words(entries[i].Description), " ") }
	by(func(i int) string { return x.info[i].nameKey }, true, nil)
	by(func(i int) string {
		if d := description(i); d != "" {
			return x.info[i].nameKey + "\x00" + d
		}
		return ""
	}, true, nil)
	by(func(i int) string {
		if !x.info[i].read {
			return ""
		}
		return x.info[i].nameKey + "\x00" + x.info[i].number.key()
	}, true, func(i, k int) bool {
		a, b := description(i), description(k)
		return a == "" || b == "" || a == b
	})
	for i := range entries {
		if root[i] == i {
			for _, k := range members[i] {
				x.info[k].article = len(x.articles)
			}
			slices.Sort(members[i])
			x.articles = append(x.articles, members[i])
		}
	}
}

// words are the words of a text that tell things apart: small, without signs, of three
// letters or more.
func words(s string) []string {
	var out []string
	for _, f := range strings.FieldsFunc(strings.ToLower(strings.ReplaceAll(s, "’", "'")), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' }) {
		f = strings.Trim(strings.TrimSuffix(f, "'s"), "'")
		if n := len(f); n > 4 && f[n-1] == 's' && f[n-2] != 's' {
			f = f[:n-1]
		}
		if len(f) >= 3 && !commonWords[f] {
			out = append(out, f)
		}
	}
	return out
}

var commonWords = map[string]bool{"the": true, "and": true, "for": true, "with": true, "from": true, "one": true}

// alike reports whether a word is another, or an abbreviation of it.
func alike(a, b string) bool {
	if a == b {
		return true
	}
	if len(a) > len(b) {
		a, b = b, a
	}
	return len(a) >= 3 && strings.HasPrefix(b, a)
}

// shared counts the words of a that stand in b.
func shared(a, b []string) int {
	n := 0
	for _, x := range a {
		if slices.ContainsFunc(b, func(y string) bool { return alike(x, y) }) {
			n++
		}
	}
	return n
}

// relation is how a number as written is like the number of an entry.
type relation uint8

const (
	exactNumber relation = iota
	exactRoman           // the same value in Roman figures
	gapsFit              // the figures that can be read are the entry's
	otherSuffix          // weak: the same figures with another letter
	oneFigure            // weak: one figure differs, or two have changed places
)

// find gives the entries that a number may mean. Weak relations never identify.
func (x *entryIndex) find(n Number, weak bool) []found {
	var out []found
	seen := map[int]bool{}
	add := func(list []int, r relation) {
		for _, i := range list {
			if !seen[i] {
				seen[i] = true
				out = append(out, found{i, r})
			}
		}
	}
	gaps := strings.ContainsAny(n.Figures, "?…")
	if !gaps {
		add(x.byKey[n.key()], exactNumber)
		if n.Roman > 0 && n.Figures == "" && n.Suffix == "" {
			add(x.byKey["|"+fmt.Sprint(n.Roman)+"|"], exactRoman)
		}
		if n.Prefix == "" && n.Suffix == "" {
			if v, ok := leading(n.Figures); ok {
				add(x.roman[v], exactRoman)
			}
		}
	}
	pattern := n.Figures
	if n.Open {
		pattern += "?"
	}
	if gaps || n.Open {
		for length := 1; length <= figuresMost; length++ {
			for _, i := range x.byShape[shapeKey(n.Prefix, n.Suffix, length)] {
				if fits(pattern, x.info[i].number.Figures) {
					add([]int{i}, gapsFit)
				}
			}
		}
	}
	if !weak || gaps || n.Figures == "" {
		return out
	}
	add(x.byFigure[n.Prefix+"|"+n.Figures], otherSuffix)
	for _, f := range oneOff(n.Figures) {
		m := n
		m.Figures = f
		add(x.byKey[m.key()], oneFigure)
	}
	return out
}

type found struct {
	entry int
	how   relation
}

// oneOff are the figures that a slip of the pen makes of others.
func oneOff(s string) []string {
	var out []string
	b := []byte(s)
	for i := range b {
		for c := byte('0'); c <= '9'; c++ {
			if c != s[i] && (i > 0 || c != '0') {
				b[i] = c
				out = append(out, string(b))
			}
		}
		b[i] = s[i]
	}
	for i := 0; i+1 < len(b); i++ {
		if b[i] != b[i+1] {
			b[i], b[i+1] = b[i+1], b[i]
			if b[0] != '0' {
				out = append(out, string(b))
			}
			b[i], b[i+1] = b[i+1], b[i]
		}
	}
	return out
}

// editionNamed reports whether the words name the edition of an entry.
func editionNamed(words string, e *Entry) bool {
	k := strings.ToLower(strings.TrimSpace(words))
	for _, name := range []string{e.Edition, e.Catalogue, e.Catalogue + " " + e.Edition} {
		if name != "" && k == strings.ToLower(name) {
			return true
		}
	}
	return false
}

// printedAfter reports whether an edition surely came out after a date.
func printedAfter(edition, date *reading.Date) bool {
	return edition != nil && date != nil && edition.EarliestBegin.Known() && date.LatestEnd.Known() && edition.EarliestBegin.Compare(date.LatestEnd) > 0
}

// newest sorts entries of one article so that the likeliest edition comes first: the
// newest of those that were out.
func (w *worker) newest(list []int) {
	slices.SortStableFunc(list, func(a, b int) int {
		x, y := w.entries.info[a].date, w.entries.info[b].date
		switch {
		case x == nil && y == nil:
			return 0
		case x == nil:
			return 1
		case y == nil:
			return -1
		}
		return cmp.Compare(0, x.EarliestBegin.Compare(y.EarliestBegin))
	})
}

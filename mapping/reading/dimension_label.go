package reading

import "strings"

// label is what stands before a product.
type label struct {
	part, term  string
	elements    [4]labelElement
	n           int
	times       bool // the elements are joined as the numbers are: "H x W x D"
	unit        Unit
	unitText    string
	approx      bool
	uncertain   bool
	each        bool
	atLeast     bool
	atMost      bool
	between     bool
	tradeSize   bool
	neutral     bool // "dimensions"
	lettersPart bool
}

type labelElement struct {
	word   *dimensionWord
	e      Element
	text   string
	byUnit bool
	letter byte
}

// readLabel classifies the words of tokens lo to hi-1, a label before a measure or the
// words of a parenthesis after one.
func (p *dimensionParser) readLabel(lo, hi int) (label, bool) {
	var lab label
	before := hi < p.n && (p.kind(hi) == tokNumber || p.kind(hi) == tokOpen) // a measure follows
	for hi > lo && (p.kind(hi-1) == tokDot && !before || p.kind(hi-1) == tokDash || p.kind(hi-1) == tokEqual || p.kind(hi-1) == tokComma) {
		hi--
	}
	if lo >= hi {
		return lab, true
	}
	if p.enumerates(lo, hi) {
		lab.lettersPart = true
	}
	colon := p.kind(hi-1) == tokColon
	partStart, partEnd, plains := -1, -1, 0
	keep := func(start, end int32) {
		if partStart < 0 {
			partStart = int(start)
		}
		partEnd = int(end)
		plains++
	}
	pastColon := -1 // index after the last colon before hi-1
	for k := lo; k < hi; k++ {
		t := p.tok(k)
		switch t.kind {
		case tokColon:
			if k < hi-1 {
				pastColon = k + 1
			}
			continue
		case tokDot:
			if k == hi-1 && !t.spaced && partEnd == int(t.start) {
				partEnd = int(t.end) // an abbreviation
			}
			continue
		case tokComma, tokDash, tokEqual, tokSlash, tokPlus, tokPrime, tokOther, tokClose, tokPlusMinus, tokPrimes:
			continue
		case tokApprox:
			lab.approx = true
			continue
		case tokQuery:
			lab.uncertain = true
			continue
		case tokLess:
			lab.atMost = true
			continue
		case tokGreater:
			lab.atLeast = true
			continue
		case tokTimes:
			switch {
			case lab.n > 0:
				lab.times = true
			case partStart < 0:
				return lab, p.failAt(k, "syntax", "a number is expected before the times sign")
			}
			continue
		case tokNumber:
			keep(t.start, t.end)
			continue
		case tokOpen:
			end := p.closing(k, hi)
			if !p.enumeratesIn(k, lo, end, hi) && p.labelParenthesis(&lab, k+1, end) {
				k = end
				continue
			}
			keep(t.start, p.tok(min(end, hi-1)).end)
			k = end
			continue
		}
		if bound, words := p.bound(k, hi); bound != 0 {
			lab.atLeast, lab.atMost = bound > 0, bound < 0
			k += words - 1
			continue
		}
		w := t.word
		if k+1 < hi && p.beforeUnit(k) && p.word(k+1) != nil && p.word(k+1).unit != "" && p.prefixUnit(k+1, hi, p.word(k+1)) {
			continue // "Maße in cm:"
		}
		last := k == hi-1 || k == hi-2 && colon || k+1 < hi && p.kind(k+1) == tokDot && k+2 >= hi-b2i(colon)
		first := k == lo || k == pastColon
		switch {
		case w == nil:
			if head, e, ok := compoundElement(p.text[t.start:t.end]); ok {
				if e != ElementUnstated {
					lab.addElement(labelElement{e: e, text: p.text[t.start:t.end]})
				}
				keep(t.start, t.start+int32(head))
				continue
			}
			keep(t.start, t.end)
		case k == lo && lab.lettersPart:
			keep(t.start, t.end)
		case w.unit != "" && p.prefixUnit(k, hi, w):
			lab.unit, lab.unitText = w.unit, p.text[t.start:t.end]
		case w.element != "" && p.elementInLabel(k, lo, hi, w, last, first):
			text := p.text[t.start:t.end]
			if k+1 < hi && p.kind(k+1) == tokDot {
				text = p.text[t.start : t.end+1]
			}
			el := labelElement{word: w, e: w.element, text: text, byUnit: w.flags&wordByUnit != 0}
			p.letterElement(&el, p.text[t.start:t.end])
			lab.addElement(el)
		case w.flags&wordApprox != 0 && (first || before && (last || partStart < 0)):
			lab.approx = true
		case w.flags&wordUncertain != 0 && (last || first):
			lab.uncertain = true
			if first && last {
				keep(t.start, t.end)
			}
		case w.flags&wordNeutral != 0 && (last || first):
			lab.neutral = true
			lab.tradeSize = lab.tradeSize || w.flags&wordTradeSize != 0 && last
		case w.flags&wordEach != 0 && (last || first):
			lab.each = true
			if !first && colon {
				keep(t.start, t.end) // "support, each:"
			}
		case last && !colon && w.flags&wordAtLeast != 0:
			lab.atLeast = true
		case last && !colon && w.flags&wordAtMost != 0:
			lab.atMost = true
		case last && !colon && w.flags&wordBetween != 0:
			lab.between = true
		case w.flags&wordTimes != 0 && lab.n > 0 && k+1 < hi && p.word(k+1) != nil && p.word(k+1).element != "":
			lab.times = true
		case w.flags&wordAnd != 0 && k == lo:
		case w.flags&wordOf != 0 && (partStart < 0 && (lab.n > 0 || lab.approx) || last && lab.n > 0):
			// "height of base", "approx. of rim", "H of"
		default:
			keep(t.start, t.end)
		}
	}
	if partStart >= 0 && partEnd > partStart {
		if plains > 8 {
			return lab, p.failAt(lo, "unknown-words", "there are too many words before the number")
		}
		lab.part = trimPart(p.text[partStart:partEnd])
		lab.term = partTerm(lab.part)
	}
	if lab.unit != "" && lab.neutral {
		p.declared = lab.unit // "Dimensions in cm: H 24, W 30"
	}
	if lab.n > len(lab.elements) {
		return lab, p.failAt(lo, "unknown-words", "there are too many words for kinds of measure")
	}
	return lab, true
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (l *label) addElement(e labelElement) {
	if l.n < len(l.elements) {
		l.elements[l.n] = e
	}
	l.n++
}

// labelParenthesis reads "(cm)" and "(H x W)" in a label.
func (p *dimensionParser) labelParenthesis(lab *label, lo, hi int) bool {
	if hi == lo+1 || hi == lo+2 && p.kind(lo+1) == tokDot {
		w := p.word(lo)
		switch {
		case w == nil:
			if p.kind(lo) == tokQuery {
				lab.uncertain = true
				return true
			}
			return false
		case (w.unit == "cm" || w.unit == "mm" || w.unit == "m" || w.unit == "in" || w.unit == "kg" || w.unit == "g") && w.flags&wordEitherUnit == 0:
			lab.unit, lab.unitText = w.unit, p.text[p.tok(lo).start:p.tok(lo).end]
			return true
		case w.element != "" && w.flags&wordByUnit == 0:
			el := labelElement{word: w, e: w.element, text: p.span(lo, hi)}
			p.letterElement(&el, p.text[p.tok(lo).start:p.tok(lo).end])
			lab.addElement(el)
			return true
		case w.flags&wordApprox != 0:
			lab.approx = true
			return true
		case w.flags&wordEach != 0:
			lab.each = true
			return false // stays in the name of the part
		}
		return false
	}
	if lab.n == 0 && p.elementProduct(lo, hi) {
		for k := lo; k < hi; k++ {
			if w := p.word(k); w != nil && w.element != "" {
				el := labelElement{word: w, e: w.element, text: p.text[p.tok(k).start:p.tok(k).end]}
				p.letterElement(&el, el.text)
				lab.addElement(el)
			}
		}
		lab.times = true
		return true
	}
	return false
}

// elementProduct says whether tokens lo to hi-1 are "H x W x D".
func (p *dimensionParser) elementProduct(lo, hi int) bool {
	elements := 0
	wantWord := true
	for k := lo; k < hi; k++ {
		w := p.word(k)
		switch {
		case p.kind(k) == tokDot:
		case wantWord && w != nil && w.element != "" && w.flags&wordByUnit == 0:
			elements++
			wantWord = false
		case !wantWord && (p.kind(k) == tokTimes || p.kind(k) == tokSlash || p.kind(k) == tokComma || w != nil && w.flags&wordTimes != 0):
			wantWord = true
		default:
			return false
		}
	}
	return elements > 1 && !wantWord
}

// enumerates says whether the label begins with the letter of an enumeration: "A)",
// "b:", "D-E)". A letter that also abbreviates an element is taken for an enumeration
// where the letters before it came in turn, or the numbers after it are a product.
func (p *dimensionParser) enumerates(lo, hi int) bool {
	if p.kind(lo) != tokWord || lo+1 >= hi {
		return false
	}
	t := p.tok(lo)
	size := int(t.end - t.start)
	if size > 5 {
		return false
	}
	letter := p.text[t.start] | 0x20
	switch p.kind(lo + 1) {
	case tokClose:
		if size == 1 {
			p.enum = letter
		}
		return true
	case tokColon, tokDot:
	default:
		return false
	}
	if size != 1 || letter < 'a' || letter > 'z' {
		return false
	}
	w := t.word
	known := w != nil && (w.element != "" || w.flags&wordApprox != 0)
	if p.kind(lo+1) == tokDot && lo+2 < hi {
		return false // "m. fl. 24 cm"
	}
	next := lo + 2
	if known && !(p.enum != 0 && letter == p.enum+1 && p.startsClause(lo)) {
		byProduct := letter <= 'g' && letter != 'c' && next >= hi && p.productAt(next)
		named := next < hi && p.word(next) != nil && p.word(next).element != "" && p.word(next) != w
		if !byProduct && !named {
			return false
		}
	}
	p.enum = letter
	return true
}

// enumeratesIn does the same for the parenthesis at k: "(b) 24 cm", "Part (b): 24 x 30".
func (p *dimensionParser) enumeratesIn(k, lo, end, hi int) bool {
	if end != k+2 || p.kind(k+1) != tokWord || p.tok(k+1).end-p.tok(k+1).start != 1 {
		return false
	}
	letter := p.text[p.tok(k+1).start] | 0x20
	named := p.kind(end+1) == tokColon && end+2 < hi && p.word(end+2) != nil && p.word(end+2).element != "" // "Overall (a): H. 3"
	if k != lo && !named && (letter > 'g' || !p.productAt(hi)) {
		return false
	}
	p.enum = letter
	return true
}

func (p *dimensionParser) startsClause(i int) bool {
	return i == 0 || p.kind(i-1) == tokBreak
}

// productAt says whether an unnamed product begins at i: a number, perhaps a unit, and
// a times sign with a number after it.
func (p *dimensionParser) productAt(i int) bool {
	if p.kind(i) != tokNumber {
		return false
	}
	i++
	if w := p.word(i); w != nil && w.unit != "" {
		i++
	}
	for p.kind(i) == tokDot {
		i++
	}
	return p.kind(i) == tokTimes && p.kind(i+1) == tokNumber
}

// bound reads "up to" (-1), "at least" (1) and their like directly before the number.
func (p *dimensionParser) bound(k, hi int) (bound, words int) {
	if k+2 != hi && k+3 != hi || p.kind(hi) != tokNumber {
		return 0, 0
	}
	switch p.text[p.tok(k).start:p.tok(hi-1).end] {
	case "up to", "at most", "less than", "no more than", "not more than", "bis zu", "op till", "upp till", "jusqu'à", "fino a", "hasta":
		return -1, hi - k
	case "at least", "more than", "not less than", "no less than":
		return 1, hi - k
	}
	return 0, 0
}

// beforeUnit says whether the word at k can stand between a heading and its unit.
func (p *dimensionParser) beforeUnit(k int) bool {
	switch p.text[p.tok(k).start:p.tok(k).end] {
	case "in", "en", "i", "à":
		return true
	}
	return false
}

// prefixUnit says whether the unit at k stands for the numbers after the label: "cm 24
// x 30", "Maße in cm: H 24".
func (p *dimensionParser) prefixUnit(k, hi int, w *dimensionWord) bool {
	after := k + 1
	for after < hi && p.kind(after) == tokDot {
		after++
	}
	if after < hi && p.kind(after) != tokColon {
		return false
	}
	if k > 0 && p.kind(k-1) == tokWord && p.beforeUnit(k-1) {
		return true
	}
	if after < hi-1 {
		return false
	}
	switch w.unit {
	case "mm", "cm", "kg":
		return true
	case "m":
		// "m 2,40", but not the Swedish "m 2 kors".
		return after < p.n && p.kind(after) == tokNumber && p.tok(after).places > 0
	}
	return false
}

// elementInLabel decides whether a word that can name an element does.
func (p *dimensionParser) elementInLabel(k, lo, hi int, w *dimensionWord, last, first bool) bool {
	if w.flags&wordByUnit != 0 {
		return first && last
	}
	if w.flags&wordAdjective != 0 {
		return last
	}
	if w.flags&wordLetter == 0 {
		return true
	}
	if last {
		return true
	}
	if !first {
		// In a product of letters, or before "with": "approx. H of helmet".
		return p.kind(k-1) == tokTimes || p.kind(k+1) == tokTimes || p.flags(k+1)&(wordOf|wordWith|wordWithout) != 0 || p.kind(k-1) == tokDot
	}
	switch p.kind(k + 1) {
	case tokTimes, tokDot, tokColon, tokOpen, tokSlash, tokApprox, tokComma, tokDash, tokEqual:
		return true
	case tokWord:
		next := p.word(k + 1)
		if next == nil {
			return p.kind(hi-1) == tokColon
		}
		return next.flags&(wordOf|wordWith|wordWithout|wordApprox|wordTimes|wordAtLeast|wordAtMost|wordBetween|wordEach) != 0 ||
			next.term != "" || next.unit != "" || p.kind(hi-1) == tokColon
	}
	return false
}

// letterElement applies the conventions for letters, and marks those that the measures
// beside them must decide.
func (p *dimensionParser) letterElement(el *labelElement, letter string) {
	if p.c.Letters != nil {
		if e, ok := p.c.Letters[letter]; ok {
			el.e, el.byUnit = e, false
			return
		}
	}
	switch letter {
	case "D", "d":
		el.letter = 'D'
	case "T", "t":
		el.letter = 'T'
	case "l":
		el.letter = 'l'
	}
}

// trimPart cuts what does not belong to the name of a part from its ends.
func trimPart(s string) string {
	for len(s) > 0 {
		switch s[0] {
		case ' ', '\t', ',', ':', '-', '.', '/', '=':
			s = s[1:]
			continue
		}
		break
	}
	for len(s) > 0 {
		switch s[len(s)-1] {
		case ' ', '\t', ',', ':', '-', '/', '=':
			s = s[:len(s)-1]
			continue
		}
		break
	}
	if len(s) > 2 && s[0] == '(' && strings.IndexByte(s, ')') == len(s)-1 {
		return s[1 : len(s)-1]
	}
	return s
}

// partTerm gives the usual English term for the words of a part, where known.
func partTerm(s string) string {
	prefix, term := "", ""
	for i := 0; i < len(s); {
		for i < len(s) && (s[i] == ' ' || s[i] == ',' || s[i] == '(' || s[i] == '.') {
			i++
		}
		start := i
		for i < len(s) && s[i] != ' ' && s[i] != ',' && s[i] != ')' && s[i] != '(' && s[i] != '.' {
			if s[i] == '/' && i == start+1 && s[start]|0x20 == 'w' && !(i+1 < len(s) && s[i+1] == 'o') {
				i++
				break
			}
			i++
		}
		if start == i {
			i++
			continue
		}
		w := lookupDimensionWord(s[start:i])
		switch {
		case w == nil:
			return ""
		case w.flags&wordWithout != 0 && prefix == "":
			prefix = "without "
		case w.flags&wordWith != 0 && prefix == "":
			prefix = "with "
		case w.term != "" && term == "":
			term = w.term
			if i < len(s) && s[i] == ',' || i+1 < len(s) && s[i+1] == '(' {
				return prefix + term // what follows tells of the part
			}
		case w.flags&wordAnd == 0 && w.flags&(wordOf|wordEach|wordNeutral) != 0:
		default:
			return ""
		}
	}
	if term == "" {
		return ""
	}
	return prefix + term
}

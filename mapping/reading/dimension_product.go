package reading

// amountDraft is an amount in the making.
type amountDraft struct {
	a         Amount
	hasUnit   bool
	approx    bool
	uncertain bool
	finest    int64
}

// product reads the numbers of an item: one, or several joined by times signs.
func (p *dimensionParser) product(lab *label, hi int, paren bool) bool {
	first := len(p.drafts)
	p.group++
	for term := 0; ; term++ {
		own, ok := p.termWords(term, hi)
		if !ok {
			return false
		}
		duration := lab.n == 1 && lab.elements[0].e == ElementDuration
		volume := lab.n == 1 && lab.elements[0].e == ElementVolume
		ad, ok := p.amount(hi, duration, volume)
		if !ok {
			return false
		}
		d := draft{group: p.group, clause: p.clause, paren: paren, pending: !ad.hasUnit, finest: ad.finest}
		d.m.Amount = ad.a
		if isShape(lab.part) {
			d.m.Remark = lab.part
		} else {
			d.m.Part, d.m.PartTerm, d.lead = lab.part, lab.term, lab.part != ""
		}
		d.m.Approximate = ad.approx || lab.approx || own.approx
		d.m.Uncertain = ad.uncertain || lab.uncertain
		d.m.Each = lab.each
		if term == 0 && (lab.atLeast || lab.atMost) || own.atLeast || own.atMost {
			if d.m.Lower.Given() {
				return p.failAt(p.i, "syntax", "a bound stands before a range")
			}
			if lab.atLeast || own.atLeast {
				d.m.Lower = d.m.Value
			} else {
				d.m.Upper = d.m.Value
			}
			d.m.Value = Number{}
		}
		if lab.between && term == 0 && !d.m.Lower.Given() {
			return p.failAt(p.i, "syntax", "one end of a range is missing")
		}
		if own.n == 1 {
			d.name(&own.elements[0])
		}
		p.drafts = append(p.drafts, d)
		if !p.suffix(lab, first, hi) {
			return false
		}
		if p.i >= hi {
			break
		}
		if p.kind(p.i) == tokTimes || p.flags(p.i)&wordTimes != 0 && p.termFollows(p.i+1, hi) {
			p.i++
			continue
		}
		break
	}
	n := len(p.drafts) - first
	if n > 8 {
		return p.failAt(p.i, "syntax", "there are too many numbers in a product")
	}
	if lab.tradeSize && n == 1 && p.drafts[first].pending && lab.unit == "" {
		return p.fail("trade-size", "a size in a scale of the trade is not a measure", p.drafts[first].m.Start)
	}
	return p.unitsOfProduct(lab, first, hi) && p.elementsOfProduct(lab, first) && p.counts(lab, first, hi)
}

func (d *draft) name(el *labelElement) {
	d.m.Element, d.m.ElementText = el.e, el.text
	d.letter, d.byUnit, d.named = el.letter, el.byUnit, true
}

// termFollows: after the word "by" a number must come, perhaps with an element.
func (p *dimensionParser) termFollows(i, hi int) bool {
	for ; i < hi; i++ {
		switch p.kind(i) {
		case tokNumber:
			return true
		case tokDot, tokColon, tokApprox:
			continue
		case tokWord:
			if w := p.word(i); w != nil && (w.element != "" || w.flags&wordApprox != 0) {
				continue
			}
		}
		return false
	}
	return false
}

// termWords reads what may stand between a times sign and its number.
func (p *dimensionParser) termWords(term, hi int) (label, bool) {
	if term == 0 {
		return label{}, true
	}
	start := p.i
	for p.i < hi && p.kind(p.i) != tokNumber {
		switch p.kind(p.i) {
		case tokWord, tokDot, tokColon, tokApprox, tokLess, tokGreater:
			p.i++
			continue
		}
		return label{}, p.failAt(p.i, "syntax", "a number is expected after the times sign")
	}
	if p.i >= hi {
		return label{}, p.failAt(p.i, "syntax", "a number is expected after the times sign")
	}
	own, ok := p.readLabel(start, p.i)
	if !ok {
		return own, false
	}
	if own.part != "" || own.n > 1 || own.unit != "" {
		return own, p.failAt(start, "unknown-words", "the words after the times sign are not known")
	}
	return own, true
}

func (p *dimensionParser) number(i int) Number {
	t := p.tok(i)
	return Number{Text: p.text[t.start:t.end], Num: t.num, Den: t.den, Places: int(t.places)}
}

// amount reads a number or a range, with its unit.
func (p *dimensionParser) amount(hi int, duration, volume bool) (amountDraft, bool) {
	var ad amountDraft
	if p.kind(p.i) != tokNumber {
		return ad, p.failAt(p.i, "syntax", "a number is expected")
	}
	ad.finest = 1
	start := p.i
	ad.a.Start = int(p.tok(start).start)
	n := p.number(p.i)
	p.take(&ad, p.i)
	unitEnd := p.unit(&ad, hi, duration, volume)
	if p.err != nil {
		return ad, false
	}
	if ad.hasUnit {
		if ad.finest > 4 && ad.a.Unit == "ft" && p.kind(p.i-1) == tokPrime {
			return ad, p.failAt(start, "implausible", "feet are not measured in such fractions: inches may be meant")
		}
		if !p.compound(&ad, &n, hi, duration) {
			return ad, false
		}
		unitEnd = p.i
	}
	ad.a.Value = n
	// Ranges: "24-26", "1 to 3", "20 cm - 24 cm".
	if k := p.i; k+1 < hi && p.kind(k+1) == tokNumber && (p.kind(k) == tokDash || p.flags(k)&(wordRange|wordAnd) != 0) && p.flags(k)&wordTimes == 0 {
		and := p.kind(k) == tokWord && p.flags(k)&wordRange == 0
		if !and || start > 0 && p.flags(start-1)&wordBetween != 0 {
			first := ad
			p.i = k + 1
			upper := p.number(p.i)
			p.take(&ad, p.i)
			ad.hasUnit = false
			unitEnd = p.unit(&ad, hi, duration, volume)
			if p.err != nil {
				return ad, false
			}
			if first.hasUnit && first.a.Unit != ad.a.Unit {
				return ad, p.failAt(k, "syntax", "the two ends of a range have different units")
			}
			if !n.less(upper) {
				return ad, p.failAt(k, "syntax", "a range does not rise")
			}
			ad.a.Value, ad.a.Lower, ad.a.Upper = Number{}, n, upper
		}
	} else if p.kind(k) == tokPlusMinus && k+1 < hi && p.kind(k+1) == tokNumber {
		if !p.plusMinus(&ad, n, hi, duration, volume) {
			return ad, false
		}
		unitEnd = p.i
	}
	if p.i < hi && p.kind(p.i) == tokQuery {
		ad.uncertain = true
		p.i++
		if !ad.hasUnit {
			unitEnd = p.unit(&ad, hi, duration, volume)
		}
	}
	ad.a.End = int(p.tok(unitEnd - 1).end)
	return ad, p.err == nil
}

// take moves past the number at i and keeps the finest fraction, which tells how finely
// the product was measured.
func (p *dimensionParser) take(ad *amountDraft, i int) {
	if den := p.tok(i).den; p.tok(i).places < 0 && den > ad.finest {
		ad.finest = den
	}
	p.i = i + 1
}

// plusMinus reads "24 ± 0.5 cm".
func (p *dimensionParser) plusMinus(ad *amountDraft, n Number, hi int, duration, volume bool) bool {
	k := p.i
	margin := p.number(k + 1)
	unitBefore := ad.hasUnit
	u := ad.a.Unit
	p.i = k + 2
	ad.hasUnit = false
	p.unit(ad, hi, duration, volume)
	if p.err != nil {
		return false
	}
	if unitBefore && u != ad.a.Unit {
		return p.failAt(k, "syntax", "the margin has another unit")
	}
	if n.less(margin) {
		return p.failAt(k, "syntax", "the margin is greater than the number")
	}
	if margin.Num == 0 {
		return true // "24 ± 0 cm" is 24 cm
	}
	lo := fraction{n.Num, n.Den}.distance(fraction{margin.Num, margin.Den})
	up := fraction{n.Num, n.Den}.add(fraction{margin.Num, margin.Den})
	if lo.den == 0 || up.den == 0 {
		return p.failAt(k, "bad-number", "the number is too large")
	}
	places := max(n.Places, margin.Places)
	if n.Places < 0 || margin.Places < 0 {
		places = -1
	}
	ad.a.Lower = Number{Num: lo.num, Den: lo.den, Places: places}
	ad.a.Upper = Number{Num: up.num, Den: up.den, Places: places}
	return true
}

// unit reads the unit at p.i, if there is one, and gives the index after what belongs
// to the amount.
func (p *dimensionParser) unit(ad *amountDraft, hi int, duration, volume bool) int {
	u, next := p.unitAt(p.i, hi, duration, volume)
	if next == p.i {
		return p.i
	}
	ad.a.Unit, ad.a.UnitText, ad.hasUnit = u, p.span(p.i, next), true
	p.i = next
	for p.i < hi && p.kind(p.i) == tokDot {
		p.i++
	}
	return next
}

// unitAt reads a unit after a number. Letters that can also name an element are units
// only where the cell leaves no doubt.
func (p *dimensionParser) unitAt(i, hi int, duration, volume bool) (Unit, int) {
	if i >= hi {
		return "", i
	}
	switch p.kind(i) {
	case tokPrime:
		if duration {
			return "min", i + 1
		}
		return "ft", i + 1
	case tokPrimes:
		if duration {
			return "s", i + 1
		}
		return "in", i + 1
	case tokWord:
	case tokDash: // "10 1/8-in."
		if !p.tok(i).spaced && i+1 < hi && p.word(i+1) != nil && !p.tok(i+1).spaced && p.word(i+1).unit != "" && p.word(i+1).flags&wordLetter == 0 {
			return p.word(i + 1).unit, i + 2
		}
		return "", i
	default:
		return "", i
	}
	w := p.word(i)
	if w == nil || w.unit == "" {
		return p.wordyUnit(i, hi)
	}
	if w.flags&wordEitherUnit != 0 && !p.grams() {
		p.failAt(i, "ambiguous-unit", "gr may stand for grams or for grains")
		return "", i
	}
	glued := !p.tok(i).spaced
	switch w.unit {
	case "l":
		if w.flags&wordLetter == 0 || volume {
			break
		}
		if p.c.Unit != "" || p.tok(i-1).places < 0 || p.followedByColon(i, hi) {
			return "", i
		}
		if !glued && p.tok(i-1).places == 0 && p.namesLengths() {
			return "", i
		}
		if !glued && p.tok(i-1).places == 0 {
			p.failAt(i, "ambiguous-letter", "the letter l may stand for litres or for a length")
			return "", i
		}
	case "h":
		if w.flags&wordLetter == 0 || duration {
			break
		}
		if p.kind(i+1) == tokNumber && p.word(i+2) != nil && p.word(i+2).unit == "min" {
			break
		}
		return "", i
	case "t":
		if w.flags&wordLetter == 0 {
			break
		}
		if p.c.Unit != "" || p.tok(i-1).places < 0 || p.followedByColon(i, hi) || p.namesLengths() {
			return "", i
		}
	case "s":
		if i+1 < hi && p.kind(i+1) == tokWord && !p.tok(i+1).spaced {
			return "", i
		}
	case "g":
		if p.followedByColon(i, hi) {
			return "", i
		}
	case "m":
		if duration {
			return "min", i + 1
		}
		if p.kind(i+1) == tokNumber && p.word(i+2) != nil && p.word(i+2).unit == "s" {
			return "min", i + 1
		}
	case "oz":
		next := i + 1
		if next < hi && p.kind(next) == tokDot {
			next++
		}
		if k := p.troy(next, hi); k > next {
			return "oz t", k
		}
	case "in", "cm", "ft":
		if k := p.squareSuffix(i+1, hi); k > i+1 {
			return w.unit + "2", k
		}
	}
	next := i + 1
	if next < hi && p.kind(next) == tokDot && !p.tok(next).spaced {
		next++
	}
	return w.unit, next
}

// grams says whether "gr" is grams: beside a decimal comma, or a word for weight that is
// not English.
func (p *dimensionParser) grams() bool {
	if p.lex.sign == ',' {
		return true
	}
	for i := 0; i < p.n; i++ {
		if w := p.word(i); w != nil && w.element == ElementWeight {
			switch p.text[p.tok(i).start] | 0x20 {
			case 'g', 'p', 'v':
				return true
			}
		}
	}
	return false
}

func (p *dimensionParser) followedByColon(i, hi int) bool {
	return i+1 < hi && p.kind(i+1) == tokColon
}

// namesLengths says whether the cell names other lengths by letters, as "1 1/4 h | 4 l".
func (p *dimensionParser) namesLengths() bool {
	for i := 0; i < p.n; i++ {
		if w := p.word(i); w != nil && w.flags&wordLetter != 0 {
			switch w.element {
			case ElementHeight, ElementWidth, ElementDiameter:
				return true
			}
		}
	}
	return false
}

func (p *dimensionParser) troy(i, hi int) int {
	if i >= hi || p.kind(i) != tokWord {
		return i
	}
	switch p.text[p.tok(i).start:p.tok(i).end] {
	case "t", "troy", "Troy", "tr":
		if i+1 < hi && p.kind(i+1) == tokDot {
			return i + 2
		}
		return i + 1
	}
	return i
}

// squareSuffix reads "in. sq." after the unit at i-1.
func (p *dimensionParser) squareSuffix(i, hi int) int {
	k := i
	if k < hi && p.kind(k) == tokDot {
		k++
	}
	if k < hi && p.kind(k) == tokWord {
		switch p.text[p.tok(k).start:p.tok(k).end] {
		case "sq", "squared":
			return k + 1
		}
	}
	return i
}

// wordyUnit reads "sq. in.", "cu. ft.", "fl. oz.", "troy oz".
func (p *dimensionParser) wordyUnit(i, hi int) (Unit, int) {
	k := i + 1
	if k < hi && p.kind(k) == tokDot {
		k++
	}
	if k >= hi {
		return "", i
	}
	w := p.word(k)
	if w == nil || w.unit == "" {
		return "", i
	}
	u := Unit("")
	switch p.text[p.tok(i).start:p.tok(i).end] {
	case "sq", "Sq", "square":
		u = w.unit + "2"
	case "cu", "Cu", "cubic":
		u = w.unit + "3"
	case "fl", "Fl", "fluid":
		if w.unit == "oz" {
			u = "fl oz"
		}
	case "troy", "Troy":
		if w.unit == "oz" {
			u = "oz t"
		}
	}
	if u == "" || !u.Known() {
		return "", i
	}
	if k++; k < hi && p.kind(k) == tokDot {
		k++
	}
	return u, k
}

// compound joins a second number in a smaller unit: 5'9", 3 lb 4 oz, 6 min 23 sec.
func (p *dimensionParser) compound(ad *amountDraft, n *Number, hi int, duration bool) bool {
	for p.i < hi {
		k := p.i
		big := ad.a.Unit
		if units[big].class == classTime {
			if p.kind(k) == tokComma || p.flags(k)&wordAnd != 0 {
				k++
			}
		} else if p.flags(k)&wordAnd != 0 && units[big].system == systemImperial {
			k++
		}
		if k >= hi || p.kind(k) != tokNumber || n.Places != 0 {
			return true
		}
		small, next := p.unitAt(k+1, hi, duration || units[big].class == classTime, false)
		if p.err != nil {
			return false
		}
		if next == k+1 && !p.tok(k).spaced && p.kind(k-1) == tokPrime && big == "ft" {
			small = "in" // 5'9
		}
		if next == k+1 && !p.tok(k).spaced && big == "h" {
			small = "min" // 2h30
		}
		if (big == "oz" || big == "oz t") && small == "dwt" {
			big = "oz t"
		} else if !joinsUnits(big, small) {
			return true
		}
		f := units[big]
		g := units[small]
		ratio := newFraction(f.num, f.den).mul(newFraction(g.den, g.num))
		add := fraction{p.tok(k).num, p.tok(k).den}
		if ratio.atMost(add) {
			return p.failAt(k, "syntax", "the smaller unit is more than one of the greater")
		}
		sum := fraction{n.Num, n.Den}.mul(ratio).add(add)
		if sum.den == 0 {
			return p.failAt(k, "bad-number", "the number is too large")
		}
		start := ad.a.Start
		end := int(p.tok(next - 1).end)
		places := -1
		if sum.den == 1 {
			places = 0
		} else if p.tok(k).places > 0 {
			places = int(p.tok(k).places)
		}
		*n = Number{Text: p.text[start:end], Num: sum.num, Den: sum.den, Places: places}
		ad.a.Unit, ad.a.UnitText = small, p.text[p.tok(k).end:end]
		if ad.a.UnitText == "" {
			ad.a.UnitText = string(small)
		}
		p.take(ad, k)
		p.i = next
		for p.i < hi && p.kind(p.i) == tokDot {
			p.i++
		}
	}
	return true
}

// joinsUnits lists the units written one after the other in one measure.
func joinsUnits(big, small Unit) bool {
	switch big {
	case "yd":
		return small == "ft" || small == "in"
	case "ft":
		return small == "in"
	case "lb":
		return small == "oz"
	case "st":
		return small == "lb"
	case "dwt":
		return small == "gr"
	case "m":
		return small == "cm"
	case "kg":
		return small == "g"
	case "h":
		return small == "min" || small == "s"
	case "min":
		return small == "s"
	}
	return false
}

// suffix reads an element, a doubt or a unit after a term: "3 (diam.) in.", "24 h x",
// "5 cm in diameter".
func (p *dimensionParser) suffix(lab *label, first, hi int) bool {
	d := &p.drafts[len(p.drafts)-1]
	for p.i < hi {
		k := p.i
		if p.kind(k) == tokOpen {
			end := p.closing(k, hi)
			if end-k > 6 || p.measureIn(k+1, end) {
				return true
			}
			var par label
			if !p.labelParenthesis(&par, k+1, end) || par.n > 1 || par.part != "" {
				return true
			}
			if par.n == 0 && par.unit == "" && !d.pending && p.kind(end+1) != tokTimes {
				return true // of the whole product
			}
			if par.n == 1 {
				if d.named || lab.n > 0 && len(p.drafts)-1 == first {
					return true
				}
				d.name(&par.elements[0])
			}
			if par.unit != "" {
				if !d.pending {
					return true
				}
				d.m.Unit, d.m.UnitText, d.pending = par.unit, par.unitText, false
			}
			d.m.Approximate = d.m.Approximate || par.approx
			d.m.Uncertain = d.m.Uncertain || par.uncertain
			p.i = end + 1
			p.lateUnit(d, hi)
			continue
		}
		w := p.word(k)
		if w == nil {
			return true
		}
		at := k
		if d.m.Unit != "" && (w.unit == "in" || w.flags&wordOf != 0) && p.word(k+1) != nil && k+1 < hi {
			at, w = k+1, p.word(k+1) // "5 cm in diameter", "24 cm de haut"
		}
		if w.element == "" || w.flags&wordByUnit != 0 || d.named || lab.n > 0 && len(p.drafts)-1 == first {
			return true
		}
		if !p.bindsBackward(at, first, hi, w) {
			return true
		}
		el := labelElement{word: w, e: w.element, text: p.text[p.tok(at).start:p.tok(at).end]}
		p.letterElement(&el, el.text)
		d.name(&el)
		p.i = at + 1
		if p.i < hi && p.kind(p.i) == tokDot {
			p.i++
		}
		p.lateUnit(d, hi)
	}
	return true
}

// lateUnit reads a unit that stands after the element: "9 1/8 (diam.) in."
func (p *dimensionParser) lateUnit(d *draft, hi int) {
	for p.i < hi && p.kind(p.i) == tokDot {
		p.i++
	}
	if !d.pending || p.i >= hi || p.kind(p.i) != tokWord {
		return
	}
	w := p.word(p.i)
	if w == nil || w.unit == "" || w.flags&wordLetter != 0 || p.kind(p.i+1) == tokColon {
		return
	}
	next := p.i + 1
	d.m.Unit, d.m.UnitText, d.pending = w.unit, p.span(p.i, next), false
	d.m.End = int(p.tok(p.i).end)
	p.i = next
	for p.i < hi && p.kind(p.i) == tokDot {
		p.i++
	}
}

// bindsBackward decides whether the word for an element at i belongs to the number
// before it or begins the next item.
func (p *dimensionParser) bindsBackward(i, first, hi int, w *dimensionWord) bool {
	next := i + 1
	if next < hi && p.kind(next) == tokDot {
		next++
	}
	if next < hi && p.kind(next) == tokColon {
		return false
	}
	if len(p.drafts)-1 > first && !p.drafts[first].named {
		// After "24 x 30" only what can't be the next item.
		switch w.element {
		case ElementDiameter, ElementDepth, ElementThickness, ElementHeight:
		default:
			if w.flags&wordAdjective == 0 && next < hi && p.kind(next) != tokTimes {
				return false
			}
		}
	}
	if w.flags&wordAdjective != 0 || next >= hi {
		return true
	}
	switch p.kind(next) {
	case tokComma, tokClose, tokOpen, tokTimes, tokSlash, tokBreak, tokEqual:
		return true
	case tokWord:
		nw := p.word(next)
		if nw == nil {
			return false
		}
		if nw.unit != "" && nw.flags&wordLetter == 0 || nw.flags&(wordTimes|wordApprox) != 0 {
			return true
		}
		return nw.flags&(wordWith|wordWithout|wordEach) != 0 && !p.numberBeforeBreak(next, hi)
	case tokNumber:
		// "23 1/2 H 12 W": the words of the clause stand after the numbers.
		return p.postfix(first)
	}
	return false
}

func (p *dimensionParser) numberBeforeBreak(i, hi int) bool {
	for ; i < hi; i++ {
		switch p.kind(i) {
		case tokNumber:
			return true
		case tokComma, tokOpen:
			return false
		}
	}
	return false
}

// postfix says whether the clause began with a number.
func (p *dimensionParser) postfix(first int) bool {
	at := int32(p.drafts[first].m.Start)
	for i := 0; i < p.n; i++ {
		if p.tok(i).start == at {
			for i > 0 && (p.kind(i-1) == tokDot || p.kind(i-1) == tokComma) {
				i--
			}
			return p.startsClause(i) || first > 0 && p.drafts[first-1].named && p.drafts[first-1].clause == p.clause
		}
	}
	return false
}

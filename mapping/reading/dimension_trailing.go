package reading

// unitsOfProduct spreads a unit written once over the numbers of a product.
func (p *dimensionParser) unitsOfProduct(lab *label, first, hi int) bool {
	ds := p.drafts[first:]
	last := &ds[len(ds)-1]
	if lab.unit != "" {
		for i := range ds {
			if ds[i].pending {
				ds[i].m.Unit, ds[i].m.UnitText, ds[i].pending = lab.unit, lab.unitText, false
			}
		}
		return true
	}
	if p.i < hi && p.kind(p.i) == tokOpen && last.pending {
		// "24 x 30 (cm)"
		if end := p.closing(p.i, hi); end == p.i+2 {
			if w := p.word(p.i + 1); w != nil && w.unit != "" && w.flags&wordLetter == 0 {
				last.m.Unit, last.m.UnitText, last.pending = w.unit, p.span(p.i+1, end), false
				p.i = end + 1
			}
		}
	}
	if last.pending {
		for i := range ds {
			if !ds[i].pending {
				if p.defaultUnit() != ds[i].m.Unit {
					return p.fail("missing-unit", "some of the numbers have a unit and the last has none", last.m.End)
				}
				p.useUnit(last)
			}
		}
		return true
	}
	for i := range ds {
		if ds[i].pending {
			ds[i].m.Unit, ds[i].pending = last.m.Unit, false
		}
	}
	return true
}

// useUnit gives a number without a unit the one of the cell's heading, or of the
// conventions.
func (p *dimensionParser) useUnit(d *draft) {
	d.m.Unit, d.m.UnitText, d.pending = p.defaultUnit(), "", false
}

func (p *dimensionParser) defaultUnit() Unit {
	if p.declared != "" {
		return p.declared
	}
	return p.c.Unit
}

// elementsOfProduct names the numbers of a product: from the words before, from the
// words beside them, or from the order.
func (p *dimensionParser) elementsOfProduct(lab *label, first int) bool {
	ds := p.drafts[first:]
	finest := int64(1)
	for i := range ds {
		finest = max(finest, ds[i].finest)
	}
	for i := range ds {
		ds[i].finest = finest
	}
	switch {
	case lab.n == 0:
	case lab.n == 1 && lab.elements[0].byUnit && len(ds) > 1:
		if w := lab.elements[0].word; lab.part == "" && w.flags&wordNeutral == 0 {
			for i := range ds {
				ds[i].m.Part = lab.elements[0].text
			}
		}
	case lab.n == 1:
		if ds[0].named {
			return p.fail("unknown-words", "a number has two words for its kind", ds[0].m.Start)
		}
		ds[0].name(&lab.elements[0])
	case lab.n == len(ds) && lab.times:
		for i := range ds {
			if ds[i].named {
				return p.fail("unknown-words", "a number has two words for its kind", ds[i].m.Start)
			}
			ds[i].name(&lab.elements[i])
		}
	case lab.n == 2 && len(ds) == 1 && lab.elements[0].e == lab.elements[1].e:
		ds[0].name(&lab.elements[1])
	case lab.n == 2 && len(ds) == 1 && lab.elements[0].byUnit != lab.elements[1].byUnit:
		k := 0
		if lab.elements[0].byUnit {
			k = 1
		}
		ds[0].name(&lab.elements[k])
	default:
		return p.fail("unknown-words", "there are more words for kinds of measure than numbers", ds[0].m.Start)
	}
	if len(ds) == 1 {
		if !ds[0].named {
			ds[0].m.Element = p.c.Element
		}
		return true
	}
	p.byOrder(ds)
	return true
}

// byOrder gives the numbers of a product that no word names their elements by the
// order of the conventions, as far as the words beside them agree with it.
func (p *dimensionParser) byOrder(ds []draft) {
	order := p.c.order()
	agrees := len(ds) <= len(order)
	unnamed, diameters := 0, 0
	for i := range ds {
		switch {
		case !ds[i].named:
			unnamed++
		case ds[i].m.Element == ElementDiameter:
			diameters++
			agrees = agrees && i > 0
		case i >= len(order) || ds[i].m.Element != order[i]:
			agrees = false
		}
	}
	if unnamed == 0 {
		return
	}
	class := units[ds[0].m.Unit].class
	onPlan := ds[0].paren && p.namesLengths() // "68 H (base 45 x 60)"
	if !agrees || onPlan || diameters > 0 && len(ds) > 2 || class != classLength && class != classNone {
		ds[0].unordered = true
		return
	}
	for i := range ds {
		if !ds[i].named {
			ds[i].m.Element = order[i]
		}
	}
}

var countNouns = map[string]bool{}

func init() {
	for _, w := range []string{"piece", "pieces", "pcs", "part", "parts", "sheet", "sheets", "leaf", "leaves", "page", "pages",
		"item", "items", "fragments", "volumes", "stycken", "delar", "stück", "teile", "blätter", "seiten", "stuks", "delen", "bladen",
		"pièces", "feuilles", "feuillets", "pezzi", "fogli", "piezas", "hojas", "stk", "dele", "plates", "photographs", "panels", "works", "units"} {
		countNouns[w] = true
	}
}

// counts reads "3 pieces".
func (p *dimensionParser) counts(lab *label, first, hi int) bool {
	d := &p.drafts[first]
	if len(p.drafts)-first > 1 || !d.pending || d.named || p.i >= hi || p.kind(p.i) != tokWord || d.m.Value.Den != 1 || d.m.Value.Places != 0 {
		return true
	}
	t := p.tok(p.i)
	var buf [48]byte
	if t.end-t.start > 24 || !countNouns[string(foldInto(buf[:0], p.text[t.start:t.end]))] {
		return true
	}
	d.m.Element, d.m.Unit, d.pending, d.named = ElementCount, UnitNone, false, true
	d.m.UnitText, d.m.End = p.text[t.start:t.end], int(t.end)
	p.i++
	return true
}

// trailing reads what follows a product up to the next item.
func (p *dimensionParser) trailing(hi int) bool {
	group := p.group
	for p.i < hi && p.err == nil {
		k := p.i
		switch p.kind(k) {
		case tokDot:
			p.i++
		case tokOpen:
			end := p.closing(k, hi)
			if !p.parenthesis(k+1, end, group) {
				return false
			}
			p.i = min(end+1, hi)
		case tokQuery:
			p.eachOf(group, func(d *draft) { d.m.Uncertain = true })
			p.i++
		case tokComma:
			if k+1 < hi && p.kind(k+1) == tokOpen && !p.measureIn(k+2, p.closing(k+1, hi)) && !p.labelAfter(k+1, hi) {
				p.i++
				continue
			}
			return true
		case tokWord:
			w := p.word(k)
			after := k + 1
			if after < hi && p.kind(after) == tokDot {
				after++
			}
			ends := after >= hi || p.kind(after) == tokComma || p.kind(after) == tokClose || p.kind(after) == tokSlash
			switch {
			case w != nil && w.flags&wordApprox != 0 && ends:
				p.eachOf(group, func(d *draft) { d.m.Approximate = true })
				p.i++
			case w != nil && w.flags&wordUncertain != 0 && ends:
				p.eachOf(group, func(d *draft) { d.m.Uncertain = true })
				p.i++
			case w != nil && w.flags&wordEach != 0 && (ends || p.kind(k+1) == tokOpen || p.kind(k+1) == tokDot):
				p.eachOf(group, func(d *draft) { d.m.Each = true })
				p.i++
			default:
				end, numbers := p.trailingWords(k, hi)
				if numbers || end == k {
					return true
				}
				if p.pendingBefore(group) && p.notAUnit(w, p.tok(k)) {
					return p.failAt(k, "unknown-unit", "the unit after the number is not known")
				}
				p.remark(group, k, end)
				p.i = end
			}
		case tokDash:
			// "24 cm - framed"
			end, numbers := p.trailingWords(k+1, hi)
			if numbers || end == k+1 {
				return p.failAt(k, "syntax", "the sign after the measure can't be read")
			}
			p.remark(group, k+1, end)
			p.i = end
		case tokSlash, tokPlus, tokEqual, tokClose, tokNumber:
			return p.mayFollow(k, hi)
		case tokColon:
			return p.failAt(k, "syntax", "a colon after a measure can't be read")
		default:
			return p.failAt(k, "syntax", "a sign after the measure can't be read")
		}
	}
	return p.err == nil
}

// mayFollow says whether a number, or a stroke, may follow the product at k.
func (p *dimensionParser) mayFollow(k, hi int) bool {
	last := &p.drafts[len(p.drafts)-1]
	switch p.kind(k) {
	case tokNumber:
		glued := !p.tok(k).spaced && p.kind(k-1) != tokClose
		if glued || p.kind(k-1) == tokNumber || last.pending && p.kind(k-1) != tokClose && !last.named {
			return p.failAt(k, "two-numbers", "two numbers stand side by side")
		}
	case tokSlash:
		if last.pending && !last.named || k+1 >= hi {
			return p.failAt(k, "bad-number", "a fraction is written in a way that can't be read")
		}
	case tokPlus:
		if k+1 >= hi {
			return p.failAt(k, "syntax", "the sign after the measure can't be read")
		}
	}
	return true
}

// notAUnit says whether a word after a number without a unit looks like a unit that is
// not known.
func (p *dimensionParser) notAUnit(w *dimensionWord, t *dimensionToken) bool {
	if w != nil && w.flags&(wordWith|wordWithout) != 0 {
		return p.c.Unit == ""
	}
	return p.c.Unit == "" || t.end-t.start <= 2
}

// pendingBefore says whether numbers of the product still lack a unit.
func (p *dimensionParser) pendingBefore(group int16) bool {
	g := p.groupDrafts(group)
	return len(g) > 0 && g[len(g)-1].pending
}

func (p *dimensionParser) eachOf(group int16, f func(*draft)) {
	for i := len(p.drafts) - 1; i >= 0; i-- {
		if p.drafts[i].group == group {
			f(&p.drafts[i])
		}
	}
}

// labelAfter says whether a label with its measure begins with the parenthesis at i.
func (p *dimensionParser) labelAfter(i, hi int) bool {
	end := p.closing(i, hi)
	return end+1 < hi && p.kind(end+1) == tokWord && p.numberBeforeBreak(end+1, hi)
}

// trailingWords finds the end of the words at k, and whether they are the label of a
// further number.
func (p *dimensionParser) trailingWords(k, hi int) (end int, numbers bool) {
	for end = k; end < hi; end++ {
		switch p.kind(end) {
		case tokNumber, tokColon:
			return end, true
		case tokOpen:
			if p.measureIn(end+1, p.closing(end, hi)) {
				return end, true
			}
			return end, false
		case tokComma:
			if p.numberBeforeBreak(end+1, hi) {
				return end, false
			}
		case tokTimes, tokEqual:
			return k, false
		}
	}
	return end, false
}

// remark keeps words after a product: the part, if no words before it said it.
func (p *dimensionParser) remark(group int16, lo, hi int) {
	for hi > lo && (p.kind(hi-1) == tokDot || p.kind(hi-1) == tokComma || p.kind(hi-1) == tokClose) {
		hi--
	}
	for lo < hi && (p.kind(lo) == tokDot || p.kind(lo) == tokComma || p.flags(lo)&wordOf != 0) {
		lo++
	}
	if lo >= hi {
		return
	}
	p.remarkText(group, p.span(lo, hi))
}

func (p *dimensionParser) remarkText(group int16, text string) {
	text = trimPart(text)
	if text == "" {
		return
	}
	term := partTerm(text)
	if term != "" {
		p.spread(group, text, term)
	}
	shape := isShape(text)
	p.eachOf(group, func(d *draft) {
		switch {
		case d.m.Part == "" && !shape:
			d.m.Part, d.m.PartTerm = text, term
		case d.m.Remark == "":
			d.m.Remark = text
		}
	})
}

func isShape(s string) bool {
	if s == "" {
		return false
	}
	w := lookupDimensionWord(s)
	return w != nil && w.flags&wordShape != 0
}

// spread gives a known part to the measures named one by one before it in the same
// clause: "H. 24, W. 30 cm (frame)".
func (p *dimensionParser) spread(group int16, text, term string) {
	for i := len(p.drafts) - 1; i >= 0; i-- {
		d := &p.drafts[i]
		if d.group == group {
			if !d.named {
				return
			}
			continue
		}
		if d.clause != p.clause || !d.named || d.m.Part != "" || d.paren {
			return
		}
		d.m.Part, d.m.PartTerm = text, term
	}
}

// parenthesis reads what stands in parentheses after a product.
func (p *dimensionParser) parenthesis(lo, hi int, group int16) bool {
	if lo >= hi {
		return true
	}
	if p.measureIn(lo, hi) {
		p.nested(lo, hi, true)
		return p.err == nil
	}
	lab, ok := p.readLabel(lo, hi)
	if !ok {
		return false
	}
	ds := p.groupDrafts(group)
	if lab.n > 0 && lab.part == "" {
		switch {
		case lab.n == len(ds) && (lab.n == 1 || lab.times || p.elementProduct(lo, hi)):
			for i := range ds {
				if ds[i].named && ds[i].m.Element != lab.elements[i].e {
					return p.failAt(lo, "unknown-words", "a number has two words for its kind")
				}
				ds[i].name(&lab.elements[i])
			}
		case lab.n == 1 && !ds[len(ds)-1].named:
			ds[len(ds)-1].name(&lab.elements[0])
		default:
			p.remark(group, lo, hi)
		}
	} else if lab.part != "" {
		if lab.n > 0 {
			p.remark(group, lo, hi)
		} else {
			p.remarkText(group, lab.part)
		}
	}
	for i := range ds {
		ds[i].m.Approximate = ds[i].m.Approximate || lab.approx
		ds[i].m.Uncertain = ds[i].m.Uncertain || lab.uncertain
		ds[i].m.Each = ds[i].m.Each || lab.each
		if lab.unit != "" && ds[i].pending {
			ds[i].m.Unit, ds[i].m.UnitText, ds[i].pending = lab.unit, lab.unitText, false
		}
	}
	return true
}

// groupDrafts are the drafts of a product; they stand side by side.
func (p *dimensionParser) groupDrafts(group int16) []draft {
	hi := len(p.drafts)
	for hi > 0 && p.drafts[hi-1].group != group {
		hi--
	}
	lo := hi
	for lo > 0 && p.drafts[lo-1].group == group {
		lo--
	}
	return p.drafts[lo:hi]
}

package reading

type amountVerdict uint8

const (
	amountsDiffer amountVerdict = iota
	amountsClose                // no more than a slip of the pen apart
	amountsAgree                // equal within the rounding of both
)

// compareAmounts says whether two amounts in different units can be one measure, by the
// exact sizes of the units. Each number is taken as good to one unit of its last decimal
// place, or half of the finest fraction of its product. A gap of one part in slack is
// close.
func compareAmounts(a *Amount, finestA int64, b *Amount, finestB int64, slack int64) amountVerdict {
	ua, ub := units[a.Unit], units[b.Unit]
	if ua.class != ub.class || ua.den == 0 || ub.den == 0 || a.Unit == b.Unit {
		return amountsDiffer
	}
	fa, fb := newFraction(ua.num, ua.den), newFraction(ub.num, ub.den)
	ra, rb := resolution(a, finestA, fa), resolution(b, finestB, fb)
	verdict := amountsAgree
	pairs := [3][2]Number{{a.Value, b.Value}, {a.Lower, b.Lower}, {a.Upper, b.Upper}}
	for _, pair := range pairs {
		x, y := pair[0], pair[1]
		if x.Given() != y.Given() {
			return amountsDiffer
		}
		if !x.Given() {
			continue
		}
		va := fraction{x.Num, x.Den}.mul(fa)
		vb := fraction{y.Num, y.Den}.mul(fb)
		gap := va.distance(vb)
		if gap.atMost(ra.add(rb)) {
			continue
		}
		if !gap.mul(fraction{slack, 1}).atMost(va) && !(slack == 8 && slip(va, vb)) {
			return amountsDiffer
		}
		verdict = amountsClose
	}
	return verdict
}

// slip says whether a decimal sign has been misplaced between the two.
func slip(a, b fraction) bool {
	if a.den == 0 || b.den == 0 {
		return false
	}
	for _, f := range [...]fraction{{10, 1}, {1, 10}} {
		scaled := a.mul(f)
		if scaled.distance(b).mul(fraction{50, 1}).atMost(b) {
			return true
		}
	}
	return false
}

// resolution is how far off a number may be, in the base unit.
func resolution(a *Amount, finest int64, factor fraction) fraction {
	n := a.Value
	if !n.Given() {
		if n = a.Lower; !n.Given() {
			n = a.Upper
		}
	}
	if n.Places > 0 {
		den := int64(1)
		for i := 0; i < n.Places && i < 15; i++ {
			den *= 10
		}
		return factor.mul(fraction{1, den})
	}
	if finest > 1 {
		return factor.mul(newFraction(1, 2*finest))
	}
	return factor.mul(fraction{1, 2})
}

// pair finds the measures given twice: inches beside centimetres, in the same order,
// or named by the same words.
func (p *dimensionParser) pair() {
	for i := 0; i < len(p.drafts); {
		g := p.groupDrafts(p.drafts[i].group)
		if i > 0 && !p.pairGroups(i, g) {
			if len(g) == 1 {
				p.pairNamed(i)
			}
			if g[0].paren && !g[0].merged {
				p.pairEarlier(i, g)
			}
			if g[0].paren && !g[0].merged && !g[0].named && g[0].m.Part == "" {
				p.note("unexplained-parenthesis", "it is not said what the measures in parentheses are of", g[0].m.Start, g[len(g)-1].m.End)
			}
		}
		i += len(g)
	}
}

// mayRepeat says whether the words allow that g gives the measures of prev again.
func (p *dimensionParser) mayRepeat(prev, g []draft) bool {
	if g[0].lead && g[0].m.Part != prev[0].m.Part {
		return false
	}
	if g[0].m.Part != "" && prev[0].m.Part != "" && g[0].m.Part != prev[0].m.Part {
		return false
	}
	for k := range g {
		if g[k].named && k < len(prev) && (g[k].m.Element != prev[k].m.Element || !prev[k].named) {
			return false
		}
	}
	return true
}

// pairGroups tries the product that begins at draft i against the one before it.
func (p *dimensionParser) pairGroups(i int, g []draft) bool {
	back := i - 1
	for back >= 0 && p.drafts[back].merged {
		back--
	}
	if back < 0 {
		return false
	}
	prev := p.groupDrafts(p.drafts[back].group)
	base := back + 1 - len(prev)
	if prev[0].merged || !p.mayRepeat(prev, g) {
		return false
	}
	if len(g) == len(prev) {
		slack := int64(8)
		if g[0].m.Part != "" && g[0].m.Part != prev[0].m.Part {
			slack = 40 // another part may be meant
		}
		verdict := amountsAgree
		agree := 0
		for k := range g {
			v := compareAmounts(&prev[k].m.Amount, prev[k].finest, &g[k].m.Amount, g[k].finest, slack)
			if v == amountsAgree {
				agree++
			}
			verdict = min(verdict, v)
		}
		if verdict == amountsDiffer && agree > 0 && g[0].paren && g[0].m.Part == "" && units[prev[0].m.Unit].class == units[g[0].m.Unit].class {
			verdict = amountsClose // one of the numbers is wrong
		}
		if verdict == amountsDiffer || verdict == amountsClose && units[prev[0].m.Unit].system == units[g[0].m.Unit].system {
			return false
		}
		for k := range g {
			p.merge(base+k, i+k)
		}
		return true
	}
	if len(g) != 1 || g[0].named {
		return false
	}
	found := -1
	for k := range prev {
		if p.compare(&prev[k], &g[0]) == amountsAgree {
			if found >= 0 {
				return false
			}
			found = base + k
		}
	}
	if found < 0 || units[p.drafts[found].m.Unit].system == units[g[0].m.Unit].system {
		return false
	}
	p.merge(found, i)
	return true
}

func (p *dimensionParser) compare(a, b *draft) amountVerdict {
	return compareAmounts(&a.m.Amount, a.finest, &b.m.Amount, b.finest, 8)
}

// pairEarlier looks for the measures of a parenthesis in the clause before it: "20 × 16
// in., 12 lb. (51 × 41 cm, 5.4 kg)".
func (p *dimensionParser) pairEarlier(i int, g []draft) {
	for back := i - 1; back >= 0 && p.drafts[back].clause == g[0].clause; {
		prev := p.groupDrafts(p.drafts[back].group)
		base := back + 1 - len(prev)
		back = base - 1
		if prev[0].paren || prev[0].merged || prev[0].also > 0 || len(prev) != len(g) || !p.mayRepeat(prev, g) {
			continue
		}
		agree := true
		for k := range g {
			agree = agree && p.compare(&prev[k], &g[k]) == amountsAgree
		}
		if agree {
			for k := range g {
				p.merge(base+k, i+k)
			}
			return
		}
	}
}

// pairNamed looks further back for a measure of the same name in the other system:
// "H 24.5 cm, W 10 cm (H 9 5/8 in., W 4 in.)", or, where the list has no names in its
// second half, for nothing.
func (p *dimensionParser) pairNamed(i int) {
	d := &p.drafts[i]
	if !d.named {
		return
	}
	for k := i - 1; k >= 0; k-- {
		s := &p.drafts[k]
		if s.merged || !s.named || s.m.Element != d.m.Element || s.also > 0 {
			continue
		}
		if d.m.Part != "" && s.m.Part != d.m.Part || units[s.m.Unit].system == units[d.m.Unit].system {
			return
		}
		switch p.compare(s, d) {
		case amountsAgree:
			p.merge(k, i)
		case amountsClose:
			if d.paren {
				p.merge(k, i)
			}
		}
		return
	}
}

// merge makes the amount of draft i another form of draft k's.
func (p *dimensionParser) merge(k, i int) {
	s, d := &p.drafts[k], &p.drafts[i]
	d.merged, d.also = true, int16(k)
	s.also++
	if s.m.Part == "" {
		s.m.Part, s.m.PartTerm = d.m.Part, d.m.PartTerm
	}
	if s.m.Remark == "" {
		s.m.Remark = d.m.Remark
	}
	s.m.Approximate = s.m.Approximate || d.m.Approximate
	s.m.Uncertain = s.m.Uncertain || d.m.Uncertain
	if p.compare(s, d) != amountsAgree {
		s.m.Disagrees = true
		p.note("units-disagree", "the same measure is given twice and differs by more than rounding", s.m.Start, d.m.End)
	}
}

package reading

// core reads the date itself. It reports false without a failure if none begins here.
func (p *dateParser) core(u *dateUnit) bool {
	t := p.tok()
	switch t.class {
	case dateNumber:
		return p.number(u)
	case dateDecades:
		return p.decades(u, t)
	case dateOrdinal, dateRoman:
		return p.ordinal(u, t.val&^ordinalPrimo)
	case dateMonth:
		return p.month(u)
	case dateSeasonW:
		u.kind, u.month = unitSeason, uint8(t.val)
		p.i++
		return p.seasonYear(u)
	case dateCenturyW:
		return p.centuryFirst(u)
	case dateDecadeW:
		return p.decadeFirst(u)
	case dateHundreds:
		u.kind, u.num, u.n = unitHundred, (t.val-1)*100, 4
		p.i++
		return true
	case dateYearW: // only the Republic's: see skip
		p.i++
		return p.republic(u, 0, 0)
	case dateHijri:
		if n := p.peek(1); n.class == dateNumber && n.val > 0 && n.val < 1600 {
			p.i += 2
			return p.hijri(u, n.val)
		}
	case dateTerm:
		return p.term(u)
	case dateReignN:
		return p.reign(u)
	case dateReignW, dateRulerW:
		return p.rulerReign(u)
	case dateFrenchMonth:
		m := uint8(t.val)
		p.i++
		p.skip()
		if p.tok().class == dateYearW {
			p.i++
			return p.republic(u, m, 0)
		}
	case datePresent:
		u.kind = unitPresent
		p.i++
		return true
	case dateUnknown:
		u.kind = unitUnknown
		p.i++
		return true
	case dateDash:
		// a negative year, in a range whose dash stands apart: "-570 - -554"
		n := p.peek(1)
		if p.c.LeadingDash == DateDashYear && n.class == dateNumber && n.flags&dateGlued != 0 && t.flags&dateHyphenMinus != 0 && t.flags&dateDouble == 0 && p.spacedRange() {
			u.kind, u.era, u.num, u.n, u.signed = unitYear, eraBC, n.val, max(n.n, 3), true
			if n.n == 4 {
				u.num++ // as ISO 8601 counts; otherwise the sign stands for BC
			}
			p.i += 2
			return true
		}
	}
	if t.flags&dateRomanToo != 0 && t.flags&dateUpper != 0 {
		return p.ordinal(u, int64(t.roman))
	}
	return false
}

// spacedRange reports whether a dash with blanks around it stands in the text.
func (p *dateParser) spacedRange() bool {
	for i := 1; i < p.lex.n; i++ {
		if p.lex.toks[i].class == dateDash && p.lex.toks[i].flags&dateGlued == 0 {
			return true
		}
	}
	return false
}

// number reads dates that begin with a number.
func (p *dateParser) number(u *dateUnit) bool {
	t := p.tok()
	if done, ok := p.figures(u); done || !ok {
		return ok
	}
	if t.flags&dateApostrophe != 0 && t.n == 3 { // Italian "il '700"
		if t.val%100 != 0 || t.mask != 0 {
			return p.unknown()
		}
		u.kind, u.num, u.n = unitHundred, 1000+t.val, 4
		p.i++
		return true
	}
	if t.n >= 3 {
		return p.yearFirst(u)
	}
	u.num, u.n, u.mask = t.val, t.n, t.mask
	next := p.peek(1)
	if p.dayOfMonthBefore(u) {
		return true
	}
	switch next.class {
	case dateMonth, dateFrenchMonth, dateOf, dateNoise, dateOrdinal:
		if m := p.monthAfter(1); m > 0 {
			return p.dayMonth(u, t.val, m)
		}
	case dateRulerW:
		p.i++
		return p.rulerNumber(u, t.val, t.val)
	case dateAnd:
		// statutes: "5 & 6 Edw. VI"
		if n := p.peek(2); n.class == dateNumber && n.val == t.val+1 && p.peek(3).class == dateRulerW {
			p.i += 3
			return p.rulerNumber(u, t.val, n.val)
		}
	case dateDash:
		if m := p.peek(2); m.class == dateMonth && m.flags&next.flags&dateGlued != 0 {
			return p.dayMonth(u, t.val, 2)
		}
	case dateBC, dateAD, dateHijri:
		if next.class == dateHijri {
			p.i += 2
			return p.hijri(u, t.val)
		}
		u.kind = unitYear
		p.i++
		return true
	case dateYearW:
		if p.peek(2).class == dateRulerW { // "10 year Geo. III"
			p.i += 2
			return p.rulerNumber(u, t.val, t.val)
		}
	}
	if u.era == eraAD {
		u.kind = unitYear
		p.i++
		return true
	}
	if t.val >= 1 && t.val <= 21 && t.flags&dateApostrophe == 0 {
		if done, ok := p.centuryAfter(u, t.val); done || !ok {
			return ok
		}
	}
	if t.flags&dateDotted != 0 && next.class == dateMonth {
		return p.dayMonth(u, t.val, 1)
	}
	u.kind = unitNumber
	p.i++
	return true
}

// dayOfMonthBefore reads the second day of "May 3–5, 1874".
func (p *dateParser) dayOfMonthBefore(u *dateUnit) bool {
	if p.n == 0 || p.conn == connNone || p.conn == connComma {
		return false
	}
	l := &p.units[p.n-1]
	k := 1
	if p.peek(k).class == dateComma {
		k++
	}
	y := p.peek(k)
	if l.kind != unitDay || !l.noYear || y.class != dateNumber || y.n != 4 || u.num < 1 || u.num > 31 {
		return false
	}
	u.kind, u.month, u.day = unitDay, l.month, uint8(u.num)
	u.num, u.n, u.mask = y.val, y.n, y.mask
	p.i += k + 1
	return true
}

// monthAfter looks k tokens on for a month, past "of"; it gives the distance, or 0.
func (p *dateParser) monthAfter(k int) int {
	for range 3 {
		switch t := p.peek(k); t.class {
		case dateMonth, dateFrenchMonth:
			return k
		case dateOf, dateNoise:
			k++
		default:
			return 0
		}
	}
	return 0
}

// dayMonth reads on after a day: the month k tokens on and the year.
func (p *dateParser) dayMonth(u *dateUnit, day int64, k int) bool {
	m := p.peek(k)
	p.i += k + 1
	if m.class == dateFrenchMonth {
		p.skip()
		if p.tok().class != dateYearW {
			return p.unknown()
		}
		p.i++
		return p.republic(u, uint8(m.val), uint8(min(day, 31)))
	}
	if day < 1 || day > 31 {
		return p.fail("no-such-day", "the calendar has no such day")
	}
	u.kind, u.month, u.day = unitDay, uint8(m.val), uint8(day)
	u.num, u.n, u.mask = 0, 0, 0
	return p.yearAfter(u)
}

// yearAfter reads the year that follows a day, month or season, if one does.
func (p *dateParser) yearAfter(u *dateUnit) bool {
	mark := p.i
	if t := p.tok(); t.class == dateComma && p.peek(1).class == dateNumber && p.peek(1).n != 1 {
		p.i++
	} else if t.class == dateDash && t.flags&dateGlued != 0 && p.i >= 3 && p.lex.toks[p.i-2].class == dateDash && p.lex.toks[p.i-1].class == dateMonth {
		p.i++ // 7-Jun-44
	}
	p.skip()
	t := p.tok()
	switch {
	case t.class == dateNumber && t.n >= 3 && t.n <= 4:
		u.num, u.n, u.mask = t.val, t.n, t.mask
		p.i++
		return p.yearPair(u)
	case t.class == dateNumber && t.n == 2 && (t.flags&dateApostrophe != 0 || u.kind == unitDay):
		if p.c.TwoDigitYears == 0 {
			return p.fail("two-digit-year", "the year has two digits, and the conventions do not say of which century")
		}
		u.num, u.n = p.c.fullYear(t.val), 4
		p.i++
		return true
	case t.class == dateRoman && t.val >= 1000:
		u.num, u.n = t.val, 4
		p.i++
		return true
	}
	p.i = mark
	u.noYear = true
	return true
}

// fullYear is the year of a two-digit one.
func (c *DateConventions) fullYear(v int64) int64 {
	base := int64(c.TwoDigitYears)
	y := base - base%100 + v
	if y < base {
		y += 100
	}
	return y
}

// yearPair reads the rest of "1831/2" after the first year.
func (p *dateParser) yearPair(u *dateUnit) bool {
	t, n := p.tok(), p.peek(1)
	if t.class != dateSlash || t.flags&n.flags&dateGlued == 0 || n.class != dateNumber || n.n > 4 || n.n >= 3 && n.n != u.n || u.mask != 0 || n.mask != 0 {
		return true
	}
	if e := p.peek(2).class; e == dateDash && p.peek(3).class == dateTal || e == dateTal || e == dateBC || e == dateMonth && u.kind == unitYear || (e == dateSlash || e == dateDash && p.peek(2).flags&dateGlued != 0 && n.n < 3) && p.peek(3).class == dateNumber && p.peek(3).flags&dateGlued != 0 && n.n < 3 {
		return true
	}
	v := completeYear(u.num, n)
	if v <= u.num {
		return true
	}
	u.pair = v
	p.i += 2
	return true
}

// completeYear gives the year a shortened number stands for after year y.
func completeYear(y int64, t *dateToken) int64 { return completeDigits(y, t.val, t.n) }

func completeDigits(y, v int64, n uint8) int64 {
	unit := int64(1)
	for range n {
		unit *= 10
	}
	if y < unit {
		return v
	}
	return y - y%unit + v
}

// yearFirst reads dates that begin with a year.
func (p *dateParser) yearFirst(u *dateUnit) bool {
	t := p.tok()
	u.kind, u.num, u.n, u.mask = unitYear, t.val, t.n, t.mask
	next := p.peek(1)
	if t.flags&dateThousands != 0 && next.class != dateBC {
		return p.fail("implausible", "a comma between thousands shows a number that is no year")
	}
	if t.n == 3 && p.cutShort() {
		return p.fail("ambiguous-year", "it cannot be told whether a digit of the year is missing")
	}
	// 1870-tal, 1800 talet
	k := 1
	if next.class == dateDash && next.flags&dateGlued != 0 {
		k = 2
	}
	if w := p.peek(k); w.class == dateTal && t.mask == 0 && (w.val != talT || w.flags&dateGlued != 0) {
		p.i += k + 1
		u.tal = true
		return p.tens(u)
	}
	if next.class == dateCenturyW && next.val == centuryS && t.val%10 == 0 && p.peek(2).class != dateRoman { // "1870 s"
		p.i += 2
		return p.tens(u)
	}
	if next.class == dateHijri && t.n == 4 {
		p.i += 2
		return p.hijri(u, t.val)
	}
	p.i++
	if t.n > 4 || t.mask != 0 {
		return true
	}
	if !p.yearPair(u) {
		return false
	}
	if u.pair != 0 {
		return true
	}
	// "1916, November 28", "1803 februari", "1972, Spring", "1852, 5th month"
	k = 0
	if p.tok().class == dateComma {
		k = 1
	}
	switch m := p.peek(k); m.class {
	case dateNumber, dateOrdinal: // "1874, 3 May"
		if n := p.peek(k + 1); n.class == dateMonth && m.n <= 2 && m.val >= 1 && m.val <= 31 && !p.beginsDayMonth(k+1) {
			p.i += k + 2
			u.kind, u.day, u.month = unitDay, uint8(m.val), uint8(n.val)
		} else if n.class == dateMonthW && m.class == dateOrdinal {
			p.i += k + 2
			return p.lunarMonth(u, m.val)
		}
	case dateMonth:
		if p.beginsDayMonth(k) {
			return true
		}
		p.i += k + 1
		u.kind, u.month = unitMonth, uint8(m.val)
		d := p.tok()
		if (d.class == dateNumber && d.n <= 2 || d.class == dateOrdinal) && d.val >= 1 && d.val <= 31 && p.peek(1).class != dateMonth {
			u.kind, u.day = unitDay, uint8(d.val)
			p.i++
		}
	case dateSeasonW:
		if n := p.peek(k + 1); n.class == dateNumber && n.n >= 3 {
			return true
		}
		p.i += k + 1
		u.kind, u.month = unitSeason, uint8(m.val)
	}
	return true
}

// cutShort reports whether a year of three digits is followed by a sign that may
// stand for a fourth: "187?", "187-".
func (p *dateParser) cutShort() bool {
	s, after := p.peek(1), p.peek(2).class
	if s.flags&dateGlued == 0 || s.end-s.pos != 1 {
		return false
	}
	return s.class == dateMaybe && after != dateBC && after != dateAD && after != dateDash || s.class == dateDash && (after == dateEnd || after == dateMaybe)
}

// beginsDayMonth reports whether the month k tokens on belongs to another date:
// "1874, May 1875".
func (p *dateParser) beginsDayMonth(k int) bool {
	n := p.peek(k + 1)
	return n.class == dateNumber && n.n >= 3 || n.class == dateComma && p.peek(k+2).class == dateNumber && p.peek(k+2).n >= 3 && k >= 1 && p.peek(k+3).class == dateEnd
}

// tens reads the decade or the hundred that begins with u.num.
func (p *dateParser) tens(u *dateUnit) bool {
	switch {
	case u.num%100 == 0:
		u.kind = unitHundred
	case u.num%10 == 0:
		u.kind = unitDecade
	default:
		return p.fail("no-such-day", "a decade begins with a year that ends in nought")
	}
	return true
}

// decades reads "1870s" and "the 70s".
func (p *dateParser) decades(u *dateUnit, t *dateToken) bool {
	p.i++
	u.num, u.n = t.val, t.n
	if t.n == 2 {
		if t.val%10 != 0 {
			return p.fail("no-such-day", "a decade begins with a year that ends in nought")
		}
		u.kind = unitDecade
		return p.decadeCentury(u)
	}
	return p.tens(u)
}

// decadeCentury reads the century after a decade: "20er Jahre des 20. Jh.".
func (p *dateParser) decadeCentury(u *dateUnit) bool {
	k := 0
	for c := p.peek(k).class; c == dateYearW || c == dateNoise || c == dateOf; c = p.peek(k).class {
		k++
	}
	v := p.peek(k).val
	if n := p.peek(k); n.class == dateRoman || n.flags&dateRomanToo != 0 {
		v = int64(max(n.roman, 1))
	} else if n.class != dateOrdinal && (n.class != dateNumber || n.n > 2) {
		return true
	}
	if p.peek(k+1).class != dateCenturyW || v < 2 || v > 21 {
		return true
	}
	u.num, u.n = u.num+(v-1)*100, 4
	p.i += k + 2
	return true
}

// ordinal reads dates that begin with an ordinal or a Roman numeral.
func (p *dateParser) ordinal(u *dateUnit, v int64) bool {
	if m := p.monthAfter(1); m > 0 && p.tok().class == dateOrdinal && p.peek(m).class == dateMonth {
		return p.dayMonth(u, v, m)
	}
	next := p.peek(1)
	if next.class == dateReignW && p.tok().class == dateOrdinal {
		return p.failPeriod(periodNamed)
	}
	if next.class == dateMonthW && p.tok().class == dateOrdinal {
		k := 2
		for c := p.peek(k).class; c == dateComma || c == dateOf || c == dateNoise || c == dateYearW; c = p.peek(k).class {
			k++
		}
		if y := p.peek(k); y.class == dateNumber && y.n == 4 && y.mask == 0 {
			p.i += k + 1
			u.num, u.n = y.val, y.n
			return p.lunarMonth(u, v)
		}
	}
	if next.class == dateYearW || next.class == dateOf {
		k := 1
		for c := p.peek(k).class; c == dateYearW || c == dateOf || c == dateNoise || c == dateReignW; c = p.peek(k).class {
			k++
		}
		switch r := p.peek(k); r.class {
		case dateRulerW:
			p.i += k
			return p.rulerNumber(u, v, v)
		case dateReignN:
			p.i += k + 1
			return p.reignYear(u, r.val, v)
		}
	}
	if done, ok := p.centuryAfter(u, v); done || !ok {
		return ok
	}
	u.kind, u.num, u.n = unitOrdinal, v, 2
	p.i++
	return true
}

// centuryAfter reads the word century (millennium) after its number at p.i.
func (p *dateParser) centuryAfter(u *dateUnit, v int64) (done, ok bool) {
	k := 1
	if w := p.peek(1); w.class == dateDash && w.flags&dateHyphenMinus != 0 && p.peek(2).class == dateCenturyW && p.peek(2).val != centuryS {
		k = 2
	}
	w := p.peek(k)
	numeral := p.tok().class == dateOrdinal || p.tok().class == dateRoman || p.tok().flags&dateRomanToo != 0
	switch {
	case w.class == dateCenturyW && (w.val != centuryS || numeral):
		u.kind = unitCentury
	case w.class == dateMillenniumW:
		u.kind = unitMillennium
	case w.class == dateAbout && w.val == aboutC && k == 1 && p.tok().flags&dateRomanToo == 0 && !p.life:
		u.kind = unitCentury // "18C.", "19th c."
	case w.class == dateAbout && w.val == aboutC && k == 1 && p.tok().class == dateOrdinal:
		u.kind = unitCentury
	default:
		return false, true
	}
	if v < 1 || u.kind == unitCentury && v > 99 || u.kind == unitMillennium && v > 20 {
		return false, p.fail("no-such-day", "there is no such century")
	}
	u.num, u.n = v, 2
	p.i += k + 1
	return true, true
}

// centuryFirst reads "siglo XIX", "saec. XV".
func (p *dateParser) centuryFirst(u *dateUnit) bool {
	w := p.tok()
	k := 1
	for n := p.peek(k); n.class == dateNoise && w.val != centuryS && (n.flags&dateRomanToo == 0 || n.flags&dateUpper == 0); n = p.peek(k) {
		k++
	}
	n := p.peek(k)
	var v int64
	switch {
	case n.class == dateOrdinal, n.class == dateRoman:
		v = n.val
	case n.flags&dateRomanToo != 0 && (n.flags&dateUpper != 0 || w.val != centuryS):
		v = int64(n.roman)
	case n.class == dateNumber && n.n <= 2 && w.val != centuryS:
		v = n.val
	case w.val != centuryS:
		return p.fail("incomplete", "a century is meant, but which is not said")
	default:
		return false
	}
	if v < 1 || v > 40 {
		return p.fail("no-such-day", "there is no such century")
	}
	p.i += k + 1
	u.kind, u.num, u.n = unitCentury, v, 2
	return true
}

// decadeFirst reads "années 1870", "anni '70", "decade of the 1870s".
func (p *dateParser) decadeFirst(u *dateUnit) bool {
	k := 1
	for c := p.peek(k).class; c == dateNoise || c == dateOf; c = p.peek(k).class {
		k++
	}
	switch n := p.peek(k); {
	case n.class == dateDecades:
		p.i += k
		return p.decades(u, n)
	case n.class == dateNumber && n.n >= 3 && n.mask == 0:
		p.i += k + 1
		u.num, u.n = n.val, n.n
		if n.val%10 != 0 {
			u.kind = unitYear // "años 1871-1875"
			return true
		}
		return p.tens(u)
	case n.class == dateNumber && n.n == 2 && n.val%10 == 0:
		p.i += k + 1
		u.kind, u.num, u.n = unitDecade, n.val, 2
		return true
	}
	return false
}

// month reads dates that begin with the name of a month.
func (p *dateParser) month(u *dateUnit) bool {
	u.kind, u.month = unitMonth, uint8(p.tok().val)
	p.i++
	d := p.tok()
	if d.class == dateNoise && (p.peek(1).class == dateOrdinal || p.peek(1).class == dateNumber && p.peek(1).n <= 2) {
		p.i++ // "May the 3rd"
		d = p.tok()
	}
	if (d.class == dateNumber && d.n <= 2 && d.flags&dateApostrophe == 0 || d.class == dateOrdinal) && d.val >= 1 && d.val <= 31 && p.peek(1).class != dateMonth {
		if c := p.peek(1); c.class == dateOf || c.class == dateCenturyW {
			return p.yearAfter(u)
		}
		u.kind, u.day = unitDay, uint8(d.val)
		p.i++
	}
	return p.yearAfter(u)
}

// seasonYear reads the year of a season; a winter may have two.
func (p *dateParser) seasonYear(u *dateUnit) bool {
	if p.tok().class == dateOpen && p.peek(1).class == dateSeasonW && p.peek(1).val == int64(u.month) && p.peek(2).class == dateClose {
		p.i += 3 // "Hiver (winter)"
	}
	if !p.yearAfter(u) {
		return false
	}
	if u.noYear || u.month != 24 || u.pair != 0 || u.mask != 0 {
		return true
	}
	d, n := p.tok(), p.peek(1)
	if (d.class == dateDash || d.class == dateSlash) && n.class == dateNumber && completeYear(u.num, n) == u.num+1 {
		u.pair = u.num + 1
		p.i += 2
	}
	return true
}

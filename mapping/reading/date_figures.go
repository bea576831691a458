package reading

// figures reads dates written in figures: 2001-05-03, 3.4.1921, 12.IV.1921,
// 03/1874, 1910-12. done tells that it did.
func (p *dateParser) figures(u *dateUnit) (done, ok bool) {
	a := p.tok()
	if a.mask != 0 {
		return false, true
	}
	if done, ok = p.threeFigures(u, a); done || !ok {
		return done, ok
	}
	b := p.peek(1)
	switch {
	case a.n <= 2 && a.flags&dateDotted != 0 && b.class == dateNumber && b.flags&dateGlued != 0 && b.n == 4:
		return p.monthYear(u, a, b, 2) // 2.1722
	case a.n <= 2 && a.flags&dateDotted == 0 && b.class == dateSlash && b.flags&dateGlued != 0:
		if y := p.peek(2); y.class == dateNumber && y.n == 4 && y.flags&dateGlued != 0 && y.mask == 0 {
			return p.monthYear(u, a, y, 3) // 03/1874
		}
	case a.n == 4 && b.class == dateDash && b.flags&dateGlued != 0 && b.flags&dateHyphenMinus != 0 && b.flags&dateDouble == 0:
		if m := p.peek(2); m.class == dateNumber && m.n == 2 && m.flags&dateGlued != 0 && m.mask == 0 && m.val >= 1 && m.val <= 12 && p.isMonth(a, m) {
			u.kind, u.num, u.n, u.month = unitMonth, a.val, a.n, uint8(m.val)
			p.i += 3
			return true, true
		}
	}
	return false, true
}

// isMonth decides 1910-12: a month if it cannot be the year 1912, or if other
// dates of the text have the form of ISO 8601 too.
func (p *dateParser) isMonth(y, m *dateToken) bool {
	if m.val <= y.val%100 {
		return true
	}
	if p.c.Hyphen == DateHyphenRange {
		return false
	}
	dates := 0
	for i := 0; i+2 < p.lex.n; i++ {
		t := &p.lex.toks[i]
		if t.class == dateNumber && t.n == 4 && p.lex.toks[i+1].class == dateDash && p.lex.toks[i+1].flags&dateGlued != 0 && p.lex.toks[i+2].class == dateNumber && p.lex.toks[i+2].n == 2 {
			dates++
		}
	}
	return dates > 1
}

func (p *dateParser) monthYear(u *dateUnit, m, y *dateToken, k int) (done, ok bool) {
	if m.val < 1 || m.val > 12 {
		return false, p.fail("no-such-day", "there is no such month")
	}
	u.kind, u.num, u.n, u.month = unitMonth, y.val, y.n, uint8(m.val)
	p.i += k
	return true, true
}

// threeFigures reads three numbers with the same sign between them.
func (p *dateParser) threeFigures(u *dateUnit, a *dateToken) (done, ok bool) {
	var b, c *dateToken
	k := 0
	dotted := a.flags&dateDotted != 0
	switch {
	case dotted:
		b, c, k = p.peek(1), p.peek(2), 3
		if b.flags&dateDotted == 0 || c.flags&b.flags&dateGlued == 0 && (c.n != 4 || a.n > 2) {
			return false, true
		}
	case p.peek(1).class == dateSlash || p.peek(1).class == dateDash:
		s, t := p.peek(1), p.peek(3)
		b, c, k = p.peek(2), p.peek(4), 5
		if s.class != t.class || s.flags&b.flags&t.flags&c.flags&dateGlued == 0 || t.flags&dateDouble != 0 {
			return false, true
		}
		if s.class == dateDash && s.flags&dateDouble != 0 {
			return false, true
		}
	case a.n <= 2 && p.peek(1).flags&dateRomanToo != 0 && p.peek(1).flags&dateUpper != 0 && p.peek(2).class == dateNumber && p.peek(2).n == 4 && p.peek(1).roman <= 12:
		b, c, k = p.peek(1), p.peek(2), 3 // 12 IV 1921
	default:
		return false, true
	}
	if c.class != dateNumber || c.mask != 0 {
		return false, true
	}
	month := b.val
	roman := b.flags&dateRomanToo != 0 && b.flags&dateUpper != 0 && b.roman <= 12
	switch {
	case roman:
		month = int64(b.roman)
	case b.class != dateNumber || b.n > 2 || b.mask != 0:
		return false, true
	}
	var y, m, d int64
	var n uint8
	switch {
	case a.n == 4 && c.n <= 2:
		y, m, d, n = a.val, month, c.val, 4
	case a.n <= 2 && c.n >= 3 && c.n <= 4:
		y, n = c.val, c.n
		switch {
		case roman || dotted || a.val > 12 || a.val == month || a.val*month == 0:
			d, m = a.val, month
		case month > 12:
			d, m = month, a.val
		case p.c.Order == DateDayFirst:
			d, m = a.val, month
		case p.c.Order == DateMonthFirst:
			d, m = month, a.val
		default:
			return false, p.fail("ambiguous-day-month", "day and month cannot be told apart; the conventions can say which comes first")
		}
	case a.n <= 2 && c.n == 2:
		if p.c.TwoDigitYears == 0 {
			return false, p.fail("two-digit-year", "the year has two digits, and the conventions do not say of which century")
		}
		y, n = p.c.fullYear(c.val), 4
		switch {
		case roman || dotted || p.c.Order == DateDayFirst:
			d, m = a.val, month
		case p.c.Order == DateMonthFirst:
			d, m = month, a.val
		default:
			return false, p.fail("ambiguous-day-month", "day and month cannot be told apart; the conventions can say which comes first")
		}
	default:
		return false, true
	}
	if d == 0 && m <= 12 && n == 4 { // 1874-00-00: databases write nought for what is not known
		u.kind, u.num, u.n = unitYear, y, n
		if m > 0 {
			u.kind, u.month = unitMonth, uint8(m)
		}
		p.i += k
		return true, true
	}
	if m < 1 || m > 12 || d < 1 || d > 31 {
		return false, p.fail("no-such-day", "the calendar has no such day")
	}
	u.kind, u.num, u.n, u.month, u.day = unitDay, y, n, uint8(m), uint8(d)
	p.i += k
	if p.tok().class == dateSlash && n == 4 && a.n <= 2 { // 12.2.1702/3
		return true, p.yearPair(u)
	}
	return true, true
}

package reading

// lunarMonth reads a numbered month of the East Asian calendar. By its rule the
// n-th month holds the n-th principal term of the sun, which falls on the 18th to
// 24th of the Gregorian month n+1: the month lies within months n to n+2.
func (p *dateParser) lunarMonth(u *dateUnit, n int64) bool {
	if n < 1 || n > 12 || u.num > lastYear || u.num < 1 {
		return p.fail("no-such-day", "there is no such month")
	}
	month := func(k int64) (int64, uint8) { return u.num + (k-1)/12, uint8((k-1)%12 + 1) }
	y, m := month(n)
	u.lo = DateDay{y, m, 1}
	y, m = month(n + 2)
	u.hi = DateDay{y, m, daysInMonth(y, m)}
	u.kind = unitFixed
	p.precise(DatePrecisionMonth)
	return true
}

// republic reads the year of a date of the French Republic at p.i.
func (p *dateParser) republic(u *dateUnit, m, d uint8) bool {
	t := p.tok()
	y := t.val
	if t.flags&dateRomanToo != 0 {
		y = int64(t.roman)
	}
	lo, hi, ok := frenchDays(y, m, d)
	if !ok {
		return p.fail("no-such-day", "the calendar of the French Republic has no such day")
	}
	p.i++
	for p.tok().class == dateNoise {
		p.i++
	}
	u.kind, u.lo, u.hi = unitFixed, lo, hi
	p.precise([...]DatePrecision{DatePrecisionYear, DatePrecisionMonth, DatePrecisionDay}[dateCount(m != 0)+dateCount(d != 0)])
	return true
}

func dateCount(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (p *dateParser) hijri(u *dateUnit, y int64) bool {
	if y < 1 || y > 1600 {
		return p.fail("no-such-day", "there is no such year of the Hijra")
	}
	u.kind = unitFixed
	u.lo, u.hi = hijriYear(y)
	p.precise(DatePrecisionYear)
	return true
}

// term reads "Michaelmas term 1891", "Lady Day, 1803".
func (p *dateParser) term(u *dateUnit) bool {
	name := p.tok().val
	p.i++
	isTerm := false
	if p.tok().class == dateTermW {
		isTerm = true
		p.i++
	}
	if p.tok().class == dateComma {
		p.i++
	}
	p.skip()
	y := p.tok()
	if y.class != dateNumber || y.n != 4 || y.mask != 0 || y.val > lastYear || y.val < 1 {
		return p.unknown()
	}
	p.i++
	lo, hi, ok := dateTermDays(name, y.val, isTerm)
	if !ok {
		return p.unknown()
	}
	u.kind, u.lo, u.hi = unitFixed, lo, hi
	p.precise(DatePrecisionSeason)
	if lo == hi {
		p.precise(DatePrecisionDay)
	}
	return true
}

// rulerNumber reads the ruler at p.i after the years of reign from a to b.
func (p *dateParser) rulerNumber(u *dateUnit, a, b int64) bool {
	r := p.ruler()
	if r == nil {
		return p.fail("unknown-reign", "no such ruler is in the tables of reigns")
	}
	lo, _, ok1 := rulerYear(r, a)
	_, hi, ok2 := rulerYear(r, b)
	if !ok1 || !ok2 {
		return p.fail("no-such-day", "the reign had no such year")
	}
	u.kind, u.lo, u.hi = unitFixed, lo, hi
	p.precise(DatePrecisionYear)
	return true
}

// ruler reads a ruler's name and number.
func (p *dateParser) ruler() *dateRuler {
	name := p.tok().val
	p.i++
	t := p.tok()
	number := int64(0)
	switch {
	case t.class == dateRoman || t.class == dateOrdinal:
		number = t.val
	case t.flags&dateRomanToo != 0 && t.flags&dateUpper != 0:
		number = int64(t.roman)
	case t.class == dateNumber && t.n == 1 && t.flags&dateDotted == 0 || t.class == dateNumber && t.n == 1:
		number = t.val
	case t.class == dateNoise && p.peek(1).class == dateOrdinal: // "Charles the Second"
		number = p.peek(1).val
		p.i++
	}
	if number != 0 {
		p.i++
	}
	return findRuler(name, number)
}

// rulerReign reads "reign of George III".
func (p *dateParser) rulerReign(u *dateUnit) bool {
	if p.tok().class == dateReignW {
		k := 1
		for c := p.peek(k).class; c == dateOf || c == dateNoise; c = p.peek(k).class {
			k++
		}
		switch r := p.peek(k); r.class {
		case dateRulerW:
			p.i += k
			r := p.ruler()
			if r == nil {
				return p.fail("unknown-reign", "no such ruler is in the tables of reigns")
			}
			u.kind = unitFixed
			u.lo, u.hi = rulerReign(r)
			p.precise(DatePrecisionYear)
			return true
		case dateReignN:
			p.i += k
			return p.reign(u)
		}
	}
	return p.unknown()
}

// reign reads "Meiji 31", "Kangxi period", "Qianlong".
func (p *dateParser) reign(u *dateUnit) bool {
	r := p.tok().val
	p.i++
	if p.tok().class == dateReignW {
		p.i++
	}
	switch t := p.tok(); {
	case t.class == dateNumber && t.n <= 2:
		p.i++
		return p.reignYear(u, r, t.val)
	case t.class == dateOrdinal && p.peek(1).class == dateYearW:
		p.i += 2
		return p.reignYear(u, r, t.val)
	}
	e := &dateReigns[r]
	u.kind, u.lo, u.hi = unitFixed, DateDay{e.from, 1, 1}, DateDay{e.to, 12, 31}
	p.precise(DatePrecisionYear)
	return true
}

func (p *dateParser) reignYear(u *dateUnit, r, n int64) bool {
	lo, hi, ok := reignYear(&dateReigns[r], n)
	if !ok {
		return p.fail("no-such-day", "the era had no such year")
	}
	u.kind, u.lo, u.hi = unitFixed, lo, hi
	p.precise(DatePrecisionYear)
	return true
}

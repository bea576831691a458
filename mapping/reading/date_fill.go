package reading

// fill gives each unit what the words leave to its neighbours: "12–14 May 1901",
// "early to mid 1950s", "1871–76", "400–300 BC".
func (p *dateParser) fill() bool {
	for i := p.n - 2; i >= 0; i-- {
		if p.conns[i+1] != connNone && p.stage[i] == p.stage[i+1] && !p.fromRight(&p.units[i], &p.units[i+1], p.conns[i+1]) {
			return false
		}
	}
	p.turns()
	for i := 1; i < p.n; i++ {
		if p.conns[i] != connNone && p.stage[i] == p.stage[i-1] && !p.fromLeft(&p.units[i-1], &p.units[i], p.conns[i]) {
			return false
		}
	}
	return true
}

// turns reads "turn of the 18th to the 19th century" as one date.
func (p *dateParser) turns() {
	if p.n != 2 || p.units[0].part != partTurn {
		return
	}
	l, r := &p.units[0], &p.units[1]
	if l.kind == unitCentury && r.kind == unitCentury && r.num == l.num+1 && r.part == partNone && l.era == r.era && l.era != eraBC {
		l.num, p.n = r.num, 1
		l.about, l.maybe = l.about || r.about, l.maybe || r.maybe
	}
}

// small reports whether u is a number that needs a neighbour to say what it is.
func (u *dateUnit) small() bool { return u.kind == unitNumber || u.kind == unitOrdinal }

func (u *dateUnit) hasYears() bool { return u.kind >= unitYear }

func (p *dateParser) fromRight(l, r *dateUnit, conn dateConn) bool {
	switch {
	case l.kind == unitPart && (r.hasYears() || r.kind == unitMonth && !r.noYear):
		part, share, bound, at := l.part, l.share, l.bound, l.dateAt
		about, maybe := l.about, l.maybe
		*l = *r
		l.part, l.share, l.bound, l.dateAt, l.about, l.maybe = part, share, bound, at, about, maybe
	case l.small() && (r.kind == unitCentury || r.kind == unitMillennium):
		if l.num < 1 || l.num > 99 {
			return p.failAt(l, "no-such-day", "there is no such century")
		}
		l.kind = r.kind
	case l.kind == unitNumber && l.n == 2 && r.tal && r.kind == unitHundred && r.n == 4 && l.num*100 < r.num && l.num >= 5:
		l.kind, l.num, l.n = unitHundred, l.num*100, 4 // Danish "17-1800-tallet"
	case l.kind == unitDecade && l.n == 2 && r.kind == unitDecade && r.n == 4 && conn != connComma:
		l.num, l.n = r.num-r.num%100+l.num, 4 // "20er/30er Jahre des 20. Jh."
	case l.small() && r.kind == unitDay:
		if l.num < 1 || l.num > 31 || l.n > 2 {
			return true
		}
		l.kind, l.day, l.month = unitDay, uint8(l.num), r.month
		l.num, l.n, l.pair, l.mask, l.noYear, l.style, l.era = r.num, r.n, r.pair, r.mask, r.noYear, r.style, r.era
	case l.kind == unitNumber && r.kind == unitYear && (r.era != eraNone || r.n <= 3):
		l.kind = unitYear
		if l.num < p.c.minYear() && r.era == eraNone && r.num >= 1000 {
			return p.failAt(l, "small-number", "a small number stands where a year should; nothing says that it is one")
		}
	case l.noYear && !r.noYear && (r.kind == unitDay || r.kind == unitMonth || r.kind == unitSeason):
		l.num, l.n, l.mask, l.noYear, l.era, l.style = r.num, r.n, r.mask, false, r.era, r.style
		if l.kind != unitSeason && r.kind != unitSeason {
			l.pair = r.pair
			if l.month > r.month && (conn == connRange || conn == connTo) {
				if l.mask != 0 {
					return p.failAt(l, "backwards", "the months run backwards")
				}
				l.num-- // "December–January 1875"
			}
		}
	case l.kind == unitYear && r.tal && l.part == partNone && l.pair == 0 && l.mask == 0 && l.era == r.era:
		// Swedish "1600-1700-tal", "1870-1880-talet"
		if r.kind == unitHundred && l.num%100 == 0 && conn != connComma {
			l.kind = unitHundred
		} else if r.kind == unitDecade && l.num%10 == 0 && conn != connComma {
			l.kind = unitDecade
		}
	}
	return p.eraFromRight(l, r, conn)
}

// eraFromRight carries BC and AD back over a range: "400–300 BC".
func (p *dateParser) eraFromRight(l, r *dateUnit, conn dateConn) bool {
	if l.era != eraNone || r.era == eraNone || !l.hasYears() || !r.hasYears() || conn == connComma {
		return true
	}
	if r.era == eraAD {
		l.era = eraAD
		return true
	}
	if l.size() < r.size() {
		return p.failAt(l, "ambiguous-era", "the years do not follow each other as years before Christ, and nothing says otherwise")
	}
	l.era = eraBC
	return true
}

// size is about how many years from the turn of the eras a unit is.
func (u *dateUnit) size() int64 {
	switch u.kind {
	case unitCentury:
		return u.num * 100
	case unitMillennium:
		return u.num * 1000
	}
	return u.num
}

func (p *dateParser) fromLeft(l, r *dateUnit, conn dateConn) bool {
	base := l.num
	if l.pair != 0 {
		base = l.pair
	}
	switch {
	case r.kind == unitOrdinal && (l.kind == unitCentury || l.kind == unitMillennium),
		r.kind == unitNumber && l.kind == unitCentury && r.num >= 1 && r.num <= 21:
		r.kind = l.kind
	case r.kind == unitNumber && l.kind == unitDay && !l.noYear:
		// "1929-05-27 - 28": only where the year stands first, otherwise it may be a year
		if r.num < 1 || r.num > 31 || !p.yearFirstAt(l) {
			return p.failAt(r, "incomplete", "it cannot be told whether a day or a year is meant")
		}
		day := uint8(r.num)
		r.kind, r.num, r.n, r.month, r.day, r.style, r.era = unitDay, l.num, l.n, l.month, day, l.style, l.era
	case r.kind == unitNumber && l.kind == unitYear && l.era == eraBC && r.era == eraNone && !l.signed && conn != connComma:
		if r.num < l.num {
			return p.failAt(r, "ambiguous-era", "years before Christ are followed by a year that may be before or after")
		}
		r.kind, r.era = unitYear, eraAD
	case l.signed && r.era == eraNone && (r.kind == unitNumber || r.kind == unitYear):
		r.kind, r.era = unitYear, eraAD
	case r.kind == unitNumber && l.kind == unitYear && l.era == eraAD && r.era == eraNone && l.n < 3:
		r.kind, r.era = unitYear, eraAD // "A.D. 10-40"
	case r.kind == unitNumber && (l.kind == unitYear || l.kind == unitMonth && !l.noYear) && l.era != eraBC && l.mask == 0 && l.n >= 3:
		if conn == connComma {
			return p.failAt(r, "small-number", "a small number stands where a year should; nothing says that it is one")
		}
		v := completeDigits(base, r.num, r.n)
		if v <= base {
			return p.failAt(r, "backwards", "the shortened year comes before the one it completes")
		}
		r.kind, r.num, r.n = unitYear, v, l.n
		p.shortened(l, r, conn)
	case r.kind == unitYear && r.n == 3 && l.kind == unitYear && l.n == 4 && r.num < l.num && l.era == eraNone && r.era == eraNone && conn != connComma && l.mask|r.mask == 0:
		v := completeDigits(base, r.num, r.n) // "1640-650"
		if v <= base {
			return p.failAt(r, "backwards", "the shortened year comes before the one it completes")
		}
		if r.pair != 0 {
			r.pair += v - r.num // "1640-650/1"
		}
		r.num, r.n = v, l.n
		p.shortened(l, r, conn)
	case r.kind == unitDecade && r.n == 2 && (l.kind == unitDecade || l.kind == unitYear || l.kind == unitHundred) && l.n == 4 && l.era != eraBC:
		r.num, r.n = l.num-l.num%100+r.num, 4
		if r.num < l.num {
			return p.failAt(r, "backwards", "the shortened decade comes before the one it completes")
		}
		p.shortened(l, r, conn)
	case r.noYear && !l.noYear && (l.kind == unitDay || l.kind == unitMonth || l.kind == unitSeason):
		r.num, r.n, r.mask, r.noYear, r.era, r.style = l.num, l.n, l.mask, false, l.era, l.style
		if l.kind != unitSeason && r.kind != unitSeason && r.month < l.month {
			if r.mask != 0 {
				return p.failAt(r, "backwards", "the months run backwards")
			}
			r.num++
		}
	}
	p.spread(l, r, conn)
	if l.era == eraNone || r.era != eraNone || !l.hasYears() || !r.hasYears() || conn == connComma {
		return true
	}
	if l.era == eraBC && r.size() < l.size() {
		return p.failAt(r, "ambiguous-era", "years before Christ are followed by a year that may be before or after")
	}
	r.era = eraAD
	return true
}

// yearFirstAt reports whether the text has u with its year in front.
func (p *dateParser) yearFirstAt(u *dateUnit) bool {
	for i := 0; i < p.lex.n; i++ {
		if t := &p.lex.toks[i]; t.pos >= u.dateAt && t.class == dateNumber {
			return t.n == 4
		}
	}
	return false
}

// shortened is told that r was written as the end of l, so that what is said
// before l is said of both.
func (p *dateParser) shortened(l, r *dateUnit, conn dateConn) {
	if conn == connRange || conn == connTo {
		r.about = r.about || l.about
		r.maybe = r.maybe || l.maybe
		if l.bound == boundBefore || l.bound == boundAfter {
			l.whole = true
		}
	}
}

// spread passes circa on over a range: the reach of "c. 1807–1812" and of
// "1400-1450 cirka" is both ends. Dates of a life keep their own.
func (p *dateParser) spread(l, r *dateUnit, conn dateConn) {
	if p.life || conn != connRange && conn != connTo {
		return
	}
	if l.about && !l.aboutAfter || r.about && r.aboutAfter {
		l.about, r.about = true, true
	}
}

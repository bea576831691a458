package reading

// cell reads a whole text into e.
func (p *dateParser) cell(e *EDTF) bool {
	life, people, stops := false, p.life, false
	figures := false
	for i := 0; i < p.lex.n; i++ {
		t := &p.lex.toks[i]
		switch t.class {
		case dateNone:
			return p.failToken(i, "no-date", "the words say that there is no date")
		case dateBorn, dateDied, dateActive, dateFounded, dateClosed, dateStar, dateDagger, datePerson:
			life = true
		case dateStop:
			stops = true
		case dateNumber, dateDecades, dateOrdinal, dateRoman, dateHundreds:
			figures = true
		case datePeriod:
			if t.val == periodBeforePresent {
				p.i = i
				return p.failPeriod(t.val)
			}
		}
	}
	if stops {
		return p.fail("unknown-words", "there are words here that are no part of a date this reader knows")
	}
	if !figures && p.onlyUnknown() {
		return p.fail("no-date", "the words say that the date is not known")
	}
	if life && !p.life && !p.plus(&life) {
		return false
	}
	if !life && !people {
		people = p.isPeople(0)
	}
	if life || people {
		l := lifeParts{merge: true}
		p.life = true
		return p.lifeCell(&l) && p.lifeSpan(&l, e)
	}
	return p.plain(e)
}

// plus decides what "1670+" is: see DateConventions.Plus. It clears life if
// nothing else in the text speaks of one.
func (p *dateParser) plus(life *bool) bool {
	at, others := -1, false
	for i := 0; i < p.lex.n; i++ {
		switch t := &p.lex.toks[i]; t.class {
		case dateDagger:
			n := &p.lex.toks[i+1]
			if p.lex.text[t.pos] != '+' || n.class == dateNumber && (i == 0 || n.flags&dateGlued != 0) {
				others = true
			}
			at = i
		case dateBorn, dateDied, dateActive, dateFounded, dateClosed, dateStar, datePerson, dateDash, dateTo:
			others = true
		}
	}
	if others || at < 0 {
		return true
	}
	switch p.c.Plus {
	case DatePlusUnread:
		return p.failToken(at, "ambiguous-plus", "it cannot be told whether a plus sign means a death or later years")
	case DatePlusOnwards:
		p.lex.toks[at].class = dateOrAfter
		*life = false
	}
	return true
}

func (p *dateParser) failToken(i int, code, reason string) bool {
	p.i = i
	return p.fail(code, reason)
}

// onlyUnknown reports whether nothing but doubt is said.
func (p *dateParser) onlyUnknown() bool {
	found := false
	for i := 0; i < p.lex.n; i++ {
		switch p.lex.toks[i].class {
		case dateUnknown, dateMaybe:
			found = true
		case dateNoise, dateYearW:
		default:
			return false
		}
	}
	return found
}

// plain reads dates of things and events: one clause or several, the later of
// which may be about later stages of a work.
func (p *dateParser) plain(e *EDTF) bool {
	p.outerBrackets()
	if ok, done := p.period(e); done || !ok {
		return ok
	}
	if !p.clauses() || p.n == 0 {
		return p.fail("incomplete", "the words stop short of a date")
	}
	return p.fill() && p.build(e)
}

// outerBrackets takes off brackets around the whole.
func (p *dateParser) outerBrackets() {
	l := &p.lex
	if l.n < 3 || l.toks[0].class != dateOpen || l.toks[l.n-1].class != dateClose {
		return
	}
	for i := 1; i < l.n-1; i++ {
		if c := l.toks[i].class; c == dateOpen || c == dateClose {
			return
		}
	}
	l.n--
	l.toks[l.n].class = dateEnd
	p.i = 1
}

// clauses reads all units with what joins them.
func (p *dateParser) clauses() bool {
	stage, counts := int64(-1), true // the stage the clause is about
	depth := 0
	conn := connNone
	fresh := true // a clause may begin here
	for {
		if fresh {
			if s, ok := p.stageAhead(); ok {
				if p.n == 0 && dateStages[s].apart {
					return p.fail("other-event", "the date is that of an event other than the making")
				}
				stage = s
				counts = p.n == 0 || p.c.counts(s)
				if !p.dateAhead() || !counts {
					p.passClause()
					if p.tok().class == dateEnd {
						return true
					}
					goto join
				}
			} else if stage >= 0 && !counts {
				p.passClause()
				if p.tok().class == dateEnd {
					return true
				}
				goto join
			}
		}
		if conn == connNone && p.n == 0 && p.tok().class == dateDash && !p.leadingDash() {
			return false
		}
		if p.n == len(p.units) {
			return p.fail("too-long", "there are too many dates in one text")
		}
		p.conn = conn
		if u, ok := p.unit(); ok {
			p.units[p.n], p.conns[p.n], p.stage[p.n] = u, conn, int8(stage)
			p.n++
		} else {
			return false
		}
	join:
		fresh = false
		t := p.tok()
		switch t.class {
		case dateEnd:
			return true
		case dateDash:
			if p.openEnd() {
				return true
			}
			if c := p.peek(1).class; t.flags&dateGlued != 0 && (c == dateAnd || c == dateOr) {
				p.i++ // Swedish "1870- och 1880-talet"
				goto join
			}
			if p.bothEras() {
				goto join
			}
			conn = connRange
		case dateSlash:
			if p.bothEras() {
				goto join
			}
			conn = connSlash
		case datePresent:
			if t.hi > t.lo || p.n == 0 { // "to date", "à nos jours"
				return p.unknown()
			}
			conn = connTo
			continue
		case dateTo, dateUntil:
			conn = connTo
		case dateOr:
			conn = connOr
		case dateAnd:
			if p.peek(1).class == dateEnd && p.n == 2 && p.units[0].between {
				p.i++
				return true
			}
			conn, fresh = connAnd, true
		case dateComma, dateSemi, dateColon:
			if p.n > 0 && p.units[p.n-1].between {
				conn = connRange // "1855 entre ; 1865 et"
				break
			}
			conn, fresh = connComma, true
			if p.peek(1).class == dateOr {
				p.i++
				conn = connOr
			} else if p.peek(1).class == dateAnd {
				p.i++
			}
			if p.peek(1).class == dateMaybe && p.n > 0 { // "18th century;?"
				if c := p.peek(2).class; c == dateEnd || c == dateSemi || c == dateComma {
					p.units[p.n-1].maybe = true
					p.i += 2
					goto join
				}
			}
			if p.peek(1).class == dateEnd && p.n > 0 {
				return true
			}
		case dateNoise:
			if t.val == noiseA {
				conn = connTo // Spanish, Italian: 1870 a 1880
				break
			}
			if t.val == noiseEn && p.peek(1).class != dateEnd {
				conn, fresh = connAnd, true // Dutch: tussen 1650 en 1660
				break
			}
			p.skip()
			if p.tok().class == dateEnd {
				return true
			}
			return p.unknown()
		case dateOf:
			conn = connOr // Dutch: 1874 of 1875
		case dateOpen:
			depth++
			if depth > 1 {
				return p.unknown()
			}
			p.i++
			done, ok := p.aside()
			if !ok {
				return false
			}
			if done {
				depth--
				goto join
			}
			conn, fresh = connComma, true
			if p.tok().class == dateOr {
				p.i++
				conn = connOr
			} else if _, ok := p.stageAhead(); !ok {
				return p.fail("two-dates", "a second date stands in brackets, and nothing says how it belongs to the first")
			} else {
				p.i = p.stageStart
			}
			continue
		case dateClose:
			if depth == 0 {
				return p.unknown()
			}
			depth--
			p.i++
			goto join
		case dateStage:
			conn, fresh = connComma, true
			continue
		default:
			if _, ok := p.stageAhead(); ok {
				p.i = p.stageStart
				conn, fresh = connComma, true
				continue
			}
			return p.unknown()
		}
		if p.n == 0 { // nothing but passed clauses before
			conn = connNone
		}
		p.i++
	}
}

// bothEras reads "1st century BC/AD": the century before and the one after the
// turn of the eras.
func (p *dateParser) bothEras() bool {
	if p.n == 0 || p.n == len(p.units) || p.units[p.n-1].era != eraBC || p.peek(1).class != dateAD {
		return false
	}
	if c := p.peek(2).class; c != dateEnd && c != dateClose && c != dateMaybe {
		return false
	}
	u := p.units[p.n-1]
	u.era = eraAD
	p.units[p.n], p.conns[p.n], p.stage[p.n] = u, connRange, p.stage[p.n-1]
	p.n++
	p.i += 2
	return true
}

// stageAhead looks for the name of a stage before the date of the clause here
// ("?exhibited 1763", "lower panel remade 1985"). If there is one it moves behind
// it; p.stageStart is where the clause began.
func (p *dateParser) stageAhead() (stage int64, ok bool) {
	p.stageStart = p.i
	for k := 0; ; k++ {
		switch t := p.peek(k); t.class {
		case dateStage:
			p.i += k + 1
			for p.tok().class == dateStage || p.tok().class == dateAnd && p.peek(1).class == dateStage {
				p.i++ // "reworked and exhibited", "print executed"
			}
			return t.val, true
		case dateWord, dateNoise, dateOf, dateMaybe, datePart, dateAbout, dateRulerW, dateReignN, datePeriod:
			if p.n == 0 && t.class != dateMaybe && t.class != dateNoise {
				return 0, false
			}
		case dateOrdinal:
			if t.val != 1 { // "first published"
				return 0, false
			}
		default:
			return 0, false
		}
	}
}

// dateAhead reports whether the clause here holds a number, passing over words
// (who made a replica) that stand before it.
func (p *dateParser) dateAhead() bool {
	words := false
	for k := 0; ; k++ {
		switch t := p.peek(k); t.class {
		case dateEnd, dateComma, dateSemi, dateClose, dateOpen:
			return false
		case dateWord, dateRulerW, dateReignN, datePeriod:
			if p.n == 0 {
				return true // unit will say what is wrong
			}
			words = true
		case dateBefore: // "by" whom
			n := k + 1
			for p.peek(n).class == dateNoise {
				n++
			}
			if c := p.peek(n).class; c != dateWord && c != dateRulerW {
				return p.numberAhead(k)
			}
		case dateNoise, dateOf, dateStage:
		default:
			if words {
				p.i += k
				k = 0
			}
			return p.numberAhead(k)
		}
	}
}

// numberAhead reports whether a number stands in the clause k tokens on or later.
func (p *dateParser) numberAhead(k int) bool {
	for ; ; k++ {
		switch p.peek(k).class {
		case dateEnd, dateComma, dateSemi, dateClose, dateOpen:
			return false
		case dateNumber, dateDecades, dateOrdinal, dateRoman, dateHundreds:
			return true
		}
	}
}

// passClause moves to the end of the clause here.
func (p *dateParser) passClause() {
	for {
		switch p.tok().class {
		case dateEnd, dateComma, dateSemi, dateClose, dateOpen:
			return
		}
		p.i++
	}
}

// leadingDash reads "-1460" as the end of a time without a beginning, if the
// conventions say so.
func (p *dateParser) leadingDash() bool {
	n := p.peek(1)
	if n.class != dateNumber || n.n < 3 {
		return p.unknown()
	}
	if p.c.LeadingDash != DateDashUntil {
		if p.spacedRange() {
			return true
		}
		return p.fail("ambiguous-dash", "it cannot be told whether a year before Christ is meant or a time until that year")
	}
	p.i++
	p.lex.toks[p.i-1] = dateToken{class: dateUntil, pos: p.lex.toks[p.i-1].pos, end: p.lex.toks[p.i-1].end}
	p.i--
	return true
}

// openEnd reads a dash with nothing behind it: "1898-".
func (p *dateParser) openEnd() bool {
	k := 1
	maybe := false
	for ; p.peek(k).class == dateMaybe; k++ {
		maybe = true
	}
	if c := p.peek(k).class; c != dateEnd && !(c == dateClose && p.peek(k+1).class == dateEnd) {
		return false
	}
	u := &p.units[p.n-1]
	if u.kind < unitDay || u.bound != boundNone {
		return false
	}
	u.maybe = u.maybe || maybe
	u.bound = boundSince
	return true
}

// aside reads a bracket that repeats the date in another reckoning or names the
// period: "1829 (Bunsei 12)", "1500 B.C. (Eighteenth Dynasty)".
func (p *dateParser) aside() (done, ok bool) {
	if p.n == 0 {
		return false, true
	}
	names, numbers := false, 0
	k := 0
	for ; ; k++ {
		c := p.peek(k).class
		if c == dateClose || c == dateEnd {
			break
		}
		switch c {
		case datePeriod, dateReignW, dateReignN:
			names = true
		case dateZodiac:
			return p.zodiac()
		case dateNumber:
			numbers++
		case dateOpen:
			return false, true
		}
	}
	if !names {
		return false, true
	}
	if numbers == 0 {
		p.i += k
		if p.tok().class == dateClose {
			p.i++
		}
		return true, true
	}
	u, ok := p.unit()
	if !ok {
		return false, false
	}
	if p.tok().class != dateClose || u.kind != unitFixed {
		return false, p.unknown()
	}
	p.i++
	last := p.units[p.n-1]
	pt, ok := p.point(&last)
	if !ok {
		return false, false
	}
	lo, hi := pt.bounds(&defaultDateConventions, false)
	if !lo.Known() || !hi.Known() || lo.Compare(u.hi) > 0 || hi.Compare(u.lo) < 0 {
		return false, p.fail("contradiction", "the year of the era in brackets is another year")
	}
	return true, true
}

// zodiac checks "1853 (Ox 8)": the sign of the year, and a month of it.
func (p *dateParser) zodiac() (done, ok bool) {
	k := 1
	if n := p.peek(k); n.class == dateNumber && n.val >= 1 && n.val <= 12 {
		k++
	}
	u := &p.units[p.n-1]
	if p.peek(k).class != dateClose || u.kind != unitYear || u.mask != 0 || u.era == eraBC {
		return false, p.unknown()
	}
	if (u.num-4)%12 != p.tok().val {
		return false, p.fail("contradiction", "the year has another sign of the zodiac")
	}
	p.i += k + 1
	return true, true
}

// period reads a period's name with its years, and closer dates after them: "Edo
// period (1600-1868)", "Qing dynasty, 1644-1911, about 1900", "Ming dynasty
// (1368–1644), 15th century".
func (p *dateParser) period(e *EDTF) (ok, done bool) {
	k, open := p.periodName()
	if k == 0 {
		return true, false
	}
	p.i += k + 1
	if !open && !p.rangeAndMore() {
		// "Edo period, 18th century": the name has no years of its own
		return p.clauses() && p.n > 0 && p.fill() && p.build(e) || p.unknown(), true
	}
	if !p.periodYears(e, open) {
		return false, true
	}
	for p.tok().class == dateReignW {
		p.i++
	}
	if p.tok().class == dateEnd {
		return true, true
	}
	if p.tok().class != dateComma && p.tok().class != dateSemi {
		return p.unknown(), true
	}
	p.i++
	outer := e.corners(&defaultDateConventions)
	p.n, p.finest = 0, DatePrecisionNone
	*e = EDTF{}
	if ok, done := p.period(e); !ok || !done && !(p.clauses() && p.n > 0 && p.fill() && p.build(e)) {
		return p.unknown(), true
	}
	exact := DateConventions{Circa: DateCircaFixed}
	inner := e.corners(&exact)
	if !inner.EarliestBegin.Known() || !inner.LatestEnd.Known() || !outer.EarliestBegin.Known() || !outer.LatestEnd.Known() ||
		inner.EarliestBegin.Compare(outer.EarliestBegin) < 0 || inner.LatestEnd.Compare(outer.LatestEnd) > 0 {
		return p.fail("contradiction", "the date is not within the years given for the period"), true
	}
	return true, true
}

// periodName gives the number of tokens that name a period before a date, which
// stands in brackets or after a comma; 0 if none do.
func (p *dateParser) periodName() (k int, open bool) {
	named := false
	for ; ; k++ {
		t := p.peek(k)
		switch t.class {
		case datePeriod, dateReignN:
			named = true
			continue
		case dateReignW:
			if n := p.peek(k + 1); n.class == dateNumber && n.n <= 2 { // "Dynasty 18"
				k++
			}
			named = true
			continue
		case dateOrdinal, dateOr, dateDash, datePart, dateNoise, dateOf, dateMaybe, dateAnd:
			continue
		}
		break
	}
	open = p.peek(k).class == dateOpen
	if !named || !open && p.peek(k).class != dateComma || !p.numberBehind(k) {
		return 0, false
	}
	return k, open
}

// rangeAndMore reports whether a range and then a comma follow.
func (p *dateParser) rangeAndMore() bool {
	dash := false
	for k := 0; ; k++ {
		switch p.peek(k).class {
		case dateEnd, dateClose, dateOpen:
			return false
		case dateDash, dateTo:
			dash = true
		case dateComma, dateSemi:
			return dash
		}
	}
}

// numberBehind reports whether a number stands k tokens on or later.
func (p *dateParser) numberBehind(k int) bool {
	for ; p.i+k < p.lex.n; k++ {
		switch t := p.peek(k); t.class {
		case dateNumber, dateOrdinal, dateDecades, dateHundreds:
			return true
		}
	}
	return false
}

// periodYears reads the years of a period, within which something was made.
func (p *dateParser) periodYears(e *EDTF, open bool) bool {
	for {
		if p.n == 2 {
			return p.unknown()
		}
		u, ok := p.unit()
		if !ok {
			return false
		}
		p.units[p.n] = u
		if p.n > 0 {
			p.conns[p.n] = connRange
		}
		p.n++
		if t := p.tok(); t.class == dateDash || t.class == dateTo {
			p.i++
			continue
		}
		break
	}
	if open {
		if p.tok().class != dateClose {
			return p.unknown()
		}
		p.i++
	}
	if p.n == 2 {
		p.units[0].between = true
	}
	return p.fill() && p.build(e)
}

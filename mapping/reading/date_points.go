package reading

// point turns a unit whose gaps are filled into a date with bounds.
func (p *dateParser) point(u *dateUnit) (pt edtfPoint, ok bool) {
	switch u.kind {
	case unitUnknown:
		return edtfPoint{kind: edtfUnknown}, true
	case unitPresent:
		return edtfPoint{kind: edtfOpen}, true
	case unitNumber:
		if u.num < p.c.minYear() && u.era == eraNone && u.life == 0 {
			return pt, p.failAt(u, "small-number", "a small number stands where a year should; nothing says that it is one")
		}
		u.kind = unitYear
	}
	if u.noYear {
		return pt, p.failAt(u, "no-year", "a day, month or season is given without its year")
	}
	var a, b edtfDate
	switch u.kind {
	case unitFixed:
		a, b = daysDates(u.lo, u.hi)
		if u.part != partNone {
			return pt, p.failAt(u, "unknown-words", "a part of this time is named that the reader cannot reckon")
		}
	case unitDay, unitMonth, unitSeason, unitYear:
		a, b, ok = p.yearly(u)
	case unitDecade, unitHundred, unitCentury, unitMillennium:
		a, b, ok = p.longer(u)
	default:
		return pt, p.failAt(u, "incomplete", "the words stop short of a date")
	}
	if u.kind != unitFixed && !ok {
		return pt, false
	}
	a, b = a.qualified(u.about, u.maybe), b.qualified(u.about, u.maybe)
	pt = edtfPoint{kind: edtfSingle, a: a}
	if a != b {
		pt = edtfPoint{kind: edtfWithin, a: a, b: b}
	}
	return pt, true
}

func (p *dateParser) failAt(u *dateUnit, code, reason string) bool {
	if p.code == "" {
		p.code, p.reason, p.at = code, reason, u.dateAt
	}
	return false
}

// daysDates gives the days lo to hi as dates: years or months where they are whole.
func daysDates(lo, hi DateDay) (a, b edtfDate) {
	a, b = dayDate(lo), dayDate(hi)
	if lo.Day == 1 && hi.Day == daysInMonth(hi.Year, hi.Month) {
		a.day, b.day = 0, 0
		if lo.Month == 1 && hi.Month == 12 {
			a.month, b.month = 0, 0
		}
	}
	return a, b
}

func dayDate(d DateDay) edtfDate { return edtfDate{year: d.Year, month: d.Month, day: d.Day} }

// lastYear is the last year AD that a museum's date can name; numbers beyond it
// are slips or other numbers.
const lastYear = 2100

// astronomical checks a year as written and gives it as an astronomical year.
func (p *dateParser) astronomical(u *dateUnit, v int64) (int64, bool) {
	switch {
	case v == 0:
		return 0, p.failAt(u, "no-such-day", "there is no year 0")
	case u.era == eraBC && v < 100_000:
		return 1 - v, true
	case u.era == eraBC || v > lastYear:
		return 0, p.failAt(u, "implausible", "the number is too great for a year")
	}
	return v, true
}

// yearly resolves years and what is shorter.
func (p *dateParser) yearly(u *dateUnit) (a, b edtfDate, ok bool) {
	if u.kind == unitYear && u.mask != 0 {
		a = edtfDate{year: u.num, mask: u.mask}
		if u.era == eraBC || u.part != partNone || u.num > lastYear {
			return a, a, p.failAt(u, "implausible", "digits are missing from the year")
		}
		p.precise(a.precision())
		return a, a, true
	}
	y, ok := p.astronomical(u, u.num)
	if !ok {
		return a, b, false
	}
	a = edtfDate{year: y, month: u.month, day: u.day}
	if u.mask != 0 { // "May 9, 18??"
		a.year, a.mask = u.num, u.mask
	}
	b = a
	switch u.kind {
	case unitYear:
		p.precise(DatePrecisionYear)
		if u.within != 0 {
			a.year, b.year = a.year-u.within, b.year+u.within
			if u.pair != 0 || u.part != partNone || u.within > 500 {
				return a, b, p.failAt(u, "unknown-words", "a year is given with more limits than can be read")
			}
			return a, b, true
		}
		if u.pair != 0 {
			if u.era == eraBC {
				return a, b, p.failAt(u, "ambiguous-era", "two years in one are given before Christ")
			}
			z, ok := p.astronomical(u, u.pair)
			b.year = z
			if u.part != partNone || !ok {
				return a, b, ok && p.failAt(u, "unknown-words", "a part of two years is named")
			}
			return a, b, true
		}
		return p.yearPart(u, a)
	case unitMonth:
		p.precise(DatePrecisionMonth)
		return p.monthPart(u, a)
	case unitSeason:
		p.precise(DatePrecisionSeason)
		return p.season(u, a)
	}
	p.precise(DatePrecisionDay)
	if u.part != partNone {
		return a, b, p.failAt(u, "unknown-words", "a part of a day is named")
	}
	if u.mask != 0 {
		_, _, ok := a.bounds()
		return a, a, ok || p.failAt(u, "no-such-day", "the calendar has no such day")
	}
	d, ok := p.calendarDay(u, y)
	if !ok {
		return a, b, p.failAt(u, "no-such-day", "the calendar has no such day")
	}
	a = dayDate(d)
	return a, a, true
}

// calendarDay gives the Gregorian day of a day as written. Old Style and dual
// years ("12 February 1702/3", which is 1703 to us) mean the Julian calendar.
func (p *dateParser) calendarDay(u *dateUnit, y int64) (DateDay, bool) {
	if u.pair != 0 {
		if u.pair != u.num+1 || u.month > 3 || u.era == eraBC {
			return DateDay{}, false
		}
		y++
	}
	written := DateDay{y, u.month, u.day}
	julian := u.style == styleOld || u.pair != 0 && u.style != styleNew
	if until := p.c.JulianUntil; !julian && u.style == styleNone && until.Known() {
		day, ok := julianDay(y, u.month, u.day)
		julian = ok && day.Compare(until) < 0
	}
	if julian {
		p.julian = true
		return julianDay(y, u.month, u.day)
	}
	return written, u.day <= daysInMonth(y, u.month)
}

// share is the number of units of n that a part of so many per cent takes; 0 per
// cent is the default third.
func dateShareOf(n int64, percent int) int64 {
	if percent <= 0 || percent > 100 {
		return (n + 2) / 3
	}
	return max(1, (n*int64(percent)+99)/100)
}

// within gives the part of units lo to hi that u names.
func (p *dateParser) within(u *dateUnit, lo, hi int64) (a, b int64) {
	n := hi - lo + 1
	switch u.part {
	case partEarly, partBegin:
		return lo, lo + dateShareOf(n, p.c.EarlyPercent) - 1
	case partLate, partEnd:
		return hi - dateShareOf(n, p.c.LatePercent) + 1, hi
	case partMid:
		k := dateShareOf(n, p.c.MidPercent)
		return lo + (n-k)/2, lo + (n-k)/2 + k - 1
	case partShare:
		from, to, of := int64(u.share[0]), int64(u.share[1]), int64(u.share[2])
		return lo + n*(from-1)/of, lo + n*to/of - 1
	}
	return lo, hi
}

func (p *dateParser) turn() int64 {
	if p.c.TurnYears == 0 {
		return 10
	}
	return int64(p.c.TurnYears)
}

// yearPart resolves "early 1874", "first half of 1874".
func (p *dateParser) yearPart(u *dateUnit, a edtfDate) (edtfDate, edtfDate, bool) {
	if u.part == partNone {
		return a, a, true
	}
	b := a
	if a.year < -9999 {
		return a, b, p.failAt(u, "implausible", "a part of a year so far away is named")
	}
	if u.num%100 == 0 && u.part != partShare && u.part != partBegin && u.part != partEnd {
		switch {
		case u.part == partTurn:
			a.year, b.year = a.year-p.turn(), a.year+p.turn()
		case u.part == partEarly && u.era != eraBC:
			// "early 1900" may mean the year or, slackly, the hundred: this holds both
			_, b.year = p.within(u, a.year, a.year+99)
		default:
			return a, b, p.failAt(u, "ambiguous-part", "it cannot be told whether a part of the year or of the century is meant")
		}
		return a, b, true
	}
	if u.part == partTurn || u.part == partShare && 12%u.share[2] != 0 {
		return a, b, p.failAt(u, "unknown-words", "a part of a year is named that the reader cannot reckon")
	}
	lo, hi := p.within(u, 1, 12)
	a.month, b.month = uint8(lo), uint8(hi)
	return a, b, true
}

func (p *dateParser) monthPart(u *dateUnit, a edtfDate) (edtfDate, edtfDate, bool) {
	b := a
	if u.pair != 0 {
		if u.pair != u.num+1 || u.month > 3 {
			return a, b, p.failAt(u, "unknown-words", "a month is given with two years")
		}
		a.year++ // "February 1702/3": the days lie in 1703 in either calendar
		b.year++
	}
	if u.style == styleOld {
		p.julian = true
	}
	switch {
	case u.part == partNone:
		return a, b, true
	case u.part == partTurn || u.mask != 0 || u.part == partShare && u.share[2] != 2:
		return a, b, p.failAt(u, "unknown-words", "a part of a month is named that the reader cannot reckon")
	}
	lo, hi := p.within(u, 1, int64(daysInMonth(a.year, a.month)))
	a.day, b.day = uint8(lo), uint8(hi)
	return a, b, true
}

// season resolves a season. A winter lies in two years: with both given it runs
// from December to March, with one it may be at either end of it.
func (p *dateParser) season(u *dateUnit, a edtfDate) (edtfDate, edtfDate, bool) {
	b := a
	switch {
	case u.part != partNone:
		return a, b, p.failAt(u, "unknown-words", "a part of a season is named")
	case u.pair != 0 && (u.month != 24 || p.c.Southern):
		return a, b, p.failAt(u, "unknown-words", "a season is given with two years")
	case u.pair != 0:
		a.month = 12
		b.year, b.month = a.year+1, 3
	}
	return a, b, true
}

// longer resolves decades, hundreds, centuries and millennia.
func (p *dateParser) longer(u *dateUnit) (a, b edtfDate, ok bool) {
	lo, hi, ok := p.longYears(u)
	if !ok {
		return a, b, false
	}
	if u.part == partTurn {
		if u.kind != unitCentury && u.kind != unitHundred {
			return a, b, p.failAt(u, "unknown-words", "the turn of something other than a century is named")
		}
		from := lo - lo%100
		if lo < 100 {
			from = lo
		}
		return edtfDate{year: from - p.turn()}, edtfDate{year: from + p.turn()}, true
	}
	if u.part != partNone {
		lo, hi = p.within(u, lo, hi)
		return edtfDate{year: lo}, edtfDate{year: hi}, true
	}
	if lo >= 0 && hi <= 9999 {
		switch n := hi - lo + 1; {
		case n == 10 && lo%10 == 0:
			a = edtfDate{year: lo, mask: edtfYear1}
			return a, a, true
		case n == 100 && lo%100 == 0:
			a = edtfDate{year: lo, mask: edtfYear1 | edtfYear10}
			return a, a, true
		case n == 1000 && lo%1000 == 0:
			a = edtfDate{year: lo, mask: edtfYear1 | edtfYear10 | edtfYear100}
			return a, a, true
		}
	}
	return edtfDate{year: lo}, edtfDate{year: hi}, true
}

// longYears gives the first and last astronomical year of a decade or longer time.
func (p *dateParser) longYears(u *dateUnit) (lo, hi int64, ok bool) {
	n, first := int64(10), u.num
	switch u.kind {
	case unitDecade:
		p.precise(DatePrecisionDecade)
		if u.n == 2 && u.era == eraNone {
			return 0, 0, p.failAt(u, "two-digit-year", "a decade is named without its century")
		}
	case unitHundred:
		n = 100
		p.precise(DatePrecisionCentury)
		switch p.c.Hundreds {
		case DateHundredsDecade:
			n = 10
		case DateHundredsUnread:
			return 0, 0, p.failAt(u, "ambiguous-hundred", "it cannot be told whether the century or its first decade is meant")
		}
	case unitCentury, unitMillennium:
		n = 100
		p.precise(DatePrecisionCentury)
		if u.kind == unitMillennium {
			n = 1000
			p.finest = max(p.finest, DatePrecisionCentury)
			p.precise(DatePrecisionMillennium)
		}
		if u.era == eraBC {
			return 1 - u.num*n, -(u.num - 1) * n, true
		}
		first = (u.num - 1) * n
		if p.c.Century == DateCenturyFrom01 {
			first++
		}
	}
	if first > lastYear && u.era != eraBC || first > 100_000 {
		return 0, 0, p.failAt(u, "implausible", "the number is too great for a year")
	}
	if u.era == eraBC {
		// "the 300s BC" are 399 to 300 BC
		return 1 - (first + n - 1), 1 - max(first, 1), true
	}
	return max(first, 1), max(first, 1) + n - 1 - dateFirst(first), true
}

// dateFirst is 1 for the hundred (decade) that has no year 0.
func dateFirst(first int64) int64 {
	if first == 0 {
		return 1
	}
	return 0
}

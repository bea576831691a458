package reading

// Values of dateTerm tokens: the feasts and terms by which English courts,
// universities and landlords dated.
const (
	termMichaelmas = iota
	termHilary
	termTrinity
	termEaster
	termWhitsun
	termChristmas
	termLadyDay
	termMidsummer
	termMartinmas
	termCandlemas
	termLammas
)

// dateTermDays gives the days that the name of a feast or term in a year may
// mean, in the calendar of England in that year. Terms differed between courts
// and universities and moved over time, so the bounds hold all of them. "Michaelmas
// 1891" may be the quarter day or the term that follows it.
//
// Quarter days: Interpretation of the usual English and Scottish ones. Terms: the
// Judicature Acts from 1873 (Michaelmas 24 October to 21 December, Hilary from 11
// January, Easter from the Tuesday after Easter week, Trinity to 12 August), the
// statutes of Oxford and Cambridge. All from memory.
func dateTermDays(term, year int64, isTerm bool) (lo, hi DateDay, ok bool) {
	day := func(m, d uint8) DateDay { return englishDay(DateDay{year, m, d}) }
	days := func(from DateDay, a, b int64) (DateDay, DateDay, bool) {
		n := from.dayNumber()
		return dayFromNumber(n + a), dayFromNumber(n + b), true
	}
	fixed := func(m, d uint8) (DateDay, DateDay, bool) {
		if isTerm {
			return lo, hi, false
		}
		return day(m, d), day(m, d), true
	}
	sunday := easter(year, year < 1753)
	switch term {
	case termMichaelmas:
		return day(9, 29), day(12, 31), true
	case termHilary:
		return day(1, 1), day(4, 30), true
	case termTrinity:
		return day(4, 15), day(8, 12), true
	case termEaster:
		if isTerm {
			return day(3, 22), day(7, 10), true
		}
		return days(sunday, -2, 6)
	case termWhitsun:
		if isTerm {
			return lo, hi, false
		}
		return days(sunday, 49, 55)
	case termChristmas:
		if isTerm {
			return day(10, 1), day(12, 31), true
		}
		return day(12, 24), day(12, 26), true
	case termLadyDay:
		return fixed(3, 25)
	case termMidsummer:
		return fixed(6, 24)
	case termMartinmas:
		if isTerm {
			return day(10, 1), day(12, 31), true
		}
		return fixed(11, 11)
	case termCandlemas:
		if isTerm {
			return day(1, 1), day(4, 30), true
		}
		return fixed(2, 2)
	case termLammas:
		return fixed(8, 1)
	}
	return lo, hi, false
}

package reading

// dateKind says what unit of time a dateUnit is.
type dateKind uint8

const (
	unitNone    dateKind = iota
	unitPart             // "early", with its unit still to come
	unitNumber           // a number that may be a day, a century, the end of a year
	unitOrdinal          // the same, as an ordinal
	unitUnknown          // "unknown", "?"
	unitPresent
	unitDay
	unitMonth
	unitSeason
	unitFixed // days found otherwise: lo to hi
	unitYear
	unitDecade
	unitHundred // "the 1800s"
	unitCentury
	unitMillennium
)

// dateUnit is one date of a text, as written: what the words leave out is filled
// in from its neighbours before it is turned into days.
type dateUnit struct {
	kind       dateKind
	era        uint8 // eraNone, eraBC, eraAD
	n          uint8 // digits of the number as written
	mask       uint8 // digits of the year not specified
	month, day uint8 // month is the sub-year code of a season
	part       uint8
	share      [3]uint8 // for partShare: from this to that of so many
	bound      uint8
	life       uint8
	style      uint8
	signed     bool // BC by a minus sign: what follows without one is AD
	noYear     bool // a day, month or season without its year
	about      bool
	aboutAfter bool // circa stands after the date
	maybe      bool
	whole      bool // "before 1912–15": the bound holds for the range the unit begins
	between    bool
	tal        bool // "1600-tal": passes the unit on to a bare year before it
	dateAt     int32
	num        int64 // year, first year of a decade or hundred, number of a century
	within     int64 // "1920 ± 5": the years either way
	pair       int64 // "1831/2": the second year
	lo, hi     DateDay
}

// Eras.
const (
	eraNone uint8 = iota
	eraBC
	eraAD
)

// Bounds.
const (
	boundNone uint8 = iota
	boundBefore
	boundAfter
	boundSince
	boundUntil
)

// Marks of life dates.
const (
	lifeBorn uint8 = 1 << iota
	lifeDied
	lifeActive
)

// Styles.
const (
	styleNone uint8 = iota
	styleOld
	styleNew
)

// dateParser reads the tokens of one text.
type dateParser struct {
	lex    dateLexer
	i      int
	c      *DateConventions
	code   string
	reason string
	at     int32
	life   bool // the text is known to be about a person's dates
	julian bool // a date was written in the Julian calendar
	finest DatePrecision

	units [16]dateUnit
	conns [16]dateConn // before the unit of the same index
	stage [16]int8     // the stage the unit is about, -1 for none
	n     int

	conn       dateConn // before the unit being read
	stageStart int
}

// dateConn joins two units.
type dateConn uint8

const (
	connNone dateConn = iota
	connSlash
	connRange
	connTo // "from … to"
	connOr
	connAnd
	connComma
)

func (p *dateParser) tok() *dateToken { return &p.lex.toks[p.i] }

// peek is the token k places on; the end token stands for all beyond.
func (p *dateParser) peek(k int) *dateToken {
	if p.i+k >= p.lex.n {
		return &p.lex.toks[p.lex.n]
	}
	return &p.lex.toks[p.i+k]
}

func (p *dateParser) fail(code, reason string) bool {
	if p.code == "" {
		p.code, p.reason, p.at = code, reason, p.tok().pos
	}
	return false
}

func (p *dateParser) unknown() bool {
	switch p.tok().class {
	case datePeriod:
		return p.failPeriod(p.tok().val)
	case dateReignW, dateReignN, dateRulerW:
		return p.failPeriod(periodNamed)
	case dateEnd:
		return p.fail("incomplete", "the words stop short of a date")
	}
	return p.fail("unknown-words", "there are words here that are no part of a date this reader knows")
}

func (p *dateParser) failPeriod(kind int64) bool {
	switch kind {
	case periodGeological:
		return p.fail("geological-period", "a period of the earth's history is named, which no calendar dates; a term list can")
	case periodArchaeological:
		return p.fail("archaeological-period", "an archaeological period is named, whose years differ by region; a term list can give them")
	case periodBeforePresent:
		return p.fail("before-present", "an age is given in years before the present, which is no calendar date")
	}
	return p.fail("period-name", "a historical or style period is named without years; a term list can give them")
}

// skip passes over tokens that say nothing about time.
func (p *dateParser) skip() {
	for {
		switch t := p.tok(); t.class {
		case dateNoise, dateOf:
			if n := p.peek(1); t.val == noiseA && n.class == dateNumber && n.flags&dateGlued != 0 {
				return // A1874
			}
			p.i++
		case dateWeekday:
			p.i++
			if p.tok().class == dateComma {
				p.i++
			}
		case dateYearW:
			if t.val == yearAn && p.republican() {
				return
			}
			p.i++
		default:
			return
		}
	}
}

// republican reports whether the French "an" here counts the years of the Republic.
func (p *dateParser) republican() bool {
	n := p.peek(1)
	return n.flags&dateRomanToo != 0 && n.roman <= 14 && n.flags&dateUpper != 0 || n.class == dateNumber && n.n <= 2 && n.val >= 1 && n.val <= 14
}

// unit reads one date with the words around it.
func (p *dateParser) unit() (u dateUnit, ok bool) {
	u.dateAt = p.tok().pos
	if !p.prefixes(&u) {
		return u, false
	}
	if u.kind == unitNone && !p.core(&u) {
		if p.code != "" {
			return u, false
		}
		switch {
		case u.part != partNone:
			u.kind = unitPart
		case u.maybe && !u.about && u.bound == boundNone:
			u.kind = unitUnknown
		default:
			return u, p.unknown()
		}
	}
	if !p.suffixes(&u) {
		return u, false
	}
	return u, true
}

// prefixes reads the words before a date: circa, probably, before, early.
func (p *dateParser) prefixes(u *dateUnit) bool {
	for {
		p.skip()
		t := p.tok()
		switch t.class {
		case dateAbout:
			if n := p.peek(1); t.val == aboutC && t.flags&(dateUpper|dateDotted) == dateUpper && n.flags&dateGlued != 0 && (n.class == dateNumber || n.class == dateOrdinal) && n.n <= 2 && n.val >= 1 && n.val <= 21 {
				u.kind, u.num, u.n = unitCentury, n.val, 2 // C19th
				p.i += 2
				return true
			}
			u.about = true
			if p.alsoBound() {
				p.i++
			}
		case dateTermW:
			if n := p.peek(1); n.class != dateNumber || n.n != 4 {
				return true
			}
		case dateMaybe:
			u.maybe = true
		case dateBefore, dateAfter, dateSince, dateUntil:
			if u.bound != boundNone {
				return p.unknown()
			}
			u.bound = [...]uint8{boundBefore, boundAfter, boundSince, boundUntil}[t.class-dateBefore]
			if p.alsoBound() {
				p.i++
			}
			if p.peek(1).class == dateDash && p.peek(1).flags&dateGlued != 0 {
				p.i++ // pre-1914
			}
		case dateOrBefore, dateOrAfter: // "about or before 1500"
			if !u.about || u.bound != boundNone {
				return true
			}
			u.bound = boundBefore
			if t.class == dateOrAfter {
				u.bound = boundAfter
			}
		case dateBetween:
			u.between = true
		case dateOpen: // "(1689)-1721": inferred
			n := p.peek(1)
			if n.class != dateNumber || n.n != 4 || n.mask != 0 || p.peek(2).class != dateClose || p.peek(3).class != dateDash {
				return true
			}
			u.kind, u.num, u.n, u.maybe = unitYear, n.val, n.n, true
			p.i += 3
			return true
		case dateTo:
			if p.i != 0 || p.n != 0 {
				return true
			}
		case dateStar:
			u.life |= lifeBorn
		case dateDagger:
			u.life |= lifeDied
		case dateAD, dateBC:
			if c := p.peek(1).class; c != dateNumber && c != dateOrdinal {
				return true
			}
			u.era = eraAD
			if t.class == dateBC {
				u.era = eraBC
			}
		case datePart:
			if u.part != partNone || !p.isPart() {
				return u.part == partNone || p.unknown()
			}
			u.part = uint8(t.val)
			if p.peek(1).class == dateDash && p.peek(1).flags&dateHyphenMinus|p.peek(1).flags&dateGlued != 0 && p.partNeedsDash() {
				p.i++ // mid-18th
			}
		case dateShare, dateOrdinal, dateLast, dateNumber, dateRoman:
			if t.class == dateShare && t.val&shareMid != 0 && u.part == partNone {
				u.part = partMid
				break
			}
			done, ok := p.shares(u)
			if !ok {
				return false
			}
			if !done {
				return true
			}
			continue
		default:
			return true
		}
		p.i++
	}
}

// alsoBound reports whether a second word of the kind is joined to the one here:
// "vor/um 1900", "about or before 1500".
func (p *dateParser) alsoBound() bool {
	c := p.peek(2).class
	return (p.peek(1).class == dateOr || p.peek(1).class == dateSlash) && (c == dateAbout || c == dateBefore || c == dateAfter)
}

// isPart reports whether the part here belongs to what follows. "1600-tal,
// slut" is read by suffixes; "later cast" is no part.
func (p *dateParser) isPart() bool { return p.peek(1).class != dateStage }

// partNeedsDash reports whether the dash after a part ties it to its unit:
// "mid-18th", but not "early-mid 20th".
func (p *dateParser) partNeedsDash() bool {
	n := p.peek(2)
	return n.class == dateNumber || n.class == dateOrdinal || n.class == dateDecades || n.class == dateRoman || n.class == dateMonth || n.class == dateSeasonW || n.flags&dateRomanToo != 0
}

// shares reads "first half", "2nd quarter", "last third", "second and third
// quarter". done tells that it did.
func (p *dateParser) shares(u *dateUnit) (done, ok bool) {
	from, k := p.shareNumber(0)
	if from == 0 {
		return false, true
	}
	to := from
	if c := p.peek(k).class; c == dateAnd || c == dateDash || c == dateTo || c == dateSlash {
		if n, k2 := p.shareNumber(k + 1); n > 0 {
			if size, _ := p.shareSize(k2); size > 0 {
				to, k = n, k2
			}
		}
	}
	size, k := p.shareSize(k)
	if size == 0 {
		t := p.tok()
		switch {
		case t.class == dateOrdinal && t.val&ordinalPrimo != 0 && p.isUnitStart(1):
			u.part = partBegin
		case t.class == dateLast && t.val == lastUltimo && p.isUnitStart(1):
			u.part = partEnd
		default:
			return false, true
		}
		p.i++
		return true, true
	}
	if u.part != partNone {
		return false, p.unknown()
	}
	if from == lastShare {
		from, to = size, size
	}
	if to == lastShare {
		to = size
	}
	if from > to || to > size {
		return false, p.fail("no-such-day", "there is no such half, third, quarter or decade")
	}
	u.part, u.share = partShare, [3]uint8{uint8(from), uint8(to), uint8(size)}
	p.i += k
	return true, true
}

const lastShare = 99

// shareNumber reads the ordinal of a share k tokens on; next is behind it.
func (p *dateParser) shareNumber(k int) (v, next int) {
	switch t := p.peek(k); t.class {
	case dateOrdinal:
		v = int(t.val &^ ordinalPrimo)
	case dateLast:
		v = lastShare
	case dateNumber:
		if t.flags&dateDotted != 0 || p.peek(k+1).class == dateShare {
			v = int(t.val)
		}
	case dateRoman:
		v = int(t.val)
	default:
		if t.flags&dateRomanToo != 0 && t.flags&dateUpper != 0 {
			v = int(t.roman)
		}
	}
	if v > 10 && v != lastShare || v < 1 {
		return 0, k
	}
	k++
	if t := p.peek(k); t.class == dateDash && t.flags&dateGlued != 0 && p.peek(k+1).class == dateShare {
		k++ // second-half
	}
	return v, k
}

// shareSize reads the name of a share k tokens on, and the "of" after it.
func (p *dateParser) shareSize(k int) (size, next int) {
	t := p.peek(k)
	switch {
	case t.class == dateShare:
		size = int(t.val &^ shareMid)
	case t.class == dateAbout && t.val == aboutH && t.flags&dateDotted != 0:
		size = 2 // German "2. H."
	case t.class == dateOrdinal && t.val == 3 && p.isUnitStart(k+1):
		size = 3 // "first third"
	case t.class == dateDecadeW:
		if c := p.peek(k + 1).class; c == dateOf || c == dateNoise || c == dateOrdinal || c == dateCenturyW {
			size = 10
		}
	}
	return size, k + 1
}

// isUnitStart reports whether a unit of time may begin k tokens on.
func (p *dateParser) isUnitStart(k int) bool {
	for {
		switch t := p.peek(k); t.class {
		case dateNoise, dateOf:
			k++
		case dateNumber, dateOrdinal, dateDecades, dateRoman, dateMonth, dateCenturyW, dateHundreds, dateDecadeW, dateYearW:
			return true
		default:
			return t.flags&dateRomanToo != 0 && t.flags&dateUpper != 0
		}
	}
}

// suffixes reads the words after a date.
func (p *dateParser) suffixes(u *dateUnit) bool {
	for {
		t := p.tok()
		switch t.class {
		case dateAbout:
			if n := p.peek(1); t.val == aboutSign && n.class == dateNumber && n.n <= 3 && u.kind == unitYear {
				u.within = n.val // "1920 ± 5"
				p.i++
				if p.peek(1).class == dateYearW {
					p.i++
				}
				break
			}
			if n := p.peek(1).class; n == dateNumber || n == dateOrdinal || n == dateDecades || n == dateMonth {
				return true // circa of the next date
			}
			u.aboutAfter = !u.about
			u.about = true
		case dateMaybe:
			if t.flags&dateGlued == 0 && p.peek(1).flags&dateGlued != 0 && p.peek(1).class == dateNumber {
				return true
			}
			u.maybe = true
		case dateBC, dateAD:
			era := eraBC
			if t.class == dateAD {
				era = eraAD
			}
			if u.era != eraNone && u.era != era {
				return p.unknown()
			}
			u.era = era
		case dateOrBefore, dateOrAfter:
			if u.bound != boundNone {
				return p.unknown()
			}
			u.bound = boundBefore
			if t.class == dateOrAfter {
				u.bound = boundAfter
			}
		case dateBefore, dateAfter, dateSince:
			// "1672 före", "1910, before", "1955 onwards"
			if c := p.peek(1).class; c != dateEnd && c != dateClose && c != dateComma && c != dateSemi && (c != dateMaybe || p.peek(2).class != dateEnd) || u.bound != boundNone {
				return true
			}
			u.bound = [...]uint8{boundBefore, boundAfter, boundSince}[t.class-dateBefore]
		case dateBetween: // French "1855 entre ; 1865 et"
			if c := p.peek(1).class; c != dateSemi && c != dateComma {
				return true
			}
			u.between = true
		case dateStar, dateDagger:
			if t.flags&dateGlued == 0 && p.peek(1).class == dateNumber {
				return true // "* 1666 † 1720"
			}
			if t.class == dateStar {
				u.life |= lifeBorn
			} else {
				u.life |= lifeDied
			}
		case dateOldStyle:
			u.style = styleOld
		case dateNewStyle:
			u.style = styleNew
		case datePart, datePartAfter, dateNoise, dateNumber, dateOrdinal, dateLast, dateSlash:
			done, ok := p.partAfter(u)
			if !ok {
				return false
			}
			if !done {
				return true
			}
			continue
		case dateYearW:
			if u.kind != unitDecade && u.kind != unitHundred || t.val == yearAn {
				return true
			}
		case dateComma:
			// "1910, before"
			if n := p.peek(1).class; (n == dateBefore || n == dateAfter || n == dateOrBefore || n == dateOrAfter || n == dateNoise) && p.peek(2).class == dateEnd {
				break
			}
			if n := p.peek(1); n.class == dateDecadeW && u.kind == unitHundred && p.peek(2).class == dateEnd {
				u.kind = unitDecade // Swedish "1600-tal, årtionde"
				p.i++
				break
			}
			if p.aloneAfter(1, dateEnd) { // "19. Jh., 2. Hälfte"
				break
			}
			return true
		case dateOpen:
			if c := p.peek(1).class; (c == dateAbout || c == dateMaybe) && p.peek(2).class == dateClose {
				u.about, u.maybe = u.about || c == dateAbout, u.maybe || c == dateMaybe // "1800 (um)"
				p.i += 3
				continue
			}
			if p.peek(1).class == dateNoise && p.peek(2).class == dateClose {
				p.i += 3 // "1871 (Datierung)"
				continue
			}
			if u.kind >= unitYear && p.aloneAfter(1, dateClose) { // "16. Jh. (2. Hälfte)"
				p.i++
				if done, ok := p.partAfter(u); !done || !ok {
					return ok && p.unknown()
				}
				break
			}
			if u.kind == unitDay && p.peek(1).class == dateNumber && p.peek(1).n <= 2 && p.peek(2).class == dateClose {
				return p.bothStyles(u)
			}
			if s := p.peek(1).class; (s == dateOldStyle || s == dateNewStyle) && p.peek(2).class == dateClose {
				p.i++ // "5 January 1718 (O.S.)"
				continue
			}
			return true
		case dateClose:
			if s := p.i - 2; s < 0 || p.lex.toks[s].class != dateOpen || u.style == styleNone {
				return true
			}
		default:
			return true
		}
		p.i++
	}
}

// aloneAfter reports whether nothing but a share stands k tokens on, before end.
func (p *dateParser) aloneAfter(k int, end dateClass) bool {
	if p.peek(k).class == datePart {
		return p.peek(k+1).class == end
	}
	if c := p.peek(k).class; c != dateNumber && c != dateOrdinal && c != dateLast {
		return false
	}
	v, k := p.shareNumber(k)
	size, k := p.shareSize(k)
	return v > 0 && size > 0 && p.peek(k).class == end
}

// partAfter reads a part that follows its unit: "1500-talets slut", "19th
// Century/EARLY", "1500-talets andra hälft".
func (p *dateParser) partAfter(u *dateUnit) (done, ok bool) {
	long := u.kind >= unitYear
	if u.kind == unitOrdinal || u.kind == unitNumber && u.n <= 2 {
		long = true // "19 early"
	}
	k := 0
	if p.tok().class == dateSlash {
		k = 1
	}
	if u.part != partNone || !long {
		return false, true
	}
	t := p.peek(k)
	if t.class == datePartAfter || t.class == dateNoise { // "saec. XV ex.", "saec. XV in."
		if u.kind != unitCentury || t.class == dateNoise && (t.flags&dateDotted == 0 || p.peek(k+1).class != dateEnd) {
			return false, true
		}
		u.part = partBegin
		if t.class == datePartAfter {
			u.part = uint8(t.val)
		}
		p.i += k + 1
		return true, true
	}
	if t.class == datePart {
		// "1894 late spring" would belong to what follows
		if c := p.peek(k + 1); k == 0 && p.isUnitStart(k+1) || c.class == dateStage || c.class == dateSeasonW {
			return false, true
		}
		u.part = uint8(t.val)
		p.i += k + 1
		return true, true
	}
	if t.class != dateOrdinal && t.class != dateLast && t.class != dateNumber {
		return false, true
	}
	if from, k2 := p.shareNumber(k); from > 0 {
		if size, k3 := p.shareSize(k2); size > 0 {
			if from == lastShare {
				from = size
			}
			if from > size {
				return false, p.fail("no-such-day", "there is no such half, third or quarter")
			}
			u.part, u.share = partShare, [3]uint8{uint8(from), uint8(from), uint8(size)}
			p.i += k3
			return true, true
		}
	}
	return false, true
}

// bothStyles reads "1746-01-16 (27)": the day in the Julian and, in brackets, in
// the Gregorian calendar.
func (p *dateParser) bothStyles(u *dateUnit) bool {
	y := u.num
	if u.era == eraBC || u.mask != 0 {
		return p.unknown()
	}
	day, ok := julianDay(y, u.month, u.day)
	if !ok || int64(day.Day) != p.peek(1).val {
		return p.fail("contradiction", "the two days given do not agree")
	}
	u.kind, u.lo, u.hi = unitFixed, day, day
	p.julian = true
	p.i += 3
	p.precise(DatePrecisionDay)
	return true
}

func (p *dateParser) precise(x DatePrecision) {
	if p.finest == DatePrecisionNone || x < p.finest {
		p.finest = x
	}
}

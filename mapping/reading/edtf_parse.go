package reading

import "strings"

// ParseEDTF reads a string of EDTF of level 0, 1 or 2 as it stands: no blanks,
// no words. The error is always an *[Unread]: code "not-edtf" where the string
// does not follow the grammar, "no-such-day" where the grammar fits but the
// calendar has no such date, "backwards" where an end is before its beginning,
// "out-of-range" for years beyond 10^15.
func ParseEDTF(s string) (EDTF, error) {
	p := edtfParser{s: s}
	e := p.parse()
	if p.code != "" {
		return EDTF{}, &Unread{Text: s, Code: p.code, Reason: edtfReasons[p.code], At: p.at}
	}
	return e, nil
}

var edtfReasons = map[string]string{
	"not-edtf":     "this is not a date in the Extended Date/Time Format",
	"no-such-day":  "the calendar has no such day or time",
	"backwards":    "the time ends before it begins",
	"out-of-range": "the year is too far away to be counted",
}

// maxDateYear bounds the years read, so that no sum of them overflows.
const maxDateYear = 1_000_000_000_000_000

type edtfParser struct {
	s     string
	i     int
	level uint8
	code  string // set when reading failed
	at    int
}

func (p *edtfParser) fail(code string) {
	if p.code == "" {
		p.code, p.at = code, p.i
	}
}

func (p *edtfParser) more() bool { return p.i < len(p.s) }

func (p *edtfParser) take(c byte) bool {
	if p.i < len(p.s) && p.s[p.i] == c {
		p.i++
		return true
	}
	return false
}

func (p *edtfParser) takeDots() bool {
	if strings.HasPrefix(p.s[p.i:], "..") {
		p.i += 2
		return true
	}
	return false
}

func (p *edtfParser) raise(level uint8) { p.level = max(p.level, level) }

func (p *edtfParser) parse() EDTF {
	var e EDTF
	switch {
	case p.take('['):
		e.form = edtfOneOf
		p.set(&e, ']')
	case p.take('{'):
		e.form = edtfAllOf
		p.set(&e, '}')
	case strings.IndexByte(p.s, '/') >= 0:
		e.form = edtfInterval
		e.first = p.interval()
	default:
		e.form = edtfDateForm
		e.first.begin = edtfPoint{kind: edtfSingle, a: p.date()}
		if p.code == "" && p.take('T') {
			e.clock = p.clock(e.first.begin.a)
		}
	}
	if p.more() {
		p.fail("not-edtf")
	}
	e.level = p.level
	return e
}

// interval reads the extended intervals of level 1, whose ends may be dates of
// any level.
func (p *edtfParser) interval() edtfItem {
	it := edtfItem{span: true}
	it.begin = p.end()
	if !p.take('/') {
		p.fail("not-edtf")
	}
	it.end = p.end()
	if it.begin.kind != edtfSingle && it.end.kind != edtfSingle {
		p.fail("not-edtf")
	}
	if !p.more() {
		p.ordered(&it)
	}
	return it
}

func (p *edtfParser) end() edtfPoint {
	if !p.more() || p.s[p.i] == '/' {
		p.raise(1)
		return edtfPoint{kind: edtfUnknown}
	}
	if p.takeDots() {
		p.raise(1)
		return edtfPoint{kind: edtfOpen}
	}
	return edtfPoint{kind: edtfSingle, a: p.date()}
}

func (p *edtfParser) ordered(it *edtfItem) {
	if p.code != "" || it.begin.kind != edtfSingle || it.end.kind != edtfSingle {
		return
	}
	lo, _, _ := it.begin.a.bounds()
	_, hi, _ := it.end.a.bounds()
	if hi.Compare(lo) < 0 {
		p.fail("backwards")
	}
}

// set reads the elements of a set: dates, ranges, an open range at either end.
func (p *edtfParser) set(e *EDTF, closing byte) {
	p.raise(2)
	for n := 0; p.code == ""; n++ {
		it := p.element(n == 0, e.form == edtfAllOf, closing)
		if n == 0 {
			e.first = it
		} else {
			e.more = append(e.more, it)
		}
		if p.take(closing) {
			return
		}
		if !p.take(',') {
			p.fail("not-edtf")
		}
	}
}

func (p *edtfParser) element(first, all bool, closing byte) edtfItem {
	var it edtfItem
	it.span = all
	if p.takeDots() {
		if !first {
			p.fail("not-edtf")
		}
		d := edtfPoint{kind: edtfSingle, a: p.date()}
		if all {
			it.begin, it.end = edtfPoint{kind: edtfOpen}, d
		} else {
			it.begin = edtfPoint{kind: edtfUpTo, b: d.a}
		}
		return it
	}
	a := p.date()
	if !p.takeDots() {
		return edtfItem{begin: edtfPoint{kind: edtfSingle, a: a}}
	}
	if p.i < len(p.s) && p.s[p.i] == closing {
		if all {
			return edtfItem{span: true, begin: edtfPoint{kind: edtfSingle, a: a}, end: edtfPoint{kind: edtfOpen}}
		}
		return edtfItem{begin: edtfPoint{kind: edtfOnward, a: a}}
	}
	b := p.date()
	it = edtfItem{span: true, begin: edtfPoint{kind: edtfSingle, a: a}, end: edtfPoint{kind: edtfSingle, a: b}}
	p.ordered(&it)
	if !all {
		it = edtfItem{begin: edtfPoint{kind: edtfWithin, a: a, b: b}}
	}
	return it
}

// date reads a date without time of day.
func (p *edtfParser) date() edtfDate {
	var d edtfDate
	prefix := p.mark()
	d.qual |= prefix
	if prefix != 0 && p.next('Y') {
		p.fail("not-edtf") // there is no other component to tell it from
	}
	p.year(&d)
	groups := prefix != 0
	if m := p.mark(); m != 0 {
		d.qual |= m
		groups = groups || p.next('-')
		p.raise(1)
	}
	plain := d.sig == 0 && d.year >= -9999 && d.year <= 9999
	if plain && p.take('-') {
		pre := p.mark()
		d.qual |= pre << 2
		groups = groups || pre != 0
		d.month = p.pair(&d.mask, 4)
		if m := p.mark(); m != 0 {
			d.qual |= m | m<<2
			groups = groups || p.next('-')
			p.raise(1)
		}
		if p.take('-') {
			pre := p.mark()
			d.qual |= pre << 4
			groups = groups || pre != 0
			d.day = p.pair(&d.mask, 6)
			if m := p.mark(); m != 0 {
				d.qual |= m | m<<2 | m<<4
				p.raise(1)
			}
		}
	}
	if groups {
		p.raise(2)
	}
	p.check(d)
	return d
}

// check refuses dates that no calendar has and finds the level of what is left.
func (p *edtfParser) check(d edtfDate) {
	if p.code != "" {
		return
	}
	code := d.month &^ edtfMasked
	season := d.month != 0 && d.month < edtfMasked && d.month > 12
	switch {
	case season && (code < 21 || code > 41 || d.day != 0), d.month != 0 && d.month < 1:
		p.fail("not-edtf")
		return
	case season && code > 24:
		p.raise(2)
	case season:
		p.raise(1)
	}
	if d.mask != 0 {
		p.raise(edtfMaskLevel(d))
	}
	if _, _, ok := d.bounds(); !ok {
		p.fail("no-such-day")
	}
}

// edtfMaskLevel is 1 for the patterns of "unspecified digits from the right" of
// level 1 and 2 for others.
func edtfMaskLevel(d edtfDate) uint8 {
	const month, day = edtfMonth1 | edtfMonth10, edtfDay1 | edtfDay10
	switch {
	case d.month == 0 && (d.mask == edtfYear1 || d.mask == edtfYear1|edtfYear10):
	case d.month != 0 && d.day == 0 && d.mask == month:
	case d.day != 0 && (d.mask == day || d.mask == month|day):
	default:
		return 2
	}
	return 1
}

func (p *edtfParser) next(c byte) bool { return p.i < len(p.s) && p.s[p.i] == c }

// mark reads ?, ~ or % as bits of the year.
func (p *edtfParser) mark() uint8 {
	switch {
	case p.take('?'):
		return edtfYearDoubt
	case p.take('~'):
		return edtfYearAbout
	case p.take('%'):
		return edtfYearDoubt | edtfYearAbout
	}
	return 0
}

// digits reads decimal digits into an integer no greater than maxDateYear.
func (p *edtfParser) digits() (v int64, n int) {
	for ; p.i < len(p.s) && p.s[p.i] >= '0' && p.s[p.i] <= '9'; p.i, n = p.i+1, n+1 {
		if v = v*10 + int64(p.s[p.i]-'0'); v > maxDateYear {
			p.fail("out-of-range")
			return 0, n
		}
	}
	return v, n
}

func (p *edtfParser) year(d *edtfDate) {
	long := p.take('Y')
	if long {
		p.raise(1)
	}
	negative := p.take('-')
	if negative {
		p.raise(1)
	}
	if long {
		p.longYear(d)
	} else {
		p.shortYear(d, negative)
	}
	if d.year == 0 && negative && d.mask&edtfYearX == 0 {
		p.fail("not-edtf") // -0000
	}
	if negative {
		d.year = -d.year
	}
	if p.take('S') {
		p.raise(2)
		v, n := p.digits()
		if n == 0 || v < 1 || v > int64(dateDigits(d.year)) || d.mask != 0 {
			p.fail("not-edtf")
			return
		}
		d.sig = uint8(v)
	}
}

// longYear reads the digits after Y: more than four of them (EDTF level 1,
// letter-prefixed calendar year: "when, and only when, the year exceeds four
// digits"), or a number with an exponent.
func (p *edtfParser) longYear(d *edtfDate) {
	zero := p.next('0')
	v, n := p.digits()
	if n == 0 || zero {
		p.fail("not-edtf")
	}
	if p.take('E') {
		p.raise(2)
		e, n := p.digits()
		if n == 0 || p.next('-') {
			p.fail("not-edtf")
		}
		for range min(e, 30) {
			if v *= 10; v > maxDateYear {
				p.fail("out-of-range")
				return
			}
		}
		d.exp = uint8(min(e, 30))
	}
	if v <= 9999 {
		p.fail("not-edtf")
	}
	d.year = v
}

// shortYear reads four digits, some of which may be X.
func (p *edtfParser) shortYear(d *edtfDate, negative bool) {
	if len(p.s)-p.i < 4 {
		p.fail("not-edtf")
		return
	}
	for k := 3; k >= 0; k-- {
		c := p.s[p.i]
		d.year *= 10
		switch {
		case c == 'X':
			d.mask |= 1 << k
		case c >= '0' && c <= '9':
			d.year += int64(c - '0')
		default:
			p.fail("not-edtf")
			return
		}
		p.i++
	}
	if d.mask&edtfYearX != 0 && negative {
		d.qual |= edtfNegative
	}
}

// pair reads two digits of a month or day, some of which may be X.
func (p *edtfParser) pair(mask *uint8, shift uint) (v uint8) {
	if len(p.s)-p.i < 2 {
		p.fail("not-edtf")
		return 0
	}
	x := false
	for k := 1; k >= 0; k-- {
		c := p.s[p.i]
		v *= 10
		switch {
		case c == 'X':
			*mask |= 1 << (shift + uint(k))
			x = true
		case c >= '0' && c <= '9':
			v += c - '0'
		default:
			p.fail("not-edtf")
			return 0
		}
		p.i++
	}
	if x {
		return v | edtfMasked
	}
	if v == 0 {
		p.fail("not-edtf")
	}
	return v
}

// clock reads the time of day of level 0, which only a complete date may have.
func (p *edtfParser) clock(d edtfDate) (c edtfClock) {
	if d.day == 0 || d.mask != 0 || d.qual != 0 || d.year < 0 {
		p.fail("not-edtf")
		return c
	}
	two := func(sep byte, limit int64) uint8 {
		if sep != 0 && !p.take(sep) {
			p.fail("not-edtf")
			return 0
		}
		from := p.i
		v, _ := p.digits()
		if p.i != from+2 {
			p.fail("not-edtf")
		}
		if v > limit {
			p.fail("no-such-day")
		}
		return uint8(v)
	}
	c.set = true
	c.hour, c.minute, c.second = two(0, 23), two(':', 59), two(':', 59)
	switch {
	case p.take('Z'):
		c.utc, c.zoned = true, true
	case p.next('+'), p.next('-'):
		minus := p.s[p.i] == '-'
		p.i++
		c.zoned = true
		m := int16(two(0, 14)) * 60
		if p.next(':') {
			m += int16(two(':', 59))
		} else {
			c.short = true
		}
		if minus {
			m = -m
		}
		c.offset = m
	}
	return c
}

// dateDigits is the number of digits of y, at least four.
func dateDigits(y int64) int {
	n := 4
	for y /= 10000; y != 0; y /= 10 {
		n++
	}
	return n
}

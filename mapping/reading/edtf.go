package reading

// EDTF is a string of the Extended Date/Time Format, levels 0 to 2 (Library of
// Congress, 2019-02-04; ISO 8601-2:2019), taken apart. Get one from
// [ParseEDTF]. It is immutable and may be shared by goroutines.
type EDTF struct {
	form  edtfForm
	level uint8
	clock edtfClock
	first edtfItem
	more  []edtfItem
}

// Level is the lowest EDTF level that has all features of e.
func (e *EDTF) Level() int { return int(e.level) }

type edtfForm uint8

const (
	edtfNone     edtfForm = iota
	edtfDateForm          // 1985-04
	edtfInterval          // 1964/2008
	edtfOneOf             // [1667,1668,1670..1672]
	edtfAllOf             // {1960,1961-12}
)

// edtfItem is a date, or a time from one date to another.
type edtfItem struct {
	begin, end edtfPoint // end is used by spans only
	span       bool
}

// edtfPoint is a date known exactly or within bounds.
type edtfPoint struct {
	kind edtfPointKind
	a, b edtfDate
}

type edtfPointKind uint8

const (
	edtfUnknown edtfPointKind = iota // nothing is known: "1985/"
	edtfOpen                         // there is none: "1985/.."
	edtfSingle                       // a
	edtfWithin                       // some date from a to b
	edtfUpTo                         // b or some earlier date
	edtfOnward                       // a or some later date
)

// edtfDate is one date of EDTF. The zero month and day mean that the string ends
// before them.
type edtfDate struct {
	year  int64 // astronomical; 0 stands in place of digits that are not specified
	month uint8 // 1 to 12, or a sub-year code 21 to 41; plus edtfMasked
	day   uint8 // plus edtfMasked
	mask  uint8 // digits written X
	qual  uint8 // ? and ~ by component, and the sign of a year that begins with X
	sig   uint8 // significant digits of the year; 0 for all
	exp   uint8 // power of ten the year is written with
}

// Bits of edtfDate.mask: a digit is not specified.
const (
	edtfYear1 uint8 = 1 << iota // units
	edtfYear10
	edtfYear100
	edtfYear1000
	edtfMonth1
	edtfMonth10
	edtfDay1
	edtfDay10
	edtfYearX = edtfYear1 | edtfYear10 | edtfYear100 | edtfYear1000
)

// edtfMasked is added to a month or day that has digits written X.
const edtfMasked = 128

// Bits of edtfDate.qual.
const (
	edtfYearDoubt uint8 = 1 << iota // ?
	edtfYearAbout                   // ~
	edtfMonthDoubt
	edtfMonthAbout
	edtfDayDoubt
	edtfDayAbout
	edtfNegative // the year has a minus sign; only with a mask
	edtfDoubt    = edtfYearDoubt | edtfMonthDoubt | edtfDayDoubt
	edtfAbout    = edtfYearAbout | edtfMonthAbout | edtfDayAbout
)

// edtfClock is a time of day with its zone.
type edtfClock struct {
	set, zoned           bool
	hour, minute, second uint8
	offset               int16 // minutes east of UTC
	utc                  bool  // written Z
	short                bool  // the zone has no minutes
}

func (d edtfDate) approximate() bool { return d.qual&edtfAbout != 0 }
func (d edtfDate) uncertain() bool   { return d.qual&edtfDoubt != 0 }

// qualified is d with both marks set on all its components as given.
func (d edtfDate) qualified(about, doubt bool) edtfDate {
	var q uint8
	if about {
		q |= edtfYearAbout
	}
	if doubt {
		q |= edtfYearDoubt
	}
	d.qual |= q
	if d.month != 0 {
		d.qual |= q << 2
	}
	if d.day != 0 {
		d.qual |= q << 4
	}
	return d
}

func (p *edtfPoint) any(test func(edtfDate) bool) bool {
	switch p.kind {
	case edtfSingle, edtfOnward:
		return test(p.a)
	case edtfWithin:
		return test(p.a) || test(p.b)
	case edtfUpTo:
		return test(p.b)
	}
	return false
}

func (e *EDTF) any(test func(edtfDate) bool) bool {
	if e.first.any(test) {
		return true
	}
	for i := range e.more {
		if e.more[i].any(test) {
			return true
		}
	}
	return false
}

func (it *edtfItem) any(test func(edtfDate) bool) bool {
	return it.begin.any(test) || it.span && it.end.any(test)
}

// precision is the finest unit d names.
func (d edtfDate) precision() DatePrecision {
	switch {
	case d.day != 0 && d.day < edtfMasked:
		return DatePrecisionDay
	case d.month >= 21 && d.month <= 41:
		return DatePrecisionSeason
	case d.month != 0 && d.month < edtfMasked:
		return DatePrecisionMonth
	case d.mask&(edtfYear1000|edtfYear100) != 0:
		return DatePrecisionMillennium
	case d.mask&edtfYear10 != 0:
		return DatePrecisionCentury
	case d.mask&edtfYear1 != 0:
		return DatePrecisionDecade
	}
	return DatePrecisionYear
}

// String is e as a string of EDTF, in a canonical form: marks that apply to all
// of a date stand at its end, others before the component they apply to.
func (e *EDTF) String() string {
	if e.form == edtfNone {
		return ""
	}
	return string(e.append(make([]byte, 0, 32)))
}

func (e *EDTF) append(b []byte) []byte {
	switch e.form {
	case edtfDateForm:
		b = e.first.begin.a.append(b)
		return e.clock.append(b)
	case edtfInterval:
		b = e.first.begin.appendBegin(b)
		b = append(b, '/')
		return e.first.end.appendEnd(b)
	}
	open, end := byte('['), byte(']')
	if e.form == edtfAllOf {
		open, end = '{', '}'
	}
	b = append(b, open)
	b = e.first.append(b)
	for i := range e.more {
		b = append(b, ',')
		b = e.more[i].append(b)
	}
	return append(b, end)
}

// append writes an element of a set.
func (it *edtfItem) append(b []byte) []byte {
	end := &it.begin
	if it.span {
		end = &it.end
	} else if it.begin.kind == edtfSingle {
		return it.begin.a.append(b)
	}
	if a, ok := it.begin.low(); ok {
		b = a.append(b)
	}
	b = append(b, ".."...)
	if z, ok := end.high(); ok {
		b = z.append(b)
	}
	return b
}

// appendBegin writes the first half of an interval. EDTF cannot say there that
// the beginning lies within bounds: the earliest date stands for it, with a
// question mark.
func (p *edtfPoint) appendBegin(b []byte) []byte {
	a, ok := p.low()
	switch {
	case p.kind == edtfOpen:
		return append(b, ".."...)
	case p.kind == edtfSingle:
		return a.append(b)
	case ok:
		return a.qualified(false, true).append(b)
	}
	return b
}

// appendEnd writes the second half of an interval, likewise.
func (p *edtfPoint) appendEnd(b []byte) []byte {
	z, ok := p.high()
	switch {
	case p.kind == edtfOpen:
		return append(b, ".."...)
	case p.kind == edtfSingle:
		return z.append(b)
	case ok:
		return z.qualified(false, true).append(b)
	}
	return b
}

// low is the date of the first day of p, if it has one.
func (p *edtfPoint) low() (edtfDate, bool) {
	return p.a, p.kind == edtfSingle || p.kind == edtfWithin || p.kind == edtfOnward
}

// high is the date of the last day of p, if it has one.
func (p *edtfPoint) high() (edtfDate, bool) {
	if p.kind == edtfSingle {
		return p.a, true
	}
	return p.b, p.kind == edtfWithin || p.kind == edtfUpTo
}

func (d edtfDate) append(b []byte) []byte {
	q := d.qual &^ edtfNegative
	all := q & 3
	uniform := (d.month == 0 || q>>2&3 == all) && (d.day == 0 || q>>4&3 == all)
	part := func(bits uint8) {
		if !uniform {
			b = appendEDTFMark(b, bits&3)
		}
	}
	part(q)
	b = d.appendYear(b)
	if d.month != 0 {
		b = append(b, '-')
		part(q >> 2)
		b = appendEDTFPair(b, d.month, d.mask>>4&3)
	}
	if d.day != 0 {
		b = append(b, '-')
		part(q >> 4)
		b = appendEDTFPair(b, d.day, d.mask>>6&3)
	}
	if uniform {
		b = appendEDTFMark(b, all)
	}
	return b
}

func (d edtfDate) appendYear(b []byte) []byte {
	if d.mask&edtfYearX != 0 {
		u := d.year
		if d.qual&edtfNegative != 0 {
			b = append(b, '-')
			u = -u
		}
		for i, n := 3, int64(1000); i >= 0; i, n = i-1, n/10 {
			if d.mask&(1<<i) != 0 {
				b = append(b, 'X')
			} else {
				b = append(b, byte('0'+u/n%10))
			}
		}
		return b
	}
	if d.year > 9999 || d.year < -9999 {
		b = append(b, 'Y')
	}
	y := d.year
	for range d.exp {
		y /= 10
	}
	if d.exp > 0 {
		b = appendDateInt(b, y)
		b = append(b, 'E')
		b = appendDateInt(b, int64(d.exp))
	} else {
		b = appendDateYear(b, y)
	}
	if d.sig > 0 {
		b = append(b, 'S')
		b = appendDateInt(b, int64(d.sig))
	}
	return b
}

func appendEDTFMark(b []byte, bits uint8) []byte {
	switch bits {
	case edtfYearDoubt:
		return append(b, '?')
	case edtfYearAbout:
		return append(b, '~')
	case edtfYearDoubt | edtfYearAbout:
		return append(b, '%')
	}
	return b
}

// appendEDTFPair writes two digits; the mask says which are X, bit 0 the units.
func appendEDTFPair(b []byte, v, mask uint8) []byte {
	v &^= edtfMasked
	t, u := '0'+v/10, '0'+v%10
	if mask&2 != 0 {
		t = 'X'
	}
	if mask&1 != 0 {
		u = 'X'
	}
	return append(b, t, u)
}

func (c edtfClock) append(b []byte) []byte {
	if !c.set {
		return b
	}
	pair := func(sep byte, v uint8) { b = append(b, sep, '0'+v/10, '0'+v%10) }
	pair('T', c.hour)
	pair(':', c.minute)
	pair(':', c.second)
	switch {
	case c.utc:
		b = append(b, 'Z')
	case c.zoned:
		m, sign := c.offset, byte('+')
		if m < 0 {
			m, sign = -m, '-'
		}
		pair(sign, uint8(m/60))
		if !c.short {
			pair(':', uint8(m%60))
		}
	}
	return b
}

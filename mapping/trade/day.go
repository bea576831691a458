package trade

import "math"

// Day counts days from 1 January 1970 in the proleptic Gregorian calendar, in UTC.
type Day = int32

// What is not known is bounded by these.
const (
	Never   Day = math.MinInt32 // there is no earliest day
	Forever Day = math.MaxInt32 // there is no latest day
)

// Span is when something happened: the four corners of a time span (CIDOC CRM P82a,
// P81a, P81b, P82b). It began on one of the days from BB to EB and ended, not before
// it began, on one from BE to EE.
type Span struct{ BB, EB, BE, EE Day }

// Always is a span of which nothing is known.
var Always = Span{Never, Forever, Never, Forever}

// tidy draws what follows from a span's corners: it began before it ended. It
// reports false if no reading of the corners is possible.
func (s *Span) tidy() bool {
	s.EB = min(s.EB, s.EE)
	s.BE = max(s.BE, s.BB)
	return s.BB <= s.EB && s.BE <= s.EE
}

// within is a span that lies within another, as a part's does within the whole's.
// Where the two have nothing in common the part's own holds.
func (s Span) within(whole Span) Span {
	t := Span{max(s.BB, whole.BB), s.EB, s.BE, min(s.EE, whole.EE)}
	if !t.tidy() {
		return s
	}
	return t
}

// Countries went over from the Julian calendar to the Gregorian between 1582 and
// 1923 (Greece, from memory), and records seldom say by which a day is written: two days that lie
// no further apart than the calendars did may be one day, or change their order.
const calendarsApart = 13

var lastJulian = dayOf(1924, 1, 1)

// before reports whether day a is surely before day b, a being the latest and b the
// earliest day of something. Where both are edges of whole years, years are compared,
// and the calendars do not matter.
func before(a, b Day) bool {
	switch {
	case a == Never || b == Forever || a >= b:
		return false
	case a >= lastJulian || b-a > calendarsApart:
		return true
	}
	_, m, d := dateOf(a)
	_, m2, d2 := dateOf(b)
	return m == 12 && d == 31 && m2 == 1 && d2 == 1
}

// dayOf is the day of a date. The arithmetic shifts the beginning of the year to
// March, so that leap days come last.
func dayOf(y, m, d int) Day {
	if m <= 2 {
		y--
		m += 12
	}
	era := y / 400
	if y < 0 {
		era = (y - 399) / 400
	}
	yoe := y - era*400
	doy := (153*(m-3)+2)/5 + d - 1
	return Day(era*146097 + yoe*365 + yoe/4 - yoe/100 + doy - 719468)
}

func dateOf(n Day) (y, m, d int) {
	z := int(n) + 719468
	era := z / 146097
	if z < 0 {
		era = (z - 146096) / 146097
	}
	doe := z - era*146097
	yoe := (doe - doe/1460 + doe/36524 - doe/146096) / 365
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	y, m, d = yoe+era*400, mp+3, doy-(153*mp+2)/5+1
	if m > 12 {
		m -= 12
		y++
	}
	return y, m, d
}

// YearOf is the year of a day.
func yearOf(n Day) int {
	y, _, _ := dateOf(n)
	return y
}

// parseDay reads the day of an xsd:dateTime. Where its zone is not UTC the day may be
// another there: late says that it is the latest day that is wanted.
func parseDay(s string, late bool) (Day, bool) {
	if len(s) < 11 || s[4] != '-' || s[7] != '-' || s[10] != 'T' {
		return 0, false
	}
	num := func(from, to int) int {
		n := 0
		for _, c := range []byte(s[from:to]) {
			if c < '0' || c > '9' {
				return -1
			}
			n = n*10 + int(c-'0')
		}
		return n
	}
	y, m, d := num(0, 4), num(5, 7), num(8, 10)
	if y < 0 || m < 1 || m > 12 || d < 1 || d > 31 {
		return 0, false
	}
	day := dayOf(y, m, d)
	if s[len(s)-1] != 'Z' {
		if late {
			day++
		} else {
			day--
		}
	}
	return day, true
}

package reading

import "strconv"

// DateDay is a day of the proleptic Gregorian calendar with the astronomical
// year: 0 is 1 BC, -205 is 206 BC. The zero value is no day.
type DateDay struct {
	Year       int64
	Month, Day uint8
}

// Known reports whether d is a day.
func (d DateDay) Known() bool { return d.Month != 0 }

// Compare gives -1, 0 or 1 as d is before, on or after e. Both must be known.
func (d DateDay) Compare(e DateDay) int {
	switch {
	case d.Year != e.Year:
		return dateSign(d.Year < e.Year)
	case d.Month != e.Month:
		return dateSign(d.Month < e.Month)
	case d.Day != e.Day:
		return dateSign(d.Day < e.Day)
	}
	return 0
}

func dateSign(less bool) int {
	if less {
		return -1
	}
	return 1
}

// String is d in the extended format of ISO 8601, with a sign and at least four
// digits for years before 1 BC ("-0205-01-01"); "" if d is not known.
func (d DateDay) String() string {
	if !d.Known() {
		return ""
	}
	return string(d.append(make([]byte, 0, 24)))
}

// RFC3339 reports whether d can stand in an RFC 3339 date-time, which knows the
// years 0 to 9999 only. The published JSON Schemas of the profile demand that
// format, so other corners cannot be carried by a schema-valid document;
// xsd:dateTime (XML Schema 1.1) itself can write them.
func (d DateDay) RFC3339() bool { return d.Known() && d.Year >= 0 && d.Year <= 9999 }

func (d DateDay) append(b []byte) []byte {
	b = appendDateYear(b, d.Year)
	b = append(b, '-', '0'+d.Month/10, '0'+d.Month%10)
	return append(b, '-', '0'+d.Day/10, '0'+d.Day%10)
}

// appendDateYear writes a year with a sign if negative and at least four digits.
func appendDateYear(b []byte, y int64) []byte {
	u := uint64(y)
	if y < 0 {
		b = append(b, '-')
		u = -u
	}
	for n := uint64(1000); n > 1 && u < n; n /= 10 {
		b = append(b, '0')
	}
	return strconv.AppendUint(b, u, 10)
}

// FirstSecond is the first second of d as an xsd:dateTime (XML Schema 1.1, whose
// year 0000 is 1 BC), such as "-0099-01-01T00:00:00Z"; "" if d is not known.
// Days are those of the place, not of UTC: Z stands because the profile wants a zone.
func (d DateDay) FirstSecond() string { return d.second("T00:00:00Z") }

// LastSecond is the last second of d, likewise.
func (d DateDay) LastSecond() string { return d.second("T23:59:59Z") }

// AppendFirstSecond appends FirstSecond to b.
func (d DateDay) AppendFirstSecond(b []byte) []byte { return d.appendSecond(b, "T00:00:00Z") }

// AppendLastSecond appends LastSecond to b.
func (d DateDay) AppendLastSecond(b []byte) []byte { return d.appendSecond(b, "T23:59:59Z") }

func (d DateDay) appendSecond(b []byte, clock string) []byte {
	if !d.Known() {
		return b
	}
	return append(d.append(b), clock...)
}

func (d DateDay) second(clock string) string {
	if !d.Known() {
		return ""
	}
	return string(d.appendSecond(make([]byte, 0, 32), clock))
}

func isLeapYear(y int64) bool { return y%4 == 0 && (y%100 != 0 || y%400 == 0) }

func daysInMonth(y int64, m uint8) uint8 {
	switch m {
	case 2:
		if isLeapYear(y) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

func appendDateInt(b []byte, v int64) []byte { return strconv.AppendInt(b, v, 10) }

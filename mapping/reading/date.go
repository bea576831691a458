package reading

import "strings"

// Date is what the words of a date say: when something began and ended, as far
// as the words tell, and how sure they are.
//
// Something dated "1874" happened at some time within that year: it began
// between 1 January and 31 December and ended between the same days. "1871–76"
// began within 1871 and ended within 1876. A corner the words leave open
// ("before 1914" has no beginning) is not [DateDay.Known].
type Date struct {
	DateCorners
	Text         string        // the words as given
	Precision    DatePrecision // the finest unit the words name
	Calendar     DateCalendar  // the calendar the words are written in; the corners are always Gregorian
	Approximate  bool          // circa and its like
	Uncertain    bool          // the source doubts it: "1874?", "probably 1874"
	Alternatives []DateCorners // "1874 or 1875": each of them, in order of writing; nil if there is one reading

	expr dateExpr
}

// DateCorners are the four corners of a time span (CIDOC CRM P81, P82; the
// profile's begin_of_the_begin, end_of_the_begin, begin_of_the_end and
// end_of_the_end): the beginning lies between the first two, the end between the
// last two. Known corners are ordered: EarliestBegin ≤ LatestBegin,
// EarliestEnd ≤ LatestEnd, EarliestBegin ≤ EarliestEnd, LatestBegin ≤ LatestEnd.
type DateCorners struct {
	EarliestBegin, LatestBegin, EarliestEnd, LatestEnd DateDay
}

// DatePrecision is a unit of time.
type DatePrecision uint8

// The precisions, from the finest.
const (
	DatePrecisionNone DatePrecision = iota // no unit: both ends open
	DatePrecisionDay
	DatePrecisionMonth
	DatePrecisionSeason // a season, a quarter of a year or a term
	DatePrecisionYear
	DatePrecisionDecade
	DatePrecisionCentury
	DatePrecisionMillennium
)

// DateCalendar is a calendar in which words are written.
type DateCalendar uint8

// The calendars.
const (
	DateGregorian DateCalendar = iota
	DateJulian
)

// DateConventions are habits of writing dates. The zero value gives the defaults
// stated with each field.
type DateConventions struct{}

// BeginOfTheBegin is the first second of EarliestBegin as an xsd:dateTime, or ""
// if that corner is open.
func (c *DateCorners) BeginOfTheBegin() string { return c.EarliestBegin.firstSecond() }

// EndOfTheBegin is the last second of LatestBegin as an xsd:dateTime, or "".
func (c *DateCorners) EndOfTheBegin() string { return c.LatestBegin.lastSecond() }

// BeginOfTheEnd is the first second of EarliestEnd as an xsd:dateTime, or "".
func (c *DateCorners) BeginOfTheEnd() string { return c.EarliestEnd.firstSecond() }

// EndOfTheEnd is the last second of LatestEnd as an xsd:dateTime, or "".
func (c *DateCorners) EndOfTheEnd() string { return c.LatestEnd.lastSecond() }

// EDTF is d in the Extended Date/Time Format (Library of Congress, 2019;
// ISO 8601-2:2019). Read again under the same conventions it gives the same
// corners.
func (d *Date) EDTF() string { return d.expr.edtf }

// ReadDate reads the words of a date under conventions c; nil means the
// defaults. The error is always an *[Unread].
func ReadDate(text string, c *Conventions) (Date, error) {
	d := Date{Text: text}
	t := strings.TrimSpace(text)
	a, b := t, t
	for _, sep := range []string{"/", "–", "—"} {
		if x, y, ok := strings.Cut(t, sep); ok {
			a, b = strings.TrimSpace(x), strings.TrimSpace(y)
			break
		}
	}
	begin, ok1 := dateISO(a)
	end, ok2 := dateISO(b)
	if !ok1 || !ok2 {
		return Date{}, &Unread{Text: text, Code: "unknown-words", Reason: "these words are not a date this reader knows", At: -1}
	}
	if end[1].Compare(begin[0]) < 0 {
		return Date{}, &Unread{Text: text, Code: "backwards", Reason: "the range ends before it begins", At: -1}
	}
	d.EarliestBegin, d.LatestBegin = begin[0], begin[1]
	d.EarliestEnd, d.LatestEnd = end[0], end[1]
	d.Precision = [...]DatePrecision{4: DatePrecisionYear, 7: DatePrecisionMonth, 10: DatePrecisionDay}[len(a)]
	d.expr.edtf = a
	if a != b {
		d.expr.edtf = a + "/" + b
	}
	return d, nil
}

type dateExpr struct{ edtf string }

// dateISO reads YYYY, YYYY-MM and YYYY-MM-DD.
func dateISO(s string) (r [2]DateDay, ok bool) {
	n := [3]int{}
	switch len(s) {
	case 4, 7, 10:
	default:
		return r, false
	}
	k := 0
	for i := 0; i < len(s); i++ {
		if i == 4 || i == 7 {
			if s[i] != '-' {
				return r, false
			}
			k++
			continue
		}
		if s[i] < '0' || s[i] > '9' {
			return r, false
		}
		n[k] = n[k]*10 + int(s[i]-'0')
	}
	y, m, day := int64(n[0]), uint8(n[1]), uint8(n[2])
	switch k {
	case 0:
		return [2]DateDay{{y, 1, 1}, {y, 12, 31}}, true
	case 1:
		if m < 1 || m > 12 {
			return r, false
		}
		return [2]DateDay{{y, m, 1}, {y, m, daysInMonth(y, m)}}, true
	}
	if m < 1 || m > 12 || day < 1 || day > daysInMonth(y, m) {
		return r, false
	}
	return [2]DateDay{{y, m, day}, {y, m, day}}, true
}

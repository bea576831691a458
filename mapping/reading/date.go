package reading

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

	expr EDTF
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

var datePrecisionNames = [...]string{"none", "day", "month", "season", "year", "decade", "century", "millennium"}

// String is the English name of the unit.
func (p DatePrecision) String() string { return datePrecisionNames[p] }

// DateCalendar is a calendar in which words are written.
type DateCalendar uint8

// The calendars.
const (
	DateGregorian DateCalendar = iota
	DateJulian
)

// String is "Gregorian" or "Julian".
func (c DateCalendar) String() string {
	if c == DateJulian {
		return "Julian"
	}
	return "Gregorian"
}

// BeginOfTheBegin is the first second of EarliestBegin as an xsd:dateTime, or ""
// if that corner is open.
func (c *DateCorners) BeginOfTheBegin() string { return c.EarliestBegin.FirstSecond() }

// EndOfTheBegin is the last second of LatestBegin as an xsd:dateTime, or "".
func (c *DateCorners) EndOfTheBegin() string { return c.LatestBegin.LastSecond() }

// BeginOfTheEnd is the first second of EarliestEnd as an xsd:dateTime, or "".
func (c *DateCorners) BeginOfTheEnd() string { return c.EarliestEnd.FirstSecond() }

// EndOfTheEnd is the last second of LatestEnd as an xsd:dateTime, or "".
func (c *DateCorners) EndOfTheEnd() string { return c.LatestEnd.LastSecond() }

// EDTF is d in the Extended Date/Time Format (Library of Congress, 2019;
// ISO 8601-2:2019). Read again under the same conventions it gives the same
// EarliestBegin and LatestEnd, and the same four corners if [Date.EDTFExact].
func (d *Date) EDTF() string {
	if d.expr.form == edtfInterval && !d.EarliestBegin.Known() && !d.LatestEnd.Known() {
		return ""
	}
	return d.expr.String()
}

// EDTFExact reports whether EDTF says all that d does. It cannot say that the
// beginning or the end of a time lies between two dates ("1652 or 1658 – 1746"):
// there it gives the outer date with a question mark, and nothing at all for a time
// that has no outer date ("died after 1773").
func (d *Date) EDTFExact() bool { return d.expr.exact() }

// exact reports whether the string form of e says all that e holds.
func (e *EDTF) exact() bool {
	simple := func(p *edtfPoint) bool { return p.kind <= edtfSingle }
	for i := -1; i < len(e.more); i++ {
		it := &e.first
		if i >= 0 {
			it = &e.more[i]
		}
		switch {
		case it.span && (e.form == edtfOneOf || !simple(&it.begin) || !simple(&it.end)):
			return false
		case it.span && e.form == edtfAllOf && (it.begin.kind == edtfUnknown || it.end.kind == edtfUnknown):
			return false
		case !it.span && e.form == edtfAllOf && it.begin.kind != edtfSingle:
			return false
		}
	}
	return true
}

// ReadDate reads the words of a date under conventions c; nil means the
// defaults. Strings of EDTF are read as such. Texts that speak of birth, death or
// activity are read as [ReadLife] reads them and give the time between.
//
// The error is always an *[Unread], with one of the codes "empty", "no-date" (the
// words say that it is not known), "unknown-words", "incomplete", "no-year",
// "small-number", "two-digit-year", "ambiguous-day-month", "ambiguous-era",
// "ambiguous-part", "ambiguous-year", "ambiguous-hundred", "ambiguous-plus", "ambiguous-dash",
// "no-such-day", "backwards", "contradiction", "two-dates", "other-event", "unknown-reign",
// "implausible", "too-long", "geological-period", "archaeological-period",
// "before-present" and "period-name".
func ReadDate(text string, c *Conventions) (Date, error) {
	d := Date{Text: text}
	conv := c.date()
	if u := d.read(conv); u != nil {
		return Date{Text: text}, u
	}
	return d, nil
}

func (d *Date) read(conv *DateConventions) *Unread {
	t := trimDate(d.Text)
	if t == "" {
		return &Unread{Text: d.Text, Code: "empty", Reason: "there are no words", At: -1}
	}
	if maybeEDTF(t) {
		p := edtfParser{s: t}
		if e := p.parse(); p.code == "" && !e.rivals(conv, t) {
			if len(e.more) == 0 && e.form == edtfOneOf && e.first.begin.kind == edtfSingle && !e.first.begin.a.mistaken() {
				e.form = edtfDateForm // "[1874]": brackets of a cataloguer
			}
			d.expr = e
			d.settle(conv)
			d.Precision = e.precision()
			return nil
		}
	}
	var p dateParser
	p.c = conv
	if !p.lex.lex(t) {
		return &Unread{Text: d.Text, Code: "too-long", Reason: "the text is too long to be a date", At: -1}
	}
	if !p.cell(&d.expr) {
		return p.unread(d.Text, t)
	}
	d.finish(&p)
	if d.backwards() {
		return &Unread{Text: d.Text, Code: "backwards", Reason: "the time ends before it begins", At: -1}
	}
	if d.DateCorners == (DateCorners{}) {
		return &Unread{Text: d.Text, Code: "incomplete", Reason: "no end of the time is known", At: -1}
	}
	return nil
}

// finish fills d from its expression and from what p saw.
func (d *Date) finish(p *dateParser) {
	d.settle(p.c)
	d.Precision = p.finest
	if p.julian {
		d.Calendar = DateJulian
	}
}

func (p *dateParser) unread(text, trimmed string) *Unread {
	at := int(p.at)
	if len(p.lex.text) != len(trimmed) { // normalised: places are not those of the text
		at = -1
	} else {
		for i := 0; i+len(trimmed) <= len(text); i++ {
			if text[i:i+len(trimmed)] == trimmed {
				at += i
				break
			}
		}
	}
	return &Unread{Text: text, Code: p.code, Reason: p.reason, At: at}
}

// settle derives the corners and flags from the expression.
func (d *Date) settle(c *DateConventions) {
	d.DateCorners = d.expr.corners(c)
	d.Approximate = d.expr.any(edtfDate.approximate)
	d.Uncertain = d.expr.any(edtfDate.uncertain)
	if d.expr.form == edtfOneOf && len(d.expr.more) > 0 {
		d.Alternatives = make([]DateCorners, 0, len(d.expr.more)+1)
		d.Alternatives = append(d.Alternatives, d.expr.first.corners(c, true))
		for i := range d.expr.more {
			d.Alternatives = append(d.Alternatives, d.expr.more[i].corners(c, true))
		}
	}
}

func (e *EDTF) precision() DatePrecision {
	x := DatePrecisionNone
	e.any(func(d edtfDate) bool {
		if p := d.precision(); x == DatePrecisionNone || p < x {
			x = p
		}
		return false
	})
	return x
}

// trimDate cuts blanks and a closing full stop or comma.
func trimDate(s string) string {
	i, j := 0, len(s)
	for i < j && (s[i] <= ' ') {
		i++
	}
	for i < j && (s[j-1] <= ' ') {
		j--
	}
	return s[i:j]
}

// maybeEDTF reports whether t has only characters of EDTF, of which words have
// few.
func maybeEDTF(t string) bool {
	switch c := t[0]; {
	case c >= '0' && c <= '9', c == '-', c == '[', c == '{', c == 'Y', c == 'X', c == '?', c == '~', c == '%', c == '.', c == '/':
	default:
		return false
	}
	for i := 0; i < len(t); i++ {
		if !edtfByte[t[i]] {
			return false
		}
	}
	return true
}

var edtfByte = func() (set [256]bool) {
	for _, c := range []byte("0123456789-/.,:+[]{}?~%XYEST Z") {
		set[c] = c != ' '
	}
	return set
}()

// rivals reports whether the words of a curator more likely mean something else
// than the EDTF they happen to be: see DateConventions.Hyphen and LeadingDash.
func (e *EDTF) rivals(c *DateConventions, t string) bool {
	if e.form == edtfInterval {
		y := e.first.end.a.year
		return e.first.end.kind == edtfSingle && y > lastYear && y <= 9999 && e.first.end.a.mask == 0
	}
	if e.form != edtfDateForm {
		return false
	}
	d := e.first.begin.a
	switch {
	case d.year == 0 && len(t) == 4, d.year > lastYear && d.year <= 9999 && d.mask == 0: // "0000", "9999" fill a field
		return true
	case d.year < 0 && len(t) == 5 && c.LeadingDash == DateDashUntil:
		return true
	case len(t) != 7 || t[4] != '-' || d.mask != 0 || d.day != 0 || int64(d.month) <= d.year%100:
		return false
	case d.month > 12:
		return d.year < 2000
	}
	return c.Hyphen == DateHyphenRange
}

package reading

// DateConventions are habits of writing dates. The zero value gives the defaults
// stated with each field.
type DateConventions struct {
	// Circa says how far an approximate date reaches. Default:
	// DateCircaByPrecision.
	Circa DateCirca
	// CircaYears is the reach in years either way with DateCircaFixed; 0 leaves
	// approximate dates as narrow as exact ones.
	CircaYears int
	// CircaRanges says what circa does to the ends of a written range ("c. 1750–60",
	// "c. 1750 –"), in a list, or of part of a century ("c. mid 19th century"). Default: it widens them as
	// it widens a single date.
	CircaRanges DateCircaRanges

	// Century says which hundred years a numbered century AD is. Default:
	// DateCenturyFrom00, 1800 to 1899 for the 19th, as the hundreds of EDTF
	// (18XX) and of "the 1800s". Centuries BC are 300 to 201 BC for the third in
	// either case.
	Century DateCentury
	// Hundreds says what "the 1800s" are. Default: DateHundredsCentury.
	Hundreds DateHundreds
	// EarlyPercent, MidPercent and LatePercent are the shares of a century,
	// decade, year or month that "early", "mid" and "late" take, of its begin,
	// around its middle, of its end, rounded up to whole years (months, days).
	// 0 means 34, about a third each.
	EarlyPercent, MidPercent, LatePercent int
	// TurnYears is how far "turn of the century" reaches either way from the
	// first year of the century named. 0 means 10.
	TurnYears int

	// Order says what 3/4/1921 means. Default: DateOrderUnknown, such dates are
	// not read unless one number is above 12. Numbers between full stops
	// (3.4.1921) are always day, month, year, as no English usage rivals it.
	Order DateOrder
	// TwoDigitYears is the first year of the hundred to which two-digit years of
	// full dates belong: with 1870, 25-Oct-31 is in 1931 and 25-Oct-92 in 1892. 0
	// means that such dates are not read.
	TwoDigitYears int
	// MinYear is the least number that is a year with nothing to say so (no
	// "AD", no month). 0 means 100.
	MinYear int
	// Hyphen says what 1908-12 is. Default: DateHyphenISO, December 1908, as in
	// ISO 8601 and EDTF. "1921-25" (a sub-year code of EDTF but hardly ever meant
	// so) is a range in either case.
	Hyphen DateHyphen
	// LeadingDash says what -1460 is. Default: DateDashYear, a year before
	// Christ, as in ISO 8601 and EDTF.
	LeadingDash DateDash

	// Plus says what 1670+ is where no other mark of a life stands in the text.
	// Default: DatePlusUnread. Before a date ("+1566") and after a range
	// ("1545-1563+") it is always a death, as † is.
	Plus DatePlus

	// JulianUntil is the first day (Gregorian) of the Gregorian calendar where
	// the museum's dates were written: days before it are read as Julian and
	// converted. The zero value converts none but those marked Old Style:
	// 1582-10-15 suits Rome, 1752-09-14 Britain, 1753-03-01 Sweden, 1700-03-01
	// Denmark and Protestant Germany.
	JulianUntil DateDay
	// Southern takes seasons as they are south of the equator.
	Southern bool

	// Exclusive leaves the year itself out of "before 1914" and "after 1914".
	// Default: the year counts, as a terminus ante or post quem does.
	Exclusive bool
	// BeforeYears and AfterYears bound "before" and "after" that many years from
	// the date named; the ends of ranges and lives stay open. 0 leaves that side
	// open.
	BeforeYears, AfterYears int

	// LaterStages names the later stages of a work whose dates belong to the
	// date read, in the English words of [DateStageNames]: "1926, printed 1974"
	// is 1926 to 1974 if "printed" is among them, 1926 if not. nil means those
	// that make or change the thing itself; an empty list none.
	LaterStages []string
}

// DateCirca is a way to widen approximate dates.
type DateCirca uint8

const (
	// DateCircaByPrecision reaches a tenth of the time named either way, at least
	// five years (c. 1874: 1869 to 1879; c. 19th century: ten years either way);
	// one year for months, seasons and days.
	DateCircaByPrecision DateCirca = iota
	// DateCircaFixed reaches DateConventions.CircaYears; for months, seasons and
	// days one year at most.
	DateCircaFixed
)

// DateCircaRanges says what circa does to ranges.
type DateCircaRanges uint8

const (
	DateCircaWidensRanges DateCircaRanges = iota // both ends are widened
	DateCircaKeepsRanges                         // the range is already as wide as is meant
)

// DateCentury is a way to cut centuries.
type DateCentury uint8

const (
	DateCenturyFrom00 DateCentury = iota // 1800 to 1899 (1 to 99 for the first)
	DateCenturyFrom01                    // 1801 to 1900
)

// DateHundreds is a meaning of "the 1800s".
type DateHundreds uint8

const (
	DateHundredsCentury DateHundreds = iota // 1800 to 1899
	DateHundredsDecade                      // 1800 to 1809
	DateHundredsUnread                      // ambiguous: not read
)

// DateOrder is an order of day and month in figures.
type DateOrder uint8

const (
	DateOrderUnknown DateOrder = iota
	DateDayFirst
	DateMonthFirst
)

// DateHyphen is a meaning of a year, a hyphen and two digits from 01 to 12.
type DateHyphen uint8

const (
	DateHyphenISO   DateHyphen = iota // a month
	DateHyphenRange                   // a year of the same century, if later than the first
)

// DateDash is a meaning of a year after a dash.
type DateDash uint8

const (
	DateDashYear  DateDash = iota // a year before Christ
	DateDashUntil                 // the end of a time whose beginning is not known
)

// DatePlus is a meaning of a plus sign after a single year.
type DatePlus uint8

const (
	DatePlusUnread  DatePlus = iota // ambiguous: not read
	DatePlusDied                    // a death
	DatePlusOnwards                 // that year or later
)

var defaultDateConventions DateConventions

func (c *Conventions) date() *DateConventions {
	if c == nil {
		return &defaultDateConventions
	}
	return &c.Date
}

func (c *DateConventions) minYear() int64 {
	if c.MinYear == 0 {
		return 100
	}
	return int64(c.MinYear)
}

// reach is the number of years circa adds either way to a date of so many years;
// 0 years means a unit smaller than a year.
func (c *DateConventions) reach(years int64) int64 {
	n := max(5, years/10)
	if c.Circa == DateCircaFixed {
		n = int64(max(0, c.CircaYears))
	}
	if years == 0 {
		n = min(n, 1)
	}
	return n
}

// Corners gives the four corners of e under conventions c, which say how far
// approximate and open dates reach; nil means the defaults.
func (e *EDTF) Corners(c *Conventions) DateCorners { return e.corners(c.date()) }

func (e *EDTF) corners(c *DateConventions) DateCorners {
	single := e.form != edtfAllOf
	r := e.first.corners(c, single)
	for i := range e.more {
		next := e.more[i].corners(c, single)
		if e.form == edtfAllOf {
			r = r.all(next)
		} else {
			r = r.either(next)
		}
	}
	return r
}

// corners gives the corners of an item. single says that the item is not one of
// several that all hold: only then do conventions bound an open side.
func (it *edtfItem) corners(c *DateConventions, single bool) DateCorners {
	single = single && !it.span
	lo, hi := it.begin.bounds(c, !single)
	if !it.span {
		return DateCorners{lo, hi, lo, hi}
	}
	r := DateCorners{EarliestBegin: lo, LatestBegin: hi}
	r.EarliestEnd, r.LatestEnd = it.end.bounds(c, !single)
	return r.settled()
}

// closed reports whether p is bounded on both sides.
func (p *edtfPoint) closed() bool { return p.kind == edtfSingle || p.kind == edtfWithin }

// settled uses that no end comes before its beginning to narrow the inner corners.
func (r DateCorners) settled() DateCorners {
	if r.LatestEnd.Known() && r.LatestBegin.Known() && r.LatestEnd.Compare(r.LatestBegin) < 0 {
		r.LatestBegin = r.LatestEnd
	}
	if r.EarliestBegin.Known() && r.EarliestEnd.Known() && r.EarliestEnd.Compare(r.EarliestBegin) < 0 {
		r.EarliestEnd = r.EarliestBegin
	}
	return r
}

// backwards reports whether the time can only end before it begins.
func (r *DateCorners) backwards() bool {
	return r.EarliestBegin.Known() && r.LatestEnd.Known() && r.LatestEnd.Compare(r.EarliestBegin) < 0
}

// either is the time of one of two, not known which.
func (r DateCorners) either(s DateCorners) DateCorners {
	return DateCorners{
		dateEarlier(r.EarliestBegin, s.EarliestBegin, false), dateLater(r.LatestBegin, s.LatestBegin, false),
		dateEarlier(r.EarliestEnd, s.EarliestEnd, false), dateLater(r.LatestEnd, s.LatestEnd, false),
	}
}

// all is the time that begins with the first and ends with the last of two.
func (r DateCorners) all(s DateCorners) DateCorners {
	return DateCorners{
		dateEarlier(r.EarliestBegin, s.EarliestBegin, false), dateEarlier(r.LatestBegin, s.LatestBegin, true),
		dateLater(r.EarliestEnd, s.EarliestEnd, true), dateLater(r.LatestEnd, s.LatestEnd, false),
	}.settled()
}

// dateEarlier is the earlier of two days. A day not known is beyond all others,
// so that it wins, unless either will do.
func dateEarlier(a, b DateDay, either bool) DateDay { return datePick(a, b, -1, either) }

func dateLater(a, b DateDay, either bool) DateDay { return datePick(a, b, 1, either) }

func datePick(a, b DateDay, sign int, either bool) DateDay {
	switch {
	case !a.Known() && either, a.Known() && !b.Known() && !either:
		return b
	case !a.Known(), !b.Known():
		return a
	case a.Compare(b)*sign >= 0:
		return a
	}
	return b
}

// bounds gives the first and last day p may stand for under c; a side that is
// open is not known.
// joined says that p is an end of a time or one of several dates that all hold.
func (p *edtfPoint) bounds(c *DateConventions, joined bool) (lo, hi DateDay) {
	keep := (joined || p.kind == edtfWithin) && c.CircaRanges == DateCircaKeepsRanges
	switch p.kind {
	case edtfSingle:
		return p.a.widened(c, keep)
	case edtfWithin:
		lo, _ = p.a.widened(c, keep)
		_, hi = p.b.widened(c, keep)
		if hi.Compare(lo) < 0 { // the ends are approximate to different degrees
			lo, hi = hi, lo
		}
	case edtfUpTo:
		_, hi = p.b.widened(c, keep)
		if c.BeforeYears > 0 && !joined {
			_, lo = p.b.widened(c, true)
			lo = DateDay{lo.Year - int64(c.BeforeYears), 1, 1}
		}
	case edtfOnward:
		lo, _ = p.a.widened(c, keep)
		if c.AfterYears > 0 && !joined {
			hi, _ = p.a.widened(c, true)
			hi = DateDay{hi.Year + int64(c.AfterYears), 12, 31}
		}
	}
	return lo, hi
}

// widened gives the bounds of d with what circa adds.
func (d edtfDate) widened(c *DateConventions, keep bool) (lo, hi DateDay) {
	lo, hi, _ = d.boundsAt(c.Southern)
	if keep || !d.approximate() {
		return lo, hi
	}
	years := int64(0)
	if d.month == 0 {
		years = hi.Year - lo.Year + 1
	}
	n := c.reach(years)
	return lo.shifted(-n), hi.shifted(n)
}

// shifted moves d by years; 29 February becomes the 28th in common years.
func (d DateDay) shifted(years int64) DateDay {
	d.Year += years
	d.Day = min(d.Day, daysInMonth(d.Year, d.Month))
	return d
}

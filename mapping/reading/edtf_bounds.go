package reading

// bounds gives the first and the last day that d may mean, without the doubt of
// its marks. It reports false if no day of the calendar fits. A season runs as
// it does north of the equator.
func (d edtfDate) bounds() (lo, hi DateDay, ok bool) { return d.boundsAt(false) }

func (d edtfDate) boundsAt(south bool) (lo, hi DateDay, ok bool) {
	first, last := d.yearBounds()
	if d.month == 0 {
		return DateDay{first, 1, 1}, DateDay{last, 12, 31}, true
	}
	if d.month < edtfMasked && d.month > 12 {
		return dateSeason(d.month, first, last, south)
	}
	if d.mask == 0 {
		if d.day == 0 {
			return DateDay{first, d.month, 1}, DateDay{last, d.month, daysInMonth(last, d.month)}, true
		}
		if d.day > daysInMonth(first, d.month) {
			return lo, hi, false
		}
		day := DateDay{first, d.month, d.day}
		return day, day, true
	}
	if lo, ok = d.search(first, last, 1); !ok {
		return lo, hi, false
	}
	hi, _ = d.search(last, first, -1)
	return lo, hi, true
}

// yearBounds gives the first and last year d may mean.
func (d edtfDate) yearBounds() (first, last int64) {
	first, last = d.year, d.year
	if d.sig > 0 {
		unit := int64(1)
		for n := dateDigits(d.year); n > int(d.sig); n-- {
			unit *= 10
		}
		if d.year < 0 {
			last = d.year / unit * unit
			return last - unit + 1, last
		}
		first = d.year / unit * unit
		return first, first + unit - 1
	}
	if d.mask&edtfYearX == 0 {
		return first, last
	}
	var span int64
	for i, n := 0, int64(1); i < 4; i, n = i+1, n*10 {
		if d.mask&(1<<i) != 0 {
			span += 9 * n
		}
	}
	if d.qual&edtfNegative != 0 {
		return first - span, min(last, -1)
	}
	return first, last + span
}

// search finds the first day that fits d, going from year to year until in
// steps. Only a leap day can be missing from a year, so few years are visited.
func (d edtfDate) search(from, until, step int64) (DateDay, bool) {
	for y := from; ; y += step {
		if d.fitsYear(y) {
			for k := range uint8(12) {
				m := k + 1
				if step < 0 {
					m = 12 - k
				}
				if !dateFits(d.month, d.mask>>4&3, m) {
					continue
				}
				n := daysInMonth(y, m)
				for k := range n {
					day := k + 1
					if step < 0 {
						day = n - k
					}
					if d.day == 0 || dateFits(d.day, d.mask>>6&3, day) {
						return DateDay{y, m, day}, true
					}
				}
			}
		}
		if y == until {
			return DateDay{}, false
		}
	}
}

func (d edtfDate) fitsYear(y int64) bool {
	if d.mask&edtfYearX == 0 || d.sig > 0 {
		return true
	}
	a, b := y, d.year
	if d.qual&edtfNegative != 0 {
		a, b = -a, -b
	}
	for i := range 4 {
		if d.mask&(1<<i) == 0 && a%10 != b%10 {
			return false
		}
		a, b = a/10, b/10
	}
	return true
}

// dateFits reports whether v has the digits of pattern where the mask has none
// written X; bit 0 of the mask is the units.
func dateFits(pattern, mask, v uint8) bool {
	p := pattern &^ edtfMasked
	return (mask&1 != 0 || p%10 == v%10) && (mask&2 != 0 || p/10 == v/10)
}

// dateSeason gives the days of a sub-year code (EDTF level 2, sub-year
// groupings). No standard says when seasons begin, so each runs from the first
// day of its meteorological to the last of its astronomical definition. Winter
// may be either end of a year: 24 covers January of the year to March of the next.
func dateSeason(code uint8, first, last int64, south bool) (lo, hi DateDay, ok bool) {
	switch {
	case code <= 24:
		code -= 21
		if south {
			code |= 8
		}
	case code <= 28:
		code -= 25
	case code <= 32:
		code = code - 29 | 8
	case code <= 36:
		m := (code - 33) * 3
		return DateDay{first, m + 1, 1}, DateDay{last, m + 3, daysInMonth(last, m+3)}, true
	case code <= 39:
		m := (code - 37) * 4
		return DateDay{first, m + 1, 1}, DateDay{last, m + 4, daysInMonth(last, m+4)}, true
	default:
		m := (code - 40) * 6
		return DateDay{first, m + 1, 1}, DateDay{last, m + 6, daysInMonth(last, m+6)}, true
	}
	switch code {
	case 0, 2 | 8:
		return DateDay{first, 3, 1}, DateDay{last, 6, 21}, true
	case 1, 3 | 8:
		return DateDay{first, 6, 1}, DateDay{last, 9, 23}, true
	case 2, 0 | 8:
		return DateDay{first, 9, 1}, DateDay{last, 12, 22}, true
	}
	return DateDay{first, 1, 1}, DateDay{last + 1, 3, 21}, true
}

// earlier reports whether d begins before e; of two that begin together an
// approximate one may be the earlier.
func (d edtfDate) earlier(e edtfDate) bool {
	if c := dateFirstDay(d).Compare(dateFirstDay(e)); c != 0 {
		return c < 0
	}
	return d.approximate() && !e.approximate()
}

// later reports whether d ends after e, likewise.
func (d edtfDate) later(e edtfDate) bool {
	if c := dateLastDay(d).Compare(dateLastDay(e)); c != 0 {
		return c > 0
	}
	return d.approximate() && !e.approximate()
}

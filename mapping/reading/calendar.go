package reading

// Calendars other than the proleptic Gregorian one are converted through the day
// number: days since 1 January of the Gregorian year 0, which is day 0.

// dayNumber counts days in the proleptic Gregorian calendar.
func (d DateDay) dayNumber() int64 {
	y := d.Year - 1 // years before this one, from year 0
	n := 365*d.Year + floorDiv(y, 4) - floorDiv(y, 100) + floorDiv(y, 400) + 1
	for m := uint8(1); m < d.Month; m++ {
		n += int64(daysInMonth(d.Year, m))
	}
	return n + int64(d.Day) - 1
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// dayFromNumber is the Gregorian day with number n.
func dayFromNumber(n int64) DateDay {
	y := floorDiv(n*400, 146097)
	for (DateDay{y + 1, 1, 1}).dayNumber() <= n {
		y++
	}
	for (DateDay{y, 1, 1}).dayNumber() > n {
		y--
	}
	d := DateDay{y, 1, 1}
	n -= d.dayNumber()
	for n >= int64(daysInMonth(y, d.Month)) {
		n -= int64(daysInMonth(y, d.Month))
		d.Month++
	}
	d.Day += uint8(n)
	return d
}

// julianDay is the Gregorian day of a day written in the Julian calendar (with
// astronomical year). It reports false if the Julian calendar has no such day.
func julianDay(y int64, m, day uint8) (DateDay, bool) {
	if m < 1 || m > 12 || day < 1 || day > julianMonth(y, m) {
		return DateDay{}, false
	}
	n := 365*y + floorDiv(y-1, 4) + 1
	for k := uint8(1); k < m; k++ {
		n += int64(julianMonth(y, k))
	}
	// 1 January of year 0 is two days earlier in the Julian calendar
	return dayFromNumber(n + int64(day) - 1 - 2), true
}

func julianMonth(y int64, m uint8) uint8 {
	if m == 2 && y%4 == 0 {
		return 29
	}
	if m == 2 {
		return 28
	}
	return daysInMonth(1, m)
}

// easter is Easter Sunday as a Gregorian day, by the Julian reckoning or by the
// Gregorian one (Meeus, Astronomical Algorithms, chapter 8, from memory; tested
// against known dates).
func easter(y int64, julian bool) DateDay {
	if julian {
		a, b, c := y%4, y%7, y%19
		d := (19*c + 15) % 30
		e := (2*a + 4*b - d + 34) % 7
		f := d + e + 114
		day, _ := julianDay(y, uint8(f/31), uint8(f%31+1))
		return day
	}
	a, b, c := y%19, y/100, y%100
	h := (19*a + b - b/4 - (b-(b+8)/25+1)/3 + 15) % 30
	l := (32 + 2*(b%4) + 2*(c/4) - h - c%4) % 7
	m := (a + 11*h + 22*l) / 451
	f := h + l - 7*m + 114
	return DateDay{y, uint8(f / 31), uint8(f%31 + 1)}
}

// Months of the French Republican calendar.
var frenchMonthWords = []dateWords{
	{dateFrenchMonth, 1, "vendémiaire, vend"},
	{dateFrenchMonth, 2, "brumaire, brum"},
	{dateFrenchMonth, 3, "frimaire, frim"},
	{dateFrenchMonth, 4, "nivôse, niv"},
	{dateFrenchMonth, 5, "pluviôse, pluv"},
	{dateFrenchMonth, 6, "ventôse, vent"},
	{dateFrenchMonth, 7, "germinal, germ"},
	{dateFrenchMonth, 8, "floréal"},
	{dateFrenchMonth, 9, "prairial, prair"},
	{dateFrenchMonth, 10, "messidor, mess"},
	{dateFrenchMonth, 11, "thermidor, therm"},
	{dateFrenchMonth, 12, "fructidor, fruct"},
	{dateFrenchMonth, 13, "jour complémentaire, jours complémentaires, sans culottides"},
}

// frenchYearStart holds the Gregorian day in September on which the years I to
// XV of the French Republic began (1792 to 1806); the calendar was in use until
// 10 nivôse XIV, 31 December 1805.
var frenchYearStart = [...]uint8{22, 22, 22, 23, 22, 22, 22, 23, 23, 23, 23, 24, 23, 23, 23}

// frenchDays gives the days of a year of the Republic, or of a month of it if m
// is not 0, or a day if d is not 0.
func frenchDays(y int64, m, d uint8) (lo, hi DateDay, ok bool) {
	if y < 1 || y > 14 {
		return lo, hi, false
	}
	start := DateDay{1791 + y, 9, frenchYearStart[y-1]}.dayNumber()
	end := DateDay{1792 + y, 9, frenchYearStart[y]}.dayNumber() - 1
	last := DateDay{1805, 12, 31}.dayNumber()
	if m != 0 {
		start += int64(m-1) * 30
		end = min(end, start+29)
	}
	if d != 0 {
		if start+int64(d)-1 > end {
			return lo, hi, false
		}
		start += int64(d) - 1
		end = start
	}
	end = min(end, last)
	return dayFromNumber(start), dayFromNumber(end), start <= last
}

// hijriYear gives the days of a year of the Islamic calendar by its arithmetical
// form (leap years 2, 5, 7, 10, 13, 16, 18, 21, 24, 26 and 29 of thirty; epoch 16
// July 622 Julian), a day wider either way, as the observed calendar may differ.
func hijriYear(y int64) (lo, hi DateDay) {
	epoch := DateDay{622, 7, 19}.dayNumber()
	start := func(y int64) int64 { return epoch + (y-1)*354 + floorDiv(3+11*y, 30) }
	return dayFromNumber(start(y) - 1), dayFromNumber(start(y + 1))
}

package reading

// build joins the units, whose gaps are filled, into an expression. Slashes bind
// closest, then ranges, then or, then and with commas.
func (p *dateParser) build(e *EDTF) bool {
	or, n := false, 0
	for i := 0; i < p.n; {
		it, next, ok := p.item(i)
		if !ok {
			return false
		}
		conn := p.conns[i]
		if n > 0 && p.stage[i] != p.stage[0] && it.begin.kind == edtfUpTo && !it.span {
			// "1958, printed no later than 1968": not before the work itself
			if a, ok := e.first.begin.low(); ok {
				if dateLastDay(it.begin.b).Compare(dateFirstDay(a)) < 0 {
					return p.failAt(&p.units[i], "backwards", "a later stage comes before the first")
				}
				it.begin.kind, it.begin.a = edtfWithin, a
			}
		}
		if conn == connOr {
			or = true
		}
		if n == 0 {
			e.first = it
		} else {
			e.more = append(e.more, it)
		}
		n++
		i = next
	}
	if n == 2 && !or && p.stage[0] == p.stage[p.n-1] {
		if a, b := &e.first, &e.more[0]; !a.span && !b.span && a.begin.kind == edtfOnward && b.begin.kind == edtfUpTo {
			if dateLastDay(b.begin.b).Compare(dateFirstDay(a.begin.a)) < 0 {
				return p.failAt(&p.units[0], "backwards", "the time ends before it begins")
			}
			a.begin, e.more = edtfPoint{kind: edtfWithin, a: a.begin.a, b: b.begin.b}, nil // "after 1500, before 1550"
			n = 1
		}
	}
	if n > 1 {
		e.form = edtfAllOf
		if or || p.vagueList(e) {
			e.form = edtfOneOf
		}
		return p.listed(e)
	}
	p.single(e)
	return true
}

// vagueList reports whether a list without "or" still names times in one of
// which something was made, as "late 18C.; early 19C." hardly means both.
func (p *dateParser) vagueList(e *EDTF) bool {
	for i := range p.n {
		if p.units[i].kind < unitDecade || p.stage[i] != p.stage[0] {
			return false
		}
	}
	for i := range e.more {
		if e.more[i].span {
			return false
		}
	}
	return !e.first.span
}

// single gives an expression of one item its form.
func (p *dateParser) single(e *EDTF) {
	switch it := &e.first; {
	case it.span:
		e.form = edtfInterval
	case it.begin.kind == edtfSingle:
		e.form = edtfDateForm
		if it.begin.a.mistaken() {
			e.form = edtfOneOf // "[1920-21]", as 1920-21 would be read as a range
		}
	default:
		e.form = edtfOneOf
	}
}

// mistaken reports whether the string of d would not be read as EDTF: see EDTF.rivals.
func (d edtfDate) mistaken() bool {
	if d.mask == 0 && d.year > lastYear && d.year <= 9999 || d.year == 0 && d.month == 0 && d.mask == 0 && d.qual == 0 && d.sig == 0 {
		return true
	}
	return d.month > 12 && d.month < edtfMasked && d.mask == 0 && d.qual == 0 && d.year >= 0 && d.year < 2000 && int64(d.month) > d.year%100
}

// listed checks that a list can be told as a set: open dates only at its ends.
func (p *dateParser) listed(e *EDTF) bool {
	items := append([]edtfItem{e.first}, e.more...)
	for i := range items {
		it := &items[i]
		end := &it.begin
		if it.span {
			end = &it.end
		}
		_, lo := it.begin.low()
		_, hi := end.high()
		switch {
		case !lo && !hi:
			return p.fail("incomplete", "one of several dates is not known")
		case !lo && i > 0, !hi && i < len(items)-1:
			return p.fail("incomplete", "one of several dates is open")
		}
		if it.span && e.form == edtfOneOf {
			it.flatten() // one of the dates of the range
		}
		if it.span { // a set has no unknown ends, only open ones
			if it.begin.kind == edtfUnknown {
				it.begin.kind = edtfOpen
			}
			if it.end.kind == edtfUnknown {
				it.end.kind = edtfOpen
			}
		}
	}
	e.first = items[0]
	copy(e.more, items[1:])
	return true
}

// flatten makes a range one of its dates, which is less to say.
func (it *edtfItem) flatten() {
	a, lo := it.begin.low()
	b, hi := it.end.high()
	switch {
	case lo && hi:
		it.begin = edtfPoint{kind: edtfWithin, a: a, b: b}
	case lo:
		it.begin = edtfPoint{kind: edtfOnward, a: a}
	default:
		it.begin = edtfPoint{kind: edtfUpTo, b: b}
	}
	it.span, it.end = false, edtfPoint{}
}

// item builds the date or range that begins with unit i; next is behind it.
func (p *dateParser) item(i int) (it edtfItem, next int, ok bool) {
	u := &p.units[i]
	first, next, ok := p.either(i)
	if !ok {
		return it, next, false
	}
	between := u.between
	joins := func(c dateConn) bool {
		return c == connRange || c == connTo || (between || u.bound == boundSince && c == connAnd) && (c == connAnd)
	}
	if next >= p.n || !joins(p.conns[next]) {
		if between {
			return it, next, p.failAt(u, "incomplete", "the second of two dates is missing")
		}
		if first.kind <= edtfOpen {
			return it, next, p.failAt(u, "incomplete", "the words stop short of a date")
		}
		if u.bound == boundSince || u.bound == boundUntil {
			it.span = true
			it.begin, it.end = first, edtfPoint{}
			if u.bound == boundUntil {
				it.begin, it.end = it.end, it.begin
			}
			return it, next, true
		}
		it.begin = p.bounded(first, u.bound)
		return it, next, true
	}
	if p.conns[next] == connAnd {
		between = true
	}
	return p.rangeFrom(u, first, next, between)
}

// rangeFrom builds the range that goes on with unit i; of a chain of ranges
// ("1924–5–c.1937") the first and last count.
func (p *dateParser) rangeFrom(u *dateUnit, first edtfPoint, i int, between bool) (it edtfItem, next int, ok bool) {
	var last edtfPoint
	v := u
	to := false
	for next = i; next < p.n; {
		c := p.conns[next]
		if c != connRange && c != connTo && !(between && c == connAnd && next == i) {
			break
		}
		to = to || c == connTo
		v = &p.units[next]
		if last, next, ok = p.either(next); !ok {
			return it, next, false
		}
	}
	lo, hi, ok := p.inOrder(u, v, first, last)
	if !ok {
		return it, next, false
	}
	whole := u.whole || !p.life && !to // "after 1957–1963", but "nach 1780 bis 1790"
	switch {
	case u.bound == boundUntil:
		return it, next, p.failAt(u, "unknown-words", "an end is named before a range")
	case u.bound == boundAfter && whole:
		it.begin = edtfPoint{kind: edtfOnward, a: lo}
		return it, next, true
	case u.bound == boundBefore && (u.whole || v.bound == boundNone && !p.life):
		it.begin = edtfPoint{kind: edtfUpTo, b: hi}
		return it, next, true
	}
	from := u.bound
	if from == boundSince {
		from = boundNone // "from 1870 to 1880"
	}
	vague := u.kind >= unitDecade || v.kind >= unitDecade || u.era == eraBC || between || u.kind == unitFixed && v.kind == unitFixed
	if first.kind <= edtfOpen || last.kind <= edtfOpen || from != boundNone || v.bound != boundNone {
		vague = false
	}
	if vague && !p.life && !(to && !between && u.bound == boundSince) {
		it.begin = edtfPoint{kind: edtfWithin, a: lo, b: hi}
		return it, next, true
	}
	if first.kind <= edtfOpen && from != boundNone || last.kind <= edtfOpen && v.bound != boundNone {
		return it, next, p.failAt(u, "incomplete", "one of two dates is not known")
	}
	if u.bound == boundBefore && v.bound == boundAfter {
		return it, next, p.failAt(u, "incomplete", "neither end of the time is bounded from without")
	}
	it.span = true
	it.begin, it.end = p.bounded(first, from), last
	switch v.bound {
	case boundBefore:
		it.end = edtfPoint{kind: edtfWithin, a: lo, b: hi}
		if _, ok := first.low(); !ok {
			it.end = edtfPoint{kind: edtfUpTo, b: hi}
		}
	case boundAfter, boundSince:
		it.end = p.bounded(last, boundAfter)
	case boundUntil:
		return it, next, p.failAt(v, "unknown-words", "two ends are named")
	}
	if a, ok := it.begin.low(); ok { // leaving years out may have turned it round
		if z, ok := it.end.high(); ok && dateLastDay(z).Compare(dateFirstDay(a)) < 0 {
			return it, next, p.failAt(u, "backwards", "the time ends before it begins")
		}
	}
	return it, next, true
}

// inOrder checks that a range does not run backwards or over an implausible time.
func (p *dateParser) inOrder(u, v *dateUnit, first, last edtfPoint) (lo, hi edtfDate, ok bool) {
	lo, okLo := first.low()
	hi, okHi := last.high()
	if !okLo || !okHi {
		if first.kind <= edtfOpen && last.kind <= edtfOpen {
			return lo, hi, p.failAt(u, "no-date", "neither end of the time is known")
		}
		return lo, hi, true
	}
	a, _, _ := lo.bounds()
	_, b, _ := hi.bounds()
	if b.Compare(a) < 0 {
		return lo, hi, p.failAt(u, "backwards", "the time ends before it begins")
	}
	if y, ok := last.low(); ok && (u.kind != unitSeason || v.kind != unitSeason) {
		if c, _, _ := y.bounds(); c.Compare(a) < 0 {
			return lo, hi, p.failAt(u, "backwards", "the time ends before it begins")
		}
	}
	if u.era == eraNone && v.era == eraNone && u.kind == unitYear && u.n < 4 && v.n == 4 && b.Year-a.Year > 1000 {
		return lo, hi, p.failAt(u, "implausible", "a range of more than a thousand years is more likely a slip")
	}
	return lo, hi, true
}

// either builds the date of unit i with those joined to it by a slash, in life
// dates also by or.
func (p *dateParser) either(i int) (pt edtfPoint, next int, ok bool) {
	pt, ok = p.point(&p.units[i])
	for next = i + 1; ok && next < p.n; next++ {
		c := p.conns[next]
		if c != connSlash && (c != connOr || !p.life) {
			break
		}
		u := &p.units[next]
		other, ok := p.point(u)
		if !ok {
			return pt, next, false
		}
		a, okA := pt.low()
		b, okB := other.high()
		if !okA || !okB {
			return pt, next, p.failAt(u, "incomplete", "one of several dates is not known")
		}
		if x, y := dateFirstDay(a), dateLastDay(b); y.Compare(x) < 0 || u.bound != boundNone {
			return pt, next, p.failAt(u, "backwards", "the second of two dates comes before the first")
		}
		pt = edtfPoint{kind: edtfWithin, a: a, b: b}
		if a == b {
			pt = edtfPoint{kind: edtfSingle, a: a}
		}
	}
	return pt, next, ok
}

func dateFirstDay(d edtfDate) DateDay { lo, _, _ := d.bounds(); return lo }
func dateLastDay(d edtfDate) DateDay  { _, hi, _ := d.bounds(); return hi }

// bounded applies before and after.
func (p *dateParser) bounded(pt edtfPoint, bound uint8) edtfPoint {
	switch bound {
	case boundBefore:
		b, ok := pt.high()
		if a, isLow := pt.low(); p.c.Exclusive && isLow {
			b, ok = a.stepped(-1), true
		}
		if ok {
			return edtfPoint{kind: edtfUpTo, b: b}
		}
	case boundAfter, boundSince:
		a, ok := pt.low()
		if b, isHigh := pt.high(); p.c.Exclusive && isHigh && bound == boundAfter {
			a, ok = b.stepped(1), true
		}
		if ok {
			return edtfPoint{kind: edtfOnward, a: a}
		}
	}
	return pt
}

// stepped is the unit before or after d: the year, month or day next to it.
func (d edtfDate) stepped(by int64) edtfDate {
	lo, hi, _ := d.bounds()
	day := lo
	if by > 0 {
		day = hi
	}
	next := dayFromNumber(day.dayNumber() + by)
	r := edtfDate{year: next.Year, qual: d.qual &^ edtfNegative}
	if d.month != 0 && d.month <= 12 {
		r.month = next.Month
	} else if d.month != 0 {
		r.month, r.day = next.Month, next.Day
	}
	if d.day != 0 {
		r.day = next.Day
	}
	return edtfDate{year: r.year, month: r.month, day: r.day}.qualified(d.approximate(), d.uncertain())
}

package reading

// Life is what the words about a person or a firm say of its dates. Each part
// that the words do not give has an empty Text.
type Life struct {
	Text   string // the words as given
	Born   Date   // birth or founding
	Died   Date   // death or closing
	Active Date   // activity, or a date with nothing to say what it is; a person was alive then
}

// ReadLife reads the life dates of one person or firm: "1852–1911", "born 1930",
// "*1.1.1666", "active 1720s", "c. 1460 – active 1520s", "American, born Germany,
// 1809–1879". Words that say what and where the person was are passed over. Two
// people in one text are not read. The error is always an *[Unread]; see [ReadDate].
func ReadLife(text string, c *Conventions) (Life, error) {
	l := Life{Text: text}
	var parts lifeParts
	p := dateParser{c: c.date(), life: true}
	t := trimDate(text)
	if t == "" {
		return l, &Unread{Text: text, Code: "empty", Reason: "there are no words", At: -1}
	}
	if !p.lex.lex(t) {
		return l, &Unread{Text: text, Code: "too-long", Reason: "the text is too long to be a date", At: -1}
	}
	if !p.lifeWords() || !p.lifeCell(&parts) {
		return l, p.unread(text, t)
	}
	if parts.people > 1 {
		p.fail("two-people", "the dates of more than one person are given")
		return l, p.unread(text, t)
	}
	l.Born = parts.date(text, parts.born, p.c)
	l.Died = parts.date(text, parts.died, p.c)
	l.Active = parts.date(text, parts.active, p.c)
	if parts.single.form != edtfNone {
		if parts.active.form != edtfNone {
			p.fail("two-dates", "more dates are given than one life has")
			return Life{Text: text}, p.unread(text, t)
		}
		l.Active = parts.date(text, parts.single, p.c)
	}
	life := DateCorners{EarliestBegin: l.Born.EarliestBegin, LatestEnd: l.Died.LatestEnd}
	switch {
	case l.Active.backwards(): // leaving years out may have turned it round
		p.fail("backwards", "the time ends before it begins")
		return Life{Text: text}, p.unread(text, t)
	case life.backwards():
		p.fail("backwards", "the death comes before the birth")
		return Life{Text: text}, p.unread(text, t)
	}
	if l.Born.Text == "" && l.Died.Text == "" && l.Active.Text == "" {
		p.fail("no-date", "the words give no dates")
		return l, p.unread(text, t)
	}
	return l, nil
}

// lifeParts are the dates of a life; form edtfNone is a part not given.
type lifeParts struct {
	born, died, active EDTF
	single             EDTF // a date with nothing to say what it is
	people             int
	merge              bool // several people's dates make one time
	births, deaths     int
}

func (l *lifeParts) date(text string, e EDTF, c *DateConventions) Date {
	if e.form == edtfNone {
		return Date{}
	}
	d := Date{Text: text, expr: e}
	d.settle(c)
	d.Precision = e.precision()
	return d
}

func (p *dateParser) lifeWords() bool {
	figures := false
	for i := 0; i < p.lex.n; i++ {
		switch p.lex.toks[i].class {
		case dateRulerW, dateReignN, dateReignW, dateZodiac:
			p.lex.toks[i].class = dateWord // names of people and places
		case dateNone:
			return p.failToken(i, "no-date", "the words say that there is no date")
		case dateNumber, dateDecades, dateOrdinal, dateRoman, dateHundreds:
			figures = true
		case dateStop:
			return p.failToken(i, "unknown-words", "there are words here that are no part of a date this reader knows")
		}
	}
	return figures || p.fail("no-date", "the words give no dates")
}

// isPeople reports whether token i begins a word for what a person was, such as
// "American," or "French,": a capital letter and the ending of an adjective.
func (p *dateParser) isPeople(i int) bool {
	for n := 0; i < p.lex.n && n < 6; i, n = i+1, n+1 {
		t := &p.lex.toks[i]
		if t.class != dateWord || t.flags&dateUpper == 0 {
			return false
		}
		if peopleWord(p.lex.fold[t.lo:t.hi]) {
			return true
		}
	}
	return false
}

var peopleEndings = []string{"ican", "ian", "ish", "ese", "ench", "utch", "wiss", "eek", "erman", "elsh", "zech", "mish", "reek", "opean", "eli", "stani", "aqi", "oman", "urkish", "andic", "andish", "uan", "nton", "scots", "thai", "ean", "tine", "lander", "andaise", "aise", "çais", "lien", "lombard", "marchigian", "milanese", "paduan", "mantuan", "ainian"}

func peopleWord(w []byte) bool {
	for _, e := range peopleEndings {
		if len(w) >= len(e) && len(w) > 3 && string(w[len(w)-len(e):]) == e {
			return true
		}
	}
	return false
}

// lifeRole is what the dates that follow are about.
type lifeRole uint8

const (
	roleSpan lifeRole = iota // birth to death
	roleBorn
	roleDied
	roleActive
)

// lifeCell reads the clauses of a text about a life.
func (p *dateParser) lifeCell(l *lifeParts) bool {
	role, placed := roleSpan, false
	l.people = 1
	seen := false
	for {
		t := p.tok()
		switch t.class {
		case dateEnd:
			return seen && (role == roleSpan || placed) || p.unknown()
		case dateComma, dateSemi, dateColon, dateClose:
			p.i++
			continue
		case datePerson:
			if seen {
				l.people++
			}
			p.i++
			role, placed = roleSpan, false
			continue
		case dateBorn, dateFounded:
			p.i++
			role, placed = roleBorn, false
			continue
		case dateDied, dateClosed:
			p.i++
			role, placed = roleDied, false
			continue
		case dateActive, dateStage: // "exhibited 1773–1791"
			p.i++
			role, placed = roleActive, false
			continue
		}
		if p.passDescription() {
			placed = true
			continue
		}
		if placed && role != roleSpan && p.lifeRange() {
			role = roleSpan // "born Germany, 1853 – 1906"
		}
		if !p.lifeDates(l, role) {
			return false
		}
		seen, placed = true, false
		role = roleSpan
	}
}

// passDescription passes over words that say who or where, up to the next word
// about time, with brackets that hold no number.
func (p *dateParser) passDescription() bool {
	from := p.i
	for {
		switch t := p.tok(); t.class {
		case dateWord, datePeople, dateNoise, dateOf, dateReignW, datePeriod:
			p.i++
		case dateOpen:
			if p.peek(1).class == dateNumber && p.peek(2).class == dateClose && p.peek(3).class == dateDash {
				return p.i > from
			}
			k := 1
			for c := p.peek(k).class; c == dateWord || c == dateNoise || c == dateMaybe || c == dateDash || c == datePresent; c = p.peek(k).class {
				k++
			}
			if p.peek(k).class != dateClose {
				if p.peek(k).class != dateNumber || p.i == from {
					p.i++
					return true
				}
				return p.i > from
			}
			p.i += k + 1
		case dateDash:
			if n := p.peek(1).class; p.i == from || n != dateWord && n != datePeople || t.flags&dateGlued == 0 {
				return p.i > from
			}
			p.i++ // Netherlandish-born
		case dateMaybe:
			if p.i == from && !p.doubtOfWords() {
				return p.i > from
			}
			if p.i > from && t.flags&dateGlued == 0 && p.peek(1).class != dateComma && p.peek(1).class != dateWord && p.peek(1).class != dateActive {
				return true
			}
			p.i++
		default:
			return p.i > from
		}
	}
}

// doubtOfWords reports whether a mark of doubt stands before words, not dates:
// "possibly Mantuan".
func (p *dateParser) doubtOfWords() bool {
	c := p.peek(1).class
	return c == dateWord || c == datePeople || c == dateComma
}

// lifeRange reports whether a range of dates stands here.
func (p *dateParser) lifeRange() bool {
	for k := 0; ; k++ {
		switch p.peek(k).class {
		case dateEnd, dateComma, dateSemi:
			return false
		case dateDash:
			return true
		}
	}
}

// lifeDates reads a date or a range of dates in a role.
func (p *dateParser) lifeDates(l *lifeParts, role lifeRole) bool {
	p.n = 0
	endRole := roleSpan
	open := false
	conn := connNone
	if p.tok().class == dateDash && (p.c.LeadingDash != DateDashYear || !p.spacedRange()) { // "-1636": died
		p.i++
		if role != roleSpan {
			return p.unknown()
		}
		role = roleDied
	}
	for {
		if p.n == len(p.units) {
			return p.fail("too-long", "there are too many dates in one text")
		}
		u, ok := p.unit()
		if !ok {
			return false
		}
		p.units[p.n], p.conns[p.n], p.stage[p.n] = u, conn, -1
		p.n++
		t := p.tok()
		switch {
		case t.class == dateDash || t.class == dateTo || t.class == dateUntil:
			conn = connRange
		case t.class == dateSlash:
			conn = connSlash
		case t.class == dateOr:
			conn = connOr
		case t.class == dateAnd && p.n == 1 && (p.units[0].between || role == roleActive || p.units[0].kind == unitOrdinal || p.units[0].kind >= unitDecade || p.units[0].kind == unitPart):
			conn = connAnd
			if p.units[0].kind >= unitDecade || p.units[0].kind < unitDay {
				conn = connRange // "late 19th and early 20th century"
			}
		case t.class == dateOpen && p.peek(1).class == dateOr:
			p.i++
			conn = connOr // "1303 (or possibly 1328)"
		default:
			goto done
		}
		p.i++
		if conn == connRange {
			switch p.tok().class {
			case dateEnd, dateComma, dateSemi, dateClose:
				open = true
				goto done
			case dateActive:
				p.i++
				endRole = roleActive
			case dateDied, dateClosed:
				p.i++
				endRole = roleDied
			case dateMaybe:
				if c := p.peek(1).class; c == dateActive {
					p.i += 2
					endRole = roleActive
				} else if c == dateDied {
					p.i += 2
					endRole = roleDied
				}
			}
		}
	}
done:
	if !p.fill() {
		return false
	}
	return p.lifePlace(l, role, endRole, open)
}

// lifePlace puts the units read where they belong.
func (p *dateParser) lifePlace(l *lifeParts, role, endRole lifeRole, open bool) bool {
	first, next, ok := p.either(0)
	if !ok {
		return false
	}
	u := &p.units[0]
	if next == p.n {
		if u.bound != boundSince {
			first = p.bounded(first, u.bound)
		}
		switch {
		case u.life&lifeBorn != 0 && u.life&lifeDied != 0: // "1593*+"
			return p.lifeBorn(l, first) && p.lifeDied(l, first)
		case u.life&lifeBorn != 0:
			role = roleBorn
		case u.life&lifeDied != 0:
			role = roleDied
		case role == roleSpan && open:
			role = roleBorn
		}
		return p.lifeSingle(l, role, first, open)
	}
	if next < p.n && p.conns[next] != connRange && p.conns[next] != connAnd {
		return p.unknown()
	}
	v := &p.units[next]
	last, end, ok := p.either(next)
	if !ok {
		return false
	}
	if end != p.n {
		return p.unknown()
	}
	if _, _, ok := p.inOrder(u, v, first, last); !ok {
		return false
	}
	if role == roleSpan && endRole == roleSpan && u.kind >= unitDecade && v.kind >= unitDecade && u.life|v.life == 0 && first.closed() && last.closed() && u.bound|v.bound == 0 {
		lo, _ := first.low()
		hi, _ := last.high()
		return p.lifeSingle(l, role, edtfPoint{kind: edtfWithin, a: lo, b: hi}, false) // "Roman, 1st–2nd century"
	}
	between := u.between
	whole := u.whole
	a, b := p.bounded(first, u.bound), p.bounded(last, v.bound)
	switch {
	case between || role == roleBorn && endRole == roleSpan && u.life|v.life == 0 && whole, role == roleDied && endRole == roleSpan:
		lo, okA := first.low()
		hi, okB := last.high()
		if !okA || !okB {
			return p.unknown()
		}
		if role == roleSpan {
			return p.unknown()
		}
		return p.lifeSingle(l, role, edtfPoint{kind: edtfWithin, a: lo, b: hi}, false)
	case role == roleActive && endRole == roleSpan && v.life&lifeDied == 0:
		return p.lifeActive(l, a, b)
	}
	switch {
	case role == roleActive:
		if !p.lifeActivePoint(l, a) {
			return false
		}
	default:
		if first.kind == edtfUnknown {
			break
		}
		if !p.lifeBorn(l, a) {
			return false
		}
	}
	switch {
	case endRole == roleActive:
		return p.lifeActivePoint(l, b)
	case last.kind == edtfUnknown || last.kind == edtfOpen:
		return true
	}
	return p.lifeDied(l, b)
}

func (p *dateParser) lifeSingle(l *lifeParts, role lifeRole, pt edtfPoint, open bool) bool {
	if pt.kind == edtfUnknown {
		return true // "born ?"
	}
	switch role {
	case roleBorn:
		return p.lifeBorn(l, pt)
	case roleDied:
		return p.lifeDied(l, pt)
	case roleActive:
		if open || p.units[0].bound == boundSince {
			return p.lifeActive(l, pt, edtfPoint{})
		}
		return p.lifeActivePoint(l, pt)
	}
	return p.lifeAdd(&l.single, pt)
}

// lifeBorn sets the birth, or the first of several people's.
func (p *dateParser) lifeBorn(l *lifeParts, pt edtfPoint) bool {
	l.births++
	if l.merge && l.born.form != edtfNone {
		a, ok := pt.low()
		b, known := l.born.first.begin.low()
		if known && ok && b.earlier(a) {
			return true
		}
		l.born.form = edtfNone
	}
	return p.lifeAdd(&l.born, pt)
}

// lifeDied sets the death, or the last of several people's.
func (p *dateParser) lifeDied(l *lifeParts, pt edtfPoint) bool {
	l.deaths++
	if l.merge && l.died.form != edtfNone {
		a, ok := pt.high()
		b, known := l.died.first.begin.high()
		if known && ok && b.later(a) {
			return true
		}
		l.died.form = edtfNone
	}
	return p.lifeAdd(&l.died, pt)
}

// lifeAdd sets a part, which a person has only once.
func (p *dateParser) lifeAdd(e *EDTF, pt edtfPoint) bool {
	if e.form != edtfNone {
		return p.fail("two-dates", "more dates are given than one life has")
	}
	*e = EDTF{first: edtfItem{begin: pt}}
	p.single(e)
	return true
}

func (p *dateParser) lifeActivePoint(l *lifeParts, pt edtfPoint) bool {
	if l.active.form == edtfNone {
		return p.lifeAdd(&l.active, pt)
	}
	// "active 1719 – active 1743"
	if l.active.form == edtfDateForm || l.active.form == edtfOneOf {
		a, okA := l.active.first.begin.low()
		z, okZ := pt.high()
		if okA && okZ && dateLastDay(z).Compare(dateFirstDay(a)) < 0 {
			return p.fail("backwards", "the time ends before it begins")
		}
		l.active = EDTF{form: edtfInterval, first: edtfItem{span: true, begin: l.active.first.begin, end: pt}}
		return true
	}
	return p.fail("two-dates", "more dates are given than one life has")
}

func (p *dateParser) lifeActive(l *lifeParts, a, b edtfPoint) bool {
	if l.active.form != edtfNone {
		return p.fail("two-dates", "more dates are given than one life has")
	}
	l.active = EDTF{form: edtfInterval, first: edtfItem{span: true, begin: a, end: b}}
	return true
}

// lifeSpan builds the time from birth to death, as far as the parts give it.
func (p *dateParser) lifeSpan(l *lifeParts, e *EDTF) bool {
	begin, end := edtfPoint{}, edtfPoint{}
	born, died, active := l.born.form != edtfNone, l.died.form != edtfNone, l.active.form != edtfNone
	switch {
	case l.single.form != edtfNone && !born && !died && !active:
		*e = l.single
		return true
	case active && !born && !died:
		*e = l.active
		return true
	case !born && !died:
		return p.fail("incomplete", "the words stop short of a date")
	}
	if l.single.form != edtfNone {
		return p.unknown()
	}
	if l.births != l.deaths && l.births+l.deaths > 2 { // some of several people's are not given
		born, died, active = born && l.births > l.deaths, died && l.deaths > l.births, false
	}
	if born {
		begin = l.born.first.begin
	} else if active {
		begin = l.active.first.begin
	}
	if died {
		end = l.died.first.begin
	} else if active {
		// alive then; the end is later, nobody says how much
		pt := &l.active.first.begin
		if l.active.first.span {
			pt = &l.active.first.end
		}
		if a, ok := pt.low(); ok {
			end = edtfPoint{kind: edtfOnward, a: a}
		}
	}
	*e = EDTF{form: edtfInterval, first: edtfItem{span: true, begin: begin, end: end}}
	if begin.kind <= edtfOpen && end.kind <= edtfOpen {
		return p.fail("no-date", "neither end of the life is known")
	}
	a, okA := begin.low()
	z, okZ := end.high()
	if okA && okZ && dateLastDay(z).Compare(dateFirstDay(a)) < 0 {
		return p.fail("backwards", "the death comes before the birth")
	}
	return true
}

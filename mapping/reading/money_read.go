package reading

import "strings"

// moneyItem is a number with the coin before or after it.
type moneyItem struct {
	t      *moneyToken
	coin   coin
	has    bool
	prefix bool
	text   string
}

// moneyParser reads the tokens of a cell:
//
//	cell   = { word | year } amount [ ( "-" | "to" ) amount ] { word | year }
//	amount = item { item }          with ever smaller coins
//	item   = coin number | number coin | number
type moneyParser struct {
	moneyLexer
	c     *MoneyConventions
	items [6]moneyItem
	n     int
	i     int
	year  int
}

// ReadMoney reads one amount of money: £12 7s 6d, 12l. 7s. 6d., 7/6, £215, 10 guineas,
// $12.50, 12 francs 50, kr 12:50. The arithmetic is exact. The error, if any, is an
// [*Unread].
func ReadMoney(text string, c *Conventions) (Money, error) {
	p := moneyParser{moneyLexer: moneyLexer{text: text}, c: &MoneyConventions{}}
	if c != nil {
		p.c = &c.Money
	}
	p.run()
	m := Money{Text: text}
	if p.failed == nil {
		p.inWords(&m)
		p.findYear()
		p.cell(&m)
	}
	if p.failed != nil {
		return Money{Text: text}, p.failed
	}
	m.Year = p.year
	if m.Code == "" {
		m.Code = p.c.Codes[m.Currency]
		if m.Code == "" && m.Currency == CurrencyPound {
			m.Code = "GBP"
		}
	}
	return m, nil
}

// findYear finds a year that stands apart from the amount.
func (p *moneyParser) findYear() {
	for i := range p.tokens {
		t := &p.tokens[i]
		if t.kind != moneyNumber || t.n != 1 || t.widths[0] != 4 || t.fden != 0 || t.parts[0] < 1000 || t.parts[0] > 2100 {
			continue
		}
		before, after := i > 0 && p.tokens[i-1].kind == moneyCoin, i+1 < len(p.tokens) && p.tokens[i+1].kind == moneyCoin
		if before && (p.tokens[i-1].coin.main && !p.tokens[i-1].coin.weak) && !(i > 1 && p.tokens[i-2].kind == moneyNumber) {
			continue
		}
		if after && !p.startsAmount(i+1) {
			continue
		}
		// A year stands in parentheses, after "in" or a comma, or first with a colon or comma.
		prev, next := p.signAt(i-1), p.signAt(i+1)
		inWord := i > 0 && p.tokens[i-1].kind == moneyWord && isYearWord(p.text[p.tokens[i-1].start:p.tokens[i-1].end])
		if i > 0 && p.tokens[i-1].kind == moneyWord && isMonth(p.text[p.tokens[i-1].start:p.tokens[i-1].end]) {
			inWord = true
			if d := i - 2; d >= 0 && p.tokens[d].kind == moneyNumber && p.tokens[d].n == 1 && p.tokens[d].parts[0] <= 31 {
				p.tokens[d].kind, p.tokens[d].sign = moneySign, 'y'
			}
		}
		alone := prev == '(' && next == ')' || inWord || (prev == ',' || prev == ';') && (i+1 == len(p.tokens) || next == ')') || i == 0 && (next == ':' || next == ',')
		if !alone {
			continue
		}
		if p.year != 0 {
			p.fail(t.start, "several-years", "there is more than one year")
			return
		}
		p.year = int(t.parts[0])
		t.kind, t.sign = moneySign, 'y'
	}
}

func isYearWord(w string) bool {
	switch w {
	case "in", "In", "anno", "Anno", "år", "im", "en", "nel", "since":
		return true
	}
	return false
}

func isMonth(w string) bool {
	w = strings.ToLower(w)
	for _, m := range [...]string{"jan", "feb", "mar", "apr", "may", "mai", "maj", "jun", "jul", "aug", "sep", "oct", "okt", "nov", "dec", "dez", "avr", "juin", "juil", "août", "déc", "ott", "dic", "mag", "gen", "ago"} {
		if strings.HasPrefix(w, m) && len(w) <= 9 {
			return true
		}
	}
	return false
}

func (p *moneyParser) signAt(i int) byte {
	if i < 0 || i >= len(p.tokens) || p.tokens[i].kind != moneySign {
		return 0
	}
	return p.tokens[i].sign
}

// startsAmount says whether an amount begins with the coin at i: "£12", "fl. 12".
func (p *moneyParser) startsAmount(i int) bool {
	if p.tokens[i].kind != moneyCoin || !p.tokens[i].coin.main {
		return false
	}
	i++
	if p.signAt(i) == '.' {
		i++
	}
	return i < len(p.tokens) && p.tokens[i].kind == moneyNumber
}

func (p *moneyParser) cell(m *Money) {
	amounts := 0
	lower, upper, lastEnd := false, false, 0
	firstStart := -1
	for p.i < len(p.tokens) && p.failed == nil {
		t := &p.tokens[p.i]
		start := p.i
		switch {
		case p.amountHere():
			p.readItems()
			if p.failed != nil {
				return
			}
			var a Money
			if !p.resolve(&a) {
				return
			}
			a.Start, a.End = p.tokens[start].start, p.tokens[p.i-1].end
			if amounts == 0 {
				m.merge(&a)
				firstStart = a.Start
			} else if !p.second(m, &a, start) {
				return
			}
			amounts++
			lastEnd = a.End
			m.End = a.End
		case t.kind == moneyNumber:
			p.fail(t.start, "unknown-number", "a number is neither an amount nor a year")
		case t.kind == moneySign:
			switch t.sign {
			case '?':
				m.Uncertain = true
			case '~':
				m.Approximate = true
			case '%', '@', '*', '+', '=':
				p.fail(t.start, "calculation", "the words calculate or compare")
			}
			p.i++
		case t.kind == moneyCoin && !t.coin.weak:
			p.fail(t.start, "syntax", "a coin stands without a number")
		default:
			w := strings.ToLower(p.text[t.start:t.end])
			switch {
			case amounts == 0 && isApproxWord(w):
				m.Approximate = true
			case w == "over" || w == "at" && p.nextWord("least") || w == "more" && p.nextWord("than"):
				lower = lower || amounts == 0
			case w == "under" || w == "up" && p.nextWord("to") || w == "less" && p.nextWord("than"):
				upper = upper || amounts == 0
			case w == "each" || w == "per":
				m.Each = m.Each || amounts > 0
			case w == "less" || w == "minus" || w == "discount" || w == "plus" && amounts > 0:
				p.fail(t.start, "calculation", "the words calculate or compare")
			}
			p.i++
		}
	}
	if p.failed != nil {
		return
	}
	if amounts == 0 {
		p.fail(-1, "no-amount", "there is no amount of money to read")
		return
	}
	if lower || upper {
		if m.Lower.Given() || lower && upper {
			p.fail(0, "syntax", "a bound stands before a range")
			return
		}
		if lower {
			m.Lower = m.Value
		} else {
			m.Upper = m.Value
		}
		m.Value = Number{}
	}
	m.Before, m.After = trimPart(p.text[:firstStart]), p.afterWords(lastEnd)
	p.foreignPounds(m)
	switch first, _, _ := strings.Cut(m.After, " "); strings.ToLower(first) {
	case "and", "&", "plus", "och", "und", "et", "+":
		p.fail(lastEnd, "several-amounts", "something is added to the amount")
	}
}

// foreignPounds: "£12 Scots" are not sterling, nor are the pounds of other countries.
func (p *moneyParser) foreignPounds(m *Money) {
	if m.Currency != CurrencyPound {
		return
	}
	for _, around := range [...]string{m.After, m.Before} {
		for _, w := range strings.Fields(around) {
			switch strings.ToLower(strings.Trim(w, "().,")) {
			case "scots":
				m.Currency = CurrencyScots
			case "irish", "australian", "egyptian", "turkish", "israeli", "cyprus", "maltese", "syrian", "lebanese", "jamaican", "a", "e":
				if len(w) > 1 || around == m.After {
					p.fail(m.Start, "unknown-currency", "the pounds are not said to be sterling")
				}
			}
		}
	}
}

// afterWords are the words after the amount, without a year in parentheses.
func (p *moneyParser) afterWords(end int) string {
	s := p.text[end:]
	for i := range p.tokens {
		if t := &p.tokens[i]; t.sign == 'y' && t.start >= end {
			rest := strings.TrimLeft(p.text[t.end:], ") ,.;")
			head := strings.TrimRight(p.text[end:t.start], "( ,;")
			if head == "" || head == " in" {
				s = rest
			} else if rest == "" {
				s = head
			}
		}
	}
	return trimPart(strings.Trim(s, ".,;?() "))
}

func isApproxWord(w string) bool {
	d := dimensionWords[w]
	return d != nil && d.flags&wordApprox != 0
}

func (p *moneyParser) nextWord(w string) bool {
	return p.i+1 < len(p.tokens) && p.tokens[p.i+1].kind == moneyWord && strings.EqualFold(p.text[p.tokens[p.i+1].start:p.tokens[p.i+1].end], w)
}

func (m *Money) merge(a *Money) {
	m.Value, m.Lower, m.Upper, m.Currency, m.CurrencyText, m.Code = a.Value, a.Lower, a.Upper, a.Currency, a.CurrencyText, a.Code
	m.Pounds, m.Shillings, m.Pence, m.Guineas = a.Pounds, a.Shillings, a.Pence, a.Guineas
	m.Start, m.End = a.Start, a.End
}

// second decides about a further amount: the end of a range, or the same in other coins.
func (p *moneyParser) second(m, a *Money, at int) bool {
	dash := p.signAt(at-1) == '-' || at > 0 && p.tokens[at-1].kind == moneyWord && isRangeWord(p.text[p.tokens[at-1].start:p.tokens[at-1].end])
	if dash && m.Value.Given() && a.Value.Given() && m.Currency == a.Currency && m.Value.less(a.Value) && !m.Guineas.Given() == !a.Guineas.Given() {
		m.Lower, m.Upper, m.Value = m.Value, a.Value, Number{}
		m.Pounds, m.Shillings, m.Pence, m.Guineas = 0, 0, Number{}, Number{}
		return true
	}
	if p.signAt(at-1) == '(' && m.Currency == a.Currency && m.Value.Given() && a.Value.Given() {
		if m.Value.Num == a.Value.Num && m.Value.Den == a.Value.Den {
			m.Pounds, m.Shillings, m.Pence = max(m.Pounds, a.Pounds), max(m.Shillings, a.Shillings), a.Pence
			return true
		}
		p.fail(p.tokens[at].start, "amounts-disagree", "the same amount is given twice and differs")
		return false
	}
	p.fail(p.tokens[at].start, "several-amounts", "there is more than one amount")
	return false
}

func isRangeWord(w string) bool {
	d := dimensionWords[strings.ToLower(w)]
	return d != nil && d.flags&(wordRange|wordAnd) != 0
}

// inWords turns "ten" before a coin into a number, and takes out the doubt of "£c.200".
func (p *moneyParser) inWords(m *Money) {
	for i := 0; i < len(p.tokens); i++ {
		t := &p.tokens[i]
		if t.kind != moneyWord && !(t.kind == moneyCoin && t.coin.weak) {
			continue
		}
		w := p.text[t.start:t.end]
		if i > 0 && p.tokens[i-1].kind == moneyCoin && p.tokens[i-1].coin.main && isApproxWord(strings.ToLower(w)) {
			k := i + 1
			if p.signAt(k) == '.' {
				k++
			}
			if k < len(p.tokens) && p.tokens[k].kind == moneyNumber {
				m.Approximate = true
				p.tokens = append(p.tokens[:i], p.tokens[k:]...)
			}
			continue
		}
		if t.kind != moneyWord {
			continue
		}
		n, end := numberInWords(p.text[t.start:])
		half := strings.EqualFold(w, "half")
		if end == 0 {
			switch strings.ToLower(w) {
			case "a", "an", "en", "ein", "un", "half":
				n, end = 1, len(w)
			default:
				continue
			}
		}
		k := i
		for k < len(p.tokens) && p.tokens[k].end <= t.start+end {
			k++
		}
		if half && k < len(p.tokens) && p.tokens[k].kind == moneyWord && (p.text[p.tokens[k].start:p.tokens[k].end] == "a" || p.text[p.tokens[k].start:p.tokens[k].end] == "an") {
			k++
		}
		if k >= len(p.tokens) || p.tokens[k].kind != moneyCoin || p.tokens[k].coin.weak || !isLetterAt(p.text, p.tokens[k].start) {
			continue
		}
		number := moneyToken{kind: moneyNumber, start: t.start, end: p.tokens[k-1].end, n: 1, spaced: true}
		number.parts[0], number.widths[0] = n, 1
		if half {
			number.parts[0], number.fnum, number.fden = 0, 1, 2
		}
		p.tokens[i] = number
		p.tokens = append(p.tokens[:i+1], p.tokens[k:]...)
	}
}

// amountHere says whether an amount begins at p.i.
func (p *moneyParser) amountHere() bool {
	t := &p.tokens[p.i]
	switch t.kind {
	case moneyCoin:
		return p.startsAmount(p.i)
	case moneyNumber:
		if p.c.Currency != "" {
			return true
		}
		if t.n == 2 && t.seps[0] == '/' && t.widths[1] <= 2 {
			return true
		}
		k := p.i + 1
		if k < len(p.tokens) && p.tokens[k].kind == moneyNumber && p.tokens[k].widths[0] == 3 && t.n == 1 && t.widths[0] <= 3 {
			k++ // "1 200 francs"
		}
		if k < len(p.tokens) && p.tokens[k].kind == moneyWord && p.multiplier(k) != 0 {
			k++
		}
		return k < len(p.tokens) && p.tokens[k].kind == moneyCoin && !p.startsAmountAfter(k)
	}
	return false
}

// startsAmountAfter: in "1874 £12" the coin belongs to the number after it.
func (p *moneyParser) startsAmountAfter(k int) bool {
	t := &p.tokens[k]
	n := k + 1
	if p.signAt(n) == '.' {
		n++
	}
	return !t.coin.weak && p.startsAmount(k) && t.end-t.start <= 3 && t.spaced && !p.tokens[n].spaced
}

// initial reports whether the letter behind a number is that of a name: "£12 M. Smith",
// "£5 K. Brown", "£5 m Jones", and not that of "£1.2m" or "£2 k each".
func (p *moneyParser) initial(k int) bool {
	t := &p.tokens[k]
	if !t.spaced || k+1 == len(p.tokens) {
		return false
	}
	next := &p.tokens[k+1]
	return startsUpper(p.text[t.start:]) || p.signAt(k+1) == '.' || next.kind == moneyWord && startsUpper(p.text[next.start:])
}

// billion is the multiplier of a word that means a thousand millions to some and a
// million millions to others.
const billion = -1

func (p *moneyParser) multiplier(k int) int64 {
	switch strings.ToLower(p.text[p.tokens[k].start:p.tokens[k].end]) {
	case "million", "millions", "millionen", "miljoner", "miljon", "millones", "milioni", "mn", "mln", "mio":
		return 1000000
	case "thousand":
		return 1000
	case "k":
		if !p.initial(k) {
			return 1000
		}
	case "milliard", "milliards", "milliarden", "miljarder", "miljard", "mrd":
		return 1000000000
	case "billion", "billions", "bn", "trillion", "trillions", "tn":
		return billion
	}
	return 0
}

// readItems reads numbers and coins as long as they belong together.
func (p *moneyParser) readItems() {
	p.n = 0
	for p.i < len(p.tokens) {
		var it moneyItem
		k := p.i
		if p.tokens[k].kind == moneyCoin {
			if p.n > 0 || !p.startsAmount(k) {
				return
			}
			it.coin, it.has, it.prefix, it.text = p.tokens[k].coin, true, true, p.text[p.tokens[k].start:p.tokens[k].end]
			k++
			if p.signAt(k) == '.' {
				k++
			}
		}
		if k >= len(p.tokens) || p.tokens[k].kind != moneyNumber {
			return
		}
		it.t = &p.tokens[k]
		k++
		// "1 200 francs": thousands set apart by a space.
		if k < len(p.tokens) && p.tokens[k].kind == moneyNumber && it.t.n == 1 && it.t.widths[0] <= 3 && it.t.fden == 0 &&
			p.tokens[k].widths[0] == 3 && (p.n == 0 && it.has || k+1 < len(p.tokens) && p.tokens[k+1].kind == moneyCoin) {
			joined := p.tokens[k]
			joined.parts[0] += it.t.parts[0] * 1000
			joined.widths[0] = 6
			joined.start = it.t.start
			p.tokens[k] = joined
			it.t = &p.tokens[k]
			k++
		}
		if k < len(p.tokens) && p.tokens[k].kind == moneyWord {
			if by := p.multiplier(k); by != 0 {
				if !p.scale(it.t, by) {
					return
				}
				k++
			}
		}
		if k < len(p.tokens) && p.tokens[k].kind == moneyCoin {
			c := p.tokens[k].coin
			follows := p.startsAmountAfter(k)
			switch {
			case follows:
			case !it.has:
				it.coin, it.has, it.text = c, true, p.text[p.tokens[k].start:p.tokens[k].end]
				k++
				if p.signAt(k) == '.' {
					k++
				}
			case it.prefix && strings.EqualFold(p.text[p.tokens[k].start:p.tokens[k].end], "m") && !p.initial(k):
				if !p.scale(it.t, 1000000) { // "£1.2m", "£1.2 m"
					return
				}
				k++
			case it.prefix && it.coin.currency == CurrencyPound && it.t.n == 2 && !c.main && c.den == 20:
				// "£12.10s": the coin belongs to the last part.
				it.t.seps[0] = ':'
				k++
				if p.signAt(k) == '.' {
					k++
				}
			case c.main && c.currency == it.coin.currency:
				if c.code != "" {
					it.coin.code = c.code
				}
				k++
			}
		}
		if p.n == len(p.items) {
			p.fail(it.t.start, "syntax", "there are too many numbers in an amount")
			return
		}
		p.items[p.n] = it
		p.n++
		p.i = k
		// "£12, 7s, 6d", "£12. 7s.": only before a smaller coin.
		if (p.signAt(k) == ',' || p.signAt(k) == '.') && k+2 < len(p.tokens) && p.tokens[k+1].kind == moneyNumber && p.tokens[k+2].kind == moneyCoin && !p.tokens[k+2].coin.main {
			p.i++
		} else if k+2 < len(p.tokens) && p.tokens[k].kind == moneyWord && isRangeWord(p.text[p.tokens[k].start:p.tokens[k].end]) &&
			p.text[p.tokens[k].start:p.tokens[k].end] != "to" && p.tokens[k+1].kind == moneyNumber && p.tokens[k+2].kind == moneyCoin && !p.tokens[k+2].coin.main {
			p.i++ // "2 shillings and 6 pence"
		}
		if p.i < len(p.tokens) && p.tokens[p.i].kind == moneyCoin {
			return
		}
	}
}

// scale multiplies a plain or decimal number.
func (p *moneyParser) scale(t *moneyToken, by int64) bool {
	if by == billion {
		p.fail(t.start, "ambiguous-number", "a billion is a thousand millions or a million millions")
		return false
	}
	if t.n > 2 || t.fden != 0 || t.n == 2 && t.seps[0] != '.' && t.seps[0] != ',' {
		p.fail(t.start, "bad-number", "a number is written in a way that can't be read")
		return false
	}
	if t.parts[0] >= 1e12/by {
		p.fail(t.start, "bad-number", "the number is too large")
		return false
	}
	v := t.parts[0] * by
	if t.n == 2 {
		den := int64(1)
		for i := int8(0); i < t.widths[1]; i++ {
			den *= 10
		}
		if den > by {
			p.fail(t.start, "bad-number", "a number is written in a way that can't be read")
			return false
		}
		v += t.parts[1] * (by / den)
	}
	t.n, t.parts[0], t.widths[0] = 1, v, 9
	return true
}

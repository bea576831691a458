package reading

// resolve makes one amount of the items.
func (p *moneyParser) resolve(m *Money) bool {
	first := &p.items[0]
	currency := Currency("")
	for i := 0; i < p.n; i++ {
		it := &p.items[i]
		if !p.letterCoin(it, i, currency) {
			return false
		}
		if it.has && it.coin.currency != "" {
			if currency != "" && currency != it.coin.currency {
				p.fail(it.t.start, "several-currencies", "one amount has coins of two currencies")
				return false
			}
			currency = it.coin.currency
		}
	}
	if currency == "" && !p.sterlingShape() {
		currency = p.c.Currency
		if currency == "" {
			p.fail(first.t.start, "unknown-currency", "it is not said in what money")
			return false
		}
	}
	if currency == "" {
		currency = CurrencyPound
	}
	m.Currency = currency
	for i := 0; i < p.n; i++ {
		if p.items[i].has {
			m.CurrencyText = p.items[i].text
			m.Code = p.items[i].coin.code
			break
		}
	}
	if currency == CurrencyPound {
		return p.sterling(m)
	}
	return p.decimal(m)
}

// letterCoin settles the letters that are coins of several countries.
func (p *moneyParser) letterCoin(it *moneyItem, i int, currency Currency) bool {
	if !it.has || !it.coin.weak {
		return true
	}
	switch {
	case currency == CurrencyLivre && (it.coin.den == 20 || it.coin.den == 240):
		it.coin.currency = CurrencyLivre // sols and deniers
	case it.prefix && it.text == "f":
		it.coin.currency = CurrencyGulden
	case it.prefix && it.text == "F", it.coin.currency == CurrencyMark && it.text != "M", it.prefix && it.coin.currency == CurrencyPound && p.n == 1:
		return p.bad(it, "unknown-currency", "the letter may stand for several coins")
	}
	return true
}

// sterlingShape: "7/6" and "105/-" are shillings and pence.
func (p *moneyParser) sterlingShape() bool {
	t := p.items[0].t
	return p.n == 1 && t.n == 2 && t.seps[0] == '/' && t.widths[1] <= 2
}

func (p *moneyParser) bad(it *moneyItem, code, reason string) bool {
	p.fail(it.t.start, code, reason)
	return false
}

// joinThousands joins the groups of 1,200 or 1.200, and says whether the groups left are
// in order. A group of three digits after a comma or a point is never small money.
func joinThousands(t *moneyToken) {
	for t.n > 1 && t.parts[0] > 0 && t.widths[1] == 3 && (t.seps[0] == ',' || t.seps[0] == '.' || t.seps[0] == '\'') && t.widths[0] <= 9 && t.widths[0] > 0 {
		t.parts[0] = t.parts[0]*1000 + t.parts[1]
		t.widths[0] += 3
		copy(t.parts[1:], t.parts[2:t.n])
		copy(t.widths[1:], t.widths[2:t.n])
		copy(t.seps[:], t.seps[1:])
		t.n--
	}
}

// sterling reads pounds, shillings and pence.
func (p *moneyParser) sterling(m *Money) bool {
	const (
		pounds = iota
		shillings
		pence
		done
	)
	var have [3]bool
	var penceNum, penceDen int64 = 0, 1
	next := pounds
	decimalPence := false
	for i := 0; i < p.n; i++ {
		it := &p.items[i]
		t := it.t
		joinThousands(t)
		switch {
		case it.has && it.coin.num == 21: // guineas
			if p.n > 1 || t.n != 1 && !(t.n == 2 && t.seps[0] == '/' && halves(t)) {
				return p.bad(it, "syntax", "guineas are not divided so")
			}
			return p.guineas(m, it)
		case it.has && it.coin.main:
			if next != pounds {
				return p.bad(it, "syntax", "pounds stand after smaller money")
			}
			if t.fden != 0 {
				if t.stroke {
					return p.bad(it, "ambiguous-number", "a fraction of a pound, or shillings and pence")
				}
				if t.n != 1 || p.n > 1 {
					return p.bad(it, "syntax", "a fraction of a pound stands before smaller money")
				}
				v := fraction{t.parts[0], 1}.add(fraction{t.fnum, t.fden})
				m.Value = Number{Text: p.text[t.start:t.end], Num: v.num, Den: v.den, Places: -1}
				m.Pounds = t.parts[0]
				return true
			}
			m.Pounds = t.parts[0]
			have[pounds], next = true, shillings
			switch {
			case t.n == 1:
			case t.n == 2 && (t.seps[0] == '.' || t.seps[0] == ',' || t.seps[0] == ':'):
				verdict := p.pointed(t)
				switch {
				case verdict < 0:
					return p.bad(it, "ambiguous-decimal", "the last number may be shillings or new pence")
				case verdict == 0:
					m.Shillings = t.parts[1]
					have[shillings], next = true, pence
				default:
					if p.n > 1 {
						return p.bad(it, "syntax", "money stands after new pence")
					}
					v := newFraction(t.parts[0]*100+t.parts[1], 100)
					if v.num == 0 {
						v = fraction{0, 1}
					}
					m.Value = Number{Text: p.text[t.start:t.end], Num: v.num, Den: v.den, Places: 2}
					m.Pence = Number{Num: t.parts[1], Den: 1}
					return true
				}
			case t.n == 3 && t.seps[0] != ',' && t.seps[1] != ',':
				m.Shillings, penceNum = t.parts[1], t.parts[2]
				have[shillings], have[pence], next = true, true, done
			case t.n == 2 && t.seps[0] == '-' && t.parts[1] >= 20 && t.parts[1] > t.parts[0] && p.n == 1:
				m.Lower = Number{Num: t.parts[0], Den: 1}
				m.Upper = Number{Num: t.parts[1], Den: 1}
				m.Pounds = 0
				return true
			default:
				return p.bad(it, "ambiguous-number", "the numbers after the pounds can't be told")
			}
		case it.has && it.coin.den == 20:
			if next > shillings || t.n != 1 || t.fden != 0 {
				return p.bad(it, "syntax", "shillings stand in a wrong place, or have a fraction")
			}
			m.Shillings = t.parts[0]
			have[shillings], next = true, pence
		case it.has && it.coin.den == 240:
			if t.n == 2 && t.seps[0] == '/' && next <= shillings && !halves(t) {
				m.Shillings, penceNum = t.parts[0], t.parts[1]
				have[shillings], have[pence], next = true, true, done
				penceNum, penceDen = addFraction(penceNum, t)
				continue
			}
			if next > pence || t.n != 1 {
				return p.bad(it, "syntax", "pence stand in a wrong place")
			}
			if it.text == "pence" && !have[shillings] {
				switch {
				case p.year >= 1971 || p.c.DecimalPounds:
					decimalPence = true
				case p.year == 0:
					return p.bad(it, "ambiguous-decimal", "old pence or new pence")
				}
			}
			penceNum, penceDen = addFraction(t.parts[0], t)
			have[pence], next = true, done
		case it.has && it.coin.code == "GBP" && it.coin.den == 100:
			if t.n != 1 || t.fden != 0 && t.fden != 2 || have[shillings] {
				return p.bad(it, "syntax", "new pence stand in a wrong place")
			}
			penceNum, penceDen = addFraction(t.parts[0], t)
			have[pence], next, decimalPence = true, done, true
		case it.has: // crowns, groats, farthings
			if p.n > 1 || t.n != 1 {
				return p.bad(it, "syntax", "the coins do not go together")
			}
			n, d := addFraction(t.parts[0], t)
			v := newFraction(n, d).mul(fraction{it.coin.num, it.coin.den})
			m.Value = Number{Text: p.text[t.start:t.end], Num: v.num, Den: v.den, Places: -1}
			return v.den != 0 || p.bad(it, "bad-number", "the number is too large")
		case t.n == 2 && t.seps[0] == '/' && next <= shillings:
			m.Shillings = t.parts[0]
			penceNum, penceDen = addFraction(t.parts[1], t)
			have[shillings], have[pence], next = true, true, done
		case t.n == 1 && next == pence && (have[shillings] && p.items[i-1].has || i == p.n-1 && i >= 2):
			penceNum, penceDen = addFraction(t.parts[0], t)
			have[pence], next = true, done
		case t.n == 1 && next == shillings && i == p.n-2 && !p.items[i+1].has && t.fden == 0:
			m.Shillings = t.parts[0] // "£12 7 6"
			have[shillings], next = true, pence
		default:
			return p.bad(it, "ambiguous-number", "a number without its coin can't be told")
		}
	}
	first := &p.items[0]
	if have[pounds] && m.Shillings >= 20 {
		return p.bad(first, "implausible", "there are more than nineteen shillings beside pounds")
	}
	if (have[pounds] || have[shillings]) && !decimalPence && penceNum >= 12*penceDen {
		return p.bad(first, "implausible", "there are more than eleven pence beside shillings")
	}
	m.Pence = Number{}
	if have[pence] {
		f := newFraction(penceNum, penceDen)
		if f.num == 0 {
			f = fraction{0, 1}
		}
		m.Pence = Number{Num: f.num, Den: f.den, Places: 0}
		if f.den > 1 {
			m.Pence.Places = -1
		}
	}
	per := int64(240)
	if decimalPence {
		per = 100
	}
	v := fraction{m.Pounds, 1}.add(newFraction(m.Shillings, 20)).add(newFraction(penceNum, penceDen).mul(fraction{1, per}))
	if v.den == 0 {
		return p.bad(first, "bad-number", "the number is too large")
	}
	m.Value = Number{Text: p.text[first.t.start:p.items[p.n-1].t.end], Num: v.num, Den: v.den, Places: -1}
	if v.den == 1 {
		m.Value.Places = 0
	}
	return true
}

// halves says whether a number is one of the fractions ½ ¼ ¾, which before "d" may as
// well be shillings and pence.
func halves(t *moneyToken) bool {
	return t.n == 2 && (t.parts[1] == 2 && t.parts[0] == 1 || t.parts[1] == 4 && (t.parts[0] == 1 || t.parts[0] == 3)) && t.widths[1] == 1
}

func addFraction(whole int64, t *moneyToken) (num, den int64) {
	if t.fden == 0 {
		return whole, 1
	}
	return whole*t.fden + t.fnum, t.fden
}

func (p *moneyParser) guineas(m *Money, it *moneyItem) bool {
	t := it.t
	n, d := addFraction(t.parts[0], t)
	if t.n == 2 {
		n, d = t.parts[0], t.parts[1]
	}
	g := newFraction(n, d)
	if g.num == 0 {
		return p.bad(it, "zero", "no guineas are no price")
	}
	v := g.mul(fraction{it.coin.num, it.coin.den})
	if v.den == 0 {
		return p.bad(it, "bad-number", "the number is too large")
	}
	places := 0
	if g.den > 1 {
		places = -1
	}
	m.Guineas = Number{Text: p.text[t.start:t.end], Num: g.num, Den: g.den, Places: places}
	m.Value = Number{Text: p.text[t.start:t.end], Num: v.num, Den: v.den, Places: -1}
	return true
}

// pointed decides about "£12.10": 1 for pounds and new pence, 0 for shillings, -1 for
// either.
func (p *moneyParser) pointed(t *moneyToken) int {
	v, w := t.parts[1], t.widths[1]
	switch {
	case t.seps[0] == ':':
		return 0
	case w == 0:
		return 0 // "£5.–"
	case w > 2:
		return -1
	case w == 2 && (p.c.DecimalPounds || p.year > 1971 || v >= 20 || v < 10):
		return 1
	case p.n > 1 && !p.items[1].has && p.items[1].t.n == 1:
		return 0 // "£12.7 6"
	}
	return -1
}

// decimal reads the other currencies: a main unit, perhaps with decimals, and small
// coins after it.
func (p *moneyParser) decimal(m *Money) bool {
	first := &p.items[0]
	t := first.t
	joinThousands(t)
	if t.n == 2 && t.seps[0] == '-' && t.parts[1] > t.parts[0] && p.n == 1 && (first.coin.main || !first.has) && t.fden == 0 {
		m.Lower = Number{Num: t.parts[0], Den: 1}
		m.Upper = Number{Num: t.parts[1], Den: 1}
		return true
	}
	var v fraction
	places := 0
	main := !first.has || first.coin.main
	switch {
	case t.n == 1:
		n, d := addFraction(t.parts[0], t)
		v = newFraction(n, d)
		if d > 1 {
			places = -1
		}
	case t.n == 2 && main && t.fden == 0 && (t.seps[0] == '.' || t.seps[0] == ',' || t.seps[0] == ':') && t.widths[1] <= 2:
		if t.seps[0] == ':' && m.Currency != CurrencyKrona && t.widths[1] > 0 {
			return p.bad(first, "syntax", "the sign in the number can't be read")
		}
		if t.widths[1] == 1 && t.seps[0] != '.' {
			return p.bad(first, "bad-number", "small money has two digits")
		}
		scale := int64(1)
		for i := int8(0); i < t.widths[1]; i++ {
			scale *= 10
		}
		v = newFraction(t.parts[0]*scale+t.parts[1], scale)
		places = int(t.widths[1])
	default:
		return p.bad(first, "bad-number", "a number is written in a way that can't be read")
	}
	if v.num == 0 {
		v = fraction{0, 1}
	}
	if !main {
		v = v.mul(newFraction(first.coin.num, first.coin.den))
		places = -1
		if first.coin.den == 100 && v.den != 0 && 100%v.den == 0 {
			places = 2
		}
	}
	for i := 1; i < p.n; i++ {
		it := &p.items[i]
		if i > 1 && (!it.has || it.coin.den <= p.items[i-1].coin.den) || places > 0 || !main || it.t.n != 1 || it.t.fden != 0 {
			return p.bad(it, "syntax", "the coins do not go together")
		}
		den := it.coin.den
		switch {
		case it.has && !it.coin.main:
		case !it.has && it.t.widths[0] == 2 && (m.Currency == CurrencyFranc || m.Currency == CurrencyMark || m.Currency == CurrencyKrona):
			den = 100 // "12 fr. 50"
		default:
			return p.bad(it, "syntax", "a number without its coin can't be told")
		}
		if it.t.parts[0] >= den {
			return p.bad(it, "implausible", "the small coins are worth more than one great one")
		}
		v = v.add(newFraction(it.t.parts[0], den))
		if den == 100 {
			places = 2
		} else {
			places = -1
		}
		if it.coin.code != "" && m.Code == "" {
			m.Code = it.coin.code
		}
	}
	if v.den == 0 {
		return p.bad(first, "bad-number", "the number is too large")
	}
	m.Value = Number{Text: p.text[t.start:p.items[p.n-1].t.end], Num: v.num, Den: v.den, Places: places}
	return true
}

package reading

import (
	"strconv"
	"unicode/utf8"
)

// AppendText appends the amount in one regular form that [ReadMoney] reads back to the
// same amount: "£12 7s 6½d", "10 guineas", "12.50 francs". The words about it are left out.
func (m *Money) AppendText(dst []byte) []byte {
	if m.Approximate {
		dst = append(dst, "about "...)
	}
	switch {
	case m.Value.Given():
		dst = m.appendAmount(dst, m.Value)
	case m.Lower.Given() && m.Upper.Given():
		dst = m.appendAmount(dst, m.Lower)
		dst = append(dst, " to "...)
		dst = m.appendAmount(dst, m.Upper)
	case m.Lower.Given():
		dst = m.appendAmount(append(dst, "at least "...), m.Lower)
	case m.Upper.Given():
		dst = m.appendAmount(append(dst, "up to "...), m.Upper)
	}
	if m.Uncertain {
		dst = append(dst, " (?)"...)
	}
	if m.Year != 0 {
		dst = append(dst, " ("...)
		dst = strconv.AppendInt(dst, int64(m.Year), 10)
		dst = append(dst, ')')
	}
	return dst
}

func (m *Money) appendAmount(dst []byte, n Number) []byte {
	switch m.Currency {
	case CurrencyPound, CurrencyScots:
		if m.Guineas.Given() {
			return append(m.Guineas.AppendText(dst), " guineas"...)
		}
		dst = append(dst, "£"...)
		dst = strconv.AppendInt(dst, n.Num/n.Den, 10)
		rest := newFraction(n.Num%n.Den, n.Den)
		if rest.num == 0 {
			return m.scots(dst)
		}
		if pence := rest.mul(fraction{240, 1}); n.Places != 2 && 8%pence.den == 0 {
			if s := pence.num / pence.den / 12; s > 0 {
				dst = append(strconv.AppendInt(append(dst, ' '), s, 10), 's')
			}
			if d := newFraction(pence.num%(12*pence.den), pence.den); d.num > 0 {
				dst = append(dst, ' ')
				dst = append(Number{Num: d.num, Den: d.den, Places: -1}.AppendText(dst), 'd')
			}
			return m.scots(dst)
		}
		if p := rest.mul(fraction{100, 1}); p.den == 1 {
			dst = append(strconv.AppendInt(append(dst, ' '), p.num, 10), 'p')
		}
		return dst
	}
	rest := newFraction(n.Num%n.Den, n.Den)
	if n.Places >= 0 || rest.num == 0 {
		dst, _ = n.AppendDecimal(dst)
		return m.appendCurrency(append(dst, ' '))
	}
	small := smallCoins[m.Currency]
	if len(small) == 0 || rest.den > small[len(small)-1].den || small[len(small)-1].den%rest.den != 0 {
		if word := hundredths[m.Currency]; word != "" && 100%rest.den != 0 {
			u := fraction{n.Num, n.Den}.mul(fraction{100, 1})
			if out, ok := appendVulgar(dst, u); ok {
				return append(append(out, ' '), word...) // 12½ öre
			}
		}
		// A fraction without a coin of its own: 12½ francs.
		var ok bool
		if dst, ok = appendVulgar(dst, fraction{n.Num, n.Den}); !ok {
			dst = strconv.AppendInt(dst, n.Num/n.Den, 10)
		}
		return m.appendCurrency(append(dst, ' '))
	}
	dst = m.appendCurrency(append(strconv.AppendInt(dst, n.Num/n.Den, 10), ' '))
	for i, c := range small {
		units := rest.mul(fraction{c.den, 1})
		whole := units.num / units.den
		if i == len(small)-1 {
			whole = units.num
		}
		if whole > 0 {
			dst = strconv.AppendInt(append(dst, ' '), whole, 10)
			dst = append(append(dst, ' '), c.word...)
			rest = rest.distance(newFraction(whole, c.den))
		}
	}
	return dst
}

func (m *Money) appendCurrency(dst []byte) []byte {
	if word, ok := currencyPlurals[m.Currency]; ok {
		return append(dst, word...)
	}
	return append(dst, m.Currency...)
}

// appendVulgar appends a number with the sign of its fraction, and says whether there
// is such a sign.
func appendVulgar(dst []byte, n fraction) ([]byte, bool) {
	if n.den == 0 {
		return dst, false
	}
	rest := newFraction(n.num%n.den, n.den)
	for r, f := range vulgarFractions {
		if f[0] == rest.num && f[1] == rest.den {
			if n.num >= n.den {
				dst = strconv.AppendInt(dst, n.num/n.den, 10)
			}
			return utf8.AppendRune(dst, r), true
		}
	}
	return dst, false
}

// hundredths are the hundredth parts that tell their currency alone; fractions of them
// are written with their sign.
var hundredths = map[Currency]string{CurrencyMark: "pfennig", CurrencyKrona: "öre", CurrencyFranc: "centimes"}

// smallCoins are the small coins of the currencies that are not divided by hundreds.
var smallCoins = map[Currency][]struct {
	den  int64
	word string
}{
	CurrencyLivre:  {{20, "sols"}, {240, "deniers"}},
	CurrencyGulden: {{20, "stuivers"}},
	CurrencyRupee:  {{16, "annas"}, {192, "pies"}},
	CurrencyReal:   {{34, "maravedís"}},
}

func (m *Money) scots(dst []byte) []byte {
	if m.Currency == CurrencyScots {
		return append(dst, " Scots"...)
	}
	return dst
}

var currencyPlurals = map[Currency]string{CurrencyLivre: "livres", CurrencyFlorin: "florins", CurrencyDollar: "dollars", CurrencyFranc: "francs"}

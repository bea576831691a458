package mapping

import (
	"strings"

	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["money"] = &reader{name: "money", key: "MonetaryAmount", scan: scanMoney}
}

// moneyFinding is an amount of money, in the main unit of the currency of its time.
type moneyFinding struct {
	words string
	figures
	currency *vocab.Authority
}

// currencyCodes are the ISO 4217 codes of the currencies whose name says the country.
var currencyCodes = map[reading.Currency]string{reading.CurrencyPound: "GBP", reading.CurrencyEuro: "EUR"}

func scanMoney(r *Run, v *value, text string, found []finding) ([]finding, error) {
	m, err := reading.ReadMoney(text, v.read.conv)
	if err != nil {
		return found, err
	}
	code := m.Code
	if code == "" {
		code = currencyCodes[m.Currency]
	}
	a, ok := vocab.AuthorityByCode("Currency", code)
	if !ok {
		return found, &reading.Unread{Text: text, Code: "no-authority", At: -1,
			Reason: "there is no authority term for the currency (" + string(m.Currency) + "); conventions can give its ISO 4217 code"}
	}
	f := &moneyFinding{words: strings.Clone(text), figures: figures{number(m.Value), number(m.Lower), number(m.Upper)}, currency: a}
	if f.val == "" {
		if f.lower == "" || f.upper == "" {
			return found, &reading.Unread{Text: text, Code: "one-bound", At: -1, Reason: "an amount with one bound has no value, which the profile requires"}
		}
		f.val = middle(m.Lower, m.Upper)
	}
	return append(found, f), nil
}

func (f *moneyFinding) write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool {
	switch slot.Key {
	case "identified_by":
		r.sayName(v, slot, term, f.words)
	case "currency":
		r.sayTerm(v, term, slot.Many, currencyClass, f.currency)
	default:
		return f.figures.write(r, v, slot, term)
	}
	return true
}

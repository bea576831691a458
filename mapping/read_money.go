package mapping

import (
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["money"] = &reader{name: "money", key: "MonetaryAmount", scan: scanMoney}
}

// moneyFinding is an amount of money, in the main unit of the currency of its time.
type moneyFinding struct {
	words             string
	val, lower, upper string
	currency          *vocab.Authority
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
	f := &moneyFinding{words: strings.Clone(text), val: number(m.Value), lower: number(m.Lower), upper: number(m.Upper), currency: a}
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
	case "value":
		r.say(entity.Number, v, slot, term, f.val)
	case "lower_value_limit":
		if f.lower == "" {
			return false
		}
		r.say(entity.Number, v, slot, term, f.lower)
	case "upper_value_limit":
		if f.upper == "" {
			return false
		}
		r.say(entity.Number, v, slot, term, f.upper)
	case "currency":
		r.sayTerm(v, term, slot.Many, currencyClass, f.currency)
	default:
		return false
	}
	return true
}

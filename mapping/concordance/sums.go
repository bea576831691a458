package concordance

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"ropewalk/mapping/reading"
)

// Range is a number of pieces that is known to lie between two limits.
type Range struct {
	Low, High int // High is -1 if there is no upper limit
	About     int // the number written, where the record says "about"; else 0
}

func exactly(n int) Range { return Range{Low: n, High: n} }

// String is "3", "36–44", "at least 1" or "about 40 (36–44)".
func (r Range) String() string {
	switch {
	case r.High < 0:
		return "at least " + thousands(r.Low)
	case r.Low == r.High:
		return thousands(r.Low)
	case r.About > 0:
		return "about " + thousands(r.About) + " (" + thousands(r.Low) + "–" + thousands(r.High) + ")"
	}
	return thousands(r.Low) + "–" + thousands(r.High)
}

func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// plus adds ranges. "About" is kept as long as both sides have a number.
func (r Range) plus(s Range) Range {
	out := Range{Low: r.Low + s.Low, High: r.High + s.High}
	if r.High < 0 || s.High < 0 {
		out.High = -1
		return out
	}
	if (r.About > 0 || s.About > 0) && r.middled() && s.middled() {
		out.About = r.middle() + s.middle()
	}
	return out
}

func (r Range) middled() bool { return r.About > 0 || r.Low == r.High }
func (r Range) middle() int {
	if r.About > 0 {
		return r.About
	}
	return r.Low
}

// minus is what is left of r when between s.Low and s.High are taken from it.
func (r Range) minus(s Range) Range {
	out := Range{Low: max(0, r.Low-s.High), High: max(0, r.High-s.Low)}
	if s.High < 0 {
		out.Low = 0
	}
	if r.High < 0 {
		out.High = -1
	}
	if r.About > 0 && s.Low == s.High {
		out.About = max(0, r.About-s.Low)
	}
	return out
}

// Farthings are an amount in pounds, shillings and pence, exactly: 960 make a pound, 48
// a shilling, 4 a penny (coinage of Great Britain before 15 February 1971).
type Farthings int64

// String is "£12 7s 6½d".
func (f Farthings) String() string {
	if f < 0 {
		return "−" + (-f).String()
	}
	var parts []string
	if p := f / 960; p > 0 {
		parts = append(parts, "£"+thousands(int(p)))
	}
	if s := f % 960 / 48; s > 0 {
		parts = append(parts, strconv.Itoa(int(s))+"s")
	}
	if d := f % 48; d > 0 {
		t := ""
		if d >= 4 {
			t = strconv.Itoa(int(d / 4))
		}
		parts = append(parts, t+[]string{"", "¼", "½", "¾"}[d%4]+"d")
	}
	if len(parts) == 0 {
		return "£0"
	}
	return strings.Join(parts, " ")
}

// Sum is an amount of money that is known to lie between two limits. The zero value
// is no amount.
type Sum struct {
	Low, High Farthings
	Given     bool
	About     Farthings // the amount written, where the record says "about"; else 0
	Why       string    // why there is no amount
}

// Exact reports whether the amount is known to the farthing.
func (s Sum) Exact() bool { return s.Given && s.Low == s.High }

// String writes it; "" if there is none.
func (s Sum) String() string {
	switch {
	case !s.Given:
		return ""
	case s.Low == s.High:
		return s.Low.String()
	case s.About > 0:
		return "about " + s.About.String() + " (" + s.Low.String() + " to " + s.High.String() + ")"
	}
	return s.Low.String() + " to " + s.High.String()
}

func (s Sum) plus(t Sum) Sum {
	if !s.Given {
		return t
	}
	if !t.Given {
		return s
	}
	out := Sum{Low: s.Low + t.Low, High: s.High + t.High, Given: true}
	if s.About > 0 || t.About > 0 {
		mid := func(x Sum) Farthings {
			if x.About > 0 {
				return x.About
			}
			return x.Low
		}
		if (s.About > 0 || s.Exact()) && (t.About > 0 || t.Exact()) {
			out.About = mid(s) + mid(t)
		}
	}
	return out
}

// times is the price of so many pieces; none if their number has no upper limit.
func (s Sum) times(r Range) Sum {
	if !s.Given {
		return s
	}
	if r.High < 0 {
		return Sum{Why: "it is not known how many pieces"}
	}
	out := Sum{Low: s.Low * Farthings(r.Low), High: s.High * Farthings(r.High), Given: true}
	if (s.About > 0 || r.About > 0) && (s.About > 0 || s.Exact()) && r.middled() {
		out.About = max(s.About, 0)
		if out.About == 0 {
			out.About = s.Low
		}
		out.About *= Farthings(r.middle())
	}
	return out
}

// farthings are a number of pounds; ok is false if they are no whole number of them.
func farthings(n reading.Number) (Farthings, bool) {
	v := new(big.Rat).Mul(n.Rat(), big.NewRat(960, 1))
	if !v.IsInt() || !v.Num().IsInt64() || v.Num().Int64() > 1<<36 {
		return 0, false
	}
	return Farthings(v.Num().Int64()), true
}

// ReadSum reads an amount in pounds, shillings and pence. about is how far "about" may
// be off, in percent.
func ReadSum(text string, c *reading.Conventions, about int) Sum {
	if strings.TrimSpace(text) == "" {
		return Sum{Why: "no price is written"}
	}
	m, err := reading.ReadMoney(text, c)
	if err != nil {
		why := err.Error()
		if u, ok := err.(*reading.Unread); ok {
			why = u.Reason
		}
		return Sum{Why: fmt.Sprintf("%q can't be read: %s", text, why)}
	}
	if m.Currency != reading.CurrencyPound {
		return Sum{Why: fmt.Sprintf("%q is not in pounds, shillings and pence", text)}
	}
	odd := Sum{Why: fmt.Sprintf("%q is not a whole number of farthings", text)}
	if m.Value.Given() {
		f, ok := farthings(m.Value)
		if !ok {
			return odd
		}
		if m.Approximate || m.Uncertain {
			d := f * Farthings(about) / 100
			return Sum{Low: f - d, High: f + d, About: f, Given: true}
		}
		return Sum{Low: f, High: f, Given: true}
	}
	if !m.Lower.Given() || !m.Upper.Given() {
		return Sum{Why: fmt.Sprintf("%q has one limit only", text)}
	}
	low, ok1 := farthings(m.Lower)
	high, ok2 := farthings(m.Upper)
	if !ok1 || !ok2 {
		return odd
	}
	return Sum{Low: low, High: high, Given: true}
}

// quantityMost is the highest number of pieces a line is believed to order.
const quantityMost = 1_000_000

// readQuantity reads how many pieces a line orders. each says that the number holds
// for every number of the line.
func readQuantity(text string, c *reading.Conventions, about int) (r Range, each bool, why string) {
	unknown := Range{High: -1}
	q, err := reading.ReadQuantity(text, c)
	if err != nil {
		why := err.Error()
		if u, ok := err.(*reading.Unread); ok {
			why = u.Reason
		}
		return unknown, false, fmt.Sprintf("the quantity %q can't be read: %s", text, why)
	}
	if len(q.Counts) != 1 {
		return unknown, false, fmt.Sprintf("the quantity %q has several numbers", text)
	}
	n := q.Counts[0]
	if n.Of > 0 {
		return unknown, false, fmt.Sprintf("the quantity %q is a part of a whole", text)
	}
	if n.Lower > quantityMost || n.Upper > quantityMost {
		return unknown, false, fmt.Sprintf("the quantity %q is too large to be believed", text)
	}
	for _, word := range strings.FieldsFunc(strings.ToLower(n.Noun), func(r rune) bool { return r == ' ' || r == '.' }) {
		switch word {
		case "each", "ea":
			each = true
		}
	}
	r = Range{Low: int(n.Lower), High: int(n.Upper)}
	if n.Value >= 0 && (n.Approximate || n.Uncertain) {
		d := (int(n.Value)*about + 99) / 100
		r = Range{Low: max(0, int(n.Value)-d), High: int(n.Value) + d, About: int(n.Value)}
	}
	return r, each, ""
}

package reading

import (
	"math/big"
	"strconv"
)

// Number is an exact number as it was written: 24.5, 9 5/8, 9⅝. The zero value
// is no number at all; see [Number.Given].
type Number struct {
	Text   string // as written
	Num    int64  // numerator
	Den    int64  // denominator, in lowest terms, > 0
	Places int    // decimal places written; -1 if written as a fraction
}

// Given says whether there is a number.
func (n Number) Given() bool { return n.Den != 0 }

// Rat gives the number as a rational.
func (n Number) Rat() *big.Rat {
	if n.Den == 0 {
		return new(big.Rat)
	}
	return big.NewRat(n.Num, n.Den)
}

// AppendDecimal appends the number in decimals with exactly the places written; a
// fraction gets the places it needs. It says false, and appends nothing, where no
// finite decimal is equal to the number (1/3).
func (n Number) AppendDecimal(dst []byte) ([]byte, bool) {
	if n.Den == 0 {
		return dst, false
	}
	start := len(dst)
	num := n.Num
	if num < 0 {
		dst = append(dst, '-')
		num = -num
	}
	dst = strconv.AppendInt(dst, num/n.Den, 10)
	rest := num % n.Den
	places := 0
	if rest != 0 || n.Places > 0 {
		dst = append(dst, '.')
	}
	for rest != 0 {
		if rest > (1<<63-1)/10 || places > 18 {
			return dst[:start], false
		}
		rest *= 10
		dst = append(dst, byte('0'+rest/n.Den))
		rest %= n.Den
		places++
	}
	for ; places < n.Places; places++ {
		dst = append(dst, '0')
	}
	return dst, true
}

// Decimal gives the number in decimals, as [Number.AppendDecimal] does; empty if
// there is no finite decimal.
func (n Number) Decimal() string {
	var buf [40]byte
	b, ok := n.AppendDecimal(buf[:0])
	if !ok {
		return ""
	}
	return string(b)
}

func gcd64(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

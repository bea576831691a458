package entity

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Datatypes of literals.
const (
	XSDString   = "http://www.w3.org/2001/XMLSchema#string"
	XSDInteger  = "http://www.w3.org/2001/XMLSchema#integer"
	XSDDouble   = "http://www.w3.org/2001/XMLSchema#double"
	XSDDateTime = "http://www.w3.org/2001/XMLSchema#dateTime"
)

// AppendNumber writes f as a [Number] of a document: the shortest decimal that
// gives f back, in the form that ECMAScript gives it (RFC 8785 §3.2.2.3). f must be
// finite.
func AppendNumber(dst []byte, f float64) []byte {
	if f == 0 {
		return append(dst, '0')
	}
	if a := math.Abs(f); 1e-6 <= a && a < 1e21 {
		return strconv.AppendFloat(dst, f, 'f', -1, 64)
	}
	from := len(dst)
	dst = strconv.AppendFloat(dst, f, 'e', -1, 64)
	if n := len(dst); n-from >= 4 && dst[n-4] == 'e' && dst[n-2] == '0' {
		dst[n-2] = dst[n-1] // e-09 is e-9
		dst = dst[:n-1]
	}
	return dst
}

// AppendDecimal writes the lexical form of a Number in RDF and reports whether
// its datatype is xsd:integer; else it is xsd:double. Whole numbers below 10²¹
// are integers, all others doubles in canonical form with at most 16 digits
// (JSON-LD 1.1 API §8.6).
func AppendDecimal(dst []byte, number string) ([]byte, bool) {
	if isShortInteger(number) {
		return append(dst, number...), true
	}
	f, err := strconv.ParseFloat(number, 64)
	if err == nil && f == math.Trunc(f) && math.Abs(f) < 1e21 {
		if f == 0 {
			return append(dst, '0'), true
		}
		return strconv.AppendFloat(dst, f, 'f', 0, 64), true
	}
	from := len(dst)
	dst = strconv.AppendFloat(dst, f, 'E', 15, 64)
	e := len(dst) - 1
	for e > from && dst[e] != 'E' {
		e--
	}
	if e == from {
		return dst, false // infinite: no JSON number is
	}
	exp := e + 1
	m := e
	for dst[m-1] == '0' && dst[m-2] != '.' {
		m--
	}
	dst[m] = 'E'
	m++
	if dst[exp] == '-' {
		dst[m] = '-'
		m++
	}
	for exp++; exp < len(dst)-1 && dst[exp] == '0'; exp++ {
	}
	m += copy(dst[m:], dst[exp:])
	return dst[:m], false
}

// isShortInteger reports whether a JSON number is its own xsd:integer.
func isShortInteger(s string) bool {
	if len(s) > 0 && s[0] == '-' {
		s = s[1:]
		if s == "0" {
			return false
		}
	}
	if len(s) == 0 || len(s) > 15 {
		return false
	}
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// canonicalNumber gives the form of AppendNumber for the text of a JSON number,
// and false if a double does not hold it.
func canonicalNumber(s string) (string, bool) {
	if isShortInteger(s) {
		return s, true
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return "", false
	}
	var buf [32]byte
	short := AppendNumber(buf[:0], f)
	if string(short) == s {
		return s, true
	}
	if f == 0 {
		mantissa, _, _ := strings.Cut(strings.ToLower(s), "e")
		return "0", strings.Trim(mantissa, "-0.") == ""
	}
	a, okA := new(big.Rat).SetString(s)
	b, okB := new(big.Rat).SetString(string(short))
	if !okA || !okB || a.Cmp(b) != 0 {
		return "", false
	}
	return string(short), true
}

package reading

import (
	"math/big"
	"math/bits"
	"strconv"
	"unicode/utf8"
)

// Number is an exact number as it was written: 24.5, 9 5/8, 9⅝, 5'9". The zero
// value is no number at all; see [Number.Given].
type Number struct {
	Text   string // as written
	Num    int64  // numerator, in lowest terms
	Den    int64  // denominator, > 0
	Places int    // decimal places written; -1 if written as a fraction or in two units
}

// Given says whether there is a number.
func (n Number) Given() bool { return n.Den != 0 }

func (n Number) isZero() bool { return n.Den != 0 && n.Num == 0 }

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
	if rest != 0 || n.Places > 0 {
		dst = append(dst, '.')
	}
	places := 0
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
	var buf [48]byte
	b, ok := n.AppendDecimal(buf[:0])
	if !ok {
		return ""
	}
	return string(b)
}

// less compares exactly.
func (n Number) less(m Number) bool {
	return cmpFractions(n.Num, n.Den, m.Num, m.Den) < 0
}

// cmpFractions compares a/b with c/d; b and d are positive, a and c are not negative.
func cmpFractions(a, b, c, d int64) int {
	h1, l1 := bits.Mul64(uint64(a), uint64(d))
	h2, l2 := bits.Mul64(uint64(c), uint64(b))
	switch {
	case h1 < h2 || h1 == h2 && l1 < l2:
		return -1
	case h1 == h2 && l1 == l2:
		return 0
	}
	return 1
}

func gcd64(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// fraction is a non-negative exact fraction; den 0 stands for overflow and stays so
// through every operation.
type fraction struct{ num, den int64 }

func newFraction(num, den int64) fraction {
	if den == 0 {
		return fraction{}
	}
	if g := gcd64(num, den); g > 1 {
		num, den = num/g, den/g
	}
	return fraction{num, den}
}

func mul64(a, b int64) (int64, bool) {
	h, l := bits.Mul64(uint64(a), uint64(b))
	return int64(l), h == 0 && l < 1<<63
}

func (f fraction) mul(g fraction) fraction {
	if f.den == 0 || g.den == 0 {
		return fraction{}
	}
	if d := gcd64(f.num, g.den); d > 1 {
		f.num, g.den = f.num/d, g.den/d
	}
	if d := gcd64(g.num, f.den); d > 1 {
		g.num, f.den = g.num/d, f.den/d
	}
	n, ok1 := mul64(f.num, g.num)
	d, ok2 := mul64(f.den, g.den)
	if !ok1 || !ok2 {
		return fraction{}
	}
	return fraction{n, d}
}

func (f fraction) add(g fraction) fraction {
	if f.den == 0 || g.den == 0 {
		return fraction{}
	}
	a, ok1 := mul64(f.num, g.den)
	b, ok2 := mul64(g.num, f.den)
	d, ok3 := mul64(f.den, g.den)
	if !ok1 || !ok2 || !ok3 || a > 1<<63-1-b {
		return fraction{}
	}
	return newFraction(a+b, d)
}

// distance is |f - g|.
func (f fraction) distance(g fraction) fraction {
	if f.den == 0 || g.den == 0 {
		return fraction{}
	}
	a, ok1 := mul64(f.num, g.den)
	b, ok2 := mul64(g.num, f.den)
	d, ok3 := mul64(f.den, g.den)
	if !ok1 || !ok2 || !ok3 {
		return fraction{}
	}
	if a < b {
		a, b = b, a
	}
	return newFraction(a-b, d)
}

// atMost is false on overflow.
func (f fraction) atMost(g fraction) bool {
	return f.den != 0 && g.den != 0 && cmpFractions(f.num, f.den, g.num, g.den) <= 0
}

// scanned is a number found in a text.
type scanned struct {
	num, den int64
	places   int8
	// either: 1 to 3 digits, one sign, 3 digits: the sign may be decimal or set the
	// thousands apart.
	either byte // ',' or '.', or 0
	sign   byte // the decimal sign certainly used, or 0
	end    int
	bad    bool
}

var vulgarFractions = map[rune][2]int64{
	'½': {1, 2}, '⅓': {1, 3}, '⅔': {2, 3}, '¼': {1, 4}, '¾': {3, 4},
	'⅕': {1, 5}, '⅖': {2, 5}, '⅗': {3, 5}, '⅘': {4, 5}, '⅙': {1, 6}, '⅚': {5, 6}, '⅐': {1, 7},
	'⅛': {1, 8}, '⅜': {3, 8}, '⅝': {5, 8}, '⅞': {7, 8}, '⅑': {1, 9}, '⅒': {1, 10},
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// startsNumber says whether a number begins at i.
func startsNumber(s string, i int) bool {
	b := s[i]
	if isDigit(b) {
		return true
	}
	if b == '.' {
		// ".875", but not the point of "c.24".
		return i+1 < len(s) && isDigit(s[i+1]) && (i == 0 || !isDigit(s[i-1]) && s[i-1] < utf8.RuneSelf && !(s[i-1]|0x20 >= 'a' && s[i-1]|0x20 <= 'z'))
	}
	if b < utf8.RuneSelf {
		return false
	}
	r, _ := utf8.DecodeRuneInString(s[i:])
	if _, ok := vulgarFractions[r]; ok {
		return true
	}
	_, ok := superscriptDigit(r)
	return ok && scriptFractionAt(s, i).end > 0
}

// scanNumber reads the number that begins at i: digits, a decimal sign, thousands, and
// fractions ("9 5/8", "9-5/8", "9⅝", "9 ⁵⁄₈"). Fractions are proper.
func scanNumber(s string, i int, decimal string) scanned {
	start := i
	for i < len(s) && isDigit(s[i]) {
		i++
	}
	if i-start > 15 {
		return scanned{end: i, bad: true}
	}
	whole := digits64(s[start:i])
	if i == start && i < len(s) && s[i] != '.' {
		if f := anyFractionAt(s, i); f.end > 0 {
			return f
		}
		return scanned{end: i + 1, bad: true}
	}
	if i < len(s) && (s[i] == '.' || s[i] == ',') && i+1 < len(s) && isDigit(s[i+1]) {
		return scanPointed(s, start, i, decimal)
	}
	if joined := joinSpacedThousands(s, start, i); joined > i {
		n := int64(0)
		for k := start; k < joined; k++ {
			if isDigit(s[k]) {
				n = n*10 + int64(s[k]-'0')
			}
		}
		return scanned{num: n, den: 1, end: joined}
	}
	// A whole number, alone, with a fraction, or itself a numerator.
	if f := plainFraction(s, start, i, whole, false); f.end > 0 || f.bad {
		return f
	}
	// "9⅝", "9-5/8" and "9 5/8".
	j := i
	if j < len(s) && s[j] == '-' {
		j++
	} else {
		j = skipBlanks(s, j)
	}
	if j > i || j < len(s) && s[j] >= utf8.RuneSelf {
		if f := anyFractionAt(s, j); f.end > 0 {
			w := fraction{whole, 1}.add(fraction{f.num, f.den})
			return scanned{num: w.num, den: w.den, places: -1, end: f.end, bad: w.den == 0}
		}
	}
	return scanned{num: whole, den: 1, end: i}
}

func digits64(s string) int64 {
	var n int64
	for i := 0; i < len(s); i++ {
		n = n*10 + int64(s[i]-'0')
	}
	return n
}

func skipBlanks(s string, i int) int {
	for i < len(s) && (s[i] == ' ' || s[i] == '\t') {
		i++
	}
	return i
}

// anyFractionAt reads a fraction of whatever form at i, or says end 0.
func anyFractionAt(s string, i int) scanned {
	if i >= len(s) {
		return scanned{}
	}
	if isDigit(s[i]) {
		j := i
		for j < len(s) && isDigit(s[j]) {
			j++
		}
		if j-i > 3 {
			return scanned{}
		}
		return plainFraction(s, i, j, digits64(s[i:j]), true)
	}
	if s[i] < utf8.RuneSelf {
		return scanned{}
	}
	r, size := utf8.DecodeRuneInString(s[i:])
	if f, ok := vulgarFractions[r]; ok {
		return scanned{num: f[0], den: f[1], places: -1, end: i + size}
	}
	return scriptFractionAt(s, i)
}

// plainFraction reads "5/8" whose numerator is s[from:to]. Blanks about the stroke are
// taken only where a whole number stands before ("15 3/ 4").
func plainFraction(s string, from, to int, num int64, afterWhole bool) scanned {
	j := to
	if afterWhole {
		j = skipBlanks(s, j)
	}
	switch {
	case j < len(s) && s[j] == '/':
		j++
	case len(s)-j >= len("⁄") && s[j:j+len("⁄")] == "⁄":
		j += len("⁄")
	default:
		return scanned{}
	}
	if afterWhole {
		j = skipBlanks(s, j)
	}
	k := j
	for k < len(s) && isDigit(s[k]) {
		k++
	}
	if k == j || k-j > 3 || to-from > 3 {
		return scanned{}
	}
	den := digits64(s[j:k])
	if !properFraction(num, den) || k < len(s) && s[k] == '/' {
		return scanned{}
	}
	f := newFraction(num, den)
	return scanned{num: f.num, den: f.den, places: -1, end: k}
}

// properFraction admits the denominators of rulers, and halves to twelfths.
func properFraction(num, den int64) bool {
	if num <= 0 || num >= den {
		return false
	}
	switch den {
	case 2, 4, 8, 16, 32, 64, 128:
		return true
	case 3, 5, 6, 10, 12:
		return gcd64(num, den) == 1
	}
	return false
}

func superscriptDigit(r rune) (int64, bool) {
	switch r {
	case '¹':
		return 1, true
	case '²':
		return 2, true
	case '³':
		return 3, true
	}
	if r == '⁰' || r >= '⁴' && r <= '⁹' {
		return int64(r - '⁰'), true
	}
	return 0, false
}

// scriptFractionAt reads a fraction of superscript and subscript digits at i.
func scriptFractionAt(s string, i int) scanned {
	var num, den int64
	j := i
	for j < len(s) {
		r, size := utf8.DecodeRuneInString(s[j:])
		d, ok := superscriptDigit(r)
		if !ok || num > 99 {
			break
		}
		num, j = num*10+d, j+size
	}
	if j == i || j >= len(s) {
		return scanned{}
	}
	switch r, size := utf8.DecodeRuneInString(s[j:]); r {
	case '/', '⁄':
		j += size
	default:
		return scanned{}
	}
	k := j
	for k < len(s) {
		r, size := utf8.DecodeRuneInString(s[k:])
		if r < '₀' || r > '₉' || den > 99 {
			break
		}
		den, k = den*10+int64(r-'₀'), k+size
	}
	if !properFraction(num, den) {
		return scanned{}
	}
	f := newFraction(num, den)
	return scanned{num: f.num, den: f.den, places: -1, end: k}
}

// joinSpacedThousands gives the end of a number whose thousands are set apart by a
// no-break or thin space, which nobody types by chance; otherwise to.
func joinSpacedThousands(s string, from, to int) int {
	if to-from > 3 {
		return to
	}
	end := to
	for {
		r, size := utf8.DecodeRuneInString(s[end:])
		if r != '\u00a0' && r != '\u202f' && r != '\u2009' {
			return end
		}
		k := end + size
		if k+3 > len(s) || !isDigit(s[k]) || !isDigit(s[k+1]) || !isDigit(s[k+2]) || k+3 < len(s) && (isDigit(s[k+3]) || s[k+3] == '/') {
			return end
		}
		if end = k + 3; end-from > 18 {
			return to
		}
	}
}

// scanPointed reads a number with signs in it; s[i] is the first sign.
func scanPointed(s string, start, i int, decimal string) scanned {
	first := i - start
	groups, last, same, threes := 0, byte(0), true, true
	lastAt := i
	j := i
	for j+1 < len(s) && (s[j] == '.' || s[j] == ',') && isDigit(s[j+1]) {
		if groups > 0 {
			if s[j] != last {
				same = false
			}
			if j-lastAt-1 != 3 {
				threes = false
			}
		}
		if groups > 0 && !same && s[j] == last {
			return scanned{end: j, bad: true}
		}
		last, lastAt = s[j], j
		groups++
		j++
		for j < len(s) && isDigit(s[j]) {
			j++
		}
	}
	if j-start > 20 || groups > 4 {
		return scanned{end: j, bad: true}
	}
	lastLen := j - lastAt - 1
	out := scanned{end: j}
	point := -1 // offset of the decimal sign
	switch {
	case groups == 1:
		point = i
		grouped := lastLen == 3 && first >= 1 && first <= 3 && s[start] != '0'
		switch {
		case !grouped:
			out.sign = last
		case decimal == "":
			out.either = last
		case decimal[0] == last:
			out.sign = last
		default:
			point = -1
		}
	case same:
		if !threes || lastLen != 3 || first > 3 || first == 0 {
			out.bad = true
			return out
		}
	default: // 1.234,5 or 1,234.5
		if !threes || first > 3 || first == 0 {
			out.bad = true
			return out
		}
		point, out.sign = lastAt, last
	}
	var num, den int64 = 0, 1
	for k := start; k < j; k++ {
		if !isDigit(s[k]) {
			continue
		}
		if num > (1<<63-1-9)/10 || den > (1<<63-1)/10 {
			out.bad = true
			return out
		}
		num = num*10 + int64(s[k]-'0')
		if point >= 0 && k > point {
			den *= 10
		}
	}
	if point >= 0 {
		out.places = int8(j - point - 1)
	}
	f := newFraction(num, den)
	if num == 0 {
		f = fraction{0, 1}
	}
	out.num, out.den = f.num, f.den
	return out
}

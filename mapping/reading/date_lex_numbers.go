package reading

import (
	"unicode"
	"unicode/utf8"
)

func dateApostropheAt(s string, i int) int {
	if i >= len(s) {
		return 0
	}
	if s[i] == '\'' || s[i] == '`' {
		return 1
	}
	if s[i] < utf8.RuneSelf {
		return 0
	}
	switch r, n := utf8.DecodeRuneInString(s[i:]); r {
	case '’', '‘', '´', 'ʼ', '′':
		return n
	}
	return 0
}

// number reads a number with what is written on to it: 19th, 1870s, 18??.
func (l *dateLexer) number(i int) int {
	text, from := l.text, i
	var v int64
	for i < len(text) && text[i] >= '0' && text[i] <= '9' {
		if i-from < 15 {
			v = v*10 + int64(text[i]-'0')
		}
		i++
	}
	n := i - from
	if n <= 3 && i+3 < len(text) && text[i] == ',' && dateThree(text[i+1:]) && n > 0 && text[from] != '0' {
		// 10,000: a comma between thousands
		for k := 1; k <= 3; k++ {
			v = v*10 + int64(text[i+k]-'0')
		}
		i, n = i+4, n+3
	}
	t := l.add(dateNumber, from, i)
	if i-from > n {
		t.flags |= dateThousands
	}
	t.val, t.n = v, uint8(min(n, 99))
	if a := dateApostropheBefore(text, from); a {
		t.flags |= dateApostrophe
	}
	if n == 2 || n == 3 {
		if end, x := dateUnspecified(text, i, 4-n); x > 0 && (from == 0 || text[i] == '?' || text[from-1] != '-' && text[from-1] != '.' && text[from-1] != '/') {
			t.end, t.n = int32(end), 4
			for ; x > 0; x-- {
				t.val *= 10
				t.mask = t.mask<<1 | 1
			}
			return end
		}
	}
	return l.suffix(t, i)
}

func dateThree(s string) bool {
	for k := range 3 {
		if s[k] < '0' || s[k] > '9' {
			return false
		}
	}
	return len(s) == 3 || s[3] < '0' || s[3] > '9'
}

func dateApostropheBefore(s string, i int) bool {
	if i == 0 {
		return false
	}
	r, n := utf8.DecodeLastRuneInString(s[:i])
	if n == 1 && r != '\'' && r != '`' {
		return false
	}
	if dateApostropheAt(s, i-n) == 0 {
		return false
	}
	if i-n == 0 {
		return true
	}
	r, _ = utf8.DecodeLastRuneInString(s[:i-n])
	return !unicode.IsLetter(r) || r == 'l' || r == 'L' // dell'800
}

// dateUnspecified reads signs that stand for missing digits at the end of a year,
// exactly want of them: 18??, 187x, 18--, 187-. A dash that may be anything else
// is left alone.
func dateUnspecified(s string, i, want int) (end, n int) {
	if i >= len(s) {
		return 0, 0
	}
	c := s[i]
	switch c {
	case '?', 'x', 'X', '_', '-', '.':
	default:
		return 0, 0
	}
	for end = i; end < len(s) && s[end] == c; end++ {
		n++
	}
	if n != want {
		return 0, 0
	}
	var next byte
	if end < len(s) {
		next = s[end]
	}
	switch {
	case next >= '0' && next <= '9', next|0x20 >= 'a' && next|0x20 <= 'z', next >= utf8.RuneSelf:
		return 0, 0
	case c == '-' && want == 1:
		// "187-" is 187 and after, unless brackets or doubt say it is a cataloguer's decade
		if next != ']' && next != '?' {
			return 0, 0
		}
	case c == '.' && want == 1:
		return 0, 0
	case c == '?' && want == 1:
		// "183?" may be the year 183: a decade only after a year of four digits
		if !dateYearBefore(s[:i-3]) {
			return 0, 0
		}
	}
	return end, n
}

// dateYearBefore reports whether s ends with a year and a dash.
func dateYearBefore(s string) bool {
	digits, dash := 0, false
	for i := len(s) - 1; i >= 0; i-- {
		switch c := s[i]; {
		case c == ' ' && digits == 0:
		case (c == '-' || c >= utf8.RuneSelf) && digits == 0:
			dash = true
		case c >= '0' && c <= '9' && dash:
			digits++
		default:
			return digits == 4
		}
	}
	return digits == 4
}

// suffix reads the letters that make a number an ordinal or a decade.
func (l *dateLexer) suffix(t *dateToken, i int) int {
	text := l.text
	j := i
	mark := dateApostropheAt(text, j)
	if mark == 0 && j < len(text) && text[j] == ':' && t.n <= 2 {
		mark = 1 // Swedish 1:a
	}
	j += mark
	end := j
	for end < len(text) {
		r, n := utf8.DecodeRuneInString(text[end:])
		if !unicode.IsLetter(r) {
			break
		}
		end += n
	}
	if end == j || end-j > 8 {
		return i
	}
	var buf [24]byte
	word := foldDate(buf[:0], text[j:end])
	colon := mark > 0 && text[i] == ':'
	switch string(word) {
	case "s":
		if colon || t.n < 2 {
			return i
		}
		t.class = dateDecades
	case "er", "ern", "ers", "erne", "ernes", "iger", "igern":
		if t.n >= 3 || t.n == 2 && t.val%10 == 0 {
			t.class = dateDecades
		} else if string(word) == "er" {
			t.class = dateOrdinal
		} else {
			return i
		}
	case "thc", "stc", "ndc", "rdc": // 19thC
		if t.n > 2 || mark > 0 {
			return i
		}
		t.class = dateOrdinal
		end--
	case "th", "st", "nd", "rd", "d", "ème", "eme", "ième", "ieme", "e", "re", "ère", "ere", "o", "a", "de", "ste", "te", "ten", "tes", "ter", "en", "em", "º", "ª", "os":
		if t.n > 2 || mark > 0 && !colon {
			return i
		}
		if (string(word) == "a" || string(word) == "e" || string(word) == "o" || string(word) == "d" || string(word) == "en" || string(word) == "de") && end < len(text) && text[end] == '.' && t.n > 1 && !colon {
			// "12 a.C." written close: the letter begins an era
			if rest := text[end:]; len(rest) > 1 && rest[1]|0x20 >= 'a' && rest[1]|0x20 <= 'z' {
				return i
			}
		}
		t.class = dateOrdinal
	default:
		return i
	}
	t.end = int32(end)
	return end
}

func dateRomanSuffix(s string) bool {
	switch s {
	case "e", "ème", "eme", "ième", "th", "st", "nd", "rd", "o", "er", "re", "ᵉ", "º", "è", "ste", "de", "s":
		return true
	}
	return false
}

// romanPrefix reads the Roman numeral at the start of s, all in capitals or all
// in small letters, in its usual spelling (also IIII), below 4000. rest is what
// follows, which must be small letters.
func romanPrefix(s string) (v int, rest string) {
	upper := s[0] >= 'A' && s[0] <= 'Z'
	n := 0
	for n < len(s) && romanDigit(s[n]|0x20) > 0 && (s[n] >= 'A' && s[n] <= 'Z') == upper {
		n++
	}
	if !upper && n < len(s) {
		return 0, ""
	}
	for i := 0; i < n; i++ {
		d := romanDigit(s[i] | 0x20)
		if i+1 < n && romanDigit(s[i+1]|0x20) > d {
			v -= d
		} else {
			v += d
		}
	}
	if v <= 0 || v >= 4000 || !romanSpelt(v, s[:n]) {
		return 0, ""
	}
	return v, s[n:]
}

func romanDigit(c byte) int {
	switch c {
	case 'i', 'j':
		return 1
	case 'v':
		return 5
	case 'x':
		return 10
	case 'l':
		return 50
	case 'c':
		return 100
	case 'd':
		return 500
	case 'm':
		return 1000
	}
	return 0
}

var romanParts = [...]struct {
	v int
	s string
}{{1000, "m"}, {900, "cm"}, {500, "d"}, {400, "cd"}, {100, "c"}, {90, "xc"}, {50, "l"}, {40, "xl"}, {10, "x"}, {9, "ix"}, {5, "v"}, {4, "iv"}, {1, "i"}}

// romanSpelt reports whether s is a usual spelling of v: with subtraction, or
// with four equal signs in its stead; j for a last i.
func romanSpelt(v int, s string) bool {
	return romanWith(v, s, true) || romanWith(v, s, false)
}

func romanWith(v int, s string, subtract bool) bool {
	i := 0
	for _, p := range romanParts {
		if len(p.s) == 2 && !subtract {
			continue
		}
		for ; v >= p.v; v -= p.v {
			for k := range len(p.s) {
				if i >= len(s) {
					return false
				}
				c := s[i] | 0x20
				if c == 'j' && i == len(s)-1 {
					c = 'i'
				}
				if c != p.s[k] {
					return false
				}
				i++
			}
		}
	}
	return i == len(s)
}

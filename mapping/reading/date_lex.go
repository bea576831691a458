package reading

import (
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// dateClass is what a token is in a date.
type dateClass uint8

const (
	dateEnd         dateClass = iota
	dateWord                  // a word without meaning here
	dateNumber                // val
	dateOrdinal               // val: 19th, XIXe, nineteenth
	dateRoman                 // val: a Roman numeral that is no other word
	dateDecades               // val: 1870s, 70s
	dateMonth                 // val: 1 to 12
	dateSeasonW               // val: 21 to 24
	dateWeekday               //
	dateAbout                 // circa
	dateMaybe                 // probably, ?
	dateBefore                // before; by; not after
	dateAfter                 // after; not before
	dateSince                 // from, since, onwards
	dateUntil                 // until
	dateOrBefore              // "or earlier"
	dateOrAfter               // "or later"
	datePart                  // val: a part of a time
	datePartAfter             // val: the same, only after its century
	dateShare                 // val: half 2, third 3, quarter 4
	dateLast                  // last
	dateCenturyW              //
	dateMillenniumW           //
	dateDecadeW               // "décennie", "années", "decade"
	dateHundreds              // val: century of Italian "Ottocento" and its like
	dateTal                   // "tal" and its like after a number
	dateYearW                 // year, anno
	dateBC                    //
	dateAD                    //
	dateHijri                 // AH
	dateOr                    //
	dateAnd                   //
	dateTo                    //
	dateBetween               //
	dateDash                  //
	dateSlash                 //
	dateComma                 //
	dateSemi                  //
	dateColon                 //
	dateOpen                  // (
	dateClose                 // )
	dateStar                  // *
	dateDagger                // † and +
	datePresent               // present, today
	dateUnknown               // unknown
	dateNone                  // n.d., undated
	dateMonthW                // month
	dateTerm                  // val: Michaelmas and its like
	dateTermW                 // term, session
	dateRulerW                // val: index into rulerNames
	dateReignN                // val: index into dateReigns
	dateReignW                // reign, period, dynasty
	dateFrenchMonth           // val: 1 to 13
	dateStage                 // val: index into dateStages
	dateBorn                  //
	dateDied                  //
	dateActive                //
	dateFounded               //
	dateClosed                //
	dateNoise                 // articles
	dateOf                    // "of": also Dutch for or
	datePeriod                // val: kind of period named without years
	dateOldStyle              //
	dateNewStyle              //
	dateZodiac                // val: years after one of the Rat
	datePeople                // American, Venetian: what a person was
	datePerson                // he, she
	dateStop                  // words that turn a date into something else
)

// Flags of a token.
const (
	dateGlued       uint8 = 1 << iota // nothing stands between it and the one before
	dateDotted                        // a full stop follows at once
	dateUpper                         // begins with a capital letter
	dateApostrophe                    // an apostrophe stands before it
	dateThousands                     // stands in square brackets
	dateHyphenMinus                   // a dash written -
	dateDouble                        // a dash written --
	dateRomanToo                      // roman holds a value
)

type dateToken struct {
	class    dateClass
	flags    uint8
	n        uint8 // digits written
	mask     uint8 // digits not specified, as edtfDate.mask
	roman    int16
	lo, hi   int16 // the folded word in dateLexer.fold
	pos, end int32 // in the text
	val      int64
}

const (
	maxDateTokens = 48
	maxDateBytes  = 300
)

// dateLexer cuts text into tokens. It keeps all in itself so that reading needs
// no memory.
type dateLexer struct {
	text string
	fold [maxDateBytes + 64]byte // words in lower case, one after another
	used int
	toks [maxDateTokens + 2]dateToken
	n    int

	bracket int
}

// lex fills l.toks and ends them with dateEnd. It reports false if text is too
// long to be a date.
func (l *dateLexer) lex(text string) bool {
	if len(text) > maxDateBytes {
		return false
	}
	for i := 0; i < len(text); i++ {
		if text[i] >= 0xCC && text[i] <= 0xCD { // a combining mark: U+0300 to U+036F
			text = norm.NFC.String(text)
			break
		}
	}
	if len(text) > maxDateBytes {
		return false
	}
	l.text = text
	space := true
	for i := 0; i < len(text); {
		if l.n >= maxDateTokens {
			return false
		}
		c := text[i]
		from := l.n
		switch {
		case c == ' ' || c == '\t' || c == '\n' || c == '\r':
			i++
			space = true
			continue
		case c >= '0' && c <= '9':
			i = l.number(i)
		case c|0x20 >= 'a' && c|0x20 <= 'z':
			i = l.word(i)
		case c < utf8.RuneSelf:
			i = l.sign(i)
		default:
			r, n := utf8.DecodeRuneInString(text[i:])
			switch {
			case unicode.IsLetter(r):
				i = l.word(i)
			case unicode.IsSpace(r) || unicode.Is(unicode.Cf, r):
				i += n
				space = true
				continue
			default:
				i = l.rune(i, r, n)
			}
		}
		if l.n > from {
			t := &l.toks[from]
			if !space {
				t.flags |= dateGlued
			}
			space = false
		}
	}
	l.toks[l.n] = dateToken{class: dateEnd, pos: int32(len(text)), end: int32(len(text))}
	l.phrases()
	return true
}

func (l *dateLexer) add(class dateClass, pos, end int) *dateToken {
	t := &l.toks[l.n]
	*t = dateToken{class: class, pos: int32(pos), end: int32(end)}
	l.n++
	return t
}

// sign reads a token of ASCII punctuation.
func (l *dateLexer) sign(i int) int {
	text := l.text
	switch c := text[i]; c {
	case '-', '_':
		end := i + 1
		for end < len(text) && text[end] == c {
			end++
		}
		t := l.add(dateDash, i, end)
		t.flags |= dateHyphenMinus
		if end > i+1 {
			t.flags |= dateDouble
		}
		return end
	case '.':
		if i+1 < len(text) && text[i+1] == '.' {
			end := i + 2
			for end < len(text) && text[end] == '.' {
				end++
			}
			l.add(dateDash, i, end)
			return end
		}
		if l.n > 0 && l.toks[l.n-1].end == int32(i) {
			l.toks[l.n-1].flags |= dateDotted
			l.toks[l.n-1].end++
			return i + 1
		}
		if l.n > 0 && l.toks[l.n-1].class != dateDash { // "1850 .": a stop by itself says nothing
			return i + 1
		}
		l.add(dateWord, i, i+1)
	case '/':
		l.add(dateSlash, i, i+1)
	case ',':
		l.add(dateComma, i, i+1)
	case ';':
		l.add(dateSemi, i, i+1)
	case ':':
		l.add(dateColon, i, i+1)
	case '(':
		if end := l.doubt(i+1, ')'); end > 0 {
			l.add(dateMaybe, i, end)
			return end
		}
		l.add(dateOpen, i, i+1)
	case ')':
		l.add(dateClose, i, i+1)
	case '[':
		if end := l.doubt(i+1, ']'); end > 0 {
			l.add(dateMaybe, i, end)
			return end
		}
		l.bracket++
	case ']':
		if l.bracket == 0 {
			l.add(dateWord, i, i+1)
			break
		}
		l.bracket--
	case '?':
		l.add(dateMaybe, i, i+1)
		for i+1 < len(text) && text[i+1] == '?' {
			i++
		}
	case '~':
		l.add(dateAbout, i, i+1)
	case '*':
		l.add(dateStar, i, i+1)
	case '+':
		if i+1 < len(text) && text[i+1] == '/' {
			for _, s := range [...]string{"+/-", "+/−", "+/–"} {
				if len(text)-i >= len(s) && text[i:i+len(s)] == s {
					l.add(dateAbout, i, i+len(s))
					return i + len(s)
				}
			}
		}
		l.add(dateDagger, i, i+1)
	case '&':
		l.add(dateAnd, i, i+1)
	case '\'', '`', '"':
		return i + 1
	default:
		l.add(dateWord, i, i+1)
	}
	return i + 1
}

// doubt reports the end of a pair of brackets that holds nothing but question
// marks, or 0. i is behind the opening one.
func (l *dateLexer) doubt(i int, closing byte) int {
	marks := 0
	for ; i < len(l.text); i++ {
		switch l.text[i] {
		case '?':
			marks++
		case ' ':
		case closing:
			if marks > 0 {
				return i + 1
			}
			return 0
		default:
			return 0
		}
	}
	return 0
}

// rune reads a token of other punctuation.
func (l *dateLexer) rune(i int, r rune, n int) int {
	switch r {
	case '–', '—', '‒', '−', '‐', '‑', '―':
		l.add(dateDash, i, i+n)
	case '…':
		l.add(dateDash, i, i+n)
	case '⁄', '∕':
		l.add(dateSlash, i, i+n)
	case '†', '‡', '✝', '✠', '☩':
		l.add(dateDagger, i, i+n)
	case '±', '≈', '∼', '≃', '≅':
		l.add(dateAbout, i, i+n)
	case '’', '‘', '´', 'ʼ', '′', '“', '”', '„', '"', '«', '»', '¨':
	case '；':
		l.add(dateSemi, i, i+n)
	case '，', '·':
		l.add(dateComma, i, i+n)
	default:
		l.add(dateWord, i, i+n)
	}
	return i + n
}

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
	case "er", "ern", "ers", "erne", "iger", "igern":
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

// word reads a run of letters.
func (l *dateLexer) word(i int) int {
	text, from := l.text, i
	for i < len(text) {
		c := text[i]
		if c|0x20 >= 'a' && c|0x20 <= 'z' {
			i++
			continue
		}
		if c < utf8.RuneSelf {
			break
		}
		r, n := utf8.DecodeRuneInString(text[i:])
		if !unicode.IsLetter(r) {
			break
		}
		i += n
	}
	t := l.add(dateWord, from, i)
	if c := text[from]; c >= 'A' && c <= 'Z' {
		t.flags |= dateUpper
	} else if c >= utf8.RuneSelf {
		if r, _ := utf8.DecodeRuneInString(text[from:]); unicode.IsUpper(r) {
			t.flags |= dateUpper
		}
	}
	if l.used+i-from+8 > len(l.fold) || i-from > 40 {
		return i
	}
	if i-from == 1 && dateApostropheAt(text, i) > 0 && (text[from]|0x20 == 'd' || text[from]|0x20 == 'l') {
		t.class = dateNoise
		return i
	}
	w := foldDate(l.fold[l.used:l.used], text[from:i])
	if i-from == 1 && w[0] == 'c' && i+1 < len(text) && text[i] == ':' && text[i+1] == 'a' { // Swedish "c:a"
		t.class = dateAbout
		t.end = int32(i + 2)
		return i + 2
	}
	t.lo, t.hi = int16(l.used), int16(l.used+len(w))
	l.used += len(w)
	if e, ok := dateLexicon[string(w)]; ok {
		t.class, t.val = e.class, int64(e.val)
		if e.starts {
			t.mask = 1
		}
	}
	if i-from == 1 && t.flags&dateUpper != 0 && (t.class == dateBorn || t.class == dateDied) {
		t.class = dateWord // a letter, not an abbreviation
	}
	if v, rest := romanPrefix(text[from:i]); v > 0 {
		switch {
		case rest == "":
			t.roman = int16(v)
			t.flags |= dateRomanToo
			switch {
			case v >= 1000 && (i-from >= 5 || i-from >= 3 && t.flags&dateUpper != 0):
				t.class, t.val, t.n = dateNumber, int64(v), 4
			case t.class == dateWord:
				t.class, t.val = dateRoman, int64(v)
			}
		case t.class == dateWord && dateRomanSuffix(rest):
			t.class, t.val = dateOrdinal, int64(v)
		}
	}
	if t.class == dateNoise && t.val == 12 && l.n > 1 {
		// Norwegian "des." after a day, otherwise the French article
		if b := l.toks[l.n-2].class; b == dateNumber || b == dateOrdinal {
			t.class = dateMonth
		}
	}
	return i
}

func dateRomanSuffix(s string) bool {
	switch s {
	case "e", "ème", "eme", "ième", "th", "st", "nd", "rd", "o", "er", "re", "ᵉ", "º", "è", "ste", "de", "s":
		return true
	}
	return false
}

// foldDate appends s in lower case to b.
func foldDate(b []byte, s string) []byte {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= utf8.RuneSelf {
			for _, r := range s[i:] {
				switch r {
				case 'ᵉ':
					r = 'e'
				case 'ʳ', 'ᵗ', 'ʰ', 'ᵐ':
					r = map[rune]rune{'ʳ': 'r', 'ᵗ': 't', 'ʰ': 'h', 'ᵐ': 'm'}[r]
				}
				b = utf8.AppendRune(b, unicode.ToLower(r))
			}
			return b
		}
		if c >= 'A' && c <= 'Z' {
			c |= 0x20
		}
		b = append(b, c)
	}
	return b
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

// phrases merges words that mean something together.
func (l *dateLexer) phrases() {
	out := 0
	for i := 0; i < l.n; {
		t := l.toks[i]
		next := i + 1
		if t.mask != 0 && t.hi > t.lo {
			t.mask = 0
			if ps := datePhrases[string(l.fold[t.lo:t.hi])]; ps != nil {
				for k := range ps {
					if end := l.matches(i+1, ps[k].rest); end > 0 {
						t.class, t.val, t.flags = ps[k].class, int64(ps[k].val), t.flags&^dateRomanToo
						last := l.toks[end-1]
						t.end = last.end
						t.flags = t.flags&^dateDotted | last.flags&dateDotted
						t.lo, t.hi = 0, 0
						next = end
						break
					}
				}
			}
		}
		l.toks[out] = t
		out++
		i = next
	}
	l.toks[out] = l.toks[l.n]
	l.n = out
}

// matches reports the index behind the tokens at i that spell rest, or 0. A
// hyphen or slash between the words does not count.
func (l *dateLexer) matches(i int, rest []string) int {
	for _, w := range rest {
		t := &l.toks[i]
		if i < l.n && (t.class == dateDash || t.class == dateSlash) && t.flags&dateGlued != 0 {
			i++
			t = &l.toks[i]
		}
		if i >= l.n {
			return 0
		}
		if t.hi > t.lo {
			if string(l.fold[t.lo:t.hi]) != w {
				return 0
			}
		} else if t.class != dateAnd || w != "and" {
			return 0
		}
		i++
	}
	return i
}

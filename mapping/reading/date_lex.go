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
					l.add(dateAbout, i, i+len(s)).val = aboutSign
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
	case '±':
		l.add(dateAbout, i, i+n).val = aboutSign
	case '≈', '∼', '≃', '≅':
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

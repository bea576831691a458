package reading

import (
	"unicode"
	"unicode/utf8"
)

type tokenKind uint8

const (
	tokNumber    tokenKind = iota
	tokWord                // letters, with digits after them
	tokColon               // :
	tokBreak               // ; | line end: begins a new clause
	tokComma               // ,
	tokDot                 // . that belongs to no number
	tokOpen                // ( [ {
	tokClose               // ) ] }
	tokTimes               // × * or an x between numbers
	tokSlash               // /
	tokDash                // - – —
	tokPlus                // + &
	tokPlusMinus           // ±
	tokApprox              // ~ ≈
	tokEqual               // =
	tokQuery               // ?
	tokLess                // < ≤
	tokGreater             // > ≥
	tokPrime               // ' : feet, minutes
	tokPrimes              // " : inches, seconds
	tokOther
)

// dimensionToken is a token of a cell of measures.
type dimensionToken struct {
	kind       tokenKind
	spaced     bool // white space before it
	places     int8
	start, end int32
	num, den   int64
	word       *dimensionWord
}

const maxDimensionTokens = 256

// dimensionLexer cuts a cell into tokens.
type dimensionLexer struct {
	text   string
	tokens [maxDimensionTokens]dimensionToken
	n      int
	sign   byte // the decimal sign the cell uses, or 0
}

func (l *dimensionLexer) add(kind tokenKind, spaced bool, start, end int) *dimensionToken {
	t := &l.tokens[l.n]
	*t = dimensionToken{kind: kind, spaced: spaced, start: int32(start), end: int32(end)}
	l.n++
	return t
}

// run fills the tokens. It gives an empty code if all went well.
func (l *dimensionLexer) run(decimal string) (code, reason string, at int) {
	text := l.text
	if len(text) > 1<<16 {
		return "too-long", "the text is too long to be measures", 0
	}
	either, eitherAt, sign := byte(0), -1, byte(0)
	l.sign = 0
	again := false
	if len(decimal) > 0 {
		sign = decimal[0]
	}
	i, spaced := 0, false
	for i < len(text) {
		if l.n == maxDimensionTokens {
			return "too-long", "there are too many words and numbers to be measures", i
		}
		if size := blankAt(text, i); size > 0 {
			spaced = true
			i += size
			continue
		}
		switch {
		case startsNumber(text, i):
			sc := scanNumber(text, i, decimal)
			if sc.bad {
				return "bad-number", "a number is written in a way that can't be read", i
			}
			if sc.either != 0 {
				if either == 0 {
					either, eitherAt = sc.either, i
				} else if either != sc.either {
					return "ambiguous-number", "a comma or a point may be a decimal sign or set thousands apart", i
				}
			}
			if sc.sign != 0 {
				if sign != 0 && sign != sc.sign {
					return "ambiguous-number", "numbers of the same cell use two decimal signs", i
				}
				sign = sc.sign
				l.sign = sign
			}
			t := l.add(tokNumber, spaced, i, sc.end)
			t.num, t.den, t.places = sc.num, sc.den, sc.places
			i = sc.end
		case isWordStart(text, i):
			i = l.word(i, spaced)
		default:
			i = l.mark(i, spaced)
		}
		spaced = false
	}
	switch {
	case either == 0 || decimal != "":
	case sign != 0 && sign != either:
		again = true // the sign sets thousands apart: read the numbers anew
	case sign == 0 && !l.decidesDecimal(either):
		return "ambiguous-number", "a comma or a point may be a decimal sign or set thousands apart", eitherAt
	}
	if again {
		l.n = 0
		return l.run(string(rune(sign)))
	}
	return "", "", 0
}

// decidesDecimal says whether a lone 1,325 or 1.325 is certainly a decimal fraction. A
// point is one, the thousands of a German being rare in English words, except beside
// units so small that thousandths of them are not measured.
func (l *dimensionLexer) decidesDecimal(either byte) bool {
	if either != '.' {
		return false
	}
	for i := range l.tokens[:l.n] {
		if w := l.tokens[i].word; w != nil && (w.unit == "mm" || w.unit == "g") {
			return false
		}
	}
	return true
}

// blankAt gives the size of the blank at i, of whatever width, or 0.
func blankAt(s string, i int) int {
	b := s[i]
	if b == ' ' || b == '\t' {
		return 1
	}
	if b < utf8.RuneSelf {
		return 0
	}
	switch r, size := utf8.DecodeRuneInString(s[i:]); r {
	case '\u00a0', '\u202f', '\u2009', '\u2002', '\u2003', '\u200a', '\u3000', '\ufeff', '\u200b':
		return size
	}
	return 0
}

func isWordStart(s string, i int) bool {
	b := s[i]
	if b < utf8.RuneSelf {
		return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z'
	}
	r, _ := utf8.DecodeRuneInString(s[i:])
	return unicode.IsLetter(r) || r == '⌀'
}

// word reads the word at i. Words cut at once: "x" between numbers, "HxWxD", a known
// letter or unit stuck to the number after it.
func (l *dimensionLexer) word(i int, spaced bool) int {
	text := l.text
	end := i
	letters := -1 // end of the letters, where digits follow
	for end < len(text) {
		b := text[end]
		switch {
		case b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z':
			if letters >= 0 {
				goto done
			}
			end++
		case isDigit(b):
			if letters < 0 {
				letters = end
			}
			end++
		case b == '-' && letters < 0 && end+1 < len(text) && isLetterAt(text, end+1):
			end++
		case (b == '\'' || b == '/') && letters < 0 && joinsLetters(text, i, end):
			end++
		case b >= utf8.RuneSelf:
			r, size := utf8.DecodeRuneInString(text[end:])
			switch {
			case letters >= 0 && !unicode.Is(unicode.Mn, r):
				goto done
			case unicode.IsLetter(r), unicode.Is(unicode.M, r), end == i:
			case r == '²', r == '³':
			case r == '’' && joinsLetters(text, i, end+size-1):
			default:
				goto done
			}
			end += size
		default:
			goto done
		}
	}
done:
	// "w/" and "m/" stand for with and med.
	if end == i+1 && end < len(text) && text[end] == '/' && (text[i] == 'w' || text[i] == 'W' || text[i] == 'm') {
		end++
	}
	if letters >= 0 {
		if w := lookupDimensionWord(text[i:end]); w != nil && w.unit != "" {
			l.add(tokWord, spaced, i, end).word = w // cm2
			return end
		}
		if l.cutsBeforeDigits(text[i:letters]) {
			end = letters
		}
	}
	// x between numbers.
	if c := text[i]; (c == 'x' || c == 'X') && end == i+1 {
		l.add(tokTimes, spaced, i, end)
		return end
	}
	if l.letterProduct(i, end, spaced) {
		return end
	}
	t := l.add(tokWord, spaced, i, end)
	t.word = lookupDimensionWord(text[i:end])
	return end
}

// cutsBeforeDigits: "H24", "x125", "Ø12", but not "nål2".
func (l *dimensionLexer) cutsBeforeDigits(s string) bool {
	if s == "x" || s == "X" {
		return true
	}
	w := lookupDimensionWord(s)
	return w != nil && (w.element != "" || w.unit != "" || w.flags&(wordApprox|wordTimes) != 0)
}

func isLetterAt(s string, i int) bool {
	r, _ := utf8.DecodeRuneInString(s[i:])
	return unicode.IsLetter(r)
}

// joinsLetters says whether the sign whose last byte is at i stands in the midst of a
// word: d'or, w/out.
func joinsLetters(s string, start, i int) bool {
	if i+1 >= len(s) || i <= start || !isLetterAt(s, i+1) {
		return false
	}
	if s[i] == '/' {
		return i == start+1 && (s[start] == 'w' || s[start] == 'W') && (s[i+1] == 'o')
	}
	return true
}

// letterProduct cuts "HxWxD" into letters and signs.
func (l *dimensionLexer) letterProduct(i, end int, spaced bool) bool {
	s := l.text[i:end]
	if len(s) < 3 || len(s) > 7 || len(s)%2 == 0 || l.n+len(s) > maxDimensionTokens {
		return false
	}
	for k := 0; k < len(s); k++ {
		if k%2 == 1 {
			if s[k] != 'x' && s[k] != 'X' {
				return false
			}
			continue
		}
		w := lookupDimensionWord(s[k : k+1])
		if w == nil || w.element == "" {
			return false
		}
	}
	for k := 0; k < len(s); k++ {
		kind := tokWord
		if k%2 == 1 {
			kind = tokTimes
		}
		t := l.add(kind, spaced && k == 0, i+k, i+k+1)
		if kind == tokWord {
			t.word = lookupDimensionWord(s[k : k+1])
		}
	}
	return true
}

// mark reads the one sign at i.
func (l *dimensionLexer) mark(i int, spaced bool) int {
	text := l.text
	kind := tokOther
	switch text[i] {
	case ':':
		kind = tokColon
	case ';', '|', '\n', '\r':
		kind = tokBreak
	case ',':
		kind = tokComma
	case '.':
		kind = tokDot
	case '(', '[', '{':
		kind = tokOpen
	case ')', ']', '}':
		kind = tokClose
	case '*':
		kind = tokTimes
	case '/':
		kind = tokSlash
	case '-':
		kind = tokDash
	case '+', '&':
		kind = tokPlus
		if i+2 < len(text) && text[i] == '+' && text[i+1] == '/' && text[i+2] == '-' {
			l.add(tokPlusMinus, spaced, i, i+3)
			return i + 3
		}
	case '~':
		kind = tokApprox
	case '=':
		kind = tokEqual
	case '?':
		kind = tokQuery
	case '<':
		kind = tokLess
	case '>':
		kind = tokGreater
	case '"':
		kind = tokPrimes
	case '\'', '`':
		kind = tokPrime
		if i+1 < len(text) && text[i+1] == '\'' {
			l.add(tokPrimes, spaced, i, i+2)
			return i + 2
		}
	}
	if text[i] < utf8.RuneSelf {
		l.add(kind, spaced, i, i+1)
		return i + 1
	}
	r, size := utf8.DecodeRuneInString(text[i:])
	switch r {
	case '×', '✕', '✖', '⨯':
		kind = tokTimes
	case '–', '—', '−', '‐', '‑':
		kind = tokDash
	case '±':
		kind = tokPlusMinus
	case '≈':
		kind = tokApprox
	case '≤':
		kind = tokLess
	case '≥':
		kind = tokGreater
	case '′', '’', '‘':
		kind = tokPrime
	case '″', '”', '“', '„':
		kind = tokPrimes
	case '•', '·', '¦', '\u2028', '\u0085':
		kind = tokBreak
	}
	l.add(kind, spaced, i, i+size)
	return i + size
}

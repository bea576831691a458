package reading

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

type moneyKind uint8

const (
	moneyNumber moneyKind = iota
	moneyCoin
	moneyWord
	moneySign
)

// moneyToken is a piece of a cell of money. Numbers keep the groups between their signs,
// for 12.7.6, 7/6 and 12:50 mean what the money makes of them.
type moneyToken struct {
	kind       moneyKind
	sign       byte // '-' for any dash
	spaced     bool
	start, end int
	coin       coin
	parts      [5]int64
	widths     [5]int8 // digits of each part; 0: a dash stands for nothing
	seps       [4]byte
	n          int
	fnum, fden int64 // a fraction after the last part
	stroke     bool  // the fraction has a stroke, as shillings and pence have
}

const maxMoneyTokens = 48

type moneyLexer struct {
	text   string
	tokens []moneyToken
	failed *Unread
}

func (l *moneyLexer) fail(at int, code, reason string) {
	if l.failed == nil {
		l.failed = &Unread{Text: l.text, Code: code, Reason: reason, At: at}
	}
}

func (l *moneyLexer) run() {
	s := l.text
	spaced := false
	for i := 0; i < len(s) && l.failed == nil; {
		if size := blankAt(s, i); size > 0 || s[i] == '\n' || s[i] == '\r' {
			spaced = true
			i += max(size, 1)
			continue
		}
		if len(l.tokens) == maxMoneyTokens {
			l.fail(i, "too-long", "there are too many words and numbers to be an amount of money")
			return
		}
		start := i
		t := moneyToken{spaced: spaced, start: start}
		switch {
		case isDigit(s[i]) || dashShillings(s, i):
			i = l.number(&t, i)
		case vulgarAt(s, i).end > 0:
			f := vulgarAt(s, i)
			t.n, t.widths[0], t.fnum, t.fden = 1, 1, f.num, f.den
			i = f.end
		case isWordStart(s, i):
			i = l.word(&t, i)
		default:
			i = l.sign(&t, i)
		}
		t.end = i
		l.tokens = append(l.tokens, t)
		if t.kind == moneyWord {
			l.pence()
		}
		spaced = false
	}
}

func vulgarAt(s string, i int) scanned {
	if s[i] < utf8.RuneSelf {
		return scanned{}
	}
	r, size := utf8.DecodeRuneInString(s[i:])
	if f, ok := vulgarFractions[r]; ok {
		return scanned{num: f[0], den: f[1], end: i + size}
	}
	return scanned{}
}

// dashAt gives the size of a dash at i, or 0.
func dashAt(s string, i int) int {
	if i >= len(s) {
		return 0
	}
	if s[i] == '-' {
		return 1
	}
	for _, d := range [...]string{"–", "—", "−"} {
		if strings.HasPrefix(s[i:], d) {
			return len(d)
		}
	}
	return 0
}

// dashShillings: "-/6" is six pence.
func dashShillings(s string, i int) bool {
	n := dashAt(s, i)
	return n > 0 && i+n+1 < len(s) && s[i+n] == '/' && isDigit(s[i+n+1])
}

func (l *moneyLexer) number(t *moneyToken, i int) int {
	s := l.text
	for {
		start := i
		for i < len(s) && isDigit(s[i]) {
			i++
		}
		width := i - start
		if width > 12 {
			l.fail(start, "bad-number", "the number is too large")
			return i
		}
		if width == 0 {
			i += dashAt(s, i) // a dash for nothing
		}
		t.parts[t.n], t.widths[t.n] = digits64(s[start:start+width]), int8(width)
		t.n++
		if f := vulgarAt2(s, i); f.end > 0 && width > 0 && !poundsThenPence(s, t.start, i, f.end) {
			t.fnum, t.fden = f.num, f.den
			return f.end
		}
		if f := spacedHalf(s, i); f.end > 0 && width > 0 {
			t.fnum, t.fden, t.stroke = f.num, f.den, true
			return f.end
		}
		if i >= len(s) {
			return i
		}
		sep, size := byte(0), 1
		switch s[i] {
		case '.', ',', ':', '/', '\'':
			sep = s[i]
		default:
			if n := dashAt(s, i); n > 0 {
				sep, size = '-', n
			}
		}
		if sep == 0 || i+size >= len(s) {
			return i
		}
		digits := isDigit(s[i+size])
		dash := sep != '-' && dashAt(s, i+size) > 0
		if !digits && !dash {
			return i
		}
		if t.n == len(t.parts) {
			l.fail(t.start, "bad-number", "a number is written in a way that can't be read")
			return i
		}
		t.seps[t.n-1] = sep
		i += size
	}
}

func vulgarAt2(s string, i int) scanned {
	if i >= len(s) {
		return scanned{}
	}
	if s[i] == ' ' && i+1 < len(s) {
		i++
	}
	return vulgarAt(s, i)
}

// poundsThenPence reports whether a fraction set apart from its number is one of a
// penny: "£2 ½d" is two pounds and a halfpenny.
func poundsThenPence(s string, start, space, end int) bool {
	if s[space] != ' ' || !strings.HasSuffix(strings.TrimRight(s[:start], " "), "£") {
		return false
	}
	rest := strings.TrimLeft(s[end:], " ")
	return strings.HasPrefix(rest, "d") && (len(rest) == 1 || !isWordStart(rest, 1))
}

// spacedHalf reads the " 1/2" of "6 1/2d".
func spacedHalf(s string, i int) scanned {
	if i+3 >= len(s) || s[i] != ' ' || s[i+2] != '/' || !isDigit(s[i+1]) || !isDigit(s[i+3]) || i+4 < len(s) && (isDigit(s[i+4]) || s[i+4] == '/') {
		return scanned{}
	}
	num, den := int64(s[i+1]-'0'), int64(s[i+3]-'0')
	if den != 2 && den != 4 && den != 3 && den != 8 || num >= den || num == 0 {
		return scanned{}
	}
	return scanned{num: num, den: den, end: i + 4}
}

func (l *moneyLexer) word(t *moneyToken, i int) int {
	s := l.text
	start := i
	for i < len(s) {
		if s[i] < utf8.RuneSelf {
			if s[i]|0x20 >= 'a' && s[i]|0x20 <= 'z' || (s[i] == '-' || s[i] == '\'') && i+1 < len(s) && isLetterAt(s, i+1) {
				i++
				continue
			}
			if s[i] == '$' {
				i++
			}
			break
		}
		r, size := utf8.DecodeRuneInString(s[i:])
		if !unicode.IsLetter(r) && !unicode.Is(unicode.M, r) && i > start {
			break
		}
		i += size
	}
	t.kind = moneyWord
	var buf [64]byte
	if i-start <= 24 {
		if c, ok := coins[string(foldInto(buf[:0], s[start:i]))]; ok {
			t.kind, t.coin = moneyCoin, c
		}
	}
	return i
}

// pence cuts "sixpence" into a number and a coin.
func (l *moneyLexer) pence() {
	t := &l.tokens[len(l.tokens)-1]
	head, ok := strings.CutSuffix(strings.ToLower(l.text[t.start:t.end]), "pence")
	if !ok || head == "" || len(l.tokens) == maxMoneyTokens {
		return
	}
	switch head {
	case "tup":
		head = "two"
	case "thrup":
		head = "three"
	}
	n, ok := numberWords[head]
	if !ok || n == 0 || n > 12 {
		return
	}
	t.kind, t.n, t.parts[0], t.widths[0] = moneyNumber, 1, n, 1
	l.tokens = append(l.tokens, moneyToken{kind: moneyCoin, start: t.end, end: t.end, coin: coins["d"]})
}

func (l *moneyLexer) sign(t *moneyToken, i int) int {
	s := l.text
	t.kind, t.sign = moneySign, s[i]
	if s[i] == '$' && strings.HasPrefix(s[i:], "$US") {
		t.kind, t.coin = moneyCoin, coins["$us"]
		return i + 3
	}
	if n := dashAt(s, i); n > 0 {
		t.sign = '-'
		return i + n
	}
	_, size := utf8.DecodeRuneInString(s[i:])
	if c, ok := coins[s[i:i+size]]; ok {
		t.kind, t.coin = moneyCoin, c
	}
	return i + size
}

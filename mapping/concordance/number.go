package concordance

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"ropewalk/mapping/reading"
)

// Number is one catalogue number as somebody wrote it. Letters are small.
type Number struct {
	Prefix  string // letters before the figures: "a" of "A 12", or the whole of a number in letters ("xiv", "c")
	Figures string // figures without leading zeros; '?' stands for one that can't be read, '…' for any number of them
	Suffix  string // "a", "bis", "½", "*" or "/3"
	Roman   int    // the value, if Prefix can be read as a Roman numeral; else 0
	Doubt   bool   // whoever wrote or copied it was not sure
	Open    bool   // "21?": a doubt, or one more figure that can't be read
}

// Written is what a cell of numbers says. The zero value is an empty cell.
type Written struct {
	Text      string
	Numbers   []Number // several for a list or a range
	Struck    []Number // struck out
	Cancelled bool     // something is struck out and nothing stands in its place
	Ditto     bool     // the number of the line above, with Suffix in place of its own if that is not empty
	Suffix    string
	Illegible bool // something stands there and none of it can be read
}

// rangeMost is how many numbers a range may name: what names more is more likely
// misread.
const rangeMost = 100

// figuresMost is how many figures a number may have.
const figuresMost = 6

// ReadNumbers reads the numbers of a cell as clerks, curators and copyists write
// them (common practice, no published source): "212", "No. 212 (bis)", "212a",
// "212-15", "212 & 214", "XIV", "ditto", "2?2" with a figure that can't be read,
// "2[1]2" with one that is supplied, "~~212~~ 213" or "212 (struck out)". The error
// is an [*reading.Unread] with one of the codes "unknown-words", "one-or-two",
// "backwards", "too-long" and "illegible-range"; nothing is guessed.
func ReadNumbers(text string) (Written, error) {
	w := Written{Text: text}
	kept, struck, marked := splitStruck(text)
	p := numberParser{text: text}
	var gone Written
	for _, s := range struck {
		p.cell(s, &gone)
	}
	if p.err == nil && gone.Ditto {
		p.fail("unknown-words", "a ditto is struck out, and it can't be told what it stood for")
	}
	w.Struck = gone.Numbers
	if strings.TrimSpace(kept) != "" || !marked {
		p.cell(kept, &w)
	}
	if p.err != nil {
		return Written{Text: text}, p.err
	}
	w.Cancelled = marked && len(w.Numbers) == 0 && !w.Ditto && !w.Illegible
	return w, nil
}

var (
	struckSigns = regexp.MustCompile(`~~(.*?)~~|⟦(.*?)⟧|\[\[(.*?)\]\]|(?i:\[(?:struck(?: out| through)?|crossed out|cancelled|deleted|del\.?) ?: ?(.*?)\])`)
	struckWords = regexp.MustCompile(`(?i)[(\[]?\b(?:struck out|struck through|crossed out|cancelled|canceled|deleted|gestrichen|biffé|överstruken)\b[)\]]?[.:]?`)
)

// splitStruck takes out what is struck out. marked says that something is.
func splitStruck(text string) (kept string, struck []string, marked bool) {
	var b strings.Builder
	at := 0
	for _, m := range struckSigns.FindAllStringSubmatchIndex(text, -1) {
		b.WriteString(text[at:m[0]])
		b.WriteByte(' ')
		at = m[1]
		marked = true
		for g := 2; g < len(m); g += 2 {
			if m[g] >= 0 && strings.TrimSpace(text[m[g]:m[g+1]]) != "" {
				struck = append(struck, text[m[g]:m[g+1]])
			}
		}
	}
	b.WriteString(text[at:])
	kept = b.String()
	if m := struckWords.FindStringIndex(kept); m != nil {
		marked = true
		before, after := kept[:m[0]], kept[m[1]:]
		if strings.TrimSpace(before) == "" {
			before, after = after, ""
		}
		if strings.TrimSpace(before) != "" {
			struck = append(struck, before)
		}
		kept = strings.TrimLeft(after, " ,;")
	}
	return kept, struck, marked
}

type numberParser struct {
	text string
	err  error
}

func (p *numberParser) fail(code, reason string) {
	if p.err == nil {
		p.err = &reading.Unread{Text: p.text, Code: code, Reason: reason, At: -1}
	}
}

var (
	dittoCell  = regexp.MustCompile(`^(?i:dittos?\b|di?to\b|do\b|dº|idem\b|id\b|desgl\b|the same\b|-?["″”“„〃]-?|,,|''|’’|‚‚)\.?`)
	blankCell  = regexp.MustCompile(`^(?i:[\[(]?(?:illegible|unleserlich|illisible|oläsligt|\?+|…+|\.{3,})[\])]?)$`)
	numberSign = regexp.MustCompile(`^(?i:(?:cat(?:alogue|al)?\.? ?)?(?:numbers?|numéros?|nummern?|num|nos?|nrs?|n[°º]s?|№|#) ?[.:]? ?)`)
	listSign   = regexp.MustCompile(`(?i) ?[;&+] ?|, | (?:and|und|et|och|u\.) `)
	oneOrTwo   = regexp.MustCompile(`[0-9],[0-9]`)
	rangeSign  = regexp.MustCompile(`^(.*?[^ ]) ?(?:[-‐‑‒–—−]| (?:to|bis|à) ) ?([^ ].*)$`)
	suffixForm = regexp.MustCompile(`^(?i:[ .]?[(\[]?(bis|ter|quater|[a-z]|½|¼|¾|\*|/[0-9]{1,3}|/[a-z])[)\]]?)$`)
	romanForm  = regexp.MustCompile(`^m{0,3}(?:cm|cd|d?c{0,4})(?:xc|xl|l?x{0,4})(?:ix|iv|v?i{0,4})$`)
)

// cell reads what stands in a cell apart from what is struck out.
func (p *numberParser) cell(s string, w *Written) {
	s = strings.Join(strings.FieldsFunc(s, unicode.IsSpace), " ")
	if s != ",," {
		s = strings.TrimRight(s, " ,;:")
	}
	if s != "" && !strings.HasSuffix(s, "..") && !strings.EqualFold(s, "u.") {
		s = strings.TrimRight(s, ".")
	}
	switch {
	case p.err != nil || s == "":
		return
	case blankCell.MatchString(s):
		w.Illegible = true
		return
	}
	if m := dittoCell.FindString(s); m != "" {
		rest := strings.TrimSpace(s[len(m):])
		if rest != "" {
			x := suffixForm.FindStringSubmatch(rest)
			if x == nil {
				p.fail("unknown-words", "there is more beside the ditto than a letter")
				return
			}
			w.Suffix = strings.ToLower(x[1])
		}
		w.Ditto = true
		return
	}
	if oneOrTwo.MatchString(s) {
		p.fail("one-or-two", "it can't be told whether the comma parts two numbers or belongs to one")
		return
	}
	for _, item := range listSign.Split(s, -1) {
		if item = strings.TrimSpace(item); item == "" {
			p.fail("unknown-words", "a number is missing between two signs")
			return
		}
		p.item(item, w)
		if p.err != nil {
			return
		}
	}
	if len(w.Numbers) > rangeMost {
		p.fail("too-long", "the cell names more than a hundred numbers")
	}
}

// withoutSign takes "No." and its like from the front.
func withoutSign(s string) string {
	sign := numberSign.FindString(s)
	rest := s[len(sign):]
	if sign == "" || rest == "" || isLetter(sign[len(sign)-1]) && isLetter(rest[0]) {
		return s // a word that begins like one
	}
	return rest
}

// item reads one number, or a range of them.
func (p *numberParser) item(s string, w *Written) {
	s = strings.TrimSpace(withoutSign(s))
	// "212 a & b": a letter alone goes with the figures before it.
	if n := len(w.Numbers); n > 0 && len(s) == 1 && isLetter(s[0]) && w.Numbers[n-1].Figures != "" && len(w.Numbers[n-1].Suffix) == 1 && isLetter(w.Numbers[n-1].Suffix[0]) {
		next := w.Numbers[n-1]
		next.Suffix, next.Doubt, next.Open = strings.ToLower(s), false, false
		w.Numbers = append(w.Numbers, next)
		return
	}
	if n, ok := readNumber(s); ok {
		if k := len(w.Numbers); k > 0 && shorter(n, w.Numbers[k-1]) {
			n.Doubt = true // "212, 13" may be short for 213
		}
		w.Numbers = append(w.Numbers, n)
		return
	}
	m := rangeSign.FindStringSubmatch(s)
	if m == nil {
		p.fail("unknown-words", "this is no number of a catalogue")
		return
	}
	from, ok := readNumber(m[1])
	if !ok {
		p.fail("unknown-words", "the beginning of the range is no number")
		return
	}
	p.span(from, strings.TrimSpace(withoutSign(m[2])), w)
}

// shorter reports whether n may be an abbreviation of a number that follows last.
func shorter(n, last Number) bool {
	if n.Prefix != "" || last.Prefix != "" || len(n.Figures) >= len(last.Figures) || !n.legible() || !last.legible() || n.Suffix != "" {
		return false
	}
	long := last.Figures[:len(last.Figures)-len(n.Figures)] + n.Figures
	return long > last.Figures
}

// span reads the end of a range and names all of its numbers.
func (p *numberParser) span(from Number, end string, w *Written) {
	if !from.legible() || strings.ContainsAny(end, "?[…") {
		p.fail("illegible-range", "a figure of the range can't be read, or there is a doubt about it")
		return
	}
	if len(end) == 1 && isLetter(end[0]) {
		last := strings.ToLower(end)[0]
		switch {
		case from.Figures == "":
			p.fail("unknown-words", "the range runs from letters to a letter")
		case from.Suffix == "":
			from.Suffix = string(last) // "212-a"
			w.Numbers = append(w.Numbers, from)
		case len(from.Suffix) == 1 && isLetter(from.Suffix[0]) && from.Suffix[0] < last:
			for c := from.Suffix[0]; c <= last; c++ {
				n := from
				n.Suffix = string(c)
				w.Numbers = append(w.Numbers, n)
			}
		default:
			p.fail("backwards", "the range does not rise")
		}
		return
	}
	to, ok := readNumber(end)
	if !ok || !to.legible() || from.Figures == "" || to.Figures == "" || from.Suffix != "" || to.Suffix != "" || to.Prefix != "" && to.Prefix != from.Prefix {
		p.fail("unknown-words", "the end of the range is no number like its beginning")
		return
	}
	last := to.Figures
	if len(end) < len(from.Figures) && end == strings.TrimLeft(end, " ") && isFigures(end) {
		last = from.Figures[:len(from.Figures)-len(end)] + end // "212-15"
	}
	a, _ := strconv.Atoi(from.Figures)
	b, _ := strconv.Atoi(last)
	switch {
	case b <= a:
		p.fail("backwards", "the range does not rise")
	case b-a >= rangeMost:
		p.fail("too-long", "the range names more than a hundred numbers")
	default:
		for i := a; i <= b; i++ {
			w.Numbers = append(w.Numbers, Number{Prefix: from.Prefix, Figures: strconv.Itoa(i)})
		}
	}
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
func isFigure(c byte) bool { return c >= '0' && c <= '9' }
func isFigures(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// readNumber reads one number without the sign before it.
func readNumber(s string) (n Number, ok bool) {
	for _, d := range []string{"(?)", "[?]", " ?"} {
		if t, cut := strings.CutSuffix(s, d); cut && (d != "[?]" || strings.HasSuffix(t, " ")) {
			n.Doubt, s = true, strings.TrimRight(t, " ")
		}
	}
	i := 0
	for i < len(s) && isLetter(s[i]) {
		i++
	}
	letters, rest := s[:i], s[i:]
	// A number without figures: Roman, or a letter, or a letter doubled.
	head, tail, spaced := strings.Cut(s, " ")
	word := strings.ToLower(strings.TrimSuffix(head, "?"))
	if word != "" && isLetters(word) && (romanForm.MatchString(word) || len(word) == 1 || len(word) == 2 && word[0] == word[1]) {
		m := suffixForm.FindStringSubmatch(tail)
		if !spaced || m != nil {
			n.Prefix, n.Roman = word, roman(word)
			n.Doubt = n.Doubt || strings.HasSuffix(head, "?")
			if m != nil {
				n.Suffix = strings.ToLower(m[1])
			}
			return n, true
		}
	}
	if len(letters) > 3 {
		return Number{}, false
	}
	if letters != "" && rest != "" && strings.ContainsRune(" .-", rune(rest[0])) {
		rest = rest[1:]
	}
	n.Prefix = strings.ToLower(letters)
	if notSeries[n.Prefix] {
		return Number{}, false
	}
	figures, after, doubt, ok := readFigures(rest)
	if !ok {
		return Number{}, false
	}
	n.Doubt = n.Doubt || doubt
	// "21?" may be a doubt as well as a figure that can't be read.
	if after == "?" || after == "" && strings.HasSuffix(rest, "?") && strings.Count(figures, "?") == 1 && !strings.Contains(figures, "…") && len(figures) > 1 {
		figures, after, n.Doubt, n.Open = strings.TrimSuffix(figures, "?"), "", true, true
	}
	if t, cut := strings.CutSuffix(after, "?"); cut && t != "" {
		after, n.Doubt = t, true
	}
	if after != "" {
		m := suffixForm.FindStringSubmatch(after)
		if m == nil {
			return Number{}, false
		}
		n.Suffix = strings.ToLower(m[1])
	}
	n.Figures = figures
	return n, true
}

// notSeries are words of up to three letters before figures that do not name a series of a
// catalogue.
var notSeries = map[string]bool{"no": true, "nos": true, "nr": true, "nrs": true, "num": true, "do": true, "id": true, "dto": true, "cat": true,
	"fig": true, "pl": true, "pp": true, "vol": true, "fol": true, "ff": true, "ll": true, "and": true, "und": true, "et": true, "to": true, "bis": true, "och": true, "see": true, "u": true}

func isLetters(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r < 'a' || r > 'z' })
}

// readFigures reads the figures at the beginning of s, with brackets of an editor:
// what is supplied is a doubt, dots are figures that can't be read.
func readFigures(s string) (figures, after string, doubt, ok bool) {
	var b strings.Builder
	legible := 0
	i := 0
scan:
	for i < len(s) {
		switch c := s[i]; {
		case isFigure(c):
			b.WriteByte(c)
			legible++
			i++
		case c == '?' || c == '_':
			b.WriteByte('?')
			i++
		case strings.HasPrefix(s[i:], "…"):
			b.WriteString("…")
			i += len("…")
		case strings.HasPrefix(s[i:], "..."):
			b.WriteString("…")
			i += 3
		case c == '[':
			end := strings.IndexByte(s[i:], ']')
			if end < 0 {
				break scan
			}
			in := s[i+1 : i+end]
			bare := strings.TrimSuffix(in, "?")
			switch {
			case isFigures(bare):
				b.WriteString(bare)
				legible += len(bare)
				doubt = true
			case in == "…" || in == "...":
				b.WriteString("…")
			case in != "" && len(in) <= 2 && (strings.Trim(in, ".") == "" || strings.Trim(in, "?") == ""):
				b.WriteString(strings.Repeat("?", len(in)))
			default:
				break scan
			}
			i += end + 1
		default:
			break scan
		}
	}
	figures = b.String()
	if legible == 0 || utf8.RuneCountInString(figures) > figuresMost {
		return "", "", false, false
	}
	if strings.Contains(figures, "……") {
		return "", "", false, false
	}
	if isFigures(figures) {
		if figures = strings.TrimLeft(figures, "0"); figures == "" {
			figures = "0"
		}
	}
	return figures, s[i:], doubt, true
}

var romanValues = map[byte]int{'i': 1, 'v': 5, 'x': 10, 'l': 50, 'c': 100, 'd': 500, 'm': 1000}

func roman(s string) int {
	if s == "" || !romanForm.MatchString(s) {
		return 0
	}
	sum := 0
	for i := range len(s) {
		v := romanValues[s[i]]
		if i+1 < len(s) && v < romanValues[s[i+1]] {
			v = -v
		}
		sum += v
	}
	return sum
}

// legible reports whether every figure can be read, without a doubt.
func (n Number) legible() bool { return !n.Doubt && !strings.ContainsAny(n.Figures, "?…") }

// key is what two ways of writing the same number have in common.
func (n Number) key() string { return n.Prefix + "|" + n.Figures + "|" + n.Suffix }

// String writes the number in one regular form, which [ReadNumbers] reads back.
func (n Number) String() string {
	var b strings.Builder
	b.WriteString(n.Prefix)
	if n.Prefix != "" && n.Figures != "" {
		b.WriteByte(' ')
	}
	figures := n.Figures
	// A lone "?" at the end would be taken for a doubt.
	if t, cut := strings.CutSuffix(figures, "?"); cut && n.Suffix == "" && !strings.ContainsAny(t, "?…") {
		figures = t + "[.]"
	}
	b.WriteString(figures)
	if n.Suffix != "" {
		if len(n.Suffix) > 1 && isLetter(n.Suffix[0]) || n.Figures == "" {
			b.WriteByte(' ')
		}
		b.WriteString(n.Suffix)
	}
	switch {
	case n.Open:
		b.WriteByte('?')
	case n.Doubt:
		b.WriteString(" (?)")
	}
	return b.String()
}

func writeNumbers(ns []Number) string {
	parts := make([]string, len(ns))
	for i, n := range ns {
		parts[i] = n.String()
	}
	return strings.Join(parts, ", ")
}

// String writes what a cell says in one regular form, which [ReadNumbers] reads
// back to the same.
func (w Written) String() string {
	var parts []string
	if len(w.Struck) > 0 {
		parts = append(parts, "~~"+writeNumbers(w.Struck)+"~~")
	} else if w.Cancelled {
		parts = append(parts, "(struck out)")
	}
	switch {
	case w.Ditto && w.Suffix != "":
		parts = append(parts, "ditto "+w.Suffix)
	case w.Ditto:
		parts = append(parts, "ditto")
	case w.Illegible:
		parts = append(parts, "[illegible]")
	case len(w.Numbers) > 0:
		parts = append(parts, writeNumbers(w.Numbers))
	}
	return strings.Join(parts, " ")
}

// same reports whether two cells say the same, however they are written.
func (w Written) same(v Written) bool {
	return slices.Equal(w.Numbers, v.Numbers) && slices.Equal(w.Struck, v.Struck) && w.Cancelled == v.Cancelled && w.Ditto == v.Ditto &&
		w.Suffix == v.Suffix && w.Illegible == v.Illegible
}

// fits reports whether figures with gaps can be the figures of a number.
func fits(pattern, figures string) bool {
	if pattern == "" {
		return figures == ""
	}
	switch r, n := utf8.DecodeRuneInString(pattern); r {
	case '…':
		for i := 0; i <= len(figures); i++ {
			if fits(pattern[n:], figures[i:]) {
				return true
			}
		}
		return false
	case '?':
		return figures != "" && fits(pattern[1:], figures[1:])
	default:
		return figures != "" && figures[0] == pattern[0] && fits(pattern[1:], figures[1:])
	}
}

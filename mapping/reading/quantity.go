package reading

import (
	"strconv"
	"strings"
)

// Count is one number of things.
type Count struct {
	Value       int64  // -1 if a range or a bound was written
	Lower       int64  // equal to Value, or the lower end; 0 for "up to"
	Upper       int64  // equal to Value, or the upper end; -1 for "at least"
	Of          int64  // the whole, in "3 of 6"; 0 if not said
	Noun        string // what was counted, or what became of it, in the words of the cell
	Approximate bool
	Uncertain   bool
	Start, End  int // byte offsets in the text, of the number
}

// Quantity holds the counts of a cell in the order written: "about 40, 9 survive" has two.
type Quantity struct {
	Text   string
	Counts []Count
}

// quantityParser reads the tokens of a cell of counts:
//
//	cell  = count { ( "," | ";" | "and" | "(" ) count }
//	count = [ noun ":" ] [ "about" | "at least" ] number [ ( "-" | "to" ) number ] [ "of" number ] [ noun ]
type quantityParser struct {
	*dimensionParser
	out []Count
}

// ReadQuantity reads the counts of a cell: about 40, 9 (?), 3 of 6, c. 200 fragments,
// about 40, 9 survive. The error, if any, is an [*Unread].
func ReadQuantity(text string, c *Conventions) (Quantity, error) {
	p := quantityParser{dimensionParser: dimensionParsers.Get().(*dimensionParser)}
	defer p.release()
	p.text, p.lex.text = text, text
	if code, reason, at := p.lex.run("."); code != "" {
		p.fail(code, reason, at)
	} else {
		p.n = p.lex.n
		p.cell()
	}
	if p.err == nil && len(p.out) == 0 {
		p.fail("no-number", "there is no number to read", -1)
	}
	if p.err != nil {
		return Quantity{Text: text}, p.err
	}
	return Quantity{Text: text, Counts: p.out}, nil
}

// vagueWords count without saying how many.
var vagueWords = map[string]bool{"several": true, "few": true, "many": true, "numerous": true, "multiple": true, "some": true, "various": true,
	"flera": true, "många": true, "mehrere": true, "einige": true, "viele": true, "plusieurs": true, "quelques": true, "enkele": true,
	"varios": true, "diversi": true, "alcuni": true, "diverse": true, "flere": true, "couple": true}

// ordinalWords make the number after them a place in a row.
var ordinalWords = map[string]bool{"no": true, "nr": true, "number": true, "edition": true, "lot": true, "item": true, "vol": true, "page": true, "p": true, "fig": true, "pl": true, "plate": true, "copy": true, "state": true, "n°": true, "part": true}

func (p *quantityParser) cell() {
	for p.i < p.n && p.err == nil {
		switch p.kind(p.i) {
		case tokComma, tokBreak, tokDot, tokOpen, tokClose, tokColon:
			p.i++
			continue
		}
		p.count()
	}
}

// lower is the word at token i in small letters.
func (p *quantityParser) lower(i int) string {
	if p.kind(i) != tokWord {
		return ""
	}
	t := p.tok(i)
	return strings.ToLower(p.text[t.start:t.end])
}

// countingWords are words for so many of a thing, behind a figure.
var countingWords = map[string]int64{"dozen": 12, "doz": 12, "dz": 12, "dussin": 12, "dutzend": 12, "douzaine": 12, "douzaines": 12,
	"score": 20, "gross": 144, "hundred": 100, "thousand": 1000}

// numberHere reads the number at token i, in digits or words.
func (p *quantityParser) numberHere(i int) (n int64, next int, ok bool) {
	switch p.kind(i) {
	case tokNumber:
		t := p.tok(i)
		if t.den != 1 || t.places != 0 {
			return 0, i, p.failAt(i, "not-whole", "things are counted in whole numbers")
		}
		n, next = t.num, i+1
		// "10 000"
		if p.kind(next) == tokNumber && n > 0 && n < 1000 && p.tok(next).end-p.tok(next).start == 3 && p.tok(next).spaced {
			n, next = n*1000+p.tok(next).num, next+1
		}
		if m := countingWords[p.lower(next)]; m > 0 {
			n, next = n*m, next+1
		}
		return n, next, n < 1e12 || p.failAt(i, "bad-number", "the number is too large")
	case tokWord:
		switch p.lower(i) {
		case "none", "nil", "inga", "keine", "aucun", "geen":
			return 0, i + 1, true
		case "half":
			if (p.lower(i+1) == "a" || p.lower(i+1) == "dozen") && (p.lower(i+2) == "dozen" || p.lower(i+1) == "dozen") {
				if p.lower(i+1) == "dozen" {
					return 6, i + 2, true
				}
				return 6, i + 3, true
			}
		case "a", "an", "one", "en", "ett", "ein", "eine", "un", "une":
			if w := p.lower(i + 1); w == "pair" || w == "set" || w == "par" || w == "paar" || w == "paire" {
				return 1, i + 1, true
			}
		}
		at := int(p.tok(i).start)
		n, end := numberInWords(p.text[at:])
		if end == 0 || ambiguousNumberWord(p.lower(i)) {
			return 0, i, false
		}
		next = i + 1
		for next < p.n && int(p.tok(next).end) <= at+end {
			next++
		}
		return n, next, true
	}
	return 0, i, false
}

// ambiguousNumberWord: articles and prepositions of other languages.
func ambiguousNumberWord(w string) bool {
	switch w {
	case "en", "ett", "ein", "eine", "un", "une", "una", "uno", "een", "sei", "elf", "six", "sex", "on":
		return w != "six" && w != "sex"
	}
	return false
}

func (p *quantityParser) count() {
	out := Count{Value: -1}
	start := p.i
	nounStart, nounEnd := -1, -1
	atLeast, atMost := false, false
	strict := false // the bound itself is left out
	// Words before the number.
	var n int64
	next := 0
	for ; p.i < p.n; p.i++ {
		var ok bool
		n, next, ok = p.numberHere(p.i)
		if p.err != nil {
			return
		}
		if ok {
			break
		}
		w := p.lower(p.i)
		switch {
		case p.kind(p.i) == tokApprox:
			out.Approximate = true
		case p.kind(p.i) == tokGreater:
			atLeast = true
		case p.kind(p.i) == tokLess:
			atMost = true
		case p.kind(p.i) == tokTimes && p.kind(p.i+1) == tokNumber && p.i == start:
		case p.kind(p.i) == tokColon || p.kind(p.i) == tokDot:
		case p.kind(p.i) != tokWord:
			p.failAt(p.i, "syntax", "a sign can't be read")
			return
		case ordinalWords[w] && (p.kind(p.i+1) == tokNumber || p.kind(p.i+1) == tokDot):
			p.failAt(p.i, "ordinal", "the number is a place in a row, not a quantity")
			return
		case w == "some" && p.kind(p.i+1) == tokNumber:
			out.Approximate = true
		case vagueWords[w]:
			p.failAt(p.i, "vague", "the words do not say how many")
			return
		case w == "at" && p.lower(p.i+1) == "least", w == "more" && p.lower(p.i+1) == "than":
			atLeast, strict = true, w == "more"
			p.i++
		case w == "up" && p.lower(p.i+1) == "to", w == "at" && p.lower(p.i+1) == "most":
			atMost = true
			p.i++
		case (w == "less" || w == "fewer") && p.lower(p.i+1) == "than":
			atMost, strict = true, true
			p.i++
		case w == "over" || w == "über" || w == "över":
			atLeast, strict = true, true
		case w == "under" || w == "below":
			atMost, strict = true, true
		case p.flags(p.i)&wordAtLeast != 0:
			atLeast = true
		case p.flags(p.i)&wordAtMost != 0:
			atMost = true
		case p.flags(p.i)&wordApprox != 0:
			out.Approximate = true
		case p.flags(p.i)&wordUncertain != 0:
			out.Uncertain = true
		case p.flags(p.i)&wordBetween != 0 && p.kind(p.i+1) == tokNumber:
		case p.flags(p.i)&wordAnd != 0 && p.i == start:
		default:
			if nounStart < 0 {
				nounStart = p.i
			}
			nounEnd = p.i + 1
		}
	}
	if p.i >= p.n {
		p.wordsOnly(start)
		return
	}
	at := p.i
	p.i = next
	out.Start, out.End = int(p.tok(at).start), int(p.tok(next-1).end)
	out.Value, out.Lower, out.Upper = n, n, n
	if n >= 1000 && n <= 2100 && p.kind(at) == tokNumber && at > 0 && (p.kind(at-1) == tokOpen || p.lower(at-1) == "in" || p.kind(at-1) == tokComma) {
		p.failAt(at, "unknown-number", "the number may be a year")
		return
	}
	if w := p.word(next); w != nil && next < p.n {
		switch w.unit {
		case "mm", "cm", "kg", "g", "in", "ml":
			p.failAt(next, "measure", "a number with a unit of measure is not a count")
			return
		}
	}
	if !p.afterNumber(&out, at) {
		return
	}
	switch {
	case (atLeast || atMost) && out.Value < 0 || atLeast && atMost:
		p.failAt(at, "syntax", "a bound stands before a range")
		return
	case atLeast:
		out.Value, out.Upper = -1, -1
		if strict {
			out.Lower++
		}
	case atMost:
		out.Value, out.Lower = -1, 0
		if strict {
			if out.Upper == 0 {
				p.failAt(at, "syntax", "there are no fewer than none")
				return
			}
			out.Upper--
		}
	}
	// The noun stands after the number, or before it.
	if out.Noun == "" && nounStart >= 0 {
		for nounEnd > nounStart && p.flags(nounEnd-1)&wordOf != 0 {
			nounEnd--
		}
		if nounEnd > nounStart {
			out.Noun = trimPart(p.span(nounStart, nounEnd))
		}
	} else if nounStart >= 0 {
		out.Noun = trimPart(p.text[p.tok(nounStart).start:p.tok(nounEnd-1).end]) + ": " + out.Noun
	}
	p.out = append(p.out, out)
}

// wordsOnly: words without a number after counts are left; alone they are no quantity.
func (p *quantityParser) wordsOnly(start int) {
	for i := start; i < p.n; i++ {
		if vagueWords[p.lower(i)] {
			p.failAt(i, "vague", "the words do not say how many")
			return
		}
	}
	if len(p.out) == 0 {
		p.fail("no-number", "there is no number to read", -1)
		return
	}
	last := &p.out[len(p.out)-1]
	if last.Noun == "" {
		last.Noun = trimPart(strings.Trim(p.span(start, p.n), " .,;()"))
	}
}

// afterNumber reads ranges, "of 6", doubts and the noun.
func (p *quantityParser) afterNumber(out *Count, at int) bool {
	if p.kind(p.i) == tokPlus && p.text[p.tok(p.i).start] == '+' && p.kind(p.i+1) != tokNumber {
		out.Value, out.Upper = -1, -1 // "100+"
		out.End = int(p.tok(p.i).end)
		p.i++
	}
	if p.kind(p.i) == tokDash || p.flags(p.i)&wordRange != 0 || p.flags(p.i)&wordAnd != 0 && at > 0 && p.flags(at-1)&wordBetween != 0 {
		n, next, ok := p.numberHere(p.i + 1)
		if p.err != nil {
			return false
		}
		if ok {
			if m := countingWords[p.lower(next-1)]; m > 0 && countingWords[p.lower(p.i-1)] == 0 && out.Lower < n/m {
				out.Lower *= m // "2 to 3 dozen": the word stands for both
			}
			if out.Value < 0 || n <= out.Lower {
				return p.failAt(p.i, "syntax", "a range does not rise")
			}
			out.Value, out.Upper = -1, n
			p.i = next
			out.End = int(p.tok(next - 1).end)
		}
	}
	if p.kind(p.i) == tokQuery {
		out.Uncertain = true
		p.i++
	}
	switch w := p.lower(p.i); {
	case p.kind(p.i) == tokSlash, p.kind(p.i) == tokPlus && p.kind(p.i+1) == tokNumber, p.kind(p.i) == tokTimes && p.kind(p.i+1) == tokNumber, p.kind(p.i) == tokEqual:
		return p.failAt(p.i, "calculation", "the sign after the number can't be read")
	case p.kind(p.i) == tokTimes:
		p.i++
	case w == "of" || w == "out" || w == "av" || w == "von" || w == "de" || w == "van" || w == "di" || w == "af" || w == "aus" || w == "sur":
		k := p.i + 1
		if w == "out" && p.lower(k) == "of" {
			k++
		}
		n, next, ok := p.numberHere(k)
		if p.err != nil {
			return false
		}
		if ok {
			if n < out.Upper || out.Value < 0 {
				return p.failAt(k, "syntax", "the part is more than the whole")
			}
			out.Of = n
			p.i = next
			out.End = int(p.tok(next - 1).end)
		}
	}
	return p.noun(out)
}

// noun reads the words after a number up to the next.
func (p *quantityParser) noun(out *Count) bool {
	start := p.i
	for p.i < p.n {
		k := p.i
		if p.kind(k) == tokOpen {
			end := p.closing(k, p.n)
			only := k+1 < p.n
			number := false
			for j := k + 1; j < end; j++ {
				switch {
				case p.kind(j) == tokQuery:
					out.Uncertain = true
				case p.flags(j)&wordApprox != 0:
					out.Approximate = true
				case p.flags(j)&wordUncertain != 0:
					out.Uncertain = true
				case p.kind(j) == tokDot:
				default:
					only = false
					n, _, ok := p.numberHere(j)
					if p.err != nil {
						return false
					}
					if ok && j == k+1 && n == out.Value && end == j+1 {
						only = true // "9 (nine)"
					} else if ok {
						number = true
					}
				}
			}
			if only || !number {
				if !only && out.Noun == "" {
					p.setNoun(out, start, min(end+1, p.n))
				}
				p.i = min(end+1, p.n)
				if only && out.Noun == "" {
					p.setNoun(out, start, k)
					start = p.i
				}
				continue
			}
			break
		}
		if p.kind(k) == tokWord || p.kind(k) == tokDot || p.kind(k) == tokDash && p.kind(k+1) == tokWord || p.kind(k) == tokSlash {
			if _, _, ok := p.numberHere(k); ok && p.err == nil && k > start {
				break
			}
			if p.flags(k)&wordAnd != 0 {
				if _, _, ok := p.numberHere(k + 1); ok {
					break
				}
			}
			p.i++
			continue
		}
		if p.kind(k) == tokQuery {
			out.Uncertain = true
		} else if p.kind(k) == tokNumber {
			return p.failAt(k, "two-numbers", "two numbers stand side by side")
		}
		break
	}
	if out.Noun == "" {
		p.setNoun(out, start, p.i)
	}
	if p.i < p.n && p.kind(p.i) == tokQuery {
		p.i++
	}
	if p.i == start && p.i < p.n {
		switch p.kind(p.i) {
		case tokComma, tokBreak, tokOpen, tokDot, tokClose:
		default:
			if p.flags(p.i)&wordAnd == 0 && p.kind(p.i) != tokPlus {
				return p.failAt(p.i, "syntax", "a sign after the number can't be read")
			}
		}
	}
	if p.i < p.n && (p.flags(p.i)&wordAnd != 0 || p.kind(p.i) == tokPlus) {
		p.i++
	}
	return true
}

func (p *quantityParser) setNoun(out *Count, lo, hi int) {
	for lo < hi && (p.kind(lo) == tokDot || p.kind(lo) == tokComma) {
		lo++
	}
	for hi > lo && (p.kind(hi-1) == tokDot && !p.abbreviation(hi-1) || p.kind(hi-1) == tokComma || p.flags(hi-1)&wordApprox != 0 && hi-1 == lo) {
		if p.flags(hi-1)&wordApprox != 0 {
			out.Approximate = true
		}
		hi--
	}
	if lo < hi {
		out.Noun = trimPart(p.span(lo, hi))
	}
}

// abbreviation says whether the point at i ends a short word.
func (p *quantityParser) abbreviation(i int) bool {
	return i > 0 && p.kind(i-1) == tokWord && p.tok(i-1).end-p.tok(i-1).start <= 4 && i+1 < p.n
}

// AppendText appends the counts in one regular English form that [ReadQuantity] reads
// back to the same numbers.
func (q Quantity) AppendText(dst []byte) []byte {
	for i := range q.Counts {
		if i > 0 {
			dst = append(dst, ", "...)
		}
		c := &q.Counts[i]
		if c.Approximate {
			dst = append(dst, "about "...)
		}
		switch {
		case c.Value >= 0:
			dst = strconv.AppendInt(dst, c.Value, 10)
		case c.Upper < 0:
			dst = strconv.AppendInt(append(dst, "at least "...), c.Lower, 10)
		case c.Lower == 0:
			dst = strconv.AppendInt(append(dst, "up to "...), c.Upper, 10)
		default:
			dst = strconv.AppendInt(dst, c.Lower, 10)
			dst = strconv.AppendInt(append(dst, " to "...), c.Upper, 10)
		}
		if c.Of > 0 {
			dst = strconv.AppendInt(append(dst, " of "...), c.Of, 10)
		}
		if c.Uncertain {
			dst = append(dst, " (?)"...)
		}
		if c.Noun != "" {
			dst = append(append(dst, ' '), c.Noun...)
		}
	}
	return dst
}

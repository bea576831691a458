package reading

import "sync"

// draft is a measure in the making.
type draft struct {
	m         Measure
	group     int16 // the product it belongs to
	clause    int16
	letter    byte // 'D', 'T' or 'l' whose meaning the siblings decide, or 0
	pending   bool // no unit yet
	named     bool // the element stands in words, not in the order of numbers
	lead      bool // the part stands before the measure
	paren     bool // in parentheses after another measure
	byUnit    bool // the element holds only beside a unit of its class
	unordered bool // it is not said which number of the product is which
	merged    bool // became an amount in Also of another
	also      int16
	finest    int64 // the finest denominator of the numbers of its product, for rounding
}

// dimensionParser reads the tokens of a cell. Grammar:
//
//	cell    = clause { ( ";" | "|" | line end ) clause }
//	clause  = item { [ "," | "/" | "." ] item }
//	item    = [ label [ ":" ] ] product { trailing }
//	product = term { "x" term }
//	term    = [ element ] amount [ element | "(" element ")" ]
//	amount  = [ "ca." ] number [ ( "-" | "to" ) number ] unit [ number unit ]
//	trailing = "(" part | element | clause ")" | "each" | "?" | words
type dimensionParser struct {
	text     string
	c        *DimensionConventions
	lex      dimensionLexer
	i        int
	n        int
	clause   int16
	group    int16
	depth    int
	declared Unit // a unit given once for the whole cell
	enum     byte // the last enumerating letter: a) b) c)
	drafts   []draft
	notes    []DimensionNote
	err      *Unread
}

// ReadDimensions reads the measures of a cell. The error, if any, is an [*Unread] and
// then nothing is read: a cell is read whole or not at all. Words without numbers that
// stand apart ("dimensions variable") are left, with a note.
func ReadDimensions(text string, c *Conventions) (Dimensions, error) {
	p := dimensionParsers.Get().(*dimensionParser)
	defer p.release()
	p.text, p.lex.text = text, text
	p.c = &noDimensionConventions
	if c != nil {
		p.c = &c.Dimension
	}
	if code, reason, at := p.lex.run(p.c.Decimal); code != "" {
		p.fail(code, reason, at)
	} else {
		p.n = p.lex.n
		p.cell()
		if p.err == nil && len(p.drafts) == 0 {
			p.nothing()
		}
		if p.err == nil {
			p.settle()
		}
	}
	if p.err != nil {
		return Dimensions{Text: text}, p.err
	}
	return p.result(), nil
}

var noDimensionConventions DimensionConventions

// dimensionParsers spares each cell the making of its token and draft lists.
var dimensionParsers = sync.Pool{New: func() any { return new(dimensionParser) }}

// release empties the parser, so that it keeps no text alive, and gives it back.
func (p *dimensionParser) release() {
	clear(p.drafts)
	drafts := p.drafts[:0]
	p.lex.text, p.lex.n = "", 0
	p.text, p.c, p.notes, p.err = "", nil, nil, nil
	p.i, p.n, p.clause, p.group, p.depth = 0, 0, 0, 0, 0
	p.declared, p.enum = "", 0
	p.drafts = drafts
	dimensionParsers.Put(p)
}

func (p *dimensionParser) fail(code, reason string, at int) bool {
	if p.err == nil {
		p.err = &Unread{Text: p.text, Code: code, Reason: reason, At: at}
	}
	return false
}

func (p *dimensionParser) failAt(i int, code, reason string) bool {
	at := len(p.text)
	if i < p.n {
		at = int(p.lex.tokens[i].start)
	}
	return p.fail(code, reason, at)
}

func (p *dimensionParser) note(code, reason string, start, end int) {
	p.notes = append(p.notes, DimensionNote{Code: code, Reason: reason, Start: start, End: end})
}

// nothing says why a cell without measures has none.
func (p *dimensionParser) nothing() {
	for i := range p.lex.tokens[:p.n] {
		if w := p.lex.tokens[i].word; w != nil && w.flags&wordVariable != 0 {
			p.fail("variable", "the words say that the measures vary", int(p.lex.tokens[i].start))
			return
		}
	}
	p.fail("no-number", "there is no number to read", -1)
}

func (p *dimensionParser) tok(i int) *dimensionToken { return &p.lex.tokens[i] }

func (p *dimensionParser) kind(i int) tokenKind {
	if i < 0 || i >= p.n {
		return tokBreak
	}
	return p.lex.tokens[i].kind
}

func (p *dimensionParser) word(i int) *dimensionWord {
	if i < 0 || i >= p.n || p.lex.tokens[i].word == nil {
		return nil
	}
	return p.lex.tokens[i].word
}

func (p *dimensionParser) flags(i int) wordFlags {
	if w := p.word(i); w != nil {
		return w.flags
	}
	return 0
}

// span is the text of tokens i to k-1.
func (p *dimensionParser) span(i, k int) string {
	return p.text[p.lex.tokens[i].start:p.lex.tokens[k-1].end]
}

// closing gives the index of the sign that closes the parenthesis at i, at most hi.
func (p *dimensionParser) closing(i, hi int) int {
	depth := 0
	for k := i; k < hi; k++ {
		switch p.lex.tokens[k].kind {
		case tokOpen:
			depth++
		case tokClose:
			if depth--; depth == 0 {
				return k
			}
		}
	}
	return hi
}

func (p *dimensionParser) cell() {
	for p.i < p.n && p.err == nil {
		if p.kind(p.i) == tokBreak {
			p.i++
			continue
		}
		hi := p.i
		for hi < p.n && p.kind(hi) != tokBreak {
			if p.kind(hi) == tokOpen {
				if end := p.closing(hi, p.n); end < p.n {
					hi = end
				}
			}
			hi++
		}
		p.items(p.i, hi, false)
		p.i = hi
		p.clause++
	}
}

// items reads the items of one clause, or of one parenthesis.
func (p *dimensionParser) items(lo, hi int, paren bool) {
	p.i = lo
	carried := label{}
	for p.i < hi && p.err == nil {
		switch p.kind(p.i) {
		case tokComma, tokDot, tokSlash, tokPlus, tokEqual, tokClose:
			p.i++
			continue
		}
		start := p.i
		end, ok := p.labelEnd(hi)
		if !ok {
			return
		}
		if end == hi {
			p.leftover(start, hi)
			p.i = hi
			return
		}
		lab, ok := p.readLabel(start, end)
		if !ok {
			return
		}
		if lab.part == "" && carried.part != "" {
			lab.part, lab.term = carried.part, carried.term
			lab.uncertain = lab.uncertain || carried.uncertain
			lab.each = lab.each || carried.each
		}
		carried = lab
		p.i = end
		if p.kind(p.i) == tokOpen {
			// The measures stand in parentheses: "Frame (30 x 40 cm)".
			close := p.closing(p.i, hi)
			before := len(p.drafts)
			p.nested(p.i+1, close, paren)
			if p.err != nil {
				return
			}
			for k := before; k < len(p.drafts); k++ {
				if p.drafts[k].m.Part == "" {
					p.drafts[k].m.Part, p.drafts[k].m.PartTerm = lab.part, lab.term
					p.drafts[k].lead = lab.part != ""
				}
			}
			p.i = close + 1
			continue
		}
		if !p.product(&lab, hi, paren) || !p.trailing(hi) {
			return
		}
	}
}

func (p *dimensionParser) nested(lo, hi int, paren bool) {
	if p.depth++; p.depth > 4 {
		p.failAt(lo, "syntax", "parentheses stand too deep in each other")
		return
	}
	p.items(lo, hi, paren)
	p.depth--
}

// leftover are words without a number.
func (p *dimensionParser) leftover(lo, hi int) {
	for hi > lo && (p.kind(hi-1) == tokDot || p.kind(hi-1) == tokComma) {
		hi--
	}
	if hi <= lo {
		return
	}
	reason := "words without a number were left"
	for k := lo; k < hi; k++ {
		if p.flags(k)&wordVariable != 0 {
			reason = "the words say that measures vary"
		}
	}
	p.note("words-left", reason, int(p.tok(lo).start), int(p.tok(hi-1).end))
}

// labelEnd finds where the label that begins at p.i ends and its measure begins; hi if
// there is no measure.
func (p *dimensionParser) labelEnd(hi int) (int, bool) {
	j := p.i
	for k := j; k < hi; {
		switch p.kind(k) {
		case tokNumber:
			next := p.kind(k + 1)
			if k+1 >= hi {
				return k, true
			}
			if next == tokColon {
				if p.kind(k+2) == tokNumber && !p.tok(k+1).spaced && !p.tok(k+2).spaced {
					return 0, p.failAt(k, "ratio", "a ratio or a time of day is not a measure")
				}
				if k > j || p.tok(k).den == 1 && k+2 < hi && p.tok(k+2).spaced {
					k += 2
					continue
				}
			}
			if next == tokClose && k == j && p.tok(k).den == 1 && p.tok(k).places == 0 && k+2 < hi && p.kind(k+2) == tokNumber {
				k += 2 // "1) 24 x 30"
				continue
			}
			if next == tokWord && k == j && p.plain(k+1) && p.colonBeforeNumber(k+1, hi) {
				k++
				continue
			}
			if next == tokNumber && p.tok(k).den == 1 && p.tok(k+1).spaced && (k == j || p.kind(k-1) == tokWord && p.plain(k-1)) {
				if !p.numberedPart(k) {
					return 0, false
				}
				k++
				continue
			}
			return k, true
		case tokOpen:
			end := p.closing(k, hi)
			if p.measureIn(k+1, end) {
				return k, true
			}
			k = end + 1
		default:
			k++
		}
	}
	return hi, true
}

// numberedPart decides about two whole numbers side by side: "strap 2 150 mm".
func (p *dimensionParser) numberedPart(k int) bool {
	a, b := p.tok(k), p.tok(k+1)
	if p.kind(k+2) == tokNumber || b.den != 1 && b.places < 0 {
		return p.failAt(k, "two-numbers", "two numbers stand side by side")
	}
	thousands := a.num > 0 && a.num < 1000 && p.text[a.start] != '0' && wholeDigits(p.text[b.start:b.end]) == 3
	if thousands && !p.c.NoThousandsSpace {
		return p.failAt(k, "ambiguous-number", "a numbered part and a number, or one number with its thousands set apart by a space")
	}
	if k == p.i && !p.c.NoThousandsSpace {
		return p.failAt(k, "two-numbers", "two numbers stand side by side")
	}
	return true
}

func wholeDigits(s string) int {
	n := 0
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return n
}

// plain says whether the word at i has no office in a measure.
func (p *dimensionParser) plain(i int) bool {
	if p.kind(i) != tokWord {
		return false
	}
	w := p.word(i)
	return w == nil || w.unit == "" && w.element == "" && w.flags&^(wordOf|wordNeutral|wordWith|wordWithout) == 0
}

func (p *dimensionParser) colonBeforeNumber(i, hi int) bool {
	for ; i < hi; i++ {
		switch p.kind(i) {
		case tokColon:
			return true
		case tokNumber, tokComma, tokOpen:
			return false
		}
	}
	return false
}

// measureIn says whether tokens lo to hi-1 hold a measure, not only words and the
// numbers of parts: "(9 5/8 in.)" but not "(frame 2)".
func (p *dimensionParser) measureIn(lo, hi int) bool {
	for k := lo; k < hi; k++ {
		if p.kind(k) != tokNumber {
			continue
		}
		if p.tok(k).places < 0 || p.tok(k).places > 0 {
			return true
		}
		if k+1 >= hi {
			// "(H 24)" is a measure where a unit is understood.
			w := p.word(k - 1)
			return p.c.Unit != "" && k > lo && w != nil && w.element != ""
		}
		switch p.kind(k + 1) {
		case tokTimes, tokPrime, tokPrimes, tokDash, tokPlusMinus:
			return true
		case tokWord:
			if w := p.word(k + 1); w != nil && (w.unit != "" || w.flags&wordTimes != 0 || w.element != "") {
				return true
			}
		}
	}
	return false
}

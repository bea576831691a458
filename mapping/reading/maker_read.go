package reading

import "strings"

// makerParser reads a cell of makers:
//
//	cell    = group { ( ";" | "|" | " / " | line end ) group }
//	group   = segment { "," segment }
//	segment = maker | given names of the family name before | qualifier | role | life dates | title | place
//	maker   = { qualifier | role [ ":" ] } name { "(" role | qualifier | life dates ")" } [ ( "and" | "or" ) maker ]
type makerParser struct {
	text  string
	c     *MakerConventions
	life  *Conventions
	out   []Maker
	err   *Unread
	depth int
}

// ReadMakers reads the makers of a cell: "Charles Turner, after Joseph Mallord William
// Turner", "Turner, J.M.W. (1775–1851)", "attributed to the workshop of …", "Troughton &
// Simms". Where the words leave open whether a comma parts makers or a name from its
// given names, the cell is not read. The error, if any, is an [*Unread].
func ReadMakers(text string, c *Conventions) ([]Maker, error) {
	p := makerParser{text: text, c: &MakerConventions{}, life: c}
	if c != nil {
		p.c = &c.Maker
	}
	p.cell()
	if p.err == nil && len(p.out) == 0 {
		p.fail("no-name", "there is no name to read", -1)
	}
	if p.err != nil {
		return nil, p.err
	}
	return p.out, nil
}

func (p *makerParser) fail(code, reason string, at int) bool {
	if p.err == nil {
		p.err = &Unread{Text: p.text, Code: code, Reason: reason, At: at}
	}
	return false
}

// piece is a stretch of the text.
type piece struct{ lo, hi int }

func (p *makerParser) str(s piece) string { return p.text[s.lo:s.hi] }

// trim takes blanks, and the signs in cut, from both ends.
func (p *makerParser) trim(s piece, cut string) piece {
	for s.lo < s.hi {
		if n := blankAt(p.text, s.lo); n > 0 {
			s.lo += n
		} else if strings.IndexByte(cut+"\n\r", p.text[s.lo]) >= 0 {
			s.lo++
		} else {
			break
		}
	}
	t := strings.TrimRight(p.text[s.lo:s.hi], " \t\n\r\u00a0"+cut)
	s.hi = s.lo + len(t)
	return s
}

func (p *makerParser) cell() {
	if len(p.text) > 2000 {
		p.fail("too-long", "the text is too long to be makers", 0)
		return
	}
	all := p.trim(piece{0, len(p.text)}, ";|")
	if all.lo == all.hi {
		return
	}
	if !balanced(p.str(all)) {
		p.unbalanced(all)
		return
	}
	for _, g := range p.split(all, func(s string, i int) int {
		switch s[i] {
		case ';', '|', '\n':
			return 1
		case '/':
			if i > 0 && s[i-1] == ' ' && i+1 < len(s) && s[i+1] == ' ' {
				return 1
			}
		}
		return 0
	}) {
		if g = p.trim(g, ","); g.lo < g.hi && p.err == nil {
			p.group(g)
		}
	}
}

// balanced says whether every parenthesis is closed.
func balanced(s string) bool {
	depth := 0
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '(', '[':
			depth++
		case ')', ']':
			if depth--; depth < 0 {
				return false
			}
		}
	}
	return depth == 0
}

// unbalanced reads a cell with a parenthesis left open as one maker, if a role in
// parentheses ends it: "Samuel Deppfer (Deyffer, Töpfer (Tillverkare, , )".
func (p *makerParser) unbalanced(all piece) {
	s := p.str(all)
	open := strings.LastIndexByte(s, '(')
	var m Maker
	if open <= 0 || !strings.HasSuffix(s, ")") || !p.roleParenthesis(s[open+1:len(s)-1], &m) {
		p.fail("parentheses", "a parenthesis is not closed", all.lo)
		return
	}
	m.Start, m.End = all.lo, all.hi
	p.add(m, strings.TrimSpace(s[:open]))
}

// split cuts a piece at the signs that at gives a size, outside parentheses.
func (p *makerParser) split(all piece, at func(s string, i int) int) []piece {
	var out []piece
	s := p.text[:all.hi]
	depth, from := 0, all.lo
	for i := all.lo; i < all.hi; i++ {
		switch s[i] {
		case '(', '[':
			depth++
		case ')', ']':
			depth--
		}
		if depth > 0 {
			continue
		}
		if n := at(s, i); n > 0 {
			out = append(out, piece{from, i})
			from = i + n
		}
	}
	return append(out, piece{from, all.hi})
}

type segmentKind uint8

const (
	segmentName      segmentKind = iota
	segmentQualified             // a name with a qualifier or a role before it
	segmentPhrase                // a qualifier alone: belongs to the name before
	segmentRole
	segmentLife
	segmentNation
	segmentSuffix // part of the name before
	segmentNote
)

type segment struct {
	piece
	kind segmentKind
}

// group reads the segments between semicolons.
func (p *makerParser) group(g piece) {
	var segs []segment
	for _, s := range p.split(g, func(s string, i int) int {
		if s[i] == ',' {
			return 1
		}
		return 0
	}) {
		if s = p.trim(s, ""); s.lo < s.hi {
			segs = append(segs, segment{piece: s})
		}
	}
	for i := range segs {
		segs[i].kind = p.classify(segs, i)
	}
	if p.oneGroup(segs) {
		m := Maker{Kind: MakerGroup, Start: segs[0].lo, End: segs[len(segs)-1].hi}
		p.add(m, p.text[m.Start:m.End])
		return
	}
	for i := 0; i < len(segs) && p.err == nil; {
		if k := segs[i].kind; k != segmentName && k != segmentQualified {
			if i == 0 {
				p.fail("unknown-words", "the words before the first name are not known", segs[i].lo)
				return
			}
			p.attach(segs[i])
			i++
			continue
		}
		if p.birthNameBetween(segs[i:]) {
			p.inverted(segs[i].piece, segs[i+2].piece)
			p.attach(segs[i+1])
			i += 3
			continue
		}
		// Names side by side: several makers, or family and given names.
		j := i + 1
		for j < len(segs) && segs[j].kind == segmentName {
			j++
		}
		p.names(segs[i:j])
		i = j
	}
}

// isAddress: "Fleet Street", but not "George Street".
func isAddress(s string) bool {
	words := strings.Fields(s)
	for i, w := range words {
		if has(addressWords, w) && len(words) > 1 {
			return !isGiven(words[0]) && !has(nameTitles, words[0]) || i+1 < len(words) && has(knownPlaces, words[i+1])
		}
	}
	return false
}

// birthNameBetween: "Mörner, f. Bielke, Christina Anna".
func (p *makerParser) birthNameBetween(segs []segment) bool {
	if len(segs) < 3 || segs[1].kind != segmentSuffix || segs[2].kind != segmentName || p.c.Order == NameOrderNatural || len(segs) > 3 && segs[3].kind == segmentName {
		return false
	}
	if first, _, _ := strings.Cut(strings.ToLower(p.str(segs[1].piece)), " "); !birthNames[first] {
		return false
	}
	var m Maker
	a, b := shapeOf(p.stripPrefix(p.str(segs[0].piece), &m)), shapeOf(p.str(segs[2].piece))
	return pairOrder(&a, &b) == NameOrderInverted && b.firstGiven
}

// classify says what a segment is, given the ones before it.
func (p *makerParser) classify(segs []segment, i int) segmentKind {
	s := p.str(segs[i].piece)
	l := strings.ToLower(s)
	first, rest, _ := strings.Cut(l, " ")
	if i > 0 {
		prev := shapeOf(p.str(segs[i-1].piece))
		if ph, ok := makerPhrases[strings.Trim(l, "()")]; ok && ph.suffix {
			return segmentPhrase
		}
		if p.role(l) != "" && (!startsUpper(s) || len(prev.words) > 1 && !isGiven(s)) {
			return segmentRole
		}
		if p.isLife(s) {
			return segmentLife
		}
		if p.nationalityOnly(l) {
			return segmentNation
		}
		switch {
		case allSuffixes(s), firmTail(s) && !isGiven(first):
			return segmentSuffix
		case birthNames[first] && rest != "":
			return segmentSuffix
		case suffixStarts[first] && first != "of" && p.rankSuffix(segs, i, l, first):
			return segmentSuffix
		case first == "of" || first == "af" || first == "av":
			if _, _, q := p.prefixAt(s); !q && !startsUpper(s) {
				return segmentSuffix
			}
		case knownPlaces[l] && !isGiven(s), isAddress(s) && !prev.openEnd:
			return segmentNote
		}
	}
	if _, _, ok := p.prefixAt(s); ok {
		return segmentQualified
	}
	if _, _, ok := p.rolePrefix(s); ok {
		return segmentQualified
	}
	if i > 0 && !startsUpper(s) && !nameParticles[first] && !strings.ContainsAny(s[:1], "(\"'`") {
		return segmentSuffix
	}
	return segmentName
}

// rankSuffix decides whether a title after a comma belongs to the name before it:
// "Violet, Duchess of Rutland", "Frederic, Lord Leighton", but not "Leighton, Lord
// Frederic".
func (p *makerParser) rankSuffix(segs []segment, i int, l, first string) bool {
	if _, _, q := p.prefixAt(p.str(segs[i].piece)); q {
		return false
	}
	words := strings.Fields(p.str(segs[i].piece))
	switch {
	case first == "d.ä." || first == "d.y." || first == "der" || first == "den" || first == "le":
		return len(words) <= 2
	case first == "the":
		return len(words) > 1 && (nameSuffixes[strings.ToLower(words[1])] || len(words) == 2 && !startsUpper(words[0]) || strings.ToLower(words[1]) == "elder" || strings.ToLower(words[1]) == "younger" || suffixStarts[strings.ToLower(words[1])])
	case strings.Contains(l+" ", " of "):
		return true
	}
	prev := shapeOf(p.str(segs[i-1].piece))
	if len(words) == 1 {
		return i > 1 // "Harding, Charles, Viscount"
	}
	return len(prev.words) == 1 && prev.firstGiven && !isGiven(words[1])
}

func allSuffixes(s string) bool {
	n := 0
	for _, w := range strings.Fields(s) {
		l := lowerWord(w)
		if !nameSuffixes[l] && l != "the" && l != "elder" && l != "younger" {
			return false
		}
		n++
	}
	return n > 0
}

// oneGroup says whether the segments are one firm: "Christie, Manson & Wood".
func (p *makerParser) oneGroup(segs []segment) bool {
	if len(segs) < 2 || len(segs) > 4 {
		return false
	}
	for i, s := range segs {
		if s.kind != segmentName {
			return false
		}
		text := p.str(s.piece)
		if i == len(segs)-1 {
			l, r, _, ok := cutConnector(text)
			if !ok {
				return false
			}
			right := shapeOf(r)
			return len(strings.Fields(l)) == 1 && (len(right.words) == 1 || right.group)
		}
		if len(strings.Fields(text)) != 1 || isGiven(text) && i > 0 {
			return false
		}
	}
	return false
}

// attach gives a segment that is no name to the maker before it.
func (p *makerParser) attach(s segment) {
	if len(p.out) == 0 {
		p.fail("unknown-words", "the words before the first name are not known", s.lo)
		return
	}
	m := &p.out[len(p.out)-1]
	text := p.str(s.piece)
	m.End = s.hi
	switch s.kind {
	case segmentPhrase:
		m.apply(makerPhrases[strings.Trim(strings.ToLower(text), "()")], text)
	case segmentRole:
		m.setRole(p.role(strings.ToLower(text)), text)
	case segmentLife:
		m.Life = joinWords(m.Life, text)
	case segmentNation:
		m.Nationality = joinWords(m.Nationality, text)
	case segmentNote:
		m.Note = joinWords(m.Note, text)
	case segmentSuffix:
		// A suffix may bear the parentheses of the whole: "f. Brahe (Ägare, )".
		var tail Maker
		rest := p.stripSuffix(text, &tail)
		m.take(&tail)
		m.suffix(rest)
	}
}

// suffix joins a title or a name of birth to the name.
func (m *Maker) suffix(s string) {
	if s == "" {
		return
	}
	first, _, _ := strings.Cut(strings.ToLower(s), " ")
	if m.Inverted != "" {
		m.Inverted += ", " + s
		// "Rutland, Violet, Duchess of" is Violet, Duchess of Rutland.
		if surname, given, ok := strings.Cut(m.Inverted, ", "); ok && (strings.HasSuffix(s, " of") || (first == "lord" || first == "lady") && !strings.Contains(s, " ")) {
			given, _, _ = strings.Cut(given, ", "+s)
			m.Name = strings.TrimSuffix(given, " "+surname) + ", " + s + " " + surname
			return
		}
	}
	switch shape := shapeOf(s); {
	case shape.family:
		m.Kind = MakerFamily
	case firmTail(s):
		m.Kind = MakerGroup
	case m.Kind == "" && suffixStarts[first]:
		m.Kind = MakerPerson
	}
	sep := ", "
	if first == "of" || first == "the" || first == "junior" || first == "senior" || first == "d.ä." || first == "d.y." || isNumeral(first) {
		sep = " "
	}
	m.Name += sep + s
}

func isNumeral(s string) bool {
	return s != "" && strings.Trim(s, "ivx") == ""
}

func joinWords(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// take takes what another reading of the same maker found.
func (m *Maker) take(o *Maker) {
	if o.Qualifier != "" || o.Certainty != "" {
		text := o.QualifierText
		if o.CertaintyText != text {
			text = joinNonEmpty(text, o.CertaintyText)
		}
		m.apply(makerPhrase{qualifier: o.Qualifier, certainty: o.Certainty}, text)
	}
	if o.Role != "" {
		m.setRole(o.Role, o.RoleText)
	}
	if o.Life != "" {
		m.Life = joinWords(m.Life, o.Life)
	}
	if o.Nationality != "" {
		m.Nationality = joinWords(m.Nationality, o.Nationality)
	}
	if o.Note != "" {
		m.Note = joinWords(m.Note, o.Note)
	}
}

func joinNonEmpty(a, b string) string {
	if b == "" {
		return a
	}
	if a == "" {
		return b
	}
	return a + ", " + b
}

// names reads segments side by side that are names.
func (p *makerParser) names(segs []segment) {
	if len(segs) == 1 {
		p.piece(segs[0].piece)
		return
	}
	switch p.order(segs) {
	case NameOrderNatural:
		for _, s := range segs {
			if p.err == nil {
				p.piece(s.piece)
			}
		}
	case NameOrderInverted:
		for i := 0; i+1 < len(segs) && p.err == nil; i += 2 {
			p.inverted(segs[i].piece, segs[i+1].piece)
		}
	default:
		p.fail("ambiguous-names", "it is not clear whether the comma parts makers or a family name from given names", segs[0].lo)
	}
}

// order decides what the commas between names mean; NameOrderAny if that is not clear.
func (p *makerParser) order(segs []segment) NameOrder {
	switch p.c.Order {
	case NameOrderNatural:
		return NameOrderNatural
	case NameOrderInverted:
		if len(segs)%2 == 0 {
			return NameOrderInverted
		}
		return NameOrderAny
	}
	if sharesNames(p, segs) {
		return NameOrderAny
	}
	shapes := make([]nameShape, len(segs))
	full := 0
	for i, s := range segs {
		text := p.str(s.piece)
		if i == 0 {
			var m Maker
			text = p.stripPrefix(text, &m)
		}
		var m Maker
		text = p.stripSuffix(text, &m)
		shapes[i] = shapeOf(text)
		if len(shapes[i].words) > 1 || shapes[i].group || shapes[i].family {
			full++
		}
	}
	if len(segs) == 2 {
		return pairOrder(&shapes[0], &shapes[1])
	}
	if full == len(segs) {
		return NameOrderNatural
	}
	if len(segs)%2 == 0 {
		for i := 0; i < len(segs); i += 2 {
			if pairOrder(&shapes[i], &shapes[i+1]) != NameOrderInverted || !(shapes[i+1].firstGiven || shapes[i+1].titled) {
				return NameOrderAny
			}
		}
		return NameOrderInverted
	}
	return NameOrderAny
}

// sharesNames: "Boyd and Evans, Fionnuala and Leslie".
func sharesNames(p *makerParser, segs []segment) bool {
	if len(segs) != 2 {
		return false
	}
	for _, s := range segs {
		l, r, _, ok := cutConnector(p.str(s.piece))
		if !ok || len(strings.Fields(l)) != 1 || len(strings.Fields(r)) != 1 {
			return false
		}
	}
	return true
}

// pairOrder decides about two names with a comma between them.
func pairOrder(a, b *nameShape) NameOrder {
	switch {
	case b.openEnd && !a.group:
		return NameOrderInverted
	case a.group || a.family:
		if len(b.words) > 1 || b.group {
			return NameOrderNatural
		}
		return NameOrderAny
	case b.group || b.family:
		if len(a.words) > 1 {
			return NameOrderNatural
		}
		return NameOrderAny
	case len(a.words) == 0 || len(b.words) == 0:
		return NameOrderAny
	case len(a.words) == 1, surnameWithParticles(a):
		if a.titled && !(b.firstGiven || b.titled) {
			return NameOrderAny
		}
		return NameOrderInverted
	case a.firstGiven || a.titled:
		if len(b.words) > 1 {
			return NameOrderNatural
		}
		return NameOrderAny
	case b.allGiven && len(b.words) <= 3:
		return NameOrderInverted
	case len(b.words) > 1:
		return NameOrderNatural
	}
	return NameOrderAny
}

// surnameWithParticles: "De Wint", "van der Velde", "Le Brun".
func surnameWithParticles(s *nameShape) bool {
	if len(s.words) > 4 {
		return false
	}
	for _, w := range s.words[:len(s.words)-1] {
		if !nameParticles[lowerWord(w)] {
			return false
		}
	}
	return true
}

// inverted reads a family name and the given names after it.
func (p *makerParser) inverted(family, given piece) {
	var m Maker
	m.Start, m.End = family.lo, given.hi
	surname := p.stripPrefix(p.str(family), &m)
	forenames := p.stripSuffix(p.str(given), &m)
	if surname == "" || forenames == "" {
		p.fail("no-name", "a name is missing", family.lo)
		return
	}
	m.Inverted = surname + ", " + forenames
	if first, rest, ok := strings.Cut(forenames, " "); ok && nameSuffixes[strings.ToLower(first)] && !isInitialLike(first) && len(first) > 1 {
		forenames = rest // "Wearing, OBE Gillian"
		surname += " " + first
	}
	n := len(p.out)
	p.add(m, forenames+" "+surname)
	if p.err == nil && len(p.out) > n {
		p.out[n].Kind = MakerPerson
	}
}

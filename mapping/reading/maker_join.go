package reading

import (
	"strings"
	"unicode/utf8"
)

// piece reads one stretch that may hold several makers joined by words.
func (p *makerParser) piece(s piece) {
	var m Maker
	m.Start, m.End = s.lo, s.hi
	text := p.str(s)
	if isCulture(text) {
		m.Kind = MakerCulture
		m.Name = text
		p.out = append(p.out, m)
		return
	}
	text = p.stripPrefix(text, &m)
	if m.Qualifier == QualifierSchool && knownPlaces[strings.ToLower(text)] {
		// "school of Paris" is no school of a man called Paris.
		m.Kind, m.Name = MakerCulture, p.str(s)
		m.Qualifier, m.QualifierText = "", ""
		p.out = append(p.out, m)
		return
	}
	if isCulture(text) {
		m.Kind, m.Name = MakerCulture, text
		p.out = append(p.out, m)
		return
	}
	p.joined(m, text)
}

// trimConnectors takes a joining word left at the end: "William Morris and".
func trimConnectors(s string) string {
	s = strings.TrimRight(s, " ,")
	for _, w := range [...]string{" and", " &", " und", " och", " et", " og", " en", " y", " e"} {
		s = strings.TrimSuffix(s, w)
	}
	return s
}

// joined splits a name at "or", "and", and at qualifiers in its midst. What stands before
// the first name holds for all; what stands after a name, for that one.
func (p *makerParser) joined(m Maker, text string) {
	if text == "" {
		p.fail("no-name", "a name is missing", m.Start)
		return
	}
	if p.depth++; p.depth > 20 {
		p.fail("unknown-words", "there are too many joining words", m.Start)
		return
	}
	defer func() { p.depth-- }()
	if rest, ok := p.wordSuffix(text, &Maker{}); ok && rest != "" {
		var own Maker
		p.wordSuffix(text, &own)
		if own.Qualifier != "" && !attribution(own.Qualifier) {
			m.take(&own) // "and studio" is no second maker
			p.joined(m, strings.TrimSpace(rest))
			return
		}
	}
	if l, r, ok := cutAlternative(text); ok {
		n := len(p.out)
		second := m
		p.joined(m, strings.TrimSpace(l))
		if p.err == nil {
			p.joined(second, p.stripPrefix(r, &second))
		}
		for i := n; i < len(p.out); i++ {
			if p.out[i].Certainty == "" {
				p.out[i].Certainty = CertaintyAlternative
			}
		}
		return
	}
	if at := p.innerPhrase(text); at > 0 {
		p.joined(m, trimConnectors(text[:at]))
		second := Maker{Start: m.Start, End: m.End}
		rest := p.stripPrefix(text[at:], &second)
		if p.err == nil {
			p.joined(second, rest)
		}
		return
	}
	l, r, and, ok := cutConnector(text)
	if !ok {
		p.leaf(m, text)
		return
	}
	left, right := shapeOf(l), shapeOf(r)
	single := len(left.words) == 1 && len(right.words) == 1
	ampersand := and == "&" || and == "+"
	person := len(left.words) > 1 && (left.firstGiven || left.titled) && !left.group
	switch {
	case firmTail(r), single, allInitials(left.words), right.group && !(person && !ampersand), left.group && len(right.words) < 2:
		m.Kind = MakerGroup
		p.leaf(m, text)
	case len(left.words) == 1 && left.firstGiven && len(right.words) > 1 && right.firstGiven && !isInitial(right.words[0]):
		// "Charles and Ray Eames"
		p.add(m, l+" "+strings.Join(right.words[1:], " "))
		if p.err == nil {
			p.joined(m, r)
		}
	case len(left.words) > 1 && (len(right.words) > 1 || right.group):
		p.leaf(m, l)
		if p.err == nil {
			second := m
			p.joined(second, p.stripPrefix(r, &second))
		}
	case ampersand:
		m.Kind = MakerGroup
		p.leaf(m, text)
	default:
		p.fail("ambiguous-names", "it is not clear whether the words name one maker or two", m.Start)
	}
}

// leaf reads one name with what stands after it.
func (p *makerParser) leaf(m Maker, text string) {
	var own Maker
	text = p.stripSuffix(text, &own)
	m.take(&own)
	p.add(m, text)
}

func allInitials(words []string) bool {
	for _, w := range words {
		if !isInitial(w) {
			return false
		}
	}
	return len(words) > 0
}

// firmTail: "& Son", "and Company".
func firmTail(s string) bool {
	first, _, _ := strings.Cut(lowerWord(s), " ")
	return groupWords[first] || groupWords[first+"."]
}

// cutConnector cuts at the first "and" outside parentheses.
func cutConnector(s string) (left, right, and string, ok bool) {
	best := -1
	for _, w := range [...]string{" and ", " & ", " und ", " u. ", " och ", " et ", " og ", " + ", " y ", " e ", " en "} {
		if at := indexOutside(s, w); at > 0 && (best < 0 || at < best) {
			l, r := strings.TrimSpace(s[:at]), strings.TrimSpace(s[at+len(w):])
			if l == "" || r == "" {
				continue
			}
			if short := len(w) == 3 || w == " en "; short && w != " & " && w != " + " {
				// "Ortega y Gasset" is one name.
				sl, sr := shapeOf(l), shapeOf(r)
				if len(sl.words) < 2 || len(sr.words) < 2 || !sr.firstGiven {
					continue
				}
			}
			best, left, right, and, ok = at, l, r, strings.TrimSpace(w), true
		}
	}
	return left, right, and, ok
}

func cutAlternative(s string) (left, right string, ok bool) {
	for _, w := range [...]string{" or ", " oder ", " eller ", " ou ", " of ", " o "} {
		if w == " of " || w == " o " {
			continue // Dutch and Italian, but also English and part of names
		}
		if at := indexOutside(s, w); at > 0 {
			return s[:at], s[at+len(w):], true
		}
	}
	return "", "", false
}

// indexOutside finds a word outside parentheses.
func indexOutside(s, w string) int {
	depth := 0
	for i := 0; i+len(w) <= len(s); i++ {
		switch s[i] {
		case '(', '[':
			depth++
		case ')', ']':
			depth--
		}
		if depth == 0 && s[i:i+len(w)] == w {
			return i
		}
	}
	return -1
}

// innerPhrase finds a qualifier in small letters between two names: "Charles Turner
// after J.M.W. Turner".
func (p *makerParser) innerPhrase(s string) int {
	depth := 0
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '(', '[':
			depth++
		case ')', ']':
			depth--
		case ' ':
			if depth > 0 || i+1 >= len(s) || startsUpper(s[i+1:]) {
				continue
			}
			tail := s[i+1:]
			if ph, end, ok := p.prefixAt(tail); ok && ph != (makerPhrase{prefix: true}) && startsUpper(strings.TrimLeft(tail[end:], " ")) && ph.qualifier != "" {
				return i + 1
			}
			if _, end, ok := p.rolePrefix(tail); ok && strings.Contains(tail[:end], " ") && startsUpper(strings.TrimLeft(tail[end:], " ")) {
				return i + 1
			}
		}
	}
	return -1
}

// isCulture: "British School 17th century", "British (?) School", "Inca", "Yoruba peoples".
func isCulture(s string) bool {
	if first, _, _ := strings.Cut(s, " "); !has(nationalities, first) {
		last := s[strings.LastIndexByte(s, ' ')+1:]
		return startsUpper(s) && strings.Count(s, " ") <= 2 && (last == "people" || last == "peoples" || last == "culture")
	}
	words := strings.Fields(strings.ToLower(s))
	if len(words) == 0 || !nationalities[strings.Trim(words[0], ",")] {
		return false
	}
	for _, w := range words {
		w = strings.Trim(w, ",")
		if nationalities[strings.Trim(w, "()")] || isDigit(w[0]) {
			continue
		}
		switch w {
		case "school", "(?)", "or", "and", "century", "centuries", "early", "late", "mid", "people", "peoples", "culture", "artist", "artists", "maker", "makers", "c.", "?", "ware":
			continue
		}
		return false
	}
	return true
}

// add checks a name and keeps the maker.
func (p *makerParser) add(m Maker, name string) {
	name = strings.Trim(name, " ,;:")
	if name == "" {
		p.fail("no-name", "a name is missing", m.Start)
		return
	}
	if p.anonymous(&m, name) {
		p.out = append(p.out, m)
		return
	}
	s := shapeOf(name)
	if m.Kind == "" {
		switch {
		case isCulture(name):
			m.Kind = MakerCulture
		case s.family:
			m.Kind = MakerFamily
		case s.group:
			m.Kind = MakerGroup
		case len(s.words) > 1 && (s.firstGiven || s.titled):
			m.Kind = MakerPerson
		}
	}
	if !p.plausible(&m, name, &s) {
		return
	}
	m.Name = name
	p.out = append(p.out, m)
}

// plausible refuses what is no name: prose, numbers, words in small letters that no name
// has.
func (p *makerParser) plausible(m *Maker, name string, s *nameShape) bool {
	if len(s.words) > 12 {
		return p.fail("unknown-words", "the words are too many to be a name", m.Start)
	}
	outside := withoutParentheses(name)
	loose := m.Kind == MakerGroup || m.Kind == MakerFamily || m.Kind == MakerCulture
	if !loose && fourDigits(outside) {
		return p.fail("unknown-words", "a number stands in the name", m.Start)
	}
	upper, unknown := 0, ""
	if strings.Contains(outside, ": ") || !loose && addressBeforePlace(outside) {
		return p.fail("unknown-words", "the words are more than a name", m.Start)
	}
	for _, w := range strings.Fields(outside) {
		if startsUpper(w) {
			upper++
			continue
		}
		r, _ := utf8.DecodeRuneInString(strings.TrimLeft(w, "\"'`“‘«"))
		switch l := lowerWord(w); {
		case nameParticles[l] || nameParticles[strings.TrimRight(l, ".")] || nameSuffixes[l] || nameTitles[l] || familyWords[l] || groupWords[l] || l == "elder" || l == "younger" || l == "":
		case isDigitRune(r):
		case strings.HasPrefix(l, "d'") || strings.HasPrefix(l, "d’") || strings.HasPrefix(l, "l'") || strings.HasPrefix(l, "'t") || strings.HasPrefix(l, "o'") || strings.HasPrefix(l, "van-"):
			upper++
		default:
			unknown = w
		}
	}
	if upper == 0 || unknown != "" && !loose {
		if unknown == "" {
			unknown = name
		}
		return p.fail("unknown-words", "the word \""+unknown+"\" is not part of a name", m.Start)
	}
	return true
}

// addressBeforePlace: "G. Adams Fleet Street London".
func addressBeforePlace(s string) bool {
	words := strings.Fields(s)
	for i := 1; i+1 < len(words); i++ {
		if has(addressWords, words[i]) && has(knownPlaces, words[i+1]) {
			return true
		}
	}
	return false
}

func isDigitRune(r rune) bool { return r >= '0' && r <= '9' }

var anonymousStarts = func() map[string]bool {
	m := map[string]bool{}
	for _, a := range anonymousPhrases {
		first, _, _ := strings.Cut(a, " ")
		m[first] = true
	}
	return m
}()

// anonymous reads names of nobody: "unknown maker", "anonym bössmed", "Unknown Chinese
// artist".
func (p *makerParser) anonymous(m *Maker, name string) bool {
	if head, ok := strings.CutSuffix(strings.ToLower(name), " unknown"); ok && p.role(head) != "" {
		m.Name, m.Kind = name, MakerAnonymous
		return true
	}
	if !startsIn(name, anonymousStarts) {
		return false
	}
	low := strings.ToLower(name)
	for _, a := range anonymousPhrases {
		rest, ok := strings.CutPrefix(low, a)
		if !ok || rest != "" && rest[0] != ' ' && rest[0] != ',' && rest[0] != '(' {
			continue
		}
		rest = strings.Trim(rest, " ,()")
		if rest != "" && p.role(rest) == "" {
			for _, w := range strings.Fields(rest) {
				switch {
				case nationalities[w]:
					at := strings.Index(low, w)
					m.Nationality = joinWords(m.Nationality, name[at:at+len(w)])
				case p.role(w) != "" || w == "school" || w == "century" || isDigit(w[0]) || w == "workshop" || w == "factory" || w == "firm":
				default:
					return false
				}
			}
		}
		if t := p.role(rest); t != "" {
			m.setRole(t, name[len(name)-len(rest):])
		}
		m.Name, m.Kind = name, MakerAnonymous
		return true
	}
	return false
}

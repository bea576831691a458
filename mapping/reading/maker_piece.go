package reading

import (
	"strings"
	"unicode/utf8"
)

// apply adds a qualifier to what is known of the maker. An attribution and a relation
// stand side by side: "attributed to the workshop of".
func (m *Maker) apply(ph makerPhrase, text string) {
	text = strings.Trim(text, "()[] ")
	if ph.qualifier != "" {
		switch {
		case m.Qualifier == "" || attribution(m.Qualifier) && !attribution(ph.qualifier):
			m.Qualifier = ph.qualifier
		}
		m.QualifierText = strings.TrimSpace(m.QualifierText + " " + text)
	}
	if ph.certainty != "" && m.Certainty == "" {
		m.Certainty = ph.certainty
		if ph.qualifier == "" {
			m.CertaintyText = text
		} else {
			m.CertaintyText = m.QualifierText
		}
	}
	if ph.role != "" && m.Role == "" {
		m.Role, m.RoleText = ph.role, text
	}
}

func attribution(q Qualifier) bool {
	return q == QualifierAttributed || q == QualifierFormerlyAttributed || q == QualifierDoubtful
}

func (m *Maker) setRole(term, text string) {
	switch {
	case m.Role == "":
		m.Role, m.RoleText = term, text
	case m.Role != term:
		m.Role += " and " + term
		m.RoleText = joinWords(m.RoleText, text)
	}
}

// role gives the term of a word for a role, or nothing.
func (p *makerParser) role(lower string) string {
	if t, ok := p.c.Roles[lower]; ok {
		return t
	}
	return makerRoles[lower]
}

// bareWords are prepositions and the like that begin names too; as qualifiers they
// stand in small letters.
func mustBeSmall(phrase string) bool {
	switch phrase {
	case "met", "con", "med", "mit", "door", "par", "av", "dopo", "naar", "near", "with", "avec", "art", "pseudo-":
		return true
	}
	return false
}

// phraseStarts and roleStarts are the first words of the phrases and the roles, so that
// the words of a name cost one look-up.
var phraseStarts, roleStarts = startsOf(makerPhrases), startsOf(makerRoles)

func startsOf[T any](phrases map[string]T) map[string]bool {
	m := map[string]bool{}
	for s := range phrases {
		first, _, _ := strings.Cut(s, " ")
		m[first] = true
	}
	return m
}

// startsIn says whether the first word of s is in a set of words in small letters.
func startsIn(s string, set map[string]bool) bool {
	end := strings.IndexAny(s, " :")
	if end < 0 {
		end = len(s)
	}
	if end > 30 {
		return false
	}
	var buf [64]byte
	return set[string(foldInto(buf[:0], s[:end]))]
}

// prefixAt finds the longest qualifying phrase that s begins with, and where it ends.
func (p *makerParser) prefixAt(s string) (ph makerPhrase, end int, ok bool) {
	if !startsIn(s, phraseStarts) {
		return makerPhrase{}, 0, false
	}
	var ends [longestMakerPhrase + 1]int
	n := 0
	for i := 0; i < len(s) && n < longestMakerPhrase; {
		for i < len(s) && s[i] != ' ' && s[i] != ':' {
			i++
		}
		ends[n] = i
		n++
		for i < len(s) && (s[i] == ' ' || s[i] == ':') {
			i++
		}
	}
	for k := n - 1; k >= 0; k-- {
		head := s[:ends[k]]
		low := strings.ToLower(head)
		found, ok := makerPhrases[low]
		end := ends[k]
		if !ok {
			// "atelier d'Ingres", "école d’Avignon"
			if at := strings.LastIndexByte(low, ' '); at > 0 && (strings.HasPrefix(low[at+1:], "d'") || strings.HasPrefix(low[at+1:], "d’")) {
				found, ok = makerPhrases[low[:at+1]+"d'"]
				end = at + 1 + len("d'")
				if strings.HasPrefix(low[at+1:], "d’") {
					end = at + 1 + len("d’")
				}
			}
		}
		if !ok || !found.prefix || end >= len(s) && k == n-1 {
			continue
		}
		if mustBeSmall(low) && startsUpper(head) {
			continue
		}
		return found, end, true
	}
	return makerPhrase{}, 0, false
}

// rolePrefix finds a role that s begins with: "engraved by X", "Engraver: X", "stylist X".
func (p *makerParser) rolePrefix(s string) (term string, end int, ok bool) {
	if len(p.c.Roles) == 0 && !startsIn(s, roleStarts) {
		return "", 0, false
	}
	low := strings.ToLower(s)
	if at := strings.IndexByte(s, ':'); at > 0 && at < 60 {
		if t := p.roles(strings.TrimSpace(low[:at])); t != "" {
			return t, at + 1, true
		}
	}
	i := 0
	for n := 0; n < 5 && i < len(s); n++ {
		for i < len(s) && s[i] != ' ' {
			i++
		}
		if i >= len(s) {
			break
		}
		head := low[:i]
		t := p.roles(head)
		verb := strings.HasSuffix(head, " by") || strings.HasSuffix(head, " av") || strings.HasSuffix(head, " von") || strings.HasSuffix(head, " par") || strings.HasSuffix(head, " door") || strings.HasSuffix(head, " da") || strings.HasSuffix(head, " af") || strings.HasSuffix(head, " por")
		if t != "" && (verb || !startsUpper(s) && startsUpper(s[i+1:])) {
			term, end, ok = t, i, true
		}
		for i < len(s) && s[i] == ' ' {
			i++
		}
	}
	return term, end, ok
}

// roles reads one role or two joined by "and": "designed and made by".
func (p *makerParser) roles(low string) string {
	if t := p.role(low); t != "" {
		return t
	}
	for _, and := range [...]string{" and ", " & ", " och ", " und ", " et ", " / ", "/"} {
		a, b, ok := strings.Cut(low, and)
		if !ok {
			continue
		}
		tb := p.role(b)
		ta := p.role(a)
		if ta == "" {
			if at := strings.LastIndexByte(b, ' '); at > 0 {
				ta = p.role(a + b[at:]) // "designed [by]"
			}
		}
		if ta != "" && tb != "" {
			return ta + " and " + tb
		}
	}
	return ""
}

// stripPrefix takes the qualifiers and roles from the front of a name.
func (p *makerParser) stripPrefix(s string, m *Maker) string {
	for range 6 {
		s = strings.TrimLeft(s, " \t:")
		if ph, end, ok := p.prefixAt(s); ok {
			m.apply(ph, s[:end])
			s = s[end:]
			continue
		}
		if term, end, ok := p.rolePrefix(s); ok {
			m.setRole(term, strings.TrimRight(s[:end], ": "))
			s = s[end:]
			continue
		}
		if strings.HasPrefix(s, "(?)") || strings.HasPrefix(s, "[?]") {
			m.apply(makerPhrases["?"], "?")
			s = s[3:]
			continue
		}
		break
	}
	return strings.TrimSpace(s)
}

// stripSuffix takes qualifiers, roles and life dates from the end of a name.
func (p *makerParser) stripSuffix(s string, m *Maker) string {
	for range 6 {
		s = strings.TrimRight(s, " \t,;:")
		if strings.HasSuffix(s, ")") || strings.HasSuffix(s, "]") {
			open := openingOf(s)
			if open > 0 && p.parenthesis(s[open+1:len(s)-1], m) {
				s = s[:open]
				continue
			}
			break
		}
		if rest, ok := strings.CutSuffix(s, "?"); ok {
			m.apply(makerPhrases["?"], "?")
			s = rest
			continue
		}
		if rest, ok := p.wordSuffix(s, m); ok {
			s = rest
			continue
		}
		if rest, ok := p.lifeSuffix(s, m); ok {
			s = rest
			continue
		}
		break
	}
	return strings.TrimSpace(s)
}

// openingOf gives the parenthesis that the last sign of s closes.
func openingOf(s string) int {
	depth := 0
	for i := len(s) - 1; i >= 0; i-- {
		switch s[i] {
		case ')', ']':
			depth++
		case '(', '[':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return -1
}

// parenthesis reads what stands in parentheses after a name. It says false for another
// form of the name, which stays with it.
func (p *makerParser) parenthesis(s string, m *Maker) bool {
	s = strings.TrimSpace(s)
	low := strings.ToLower(s)
	switch {
	case s == "":
		return true
	case p.roleParenthesis(s, m):
		return true
	case s == "?":
		m.apply(makerPhrases["?"], "?")
		return true
	case p.isLife(s):
		m.Life = joinWords(m.Life, s)
		return true
	case p.nationalityOnly(low):
		m.Nationality = joinWords(m.Nationality, s)
		return true
	case knownPlaces[low] && !isGiven(s):
		m.Note = joinWords(m.Note, s)
		return true
	}
	if ph, ok := makerPhrases[low]; ok && ph.suffix {
		m.apply(ph, s)
		return true
	}
	// "British, 1775–1851", "after, 1823"
	if head, rest, ok := strings.Cut(s, ","); ok {
		rest = strings.TrimSpace(rest)
		h := strings.ToLower(strings.TrimSpace(head))
		switch ph, known := makerPhrases[h]; {
		case p.nationalityOnly(h) && (p.isLife(rest) || p.lifeAfterPlace(rest)):
			m.Nationality, m.Life = joinWords(m.Nationality, strings.TrimSpace(head)), joinWords(m.Life, rest)
			return true
		case knownPlaces[h] && p.isLife(rest):
			m.Note, m.Life = joinWords(m.Note, strings.TrimSpace(head)), joinWords(m.Life, rest)
			return true
		case known && ph.suffix && p.isLife(rest):
			m.apply(ph, head)
			m.Life = joinWords(m.Life, rest)
			return true
		}
	} else if first, rest, ok := strings.Cut(s, " "); ok && p.nationalityOnly(strings.ToLower(first)) && p.isLife(strings.TrimSpace(rest)) {
		m.Nationality, m.Life = joinWords(m.Nationality, first), joinWords(m.Life, strings.TrimSpace(rest))
		return true
	}
	return false
}

// lifeAfterPlace: "born Germany, 1809–1879".
func (p *makerParser) lifeAfterPlace(s string) bool {
	at := strings.LastIndexByte(s, ',')
	return at > 0 && strings.HasPrefix(strings.ToLower(s), "born") && p.isLife(strings.TrimSpace(s[at+1:]))
}

// roleParenthesis reads "Tillverkare, av original": a role with notes.
func (p *makerParser) roleParenthesis(s string, m *Maker) bool {
	parts := strings.Split(s, ",")
	low := strings.ToLower(strings.TrimSpace(parts[0]))
	term := p.roles(low)
	if term == "" {
		return false
	}
	text := strings.TrimSpace(parts[0])
	for _, note := range parts[1:] {
		note = strings.TrimSpace(note)
		if note == "" {
			continue
		}
		l := strings.ToLower(note)
		if t, ok := roleNotes[l]; ok {
			term, text = t, text+", "+note
			continue
		}
		if ph, ok := makerPhrases[l]; ok && ph.suffix {
			m.apply(ph, note)
			continue
		}
		m.Note = joinWords(m.Note, note)
	}
	m.setRole(term, text)
	return true
}

// wordSuffix takes a qualifying phrase or a Latin verb from the end: "and studio", "et
// al.", "zugeschrieben", "fecit".
func (p *makerParser) wordSuffix(s string, m *Maker) (string, bool) {
	at := len(s)
	rest, found := "", false
	var phrase makerPhrase
	text := ""
	for n := 0; n < 4; n++ {
		at = strings.LastIndexByte(strings.TrimRight(s[:at], " "), ' ')
		if at <= 0 {
			break
		}
		tail := s[at+1:]
		if !startsIn(tail, phraseStarts) && !startsIn(tail, roleStarts) {
			continue
		}
		low := strings.ToLower(tail)
		if ph, ok := makerPhrases[low]; ok && ph.suffix && endsNames(low, ph) && (low == tail || !attribution(ph.qualifier)) {
			rest, found, phrase, text = s[:at], true, ph, tail
		}
		if n < 2 && latinVerbs[low] {
			m.setRole(makerRoles[low], tail)
			return s[:at], true
		}
	}
	if found {
		m.apply(phrase, text)
		return rest, true
	}
	// "Rembrandt's workshop"
	if at := strings.LastIndexByte(s, ' '); at > 2 {
		if ph, ok := makerPhrases[strings.ToLower(s[at+1:])]; ok && ph.suffix && (strings.HasSuffix(s[:at], "'s") || strings.HasSuffix(s[:at], "’s")) {
			m.apply(ph, s[at+1:])
			return strings.TrimSuffix(strings.TrimSuffix(s[:at], "'s"), "’s"), true
		}
	}
	return s, false
}

var latinVerbs = map[string]bool{"fecit": true, "fec.": true, "me fecit": true, "pinxit": true, "pinx.": true, "sculpsit": true, "sculp.": true, "sc.": true, "sculp": true,
	"delineavit": true, "delin.": true, "del.": true, "delt.": true, "invenit": true, "inv.": true, "excudit": true, "excud.": true, "exc.": true, "scripsit": true}

// endsNames says whether a phrase may follow a name without a comma.
func endsNames(low string, ph makerPhrase) bool {
	switch ph.qualifier {
	case QualifierAndStudio, QualifierAndWorkshop, QualifierAndAssistants, QualifierAndPupil, QualifierAndOthers:
		return true
	case QualifierAttributed, QualifierFormerlyAttributed:
		return !strings.HasPrefix(low, "given") && !strings.HasPrefix(low, "formerly") || strings.Contains(low, " ")
	}
	return false
}

var lifeStarts = wordSet(`born b b. died d. active act. act fl fl. flourished established founded est. c c. ca ca. circa worked exhibited * † geb. gest. född död tätig verksam virksom actif active: documented
	attivo activo werkzaam nato né née mentioned after before um about probably 1st 2nd 3rd early mid late`)

// isLife says whether the words are life dates: they begin as such, have a number, and
// are read.
func (p *makerParser) isLife(s string) bool {
	if s == "" || !strings.ContainsAny(s, "0123456789") || len(s) > 80 {
		return false
	}
	first, rest, _ := strings.Cut(strings.ToLower(s), " ")
	if !isDigit(s[0]) && !lifeStarts[first] && !strings.ContainsAny(s[:1], "*†") && !digitsAfterLetter(first) {
		return false
	}
	if isDigit(s[0]) && nameSuffixes[first] || rest != "" && isDigit(s[0]) && startsUpper(rest) {
		return false
	}
	for _, w := range strings.Fields(s)[1:] {
		// A capital word that is no place of birth makes it a name: "born 1963 John".
		if startsUpper(w) && !knownPlaces[lowerWord(w)] && !nationalities[lowerWord(w)] && givenNames[lowerWord(w)] {
			return false
		}
	}
	_, err := ReadLife(s, p.life)
	return err == nil
}

// digitsAfterLetter: "c1740", "b.1963".
func digitsAfterLetter(w string) bool {
	t := strings.TrimLeft(w, "abcdfl.")
	return t != w && t != "" && isDigit(t[0])
}

// lifeSuffix takes life dates from the end of a name without a comma: "John Smith b. 1963".
func (p *makerParser) lifeSuffix(s string, m *Maker) (string, bool) {
	if s == "" || !strings.ContainsAny(s, "0123456789") {
		return s, false
	}
	for i := 0; i < len(s); i++ {
		if s[i] != ' ' || i+1 >= len(s) {
			continue
		}
		tail := s[i+1:]
		first, _, _ := strings.Cut(strings.ToLower(tail), " ")
		if (isDigit(tail[0]) || lifeStarts[first] || digitsAfterLetter(first)) && p.isLife(tail) && fourDigits(tail) {
			m.Life = joinWords(tail, m.Life)
			m.Life = strings.TrimSuffix(m.Life, ", ")
			return s[:i], true
		}
	}
	return s, false
}

func fourDigits(s string) bool {
	run := 0
	for i := 0; i < len(s); i++ {
		if isDigit(s[i]) {
			if run++; run == 4 {
				return true
			}
		} else {
			run = 0
		}
	}
	return false
}

// nationalityOnly says whether the words are one or two nationalities.
func (p *makerParser) nationalityOnly(low string) bool {
	n := 0
	for _, w := range strings.FieldsFunc(low, func(r rune) bool { return r == ' ' || r == '-' || r == '/' }) {
		if w == "or" || w == "and" || w == "(?)" {
			continue
		}
		if !nationalities[w] {
			return false
		}
		n++
	}
	return n > 0 && n <= 3
}

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
	text = p.stripSuffix(text, &m)
	p.joined(m, text)
}

// joined splits a name at "or", "and", and at qualifiers in its midst.
func (p *makerParser) joined(m Maker, text string) {
	if text == "" {
		p.fail("no-name", "a name is missing", m.Start)
		return
	}
	if l, r, ok := cutAlternative(text); ok {
		n := len(p.out)
		p.joined(m, strings.TrimSpace(l))
		second := m
		if p.err == nil {
			r = p.stripPrefix(p.stripSuffix(strings.TrimSpace(r), &second), &second)
			p.joined(second, r)
		}
		for i := n; i < len(p.out); i++ {
			if p.out[i].Certainty == "" {
				p.out[i].Certainty = CertaintyAlternative
			}
		}
		return
	}
	if at := p.innerPhrase(text); at > 0 {
		p.joined(m, strings.TrimRight(text[:at], " ,"))
		var second Maker
		second.Start, second.End = m.Start, m.End
		rest := p.stripPrefix(text[at:], &second)
		rest = p.stripSuffix(rest, &second)
		if p.err == nil {
			p.joined(second, rest)
		}
		return
	}
	l, r, and, ok := cutConnector(text)
	if !ok {
		p.add(m, text)
		return
	}
	left, right := shapeOf(l), shapeOf(r)
	single := len(left.words) == 1 && len(right.words) == 1
	ampersand := and == "&" || and == "+"
	switch {
	case right.group || left.group && len(right.words) < 2, firmTail(r), single, allInitials(left.words):
		m.Kind = MakerGroup
		p.add(m, text)
	case len(left.words) == 1 && left.firstGiven && len(right.words) > 1 && right.firstGiven && !isInitial(right.words[0]):
		// "Charles and Ray Eames"
		second := m
		p.add(m, l+" "+strings.Join(right.words[1:], " "))
		if p.err == nil {
			p.joined(second, r)
		}
	case len(left.words) > 1 && len(right.words) > 1:
		second := m
		l = p.stripSuffix(l, &m)
		p.add(m, l)
		if p.err == nil {
			r = p.stripPrefix(r, &second)
			p.joined(second, r)
		}
	case ampersand:
		m.Kind = MakerGroup
		p.add(m, text)
	default:
		p.fail("ambiguous-names", "it is not clear whether the words name one maker or two", m.Start)
	}
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
	return groupWords[first] || groupWords[first+"."] || strings.HasPrefix(first, "son")
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
		return false
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

package reading

import "strings"

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
		m.Life = joinNonEmpty(s, m.Life)
		return true
	case p.nationalityOnly(low):
		m.Nationality = joinNonEmpty(s, m.Nationality)
		return true
	case knownPlaces[low] && !isGiven(s):
		m.Note = joinNonEmpty(s, m.Note)
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
		case p.nationalityOnly(h) && p.hasLife(rest):
			m.Nationality, m.Life = joinNonEmpty(strings.TrimSpace(head), m.Nationality), joinNonEmpty(rest, m.Life)
			return true
		case knownPlaces[h] && p.isLife(rest):
			m.Note, m.Life = joinNonEmpty(strings.TrimSpace(head), m.Note), joinNonEmpty(rest, m.Life)
			return true
		case known && ph.suffix && p.isLife(rest):
			m.apply(ph, head)
			m.Life = joinNonEmpty(rest, m.Life)
			return true
		case p.isLife(rest) && startsUpper(head) && !strings.Contains(rest, ";"):
			m.Life = joinNonEmpty(rest, m.Life) // "(Raffaello Sanzio, 1483–1520)" stays with the name
			return false
		}
	} else if first, rest, ok := strings.Cut(s, " "); ok && p.nationalityOnly(strings.ToLower(first)) && p.isLife(strings.TrimSpace(rest)) {
		m.Nationality, m.Life = joinNonEmpty(first, m.Nationality), joinNonEmpty(strings.TrimSpace(rest), m.Life)
		return true
	}
	if first, _, _ := strings.Cut(low, " "); !startsUpper(s) && !isDigit(s[0]) && !nameParticles[first] && !birthNames[first] && !calledWords[first] && !strings.ContainsAny(s[:1], "?\"'`“") && low[0] < 0x80 {
		m.Note = joinNonEmpty(s, m.Note)
		return true
	}
	return false
}

// calledWords begin another name in parentheses.
var calledWords = wordSet(`called dit dite genannt gen. detto detta kallad kaldet alias aka a.k.a. or formerly formely later i.e. eller även också ook il lo der`)

// hasLife: "born Germany, 1809–1879", "Siegen 1577–1640 Antwerp", after a nationality.
func (p *makerParser) hasLife(s string) bool {
	if p.isLife(s) {
		return true
	}
	if !fourDigits(s) || strings.Contains(s, ";") {
		return false
	}
	_, err := ReadLife(s, p.life)
	return err == nil
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
		if before := s[strings.LastIndexByte(s[:i], ' ')+1 : i]; nameParticles[before] {
			continue // "Master of 1499"
		}
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

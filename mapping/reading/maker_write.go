package reading

import "strings"

// AppendText appends the maker in one regular English form that [ReadMakers] reads back:
// "possibly after Jan Wyck (engraver) (1644–1702)".
func (m *Maker) AppendText(dst []byte) []byte {
	switch m.Certainty {
	case CertaintyPossibly, CertaintyProbably:
		dst = append(append(dst, m.Certainty...), ' ')
	case CertaintyTradition:
		dst = append(dst, "traditionally "...)
	case CertaintyAttributed:
		if m.Qualifier != QualifierAttributed {
			dst = append(dst, "attributed to "...)
		}
	case CertaintySuperseded:
		if m.Qualifier != QualifierFormerlyAttributed {
			dst = append(dst, "formerly attributed to "...)
		}
	}
	after := false
	switch m.Qualifier {
	case QualifierNone:
	case QualifierAndStudio, QualifierAndWorkshop, QualifierAndAssistants, QualifierAndPupil, QualifierAndOthers:
		after = true
	default:
		dst = append(append(dst, m.Qualifier...), ' ')
	}
	dst = append(dst, m.Name...)
	if after {
		dst = append(append(dst, ' '), m.Qualifier...)
	}
	if m.Certainty == CertaintyUncertain {
		dst = append(dst, " (?)"...)
	}
	if m.Role != "" && !m.Influence() {
		dst = append(append(append(dst, " ("...), m.Role...), ')')
	}
	for _, life := range m.lives() {
		dst = append(append(append(dst, " ("...), life...), ')')
	}
	return dst
}

// lives are the life dates as they are read alone, each in parentheses: those of
// several, if the words gave several; with the nationality, if it takes that to tell
// them from another name ("Flemish, Siegen 1577–1640 Antwerp").
func (m *Maker) lives() []string {
	if m.Life == "" {
		return nil
	}
	if l := livesOf(m.Life, nil); l != nil {
		return l
	}
	of := m.Nationality
	if i := strings.LastIndex(of, ", "); i >= 0 {
		of = of[i+2:]
	}
	if of == "" {
		return []string{m.Life}
	}
	return []string{of + ", " + m.Life}
}

// livesOf parts words at commas into as few lives as they can be; nil if they can't.
func livesOf(words string, before []string) []string {
	var p makerParser
	for end := len(words); end > 0; end = strings.LastIndex(words[:end], ", ") {
		if !p.isLife(words[:end]) {
			continue
		}
		before := append(before[:len(before):len(before)], words[:end])
		if end == len(words) {
			return before
		}
		if l := livesOf(words[end+2:], before); l != nil {
			return l
		}
	}
	return nil
}

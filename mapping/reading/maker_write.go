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
	if m.Life != "" {
		dst = append(dst, " ("...)
		if !(&makerParser{}).isLife(m.Life) { // "(Flemish, Siegen 1577–1640 Antwerp)"
			of := m.Nationality
			if i := strings.LastIndex(of, ", "); i >= 0 {
				of = of[i+2:]
			}
			if of != "" {
				dst = append(append(dst, of...), ", "...)
			}
		}
		dst = append(append(dst, m.Life...), ')')
	}
	return dst
}

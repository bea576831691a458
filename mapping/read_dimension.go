package mapping

import (
	"math/big"
	"strings"

	"ropewalk/mapping/entity"
	"ropewalk/mapping/reading"
	"ropewalk/vocab"
)

func init() {
	readers["dimensions"] = &reader{name: "dimensions", key: "Dimension", many: true, scan: scanDimensions}
}

// elementTypes are the authority terms for what a measure measures.
var elementTypes = map[reading.Element]string{
	reading.ElementHeight: "aat:300055644", reading.ElementWidth: "aat:300055647", reading.ElementDepth: "aat:300072633",
	reading.ElementLength: "aat:300055645", reading.ElementDiameter: "aat:300055624", reading.ElementCircumference: "aat:300055623",
	reading.ElementThickness: "aat:300055646", reading.ElementWeight: "aat:300056240", reading.ElementVolume: "aat:300055649",
}

// measureFinding is one measure as a dimension.
type measureFinding struct {
	label   string
	element *vocab.Authority // nil if the words do not say what is measured
	figures
	unit *vocab.Authority
}

// scanDimensions makes a dimension of every measure in a text.
func scanDimensions(r *Run, v *value, text string, found []finding) ([]finding, error) {
	ds, err := reading.ReadDimensions(text, v.read.conv)
	if err != nil {
		return found, err
	}
	for _, note := range ds.Notes {
		r.textProblem(problemReadNote, v.text, text, note.Reason)
	}
	for i := range ds.Measures {
		m := &ds.Measures[i]
		unit, ok := vocab.AuthorityByCode("MeasurementUnit", unitCode(m.Unit))
		if !ok {
			r.textProblem(problemUnread, v.text, text, "there is no authority term for the unit \""+m.UnitText+"\"")
			continue
		}
		f := &measureFinding{label: measureLabel(m, text), figures: figures{number(m.Value), number(m.Lower), number(m.Upper)}, unit: unit}
		if f.val == "" {
			if f.lower == "" || f.upper == "" {
				r.textProblem(problemCannotCarry, v.text, text, "a measure with one bound has no value, which the profile requires")
				continue
			}
			// The profile requires a value: the middle of the limits, which stand beside it.
			f.val = middle(m.Lower, m.Upper)
		}
		f.element, _ = vocab.AuthorityByCURIE(elementTypes[m.Element])
		found = append(found, f)
	}
	return found, nil
}

func (f *measureFinding) write(r *Run, v *value, slot *vocab.Slot, term *vocab.Term) bool {
	switch slot.Key {
	case "_label":
		r.say(entity.Text, v, slot, term, f.label)
	case "classified_as":
		if f.element == nil {
			return false
		}
		r.sayTerm(v, term, slot.Many, typeClass, f.element)
	case "unit":
		r.sayTerm(v, term, slot.Many, unitClass, f.unit)
	default:
		return f.figures.write(r, v, slot, term)
	}
	return true
}

// measureLabel says a measure in words: what it measures, of which part, and the
// amount as written. Where the unit stands elsewhere in the cell, it is added.
func measureLabel(m *reading.Measure, text string) string {
	s := strings.TrimSpace(text[m.Start:m.End])
	if unit := m.UnitText; unit != "" && !strings.HasSuffix(s, unit) {
		s += " " + unit
	} else if unit == "" && m.Unit != reading.UnitNone {
		s += " " + string(m.Unit)
	}
	what := string(m.Element)
	if m.Part != "" {
		if what != "" {
			what += ", "
		}
		what += m.Part
	}
	if what == "" {
		return s
	}
	return what + ": " + s
}

// middle is the number half-way between two.
func middle(a, b reading.Number) string {
	return ratNumber(new(big.Rat).Mul(new(big.Rat).Add(a.Rat(), b.Rat()), big.NewRat(1, 2)))
}

// number gives a number as JSON, or "" if there is none.
func number(n reading.Number) string {
	if !n.Given() {
		return ""
	}
	return ratNumber(n.Rat())
}

// ratNumber gives a rational in decimal: exact where it ends within fifteen
// places, else rounded there.
func ratNumber(x *big.Rat) string {
	places := 15
	if n, exact := x.FloatPrec(); exact {
		places = min(n, 15)
	}
	s, _ := jsonNumber(x.FloatString(places))
	return s
}

// unitCode is the UCUM code of a unit.
func unitCode(u reading.Unit) string {
	switch u {
	case "in":
		return "[in_i]"
	case "ft":
		return "[ft_i]"
	case "yd":
		return "[yd_i]"
	case "mi":
		return "[mi_i]"
	case "lb":
		return "[lb_av]"
	case "oz":
		return "[oz_av]"
	}
	return string(u)
}

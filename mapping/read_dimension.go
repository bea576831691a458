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

// scanDimensions makes a dimension of every measure in a text.
func scanDimensions(r *Run, v *value, text string, c *reading.Conventions, mk func(writeFunc)) error {
	ds, err := reading.ReadDimensions(text, c)
	if err != nil {
		return err
	}
	for _, note := range ds.Notes {
		r.textProblem(problemReadNote, v.text, text, note.Reason)
	}
	unitShape := v.node.shape.Slot("unit")
	for i := range ds.Measures {
		m := &ds.Measures[i]
		unit, ok := vocab.AuthorityByCode("MeasurementUnit", unitCode(m.Unit))
		if !ok {
			r.textProblem(problemUnread, v.text, text, "there is no authority term for the unit \""+m.UnitText+"\"")
			continue
		}
		val, lower, upper := number(m.Value), number(m.Lower), number(m.Upper)
		if val == "" {
			if lower == "" || upper == "" {
				r.textProblem(problemCannotCarry, v.text, text, "a measure with one bound has no value, which the profile requires")
				continue
			}
			// The profile requires a value: the middle of the limits, which stand beside it.
			val = ratNumber(new(big.Rat).Mul(new(big.Rat).Add(m.Lower.Rat(), m.Upper.Rat()), big.NewRat(1, 2)))
		}
		mk(func(r *Run, class *vocab.Class, slot *vocab.Slot, origin int32) bool {
			switch slot.Key {
			case "_label":
				s := measureLabel(m, text)
				r.say(entity.Text, class, slot, s, v, origin)
				return true
			case "classified_as":
				if t := elementTypes[m.Element]; t != "" {
					r.sayType(class, slot.Key, t, origin)
					return true
				}
			case "value":
				r.say(entity.Number, class, slot, val, v, origin)
				return true
			case "lower_value_limit":
				if lower != "" {
					r.say(entity.Number, class, slot, lower, v, origin)
					return true
				}
			case "upper_value_limit":
				if upper != "" {
					r.say(entity.Number, class, slot, upper, v, origin)
					return true
				}
			case "unit":
				uc := vocab.ClassByKey("MeasurementUnit")
				r.doc.Begin(class.Term(slot.Key), unitShape.Many, uc, true, unit.IRI, origin)
				r.doc.Text(uc.Term("_label"), false, unit.Label, origin)
				r.doc.End()
				return true
			}
			return false
		})
	}
	return nil
}

// measureLabel says a measure in words: what it measures, of which part, and the
// amount as written.
func measureLabel(m *reading.Measure, text string) string {
	s := strings.TrimSpace(text[m.Start:m.End])
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

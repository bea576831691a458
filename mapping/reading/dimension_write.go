package reading

import "strings"

// AppendText appends the measures in one regular English form that [ReadDimensions]
// reads back to the same measures: "base: height about 24.5 cm (9 5/8 in); …". The
// words of a part are kept as they are.
func (d Dimensions) AppendText(dst []byte) []byte {
	for i := range d.Measures {
		if i > 0 {
			dst = append(dst, "; "...)
		}
		dst = d.Measures[i].AppendText(dst)
	}
	return dst
}

// String is [Dimensions.AppendText] as a string.
func (d Dimensions) String() string { return string(d.AppendText(nil)) }

// AppendText appends one measure.
func (m *Measure) AppendText(dst []byte) []byte {
	if m.Part != "" {
		dst = append(dst, m.Part...)
		if m.Each && !strings.Contains(m.Part, "each") {
			dst = append(dst, ", each"...)
		}
		dst = append(dst, ": "...)
	} else if m.Each {
		dst = append(dst, "each "...)
	}
	if m.Element != ElementUnstated && m.Element != ElementCount {
		dst = append(dst, m.Element...)
		dst = append(dst, ' ')
	}
	if m.Approximate {
		dst = append(dst, "about "...)
	}
	dst = m.Amount.AppendText(dst)
	if m.Uncertain {
		dst = append(dst, " (?)"...)
	}
	for i := range m.Also {
		dst = append(dst, " ("...)
		dst = m.Also[i].AppendText(dst)
		dst = append(dst, ')')
	}
	return dst
}

// AppendText appends number and unit: "24.5 cm", "24 to 26 cm", "at least 24 cm".
func (a *Amount) AppendText(dst []byte) []byte {
	switch {
	case a.Value.Given() && a.Lower.Given():
		dst = a.Value.AppendText(dst)
		dst = append(dst, " ± "...)
		margin := fraction{a.Value.Num, a.Value.Den}.distance(fraction{a.Lower.Num, a.Lower.Den})
		m := Number{Num: margin.num, Den: margin.den, Places: a.Lower.Places}
		dst = m.AppendText(dst)
	case a.Value.Given():
		dst = a.Value.AppendText(dst)
	case a.Lower.Given() && a.Upper.Given():
		dst = a.Lower.AppendText(dst)
		dst = append(dst, " to "...)
		dst = a.Upper.AppendText(dst)
	case a.Lower.Given():
		dst = append(dst, "at least "...)
		dst = a.Lower.AppendText(dst)
	case a.Upper.Given():
		dst = append(dst, "up to "...)
		dst = a.Upper.AppendText(dst)
	}
	dst = append(dst, ' ')
	switch a.Unit {
	case UnitNone:
		return append(dst, a.UnitText...)
	case "in2", "ft2":
		return append(append(dst, "sq "...), a.Unit[:2]...)
	case "in3", "ft3":
		return append(append(dst, "cu "...), a.Unit[:2]...)
	case "l":
		return append(dst, "litres"...)
	case "h":
		return append(dst, "hours"...)
	case "gr":
		return append(dst, "grains"...)
	case "t":
		return append(dst, "tonnes"...)
	case "st":
		return append(dst, "stone"...)
	case "pt":
		return append(dst, "pints"...)
	case "qt":
		return append(dst, "quarts"...)
	case "mi":
		return append(dst, "miles"...)
	}
	return append(dst, a.Unit...)
}

// AppendText appends the number: in decimals as written, or as a fraction.
func (n Number) AppendText(dst []byte) []byte {
	if n.Places >= 0 || n.Den == 1 {
		if out, ok := n.AppendDecimal(dst); ok {
			return out
		}
	}
	whole := n.Num / n.Den
	if whole > 0 {
		dst = Number{Num: whole, Den: 1}.appendWhole(dst)
		dst = append(dst, ' ')
	}
	dst = Number{Num: n.Num % n.Den, Den: 1}.appendWhole(dst)
	dst = append(dst, '/')
	return Number{Num: n.Den, Den: 1}.appendWhole(dst)
}

func (n Number) appendWhole(dst []byte) []byte {
	out, _ := n.AppendDecimal(dst)
	return out
}

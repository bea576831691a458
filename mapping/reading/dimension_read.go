package reading

import "strings"

// ReadDimensions reads the measures of a cell. The error, if any, is an [*Unread].
func ReadDimensions(text string, c *Conventions) (Dimensions, error) {
	d := Dimensions{Text: text}
	rest := strings.TrimSpace(text)
	off := strings.Index(text, rest)
	m := Measure{}
	end := strings.IndexAny(rest, "0123456789")
	if end < 0 {
		return d, &Unread{Text: text, Code: "no-number", Reason: "there is no number to read", At: -1}
	}
	word := strings.TrimRight(strings.TrimSpace(rest[:end]), ":. ")
	if e, ok := firstElements[strings.ToLower(word)]; ok {
		m.Element, m.ElementText = e, strings.TrimSpace(rest[:end])
	} else if word != "" {
		return d, &Unread{Text: text, Code: "unknown-words", Reason: "the words before the number are not known", At: off}
	}
	i, dot := end, -1
	var num, den int64 = 0, 1
	for ; i < len(rest) && i-end < 15; i++ {
		ch := rest[i]
		if ch >= '0' && ch <= '9' {
			num = num*10 + int64(ch-'0')
			if dot >= 0 {
				den *= 10
			}
			continue
		}
		if (ch == '.' || ch == ',') && dot < 0 {
			dot = i
			continue
		}
		break
	}
	places := 0
	if dot >= 0 {
		places = i - dot - 1
	}
	unit := strings.TrimSpace(rest[i:])
	switch strings.TrimSuffix(unit, ".") {
	case "mm", "cm", "m", "in", "ft", "g", "kg":
	default:
		return d, &Unread{Text: text, Code: "unknown-unit", Reason: "the unit is not known", At: off + i}
	}
	g := gcd64(num, den)
	m.Value = Number{Text: rest[end:i], Num: num / g, Den: den / g, Places: places}
	m.Unit, m.UnitText = Unit(strings.TrimSuffix(unit, ".")), unit
	m.Start, m.End = off+end, off+len(rest)
	d.Measures = []Measure{m}
	return d, nil
}

var firstElements = map[string]Element{
	"h": ElementHeight, "height": ElementHeight, "höjd": ElementHeight,
	"w": ElementWidth, "width": ElementWidth, "bredd": ElementWidth,
	"d": ElementDepth, "depth": ElementDepth, "djup": ElementDepth,
	"l": ElementLength, "length": ElementLength, "längd": ElementLength,
	"diam": ElementDiameter, "diameter": ElementDiameter, "vikt": ElementWeight, "weight": ElementWeight,
}
